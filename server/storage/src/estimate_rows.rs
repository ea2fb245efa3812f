//! What the estimates read: month sums of all months, and trays by batch.

use crate::conn::{Bind, Conn, Row};
use crate::error::StoreError;
use crate::event_sums;
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

/// Milk (or eggs) of all farms and months with a record.
///
/// # Errors
/// Those of the database.
pub fn output_cells(
    conn: &mut Conn,
    coop: i64,
    is_milk: bool,
) -> Result<Vec<OutputCell>, StoreError> {
    let columns = if is_milk {
        ["milk_ml", "cow_days", "milk_days", "milk_stage", "milk_stage_animals"]
    } else {
        ["eggs", "hen_days", "egg_days", "egg_stage", "egg_stage_animals"]
    };
    let sql = format!(
        "SELECT farm_id, month, {} FROM farm_months WHERE coop_id = ? AND {} > 0",
        columns.join(", "),
        columns[2]
    );
    use ColumnType::{Id, Int};
    let rows = conn.rows(&sql, &[Bind::int(coop)], &[Id, Int, Int, Int, Int, Int, Int])?;
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
    Ok(rows.iter().filter_map(cell).collect())
}

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

/// The batches soaked since an instant, each farm's in the order of the soak.
///
/// # Errors
/// Those of the database.
pub fn batch_trays(
    conn: &mut Conn,
    coop: i64,
    since_ms: i64,
) -> Result<Vec<BatchTrays>, StoreError> {
    use ColumnType::{Id, Instant, Int};
    // A batch lives for two weeks at most: its events lie close to its soak.
    let sql = format!(
        "SELECT b.farm_id, b.id, b.seed_lot_id, t.soaked_at, t.spread, t.harvested, t.discarded \
         FROM (SELECT batch_id, {} AS soaked_at, {} AS spread, {} AS harvested, {} AS discarded \
           FROM batch_events WHERE coop_id = ? AND at >= ? AND withdrawn_at IS NULL \
           GROUP BY batch_id) t \
         JOIN batches b ON b.coop_id = ? AND b.id = t.batch_id \
         WHERE b.withdrawn_at IS NULL AND t.soaked_at IS NOT NULL AND t.spread > 0 \
         ORDER BY b.farm_id, t.soaked_at, b.id",
        event_sums::first("soaked"),
        event_sums::sum("spread", "trays"),
        event_sums::sum("harvested", "trays"),
        event_sums::sum("discarded", "trays"),
    );
    let rows = conn.rows(
        &sql,
        &[Bind::int(coop), Bind::instant(since_ms), Bind::int(coop)],
        &[Id, Id, Id, Instant, Int, Int, Int],
    )?;
    let batch = |r: &Row| {
        let int = |i: usize| r.get(i).and_then(Value::as_int);
        Some(BatchTrays {
            farm: r.first()?.as_id()?,
            batch: r.get(1)?.as_id()?,
            lot: r.get(2)?.as_id(),
            soaked_at: r.get(3)?.as_instant()?,
            spread: int(4)?,
            harvested: int(5)?,
            discarded: int(6)?,
        })
    };
    Ok(rows.iter().filter_map(batch).collect())
}

/// Feed bought: farm, month, feed, grams, minor units; all months.
///
/// # Errors
/// Those of the database.
pub fn feed_cells(conn: &mut Conn, coop: i64) -> Result<Vec<FeedCell>, StoreError> {
    use ColumnType::{Id, Int};
    let rows = conn.rows(
        "SELECT farm_id, month, feed_id, grams, cost_minor FROM farm_month_feeds \
         WHERE coop_id = ? AND records > 0",
        &[Bind::int(coop)],
        &[Id, Int, Id, Int, Int],
    )?;
    let cell = |r: &Row| {
        Some(FeedCell {
            farm: r.first()?.as_id()?,
            month: Month::from_number(r.get(1)?.as_int()?)?,
            feed: r.get(2)?.as_id()?,
            grams: r.get(3)?.as_int()?,
            cost_minor: r.get(4)?.as_int()?,
        })
    };
    Ok(rows.iter().filter_map(cell).collect())
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
pub fn herds(conn: &mut Conn, coop: i64) -> Result<Vec<(Uuid, Uuid, HerdMonth)>, StoreError> {
    use ColumnType::{Id, Int};
    let rows = conn.rows(
        "SELECT g.farm_id, g.id, h.month, h.animal_days, h.closing_head FROM herd_months h \
         JOIN animal_groups g ON g.coop_id = h.coop_id AND g.id = h.animal_group_id \
         WHERE h.coop_id = ? AND g.withdrawn_at IS NULL ORDER BY g.id, h.month",
        &[Bind::int(coop)],
        &[Id, Id, Int, Int, Int],
    )?;
    let herd = |r: &Row| {
        let month = HerdMonth {
            month: Month::from_number(r.get(2)?.as_int()?)?,
            animal_days: r.get(3)?.as_int()?,
            closing_head: r.get(4)?.as_int()?,
        };
        Some((r.first()?.as_id()?, r.get(1)?.as_id()?, month))
    };
    Ok(rows.iter().filter_map(herd).collect())
}

/// The last visit of each farm: farm and begin, milliseconds.
///
/// # Errors
/// Those of the database.
pub fn last_visits(conn: &mut Conn, coop: i64) -> Result<Vec<(Uuid, i64)>, StoreError> {
    let rows = conn.rows(
        "SELECT farm_id, MAX(started_at) FROM visits WHERE coop_id = ? AND withdrawn_at IS NULL \
         GROUP BY farm_id",
        &[Bind::int(coop)],
        &[ColumnType::Id, ColumnType::Instant],
    )?;
    let visit = |r: &Row| Some((r.first()?.as_id()?, r.get(1)?.as_instant()?));
    Ok(rows.iter().filter_map(visit).collect())
}

/// Open follow-ups that were due before a day: farm, due day, what was to be done.
///
/// # Errors
/// Those of the database.
pub fn overdue_follow_ups(
    conn: &mut Conn,
    coop: i64,
    before: chrono::NaiveDate,
) -> Result<Vec<(Uuid, chrono::NaiveDate, String)>, StoreError> {
    let rows = conn.rows(
        "SELECT farm_id, due_on, action FROM follow_ups WHERE coop_id = ? AND due_on < ? AND \
         outcome IS NULL AND withdrawn_at IS NULL ORDER BY due_on, id",
        &[Bind::int(coop), Bind::date(before)],
        &[ColumnType::Id, ColumnType::Date, ColumnType::Text],
    )?;
    let open = |r: &Row| {
        Some((r.first()?.as_id()?, r.get(1)?.as_date()?, r.get(2)?.as_text()?.to_owned()))
    };
    Ok(rows.iter().filter_map(open).collect())
}

/// The last month in which each farm recorded anything that the month sums count.
///
/// # Errors
/// Those of the database.
pub fn last_months(conn: &mut Conn, coop: i64) -> Result<Vec<(Uuid, Month)>, StoreError> {
    let rows = conn.rows(
        "SELECT farm_id, MAX(month) FROM farm_months WHERE coop_id = ? AND \
         milk_days + egg_days + trays_started + feed_purchases + other_costs > 0 GROUP BY farm_id",
        &[Bind::int(coop)],
        &[ColumnType::Id, ColumnType::Int],
    )?;
    let last = |r: &Row| Some((r.first()?.as_id()?, Month::from_number(r.get(1)?.as_int()?)?));
    Ok(rows.iter().filter_map(last).collect())
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

/// Other costs and output of all farms and months.
///
/// # Errors
/// Those of the database.
pub fn cost_cells(conn: &mut Conn, coop: i64) -> Result<Vec<CostCell>, StoreError> {
    use ColumnType::{Id, Int};
    let rows = conn.rows(
        "SELECT farm_id, month, other_cost_minor, milk_ml, milk_days, eggs, egg_days \
         FROM farm_months WHERE coop_id = ?",
        &[Bind::int(coop)],
        &[Id, Int, Int, Int, Int, Int, Int],
    )?;
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
    Ok(rows.iter().filter_map(cell).collect())
}
