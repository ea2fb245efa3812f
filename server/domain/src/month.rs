//! Calendar months.

use chrono::{Datelike, NaiveDate};

/// A calendar month, counted from year 0: `year * 12 + month - 1`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Month(i32);

impl Month {
    /// The month that holds `date`.
    #[must_use]
    pub fn of(date: NaiveDate) -> Self {
        Self(date.year() * 12 + i32::try_from(date.month0()).unwrap_or(0))
    }

    /// From the stored number; `None` outside the years 1900 to 2200.
    #[must_use]
    pub fn from_number(number: i64) -> Option<Self> {
        let number = i32::try_from(number).ok()?;
        (1900 * 12..2200 * 12).contains(&number).then_some(Self(number))
    }

    /// Reads `YYYY-MM`.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let (year, month) = text.split_once('-')?;
        if year.len() != 4 || month.len() != 2 {
            return None;
        }
        let (year, month): (i32, i32) = (year.parse().ok()?, month.parse().ok()?);
        if !(1..=12).contains(&month) {
            return None;
        }
        Self::from_number(i64::from(year) * 12 + i64::from(month) - 1)
    }

    /// The stored number.
    #[must_use]
    pub fn number(self) -> i64 {
        i64::from(self.0)
    }

    /// The month `by` months later (earlier if negative).
    #[must_use]
    pub fn plus(self, by: i32) -> Self {
        Self(self.0.saturating_add(by))
    }

    /// January of its year.
    #[must_use]
    pub fn year_start(self) -> Self {
        Self(self.0 - self.0.rem_euclid(12))
    }

    /// This month and those after it up to `last`; none where that is earlier.
    pub fn to(self, last: Self) -> impl DoubleEndedIterator<Item = Self> {
        (self.0..=last.0).map(Self)
    }

    #[must_use]
    pub fn first_day(self) -> NaiveDate {
        let month = u32::try_from(self.0.rem_euclid(12)).unwrap_or(0) + 1;
        NaiveDate::from_ymd_opt(self.0.div_euclid(12), month, 1).unwrap_or_default()
    }

    #[must_use]
    pub fn last_day(self) -> NaiveDate {
        self.plus(1).first_day().pred_opt().unwrap_or_default()
    }

    /// Number of days.
    #[must_use]
    pub fn days(self) -> i64 {
        i64::from(self.last_day().day())
    }
}

impl std::fmt::Display for Month {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:04}-{:02}", self.0.div_euclid(12), self.0.rem_euclid(12) + 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn month_text_round_trips_and_refuses_the_rest() {
        let month = Month::parse("2024-02").expect("valid");
        assert_eq!((month.to_string().as_str(), month.days()), ("2024-02", 29));
        for text in ["2024-2", "2024-13", "2024-00", "24-01", "2024", "x", "2024-02-01"] {
            assert_eq!(Month::parse(text), None, "{text}");
        }
    }
}
