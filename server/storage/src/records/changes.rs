//! The change feed: one numbered line a change, written in the change's own transaction.
//!
//! The number comes from the co-operative's counter row. On PostgreSQL every write takes that row
//! `FOR UPDATE` before anything else, so numbers are handed out and committed in the same order
//! and a reader can not pass one that is still to come.

use crate::columns::{Instant, columns};
use crate::conn::{Bind, Conn, LIMIT};
use crate::error::StoreError;
use crate::records::sums::FORM;
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
    /// Number of the last closed month; 0 for none.
    pub closed_until: i64,
    /// Which life of the records this is; a restore begins another one.
    pub epoch: i64,
    /// The instant of the backup that this life began with.
    pub restored_to: Option<i64>,
}

/// Reads the counters, and on PostgreSQL locks them for this transaction.
///
/// # Errors
/// `Internal` when there is no such co-operative; those of the database.
pub(crate) fn lock(conn: &mut Conn, coop: i64) -> Result<Counters, StoreError> {
    let lock = if conn.is_sqlite() { "" } else { " FOR UPDATE" };
    read_counters(conn, coop, lock)
}

/// Reads the counters.
pub fn counters(conn: &mut Conn, coop: i64) -> Result<Counters, StoreError> {
    read_counters(conn, coop, "")
}

fn read_counters(conn: &mut Conn, coop: i64, lock: &str) -> Result<Counters, StoreError> {
    let columns = columns!("changes::counters" {
        change_seq: i64,
        access_version: i64,
        revision: i64,
        closed_until: i64,
        epoch: i64 = "(SELECT epoch FROM record_epoch)",
        restored_to: Option<Instant> = "(SELECT restored_to FROM record_epoch)",
    } => Counters { change_seq, access_version, revision, closed_until, epoch, restored_to });
    let sql = format!("SELECT {columns} FROM coop_counters WHERE coop_id = ?{lock}");
    let counters = conn.select_one(&columns, &sql, &[Bind::int(coop)])?;
    counters.ok_or_else(|| StoreError::Internal("no such co-operative".to_owned()))
}

/// Writes the counters back.
pub(crate) fn store_counters(
    conn: &mut Conn,
    coop: i64,
    counters: Counters,
) -> Result<(), StoreError> {
    conn.exec(
        "UPDATE coop_counters SET change_seq = ?, access_version = ?, revision = ?, \
         closed_until = ? WHERE coop_id = ?",
        &[
            Bind::int(counters.change_seq),
            Bind::int(counters.access_version),
            Bind::int(counters.revision),
            Bind::int(counters.closed_until),
            Bind::int(coop),
        ],
    )
    .map(drop)
}

/// Makes room for a new co-operative and gives its short number.
pub fn new_cooperative(conn: &mut Conn, id: Uuid) -> Result<i64, StoreError> {
    if !conn.is_sqlite() {
        conn.exec("LOCK TABLE coop_directory IN EXCLUSIVE MODE", &[])?;
    }
    let columns = columns!("changes::new_cooperative" {
        last: Option<i64> = "MAX(coop_id)",
    } => last);
    let sql = format!("SELECT {columns} FROM coop_directory");
    let last = conn.select_one(&columns, &sql, &[])?.flatten();
    let coop = last.unwrap_or(0) + 1;
    let sql = "INSERT INTO coop_directory (coop_id, id) VALUES (?, ?)";
    conn.exec(sql, &[Bind::int(coop), Bind::id(id)])?;
    conn.exec(
        "INSERT INTO coop_counters (coop_id, change_seq, access_version, revision, sums_form) \
         VALUES (?, 0, 0, 0, ?)",
        &[Bind::int(coop), Bind::int(FORM)],
    )?;
    Ok(coop)
}

/// Lines that are written by one statement.
pub const LINES_AT_ONCE: usize = 50;

/// Writes lines, [`LINES_AT_ONCE`] by one statement and the rest one by one, so that only two
/// statements are prepared.
pub fn append(writing: &mut Writing<'_>, lines: &[Change]) -> Result<(), StoreError> {
    const ROW: &str = "(?, ?, ?, ?, ?, ?, ?)";
    if !writing.is_kept() {
        return Ok(());
    }
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
pub fn after(
    conn: &mut Conn,
    coop: i64,
    seq: i64,
    limit: usize,
) -> Result<Vec<Change>, StoreError> {
    let columns = columns!("changes::after" {
        seq: i64,
        kind: Kind,
        id: Uuid,
        farm_id: Option<Uuid>,
        version: i64,
        withdrawn: bool,
    } => Change { seq, kind, id, farm_id, version, withdrawn });
    let sql =
        format!("SELECT {columns} FROM changes WHERE coop_id = ? AND seq > ? ORDER BY seq {LIMIT}");
    let limit = i64::try_from(limit).unwrap_or(i64::MAX);
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::int(seq), Bind::int(limit)])
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
pub fn since(conn: &mut Conn, coop: i64, seq: i64) -> Result<Changed, StoreError> {
    let columns = columns!("changes::since" {
        id: Uuid = "c.id",
        farm: Option<Uuid> = "c.farm_id",
        batch: Option<Uuid> = "e.batch_id",
    } => (id, farm, batch));
    let sql = format!(
        "SELECT {columns} FROM changes c LEFT JOIN batch_events e \
         ON e.coop_id = c.coop_id AND e.id = c.id AND c.kind = ? \
         WHERE c.coop_id = ? AND c.seq > ?"
    );
    let event = Bind::text(Kind::BatchEvent.spec().one);
    let mut changed = Changed::default();
    for (id, farm, batch) in
        conn.select(&columns, &sql, &[event, Bind::int(coop), Bind::int(seq)])?
    {
        changed.ids.extend([Some(id), batch].into_iter().flatten());
        changed.farms.extend(farm);
    }
    Ok(changed)
}

/// What changed since a number of the change feed: kinds with the farm, each once; at most `limit`.
pub fn kinds_since(
    conn: &mut Conn,
    coop: i64,
    seq: i64,
    limit: i64,
) -> Result<Vec<(Kind, Option<Uuid>)>, StoreError> {
    let columns = columns!("changes::kinds_since" {
        kind: Kind,
        farm: Option<Uuid> = "farm_id",
    } => (kind, farm));
    let sql =
        format!("SELECT DISTINCT {columns} FROM changes WHERE coop_id = ? AND seq > ? {LIMIT}");
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::int(seq), Bind::int(limit)])
}
