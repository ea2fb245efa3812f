//! What the savings report of one month reads: rows by farm, never by record.

use crate::columns::{Instant, columns, unexpected};
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use crate::records::farm_rows;
use crate::records::farm_rows::only;
pub use crate::records::farm_rows::{FarmRow, Farms, GroupRow};
use chrono::NaiveDate;
use traybook_domain::effects::{MEASURE_COLUMNS, Sums};
use traybook_domain::{ColumnType, Month};
use uuid::Uuid;

/// Every farm ever recorded, withdrawn ones too: id, code, area, member.
pub fn farm_codes(
    conn: &mut Conn,
    coop: i64,
) -> Result<Vec<(Uuid, String, Uuid, Uuid)>, StoreError> {
    let columns = columns!("report_rows::farm_codes" {
        id: Uuid,
        code: String,
        area: Uuid = "area_id",
        member: Uuid = "member_id",
    } => (id, code, area, member));
    let sql = format!("SELECT {columns} FROM farms WHERE coop_id = ?");
    conn.select(&columns, &sql, &[Bind::int(coop)])
}

/// Month sums by farm.
pub fn sums(
    conn: &mut Conn,
    coop: i64,
    month: Month,
    of: Farms<'_>,
) -> Result<Vec<(Uuid, Sums)>, StoreError> {
    let columns = columns!("report_rows::sums" {
        farm: Uuid = "farm_id",
        sums: Sums = MEASURE_COLUMNS.join(", "),
    } => (farm, sums));
    let mut sql = format!("SELECT {columns} FROM farm_months WHERE coop_id = ? AND month = ?");
    let mut binds = vec![Bind::int(coop), Bind::int(month.number())];
    only(of, "farm_id", &mut sql, &mut binds);
    conn.select(&columns, &sql, &binds)
}

/// Months of one answer of [`active`] at the most: a bit each.
const ACTIVE_MONTHS_MAX: i64 = 62;

/// The months, counted from the first, in which a farm did something: a bit each.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Active {
    pub farm: Uuid,
    /// It recorded something.
    pub recorded: i64,
    /// It began trays.
    pub grew: i64,
}

/// The farms that recorded something in some months.
///
/// # Errors
/// Those of the database; `Internal` for more months than a number has bits.
pub fn active(
    conn: &mut Conn,
    coop: i64,
    (first, last): (Month, Month),
) -> Result<Vec<Active>, StoreError> {
    if last.number() - first.number() >= ACTIVE_MONTHS_MAX {
        return Err(StoreError::Internal("too many months at once".to_owned()));
    }
    let bit = "(CAST(1 AS BIGINT) << CAST(month - ? AS INTEGER))";
    let columns = columns!("report_rows::active" {
        farm: Uuid = "farm_id",
        recorded: i64 = format!("CAST(SUM{bit} AS BIGINT)"),
        grew: i64 = format!(
            "CAST(SUM(CASE WHEN trays_started > 0 THEN {bit} ELSE 0 END) AS BIGINT)"
        ),
    } => Active { farm, recorded, grew });
    let sql = format!(
        "SELECT {columns} FROM farm_months WHERE coop_id = ? AND month >= ? AND month <= ? \
         AND (trays_started > 0 OR cow_days > 0 OR hen_days > 0 OR fed_g > 0 \
         OR feed_purchases > 0) GROUP BY farm_id"
    );
    let [first, last] = [first, last].map(|m| Bind::int(m.number()));
    conn.select(&columns, &sql, &[first.clone(), first.clone(), Bind::int(coop), first, last])
}

/// Month sums of one farm over months.
pub fn farm_sums(
    conn: &mut Conn,
    coop: i64,
    farm: Uuid,
    (first, last): (Month, Month),
) -> Result<Vec<(Month, Sums)>, StoreError> {
    let columns = columns!("report_rows::farm_sums" {
        month: Month,
        sums: Sums = MEASURE_COLUMNS.join(", "),
    } => (month, sums));
    // Months by name: the key begins with the month, and a span would read all farms.
    let months: Vec<i64> = (first.number()..=last.number()).collect();
    let marks = vec!["?"; months.len().max(1)].join(", ");
    let sql = format!(
        "SELECT {columns} FROM farm_months WHERE coop_id = ? AND farm_id = ? AND month \
         IN ({marks}) ORDER BY month"
    );
    let mut binds = vec![Bind::int(coop), Bind::id(farm)];
    binds.extend(months.iter().map(|m| Bind::int(*m)));
    if months.is_empty() {
        binds.push(Bind::opt(ColumnType::Int, None));
    }
    conn.select(&columns, &sql, &binds)
}

/// Feed bought: farm, feed, grams, minor units.
pub fn feeds(
    conn: &mut Conn,
    coop: i64,
    month: Month,
    of: Farms<'_>,
) -> Result<Vec<(Uuid, Uuid, i64, i64)>, StoreError> {
    let columns = columns!("report_rows::feeds" {
        farm: Uuid = "farm_id",
        feed: Uuid = "feed_id",
        grams: i64,
        cost_minor: i64,
    } => (farm, feed, grams, cost_minor));
    let mut sql = format!(
        "SELECT {columns} FROM farm_month_feeds WHERE coop_id = ? AND month = ? AND records > 0"
    );
    let mut binds = vec![Bind::int(coop), Bind::int(month.number())];
    only(of, "farm_id", &mut sql, &mut binds);
    conn.select(&columns, &sql, &binds)
}

/// Feed bought in some months by all farms together: feed, grams, minor units. What cost nothing is
/// left out.
pub fn feeds_of_all(
    conn: &mut Conn,
    coop: i64,
    (first, last): (Month, Month),
) -> Result<Vec<(Uuid, i64, i64)>, StoreError> {
    let columns = columns!("report_rows::feeds_of_all" {
        feed: Uuid = "feed_id",
        grams: i64 = "CAST(SUM(grams) AS BIGINT)",
        minor: i64 = "CAST(SUM(cost_minor) AS BIGINT)",
    } => (feed, grams, minor));
    let sql = format!(
        "SELECT {columns} FROM farm_month_feeds WHERE coop_id = ? AND month >= ? AND month <= ? \
         AND cost_minor > 0 GROUP BY feed_id"
    );
    let span = [first, last].map(|m| Bind::int(m.number()));
    conn.select(&columns, &sql, &[&[Bind::int(coop)], span.as_slice()].concat())
}

/// Seed soaked: farm, lot, grams, and what the farm's and the store's kilograms of it cost.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SeedRow {
    pub farm: Uuid,
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
        traybook_domain::savings::money::mul_div(self.grams, minor, grams)
    }
}

/// Seed soaked by farm and lot, in one month or in all.
pub fn seed(
    conn: &mut Conn,
    coop: i64,
    month: Option<Month>,
    of: Farms<'_>,
) -> Result<Vec<SeedRow>, StoreError> {
    let columns = columns!("report_rows::seed" {
        farm: Uuid = "s.farm_id",
        month: Month = "s.month",
        grams: i64 = "s.grams",
        issued_g: i64 = "COALESCE(i.issued_g, 0)",
        issued_minor: i64 = "COALESCE(i.issued_minor, 0)",
        bought_g: i64 = "COALESCE(t.bought_g, 0)",
        paid_minor: i64 = "COALESCE(t.paid_minor, 0)",
    } => SeedRow {
        farm,
        month,
        grams,
        issued: (issued_g, issued_minor),
        bought: (bought_g, paid_minor),
    });
    let in_month = if month.is_some() { "AND s.month = ?" } else { "" };
    let mut sql = format!(
        "SELECT {columns} FROM farm_month_lots s \
         LEFT JOIN farm_lots i ON i.coop_id = s.coop_id AND i.farm_id = s.farm_id \
           AND i.lot_id = s.lot_id \
         LEFT JOIN lot_totals t ON t.coop_id = s.coop_id AND t.lot_id = s.lot_id \
         WHERE s.coop_id = ? {in_month} AND s.grams <> 0"
    );
    let mut binds = vec![Bind::int(coop)];
    binds.extend(month.map(|m| Bind::int(m.number())));
    only(of, "s.farm_id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY s.farm_id, s.month, s.lot_id");
    conn.select(&columns, &sql, &binds)
}

/// Animal groups with their head.
pub fn groups(
    conn: &mut Conn,
    coop: i64,
    month: Month,
    of: Farms<'_>,
) -> Result<Vec<GroupRow>, StoreError> {
    farm_rows::groups(conn, coop, month, of)
}

/// An asset that may lose value in a month.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AssetRow {
    pub farm: Uuid,
    /// First day of use.
    pub in_service_on: NaiveDate,
    /// Cost and salvage value, minor units.
    pub value: (i64, i64),
    pub life_months: i64,
    /// Day on which it was given up.
    pub disposed_on: Option<NaiveDate>,
}

/// The assets in use by the end of a month.
pub fn assets(
    conn: &mut Conn,
    coop: i64,
    month: Month,
    of: Farms<'_>,
) -> Result<Vec<AssetRow>, StoreError> {
    let columns = columns!("report_rows::assets" {
        farm: Uuid = "farm_id",
        in_service_on: NaiveDate,
        cost: i64,
        salvage_value: i64 = "COALESCE(salvage_value, 0)",
        life_months: i64,
        disposed_on: Option<NaiveDate>,
    } => AssetRow {
        farm,
        in_service_on,
        value: (cost, salvage_value),
        life_months,
        disposed_on,
    });
    let mut sql = format!(
        "SELECT {columns} FROM assets WHERE coop_id = ? AND in_service_on <= ? AND \
         withdrawn_at IS NULL"
    );
    let mut binds = vec![Bind::int(coop), Bind::date(month.last_day())];
    only(of, "farm_id", &mut sql, &mut binds);
    conn.select(&columns, &sql, &binds)
}

/// Trays whose fodder was fed without being weighed between two instants, by farm: of all farms or of
/// these.
pub fn fed_unweighed(
    conn: &mut Conn,
    coop: i64,
    (from, until): (i64, i64),
    of: Farms<'_>,
) -> Result<Vec<(Uuid, i64)>, StoreError> {
    let columns = columns!("report_rows::fed_unweighed" {
        farm: Uuid = "farm_id",
        trays: Option<i64> = "CAST(SUM(trays) AS BIGINT)",
    } => trays.map(|trays| (farm, trays)));
    let mut sql = format!(
        "SELECT {columns} FROM batch_events WHERE coop_id = ? \
         AND at >= ? AND at < ? AND event = 'fed_out' AND \
         COALESCE(kg, 0) = 0 AND withdrawn_at IS NULL"
    );
    let mut binds = vec![Bind::int(coop), Bind::instant(from), Bind::instant(until)];
    only(of, "farm_id", &mut sql, &mut binds);
    sql.push_str(" GROUP BY farm_id");
    // A farm of which no feeding tells the trays is not among them.
    Ok(conn.select(&columns, &sql, &binds)?.into_iter().flatten().collect())
}

/// Seed stock, of all places or of one farm: farm (none for the store), lot, grams.
pub fn seed_stock(
    conn: &mut Conn,
    coop: i64,
    of: Option<Uuid>,
) -> Result<Vec<(Option<Uuid>, Uuid, i64)>, StoreError> {
    let columns = columns!("report_rows::seed_stock" {
        farm: Option<Uuid> = "farm_id",
        lot: Uuid = "lot_id",
        grams: i64 = "CAST(SUM(grams) AS BIGINT)",
    } => (farm, lot, grams));
    let only = if of.is_some() { "AND farm_id = ?" } else { "" };
    let sql = format!(
        "SELECT {columns} FROM seed_movements WHERE coop_id = ? \
         {only} GROUP BY farm_id, lot_id ORDER BY farm_id, lot_id"
    );
    let mut binds = vec![Bind::int(coop)];
    binds.extend(of.map(Bind::id));
    conn.select(&columns, &sql, &binds)
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SeedMovement {
    /// The record it comes from.
    pub source: Uuid,
    /// `purchase`, `issue`, `soak` or `adjustment`.
    pub movement: String,
    pub lot: Uuid,
    /// Farm; none for the store.
    pub farm: Option<Uuid>,
    /// Grams in, or with a minus out.
    pub grams: i64,
    /// Day, or for a soak the instant.
    pub on: Result<NaiveDate, i64>,
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
pub fn seed_movements(
    conn: &mut Conn,
    coop: i64,
    days: (NaiveDate, NaiveDate),
    instants: (i64, i64),
    place: Place<'_>,
) -> Result<Vec<SeedMovement>, StoreError> {
    let columns = columns!("report_rows::seed_movements" {
        source: Uuid = "source_id",
        movement: String,
        lot: Uuid = "lot_id",
        farm: Option<Uuid> = "farm_id",
        grams: i64,
        day: Option<NaiveDate> = "moved_on",
        at: Option<Instant> = "moved_at",
    } => {
        let on = match (day, at) {
            (Some(day), _) => Ok(day),
            (None, Some(at)) => Err(at),
            (None, None) => return Err(unexpected("report_rows::seed_movements.at")),
        };
        SeedMovement { source, movement, lot, farm, grams, on }
    });
    let mut sql = format!(
        "SELECT {columns} FROM seed_movements WHERE coop_id = ? AND \
         ((moved_on >= ? AND moved_on <= ?) OR (moved_at >= ? AND moved_at < ?))"
    );
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
    conn.select(&columns, &sql, &binds)
}
