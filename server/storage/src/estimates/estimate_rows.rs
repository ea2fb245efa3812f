//! What the estimates read: month sums of all months, and whom to visit.

use crate::columns::{Instant, columns};
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use crate::records::farm_rows::{Farms, only};
use chrono::NaiveDate;
use std::collections::{HashMap, HashSet};
use traybook_domain::Month;
use traybook_domain::effects::OutputBin;
use uuid::Uuid;

/// Whole days of one farm in one month whose rate lies in one half octave.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OutputRow {
    pub farm: Uuid,
    pub month: Month,
    /// Half octave of output an animal and day.
    pub half_octave: i64,
    /// What the days gave.
    pub bin: OutputBin,
}

/// Milk (or eggs) of all farms since a month, in the order of the farms.
pub fn output_rows(
    conn: &mut Conn,
    coop: i64,
    is_milk: bool,
    since: Month,
) -> Result<Vec<OutputRow>, StoreError> {
    let columns = columns!("estimate_rows::output_rows" {
        farm: Uuid = "farm_id",
        month: Month,
        half_octave: i64,
        records: i64,
        amount: i64,
        animals: i64,
        stage: i64,
        stage_animals: i64,
    } => OutputRow {
        farm,
        month,
        half_octave,
        bin: OutputBin { records, amount, animals, stage, stage_animals },
    });
    let sql = format!(
        "SELECT {columns} FROM output_bins WHERE coop_id = ? AND is_milk = ? AND month >= ? \
         AND records > 0 ORDER BY farm_id, month, half_octave"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::bool(is_milk), Bind::int(since.number())])
}

/// Group-days with a record of milk (or eggs), by farm, since a month.
pub fn output_days(
    conn: &mut Conn,
    coop: i64,
    is_milk: bool,
    since: Month,
) -> Result<HashMap<Uuid, i64>, StoreError> {
    let days = if is_milk { "milk_days" } else { "egg_days" };
    let columns = columns!("estimate_rows::output_days" {
        farm: Uuid = "farm_id",
        days: i64 = &format!("CAST(SUM({days}) AS BIGINT)"),
    } => (farm, days));
    let sql = format!(
        "SELECT {columns} FROM farm_months WHERE coop_id = ? AND month >= ? AND {days} > 0 \
         GROUP BY farm_id"
    );
    let rows = conn.select(&columns, &sql, &[Bind::int(coop), Bind::int(since.number())])?;
    Ok(rows.into_iter().collect())
}

/// Months with whole days of milk (or eggs), by farm: of these farms or of all.
pub fn output_months(
    conn: &mut Conn,
    coop: i64,
    is_milk: bool,
    of: Farms<'_>,
) -> Result<HashMap<Uuid, i64>, StoreError> {
    let columns = columns!("estimate_rows::output_months" {
        farm: Uuid = "farm_id",
        months: i64 = "COUNT(DISTINCT month)",
    } => (farm, months));
    let mut sql = format!(
        "SELECT {columns} FROM output_bins WHERE coop_id = ? AND is_milk = ? AND records > 0"
    );
    let mut binds = vec![Bind::int(coop), Bind::bool(is_milk)];
    only(of, "farm_id", &mut sql, &mut binds);
    sql.push_str(" GROUP BY farm_id");
    let rows = conn.select(&columns, &sql, &binds)?;
    Ok(rows.into_iter().collect())
}

/// Fodder fed, by farm and month, since a month: grams.
pub fn fed_months(
    conn: &mut Conn,
    coop: i64,
    since: Month,
) -> Result<Vec<(Uuid, Month, i64)>, StoreError> {
    let columns = columns!("estimate_rows::fed_months" {
        farm: Uuid = "farm_id",
        month: Month,
        fed_g: i64,
    } => (farm, month, fed_g));
    let sql =
        format!("SELECT {columns} FROM farm_months WHERE coop_id = ? AND month >= ? AND fed_g > 0");
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::int(since.number())])
}

/// Feedings that were not weighed, since an instant: farm and instant, milliseconds.
pub fn unweighed_feedings(
    conn: &mut Conn,
    coop: i64,
    since: i64,
) -> Result<Vec<(Uuid, i64)>, StoreError> {
    let columns = columns!("estimate_rows::unweighed_feedings" {
        farm: Uuid = "farm_id",
        at: Instant,
    } => (farm, at));
    let sql = format!(
        "SELECT {columns} FROM batch_events WHERE coop_id = ? AND at >= ? AND event = 'fed_out' \
         AND COALESCE(kg, 0) = 0 AND withdrawn_at IS NULL"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::instant(since)])
}

/// The last visit of each of these farms that was visited: when it began, milliseconds.
pub fn last_visits(
    conn: &mut Conn,
    coop: i64,
    farms: &[Uuid],
) -> Result<HashMap<Uuid, i64>, StoreError> {
    let is_all = farms.len() > FARMS_MAX;
    let chunks: Vec<Farms<'_>> =
        if is_all { vec![None] } else { farms.chunks(FARMS_AT_ONCE).map(Some).collect() };
    // One look into the index a farm, however many visits there are.
    let columns = columns!("estimate_rows::last_visits" {
        farm: Uuid = "f.id",
        visited_at: Option<Instant> = "(SELECT MAX(v.started_at) FROM visits v WHERE \
            v.coop_id = ? AND v.farm_id = f.id AND v.withdrawn_at IS NULL)",
    } => visited_at.map(|at| (farm, at)));
    let mut last = HashMap::new();
    for chunk in chunks {
        let mut sql = format!("SELECT {columns} FROM farms f WHERE f.coop_id = ?");
        let mut binds = vec![Bind::int(coop); 2];
        let chunk = chunk.map(filled);
        only(chunk.as_deref(), "f.id", &mut sql, &mut binds);
        last.extend(conn.select(&columns, &sql, &binds)?.into_iter().flatten());
    }
    Ok(last)
}

/// Farms filled up to one length where they are more than one, so that few statements are prepared.
fn filled(farms: &[Uuid]) -> Vec<Uuid> {
    let mut filled = farms.to_vec();
    if let [one, _, ..] = farms {
        filled.resize(FARMS_AT_ONCE, *one);
    }
    filled
}

/// Open follow-ups that were due before a day: farm, due day, what was to be done.
pub fn overdue_follow_ups(
    conn: &mut Conn,
    coop: i64,
    before: NaiveDate,
    of: Farms<'_>,
) -> Result<Vec<(Uuid, NaiveDate, String)>, StoreError> {
    let columns = columns!("estimate_rows::overdue_follow_ups" {
        farm: Uuid = "farm_id",
        due_on: NaiveDate,
        action: String,
    } => (farm, due_on, action));
    let mut sql = format!(
        "SELECT {columns} FROM follow_ups WHERE coop_id = ? AND due_on < ? \
         AND outcome IS NULL AND withdrawn_at IS NULL"
    );
    let mut binds = vec![Bind::int(coop), Bind::date(before)];
    only(of, "farm_id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY due_on, id");
    conn.select(&columns, &sql, &binds)
}

/// Months that are looked through at once for the last one of a farm, and farms that are.
const MONTHS_AT_ONCE: i32 = 12;
/// See [`MONTHS_AT_ONCE`].
const FARMS_AT_ONCE: usize = 16;
/// Farms that are looked for by name; of more all are read.
const FARMS_MAX: usize = 256;

/// The last month in which each of these farms recorded anything that the month sums count. The
/// many that recorded since `recent` are found at once, the few others by name.
pub fn last_months(
    conn: &mut Conn,
    coop: i64,
    farms: &[Uuid],
    recent: Month,
) -> Result<HashMap<Uuid, Month>, StoreError> {
    let mut last: HashMap<Uuid, Month> = HashMap::new();
    let mut left: HashSet<Uuid> = farms.iter().copied().collect();
    let columns = columns!("estimate_rows::last_months" {
        first: Option<Month> = "MIN(month)",
    } => first);
    let sql = format!("SELECT {columns} FROM farm_months WHERE coop_id = ?");
    let first = conn.select_one(&columns, &sql, &[Bind::int(coop)])?.flatten();
    let Some(first) = first else { return Ok(last) };
    // A few are asked for by name from the start: nobody records of a month that has not begun.
    let (mut from, mut rows) = match left.len() {
        0..=FARMS_AT_ONCE => (recent.plus(2), Vec::new()),
        _ => (recent, last_in(conn, coop, "month >= ?", vec![recent], None)?),
    };
    loop {
        last.extend(rows.iter().filter(|(farm, _)| left.remove(farm)).copied());
        if left.is_empty() || from <= first {
            return Ok(last);
        }
        let to = from;
        from = from.plus(-MONTHS_AT_ONCE);
        rows = Vec::new();
        if left.len() > FARMS_MAX {
            let span = "month >= ? AND month < ?";
            rows = last_in(conn, coop, span, vec![from, to], None)?;
            continue;
        }
        let names: Vec<Uuid> = left.iter().copied().collect();
        let months: Vec<Month> = (0..MONTHS_AT_ONCE).map(|m| from.plus(m)).collect();
        let marks = format!("month IN ({})", vec!["?"; months.len()].join(", "));
        for chunk in names.chunks(FARMS_AT_ONCE) {
            rows.extend(last_in(conn, coop, &marks, months.clone(), Some(&filled(chunk)))?);
        }
    }
}

fn last_in(
    conn: &mut Conn,
    coop: i64,
    span: &str,
    months: Vec<Month>,
    of: Farms<'_>,
) -> Result<Vec<(Uuid, Month)>, StoreError> {
    let columns = columns!("estimate_rows::last_in" {
        farm: Uuid = "farm_id",
        month: Month = "MAX(month)",
    } => (farm, month));
    let mut sql = format!(
        "SELECT {columns} FROM farm_months WHERE coop_id = ? AND {span} AND \
         milk_days + egg_days + trays_started + feed_purchases + other_costs > 0"
    );
    let mut binds = vec![Bind::int(coop)];
    binds.extend(months.iter().map(|m| Bind::int(m.number())));
    only(of, "farm_id", &mut sql, &mut binds);
    sql.push_str(" GROUP BY farm_id");
    conn.select(&columns, &sql, &binds)
}

/// Other costs of one farm in one month.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CostCell {
    pub farm: Uuid,
    pub month: Month,
    /// Other costs, minor units.
    pub other_minor: i64,
}

/// Other costs of farms, all or these, in all months that have some.
pub fn cost_cells(conn: &mut Conn, coop: i64, of: Farms<'_>) -> Result<Vec<CostCell>, StoreError> {
    let columns = columns!("estimate_rows::cost_cells" {
        farm: Uuid = "farm_id",
        month: Month,
        other_minor: i64 = "other_cost_minor",
    } => CostCell { farm, month, other_minor });
    let mut sql =
        format!("SELECT {columns} FROM farm_months WHERE coop_id = ? AND other_cost_minor <> 0");
    let mut binds = vec![Bind::int(coop)];
    only(of, "farm_id", &mut sql, &mut binds);
    conn.select(&columns, &sql, &binds)
}
