//! The savings report, its totals, closed months and adjustments.

use acceptance::{Client, World, both};
use serde_json::{Value as Json, json};
use traybook_app::{Actor, App};
use traybook_domain::{Kind, Month};

both!(
    report_follows_a_worked_example,
    fodder_fed_by_the_tray_has_no_cost_a_kg,
    report_says_what_is_missing,
    a_closed_month_stays_and_corrections_become_adjustments,
    months_close_in_order,
    everybody_reads_the_same_number,
    late_prices_and_leavers_reach_closed_months,
    a_kept_report_is_the_one_that_is_read_anew
);

/// A farm with four cows and a month in which everything was recorded.
///
/// [MADE] Worked by hand: 4 cows × 28 days = 112 animal-days in February 2026. Before fodder each
/// cow ate 3.5 kg dairy meal and 2 kg bran a day: 392 kg at 850 = 333,200 and 224 kg at 400 =
/// 89,600, together 422,800. Spent: dairy meal 140 kg for 119,000 (850 a kg), bran 50 kg for 20,000
/// (400 a kg); 56 kg seed of a lot of which 500 kg cost 450,000 + 20,000 transport, 940 a kg =
/// 52,640; labour 30,000; a shed of 1,200,000 over 60 months = 20,000. Saving 422,800 − 139,000 −
/// 52,640 − 30,000 − 20,000 = 181,160.
pub fn full_month(w: &World) {
    let a = &w.a;
    let add = |kind, body| w.make(a, kind, body);
    let id = |name: &str| json!(a.id(name));
    add(
        Kind::HeadCount,
        json!({ "animal_group_id": id("cows"), "date": "2026-01-01",
        "reason": "counted", "head": 4 }),
    );
    for (feed, kg) in [("feed", 3.5), ("bran", 2.0)] {
        add(
            Kind::BaselineRation,
            json!({ "animal_group_id": id("cows"), "feed_id": id(feed),
            "kg_per_animal_day": kg, "recorded_on": "2025-06-01" }),
        );
    }
    for (feed, kg, cost) in [("feed", 140, 119_000), ("bran", 50, 20_000)] {
        add(
            Kind::FeedPurchase,
            json!({ "farm_id": id("farm"), "feed_id": id(feed),
            "date": "2026-02-03", "kg": kg, "cost": cost }),
        );
    }
    add(
        Kind::SeedPurchase,
        json!({ "seed_lot_id": id("lot"), "date": "2026-01-05", "kg": 500,
        "price": 450_000, "transport": 20_000, "feed_grade": true, "untreated": true }),
    );
    let event = |event: &str, more: Json| {
        let mut body = json!({ "batch_id": id("batch"), "event": event,
            "at": "2026-02-10T06:00:00Z" });
        for (name, value) in more.as_object().expect("object") {
            body[name] = value.clone();
        }
        add(Kind::BatchEvent, body);
    };
    event("soaked", json!({ "kg": 56 }));
    event("spread", json!({ "trays": 28 }));
    event("discarded", json!({ "trays": 7, "cause": "dried_out" }));
    event("fed_out", json!({ "kg": 200 }));
    add(
        Kind::OtherCost,
        json!({ "farm_id": id("farm"), "date": "2026-02-28",
        "category": "labour", "amount": 30_000 }),
    );
    add(
        Kind::Asset,
        json!({ "farm_id": id("farm"), "name": "Shed",
        "in_service_on": "2025-06-10", "cost": 1_200_000, "life_months": 60 }),
    );
    add(
        Kind::MilkRecord,
        json!({ "animal_group_id": id("cows"), "date": "2026-02-05",
        "session": "day", "litres": 41.5, "animals_in_milk": 4 }),
    );
}

fn report(client: &Client, month: &str) -> Json {
    client.get(&format!("/v1/reports/savings?month={month}")).expect(200).json()
}

fn farm<'a>(report: &'a Json, code: &str) -> &'a Json {
    let farms = report["farms"].as_array().expect("farms");
    farms.iter().find(|f| f["farm"] == code).expect("the farm")
}

/// A farm with one cow, a soak of 10 kg at 940 a kg, labour of 600 and 50 kg fed in February 2026.
fn weighed_farm(w: &World) {
    let place = json!({ "code": "W1", "member_id": w.a.id("member"), "area_id": w.a.id("sub_area"),
        "fodder_started_on": "2025-11-01" });
    let farm = w.make(&w.a, Kind::Farm, place);
    let cows = json!({ "code": "W1-cows", "farm_id": farm, "animal_class": "dairy_cows" });
    let cows = w.make(&w.a, Kind::AnimalGroup, cows);
    let shed = json!({ "code": "W1-S", "farm_id": farm, "tray_places": 12 });
    let shed = w.make(&w.a, Kind::Shed, shed);
    let batch = json!({ "shed_id": shed, "crop": "barley", "seed_lot_id": w.a.id("lot") });
    let batch = w.make(&w.a, Kind::Batch, batch);
    let event = |event: &str, day: u8, more: (&str, i64)| {
        let at = format!("2026-02-{day:02}T06:00:00Z");
        json!({ "batch_id": batch, "event": event, "at": at, more.0: more.1 })
    };
    for (kind, body) in [
        (
            Kind::HeadCount,
            json!({ "animal_group_id": cows, "date": "2025-06-01", "reason": "counted", "head": 1 }),
        ),
        (
            Kind::BaselineRation,
            json!({ "animal_group_id": cows, "feed_id": w.a.id("bran"), "kg_per_animal_day": 2,
                "recorded_on": "2025-06-01" }),
        ),
        (
            Kind::FeedPurchase,
            json!({ "farm_id": farm, "feed_id": w.a.id("bran"), "date": "2026-02-03", "kg": 10,
                "cost": 4_000 }),
        ),
        (
            Kind::OtherCost,
            json!({ "farm_id": farm, "date": "2026-02-28", "category": "labour", "amount": 600 }),
        ),
        (Kind::BatchEvent, event("soaked", 10, ("kg", 10))),
        (Kind::BatchEvent, event("spread", 11, ("trays", 5))),
        (Kind::BatchEvent, event("fed_out", 18, ("kg", 50))),
    ] {
        w.make(&w.a, kind, body);
    }
}

/// Fodder that was fed by the tray has a cost and no weight: what a kg cost is not known then.
fn fodder_fed_by_the_tray_has_no_cost_a_kg(w: World) {
    full_month(&w);
    let manager = w.sign_in("manager");
    let fed = json!({ "batch_id": w.a.id("batch"), "event": "fed_out",
        "at": "2026-02-28T20:59:59Z", "trays": 3, "reason": "looked at: dry and sweet" });
    let fed = w.make(&w.a, Kind::BatchEvent, fed);
    let unweighed = report(&manager, "2026-02");
    let f1 = farm(&unweighed, "F1");
    assert_eq!((&f1["trays_fed_unweighed"], &f1["fresh_fodder_fed_kg"]), (&json!(3), &json!(200)));
    assert_eq!(f1["fodder_cost_per_kg_dry_matter"], Json::Null);
    let note = "fodder was fed without being weighed: its kg are not counted, and what a kg cost is not \
                known";
    assert!(f1["notes"].as_array().expect("notes").contains(&json!(note)), "{}", f1["notes"]);
    assert_eq!(f1["saving"], 181_160, "the saving comes from what was paid");
    assert_eq!(unweighed["total"]["fodder_cost_per_kg_dry_matter"], Json::Null);
    // [ARITH] A farm that weighed all of it alone tells what a kg cost: 9,400 of seed and 600 of
    // labour for 50 kg at 15 % dry matter are 10,000 / 7.5.
    weighed_farm(&w);
    let both = report(&manager, "2026-02");
    assert_eq!(farm(&both, "W1")["fodder_cost_per_kg_dry_matter"], 1333.3333);
    let total = &both["total"];
    assert_eq!((&total["farms_included"], &total["fresh_fodder_fed_kg"]), (&json!(2), &json!(250)));
    assert_eq!(total["fodder_cost_per_kg_dry_matter"], 1333.3333);
    assert_eq!(total["trays_fed_unweighed"], 3);
    let next = report(&manager, "2026-03");
    assert_eq!(farm(&next, "F1")["trays_fed_unweighed"], 0, "the month is the co-operative's");
    let path = format!("/v1/batch-events/{fed}");
    let version = manager.get(&path).expect(200).header("etag").expect("etag").to_owned();
    manager.delete(&path, &version).expect(204);
    assert_eq!(
        farm(&report(&manager, "2026-02"), "F1")["fodder_cost_per_kg_dry_matter"],
        3421.3333
    );
}

fn report_follows_a_worked_example(w: World) {
    full_month(&w);
    let manager = w.sign_in("manager");
    let report = report(&manager, "2026-02");
    let f1 = farm(&report, "F1");
    let want = json!({
        "status": "estimated", "animals": 4, "animal_days": 112, "baseline_cost": 422_800,
        "feed_cost": 139_000, "seed_cost": 52_640, "other_cost": 30_000, "depreciation": 20_000,
        "saving": 181_160, "saving_interval": null, "saving_percent_of_baseline": 42.8,
        "saving_per_animal_day": 1617.5, "saving_per_litre": 4365.3012,
        "fresh_fodder_fed_kg": 200, "dry_matter_fed_kg": 30,
        "fodder_cost_per_kg_dry_matter": 3421.3333, "fodder_cost_per_kg_fresh_misleading": 513.2,
        "trays_started": 28, "trays_discarded": 7, "trays_discarded_percent": 25,
        "litres_per_cow_day": 10.375, "missing": [],
    });
    for (name, value) in want.as_object().expect("object") {
        assert_eq!(f1[name], *value, "{name}");
    }
    // The other farm has no records: no number, and why; it is left out of the totals.
    let f2 = farm(&report, "F2");
    assert_eq!((&f2["status"], &f2["saving"]), (&json!("missing"), &Json::Null));
    assert_eq!(report["total"]["saving"], 181_160);
    assert_eq!(
        (&report["total"]["farms_included"], &report["total"]["farms_left_out"]),
        (&json!(1), &json!(1))
    );
    let north =
        report["areas"].as_array().expect("areas").iter().find(|a| a["name"] == "North hill");
    assert_eq!(north.expect("area")["saving"], 181_160);
    let csv =
        manager.send("GET", "/v1/reports/savings?month=2026-02", &[("accept", "text/csv")], None);
    let csv = csv.expect(200);
    assert_eq!(csv.header("content-type"), Some("text/csv; charset=utf-8"));
    assert!(csv.text.contains("F1,estimated,4,112,422800,139000,52640,30000,20000,181160"));
    // A farm that was charged for its seed pays that price.
    w.make(
        &w.a,
        Kind::SeedIssue,
        json!({ "seed_lot_id": w.a.id("lot"), "farm_id": w.a.id("farm"),
        "date": "2026-01-07", "kg": 100, "price": 100_000, "payment": "credit" }),
    );
    let charged = self::report(&manager, "2026-02");
    assert_eq!(farm(&charged, "F1")["seed_cost"], 56_000);
    let stock = manager.get("/v1/seed-stock").expect(200).items();
    let of =
        |farm: Json| stock.iter().find(|s| s["farm"] == farm).expect("stock")["stock_kg"].clone();
    let ledger =
        manager.get("/v1/seed-movements?from=2026-01-01&to=2026-03-20").expect(200).items();
    let moved: Vec<(&str, f64)> = ledger
        .iter()
        .map(|m| (m["movement"].as_str().expect("text"), m["kg"].as_f64().expect("kg")))
        .collect();
    let want =
        [("purchase", 500.0), ("issue", -100.0), ("issue", 100.0), ("soak", -56.0), ("soak", -4.0)];
    assert_eq!(moved, want);
    manager.get("/v1/seed-movements?from=2026-01-01&to=2027-03-20").expect(422);
    // 500 bought − 100 issued; 100 issued − 56 − 4 soaked.
    assert_eq!((of(Json::Null), of(json!("F1"))), (json!(400), json!(40)));
}

fn report_says_what_is_missing(w: World) {
    full_month(&w);
    let manager = w.sign_in("manager");
    let march = report(&manager, "2026-03");
    let f1 = farm(&march, "F1");
    assert_eq!(f1["status"], "missing");
    assert_eq!(f1["missing"], json!(["feed purchases (record 0 kg if none was bought)"]));
    // A recorded 0 is a zero: now there is a number, at February's prices.
    w.make(
        &w.a,
        Kind::FeedPurchase,
        json!({ "farm_id": w.a.id("farm"), "feed_id": w.a.id("feed"),
        "date": "2026-03-05", "kg": 0, "cost": 0 }),
    );
    let march = report(&manager, "2026-03");
    let f1 = farm(&march, "F1");
    assert_eq!((&f1["status"], &f1["feed_cost"]), (&json!("estimated"), &json!(0)));
    assert_eq!(f1["baseline_cost"], 468_100, "124 animal-days at 3.5 × 850 + 2 × 400");
    assert!(f1["notes"].as_array().expect("notes").contains(&json!("no other costs are recorded")));
    let june = report(&manager, "2025-06");
    assert_eq!(farm(&june, "F1")["status"], "start_month");
    assert_eq!(farm(&report(&manager, "2025-05"), "F1")["status"], "not_started");
    for wrong in ["2026-13", "2026-4", "2026-04", "x", ""] {
        manager.get(&format!("/v1/reports/savings?month={wrong}")).expect(422);
    }
}

fn a_closed_month_stays_and_corrections_become_adjustments(w: World) {
    full_month(&w);
    let manager = w.sign_in("manager");
    let path = "/v1/reports/savings?month=2026-02";
    manager.post("/v1/month-closes", &json!({ "month": "2026-02" })).expect(201);
    let frozen = manager.get(path).expect(200);
    assert_eq!(frozen.json()["is_closed"], true);
    let csv = |c: &Client| c.send("GET", path, &[("accept", "text/csv")], None).expect(200).text;
    let frozen_csv = csv(&manager);
    // A late purchase: the closed report stays to the byte, March brings the difference.
    w.make(
        &w.a,
        Kind::FeedPurchase,
        json!({ "farm_id": w.a.id("farm"), "feed_id": w.a.id("bran"),
        "date": "2026-02-20", "kg": 50, "cost": 20_000 }),
    );
    assert_eq!(manager.get(path).expect(200).text, frozen.text);
    assert_eq!(csv(&manager), frozen_csv);
    let march = report(&manager, "2026-03");
    let adjustments = march["adjustments"].as_array().expect("adjustments");
    assert_eq!(adjustments.len(), 1);
    assert_eq!(
        (
            &adjustments[0]["month"],
            &adjustments[0]["reported"],
            &adjustments[0]["now"],
            &adjustments[0]["change"]
        ),
        (&json!("2026-02"), &json!(181_160), &json!(161_160), &json!(-20_000))
    );
    assert_eq!(march["adjustments_total"], -20_000);
    let closes = manager.get("/v1/month-closes").expect(200).items();
    assert_eq!(closes[0]["has_changed_since"], true);
    // Once March is closed, the difference is reported; April brings only what is new.
    w.clock.set(traybook_domain::time::parse_instant("2026-04-10T09:00:00Z").expect("instant"));
    let manager = w.sign_in("manager");
    manager.post("/v1/month-closes", &json!({ "month": "2026-03" })).expect(201);
    assert_eq!(report(&manager, "2026-04")["adjustments"], json!([]));
    w.make(
        &w.a,
        Kind::OtherCost,
        json!({ "farm_id": w.a.id("farm"), "date": "2026-02-27",
        "category": "repairs", "amount": 1_000.5 }),
    );
    let april = report(&manager, "2026-04");
    assert_eq!(april["adjustments"][0]["change"], -1_000.5);
    // The member sees the own line of the closed report and nothing else.
    let member = w.sign_in("member").get(path).expect(200).json();
    assert_eq!(member["farms"].as_array().map(Vec::len), Some(1));
    assert_eq!((&member["total"], &member["areas"]), (&Json::Null, &json!([])));
    assert_eq!(csv(&w.sign_in("member")).lines().count(), 2);
}

fn months_close_in_order(w: World) {
    let manager = w.sign_in("manager");
    let close = |month: &str| manager.post("/v1/month-closes", &json!({ "month": month }));
    assert_eq!(close("2026-03").expect(422).errors()[0].1, "running");
    close("2025-12").expect(201);
    assert_eq!(close("2025-12").expect(409).json()["conflict"], "month_closed");
    assert_eq!(close("2026-02").expect(409).json()["conflict"], "month_order");
    close("2026-01").expect(201);
    w.sign_in("officer").post("/v1/month-closes", &json!({ "month": "2026-02" })).expect(403);
}

fn everybody_reads_the_same_number(w: World) {
    full_month(&w);
    // Another farm pays less for bran: the median is the co-operative's, whoever reads.
    w.make(
        &w.a,
        Kind::FeedPurchase,
        json!({ "farm_id": w.a.id("other_farm"),
        "feed_id": w.a.id("bran"), "date": "2026-03-03", "kg": 100, "cost": 20_000 }),
    );
    w.make(
        &w.a,
        Kind::FeedPurchase,
        json!({ "farm_id": w.a.id("farm"), "feed_id": w.a.id("feed"),
        "date": "2026-03-05", "kg": 10, "cost": 8_500 }),
    );
    let own = |who: &str| farm(&report(&w.sign_in(who), "2026-03"), "F1").clone();
    let manager = own("manager");
    // 124 animal-days at 3.5 kg × 850 and 2 kg × 200.
    assert_eq!(manager["baseline_cost"], 418_500);
    assert_eq!((&own("officer"), &own("member")), (&manager, &manager));
    // A closed report is narrowed by the codes it was closed with.
    let boss = w.sign_in("manager");
    boss.post("/v1/month-closes", &json!({ "month": "2026-02" })).expect(201);
    let rename = |id: &str, version: &str, code: &str| {
        boss.patch(&format!("/v1/farms/{}", w.a.id(id)), version, &json!({ "code": code }))
            .expect(200);
    };
    rename("farm", "\"1\"", "OLD1");
    rename("other_farm", "\"1\"", "F1");
    let member = w.sign_in("member");
    let csv =
        member.send("GET", "/v1/reports/savings?month=2026-02", &[("accept", "text/csv")], None);
    let csv = csv.expect(200).text;
    assert!(csv.contains(",M1,") && !csv.contains(",M2,"), "{csv}");
}

fn late_prices_and_leavers_reach_closed_months(w: World) {
    full_month(&w);
    let manager = w.sign_in("manager");
    manager.post("/v1/month-closes", &json!({ "month": "2026-01" })).expect(201);
    manager.post("/v1/month-closes", &json!({ "month": "2026-02" })).expect(201);
    let changed = || {
        let all = manager.get("/v1/month-closes").expect(200).items();
        all.iter().map(|m| m["has_changed_since"] == true).collect::<Vec<_>>()
    };
    assert_eq!(changed(), [false, false]);
    // A price of December is looked for in January and February too.
    w.make(
        &w.a,
        Kind::FeedPurchase,
        json!({ "farm_id": w.a.id("other_farm"),
        "feed_id": w.a.id("feed"), "date": "2025-12-30", "kg": 10, "cost": 9_000 }),
    );
    assert_eq!(changed(), [true, true]);
    // A member who had left by then takes the reported saving back.
    let path = format!("/v1/members/{}", w.a.id("member"));
    manager.patch(&path, "\"1\"", &json!({ "left_on": "2026-01-15" })).expect(200);
    let march = report(&manager, "2026-03");
    let line = &march["adjustments"][0];
    assert_eq!(
        (&line["farm"], &line["reported"], &line["now"], &line["change"]),
        (&json!("F1"), &json!(181_160), &Json::Null, &json!(-181_160))
    );
    // Reported once, it is no news the next time.
    w.clock.set(traybook_domain::time::parse_instant("2026-04-10T09:00:00Z").expect("instant"));
    let manager = w.sign_in("manager");
    manager.post("/v1/month-closes", &json!({ "month": "2026-03" })).expect(201);
    assert_eq!(report(&manager, "2026-04")["adjustments"], json!([]));
}

/// The report of an open month is kept between two changes; whatever changes it is seen at once.
fn a_kept_report_is_the_one_that_is_read_anew(w: World) {
    full_month(&w);
    for feed in ["feed", "bran"] {
        let bought = json!({ "farm_id": w.a.id("farm"), "feed_id": w.a.id(feed),
            "date": "2026-01-05", "kg": 10, "cost": 8_000 });
        w.make(&w.a, Kind::FeedPurchase, bought);
    }
    let (manager, actor) = (w.sign_in("manager"), Actor::machine(w.a.coop.clone()));
    let march = Month::parse("2026-03").expect("a month");
    let read = |app: &App| w.wait(app.savings_report(&actor, march)).expect("a report");
    let same = |what: &str| {
        let anew = App { reports: std::sync::Arc::default(), ..w.app.clone() };
        let kept = read(&w.app);
        assert_eq!(kept, read(&anew), "{what}");
        assert!(std::sync::Arc::ptr_eq(&kept, &read(&w.app)), "{what}: it is kept");
        kept
    };
    same("nothing");
    let cost = |day: &str| json!({ "farm_id": w.a.id("farm"), "date": day, "category": "repairs", "amount": 1_000 });
    w.make(&w.a, Kind::OtherCost, cost("2026-03-02"));
    same("a cost");
    manager.post("/v1/month-closes", &json!({ "month": "2026-01" })).expect(201);
    w.make(&w.a, Kind::OtherCost, cost("2026-01-20"));
    let adjusted = same("a cost in a closed month");
    assert_eq!(adjusted.adjustments.len(), 1);
    // The closing of February takes the adjustment: it is no news any more.
    manager.post("/v1/month-closes", &json!({ "month": "2026-02" })).expect(201);
    assert!(same("a month that was closed").adjustments.is_empty());
    w.wait(w.app.make_figures_now(&w.a.coop)).expect("figures");
    same("figures that were made");
}
