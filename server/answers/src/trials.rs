//! Trials: what a plan could show, who starts when by lot, and months with and without fodder.

use crate::Decimal;
use crate::estimates::Enterprise;
use crate::wire::Month;
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

choice! {
    /// Whether a plan can be judged.
    TrialStatus {
        /// Judged.
        Judged = "judged",
        /// In no month five farms would still wait: nothing could be compared.
        NoControls = "no_controls",
        /// Too few records of farms that have not started to know how output wanders by itself.
        NoRecords = "no_records",
    }
}

/// One way to start farms, and what it could show.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TrialOption {
    /// Whether it can be judged.
    pub status: TrialStatus,
    /// Farms to start in each month.
    pub starts: Vec<u64>,
    /// Farms that wait to the end.
    pub waiting: u64,
    /// Months from the first record to the last.
    pub months: u64,
    /// Months in which five farms still wait.
    pub usable_months: u64,
    /// Smallest change of the whole programme that is likely to be shown, per cent.
    pub programme_percent: Option<f64>,
    /// Smallest change of one member, per cent.
    pub member_percent: Option<f64>,
    /// Smallest changes of areas.
    pub areas: Vec<AreaSmallest>,
    /// Months that farms wait, added up, against all starting at once.
    pub waiting_farm_months: u64,
    /// What these months would have saved, as farms saved so far; none where that cannot be told.
    pub saving_forgone: Option<Decimal>,
}

/// Smallest change of one area that is likely to be shown.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct AreaSmallest {
    /// Name of the area.
    pub area: String,
    /// Per cent.
    pub percent: f64,
}

/// What ways to start could show.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TrialPower {
    /// Milk or eggs.
    pub enterprise: Enterprise,
    /// Farms with such animals that have not started.
    pub farms: u64,
    /// Months of records they have, the middle farm.
    pub months_before: u64,
    /// In how many of 100 trials such a change would be shown.
    pub shown_of_100: u64,
    /// What is meant, English.
    pub method: String,
    /// The way that was asked for, and usual ones.
    pub options: Vec<TrialOption>,
}

/// A plan to draw.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewStartOrder {
    /// Id of the plan, UUIDv7, made by whoever asks, so that the same call again draws nothing; made by
    /// the server where none is given.
    pub id: Option<Uuid>,
    /// What it is called, at most 80 letters.
    pub name: String,
    /// Milk or eggs.
    pub enterprise: Enterprise,
    /// Month of the first starts, YYYY-MM; not before the running one.
    pub first_month: String,
    /// Farms to start in each month.
    pub starts: Vec<u64>,
}

choice! {
    /// Whether a farm started as was drawn.
    Followed {
        /// In its month.
        AsDrawn = "as_drawn",
        /// In another month.
        OtherMonth = "other_month",
        /// Its month is still to come, or it waits as drawn.
        ToCome = "to_come",
        /// Its month is over and it has not started.
        Late = "late",
        /// It was to wait, and started.
        StartedThough = "started_though",
    }
}

/// One farm of a start order.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct StartPlaceLine {
    /// Place by farm code, from 0: the number the draw knows it by.
    pub place: i64,
    /// Farm.
    pub farm_id: Uuid,
    /// Its code.
    pub farm: String,
    /// Name of the member.
    pub member_name: String,
    /// Area on the day of the draw.
    pub area: Option<String>,
    /// Animals on that day.
    pub head: i64,
    /// Month in which it starts; none where it waits.
    pub month: Option<Month>,
    /// Day of its first soak.
    pub started_on: Option<NaiveDate>,
    /// Whether it started as drawn.
    pub followed: Followed,
}

/// A start order that was drawn.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct StartOrder {
    /// The plan.
    pub id: Uuid,
    /// What it is called.
    pub name: String,
    /// Milk or eggs.
    pub enterprise: Enterprise,
    /// Month of the first starts.
    pub first_month: Month,
    /// Farms to start in each month.
    pub starts: Vec<u64>,
    /// Seed of the random numbers, decimal.
    pub seed: String,
    /// Day of the draw.
    pub drawn_on: NaiveDate,
    /// Whether it was taken back.
    pub is_withdrawn: bool,
    /// Whether drawing again from seed, areas and animals gives this list; none where the person
    /// does not see all its farms.
    pub is_as_drawn: Option<bool>,
    /// How to draw it again, English.
    pub how: String,
    /// Farms, by place.
    pub farms: Vec<StartPlaceLine>,
}

/// All start orders, the newest first, also those that were taken back.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct StartOrders {
    /// Orders.
    pub items: Vec<StartOrderLine>,
}

/// One start order of a list.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct StartOrderLine {
    /// The plan.
    pub id: Uuid,
    /// What it is called.
    pub name: String,
    /// Milk or eggs.
    pub enterprise: Enterprise,
    /// Month of the first starts.
    pub first_month: Month,
    /// Day of the draw.
    pub drawn_on: NaiveDate,
    /// Whether it was taken back.
    pub is_withdrawn: bool,
}

/// Months with and without fodder to draw for a farm.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewOnOffOrder {
    /// Id of the plan, as of a start order.
    pub id: Option<Uuid>,
    /// The farm; its member agreed.
    pub farm_id: Uuid,
    /// Milk or eggs.
    pub enterprise: Enterprise,
    /// First month, YYYY-MM; not before the running one.
    pub first_month: String,
    /// Blocks of months, an even number from 2 to 24.
    pub blocks: i64,
    /// Months a block, 1 to 6.
    pub block_months: i64,
    /// First months of each block that are not used: they still show the block before.
    pub unused_months: i64,
}

/// One month of such an order.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct OnOffMonth {
    /// Month.
    pub month: Month,
    /// Whether fodder is fed.
    pub is_on: bool,
    /// Whether the month is used.
    pub is_used: bool,
}

/// Months with and without fodder of a farm, as drawn.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct OnOffOrder {
    /// The plan.
    pub id: Uuid,
    /// The farm.
    pub farm_id: Uuid,
    /// Its code.
    pub farm: String,
    /// Milk or eggs.
    pub enterprise: Enterprise,
    /// Seed of the random numbers, decimal.
    pub seed: String,
    /// Day of the draw.
    pub drawn_on: NaiveDate,
    /// Months.
    pub months: Vec<OnOffMonth>,
    /// Smallest change that is likely to be shown on this farm, per cent; none without records.
    pub smallest_percent: Option<f64>,
    /// Months without fodder that the trial asks for.
    pub months_without: u64,
}

/// How starts of the newest start order went, beside an estimate.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct OrderFollowed {
    /// What the order is called.
    pub name: String,
    /// Farms that started in their month, or wait as drawn.
    pub as_drawn: u64,
    /// Farms that started in another month, late, or though they were to wait.
    pub otherwise: u64,
}
