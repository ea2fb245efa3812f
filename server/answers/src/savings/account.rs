//! How a farm's figure of a month came about, down to the purchases.

use super::{Money, Status};
use crate::Decimal;
use crate::estimates::AsOf;
use crate::wire::Month;
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// How a farm's saving of a month came about. Money in currency units; feed in kg.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SavingAccount {
    /// The farm.
    pub farm_id: Uuid,
    /// Its code.
    pub farm: String,
    /// The month.
    pub month: Month,
    /// ISO 4217 code.
    pub currency: String,
    /// Which state baseline and index are of; what was eaten is of this moment.
    #[serde(flatten)]
    pub as_of: AsOf,
    /// Classes of animals.
    pub enterprises: Vec<EnterpriseAccount>,
}

/// One class of animals.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct EnterpriseAccount {
    /// Class of animal.
    pub enterprise: String,
    /// Whether there is a number, or why not.
    pub status: Option<Status>,
    /// Head × days of the month.
    pub animal_days: i64,
    /// Index of the month: how much more or less farms without fodder used; null where the season
    /// is not taken out.
    pub index: Option<f64>,
    /// Months before the start that the baseline is made of.
    pub months_before: i64,
    /// Weight of the stated ration in the baseline, per cent; the rest is what was bought.
    pub ration_weight_percent: f64,
    /// Feeds.
    pub feeds: Vec<FeedAccount>,
    /// The row of the report.
    pub money: Option<Money>,
}

/// One feed of a class of animals.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FeedAccount {
    /// The feed.
    pub feed_id: Uuid,
    /// Its name.
    pub feed: String,
    /// Price a kg of this month, currency units.
    pub price_per_kg: Option<Decimal>,
    /// What would have been eaten without fodder, kg; null without a baseline.
    pub baseline_kg: Option<Decimal>,
    /// The same in money.
    pub baseline_cost: Option<Decimal>,
    /// Eaten, kg.
    pub eaten_kg: Decimal,
    /// The same in money.
    pub eaten_cost: Option<Decimal>,
    /// Days of the month that purchases cover, per cent of head × days.
    pub covered_percent: f64,
    /// What covers them.
    pub lots: Vec<LotAccount>,
}

/// A lot that was eaten in the month.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LotAccount {
    /// First day on which it was eaten.
    pub from: NaiveDate,
    /// Last day on which it was eaten.
    pub until: NaiveDate,
    /// Eaten a head and day, kg.
    pub kg_per_animal_day: f64,
    /// Whether it is in use: no purchase has followed.
    pub is_in_use: bool,
    /// The purchase; null where a store count began it.
    pub purchase_id: Option<Uuid>,
    /// Bought, kg.
    pub bought_kg: Option<Decimal>,
    /// Paid, currency units.
    pub paid: Option<Decimal>,
}
