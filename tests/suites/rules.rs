//! Impossible records are refused, each with the field, the rule and what to do.

use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_domain::Kind;
use traybook_domain::kinds::REVIEW_RULES;

both!(
    impossible_records_are_refused_by_field,
    all_field_errors_come_at_once,
    sorghum_and_treated_seed_are_refused,
    feed_is_for_animals_of_the_same_farm,
    a_finding_of_every_rule_can_be_accepted,
    texts_and_numbers_are_kept_exactly
);

fn impossible_records_are_refused_by_field(w: World) {
    let manager = w.sign_in("manager");
    let (cows, hens, farm) = (w.a.id("cows"), w.a.id("hens"), w.a.id("farm"));
    let milk = |more: Json| {
        let base = json!({ "animal_group_id": cows, "date": "2026-03-02", "session": "day",
            "litres": 20, "animals_in_milk": 2 });
        ("/v1/milk-records", merge(base, more))
    };
    let eggs = |more: Json| {
        let base = json!({ "animal_group_id": hens, "date": "2026-03-02", "hens_present": 100,
            "eggs": 80 });
        ("/v1/egg-records", merge(base, more))
    };
    let reading = |more: Json| {
        let base = json!({ "farm_id": farm, "at": "2026-03-02T06:00:00Z", "temperature_c": 25 });
        ("/v1/readings", merge(base, more))
    };
    let event = |more: Json| {
        let base = json!({ "batch_id": w.a.id("batch"), "event": "discarded",
            "at": "2026-03-15T06:00:00Z", "trays": 1, "cause": "other" });
        ("/v1/batch-events", merge(base, more))
    };
    let cases = [
        (milk(json!({ "litres": -1 })), "/litres", "range"),
        (milk(json!({ "litres": 1.2345 })), "/litres", "precision"),
        (milk(json!({ "litres": "20" })), "/litres", "type"),
        (milk(json!({ "animals_in_milk": 0 })), "/animals_in_milk", "range"),
        (milk(json!({ "litres": 201 })), "/litres", "impossible"),
        (milk(json!({ "sold_litres": 15, "home_litres": 6 })), "/sold_litres", "impossible"),
        (milk(json!({ "date": "2026-03-21" })), "/date", "future"),
        (milk(json!({ "date": "2026-02-29" })), "/date", "type"),
        (milk(json!({ "animal_group_id": hens })), "/animal_group_id", "impossible"),
        (milk(json!({ "session": "noon" })), "/session", "choice"),
        (milk(json!({ "fat": 4 })), "/fat", "unknown_field"),
        (milk(json!({ "farm_id": farm })), "/farm_id", "unknown_field"),
        (eggs(json!({ "animal_group_id": cows })), "/animal_group_id", "impossible"),
        (eggs(json!({ "eggs": 151 })), "/eggs", "impossible"),
        (eggs(json!({ "cracked": 81 })), "/cracked", "impossible"),
        (reading(json!({ "temperature_c": 77 })), "/temperature_c", "unit"),
        (reading(json!({ "humidity_percent": 0.6 })), "/humidity_percent", "unit"),
        (reading(json!({ "shed_id": w.a.id("other_shed") })), "/shed_id", "other_farm"),
        (reading(json!({ "at": "2026-03-20T10:00:00Z" })), "/at", "future"),
        (reading(json!({ "at": "2026-03-02 06:00" })), "/at", "type"),
        (event(json!({ "cause": null })), "/cause", "required"),
        (event(json!({ "trays": 0 })), "/trays", "required"),
        (event(json!({ "event": "watered" })), "/cause", "combination"),
    ];
    for ((path, body), pointer, code) in cases {
        let refused = manager.post(path, &body).expect(422);
        let want = vec![(pointer.to_owned(), code.to_owned())];
        assert_eq!(refused.errors(), want, "{body}");
        assert!(refused.json()["errors"][0]["detail"].as_str().is_some_and(|d| d.len() > 8));
    }
    // 1.5 eggs a hen is the limit itself, and a clock that is ten minutes ahead is a clock.
    let (path, body) = eggs(json!({ "eggs": 150 }));
    manager.post(path, &body).expect(201);
    let (path, body) = reading(json!({ "at": "2026-03-20T09:09:00Z" }));
    manager.post(path, &body).expect(201);
}

fn merge(mut base: Json, more: Json) -> Json {
    for (name, value) in more.as_object().expect("object") {
        base[name] = value.clone();
    }
    base
}

fn all_field_errors_come_at_once(w: World) {
    let body = json!({ "animal_group_id": "x", "date": "soon", "litres": -2, "extra": 1 });
    let refused = w.sign_in("manager").post("/v1/milk-records", &body).expect(422);
    let mut pointers: Vec<String> = refused.errors().into_iter().map(|(p, _)| p).collect();
    pointers.sort();
    let want = ["/animal_group_id", "/animals_in_milk", "/date", "/extra", "/litres", "/session"];
    assert_eq!(pointers, want);
}

fn sorghum_and_treated_seed_are_refused(w: World) {
    let manager = w.sign_in("manager");
    let purchase = |untreated: bool| {
        json!({ "seed_lot_id": w.a.id("lot"), "date": "2026-01-05", "kg": 100, "price": 1000,
            "feed_grade": true, "untreated": untreated })
    };
    let refused = manager.post("/v1/seed-purchases", &purchase(false)).expect(422);
    assert_eq!(refused.errors(), [("/untreated".to_owned(), "treated_seed".to_owned())]);
    assert!(refused.text.contains("poisonous"));
    manager.post("/v1/seed-purchases", &purchase(true)).expect(201);
    let lot = json!({ "code": "SG", "crop": "sorghum" });
    let refused = manager.post("/v1/seed-lots", &lot).expect(422);
    assert_eq!(refused.errors(), [("/crop".to_owned(), "sorghum".to_owned())]);
    let allow = json!({ "name": "sorghum_allowed", "value": 1, "valid_from": "2026-01-01" });
    manager.post("/v1/growing-guide-values", &allow).expect(201);
    manager.post("/v1/seed-lots", &lot).expect(201);
    let batch = json!({ "shed_id": w.a.id("shed"), "crop": "sorghum" });
    let made = manager.post("/v1/batches", &batch).expect(201).json();
    assert!(made["cautions"][0].as_str().is_some_and(|c| c.contains("prussic acid")));
}

fn feed_is_for_animals_of_the_same_farm(w: World) {
    let manager = w.sign_in("manager");
    let other = json!({ "code": "F2-goats", "farm_id": w.a.id("other_farm"),
        "animal_class": "goats" });
    let other = w.make(&w.a, Kind::AnimalGroup, other);
    for (path, more) in [("feed-purchases", json!({ "cost": 9000 })), ("feed-counts", json!({}))] {
        let path = format!("/v1/{path}");
        let body = |group: &str, kg: f64| {
            let mut body = json!({ "farm_id": w.a.id("farm"), "feed_id": w.a.id("feed"),
                "date": "2026-03-01", "kg": kg, "animal_group_id": group });
            if let (Some(body), Some(more)) = (body.as_object_mut(), more.as_object()) {
                body.extend(more.clone());
            }
            body
        };
        let refused = manager.post(&path, &body(&other.to_string(), 12.5)).expect(422);
        let wrong = [("/animal_group_id".to_owned(), "other_farm".to_owned())];
        assert_eq!(refused.errors(), wrong, "{path}");
        let cows = w.a.id("cows").to_string();
        let refused = manager.post(&path, &body(&cows, -0.5)).expect(422);
        assert_eq!(refused.errors(), [("/kg".to_owned(), "range".to_owned())], "{path}");
        let made = manager.post(&path, &body(&cows, 12.5)).expect(201).json();
        assert_eq!((&made["animal_group_id"], &made["kg"]), (&json!(cows), &json!(12.5)));
    }
    // Nothing left is a count like any other, and needs no group.
    let none = json!({ "farm_id": w.a.id("farm"), "feed_id": w.a.id("feed"),
        "date": "2026-03-02", "kg": 0 });
    let made = manager.post("/v1/feed-counts", &none).expect(201).json();
    assert_eq!((&made["kg"], &made["animal_group_id"]), (&json!(0), &Json::Null));
}

fn a_finding_of_every_rule_can_be_accepted(w: World) {
    let officer = w.sign_in("officer");
    let accept = |rule: &str| {
        json!({ "farm_id": w.a.id("farm"), "rule": rule, "finding": format!("{rule}:1"),
            "evidence": "2026-03-01 40 9000", "accepted_on": "2026-03-02", "reason": "a gift" })
    };
    for rule in REVIEW_RULES {
        let made = officer.post("/v1/review-acceptances", &accept(rule)).expect(201).json();
        assert_eq!(made["rule"], json!(rule));
    }
    let refused = officer.post("/v1/review-acceptances", &accept("feed_colour")).expect(422);
    assert_eq!(refused.errors(), [("/rule".to_owned(), "choice".to_owned())]);
}

fn texts_and_numbers_are_kept_exactly(w: World) {
    let manager = w.sign_in("manager");
    // NFD comes in, NFC is kept; money keeps its cents; kilograms their grams.
    let supplier = json!({ "name": "Cafe\u{301} \u{1F33E}", "note": "line one\nline two" });
    let made = manager.post("/v1/suppliers", &supplier).expect(201).json();
    assert_eq!(made["name"], "Caf\u{e9} \u{1F33E}");
    let purchase = json!({ "farm_id": w.a.id("farm"), "feed_id": w.a.id("feed"),
        "date": "2026-03-01", "kg": 0.001, "cost": 1234567890.12 });
    let made = manager.post("/v1/feed-purchases", &purchase).expect(201);
    assert!(made.text.contains("\"kg\":0.001") && made.text.contains("\"cost\":1234567890.12"));
    for bad in ["nul\u{0}byte", "bell\u{7}"] {
        let refused = manager.post("/v1/suppliers", &json!({ "name": bad })).expect(422);
        assert_eq!(refused.errors()[0].1, "characters");
    }
}
