//! At which price, yield or spoilage sprouted fodder pays on a farm.
//!
//! # Source
//! The honest saving of CHECKS 1d: what is fed is counted in dry matter (or energy) against the
//! feed that it replaces; seed, other costs and spoiled trays are inside. That fodder can not hold
//! more dry matter than was sown is CHECKS 1.17.

use crate::limits::{COST_MAX, DRY_MATTER_PERCENT_MIN, ENERGY_MAX, PRICE_MAX};
use crate::read::{Reader, outcome};
use crate::request::FodderBreakEvenRequest;
use crate::words::{self, money};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value as Json};
use traybook_domain::FieldError;
use utoipa::ToSchema;

/// What fodder is compared by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[schema(as = FodderBasis)]
#[serde(rename_all = "snake_case")]
pub enum Basis {
    /// Dry matter.
    DryMatter,
    /// Metabolisable energy.
    Energy,
}

/// The feed that fodder replaces.
#[derive(Clone, Debug, PartialEq)]
pub struct Replaced {
    /// Name.
    pub name: String,
    /// Price of a kg as fed, currency units.
    pub price: f64,
    /// Dry matter as a share of the feed as fed.
    pub dry_matter: f64,
    /// MJ per kg of dry matter; needed for the comparison by energy.
    pub energy: Option<f64>,
}

/// A farm's fodder over some time.
#[derive(Clone, Debug, PartialEq)]
pub struct Fodder {
    /// Price of a kg of seed, currency units.
    pub seed_price: f64,
    /// Seed soaked, kg.
    pub seed_kg: f64,
    /// Dry matter as a share of the seed.
    pub seed_dry_matter: f64,
    /// Fresh fodder grown, spoiled trays included, kg.
    pub fresh_kg: f64,
    /// Dry matter as a share of fresh fodder.
    pub fodder_dry_matter: f64,
    /// MJ per kg of the fodder's dry matter; needed for the comparison by energy.
    pub fodder_energy: Option<f64>,
    /// Labour, water, depreciation and all else, currency units.
    pub other_cost: f64,
    /// Share of the fodder that spoiled.
    pub spoiled: f64,
    /// What is compared.
    pub basis: Basis,
    /// What it replaces.
    pub replaces: Replaced,
    /// Currency for the words.
    pub currency: Option<String>,
}

/// From which value on fodder pays, or up to which.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Point {
    /// At this value it neither gains nor loses.
    At {
        /// The value, in the unit of its member.
        value: f64,
    },
    /// It pays whatever the value is.
    Always,
    /// It does not pay at any value that can be.
    Never,
}

/// Which kind of point it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[schema(as = BreakEvenKind)]
#[serde(rename_all = "snake_case")]
pub enum PointKind {
    /// At a value it neither gains nor loses.
    At,
    /// It pays whatever the value is.
    Always,
    /// It does not pay at any value that can be.
    Never,
}

impl BreakEven {
    const fn new(point: Point, sentence: String) -> Self {
        let (kind, value) = match point {
            Point::At { value } => (PointKind::At, Some(value)),
            Point::Always => (PointKind::Always, None),
            Point::Never => (PointKind::Never, None),
        };
        Self { kind, value, sentence }
    }

    /// The point.
    #[must_use]
    pub const fn point(&self) -> Point {
        match (self.kind, self.value) {
            (PointKind::At, Some(value)) => Point::At { value },
            (PointKind::Always, _) => Point::Always,
            _ => Point::Never,
        }
    }
}

/// A break-even point with its words.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct BreakEven {
    /// Whether there is such a value.
    pub kind: PointKind,
    /// The value, in the unit of the member's name; only of kind `at`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub value: Option<f64>,
    /// What it means.
    pub sentence: String,
}

/// The answer, currency units and kg for the time asked about.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[schema(as = FodderBreakEvenFigures)]
pub struct Answer {
    /// What was compared.
    pub basis: Basis,
    /// What the fodder cost.
    pub cost: f64,
    /// Dry matter grown, kg.
    pub dry_matter_made_kg: f64,
    /// Dry matter fed, kg.
    pub dry_matter_fed_kg: f64,
    /// Cost of a kg of the dry matter fed; none where all of it spoiled.
    pub cost_per_kg_dry_matter_fed: Option<f64>,
    /// kg as fed of the other feed that it stands for.
    pub replaces_kg: f64,
    /// What these cost.
    pub replaces_cost: f64,
    /// What fodder saves; negative for a loss.
    pub saving: f64,
    /// What the saving would seem to be if a kg fresh stood for a kg of the other feed.
    pub saving_by_fresh_weight_misleading: f64,
    /// Why not to use that figure.
    pub fresh_weight_is: &'static str,
    /// Price of a kg as fed of the replaced feed from which on fodder pays.
    pub replaced_price: BreakEven,
    /// Fresh fodder from a kg of seed from which on fodder pays, kg.
    pub fresh_kg_per_kg_seed: BreakEven,
    /// Spoiled share up to which fodder pays, per cent.
    pub spoiled_percent: BreakEven,
    /// What it means.
    pub sentence: String,
    /// Whom to ask.
    pub caution: &'static str,
}

/// The answer with the figures that it uses.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct FodderBreakEven {
    /// The answer.
    #[serde(flatten)]
    pub answer: Answer,
    /// The figures computed with: the request, and what was taken from records.
    #[schema(value_type = FodderBreakEvenRequest)]
    pub used: Map<String, Json>,
    /// Names of those that were taken from records.
    pub from_records: Vec<String>,
}

impl Fodder {
    /// Reads a question.
    ///
    /// # Errors
    /// Everything that is wrong with it; `impossible` where the fodder would hold more dry matter
    /// than was sown.
    pub fn read(request: &Map<String, Json>) -> Result<Self, Vec<FieldError>> {
        let mut top = Reader::new(request);
        let kg = (0.001, 1e9);
        let seed_price = top.needed("seed_price", (0.0, PRICE_MAX));
        let seed_kg = top.needed("seed_kg", kg);
        let dry = (DRY_MATTER_PERCENT_MIN, 100.0);
        let seed_dry = top.needed("seed_dry_matter_percent", dry);
        let fresh_kg = top.needed("fresh_kg", kg);
        let fodder_dry = top.needed("fodder_dry_matter_percent", dry);
        let fodder_energy = top.number("fodder_energy_mj_per_kg", (0.1, ENERGY_MAX));
        let other_cost = top.needed("other_cost", (0.0, COST_MAX));
        let spoiled = top.needed("spoiled_percent", (0.0, 100.0));
        let by_energy = top.choice("basis", &["dry_matter", "energy"]) == Some("energy");
        let currency = top.text("currency");
        if by_energy && top.value("fodder_energy_mj_per_kg").is_none() {
            let detail = "give it for a comparison by energy";
            top.refuse("fodder_energy_mj_per_kg", "required", detail);
        }
        if let (Some(seed), Some(sd), Some(fresh), Some(fd)) =
            (seed_kg, seed_dry, fresh_kg, fodder_dry)
            && fresh * fd > seed * sd * (1.0 + 1e-9)
        {
            let detail = format!(
                "give a dry matter or yield that can be: {} kg fresh at {} % would hold {} kg of \
                 dry matter, and only {} kg was sown",
                words::number(fresh),
                words::number(fd),
                words::number(fresh * fd / 100.0),
                words::number(seed * sd / 100.0)
            );
            top.refuse("fodder_dry_matter_percent", "impossible", detail);
        }
        let mut errors = Vec::new();
        let mut replaces = None;
        match top.object("replaces") {
            Some(map) => {
                let mut r = Reader::at(map, top.pointer("replaces"));
                replaces = replaced(&mut r, by_energy);
                errors.extend(r.finish());
            }
            None if top.value("replaces").is_none() => {
                top.refuse("replaces", "required", "give the feed that the fodder replaces");
            }
            None => {}
        }
        let mut all = top.finish();
        all.extend(errors);
        let read = || {
            Some(Self {
                seed_price: seed_price?,
                seed_kg: seed_kg?,
                seed_dry_matter: seed_dry? / 100.0,
                fresh_kg: fresh_kg?,
                fodder_dry_matter: fodder_dry? / 100.0,
                fodder_energy,
                other_cost: other_cost?,
                spoiled: spoiled? / 100.0,
                basis: if by_energy { Basis::Energy } else { Basis::DryMatter },
                replaces: replaces?,
                currency,
            })
        };
        outcome(read(), all)
    }

    /// kg as fed of the other feed that a kg of fodder's dry matter stands for.
    fn kg_for_dry_matter(&self) -> f64 {
        let ratio = match self.basis {
            Basis::DryMatter => 1.0,
            Basis::Energy => {
                let own = self.fodder_energy.unwrap_or(0.0);
                self.replaces.energy.filter(|e| *e > 0.0).map_or(0.0, |other| own / other)
            }
        };
        ratio / self.replaces.dry_matter
    }

    /// The answer.
    #[must_use]
    pub fn answer(&self) -> Answer {
        let cost = self.seed_price * self.seed_kg + self.other_cost;
        let made = self.fresh_kg * self.fodder_dry_matter;
        let fed = made * (1.0 - self.spoiled);
        let replaces_kg = fed * self.kg_for_dry_matter();
        let replaces_cost = replaces_kg * self.replaces.price;
        let saving = replaces_cost - cost;
        let fresh_fed = self.fresh_kg * (1.0 - self.spoiled);
        let name = &self.replaces.name;
        let amount = money(saving.abs(), self.currency.as_deref());
        let by = if self.basis == Basis::Energy { "energy" } else { "dry matter" };
        let verdict = if saving > 0.0 {
            format!("Counted by {by}, the fodder saves {amount} against {name}.")
        } else if saving < 0.0 {
            format!("Counted by {by}, the fodder loses {amount} against {name}.")
        } else {
            format!("Counted by {by}, the fodder neither gains nor loses against {name}.")
        };
        Answer {
            basis: self.basis,
            cost,
            dry_matter_made_kg: made,
            dry_matter_fed_kg: fed,
            cost_per_kg_dry_matter_fed: traybook_domain::rations::feed::cost_per_kg_of(cost, fed),
            replaces_kg,
            replaces_cost,
            saving,
            saving_by_fresh_weight_misleading: fresh_fed * self.replaces.price - cost,
            fresh_weight_is: crate::FRESH_IS_MISLEADING,
            replaced_price: self.price_point(cost, replaces_kg),
            fresh_kg_per_kg_seed: self.yield_point(cost),
            spoiled_percent: self.spoiled_point(cost),
            sentence: verdict,
            caution: crate::CAUTION,
        }
    }

    fn price_point(&self, cost: f64, replaces_kg: f64) -> BreakEven {
        let name = &self.replaces.name;
        if replaces_kg <= 0.0 {
            let sentence = format!("Never: nothing is left to stand for {name}.");
            return BreakEven::new(Point::Never, sentence);
        }
        let value = cost / replaces_kg;
        let price = money(value, self.currency.as_deref());
        let now = money(self.replaces.price, self.currency.as_deref());
        let sentence = format!("It pays when a kg of {name} costs more than {price}; now {now}.");
        BreakEven::new(Point::At { value }, sentence)
    }

    fn yield_point(&self, cost: f64) -> BreakEven {
        let per_fresh = self.fodder_dry_matter
            * (1.0 - self.spoiled)
            * self.kg_for_dry_matter()
            * self.replaces.price;
        // With a free seed bill and no other cost it pays however little grows.
        if cost <= 0.0 {
            let sentence = "It pays at any yield: it costs nothing.".to_owned();
            return BreakEven::new(Point::Always, sentence);
        }
        let never = |why: String| BreakEven::new(Point::Never, why);
        if per_fresh <= 0.0 {
            return never("Never: what is grown replaces nothing of value.".to_owned());
        }
        let value = cost / per_fresh / self.seed_kg;
        let most = self.seed_dry_matter / self.fodder_dry_matter;
        if value > most * (1.0 + 1e-9) {
            return never(format!(
                "Never: it would take {} kg fresh from a kg of seed, which is more dry matter than \
                 was sown ({} kg at the most).",
                words::number(value),
                words::number(most)
            ));
        }
        let now = words::number(self.fresh_kg / self.seed_kg);
        let least = words::number(value);
        let sentence =
            format!("It pays when a kg of seed gives more than {least} kg fresh; now {now}.");
        BreakEven::new(Point::At { value }, sentence)
    }

    fn spoiled_point(&self, cost: f64) -> BreakEven {
        let all = self.fresh_kg * self.fodder_dry_matter * self.kg_for_dry_matter();
        let all = all * self.replaces.price;
        if cost <= 0.0 {
            let sentence = "It pays at any spoilage: it costs nothing.".to_owned();
            return BreakEven::new(Point::Always, sentence);
        }
        if all < cost {
            let sentence = "Never: it would lose even if nothing spoiled.".to_owned();
            return BreakEven::new(Point::Never, sentence);
        }
        let value = 100.0 * (1.0 - cost / all);
        let (most, now) = (words::number(value), words::number(100.0 * self.spoiled));
        let sentence = format!("It stops paying when more than {most} % spoils; now {now} %.");
        BreakEven::new(Point::At { value }, sentence)
    }
}

fn replaced(r: &mut Reader<'_>, by_energy: bool) -> Option<Replaced> {
    let name = r.text("name");
    let price = r.needed("price", (0.0, PRICE_MAX));
    let dry = r.needed("dry_matter_percent", (DRY_MATTER_PERCENT_MIN, 100.0));
    let energy = r.number("energy_mj_per_kg", (0.1, ENERGY_MAX));
    // Known of every feed, and not needed here.
    r.number("crude_protein_percent", (0.0, 100.0));
    if by_energy && r.value("energy_mj_per_kg").is_none() {
        r.refuse("energy_mj_per_kg", "required", "give it for a comparison by energy");
    }
    Some(Replaced {
        name: name.unwrap_or_else(|| "the feed it replaces".to_owned()),
        price: price?,
        dry_matter: dry? / 100.0,
        energy,
    })
}
