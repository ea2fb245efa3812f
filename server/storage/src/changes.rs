//! The change feed: one numbered line a change, written in the change's own transaction.
//!
//! The number comes from the co-operative's counter row. On PostgreSQL every write takes that row
//! `FOR UPDATE` before anything else, so numbers are handed out and committed in the same order
//! and a reader can not pass one that is still to come.

use crate::conn::{Bind, Conn, LIMIT};
use crate::error::StoreError;
use crate::writing::Writing;
use std::collections::HashSet;
use traybook_domain::{ColumnType, Kind, Value};
use uuid::Uuid;

/// One line of the feed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// Its number, growing.
    pub seq: i64,
    /// Kind of the record.
    pub kind: Kind,
    /// The record.
    pub id: Uuid,
    /// Its farm, if it has one.
    pub farm_id: Option<Uuid>,
    /// Its version after the change.
    pub version: i64,
    /// Whether it was withdrawn.
    pub withdrawn: bool,
}

/// A co-operative's counters.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Counters {
    /// Number of the last change.
    pub change_seq: i64,
    /// Number of the last change of who may see what.
    pub access_version: i64,
    /// Moves with everything that an answer can show.
    pub revision: i64,
}

/// Reads the counters, and on PostgreSQL locks them for this transaction.
///
/// # Errors
/// `Internal` when there is no such co-operative; those of the database.
pub(crate) fn lock(conn: &mut Conn, coop: i64) -> Result<Counters, StoreError> {
    let lock = if conn.is_sqlite() { "" } else { " FOR UPDATE" };
    read_counters(conn, &format!("{COUNTERS}{lock}"), coop)
}

/// Reads the counters.
///
/// # Errors
/// As [`lock`].
pub fn counters(conn: &mut Conn, coop: i64) -> Result<Counters, StoreError> {
    read_counters(conn, COUNTERS, coop)
}

const COUNTERS: &str =
    "SELECT change_seq, access_version, revision FROM coop_counters WHERE coop_id = ?";

fn read_counters(conn: &mut Conn, sql: &str, coop: i64) -> Result<Counters, StoreError> {
    let row = conn.row(sql, &[Bind::int(coop)], &[ColumnType::Int; 3])?;
    let row = row.ok_or_else(|| StoreError::Internal("no such co-operative".to_owned()))?;
    let int = |i: usize| row.get(i).and_then(Value::as_int).unwrap_or(0);
    Ok(Counters { change_seq: int(0), access_version: int(1), revision: int(2) })
}

/// Writes the counters back.
///
/// # Errors
/// Those of the database.
pub(crate) fn store_counters(
    conn: &mut Conn,
    coop: i64,
    counters: Counters,
) -> Result<(), StoreError> {
    conn.exec(
        "UPDATE coop_counters SET change_seq = ?, access_version = ?, revision = ? \
         WHERE coop_id = ?",
        &[
            Bind::int(counters.change_seq),
            Bind::int(counters.access_version),
            Bind::int(counters.revision),
            Bind::int(coop),
        ],
    )
    .map(drop)
}

/// Makes room for a new co-operative and gives its short number.
///
/// # Errors
/// Those of the database.
pub fn new_cooperative(conn: &mut Conn) -> Result<i64, StoreError> {
    if !conn.is_sqlite() {
        conn.exec("LOCK TABLE coop_counters IN EXCLUSIVE MODE", &[])?;
    }
    let sql = "SELECT COALESCE(MAX(coop_id), 0) + 1 FROM coop_counters";
    let row = conn.row(sql, &[], &[ColumnType::Int])?;
    let coop = row.and_then(|r| r.first().and_then(Value::as_int)).unwrap_or(1);
    conn.exec(
        "INSERT INTO coop_counters (coop_id, change_seq, access_version, revision) \
         VALUES (?, 0, 0, 0)",
        &[Bind::int(coop)],
    )?;
    Ok(coop)
}

/// Lines that are written by one statement.
pub const LINES_AT_ONCE: usize = 50;

/// Writes lines, [`LINES_AT_ONCE`] by one statement and the rest one by one, so that only two
/// statements are prepared.
///
/// # Errors
/// Those of the database.
pub fn append(writing: &mut Writing<'_>, lines: &[Change]) -> Result<(), StoreError> {
    const ROW: &str = "(?, ?, ?, ?, ?, ?, ?)";
    let (many, rest) = lines.as_chunks::<LINES_AT_ONCE>();
    let rest = rest.iter().map(std::slice::from_ref);
    for part in many.iter().map(<[Change; LINES_AT_ONCE]>::as_slice).chain(rest) {
        let sql = format!(
            "INSERT INTO changes (coop_id, seq, kind, id, farm_id, version, withdrawn) VALUES {}",
            vec![ROW; part.len()].join(", ")
        );
        let coop = writing.coop();
        let binds: Vec<Bind> = part.iter().flat_map(|line| binds(coop, line)).collect();
        writing.moving().exec(&sql, &binds)?;
    }
    Ok(())
}

fn binds(coop: i64, line: &Change) -> [Bind; 7] {
    [
        Bind::int(coop),
        Bind::int(line.seq),
        Bind::text(line.kind.spec().one),
        Bind::id(line.id),
        Bind::opt(ColumnType::Id, line.farm_id.map(Value::Id)),
        Bind::int(line.version),
        Bind::bool(line.withdrawn),
    ]
}

/// The lines after a number, oldest first.
///
/// # Errors
/// Those of the database.
pub fn after(
    conn: &mut Conn,
    coop: i64,
    seq: i64,
    limit: usize,
) -> Result<Vec<Change>, StoreError> {
    use ColumnType::{Bool, Id, Int, Text};
    let rows = conn.rows(
        &format!(
            "SELECT seq, kind, id, farm_id, version, withdrawn FROM changes \
         WHERE coop_id = ? AND seq > ? ORDER BY seq {LIMIT}"
        ),
        &[Bind::int(coop), Bind::int(seq), Bind::int(i64::try_from(limit).unwrap_or(i64::MAX))],
        &[Int, Text, Id, Id, Int, Bool],
    )?;
    let unknown = || StoreError::Internal("the change feed names an unknown kind".to_owned());
    rows.iter()
        .map(|row| {
            let kind = row.get(1).and_then(Value::as_text).and_then(Kind::from_one);
            Ok(Change {
                seq: row.first().and_then(Value::as_int).unwrap_or(0),
                kind: kind.ok_or_else(unknown)?,
                id: row.get(2).and_then(Value::as_id).unwrap_or_default(),
                farm_id: row.get(3).and_then(Value::as_id),
                version: row.get(4).and_then(Value::as_int).unwrap_or(0),
                withdrawn: row.get(5).and_then(Value::as_bool).unwrap_or(false),
            })
        })
        .collect()
}

/// What changed after a number.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Changed {
    /// The records, and the batches whose events they are.
    pub ids: HashSet<Uuid>,
    /// Their farms.
    pub farms: HashSet<Uuid>,
}

/// What changed after a number.
///
/// # Errors
/// Those of the database.
pub fn since(conn: &mut Conn, coop: i64, seq: i64) -> Result<Changed, StoreError> {
    let rows = conn.rows(
        "SELECT c.id, c.farm_id, e.batch_id FROM changes c LEFT JOIN batch_events e \
         ON e.coop_id = c.coop_id AND e.id = c.id AND c.kind = ? \
         WHERE c.coop_id = ? AND c.seq > ?",
        &[Bind::text(Kind::BatchEvent.spec().one), Bind::int(coop), Bind::int(seq)],
        &[ColumnType::Id; 3],
    )?;
    let mut changed = Changed::default();
    for row in rows {
        let id = |at: usize| row.get(at).and_then(Value::as_id);
        changed.ids.extend([id(0), id(2)].into_iter().flatten());
        changed.farms.extend(id(1));
    }
    Ok(changed)
}
