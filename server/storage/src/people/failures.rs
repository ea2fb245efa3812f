//! Failed sign-ins and tries under way, by the keyed hash of what they count for.

use crate::columns::{Columns, Instant, columns};
use crate::conn::{Bind, Conn};
use crate::error::StoreError;

/// What counts for one key in its window.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tries {
    /// Begin of the window, milliseconds.
    pub since: i64,
    /// Tries that failed.
    pub failed: i64,
    /// Tries that are not settled yet.
    pub under_way: i64,
}

fn tries() -> Columns<Tries> {
    columns!("failures::tries" {
        since: Instant,
        failed: i64,
        under_way: i64,
    } => Tries { since, failed, under_way })
}

/// What counts for a key.
pub fn find(conn: &mut Conn, key: &str) -> Result<Option<Tries>, StoreError> {
    let columns = tries();
    let sql = format!("SELECT {columns} FROM sign_in_failures WHERE key_hash = ?");
    conn.select_one(&columns, &sql, &[Bind::text(key)])
}

/// Begins a window for a key that has none, or whose last one began before `over`; no other change
/// of this key slips in before the transaction ends. What counts in the window then.
pub fn open(conn: &mut Conn, key: &str, over: i64, now: i64) -> Result<Tries, StoreError> {
    let over = Bind::instant(over);
    conn.exec(
        "INSERT INTO sign_in_failures (key_hash, since, failed, under_way) VALUES (?, ?, 0, 0) \
         ON CONFLICT (key_hash) DO UPDATE SET \
         failed = CASE WHEN sign_in_failures.since <= ? THEN 0 ELSE sign_in_failures.failed END, \
         under_way = CASE WHEN sign_in_failures.since <= ? THEN 0 \
           ELSE sign_in_failures.under_way END, \
         since = CASE WHEN sign_in_failures.since <= ? THEN excluded.since \
           ELSE sign_in_failures.since END",
        &[Bind::text(key), Bind::instant(now), over.clone(), over.clone(), over],
    )?;
    let none = Tries { since: now, failed: 0, under_way: 0 };
    Ok(find(conn, key)?.unwrap_or(none))
}

/// Notes a try that begins.
pub fn begin(conn: &mut Conn, key: &str) -> Result<(), StoreError> {
    let sql = "UPDATE sign_in_failures SET under_way = under_way + 1 WHERE key_hash = ?";
    conn.exec(sql, &[Bind::text(key)]).map(drop)
}

/// Notes that a try has ended: `failed` is added to the failures.
pub fn settle(conn: &mut Conn, key: &str, failed: i64) -> Result<(), StoreError> {
    conn.exec(
        "UPDATE sign_in_failures SET failed = failed + ?, \
         under_way = CASE WHEN under_way > 0 THEN under_way - 1 ELSE 0 END WHERE key_hash = ?",
        &[Bind::int(failed), Bind::text(key)],
    )?;
    let sql = "DELETE FROM sign_in_failures WHERE key_hash = ? AND failed = 0 AND under_way = 0";
    conn.exec(sql, &[Bind::text(key)]).map(drop)
}

/// Forgets the failures of a key; tries under way stay counted.
pub fn forgive(conn: &mut Conn, key: &str) -> Result<(), StoreError> {
    let sql = "UPDATE sign_in_failures SET failed = 0 WHERE key_hash = ?";
    conn.exec(sql, &[Bind::text(key)]).map(drop)
}

/// Forgets the windows that began before an instant; of the others so many of the oldest that
/// `keep` stay.
pub fn prune(conn: &mut Conn, over: i64, keep: i64) -> Result<(), StoreError> {
    conn.exec("DELETE FROM sign_in_failures WHERE since <= ?", &[Bind::instant(over)])?;
    conn.exec(
        "DELETE FROM sign_in_failures WHERE key_hash IN (SELECT key_hash FROM sign_in_failures \
         ORDER BY since DESC, key_hash LIMIT 1000000 OFFSET ?)",
        &[Bind::int(keep)],
    )
    .map(drop)
}
