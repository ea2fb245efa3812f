//! Instants, zones and the clock that the floors above inject.

use crate::value::Instant;
use chrono::{DateTime, Days, NaiveDate, SecondsFormat, TimeZone, Utc};
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
    let local = zone.from_local_datetime(&naive).earliest();
    let utc = local.map_or_else(|| naive.and_utc(), |t| t.with_timezone(&Utc));
    Instant(utc.timestamp_millis())
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
