//! Totals over co-operatives: no names, and no group of few members.

use crate::Decimal;
use crate::savings::Interval;
use crate::wire::{Month, Time};
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
    /// Revision that the figures are of; none where they were made when they were asked for.
    pub revision: Option<i64>,
    /// When they were made, in the same way.
    pub made_at: Option<Time>,
    pub groups: Vec<GroupTotals>,
}

/// A group of members; a hidden one has no figures.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(untagged)]
pub enum GroupTotals {
    Shown(Box<GroupFigures>),
    Hidden(HiddenGroup),
}

/// Sums of a month over co-operatives that somebody opened to a programme.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ProgrammeSum {
    pub month: Month,
    pub by: Division,
    /// Smallest group shown.
    pub members_min: usize,
    /// Co-operatives that are open to the reader.
    pub cooperatives: usize,
    pub groups: Vec<GroupSum>,
}

/// A group of members over all co-operatives with one currency.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct GroupSum {
    pub currency: String,
    /// Co-operatives with members of the group.
    pub cooperatives: i64,
    /// False where members are left out, of co-operatives in which the group is too small to be
    /// shown.
    pub is_whole: bool,
    pub totals: GroupTotals,
}

/// The name under which hidden groups are shown as one.
pub const TOGETHER: &str = "together";

/// A group that is not shown alone: it, or another hidden one, has too few people.
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

choice! {
    /// What a funder asks for.
    Indicator {
        PeopleTrained = "people_trained",
        WomenTrainedPercent = "women_trained_percent",
        FarmsGrowing = "farms_growing",
        WomenGrowingPercent = "women_growing_percent",
        FarmsActive = "farms_active",
        FarmsDroppedOut = "farms_dropped_out",
        Saving = "saving",
        LitresPerCowDay = "litres_per_cow_day",
        HenDayPercent = "hen_day_percent",
        MilkChangePercent = "milk_change_percent",
        EggChangePercent = "egg_change_percent",
        MonthsReported = "months_reported",
    }
}

choice! {
    /// Why a figure is not shown.
    NotShown {
        /// It, or another hidden cell of the same total, comes from too few people.
        FewPeople = "few_people",
        /// Somebody in it has not agreed to be counted.
        NotAgreed = "not_agreed",
        /// It cannot be estimated yet.
        NotKnown = "not_known",
    }
}

/// Indicators of programmes over some months.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Indicators {
    /// First month.
    pub from: Month,
    /// Last month.
    pub month: Month,
    /// Fewest people behind a figure.
    pub members_min: usize,
    pub cooperatives: Vec<CooperativeIndicators>,
}

/// Indicators of one co-operative.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CooperativeIndicators {
    pub cooperative: String,
    pub currency: String,
    pub lines: Vec<IndicatorLine>,
}

/// One figure of an indicator.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct IndicatorLine {
    pub indicator: Indicator,
    /// Of which group; "all", or "together" for the groups that are hidden.
    pub group: String,
    /// Of which month, where months are not added.
    pub month: Option<Month>,
    pub value: Option<Decimal>,
    /// 95 % interval, where one is known.
    pub interval: Option<Interval>,
    /// Why there is no value.
    pub not_shown: Option<NotShown>,
}
