//! Rules of the review list against the slips that people make, and whole histories looked through.

use crate::review::items;
use acceptance::browser::Browser;
use acceptance::feeding::{Place, add_all, bought, day, days, place, place_of, regular_but};
use acceptance::world::app_on;
use acceptance::{World, both};
use chrono::NaiveDate;
use serde_json::{Value as Json, json};
use traybook_domain::Kind;
use traybook_domain::time::plus_days;
use uuid::Uuid;

both!(
    slips_of_purchases_are_found_with_their_unit,
    slips_of_milk_and_eggs_are_found_with_their_unit,
    yields_and_mould_are_told_from_what_was_done,
    a_ration_in_grams_is_found,
    a_guide_can_not_contradict_itself,
    ninety_cases_are_one_finding,
    purchases_held_in_a_quarter_are_one_finding,
    a_whole_history_is_looked_through_in_the_background
);

fn of_rule(w: &World, rule: &str) -> Vec<Json> {
    items(w, &format!("?rule={rule}"))
}

fn units(found: &[Json]) -> Vec<&str> {
    found.iter().map(|f| f["figures"]["unit"].as_str().unwrap_or("none")).collect()
}

/// Farms whose animals nobody counted.
fn bare(w: &World, codes: &[&str]) -> Vec<Uuid> {
    let farm = |code: &&str| {
        let body = json!({ "code": code, "member_id": w.a.id("member"),
            "area_id": w.a.id("sub_area") });
        w.make(&w.a, Kind::Farm, body)
    };
    codes.iter().map(farm).collect()
}

fn slips_of_purchases_are_found_with_their_unit(w: World) {
    let feed = w.make(&w.a, Kind::Feed, json!({ "name": "Sunflower cake" }));
    let farms = bare(&w, &["R1", "R2", "R3"]);
    let mut rows = Vec::new();
    for (number, farm) in farms.iter().enumerate() {
        for (at, on) in days("2025-12-01", 12, "2026-03-18").into_iter().enumerate() {
            let wander = i64::try_from((number * 7 + at * 3) % 11).expect("small");
            let kg = 50 + 10 * (wander % 3);
            rows.push(bought(*farm, feed, on, kg, kg * (880 + 10 * wander)));
        }
    }
    add_all(&w, rows);
    let all = |w: &World| {
        ["feed_price", "feed_kg", "price_outlier", "amount_outlier"].map(|r| of_rule(w, r).len())
    };
    assert_eq!(all(&w), [0; 4], "the market wanders");
    // One bag of 50 kg is written as 1 kg; kg as grams; a digit too many in the cost; a price two
    // and a half times that of the others; fifty bags for one at the right price.
    let slips = [
        (0, 1, 45_000, "2026-03-10"),
        (1, 50_000, 45_000, "2026-03-10"),
        (2, 50, 450_000, "2026-03-10"),
        (2, 50, 112_500, "2026-03-11"),
        (0, 2_500, 2_250_000, "2026-03-12"),
    ];
    let add = |(farm, kg, cost, on): (usize, i64, i64, &str)| {
        bought(farms[farm], feed, day(on), kg, cost)
    };
    let ids = add_all(&w, slips.into_iter().map(add).collect());
    let of = |w: &World, rule: &str| -> Vec<Json> {
        let mut found = of_rule(w, rule);
        found.sort_by_key(|f| f["farm"].to_string());
        found
    };
    // One finding a farm and quarter: the worst, with the other in its records.
    let prices = of(&w, "price_outlier");
    assert_eq!(units(&prices), ["x50", "d1000", "x10"], "{prices:#?}");
    assert_eq!((&prices[2]["cases"], &prices[2]["last_on"]), (&json!(2), &json!("2026-03-11")));
    let amounts = of(&w, "amount_outlier");
    assert_eq!(units(&amounts), ["d50", "x1000"], "{amounts:#?}");
    assert_eq!(amounts[0]["cases"], 2);
    let bears = |is_held: bool| json!([{ "figure": "feed_saving", "is_held_back": is_held }]);
    // It says which figures it bears on, and that they count it as it stands.
    assert_eq!(prices[0]["bears_on"], bears(false));
    let mut browser = Browser::sign_in(&w, "manager");
    let page = browser.page("/review?rule=amount_outlier");
    assert!(page.contains("Bags instead of kg, or the other way round?"), "{page}");
    assert!(page.contains("Counted as it stands in: saving on feed."), "{page}");
    // Where the saving holds a wrong price back, that is its one finding.
    let more: Vec<Place> =
        ["R4", "R5", "R6", "R7", "R8", "R9"].map(|c| place_of(&w, "member", c, None)).into();
    for place in &more {
        let on = days("2025-12-01", 12, "2026-03-18");
        add_all(&w, on.into_iter().map(|on| bought(place.farm, feed, on, 50, 45_000)).collect());
    }
    add_all(&w, vec![bought(more[0].farm, feed, day("2026-03-10"), 50, 450_000)]);
    let farms_of = |rule: &str| -> Vec<String> {
        of(&w, rule).iter().map(|f| f["farm"].as_str().unwrap_or("-").to_owned()).collect()
    };
    assert_eq!(farms_of("price_outlier"), ["R1", "R2", "R3"]);
    let held = of(&w, "feed_price");
    assert_eq!(
        (farms_of("feed_price"), &held[0]["bears_on"]),
        (vec!["R4".to_owned()], &bears(true))
    );
    let page = browser.page("/review?rule=feed_price");
    assert!(page.contains("Held back until it is settled: saving on feed."), "{page}");
    // Put right, it goes.
    let path = format!("/v1/feed-purchases/{}", ids[4]);
    w.sign_in("manager").patch(&path, "\"1\"", &json!({ "kg": 50, "cost": 45_000 })).expect(200);
    let left = of(&w, "amount_outlier");
    assert_eq!((left.len(), &left[0]["cases"]), (2, &json!(1)));
}

/// Days of a group's milk: 14 l of two cows, with what days differ by.
fn milk(group: Uuid, from: NaiveDate, count: u64, of: &dyn Fn(u64) -> f64) -> Vec<(Kind, Json)> {
    let row = |n: u64| {
        let body = json!({ "animal_group_id": group, "date": plus_days(from, n),
            "session": "day", "litres": (of(n) * 10.0).round() / 10.0, "animals_in_milk": 2 });
        (Kind::MilkRecord, body)
    };
    (0..count).map(row).collect()
}

fn wander(n: u64) -> f64 {
    let steps: f64 = u32::try_from((n * 7 + n * n) % 13).expect("small").into();
    12.0 + 0.3 * steps
}

fn slips_of_milk_and_eggs_are_found_with_their_unit(w: World) {
    let (cows, hens) = (w.a.id("cows"), w.a.id("hens"));
    let from = day("2025-12-01");
    let slipped = |n: u64| if n == 90 { 10.0 * wander(n) } else { wander(n) };
    add_all(&w, milk(cows, from, 105, &slipped));
    let slips = of_rule(&w, "unit_slip");
    assert_eq!(units(&slips), ["x10"], "{slips:#?}");
    assert_eq!(slips[0]["since"], "2026-03-01");
    assert_eq!(of_rule(&w, "output_jump"), Vec::<Json>::new(), "one finding of the day");
    // Ten days of trays of 30 where eggs were meant.
    let eggs = |n: u64| {
        let all = 78 + (n * 5 + n * n) % 9;
        let count = if (80..90).contains(&n) { all.div_ceil(30) } else { all };
        let body = json!({ "animal_group_id": hens, "date": plus_days(from, n),
            "hens_present": 100, "eggs": count });
        (Kind::EggRecord, body)
    };
    add_all(&w, (0..105).map(eggs).collect());
    let mut slips = of_rule(&w, "unit_slip");
    slips.retain(|f| f["figures"]["unit"] == "d30");
    assert_eq!(slips.len(), 1, "{slips:#?}");
    assert_eq!(slips[0]["figures"]["records"], 10);
    // From a day on one of two milkings is left out, on a farm of four cows.
    let four = place_of(&w, "member", "R9", None);
    let half = |n: u64| {
        let litres = 2.0 * wander(n) * if n < 85 { 1.0 } else { 0.5 };
        let body = json!({ "animal_group_id": four.cows, "date": plus_days(from, n),
            "session": "day", "litres": (litres * 10.0).round() / 10.0, "animals_in_milk": 4 });
        (Kind::MilkRecord, body)
    };
    add_all(&w, (0..105).map(half).collect());
    let steps = [of_rule(&w, "level_shift"), of_rule(&w, "herd_implied")].concat();
    assert_eq!(steps.len(), 1, "{steps:#?}");
    let ratio = steps[0]["figures"]["ratio"].as_f64().expect("a ratio");
    assert!((0.45..0.55).contains(&ratio), "{steps:#?}");
}

/// A batch of 8 kg on four trays, soaked on a day, with what came of it.
fn batch(w: &World, on: &str, events: &[(&str, u64, u32, Json)]) -> Uuid {
    let body = json!({ "shed_id": w.a.id("shed"), "animal_group_id": w.a.id("cows"),
        "seed_lot_id": w.a.id("lot"), "crop": "barley" });
    let batch = w.make(&w.a, Kind::Batch, body);
    let start = [("soaked", 0, 5, json!({ "kg": 8 })), ("spread", 2, 5, json!({ "trays": 4 }))];
    let row = |(event, days, hour, more): &(&str, u64, u32, Json)| {
        let at = format!("{}T{hour:02}:00:00Z", plus_days(day(on), *days));
        let mut body = json!({ "batch_id": batch, "event": event, "at": at });
        body.as_object_mut().expect("an object").extend(more.as_object().expect("more").clone());
        (Kind::BatchEvent, body)
    };
    add_all(w, start.iter().chain(events).map(row).collect());
    batch
}

/// Enough seed on the farm, and a record of late: nothing else is to be said.
fn quiet(w: &World) {
    let buy = json!({ "seed_lot_id": w.a.id("lot"), "date": "2024-02-01", "kg": 9_000,
        "price": 1, "feed_grade": true, "untreated": true });
    w.make(&w.a, Kind::SeedPurchase, buy);
    for farm in ["farm", "other_farm"] {
        let given = json!({ "seed_lot_id": w.a.id("lot"), "farm_id": w.a.id(farm),
            "date": "2024-02-02", "kg": 2_000, "payment": "paid" });
        w.make(&w.a, Kind::SeedIssue, given);
        let cost = json!({ "farm_id": w.a.id(farm), "date": "2026-03-15", "category": "labour",
            "amount": 10 });
        w.make(&w.a, Kind::OtherCost, cost);
    }
}

fn yields_and_mould_are_told_from_what_was_done(w: World) {
    quiet(&w);
    let harvest = |kg: f64| ("harvested", 8, 4, json!({ "trays": 4, "kg": kg }));
    let fed = |kg: f64| ("fed_out", 8, 6, json!({ "kg": kg, "reason": "asked the officer" }));
    // 5 % of the weight of what was fed is within the scales.
    batch(&w, "2026-03-01", &[harvest(48.0), fed(50.0)]);
    // A mouldy tray thrown away before the rest is fed: a caution, no finding.
    let seen = ("discarded", 7, 5, json!({ "trays": 1, "cause": "mould", "mould_trays": 1 }));
    let three = ("harvested", 8, 4, json!({ "trays": 3, "kg": 36 }));
    batch(&w, "2026-03-02", &[seen, three.clone(), fed(36.0)]);
    assert_eq!(items(&w, ""), Vec::<Json>::new());
    // Two had mould, and one was thrown away.
    let seen = ("watered", 7, 4, json!({ "mould_trays": 2 }));
    let out = ("discarded", 7, 5, json!({ "trays": 1, "cause": "mould" }));
    batch(&w, "2026-03-03", &[seen, out, three, fed(36.0)]);
    assert_eq!(of_rule(&w, "fed_with_mould").len(), 1);
    // A digit too many.
    batch(&w, "2026-03-04", &[harvest(480.0)]);
    let impossible = of_rule(&w, "yield_impossible");
    let bears = json!([{ "figure": "planned_yield", "is_held_back": true }]);
    assert_eq!((impossible.len(), &impossible[0]["bears_on"]), (1, &bears));
    // Twice what can be had is unlikely, not impossible: how wet it was is not known.
    batch(&w, "2026-03-05", &[harvest(76.0)]);
    assert_eq!(of_rule(&w, "yield_unlikely").len(), 1);
    // Fodder thrown away by weight, of a harvest that was not weighed.
    let unweighed = ("harvested", 8, 4, json!({ "trays": 4 }));
    let thrown = ("discarded", 9, 4, json!({ "kg": 5, "cause": "left_too_long" }));
    batch(&w, "2026-03-06", &[unweighed, thrown]);
    let thrown = of_rule(&w, "thrown_without_weight");
    assert_eq!((thrown.len(), &thrown[0]["figures"]["thrown_kg"]), (1, &json!(5)));
}

fn a_ration_in_grams_is_found(w: World) {
    let feed = json!({ "name": "Rice bran", "dry_matter_percent": 88 });
    let feed = w.make(&w.a, Kind::Feed, feed);
    let place = place_of(&w, "member", "R1", None);
    let ration = |kg: f64| {
        json!({ "animal_group_id": place.cows, "feed_id": feed, "kg_per_animal_day": kg,
            "recorded_on": "2026-01-05" })
    };
    w.make(&w.a, Kind::BaselineRation, ration(4.0));
    assert_eq!(of_rule(&w, "ration_too_much"), Vec::<Json>::new());
    // ARITH: 60 kg at 88 % are 52.8 kg of dry matter; cattle eat 25 at the most.
    let other = json!({ "name": "Cotton cake", "dry_matter_percent": 90 });
    let other = w.make(&w.a, Kind::Feed, other);
    let body = json!({ "animal_group_id": place.cows, "feed_id": other,
        "kg_per_animal_day": 60, "recorded_on": "2026-01-05" });
    w.make(&w.a, Kind::BaselineRation, body);
    let found = of_rule(&w, "ration_too_much");
    assert_eq!((found.len(), &found[0]["farm"]), (1, &json!("R1")), "{found:#?}");
    assert_eq!(found[0]["figures"]["dry_matter_kg"], 57.52);
}

fn a_guide_can_not_contradict_itself(w: World) {
    let manager = w.sign_in("manager");
    let set = |name: &str, value: f64, from: &str| {
        let body = json!({ "name": name, "value": value, "valid_from": from });
        manager.post("/v1/growing-guide-values", &body)
    };
    // The default holds 89 % of the seed's dry matter: 6 kg at 13 % of dry matter over 0.88.
    let guide = manager.get("/v1/growing-guide").expect(200).json();
    assert_eq!(guide["dry_matter_kept_percent"], json!(88.6));
    assert_eq!(guide["is_dry_matter_doubtful"], json!(false));
    let refused = set("fodder_water_percent", 85.0, "2026-03-20").expect(422);
    assert_eq!(refused.errors(), [("/value".to_owned(), "dry_matter".to_owned())]);
    let why = refused.json()["errors"][0]["detail"].as_str().expect("why").to_owned();
    assert!(why.contains("102 %"), "{why}");
    // 7 kg are too many at 87 % of water, from whatever day on; at 88 % they are doubtful.
    set("fresh_kg_per_kg_seed", 7.0, "2026-06-01").expect(422);
    set("fodder_water_percent", 88.0, "2026-05-01").expect(201);
    let seven = set("fresh_kg_per_kg_seed", 7.1, "2026-06-01").expect(201).json();
    let guide = manager.get("/v1/growing-guide?day=2026-06-01").expect(200).json();
    assert_eq!(guide["dry_matter_kept_percent"], json!(96.8));
    // A correction that contradicts is refused as well; so is a value of an earlier day.
    let path = format!("/v1/growing-guide-values/{}", seven["id"].as_str().expect("an id"));
    let wrong = manager.patch(&path, "\"1\"", &json!({ "value": 8 })).expect(422);
    assert_eq!(wrong.errors(), [("/value".to_owned(), "dry_matter".to_owned())]);
    manager.patch(&path, "\"1\"", &json!({ "value": 7.2 })).expect(200);
    let guide = manager.get("/v1/growing-guide?day=2026-06-01").expect(200).json();
    assert_eq!(guide["is_dry_matter_doubtful"], json!(true));
    // On the page it is said in the person's language.
    let mut browser = Browser::sign_in(&w, "manager");
    browser.speak("sw");
    let form = [("name", "fodder_water_percent"), ("value", "70"), ("valid_from", "2026-03-20")];
    let page = browser.fill("/guide", "/guide", &form).text;
    assert!(page.contains("uzito mkavu wa mbegu"), "{page}");
    assert_eq!(of_rule(&w, "guide_dry_matter"), Vec::<Json>::new());
    // What was set before this was looked at stands, and is a finding.
    let sql = "UPDATE growing_guide_values SET value = 80000 WHERE name = 'fodder_water_percent'";
    w.db.connect().exec(sql, &[]).expect("set");
    let buy = json!({ "farm_id": w.a.id("farm"), "date": "2026-03-15", "category": "labour",
        "amount": 10 });
    w.make(&w.a, Kind::OtherCost, buy);
    assert_eq!(of_rule(&w, "guide_dry_matter").len(), 1);
}

fn ninety_cases_are_one_finding(w: World) {
    quiet(&w);
    for number in 0..6_u64 {
        let on = plus_days(day("2026-03-01"), number).to_string();
        batch(&w, &on, &[("harvested", 8, 4, json!({ "trays": 4, "kg": 100 + number }))]);
    }
    let found = of_rule(&w, "yield_impossible");
    assert_eq!(found.len(), 1, "{found:#?}");
    let one = &found[0];
    assert_eq!(
        (&one["cases"], &one["first_on"], &one["last_on"]),
        (&json!(6), &json!("2026-03-09"), &json!("2026-03-14"))
    );
    // The worst is told.
    assert_eq!(one["figures"]["harvested_kg"], json!(105));
    let accept = json!({ "farm_id": w.a.id("farm"), "rule": "yield_impossible",
        "finding": one["finding"], "evidence": one["evidence"], "accepted_on": "2026-03-20",
        "reason": "weighed dripping wet" });
    let manager = w.sign_in("manager");
    manager.post("/v1/review-acceptances", &accept).expect(201);
    assert_eq!(of_rule(&w, "yield_impossible"), Vec::<Json>::new());
    // Another, not as bad, changes nothing; a worse one stands on the list again.
    batch(&w, "2026-03-07", &[("harvested", 8, 4, json!({ "trays": 4, "kg": 99 }))]);
    assert_eq!(of_rule(&w, "yield_impossible"), Vec::<Json>::new());
    batch(&w, "2026-03-08", &[("harvested", 8, 4, json!({ "trays": 4, "kg": 300 }))]);
    assert_eq!(of_rule(&w, "yield_impossible")[0]["cases"], json!(8));
    // Another quarter is another finding.
    batch(&w, "2026-02-01", &[("harvested", 8, 4, json!({ "trays": 4, "kg": 99 }))]);
    batch(&w, "2025-12-20", &[("harvested", 8, 4, json!({ "trays": 4, "kg": 99 }))]);
    looked_through(&w);
    let found = of_rule(&w, "yield_impossible");
    let quarters: Vec<&str> = found.iter().filter_map(|f| f["finding"].as_str()).collect();
    assert!(quarters.iter().any(|q| q.ends_with("2025Q4")), "{quarters:?}");
    assert_eq!(quarters.len(), 2);
}

fn purchases_held_in_a_quarter_are_one_finding(w: World) {
    add_all(&w, regular_but(&w, place(&w, "R1"), &[]));
    // Three prices out by a digit: two in the first quarter of 2026, one in the last of 2025.
    let slips = [("2025-12-27", 6_800), ("2026-01-26", 680_000), ("2026-02-15", 3_400)];
    let here = place(&w, "H1");
    let mut rows = regular_but(&w, here, &slips.map(|s| s.0));
    let wrong = slips.map(|(on, cost)| bought(here.farm, w.a.id("feed"), day(on), 80, cost));
    rows.extend(wrong);
    add_all(&w, rows);
    let since =
        |found: &[Json]| -> Vec<Json> { found.iter().map(|f| f["since"].clone()).collect() };
    let found = of_rule(&w, "feed_price");
    // Of the quarter the worst is told: 20 times too little, against 10 times too much.
    assert_eq!(since(&found), ["2026-02-15", "2025-12-27"], "{found:#?}");
    let (one, other) = (&found[0], &found[0]["others"][0]);
    assert_eq!(
        (&one["cases"], &one["first_on"], &one["last_on"]),
        (&json!(2), &json!("2026-01-26"), &json!("2026-02-15"))
    );
    assert_eq!(
        (&other["since"], &other["figures"]["per_kg"]),
        (&json!("2026-01-26"), &json!(8500))
    );
    assert_eq!(one["records"].as_array().map(Vec::len), Some(2), "both purchases are named");
    assert_eq!((&found[1]["cases"], &found[1]["others"]), (&json!(1), &json!([])));
    let list = w.sign_in("manager").get("/v1/review").expect(200).json();
    assert_eq!(list["by_rule"]["feed_price"], 2);
    // Accepted by itself, one case goes and the other is told; the saving still waits for it.
    let waits = |w: &World| {
        let of = |month: &str| {
            let report = w.sign_in("manager").get(&format!("/v1/reports/savings?month={month}"));
            let farms = report.expect(200).json()["farms"].as_array().cloned().unwrap_or_default();
            let line = farms.into_iter().find(|l| l["farm"] == "H1").expect("the farm");
            line["waits"].as_array().map_or(0, Vec::len)
        };
        ["2026-01", "2026-02"].map(of)
    };
    // A lot lasts ten days: those of December and January reach into the month after.
    assert_eq!(waits(&w), [2, 2]);
    let accept = json!({ "farm_id": here.farm, "rule": "feed_price", "finding": one["finding"],
        "evidence": one["evidence"], "accepted_on": "2026-03-20", "reason": "a gift" });
    w.sign_in("manager").post("/v1/review-acceptances", &accept).expect(201);
    let found = of_rule(&w, "feed_price");
    assert_eq!(since(&found), ["2026-01-26", "2025-12-27"], "{found:#?}");
    // Four days of February are still without a number: few enough for the month to have one.
    assert_eq!(waits(&w), [2, 0]);
    // The page shows every case and accepts all of them at once.
    add_all(&w, vec![bought(here.farm, w.a.id("feed"), day("2026-02-16"), 80, 680_000)]);
    let found = of_rule(&w, "feed_price");
    assert_eq!(found[0]["cases"], 2, "{found:#?}");
    let mut browser = Browser::sign_in(&w, "manager");
    let name = found[0]["finding"].as_str().expect("a name");
    let address = format!("/review/accept?finding={}", name.replace(' ', "+"));
    let page = browser.page(&address);
    for sentence in ["26 January 2026", "16 February 2026", "All 2 cases are accepted"] {
        assert!(page.contains(sentence), "{sentence}: {page}");
    }
    assert!(browser.page("/review").contains("26 January 2026"), "the list names both");
    browser.fill(&address, "/review/accept", &[("reason", "prices of a drought")]);
    assert_eq!(since(&of_rule(&w, "feed_price")), ["2025-12-27"]);
    assert_eq!(waits(&w), [0, 0]);
    // Each has an acceptance of its own.
    let manager = w.sign_in("manager");
    let mut accepted: Vec<(Json, Json)> = manager
        .get("/v1/review-acceptances")
        .expect(200)
        .items()
        .into_iter()
        .map(|a| (a["evidence"].clone(), a["reason"].clone()))
        .collect();
    accepted.sort_by_key(|a| a.0.to_string());
    let [drought, gift] = ["prices of a drought", "a gift"];
    let expected = [
        ("2026-01-26 80 kg 68000000", drought),
        ("2026-02-15 80 kg 340000", gift),
        ("2026-02-16 80 kg 68000000", drought),
    ];
    assert_eq!(accepted, expected.map(|(evidence, why)| (json!(evidence), json!(why))));
}

/// One slip for each of the rules that the other records of the tests do not break.
pub(crate) fn slip(w: &World) {
    let feed = json!({ "name": "Sunflower cake", "dry_matter_percent": 90 });
    let feed = w.make(&w.a, Kind::Feed, feed);
    let codes = ["R1", "R2", "R3", "R4", "R5", "R6", "R7"];
    let farms: Vec<Place> = codes.map(|c| place_of(w, "member", c, None)).into();
    let mut rows = Vec::new();
    for (number, place) in farms.iter().enumerate() {
        for on in days("2025-12-01", 12, "2026-03-18") {
            rows.push(bought(place.farm, feed, on, 50, 45_000));
        }
        let kg = if number == 6 { 20 } else { 2 };
        let ration = json!({ "animal_group_id": place.cows, "feed_id": feed,
            "kg_per_animal_day": if number == 5 { 60 } else { kg }, "recorded_on": "2026-01-05" });
        rows.push((Kind::BaselineRation, ration));
    }
    let bran = w.make(&w.a, Kind::Feed, json!({ "name": "Rice bran" }));
    for farm in bare(w, &["Q1", "Q2", "Q3"]) {
        for on in days("2025-12-01", 12, "2026-03-18") {
            rows.push(bought(farm, bran, on, 50, 20_000));
        }
        rows.push(bought(farm, bran, day("2026-03-18"), 50, 60_000));
        rows.push(bought(farm, bran, day("2026-03-19"), 2_500, 1_000_000));
    }
    let from = day("2025-12-01");
    let levels = [(0, 0.5), (1, 1.6)];
    for (farm, factor) in levels {
        let litres = |n: u64| 2.0 * wander(n) * if n < 85 { 1.0 } else { factor };
        rows.extend((0..105).map(|n| {
            let body = json!({ "animal_group_id": farms[farm].cows, "date": plus_days(from, n),
                "session": "day", "litres": (litres(n) * 10.0).round() / 10.0,
                "animals_in_milk": 4 });
            (Kind::MilkRecord, body)
        }));
    }
    rows.extend(milk(farms[2].cows, from, 105, &|n| match n {
        90 => 3.0 * wander(n),
        _ => wander(n),
    }));
    add_all(w, rows);
    let harvest = ("harvested", 8, 4, json!({ "trays": 4, "kg": 480 }));
    batch(w, "2026-03-04", &[harvest]);
    let unweighed = ("harvested", 8, 4, json!({ "trays": 4 }));
    let thrown = ("discarded", 9, 4, json!({ "kg": 5, "cause": "left_too_long" }));
    batch(w, "2026-03-06", &[unweighed, thrown]);
    let harvest = ("harvested", 8, 4, json!({ "trays": 4, "kg": 48 }));
    let fed = ("fed_out", 8, 6, json!({ "kg": 60 }));
    batch(w, "2026-03-07", &[harvest, fed]);
    let water = json!({ "name": "fodder_water_percent", "value": 88, "valid_from": "2026-01-01" });
    w.make(&w.a, Kind::GrowingGuideValue, water);
    let sql = "UPDATE growing_guide_values SET value = 80000 WHERE name = 'fodder_water_percent'";
    w.db.connect().exec(sql, &[]).expect("set");
}

/// Makes the figures, and looks through all histories that wait.
fn looked_through(w: &World) {
    w.make_figures();
    while w.wait(w.app.review_waiting()).expect("looked through") > 0 {}
    w.make_figures();
}

fn a_whole_history_is_looked_through_in_the_background(w: World) {
    quiet(&w);
    looked_through(&w);
    assert_eq!(items(&w, ""), Vec::<Json>::new());
    let run = |w: &World| w.sign_in("manager").get("/v1/review").expect(200).json()["run"].clone();
    // Records of long ago come in.
    batch(&w, "2024-08-01", &[("harvested", 8, 4, json!({ "trays": 4, "kg": 480 }))]);
    let old = milk(w.a.id("cows"), day("2024-03-01"), 120, &|n| {
        if n == 60 { 10.0 * wander(n) } else { wander(n) }
    });
    add_all(&w, old);
    w.make_figures();
    let before = run(&w);
    assert_eq!((&before["farms"], &before["done"]), (&json!(1), &json!(0)), "{before:#}");
    assert_eq!(before["ended_at"], Json::Null);
    let mut browser = Browser::sign_in(&w, "manager");
    assert!(browser.page("/review").contains("0 of 1 farms done"));
    assert_eq!(items(&w, ""), Vec::<Json>::new(), "not looked through yet");
    // The server stops; another goes on.
    let (other, clock) = app_on(&w.db);
    clock.set(traybook_domain::time::parse_instant("2026-03-20T10:00:00Z").expect("an instant"));
    assert_eq!(w.wait(other.review_waiting()).expect("looked through"), 1);
    assert_eq!(w.wait(other.review_waiting()).expect("nothing waits"), 0);
    let found = items(&w, "");
    let of: Vec<(&str, &str)> = found
        .iter()
        .map(|f| (f["rule"].as_str().expect("a rule"), f["since"].as_str().expect("a day")))
        .collect();
    assert_eq!(of, [("yield_impossible", "2024-08-09"), ("unit_slip", "2024-04-30")], "{found:#?}");
    let after = run(&w);
    assert_eq!(
        (&after["done"], &after["ended_at"]),
        (&json!(1), &json!("2026-03-20T10:00:00.000Z"))
    );
    // They stay while nothing of then changes, and go when it is put right.
    w.clock.set(traybook_domain::time::parse_instant("2026-03-25T10:00:00Z").expect("an instant"));
    looked_through(&w);
    assert_eq!(items(&w, "").len(), 2);
    let batch = found[0]["records"][0]["id"].as_str().expect("a batch");
    let manager = w.sign_in("manager");
    let events = manager.get(&format!("/v1/batch-events?batch_id={batch}")).expect(200).items();
    let harvest = events.iter().find(|e| e["event"] == "harvested").expect("the harvest");
    let path = format!("/v1/batch-events/{}", harvest["id"].as_str().expect("an id"));
    manager.patch(&path, "\"1\"", &json!({ "kg": 48 })).expect(200);
    looked_through(&w);
    let left: Vec<Json> = items(&w, "").iter().map(|f| f["rule"].clone()).collect();
    assert_eq!(left, ["unit_slip"]);
}
