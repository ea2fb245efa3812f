//! The review list: what contradicts itself across records, or looks unlikely.
//!
//! Pure rules over figures that the caller read: [`batches`], [`stock`], [`herds`], [`values`],
//! [`silence`]. A finding accuses nobody: it names the records, the figures and the likely slip.
//! Nothing entered is changed; a finding goes when the records are put right, or when somebody
//! accepts it with a reason, and an accepted one comes back when its evidence changes. Each rule
//! says beside its threshold why that number, and how it may be wrong.

pub mod batches;
pub mod herds;
pub mod levels;
pub mod mould;
pub mod purchases;
pub mod rations;
pub mod silence;
pub mod stock;
pub mod units;
pub mod values;
pub mod yields;

#[cfg(test)]
mod tests;

use crate::guide::Guide;
use crate::kind::Kind;
use chrono::NaiveDate;
use chrono_tz::Tz;
use serde_json::Value as Json;
use uuid::Uuid;

/// Something for somebody to look at.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// Which rule, one of [`crate::kinds::REVIEW_RULES`].
    pub rule: &'static str,
    /// The farm; none for the co-operative's store.
    pub farm: Option<Uuid>,
    /// What it is about, the same each time: rule and ids, at most 120 characters.
    pub finding: String,
    /// Code of the batch, seed lot, animal group or farm that it is about, where it has one.
    pub subject: Option<String>,
    /// The figures that an acceptance holds for, at most 120 characters.
    pub evidence: String,
    /// All figures behind it, by name.
    pub figures: Vec<(&'static str, Json)>,
    /// The records concerned; at most [`RECORDS_MAX`].
    pub records: Vec<(Kind, Uuid)>,
    /// What is wrong, in one sentence.
    pub problem: String,
    /// What most likely puts it right, in one sentence.
    pub fix: &'static str,
    /// First day on which it was so.
    pub since: NaiveDate,
}

/// Records named by one finding: more are not looked through by hand.
pub const RECORDS_MAX: usize = 40;

/// What the rules need to know besides the figures.
#[derive(Clone, Copy, Debug)]
pub struct ReviewCtx<'a> {
    /// The growing guide.
    pub guide: &'a Guide,
    /// The co-operative's zone.
    pub zone: Tz,
    /// Today there.
    pub today: NaiveDate,
}

/// Grams as kg in text.
fn kg(grams: i64) -> String {
    crate::money::format_decimal(grams, 3)
}

/// Grams as kg in JSON.
fn json_kg(grams: i64) -> Json {
    crate::field::json_decimal(grams, 3)
}
