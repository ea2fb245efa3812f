//! What contradicts itself across records, or looks unlikely.

use crate::estimates::AsOf;
use crate::wire::Time;
use crate::{Column, Sheet, columns};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;
use std::collections::BTreeMap;
use utoipa::ToSchema;
use utoipa::openapi::schema::{ObjectBuilder, SchemaType, Type};
use utoipa::openapi::{RefOr, Schema};
use uuid::Uuid;

choice! {
    /// What contradicts itself, or looks unlikely.
    ReviewRule {
        StoreStockBelowZero = "store_stock_below_zero",
        FarmStockBelowZero = "farm_stock_below_zero",
        MoreTraysOutThanSpread = "more_trays_out_than_spread",
        MoreFedThanHarvested = "more_fed_than_harvested",
        YieldImpossible = "yield_impossible",
        YieldUnlikely = "yield_unlikely",
        EventsOutOfOrder = "events_out_of_order",
        FedOverAge = "fed_over_age",
        FedWithMould = "fed_with_mould",
        HeldLotSoaked = "held_lot_soaked",
        ShedOverFull = "shed_over_full",
        SilentFarm = "silent_farm",
        RepeatedValues = "repeated_values",
        RoundedValues = "rounded_values",
        OutputJump = "output_jump",
        HeadJump = "head_jump",
        FeedPrice = "feed_price",
        FeedKg = "feed_kg",
        FeedGap = "feed_gap",
        FeedStock = "feed_stock",
        RationNotBought = "ration_not_bought",
        GuideDryMatter = "guide_dry_matter",
        ThrownWithoutWeight = "thrown_without_weight",
        PriceOutlier = "price_outlier",
        AmountOutlier = "amount_outlier",
        RationTooMuch = "ration_too_much",
        RationCost = "ration_cost",
        UnitSlip = "unit_slip",
        LevelShift = "level_shift",
        HerdImplied = "herd_implied",
        CheckLevel = "check_level",
        TextsUndone = "texts_undone",
        TextAgainstVisit = "text_against_visit",
    }
}

choice! {
    /// A figure that a finding bears on.
    BearsOn {
        FeedSaving = "feed_saving",
        OutputChange = "output_change",
        Spoilage = "spoilage",
        PlannedYield = "planned_yield",
        SeedStock = "seed_stock",
    }
}

/// A figure that a finding bears on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct FindingBearing {
    pub figure: BearsOn,
    /// The figure leaves out what the finding is about until it is put right or accepted; else it
    /// counts it as it stands.
    pub is_held_back: bool,
}

/// How far the looking through of farms' whole history is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ReviewRun {
    /// Farms to look through.
    pub farms: i64,
    /// Of them done.
    pub done: i64,
    pub began_at: Time,
    /// None while it runs.
    pub ended_at: Option<Time>,
}

/// A figure behind a finding.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Figure {
    /// Whether.
    Truth(bool),
    /// A count.
    Count(i64),
    /// An amount, in the unit that its name ends in.
    Amount(f64),
    /// A day.
    Day(NaiveDate),
    /// A word.
    Word(String),
}

impl utoipa::PartialSchema for Figure {
    fn schema() -> RefOr<Schema> {
        let types = SchemaType::from_iter([Type::Boolean, Type::Number, Type::String]);
        ObjectBuilder::new().schema_type(types).into()
    }
}

impl ToSchema for Figure {
    fn name() -> Cow<'static, str> {
        Cow::Borrowed("Figure")
    }
}

/// A record that a finding names.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct FindingRecord {
    /// Its kind.
    pub kind: String,
    /// The record.
    pub id: Uuid,
    /// Its version when it was looked at.
    pub version: Option<i64>,
}

/// One more case of a finding: an acceptance names its `finding` and `evidence`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FindingCase {
    /// What it is about, the same each time.
    pub finding: String,
    /// What it is about by name.
    pub subject: Option<String>,
    /// The figures that an acceptance holds for.
    pub evidence: String,
    /// All figures behind it that are known, by name.
    pub figures: BTreeMap<String, Figure>,
    /// The records concerned.
    pub records: Vec<FindingRecord>,
    /// What is wrong, English.
    pub problem: String,
    /// First day on which it was so.
    pub since: NaiveDate,
}

/// Something for somebody to look at.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Finding {
    /// Which rule.
    pub rule: ReviewRule,
    /// The farm; none for the co-operative's store.
    pub farm_id: Option<Uuid>,
    /// Its code.
    pub farm: Option<String>,
    /// Name of the member.
    pub member_name: Option<String>,
    /// What it is about, the same each time.
    pub finding: String,
    /// Code of the batch, seed lot, animal group or farm that it is about.
    pub subject: Option<String>,
    /// The figures that an acceptance holds for.
    pub evidence: String,
    /// All figures behind it that are known, by name.
    pub figures: BTreeMap<String, Figure>,
    /// The records concerned.
    pub records: Vec<FindingRecord>,
    /// What is wrong, English.
    pub problem: String,
    /// What most likely puts it right, English.
    pub fix: String,
    /// First day on which it was so, of the case told: the worst.
    pub since: NaiveDate,
    /// Cases of the rule on this farm in the quarter.
    pub cases: i64,
    /// The cases beside the one told, where each is accepted by itself; the worst first.
    pub others: Vec<FindingCase>,
    /// Days of the first and the last of them.
    pub first_on: NaiveDate,
    /// See `first_on`.
    pub last_on: NaiveDate,
    /// Figures that it bears on, and whether it holds them back.
    pub bears_on: Vec<FindingBearing>,
    /// The record that accepts it.
    pub acceptance_id: Option<Uuid>,
    /// Day of acceptance.
    pub accepted_on: Option<NaiveDate>,
    /// Why it was accepted.
    pub accepted_because: Option<String>,
}

impl From<Finding> for FindingCase {
    fn from(of: Finding) -> Self {
        let Finding { finding, subject, evidence, figures, records, problem, since, .. } = of;
        Self { finding, subject, evidence, figures, records, problem, since }
    }
}

impl Finding {
    /// The cases beside the one told, each as a finding of its own.
    pub fn each_other(&self) -> impl Iterator<Item = Self> {
        self.others.iter().cloned().map(|of| {
            let FindingCase { finding, subject, evidence, figures, records, problem, since } = of;
            let (cases, others) = (1, Vec::new());
            let this =
                Self { finding, subject, evidence, figures, records, problem, ..self.clone() };
            Self { since, cases, others, first_on: since, last_on: since, ..this }
        })
    }

    /// A figure that is a count; 0 where it is not known.
    #[must_use]
    pub fn count(&self, name: &str) -> i64 {
        match self.figures.get(name) {
            Some(Figure::Count(count)) => *count,
            _ => 0,
        }
    }

    /// A figure that is an amount or a count.
    #[must_use]
    pub fn amount(&self, name: &str) -> Option<f64> {
        match self.figures.get(name) {
            Some(Figure::Amount(amount)) => Some(*amount),
            Some(Figure::Count(count)) => i32::try_from(*count).ok().map(f64::from),
            _ => None,
        }
    }

    /// A figure that is a day.
    #[must_use]
    pub fn day(&self, name: &str) -> Option<NaiveDate> {
        match self.figures.get(name) {
            Some(Figure::Day(day)) => Some(*day),
            _ => None,
        }
    }

    /// A figure that is a word; empty where it is not known.
    #[must_use]
    pub fn word(&self, name: &str) -> &str {
        match self.figures.get(name) {
            Some(Figure::Word(word)) => word,
            _ => "",
        }
    }
}

/// The review list, the newest first.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ReviewList {
    /// Last day looked through.
    pub day: NaiveDate,
    /// First day looked through.
    pub from: NaiveDate,
    /// Which state was looked through.
    #[serde(flatten)]
    pub as_of: AsOf,
    /// Findings that fit, also those that are not listed.
    pub findings: usize,
    /// Findings whose records have changed since: they are looked at again within minutes.
    pub looked_at_again: usize,
    /// How far the looking through of whole histories is; none before the first.
    pub run: Option<ReviewRun>,
    /// Findings by rule.
    pub by_rule: BTreeMap<ReviewRule, usize>,
    /// Findings that are not listed.
    pub left_off: usize,
    /// Findings.
    pub items: Vec<Finding>,
}

impl Sheet for ReviewList {
    type Row = Finding;

    fn rows(&self) -> &[Finding] {
        &self.items
    }

    fn columns() -> Vec<Column<Finding>> {
        columns!(Finding: since, rule, farm, member_name, problem, fix, evidence, finding,
            accepted_on, accepted_because, cases, first_on, last_on)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rules_are_those_of_the_records() {
        let all: Vec<&str> = ReviewRule::ALL.iter().map(|r| r.text()).collect();
        assert_eq!(all, traybook_domain::kinds::REVIEW_RULES);
    }
}
