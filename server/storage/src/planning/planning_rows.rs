//! What the planner and the work list read besides farms and groups: what grows on them, of all
//! farms or of a few.

use crate::columns::{Columns, FromValue, Instant, columns, unexpected};
use crate::conn::{Bind, Conn, Row};
use crate::error::StoreError;
use crate::records::event_sums::{count, first, last, of_mould, sum, sum_known};
use crate::records::farm_rows::{Farms, only};
use chrono::NaiveDate;
use std::collections::HashMap;
use traybook_domain::{ColumnType, Kind, Value};
use uuid::Uuid;

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ShedRow {
    pub farm: Uuid,
    pub id: Uuid,
    pub code: String,
    /// Places for trays.
    pub places: i64,
    /// Dry seed on a full tray, grams.
    pub load_g: Option<i64>,
}

/// The sheds, by code.
pub fn sheds(conn: &mut Conn, coop: i64, of: Farms<'_>) -> Result<Vec<ShedRow>, StoreError> {
    let columns = columns!("planning_rows::sheds" {
        farm: Uuid = "farm_id",
        id: Uuid,
        code: String,
        places: i64 = "tray_places",
        load_g: Option<i64> = "tray_load_kg",
    } => ShedRow { farm, id, code, places, load_g });
    let mut sql = format!("SELECT {columns} FROM sheds WHERE coop_id = ? AND withdrawn_at IS NULL");
    let mut binds = vec![Bind::int(coop)];
    only(of, "farm_id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY code, id");
    conn.select(&columns, &sql, &binds)
}

/// A head count that is expected: farm, group, first day, head.
pub type PlannedHead = (Uuid, Uuid, NaiveDate, i64);

/// Head counts that are expected, where none was recorded since, in the order of their days.
pub fn planned_heads(
    conn: &mut Conn,
    coop: i64,
    of: Farms<'_>,
) -> Result<Vec<PlannedHead>, StoreError> {
    let columns = columns!("planning_rows::planned_heads" {
        farm: Uuid = "p.farm_id",
        group: Uuid = "p.animal_group_id",
        date: NaiveDate = "p.date",
        head: i64 = "p.head",
    } => (farm, group, date, head));
    let mut sql = format!(
        "SELECT {columns} FROM planned_heads p \
         WHERE p.coop_id = ? AND p.withdrawn_at IS NULL AND NOT EXISTS (SELECT 1 FROM \
         head_counts c WHERE c.coop_id = ? AND c.animal_group_id = \
         p.animal_group_id AND c.date >= p.date AND c.withdrawn_at IS NULL)"
    );
    let mut binds = vec![Bind::int(coop); 2];
    only(of, "p.farm_id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY p.date, p.id");
    conn.select(&columns, &sql, &binds)
}

/// The live records of a kind that belong to farms, in the order of the kind's date: farm, values.
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
        let farm = Uuid::take(&mut row);
        let farm = farm.ok_or_else(|| unexpected("planning_rows::settings.farm_id"))?;
        Ok((farm, row.collect()))
    };
    rows.into_iter().map(setting).collect()
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
    pub id: Uuid,
    pub code: Option<String>,
    pub shed: Uuid,
    pub group: Option<Uuid>,
    pub lot: Option<Uuid>,
    pub crop: String,
    /// Age at harvest set for it, days.
    pub age: Option<i64>,
    /// First soak, milliseconds; dry seed, grams.
    pub soaked_at: i64,
    pub seed_g: i64,
    /// Trays that it was soaked for, where the soak says so.
    pub planned: Option<i64>,
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
pub fn batches(
    conn: &mut Conn,
    coop: i64,
    span: (i64, i64),
    of: Farms<'_>,
) -> Result<Vec<BatchRow>, StoreError> {
    let soaked = first("soaked");
    let columns = batch_columns(&soaked);
    let mut sql = format!(
        "SELECT {columns} \
         FROM batch_events e JOIN batches b ON b.coop_id = e.coop_id AND b.id = e.batch_id \
         WHERE e.coop_id = ? AND e.at >= ? AND e.withdrawn_at IS NULL AND b.withdrawn_at IS NULL"
    );
    let mut binds = vec![Bind::int(coop), Bind::instant(span.0)];
    only(of, "e.farm_id", &mut sql, &mut binds);
    sql.push_str(&format!(" GROUP BY b.coop_id, b.id HAVING {soaked} < ? ORDER BY {soaked}, b.id"));
    binds.push(Bind::instant(span.1));
    let rows = conn.select(&columns, &sql, &binds)?;
    let several: Vec<Uuid> = rows.iter().filter(|(_, more)| *more).map(|(b, _)| b.id).collect();
    let mut batches: Vec<BatchRow> = rows.into_iter().map(|(batch, _)| batch).collect();
    let mut found = outs_of(conn, coop, span.0, &several)?;
    for batch in &mut batches {
        if let Some(outs) = found.remove(&batch.id) {
            batch.outs = outs;
        }
    }
    Ok(batches)
}

/// A batch, and whether it has several events of a kind.
fn batch_columns(soaked: &str) -> Columns<(BatchRow, bool)> {
    let of_outs = |sum: &dyn Fn(&str) -> String| OUTS.map(sum).join(", ");
    columns!("planning_rows::batches" {
        farm: Uuid = "b.farm_id",
        id: Uuid = "b.id",
        code: Option<String> = "b.code",
        shed: Uuid = "b.shed_id",
        group: Option<Uuid> = "b.animal_group_id",
        lot: Option<Uuid> = "b.seed_lot_id",
        crop: String = "b.crop",
        age: Option<i64> = "b.harvest_age_days",
        soaked_at: Instant = soaked,
        seed_g: i64 = sum("soaked", "kg"),
        planned: Option<i64> = sum_known("soaked", "trays"),
        spread_at: Option<Instant> = first("spread"),
        spread: i64 = sum("spread", "trays"),
        mould: Option<i64> = format!("CAST(MAX({}) AS BIGINT)", of_mould("1")),
        counts: [i64; OUTS.len()] = of_outs(&count),
        ats: [Option<Instant>; OUTS.len()] = of_outs(&last),
        trays: [Option<i64>; OUTS.len()] = of_outs(&|event| sum_known(event, "trays")),
        grams: [Option<i64>; OUTS.len()] = of_outs(&|event| sum_known(event, "kg")),
    } => {
        // What happened once is its own sum.
        let each = OUTS.into_iter().zip(ats).zip(trays.into_iter().zip(grams));
        let outs = each.flat_map(|((event, at), (trays, grams))| {
            at.map(|at| OutRow { event, at, trays, grams })
        });
        let batch = BatchRow {
            farm,
            id,
            code,
            shed,
            group,
            lot,
            crop,
            age,
            soaked_at,
            seed_g,
            planned,
            spread_at,
            spread,
            outs: outs.collect(),
            mould: mould.is_some(),
        };
        (batch, counts.into_iter().any(|count| count > 1))
    })
}

/// The single events of batches that have several of a kind.
fn outs_of(
    conn: &mut Conn,
    coop: i64,
    since: i64,
    batches: &[Uuid],
) -> Result<HashMap<Uuid, Vec<OutRow>>, StoreError> {
    let columns = columns!("planning_rows::outs_of" {
        batch: Uuid = "batch_id",
        event: String,
        at: Instant,
        trays: Option<i64>,
        grams: Option<i64> = "kg",
    } => {
        let event = OUTS.into_iter().find(|known| *known == event);
        event.map(|event| (batch, OutRow { event, at, trays, grams }))
    });
    let mut found: HashMap<Uuid, Vec<OutRow>> = HashMap::new();
    for part in batches.chunks(BATCHES_AT_ONCE) {
        let sql = format!(
            "SELECT {columns} FROM batch_events WHERE coop_id = ? AND at >= ? \
             AND withdrawn_at IS NULL AND batch_id IN ({}) ORDER BY batch_id, at, id",
            vec!["?"; part.len()].join(", ")
        );
        let mut binds = vec![Bind::int(coop), Bind::instant(since)];
        binds.extend(part.iter().map(|id| Bind::id(*id)));
        // Soaking, spreading and watering take nothing away.
        for (batch, out) in conn.select(&columns, &sql, &binds)?.into_iter().flatten() {
            found.entry(batch).or_default().push(out);
        }
    }
    Ok(found)
}

/// Work recorded besides the events of batches.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WorkRow {
    /// Farm, shed, batch.
    pub farm: Uuid,
    pub shed: Option<Uuid>,
    pub batch: Option<Uuid>,
    pub task: String,
    /// When, milliseconds.
    pub at: i64,
    /// Which watering.
    pub watering: Option<i64>,
}

/// Work recorded between two instants (the second excluded), in order.
pub fn work(
    conn: &mut Conn,
    coop: i64,
    span: (i64, i64),
    of: Farms<'_>,
) -> Result<Vec<WorkRow>, StoreError> {
    let columns = columns!("planning_rows::work" {
        farm: Uuid = "farm_id",
        shed: Option<Uuid> = "shed_id",
        batch: Option<Uuid> = "batch_id",
        task: String,
        at: Instant,
        watering: Option<i64>,
    } => WorkRow { farm, shed, batch, task, at, watering });
    let mut sql = format!(
        "SELECT {columns} FROM work_records \
         WHERE coop_id = ? AND at >= ? AND at < ? AND withdrawn_at IS NULL"
    );
    let mut binds = vec![Bind::int(coop), Bind::instant(span.0), Bind::instant(span.1)];
    only(of, "farm_id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY at, id");
    conn.select(&columns, &sql, &binds)
}

/// Seed on the farms: farm, lot, grams; the oldest lot first. It adds up issues, what was soaked
/// by month, and adjustments.
pub fn stock(
    conn: &mut Conn,
    coop: i64,
    of: Farms<'_>,
) -> Result<Vec<(Uuid, Uuid, i64)>, StoreError> {
    let columns = columns!("planning_rows::stock" {
        farm: Uuid = "farm_id",
        lot: Uuid = "lot_id",
        grams: i64 = "CAST(SUM(g) AS BIGINT)",
    } => (farm, lot, grams));
    let (mut sql, mut binds) = (format!("SELECT {columns} FROM ("), Vec::new());
    let parts = [
        "SELECT farm_id, seed_lot_id AS lot_id, kg AS g FROM seed_issues WHERE coop_id = ? AND \
         withdrawn_at IS NULL",
        "SELECT farm_id, seed_lot_id, change_kg FROM seed_adjustments WHERE coop_id = ? AND \
         farm_id IS NOT NULL AND withdrawn_at IS NULL",
        "SELECT farm_id, lot_id, -grams FROM farm_month_lots WHERE coop_id = ?",
    ];
    for (at, part) in parts.iter().enumerate() {
        sql.push_str(if at == 0 { "" } else { " UNION ALL " });
        sql.push_str(part);
        binds.push(Bind::int(coop));
        only(of, "farm_id", &mut sql, &mut binds);
    }
    sql.push_str(") s GROUP BY farm_id, lot_id HAVING SUM(g) <> 0 ORDER BY farm_id, lot_id");
    conn.select(&columns, &sql, &binds)
}

/// Seed in the co-operative's store: lot, grams.
pub fn store_stock(conn: &mut Conn, coop: i64) -> Result<Vec<(Uuid, i64)>, StoreError> {
    let columns = columns!("planning_rows::store_stock" {
        lot: Uuid = "lot_id",
        grams: i64 = "CAST(SUM(g) AS BIGINT)",
    } => (lot, grams));
    let sql = format!(
        "SELECT {columns} FROM (SELECT seed_lot_id AS lot_id, kg AS g FROM \
         seed_purchases WHERE coop_id = ? AND withdrawn_at IS NULL UNION ALL SELECT seed_lot_id, \
         -kg FROM seed_issues WHERE coop_id = ? AND withdrawn_at IS NULL UNION ALL SELECT \
         seed_lot_id, change_kg FROM seed_adjustments WHERE coop_id = ? AND farm_id IS NULL AND \
         withdrawn_at IS NULL) s GROUP BY lot_id HAVING SUM(g) <> 0 ORDER BY lot_id"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::int(coop), Bind::int(coop)])
}

/// Days from order to delivery of each lot's supplier, where the supplier names them.
pub fn lead_times(conn: &mut Conn, coop: i64) -> Result<Vec<(Uuid, i64)>, StoreError> {
    let columns = columns!("planning_rows::lead_times" {
        lot: Uuid = "l.id",
        days: i64 = "s.lead_time_days",
    } => (lot, days));
    let sql = format!(
        "SELECT {columns} FROM seed_lots l JOIN suppliers s ON s.coop_id = l.coop_id \
         AND s.id = l.supplier_id WHERE l.coop_id = ? AND s.lead_time_days IS NOT NULL AND \
         l.withdrawn_at IS NULL AND s.withdrawn_at IS NULL"
    );
    conn.select(&columns, &sql, &[Bind::int(coop)])
}
