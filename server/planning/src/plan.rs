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
//! Where the places do not suffice, soaks are granted in order of their day; of the groups that
//! ask on one day, the one that has gone shortest so far comes first, so that shortage is shared.
//! With one harvest age in the shed no other order feeds more trays: trays that stand equally long
//! are best taken in order of their beginning (interval scheduling, earliest end first).

use crate::farm::{Day, Farm, Group};
use crate::standards::{MARGIN, Standards};
use traybook_domain::money::mul_div;

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
    /// Day.
    pub day: Day,
    /// Group and shed, by position.
    pub group: usize,
    /// See [`Soak::group`].
    pub shed: usize,
    /// Crop, by position; none where nothing tells.
    pub crop: Option<usize>,
    /// Day on which it is spread, and fed.
    pub spread_on: Day,
    /// See [`Soak::spread_on`].
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
    /// Day.
    pub day: Day,
    /// Group, by position.
    pub group: usize,
    /// Head.
    pub head: i64,
    /// What it needs.
    pub need_g: i64,
    /// What stands or soaks for it already.
    pub growing_g: i64,
    /// What is still to be soaked for it.
    pub planned_g: i64,
    /// Fresh fodder from a kg of that seed, grams.
    pub yield_g_per_kg: i64,
    /// Why it goes short, where it does.
    pub short: Option<Short>,
}

impl Feed {
    /// What is missing, grams of seed.
    #[must_use]
    pub fn short_g(&self) -> i64 {
        (self.need_g - self.growing_g - self.planned_g).max(0)
    }

    /// What is left over, grams of seed.
    #[must_use]
    pub fn surplus_g(&self) -> i64 {
        (self.growing_g + self.planned_g - self.need_g).max(0)
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
}

/// A plan.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Plan {
    /// Soaks, by day.
    pub soaks: Vec<Soak>,
    /// Feeding days of each group, by day.
    pub feeds: Vec<Feed>,
    /// Sheds, by position.
    pub sheds: Vec<ShedPlan>,
    /// The first day on which any group is fed from the plan or from what grows.
    pub first_feed: Option<Day>,
}

/// A day's fodder that is still to be soaked.
struct Ask {
    soak: Soak,
    load_g: i64,
    full: bool,
    feed: Option<usize>,
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
/// use traybook_domain::{guide::Guide, kinds::ANIMAL_CLASSES};
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
    let mut asks = Vec::new();
    let mut at = At { farm, standards, growing: growing.to_vec(), span, start };
    at.share_out();
    for group in 0..farm.groups.len() {
        for day in span.first..end + MARGIN {
            at.feeding_day(group, day, &mut made.feeds, &mut asks);
        }
    }
    asks.sort_by_key(|a| (a.soak.day, a.soak.feed_on, a.soak.group));
    for ask in &asks {
        places.want(&ask.soak);
    }
    if places.suffices(farm) {
        for ask in asks {
            places.take(&ask.soak);
            grant(&mut made, ask);
        }
    } else {
        share(farm, asks, &mut places, &mut made);
    }
    made.soaks.retain(|s| s.day < end);
    made.feeds.retain(|f| f.day < end);
    made.feeds.sort_by_key(|f| (f.day, f.group));
    made.soaks.sort_by_key(|s| (s.day, s.feed_on, s.group));
    let fed = made.feeds.iter().filter(|f| f.growing_g + f.planned_g > 0);
    made.first_feed = fed.map(|f| f.day).min();
    made.sheds = places.into_sheds(span.days);
    made
}

fn grant(made: &mut Plan, ask: Ask) {
    if let Some(feed) = ask.feed.and_then(|at| made.feeds.get_mut(at)) {
        feed.planned_g = ask.soak.seed_g;
    }
    made.soaks.push(ask.soak);
}

/// Grants soaks while there are places, the group that has gone shortest first.
fn share(farm: &Farm, asks: Vec<Ask>, places: &mut Places, made: &mut Plan) {
    let mut short = vec![(0_i64, 0_i64); farm.groups.len()];
    let mut asks: std::collections::VecDeque<Ask> = asks.into();
    let mut today: Vec<Ask> = Vec::new();
    while let Some(first) = asks.front() {
        let day = first.soak.day;
        while asks.front().is_some_and(|a| a.soak.day == day) {
            today.extend(asks.pop_front());
        }
        // Missing over needed so far, compared crosswise; earlier feeding days first.
        today.sort_by(|a, b| {
            let of = |ask: &Ask| short.get(ask.soak.group).copied().unwrap_or((0, 0));
            let ((ma, na), (mb, nb)) = (of(a), of(b));
            let (left, right) =
                (i128::from(mb) * i128::from(na.max(1)), i128::from(ma) * i128::from(nb.max(1)));
            left.cmp(&right).then(a.soak.feed_on.cmp(&b.soak.feed_on))
        });
        for mut ask in today.drain(..) {
            let (wanted, need) = (ask.soak.trays, ask.soak.seed_g);
            ask.soak.trays = wanted.min(places.free(&ask.soak));
            ask.soak.seed_g = if ask.full {
                ask.soak.trays * ask.load_g
            } else {
                need.min(ask.soak.trays * ask.load_g)
            };
            if let Some((missing, needed)) = short.get_mut(ask.soak.group) {
                *missing += need - ask.soak.seed_g;
                *needed += need;
            }
            if let Some(feed) = ask.feed.and_then(|at| made.feeds.get_mut(at)) {
                feed.planned_g = ask.soak.seed_g;
                feed.short = (feed.short_g() > 0).then_some(Short::NoPlaces);
            }
            if ask.soak.trays > 0 {
                places.take(&ask.soak);
                made.soaks.push(ask.soak);
            }
        }
    }
}

struct At<'a> {
    farm: &'a Farm,
    standards: &'a Standards,
    growing: Vec<Growing>,
    span: Span,
    start: Day,
}

/// When a feeding day's fodder is soaked.
struct When {
    /// The first day on which it would not be over age; none where it can not stand on a tray.
    ideal: Option<Day>,
    /// Whether that is the farm's first day, which comes too late for the full age.
    is_ramp: bool,
    /// The working day meant for it.
    meant: Option<Day>,
    /// The working day on which it still can be soaked.
    soak: Option<Day>,
}

/// What a group needs on a feeding day, and how its fodder is grown.
struct Need {
    head: i64,
    grams: i64,
    shed: usize,
    load_g: i64,
    soak_on: Day,
    when: When,
}

impl At<'_> {
    /// Seed of batches that name no group, to the groups of their feeding day: the one with the
    /// most that nothing grows for yet comes first, as much as it needs, then the next. What is
    /// left over is the first one's. Where no group needs any it stays nobody's.
    fn share_out(&mut self) {
        let groups = self.farm.groups.len();
        let (mut shared, whole) =
            self.growing.iter().partition::<Vec<Growing>, _>(|g| g.group.is_none());
        self.growing = whole;
        shared.sort_by_key(|g| (g.feed_on, g.spread_on));
        for batch in shared {
            let mut open: Vec<(usize, i64)> = (0..groups)
                .filter_map(|group| {
                    let need = self.need(group, batch.feed_on)?.grams;
                    (need > 0).then(|| (group, need - self.growing_for(group, batch.feed_on)))
                })
                .collect();
            open.sort_by_key(|(group, open)| (std::cmp::Reverse(*open), *group));
            let only = (groups == 1).then_some(0);
            let first = open.first().map(|(group, _)| *group).or(only);
            let mut left = batch.seed_g;
            for (group, open) in open {
                let part = open.clamp(0, left);
                left -= part;
                self.growing.extend((part > 0).then_some(Growing {
                    group: Some(group),
                    seed_g: part,
                    ..batch
                }));
            }
            self.growing.push(Growing { group: first, seed_g: left, ..batch });
        }
    }

    fn need(&self, group: usize, day: Day) -> Option<Need> {
        let of = self.farm.groups.get(group)?;
        let paused = self.farm.pauses.iter().any(|p| p.contains(day));
        let head = of.head_on(day).filter(|h| *h > 0 && !paused);
        let when = self.soak_day(of, day);
        let soak_on = when.soak.or(when.meant).or(when.ideal).unwrap_or(day);
        let setting = of.setting_on(soak_on);
        let head = head.filter(|_| setting.is_none_or(|s| s.is_grown)).unwrap_or(0);
        let common = self.standards.common(soak_on);
        let shed = setting.and_then(|s| s.shed).unwrap_or(0);
        let load_g = self.farm.sheds.get(shed).and_then(|s| s.load_g).unwrap_or(common.load_g);
        let per_tray = self.standards.per_tray_milli(of.class, soak_on);
        let grams = mul_div(head.saturating_mul(1_000), load_g, per_tray)
            .unwrap_or(0)
            .max(i64::from(head > 0));
        Some(Need { head, grams, shed, load_g, soak_on, when })
    }

    fn feeding_day(&self, group: usize, day: Day, feeds: &mut Vec<Feed>, asks: &mut Vec<Ask>) {
        let grown: i64 = self.growing_for(group, day);
        let Some((of, need)) = self.farm.groups.get(group).zip(self.need(group, day)) else {
            return;
        };
        let Need { head, grams: need_g, shed, load_g, soak_on, when } = need;
        if head == 0 && grown == 0 {
            return;
        }
        let setting = of.setting_on(soak_on);
        let common = self.standards.common(soak_on);
        let mut feed = Feed {
            day,
            group,
            head,
            need_g,
            growing_g: grown,
            planned_g: 0,
            yield_g_per_kg: common.yield_g_per_kg,
            short: None,
        };
        let left = need_g - grown;
        if left <= 0 || (grown > 0 && left * 100 <= need_g * TOP_UP_PERCENT) {
            feeds.push(feed);
            return;
        }
        let is_past = when.meant.is_some_and(|day| day < self.span.first);
        let ask = match (when.ideal, when.soak) {
            _ if self.farm.sheds.get(shed).is_none() => Err(Short::NoShed),
            _ if when.is_ramp => Err(Short::BeforeFirstHarvest),
            (None, _) => Err(Short::AgeTooLow),
            _ if is_past && grown > 0 => Err(Short::TooLittleSoaked),
            (Some(ideal), Some(soak)) => Ok((soak, Some(ideal).filter(|i| *i < soak))),
            (Some(_), None) if is_past => Err(Short::NotSoaked),
            (Some(_), None) => Err(Short::RestDays),
        };
        match ask {
            Err(reason) => feed.short = Some(reason),
            Ok((soak, moved_from)) => {
                let trays = (left + load_g - 1) / load_g.max(1);
                let full = setting.and_then(|s| s.full).unwrap_or(common.full);
                asks.push(Ask {
                    soak: Soak {
                        day: soak,
                        group,
                        shed,
                        crop: setting.and_then(|s| s.crop).or(of.crop),
                        spread_on: soak + common.incubate_days,
                        feed_on: day,
                        trays,
                        seed_g: if full { trays * load_g } else { left },
                        moved_from,
                        is_late: is_past,
                    },
                    load_g,
                    full,
                    feed: Some(feeds.len()),
                });
            }
        }
        feeds.push(feed);
    }

    /// Seed that stands or soaks for a group and feeding day.
    fn growing_for(&self, group: usize, day: Day) -> i64 {
        let is_for = |g: &&Growing| g.feed_on == day && g.group == Some(group);
        self.growing.iter().filter(is_for).map(|g| g.seed_g).sum()
    }

    fn soak_day(&self, group: &Group, feed_on: Day) -> When {
        let age = |soak: Day| {
            let set = group.setting_on(soak).and_then(|s| s.age);
            set.unwrap_or_else(|| self.standards.age(Some(group.class), soak))
        };
        let stands = |soak: Day| age(soak) > self.standards.common(soak).incubate_days;
        let start = group.starts_on.map_or(self.start, |own| own.max(self.start));
        let is_ramp = feed_on <= start && stands(start);
        let mut when = When { ideal: None, is_ramp, meant: None, soak: None };
        for soak in start.max(feed_on - MARGIN)..feed_on {
            let (old, due) = (feed_on - soak, age(soak));
            if old > due {
                continue;
            }
            if soak == start && old < due && stands(soak) {
                when.is_ramp = true;
                break;
            }
            let on_tray = old - self.standards.common(soak).incubate_days;
            if on_tray < 1 {
                break;
            }
            let ideal = *when.ideal.get_or_insert(soak);
            if soak - ideal > YOUNG_DAYS_MAX {
                break;
            }
            if !self.farm.rest.contains(soak) {
                when.meant.get_or_insert(soak);
                if soak >= self.span.first {
                    when.soak = Some(soak);
                    break;
                }
            }
        }
        when
    }
}

/// Places taken in each shed, by day.
struct Places {
    first: Day,
    taken: Vec<Vec<i64>>,
    wanted: Vec<Vec<i64>>,
    of_shed: Vec<i64>,
}

impl Places {
    fn new(farm: &Farm, growing: &[Growing], first: Day, length: usize) -> Self {
        let mut taken = vec![vec![0; length]; farm.sheds.len()];
        for batch in growing {
            for day in batch.spread_on.max(first)..batch.feed_on {
                add(&mut taken, batch.shed, day - first, batch.trays);
            }
        }
        let of_shed = farm.sheds.iter().map(|s| s.places).collect();
        Self { first, wanted: taken.clone(), taken, of_shed }
    }

    fn want(&mut self, soak: &Soak) {
        for day in soak.spread_on..soak.feed_on {
            add(&mut self.wanted, soak.shed, day - self.first, soak.trays);
        }
    }

    fn take(&mut self, soak: &Soak) {
        for day in soak.spread_on..soak.feed_on {
            add(&mut self.taken, soak.shed, day - self.first, soak.trays);
        }
    }

    fn suffices(&self, farm: &Farm) -> bool {
        let fits = |(s, days): (&crate::farm::Shed, &Vec<i64>)| days.iter().all(|d| *d <= s.places);
        farm.sheds.iter().zip(&self.wanted).all(fits)
    }

    /// Places free on every day that a soak would stand.
    fn free(&self, soak: &Soak) -> i64 {
        let places = self.of_shed.get(soak.shed).copied().unwrap_or(0);
        let taken = |day: Day| {
            let at = usize::try_from(day - self.first).ok()?;
            self.taken.get(soak.shed)?.get(at).copied()
        };
        let most = (soak.spread_on..soak.feed_on).filter_map(taken).max().unwrap_or(0);
        (places - most).max(0)
    }

    fn into_sheds(self, days: usize) -> Vec<ShedPlan> {
        let shed = |(mut standing, wanted): (Vec<i64>, Vec<i64>)| {
            standing.truncate(days);
            ShedPlan { standing, places_wanted: wanted.into_iter().max().unwrap_or(0) }
        };
        self.taken.into_iter().zip(self.wanted).map(shed).collect()
    }
}

fn add(to: &mut [Vec<i64>], shed: usize, at: i32, trays: i64) {
    let slot = usize::try_from(at).ok().and_then(|at| to.get_mut(shed)?.get_mut(at));
    if let Some(slot) = slot {
        *slot += trays;
    }
}
