//! Planning a trial: who starts when, by lot; and how small an effect it could show.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::area_shock::half_squares;
use crate::errors::{Entry, spread};
use crate::member_effect::CONTROLS_MIN;
use crate::panel::{Cell, MonthFit, Panel, fit_untreated};
use crate::programme::imputation_weights;
use crate::stats::{median, student_t_critical_95, student_t_upper_point};

/// Random numbers that anybody can draw again from the same seed.
///
/// # Source
/// SplitMix64: Steele, Lea & Flood 2014, OOPSLA.
#[derive(Debug, Clone)]
pub struct SplitMix64(u64);

impl SplitMix64 {
    /// Begins at a seed.
    pub const fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next number.
    pub const fn draw(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }
}

/// Start month of every farm by lot, 0 for the first; none for those that wait.
///
/// Farms are put into groups by area and third of the herd size in the area, shuffled inside each
/// group, laid end to end, and dealt out evenly: each place goes to the month that is furthest
/// behind its number. So every month gets farms of every area and size.
///
/// # Units
/// `starts` are farms to start in each month of the plan; the rest wait.
///
/// # Shape
/// One a farm. None when more farms are to start than there are.
///
/// # Source
/// Shuffle: Fisher & Yates 1938 (Durstenfeld 1964), number modulo places left.
pub fn start_order(
    areas: &[usize],
    sizes: &[f64],
    starts: &[usize],
    seed: u64,
) -> Option<Vec<Option<usize>>> {
    let farms = areas.len();
    let waiting = farms.checked_sub(starts.iter().sum())?;
    if sizes.len() != farms {
        return None;
    }
    let mut numbers = SplitMix64::new(seed);
    let mut order = Vec::with_capacity(farms);
    for group in groups(areas, sizes) {
        let mut group = group;
        for last in (1..group.len()).rev() {
            let places = u64::try_from(last + 1).unwrap_or(u64::MAX);
            let place = usize::try_from(numbers.draw() % places).unwrap_or(0);
            group.swap(last, place);
        }
        order.extend(group);
    }
    let quota: Vec<usize> = starts.iter().copied().chain([waiting]).collect();
    let mut given = vec![0_usize; quota.len()];
    let mut months = vec![None; farms];
    for (place, farm) in order.into_iter().enumerate() {
        let behind = |k: usize| {
            let due = quota[k] as f64 * (place + 1) as f64 / farms as f64;
            // To a billionth: so that the same fractions of different numbers are a tie.
            let behind = ((due - given[k] as f64) * 1e9).round_ties_even();
            (given[k] < quota[k]).then_some(behind)
        };
        let mut best: Option<(usize, f64)> = None;
        for k in 0..quota.len() {
            if let Some(lag) = behind(k)
                && best.is_none_or(|(_, held)| lag > held)
            {
                best = Some((k, lag));
            }
        }
        let (month, _) = best?;
        given[month] += 1;
        months[farm] = (month < starts.len()).then_some(month);
    }
    Some(months)
}

/// Farms by area and by third of the size in the area, ties by position.
fn groups(areas: &[usize], sizes: &[f64]) -> Vec<Vec<usize>> {
    let mut by_area: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (farm, area) in areas.iter().enumerate() {
        by_area.entry(*area).or_default().push(farm);
    }
    let mut groups = Vec::new();
    for mut farms in by_area.into_values() {
        farms.sort_by(|a, b| sizes[*a].total_cmp(&sizes[*b]).then(a.cmp(b)));
        let count = farms.len();
        let mut thirds = [Vec::new(), Vec::new(), Vec::new()];
        for (rank, farm) in farms.into_iter().enumerate() {
            thirds[3 * rank / count].push(farm);
        }
        thirds.iter_mut().for_each(|third| third.sort_unstable());
        groups.extend(thirds);
    }
    groups
}

/// What a plan is judged by: the co-operative's own scatter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlanSetting<'a> {
    /// Months of records before the first start.
    pub months_before: usize,
    /// Months after the last start.
    pub months_after: usize,
    /// Records a farm and month.
    pub records: f64,
    /// Half mean squares by lag ([`crate::errors::Pool`]).
    pub half_squares: &'a [f64],
    pub record_variance: f64,
    /// Variance of area shocks and their correlation from month to month.
    pub area_shock: (f64, f64),
    /// How far true effects of members differ, logarithm.
    pub effect_sd: f64,
    /// Chance to show an effect of the size given.
    pub power: f64,
    /// Degrees of freedom of the pool.
    pub pool_df: f64,
    /// As [`crate::member_effect::MemberRules`].
    pub kappa: f64,
}

/// What a plan could show.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlanPower {
    pub months: usize,
    /// Months with five farms that have not started.
    pub usable_months: usize,
    /// Farms that wait to the end.
    pub waiting: usize,
    /// What can be shown; none without months in which enough farms wait.
    pub effects: Option<PlanEffects>,
}

/// Smallest effects that are likely to be shown, as differences of logarithms.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlanEffects {
    /// Farms that could be estimated.
    pub farms: usize,
    /// Standard error of the programme's average.
    pub programme_error: f64,
    /// Over all members.
    pub programme: f64,
    /// Of the middle member.
    pub member: f64,
    /// Of each area, by its number.
    pub areas: BTreeMap<usize, f64>,
}

/// Months a farm is compared over on either side of its start.
const WINDOW: usize = 12;

/// Judges a plan before it begins: what it could show with the records as they usually scatter.
///
/// # Units
/// `starts` as [`start_order`] gives them.
pub fn plan_power(starts: &[Option<usize>], areas: &[usize], of: &PlanSetting) -> PlanPower {
    let last = starts.iter().flatten().max().copied().unwrap_or(0);
    let months = of.months_before + last + 1 + of.months_after;
    let waiting = starts.iter().filter(|s| s.is_none()).count();
    let cells = starts.len() * months;
    let start = |s: &Option<usize>| s.and_then(|m| u32::try_from(of.months_before + m).ok());
    let start: Vec<Option<u32>> = starts.iter().map(start).collect();
    let (zeros, records) = (vec![0.0; cells], vec![of.records; cells]);
    let mut plan = PlanPower { months, usable_months: 0, waiting, effects: None };
    let Ok(panel) = Panel::new(months, &zeros, &records, &start, None) else { return plan };
    let fit = fit_untreated(&panel, of.kappa);
    let is_usable: Vec<bool> = (0..months).map(|t| untreated(&start, t) >= CONTROLS_MIN).collect();
    plan.usable_months = is_usable.iter().filter(|usable| **usable).count();
    let work = PlanWork { of, panel, fit, start: &start, is_usable, areas };
    plan.effects = work.effects();
    plan
}

fn untreated(start: &[Option<u32>], month: usize) -> usize {
    start.iter().filter(|g| g.is_none_or(|g| month < g as usize)).count()
}

struct PlanWork<'a> {
    of: &'a PlanSetting<'a>,
    panel: Panel<'a>,
    fit: MonthFit,
    start: &'a [Option<u32>],
    is_usable: Vec<bool>,
    areas: &'a [usize],
}

impl PlanWork<'_> {
    fn area(&self, farm: usize) -> usize {
        self.areas.get(farm).copied().unwrap_or(0)
    }

    /// Usable months of a farm before and after its start.
    fn sides(&self, farm: usize) -> (Vec<usize>, Vec<usize>) {
        let Some(start) = self.start[farm].map(|g| g as usize) else {
            return (Vec::new(), Vec::new());
        };
        let usable = |months: std::ops::Range<usize>| -> Vec<usize> {
            months.filter(|t| self.is_usable[*t]).collect()
        };
        let end = self.panel.months();
        let after = (start + 1).min(end)..(start + 1 + WINDOW).min(end);
        (usable(start.saturating_sub(WINDOW)..start.min(end)), usable(after))
    }

    fn half_square(&self, lag: usize) -> f64 {
        let known = self.of.half_squares;
        known.get(lag).or(known.last()).copied().unwrap_or(0.0)
    }

    fn own(&self, entries: &[Entry]) -> f64 {
        let half_squares: Vec<f64> =
            (0..self.panel.months()).map(|h| self.half_square(h)).collect();
        spread(entries, &half_squares, self.of.record_variance)
    }

    fn effects(&self) -> Option<PlanEffects> {
        let of = self.of;
        let farms: Vec<usize> = (0..self.start.len())
            .filter(|farm| {
                let (before, after) = self.sides(*farm);
                before.len() >= 3 && after.len() >= 2
            })
            .collect();
        if farms.is_empty() {
            return None;
        }
        let factor =
            student_t_critical_95(of.pool_df) + student_t_upper_point(1.0 - of.power, of.pool_df);
        let spread_of = |count: usize| of.effect_sd * of.effect_sd / count as f64;
        let programme_error = (self.average(&farms)? + spread_of(farms.len())).sqrt();
        let mut by_area: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for farm in &farms {
            by_area.entry(self.area(*farm)).or_default().push(*farm);
        }
        let mut areas = BTreeMap::new();
        for (area, of_area) in by_area {
            let variance = self.average(&of_area)? + spread_of(of_area.len());
            areas.insert(area, factor * variance.sqrt());
        }
        Some(PlanEffects {
            programme: factor * programme_error,
            member: factor * self.member(&farms),
            programme_error,
            farms: farms.len(),
            areas,
        })
    }

    /// Variance of the average over these farms.
    fn average(&self, farms: &[usize]) -> Option<f64> {
        let months = self.panel.months();
        let mut treated = vec![false; self.start.len() * months];
        for farm in farms {
            self.sides(*farm).1.into_iter().for_each(|t| treated[farm * months + t] = true);
        }
        let weights = imputation_weights(&self.panel, &self.fit, &treated)?;
        let inverse = 1.0 / self.of.records;
        let (variance, correlation) = self.of.area_shock;
        let shock = half_squares(variance, correlation, months);
        let (mut total, mut own_shocks) = (0.0, 0.0);
        let mut by_area: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
        for (farm, entries) in weights {
            let row = by_area.entry(self.area(farm)).or_insert_with(|| vec![0.0; months]);
            let entries: Vec<Entry> = entries.iter().map(|e| Entry { inverse, ..*e }).collect();
            entries.iter().for_each(|e| row[e.month] += e.weight);
            total += self.own(&entries);
            own_shocks += spread(&entries, &shock, 0.0);
        }
        let of_row = |row: &Vec<f64>| {
            let entry = |(month, w): (usize, &f64)| Entry { month, weight: *w, inverse: 0.0 };
            spread(&row.iter().enumerate().map(entry).collect::<Vec<_>>(), &shock, 0.0)
        };
        let shared: f64 = by_area.values().map(of_row).sum();
        Some(total + (shared - own_shocks).max(0.0))
    }

    /// Standard error of the middle member.
    fn member(&self, farms: &[usize]) -> f64 {
        let months = self.panel.months();
        let inverse = 1.0 / self.of.records;
        let mut mean = vec![0.0; months];
        let mut own = Vec::with_capacity(farms.len());
        for farm in farms {
            let (before, after) = self.sides(*farm);
            let entry = |sign: f64, side: &[usize]| -> Vec<Entry> {
                let weight = sign / side.len() as f64;
                side.iter().map(|t| Entry { month: *t, weight, inverse }).collect()
            };
            let contrast = [entry(-1.0, &before), entry(1.0, &after)].concat();
            for e in &contrast {
                mean[e.month] += e.weight / farms.len() as f64;
            }
            own.push(self.own(&contrast));
        }
        let implied = &self.fit.inverse * nalgebra::DVector::from_vec(mean);
        let mut cells: Vec<Cell> = Vec::new();
        let mut shared = 0.0;
        for farm in 0..self.start.len() {
            self.fit.untreated(&self.panel, farm, &mut cells);
            let total: f64 = cells.iter().map(|c| c.weight).sum();
            let mean: f64 = cells.iter().map(|c| c.weight / total * implied[c.month]).sum();
            let weight = |c: &Cell| c.weight * (implied[c.month] - mean);
            let entry = |c: &Cell| Entry { month: c.month, weight: weight(c), inverse };
            shared += self.own(&cells.iter().map(entry).collect::<Vec<_>>());
        }
        own.iter_mut().for_each(|v| *v = (*v + shared).sqrt());
        median(&mut own).unwrap_or(0.0)
    }
}

/// Months of one farm with and without fodder, by lot.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Switchback {
    /// Whether it feeds, one a month.
    pub is_on: Vec<bool>,
    /// Whether the month is used; the first of a block still shows the block before.
    pub is_used: Vec<bool>,
}

/// Blocks of months with and without fodder, in pairs whose order is drawn.
///
/// # Units
/// Blocks of `block_months` months, the first `washout` of each not used. An odd block is left
/// away.
pub fn switchback(blocks: usize, block_months: usize, seed: u64, washout: usize) -> Switchback {
    let mut numbers = SplitMix64::new(seed);
    let mut plan = Switchback { is_on: Vec::new(), is_used: Vec::new() };
    for _ in 0..blocks / 2 {
        let is_on_first = numbers.draw() & 1 == 1;
        for is_on in [is_on_first, !is_on_first] {
            plan.is_on.extend((0..block_months).map(|_| is_on));
            plan.is_used.extend((0..block_months).map(|t| t >= washout));
        }
    }
    plan
}

/// What one farm's months with and without fodder could show.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SwitchbackPower {
    /// Standard error of months with fodder against months without.
    pub error: f64,
    /// Smallest effect likely to be shown.
    pub smallest: f64,
    /// Months used.
    pub months: usize,
}

/// Judges a switchback; `month_error` is the standard error of one month's effect, 0 when the
/// farm's months are set against twenty others.
///
/// # Shape
/// None without a used month of either kind.
pub fn switchback_power(
    plan: &Switchback,
    of: &PlanSetting,
    month_error: f64,
) -> Option<SwitchbackPower> {
    let used = |on: bool| -> Vec<usize> {
        let each = plan.is_on.iter().zip(&plan.is_used).enumerate();
        each.filter(|(_, (is_on, is_used))| **is_used && **is_on == on).map(|(t, _)| t).collect()
    };
    let (on, off) = (used(true), used(false));
    if on.is_empty() || off.is_empty() {
        return None;
    }
    let entry = |sign: f64, months: &[usize]| -> Vec<Entry> {
        let weight = sign / months.len() as f64;
        months.iter().map(|t| Entry { month: *t, weight, inverse: 1.0 / of.records }).collect()
    };
    let entries = [entry(1.0, &on), entry(-1.0, &off)].concat();
    let last = of.half_squares.last().copied().unwrap_or(0.0);
    let lag = |h: usize| of.half_squares.get(h).copied().unwrap_or(last);
    let half_squares: Vec<f64> = (0..plan.is_on.len()).map(lag).collect();
    let months_part: f64 = entries.iter().map(|e| e.weight * e.weight).sum();
    let own = spread(&entries, &half_squares, of.record_variance);
    let error = (own + month_error * month_error * months_part).max(0.0).sqrt();
    let months = on.len() + off.len();
    let df = (months as f64 - 2.0).max(1.0);
    let factor = student_t_critical_95(df) + student_t_upper_point(1.0 - of.power, df);
    Some(SwitchbackPower { error, smallest: factor * error, months })
}
