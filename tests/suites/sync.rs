//! Devices: the queue of changes and the change feed.

use acceptance::browser::Browser;
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use std::collections::BTreeSet;
use traybook_app::Actor;
use traybook_domain::Kind;
use traybook_storage::copies::epoch::{self, Ended};

both!(
    queue_is_answered_change_by_change,
    queue_has_limits,
    queue_of_thousands_is_taken,
    feed_gives_each_record_once_and_withdrawals,
    feed_never_skips_a_late_commit,
    a_restore_sends_devices_to_the_start,
    a_restore_ends_sign_ins_and_codes,
    a_telephone_hears_of_a_restore
);

fn milk(w: &World, day: u32, litres: i64) -> Json {
    json!({ "animal_group_id": w.a.id("cows"), "date": format!("2026-02-{day:02}"),
        "session": "day", "litres": litres, "animals_in_milk": 3 })
}

fn new_id(w: &World) -> String {
    w.app.new_id().expect("id").to_string()
}

fn statuses(answer: &acceptance::Answer) -> Vec<String> {
    let results = answer.json()["results"].as_array().cloned().unwrap_or_default();
    results.iter().map(|r| r["status"].as_str().unwrap_or_default().to_owned()).collect()
}

fn queue_is_answered_change_by_change(w: World) {
    let manager = w.sign_in("manager");
    let (first, second) = (new_id(&w), new_id(&w));
    let queue = json!({ "mutations": [
        { "operation": "create", "kind": "milk_record", "id": first, "body": milk(&w, 1, 20) },
        { "operation": "create", "kind": "milk_record", "id": second, "body": milk(&w, 2, -1) },
        { "operation": "correct", "kind": "milk_record", "id": first, "version": 1,
          "body": { "litres": 21 }, "reason": "misread" },
        { "operation": "correct", "kind": "milk_record", "id": first, "version": 1,
          "body": { "litres": 99 } },
        { "operation": "withdraw", "kind": "milk_record", "id": second, "version": 1 },
        { "operation": "create", "kind": "spaceship", "id": second, "body": {} },
        { "operation": "correct", "kind": "milk_record", "id": first, "body": {} },
    ] });
    let answer = manager.post("/v1/sync", &queue).expect(200);
    let want = ["done", "refused", "done", "conflict", "refused", "refused", "refused"];
    assert_eq!(statuses(&answer), want);
    let results = answer.json()["results"].clone();
    assert_eq!(results[1]["errors"][0]["pointer"], "/litres");
    assert_eq!(
        (&results[3]["code"], &results[3]["current"]["litres"]),
        (&json!("stale"), &json!(21))
    );
    assert_eq!(results[4]["code"], "not_found");
    assert_eq!(
        (&results[5]["errors"][0]["pointer"], &results[6]["errors"][0]["pointer"]),
        (&json!("/kind"), &json!("/version"))
    );
    // The whole queue again: nothing is doubled, nothing is lost.
    let again = statuses(&manager.post("/v1/sync", &queue).expect(200));
    let want =
        ["already_done", "refused", "already_done", "conflict", "refused", "refused", "refused"];
    assert_eq!(again, want);
    let record = manager.get(&format!("/v1/milk-records/{first}")).expect(200).json();
    assert_eq!((&record["litres"], &record["version"]), (&json!(21), &json!(2)));
    // A member's queue reaches no other farm.
    let mut foreign = milk(&w, 3, 10);
    foreign["animal_group_id"] = json!(w.a.id("other_cows"));
    let queue = json!({ "mutations": [
        { "operation": "create", "kind": "milk_record", "id": new_id(&w), "body": foreign },
        { "operation": "create", "kind": "milk_record", "id": new_id(&w), "body": milk(&w, 3, 10) },
        { "operation": "create", "kind": "feed", "id": new_id(&w), "body": { "name": "x" } },
    ] });
    let answer = w.sign_in("member").post("/v1/sync", &queue).expect(200);
    assert_eq!(statuses(&answer), ["refused", "done", "refused"]);
    assert_eq!(answer.json()["results"][2]["code"], "forbidden");
    let sums = w.wait(w.app.rebuild_sums(&w.a.coop)).expect("rebuilt");
    assert_eq!(sums.kept, sums.rebuilt);
}

fn queue_has_limits(w: World) {
    let manager = w.sign_in("manager");
    let empty = manager.post("/v1/sync", &json!({ "mutations": [] })).expect(422);
    assert_eq!(empty.errors(), [("/mutations".to_owned(), "length".to_owned())]);
    let one = json!({ "operation": "withdraw", "kind": "feed", "id": new_id(&w), "version": 1 });
    let many = json!({ "mutations": vec![one; 5_001] });
    manager.post("/v1/sync", &many).expect(422);
    let odd = json!({ "mutations": [{ "operation": "destroy", "kind": "feed", "id": "x" }] });
    let refused = manager.post("/v1/sync", &odd).expect(422);
    assert!(refused.errors()[0].0.starts_with("/mutations/0"), "{:?}", refused.errors());
}

fn queue_of_thousands_is_taken(w: World) {
    let manager = w.sign_in("manager");
    let create = |i: usize| {
        let session = ["morning", "midday", "evening"][i % 3];
        let mut body = milk(&w, 1, 5);
        let first = chrono::NaiveDate::from_ymd_opt(2025, 1, 1).expect("a day");
        body["date"] = json!(first + chrono::Days::new(u64::try_from(i % 400).expect("few")));
        body["session"] = json!(session);
        json!({ "operation": "create", "kind": "milk_record", "id": new_id(&w), "body": body })
    };
    let queue = json!({ "mutations": (0..5_000).map(create).collect::<Vec<_>>() });
    let answer = manager.post("/v1/sync", &queue).expect(200);
    assert!(statuses(&answer).iter().all(|s| s == "done"));
    let sums = w.wait(w.app.rebuild_sums(&w.a.coop)).expect("rebuilt");
    assert_eq!(sums.kept, sums.rebuilt);
}

fn feed_gives_each_record_once_and_withdrawals(w: World) {
    let manager = w.sign_in("manager");
    let after = super::estimates::end_of_feed(&w);
    let made = manager.post("/v1/milk-records", &milk(&w, 1, 20)).expect(201).json();
    let path = format!("/v1/milk-records/{}", made["id"].as_str().expect("id"));
    manager.patch(&path, "\"1\"", &json!({ "litres": 22 })).expect(200);
    let other = manager.post("/v1/milk-records", &milk(&w, 2, 20)).expect(201).json();
    let gone = format!("/v1/milk-records/{}", other["id"].as_str().expect("id"));
    manager.delete(&gone, "\"1\"").expect(204);
    let feed = manager.get(&format!("/v1/changes?after={after}")).expect(200).json();
    let items = feed["items"].as_array().expect("items");
    assert_eq!(items.len(), 2, "each record once, as it is now");
    assert_eq!((&items[0]["version"], &items[0]["record"]["litres"]), (&json!(2), &json!(22)));
    assert_eq!((&items[1]["is_withdrawn"], &items[1]["record"]), (&json!(true), &Json::Null));
    let next = feed["next"].as_str().expect("cursor");
    let end = manager.get(&format!("/v1/changes?after={next}")).expect(200).json();
    assert_eq!(end["items"], json!([]));
    // Walking by small pages gives the same as walking by large ones.
    let walk = |limit: u32| {
        let (mut seen, mut cursor) = (BTreeSet::new(), None::<String>);
        loop {
            let query = cursor.map(|c| format!("&after={c}")).unwrap_or_default();
            let page = manager.get(&format!("/v1/changes?limit={limit}{query}")).expect(200).json();
            for item in page["items"].as_array().expect("items") {
                let is_new = seen.insert(item["id"].as_str().expect("id").to_owned());
                assert!(is_new, "each record once");
            }
            cursor = page["next"].as_str().map(str::to_owned);
            if page["has_more"] == false {
                return seen;
            }
        }
    };
    assert_eq!(walk(3), walk(1000));
    for wrong in ["x", "c1", "c-1.0", "c1.2.3"] {
        manager.get(&format!("/v1/changes?after={wrong}")).expect(400);
    }
    manager.get("/v1/changes?after=c999999.0").expect(410);
}

/// Writers that commit at the same time, some of them slow, and a reader that follows the feed all
/// the while: every record must come by exactly once.
fn feed_never_skips_a_late_commit(w: World) {
    let machine = Actor::machine(w.a.coop.clone());
    let cows = w.a.id("cows");
    let (writers, each) = (6_u64, 25_u64);
    let (seen, made) = w.wait(async {
        let mut tasks = Vec::new();
        for writer in 0..writers {
            let (app, machine) = (w.app.clone(), machine.clone());
            tasks.push(tokio::spawn(async move {
                let mut ids = Vec::new();
                for n in 0..each {
                    let id = app.new_id().expect("id");
                    let body = acceptance::world::object(json!({
                        "animal_group_id": cows, "date": format!("2026-01-{:02}", 1 + n),
                        "session": "day", "litres": 1 + writer, "animals_in_milk": 1,
                    }));
                    let slow = (writer + n) % 5 == 0;
                    app.change(&machine, move |txn| {
                        txn.create(Kind::MilkRecord, id, &body)?;
                        if slow {
                            // Holds its number while others go on, as a slow commit does.
                            std::thread::sleep(std::time::Duration::from_millis(3));
                        }
                        Ok(())
                    })
                    .await
                    .expect("written");
                    ids.push(id.to_string());
                }
                ids
            }));
        }
        let reader = {
            let (app, machine) = (w.app.clone(), machine.clone());
            tokio::spawn(async move {
                let mut seen: Vec<String> = Vec::new();
                let mut cursor = None;
                let want = usize::try_from(writers * each).expect("small");
                for _ in 0..20_000 {
                    let feed = app.changes(&machine, cursor.clone(), 7).await.expect("feed");
                    let milk = feed.items.iter().filter(|i| i.kind == "milk_record");
                    seen.extend(milk.map(|i| i.id.to_string()));
                    cursor = Some(feed.next);
                    if seen.len() >= want {
                        break;
                    }
                    tokio::task::yield_now().await;
                }
                seen
            })
        };
        let mut made = Vec::new();
        for task in tasks {
            made.extend(task.await.expect("writer"));
        }
        (reader.await.expect("reader"), made)
    });
    let unique: BTreeSet<&String> = seen.iter().collect();
    assert_eq!(unique.len(), seen.len(), "no record came twice");
    assert_eq!(unique, made.iter().collect::<BTreeSet<_>>(), "no record was skipped");
}

/// Another life of the records: what a restore of a backup begins.
fn restored(w: &World, epoch: i64, to: Option<i64>) -> Ended {
    w.wait(w.app.store.write(move |conn| epoch::begin(conn, epoch, to))).expect("begun")
}

fn a_restore_sends_devices_to_the_start(w: World) {
    let manager = w.sign_in("manager");
    let feed = manager.get("/v1/changes?limit=1000").expect(200).json();
    let cursor = feed["next"].as_str().expect("a cursor").to_owned();
    assert_eq!(feed["life"], json!({ "epoch": "0", "restored_to": null }));
    let work = manager.get("/v1/work-changes").expect(200).json();
    let work = work["next"].as_str().expect("a cursor").to_owned();
    assert_eq!(
        manager.get(&format!("/v1/work-changes?after={work}")).expect(200).json()["is_complete"],
        false
    );
    restored(&w, 0x9af, Some(w.app.now().0 - 60_000));
    let manager = w.sign_in("manager");
    // The feed says what to do: send again, and begin from the start.
    let problem = manager.get(&format!("/v1/changes?after={cursor}")).expect(410).json();
    assert_eq!(problem["code"], "restored");
    assert!(problem["detail"].as_str().is_some_and(|d| d.contains("send again")), "{problem}");
    let life = json!({ "epoch": "9af", "restored_to": "2026-03-20T08:59:00.000Z" });
    let again = manager.get("/v1/changes?limit=1000").expect(200).json();
    assert_eq!((&again["life"], &again["items"]), (&life, &feed["items"]));
    // The lists of work come whole.
    let all = manager.get(&format!("/v1/work-changes?after={work}")).expect(200).json();
    assert_eq!(all["is_complete"], true);
    // The cursor of this life goes on, and names it: the same numbers of another one do not.
    let next = again["next"].as_str().expect("a cursor");
    assert!(next.ends_with("-9af"), "{next}");
    manager.get(&format!("/v1/changes?after={next}")).expect(200);
    restored(&w, 0x9b0, None);
    let manager = w.sign_in("manager");
    manager.get(&format!("/v1/changes?after={next}")).expect(410);
    // Who only sends hears it too.
    let create = json!({ "operation": "create", "kind": "milk_record", "id": new_id(&w), "body": milk(&w, 1, 20) });
    let answer = manager.post("/v1/sync", &json!({ "mutations": [create] })).expect(200).json();
    assert_eq!(answer["life"], json!({ "epoch": "9b0", "restored_to": null }));
    for wrong in ["c1.2-", "c1.2-xyz", "c1.2--1", "c1-2.3"] {
        manager.get(&format!("/v1/changes?after={wrong}")).expect(400);
    }
}

fn a_restore_ends_sign_ins_and_codes(w: World) {
    let login =
        json!({ "login": "manager.a@coop.example", "password": acceptance::world::PASSWORD });
    let session = w.nobody.post("/v1/session", &login).expect(201).json();
    let token = session["access_token"].as_str().expect("a token");
    let operator = w.sign_in("operator");
    let officer = w.a.id("officer");
    let made =
        operator.send("POST", &format!("/v1/people/{officer}/invitations"), &[], None).expect(201);
    let code = made.json()["code"].as_str().expect("a code").to_owned();
    let ended = restored(&w, 7, None);
    assert!(ended.sessions >= 2 && ended.codes == 1, "{ended:?}");
    w.nobody.with_token(token).get("/v1/session").expect(401);
    let refresh = json!({ "refresh_token": session["refresh_token"] });
    w.nobody.post("/v1/session/refresh", &refresh).expect(401);
    let used = json!({ "code": code, "password": "a long enough one" });
    let refused = w.nobody.post("/v1/session/invitation", &used);
    assert!((400..500).contains(&refused.status), "{}", refused.status);
    w.sign_in("manager");
}

/// A page on a telephone sends again what the server took after the backup: its script asks for
/// the life of the records when the page is of another one than what was sent.
fn a_telephone_hears_of_a_restore(w: World) {
    let mut before = Browser::sign_in(&w, "officer");
    assert!(before.page("/phone").contains(r#"<meta name="epoch" content="0">"#));
    restored(&w, 0x9af, Some(w.app.now().0));
    let token = Browser::sign_in(&w, "officer").get("/phone/token").expect(200).json();
    assert_eq!((&token["epoch"], &token["restored_to"]), (&json!("9af"), &json!(w.app.now().0)));
}
