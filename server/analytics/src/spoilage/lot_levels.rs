//! How a farm's seed lots do on other farms.

use super::{Batch, SHARE_OK_MIN};
use crate::limits::LOT_POSITIONS_MAX;
use crate::parallel::map_chunks;
use serde::Serialize;

/// Trays at [`SHARE_OK_MIN`] that every lot and every farm is mixed with: one lost tray.
const PRIOR_TRAYS: f64 = 25.0;
/// Other farms that a lot must have been grown on.
pub(super) const OTHER_FARMS_MIN: u32 = 2;
/// Largest multiplier.
const MULTIPLIER_MAX: f64 = 6.0;
/// From this multiplier on a batch says nothing about the farm.
pub const LOT_BAD: f64 = 2.0;

/// How a lot does on farms other than one.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LotLevel {
    /// What the expected share lost is multiplied with; 1 or more.
    pub multiplier: f64,
    /// Other farms that grew it.
    pub other_farms: u32,
}

impl LotLevel {
    /// Of a lot that was not recorded, or not seen elsewhere.
    pub const UNKNOWN: Self = Self { multiplier: 1.0, other_farms: 0 };

    /// Whether its batches say nothing about the farm.
    #[must_use]
    pub fn is_bad(&self) -> bool {
        self.multiplier >= LOT_BAD
    }
}

/// The lots of all farms, each farm's as they do on the others.
#[derive(Debug, Clone, PartialEq)]
pub struct LotLevels {
    farms: Vec<Vec<(u32, LotLevel)>>,
}

impl LotLevels {
    /// A farm's lots, in the order in which it first grew them.
    #[must_use]
    pub fn farm(&self, farm: usize) -> &[(u32, LotLevel)] {
        self.farms.get(farm).map_or(&[], Vec::as_slice)
    }

    /// One lot of a farm.
    #[must_use]
    pub fn of(&self, farm: usize, lot: Option<u32>) -> LotLevel {
        let Some(lot) = lot else { return LotLevel::UNKNOWN };
        let known = self.farm(farm).iter().rev().find(|(of, _)| *of == lot);
        known.map_or(LotLevel::UNKNOWN, |(_, level)| *level)
    }

    /// The lots of a farm's batches; a lot is mostly that of the batch before.
    pub(super) fn each<'a>(
        &'a self,
        farm: usize,
        batches: &'a [Batch],
    ) -> impl Iterator<Item = (&'a Batch, LotLevel)> {
        let mut last = (None, LotLevel::UNKNOWN);
        batches.iter().map(move |batch| {
            if batch.lot != last.0 {
                last = (batch.lot, self.of(farm, batch.lot));
            }
            (batch, last.1)
        })
    }
}

/// Weighted trays of one lot on one farm.
#[derive(Clone, Copy)]
struct Share {
    lot: Option<u32>,
    lost: f64,
    trays: f64,
    /// What the farm loses of so many trays on its other lots; not below [`SHARE_OK_MIN`].
    expected: f64,
}

/// One farm's lots, each held against the farm's rate on its other lots.
fn shares(batches: &[Batch], correlation: f64) -> Vec<Share> {
    let mut all: Vec<Share> = Vec::new();
    let (mut lost, mut trays) = (0.0, 0.0);
    for b in batches.iter().filter(|b| b.is_valid()) {
        let w = b.weight(correlation);
        let (d, n) = (w * f64::from(b.discarded), w * f64::from(b.started));
        lost += d;
        trays += n;
        match all.iter_mut().rev().find(|s| s.lot == b.lot) {
            Some(s) => (s.lost, s.trays) = (s.lost + d, s.trays + n),
            None => all.push(Share { lot: b.lot, lost: d, trays: n, expected: 0.0 }),
        }
    }
    let prior = PRIOR_TRAYS * SHARE_OK_MIN;
    for s in &mut all {
        let rate = (lost - s.lost + prior) / ((trays - s.trays) * SHARE_OK_MIN + prior);
        s.expected = s.trays * SHARE_OK_MIN * rate.max(1.0);
    }
    all
}

/// Multiplier of each farm's expected share lost by lot, from how the lot does on other farms,
/// each of them held against its own rate on its other lots.
///
/// # Shape
/// Never below 1; 1 for a lot that fewer than two other farms grew, and beyond so many lots.
///
/// # Source
/// House rule: ratio of lost to expected trays with one tray of prior, the own farm left out;
/// SPEC-B.
pub fn lot_levels<B: AsRef<[Batch]> + Sync>(farms: &[B], correlation: f64) -> LotLevels {
    let parts = map_chunks(farms.len(), |range| {
        farms[range].iter().map(|b| shares(b.as_ref(), correlation)).collect::<Vec<_>>()
    });
    let by_farm: Vec<Vec<Share>> = parts.into_iter().flatten().collect();
    let known = |s: &Share| s.lot.filter(|lot| *lot < LOT_POSITIONS_MAX);
    let last = by_farm.iter().flatten().filter_map(known).max();
    let mut totals = vec![(0.0, 0.0, 0_u32); last.map_or(0, |last| last as usize + 1)];
    for s in by_farm.iter().flatten() {
        let Some(lot) = known(s) else { continue };
        let total = &mut totals[lot as usize];
        *total = (total.0 + s.lost, total.1 + s.expected, total.2 + 1);
    }
    let prior = PRIOR_TRAYS * SHARE_OK_MIN;
    let level = |s: &Share| {
        let lot = s.lot?;
        let (lost, expected, farms) = totals.get(lot as usize).copied()?;
        let other_farms = farms.saturating_sub(1);
        let ratio = (lost - s.lost + prior) / (expected - s.expected + prior);
        let is_told = other_farms >= OTHER_FARMS_MIN;
        let multiplier = if is_told { ratio.clamp(1.0, MULTIPLIER_MAX) } else { 1.0 };
        Some((lot, LotLevel { multiplier, other_farms }))
    };
    let parts = map_chunks(by_farm.len(), |range| {
        let levels = |shares: &Vec<Share>| shares.iter().filter_map(level).collect::<Vec<_>>();
        by_farm[range].iter().map(levels).collect::<Vec<_>>()
    });
    LotLevels { farms: parts.into_iter().flatten().collect() }
}
