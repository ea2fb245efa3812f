//! Slips of a unit in one or a few records of milk or eggs, and lasting steps of their level.

use super::units::{NEAR, OF_EGGS, OF_MILK, median, middle, unit_of};
use super::values::Output;

/// Days to each side with which a record is compared, and records without which nothing is said.
const SLIP_DAYS: i64 = 45;
/// See [`SLIP_DAYS`].
const SLIP_LEAST: usize = 7;
/// Least distance of a slip from the median, log scale, and in robust standard deviations.
const SLIP_APART: (f64, f64) = (1.5, 5.0);
/// Records to each side whose medians are compared.
pub const SIDE: usize = 14;
/// Least factor of a step, and in robust standard errors: below it seasons and stages move more.
const STEP_APART: (f64, f64) = (1.4, 5.0);
/// Standard error of a median over that of a mean.
const OF_MEDIAN: f64 = 1.253_3;
/// Least distance of the two records at a step, log scale.
const STEP_AT_ONCE: f64 = 0.25;
/// Least part of the step that the three records on either side show: drying off is gradual.
const STEP_SHARE: f64 = 0.6;
/// Days after the first record in which no step is listed: farms learn to measure.
const GUARD_DAYS: i64 = 60;
/// Days around a recorded event, or a change of animals by a tenth, in which a step is explained.
const EVENT_DAYS: i64 = 14;
/// Share of the animals that makes such a change.
const CHANGE: f64 = 0.1;
/// Animals from which a step is told: calving and drying off are real steps of one cow.
const HERD: [i64; 2] = [3, 20];
/// Least factor of a step in a smaller herd, which must be near a unit as well.
const SMALL_STEP: f64 = 3.0;
/// How near to a unit a step is, log scale.
const STEP_NEAR: f64 = 0.25;
/// Days within which one step is listed, the largest.
const STEP_DAYS: i64 = 28;

/// One day of one group.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DayOutput {
    /// Day, by number.
    pub day: i64,
    /// Litres or eggs.
    pub total: f64,
    /// Animals in milk, or hens.
    pub animals: i64,
}

/// Records that are out by a unit: the first and last of them by position, and the unit.
pub type Slip = (usize, usize, &'static str);

/// A lasting step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// First record after it, by position.
    pub at: usize,
    /// Level after it over the level before.
    pub ratio: f64,
    /// The unit that would explain it.
    pub unit: Option<&'static str>,
    /// Animals that would explain it at the rate of before.
    pub animals: i64,
}

/// What a group's days show.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Levels {
    /// Slips of a unit, in order.
    pub slips: Vec<Slip>,
    /// Steps, in order.
    pub steps: Vec<Step>,
}

/// A record with something in it: position, day, log of the rate an animal, animals.
#[derive(Clone, Copy)]
struct Rate {
    at: usize,
    day: i64,
    log: f64,
    animals: i64,
}

/// Slips and steps in a group's days, in their order. `events` are days of recorded events.
#[must_use]
pub fn levels(output: Output, days: &[DayOutput], events: &[i64]) -> Levels {
    let units: &[&str] = match output {
        Output::Milk => &OF_MILK,
        Output::Eggs => &OF_EGGS,
    };
    let rate = |(at, d): (usize, &DayOutput)| {
        let is_told = d.total > 0.0 && d.animals > 0;
        is_told.then(|| Rate {
            at,
            day: d.day,
            log: (d.total / d.animals as f64).ln(),
            animals: d.animals,
        })
    };
    let rates: Vec<Rate> = days.iter().enumerate().filter_map(rate).collect();
    let slips = slips(&rates, units);
    let mut kept = Vec::with_capacity(rates.len());
    let mut from = 0;
    for (first, last, _) in &slips {
        kept.extend(rates.get(from..*first).unwrap_or_default());
        from = last + 1;
    }
    kept.extend(rates.get(from..).unwrap_or_default());
    let herd = HERD[usize::from(output == Output::Eggs)];
    let steps = steps(&kept, events, units, herd);
    let at = |i: usize| rates.get(i).map_or(0, |r| r.at);
    Levels { slips: slips.into_iter().map(|(a, b, unit)| (at(a), at(b), unit)).collect(), steps }
}

/// Slips, by position among the rates.
fn slips(rates: &[Rate], units: &[&str]) -> Vec<Slip> {
    let mut slips: Vec<Slip> = Vec::new();
    for (at, rate) in rates.iter().enumerate() {
        let from = rates.partition_point(|r| r.day < rate.day - SLIP_DAYS);
        let to = rates.partition_point(|r| r.day <= rate.day + SLIP_DAYS);
        let near = (from..to).filter(|i| *i != at);
        let others: Vec<f64> = near.filter_map(|i| rates.get(i)).map(|r| r.log).collect();
        if others.len() < SLIP_LEAST {
            continue;
        }
        let (usual, deviation) = middle(others);
        let apart = rate.log - usual;
        if apart.abs() <= SLIP_APART.0.max(SLIP_APART.1 * deviation) {
            continue;
        }
        let Some(unit) = unit_of(apart.exp(), units, NEAR) else { continue };
        match slips.last_mut() {
            Some((_, last, of)) if *last + 1 == at && *of == unit => *last = at,
            _ => slips.push((at, at, unit)),
        }
    }
    slips
}

fn steps(rates: &[Rate], events: &[i64], units: &[&str], herd: i64) -> Vec<Step> {
    let is_change = |pair: &&[Rate]| {
        let [before, after] = pair else { return false };
        let most = before.animals.max(after.animals) as f64;
        (after.animals - before.animals).abs() as f64 >= CHANGE * most
    };
    let changes = rates.windows(2).filter(is_change).filter_map(|pair| pair.last());
    let mut explained: Vec<i64> = changes.map(|r| r.day).chain(events.iter().copied()).collect();
    explained.sort_unstable();
    let is_explained = |day: i64| {
        let next = explained.partition_point(|e| *e < day - EVENT_DAYS);
        explained.get(next).is_some_and(|e| *e <= day + EVENT_DAYS)
    };
    let start = rates.first().map_or(0, |r| r.day);
    let mut found: Vec<(f64, i64, Step)> = Vec::new();
    for at in SIDE..(rates.len() + 1).saturating_sub(SIDE) {
        let Some([before, after]) = at.checked_sub(1).and_then(|b| rates.get(b..=at)) else {
            continue;
        };
        let is_gap = after.day - before.day > EVENT_DAYS;
        if after.day - start < GUARD_DAYS || is_gap || is_explained(after.day) {
            continue;
        }
        if let Some((apart, step)) = step(rates, at, units, herd) {
            found.push((apart, after.day, step));
        }
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.2.at.cmp(&b.2.at)));
    let mut kept: Vec<(i64, Step)> = Vec::new();
    for (_, day, step) in found {
        if kept.iter().all(|(other, _)| (day - other).abs() > STEP_DAYS) {
            kept.push((day, step));
        }
    }
    let mut steps: Vec<Step> = kept.into_iter().map(|(_, step)| step).collect();
    steps.sort_by_key(|s| s.at);
    steps
}

/// The step before a record, if there is one: its size on the log scale beside it.
fn step(rates: &[Rate], at: usize, units: &[&str], herd: i64) -> Option<(f64, Step)> {
    let here = rates.get(at)?;
    let before = rates.get(at.checked_sub(1)?)?;
    if (here.log - before.log).abs() < STEP_AT_ONCE {
        return None;
    }
    let logs = |from: usize, to: usize| -> Vec<f64> {
        rates.get(from..to.min(rates.len())).unwrap_or_default().iter().map(|r| r.log).collect()
    };
    let (low, low_spread) = middle(logs(at - SIDE, at));
    let (high, high_spread) = middle(logs(at, at + SIDE));
    let apart = high - low;
    let error = OF_MEDIAN * (low_spread.hypot(high_spread) / (SIDE as f64).sqrt()) + 0.01;
    let at_once = median(&mut logs(at, at + 3)) - median(&mut logs(at - 3, at));
    let is_step = apart.abs() >= STEP_APART.0.ln()
        && apart.abs() >= STEP_APART.1 * error
        && at_once * apart > 0.0
        && at_once.abs() >= STEP_SHARE * apart.abs();
    let unit = unit_of(apart.exp(), units, STEP_NEAR);
    let around = rates.get(at - SIDE..(at + SIDE).min(rates.len())).unwrap_or_default();
    let is_small = around.iter().map(|r| r.animals).min().unwrap_or(0) < herd;
    let is_told = !is_small || (apart.abs() >= SMALL_STEP.ln() && unit.is_some());
    let animals = (here.animals as f64 * apart.exp()).round_ties_even() as i64;
    let step = Step { at: here.at, ratio: apart.exp(), unit, animals };
    (is_step && is_told).then_some((apart.abs(), step))
}
