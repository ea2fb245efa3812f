//! A farm's two charts: as its batches are, and with what its lots do elsewhere.

use super::{Batch, Chart, Charter, LotLevel, SpoilageStatus, lot_levels::OTHER_FARMS_MIN};
use serde::Serialize;

/// Where a flag points.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum FlagSource {
    /// At the farm: other lots, or the same on other farms, say so.
    Farm,
    /// At the farm or at one lot that hardly another farm grew.
    FarmOrLot,
    /// At lots that spoil on other farms too.
    SeedLot,
}

/// What is said of a farm or a shed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FarmChart {
    /// What is said.
    pub status: SpoilageStatus,
    /// Where a flag points; none without one.
    pub source: Option<FlagSource>,
    /// The chart that rules: with what lots do elsewhere.
    pub chart: Chart,
    /// The chart as the batches are, where it differs.
    pub raw: Option<Chart>,
}

impl FarmChart {
    /// What ranks farms with the same kind of status: how far the chart is above what raises a
    /// flag.
    #[must_use]
    pub fn excess(&self) -> f64 {
        self.chart.threshold.map_or(f64::MIN, |h| self.chart.value - h)
    }

    /// The chart that shows why: the raw one where lots are to blame.
    #[must_use]
    pub fn shown(&self) -> &Chart {
        match (&self.raw, self.status) {
            (Some(raw), SpoilageStatus::RecurringLot) => raw,
            _ => &self.chart,
        }
    }
}

impl Charter {
    /// Charts one farm or shed; `level` gives how a lot does on other farms. The steps kept are
    /// those of the chart that rules.
    pub fn farm(
        &mut self,
        batches: &[Batch],
        level: impl Fn(Option<u32>) -> LotLevel,
        today: i32,
    ) -> FarmChart {
        let shared = self.shared().clone();
        let class = |j: usize| batches.get(j).map_or(1.0, |b| shared.class_multiplier(b));
        let mut last = (None, level(None));
        let of_batch = |b: &Batch| {
            if b.lot != last.0 {
                last = (b.lot, level(b.lot));
            }
            last.1
        };
        let levels: Vec<LotLevel> = batches.iter().map(of_batch).collect();
        let is_plain = levels.iter().all(|l| l.multiplier <= 1.0);
        let raw = (!is_plain).then(|| self.chart(batches, |j| Some(class(j)), today));
        let of = |j: usize| {
            let level = levels.get(j).copied().unwrap_or(LotLevel::UNKNOWN);
            (!level.is_bad()).then(|| class(j) * level.multiplier)
        };
        let chart = self.chart(batches, of, today);
        let is_raw_up = raw.as_ref().is_some_and(|raw| raw.status.is_flagged());
        let (status, source) = if chart.status.is_flagged() {
            (chart.status, Some(self.source(batches, &levels, &chart)))
        } else if is_raw_up {
            (SpoilageStatus::RecurringLot, Some(FlagSource::SeedLot))
        } else {
            (chart.status, None)
        };
        FarmChart { status, source, chart, raw }
    }

    /// Whether one lot that hardly another farm grew carries a flag.
    fn source(&self, batches: &[Batch], levels: &[LotLevel], chart: &Chart) -> FlagSource {
        let from = chart.zero.map_or(0, |zero| zero + 1);
        let mut by_lot: Vec<(Option<u32>, u32, f64)> = Vec::new();
        for ((batch, level), step) in batches.iter().zip(levels).zip(&self.steps).skip(from) {
            if step.evidence <= 0.0 {
                continue;
            }
            match by_lot.iter_mut().find(|(lot, ..)| *lot == batch.lot) {
                Some((.., sum)) => *sum += step.evidence,
                None => by_lot.push((batch.lot, level.other_farms, step.evidence)),
            }
        }
        let total: f64 = by_lot.iter().map(|(.., sum)| sum).sum();
        // Of lots with the same evidence the one that is least known elsewhere.
        let top = by_lot.iter().max_by(|a, b| a.2.total_cmp(&b.2).then(b.1.cmp(&a.1)));
        let Some((_, other_farms, sum)) = top else { return FlagSource::Farm };
        let is_carried = total - sum < chart.threshold.unwrap_or(0.0) / 2.0;
        if is_carried && *other_farms < OTHER_FARMS_MIN {
            FlagSource::FarmOrLot
        } else {
            FlagSource::Farm
        }
    }
}
