//! Did output change, who keeps spoiling, which seed lots, what was saved since the start, whom to
//! visit.
//!
//! All but the visit list are read from snapshots: `revision` and `made_at` say of which state and
//! minute the figures are.

pub use crate::output::*;

use crate::Decimal;
use crate::savings::{Interval, SinceStart, Status};
use crate::wire::{Month, Time};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// Which state the figures are of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct AsOf {
    /// Revision of the co-operative's records; none before the figures were first made.
    pub revision: Option<i64>,
    /// When they were made.
    pub made_at: Option<Time>,
}

choice! {
    /// What a farm sells.
    Enterprise {
        /// Litres per cow-day.
        Milk = "milk",
        /// Eggs per hen-day.
        Eggs = "eggs",
    }
}

/// A range, 95 %.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Range {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// A farm and whose it is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FarmOfMember {
    /// Farm.
    pub farm_id: Uuid,
    /// Its code.
    pub farm: String,
    /// Membership number.
    pub member_number: String,
    /// Name of the member.
    pub member_name: String,
    /// Name of the area.
    pub area: Option<String>,
}

choice! {
    /// What is said of a farm's trays.
    SpoilageStatus {
        /// A flag is up.
        Recurring = "recurring",
        /// Too few batches.
        InsufficientData = "insufficient_data",
        /// One bad batch.
        OneBadBatch = "one_bad_batch",
        /// On the way to a flag.
        Watch = "watch",
        /// In order.
        Ok = "ok",
    }
}

choice! {
    /// Where the evidence points.
    PointsAt {
        /// Without batches of suspect lots there is no flag.
        SeedLot = "seed_lot",
        /// The flag stays without them.
        Farm = "farm",
    }
}

/// The spoilage of a farm.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SpoilageFigures {
    /// What is said.
    pub status: SpoilageStatus,
    /// Where a flag points.
    pub points_at: Option<PointsAt>,
    /// Logarithm of the likelihood ratio; a flag goes up at 6.
    pub chart_value: f64,
    /// Batches in the chart.
    pub batches_used: u64,
    /// Trays spread.
    pub trays_spread: i64,
    /// Trays discarded.
    pub trays_discarded: i64,
    /// Batch that raised the flag.
    pub flagged_since_batch_id: Option<Uuid>,
    /// Batches that raised it together.
    pub raised_by_batch_ids: Vec<Uuid>,
    /// In words, English.
    pub sentence: String,
}

/// A farm with its spoilage.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FarmSpoilage {
    /// The farm.
    #[serde(flatten)]
    pub of: FarmOfMember,
    /// The figures.
    #[serde(flatten)]
    pub figures: SpoilageFigures,
}

/// Every farm's spoilage, the strongest evidence first.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Spoilage {
    /// How it is charted.
    pub method: String,
    /// Units of the figures.
    pub units: String,
    /// What mould means.
    pub caution: String,
    /// Which state the figures are of.
    #[serde(flatten)]
    pub as_of: AsOf,
    /// Correlation between the trays of a batch; none before the figures were first made.
    pub tray_correlation: Option<f64>,
    /// Farms.
    pub farms: Vec<FarmSpoilage>,
    /// Farms whose spoilage is recurring, also those that are not listed.
    pub recurring: u64,
}

/// One batch of a farm's chart.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ChartedBatch {
    /// Batch.
    pub batch_id: Uuid,
    /// Day of its soak.
    pub soaked_on: NaiveDate,
    /// Trays spread.
    pub trays_spread: i64,
    /// Trays discarded.
    pub trays_discarded: i64,
    /// Code of its seed lot.
    pub seed_lot: Option<String>,
    /// The chart after it.
    pub chart_value: f64,
    /// Whether it is one of those that raised the flag.
    pub raised_the_flag: bool,
}

/// One farm's chart with the batches behind it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FarmChart {
    /// The farm and its figures.
    #[serde(flatten)]
    pub farm: FarmSpoilage,
    /// Its batches, oldest first.
    pub path: Vec<ChartedBatch>,
    /// How it is charted.
    pub method: String,
    /// What mould means.
    pub caution: String,
    /// Which state the figures shared with other farms are of; the batches are those of now.
    #[serde(flatten)]
    pub as_of: AsOf,
}

choice! {
    /// Whether the evidence points at seed lots.
    LotVerdict {
        /// At lots.
        SeedLot = "seed_lot",
        /// At farms.
        Farm = "farm",
        /// At both.
        Both = "both",
        /// At neither.
        Neither = "neither",
        /// The two can not be told apart.
        NotIdentifiable = "not_identifiable",
    }
}

/// A farm where a lot grows.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct GrowingAt {
    /// Farm.
    pub farm_id: Uuid,
    /// Its code.
    pub farm: String,
}

/// What is held against a lot.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LotEvidence {
    /// Lot.
    pub seed_lot_id: Option<Uuid>,
    /// Its code.
    pub seed_lot: Option<String>,
    /// Crop.
    pub crop: Option<String>,
    /// Name of the supplier.
    pub supplier: Option<String>,
    /// Whether it is named as suspect.
    pub is_suspect: bool,
    /// Effect on the arcsine root of the share of trays discarded.
    pub effect: f64,
    /// One-sided probability of such an effect by chance.
    pub p: f64,
    /// Batches.
    pub batches: u64,
    /// Farms.
    pub farms: u64,
    /// Farms with a batch of it that is not over.
    pub growing_at: Vec<GrowingAt>,
}

/// Whether the evidence of the last 90 days points at seed lots, at farms or at both.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SeedLotEvidence {
    /// How it is compared.
    pub method: String,
    /// Units of the effect.
    pub units: String,
    /// What mould means.
    pub caution: String,
    /// Which state the figures are of.
    #[serde(flatten)]
    pub as_of: AsOf,
    /// The verdict; none before the figures were first made.
    pub verdict: Option<LotVerdict>,
    /// In words, English.
    pub sentence: Option<String>,
    /// Probability of such differences between lots by chance.
    pub p_lots: Option<f64>,
    /// The same between farms.
    pub p_farms: Option<f64>,
    /// Lots.
    pub seed_lots: Vec<LotEvidence>,
}

/// What a farm saved, month by month and since its start. Money in currency units.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SavingFigures {
    /// All months with a number; null where the farm has not started.
    pub since_start: Option<SinceStart>,
    /// Its months since the start, the oldest first.
    pub months: Vec<SavingMonth>,
}

/// A farm's saving of a month. Money in currency units.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SavingMonth {
    /// The month.
    pub month: Month,
    /// Whether there is a number, or why not.
    pub status: Status,
    /// Saving, where all classes of animals have a number.
    pub saving: Option<Decimal>,
    /// Its 95 % interval.
    pub saving_interval: Option<Interval>,
}

/// A farm with its saving since the start.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FarmSavingEstimate {
    /// The farm.
    #[serde(flatten)]
    pub of: FarmOfMember,
    /// Day of the first soak.
    pub fodder_started_on: Option<NaiveDate>,
    /// The figures.
    #[serde(flatten)]
    pub figures: SavingFigures,
}

/// The saving of all farms together. Money in currency units.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ProgrammeSaving {
    /// All months with a number.
    pub since_start: Option<SinceStart>,
    /// Farms with a number in any month.
    pub farms_estimated: u64,
}

/// Every farm's saving since its start, and the co-operative's.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SavingEstimates {
    /// How it is estimated.
    pub method: String,
    /// Units of the figures.
    pub units: String,
    /// Currency, ISO 4217.
    pub currency: String,
    /// Which state the figures are of.
    #[serde(flatten)]
    pub as_of: AsOf,
    /// First month that is looked at.
    pub first_month: Option<Month>,
    /// The co-operative's; none before the figures were first made.
    pub programme: Option<ProgrammeSaving>,
    /// Farms, by code.
    pub farms: Vec<FarmSavingEstimate>,
}

choice! {
    /// Why to visit a farm.
    VisitReason {
        /// It has just started and was not seen since.
        NewStarter = "new_starter",
        /// Nothing was recorded for a whole month.
        NoRecords = "no_records",
        /// A follow-up is overdue.
        FollowUpOverdue = "follow_up_overdue",
        /// A flag is up.
        Flag = "flag",
    }
}

/// A reason to visit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Reason {
    /// Which.
    pub reason: VisitReason,
    /// Since when.
    pub since: NaiveDate,
    /// In words, English.
    pub sentence: String,
    /// What was to be done, of a follow-up.
    pub action: Option<String>,
}

/// A farm to visit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FarmToVisit {
    /// Farm.
    pub farm_id: Uuid,
    /// Its code.
    pub farm: String,
    /// Name of the area.
    pub area: Option<String>,
    /// How to find it.
    pub place: Option<String>,
    /// Name of the member.
    pub member_name: String,
    /// Day of the last visit.
    pub last_visit_on: Option<NaiveDate>,
    /// Why, the most pressing first.
    pub reasons: Vec<Reason>,
}

/// Whom to visit next, the most pressing first.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct VisitList {
    /// Farms.
    pub items: Vec<FarmToVisit>,
}
