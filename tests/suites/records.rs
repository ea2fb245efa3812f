//! The life of a record of every kind.

use acceptance::samples::sample;
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_domain::Kind;

both!(
    every_kind_lives_from_create_to_history,
    same_id_is_safe_to_repeat,
    lists_walk_by_pages,
    filters_narrow_a_list,
    fodder_start_changes_only_with_a_reason,
    a_record_in_use_is_not_withdrawn,
    batch_shows_its_stage_and_cautions
);

fn kinds() -> impl Iterator<Item = Kind> {
    Kind::ALL.iter().copied().filter(|k| *k != Kind::Cooperative)
}

fn every_kind_lives_from_create_to_history(w: World) {
    let manager = w.sign_in("manager");
    for kind in kinds() {
        let base = format!("/v1/{}", kind.spec().path);
        let (body, patch) = sample(kind, &w.a);
        let made = manager.post(&base, &body).expect(201);
        let location = made.header("location").expect("location").to_owned();
        let read = manager.get(&location).expect(200);
        assert_eq!(read.text, made.text, "{base}");
        for (name, value) in body.as_object().expect("object") {
            let same = read.json()[name] == *value
                || name == "at"
                || name.ends_with("_at")
                || name == "email";
            assert!(same, "{base} {name}: {} {value}", read.json()[name]);
        }
        let etag = read.header("etag").expect("etag").to_owned();
        manager.send("GET", &location, &[("if-none-match", &etag)], None).expect(304);
        let mut version = etag;
        if patch != json!({}) {
            let bytes = patch.to_string().into_bytes();
            let media = "application/merge-patch+json";
            manager.send("PATCH", &location, &[], Some((media, bytes))).expect(428);
            let stale = manager.patch(&location, "\"7-x\"", &patch).expect(412);
            assert_eq!(stale.json()["current_version"], 1);
            let fixed = manager.patch(&location, &version, &patch).expect(200);
            assert_eq!(fixed.json()["version"], 2, "{base}");
            // The same correction again changes nothing; another one with the old version is stale.
            manager.patch(&location, &version, &patch).expect(200);
            version = fixed.header("etag").expect("etag").to_owned();
        }
        manager.delete(&location, &version).expect(204);
        let gone = manager.get(&location).expect(200).json();
        assert!(gone["withdrawn_at"].is_string(), "{base}");
        let id = gone["id"].as_str().expect("id").to_owned();
        let listed = |query: &str| {
            manager.get(&format!("{base}?limit=200{query}")).expect(200).text.contains(&id)
        };
        assert!(!listed("") && listed("&withdrawn=true"), "{base}");
        let history = manager.get(&format!("{location}/history")).expect(200).items();
        let actions: Vec<&str> = history.iter().filter_map(|h| h["action"].as_str()).collect();
        let corrected = ["created", "corrected", "withdrawn"];
        let plain = ["created", "withdrawn"];
        let want: &[&str] = if patch == json!({}) { &plain } else { &corrected };
        assert_eq!(actions, want, "{base}");
        for (name, value) in patch.as_object().expect("object") {
            let of = |i: usize| history[i]["record"][name].clone();
            assert_ne!(of(0), of(1), "{base} {name} {value}: the earlier value is kept");
        }
    }
}

fn same_id_is_safe_to_repeat(w: World) {
    let manager = w.sign_in("manager");
    for kind in kinds() {
        let base = format!("/v1/{}", kind.spec().path);
        let (mut body, patch) = sample(kind, &w.a);
        body["id"] = json!(w.app.new_id().expect("id"));
        let first = manager.post(&base, &body).expect(201);
        let again = manager.post(&base, &body).expect(200);
        assert_eq!(first.text, again.text, "{base}");
        if patch == json!({}) {
            continue;
        }
        let mut other = body.clone();
        for (name, value) in patch.as_object().expect("object") {
            other[name] = value.clone();
        }
        let refused = manager.post(&base, &other);
        assert!(refused.status == 409 || refused.status == 422, "{base} {}", refused.text);
        let path = first.header("location").expect("location").to_owned();
        manager.patch(&path, "\"1\"", &patch).expect(200);
        // A late repeat of the first message still means the record, as it is now.
        assert_eq!(manager.post(&base, &body).expect(200).json()["version"], 2, "{base}");
    }
    let bad = json!({ "id": "0d9a0a4e-7d5f-4f6b-9e37-0f8a9a3b2c11", "name": "v4" });
    let refused = manager.post("/v1/suppliers", &bad).expect(422);
    assert_eq!(refused.errors(), [("/id".to_owned(), "id_version".to_owned())]);
    let late = json!({ "id": "02f00000-0000-7000-8000-000000000001", "name": "future" });
    let refused = manager.post("/v1/suppliers", &late).expect(422);
    assert_eq!(refused.errors(), [("/id".to_owned(), "future".to_owned())]);
}

fn lists_walk_by_pages(w: World) {
    let manager = w.sign_in("manager");
    for day in 1..=15 {
        for session in ["morning", "evening"] {
            let body = json!({
                "animal_group_id": w.a.id("cows"), "date": format!("2026-02-{day:02}"),
                "session": session, "litres": 10 + day, "animals_in_milk": 3,
            });
            manager.post("/v1/milk-records", &body).expect(201);
        }
    }
    let mut seen: Vec<(String, String)> = Vec::new();
    let mut next = Some("/v1/milk-records?limit=7".to_owned());
    while let Some(path) = next {
        let page = manager.get(&path).expect(200);
        let text = |r: &Json, m: &str| r[m].as_str().expect("text").to_owned();
        seen.extend(page.items().iter().map(|r| (text(r, "date"), text(r, "id"))));
        next = page.json()["next"].as_str().map(str::to_owned);
        let link = page.header("link").expect("link").to_owned();
        assert_eq!(link.contains("rel=\"next\""), next.is_some());
        assert!(next.as_ref().is_none_or(|n| link.contains(n.as_str())));
    }
    // A batch history begins with the newest, and its pages meet.
    for _ in 0..5 {
        let batch = json!({ "shed_id": w.a.id("shed"), "crop": "barley" });
        manager.post("/v1/batches", &batch).expect(201);
    }
    let ids = |answer: &acceptance::Answer| -> Vec<String> {
        answer.items().iter().map(|b| b["id"].as_str().expect("id").to_owned()).collect()
    };
    let first = manager.get("/v1/batches?limit=4").expect(200);
    let rest = manager.get(first.json()["next"].as_str().expect("next")).expect(200);
    let all = [ids(&first), ids(&rest)].concat();
    let mut newest_first = all.clone();
    newest_first.sort_by(|a, b| b.cmp(a));
    assert_eq!((all.len(), &all), (6, &newest_first));
    assert_eq!(seen.len(), 30);
    let mut sorted = seen.clone();
    sorted.sort_by(|a, b| b.cmp(a));
    assert_eq!(seen, sorted, "newest first, each once");
    let page = manager.get("/v1/milk-records?limit=7").json();
    let next = page["next"].as_str().expect("next").replace("milk-records", "egg-records");
    assert_eq!(manager.get(&next).expect(400).json()["code"], "cursor");
    let other = page["next"].as_str().expect("next").to_owned() + "&session=day";
    manager.get(&other).expect(400);
}

fn filters_narrow_a_list(w: World) {
    let manager = w.sign_in("manager");
    for (day, group) in
        [("2026-03-01", "cows"), ("2026-03-02", "cows"), ("2026-03-02", "other_cows")]
    {
        let body = json!({
            "animal_group_id": w.a.id(group), "date": day, "session": "day", "litres": 9,
            "animals_in_milk": 1,
        });
        manager.post("/v1/milk-records", &body).expect(201);
    }
    let count =
        |query: &str| manager.get(&format!("/v1/milk-records?{query}")).expect(200).items().len();
    assert_eq!(count("from=2026-03-02"), 2);
    assert_eq!(count("to=2026-03-01"), 1);
    assert_eq!(count(&format!("farm_id={}", w.a.id("farm"))), 2);
    assert_eq!(count(&format!("farm_id={}&from=2026-03-02&session=day", w.a.id("farm"))), 1);
    assert_eq!(count("session=evening"), 0);
    let refused = manager.get("/v1/milk-records?litres=9&limit=0&from=x").expect(422);
    let codes: Vec<String> = refused.errors().into_iter().map(|(p, _)| p).collect();
    assert_eq!(codes, ["/litres", "/limit", "/from"]);
    // A day of an instant is the co-operative's: 22:00 UTC on the 4th is the 5th there.
    let visit = json!({
        "farm_id": w.a.id("farm"), "officer_id": w.a.id("officer"),
        "started_at": "2026-03-04T22:00:00Z",
    });
    manager.post("/v1/visits", &visit).expect(201);
    let visits =
        |query: &str| manager.get(&format!("/v1/visits?{query}")).expect(200).items().len();
    assert_eq!((visits("from=2026-03-05&to=2026-03-05"), visits("to=2026-03-04")), (1, 0));
    let names = manager.get("/v1/members?q=asha").expect(200).items().len();
    assert_eq!((names, manager.get("/v1/members?q=%25").expect(200).items().len()), (2, 0));
}

fn fodder_start_changes_only_with_a_reason(w: World) {
    let manager = w.sign_in("manager");
    let path = format!("/v1/farms/{}", w.a.id("farm"));
    let change = json!({ "fodder_started_on": "2025-07-01" });
    let refused = manager.patch(&path, "\"1\"", &change).expect(422);
    assert_eq!(refused.errors(), [("/change_reason".to_owned(), "required".to_owned())]);
    let change = json!({ "fodder_started_on": "2025-07-01", "change_reason": "wrong month" });
    manager.patch(&path, "\"1\"", &change).expect(200);
    let history = manager.get(&format!("{path}/history")).expect(200).items();
    assert_eq!(history[1]["reason"], "wrong month");
    assert_eq!(history[0]["record"]["fodder_started_on"], "2025-06-10");
}

fn a_record_in_use_is_not_withdrawn(w: World) {
    let manager = w.sign_in("manager");
    let refused = manager.delete(&format!("/v1/farms/{}", w.a.id("farm")), "\"1\"").expect(409);
    assert_eq!(refused.json()["conflict"], "in_use");
    manager.get(&format!("/v1/farms/{}", w.a.id("farm"))).expect(200);
}

fn batch_shows_its_stage_and_cautions(w: World) {
    let manager = w.sign_in("manager");
    let path = format!("/v1/batches/{}", w.a.id("batch"));
    let batch = manager.get(&path).expect(200);
    assert_eq!(batch.json()["stage"], "incubating");
    assert_eq!(
        (&batch.json()["age_days"], &batch.json()["harvest_on"]),
        (&json!(10), &json!("2026-03-18"))
    );
    let event = |event: &str, at: &str, more: Json| {
        let mut body = json!({ "batch_id": w.a.id("batch"), "event": event, "at": at });
        for (name, value) in more.as_object().expect("object") {
            body[name] = value.clone();
        }
        manager.post("/v1/batch-events", &body)
    };
    event("spread", "2026-03-12T06:00:00Z", json!({ "trays": 2 })).expect(201);
    let changed = manager.get(&path).expect(200);
    assert_eq!(changed.json()["stage"], "overdue");
    assert_ne!(changed.header("etag"), batch.header("etag"), "what is shown has changed");
    assert_eq!(changed.json()["version"], 1);
    event("discarded", "2026-03-18T06:00:00Z", json!({ "trays": 1, "cause": "mould" })).expect(201);
    let moulded = manager.get(&path).expect(200).json();
    assert!(moulded["cautions"][0].as_str().is_some_and(|c| c.starts_with("do not feed")));
    // Fed out all the same only with a reason.
    let fed = json!({ "kg": 10 });
    let refused = event("fed_out", "2026-03-18T07:00:00Z", fed).expect(422);
    assert_eq!(refused.errors(), [("/reason".to_owned(), "mould".to_owned())]);
    let fed = json!({ "kg": 10, "reason": "only the clean tray" });
    event("fed_out", "2026-03-18T07:00:00Z", fed).expect(201);
    event("harvested", "2026-03-18T07:00:00Z", json!({ "trays": 1, "kg": 300 })).expect(201);
    let done = manager.get(&path).expect(200).json();
    assert_eq!((&done["stage"], &done["is_yield_impossible"]), (&json!("finished"), &json!(true)));
}
