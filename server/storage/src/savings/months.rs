//! Closed months: the report as it was sent, and what was reported since.

use crate::columns::{Instant, columns};
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use crate::records::farm_rows::{Farms, only};
use crate::writing::Writing;
use traybook_domain::{ColumnType, Month, Value};
use uuid::Uuid;

/// A month as it was closed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Close {
    pub month: Month,
    pub closed_at: i64,
    pub closed_by: Uuid,
    /// The report as JSON, to the byte.
    pub report_json: String,
    /// The report as CSV, to the byte.
    pub report_csv: String,
    /// Which form of the report it is.
    pub report_version: i64,
}

/// Freezes a month; false when it is closed already.
pub fn close(writing: &mut Writing<'_>, close: &Close) -> Result<bool, StoreError> {
    let coop = writing.coop();
    writing.note_close(close.month);
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

/// Tells the texts of a closed month from any others: when it was closed, and how often they were
/// written anew. None of an open month.
pub fn stamp(conn: &mut Conn, coop: i64, month: Month) -> Result<Option<(i64, i64)>, StoreError> {
    let columns = columns!("months::stamp" {
        closed_at: Instant,
        rewritten: i64,
    } => (closed_at, rewritten));
    let sql = format!("SELECT {columns} FROM month_closes WHERE coop_id = ? AND month = ?");
    conn.select_one(&columns, &sql, &[Bind::int(coop), Bind::int(month.number())])
}

/// Puts another text in the place of a closed month's report: a member's name was erased from it.
pub fn rewrite(writing: &mut Writing<'_>, close: &Close) -> Result<(), StoreError> {
    let coop = writing.coop();
    writing
        .moving()
        .exec(
            "UPDATE month_closes SET report_json = ?, report_csv = ?, rewritten = rewritten + 1 \
             WHERE coop_id = ? AND month = ?",
            &[
                Bind::text(&*close.report_json),
                Bind::text(&*close.report_csv),
                Bind::int(coop),
                Bind::int(close.month.number()),
            ],
        )
        .map(drop)
}

/// The closed months in order, and whether a record has changed since.
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

/// The form of each closed month's report, in order.
pub fn versions(conn: &mut Conn, coop: i64) -> Result<Vec<(Month, i64)>, StoreError> {
    let columns = columns!("months::versions" {
        month: Month,
        report_version: i64,
    } => (month, report_version));
    let sql = format!("SELECT {columns} FROM month_closes WHERE coop_id = ? ORDER BY month");
    conn.select(&columns, &sql, &[Bind::int(coop)])
}

/// Notes that records of closed months have changed: of these months, and of all from one on.
pub fn touch(
    writing: &mut Writing<'_>,
    months: &[Month],
    all_from: Option<Month>,
) -> Result<(), StoreError> {
    let coop = writing.coop();
    let Some(last) = writing.closed_until() else { return Ok(()) };
    for month in months.iter().filter(|month| **month <= last) {
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

/// What has been reported as the saving of a farm, class of animals and month.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reported {
    /// The month it is about.
    pub month: Month,
    pub farm: Uuid,
    /// Class of animal; empty by the first method.
    pub enterprise: String,
    /// The report it stood in: the month itself, or a later one for an adjustment.
    pub reported_in: Month,
    /// By which method: 1 kept the saving and then differences, 2 keeps what was said last.
    pub method: i64,
    /// Minor units; none where there was no number.
    pub saving_minor: Option<i64>,
    /// The baseline, minor units.
    pub baseline_minor: Option<i64>,
}

/// Keeps what a report said.
pub fn keep_reported(writing: &mut Writing<'_>, lines: &[Reported]) -> Result<(), StoreError> {
    let coop = writing.coop();
    let money = |minor: Option<i64>| Bind::opt(ColumnType::Int, minor.map(Value::Int));
    for line in lines {
        writing.moving().exec(
            "INSERT INTO reported_savings (coop_id, month, farm_id, enterprise, reported_in, \
             method, saving_minor, baseline_minor) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            &[
                Bind::int(coop),
                Bind::int(line.month.number()),
                Bind::id(line.farm),
                Bind::text(&*line.enterprise),
                Bind::int(line.reported_in.number()),
                Bind::int(line.method),
                money(line.saving_minor),
                money(line.baseline_minor),
            ],
        )?;
    }
    Ok(())
}

/// What has been reported, in the order in which it was.
pub fn reported(conn: &mut Conn, coop: i64, of: Farms<'_>) -> Result<Vec<Reported>, StoreError> {
    let columns = columns!("months::reported" {
        month: Month,
        farm: Uuid = "farm_id",
        enterprise: String,
        reported_in: Month,
        method: i64,
        saving_minor: Option<i64>,
        baseline_minor: Option<i64>,
    } => Reported { month, farm, enterprise, reported_in, method, saving_minor, baseline_minor });
    let mut sql = format!("SELECT {columns} FROM reported_savings WHERE coop_id = ?");
    let mut binds = vec![Bind::int(coop)];
    only(of, "farm_id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY month, farm_id, enterprise, reported_in");
    conn.select(&columns, &sql, &binds)
}

/// What a close froze of a month, JSON.
pub fn frozen(conn: &mut Conn, coop: i64) -> Result<Vec<(Month, String)>, StoreError> {
    let columns = columns!("months::frozen" { month: Month, body: String } => (month, body));
    let sql = format!("SELECT {columns} FROM frozen_months WHERE coop_id = ? ORDER BY month");
    conn.select(&columns, &sql, &[Bind::int(coop)])
}

/// The frozen baselines of farms, the oldest first: farm, class of animal, close, JSON.
pub fn baselines(
    conn: &mut Conn,
    coop: i64,
    of: Farms<'_>,
) -> Result<Vec<(Uuid, String, Month, String)>, StoreError> {
    let columns = columns!("months::baselines" {
        farm: Uuid = "farm_id",
        enterprise: String,
        month: Month = "frozen_in",
        body: String,
    } => (farm, enterprise, month, body));
    let mut sql = format!("SELECT {columns} FROM farm_baselines WHERE coop_id = ?");
    let mut binds = vec![Bind::int(coop)];
    only(of, "farm_id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY farm_id, enterprise, frozen_in");
    conn.select(&columns, &sql, &binds)
}

/// Freezes what a close freezes: of the month, and the baselines of farms.
pub fn freeze(
    writing: &mut Writing<'_>,
    month: Month,
    body: &str,
    baselines: &[(Uuid, String, String)],
) -> Result<(), StoreError> {
    let coop = writing.coop();
    writing.moving().exec(
        "INSERT INTO frozen_months (coop_id, month, body) VALUES (?, ?, ?)",
        &[Bind::int(coop), Bind::int(month.number()), Bind::text(body)],
    )?;
    for (farm, enterprise, body) in baselines {
        writing.moving().exec(
            "INSERT INTO farm_baselines (coop_id, farm_id, enterprise, frozen_in, body) \
             VALUES (?, ?, ?, ?, ?)",
            &[
                Bind::int(coop),
                Bind::id(*farm),
                Bind::text(&**enterprise),
                Bind::int(month.number()),
                Bind::text(&**body),
            ],
        )?;
    }
    Ok(())
}
