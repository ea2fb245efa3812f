//! What the review list reads of texts.

use crate::columns::{Instant, columns};
use crate::conn::{Bind, Conn, LIMIT};
use crate::error::StoreError;
use traybook_domain::Kind;
use traybook_domain::review::texts::{Undone, Weighed};
use uuid::Uuid;

/// Kinds of record that texts make and that belong to a farm.
const KINDS: [Kind; 4] = [Kind::MilkRecord, Kind::EggRecord, Kind::BatchEvent, Kind::WorkRecord];

/// Whether a text ever made a record.
pub fn has_records(conn: &mut Conn, coop: i64) -> Result<bool, StoreError> {
    let columns = columns!("texts::has_records" { version: i64 } => version);
    let sql = format!("SELECT {columns} FROM text_records WHERE coop_id = ? {LIMIT}");
    Ok(conn.select_one(&columns, &sql, &[Bind::int(coop), Bind::int(1)])?.is_some())
}

/// Records of texts since an instant that whoever wrote them took back.
pub fn undone(conn: &mut Conn, coop: i64, since: i64) -> Result<Vec<Undone>, StoreError> {
    let mut all = Vec::new();
    for kind in KINDS {
        let columns = columns!("texts::undone" {
            text: Uuid = "t.text_id",
            farm: Uuid = "r.farm_id",
            code: String = "f.code",
            record: Uuid = "r.id",
            at: Instant = "r.withdrawn_at",
        } => (text, (farm, code), record, at));
        let sql = format!(
            "SELECT {columns} FROM texts_in i \
             JOIN text_records t ON t.coop_id = i.coop_id AND t.text_id = i.id \
             JOIN {} r ON r.coop_id = t.coop_id AND r.id = t.id \
             JOIN farms f ON f.coop_id = r.coop_id AND f.id = r.farm_id \
             WHERE i.coop_id = ? AND i.taken_at >= ? AND i.outcome = 'record' AND t.kind = ? \
             AND r.withdrawn_at IS NOT NULL AND r.changed_by = r.created_by \
             ORDER BY r.withdrawn_at, r.id",
            kind.spec().table()
        );
        let binds = [Bind::int(coop), Bind::instant(since), Bind::text(kind.spec().one)];
        let found = conn.select(&columns, &sql, &binds)?.into_iter();
        all.extend(found.map(|(text, farm, record, at)| Undone {
            text,
            farm,
            record: (kind, record),
            at,
        }));
    }
    Ok(all)
}

/// Harvests and discards since an instant: those that came by text, and those that officers and
/// managers wrote. Which of these were at a visit is for the caller to say.
pub fn weighed(conn: &mut Conn, coop: i64, since: i64) -> Result<Vec<Weighed>, StoreError> {
    let columns = columns!("texts::weighed" {
        record: Uuid = "e.id",
        batch: Uuid = "e.batch_id",
        code: Option<String> = "b.code",
        farm: Uuid = "e.farm_id",
        event: String = "e.event",
        cause: Option<String> = "e.cause",
        at: Instant = "e.at",
        trays: Option<i64> = "e.trays",
        grams: Option<i64> = "e.kg",
        spread: i64 = "CAST(COALESCE((SELECT SUM(s.trays) FROM batch_events s \
            WHERE s.coop_id = ? AND s.batch_id = e.batch_id AND s.event = 'spread' \
            AND s.withdrawn_at IS NULL), 0) AS BIGINT)",
        text: Option<Uuid> = "t.text_id",
    } => Weighed {
        record,
        batch: (batch, code),
        farm,
        is_harvest: event == "harvested",
        cause,
        at,
        trays,
        grams,
        spread,
        is_text: text.is_some(),
    });
    let sql = format!(
        "SELECT {columns} FROM batch_events e \
         JOIN batches b ON b.coop_id = e.coop_id AND b.id = e.batch_id \
         LEFT JOIN text_records t ON t.coop_id = e.coop_id AND t.kind = 'batch_event' \
         AND t.id = e.id AND t.version = e.version \
         LEFT JOIN people p ON p.coop_id = e.coop_id AND p.id = e.created_by \
         WHERE e.coop_id = ? AND e.at >= ? AND e.withdrawn_at IS NULL \
         AND e.event IN ('harvested', 'discarded') \
         AND (t.text_id IS NOT NULL OR p.role IN ('officer', 'manager')) ORDER BY e.at, e.id"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::int(coop), Bind::instant(since)])
}

/// Farms with the instants at which a visit to them began, since an instant.
pub fn visits(conn: &mut Conn, coop: i64, since: i64) -> Result<Vec<(Uuid, i64)>, StoreError> {
    let columns = columns!("texts::visits" {
        farm: Uuid = "farm_id",
        at: Instant = "started_at",
    } => (farm, at));
    let sql = format!(
        "SELECT {columns} FROM visits WHERE coop_id = ? AND started_at >= ? \
         AND withdrawn_at IS NULL"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::instant(since)])
}
