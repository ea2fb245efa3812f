//! The seed that farms will take, by crop and day, and what of it must be issued to them.

use crate::farm::Day;
use crate::work::{Asked, Scene};
use traybook_domain::kinds::CROPS;
use traybook_domain::seed::seed_stock::days_covered;

/// Crops, and last the seed whose crop nothing tells.
pub const CROP_SLOTS: usize = CROPS.len() + 1;

/// Grams by crop and day.
pub type ByCropAndDay = Vec<Vec<i64>>;

/// A farm's seed over some days.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SeedNeed {
    /// What its plan soaks.
    pub need: ByCropAndDay,
    /// What of it the seed on the farm does not cover: it must be issued by that day.
    pub issue: ByCropAndDay,
    /// Seed on the farm that may be used, by crop.
    pub on_farm: Vec<i64>,
    /// First day, by crop, for whose soak the seed on the farm does not suffice.
    pub empty_on: Vec<Option<Day>>,
}

/// The seed that a farm's plan takes in so many days from today on.
///
/// # Units
/// Grams. Held lots and negative stock count as nothing.
#[must_use]
pub fn seed_need(scene: &Scene, asked: &Asked<'_>, days: usize) -> SeedNeed {
    let mut on_farm = vec![0; CROP_SLOTS];
    for lot in scene.stock.iter().filter(|s| s.grams > 0 && !(asked.is_held)(s.lot)) {
        if let Some(slot) = on_farm.get_mut(lot.crop) {
            *slot += lot.grams;
        }
    }
    let mut made = SeedNeed {
        need: vec![vec![0; days]; CROP_SLOTS],
        issue: vec![vec![0; days]; CROP_SLOTS],
        on_farm: on_farm.clone(),
        empty_on: vec![None; CROP_SLOTS],
    };
    let today = asked.today();
    for soak in scene.plan(asked, days).soaks {
        let crop = soak.crop.unwrap_or(CROPS.len());
        let Ok(at) = usize::try_from(soak.day - today) else { continue };
        put(&mut made.need, crop, at, soak.seed_g);
        let Some(left) = on_farm.get_mut(crop) else { continue };
        let missing = (soak.seed_g - *left).max(0);
        *left = (*left - soak.seed_g).max(0);
        if missing > 0 {
            put(&mut made.issue, crop, at, missing);
            if let Some(slot) = made.empty_on.get_mut(crop) {
                slot.get_or_insert(soak.day);
            }
        }
    }
    made
}

fn put(to: &mut ByCropAndDay, crop: usize, at: usize, grams: i64) {
    if let Some(slot) = to.get_mut(crop).and_then(|days| days.get_mut(at)) {
        *slot += grams;
    }
}

/// Adds what one farm takes to what others take.
pub fn add(to: &mut ByCropAndDay, from: &ByCropAndDay) {
    for (to, from) in to.iter_mut().zip(from) {
        for (to, from) in to.iter_mut().zip(from) {
            *to += from;
        }
    }
}

/// When a store is empty, and when seed must be ordered so that it never is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StoreOutlook {
    /// First day, counted from today, whose issues the store does not cover.
    pub empty_on: Option<usize>,
    /// First day on which less is left than is issued until the new seed comes, with the safety
    /// stock: the day to order. None where that lies beyond the days looked at.
    pub order_on: Option<usize>,
}

/// The outlook of a store that issues so much on each day.
///
/// # Units
/// Grams; days. `lead_days` from order to delivery. The last `lead_days` of `issues` are looked
/// ahead from, not ordered for: beyond them nothing is known.
///
/// ```
/// use traybook_planning::forecast::outlook;
///
/// // 100 kg in the store, 40 kg issued a day, seed comes the day after it is ordered.
/// let store = outlook(100_000, &[40_000; 4], 1, 0);
/// assert_eq!(store.empty_on, Some(2));
/// assert_eq!(store.order_on, Some(1));
/// ```
#[must_use]
pub fn outlook(stock: i64, issues: &[i64], lead_days: usize, safety: i64) -> StoreOutlook {
    let mut sums = Vec::with_capacity(issues.len() + 1);
    let mut total = 0;
    sums.push(0);
    for grams in issues {
        total += grams;
        sums.push(total);
    }
    let empty_on = days_covered(stock, issues);
    let order_on = (0..issues.len()).find(|day| {
        let by_delivery = sums.get((day + lead_days + 1).min(issues.len())).copied();
        by_delivery.is_some_and(|needed| needed > 0 && stock - needed < safety)
    });
    StoreOutlook { empty_on, order_on }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn store_is_ordered_for_in_time() {
        // 100 kg, 10 kg a day: empty on the tenth day after today (counted 10). With a lead time
        // of 4 days and no safety stock it is ordered on the day from which 5 days' issues just
        // remain: the sixth.
        let issues = [10_000; 30];
        let made = outlook(100_000, &issues, 4, 0);
        assert_eq!(made, StoreOutlook { empty_on: Some(10), order_on: Some(6) });
        // Simulated: ordered on that day, it comes on day 10 and nobody waits.
        let mut stock = 100_000;
        for (day, grams) in issues.iter().enumerate() {
            if day == 6 + 4 {
                stock += 200_000;
            }
            stock -= grams;
            assert!(stock >= 0, "empty on day {day}");
        }
        // A safety stock of 20 kg brings it two days forward.
        assert_eq!(outlook(100_000, &issues, 4, 20_000).order_on, Some(4));
        // Nothing issued, nothing ordered; a store that is short now is ordered for today.
        assert_eq!(outlook(0, &[0; 30], 4, 20_000).order_on, None);
        assert_eq!(
            outlook(0, &issues, 4, 0),
            StoreOutlook { empty_on: Some(0), order_on: Some(0) }
        );
        assert_eq!(outlook(1_000_000, &issues, 4, 0).order_on, None);
    }
}
