//! The answer: kg, cost, contents, and what limits and feeds are worth, in numbers and words.

use super::Per;
use super::model::{Limit, Model, What, content, nutrient_words, unit};
use super::worth::{self, Worth};
use crate::lp::{Unreliable, is_binding, is_used};
use crate::words::{self, money};
use serde::Serialize;
use utoipa::ToSchema;

/// What came out.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[schema(as = FeedMix)]
#[serde(untagged)]
pub enum Outcome {
    /// The cheapest mix.
    Found(Box<Mix>),
    /// No mix meets the limits.
    Impossible(Clash),
}

/// Says that a mix was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[schema(as = MixFound)]
#[serde(rename_all = "snake_case")]
pub enum FoundStatus {
    /// It was.
    Found,
}

/// Says that no mix meets the limits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[schema(as = MixImpossible)]
#[serde(rename_all = "snake_case")]
pub enum ImpossibleStatus {
    /// None does.
    Impossible,
}

/// The cheapest mix. Amounts are those of the request; limits per day mean the whole mix.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[schema(as = CheapestMix)]
pub struct Mix {
    /// That there is one.
    pub status: FoundStatus,
    /// Cost of all of it, currency units.
    pub cost: f64,
    /// Cost of a kg of its dry matter.
    pub cost_per_kg_dry_matter: f64,
    /// kg as fed.
    pub as_fed_kg: f64,
    /// kg of dry matter.
    pub dry_matter_kg: f64,
    /// What one kg more of it (dry matter or as fed, as asked for) costs; none where the limits
    /// allow no more.
    pub next_kg_costs: Option<f64>,
    /// Every feed of the request, in its order.
    pub feeds: Vec<FeedPart>,
    /// Nutrients that limits ask for.
    pub nutrients: Vec<NutrientMet>,
    /// The limits that bind: loosening others changes nothing.
    pub binding_limits: Vec<LimitMet>,
    /// What it means.
    pub sentence: String,
    /// Whom to ask.
    pub caution: &'static str,
}

/// A feed in the mix, or left out.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[schema(as = MixFeed)]
pub struct FeedPart {
    /// Name.
    pub name: String,
    /// kg as fed.
    pub as_fed_kg: f64,
    /// Share of the mix as fed, per cent.
    pub share_percent: f64,
    /// Cost.
    pub cost: f64,
    /// Price of a kg as asked.
    pub price_per_kg: f64,
    /// Up to which price it is worth buying.
    pub worth: Worth,
    /// The same for a bag, where it is a price.
    pub bag_worth: Option<f64>,
    /// Weight of the bag, kg.
    pub bag_kg: Option<f64>,
    /// Where its largest amount binds: up to which price of a kg more than that is worth buying.
    pub beyond_limit_price_per_kg: Option<f64>,
    /// What it means.
    pub sentence: String,
}

/// A nutrient that is reached.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[schema(as = MixNutrient)]
pub struct NutrientMet {
    /// Its name.
    pub nutrient: String,
    /// In a kg of dry matter; crude protein in per cent.
    pub per_kg_dry_matter: f64,
    /// In the whole mix.
    pub per_day: f64,
}

/// A limit that binds.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[schema(as = BindingLimit)]
pub struct LimitMet {
    /// In words.
    pub limit: String,
    /// JSON pointer to it in the request.
    pub pointer: String,
    /// As asked.
    pub asked: f64,
    /// What loosening it by one unit as asked saves, at first; none where that is without bound.
    pub shadow_price: Option<f64>,
    /// What it means.
    pub sentence: String,
}

/// Limits that can not be met together.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[schema(as = ImpossibleMix)]
pub struct Clash {
    /// That there is none.
    pub status: ImpossibleStatus,
    /// They clash; without any one of them the others can be met.
    pub limits: Vec<Clashing>,
    /// What it means.
    pub sentence: String,
    /// Whom to ask.
    pub caution: &'static str,
}

/// One of the limits that clash.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[schema(as = ClashingLimit)]
pub struct Clashing {
    /// In words.
    pub limit: String,
    /// JSON pointer to it in the request.
    pub pointer: String,
    /// As asked.
    pub asked: f64,
    /// The nearest that a mix comes which keeps the others.
    pub reachable: Option<f64>,
}

/// The answer at a best corner.
pub fn found(model: &Model<'_>, x: &[f64]) -> Result<Mix, Unreliable> {
    let (as_fed_kg, dry_matter_kg) = model.weights(x);
    let cost = model.cost(x);
    let currency = model.request.currency.as_deref();
    let mut binding_limits = Vec::new();
    for (row, limit) in model.limits.iter().enumerate().skip(1) {
        if !model.linear.rows.get(row).is_some_and(|r| is_binding(r, x)) {
            continue;
        }
        let saves = worth::loosened(model, x, row)?;
        let per_unit = saves.map(|s| model.money_per_unit(limit, s, x));
        binding_limits.push(limit_met(model, limit, per_unit, currency));
    }
    let mut feeds = Vec::with_capacity(x.len());
    for (j, share) in x.iter().enumerate() {
        let beyond = worth::beyond(model, x, j)?;
        feeds.push(feed_part(model, j, (*share, as_fed_kg), beyond)?);
    }
    let next = worth::next_kg(model, x)?;
    let row_scale = model.limits.first().map_or(1.0, |l| l.row_scale);
    Ok(Mix {
        status: FoundStatus::Found,
        cost,
        cost_per_kg_dry_matter: cost / dry_matter_kg,
        as_fed_kg,
        dry_matter_kg,
        next_kg_costs: next.map(|n| n * model.money_scale / row_scale),
        nutrients: nutrients(model, x, dry_matter_kg),
        binding_limits,
        sentence: whole(model, &feeds, cost),
        feeds,
        caution: crate::CAUTION,
    })
}

fn whole(model: &Model<'_>, feeds: &[FeedPart], cost: f64) -> String {
    let used = feeds.iter().filter(|f| f.as_fed_kg > 0.0);
    let parts: Vec<String> =
        used.map(|f| format!("{} kg {}", words::number(f.as_fed_kg), f.name)).collect();
    let (amount, words_of) = (model.request.amount, model.request.amount.words());
    format!(
        "The cheapest {} {words_of} within the limits: {}, for {}.",
        words::number(amount.kg()),
        words::list(&parts),
        money(cost, model.request.currency.as_deref()),
    )
}

fn nutrients(model: &Model<'_>, x: &[f64], dry_matter_kg: f64) -> Vec<NutrientMet> {
    let mut names: Vec<&str> = Vec::new();
    for limit in &model.request.limits {
        if !names.contains(&limit.nutrient.as_str()) {
            names.push(&limit.nutrient);
        }
    }
    let total = |name: &str| -> f64 {
        let feeds = model.request.feeds.iter().zip(x).zip(model.dry());
        feeds.map(|((f, x), d)| content(f, name) * d * x * model.kg_scale).sum()
    };
    let met = |name: &str| NutrientMet {
        nutrient: name.to_owned(),
        per_kg_dry_matter: total(name) / dry_matter_kg / unit(name, Per::DryMatter),
        per_day: total(name),
    };
    names.into_iter().map(met).collect()
}

fn limit_met(
    model: &Model<'_>,
    limit: &Limit,
    shadow_price: Option<f64>,
    currency: Option<&str>,
) -> LimitMet {
    let words = model.words(limit);
    let (ask, more) = if limit.is_min { ("asking for", "less") } else { ("allowing", "more") };
    let unit = match limit.what {
        What::Nutrient(i) => model
            .request
            .limits
            .get(i)
            .map_or_else(String::new, |l| nutrient_words(&l.nutrient, l.per)),
        What::Kg(_) | What::Amount => "kg".to_owned(),
        What::Share(_) => "% of the mix".to_owned(),
    };
    let sentence = match shadow_price {
        Some(saves) if saves > 0.0 => format!(
            "The limit of {words} binds: {ask} 1 {unit} {more} would save {} at first.",
            money(saves, currency)
        ),
        Some(_) => format!("The limit of {words} is just met; loosening it alone saves nothing."),
        None => format!("The limit of {words} binds; what it costs can not be told."),
    };
    LimitMet {
        pointer: model.pointer(limit),
        asked: limit.asked,
        shadow_price,
        sentence,
        limit: words,
    }
}

fn feed_part(
    model: &Model<'_>,
    j: usize,
    (scaled, total): (f64, f64),
    beyond: Option<f64>,
) -> Result<FeedPart, Unreliable> {
    let worth = worth::of(model, j)?;
    let feed = model.request.feeds.get(j).cloned().unwrap_or_default();
    let kg = if is_used(scaled) { scaled * model.kg_scale } else { 0.0 };
    let price = feed.price.unwrap_or(0.0);
    let bag = feed.bag_kg.or(model.request.bag_kg);
    let least = feed.kg.0.unwrap_or(0.0);
    let more_than_least = kg > least * (1.0 + 1e-9);
    let bag_worth = match worth {
        Worth::UpTo { price_per_kg } => bag.map(|b| b * price_per_kg),
        Worth::Needed | Worth::Never => None,
    };
    let currency = model.request.currency.as_deref();
    let what = bag.map_or_else(
        || format!("A kg of {}", feed.name),
        |b| format!("A {} kg bag of {}", words::number(b), feed.name),
    );
    let of_bag = |per_kg: f64| money(per_kg * bag.unwrap_or(1.0), currency);
    let now = of_bag(price);
    let mut sentence = match (worth, more_than_least) {
        (Worth::UpTo { price_per_kg }, true) => format!(
            "{what} is in the mix at {now}; it is worth buying up to {}.",
            of_bag(price_per_kg)
        ),
        (Worth::UpTo { price_per_kg }, false) => {
            let verb = if least > 0.0 { "takes no more than its least" } else { "leaves it out" };
            format!(
                "At {now} the mix {verb}: {} is worth buying up to {}.",
                lower(&what),
                of_bag(price_per_kg)
            )
        }
        (Worth::Needed, _) => {
            format!("{} can not be left out: without it the limits can not be met.", feed.name)
        }
        (Worth::Never, _) => format!("{what} is not worth buying for this mix at any price."),
    };
    if let Some(beyond) = beyond {
        sentence.push_str(&format!(
            " Its limit binds: more than the limit allows would be worth buying up to {} {}.",
            of_bag(beyond),
            if bag.is_some() { "a bag" } else { "a kg" }
        ));
    }
    Ok(FeedPart {
        name: feed.name,
        as_fed_kg: kg,
        share_percent: 100.0 * kg / total,
        cost: kg * price,
        price_per_kg: price,
        worth,
        bag_worth,
        bag_kg: bag,
        beyond_limit_price_per_kg: beyond,
        sentence,
    })
}

/// A sentence's first words within another sentence.
fn lower(text: &str) -> String {
    text.strip_prefix("A ").map_or_else(|| text.to_owned(), |rest| format!("a {rest}"))
}
