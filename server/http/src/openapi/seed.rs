//! Schemas of the seed chain's answers and of the review list.

use super::list_of;
use serde_json::{Value as Json, json};

/// A list with members beside it.
fn sheet(about: &str, rows: &str, members: Json, row: Json) -> Json {
    let mut properties = members;
    let list = json!({ "type": "array", "items": { "type": "object", "properties": row } });
    if let Json::Object(map) = &mut properties {
        map.insert(rows.to_owned(), list);
    }
    let required: Vec<String> =
        properties.as_object().map(|m| m.keys().cloned().collect()).unwrap_or_default();
    json!({
        "type": "object", "description": about, "properties": properties, "required": required,
    })
}

/// The schemas by name.
pub(super) fn schemas() -> Json {
    let id = || json!({ "type": "string", "format": "uuid" });
    let maybe_id = || json!({ "type": ["string", "null"], "format": "uuid" });
    let day = || json!({ "type": "string", "format": "date" });
    let maybe_day = || json!({ "type": ["string", "null"], "format": "date" });
    let text = || json!({ "type": "string" });
    let maybe_text = || json!({ "type": ["string", "null"] });
    let number = || json!({ "type": "number" });
    let maybe_number = || json!({ "type": ["number", "null"] });
    let count = || json!({ "type": "integer", "minimum": 0 });
    let truth = || json!({ "type": "boolean" });
    let maybe_truth = || json!({ "type": ["boolean", "null"] });
    let list = || json!({ "type": "array", "items": { "type": "object" } });
    let texts = || json!({ "type": "array", "items": { "type": "string" } });
    let line = json!({
        "date": day(), "record_id": id(),
        "what": { "type": "string", "enum": ["bought", "issued", "adjusted", "held", "released",
            "soaked", "spread", "watered", "harvested", "fed_out", "discarded"] },
        "farm_id": maybe_id(), "farm": maybe_text(), "batch_id": maybe_id(), "batch": maybe_text(),
        "animal_group_id": maybe_id(), "animal_group": maybe_text(), "animal_class": maybe_text(),
        "kg": maybe_number(), "trays": { "type": ["integer", "null"] }, "cause": maybe_text(),
        "mould_seen": maybe_truth(), "germination_percent": maybe_number(),
        "supplier": maybe_text(), "price": maybe_number(), "transport": maybe_number(),
        "detail": maybe_text(),
    });
    let all = vec![
        (
            "SeedStock",
            list_of(
                "Seed by place and lot.",
                &json!({
                    "type": "object",
                    "properties": {
                        "farm_id": { "type": ["string", "null"], "format": "uuid", "description": "Null for the store." },
                        "farm": { "type": ["string", "null"] },
                        "seed_lot_id": { "type": "string", "format": "uuid" },
                        "seed_lot": { "type": ["string", "null"] },
                        "crop": { "type": ["string", "null"] },
                        "stock_kg": { "type": "number" },
                        "is_negative": { "type": "boolean", "description": "Records are missing or wrong." },
                    },
                }),
            ),
        ),
        (
            "SeedMovements",
            list_of(
                "Movements of seed.",
                &json!({
                    "type": "object",
                    "properties": {
                        "date": { "type": "string", "format": "date" },
                        "movement": { "type": "string", "enum": ["purchase", "issue", "soak", "adjustment"] },
                        "source_id": { "type": "string", "format": "uuid", "description": "The record it comes from." },
                        "farm_id": { "type": ["string", "null"], "format": "uuid", "description": "Null for the store." },
                        "farm": { "type": ["string", "null"] },
                        "seed_lot_id": { "type": "string", "format": "uuid" },
                        "seed_lot": { "type": ["string", "null"] },
                        "kg": { "type": "number", "description": "In, or with a minus out." },
                    },
                }),
            ),
        ),
        (
            "SeedAccounts",
            sheet(
                "Balances, money in currency units; a positive one is owed by the member.",
                "items",
                json!({ "day": day(), "currency": text(), "balance": number() }),
                json!({
                    "farm_id": id(), "farm": text(), "member_number": text(), "member_name": text(),
                    "charged": number(), "paid_off": number(), "balance": number(),
                    "paid_at_once": number(), "issued_kg": number(),
                    "issues_without_price": count(), "last_on": maybe_day(),
                }),
            ),
        ),
        (
            "SeedAccount",
            sheet(
                "A statement, money in currency units.",
                "lines",
                json!({
                    "farm_id": id(), "farm": text(), "member_number": text(), "member_name": text(),
                    "from": day(), "to": day(), "currency": text(), "opening_balance": number(),
                    "closing_balance": number(), "issues_without_price": count(), "sentence": text(),
                }),
                json!({
                    "date": day(), "record_id": id(),
                    "entry": { "type": "string", "enum": ["issue_on_credit", "issue_paid_at_once", "payment"] },
                    "seed_lot_id": maybe_id(), "seed_lot": maybe_text(), "kg": maybe_number(),
                    "price": maybe_number(), "amount": maybe_number(), "paid_by": maybe_text(),
                    "change": number(), "balance": number(), "note": maybe_text(),
                    "is_priced": { "type": "boolean", "description": "False for an issue whose price nobody entered: it is not counted." },
                }),
            ),
        ),
        (
            "SeedTrace",
            json!({
                "type": "object", "required": ["seed_lot_id", "lines", "lines_left_off"],
                "description": "Of a lot or of a batch; kg, currency units.",
                "properties": {
                    "seed_lot_id": maybe_id(), "seed_lot": text(), "crop": text(),
                    "supplier_id": maybe_id(), "supplier": maybe_text(), "is_held": truth(),
                    "held_because": maybe_text(), "cautions": texts(),
                    "shows_purchases": { "type": "boolean", "description": "Whether this person may see the store and its purchases." },
                    "farms": list(), "stock": list(), "spoilage": { "type": "object" },
                    "batch": { "type": "object", "description": "The batch, when it is the trace of one." },
                    "lines_left_off": count(),
                    "lines": { "type": "array", "items": { "type": "object", "properties": line } },
                },
            }),
        ),
        (
            "SupplierComparison",
            sheet(
                "Suppliers, each followed by its lots; spoilage in per cent of trays.",
                "items",
                json!({
                    "from": day(), "to": day(), "currency": text(), "method": text(),
                    "tray_correlation": number(), "sentence": text(),
                }),
                json!({
                    "supplier_id": maybe_id(), "supplier": text(),
                    "seed_lot_id": { "type": ["string", "null"], "format": "uuid", "description": "Null for all lots of the supplier." },
                    "seed_lot": maybe_text(), "crop": maybe_text(), "kg": number(),
                    "price_per_kg": maybe_number(), "tested_kg": number(), "germination_percent": maybe_number(),
                    "price_per_kg_viable": maybe_number(), "batches": count(), "farms": count(),
                    "trays_spread": count(), "trays_discarded": count(), "spoilage_percent": maybe_number(),
                    "spoilage_low": maybe_number(), "spoilage_high": maybe_number(), "sentence": text(),
                }),
            ),
        ),
        (
            "ReviewList",
            sheet(
                "Findings, the newest first.",
                "items",
                json!({
                    "day": day(), "from": day(), "data_version": count(), "findings": count(),
                    "by_rule": { "type": "object" }, "left_off": count(),
                }),
                json!({
                    "rule": { "type": "string", "enum": traybook_domain::kinds::REVIEW_RULES },
                    "farm_id": { "type": ["string", "null"], "format": "uuid", "description": "Null for the store." },
                    "farm": maybe_text(), "member_name": maybe_text(),
                    "finding": { "type": "string", "description": "What it is about; for a review acceptance." },
                    "subject": { "type": ["string", "null"], "description": "Code of the batch, seed lot, animal group or farm that it is about." },
                    "evidence": { "type": "string", "description": "The figures that an acceptance holds for." },
                    "figures": { "type": "object" },
                    "records": { "type": "array", "items": { "type": "object", "properties": {
                        "kind": text(), "id": id(), "version": { "type": ["integer", "null"] },
                    } } },
                    "problem": text(), "fix": text(), "since": day(), "acceptance_id": maybe_id(),
                    "accepted_on": maybe_day(), "accepted_because": maybe_text(),
                }),
            ),
        ),
    ];
    let named = |(name, schema): (&str, Json)| (name.to_owned(), schema);
    Json::Object(all.into_iter().map(named).collect())
}
