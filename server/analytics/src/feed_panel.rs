//! Feed use of all farms, month by month: what the saving is counted from.

use crate::error::{ShapeError, check_length, check_limit};
use crate::limits::{AMOUNT_MAX, ANIMAL_DAYS_MIN, MONTHS_MAX};

/// Feed use of all farms, checked to fit together. Not-a-number means not reported; a recorded
/// 0 is 0.
#[derive(Debug, Clone, Copy)]
pub struct FeedPanel<'a> {
    pub(crate) months: usize,
    pub(crate) feeds: usize,
    pub(crate) quantity: &'a [f64],
    pub(crate) price: &'a [f64],
    pub(crate) other_cost: &'a [f64],
    pub(crate) animal_days: &'a [f64],
    pub(crate) output: &'a [f64],
    pub(crate) start: &'a [Option<u32>],
}

/// The slices of a [`FeedPanel`]; cell `farm * months + month`, feeds last.
#[derive(Debug, Clone, Copy)]
pub struct FeedSlices<'a> {
    /// Feed used in the month, kg (or any unit its price is in), by feed.
    pub quantity: &'a [f64],
    /// Price of each feed, see [`crate::prices::fill_prices`].
    pub price: &'a [f64],
    /// Seed, water, labour and depreciation of the month, money; 0 before the start.
    pub other_cost: &'a [f64],
    /// Animal-days of the month.
    pub animal_days: &'a [f64],
    /// Litres or eggs of the month.
    pub output: &'a [f64],
    /// Start month of each farm; none when it has not started, 0 when before the data.
    pub start: &'a [Option<u32>],
}

impl<'a> FeedPanel<'a> {
    /// Puts together what belongs together.
    ///
    /// # Errors
    /// `Length` when a slice does not fit, `TooMany` months.
    pub fn new(months: usize, feeds: usize, of: FeedSlices<'a>) -> Result<Self, ShapeError> {
        check_limit("months", months, MONTHS_MAX)?;
        let cells = of.start.len() * months;
        check_length("quantities", of.quantity.len(), cells * feeds)?;
        check_length("prices", of.price.len(), cells * feeds)?;
        check_length("other costs", of.other_cost.len(), cells)?;
        check_length("animal-days", of.animal_days.len(), cells)?;
        check_length("outputs", of.output.len(), cells)?;
        let FeedSlices { quantity, price, other_cost, animal_days, output, start } = of;
        Ok(Self { months, feeds, quantity, price, other_cost, animal_days, output, start })
    }

    pub(crate) fn farms(&self) -> usize {
        self.start.len()
    }

    pub(crate) fn feeds_of(&self, values: &'a [f64], cell: usize) -> &'a [f64] {
        &values[cell * self.feeds..(cell + 1) * self.feeds]
    }

    pub(crate) fn is_reported(&self, cell: usize) -> bool {
        let is_amount = |x: &f64| x.abs() <= AMOUNT_MAX;
        (ANIMAL_DAYS_MIN..=AMOUNT_MAX).contains(&self.animal_days[cell])
            && self.feeds_of(self.quantity, cell).iter().all(is_amount)
            && self.feeds_of(self.price, cell).iter().all(is_amount)
    }

    /// Months before the start, cut to the panel.
    pub(crate) fn months_before(&self, farm: usize) -> usize {
        self.start[farm].map_or(self.months, |g| self.months.min(g as usize))
    }

    /// Months after the start month, cut to the panel.
    pub(crate) fn months_after(&self, farm: usize) -> std::ops::Range<usize> {
        let first = self.start[farm].map_or(self.months, |g| (g as usize).saturating_add(1));
        first.min(self.months)..self.months
    }
}
