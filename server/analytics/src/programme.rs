//! Did output change over the whole programme? The average over members that can be estimated.

use std::collections::BTreeMap;

use crate::member_effect::MemberEffects;
use crate::panel::{Cell, MonthFit, Panel};
use crate::parallel::map_chunks;
use crate::stats::LogEstimate;

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

/// Average effect of the programme over estimated members, the headline number.
///
/// # Units
/// Natural logarithms; [`LogEstimate::percent`] for people.
///
/// # Shape
/// None without an estimated member.
///
/// # Source
/// SPEC A4; [`imputation_effect`] with equal farms and cells grouped by months since start.
pub fn programme_effect(panel: &Panel, effects: &MemberEffects) -> Option<ProgrammeEffect> {
    let cells = &effects.post_cells;
    imputation_effect(panel, &effects.fit, cells, Averaging::FarmEqual, Reference::Horizon)
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
    if treated.len() != panel.farms() * panel.months() {
        return None;
    }
    let work = Work { panel, fit, treated, averaging, reference };
    let mut sums = Sums::new(fit.inverse.nrows());
    for part in map_chunks(panel.farms(), |farms| work.sums(farms)) {
        sums.merge(part);
    }
    if sums.scale <= 0.0 {
        return None;
    }
    let means: BTreeMap<GroupKey, f64> =
        sums.groups.iter().map(|(key, (num, den))| (*key, num / den)).collect();
    let kappa = &fit.inverse * nalgebra::DVector::from_vec(sums.contrast);
    let parts = map_chunks(panel.farms(), |farms| work.square(farms, kappa.as_slice(), &means));
    let square: f64 = parts.into_iter().sum();
    let estimate = LogEstimate::normal(sums.effect / sums.scale, square.sqrt() / sums.scale);
    estimate.is_finite().then_some(ProgrammeEffect {
        estimate,
        farms: sums.farms,
        cells: sums.cells,
    })
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

struct Work<'a> {
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

impl Work<'_> {
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

    fn sums(&self, farms: std::ops::Range<usize>) -> Sums {
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

    /// Sum over farms of the squared influence, unscaled.
    fn square(
        &self,
        farms: std::ops::Range<usize>,
        kappa: &[f64],
        means: &BTreeMap<GroupKey, f64>,
    ) -> f64 {
        let (panel, fit, months) = (self.panel, self.fit, self.panel.months());
        let shift = |farm: usize, t: usize| {
            let x = panel.covariates(farm, t).iter().zip(&kappa[months..]);
            kappa[t] + x.map(|(x, k)| x * k).sum::<f64>()
        };
        let (mut total, mut cells) = (0.0, FarmCells::default());
        for farm in farms {
            if !self.load(farm, &mut cells) {
                continue;
            }
            let mut influence = 0.0;
            for c in &cells.untreated {
                // The implied weight has a part that is the same share of every cell's weight;
                // weighted residuals of a farm sum to 0, so that it is left out here.
                let residual = c.y - cells.level - fit.fitted(panel, farm, c.month);
                influence -= c.weight * shift(farm, c.month) * residual;
            }
            for (c, weight, effect) in &cells.treated {
                let mean = means.get(&self.key(farm, c.month)).copied().unwrap_or(0.0);
                influence += weight * (effect - mean);
            }
            total += influence * influence;
        }
        total
    }
}
