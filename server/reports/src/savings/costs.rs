//! Prices and depreciation, in minor units.

use std::collections::HashMap;
use traybook_domain::savings::money::mul_div;
use traybook_domain::{Month, rations::feed};
use uuid::Uuid;

/// Minor units for 1,000 kg: whole numbers keep medians exact. `None` where nothing was bought.
#[must_use]
pub fn unit_price(grams: i64, minor: i64) -> Option<i64> {
    if grams > 0 { mul_div(minor, 1_000_000, grams) } else { None }
}

/// Median price of each feed over the farms that bought it; of an even number the mean of the
/// middle two.
#[must_use]
pub fn median_prices<'a>(bought: impl Iterator<Item = &'a (Uuid, i64, i64)>) -> HashMap<Uuid, i64> {
    let mut by_feed: HashMap<Uuid, Vec<i64>> = HashMap::new();
    for (feed, grams, minor) in bought {
        if let Some(price) = unit_price(*grams, *minor) {
            by_feed.entry(*feed).or_default().push(price);
        }
    }
    let median = |mut prices: Vec<i64>| {
        prices.sort_unstable();
        let middle = prices.len() / 2;
        let high = prices.get(middle).copied()?;
        let low =
            if prices.len().is_multiple_of(2) { prices.get(middle - 1).copied()? } else { high };
        mul_div(low + high, 1, 2)
    };
    by_feed.into_iter().filter_map(|(feed, prices)| Some((feed, median(prices)?))).collect()
}

/// Depreciation of a month of an asset.
///
/// The month of first use counts whole, the month of disposal and later ones not at all.
#[must_use]
pub fn depreciation(
    month: Month,
    in_service: Month,
    disposed: Option<Month>,
    value: (i64, i64),
    life_months: i64,
) -> i64 {
    if disposed.is_some_and(|d| d <= month) {
        return 0;
    }
    feed::straight_line(value.0, value.1, life_months, month.number() - in_service.number())
}
