//! Why a farm has a number in a month or none: each status, what it waits for, and where a page
//! lets it be answered.

use crate::report::{doors, holds, line, report};
use acceptance::browser::Browser;
use acceptance::feeding::{FIRST, Place, START, add_all, bought, counted, day, days, meal, place};
use acceptance::feeding::{place_of, ration, regular, regular_but};
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_domain::Kind;
use uuid::Uuid;

both!(
    a_farm_that_has_not_started_has_no_number,
    the_month_of_the_start_is_neither_before_nor_after,
    nothing_known_from_before_the_start_is_no_baseline,
    a_digit_too_many_is_held_until_it_is_accepted,
    a_digit_too_many_is_held_until_it_is_corrected,
    a_held_purchase_before_the_start_holds_the_baseline_back,
    a_farm_that_tops_up_is_told_which_purchase_is_held,
    a_lot_in_use_is_waited_for,
    a_forgotten_purchase_is_missing_until_it_is_written_down,
    a_month_without_a_purchase_is_missing_until_somebody_says_so,
    what_was_bought_before_the_start_is_no_saving,
    a_ration_alone_gives_a_number_that_says_so,
    a_farm_that_nobody_counted_is_told_to_count,
);

/// A farm's line of February 2026.
fn february(w: &World, code: &str) -> Json {
    line(&report(w, &w.sign_in("manager"), "2026-02"), code).clone()
}

/// A line without a number.
#[track_caller]
fn lacks(line: &Json, status: &str) {
    let none = json!({ "status": status, "baseline_cost": null, "eaten_cost": null,
        "feed_saving": null, "saving": null, "saving_interval": null, "net": null });
    holds(line, &none);
}

/// Four cows that ate 2 kg a day less than the 3.5 of before, 850 a kg: 1,275 a cow and day.
const SAVED: i64 = 112 * 1_275;

/// What the close page and the round say of a farm: the text from its name on.
fn on_pages(w: &World, code: &str) -> [String; 2] {
    let title = format!("{code} · ");
    let of = |who: &str, path: &str, heading: &str| {
        let page = Browser::sign_in(w, who).get(path).expect(200).text.replace("&#38;", "&");
        let list = page.split(heading).nth(1).unwrap_or_default().to_owned();
        let item = list.split(&title).nth(1).unwrap_or_default();
        item.split("</li>\n").next().unwrap_or_default().to_owned()
    };
    [
        of("manager", "/close?month=2026-02", "What is missing"),
        of("officer", "/round", "What the savings report waits for"),
    ]
}

/// Both pages name the farm with a sentence and links.
#[track_caller]
fn is_asked(w: &World, code: &str, sentence: &str, links: &[&str]) {
    for page in on_pages(w, code) {
        assert!(page.contains(sentence), "{sentence}: {page}");
        for link in links {
            assert!(page.contains(link), "{link}: {page}");
        }
    }
}

#[track_caller]
fn is_not_asked(w: &World, code: &str) {
    assert_eq!(on_pages(w, code), ["", ""], "nothing to do about {code}");
}

fn a_farm_that_has_not_started_has_no_number(w: World) {
    for (code, start) in [("N1", None), ("N2", Some("2026-03-02")), ("N3", Some("2026-05-01"))] {
        let place = place_of(&w, "member", code, start);
        let rows = meal(&w, place, &days(FIRST, 10, "2026-03-20"), 140);
        add_all(&w, rows);
        let line = february(&w, code);
        lacks(&line, "not_started");
        holds(&line, &json!({ "animal_days": 112, "waits": [] }));
        // Started this month or not: no month is over.
        assert_eq!(line["since_start"]["of_farm_months"].as_i64().unwrap_or(0), 0, "{line}");
        is_not_asked(&w, code);
    }
    let march = report(&w, &w.sign_in("manager"), "2026-03");
    // A start in this month is one; a start to come is none, and nothing is a number.
    for (code, status) in [("N1", "not_started"), ("N2", "running"), ("N3", "not_started")] {
        lacks(line(&march, code), status);
    }
}

fn the_month_of_the_start_is_neither_before_nor_after(w: World) {
    let place = place(&w, "S1");
    regular(&w, place);
    let manager = w.sign_in("manager");
    let of = |month: &str| line(&report(&w, &manager, month), "S1").clone();
    lacks(&of("2025-06"), "start_month");
    lacks(&of("2025-05"), "not_started");
    holds(&of("2025-07"), &json!({ "status": "estimated", "saving": 124 * 1_275 }));
}

fn nothing_known_from_before_the_start_is_no_baseline(w: World) {
    let place = place(&w, "B1");
    let rows = meal(&w, place, &days(START, 10, "2026-03-20"), 80);
    add_all(&w, rows);
    let line = february(&w, "B1");
    lacks(&line, "no_baseline");
    assert_eq!(line["waits"], json!([{ "what": "baseline", "enterprise": "dairy_cows" }]));
    let link = format!("/farms/{}/book/baseline-rations", place.farm);
    is_asked(&w, "B1", "Record the ration before fodder", &[&link]);
    // A ration stated now is the baseline.
    add_all(&w, vec![ration(place.cows, w.a.id("feed"), 3.5)]);
    let line = february(&w, "B1");
    let number = json!({ "status": "ration_only", "saving": SAVED, "baseline_cost": 112 * 2_975 });
    holds(&line, &number);
}

/// A farm whose purchase of 15 February has a digit too many; the purchase. `cost` is its cost.
fn slip(w: &World, code: &str, cost: i64) -> (Place, Uuid) {
    let place = place(w, code);
    let rows = regular_but(w, place, &["2026-02-15"]);
    add_all(w, rows);
    let wrong = bought(place.farm, w.a.id("feed"), day("2026-02-15"), 800, cost);
    let id = add_all(w, vec![wrong]).remove(0);
    (place, id)
}

/// The finding about a farm of a rule.
fn found(w: &World, rule: &str, farm: Uuid) -> Vec<Json> {
    let mut all = crate::review::items(w, &format!("?rule={rule}"));
    all.retain(|f| f["farm_id"] == json!(farm));
    all
}

fn a_digit_too_many_is_held_until_it_is_accepted(w: World) {
    regular(&w, place(&w, "R1"));
    // 800 kg for the money of 80: the price is a tenth. 800 kg for ten times the money: the kg.
    for (code, cost, rule, what) in
        [("H1", 68_000, "feed_price", "held_price"), ("H2", 680_000, "feed_kg", "held_kg")]
    {
        let (place, purchase) = slip(&w, code, cost);
        let line = february(&w, code);
        lacks(&line, "held");
        let wait = json!({ "what": what, "enterprise": "dairy_cows", "feed": "Dairy meal",
            "feed_id": w.a.id("feed"), "purchase_id": purchase, "from": "2026-02-15" });
        assert_eq!(line["waits"], json!([wait]));
        let links =
            [format!("/review?farm={}", place.farm), format!("/book/feed-purchases/{purchase}")];
        is_asked(&w, code, "of the Dairy meal bought on 2026-02-15", &[&links[0], &links[1]]);
        let [finding] = found(&w, rule, place.farm).try_into().expect("one finding");
        // What it holds back: the lot up to the next purchase.
        let figures = &finding["figures"];
        holds(figures, &json!({ "uncounted_from": "2026-02-15", "uncounted_until": "2026-02-24" }));
        let accept = json!({ "farm_id": place.farm, "rule": rule, "finding": finding["finding"],
            "evidence": finding["evidence"], "accepted_on": "2026-03-20",
            "reason": "bought for a feast" });
        w.sign_in("officer").post("/v1/review-acceptances", &accept).expect(201);
        let line = february(&w, code);
        // 18 days of 8 kg, and the lot of 800 kg from 15 to 24 February. The month's price is that
        // of what was eaten, so 112 cow-days of 3.5 kg cost 392 of the 944 kg.
        let eaten = f64::from(144 * 850) + cost as f64;
        let cents = |value: f64| json!((value * 100.0).round() / 100.0).as_f64();
        let of = |name: &str| line[name].as_f64();
        assert_eq!(of("eaten_cost"), cents(eaten));
        assert_eq!(of("baseline_cost"), cents(eaten * 392.0 / 944.0));
        holds(&line, &json!({ "status": "estimated", "waits": [] }));
        assert_eq!(found(&w, rule, place.farm), Vec::<Json>::new());
        // Another cost is another figure: the acceptance does not cover it.
        let path = format!("/v1/feed-purchases/{purchase}");
        w.sign_in("manager").patch(&path, "\"1\"", &json!({ "cost": cost / 2 })).expect(200);
        lacks(&february(&w, code), "held");
    }
}

fn a_digit_too_many_is_held_until_it_is_corrected(w: World) {
    let (place, purchase) = slip(&w, "H1", 680_000);
    let before = report(&w, &w.sign_in("manager"), "2026-02");
    lacks(line(&before, "H1"), "held");
    holds(&before["total"], &json!({ "farms_included": 0, "saving": null }));
    let path = format!("/v1/feed-purchases/{purchase}");
    let right = json!({ "kg": 80, "cost": 68_000 });
    w.sign_in("manager").patch(&path, "\"1\"", &right).expect(200);
    let clean = february(&w, "H1");
    holds(&clean, &json!({ "status": "estimated", "waits": [], "saving": SAVED }));
    // Wrong and right again: nothing has changed.
    w.sign_in("manager").patch(&path, "\"2\"", &json!({ "kg": 8_000 })).expect(200);
    lacks(&february(&w, "H1"), "held");
    w.sign_in("manager").patch(&path, "\"3\"", &json!({ "kg": 80 })).expect(200);
    assert_eq!(february(&w, "H1"), clean);
    is_not_asked(&w, "H1");
    assert_eq!(found(&w, "feed_kg", place.farm), Vec::<Json>::new());
}

fn a_held_purchase_before_the_start_holds_the_baseline_back(w: World) {
    let place = place(&w, "H3");
    // Four lots of a month before the start, each with a digit too many in the kg.
    let other = acceptance::feeding::place(&w, "R1");
    regular(&w, other);
    let mut rows = meal(&w, place, &days(START, 10, "2026-03-20"), 80);
    for on in days("2025-01-11", 30, START) {
        rows.push(bought(place.farm, w.a.id("feed"), on, 4_200, 357_000));
    }
    add_all(&w, rows);
    let line = february(&w, "H3");
    lacks(&line, "no_baseline");
    let waits = line["waits"].as_array().expect("waits");
    let held = waits.iter().filter(|w| w["what"] == "held_price").count();
    assert!(held > 0, "the purchases that hold it back are named: {waits:?}");
}

/// A farm buys as much as the days before have used: the purchase of a day tells of the days before.
fn a_farm_that_tops_up_is_told_which_purchase_is_held(w: World) {
    let place = place(&w, "T1");
    // Uneven intervals with kg in proportion to the days that are over.
    let (mut on, mut rows, mut turn) = (day(FIRST), Vec::new(), 0_u32);
    let mut slipped = None;
    while on < day("2026-03-18") {
        let gap: u64 = if turn % 2 == 0 { 6 } else { 12 };
        let per_day = if on < day(START) { 14 } else { 8 };
        let next = traybook_domain::time::plus_days(on, gap);
        let kg = per_day * i64::try_from(gap).expect("days");
        let is_slip = slipped.is_none() && next >= day("2026-02-10");
        let kg = if is_slip { kg * 10 } else { kg };
        rows.push(bought(place.farm, w.a.id("feed"), next, kg, kg * 850));
        if is_slip {
            slipped = Some((next, rows.len() - 1));
        }
        (on, turn) = (next, turn + 1);
    }
    let ids = add_all(&w, rows);
    let (on, at) = slipped.expect("a slip");
    let line = february(&w, "T1");
    lacks(&line, "held");
    let waits = line["waits"].as_array().expect("waits");
    let held: Vec<&Json> = waits.iter().filter(|w| w["what"] == "held_kg").collect();
    assert_eq!(held.len(), 1, "{waits:?}");
    assert_eq!((&held[0]["purchase_id"], &held[0]["from"]), (&json!(ids[at]), &json!(on)));
}

fn a_lot_in_use_is_waited_for(w: World) {
    let place = place_of(&w, "member", "L1", Some("2026-01-01"));
    let mut rows = meal(&w, place, &days("2025-03-07", 30, "2026-01-01"), 420);
    // One lot since the start is finished, the other in use: a rate of its own needs two.
    rows.extend(meal(&w, place, &[day("2026-01-01"), day("2026-02-10")], 320));
    add_all(&w, rows);
    let line = february(&w, "L1");
    lacks(&line, "waiting");
    let wait = json!({ "what": "next_purchase", "enterprise": "dairy_cows", "feed": "Dairy meal",
        "feed_id": w.a.id("feed"), "from": "2026-02-10" });
    assert_eq!(line["waits"], json!([wait]));
    // There is nothing to do but wait.
    is_not_asked(&w, "L1");
    // The next purchase tells: 320 kg in 32 days from 10 February, 8 a day as before.
    let next = meal(&w, place, &[day("2026-03-14")], 320);
    add_all(&w, next);
    holds(
        &february(&w, "L1"),
        &json!({ "status": "estimated", "eaten_cost": (9 * 8 + 19 * 10) * 850 }),
    );
}

fn a_forgotten_purchase_is_missing_until_it_is_written_down(w: World) {
    let place = place(&w, "M1x");
    let rows = regular_but(&w, place, &["2026-02-15"]);
    add_all(&w, rows);
    let line = february(&w, "M1x");
    lacks(&line, "missing");
    // The lot of 5 February lasts ten days, as usual; nothing is known of the ten after it.
    let wait = json!({ "what": "purchase", "enterprise": "dairy_cows", "feed": "Dairy meal",
        "feed_id": w.a.id("feed"), "from": "2026-02-15", "until": "2026-02-24", "last_purchase_on": "2026-02-05" });
    assert_eq!(line["waits"], json!([wait]));
    let links = [
        format!("/farms/{}/book/feed-purchases", place.farm),
        // Something was bought in February: what tells is how much was left.
        format!("/farms/{}/book/feed-counts", place.farm),
    ];
    is_asked(&w, "M1x", "Dairy meal, 2026-02-15 to 2026-02-24", &[&links[0], &links[1]]);
    let found = found(&w, "feed_gap", place.farm);
    assert_eq!(found.len(), 1, "{found:?}");
    let late = meal(&w, place, &[day("2026-02-15")], 80);
    add_all(&w, late);
    holds(&february(&w, "M1x"), &json!({ "status": "estimated", "waits": [], "saving": SAVED }));
    is_not_asked(&w, "M1x");
}

fn a_month_without_a_purchase_is_missing_until_somebody_says_so(w: World) {
    // Once a month, on the 20th: 420 kg for thirty days before, 240 since the start.
    let monthly = |code: &str| {
        let place = place(&w, code);
        let on: Vec<_> = (1..=17)
            .map(|n| {
                let (year, month) = (2024 + (9 + n) / 12, (9 + n) % 12 + 1);
                day(&format!("{year}-{month:02}-20"))
            })
            .collect();
        let is_there = |d: &&chrono::NaiveDate| **d != day("2026-02-20") && **d < day("2026-03-20");
        let mut rows = Vec::new();
        for on in on.iter().filter(is_there) {
            rows.extend(meal(&w, place, &[*on], if *on < day(START) { 420 } else { 240 }));
        }
        add_all(&w, rows);
        place
    };
    let place = monthly("Z1");
    w.clock.set(traybook_domain::time::parse_instant("2026-03-30T09:00:00Z").expect("instant"));
    let later = meal(&w, place, &[day("2026-03-25")], 240);
    add_all(&w, later);
    let line = february(&w, "Z1");
    lacks(&line, "missing");
    assert_eq!(line["waits"][0]["what"], "purchase", "{line}");
    // With one tap: none was bought in February, and some was left.
    let mut browser = Browser::sign_in(&w, "manager");
    let page = browser.get("/close?month=2026-02").expect(200).text.replace("&#38;", "&");
    let mut links = page.split("href=\"").filter_map(|l| l.split('"').next());
    let of = format!("/farms/{}/nothing-bought?", place.farm);
    let link = links.find(|l| l.starts_with(&of)).expect("a link").to_owned();
    let address = format!("/farms/{}/nothing-bought", place.farm);
    let done = browser.fill(&link, &address, &[("stock", "some")]);
    assert_eq!(done.status, 303, "{}", done.text);
    assert!(done.header("location").is_some_and(|to| to.starts_with("/close?month=2026-02")));
    let line = february(&w, "Z1");
    holds(&line, &json!({ "status": "estimated", "waits": [] }));
    // 240 kg last 31 days at the median; these of 20 January at most twice as long, 62 days.
    assert_eq!(line["eaten_cost"], 92_129.03, "28 / 62 of 240 kg at 850");
}

fn what_was_bought_before_the_start_is_no_saving(w: World) {
    let place = place_of(&w, "member", "O1", Some("2026-01-15"));
    let mut rows = meal(&w, place, &days("2025-03-06", 10, "2026-01-10"), 140);
    // 644 kg are 46 days as before: from 10 January to 25 February.
    rows.extend(meal(&w, place, &[day("2026-01-10")], 46 * 14));
    rows.extend(meal(&w, place, &days("2026-02-25", 10, "2026-03-20"), 80));
    add_all(&w, rows);
    let line = february(&w, "O1");
    lacks(&line, "start_lot");
    assert_eq!(line["waits"], json!([]));
    is_not_asked(&w, "O1");
}

fn a_ration_alone_gives_a_number_that_says_so(w: World) {
    let place = place(&w, "A1");
    let mut rows = meal(&w, place, &days(START, 10, "2026-03-20"), 80);
    rows.push(ration(place.cows, w.a.id("feed"), 3.5));
    add_all(&w, rows);
    let line = february(&w, "A1");
    holds(
        &line,
        &json!({ "status": "ration_only", "saving": SAVED, "waits": [],
        "baseline_cost": 112 * 2_975 }),
    );
    let total = report(&w, &w.sign_in("manager"), "2026-02")["total"].clone();
    holds(&total, &json!({ "farms_included": 1, "saving": SAVED }));
    for (door, text) in doors(&w, place, "2026-02") {
        assert!(text.contains(&SAVED.to_string()), "{door}: {text}");
    }
    is_not_asked(&w, "A1");
}

fn a_farm_that_nobody_counted_is_told_to_count(w: World) {
    let body = json!({ "code": "C1", "member_id": w.a.id("member"),
        "area_id": w.a.id("sub_area"), "fodder_started_on": START });
    let farm = w.make(&w.a, Kind::Farm, body);
    let group = json!({ "code": "C1-cows", "farm_id": farm, "animal_class": "dairy_cows" });
    let place = Place { farm, cows: w.make(&w.a, Kind::AnimalGroup, group) };
    regular(&w, place);
    let line = february(&w, "C1");
    lacks(&line, "no_baseline");
    let counts = line["waits"].as_array().expect("waits").iter();
    assert!(counts.clone().any(|w| w["what"] == "head_count"), "{line}");
    is_asked(&w, "C1", "Record a head count of the animals", &[&format!("/farms/{farm}")]);
    // Counted since the start only, with a ration: the purchases of before are no lots.
    let rows = vec![counted(place.cows, START, 4), ration(place.cows, w.a.id("feed"), 3.5)];
    add_all(&w, rows);
    holds(&february(&w, "C1"), &json!({ "status": "ration_only", "saving": SAVED }));
}
