//! The panel of one enterprise, and what each of its cells is good for.

use std::ops::Range;

use super::Rules;
use crate::error::{ShapeError, check_length, check_limit};
use crate::limits::{AMOUNT_MAX, ANIMAL_DAYS_MIN, MONTHS_MAX};
use crate::parallel::{map_chunks, map_items};
use crate::stats::median;

/// A baseline as it stood at the first close after the start.
#[derive(Debug, Clone, PartialEq)]
pub struct FrozenBaseline {
    /// Basket: kg of each feed for each animal-day at index 1.
    pub basket: Vec<f64>,
    /// Weight of each month of the panel in it.
    pub weights: Vec<f64>,
    /// Weight of the stated ration.
    pub ration_weight: f64,
    /// Whether the season was taken out.
    pub is_adjusted: bool,
}

/// Cells of one enterprise.
///
/// # Shape
/// `kg` and `price` are farms x feeds x months, farm by farm and feed by feed; what is farms x
/// months is farm by farm. A cell with an amount beyond belief is not known. An optional slice
/// may be none; `frozen` and `ration_month` may be empty.
#[derive(Debug, Clone, Copy, Default)]
pub struct SavingPanel<'a> {
    /// Number of feeds.
    pub feeds: usize,
    /// Number of months.
    pub months: usize,
    /// Amount eaten in the whole month, in kg.
    pub kg: &'a [f64],
    /// Money a kg; not a number counts as nothing.
    pub price: &'a [f64],
    /// Animal-days; farms x months.
    pub animal_days: &'a [f64],
    /// Whether every needed feed is known; farms x months.
    pub is_known: &'a [bool],
    /// Share of animal-days fed from the lot in use at the start; farms x months.
    pub mixed_share: &'a [f64],
    /// Share of the money that comes from lots in use; farms x months.
    pub open_share: Option<&'a [f64]>,
    /// Start month of each farm.
    pub start: &'a [Option<u32>],
    /// Stated ration in kg for each animal-day; farms x feeds, not a number for none.
    pub ration: Option<&'a [f64]>,
    /// Month in which each farm stated it.
    pub ration_month: &'a [Option<u32>],
    /// Area of each farm.
    pub area: Option<&'a [u32]>,
    /// Month of the year of each month; without it month 0 is a January.
    pub month_of_year: Option<&'a [u32]>,
    /// Whether each month is over.
    pub is_complete: Option<&'a [bool]>,
    /// Share of each farm's lots found as gaps, before and after the start.
    pub gap_share: Option<&'a [[f64; 2]]>,
    /// Baselines that a close froze.
    pub frozen: &'a [Option<FrozenBaseline>],
    /// Index of each closed month.
    pub frozen_index: Option<&'a [Option<f64>]>,
}

/// The cell is before the start and known.
pub(super) const UNTREATED: u8 = 1;
/// The cell is after the start and known.
pub(super) const AFTER: u8 = 2;
/// The cell makes the baseline.
pub(super) const BASE: u8 = 4;

/// What the cells are good for.
pub(super) struct PanelCells {
    /// Money for each animal-day at reference prices; not a number where it is not known.
    pub cost: Vec<f64>,
    pub use_for: Vec<u8>,
}

impl PanelCells {
    pub(super) fn untreated(&self) -> Vec<bool> {
        self.use_for.iter().map(|u| u & UNTREATED > 0).collect()
    }
}

impl SavingPanel<'_> {
    /// Number of farms.
    pub fn farms(&self) -> usize {
        self.start.len()
    }

    pub(super) fn check(&self) -> Result<(), ShapeError> {
        let (farms, rows) = (self.farms(), self.farms() * self.months);
        check_limit("months", self.months, MONTHS_MAX)?;
        check_length("kg", self.kg.len(), rows * self.feeds)?;
        check_length("price", self.price.len(), rows * self.feeds)?;
        check_length("animal_days", self.animal_days.len(), rows)?;
        check_length("is_known", self.is_known.len(), rows)?;
        check_length("mixed_share", self.mixed_share.len(), rows)?;
        let optional = |name, found: Option<usize>, wanted| {
            found.map_or(Ok(()), |found| check_length(name, found, wanted))
        };
        optional("open_share", self.open_share.map(<[f64]>::len), rows)?;
        optional("ration", self.ration.map(<[f64]>::len), farms * self.feeds)?;
        optional("area", self.area.map(<[u32]>::len), farms)?;
        optional("month_of_year", self.month_of_year.map(<[u32]>::len), self.months)?;
        optional("is_complete", self.is_complete.map(<[bool]>::len), self.months)?;
        optional("gap_share", self.gap_share.map(<[[f64; 2]]>::len), farms)?;
        optional("frozen_index", self.frozen_index.map(<[Option<f64>]>::len), self.months)?;
        let given = |len: usize| (len > 0).then_some(len);
        optional("ration_month", given(self.ration_month.len()), farms)?;
        optional("frozen", given(self.frozen.len()), farms)?;
        for frozen in self.frozen.iter().flatten() {
            check_length("frozen basket", frozen.basket.len(), self.feeds)?;
            check_length("frozen weights", frozen.weights.len(), self.months)?;
        }
        Ok(())
    }

    pub(super) fn feed_row(&self, farm: usize, feed: usize) -> Range<usize> {
        let from = (farm * self.feeds + feed) * self.months;
        from..from + self.months
    }

    pub(super) fn row(&self, farm: usize) -> Range<usize> {
        farm * self.months..(farm + 1) * self.months
    }

    /// Start month as a number; beyond every month for a farm that has not started.
    pub(super) fn start_of(&self, farm: usize) -> usize {
        self.start[farm].map_or(usize::MAX, |g| g as usize)
    }

    pub(super) fn frozen_of(&self, farm: usize) -> Option<&FrozenBaseline> {
        self.frozen.get(farm)?.as_ref().filter(|_| self.start[farm].is_some())
    }

    fn is_row_known(&self, farm: usize, t: usize) -> bool {
        let at = farm * self.months + t;
        let is_over = self.is_complete.is_none_or(|complete| complete[t]);
        let has_days = (ANIMAL_DAYS_MIN..=AMOUNT_MAX).contains(&self.animal_days[at]);
        let is_amount = |x: f64| (0.0..=AMOUNT_MAX).contains(&x);
        let is_believable = |k: usize| {
            let at = (farm * self.feeds + k) * self.months + t;
            is_amount(self.kg[at]) && (self.price[at].is_nan() || is_amount(self.price[at]))
        };
        self.is_known[at] && is_over && has_days && (0..self.feeds).all(is_believable)
    }

    /// Median price of each feed over known cells that ate it; 0 without any.
    pub(super) fn price_reference(&self) -> Vec<f64> {
        let known = map_chunks(self.farms(), |farms| {
            let cells = farms.flat_map(|i| (0..self.months).map(move |t| (i, t)));
            cells.map(|(i, t)| self.is_row_known(i, t)).collect::<Vec<bool>>()
        })
        .concat();
        map_items(self.feeds, |k| {
            let mut prices = Vec::new();
            for farm in 0..self.farms() {
                let row = self.feed_row(farm, k);
                let cells = self.kg[row.clone()].iter().zip(&self.price[row]);
                let cells = cells.zip(&known[self.row(farm)]);
                let is_eaten = |((kg, price), known): &((&f64, &f64), &bool)| {
                    **known && **kg > 0.0 && price.is_finite()
                };
                prices.extend(cells.filter(is_eaten).map(|((_, price), _)| *price));
            }
            median(&mut prices).unwrap_or(0.0)
        })
    }

    /// Costs at reference prices, and what each cell is good for.
    pub(super) fn cells(&self, prices: &[f64], rules: &Rules) -> PanelCells {
        let parts = map_chunks(self.farms(), |farms| {
            let mut cost = vec![0.0; farms.len() * self.months];
            let mut use_for = Vec::with_capacity(cost.len());
            for (place, farm) in farms.enumerate() {
                let row = &mut cost[place * self.months..(place + 1) * self.months];
                for (k, price) in prices.iter().enumerate() {
                    let kg = &self.kg[self.feed_row(farm, k)];
                    row.iter_mut().zip(kg).for_each(|(c, kg)| *c += price * kg);
                }
                for (t, c) in row.iter_mut().enumerate() {
                    use_for.push(self.judge(farm, t, c, rules));
                }
            }
            (cost, use_for)
        });
        let mut cells = PanelCells { cost: Vec::new(), use_for: Vec::new() };
        cells.cost.reserve_exact(self.animal_days.len());
        cells.use_for.reserve_exact(self.animal_days.len());
        for (cost, use_for) in parts {
            cells.cost.extend_from_slice(&cost);
            cells.use_for.extend_from_slice(&use_for);
        }
        cells
    }

    /// Money of the month to money for each animal-day, and the use of the cell.
    fn judge(&self, farm: usize, t: usize, cost: &mut f64, rules: &Rules) -> u8 {
        if !self.is_row_known(farm, t) {
            *cost = f64::NAN;
            return 0;
        }
        let at = farm * self.months + t;
        *cost /= self.animal_days[at];
        let (start, mixed) = (self.start_of(farm), self.mixed_share[at]);
        if t > start {
            return if mixed > rules.mixed_after_max { 0 } else { AFTER };
        }
        if t == start || mixed > rules.mixed_before_max || *cost <= 0.0 {
            return 0;
        }
        let is_base = start != usize::MAX && t + rules.base_months_max >= start;
        if is_base { UNTREATED | BASE } else { UNTREATED }
    }
}
