//! The days the demo covers: whole months of history, then the running month up to today.

use crate::generate::Plan;
use chrono::NaiveDate;
use chrono_tz::Tz;
use traybook_domain::Month;
use traybook_domain::time::at_local;
use traybook_domain::value::Instant;

/// Zone of the demo's days.
pub(crate) const ZONE: Tz = chrono_tz::Africa::Dar_es_Salaam;
/// Its name as it stands in the record.
pub(crate) const ZONE_NAME: &str = "Africa/Dar_es_Salaam";

/// Months by number from the first of the history, and today.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Calendar {
    first: Month,
    /// Whole months of history; the running month has this number.
    pub(crate) months: usize,
    pub(crate) today: NaiveDate,
}

fn signed(number: usize) -> i32 {
    i32::try_from(number).unwrap_or(i32::MAX)
}

impl Calendar {
    /// The calendar of a plan.
    pub(crate) fn new(plan: &Plan) -> Self {
        let months = plan.history();
        let first = Month::of(plan.today).plus(-signed(months));
        Self { first, months, today: plan.today }
    }

    /// The month of a number.
    pub(crate) fn month(&self, number: usize) -> Month {
        self.first.plus(signed(number))
    }

    /// How many months a month lies before the running one.
    pub(crate) fn months_ago(&self, month: Month) -> i32 {
        let running = self.month(self.months).number();
        i32::try_from(running - month.number()).unwrap_or(0)
    }

    pub(crate) fn first_day(&self) -> NaiveDate {
        self.first.first_day()
    }

    /// A day of a month, counted from 1; the last one where the month is shorter.
    pub(crate) fn day(&self, number: usize, day: i64) -> NaiveDate {
        let month = self.month(number);
        let last = month.last_day();
        let days = chrono::Days::new(u64::try_from(day - 1).unwrap_or(0));
        month.first_day().checked_add_days(days).map_or(last, |d| d.min(last))
    }

    /// The days of a month that have come.
    pub(crate) fn days(&self, number: usize) -> impl Iterator<Item = NaiveDate> + use<> {
        let month = self.month(number);
        let last = month.last_day().min(self.today);
        month.first_day().iter_days().take_while(move |d| *d <= last)
    }

    /// When the records of a month are entered: on its last evening, or this evening.
    pub(crate) fn entered(&self, number: usize) -> Instant {
        let last = self.month(number).last_day();
        if last < self.today { at_local(last, 23 * 60 + 50, ZONE) } else { self.now() }
    }

    /// The evening of today.
    pub(crate) fn now(&self) -> Instant {
        at_local(self.today, 19 * 60, ZONE)
    }
}

/// An instant of a day, so many minutes after midnight.
pub(crate) fn at(day: NaiveDate, minutes: i64) -> Instant {
    at_local(day, u32::try_from(minutes).unwrap_or(0), ZONE)
}

/// The day so many days later.
pub(crate) fn later(day: NaiveDate, days: i64) -> NaiveDate {
    traybook_domain::time::plus_days(day, u64::try_from(days).unwrap_or(0))
}
