//! Is it the seed lot or the farm?

use super::answer::{Answer, interval};
use super::args::Lots as Asked;
use super::read::{Column, Names, Table};
use super::spoilage::trays;
use chrono::NaiveDate;
use serde_json::{Value, json};
use traybook_analytics::lots::{FactorTest, LotAnswer, LotBatch, LotEffect, LotRules, lot_or_farm};
use traybook_analytics::sentences::lots_sentence;
use traybook_analytics::spoilage::{Batch, tray_correlation};
use traybook_analytics::stats::{Interval, wilson_of_share};
use traybook_domain::time::parse_date;

const METHOD: &str = "weighted least squares of arcsine shares on farm and lot, each tested given \
    the other (Anscombe 1948; Henderson 1953), lots named at false discovery rate 5 % (Benjamini & \
    Hochberg 1995); discard share with 95 % Wilson interval on effective trays";

/// Days that a look at seed lots reaches back.
pub const TRAILING_DAYS: i64 = 90;

struct Batches {
    farms: Names,
    lots: Names,
    batches: Vec<LotBatch>,
    rows: usize,
    outside: usize,
}

/// Reads, compares and answers.
///
/// # Errors
/// What is wrong with the file or the days, and what to do.
pub fn answer(asked: &Asked) -> Result<Answer, String> {
    let all = read(asked)?;
    let mut farms = vec![Vec::new(); all.farms.len()];
    for b in &all.batches {
        let (started, discarded) = (b.started, b.discarded);
        let batch = Batch { day: 0, started, discarded, lot: None, temperature_class: None };
        farms[place(b.farm)].push(batch);
    }
    let correlation = tray_correlation(&farms);
    let rules = LotRules { correlation, ..LotRules::default() };
    let compared = lot_or_farm(&all.batches, &rules);
    let numbers = json!({
        "farms": all.farms.len(),
        "lots": all.lots.len(),
        "batches": all.batches.len(),
        "batches_outside_window": all.outside,
        "batches_left_out": all.rows - all.batches.len() - all.outside,
        "from": asked.from,
        "to": asked.to,
        "tray_correlation": correlation,
    });
    let units = json!({
        "effect": "radians on the arcsine scale against the mean of all lots; above 0 is worse",
        "share_discarded": "share of trays, 0 to 1",
    });
    Ok(Answer::new("lots", METHOD, units, numbers)
        .with("comparison", comparison(&compared, &all.lots, &rules))
        .with("lots", lot_rows(&compared, &all, correlation)))
}

fn place(id: u32) -> usize {
    usize::try_from(id).unwrap_or(usize::MAX)
}

fn day(given: Option<&str>, option: &str) -> Result<Option<NaiveDate>, String> {
    let Some(text) = given else { return Ok(None) };
    let wrong = || format!("{option} {text}: this is no day; write it as YYYY-MM-DD");
    parse_date(text).map(Some).ok_or_else(wrong)
}

fn read(asked: &Asked) -> Result<Batches, String> {
    let (from, to) = (day(asked.from.as_deref(), "--from")?, day(asked.to.as_deref(), "--to")?);
    let table = Table::open(&asked.common.file)?;
    let farm = table.column(&asked.farm, "--farm")?;
    let lot = table.column(&asked.lot, "--lot")?;
    let started = table.column(&asked.started, "--started")?;
    let discarded = table.column(&asked.discarded, "--discarded")?;
    let date = if from.is_some() || to.is_some() {
        Some(table.column(asked.date.as_deref().unwrap_or("date"), "--date")?)
    } else {
        table.optional(asked.date.as_deref(), "date", "--date")?
    };
    let (mut farms, mut lots) = (Names::default(), Names::default());
    let (mut rows, mut outside) = (0, 0);
    let is_windowed = from.is_some() || to.is_some();
    let entries = table.read(|row| {
        rows += 1;
        let (farm, date) = (row.name(farm)?, date_of(row, date, is_windowed)?);
        let (lot, trays) = (row.text(lot), trays(row, started, discarded)?);
        let is_in = date.is_none_or(|d| from.is_none_or(|f| d >= f) && to.is_none_or(|t| d <= t));
        if !is_in {
            outside += 1;
            return Ok(None);
        }
        let Some((lot, (started, discarded))) = lot.zip(trays) else { return Ok(None) };
        let (farm, lot) = (id(farms.id(farm)), id(lots.id(lot)));
        Ok(Some(LotBatch { farm, lot, started, discarded }))
    })?;
    Ok(Batches { farms, lots, batches: entries.into_iter().flatten().collect(), rows, outside })
}

fn id(place: usize) -> u32 {
    u32::try_from(place).unwrap_or(u32::MAX)
}

fn date_of(
    row: &super::read::Row<'_>,
    date: Option<Column>,
    is_windowed: bool,
) -> Result<Option<NaiveDate>, String> {
    let Some(column) = date else { return Ok(None) };
    if is_windowed {
        row.name(column)?;
    }
    row.date(column)
}

fn comparison(compared: &LotAnswer, names: &Names, rules: &LotRules) -> Value {
    let tests = compared.tests.as_ref();
    let name = |lot: u32| names.name(place(lot)).to_owned();
    let suspects: Vec<String> =
        tests.map_or(&[][..], |t| t.bad_lots.as_slice()).iter().map(|l| name(*l)).collect();
    let test = |of: fn(&traybook_analytics::lots::LotTests) -> FactorTest| {
        let test = tests.map(of);
        json!({
            "f": test.map(|t| t.f),
            "p": test.map(|t| t.p),
            "variance": test.map(|t| t.variance),
        })
    };
    json!({
        "status": if tests.is_some() { "estimated" } else { "not_identifiable" },
        "verdict": compared.verdict,
        "suspect_lots": suspects,
        "degrees_of_freedom": compared.degrees,
        "lot_given_farm": test(|t| t.lot),
        "farm_given_lot": test(|t| t.farm),
        "mean_square": tests.map(|t| t.mean_square),
        "level": rules.level,
        "sentence": lots_sentence(compared, &name),
    })
}

fn lot_rows(compared: &LotAnswer, all: &Batches, correlation: f64) -> Value {
    let tests = compared.tests.as_ref();
    let effect = |lot: u32| -> Option<&LotEffect> {
        tests.and_then(|t| t.lots.iter().find(|e| e.lot == lot))
    };
    let mut of_lot = vec![Vec::new(); all.lots.len()];
    let mut farms = vec![std::collections::BTreeSet::new(); all.lots.len()];
    for b in &all.batches {
        of_lot[place(b.lot)].push((b.started, b.discarded));
        farms[place(b.lot)].insert(b.farm);
    }
    let row = |(lot, trays): (usize, &Vec<(u32, u32)>)| {
        let effect = effect(id(lot));
        let (share, ends) = share_interval(trays, correlation);
        let is_suspect = tests.is_some_and(|t| t.bad_lots.contains(&id(lot)));
        let growers = farms[lot].iter().filter(|_| is_suspect);
        let growers: Vec<&str> = growers.map(|farm| all.farms.name(place(*farm))).collect();
        json!({
            "lot": all.lots.name(lot),
            "status": if effect.is_some() { "estimated" } else { "not_identifiable" },
            "is_suspect": is_suspect,
            "effect": effect.map(|e| e.effect),
            "p": effect.map(|e| e.p),
            "batches": trays.len(),
            "farms": farms[lot].len(),
            "grown_by": growers,
            "share_discarded": share,
            "interval": interval(ends.as_ref()),
        })
    };
    of_lot.iter().enumerate().map(row).collect()
}

/// Share of trays discarded, and its interval when trays of a batch correlate.
pub fn share_interval(batches: &[(u32, u32)], correlation: f64) -> (Option<f64>, Option<Interval>) {
    let (mut trays, mut discards, mut effective) = (0.0, 0.0, 0.0);
    for (started, discarded) in batches {
        let n = f64::from(*started);
        trays += n;
        discards += f64::from(*discarded);
        effective += n / (1.0 + (n - 1.0) * correlation);
    }
    let share = (trays > 0.0).then(|| discards / trays);
    (share, share.and_then(|share| wilson_of_share(share, effective)))
}
