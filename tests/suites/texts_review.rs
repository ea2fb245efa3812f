//! Rules of the review list over what came by text, and the mark of such records on the pages.

use crate::review::items;
use crate::texts::{NUMBER, Phone, later};
use acceptance::browser::Browser;
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_domain::Kind;
use uuid::Uuid;

both!(
    many_texts_taken_back_are_a_finding,
    a_harvest_by_text_is_held_against_the_visit,
    pages_say_what_came_by_text,
);

fn of_rule(w: &World, rule: &str) -> Vec<Json> {
    items(w, &format!("?rule={rule}"))
}

/// Records by text, until it is made: whatever is asked back is said to be right.
fn sure(phone: &Phone<'_>, text: &str) {
    let mut dialogue = vec![phone.say(text)];
    for _ in 0..3 {
        let (outcome, asked) = dialogue.last().expect("an answer");
        if outcome == "record" {
            return;
        }
        let answer = if asked.contains("NDIYO") { "ndiyo" } else { "1" };
        dialogue.push(phone.say(answer));
    }
    assert_eq!(dialogue.last().map(|d| d.0.as_str()), Some("record"), "{text}: {dialogue:?}");
}

fn take_back(phone: &Phone<'_>, texts: u32) {
    for n in 0..texts {
        sure(phone, &format!("ongeza maziwa ng'ombe 3 lita {}", 9 + n));
        assert_eq!(phone.say("kosa").0, "undo");
    }
}

/// A batch of six trays of F1 whose day has come.
fn batch(w: &World, code: &str) -> Uuid {
    let body = json!({ "code": code, "shed_id": w.a.id("shed"), "animal_group_id": w.a.id("cows"),
        "crop": "barley" });
    let batch = w.make(&w.a, Kind::Batch, body);
    for (event, at, more) in [
        ("soaked", "2026-03-12T05:00:00Z", json!({ "kg": 3 })),
        ("spread", "2026-03-13T05:00:00Z", json!({ "trays": 6 })),
    ] {
        let mut body = json!({ "batch_id": batch, "event": event, "at": at });
        let more = more.as_object().expect("members").clone();
        body.as_object_mut().expect("members").extend(more);
        w.make(&w.a, Kind::BatchEvent, body);
    }
    batch
}

/// An officer writes at a visit what was seen of a batch.
fn seen(w: &World, batch: Uuid, event: &str, more: &Json) {
    let officer = w.sign_in("officer");
    let at = "2026-03-20T06:00:00Z";
    let mut body = json!({ "batch_id": batch, "event": event, "at": at });
    let more = more.as_object().expect("members").clone();
    body.as_object_mut().expect("members").extend(more);
    officer.post("/v1/batch-events", &body).expect(201);
}

fn visit(w: &World) {
    let body = json!({ "farm_id": w.a.id("farm"), "officer_id": w.a.id("officer"),
        "started_at": "2026-03-20T05:30:00Z" });
    w.sign_in("officer").post("/v1/visits", &body).expect(201);
}

/// Brings about a finding of each rule on texts.
pub(crate) fn contradict_by_text(w: &World) {
    let phone = Phone::new(w, NUMBER);
    phone.link_to("member", Some("farm"));
    phone.verify();
    take_back(&phone, 5);
    visit(w);
    let poor = batch(w, "W1");
    seen(w, poor, "harvested", &json!({ "trays": 2, "kg": 12 }));
    sure(&phone, "vuna W1 trei 4 kilo 10");
}

fn many_texts_taken_back_are_a_finding(w: World) {
    crate::texts::cows_of_three(&w);
    let phone = Phone::linked(&w, "member");
    take_back(&phone, 4);
    assert_eq!(of_rule(&w, "texts_undone"), Vec::<Json>::new(), "four are not many");
    // What the manager withdraws is no text taken back.
    sure(&phone, "ongeza maziwa 20/3 ng'ombe 3 lita 14");
    let made = crate::texts::records(&w, "/v1/milk-records");
    let mine = made.iter().find(|r| r["litres"] == json!(14)).expect("the record");
    let path = format!("/v1/milk-records/{}", mine["id"].as_str().expect("an id"));
    w.sign_in("manager").delete(&path, "\"1\"").expect(204);
    assert_eq!(of_rule(&w, "texts_undone"), Vec::<Json>::new());
    take_back(&phone, 1);
    let found = of_rule(&w, "texts_undone");
    assert_eq!(found.len(), 1, "{found:#?}");
    assert_eq!((&found[0]["farm"], &found[0]["figures"]["texts"]), (&json!("F1"), &json!(5)));
    assert_eq!(found[0]["since"], "2026-03-20");
    assert_eq!(found[0]["records"].as_array().map(Vec::len), Some(5));
    // Another farm's people see nothing of it.
    let other = w.sign_in_as("manager.b@coop.example");
    assert_eq!(other.get("/v1/review?rule=texts_undone").expect(200).items(), Vec::<Json>::new());
}

fn a_harvest_by_text_is_held_against_the_visit(w: World) {
    let phone = Phone::linked(&w, "member");
    let rule = "text_against_visit";
    let light = batch(&w, "W1");
    seen(&w, light, "harvested", &json!({ "trays": 2, "kg": 12 }));
    sure(&phone, "vuna W1 trei 4 kilo 10");
    assert_eq!(of_rule(&w, rule), Vec::<Json>::new(), "nobody was there that day");
    visit(&w);
    // ARITH: 10 kg of 4 trays are 2.5 kg a tray, 12 kg of 2 are 6: 2.4 times.
    let found = of_rule(&w, rule);
    assert_eq!(found.len(), 1, "{found:#?}");
    let figures = &found[0]["figures"];
    assert_eq!((&figures["text_kg"], &figures["visit_kg"]), (&json!(2.5), &json!(6)));
    assert_eq!((&found[0]["subject"], &figures["case"]), (&json!("W1"), &json!("tray")));
    // Four of six were thrown away for mould; a text harvests four.
    let mouldy = batch(&w, "W2");
    seen(&w, mouldy, "discarded", &json!({ "trays": 4, "cause": "mould" }));
    let like = batch(&w, "W3");
    seen(&w, like, "harvested", &json!({ "trays": 2, "kg": 12 }));
    later(&w, 60_000);
    sure(&phone, "vuna W2 trei 4 kilo 20");
    // The same weight a tray contradicts nothing.
    sure(&phone, "vuna W3 trei 4 kilo 24");
    let found = of_rule(&w, rule);
    assert_eq!((found.len(), &found[0]["cases"]), (1, &json!(2)), "{found:#?}");
    assert_eq!(
        (&found[0]["subject"], &found[0]["figures"]["case"]),
        (&json!("W2"), &json!("thrown"))
    );
    // Put right, it goes.
    for code in ["W1", "W2"] {
        let events = crate::texts::records(&w, "/v1/batch-events?limit=200");
        let batch = if code == "W1" { light } else { mouldy };
        let of_text = |e: &&Json| {
            e["batch_id"] == json!(batch) && e["event"] == "harvested" && e["trays"] == json!(4)
        };
        let event = events.iter().find(of_text).expect("the harvest");
        let path = format!("/v1/batch-events/{}", event["id"].as_str().expect("an id"));
        w.sign_in("manager").delete(&path, "\"1\"").expect(204);
    }
    assert_eq!(of_rule(&w, rule), Vec::<Json>::new());
}

fn pages_say_what_came_by_text(w: World) {
    crate::texts::cows_of_three(&w);
    let phone = Phone::linked(&w, "member");
    sure(&phone, "maziwa ng'ombe 3 lita 12.5");
    let batch = batch(&w, "W1");
    seen(&w, batch, "harvested", &json!({ "trays": 2, "kg": 5 }));
    sure(&phone, "vuna W1 trei 4 kilo 10");
    for (who, mark) in [("officer", "By text message"), ("manager", "By text message")] {
        let mut browser = Browser::sign_in(&w, who);
        let marks = |page: &str| page.matches(mark).count();
        assert_eq!(marks(&browser.page("/output")), 1, "one milk record");
        assert_eq!(marks(&browser.page(&format!("/batches/{batch}"))), 1, "one of two harvests");
        assert_eq!(marks(&browser.page(&format!("/batches/{batch}/events"))), 1);
        let events = crate::texts::records(&w, "/v1/batch-events?limit=200");
        let of = |trays: i64| {
            let is = |e: &&Json| e["event"] == "harvested" && e["trays"] == json!(trays);
            let found = events.iter().find(is).expect("a harvest");
            format!("/events/{}", found["id"].as_str().expect("an id"))
        };
        assert_eq!(marks(&browser.page(&of(4))), 1);
        assert_eq!(marks(&browser.page(&of(2))), 0);
    }
    let milk = crate::texts::records(&w, "/v1/milk-records");
    let milk = milk.iter().find(|r| r["litres"] == json!(12.5)).expect("the record");
    let id = milk["id"].as_str().expect("an id");
    let page =
        Browser::sign_in(&w, "officer").page(&format!("/output/{id}/back?kind=milk-records"));
    assert!(page.contains("By text message"), "{page}");
}
