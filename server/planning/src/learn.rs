//! What a farm's own harvests and losses teach the plan, drawn towards the co-operative's.

use std::collections::BTreeMap;

/// Spread of a harvest's yield, on the log scale, where too few farms tell it. Our own assumption.
pub const YIELD_SD: f64 = 0.12;
/// Spread of farms' mean yields where too few farms tell it. Our own assumption.
const YIELD_TAU: f64 = 0.15;
/// The least that either spread is taken for: scales alone differ by that.
const SD_LEAST: f64 = 0.05;
/// See [`SD_LEAST`]; of farms.
const TAU_LEAST: f64 = 0.03;
/// Farms, and harvests of each, from which the co-operative's own spread is told.
const FARMS_MIN: usize = 5;
/// See [`FARMS_MIN`].
const HARVESTS_MIN: usize = 3;
/// Days of harvests and batches that are learned from: about two seasons of feed grain.
pub const LEARN_DAYS: u64 = 180;
/// Share of trays that is expected to spoil where nothing is known.
pub const SPOIL: f64 = 0.05;
/// Trays of a co-operative below which its own rate is not told.
pub const SPOIL_TRAYS_MIN: i64 = 100;
/// Trays of the co-operative's rate that a farm's own is drawn with.
const SPOIL_PRIOR: f64 = 40.0;
/// The most that is planned for: above it a farm needs a visit, not more seed.
const SPOIL_MOST: f64 = 0.3;
/// A learned yield stays within these shares of the guide's.
const CLAMP: (f64, f64) = (0.5, 1.5);

/// Yields to plan with.
#[derive(Clone, Debug, PartialEq)]
pub struct Yields<F> {
    /// Fresh fodder from a unit of seed at full age, by farm.
    pub farms: BTreeMap<F, f64>,
    /// The same of a farm that is not among them.
    pub usual: f64,
    /// Mean of farms, log scale.
    pub mean: f64,
    /// Spread of one farm's harvests, log scale.
    pub sd: f64,
    /// Spread of farms, log scale.
    pub tau: f64,
}

/// The yield of each farm from its weighed harvests, brought to full age.
///
/// # Method
/// On the log scale. Values off a farm's own median by more than a factor of two are slips and left
/// out. Mean and both variances by moments over farms with three harvests or more; each farm's mean
/// is drawn to the co-operative's by how much its own harvests tell (one-way random effects, as in
/// Searle, Casella & McCulloch 1992, ch. 3 \[MEM\]); half the variance is added, since feed adds
/// up on the plain scale.
#[must_use]
pub fn learn_yield<F: Ord + Clone>(values: &BTreeMap<F, Vec<f64>>, guide: f64) -> Yields<F> {
    let logs: BTreeMap<&F, Vec<f64>> = values.iter().map(|(f, v)| (f, kept(v))).collect();
    let (mut sd2, mut tau2, mut mean) =
        (YIELD_SD * YIELD_SD, YIELD_TAU * YIELD_TAU, guide.max(f64::MIN_POSITIVE).ln());
    let good: Vec<&Vec<f64>> = logs.values().filter(|v| v.len() >= HARVESTS_MIN).collect();
    if good.len() >= FARMS_MIN {
        let free: f64 = good.iter().map(|v| count(v) - 1.0).sum();
        let within: f64 = good.iter().map(|v| squares(v)).sum();
        sd2 = (within / free).max(SD_LEAST * SD_LEAST);
        let means: Vec<f64> = good.iter().map(|v| average(v)).collect();
        mean = average(&means);
        let between = squares(&means) / (count(&means) - 1.0);
        let noise = good.iter().map(|v| sd2 / count(v)).sum::<f64>() / count(&means);
        tau2 = (between - noise).max(TAU_LEAST * TAU_LEAST);
    }
    let of = |v: &[f64]| {
        let drawn = if v.is_empty() {
            mean
        } else {
            mean + tau2 / (tau2 + sd2 / count(v)) * (average(v) - mean)
        };
        (drawn + sd2 / 2.0).exp().clamp(CLAMP.0 * guide, CLAMP.1 * guide)
    };
    Yields {
        farms: logs.iter().map(|(f, v)| ((*f).clone(), of(v))).collect(),
        usual: of(&[]),
        mean,
        sd: sd2.sqrt(),
        tau: tau2.sqrt(),
    }
}

/// The logs of a farm's values, without those that are off its median by more than a factor of two.
fn kept(values: &[f64]) -> Vec<f64> {
    let mut logs: Vec<f64> = values.iter().filter(|v| **v > 0.0).map(|v| v.ln()).collect();
    let mut sorted = logs.clone();
    sorted.sort_by(f64::total_cmp);
    let low = sorted.get(sorted.len().saturating_sub(1) / 2).copied().unwrap_or(0.0);
    let high = sorted.get(sorted.len() / 2).copied().unwrap_or(0.0);
    let middle = f64::midpoint(low, high);
    logs.retain(|v| (v - middle).abs() <= std::f64::consts::LN_2);
    logs
}

const fn count(values: &[f64]) -> f64 {
    values.len() as f64
}

fn average(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / count(values)
}

fn squares(values: &[f64]) -> f64 {
    let mean = average(values);
    values.iter().map(|v| (v - mean) * (v - mean)).sum()
}

/// The share of trays that a farm is expected to lose, from its batches of (trays, lost), drawn to
/// the co-operative's rate. `rho` is the correlation of the trays of one batch: it weighs a batch
/// of many trays less than as many single ones.
#[must_use]
pub fn learn_spoilage(batches: &[(f64, f64)], rho: f64, usual: f64) -> f64 {
    let (mut lost, mut all) = (SPOIL_PRIOR * usual, SPOIL_PRIOR);
    for (trays, spoiled) in batches {
        let weight = 1.0 / (1.0 + (trays - 1.0) * rho);
        lost += weight * spoiled;
        all += weight * trays;
    }
    (lost / all).min(SPOIL_MOST)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_harvests_a_farm_has_the_usual_yield_and_with_very_many_its_own() {
        let own: Vec<f64> = (0..1_000).map(|n| if n % 2 == 0 { 4.9 } else { 5.1 }).collect();
        let others = (1..8).map(|f| (f, vec![6.0, 6.3, 5.7, 6.1]));
        let mut all: BTreeMap<i32, Vec<f64>> = others.collect();
        all.insert(0, own);
        all.insert(9, Vec::new());
        let made = learn_yield(&all, 6.0);
        assert!((made.farms[&9] - made.usual).abs() < 1e-12);
        // ARITH: mean 5, and half the variance of a harvest.
        let mean = (0.5 * (4.9_f64.ln() + 5.1_f64.ln()) + made.sd * made.sd / 2.0).exp();
        assert!((made.farms[&0] - mean).abs() < 0.01, "{}", made.farms[&0]);
    }

    /// Numbers of the reference of the method (`learn_yield`), to nine places.
    #[test]
    fn yields_are_those_of_the_reference() {
        let all = [
            (0, vec![5.0, 5.5, 6.0]),
            (1, vec![6.5, 6.0, 7.2, 6.1]),
            (2, vec![4.4, 5.2, 4.9]),
            (3, vec![5.8, 6.6, 6.1, 5.9, 7.0]),
            (4, vec![7.4, 6.9, 8.0]),
            (5, vec![6.2, 5.0]),
            (6, vec![]),
            // Twice its median and a bit more is a slip; a bit less is none.
            (7, vec![6.0, 12.1, 3.1, 5.8]),
        ];
        let near = |made: &Yields<i32>, expected: &[f64], (mean, sd, tau): (f64, f64, f64)| {
            for (of, value) in made.farms.values().zip(expected) {
                assert!((of - value).abs() < 1e-9, "{of} {value}");
            }
            assert_eq!(made.farms.len(), expected.len());
            for (of, value) in [(made.mean, mean), (made.sd, sd), (made.tau, tau)] {
                assert!((of - value).abs() < 1e-9, "{of} {value}");
            }
        };
        let expected = [
            5.629_175_25,
            6.372_302_861,
            5.114_898_138,
            6.255_447_742,
            7.047_661_816,
            5.711_158_104,
            5.859_886_712,
            5.066_336_906,
        ];
        let told = (1.755_989_010_135, 0.155_828_501_013, 0.153_269_945_146);
        near(&learn_yield(&BTreeMap::from(all.clone()), 6.0), &expected, told);
        // Four farms tell no spread: the usual ones hold, about the guide's yield.
        let few = BTreeMap::from_iter(all.into_iter().take(4));
        let expected = [5.612_335_286, 6.417_738_784, 5.047_030_844, 6.278_492_767];
        near(&learn_yield(&few, 6.0), &expected, (6.0_f64.ln(), YIELD_SD, YIELD_TAU));
    }

    /// Numbers of the reference of the method (`learn_spoilage`).
    #[test]
    fn spoilage_is_that_of_the_reference() {
        let of = |batches: &[(f64, f64)], usual| learn_spoilage(batches, 0.05, usual);
        let some = [(1.0, 0.0), (5.0, 2.0), (8.0, 1.0), (4.0, 0.0)];
        assert!((of(&some, 0.07) - 0.095_424_701_594_936).abs() < 1e-12);
        assert!((of(&[], 0.06) - 0.06).abs() < 1e-12);
        assert!((of(&[(5.0, 4.0); 30], 0.05) - SPOIL_MOST).abs() < 1e-12);
    }

    #[test]
    fn a_tenfold_slip_teaches_nothing() {
        let with = |slip: &[f64]| {
            let values = [vec![6.0, 6.2, 5.9, 6.1], slip.to_vec()].concat();
            learn_yield(&BTreeMap::from([(0, values)]), 6.0).farms[&0]
        };
        assert!((with(&[60.0]) - with(&[])).abs() < 1e-12);
    }
}
