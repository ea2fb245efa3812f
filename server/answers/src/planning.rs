//! Plans and work, and the growing guide that they follow.

pub mod forecast;
pub mod work;

use crate::Decimal;
use crate::planning::work::SoakReason;
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// Every standard in force on a day.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct GrowingGuide {
    pub day: NaiveDate,
    /// Dry matter of fresh fodder over that of its seed, by the guide's own values, per cent.
    pub dry_matter_kept_percent: Decimal,
    /// That is more than germinating seed leaves.
    pub is_dry_matter_doubtful: bool,
    pub values: Vec<GuideValue>,
}

/// One standard, of one class of animals where it goes by class.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct GuideValue {
    pub name: String,
    pub animal_class: Option<String>,
    pub value: Decimal,
    pub unit: String,
    /// Null for a default.
    pub valid_from: Option<NaiveDate>,
    pub is_default: bool,
    /// From live weight; not practised.
    pub is_derived: bool,
    /// What it is and where its default comes from.
    pub about: String,
}

/// Seed on a farm against its plan.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SeedNote {
    /// By the records; null where none tells.
    pub on_farm_kg: Option<Decimal>,
    pub held_kg: Decimal,
    /// Whole days that the rest lasts by the plan; null where it lasts longer than the days looked
    /// at, or nothing is planned.
    pub days_left: Option<i64>,
    pub days_looked_at: usize,
}

/// A farm's plan from today on. kg are dry seed or fresh fodder, places are tray places.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FarmPlan {
    pub farm_id: Uuid,
    pub farm: String,
    /// Today.
    pub from: NaiveDate,
    pub days: usize,
    pub is_started: bool,
    /// First day of soaking.
    pub soaks_from: Option<NaiveDate>,
    /// First day on which fodder is fed.
    pub first_feed_on: Option<NaiveDate>,
    /// Number of the last change counted.
    pub data_version: i64,
    pub units: String,
    pub groups: Vec<GroupPlan>,
    pub sheds: Vec<ShedPlan>,
    pub steady_state: SteadyState,
    pub seed: SeedNote,
    /// Who goes short or has too much, and why.
    pub notes: Vec<String>,
    pub schedule: Vec<PlanDay>,
    pub caution: String,
}

/// A group in steady state.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct GroupPlan {
    pub animal_group_id: Uuid,
    pub animal_group: String,
    pub animal_class: String,
    pub shed: Option<String>,
    pub crop: Option<String>,
    pub head: i64,
    pub animals_per_tray: Decimal,
    /// From live weight; not practised.
    pub animals_per_tray_is_derived: bool,
    pub harvest_age_days: i64,
    pub incubate_days: i64,
    pub trays_a_day: i64,
    pub seed_kg_a_tray: Decimal,
    pub seed_kg_a_day: Decimal,
    pub places: i64,
    pub fresh_kg_a_day: Decimal,
    pub surplus_kg_a_day: Decimal,
    pub water_litres_a_day: Decimal,
    pub work_minutes_a_day: Decimal,
}

/// A shed's tray places.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ShedPlan {
    pub shed_id: Uuid,
    pub shed: String,
    pub places: i64,
    pub places_in_steady_state: i64,
    pub places_wanted_at_most: i64,
    /// Places without which not every group is fed, or lost trays can not be replaced.
    pub places_missing: i64,
    pub places_spare: i64,
    pub places_taken_at_most: Option<i64>,
}

/// What the farm needs a day when its shelf is full.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SteadyState {
    pub trays_a_day: i64,
    pub places: i64,
    pub seed_kg_a_day: Decimal,
    pub seed_kg_in_30_days: Decimal,
    pub fresh_kg_a_day: Decimal,
    pub water_litres_a_day: Decimal,
    pub work_minutes_a_day: Decimal,
}

/// One day of a plan.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlanDay {
    pub day: NaiveDate,
    pub is_rest_day: bool,
    pub soaks: Vec<PlannedSoak>,
    pub feeding: Vec<PlannedFeed>,
    /// By shed, in the order of the plan's sheds.
    pub places_taken: Vec<i64>,
    pub seed_kg: Decimal,
    pub water_litres: Decimal,
    pub work_minutes: Decimal,
}

/// What is soaked on a day.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlannedSoak {
    pub animal_group: Option<String>,
    pub shed: Option<String>,
    pub crop: Option<String>,
    pub trays: i64,
    pub kg: Decimal,
    pub spread_on: NaiveDate,
    pub feed_on: NaiveDate,
    /// The day it would have been on, but for a rest day.
    pub moved_from: Option<NaiveDate>,
    pub is_late: bool,
    /// What it is made of, of today's soaks.
    pub soak: Option<SoakReason>,
}

/// What a group is fed on a day.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlannedFeed {
    pub animal_group: Option<String>,
    pub head: i64,
    pub need_kg: Decimal,
    /// From batches that grow already.
    pub growing_kg: Decimal,
    /// From soaks that are planned.
    pub planned_kg: Decimal,
    pub short_kg: Decimal,
    pub surplus_kg: Decimal,
    pub reason: Option<ShortReason>,
    pub note: Option<String>,
}

choice! {
    /// Why a group goes short.
    ShortReason {
        BeforeFirstHarvest = "before_first_harvest",
        NotSoaked = "not_soaked",
        TooLittleSoaked = "too_little_soaked",
        NoPlaces = "no_places",
        RestDays = "rest_days",
        AgeTooLow = "age_too_low",
        NoShed = "no_shed",
    }
}

/// The service level of a co-operative's plans, with what each level costs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ServiceLevels {
    /// Days of a hundred on which any fodder may be missing, as the growing guide has it.
    pub short_days: Decimal,
    /// Fresh fodder that all farms with a plan need a day.
    pub need_kg_a_day: Decimal,
    /// What wasted and missing fodder costs; none without purchases of seed and feed in a year.
    pub prices: Option<ServicePrices>,
    /// The level in force, and the steps to choose from.
    pub levels: Vec<ServiceLevel>,
}

/// A service level and its three prices.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ServiceLevel {
    /// Days of a hundred on which any fodder is missing.
    pub short_days: Decimal,
    /// Days of a hundred on which more than a tenth is missing.
    pub short_tenth_days: Decimal,
    /// Fresh fodder thrown away a day.
    pub wasted_kg_a_day: Decimal,
    /// Dry seed a day.
    pub seed_kg_a_day: Decimal,
    pub is_in_force: bool,
}

/// What a kg of fresh fodder costs when it is wasted, and when it is missing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ServicePrices {
    /// The seed in it, at what the last year's seed cost.
    pub wasted_per_kg: Decimal,
    /// Bought feed of as much dry matter, at what the last year's feed cost.
    pub missing_per_kg: Decimal,
    /// Days of a hundred that may lack fodder at these prices.
    pub short_days: Decimal,
}
