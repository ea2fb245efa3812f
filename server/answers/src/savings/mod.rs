//! The savings report of a month.
//!
//! What is published of a month and frozen when it is closed. A text that the report carries in
//! English stands here and nowhere else, beside the value that means it.

mod account;
pub mod board;
mod figures;
pub mod programme;
mod version1;
mod words;

pub use account::{EnterpriseAccount, FeedAccount, LotAccount, SavingAccount};
pub use figures::{Figures, Interval, Money};
pub use words::{Note, Spoiling, Status, Wait, What};

use crate::Decimal;
use crate::estimates::{AsOf, Enterprise};
use crate::wire::{Month, Time};
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use std::collections::BTreeMap;
use traybook_domain::savings::money::currency_digits;
use utoipa::ToSchema;
use uuid::Uuid;

/// The savings report of a month. Money in currency units; milk in litres; fodder in kg; null where
/// not known.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SavingsReport {
    /// Name of the co-operative.
    pub cooperative: String,
    /// The month.
    pub month: Month,
    /// ISO 4217 code.
    pub currency: String,
    /// Whether the month is closed.
    pub is_closed: bool,
    /// Whether the month is not over: then there are facts to date, and no saving.
    pub is_running: bool,
    /// Which state the figures are of.
    #[serde(flatten)]
    pub as_of: AsOf,
    /// Number of the last change counted.
    pub data_version: i64,
    /// Version of the method: 1 until 2026, 2 since.
    pub method_version: i64,
    /// How the numbers came about.
    pub method: String,
    /// Units of the figures.
    pub units: String,
    /// Dry matter in fresh fodder, per cent.
    pub fodder_dry_matter_percent: Decimal,
    /// What to think of the cost of a kg of fresh fodder.
    pub fresh_cost_is: String,
    /// What to beware of.
    pub caution: String,
    /// Farms, by code.
    pub farms: Vec<FarmLine>,
    /// Areas, by name; none where the reader sees single farms only.
    pub areas: Vec<Total>,
    /// The co-operative; null where the reader sees single farms only.
    #[schema(required)]
    pub total: Option<Total>,
    /// By how much the rations stated at enrolment exceed what was bought before the start, by class
    /// of animal; only where it is beyond chance.
    pub rations_overstated: Vec<Overstated>,
    /// Changes of closed months since they were reported, a line each.
    pub adjustments: Vec<Adjustment>,
    /// Sum of the small changes of closed months: feed in use at the close, settled; null where the
    /// reader sees single farms only.
    #[schema(required)]
    pub settled: Option<Decimal>,
    /// Sum of all changes; null where the reader sees single farms only.
    #[schema(required)]
    pub adjustments_total: Option<Decimal>,
    /// Months closed by the earlier method: what was reported, and what this method says. Shown once,
    /// not counted anywhere.
    pub earlier_method: Vec<Restated>,
}

/// A farm's line: sums over its classes of animals, where all of them have a number.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[schema(as = SavingsFarm)]
pub struct FarmLine {
    /// The farm.
    pub farm_id: Uuid,
    /// Its code.
    pub farm: String,
    /// The member.
    pub member_id: Uuid,
    /// Membership number.
    pub member_number: String,
    /// Member's name.
    pub member_name: String,
    /// Name of the area.
    pub area: Option<String>,
    /// Whether there is a number, or why not.
    pub status: Status,
    /// What the number waits for.
    pub waits: Vec<Wait>,
    /// What to keep in mind.
    pub notes: Vec<Note>,
    /// Animals on an average day.
    pub animals: Option<Decimal>,
    /// Figures.
    #[serde(flatten)]
    pub figures: Figures,
    /// Its classes of animals, each with its own number.
    pub enterprises: Vec<EnterpriseLine>,
    /// All months with a number since the start.
    pub since_start: Option<SinceStart>,
    /// Change in output after the start.
    pub output_change: Option<OutputChange>,
    /// Whether trays keep spoiling.
    pub spoilage_status: Option<Spoiling>,
}

/// One class of animals of a farm.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[schema(as = SavingsEnterprise)]
pub struct EnterpriseLine {
    /// Class of animal.
    pub enterprise: String,
    /// Whether there is a number, or why not.
    pub status: Status,
    /// Money.
    #[serde(flatten)]
    pub money: Money,
}

/// The sum of the months with a number.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SinceStart {
    /// Saving, currency units: as reported, with adjustments, and of open months.
    pub saving: Decimal,
    /// 95 % interval, currency units.
    pub saving_interval: Option<Interval>,
    /// Months of farms and classes of animals that have a number.
    pub farm_months: i64,
    /// All such months after the start that are over.
    pub of_farm_months: i64,
}

/// An area, or the co-operative: sums over all farms and classes of animals with a number.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[schema(as = SavingsTotal)]
pub struct Total {
    /// Name.
    pub name: String,
    /// Farms with a number.
    pub farms_included: i64,
    /// Of these, farms that saved: the interval lies above zero.
    pub farms_saving: i64,
    /// Of these, farms that lost: the interval lies below zero.
    pub farms_losing: i64,
    /// Of these, farms of which it cannot be told yet.
    pub farms_unclear: i64,
    /// Farms without a number.
    pub farms_left_out: i64,
    /// Farms without a number by their status.
    #[schema(value_type = BTreeMap<String, i64>)]
    pub left_out_by_status: BTreeMap<Status, i64>,
    /// Figures.
    #[serde(flatten)]
    pub figures: Figures,
    /// All months with a number since the start.
    pub since_start: Option<SinceStart>,
}

/// Rations that were stated too high or too low.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Overstated {
    /// Class of animal.
    pub enterprise: String,
    /// Per cent; negative where they were stated too low.
    pub percent: f64,
    /// Farms compared.
    pub farms: i64,
}

/// A month that was closed by the earlier method.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Restated {
    /// The month.
    pub month: Month,
    /// Saving reported, currency units.
    pub reported: Option<Decimal>,
    /// Saving by this method, currency units.
    pub now: Option<Decimal>,
}

/// A change in output per animal and day after the start.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[schema(as = SavingsOutputChange)]
pub struct OutputChange {
    /// What is compared.
    pub enterprise: Enterprise,
    /// Per cent; null where it is not known.
    pub percent: Option<f64>,
    /// Lower end of the 95 % interval, per cent.
    pub low: Option<f64>,
    /// Upper end of the 95 % interval, per cent.
    pub high: Option<f64>,
    /// What it means, in plain words.
    pub sentence: String,
}

/// A change of a month that was reported already.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[schema(as = SavingsAdjustment)]
pub struct Adjustment {
    /// The closed month.
    pub month: Month,
    /// The farm.
    pub farm_id: Uuid,
    /// Its code.
    pub farm: String,
    /// Class of animal; none of a month closed by the earlier method.
    pub enterprise: Option<String>,
    /// Saving reported so far, adjustments included, currency units.
    pub reported: Option<Decimal>,
    /// Saving that the records say now, currency units.
    pub now: Option<Decimal>,
    /// The difference, currency units.
    pub change: Decimal,
}

/// The closed months, in order.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct MonthCloses {
    /// The months.
    pub items: Vec<MonthClose>,
}

/// A closed month.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct MonthClose {
    /// The month.
    pub month: Month,
    /// When it was closed.
    pub closed_at: Time,
    /// Who closed it.
    pub closed_by: Uuid,
    /// Records have changed; adjustments may follow.
    pub has_changed_since: bool,
}

/// Which form of the report is frozen when a month is closed; raised with each change of it.
pub const VERSION: i64 = 2;

impl SavingsReport {
    /// Reads what a program froze.
    ///
    /// # Errors
    /// What is wrong with it: a version that a later program wrote, say.
    pub fn read(version: i64, json: &str) -> Result<Self, String> {
        match version {
            1 => version1::read(json),
            VERSION => serde_json::from_str(json).map_err(|e| e.to_string()),
            _ => Err(format!("version {version} of the savings report is not known")),
        }
    }

    /// Reads one farm's line of what a program froze; the other lines are passed over.
    pub fn read_farm(version: i64, json: &str, farm: Uuid) -> Result<Option<FarmLine>, String> {
        #[derive(Deserialize)]
        struct Lines<'a> {
            #[serde(borrow)]
            farms: Vec<&'a RawValue>,
        }
        #[derive(Deserialize)]
        struct Line {
            farm_id: Uuid,
        }
        let all: Lines<'_> = serde_json::from_str(json).map_err(|e| e.to_string())?;
        for text in all.farms.iter().map(|line| line.get()) {
            let line: Line = serde_json::from_str(text).map_err(|e| e.to_string())?;
            if line.farm_id == farm {
                return match version {
                    1 => version1::read_farm(text).map(Some),
                    VERSION => serde_json::from_str(text).map(Some).map_err(|e| e.to_string()),
                    _ => Err(format!("version {version} of the savings report is not known")),
                };
            }
        }
        Ok(None)
    }

    /// Digits of the currency.
    #[must_use]
    pub fn digits(&self) -> u8 {
        currency_digits(&self.currency).unwrap_or(0)
    }

    /// The farms by area, areas in the order of their names, those without one last.
    #[must_use]
    pub fn by_area(&self) -> Vec<(Option<&str>, Vec<&FarmLine>)> {
        let mut areas: BTreeMap<(bool, &str), Vec<&FarmLine>> = BTreeMap::new();
        for farm in &self.farms {
            let area = farm.area.as_deref();
            areas.entry((area.is_none(), area.unwrap_or_default())).or_default().push(farm);
        }
        areas.into_iter().map(|((none, name), farms)| ((!none).then_some(name), farms)).collect()
    }

    /// The report for somebody who sees some farms only: their lines, and no sums.
    #[must_use]
    pub fn narrowed(&self, sees: impl Fn(Uuid) -> bool) -> Self {
        let farms = self.farms.iter().filter(|f| sees(f.farm_id));
        let adjustments = self.adjustments.iter().filter(|a| sees(a.farm_id));
        Self {
            cooperative: self.cooperative.clone(),
            currency: self.currency.clone(),
            method: self.method.clone(),
            units: self.units.clone(),
            fresh_cost_is: self.fresh_cost_is.clone(),
            caution: self.caution.clone(),
            farms: farms.cloned().collect(),
            areas: Vec::new(),
            total: None,
            rations_overstated: self.rations_overstated.clone(),
            adjustments: adjustments.cloned().collect(),
            settled: None,
            adjustments_total: None,
            earlier_method: Vec::new(),
            ..*self
        }
    }
}

impl FarmLine {
    /// Whether its number waits for what somebody can write down: not for time to pass.
    #[must_use]
    pub fn asks_for_records(&self) -> bool {
        let is_late = self.status == Status::Running || !self.status.has_number();
        is_late && self.waits.iter().any(|w| w.what != What::NextPurchase)
    }

    /// Whether the farm has a number.
    #[must_use]
    pub const fn is_estimated(&self) -> bool {
        self.status.has_number()
    }

    /// Whether trays keep spoiling, whatever the evidence points at.
    #[must_use]
    pub fn keeps_spoiling(&self) -> bool {
        use Spoiling::{Recurring, RecurringQuiet, RecurringSeedLot};
        matches!(self.spoilage_status, Some(Recurring | RecurringQuiet | RecurringSeedLot))
    }

    /// Whether they do, and the evidence points at a seed lot.
    #[must_use]
    pub fn seed_is_suspect(&self) -> bool {
        self.spoilage_status == Some(Spoiling::RecurringSeedLot)
    }

    /// The figures without the zeros that stand for what nobody recorded.
    #[must_use]
    pub fn recorded(&self) -> Figures {
        let noted = |what: Note| self.notes.contains(&what);
        let (no_soak, unweighed) = (noted(Note::NoSoak), noted(Note::FedUnweighed));
        let lacks = |what: What| self.waits.iter().any(|w| w.what == what);
        let f = self.figures.with_output();
        // Trays and fodder of 0 say nothing where no batch was begun, nor does fodder of 0 where it
        // was fed without being weighed.
        let trays = |count: Option<i64>| count.filter(|n| *n != 0 || !no_soak);
        let fed = |kg: Option<Decimal>| kg.filter(|n| n.units != 0 || !(no_soak || unweighed));
        let money = Money {
            seed_cost: f.money.seed_cost.filter(|_| !(lacks(What::SeedPrice) || no_soak)),
            other_cost: f.money.other_cost.filter(|_| !noted(Note::NoOtherCosts)),
            ..f.money
        };
        Figures {
            money,
            trays_started: trays(f.trays_started),
            trays_discarded: trays(f.trays_discarded),
            fresh_fodder_fed_kg: fed(f.fresh_fodder_fed_kg),
            dry_matter_fed_kg: fed(f.dry_matter_fed_kg),
            ..f
        }
    }
}

impl Total {
    /// The sums; none where no farm was counted, since there is nothing to sum.
    #[must_use]
    pub fn recorded(&self) -> Figures {
        let has_number = self.figures.money.saving.is_some();
        let f = self.figures.with_output();
        if has_number { f } else { Figures { money: Money::default(), ..f } }
    }
}

impl OutputChange {
    /// Per cent with its 95 % interval; none where it is not known.
    #[must_use]
    pub fn between(&self) -> Option<(f64, f64, f64)> {
        Some((self.percent?, self.low?, self.high?))
    }
}
