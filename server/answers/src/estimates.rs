//! Did output change, who keeps spoiling, which seed lots, what was saved since the start, whom to
//! visit.
//!
//! All but the visit list are read from snapshots: `revision` and `made_at` say of which state and
//! minute the figures are.

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

choice! {
    /// Whether a farm's output change could be estimated, or why not.
    OutputStatus {
        /// The level of its records jumps for good: held back until they are corrected, or the
        /// change is accepted on the review list.
        CheckLevel = "check_level",
        /// The farm has not started.
        NotStarted = "not_started",
        /// Nothing was recorded before the start.
        NoPreData = "no_pre_data",
        /// Too few months or records before the start.
        InsufficientPre = "insufficient_pre",
        /// Too few months or records after the start.
        InsufficientPost = "insufficient_post",
        /// Too few farms that had not started in the same months.
        NoControls = "no_controls",
        /// Estimated.
        Estimated = "estimated",
    }
}

choice! {
    /// What is said of the direction. What was said before is kept while the chance of the wrong
    /// sign stays small.
    Verdict {
        /// Higher.
        Increase = "increase",
        /// Lower.
        Decrease = "decrease",
        /// Either may be: cannot tell yet.
        Unclear = "unclear",
    }
}

choice! {
    /// What a farm's months are compared with.
    Comparison {
        /// Farms that had not started in the same months.
        Waiting = "waiting",
        /// Farms that started long before, whose effect no longer changes: a weaker comparison, as
        /// that is assumed.
        Settled = "settled",
    }
}

choice! {
    /// What may have made a level jump.
    LevelCause {
        /// About half: one of two milkings, or half of the animals.
        Halved = "halved",
        /// About twice: counted twice, or twice the animals.
        Doubled = "doubled",
        /// About ten times: a decimal point left out.
        TenTimes = "ten_times",
        /// About a tenth.
        Tenth = "tenth",
        /// About a hundred times.
        HundredTimes = "hundred_times",
        /// About a hundredth.
        Hundredth = "hundredth",
        /// About thirty times: eggs for trays of thirty.
        ThirtyTimes = "thirty_times",
        /// About a thirtieth: trays of thirty for eggs.
        Thirtieth = "thirtieth",
        /// Nothing usual: another group, sold animals, a true change.
        Unknown = "unknown",
    }
}

choice! {
    /// Whether members stood lower or higher than usual just before they started.
    StartPoint {
        /// No.
        None = "none",
        /// Lower: the three months before the starts are left out.
        Low = "low",
        /// Higher: the three months before the starts are left out.
        High = "high",
        /// Fewer than five members could be looked at.
        NotChecked = "not_checked",
    }
}

choice! {
    /// Whether farms that started long before still move against those that have not started.
    DriftStatus {
        /// They do: no answer rests on them.
        Drifting = "drifting",
        /// They do not.
        Steady = "steady",
        /// It cannot be known.
        NotKnown = "not_known",
    }
}

choice! {
    /// Whether months with more fodder could be compared with months with less.
    DoseStatus {
        /// Fewer than 30 farm-months with known feeding.
        InsufficientDoseData = "insufficient_dose_data",
        /// The farms feed nearly the same each month.
        NoDoseVariation = "no_dose_variation",
        /// Next month's feeding goes with this month's output: feed follows output.
        DoseFollowsOutput = "dose_follows_output",
        /// Estimated; only if nobody fed less because of the output.
        Estimated = "estimated",
    }
}

/// A lasting jump in a farm's output.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LevelChange {
    /// First month of the new level.
    pub month: Month,
    /// New level over old level.
    pub factor: f64,
    /// What may have made it.
    pub likely: LevelCause,
}

/// Farms without an estimate, by reason.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct NotEstimated {
    /// Why.
    pub status: OutputStatus,
    /// Farms.
    pub farms: u64,
}

/// Months with more fodder against months with less, among farms that feed: a weaker answer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DoseAnswer {
    /// Whether it could be estimated.
    pub status: DoseStatus,
    /// Farms in it.
    pub farms: u64,
    /// Mean fodder, kg of dry matter an animal and day.
    pub mean_dose_kg: Option<f64>,
    /// Change at the mean, per cent.
    #[serde(flatten)]
    pub at_mean: Percent,
    /// In words, English.
    pub sentence: String,
}

/// What rests on an assumption that records cannot prove.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WeakerAnswers {
    /// What is assumed, English.
    pub assumption: String,
    /// Whether settled farms still move.
    pub settled_farms: DriftStatus,
    /// Their change a month, per cent, where it could be looked at.
    pub settled_change_a_month: Option<f64>,
    /// Farms compared with settled farms.
    pub farms_by_settled: u64,
    /// More fodder against less.
    pub dose: DoseAnswer,
}

/// A range, 95 %.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Range {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// The output change of a farm.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct OutputFigures {
    /// Whether there is an estimate.
    pub status: OutputStatus,
    /// Usable months before the start.
    pub months_before: u64,
    /// Records (group-days) in them.
    pub records_before: f64,
    /// Usable months after the start.
    pub months_after: u64,
    /// Records (group-days) in them.
    pub records_after: f64,
    /// Days of records left out as slips: more than four times, or less than a quarter of, the
    /// farm's usual.
    pub days_left_out: u64,
    /// Days with one milking only, which say nothing of a whole day.
    pub half_days: u64,
    /// Months most of whose records are far from the farm's usual: perhaps another unit.
    pub shifted_months: Vec<Month>,
    /// The lasting jump for which it is held back.
    pub level: Option<LevelChange>,
    /// Whether days in milk, or the age of the flock, are missing in most months.
    pub is_stage_missing: bool,
    /// What it is compared with.
    pub comparison: Option<Comparison>,
    /// In how many of 100 such cases the direction is right.
    pub sure_of_100: Option<f64>,
    /// Whether the estimate is pulled towards the group's.
    pub is_shrunken: bool,
    /// Place by estimate, 1 is the largest.
    pub rank: Option<u64>,
    /// What is said of the direction.
    pub verdict: Option<Verdict>,
    /// The same in words, English.
    pub sentence: String,
    /// Change, per cent.
    pub percent: Option<f64>,
    /// Lower end of the 95 % interval, per cent.
    pub low: Option<f64>,
    /// Upper end, per cent.
    pub high: Option<f64>,
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

/// A farm with its output change.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FarmOutputChange {
    /// The farm.
    #[serde(flatten)]
    pub of: FarmOfMember,
    /// Day of the first soak.
    pub fodder_started_on: Option<NaiveDate>,
    /// The figures.
    #[serde(flatten)]
    pub figures: OutputFigures,
}

/// The output change of one area.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct AreaOutputChange {
    /// Name of the area.
    pub area: Option<String>,
    /// Farms with an estimate.
    pub farms_estimated: u64,
    /// In words, English.
    pub sentence: String,
    /// Change, per cent.
    pub percent: Option<f64>,
    /// Lower end of the 95 % interval, per cent.
    pub low: Option<f64>,
    /// Upper end, per cent.
    pub high: Option<f64>,
}

/// An estimate in per cent.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Percent {
    /// Change, per cent.
    pub percent: Option<f64>,
    /// Lower end of the 95 % interval, per cent.
    pub low: Option<f64>,
    /// Upper end, per cent.
    pub high: Option<f64>,
}

/// The change in a month before the start, where there should be none.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BeforeStart {
    /// Months from the start, negative.
    pub months_from_start: i64,
    /// Change, per cent.
    pub percent: Option<f64>,
    /// Lower end of the 95 % interval, per cent.
    pub low: Option<f64>,
    /// Upper end, per cent.
    pub high: Option<f64>,
}

/// The output change of the co-operative.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ProgrammeOutputChange {
    /// Farms with an estimate.
    pub farms_estimated: u64,
    /// Months of farms after their start.
    pub farm_months: u64,
    /// Farms with records but without an estimate, by reason.
    pub not_estimated: Vec<NotEstimated>,
    /// Whether there are few comparison farms, so that errors rest on a model as well.
    pub has_few_comparisons: bool,
    /// Whether members started at a low or high point.
    pub start_point: StartPoint,
    /// Whether start and area go together, so that one cannot be told from the other.
    pub is_start_by_area: bool,
    /// Whether shocks that hit one area could be sized; else they are not in the interval.
    pub are_area_shocks_known: bool,
    /// What rests on assumptions.
    pub weaker: WeakerAnswers,
    /// In words, English.
    pub sentence: String,
    /// By another method (Callaway and Sant'Anna 2021).
    pub cross_check: Percent,
    /// Whether the two lie apart.
    pub is_cross_check_apart: bool,
    /// What to think of it then, English.
    pub warning: Option<String>,
    /// Months before the start.
    pub before_start: Vec<BeforeStart>,
    /// Change, per cent.
    pub percent: Option<f64>,
    /// Lower end of the 95 % interval, per cent.
    pub low: Option<f64>,
    /// Upper end, per cent.
    pub high: Option<f64>,
}

/// The output change of every farm, of areas and of the co-operative.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct OutputChange {
    /// Milk or eggs.
    pub enterprise: Enterprise,
    /// How it is estimated.
    pub method: String,
    /// Units of the figures.
    pub units: String,
    /// Which state the figures are of.
    #[serde(flatten)]
    pub as_of: AsOf,
    /// First month with a record.
    pub first_month: Option<Month>,
    /// Last month with a record.
    pub last_month: Option<Month>,
    /// Whether days in milk or weeks of age are taken out.
    pub is_stage_adjusted: bool,
    /// The co-operative's; none before the figures were first made.
    pub programme: Option<ProgrammeOutputChange>,
    /// Areas.
    pub areas: Vec<AreaOutputChange>,
    /// Farms, by code.
    pub farms: Vec<FarmOutputChange>,
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
