//! What the estimates read: month sums of all months, and whom to visit.

use crate::conn::{Bind, Conn, Row};
use crate::error::StoreError;
use crate::farm_rows::{Farms, only};
use std::collections::{HashMap, HashSet};
use traybook_domain::herd::HerdMonth;
use traybook_domain::{ColumnType, Month, Value};
use uuid::Uuid;

/// Output of one farm in one month.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OutputCell {
    /// Farm.
    pub farm: Uuid,
    /// Month.
    pub month: Month,
    /// ml of milk or number of eggs.
    pub amount: i64,
    /// Cow-days or hen-days with a record.
    pub animal_days: i64,
    /// Group-days with a record.
    pub records: i64,
    /// Days in milk or weeks of age, times animals, and those animals.
    pub stage: (i64, i64),
}

/// Milk (or eggs) of farms, all or these, in months with a record.
///
/// # Errors
/// Those of the database.
pub fn output_cells(
    conn: &mut Conn,
    coop: i64,
    is_milk: bool,
    of: Farms<'_>,
) -> Result<Vec<OutputCell>, StoreError> {
    let columns = if is_milk {
        ["milk_ml", "cow_days", "milk_days", "milk_stage", "milk_stage_animals"]
    } else {
        ["eggs", "hen_days", "egg_days", "egg_stage", "egg_stage_animals"]
    };
    let mut binds = vec![Bind::int(coop)];
    let mut sql = format!(
        "SELECT farm_id, month, {} FROM farm_months WHERE coop_id = ? AND {} > 0",
        columns.join(", "),
        columns[2]
    );
    only(of, "farm_id", &mut sql, &mut binds);
    use ColumnType::{Id, Int};
    let cell = |r: &Row| {
        let int = |i: usize| r.get(i).and_then(Value::as_int);
        Some(OutputCell {
            farm: r.first()?.as_id()?,
            month: Month::from_number(int(1)?)?,
            amount: int(2)?,
            animal_days: int(3)?,
            records: int(4)?,
            stage: (int(5)?, int(6)?),
        })
    };
    conn.read(&sql, &binds, &[Id, Int, Int, Int, Int, Int, Int], cell)
}

/// Feed bought by farms, all or these, in all months.
///
/// # Errors
/// Those of the database.
pub fn feed_cells(conn: &mut Conn, coop: i64, of: Farms<'_>) -> Result<Vec<FeedCell>, StoreError> {
    use ColumnType::{Id, Int};
    let mut sql = "SELECT farm_id, month, feed_id, grams, cost_minor FROM farm_month_feeds \
                   WHERE coop_id = ? AND records > 0"
        .to_owned();
    let mut binds = vec![Bind::int(coop)];
    only(of, "farm_id", &mut sql, &mut binds);
    let cell = |r: &Row| {
        Some(FeedCell {
            farm: r.first()?.as_id()?,
            month: Month::from_number(r.get(1)?.as_int()?)?,
            feed: r.get(2)?.as_id()?,
            grams: r.get(3)?.as_int()?,
            cost_minor: r.get(4)?.as_int()?,
        })
    };
    conn.read(&sql, &binds, &[Id, Int, Id, Int, Int], cell)
}

/// One feed bought by one farm in one month.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FeedCell {
    /// Farm.
    pub farm: Uuid,
    /// Month.
    pub month: Month,
    /// Feed.
    pub feed: Uuid,
    /// Bought.
    pub grams: i64,
    /// Paid.
    pub cost_minor: i64,
}

/// Months in which a group's head count changed: farm, group, month; each group's in order.
///
/// # Errors
/// Those of the database.
pub fn herds(
    conn: &mut Conn,
    coop: i64,
    of: Farms<'_>,
) -> Result<Vec<(Uuid, Uuid, HerdMonth)>, StoreError> {
    use ColumnType::{Id, Int};
    let mut sql = "SELECT g.farm_id, g.id, h.month, h.animal_days, h.closing_head \
                   FROM animal_groups g JOIN herd_months h ON h.coop_id = g.coop_id AND \
                   h.animal_group_id = g.id WHERE g.coop_id = ? AND g.withdrawn_at IS NULL"
        .to_owned();
    let mut binds = vec![Bind::int(coop)];
    only(of, "g.farm_id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY g.id, h.month");
    let herd = |r: &Row| {
        let month = HerdMonth {
            month: Month::from_number(r.get(2)?.as_int()?)?,
            animal_days: r.get(3)?.as_int()?,
            closing_head: r.get(4)?.as_int()?,
        };
        Some((r.first()?.as_id()?, r.get(1)?.as_id()?, month))
    };
    conn.read(&sql, &binds, &[Id, Id, Int, Int, Int], herd)
}

/// The last visit of each of these farms that was visited: when it began, milliseconds.
///
/// # Errors
/// Those of the database.
pub fn last_visits(
    conn: &mut Conn,
    coop: i64,
    farms: &[Uuid],
) -> Result<HashMap<Uuid, i64>, StoreError> {
    let is_all = farms.len() > FARMS_MAX;
    let chunks: Vec<Farms<'_>> =
        if is_all { vec![None] } else { farms.chunks(FARMS_AT_ONCE).map(Some).collect() };
    let mut last = HashMap::new();
    for chunk in chunks {
        // One look into the index a farm, however many visits there are.
        let mut sql = "SELECT f.id, (SELECT MAX(v.started_at) FROM visits v WHERE \
                       v.coop_id = f.coop_id AND v.farm_id = f.id AND v.withdrawn_at IS NULL) \
                       FROM farms f WHERE f.coop_id = ?"
            .to_owned();
        let mut binds = vec![Bind::int(coop)];
        let chunk = chunk.map(filled);
        only(chunk.as_deref(), "f.id", &mut sql, &mut binds);
        let rows = conn.rows(&sql, &binds, &[ColumnType::Id, ColumnType::Instant])?;
        let visit = |r: &Row| Some((r.first()?.as_id()?, r.get(1)?.as_instant()?));
        last.extend(rows.iter().filter_map(visit));
    }
    Ok(last)
}

/// Farms filled up to one length where they are more than one, so that few statements are prepared.
fn filled(farms: &[Uuid]) -> Vec<Uuid> {
    let mut farms = farms.to_vec();
    if let (true, Some(one)) = (farms.len() > 1, farms.first().copied()) {
        farms.resize(FARMS_AT_ONCE, one);
    }
    farms
}

/// Open follow-ups that were due before a day: farm, due day, what was to be done.
///
/// # Errors
/// Those of the database.
pub fn overdue_follow_ups(
    conn: &mut Conn,
    coop: i64,
    before: chrono::NaiveDate,
    of: Farms<'_>,
) -> Result<Vec<(Uuid, chrono::NaiveDate, String)>, StoreError> {
    let mut sql =
        "SELECT farm_id, due_on, action FROM follow_ups WHERE coop_id = ? AND due_on < ? \
                   AND outcome IS NULL AND withdrawn_at IS NULL"
            .to_owned();
    let mut binds = vec![Bind::int(coop), Bind::date(before)];
    only(of, "farm_id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY due_on, id");
    let types = [ColumnType::Id, ColumnType::Date, ColumnType::Text];
    let rows = conn.rows(&sql, &binds, &types)?;
    let open = |r: &Row| {
        Some((r.first()?.as_id()?, r.get(1)?.as_date()?, r.get(2)?.as_text()?.to_owned()))
    };
    Ok(rows.iter().filter_map(open).collect())
}

/// Months that are looked through at once for the last one of a farm, and farms that are.
const MONTHS_AT_ONCE: i32 = 12;
/// See [`MONTHS_AT_ONCE`].
const FARMS_AT_ONCE: usize = 16;
/// Farms that are looked for by name; of more all are read.
const FARMS_MAX: usize = 256;

/// The last month in which each of these farms recorded anything that the month sums count. The
/// many that recorded since `recent` are found at once, the few others by name.
///
/// # Errors
/// Those of the database.
pub fn last_months(
    conn: &mut Conn,
    coop: i64,
    farms: &[Uuid],
    recent: Month,
) -> Result<HashMap<Uuid, Month>, StoreError> {
    let mut last: HashMap<Uuid, Month> = HashMap::new();
    let mut left: HashSet<Uuid> = farms.iter().copied().collect();
    let sql = "SELECT MIN(month) FROM farm_months WHERE coop_id = ?";
    let first = conn.row(sql, &[Bind::int(coop)], &[ColumnType::Int])?;
    let Some(first) = first.and_then(|r| r.first()?.as_int()) else { return Ok(last) };
    // A few are asked for by name from the start: nobody records of a month that has not begun.
    let (mut from, mut rows) = match left.len() {
        0..=FARMS_AT_ONCE => (recent.plus(2), Vec::new()),
        _ => (recent, last_in(conn, coop, "month >= ?", vec![recent], None)?),
    };
    loop {
        last.extend(rows.iter().filter(|(farm, _)| left.remove(farm)).copied());
        if left.is_empty() || from.number() <= first {
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
    let mut sql = format!(
        "SELECT farm_id, MAX(month) FROM farm_months WHERE coop_id = ? AND {span} AND \
         milk_days + egg_days + trays_started + feed_purchases + other_costs > 0"
    );
    let mut binds = vec![Bind::int(coop)];
    binds.extend(months.iter().map(|m| Bind::int(m.number())));
    only(of, "farm_id", &mut sql, &mut binds);
    sql.push_str(" GROUP BY farm_id");
    let rows = conn.rows(&sql, &binds, &[ColumnType::Id, ColumnType::Int])?;
    let found = |r: &Row| Some((r.first()?.as_id()?, Month::from_number(r.get(1)?.as_int()?)?));
    Ok(rows.iter().filter_map(found).collect())
}

/// Money and output of one farm in one month.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CostCell {
    /// Farm.
    pub farm: Uuid,
    /// Month.
    pub month: Month,
    /// Other costs, minor units.
    pub other_minor: i64,
    /// Milk, ml, and whether any was recorded.
    pub milk: (i64, bool),
    /// Eggs, and whether any were recorded.
    pub eggs: (i64, bool),
}

/// Other costs and output of farms, all or these, in all months.
///
/// # Errors
/// Those of the database.
pub fn cost_cells(conn: &mut Conn, coop: i64, of: Farms<'_>) -> Result<Vec<CostCell>, StoreError> {
    use ColumnType::{Id, Int};
    let mut sql = "SELECT farm_id, month, other_cost_minor, milk_ml, milk_days, eggs, egg_days \
                   FROM farm_months WHERE coop_id = ?"
        .to_owned();
    let mut binds = vec![Bind::int(coop)];
    only(of, "farm_id", &mut sql, &mut binds);
    let cell = |r: &Row| {
        let int = |i: usize| r.get(i).and_then(Value::as_int);
        Some(CostCell {
            farm: r.first()?.as_id()?,
            month: Month::from_number(int(1)?)?,
            other_minor: int(2)?,
            milk: (int(3)?, int(4)? > 0),
            eggs: (int(5)?, int(6)? > 0),
        })
    };
    conn.read(&sql, &binds, &[Id, Int, Int, Int, Int, Int, Int], cell)
}
