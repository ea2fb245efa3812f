//! The paper for a meeting: the month, the one before and the year so far, and what to decide.

use crate::Decimal;
use crate::savings::{Interval, Money, SinceStart, Status};
use crate::wire::Month;
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use utoipa::ToSchema;

/// The paper of a month. Money in currency units; null where not known.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BoardPaper {
    /// Name of the co-operative.
    pub cooperative: String,
    /// The month.
    pub month: Month,
    /// ISO 4217 code.
    pub currency: String,
    /// Whether the month is closed.
    pub is_closed: bool,
    /// Whether the month is not over: then it has no saving.
    pub is_running: bool,
    /// For a meeting of all members: no member, farm or seed debt of one is named.
    pub is_anonymous: bool,
    /// Day of the seed accounts and of what waits.
    pub day: NaiveDate,
    /// The month, the month before, the year from January to the month.
    pub periods: Vec<BoardPeriod>,
    /// All months since the start.
    pub since_start: Option<SinceStart>,
    /// Areas, by name.
    pub areas: Vec<BoardArea>,
    /// The own fodder: cost of a kg of dry matter, currency units.
    pub fodder_cost_per_kg_dry_matter: Option<Decimal>,
    /// Farms behind it.
    pub fodder_farms: i64,
    /// Bought feeds with a price, the cheapest dry matter first.
    pub feeds: Vec<BoardFeed>,
    /// Seed on credit.
    pub seed: BoardSeed,
    /// Flags for spoilage that stood in the month or stand since, the oldest first.
    pub spoiling: Vec<BoardSpoiling>,
    /// All such flags, also those that are not listed.
    pub spoiling_count: usize,
    /// Farms without a number by the reason.
    #[schema(value_type = BTreeMap<String, i64>)]
    pub missing: BTreeMap<Status, i64>,
    /// Farms whose number waits for a record.
    pub waiting: usize,
    /// Findings on the review list.
    pub findings: usize,
    /// What the board is asked to decide.
    pub decisions: Vec<BoardDecision>,
}

choice! {
    /// Which months a column is of.
    BoardSpan {
        Month = "month",
        Before = "month_before",
        Year = "year_to_date",
    }
}

/// Figures of a month, or the sum of months.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BoardPeriod {
    /// Which.
    pub span: BoardSpan,
    /// First month.
    pub from: Month,
    /// Last month.
    pub to: Month,
    /// Months of it with a saving.
    pub months_with_number: i64,
    /// Money. Of several months the interval is that of the sum; null where it is not known of all
    /// that is in the sum.
    #[serde(flatten)]
    pub money: Money,
    /// Farms with a number; of several months, farm-months.
    pub farms_included: i64,
    /// Of these, saved.
    pub farms_saving: i64,
    /// Of these, lost.
    pub farms_losing: i64,
    /// Of these, cannot be told.
    pub farms_unclear: i64,
    /// Fresh fodder fed, kg, as far as it was weighed.
    pub fresh_fodder_fed_kg: Option<Decimal>,
    /// Trays spread.
    pub trays_started: Option<i64>,
    /// Trays thrown away.
    pub trays_discarded: Option<i64>,
    /// Per cent of those spread.
    pub trays_discarded_percent: Option<Decimal>,
}

/// One area in the month.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BoardArea {
    /// Its name.
    pub name: String,
    /// Farms with a number.
    pub farms_included: i64,
    /// Farms without one.
    pub farms_left_out: i64,
    /// Saving, currency units.
    pub saving: Option<Decimal>,
    /// 95 % interval, currency units.
    pub saving_interval: Option<Interval>,
    /// Trays thrown away, per cent of those spread.
    pub trays_discarded_percent: Option<Decimal>,
}

/// A bought feed beside the own fodder.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BoardFeed {
    /// Its name.
    pub feed: String,
    /// Cost of a kg of dry matter, currency units.
    pub cost_per_kg_dry_matter: f64,
    /// Month of the price.
    pub price_month: Option<Month>,
}

/// What members owe for seed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BoardSeed {
    /// Owed, currency units.
    pub owed: Decimal,
    /// Members that owe.
    pub members: usize,
    /// Of what is owed, for seed of more than 30 days ago.
    pub owed_over_30_days: Decimal,
    /// The same of more than 90 days ago.
    pub owed_over_90_days: Decimal,
    /// The most that a member may owe before there is a warning; null where none is set.
    pub credit_limit: Option<Decimal>,
    /// Members that owe more.
    pub over_limit: usize,
    /// Paid in the month from milk or egg money (check-off), currency units.
    pub paid_by_check_off: Decimal,
    /// Paid in the month in other ways, currency units.
    pub paid_otherwise: Decimal,
    /// Who owes the most; none in a paper for all members.
    pub most: Vec<BoardDebt>,
}

/// What one member owes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BoardDebt {
    /// Membership number.
    pub member_number: String,
    /// Member's name.
    pub member_name: String,
    /// Owed, currency units.
    pub balance: Decimal,
    /// Of it, for seed of more than 90 days ago.
    pub owed_over_90_days: Decimal,
}

/// A farm whose trays keep spoiling, and what was done.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BoardSpoiling {
    /// Code of the farm; none in a paper for all members.
    pub farm: Option<String>,
    /// Its member; none in a paper for all members.
    pub member_name: Option<String>,
    /// Area.
    pub area: Option<String>,
    /// Day of the flag.
    pub raised_on: NaiveDate,
    /// What the evidence points at.
    pub points_at: String,
    /// Day on which an officer saw it.
    pub seen_on: Option<NaiveDate>,
    /// Cause that was found.
    pub cause: Option<String>,
    /// What was found and done; none in a paper for all members.
    pub finding: Option<String>,
    /// Day on which it was cleared.
    pub cleared_on: Option<NaiveDate>,
}

choice! {
    /// What there is to decide.
    BoardQuestion {
        /// Whether the month is closed with what is missing; count: farms that wait.
        CloseMonth = "close_month",
        /// Who sees to records that are missing or held; count: farms.
        Records = "records",
        /// Who visits farms that keep spoiling and were not seen since; count: farms.
        VisitSpoiling = "visit_spoiling",
        /// What happens with old seed debts; count: members, amount: owed for more than 90 days.
        OldDebts = "old_debts",
        /// Whether members over the credit limit get more seed; count: members.
        CreditLimit = "credit_limit",
        /// Whether corrections of closed months are noted; amount: their sum.
        Adjustments = "adjustments",
    }
}

/// One decision.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BoardDecision {
    /// What about.
    pub question: BoardQuestion,
    /// Of how many.
    pub count: Option<usize>,
    /// Of how much, currency units.
    pub amount: Option<Decimal>,
}
