//! One co-operative or person does not stop the others.

use acceptance::world::PASSWORD;
use acceptance::{Client, Db, World, both};
use serde_json::{Value as Json, json};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use traybook_app::AppError;
use traybook_app::records::import::Source;
use traybook_domain::limits::{COSTLY_AT_ONCE, FORM_CELLS_MAX};

both!(others_write_between_the_slices_of_a_queue, a_person_has_few_costly_things_under_way);

fn queue(w: &World, count: usize) -> Json {
    let first = chrono::NaiveDate::from_ymd_opt(2025, 1, 1).expect("a day");
    let create = |i: usize| {
        let day = chrono::Days::new(u64::try_from(i % 400).expect("few"));
        let session = ["morning", "midday", "evening"][i / 400 % 3];
        let body = json!({ "animal_group_id": w.a.id("cows"), "date": first + day, "litres": 5,
            "session": session, "animals_in_milk": 3 });
        let id = w.app.new_id().expect("id");
        json!({ "operation": "create", "kind": "milk_record", "id": id, "body": body })
    };
    json!({ "mutations": (0..count).map(create).collect::<Vec<_>>() })
}

fn supplier(n: usize) -> Json {
    json!({ "name": format!("Supplier {n}") })
}

fn others_write_between_the_slices_of_a_queue(w: World) {
    let (large, other) = (queue(&w, 4_000), w.sign_in_as("manager.b@coop.example"));
    let manager = w.sign_in("manager");
    let is_done = Arc::new(AtomicBool::new(false));
    let end = super::estimates::end_of_feed(&w);
    let (sender, done) = (manager.clone(), Arc::clone(&is_done));
    let sent = std::thread::spawn(move || {
        let answer = sender.post("/v1/sync", &large);
        done.store(true, Ordering::SeqCst);
        answer
    });
    // It has begun: a part of it is there.
    while manager.get(&format!("/v1/changes?after={end}")).expect(200).items().is_empty() {
        std::thread::sleep(std::time::Duration::from_millis(2));
    }
    other.post("/v1/suppliers", &supplier(1)).expect(201);
    assert!(!is_done.load(Ordering::SeqCst), "another co-operative writes meanwhile");
    manager.post("/v1/suppliers", &supplier(2)).expect(201);
    assert!(!is_done.load(Ordering::SeqCst), "and so does the same one");
    let answer = sent.join().expect("no panic").expect(200).json();
    let results = answer["results"].as_array().expect("results").clone();
    assert_eq!(results.len(), 4_000);
    for (at, result) in results.iter().enumerate() {
        assert_eq!((&result["index"], &result["status"]), (&json!(at), &json!("done")));
    }
    let sums = w.wait(w.app.rebuild_sums(&w.a.coop)).expect("rebuilt");
    assert_eq!(sums.kept, sums.rebuilt);
}

/// Writes of a co-operative wait for each other on PostgreSQL, each with a connection of the pool:
/// one co-operative has a part of it only.
#[test]
fn one_cooperative_does_not_take_all_connections() {
    let w = World::start(Db::postgres());
    let other = w.sign_in_as("manager.b@coop.example");
    let manager = w.sign_in("manager");
    let mut holder = w.db.connect();
    holder.exec("BEGIN", &[]).expect("begun");
    let sql =
        format!("UPDATE coop_counters SET revision = revision WHERE coop_id = {}", w.a.coop.number);
    holder.exec(&sql, &[]).expect("held");
    let waiting: Vec<_> = (0..16)
        .map(|n| {
            let manager: Client = manager.clone();
            std::thread::spawn(move || manager.post("/v1/suppliers", &supplier(n)).status)
        })
        .collect();
    std::thread::sleep(std::time::Duration::from_millis(500));
    for n in 0..4 {
        other.post("/v1/suppliers", &supplier(n)).expect(201);
    }
    manager.get("/v1/suppliers").expect(200);
    holder.exec("COMMIT", &[]).expect("let go");
    let answers: Vec<u16> = waiting.into_iter().map(|t| t.join().expect("no panic")).collect();
    assert!(answers.iter().all(|status| *status == 201), "{answers:?}");
}

fn a_person_has_few_costly_things_under_way(w: World) {
    let sign_in = |login: &str| {
        let body = json!({ "login": login, "password": PASSWORD });
        let answer = w.nobody.post("/v1/session", &body).expect(201).json();
        let token = answer["access_token"].as_str().expect("a token").to_owned();
        w.wait(w.app.who(&token)).expect("signed in").0
    };
    let (manager, other) = (sign_in("manager.a@coop.example"), sign_in("manager.b@coop.example"));
    // So many rows that the first two are surely under way when the third comes.
    let rows: String = (0..3_000).map(|n| format!("Area {n}\n")).collect();
    let files = Source::of_file("areas.csv", format!("name\n{rows}").as_bytes(), FORM_CELLS_MAX);
    let look = |actor| w.app.import(actor, files.clone(), true);
    let (a, b, c, d) = w
        .wait(async { tokio::join!(look(&manager), look(&manager), look(&manager), look(&other)) });
    assert_eq!(COSTLY_AT_ONCE, 2);
    assert!(a.is_ok() && b.is_ok() && d.is_ok(), "two of one person, and another's");
    assert!(matches!(c, Err(AppError::TooMany { retry_after_s: 1.. })), "{c:?}");
    w.wait(look(&manager)).expect("when they are done the next comes");
}
