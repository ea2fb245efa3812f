//! What was eaten: purchases of one feed spread over the days until the next purchase.
//!
//! Rates are per animal-day, so that a growing herd empties a lot faster. Days in no piece are
//! not covered: nothing is guessed for them.

mod cells;
mod lots;
mod prices;
mod rates;
mod spreading;

use serde::Serialize;

pub use crate::feed_rules::Rules;
pub use cells::{Cells, UseSlices, cells};
pub use prices::{PricedPurchase, price_medians};
pub use spreading::spread;

/// Days for which a recorded 0 says that nothing was bought.
pub(crate) const ZERO_DAYS: i32 = 31;

/// One purchase of a feed; 0 kg says that nothing was bought.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Purchase {
    /// Day of the purchase.
    pub day: i32,
    /// Amount in kg.
    pub kg: f64,
    /// Money paid; 0 when no price is known.
    pub cost: f64,
    /// The co-operative's median price a kg at that time.
    pub median: Option<f64>,
    /// Whether somebody accepted the purchase as entered.
    pub is_accepted: bool,
}

/// What was left in the store on the morning of a day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StoreCount {
    /// Day of the count.
    pub day: i32,
    /// Amount in kg.
    pub kg: f64,
}

/// Records of one farm and feed.
#[derive(Debug, Clone, Copy)]
pub struct Series<'a> {
    /// Purchases, by day; none after `as_of`.
    pub purchases: &'a [Purchase],
    /// Store counts.
    pub counts: &'a [StoreCount],
    /// Animal-days before each day, from day 0 to `as_of` at least.
    pub animal_days: &'a [f64],
    /// Day of the first soak.
    pub start: Option<i32>,
    /// First day that is not known yet.
    pub as_of: i32,
}

impl Series<'_> {
    /// Animal-days before a day; days outside count as the nearest one inside.
    pub(crate) fn before(&self, day: i32) -> f64 {
        before(self.animal_days, day)
    }

    /// Whether a lot of this day lies after the start.
    pub(crate) fn is_after_start(&self, day: i32) -> bool {
        self.start.is_some_and(|start| day >= start)
    }

    /// First day before which at least so many animal-days lie.
    pub(crate) fn day_of(&self, animal_days: f64) -> i32 {
        let place = if animal_days.is_nan() {
            self.animal_days.len()
        } else {
            self.animal_days.partition_point(|h| *h < animal_days)
        };
        i32::try_from(place).unwrap_or(i32::MAX)
    }
}

fn before(animal_days: &[f64], day: i32) -> f64 {
    let place = usize::try_from(day).unwrap_or(0).min(animal_days.len().saturating_sub(1));
    animal_days.get(place).copied().unwrap_or(0.0)
}

/// Days eaten at one rate, from one lot.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Piece {
    /// First day.
    pub from: i32,
    /// First day after it.
    pub to: i32,
    /// Amount in kg for each animal-day.
    pub kg_per_animal_day: f64,
    /// Money for each animal-day.
    pub cost_per_animal_day: f64,
    /// Whether the lot is in use and no purchase has followed yet.
    pub is_open: bool,
}

/// Why a purchase is held or days are not covered. In the order of their names.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Rule {
    /// A purchase seems not to be written down.
    Gap,
    /// The kg are far from what the farm's other lots say.
    Kg,
    /// The price is far from the co-operative's, or missing.
    Price,
    /// More is said to be left than the lot held.
    Stock,
}

/// One finding about a day's purchase.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub struct Finding {
    /// Day of the lot or count.
    pub day: i32,
    pub rule: Rule,
    /// Position of the purchase; of the first of that day's lot for [`Rule::Kg`] and
    /// [`Rule::Gap`]. None where the lot begins with a count.
    pub purchase: Option<usize>,
}

/// A series spread over its days.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Spread {
    /// Pieces, by day.
    pub pieces: Vec<Piece>,
    /// Findings, by day and rule.
    pub findings: Vec<Finding>,
    /// Whether, from the first lot to `as_of`, only the lot in use is not covered, because its
    /// side of the start has no usual rate yet.
    pub waiting: bool,
    /// First day of the lot in use when it has no usual rate yet, whatever else is not covered.
    pub waits_from: Option<i32>,
    /// How the lots went, by day: the figures behind findings.
    pub lots: Vec<LotSeen>,
}

/// How a lot went beside what is usual.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LotSeen {
    /// First day of the days that it was eaten on.
    pub from: i32,
    /// Day of the purchase that says how much was eaten.
    pub day: i32,
    /// Days until the next lot.
    pub days: f64,
    /// Amount in kg for each animal-day; not a number without animals.
    pub rate: f64,
    /// Usual days and rate of its side of the start.
    pub usual: Option<(f64, f64)>,
}

/// What a farm's animals ate of one feed in one month.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct MonthUse {
    /// Amount in kg on covered days.
    pub kg: f64,
    /// Money on covered days.
    pub cost: f64,
    /// Covered animal-days.
    pub covered: f64,
    /// Of these, from a lot in use.
    pub open: f64,
    /// Of these, from the lot in use at the start.
    pub mixed: f64,
}

/// Pieces summed by month.
///
/// # Units
/// `animal_days` as in [`Series`]; `month_starts` are the first days of the months and the first
/// day after the last.
///
/// # Shape
/// One row a month.
pub fn month_use(
    pieces: &[Piece],
    animal_days: &[f64],
    month_starts: &[i32],
    start: Option<i32>,
) -> Vec<MonthUse> {
    let months = month_starts.len().saturating_sub(1);
    let mut sums = vec![MonthUse::default(); months];
    for piece in pieces {
        let is_mixed = start.is_some_and(|s| piece.from < s && s < piece.to);
        let first = month_starts.partition_point(|m| *m <= piece.from).saturating_sub(1);
        for t in first..months {
            let (from, to) = (piece.from.max(month_starts[t]), piece.to.min(month_starts[t + 1]));
            if from >= to {
                break;
            }
            let days = before(animal_days, to) - before(animal_days, from);
            let sum = &mut sums[t];
            sum.kg += piece.kg_per_animal_day * days;
            sum.cost += piece.cost_per_animal_day * days;
            sum.covered += days;
            sum.open += if piece.is_open { days } else { 0.0 };
            sum.mixed += if is_mixed { days } else { 0.0 };
        }
    }
    sums
}
