//! How far a farm's output wanders by itself, from comparisons that no start can explain: half
//! squared differences between untreated months of one farm, lag by lag.

use serde::Serialize;

use crate::panel::{Cell, MonthFit, Panel};
use crate::parallel::map_chunks;
use crate::variance::{ErrorModel, LagSums, MODEL_LAGS, add_pairs, error_model};

/// Longest lag of a placebo comparison in months; a year on both sides of a start.
pub const LAGS_MAX: usize = 24;
/// Farms a lag needs; below it the lag before it stands.
const FARMS_MIN: usize = 5;
/// Months of untreated records from which a farm counts fully.
const FULL_MONTHS: usize = 24;
/// Placebo windows below which a model of few parameters stands beside the comparisons.
pub const WINDOWS_MIN: f64 = 8.0;
/// Placebo windows from which a group of farms has a shape of its own.
const OWN_SHAPE_WINDOWS: f64 = 20.0;
/// Largest share of the comparisons' own shape, and the windows at which half of it is given.
const SHAPE_MAX: f64 = 0.85;
const SHAPE_HALF: f64 = 20.0;

/// What the error of a contrast rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Basis {
    /// Comparisons of untreated months alone.
    Placebo,
    /// Few comparison farms: at least what the model of months and records says.
    Model,
}

/// One cell of a contrast.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Entry {
    pub month: usize,
    pub weight: f64,
    /// One over the records of the cell.
    pub inverse: f64,
}

/// Error of farms of one kind.
#[derive(Debug, Clone, PartialEq)]
pub struct Pool {
    /// Half mean square between months so far apart, less the noise of records; entry 0 is 0.
    pub half_squares: Vec<f64>,
    pub record_variance: f64,
    /// Independent placebo windows the farms are worth.
    pub windows: f64,
}

/// Variance of a contrast whose weights add up to 0: `se2 sum a^2 / n - sum a_s a_t g|s - t|`.
pub(crate) fn spread(entries: &[Entry], half_squares: &[f64], record_variance: f64) -> f64 {
    let mut cross = 0.0;
    for (k, late) in entries.iter().enumerate() {
        for early in &entries[..k] {
            let lag = late.month.abs_diff(early.month);
            cross += late.weight * early.weight * half_squares.get(lag).copied().unwrap_or(0.0);
        }
    }
    record_variance * records_part(entries) - 2.0 * cross
}

fn records_part(entries: &[Entry]) -> f64 {
    entries.iter().map(|e| e.weight * e.weight * e.inverse).sum()
}

impl Pool {
    fn variance(&self, entries: &[Entry]) -> f64 {
        let square: f64 = entries.iter().map(|e| e.weight * e.weight).sum();
        let next = self.half_squares.get(1).copied().unwrap_or(0.0);
        let least = self.record_variance * records_part(entries) + 0.25 * next * square;
        spread(entries, &self.half_squares, self.record_variance).max(least)
    }
}

/// Errors of all farms of a panel.
#[derive(Debug, Clone)]
pub struct PooledErrors {
    /// Whether there are enough comparisons.
    pub basis: Basis,
    /// All farms together.
    pub all: Pool,
    /// Model of months and records with few parameters.
    pub model: ErrorModel,
    /// Farms with a recorded stage, and those without: the cycle of these stays in their residuals.
    pools: [Pool; 2],
    group: Vec<u8>,
    model_half_squares: Vec<f64>,
}

/// Judges the errors of a panel by its untreated months.
///
/// # Units
/// Squared natural logarithms.
///
/// # Shape
/// No pair of untreated months gives zeros and [`Basis::Model`].
///
/// # Source
/// Half squared differences by lag: the variogram (Cressie 1993, section 2.4), without a form.
pub fn pooled_errors(panel: &Panel, fit: &MonthFit) -> PooledErrors {
    let months = panel.months();
    let lags = LAGS_MAX.min(months.saturating_sub(1));
    let group: Vec<u8> = (0..panel.farms()).map(|farm| group_of(panel, farm)).collect();
    let mut sums = [PlaceboSums::new(lags), PlaceboSums::new(lags)];
    let mut model_lags = vec![LagSums::default(); lags.min(MODEL_LAGS)];
    let parts = map_chunks(panel.farms(), |farms| {
        let mut sums = [PlaceboSums::new(lags), PlaceboSums::new(lags)];
        let mut model_lags = vec![LagSums::default(); lags.min(MODEL_LAGS)];
        let (mut cells, mut residuals) = (Vec::with_capacity(months), Vec::new());
        for farm in farms {
            residuals_of(panel, fit, farm, &mut cells, &mut residuals);
            add_pairs(&mut model_lags, &cells, &residuals);
            let own = &mut sums[usize::from(group[farm])];
            own.add_farm(&cells, &residuals, &fit.leverage, months);
        }
        (sums, model_lags)
    });
    for ([a, b], model) in parts {
        sums[0].merge(&a);
        sums[1].merge(&b);
        model_lags.iter_mut().zip(&model).for_each(|(x, y)| x.merge(y));
    }
    let mut together = sums[0].clone();
    together.merge(&sums[1]);
    let all = together.pool(months);
    let pools = if panel.has_covariates() {
        [sums[0].own_or_scaled(&all, months), sums[1].own_or_scaled(&all, months)]
    } else {
        [all.clone(), all.clone()]
    };
    let model = error_model(&model_lags);
    let is_enough = all.windows >= WINDOWS_MIN && all.half_squares.iter().any(|g| *g > 0.0);
    let powers = (0..months).map(|h| model.correlation.powi(i32::try_from(h).unwrap_or(i32::MAX)));
    PooledErrors {
        basis: if is_enough { Basis::Placebo } else { Basis::Model },
        model_half_squares: powers.map(|p| model.month_variance * (1.0 - p)).collect(),
        all,
        model,
        pools,
        group,
    }
}

/// Untreated cells of a farm and what farm, months and stage leave of them.
pub(crate) fn residuals_of(
    panel: &Panel,
    fit: &MonthFit,
    farm: usize,
    cells: &mut Vec<Cell>,
    residuals: &mut Vec<f64>,
) {
    fit.untreated(panel, farm, cells);
    residuals.clear();
    if !cells.is_empty() {
        let (level, _) = fit.farm_level(panel, farm, cells);
        residuals.extend(cells.iter().map(|c| c.y - fit.fitted(panel, farm, c.month) - level));
    }
}

/// 1 where most observed months of the farm have no stage.
fn group_of(panel: &Panel, farm: usize) -> u8 {
    if !panel.has_covariates() {
        return 0;
    }
    let observed = (0..panel.months()).filter(|t| panel.observed(farm, *t).is_some());
    let (mut all, mut missing) = (0_usize, 0_usize);
    for month in observed {
        all += 1;
        missing += usize::from(panel.is_stage_missing(farm, month));
    }
    u8::from(2 * missing > all)
}

impl PooledErrors {
    /// Variance of a contrast of one farm whose weights add up to 0.
    pub(crate) fn variance(&self, farm: usize, entries: &[Entry]) -> f64 {
        let own = self.pool(farm).variance(entries);
        match self.basis {
            Basis::Placebo => own,
            Basis::Model => own.max(self.model_variance(entries)),
        }
    }

    /// The same by the model alone.
    pub(crate) fn model_variance(&self, entries: &[Entry]) -> f64 {
        spread(entries, &self.model_half_squares, self.model.record_variance)
    }

    /// Half mean square and record variance that a farm's own scatter is held against.
    pub(crate) fn scatter(&self, group: u8) -> Pool {
        let pool = &self.pools[usize::from(group)];
        if self.basis == Basis::Placebo {
            return pool.clone();
        }
        let larger = pool.half_squares.iter().zip(&self.model_half_squares);
        Pool {
            half_squares: larger.map(|(a, b)| a.max(*b)).collect(),
            record_variance: pool.record_variance.max(self.model.record_variance),
            windows: pool.windows,
        }
    }

    pub(crate) fn pool(&self, farm: usize) -> &Pool {
        &self.pools[usize::from(self.group(farm))]
    }

    pub(crate) fn group(&self, farm: usize) -> u8 {
        self.group.get(farm).copied().unwrap_or(0)
    }

    /// Share that the comparisons' own shape has in the error of a contrast.
    pub(crate) fn shape_share(&self) -> f64 {
        SHAPE_MAX * self.all.windows / (self.all.windows + SHAPE_HALF)
    }
}

/// Weighted sums over pairs of months, one lag each.
#[derive(Debug, Clone, Copy, Default)]
struct PlaceboLag {
    weight: f64,
    x: f64,
    d: f64,
    xx: f64,
    xd: f64,
    farms: usize,
}

#[derive(Debug, Clone)]
struct PlaceboSums {
    /// Entry `h - 1` holds lag `h`.
    lags: Vec<PlaceboLag>,
    windows: f64,
    seen: Vec<bool>,
}

impl PlaceboSums {
    fn new(lags: usize) -> Self {
        let lag = vec![PlaceboLag::default(); lags];
        Self { lags: lag, windows: 0.0, seen: vec![false; lags] }
    }

    fn add_farm(&mut self, cells: &[Cell], residuals: &[f64], leverage: &[f64], months: usize) {
        let full = months.clamp(1, FULL_MONTHS) as f64;
        // Farms seen long enough for every lag carry all lags alike.
        let share = (cells.len() as f64 / full).min(1.0).powi(4);
        self.windows += share * ((cells.len() as f64 - 6.0) / 18.0).max(0.0);
        self.seen.fill(false);
        for (i, (late, e)) in cells.iter().zip(residuals).enumerate() {
            for (early, f) in cells.iter().zip(residuals).take(i).rev() {
                let lag = late.month - early.month - 1;
                let Some(sums) = self.lags.get_mut(lag) else { break };
                let weight = late.weight * early.weight * share;
                let known = 1.0 - 0.5 * (leverage[late.month] + leverage[early.month]);
                let d = 0.5 * (e - f) * (e - f) / known.max(0.2);
                let x = 0.5 * (1.0 / late.records + 1.0 / early.records);
                sums.weight += weight;
                sums.x += weight * x;
                sums.d += weight * d;
                sums.xx += weight * x * x;
                sums.xd += weight * x * d;
                self.seen[lag] = true;
            }
        }
        for (lag, seen) in self.lags.iter_mut().zip(&self.seen) {
            lag.farms += usize::from(*seen);
        }
    }

    fn merge(&mut self, other: &Self) {
        self.windows += other.windows;
        for (a, b) in self.lags.iter_mut().zip(&other.lags) {
            a.weight += b.weight;
            a.x += b.x;
            a.d += b.d;
            a.xx += b.xx;
            a.xd += b.xd;
            a.farms += b.farms;
        }
    }

    fn record_variance(&self) -> f64 {
        let (mut within, mut cross, mut square) = (0.0, 0.0, 0.0);
        for lag in self.lags.iter().take(MODEL_LAGS).filter(|l| l.weight > 0.0) {
            square += lag.xx;
            within += lag.xx - lag.x * lag.x / lag.weight;
            cross += lag.xd - lag.x * lag.d / lag.weight;
        }
        let slope = if within > 1e-9 * square { (cross / within).max(0.0) } else { 0.0 };
        // The noise of records cannot be more than all of the difference at the first lag.
        let first = self.lags.iter().find(|l| l.farms >= FARMS_MIN);
        let most = first.filter(|l| l.x > 0.0).map(|l| l.d / l.x);
        most.map_or(slope, |most| slope.min(most))
    }

    fn pool(&self, months: usize) -> Pool {
        let record_variance = self.record_variance();
        let mut half_squares = vec![0.0; months];
        let mut last = 0.0;
        for (h, half_square) in half_squares.iter_mut().enumerate().skip(1) {
            if let Some(lag) = self.lags.get(h - 1).filter(|l| l.farms >= FARMS_MIN) {
                last = ((lag.d - record_variance * lag.x) / lag.weight).max(0.0);
            }
            *half_square = last;
        }
        Pool { half_squares, record_variance, windows: self.windows }
    }

    /// The farms' own pool where they are many, else that of all farms at the farms' own level.
    fn own_or_scaled(&self, all: &Pool, months: usize) -> Pool {
        if self.windows >= OWN_SHAPE_WINDOWS {
            return self.pool(months);
        }
        let lags = || self.lags.iter().zip(all.half_squares.iter().skip(1));
        let expected: f64 = lags().map(|(l, g)| l.weight * g + l.x * all.record_variance).sum();
        let found: f64 = self.lags.iter().map(|l| l.d).sum();
        let ratio = if expected > 0.0 { found / expected } else { 1.0 };
        let scale = (self.windows * ratio + 2.0) / (self.windows + 2.0);
        Pool {
            half_squares: all.half_squares.iter().map(|g| g * scale).collect(),
            record_variance: all.record_variance * scale,
            windows: self.windows,
        }
    }
}
