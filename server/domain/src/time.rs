//! Instants, zones and the clock that the floors above inject.

use crate::value::Instant;
use chrono::{DateTime, Days, NaiveDate, SecondsFormat, TimeDelta, TimeZone, Utc};
use chrono_tz::Tz;

/// Where "now" comes from. The only clock reads of the server are behind this.
pub trait Clock: Send + Sync {
    /// The present instant, in milliseconds.
    fn now(&self) -> Instant;
}

/// Reads an IANA zone name.
#[must_use]
pub fn parse_zone(name: &str) -> Option<Tz> {
    name.parse().ok()
}

/// The calendar day of an instant in a zone.
///
/// ```
/// use traybook_domain::time::{local_date, parse_instant, parse_zone};
///
/// let zone = parse_zone("Africa/Dar_es_Salaam").ok_or("no zone")?;
/// let late = parse_instant("2026-03-31T22:30:00Z").ok_or("no instant")?;
/// assert_eq!(local_date(late, zone).to_string(), "2026-04-01");
/// # Ok::<(), &str>(())
/// ```
#[must_use]
pub fn local_date(at: Instant, zone: Tz) -> NaiveDate {
    to_utc(at).with_timezone(&zone).date_naive()
}

/// The instant at which a local day begins (the earlier one where clocks are set back).
#[must_use]
pub fn start_of_day(date: NaiveDate, zone: Tz) -> Instant {
    at_local(date, 0, zone)
}

/// The instant of a local day at so many minutes after midnight; a gap moves to its end.
#[must_use]
pub fn at_local(date: NaiveDate, minutes: u32, zone: Tz) -> Instant {
    let naive = date.and_hms_opt(minutes / 60 % 24, minutes % 60, 0).unwrap_or_default();
    // Where clocks are set forward at midnight, as in Cairo, the day begins when the gap ends.
    // Gaps are of quarters of an hour, and of a day at most.
    let later = (0..=96).filter_map(|quarters| {
        let local = naive.checked_add_signed(TimeDelta::minutes(15 * quarters))?;
        zone.from_local_datetime(&local).earliest()
    });
    let utc = later.map(|t| t.with_timezone(&Utc)).next().unwrap_or_else(|| naive.and_utc());
    Instant(utc.timestamp_millis())
}

/// The local days around a day, laid out once for all that ask: what zones say of thousands of
/// instants takes longer than what is done with them.
#[derive(Clone, Debug)]
pub struct LocalDays {
    zone: Tz,
    first: NaiveDate,
    /// Instants at which the days begin, one more than there are days.
    starts: Vec<i64>,
}

const DAY_MS: i64 = 86_400_000;

impl LocalDays {
    /// From `back` days before a day to `ahead` days after it.
    #[must_use]
    pub fn around(day: NaiveDate, back: u64, ahead: u64, zone: Tz) -> Self {
        let first = day.checked_sub_days(Days::new(back)).unwrap_or(day);
        let days = first.iter_days().take(usize::try_from(back + ahead + 2).unwrap_or(0));
        Self { zone, first, starts: days.map(|day| start_of_day(day, zone).0).collect() }
    }

    /// [`local_date`].
    #[must_use]
    pub fn date(&self, at: Instant) -> NaiveDate {
        self.place(at).map_or_else(|| local_date(at, self.zone), |days| plus_days(self.first, days))
    }

    /// Which of the days an instant is of; none of those that are laid out.
    fn place(&self, at: Instant) -> Option<u64> {
        let passed = at.0.checked_sub(*self.starts.first()?)?;
        if at.0 >= *self.starts.last()? || passed < 0 {
            return None;
        }
        // Days are an hour longer or shorter where clocks change: the guess is a day off at most.
        let guess = usize::try_from(passed / DAY_MS).ok()?;
        let is_of = |day: &usize| {
            let start = |day: usize| self.starts.get(day).copied();
            start(*day).zip(start(day + 1)).is_some_and(|(from, to)| (from..to).contains(&at.0))
        };
        let near = [guess, guess + 1, guess.saturating_sub(1)];
        near.into_iter().find(is_of).and_then(|day| u64::try_from(day).ok())
    }

    /// [`at_local`].
    #[must_use]
    pub fn at(&self, day: NaiveDate, minutes: u32) -> Instant {
        let place = usize::try_from((day - self.first).num_days()).ok();
        let bounds = place.and_then(|p| Some((*self.starts.get(p)?, *self.starts.get(p + 1)?)));
        match bounds {
            // No clock changes in a day of 24 hours that begins at midnight.
            Some((start, end)) if end - start == DAY_MS && minutes < 24 * 60 => {
                Instant(start + i64::from(minutes) * 60_000)
            }
            _ => at_local(day, minutes, self.zone),
        }
    }
}

/// An instant as chrono's type.
#[must_use]
pub fn to_utc(at: Instant) -> DateTime<Utc> {
    DateTime::from_timestamp_millis(at.0).unwrap_or_default()
}

/// RFC 3339 text in UTC with milliseconds and `Z`.
#[must_use]
pub fn format_instant(at: Instant) -> String {
    to_utc(at).to_rfc3339_opts(SecondsFormat::Millis, true)
}

/// Reads RFC 3339 text with an offset; truncated to the millisecond.
#[must_use]
pub fn parse_instant(text: &str) -> Option<Instant> {
    let parsed = DateTime::parse_from_rfc3339(text).ok()?;
    Some(Instant(parsed.timestamp_millis()))
}

/// Reads `YYYY-MM-DD`, strictly.
#[must_use]
pub fn parse_date(text: &str) -> Option<NaiveDate> {
    if text.len() != 10 {
        return None;
    }
    NaiveDate::parse_from_str(text, "%Y-%m-%d").ok()
}

/// The day `by` days later; the same day where the calendar ends.
#[must_use]
pub fn plus_days(date: NaiveDate, by: u64) -> NaiveDate {
    date.checked_add_days(Days::new(by)).unwrap_or(date)
}

/// A day so many days earlier.
#[must_use]
pub fn minus_days(date: NaiveDate, by: u64) -> NaiveDate {
    date.checked_sub_days(Days::new(by)).unwrap_or(date)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        parse_date(text).expect("a day")
    }

    /// [MEM] IANA time zone database: Egypt set its clocks forward on 26 April 2024 at midnight.
    #[test]
    fn a_day_without_midnight_begins_when_the_gap_ends() {
        let zone = chrono_tz::Africa::Cairo;
        assert_eq!(
            format_instant(start_of_day(day("2024-04-25"), zone)),
            "2024-04-24T22:00:00.000Z"
        );
        assert_eq!(
            format_instant(start_of_day(day("2024-04-26"), zone)),
            "2024-04-25T22:00:00.000Z"
        );
        assert_eq!(
            format_instant(start_of_day(day("2024-04-27"), zone)),
            "2024-04-26T21:00:00.000Z"
        );
        assert_eq!(local_date(start_of_day(day("2024-04-26"), zone), zone), day("2024-04-26"));
    }

    #[test]
    fn laid_out_days_are_those_of_the_zone() {
        use chrono_tz::{Africa, America, Asia, Australia, Tz};
        let zones: [Tz; 6] = [
            Africa::Nairobi,
            Africa::Cairo,
            America::Santiago,
            Asia::Kathmandu,
            Australia::Lord_Howe,
            Tz::UTC,
        ];
        for zone in zones {
            // Half a year holds a change of the clocks where there are any.
            for middle in ["2024-04-20", "2024-09-20"] {
                let days = LocalDays::around(day(middle), 80, 80, zone);
                let from = start_of_day(day(middle), zone).0 - 90 * DAY_MS;
                for at in (from..from + 180 * DAY_MS).step_by(17 * 60_000 + 1) {
                    assert_eq!(
                        days.date(Instant(at)),
                        local_date(Instant(at), zone),
                        "{zone} {at}"
                    );
                }
                for date in day("2024-01-10").iter_days().take(340) {
                    let start = start_of_day(date, zone);
                    assert_eq!(days.date(start), local_date(start, zone), "{zone} {date}");
                    for minutes in [0, 59, 60, 330, 720, 1439] {
                        assert_eq!(days.at(date, minutes), at_local(date, minutes, zone));
                    }
                }
            }
        }
        let days = LocalDays::around(NaiveDate::MAX, 1, 5, Tz::UTC);
        assert_eq!(days.date(Instant(0)), day("1970-01-01"));
        assert_eq!(days.date(Instant(i64::MAX)), local_date(Instant(i64::MAX), Tz::UTC));
    }
}
