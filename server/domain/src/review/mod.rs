//! The review list: what contradicts itself across records, or looks unlikely.
//!
//! Pure rules over figures that the caller read: [`batches`], [`stock`], [`herds`], [`values`],
//! [`leveled`], [`priced`], [`silence`],
//! [`texts`]. Their arithmetic stands beside them, without records:
//! [`yields`], [`mould`], [`levels`], [`purchases`], [`rations`], [`units`]. A finding accuses nobody: it names the records, the figures and the likely slip.
//! Nothing entered is changed; a finding goes when the records are put right, or when somebody
//! accepts it with a reason, and an accepted one comes back when its evidence changes. Each rule
//! says beside its threshold why that number, and how it may be wrong.

pub mod batches;
pub mod half_octave;
pub mod herds;
pub mod leveled;
pub mod levels;
pub mod mould;
pub mod priced;
pub mod purchases;
pub mod rations;
pub mod silence;
pub mod stock;
pub mod texts;
pub mod units;
pub mod values;
pub mod yields;

#[cfg(test)]
mod tests;
#[cfg(test)]
mod tests_levels;

use crate::kind::Kind;
use crate::planning::guide::Guide;
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
    /// How bad it is, against others of its rule: of several cases the worst is told.
    pub weight: f64,
}

/// Records named by one finding: more are not looked through by hand.
pub const RECORDS_MAX: usize = 40;

/// What the rules need to know besides the figures.
#[derive(Clone, Copy, Debug)]
pub struct ReviewCtx<'a> {
    pub guide: &'a Guide,
    /// The co-operative's zone.
    pub zone: Tz,
    /// Today there.
    pub today: NaiveDate,
    /// First day that is looked through; what stands earlier is read for comparison.
    pub from: NaiveDate,
}

/// Grams as kg in text.
fn kg(grams: i64) -> String {
    crate::savings::money::format_decimal(grams, 3)
}

/// Grams as kg in JSON.
fn json_kg(grams: i64) -> Json {
    crate::field::json_decimal(grams, 3)
}

/// A figure that a finding bears on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Figure {
    /// What was saved on feed.
    FeedSaving,
    /// How milk or eggs changed.
    OutputChange,
    /// How many trays spoil.
    Spoilage,
    /// The yield that plans are made with.
    PlannedYield,
    /// Seed on a farm or in the store.
    SeedStock,
}

/// The figures that a rule's finding bears on, and whether they leave out what it is about until it
/// is put right or accepted.
#[must_use]
pub fn figures_of(rule: &str) -> &'static [(Figure, bool)] {
    use Figure::{FeedSaving, OutputChange, PlannedYield, SeedStock, Spoilage};
    match rule {
        "feed_price" | "feed_kg" | "feed_gap" => &[(FeedSaving, true)],
        "check_level" => &[(OutputChange, true)],
        "feed_stock" | "ration_not_bought" | "price_outlier" | "amount_outlier"
        | "ration_too_much" | "ration_cost" => &[(FeedSaving, false)],
        "yield_impossible" => &[(PlannedYield, true)],
        "yield_unlikely" | "text_against_visit" => &[(PlannedYield, false)],
        "more_trays_out_than_spread" | "thrown_without_weight" => {
            &[(Spoilage, true), (PlannedYield, true)]
        }
        "output_jump" | "unit_slip" | "level_shift" | "herd_implied" | "head_jump"
        | "repeated_values" | "rounded_values" => &[(OutputChange, false)],
        "store_stock_below_zero" | "farm_stock_below_zero" => &[(SeedStock, false)],
        _ => &[],
    }
}
