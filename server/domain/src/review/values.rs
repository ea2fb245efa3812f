//! Milk and eggs that look copied, rounded, or jump.
//!
//! These rules accuse nobody of lying: each says how likely an honest farm shows the same, and its
//! threshold keeps a co-operative of 2,000 farms at a false finding or so a window.

use super::{Finding, RECORDS_MAX, ReviewCtx, leveled};
use crate::effects::{DayRecord, day_total};
use crate::kind::Kind;
use crate::savings::money::format_decimal;
use chrono::NaiveDate;
use serde_json::json;
use std::collections::{BTreeMap, HashMap};
use uuid::Uuid;

/// Chance below which a pattern is listed: with 4,000 series of records it comes up by itself in
/// fewer than one window in two.
pub const CHANCE_MAX: f64 = 1e-4;
/// Records of a series below which nothing is said of repeated values.
pub const REPEAT_RECORDS_MIN: usize = 20;
/// Pairs of records by which a farm's own rate of repeats is drawn towards that of all farms.
pub const PRIOR_PAIRS: f64 = 10.0;
/// Records in a row, the newest included, from which rounding is tested.
pub const ROUND_RECORDS_MIN: usize = 10;
/// Mean amount below which rounding is not tested, in units: below it last digits are not even.
pub const ROUND_MEAN_MIN: i64 = 20;
/// Records before the rounded ones that tell the farm's own precision.
pub const PRECISION_RECORDS_MIN: usize = 14;
/// Eggs on one tray: a farm that counts by full trays writes multiples of 30 honestly.
const EGG_TRAY: i64 = 30;
/// Days to each side with which a day's output is compared.
pub const JUMP_DAYS: i64 = 14;
/// Neighbours without which nothing is said.
pub const JUMP_NEIGHBOURS_MIN: usize = 10;
/// Robust standard deviations from the neighbours' median: beyond six, chance is not it.
pub const JUMP_DEVIATIONS: f64 = 6.0;
/// Least difference from the median, as a share: a herd of one cow that dries off moves less from
/// one day to the next, and a slip of a digit moves far more.
pub const JUMP_SHARE_MIN: f64 = 0.5;

/// Milk or eggs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Output {
    /// ml by milking.
    Milk,
    /// Eggs by day.
    Eggs,
}

impl Output {
    pub(super) const fn kind(self) -> Kind {
        match self {
            Self::Milk => Kind::MilkRecord,
            Self::Eggs => Kind::EggRecord,
        }
    }

    /// What a farm writes down one of: a litre, an egg.
    pub(super) const fn unit(self) -> i64 {
        match self {
            Self::Milk => 1_000,
            Self::Eggs => 1,
        }
    }

    fn text(self, amount: i64) -> String {
        match self {
            Self::Milk => format!("{} litres", format_decimal(amount, 3)),
            Self::Eggs => format!("{amount} eggs"),
        }
    }
}

/// One milk or egg record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OutputRow {
    /// Group and its farm.
    pub group: (Uuid, Uuid),
    pub date: NaiveDate,
    pub record: DayRecord,
}

/// What the records of one farm show, as far as it does not depend on other farms.
#[derive(Clone, Debug, Default)]
pub struct Watched {
    /// The longest run of each series.
    runs: Vec<Run>,
    /// Rounded values and jumps.
    found: Vec<Finding>,
}

/// What the milk or egg records of one farm show. Records before the day from which it is looked
/// through are for comparison only.
///
/// # Shape
/// `rows` in any order; `events` are days on which the head of a group changed.
#[must_use]
pub fn watch(
    output: Output,
    rows: &[OutputRow],
    events: &HashMap<Uuid, Vec<NaiveDate>>,
    ctx: &ReviewCtx<'_>,
) -> Watched {
    let recent: Vec<OutputRow> = rows.iter().filter(|r| r.date >= ctx.from).cloned().collect();
    let series = series(&recent);
    let mut found: Vec<Finding> = series.values().filter_map(|s| rounded(output, s)).collect();
    let (leveled, slipped) = leveled::leveled(output, rows, events, ctx);
    // A slip says more of its day than a jump does.
    let is_other = |f: &Finding| {
        let group = f.records.first().map(|r| r.1).unwrap_or_default();
        !slipped.contains(&(group, f.since))
    };
    found.extend(jumps(output, &recent, ctx).into_iter().filter(is_other));
    found.extend(leveled);
    Watched { runs: series.values().filter_map(|s| Run::of(s)).collect(), found }
}

/// All findings of the farms of a co-operative.
#[must_use]
pub fn findings<'a>(output: Output, farms: impl Iterator<Item = &'a Watched>) -> Vec<Finding> {
    let (mut runs, mut found) = (Vec::new(), Vec::new());
    for farm in farms {
        runs.extend(&farm.runs);
        found.extend(farm.found.iter().cloned());
    }
    found.extend(repeats(output, &runs));
    found
}

type Series<'a> = BTreeMap<(Uuid, &'a str), Vec<&'a OutputRow>>;

/// Records by group and milking, by day; of one day the last entered.
fn series(rows: &[OutputRow]) -> Series<'_> {
    let mut by_day: BTreeMap<(Uuid, &str, NaiveDate), &OutputRow> = BTreeMap::new();
    for row in rows {
        let slot =
            by_day.entry((row.group.0, row.record.session.as_str(), row.date)).or_insert(row);
        if (row.record.entered, row.record.id) > (slot.record.entered, slot.record.id) {
            *slot = row;
        }
    }
    let mut all = Series::new();
    for ((group, session, _), row) in by_day {
        all.entry((group, session)).or_default().push(row);
    }
    all
}

/// The longest run of one value in a series, as position and length; runs of nothing are left out,
/// since a dry cow or a moulting flock gives nothing for weeks.
fn longest_run(series: &[&OutputRow]) -> (usize, usize) {
    let (mut best, mut start) = ((0, 0), 0);
    for (at, row) in series.iter().enumerate() {
        let same = series.get(start).is_some_and(|s| s.record.amount == row.record.amount);
        if !same {
            start = at;
        }
        if row.record.amount > 0 && at + 1 - start > best.1 {
            best = (start, at + 1 - start);
        }
    }
    best
}

/// How a series repeats itself outside of a run.
#[derive(Clone, Copy, Debug, Default)]
struct Repeats {
    /// Pairs of neighbouring records, and those of them with one value.
    pairs: (f64, f64),
    /// Records, and those of them with the value of the run.
    values: (f64, f64),
}

/// The longest run of a series.
#[derive(Clone, Debug)]
struct Run {
    /// Group and its farm.
    group: (Uuid, Uuid),
    session: String,
    /// Records of the series.
    of: usize,
    length: usize,
    amount: i64,
    /// First and last day of the run.
    days: (NaiveDate, NaiveDate),
    /// The first of its records.
    records: Vec<Uuid>,
    outside: Repeats,
}

impl Run {
    fn of(series: &[&OutputRow]) -> Option<Self> {
        let (start, length) = longest_run(series);
        let run = series.get(start..start + length)?;
        let (first, last) = (run.first()?, run.last()?);
        Some(Self {
            group: first.group,
            session: first.record.session.clone(),
            of: series.len(),
            length,
            amount: first.record.amount,
            days: (first.date, last.date),
            records: run.iter().take(RECORDS_MAX - 1).map(|r| r.record.id).collect(),
            outside: repeats_outside(series, (start, length)),
        })
    }
}

fn repeats_outside(series: &[&OutputRow], (start, length): (usize, usize)) -> Repeats {
    let mut all = Repeats::default();
    let value = series.get(start).map(|r| r.record.amount);
    let one = |is: bool| if is { 1.0 } else { 0.0 };
    for (at, row) in series.iter().enumerate() {
        if (start..start + length).contains(&at) {
            continue;
        }
        all.values.0 += 1.0;
        all.values.1 += one(Some(row.record.amount) == value);
        if let Some(next) = series.get(at + 1) {
            all.pairs.0 += 1.0;
            all.pairs.1 += one(next.record.amount == row.record.amount);
        }
    }
    all
}

/// The most that a rate may honestly be: own counts and [`PRIOR_PAIRS`] of the usual rate, and two
/// standard errors more.
///
/// # Source
/// Agresti & Coull 1998, Am. Stat. 52:119 (add two successes and two failures) \[MEM\].
fn rate_at_most((all, same): (f64, f64), usual: f64) -> f64 {
    let trials = all + PRIOR_PAIRS + 4.0;
    let rate = (same + PRIOR_PAIRS * usual + 2.0) / trials;
    (rate + 2.0 * (rate * (1.0 - rate) / trials).sqrt()).min(1.0)
}

/// The same amount many records running.
///
/// A farm with one cow that writes whole litres repeats itself often; one with decimals hardly ever.
/// So the run is held against the farm's own figures outside of the run: `p` is the larger of its
/// rate of repeats and of the frequency of the run's value, each drawn towards the rate of all farms
/// by [`PRIOR_PAIRS`] and taken as high as it may honestly be. A run of `k` in `n` records has a
/// chance of at most `(n − k + 1) p^(k − 1)` (a union bound), and is listed below [`CHANCE_MAX`].
/// A test simulates 2,000 honest farms; the run and the rate from the same records, without the
/// margin, listed 14 of them.
///
/// # Source
/// Feller 1968, An Introduction to Probability Theory, vol. 1, XIII.7 (success runs) \[MEM\].
fn repeats(output: Output, runs: &[&Run]) -> Vec<Finding> {
    let (mut all, mut same) = (1.0, 0.5);
    for run in runs {
        (all, same) = (all + run.outside.pairs.0, same + run.outside.pairs.1);
    }
    let usual = same / all;
    let mut found = Vec::new();
    for run in runs {
        let own = run.outside;
        let rate = rate_at_most(own.pairs, usual).max(rate_at_most(own.values, usual));
        let chance = run_chance(run.of, run.length, rate);
        if run.of < REPEAT_RECORDS_MIN || chance >= CHANCE_MAX {
            continue;
        }
        let amount = output.text(run.amount);
        let odds = (1.0 / chance.max(1e-9)).round();
        let mut records = vec![(Kind::AnimalGroup, run.group.0)];
        records.extend(run.records.iter().map(|id| (output.kind(), *id)));
        let (length, (first, last)) = (run.length, run.days);
        found.push(Finding {
            rule: "repeated_values",
            farm: Some(run.group.1),
            finding: format!("repeated_values:{}:{}", run.group.0, run.session),
            subject: None,
            evidence: format!("{amount} from {first}"),
            figures: vec![
                ("amount", json!(amount)),
                ("records", json!(length)),
                ("first_on", json!(first)),
                ("last_on", json!(last)),
                ("repeat_rate", json!((rate * 1000.0).round() / 1000.0)),
                ("one_in", json!(odds)),
            ],
            records,
            problem: format!(
                "{amount} stand in {length} records running; at the rate at which this farm \
                 otherwise repeats itself that happens to one in {odds} farms or fewer."
            ),
            fix: "Ask how it is measured; correct the records, or accept them if they are right.",
            since: first,
            weight: 1.0,
        });
    }
    found
}

fn run_chance(records: usize, run: usize, rate: f64) -> f64 {
    let Some(starts) = (records + 1).checked_sub(run).filter(|_| run >= 2) else { return 1.0 };
    let power = i32::try_from(run - 1).unwrap_or(i32::MAX);
    (starts as f64 * rate.powi(power)).min(1.0)
}

/// All amounts ending in 0.
///
/// The newest records of a series that are all multiples of ten units (ten litres, ten eggs), against
/// the farm's own precision: a farm whose earlier records are in steps of five units shows them half
/// the time, one that writes single units one time in ten. A farm with whole litres is not listed
/// for that; one that counts eggs by full trays of 30 is not either.
fn rounded(output: Output, series: &[&OutputRow]) -> Option<Finding> {
    let (unit, ten) = (output.unit(), output.unit() * 10);
    let length = series.iter().rev().take_while(|r| r.record.amount % ten == 0).count();
    let (before, round) = series.split_at(series.len() - length);
    let total: i64 = round.iter().map(|r| r.record.amount).sum();
    let records = i64::try_from(length).ok()?;
    let trays = round.iter().all(|r| r.record.amount % EGG_TRAY == 0);
    let too_small = total < ROUND_MEAN_MIN * unit * records;
    if length < ROUND_RECORDS_MIN || too_small || (output == Output::Eggs && trays) {
        return None;
    }
    let fives = before.iter().filter(|r| r.record.amount % (5 * unit) == 0).count();
    let is_coarse = before.len() >= PRECISION_RECORDS_MIN && fives * 20 >= before.len() * 19;
    let each: f64 = if is_coarse { 0.5 } else { 0.1 };
    let chance = each.powi(i32::try_from(length).ok()?);
    let (first, last) = (round.first()?, round.last()?);
    // All the same is the affair of the other rule.
    let differ = round.iter().any(|r| r.record.amount != first.record.amount);
    if chance >= CHANCE_MAX || !differ {
        return None;
    }
    let mut ids = vec![(Kind::AnimalGroup, first.group.0)];
    let newest = round.iter().rev().take(RECORDS_MAX - 1);
    ids.extend(newest.map(|r| (output.kind(), r.record.id)));
    let step = output.text(ten);
    Some(Finding {
        rule: "rounded_values",
        farm: Some(first.group.1),
        finding: format!("rounded_values:{}:{}", first.group.0, first.record.session),
        subject: None,
        evidence: format!("multiples of {step}"),
        figures: vec![
            ("records", json!(length)),
            ("step", json!(step)),
            ("first_on", json!(first.date)),
            ("last_on", json!(last.date)),
            ("usual_step", json!(output.text(if is_coarse { 5 * unit } else { unit }))),
            ("one_in", json!((1.0 / chance.max(1e-9)).round())),
        ],
        records: ids,
        problem: format!("The last {length} records are all multiples of {step}."),
        fix: "Ask whether it is measured or guessed; show how to read the measure to the unit.",
        since: first.date,
        weight: 1.0,
    })
}

/// Output of one day, per animal, far from that of the days around it.
///
/// The day is held against the median and the median absolute deviation of the group's own days
/// within [`JUMP_DAYS`] to each side. A lasting change moves half of the neighbours too, so that
/// illness, drying off or sale is not listed: only the odd day is, most often a slip of a digit.
///
/// # Source
/// 1.4826 times the median absolute deviation estimates a standard deviation: Hampel 1974, J. Am.
/// Stat. Assoc. 69:383 \[MEM\].
fn jumps(output: Output, rows: &[OutputRow], ctx: &ReviewCtx<'_>) -> Vec<Finding> {
    let mut cells: BTreeMap<(Uuid, NaiveDate), Vec<&OutputRow>> = BTreeMap::new();
    for row in rows {
        cells.entry((row.group.0, row.date)).or_default().push(row);
    }
    type Day<'a> = (NaiveDate, f64, Vec<&'a OutputRow>);
    let mut groups: BTreeMap<Uuid, Vec<Day<'_>>> = BTreeMap::new();
    for ((group, date), rows) in cells {
        let records: Vec<DayRecord> = rows.iter().map(|r| r.record.clone()).collect();
        let Some(total) = day_total(&records).filter(|t| t.animals > 0) else { continue };
        let each = total.amount as f64 / total.animals as f64;
        groups.entry(group).or_default().push((date, each, rows));
    }
    let mut found = Vec::new();
    for days in groups.values() {
        let mut from = 0;
        for (at, (date, each, rows)) in days.iter().enumerate() {
            let near = |d: NaiveDate| (*date - d).num_days().abs() <= JUMP_DAYS;
            while days.get(from).is_some_and(|d| !near(d.0)) {
                from += 1;
            }
            let around = days.iter().enumerate().skip(from).take_while(|(_, d)| near(d.0));
            let around = around.filter(|(i, _)| *i != at);
            let others: Vec<f64> = around.map(|(_, d)| d.1).collect();
            let Some((median, deviation)) = robust(others) else { continue };
            let limit = (JUMP_DEVIATIONS * deviation).max(JUMP_SHARE_MIN * median);
            if (each - median).abs() > limit && median > 0.0 && *date <= ctx.today {
                found.extend(jump(output, *date, (*each, median), rows));
            }
        }
    }
    found
}

/// Median and robust standard deviation; none below the minimum of values.
fn robust(mut values: Vec<f64>) -> Option<(f64, f64)> {
    if values.len() < JUMP_NEIGHBOURS_MIN {
        return None;
    }
    let middle = median(&mut values)?;
    let mut apart: Vec<f64> = values.iter().map(|v| (v - middle).abs()).collect();
    Some((middle, 1.4826 * median(&mut apart)?))
}

fn median(values: &mut [f64]) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let (low, high) =
        (values.get((values.len().checked_sub(1)?) / 2)?, values.get(values.len() / 2)?);
    Some(f64::midpoint(*low, *high))
}

fn jump(
    output: Output,
    date: NaiveDate,
    (each, median): (f64, f64),
    rows: &[&OutputRow],
) -> Option<Finding> {
    let first = rows.first()?;
    let shown = |x: f64| {
        let unit = if output == Output::Milk { 1_000.0 } else { 1.0 };
        (x / unit * 100.0).round() / 100.0
    };
    let what = if output == Output::Milk { "litres" } else { "eggs" };
    let mut records = vec![(Kind::AnimalGroup, first.group.0)];
    records.extend(rows.iter().map(|r| (output.kind(), r.record.id)).take(RECORDS_MAX - 1));
    Some(Finding {
        rule: "output_jump",
        farm: Some(first.group.1),
        finding: format!("output_jump:{}:{date}", first.group.0),
        subject: None,
        // Of the neighbours only what hardly moves: their records come in late.
        evidence: format!("{} {what} an animal on {date}", shown(each)),
        figures: vec![
            ("per_animal", json!(shown(each))),
            ("median_around", json!(shown(median))),
            ("date", json!(date)),
        ],
        records,
        problem: format!(
            "{} {what} an animal on {date}, where the days around it have {}.",
            shown(each),
            shown(median)
        ),
        fix: "Correct the amount or the animals of that day, or say why it was so.",
        since: date,
        weight: 1.0,
    })
}
