//! What goes with losses, on planted causes: through the interface and on the pages.

use crate::estimates::add_batches;
use crate::spoilage::{farm, grown};
use acceptance::browser::Browser;
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_domain::Kind;
use traybook_domain::value::Instant;
use uuid::Uuid;

both!(planted_causes_are_found_and_never_said_to_cause, nothing_is_said_before_there_is_enough);

/// A number that looks random (SplitMix64).
fn unit(state: &mut u64) -> f64 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let z = (*state ^ (*state >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
}

/// Twelve farms, a third with river water; hot days double what is lost, river water too; the
/// checklist's question has nothing to do with it.
fn plant(w: &World, batches: i64) -> Vec<Uuid> {
    let mut random = 5;
    let item = json!({ "code": "drains", "topic": "trays", "question": "Do trays drain?",
        "valid_from": "2025-01-01" });
    let item = w.make(&w.a, Kind::ChecklistItem, item);
    let officer = w.a.id("officer");
    let mut farms = Vec::new();
    for k in 0..12 {
        let (id, sheds) = farm(w, &format!("W{k:02}"), 1);
        let source = if k % 3 == 0 { "river" } else { "piped" };
        let body = json!({ "water_source": source });
        w.sign_in("manager").patch(&format!("/v1/farms/{id}"), "\"1\"", &body).expect(200);
        farms.push(id);
        let mut rows = Vec::new();
        for n in 0..batches {
            let ago = 4 * n + 2;
            let is_hot = unit(&mut random) < 0.4;
            let mut share = 0.08 * if is_hot { 2.2 } else { 1.0 };
            share *= if k % 3 == 0 { 2.2 } else { 1.0 };
            let lost = (0..5).filter(|_| unit(&mut random) < share).count() as i64;
            let mut events = vec![
                ("soaked", ago + 8, json!({ "kg": 10 })),
                ("spread", ago + 6, json!({ "trays": 5, "germinated_percent": 92 })),
            ];
            if lost > 0 {
                events.push(("discarded", ago, json!({ "trays": lost, "cause": "mould" })));
            }
            if lost < 5 {
                let kg = 12 * (5 - lost);
                events.push(("harvested", ago, json!({ "trays": 5 - lost, "kg": kg })));
            }
            rows.extend(grown(w, (sheds[0], None), &events));
            let degrees = if is_hot { 29.5 } else { 21.0 };
            rows.push((
                Kind::Reading,
                json!({ "farm_id": id, "shed_id": sheds[0], "at": crate::spoilage::noon(ago + 8),
                    "temperature_c": degrees, "humidity_percent": 60 }),
            ));
            if n % 5 == 4 {
                let visit = w.app.new_id().expect("id");
                let answer = if unit(&mut random) < 0.5 { "no" } else { "yes" };
                rows.push((
                    Kind::Visit,
                    json!({ "id": visit, "farm_id": id, "officer_id": officer,
                        "started_at": crate::spoilage::noon(ago + 20) }),
                ));
                rows.push((
                    Kind::VisitCheck,
                    json!({ "visit_id": visit, "checklist_item_id": item, "answer": answer }),
                ));
            }
        }
        add_batches(w, rows);
    }
    w.make_figures();
    farms
}

fn of<'a>(conditions: &'a [Json], kind: &str) -> &'a Json {
    conditions.iter().find(|c| c["kind"] == kind).expect("the condition")
}

fn planted_causes_are_found_and_never_said_to_cause(w: World) {
    let farms = plant(&w, 40);
    let manager = w.sign_in("manager");
    let made = manager.get("/v1/spoilage-conditions").expect(200).json();
    assert_eq!((&made["is_estimated"], &made["made_on"]), (&json!(true), &json!("2026-03-20")));
    let conditions = made["conditions"].as_array().expect("conditions");
    let hot = of(conditions, "soaked_hot");
    assert_eq!(hot["status"], "linked", "{hot}");
    let end = |m: &str| hot["ratio"][m].as_f64().expect("an end");
    assert!(end("low") > 1.3 && end("low") < 2.2 && end("high") > 1.8, "{hot}");
    assert!(
        hot["sentence"].as_str().is_some_and(|s| s.starts_with("Batches soaked above 26 °C lost"))
    );
    let water = of(conditions, "water_source");
    assert_eq!((&water["status"], &water["value"]), (&json!("linked"), &json!("river")));
    assert_eq!(
        (&water["compared_with"], &water["is_between_farms"]),
        (&json!("piped"), &json!(true))
    );
    assert!(water["sentence"].as_str().is_some_and(|s| s.contains("between farms")));
    assert_ne!(of(conditions, "checklist_no")["status"], "linked");
    let deep = of(conditions, "seed_deep");
    assert_eq!((&deep["status"], &deep["batches_with"]), (&json!("too_few"), &json!(0)));
    assert!(
        deep["sentence"].as_str().is_some_and(|s| s.contains("seen in 0 batches, 12 are needed"))
    );
    // The season is compared only where the co-operative says which months are wet.
    assert!(!conditions.iter().any(|c| c["kind"] == "wet_season"));
    // A farm's own ratio, in a sentence.
    let path = format!("/v1/spoilage/{}/conditions", farms[1]);
    let own = manager.get(&path).expect(200).json();
    let line = of(own["conditions"].as_array().expect("conditions"), "soaked_hot");
    let said = line["own_sentence"].as_str().expect("words");
    assert!(said.starts_with("In this shed, batches") || said.contains("cannot be told apart"));
    w.sign_in_as("manager.b@coop.example").get(&path).expect(404);
    w.sign_in("programme_reader").get("/v1/spoilage-conditions").expect(403);
    let caution = "They go together; the records cannot say that one causes the other.";
    assert_eq!((&made["caution"], &own["caution"]), (&json!(caution), &json!(caution)));
    let mut browser = Browser::sign_in(&w, "manager");
    let paths =
        ["/spoilage".to_owned(), format!("/spoilage/{}", farms[1]), format!("/farms/{}", farms[1])];
    for path in paths {
        let page = browser.get(&path).expect(200).text;
        assert!(page.contains("Batches soaked above 26 °C lost"), "{path}: {page}");
        assert!(page.contains(caution) && !page.contains("because"), "{path}");
    }
    // Wet months are a setting; the answer is made with the first figures of a day.
    let coop = format!("/v1/cooperatives/{}", w.a.coop.id);
    let wrong = json!({ "wet_months": "3,14" });
    assert_eq!(manager.patch(&coop, "\"1\"", &wrong).expect(422).errors()[0].0, "/wet_months");
    let refused = browser.fill("/guide", "/guide/wet-months", &[("wet_months", "3,14")]);
    assert!(refused.text.contains("give months from 1 to 12"), "{}", refused.text);
    let set = browser.fill("/guide", "/guide/wet-months", &[("wet_months", "3,4,5")]);
    assert_eq!(set.status, 303);
    assert_eq!(manager.get(&coop).expect(200).json()["wet_months"], "3,4,5");
    w.make_figures();
    let same = manager.get("/v1/spoilage-conditions").expect(200).json();
    assert_eq!(same, made, "once a day");
    w.clock.set(Instant(w.app.now().0 + 86_400_000));
    w.make_figures();
    let next = w.sign_in("manager").get("/v1/spoilage-conditions").expect(200).json();
    let conditions = next["conditions"].as_array().expect("conditions");
    assert_eq!(next["made_on"], "2026-03-21");
    assert!(conditions.iter().any(|c| c["kind"] == "wet_season"));
}

fn nothing_is_said_before_there_is_enough(w: World) {
    let manager = w.sign_in("manager");
    let empty = manager.get("/v1/spoilage-conditions").expect(200).json();
    assert_eq!((&empty["made_on"], &empty["conditions"]), (&Json::Null, &json!([])));
    plant(&w, 1);
    let few = manager.get("/v1/spoilage-conditions").expect(200).json();
    assert_eq!(few["is_estimated"], false);
    let conditions = few["conditions"].as_array().expect("conditions");
    assert!(conditions.iter().all(|c| c["status"] == "too_few" && c["ratio"].is_null()));
}
