//! Did output change, who keeps spoiling, which seed lots, what was saved since the start, whom to
//! visit.
//!
//! All but the visit list are read from snapshots: `revision` and `made_at` say of which state and
//! minute the figures are.

mod output;
mod spoilage;

pub use output::*;
pub use spoilage::*;

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
    /// Latitude, degrees north (WGS 84).
    pub latitude: Option<Decimal>,
    /// Longitude, degrees east (WGS 84).
    pub longitude: Option<Decimal>,
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
