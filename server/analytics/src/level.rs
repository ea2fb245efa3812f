//! Slips that look like an effect: a farm whose level jumps for good (a unit changed, half the
//! milkings left out, another group counted), and starts at a low point.

use serde::Serialize;

use crate::core::{Core, PhaseCell, Phases};
use crate::errors::Entry;
use crate::panel::NEVER;
use crate::parallel::{map_chunks, map_items};
use crate::stats::median;

/// Smallest change of level that is looked at, logarithm: 35 %.
pub const SHIFT_MIN: f64 = 0.30;
/// Errors from which a change of level holds a farm back.
pub const SHIFT_Z: f64 = 3.6;
/// Observed months on either side of a change, and the fewest.
const SIDE: usize = 4;
const SIDE_MIN: usize = 3;
/// Median of the chi-square distribution with one degree of freedom.
const CHI_SQUARE_MEDIAN: f64 = 0.4549;
/// Median of the absolute deviation to a standard deviation, normal distribution.
const MAD_TO_SD: f64 = 1.4826;
/// Steps at the pool's own scale that stand before a farm's.
const PRIOR_STEPS: f64 = 8.0;

/// The largest change of level of a farm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LevelChange {
    /// Change over its error; 0 where none is large enough to look at.
    pub z: f64,
    /// Difference of logarithms.
    pub shift: f64,
    /// First month of the new level; the month of the start where the change is the member's own
    /// contrast.
    pub month: Option<usize>,
}

impl LevelChange {
    /// Whether it holds the farm back unless somebody accepts it.
    pub fn is_large(&self) -> bool {
        self.z.abs() >= SHIFT_Z
    }
}

/// Looks for the largest change of level of every farm.
pub(crate) fn level_changes(core: &Core) -> Vec<LevelChange> {
    let scan = Scan::new(core);
    let parts = map_chunks(core.panel.farms(), |farms| {
        farms.map(|farm| scan.farm(farm)).collect::<Vec<_>>()
    });
    parts.into_iter().flatten().collect()
}

/// One observed month of a farm with its level less months (by medians) and stage.
#[derive(Clone, Copy)]
struct Seen {
    month: usize,
    weight: f64,
    inverse: f64,
    level: f64,
}

struct Scan<'a, 'b> {
    core: &'b Core<'a>,
    /// Month effects that a third of the farms changing together cannot move.
    months: Vec<f64>,
    /// Largest believable share of the pool's variances: so much does the middle farm scatter.
    cap: f64,
    /// Middle effect of the estimated members.
    middle: f64,
    /// Variance of effects between members.
    between: f64,
}

impl<'a, 'b> Scan<'a, 'b> {
    fn new(core: &'b Core<'a>) -> Self {
        let months = median_months(core);
        let mut scan = Self { core, months, cap: 1.0, middle: 0.0, between: 0.0 };
        scan.cap = scan.spread_cap();
        let mut effects: Vec<f64> = scan.core.estimated().map(|(f, _)| scan.contrast(f)).collect();
        let count = effects.len();
        scan.middle = median(&mut effects).unwrap_or(0.0);
        if count >= 5 {
            effects.iter_mut().for_each(|t| *t = (*t - scan.middle).abs());
            let spread = MAD_TO_SD * median(&mut effects).unwrap_or(0.0);
            let mut own: Vec<f64> = core.estimated().map(|(_, e)| e.own_variance).collect();
            let own = scan.cap * median(&mut own).unwrap_or(0.0);
            scan.between = (spread * spread - own).max(0.0);
        }
        scan
    }

    /// Observed output less stage, and the effect of its month by medians.
    fn level(&self, farm: usize, month: usize) -> Option<f64> {
        without_stage(self.core, farm, month).map(|z| z - self.months[month])
    }

    /// The member's own contrast on levels by medians.
    fn contrast(&self, farm: usize) -> f64 {
        let effect = self.core.drafts[farm].effect.as_ref();
        let entries = effect.map_or(&[][..], |e| e.contrast.as_slice());
        let part = |e: &Entry| e.weight * self.level(farm, e.month).unwrap_or(0.0);
        entries.iter().map(part).sum()
    }

    fn spread_cap(&self) -> f64 {
        let core = self.core;
        let parts = map_items(9.min(core.panel.months().saturating_sub(1)), |k| {
            let lag = k + 1;
            let mut squares = Vec::new();
            let mut cells = Vec::new();
            for farm in 0..core.panel.farms() {
                core.fit.untreated(&core.panel, farm, &mut cells);
                let months = || cells.iter().map(|c| c.month);
                for early in months() {
                    if cells.binary_search_by_key(&(early + lag), |c| c.month).is_ok() {
                        let (a, b) = (self.level(farm, early), self.level(farm, early + lag));
                        squares.extend(a.zip(b).map(|(a, b)| 0.5 * (b - a) * (b - a)));
                    }
                }
            }
            if squares.len() < 20 {
                return (0.0, 0.0);
            }
            let mean = squares.iter().sum::<f64>() / squares.len() as f64;
            (1.5 * median(&mut squares).unwrap_or(0.0) / CHI_SQUARE_MEDIAN, mean)
        });
        let (middle, mean) = parts.iter().fold((0.0, 0.0), |a, p| (a.0 + p.0, a.1 + p.1));
        if mean > 0.0 { (middle / mean).min(1.0) } else { 1.0 }
    }

    /// Months of a farm that can show a change: observed, connected, not the month of the start,
    /// less the middle effect after the start.
    fn seen(&self, farm: usize) -> Vec<Seen> {
        let core = self.core;
        let start = core.panel.start(farm);
        let months = (0..core.panel.months()).filter(|t| core.fit.is_connected[*t]);
        let of_month = |month: usize| {
            let cell = core.fit.cell(&core.panel, farm, month)?;
            let effect = if month as i64 > start { self.middle } else { 0.0 };
            let level = self.level(farm, month)? - effect;
            let inverse = 1.0 / cell.records.max(1.0);
            (month as i64 != start).then_some(Seen { month, weight: cell.weight, inverse, level })
        };
        months.filter_map(of_month).collect()
    }

    /// The farm's own scale by its middle step: one jump cannot move it. Never below 1.
    fn own_scale(&self, farm: usize, seen: &[Seen]) -> f64 {
        let pool = self.core.errors.pool(farm);
        let next = pool.half_squares.get(1).copied().unwrap_or(0.0);
        let pairs = seen.windows(2).filter(|p| p[1].month == p[0].month + 1);
        let step = |p: &[Seen]| {
            let noise = pool.record_variance * 0.5 * (p[0].inverse + p[1].inverse);
            let expected = (self.cap * (next + noise)).max(1e-12);
            0.5 * (p[1].level - p[0].level).powi(2) / expected
        };
        let mut steps: Vec<f64> = pairs.map(step).collect();
        let count = steps.len() as f64;
        if steps.len() < 4 {
            return 1.0;
        }
        let middle = median(&mut steps).unwrap_or(0.0) / CHI_SQUARE_MEDIAN;
        ((PRIOR_STEPS + count * middle) / (PRIOR_STEPS + count)).max(1.0)
    }

    fn farm(&self, farm: usize) -> LevelChange {
        let seen = self.seen(farm);
        let own = self.own_scale(farm, &seen);
        let mut best = LevelChange { z: 0.0, shift: 0.0, month: None };
        let mut entries = Vec::with_capacity(2 * SIDE);
        for at in 0..seen.len() {
            let month = seen[at].month;
            if month < 3 || month + 2 >= self.core.panel.months() {
                continue;
            }
            let before = seen[..at].iter().rev().take_while(|s| s.month + SIDE + 1 >= month);
            let before: Vec<&Seen> = before.take(SIDE).collect();
            let after = seen[at..].iter().take_while(|s| s.month < month + SIDE + 1);
            let after: Vec<&Seen> = after.take(SIDE).collect();
            if before.len() < SIDE_MIN || after.len() < SIDE_MIN {
                continue;
            }
            entries.clear();
            let mut shift = 0.0;
            for (side, sign) in [(&before, -1.0), (&after, 1.0)] {
                let total: f64 = side.iter().map(|s| s.weight).sum();
                for s in side {
                    let weight = sign * s.weight / total;
                    shift += weight * s.level;
                    entries.push(Entry { month: s.month, weight, inverse: s.inverse });
                }
            }
            let start = self.core.panel.start(farm);
            let mean = before.iter().map(|s| s.month as f64).sum::<f64>() / before.len() as f64;
            let is_across = month as i64 > start && mean < start as f64;
            let between = if is_across { self.between } else { 0.0 };
            let error = self.cap * own * self.core.errors.variance(farm, &entries) + between;
            best.take(shift, error, month);
        }
        if let Some(e) = self.core.drafts[farm].effect.as_ref() {
            let shift = self.contrast(farm) - self.middle;
            let error = self.cap * (own * e.own_variance + e.month_variance) + self.between;
            let start = usize::try_from(self.core.panel.start(farm)).unwrap_or(0);
            best.take(shift, error, start);
        }
        best
    }
}

impl LevelChange {
    fn take(&mut self, shift: f64, variance: f64, month: usize) {
        let z = shift / variance.max(1e-12).sqrt();
        if z.abs() > self.z.abs() && shift.abs() >= SHIFT_MIN {
            *self = Self { z, shift, month: Some(month) };
        }
    }
}

fn without_stage(core: &Core, farm: usize, month: usize) -> Option<f64> {
    let (y, _) = core.panel.observed(farm, month)?;
    Some(y - core.fit.fitted(&core.panel, farm, month) + core.fit.month_effects[month])
}

/// Running sum of middle steps over farms with both months, neither the month of the start; the
/// step of the fit where fewer than five have them.
fn median_months(core: &Core) -> Vec<f64> {
    let panel = &core.panel;
    let is_ok = |farm: usize, t: usize| core.fit.is_connected[t] && panel.start(farm) != t as i64;
    let steps = map_items(panel.months(), |t| {
        if t == 0 {
            return 0.0;
        }
        let farms = (0..panel.farms()).filter(|f| is_ok(*f, t) && is_ok(*f, t - 1));
        let step = |farm| {
            let (now, last) = (without_stage(core, farm, t)?, without_stage(core, farm, t - 1)?);
            Some(now - last)
        };
        let mut steps: Vec<f64> = farms.filter_map(step).collect();
        let fitted = core.fit.month_effects[t] - core.fit.month_effects[t - 1];
        let few = steps.len() < 5;
        median(&mut steps).filter(|_| !few).unwrap_or(fitted)
    });
    let mut sum = 0.0;
    steps
        .into_iter()
        .map(|step| {
            sum += step;
            sum
        })
        .collect()
}

/// Whether members stood lower (or higher) than usual just before they started.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum StartPoint {
    /// No.
    None,
    /// Lower: what follows would have risen by itself.
    Low,
    /// Higher.
    High,
    /// Fewer than five members could be looked at.
    NotChecked,
}

/// Mean of the two months before the start against those before the last three.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LowStart {
    /// Members looked at.
    pub members: usize,
    /// Mean difference of logarithms, and its standard error.
    pub mean: Option<(f64, f64)>,
    /// What it says.
    pub flag: StartPoint,
}

/// Months before a start that are left out when it was at a low or high point.
pub(crate) const CUT_MONTHS: u32 = 3;

pub(crate) fn low_start(core: &Core) -> LowStart {
    let mut phases = Phases::default();
    let mut differences = Vec::new();
    for (farm, _) in core.estimated() {
        core.phases(farm, &mut phases);
        let start = core.panel.start(farm);
        if start >= NEVER {
            continue;
        }
        let near: Vec<&PhaseCell> =
            phases.before.iter().filter(|c| c.month as i64 >= start - 2).collect();
        let far = |c: &&PhaseCell| (c.month as i64) < start - i64::from(CUT_MONTHS);
        let far: Vec<&PhaseCell> = phases.before.iter().filter(far).collect();
        if !near.is_empty() && far.len() >= 2 {
            differences.push(mean_left(&near) - mean_left(&far));
        }
    }
    let count = differences.len();
    if count < 5 {
        return LowStart { members: count, mean: None, flag: StartPoint::NotChecked };
    }
    let k = count as f64;
    let mean = differences.iter().sum::<f64>() / k;
    let square: f64 = differences.iter().map(|x| (x - mean).powi(2)).sum();
    let error = (square / (k - 1.0)).sqrt() / k.sqrt();
    let z = if error > 0.0 { mean / error } else { 0.0 };
    let flag = if z < -2.0 && mean < -0.01 {
        StartPoint::Low
    } else if z > 2.0 && mean > 0.01 {
        StartPoint::High
    } else {
        StartPoint::None
    };
    LowStart { members: count, mean: Some((mean, error)), flag }
}

fn mean_left(cells: &[&PhaseCell]) -> f64 {
    let weight: f64 = cells.iter().map(|c| c.weight).sum();
    cells.iter().map(|c| c.weight * c.left).sum::<f64>() / weight
}
