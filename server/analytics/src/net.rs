//! Money of a farm or a sum: the partial budget, saving per litre or egg, adjustments of closed
//! months, and why a row has a number or none.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use crate::feed_rules::Rules;
use crate::stats::{Interval, finite};

/// Half width of a 95 % interval of an effect on output, in standard errors.
const EFFECT_CRITICAL: f64 = 1.96;

/// What is known of output after the start.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OutputEstimate {
    /// Litres or eggs recorded after the start.
    pub units: f64,
    /// Money for one of them.
    pub price: f64,
    /// Effect of fodder on output, as a difference of logarithms.
    pub log_effect: f64,
    /// Its standard error.
    pub log_error: f64,
    /// Whether the effect is estimated against others and the check before the start holds.
    pub is_causal: bool,
}

/// What the net result may claim.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NetStatus {
    /// No output estimate: there is no net result.
    NoOutputEstimate,
    /// The change of output is put down to fodder.
    Causal,
    /// The change of output goes with fodder; its cause is not known.
    Association,
}

/// Change of output in money, and the net result with it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct OutputMoney {
    /// Money gained; below 0 it is lost.
    pub change: f64,
    /// 95 % interval of the change.
    pub interval: Interval,
    pub added_return: f64,
    /// Returns lost.
    pub reduced_return: f64,
    /// Saving plus change.
    pub net: f64,
    /// 95 % interval of the net result.
    pub net_interval: Interval,
}

/// A partial budget.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct NetResult {
    /// Costs less: feed saving.
    pub reduced_cost: f64,
    /// Costs more: seed, labour, water, power, repairs, depreciation.
    pub added_cost: f64,
    /// Feed saving less what fodder cost.
    pub saving: f64,
    /// 95 % interval of the saving; fodder costs are recorded and have no error.
    pub interval: Interval,
    /// Output in money; none without an estimate.
    pub output: Option<OutputMoney>,
    /// What the net result may claim.
    pub status: NetStatus,
}

/// The partial budget of a farm or a sum.
///
/// # Units
/// Money. `critical` is the quantile of the feed saving: 1.96 for sums, the farm's own for a
/// farm.
///
/// # Shape
/// An output too large to be written as money counts as none.
///
/// # Source
/// CIMMYT 1988, From Agronomic Data to Farmer Recommendations (partial budgets). Half widths
/// are combined in quadrature.
///
/// # Example
/// ```
/// use traybook_analytics::net::net_result;
///
/// let result = net_result(8_000.0, 3_000.0, 4_500.0, None, 1.96);
/// assert_eq!((result.saving, result.interval.lower), (3_500.0, -2_380.0));
/// ```
pub fn net_result(
    feed_saving: f64,
    feed_error: f64,
    fodder_cost: f64,
    output: Option<&OutputEstimate>,
    critical: f64,
) -> NetResult {
    let saving = feed_saving - fodder_cost;
    let half = critical * feed_error;
    let output = output.and_then(|o| Some((output_money(o, saving, half)?, o.is_causal)));
    NetResult {
        reduced_cost: feed_saving,
        added_cost: fodder_cost,
        saving,
        interval: Interval::around(saving, half),
        output: output.map(|(money, _)| money),
        status: match output {
            None => NetStatus::NoOutputEstimate,
            Some((_, true)) => NetStatus::Causal,
            Some((_, false)) => NetStatus::Association,
        },
    }
}

fn output_money(output: &OutputEstimate, saving: f64, half: f64) -> Option<OutputMoney> {
    let money = |effect: f64| finite(-output.units * output.price * (-effect).exp_m1());
    let away = EFFECT_CRITICAL * output.log_error;
    let change = money(output.log_effect)?;
    let (lower, upper) = (money(output.log_effect - away)?, money(output.log_effect + away)?);
    let net = saving + change;
    Some(OutputMoney {
        change,
        interval: Interval { lower, upper },
        added_return: change.max(0.0),
        reduced_return: (-change).max(0.0),
        net,
        net_interval: Interval {
            lower: net - half.hypot(change - lower),
            upper: net + half.hypot(upper - change),
        },
    })
}

/// Sum of enterprises, whose half widths combine in quadrature.
///
/// # Units
/// Rows are value and half width.
pub fn in_quadrature(rows: &[(f64, f64)]) -> (f64, Interval) {
    let value = rows.iter().map(|r| r.0).sum();
    let half = rows.iter().map(|r| r.1 * r.1).sum::<f64>().sqrt();
    (value, Interval::around(value, half))
}

/// Saving per litre or egg of one enterprise, and the months it rests on.
///
/// # Units
/// Money for each litre or egg.
///
/// # Shape
/// One entry a month. `saving` is none where the month has no number; only months with a number
/// and a recorded output count. None without any.
pub fn per_unit(
    saving: &[Option<f64>],
    fodder_cost: &[f64],
    units: &[Option<f64>],
) -> (Option<f64>, usize) {
    let rows = saving.iter().zip(fodder_cost).zip(units);
    let both = rows.filter_map(|((saving, cost), units)| {
        let units = units.filter(|u| u.is_finite() && *u > 0.0)?;
        Some((finite((*saving)? - cost)?, units))
    });
    let add = |sum: (f64, f64, usize), row: (f64, f64)| (sum.0 + row.0, sum.1 + row.1, sum.2 + 1);
    let (money, units, months) = both.fold((0.0, 0.0, 0), add);
    ((months > 0).then(|| money / units), months)
}

/// One closed number that moved.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct AdjustmentLine<K> {
    /// Whose number.
    pub key: K,
    /// As reported, with earlier adjustments.
    pub reported: Option<f64>,
    pub now: Option<f64>,
    /// Change; a number that lacks counts as 0.
    pub change: f64,
}

/// What closed months have to be adjusted by.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Adjustments<K> {
    /// Changes over the limit, and numbers that came or went; by key.
    pub lines: Vec<AdjustmentLine<K>>,
    /// Sum of the others: feed in use at the close, settled.
    pub settled: f64,
    /// How many these are.
    pub settled_rows: usize,
    /// Sum of all.
    pub total: f64,
}

/// Compares what was reported with the same numbers now.
///
/// # Units
/// Money. `limit` is the change of a row that is not shown on its own: 1 % of its frozen
/// baseline.
///
/// # Shape
/// `reported` and `now` hold closed rows by month and farm, or what else tells them apart.
pub fn adjustments<K: Ord + Clone>(
    reported: &BTreeMap<K, Option<f64>>,
    now: &BTreeMap<K, Option<f64>>,
    limit: impl Fn(&K) -> f64,
) -> Adjustments<K> {
    let mut all = Adjustments { lines: Vec::new(), settled: 0.0, settled_rows: 0, total: 0.0 };
    let keys: BTreeSet<K> = reported.keys().chain(now.keys()).cloned().collect();
    for key in keys {
        let was = reported.get(&key).copied().flatten();
        let is = now.get(&key).copied().flatten();
        let change = is.unwrap_or(0.0) - was.unwrap_or(0.0);
        if was.is_some() != is.is_some() || change.abs() > limit(&key) {
            all.lines.push(AdjustmentLine { key, reported: was, now: is, change });
        } else if change.abs() > 0.0 {
            all.settled += change;
            all.settled_rows += 1;
        }
    }
    all.total = all.lines.iter().map(|l| l.change).sum::<f64>() + all.settled;
    all
}

/// Straight-line depreciation a month: `(cost - salvage) / life`.
///
/// # Units
/// Money and months.
///
/// # Shape
/// None for a life of no months or an amount that is no number.
///
/// # Source
/// CIMMYT 1988, From Agronomic Data to Farmer Recommendations (partial budgets).
///
/// # Example
/// ```
/// use traybook_analytics::net::depreciation_per_month;
///
/// assert_eq!(depreciation_per_month(1_200.0, 0.0, 24), Some(50.0));
/// assert_eq!(depreciation_per_month(1_200.0, 0.0, 0), None);
/// ```
pub fn depreciation_per_month(cost: f64, salvage: f64, life_months: u32) -> Option<f64> {
    // Divided by no months it is not a number, which `finite` turns into none.
    finite((cost - salvage) / f64::from(life_months))
}

/// Why a farm and enterprise has a number in a month, or has none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum RowStatus {
    /// The farm had not started.
    NotStarted,
    /// The month is not over.
    Running,
    /// The farm started in this month.
    StartMonth,
    /// There is nothing to compare with.
    NoBaseline,
    /// A purchase is held until somebody looks.
    Held,
    /// The bag is not finished, so nobody can yet say how fast it goes.
    Waiting,
    /// A purchase, or another record, seems not to be written down.
    Missing,
    /// Most was eaten from the lot in use at the start.
    StartLot,
    /// There is a number; the stated ration alone is its baseline.
    RationOnly,
    /// There is a number.
    Estimated,
}

/// What is known of a row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RowFacts {
    /// Month of the row.
    pub month: u32,
    /// Month of the first soak.
    pub start_month: Option<u32>,
    /// Whether the month is over.
    pub is_over: bool,
    /// Whether every needed feed is known.
    pub is_known: bool,
    /// Share of animal-days fed from the lot in use at the start.
    pub mixed_share: f64,
    /// Whether a needed feed lacks.
    pub is_lacking: bool,
    /// Whether a purchase of such a feed is held.
    pub is_held: bool,
    /// Whether the next purchase of lots in use is all that lacks.
    pub is_waiting: bool,
    /// Whether the farm has a baseline.
    pub has_level: bool,
    /// Whether the stated ration alone is that baseline.
    pub is_ration_only: bool,
}

/// The first status that applies.
///
/// # Source
/// SPEC C6.
pub fn row_status(facts: &RowFacts, rules: &Rules) -> RowStatus {
    let Some(start) = facts.start_month.filter(|start| *start <= facts.month) else {
        return RowStatus::NotStarted;
    };
    let is_missing = facts.is_lacking || !facts.is_known;
    let first = [
        (!facts.is_over, RowStatus::Running),
        (start == facts.month, RowStatus::StartMonth),
        (!facts.has_level, RowStatus::NoBaseline),
        (facts.is_held, RowStatus::Held),
        (facts.is_waiting, RowStatus::Waiting),
        (is_missing, RowStatus::Missing),
        (facts.mixed_share > rules.mixed_after_max, RowStatus::StartLot),
        (facts.is_ration_only, RowStatus::RationOnly),
    ];
    let applies = first.into_iter().find(|(applies, _)| *applies);
    applies.map_or(RowStatus::Estimated, |(_, status)| status)
}
