//! Shrinks noisy member effects towards their common mean, as far as the data ask for.

use serde::Serialize;

use crate::parallel::map_chunks;
use crate::stats::finite;

/// Steps of the grid over the variance between members.
const GRID_STEPS: usize = 40;
/// Places of the pool's own scale, in standard deviations of its logarithm.
const SCALES: [f64; 5] = [-1.6, -0.8, 0.0, 0.8, 1.6];

/// What members have in common, and each member seen in its light.
#[derive(Debug, Clone, PartialEq)]
pub struct Shrinkage {
    /// Posterior mean of each member's effect, in the order given.
    pub effects: Vec<f64>,
    /// Posterior standard deviation of each member's effect.
    pub standard_errors: Vec<f64>,
    /// The population the members come from.
    pub population: Population,
}

/// The population of member effects.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Population {
    /// Posterior mean of the variance between members.
    pub variance: f64,
    /// Posterior mean of the average effect.
    pub mean: f64,
    /// Posterior standard deviation of the average effect.
    pub mean_standard_error: f64,
    /// Posterior mean of the factor on all members' variances.
    pub scale: f64,
}

struct GridPoint {
    variance: f64,
    /// Trapezoid weight on the grid of variances.
    step: f64,
    /// Factor on the members' own variances.
    scale: f64,
    log_likelihood: f64,
    mean: f64,
    mean_variance: f64,
}

/// Posterior of member effects in a normal-normal model with flat priors on mean and variance.
///
/// Effects `t_i ~ N(theta_i, k v_i)`, `theta_i ~ N(mu, A)`. `A` is integrated by the trapezoid
/// rule on `A_j = A_max (j / 40)^3`, `A_max = 4 max(sample variance of t, smallest v)`, under the
/// restricted likelihood; `ln k ~ N(0, scale_sd^2)` on five places, since all members' variances
/// come from one pool and are off together.
///
/// # Units
/// Those of the effects; variances squared.
///
/// # Shape
/// None for fewer than two members, lengths that differ, or a variance that is not above 0.
///
/// # Source
/// Morris 1983, J. Am. Stat. Assoc. 78:47; Morris & Tang 2011, Stat. Sci. 26:271 (flat prior on
/// the variance).
pub fn shrink(effects: &[f64], variances: &[f64], scale_sd: f64) -> Option<Shrinkage> {
    let count = effects.len();
    if count < 2 || variances.len() != count {
        return None;
    }
    let mean = effects.iter().sum::<f64>() / count as f64;
    let square: f64 = effects.iter().map(|t| (t - mean).powi(2)).sum();
    let least = variances.iter().copied().fold(f64::INFINITY, f64::min);
    let largest = 4.0 * (square / (count as f64 - 1.0)).max(least);
    // A variance of 0 or below, or one that is no number, makes the weight of the first grid
    // point no number, and with it the population below: the answer is none.
    let scales = if scale_sd > 1e-9 { &SCALES[..] } else { &[0.0] };
    let points = |z: &f64| grid_points(effects, variances, largest, (*z, scale_sd));
    let grid: Vec<GridPoint> = scales.iter().flat_map(points).collect();
    let weights = grid_weights(&grid);
    let expect = |f: &dyn Fn(&GridPoint) -> f64| -> f64 {
        grid.iter().zip(&weights).map(|(g, w)| w * f(g)).sum()
    };
    let mean = expect(&|g| g.mean);
    let square = expect(&|g| g.mean_variance + g.mean * g.mean);
    let population = Population {
        variance: finite(expect(&|g| g.variance))?,
        mean: finite(mean)?,
        mean_standard_error: finite((square - mean * mean).max(0.0).sqrt())?,
        scale: finite(expect(&|g| g.scale))?,
    };
    // Points without weight say nothing of a member.
    let heavy: Vec<(GridPoint, f64)> =
        grid.into_iter().zip(weights).filter(|(_, weight)| *weight >= 1e-12).collect();
    let pieces = map_chunks(count, |members| {
        let posterior = |i: usize| member_posterior(&heavy, effects[i], variances[i]);
        members.map(posterior).collect::<Vec<_>>()
    });
    let (effects, standard_errors) = pieces.into_iter().flatten().unzip();
    Some(Shrinkage { effects, standard_errors, population })
}

fn grid_points(
    effects: &[f64],
    variances: &[f64],
    largest: f64,
    (z, scale_sd): (f64, f64),
) -> Vec<GridPoint> {
    let at = |j: usize| largest * (j as f64 / GRID_STEPS as f64).powi(3);
    let scale = (z * scale_sd).exp();
    // Weight, weighted effect and log weight of each grid point, by pieces of members.
    let sums = map_chunks(effects.len(), |members| {
        let point = |j: usize| {
            let (mut sums, variance) = ([0.0; 3], at(j));
            let mut product = Product::default();
            for (effect, own) in effects[members.clone()].iter().zip(&variances[members.clone()]) {
                let whole = scale * own + variance;
                let weight = 1.0 / whole;
                sums[0] += weight;
                sums[1] += effect * weight;
                product.multiply(whole);
            }
            sums[2] = -product.ln();
            sums
        };
        (0..=GRID_STEPS).map(point).collect::<Vec<_>>()
    });
    let merged = |j: usize| {
        sums.iter().fold([0.0; 3], |a, s| [a[0] + s[j][0], a[1] + s[j][1], a[2] + s[j][2]])
    };
    let totals: Vec<[f64; 3]> = (0..=GRID_STEPS).map(merged).collect();
    let squares = map_chunks(effects.len(), |members| {
        let point = |j: usize| {
            let mean = totals[j][1] / totals[j][0];
            let square = |i: usize| (effects[i] - mean).powi(2) / (scale * variances[i] + at(j));
            members.clone().map(square).sum::<f64>()
        };
        (0..=GRID_STEPS).map(point).collect::<Vec<_>>()
    });
    let point = |j: usize| {
        let [weight, weighted, log_weight] = totals[j];
        let square: f64 = squares.iter().map(|s| s[j]).sum();
        // Half of the step to each neighbour; the half cancels when the weights are made to sum
        // to 1.
        let (below, above) = (at(j.saturating_sub(1)), at((j + 1).min(GRID_STEPS)));
        GridPoint {
            variance: at(j),
            step: above - below,
            scale,
            log_likelihood: 0.5 * (log_weight - weight.ln() - square - z * z),
            mean: weighted / weight,
            mean_variance: 1.0 / weight,
        }
    };
    (0..=GRID_STEPS).map(point).collect()
}

/// Logarithm of a long product: one logarithm for as many factors as a double holds, rather than one
/// a factor.
struct Product {
    ln: f64,
    held: f64,
}

impl Default for Product {
    fn default() -> Self {
        Self { ln: 0.0, held: 1.0 }
    }
}

impl Product {
    /// Far from where a double loses digits or ends, so that one more factor of this range fits.
    const RANGE: std::ops::RangeInclusive<f64> = 1e-150..=1e150;

    fn multiply(&mut self, factor: f64) {
        if Self::RANGE.contains(&factor) {
            self.held *= factor;
            if !Self::RANGE.contains(&self.held) {
                self.ln += self.held.ln();
                self.held = 1.0;
            }
        } else {
            // Also 0 and what is no number: the answer is then none.
            self.ln += factor.ln();
        }
    }

    fn ln(&self) -> f64 {
        self.ln + self.held.ln()
    }
}

/// Trapezoid weights times likelihood, summing to 1.
fn grid_weights(grid: &[GridPoint]) -> Vec<f64> {
    let top = grid.iter().map(|g| g.log_likelihood).fold(f64::NEG_INFINITY, f64::max);
    let weight = |g: &GridPoint| g.step * (g.log_likelihood - top).exp();
    let mut weights: Vec<f64> = grid.iter().map(weight).collect();
    let total: f64 = weights.iter().sum();
    weights.iter_mut().for_each(|w| *w /= total);
    weights
}

fn member_posterior(grid: &[(GridPoint, f64)], t: f64, v: f64) -> (f64, f64) {
    let (mut first, mut second) = (0.0, 0.0);
    for (g, weight) in grid {
        let v = g.scale * v;
        let shrink = v / (v + g.variance);
        let keep = 1.0 - shrink;
        let mean = g.mean + keep * (t - g.mean);
        first += weight * mean;
        second += weight * (keep * v + shrink * shrink * g.mean_variance + mean * mean);
    }
    (first, (second - first * first).max(0.0).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_logarithm_of_a_product_is_the_sum_of_logarithms() {
        let lists: [&[f64]; 5] = [
            &[],
            &[0.003; 400],
            &[1e-140, 1e-140, 1e-140, 7.0, 1e149, 1e149, 1e149],
            &[1e-300, 1e-300, 1e300, 1e300, 1e300, 2.5],
            &[1e-150, 1e150, 1e-150, 1e-150, 3.0],
        ];
        for list in lists {
            let mut product = Product::default();
            list.iter().for_each(|factor| product.multiply(*factor));
            let sum: f64 = list.iter().map(|factor| factor.ln()).sum();
            let apart = (product.ln() - sum).abs();
            assert!(apart <= 1e-12 * sum.abs().max(1.0), "{list:?}");
        }
        let mut product = Product::default();
        product.multiply(0.0);
        assert!(product.ln() < f64::MIN);
        product.multiply(f64::NAN);
        assert!(product.ln().is_nan());
    }
}
