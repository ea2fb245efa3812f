//! Why do trays spoil? Which conditions of batches go with losses: how many times as many trays
//! were lost where a condition held. They go together; the records cannot say that one causes the
//! other.

mod answer;
mod columns;
mod fit;

use serde::Serialize;
use std::collections::BTreeMap;

use crate::limits::{CONDITIONS_MAX, TRAYS_MAX};
use crate::stats::Interval;

/// One batch: whose it is, and what it lost.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WhyBatch {
    /// Its farm, any number.
    pub farm: u32,
    /// Trays begun.
    pub started: u32,
    /// Trays lost, not above `started`.
    pub discarded: u32,
}

/// Constants of the estimate. [`WhyRules::default`] is the house rule.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WhyRules {
    /// Standard deviation of a condition's effect before anything is seen; infinite for none.
    pub prior: f64,
    /// Least variance between farms.
    pub variance_min: f64,
    /// Largest variance between farms.
    pub variance_max: f64,
    /// Variance between farms to begin with.
    pub variance_start: f64,
    /// False discovery rate of conditions that are named.
    pub discovery_rate: f64,
    /// Batches needed on each side of a condition.
    pub batches_min: usize,
    /// Farms needed on each side.
    pub farms_min: usize,
    /// Trays needed on each side.
    pub trays_min: f64,
    /// Losses expected on each side that are needed.
    pub lost_min: f64,
    /// Share of batches for which a condition must be recorded.
    pub known_min: f64,
    /// Ratio from which a condition is worth naming; below its inverse too.
    pub worth: f64,
    /// Batches of a farm on each side from which it has a slope of its own.
    pub own_batches_min: usize,
    /// Trays in all below which nothing is fitted.
    pub all_trays_min: f64,
    /// Losses in all below which nothing is fitted.
    pub all_lost_min: f64,
}

impl Default for WhyRules {
    fn default() -> Self {
        Self {
            prior: 0.7,
            variance_min: 0.01,
            variance_max: 4.0,
            variance_start: 0.25,
            discovery_rate: 0.10,
            batches_min: 12,
            farms_min: 3,
            trays_min: 30.0,
            lost_min: 5.0,
            known_min: 0.6,
            worth: 1.25,
            own_batches_min: 5,
            all_trays_min: 100.0,
            all_lost_min: 20.0,
        }
    }
}

/// What is said of a condition.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ConditionStatus {
    /// Seen too rarely to compare.
    TooFew,
    /// Losses go with it.
    Linked,
    /// It makes no difference that is worth naming.
    NoDifference,
    /// Either may be.
    CannotTell,
}

/// Of which batches a condition is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Counts {
    /// Batches with it.
    pub with: usize,
    /// Batches without it.
    pub without: usize,
    /// Farms that have some of both.
    pub farms_with_both: usize,
}

/// How many times as many trays are lost with a condition.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Times {
    /// The ratio.
    pub value: f64,
    /// Its 95 % interval.
    pub interval: Interval,
}

/// What was estimated of a condition.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Effect {
    /// Change of the logarithm of the odds.
    pub slope: f64,
    pub standard_error: f64,
    /// Two-sided probability of such a slope by chance.
    pub p: f64,
    /// Losses with it to losses without it, all else as it is.
    pub times: Times,
    /// Part of all losses that goes with it.
    pub share: f64,
    /// Variance of the slope between farms.
    pub slope_variance: f64,
    /// The same ratio at farms by their number, where losses are linked to the condition.
    pub own: BTreeMap<u32, Times>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Condition {
    /// What is said.
    pub status: ConditionStatus,
    /// Of which batches it is known.
    pub counts: Counts,
    /// None where it is too few, or nothing was fitted.
    pub effect: Option<Effect>,
}

/// What all conditions share, where there was enough to fit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Fit {
    /// Logarithm of the odds of a loss without any condition.
    pub intercept: f64,
    /// Variance between farms.
    pub farm_variance: f64,
    /// Variance of batches against what is expected; 1 or more.
    pub dispersion: f64,
    pub farms: usize,
    pub batches: usize,
}

/// Which conditions go with losses.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Why {
    /// None where there are too few trays, losses or conditions.
    pub fit: Option<Fit>,
    /// In the order given.
    pub conditions: Vec<Condition>,
}

/// Compares the losses of batches with and without each of many conditions at once.
///
/// Binomial regression with an effect of each farm, overdispersed by the correlation between the
/// trays of a batch, effects of conditions drawn to none. Conditions are named at a false discovery
/// rate.
///
/// # Units
/// Ratios of losses. `conditions` hold of each batch whether it had the condition; none where that
/// was not recorded: then the farm's own known mean stands, else that of all.
///
/// # Shape
/// As many answers as conditions. Batches that cannot be counted are left out; a condition shorter
/// than the batches is not recorded for the others. Of more than [`CONDITIONS_MAX`] conditions the
/// rest are too few.
///
/// # Source
/// Williams 1982, Appl. Stat. 31:144 (overdispersion); Breslow & Clayton 1993, J. Am. Stat. Assoc.
/// 88:9 (effects of farms); Liang & Zeger 1986, Biometrika 73:13 (error by farm); Benjamini &
/// Hochberg 1995; SPEC-B.
pub fn why(
    batches: &[WhyBatch],
    conditions: &[Vec<Option<bool>>],
    correlation: f64,
    rules: &WhyRules,
) -> Why {
    let is_valid = |b: &WhyBatch| (1..=TRAYS_MAX).contains(&b.started) && b.discarded <= b.started;
    let kept: Vec<usize> = (0..batches.len()).filter(|j| is_valid(&batches[*j])).collect();
    let table = columns::Table::new(batches, &kept, conditions, rules);
    let mut answers = table.conditions;
    let used: Vec<usize> = table.used.iter().copied().take(CONDITIONS_MAX).collect();
    let enough = table.data.trays() >= rules.all_trays_min
        && table.data.lost() >= rules.all_lost_min
        && !used.is_empty();
    let correlation = if correlation.is_nan() { 0.05 } else { correlation.clamp(0.0, 0.999) };
    let fitted = enough.then(|| fit::Fitted::new(&table.data, correlation, rules)).flatten();
    let Some(fitted) = fitted else { return Why { fit: None, conditions: answers } };
    answer::put(&mut answers, &used, &table.data, &fitted, rules);
    let fit = Fit {
        intercept: fitted.slopes[0],
        farm_variance: fitted.variance,
        dispersion: fitted.dispersion,
        farms: table.data.farms.len(),
        batches: table.data.rows.len(),
    };
    Why { fit: Some(fit), conditions: answers }
}
