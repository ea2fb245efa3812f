//! Replaced versions of all records, for the archive of old years.

use crate::columns::{Instant, columns};
use crate::conn::{Bind, Conn, LIMIT};
use crate::error::StoreError;
use traybook_domain::Kind;
use uuid::Uuid;

/// A replaced version, with whose it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OldRow {
    /// Kind of the record.
    pub kind: Kind,
    pub id: Uuid,
    pub version: i64,
    /// The record as it was, JSON.
    pub body: String,
    /// When it was made, milliseconds.
    pub made_at: i64,
    pub made_by: Uuid,
    /// When it was replaced, milliseconds.
    pub replaced_at: i64,
    pub replaced_by: Uuid,
    /// What was done: corrected, withdrawn, …
    pub action: String,
    /// Why, where it was said.
    pub reason: Option<String>,
}

/// Where a walk over a co-operative's versions stands: kind, record and version.
pub type Place = (String, Uuid, i64);

/// Versions that were replaced before an instant, in the order of their keys, after a place.
pub fn before(
    conn: &mut Conn,
    coop: i64,
    (instant, after): (i64, &Place),
    most: i64,
) -> Result<Vec<OldRow>, StoreError> {
    let columns = columns!("history_rows::before" {
        kind: Kind,
        id: Uuid,
        version: i64,
        body: String,
        made_at: Instant,
        made_by: Uuid,
        replaced_at: Instant,
        replaced_by: Uuid,
        action: String,
        reason: Option<String>,
    } => OldRow {
        kind, id, version, body, made_at, made_by, replaced_at, replaced_by, action, reason,
    });
    let sql = format!(
        "SELECT {columns} FROM record_history WHERE coop_id = ? AND (kind, id, version) > (?, ?, ?) \
         AND replaced_at < ? ORDER BY kind, id, version {LIMIT}"
    );
    let (kind, id, version) = after;
    let after = [Bind::text(&**kind), Bind::id(*id), Bind::int(*version)];
    let rest = [Bind::instant(instant), Bind::int(most)];
    conn.select(&columns, &sql, &[&[Bind::int(coop)], after.as_slice(), rest.as_slice()].concat())
}

/// Forgets versions that an archive holds.
pub fn forget(conn: &mut Conn, coop: i64, rows: &[(Kind, Uuid, i64)]) -> Result<(), StoreError> {
    for (kind, id, version) in rows {
        let sql = "DELETE FROM record_history WHERE coop_id = ? AND kind = ? AND id = ? \
                   AND version = ?";
        let key = [Bind::text(kind.spec().one), Bind::id(*id), Bind::int(*version)];
        conn.exec(sql, &[&[Bind::int(coop)], key.as_slice()].concat())?;
    }
    Ok(())
}
