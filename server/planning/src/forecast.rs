//! The seed that farms will take, by crop and week.

use crate::farm::{Day, Farm};
use crate::plan::{Growing, Span, plan};
use crate::standards::Standards;
use traybook_domain::kinds::CROPS;

/// Seed by crop (position in [`CROPS`], and last the seed whose crop nothing tells) and week.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SeedNeed {
    /// Grams of each week, by crop.
    pub by_crop: Vec<Vec<i64>>,
}

impl SeedNeed {
    /// Nothing, for so many weeks.
    #[must_use]
    pub fn none(weeks: usize) -> Self {
        Self { by_crop: vec![vec![0; weeks]; CROPS.len() + 1] }
    }

    /// Adds another.
    pub fn add(&mut self, other: &Self) {
        for (to, from) in self.by_crop.iter_mut().zip(&other.by_crop) {
            for (to, from) in to.iter_mut().zip(from) {
                *to += from;
            }
        }
    }

    /// Grams of a crop over all weeks.
    #[must_use]
    pub fn total(&self, crop: usize) -> i64 {
        self.by_crop.get(crop).map_or(0, |weeks| weeks.iter().sum())
    }
}

/// The seed that a farm's plan soaks in so many weeks from a day on.
///
/// # Units
/// Grams. Weeks are counted from `first`.
#[must_use]
pub fn seed_need(
    farm: &Farm,
    standards: &Standards,
    growing: &[Growing],
    first: Day,
    weeks: usize,
) -> SeedNeed {
    let mut need = SeedNeed::none(weeks);
    for soak in plan(farm, standards, growing, Span { first, days: weeks * 7 }).soaks {
        let crop = soak.crop.unwrap_or(CROPS.len());
        let week = usize::try_from((soak.day - first) / 7).unwrap_or(0);
        let slot = need.by_crop.get_mut(crop).and_then(|weeks| weeks.get_mut(week));
        if let Some(slot) = slot {
            *slot += soak.seed_g;
        }
    }
    need
}
