//! How large a demo is and how densely it is recorded.

use chrono::{Datelike, NaiveDate};

/// How large the demo is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Size {
    /// 24 farms over 14 months, recorded by the day: to look around in, and enough to tell something
    /// of some farms.
    Small,
    /// 60 farms over 24 months, recorded every second day: a co-operative of the usual size.
    Medium,
    /// 2,000 farms over 36 months, about thirty records a farm and month: to measure with.
    Large,
    /// 10,000 farms over 12 months, recorded as [`Size::Large`]: to measure with.
    Huge,
}

impl Size {
    /// Reads `small`, `medium`, `large` or `huge`.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        match text {
            "small" => Some(Self::Small),
            "medium" => Some(Self::Medium),
            "large" => Some(Self::Large),
            "huge" => Some(Self::Huge),
            _ => None,
        }
    }

    /// Number of farms.
    #[must_use]
    pub fn farms(self) -> usize {
        match self {
            Self::Small => 24,
            Self::Medium => 60,
            Self::Large => 2_000,
            Self::Huge => 10_000,
        }
    }

    /// Whether it is there to measure with, not to look around in.
    #[must_use]
    pub fn measures(self) -> bool {
        matches!(self, Self::Large | Self::Huge)
    }

    /// Whole months of history before the running one.
    #[must_use]
    pub fn months(self) -> usize {
        match self {
            Self::Small => 14,
            Self::Medium => 24,
            Self::Large => 36,
            Self::Huge => 12,
        }
    }

    /// Days on which milk and eggs are recorded.
    pub(crate) fn output_rhythm(self) -> Rhythm {
        match self {
            Self::Small => Rhythm::EveryDays(1),
            Self::Medium => Rhythm::EveryDays(2),
            Self::Large | Self::Huge => Rhythm::TwiceAWeek,
        }
    }

    /// Days on which a batch is soaked, in a month that lies so many months before the running one.
    pub(crate) fn soak_rhythm(self, months_ago: i32) -> Rhythm {
        match self {
            Self::Small if months_ago > 3 => Rhythm::EveryDays(3),
            Self::Small => Rhythm::EveryDays(1),
            Self::Medium => Rhythm::EveryDays(2),
            Self::Large | Self::Huge => Rhythm::Weekly,
        }
    }

    /// Feed purchases of one feed in a month.
    pub(crate) fn purchases(self) -> i64 {
        if self.measures() { 3 } else { 1 }
    }

    /// Chance of a visit in a month at a farm that grows fodder, and at one that does not.
    pub(crate) fn visit_chance(self) -> (f64, f64) {
        match self {
            Self::Small | Self::Medium => (0.9, 0.45),
            Self::Large | Self::Huge => (0.8, 0.3),
        }
    }

    /// Questions answered at one visit.
    pub(crate) fn checks(self) -> usize {
        match self {
            Self::Small => 12,
            Self::Medium | Self::Large | Self::Huge => 8,
        }
    }
}

/// On which days something is recorded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Rhythm {
    /// Every so many days.
    EveryDays(i32),
    /// On four days of each month, a week apart.
    Weekly,
    /// On eight days of each month, twice a week.
    TwiceAWeek,
}

impl Rhythm {
    /// Whether a day is one of them; `offset` spreads farms over the days.
    pub(crate) fn holds(self, day: NaiveDate, offset: i32) -> bool {
        match self {
            Self::EveryDays(every) => (day.num_days_from_ce() + offset).rem_euclid(every) == 0,
            Self::Weekly => day_of_week(day).is_some_and(|d| d == offset.rem_euclid(7)),
            Self::TwiceAWeek => {
                day_of_week(day).is_some_and(|d| matches!((d - offset).rem_euclid(7), 0 | 3))
            }
        }
    }

    /// Share of the days that are of them.
    pub(crate) fn share(self) -> f64 {
        match self {
            Self::EveryDays(every) => 1.0 / f64::from(every),
            Self::Weekly => 4.0 / 30.4,
            Self::TwiceAWeek => 8.0 / 30.4,
        }
    }
}

/// Position of a day in its week, where a month has four weeks from its first day on; none for
/// the days after them.
fn day_of_week(day: NaiveDate) -> Option<i32> {
    let number = i32::try_from(day.day0()).unwrap_or(0);
    (number < 28).then_some(number % 7)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parse_knows_the_four_sizes_only() {
        assert_eq!(Size::parse("small"), Some(Size::Small));
        assert_eq!(Size::parse("medium"), Some(Size::Medium));
        assert_eq!(Size::parse("large"), Some(Size::Large));
        assert_eq!(Size::parse("huge"), Some(Size::Huge));
        assert_eq!(Size::parse("Large"), None);
        assert_eq!((Size::Large.farms(), Size::Large.months()), (2_000, 36));
        assert_eq!((Size::Huge.farms(), Size::Huge.months()), (10_000, 12));
    }

    #[test]
    fn weekly_holds_on_four_days_of_every_month() {
        let first: NaiveDate = "2026-02-01".parse().expect("a day");
        for offset in 0..14 {
            let held = |rhythm: Rhythm| {
                first
                    .iter_days()
                    .take(31)
                    .filter(|d| d.month() == 2 && rhythm.holds(*d, offset))
                    .count()
            };
            assert_eq!((held(Rhythm::Weekly), held(Rhythm::TwiceAWeek)), (4, 8), "{offset}");
        }
    }
}
