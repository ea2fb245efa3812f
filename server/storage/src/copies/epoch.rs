//! Which life of the records this is. A restore begins another one: what happened after the backup
//! is not in it, so nothing that was handed out since may be believed.

use crate::columns::{Instant, columns};
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use traybook_domain::{ColumnType, Value};

/// What a new life ends.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Ended {
    /// Tokens of sign-ins.
    pub sessions: usize,
    /// Invitations and other codes for one use.
    pub codes: usize,
}

/// Which life it is.
pub(crate) fn now(conn: &mut Conn) -> Result<i64, StoreError> {
    let columns = columns!("epoch::now" { epoch: i64 } => epoch);
    let sql = format!("SELECT {columns} FROM record_epoch");
    Ok(conn.select_one(&columns, &sql, &[])?.unwrap_or(0))
}

/// Notes in a copy of which instant it is.
pub(crate) fn mark(copy: &mut Conn, instant: i64) -> Result<(), StoreError> {
    let sql = "UPDATE record_epoch SET restored_to = ?";
    copy.exec(sql, &[Bind::instant(instant)]).map(drop)
}

/// Of which instant a copy is, where it says so.
pub fn instant(conn: &mut Conn) -> Result<Option<i64>, StoreError> {
    let columns = columns!("epoch::instant" { at: Option<Instant> = "restored_to" } => at);
    let sql = format!("SELECT {columns} FROM record_epoch");
    Ok(conn.select_one(&columns, &sql, &[])?.flatten())
}

/// Begins another life: all sign-ins and one-time codes of the former end, and so do the cursors of
/// devices.
pub fn begin(conn: &mut Conn, epoch: i64, restored_to: Option<i64>) -> Result<Ended, StoreError> {
    let instant = Bind::opt(ColumnType::Instant, restored_to.map(Value::Instant));
    conn.exec("UPDATE record_epoch SET epoch = ?, restored_to = ?", &[Bind::int(epoch), instant])?;
    conn.exec("DELETE FROM sign_in_people", &[])?;
    conn.exec("DELETE FROM passkey_challenges", &[])?;
    let sessions = conn.exec("DELETE FROM sessions", &[])?;
    let codes = conn.exec("DELETE FROM invitations WHERE used_at IS NULL", &[])?;
    Ok(Ended { sessions, codes })
}
