//! How much single records and whole months of a farm vary: one pooled error model.

use serde::Serialize;

use crate::panel::Cell;

/// Error of a farm-month of `n` records: `u + e`, where `u` follows its last month with
/// correlation `correlation` and `e` has variance `record_variance / n`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ErrorModel {
    /// Correlation of `u` from one month to the next, on a grid of 0.05.
    pub correlation: f64,
    /// Variance of `u`.
    pub month_variance: f64,
    pub record_variance: f64,
}

/// Sums of one lag: pairs of residuals that many months apart.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct LagSums {
    pairs: f64,
    y: f64,
    yy: f64,
    x: f64,
    xx: f64,
    xy: f64,
}

impl LagSums {
    pub(crate) fn merge(&mut self, other: &Self) {
        self.pairs += other.pairs;
        self.y += other.y;
        self.yy += other.yy;
        self.x += other.x;
        self.xx += other.xx;
        self.xy += other.xy;
    }
}

/// Longest lag of the model in months.
pub(crate) const MODEL_LAGS: usize = 6;

/// Adds all pairs of one farm's residuals; entry `h - 1` of `lags` holds lag `h`.
pub(crate) fn add_pairs(lags: &mut [LagSums], cells: &[Cell], residuals: &[f64]) {
    for (i, (late, e)) in cells.iter().zip(residuals).enumerate() {
        for (early, f) in cells.iter().zip(residuals).take(i).rev() {
            let Some(sums) = lags.get_mut(late.month - early.month - 1) else {
                break;
            };
            let y = 0.5 * (e - f) * (e - f);
            let x = 0.5 * (1.0 / late.records + 1.0 / early.records);
            sums.pairs += 1.0;
            sums.y += y;
            sums.yy += y * y;
            sums.x += x;
            sums.xx += x * x;
            sums.xy += x * y;
        }
    }
}

/// Fits the error model to half squared differences of untreated residuals within farms.
///
/// For each correlation on the grid 0, 0.05 … 0.95 the two variances come from least squares
/// on `su2 (1 - phi^h) + se2 (1/n_t + 1/n_s) / 2`, neither below 0; the smallest sum of squares
/// wins, the first on a tie. Differences within farms are free of the bias that farm levels
/// put into plain residual correlations.
///
/// # Units
/// Squared logarithms.
///
/// # Shape
/// No pair of months gives all zeros.
///
/// # Source
/// Variogram estimator; SPEC A2. Bias avoided: Nickell 1981, Econometrica 49:1417.
pub(crate) fn error_model(lags: &[LagSums]) -> ErrorModel {
    let lags: Vec<(i32, &LagSums)> = (1..).zip(lags).filter(|(_, s)| s.pairs > 0.0).collect();
    let mut best: Option<(f64, ErrorModel)> = None;
    if lags.is_empty() {
        return ErrorModel { correlation: 0.0, month_variance: 0.0, record_variance: 0.0 };
    }
    for step in 0..20 {
        let correlation = f64::from(step) * 0.05;
        let normal = NormalSums::new(&lags, correlation);
        for (month_variance, record_variance) in normal.candidates().into_iter().flatten() {
            let loss = normal.loss(month_variance, record_variance);
            // Losses that differ by rounding only are a tie, also when the fit is exact.
            let is_better = |held: &f64| loss < held - 1e-12 * held.abs() - 1e-14 * normal.yy;
            if best.as_ref().is_none_or(|(held, _)| is_better(held)) {
                best = Some((loss, ErrorModel { correlation, month_variance, record_variance }));
            }
        }
    }
    let none = ErrorModel { correlation: 0.0, month_variance: 0.0, record_variance: 0.0 };
    best.map_or(none, |(_, model)| model)
}

#[derive(Default)]
struct NormalSums {
    ff: f64,
    fx: f64,
    xx: f64,
    fy: f64,
    xy: f64,
    yy: f64,
}

impl NormalSums {
    fn new(lags: &[(i32, &LagSums)], correlation: f64) -> Self {
        let mut sums = Self::default();
        for (h, lag) in lags {
            let f = 1.0 - correlation.powi(*h);
            sums.ff += lag.pairs * f * f;
            sums.fx += f * lag.x;
            sums.xx += lag.xx;
            sums.fy += f * lag.y;
            sums.xy += lag.xy;
            sums.yy += lag.yy;
        }
        sums
    }

    /// Both variances when both fit at 0 or above, then each alone.
    fn candidates(&self) -> [Option<(f64, f64)>; 3] {
        let determinant = self.ff * self.xx - self.fx * self.fx;
        let both = (determinant > 1e-12 * self.ff * self.xx).then(|| {
            let u = (self.xx * self.fy - self.fx * self.xy) / determinant;
            let e = (self.ff * self.xy - self.fx * self.fy) / determinant;
            (u, e)
        });
        let month_only = (self.fy / self.ff).max(0.0);
        let record_only = (self.xy / self.xx).max(0.0);
        let both = both.filter(|(u, e)| *u >= 0.0 && *e >= 0.0);
        [both, Some((month_only, 0.0)), Some((0.0, record_only))]
    }

    fn loss(&self, u: f64, e: f64) -> f64 {
        let cross = u * self.fy + e * self.xy;
        self.yy - 2.0 * cross + u * u * self.ff + 2.0 * u * e * self.fx + e * e * self.xx
    }
}
