//! Month effects from untreated farm-months only: what output would have done by itself.

use nalgebra::{DMatrix, DVector};

use crate::error::{ShapeError, check_length, check_limit};
use crate::limits::{AMOUNT_MAX, LOG_OUTPUT_MAX, MONTHS_MAX, RECORDS_MIN};
use crate::linear::inverse_of_part;
use crate::parallel::map_chunks;
use crate::records::Covariates;

/// Start month of a member that has not started, as the arithmetic sees it.
pub(crate) const NEVER: i64 = 1_000_000_000;

/// Farm-months of one enterprise, checked to fit together.
#[derive(Debug, Clone, Copy)]
pub struct Panel<'a> {
    months: usize,
    log_output: &'a [f64],
    records: &'a [f64],
    start: &'a [Option<u32>],
    covariates: Option<&'a Covariates>,
    /// Farms left out; empty for none.
    held: &'a [bool],
    /// Months just before each start that are left out.
    cut: u32,
}

impl<'a> Panel<'a> {
    /// Puts together what belongs together.
    ///
    /// `log_output` and `records` hold cell `farm * months + month`; a cell is observed when the
    /// first is a number within `±745` and the second above 0. `start` is each farm's start
    /// month, none when it has not started (or starts in the future), 0 when it started before
    /// the data. `covariates`, if any, hold one column set a cell.
    ///
    /// # Errors
    /// `Length` when a slice does not fit, `TooMany` months.
    pub fn new(
        months: usize,
        log_output: &'a [f64],
        records: &'a [f64],
        start: &'a [Option<u32>],
        covariates: Option<&'a Covariates>,
    ) -> Result<Self, ShapeError> {
        check_limit("months", months, MONTHS_MAX)?;
        let cells = start.len() * months;
        check_length("log output", log_output.len(), cells)?;
        check_length("records", records.len(), cells)?;
        if let Some(x) = covariates {
            check_length("covariates", x.values().len(), cells * x.count())?;
        }
        Ok(Self { months, log_output, records, start, covariates, held: &[], cut: 0 })
    }

    /// The same panel without the farms marked, one mark a farm, and without `cut` months before
    /// every start.
    pub(crate) fn without(self, held: &'a [bool], cut: u32) -> Self {
        Self { held, cut, ..self }
    }

    /// Months in the panel.
    pub fn months(&self) -> usize {
        self.months
    }

    /// Farms in the panel.
    pub fn farms(&self) -> usize {
        self.start.len()
    }

    pub(crate) fn start(&self, farm: usize) -> i64 {
        self.start[farm].map_or(NEVER, i64::from)
    }

    /// Logarithm of output and records of an observed cell.
    #[inline]
    pub(crate) fn observed(&self, farm: usize, month: usize) -> Option<(f64, f64)> {
        let cell = farm * self.months + month;
        let (y, n) = (self.log_output[cell], self.records[cell]);
        (is_observed(y, n) && !self.is_left_out(farm, month)).then_some((y, n))
    }

    /// Observed cells of a farm before a month and before its start: month, output and records.
    fn observed_before_start(&self, farm: usize) -> impl Iterator<Item = (usize, f64, f64)> {
        let before = self.months_before_start(farm) as i64;
        let uncut = (self.start(farm) - i64::from(self.cut)).clamp(0, before);
        let end = if self.is_held(farm) { 0 } else { uncut as usize };
        let cells = farm * self.months..farm * self.months + end;
        let values = self.log_output[cells.clone()].iter().zip(&self.records[cells]);
        let all = values.enumerate().map(|(t, (y, n))| (t, *y, *n));
        all.filter(|(_, y, n)| is_observed(*y, *n))
    }

    /// Output of a farm by month; not a number where none is observed.
    pub(crate) fn outputs(&self, farm: usize, to: &mut Vec<f64>) {
        let output = |t: usize| self.observed(farm, t).map_or(f64::NAN, |(y, _)| y);
        to.clear();
        to.extend((0..self.months).map(output));
    }

    /// Whether the farm is left out altogether.
    pub(crate) fn is_held(&self, farm: usize) -> bool {
        self.held.get(farm).is_some_and(|held| *held)
    }

    fn is_left_out(&self, farm: usize, month: usize) -> bool {
        let start = self.start(farm);
        let before = start - i64::from(self.cut)..start;
        self.is_held(farm) || before.contains(&(month as i64))
    }

    /// Covariates of a cell; empty when there are none.
    pub(crate) fn covariates(&self, farm: usize, month: usize) -> &'a [f64] {
        self.covariates.map_or(&[], |x| x.cell(farm * self.months + month))
    }

    /// Whether a cell has no stage, where output is adjusted for it.
    pub(crate) fn is_stage_missing(&self, farm: usize, month: usize) -> bool {
        self.covariates.is_some_and(|x| x.is_stage_missing(farm * self.months + month))
    }

    pub(crate) fn starts(&self) -> &'a [Option<u32>] {
        self.start
    }

    pub(crate) fn all_covariates(&self) -> Option<&'a Covariates> {
        self.covariates
    }

    pub(crate) fn has_covariates(&self) -> bool {
        self.covariates.is_some()
    }

    pub(crate) fn covariate_count(&self) -> usize {
        self.covariates.map_or(0, Covariates::count)
    }

    /// Months before the start, cut to the panel.
    pub(crate) fn months_before_start(&self, farm: usize) -> usize {
        self.start[farm].map_or(self.months, |g| self.months.min(g as usize))
    }
}

fn is_observed(y: f64, n: f64) -> bool {
    y.abs() <= LOG_OUTPUT_MAX && (RECORDS_MIN..=AMOUNT_MAX).contains(&n)
}

/// One observed farm-month with its weight.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Cell {
    pub month: usize,
    pub weight: f64,
    pub y: f64,
    pub records: f64,
}

/// Month effects and what is needed to judge them.
#[derive(Debug, Clone)]
pub struct MonthFit {
    /// Effect of each month on the logarithm of output; the first usable month is 0. Months
    /// outside the connected set hold 0 and are marked in `is_connected`.
    pub month_effects: Vec<f64>,
    /// Months in the largest connected set.
    pub is_connected: Vec<bool>,
    /// Untreated farms observed in each month of the connected set.
    pub controls: Vec<usize>,
    /// Coefficients of the covariates; 0 for one that was dropped.
    pub coefficients: Vec<f64>,
    /// Share that one farm has in a month's effect, mean: sum of squared weights over the square of
    /// their sum.
    pub(crate) leverage: Vec<f64>,
    /// Inverse of the system of months and covariates.
    pub(crate) inverse: DMatrix<f64>,
    /// Covariance of month effects and coefficients, clustered by farm.
    pub(crate) covariance: DMatrix<f64>,
    /// Half-weight records: a cell of `n` records weighs `n / (n + kappa)`.
    pub(crate) kappa: f64,
}

impl MonthFit {
    /// What months and covariates alone give for a cell.
    #[inline]
    pub(crate) fn fitted(&self, panel: &Panel, farm: usize, month: usize) -> f64 {
        let x = panel.covariates(farm, month);
        let stage: f64 = x.iter().zip(&self.coefficients).map(|(x, b)| x * b).sum();
        self.month_effects[month] + stage
    }

    /// Weight that months and covariates give a cell in a combination of them.
    #[inline]
    pub(crate) fn implied(&self, panel: &Panel, combination: &[f64], farm: usize, t: usize) -> f64 {
        let (months, stage) = combination.split_at(panel.months());
        let x = panel.covariates(farm, t);
        months[t] + x.iter().zip(stage).map(|(x, k)| x * k).sum::<f64>()
    }

    #[inline]
    pub(crate) fn cell(&self, panel: &Panel, farm: usize, month: usize) -> Option<Cell> {
        let (y, records) = panel.observed(farm, month)?;
        Some(Cell { month, weight: records / (records + self.kappa), y, records })
    }

    /// Untreated cells of a farm in the connected set, months ascending.
    pub(crate) fn untreated(&self, panel: &Panel, farm: usize, cells: &mut Vec<Cell>) {
        cells.clear();
        for (month, y, records) in panel.observed_before_start(farm) {
            if self.is_connected[month] {
                let weight = records / (records + self.kappa);
                cells.push(Cell { month, weight, y, records });
            }
        }
    }

    /// Farm level: weighted mean of what months and covariates leave, and the total weight.
    pub(crate) fn farm_level(&self, panel: &Panel, farm: usize, cells: &[Cell]) -> (f64, f64) {
        let total: f64 = cells.iter().map(|c| c.weight).sum();
        let left = |c: &Cell| c.weight * (c.y - self.fitted(panel, farm, c.month));
        (cells.iter().map(left).sum::<f64>() / total, total)
    }
}

/// Fits farm levels, month effects and covariates to untreated farm-months.
///
/// Model: `ln output = farm + month + x'b`, weights `n / (n + kappa)` for `n` records. Farm
/// levels are eliminated exactly, which leaves one dense system of months and covariates, solved
/// by Cholesky. Only the largest connected set of months is kept. A covariate without variation
/// inside farms, or one that is collinear with the months, is dropped. Months that cannot be
/// solved leave no connected month.
///
/// # Units
/// Natural logarithms.
///
/// # Shape
/// Cost grows with farms times months squared. No untreated cell: no connected month.
///
/// # Source
/// Two-way imputation model of Borusyak, Jaravel & Spiess 2024, Rev. Econ. Stud. 91, step 1;
/// covariance clustered by farm with factor `m / (m - 1)`.
pub fn fit_untreated(panel: &Panel, kappa: f64) -> MonthFit {
    let (months, covariates) = (panel.months(), panel.covariate_count());
    let size = months + covariates;
    let mut fit = MonthFit {
        month_effects: vec![0.0; months],
        is_connected: connected_months(panel),
        controls: vec![0; months],
        coefficients: vec![0.0; covariates],
        leverage: vec![0.0; months],
        inverse: DMatrix::zeros(size, size),
        covariance: DMatrix::zeros(size, size),
        kappa: if kappa.is_finite() { kappa.max(0.0) } else { 0.0 },
    };
    let sums = map_chunks(panel.farms(), |farms| {
        let mut sums = SystemSums::new(months, covariates);
        let mut cells = Vec::with_capacity(months);
        for farm in farms {
            fit.untreated(panel, farm, &mut cells);
            sums.add_farm(panel, farm, &cells);
        }
        sums
    });
    let total = sums.into_iter().fold(SystemSums::new(months, covariates), SystemSums::merge);
    total.solve(&mut fit);
    let mut meat = DMatrix::zeros(size, size);
    let mut farms_used = 0_usize;
    for (part, used) in map_chunks(panel.farms(), |farms| score_squares(panel, &fit, farms)) {
        meat += part;
        farms_used += used;
    }
    meat.fill_upper_triangle_with_lower_triangle();
    let factor = farms_used as f64 / farms_used.saturating_sub(1).max(1) as f64;
    fit.covariance = &fit.inverse * meat * &fit.inverse * factor;
    fit
}

/// Largest set of months that farms connect; by untreated cells, ties to the earliest month.
fn connected_months(panel: &Panel) -> Vec<bool> {
    let months = panel.months();
    let parts = map_chunks(panel.farms(), |farms| {
        let mut sets = MonthSets::new(months);
        for farm in farms {
            let mut first = None;
            for (t, ..) in panel.observed_before_start(farm) {
                sets.count[t] += 1;
                sets.join(*first.get_or_insert(t), t);
            }
        }
        sets
    });
    let mut all = MonthSets::new(months);
    for part in parts {
        for t in 0..months {
            all.count[t] += part.count[t];
            all.join(part.root(t), t);
        }
    }
    let mut size = vec![0_usize; months];
    for t in 0..months {
        size[all.root(t)] += all.count[t];
    }
    let largest = size.iter().copied().max().unwrap_or(0);
    let best = size.iter().position(|s| *s == largest);
    (0..months).map(|t| all.count[t] > 0 && Some(all.root(t)) == best).collect()
}

struct MonthSets {
    parent: Vec<usize>,
    count: Vec<usize>,
}

impl MonthSets {
    fn new(months: usize) -> Self {
        Self { parent: (0..months).collect(), count: vec![0; months] }
    }

    fn root(&self, mut t: usize) -> usize {
        while self.parent[t] != t {
            t = self.parent[t];
        }
        t
    }

    /// The smaller root stays root, so that sets do not depend on the order of joining.
    fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.root(a), self.root(b));
        self.parent[a.max(b)] = a.min(b);
    }
}

struct SystemSums {
    months: usize,
    system: DMatrix<f64>,
    right: DVector<f64>,
    weight: f64,
    controls: Vec<usize>,
    month_weight: Vec<f64>,
    month_square: Vec<f64>,
    row: Vec<f64>,
    means: Vec<f64>,
}

impl SystemSums {
    fn new(months: usize, covariates: usize) -> Self {
        let size = months + covariates;
        Self {
            months,
            system: DMatrix::zeros(size, size),
            right: DVector::zeros(size),
            weight: 0.0,
            controls: vec![0; months],
            month_weight: vec![0.0; months],
            month_square: vec![0.0; months],
            row: vec![0.0; months],
            means: vec![0.0; covariates],
        }
    }

    /// Adds one farm: the design is demeaned inside the farm, which eliminates its level.
    fn add_farm(&mut self, panel: &Panel, farm: usize, cells: &[Cell]) {
        let total: f64 = cells.iter().map(|c| c.weight).sum();
        if total <= 0.0 {
            return;
        }
        self.weight += total;
        let level = cells.iter().map(|c| c.weight / total * c.y).sum::<f64>();
        self.row.fill(0.0);
        self.means.fill(0.0);
        for c in cells {
            self.row[c.month] = c.weight / total;
            let x = panel.covariates(farm, c.month);
            self.means.iter_mut().zip(x).for_each(|(m, x)| *m += c.weight / total * x);
        }
        for c in cells {
            let (t, w) = (c.month, c.weight);
            self.controls[t] += 1;
            self.month_weight[t] += w;
            self.month_square[t] += w * w;
            self.system[(t, t)] += w;
            // Columns are contiguous: the lower triangle of column t is rows t to the end.
            let column = &mut self.system.as_mut_slice()[t * self.right.len()..];
            let rows = column[t..self.months].iter_mut().zip(&self.row[t..]);
            rows.for_each(|(s, share)| *s -= w * share);
            self.right[t] += w * (c.y - level);
            self.add_covariates(panel.covariates(farm, t), c, c.y - level);
        }
    }

    fn add_covariates(&mut self, x: &[f64], cell: &Cell, y: f64) {
        for (k, xk) in x.iter().enumerate() {
            let xk = cell.weight * (xk - self.means[k]);
            self.system[(self.months + k, cell.month)] += xk;
            self.right[self.months + k] += xk * y;
            for (l, (xl, mean)) in x.iter().zip(&self.means).enumerate().take(k + 1) {
                self.system[(self.months + k, self.months + l)] += xk * (xl - mean);
            }
        }
    }

    fn merge(mut self, other: Self) -> Self {
        self.system += other.system;
        self.right += other.right;
        self.weight += other.weight;
        self.controls.iter_mut().zip(&other.controls).for_each(|(a, b)| *a += b);
        self.month_weight.iter_mut().zip(&other.month_weight).for_each(|(a, b)| *a += b);
        self.month_square.iter_mut().zip(&other.month_square).for_each(|(a, b)| *a += b);
        self
    }

    fn solve(mut self, fit: &mut MonthFit) {
        self.system.fill_upper_triangle_with_lower_triangle();
        let connected: Vec<usize> = (0..self.months).filter(|t| fit.is_connected[*t]).collect();
        let least = 1e-9 * self.weight.max(1.0);
        let columns = self.months..self.right.len();
        let varied: Vec<usize> = columns.filter(|k| self.system[(*k, *k)] > least).collect();
        // The first connected month is the reference and stays at 0.
        let fixed = connected.get(1..).unwrap_or(&[]);
        let Some((inverse, _)) = inverse_of_part(&self.system, fixed, &varied) else {
            fit.is_connected.fill(false);
            return;
        };
        let solution = &inverse * &self.right;
        fit.month_effects.copy_from_slice(&solution.as_slice()[..self.months]);
        fit.coefficients.copy_from_slice(&solution.as_slice()[self.months..]);
        fit.inverse = inverse;
        let months = self.month_weight.iter().zip(&self.month_square);
        let share =
            |(sum, square): (&f64, &f64)| if *sum > 0.0 { square / (sum * sum) } else { 0.0 };
        fit.leverage = months.map(share).collect();
        fit.controls = self.controls;
    }
}

/// Sum over farms of their squared scores (lower triangle), and the farms.
fn score_squares(
    panel: &Panel,
    fit: &MonthFit,
    farms: std::ops::Range<usize>,
) -> (DMatrix<f64>, usize) {
    let (months, size) = (panel.months(), fit.inverse.nrows());
    let (mut meat, mut farms_used) = (DMatrix::zeros(size, size), 0);
    let (mut cells, mut score) = (Vec::with_capacity(months), vec![0.0; size]);
    for farm in farms {
        fit.untreated(panel, farm, &mut cells);
        if cells.is_empty() {
            continue;
        }
        farms_used += 1;
        let (level, _) = fit.farm_level(panel, farm, &cells);
        score.fill(0.0);
        // Weighted residuals of a farm sum to 0, so that the design need not be demeaned here.
        for c in &cells {
            let e = c.y - fit.fitted(panel, farm, c.month) - level;
            score[c.month] = c.weight * e;
            let x = panel.covariates(farm, c.month);
            let parts = score[months..].iter_mut().zip(x);
            parts.for_each(|(s, x)| *s += c.weight * e * x);
        }
        for (column, s) in score.iter().enumerate() {
            let rows = &mut meat.as_mut_slice()[column * size..];
            rows[column..size].iter_mut().zip(&score[column..]).for_each(|(m, r)| *m += s * r);
        }
    }
    (meat, farms_used)
}
