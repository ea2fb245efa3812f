//! Texts to be sent.

use super::{instant, text};
use crate::columns::{Columns, Instant, columns};
use crate::conn::{Bind, Conn, LIMIT};
use crate::error::StoreError;
use uuid::Uuid;

/// A text to be sent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Out {
    pub id: Uuid,
    /// Order of texts to one number.
    pub seq: i64,
    pub number: String,
    pub body: Option<String>,
    /// What it is for.
    pub purpose: String,
    /// Two texts with one key are one.
    pub dedup_key: String,
    pub segments: i64,
    /// `waiting`, `leased`, `sent`, `failed` or `expired`.
    pub state: String,
    pub not_before: i64,
    pub expires_at: i64,
    pub made_at: i64,
    pub tries: i64,
    pub lease_until: Option<i64>,
    pub carrier: Option<String>,
    pub settled_at: Option<i64>,
}

fn out_columns() -> Columns<Out> {
    columns!("texts::out" {
        id: Uuid,
        seq: i64,
        number: String,
        body: Option<String>,
        purpose: String,
        dedup_key: String,
        segments: i64,
        state: String,
        not_before: Instant,
        expires_at: Instant,
        made_at: Instant,
        tries: i64,
        lease_until: Option<Instant>,
        carrier: Option<String>,
        settled_at: Option<Instant>,
    } => Out {
        id, seq, number, body, purpose, dedup_key, segments, state, not_before, expires_at, made_at,
        tries, lease_until, carrier, settled_at,
    })
}

/// Keeps a text to be sent; false where one with its key is there.
pub fn add_out(conn: &mut Conn, coop: i64, o: &Out) -> Result<bool, StoreError> {
    let sql = "INSERT INTO texts_out (coop_id, id, seq, number, body, purpose, dedup_key, segments, \
               state, not_before, expires_at, made_at, tries, lease_until, carrier, settled_at) \
               VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) \
               ON CONFLICT (coop_id, dedup_key) DO NOTHING";
    let binds = [
        Bind::int(coop),
        Bind::id(o.id),
        Bind::int(o.seq),
        Bind::text(&*o.number),
        text(o.body.as_deref()),
        Bind::text(&*o.purpose),
        Bind::text(&*o.dedup_key),
        Bind::int(o.segments),
        Bind::text(&*o.state),
        Bind::instant(o.not_before),
        Bind::instant(o.expires_at),
        Bind::instant(o.made_at),
        Bind::int(o.tries),
        instant(o.lease_until),
        text(o.carrier.as_deref()),
        instant(o.settled_at),
    ];
    Ok(conn.exec(sql, &binds)? == 1)
}

/// Writes what may change of a text to be sent.
pub fn put_out(conn: &mut Conn, coop: i64, o: &Out) -> Result<(), StoreError> {
    let sql = "UPDATE texts_out SET state = ?, not_before = ?, tries = ?, lease_until = ?, \
               carrier = ?, settled_at = ? WHERE coop_id = ? AND id = ?";
    let binds = [
        Bind::text(&*o.state),
        Bind::instant(o.not_before),
        Bind::int(o.tries),
        instant(o.lease_until),
        text(o.carrier.as_deref()),
        instant(o.settled_at),
        Bind::int(coop),
        Bind::id(o.id),
    ];
    conn.exec(sql, &binds).map(drop)
}

/// A text to be sent, by its key.
pub fn out_of_key(conn: &mut Conn, coop: i64, key: &str) -> Result<Option<Out>, StoreError> {
    let columns = out_columns();
    let sql = format!("SELECT {columns} FROM texts_out WHERE coop_id = ? AND dedup_key = ?");
    conn.select_one(&columns, &sql, &[Bind::int(coop), Bind::text(key)])
}

/// A text to be sent, by its id.
pub fn out(conn: &mut Conn, coop: i64, id: Uuid) -> Result<Option<Out>, StoreError> {
    let columns = out_columns();
    let sql = format!("SELECT {columns} FROM texts_out WHERE coop_id = ? AND id = ?");
    conn.select_one(&columns, &sql, &[Bind::int(coop), Bind::id(id)])
}

/// Texts of a state that are due, in the order in which they were made: of each number the first
/// that is neither sent nor given up.
pub fn due(conn: &mut Conn, coop: i64, now: i64, most: i64) -> Result<Vec<Out>, StoreError> {
    let columns = out_columns();
    let sql = format!(
        "SELECT {columns} FROM texts_out WHERE coop_id = ? AND state = 'waiting' AND not_before <= ? \
         AND NOT EXISTS (SELECT 1 FROM texts_out b WHERE b.coop_id = ? \
         AND b.number = texts_out.number AND b.state = 'leased') \
         AND NOT EXISTS (SELECT 1 FROM texts_out b WHERE b.coop_id = ? \
         AND b.number = texts_out.number AND b.state = 'waiting' AND b.not_before <= ? \
         AND (b.seq < texts_out.seq OR (b.seq = texts_out.seq AND b.id < texts_out.id))) \
         ORDER BY seq, id {LIMIT}"
    );
    let (of, at) = (Bind::int(coop), Bind::instant(now));
    let binds = [of.clone(), at.clone(), of.clone(), of, at, Bind::int(most)];
    conn.select(&columns, &sql, &binds)
}

/// Leases that have run out go back to those that wait, and what is too late is given up; how many
/// of both.
pub fn tidy_out(conn: &mut Conn, coop: i64, now: i64) -> Result<usize, StoreError> {
    let (of, at) = (Bind::int(coop), Bind::instant(now));
    let back = conn.exec(
        "UPDATE texts_out SET state = 'waiting', lease_until = NULL, carrier = NULL \
         WHERE coop_id = ? AND state = 'leased' AND lease_until <= ?",
        &[of.clone(), at.clone()],
    )?;
    let late = conn.exec(
        "UPDATE texts_out SET state = 'expired', settled_at = ? \
         WHERE coop_id = ? AND state = 'waiting' AND expires_at <= ?",
        &[at.clone(), of, at],
    )?;
    Ok(back + late)
}

/// Holds back what waits for a purpose until an instant.
pub fn hold_back(
    conn: &mut Conn,
    coop: i64,
    purpose: &str,
    until: i64,
) -> Result<usize, StoreError> {
    conn.exec(
        "UPDATE texts_out SET not_before = ? WHERE coop_id = ? AND state = 'waiting' \
         AND not_before < ? AND purpose = ?",
        &[Bind::instant(until), Bind::int(coop), Bind::instant(until), Bind::text(purpose)],
    )
}

/// Texts made since an instant, the newest first.
pub fn made_since(
    conn: &mut Conn,
    coop: i64,
    since: i64,
    most: i64,
) -> Result<Vec<Out>, StoreError> {
    let columns = out_columns();
    let sql = format!(
        "SELECT {columns} FROM texts_out WHERE coop_id = ? AND made_at >= ? \
         ORDER BY made_at DESC, id DESC {LIMIT}"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::instant(since), Bind::int(most)])
}

/// Texts and segments by purpose and state, made since an instant.
pub fn counts(
    conn: &mut Conn,
    coop: i64,
    since: i64,
) -> Result<Vec<(String, String, i64, i64)>, StoreError> {
    let columns = columns!("texts::counts" {
        purpose: String,
        state: String,
        texts: i64 = "COUNT(*)",
        segments: i64 = "CAST(SUM(segments) AS BIGINT)",
    } => (purpose, state, texts, segments));
    let sql = format!(
        "SELECT {columns} FROM texts_out WHERE coop_id = ? AND made_at >= ? \
         GROUP BY purpose, state ORDER BY purpose, state"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::instant(since)])
}

/// Texts that may be sent now and wait, and since when the oldest of them.
pub fn waiting(conn: &mut Conn, coop: i64, now: i64) -> Result<(i64, Option<i64>), StoreError> {
    let columns = columns!("texts::waiting" {
        texts: i64 = "COUNT(*)",
        since: Option<Instant> = "MIN(not_before)",
    } => (texts, since));
    let sql = format!(
        "SELECT {columns} FROM texts_out WHERE coop_id = ? AND state = 'waiting' \
         AND not_before <= ?"
    );
    let found = conn.select_one(&columns, &sql, &[Bind::int(coop), Bind::instant(now)])?;
    Ok(found.unwrap_or_default())
}

/// Gives up what waits for a number, but for some purposes.
pub fn give_up(conn: &mut Conn, coop: i64, number: &str, now: i64) -> Result<usize, StoreError> {
    conn.exec(
        "UPDATE texts_out SET state = 'expired', settled_at = ? WHERE coop_id = ? AND number = ? \
         AND state = 'waiting' AND purpose <> 'answer'",
        &[Bind::instant(now), Bind::int(coop), Bind::text(number)],
    )
}

/// Whether a lease has run out, or something that waits is too late.
pub fn has_run_out(conn: &mut Conn, coop: i64, now: i64) -> Result<bool, StoreError> {
    let columns = columns!("texts::has_run_out" { id: Uuid } => id);
    let sql = format!(
        "SELECT {columns} FROM texts_out WHERE coop_id = ? AND ((state = 'leased' \
         AND lease_until <= ?) OR (state = 'waiting' AND expires_at <= ?)) {LIMIT}"
    );
    let binds = [Bind::int(coop), Bind::instant(now), Bind::instant(now), Bind::int(1)];
    Ok(conn.select_one(&columns, &sql, &binds)?.is_some())
}
