//! Sums over farms and months, with the error that farms share.

use std::collections::BTreeMap;
use std::ops::Range;

use serde::Serialize;

use super::FeedSavings;
use super::baseline::lasting_square;
use super::index::IndexSource;
use crate::parallel::map_chunks;
use crate::stats::Interval;

/// Half width of a sum's 95 % interval in standard errors.
pub const SUM_CRITICAL: f64 = 1.96;

/// Months of a sum.
#[derive(Debug, Clone, Copy)]
pub enum Months<'a> {
    /// All of the panel.
    All,
    /// These, the same for every farm; months beyond the slice are not chosen.
    Same(&'a [bool]),
    /// These of each farm; farms x months.
    Cells(&'a [bool]),
}

impl Months<'_> {
    pub(super) fn has(&self, farm: usize, t: usize, months: usize) -> bool {
        match self {
            Self::All => true,
            Self::Same(chosen) => chosen.get(t).copied().unwrap_or(false),
            Self::Cells(chosen) => chosen.get(farm * months + t).copied().unwrap_or(false),
        }
    }
}

/// A sum over farms and months.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Total {
    /// Feed saving.
    pub saving: f64,
    /// What would have been eaten without fodder.
    pub baseline: f64,
    /// Standard error of the saving.
    pub standard_error: f64,
    /// 95 % interval of the saving.
    pub interval: Interval,
    /// Farm-months with a number.
    pub rows: usize,
    /// Chosen farm-months after the start without a number.
    pub lacking: usize,
    /// Farms with a number.
    pub farms: usize,
}

/// One farm's part of a sum.
#[derive(Clone, Copy, Default)]
struct Part {
    baseline: f64,
    saving: f64,
    open: f64,
    rows: usize,
    lacking: usize,
}

/// Weights of the whole sum.
struct Whole<'a> {
    months: Months<'a>,
    is_in: &'a [bool],
    parts: &'a [Part],
    /// Money of the overstatement that rests on each farm used for it.
    share: f64,
    /// The index's part of each month, from its information.
    index: Vec<f64>,
    has_index: bool,
}

/// Squares of weights: noise of farms, and weights of areas and months.
type Squares = (f64, BTreeMap<u32, Vec<f64>>);

impl FeedSavings {
    /// Sum over farms and months that have a number.
    ///
    /// # Units
    /// Money.
    ///
    /// # Shape
    /// Farms beyond `is_in` are not in the sum. Without any number all is 0.
    ///
    /// # Source
    /// SPEC C5: implied weights of every untreated cell, through baselines and the index, as in
    /// Borusyak, Jaravel & Spiess 2024, Rev. Econ. Stud. 91.
    pub fn total(&self, is_in: &[bool], months: Months) -> Total {
        let farms = self.farms.len();
        let parts = map_chunks(farms, |farms| {
            farms.map(|i| self.part(i, is_in, months)).collect::<Vec<Part>>()
        })
        .concat();
        let sum = |f: fn(&Part) -> f64| parts.iter().map(f).sum::<f64>();
        let (baseline, saving) = (sum(|p| p.baseline), sum(|p| p.saving));
        let used = self.is_used.iter().filter(|u| **u).count();
        let weighed = parts.iter().zip(&self.farms).map(|(p, f)| p.baseline * f.ration_weight);
        let stated: f64 = weighed.sum();
        let share = if used > 0 { stated / used as f64 } else { 0.0 };
        let index = vec![0.0; self.months];
        let mut whole = Whole { months, is_in, parts: &parts, share, index, has_index: false };
        let (adjusted, swinging) = self.month_weights(&whole);
        whole.index = self.fit.solve(&self.only(IndexSource::Fitted, &adjusted));
        whole.has_index = whole.index.iter().any(|k| k.abs() > 0.0);
        let (noise, area) = self.squares(&whole);
        let borrowed = self.only(IndexSource::FromEarlierYears, &adjusted);
        let ration: f64 = (0..farms)
            .map(|i| parts[i].baseline * self.farms[i].ration_weight - self.share_of(i, share))
            .map(|x| x * x)
            .sum();
        let variance = noise
            + self.shared.area_variance * area
            + ration * self.shared.ration_variance
            + sum(|p| p.open)
            + self.shared.year_variance * borrowed.iter().map(|c| c * c).sum::<f64>()
            + self.swing_variance(&swinging)
            + self.shared.gap_variance * baseline * baseline;
        let standard_error = variance.max(0.0).sqrt();
        Total {
            saving,
            baseline,
            standard_error,
            interval: Interval::around(saving, SUM_CRITICAL * standard_error),
            rows: parts.iter().map(|p| p.rows).sum(),
            lacking: parts.iter().map(|p| p.lacking).sum(),
            farms: parts.iter().filter(|p| p.rows > 0).count(),
        }
    }

    fn part(&self, farm: usize, is_in: &[bool], months: Months) -> Part {
        let mut part = Part::default();
        let started = self.start[farm].map(|start| start as usize);
        let Some(start) = started.filter(|_| is_in.get(farm).copied().unwrap_or(false)) else {
            return part;
        };
        let row = farm * self.months;
        for t in (0..self.months).filter(|t| *t > start && months.has(farm, *t, self.months)) {
            let base = self.base[row + t];
            if base.is_nan() {
                part.lacking += 1;
            } else {
                part.rows += 1;
                part.baseline += base;
                part.saving += base - self.eaten[row + t];
                part.open += self.open[row + t].powi(2);
            }
        }
        part
    }

    fn share_of(&self, farm: usize, share: f64) -> f64 {
        if self.is_used[farm] { share } else { 0.0 }
    }

    fn only(&self, source: IndexSource, x: &[f64]) -> Vec<f64> {
        let months = x.iter().zip(&self.shared.source);
        months.map(|(x, s)| if *s == source { *x } else { 0.0 }).collect()
    }

    /// Weights of a farm's months in the sum: its baseline's before, its money's after.
    ///
    /// False when the farm has no part in it.
    fn weigh(&self, whole: &Whole, farm: usize, row: &mut [f64]) -> bool {
        let (part, share) = (&whole.parts[farm], self.share_of(farm, whole.share));
        if part.rows == 0 && share.abs() <= 0.0 {
            return false;
        }
        row.fill(0.0);
        let weight = part.baseline * (1.0 - self.farms[farm].ration_weight) + share;
        let (first, run) = self.weights.of(farm);
        row[first..].iter_mut().zip(run).for_each(|(g, w)| *g = weight * w);
        if part.rows > 0 && whole.is_in[farm] {
            let base = &self.base[farm * self.months..(farm + 1) * self.months];
            for (t, (g, b)) in row.iter_mut().zip(base).enumerate() {
                if !b.is_nan() && whole.months.has(farm, t, self.months) {
                    *g -= b;
                }
            }
        }
        true
    }

    /// Money of each month whose season is taken out by the index, and whose is not.
    fn month_weights(&self, whole: &Whole) -> (Vec<f64>, Vec<f64>) {
        let months = self.months;
        let parts = map_chunks(self.farms.len(), |farms| {
            let (mut adjusted, mut swinging) = (vec![0.0; months], vec![0.0; months]);
            let mut row = vec![0.0; months];
            for farm in farms {
                if self.weigh(whole, farm, &mut row) {
                    let is_adjusted = self.farms[farm].is_adjusted;
                    let sum = if is_adjusted { &mut adjusted } else { &mut swinging };
                    sum.iter_mut().zip(&row).for_each(|(c, g)| *c -= g);
                }
            }
            (adjusted, swinging)
        });
        let mut all = (vec![0.0; months], vec![0.0; months]);
        for (adjusted, swinging) in parts {
            all.0.iter_mut().zip(&adjusted).for_each(|(a, b)| *a += b);
            all.1.iter_mut().zip(&swinging).for_each(|(a, b)| *a += b);
        }
        all
    }

    /// Noise of all farms, and the sum of squared weights of areas and months.
    fn squares(&self, whole: &Whole) -> (f64, f64) {
        let parts = map_chunks(self.farms.len(), |farms| self.farm_squares(whole, farms));
        let mut noise = 0.0;
        let mut areas: BTreeMap<u32, Vec<f64>> = BTreeMap::new();
        for (part, by_area) in parts {
            noise += part;
            for (area, row) in by_area {
                let sums = areas.entry(area).or_insert_with(|| vec![0.0; self.months]);
                sums.iter_mut().zip(&row).for_each(|(a, b)| *a += b);
            }
        }
        (noise, areas.values().flatten().map(|x| x * x).sum())
    }

    fn farm_squares(&self, whole: &Whole, farms: Range<usize>) -> Squares {
        let (mut noise, mut areas) = (0.0, BTreeMap::new());
        let area = self.area.as_deref().filter(|_| self.shared.area_variance > 0.0);
        let mut row = vec![0.0; self.months];
        for farm in farms {
            let is_in = self.weigh(whole, farm, &mut row);
            if !is_in {
                row.fill(0.0);
            }
            let is_indexed = whole.has_index && self.add_index(farm, &whole.index, &mut row);
            if !is_in && !is_indexed {
                continue;
            }
            let shared = &self.shared;
            noise += self.farms[farm].variance
                * lasting_square(&row, shared.lasting_share, shared.correlation);
            if let Some(area) = area.and_then(|area| area.get(farm)) {
                let sums = areas.entry(*area).or_insert_with(|| vec![0.0; self.months]);
                sums.iter_mut().zip(&row).for_each(|(a, b)| *a += b);
            }
        }
        (noise, areas)
    }

    /// Weights of a farm's untreated months through the index.
    ///
    /// False when the index does not rest on the farm.
    fn add_index(&self, farm: usize, index: &[f64], row: &mut [f64]) -> bool {
        let (mut weight, mut sum) = (0.0, 0.0);
        for cell in self.fit.cells(farm) {
            weight += cell.expected;
            sum += cell.expected * index[cell.month];
        }
        if weight <= 0.0 {
            return false;
        }
        let mean = sum / weight;
        for cell in self.fit.cells(farm) {
            row[cell.month] += cell.expected * (index[cell.month] - mean);
        }
        true
    }
}
