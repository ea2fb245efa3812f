//! What the change feed may forget: lines of changes that were replaced or withdrawn long ago.
//!
//! The newest line of a record that stands is never forgotten, so the feed read from its start gives
//! every record at all times. Whoever stands below the floor may miss a withdrawal and begins anew.

use crate::columns::columns;
use crate::conn::{Bind, Conn, LIMIT};
use crate::error::StoreError;
use crate::records::changes;
use std::collections::HashMap;
use traybook_domain::Kind;
use uuid::Uuid;

/// Lines that are looked at in one transaction.
pub const LINES_AT_ONCE: usize = 1_000;

/// How far a feed may forget.
struct Floor {
    floor: i64,
    swept: i64,
    is_old: bool,
}

/// The number of the last change that the feed may have forgotten; 0 where it has forgotten none.
pub fn floor(conn: &mut Conn, coop: i64) -> Result<i64, StoreError> {
    let columns = columns!("feed_floors::floor" { floor: i64 } => floor);
    let sql = format!("SELECT {columns} FROM feed_floors WHERE coop_id = ?");
    Ok(conn.select_one(&columns, &sql, &[Bind::int(coop)])?.unwrap_or(0))
}

/// Co-operatives whose feed has something to forget, or whose mark was set before an instant.
pub fn due(conn: &mut Conn, marked_before: i64, most: i64) -> Result<Vec<i64>, StoreError> {
    let columns = columns!("feed_floors::due" { coop: i64 = "n.coop_id" } => coop);
    let sql = format!(
        "SELECT {columns} FROM coop_counters n LEFT JOIN feed_floors f ON f.coop_id = n.coop_id \
         WHERE f.coop_id IS NULL OR f.marked_at < ? OR f.swept < f.floor ORDER BY n.coop_id {LIMIT}"
    );
    conn.select(&columns, &sql, &[Bind::instant(marked_before), Bind::int(most)])
}

/// Moves the mark where it was set before an instant, the floor to the old one, and forgets some of
/// what lies below the floor. True when nothing is left to forget.
pub fn sweep(conn: &mut Conn, coop: i64, marked_before: i64, now: i64) -> Result<bool, StoreError> {
    let columns = columns!("feed_floors::sweep" {
        floor: i64,
        swept: i64,
        is_old: bool = "marked_at < ?",
    } => Floor { floor, swept, is_old });
    let sql = format!("SELECT {columns} FROM feed_floors WHERE coop_id = ?");
    let binds = [Bind::instant(marked_before), Bind::int(coop)];
    let found = conn.select_one(&columns, &sql, &binds)?;
    let last = changes::counters(conn, coop)?.change_seq;
    let marked = [Bind::int(last), Bind::instant(now), Bind::int(coop)];
    let (floor, swept) = match found {
        None => {
            let sql = "INSERT INTO feed_floors (mark, marked_at, coop_id, floor, swept) \
                       VALUES (?, ?, ?, 0, 0)";
            conn.exec(sql, &marked)?;
            return Ok(true);
        }
        Some(Floor { swept, is_old: true, .. }) => {
            let sql = "UPDATE feed_floors SET floor = mark, mark = ?, marked_at = ? \
                       WHERE coop_id = ?";
            conn.exec(sql, &marked)?;
            (floor(conn, coop)?, swept)
        }
        Some(Floor { floor, swept, is_old: false }) => (floor, swept),
    };
    let lines = changes::after(conn, coop, swept, LINES_AT_ONCE)?;
    let below = lines.iter().take_while(|line| line.seq <= floor);
    let mut by_kind: HashMap<Kind, Vec<(Uuid, i64, i64)>> = HashMap::new();
    for line in below.clone() {
        by_kind.entry(line.kind).or_default().push((line.id, line.version, line.seq));
    }
    for (kind, lines) in by_kind {
        let ids: Vec<Uuid> = lines.iter().map(|(id, ..)| *id).collect();
        let standing = standing(conn, coop, kind, &ids)?;
        for (_, _, seq) in
            lines.iter().filter(|(id, version, _)| standing.get(id).is_none_or(|v| v > version))
        {
            let sql = "DELETE FROM changes WHERE coop_id = ? AND seq = ?";
            conn.exec(sql, &[Bind::int(coop), Bind::int(*seq)])?;
        }
    }
    let is_done = lines.len() < LINES_AT_ONCE || lines.last().is_some_and(|l| l.seq > floor);
    let swept = if is_done { floor } else { below.last().map_or(floor, |line| line.seq) };
    let sql = "UPDATE feed_floors SET swept = ? WHERE coop_id = ?";
    conn.exec(sql, &[Bind::int(swept), Bind::int(coop)])?;
    Ok(is_done)
}

/// Versions of the records among some that stand.
fn standing(
    conn: &mut Conn,
    coop: i64,
    kind: Kind,
    ids: &[Uuid],
) -> Result<HashMap<Uuid, i64>, StoreError> {
    let columns = columns!("feed_floors::standing" { id: Uuid, version: i64 } => (id, version));
    let mut found = HashMap::new();
    for ids in ids.chunks(changes::LINES_AT_ONCE) {
        let marks = vec!["?"; ids.len()].join(", ");
        let sql = format!(
            "SELECT {columns} FROM {} WHERE coop_id = ? AND withdrawn_at IS NULL AND id IN ({marks})",
            kind.spec().table()
        );
        let ids = ids.iter().map(|id| Bind::id(*id));
        let binds: Vec<Bind> = std::iter::once(Bind::int(coop)).chain(ids).collect();
        found.extend(conn.select(&columns, &sql, &binds)?);
    }
    Ok(found)
}
