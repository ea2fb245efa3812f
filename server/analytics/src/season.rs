//! How much more or less farms without fodder used in each month.
//!
//! Model: cost per animal-day = farm level x month index, a two-way Poisson fit. Each farm is
//! scaled to its own mean first, so that a large farm says no more than a small one.

use std::ops::Range;

use nalgebra::{Cholesky, DMatrix, DVector};

use crate::linear::inverse_of_part;
use crate::parallel::map_chunks;

/// Most Newton steps: five or six are usual.
const STEPS_MAX: usize = 30;
/// Change of a logarithm at which the fit stands.
const STEP_MIN: f64 = 1e-12;
/// Largest change of a logarithm in one step.
const STEP_MAX: f64 = 0.5;
/// Cells a farm needs to say something about months.
const FARM_CELLS_MIN: usize = 2;

/// The fitted index, and what its errors need.
///
/// # Shape
/// Cells are kept farm by farm, for untreated cells that the fit used only.
#[derive(Debug, Clone, PartialEq)]
pub struct SeasonIndex {
    /// Index of each month, mean 1; none with too few untreated farms.
    pub index: Vec<Option<f64>>,
    /// Place of each farm's first cell, and the number of cells.
    first: Vec<usize>,
    /// Month of each cell.
    month: Vec<u16>,
    /// Cost of each cell, scaled to its farm's mean.
    scaled: Vec<f64>,
    /// Scaled level of each farm.
    level: Vec<f64>,
    /// Generalised inverse of the information of the logarithms; the first month is fixed.
    inverse: DMatrix<f64>,
}

/// One cell that the fit used.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeasonCell {
    pub month: usize,
    /// Cost, scaled to the farm's mean.
    pub scaled: f64,
    /// The same as the model has it.
    pub expected: f64,
}

impl SeasonIndex {
    /// Months that have an index.
    pub fn months_known(&self) -> usize {
        self.index.iter().flatten().count()
    }

    /// Farms that the fit used.
    pub fn farms_used(&self) -> usize {
        self.first.windows(2).filter(|w| w[0] < w[1]).count()
    }

    /// Cells of a farm that the fit used, months ascending.
    pub fn cells(&self, farm: usize) -> impl Iterator<Item = SeasonCell> + '_ {
        let level = self.level.get(farm).copied().unwrap_or(0.0);
        self.range(farm).map(move |c| {
            let month = usize::from(self.month[c]);
            let expected = level * self.index[month].unwrap_or(0.0);
            SeasonCell { month, scaled: self.scaled[c], expected }
        })
    }

    fn range(&self, farm: usize) -> Range<usize> {
        let place = |farm: usize| self.first.get(farm).copied().unwrap_or(self.scaled.len());
        place(farm)..place(farm + 1)
    }

    /// Generalised inverse of the information times a vector of months.
    pub(crate) fn solve(&self, right: &[f64]) -> Vec<f64> {
        (&self.inverse * DVector::from_column_slice(right)).as_slice().to_vec()
    }

    /// Covariance of the logarithms of the index, clustered by farm.
    pub(crate) fn covariance(&self) -> DMatrix<f64> {
        let months = self.index.len();
        let mut meat = DMatrix::zeros(months, months);
        for part in map_chunks(self.level.len(), |farms| self.meat(farms)) {
            meat += part;
        }
        meat.fill_upper_triangle_with_lower_triangle();
        let used = self.farms_used().max(2) as f64;
        &self.inverse * meat * &self.inverse * (used / (used - 1.0))
    }

    fn meat(&self, farms: Range<usize>) -> DMatrix<f64> {
        let months = self.index.len();
        let mut meat = DMatrix::zeros(months, months);
        let mut scores = Vec::with_capacity(months);
        for farm in farms {
            scores.clear();
            scores.extend(self.cells(farm).map(|c| (c.month, c.scaled - c.expected)));
            for (place, (s, x)) in scores.iter().enumerate() {
                let column = &mut meat.as_mut_slice()[s * months..(s + 1) * months];
                scores[place..].iter().for_each(|(t, y)| column[*t] += x * y);
            }
        }
        meat
    }
}

/// Fits the index to untreated cells.
///
/// Farm levels are eliminated exactly; Newton steps on the logarithms of the months. Where
/// farms do not connect all months, only the largest connected set has an index.
///
/// # Units
/// `cost` is money at constant prices for each animal-day; not a number where it is not known.
///
/// # Shape
/// `cost` and `is_untreated` are farms x months, farm by farm; a shorter slice gives fewer
/// farms. A month needs `farms_min` farms, a farm two cells.
///
/// # Source
/// SPEC C2. The Poisson fit with eliminated levels as in Wood 1967, Nature 216, made two-way;
/// covariance clustered by farm.
pub fn season_index(
    cost: &[f64],
    is_untreated: &[bool],
    months: usize,
    farms_min: usize,
) -> SeasonIndex {
    let size = cost.len().min(is_untreated.len());
    let farms = size.checked_div(months).unwrap_or(0);
    let pairs = cost.iter().zip(is_untreated).take(farms * months);
    let mut used: Vec<bool> = pairs.map(|(c, u)| *u && c.is_finite()).collect();
    let kept = choose(&mut used, months, farms_min);
    let mut fit = gather(cost, &used, farms, months);
    if !kept.iter().any(|k| *k) {
        return fit;
    }
    let places: Vec<usize> = (0..months).filter(|t| kept[*t]).collect();
    let rest = places.get(1..).unwrap_or(&[]);
    let mut index: Vec<f64> = kept.iter().map(|k| if *k { 1.0 } else { 0.0 }).collect();
    let mut is_solved = true;
    for _ in 0..STEPS_MAX {
        let sums = sums(&mut fit, &index);
        let Some(step) = newton_step(&sums, rest) else {
            is_solved = false;
            break;
        };
        for (t, s) in rest.iter().zip(step.iter()) {
            index[*t] *= s.clamp(-STEP_MAX, STEP_MAX).exp();
        }
        let mean = index.iter().sum::<f64>() / places.len() as f64;
        index.iter_mut().for_each(|m| *m /= mean);
        if step.iter().all(|s| s.abs() < STEP_MIN) {
            break;
        }
    }
    let sums = sums(&mut fit, &index);
    let inverse = inverse_of_part(&sums.information, rest, &[]);
    match inverse.filter(|_| is_solved && index.iter().all(|m| m.is_finite())) {
        Some((inverse, _)) => {
            fit.inverse = inverse;
            fit.index = (0..months).map(|t| kept[t].then_some(index[t])).collect();
            fit
        }
        None => gather(cost, &vec![false; used.len()], farms, months),
    }
}

/// Leaves out months with too few farms and farms with one cell, until both hold.
fn choose(used: &mut [bool], months: usize, farms_min: usize) -> Vec<bool> {
    loop {
        for _ in 0..months {
            let kept = enough(used, months, farms_min);
            if !trim(used, months, &kept) {
                break;
            }
        }
        let kept = enough(used, months, farms_min);
        let largest = largest_set(used, months, &kept);
        if largest == kept {
            return kept;
        }
        trim(used, months, &largest);
    }
}

fn enough(used: &[bool], months: usize, farms_min: usize) -> Vec<bool> {
    let mut count = vec![0_usize; months];
    for row in used.chunks(months.max(1)) {
        count.iter_mut().zip(row).for_each(|(c, u)| *c += usize::from(*u));
    }
    count.iter().map(|c| *c >= farms_min.max(1)).collect()
}

/// Whether anything was left out.
fn trim(used: &mut [bool], months: usize, kept: &[bool]) -> bool {
    let mut is_changed = false;
    for row in used.chunks_mut(months.max(1)) {
        let inside = row.iter().zip(kept).filter(|(u, k)| **u && **k).count();
        let stays = inside >= FARM_CELLS_MIN;
        for (u, k) in row.iter_mut().zip(kept) {
            is_changed |= *u && !(stays && *k);
            *u &= stays && *k;
        }
    }
    is_changed
}

/// Largest set of months that farms connect; by cells, ties to the earliest month.
fn largest_set(used: &[bool], months: usize, kept: &[bool]) -> Vec<bool> {
    let mut set: Vec<usize> = (0..months).collect();
    let mut cells = vec![0_usize; months];
    for row in used.chunks(months.max(1)) {
        let mut first = None;
        for t in (0..months).filter(|t| row[*t] && kept[*t]) {
            cells[t] += 1;
            let (a, b) = (set[*first.get_or_insert(t)], set[t]);
            if a != b {
                set.iter_mut().filter(|s| **s == b.max(a)).for_each(|s| *s = a.min(b));
            }
        }
    }
    let mut size = vec![0_usize; months];
    (0..months).for_each(|t| size[set[t]] += cells[t]);
    let most = size.iter().copied().max().unwrap_or(0);
    let best = size.iter().position(|s| *s == most);
    (0..months).map(|t| kept[t] && Some(set[t]) == best).collect()
}

/// The used cells farm by farm, without an index yet.
fn gather(cost: &[f64], used: &[bool], farms: usize, months: usize) -> SeasonIndex {
    let mut fit = SeasonIndex {
        index: vec![None; months],
        first: Vec::with_capacity(farms + 1),
        month: Vec::new(),
        scaled: Vec::new(),
        level: vec![0.0; farms],
        inverse: DMatrix::zeros(months, months),
    };
    fit.first.push(0);
    let rows = cost.chunks(months.max(1)).zip(used.chunks(months.max(1)));
    for (row, used) in rows.take(farms) {
        let from = fit.scaled.len();
        let cells = (0_u16..).zip(row.iter().zip(used)).filter(|(_, (_, u))| **u);
        for (month, (c, _)) in cells {
            fit.month.push(month);
            fit.scaled.push(*c);
        }
        let own = &mut fit.scaled[from..];
        let mean = own.iter().sum::<f64>() / own.len().max(1) as f64;
        let scale = if mean > 0.0 { mean } else { 1.0 };
        own.iter_mut().for_each(|z| *z /= scale);
        fit.first.push(fit.scaled.len());
    }
    fit
}

struct Sums {
    levels: Vec<f64>,
    information: DMatrix<f64>,
    right: Vec<f64>,
}

/// Farm levels at an index, the information about its logarithms and the score.
fn sums(fit: &mut SeasonIndex, index: &[f64]) -> Sums {
    let months = index.len();
    let shared = &*fit;
    let parts = map_chunks(fit.level.len(), |farms| farm_sums(shared, index, farms));
    let mut levels = Vec::with_capacity(fit.level.len());
    let mut information = DMatrix::zeros(months, months);
    let mut right = vec![0.0; months];
    for part in parts {
        levels.extend_from_slice(&part.levels);
        information += part.information;
        right.iter_mut().zip(&part.right).for_each(|(a, b)| *a += b);
    }
    // So far: diagonal apart, and pairs without the index of their two months.
    for s in 0..months {
        for t in s..months {
            information[(t, s)] *= -index[t] * index[s];
        }
    }
    let mut expected = vec![0.0; months];
    for (farm, level) in levels.iter().enumerate() {
        shared.range(farm).for_each(|c| expected[usize::from(shared.month[c])] += level);
    }
    for t in 0..months {
        information[(t, t)] += expected[t] * index[t];
    }
    information.fill_upper_triangle_with_lower_triangle();
    fit.level.copy_from_slice(&levels);
    Sums { levels, information, right }
}

fn farm_sums(fit: &SeasonIndex, index: &[f64], farms: Range<usize>) -> Sums {
    let months = index.len();
    let mut part = Sums {
        levels: Vec::with_capacity(farms.len()),
        information: DMatrix::zeros(months, months),
        right: vec![0.0; months],
    };
    for farm in farms {
        let (own, scaled) = (&fit.month[fit.range(farm)], &fit.scaled[fit.range(farm)]);
        let weight: f64 = own.iter().map(|t| index[usize::from(*t)]).sum();
        let level = if weight > 0.0 { scaled.iter().sum::<f64>() / weight } else { 0.0 };
        part.levels.push(level);
        let share = if weight > 0.0 { level / weight } else { 0.0 };
        for (place, t) in own.iter().enumerate() {
            let t = usize::from(*t);
            part.right[t] += scaled[place] - level * index[t];
            let column = &mut part.information.as_mut_slice()[t * months..(t + 1) * months];
            own[place..].iter().for_each(|s| column[usize::from(*s)] += share);
        }
    }
    part
}

/// Change of the logarithms of all months but the first; none when it cannot be told.
fn newton_step(sums: &Sums, rest: &[usize]) -> Option<DVector<f64>> {
    let size = rest.len();
    let part = DMatrix::from_fn(size, size, |a, b| sums.information[(rest[a], rest[b])]);
    let right = DVector::from_fn(size, |a, _| sums.right[rest[a]]);
    let step = Cholesky::new(part)?.solve(&right);
    step.iter().all(|s| s.is_finite()).then_some(step)
}
