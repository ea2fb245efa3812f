//! What the review list reads: a bounded window of records, summed by batch where sums do.

use crate::conn::{Bind, Conn, Row};
use crate::error::StoreError;
use crate::event_sums::{first, last, of_mould, sum, without};
use crate::farm_rows::{Farms, only};
use chrono::NaiveDate;
use std::collections::HashMap;
use traybook_domain::effects::DayRecord;
use traybook_domain::herd::HeadEvent;
use traybook_domain::review::batches::BatchFigures;
use traybook_domain::review::values::{Output, OutputRow};
use traybook_domain::{ColumnType, Kind, Value};
use uuid::Uuid;

fn int(r: &Row, i: usize) -> Option<i64> {
    r.get(i).and_then(Value::as_int)
}

fn id(r: &Row, i: usize) -> Option<Uuid> {
    r.get(i).and_then(Value::as_id)
}

fn text(r: &Row, i: usize) -> Option<String> {
    r.get(i).and_then(Value::as_text).map(str::to_owned)
}

/// Every batch with an event since an instant, of all farms or of these, summed over these events, in the order of the first
/// of them. Batches that were soaked before are left out: half of their events would be missing.
///
/// # Errors
/// Those of the database.
pub fn batches(
    conn: &mut Conn,
    coop: i64,
    since_ms: i64,
    of: Farms<'_>,
) -> Result<Vec<BatchFigures>, StoreError> {
    use ColumnType::{Id, Instant, Int, Text};
    let columns = [
        (first("soaked"), Instant),
        (sum("soaked", "kg"), Int),
        (first("spread"), Instant),
        (sum("spread", "trays"), Int),
        (first("harvested"), Instant),
        (sum("harvested", "trays"), Int),
        (sum("harvested", "kg"), Int),
        (without("harvested", "kg"), Int),
        (first("fed_out"), Instant),
        (last("fed_out"), Instant),
        (sum("fed_out", "kg"), Int),
        (first("discarded"), Instant),
        (sum("discarded", "trays"), Int),
        (format!("MIN({})", of_mould("at")), Instant),
        ("MIN(at)".to_owned(), Instant),
        ("MAX(CASE WHEN event = 'fed_out' THEN reason END)".to_owned(), Text),
    ];
    let inner: Vec<String> =
        columns.iter().enumerate().map(|(i, (sql, _))| format!("{sql} AS c{i}")).collect();
    let outer: Vec<String> = (0..columns.len()).map(|i| format!("t.c{i}")).collect();
    let (mut these, mut farms) = (String::new(), Vec::new());
    only(of, "farm_id", &mut these, &mut farms);
    let sql = format!(
        "SELECT b.id, b.code, b.farm_id, b.shed_id, b.seed_lot_id, g.animal_class, \
         b.harvest_age_days, {} FROM (SELECT batch_id, {} FROM batch_events \
           WHERE coop_id = ? AND at >= ? AND withdrawn_at IS NULL{these} GROUP BY batch_id) t \
         JOIN batches b ON b.coop_id = ? AND b.id = t.batch_id \
         LEFT JOIN animal_groups g ON g.coop_id = b.coop_id AND g.id = b.animal_group_id \
         WHERE b.withdrawn_at IS NULL AND (t.c0 IS NOT NULL OR NOT EXISTS (SELECT 1 FROM \
           batch_events x WHERE x.coop_id = b.coop_id AND x.batch_id = b.id AND x.at < ? AND \
           x.withdrawn_at IS NULL)) ORDER BY t.c14, b.id",
        outer.join(", "),
        inner.join(", ")
    );
    let mut binds = vec![Bind::int(coop), Bind::instant(since_ms)];
    binds.extend(farms);
    binds.extend([Bind::int(coop), Bind::instant(since_ms)]);
    let mut types = vec![Id, Text, Id, Id, Id, Text, Int];
    types.extend(columns.iter().map(|c| c.1));
    let at = |r: &Row, i: usize| r.get(7 + i).and_then(Value::as_instant);
    let one = |r: &Row| {
        Some(BatchFigures {
            batch: id(r, 0)?,
            code: text(r, 1),
            farm: id(r, 2)?,
            shed: id(r, 3)?,
            lot: id(r, 4),
            class: text(r, 5),
            harvest_age_days: int(r, 6),
            soaked: (at(r, 0), int(r, 8)?),
            spread: (at(r, 2), int(r, 10)?),
            harvested: (at(r, 4), int(r, 12)?),
            harvested_g: int(r, 13)?,
            unweighed: int(r, 14)?,
            fed: (at(r, 8), at(r, 9), int(r, 17)?),
            fed_reason: text(r, 22),
            discarded: (at(r, 11), int(r, 19)?),
            mould: at(r, 13),
        })
    };
    conn.read(&sql, &binds, &types, one)
}

/// Places of every shed of farms, all or these.
///
/// # Errors
/// Those of the database.
pub fn places(conn: &mut Conn, coop: i64, of: Farms<'_>) -> Result<HashMap<Uuid, i64>, StoreError> {
    let mut sql = "SELECT id, tray_places FROM sheds WHERE coop_id = ?".to_owned();
    let mut binds = vec![Bind::int(coop)];
    only(of, "farm_id", &mut sql, &mut binds);
    let rows = conn.rows(&sql, &binds, &[ColumnType::Id, ColumnType::Int])?;
    Ok(rows.iter().filter_map(|r| Some((id(r, 0)?, int(r, 1)?))).collect())
}

/// Milk or egg records from a day on, of all farms or of these.
///
/// # Errors
/// Those of the database.
pub fn outputs(
    conn: &mut Conn,
    coop: i64,
    output: Output,
    from: NaiveDate,
    of: Farms<'_>,
) -> Result<Vec<OutputRow>, StoreError> {
    use ColumnType::{Date, Id, Instant, Int, Text};
    let (table, session, amount, animals) = match output {
        Output::Milk => ("milk_records", "session", "litres", "animals_in_milk"),
        Output::Eggs => ("egg_records", "'day'", "eggs", "hens_present"),
    };
    let mut sql = format!(
        "SELECT id, animal_group_id, farm_id, date, CAST({session} AS TEXT), {amount}, {animals}, \
         created_at FROM {table} WHERE coop_id = ? AND date >= ? AND withdrawn_at IS NULL"
    );
    let mut binds = vec![Bind::int(coop), Bind::date(from)];
    only(of, "farm_id", &mut sql, &mut binds);
    let types = [Id, Id, Id, Date, Text, Int, Int, Instant];
    let row = |r: &Row| {
        Some(OutputRow {
            group: (id(r, 1)?, id(r, 2)?),
            date: r.get(3)?.as_date()?,
            record: DayRecord {
                id: id(r, 0)?,
                entered: r.get(7)?.as_instant()?,
                session: text(r, 4)?,
                amount: int(r, 5)?,
                animals: int(r, 6)?,
                cracked: 0,
                stage: None,
            },
        })
    };
    conn.read(&sql, &binds, &types, row)
}

/// A change of a group's head: group, farm, record, change.
pub type HeadRow = (Uuid, Uuid, Uuid, HeadEvent);

/// Changes of head from a day on, by group in the order in which they apply.
///
/// # Errors
/// Those of the database.
pub fn head_counts(
    conn: &mut Conn,
    coop: i64,
    from: NaiveDate,
) -> Result<Vec<HeadRow>, StoreError> {
    use ColumnType::{Date, Id, Int, Text};
    let rows = conn.rows(
        "SELECT animal_group_id, farm_id, id, date, reason, head FROM head_counts \
         WHERE coop_id = ? AND date >= ? AND withdrawn_at IS NULL \
         ORDER BY animal_group_id, date, created_at, id",
        &[Bind::int(coop), Bind::date(from)],
        &[Id, Id, Id, Date, Text, Int],
    )?;
    let row = |r: &Row| {
        let event = HeadEvent { date: r.get(3)?.as_date()?, reason: text(r, 4)?, head: int(r, 5)? };
        Some((id(r, 0)?, id(r, 1)?, id(r, 2)?, event))
    };
    Ok(rows.iter().filter_map(row).collect())
}

/// Codes of the animal groups.
///
/// # Errors
/// Those of the database.
pub fn group_codes(conn: &mut Conn, coop: i64) -> Result<HashMap<Uuid, String>, StoreError> {
    let sql = "SELECT id, code FROM animal_groups WHERE coop_id = ?";
    let rows = conn.rows(sql, &[Bind::int(coop)], &[ColumnType::Id, ColumnType::Text])?;
    Ok(rows.iter().filter_map(|r| Some((id(r, 0)?, text(r, 1)?))).collect())
}

/// What a farm records of itself: table and the column that dates a record.
const OWN_RECORDS: [(&str, &str, bool); 8] = [
    ("milk_records", "date", false),
    ("egg_records", "date", false),
    ("head_counts", "date", false),
    ("feed_purchases", "date", false),
    ("other_costs", "date", false),
    ("batch_events", "at", true),
    ("readings", "at", true),
    ("work_records", "at", true),
];

/// The last day of any record that a farm makes of itself, from a day on (which begins at an
/// instant) or at any time; of all farms or of these. Visits are the officer's and do not count.
///
/// # Errors
/// Those of the database.
pub fn last_days(
    conn: &mut Conn,
    coop: i64,
    from: Option<(NaiveDate, i64)>,
    farms: Farms<'_>,
    local: &dyn Fn(i64) -> NaiveDate,
) -> Result<HashMap<Uuid, NaiveDate>, StoreError> {
    let mut last: HashMap<Uuid, NaiveDate> = HashMap::new();
    let chunks: Vec<Option<&[Uuid]>> = match farms {
        None => vec![None],
        Some(farms) => farms.chunks(64).map(Some).collect(),
    };
    for chunk in chunks {
        for (table, column, is_instant) in OWN_RECORDS {
            let mut binds = vec![Bind::int(coop)];
            let mut only = String::new();
            if let Some((day, instant)) = from {
                binds.push(if is_instant { Bind::instant(instant) } else { Bind::date(day) });
                only.push_str(&format!(" AND {column} >= ?"));
            }
            if let Some(farms) = chunk {
                // One length of list, so that one statement is prepared.
                let pad = std::iter::repeat(farms.last().copied().unwrap_or_default());
                binds.extend(farms.iter().copied().chain(pad).take(64).map(Bind::id));
                only.push_str(&format!(" AND farm_id IN ({})", vec!["?"; 64].join(", ")));
            }
            // Grouped by what no index holds in order: SQLite would else read every record there
            // ever was in the order of farms, rather than the last days.
            let farm = if chunk.is_none() { "COALESCE(farm_id, farm_id)" } else { "farm_id" };
            let sql = format!(
                "SELECT {farm}, MAX({column}) FROM {table} WHERE coop_id = ?{only} AND \
                 withdrawn_at IS NULL GROUP BY {farm}"
            );
            let ty = if is_instant { ColumnType::Instant } else { ColumnType::Date };
            for r in conn.rows(&sql, &binds, &[ColumnType::Id, ty])? {
                let value = r.get(1);
                let day = value
                    .and_then(Value::as_date)
                    .or_else(|| value.and_then(Value::as_instant).map(local));
                if let (Some(farm), Some(day)) = (id(&r, 0), day) {
                    let slot = last.entry(farm).or_insert(day);
                    *slot = day.max(*slot);
                }
            }
        }
    }
    Ok(last)
}

/// Versions of records.
///
/// # Errors
/// Those of the database.
pub fn versions(
    conn: &mut Conn,
    coop: i64,
    kind: Kind,
    ids: &[Uuid],
) -> Result<HashMap<Uuid, i64>, StoreError> {
    let sql = format!(
        "SELECT id, version FROM {} WHERE coop_id = ? AND id IN ({})",
        kind.spec().table(),
        vec!["?"; 64].join(", ")
    );
    let mut all = HashMap::new();
    for chunk in ids.chunks(64) {
        let pad = std::iter::repeat(chunk.last().copied().unwrap_or_default());
        let mut binds = vec![Bind::int(coop)];
        binds.extend(chunk.iter().copied().chain(pad).take(64).map(Bind::id));
        let rows = conn.rows(&sql, &binds, &[ColumnType::Id, ColumnType::Int])?;
        all.extend(rows.iter().filter_map(|r| Some((id(r, 0)?, int(r, 1)?))));
    }
    Ok(all)
}
