//! Who keeps spoiling? A chart of each farm's batches, of any size: three bad batches can raise a
//! flag, one cannot.

mod beta_binomial;
mod chart;
mod farm;
mod lot_levels;
mod shared;

pub use beta_binomial::{BetaBinomial, beta_binomial_ln, information};
pub use chart::{Chart, Charter, Step, step};
pub use farm::{FarmChart, FlagSource};
pub use lot_levels::{LOT_BAD, LotLevel, LotLevels, lot_levels};
pub use shared::{
    CORRELATION_FARMS_MIN, class_multipliers, rates, serial_correlation, share_ok, tray_correlation,
};

use serde::Serialize;

use crate::limits::TRAYS_MAX;
use crate::parallel::map_chunks;

/// One batch of trays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Batch {
    /// Number of the day on which it ended.
    pub day: i32,
    /// Trays begun.
    pub started: u32,
    /// Trays lost, not above `started`.
    pub discarded: u32,
    /// Position of its seed lot among all of the co-operative; none when not recorded.
    pub lot: Option<u32>,
    /// Position of the batch's temperature class; none when the temperature is not known.
    pub temperature_class: Option<u8>,
}

impl Batch {
    /// A batch that can be counted: some trays, not more lost than begun.
    #[inline]
    pub(crate) fn is_valid(&self) -> bool {
        (1..=TRAYS_MAX).contains(&self.started) && self.discarded <= self.started
    }

    /// Weight of a tray in a sum over batches whose trays correlate.
    fn weight(&self, correlation: f64) -> f64 {
        1.0 / (1.0 + (f64::from(self.started) - 1.0) * correlation)
    }
}

/// Least share of trays lost that a co-operative accepts, and the share that lots are held
/// against.
pub const SHARE_OK_MIN: f64 = 0.04;
/// What a farm must lose above the accepted share to be found.
pub const SHARE_GAP: f64 = 0.11;
/// Days over which a chart's information is summed.
pub const WINDOW_DAYS: i64 = 90;
/// A longer gap between batches begins the chart anew.
pub const RESET_DAYS: i64 = 90;
/// Quiet days from which a flag ranks below those of farms that grow.
pub const QUIET_DAYS: i64 = 28;
/// Days that the least number of batches is looked for in.
pub const RECENT_DAYS: i64 = 180;
/// Batches in [`RECENT_DAYS`] below which nothing is said.
pub const BATCHES_MIN: usize = 5;
/// Trays in [`RECENT_DAYS`] below which nothing is said.
pub const TRAYS_MIN: u64 = 8;
/// Batches a flag needs before it can be raised.
pub const FLAG_BATCHES_MIN: usize = 3;

/// What is said of a farm.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SpoilageStatus {
    /// The flag is up: batch after batch spoils.
    Recurring,
    /// The flag is up, and no batch ended for more than [`QUIET_DAYS`].
    RecurringQuiet,
    /// There would be a flag, but for lots that spoil on other farms too.
    RecurringLot,
    /// No batch, or none for more than [`RESET_DAYS`].
    NothingCounted,
    /// Too few batches or trays.
    InsufficientData,
    /// The last batch alone is very unlikely for a farm in order.
    OneBadBatch,
    /// The chart is half way to the flag.
    Watch,
    /// Nothing stands out.
    Ok,
}

impl SpoilageStatus {
    /// Whether the chart's flag is up.
    #[must_use]
    pub const fn is_flagged(self) -> bool {
        matches!(self, Self::Recurring | Self::RecurringQuiet)
    }
}

/// What the charts of all farms share.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Shared {
    /// Correlation between trays of a batch.
    pub correlation: f64,
    /// Correlation between trays of different batches of a farm within 28 days.
    pub serial: f64,
    /// Share of trays lost that is accepted.
    pub share_ok: f64,
    /// Multiplier of each temperature class, by position.
    pub class_multipliers: Vec<f64>,
}

impl Shared {
    /// Share of trays lost that must be found.
    #[must_use]
    pub fn share_bad(&self) -> f64 {
        self.share_ok + SHARE_GAP
    }

    /// Multiplier of a batch's temperature class; 1 when not known.
    fn class_multiplier(&self, batch: &Batch) -> f64 {
        let class = batch.temperature_class.map(usize::from);
        class.and_then(|c| self.class_multipliers.get(c)).copied().unwrap_or(1.0)
    }
}

/// All farms' charts and what they share.
#[derive(Debug, Clone, PartialEq)]
pub struct Spoilage {
    /// What the charts share.
    pub shared: Shared,
    /// How lots do on other farms.
    pub lots: LotLevels,
    /// One chart a farm, in the order given.
    pub farms: Vec<FarmChart>,
}

/// Charts all farms of a co-operative; each farm's batches in order of day, then id.
///
/// # Units
/// Chart values are logarithms of likelihood ratios; `today` is a day number as those of batches.
///
/// # Shape
/// One chart a farm. A batch that cannot be counted moves nothing.
///
/// # Source
/// Page 1954, Biometrika 41:100 (cumulative sum); Lorden 1971, Ann. Math. Stat. 42:1897 (bound on
/// false flags); Lucas & Crosier 1982, Commun. Stat. A 11:2669 (cap on one batch); SPEC-B.
///
/// # Example
/// ```
/// use traybook_analytics::spoilage::{Batch, SpoilageStatus, spoilage};
///
/// let farm = |lost: [u32; 8]| -> Vec<Batch> {
///     let days = (0..).step_by(7).zip(lost);
///     days.map(|(day, discarded)| Batch {
///         day, started: 20, discarded, lot: None, temperature_class: None,
///     }).collect()
/// };
/// let once = farm([0, 1, 0, 0, 1, 0, 12, 0]);
/// let often = farm([0, 1, 0, 0, 7, 6, 8, 7]);
/// let charts = spoilage(&[once, often], 50).farms;
/// assert_ne!(charts[0].status, SpoilageStatus::Recurring);
/// assert_eq!(charts[1].status, SpoilageStatus::Recurring);
/// ```
pub fn spoilage<B: AsRef<[Batch]> + Sync>(farms: &[B], today: i32) -> Spoilage {
    let correlation = tray_correlation(farms);
    let class_multipliers = class_multipliers(farms);
    let lots = lot_levels(farms, correlation);
    let share_ok = share_ok(&rates(farms, &lots, today));
    let serial = serial_correlation(farms, &lots, correlation, CORRELATION_FARMS_MIN);
    let shared = Shared { correlation, serial, share_ok, class_multipliers };
    let charter = Charter::new(&shared);
    let charts = map_chunks(farms.len(), |range| {
        let mut charter = charter.clone();
        let one = |k: usize| charter.farm(farms[k].as_ref(), |lot| lots.of(k, lot), today);
        range.map(one).collect::<Vec<_>>()
    });
    Spoilage { shared, lots, farms: charts.into_iter().flatten().collect() }
}
