//! The kept sums: by farm and month, by feed, by seed lot, and animal-days.

use crate::batch_trays::batch_trays;
use crate::columns::{columns, unexpected};
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use crate::writing::Writing;
use chrono::NaiveDate;
use traybook_domain::effects::{Effects, MEASURE_COLUMNS};
use traybook_domain::herd::{HeadEvent, HerdMonth, herd_months};
use traybook_domain::{ColumnType, Value};
use uuid::Uuid;

/// Adds what a transaction's records moved.
///
/// # Errors
/// Those of the database.
pub fn add(writing: &mut Writing<'_>, effects: &Effects) -> Result<(), StoreError> {
    let coop = writing.coop();
    let adds = |table: &str, columns: &[&str]| {
        let list = columns.iter().map(|c| format!("{c} = {table}.{c} + excluded.{c}"));
        list.collect::<Vec<_>>().join(", ")
    };
    let upsert = |table: &str, keys: &[&str], columns: &[&str]| {
        let all = [&["coop_id"], keys, columns].concat();
        format!(
            "INSERT INTO {table} ({}) VALUES ({}) ON CONFLICT (coop_id, {}) DO UPDATE SET {}",
            all.join(", "),
            vec!["?"; all.len()].join(", "),
            keys.join(", "),
            adds(table, columns)
        )
    };
    let sql = upsert("farm_months", &["month", "farm_id"], MEASURE_COLUMNS);
    for ((farm, month), sums) in &effects.months {
        if sums.iter().all(|v| *v == 0) {
            continue;
        }
        let mut binds = vec![Bind::int(coop), Bind::int(month.number()), Bind::id(*farm)];
        binds.extend(sums.iter().map(|v| Bind::int(*v)));
        writing.moving().exec(&sql, &binds)?;
    }
    let keys = ["month", "farm_id", "feed_id"];
    let sql = upsert("farm_month_feeds", &keys, &["grams", "cost_minor", "records"]);
    for ((farm, month, feed), sums) in &effects.feeds {
        let mut binds = vec![Bind::int(coop), Bind::int(month.number())];
        binds.extend([Bind::id(*farm), Bind::id(*feed)]);
        binds.extend(sums.iter().map(|v| Bind::int(*v)));
        writing.moving().exec(&sql, &binds)?;
    }
    let sql = upsert("farm_month_lots", &["month", "farm_id", "lot_id"], &["grams"]);
    for ((farm, month, lot), grams) in &effects.lots {
        let mut binds = vec![Bind::int(coop), Bind::int(month.number())];
        binds.extend([Bind::id(*farm), Bind::id(*lot), Bind::int(*grams)]);
        writing.moving().exec(&sql, &binds)?;
    }
    let sql = upsert("farm_lots", &["farm_id", "lot_id"], &["issued_g", "issued_minor"]);
    for ((farm, lot), sums) in &effects.issues {
        let mut binds = vec![Bind::int(coop), Bind::id(*farm), Bind::id(*lot)];
        binds.extend(sums.iter().map(|v| Bind::int(*v)));
        writing.moving().exec(&sql, &binds)?;
    }
    let sql = upsert("lot_totals", &["lot_id"], &["bought_g", "paid_minor"]);
    for (lot, sums) in &effects.purchases {
        let mut binds = vec![Bind::int(coop), Bind::id(*lot)];
        binds.extend(sums.iter().map(|v| Bind::int(*v)));
        writing.moving().exec(&sql, &binds)?;
    }
    Ok(())
}

/// Counts a group's animal-days anew from its head counts.
///
/// # Errors
/// Those of the database.
pub fn recount_herd(writing: &mut Writing<'_>, group: Uuid) -> Result<(), StoreError> {
    let coop = writing.coop();
    let conn = writing.moving();
    let columns = columns!("sums::recount_herd" {
        date: NaiveDate,
        reason: String,
        head: i64,
    } => HeadEvent { date, reason, head });
    let sql = format!(
        "SELECT {columns} FROM head_counts WHERE coop_id = ? AND animal_group_id = ? \
         AND withdrawn_at IS NULL ORDER BY date, created_at, id"
    );
    let events = conn.select(&columns, &sql, &[Bind::int(coop), Bind::id(group)])?;
    conn.exec(
        "DELETE FROM herd_months WHERE coop_id = ? AND animal_group_id = ?",
        &[Bind::int(coop), Bind::id(group)],
    )?;
    for HerdMonth { month, animal_days, closing_head } in herd_months(&events) {
        conn.exec(
            "INSERT INTO herd_months (coop_id, animal_group_id, month, animal_days, closing_head) \
             VALUES (?, ?, ?, ?, ?)",
            &[
                Bind::int(coop),
                Bind::id(group),
                Bind::int(month.number()),
                Bind::int(animal_days),
                Bind::int(closing_head),
            ],
        )?;
    }
    Ok(())
}

/// Before any record: the year 1, milliseconds.
const YEAR_1_MS: i64 = -62_135_596_800_000;

/// Every kept sum of a co-operative as text lines, sorted, zeros left out; for the test that
/// builds them anew from the records.
///
/// # Errors
/// Those of the database.
pub fn dump(conn: &mut Conn, coop: i64) -> Result<Vec<String>, StoreError> {
    let tables: [(&str, &[&str], &[&str]); 6] = [
        ("farm_months", &["farm_id"], MEASURE_COLUMNS),
        ("farm_month_feeds", &["farm_id", "feed_id"], &["grams", "cost_minor", "records"]),
        ("farm_month_lots", &["farm_id", "lot_id"], &["grams"]),
        ("farm_lots", &["farm_id", "lot_id"], &["issued_g", "issued_minor"]),
        ("lot_totals", &["lot_id"], &["bought_g", "paid_minor"]),
        ("herd_months", &["animal_group_id"], &["animal_days", "closing_head"]),
    ];
    let mut lines = Vec::new();
    for (table, ids, numbers) in tables {
        let month = if table.contains("month") { vec!["month"] } else { vec!["0"] };
        let month = if month == ["0"] { "CAST(0 AS BIGINT)" } else { "month" };
        let list = [ids, numbers].concat().join(", ");
        let sql = format!("SELECT {month}, {list} FROM {table} WHERE coop_id = ?");
        let mut types = vec![ColumnType::Int];
        types.extend(ids.iter().map(|_| ColumnType::Id));
        types.extend(numbers.iter().map(|_| ColumnType::Int));
        for row in conn.rows(&sql, &[Bind::int(coop)], &types)? {
            let (key, sums) = row.split_at(1 + ids.len());
            let sum = |v: &Value| v.as_int().ok_or_else(|| unexpected("sums::dump"));
            let sums = sums.iter().map(sum).collect::<Result<Vec<i64>, _>>()?;
            if sums.iter().any(|v| *v != 0) {
                let key: Vec<String> = key.iter().map(|v| format!("{v:?}")).collect();
                lines.push(format!("{table} {} {sums:?}", key.join(" ")));
            }
        }
    }
    for trays in batch_trays(conn, coop, YEAR_1_MS, None)? {
        lines.push(format!("{trays:?}"));
    }
    lines.sort();
    Ok(lines)
}

/// Removes every kept sum of a co-operative, to be built anew.
///
/// # Errors
/// Those of the database.
pub fn clear(writing: &mut Writing<'_>) -> Result<(), StoreError> {
    let coop = writing.coop();
    for table in [
        "farm_months",
        "farm_month_feeds",
        "farm_month_lots",
        "farm_lots",
        "lot_totals",
        "herd_months",
        "batch_trays",
    ] {
        let sql = format!("DELETE FROM {table} WHERE coop_id = ?");
        writing.moving().exec(&sql, &[Bind::int(coop)])?;
    }
    Ok(())
}
