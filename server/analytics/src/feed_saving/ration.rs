//! The ration stated at enrolment, weighed against what was bought.

use super::baseline::{Noise, Weights, lasting_square};
use super::index::MonthIndex;
use super::{BaselineStatus, FarmBaseline, Rules, SavingPanel};
use crate::limits::AMOUNT_MAX;
use crate::stats::{finite, median};

/// Median absolute deviation to standard deviation, for normal errors.
const MAD_TO_SD: f64 = 1.4826;
/// Farms further from the median, in such deviations, do not count in the overstatement.
const FAIR: f64 = 3.0;
/// Least error of a stated ration.
const RATION_SD_MIN: f64 = 0.03;
/// A farm's ration is off when it differs by more than this, and by more than two errors.
const FARM_OFF: f64 = 0.15;
/// The same for the co-operative.
const ALL_OFF: f64 = 0.05;
const ERRORS_OFF: f64 = 2.0;

/// What is known before rations are weighed.
pub(super) struct Ground<'a> {
    pub panel: &'a SavingPanel<'a>,
    pub index: &'a MonthIndex,
    pub prices: &'a [f64],
    pub noise: &'a Noise,
    pub rules: &'a Rules,
}

/// What stated rations say together.
pub(super) struct Stated {
    /// Logarithm by which they are too large.
    pub overstatement: f64,
    /// Its error; without end while unknown.
    pub overstatement_error: f64,
    pub variance: f64,
    pub farms_with_both: usize,
    pub is_ration_off: bool,
    /// Whether the overstatement rests on the farm.
    pub is_used: Vec<bool>,
}

/// One farm's stated ration.
#[derive(Clone, Copy)]
struct Ration {
    /// Money for each animal-day at reference prices and index 1.
    cost: f64,
    /// Index of the month in which it was stated.
    index: f64,
}

/// Weighs each farm's ration and moves its level and basket.
pub(super) fn weigh(
    ground: &Ground,
    weights: &Weights,
    farms: &mut [FarmBaseline],
    basket: &mut [f64],
) -> Stated {
    let (noise, rules) = (ground.noise, ground.rules);
    let rations: Vec<Option<Ration>> =
        farms.iter().enumerate().map(|(i, f)| ration(ground, i, f)).collect();
    let bought_variance = |i: usize, farm: &FarmBaseline| {
        let run = weights.of(i).1;
        farm.variance * lasting_square(run, noise.lasting_share, noise.correlation)
    };
    for (farm, ration) in farms.iter_mut().zip(&rations) {
        let is_bought = farm.months >= rules.base_months_min;
        let both = ration.filter(|r| is_bought && r.cost > 0.0).zip(farm.level);
        farm.ration_difference = both.and_then(|(r, level)| {
            let difference = (r.cost / level).ln();
            difference.is_finite().then_some(difference)
        });
    }
    let rows: Vec<(f64, f64)> = farms
        .iter()
        .enumerate()
        .filter_map(|(i, f)| Some((f.ration_difference?, bought_variance(i, f))))
        .collect();
    let stated = together(&rows, farms, rules);
    let feeds = ground.panel.feeds;
    for (i, farm) in farms.iter_mut().enumerate() {
        if farm.status == BaselineStatus::NotStarted {
            continue;
        }
        let own = &mut basket[i * feeds..(i + 1) * feeds];
        if farm.months >= rules.base_months_min {
            let variance = bought_variance(i, farm);
            mix(farm, own, variance, &stated, rules);
        } else if let Some(ration) = rations[i].filter(|r| r.cost > 0.0 && r.cost.is_finite()) {
            let factor = (-stated.overstatement).exp();
            farm.ration_weight = 1.0;
            farm.level = Some(ration.cost * factor);
            for (k, q) in own.iter_mut().enumerate() {
                *q = stated_kg(ground.panel, i, k) / ration.index * factor;
            }
            if farm.status == BaselineStatus::Ok {
                farm.status = BaselineStatus::RationOnly;
            }
        } else {
            farm.status = BaselineStatus::NoBaseline;
            farm.level = None;
        }
    }
    stated
}

fn stated_kg(panel: &SavingPanel, farm: usize, feed: usize) -> f64 {
    let kg = panel.ration.map_or(0.0, |r| r[farm * panel.feeds + feed]);
    if is_stated(kg) { kg } else { 0.0 }
}

fn is_stated(kg: f64) -> bool {
    (0.0..=AMOUNT_MAX).contains(&kg)
}

fn ration(ground: &Ground, i: usize, farm: &FarmBaseline) -> Option<Ration> {
    let panel = ground.panel;
    let stated = panel.ration?.get(i * panel.feeds..(i + 1) * panel.feeds)?;
    let is_any = stated.iter().any(|kg| is_stated(*kg));
    panel.start[i].filter(|_| is_any)?;
    let month = panel.ration_month.get(i).copied().flatten().map(|t| t as usize);
    let known = month.and_then(|t| ground.index.value.get(t).copied().flatten());
    let index = known.filter(|_| farm.is_adjusted).unwrap_or(1.0);
    let money = (0..panel.feeds).map(|k| stated_kg(panel, i, k) * ground.prices[k]).sum::<f64>();
    Some(Ration { cost: money / index, index })
}

/// The overstatement: mean difference of farms near the median one.
///
/// `rows` are differences and variances of what was bought.
fn together(rows: &[(f64, f64)], farms: &[FarmBaseline], rules: &Rules) -> Stated {
    let unknown = Stated {
        overstatement: 0.0,
        overstatement_error: f64::INFINITY,
        variance: rules.ration_sd * rules.ration_sd,
        farms_with_both: rows.len(),
        is_ration_off: false,
        is_used: vec![false; farms.len()],
    };
    let middle = median(&mut rows.iter().map(|r| r.0).collect::<Vec<f64>>());
    let Some(middle) = middle.filter(|_| rows.len() >= rules.ration_farms_min) else {
        return unknown;
    };
    let mut away: Vec<f64> = rows.iter().map(|r| (r.0 - middle).abs()).collect();
    let spread = MAD_TO_SD * median(&mut away).unwrap_or(0.0);
    let is_fair = |d: f64| (d - middle).abs() <= FAIR * spread;
    let fair: Vec<f64> = rows.iter().map(|r| r.0).filter(|d| is_fair(*d)).collect();
    let overstatement = fair.iter().sum::<f64>() / fair.len().max(1) as f64;
    let error = spread / (fair.len().max(1) as f64).sqrt();
    let bought = median(&mut rows.iter().map(|r| r.1).collect::<Vec<f64>>()).unwrap_or(0.0);
    Stated {
        overstatement,
        overstatement_error: error,
        variance: (spread * spread - bought).max(RATION_SD_MIN * RATION_SD_MIN),
        is_ration_off: overstatement.abs() > ALL_OFF.max(ERRORS_OFF * error),
        is_used: farms.iter().map(|f| f.ration_difference.is_some_and(is_fair)).collect(),
        ..unknown
    }
}

/// How far a stated ration moves what was bought.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RationMix {
    /// Weight of the ration, 0 to 1.
    pub weight: f64,
    /// Factor on level and basket.
    pub factor: f64,
}

/// Purchases and ration weighed by their errors.
///
/// # Units
/// Logarithms: `difference` of the ration over what was bought, `overstatement` of all rations;
/// variances of what was bought and of one ration.
///
/// # Source
/// SPEC C3.
pub fn mix_ration(
    difference: f64,
    overstatement: f64,
    bought_variance: f64,
    ration_variance: f64,
) -> RationMix {
    let weight = bought_variance / (bought_variance + ration_variance);
    RationMix { weight, factor: (weight * (difference - overstatement)).exp() }
}

fn mix(farm: &mut FarmBaseline, basket: &mut [f64], bought: f64, stated: &Stated, rules: &Rules) {
    let Some(difference) = farm.ration_difference else {
        return;
    };
    if stated.farms_with_both >= rules.ration_farms_min {
        let mixed = mix_ration(difference, stated.overstatement, bought, stated.variance);
        farm.ration_weight = mixed.weight;
        farm.level = farm.level.map(|level| level * mixed.factor);
        basket.iter_mut().for_each(|q| *q *= mixed.factor);
    }
    let is_off = difference.abs() > FARM_OFF.max(ERRORS_OFF * bought.sqrt());
    farm.ration_finding = is_off.then(|| difference.exp_m1());
}

/// Puts frozen baselines in place of what was computed. A ration alone has no weights.
pub(super) fn freeze(
    panel: &SavingPanel,
    prices: &[f64],
    farms: &mut [FarmBaseline],
    basket: &mut [f64],
    computed: &Weights,
) -> Weights {
    let mut weights = Weights::default();
    for (i, farm) in farms.iter_mut().enumerate() {
        let Some(frozen) = panel.frozen_of(i) else {
            let (month, run) = computed.of(i);
            let is_bought = farm.ration_weight < 1.0;
            weights.push_run(month, if is_bought { run } else { &[] });
            continue;
        };
        weights.push(&frozen.weights);
        basket[i * panel.feeds..(i + 1) * panel.feeds].copy_from_slice(&frozen.basket);
        let level: f64 = frozen.basket.iter().zip(prices).map(|(q, p)| q * p).sum();
        farm.level = finite(level);
        farm.ration_weight = frozen.ration_weight;
        farm.is_adjusted = frozen.is_adjusted;
        let is_ration_only = !frozen.weights.iter().any(|w| *w > 0.0);
        farm.status = match (farm.months_after, is_ration_only) {
            (0, _) => BaselineStatus::NoMonths,
            (_, true) => BaselineStatus::RationOnly,
            (_, false) => BaselineStatus::Ok,
        };
    }
    weights
}
