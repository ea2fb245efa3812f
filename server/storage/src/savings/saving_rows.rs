//! What the estimate of feed saving reads: purchases, store counts, rations, head counts.

use crate::columns::{Columns, Instant, columns};
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use crate::records::farm_rows::{Farms, only};
use chrono::NaiveDate;
use traybook_domain::herd::HeadEvent;
use uuid::Uuid;

/// A purchase of feed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PurchaseRow {
    pub id: Uuid,
    pub farm: Uuid,
    pub feed: Uuid,
    /// The animals it was for, where somebody said so.
    pub group: Option<Uuid>,
    pub on: NaiveDate,
    /// Bought; 0 where nothing was.
    pub grams: i64,
    /// Paid, minor units.
    pub minor: i64,
}

/// Purchases before a day, by farm, feed and day.
pub fn purchases(
    conn: &mut Conn,
    coop: i64,
    before: NaiveDate,
    of: Farms<'_>,
) -> Result<Vec<PurchaseRow>, StoreError> {
    let columns = purchase_columns();
    let mut sql = format!(
        "SELECT {columns} FROM feed_purchases WHERE coop_id = ? AND date < ? \
         AND withdrawn_at IS NULL"
    );
    let mut binds = vec![Bind::int(coop), Bind::date(before)];
    only(of, "farm_id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY farm_id, feed_id, date, created_at, id");
    conn.select(&columns, &sql, &binds)
}

/// Hands over the purchases from a day on and before another one, in no order.
pub fn each_purchase(
    conn: &mut Conn,
    coop: i64,
    (from, before): (NaiveDate, NaiveDate),
    take: impl FnMut(PurchaseRow),
) -> Result<(), StoreError> {
    let columns = purchase_columns();
    let sql = format!(
        "SELECT {columns} FROM feed_purchases WHERE coop_id = ? AND date >= ? AND date < ? \
         AND withdrawn_at IS NULL"
    );
    let binds = [Bind::int(coop), Bind::date(from), Bind::date(before)];
    conn.select_each(&columns, &sql, &binds, take)
}

fn purchase_columns() -> Columns<PurchaseRow> {
    columns!("saving_rows::purchases" {
        id: Uuid,
        farm: Uuid = "farm_id",
        feed: Uuid = "feed_id",
        group: Option<Uuid> = "animal_group_id",
        on: NaiveDate = "date",
        grams: i64 = "kg",
        minor: i64 = "cost",
    } => PurchaseRow { id, farm, feed, group, on, grams, minor })
}

/// What was left of a feed in the morning of a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CountRow {
    pub farm: Uuid,
    pub feed: Uuid,
    /// The animals it was for, where somebody said so.
    pub group: Option<Uuid>,
    pub on: NaiveDate,
    /// Left.
    pub grams: i64,
}

/// Store counts before a day.
pub fn counts(
    conn: &mut Conn,
    coop: i64,
    before: NaiveDate,
    of: Farms<'_>,
) -> Result<Vec<CountRow>, StoreError> {
    let columns = columns!("saving_rows::counts" {
        farm: Uuid = "farm_id",
        feed: Uuid = "feed_id",
        group: Option<Uuid> = "animal_group_id",
        on: NaiveDate = "date",
        grams: i64 = "kg",
    } => CountRow { farm, feed, group, on, grams });
    let mut sql = format!(
        "SELECT {columns} FROM feed_counts WHERE coop_id = ? AND date < ? \
         AND withdrawn_at IS NULL"
    );
    let mut binds = vec![Bind::int(coop), Bind::date(before)];
    only(of, "farm_id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY farm_id, feed_id, date, created_at, id");
    conn.select(&columns, &sql, &binds)
}

/// One feed of a group's ration before fodder.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RationRow {
    pub id: Uuid,
    pub farm: Uuid,
    pub group: Uuid,
    pub feed: Uuid,
    /// Grams per animal-day.
    pub grams: i64,
    /// Day of recording.
    pub on: NaiveDate,
}

/// Rations, each group's in the order in which they were recorded and entered.
pub fn rations(conn: &mut Conn, coop: i64, of: Farms<'_>) -> Result<Vec<RationRow>, StoreError> {
    let columns = columns!("saving_rows::rations" {
        id: Uuid,
        farm: Uuid = "farm_id",
        group: Uuid = "animal_group_id",
        feed: Uuid = "feed_id",
        grams: i64 = "kg_per_animal_day",
        on: NaiveDate = "recorded_on",
    } => RationRow { id, farm, group, feed, grams, on });
    let mut sql = format!(
        "SELECT {columns} FROM baseline_rations WHERE coop_id = ? AND withdrawn_at IS NULL"
    );
    let mut binds = vec![Bind::int(coop)];
    only(of, "farm_id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY farm_id, animal_group_id, feed_id, recorded_on, created_at, id");
    conn.select(&columns, &sql, &binds)
}

/// Animal groups: farm, group, class of animal.
pub fn groups(
    conn: &mut Conn,
    coop: i64,
    of: Farms<'_>,
) -> Result<Vec<(Uuid, Uuid, String)>, StoreError> {
    let columns = columns!("saving_rows::groups" {
        farm: Uuid = "farm_id",
        id: Uuid,
        class: String = "animal_class",
    } => (farm, id, class));
    let mut sql =
        format!("SELECT {columns} FROM animal_groups WHERE coop_id = ? AND withdrawn_at IS NULL");
    let mut binds = vec![Bind::int(coop)];
    only(of, "farm_id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY farm_id, animal_class, code, id");
    conn.select(&columns, &sql, &binds)
}

/// Head counts: group and change, each group's in the order of the days and of entry.
pub fn heads(
    conn: &mut Conn,
    coop: i64,
    of: Farms<'_>,
) -> Result<Vec<(Uuid, HeadEvent)>, StoreError> {
    let columns = columns!("saving_rows::heads" {
        group: Uuid = "animal_group_id",
        date: NaiveDate,
        reason: String,
        head: i64,
    } => (group, HeadEvent { date, reason, head }));
    let mut sql =
        format!("SELECT {columns} FROM head_counts WHERE coop_id = ? AND withdrawn_at IS NULL");
    let mut binds = vec![Bind::int(coop)];
    only(of, "farm_id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY animal_group_id, date, created_at, id");
    conn.select(&columns, &sql, &binds)
}

/// Seed soaked for a group: farm, instant, group and grams. For farms with several classes of
/// animals; others need no split.
pub fn soaks_of_groups(
    conn: &mut Conn,
    coop: i64,
    of: &[Uuid],
) -> Result<Vec<(Uuid, i64, Uuid, i64)>, StoreError> {
    let columns = columns!("saving_rows::soaks_of_groups" {
        farm: Uuid = "e.farm_id",
        at: Instant = "e.at",
        group: Uuid = "b.animal_group_id",
        grams: i64 = "e.kg",
    } => (farm, at, group, grams));
    let mut sql = format!(
        "SELECT {columns} FROM batch_events e JOIN batches b ON b.coop_id = e.coop_id \
         AND b.id = e.batch_id WHERE e.coop_id = ? AND b.coop_id = ? AND e.event = 'soaked' \
         AND e.kg > 0 AND b.animal_group_id IS NOT NULL AND e.withdrawn_at IS NULL"
    );
    let mut binds = vec![Bind::int(coop), Bind::int(coop)];
    only(Some(of), "e.farm_id", &mut sql, &mut binds);
    conn.select(&columns, &sql, &binds)
}
