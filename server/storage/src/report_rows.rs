//! What the savings report of one month reads: rows by farm, never by record.

use crate::conn::{Bind, Conn, Row};
use crate::error::StoreError;
use crate::farm_rows;
use crate::farm_rows::only;
pub use crate::farm_rows::{FarmRow, Farms, GroupRow};
use traybook_domain::effects::{MEASURE_COLUMNS, MEASURES, Sums};
use traybook_domain::{ColumnType, Month, Value};
use uuid::Uuid;

/// Every farm ever recorded, withdrawn ones too: id, code, area, member.
///
/// # Errors
/// Those of the database.
pub fn farm_codes(
    conn: &mut Conn,
    coop: i64,
) -> Result<Vec<(Uuid, String, Uuid, Uuid)>, StoreError> {
    use ColumnType::{Id, Text};
    let rows = conn.rows(
        "SELECT id, code, area_id, member_id FROM farms WHERE coop_id = ?",
        &[Bind::int(coop)],
        &[Id, Text, Id, Id],
    )?;
    let farm = |r: &Row| {
        let code = r.get(1)?.as_text()?.to_owned();
        Some((r.first()?.as_id()?, code, r.get(2)?.as_id()?, r.get(3)?.as_id()?))
    };
    Ok(rows.iter().filter_map(farm).collect())
}

/// Month sums by farm.
///
/// # Errors
/// Those of the database.
pub fn sums(
    conn: &mut Conn,
    coop: i64,
    month: Month,
    of: Farms<'_>,
) -> Result<Vec<(Uuid, Sums)>, StoreError> {
    let list = MEASURE_COLUMNS.join(", ");
    let mut types = vec![ColumnType::Id];
    types.extend(MEASURE_COLUMNS.iter().map(|_| ColumnType::Int));
    let mut sql =
        format!("SELECT farm_id, {list} FROM farm_months WHERE coop_id = ? AND month = ?");
    let mut binds = vec![Bind::int(coop), Bind::int(month.number())];
    only(of, "farm_id", &mut sql, &mut binds);
    let rows = conn.rows(&sql, &binds, &types)?;
    let sums = |r: &Row| {
        let mut sums = [0; MEASURES];
        for (to, from) in sums.iter_mut().zip(r.iter().skip(1)) {
            *to = from.as_int()?;
        }
        Some((r.first()?.as_id()?, sums))
    };
    Ok(rows.iter().filter_map(sums).collect())
}

/// Month sums of one farm over months.
///
/// # Errors
/// Those of the database.
pub fn farm_sums(
    conn: &mut Conn,
    coop: i64,
    farm: Uuid,
    (first, last): (Month, Month),
) -> Result<Vec<(Month, Sums)>, StoreError> {
    let list = MEASURE_COLUMNS.join(", ");
    let mut types = vec![ColumnType::Int];
    types.extend(MEASURE_COLUMNS.iter().map(|_| ColumnType::Int));
    // Months by name: the key begins with the month, and a span would read all farms.
    let months: Vec<i64> = (first.number()..=last.number()).collect();
    let marks = vec!["?"; months.len().max(1)].join(", ");
    let sql = format!(
        "SELECT month, {list} FROM farm_months WHERE coop_id = ? AND farm_id = ? AND month \
         IN ({marks}) ORDER BY month"
    );
    let mut binds = vec![Bind::int(coop), Bind::id(farm)];
    binds.extend(months.iter().map(|m| Bind::int(*m)));
    if months.is_empty() {
        binds.push(Bind::opt(ColumnType::Int, None));
    }
    let rows = conn.rows(&sql, &binds, &types)?;
    let sums = |r: &Row| {
        let mut sums = [0; MEASURES];
        for (to, from) in sums.iter_mut().zip(r.iter().skip(1)) {
            *to = from.as_int()?;
        }
        Some((Month::from_number(r.first()?.as_int()?)?, sums))
    };
    Ok(rows.iter().filter_map(sums).collect())
}

/// Feed bought: farm, feed, grams, minor units.
///
/// # Errors
/// Those of the database.
pub fn feeds(
    conn: &mut Conn,
    coop: i64,
    month: Month,
    of: Farms<'_>,
) -> Result<Vec<(Uuid, Uuid, i64, i64)>, StoreError> {
    let mut sql = "SELECT farm_id, feed_id, grams, cost_minor FROM farm_month_feeds \
                   WHERE coop_id = ? AND month = ? AND records > 0"
        .to_owned();
    let mut binds = vec![Bind::int(coop), Bind::int(month.number())];
    only(of, "farm_id", &mut sql, &mut binds);
    let types = [ColumnType::Id, ColumnType::Id, ColumnType::Int, ColumnType::Int];
    let rows = conn.rows(&sql, &binds, &types)?;
    let feed = |r: &Row| {
        Some((r.first()?.as_id()?, r.get(1)?.as_id()?, r.get(2)?.as_int()?, r.get(3)?.as_int()?))
    };
    Ok(rows.iter().filter_map(feed).collect())
}

/// Seed soaked: farm, lot, grams, and what the farm's and the store's kilograms of it cost.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SeedRow {
    /// Farm.
    pub farm: Uuid,
    /// Month.
    pub month: Month,
    /// Grams soaked.
    pub grams: i64,
    /// Issued to the farm at a price: grams and minor units.
    pub issued: (i64, i64),
    /// Bought by the co-operative: grams and minor units.
    pub bought: (i64, i64),
}

impl SeedRow {
    /// What the seed cost, minor units: at the price the member was charged for the lot, else at
    /// what the co-operative paid for it; none where neither is known.
    #[must_use]
    pub fn cost(&self) -> Option<i64> {
        let (grams, minor) = if self.issued.0 > 0 { self.issued } else { self.bought };
        traybook_domain::money::mul_div(self.grams, minor, grams)
    }
}

/// Seed soaked by farm and lot, in one month or in all.
///
/// # Errors
/// Those of the database.
pub fn seed(
    conn: &mut Conn,
    coop: i64,
    month: Option<Month>,
    of: Farms<'_>,
) -> Result<Vec<SeedRow>, StoreError> {
    use ColumnType::{Id, Int};
    let in_month = if month.is_some() { "AND s.month = ?" } else { "" };
    let mut sql = format!(
        "SELECT s.farm_id, s.month, s.grams, COALESCE(i.issued_g, 0), COALESCE(i.issued_minor, 0), \
         COALESCE(t.bought_g, 0), COALESCE(t.paid_minor, 0) FROM farm_month_lots s \
         LEFT JOIN farm_lots i ON i.coop_id = s.coop_id AND i.farm_id = s.farm_id \
           AND i.lot_id = s.lot_id \
         LEFT JOIN lot_totals t ON t.coop_id = s.coop_id AND t.lot_id = s.lot_id \
         WHERE s.coop_id = ? {in_month} AND s.grams <> 0"
    );
    let mut binds = vec![Bind::int(coop)];
    binds.extend(month.map(|m| Bind::int(m.number())));
    only(of, "s.farm_id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY s.farm_id, s.month, s.lot_id");
    let seed = |r: &Row| {
        let int = |i: usize| r.get(i).and_then(Value::as_int);
        Some(SeedRow {
            farm: r.first()?.as_id()?,
            month: Month::from_number(int(1)?)?,
            grams: int(2)?,
            issued: (int(3)?, int(4)?),
            bought: (int(5)?, int(6)?),
        })
    };
    conn.read(&sql, &binds, &[Id, Int, Int, Int, Int, Int, Int], seed)
}

/// Animal groups with their head.
///
/// # Errors
/// Those of the database.
pub fn groups(
    conn: &mut Conn,
    coop: i64,
    month: Month,
    of: Farms<'_>,
) -> Result<Vec<GroupRow>, StoreError> {
    farm_rows::groups(conn, coop, month, of)
}

/// Rations before fodder, of all groups or of these: group, feed, grams per animal-day.
///
/// # Errors
/// Those of the database.
pub fn rations(
    conn: &mut Conn,
    coop: i64,
    groups: Farms<'_>,
) -> Result<Vec<(Uuid, Uuid, i64)>, StoreError> {
    let mut sql = "SELECT animal_group_id, feed_id, kg_per_animal_day FROM baseline_rations \
                   WHERE coop_id = ? AND withdrawn_at IS NULL"
        .to_owned();
    let mut binds = vec![Bind::int(coop)];
    only(groups, "animal_group_id", &mut sql, &mut binds);
    let types = [ColumnType::Id, ColumnType::Id, ColumnType::Int];
    let rows = conn.rows(&sql, &binds, &types)?;
    let ration = |r: &Row| Some((r.first()?.as_id()?, r.get(1)?.as_id()?, r.get(2)?.as_int()?));
    Ok(rows.iter().filter_map(ration).collect())
}

/// An asset that may lose value in a month.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AssetRow {
    /// Farm.
    pub farm: Uuid,
    /// First day of use.
    pub in_service_on: chrono::NaiveDate,
    /// Cost and salvage value, minor units.
    pub value: (i64, i64),
    /// Life, months.
    pub life_months: i64,
    /// Day on which it was given up.
    pub disposed_on: Option<chrono::NaiveDate>,
}

/// The assets in use by the end of a month.
///
/// # Errors
/// Those of the database.
pub fn assets(
    conn: &mut Conn,
    coop: i64,
    month: Month,
    of: Farms<'_>,
) -> Result<Vec<AssetRow>, StoreError> {
    use ColumnType::{Date, Id, Int};
    let mut sql = "SELECT farm_id, in_service_on, cost, COALESCE(salvage_value, 0), life_months, \
                   disposed_on FROM assets WHERE coop_id = ? AND in_service_on <= ? AND \
                   withdrawn_at IS NULL"
        .to_owned();
    let mut binds = vec![Bind::int(coop), Bind::date(month.last_day())];
    only(of, "farm_id", &mut sql, &mut binds);
    let rows = conn.rows(&sql, &binds, &[Id, Date, Int, Int, Int, Date])?;
    let asset = |r: &Row| {
        Some(AssetRow {
            farm: r.first()?.as_id()?,
            in_service_on: r.get(1)?.as_date()?,
            value: (r.get(2)?.as_int()?, r.get(3)?.as_int()?),
            life_months: r.get(4)?.as_int()?,
            disposed_on: r.get(5)?.as_date(),
        })
    };
    Ok(rows.iter().filter_map(asset).collect())
}

/// Trays whose fodder was fed without being weighed between two instants, by farm: of all farms or of
/// these.
///
/// # Errors
/// Those of the database.
pub fn fed_unweighed(
    conn: &mut Conn,
    coop: i64,
    (from, until): (i64, i64),
    of: Farms<'_>,
) -> Result<Vec<(Uuid, i64)>, StoreError> {
    let mut sql = "SELECT farm_id, CAST(SUM(trays) AS BIGINT) FROM batch_events WHERE coop_id = ? \
                   AND at >= ? AND at < ? AND event = 'fed_out' AND \
                   COALESCE(kg, 0) = 0 AND withdrawn_at IS NULL"
        .to_owned();
    let mut binds = vec![Bind::int(coop), Bind::instant(from), Bind::instant(until)];
    only(of, "farm_id", &mut sql, &mut binds);
    sql.push_str(" GROUP BY farm_id");
    let rows = conn.rows(&sql, &binds, &[ColumnType::Id, ColumnType::Int])?;
    Ok(rows.iter().filter_map(|r| Some((r.first()?.as_id()?, r.get(1)?.as_int()?))).collect())
}

/// Seed stock, of all places or of one farm: farm (none for the store), lot, grams.
///
/// # Errors
/// Those of the database.
pub fn seed_stock(
    conn: &mut Conn,
    coop: i64,
    of: Option<Uuid>,
) -> Result<Vec<(Option<Uuid>, Uuid, i64)>, StoreError> {
    let only = if of.is_some() { "AND farm_id = ?" } else { "" };
    let sql = format!(
        "SELECT farm_id, lot_id, CAST(SUM(grams) AS BIGINT) FROM seed_movements WHERE coop_id = ? \
         {only} GROUP BY farm_id, lot_id ORDER BY farm_id, lot_id"
    );
    let mut binds = vec![Bind::int(coop)];
    binds.extend(of.map(Bind::id));
    let rows = conn.rows(&sql, &binds, &[ColumnType::Id, ColumnType::Id, ColumnType::Int])?;
    let stock = |r: &Row| Some((r.first()?.as_id(), r.get(1)?.as_id()?, r.get(2)?.as_int()?));
    Ok(rows.iter().filter_map(stock).collect())
}

/// One movement of seed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SeedMovement {
    /// The record it comes from.
    pub source: Uuid,
    /// `purchase`, `issue`, `soak` or `adjustment`.
    pub movement: String,
    /// Seed lot.
    pub lot: Uuid,
    /// Farm; none for the store.
    pub farm: Option<Uuid>,
    /// Grams in, or with a minus out.
    pub grams: i64,
    /// Day, or for a soak the instant.
    pub on: Result<chrono::NaiveDate, i64>,
}

/// Whose seed.
#[derive(Clone, Copy, Debug)]
pub enum Place<'a> {
    /// The store's and that of every farm.
    Any,
    /// The store's.
    Store,
    /// That of all farms, or of these.
    Of(Farms<'a>),
}

/// Movements of seed in a span of days, given as days and as instants (for soaks).
///
/// # Errors
/// Those of the database.
pub fn seed_movements(
    conn: &mut Conn,
    coop: i64,
    days: (chrono::NaiveDate, chrono::NaiveDate),
    instants: (i64, i64),
    place: Place<'_>,
) -> Result<Vec<SeedMovement>, StoreError> {
    use ColumnType::{Date, Id, Instant, Int, Text};
    let mut sql = "SELECT source_id, movement, lot_id, farm_id, grams, moved_on, moved_at \
                   FROM seed_movements WHERE coop_id = ? AND ((moved_on >= ? AND moved_on <= ?) \
                   OR (moved_at >= ? AND moved_at < ?))"
        .to_owned();
    let mut binds = vec![
        Bind::int(coop),
        Bind::date(days.0),
        Bind::date(days.1),
        Bind::instant(instants.0),
        Bind::instant(instants.1),
    ];
    match place {
        Place::Any => {}
        Place::Store => sql.push_str(" AND farm_id IS NULL"),
        Place::Of(None) => sql.push_str(" AND farm_id IS NOT NULL"),
        Place::Of(of) => only(of, "farm_id", &mut sql, &mut binds),
    }
    sql.push_str(" ORDER BY source_id, grams");
    let movement = |r: &Row| {
        let on = match r.get(5)?.as_date() {
            Some(day) => Ok(day),
            None => Err(r.get(6)?.as_instant()?),
        };
        Some(SeedMovement {
            source: r.first()?.as_id()?,
            movement: r.get(1)?.as_text()?.to_owned(),
            lot: r.get(2)?.as_id()?,
            farm: r.get(3)?.as_id(),
            grams: r.get(4)?.as_int()?,
            on,
        })
    };
    conn.read(&sql, &binds, &[Id, Text, Id, Id, Int, Date, Instant], movement)
}
