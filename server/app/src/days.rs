//! Days of a query.

use crate::error::AppError;
use chrono::NaiveDate;
use traybook_domain::time::parse_date;

/// A day of a query.
///
/// # Errors
/// `Invalid` when it is none.
pub(crate) fn day(name: &str, text: &str) -> Result<NaiveDate, AppError> {
    parse_date(text).ok_or_else(|| AppError::field(name, "type", "give a day as YYYY-MM-DD"))
}

/// A span of at most so many days, the last given or today, the first given or `days_default`
/// before the last.
///
/// # Errors
/// `Invalid` for what is no day, and for a span that runs backwards or is too long.
pub(crate) fn span(
    from: Option<&str>,
    to: Option<&str>,
    today: NaiveDate,
    days_default: u64,
    days_max: i64,
) -> Result<(NaiveDate, NaiveDate), AppError> {
    let to = to.map_or(Ok(today), |text| day("to", text))?;
    let before = to.checked_sub_days(chrono::Days::new(days_default)).unwrap_or(to);
    let from = from.map_or(Ok(before), |text| day("from", text))?;
    if !(0..=days_max).contains(&(to - from).num_days()) {
        let detail = format!("give a day up to {days_max} days after from");
        return Err(AppError::field("to", "range", detail));
    }
    Ok((from, to))
}
