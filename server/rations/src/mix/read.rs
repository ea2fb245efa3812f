//! Reads the question for a mix.

use super::{Amount, NutrientLimit, Per, Request};
use crate::feeds::Feed;
use crate::limits::{
    AMOUNT_KG, BAG_KG_MAX, CONTENT_MAX, ENERGY_MAX, FEEDS_MAX, NUTRIENT_LIMITS_MAX, TOTAL_MAX,
};
use crate::read::{Reader, outcome};
use serde_json::{Map, Value as Json};
use traybook_domain::FieldError;

impl Request {
    /// Reads and checks a question.
    ///
    /// # Errors
    /// Everything that is wrong with it, each with its place.
    pub fn read(request: &Map<String, Json>) -> Result<Self, Vec<FieldError>> {
        let mut top = Reader::new(request);
        let amount = amount(&mut top);
        let bag_kg = top.number("bag_kg", (0.001, BAG_KG_MAX));
        let currency = top.text("currency");
        let mut errors = Vec::new();
        let mut feeds: Vec<(Feed, String)> = Vec::new();
        for (map, at) in top.objects("feeds", (1, FEEDS_MAX)) {
            let mut r = Reader::at(map, at.clone());
            let mut feed = Feed::read(&mut r);
            feed.read_mix(&mut r, AMOUNT_KG.1);
            for needed in ["price", "dry_matter_percent"] {
                if r.value(needed).is_none() {
                    r.refuse(needed, "required", format!("give {needed}"));
                }
            }
            if !feed.name.is_empty() && feeds.iter().any(|(f, _)| f.name == feed.name) {
                r.refuse("name", "repeated", "give each feed a name of its own");
            }
            errors.extend(r.finish());
            feeds.push((feed, at));
        }
        let mut limits: Vec<NutrientLimit> = Vec::new();
        for (map, at) in top.objects("limits", (0, NUTRIENT_LIMITS_MAX)) {
            let mut r = Reader::at(map, at.clone());
            if let Some(limit) = limit(&mut r, at) {
                let twice = |l: &NutrientLimit| l.nutrient == limit.nutrient && l.per == limit.per;
                if limits.iter().any(twice) {
                    r.refuse("nutrient", "repeated", "give min and max of it in one limit");
                }
                limits.push(limit);
            }
            errors.extend(r.finish());
        }
        for limit in &limits {
            errors.extend(feeds.iter().filter_map(|(feed, at)| not_known(feed, at, limit)));
        }
        errors.dedup();
        let mut all = top.finish();
        all.extend(errors);
        let feeds = feeds.into_iter().map(|(feed, _)| feed).collect();
        outcome(amount.map(|amount| Self { feeds, amount, limits, bag_kg, currency }), all)
    }
}

fn amount(top: &mut Reader<'_>) -> Option<Amount> {
    let dry = top.number("dry_matter_kg", AMOUNT_KG);
    let fed = top.number("as_fed_kg", AMOUNT_KG);
    let given = (top.value("dry_matter_kg").is_some(), top.value("as_fed_kg").is_some());
    match given {
        (true, true) => {
            top.refuse("as_fed_kg", "both", "give dry_matter_kg or as_fed_kg, not both");
            None
        }
        (false, false) => {
            let detail = "give what the mix weighs: dry_matter_kg, or as_fed_kg";
            top.refuse("dry_matter_kg", "required", detail);
            None
        }
        _ => dry.map(Amount::DryMatter).or(fed.map(Amount::AsFed)),
    }
}

fn limit(r: &mut Reader<'_>, pointer: String) -> Option<NutrientLimit> {
    let nutrient = r.text("nutrient");
    if r.value("nutrient").is_none() {
        r.refuse("nutrient", "required", "give the nutrient");
    }
    let per = match r.choice("per", &["kg_dry_matter", "day"]) {
        Some("day") => Per::Day,
        _ => Per::DryMatter,
    };
    let most = match (nutrient.as_deref(), per) {
        (_, Per::Day) => TOTAL_MAX,
        (Some("crude_protein"), _) => 100.0,
        (Some("energy"), _) => ENERGY_MAX,
        _ => CONTENT_MAX,
    };
    if nutrient.as_deref() == Some("dry_matter") && per == Per::DryMatter {
        r.refuse("per", "choice", "limit dry matter per day");
    }
    let (min, max) = (r.number("min", (0.0, most)), r.number("max", (0.0, most)));
    if r.value("min").is_none() && r.value("max").is_none() {
        r.refuse("min", "required", "give min, max or both");
    }
    if let (Some(a), Some(b)) = (min, max)
        && a > b
    {
        r.refuse("max", "order", "give at least min");
    }
    Some(NutrientLimit { nutrient: nutrient?, per, min, max, pointer })
}

/// A limit needs the content of every feed: what is not known is not zero.
fn not_known(feed: &Feed, at: &str, limit: &NutrientLimit) -> Option<FieldError> {
    let (known, place) = match limit.nutrient.as_str() {
        "dry_matter" => (true, String::new()),
        "crude_protein" => {
            (feed.crude_protein_percent.is_some(), "crude_protein_percent".to_owned())
        }
        "energy" => (feed.energy_mj_per_kg.is_some(), "energy_mj_per_kg".to_owned()),
        other => (feed.others.contains_key(other), format!("nutrients/{other}")),
    };
    let detail = format!("give it: a limit asks for {} of every feed", limit.nutrient);
    (!known).then(|| FieldError::at(format!("{at}/{place}"), "required", detail))
}
