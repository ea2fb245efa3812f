//! Bad requests: everything wrong is told at once, with its place.

use crate::published::object;
use serde_json::json;
use traybook_rations::break_even::Fodder;
use traybook_rations::feeds::values;
use traybook_rations::mix::Request;

#[test]
fn mix_tells_every_error_at_once() {
    let asked = json!({ "dry_matter_kg": 10, "as_fed_kg": 5, "colour": "red",
        "feeds": [
            { "name": "Bran", "price": -1, "dry_matter_percent": 88, "min_kg": 5, "max_kg": 1 },
            { "name": "Bran", "price": "cheap", "dry_matter_percent": 0 },
            { "price": 5, "nutrients": { "energy": 3, "lime": -1 } },
            7 ],
        "limits": [
            { "nutrient": "crude_protein", "per": "kg_dry_matter", "min": 20, "max": 10 },
            { "nutrient": "dry_matter", "min": 1 },
            { "per": "week" } ] });
    let errors = Request::read(&object(asked)).unwrap_err();
    let found: Vec<(&str, &str)> = errors.iter().map(|e| (e.pointer.as_str(), e.code)).collect();
    for wanted in [
        ("/as_fed_kg", "both"),
        ("/colour", "unknown_field"),
        ("/feeds/0/price", "range"),
        ("/feeds/0/max_kg", "order"),
        ("/feeds/1/price", "type"),
        ("/feeds/1/dry_matter_percent", "range"),
        ("/feeds/1/name", "repeated"),
        ("/feeds/2/name", "required"),
        ("/feeds/2/dry_matter_percent", "required"),
        ("/feeds/2/nutrients/energy", "reserved"),
        ("/feeds/2/nutrients/lime", "range"),
        ("/feeds/3", "type"),
        ("/limits/0/max", "order"),
        ("/limits/1/per", "choice"),
        ("/limits/2/nutrient", "required"),
        ("/limits/2/per", "choice"),
        ("/limits/2/min", "required"),
        ("/feeds/0/crude_protein_percent", "required"),
    ] {
        assert!(found.contains(&wanted), "{wanted:?} in {found:?}");
    }
}

#[test]
fn lists_have_limits() {
    let feed = |j: usize| json!({ "name": format!("f{j}"), "price": 1, "dry_matter_percent": 90 });
    let many: Vec<_> = (0..41).map(feed).collect();
    let errors = Request::read(&object(json!({ "as_fed_kg": 1, "feeds": many }))).unwrap_err();
    assert_eq!((errors[0].pointer.as_str(), errors[0].code), ("/feeds", "length"));
    let forty: Vec<_> = (0..40).map(feed).collect();
    assert!(Request::read(&object(json!({ "as_fed_kg": 1, "feeds": forty }))).is_ok());
    for asked in [json!({}), json!({ "feeds": [] }), json!({ "feeds": {} })] {
        assert!(values(&object(asked)).is_err());
    }
}

#[test]
fn break_even_names_all_that_is_missing() {
    let errors = Fodder::read(&object(json!({ "basis": "energy" }))).unwrap_err();
    let places: Vec<&str> = errors.iter().map(|e| e.pointer.as_str()).collect();
    for wanted in [
        "/seed_price",
        "/seed_kg",
        "/seed_dry_matter_percent",
        "/fresh_kg",
        "/fodder_dry_matter_percent",
        "/other_cost",
        "/spoiled_percent",
        "/replaces",
        "/fodder_energy_mj_per_kg",
    ] {
        assert!(places.contains(&wanted), "{wanted} in {places:?}");
    }
}
