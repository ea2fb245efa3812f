//! What goes with losses: the conditions of batches, as records have them; and the day's answer.

use crate::columns::{Instant, columns};
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use chrono::NaiveDate;
use std::collections::HashMap;
use uuid::Uuid;

/// Codes of sheds, of all farms or of one.
pub fn shed_codes(
    conn: &mut Conn,
    coop: i64,
    farm: Option<Uuid>,
) -> Result<HashMap<Uuid, String>, StoreError> {
    let columns = columns!("spoilage_rows::shed_codes" {
        shed: Uuid = "id",
        code: String,
    } => (shed, code));
    let mut sql = format!("SELECT {columns} FROM sheds WHERE coop_id = ?");
    let mut binds = vec![Bind::int(coop)];
    if let Some(farm) = farm {
        sql.push_str(" AND farm_id = ?");
        binds.push(Bind::id(farm));
    }
    Ok(conn.select(&columns, &sql, &binds)?.into_iter().collect())
}

/// What a batch was, besides its trays.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BatchRow {
    pub batch: Uuid,
    pub crop: String,
    /// Its own age at harvest, days.
    pub harvest_age_days: Option<i64>,
    /// Class of the animals it was grown for.
    pub class: Option<String>,
    /// Seed on a full tray of its shed, grams.
    pub load_g: Option<i64>,
}

/// The batches whose trays are kept since an instant.
pub fn batches(conn: &mut Conn, coop: i64, since_ms: i64) -> Result<Vec<BatchRow>, StoreError> {
    let columns = columns!("spoilage_rows::batches" {
        batch: Uuid = "b.id",
        crop: String = "b.crop",
        harvest_age_days: Option<i64> = "b.harvest_age_days",
        class: Option<String> = "g.animal_class",
        load_g: Option<i64> = "s.tray_load_kg",
    } => BatchRow { batch, crop, harvest_age_days, class, load_g });
    let sql = format!(
        "SELECT {columns} FROM batch_trays t \
         JOIN batches b ON b.coop_id = t.coop_id AND b.id = t.batch_id \
         LEFT JOIN animal_groups g ON g.coop_id = b.coop_id AND g.id = b.animal_group_id \
         LEFT JOIN sheds s ON s.coop_id = b.coop_id AND s.id = b.shed_id \
         WHERE t.coop_id = ? AND t.last_at >= ?"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::instant(since_ms)])
}

/// A reading of a shed or a farm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ReadingRow {
    pub farm: Uuid,
    pub shed: Option<Uuid>,
    /// When, milliseconds.
    pub at: i64,
    /// Tenths of a degree Celsius.
    pub temperature: i64,
    /// Tenths of a per cent.
    pub humidity: Option<i64>,
}

/// Readings since an instant.
pub fn readings(conn: &mut Conn, coop: i64, since_ms: i64) -> Result<Vec<ReadingRow>, StoreError> {
    let columns = columns!("spoilage_rows::readings" {
        farm: Uuid = "farm_id",
        shed: Option<Uuid> = "shed_id",
        at: Instant,
        temperature: i64 = "temperature_c",
        humidity: Option<i64> = "humidity_percent",
    } => ReadingRow { farm, shed, at, temperature, humidity });
    let sql = format!(
        "SELECT {columns} FROM readings WHERE coop_id = ? AND at >= ? AND withdrawn_at IS NULL \
         ORDER BY at, id"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::instant(since_ms)])
}

/// An answer, yes or no, to a checklist question.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CheckRow {
    pub farm: Uuid,
    pub item: Uuid,
    /// Begin of the visit, milliseconds.
    pub at: i64,
    /// Whether the answer was no.
    pub is_no: bool,
}

/// Answers, yes or no, of visits since an instant, in their order.
pub fn checks(conn: &mut Conn, coop: i64, since_ms: i64) -> Result<Vec<CheckRow>, StoreError> {
    let columns = columns!("spoilage_rows::checks" {
        farm: Uuid = "c.farm_id",
        item: Uuid = "c.checklist_item_id",
        at: Instant = "v.started_at",
        answer: String = "c.answer",
    } => CheckRow { farm, item, at, is_no: answer == "no" });
    let sql = format!(
        "SELECT {columns} FROM visits v \
         JOIN visit_checks c ON c.coop_id = v.coop_id AND c.visit_id = v.id \
         WHERE v.coop_id = ? AND v.started_at >= ? AND v.withdrawn_at IS NULL \
           AND c.withdrawn_at IS NULL AND c.answer IN ('yes', 'no') ORDER BY v.started_at, c.id"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::instant(since_ms)])
}

/// Where farms have their water from.
pub fn water_sources(conn: &mut Conn, coop: i64) -> Result<HashMap<Uuid, String>, StoreError> {
    let columns = columns!("spoilage_rows::water_sources" {
        farm: Uuid = "id",
        source: String = "water_source",
    } => (farm, source));
    let sql = format!(
        "SELECT {columns} FROM farms WHERE coop_id = ? AND water_source IS NOT NULL \
         AND withdrawn_at IS NULL"
    );
    Ok(conn.select(&columns, &sql, &[Bind::int(coop)])?.into_iter().collect())
}

/// Germination of seed lots in hundredths of a per cent, by their latest purchase with a test.
pub fn germination(conn: &mut Conn, coop: i64) -> Result<HashMap<Uuid, i64>, StoreError> {
    let columns = columns!("spoilage_rows::germination" {
        lot: Uuid = "seed_lot_id",
        percent: i64 = "germination_percent",
    } => (lot, percent));
    let sql = format!(
        "SELECT {columns} FROM seed_purchases WHERE coop_id = ? AND withdrawn_at IS NULL \
         AND germination_percent IS NOT NULL ORDER BY date, id"
    );
    Ok(conn.select(&columns, &sql, &[Bind::int(coop)])?.into_iter().collect())
}

/// The day's answer: the day, the version of its form, JSON.
pub fn why(conn: &mut Conn, coop: i64) -> Result<Option<(NaiveDate, i64, String)>, StoreError> {
    let columns = columns!("spoilage_rows::why" {
        day: NaiveDate,
        format: i64,
        body: String,
    } => (day, format, body));
    let sql = format!("SELECT {columns} FROM why_snapshots WHERE coop_id = ?");
    conn.select_one(&columns, &sql, &[Bind::int(coop)])
}

/// Keeps the day's answer in place of the last.
pub fn keep_why(
    conn: &mut Conn,
    coop: i64,
    (day, format, body): (NaiveDate, i64, &str),
) -> Result<(), StoreError> {
    let binds = [Bind::int(coop), Bind::date(day), Bind::int(format), Bind::text(body)];
    conn.exec(
        "INSERT INTO why_snapshots (coop_id, day, format, body) VALUES (?, ?, ?, ?) \
         ON CONFLICT (coop_id) DO UPDATE SET day = excluded.day, format = excluded.format, \
           body = excluded.body",
        &binds,
    )
    .map(drop)
}
