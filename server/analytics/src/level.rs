//! Slips that look like an effect: a farm whose level jumps for good (a unit changed, half the
//! milkings left out, another group counted), and starts at a low point.

use serde::Serialize;

use crate::core::{Core, PhaseCell, Phases};
use crate::errors::Entry;
use crate::limits::CHUNK_FARMS;
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
/// Lags by which the spread of the middle farm is told.
const CAP_LAGS: usize = 9;
/// Months whose steps are gathered in one pass over the farms.
const BLOCK_MONTHS: usize = 6;

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
        let mut room = Room::default();
        farms.map(|farm| scan.farm(farm, &mut room)).collect::<Vec<_>>()
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
    outputs: Outputs,
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
        let outputs = Outputs::new(core);
        let months = median_months(core, &outputs);
        let mut scan = Self { core, outputs, months, cap: 1.0, middle: 0.0, between: 0.0 };
        scan.cap = scan.spread_cap();
        let parts = map_chunks(core.panel.farms(), |farms| {
            let estimated = farms.filter(|farm| core.drafts[*farm].effect.is_some());
            estimated.map(|farm| scan.contrast(farm)).collect::<Vec<_>>()
        });
        let mut effects = parts.concat();
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

    /// Observed output less stage, and the effect of its month by medians; not a number where none is
    /// observed.
    fn level(&self, farm: usize, month: usize) -> f64 {
        self.outputs.of(farm)[month] - self.months[month]
    }

    /// The member's own contrast on levels by medians.
    fn contrast(&self, farm: usize) -> f64 {
        let effect = self.core.drafts[farm].effect.as_ref();
        let entries = effect.map_or(&[][..], |e| e.contrast.as_slice());
        entries.iter().map(|e| e.weight * self.level(farm, e.month)).sum()
    }

    fn spread_cap(&self) -> f64 {
        let core = self.core;
        // Output less months where they are connected; nothing else has an index.
        let months = self.months.iter().zip(&core.fit.is_connected);
        let months: Vec<f64> = months.map(|(m, is)| if *is { *m } else { f64::NAN }).collect();
        let parts = map_items(CAP_LAGS.min(core.panel.months().saturating_sub(1)), |k| {
            let lag = k + 1;
            let mut squares = Vec::new();
            for farm in 0..core.panel.farms() {
                let end = core.panel.months_before_start(farm);
                let outputs = &self.outputs.of(farm)[..end];
                let later = outputs.iter().zip(&months).skip(lag);
                for ((early, month), (late, later)) in outputs.iter().zip(&months).zip(later) {
                    let step = (late - later) - (early - month);
                    if !step.is_nan() {
                        squares.push(0.5 * step * step);
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
    fn seen(&self, farm: usize, to: &mut Vec<Seen>) {
        let core = self.core;
        let start = core.panel.start(farm);
        let months = (0..core.panel.months()).filter(|t| core.fit.is_connected[*t]);
        let of_month = |month: usize| {
            let cell = core.fit.cell(&core.panel, farm, month)?;
            let effect = if month as i64 > start { self.middle } else { 0.0 };
            let level = self.level(farm, month) - effect;
            let inverse = 1.0 / cell.records.max(1.0);
            (month as i64 != start).then_some(Seen { month, weight: cell.weight, inverse, level })
        };
        to.clear();
        to.extend(months.filter_map(of_month));
    }

    /// The farm's own scale by its middle step: one jump cannot move it. Never below 1.
    fn own_scale(&self, farm: usize, seen: &[Seen], steps: &mut Vec<f64>) -> f64 {
        let pool = self.core.errors.pool(farm);
        let next = pool.half_squares.get(1).copied().unwrap_or(0.0);
        let pairs = seen.windows(2).filter(|p| p[1].month == p[0].month + 1);
        let step = |p: &[Seen]| {
            let noise = pool.record_variance * 0.5 * (p[0].inverse + p[1].inverse);
            let expected = (self.cap * (next + noise)).max(1e-12);
            0.5 * (p[1].level - p[0].level).powi(2) / expected
        };
        steps.clear();
        steps.extend(pairs.map(step));
        let count = steps.len() as f64;
        if steps.len() < 4 {
            return 1.0;
        }
        let middle = median(steps).unwrap_or(0.0) / CHI_SQUARE_MEDIAN;
        ((PRIOR_STEPS + count * middle) / (PRIOR_STEPS + count)).max(1.0)
    }

    fn farm(&self, farm: usize, room: &mut Room) -> LevelChange {
        let Room { seen, steps, entries } = room;
        self.seen(farm, seen);
        let own = self.own_scale(farm, seen, steps);
        let mut best = LevelChange { z: 0.0, shift: 0.0, month: None };
        for at in 0..seen.len() {
            let month = seen[at].month;
            if month < 3 || month + 2 >= self.core.panel.months() {
                continue;
            }
            let before = &seen[at.saturating_sub(SIDE)..at];
            let far = before.iter().take_while(|s| s.month + SIDE + 1 < month).count();
            let before = &before[far..];
            let after = &seen[at..seen.len().min(at + SIDE)];
            let near = after.iter().take_while(|s| s.month < month + SIDE + 1).count();
            let after = &after[..near];
            if before.len() < SIDE_MIN || after.len() < SIDE_MIN {
                continue;
            }
            entries.clear();
            let mut shift = 0.0;
            // The nearest month first, on either side.
            shift += side(&mut before.iter().rev(), -1.0, entries);
            shift += side(&mut after.iter(), 1.0, entries);
            let start = self.core.panel.start(farm);
            let mean = before.iter().map(|s| s.month as f64).sum::<f64>() / before.len() as f64;
            let is_across = month as i64 > start && mean < start as f64;
            let between = if is_across { self.between } else { 0.0 };
            let error = self.cap * own * self.core.errors.variance(farm, entries) + between;
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

/// Room for what is looked at of one farm.
#[derive(Default)]
struct Room {
    seen: Vec<Seen>,
    steps: Vec<f64>,
    entries: Vec<Entry>,
}

/// Adds one side of a change to a contrast; what it puts into it.
fn side<'s>(
    cells: &mut (impl Iterator<Item = &'s Seen> + Clone),
    sign: f64,
    entries: &mut Vec<Entry>,
) -> f64 {
    let total: f64 = cells.clone().map(|s| s.weight).sum();
    let mut shift = 0.0;
    for s in cells {
        let weight = sign * s.weight / total;
        shift += weight * s.level;
        entries.push(Entry { month: s.month, weight, inverse: s.inverse });
    }
    shift
}

/// Output less stage of all farms by month; not a number where none is observed.
struct Outputs {
    months: usize,
    /// By pieces of [`CHUNK_FARMS`] farms.
    pieces: Vec<Vec<f64>>,
}

impl Outputs {
    fn new(core: &Core) -> Self {
        let months = core.panel.months();
        let pieces = map_chunks(core.panel.farms(), |farms| {
            let mut piece = Vec::with_capacity(farms.len() * months);
            for farm in farms {
                let of_month = |t: usize| {
                    let (y, _) = core.panel.observed(farm, t)?;
                    Some(y - core.fit.fitted(&core.panel, farm, t) + core.fit.month_effects[t])
                };
                piece.extend((0..months).map(|t| of_month(t).unwrap_or(f64::NAN)));
            }
            piece
        });
        Self { months, pieces }
    }

    fn of(&self, farm: usize) -> &[f64] {
        let first = farm % CHUNK_FARMS * self.months;
        &self.pieces[farm / CHUNK_FARMS][first..first + self.months]
    }
}

/// Running sum of middle steps over farms with both months, neither the month of the start; the
/// step of the fit where fewer than five have them.
fn median_months(core: &Core, outputs: &Outputs) -> Vec<f64> {
    let panel = &core.panel;
    let blocks = map_items(panel.months().div_ceil(BLOCK_MONTHS), |block| {
        let months = block * BLOCK_MONTHS..panel.months().min((block + 1) * BLOCK_MONTHS);
        let is_step =
            |t: &usize| *t > 0 && core.fit.is_connected[*t] && core.fit.is_connected[t - 1];
        let used: Vec<usize> = months.clone().filter(is_step).collect();
        let mut steps: Vec<Vec<f64>> = vec![Vec::new(); used.len()];
        for farm in 0..panel.farms() {
            let (start, of_farm) = (panel.start(farm), outputs.of(farm));
            for (t, steps) in used.iter().zip(&mut steps) {
                let (now, step) = (*t as i64, of_farm[*t] - of_farm[t - 1]);
                if start != now && start != now - 1 && !step.is_nan() {
                    steps.push(step);
                }
            }
        }
        let mut middles = vec![None; months.len()];
        for (t, mut steps) in used.into_iter().zip(steps) {
            middles[t - months.start] = median(&mut steps).filter(|_| steps.len() >= 5);
        }
        middles
    });
    let mut sum = 0.0;
    let effects = &core.fit.month_effects;
    let steps = blocks.into_iter().flatten().enumerate();
    let fitted = |t: usize| if t == 0 { 0.0 } else { effects[t] - effects[t - 1] };
    let sums = steps.map(|(t, step)| {
        sum += step.unwrap_or_else(|| fitted(t));
        sum
    });
    sums.collect()
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
    pub flag: StartPoint,
}

/// Months before a start that are left out when it was at a low or high point.
pub(crate) const CUT_MONTHS: u32 = 3;

pub(crate) fn low_start(core: &Core) -> LowStart {
    let parts = map_chunks(core.panel.farms(), |farms| {
        let mut phases = Phases::default();
        let estimated = farms.filter(|farm| core.drafts[*farm].effect.is_some());
        estimated.filter_map(|farm| before_start(core, farm, &mut phases)).collect::<Vec<_>>()
    });
    let differences = parts.concat();
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

/// What the two months before a member's start are above those before the last three.
fn before_start(core: &Core, farm: usize, phases: &mut Phases) -> Option<f64> {
    let start = core.panel.start(farm);
    if start >= NEVER {
        return None;
    }
    core.phases(farm, phases);
    let near = || phases.before.iter().filter(|c| c.month as i64 >= start - 2);
    let far = || {
        let before = |c: &&PhaseCell| (c.month as i64) < start - i64::from(CUT_MONTHS);
        phases.before.iter().filter(before)
    };
    let is_told = near().next().is_some() && far().nth(1).is_some();
    is_told.then(|| mean_left(near()) - mean_left(far()))
}

fn mean_left<'c>(cells: impl Iterator<Item = &'c PhaseCell> + Clone) -> f64 {
    let weight: f64 = cells.clone().map(|c| c.weight).sum();
    cells.map(|c| c.weight * c.left).sum::<f64>() / weight
}
