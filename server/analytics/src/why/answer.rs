//! From slopes to ratios of losses: of all farms, and of each.

use super::columns::Data;
use super::fit::Fitted;
use super::{Condition, ConditionStatus, Effect, Times, WhyRules};
use crate::stats::{Interval, benjamini_hochberg};
use statrs::function::erf::erfc;
use std::collections::BTreeMap;

/// Half the 95 % interval in standard errors.
const HALF_WIDTH: f64 = 1.96;
/// Farms with a slope of their own from which their variance is told.
const SLOPE_FARMS_MIN: usize = 5;

/// Puts what was estimated into the conditions that were used.
pub(super) fn put(
    answers: &mut [Condition],
    used: &[usize],
    data: &Data,
    fitted: &Fitted,
    rules: &WhyRules,
) {
    let effects: Vec<Effect> = (1..=used.len()).map(|k| effect(data, fitted, k, rules)).collect();
    let p_values: Vec<f64> = effects.iter().map(|e| e.p).collect();
    let passed = benjamini_hochberg(&p_values, rules.discovery_rate);
    for (k, (at, mut effect)) in used.iter().zip(effects).enumerate() {
        let Some(condition) = answers.get_mut(*at) else { continue };
        let Times { value, interval } = effect.times;
        let least = 1.0 / rules.worth;
        let is_worth = value >= rules.worth || value <= least;
        condition.status = if passed.contains(&k) && is_worth {
            ConditionStatus::Linked
        } else if interval.upper < rules.worth && interval.lower > least {
            ConditionStatus::NoDifference
        } else {
            ConditionStatus::CannotTell
        };
        if condition.status != ConditionStatus::Linked {
            effect.own.clear();
        }
        condition.effect = Some(effect);
    }
}

fn share_of(logit: f64) -> f64 {
    1.0 / (1.0 + (-logit).exp())
}

/// What is estimated of column `k`.
fn effect(data: &Data, fitted: &Fitted, k: usize, rules: &WhyRules) -> Effect {
    let slope = fitted.slopes[k];
    let standard_error = fitted.squares[k].sqrt();
    // The logarithm of the odds of each batch without the condition.
    let without = |(j, row): (usize, &super::columns::Row)| {
        let of = data.row(j);
        let logit: f64 = of.iter().zip(fitted.slopes.iter()).map(|(x, b)| x * b).sum();
        logit + fitted.effects[row.farm] - of[k] * slope
    };
    let without: Vec<f64> = data.rows.iter().enumerate().map(without).collect();
    let rows = || data.rows.iter().zip(&without);
    let lost_without: f64 = rows().map(|(r, logit)| r.n * share_of(*logit)).sum();
    let ratio = |b: f64| rows().map(|(r, e)| r.n * share_of(e + b)).sum::<f64>() / lost_without;
    let times = interval_of(slope, standard_error, ratio);
    let goes_with = rows().zip(&fitted.batches).map(|((r, e), at)| r.n * (at.share - share_of(*e)));
    let (slope_variance, own) = own_slopes(data, fitted, k, (&without, rules, standard_error));
    Effect {
        slope,
        standard_error,
        p: erfc((slope / standard_error).abs() * std::f64::consts::FRAC_1_SQRT_2),
        times,
        share: goes_with.sum::<f64>() / data.lost(),
        slope_variance,
        own,
    }
}

fn interval_of(slope: f64, error: f64, ratio: impl Fn(f64) -> f64) -> Times {
    let (lower, upper) = (ratio(slope - HALF_WIDTH * error), ratio(slope + HALF_WIDTH * error));
    Times { value: ratio(slope), interval: Interval { lower, upper } }
}

/// What one farm says of its own slope.
#[derive(Clone, Copy, Default)]
struct Own {
    /// Weight, and weighted sum of the condition.
    weight: f64,
    x: f64,
    /// Information on the slope, and its gradient.
    information: f64,
    gradient: f64,
    with: usize,
    without: usize,
    trays: f64,
    lost_without: f64,
}

fn own_sums(data: &Data, fitted: &Fitted, k: usize, without: &[f64]) -> Vec<Own> {
    let mut farms = vec![Own::default(); data.farms.len()];
    for (j, (row, at)) in data.rows.iter().zip(&fitted.batches).enumerate() {
        let (own, x) = (&mut farms[row.farm], data.row(j)[k]);
        own.weight += at.weight;
        own.x += at.weight * x;
        own.with += usize::from(x >= 1.0);
        own.without += usize::from(x <= 0.0);
        own.trays += row.n;
        own.lost_without += row.n * share_of(without[j]);
    }
    for (j, (row, at)) in data.rows.iter().zip(&fitted.batches).enumerate() {
        let own = &mut farms[row.farm];
        let centred = data.row(j)[k] - own.x / own.weight.max(1e-300);
        own.information += at.weight * centred * centred / fitted.dispersion;
        own.gradient += at.residual * centred / fitted.dispersion;
    }
    farms
}

/// The variance of slopes between farms, and each farm's own ratio, drawn to that of all.
fn own_slopes(
    data: &Data,
    fitted: &Fitted,
    k: usize,
    (without, rules, error): (&[f64], &WhyRules, f64),
) -> (f64, BTreeMap<u32, Times>) {
    let farms = own_sums(data, fitted, k, without);
    let has =
        |own: &&Own| own.with.min(own.without) >= rules.own_batches_min && own.information > 1e-300;
    let (mut count, mut sum, mut squares, mut spread) = (0, 0.0, 0.0, 0.0);
    for own in farms.iter().filter(has) {
        count += 1;
        sum += own.information;
        squares += own.information * own.information;
        spread += own.gradient * own.gradient / own.information;
    }
    let excess = (spread - f64::from(count)) / (sum - squares / sum);
    let is_told = usize::try_from(count).is_ok_and(|count: usize| count >= SLOPE_FARMS_MIN);
    let variance = if is_told && excess.is_finite() { excess.max(0.0) } else { 0.0 };
    let times = |own: &Own| {
        let drawn = variance / (variance + 1.0 / own.information);
        let slope = fitted.slopes[k] + drawn * own.gradient / own.information;
        let error = (error * error + variance * (1.0 - drawn)).sqrt();
        let base = own.lost_without / own.trays;
        let ratio = |b: f64| b.exp() / (1.0 - base + base * b.exp());
        interval_of(slope, error, ratio)
    };
    let each = data.farms.iter().zip(&farms).filter(|(_, own)| has(own));
    (variance, each.map(|(farm, own)| (*farm, times(own))).collect())
}
