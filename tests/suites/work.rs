//! Plans and a day's work through the interface, as a member, an officer and a manager do it.

use acceptance::client::Client;
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use std::collections::HashSet;
use traybook_domain::Kind;
use traybook_domain::time::parse_instant;
use uuid::Uuid;

both!(
    a_cow_is_planned_as_common_practice_has_it,
    a_day_of_work_is_recorded_by_one_call_a_line,
    half_a_soak_leaves_the_other_half_to_be_done,
    work_lists_follow_every_change,
    a_hold_warns_at_once,
    mould_and_age_stand_beside_the_work,
    a_sheet_and_a_calendar_say_the_same,
    plans_follow_heads_rest_days_and_pauses,
    a_forecast_says_what_to_issue_and_when_to_order,
    another_farm_is_not_there,
);

/// A farm with one cow, a shed of twelve places and seed, started long ago and dormant since.
pub fn farm(w: &World, code: &str) -> (Uuid, Uuid, Uuid) {
    let farm = w.make(
        &w.a,
        Kind::Farm,
        json!({ "code": code, "member_id": w.a.id("member"), "area_id": w.a.id("sub_area"),
                "fodder_started_on": "2025-06-01" }),
    );
    let shed = w.make(
        &w.a,
        Kind::Shed,
        json!({ "code": format!("{code}-S"), "farm_id": farm, "tray_places": 12 }),
    );
    let cows = w.make(
        &w.a,
        Kind::AnimalGroup,
        json!({ "code": format!("{code}-cows"), "farm_id": farm, "animal_class": "dairy_cows" }),
    );
    w.make(
        &w.a,
        Kind::HeadCount,
        json!({ "animal_group_id": cows, "date": "2025-06-01", "reason": "counted", "head": 1 }),
    );
    w.make(
        &w.a,
        Kind::SeedIssue,
        json!({ "seed_lot_id": w.a.id("lot"), "farm_id": farm, "date": "2026-03-01", "kg": 20,
                "payment": "credit", "price": 18000 }),
    );
    (farm, shed, cows)
}

/// Somebody at a time of the co-operative's zone.
pub fn at(w: &World, text: &str, who: &str) -> Client {
    w.clock.set(parse_instant(&format!("{text}:00+03:00")).expect("an instant"));
    w.sign_in(who)
}

pub fn lines(work: &Json) -> &Vec<Json> {
    work["farms"][0]["lines"].as_array().expect("lines")
}

pub fn find<'a>(work: &'a Json, task: &str, state: &str) -> &'a Json {
    let found = lines(work).iter().find(|l| l["task"] == task && l["state"] == state);
    found.unwrap_or_else(|| panic!("no {state} {task} in {work:#}"))
}

fn a_cow_is_planned_as_common_practice_has_it(w: World) {
    let (farm, shed, _) = farm(&w, "P1");
    let member = w.sign_in("member");
    let plan = member.get(&format!("/v1/farms/{farm}/plan?days=20")).expect(200).json();
    // Common practice, no source: a cow takes one tray a day, 6 places, 2 kg of seed.
    let group = &plan["groups"][0];
    assert_eq!((&group["trays_a_day"], &group["places"]), (&json!(1), &json!(6)));
    assert_eq!(group["seed_kg_a_day"], json!(2));
    assert_eq!(plan["sheds"][0]["shed_id"], json!(shed));
    assert_eq!((&plan["sheds"][0]["places_spare"], &plan["notes"]), (&json!(6), &json!([])));
    assert_eq!(plan["steady_state"]["seed_kg_in_30_days"], json!(60));
    assert_eq!(plan["first_feed_on"], "2026-03-28");
    let schedule = plan["schedule"].as_array().expect("days");
    let standing: Vec<i64> =
        schedule.iter().take(10).map(|d| d["places_taken"][0].as_i64().expect("places")).collect();
    assert_eq!(standing, [0, 0, 1, 2, 3, 4, 5, 6, 6, 6]);
    // 20 kg last for ten soaks of 2 kg.
    assert_eq!(plan["seed"]["days_left"], json!(10));
    assert!(plan["caution"].as_str().is_some_and(|c| c.contains("livestock service")));
    let errors = member.get(&format!("/v1/farms/{farm}/plan?days=0&start=2026-03-01")).expect(422);
    assert_eq!(errors.json()["errors"].as_array().map(Vec::len), Some(2));
}

fn a_day_of_work_is_recorded_by_one_call_a_line(w: World) {
    let (farm, shed, cows) = farm(&w, "D1");
    let path = format!("/v1/work?farm_id={farm}");
    let member = at(&w, "2026-03-23T07:05", "member");
    let morning = member.get(&path).expect(200).json();
    assert_eq!(lines(&morning).len(), 1, "{morning:#}");
    let soak = find(&morning, "soak", "open");
    assert_eq!(
        soak["sentence"],
        "soak 2 kg barley of lot L1 in D1-S for D1-cows: 1 tray, fed on 2026-03-31"
    );
    let done = member.post("/v1/work", &json!({ "line": soak["line"] })).expect(201).json();
    let batch = done["records"][0]["id"].as_str().expect("a batch").to_owned();
    let stored = member.get(&format!("/v1/batches/{batch}")).expect(200).json();
    assert_eq!((&stored["stage"], &stored["seed_kg"]), (&json!("soaking"), &json!(2)));
    assert_eq!((&stored["seed_lot_id"], &stored["shed_id"]), (&json!(w.a.id("lot")), &json!(shed)));
    assert_eq!(stored["harvest_on"], "2026-03-31");
    let after = member.get(&path).expect(200).json();
    assert_eq!(find(&after, "soak", "done")["done_at"], "2026-03-23T04:05:00.000Z");
    let drain = find(&after, "drain", "open");
    assert_eq!(drain["due_at"], "2026-03-23T08:05:00.000Z");
    let member = at(&w, "2026-03-23T11:20", "member");
    member.post("/v1/work", &json!({ "line": drain["line"] })).expect(201);
    // Two days later: spread it, on as many trays as there were, with the germination counted.
    let member = at(&w, "2026-03-25T11:10", "member");
    let day = member.get(&path).expect(200).json();
    let spread = find(&day, "spread", "open")["line"].clone();
    let body = json!({ "line": spread, "germinated_percent": 91, "trays": 1 });
    member.post("/v1/work", &body).expect(201);
    let member = at(&w, "2026-03-25T12:00", "member");
    let day = member.get(&path).expect(200).json();
    let water = find(&day, "water", "open");
    assert_eq!((&water["trays"], &water["waterings"]), (&json!(1), &json!(3)));
    member.post("/v1/work", &json!({ "line": water["line"] })).expect(201);
    let day = member.get(&path).expect(200).json();
    assert_eq!(find(&day, "water", "done")["watering"], water["watering"]);
    // On the eighth day it is harvested, weighed, fed, and its tray is cleaned.
    let member = at(&w, "2026-03-31T07:00", "member");
    let day = member.get(&path).expect(200).json();
    let harvest = find(&day, "harvest", "open");
    assert_eq!((&harvest["kg"], &harvest["trays"]), (&json!(12), &json!(1)));
    let body = json!({ "line": harvest["line"], "kg": 11.4 });
    member.post("/v1/work", &body).expect(201);
    let day = member.get(&path).expect(200).json();
    let feed = find(&day, "feed", "open");
    assert_eq!((&feed["kg"], &feed["animal_group_id"]), (&json!(11.4), &json!(cows)));
    member.post("/v1/work", &json!({ "line": feed["line"] })).expect(201);
    let clean = find(&day, "clean", "open")["line"].clone();
    member.post("/v1/work", &json!({ "line": clean })).expect(201);
    let stored = member.get(&format!("/v1/batches/{batch}")).expect(200).json();
    assert_eq!(stored["stage"], "finished");
    assert_eq!((&stored["harvested_kg"], &stored["fed_kg"]), (&json!(11.4), &json!(11.4)));
    let day = member.get(&path).expect(200).json();
    for task in ["harvest", "feed", "clean"] {
        find(&day, task, "done");
    }
    // The day can be looked at again later, and days to come in advance.
    let member = at(&w, "2026-04-20T09:00", "member");
    let past = member.get(&format!("{path}&date=2026-03-31")).expect(200).json();
    assert_eq!(find(&past, "harvest", "done")["trays"], 1);
    let ahead = member.get(&format!("{path}&date=2026-05-10")).expect(200).json();
    find(&ahead, "harvest", "open");
    member.get(&format!("{path}&date=2026-09-10")).expect(422);
}

fn half_a_soak_leaves_the_other_half_to_be_done(w: World) {
    let (farm, ..) = farm(&w, "T1");
    let officer = at(&w, "2026-03-23T07:05", "officer");
    let path = format!("/v1/work?farm_id={farm}");
    let line = find(&officer.get(&path).expect(200).json(), "soak", "open")["line"].clone();
    officer.post("/v1/work", &json!({ "line": line, "kg": 1 })).expect(201);
    let day = officer.get(&path).expect(200).json();
    let rest = find(&day, "soak", "open");
    assert_eq!(rest["kg"], json!(1));
    assert_ne!(rest["line"], line, "the rest is a line of its own");
    officer.post("/v1/work", &json!({ "line": rest["line"] })).expect(201);
    let day = officer.get(&path).expect(200).json();
    assert!(!lines(&day).iter().any(|l| l["task"] == "soak" && l["state"] == "open"), "{day:#}");
    // Of a harvest with mould nothing is asked to be fed, and the caution stands beside it.
    let officer = at(&w, "2026-03-25T11:20", "officer");
    let day = officer.get(&path).expect(200).json();
    for line in lines(&day).iter().filter(|l| l["task"] == "spread") {
        officer.post("/v1/work", &json!({ "line": line["line"] })).expect(201);
    }
    let officer = at(&w, "2026-03-31T07:00", "officer");
    let day = officer.get(&path).expect(200).json();
    let harvest = find(&day, "harvest", "open")["line"].clone();
    let mould = json!({ "line": harvest, "kg": 6, "mould_seen": true });
    officer.post("/v1/work", &mould).expect(201);
    let day = officer.get(&path).expect(200).json();
    assert!(!lines(&day).iter().any(|l| l["task"] == "feed"), "{day:#}");
    let thrown = find(&day, "discard", "late")["line"].clone();
    officer.post("/v1/work", &json!({ "line": thrown })).expect(201);
    let day = officer.get(&path).expect(200).json();
    let open = |l: &&Json| l["task"] == "discard" && l["state"] != "done";
    assert_eq!(lines(&day).iter().filter(open).count(), 0, "{day:#}");
    let done = find(&day, "harvest", "done");
    assert!(done["cautions"][0].as_str().is_some_and(|c| c.contains("do not feed")));
}

fn work_lists_follow_every_change(w: World) {
    let (one, ..) = farm(&w, "C1");
    let (two, ..) = farm(&w, "C2");
    let officer = at(&w, "2026-03-23T07:05", "officer");
    let all = officer.get("/v1/work-changes").expect(200).json();
    assert_eq!(all["is_complete"], true);
    let told = |j: &Json| -> HashSet<String> {
        let farms = j["farms"].as_array().expect("farms").iter();
        farms.filter_map(|f| f["farm"].as_str().map(str::to_owned)).collect()
    };
    assert!(told(&all).is_superset(&HashSet::from(["C1".to_owned(), "C2".to_owned()])));
    let next = all["next"].as_str().expect("a cursor").to_owned();
    let none = officer.get(&format!("/v1/work-changes?after={next}")).expect(200).json();
    assert_eq!((&none["is_complete"], told(&none).len()), (&json!(false), 0));
    // One farm soaks: only its list is sent again, and it says so.
    let day = officer.get(&format!("/v1/work?farm_id={one}")).expect(200).json();
    let line = find(&day, "soak", "open")["line"].clone();
    officer.post("/v1/work", &json!({ "line": line })).expect(201);
    let some = officer.get(&format!("/v1/work-changes?after={next}")).expect(200).json();
    assert_eq!(told(&some), HashSet::from(["C1".to_owned()]));
    let lines = some["farms"][0]["lines"].as_array().expect("lines");
    assert!(lines.iter().any(|l| l["task"] == "soak" && l["state"] == "done"));
    // Milk is no work; a change of the guide concerns all.
    let next = some["next"].as_str().expect("a cursor").to_owned();
    w.make(
        &w.a,
        Kind::MilkRecord,
        json!({ "animal_group_id": w.a.id("cows"), "date": "2026-03-22",
        "session": "day", "litres": 8, "animals_in_milk": 2 }),
    );
    let none = officer.get(&format!("/v1/work-changes?after={next}")).expect(200).json();
    assert_eq!((&none["is_complete"], told(&none).len()), (&json!(false), 0));
    w.make(
        &w.a,
        Kind::GrowingGuideValue,
        json!({ "name": "waterings_per_day", "value": 4, "valid_from": "2026-03-01" }),
    );
    let all = officer.get(&format!("/v1/work-changes?after={next}")).expect(200).json();
    assert_eq!(all["is_complete"], true);
    // The lists that are kept in memory are those that are read anew: every farm by itself.
    let kept = officer.get("/v1/work").expect(200).json();
    for farm in kept["farms"].as_array().expect("farms") {
        let id = farm["farm_id"].as_str().expect("an id");
        let alone = officer.get(&format!("/v1/work?farm_id={id}")).expect(200).json();
        assert_eq!(&alone["farms"][0], farm);
    }
    // Seed counted on one farm and then put down to another: both lists follow.
    let adjust = json!({ "seed_lot_id": w.a.id("lot"), "farm_id": one, "date": "2026-03-22",
        "change_kg": -5, "reason": "stock_count" });
    let id = w.make(&w.a, Kind::SeedAdjustment, adjust);
    let on_farm = |farm: Uuid| {
        let day = officer.get(&format!("/v1/work?farm_id={farm}")).expect(200).json();
        day["farms"][0]["seed"]["on_farm_kg"].as_f64().expect("kg")
    };
    assert_eq!((on_farm(one), on_farm(two)), (13.0, 20.0));
    let manager = w.sign_in("manager");
    let path = format!("/v1/seed-adjustments/{id}");
    let etag = manager.get(&path).expect(200);
    let etag = etag.header("etag").expect("an etag");
    manager.patch(&path, etag, &json!({ "farm_id": two })).expect(200);
    assert_eq!((on_farm(one), on_farm(two)), (18.0, 15.0));
    officer.get("/v1/work-changes?after=x").expect(400);
    // A time that no list of today had: everything is sent, whatever the number.
    let next = all["next"].as_str().expect("a cursor");
    let (begin, _) = next.rsplit_once('.').expect("a time");
    let now = w.app.now().0;
    for at in [i64::MIN, -1, now - 86_400_000, now + 1, i64::MAX] {
        let all = officer.get(&format!("/v1/work-changes?after={begin}.{at}")).expect(200).json();
        assert_eq!(all["is_complete"], true, "{at}");
    }
    // On the next day everything is new.
    let officer = at(&w, "2026-03-24T07:05", "officer");
    let next = all["next"].as_str().expect("a cursor");
    let all = officer.get(&format!("/v1/work-changes?after={next}")).expect(200).json();
    assert_eq!(all["is_complete"], true);
}

fn a_hold_warns_at_once(w: World) {
    let (farm, ..) = farm(&w, "H1");
    let officer = at(&w, "2026-03-20T12:30", "officer");
    let manager = w.sign_in("manager");
    let path = format!("/v1/work?farm_id={farm}");
    let before = officer.get(&path).expect(200).json();
    assert_eq!(before["farms"][0]["warnings"], json!([]));
    let hold =
        json!({ "seed_lot_id": w.a.id("lot"), "held_from": "2026-03-20", "reason": "musty" });
    let hold = officer.post("/v1/lot-holds", &hold).expect(201);
    let warned = officer.get(&path).expect(200).json();
    let warning = warned["farms"][0]["warnings"][0].as_str().expect("a warning");
    assert!(
        warning.starts_with("lot L1 is held (musty): 20 kg of it are on the farm"),
        "{warning}"
    );
    let soak = find(&warned, "soak", "open");
    assert_eq!(soak["seed_lot_id"], Json::Null, "no held lot is proposed");
    let id = hold.json()["id"].as_str().expect("an id").to_owned();
    let release = json!({ "released_on": "2026-03-20", "finding": "only dust" });
    manager
        .patch(&format!("/v1/lot-holds/{id}"), hold.header("etag").expect("an etag"), &release)
        .expect(200);
    let after = officer.get(&path).expect(200).json();
    assert_eq!(after["farms"][0]["warnings"], json!([]));
}

fn mould_and_age_stand_beside_the_work(w: World) {
    let (farm, shed, cows) = farm(&w, "M1");
    let batch = w.make(
        &w.a,
        Kind::Batch,
        json!({ "code": "MB", "shed_id": shed,
        "animal_group_id": cows, "seed_lot_id": w.a.id("lot"), "crop": "barley" }),
    );
    let event = |event: &str, at: &str, more: Json| {
        let mut body = json!({ "batch_id": batch, "event": event, "at": at });
        for (name, value) in more.as_object().expect("members") {
            body[name] = value.clone();
        }
        w.make(&w.a, Kind::BatchEvent, body)
    };
    event("soaked", "2026-03-10T04:00:00Z", json!({ "kg": 4 }));
    event("spread", "2026-03-12T08:00:00Z", json!({ "trays": 2 }));
    let path = format!("/v1/work?farm_id={farm}");
    // Ready on the 18th; two days over age on the 20th, four on the 22nd.
    let member = at(&w, "2026-03-20T12:30", "member");
    let day = member.get(&path).expect(200).json();
    let harvest = find(&day, "harvest", "late");
    assert_eq!(harvest["why"], "2 days past its harvest age");
    assert!(
        harvest["cautions"][0]
            .as_str()
            .is_some_and(|c| c.contains("feeding the rest needs a reason"))
    );
    let member = at(&w, "2026-03-22T12:30", "member");
    let day = member.get(&path).expect(200).json();
    let discard = find(&day, "discard", "late")["line"].clone();
    let body = json!({ "line": discard, "trays": 1, "mould_seen": true });
    let done = member.post("/v1/work", &body).expect(201).json();
    let id = done["records"][0]["id"].as_str().expect("an event");
    let stored = member.get(&format!("/v1/batch-events/{id}")).expect(200).json();
    assert_eq!(stored["cause"], "left_too_long");
    // With mould the rest is to be discarded too, and feeding it needs a reason.
    let day = member.get(&path).expect(200).json();
    let rest = find(&day, "discard", "late");
    assert_eq!((&rest["why"], &rest["trays"]), (&json!("mould was seen"), &json!(1)));
    assert!(rest["cautions"][0].as_str().is_some_and(|c| c.contains("do not feed")));
    let feed = json!({ "line": format!("feed.{batch}.0"), "at": "2026-03-22T09:30:00Z", "kg": 3 });
    let refused = member.post("/v1/work", &feed).expect(422).json();
    assert_eq!(refused["errors"][0]["pointer"], "/reason");
    member.post("/v1/work", &json!({ "line": rest["line"] })).expect(201);
    let day = member.get(&path).expect(200).json();
    assert!(!lines(&day).iter().any(|l| l["batch"] == "MB" && l["state"] != "done"), "{day:#}");
}

fn a_sheet_and_a_calendar_say_the_same(w: World) {
    let (farm, ..) = farm(&w, "S1");
    let member = at(&w, "2026-03-23T06:05", "member");
    let day = member.get(&format!("/v1/work?farm_id={farm}")).expect(200).json();
    let sentence = find(&day, "soak", "open")["sentence"].as_str().expect("a sentence").to_owned();
    let html = member.get(&format!("/v1/work-sheet?farm_id={farm}&days=7")).expect(200);
    assert_eq!(html.header("content-type"), Some("text/html; charset=utf-8"));
    assert!(
        html.header("content-security-policy").is_some_and(|p| p.contains("style-src 'sha256-"))
    );
    let html = html.text;
    assert!(html.contains(&sentence) && html.matches("<section>").count() == 7);
    let csv = member
        .send(
            "GET",
            &format!("/v1/work-sheet?farm_id={farm}&days=2"),
            &[("accept", "text/csv")],
            None,
        )
        .expect(200);
    assert!(csv.text.contains(&sentence));
    // The calendar needs no sign-in, only its secret; it ends when that is revoked.
    let links = format!("/v1/farms/{farm}/calendar-links");
    let link = member.send("POST", &links, &[], None).expect(201).json();
    let path = link["path"].as_str().expect("a path").to_owned();
    let calendar = w.nobody.get(&path).expect(200);
    assert_eq!(calendar.header("content-type"), Some("text/calendar; charset=utf-8"));
    let text = calendar.text.replace("\r\n ", "");
    assert!(text.contains(&sentence.replace(',', "\\,")), "{text}");
    assert!(text.matches("BEGIN:VEVENT").count() > 14);
    let listed = member.get(&links).expect(200).json();
    assert_eq!(listed["items"][0]["id"], link["id"]);
    assert!(listed["items"][0].get("path").is_none());
    let id = link["id"].as_str().expect("an id");
    w.sign_in_as("member.b@coop.example").delete(&format!("{links}/{id}"), "\"1\"").expect(404);
    w.nobody.get(&path).expect(200);
    member.delete(&format!("{links}/{id}"), "\"1\"").expect(204);
    w.nobody.get(&path).expect(404);
    w.nobody.get(&format!("/calendar/{}", "0".repeat(64))).expect(404);
    for _ in 0..10 {
        member.send("POST", &links, &[], None).expect(201);
    }
    member.send("POST", &links, &[], None).expect(409);
}

fn plans_follow_heads_rest_days_and_pauses(w: World) {
    let (farm, _, cows) = farm(&w, "V1");
    let officer = w.sign_in("officer");
    let path = format!("/v1/farms/{farm}/plan?days=40");
    w.make(
        &w.a,
        Kind::PlannedHead,
        json!({ "animal_group_id": cows, "date": "2026-04-10", "head": 3 }),
    );
    w.make(&w.a, Kind::RestDay, json!({ "farm_id": farm, "weekday": "sunday" }));
    let plan = officer.get(&path).expect(200).json();
    let day = |plan: &Json, on: &str| -> Json {
        let days = plan["schedule"].as_array().expect("days");
        days.iter().find(|d| d["day"] == on).expect("the day").clone()
    };
    // The 22nd of March is a Sunday; what would be soaked then is soaked on Monday.
    assert_eq!(day(&plan, "2026-03-22")["soaks"], json!([]));
    let monday = day(&plan, "2026-03-23");
    assert_eq!(monday["soaks"].as_array().map(Vec::len), Some(2));
    assert_eq!(monday["soaks"][0]["moved_from"], "2026-03-22");
    // Three cows from the 10th of April on: three trays are soaked for that day.
    let fed = |on: &str| day(&plan, on)["feeding"][0]["need_kg"].clone();
    assert_eq!((fed("2026-04-09"), fed("2026-04-10")), (json!(12), json!(36)));
    // The shed of 12 places is too small for 18: who goes short is told.
    assert_eq!(plan["sheds"][0]["places_missing"], json!(6));
    let note = plan["notes"][0].as_str().expect("a note");
    assert!(
        note.starts_with("V1-cows goes short of") && note.ends_with("the shed has too few places")
    );
    w.make(&w.a, Kind::GrowingPause, json!({ "farm_id": farm, "first_day": "2026-04-08" }));
    let plan = officer.get(&path).expect(200).json();
    let soaks = |d: &Json| d["soaks"].as_array().map_or(0, Vec::len);
    let last = plan["schedule"].as_array().expect("days").iter().filter(|d| soaks(d) > 0);
    assert_eq!(last.map(|d| d["day"].as_str().expect("a day")).max(), Some("2026-03-30"));
    // A group that is taken off fodder is planned no more.
    w.make(
        &w.a,
        Kind::FodderPlan,
        json!({ "animal_group_id": cows, "valid_from": "2026-03-01", "is_grown": false }),
    );
    let plan = officer.get(&path).expect(200).json();
    assert_eq!((&plan["groups"], &plan["first_feed_on"]), (&json!([]), &Json::Null));
}

fn a_forecast_says_what_to_issue_and_when_to_order(w: World) {
    farm(&w, "S1");
    w.make(
        &w.a,
        Kind::SeedPurchase,
        json!({ "seed_lot_id": w.a.id("lot"), "date": "2026-03-01", "kg": 100, "price": 90000,
                "feed_grade": true, "untreated": true }),
    );
    let manager = w.sign_in("manager");
    let made = manager.get("/v1/seed-forecast?weeks=8").expect(200).json();
    let crop = &made["crops"][0];
    // One cow takes 2 kg a day, 14 kg a week, 112 kg in eight weeks; 20 kg are on the farm and
    // 80 kg in the store.
    assert_eq!((&crop["crop"], &crop["need_kg"]), (&json!("barley"), &json!(112)));
    assert_eq!(crop["need_kg_by_week"], json!([14, 14, 14, 14, 14, 14, 14, 14]));
    assert_eq!((&crop["on_farms_kg"], &crop["to_issue_kg"]), (&json!(20), &json!(92)));
    let store = &crop["store"];
    // In the last 21 days 4 kg were soaked, on one day: standard deviation 0.873 kg a day. At 95 %
    // that is 1.645 · 0.873 · √(8 · (1 + 8/21)) = 4.77 kg over 7 days and one.
    let safety = store["safety_stock_kg"].as_f64().expect("a safety stock");
    assert!((safety - 4.772).abs() < 0.005, "{safety}");
    let buy = store["to_buy_kg"].as_f64().expect("kg to buy");
    assert!((buy - (92.0 + safety - 80.0)).abs() < 0.001, "{buy}");
    assert_eq!((&store["stock_kg"], &store["to_buy_bags"]), (&json!(80), &json!(1)));
    // The farm is out after 10 days and the store 40 days later; an order takes 7 days.
    assert_eq!(made["farms"][0]["lasts_until"], "2026-03-30");
    assert_eq!(
        (&store["lasts_until"], &store["lead_time_days"]),
        (&json!("2026-05-09"), &json!(7))
    );
    assert_eq!(store["order_by"], "2026-04-29");
    assert_eq!(crop["issue_points"][0]["area"], "North hill");
    let csv = manager.send("GET", "/v1/seed-forecast", &[("accept", "text/csv")], None).expect(200);
    assert!(csv.text.contains("barley,North hill,1,92,2,"), "{}", csv.text);
    // A hold takes the seed out of the stock at once: all of it must be bought.
    let hold = json!({ "seed_lot_id": w.a.id("lot"), "held_from": "2026-03-20", "reason": "wet" });
    manager.post("/v1/lot-holds", &hold).expect(201);
    let made = manager.get("/v1/seed-forecast?weeks=8").expect(200).json();
    let store = &made["crops"][0]["store"];
    let buy = store["to_buy_kg"].as_f64().expect("kg to buy");
    assert!((buy - (112.0 + safety)).abs() < 0.001, "{buy}");
    assert_eq!((&store["held_kg"], &store["stock_kg"]), (&json!(80), &json!(0)));
    assert_eq!(store["order_by"], "2026-03-20");
    let officer = w.sign_in("officer").get("/v1/seed-forecast").expect(200).json();
    assert_eq!(officer["crops"][0]["store"], Json::Null);
    w.sign_in("member").get("/v1/seed-forecast").expect(403);
    manager.get("/v1/seed-forecast?weeks=13").expect(422);
}

fn another_farm_is_not_there(w: World) {
    let (farm, ..) = farm(&w, "X1");
    let (member, stranger) = (w.sign_in("member"), w.sign_in_as("manager.b@coop.example"));
    let other = w.a.id("other_farm");
    for path in [
        format!("/v1/work?farm_id={other}"),
        format!("/v1/farms/{other}/plan"),
        format!("/v1/farms/{other}/calendar-links"),
        format!("/v1/work-sheet?farm_id={other}"),
    ] {
        member.get(&path).expect(404);
    }
    for path in [format!("/v1/work?farm_id={farm}"), format!("/v1/farms/{farm}/plan")] {
        stranger.get(&path).expect(404);
    }
    let area = w.a.id("area");
    stranger.get(&format!("/v1/work?area_id={area}")).expect(404);
    let seen = member.get("/v1/work").expect(200).json();
    for farm in seen["farms"].as_array().expect("farms") {
        assert_ne!(farm["farm_id"], json!(other));
    }
    let (group, batch) = (w.a.id("other_cows"), w.a.id("batch"));
    member
        .post("/v1/work", &json!({ "line": format!("soak.2026-03-20.{group}.2026-03-28") }))
        .expect(404);
    stranger.post("/v1/work", &json!({ "line": format!("spread.{batch}") })).expect(404);
    w.sign_in("programme_reader").get("/v1/work").expect(403);
    w.nobody.get("/v1/work").expect(401);
}
