//! What closes froze: the baseline of each farm and class, and prices and index of each month.

use super::axis::Axis;
use crate::error::AppError;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, HashMap};
use traybook_analytics::feed_saving::FrozenBaseline;
use traybook_domain::Month;
use traybook_storage::records::farm_rows::Farms;
use traybook_storage::{Conn, savings::months};
use uuid::Uuid;

/// A farm's baseline as it stood at the first close after its start.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct Baseline {
    /// kg per head and day at index 1, by feed.
    pub basket: BTreeMap<Uuid, f64>,
    /// Weight of each month in it, by the month's number.
    pub weights: BTreeMap<i64, f64>,
    /// Weight of the stated ration.
    pub ration_weight: f64,
    /// Whether the season was taken out.
    pub is_adjusted: bool,
    /// What stands for the records before the start: while it is the same, the baseline stays.
    pub records: Uuid,
}

/// Which baselines a panel takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Version {
    /// Those of open months: the last one, unless records before the start have changed since.
    Open,
    /// Those that closes froze first, second and so on; the last where there are fewer.
    Frozen(usize),
}

/// A month as it was closed.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct ClosedMonth {
    /// Median prices, minor units a kg, by feed.
    pub medians: BTreeMap<Uuid, f64>,
    /// Index by class of animal.
    pub index: BTreeMap<String, f64>,
}

/// All that is frozen.
#[derive(Default)]
pub(super) struct Frozen {
    months: BTreeMap<Month, ClosedMonth>,
    /// Of each farm and class, the oldest first, with the close that froze it.
    baselines: HashMap<(Uuid, String), Vec<(Month, Baseline)>>,
}

impl Frozen {
    pub fn read(conn: &mut Conn, coop: i64, of: Farms<'_>) -> Result<Self, AppError> {
        let mut frozen = Self::default();
        for (month, body) in months::frozen(conn, coop)? {
            frozen.months.insert(month, read(&body)?);
        }
        for (farm, class, month, body) in months::baselines(conn, coop, of)? {
            frozen.baselines.entry((farm, class)).or_default().push((month, read(&body)?));
        }
        Ok(frozen)
    }

    fn versions(&self, farm: Uuid, class: &str) -> &[(Month, Baseline)] {
        self.baselines.get(&(farm, class.to_owned())).map_or(&[], Vec::as_slice)
    }

    /// A farm's baseline for a panel; `records` stands for its records before the start.
    pub fn baseline(
        &self,
        (farm, class, records): (Uuid, &str, Uuid),
        version: Version,
        feeds: &[Uuid],
        axis: &Axis,
    ) -> Option<FrozenBaseline> {
        let all = self.versions(farm, class);
        let (_, kept) = match version {
            Version::Open => all.last().filter(|(_, b)| b.records == records)?,
            Version::Frozen(rank) => all.get(rank).or_else(|| all.last())?,
        };
        let weight = |t| kept.weights.get(&axis.month(t).number()).copied().unwrap_or(0.0);
        Some(FrozenBaseline {
            basket: feeds.iter().map(|f| kept.basket.get(f).copied().unwrap_or(0.0)).collect(),
            weights: (0..axis.months()).map(weight).collect(),
            ration_weight: kept.ration_weight,
            is_adjusted: kept.is_adjusted,
        })
    }

    /// Whether a farm's baseline is frozen as its records are.
    pub fn has(&self, farm: Uuid, class: &str, records: Uuid) -> bool {
        self.versions(farm, class).last().is_some_and(|(_, b)| b.records == records)
    }

    /// How many frozen versions panels are needed for; none where open months take the same.
    pub fn ranks(&self, records: &HashMap<Uuid, Uuid>) -> usize {
        let is_other = |((farm, _), all): (&(Uuid, String), &Vec<(Month, Baseline)>)| {
            let is_same = |b: &Baseline| records.get(farm).is_none_or(|r| *r == b.records);
            (all.len() > 1 || !all.iter().all(|(_, b)| is_same(b))).then_some(all.len())
        };
        self.baselines.iter().filter_map(is_other).max().unwrap_or(0)
    }

    /// Which version a closed month of a farm was made with; none where nothing was frozen by then.
    pub fn rank(&self, farm: Uuid, class: &str, month: Month) -> Option<usize> {
        self.versions(farm, class).iter().rposition(|(frozen_in, _)| *frozen_in <= month)
    }

    /// The index of closed months.
    pub fn index(&self, class: &str, axis: &Axis) -> Vec<Option<f64>> {
        let of = |t| self.months.get(&axis.month(t))?.index.get(class).copied();
        (0..axis.months()).map(of).collect()
    }

    /// Puts the medians of closed months in the place of those of today.
    pub fn put_medians(&self, medians: &mut HashMap<Uuid, Vec<Option<f64>>>, axis: &Axis) {
        for (month, closed) in &self.months {
            let Some(t) = axis.at(*month) else { continue };
            for (feed, price) in &closed.medians {
                let of_feed = medians.entry(*feed).or_insert_with(|| vec![None; axis.months()]);
                if let Some(slot) = of_feed.get_mut(t) {
                    *slot = Some(*price);
                }
            }
        }
    }
}

fn read<'a, T: Deserialize<'a>>(body: &'a str) -> Result<T, AppError> {
    serde_json::from_str(body).map_err(|e| AppError::Internal(e.to_string()))
}
