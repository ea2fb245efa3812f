//! What farms of one area share in a month, and no other area: a drought, a price, a disease.

use serde::Serialize;

use crate::core::Core;
use crate::errors::{Entry, residuals_of, spread};

/// Correlation of a shock from one month to the next.
const CORRELATION: f64 = 0.8;
/// Longest lag looked at in months.
const LAGS_MAX: usize = 12;
/// Farms that make an area one to look at.
const FARMS_MIN: usize = 3;
/// Degrees of freedom of the prior, and its share of the farms' own wandering over a year.
const PRIOR_DF: f64 = 2.0;
const PRIOR_SHARE: f64 = 0.15;

/// Where the size of area shocks comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum AreaBasis {
    /// Fewer than two areas with three untreated farms: nothing can be said.
    None,
    AreaMonths,
}

/// Size of area shocks.
#[derive(Debug, Clone, PartialEq)]
pub struct AreaShock {
    /// Variance of a shock.
    pub variance: f64,
    /// Its correlation from one month to the next; 0 where there is one area.
    pub correlation: f64,
    /// Where it comes from.
    pub basis: AreaBasis,
    pub degrees_of_freedom: f64,
    half_squares: Vec<f64>,
}

/// `variance (1 - correlation^h)` by lag.
pub(crate) fn half_squares(variance: f64, correlation: f64, months: usize) -> Vec<f64> {
    let power = |h: usize| correlation.powi(i32::try_from(h).unwrap_or(i32::MAX));
    (0..months).map(|h| variance * (1.0 - power(h))).collect()
}

impl AreaShock {
    fn new(variance: f64, basis: AreaBasis, degrees_of_freedom: f64, months: usize) -> Self {
        let half_squares = half_squares(variance, CORRELATION, months);
        Self { variance, correlation: CORRELATION, basis, degrees_of_freedom, half_squares }
    }

    /// Where fewer than two areas can be compared.
    fn none(months: usize) -> Self {
        Self { correlation: 0.0, ..Self::new(0.0, AreaBasis::None, 0.0, months) }
    }

    /// Variance that shocks give a combination of months of one area.
    pub(crate) fn variance(&self, entries: &[Entry]) -> f64 {
        spread(entries, &self.half_squares, 0.0)
    }
}

/// Products of differences of one lag and month: within areas, and over all farms.
#[derive(Clone, Copy, Default)]
struct AreaSums {
    sum: f64,
    square: f64,
    farms: f64,
}

/// Sizes area shocks: within-area less cross-area products of residual differences.
pub(crate) fn area_shock(core: &Core, areas: &[usize]) -> AreaShock {
    let months = core.panel.months();
    let area = |farm: usize| areas.get(farm).copied().unwrap_or(0);
    let count = (0..core.panel.farms()).map(|f| area(f) + 1).max().unwrap_or(0);
    if count < 2 {
        return AreaShock::none(months);
    }
    let lags = LAGS_MAX.min(months.saturating_sub(1));
    let mut sums = vec![AreaSums::default(); lags * months * count];
    let mut farms_of = vec![0_usize; count];
    let mut is_used = vec![false; months];
    let (mut cells, mut residuals) = (Vec::new(), Vec::new());
    for farm in 0..core.panel.farms() {
        residuals_of(&core.panel, &core.fit, farm, &mut cells, &mut residuals);
        farms_of[area(farm)] += usize::from(!cells.is_empty());
        for (k, (late, e)) in cells.iter().zip(&residuals).enumerate() {
            is_used[late.month] = true;
            for (early, f) in cells.iter().zip(&residuals).take(k).rev() {
                let lag = late.month - early.month;
                if lag > lags {
                    break;
                }
                let at = ((lag - 1) * months + early.month) * count + area(farm);
                let d = e - f;
                sums[at].sum += d;
                sums[at].square += d * d;
                sums[at].farms += 1.0;
            }
        }
    }
    let large = farms_of.iter().filter(|n| **n >= FARMS_MIN).count();
    let (mut top, mut bottom, mut pairs) = (0.0, 0.0, 0.0);
    for (lag, of_lag) in sums.chunks((months * count).max(1)).enumerate() {
        let Some((product, weight)) = excess(of_lag, count) else { continue };
        let f = 1.0 - CORRELATION.powi(i32::try_from(lag + 1).unwrap_or(i32::MAX));
        top += weight * f * product;
        bottom += weight * f * f;
        pairs += weight;
    }
    if large < 2 || pairs <= 0.0 {
        return AreaShock::none(months);
    }
    let found = (top / bottom).max(0.0);
    let square = CORRELATION * CORRELATION;
    let independent = (1.0 - square) / (1.0 + square);
    let used = is_used.iter().filter(|used| **used).count() as f64;
    let df = ((large as f64 - 1.0) * used * independent / 2.0).max(1.0);
    let own = &core.errors.all.half_squares;
    let year = own.get(LAGS_MAX.min(months.saturating_sub(1))).copied().unwrap_or(0.0);
    let variance = (df * found + PRIOR_DF * PRIOR_SHARE * year) / (df + PRIOR_DF);
    AreaShock::new(variance, AreaBasis::AreaMonths, df, months)
}

/// Half mean product of differences within areas, less the same across areas; and the pairs within.
fn excess(of_lag: &[AreaSums], count: usize) -> Option<(f64, f64)> {
    let (mut within, mut within_pairs, mut across, mut across_pairs) = (0.0, 0.0, 0.0, 0.0);
    for of_month in of_lag.chunks(count.max(1)) {
        let own: f64 = of_month.iter().map(|a| a.sum * a.sum - a.square).sum();
        let own_pairs: f64 = of_month.iter().map(|a| a.farms * (a.farms - 1.0)).sum();
        let sum: f64 = of_month.iter().map(|a| a.sum).sum();
        let square: f64 = of_month.iter().map(|a| a.square).sum();
        let farms: f64 = of_month.iter().map(|a| a.farms).sum();
        let other_pairs = farms * (farms - 1.0) - own_pairs;
        if own_pairs > 0.0 && other_pairs > 0.0 {
            within += own;
            within_pairs += own_pairs;
            across += sum * sum - square - own;
            across_pairs += other_pairs;
        }
    }
    let is_any = within_pairs > 0.0;
    is_any.then(|| (0.5 * (within / within_pairs - across / across_pairs), within_pairs))
}
