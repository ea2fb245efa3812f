//! What the review list reads: a bounded window of records, summed by batch where sums do.

use crate::columns::{Columns, Instant, columns};
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use crate::records::event_sums::{first, last, of_mould, sum, without};
use crate::records::farm_rows::{Farms, only};
use chrono::NaiveDate;
use std::collections::HashMap;
use traybook_domain::Kind;
use traybook_domain::effects::DayRecord;
use traybook_domain::herd::HeadEvent;
use traybook_domain::review::batches::BatchFigures;
use traybook_domain::review::mould::Feeding;
use traybook_domain::review::values::{Output, OutputRow};
use uuid::Uuid;

/// Every batch with an event since an instant, of all farms or of these, summed over these events, in the order of the first
/// of them. Batches that were soaked before are left out: half of their events would be missing.
pub fn batches(
    conn: &mut Conn,
    coop: i64,
    since_ms: i64,
    of: Farms<'_>,
) -> Result<Vec<BatchFigures>, StoreError> {
    let sums = [
        ("soaked_at", first("soaked")),
        ("soaked_g", sum("soaked", "kg")),
        ("spread_at", first("spread")),
        ("spread", sum("spread", "trays")),
        ("harvested_at", first("harvested")),
        ("harvested", sum("harvested", "trays")),
        ("harvested_g", sum("harvested", "kg")),
        ("unweighed", without("harvested", "kg")),
        ("fed_first", first("fed_out")),
        ("fed_last", last("fed_out")),
        ("fed_g", sum("fed_out", "kg")),
        ("fed_reason", "MAX(CASE WHEN event = 'fed_out' THEN reason END)".to_owned()),
        ("discarded_at", first("discarded")),
        ("discarded", sum("discarded", "trays")),
        ("thrown_g", sum("discarded", "kg")),
        ("mould_at", format!("MIN({})", of_mould("at"))),
        ("mould_trays", "MAX(mould_trays)".to_owned()),
        ("first_at", "MIN(at)".to_owned()),
    ];
    let sums = sums.map(|(name, sum)| format!("{sum} AS {name}")).join(", ");
    let columns = batch_columns();
    let (mut these, mut farms) = (String::new(), Vec::new());
    only(of, "farm_id", &mut these, &mut farms);
    let sql = format!(
        "SELECT {columns} FROM (SELECT batch_id, {sums} FROM batch_events \
           WHERE coop_id = ? AND at >= ? AND withdrawn_at IS NULL{these} GROUP BY batch_id) t \
         JOIN batches b ON b.coop_id = ? AND b.id = t.batch_id \
         LEFT JOIN animal_groups g ON g.coop_id = b.coop_id AND g.id = b.animal_group_id \
         WHERE b.withdrawn_at IS NULL AND (t.soaked_at IS NOT NULL OR NOT EXISTS (SELECT 1 FROM \
           batch_events x WHERE x.coop_id = ? AND x.batch_id = b.id AND x.at < ? AND \
           x.withdrawn_at IS NULL)) ORDER BY t.first_at, b.id"
    );
    let mut binds = vec![Bind::int(coop), Bind::instant(since_ms)];
    binds.extend(farms);
    binds.extend([Bind::int(coop), Bind::int(coop), Bind::instant(since_ms)]);
    let mut all = conn.select(&columns, &sql, &binds)?;
    mouldy_events(conn, coop, &mut all)?;
    Ok(all)
}

/// A discard or a feeding: when, which, its trays, whether it says that there was mould.
type Outcome = (i64, String, Option<i64>, bool);

/// Of batches with mould, when trays were discarded and when they were fed.
fn mouldy_events(conn: &mut Conn, coop: i64, all: &mut [BatchFigures]) -> Result<(), StoreError> {
    let columns = columns!("review_rows::mouldy_events" {
        batch: Uuid = "batch_id",
        at: Instant,
        event: String,
        trays: Option<i64>,
        mould: Option<i64> = format!("CAST({} AS BIGINT)", of_mould("1")),
    } => (batch, at, event, trays, mould.is_some()));
    let of: Vec<Uuid> = all.iter().filter(|b| b.mould.is_some()).map(|b| b.batch).collect();
    let mut found: HashMap<Uuid, Vec<Outcome>> = HashMap::new();
    for chunk in of.chunks(64) {
        let pad = std::iter::repeat(chunk.last().copied().unwrap_or_default());
        let mut binds = vec![Bind::int(coop)];
        binds.extend(chunk.iter().copied().chain(pad).take(64).map(Bind::id));
        let sql = format!(
            "SELECT {columns} FROM batch_events WHERE coop_id = ? AND batch_id IN ({}) \
             AND withdrawn_at IS NULL AND event IN ('discarded', 'fed_out')",
            vec!["?"; 64].join(", ")
        );
        for (batch, at, event, trays, mouldy) in conn.select(&columns, &sql, &binds)? {
            found.entry(batch).or_default().push((at, event, trays, mouldy));
        }
    }
    for batch in all {
        for (at, event, trays, mouldy) in found.remove(&batch.batch).unwrap_or_default() {
            match event.as_str() {
                "discarded" => batch.thrown.push((at, trays.unwrap_or(0))),
                _ => batch.feedings.push(Feeding { at, mouldy }),
            }
        }
    }
    Ok(())
}

fn batch_columns() -> Columns<BatchFigures> {
    columns!("review_rows::batches" {
        batch: Uuid = "b.id",
        code: Option<String> = "b.code",
        farm: Uuid = "b.farm_id",
        shed: Uuid = "b.shed_id",
        lot: Option<Uuid> = "b.seed_lot_id",
        class: Option<String> = "g.animal_class",
        harvest_age_days: Option<i64> = "b.harvest_age_days",
        soaked_at: Option<Instant> = "t.soaked_at",
        soaked_g: i64 = "t.soaked_g",
        spread_at: Option<Instant> = "t.spread_at",
        spread: i64 = "t.spread",
        harvested_at: Option<Instant> = "t.harvested_at",
        harvested: i64 = "t.harvested",
        harvested_g: i64 = "t.harvested_g",
        unweighed: i64 = "t.unweighed",
        fed_first: Option<Instant> = "t.fed_first",
        fed_last: Option<Instant> = "t.fed_last",
        fed_g: i64 = "t.fed_g",
        fed_reason: Option<String> = "t.fed_reason",
        discarded_at: Option<Instant> = "t.discarded_at",
        discarded: i64 = "t.discarded",
        thrown_g: i64 = "t.thrown_g",
        mould: Option<Instant> = "t.mould_at",
        mould_trays: Option<i64> = "t.mould_trays",
    } => BatchFigures {
        batch,
        code,
        farm,
        shed,
        lot,
        class,
        harvest_age_days,
        soaked: (soaked_at, soaked_g),
        spread: (spread_at, spread),
        harvested: (harvested_at, harvested),
        harvested_g,
        unweighed,
        fed: (fed_first, fed_last, fed_g),
        fed_reason,
        discarded: (discarded_at, discarded),
        thrown_g,
        mould,
        mould_trays,
        thrown: Vec::new(),
        feedings: Vec::new(),
    })
}

/// Places of every shed of farms, all or these.
pub fn places(conn: &mut Conn, coop: i64, of: Farms<'_>) -> Result<HashMap<Uuid, i64>, StoreError> {
    let columns = columns!("review_rows::places" { id: Uuid, tray_places: i64 } => {
        (id, tray_places)
    });
    let mut sql = format!("SELECT {columns} FROM sheds WHERE coop_id = ?");
    let mut binds = vec![Bind::int(coop)];
    only(of, "farm_id", &mut sql, &mut binds);
    Ok(conn.select(&columns, &sql, &binds)?.into_iter().collect())
}

/// Milk or egg records from a day on, of all farms or of these.
pub fn outputs(
    conn: &mut Conn,
    coop: i64,
    output: Output,
    from: NaiveDate,
    of: Farms<'_>,
) -> Result<Vec<OutputRow>, StoreError> {
    let (table, session, amount, animals) = match output {
        Output::Milk => ("milk_records", "session", "litres", "animals_in_milk"),
        Output::Eggs => ("egg_records", "'day'", "eggs", "hens_present"),
    };
    let columns = columns!("review_rows::outputs" {
        id: Uuid,
        group: Uuid = "animal_group_id",
        farm: Uuid = "farm_id",
        date: NaiveDate,
        session: String = format!("CAST({session} AS TEXT)"),
        amount: i64 = amount,
        animals: i64 = animals,
        entered: Instant = "created_at",
    } => OutputRow {
        group: (group, farm),
        date,
        record: DayRecord { id, entered, session, amount, animals, cracked: 0, stage: None },
    });
    let mut sql = format!(
        "SELECT {columns} FROM {table} WHERE coop_id = ? AND date >= ? AND withdrawn_at IS NULL"
    );
    let mut binds = vec![Bind::int(coop), Bind::date(from)];
    only(of, "farm_id", &mut sql, &mut binds);
    conn.select(&columns, &sql, &binds)
}

/// A change of a group's head: group, farm, record, change.
pub type HeadRow = (Uuid, Uuid, Uuid, HeadEvent);

/// Changes of head from a day on, of all farms or of these, by group in the order in which they apply.
pub fn head_counts(
    conn: &mut Conn,
    coop: i64,
    from: NaiveDate,
    of: Farms<'_>,
) -> Result<Vec<HeadRow>, StoreError> {
    let columns = columns!("review_rows::head_counts" {
        group: Uuid = "animal_group_id",
        farm: Uuid = "farm_id",
        id: Uuid,
        date: NaiveDate,
        reason: String,
        head: i64,
    } => (group, farm, id, HeadEvent { date, reason, head }));
    let mut sql = format!(
        "SELECT {columns} FROM head_counts \
         WHERE coop_id = ? AND date >= ? AND withdrawn_at IS NULL"
    );
    let mut binds = vec![Bind::int(coop), Bind::date(from)];
    only(of, "farm_id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY animal_group_id, date, created_at, id");
    conn.select(&columns, &sql, &binds)
}

/// Codes of the animal groups.
pub fn group_codes(conn: &mut Conn, coop: i64) -> Result<HashMap<Uuid, String>, StoreError> {
    let columns = columns!("review_rows::group_codes" { id: Uuid, code: String } => (id, code));
    let sql = format!("SELECT {columns} FROM animal_groups WHERE coop_id = ?");
    Ok(conn.select(&columns, &sql, &[Bind::int(coop)])?.into_iter().collect())
}

/// What a farm records of itself: table and the column that dates a record.
const OWN_RECORDS: [(&str, &str, bool); 9] = [
    ("milk_records", "date", false),
    ("egg_records", "date", false),
    ("head_counts", "date", false),
    ("feed_purchases", "date", false),
    ("feed_counts", "date", false),
    ("other_costs", "date", false),
    ("batch_events", "at", true),
    ("readings", "at", true),
    ("work_records", "at", true),
];

/// The last day of any record that a farm makes of itself, from a day on (which begins at an
/// instant) or at any time; of all farms or of these. Visits are the officer's and do not count.
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
            let columns = if is_instant {
                columns!("review_rows::last_days" {
                    farm: Uuid = farm,
                    at: Instant = format!("MAX({column})"),
                } => (farm, Err(at)))
            } else {
                columns!("review_rows::last_days" {
                    farm: Uuid = farm,
                    day: NaiveDate = format!("MAX({column})"),
                } => (farm, Ok(day)))
            };
            let sql = format!(
                "SELECT {columns} FROM {table} WHERE coop_id = ?{only} AND \
                 withdrawn_at IS NULL GROUP BY {farm}"
            );
            for (farm, day) in conn.select(&columns, &sql, &binds)? {
                let day = day.unwrap_or_else(local);
                let slot = last.entry(farm).or_insert(day);
                *slot = day.max(*slot);
            }
        }
    }
    Ok(last)
}

/// Versions of records.
pub fn versions(
    conn: &mut Conn,
    coop: i64,
    kind: Kind,
    ids: &[Uuid],
) -> Result<HashMap<Uuid, i64>, StoreError> {
    let columns = columns!("review_rows::versions" { id: Uuid, version: i64 } => (id, version));
    let sql = format!(
        "SELECT {columns} FROM {} WHERE coop_id = ? AND id IN ({})",
        kind.spec().table(),
        vec!["?"; 64].join(", ")
    );
    let mut all = HashMap::new();
    for chunk in ids.chunks(64) {
        let pad = std::iter::repeat(chunk.last().copied().unwrap_or_default());
        let mut binds = vec![Bind::int(coop)];
        binds.extend(chunk.iter().copied().chain(pad).take(64).map(Bind::id));
        all.extend(conn.select(&columns, &sql, &binds)?);
    }
    Ok(all)
}
