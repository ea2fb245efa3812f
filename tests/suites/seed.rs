//! The seed chain through the interface: holds, accounts, traces, suppliers, yields.

use acceptance::browser::Browser;
use acceptance::feeding::add_all;
use acceptance::{Client, World, both};
use serde_json::{Value as Json, json};
use traybook_domain::Kind;
use uuid::Uuid;

both!(
    a_held_lot_is_not_issued_from_the_day_of_the_hold,
    fodder_past_its_day_is_not_fed_without_a_reason,
    a_seed_account_adds_up_to_the_cent,
    a_debt_has_an_age_and_a_payment_goes_to_the_oldest,
    long_lists_stand_whole_in_their_files,
    a_lot_is_traced_to_the_groups_fed_and_a_batch_back_to_its_purchase,
    suppliers_are_compared_and_none_is_named_while_intervals_overlap,
    a_batch_shows_yield_and_germination_against_what_was_expected
);

fn issue(w: &World, lot: &str, date: &str) -> Json {
    json!({ "seed_lot_id": w.a.id(lot), "farm_id": w.a.id("farm"), "date": date, "kg": 10,
        "price": 10_000.55, "payment": "credit" })
}

fn a_held_lot_is_not_issued_from_the_day_of_the_hold(w: World) {
    let manager = w.sign_in("manager");
    let before = manager.post("/v1/seed-issues", &issue(&w, "lot", "2026-03-11")).expect(201);
    let hold = json!({ "seed_lot_id": w.a.id("lot"), "held_from": "2026-03-12",
        "reason": "smells musty" });
    let hold = w.sign_in("officer").post("/v1/lot-holds", &hold).expect(201).json();
    let refused = manager.post("/v1/seed-issues", &issue(&w, "lot", "2026-03-12")).expect(422);
    assert_eq!(refused.errors(), vec![("/seed_lot_id".to_owned(), "held".to_owned())]);
    assert!(refused.text.contains("smells musty"), "{}", refused.text);
    // What happened before the hold and comes late is taken, and can be corrected; not moved.
    manager.post("/v1/seed-issues", &issue(&w, "lot", "2026-03-10")).expect(201);
    let path = format!("/v1/seed-issues/{}", before.json()["id"].as_str().expect("id"));
    manager.patch(&path, "\"1\"", &json!({ "kg": 11 })).expect(200);
    let moved = manager.patch(&path, "\"2\"", &json!({ "date": "2026-03-13" })).expect(422);
    assert_eq!(moved.errors()[0].1, "held");
    manager.post("/v1/seed-issues", &issue(&w, "other_lot", "2026-03-13")).expect(201);
    // From the day of release on it is handed out again.
    let path = format!("/v1/lot-holds/{}", hold["id"].as_str().expect("id"));
    let release = json!({ "released_on": "2026-03-15", "finding": "only the outer bag was wet" });
    manager.patch(&path, "\"1\"", &release).expect(200);
    manager.post("/v1/seed-issues", &issue(&w, "lot", "2026-03-14")).expect(422);
    manager.post("/v1/seed-issues", &issue(&w, "lot", "2026-03-15")).expect(201);
}

fn event(client: &Client, batch: Uuid, what: &str, at: &str, more: Json) -> acceptance::Answer {
    let mut body = json!({ "batch_id": batch, "event": what, "at": at });
    if let (Json::Object(body), Json::Object(more)) = (&mut body, more) {
        body.extend(more);
    }
    client.post("/v1/batch-events", &body)
}

fn fodder_past_its_day_is_not_fed_without_a_reason(w: World) {
    let member = w.sign_in("member");
    let soaked = json!({ "shed_id": w.a.id("shed"), "animal_group_id": w.a.id("cows"),
        "seed_lot_id": w.a.id("lot"), "crop": "barley" });
    let batch = member.post("/v1/batches", &soaked).expect(201).json();
    let batch: Uuid = batch["id"].as_str().expect("id").parse().expect("uuid");
    event(&member, batch, "soaked", "2026-03-10T05:00:00Z", json!({ "kg": 4 })).expect(201);
    // Eight days for cows: the 18th, until midnight in Dar es Salaam, 21:00 UTC.
    let fed = |at: &str, more: Json| event(&member, batch, "fed_out", at, more);
    fed("2026-03-18T20:59:00Z", json!({ "kg": 5 })).expect(201);
    let refused = fed("2026-03-18T21:00:00Z", json!({ "kg": 5 })).expect(422);
    assert_eq!(refused.errors(), vec![("/reason".to_owned(), "over_age".to_owned())]);
    fed("2026-03-18T21:00:00Z", json!({ "kg": 5, "reason": "dry and sweet, looked at each tray" }))
        .expect(201);
    w.make_figures();
    let review = w.sign_in("manager").get("/v1/review?rule=fed_over_age").expect(200).items();
    assert_eq!(review.len(), 1, "{review:?}");
    assert_eq!(review[0]["figures"]["due_on"], "2026-03-18");
}

fn a_seed_account_adds_up_to_the_cent(w: World) {
    let manager = w.sign_in("manager");
    let farm = w.a.id("farm");
    let post = |path: &str, body: Json| manager.post(path, &body).expect(201).json();
    let give = |date: &str, price: Option<f64>, payment: &str| {
        let mut body = issue(&w, "lot", date);
        body["price"] = json!(price);
        body["payment"] = json!(payment);
        post("/v1/seed-issues", body)
    };
    let pay = |date: &str, amount: f64, by: &str| {
        let body = json!({ "farm_id": farm, "date": date, "amount": amount, "paid_by": by });
        post("/v1/seed-payments", body)
    };
    give("2026-01-10", Some(52_000.10), "credit");
    pay("2026-01-31", 20_000.05, "milk_check_off");
    give("2026-02-10", Some(9_999.99), "paid");
    give("2026-02-11", None, "credit");
    pay("2026-02-10", 0.20, "cash");
    give("2026-03-01", Some(48_000.35), "credit");
    let gone = give("2026-03-02", Some(1_000_000.0), "credit");
    let path = format!("/v1/seed-issues/{}", gone["id"].as_str().expect("id"));
    manager.delete(&path, "\"1\"").expect(204);
    // [ARITH] 52,000.10 − 20,000.05 = 32,000.05; − 0.20 = 31,999.85; + 48,000.35 = 80,000.20.
    let path = format!("/v1/seed-accounts/{farm}");
    let year = manager.get(&path).expect(200).json();
    let balances = |json: &Json| -> Vec<Json> {
        let lines = json["lines"].as_array().expect("lines");
        lines.iter().map(|l| l["balance"].clone()).collect()
    };
    assert_eq!(
        json!(balances(&year)),
        json!([52_000.10, 32_000.05, 32_000.05, 31_999.85, 31_999.85, 80_000.20])
    );
    let at_once = &year["lines"][2];
    assert_eq!(
        (&at_once["entry"], &at_once["price"], &at_once["change"]),
        (&json!("issue_paid_at_once"), &json!(9_999.99), &json!(0))
    );
    assert_eq!(year["lines"][4]["is_priced"], false);
    assert_eq!(
        (&year["issues_without_price"], &year["closing_balance"]),
        (&json!(1), &json!(80_000.20))
    );
    assert!(year["sentence"].as_str().is_some_and(|s| s.contains("no price")));
    let march = manager.get(&format!("{path}?from=2026-02-01&to=2026-02-28")).expect(200).json();
    assert_eq!(
        (&march["opening_balance"], &march["closing_balance"]),
        (&json!(32_000.05), &json!(31_999.85))
    );
    let csv = manager.send("GET", &path, &[("accept", "text/csv")], None).expect(200);
    assert_eq!(csv.header("content-type"), Some("text/csv; charset=utf-8"));
    assert!(csv.text.starts_with("date,entry,seed_lot,kg,price,"), "{}", csv.text);
    assert_eq!(csv.text.lines().count(), 7);
    // All farms; the member and the officer see their own, the others nothing.
    let all = manager.get("/v1/seed-accounts").expect(200).json();
    assert_eq!(
        (&all["balance"], all["items"].as_array().map(Vec::len)),
        (&json!(80_000.20), Some(2))
    );
    let own = w.sign_in("member").get("/v1/seed-accounts").expect(200).items();
    assert_eq!(own.len(), 1);
    assert_eq!((&own[0]["balance"], &own[0]["issued_kg"]), (&json!(80_000.20), &json!(40)));
    let other = format!("/v1/seed-accounts/{}", w.a.id("other_farm"));
    w.sign_in("member").get(&other).expect(404);
    w.sign_in("officer").get(&other).expect(404);
    w.sign_in("operator").get(&path).expect(403);
    w.sign_in("programme_reader").get(&path).expect(403);
    for bad in ["from=2026-02-30", "from=2026-03-01&to=2026-02-01", "from=2010-01-01"] {
        manager.get(&format!("{path}?{bad}")).expect(422);
    }
}

/// A batch of the lot, grown and fed; and one on the other farm.
fn grown(w: &World) -> (Uuid, Uuid) {
    let buy = json!({ "seed_lot_id": w.a.id("lot"), "date": "2026-01-05", "kg": 500,
        "price": 450_000, "transport": 20_000, "feed_grade": true, "untreated": true,
        "germination_percent": 92.5 });
    w.make(&w.a, Kind::SeedPurchase, buy);
    let mut batches = Vec::new();
    for (farm, shed, cows, kg) in
        [("farm", "shed", "cows", 50), ("other_farm", "other_shed", "other_cows", 30)]
    {
        let given = json!({ "seed_lot_id": w.a.id("lot"), "farm_id": w.a.id(farm),
            "date": "2026-02-01", "kg": kg, "payment": "paid" });
        w.make(&w.a, Kind::SeedIssue, given);
        let batch = json!({ "code": format!("T-{farm}"), "shed_id": w.a.id(shed),
            "animal_group_id": w.a.id(cows), "seed_lot_id": w.a.id("lot"), "crop": "barley" });
        let batch = w.make(&w.a, Kind::Batch, batch);
        let add = |event: &str, day: u32, more: Json| {
            let mut body = json!({ "batch_id": batch, "event": event,
                "at": format!("2026-03-{day:02}T05:00:00Z") });
            if let (Json::Object(body), Json::Object(more)) = (&mut body, more) {
                body.extend(more);
            }
            w.make(&w.a, Kind::BatchEvent, body);
        };
        add("soaked", 1, json!({ "kg": 8 }));
        add("spread", 3, json!({ "trays": 4, "germinated_percent": 88 }));
        add("discarded", 7, json!({ "trays": 1, "cause": "mould" }));
        add("harvested", 9, json!({ "trays": 3, "kg": 34.8 }));
        add("fed_out", 9, json!({ "kg": 30, "reason": "looked at each of the other trays" }));
        batches.push(batch);
    }
    (batches[0], batches[1])
}

/// By hand: 10,000, 5,000 and 2,000 handed out 100, 40 and 3 days ago; 6,000 paid. Of the oldest
/// 4,000 are still owed, so 4,000 are over 90 days old and 9,000 over 30; 11,000 in all.
fn a_debt_has_an_age_and_a_payment_goes_to_the_oldest(w: World) {
    w.clock.set(traybook_domain::time::parse_instant("2026-03-20T05:00:00Z").expect("an instant"));
    let manager = w.sign_in("manager");
    let own = |answer: &Json| {
        let items = answer["items"].as_array().cloned().unwrap_or_default();
        items.into_iter().find(|i| i["farm"] == "F1").expect("the farm")
    };
    let accounts = || manager.get("/v1/seed-accounts").expect(200).json();
    let farm = w.a.id("farm");
    for record in
        list(&manager, "/v1/seed-issues").into_iter().chain(list(&manager, "/v1/seed-payments"))
    {
        let kind = if record.get("kg").is_some() { "seed-issues" } else { "seed-payments" };
        let path = format!("/v1/{kind}/{}", record["id"].as_str().expect("an id"));
        let tag = format!("\"{}\"", record["version"]);
        manager.send("DELETE", &path, &[("if-match", &tag)], None).expect(204);
    }
    for (date, price) in [("2025-12-10", 10_000), ("2026-02-08", 5_000), ("2026-03-17", 2_000)] {
        let mut given = issue(&w, "other_lot", date);
        given["price"] = json!(price);
        w.make(&w.a, Kind::SeedIssue, given);
    }
    let paid = json!({ "farm_id": farm, "date": "2026-03-01", "amount": 6_000,
        "paid_by": "milk_check_off" });
    w.make(&w.a, Kind::SeedPayment, paid);
    let all = accounts();
    let owed = own(&all);
    let of = |name: &str| owed[name].as_f64().expect("a number");
    assert_eq!(
        (of("balance"), of("owed_over_30_days"), of("owed_over_90_days")),
        (11_000.0, 9_000.0, 4_000.0)
    );
    assert!(all["owed"].as_f64().expect("a number") >= 11_000.0);
    // More is paid than was ever handed out: nothing is owed, and nothing is old.
    let ahead = json!({ "farm_id": farm, "date": "2026-03-02", "amount": 20_000,
        "paid_by": "cash" });
    w.make(&w.a, Kind::SeedPayment, ahead);
    let owed = own(&accounts());
    assert_eq!((&owed["balance"], &owed["owed_over_30_days"]), (&json!(-9_000), &json!(0)));
    // The page lists who owes; an officer sees the own areas, a member nothing of others.
    let mut browser = Browser::sign_in(&w, "manager");
    let page = browser.get("/owed").expect(200).text;
    assert!(!page.contains(&format!("/account?farm={farm}")), "nothing is owed there: {page}");
    assert!(browser.get("/owed.csv").expect(200).text.starts_with("member_number,member,farm,"));
}

/// Of many members a page lists some and says how many more its file has; the most is owed first.
fn long_lists_stand_whole_in_their_files(w: World) {
    let farm = |n: usize| {
        let body = json!({ "code": format!("L{n:03}"), "member_id": w.a.id("member"),
            "area_id": w.a.id("sub_area") });
        (Kind::Farm, body)
    };
    let farms = add_all(&w, (0..103).map(farm).collect());
    let owed = |(n, farm): (usize, &Uuid)| {
        let mut given = issue(&w, "lot", "2026-03-10");
        (given["farm_id"], given["price"]) = (json!(farm), json!(90_000 + n));
        let other = json!({ "farm_id": farm, "date": "2026-03-10", "amount": 100,
            "reason": "transport of milk" });
        [(Kind::SeedIssue, given), (Kind::Deduction, other)]
    };
    add_all(&w, farms.iter().enumerate().flat_map(owed).collect());
    let mut browser = Browser::sign_in(&w, "manager");
    for (page, file) in [
        ("/owed", "/owed.csv"),
        ("/pay-run?from=2026-03-01&to=2026-03-15", "/pay-run.csv?from=2026-03-01&to=2026-03-15"),
    ] {
        let (text, all) = (browser.page(page), browser.page(file).lines().count() - 1);
        assert!(all >= 103, "{file} has {all}");
        assert_eq!(text.matches("/account?farm=").count(), 100, "{page}");
        let more = format!("And {} more: they are in the file (CSV).", all - 100);
        assert!(text.contains(&more), "{page}: {more}");
    }
    let first = browser.page("/owed");
    let at = first.find("/account?farm=").expect("a row");
    let most = farms.last().expect("a farm");
    assert!(first[at..].starts_with(&format!("/account?farm={most}")), "the most is owed first");
    let listed = first.find("10 March 2026").expect("the last day of an account");
    assert!(listed > at);
}

fn list(client: &Client, path: &str) -> Vec<Json> {
    client.get(&format!("{path}?limit=200")).expect(200).items()
}

fn a_lot_is_traced_to_the_groups_fed_and_a_batch_back_to_its_purchase(w: World) {
    let (own, other) = grown(&w);
    let manager = w.sign_in("manager");
    let path = format!("/v1/seed-lots/{}/trace", w.a.id("lot"));
    let whole = manager.get(&path).expect(200).json();
    let fed: Vec<&Json> = lines(&whole, "fed_out");
    assert_eq!(fed.len(), 2);
    assert_eq!((&fed[0]["kg"], &fed[0]["date"]), (&json!(30), &json!("2026-03-09")));
    assert!(fed.iter().any(|l| l["animal_group"] == "F1-cows" && l["farm"] == "F1"));
    let bought = lines(&whole, "bought");
    assert_eq!(
        (&bought[0]["germination_percent"], &bought[0]["supplier"]),
        (&json!(92.5), &json!("Seed store"))
    );
    assert_eq!(
        whole["spoilage"],
        json!({ "trays_spread": 8, "trays_discarded": 2, "discarded_percent": 25 })
    );
    // [ARITH] Store: 500 − 50 − 30. Farm: 50 − 8 − 4 (the fixture's batch).
    let stock: Vec<(&Json, &Json)> = whole["stock"]
        .as_array()
        .expect("stock")
        .iter()
        .map(|s| (&s["farm"], &s["stock_kg"]))
        .collect();
    assert!(stock.contains(&(&Json::Null, &json!(420))), "{stock:?}");
    assert!(
        stock.contains(&(&json!("F1"), &json!(38))) && stock.contains(&(&json!("F2"), &json!(22)))
    );
    let dates: Vec<&str> = whole["lines"]
        .as_array()
        .expect("lines")
        .iter()
        .filter_map(|l| l["date"].as_str())
        .collect();
    assert!(dates.is_sorted());
    // The member sees the own farm only, and nothing of the store.
    let member = w.sign_in("member");
    let seen = member.get(&path).expect(200).json();
    assert_eq!((lines(&seen, "fed_out").len(), lines(&seen, "bought").len()), (1, 0));
    assert_eq!(seen["shows_purchases"], false);
    assert!(!seen.to_string().contains("F2") && !seen.to_string().contains("450000"));
    w.sign_in("operator").get(&path).expect(403);
    w.sign_in("programme_reader").get(&path).expect(403);
    // Back from the batch.
    let hold =
        json!({ "seed_lot_id": w.a.id("lot"), "held_from": "2026-03-12", "reason": "mould" });
    manager.post("/v1/lot-holds", &hold).expect(201);
    let back = manager.get(&format!("/v1/batches/{own}/trace")).expect(200).json();
    assert_eq!(
        (&back["seed_lot"], &back["supplier"], &back["is_held"]),
        (&json!("L1"), &json!("Seed store"), &json!(true))
    );
    assert_eq!(back["batch"]["id"], json!(own));
    let what: Vec<&Json> =
        back["lines"].as_array().expect("lines").iter().map(|l| &l["what"]).collect();
    assert_eq!(
        json!(what),
        json!([
            "bought",
            "issued",
            "soaked",
            "spread",
            "discarded",
            "harvested",
            "fed_out",
            "held"
        ])
    );
    member.get(&format!("/v1/batches/{own}/trace")).expect(200);
    member.get(&format!("/v1/batches/{other}/trace")).expect(404);
    let csv = manager.send("GET", &path, &[("accept", "text/csv")], None).expect(200);
    assert!(csv.text.starts_with("date,what,farm,batch,animal_group,kg,"), "{}", csv.text);
    let unknown = format!("/v1/seed-lots/{}/trace", w.app.new_id().expect("id"));
    manager.get(&unknown).expect(404);
}

fn lines<'a>(trace: &'a Json, what: &str) -> Vec<&'a Json> {
    trace["lines"].as_array().expect("lines").iter().filter(|l| l["what"] == what).collect()
}

fn suppliers_are_compared_and_none_is_named_while_intervals_overlap(w: World) {
    let mut rows = Vec::new();
    for (name, price, germination, discarded) in
        [("Cheap seed", 800_000, 70, 2), ("Good seed", 960_000, 96, 0)]
    {
        let supplier = w.make(&w.a, Kind::Supplier, json!({ "name": name }));
        let lot =
            json!({ "code": name.replace(' ', "-"), "crop": "barley", "supplier_id": supplier });
        let lot = w.make(&w.a, Kind::SeedLot, lot);
        for (day, germination) in [(5, Some(germination)), (6, None)] {
            let buy = json!({ "seed_lot_id": lot, "date": format!("2026-01-{day:02}"), "kg": 1_000,
                "price": price, "transport": 40_000, "feed_grade": true, "untreated": true,
                "germination_percent": germination });
            w.make(&w.a, Kind::SeedPurchase, buy);
        }
        rows.push((lot, discarded));
    }
    let manager = w.sign_in("manager");
    let first = manager.get("/v1/supplier-comparison?from=2026-01-01").expect(200).json();
    let items = first["items"].as_array().expect("items");
    let cheap = &items[0];
    // [ARITH] (800,000 + 40,000) / 1,000 = 840; / 0.70 = 1,200. (960,000 + 40,000) / 960 = 1,041.67.
    assert_eq!(
        (&cheap["supplier"], &cheap["price_per_kg"], &cheap["price_per_kg_viable"]),
        (&json!("Cheap seed"), &json!(840), &json!(1_200))
    );
    assert_eq!((&cheap["kg"], &cheap["tested_kg"]), (&json!(2_000), &json!(1_000)));
    assert_eq!(items[2]["price_per_kg_viable"], json!(1_041.67));
    assert_eq!(cheap["spoilage_percent"], Json::Null);
    assert!(cheap["sentence"].as_str().is_some_and(|s| s.starts_with("cannot tell yet")));
    assert!(first["sentence"].as_str().is_some_and(|s| s.starts_with("cannot tell yet")));
    // Twelve batches of five trays each on three farms.
    let third = w.make(
        &w.a,
        Kind::Farm,
        json!({ "code": "F3", "member_id": w.a.id("member"),
        "area_id": w.a.id("sub_area") }),
    );
    let third = json!({ "code": "F3-S1", "farm_id": third, "tray_places": 40 });
    let third = w.make(&w.a, Kind::Shed, third);
    let sheds = [w.a.id("shed"), w.a.id("other_shed"), third];
    for (lot, discarded) in rows {
        for i in 0..12_usize {
            let batch = json!({ "shed_id": sheds[i % 3], "seed_lot_id": lot, "crop": "barley" });
            let batch = w.make(&w.a, Kind::Batch, batch);
            let at = |day: usize| format!("2026-02-{day:02}T05:00:00Z");
            let add = |event: &str, day: usize, amount: &str, n: i64| {
                let mut body = json!({ "batch_id": batch, "event": event, "at": at(day) });
                body[amount] = json!(n);
                if event == "discarded" {
                    body["cause"] = json!("other");
                }
                w.make(&w.a, Kind::BatchEvent, body);
            };
            add("soaked", 1 + i, "kg", 10);
            add("spread", 3 + i, "trays", 5);
            let bad = if i < 6 { discarded } else { 0 };
            if bad > 0 {
                add("discarded", 5 + i, "trays", bad);
            }
            add("harvested", 9 + i, "trays", 5 - bad);
        }
    }
    let next = manager.get("/v1/supplier-comparison?from=2026-01-01").expect(200).json();
    let items = next["items"].as_array().expect("items");
    assert_eq!((&items[0]["spoilage_percent"], &items[0]["batches"]), (&json!(20.0), &json!(12)));
    // [ARITH] 60 trays, fewer than ten farms, so φ = 0.05: design effect 1.2, 50 trays; Wilson of
    // 20 % of 50: 11.2 % to 33.0 % (Newcombe 1998, method 3), of 0 of 50: 0 to 7.1 %.
    assert_eq!(next["tray_correlation"], json!(0.05));
    assert_eq!(
        (&items[0]["spoilage_low"], &items[0]["spoilage_high"]),
        (&json!(11.2), &json!(33.0))
    );
    assert_eq!((&items[2]["spoilage_low"], &items[2]["spoilage_high"]), (&json!(0.0), &json!(7.1)));
    assert!(
        next["sentence"]
            .as_str()
            .is_some_and(|s| s.contains("Cheap seed") || s.contains("Good seed"))
    );
    for who in ["officer", "member", "operator", "programme_reader"] {
        w.sign_in(who).get("/v1/supplier-comparison").expect(403);
    }
}

fn a_batch_shows_yield_and_germination_against_what_was_expected(w: World) {
    let (own, _) = grown(&w);
    let batch = w.sign_in("member").get(&format!("/v1/batches/{own}")).expect(200).json();
    // [ARITH] 8 kg of seed × 6 = 48 kg expected; 34.8 / 48 = 72.5 %; dry matter in 8 × 0.88 = 7.04,
    // out 34.8 × 0.13 = 4.524, kept 64.3 %.
    let want = json!({ "expected_kg": 48, "yield_of_expected_percent": 72.5,
        "dry_matter_in_kg": 7.04, "dry_matter_out_kg": 4.524, "dry_matter_kept_percent": 64.3,
        "germinated_percent": 88, "tested_percent": 92.5 });
    for (name, value) in want.as_object().expect("members") {
        assert_eq!(&batch[name], value, "{name}");
    }
}
