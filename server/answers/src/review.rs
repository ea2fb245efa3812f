//! What contradicts itself across records, or looks unlikely.

use crate::estimates::AsOf;
use crate::{Column, Sheet, columns};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use utoipa::ToSchema;
use uuid::Uuid;

/// A figure behind a finding.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
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

/// Something for somebody to look at.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Finding {
    /// Which rule.
    pub rule: String,
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
    /// First day on which it was so.
    pub since: NaiveDate,
    /// The record that accepts it.
    pub acceptance_id: Option<Uuid>,
    /// Day of acceptance.
    pub accepted_on: Option<NaiveDate>,
    /// Why it was accepted.
    pub accepted_because: Option<String>,
}

impl Finding {
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
    pub findings: u64,
    /// Findings whose records have changed since: they are looked at again within minutes.
    pub looked_at_again: u64,
    /// Findings by rule.
    pub by_rule: BTreeMap<String, u64>,
    /// Findings that are not listed.
    pub left_off: u64,
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
            accepted_on, accepted_because)
    }
}
