//! Estimates as they were last made: one row a co-operative and one a farm.
//!
//! Whoever makes them holds a lease, so that of several servers one does it. Making them moves no
//! revision: they say nothing that the records do not.

use crate::conn::{Bind, Conn, LIMIT, Row};
use crate::error::StoreError;
use crate::farm_rows::{Farms, only};
use chrono::NaiveDate;
use traybook_domain::{ColumnType, Value};
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

/// The co-operatives whose figures are to be made now: number and id, the longest waiting first.
///
/// # Errors
/// Those of the database.
pub fn due(
    conn: &mut Conn,
    now: i64,
    format: i64,
    most: i64,
) -> Result<Vec<(i64, Uuid)>, StoreError> {
    let rows = conn.rows(
        &format!(
            "SELECT n.coop_id, c.id FROM coop_counters n \
             JOIN cooperatives c ON c.coop_id = n.coop_id \
             LEFT JOIN coop_snapshots s ON s.coop_id = n.coop_id \
             WHERE c.withdrawn_at IS NULL AND (s.coop_id IS NULL OR (s.next_at <= ? \
               AND s.lease_until <= ? AND (s.revision IS NULL OR s.revision <> n.revision \
               OR s.format <> ? OR s.day_ends_at <= ?))) ORDER BY s.next_at, n.coop_id {LIMIT}"
        ),
        &[
            Bind::instant(now),
            Bind::instant(now),
            Bind::int(format),
            Bind::instant(now),
            Bind::int(most),
        ],
        &[ColumnType::Int, ColumnType::Id],
    )?;
    let one = |r: &Row| Some((r.first()?.as_int()?, r.get(1)?.as_id()?));
    rows.iter().map(|r| one(r).ok_or_else(|| unexpected("due"))).collect()
}

fn unexpected(query: &str) -> StoreError {
    StoreError::Internal(format!("a row of an unexpected form: snapshots::{query}"))
}

/// Takes the lease of a co-operative until a time, unless somebody holds it.
///
/// # Errors
/// Those of the database.
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
///
/// # Errors
/// Those of the database.
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

/// Notes that a making failed, and gives the lease back.
///
/// # Errors
/// Those of the database.
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
///
/// # Errors
/// Those of the database.
pub fn failed(conn: &mut Conn) -> Result<i64, StoreError> {
    let sql = "SELECT COUNT(*) FROM coop_snapshots WHERE failed_at IS NOT NULL";
    let row = conn.row(sql, &[], &[ColumnType::Int])?;
    row.and_then(|r| r.first()?.as_int()).ok_or_else(|| unexpected("failed"))
}

/// Puts the rows of farms, those that differ, and removes those of farms that have none any more.
///
/// # Errors
/// Those of the database.
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
///
/// # Errors
/// Those of the database.
pub fn of_coop(conn: &mut Conn, coop: i64) -> Result<Option<CoopSnapshot>, StoreError> {
    use ColumnType::{Date, Instant, Int, Text};
    let row = conn.row(
        "SELECT revision, change_seq, made_at, day, format, body FROM coop_snapshots \
         WHERE coop_id = ? AND body IS NOT NULL",
        &[Bind::int(coop)],
        &[Int, Int, Instant, Date, Int, Text],
    )?;
    let read = |r: Row| {
        let (state, format) = (state_of(&r)?, r.get(4)?.as_int()?);
        let Some(Value::Text(body)) = r.into_iter().nth(5) else { return None };
        Some(CoopSnapshot { state, format, body })
    };
    row.map(|r| read(r).ok_or_else(|| unexpected("of_coop"))).transpose()
}

/// Which state the figures of a co-operative are of; none before they were first made.
///
/// # Errors
/// Those of the database.
pub fn state(conn: &mut Conn, coop: i64) -> Result<Option<State>, StoreError> {
    use ColumnType::{Date, Instant, Int};
    let row = conn.row(
        "SELECT revision, change_seq, made_at, day FROM coop_snapshots \
         WHERE coop_id = ? AND revision IS NOT NULL",
        &[Bind::int(coop)],
        &[Int, Int, Instant, Date],
    )?;
    row.map(|r| state_of(&r).ok_or_else(|| unexpected("state"))).transpose()
}

fn state_of(r: &Row) -> Option<State> {
    Some(State {
        revision: r.first()?.as_int()?,
        change_seq: r.get(1)?.as_int()?,
        made_at: r.get(2)?.as_instant()?,
        day: r.get(3)?.as_date()?,
    })
}

/// What the review list found, JSON, with the state it was found in.
///
/// # Errors
/// Those of the database.
pub fn findings(conn: &mut Conn, coop: i64) -> Result<Option<(State, String)>, StoreError> {
    use ColumnType::{Date, Instant, Int, Text};
    let row = conn.row(
        "SELECT revision, change_seq, made_at, day, findings FROM coop_snapshots \
         WHERE coop_id = ? AND findings IS NOT NULL",
        &[Bind::int(coop)],
        &[Int, Int, Instant, Date, Text],
    )?;
    let read = |r: Row| {
        let state = state_of(&r)?;
        let Some(Value::Text(findings)) = r.into_iter().nth(4) else { return None };
        Some((state, findings))
    };
    row.map(|r| read(r).ok_or_else(|| unexpected("findings"))).transpose()
}

/// The rows of farms, all or these.
///
/// # Errors
/// Those of the database.
pub fn of_farms(
    conn: &mut Conn,
    coop: i64,
    of: Farms<'_>,
) -> Result<Vec<(Uuid, String)>, StoreError> {
    let mut sql = "SELECT farm_id, body FROM farm_snapshots WHERE coop_id = ?".to_owned();
    let mut binds = vec![Bind::int(coop)];
    only(of, "farm_id", &mut sql, &mut binds);
    let rows = conn.rows(&sql, &binds, &[ColumnType::Id, ColumnType::Text])?;
    let read = |row: Row| match <[Value; 2]>::try_from(row) {
        Ok([Value::Id(farm), Value::Text(body)]) => Ok((farm, body)),
        _ => Err(unexpected("of_farms")),
    };
    rows.into_iter().map(read).collect()
}
