//! Prices far from those of other farms, and amounts far from the farm's own.

use super::units::{NEAR, OF_PURCHASES, median, middle, unit_of};
use std::collections::HashMap;

/// Days to each side whose prices a purchase is held against, and those where there are too few.
pub const NEAR_DAYS: [i32; 2] = [90, 365];
/// Purchases without which nothing is said.
pub const LEAST: usize = 5;
/// Least factor off the other farms' price: markets spread by 10 to 20 %.
pub const PRICE_FACTOR: f64 = 2.0;
/// Least factor off the farm's own amounts: a small farm buys one bag now and five then.
pub const AMOUNT_FACTOR: f64 = 5.0;
/// Robust standard deviations beyond which chance is not it.
const DEVIATIONS: f64 = 6.0;

/// A purchase of one feed, as others' are held against it. Kept small: a co-operative has hundreds of
/// thousands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bought {
    /// Farm, by number.
    pub farm: u32,
    /// Day, by number.
    pub day: i32,
    /// Logarithm of the cost of a kilogram, in any one unit.
    log_price: f64,
}

impl Bought {
    /// A purchase at a cost of a kilogram above 0.
    #[must_use]
    pub fn new(farm: u32, day: i32, price: f64) -> Self {
        Self { farm, day, log_price: price.ln() }
    }
}

/// A purchase that stands out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outlier {
    /// Its position.
    pub at: usize,
    /// The slip that would explain it.
    pub unit: Option<&'static str>,
    /// Its figure over the usual one.
    pub ratio: f64,
}

/// The prices of one feed, in order of day.
#[derive(Clone, Debug, Default)]
pub struct Prices(Vec<Bought>);

impl Prices {
    /// Of these purchases.
    #[must_use]
    pub fn new(mut all: Vec<Bought>) -> Self {
        all.sort_by_key(|b| b.day);
        Self(all)
    }

    /// Those that stand out among other farms' prices; `asked` in order of day.
    #[must_use]
    pub fn outliers(&self, asked: &[Bought]) -> Vec<Outlier> {
        let mut near = NEAR_DAYS.map(Around::of_days);
        let mut found = Vec::new();
        for (at, bought) in asked.iter().enumerate() {
            for around in &mut near {
                around.move_to(&self.0, bought.day);
                if around.sorted.len() - around.own(bought.farm) >= LEAST {
                    found.extend(self.outlier(at, bought, around));
                    break;
                }
            }
        }
        found
    }

    fn outlier(&self, at: usize, bought: &Bought, around: &Around) -> Option<Outlier> {
        let own = around.own(bought.farm);
        if around.is_near(bought.log_price, own) {
            return None;
        }
        let near = self.0.get(around.from..around.to).unwrap_or_default();
        let others = near.iter().filter(|b| b.farm != bought.farm).map(|b| b.log_price);
        outlier(at, bought.log_price, others.collect(), PRICE_FACTOR)
    }
}

/// The prices of one feed around a day. It moves on with the days.
struct Around {
    /// Days to each side.
    days: i32,
    /// Positions in [`Prices`]: the first, and the one after the last.
    from: usize,
    to: usize,
    /// The log prices, in order.
    sorted: Vec<f64>,
    /// How many are of each farm.
    of_farm: HashMap<u32, usize>,
}

impl Around {
    fn of_days(days: i32) -> Self {
        Self { days, from: 0, to: 0, sorted: Vec::new(), of_farm: HashMap::new() }
    }

    fn move_to(&mut self, all: &[Bought], day: i32) {
        let from = all.partition_point(|b| b.day < day - self.days);
        let to = all.partition_point(|b| b.day <= day + self.days);
        if (from, to) == (self.from, self.to) {
            return;
        }
        if from < self.from || from >= self.to {
            // Nothing of it stays.
            *self = Self { from, to: from, ..Self::of_days(self.days) };
        }
        let gone = all.get(self.from..from).unwrap_or_default();
        let come = all.get(self.to..to).unwrap_or_default();
        let mut prices: Vec<f64> = gone.iter().map(|b| b.log_price).collect();
        prices.sort_by(f64::total_cmp);
        let mut prices = prices.into_iter().peekable();
        self.sorted.retain(|price| prices.next_if(|p| p.total_cmp(price).is_eq()).is_none());
        self.sorted.extend(come.iter().map(|b| b.log_price));
        // What stood in order stands first: the sort finds it so.
        self.sorted.sort_by(f64::total_cmp);
        for bought in gone {
            let own = self.of_farm.entry(bought.farm).or_default();
            *own = own.saturating_sub(1);
        }
        for bought in come {
            *self.of_farm.entry(bought.farm).or_default() += 1;
        }
        (self.from, self.to) = (from, to);
    }

    fn own(&self, farm: u32) -> usize {
        self.of_farm.get(&farm).copied().unwrap_or(0)
    }

    /// Whether a price is surely within the factor of the others' median, wherever the farm's own
    /// purchases lie in the order: most are, and need no median of their own.
    fn is_near(&self, price: f64, own: usize) -> bool {
        let others = self.sorted.len() - own;
        let ends = [others.saturating_sub(1) / 2, others / 2 + own];
        let at = |end: usize| self.sorted.get(end.min(self.sorted.len().saturating_sub(1)));
        ends.into_iter().all(|end| at(end).is_some_and(|m| (price - m).abs() <= PRICE_FACTOR.ln()))
    }
}

fn outlier(at: usize, value: f64, others: Vec<f64>, factor: f64) -> Option<Outlier> {
    let (usual, deviation) = middle(others);
    let apart = value - usual;
    (apart.abs() > factor.ln().max(DEVIATIONS * deviation)).then(|| Outlier {
        at,
        unit: unit_of(apart.exp(), &OF_PURCHASES, NEAR),
        ratio: apart.exp(),
    })
}

/// Purchases of one farm and feed whose amount stands out among its others.
#[must_use]
pub fn amount_outliers(amounts: &[f64]) -> Vec<Outlier> {
    if amounts.len() <= LEAST {
        return Vec::new();
    }
    let logs: Vec<f64> = amounts.iter().map(|kg| kg.ln()).collect();
    let found = logs.iter().enumerate().filter_map(|(at, value)| {
        let others = logs.iter().enumerate().filter(|(other, _)| *other != at);
        outlier(at, *value, others.map(|(_, v)| *v).collect(), AMOUNT_FACTOR)
    });
    found.collect()
}

/// The usual figure of some; none below [`LEAST`].
#[must_use]
pub fn usual(mut values: Vec<f64>) -> Option<f64> {
    (values.len() >= LEAST).then(|| median(&mut values))
}
