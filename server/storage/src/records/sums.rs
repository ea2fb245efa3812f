//! The kept sums: by farm and month, by feed, by seed lot, and animal-days.

use crate::columns::{columns, unexpected};
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use crate::planning::batch_trays::batch_trays;
use crate::writing::Writing;
use chrono::NaiveDate;
use traybook_domain::effects::{ACCOUNT_COLUMNS, Effects, MEASURE_COLUMNS, OutputBin};
use traybook_domain::herd::{HeadEvent, HerdMonth, herd_months};
use traybook_domain::{ColumnType, Value};
use uuid::Uuid;

/// Adds what a transaction's records moved.
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
    let sql = upsert("seed_accounts", &["farm_id"], &ACCOUNT_COLUMNS);
    for (farm, sums) in effects.accounts.iter().filter(|(_, sums)| sums.iter().any(|v| *v != 0)) {
        let mut binds = vec![Bind::int(coop), Bind::id(*farm)];
        binds.extend(sums.iter().map(|v| Bind::int(*v)));
        writing.moving().exec(&sql, &binds)?;
    }
    let keys = ["is_milk", "farm_id", "month", "half_octave"];
    let sql = upsert("output_bins", &keys, &BIN_COLUMNS);
    for (key, bin) in effects.bins.iter().filter(|(_, bin)| **bin != OutputBin::default()) {
        let mut binds = vec![Bind::int(coop), Bind::bool(key.is_milk), Bind::id(key.farm)];
        binds.extend([Bind::int(key.month.number()), Bind::int(key.half_octave.into())]);
        let OutputBin { records, amount, animals, stage, stage_animals } = *bin;
        binds.extend([records, amount, animals, stage, stage_animals].map(Bind::int));
        writing.moving().exec(&sql, &binds)?;
    }
    Ok(())
}

/// Numbers of a bin, in the order of [`OutputBin`].
const BIN_COLUMNS: [&str; 5] = ["records", "amount", "animals", "stage", "stage_animals"];

/// Form of the kept sums. Where a co-operative's are of an older one, the program fills them up.
pub const FORM: i64 = 1;

/// Co-operatives whose sums are of an older form.
pub fn behind(conn: &mut Conn) -> Result<Vec<i64>, StoreError> {
    let columns = columns!("sums::behind" { coop: i64 = "coop_id" } => coop);
    let sql = format!("SELECT {columns} FROM coop_counters WHERE sums_form < ? ORDER BY coop_id");
    conn.select(&columns, &sql, &[Bind::int(FORM)])
}

/// Notes that a co-operative's sums are of this program's form.
pub fn are_filled(writing: &mut Writing<'_>) -> Result<(), StoreError> {
    let binds = [Bind::int(FORM), Bind::int(writing.coop())];
    let sql = "UPDATE coop_counters SET sums_form = ? WHERE coop_id = ?";
    writing.moving().exec(sql, &binds).map(drop)
}

/// Removes the bins of farms, to be filled anew.
pub fn clear_bins(writing: &mut Writing<'_>, farms: &[Uuid]) -> Result<(), StoreError> {
    let coop = writing.coop();
    for farm in farms {
        for is_milk in [true, false] {
            writing.moving().exec(
                "DELETE FROM output_bins WHERE coop_id = ? AND is_milk = ? AND farm_id = ?",
                &[Bind::int(coop), Bind::bool(is_milk), Bind::id(*farm)],
            )?;
        }
    }
    Ok(())
}

/// Counts a group's animal-days anew from its head counts.
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

/// A kept table: its name, whole numbers and ids of its key, and its sums.
type KeptTable =
    (&'static str, &'static [&'static str], &'static [&'static str], &'static [&'static str]);

/// Before any record: the year 1, milliseconds.
const YEAR_1_MS: i64 = -62_135_596_800_000;

/// Every kept sum of a co-operative as text lines, sorted, zeros left out; for the test that
/// builds them anew from the records.
pub fn dump(conn: &mut Conn, coop: i64) -> Result<Vec<String>, StoreError> {
    let month: &[&str] = &["month"];
    let bin: &[&str] = &["month", "half_octave", "CASE WHEN is_milk THEN 1 ELSE 0 END"];
    let tables: [KeptTable; 8] = [
        ("farm_months", month, &["farm_id"], MEASURE_COLUMNS),
        ("farm_month_feeds", month, &["farm_id", "feed_id"], &["grams", "cost_minor", "records"]),
        ("farm_month_lots", month, &["farm_id", "lot_id"], &["grams"]),
        ("farm_lots", &[], &["farm_id", "lot_id"], &["issued_g", "issued_minor"]),
        ("lot_totals", &[], &["lot_id"], &["bought_g", "paid_minor"]),
        ("seed_accounts", &[], &["farm_id"], &ACCOUNT_COLUMNS),
        ("herd_months", month, &["animal_group_id"], &["animal_days", "closing_head"]),
        ("output_bins", bin, &["farm_id"], &BIN_COLUMNS),
    ];
    let mut lines = Vec::new();
    for (table, places, ids, numbers) in tables {
        let whole = |column: &&str| format!("CAST({column} AS BIGINT)");
        let places: Vec<String> = places.iter().map(whole).collect();
        let list: Vec<&str> =
            places.iter().map(String::as_str).chain(ids.iter().chain(numbers).copied()).collect();
        let sql = format!("SELECT {} FROM {table} WHERE coop_id = ?", list.join(", "));
        let mut types = vec![ColumnType::Int; places.len()];
        types.extend(ids.iter().map(|_| ColumnType::Id));
        types.extend(numbers.iter().map(|_| ColumnType::Int));
        for row in conn.rows(&sql, &[Bind::int(coop)], &types)? {
            let (key, sums) = row.split_at(places.len() + ids.len());
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
pub fn clear(writing: &mut Writing<'_>) -> Result<(), StoreError> {
    let coop = writing.coop();
    for table in [
        "farm_months",
        "farm_month_feeds",
        "farm_month_lots",
        "farm_lots",
        "lot_totals",
        "seed_accounts",
        "herd_months",
        "batch_trays",
        "output_bins",
    ] {
        let sql = format!("DELETE FROM {table} WHERE coop_id = ?");
        writing.moving().exec(&sql, &[Bind::int(coop)])?;
    }
    Ok(())
}
