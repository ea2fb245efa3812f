//! What the nutrients of feeds cost. The other answers on rations are of `traybook-rations`.

use crate::Decimal;
use crate::wire::Month;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// Feeds at their prices of a month, and the own fodder beside them, in currency units.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FeedValues {
    pub month: Month,
    /// The farm asked for.
    pub farm_id: Option<Uuid>,
    pub currency: String,
    /// Number of the last change counted.
    pub data_version: i64,
    pub method: String,
    pub units: String,
    pub feeds: Vec<FeedValue>,
    pub fodder: FodderValue,
    pub fresh_cost_is: String,
    /// Whom to ask.
    pub caution: String,
}

choice! {
    /// Where a price comes from.
    PriceSource {
        Own = "own",
        Median = "median",
        EarlierMedian = "earlier_median",
    }
}

choice! {
    /// What is not known of a feed.
    FeedMissing {
        Price = "price within three months",
        DryMatter = "dry matter",
        CrudeProtein = "crude protein",
        Energy = "energy",
    }
}

/// What a feed's nutrients cost.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FeedValue {
    pub feed_id: Uuid,
    pub feed: String,
    pub price_is: Option<PriceSource>,
    /// In which it was paid.
    pub price_month: Option<Month>,
    /// As recorded.
    pub dry_matter_percent: Option<Decimal>,
    /// As fed.
    pub cost_per_kg_fresh: Option<f64>,
    pub cost_per_kg_dry_matter: Option<f64>,
    pub cost_per_kg_protein: Option<f64>,
    pub cost_per_mj: Option<f64>,
    pub missing: Vec<FeedMissing>,
}

choice! {
    /// What is not known of the own fodder.
    FodderMissing {
        Seed = "seed soaked in the month",
        SeedPrice = "price of the seed that was soaked",
        FedOut = "fodder fed out",
        Weight = "weight of the fodder fed out",
        ProteinAndEnergy = "protein and energy of the fodder: no record holds a test",
    }
}

/// What the own fodder cost; null where not known.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FodderValue {
    pub farm_id: Option<Uuid>,
    /// Farms that recorded all that is needed.
    pub farms: i64,
    pub cost: Option<Decimal>,
    pub seed_kg: Option<Decimal>,
    pub fresh_fodder_fed_kg: Option<Decimal>,
    pub dry_matter_fed_kg: Option<Decimal>,
    pub dry_matter_percent: Decimal,
    pub cost_per_kg_fresh_misleading: Option<Decimal>,
    pub cost_per_kg_dry_matter: Option<Decimal>,
    /// Always null: no record holds a test.
    pub cost_per_kg_protein: Option<Decimal>,
    /// Always null: no record holds a test.
    pub cost_per_mj: Option<Decimal>,
    pub missing: Vec<FodderMissing>,
}
