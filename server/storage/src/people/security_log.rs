//! What concerns security: lines that are only ever added, each with a hash over the one before it.

use crate::columns::{Columns, Instant, columns};
use crate::conn::{Bind, Conn, LIMIT};
use crate::error::StoreError;
use traybook_domain::{ColumnType, Value};
use uuid::Uuid;

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// Number of the co-operative; 0 for none.
    pub chain: i64,
    /// Its place in the chain, from 1.
    pub seq: i64,
    /// When, milliseconds.
    pub at: i64,
    pub event: String,
    pub person: Option<Uuid>,
    /// The person or farm that it was done to.
    pub about: Option<Uuid>,
    /// Keyed hash of a login.
    pub account: Option<String>,
    /// Keyed hash of an address.
    pub address: Option<String>,
    /// What else there is to say, in a word of ours.
    pub detail: Option<String>,
    /// Hash over this line and that of the line before.
    pub hash: String,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Chain {
    /// Number of the co-operative; 0 for none.
    pub chain: i64,
    /// Lines that were added.
    pub lines: i64,
    /// Hash of the last line.
    pub head: String,
    /// Lines at its beginning that were forgotten.
    pub forgotten: i64,
    /// Hash of the last of these.
    pub base: String,
}

fn chain_columns() -> Columns<Chain> {
    columns!("security_log::chain" {
        chain: i64,
        lines: i64,
        head: String,
        forgotten: i64,
        base: String,
    } => Chain { chain, lines, head, forgotten, base })
}

fn line_columns() -> Columns<Line> {
    columns!("security_log::line" {
        chain: i64,
        seq: i64,
        at: Instant,
        event: String,
        person: Option<Uuid> = "person_id",
        about: Option<Uuid> = "about_id",
        account: Option<String>,
        address: Option<String>,
        detail: Option<String>,
        hash: String,
    } => Line { chain, seq, at, event, person, about, account, address, detail, hash })
}

/// Takes the next place of a chain, which begins with `base`; nobody else gets one before this
/// transaction ends. The chain as it is with that place.
pub fn next(conn: &mut Conn, chain: i64, base: &str) -> Result<Chain, StoreError> {
    conn.exec(
        "INSERT INTO security_chains (chain, lines, head, forgotten, base) VALUES (?, 1, ?, 0, ?) \
         ON CONFLICT (chain) DO UPDATE SET lines = security_chains.lines + 1",
        &[Bind::int(chain), Bind::text(base), Bind::text(base)],
    )?;
    one(conn, chain)?
        .ok_or_else(|| StoreError::Internal("a chain that was just begun is gone".to_owned()))
}

/// A chain.
pub fn one(conn: &mut Conn, chain: i64) -> Result<Option<Chain>, StoreError> {
    let columns = chain_columns();
    let sql = format!("SELECT {columns} FROM security_chains WHERE chain = ?");
    conn.select_one(&columns, &sql, &[Bind::int(chain)])
}

/// Chains that are longer than `keep`, or whose first line is as old as `over`.
pub fn too_long(conn: &mut Conn, over: i64, keep: i64) -> Result<Vec<i64>, StoreError> {
    let columns = columns!("security_log::too_long" { chain: i64 = "c.chain" } => chain);
    let sql = format!(
        "SELECT {columns} FROM security_chains c WHERE c.lines - c.forgotten > ? OR EXISTS \
         (SELECT 1 FROM security_log l WHERE l.chain = c.chain AND l.seq = c.forgotten + 1 AND \
         l.at <= ?) ORDER BY c.chain"
    );
    conn.select(&columns, &sql, &[Bind::int(keep), Bind::instant(over)])
}

/// Adds a line at the place that [`next`] gave.
pub fn add(conn: &mut Conn, line: &Line) -> Result<(), StoreError> {
    let id = |id: Option<Uuid>| Bind::opt(ColumnType::Id, id.map(Value::Id));
    let text = |text: &Option<String>| Bind::opt(ColumnType::Text, text.clone().map(Value::Text));
    conn.exec(
        "INSERT INTO security_log (chain, seq, at, event, person_id, about_id, account, address, \
         detail, hash) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        &[
            Bind::int(line.chain),
            Bind::int(line.seq),
            Bind::instant(line.at),
            Bind::text(&*line.event),
            id(line.person),
            id(line.about),
            text(&line.account),
            text(&line.address),
            text(&line.detail),
            Bind::text(&*line.hash),
        ],
    )?;
    let sql = "UPDATE security_chains SET head = ? WHERE chain = ?";
    conn.exec(sql, &[Bind::text(&*line.hash), Bind::int(line.chain)]).map(drop)
}

/// Lines of a chain before a place, the newest first.
pub fn before(conn: &mut Conn, chain: i64, seq: i64, count: i64) -> Result<Vec<Line>, StoreError> {
    let columns = line_columns();
    let sql = format!(
        "SELECT {columns} FROM security_log WHERE chain = ? AND seq < ? ORDER BY seq DESC {LIMIT}"
    );
    conn.select(&columns, &sql, &[Bind::int(chain), Bind::int(seq), Bind::int(count)])
}

/// Lines of a chain after a place, in their order.
pub fn after(conn: &mut Conn, chain: i64, seq: i64, count: i64) -> Result<Vec<Line>, StoreError> {
    let columns = line_columns();
    let sql = format!(
        "SELECT {columns} FROM security_log WHERE chain = ? AND seq > ? ORDER BY seq {LIMIT}"
    );
    conn.select(&columns, &sql, &[Bind::int(chain), Bind::int(seq), Bind::int(count)])
}

pub fn chains(conn: &mut Conn) -> Result<Vec<Chain>, StoreError> {
    let columns = chain_columns();
    let sql = format!("SELECT {columns} FROM security_chains ORDER BY chain");
    conn.select(&columns, &sql, &[])
}

/// Forgets the lines of a chain up to a place; the chain begins behind it.
pub fn forget(conn: &mut Conn, last: &Line) -> Result<(), StoreError> {
    let place = [Bind::int(last.chain), Bind::int(last.seq)];
    conn.exec("DELETE FROM security_log WHERE chain = ? AND seq <= ?", &place)?;
    conn.exec(
        "UPDATE security_chains SET forgotten = ?, base = ? WHERE chain = ?",
        &[Bind::int(last.seq), Bind::text(&*last.hash), Bind::int(last.chain)],
    )
    .map(drop)
}
