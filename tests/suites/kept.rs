//! What is kept in memory answers as what is made anew, after a change of every kind.

use acceptance::samples::sample;
use acceptance::world::object;
use acceptance::{World, both};
use serde_json::json;
use traybook_app::review::Asked;
use traybook_app::savings::Form;
use traybook_app::savings_view::Told;
use traybook_app::{Actor, App};
use traybook_domain::{Kind, Month};
use uuid::Uuid;

both!(kept_answers_are_those_made_anew_after_every_change, a_kept_price_level_is_that_made_anew,);

/// Every answer that rests on something kept, by name.
fn answers(w: &World, app: &App) -> Vec<(String, String)> {
    let actor = Actor::machine(w.a.coop.clone());
    let mut all: Vec<(String, String)> = Vec::new();
    let mut put = |name: &str, json: String| all.push((name.to_owned(), json));
    for enterprise in ["milk", "eggs"] {
        let change = w.wait(app.output_change(&actor, enterprise)).expect(enterprise);
        put(enterprise, change.to_string());
    }
    put("spoilage", w.wait(app.spoilage(&actor)).expect("spoilage").to_string());
    put("lots", w.wait(app.seed_lot_evidence(&actor)).expect("lots").to_string());
    put("savings since the start", w.wait(app.saving_estimates(&actor)).expect("x").to_string());
    let review = w.wait(app.review(&actor, Asked::default())).expect("review");
    put("review", json!(review).to_string());
    put("visits", json!(w.wait(app.visit_list(&actor)).expect("visits")).to_string());
    let farm = w.a.id("farm");
    put("visit", json!(w.wait(app.visit_reasons(&actor, farm)).expect("visit")).to_string());
    for weeks in ["1", "4", "8"] {
        let forecast = w.wait(app.seed_forecast(&actor, Some(weeks.to_owned()))).expect(weeks);
        put(weeks, json!(forecast).to_string());
    }
    for month in ["2026-02", "2026-03"] {
        let report = w.wait(app.savings(&actor, month, Form::Both)).expect(month);
        put(month, format!("{}{}", report.json, report.csv));
        let totals = w.wait(app.programme_totals(&actor, month, "sex")).expect(month);
        put("totals", totals.to_string());
        let month = Month::parse(month).expect("a month");
        let line = w.wait(app.farm_saving(&actor, farm, month)).expect("a line");
        put("line", json!(line).to_string());
        let view = w.wait(app.savings_view(&actor, month, Told::Figures)).expect("a view");
        put("view", view.head.to_string());
    }
    all
}

#[track_caller]
fn compare(w: &World, what: &str) {
    let anew = App { estimates: std::sync::Arc::default(), ..w.app.clone() };
    let (kept, made) = (answers(w, &w.app), answers(w, &anew));
    for ((name, kept), (_, made)) in kept.iter().zip(&made) {
        assert_eq!(kept, made, "{name} after {what}");
    }
}

fn kept_answers_are_those_made_anew_after_every_change(w: World) {
    let machine = Actor::machine(w.a.coop.clone());
    // As the server does it by itself, for both co-operatives, once a day.
    let mut prepared = std::collections::HashMap::new();
    w.wait(w.app.prepare_all(&mut prepared)).expect("prepared");
    assert_eq!(prepared.len(), 2);
    compare(&w, "nothing");
    let started = json!({ "fodder_started_on": "2026-01-05",
        "change_reason": "the first soak was later" });
    for (name, kind, patch) in [
        ("farm", Kind::Farm, started),
        ("farm", Kind::Farm, json!({ "code": "F1-new", "place": "by the well" })),
        ("member", Kind::Member, json!({ "name": "Another Name" })),
        ("area", Kind::Area, json!({ "name": "Renamed" })),
        ("lot", Kind::SeedLot, json!({ "code": "LOT-NEW" })),
        ("shed", Kind::Shed, json!({ "tray_places": 1 })),
    ] {
        let found = w.wait(w.app.get(&machine, kind, w.a.id(name))).expect(name);
        let patch = object(patch);
        let done = w.wait(w.app.correct(&machine, kind, w.a.id(name), found.version, patch));
        done.expect(name);
        compare(&w, name);
    }
    for kind in Kind::ALL.iter().copied().filter(|k| *k != Kind::Cooperative) {
        let (body, patch) = sample(kind, &w.a);
        let made = w.wait(w.app.create(&machine, kind, object(body)));
        let made = made.unwrap_or_else(|e| panic!("{kind:?}: {e:?}"));
        compare(&w, &format!("a new {kind:?}"));
        let id: Uuid = made.json["id"].as_str().and_then(|t| t.parse().ok()).expect("an id");
        let mut version = made.version;
        if patch != json!({}) {
            let done = w.wait(w.app.correct(&machine, kind, id, version, object(patch)));
            version = done.unwrap_or_else(|e| panic!("{kind:?}: {e:?}")).version;
            compare(&w, &format!("a corrected {kind:?}"));
        }
        let gone: Result<(), _> = w.wait(w.app.withdraw(&machine, kind, id, version, None));
        gone.unwrap_or_else(|e| panic!("{kind:?}: {e:?}"));
        compare(&w, &format!("a withdrawn {kind:?}"));
    }
}

/// A farm of the co-operative that bought feed in these months; started or not.
fn buyer(w: &World, code: &str, started: Option<&str>, months: &[(&str, i64)]) -> (Uuid, Uuid) {
    let farm = json!({ "code": code, "member_id": w.a.id("member"), "area_id": w.a.id("sub_area"),
        "fodder_started_on": started });
    let farm = w.make(&w.a, Kind::Farm, farm);
    let cows =
        json!({ "code": format!("{code}-cows"), "farm_id": farm, "animal_class": "dairy_cows" });
    let cows = w.make(&w.a, Kind::AnimalGroup, cows);
    let head =
        json!({ "animal_group_id": cows, "date": "2025-06-01", "reason": "counted", "head": 3 });
    w.make(&w.a, Kind::HeadCount, head);
    for (month, kg) in months {
        let bought = json!({ "farm_id": farm, "feed_id": w.a.id("feed"), "date": format!("{month}-10"),
            "kg": kg, "cost": kg * 900 });
        w.make(&w.a, Kind::FeedPurchase, bought);
    }
    (farm, cows)
}

/// What prices and months were to all farms is kept while only costs and outputs change, and made
/// anew where feed, prices or heads do.
fn a_kept_price_level_is_that_made_anew(w: World) {
    let months =
        [("2025-10", 100), ("2025-11", 110), ("2025-12", 130), ("2026-01", 90), ("2026-02", 95)];
    let others: Vec<(Uuid, Uuid)> =
        (1..=6).map(|n| buyer(&w, &format!("U{n}"), None, &months)).collect();
    let (farm, cows) = buyer(&w, "T1", Some("2026-01-05"), &months);
    let actor = Actor::machine(w.a.coop.clone());
    let text = || w.wait(w.app.saving_estimates(&actor)).expect("an answer").to_string();
    let first = text();
    assert!(first.contains("\"status\":\"estimated\""), "months have an index: {first}");
    compare(&w, "the first answer");
    let record = |what: &str, kind: Kind, body: serde_json::Value| {
        let before = text();
        w.make(&w.a, kind, body);
        assert_ne!(text(), before, "{what} counts");
        compare(&w, what);
    };
    let (other, heads) = others[0];
    record(
        "another cost",
        Kind::OtherCost,
        json!({ "farm_id": farm, "date": "2026-02-28", "category": "labour", "amount": 30_000 }),
    );
    record(
        "milk",
        Kind::MilkRecord,
        json!({ "animal_group_id": cows, "date": "2026-02-20", "session": "day", "litres": 30,
            "animals_in_milk": 3 }),
    );
    record(
        "feed of a farm that has not started",
        Kind::FeedPurchase,
        json!({ "farm_id": other, "feed_id": w.a.id("feed"), "date": "2026-02-12", "kg": 50,
            "cost": 70_000 }),
    );
    record(
        "heads of a farm that has not started",
        Kind::HeadCount,
        json!({ "animal_group_id": heads, "date": "2026-02-01", "reason": "bought", "head": 9 }),
    );
    record(
        "a feed nobody bought before",
        Kind::FeedPurchase,
        json!({ "farm_id": farm, "feed_id": w.a.id("bran"), "date": "2026-02-14", "kg": 20,
            "cost": 9_000 }),
    );
}
