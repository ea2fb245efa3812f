//! Is it the seed or the farm? Compares lots across farms and farms across lots.

use std::collections::BTreeMap;

use nalgebra::{Cholesky, DMatrix, DVector};
use serde::Serialize;

use crate::limits::{LOTS_MAX, TRAYS_MAX};
use crate::stats::{benjamini_hochberg, finite, snedecor_f_upper, student_t_upper};

/// One batch with its farm and seed lot; ids are any numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LotBatch {
    /// Farm that grew it.
    pub farm: u32,
    /// Seed lot it was grown from.
    pub lot: u32,
    /// Trays started.
    pub started: u32,
    /// Trays discarded.
    pub discarded: u32,
}

/// Constants of the comparison. [`LotRules::default`] is the house rule.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LotRules {
    /// Correlation between trays of a batch, from [`crate::spoilage::tray_correlation`].
    pub correlation: f64,
    /// False discovery rate of named lots.
    pub discovery_rate: f64,
    /// Level of each F test.
    pub level: f64,
    /// Fewest batches of a lot that can be named.
    pub batches_min: usize,
    /// Fewest farms of a lot that can be named.
    pub farms_min: usize,
}

impl Default for LotRules {
    fn default() -> Self {
        let (batches_min, farms_min) = (3, 2);
        Self { correlation: 0.05, discovery_rate: 0.05, level: 0.01, batches_min, farms_min }
    }
}

/// Error degrees of freedom below which nothing is said.
const ERROR_DF_MIN: i64 = 5;

/// Where the differences lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LotVerdict {
    /// Lots differ, farms do not.
    SeedLot,
    /// Farms differ, lots do not.
    Farm,
    /// Both differ.
    Both,
    /// Neither differs.
    Neither,
    /// Farms and lots cannot be told apart in these batches.
    NotIdentifiable,
}

/// Degrees of freedom of the comparison.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct LotDegrees {
    /// Lots less connected parts.
    pub lot: i64,
    /// Farms less connected parts.
    pub farm: i64,
    /// Batches less parameters.
    pub error: i64,
}

/// An F test and the variance between levels.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FactorTest {
    /// F ratio, adjusted for the other factor.
    pub f: f64,
    /// Probability of a larger ratio without differences.
    pub p: f64,
    /// Variance between levels on the arcsine scale, not below 0.
    pub variance: f64,
}

/// One lot's effect.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LotEffect {
    pub lot: u32,
    /// Effect on the arcsine scale against the weighted mean of all lots; above 0 is worse.
    pub effect: f64,
    /// One-sided probability of such an effect by chance.
    pub p: f64,
    /// Batches of the lot.
    pub batches: usize,
    /// Farms that grew it.
    pub farms: usize,
}

/// Tests, effects and named lots, when farms and lots can be told apart.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LotTests {
    /// Lots, given farms.
    pub lot: FactorTest,
    /// Farms, given lots.
    pub farm: FactorTest,
    /// Residual mean square.
    pub mean_square: f64,
    /// All lots by id.
    pub lots: Vec<LotEffect>,
    /// Named lots by id.
    pub bad_lots: Vec<u32>,
}

/// The answer of [`lot_or_farm`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LotAnswer {
    /// Where the differences lie.
    pub verdict: LotVerdict,
    /// Degrees of freedom.
    pub degrees: LotDegrees,
    /// None when not identifiable.
    pub tests: Option<LotTests>,
}

/// Tells bad seed from bad practice in the batches of all farms (house rule: the last 90 days).
///
/// Weighted least squares of `asin sqrt((d + 3/8) / (n + 3/4))` on farm and lot, weight
/// `n / (1 + (n - 1) rho)`. Each factor is tested given the other by F on the residual mean
/// square, which absorbs overdispersion. When lots differ, lots with enough batches and farms
/// are named by one-sided t and [`benjamini_hochberg`].
///
/// # Units
/// Effects on the arcsine scale (radians). Lots in unconnected parts cannot be compared.
///
/// # Shape
/// `NotIdentifiable` without tests when lots or farms have no degree of freedom, fewer than five
/// are left for error, or more lots than the limit. Batches without trays, or with more
/// discards than trays, are left out. All batches exactly alike: `Neither`.
///
/// # Source
/// Anscombe 1948, Biometrika 35:246; Henderson 1953, Biometrics 9:226 (method 3); Benjamini &
/// Hochberg 1995; SPEC B.
pub fn lot_or_farm(batches: &[LotBatch], rules: &LotRules) -> LotAnswer {
    let design = Design::new(batches, rules);
    let degrees = design.degrees();
    let none = LotAnswer { verdict: LotVerdict::NotIdentifiable, degrees, tests: None };
    if !is_comparable(degrees, design.lots.len()) {
        return none;
    }
    let Some(tests) = design.tests(rules, degrees) else {
        return none;
    };
    let verdict = match (tests.lot.p < rules.level, tests.farm.p < rules.level) {
        (true, true) => LotVerdict::Both,
        (true, false) => LotVerdict::SeedLot,
        (false, true) => LotVerdict::Farm,
        (false, false) => LotVerdict::Neither,
    };
    LotAnswer { verdict, degrees, tests: Some(tests) }
}

/// Whether farms and lots can be told apart, and in reasonable time.
fn is_comparable(degrees: LotDegrees, lots: usize) -> bool {
    degrees.lot >= 1 && degrees.farm >= 1 && degrees.error >= ERROR_DF_MIN && lots <= LOTS_MAX
}

/// One batch as the arithmetic sees it.
#[derive(Debug, Clone, Copy)]
struct Row {
    farm: usize,
    lot: usize,
    weight: f64,
    y: f64,
}

struct Design {
    rows: Vec<Row>,
    farms: usize,
    lots: Vec<u32>,
    /// Connected part of each lot.
    part: Vec<usize>,
    parts: usize,
    farm_weight: Vec<f64>,
    lot_weight: Vec<f64>,
    /// Weight of each lot on each farm, ascending by lot.
    crossed: Vec<Vec<(usize, f64)>>,
}

impl Design {
    fn new(batches: &[LotBatch], rules: &LotRules) -> Self {
        let is_valid =
            |b: &&LotBatch| (1..=TRAYS_MAX).contains(&b.started) && b.discarded <= b.started;
        let valid: Vec<&LotBatch> = batches.iter().filter(is_valid).collect();
        let positions = |ids: Vec<u32>| -> BTreeMap<u32, usize> {
            let sorted: std::collections::BTreeSet<u32> = ids.into_iter().collect();
            sorted.into_iter().enumerate().map(|(k, id)| (id, k)).collect()
        };
        let farms = positions(valid.iter().map(|b| b.farm).collect());
        let lots = positions(valid.iter().map(|b| b.lot).collect());
        let rho = rules.correlation.clamp(0.0, 1.0);
        let row = |b: &&LotBatch| {
            let (n, d) = (f64::from(b.started), f64::from(b.discarded));
            let y = ((d + 0.375) / (n + 0.75)).sqrt().asin();
            Row { farm: farms[&b.farm], lot: lots[&b.lot], weight: n / (1.0 + (n - 1.0) * rho), y }
        };
        let rows: Vec<Row> = valid.iter().map(row).collect();
        let (mut farm_weight, mut lot_weight) = (vec![0.0; farms.len()], vec![0.0; lots.len()]);
        let mut crossed = vec![BTreeMap::new(); farms.len()];
        for r in &rows {
            farm_weight[r.farm] += r.weight;
            lot_weight[r.lot] += r.weight;
            *crossed[r.farm].entry(r.lot).or_insert(0.0) += r.weight;
        }
        let crossed = crossed.into_iter().map(|m| m.into_iter().collect()).collect();
        let (part, parts) = connected_lots(&rows, farms.len(), lots.len());
        let (farms, lots) = (farms.len(), lots.into_keys().collect());
        Self { rows, farms, lots, part, parts, farm_weight, lot_weight, crossed }
    }

    fn degrees(&self) -> LotDegrees {
        let [rows, farms, lots, parts] =
            [self.rows.len(), self.farms, self.lots.len(), self.parts].map(|n| n as i64);
        LotDegrees { lot: lots - parts, farm: farms - parts, error: rows - (farms + lots - parts) }
    }

    fn farm_means(&self, value: impl Fn(&Row) -> f64) -> Vec<f64> {
        weighted_means(&self.rows, &self.farm_weight, |r| r.farm, value)
    }

    /// Lot system after farms are eliminated, and its right side.
    fn lot_system(&self) -> (DMatrix<f64>, DVector<f64>) {
        let lots = self.lots.len();
        let mut system = DMatrix::from_diagonal(&DVector::from_column_slice(&self.lot_weight));
        for (row, total) in self.crossed.iter().zip(&self.farm_weight) {
            for (a, wa) in row {
                row.iter().for_each(|(b, wb)| system[(*a, *b)] -= wa * wb / total);
            }
        }
        let means = self.farm_means(|r| r.y);
        let mut right = DVector::zeros(lots);
        self.rows.iter().for_each(|r| right[r.lot] += r.weight * (r.y - means[r.farm]));
        (system, right)
    }

    /// Generalised inverse: the system's null space is one constant for each connected part,
    /// which is added to make it definite and taken off again.
    fn generalised_inverse(&self, system: &DMatrix<f64>) -> Option<DMatrix<f64>> {
        let lots = self.lots.len();
        let mut size = vec![0.0; self.parts];
        self.part.iter().for_each(|p| size[*p] += 1.0);
        let scale = system.trace() / lots as f64;
        let null = DMatrix::from_fn(lots, lots, |a, b| {
            let is_same = self.part[a] == self.part[b];
            if is_same { 1.0 / size[self.part[a]] } else { 0.0 }
        });
        let definite = system + &null * scale;
        Some(Cholesky::new(definite)?.inverse() - null / scale)
    }

    fn tests(&self, rules: &LotRules, degrees: LotDegrees) -> Option<LotTests> {
        let (system, right) = self.lot_system();
        let inverse = self.generalised_inverse(&system)?;
        let mut effects = &inverse * right;
        let weight: f64 = self.lot_weight.iter().sum();
        let mean = effects.iter().zip(&self.lot_weight).map(|(e, w)| e * w).sum::<f64>() / weight;
        effects.add_scalar_mut(-mean);
        let levels = self.farm_means(|r| r.y - effects[r.lot]);
        let square_by = |fit: &dyn Fn(&Row) -> f64| -> f64 {
            self.rows.iter().map(|r| r.weight * (r.y - fit(r)).powi(2)).sum()
        };
        let square = square_by(&|r| levels[r.farm] + effects[r.lot]);
        let by_farm = self.farm_means(|r| r.y);
        let by_lot = weighted_means(&self.rows, &self.lot_weight, |r| r.lot, |r| r.y);
        let error_df = degrees.error as f64;
        // Rounding alone leaves about 1e-32 of the total: below 1e-24 all batches are alike.
        let is_exact = square <= 1e-24 * square_by(&|_| 0.0);
        let test = |reduced: f64, df: i64, spread: f64| {
            let df = df as f64;
            let f = (reduced - square) / df / (square / error_df);
            let alike = reduced <= 1e-24 * square_by(&|_| 0.0);
            match (is_exact, alike) {
                (false, _) => FactorTest {
                    f,
                    p: snedecor_f_upper(f, df, error_df),
                    variance: ((f - 1.0) * df * (square / error_df) / spread).max(0.0),
                },
                (true, true) => FactorTest { f: 0.0, p: 1.0, variance: 0.0 },
                // A perfect fit leaves no error to judge a difference against.
                (true, false) => FactorTest { f: f64::MAX, p: 0.0, variance: reduced / spread },
            }
        };
        let lot = test(square_by(&|r| by_farm[r.farm]), degrees.lot, system.trace());
        let farm = test(square_by(&|r| by_lot[r.lot]), degrees.farm, self.farm_spread());
        let mean_square = square / error_df;
        finite(lot.f.min(farm.f).min(mean_square))?;
        let lots = self.lot_effects(&inverse, &effects, mean_square, error_df);
        let bad_lots = if lot.p < rules.level { named(&lots, rules) } else { Vec::new() };
        Some(LotTests { lot, farm, mean_square, lots, bad_lots })
    }

    /// Trace of the farm system after lots are eliminated.
    fn farm_spread(&self) -> f64 {
        let of_farm = |(row, total): (&Vec<(usize, f64)>, &f64)| {
            total - row.iter().map(|(l, w)| w * w / self.lot_weight[*l]).sum::<f64>()
        };
        self.crossed.iter().zip(&self.farm_weight).map(of_farm).sum()
    }

    fn lot_effects(
        &self,
        inverse: &DMatrix<f64>,
        effects: &DVector<f64>,
        mean_square: f64,
        error_df: f64,
    ) -> Vec<LotEffect> {
        let share = DVector::from_column_slice(&self.lot_weight);
        let share = &share / share.sum();
        let pulled = inverse * &share;
        let common = share.dot(&pulled);
        let mut batches = vec![0; self.lots.len()];
        self.rows.iter().for_each(|r| batches[r.lot] += 1);
        let mut farms = vec![0; self.lots.len()];
        self.crossed.iter().flatten().for_each(|(lot, _)| farms[*lot] += 1);
        let effect = |(k, lot): (usize, &u32)| {
            let variance = (inverse[(k, k)] - 2.0 * pulled[k] + common).max(1e-300);
            let error = (variance * mean_square).sqrt();
            let t = if error > 0.0 { effects[k] / error } else { 0.0 };
            let p = student_t_upper(t, error_df);
            LotEffect { lot: *lot, effect: effects[k], p, batches: batches[k], farms: farms[k] }
        };
        self.lots.iter().enumerate().map(effect).collect()
    }
}

fn weighted_means(
    rows: &[Row],
    weights: &[f64],
    key: impl Fn(&Row) -> usize,
    value: impl Fn(&Row) -> f64,
) -> Vec<f64> {
    let mut means = vec![0.0; weights.len()];
    rows.iter().for_each(|r| means[key(r)] += r.weight * value(r));
    means.iter_mut().zip(weights).for_each(|(m, w)| *m /= w);
    means
}

fn named(lots: &[LotEffect], rules: &LotRules) -> Vec<u32> {
    let is_eligible = |l: &&LotEffect| l.batches >= rules.batches_min && l.farms >= rules.farms_min;
    let eligible: Vec<&LotEffect> = lots.iter().filter(is_eligible).collect();
    let p_values: Vec<f64> = eligible.iter().map(|l| l.p).collect();
    let rejected = benjamini_hochberg(&p_values, rules.discovery_rate);
    let mut bad: Vec<u32> = rejected.into_iter().map(|k| eligible[k].lot).collect();
    bad.sort_unstable();
    bad
}

/// Connected part of each lot, numbered from 0, and how many there are.
fn connected_lots(rows: &[Row], farms: usize, lots: usize) -> (Vec<usize>, usize) {
    let mut parent: Vec<usize> = (0..farms + lots).collect();
    fn root(parent: &mut [usize], mut a: usize) -> usize {
        while parent[a] != a {
            parent[a] = parent[parent[a]];
            a = parent[a];
        }
        a
    }
    for r in rows {
        let (a, b) = (root(&mut parent, r.farm), root(&mut parent, farms + r.lot));
        parent[a.max(b)] = a.min(b);
    }
    let mut numbers = BTreeMap::new();
    let number = |lot: usize| {
        let next = numbers.len();
        *numbers.entry(root(&mut parent, farms + lot)).or_insert(next)
    };
    let part: Vec<usize> = (0..lots).map(number).collect();
    (part, numbers.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The arithmetic itself takes minutes at the limit without optimisation.
    #[test]
    fn as_many_lots_as_the_limit_are_compared_and_one_more_is_not() {
        let least = LotDegrees { lot: 1, farm: 1, error: ERROR_DF_MIN };
        assert!(is_comparable(least, 2));
        assert!(is_comparable(least, LOTS_MAX));
        assert!(!is_comparable(least, LOTS_MAX + 1));
        assert!(!is_comparable(LotDegrees { lot: 0, ..least }, 2));
        assert!(!is_comparable(LotDegrees { farm: 0, ..least }, 2));
        assert!(!is_comparable(LotDegrees { error: ERROR_DF_MIN - 1, ..least }, 2));
    }
}
