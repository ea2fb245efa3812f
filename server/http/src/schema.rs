//! JSON schemas of the record kinds, from their declarations.

use serde_json::{Map, Value as Json, json};
use traybook_domain::field::FieldKind;
use traybook_domain::{FieldSpec, Kind};

const ID: &str = "01960000-0000-7000-8000-000000000001";

/// The schema of a field's JSON value.
#[must_use]
pub fn field(f: &FieldSpec, nullable: bool) -> Json {
    let mut schema = shape(f.kind);
    let about = match f.kind {
        FieldKind::Ref(kind) => {
            format!("{} Id of a record of `{}`.", f.doc.trim(), kind.spec().path)
        }
        FieldKind::Decimal { scale, .. } => {
            format!("{} At most {scale} decimals.", f.doc.trim())
        }
        FieldKind::Money => format!("{} In currency units.", f.doc.trim()),
        FieldKind::Code => format!("{} Unique in the co-operative.", f.doc.trim()),
        _ => f.doc.trim().to_owned(),
    };
    let about =
        if f.fixed && !f.derived { format!("{about} It can not be corrected.") } else { about };
    if let Json::Object(map) = &mut schema {
        map.insert("description".to_owned(), json!(about));
        if f.derived {
            map.insert("readOnly".to_owned(), json!(true));
        }
        if nullable {
            if let Some(Json::String(ty)) = map.get("type").cloned() {
                map.insert("type".to_owned(), json!([ty, "null"]));
            }
            if let Some(Json::Array(values)) = map.get_mut("enum") {
                values.push(Json::Null);
            }
        }
    }
    schema
}

fn shape(kind: FieldKind) -> Json {
    match kind {
        FieldKind::Ref(_) => json!({ "type": "string", "format": "uuid" }),
        FieldKind::Text { max } => json!({ "type": "string", "minLength": 1, "maxLength": max }),
        FieldKind::Code => json!({ "type": "string", "minLength": 1, "maxLength": 40 }),
        FieldKind::Choice(of) => json!({ "type": "string", "enum": of }),
        FieldKind::Int { min, max } => json!({ "type": "integer", "minimum": min, "maximum": max }),
        FieldKind::Decimal { scale, min, max } => {
            let unit = |v: i64| traybook_domain::field::json_decimal(v, scale);
            json!({ "type": "number", "minimum": unit(min), "maximum": unit(max) })
        }
        FieldKind::Money => json!({ "type": "number", "minimum": 0 }),
        FieldKind::Date { .. } => json!({ "type": "string", "format": "date" }),
        FieldKind::Instant => json!({ "type": "string", "format": "date-time" }),
        FieldKind::Bool => json!({ "type": "boolean" }),
        FieldKind::Currency => json!({ "type": "string", "pattern": "^[A-Z]{3}$" }),
        FieldKind::Zone => json!({ "type": "string", "minLength": 1, "maxLength": 60 }),
        FieldKind::Year => json!({ "type": "integer", "minimum": 1900, "maximum": 2200 }),
    }
}

fn example(f: &FieldSpec) -> Json {
    match f.kind {
        FieldKind::Ref(_) => json!(ID),
        FieldKind::Text { .. } => match f.name {
            "phone" => json!("+255700000001"),
            "email" => json!("amina@example.org"),
            _ => json!("text"),
        },
        FieldKind::Code => json!("K-001"),
        FieldKind::Choice(of) => json!(of.first()),
        FieldKind::Int { min, .. } => json!(min.max(4)),
        FieldKind::Decimal { .. } => json!(12.5),
        FieldKind::Money => json!(1500),
        FieldKind::Date { .. } => json!("2026-01-31"),
        FieldKind::Instant => json!("2026-01-31T06:00:00.000Z"),
        FieldKind::Bool => json!(true),
        FieldKind::Currency => json!("TZS"),
        FieldKind::Zone => json!("Africa/Dar_es_Salaam"),
        FieldKind::Year => json!(1984),
    }
}

/// Members that every record has besides its fields.
fn common() -> Map<String, Json> {
    let members = json!({
        "version": { "type": "integer", "minimum": 1, "description": "1 when made, one more at each change.", "readOnly": true },
        "created_at": { "type": "string", "format": "date-time", "readOnly": true, "description": "When it was made." },
        "created_by": { "type": "string", "format": "uuid", "readOnly": true, "description": "Person who made it." },
        "changed_at": { "type": "string", "format": "date-time", "readOnly": true, "description": "When it was last changed." },
        "changed_by": { "type": "string", "format": "uuid", "readOnly": true, "description": "Person who last changed it." },
        "withdrawn_at": { "type": ["string", "null"], "format": "date-time", "readOnly": true, "description": "When it was withdrawn; null while it counts." },
    });
    match members {
        Json::Object(map) => map,
        _ => Map::new(),
    }
}

/// Read-only members that follow from a record.
fn derived(kind: Kind) -> Json {
    let text =
        |about: &str| json!({ "type": ["string", "null"], "readOnly": true, "description": about });
    let number =
        |about: &str| json!({ "type": ["number", "null"], "readOnly": true, "description": about });
    let flag = |about: &str| json!({ "type": "boolean", "readOnly": true, "description": about });
    let texts = |about: &str| json!({ "type": "array", "items": { "type": "string" }, "readOnly": true, "description": about });
    match kind {
        Kind::Batch => json!({
            "stage": text("not_soaked, soaking, incubating, on_trays, ready, overdue or finished; from the events and the clock."),
            "soaked_at": text("First soak."),
            "age_days": number("Days since the soak."),
            "harvest_on": text("Day of its harvest age."),
            "seed_kg": number("Dry seed soaked, kg."),
            "trays_spread": number("Trays spread."),
            "trays_harvested": number("Trays harvested."),
            "trays_discarded": number("Trays discarded."),
            "harvested_kg": number("Fresh fodder harvested, kg."),
            "fed_kg": number("Fresh fodder fed out, kg."),
            "fresh_kg_per_kg_seed": number("Yield."),
            "expected_kg": number("Fresh fodder expected of the seed by the growing guide, kg."),
            "yield_of_expected_percent": number("Fodder harvested, per cent of what was expected."),
            "dry_matter_in_kg": number("Dry matter of the seed by the growing guide, kg."),
            "dry_matter_out_kg": number("Dry matter of the fodder by the growing guide, kg."),
            "dry_matter_kept_percent": number("Dry matter out, per cent of that in; above 100 is impossible."),
            "germinated_percent": number("Seeds germinated when spread, of those counted, per cent."),
            "tested_percent": number("Germination in the tests of the seed lot, weighted by kg, per cent."),
            "is_yield_impossible": flag("More dry matter out than in: check the weights."),
            "mould_seen": flag("Whether mould was seen."),
            "cautions": texts("What must stand beside this batch wherever it is shown."),
        }),
        Kind::BatchEvent => json!({ "cautions": texts("What must stand beside this event.") }),
        Kind::Reading => json!({
            "temperature_humidity_index": number("THI, NRC 1971."),
            "cattle_heat": text("comfortable, stress (from 72) or severe (above 78)."),
            "is_mould_weather": flag("Outside 17 to 24 °C and above 80 %: trays are likely to mould."),
        }),
        Kind::AnimalGroup => json!({
            "animals_per_tray": number("Animals that one tray feeds for a day, from the growing guide."),
            "animals_per_tray_is_derived": flag("From live weight in livestock units; not practised."),
            "harvest_age_days": number("Age at harvest, from the growing guide."),
        }),
        _ => json!({}),
    }
}

/// The schemas of a kind: the record, a new one and a patch.
#[must_use]
pub fn of(kind: Kind) -> [(String, Json); 3] {
    let spec = kind.spec();
    let about = spec.doc.trim();
    let id = json!({ "type": "string", "format": "uuid", "description": "Made by whoever creates the record: UUID version 7 (RFC 9562).", "example": ID });
    let mut record = Map::new();
    record.insert("id".to_owned(), id.clone());
    let mut required: Vec<&str> = vec!["id"];
    for f in spec.fields {
        record.insert(f.name.to_owned(), field(f, !f.required && !f.derived));
        required.push(f.name);
    }
    if let Json::Object(more) = derived(kind) {
        record.extend(more);
    }
    record.extend(common());
    required.extend([
        "version",
        "created_at",
        "created_by",
        "changed_at",
        "changed_by",
        "withdrawn_at",
    ]);
    let sent = || spec.fields.iter().filter(|f| !f.derived);
    let mut new = Map::new();
    new.insert("id".to_owned(), id.clone());
    let mut shown = Map::new();
    for f in sent() {
        new.insert(f.name.to_owned(), field(f, !f.required));
        if f.required {
            shown.insert(f.name.to_owned(), example(f));
        }
    }
    let needed: Vec<&str> = sent().filter(|f| f.required).map(|f| f.name).collect();
    let mut patch = Map::new();
    for f in sent().filter(|f| !f.fixed) {
        patch.insert(f.name.to_owned(), field(f, !f.required));
    }
    patch.insert(
        traybook_app::records::txn::REASON.to_owned(),
        json!({ "type": ["string", "null"], "minLength": 1, "maxLength": 500, "description": "Why; kept in the history." }),
    );
    let change = sent().find(|f| !f.fixed).map(|f| (f.name.to_owned(), example(f)));
    let change: Map<String, Json> = change.into_iter().collect();
    [
        (
            spec.name.to_owned(),
            json!({
                "type": "object", "description": about, "properties": record, "required": required,
            }),
        ),
        (
            format!("New{}", spec.name),
            json!({
                "type": "object", "description": format!("A new record. {about}"), "properties": new,
                "required": needed, "additionalProperties": false, "example": shown,
            }),
        ),
        (
            format!("{}Patch", spec.name),
            json!({
                "type": "object", "description": format!("Members to change. {about}"),
                "properties": patch, "additionalProperties": false, "example": change,
            }),
        ),
    ]
}
