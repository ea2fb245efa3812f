//! What seed accounts, lot traces and the comparison of suppliers read.

use crate::conn::{Bind, Conn, Row};
use crate::error::StoreError;
use crate::farm_rows::only;
use chrono::NaiveDate;
use std::collections::{HashMap, HashSet};
use traybook_domain::{ColumnType, Value};
use uuid::Uuid;

/// What a farm was charged and paid, from its issues and payments.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct AccountSums {
    /// Issues on credit, minor units.
    pub credit_minor: i64,
    /// Issues paid at once, minor units.
    pub paid_at_once_minor: i64,
    /// Payments, minor units.
    pub paid_minor: i64,
    /// Issues without a price.
    pub unpriced: i64,
    /// Seed handed out, grams.
    pub grams: i64,
    /// Last day with an issue or payment.
    pub last_on: Option<NaiveDate>,
}

/// The sums by farm, of one farm or all, of what happened before a day.
///
/// # Errors
/// Those of the database.
pub fn account_sums(
    conn: &mut Conn,
    coop: i64,
    farm: Option<Uuid>,
    before: NaiveDate,
) -> Result<Vec<(Uuid, AccountSums)>, StoreError> {
    use ColumnType::{Date, Id, Int};
    let only = if farm.is_some() { "AND farm_id = ?" } else { "" };
    let mut binds = vec![Bind::int(coop), Bind::date(before)];
    binds.extend(farm.map(Bind::id));
    let sql = format!(
        "SELECT farm_id, \
         CAST(SUM(CASE WHEN payment = 'credit' THEN COALESCE(price, 0) ELSE 0 END) AS BIGINT), \
         CAST(SUM(CASE WHEN payment = 'credit' THEN 0 ELSE COALESCE(price, 0) END) AS BIGINT), \
         CAST(SUM(CASE WHEN price IS NULL THEN 1 ELSE 0 END) AS BIGINT), \
         CAST(SUM(kg) AS BIGINT), MAX(date) FROM seed_issues \
         WHERE coop_id = ? AND date < ? {only} AND withdrawn_at IS NULL GROUP BY farm_id"
    );
    let issues = conn.rows(&sql, &binds, &[Id, Int, Int, Int, Int, Date])?;
    let sql = format!(
        "SELECT farm_id, CAST(SUM(amount) AS BIGINT), MAX(date) FROM seed_payments \
         WHERE coop_id = ? AND date < ? {only} AND withdrawn_at IS NULL GROUP BY farm_id"
    );
    let payments = conn.rows(&sql, &binds, &[Id, Int, Date])?;
    let mut all: std::collections::BTreeMap<Uuid, AccountSums> = std::collections::BTreeMap::new();
    for r in &issues {
        let int = |i: usize| r.get(i).and_then(Value::as_int).unwrap_or(0);
        let Some(farm) = r.first().and_then(Value::as_id) else { continue };
        all.insert(
            farm,
            AccountSums {
                credit_minor: int(1),
                paid_at_once_minor: int(2),
                paid_minor: 0,
                unpriced: int(3),
                grams: int(4),
                last_on: r.get(5).and_then(Value::as_date),
            },
        );
    }
    for r in &payments {
        let Some(farm) = r.first().and_then(Value::as_id) else { continue };
        let sums = all.entry(farm).or_default();
        sums.paid_minor = r.get(1).and_then(Value::as_int).unwrap_or(0);
        sums.last_on = sums.last_on.max(r.get(2).and_then(Value::as_date));
    }
    Ok(all.into_iter().collect())
}

/// One line of a seed account: an issue, or with `paid_by` a payment.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AccountLine {
    /// Day.
    pub date: NaiveDate,
    /// The record.
    pub id: Uuid,
    /// Lot and grams of an issue.
    pub seed: Option<(Uuid, i64)>,
    /// Price or amount, minor units; none for an issue without a price.
    pub minor: Option<i64>,
    /// `credit` or `paid` for an issue, how it was paid for a payment.
    pub how: String,
    /// Remarks.
    pub note: Option<String>,
}

/// A farm's issues and payments from one day to another, in the order of the day, issues before
/// payments, then as they were entered.
///
/// # Errors
/// Those of the database.
pub fn account_lines(
    conn: &mut Conn,
    coop: i64,
    farm: Uuid,
    days: (NaiveDate, NaiveDate),
) -> Result<Vec<AccountLine>, StoreError> {
    use ColumnType::{Date, Id, Int, Text};
    let binds = [Bind::int(coop), Bind::id(farm), Bind::date(days.0), Bind::date(days.1)];
    let one = |r: &Row| {
        Some(AccountLine {
            date: r.first()?.as_date()?,
            id: r.get(1)?.as_id()?,
            seed: r.get(2)?.as_id().zip(r.get(3)?.as_int()),
            minor: r.get(4)?.as_int(),
            how: r.get(5)?.as_text()?.to_owned(),
            note: r.get(6)?.as_text().map(str::to_owned),
        })
    };
    let rows = conn.rows(
        "SELECT date, id, seed_lot_id, kg, price, payment, note FROM seed_issues \
         WHERE coop_id = ? AND farm_id = ? AND date >= ? AND date <= ? AND withdrawn_at IS NULL \
         ORDER BY date, created_at, id",
        &binds,
        &[Date, Id, Id, Int, Int, Text, Text],
    )?;
    let mut lines: Vec<AccountLine> = rows.iter().filter_map(one).collect();
    let rows = conn.rows(
        "SELECT date, id, NULL, NULL, amount, paid_by, note FROM seed_payments \
         WHERE coop_id = ? AND farm_id = ? AND date >= ? AND date <= ? AND withdrawn_at IS NULL \
         ORDER BY date, created_at, id",
        &binds,
        &[Date, Id, Id, Int, Int, Text, Text],
    )?;
    lines.extend(rows.iter().filter_map(one));
    lines.sort_by_key(|l| l.date);
    Ok(lines)
}

/// An event of a batch that was grown from a lot.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LotEvent {
    /// The event record.
    pub id: Uuid,
    /// Farm.
    pub farm: Uuid,
    /// Batch and its code.
    pub batch: (Uuid, Option<String>),
    /// What happened, and when, milliseconds.
    pub event: (String, i64),
    /// Trays.
    pub trays: Option<i64>,
    /// Grams.
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
///
/// # Errors
/// Those of the database.
pub fn lot_events(
    conn: &mut Conn,
    coop: i64,
    lot_or_batch: Result<Uuid, Uuid>,
) -> Result<Vec<LotEvent>, StoreError> {
    use ColumnType::{Bool, Id, Instant, Int, Text};
    let (column, id) = match lot_or_batch {
        Ok(lot) => ("b.seed_lot_id", lot),
        Err(batch) => ("b.id", batch),
    };
    let sql = format!(
        "SELECT e.id, e.farm_id, b.id, b.code, e.event, e.at, e.trays, e.kg, e.cause, \
         e.mould_seen, e.germinated_percent, COALESCE(e.animal_group_id, b.animal_group_id), \
         e.reason FROM batches b JOIN batch_events e ON e.coop_id = b.coop_id \
           AND e.batch_id = b.id \
         WHERE b.coop_id = ? AND {column} = ? AND b.withdrawn_at IS NULL \
           AND e.withdrawn_at IS NULL ORDER BY e.at, CASE e.event WHEN 'soaked' THEN 1 \
           WHEN 'spread' THEN 2 WHEN 'watered' THEN 3 WHEN 'discarded' THEN 4 \
           WHEN 'harvested' THEN 5 ELSE 6 END, e.id"
    );
    let types = [Id, Id, Id, Text, Text, Instant, Int, Int, Text, Bool, Int, Id, Text];
    let rows = conn.rows(&sql, &[Bind::int(coop), Bind::id(id)], &types)?;
    let event = |r: &Row| {
        let text = |i: usize| r.get(i).and_then(Value::as_text).map(str::to_owned);
        let cause = text(8);
        Some(LotEvent {
            id: r.first()?.as_id()?,
            farm: r.get(1)?.as_id()?,
            batch: (r.get(2)?.as_id()?, text(3)),
            event: (text(4)?, r.get(5)?.as_instant()?),
            trays: r.get(6)?.as_int(),
            grams: r.get(7)?.as_int(),
            mould: r.get(9)?.as_bool() == Some(true) || cause.as_deref() == Some("mould"),
            cause,
            germinated: r.get(10)?.as_int(),
            group: r.get(11)?.as_id(),
            reason: text(12),
        })
    };
    Ok(rows.iter().filter_map(event).collect())
}

/// Stock of one lot by place: farm (none for the store) and grams.
///
/// # Errors
/// Those of the database.
pub fn lot_stock(
    conn: &mut Conn,
    coop: i64,
    lot: Uuid,
) -> Result<Vec<(Option<Uuid>, i64)>, StoreError> {
    let rows = conn.rows(
        "SELECT farm_id, CAST(SUM(grams) AS BIGINT) FROM seed_movements \
         WHERE coop_id = ? AND lot_id = ? GROUP BY farm_id ORDER BY farm_id",
        &[Bind::int(coop), Bind::id(lot)],
        &[ColumnType::Id, ColumnType::Int],
    )?;
    let stock = |r: &Row| Some((r.first()?.as_id(), r.get(1)?.as_int()?));
    Ok(rows.iter().filter_map(stock).collect())
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
///
/// # Errors
/// Those of the database.
pub fn lot_facts(
    conn: &mut Conn,
    coop: i64,
    lots: &[Uuid],
    today: NaiveDate,
) -> Result<LotFacts, StoreError> {
    use ColumnType::{Bool, Id, Int};
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
    let sql = format!(
        "SELECT seed_lot_id, kg, germination_percent, {no} FROM seed_purchases WHERE coop_id = ?\
         {tests} AND germination_percent IS NOT NULL AND withdrawn_at IS NULL \
         UNION ALL SELECT seed_lot_id, CAST(0 AS BIGINT), CAST(0 AS BIGINT), {yes} FROM lot_holds \
         WHERE coop_id = ?{holds} AND withdrawn_at IS NULL AND held_from <= ? \
         AND (released_on IS NULL OR released_on > ?)"
    );
    let mut sums: HashMap<Uuid, (i128, i128)> = HashMap::new();
    for row in conn.rows(&sql, &binds, &[Id, Int, Int, Bool])? {
        let [Value::Id(lot), Value::Int(grams), Value::Int(percent), Value::Bool(is_hold)] =
            row.as_slice()
        else {
            return Err(StoreError::Internal("a row of an unexpected form: lot_facts".to_owned()));
        };
        if *is_hold {
            facts.held.insert(*lot);
            continue;
        }
        let sum = sums.entry(*lot).or_default();
        sum.0 += i128::from(*grams);
        sum.1 += i128::from(*grams) * i128::from(*percent);
    }
    let mean = |(lot, (grams, sum)): (Uuid, (i128, i128))| {
        let grams = grams.max(1);
        Some((lot, i64::try_from((2 * sum + grams) / (2 * grams)).ok()?))
    };
    facts.tested = sums.into_iter().filter_map(mean).collect();
    Ok(facts)
}
