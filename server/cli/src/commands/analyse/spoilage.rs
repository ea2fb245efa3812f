//! Which farms keep spoiling trays, and whether the seed was the cause.

use super::answer::{Answer, interval};
use super::args::Spoilage as Asked;
use super::lots::{TRAILING_DAYS, share_interval};
use super::read::{Column, Names, Row, Table};
use chrono::{Datelike as _, NaiveDate};
use serde_json::{Value, json};
use traybook_analytics::lots::{LotAnswer, LotBatch, LotRules, lot_or_farm};
use traybook_analytics::sentences::{lots_sentence, spoilage_sentence};
use traybook_analytics::spoilage::{Batch, Charter, FarmChart, Spoilage as Made, Step, spoilage};

const METHOD: &str = "capped cumulative sum of beta-binomial likelihood ratios of the accepted share \
    discarded, 4 to 8 %, against 11 percentage points more (Page 1954; Lorden 1971; Lucas & Crosier \
    1982), batches of lots that spoil on other farms skipped; discard share with 95 % Wilson interval on \
    effective trays";

struct Entry {
    farm: usize,
    name: String,
    date: NaiveDate,
    batch: Option<(u32, u32)>,
    class: Option<usize>,
    lot: Option<usize>,
}

struct Columns {
    farm: Column,
    batch: Column,
    date: Column,
    started: Column,
    discarded: Column,
    class: Option<Column>,
    lot: Option<Column>,
}

/// Everything read, batches in date order within farms.
struct Batches {
    farms: Names,
    classes: Names,
    lots: Names,
    has_lots: bool,
    /// Entries that can be counted, by farm.
    by_farm: Vec<Vec<Entry>>,
    left_out: usize,
}

/// Reads, charts and answers.
///
/// # Errors
/// What is wrong with the file, and what to do.
pub fn answer(asked: &Asked) -> Result<Answer, String> {
    let all = read(asked)?;
    let farms: Vec<Vec<Batch>> =
        all.by_farm.iter().map(|f| f.iter().map(counted).collect()).collect();
    let today = all.by_farm.iter().flatten().map(|e| e.date).max().unwrap_or_default();
    let today = today.num_days_from_ce();
    let made = spoilage(&farms, today);
    let mut charter = Charter::new(&made.shared);
    let (mut rows, mut path) = (Vec::with_capacity(farms.len()), Vec::new());
    for (farm, batches) in farms.iter().enumerate() {
        let chart = charter.farm(batches, |lot| made.lots.of(farm, lot), today);
        rows.push(farm_row(&all, farm, (&chart, &made)));
        for (entry, step) in all.by_farm[farm].iter().zip(charter.steps()) {
            path.push(path_row(&all, farm, entry, step));
        }
    }
    let lots = all.has_lots.then(|| compare_lots(&all, made.shared.correlation));
    let units = json!({
        "chart_value": "logarithm of likelihood ratio; the flag goes up at flag_at",
        "share_discarded": "share of trays, 0 to 1",
    });
    Ok(Answer::new("spoilage", METHOD, units, numbers(&all, &made))
        .with("farms", Value::Array(rows))
        .with("lots", lots.as_ref().map_or(Value::Null, |l| lots_row(l, &all.lots)))
        .with("path", Value::Array(path)))
}

fn read(asked: &Asked) -> Result<Batches, String> {
    let table = Table::open(&asked.common.file)?;
    let class = asked.temperature_class.as_deref();
    let columns = Columns {
        farm: table.column(&asked.farm, "--farm")?,
        batch: table.column(&asked.batch, "--batch")?,
        date: table.column(&asked.date, "--date")?,
        started: table.column(&asked.started, "--started")?,
        discarded: table.column(&asked.discarded, "--discarded")?,
        class: table.optional(class, "temperature_class", "--temperature-class")?,
        lot: table.optional(asked.lot.as_deref(), "lot", "--lot")?,
    };
    let (mut farms, mut classes, mut lots) = (Names::default(), Names::default(), Names::default());
    let entries = table.read(|row| {
        let class = columns.class.and_then(|c| row.text(c)).map(|c| classes.id(c));
        if class.is_some_and(|c| c > usize::from(u8::MAX)) {
            let reason = "there are more than 256 temperature classes; give classes, not readings";
            return Err(columns.class.map_or_else(String::new, |c| row.bad(c, reason)));
        }
        row.name(columns.date)?;
        Ok(Entry {
            farm: farms.id(row.name(columns.farm)?),
            name: row.name(columns.batch)?.to_owned(),
            date: row.date(columns.date)?.unwrap_or_default(),
            batch: trays(row, columns.started, columns.discarded)?,
            class,
            lot: columns.lot.and_then(|c| row.text(c)).map(|c| lots.id(c)),
        })
    })?;
    let rows = entries.len();
    let mut by_farm: Vec<Vec<Entry>> = (0..farms.len()).map(|_| Vec::new()).collect();
    for entry in entries.into_iter().filter(|e| e.batch.is_some()) {
        let farm = entry.farm;
        by_farm[farm].push(entry);
    }
    for batches in &mut by_farm {
        batches.sort_by(|a, b| (a.date, &a.name).cmp(&(b.date, &b.name)));
    }
    let left_out = rows - by_farm.iter().map(Vec::len).sum::<usize>();
    Ok(Batches { farms, classes, lots, has_lots: columns.lot.is_some(), by_farm, left_out })
}

/// Trays started and discarded; none when one of them is not known or nothing was started.
///
/// # Errors
/// When a count can not be right.
pub fn trays(
    row: &Row<'_>,
    started: Column,
    discarded: Column,
) -> Result<Option<(u32, u32)>, String> {
    let both = row.count(started)?.zip(row.count(discarded)?);
    if both.is_some_and(|(n, d)| d > n) {
        return Err(row.bad(discarded, "more trays discarded than started; correct one of them"));
    }
    Ok(both.filter(|(n, _)| *n > 0))
}

fn counted(entry: &Entry) -> Batch {
    let (started, discarded) = entry.batch.unwrap_or((0, 0));
    let temperature_class = entry.class.and_then(|c| u8::try_from(c).ok());
    let lot = entry.lot.and_then(|lot| u32::try_from(lot).ok());
    Batch { day: entry.date.num_days_from_ce(), started, discarded, lot, temperature_class }
}

/// The lots of the last 90 days of the file, on all farms.
fn compare_lots(all: &Batches, correlation: f64) -> LotAnswer {
    let entries = || all.by_farm.iter().flatten();
    let last = entries().map(|e| e.date).max().unwrap_or_default();
    let is_recent = |e: &&Entry| (last - e.date).num_days() < TRAILING_DAYS;
    let batch = |e: &Entry| {
        let (started, discarded) = e.batch?;
        let (farm, lot) = (u32::try_from(e.farm).ok()?, u32::try_from(e.lot?).ok()?);
        Some(LotBatch { farm, lot, started, discarded })
    };
    let batches: Vec<LotBatch> = entries().filter(is_recent).filter_map(batch).collect();
    lot_or_farm(&batches, &LotRules { correlation, ..LotRules::default() })
}

fn numbers(all: &Batches, made: &Made) -> Value {
    let multipliers = made.shared.class_multipliers.iter().enumerate();
    let multipliers = multipliers.filter(|(class, _)| *class < all.classes.len());
    let named: serde_json::Map<String, Value> =
        multipliers.map(|(class, m)| (all.classes.name(class).to_owned(), json!(m))).collect();
    json!({
        "farms": all.farms.len(),
        "farms_flagged": made.farms.iter().filter(|f| f.status.is_flagged()).count(),
        "batches": all.by_farm.iter().map(Vec::len).sum::<usize>(),
        "batches_left_out": all.left_out,
        "tray_correlation": made.shared.correlation,
        "weeks_correlation": made.shared.serial,
        "share_accepted": made.shared.share_ok,
        "class_multipliers": named,
    })
}

fn farm_row(all: &Batches, farm: usize, (of, made): (&FarmChart, &Made)) -> Value {
    let (chart, entries) = (of.shown(), &all.by_farm[farm]);
    let raised = chart.raised().into_iter().flatten().filter_map(|k| entries.get(k));
    let raised: Vec<&str> = raised.map(|e| e.name.as_str()).collect();
    let since = chart.flagged_since().and_then(|k| entries.get(k));
    let counts: Vec<(u32, u32)> = entries.iter().filter_map(|e| e.batch).collect();
    let (share, ends) = share_interval(&counts, made.shared.correlation);
    json!({
        "farm": all.farms.name(farm),
        "status": of.status,
        "points_at": of.source,
        "chart_value": chart.value,
        "flag_at": chart.threshold,
        "flagged_since": since.map(|e| e.date.to_string()),
        "flagged_since_batch": since.map(|e| &e.name),
        "raised_by": raised,
        "batches": entries.len(),
        "batches_used": chart.batches_used,
        "last_p": chart.last_p,
        "share_discarded": share,
        "interval": interval(ends.as_ref()),
        "sentence": spoilage_sentence(of),
    })
}

fn lots_row(lots: &LotAnswer, names: &Names) -> Value {
    let name = |lot: u32| names.name(usize::try_from(lot).unwrap_or(usize::MAX)).to_owned();
    let bad = lots.tests.as_ref().map_or(&[][..], |t| t.bad_lots.as_slice());
    json!({
        "verdict": lots.verdict,
        "suspect_lots": bad.iter().map(|lot| name(*lot)).collect::<Vec<_>>(),
        "days": TRAILING_DAYS,
        "sentence": lots_sentence(lots, &name),
    })
}

/// The chart after a batch.
fn path_row(all: &Batches, farm: usize, entry: &Entry, step: &Step) -> Value {
    let (started, discarded) = entry.batch.unwrap_or((0, 0));
    json!({
        "farm": all.farms.name(farm),
        "batch": entry.name,
        "date": entry.date.to_string(),
        "lot": entry.lot.map(|lot| all.lots.name(lot)),
        "started": started,
        "discarded": discarded,
        "chart_value": step.value,
        "flag_at": step.threshold(),
    })
}
