//! Numbers of farm-months and their errors.

use super::baseline::lasting_square;
use super::index::IndexSource;
use super::panel::{AFTER, PanelCells};
use super::{FeedSavings, FrozenBaseline, Months, SavingCell, SavingPanel};
use crate::parallel::map_chunks;
use crate::stats::Interval;

/// Money of farm-months: baseline, eaten, error of lots in use.
type Money = (Vec<f64>, Vec<f64>, Vec<f64>);

/// Fills in money and errors of all farm-months.
pub(super) fn fill(savings: &mut FeedSavings, panel: &SavingPanel, cells: &PanelCells) {
    let shared = &*savings;
    let parts = map_chunks(panel.farms(), |farms| {
        let size = farms.len() * panel.months;
        let mut money = (vec![f64::NAN; size], vec![f64::NAN; size], vec![0.0; size]);
        for (place, farm) in farms.enumerate() {
            let row = place * panel.months..(place + 1) * panel.months;
            fill_farm(shared, panel, cells, farm, &mut money, row);
        }
        money
    });
    let size = panel.animal_days.len();
    let (mut base, mut eaten, mut open) =
        (Vec::with_capacity(size), Vec::with_capacity(size), Vec::with_capacity(size));
    for part in parts {
        base.extend_from_slice(&part.0);
        eaten.extend_from_slice(&part.1);
        open.extend_from_slice(&part.2);
    }
    (savings.base, savings.eaten, savings.open) = (base, eaten, open);
    let shared = &*savings;
    let errors = map_chunks(panel.farms(), |farms| {
        let mut errors = vec![f64::NAN; farms.len() * panel.months];
        let mut month_errors = MonthErrors::new(shared);
        for (row, farm) in errors.chunks_mut(panel.months.max(1)).zip(farms) {
            month_errors.fill(farm, row);
        }
        errors
    });
    savings.error = errors.concat();
}

fn fill_farm(
    savings: &FeedSavings,
    panel: &SavingPanel,
    cells: &PanelCells,
    farm: usize,
    money: &mut Money,
    row: std::ops::Range<usize>,
) {
    let baseline = &savings.farms[farm];
    let Some(basket) = savings.basket(farm).filter(|_| baseline.level.is_some()) else {
        return;
    };
    let own = panel.row(farm);
    let (base, eaten) = (&mut money.0[row.clone()], &mut money.1[row.clone()]);
    for t in (0..panel.months).filter(|t| cells.use_for[own.start + t] & AFTER > 0) {
        let index = if baseline.is_adjusted { savings.shared.index[t] } else { Some(1.0) };
        let Some(index) = index else {
            continue;
        };
        let (mut repriced, mut spent) = (0.0, 0.0);
        for (k, q) in basket.iter().enumerate() {
            let at = (farm * panel.feeds + k) * panel.months + t;
            let price = if panel.price[at].is_finite() { panel.price[at] } else { 0.0 };
            repriced += price * q;
            spent += price * panel.kg[at];
        }
        base[t] = panel.animal_days[own.start + t] * index * repriced;
        eaten[t] = spent;
        let share = panel.open_share.map_or(0.0, |share| share[own.start + t]);
        if share.is_finite() {
            money.2[row.start + t] = spent * share * savings.rules.open_cv;
        }
    }
}

/// Errors of single months: the weights of a month are those of its farm's baseline less one,
/// times the month's money, so that a farm's squares are worked out once.
struct MonthErrors<'a> {
    savings: &'a FeedSavings,
    /// Correlation of the noise of two months so far apart.
    correlation: Vec<f64>,
    weights: Vec<f64>,
}

impl<'a> MonthErrors<'a> {
    fn new(savings: &'a FeedSavings) -> Self {
        let mut lasting = savings.shared.lasting_share;
        let mut correlation = vec![1.0];
        for _ in 1..savings.months {
            lasting *= savings.shared.correlation;
            correlation.push(lasting);
        }
        Self { savings, correlation, weights: Vec::new() }
    }

    fn fill(&mut self, farm: usize, row: &mut [f64]) {
        let all = self.savings;
        let own = farm * all.months;
        let base = &all.base[own..own + all.months];
        let (first, run) = all.weights.of(farm);
        let baseline = &all.farms[farm];
        self.weights.clear();
        self.weights.extend(run.iter().map(|w| w * (1.0 - baseline.ration_weight)));
        let w = &self.weights;
        let shared = &all.shared;
        let noise = lasting_square(w, shared.lasting_share, shared.correlation);
        let square: f64 = w.iter().map(|w| w * w).sum();
        let season = Season::new(all, baseline.is_adjusted, first, w);
        let ration = all.ration_variance(farm);
        for (t, error) in row.iter_mut().enumerate().filter(|(t, _)| !base[*t].is_nan()) {
            let near = (first..).zip(w).map(|(s, w)| w * self.correlation[s.abs_diff(t)]);
            let same = t.checked_sub(first).and_then(|place| w.get(place)).copied().unwrap_or(0.0);
            let relative = baseline.variance * (noise - 2.0 * near.sum::<f64>() + 1.0)
                + ration
                + shared.area_variance * (square - 2.0 * same + 1.0)
                + season.variance(t);
            let open = all.open[own + t];
            *error = (base[t] * base[t] * relative.max(0.0) + open * open).sqrt();
        }
    }
}

/// Variance that the index, or a season not taken out, brings into a single month.
struct Season<'a> {
    all: &'a FeedSavings,
    is_adjusted: bool,
    first: usize,
    run: &'a [f64],
    /// Weight of the fitted months, of borrowed ones, and of the season's swing, all of it alone.
    fitted: f64,
    borrowed: f64,
    swing: (f64, f64),
}

impl<'a> Season<'a> {
    fn new(all: &'a FeedSavings, is_adjusted: bool, first: usize, run: &'a [f64]) -> Self {
        let mut season =
            Self { all, is_adjusted, first, run, fitted: 0.0, borrowed: 0.0, swing: (0.0, 0.0) };
        for (s, w) in (first..).zip(run) {
            let angle = all.angle[s];
            season.swing = (season.swing.0 + w * angle.0, season.swing.1 + w * angle.1);
            if all.shared.source[s] == IndexSource::FromEarlierYears {
                season.borrowed += w * w;
            }
        }
        if is_adjusted {
            season.fitted = (first..).zip(run).map(|(s, w)| w * season.with_run(s)).sum();
        }
        season
    }

    fn is_fitted(&self, t: usize) -> bool {
        self.all.shared.source[t] == IndexSource::Fitted
    }

    /// Covariance of a month's index with the baseline's.
    fn with_run(&self, t: usize) -> f64 {
        if !self.is_fitted(t) {
            return 0.0;
        }
        let months = (self.first..).zip(self.run).filter(|(s, _)| self.is_fitted(*s));
        months.map(|(s, w)| w * self.all.covariance[(s, t)]).sum()
    }

    fn variance(&self, t: usize) -> f64 {
        let shared = &self.all.shared;
        if !self.is_adjusted {
            let (cosine, sine) = self.all.angle[t];
            let (x, y) = (cosine - self.swing.0, sine - self.swing.1);
            return self.all.rules.season_sd.powi(2) * (x * x + y * y);
        }
        let place = t.checked_sub(self.first);
        let same = place.and_then(|place| self.run.get(place)).copied().unwrap_or(0.0);
        let own = if self.is_fitted(t) { self.all.covariance[(t, t)] } else { 0.0 };
        let is_borrowed = shared.source[t] == IndexSource::FromEarlierYears;
        let borrowed = self.borrowed + if is_borrowed { 1.0 - 2.0 * same } else { 0.0 };
        (self.fitted - 2.0 * self.with_run(t) + own) + shared.year_variance * borrowed
    }
}

impl FeedSavings {
    /// Basket of a farm: kg of each feed for each animal-day at index 1.
    ///
    /// # Shape
    /// None without a known month before the start and without a stated ration. There may be one
    /// while the baseline is none, because months are too few.
    pub fn basket(&self, farm: usize) -> Option<&[f64]> {
        let basket = self.basket.get(farm * self.feeds..(farm + 1) * self.feeds)?;
        basket.iter().all(|q| q.is_finite()).then_some(basket)
    }

    /// Weight of each month in a farm's baseline; none weighs for a ration alone.
    pub fn weights(&self, farm: usize) -> Vec<f64> {
        let mut weights = vec![0.0; self.months];
        if farm < self.farms.len() {
            let (first, run) = self.weights.of(farm);
            weights[first..first + run.len()].copy_from_slice(run);
        }
        weights
    }

    /// What a close keeps of a farm's baseline; none without one.
    pub fn to_freeze(&self, farm: usize) -> Option<FrozenBaseline> {
        let baseline = self.farms.get(farm).filter(|f| f.level.is_some())?;
        Some(FrozenBaseline {
            basket: self.basket(farm)?.to_vec(),
            weights: self.weights(farm),
            ration_weight: baseline.ration_weight,
            is_adjusted: baseline.is_adjusted,
        })
    }

    /// A farm's number in a month; none where there is no number.
    pub fn cell(&self, farm: usize, month: usize) -> Option<SavingCell> {
        let at = farm * self.months + month;
        let base = *self.base.get(at).filter(|b| month < self.months && !b.is_nan())?;
        let (eaten, standard_error) = (self.eaten[at], self.error[at]);
        let half = self.farms[farm].critical * standard_error;
        let saving = base - eaten;
        let interval = Interval { lower: saving - half, upper: saving + half };
        Some(SavingCell { baseline: base, eaten, saving, standard_error, interval })
    }

    /// Variance of a farm's stated ration in its baseline, relative.
    fn ration_variance(&self, farm: usize) -> f64 {
        let shared = self.shared.overstatement_error.unwrap_or(0.0);
        self.farms[farm].ration_weight.powi(2) * (self.shared.ration_variance + shared * shared)
    }

    /// Standard error of the sum of a farm's months.
    ///
    /// # Units
    /// Money. The interval is `critical` of the farm times it.
    ///
    /// # Source
    /// SPEC C5: the target is the farm's own case, its own lean weeks included.
    pub fn farm_error(&self, farm: usize, months: Months) -> f64 {
        let Some(baseline) = self.farms.get(farm) else {
            return 0.0;
        };
        let row = farm * self.months;
        let is_on = |t: usize| months.has(farm, t, self.months) && !self.base[row + t].is_nan();
        let on: Vec<usize> = (0..self.months).filter(|t| is_on(*t)).collect();
        let total: f64 = on.iter().map(|t| self.base[row + t]).sum();
        // Money of the index's months, and weights of relative noise.
        let (mut x, mut g) = (vec![0.0; self.months], vec![0.0; self.months]);
        let (first, run) = self.weights.of(farm);
        for (s, w) in (first..).zip(run) {
            let weight = w * (1.0 - baseline.ration_weight);
            (x[s], g[s]) = (-total * weight, total * weight);
        }
        for t in &on {
            x[*t] += self.base[row + t];
            g[*t] -= self.base[row + t];
        }
        let shared = &self.shared;
        let open: f64 = on.iter().map(|t| self.open[row + t].powi(2)).sum();
        let variance = baseline.variance
            * lasting_square(&g, shared.lasting_share, shared.correlation)
            + total * total * self.ration_variance(farm)
            + shared.area_variance * g.iter().map(|g| g * g).sum::<f64>()
            + open
            + self.season_variance(baseline.is_adjusted, &x);
        variance.max(0.0).sqrt()
    }

    fn season_variance(&self, is_adjusted: bool, x: &[f64]) -> f64 {
        if !is_adjusted {
            return self.swing_variance(x);
        }
        let of = |source: IndexSource| -> Vec<f64> {
            let months = x.iter().zip(&self.shared.source);
            months.map(|(x, s)| if *s == source { *x } else { 0.0 }).collect()
        };
        let borrowed: f64 = of(IndexSource::FromEarlierYears).iter().map(|x| x * x).sum();
        crate::linear::quadratic(&self.covariance, &of(IndexSource::Fitted))
            + self.shared.year_variance * borrowed
    }

    /// A swing of unknown peak: months a year apart cancel.
    pub(super) fn swing_variance(&self, x: &[f64]) -> f64 {
        let swing = x
            .iter()
            .zip(&self.angle)
            .fold((0.0, 0.0), |sum, (x, angle)| (sum.0 + x * angle.0, sum.1 + x * angle.1));
        self.rules.season_sd.powi(2) * (swing.0 * swing.0 + swing.1 * swing.1)
    }
}
