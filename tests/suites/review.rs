//! The review list through the interface: each rule once, on records made for it.

use acceptance::feeding::{Place, add_all, bought, day, place, ration, regular_but};
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_domain::Kind;
use uuid::Uuid;

both!(
    contradictions_are_listed_and_go_when_corrected,
    an_accepted_finding_returns_when_its_figures_change,
    figures_that_look_made_up_are_listed_and_honest_ones_are_not,
    stock_below_zero_in_between_is_found,
    the_list_is_for_managers_and_the_officers_of_the_area,
    purchases_of_feed_that_look_wrong_are_listed
);

pub(crate) fn items(w: &World, query: &str) -> Vec<Json> {
    w.make_figures();
    w.sign_in("manager").get(&format!("/v1/review{query}")).expect(200).items()
}

fn rules(w: &World) -> Vec<String> {
    let mut all: Vec<String> =
        items(w, "").iter().filter_map(|f| f["rule"].as_str().map(str::to_owned)).collect();
    all.sort();
    all.dedup();
    all
}

fn one(w: &World, rule: &str) -> Json {
    let mut all = items(w, &format!("?rule={rule}"));
    assert_eq!(all.len(), 1, "{rule}: {all:?}");
    all.remove(0)
}

fn batch(w: &World, lot: &str, events: &[(&str, &str, Json)]) -> Uuid {
    let body = json!({ "shed_id": w.a.id("shed"), "animal_group_id": w.a.id("cows"),
        "seed_lot_id": w.a.id(lot), "crop": "barley" });
    let batch = w.make(&w.a, Kind::Batch, body);
    for (event, at, more) in events {
        let mut body = json!({ "batch_id": batch, "event": event, "at": at });
        if let (Json::Object(body), Json::Object(more)) = (&mut body, more.clone()) {
            body.extend(more);
        }
        w.make(&w.a, Kind::BatchEvent, body);
    }
    batch
}

/// Records that leave nothing to say of the fixture: its seed was handed out, and both farms record.
fn quiet(w: &World) {
    for (lot, farm) in [("lot", "farm"), ("other_lot", "farm"), ("lot", "other_farm")] {
        let buy = json!({ "seed_lot_id": w.a.id(lot), "date": "2025-12-01", "kg": 1_000,
            "price": 1, "feed_grade": true, "untreated": true });
        w.make(&w.a, Kind::SeedPurchase, buy);
        let given = json!({ "seed_lot_id": w.a.id(lot), "farm_id": w.a.id(farm),
            "date": "2025-12-02", "kg": 400, "payment": "paid" });
        w.make(&w.a, Kind::SeedIssue, given);
    }
    for farm in ["farm", "other_farm"] {
        let cost = json!({ "farm_id": w.a.id(farm), "date": "2026-03-15", "category": "labour",
            "amount": 10 });
        w.make(&w.a, Kind::OtherCost, cost);
    }
    assert_eq!(rules(w), Vec::<String>::new(), "{:?}", items(w, ""));
}

/// Two batches, a herd and a shed that contradict themselves; gives the first of the batches.
pub(crate) fn contradict(w: &World) -> Uuid {
    let hold = json!({ "seed_lot_id": w.a.id("other_lot"), "held_from": "2026-02-01",
        "reason": "musty" });
    w.make(&w.a, Kind::LotHold, hold);
    let good = batch(
        w,
        "other_lot",
        &[
            ("soaked", "2026-03-01T05:00:00Z", json!({ "kg": 8 })),
            ("spread", "2026-03-03T05:00:00Z", json!({ "trays": 4 })),
            ("harvested", "2026-03-09T05:00:00Z", json!({ "trays": 5, "kg": 90 })),
            (
                "fed_out",
                "2026-03-09T06:00:00Z",
                json!({ "kg": 100, "mould_seen": true,
            "reason": "nothing else to feed" }),
            ),
        ],
    );
    batch(
        w,
        "lot",
        &[
            ("soaked", "2026-03-04T05:00:00Z", json!({ "kg": 8 })),
            ("spread", "2026-03-03T05:00:00Z", json!({ "trays": 50 })),
            ("harvested", "2026-03-12T05:00:00Z", json!({ "trays": 50, "kg": 9 })),
            ("fed_out", "2026-03-14T05:00:00Z", json!({ "kg": 9, "reason": "left too long" })),
        ],
    );
    for (date, reason, head) in
        [("2026-01-05", "counted", 10), ("2026-02-01", "born", 1), ("2026-03-01", "counted", 15)]
    {
        let body = json!({ "animal_group_id": w.a.id("cows"), "date": date, "reason": reason,
            "head": head });
        w.make(&w.a, Kind::HeadCount, body);
    }
    good
}

fn contradictions_are_listed_and_go_when_corrected(w: World) {
    quiet(&w);
    let good = contradict(&w);
    assert_eq!(
        rules(&w),
        [
            "events_out_of_order",
            "fed_over_age",
            "fed_with_mould",
            "head_jump",
            "held_lot_soaked",
            "more_fed_than_harvested",
            "more_trays_out_than_spread",
            "shed_over_full",
            "yield_impossible",
            "yield_unlikely",
        ]
    );
    // Each with its farm, figures, records with versions, problem and fix.
    let trays = one(&w, "more_trays_out_than_spread");
    assert_eq!((&trays["farm"], &trays["figures"]["trays_harvested"]), (&json!("F1"), &json!(5)));
    assert_eq!(trays["records"], json!([{ "kind": "batch", "id": good, "version": 1 }]));
    assert_eq!(trays["since"], "2026-03-09");
    let shed = one(&w, "shed_over_full");
    assert_eq!(
        (&shed["figures"]["trays"], &shed["figures"]["tray_places"]),
        (&json!(54), &json!(40))
    );
    assert_eq!(one(&w, "head_jump")["figures"], json!({ "counted": 15, "expected": 11 }));
    assert_eq!(one(&w, "held_lot_soaked")["figures"]["held_from"], "2026-02-01");
    let late = one(&w, "fed_over_age");
    assert_eq!(late["figures"]["reason"], "left too long");
    assert_eq!(
        (&late["figures"]["due_on"], &late["figures"]["last_fed_on"]),
        (&json!("2026-03-12"), &json!("2026-03-14"))
    );
    for finding in items(&w, "") {
        for member in ["problem", "fix", "evidence", "finding"] {
            let text = finding[member].as_str().unwrap_or_default();
            let fits = member == "problem" || text.len() <= 120;
            assert!(!text.is_empty() && fits, "{member}: {finding}");
        }
        let record = &finding["records"][0];
        assert!(record["version"].as_i64().is_some(), "{finding}");
    }
    // The records put right, the findings go.
    let manager = w.sign_in("manager");
    let path = format!("/v1/batch-events?batch_id={good}");
    for event in manager.get(&path).expect(200).items() {
        let one = format!("/v1/batch-events/{}", event["id"].as_str().expect("id"));
        match event["event"].as_str() {
            Some("harvested") => {
                manager.patch(&one, "\"1\"", &json!({ "trays": 4, "kg": 46 })).expect(200);
            }
            Some("fed_out") => {
                manager.patch(&one, "\"1\"", &json!({ "kg": 46, "mould_seen": false })).expect(200);
            }
            _ => {}
        }
    }
    let left = rules(&w);
    for gone in [
        "more_trays_out_than_spread",
        "more_fed_than_harvested",
        "yield_impossible",
        "fed_with_mould",
    ] {
        assert!(!left.iter().any(|r| r == gone), "{gone}");
    }
    let csv = manager.send("GET", "/v1/review", &[("accept", "text/csv")], None).expect(200);
    assert!(csv.text.starts_with("since,rule,farm,member_name,problem,"), "{}", csv.text);
}

fn an_accepted_finding_returns_when_its_figures_change(w: World) {
    quiet(&w);
    let grown = batch(
        &w,
        "lot",
        &[
            ("soaked", "2026-03-01T05:00:00Z", json!({ "kg": 8 })),
            ("spread", "2026-03-03T05:00:00Z", json!({ "trays": 4 })),
            ("harvested", "2026-03-09T05:00:00Z", json!({ "trays": 4, "kg": 100 })),
        ],
    );
    let found = one(&w, "yield_impossible");
    let accept = json!({ "farm_id": found["farm_id"], "rule": found["rule"],
        "finding": found["finding"], "evidence": found["evidence"], "accepted_on": "2026-03-20",
        "reason": "weighed dripping wet" });
    let officer = w.sign_in("officer");
    officer.post("/v1/review-acceptances", &accept).expect(201);
    assert_eq!(items(&w, "?rule=yield_impossible"), Vec::<Json>::new());
    let accepted = items(&w, "?accepted=true");
    assert_eq!(
        (accepted.len(), &accepted[0]["accepted_because"]),
        (1, &json!("weighed dripping wet"))
    );
    let manager = w.sign_in("manager");
    let path = format!("/v1/batch-events?batch_id={grown}&event=harvested");
    let event = manager.get(&path).expect(200).items().remove(0);
    let path = format!("/v1/batch-events/{}", event["id"].as_str().expect("id"));
    manager.patch(&path, "\"1\"", &json!({ "kg": 101 })).expect(200);
    assert_eq!(one(&w, "yield_impossible")["figures"]["harvested_kg"], json!(101));
    assert_eq!(items(&w, "?accepted=true"), Vec::<Json>::new());
}

/// Milk that was copied, guessed, and slipped by a digit, beside an honest herd's: the groups of
/// these, and the day of the slip.
pub(crate) fn make_up(w: &World) -> ([Uuid; 3], String) {
    let days: Vec<String> = (0..50_u64)
        .map(|i| {
            let first = "2026-01-25".parse().expect("a day");
            traybook_domain::time::plus_days(first, i).to_string()
        })
        .collect();
    let noise = |i: usize| (i * 7_919 + 13) % 101;
    let mut rows = Vec::new();
    let mut milk = |group: Uuid, i: usize, litres: f64, animals: i64| {
        rows.push((
            Kind::MilkRecord,
            json!({ "animal_group_id": group, "date": days[i],
            "session": "day", "litres": litres, "animals_in_milk": animals }),
        ));
    };
    let group = |code: &str, farm: &str, class: &str| {
        let body = json!({ "code": code, "farm_id": w.a.id(farm), "animal_class": class });
        w.make(&w.a, Kind::AnimalGroup, body)
    };
    let (copied, whole) =
        (group("copied", "farm", "dairy_cows"), group("whole", "farm", "dairy_cows"));
    let (slip, guessed) =
        (group("slip", "farm", "dairy_cows"), group("guessed", "farm", "dairy_cows"));
    for i in 0..50 {
        // Copied: decimals, then one value for fourteen days. Honest: whole litres of one cow.
        let real = 20.0 + noise(i) as f64 / 10.0;
        milk(copied, i, if i < 36 { real } else { 21.7 }, 2);
        milk(whole, i, 8.0 + (noise(i) % 2) as f64, 1);
        milk(slip, i, if i == 25 { 202.0 } else { real }, 3);
        milk(
            guessed,
            i,
            if i < 20 { 200.0 + noise(i) as f64 } else { 200.0 + (10 * (noise(i) % 9)) as f64 },
            20,
        );
    }
    add_all(w, rows);
    ([copied, guessed, slip], days[25].clone())
}

fn figures_that_look_made_up_are_listed_and_honest_ones_are_not(w: World) {
    quiet(&w);
    let ([copied, guessed, slip], day_of_slip) = make_up(&w);
    let repeated = one(&w, "repeated_values");
    assert_eq!(
        repeated["records"][0],
        json!({ "kind": "animal_group", "id": copied, "version": 1 })
    );
    assert_eq!(repeated["figures"]["amount"], "21.7 litres");
    assert!(repeated["problem"].as_str().is_some_and(|p| p.contains("14 records")), "{repeated}");
    let jump = one(&w, "unit_slip");
    assert_eq!((&jump["records"][0]["id"], &jump["since"]), (&json!(slip), &json!(day_of_slip)));
    let rounded = one(&w, "rounded_values");
    assert_eq!(rounded["records"][0]["id"], json!(guessed));
    // A farm that says nothing more is asked about after the guide's fourteen days; not in a pause.
    w.clock.set(traybook_domain::time::parse_instant("2026-04-05T09:00:00Z").expect("instant"));
    let silent = items(&w, "?rule=silent_farm");
    assert_eq!(silent.len(), 2, "{silent:?}");
    let pause = json!({ "farm_id": w.a.id("farm"), "first_day": "2026-04-01" });
    w.sign_in("manager").post("/v1/growing-pauses", &pause).expect(201);
    assert_eq!(one(&w, "silent_farm")["farm"], "F2");
}

fn stock_below_zero_in_between_is_found(w: World) {
    // The fixture soaks 4 kg on 10 March that nobody handed out.
    let found = one(&w, "farm_stock_below_zero");
    assert_eq!(
        (&found["figures"]["lowest_kg"], &found["since"]),
        (&json!(-4), &json!("2026-03-10"))
    );
    let manager = w.sign_in("manager");
    // Handed out two days later: in order today, below zero in between; and the store never had it.
    let given = json!({ "seed_lot_id": w.a.id("lot"), "farm_id": w.a.id("farm"),
        "date": "2026-03-12", "kg": 10, "payment": "paid" });
    let given = manager.post("/v1/seed-issues", &given).expect(201).json();
    let found = one(&w, "farm_stock_below_zero");
    assert_eq!(
        (&found["figures"]["lowest_kg"], &found["figures"]["stock_kg"]),
        (&json!(-4), &json!(6))
    );
    let store = one(&w, "store_stock_below_zero");
    assert_eq!((&store["farm_id"], &store["figures"]["lowest_kg"]), (&Json::Null, &json!(-10)));
    // Handed out on the day of the soak: nothing to say, whatever the hour of entry.
    let path = format!("/v1/seed-issues/{}", given["id"].as_str().expect("id"));
    manager.patch(&path, "\"1\"", &json!({ "date": "2026-03-10" })).expect(200);
    assert_eq!(items(&w, "?rule=farm_stock_below_zero"), Vec::<Json>::new());
    // Bought long before the window: it counts as opening stock.
    let buy = json!({ "seed_lot_id": w.a.id("lot"), "date": "2025-06-01", "kg": 100, "price": 1,
        "feed_grade": true, "untreated": true });
    manager.post("/v1/seed-purchases", &buy).expect(201);
    assert_eq!(items(&w, "?rule=store_stock_below_zero"), Vec::<Json>::new());
}

fn the_list_is_for_managers_and_the_officers_of_the_area(w: World) {
    // Both farms fall silent; the store's stock is below zero.
    let given = json!({ "seed_lot_id": w.a.id("lot"), "farm_id": w.a.id("farm"),
        "date": "2026-03-10", "kg": 10, "payment": "paid" });
    w.make(&w.a, Kind::SeedIssue, given);
    w.clock.set(traybook_domain::time::parse_instant("2026-04-20T09:00:00Z").expect("instant"));
    w.make_figures();
    let seen = |who: &str| -> Vec<(String, String)> {
        let text = |f: &Json, m: &str| f[m].as_str().unwrap_or("-").to_owned();
        let all = w.sign_in(who).get("/v1/review").expect(200).items();
        let mut all: Vec<(String, String)> =
            all.iter().map(|f| (text(f, "rule"), text(f, "farm"))).collect();
        all.sort();
        all
    };
    let pair = |rule: &str, farm: &str| (rule.to_owned(), farm.to_owned());
    assert_eq!(
        seen("manager"),
        [pair("silent_farm", "F1"), pair("silent_farm", "F2"), pair("store_stock_below_zero", "-")]
    );
    assert_eq!(seen("officer"), [pair("silent_farm", "F1")]);
    for who in ["member", "operator", "programme_reader"] {
        w.sign_in(who).get("/v1/review").expect(403);
    }
    let officer = w.sign_in("officer");
    officer.get(&format!("/v1/review?farm_id={}", w.a.id("farm"))).expect(200);
    officer.get(&format!("/v1/review?farm_id={}", w.a.id("other_farm"))).expect(404);
    for bad in ["farm_id=x", "rule=none_such", "accepted=maybe", "colour=red"] {
        officer.get(&format!("/v1/review?{bad}")).expect(422);
    }
    // Another co-operative's manager sees nothing of it.
    let other = w.sign_in_as("manager.b@coop.example").get("/v1/review").expect(200);
    assert!(!other.text.contains(&w.a.id("farm").to_string()));
}

/// Four farms, each with one slip in February 2026: a price of a tenth, a digit too many, a purchase
/// that is not written down, more left than there was. The farms in this order; the first also
/// stated a ration half as large again as what it bought.
pub(crate) fn misfeed(w: &World) -> [Place; 4] {
    let farms = ["Y1", "Y2", "Y3", "Y4"].map(|code| place(w, code));
    let slips = ["2026-02-15", "2026-02-15", "2026-02-15", "2026-02-16"];
    for (farm, slip) in farms.iter().zip(slips) {
        let rows = regular_but(w, *farm, &[slip]);
        add_all(w, rows);
    }
    let feed = w.a.id("feed");
    let on = day("2026-02-15");
    let left = json!({ "farm_id": farms[3].farm, "feed_id": feed, "date": "2026-02-20", "kg": 95 });
    let rows = vec![
        bought(farms[0].farm, feed, on, 80, 6_800),
        bought(farms[1].farm, feed, on, 800, 680_000),
        (Kind::FeedCount, left),
        // Bought before the start: 3.5 kg a head and day.
        ration(farms[0].cows, feed, 5.25),
    ];
    add_all(w, rows);
    farms
}

/// Each rule about feed once, with its figures; corrected, it goes.
fn purchases_of_feed_that_look_wrong_are_listed(w: World) {
    let farms = misfeed(&w);
    let cases = [
        ("feed_price", 0, "2026-02-15", json!({ "kg": 80, "per_kg": 85, "median_per_kg": 850 })),
        (
            "feed_kg",
            1,
            "2026-02-15",
            json!({ "kg": 800, "kg_per_animal_day": 20, "usual_kg_per_animal_day": 2 }),
        ),
        (
            "feed_gap",
            2,
            "2026-02-05",
            json!({ "days": 20, "usual_days": 10, "uncounted_from": "2026-02-15",
            "uncounted_until": "2026-02-24" }),
        ),
        ("feed_stock", 3, "2026-02-20", json!({ "left_kg": 95, "kg": 80 })),
    ];
    for (rule, farm, on, figures) in cases {
        let found = one(&w, rule);
        assert_eq!(
            (&found["farm_id"], &found["subject"]),
            (&json!(farms[farm].farm), &json!("Dairy meal"))
        );
        assert_eq!(
            (&found["since"], &found["figures"]["date"]),
            (&json!(on), &json!(on)),
            "{rule}"
        );
        for (name, value) in figures.as_object().expect("figures") {
            assert_eq!(found["figures"][name], *value, "{rule} {name}: {found}");
        }
        let records = found["records"].as_array().expect("records");
        assert_eq!(records.is_empty(), rule == "feed_stock", "{rule} names its purchase: {found}");
        assert!(found["problem"].as_str().is_some_and(|p| p.contains("Dairy meal")), "{found}");
    }
    let found = one(&w, "ration_not_bought");
    assert_eq!(found["farm_id"], json!(farms[0].farm));
    assert_eq!(
        (&found["subject"], &found["figures"]["percent"]),
        (&json!("dairy_cows"), &json!(50))
    );
    let manager = w.sign_in("manager");
    let stated = manager.get("/v1/baseline-rations?limit=200").expect(200).items();
    let stated = stated.iter().find(|r| r["kg_per_animal_day"] == 5.25).expect("the ration");
    let path = format!("/v1/baseline-rations/{}", stated["id"].as_str().expect("an id"));
    manager.patch(&path, "\"1\"", &json!({ "kg_per_animal_day": 3.5 })).expect(200);
    let put_right = |kind: &str, farm: usize, on: &str, right: Json| {
        let path = format!("/v1/{kind}?farm_id={}&limit=200", farms[farm].farm);
        let all = manager.get(&path).expect(200).items();
        let wrong = all.iter().find(|r| r["date"] == on).expect("the record");
        let path = format!("/v1/{kind}/{}", wrong["id"].as_str().expect("an id"));
        manager.patch(&path, "\"1\"", &right).expect(200);
    };
    put_right("feed-purchases", 0, "2026-02-15", json!({ "cost": 68_000 }));
    put_right("feed-purchases", 1, "2026-02-15", json!({ "kg": 80, "cost": 68_000 }));
    put_right("feed-counts", 3, "2026-02-20", json!({ "kg": 30 }));
    add_all(&w, vec![bought(farms[2].farm, w.a.id("feed"), day("2026-02-15"), 80, 68_000)]);
    let left: Vec<Json> = items(&w, "")
        .into_iter()
        .filter(|f| {
            f["rule"].as_str().is_some_and(|r| r.starts_with("feed_") || r.starts_with("ration_"))
        })
        .collect();
    assert_eq!(left, Vec::<Json>::new());
}
