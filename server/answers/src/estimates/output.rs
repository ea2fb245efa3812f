//! Did milk or eggs change: farms, areas, the co-operative, and weaker answers.

use crate::estimates::{AsOf, Enterprise, FarmOfMember};
use crate::trials::OrderFollowed;
use crate::wire::Month;
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

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
    /// Whether starts followed the newest order that was drawn; none where none was.
    pub start_order: Option<OrderFollowed>,
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
