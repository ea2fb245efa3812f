//! Work recorded twice, corrected, withdrawn, and sent late.

use crate::work::{at, farm, find, lines};
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use std::collections::HashSet;

both!(
    recording_twice_is_harmless_and_otherwise_told,
    late_lines_of_a_phone_without_signal_are_kept
);

fn recording_twice_is_harmless_and_otherwise_told(w: World) {
    let (farm, ..) = farm(&w, "R1");
    let officer = at(&w, "2026-03-23T07:05", "officer");
    let day = officer.get(&format!("/v1/work?farm_id={farm}")).expect(200).json();
    let line = find(&day, "soak", "open")["line"].clone();
    let first = officer.post("/v1/work", &json!({ "line": line, "kg": 2.2 })).expect(201).json();
    let officer = at(&w, "2026-03-23T08:00", "officer");
    let again = officer.post("/v1/work", &json!({ "line": line, "kg": 2.2 })).expect(200).json();
    assert_eq!(again["records"][1]["id"], first["records"][1]["id"]);
    assert_eq!(again["records"][1]["is_new"], false);
    officer.post("/v1/work", &json!({ "line": line })).expect(200);
    let other = officer.post("/v1/work", &json!({ "line": line, "kg": 3 })).expect(409).json();
    assert!(other["detail"].as_str().is_some_and(|d| d.contains("another kg")), "{other}");
    // Corrected, the same call finds the corrected record; another one is told.
    let event = first["records"][1]["id"].as_str().expect("an event");
    let path = format!("/v1/batch-events/{event}");
    officer.patch(&path, "\"1\"", &json!({ "kg": 2 })).expect(200);
    let again = officer.post("/v1/work", &json!({ "line": line, "kg": 2.2 })).expect(200).json();
    assert_eq!(again["records"][1]["version"], 2);
    assert_eq!(again["records"][1]["is_new"], false);
    officer.post("/v1/work", &json!({ "line": line, "kg": 2 })).expect(200);
    officer.post("/v1/work", &json!({ "line": line, "kg": 3 })).expect(409);
    // Withdrawn, the line is open again and is recorded anew, as often as need be.
    let mut ids = HashSet::from([event.to_owned()]);
    for (event, version) in [(event.to_owned(), 2), (String::new(), 1)] {
        let made = officer.post("/v1/work", &json!({ "line": line, "kg": 2.2 })).expect(200).json();
        let known = made["records"][1]["id"].as_str().expect("an event").to_owned();
        assert!(event.is_empty() || event == known);
        let path = format!("/v1/batch-events/{known}");
        officer.delete(&path, &format!("\"{version}\"")).expect(204);
        let made = officer.post("/v1/work", &json!({ "line": line, "kg": 2.2 })).expect(201).json();
        assert_eq!(made["records"][0]["is_new"], false, "the batch is there still");
        assert_eq!(made["records"][1]["is_new"], true);
        ids.insert(made["records"][1]["id"].as_str().expect("an event").to_owned());
        let stored = officer
            .get(&format!("/v1/batches/{}", made["records"][0]["id"].as_str().expect("a batch")));
        assert_eq!(stored.expect(200).json()["seed_kg"], json!(2.2));
    }
    assert_eq!(ids.len(), 3);
    // What it can not know is named.
    let wrong = json!({ "line": line, "trays": 2, "cause": "mould" });
    let wrong = officer.post("/v1/work", &wrong).expect(422).json();
    let pointers: HashSet<&str> = wrong["errors"]
        .as_array()
        .expect("errors")
        .iter()
        .filter_map(|e| e["pointer"].as_str())
        .collect();
    assert_eq!(pointers, HashSet::from(["/trays", "/cause"]));
    for bad in ["", "soak", "harvest.x.0", "soak.2026-03-23.x.2026-03-31"] {
        let answer = officer.post("/v1/work", &json!({ "line": bad })).expect(422).json();
        assert_eq!(answer["errors"][0]["pointer"], "/line");
    }
    let ahead = officer.get(&format!("/v1/work?farm_id={farm}&date=2026-03-25")).expect(200).json();
    let line = find(&ahead, "soak", "open")["line"].clone();
    officer.post("/v1/work", &json!({ "line": line })).expect(422);
}

fn late_lines_of_a_phone_without_signal_are_kept(w: World) {
    let (farm, ..) = farm(&w, "L1");
    let member = at(&w, "2026-03-23T07:05", "member");
    let path = format!("/v1/work?farm_id={farm}");
    let line = find(&member.get(&path).expect(200).json(), "soak", "open")["line"].clone();
    // Three days later the phone sends what was done then. The list of that day is gone, so the
    // call must say what the line said.
    let member = at(&w, "2026-03-26T18:00", "member");
    let errors = member.post("/v1/work", &json!({ "line": line })).expect(422).json();
    assert_eq!(errors["errors"][0]["pointer"], "/at");
    let told = json!({ "line": line, "at": "2026-03-23T04:10:00Z", "kg": 2, "crop": "barley",
        "seed_lot_id": w.a.id("lot") });
    let errors = member.post("/v1/work", &told).expect(422).json();
    assert_eq!(errors["errors"][0]["pointer"], "/shed_id", "{errors}");
    let shed = member.get(&format!("/v1/sheds?farm_id={farm}")).expect(200).json();
    let mut told = told;
    told["shed_id"] = shed["items"][0]["id"].clone();
    let done = member.post("/v1/work", &told).expect(201).json();
    let batch = done["records"][0]["id"].clone();
    // Its spreading is late by a day; it is told so and can be recorded with its own time.
    let day = member.get(&path).expect(200).json();
    let spread = find(&day, "spread", "late");
    assert_eq!((&spread["batch_id"], &spread["why"]), (&batch, &json!("was due 1 day ago")));
    assert_eq!(lines(&day)[0]["state"], "late");
    let body = json!({ "line": spread["line"], "at": "2026-03-25T09:00:00Z" });
    member.post("/v1/work", &body).expect(201);
    // A soak that was missed on the 24th and 25th is still made up, younger.
    let late: Vec<&Json> =
        lines(&day).iter().filter(|l| l["task"] == "soak" && l["state"] == "late").collect();
    assert_eq!(late.len(), 2, "{day:#}");
    let done = member.post("/v1/work", &json!({ "line": late[0]["line"] })).expect(201).json();
    let id = done["records"][0]["id"].as_str().expect("a batch");
    let stored = member.get(&format!("/v1/batches/{id}")).expect(200).json();
    assert_eq!(
        (&stored["harvest_age_days"], &stored["harvest_on"]),
        (&json!(6), &json!("2026-04-01"))
    );
}
