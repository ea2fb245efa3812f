//! Seed lots: what was grown of them, where they lie, what is known of them.

use crate::columns::{Instant, columns};
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use crate::records::farm_rows::only;
use chrono::NaiveDate;
use std::collections::{HashMap, HashSet};
use uuid::Uuid;

/// An event of a batch that was grown from a lot.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LotEvent {
    /// The event record.
    pub id: Uuid,
    pub farm: Uuid,
    /// Batch and its code.
    pub batch: (Uuid, Option<String>),
    /// What happened, and when, milliseconds.
    pub event: (String, i64),
    pub trays: Option<i64>,
    pub grams: Option<i64>,
    /// Cause of loss.
    pub cause: Option<String>,
    /// Whether mould was seen, as cause of loss too.
    pub mould: bool,
    /// Seeds germinated, hundredths of a per cent.
    pub germinated: Option<i64>,
    /// Group fed.
    pub group: Option<Uuid>,
    /// Why it was done although a caution stands.
    pub reason: Option<String>,
}

/// The events of all batches of a lot, or of one batch, in the order of time; those of one instant
/// in the order in which they can happen.
pub fn lot_events(
    conn: &mut Conn,
    coop: i64,
    lot_or_batch: Result<Uuid, Uuid>,
) -> Result<Vec<LotEvent>, StoreError> {
    let columns = columns!("lot_rows::lot_events" {
        id: Uuid = "e.id",
        farm: Uuid = "e.farm_id",
        batch: Uuid = "b.id",
        code: Option<String> = "b.code",
        event: String = "e.event",
        at: Instant = "e.at",
        trays: Option<i64> = "e.trays",
        grams: Option<i64> = "e.kg",
        cause: Option<String> = "e.cause",
        mould_seen: Option<bool> = "e.mould_seen",
        germinated: Option<i64> = "e.germinated_percent",
        group: Option<Uuid> = "COALESCE(e.animal_group_id, b.animal_group_id)",
        reason: Option<String> = "e.reason",
    } => LotEvent {
        id,
        farm,
        batch: (batch, code),
        event: (event, at),
        trays,
        grams,
        mould: mould_seen == Some(true) || cause.as_deref() == Some("mould"),
        cause,
        germinated,
        group,
        reason,
    });
    let (column, id) = match lot_or_batch {
        Ok(lot) => ("b.seed_lot_id", lot),
        Err(batch) => ("b.id", batch),
    };
    let sql = format!(
        "SELECT {columns} FROM batches b JOIN batch_events e ON e.coop_id = b.coop_id \
           AND e.batch_id = b.id \
         WHERE b.coop_id = ? AND {column} = ? AND b.withdrawn_at IS NULL \
           AND e.withdrawn_at IS NULL ORDER BY e.at, CASE e.event WHEN 'soaked' THEN 1 \
           WHEN 'spread' THEN 2 WHEN 'watered' THEN 3 WHEN 'discarded' THEN 4 \
           WHEN 'harvested' THEN 5 ELSE 6 END, e.id"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::id(id)])
}

/// Stock of one lot by place: farm (none for the store) and grams.
pub fn lot_stock(
    conn: &mut Conn,
    coop: i64,
    lot: Uuid,
) -> Result<Vec<(Option<Uuid>, i64)>, StoreError> {
    let columns = columns!("lot_rows::lot_stock" {
        farm: Option<Uuid> = "farm_id",
        grams: i64 = "CAST(SUM(grams) AS BIGINT)",
    } => (farm, grams));
    let sql = format!(
        "SELECT {columns} FROM seed_movements \
         WHERE coop_id = ? AND lot_id = ? GROUP BY farm_id ORDER BY farm_id"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::id(lot)])
}

/// What is known of seed lots beside their own records.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct LotFacts {
    /// Germination in their tests, hundredths of a per cent, weighted by kg.
    pub tested: HashMap<Uuid, i64>,
    /// Those that are held on the day.
    pub held: HashSet<Uuid>,
}

/// Tests and holds of lots, in one statement.
pub fn lot_facts(
    conn: &mut Conn,
    coop: i64,
    lots: &[Uuid],
    today: NaiveDate,
) -> Result<LotFacts, StoreError> {
    let mut facts = LotFacts::default();
    if lots.is_empty() {
        return Ok(facts);
    }
    let mut binds = vec![Bind::int(coop)];
    let mut tests = String::new();
    only(Some(lots), "seed_lot_id", &mut tests, &mut binds);
    binds.push(Bind::int(coop));
    let mut holds = String::new();
    only(Some(lots), "seed_lot_id", &mut holds, &mut binds);
    binds.extend([Bind::date(today), Bind::date(today)]);
    let (no, yes) = if conn.is_sqlite() { ("0", "1") } else { ("FALSE", "TRUE") };
    let columns = columns!("lot_rows::lot_facts" {
        lot: Uuid = "seed_lot_id",
        grams: i64 = "kg",
        percent: i64 = "germination_percent",
        is_hold: bool = no,
    } => (lot, grams, percent, is_hold));
    let sql = format!(
        "SELECT {columns} FROM seed_purchases WHERE coop_id = ?\
         {tests} AND germination_percent IS NOT NULL AND withdrawn_at IS NULL \
         UNION ALL SELECT seed_lot_id, CAST(0 AS BIGINT), CAST(0 AS BIGINT), {yes} FROM lot_holds \
         WHERE coop_id = ?{holds} AND withdrawn_at IS NULL AND held_from <= ? \
         AND (released_on IS NULL OR released_on > ?)"
    );
    let mut sums: HashMap<Uuid, (i128, i128)> = HashMap::new();
    for (lot, grams, percent, is_hold) in conn.select(&columns, &sql, &binds)? {
        if is_hold {
            facts.held.insert(lot);
            continue;
        }
        let sum = sums.entry(lot).or_default();
        sum.0 += i128::from(grams);
        sum.1 += i128::from(grams) * i128::from(percent);
    }
    for (lot, (grams, sum)) in sums {
        let grams = grams.max(1);
        if let Ok(mean) = i64::try_from((2 * sum + grams) / (2 * grams)) {
            facts.tested.insert(lot, mean);
        }
    }
    Ok(facts)
}
