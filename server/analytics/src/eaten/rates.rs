//! Usual intervals and rates of a farm's lots, and what stands out against them.

use super::lots::Lot;
use super::{Finding, Rule, Rules, Series};
use crate::stats::median;

/// A lower-quarter interval so much below the median says that purchases are missing.
const MIXTURE: f64 = 1.5;

/// What one side of the start usually does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Usual {
    /// Days between purchases.
    pub interval: f64,
    /// Amount in kg for each animal-day.
    pub rate: f64,
    /// Whether there are lots enough to judge others by.
    pub is_checked: bool,
    /// Whether they are all of this side.
    pub is_own: bool,
    /// Interval and rate for the lot in use.
    pub open: Option<(f64, f64)>,
}

/// Lots with their days, animal-days and rates.
pub(super) struct Timeline {
    /// First days of the lots, and `as_of`.
    pub days: Vec<i32>,
    pub animal_days: Vec<f64>,
    /// Days until the next lot.
    pub intervals: Vec<f64>,
    pub is_after: Vec<bool>,
    /// Whether purchases replace what the days before them used.
    pub tops_up: bool,
    /// The lot that says what the days of lot j used.
    pub source: Vec<usize>,
    pub kg: Vec<f64>,
    pub cost: Vec<f64>,
    /// Not a number without animal-days.
    pub rate: Vec<f64>,
    pub is_held: Vec<bool>,
    pub is_usable: Vec<bool>,
    pub is_gap: Vec<bool>,
    /// Usual before and after the start.
    pub usual: [Option<Usual>; 2],
}

impl Timeline {
    pub(super) fn usual_of(&self, j: usize) -> Option<Usual> {
        self.usual[usize::from(self.is_after[j])]
    }

    pub(super) fn last(&self) -> usize {
        self.kg.len().saturating_sub(1)
    }
}

/// Lays the lots out and finds slips in kg and gaps.
pub(super) fn timeline(
    series: &Series,
    lots: &[Lot],
    zeros: &[i32],
    rules: &Rules,
    findings: &mut Vec<Finding>,
) -> Timeline {
    let count = lots.len();
    let days: Vec<i32> = lots.iter().map(|l| l.day).chain([series.as_of]).collect();
    let until = |day: i32| series.before(day.min(series.as_of));
    let animal_days: Vec<f64> = days.windows(2).map(|d| until(d[1]) - until(d[0])).collect();
    let intervals = days.windows(2).map(|d| f64::from(d[1]) - f64::from(d[0])).collect();
    let tops_up = series.counts.is_empty() && tops_up(lots, &animal_days, rules);
    let last = count.saturating_sub(1);
    let source: Vec<usize> =
        (0..count).map(|j| if tops_up { (j + 1).min(last) } else { j }).collect();
    let kg: Vec<f64> = source.iter().map(|s| lots[*s].kg).collect();
    let rate = kg.iter().zip(&animal_days).map(|(q, a)| if *a > 0.0 { q / a } else { f64::NAN });
    let is_held: Vec<bool> = source.iter().map(|s| lots[*s].is_held).collect();
    let mut line = Timeline {
        is_usable: (0..count).map(|j| j < last && !is_held[j] && animal_days[j] > 0.0).collect(),
        rate: rate.collect(),
        cost: source.iter().map(|s| lots[*s].cost).collect(),
        is_after: lots.iter().map(|l| series.is_after_start(l.day)).collect(),
        is_gap: vec![false; count],
        usual: [None; 2],
        days,
        animal_days,
        intervals,
        tops_up,
        source,
        kg,
        is_held,
    };
    find_slips(&mut line, lots, zeros, rules, findings);
    line
}

/// The steadier reading of the farm's own lots counts.
fn tops_up(lots: &[Lot], animal_days: &[f64], rules: &Rules) -> bool {
    let fine = lots
        .windows(2)
        .zip(animal_days)
        .filter(|(pair, days)| **days > 0.0 && pair.iter().all(|l| !l.is_held));
    let logs: Vec<(f64, f64)> =
        fine.map(|(pair, days)| ((pair[0].kg / days).ln(), (pair[1].kg / days).ln())).collect();
    if logs.len() < rules.order_min {
        return false;
    }
    let change = |of: fn(&(f64, f64)) -> f64| {
        let mut steps: Vec<f64> = logs.windows(2).map(|p| (of(&p[1]) - of(&p[0])).abs()).collect();
        median(&mut steps)
    };
    match (change(|p| p.0), change(|p| p.1)) {
        (Some(after), Some(before)) => before < rules.order * after,
        _ => false,
    }
}

/// Judges every lot twice, the second time without what was found the first time.
fn find_slips(
    line: &mut Timeline,
    lots: &[Lot],
    zeros: &[i32],
    rules: &Rules,
    findings: &mut Vec<Finding>,
) {
    let count = lots.len();
    let mut is_slip = vec![false; count];
    for _ in 0..2 {
        let is_good =
            |j: &usize| line.is_usable[*j] && !line.is_gap[*j] && !is_slip[*j] && !line.is_held[*j];
        let good: Vec<usize> = (0..count).filter(is_good).collect();
        line.usual = [false, true].map(|side| {
            line.is_after.contains(&side).then(|| usual(line, &good, side, rules)).flatten()
        });
        is_slip.fill(false);
        line.is_gap.fill(false);
        for j in 0..line.last() {
            let Some(u) = line.usual_of(j).filter(|u| u.is_checked) else {
                continue;
            };
            if !line.is_usable[j] || lots[line.source[j]].is_sure {
                continue;
            }
            let (rate, is_long) = (line.rate[j], line.intervals[j] > rules.gap * u.interval);
            let is_low = rate < u.rate / rules.high;
            is_slip[j] = rate > rules.high * u.rate || (is_low && !is_long);
            let (from, to) = (line.days[j], line.days[j + 1]);
            let is_confirmed = || zeros.iter().any(|z| from < *z && *z < to);
            line.is_gap[j] = !is_slip[j] && is_long && rate < rules.low * u.rate && !is_confirmed();
        }
    }
    for j in (0..count).filter(|j| is_slip[*j]) {
        let lot = lots[line.source[j]];
        findings.push(Finding { day: lot.day, rule: Rule::Kg, purchase: lot.purchase });
        line.is_held[j] = true;
    }
}

/// The usual interval and rate of one side: its own lots, or all while it has too few.
fn usual(line: &Timeline, good: &[usize], side: bool, rules: &Rules) -> Option<Usual> {
    let own: Vec<usize> = good.iter().copied().filter(|j| line.is_after[*j] == side).collect();
    let is_own = own.len() >= rules.usual_min;
    let some = if is_own { own.as_slice() } else { good };
    let mut intervals: Vec<f64> = some.iter().map(|j| line.intervals[*j]).collect();
    intervals.sort_by(f64::total_cmp);
    let middle = median(&mut intervals.clone())?;
    let low = *intervals.get((intervals.len() - 1) / 4)?;
    // Usual and double intervals mixed: many purchases are missing.
    let interval = if MIXTURE * low < middle { low } else { middle };
    let fits = |j: &usize| line.intervals[*j] <= rules.gap * interval;
    let rate_of = |places: &mut dyn Iterator<Item = usize>| {
        median(&mut places.map(|j| line.rate[j]).collect::<Vec<f64>>())
    };
    let fit: Vec<usize> = own.iter().copied().filter(fits).collect();
    let mut own_intervals: Vec<f64> = fit.iter().map(|j| line.intervals[*j]).collect();
    let open = median(&mut own_intervals).zip(rate_of(&mut fit.iter().copied()));
    Some(Usual {
        interval,
        rate: rate_of(&mut some.iter().copied().filter(fits))?,
        is_checked: some.len() >= rules.usual_min,
        is_own,
        open: open.filter(|_| fit.len() >= rules.open_min),
    })
}
