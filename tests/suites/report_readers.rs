//! Who reads which number of the savings report; and farms that are no plain case.

use crate::report::{full_month, holds, line, report};
use acceptance::browser::Browser;
use acceptance::feeding::{FIRST, Place, START, add_all, bought, counted, day, days, meal, place};
use acceptance::feeding::{place_of, ration, regular};
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_domain::Kind;
use uuid::Uuid;

both!(
    everybody_reads_the_same_number,
    a_closed_report_is_narrowed_by_farm_not_by_code,
    programme_readers_get_sums_with_intervals_of_five_members_or_more,
    two_classes_of_animals_are_two_rows_and_one_number,
    a_feed_of_two_classes_is_split_by_what_their_rations_say,
    a_purchase_that_nobody_can_place_asks_whose_it_is,
    purchases_before_anybody_counted_are_no_lots,
    one_lot_or_four_on_a_day_are_the_same,
    a_feed_left_in_store_ends_the_lot,
    twice_the_money_is_twice_the_saving,
    a_farm_that_buys_nothing_any_more_is_asked_for_its_ration,
);

fn everybody_reads_the_same_number(w: World) {
    let own = full_month(&w);
    let other = place_of(&w, "other_member", "X1", Some(START));
    regular(&w, other);
    w.make_figures();
    let path = "/v1/reports/savings?month=2026-02";
    let of = |who: &str| w.sign_in(who).get(path).expect(200).json();
    let manager = of("manager");
    for who in ["officer", "member"] {
        let report = of(who);
        assert_eq!(line(&report, "F1"), line(&manager, "F1"), "{who}");
        assert_eq!(report["farms"].as_array().map(Vec::len), Some(1), "{who} sees no other farm");
        holds(
            &report,
            &json!({ "total": null, "areas": [], "settled": null,
            "adjustments_total": null, "earlier_method": [] }),
        );
    }
    w.sign_in("programme_reader").get(path).expect(403);
    w.sign_in("operator").get(path).expect(403);
    // The pages say it in the same figures.
    for who in ["manager", "officer", "member"] {
        let mut browser = Browser::sign_in(&w, who);
        let page =
            browser.get(&format!("/result?farm={}&month=2026-02", own.farm)).expect(200).text;
        for part in ["107\u{202f}360", "422\u{202f}800", "212\u{202f}800", "69\u{202f}66", "8 of 8"]
        {
            assert!(page.contains(part), "{who}: {part}: {page}");
        }
    }
    let mut member = Browser::sign_in(&w, "member");
    assert_eq!(member.get(&format!("/result?farm={}&month=2026-02", other.farm)).status, 404);
}

fn a_closed_report_is_narrowed_by_farm_not_by_code(w: World) {
    full_month(&w);
    let boss = w.sign_in("manager");
    boss.post("/v1/month-closes", &json!({ "month": "2026-02" })).expect(201);
    let rename = |id: &str, code: &str| {
        let path = format!("/v1/farms/{}", w.a.id(id));
        boss.patch(&path, "\"1\"", &json!({ "code": code })).expect(200);
    };
    rename("farm", "OLD1");
    rename("other_farm", "F1");
    let member = w.sign_in("member");
    let csv =
        member.send("GET", "/v1/reports/savings?month=2026-02", &[("accept", "text/csv")], None);
    let csv = csv.expect(200).text;
    assert!(csv.contains(",M1,") && !csv.contains(",M2,"), "{csv}");
}

/// Five members with a farm each in one area, one in another.
fn members(w: &World) {
    for n in 0..6 {
        let area = if n < 5 { "sub_area" } else { "other_area" };
        let body = json!({ "number": format!("P{n}"), "name": "Rehema Mfano", "area_id": w.a.id(area),
            "sex": "female", "language": "sw", "consent": true, "joined_on": "2024-02-01" });
        let member = w.make(&w.a, Kind::Member, body);
        let body = json!({ "code": format!("P{n}"), "member_id": member, "area_id": w.a.id(area),
            "fodder_started_on": START });
        let farm = w.make(&w.a, Kind::Farm, body);
        let group = json!({ "code": format!("P{n}-cows"), "farm_id": farm,
            "animal_class": "dairy_cows" });
        let cows = w.make(&w.a, Kind::AnimalGroup, group);
        add_all(w, vec![counted(cows, "2024-10-01", 4)]);
        regular(w, Place { farm, cows });
    }
}

fn programme_readers_get_sums_with_intervals_of_five_members_or_more(w: World) {
    members(&w);
    let reader = w.sign_in("programme_reader");
    let totals = |month: &str, by: &str| {
        let path = format!("/v1/programme-totals?month={month}&by={by}");
        let all = reader.get(&path).expect(200).json();
        all["cooperatives"][0]["groups"].as_array().expect("groups").clone()
    };
    let never_made = totals("2026-02", "cooperative");
    w.make_figures();
    let all = totals("2026-02", "cooperative");
    assert_eq!(never_made, all, "whether it was made or not");
    holds(&all[0], &json!({ "members_with_a_saving_number": 6, "saving": 6 * 142_800 }));
    let total = report(&w, &w.sign_in("manager"), "2026-02")["total"].clone();
    assert_eq!(all[0]["saving_interval"], total["saving_interval"], "the manager's, to the cent");
    assert!(all[0]["saving_interval"]["low"].is_number(), "{all:?}");
    let text = Json::from(totals("2026-02", "area")).to_string();
    assert!(text.contains("\"is_hidden\":true") && !text.contains("142800"), "{text}");
    let running = Json::from(totals("2026-03", "cooperative"));
    holds(&running[0], &json!({ "saving": null, "saving_interval": null }));
    // A closed month says what it said.
    w.sign_in("manager").post("/v1/month-closes", &json!({ "month": "2026-02" })).expect(201);
    w.make_figures();
    assert_eq!(totals("2026-02", "cooperative"), all);
}

/// Goats beside the cows of a place, counted since October 2024.
fn goats(w: &World, place: Place, head: i64) -> Uuid {
    let group = json!({ "code": "goats", "farm_id": place.farm, "animal_class": "goats" });
    let goats = w.make(&w.a, Kind::AnimalGroup, group);
    add_all(w, vec![counted(goats, "2024-10-01", head)]);
    goats
}

/// Bran every ten days, so many kg before and since the start, 400 a kg; perhaps for a group.
fn bran(w: &World, place: Place, (before, since): (i64, i64), group: Option<Uuid>) {
    let mut rows = Vec::new();
    for on in days(FIRST, 10, "2026-03-20") {
        let kg = if on < day(START) { before } else { since };
        let (kind, mut body) = bought(place.farm, w.a.id("bran"), on, kg, kg * 400);
        if let Some(group) = group {
            body["animal_group_id"] = json!(group);
        }
        rows.push((kind, body));
    }
    add_all(w, rows);
}

fn class<'a>(line: &'a Json, name: &str) -> &'a Json {
    let all = line["enterprises"].as_array().expect("classes");
    all.iter().find(|e| e["enterprise"] == name).expect("the class")
}

/// Cows on meal and goats on bran: days are never added, money is; labour goes by livestock units.
fn two_classes_of_animals_are_two_rows_and_one_number(w: World) {
    let place = place(&w, "E1");
    let goats = goats(&w, place, 10);
    let rows = vec![
        ration(place.cows, w.a.id("feed"), 3.5),
        ration(goats, w.a.id("bran"), 0.5),
        (
            Kind::OtherCost,
            json!({ "farm_id": place.farm, "date": "2026-02-28", "category": "labour",
                "amount": 3_800 }),
        ),
    ];
    add_all(&w, rows);
    regular(&w, place);
    bran(&w, place, (50, 30), None);
    let line = line(&report(&w, &w.sign_in("manager"), "2026-02"), "E1").clone();
    holds(&line, &json!({ "status": "estimated", "animal_days": 112 + 280 }));
    // 280 goat-days at 0.5 kg and 0.3 kg: 56,000 before, 33,600 eaten.
    let (cows, goats) = (class(&line, "dairy_cows"), class(&line, "goats"));
    holds(cows, &json!({ "animal_days": 112, "feed_saving": 142_800 }));
    holds(goats, &json!({ "animal_days": 280, "baseline_cost": 56_000, "eaten_cost": 33_600 }));
    let cost = |of: &Json| of["other_cost"].as_f64().expect("a cost");
    assert!((cost(cows) + cost(goats) - 3_800.0).abs() < 1e-9, "nothing is lost: {line}");
    assert!(cost(cows) > cost(goats) && cost(goats) > 0.0);
    holds(
        &line,
        &json!({ "feed_saving": 165_200, "saving": 161_400, "saving_per_animal_day": null }),
    );
    holds(&line["since_start"], &json!({ "farm_months": 16, "of_farm_months": 16 }));
    // One class without a number, and the farm has none; the other's still counts in the sums.
    let path =
        format!("/v1/feed-purchases?farm_id={}&feed_id={}&limit=200", place.farm, w.a.id("bran"));
    let manager = w.sign_in("manager");
    let all = manager.get(&path).expect(200).items();
    let february =
        all.iter().find(|p| p["feed_id"] == json!(w.a.id("bran")) && p["date"] == "2026-02-15");
    let path = format!("/v1/feed-purchases/{}", february.expect("it")["id"].as_str().expect("id"));
    manager.delete(&path, "\"1\"").expect(204);
    let report = report(&w, &manager, "2026-02");
    let line = crate::report::line(&report, "E1");
    holds(line, &json!({ "status": "missing", "saving": null, "feed_saving": null }));
    holds(class(line, "dairy_cows"), &json!({ "status": "estimated", "feed_saving": 142_800 }));
    holds(class(line, "goats"), &json!({ "status": "missing", "feed_saving": null }));
    holds(&report["total"], &json!({ "farms_included": 0, "feed_saving": 142_800 }));
}

/// 2 kg a cow and 0.5 kg a goat: 4 × 2 = 8 and 10 × 0.5 = 5 of every 13 kg.
fn a_feed_of_two_classes_is_split_by_what_their_rations_say(w: World) {
    let place = place(&w, "E2");
    let goats = goats(&w, place, 10);
    let rows = vec![ration(place.cows, w.a.id("bran"), 2.0), ration(goats, w.a.id("bran"), 0.5)];
    add_all(&w, rows);
    bran(&w, place, (130, 65), None);
    let found = line(&report(&w, &w.sign_in("manager"), "2026-02"), "E2").clone();
    holds(&found, &json!({ "status": "estimated" }));
    // February: 28 days of 13 kg before, 6.5 now, 400 a kg.
    let cows = json!({ "baseline_cost": 28 * 8 * 400, "eaten_cost": 28 * 4 * 400 });
    holds(class(&found, "dairy_cows"), &cows);
    let wanted = json!({ "baseline_cost": 28 * 5 * 400, "eaten_cost": 28 * 5 * 200 });
    holds(class(&found, "goats"), &wanted);
}

/// Nobody's ration names bran, and there are cows and goats: a purchase must name its animals.
fn a_purchase_that_nobody_can_place_asks_whose_it_is(w: World) {
    let place = place(&w, "E3");
    let goats = goats(&w, place, 10);
    regular_cows(&w, place);
    bran(&w, place, (50, 30), Some(goats));
    let manager = w.sign_in("manager");
    let found = line(&report(&w, &manager, "2026-02"), "E3").clone();
    holds(&found, &json!({ "status": "estimated" }));
    holds(class(&found, "goats"), &json!({ "baseline_cost": 56_000, "eaten_cost": 33_600 }));
    let lost = bought(place.farm, w.a.id("bran"), day("2026-02-10"), 10, 4_000);
    let id = add_all(&w, vec![lost]).remove(0);
    let found = line(&report(&w, &manager, "2026-02"), "E3").clone();
    holds(&found, &json!({ "status": "missing", "saving": null }));
    let waits = found["waits"].as_array().expect("waits");
    let asks = json!({ "what": "animals", "feed": "Maize bran", "feed_id": w.a.id("bran"),
        "purchase_id": id, "from": "2026-02-10" });
    assert!(waits.contains(&asks), "{waits:?}");
    let page = Browser::sign_in(&w, "manager").get("/close?month=2026-02").expect(200).text;
    assert!(page.contains(&format!("/book/feed-purchases/{id}")), "{page}");
    let path = format!("/v1/feed-purchases/{id}");
    manager.patch(&path, "\"1\"", &json!({ "animal_group_id": goats })).expect(200);
    holds(line(&report(&w, &manager, "2026-02"), "E3"), &json!({ "status": "estimated" }));
}

/// Dairy meal for the cows by name.
fn regular_cows(w: &World, place: Place) {
    let mut rows = acceptance::feeding::regular_but(w, place, &[]);
    for (_, body) in &mut rows {
        body["animal_group_id"] = json!(place.cows);
    }
    add_all(w, rows);
}

fn purchases_before_anybody_counted_are_no_lots(w: World) {
    let body = json!({ "code": "K1", "member_id": w.a.id("member"), "area_id": w.a.id("sub_area"),
        "fodder_started_on": START });
    let farm = w.make(&w.a, Kind::Farm, body);
    let group = json!({ "code": "K1-cows", "farm_id": farm, "animal_class": "dairy_cows" });
    let place = Place { farm, cows: w.make(&w.a, Kind::AnimalGroup, group) };
    regular(&w, place);
    // Counted on the day of a purchase, six months after the first one.
    add_all(&w, vec![counted(place.cows, "2025-02-10", 4)]);
    let manager = w.sign_in("manager");
    let found = line(&report(&w, &manager, "2026-02"), "K1").clone();
    holds(&found, &json!({ "status": "estimated", "saving": 142_800, "baseline_cost": 333_200 }));
    // Nobody counted in January 2025: the purchases of then say nothing.
    let early = line(&report(&w, &manager, "2025-01"), "K1").clone();
    holds(
        &early,
        &json!({ "status": "not_started", "animals": null,
        "animal_days": null, "bought_cost": 4 * 119_000 }),
    );
}

fn one_lot_or_four_on_a_day_are_the_same(w: World) {
    let (one, four) = (place(&w, "D1"), place(&w, "D4"));
    regular(&w, one);
    let mut rows = meal(&w, four, &days(FIRST, 10, START), 35);
    rows.extend(meal(&w, four, &days(START, 10, "2026-03-20"), 20));
    for _ in 0..4 {
        add_all(&w, rows.clone());
    }
    let report = report(&w, &w.sign_in("manager"), "2026-02");
    let names = [
        "status",
        "waits",
        "baseline_cost",
        "eaten_cost",
        "saving",
        "saving_interval",
        "bought_cost",
        "since_start",
    ];
    for name in names {
        assert_eq!(line(&report, "D1")[name], line(&report, "D4")[name], "{name}");
    }
    holds(line(&report, "D4"), &json!({ "saving": 142_800 }));
}

/// 30 of 80 kg are left on the morning of the tenth day: the lot before gave 50.
fn a_feed_left_in_store_ends_the_lot(w: World) {
    let place = place(&w, "V1");
    regular(&w, place);
    let count = json!({ "farm_id": place.farm, "feed_id": w.a.id("feed"), "date": "2026-02-15",
        "kg": 0 });
    // A count on the day of a purchase stands before it, and an empty store changes nothing.
    let id = w.make(&w.a, Kind::FeedCount, count);
    let manager = w.sign_in("manager");
    let of = || line(&report(&w, &manager, "2026-02"), "V1").clone();
    let path = format!("/v1/feed-counts/{id}");
    manager.patch(&path, "\"1\"", &json!({ "date": "2026-02-20", "kg": 30 })).expect(200);
    // 15 to 19 February: 50 kg in five days; 20 to 24: 30 kg. The month's sum stays.
    holds(&of(), &json!({ "status": "estimated", "eaten_cost": 28 * 8 * 850 }));
    // On 28 February 16 kg of the lot of the 25th are left: 64 kg in three days.
    let left = json!({ "farm_id": place.farm, "feed_id": w.a.id("feed"), "date": "2026-02-28",
        "kg": 16 });
    w.make(&w.a, Kind::FeedCount, left);
    // 24 days of 8 kg, three of 64 / 3, one of 16 / 7.
    let kg = 24.0 * 8.0 + 64.0 + 16.0 / 7.0;
    let eaten = of()["eaten_cost"].as_f64().expect("a number");
    assert!((eaten - kg * 850.0).abs() < 0.01, "{eaten}");
}

fn twice_the_money_is_twice_the_saving(w: World) {
    let (plain, dear) = (place(&w, "D1"), place(&w, "D2"));
    regular(&w, plain);
    // Bran for the same kg, at another price: 400 beside 850.
    let mut rows = Vec::new();
    for on in days(FIRST, 10, "2026-03-20") {
        let kg = if on < day(START) { 140 } else { 80 };
        rows.push(bought(dear.farm, w.a.id("bran"), on, kg, kg * 1_700));
    }
    add_all(&w, rows);
    let report = report(&w, &w.sign_in("manager"), "2026-02");
    for name in ["baseline_cost", "eaten_cost", "feed_saving", "saving"] {
        let of = |code: &str| line(&report, code)[name].as_f64().expect(name);
        assert!((of("D2") - 2.0 * of("D1")).abs() < 0.02, "{name}");
    }
}

/// Fodder alone since July 2024, and a 0 for every month: after a year no feed was bought often, and
/// only a ration says what the cows would eat.
fn a_farm_that_buys_nothing_any_more_is_asked_for_its_ration(w: World) {
    let place = place_of(&w, "member", "U1", Some("2024-07-01"));
    let mut rows = vec![counted(place.cows, "2024-02-01", 4)];
    rows.extend(meal(&w, place, &days("2024-02-02", 10, "2024-07-01"), 140));
    for number in 6..26 {
        let on = day(&format!("{}-{:02}-01", 2024 + number / 12, number % 12 + 1));
        rows.push(bought(place.farm, w.a.id("feed"), on, 0, 0));
    }
    // Others buy: there is a price.
    let other = acceptance::feeding::place(&w, "U2");
    add_all(&w, rows);
    regular(&w, other);
    let manager = w.sign_in("manager");
    let of = |month: &str| line(&report(&w, &manager, month), "U1").clone();
    holds(
        &of("2025-01"),
        &json!({ "status": "estimated", "eaten_cost": 0,
        "baseline_cost": 124 * 2_975 }),
    );
    let found = of("2026-02");
    holds(&found, &json!({ "status": "missing", "saving": null }));
    let wait = json!([{ "what": "baseline", "enterprise": "dairy_cows" }]);
    assert_eq!(found["waits"], wait, "there is something to do: {found}");
    add_all(&w, vec![ration(place.cows, w.a.id("feed"), 3.5)]);
    holds(
        &of("2026-02"),
        &json!({ "status": "estimated", "eaten_cost": 0,
        "baseline_cost": 112 * 2_975 }),
    );
}
