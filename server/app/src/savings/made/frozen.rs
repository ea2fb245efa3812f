//! What closes froze: the baseline of each farm and class, and prices and index of each month.

use super::axis::Axis;
use crate::error::AppError;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, HashMap};
use traybook_analytics::feed_saving::FrozenBaseline;
use traybook_domain::Month;
use traybook_storage::farm_rows::Farms;
use traybook_storage::{Conn, months};
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
    baselines: HashMap<(Uuid, String), Baseline>,
}

impl Frozen {
    /// Reads it.
    ///
    /// # Errors
    /// Those of the store.
    pub fn read(conn: &mut Conn, coop: i64, of: Farms<'_>) -> Result<Self, AppError> {
        let mut frozen = Self::default();
        for (month, body) in months::frozen(conn, coop)? {
            frozen.months.insert(month, read(&body)?);
        }
        for (farm, class, body) in months::baselines(conn, coop, of)? {
            frozen.baselines.insert((farm, class), read(&body)?);
        }
        Ok(frozen)
    }

    /// A farm's baseline for a panel.
    pub fn baseline(
        &self,
        farm: Uuid,
        class: &str,
        feeds: &[Uuid],
        axis: &Axis,
    ) -> Option<FrozenBaseline> {
        let kept = self.baselines.get(&(farm, class.to_owned()))?;
        let weight = |t| kept.weights.get(&axis.month(t).number()).copied().unwrap_or(0.0);
        Some(FrozenBaseline {
            basket: feeds.iter().map(|f| kept.basket.get(f).copied().unwrap_or(0.0)).collect(),
            weights: (0..axis.months()).map(weight).collect(),
            ration_weight: kept.ration_weight,
            is_adjusted: kept.is_adjusted,
        })
    }

    /// Whether a farm's baseline is frozen.
    pub fn has(&self, farm: Uuid, class: &str) -> bool {
        self.baselines.contains_key(&(farm, class.to_owned()))
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
