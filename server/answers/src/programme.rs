//! Totals over co-operatives: no names, and no group of few members.

use crate::Decimal;
use crate::savings::Interval;
use crate::wire::Month;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

choice! {
    /// By what totals are divided.
    Division {
        Cooperative = "cooperative",
        Area = "area",
        Sex = "sex",
        AgeBand = "age_band",
    }
}

/// Totals of a month.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ProgrammeTotals {
    pub month: Month,
    pub by: Division,
    /// Smallest group shown.
    pub members_min: usize,
    pub cooperatives: Vec<CooperativeTotals>,
}

/// Totals of one co-operative.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CooperativeTotals {
    pub cooperative: String,
    pub currency: String,
    pub groups: Vec<GroupTotals>,
}

/// A group of members; a hidden one has no figures.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(untagged)]
pub enum GroupTotals {
    Shown(Box<GroupFigures>),
    Hidden(HiddenGroup),
}

/// A group too small to be shown, or by which a small one could be found.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct HiddenGroup {
    pub group: String,
    /// Always true.
    pub is_hidden: bool,
}

/// Figures of a group; null where they come from fewer members than are shown.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct GroupFigures {
    pub group: String,
    /// Always false.
    pub is_hidden: bool,
    pub members: usize,
    pub members_with_a_saving_number: Option<usize>,
    /// Currency units.
    pub saving: Option<Decimal>,
    /// 95 % interval, currency units.
    pub saving_interval: Option<Interval>,
    pub milk_litres: Option<Decimal>,
    pub litres_per_cow_day: Option<Decimal>,
    pub eggs: Option<i64>,
    pub hen_day_percent: Option<Decimal>,
    pub fresh_fodder_fed_kg: Option<Decimal>,
    pub trays_fed_unweighed: Option<i64>,
    pub trays_started: Option<i64>,
    pub trays_discarded_percent: Option<Decimal>,
}
