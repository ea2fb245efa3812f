//! The savings report of a month.
//!
//! What is published of a month and frozen when it is closed. A text that the report carries in
//! English stands here and nowhere else, beside the value that means it.

use crate::Decimal;
use crate::estimates::Enterprise;
use crate::sheet::Cell;
use crate::wire::{Month, Time};
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::fmt;
use traybook_domain::money::currency_digits;
use utoipa::openapi::schema::{ObjectBuilder, Type};
use utoipa::openapi::{RefOr, Schema};
use utoipa::{PartialSchema, ToSchema};
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
    /// Number of the last change counted.
    pub data_version: i64,
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
    /// The co-operative; null where the reader sees single farms only of a closed month.
    #[schema(required)]
    pub total: Option<Total>,
    /// Changes of closed months since they were reported.
    pub adjustments: Vec<Adjustment>,
    /// Sum of the changes; null where the reader sees single farms only of a closed month.
    #[schema(required)]
    pub adjustments_total: Option<Decimal>,
}

/// A farm's line.
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
    /// Whether there is a number.
    pub status: Status,
    /// What is missing for a number.
    pub missing: Vec<Missing>,
    /// What to keep in mind.
    pub notes: Vec<Note>,
    /// Animals on an average day.
    pub animals: Option<Decimal>,
    /// Figures.
    #[serde(flatten)]
    pub figures: Figures,
    /// Change in output after the start.
    pub output_change: Option<OutputChange>,
    /// Whether trays keep spoiling.
    pub spoilage_status: Option<Spoiling>,
}

/// An area, or the co-operative: sums over the farms with a number.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[schema(as = SavingsTotal)]
pub struct Total {
    /// Name.
    pub name: String,
    /// Farms with a number.
    pub farms_included: i64,
    /// Of these, farms that save.
    pub farms_saving: i64,
    /// Of these, farms that lose.
    pub farms_losing: i64,
    /// Farms without a number.
    pub farms_left_out: i64,
    /// Farms without a number by their status.
    #[schema(value_type = BTreeMap<String, i64>)]
    pub left_out_by_status: BTreeMap<Status, i64>,
    /// Figures.
    #[serde(flatten)]
    pub figures: Figures,
}

/// Figures of a farm, or sums over farms. What was not recorded is added up as 0; see
/// [`FarmLine::recorded`] and [`Total::recorded`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[schema(as = SavingsFigures)]
pub struct Figures {
    /// Head × days.
    pub animal_days: Option<i64>,
    /// Ration before fodder at this month's prices, currency units.
    pub baseline_cost: Option<Decimal>,
    /// Feed bought, currency units.
    pub feed_cost: Option<Decimal>,
    /// Seed soaked, currency units.
    pub seed_cost: Option<Decimal>,
    /// Other costs, currency units.
    pub other_cost: Option<Decimal>,
    /// Straight-line depreciation, currency units.
    pub depreciation: Option<Decimal>,
    /// Saving, currency units; negative for a loss.
    pub saving: Option<Decimal>,
    /// Saving, per cent of the ration before fodder.
    pub saving_percent_of_baseline: Option<Decimal>,
    /// Saving a head and day, currency units.
    pub saving_per_animal_day: Option<Decimal>,
    /// Saving a litre of milk, currency units.
    pub saving_per_litre: Option<Decimal>,
    /// Saving an egg, currency units.
    pub saving_per_egg: Option<Decimal>,
    /// Fresh fodder fed, kg, as far as it was weighed.
    pub fresh_fodder_fed_kg: Option<Decimal>,
    /// Its dry matter, kg.
    pub dry_matter_fed_kg: Option<Decimal>,
    /// Trays whose fodder was fed without being weighed.
    pub trays_fed_unweighed: Option<i64>,
    /// Cost of a kg of dry matter of fodder, currency units.
    pub fodder_cost_per_kg_dry_matter: Option<Decimal>,
    /// Cost of a kg of fresh fodder, currency units: mostly water.
    pub fodder_cost_per_kg_fresh_misleading: Option<Decimal>,
    /// Trays spread.
    pub trays_started: Option<i64>,
    /// Trays discarded.
    pub trays_discarded: Option<i64>,
    /// Trays discarded, per cent of those spread.
    pub trays_discarded_percent: Option<Decimal>,
    /// Milk, litres.
    pub milk_litres: Option<Decimal>,
    /// Litres a cow and day with a record.
    pub litres_per_cow_day: Option<Decimal>,
    /// Eggs.
    pub eggs: Option<i64>,
    /// Eggs of 100 hens a day with a record.
    pub hen_day_percent: Option<Decimal>,
    /// 95 % interval of the saving, currency units.
    pub saving_interval: Option<Interval>,
}

/// An interval of money, currency units.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[schema(as = MoneyInterval)]
pub struct Interval {
    /// Lower end.
    pub low: Decimal,
    /// Upper end.
    pub high: Decimal,
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

/// What the estimates say of a farm, beside its figures.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Extras {
    /// Half width of the 95 % interval of the baseline, as a share of it.
    pub half_width_of_baseline: Option<f64>,
    /// Change in output after the start.
    pub output_change: Option<OutputChange>,
    /// Whether trays keep spoiling.
    pub spoilage_status: Option<Spoiling>,
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

choice! {
    /// Whether a farm has a number, and why not. Ordered by the text.
    #[schema(as = SavingsStatus)]
    Status {
        /// All that is needed was recorded.
        Estimated = "estimated",
        /// Something is missing.
        Missing = "missing",
        /// Fodder has not been started.
        NotStarted = "not_started",
        /// Fodder was started in this month, which is neither before nor after.
        StartMonth = "start_month",
    }
}

choice! {
    /// Whether trays keep spoiling.
    #[schema(as = SavingsSpoiling)]
    Spoiling {
        /// Too few batches.
        InsufficientData = "insufficient_data",
        /// They do not.
        Ok = "ok",
        /// More than usual.
        Watch = "watch",
        /// One batch was bad, and no other.
        OneBadBatch = "one_bad_batch",
        /// They do.
        Recurring = "recurring",
        /// They do, and the evidence points at a seed lot.
        RecurringSeedLot = "recurring (seed lot)",
    }
}

choice! {
    /// What to keep in mind reading a farm's line.
    #[schema(as = SavingsNote)]
    Note {
        /// A group of animals nobody counted.
        GroupLeftOut = "a group without a head count is left out",
        /// No other cost is recorded; documents leave the cell empty.
        NoOtherCosts = "no other costs are recorded",
        /// No soak is recorded; documents leave the cells empty.
        NoSoak = "no soak is recorded",
        /// Fodder was fed by the tray; documents say it beside the figures.
        FedUnweighed = "fodder was fed without being weighed: its kg are not counted, and what a kg cost is not known",
    }
}

/// What is missing for a number. Sent as the text that says it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub enum Missing {
    /// No group of animals has been counted.
    HeadCount,
    /// No purchase of feed is recorded, not even one of nothing.
    FeedPurchases,
    /// Seed was soaked whose price nobody recorded.
    SeedPrice,
    /// The ration before fodder of a group is not known.
    Ration,
    /// Nobody bought this feed within three months.
    FeedPrice {
        /// Its name.
        feed: String,
    },
}

impl Missing {
    const FIXED: [(Self, &'static str); 4] = [
        (Self::HeadCount, "head count of the animals"),
        (Self::FeedPurchases, "feed purchases (record 0 kg if none was bought)"),
        (Self::SeedPrice, "price of the seed that was soaked"),
        (Self::Ration, "ration before fodder of an animal group"),
    ];
    /// What stands around the name of a feed.
    const FEED: (&'static str, &'static str) = ("price of ", " within three months");
}

impl fmt::Display for Missing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Self::FeedPrice { feed } = self {
            return write!(f, "{}{feed}{}", Self::FEED.0, Self::FEED.1);
        }
        let text = Self::FIXED.iter().find(|(missing, _)| missing == self);
        f.write_str(text.map_or("", |(_, text)| text))
    }
}

impl Cell for Missing {
    fn cell(&self) -> String {
        self.to_string()
    }
}

impl From<Missing> for String {
    fn from(missing: Missing) -> Self {
        missing.to_string()
    }
}

impl TryFrom<String> for Missing {
    type Error = String;

    fn try_from(text: String) -> Result<Self, String> {
        if let Some((fixed, _)) = Self::FIXED.into_iter().find(|(_, known)| *known == text) {
            return Ok(fixed);
        }
        let feed = text.strip_prefix(Self::FEED.0).and_then(|t| t.strip_suffix(Self::FEED.1));
        let feed = feed.ok_or_else(|| format!("{text:?} is nothing that can be missing"))?;
        Ok(Self::FeedPrice { feed: feed.to_owned() })
    }
}

impl PartialSchema for Missing {
    fn schema() -> RefOr<Schema> {
        let feed = Self::FeedPrice { feed: "maize bran".to_owned() }.to_string();
        let fixed = Self::FIXED.map(|(_, text)| text.to_owned());
        let text = ObjectBuilder::new().schema_type(Type::String);
        text.examples(fixed.into_iter().chain([feed])).into()
    }
}

impl ToSchema for Missing {
    fn name() -> Cow<'static, str> {
        Cow::Borrowed("SavingsMissing")
    }
}

/// Which form of the report is frozen when a month is closed; raised with each change of it.
pub const VERSION: i64 = 1;

fn known(version: i64) -> Result<(), String> {
    let refused = || format!("version {version} of the savings report is not known");
    (version == VERSION).then_some(()).ok_or_else(refused)
}

impl SavingsReport {
    /// Reads what a program froze.
    ///
    /// # Errors
    /// What is wrong with it: a version that a later program wrote, say.
    pub fn read(version: i64, json: &str) -> Result<Self, String> {
        known(version)?;
        serde_json::from_str(json).map_err(|e| e.to_string())
    }

    /// Reads one farm's line of what a program froze; the other lines are passed over.
    ///
    /// # Errors
    /// As for [`SavingsReport::read`].
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
        known(version)?;
        let all: Lines<'_> = serde_json::from_str(json).map_err(|e| e.to_string())?;
        for text in all.farms.iter().map(|line| line.get()) {
            let line: Line = serde_json::from_str(text).map_err(|e| e.to_string())?;
            if line.farm_id == farm {
                return serde_json::from_str(text).map(Some).map_err(|e| e.to_string());
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
    pub fn narrowed(mut self, sees: impl Fn(Uuid) -> bool) -> Self {
        self.farms.retain(|f| sees(f.farm_id));
        self.adjustments.retain(|a| sees(a.farm_id));
        Self { areas: Vec::new(), total: None, adjustments_total: None, ..self }
    }
}

impl FarmLine {
    /// Whether the farm has a number.
    #[must_use]
    pub fn is_estimated(&self) -> bool {
        self.status == Status::Estimated
    }

    /// Whether trays keep spoiling, whatever the evidence points at.
    #[must_use]
    pub fn keeps_spoiling(&self) -> bool {
        use Spoiling::{Recurring, RecurringSeedLot};
        matches!(self.spoilage_status, Some(Recurring | RecurringSeedLot))
    }

    /// Whether they do, and the evidence points at a seed lot.
    #[must_use]
    pub fn seed_is_suspect(&self) -> bool {
        self.spoilage_status == Some(Spoiling::RecurringSeedLot)
    }

    /// The figures without the zeros that stand for what nobody recorded.
    #[must_use]
    pub fn recorded(&self) -> Figures {
        let lacks = |what: &Missing| self.missing.contains(what);
        let noted = |what: Note| self.notes.contains(&what);
        let (no_soak, unweighed) = (noted(Note::NoSoak), noted(Note::FedUnweighed));
        let f = self.figures.with_output();
        // Trays and fodder of 0 say nothing where no batch was begun, nor does fodder of 0 where it
        // was fed without being weighed.
        let trays = |count: Option<i64>| count.filter(|n| *n != 0 || !no_soak);
        let fed = |kg: Option<Decimal>| kg.filter(|n| n.units != 0 || !(no_soak || unweighed));
        Figures {
            animal_days: f.animal_days.filter(|_| !lacks(&Missing::HeadCount)),
            feed_cost: f.feed_cost.filter(|_| !lacks(&Missing::FeedPurchases)),
            seed_cost: f.seed_cost.filter(|_| !(lacks(&Missing::SeedPrice) || no_soak)),
            other_cost: f.other_cost.filter(|_| !noted(Note::NoOtherCosts)),
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
        if self.farms_included > 0 { self.figures.with_output() } else { Figures::default() }
    }
}

impl Figures {
    /// Milk and eggs are 0 where nobody milks or collects, and where nobody wrote it down.
    fn with_output(&self) -> Self {
        Self {
            milk_litres: self.milk_litres.filter(|_| self.litres_per_cow_day.is_some()),
            eggs: self.eggs.filter(|_| self.hen_day_percent.is_some()),
            ..*self
        }
    }

    /// What growing fodder cost, currency units: seed, other costs, depreciation, of these what is
    /// known.
    #[must_use]
    pub fn fodder_cost(&self) -> Option<f64> {
        let parts = [self.seed_cost, self.other_cost, self.depreciation];
        parts.into_iter().flatten().map(Decimal::real).reduce(|a, b| a + b)
    }

    /// Saving with its 95 % interval, currency units: saving, lower end, upper end.
    #[must_use]
    pub fn saving_between(&self) -> Option<(f64, f64, f64)> {
        let (low, high) = self.saving_interval?.ends();
        Some((self.saving?.real(), low, high))
    }
}

impl Interval {
    /// Lower and upper end.
    #[must_use]
    pub fn ends(self) -> (f64, f64) {
        (self.low.real(), self.high.real())
    }
}

impl OutputChange {
    /// Per cent with its 95 % interval; none where it is not known.
    #[must_use]
    pub fn between(&self) -> Option<(f64, f64, f64)> {
        Some((self.percent?, self.low?, self.high?))
    }
}
