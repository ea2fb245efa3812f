//! The co-operative's median price of a feed in each month.

use crate::stats::median;

/// Months a median stays usable.
const MONTHS_BACK: usize = 3;
/// Purchases that a month's median needs.
const PURCHASES_MIN: usize = 3;

/// One purchase of the co-operative, for its medians.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PricedPurchase {
    /// Position of the feed.
    pub feed: usize,
    /// Month; one outside the panel counts in the median of all purchases only.
    pub month: usize,
    /// Amount in kg.
    pub kg: f64,
    /// Money paid.
    pub cost: f64,
}

/// Median price a kg of each feed and month.
///
/// Of the month's purchases when there are three, else of the last month within three that has
/// such a median, else of all purchases of the feed.
///
/// # Units
/// Money a kg.
///
/// # Shape
/// Feeds x months, feed by feed. A purchase without a price counts nowhere: a gift is not a
/// price of 0. None for a feed without any priced purchase.
pub fn price_medians(
    purchases: &[PricedPurchase],
    feeds: usize,
    months: usize,
) -> Vec<Option<f64>> {
    let is_priced = |p: &&PricedPurchase| p.feed < feeds && p.kg > 0.0 && p.cost > 0.0;
    let mut priced: Vec<(usize, usize, f64)> = purchases
        .iter()
        .filter(is_priced)
        .map(|p| (p.feed, p.month, p.cost / p.kg))
        .filter(|p| p.2.is_finite())
        .collect();
    priced.sort_unstable_by_key(|p| (p.0, p.1));
    let mut answer = Vec::with_capacity(feeds * months);
    let mut own = vec![None; months];
    for feed in 0..feeds {
        let from = priced.partition_point(|p| p.0 < feed);
        let to = priced.partition_point(|p| p.0 <= feed);
        let rows = &priced[from..to];
        own.fill(None);
        for group in rows.chunk_by(|a, b| a.1 == b.1).filter(|g| g.len() >= PURCHASES_MIN) {
            if let Some(slot) = group.first().and_then(|p| own.get_mut(p.1)) {
                *slot = median(&mut group.iter().map(|p| p.2).collect::<Vec<f64>>());
            }
        }
        let all = median(&mut rows.iter().map(|p| p.2).collect::<Vec<f64>>());
        answer.extend((0..months).map(|t| {
            let recent = own[t.saturating_sub(MONTHS_BACK)..=t].iter().rev();
            recent.copied().flatten().next().or(all)
        }));
    }
    answer
}
