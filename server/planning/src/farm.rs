//! What the planner knows of a farm.

use chrono::{Datelike, NaiveDate, Weekday};
use std::collections::BTreeSet;
use uuid::Uuid;

/// A calendar day as a number: chrono's days from the common era.
pub type Day = i32;

/// The number of a day.
#[must_use]
pub fn day_of(date: NaiveDate) -> Day {
    date.num_days_from_ce()
}

/// The day of a number; the last day of the calendar where there is none.
#[must_use]
pub fn date_of(day: Day) -> NaiveDate {
    NaiveDate::from_num_days_from_ce_opt(day).unwrap_or(NaiveDate::MAX)
}

/// A farm with its sheds and animal groups.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Farm {
    /// Sheds; a group without a shed of its own grows in the first.
    pub sheds: Vec<Shed>,
    /// Animal groups.
    pub groups: Vec<Group>,
    /// Days on which no seed is soaked.
    pub rest: RestDays,
    /// Days on which no fodder is fed.
    pub pauses: Vec<Pause>,
    /// First day on which seed may be soaked; none where the farm has not begun.
    pub started_on: Option<Day>,
    /// What its records have taught; none before the first night: then the plan is exact, without
    /// any reserve.
    pub learned: Option<Learned>,
}

/// What a farm's records have taught of its harvests.
#[derive(Clone, Debug, PartialEq)]
pub struct Learned {
    /// Fresh fodder from a kg of seed at full age, kg, by crop; last of a crop that is not known.
    pub fresh: Vec<f64>,
    /// Share of trays expected to spoil.
    pub spoil: f64,
    /// Spread of a harvest's yield, log scale.
    pub sd: f64,
}

impl Learned {
    /// Fresh fodder from a kg of a crop's seed, grams.
    #[must_use]
    pub fn fresh_g_per_kg(&self, crop: Option<usize>) -> i64 {
        let of = crop.and_then(|crop| self.fresh.get(crop)).or_else(|| self.fresh.last());
        of.map_or(0, |kg| (kg * 1_000.0).round() as i64)
    }
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Shed {
    pub id: Uuid,
    /// Short name.
    pub code: String,
    /// Places for trays.
    pub places: i64,
    /// Dry seed on one full tray, grams; the growing guide's where there is none.
    pub load_g: Option<i64>,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Group {
    pub id: Uuid,
    /// Short name.
    pub code: String,
    /// Class, by position in [`traybook_domain::kinds::ANIMAL_CLASSES`].
    pub class: usize,
    /// Head from a day on, by day; before the first nothing is known and nothing is fed.
    pub head: Vec<(Day, i64)>,
    /// How its fodder is grown from a day on, by day.
    pub settings: Vec<Setting>,
    /// Crop where no setting names one, by position in [`traybook_domain::kinds::CROPS`].
    pub crop: Option<usize>,
    /// First day on which seed may be soaked for it, where that is later than the farm's.
    pub starts_on: Option<Day>,
}

/// How a group's fodder is grown from a day on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Setting {
    /// First day, for what is soaked from then on.
    pub from: Day,
    /// Shed, by position.
    pub shed: Option<usize>,
    /// Crop, by position.
    pub crop: Option<usize>,
    /// Age at harvest, days.
    pub age: Option<i32>,
    /// Whether trays are loaded full, whatever is left over.
    pub full: Option<bool>,
    /// Whether fodder is grown at all.
    pub is_grown: bool,
}

impl Group {
    /// The head on a day; none before the first count.
    #[must_use]
    pub fn head_on(&self, day: Day) -> Option<i64> {
        self.head.iter().rev().find(|(from, _)| *from <= day).map(|(_, head)| *head)
    }

    /// How its fodder is grown when it is soaked on a day.
    #[must_use]
    pub fn setting_on(&self, day: Day) -> Option<&Setting> {
        self.settings.iter().rev().find(|s| s.from <= day)
    }
}

/// Days on which a farm soaks no seed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct RestDays {
    /// Every such day of the week, Monday first.
    pub weekdays: [bool; 7],
    /// Single days.
    pub days: BTreeSet<Day>,
}

impl RestDays {
    /// Whether no seed is soaked on a day.
    #[must_use]
    pub fn contains(&self, day: Day) -> bool {
        // Day 1 of the common era was a Monday.
        let weekday = usize::try_from((day - 1).rem_euclid(7)).unwrap_or(0);
        self.weekdays.get(weekday).copied().unwrap_or(false) || self.days.contains(&day)
    }

    /// Whether there is no such day.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.days.is_empty() && !self.weekdays.contains(&true)
    }

    /// Adds a day of the week.
    pub fn add_weekday(&mut self, weekday: Weekday) {
        let at = usize::try_from(weekday.num_days_from_monday()).unwrap_or(0);
        if let Some(slot) = self.weekdays.get_mut(at) {
            *slot = true;
        }
    }
}

/// Days on which a farm feeds no fodder.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pause {
    /// First of them.
    pub first: Day,
    /// Last of them; until further notice where there is none.
    pub last: Option<Day>,
}

impl Pause {
    /// Whether a day lies in it.
    #[must_use]
    pub fn contains(&self, day: Day) -> bool {
        self.first <= day && self.last.is_none_or(|last| day <= last)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rest_days_know_the_days_of_the_week() {
        // ISO 8601: 1 January 2024 was a Monday; 25 November 2026 is a Wednesday.
        let mut rest = RestDays::default();
        rest.add_weekday(Weekday::Mon);
        let day = |text: &str| day_of(text.parse().expect("a day"));
        assert!(rest.contains(day("2024-01-01")));
        assert!(!rest.contains(day("2026-11-25")));
        rest.days.insert(day("2026-11-25"));
        assert!(rest.contains(day("2026-11-25")));
        assert_eq!(date_of(day("2026-11-25")).to_string(), "2026-11-25");
    }
}
