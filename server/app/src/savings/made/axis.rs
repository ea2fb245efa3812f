//! Days and months as the estimate counts them.

use chrono::{Days, NaiveDate};
use traybook_domain::Month;

/// Months that are looked at, the running one included: ten years. A purchase that is dated earlier
/// is most likely a slip, and a baseline needs the 12 months before a start.
pub(crate) const MONTHS_KEPT: i32 = 120;

/// Days from the first of a month on, and the months over them.
#[derive(Clone, Debug)]
pub(super) struct Axis {
    pub first: Month,
    /// First days of the months, and the first day after the last.
    pub starts: Vec<i32>,
    /// Today: the first day that is not known.
    pub as_of: i32,
    pub today: NaiveDate,
}

impl Axis {
    /// From the month of the first day that matters to the running one.
    pub fn new(from: Option<NaiveDate>, today: NaiveDate) -> Self {
        let running = Month::of(today);
        let first = from.map_or(running, Month::of).min(running);
        let first = first.max(running.plus(1 - MONTHS_KEPT));
        let mut axis = Self { first, starts: Vec::new(), as_of: 0, today };
        let months = first.to(running.plus(1));
        axis.starts = months.map(|m| axis.day(m.first_day())).collect();
        axis.as_of = axis.day(today);
        axis
    }

    pub fn months(&self) -> usize {
        self.starts.len().saturating_sub(1)
    }

    /// Days since the first; negative before it.
    pub fn day(&self, date: NaiveDate) -> i32 {
        let days = (date - self.first.first_day()).num_days();
        i32::try_from(days).unwrap_or(if days < 0 { i32::MIN } else { i32::MAX })
    }

    pub fn date(&self, day: i32) -> NaiveDate {
        let first = self.first.first_day();
        first.checked_add_days(Days::new(u64::try_from(day).unwrap_or(0))).unwrap_or(first)
    }

    pub fn month(&self, t: usize) -> Month {
        self.first.plus(i32::try_from(t).unwrap_or(0))
    }

    /// Position of a month; none outside.
    pub fn at(&self, month: Month) -> Option<usize> {
        let t = usize::try_from(month.number() - self.first.number()).ok()?;
        (t < self.months()).then_some(t)
    }

    /// Whether the month is over.
    pub fn is_over(&self, t: usize) -> bool {
        self.starts.get(t + 1).is_some_and(|end| *end <= self.as_of)
    }

    /// First day of a month and first day after it, as far as days are known.
    pub fn span(&self, t: usize) -> (i32, i32) {
        let of = |t: usize| self.starts.get(t).copied().unwrap_or(self.as_of);
        (of(t), of(t + 1).min(self.as_of))
    }
}
