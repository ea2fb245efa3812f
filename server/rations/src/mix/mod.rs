//! The least-cost mix of feeds under limits, and what its limits and feeds are worth.

mod answer;
mod clash;
mod model;
mod read;
mod worth;

pub use answer::{Clash, FeedPart, LimitMet, Mix, NutrientMet, Outcome};
pub use worth::Worth;

use crate::feeds::Feed;
use crate::lp::{Found, Unreliable, minimise};
use model::Model;

/// What a mix must weigh.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Amount {
    /// kg of dry matter.
    DryMatter(f64),
    /// kg as fed.
    AsFed(f64),
}

impl Amount {
    #[must_use]
    pub const fn kg(self) -> f64 {
        match self {
            Self::DryMatter(kg) | Self::AsFed(kg) => kg,
        }
    }

    /// What it is called in sentences.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::DryMatter(_) => "kg of dry matter",
            Self::AsFed(_) => "kg as fed",
        }
    }
}

/// What a limit on a nutrient is counted in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Per {
    /// Per kg of the mix's dry matter; crude protein in per cent of it.
    DryMatter,
    /// In the whole mix, the feed of a day: protein and dry matter in kg, energy in MJ.
    Day,
}

/// A limit on a nutrient.
#[derive(Clone, Debug, PartialEq)]
pub struct NutrientLimit {
    /// `crude_protein`, `energy`, `dry_matter` or the name of another nutrient of the feeds.
    pub nutrient: String,
    /// What it is counted in.
    pub per: Per,
    /// Least.
    pub min: Option<f64>,
    /// Most.
    pub max: Option<f64>,
    /// JSON pointer to it in the request.
    pub pointer: String,
}

/// A question for the least-cost mix. Built by [`Request::read`], which checks it.
#[derive(Clone, Debug, PartialEq)]
pub struct Request {
    /// The feeds, with price and dry matter known and not negative.
    pub feeds: Vec<Feed>,
    /// What the mix weighs.
    pub amount: Amount,
    /// Limits on nutrients.
    pub limits: Vec<NutrientLimit>,
    /// Bag of feeds that name none, kg.
    pub bag_kg: Option<f64>,
    /// Currency for the words.
    pub currency: Option<String>,
}

/// Finds the least-cost mix, or which limits clash.
///
/// # Errors
/// When no answer stands the check; better scaled units may help.
///
/// # Source
/// Linear programme of the diet problem (Dantzig 1963, Linear Programming and Extensions, ch. 27).
pub fn solve(request: &Request) -> Result<Outcome, Unreliable> {
    let model = Model::new(request);
    match minimise(&model.linear)? {
        Found::Best(x) => answer::found(&model, &x).map(|mix| Outcome::Found(Box::new(mix))),
        Found::Impossible => clash::explain(&model).map(Outcome::Impossible),
        Found::Unbounded => Err(Unreliable("a mix without a least cost".to_owned())),
    }
}
