//! The review list.

use crate::columns;
use crate::estimates::AsOf;
use crate::sheet::{Column, Sheet};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;
use std::collections::BTreeMap;
use utoipa::ToSchema;
use utoipa::openapi::schema::{ObjectBuilder, SchemaType, Type};
use utoipa::openapi::{RefOr, Schema};
use uuid::Uuid;

/// A figure behind a finding.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum FindingFigure {
    /// Whether.
    Truth(bool),
    /// A count.
    Count(i64),
    /// In the unit that its name ends in.
    Amount(f64),
    /// A day.
    Day(NaiveDate),
    /// A word, or an amount with its unit.
    Word(String),
}

// By hand: of the variants several fit a number or a text, which `oneOf` does not allow.
impl utoipa::PartialSchema for FindingFigure {
    fn schema() -> RefOr<Schema> {
        let types = SchemaType::from_iter([Type::Boolean, Type::Number, Type::String]);
        ObjectBuilder::new().schema_type(types).into()
    }
}

impl ToSchema for FindingFigure {
    fn name() -> Cow<'static, str> {
        Cow::Borrowed("FindingFigure")
    }
}

/// Findings, the newest first.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ReviewList {
    pub day: NaiveDate,
    /// First day of the records looked through.
    pub from: NaiveDate,
    /// Which state was looked through.
    #[serde(flatten)]
    pub as_of: AsOf,
    /// All of them, also those left off.
    pub findings: usize,
    /// Findings whose records have changed since: they are looked at again within minutes.
    pub looked_at_again: usize,
    pub by_rule: BTreeMap<ReviewRule, usize>,
    /// Findings beyond the most that are answered.
    pub left_off: usize,
    pub items: Vec<ReviewFinding>,
}

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
    }
}

/// Something for somebody to look at.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ReviewFinding {
    pub rule: ReviewRule,
    /// Null for the store.
    pub farm_id: Option<Uuid>,
    pub farm: Option<String>,
    pub member_name: Option<String>,
    /// What it is about; for a review acceptance.
    pub finding: String,
    /// Code of the batch, seed lot, animal group or farm that it is about.
    pub subject: Option<String>,
    /// The figures that an acceptance holds for.
    pub evidence: String,
    /// Those that are known, by name; each rule has its own.
    pub figures: BTreeMap<String, FindingFigure>,
    pub records: Vec<FindingRecord>,
    pub problem: String,
    /// What most likely puts it right.
    pub fix: String,
    /// First day on which it was so.
    pub since: NaiveDate,
    pub acceptance_id: Option<Uuid>,
    pub accepted_on: Option<NaiveDate>,
    pub accepted_because: Option<String>,
}

impl ReviewFinding {
    /// A figure that is a count; 0 where it is not known.
    #[must_use]
    pub fn count(&self, name: &str) -> i64 {
        match self.figures.get(name) {
            Some(FindingFigure::Count(count)) => *count,
            _ => 0,
        }
    }

    /// A figure that is an amount or a count.
    #[must_use]
    pub fn amount(&self, name: &str) -> Option<f64> {
        match self.figures.get(name) {
            Some(FindingFigure::Amount(amount)) => Some(*amount),
            Some(FindingFigure::Count(count)) => i32::try_from(*count).ok().map(f64::from),
            _ => None,
        }
    }

    /// A figure that is a day.
    #[must_use]
    pub fn day(&self, name: &str) -> Option<NaiveDate> {
        match self.figures.get(name) {
            Some(FindingFigure::Day(day)) => Some(*day),
            _ => None,
        }
    }

    /// A figure that is a word; empty where it is not known.
    #[must_use]
    pub fn word(&self, name: &str) -> &str {
        match self.figures.get(name) {
            Some(FindingFigure::Word(word)) => word,
            _ => "",
        }
    }
}

/// A record that a finding concerns.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FindingRecord {
    #[schema(example = "milk_record")]
    pub kind: String,
    pub id: Uuid,
    pub version: Option<i64>,
}

impl Sheet for ReviewList {
    type Row = ReviewFinding;

    fn rows(&self) -> &[ReviewFinding] {
        &self.items
    }

    fn columns() -> Vec<Column<ReviewFinding>> {
        columns!(ReviewFinding: since, rule, farm, member_name, problem, fix, evidence, finding,
            accepted_on, accepted_because)
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
