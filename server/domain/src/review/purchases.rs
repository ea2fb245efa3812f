//! Prices far from those of other farms, and amounts far from the farm's own.

use super::units::{NEAR, OF_PURCHASES, median, middle, unit_of};
use std::collections::{BTreeMap, HashMap};

/// Days to each side whose prices a purchase is held against, and those where there are too few.
pub const NEAR_DAYS: [i64; 2] = [90, 365];
/// Purchases without which nothing is said.
pub const LEAST: usize = 5;
/// Least factor off the other farms' price: markets spread by 10 to 20 %.
pub const PRICE_FACTOR: f64 = 2.0;
/// Least factor off the farm's own amounts: a small farm buys one bag now and five then.
pub const AMOUNT_FACTOR: f64 = 5.0;
/// Robust standard deviations beyond which chance is not it.
const DEVIATIONS: f64 = 6.0;

/// A purchase of one feed. Only those with an amount and a cost are held against others.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bought {
    /// Farm, by number.
    pub farm: usize,
    /// Day, by number.
    pub day: i64,
    /// Cost of a kilogram, in any one unit.
    pub price: f64,
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

/// The log prices of one feed around a day, in order.
struct Around {
    sorted: Vec<f64>,
    of_farm: HashMap<usize, Vec<f64>>,
}

impl Around {
    /// `all` in order of day.
    fn new(all: &[Bought], day: i64, days: i64) -> Self {
        let from = all.partition_point(|b| b.day < day - days);
        let to = all.partition_point(|b| b.day <= day + days);
        let near = all.get(from..to).unwrap_or_default();
        let mut sorted: Vec<f64> = near.iter().map(|b| b.price.ln()).collect();
        sorted.sort_by(f64::total_cmp);
        let mut of_farm: HashMap<usize, Vec<f64>> = HashMap::new();
        for bought in near {
            of_farm.entry(bought.farm).or_default().push(bought.price.ln());
        }
        Self { sorted, of_farm }
    }

    fn own(&self, farm: usize) -> usize {
        self.of_farm.get(&farm).map_or(0, Vec::len)
    }

    /// Whether a price is surely within the factor of the others' median, wherever the farm's own
    /// purchases lie in the order: most are, and need no median of their own.
    fn is_near(&self, price: f64, own: usize) -> bool {
        let others = self.sorted.len() - own;
        let ends = [others.saturating_sub(1) / 2, others / 2 + own];
        let at = |end: usize| self.sorted.get(end.min(self.sorted.len().saturating_sub(1)));
        ends.into_iter().all(|end| at(end).is_some_and(|m| (price - m).abs() <= PRICE_FACTOR.ln()))
    }

    fn others(&self, farm: usize) -> Vec<f64> {
        let mut own = self.of_farm.get(&farm).cloned().unwrap_or_default();
        own.sort_by(f64::total_cmp);
        let mut own = own.into_iter().peekable();
        let is_other = |price: &f64| {
            let is_own = own.peek().is_some_and(|o| o.total_cmp(price).is_eq());
            if is_own {
                own.next();
            }
            !is_own
        };
        self.sorted.iter().copied().filter(is_other).collect()
    }
}

/// Purchases of one feed whose price stands out among those of other farms; `all` in order of day.
/// Only those from `from` on are judged.
#[must_use]
pub fn price_outliers(all: &[Bought], from: i64) -> Vec<Outlier> {
    let mut days: BTreeMap<i64, Vec<usize>> = BTreeMap::new();
    for (at, bought) in all.iter().enumerate().filter(|(_, b)| b.day >= from) {
        days.entry(bought.day).or_default().push(at);
    }
    let mut found = Vec::new();
    for (day, those) in days {
        let mut near: [Option<Around>; 2] = [None, None];
        for at in those {
            let Some(bought) = all.get(at) else { continue };
            for (slot, days) in near.iter_mut().zip(NEAR_DAYS) {
                let around = slot.get_or_insert_with(|| Around::new(all, day, days));
                let own = around.own(bought.farm);
                if around.sorted.len() - own >= LEAST {
                    found.extend(price_outlier(at, bought, around, own));
                    break;
                }
            }
        }
    }
    found
}

fn price_outlier(at: usize, bought: &Bought, around: &Around, own: usize) -> Option<Outlier> {
    let price = bought.price.ln();
    if around.is_near(price, own) {
        return None;
    }
    outlier(at, price, around.others(bought.farm), PRICE_FACTOR)
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
