//! Penalised binomial regression with farm effects, farms eliminated exactly.

use super::WhyRules;
use super::columns::Data;
use crate::limits::CHUNK_BATCHES;
use crate::parallel::map_items;
use nalgebra::{Cholesky, DMatrix, DVector};

/// Steps of the variance between farms.
const VARIANCE_STEPS: usize = 40;
/// Change of it, relative, at which it has settled.
const VARIANCE_NEAR: f64 = 1e-5;
/// Newton steps at one variance.
const NEWTON_STEPS: usize = 60;
/// Largest step at which the coefficients have settled.
const NEWTON_NEAR: f64 = 1e-9;
/// No step is longer.
const STEP_MAX: f64 = 2.0;
/// Logarithms of odds beyond this weigh as this: a share of 0.03 %.
const LOGIT_MAX: f64 = 8.0;
/// Farms from which the error by farm is used.
const SANDWICH_FARMS_MIN: usize = 10;

/// What the regression gives.
pub(super) struct Fitted {
    /// Of each column.
    pub slopes: DVector<f64>,
    /// Of each farm.
    pub effects: Vec<f64>,
    pub variance: f64,
    pub dispersion: f64,
    /// Variance of each slope.
    pub squares: Vec<f64>,
    /// Expected share, weight and residual of each batch.
    pub batches: Vec<Weighed>,
}

/// One batch at the present coefficients.
#[derive(Clone, Copy)]
pub(super) struct Weighed {
    pub share: f64,
    pub weight: f64,
    pub residual: f64,
}

/// Sums at the present coefficients.
struct Blocks {
    batches: Vec<Weighed>,
    /// Weight of each farm with its penalty.
    farm_weight: Vec<f64>,
    /// Weighted sums of the columns of each farm: farms by columns.
    crossed: DMatrix<f64>,
    /// The system of the columns with farms eliminated.
    system: DMatrix<f64>,
}

impl Fitted {
    /// None when the system cannot be solved.
    pub fn new(data: &Data, correlation: f64, rules: &WhyRules) -> Option<Self> {
        let share = data.lost() / data.trays();
        if share <= 0.0 || share >= 1.0 {
            return None;
        }
        let mut at = Newton::new(data, correlation, rules, share);
        for _ in 0..VARIANCE_STEPS {
            let blocks = at.settle()?;
            let next = at.variance_of(&blocks)?;
            let next = next.max(rules.variance_min).min(rules.variance_max);
            let is_settled = (next - at.variance).abs() <= VARIANCE_NEAR * at.variance;
            at.variance = next;
            if is_settled {
                break;
            }
        }
        at.answer()
    }
}

struct Newton<'a> {
    data: &'a Data,
    /// `1 + (n - 1) rho` of each batch.
    inflation: Vec<f64>,
    /// Penalty of each column.
    penalty: DVector<f64>,
    slopes: DVector<f64>,
    effects: Vec<f64>,
    variance: f64,
}

impl<'a> Newton<'a> {
    fn new(data: &'a Data, correlation: f64, rules: &WhyRules, share: f64) -> Self {
        let penalty = 1.0 / (rules.prior * rules.prior);
        let mut slopes = DVector::zeros(data.width);
        slopes[0] = (share / (1.0 - share)).ln();
        Self {
            data,
            inflation: data.rows.iter().map(|r| 1.0 + (r.n - 1.0) * correlation).collect(),
            penalty: DVector::from_fn(data.width, |k, _| if k == 0 { 0.0 } else { penalty }),
            slopes,
            effects: vec![0.0; data.farms.len()],
            variance: rules.variance_start.clamp(rules.variance_min, rules.variance_max),
        }
    }

    fn weigh(&self, j: usize) -> Weighed {
        let row = &self.data.rows[j];
        let of = self.data.row(j).iter().zip(self.slopes.iter());
        let logit = of.map(|(x, b)| x * b).sum::<f64>() + self.effects[row.farm];
        let share = 1.0 / (1.0 + (-logit.clamp(-LOGIT_MAX, LOGIT_MAX)).exp());
        let v = self.inflation[j];
        let weight = row.n * share * (1.0 - share) / v;
        Weighed { share, weight, residual: (row.d - row.n * share) / v }
    }

    fn blocks(&self) -> Blocks {
        let (width, size) = (self.data.width, self.data.rows.len());
        let parts = map_items(size.div_ceil(CHUNK_BATCHES), |part| {
            let range = part * CHUNK_BATCHES..size.min((part + 1) * CHUNK_BATCHES);
            let batches: Vec<Weighed> = range.clone().map(|j| self.weigh(j)).collect();
            let mut square = vec![0.0; width * width];
            for (j, at) in range.zip(&batches) {
                add_square(&mut square, self.data.row(j), at.weight);
            }
            (batches, square)
        });
        let mut square = vec![0.0; width * width];
        let mut batches = Vec::with_capacity(size);
        for (more, part) in parts {
            batches.extend(more);
            square.iter_mut().zip(part).for_each(|(sum, of)| *sum += of);
        }
        let mut farm_weight = vec![1.0 / self.variance; self.data.farms.len()];
        let mut crossed = DMatrix::zeros(self.data.farms.len(), width);
        for (j, (row, at)) in self.data.rows.iter().zip(&batches).enumerate() {
            farm_weight[row.farm] += at.weight;
            for (k, x) in self.data.row(j).iter().enumerate() {
                crossed[(row.farm, k)] += x * at.weight;
            }
        }
        let mut system = DMatrix::from_fn(width, width, |a, b| square[a.max(b) * width + a.min(b)]);
        for (f, weight) in farm_weight.iter().enumerate() {
            for b in 0..width {
                let of = crossed[(f, b)] / weight;
                for a in 0..width {
                    system[(a, b)] -= crossed[(f, a)] * of;
                }
            }
        }
        system += DMatrix::from_diagonal(&self.penalty);
        Blocks { batches, farm_weight, crossed, system }
    }

    /// Newton steps until the coefficients have settled.
    fn settle(&mut self) -> Option<Blocks> {
        for _ in 0..NEWTON_STEPS {
            let blocks = self.blocks();
            let mut farm_gradient: Vec<f64> =
                self.effects.iter().map(|u| -u / self.variance).collect();
            let mut gradient = -self.penalty.component_mul(&self.slopes);
            for (j, (row, at)) in self.data.rows.iter().zip(&blocks.batches).enumerate() {
                farm_gradient[row.farm] += at.residual;
                let of = self.data.row(j).iter();
                gradient.iter_mut().zip(of).for_each(|(g, x)| *g += x * at.residual);
            }
            let scaled = farm_gradient.iter().zip(&blocks.farm_weight).map(|(g, w)| g / w);
            let scaled = DVector::from_iterator(self.effects.len(), scaled);
            let right = gradient - blocks.crossed.tr_mul(&scaled);
            let step = Cholesky::new(blocks.system.clone())?.solve(&right);
            let pulled = &blocks.crossed * &step;
            let of_farms = farm_gradient.iter().zip(pulled.iter()).zip(&blocks.farm_weight);
            let farm_step: Vec<f64> = of_farms.map(|((g, p), w)| (g - p) / w).collect();
            let longest = |of: &[f64]| of.iter().fold(0.0_f64, |most, x| most.max(x.abs()));
            let most = longest(step.as_slice()).max(longest(&farm_step));
            let cut = (STEP_MAX / most.max(1e-12)).min(1.0);
            self.slopes += step * cut;
            self.effects.iter_mut().zip(&farm_step).for_each(|(u, step)| *u += cut * step);
            if !most.is_finite() {
                return None;
            }
            if most < NEWTON_NEAR {
                break;
            }
        }
        Some(self.blocks())
    }

    /// Variance between farms that the present effects and their errors ask for.
    fn variance_of(&self, blocks: &Blocks) -> Option<f64> {
        let inverse = Cholesky::new(blocks.system.clone())?.inverse();
        let of_farm = |(f, weight): (usize, &f64)| {
            let row = blocks.crossed.row(f) / *weight;
            let error = (&row * &inverse).dot(&row);
            self.effects[f] * self.effects[f] + 1.0 / weight + error
        };
        let sum: f64 = blocks.farm_weight.iter().enumerate().map(of_farm).sum();
        Some(sum / self.effects.len() as f64)
    }

    fn answer(self) -> Option<Fitted> {
        let blocks = self.blocks();
        let (rows, width, farms) = (&self.data.rows, self.data.width, self.effects.len());
        let inverse = Cholesky::new(blocks.system.clone())?.inverse();
        let of_farms = blocks.farm_weight.iter().map(|w| 1.0 - 1.0 / (self.variance * w));
        let freedom = width as f64 + of_farms.sum::<f64>();
        let squares = rows.iter().zip(&blocks.batches).zip(&self.inflation).map(|((r, at), v)| {
            let off = r.d - r.n * at.share;
            off * off / (r.n * at.share * (1.0 - at.share) * v)
        });
        let dispersion = squares.sum::<f64>() / (rows.len() as f64 - freedom).max(1.0);
        let dispersion = dispersion.max(1.0);
        let by_farm = (farms >= SANDWICH_FARMS_MIN).then(|| self.sandwich(&blocks, &inverse));
        let square = |k: usize| {
            let model = inverse[(k, k)] * dispersion;
            by_farm.as_ref().map_or(model, |of| model.max(of[(k, k)]))
        };
        Some(Fitted {
            squares: (0..width).map(square).collect(),
            slopes: self.slopes,
            effects: self.effects,
            variance: self.variance,
            dispersion,
            batches: blocks.batches,
        })
    }

    /// Variance of the slopes from how farms' sums of residuals differ.
    fn sandwich(&self, blocks: &Blocks, inverse: &DMatrix<f64>) -> DMatrix<f64> {
        let farms = self.effects.len();
        let mut scores = DMatrix::zeros(farms, self.data.width);
        for (j, (row, at)) in self.data.rows.iter().zip(&blocks.batches).enumerate() {
            for (k, x) in self.data.row(j).iter().enumerate() {
                let centred = x - blocks.crossed[(row.farm, k)] / blocks.farm_weight[row.farm];
                scores[(row.farm, k)] += centred * at.residual;
            }
        }
        let middle = scores.tr_mul(&scores);
        inverse * middle * inverse * (farms as f64 / (farms as f64 - 1.0))
    }
}

/// Adds the lower half of the weighted square of a row.
fn add_square(square: &mut [f64], row: &[f64], weight: f64) {
    let width = row.len();
    for (a, xa) in row.iter().enumerate().filter(|(_, x)| **x != 0.0) {
        let of = &mut square[a * width..a * width + a + 1];
        let scaled = xa * weight;
        of.iter_mut().zip(row).for_each(|(sum, xb)| *sum += scaled * xb);
    }
}
