//! A second, independent look at the programme: groups of farms by start month, each compared
//! with farms that have not started yet.

use std::collections::BTreeMap;
use std::ops::Range;

use crate::panel::{NEVER, Panel};
use crate::parallel::map_chunks;
use crate::stats::LogEstimate;

/// Who serves as comparison.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Control {
    /// Farms that have not started by the later of both months: the house choice.
    NotYetStarted,
    /// Farms that never start in the data.
    NeverStarted,
}

/// Effect on one start group in one month.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroupTimeEffect {
    /// Start month of the group.
    pub start: u32,
    /// Month compared.
    pub month: u32,
    /// Change of the logarithm of output since the base month, less that of the controls.
    pub effect: f64,
    /// Standard error from the influence function.
    pub standard_error: f64,
    /// Farms of the group observed in both months.
    pub farms: usize,
    /// Controls observed in both months.
    pub controls: usize,
}

/// All group-time effects of a panel, ready to be averaged.
#[derive(Debug, Clone)]
pub struct GroupTimes<'a> {
    panel: Panel<'a>,
    control: Control,
    /// Effects by start month, then month.
    pub effects: Vec<GroupTimeEffect>,
    cells: Vec<Cell>,
    /// Farms of each start month, counted over the whole panel.
    group_farms: BTreeMap<i64, f64>,
}

/// What an average of group-time effects needs to know beside the effect.
#[derive(Debug, Clone, Copy)]
struct Cell {
    start: i64,
    month: i64,
    effect: f64,
    treated: Moments,
    controls: Moments,
}

impl Cell {
    fn event(&self) -> i64 {
        self.month - self.start
    }
}

/// Count, mean and sum of squares about the mean.
#[derive(Debug, Clone, Copy, Default)]
struct Moments {
    count: f64,
    mean: f64,
    square: f64,
}

impl Moments {
    /// Chan, Golub & LeVeque 1983, Am. Stat. 37:242.
    fn merge(self, other: Self) -> Self {
        let count = self.count + other.count;
        if count <= 0.0 {
            return self;
        }
        let step = other.mean - self.mean;
        let mean = self.mean + step * other.count / count;
        let square = self.square + other.square + step * step * self.count * other.count / count;
        Self { count, mean, square }
    }

    /// Undoes a merge: what is left of `self` without `part`.
    fn without(self, part: Self) -> Self {
        let count = self.count - part.count;
        if count <= 0.0 {
            return Self::default();
        }
        let mean = self.mean + (self.mean - part.mean) * part.count / count;
        let step = part.mean - mean;
        let between = step * step * count * part.count / self.count;
        Self { count, mean, square: (self.square - part.square - between).max(0.0) }
    }
}

/// Moments in the making: sums about the first value, so that nothing cancels.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    count: f64,
    origin: f64,
    sum: f64,
    square: f64,
}

impl Sums {
    fn add(&mut self, x: f64) {
        if self.count <= 0.0 {
            self.origin = x;
        }
        let x = x - self.origin;
        self.count += 1.0;
        self.sum += x;
        self.square += x * x;
    }

    fn moments(&self) -> Moments {
        if self.count <= 0.0 {
            return Moments::default();
        }
        let mean = self.sum / self.count;
        let square = (self.square - self.sum * mean).max(0.0);
        Moments { count: self.count, mean: self.origin + mean, square }
    }
}

/// Compares each start group with its controls, month by month, without covariates.
///
/// From the start on, the base month is the one before the start; before it, the month before
/// the one compared. Start groups are those within months `1..months`; farms that started before
/// the data (month 0) are in no group and no control set and change nothing.
///
/// # Units
/// Natural logarithms of output per animal.
///
/// # Shape
/// One effect for each start group and month with at least one treated and one control farm
/// observed in both months. May be empty. Cost grows with farms times months squared.
///
/// # Source
/// Callaway & Sant'Anna 2021, J. Econometrics 225:200, equations 2.4-2.6 without covariates,
/// varying base period.
pub fn group_times<'a>(panel: &Panel<'a>, control: Control) -> GroupTimes<'a> {
    let months = panel.months();
    let parts = map_chunks(panel.farms(), |farms| {
        let mut sums = PairSums::new(months);
        let mut outputs = Vec::with_capacity(months);
        for farm in farms {
            panel.outputs(farm, &mut outputs);
            sums.add_farm(panel, farm, &outputs, control);
        }
        sums.moments()
    });
    let sums = parts.into_iter().fold(PairSums::new(months), PairSums::merge);
    let mut group_farms = BTreeMap::new();
    for farm in (0..panel.farms()).filter(|farm| !panel.is_held(*farm)) {
        *group_farms.entry(panel.start(farm)).or_insert(0.0) += 1.0;
    }
    let mut cells = Vec::new();
    for start in sums.treated.keys() {
        cells.extend((1..months as i64).filter_map(|t| sums.cell(*start, t, control)));
    }
    let variance = |m: &Moments| m.square / (m.count * m.count);
    let effect = |c: &Cell| GroupTimeEffect {
        start: u32::try_from(c.start).unwrap_or(u32::MAX),
        month: u32::try_from(c.month).unwrap_or(u32::MAX),
        effect: c.effect,
        standard_error: (variance(&c.treated) + variance(&c.controls)).sqrt(),
        farms: c.treated.count as usize,
        controls: c.controls.count as usize,
    };
    let effects = cells.iter().map(effect).collect();
    GroupTimes { panel: *panel, control, effects, cells, group_farms }
}

/// Changes between pairs of months, over treated farms by group and over possible controls.
struct PairSums<M> {
    months: usize,
    /// By start month, then month.
    treated: BTreeMap<i64, Vec<M>>,
    /// By month, then base month: farms not started by then.
    controls: Vec<M>,
}

impl<M: Clone + Default> PairSums<M> {
    fn new(months: usize) -> Self {
        let controls = vec![M::default(); months * months];
        Self { months, treated: BTreeMap::new(), controls }
    }
}

impl PairSums<Sums> {
    fn moments(self) -> PairSums<Moments> {
        let all = |sums: Vec<Sums>| sums.iter().map(Sums::moments).collect::<Vec<_>>();
        let treated = self.treated.into_iter().map(|(start, sums)| (start, all(sums)));
        PairSums { months: self.months, treated: treated.collect(), controls: all(self.controls) }
    }

    /// `outputs` are those of the farm by month; not a number where none is observed.
    fn add_farm(&mut self, panel: &Panel, farm: usize, outputs: &[f64], control: Control) {
        let start = panel.start(farm);
        let is_group = start > 0 && start < self.months as i64;
        if is_group {
            let empty = || vec![Sums::default(); self.months];
            let moments = self.treated.entry(start).or_insert_with(empty);
            for (t, sums) in moments.iter_mut().enumerate().skip(1) {
                let change = outputs[t] - outputs[base_month(start, t as i64)];
                if !change.is_nan() {
                    sums.add(change);
                }
            }
        }
        let last = control_months(panel, farm, control);
        for (t, late) in outputs.iter().enumerate().take(last).skip(1) {
            if late.is_nan() {
                continue;
            }
            let row = &mut self.controls[t * self.months..t * self.months + t];
            for (early, sums) in outputs.iter().zip(row) {
                if !early.is_nan() {
                    sums.add(late - early);
                }
            }
        }
    }
}

impl PairSums<Moments> {
    fn merge(mut self, other: Self) -> Self {
        for (start, moments) in other.treated {
            let empty = || vec![Moments::default(); self.months];
            let held = self.treated.entry(start).or_insert_with(empty);
            held.iter_mut().zip(moments).for_each(|(a, b)| *a = a.merge(b));
        }
        self.controls.iter_mut().zip(other.controls).for_each(|(a, b)| *a = a.merge(b));
        self
    }

    fn cell(&self, start: i64, month: i64, control: Control) -> Option<Cell> {
        let t = month as usize;
        let treated = self.treated.get(&start)?[t];
        let all = self.controls[t * self.months + base_month(start, month)];
        // Before its start the group itself has not started yet, but is not its own control.
        let is_own_control = control == Control::NotYetStarted && month < start;
        let controls = if is_own_control { all.without(treated) } else { all };
        let is_comparable = treated.count >= 1.0 && controls.count >= 1.0;
        let effect = treated.mean - controls.mean;
        is_comparable.then_some(Cell { start, month, effect, treated, controls })
    }
}

/// Month the change is counted from; `month` is at least 1.
fn base_month(start: i64, month: i64) -> usize {
    (if month >= start { start - 1 } else { month - 1 }) as usize
}

/// A farm is a possible control in months `0..this`.
fn control_months(panel: &Panel, farm: usize, control: Control) -> usize {
    match control {
        Control::NotYetStarted => panel.months_before_start(farm),
        Control::NeverStarted if panel.start(farm) >= NEVER => panel.months(),
        Control::NeverStarted => 0,
    }
}

/// Average at each number of months since the start, and over those from `event_min` on.
#[derive(Debug, Clone, PartialEq)]
pub struct EventAverages {
    /// Months since start (negative before it) and the average over groups.
    pub by_event: Vec<(i64, LogEstimate)>,
    /// Plain mean over months since start from `event_min` on.
    pub overall: Option<LogEstimate>,
}

/// Average of each start group, and over groups.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupAverages {
    /// Start month and the group's plain mean over its months from `event_min` on.
    pub by_group: Vec<(u32, LogEstimate)>,
    /// Mean over groups by their farms.
    pub overall: Option<LogEstimate>,
}

/// An average as weights on cells, and how it moves with the share of each start group.
#[derive(Clone)]
struct Average {
    value: f64,
    /// Weight of each cell, in the order of `cells`.
    weights: Vec<f64>,
    /// Influence of one farm of the group through the weights, by start month.
    through_share: BTreeMap<i64, f64>,
}

impl GroupTimes<'_> {
    /// Average of all cells at least `event_min` months after the start, by farms of the group.
    ///
    /// # Units
    /// Natural logarithms; months since start.
    ///
    /// # Shape
    /// None without such a cell.
    ///
    /// # Source
    /// Callaway & Sant'Anna 2021, "simple" aggregation, section 3; error with the term for
    /// estimated weights.
    pub fn simple(&self, event_min: i64) -> Option<LogEstimate> {
        let average = self.by_share(&|c: &Cell| c.event() >= event_min)?;
        self.estimates(&[average]).first().copied().flatten()
    }

    /// Averages by months since start; see [`EventAverages`].
    ///
    /// # Source
    /// Callaway & Sant'Anna 2021, equation 3.4 and its mean ("dynamic").
    pub fn dynamic(&self, event_min: i64) -> EventAverages {
        let mut events: Vec<i64> = self.cells.iter().map(Cell::event).collect();
        events.sort_unstable();
        events.dedup();
        let at = |e: &i64| self.by_share(&|c: &Cell| c.event() == *e);
        let averages: Vec<Average> = events.iter().filter_map(at).collect();
        let post = events.iter().zip(&averages).filter(|(e, _)| **e >= event_min);
        let post: Vec<(f64, &Average)> = post.map(|(_, a)| (1.0, a)).collect();
        let overall = self.mean_of(&post).and_then(|a| self.estimates(&[a])[0]);
        let estimates = self.estimates(&averages);
        let by_event = events.into_iter().zip(estimates);
        let by_event = by_event.filter_map(|(e, estimate)| Some((e, estimate?))).collect();
        EventAverages { by_event, overall }
    }

    /// Averages by start group; see [`GroupAverages`].
    ///
    /// # Source
    /// Callaway & Sant'Anna 2021, equation 3.7 and its mean by group size ("group").
    pub fn by_group(&self, event_min: i64) -> GroupAverages {
        let mut groups = Vec::new();
        for (start, farms) in &self.group_farms {
            let is_in = |c: &Cell| c.start == *start && c.event() >= event_min;
            // Inside a group all cells have the same share: shares do not matter.
            if let Some(average) = self.by_share(&is_in) {
                groups.push((*start, *farms, average));
            }
        }
        let sized: Vec<(f64, &Average)> = groups.iter().map(|(_, n, a)| (*n, a)).collect();
        let overall = self.mean_of(&sized).map(|mut mean| {
            let total: f64 = sized.iter().map(|(n, _)| n).sum();
            for (start, _, average) in &groups {
                let pull = (average.value - mean.value) / total;
                *mean.through_share.entry(*start).or_insert(0.0) += pull;
            }
            mean
        });
        let overall = overall.and_then(|a| self.estimates(&[a])[0]);
        let averages: Vec<Average> = groups.iter().map(|(_, _, a)| a.clone()).collect();
        let estimates = self.estimates(&averages).into_iter();
        let starts = groups.iter().map(|(start, _, _)| u32::try_from(*start).unwrap_or(u32::MAX));
        let by_group = starts.zip(estimates).filter_map(|(g, e)| Some((g, e?))).collect();
        GroupAverages { by_group, overall }
    }

    /// Average of the chosen cells by farms of their group.
    fn by_share(&self, is_in: &dyn Fn(&Cell) -> bool) -> Option<Average> {
        let share = |c: &Cell| self.group_farms.get(&c.start).copied().unwrap_or(0.0);
        let weigh = |c: &Cell| if is_in(c) { share(c) } else { 0.0 };
        let mut weights: Vec<f64> = self.cells.iter().map(weigh).collect();
        let total: f64 = weights.iter().sum();
        if total <= 0.0 {
            return None;
        }
        weights.iter_mut().for_each(|w| *w /= total);
        let value: f64 = weights.iter().zip(&self.cells).map(|(w, c)| w * c.effect).sum();
        let mut through_share = BTreeMap::new();
        for cell in self.cells.iter().filter(|c| is_in(c)) {
            *through_share.entry(cell.start).or_insert(0.0) += (cell.effect - value) / total;
        }
        Some(Average { value, weights, through_share })
    }

    /// Weighted mean of averages with fixed weights.
    fn mean_of(&self, parts: &[(f64, &Average)]) -> Option<Average> {
        let total: f64 = parts.iter().map(|(n, _)| n).sum();
        if total <= 0.0 {
            return None;
        }
        let mut mean = Average {
            value: 0.0,
            weights: vec![0.0; self.cells.len()],
            through_share: BTreeMap::new(),
        };
        for (n, part) in parts {
            let share = n / total;
            mean.value += share * part.value;
            mean.weights.iter_mut().zip(&part.weights).for_each(|(m, w)| *m += share * w);
            for (start, pull) in &part.through_share {
                *mean.through_share.entry(*start).or_insert(0.0) += share * pull;
            }
        }
        Some(mean)
    }

    /// Values with errors: root of the sum over farms of squared influences.
    fn estimates(&self, averages: &[Average]) -> Vec<Option<LogEstimate>> {
        let pulls: Vec<Pulls> = averages.iter().map(|a| Pulls::new(self, a)).collect();
        let parts = map_chunks(self.panel.farms(), |farms| self.squares(farms, &pulls));
        let mut squares = vec![0.0; averages.len()];
        for part in parts {
            squares.iter_mut().zip(part).for_each(|(a, b)| *a += b);
        }
        let estimate = |(a, square): (&Average, f64)| {
            let estimate = LogEstimate::normal(a.value, square.sqrt());
            estimate.is_finite().then_some(estimate)
        };
        averages.iter().zip(squares).map(estimate).collect()
    }

    fn squares(&self, farms: Range<usize>, pulls: &[Pulls]) -> Vec<f64> {
        let mut squares = vec![0.0; pulls.len()];
        let mut outputs = Vec::with_capacity(self.panel.months());
        for farm in farms.filter(|farm| !self.panel.is_held(*farm)) {
            let start = self.panel.start(farm);
            let last = control_months(&self.panel, farm, self.control);
            self.panel.outputs(farm, &mut outputs);
            for (square, pull) in squares.iter_mut().zip(pulls) {
                let influence = pull.influence(start, last, &outputs);
                *square += influence * influence;
            }
        }
        squares
    }
}

/// One term of a farm's influence: `scale * (change - mean)` between two months.
#[derive(Debug, Clone, Copy)]
struct Term {
    base: usize,
    month: usize,
    scale: f64,
    mean: f64,
}

impl Term {
    fn influence(&self, outputs: &[f64]) -> f64 {
        let change = outputs[self.month] - outputs[self.base];
        if change.is_nan() { 0.0 } else { self.scale * (change - self.mean) }
    }
}

/// The terms of a start group beside those that it shares with others.
#[derive(Default)]
struct GroupTerms {
    treated: Vec<Term>,
    /// Terms before the start of the group, which is not its own control: taken back.
    own: Vec<Term>,
    through_share: f64,
}

/// The terms of an average, gathered by what a farm can be in them.
struct Pulls {
    /// By start month.
    groups: Vec<GroupTerms>,
    /// Terms of groups other than the farm's own, months ascending.
    control: Vec<Term>,
}

impl Pulls {
    fn new(times: &GroupTimes, average: &Average) -> Self {
        let months = times.panel.months();
        let mut groups: Vec<GroupTerms> = (0..months).map(|_| GroupTerms::default()).collect();
        // Cells that share both months share their controls up to the group itself: one term.
        let mut control: BTreeMap<(usize, usize), (f64, f64)> = BTreeMap::new();
        for (cell, weight) in times.cells.iter().zip(&average.weights) {
            if *weight <= 0.0 {
                continue;
            }
            let (base, month) = (base_month(cell.start, cell.month), cell.month as usize);
            let term = |m: &Moments, sign: f64| {
                let scale = sign * weight / m.count;
                Term { base, month, scale, mean: m.mean }
            };
            let as_treated = term(&cell.treated, 1.0);
            let as_control = term(&cell.controls, -1.0);
            let group = &mut groups[cell.start as usize];
            group.treated.push(as_treated);
            if cell.month < cell.start && times.control == Control::NotYetStarted {
                group.own.push(as_control);
            }
            let shared = control.entry((month, base)).or_insert((0.0, 0.0));
            shared.0 += as_control.scale;
            shared.1 += as_control.scale * as_control.mean;
        }
        for (start, share) in &average.through_share {
            groups[*start as usize].through_share = *share;
        }
        let control = control.into_iter().map(|((month, base), (scale, weighted))| Term {
            base,
            month,
            scale,
            mean: weighted / scale,
        });
        Self { groups, control: control.collect() }
    }

    /// What a farm puts in: as one of its start group, and as a control in the months before `last`.
    fn influence(&self, start: i64, last: usize, outputs: &[f64]) -> f64 {
        let sum = |terms: &[Term]| terms.iter().map(|term| term.influence(outputs)).sum::<f64>();
        let terms = self.control.partition_point(|term| term.month < last);
        let control = sum(&self.control[..terms]);
        match usize::try_from(start).ok().and_then(|start| self.groups.get(start)) {
            Some(group) => sum(&group.treated) + (control - sum(&group.own)) + group.through_share,
            None => control,
        }
    }
}
