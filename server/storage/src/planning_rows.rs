//! What the planner and the work list read besides farms and groups: what grows on them, of all
//! farms or of a few.

use crate::conn::{Bind, Conn, LIMIT, Row};
use crate::error::StoreError;
use crate::event_sums::{count, first, last, of_mould, sum, sum_known};
use crate::farm_rows::{Farms, only};
use chrono::NaiveDate;
use std::collections::HashMap;
use traybook_domain::{ColumnType, Kind, Value};
use uuid::Uuid;

/// A shed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ShedRow {
    /// Farm.
    pub farm: Uuid,
    /// Shed.
    pub id: Uuid,
    /// Its code.
    pub code: String,
    /// Places for trays.
    pub places: i64,
    /// Dry seed on a full tray, grams.
    pub load_g: Option<i64>,
}

/// The sheds, by code.
///
/// # Errors
/// Those of the database.
pub fn sheds(conn: &mut Conn, coop: i64, of: Farms<'_>) -> Result<Vec<ShedRow>, StoreError> {
    use ColumnType::{Id, Int, Text};
    let mut sql = "SELECT farm_id, id, code, tray_places, tray_load_kg FROM sheds \
                   WHERE coop_id = ? AND withdrawn_at IS NULL"
        .to_owned();
    let mut binds = vec![Bind::int(coop)];
    only(of, "farm_id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY code, id");
    let rows = conn.rows(&sql, &binds, &[Id, Id, Text, Int, Int])?;
    let shed = |r: &Row| {
        Some(ShedRow {
            farm: r.first()?.as_id()?,
            id: r.get(1)?.as_id()?,
            code: r.get(2)?.as_text()?.to_owned(),
            places: r.get(3)?.as_int()?,
            load_g: r.get(4)?.as_int(),
        })
    };
    Ok(rows.iter().filter_map(shed).collect())
}

/// A head count that is expected: farm, group, first day, head.
pub type PlannedHead = (Uuid, Uuid, NaiveDate, i64);

/// Head counts that are expected, where none was recorded since, in the order of their days.
///
/// # Errors
/// Those of the database.
pub fn planned_heads(
    conn: &mut Conn,
    coop: i64,
    of: Farms<'_>,
) -> Result<Vec<PlannedHead>, StoreError> {
    use ColumnType::{Date, Id, Int};
    let mut sql = "SELECT p.farm_id, p.animal_group_id, p.date, p.head FROM planned_heads p \
                   WHERE p.coop_id = ? AND p.withdrawn_at IS NULL AND NOT EXISTS (SELECT 1 FROM \
                   head_counts c WHERE c.coop_id = p.coop_id AND c.animal_group_id = \
                   p.animal_group_id AND c.date >= p.date AND c.withdrawn_at IS NULL)"
        .to_owned();
    let mut binds = vec![Bind::int(coop)];
    only(of, "p.farm_id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY p.date, p.id");
    let rows = conn.rows(&sql, &binds, &[Id, Id, Date, Int])?;
    let head = |r: &Row| {
        let (group, day) = (r.get(1)?.as_id()?, r.get(2)?.as_date()?);
        Some((r.first()?.as_id()?, group, day, r.get(3)?.as_int()?))
    };
    Ok(rows.iter().filter_map(head).collect())
}

/// The live records of a kind that belong to farms, in the order of the kind's date: farm, values.
///
/// # Errors
/// Those of the database.
pub fn settings(
    conn: &mut Conn,
    coop: i64,
    kind: Kind,
    of: Farms<'_>,
) -> Result<Vec<(Uuid, Vec<Value>)>, StoreError> {
    let spec = kind.spec();
    let names: Vec<&str> = spec.fields.iter().map(|f| f.name).collect();
    let mut types = vec![ColumnType::Id];
    types.extend(spec.fields.iter().map(|f| f.column()));
    let mut sql = format!(
        "SELECT farm_id, {} FROM {} WHERE coop_id = ? AND withdrawn_at IS NULL",
        names.join(", "),
        spec.table()
    );
    let mut binds = vec![Bind::int(coop)];
    only(of, "farm_id", &mut sql, &mut binds);
    match spec.date {
        Some(date) => sql.push_str(&format!(" ORDER BY {date}, id")),
        None => sql.push_str(" ORDER BY id"),
    }
    let rows = conn.rows(&sql, &binds, &types)?;
    let setting = |r: Row| {
        let mut row = r.into_iter();
        let farm = row.next()?.as_id()?;
        Some((farm, row.collect()))
    };
    Ok(rows.into_iter().filter_map(setting).collect())
}

/// A harvest, a discard or a feeding.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OutRow {
    /// `harvested`, `discarded` or `fed_out`.
    pub event: &'static str,
    /// When, milliseconds.
    pub at: i64,
    /// Trays and grams, where they were told.
    pub trays: Option<i64>,
    /// See [`OutRow::trays`].
    pub grams: Option<i64>,
}

/// The events that take trays or fodder away.
const OUTS: [&str; 3] = ["harvested", "discarded", "fed_out"];
/// Batches whose events are read by one statement.
const BATCHES_AT_ONCE: usize = 500;

/// A batch with what its events add up to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BatchRow {
    /// Farm, batch, its code, shed, group and lot.
    pub farm: Uuid,
    /// See [`BatchRow::farm`].
    pub id: Uuid,
    /// See [`BatchRow::farm`].
    pub code: Option<String>,
    /// See [`BatchRow::farm`].
    pub shed: Uuid,
    /// See [`BatchRow::farm`].
    pub group: Option<Uuid>,
    /// See [`BatchRow::farm`].
    pub lot: Option<Uuid>,
    /// Crop.
    pub crop: String,
    /// Age at harvest set for it, days.
    pub age: Option<i64>,
    /// First soak, milliseconds; dry seed, grams.
    pub soaked_at: i64,
    /// See [`BatchRow::soaked_at`].
    pub seed_g: i64,
    /// First spreading.
    pub spread_at: Option<i64>,
    /// Trays spread.
    pub spread: i64,
    /// Harvests, discards and feedings, each by itself.
    pub outs: Vec<OutRow>,
    /// Whether mould was seen.
    pub mould: bool,
}

/// The batches soaked between two instants (the second excluded), in the order of the soak, with
/// all their events since the first instant.
///
/// # Errors
/// Those of the database.
pub fn batches(
    conn: &mut Conn,
    coop: i64,
    span: (i64, i64),
    of: Farms<'_>,
) -> Result<Vec<BatchRow>, StoreError> {
    use ColumnType::{Id, Instant, Int, Text};
    let soaked = first("soaked");
    let outs: Vec<String> = OUTS
        .iter()
        .flat_map(|event| {
            [count(event), last(event), sum_known(event, "trays"), sum_known(event, "kg")]
        })
        .collect();
    let mut sql = format!(
        "SELECT b.farm_id, b.id, b.code, b.shed_id, b.animal_group_id, b.seed_lot_id, b.crop, \
         b.harvest_age_days, {soaked}, {}, {}, {}, CAST(MAX({}) AS BIGINT), {} \
         FROM batch_events e JOIN batches b ON b.coop_id = e.coop_id AND b.id = e.batch_id \
         WHERE e.coop_id = ? AND e.at >= ? AND e.withdrawn_at IS NULL AND b.withdrawn_at IS NULL",
        sum("soaked", "kg"),
        first("spread"),
        sum("spread", "trays"),
        of_mould("1"),
        outs.join(", "),
    );
    let mut binds = vec![Bind::int(coop), Bind::instant(span.0)];
    only(of, "e.farm_id", &mut sql, &mut binds);
    sql.push_str(&format!(" GROUP BY b.coop_id, b.id HAVING {soaked} < ? ORDER BY {soaked}, b.id"));
    binds.push(Bind::instant(span.1));
    let mut types = vec![Id, Id, Text, Id, Id, Id, Text, Int, Instant, Int, Instant, Int, Int];
    types.extend(OUTS.iter().flat_map(|_| [Int, Instant, Int, Int]));
    let rows = conn.rows(&sql, &binds, &types)?;
    let mut several = Vec::new();
    let batch = |r: &Row| {
        let int = |i: usize| r.get(i).and_then(Value::as_int);
        let at = |i: usize| r.get(i).and_then(Value::as_instant);
        let id = |i: usize| r.get(i).and_then(Value::as_id);
        let text = |i: usize| r.get(i).and_then(Value::as_text).map(str::to_owned);
        // What happened once is its own sum.
        let out = |(n, event): (usize, &&'static str)| {
            let from = 13 + 4 * n;
            let (at, trays, grams) = (at(from + 1)?, int(from + 2), int(from + 3));
            Some(OutRow { event, at, trays, grams })
        };
        if (0..OUTS.len()).any(|n| int(13 + 4 * n).is_some_and(|count| count > 1)) {
            several.extend(id(1));
        }
        Some(BatchRow {
            farm: id(0)?,
            id: id(1)?,
            code: text(2),
            shed: id(3)?,
            group: id(4),
            lot: id(5),
            crop: text(6)?,
            age: int(7),
            soaked_at: at(8)?,
            seed_g: int(9)?,
            spread_at: at(10),
            spread: int(11)?,
            mould: int(12).is_some(),
            outs: OUTS.iter().enumerate().filter_map(out).collect(),
        })
    };
    let mut batches: Vec<BatchRow> = rows.iter().filter_map(batch).collect();
    let mut found = outs_of(conn, coop, span.0, &several)?;
    for batch in &mut batches {
        if let Some(outs) = found.remove(&batch.id) {
            batch.outs = outs;
        }
    }
    Ok(batches)
}

/// The single events of batches that have several of a kind.
fn outs_of(
    conn: &mut Conn,
    coop: i64,
    since: i64,
    batches: &[Uuid],
) -> Result<HashMap<Uuid, Vec<OutRow>>, StoreError> {
    use ColumnType::{Id, Instant, Int, Text};
    let mut found: HashMap<Uuid, Vec<OutRow>> = HashMap::new();
    for part in batches.chunks(BATCHES_AT_ONCE) {
        let sql = format!(
            "SELECT batch_id, event, at, trays, kg FROM batch_events WHERE coop_id = ? AND at >= ? \
             AND withdrawn_at IS NULL AND batch_id IN ({}) ORDER BY batch_id, at, id",
            vec!["?"; part.len()].join(", ")
        );
        let mut binds = vec![Bind::int(coop), Bind::instant(since)];
        binds.extend(part.iter().map(|id| Bind::id(*id)));
        for r in conn.rows(&sql, &binds, &[Id, Text, Instant, Int, Int])? {
            let int = |i: usize| r.get(i).and_then(Value::as_int);
            let event = r.get(1).and_then(Value::as_text);
            let event = OUTS.iter().find(|known| Some(**known) == event);
            let key = r.first().and_then(Value::as_id).zip(r.get(2).and_then(Value::as_instant));
            if let (Some(event), Some((batch, at))) = (event, key) {
                let out = OutRow { event, at, trays: int(3), grams: int(4) };
                found.entry(batch).or_default().push(out);
            }
        }
    }
    Ok(found)
}

/// Work recorded besides the events of batches.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WorkRow {
    /// Farm, shed, batch.
    pub farm: Uuid,
    /// See [`WorkRow::farm`].
    pub shed: Option<Uuid>,
    /// See [`WorkRow::farm`].
    pub batch: Option<Uuid>,
    /// Task.
    pub task: String,
    /// When, milliseconds.
    pub at: i64,
    /// Which watering.
    pub watering: Option<i64>,
}

/// Work recorded between two instants (the second excluded), in order.
///
/// # Errors
/// Those of the database.
pub fn work(
    conn: &mut Conn,
    coop: i64,
    span: (i64, i64),
    of: Farms<'_>,
) -> Result<Vec<WorkRow>, StoreError> {
    use ColumnType::{Id, Instant, Int, Text};
    let mut sql = "SELECT farm_id, shed_id, batch_id, task, at, watering FROM work_records \
                   WHERE coop_id = ? AND at >= ? AND at < ? AND withdrawn_at IS NULL"
        .to_owned();
    let mut binds = vec![Bind::int(coop), Bind::instant(span.0), Bind::instant(span.1)];
    only(of, "farm_id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY at, id");
    let rows = conn.rows(&sql, &binds, &[Id, Id, Id, Text, Instant, Int])?;
    let work = |r: &Row| {
        Some(WorkRow {
            farm: r.first()?.as_id()?,
            shed: r.get(1)?.as_id(),
            batch: r.get(2)?.as_id(),
            task: r.get(3)?.as_text()?.to_owned(),
            at: r.get(4)?.as_instant()?,
            watering: r.get(5)?.as_int(),
        })
    };
    Ok(rows.iter().filter_map(work).collect())
}

/// Seed on the farms: farm, lot, grams; the oldest lot first. It adds up issues, what was soaked
/// by month, and adjustments.
///
/// # Errors
/// Those of the database.
pub fn stock(
    conn: &mut Conn,
    coop: i64,
    of: Farms<'_>,
) -> Result<Vec<(Uuid, Uuid, i64)>, StoreError> {
    let (mut sql, mut binds) = (String::new(), Vec::new());
    let parts = [
        "SELECT farm_id, seed_lot_id AS lot_id, kg AS g FROM seed_issues WHERE coop_id = ? AND \
         withdrawn_at IS NULL",
        "SELECT farm_id, seed_lot_id, change_kg FROM seed_adjustments WHERE coop_id = ? AND \
         farm_id IS NOT NULL AND withdrawn_at IS NULL",
        "SELECT farm_id, lot_id, -grams FROM farm_month_lots WHERE coop_id = ?",
    ];
    for (at, part) in parts.iter().enumerate() {
        sql.push_str(if at == 0 {
            "SELECT farm_id, lot_id, CAST(SUM(g) AS BIGINT) FROM ("
        } else {
            " UNION ALL "
        });
        sql.push_str(part);
        binds.push(Bind::int(coop));
        only(of, "farm_id", &mut sql, &mut binds);
    }
    sql.push_str(") s GROUP BY farm_id, lot_id HAVING SUM(g) <> 0 ORDER BY farm_id, lot_id");
    let rows = conn.rows(&sql, &binds, &[ColumnType::Id, ColumnType::Id, ColumnType::Int])?;
    let stock = |r: &Row| Some((r.first()?.as_id()?, r.get(1)?.as_id()?, r.get(2)?.as_int()?));
    Ok(rows.iter().filter_map(stock).collect())
}

/// Seed in the co-operative's store: lot, grams.
///
/// # Errors
/// Those of the database.
pub fn store_stock(conn: &mut Conn, coop: i64) -> Result<Vec<(Uuid, i64)>, StoreError> {
    let rows = conn.rows(
        "SELECT lot_id, CAST(SUM(g) AS BIGINT) FROM (SELECT seed_lot_id AS lot_id, kg AS g FROM \
         seed_purchases WHERE coop_id = ? AND withdrawn_at IS NULL UNION ALL SELECT seed_lot_id, \
         -kg FROM seed_issues WHERE coop_id = ? AND withdrawn_at IS NULL UNION ALL SELECT \
         seed_lot_id, change_kg FROM seed_adjustments WHERE coop_id = ? AND farm_id IS NULL AND \
         withdrawn_at IS NULL) s GROUP BY lot_id HAVING SUM(g) <> 0 ORDER BY lot_id",
        &[Bind::int(coop), Bind::int(coop), Bind::int(coop)],
        &[ColumnType::Id, ColumnType::Int],
    )?;
    Ok(rows.iter().filter_map(|r| Some((r.first()?.as_id()?, r.get(1)?.as_int()?))).collect())
}

/// Days from order to delivery of each lot's supplier, where the supplier names them.
///
/// # Errors
/// Those of the database.
pub fn lead_times(conn: &mut Conn, coop: i64) -> Result<Vec<(Uuid, i64)>, StoreError> {
    let rows = conn.rows(
        "SELECT l.id, s.lead_time_days FROM seed_lots l JOIN suppliers s ON s.coop_id = l.coop_id \
         AND s.id = l.supplier_id WHERE l.coop_id = ? AND s.lead_time_days IS NOT NULL AND \
         l.withdrawn_at IS NULL AND s.withdrawn_at IS NULL",
        &[Bind::int(coop)],
        &[ColumnType::Id, ColumnType::Int],
    )?;
    Ok(rows.iter().filter_map(|r| Some((r.first()?.as_id()?, r.get(1)?.as_int()?))).collect())
}

/// What changed since a number of the change feed: kinds with the farm, each once; at most `limit`.
///
/// # Errors
/// Those of the database.
pub fn changed_since(
    conn: &mut Conn,
    coop: i64,
    seq: i64,
    limit: i64,
) -> Result<Vec<(Kind, Option<Uuid>)>, StoreError> {
    let rows = conn.rows(
        &format!(
            "SELECT DISTINCT kind, farm_id FROM changes WHERE coop_id = ? AND seq > ? {LIMIT}"
        ),
        &[Bind::int(coop), Bind::int(seq), Bind::int(limit)],
        &[ColumnType::Text, ColumnType::Id],
    )?;
    let change = |r: &Row| Some((Kind::from_one(r.first()?.as_text()?)?, r.get(1)?.as_id()));
    Ok(rows.iter().filter_map(change).collect())
}
