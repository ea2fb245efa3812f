//! The requests as the document shows them. They are read member by member ([`crate::read`]), so
//! that everything that is wrong is told at once. The numbers are those of [`crate::limits`].

use serde::Deserialize;
use std::collections::BTreeMap;
use utoipa::ToSchema;

/// Mix two feeds to a content.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PearsonSquareRequest {
    /// Month of the prices and records.
    #[schema(pattern = r"^\d{4}-\d{2}$", example = "2026-01")]
    pub month: Option<String>,
    /// Farm whose own prices and records count; needs month.
    #[schema(format = Uuid)]
    pub farm_id: Option<String>,
    #[schema(min_length = 1, max_length = 100)]
    pub currency: Option<String>,
    pub nutrient: Option<SquareNutrient>,
    pub basis: Option<SquareBasis>,
    #[schema(minimum = 0, maximum = 100, example = 16)]
    pub target: f64,
    /// What is mixed, kg on the basis.
    #[schema(minimum = 0.001, maximum = 10_000_000)]
    pub amount_kg: Option<f64>,
    #[schema(min_items = 2, max_items = 2)]
    pub feeds: Vec<FeedRequest>,
}

/// The nutrient of a square; crude protein where none is given.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SquareNutrient {
    CrudeProtein,
    Energy,
}

/// What a square's contents, shares and amount are counted in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SquareBasis {
    DryMatter,
    AsFed,
}

/// A feed: what is not given is taken from the record that `feed_id` names.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FeedRequest {
    /// A feed of the co-operative, whose record fills in what is not given.
    #[schema(format = Uuid)]
    pub feed_id: Option<String>,
    #[schema(min_length = 1, max_length = 100)]
    pub name: Option<String>,
    /// Currency units a kg as fed.
    #[schema(minimum = 0, maximum = 1_000_000_000)]
    pub price: Option<f64>,
    /// Per cent of the feed as fed.
    #[schema(minimum = 0.5, maximum = 100)]
    pub dry_matter_percent: Option<f64>,
    /// Per cent of dry matter.
    #[schema(minimum = 0, maximum = 100)]
    pub crude_protein_percent: Option<f64>,
    /// MJ per kg of dry matter.
    #[schema(minimum = 0, maximum = 40)]
    pub energy_mj_per_kg: Option<f64>,
}

/// The cheapest mix within limits.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FeedMixRequest {
    /// Month of the prices and records.
    #[schema(pattern = r"^\d{4}-\d{2}$", example = "2026-01")]
    pub month: Option<String>,
    /// Farm whose own prices and records count; needs month.
    #[schema(format = Uuid)]
    pub farm_id: Option<String>,
    #[schema(min_length = 1, max_length = 100)]
    pub currency: Option<String>,
    /// What the mix weighs in dry matter; or as_fed_kg.
    #[schema(minimum = 0.001, maximum = 10_000_000)]
    pub dry_matter_kg: Option<f64>,
    /// What the mix weighs as fed.
    #[schema(minimum = 0.001, maximum = 10_000_000)]
    pub as_fed_kg: Option<f64>,
    /// Weight of a bag of feeds that name none.
    #[schema(minimum = 0.001, maximum = 10_000)]
    pub bag_kg: Option<f64>,
    #[schema(min_items = 1, max_items = 40)]
    pub feeds: Vec<MixFeedRequest>,
    #[schema(max_items = 40)]
    pub limits: Option<Vec<MixLimitRequest>>,
}

/// A feed of a mix.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MixFeedRequest {
    /// A feed of the co-operative, whose record fills in what is not given.
    #[schema(format = Uuid)]
    pub feed_id: Option<String>,
    #[schema(min_length = 1, max_length = 100)]
    pub name: Option<String>,
    /// Currency units a kg as fed.
    #[schema(minimum = 0, maximum = 1_000_000_000)]
    pub price: Option<f64>,
    /// Per cent of the feed as fed.
    #[schema(minimum = 0.5, maximum = 100)]
    pub dry_matter_percent: Option<f64>,
    /// Per cent of dry matter.
    #[schema(minimum = 0, maximum = 100)]
    pub crude_protein_percent: Option<f64>,
    /// MJ per kg of dry matter.
    #[schema(minimum = 0, maximum = 40)]
    pub energy_mj_per_kg: Option<f64>,
    /// At most 20 other nutrients by name, in their own unit per kg of dry matter.
    pub nutrients: Option<BTreeMap<String, NutrientContent>>,
    /// Weight of a bag, for the words.
    #[schema(minimum = 0.001, maximum = 10_000)]
    pub bag_kg: Option<f64>,
    /// Least, kg as fed.
    #[schema(minimum = 0, maximum = 10_000_000)]
    pub min_kg: Option<f64>,
    /// Most, kg as fed.
    #[schema(minimum = 0, maximum = 10_000_000)]
    pub max_kg: Option<f64>,
    /// Least share of the mix as fed.
    #[schema(minimum = 0, maximum = 100)]
    pub min_share_percent: Option<f64>,
    /// Most.
    #[schema(minimum = 0, maximum = 100)]
    pub max_share_percent: Option<f64>,
}

/// A content in the nutrient's own unit per kg of dry matter.
#[derive(Debug, Deserialize, ToSchema)]
#[schema(minimum = 0, maximum = 1_000_000)]
pub struct NutrientContent(pub f64);

/// A limit on a nutrient of a mix.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MixLimitRequest {
    /// crude_protein, energy, dry_matter (per day) or another of the feeds.
    #[schema(min_length = 1, max_length = 100, example = "crude_protein")]
    pub nutrient: String,
    pub per: Option<LimitPer>,
    /// Least.
    #[schema(minimum = 0, maximum = 1_000_000_000_000_i64)]
    pub min: Option<f64>,
    /// Most.
    #[schema(minimum = 0, maximum = 1_000_000_000_000_i64)]
    pub max: Option<f64>,
}

/// Protein in per cent of dry matter, or in kg a day.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LimitPer {
    KgDryMatter,
    Day,
}

/// Changes to budget, choices to rank, or both.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PartialBudgetRequest {
    #[schema(min_length = 1, max_length = 100)]
    pub currency: Option<String>,
    /// Least return on money added; 100 where none is given.
    #[schema(minimum = 0, maximum = 1_000)]
    pub minimum_percent: Option<f64>,
    #[schema(max_items = 40)]
    pub changes: Option<Vec<ChangeRequest>>,
    #[schema(max_items = 40)]
    pub choices: Option<Vec<ChoiceRequest>>,
}

/// What changes, in currency units; 0 where there is none.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ChangeRequest {
    #[schema(min_length = 1, max_length = 100)]
    pub name: String,
    /// Income that comes on top.
    #[schema(minimum = 0, maximum = 1_000_000_000_000_i64)]
    pub added_income: f64,
    /// Costs that fall away.
    #[schema(minimum = 0, maximum = 1_000_000_000_000_i64)]
    pub saved_cost: f64,
    /// Income that falls away.
    #[schema(minimum = 0, maximum = 1_000_000_000_000_i64)]
    pub lost_income: f64,
    /// Costs that come on top.
    #[schema(minimum = 0, maximum = 1_000_000_000_000_i64)]
    pub added_cost: f64,
}

/// Something that a farm may do, in currency units.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ChoiceRequest {
    #[schema(min_length = 1, max_length = 100)]
    pub name: String,
    /// Costs that vary between the choices.
    #[schema(minimum = 0, maximum = 1_000_000_000_000_i64)]
    pub cost: f64,
    /// What is left after these costs.
    #[schema(minimum = -1_000_000_000_000_i64, maximum = 1_000_000_000_000_i64)]
    pub net_benefit: f64,
}

/// A farm's fodder, and the feed that it replaces.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FodderBreakEvenRequest {
    /// Month of the prices and records.
    #[schema(pattern = r"^\d{4}-\d{2}$", example = "2026-01")]
    pub month: Option<String>,
    /// Farm whose own prices and records count; needs month.
    #[schema(format = Uuid)]
    pub farm_id: Option<String>,
    #[schema(min_length = 1, max_length = 100)]
    pub currency: Option<String>,
    pub basis: Option<crate::break_even::Basis>,
    /// Currency units a kg.
    #[schema(minimum = 0, maximum = 1_000_000_000)]
    pub seed_price: Option<f64>,
    /// Seed soaked.
    #[schema(minimum = 0.001, maximum = 1_000_000_000)]
    pub seed_kg: Option<f64>,
    /// Dry matter of the seed.
    #[schema(minimum = 0.5, maximum = 100)]
    pub seed_dry_matter_percent: Option<f64>,
    /// Fresh fodder grown, spoiled trays included.
    #[schema(minimum = 0.001, maximum = 1_000_000_000)]
    pub fresh_kg: Option<f64>,
    /// Dry matter of fresh fodder.
    #[schema(minimum = 0.5, maximum = 100)]
    pub fodder_dry_matter_percent: Option<f64>,
    /// MJ per kg of its dry matter.
    #[schema(minimum = 0.1, maximum = 40)]
    pub fodder_energy_mj_per_kg: Option<f64>,
    /// All costs besides seed.
    #[schema(minimum = 0, maximum = 1_000_000_000_000_i64)]
    pub other_cost: Option<f64>,
    /// Share that spoiled.
    #[schema(minimum = 0, maximum = 100)]
    pub spoiled_percent: Option<f64>,
    pub replaces: Option<FeedRequest>,
}
