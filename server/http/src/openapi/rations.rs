//! Schemas of what feeds are worth.

use serde_json::{Value as Json, json};

fn number(about: &str, low: f64, high: f64) -> Json {
    json!({ "type": ["number", "null"], "minimum": low, "maximum": high, "description": about })
}

fn known(about: &str) -> Json {
    json!({ "type": ["number", "null"], "description": about })
}

fn text() -> Json {
    json!({ "type": ["string", "null"], "minLength": 1, "maxLength": 100 })
}

fn id(about: &str) -> Json {
    json!({ "type": ["string", "null"], "format": "uuid", "description": about })
}

fn month() -> Json {
    json!({ "type": ["string", "null"], "pattern": r"^\d{4}-\d{2}$", "example": "2026-01",
        "description": "Month of the prices and records." })
}

/// A feed as requests give it; a mix knows more of it.
fn feed(is_mix: bool) -> Json {
    let mut properties = json!({
        "feed_id": id("A feed of the co-operative, whose record fills in what is not given."),
        "name": text(),
        "price": number("Currency units a kg as fed.", 0.0, 1e9),
        "dry_matter_percent": number("Per cent of the feed as fed.", 0.5, 100.0),
        "crude_protein_percent": number("Per cent of dry matter.", 0.0, 100.0),
        "energy_mj_per_kg": number("MJ per kg of dry matter.", 0.0, 40.0),
    });
    if let (Json::Object(all), true) = (&mut properties, is_mix) {
        let more = json!({
            "nutrients": { "type": ["object", "null"], "maxProperties": 20,
                "description": "Other nutrients by name, in their own unit per kg of dry matter.",
                "propertyNames": { "minLength": 1, "maxLength": 100 },
                "additionalProperties": { "type": "number", "minimum": 0, "maximum": 1e6 } },
            "bag_kg": number("Weight of a bag, for the words.", 0.001, 10_000.0),
            "min_kg": number("Least, kg as fed.", 0.0, 1e7),
            "max_kg": number("Most, kg as fed.", 0.0, 1e7),
            "min_share_percent": number("Least share of the mix as fed.", 0.0, 100.0),
            "max_share_percent": number("Most.", 0.0, 100.0),
        });
        if let Json::Object(more) = more {
            all.extend(more);
        }
    }
    json!({ "type": "object", "additionalProperties": false, "properties": properties })
}

/// A change or a choice: a name, and amounts of money that must all be given.
fn budget_part(amounts: &[(&str, &str, f64)]) -> Json {
    let name = json!({ "type": "string", "minLength": 1, "maxLength": 100 });
    let mut properties = serde_json::Map::from_iter([("name".to_owned(), name)]);
    for (name, about, low) in amounts {
        let amount = json!({ "type": "number", "minimum": low, "maximum": 1e12, "description":
            format!("{about} Currency units; 0 where there is none.") });
        properties.insert((*name).to_owned(), amount);
    }
    let required: Vec<&String> = properties.keys().collect();
    json!({ "type": "object", "additionalProperties": false, "required": required,
        "properties": properties })
}

fn requests() -> Json {
    let limit = json!({
        "type": "object", "additionalProperties": false, "required": ["nutrient"],
        "properties": {
            "nutrient": { "type": "string", "minLength": 1, "maxLength": 100, "example": "crude_protein",
                "description": "crude_protein, energy, dry_matter (per day) or another of the feeds." },
            "per": { "type": ["string", "null"], "enum": ["kg_dry_matter", "day", null],
                "description": "Protein in per cent of dry matter, or in kg a day." },
            "min": number("Least.", 0.0, 1e12), "max": number("Most.", 0.0, 1e12),
        },
    });
    let amount = |about: &str| number(about, 0.001, 1e7);
    let farm = id("Farm whose own prices and records count; needs month.");
    json!({
        "PearsonSquareRequest": {
            "type": "object", "additionalProperties": false, "required": ["target", "feeds"],
            "properties": {
                "month": month(), "farm_id": farm, "currency": text(),
                "nutrient": { "type": ["string", "null"], "enum": ["crude_protein", "energy", null] },
                "basis": { "type": ["string", "null"], "enum": ["dry_matter", "as_fed", null] },
                "target": { "type": "number", "minimum": 0, "maximum": 100, "example": 16 },
                "amount_kg": amount("What is mixed, kg on the basis."),
                "feeds": { "type": "array", "minItems": 2, "maxItems": 2, "items": feed(false) },
            },
        },
        "FeedMixRequest": {
            "type": "object", "additionalProperties": false, "required": ["feeds"],
            "properties": {
                "month": month(), "farm_id": farm, "currency": text(),
                "dry_matter_kg": amount("What the mix weighs in dry matter; or as_fed_kg."),
                "as_fed_kg": amount("What the mix weighs as fed."),
                "bag_kg": number("Weight of a bag of feeds that name none.", 0.001, 10_000.0),
                "feeds": { "type": "array", "minItems": 1, "maxItems": 40, "items": feed(true) },
                "limits": { "type": ["array", "null"], "maxItems": 40, "items": limit },
            },
        },
        "PartialBudgetRequest": {
            "type": "object", "additionalProperties": false,
            "properties": {
                "currency": text(),
                "minimum_percent": number("Least return on money added; 100 where none is given.", 0.0, 1_000.0),
                "changes": { "type": ["array", "null"], "maxItems": 40, "items": budget_part(&[
                    ("added_income", "Income that comes on top.", 0.0),
                    ("saved_cost", "Costs that fall away.", 0.0),
                    ("lost_income", "Income that falls away.", 0.0),
                    ("added_cost", "Costs that come on top.", 0.0),
                ]) },
                "choices": { "type": ["array", "null"], "maxItems": 40, "items": budget_part(&[
                    ("cost", "Costs that vary between the choices.", 0.0),
                    ("net_benefit", "What is left after these costs.", -1e12),
                ]) },
            },
        },
        "FodderBreakEvenRequest": {
            "type": "object", "additionalProperties": false,
            "properties": {
                "month": month(), "farm_id": farm, "currency": text(),
                "basis": { "type": ["string", "null"], "enum": ["dry_matter", "energy", null] },
                "seed_price": number("Currency units a kg.", 0.0, 1e9),
                "seed_kg": number("Seed soaked.", 0.001, 1e9),
                "seed_dry_matter_percent": number("Dry matter of the seed.", 0.5, 100.0),
                "fresh_kg": number("Fresh fodder grown, spoiled trays included.", 0.001, 1e9),
                "fodder_dry_matter_percent": number("Dry matter of fresh fodder.", 0.5, 100.0),
                "fodder_energy_mj_per_kg": number("MJ per kg of its dry matter.", 0.1, 40.0),
                "other_cost": number("All costs besides seed.", 0.0, 1e12),
                "spoiled_percent": number("Share that spoiled.", 0.0, 100.0),
                "replaces": feed(false),
            },
        },
    })
}

fn answers() -> Json {
    let caution = json!({ "type": "string", "description": "Whom to ask." });
    let objects = || json!({ "type": "array", "items": { "type": "object" } });
    let point = |about: &str| {
        json!({
            "type": "object", "required": ["kind", "sentence"], "description": about,
            "properties": {
                "kind": { "type": "string", "enum": ["at", "always", "never"] },
                "value": { "type": "number" }, "sentence": { "type": "string" },
            },
        })
    };
    json!({
        "FeedValues": {
            "type": "object", "required": ["month", "currency", "feeds", "fodder", "caution"],
            "properties": {
                "month": { "type": "string" }, "farm_id": id("The farm asked for."),
                "currency": { "type": "string" }, "data_version": { "type": "integer" },
                "method": { "type": "string" }, "units": { "type": "string" },
                "feeds": { "type": "array", "items": { "type": "object",
                    "required": ["feed_id", "feed", "missing"], "properties": {
                    "feed_id": { "type": "string", "format": "uuid" }, "feed": { "type": "string" },
                    "price_is": { "type": ["string", "null"], "enum": ["own", "median", "earlier_median", null] },
                    "price_month": { "type": ["string", "null"] },
                    "dry_matter_percent": known("As recorded."),
                    "cost_per_kg_fresh": known("As fed."), "cost_per_kg_dry_matter": known(""),
                    "cost_per_kg_protein": known(""), "cost_per_mj": known(""),
                    "missing": { "type": "array", "items": { "type": "string" } },
                } } },
                "fodder": { "type": "object", "description": "Own fodder; null where not known." },
                "fresh_cost_is": { "type": "string" }, "caution": caution,
            },
        },
        "PearsonSquare": {
            "type": "object", "required": ["basis", "target", "parts", "cost", "sentence", "caution"],
            "properties": {
                "basis": { "type": "string" }, "target": { "type": "number" }, "parts": objects(),
                "cost": known("Of the amount, or of a kg."), "sentence": { "type": "string" },
                "caution": caution,
            },
        },
        "FeedMix": {
            "type": "object", "required": ["status", "sentence", "caution"],
            "properties": {
                "status": { "type": "string", "enum": ["found", "impossible"] },
                "cost": { "type": "number" }, "cost_per_kg_dry_matter": { "type": "number" },
                "as_fed_kg": { "type": "number" }, "dry_matter_kg": { "type": "number" },
                "next_kg_costs": known("One kg more of the mix."),
                "feeds": objects(), "nutrients": objects(), "binding_limits": objects(),
                "limits": { "type": "array", "items": { "type": "object" },
                    "description": "Of an impossible request: they clash; without any one of them the others can be met." },
                "sentence": { "type": "string" }, "caution": caution,
            },
        },
        "PartialBudget": {
            "type": "object",
            "required": ["changes", "choices", "minimum_percent", "chosen", "sentence", "caution"],
            "properties": {
                "changes": { "type": "array", "items": { "type": "object",
                    "required": ["name", "gains", "losses", "net", "sentence"], "properties": {
                    "name": { "type": "string" }, "gains": { "type": "number" },
                    "losses": { "type": "number" },
                    "net": { "type": "number", "description": "Negative for a loss." },
                    "sentence": { "type": "string" },
                } } },
                "choices": { "type": "array", "description": "By cost, the cheapest first.",
                    "items": { "type": "object",
                    "required": ["name", "cost", "net_benefit", "is_dominated"], "properties": {
                    "name": { "type": "string" }, "cost": { "type": "number" },
                    "net_benefit": { "type": "number" },
                    "is_dominated": { "type": "boolean", "description":
                        "Another one costs no more and brings at least as much." },
                    "marginal_rate_percent": known(
                        "Return on the money added since the next cheaper choice that is not dominated."),
                } } },
                "minimum_percent": { "type": "number" },
                "chosen": { "type": ["string", "null"], "description": "Null where no choices were given." },
                "sentence": { "type": "string" }, "caution": caution,
            },
        },
        "FodderBreakEven": {
            "type": "object", "required": ["cost", "saving", "replaced_price", "fresh_kg_per_kg_seed",
                "spoiled_percent", "sentence", "caution", "used", "from_records"],
            "properties": {
                "basis": { "type": "string" }, "cost": { "type": "number" },
                "saving": { "type": "number", "description": "Negative for a loss." },
                "saving_by_fresh_weight_misleading": { "type": "number" },
                "replaced_price": point("Price of a kg of the replaced feed from which on it pays."),
                "fresh_kg_per_kg_seed": point("Yield from which on it pays."),
                "spoiled_percent": point("Spoilage up to which it pays."),
                "used": { "type": "object", "description": "The figures computed with." },
                "from_records": { "type": "array", "items": { "type": "string" } },
                "sentence": { "type": "string" }, "caution": caution,
            },
        },
    })
}

/// All of them by name.
#[must_use]
pub fn schemas() -> Json {
    let (mut all, more) = (requests(), answers());
    if let (Json::Object(all), Json::Object(more)) = (&mut all, more) {
        all.extend(more);
    }
    all
}
