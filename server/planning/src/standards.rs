//! The growing guide laid out by day, so that a plan reads each value once.

use crate::farm::{Day, date_of};
use crate::service::level_of;
use crate::sizing::real;
use traybook_domain::kinds::ANIMAL_CLASSES;
use traybook_domain::planning::guide::{Guide, GuideName};

/// What the growing guide says for seed soaked on one day, whatever the class of animal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Common {
    /// Dry seed on a full tray, grams.
    pub load_g: i64,
    /// Whole days from the soak to spreading.
    pub incubate_days: i32,
    /// Time in water, and from the end of the soak to spreading, milliseconds.
    pub soak_ms: i64,
    pub incubate_ms: i64,
    /// Fresh fodder from a kg of seed, grams.
    pub yield_g_per_kg: i64,
    /// Whether trays are loaded full.
    pub full: bool,
    /// Water for a kg of fresh fodder, ml.
    pub water_ml_per_kg: i64,
    /// Work on a tray in a day, thousandths of a minute.
    pub labour_milli_minutes: i64,
    /// Waterings a day.
    pub waterings: i64,
    /// The most seed on a tray over its full load.
    pub load_most: f64,
    /// Share of its weight that a tray lacks when it is harvested a day early.
    pub young: f64,
    /// Seed above the default promise, as a share of the need.
    pub extra: f64,
}

#[derive(Clone, Copy, Debug)]
struct ByClass {
    age: i32,
    per_tray_milli: i64,
}

/// The growing guide from one day to another. Outside, the nearest day's values hold.
#[derive(Clone, Debug)]
pub struct Standards {
    first: Day,
    common: Vec<Common>,
    /// Age at harvest of what is grown for no class.
    no_class: Vec<i32>,
    classes: Vec<Vec<ByClass>>,
}

/// Days before and after the span of a plan that it looks at: the oldest harvest age there is, and
/// the days that a soak may move.
pub const MARGIN: i32 = 20;

impl Standards {
    /// Lays the guide out for plans of `days` days from `first` on.
    #[must_use]
    pub fn new(guide: &Guide, first: Day, days: usize) -> Self {
        let begin = first - MARGIN;
        let end = first + i32::try_from(days).unwrap_or(0) + MARGIN;
        let common = (begin..=end).map(|d| common(guide, d)).collect();
        let class = |class: &&str| {
            let of = |d| {
                let date = date_of(d);
                let age = guide.harvest_age_days(Some(class), date);
                let per_tray = guide.value(GuideName::AnimalsPerTray, Some(class), date).max(1);
                ByClass { age: i32::try_from(age).unwrap_or(0), per_tray_milli: per_tray }
            };
            (begin..=end).map(of).collect()
        };
        let age = |d| i32::try_from(guide.harvest_age_days(None, date_of(d))).unwrap_or(0);
        let no_class = (begin..=end).map(age).collect();
        let classes = ANIMAL_CLASSES.iter().map(class).collect();
        Self { first: begin, common, no_class, classes }
    }

    fn at<T: Copy>(&self, of: &[T], day: Day) -> Option<T> {
        let last = of.len().checked_sub(1)?;
        let index = usize::try_from(day - self.first).unwrap_or(0).min(last);
        of.get(index).copied()
    }

    /// What holds for seed soaked on a day.
    #[must_use]
    pub fn common(&self, day: Day) -> Common {
        self.at(&self.common, day).unwrap_or(NOTHING)
    }

    /// Age at harvest of fodder soaked on a day for a class, or for none, days.
    #[must_use]
    pub fn age(&self, class: Option<usize>, day: Day) -> i32 {
        match class {
            Some(class) => self.by_class(class, day).map_or(0, |c| c.age),
            None => self.at(&self.no_class, day).unwrap_or(0),
        }
    }

    /// Animals of a class that one full tray feeds for a day, thousandths.
    #[must_use]
    pub fn per_tray_milli(&self, class: usize, day: Day) -> i64 {
        self.by_class(class, day).map_or(i64::MAX, |c| c.per_tray_milli)
    }

    fn by_class(&self, class: usize, day: Day) -> Option<ByClass> {
        self.at(self.classes.get(class)?, day)
    }
}

/// Never read: a guide is laid out for one day at least.
const NOTHING: Common = Common {
    load_g: 1,
    incubate_days: 0,
    soak_ms: 0,
    incubate_ms: 0,
    yield_g_per_kg: 0,
    full: false,
    water_ml_per_kg: 0,
    labour_milli_minutes: 0,
    waterings: 0,
    load_most: 1.0,
    young: 0.0,
    extra: 0.0,
};

/// Thousandths of a per cent.
const PERCENT: f64 = 100_000.0;

fn common(guide: &Guide, day: Day) -> Common {
    let date = date_of(day);
    let value = |name| guide.value(name, None, date);
    let incubate = value(GuideName::IncubateHours);
    Common {
        load_g: value(GuideName::SeedKgPerTray),
        incubate_days: i32::try_from(incubate / 24_000).unwrap_or(0),
        soak_ms: value(GuideName::SoakHours) * 3_600,
        incubate_ms: incubate * 3_600,
        yield_g_per_kg: value(GuideName::FreshKgPerKgSeed),
        full: value(GuideName::FullTrays) > 0,
        water_ml_per_kg: value(GuideName::WaterLitresPerKgFresh),
        labour_milli_minutes: value(GuideName::LabourMinutesPerTray),
        waterings: value(GuideName::WateringsPerDay) / 1_000,
        load_most: real(value(GuideName::TrayMostPercent)) / PERCENT,
        young: real(value(GuideName::YoungLossPercent)) / PERCENT,
        extra: level_of(real(value(GuideName::ShortDaysPercent)) / 1_000.0).extra,
    }
}
