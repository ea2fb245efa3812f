//! Closed months: the report as it was sent, and what was reported since.

use crate::columns::{Instant, columns};
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use crate::writing::Writing;
use traybook_domain::{ColumnType, Month, Value};
use uuid::Uuid;

/// A month as it was closed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Close {
    /// The month.
    pub month: Month,
    /// When.
    pub closed_at: i64,
    /// By whom.
    pub closed_by: Uuid,
    /// The report as JSON, to the byte.
    pub report_json: String,
    /// The report as CSV, to the byte.
    pub report_csv: String,
    /// Which form of the report it is.
    pub report_version: i64,
}

/// Freezes a month; false when it is closed already.
///
/// # Errors
/// Those of the database.
pub fn close(writing: &mut Writing<'_>, close: &Close) -> Result<bool, StoreError> {
    let coop = writing.coop();
    writing.insert(
        "INSERT INTO month_closes (coop_id, month, closed_at, closed_by, report_json, report_csv, \
         touched, report_version) VALUES (?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (coop_id, month) DO NOTHING",
        &[
            Bind::int(coop),
            Bind::int(close.month.number()),
            Bind::instant(close.closed_at),
            Bind::id(close.closed_by),
            Bind::text(&*close.report_json),
            Bind::text(&*close.report_csv),
            Bind::bool(false),
            Bind::int(close.report_version),
        ],
    )
}

/// A closed month.
///
/// # Errors
/// Those of the database.
pub fn find(conn: &mut Conn, coop: i64, month: Month) -> Result<Option<Close>, StoreError> {
    let columns = columns!("months::find" {
        month: Month,
        closed_at: Instant,
        closed_by: Uuid,
        report_json: String,
        report_csv: String,
        report_version: i64,
    } => Close { month, closed_at, closed_by, report_json, report_csv, report_version });
    let sql = format!("SELECT {columns} FROM month_closes WHERE coop_id = ? AND month = ?");
    conn.select_one(&columns, &sql, &[Bind::int(coop), Bind::int(month.number())])
}

/// The closed months in order, and whether a record has changed since.
///
/// # Errors
/// Those of the database.
pub fn list(conn: &mut Conn, coop: i64) -> Result<Vec<(Month, i64, Uuid, bool)>, StoreError> {
    let columns = columns!("months::list" {
        month: Month,
        closed_at: Instant,
        closed_by: Uuid,
        touched: bool,
    } => (month, closed_at, closed_by, touched));
    let sql = format!("SELECT {columns} FROM month_closes WHERE coop_id = ? ORDER BY month");
    conn.select(&columns, &sql, &[Bind::int(coop)])
}

/// Notes that records of closed months have changed: of these months, and of all from one on.
///
/// # Errors
/// Those of the database.
pub fn touch(
    writing: &mut Writing<'_>,
    months: &[Month],
    all_from: Option<Month>,
) -> Result<(), StoreError> {
    let coop = writing.coop();
    for month in months {
        writing.moving().exec(
            "UPDATE month_closes SET touched = ? WHERE coop_id = ? AND month = ?",
            &[Bind::bool(true), Bind::int(coop), Bind::int(month.number())],
        )?;
    }
    if let Some(from) = all_from {
        writing.moving().exec(
            "UPDATE month_closes SET touched = ? WHERE coop_id = ? AND month >= ?",
            &[Bind::bool(true), Bind::int(coop), Bind::int(from.number())],
        )?;
    }
    Ok(())
}

/// What has been reported as a farm's saving of a month, adjustments included.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reported {
    /// The month it is about.
    pub month: Month,
    /// The farm.
    pub farm: Uuid,
    /// The report it stood in: the month itself, or a later one for an adjustment.
    pub reported_in: Month,
    /// Saving or adjustment, minor units; none where there was no number.
    pub saving_minor: Option<i64>,
}

/// Keeps what a report said.
///
/// # Errors
/// Those of the database.
pub fn keep_reported(writing: &mut Writing<'_>, lines: &[Reported]) -> Result<(), StoreError> {
    let coop = writing.coop();
    for line in lines {
        writing.moving().exec(
            "INSERT INTO reported_savings (coop_id, month, farm_id, reported_in, saving_minor) \
             VALUES (?, ?, ?, ?, ?)",
            &[
                Bind::int(coop),
                Bind::int(line.month.number()),
                Bind::id(line.farm),
                Bind::int(line.reported_in.number()),
                Bind::opt(ColumnType::Int, line.saving_minor.map(Value::Int)),
            ],
        )?;
    }
    Ok(())
}

/// What has been reported about a month.
///
/// # Errors
/// Those of the database.
pub fn reported(conn: &mut Conn, coop: i64, month: Month) -> Result<Vec<Reported>, StoreError> {
    let columns = columns!("months::reported" {
        month: Month,
        farm: Uuid = "farm_id",
        reported_in: Month,
        saving_minor: Option<i64>,
    } => Reported { month, farm, reported_in, saving_minor });
    let sql = format!(
        "SELECT {columns} FROM reported_savings WHERE coop_id = ? AND month = ? \
         ORDER BY farm_id, reported_in"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::int(month.number())])
}

/// What has been reported about a farm's months, adjustments included: month and saving, none
/// where there was no number. Months that were not closed are not among them.
///
/// # Errors
/// Those of the database.
pub fn reported_of_farm(
    conn: &mut Conn,
    coop: i64,
    farm: Uuid,
    (first, last): (Month, Month),
) -> Result<Vec<(Month, Option<i64>)>, StoreError> {
    let columns = columns!("months::reported_of_farm" {
        month: Month,
        saving_minor: Option<i64> = "CAST(SUM(saving_minor) AS BIGINT)",
    } => (month, saving_minor));
    let sql = format!(
        "SELECT {columns} FROM reported_savings WHERE coop_id = ? \
         AND farm_id = ? AND month BETWEEN ? AND ? GROUP BY month ORDER BY month"
    );
    let (first, last) = (Bind::int(first.number()), Bind::int(last.number()));
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::id(farm), first, last])
}
