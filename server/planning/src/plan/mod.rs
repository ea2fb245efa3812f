//! The plan: for each group and feeding day, when to soak how much seed on how many trays.
//!
//! # Method
//! A feeding day's fodder is soaked on the first working day on which it would not be over its
//! harvest age when it is fed: its harvest age earlier, or, where that day is a rest day, up to
//! [`YOUNG_DAYS_MAX`] days later. So fodder is never older than its harvest age, and no feeding
//! day is skipped. All values of the growing guide and the fodder plan are those of the soak's
//! day, the head is that of the feeding day.
//!
//! With n = head / animals a tray feeds, the day takes ceil(n) trays, each with n / ceil(n) of a
//! full load (or, loaded full, a surplus, which the plan names). A tray stands from the day of spreading to
//! the day before it is fed, so a day's trays take harvest age less incubating days places each in
//! steady state.
//!
//! Where the farm's records have taught the plan how yields vary and trays spoil
//! ([`crate::farm::Learned`]), each day's seed carries a reserve, and today's soak also repays what
//! is missing on the days before it: a lost tray is replaced on the day that it is seen, since
//! young trays stand in for it until then ([`crate::sizing`]). That holds where the shed has the
//! capacity for it.
//!
//! Where the places do not suffice, each group has even days ([`crate::short_shed`]), soaks are
//! granted in order of their day, and of the groups that ask on one day the one that has gone
//! shortest so far comes first.

mod asks;
mod places;
mod sheds;
mod today;

use crate::farm::{Day, Farm};
use crate::standards::{MARGIN, Standards};
use asks::{Ask, At};
use places::{Places, share};
use traybook_domain::savings::money::mul_div;

/// Days that fodder may be harvested before its harvest age, when its soak had to move. Common
/// practice, no source: a younger mat is lighter, and fed all the same.
pub const YOUNG_DAYS_MAX: i32 = 2;
/// A feeding day for which seed was soaked is topped up only when more than this share of its need
/// is missing, per cent: the handful that a scoop is out by is not worth another soak.
pub const TOP_UP_PERCENT: i64 = 10;

/// The days of a plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Span {
    /// First day: today. Nothing is soaked earlier.
    pub first: Day,
    /// Number of days.
    pub days: usize,
}

/// A batch that soaks, incubates or stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Growing {
    /// Group, by position; none where the batch names none.
    pub group: Option<usize>,
    /// Shed, by position.
    pub shed: usize,
    /// Crop, by position; none where nothing tells.
    pub crop: Option<usize>,
    /// Day on which it was soaked.
    pub soaked_on: Day,
    /// Day on which its trays are (or were) spread.
    pub spread_on: Day,
    /// Day on which it is fed.
    pub feed_on: Day,
    /// Trays that stand, or will.
    pub trays: i64,
    /// Seed on them, grams.
    pub seed_g: i64,
}

/// Seed to soak.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Soak {
    pub day: Day,
    /// Group and shed, by position.
    pub group: usize,
    pub shed: usize,
    /// Crop, by position; none where nothing tells.
    pub crop: Option<usize>,
    /// Day on which it is spread, and fed.
    pub spread_on: Day,
    pub feed_on: Day,
    /// Whole trays.
    pub trays: i64,
    /// Dry seed on all of them, grams.
    pub seed_g: i64,
    /// Day on which it would have been soaked, were that not a rest day or past.
    pub moved_from: Option<Day>,
    /// Whether its day has passed without a soak.
    pub is_late: bool,
}

/// Why a group goes short on a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Short {
    /// The first soak has not reached its harvest age.
    BeforeFirstHarvest,
    /// The days on which it could be soaked have passed, and nothing was recorded.
    NotSoaked,
    /// Less seed was soaked, or less of it is left, than the animals need.
    TooLittleSoaked,
    /// The shed has no places left.
    NoPlaces,
    /// Too many rest days in a row.
    RestDays,
    /// The harvest age leaves no day on the tray.
    AgeTooLow,
    /// The farm has no shed.
    NoShed,
}

/// What a group gets on a day. Amounts are the dry seed behind the fodder, grams.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Feed {
    pub day: Day,
    /// Group, by position.
    pub group: usize,
    pub head: i64,
    /// What it needs.
    pub need_g: i64,
    /// What stands or soaks for it already.
    pub growing_g: i64,
    /// What is still to be soaked for it.
    pub planned_g: i64,
    /// What is kept in reserve or owed to the days before: no surplus.
    pub spare_g: i64,
    /// What is missing and will come from trays harvested early.
    pub young_g: i64,
    /// Fresh fodder from a kg of that seed, grams.
    pub yield_g_per_kg: i64,
    /// Why it goes short, where it does.
    pub short: Option<Short>,
}

impl Short {
    /// Whether it lacks what was soaked or not, so that young trays may stand in.
    const fn is_lack(self) -> bool {
        matches!(self, Self::NotSoaked | Self::TooLittleSoaked | Self::RestDays)
    }
}

impl Feed {
    /// What is missing, grams of seed.
    #[must_use]
    pub fn short_g(&self) -> i64 {
        (self.need_g - self.growing_g - self.planned_g - self.young_g).max(0)
    }

    /// What is left over, grams of seed.
    #[must_use]
    pub fn surplus_g(&self) -> i64 {
        (self.growing_g + self.planned_g - self.need_g - self.spare_g).max(0)
    }

    /// Fresh fodder from so much seed, grams.
    #[must_use]
    pub fn fresh_g(&self, seed_g: i64) -> i64 {
        mul_div(seed_g, self.yield_g_per_kg, 1_000).unwrap_or(0)
    }
}

/// A shed's places over the plan.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ShedPlan {
    /// Trays that stand at the end of each day, from the first day on.
    pub standing: Vec<i64>,
    /// The most places that would be taken on a day if every group got all its feed.
    pub places_wanted: i64,
    /// Places that are missing before lost trays can be replaced; 0 where the shed has the
    /// capacity.
    pub places_missing: i64,
}

/// What today's soak for a group is made of. Amounts are dry seed, grams.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sized {
    /// Group, by position.
    pub group: usize,
    /// Day on which it is fed.
    pub feed_on: Day,
    /// What the animals need that day.
    pub need_g: i64,
    /// What is kept in reserve on top.
    pub reserve_g: i64,
    /// What is missing on the days before.
    pub debt_g: i64,
    /// Trays, and trays without that debt.
    pub trays: i64,
    pub trays_without_debt: i64,
    /// Trays that were left out for want of places.
    pub trays_left_out: i64,
}

#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Plan {
    /// Soaks, by day.
    pub soaks: Vec<Soak>,
    /// Feeding days of each group, by day.
    pub feeds: Vec<Feed>,
    /// Sheds, by position.
    pub sheds: Vec<ShedPlan>,
    /// What today's soaks are made of, where losses are planned for.
    pub sized: Vec<Sized>,
    /// The first day on which any group is fed from the plan or from what grows.
    pub first_feed: Option<Day>,
}

/// Plans a farm.
///
/// `growing` are the batches that are there. Seed is soaked from `span.first` on and not before
/// `farm.started_on`; a farm without a start is not planned.
///
/// # Shape
/// Feeding days cover the span; soaks cover it too, also those for feeding days after it.
///
/// ```
/// use traybook_domain::{kinds::ANIMAL_CLASSES, planning::guide::Guide};
/// use traybook_planning::{Farm, Group, Shed, Span, Standards, day_of, plan};
///
/// let today = day_of("2026-03-02".parse()?);
/// let cows = Group {
///     id: uuid::Uuid::nil(),
///     code: "COWS".to_owned(),
///     class: ANIMAL_CLASSES.iter().position(|c| *c == "dairy_cows").ok_or("no class")?,
///     head: vec![(today, 4)],
///     settings: Vec::new(),
///     crop: None,
///     starts_on: None,
/// };
/// let shed = Shed { id: uuid::Uuid::nil(), code: "S1".to_owned(), places: 40, load_g: None };
/// let farm = Farm {
///     sheds: vec![shed],
///     groups: vec![cows],
///     started_on: Some(today),
///     ..Farm::default()
/// };
/// let standards = Standards::new(&Guide::default(), today, 7);
/// let week = plan(&farm, &standards, &[], Span { first: today, days: 7 });
/// // Seed is soaked every day from today on, a tray for each cow.
/// assert_eq!(week.soaks.len(), 7);
/// assert!(week.soaks.iter().all(|soak| soak.trays == 4));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn plan(farm: &Farm, standards: &Standards, growing: &[Growing], span: Span) -> Plan {
    let mut made = Plan::default();
    let days = i32::try_from(span.days).unwrap_or(0);
    let end = span.first + days;
    let length = usize::try_from(days + MARGIN).unwrap_or(0);
    let mut places = Places::new(farm, growing, span.first, length);
    let Some(start) = farm.started_on else {
        made.sheds = places.into_sheds(span.days);
        return made;
    };
    let mut at = At::new(farm, standards, growing, span, start);
    at.share_out();
    // Full load of a tray, by feeding day as in the plan.
    let (mut asks, mut loads) = (Vec::new(), Vec::new());
    for group in 0..farm.groups.len() {
        for day in span.first..end + MARGIN {
            at.feeding_day(group, day, (&mut made.feeds, &mut loads), &mut asks);
        }
    }
    asks.sort_by_key(|a| (a.soak.day, a.soak.feed_on, a.soak.group));
    at.size_today(&mut asks, &mut places, &mut made);
    for ask in &asks {
        places.want(&ask.soak);
    }
    if places.suffices(farm) {
        for ask in asks {
            places.take(&ask.soak);
            grant(&mut made, ask);
        }
    } else {
        share(&at, asks, &mut places, &mut made);
    }
    at.look_ahead(&mut made.feeds, &loads);
    let missing = at.places_missing();
    made.soaks.retain(|s| s.day < end);
    made.feeds.retain(|f| f.day < end);
    made.feeds.sort_by_key(|f| (f.day, f.group));
    made.soaks.sort_by_key(|s| (s.day, s.feed_on, s.group));
    let fed = made.feeds.iter().filter(|f| f.growing_g + f.planned_g > 0);
    made.first_feed = fed.map(|f| f.day).min();
    made.sheds = places.into_sheds(span.days);
    for (shed, missing) in made.sheds.iter_mut().zip(missing) {
        shed.places_missing = missing;
    }
    made
}

fn grant(made: &mut Plan, ask: Ask) {
    if let Some(feed) = ask.feed.and_then(|at| made.feeds.get_mut(at)) {
        feed.planned_g = ask.soak.seed_g;
    }
    made.soaks.push(ask.soak);
}
