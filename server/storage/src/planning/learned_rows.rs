//! What the plan learns from: batches with their trays, and weighed harvests; and what it learned.

use crate::columns::{Instant, columns};
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use crate::records::event_sums::{first, sum, without};
use chrono::NaiveDate;
use uuid::Uuid;

/// A batch, summed over its events.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GrownRow {
    /// The batch, its farm, and the class of the animals it is grown for.
    pub batch: Uuid,
    pub farm: Uuid,
    pub class: Option<String>,
    pub lot: Option<Uuid>,
    pub crop: String,
    /// Age at harvest set for it, days.
    pub age: Option<i64>,
    /// First soak, milliseconds.
    pub soaked_at: i64,
    /// Dry seed, grams.
    pub seed_g: i64,
    /// First spreading, milliseconds, and trays spread.
    pub spread_at: Option<i64>,
    pub spread: i64,
    /// Trays harvested and discarded.
    pub harvested: i64,
    pub discarded: i64,
    /// Harvests without a weight or without trays.
    pub untold: i64,
}

/// Batches soaked between two instants (the second excluded), in the order of their ids.
pub fn grown(conn: &mut Conn, coop: i64, span: (i64, i64)) -> Result<Vec<GrownRow>, StoreError> {
    let soaked = first("soaked");
    let columns = columns!("learned_rows::grown" {
        batch: Uuid = "b.id",
        farm: Uuid = "b.farm_id",
        class: Option<String> = "MAX(g.animal_class)",
        lot: Option<Uuid> = "b.seed_lot_id",
        crop: String = "b.crop",
        age: Option<i64> = "b.harvest_age_days",
        soaked_at: Instant = soaked.clone(),
        seed_g: i64 = sum("soaked", "kg"),
        spread_at: Option<Instant> = first("spread"),
        spread: i64 = sum("spread", "trays"),
        harvested: i64 = sum("harvested", "trays"),
        discarded: i64 = sum("discarded", "trays"),
        unweighed: i64 = without("harvested", "kg"),
        uncounted: i64 = without("harvested", "trays"),
    } => GrownRow {
        batch, farm, class, lot, crop, age, soaked_at, seed_g, spread_at, spread, harvested, discarded,
        untold: unweighed + uncounted,
    });
    let sql = format!(
        "SELECT {columns} FROM batch_events e \
         JOIN batches b ON b.coop_id = e.coop_id AND b.id = e.batch_id \
         LEFT JOIN animal_groups g ON g.coop_id = b.coop_id AND g.id = b.animal_group_id \
         WHERE e.coop_id = ? AND e.at >= ? AND e.withdrawn_at IS NULL AND b.withdrawn_at IS NULL \
         GROUP BY b.coop_id, b.id, b.farm_id, b.seed_lot_id, b.crop, b.harvest_age_days \
         HAVING {soaked} < ? ORDER BY b.id"
    );
    let binds = [Bind::int(coop), Bind::instant(span.0), Bind::instant(span.1)];
    conn.select(&columns, &sql, &binds)
}

/// Weighed harvests since an instant: batch, when, trays, grams; in the order of the batches.
pub fn harvests(
    conn: &mut Conn,
    coop: i64,
    since: i64,
) -> Result<Vec<(Uuid, i64, i64, i64)>, StoreError> {
    let columns = columns!("learned_rows::harvests" {
        batch: Uuid = "batch_id",
        at: Instant,
        trays: i64,
        grams: i64 = "kg",
    } => (batch, at, trays, grams));
    let sql = format!(
        "SELECT {columns} FROM batch_events WHERE coop_id = ? AND at >= ? AND \
         withdrawn_at IS NULL AND event = 'harvested' AND trays > 0 AND kg > 0 ORDER BY batch_id"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::instant(since)])
}

/// The day on which the plan last learned.
pub fn day(conn: &mut Conn, coop: i64) -> Result<Option<NaiveDate>, StoreError> {
    let columns = columns!("learned_rows::day" { day: NaiveDate } => day);
    let sql = format!("SELECT {columns} FROM plan_learned WHERE coop_id = ?");
    conn.select_one(&columns, &sql, &[Bind::int(coop)])
}

/// What it learned, JSON.
pub fn body(conn: &mut Conn, coop: i64) -> Result<Option<String>, StoreError> {
    let columns = columns!("learned_rows::body" { body: String } => body);
    let sql = format!("SELECT {columns} FROM plan_learned WHERE coop_id = ?");
    conn.select_one(&columns, &sql, &[Bind::int(coop)])
}

/// Keeps what the plan learned on a day.
pub fn keep(conn: &mut Conn, coop: i64, day: NaiveDate, body: &str) -> Result<(), StoreError> {
    conn.exec(
        "INSERT INTO plan_learned (coop_id, day, body) VALUES (?, ?, ?) \
         ON CONFLICT (coop_id) DO UPDATE SET day = excluded.day, body = excluded.body",
        &[Bind::int(coop), Bind::date(day), Bind::text(body)],
    )
    .map(drop)
}
