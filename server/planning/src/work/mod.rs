//! The day's work of a farm: from the batches that are there, and from the plan where none are.
//!
//! A batch moves through drain, spread, water, harvest and feed; mould or age turns its harvest
//! into a discard. What should have been done earlier comes first, with the reason. A past day
//! shows what was due and done on it; a day to come shows what will be due if all goes as planned.

mod batch;
mod early;
mod lines;
mod why;

use crate::farm::{Day, Farm, date_of, day_of};
use crate::plan::{Growing, Plan, Soak, Span, plan};
use crate::sizing::{floor, real};
use crate::standards::Standards;
use serde::{Deserialize, Serialize};
use traybook_domain::savings::money::mul_div;
use traybook_domain::time::LocalDays;
use traybook_domain::value::Instant;
use uuid::Uuid;

pub use batch::{Batch, Heap, Out};
use lines::Lines;
pub use why::{Reason, SoakWhy};

/// What is said beside fodder past its harvest age, and beside what was harvested on an earlier day.
pub const OVER_AGE_CAUTION: &str = "past its day: look for mould and a sour smell; \
    discard what is doubtful, away from animals; feeding the rest needs a reason";
/// Days past its harvest age after which a batch is to be discarded. Common practice, no source:
/// roots of an old mat hold water and rot.
pub const OVER_AGE_DISCARD_DAYS: i32 = 3;
/// Days past its day after which unfinished work is no work any more but a record that lacks its
/// end: it leaves the list.
pub const FORGOTTEN_DAYS: i32 = 10;
/// Days without a soak after which a group's fodder begins anew: what was not soaked is not late
/// then.
pub const DORMANT_DAYS: i32 = 14;

/// What there is to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Task {
    /// Discard trays.
    Discard,
    /// Harvest trays.
    Harvest,
    /// Feed out what was harvested.
    Feed,
    /// Clean empty trays.
    Clean,
    /// Spread germinated seed.
    Spread,
    /// Drain soaked seed.
    Drain,
    /// Soak seed.
    Soak,
    /// Water standing trays.
    Water,
}

impl Task {
    pub const ALL: [Self; 8] = [
        Self::Discard,
        Self::Harvest,
        Self::Feed,
        Self::Clean,
        Self::Spread,
        Self::Drain,
        Self::Soak,
        Self::Water,
    ];

    /// The name on the wire.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::Discard => "discard",
            Self::Harvest => "harvest",
            Self::Feed => "feed",
            Self::Clean => "clean",
            Self::Spread => "spread",
            Self::Drain => "drain",
            Self::Soak => "soak",
            Self::Water => "water",
        }
    }

    /// The task of a name.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|t| t.text() == text)
    }

    /// Minutes after midnight at which it is usually done. Common practice, no source: early, and
    /// trays are watered in daylight only.
    const fn minutes(self) -> u32 {
        match self {
            Self::Discard => 6 * 60 + 30,
            Self::Harvest | Self::Soak | Self::Water => 7 * 60,
            Self::Feed => 8 * 60,
            Self::Clean => 9 * 60,
            Self::Spread | Self::Drain => 11 * 60,
        }
    }

    /// Milliseconds after its time from which it is late on its own day; others are late the day
    /// after.
    const fn grace_ms(self) -> Option<i64> {
        match self {
            Self::Drain => Some(2 * HOUR_MS),
            Self::Spread => Some(6 * HOUR_MS),
            Self::Water => Some(3 * HOUR_MS),
            _ => None,
        }
    }
}

const HOUR_MS: i64 = 3_600_000;
/// How long after its time a drain that nobody recorded stays on the list.
const DRAIN_WAITS_MS: i64 = 12 * HOUR_MS;
/// First and last watering of a day, minutes after midnight.
const WATERING: (u32, u32) = (7 * 60, 17 * 60);

/// Work that was recorded besides the events of batches.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Recorded {
    /// `Drain`, `Water` or `Clean`.
    pub task: Task,
    /// Shed, by position.
    pub shed: Option<usize>,
    pub batch: Option<Uuid>,
    pub at: Instant,
    /// Which watering.
    pub watering: Option<i64>,
}

/// Seed of one lot on the farm.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LotStock {
    pub lot: Uuid,
    /// Crop, by position.
    pub crop: usize,
    /// Grams; negative where records are missing.
    pub grams: i64,
}

/// How far a line of work is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// To be done.
    Open,
    /// Should have been done.
    Late,
    /// Done, when.
    Done(Instant),
}

/// One line of work.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// Name by which it is recorded as done; the same as long as the work is the same.
    pub key: String,
    pub task: Task,
    /// How far it is.
    pub state: State,
    /// When it is due.
    pub due: Instant,
    /// Shed, group and batch, by position.
    pub shed: usize,
    pub group: Option<usize>,
    pub batch: Option<usize>,
    pub trays: Option<i64>,
    /// Dry seed to soak, or fresh fodder expected, grams.
    pub grams: Option<i64>,
    /// Crop, by position.
    pub crop: Option<usize>,
    /// Seed lot to take.
    pub lot: Option<Uuid>,
    /// Day on which it is fed.
    pub feed_on: Option<Day>,
    /// Day on which what is fed or discarded was harvested.
    pub harvested_on: Option<Day>,
    /// Which watering of how many.
    pub watering: Option<(i64, i64)>,
    /// Days that a harvest is early, where it stands in for trays that are missing today.
    pub early: Option<i32>,
    /// Why today's soak is what it is.
    pub soak: Option<SoakWhy>,
    /// Why it is late, or another day than usual.
    pub why: Option<String>,
    pub cautions: Vec<&'static str>,
}

/// A farm with what grows on it.
#[derive(Clone, Debug, Default)]
pub struct Scene {
    pub farm: Farm,
    /// Batches that are not long finished.
    pub batches: Vec<Batch>,
    /// Work recorded lately.
    pub recorded: Vec<Recorded>,
    /// Seed on the farm, the lot to be used first in front.
    pub stock: Vec<LotStock>,
}

/// When, and what else is known.
#[derive(Clone, Copy)]
pub struct Asked<'a> {
    /// The growing guide, laid out around the day.
    pub standards: &'a Standards,
    pub now: Instant,
    /// The days around it in the co-operative's zone.
    pub days: &'a LocalDays,
    /// Whether a seed lot is held.
    pub is_held: &'a dyn Fn(Uuid) -> bool,
}

impl Asked<'_> {
    #[must_use]
    pub fn today(&self) -> Day {
        self.day(self.now)
    }

    fn day(&self, at: Instant) -> Day {
        day_of(self.days.date(at))
    }

    fn at(&self, day: Day, minutes: u32) -> Instant {
        self.days.at(date_of(day), minutes)
    }
}

impl Scene {
    /// Day on which a batch is fed.
    #[must_use]
    pub fn feed_on(&self, batch: &Batch, asked: &Asked<'_>) -> Day {
        let soaked = asked.day(batch.soaked_at);
        let class = batch.group.and_then(|g| self.farm.groups.get(g)).map(|g| g.class);
        soaked + batch.age.unwrap_or_else(|| asked.standards.age(class, soaked))
    }

    /// What grows, for the planner.
    #[must_use]
    pub fn growing(&self, asked: &Asked<'_>) -> Vec<Growing> {
        let today = asked.today();
        let growing = |batch: &Batch| {
            if self.is_lost(batch, asked) {
                return None;
            }
            let feed_on = self.feed_on(batch, asked);
            let soaked = asked.day(batch.soaked_at);
            let common = asked.standards.common(soaked);
            let spread_on = soaked + common.incubate_days;
            let is_spread = batch.spread > 0;
            if feed_on < today {
                // What is over age feeds nobody by plan and still stands in its place.
                let trays = batch.standing();
                let over = Growing {
                    group: batch.group,
                    shed: batch.shed,
                    crop: Some(batch.crop),
                    soaked_on: soaked,
                    spread_on,
                    feed_on: today + 1,
                    trays,
                    seed_g: 0,
                };
                return (trays > 0 && today - feed_on <= FORGOTTEN_DAYS).then_some(over);
            }
            let trays = if is_spread { batch.standing() } else { self.trays(batch, asked) };
            // Of a batch with mould only what was taken out before is counted on.
            // Before its day what was harvested early is gone.
            let kept = match (batch.mould, feed_on > today) {
                (true, true) => 0,
                (false, true) => batch.standing(),
                (true, false) => batch.harvested(),
                (false, false) => batch.spread - batch.discarded(),
            };
            let seed_g = self.seed_left(batch, asked);
            let seed_g = match is_spread {
                true => mul_div(seed_g, kept.max(0), batch.spread).unwrap_or(0),
                false if batch.mould => 0,
                false => seed_g,
            };
            let spread_on = batch.spread_at.map_or(spread_on, |at| asked.day(at));
            Some(Growing {
                group: batch.group,
                shed: batch.shed,
                crop: Some(batch.crop),
                soaked_on: soaked,
                spread_on,
                feed_on,
                trays,
                seed_g,
            })
        };
        self.batches.iter().filter_map(growing).collect()
    }

    /// Whether all of a batch was discarded before it was spread.
    fn is_lost(&self, batch: &Batch, asked: &Asked<'_>) -> bool {
        batch.spread == 0 && batch.lost() > 0 && self.seed_left(batch, asked) == 0
    }

    /// A batch's seed less what was discarded before it was spread, grams.
    fn seed_left(&self, batch: &Batch, asked: &Asked<'_>) -> i64 {
        if let Some(planned) = batch.planned.filter(|p| *p > 0) {
            let kept = (planned - batch.lost()).max(0);
            return mul_div(batch.seed_g, kept, planned).unwrap_or(0);
        }
        let load = self.load(batch.shed, asked.day(batch.soaked_at), asked);
        (batch.seed_g - batch.lost() * load).max(0)
    }

    /// Trays that a batch which is not spread will take: those that it was soaked for, else as many
    /// as its seed fills.
    fn trays(&self, batch: &Batch, asked: &Asked<'_>) -> i64 {
        if let Some(planned) = batch.planned.filter(|p| *p > 0) {
            return (planned - batch.lost()).max(0);
        }
        let load = self.load(batch.shed, asked.day(batch.soaked_at), asked);
        (self.seed_left(batch, asked) + load - 1) / load
    }

    /// Trays to spread a batch on: those it was soaked for, fewer where the shed has no places for
    /// them and each can carry what is left.
    fn trays_to_spread(&self, at: usize, batch: &Batch, asked: &Asked<'_>) -> i64 {
        let trays = self.trays(batch, asked);
        let places = self.farm.sheds.get(batch.shed).map_or(i64::MAX, |s| s.places);
        let others = self
            .batches
            .iter()
            .enumerate()
            .filter(|(other, b)| *other != at && b.shed == batch.shed && b.spread > 0);
        let free = places - others.map(|(_, b)| b.standing()).sum::<i64>();
        let common = asked.standards.common(asked.day(batch.soaked_at));
        let load = real(self.load(batch.shed, asked.day(batch.soaked_at), asked));
        let least = real(self.seed_left(batch, asked)) / (load * common.load_most);
        trays.min(free.max(floor(least.ceil()))).max(1)
    }

    fn load(&self, shed: usize, day: Day, asked: &Asked<'_>) -> i64 {
        let own = self.farm.sheds.get(shed).and_then(|s| s.load_g);
        own.unwrap_or(asked.standards.common(day).load_g).max(1)
    }

    /// The plan from today on. A group for which nothing was soaked for [`DORMANT_DAYS`] days
    /// begins anew today.
    #[must_use]
    pub fn plan(&self, asked: &Asked<'_>, days: usize) -> Plan {
        let today = asked.today();
        let mut farm = self.farm.clone();
        for (at, group) in farm.groups.iter_mut().enumerate() {
            let own = |b: &&Batch| b.group.is_none_or(|g| g == at);
            let last = self.batches.iter().filter(own).map(|b| asked.day(b.soaked_at)).max();
            if last.is_none_or(|last| today - last > DORMANT_DAYS) {
                group.starts_on = Some(today);
            }
        }
        plan(&farm, asked.standards, &self.growing(asked), Span { first: today, days })
    }

    /// Why a soak of today is what it is; none of another day, and where nothing is planned for.
    #[must_use]
    pub fn soak_why(&self, soak: &Soak, asked: &Asked<'_>, made: &Plan) -> Option<SoakWhy> {
        let today = asked.today();
        let day = Lines { scene: self, date: soak.day, asked, today };
        day.soak_of(soak, made).soak
    }

    /// The work of a day: late work first, then by time. `made` is the plan from today on and
    /// reaches the day; for a past day it is not looked at.
    #[must_use]
    pub fn work(&self, date: Day, asked: &Asked<'_>, made: &Plan) -> Vec<Line> {
        let today = asked.today();
        let mut lines = Vec::new();
        let day = Lines { scene: self, date, asked, today };
        for at in 0..self.batches.len() {
            day.batch(at, &mut lines);
        }
        let soaks = if date >= today { made.soaks.as_slice() } else { &[] };
        lines.extend(soaks.iter().filter(|s| s.day == date).map(|s| day.soak_of(s, made)));
        if date > today {
            lines.extend(soaks.iter().flat_map(|s| day.later(s)));
        }
        if date == today {
            day.early(made, &mut lines);
        }
        day.water(soaks, &mut lines);
        day.clean(&mut lines);
        for line in &mut lines {
            day.settle(line);
        }
        let rank = |line: &Line| match line.state {
            State::Late => 0,
            State::Open => 1,
            State::Done(_) => 2,
        };
        lines.sort_by(|a, b| {
            let of = |l: &Line| (rank(l), l.due.0, l.task);
            of(a).cmp(&of(b)).then_with(|| a.key.cmp(&b.key))
        });
        lines
    }
}
