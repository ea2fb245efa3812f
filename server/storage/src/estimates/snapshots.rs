//! Estimates as they were last made: one row a co-operative and one a farm.
//!
//! Whoever makes them holds a lease, so that of several servers one does it. Making them moves no
//! revision: they say nothing that the records do not.

use crate::columns::{FromValue, Instant, columns, unexpected};
use crate::conn::{Bind, Conn, LIMIT};
use crate::error::StoreError;
use crate::records::farm_rows::{Farms, only};
use crate::records::sums::FORM;
use chrono::NaiveDate;
use std::vec::IntoIter;
use traybook_domain::limits::ASKED_WITHIN_MS;
use traybook_domain::{ColumnType, Month, Value};
use uuid::Uuid;

/// Which state a snapshot is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct State {
    /// Revision of the records.
    pub revision: i64,
    /// Number of the last change.
    pub change_seq: i64,
    /// When it was made, milliseconds.
    pub made_at: i64,
    /// The co-operative's day.
    pub day: NaiveDate,
}

impl State {
    const COLUMNS: &str = "revision, change_seq, made_at, day";
}

impl FromValue for State {
    type Out = Self;
    fn take(values: &mut IntoIter<Value>) -> Option<Self> {
        Some(Self {
            revision: i64::take(values)?,
            change_seq: i64::take(values)?,
            made_at: Instant::take(values)?,
            day: NaiveDate::take(values)?,
        })
    }
}

/// A co-operative's row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CoopSnapshot {
    /// Which state it is of.
    pub state: State,
    /// Version of the bodies' form.
    pub format: i64,
    /// What is said of the co-operative, JSON.
    pub body: String,
}

/// When the next making is due.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Due {
    /// No sooner than this, milliseconds.
    pub next_at: i64,
    /// Also without a change when the co-operative's day ends, milliseconds.
    pub day_ends_at: i64,
}

/// The co-operatives whose figures are to be made now: number and id, the longest waiting first. A
/// new day alone is no reason where nobody has signed in or sent a text lately.
pub fn due(
    conn: &mut Conn,
    now: i64,
    format: i64,
    most: i64,
) -> Result<Vec<(i64, Uuid)>, StoreError> {
    let columns = columns!("snapshots::due" {
        coop: i64 = "n.coop_id",
        cooperative: Uuid = "c.id",
    } => (coop, cooperative));
    let sql = format!(
        "SELECT {columns} FROM coop_counters n \
         JOIN cooperatives c ON c.coop_id = n.coop_id \
         LEFT JOIN coop_snapshots s ON s.coop_id = n.coop_id \
         WHERE c.withdrawn_at IS NULL AND n.sums_form >= ? AND (s.coop_id IS NULL OR (s.next_at <= ? \
           AND s.lease_until <= ? AND (s.revision IS NULL OR s.revision <> n.revision \
           OR s.format <> ? OR (s.day_ends_at <= ? AND (EXISTS (SELECT 1 FROM sign_ins i \
           WHERE i.coop_id = n.coop_id AND i.seen_at > ?) OR EXISTS (SELECT 1 FROM texts_in t \
           WHERE t.coop_id = n.coop_id AND t.taken_at > ?)))))) \
         ORDER BY s.next_at, n.coop_id {LIMIT}"
    );
    let (now, asked) = (Bind::instant(now), Bind::instant(now - ASKED_WITHIN_MS));
    let binds = [
        Bind::int(FORM),
        now.clone(),
        now.clone(),
        Bind::int(format),
        now,
        asked.clone(),
        asked,
        Bind::int(most),
    ];
    conn.select(&columns, &sql, &binds)
}

/// Takes the lease of a co-operative until a time, unless somebody holds it.
pub fn lease(
    conn: &mut Conn,
    coop: i64,
    lease: Uuid,
    (now, until): (i64, i64),
) -> Result<bool, StoreError> {
    conn.exec(
        "INSERT INTO coop_snapshots (coop_id, next_at, day_ends_at, lease_until) \
         VALUES (?, ?, ?, ?) ON CONFLICT (coop_id) DO NOTHING",
        &[Bind::int(coop), Bind::instant(0), Bind::instant(0), Bind::instant(0)],
    )?;
    let done = conn.exec(
        "UPDATE coop_snapshots SET lease = ?, lease_until = ? \
         WHERE coop_id = ? AND lease_until <= ?",
        &[Bind::id(lease), Bind::instant(until), Bind::int(coop), Bind::instant(now)],
    )?;
    Ok(done == 1)
}

/// Keeps what was made and gives the lease back; false where somebody else holds it by now.
pub fn keep(
    conn: &mut Conn,
    coop: i64,
    lease: Uuid,
    made: &CoopSnapshot,
    findings: &str,
    due: Due,
) -> Result<bool, StoreError> {
    let done = conn.exec(
        "UPDATE coop_snapshots SET revision = ?, change_seq = ?, made_at = ?, day = ?, \
         format = ?, body = ?, findings = ?, next_at = ?, day_ends_at = ?, lease = ?, \
         lease_until = ?, failed_at = ? WHERE coop_id = ? AND lease = ?",
        &[
            Bind::int(made.state.revision),
            Bind::int(made.state.change_seq),
            Bind::instant(made.state.made_at),
            Bind::date(made.state.day),
            Bind::int(made.format),
            Bind::text(&*made.body),
            Bind::text(findings),
            Bind::instant(due.next_at),
            Bind::instant(due.day_ends_at),
            Bind::opt(ColumnType::Id, None),
            Bind::instant(0),
            Bind::opt(ColumnType::Instant, None),
            Bind::int(coop),
            Bind::id(lease),
        ],
    )?;
    Ok(done == 1)
}

/// Asks for another making as soon as may be.
pub fn ask_again(conn: &mut Conn, coop: i64, now: i64) -> Result<(), StoreError> {
    conn.exec(
        "UPDATE coop_snapshots SET next_at = ?, day_ends_at = ? WHERE coop_id = ?",
        &[Bind::instant(now), Bind::instant(now), Bind::int(coop)],
    )
    .map(drop)
}

/// Notes that a making failed, and gives the lease back.
pub fn fail(
    conn: &mut Conn,
    coop: i64,
    lease: Uuid,
    (now, next_at): (i64, i64),
) -> Result<(), StoreError> {
    conn.exec(
        "UPDATE coop_snapshots SET failed_at = ?, next_at = ?, lease = ?, lease_until = ? \
         WHERE coop_id = ? AND lease = ?",
        &[
            Bind::instant(now),
            Bind::instant(next_at),
            Bind::opt(ColumnType::Id, None),
            Bind::instant(0),
            Bind::int(coop),
            Bind::id(lease),
        ],
    )
    .map(drop)
}

/// Co-operatives whose last making failed.
pub fn failed(conn: &mut Conn) -> Result<i64, StoreError> {
    let columns = columns!("snapshots::failed" { number: i64 = "COUNT(*)" } => number);
    let sql = format!("SELECT {columns} FROM coop_snapshots WHERE failed_at IS NOT NULL");
    conn.select_one(&columns, &sql, &[])?.ok_or_else(|| unexpected("snapshots::failed"))
}

/// Puts the rows of farms, those that differ, and removes those of farms that have none any more.
pub fn keep_farms(
    conn: &mut Conn,
    coop: i64,
    revision: i64,
    changed: &[(Uuid, String)],
    gone: &[Uuid],
) -> Result<(), StoreError> {
    for (farm, body) in changed {
        conn.exec(
            "INSERT INTO farm_snapshots (coop_id, farm_id, revision, body) VALUES (?, ?, ?, ?) \
             ON CONFLICT (coop_id, farm_id) DO UPDATE SET revision = excluded.revision, \
             body = excluded.body",
            &[Bind::int(coop), Bind::id(*farm), Bind::int(revision), Bind::text(&**body)],
        )?;
    }
    for farm in gone {
        conn.exec(
            "DELETE FROM farm_snapshots WHERE coop_id = ? AND farm_id = ?",
            &[Bind::int(coop), Bind::id(*farm)],
        )?;
    }
    Ok(())
}

/// The row of a co-operative; none before its figures were first made.
pub fn of_coop(conn: &mut Conn, coop: i64) -> Result<Option<CoopSnapshot>, StoreError> {
    let columns = columns!("snapshots::of_coop" {
        state: State = State::COLUMNS,
        format: i64,
        body: String,
    } => CoopSnapshot { state, format, body });
    let sql =
        format!("SELECT {columns} FROM coop_snapshots WHERE coop_id = ? AND body IS NOT NULL");
    conn.select_one(&columns, &sql, &[Bind::int(coop)])
}

/// Which state the figures of a co-operative are of; none before they were first made.
pub fn state(conn: &mut Conn, coop: i64) -> Result<Option<State>, StoreError> {
    let columns = columns!("snapshots::state" { state: State = State::COLUMNS } => state);
    let sql =
        format!("SELECT {columns} FROM coop_snapshots WHERE coop_id = ? AND revision IS NOT NULL");
    conn.select_one(&columns, &sql, &[Bind::int(coop)])
}

/// What the review list found, JSON, with the state it was found in.
pub fn findings(conn: &mut Conn, coop: i64) -> Result<Option<(State, String)>, StoreError> {
    let columns = columns!("snapshots::findings" {
        state: State = State::COLUMNS,
        findings: String,
    } => (state, findings));
    let sql =
        format!("SELECT {columns} FROM coop_snapshots WHERE coop_id = ? AND findings IS NOT NULL");
    conn.select_one(&columns, &sql, &[Bind::int(coop)])
}

/// The rows of farms, all or these.
pub fn of_farms(
    conn: &mut Conn,
    coop: i64,
    of: Farms<'_>,
) -> Result<Vec<(Uuid, String)>, StoreError> {
    let columns = columns!("snapshots::of_farms" {
        farm: Uuid = "farm_id",
        body: String,
    } => (farm, body));
    let mut sql = format!("SELECT {columns} FROM farm_snapshots WHERE coop_id = ?");
    let mut binds = vec![Bind::int(coop)];
    only(of, "farm_id", &mut sql, &mut binds);
    conn.select(&columns, &sql, &binds)
}

/// A month's report as it was last made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MonthSnapshot {
    /// The report, JSON.
    pub body: String,
    /// What it came to, JSON.
    pub total: String,
    /// What programme readers see of its divisions, JSON.
    pub divisions: String,
}

/// The reports that are kept: month, and a digest of both bodies.
pub fn months(conn: &mut Conn, coop: i64) -> Result<Vec<(Month, i64)>, StoreError> {
    let columns = columns!("snapshots::months" { month: Month, digest: i64 } => (month, digest));
    let sql = format!("SELECT {columns} FROM month_snapshots WHERE coop_id = ? ORDER BY month");
    conn.select(&columns, &sql, &[Bind::int(coop)])
}

/// The digest of a month's report; none where none was made.
pub fn digest_of(conn: &mut Conn, coop: i64, month: Month) -> Result<Option<i64>, StoreError> {
    let columns = columns!("snapshots::digest_of" { digest: i64 } => digest);
    let sql = format!("SELECT {columns} FROM month_snapshots WHERE coop_id = ? AND month = ?");
    conn.select_one(&columns, &sql, &[Bind::int(coop), Bind::int(month.number())])
}

/// A month's report as it was last made; empty where only its sums are kept.
pub fn body_of_month(
    conn: &mut Conn,
    coop: i64,
    month: Month,
) -> Result<Option<String>, StoreError> {
    text_of_month(conn, coop, month, "body")
}

/// How a month's saving divides, as it was last made: a much shorter text than its report.
pub fn divisions_of_month(
    conn: &mut Conn,
    coop: i64,
    month: Month,
) -> Result<Option<String>, StoreError> {
    text_of_month(conn, coop, month, "divisions")
}

/// What a month came to, JSON, as it was last made or closed; none where that was not kept.
pub fn total_of_month(
    conn: &mut Conn,
    coop: i64,
    month: Month,
) -> Result<Option<String>, StoreError> {
    Ok(text_of_month(conn, coop, month, "total")?.filter(|text| !text.is_empty()))
}

/// The closed months of which it is not kept what they came to.
pub fn without_total(conn: &mut Conn, coop: i64) -> Result<Vec<Month>, StoreError> {
    let columns = columns!("snapshots::without_total" { month: Month = "c.month" } => month);
    let sql = format!(
        "SELECT {columns} FROM month_closes c LEFT JOIN month_snapshots s \
         ON s.coop_id = c.coop_id AND s.month = c.month \
         WHERE c.coop_id = ? AND COALESCE(s.total, '') = '' ORDER BY c.month"
    );
    conn.select(&columns, &sql, &[Bind::int(coop)])
}

/// Keeps what a closed month came to, JSON.
pub fn keep_total(conn: &mut Conn, coop: i64, month: Month, total: &str) -> Result<(), StoreError> {
    conn.exec(
        "INSERT INTO month_snapshots (coop_id, month, digest, total, divisions, body) \
         VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT (coop_id, month) DO UPDATE SET \
         total = excluded.total",
        &[
            Bind::int(coop),
            Bind::int(month.number()),
            Bind::int(0),
            Bind::text(total),
            Bind::text(""),
            Bind::text(""),
        ],
    )
    .map(drop)
}

fn text_of_month(
    conn: &mut Conn,
    coop: i64,
    month: Month,
    column: &str,
) -> Result<Option<String>, StoreError> {
    let columns = columns!("snapshots::text_of_month" { text: String = column } => text);
    let sql = format!("SELECT {columns} FROM month_snapshots WHERE coop_id = ? AND month = ?");
    conn.select_one(&columns, &sql, &[Bind::int(coop), Bind::int(month.number())])
}

/// Keeps a month's report.
pub fn keep_month(
    conn: &mut Conn,
    coop: i64,
    month: Month,
    digest: i64,
    made: &MonthSnapshot,
) -> Result<(), StoreError> {
    conn.exec(
        "INSERT INTO month_snapshots (coop_id, month, digest, total, divisions, body) \
         VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT (coop_id, month) DO UPDATE SET \
         digest = excluded.digest, total = excluded.total, divisions = excluded.divisions, \
         body = excluded.body",
        &[
            Bind::int(coop),
            Bind::int(month.number()),
            Bind::int(digest),
            Bind::text(&*made.total),
            Bind::text(&*made.divisions),
            Bind::text(&*made.body),
        ],
    )
    .map(drop)
}

/// Keeps another digest of a month, whose report stays.
pub fn keep_digest(
    conn: &mut Conn,
    coop: i64,
    month: Month,
    digest: i64,
) -> Result<(), StoreError> {
    let sql = "UPDATE month_snapshots SET digest = ? WHERE coop_id = ? AND month = ?";
    let binds = [Bind::int(digest), Bind::int(coop), Bind::int(month.number())];
    conn.exec(sql, &binds).map(drop)
}

/// Removes a month's report.
pub fn drop_month(conn: &mut Conn, coop: i64, month: Month) -> Result<(), StoreError> {
    conn.exec(
        "DELETE FROM month_snapshots WHERE coop_id = ? AND month = ?",
        &[Bind::int(coop), Bind::int(month.number())],
    )
    .map(drop)
}
