//! Feeds with price and content, and what their nutrients cost.

use crate::limits::{
    BAG_KG_MAX, CONTENT_MAX, DRY_MATTER_PERCENT_MIN, ENERGY_MAX, FEEDS_MAX, NAME_CHARS_MAX,
    OTHER_NUTRIENTS_MAX, PRICE_MAX,
};
use crate::read::{Reader, checked, outcome};
use serde::Serialize;
use serde_json::{Map, Value as Json};
use std::collections::BTreeMap;
use traybook_domain::FieldError;
use traybook_domain::rations::feed::cost_per_kg_of;

/// A feed as it is bought.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Feed {
    pub name: String,
    /// Price of a kg as fed, currency units.
    pub price: Option<f64>,
    /// Dry matter, per cent of the feed as fed.
    pub dry_matter_percent: Option<f64>,
    /// Crude protein, per cent of the dry matter.
    pub crude_protein_percent: Option<f64>,
    /// Metabolisable energy, MJ per kg of dry matter.
    pub energy_mj_per_kg: Option<f64>,
    /// Other nutrients by name, each in its own unit per kg of dry matter.
    pub others: BTreeMap<String, f64>,
    /// Weight of a bag, kg.
    pub bag_kg: Option<f64>,
    /// Least and most of it in a mix, kg as fed.
    pub kg: (Option<f64>, Option<f64>),
    /// Least and most of it in a mix, per cent of the mix as fed.
    pub share_percent: (Option<f64>, Option<f64>),
}

impl Feed {
    /// Reads the price and content of a feed. What is not given stays not known.
    pub fn read(r: &mut Reader<'_>) -> Self {
        let name = r.text("name");
        if name.is_none() && r.value("name").is_none() {
            r.refuse("name", "required", "give the feed a name");
        }
        Self {
            name: name.unwrap_or_default(),
            price: r.number("price", (0.0, PRICE_MAX)),
            dry_matter_percent: r.number("dry_matter_percent", (DRY_MATTER_PERCENT_MIN, 100.0)),
            crude_protein_percent: r.number("crude_protein_percent", (0.0, 100.0)),
            energy_mj_per_kg: r.number("energy_mj_per_kg", (0.0, ENERGY_MAX)),
            ..Self::default()
        }
    }

    /// Reads what a mix asks of a feed besides: other nutrients, bag and limits.
    pub fn read_mix(&mut self, r: &mut Reader<'_>, amount_max: f64) {
        self.bag_kg = r.number("bag_kg", (0.001, BAG_KG_MAX));
        let mut pair = |low, high, most| {
            let (least, top) = (r.number(low, (0.0, most)), r.number(high, (0.0, most)));
            if let (Some(a), Some(b)) = (least, top)
                && a > b
            {
                r.refuse(high, "order", format!("give at least {low}"));
            }
            (least, top)
        };
        self.kg = pair("min_kg", "max_kg", amount_max);
        self.share_percent = pair("min_share_percent", "max_share_percent", 100.0);
        let Some(others) = r.object("nutrients") else { return };
        if others.len() > OTHER_NUTRIENTS_MAX {
            r.refuse("nutrients", "length", format!("give at most {OTHER_NUTRIENTS_MAX}"));
            return;
        }
        for (name, value) in others {
            let place = format!("{}/{}", r.pointer("nutrients"), name.replace('/', "~1"));
            let reserved = ["crude_protein", "energy", "dry_matter"].contains(&name.as_str());
            let length = name.chars().count();
            let fault = if reserved {
                Some(("reserved", "give it as the feed's own member".to_owned()))
            } else if length == 0 || length > NAME_CHARS_MAX {
                Some(("type", format!("give a name of 1 to {NAME_CHARS_MAX} characters")))
            } else {
                match checked(value, 0.0, CONTENT_MAX) {
                    Ok(content) => {
                        self.others.insert(name.clone(), content);
                        None
                    }
                    Err(fault) => Some(fault),
                }
            };
            if let Some((code, detail)) = fault {
                r.errors.push(FieldError::at(place, code, detail));
            }
        }
    }

    /// Dry matter as a share of the feed as fed.
    #[must_use]
    pub fn dry_matter(&self) -> Option<f64> {
        self.dry_matter_percent.map(|p| p / 100.0)
    }

    /// What its nutrients cost; not known where price or content is not known.
    ///
    /// # Source
    /// CHECKS 2.4: cost per kg dry matter = price / DM; per kg protein = price / (DM × CP of DM);
    /// per MJ = price / (DM × ME of DM).
    #[must_use]
    pub fn value(&self) -> FeedValue {
        let per_dry = self.price.zip(self.dry_matter()).and_then(|(p, d)| cost_per_kg_of(p, d));
        let per = |share: Option<f64>| per_dry.zip(share).and_then(|(p, s)| cost_per_kg_of(p, s));
        FeedValue {
            name: self.name.clone(),
            cost_per_kg_fresh: self.price,
            cost_per_kg_dry_matter: per_dry,
            cost_per_kg_protein: per(self.crude_protein_percent.map(|p| p / 100.0)),
            cost_per_mj: per(self.energy_mj_per_kg),
        }
    }
}

/// What the nutrients of a feed cost, currency units.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FeedValue {
    /// Name of the feed.
    pub name: String,
    /// A kg as fed.
    pub cost_per_kg_fresh: Option<f64>,
    pub cost_per_kg_dry_matter: Option<f64>,
    /// A kg of crude protein.
    pub cost_per_kg_protein: Option<f64>,
    /// A MJ of metabolisable energy.
    pub cost_per_mj: Option<f64>,
}

/// Reads a list of feeds and says what their nutrients cost.
///
/// # Errors
/// Everything that is wrong with the request.
pub fn values(request: &Map<String, Json>) -> Result<Vec<FeedValue>, Vec<FieldError>> {
    let mut top = Reader::new(request);
    let mut errors = Vec::new();
    let mut found = Vec::new();
    top.text("currency");
    for (map, at) in top.objects("feeds", (1, FEEDS_MAX)) {
        let mut r = Reader::at(map, at);
        let feed = Feed::read(&mut r);
        for needed in ["price", "dry_matter_percent"] {
            if r.value(needed).is_none() {
                r.refuse(needed, "required", format!("give {needed}"));
            }
        }
        errors.extend(r.finish());
        found.push(feed.value());
    }
    let mut all = top.finish();
    all.extend(errors);
    outcome(Some(found), all)
}
