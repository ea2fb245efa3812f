//! Statements a request: what a list costs does not grow with its lines.

use acceptance::{Client, World, both};
use serde_json::{Value as Json, json};
use traybook_domain::Kind;
use traybook_domain::limits::DAY_RECORDS_MAX;
use traybook_storage::statements;

both!(
    lists_cost_the_same_for_one_line_and_for_two_hundred,
    a_page_of_changes_costs_few_statements,
    a_record_costs_few_statements,
    a_day_takes_so_many_records_of_a_group,
);

/// Statements of a request that was made once before, so that sign-in and caches are done.
fn cost(ask: impl Fn()) -> u64 {
    ask();
    let before = statements();
    ask();
    statements() - before
}

fn list(client: &Client, path: &str) -> u64 {
    cost(|| drop(client.get(path).expect(200)))
}

/// Statements that one page of a list takes at most, signing in included.
const LIST_MAX: u64 = 6;
/// Statements that a page of changes takes at most.
const CHANGES_MAX: u64 = 20;
/// Statements that one milk record takes at most.
const RECORD_MAX: u64 = 10;

fn lists_cost_the_same_for_one_line_and_for_two_hundred(w: World) {
    let (manager, officer, member) =
        (w.sign_in("manager"), w.sign_in("officer"), w.sign_in("member"));
    for n in 0..200 {
        let batch = json!({ "shed_id": w.a.id("shed"), "crop": "barley", "seed_lot_id": w.a.id("lot"),
            "code": format!("S{n}") });
        let batch = w.make(&w.a, Kind::Batch, batch);
        let event = json!({ "batch_id": batch, "event": "soaked", "kg": 2,
            "at": "2026-03-10T06:00:00Z" });
        w.make(&w.a, Kind::BatchEvent, event);
    }
    let mut most = Vec::new();
    for kind in Kind::ALL {
        let path = format!("/v1/{}", kind.spec().path);
        for client in [&manager, &member] {
            if client.get(&path).status != 200 {
                continue;
            }
            let one = list(client, &format!("{path}?limit=1"));
            let all = list(client, &format!("{path}?limit=200"));
            // What hangs on the records is read at once, and not at all where there is nothing.
            assert!(all <= one + 1, "{path}: {one} for 1 and {all} for 200");
            most.push((all, path.clone()));
        }
    }
    most.sort();
    let (all, path) = most.last().expect("lists");
    assert!(*all <= LIST_MAX, "{path} costs {all}");
    let officers = list(&officer, "/v1/batches?limit=200");
    assert!(officers <= LIST_MAX + 1, "{officers}: an officer's areas are read, too");
}

fn a_page_of_changes_costs_few_statements(w: World) {
    let manager = w.sign_in("manager");
    for n in 0..120 {
        let body = json!({ "animal_group_id": w.a.id("cows"), "date": format!("2026-{:02}-{:02}", 1 + n / 60, 1 + n % 28),
            "session": if n % 60 < 28 { "morning" } else { "evening" }, "litres": 9, "animals_in_milk": 2 });
        w.make(&w.a, Kind::MilkRecord, body);
    }
    for client in [&manager, &w.sign_in("officer"), &w.sign_in("member")] {
        let (few, many) =
            (list(client, "/v1/changes?limit=2"), list(client, "/v1/changes?limit=1000"));
        assert!(many <= CHANGES_MAX, "{few} for 2 and {many} for 1000");
    }
}

fn milk(w: &World, n: usize) -> Json {
    json!({ "animal_group_id": w.a.id("cows"), "date": format!("2026-02-{:02}", n + 1),
        "session": "day", "litres": 9, "animals_in_milk": 2 })
}

fn a_record_costs_few_statements(w: World) {
    let member = w.sign_in("member");
    member.post("/v1/milk-records", &milk(&w, 0)).expect(201);
    let before = statements();
    member.post("/v1/milk-records", &milk(&w, 1)).expect(201);
    let cost = statements() - before;
    assert!(cost <= RECORD_MAX, "{cost} statements");
}

/// Each group's day is counted once a transaction, and takes a bounded number of records.
fn a_day_takes_so_many_records_of_a_group(w: World) {
    let (manager, member) = (w.sign_in("manager"), w.sign_in("member"));
    let sync = |records: Vec<Json>| {
        let mutations: Vec<Json> = records
            .into_iter()
            .map(|record| json!({ "kind": "milk_record", "operation": "create", "id": record["id"], "body": record }))
            .collect();
        member.post("/v1/sync", &json!({ "mutations": mutations })).expect(200).json()
    };
    let one_day = |_| {
        json!({ "id": w.app.new_id().expect("an id"), "date": "2026-02-01",
        "animal_group_id": w.a.id("cows"), "session": "day", "litres": 9, "animals_in_milk": 2 })
    };
    let many = DAY_RECORDS_MAX + 300;
    let before = statements();
    let answer = sync((0..many).map(one_day).collect());
    let cost = statements() - before;
    let results = answer["results"].as_array().expect("results");
    let taken = results.iter().filter(|r| r["status"] == "done").count();
    assert_eq!(taken, DAY_RECORDS_MAX, "{}", results[DAY_RECORDS_MAX]);
    assert!(results[DAY_RECORDS_MAX].to_string().contains("day_full"));
    assert!(cost < 5 * u64::try_from(many).expect("few"), "{cost} statements for {many} records");
    // What was taken is taken once more; the sums are those of one day.
    let path = format!("/v1/milk-records?animal_group_id={}&limit=200", w.a.id("cows"));
    assert_eq!(manager.get(&path).expect(200).items().len(), DAY_RECORDS_MAX);
    let sums = w.wait(w.app.rebuild_sums(&w.a.coop)).expect("sums");
    assert_eq!(sums.kept, sums.rebuilt);
    // An import of the same day is bounded, too.
    let more = one_day(0);
    manager.post("/v1/milk-records", &more).expect(422);
}
