//! Records to farm-months: which records count, what a month's output was, and at what stage
//! of lactation or lay the animals stood.

use std::collections::{BTreeMap, HashMap};

use serde::Serialize;

use crate::error::{ShapeError, check_limit};
use crate::limits::{
    AMOUNT_MAX, COVARIATES_MAX, LOG_OUTPUT_MAX, MONTHS_MAX, STAGE_COVERAGE_MIN,
    STAGE_GAP_MONTHS_MAX,
};
use crate::stats::median;

/// What the animals give. Milk and eggs are never pooled: one panel holds one of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Output {
    /// Litres of milk; stage is days in milk.
    Milk,
    /// Number of eggs; stage is age in weeks.
    Eggs,
}

/// One output record of one farm.
///
/// # Units
/// `output` litres or eggs of the record's day (or period), `animals` heads in production in
/// the same period, `stage` days in milk or age in weeks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OutputRecord {
    /// Position of the farm, from 0.
    pub farm: usize,
    /// Month counted from the first month of the panel, from 0.
    pub month: usize,
    /// Output, if known.
    pub output: Option<f64>,
    /// Animals in production, if known.
    pub animals: Option<f64>,
    /// Mean stage of those animals, if known.
    pub stage: Option<f64>,
}

/// Monthly cells of all farms, row by row: cell `farm * months + month`.
#[derive(Debug, Clone, PartialEq)]
pub struct FarmMonths {
    /// Months in the panel.
    pub months: usize,
    /// Natural logarithm of output per animal; not-a-number where not observed.
    pub log_output: Vec<f64>,
    /// Records kept in the cell; 0 where not observed.
    pub records: Vec<f64>,
    /// Animal-weighted mean stage; not-a-number where not known.
    pub stage: Vec<f64>,
    /// Records left out: invalid, or far from the farm's own median rate.
    pub dropped: usize,
}

/// Who entered what, to settle two records of the same farm and day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DayKey {
    /// Position of the farm.
    pub farm: usize,
    /// Day number, any epoch.
    pub day: i64,
    /// Order of entry: larger was entered later.
    pub entered: i64,
}

/// Positions of the records to keep when one farm has several for one day: the last entered.
///
/// # Shape
/// Positions ascend. Equal `entered` is settled by the later position.
///
/// # Source
/// House rule: a second record for a day is a correction of the first.
pub fn last_entered(keys: &[DayKey]) -> Vec<usize> {
    let mut latest: HashMap<(usize, i64), usize> = HashMap::with_capacity(keys.len());
    for (index, key) in keys.iter().enumerate() {
        let held = latest.entry((key.farm, key.day)).or_insert(index);
        if keys[*held].entered <= key.entered {
            *held = index;
        }
    }
    let mut kept: Vec<usize> = latest.into_values().collect();
    kept.sort_unstable();
    kept
}

/// Sums records into farm-months and leaves out records that cannot be right.
///
/// A record is valid with animals above 0 and output not below 0. Its rate is output per
/// animal. A valid record is left out when its rate is above `outlier_ratio` times the farm's
/// median rate, or above 0 and below the median divided by that ratio. A cell is
/// `ln(sum output / sum animals)`; it is missing when nothing was kept or the sum is 0.
///
/// # Units
/// Logarithm of output per animal (per record day), records as a count.
///
/// # Shape
/// `farms * months` cells; no record gives missing cells throughout.
///
/// # Errors
/// `OutsidePanel` for a record beyond `farms` or `months`; `TooMany` above the month limit.
///
/// # Source
/// Factor-four rule: house rule against misplaced units and digits; median per farm because it
/// stands half its records being wrong.
pub fn farm_months(
    records: &[OutputRecord],
    farms: usize,
    months: usize,
    outlier_ratio: f64,
) -> Result<FarmMonths, ShapeError> {
    check_limit("months", months, MONTHS_MAX)?;
    let outside = records.iter().position(|r| r.farm >= farms || r.month >= months);
    if let Some(index) = outside {
        return Err(ShapeError::OutsidePanel { index });
    }
    let medians = median_rates(records, farms);
    let cells = farms * months;
    let mut sums = vec![CellSums::default(); cells];
    let mut dropped = 0;
    for record in records {
        let kept = record.valid().filter(|(output, animals)| {
            medians[record.farm].is_none_or(|m| is_plausible(output / animals, m, outlier_ratio))
        });
        match kept {
            None => dropped += 1,
            Some((output, animals)) => {
                let stage = record.stage.filter(|s| s.abs() <= AMOUNT_MAX);
                sums[record.farm * months + record.month].add(output, animals, stage);
            }
        }
    }
    let log_output: Vec<f64> = sums.iter().map(CellSums::log_output).collect();
    let observed = |y: &f64| !y.is_nan();
    let records = sums.iter().zip(&log_output).map(|(s, y)| if observed(y) { s.kept } else { 0.0 });
    Ok(FarmMonths {
        months,
        records: records.collect(),
        stage: sums.iter().map(CellSums::stage).collect(),
        log_output,
        dropped,
    })
}

impl OutputRecord {
    fn valid(&self) -> Option<(f64, f64)> {
        let animals = self.animals.filter(|a| a.is_finite() && *a > 0.0)?;
        let output = self.output.filter(|o| o.is_finite() && *o >= 0.0)?;
        Some((output, animals))
    }
}

fn is_plausible(rate: f64, median: f64, ratio: f64) -> bool {
    median <= 0.0 || (rate <= ratio * median && (rate <= 0.0 || rate >= median / ratio))
}

fn median_rates(records: &[OutputRecord], farms: usize) -> Vec<Option<f64>> {
    let mut rates = vec![Vec::new(); farms];
    for record in records {
        if let Some((output, animals)) = record.valid() {
            rates[record.farm].push(output / animals);
        }
    }
    rates.iter_mut().map(|farm| median(farm)).collect()
}

#[derive(Clone, Default)]
struct CellSums {
    output: f64,
    animals: f64,
    kept: f64,
    stage: f64,
    stage_animals: f64,
}

impl CellSums {
    fn add(&mut self, output: f64, animals: f64, stage: Option<f64>) {
        self.output += output;
        self.animals += animals;
        self.kept += 1.0;
        if let Some(stage) = stage {
            self.stage += stage * animals;
            self.stage_animals += animals;
        }
    }

    fn log_output(&self) -> f64 {
        // Nothing kept is 0 / 0 and nothing put out the logarithm of 0: neither is observed.
        let y = (self.output / self.animals).ln();
        if y.abs() <= LOG_OUTPUT_MAX { y } else { f64::NAN }
    }

    fn stage(&self) -> f64 {
        let mean = self.stage / self.stage_animals;
        if self.stage_animals > 0.0 && mean.is_finite() { mean } else { f64::NAN }
    }
}

/// Half octaves from the farm's own middle beyond which a record is left out: a factor of four.
const BINS_REACH: f64 = 4.0;

/// Records of one farm, month and half octave, added up.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Bin {
    /// Half octave of the records' rates: `floor(2 log2 rate)`.
    pub half_octave: i32,
    pub records: f64,
    pub output: f64,
    pub animals: f64,
    /// Stage times animals, of those with a stage.
    pub stage: f64,
    /// Animals with a stage.
    pub stage_animals: f64,
}

/// Monthly cells of one farm, and what was left out of them.
#[derive(Debug, Clone, PartialEq)]
pub struct FarmCells {
    /// One a month: logarithm of output per animal (not-a-number where not observed), records
    /// kept, stage (not-a-number where not known).
    pub cells: Vec<(f64, f64, f64)>,
    /// Records left out, one a month.
    pub left_out: Vec<f64>,
    /// Months whose records are mostly far off: a changed unit is no slip, so they are kept.
    pub is_shifted: Vec<bool>,
    /// The farm's middle half octave; none without a rate above 0.
    pub middle: Option<f64>,
}

/// Months of a farm from its half octaves: what is more than a factor of four from its own middle
/// is left out.
///
/// # Units
/// As the bins'.
///
/// # Shape
/// `months` cells; bins of other months are passed over.
pub fn cells_from_bins(bins: &[(usize, Bin)], months: usize) -> FarmCells {
    let middle = middle_bin(bins);
    let mut farm = FarmCells {
        cells: Vec::with_capacity(months),
        left_out: vec![0.0; months],
        is_shifted: vec![false; months],
        middle,
    };
    for t in 0..months {
        let of_month: Vec<&Bin> = bins.iter().filter(|(m, _)| *m == t).map(|(_, b)| b).collect();
        let is_far = |b: &Bin| {
            let centre = f64::from(b.half_octave) + 0.5;
            let distance = middle.map(|m| (centre - m).abs());
            b.output > 0.0 && distance.is_some_and(|d| d > BINS_REACH)
        };
        let all: f64 = of_month.iter().map(|b| b.records).sum();
        let far: f64 = of_month.iter().filter(|b| is_far(b)).map(|b| b.records).sum();
        let is_shifted = far * 2.0 > all;
        farm.is_shifted[t] = is_shifted;
        farm.left_out[t] = if is_shifted { 0.0 } else { far };
        let mut sums = CellSums::default();
        for b in of_month.into_iter().filter(|b| is_shifted || !is_far(b)) {
            sums.output += b.output;
            sums.animals += b.animals;
            sums.kept += b.records;
            sums.stage += b.stage;
            sums.stage_animals += b.stage_animals;
        }
        let y = sums.log_output();
        farm.cells.push((y, if y.is_nan() { 0.0 } else { sums.kept }, sums.stage()));
    }
    farm
}

/// Middle of all records with a rate above 0, inside its half octave by straight line.
fn middle_bin(bins: &[(usize, Bin)]) -> Option<f64> {
    let mut counts: BTreeMap<i32, f64> = BTreeMap::new();
    for (_, bin) in bins.iter().filter(|(_, b)| b.output > 0.0) {
        *counts.entry(bin.half_octave).or_insert(0.0) += bin.records;
    }
    let half = counts.values().sum::<f64>() / 2.0;
    let mut before = 0.0;
    for (bin, count) in counts {
        if before + count >= half {
            return Some(f64::from(bin) + (half - before) / count);
        }
        before += count;
    }
    None
}

/// Fills short gaps in the stage: straight line between months at most two away on both
/// sides, else the one month within two, else still missing.
///
/// # Shape
/// `farms * months` cells in and out, not-a-number where not known. A trailing part row is
/// returned as it came.
///
/// # Source
/// House rule: two months is a quarter of a lactation's rise and fall.
pub fn fill_stage(stage: &[f64], months: usize) -> Vec<f64> {
    let mut filled = stage.to_vec();
    if months == 0 {
        return filled;
    }
    for (row, out) in stage.chunks_exact(months).zip(filled.chunks_exact_mut(months)) {
        for t in 0..months {
            if row[t].is_nan() {
                out[t] = stage_between(row, t);
            }
        }
    }
    filled
}

/// A month without a stage, `t`, from the known ones beside it.
fn stage_between(row: &[f64], t: usize) -> f64 {
    let known = |s: &usize| !row[*s].is_nan();
    let before = (t.saturating_sub(STAGE_GAP_MONTHS_MAX)..t).rev().find(known);
    let after = (t..row.len().min(t + STAGE_GAP_MONTHS_MAX + 1)).find(known);
    match (before, after) {
        (Some(a), Some(b)) => row[a] + (row[b] - row[a]) * (t - a) as f64 / (b - a) as f64,
        (Some(s), None) | (None, Some(s)) => row[s],
        (None, None) => f64::NAN,
    }
}

/// Columns beside the month effects, one value a farm-month and column, all finite.
#[derive(Debug, Clone, PartialEq)]
pub struct Covariates {
    count: usize,
    values: Vec<f64>,
    /// Whether the last column is 1 where the stage is missing.
    is_stage: bool,
}

impl Covariates {
    /// Takes values in the order farm, month, column.
    ///
    /// # Errors
    /// `Length` when the values do not divide into columns, `NotFinite`, `TooMany` columns.
    pub fn new(count: usize, values: Vec<f64>) -> Result<Self, ShapeError> {
        check_limit("covariates", count, COVARIATES_MAX)?;
        let found = values.len();
        if count == 0 || !found.is_multiple_of(count) {
            return Err(ShapeError::Length { name: "covariates", found, wanted: count });
        }
        if values.iter().any(|x| x.is_nan() || x.abs() > AMOUNT_MAX) {
            return Err(ShapeError::NotFinite { name: "covariates" });
        }
        Ok(Self { count, values, is_stage: false })
    }

    /// Number of columns.
    pub fn count(&self) -> usize {
        self.count
    }

    /// All values in the order farm, month, column.
    pub fn values(&self) -> &[f64] {
        &self.values
    }

    pub(crate) fn cell(&self, cell: usize) -> &[f64] {
        &self.values[cell * self.count..(cell + 1) * self.count]
    }

    pub(crate) fn is_stage_missing(&self, cell: usize) -> bool {
        self.is_stage && self.cell(cell).last().is_some_and(|missing| *missing > 0.5)
    }

    /// The same, with the rows of these farms once more at the end.
    pub(crate) fn with_rows(&self, farms: &[usize], months: usize) -> Self {
        let (mut values, row) = (self.values.clone(), months * self.count);
        for farm in farms {
            values.extend_from_slice(&self.values[farm * row..(farm + 1) * row]);
        }
        Self { values, ..*self }
    }
}

/// Three columns that let output follow a Wood curve: `ln d`, `d / scale`, and 1 where missing.
///
/// Milk: `d = max(5, days in milk)`, scale 100. Eggs: `d = max(1, age in weeks - 17)`, scale 10.
/// The first two are centred at their mean over known farm-months and 0 where missing.
///
/// # Shape
/// `stage.len()` cells of three columns.
///
/// # Source
/// Wood 1967, Nature 216:164: `ln y = ln a + b ln d - c d` is linear in both columns.
pub fn stage_basis(stage: &[f64], output: Output) -> Covariates {
    let (scale, floor, origin) = match output {
        Output::Milk => (100.0, 5.0, 0.0),
        Output::Eggs => (10.0, 1.0, 17.0),
    };
    let day = |s: f64| (s - origin).max(floor);
    let known = || stage.iter().filter(|s| s.is_finite());
    let count = known().count().max(1) as f64;
    let mean_log = known().map(|s| day(*s).ln()).sum::<f64>() / count;
    let mean_day = known().map(|s| day(*s) / scale).sum::<f64>() / count;
    let mut values = Vec::with_capacity(stage.len() * 3);
    for s in stage {
        if s.is_finite() {
            values.extend([day(*s).ln() - mean_log, day(*s) / scale - mean_day, 0.0]);
        } else {
            values.extend([0.0, 0.0, 1.0]);
        }
    }
    Covariates { count: 3, values, is_stage: true }
}

/// Stage columns when enough farm-months have a stage, else none (`stage_adjusted = false`).
///
/// Gaps are filled first ([`fill_stage`]); then at least half of the observed farm-months must
/// have a stage.
///
/// # Shape
/// One column set a cell of `cells`. None also when nothing was observed.
///
/// # Source
/// House rule on coverage; the curve is [`stage_basis`].
pub fn stage_covariates(cells: &FarmMonths, output: Output) -> Option<Covariates> {
    let filled = fill_stage(&cells.stage, cells.months);
    let observed = cells.records.iter().filter(|n| **n > 0.0).count();
    let is_staged = |(n, s): &(&f64, &f64)| **n > 0.0 && s.is_finite();
    let staged = cells.records.iter().zip(&filled).filter(is_staged).count();
    let is_covered = observed > 0 && staged as f64 >= STAGE_COVERAGE_MIN * observed as f64;
    is_covered.then(|| stage_basis(&filled, output))
}
