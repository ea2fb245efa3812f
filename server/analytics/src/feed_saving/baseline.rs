//! What each farm bought before its start, and how much months differ by chance.

use std::collections::BTreeMap;
use std::ops::Range;

use super::index::MonthIndex;
use super::panel::{AFTER, BASE, PanelCells, UNTREATED};
use super::{BaselineStatus, FarmBaseline, Rules, SavingPanel};
use crate::parallel::map_chunks;
use crate::season::SeasonIndex;
use crate::stats::{finite, student_t_critical_95};

/// Products of different farms that the area variance needs.
const AREA_PAIRS_MIN: f64 = 100.0;
/// Smallest expected sum of squares that says something about a farm's own scale.
const EXPECTED_MIN: f64 = 1e-9;
/// Steps of the correlation that are tried.
const CORRELATIONS: usize = 20;
const CORRELATION_STEP: f64 = 0.05;
/// Sums of squares that differ by less than this part of all squares are equal.
const EXACT: f64 = 1e-14;

/// Weights of months, farm by farm: a run from the first month that weighs to the last.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Weights {
    first: Vec<usize>,
    month: Vec<usize>,
    value: Vec<f64>,
}

impl Weights {
    /// First month of the run, and the weights.
    pub(super) fn of(&self, farm: usize) -> (usize, &[f64]) {
        (self.month[farm], &self.value[self.first[farm]..self.first[farm + 1]])
    }

    /// Adds the next farm's weights, one for each month of the panel.
    pub(super) fn push(&mut self, weights: &[f64]) {
        let from = weights.iter().position(|w| *w > 0.0).unwrap_or(0);
        let to = weights.iter().rposition(|w| *w > 0.0).map_or(from, |last| last + 1);
        self.push_run(from, &weights[from..to]);
    }

    pub(super) fn push_run(&mut self, month: usize, run: &[f64]) {
        if self.first.is_empty() {
            self.first.push(0);
        }
        self.month.push(month);
        self.value.extend_from_slice(run);
        self.first.push(self.value.len());
    }
}

/// What purchases say, farm by farm.
#[derive(Default)]
pub(super) struct Bought {
    /// Relative residuals of untreated cells; not a number elsewhere.
    pub residual: Vec<f64>,
    pub weights: Weights,
    pub level: Vec<f64>,
    pub basket: Vec<f64>,
    pub months: Vec<usize>,
    pub months_after: Vec<usize>,
    pub is_adjusted: Vec<bool>,
}

/// Levels, baskets and residuals of all farms.
pub(super) fn bought(panel: &SavingPanel, cells: &PanelCells, index: &MonthIndex) -> Bought {
    let parts = map_chunks(panel.farms(), |farms| {
        let mut part = Bought::default();
        part.residual.reserve_exact(farms.len() * panel.months);
        let mut weights = vec![0.0; panel.months];
        for farm in farms {
            add_residuals(&mut part.residual, panel, cells, index, farm);
            add_baseline(&mut part, panel, cells, index, farm, &mut weights);
        }
        part
    });
    let mut all = Bought::default();
    all.residual.reserve_exact(panel.animal_days.len());
    for part in parts {
        all.residual.extend_from_slice(&part.residual);
        (0..part.level.len()).for_each(|place| {
            let (month, run) = part.weights.of(place);
            all.weights.push_run(month, run);
        });
        all.level.extend_from_slice(&part.level);
        all.basket.extend_from_slice(&part.basket);
        all.months.extend_from_slice(&part.months);
        all.months_after.extend_from_slice(&part.months_after);
        all.is_adjusted.extend_from_slice(&part.is_adjusted);
    }
    all
}

/// Months of a farm that serve a use.
fn months_for(cells: &PanelCells, row: Range<usize>, bit: u8) -> impl Iterator<Item = usize> + '_ {
    let marked = cells.use_for[row].iter().enumerate();
    marked.filter(move |(_, u)| *u & bit > 0).map(|(t, _)| t)
}

fn add_residuals(
    residual: &mut Vec<f64>,
    panel: &SavingPanel,
    cells: &PanelCells,
    index: &MonthIndex,
    farm: usize,
) {
    let from = residual.len();
    residual.resize(from + panel.months, f64::NAN);
    let own = &mut residual[from..];
    let row = panel.row(farm);
    let cost = &cells.cost[row.clone()];
    let untreated = || months_for(cells, row.clone(), UNTREATED);
    let fitted = || untreated().filter_map(|t| index.fitted[t].map(|m| (t, m)));
    if fitted().nth(1).is_some() {
        let (costs, sum) = fitted().fold((0.0, 0.0), |s, (t, m)| (s.0 + cost[t], s.1 + m));
        let level = costs / sum;
        fitted().for_each(|(t, m)| own[t] = cost[t] / (level * m) - 1.0);
    } else if untreated().nth(1).is_some() {
        let count = untreated().count() as f64;
        let level = untreated().map(|t| cost[t]).sum::<f64>() / count;
        untreated().for_each(|t| own[t] = cost[t] / level - 1.0);
    }
}

fn add_baseline(
    part: &mut Bought,
    panel: &SavingPanel,
    cells: &PanelCells,
    index: &MonthIndex,
    farm: usize,
    weights: &mut [f64],
) {
    let row = panel.row(farm);
    let base = || months_for(cells, row.clone(), BASE);
    let after = || months_for(cells, row.clone(), AFTER);
    let (months, months_after) = (base().count(), after().count());
    let has_index = |t: usize| index.value[t].is_some();
    let is_adjusted = panel.start[farm].is_some()
        && index.is_any
        && months + months_after > 0
        && base().all(has_index)
        && after().all(has_index);
    let days = &panel.animal_days[row.clone()];
    let index_at = |t: usize| if is_adjusted { index.value[t].unwrap_or(1.0) } else { 1.0 };
    weights.fill(0.0);
    let sum: f64 = base().map(|t| days[t] * index_at(t)).sum();
    base().for_each(|t| weights[t] = days[t] * index_at(t) / sum);
    let cost = &cells.cost[row.clone()];
    let money: f64 = base().map(|t| cost[t] * days[t]).sum();
    part.level.push(if months > 0 { money / sum } else { f64::NAN });
    for k in 0..panel.feeds {
        let kg = &panel.kg[panel.feed_row(farm, k)];
        let eaten: f64 = base().map(|t| kg[t]).sum();
        part.basket.push(if months > 0 { eaten / sum } else { f64::NAN });
    }
    part.weights.push(weights);
    part.months.push(months);
    part.months_after.push(months_after);
    part.is_adjusted.push(is_adjusted);
}

/// How much months differ by chance.
pub(super) struct Noise {
    /// Relative variance of a month.
    pub variance: f64,
    /// Part of it that passes from month to month.
    pub lasting_share: f64,
    pub correlation: f64,
    /// Own scale of each farm, and months its residuals rest on.
    pub own: Vec<(f64, usize)>,
}

/// `x' R x` with `R = share phi^|h| + (1 - share) I` for months `h` apart, in one pass.
///
/// # Units
/// `x` are weights of consecutive months; times the variance of a month it is the variance of
/// their sum.
pub fn lasting_square(x: &[f64], share: f64, phi: f64) -> f64 {
    let (mut square, mut cross, mut carried) = (0.0, 0.0, 0.0);
    for v in x {
        square += v * v;
        cross += v * carried;
        carried = phi * (carried + v);
    }
    square + 2.0 * share * cross
}

/// Variogram of residuals, pooled over farms, and each farm's own scale.
pub(super) fn noise(
    panel: &SavingPanel,
    residual: &[f64],
    fit: &SeasonIndex,
    rules: &Rules,
) -> Noise {
    let farms = panel.farms();
    let row = |farm: usize| &residual[panel.row(farm)];
    let lags = rules.lags_max;
    let parts = map_chunks(farms, |farms| {
        let mut sums = vec![(0.0, 0.0); lags];
        let (mut cells, mut used) = (0_usize, 0_usize);
        for farm in farms {
            let e = row(farm);
            let own = e.iter().filter(|x| !x.is_nan()).count();
            cells += own;
            used += usize::from(own > 0);
            if own > 0 {
                add_lags(&mut sums, e);
            }
        }
        (sums, cells, used)
    });
    let mut sums = vec![(0.0, 0.0); lags];
    let (mut cells, mut used) = (0, 0);
    for (part, c, u) in parts {
        sums.iter_mut().zip(&part).for_each(|(a, b)| *a = (a.0 + b.0, a.1 + b.1));
        (cells, used) = (cells + c, used + u);
    }
    let (lasting, correlation, passing) = variogram(&sums);
    let (free, spent) = (cells - used, fit.months_known().saturating_sub(1));
    let factor = if free > 2 * spent { free as f64 / (free - spent) as f64 } else { 2.0 };
    let variance = (lasting + passing) * factor;
    let lasting_share = if variance > 0.0 { lasting * factor / variance } else { 0.0 };
    let own = map_chunks(farms, |farms| {
        let own = |farm| own_scale(row(farm), variance, lasting_share, correlation, rules);
        farms.map(own).collect::<Vec<(f64, usize)>>()
    });
    Noise { variance, lasting_share, correlation, own: own.concat() }
}

/// Half squared differences of months `h` apart, and how many.
fn add_lags(sums: &mut [(f64, f64)], e: &[f64]) {
    for (h, sum) in (1..).zip(sums) {
        for (a, b) in e.iter().zip(e.get(h..).unwrap_or(&[])) {
            let d = b - a;
            if !d.is_nan() {
                *sum = (sum.0 + d * d / 2.0, sum.1 + 1.0);
            }
        }
    }
}

/// Best lasting variance, correlation and passing variance on the grid of correlations.
fn variogram(sums: &[(f64, f64)]) -> (f64, f64, f64) {
    let mut best: Option<(f64, (f64, f64, f64))> = None;
    let size: f64 = sums.iter().filter(|(_, k)| *k > 0.0).map(|(g, k)| g * g / k).sum();
    for step in 0..CORRELATIONS {
        let phi = CORRELATION_STEP * step as f64;
        let (mut power, mut points) = (1.0, Vec::with_capacity(sums.len()));
        for (g, k) in sums {
            power *= phi;
            points.push((1.0 - power, if *k > 0.0 { g / k } else { 0.0 }, *k));
        }
        for (slope, level) in candidates(&points) {
            let sse: f64 = points.iter().map(|(x, y, k)| k * (y - level - slope * x).powi(2)).sum();
            // Exact fits differ by rounding only: the smallest correlation of them is taken.
            let is_better = |least: f64| sse < least * (1.0 - 1e-12) - EXACT * size;
            if best.is_none_or(|(least, _)| is_better(least)) {
                best = Some((sse, (slope, phi, level)));
            }
        }
    }
    best.map_or((0.0, 0.0, 0.0), |(_, found)| found)
}

/// Weighted least squares of `y = level + slope x`, both kept from being negative.
fn candidates(points: &[(f64, f64, f64)]) -> Vec<(f64, f64)> {
    let sum = |f: fn(&(f64, f64, f64)) -> f64| points.iter().map(f).sum::<f64>();
    let (sw, sx, sxx) = (sum(|p| p.2), sum(|p| p.2 * p.0), sum(|p| p.2 * p.0 * p.0));
    let (sy, sxy) = (sum(|p| p.2 * p.1), sum(|p| p.2 * p.0 * p.1));
    let determinant = sw * sxx - sx * sx;
    if determinant > 1e-12 * (sw * sxx).max(1e-300) {
        let slope = (sw * sxy - sx * sy) / determinant;
        let level = (sy - slope * sx) / sw;
        if level >= 0.0 && slope >= 0.0 {
            return vec![(slope, level)];
        }
    }
    let ratio = |a: f64, b: f64| if b > 0.0 { (a / b).max(0.0) } else { 0.0 };
    vec![(ratio(sxy, sxx), 0.0), (0.0, ratio(sy, sw))]
}

/// A farm's own variance, moderated towards the pooled one, and its degrees of freedom.
fn own_scale(e: &[f64], pooled: f64, share: f64, phi: f64, rules: &Rules) -> (f64, usize) {
    let count = e.iter().filter(|x| !x.is_nan()).count();
    if count < 2 {
        return (pooled, 0);
    }
    let ones: Vec<f64> = e.iter().map(|x| if x.is_nan() { 0.0 } else { 1.0 }).collect();
    let expected = count as f64 - lasting_square(&ones, share, phi) / count as f64;
    if expected <= EXPECTED_MIN {
        return (pooled, 0);
    }
    let square: f64 = e.iter().filter(|x| !x.is_nan()).map(|x| x * x).sum();
    let (d0, d) = (rules.prior_degrees, (count - 1) as f64);
    ((d0 * pooled + d * square / expected) / (d0 + d), count - 1)
}

/// Part of the variance that farms of one area share: products of different farms' residuals.
pub(super) fn area_variance(panel: &SavingPanel, residual: &[f64]) -> f64 {
    let Some(area) = panel.area else {
        return 0.0;
    };
    let mut sums: BTreeMap<u32, Vec<(f64, f64, f64)>> = BTreeMap::new();
    for (farm, area) in area.iter().enumerate() {
        let row = sums.entry(*area).or_insert_with(|| vec![(0.0, 0.0, 0.0); panel.months]);
        for (sum, e) in row.iter_mut().zip(&residual[panel.row(farm)]) {
            if !e.is_nan() {
                *sum = (sum.0 + e, sum.1 + e * e, sum.2 + 1.0);
            }
        }
    }
    let cells = || sums.values().flatten();
    let products: f64 = cells().map(|(e, square, _)| e * e - square).sum();
    let pairs: f64 = cells().map(|(_, _, count)| count * (count - 1.0)).sum();
    if pairs >= AREA_PAIRS_MIN { (products / pairs).max(0.0) } else { 0.0 }
}

/// Variance for gaps nobody found: they bias a sum when one side of the start has more.
pub(super) fn gap_variance(panel: &SavingPanel, rules: &Rules) -> f64 {
    let shares = panel.gap_share.unwrap_or(&[]).iter().zip(panel.start);
    let started: Vec<f64> = shares
        .filter(|(_, start)| start.is_some())
        .map(|(share, _)| share[1] - share[0])
        .filter(|d| d.is_finite())
        .collect();
    let mean = started.iter().sum::<f64>() / started.len().max(1) as f64;
    (rules.gap_bias * mean).powi(2)
}

/// Rows of the farms as purchases alone make them.
pub(super) fn farms(
    panel: &SavingPanel,
    bought: &Bought,
    noise: &Noise,
    rules: &Rules,
) -> Vec<FarmBaseline> {
    let critical: Vec<f64> =
        (0..=panel.months).map(|d| student_t_critical_95(rules.prior_degrees + d as f64)).collect();
    let farm = |i: usize| {
        let (variance, months_free) = noise.own[i];
        // What was found missing tells how much more may be.
        let gaps = panel.gap_share.map_or(0.0, |g| (g[i][0] + g[i][1]) / 2.0);
        let gaps = if gaps.is_finite() { gaps.max(0.0) } else { 0.0 };
        let status = match (panel.start[i], bought.months_after[i]) {
            (None, _) => BaselineStatus::NotStarted,
            (Some(_), 0) => BaselineStatus::NoMonths,
            _ => BaselineStatus::Ok,
        };
        FarmBaseline {
            status,
            is_adjusted: bought.is_adjusted[i],
            level: finite(bought.level[i]),
            ration_weight: 0.0,
            variance: variance * (1.0 + rules.gap_widen * gaps),
            degrees_of_freedom: rules.prior_degrees + months_free as f64,
            critical: critical[months_free],
            months: bought.months[i],
            months_after: bought.months_after[i],
            ration_difference: None,
            ration_finding: None,
        }
    };
    (0..panel.farms()).map(farm).collect()
}
