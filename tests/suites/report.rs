//! A worked month of the savings report, through every door, and what stands beside it.

use acceptance::browser::Browser;
use acceptance::feeding::{
    FIRST, START, add_all, bought, days, first_place, place, ration, regular,
};
use acceptance::feeding::{Place, counted};
use acceptance::{Client, World, both};
use flate2::read::DeflateDecoder;
use serde_json::{Value as Json, json};
use std::io::{Read as _, Write as _};
use std::process::{Command, Stdio};
use traybook_app::{Actor, App};
use traybook_domain::{Kind, Month};
use traybook_speech::Language;

both!(
    report_follows_a_worked_example,
    every_door_says_the_same_number,
    the_seed_of_the_example_follows_its_ledger,
    fodder_fed_by_the_tray_has_no_cost_a_kg,
    milk_and_saving_are_divided_where_both_are_known,
    months_that_can_not_be_reported_are_refused,
    a_kept_report_is_the_one_that_is_read_anew,
    a_month_never_made_is_made_on_reading
);

/// A farm with four cows and months in which everything was recorded.
///
/// [MADE] Worked by hand. Until the start on 10 June 2025 the four cows ate 140 kg dairy meal in
/// ten days, 3.5 kg a cow and day, and 160 kg bran in twenty, 2 kg; since then 80 kg and 40 kg, 2
/// and 0.5 kg. Meal costs 850 a kg, bran 400. A cow and day cost 3.5 × 850 + 2 × 400 = 3,775 before,
/// and costs 2 × 850 + 0.5 × 400 = 1,900. February 2026 has 4 × 28 = 112 cow-days: baseline 112 ×
/// 3,775 = 422,800, eaten 112 × 1,900 = 212,800, feed saved 210,000. 56 kg seed of a lot of which
/// 500 kg cost 450,000 + 20,000 transport, 940 a kg = 52,640; labour 30,000; a shed of 1,200,000
/// over 60 months = 20,000. Saving 210,000 − 52,640 − 30,000 − 20,000 = 107,360.
pub fn full_month(w: &World) -> Place {
    let (a, place) = (&w.a, first_place(w));
    regular(w, place);
    let mut rows = Vec::new();
    for (from, until, kg) in [(FIRST, START, 160), (START, "2026-03-20", 40)] {
        let on = days(from, 20, until);
        rows.extend(on.iter().map(|day| bought(place.farm, a.id("bran"), *day, kg, kg * 400)));
    }
    rows.extend([ration(place.cows, a.id("feed"), 3.5), ration(place.cows, a.id("bran"), 2.0)]);
    let seed = json!({ "seed_lot_id": a.id("lot"), "date": "2026-01-05", "kg": 500,
        "price": 450_000, "transport": 20_000, "feed_grade": true, "untreated": true });
    rows.push((Kind::SeedPurchase, seed));
    let mut event = |event: &str, name: &str, value: Json| {
        let mut body = json!({ "batch_id": a.id("batch"), "event": event,
            "at": "2026-02-10T06:00:00Z" });
        body[name] = value;
        if event == "discarded" {
            body["cause"] = json!("dried_out");
        }
        rows.push((Kind::BatchEvent, body));
    };
    event("soaked", "kg", json!(56));
    event("spread", "trays", json!(28));
    event("discarded", "trays", json!(7));
    event("fed_out", "kg", json!(200));
    let labour = json!({ "farm_id": place.farm, "date": "2026-02-28", "category": "labour",
        "amount": 30_000 });
    let shed = json!({ "farm_id": place.farm, "name": "Shed", "in_service_on": "2025-06-10",
        "cost": 1_200_000, "life_months": 60 });
    let milk = json!({ "animal_group_id": place.cows, "date": "2026-02-05", "session": "day",
        "litres": 41.5, "animals_in_milk": 4 });
    rows.extend([(Kind::OtherCost, labour), (Kind::Asset, shed), (Kind::MilkRecord, milk)]);
    add_all(w, rows);
    place
}

/// The report of a month as it is made now.
pub fn report(w: &World, client: &Client, month: &str) -> Json {
    w.make_figures();
    client.get(&format!("/v1/reports/savings?month={month}")).expect(200).json()
}

/// A farm is withdrawn with what hangs on it.
pub fn withdraw(w: &World, gone: Place) {
    let manager = w.sign_in("manager");
    let machine = traybook_app::Actor::machine(w.a.coop.clone());
    let path = format!("/v1/feed-purchases?farm_id={}&limit=200", gone.farm);
    let bought = manager.get(&path).expect(200).items();
    let heads = manager.get(&format!("/v1/head-counts?animal_group_id={}", gone.cows)).expect(200);
    let id = |r: &Json| r["id"].as_str().and_then(|t| t.parse().ok()).expect("an id");
    let mut all: Vec<(Kind, uuid::Uuid)> =
        bought.iter().map(|r| (Kind::FeedPurchase, id(r))).collect();
    all.extend(heads.items().iter().map(|r| (Kind::HeadCount, id(r))));
    all.extend([(Kind::AnimalGroup, gone.cows), (Kind::Farm, gone.farm)]);
    for (kind, id) in all {
        w.wait(w.app.withdraw(&machine, kind, id, 1, None)).expect("withdrawn");
    }
}

/// A farm's line.
pub fn line<'a>(report: &'a Json, code: &str) -> &'a Json {
    let farms = report["farms"].as_array().expect("farms");
    farms.iter().find(|f| f["farm"] == code).expect("the farm")
}

/// Members of an object, each with its value.
#[track_caller]
pub fn holds(object: &Json, wanted: &Json) {
    for (name, value) in wanted.as_object().expect("object") {
        assert_eq!(object[name], *value, "{name} of {object}");
    }
}

/// The part of an interval that comes from a season that could not be taken out (C5): 0.085 times
/// the length of the sum of months, each turned by its place in the year. `after` are months with a
/// number and their baselines; `before` months of the baseline and their animal-days.
fn season_error(after: &[(i32, f64)], before: &[(i32, f64)]) -> f64 {
    let (all, days) = (after.iter().map(|m| m.1), before.iter().map(|m| m.1));
    let (all, days): (f64, f64) = (all.sum(), days.sum());
    let weights = before.iter().map(|(month, n)| (*month, -all * n / days));
    let (mut re, mut im) = (0.0, 0.0);
    for (month, x) in after.iter().copied().chain(weights) {
        let turn = 2.0 * std::f64::consts::PI * f64::from(month) / 12.0;
        re += x * turn.cos();
        im += x * turn.sin();
    }
    0.085 * f64::hypot(re, im)
}

/// Months of the worked farm's baseline: November 2024 to May 2025. October is covered from the
/// 13th on only, which is less than three quarters.
const BEFORE: [(i32, f64); 7] =
    [(11, 120.0), (12, 124.0), (1, 124.0), (2, 112.0), (3, 124.0), (4, 120.0), (5, 124.0)];
/// Months with a number and their days: July 2025 to February 2026.
const AFTER: [(i32, f64); 8] =
    [(7, 31.0), (8, 31.0), (9, 30.0), (10, 31.0), (11, 30.0), (12, 31.0), (1, 31.0), (2, 28.0)];
/// t of 10 degrees of freedom, 97.5 %: 4 of the shared scale and 6 of seven months [any t table].
const T10: f64 = 2.228_138_852;

#[track_caller]
fn around(interval: &Json, value: f64, half: f64) {
    let end = |name: &str| interval[name].as_f64().expect("an end");
    for (found, wanted) in [(end("low"), value - half), (end("high"), value + half)] {
        assert!((found - wanted).abs() <= 1.0, "{found} for {wanted}");
    }
}

fn report_follows_a_worked_example(w: World) {
    full_month(&w);
    let manager = w.sign_in("manager");
    let report = report(&w, &manager, "2026-02");
    let f1 = line(&report, "F1");
    let money = json!({
        "animal_days": 112, "baseline_cost": 422_800, "eaten_cost": 212_800,
        "feed_saving": 210_000, "seed_cost": 52_640, "other_cost": 30_000,
        "depreciation": 20_000, "saving": 107_360, "output_value": null, "net": null,
    });
    holds(f1, &money);
    let want = json!({
        "status": "estimated", "waits": [], "animals": 4, "bought_cost": 68_000 * 3 + 16_000 * 2,
        "saving_percent_of_baseline": 25.4, "saving_per_animal_day": 958.5714,
        "saving_per_litre": 2586.988, "saving_per_egg": null,
        "fresh_fodder_fed_kg": 200, "dry_matter_fed_kg": 26,
        "fodder_cost_per_kg_dry_matter": 3947.6923, "fodder_cost_per_kg_fresh_misleading": 513.2,
        "trays_started": 28, "trays_discarded": 7, "trays_discarded_percent": 25,
        "litres_per_cow_day": 10.375,
    });
    holds(f1, &want);
    let season =
        "the season is not taken out: too few farms without fodder; the interval allows for it";
    assert_eq!(f1["notes"], json!([season]), "nobody is left without fodder");
    // The same months before and after have no scatter at all: what is left is the season.
    let month = season_error(&[(2, 422_800.0)], &BEFORE);
    around(&f1["saving_interval"], 107_360.0, T10 * month);
    // Four cows saved 7,500 a day from July to February, 243 days; the shed took 8 × 20,000, seed
    // and labour 82,640.
    let since = &f1["since_start"];
    let saving = 243 * 7_500 - 8 * 20_000 - 82_640;
    holds(since, &json!({ "saving": saving, "farm_months": 8, "of_farm_months": 8 }));
    let after = AFTER.map(|(month, days)| (month, days * 4.0 * 3_775.0));
    around(&since["saving_interval"], f64::from(saving), T10 * season_error(&after, &BEFORE));
    // One class of animals has the same money as the farm.
    let classes = f1["enterprises"].as_array().expect("classes");
    assert_eq!(classes.len(), 1, "no hens, no line: {classes:?}");
    holds(&classes[0], &json!({ "enterprise": "dairy_cows", "status": "estimated" }));
    holds(&classes[0], &money);
    // The other farm has no records: no number, and why; it is left out of the totals.
    let f2 = line(&report, "F2");
    holds(f2, &json!({ "status": "no_baseline", "saving": null, "baseline_cost": null }));
    let total = &report["total"];
    holds(
        total,
        &json!({ "saving": 107_360, "feed_saving": 210_000, "farms_included": 1,
        "farms_left_out": 1, "left_out_by_status": { "no_baseline": 1 } }),
    );
    around(&total["saving_interval"], 107_360.0, 1.96 * month);
    holds(
        &total["since_start"],
        &json!({ "saving": saving, "farm_months": 8,
        "of_farm_months": 8 + 8 }),
    );
    // The farm's interval lies above zero: 69,662 to 145,058.
    let verdict = json!({ "farms_saving": 1, "farms_losing": 0, "farms_unclear": 0 });
    holds(total, &verdict);
    let areas = report["areas"].as_array().expect("areas");
    let north = areas.iter().find(|a| a["name"] == "North hill").expect("area");
    holds(north, &json!({ "saving": 107_360, "farms_included": 1, "farms_left_out": 0 }));
    holds(
        &report,
        &json!({ "method_version": 2, "is_running": false, "is_closed": false,
        "settled": 0, "adjustments_total": 0, "earlier_method": [], "currency": "TZS" }),
    );
}

/// The texts of a workbook's sheets and strings.
fn workbook_text(bytes: &[u8]) -> String {
    let number = |at: usize, size: usize| {
        bytes[at..at + size].iter().rev().fold(0_usize, |n, b| n << 8 | usize::from(*b))
    };
    let mut text = String::new();
    // Entries of the central directory (PKWARE APPNOTE 4.3.12).
    for at in (0..bytes.len() - 46).filter(|at| bytes[*at..].starts_with(b"PK\x01\x02")) {
        let (size, local) = (number(at + 20, 4), number(at + 42, 4));
        let name = &bytes[at + 46..at + 46 + number(at + 28, 2)];
        if !name.starts_with(b"xl/worksheets/sheet") && name != b"xl/sharedStrings.xml" {
            continue;
        }
        let from = local + 30 + number(local + 26, 2) + number(local + 28, 2);
        let mut unpacked = String::new();
        DeflateDecoder::new(&bytes[from..from + size])
            .read_to_string(&mut unpacked)
            .expect("a deflated text");
        text.push_str(&unpacked);
    }
    text
}

/// The text of a PDF, its thousands together.
pub fn pdf_text(bytes: &[u8]) -> String {
    let mut reader = Command::new("pdftotext")
        .args(["-layout", "-enc", "UTF-8", "-", "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("pdftotext is there: poppler-utils");
    let bytes = bytes.to_vec();
    let mut into = reader.stdin.take().expect("a way in");
    let writer = std::thread::spawn(move || into.write_all(&bytes));
    let out = reader.wait_with_output().expect("it ends");
    writer.join().expect("written").expect("written");
    assert!(out.status.success(), "{out:?}");
    let text = String::from_utf8(out.stdout).expect("a text");
    let is_digit = |at: Option<usize>| {
        at.and_then(|at| text.as_bytes().get(at)).is_some_and(u8::is_ascii_digit)
    };
    let is_apart = |(at, letter): &(usize, char)| {
        let after = at + letter.len_utf8();
        letter.is_whitespace() && is_digit(at.checked_sub(1)) && is_digit(Some(after))
    };
    text.char_indices().filter(|c| !is_apart(c)).map(|c| c.1).collect()
}

/// What each door says of a month: CSV, page, the farm's page, workbook, PDF, the farm's PDF.
pub fn doors(w: &World, place: Place, month: &str) -> Vec<(&'static str, String)> {
    let manager = w.sign_in("manager");
    let path = format!("/v1/reports/savings?month={month}");
    let csv = manager.send("GET", &path, &[("accept", "text/csv")], None).expect(200);
    assert_eq!(csv.header("content-type"), Some("text/csv; charset=utf-8"));
    let mut browser = Browser::sign_in(w, "manager");
    let mut page = |path: String| browser.get(&path).expect(200).text.replace('\u{202f}', "");
    let (report, result) = (
        page(format!("/savings?month={month}")),
        page(format!("/result?farm={}&month={month}", place.farm)),
    );
    let (actor, l) = (Actor::machine(w.a.coop.clone()), Language::En);
    let book = w.wait(w.app.month_workbook(&actor, month, l)).expect("a workbook");
    let pdf = w.wait(w.app.savings_pdf(&actor, month, l)).expect("a document");
    let own = w.wait(w.app.member_pdf(&actor, place.farm, month, l)).expect("a document");
    vec![
        ("CSV", csv.text),
        ("page", report),
        ("the farm's page", result),
        ("workbook", workbook_text(&book)),
        ("PDF", pdf_text(&pdf)),
        ("the farm's PDF", pdf_text(&own)),
    ]
}

fn every_door_says_the_same_number(w: World) {
    let place = full_month(&w);
    w.make_figures();
    // The running month: nothing of a baseline or a saving, anywhere.
    let march = report(&w, &w.sign_in("manager"), "2026-03");
    holds(&march, &json!({ "is_running": true }));
    let none = json!({ "baseline_cost": null, "eaten_cost": null, "feed_saving": null,
        "saving": null, "saving_interval": null, "net": null, "saving_percent_of_baseline": null,
        "saving_per_litre": null, "saving_per_animal_day": null });
    let f1 = line(&march, "F1");
    holds(f1, &json!({ "status": "running", "bought_cost": 68_000 * 2 + 16_000 }));
    for part in [f1, &f1["enterprises"][0], &march["total"], &march["areas"][0]] {
        for (name, value) in none.as_object().expect("members") {
            assert_eq!(part.get(name).unwrap_or(&Json::Null), value, "{name} of {part}");
        }
    }
    // 19 days are known: 76 cow-days, which would be 286,900 of baseline, 144,400 eaten and 142,500
    // saved.
    assert_eq!(f1["animal_days"], 76);
    for (door, text) in doors(&w, place, "2026-03") {
        for number in ["286900", "144400", "142500", "122500"] {
            assert!(!text.contains(number), "{door} says {number}: {text}");
        }
        assert!(
            door == "CSV" || door == "workbook" || text.contains("month is not over"),
            "{door}: {text}"
        );
    }
    // February: the saving and its parts.
    for (door, text) in doors(&w, place, "2026-02") {
        for number in ["422800", "212800", "210000", "107360"] {
            assert!(text.contains(number), "{door} lacks {number}: {text}");
        }
        let parts = ["52640", "30000", "20000"];
        let has_parts = parts.iter().all(|n| text.contains(n));
        assert!(has_parts || text.contains("102640"), "{door} lacks the costs of fodder: {text}");
    }
    let csv = &doors(&w, place, "2026-02")[0].1;
    let row = "F1,dairy_cows,estimated,4,112,422800,212800,210000,52640,30000,20000,107360,";
    assert!(csv.contains(row), "{csv}");
}

fn the_seed_of_the_example_follows_its_ledger(w: World) {
    full_month(&w);
    let manager = w.sign_in("manager");
    // A farm that was charged for its seed pays that price.
    let issue = json!({ "seed_lot_id": w.a.id("lot"), "farm_id": w.a.id("farm"),
        "date": "2026-01-07", "kg": 100, "price": 100_000, "payment": "credit" });
    w.make(&w.a, Kind::SeedIssue, issue);
    let charged = report(&w, &manager, "2026-02");
    // 56 kg at 1,000.
    holds(line(&charged, "F1"), &json!({ "seed_cost": 56_000, "saving": 104_000 }));
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
    // Seed of a lot without a price: the costs are not known, and so there is no number.
    let batch = json!({ "shed_id": w.a.id("shed"), "seed_lot_id": w.a.id("other_lot"),
        "crop": "barley" });
    let batch = w.make(&w.a, Kind::Batch, batch);
    let soak = json!({ "batch_id": batch, "event": "soaked", "at": "2026-02-12T06:00:00Z",
        "kg": 2 });
    w.make(&w.a, Kind::BatchEvent, soak);
    let unpriced = report(&w, &manager, "2026-02");
    let f1 = line(&unpriced, "F1");
    holds(
        f1,
        &json!({ "status": "missing", "waits": [{ "what": "seed_price" }],
        "saving": null, "seed_cost": null }),
    );
}

/// A farm whose only costs of fodder are 10 kg seed at 940 and labour of 600, for 50 kg fed in
/// February 2026.
fn weighed_farm(w: &World) {
    let place = place(w, "W1");
    regular(w, place);
    let shed = json!({ "code": "W1-S", "farm_id": place.farm, "tray_places": 12 });
    let shed = w.make(&w.a, Kind::Shed, shed);
    let batch = json!({ "shed_id": shed, "crop": "barley", "seed_lot_id": w.a.id("lot") });
    let batch = w.make(&w.a, Kind::Batch, batch);
    let event = |event: &str, day: u8, more: (&str, i64)| {
        let at = format!("2026-02-{day:02}T06:00:00Z");
        (Kind::BatchEvent, json!({ "batch_id": batch, "event": event, "at": at, more.0: more.1 }))
    };
    let labour = json!({ "farm_id": place.farm, "date": "2026-02-28", "category": "labour",
        "amount": 600 });
    let rows = vec![
        (Kind::OtherCost, labour),
        event("soaked", 10, ("kg", 10)),
        event("spread", 11, ("trays", 5)),
        event("fed_out", 18, ("kg", 50)),
    ];
    add_all(w, rows);
}

/// Fodder that was fed by the tray has a cost and no weight: what a kg cost is not known then.
fn fodder_fed_by_the_tray_has_no_cost_a_kg(w: World) {
    full_month(&w);
    let manager = w.sign_in("manager");
    let fed = json!({ "batch_id": w.a.id("batch"), "event": "fed_out",
        "at": "2026-02-28T20:59:59Z", "trays": 3, "reason": "looked at: dry and sweet" });
    let fed = w.make(&w.a, Kind::BatchEvent, fed);
    let unweighed = report(&w, &manager, "2026-02");
    let f1 = line(&unweighed, "F1");
    assert_eq!((&f1["trays_fed_unweighed"], &f1["fresh_fodder_fed_kg"]), (&json!(3), &json!(200)));
    assert_eq!(f1["fodder_cost_per_kg_dry_matter"], Json::Null);
    let note = "fodder was fed without being weighed: its kg are not counted, and what a kg cost is not \
                known";
    assert!(f1["notes"].as_array().expect("notes").contains(&json!(note)), "{}", f1["notes"]);
    assert_eq!(f1["saving"], 107_360, "the saving comes from what was paid");
    assert_eq!(unweighed["total"]["fodder_cost_per_kg_dry_matter"], Json::Null);
    // [ARITH] A farm that weighed all of it alone tells what a kg cost: 9,400 of seed and 600 of
    // labour for 50 kg at 13 % dry matter are 10,000 / 6.5.
    weighed_farm(&w);
    let both = report(&w, &manager, "2026-02");
    assert_eq!(line(&both, "W1")["fodder_cost_per_kg_dry_matter"], 1538.4615);
    let total = &both["total"];
    assert_eq!((&total["farms_included"], &total["fresh_fodder_fed_kg"]), (&json!(2), &json!(250)));
    assert_eq!(total["fodder_cost_per_kg_dry_matter"], 1538.4615);
    assert_eq!(total["trays_fed_unweighed"], 3);
    let next = report(&w, &manager, "2026-03");
    assert_eq!(line(&next, "F1")["trays_fed_unweighed"], 0, "the month is the co-operative's");
    let path = format!("/v1/batch-events/{fed}");
    let version = manager.get(&path).expect(200).header("etag").expect("etag").to_owned();
    manager.delete(&path, &version).expect(204);
    let cost =
        line(&report(&w, &manager, "2026-02"), "F1")["fodder_cost_per_kg_dry_matter"].clone();
    assert_eq!(cost, 3947.6923);
}

/// Per litre only over what has both a number and milk.
fn milk_and_saving_are_divided_where_both_are_known(w: World) {
    full_month(&w);
    let dry = place(&w, "D1");
    regular(&w, dry);
    let report = report(&w, &w.sign_in("manager"), "2026-02");
    let d1 = line(&report, "D1");
    // 112 cow-days, 1.5 kg meal less a day at 850; no seed, no costs.
    holds(d1, &json!({ "status": "estimated", "saving": 112 * 1_275, "saving_per_litre": null }));
    let notes = json!([
        "no other costs are recorded",
        "no soak is recorded",
        "the season is not taken out: too few farms without fodder; the interval allows for it"
    ]);
    assert_eq!(d1["notes"], notes);
    let total = &report["total"];
    holds(
        total,
        &json!({ "saving": 107_360 + 112 * 1_275, "saving_per_litre": 2586.988,
        "animal_days": 224, "saving_per_animal_day": null }),
    );
}

fn months_that_can_not_be_reported_are_refused(w: World) {
    full_month(&w);
    let manager = w.sign_in("manager");
    for wrong in ["2026-13", "2026-4", "2026-04", "x", ""] {
        manager.get(&format!("/v1/reports/savings?month={wrong}")).expect(422);
    }
    // A month before any record is one, with nothing in it.
    let early = report(&w, &manager, "2024-01");
    assert_eq!(early["is_running"], false);
    assert_eq!(early["farms"], json!([]), "nobody was a member in January 2024");
    let early = report(&w, &manager, "2024-03");
    let none = json!({ "status": "not_started", "saving": null, "waits": [], "since_start": null });
    let f1 = line(&early, "F1");
    for (name, value) in none.as_object().expect("members") {
        if name != "since_start" {
            assert_eq!(&f1[name], value, "{name}");
        }
    }
    holds(&early["total"], &json!({ "farms_included": 0, "farms_left_out": 2, "saving": null }));
}

/// The report of an open month is kept between two changes; figures that are made anew are seen at
/// once.
fn a_kept_report_is_the_one_that_is_read_anew(w: World) {
    full_month(&w);
    w.make_figures();
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
    let cost = |day: &str| json!({ "farm_id": w.a.id("farm"), "date": day, "category": "repairs", "amount": 5_000 });
    w.make(&w.a, Kind::OtherCost, cost("2026-03-02"));
    same("a cost that is not made yet");
    w.make_figures();
    same("a cost");
    manager.post("/v1/month-closes", &json!({ "month": "2026-01" })).expect(201);
    same("a month that was closed");
    w.make(&w.a, Kind::OtherCost, cost("2026-01-20"));
    w.make_figures();
    let adjusted = same("a cost in a closed month");
    assert_eq!(adjusted.adjustments.len(), 1);
    // The closing of February takes the adjustment: it is no news any more.
    manager.post("/v1/month-closes", &json!({ "month": "2026-02" })).expect(201);
    assert!(same("another month that was closed").adjustments.is_empty());
}

/// Without any making the report is of this moment; once made it says of which moment it is.
fn a_month_never_made_is_made_on_reading(w: World) {
    let place = full_month(&w);
    let manager = w.sign_in("manager");
    let read = || manager.get("/v1/reports/savings?month=2026-02").expect(200).json();
    let first = read();
    assert_eq!(line(&first, "F1")["saving"], 107_360);
    assert_eq!((&first["revision"], &first["made_at"]), (&Json::Null, &Json::Null));
    w.make_figures();
    let made = read();
    assert_eq!(made["farms"], first["farms"]);
    assert!(made["revision"].is_i64() && made["made_at"] == acceptance::world::NOW, "{made}");
    // A fifth cow since 15 February is counted by the next making.
    add_all(&w, vec![counted(place.cows, "2026-02-15", 5)]);
    assert_eq!(read()["farms"], made["farms"]);
    assert_eq!(line(&report(&w, &manager, "2026-02"), "F1")["animal_days"], 4 * 14 + 5 * 14);
}
