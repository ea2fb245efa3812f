//! Work on paper, in calendars and on devices: held seed, languages, and what changes by itself.

use crate::work::{at, farm, find};
use acceptance::client::Client;
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use std::collections::HashSet;
use traybook_domain::Kind;

both!(
    held_seed_in_stock_is_said_on_paper_and_in_calendars,
    a_sheet_speaks_the_language_of_its_reader,
    a_withdrawn_farm_is_sent_as_gone,
    lines_that_come_due_are_sent,
    a_batch_of_no_group_feeds_who_lacks_most,
);

fn sheet(client: &Client, path: &str, media: &str) -> String {
    client.send("GET", path, &[("accept", media)], None).expect(200).text
}

fn held_seed_in_stock_is_said_on_paper_and_in_calendars(w: World) {
    let (farm, ..) = farm(&w, "G1");
    let officer = at(&w, "2026-03-23T06:05", "officer");
    let links = format!("/v1/farms/{farm}/calendar-links");
    let link = officer.send("POST", &links, &[], None).expect(201).json();
    let calendar = link["path"].as_str().expect("a path");
    let flat = |text: String| text.replace("\r\n ", "");
    assert!(!flat(w.nobody.get(calendar).expect(200).text).contains("held"));
    let hold =
        json!({ "seed_lot_id": w.a.id("lot"), "held_from": "2026-03-23", "reason": "musty" });
    officer.post("/v1/lot-holds", &hold).expect(201);
    // Beside the soak that has nothing else to take.
    let day = officer.get(&format!("/v1/work?farm_id={farm}")).expect(200).json();
    let soak = find(&day, "soak", "open");
    let caution = soak["cautions"][0].as_str().expect("a caution");
    assert!(caution.starts_with("this seed lot is held"), "{caution}");
    let warning = "lot L1 is held (musty): 20 kg of it are on the farm";
    let path = format!("/v1/work-sheet?farm_id={farm}&days=2");
    let csv = sheet(&officer, &path, "text/csv");
    let warned: Vec<&str> = csv.lines().filter(|l| l.contains(warning)).collect();
    assert_eq!(warned.len(), 2, "on each day: {csv}");
    assert!(warned[0].starts_with("2026-03-23,North hill,G1,"), "{}", warned[0]);
    assert!(warned[0].contains(",warning,"), "{}", warned[0]);
    assert_eq!(sheet(&officer, &path, "text/html").matches(warning).count(), 2);
    let text = flat(w.nobody.get(calendar).expect(200).text);
    assert!(text.contains("SUMMARY:held: lot L1\r\n"), "{text}");
    assert!(text.contains(&format!("DESCRIPTION:{warning}")), "{text}");
    assert!(text.contains("DESCRIPTION:this seed lot is held"), "{text}");
}

fn a_sheet_speaks_the_language_of_its_reader(w: World) {
    let (farm, ..) = farm(&w, "J1");
    let officer = at(&w, "2026-03-23T06:05", "officer");
    let path = format!("/v1/work-sheet?farm_id={farm}");
    let english = sheet(&officer, &path, "text/html");
    assert!(english.contains("<html lang=\"en\">") && english.contains("Monday 2026-03-23"));
    let hold =
        json!({ "seed_lot_id": w.a.id("lot"), "held_from": "2026-03-23", "reason": "musty" });
    officer.post("/v1/lot-holds", &hold).expect(201);
    let swahili = sheet(&officer, &format!("{path}&language=sw"), "text/html");
    for text in [
        "<html lang=\"sw\">",
        "Jumatatu 2026-03-23",
        "Loweka kilo 2 za shayiri kwa J1-cows: trei 1",
        "imezuiwa",
        "sumu",
    ] {
        assert!(swahili.contains(text), "{text}: {swahili}");
    }
    for text in ["soak", "Nothing", "Done", "held", "[sheet", "poisonous"] {
        assert!(!swahili.contains(text), "{text}: {swahili}");
    }
    let csv = sheet(&officer, &format!("{path}&language=sw"), "text/csv");
    assert!(csv.starts_with("date,area,farm,") && csv.contains("Loweka kilo 2"), "{csv}");
    let errors = officer.get(&format!("{path}&language=fr")).expect(422).json();
    assert_eq!(errors["errors"][0]["pointer"], "/language");
    // The person's own where none is asked for.
    let manager = w.sign_in("manager");
    let person = format!("/v1/people/{}", w.a.id("officer"));
    let etag = manager.get(&person).expect(200).header("etag").expect("an etag").to_owned();
    manager.patch(&person, &etag, &json!({ "language": "sw" })).expect(200);
    assert!(sheet(&w.sign_in("officer"), &path, "text/html").contains("<html lang=\"sw\">"));
}

fn a_withdrawn_farm_is_sent_as_gone(w: World) {
    let member_farm = |code: &str| {
        w.make(
            &w.a,
            Kind::Farm,
            json!({ "code": code, "member_id": w.a.id("member"), "area_id": w.a.id("sub_area") }),
        )
    };
    let farm = member_farm("Z1");
    let (officer, manager) = (w.sign_in("officer"), w.sign_in("manager"));
    let stranger = w.sign_in_as("member.b@coop.example");
    let next = |client: &Client| -> String {
        let all = client.get("/v1/work-changes").expect(200).json();
        all["next"].as_str().expect("a cursor").to_owned()
    };
    let (of_officer, of_stranger) = (next(&officer), next(&stranger));
    let path = format!("/v1/farms/{farm}");
    let etag = manager.get(&path).expect(200).header("etag").expect("an etag").to_owned();
    manager.delete(&path, &etag).expect(204);
    let told = officer.get(&format!("/v1/work-changes?after={of_officer}")).expect(200).json();
    let is_gone = told["without_work"].as_array().is_some_and(|w| w.contains(&json!(farm)));
    assert!(is_gone, "{told}");
    let told = stranger.get(&format!("/v1/work-changes?after={of_stranger}")).expect(200).json();
    assert_eq!(told["without_work"], json!([]), "nobody else hears of it");
}

fn lines_that_come_due_are_sent(w: World) {
    farm(&w, "Q1");
    let names = |told: &Json| -> HashSet<String> {
        let farms = told["farms"].as_array().expect("farms").iter();
        farms.filter_map(|f| f["farm"].as_str().map(str::to_owned)).collect()
    };
    let officer = at(&w, "2026-03-23T06:05", "officer");
    let all = officer.get("/v1/work-changes").expect(200).json();
    assert!(names(&all).contains("Q1"));
    let next = all["next"].as_str().expect("a cursor").to_owned();
    let ask = |client: &Client, after: &str| {
        client.get(&format!("/v1/work-changes?after={after}")).expect(200).json()
    };
    // Nothing comes due before seven; the soak is due then.
    let none = ask(&at(&w, "2026-03-23T06:50", "officer"), &next);
    assert!(!names(&none).contains("Q1"), "{none:#}");
    let some = ask(&at(&w, "2026-03-23T07:10", "officer"), &next);
    assert_eq!(some["is_complete"], false);
    assert!(names(&some).contains("Q1"), "{some:#}");
    // Soaked at half past seven, to be drained at half past eleven, late from half past one on.
    let officer = at(&w, "2026-03-23T07:30", "officer");
    let soak = some["farms"].as_array().expect("farms").iter().find(|f| f["farm"] == "Q1");
    let soak = soak.expect("the farm")["lines"][0]["line"].clone();
    officer.post("/v1/work", &json!({ "line": soak })).expect(201);
    let noon = ask(&at(&w, "2026-03-23T12:00", "officer"), &next);
    let next = noon["next"].as_str().expect("a cursor").to_owned();
    let none = ask(&at(&w, "2026-03-23T13:00", "officer"), &next);
    assert!(!names(&none).contains("Q1"), "{none:#}");
    let late = ask(&at(&w, "2026-03-23T13:40", "officer"), &next);
    let farm = late["farms"].as_array().expect("farms").iter().find(|f| f["farm"] == "Q1");
    let lines = farm.expect("the farm")["lines"].as_array().expect("lines");
    assert!(lines.iter().any(|l| l["task"] == "drain" && l["state"] == "late"), "{lines:#?}");
}

fn a_batch_of_no_group_feeds_who_lacks_most(w: World) {
    let (farm, shed, _) = farm(&w, "E1");
    let hens = w.make(
        &w.a,
        Kind::AnimalGroup,
        json!({ "code": "E1-hens", "farm_id": farm, "animal_class": "layers" }),
    );
    w.make(
        &w.a,
        Kind::HeadCount,
        json!({ "animal_group_id": hens, "date": "2025-06-01", "reason": "counted", "head": 200 }),
    );
    // 6 kg: the hens need 4 (a tray of 2 kg for 100), the cow 2.
    let batch = w.make(
        &w.a,
        Kind::Batch,
        json!({ "code": "EB", "shed_id": shed, "seed_lot_id": w.a.id("lot"), "crop": "barley",
                "harvest_age_days": 8 }),
    );
    w.make(
        &w.a,
        Kind::BatchEvent,
        json!({ "batch_id": batch, "event": "soaked", "at": "2026-03-20T04:00:00Z", "kg": 6 }),
    );
    let plan =
        w.sign_in("member").get(&format!("/v1/farms/{farm}/plan?days=20")).expect(200).json();
    let days = plan["schedule"].as_array().expect("days");
    let day = days.iter().find(|d| d["day"] == "2026-03-28").expect("the feeding day");
    let feeding = day["feeding"].as_array().expect("groups");
    assert_eq!(feeding.len(), 2, "{day:#}");
    for group in feeding {
        assert_eq!(group["short_kg"], json!(0), "{group:#}");
        assert_eq!(group["growing_kg"], group["need_kg"], "{group:#}");
    }
}
