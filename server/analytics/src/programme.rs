//! Did output change over the whole programme? The average over members that can be estimated.

use std::collections::BTreeMap;

use crate::area_shock::AreaShock;
use crate::core::Core;
use crate::errors::Entry;
use crate::member_effect::MemberEffects;
use crate::panel::{Cell, MonthFit, Panel};
use crate::parallel::map_chunks;
use crate::stats::{LogEstimate, satterthwaite, student_t_critical_95};

/// How treated cells are averaged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Averaging {
    /// Each farm counts the same; its months count by their weights.
    FarmEqual,
    /// Each cell counts by its weight.
    CellWeighted,
}

/// Which treated cells share a mean when the error of the average is judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reference {
    /// Cells the same number of months after their start: the house choice.
    Horizon,
    /// Cells of the same start month and the same number of months after it. Only to reproduce
    /// published output: it understates the error with one to three farms a start month.
    CohortHorizon,
    /// All treated cells.
    All,
}

/// Average effect over treated cells.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProgrammeEffect {
    /// Average change of the logarithm of output, error and 95 % interval.
    pub estimate: LogEstimate,
    /// Farms in the average.
    pub farms: usize,
    /// Farm-months in the average.
    pub cells: usize,
}

/// The average effect over members with everything its error holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Programme {
    /// Average change of the logarithm of output, error and 95 % interval.
    pub estimate: LogEstimate,
    /// Farms in the average.
    pub farms: usize,
    /// Farm-months in the average.
    pub cells: usize,
    /// Degrees of freedom of the interval (Satterthwaite 1946).
    pub degrees_of_freedom: f64,
    /// Variance through what farms of one area share.
    pub area_variance: f64,
    /// Its share of the whole variance.
    pub area_share: f64,
}

impl Programme {
    /// Whether start and area go together, so that one cannot be told from the other.
    pub fn is_start_by_area(&self) -> bool {
        self.area_share > 0.5
    }
}

/// Average effect of the programme over estimated members, the headline number.
///
/// # Units
/// Natural logarithms; [`LogEstimate::percent`] for people.
///
/// # Shape
/// None without an estimated member among the cells.
pub(crate) fn programme(
    core: &Core,
    post_cells: &[bool],
    areas: &[usize],
    shock: &AreaShock,
) -> Option<Programme> {
    let average = Average {
        panel: &core.panel,
        fit: &core.fit,
        treated: post_cells,
        averaging: Averaging::FarmEqual,
        reference: Reference::Horizon,
    };
    average.with_areas(areas, shock)
}

/// The same over the farms of one area.
///
/// # Shape
/// `cells` marks the area's cells after the start, as [`MemberEffects::post_cells`].
pub fn area_programme(
    panel: &Panel,
    effects: &MemberEffects,
    cells: &[bool],
    areas: &[usize],
) -> Option<Programme> {
    let average = Average {
        panel: &effects.view(panel),
        fit: &effects.fit,
        treated: cells,
        averaging: Averaging::FarmEqual,
        reference: Reference::Horizon,
    };
    average.with_areas(areas, &effects.area_shock)
}

/// Average of treated outputs less what their farm and month alone would have given.
///
/// The error is `sqrt(sum over farms of (sum of v e)^2)`: `v` are the weights that the average
/// implicitly puts on every cell, `e` the residuals; a treated cell's residual is taken from the
/// mean of cells like it ([`Reference`]). Interval: estimate ± 1.96 errors.
///
/// # Units
/// Natural logarithms.
///
/// # Shape
/// `treated` holds one mark a cell, `farm * months + month`; marked cells that are not observed,
/// not connected or of farms without untreated cells are left out. None when nothing is left.
///
/// # Source
/// Borusyak, Jaravel & Spiess 2024, Rev. Econ. Stud. 91, theorem 3 and equation for the
/// conservative clustered error.
pub fn imputation_effect(
    panel: &Panel,
    fit: &MonthFit,
    treated: &[bool],
    averaging: Averaging,
    reference: Reference,
) -> Option<ProgrammeEffect> {
    let average = Average { panel, fit, treated, averaging, reference };
    let (sums, implied) = average.sums()?;
    let parts = map_chunks(panel.farms(), |farms| {
        let mut squares = Vec::with_capacity(farms.len());
        let square = |f: &mut Influence| squares.push(f.influence * f.influence);
        average.influences(farms, &sums, &implied, square);
        squares
    });
    let square: f64 = parts.into_iter().flatten().sum();
    let estimate = LogEstimate::normal(sums.effect / sums.scale, square.sqrt() / sums.scale);
    let (farms, cells) = (sums.farms, sums.cells);
    estimate.is_finite().then_some(ProgrammeEffect { estimate, farms, cells })
}

/// Weights that the average over marked cells puts on every cell of every farm, the farms counting
/// alike.
///
/// # Shape
/// As [`imputation_effect`]; rows of farms without a part are left out.
pub(crate) fn imputation_weights(
    panel: &Panel,
    fit: &MonthFit,
    treated: &[bool],
) -> Option<Vec<(usize, Vec<Entry>)>> {
    let (averaging, reference) = (Averaging::FarmEqual, Reference::Horizon);
    let average = Average { panel, fit, treated, averaging, reference };
    let (sums, implied) = average.sums()?;
    let parts = map_chunks(panel.farms(), |farms| {
        let mut rows = Vec::with_capacity(farms.len());
        average.influences(farms, &sums, &implied, |farm| {
            farm.entries.iter_mut().for_each(|e| e.weight /= sums.scale);
            rows.push((farm.farm, farm.entries.clone()));
        });
        rows
    });
    Some(parts.into_iter().flatten().collect())
}

/// Whether the two programme estimates differ by more than twice the larger error: then the
/// answer carries a warning, because one of their assumptions does not hold.
///
/// # Units
/// Both on the logarithmic scale.
///
/// # Source
/// SPEC A4.
pub fn programmes_disagree(one: &LogEstimate, other: &LogEstimate) -> bool {
    let error = one.standard_error.max(other.standard_error);
    (one.value - other.value).abs() > 2.0 * error
}

/// Which treated cells share a mean: start month and months after it, 0 where all count alike.
type GroupKey = (i64, i64);

struct Sums {
    effect: f64,
    /// What unscaled weights add up to: farms or total weight.
    scale: f64,
    farms: usize,
    cells: usize,
    contrast: Vec<f64>,
    groups: BTreeMap<GroupKey, (f64, f64)>,
}

impl Sums {
    fn new(size: usize) -> Self {
        let (contrast, groups) = (vec![0.0; size], BTreeMap::new());
        Self { effect: 0.0, scale: 0.0, farms: 0, cells: 0, contrast, groups }
    }

    fn merge(&mut self, other: Self) {
        self.effect += other.effect;
        self.scale += other.scale;
        self.farms += other.farms;
        self.cells += other.cells;
        self.contrast.iter_mut().zip(&other.contrast).for_each(|(a, b)| *a += b);
        for (key, (num, den)) in other.groups {
            let group = self.groups.entry(key).or_insert((0.0, 0.0));
            group.0 += num;
            group.1 += den;
        }
    }
}

struct Average<'a> {
    panel: &'a Panel<'a>,
    fit: &'a MonthFit,
    treated: &'a [bool],
    averaging: Averaging,
    reference: Reference,
}

/// One farm's cells: untreated ones fix its level, treated ones are averaged.
#[derive(Default)]
struct FarmCells {
    untreated: Vec<Cell>,
    /// Treated cells with their unscaled weight in the average and their effect.
    treated: Vec<(Cell, f64, f64)>,
    level: f64,
    untreated_weight: f64,
}

impl Average<'_> {
    fn key(&self, farm: usize, month: usize) -> GroupKey {
        let start = self.panel.start(farm);
        let horizon = month as i64 - start;
        match self.reference {
            Reference::All => (0, 0),
            Reference::Horizon => (0, horizon),
            Reference::CohortHorizon => (start, horizon),
        }
    }

    /// False when the farm has no part in the average or in the fit.
    fn load(&self, farm: usize, cells: &mut FarmCells) -> bool {
        let (panel, fit) = (self.panel, self.fit);
        fit.untreated(panel, farm, &mut cells.untreated);
        cells.treated.clear();
        if cells.untreated.is_empty() {
            return false;
        }
        (cells.level, cells.untreated_weight) = fit.farm_level(panel, farm, &cells.untreated);
        let marks = &self.treated[farm * panel.months()..(farm + 1) * panel.months()];
        let mut total = 0.0;
        for t in (0..panel.months()).filter(|t| marks[*t] && fit.is_connected[*t]) {
            if let Some(c) = fit.cell(panel, farm, t) {
                let effect = c.y - cells.level - fit.fitted(panel, farm, t);
                total += c.weight;
                cells.treated.push((c, c.weight, effect));
            }
        }
        if self.averaging == Averaging::FarmEqual {
            cells.treated.iter_mut().for_each(|(_, weight, _)| *weight /= total);
        }
        true
    }

    fn sums_of(&self, farms: std::ops::Range<usize>) -> Sums {
        let months = self.panel.months();
        let mut sums = Sums::new(self.fit.inverse.nrows());
        let mut cells = FarmCells::default();
        for farm in farms {
            if !self.load(farm, &mut cells) || cells.treated.is_empty() {
                continue;
            }
            sums.farms += 1;
            sums.cells += cells.treated.len();
            let own: f64 = cells.treated.iter().map(|(_, w, _)| w).sum();
            sums.scale += own;
            for (c, weight, effect) in &cells.treated {
                sums.effect += weight * effect;
                let squared = match self.averaging {
                    Averaging::FarmEqual => *weight,
                    Averaging::CellWeighted => weight * weight,
                };
                let group = sums.groups.entry(self.key(farm, c.month)).or_insert((0.0, 0.0));
                group.0 += squared * effect;
                group.1 += squared;
                self.add_design(&mut sums.contrast, farm, c.month, *weight, months);
            }
            for c in &cells.untreated {
                let share = -own * c.weight / cells.untreated_weight;
                self.add_design(&mut sums.contrast, farm, c.month, share, months);
            }
        }
        sums
    }

    fn add_design(&self, to: &mut [f64], farm: usize, month: usize, weight: f64, months: usize) {
        to[month] += weight;
        let x = self.panel.covariates(farm, month);
        to[months..].iter_mut().zip(x).for_each(|(c, x)| *c += weight * x);
    }

    /// Sums over all farms and the implied weights of months and covariates.
    fn sums(&self) -> Option<(Sums, Vec<f64>)> {
        if self.treated.len() != self.panel.farms() * self.panel.months() {
            return None;
        }
        let mut sums = Sums::new(self.fit.inverse.nrows());
        for part in map_chunks(self.panel.farms(), |farms| self.sums_of(farms)) {
            sums.merge(part);
        }
        if sums.scale <= 0.0 {
            return None;
        }
        let contrast = std::mem::take(&mut sums.contrast);
        let implied = &self.fit.inverse * nalgebra::DVector::from_vec(contrast);
        Some((sums, implied.as_slice().to_vec()))
    }

    /// What each farm's residuals put into the average, and the weights of its cells; unscaled.
    fn influences(
        &self,
        farms: std::ops::Range<usize>,
        sums: &Sums,
        implied: &[f64],
        mut take: impl FnMut(&mut Influence),
    ) {
        let (panel, fit) = (self.panel, self.fit);
        let mut cells = FarmCells::default();
        let mut made = Influence { farm: 0, influence: 0.0, entries: Vec::new() };
        for farm in farms {
            if !self.load(farm, &mut cells) {
                continue;
            }
            let Influence { influence, entries, .. } = &mut made;
            *influence = 0.0;
            entries.clear();
            let shift = |t: usize| fit.implied(panel, implied, farm, t);
            let share = |c: &Cell| c.weight / cells.untreated_weight;
            let mean: f64 = cells.untreated.iter().map(|c| share(c) * shift(c.month)).sum();
            let own: f64 = cells.treated.iter().map(|(_, weight, _)| weight).sum();
            for c in &cells.untreated {
                let residual = c.y - cells.level - fit.fitted(panel, farm, c.month);
                let weight = -c.weight * (shift(c.month) - mean) - own * share(c);
                *influence += weight * residual;
                entries.push(Entry { month: c.month, weight, inverse: 0.0 });
            }
            for (c, weight, effect) in &cells.treated {
                let key = self.key(farm, c.month);
                let mean = sums.groups.get(&key).map_or(0.0, |(top, bottom)| top / bottom);
                *influence += weight * (effect - mean);
                entries.push(Entry { month: c.month, weight: *weight, inverse: 0.0 });
            }
            made.farm = farm;
            take(&mut made);
        }
    }

    /// The average with the error that shocks of areas give it.
    fn with_areas(&self, areas: &[usize], shock: &AreaShock) -> Option<Programme> {
        let (sums, implied) = self.sums()?;
        let area = |farm: usize| areas.get(farm).copied().unwrap_or(0);
        let mut total = AreaSums::default();
        for part in map_chunks(self.panel.farms(), |farms| {
            let mut part = AreaSums::default();
            self.influences(farms, &sums, &implied, |farm| {
                farm.influence /= sums.scale;
                farm.entries.iter_mut().for_each(|e| e.weight /= sums.scale);
                part.add(farm, area(farm.farm), shock);
            });
            part
        }) {
            total.merge(part);
        }
        let (square, fourth) = (total.square, total.fourth);
        let area_variance = total.shared(shock);
        let own_df = if fourth > 0.0 { 3.0 * square * square / fourth - 2.0 } else { 2.0 };
        let own_df = own_df.max(2.0);
        let variance = square + area_variance;
        let parts = [(square, own_df), (area_variance, shock.degrees_of_freedom)];
        let degrees_of_freedom = satterthwaite(&parts).map_or(own_df, |df| df.min(1000.0));
        let critical = student_t_critical_95(degrees_of_freedom);
        let value = sums.effect / sums.scale;
        let estimate = LogEstimate::with_critical(value, variance.sqrt(), critical);
        estimate.is_finite().then_some(Programme {
            estimate,
            farms: sums.farms,
            cells: sums.cells,
            degrees_of_freedom,
            area_variance,
            area_share: if variance > 0.0 { area_variance / variance } else { 0.0 },
        })
    }
}

/// One farm's part in an average.
struct Influence {
    farm: usize,
    influence: f64,
    entries: Vec<Entry>,
}

/// Influences added up, and the weights that each area has in each month.
#[derive(Default)]
struct AreaSums {
    square: f64,
    fourth: f64,
    /// Variance that shocks would give if every farm had its own.
    own_shocks: f64,
    /// Weights by area and month.
    weights: BTreeMap<(usize, usize), f64>,
}

impl AreaSums {
    fn add(&mut self, farm: &Influence, area: usize, shock: &AreaShock) {
        self.square += farm.influence.powi(2);
        self.fourth += farm.influence.powi(4);
        if shock.variance > 0.0 {
            self.own_shocks += shock.variance(&farm.entries);
            for e in &farm.entries {
                *self.weights.entry((area, e.month)).or_insert(0.0) += e.weight;
            }
        }
    }

    fn merge(&mut self, other: Self) {
        self.square += other.square;
        self.fourth += other.fourth;
        self.own_shocks += other.own_shocks;
        for (key, weight) in other.weights {
            *self.weights.entry(key).or_insert(0.0) += weight;
        }
    }

    /// Variance that farms share because shocks hit a whole area.
    fn shared(&self, shock: &AreaShock) -> f64 {
        let mut rows: BTreeMap<usize, Vec<Entry>> = BTreeMap::new();
        for ((area, month), weight) in &self.weights {
            let entry = Entry { month: *month, weight: *weight, inverse: 0.0 };
            rows.entry(*area).or_default().push(entry);
        }
        let all: f64 = rows.values().map(|row| shock.variance(row)).sum();
        (all - self.own_shocks).max(0.0)
    }
}
