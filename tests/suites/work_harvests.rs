//! What becomes of a harvest in the work list: fed, kept over night, mouldy, not weighed, of
//! several days, before its day.

use crate::work::{at, farm, find, lines};
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_domain::Kind;
use uuid::Uuid;

both!(
    a_harvest_that_was_not_fed_stays_on_the_list,
    a_harvest_that_was_not_weighed_is_fed_by_trays,
    a_mouldy_harvest_is_asked_to_be_thrown_away,
    each_day_of_a_harvest_shows_its_own_amounts,
    seed_lost_before_spreading_is_counted_out,
    two_crops_on_a_farm_go_side_by_side,
);

/// A batch of two trays, soaked on a day of March and due eight days later.
fn batch(w: &World, shed: Uuid, cows: Uuid, soaked: u32) -> Uuid {
    let batch = w.make(
        &w.a,
        Kind::Batch,
        json!({ "code": "HB", "shed_id": shed, "animal_group_id": cows,
                "seed_lot_id": w.a.id("lot"), "crop": "barley" }),
    );
    event(w, batch, "soaked", &format!("2026-03-{soaked}T04:00:00Z"), json!({ "kg": 4 }));
    let spread = format!("2026-03-{}T08:00:00Z", soaked + 2);
    event(w, batch, "spread", &spread, json!({ "trays": 2 }));
    batch
}

fn event(w: &World, batch: Uuid, event: &str, at: &str, more: Json) -> Uuid {
    let mut body = json!({ "batch_id": batch, "event": event, "at": at });
    for (name, value) in more.as_object().expect("members") {
        body[name] = value.clone();
    }
    w.make(&w.a, Kind::BatchEvent, body)
}

fn of_batch<'a>(work: &'a Json, state: &str) -> Vec<&'a Json> {
    lines(work).iter().filter(|l| l["batch"] == "HB" && l["state"] == state).collect()
}

fn a_harvest_that_was_not_fed_stays_on_the_list(w: World) {
    let (farm, shed, cows) = farm(&w, "K1");
    let batch = batch(&w, shed, cows, 15);
    at(&w, "2026-03-23T08:00", "member");
    event(&w, batch, "harvested", "2026-03-23T04:00:00Z", json!({ "trays": 2, "kg": 24 }));
    let path = format!("/v1/work?farm_id={farm}");
    let member = at(&w, "2026-03-24T06:00", "member");
    let day = member.get(&path).expect(200).json();
    let (feed, discard) = (find(&day, "feed", "late"), find(&day, "discard", "late"));
    for line in [feed, discard] {
        assert_eq!((&line["kg"], &line["harvested_on"]), (&json!(24), &json!("2026-03-23")));
        let caution = line["cautions"][0].as_str().expect("a caution");
        assert!(caution.contains("feeding the rest needs a reason"), "{caution}");
    }
    // Feeding it needs a reason; half is fed with one, half is thrown away.
    let refused = member.post("/v1/work", &json!({ "line": feed["line"] })).expect(422).json();
    assert!(
        refused["errors"].as_array().expect("errors").iter().any(|e| e["pointer"] == "/reason")
    );
    let body = json!({ "line": feed["line"], "kg": 12, "reason": "smelled of grass" });
    member.post("/v1/work", &body).expect(201);
    let member = at(&w, "2026-03-26T06:00", "member");
    let day = member.get(&path).expect(200).json();
    let rest = find(&day, "discard", "late");
    assert_eq!(rest["kg"], json!(12), "it stays for days");
    let trays = json!({ "line": rest["line"], "trays": 1 });
    member.post("/v1/work", &trays).expect(422);
    let done = member.post("/v1/work", &json!({ "line": rest["line"] })).expect(201).json();
    let id = done["records"][0]["id"].as_str().expect("an event");
    let stored = member.get(&format!("/v1/batch-events/{id}")).expect(200).json();
    assert_eq!((&stored["kg"], &stored["cause"]), (&json!(12), &json!("left_too_long")));
    let day = member.get(&path).expect(200).json();
    assert!(of_batch(&day, "late").is_empty(), "{day:#}");
    // No tray is counted out twice: the batch is finished and sound.
    let stored = member.get(&format!("/v1/batches/{batch}")).expect(200).json();
    assert_eq!((&stored["stage"], &stored["trays_discarded"]), (&json!("finished"), &json!(0)));
}

fn a_harvest_that_was_not_weighed_is_fed_by_trays(w: World) {
    let (farm, shed, cows) = farm(&w, "U1");
    let batch = batch(&w, shed, cows, 15);
    let path = format!("/v1/work?farm_id={farm}");
    let member = at(&w, "2026-03-23T07:00", "member");
    let harvest = find(&member.get(&path).expect(200).json(), "harvest", "open")["line"].clone();
    member.post("/v1/work", &json!({ "line": harvest })).expect(201);
    let day = member.get(&path).expect(200).json();
    let feed = find(&day, "feed", "open");
    assert_eq!((&feed["kg"], &feed["trays"]), (&Json::Null, &json!(2)));
    // Thrown away it is by weight, since its trays are counted already.
    let thrown = feed["line"].as_str().expect("a name").replace("feed.", "discard.");
    let body = json!({ "line": thrown, "at": "2026-03-23T03:40:00Z", "cause": "pests" });
    let errors = member.post("/v1/work", &body).expect(422).json();
    assert_eq!(errors["errors"][0]["pointer"], "/kg");
    let done = member.post("/v1/work", &json!({ "line": feed["line"] })).expect(201).json();
    let id = done["records"][0]["id"].as_str().expect("an event");
    let stored = member.get(&format!("/v1/batch-events/{id}")).expect(200).json();
    // Missing is not zero, and nothing is filled in from what was expected.
    assert_eq!((&stored["kg"], &stored["trays"]), (&Json::Null, &json!(2)));
    let day = member.get(&path).expect(200).json();
    assert!(of_batch(&day, "open").is_empty(), "{day:#}");
    find(&day, "feed", "done");
    let body = json!({ "batch_id": batch, "event": "fed_out", "at": "2026-03-23T03:30:00Z" });
    let errors = member.post("/v1/batch-events", &body).expect(422).json();
    assert_eq!(errors["errors"][0]["pointer"], "/kg");
}

fn a_mouldy_harvest_is_asked_to_be_thrown_away(w: World) {
    let (farm, shed, cows) = farm(&w, "Y1");
    let batch = batch(&w, shed, cows, 15);
    let path = format!("/v1/work?farm_id={farm}");
    let member = at(&w, "2026-03-23T07:00", "member");
    let harvest = find(&member.get(&path).expect(200).json(), "harvest", "open")["line"].clone();
    let body = json!({ "line": harvest, "trays": 1, "kg": 11, "mould_seen": true });
    member.post("/v1/work", &body).expect(201);
    let day = member.get(&path).expect(200).json();
    let late = of_batch(&day, "late");
    // One tray stands, one is harvested: each is to be thrown away, and nothing fed.
    assert_eq!(late.len(), 2, "{day:#}");
    assert!(late.iter().all(|l| l["task"] == "discard" && l["why"] == "mould was seen"));
    assert!(
        late.iter().all(|l| l["cautions"][0].as_str().is_some_and(|c| c.contains("do not feed")))
    );
    let (cut, stands): (Vec<&Json>, Vec<&Json>) =
        late.into_iter().partition(|l| l["harvested_on"] == "2026-03-23");
    assert_eq!((&cut[0]["kg"], &stands[0]["trays"]), (&json!(11), &json!(1)));
    for line in [cut[0], stands[0]] {
        let done = member.post("/v1/work", &json!({ "line": line["line"] })).expect(201).json();
        let id = done["records"][0]["id"].as_str().expect("an event");
        let stored = member.get(&format!("/v1/batch-events/{id}")).expect(200).json();
        assert_eq!(stored["cause"], "mould");
    }
    let day = member.get(&path).expect(200).json();
    assert!(of_batch(&day, "late").is_empty(), "{day:#}");
    let stored = member.get(&format!("/v1/batches/{batch}")).expect(200).json();
    assert_eq!((&stored["trays_harvested"], &stored["trays_discarded"]), (&json!(1), &json!(1)));
}

fn each_day_of_a_harvest_shows_its_own_amounts(w: World) {
    let (farm, shed, cows) = farm(&w, "N1");
    let batch = batch(&w, shed, cows, 10);
    // The first tray two days before its day, the second on it.
    event(&w, batch, "harvested", "2026-03-16T04:00:00Z", json!({ "trays": 1, "kg": 9 }));
    event(&w, batch, "fed_out", "2026-03-16T05:00:00Z", json!({ "kg": 9 }));
    event(&w, batch, "harvested", "2026-03-18T04:00:00Z", json!({ "trays": 1, "kg": 12 }));
    let member = at(&w, "2026-03-18T09:00", "member");
    let of = |date: &str| {
        let path = format!("/v1/work?farm_id={farm}&date={date}");
        member.get(&path).expect(200).json()
    };
    let day = of("2026-03-18");
    let harvest = find(&day, "harvest", "done");
    assert_eq!((&harvest["kg"], &harvest["trays"]), (&json!(12), &json!(1)));
    assert_eq!(find(&day, "feed", "open")["kg"], json!(12));
    let day = of("2026-03-16");
    assert_eq!(find(&day, "harvest", "done")["kg"], json!(9));
    assert_eq!(find(&day, "feed", "done")["kg"], json!(9));
    assert!(of_batch(&of("2026-03-17"), "done").is_empty());
}

fn seed_lost_before_spreading_is_counted_out(w: World) {
    let (farm, shed, cows) = farm(&w, "O1");
    let batch = w.make(
        &w.a,
        Kind::Batch,
        json!({ "code": "HB", "shed_id": shed, "animal_group_id": cows,
                "seed_lot_id": w.a.id("lot"), "crop": "barley" }),
    );
    event(&w, batch, "soaked", "2026-03-20T04:00:00Z", json!({ "kg": 6 }));
    let member = at(&w, "2026-03-22T12:00", "member");
    let rot = json!({ "trays": 1, "cause": "rot_at_drain_end" });
    event(&w, batch, "discarded", "2026-03-21T04:00:00Z", rot);
    let path = format!("/v1/work?farm_id={farm}");
    let day = member.get(&path).expect(200).json();
    let spread = find(&day, "spread", "open");
    assert_eq!((&spread["trays"], &spread["kg"]), (&json!(2), &json!(4)));
    member.post("/v1/work", &json!({ "line": spread["line"] })).expect(201);
    let member = at(&w, "2026-03-28T06:00", "member");
    let day = member.get(&path).expect(200).json();
    let harvest = find(&day, "harvest", "open");
    assert_eq!((&harvest["trays"], &harvest["kg"]), (&json!(2), &json!(24)));
    member.post("/v1/work", &json!({ "line": harvest["line"], "trays": 1, "kg": 12 })).expect(201);
    let stored = member.get(&format!("/v1/batches/{batch}")).expect(200).json();
    assert_eq!(stored["stage"], "ready", "one of two trays stands still");
}

fn two_crops_on_a_farm_go_side_by_side(w: World) {
    let (farm, _, cows) = farm(&w, "W1");
    let hens = w.make(
        &w.a,
        Kind::AnimalGroup,
        json!({ "code": "W1-hens", "farm_id": farm, "animal_class": "layers" }),
    );
    w.make(
        &w.a,
        Kind::HeadCount,
        json!({ "animal_group_id": hens, "date": "2025-06-01", "reason": "counted", "head": 100 }),
    );
    for (group, crop) in [(cows, "barley"), (hens, "wheat")] {
        let plan = json!({ "animal_group_id": group, "valid_from": "2026-03-01", "crop": crop });
        w.make(&w.a, Kind::FodderPlan, plan);
    }
    let wheat = json!({ "code": "LW", "crop": "wheat", "supplier_id": w.a.id("supplier") });
    let wheat = w.make(&w.a, Kind::SeedLot, wheat);
    w.make(
        &w.a,
        Kind::SeedIssue,
        json!({ "seed_lot_id": wheat, "farm_id": farm, "date": "2026-03-01", "kg": 10,
                "payment": "credit", "price": 9000 }),
    );
    let member = at(&w, "2026-03-23T06:00", "member");
    let path = format!("/v1/work?farm_id={farm}");
    let day = member.get(&path).expect(200).json();
    let soaks = |day: &Json, state: &str| -> Vec<(String, String, String)> {
        let text = |v: &Json| v.as_str().unwrap_or_default().to_owned();
        let of = lines(day).iter().filter(|l| l["task"] == "soak" && l["state"] == state);
        let mut of: Vec<_> =
            of.map(|l| (text(&l["crop"]), text(&l["seed_lot"]), text(&l["line"]))).collect();
        of.sort();
        of
    };
    let open = soaks(&day, "open");
    let told: Vec<(&str, &str)> = open.iter().map(|s| (s.0.as_str(), s.1.as_str())).collect();
    assert_eq!(told, [("barley", "L1"), ("wheat", "LW")]);
    for (.., line) in &open {
        member.post("/v1/work", &json!({ "line": line })).expect(201);
    }
    let day = member.get(&path).expect(200).json();
    assert_eq!((soaks(&day, "done").len(), soaks(&day, "open").len()), (2, 0));
    // The wheat is held: its soak of the next day says so, that of the barley goes on.
    let hold = json!({ "seed_lot_id": wheat, "held_from": "2026-03-23", "reason": "musty" });
    w.sign_in("officer").post("/v1/lot-holds", &hold).expect(201);
    let member = at(&w, "2026-03-24T06:00", "member");
    let day = member.get(&path).expect(200).json();
    for line in lines(&day).iter().filter(|l| l["task"] == "soak" && l["state"] == "open") {
        let is_wheat = line["crop"] == "wheat";
        assert_eq!(line["seed_lot"].is_null(), is_wheat);
        let held = line["cautions"].as_array().expect("cautions");
        assert_eq!(held.len(), usize::from(is_wheat), "{line:#}");
    }
}
