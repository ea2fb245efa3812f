//! The trays of every batch that was soaked and spread, kept beside its events: reading them takes
//! no adding up of all events there are.

use crate::columns::{Instant, columns};
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use crate::event_sums;
use crate::farm_rows::{Farms, only};
use crate::writing::Writing;
use uuid::Uuid;

/// Trays of one batch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BatchTrays {
    /// Farm.
    pub farm: Uuid,
    /// Batch.
    pub batch: Uuid,
    /// Seed lot.
    pub lot: Option<Uuid>,
    /// First soak, milliseconds.
    pub soaked_at: i64,
    /// Trays spread.
    pub spread: i64,
    /// Trays harvested.
    pub harvested: i64,
    /// Trays discarded.
    pub discarded: i64,
}

/// The batches soaked since an instant, of all farms or of these, in the order of the soak.
///
/// # Errors
/// Those of the database.
pub fn batch_trays(
    conn: &mut Conn,
    coop: i64,
    since_ms: i64,
    of: Farms<'_>,
) -> Result<Vec<BatchTrays>, StoreError> {
    let columns = columns!("batch_trays::batch_trays" {
        farm: Uuid = "farm_id",
        batch: Uuid = "batch_id",
        lot: Option<Uuid> = "lot_id",
        soaked_at: Instant,
        spread: i64,
        harvested: i64,
        discarded: i64,
    } => BatchTrays { farm, batch, lot, soaked_at, spread, harvested, discarded });
    let mut sql = format!("SELECT {columns} FROM batch_trays WHERE coop_id = ? AND soaked_at >= ?");
    let mut binds = vec![Bind::int(coop), Bind::instant(since_ms)];
    only(of, "farm_id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY soaked_at, batch_id");
    conn.select(&columns, &sql, &binds)
}

/// Counts the trays of one batch anew from its events.
///
/// # Errors
/// Those of the database.
pub fn recount(writing: &mut Writing<'_>, batch: Uuid) -> Result<(), StoreError> {
    let coop = writing.coop();
    let conn = writing.moving();
    let binds = [Bind::int(coop), Bind::id(batch)];
    conn.exec("DELETE FROM batch_trays WHERE coop_id = ? AND batch_id = ?", &binds)?;
    let binds = [binds.as_slice(), binds.as_slice()].concat();
    conn.exec(&count("AND batch_id = ?", "AND b.id = ?"), &binds).map(drop)
}

/// Counts the trays of all batches anew, where none are kept.
///
/// # Errors
/// Those of the database.
pub fn recount_all(writing: &mut Writing<'_>) -> Result<(), StoreError> {
    let coop = writing.coop();
    writing.moving().exec(&count("", ""), &[Bind::int(coop), Bind::int(coop)]).map(drop)
}

/// The statement that counts: of the co-operative's events these, and of its batches.
fn count(events: &str, batches: &str) -> String {
    format!(
        "INSERT INTO batch_trays (coop_id, soaked_at, batch_id, farm_id, lot_id, spread, \
           harvested, discarded) \
         SELECT b.coop_id, e.soaked_at, b.id, b.farm_id, b.seed_lot_id, e.spread, e.harvested, \
           e.discarded \
         FROM (SELECT batch_id, {} AS soaked_at, {} AS spread, {} AS harvested, {} AS discarded \
           FROM batch_events WHERE coop_id = ? {events} AND withdrawn_at IS NULL \
           GROUP BY batch_id) e \
         JOIN batches b ON b.id = e.batch_id \
         WHERE b.coop_id = ? {batches} AND b.withdrawn_at IS NULL AND e.soaked_at IS NOT NULL \
           AND e.spread > 0",
        event_sums::first("soaked"),
        event_sums::sum("spread", "trays"),
        event_sums::sum("harvested", "trays"),
        event_sums::sum("discarded", "trays"),
    )
}
