//! Closed months: they stay to the byte, and what is corrected later shows as an adjustment.

use crate::report::{full_month, holds, line, report, withdraw};
use acceptance::feeding::{add_all, bought, counted, day, meal, place, place_of, regular};
use acceptance::{Client, World, both};
use serde_json::{Value as Json, json};
use traybook_domain::{ColumnType, Kind, Month, Value};
use traybook_storage::Bind;

both!(
    a_closed_month_stays_and_corrections_become_adjustments,
    what_a_close_takes_leaves_the_other_open_month,
    small_changes_are_settled_in_one_sum,
    months_close_in_order,
    the_sum_since_the_start_is_what_was_reported_adjusted_and_open,
    corrections_before_the_start_move_no_closed_month,
    numbers_that_come_and_go_have_a_line,
    a_withdrawn_farm_keeps_its_closed_months,
    a_member_who_has_left_is_in_no_later_month,
    closed_months_are_touched_by_late_records,
    what_is_closed_outlives_a_restart,
    totals_are_those_of_the_reports,
    divisions_of_a_closed_month_stay_when_the_next_one_closes,
);

fn close(client: &Client, month: &str) {
    client.post("/v1/month-closes", &json!({ "month": month })).expect(201);
}

fn set(w: &World, now: &str) {
    w.clock.set(traybook_domain::time::parse_instant(now).expect("instant"));
}

fn text(client: &Client, month: &str, media: &str) -> String {
    let path = format!("/v1/reports/savings?month={month}");
    client.send("GET", &path, &[("accept", media)], None).expect(200).text
}

fn both_texts(client: &Client, month: &str) -> [String; 2] {
    [text(client, month, "application/json"), text(client, month, "text/csv")]
}

/// A cost of repairs of F1.
fn repairs(w: &World, on: &str, amount: f64) {
    let body = json!({ "farm_id": w.a.id("farm"), "date": on, "category": "repairs",
        "amount": amount });
    w.make(&w.a, Kind::OtherCost, body);
}

fn a_closed_month_stays_and_corrections_become_adjustments(w: World) {
    full_month(&w);
    let manager = w.sign_in("manager");
    close(&manager, "2026-02");
    let frozen = both_texts(&manager, "2026-02");
    let closed: Json = serde_json::from_str(&frozen[0]).expect("JSON");
    holds(&closed, &json!({ "is_closed": true, "method_version": 2 }));
    assert_eq!(line(&closed, "F1")["saving"], 107_360);
    // Another 50 kg bran on 15 February: 5 to 14 February are 10 days of 40 kg, 15 to 24 of 50.
    // Eaten before: 56 kg at 400. Now: 4 days at 2 kg, 10 at 4, 10 at 5 and 4 at 2 = 106 kg.
    let bran = bought(w.a.id("farm"), w.a.id("bran"), day("2026-02-15"), 50, 20_000);
    let id = add_all(&w, vec![bran]).remove(0);
    let march = report(&w, &manager, "2026-03");
    assert_eq!(both_texts(&manager, "2026-02"), frozen, "it stays to the byte");
    let adjustments = march["adjustments"].as_array().expect("adjustments");
    assert_eq!(adjustments.len(), 1, "{adjustments:?}");
    let change = json!({ "month": "2026-02", "farm": "F1", "enterprise": "dairy_cows",
        "reported": 107_360, "now": 87_360, "change": -20_000 });
    holds(&adjustments[0], &change);
    holds(&march, &json!({ "adjustments_total": -20_000, "settled": 0 }));
    let csv = text(&manager, "2026-03", "text/csv");
    let row = csv.lines().find(|l| l.starts_with("2026-02,adjustment,")).expect("a row");
    assert!(row.contains("F1,dairy_cows") && row.contains("reported 107360, now 87360"), "{row}");
    let closes = manager.get("/v1/month-closes").expect(200).items();
    assert_eq!(closes[0]["has_changed_since"], true);
    // Once March is closed, the difference is reported; April brings only what is new.
    set(&w, "2026-04-10T09:00:00Z");
    let manager = w.sign_in("manager");
    w.make_figures();
    close(&manager, "2026-03");
    let march = both_texts(&manager, "2026-03");
    assert!(march[0].contains("\"change\":-20000"), "{}", march[0]);
    assert_eq!(report(&w, &manager, "2026-04")["adjustments"], json!([]));
    repairs(&w, "2026-02-27", 5_000.5);
    let april = report(&w, &manager, "2026-04");
    holds(
        &april["adjustments"][0],
        &json!({ "reported": 87_360, "now": 82_359.5,
        "change": -5_000.5 }),
    );
    // Taken back, both are: the records say what was said first.
    let path = format!("/v1/feed-purchases/{id}");
    manager.delete(&path, "\"1\"").expect(204);
    let april = report(&w, &manager, "2026-04");
    holds(&april["adjustments"][0], &json!({ "reported": 87_360, "now": 102_359.5 }));
    assert_eq!(both_texts(&manager, "2026-02"), frozen);
    assert_eq!(both_texts(&manager, "2026-03"), march);
    // The member sees the own line of the closed report and nothing else.
    let member = w.sign_in("member");
    let own: Json =
        serde_json::from_str(&text(&member, "2026-02", "application/json")).expect("JSON");
    assert_eq!(own["farms"].as_array().map(Vec::len), Some(1));
    holds(&own, &json!({ "total": null, "areas": [], "settled": null, "adjustments_total": null }));
    assert_eq!(line(&own, "F1"), line(&closed, "F1"));
    assert_eq!(text(&member, "2026-02", "text/csv").lines().count(), 2);
}

/// Nothing is made between the close and the reading of a month that was read before it.
fn what_a_close_takes_leaves_the_other_open_month(w: World) {
    full_month(&w);
    let manager = w.sign_in("manager");
    close(&manager, "2026-02");
    repairs(&w, "2026-02-20", 30_000.0);
    set(&w, "2026-04-10T09:00:00Z");
    w.make_figures();
    let (manager, officer) = (w.sign_in("manager"), w.sign_in("officer"));
    let before = both_texts(&manager, "2026-04");
    assert!(before[0].contains("\"change\":-30000"), "{}", before[0]);
    assert!(before[1].contains("2026-02,adjustment,"), "{}", before[1]);
    close(&manager, "2026-03");
    let (other, clock) = acceptance::world::app_on_url(&w.db.url);
    clock.set(w.app.now());
    let form = traybook_app::savings::Form::Json;
    let actor = traybook_app::Actor::machine(w.a.coop.clone());
    let elsewhere = w.wait(other.savings_text(&actor, "2026-04", form)).expect("a report");
    let texts = both_texts(&manager, "2026-04").into_iter().chain(both_texts(&officer, "2026-04"));
    for text in texts.chain([elsewhere]) {
        assert!(!text.contains("-30000") && !text.contains("2026-02,adjustment,"), "{text}");
    }
    let taken = both_texts(&manager, "2026-03");
    assert!(taken[0].contains("\"change\":-30000"), "{}", taken[0]);
}

/// A change of up to 1 % of the row's baseline, 4,228 in February, is one of the settled.
fn small_changes_are_settled_in_one_sum(w: World) {
    full_month(&w);
    let other = place(&w, "P1");
    regular(&w, other);
    let manager = w.sign_in("manager");
    close(&manager, "2026-02");
    repairs(&w, "2026-02-20", 4_228.0);
    let body = json!({ "farm_id": other.farm, "date": "2026-02-20", "category": "repairs",
        "amount": 100 });
    w.make(&w.a, Kind::OtherCost, body);
    let march = report(&w, &manager, "2026-03");
    holds(&march, &json!({ "adjustments": [], "settled": -4_328, "adjustments_total": -4_328 }));
    let csv = text(&manager, "2026-03", "text/csv");
    assert!(csv.contains("settled") && csv.contains("-4328"), "{csv}");
    // A cent more is a line.
    repairs(&w, "2026-02-21", 0.01);
    let march = report(&w, &manager, "2026-03");
    holds(&march["adjustments"][0], &json!({ "farm": "F1", "change": -4_228.01 }));
    holds(&march, &json!({ "settled": -100, "adjustments_total": -4_328.01 }));
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

/// Since the start = as reported + adjustments + open months.
fn the_sum_since_the_start_is_what_was_reported_adjusted_and_open(w: World) {
    full_month(&w);
    let manager = w.sign_in("manager");
    let since = || line(&report(&w, &manager, "2026-02"), "F1")["since_start"].clone();
    let first = since();
    for month in ["2025-07", "2025-08", "2025-09", "2025-10", "2025-11", "2025-12", "2026-01"] {
        w.make_figures();
        close(&manager, month);
    }
    assert_eq!(since(), first, "closing moves nothing");
    let reported: f64 =
        ["2025-07", "2025-08", "2025-09", "2025-10", "2025-11", "2025-12", "2026-01"]
            .iter()
            .filter_map(|m| line(&report(&w, &manager, m), "F1")["saving"].as_f64())
            .sum();
    repairs(&w, "2025-11-20", 25_000.0);
    repairs(&w, "2026-02-20", 1_000.0);
    let february = report(&w, &manager, "2026-02");
    let f1 = line(&february, "F1");
    let adjusted = february["adjustments_total"].as_f64().expect("a sum");
    assert!((adjusted + 25_000.0).abs() < 1e-9, "{adjusted}");
    let open = f1["saving"].as_f64().expect("a saving");
    let sum = f1["since_start"]["saving"].as_f64().expect("a sum");
    assert!((reported + adjusted + open - sum).abs() < 1e-6, "{reported} {adjusted} {open} {sum}");
    assert!((first["saving"].as_f64().expect("a sum") - 26_000.0 - sum).abs() < 1e-6);
    // The next close takes the adjustment; the sum stays.
    close(&manager, "2026-02");
    let march = report(&w, &manager, "2026-03");
    assert_eq!(line(&march, "F1")["since_start"], f1["since_start"]);
    assert_eq!(march["adjustments"], json!([]));
}

/// A purchase before the start that is corrected after a close: the closed month keeps its frozen
/// baseline.
fn corrections_before_the_start_move_no_closed_month(w: World) {
    let place = place(&w, "Q1");
    regular(&w, place);
    let manager = w.sign_in("manager");
    w.make_figures();
    close(&manager, "2026-01");
    let before = report(&w, &manager, "2026-02");
    holds(line(&before, "Q1"), &json!({ "baseline_cost": 112 * 2_975 }));
    // Ten lots of spring 2025 had 200 kg, not 140.
    let path = format!("/v1/feed-purchases?farm_id={}&limit=200", place.farm);
    for bought in manager.get(&path).expect(200).items() {
        let on = bought["date"].as_str().expect("a day");
        if ("2025-02-20".."2025-06-01").contains(&on) {
            let path = format!("/v1/feed-purchases/{}", bought["id"].as_str().expect("an id"));
            manager.patch(&path, "\"1\"", &json!({ "kg": 200, "cost": 170_000 })).expect(200);
        }
    }
    let after = report(&w, &manager, "2026-02");
    holds(&after, &json!({ "adjustments": [], "settled": 0 }));
    let found = line(&after, "Q1");
    assert_eq!(found["since_start"]["of_farm_months"], 8, "{found}");
    // A farm whose baseline nothing froze has another one.
    let other = acceptance::feeding::place(&w, "Q2");
    let mut rows = Vec::new();
    for on in acceptance::feeding::days(acceptance::feeding::FIRST, 10, "2026-03-20") {
        let is_spring = on >= day("2025-02-20") && on < day("2025-06-01");
        let kg = if on >= day("2025-06-10") { 80 } else { 140 };
        rows.extend(meal(&w, other, &[on], if is_spring { 200 } else { kg }));
    }
    add_all(&w, rows);
    let fresh = report(&w, &manager, "2026-02");
    let of = |code: &str| line(&fresh, code)["baseline_cost"].as_f64().expect("a baseline");
    assert!(of("Q2") > 112.0 * 2_975.0 * 1.1, "{}", of("Q2"));
}

fn numbers_that_come_and_go_have_a_line(w: World) {
    full_month(&w);
    let late = place(&w, "P2");
    let without = acceptance::feeding::regular_but(&w, late, &["2026-02-15"]);
    add_all(&w, without);
    let manager = w.sign_in("manager");
    w.make_figures();
    close(&manager, "2026-02");
    let closed: Json =
        serde_json::from_str(&text(&manager, "2026-02", "application/json")).expect("JSON");
    holds(line(&closed, "P2"), &json!({ "status": "missing", "saving": null }));
    // Written down, it has a number; F1's purchase of 15 February is taken back, and has none.
    let purchase = meal(&w, late, &[day("2026-02-15")], 80);
    add_all(&w, purchase);
    let path = format!("/v1/feed-purchases?farm_id={}&limit=200", w.a.id("farm"));
    let all = manager.get(&path).expect(200).items();
    let gone = all.iter().find(|p| p["date"] == "2026-02-15").expect("it");
    let path = format!("/v1/feed-purchases/{}", gone["id"].as_str().expect("an id"));
    manager.delete(&path, "\"1\"").expect(204);
    let march = report(&w, &manager, "2026-03");
    let lines = march["adjustments"].as_array().expect("lines");
    assert_eq!(lines.len(), 2, "{lines:?}");
    let of = |code: &str| lines.iter().find(|l| l["farm"] == code).expect("a line");
    holds(of("F1"), &json!({ "reported": 107_360, "now": null, "change": -107_360 }));
    holds(of("P2"), &json!({ "reported": null, "now": 142_800, "change": 142_800 }));
    // Reported once, it is no news the next time.
    set(&w, "2026-04-10T09:00:00Z");
    let manager = w.sign_in("manager");
    w.make_figures();
    close(&manager, "2026-03");
    holds(&report(&w, &manager, "2026-04"), &json!({ "adjustments": [], "settled": 0 }));
}

fn a_withdrawn_farm_keeps_its_closed_months(w: World) {
    full_month(&w);
    let gone = place(&w, "G1");
    regular(&w, gone);
    let manager = w.sign_in("manager");
    w.make_figures();
    close(&manager, "2026-01");
    let frozen = both_texts(&manager, "2026-01");
    holds(&report(&w, &manager, "2026-02")["total"], &json!({ "farms_included": 2 }));
    withdraw(&w, gone);
    let february = report(&w, &manager, "2026-02");
    holds(&february, &json!({ "adjustments": [], "settled": 0 }));
    holds(&february["total"], &json!({ "farms_included": 1, "saving": 107_360 }));
    assert_eq!(both_texts(&manager, "2026-01"), frozen);
}

/// A member who left is in no report of later months, and in no sum.
fn a_member_who_has_left_is_in_no_later_month(w: World) {
    full_month(&w);
    let other = place_of(&w, "other_member", "X1", Some(acceptance::feeding::START));
    regular(&w, other);
    let manager = w.sign_in("manager");
    w.make_figures();
    close(&manager, "2026-01");
    close(&manager, "2026-02");
    let path = format!("/v1/members/{}", w.a.id("other_member"));
    manager.patch(&path, "\"1\"", &json!({ "left_on": "2026-01-15" })).expect(200);
    // The saving of February is taken back; January, in which it was a member, stays.
    let march = report(&w, &manager, "2026-03");
    let lines = march["adjustments"].as_array().expect("lines");
    assert_eq!(lines.len(), 1, "{lines:?}");
    holds(
        &lines[0],
        &json!({ "month": "2026-02", "farm": "X1", "reported": 142_800, "now": null,
        "change": -142_800 }),
    );
    assert!(march["farms"].as_array().expect("farms").iter().all(|f| f["farm"] != "X1"));
    // Months since the start: July to January of X1, July to February of F1; F2 is the leaver's too.
    holds(
        &march["total"]["since_start"],
        &json!({ "farm_months": 7 + 8, "of_farm_months": 7 + 8 + 7 }),
    );
}

fn closed_months_are_touched_by_late_records(w: World) {
    full_month(&w);
    let manager = w.sign_in("manager");
    close(&manager, "2026-01");
    close(&manager, "2026-02");
    let changed = || {
        let all = manager.get("/v1/month-closes").expect(200).items();
        all.iter().map(|m| m["has_changed_since"] == true).collect::<Vec<_>>()
    };
    assert_eq!(changed(), [false, false]);
    repairs(&w, "2026-02-20", 10.0);
    assert_eq!(changed(), [false, true]);
    // A purchase of December may have been eaten in January and February.
    add_all(&w, vec![counted(w.a.id("cows"), "2025-12-30", 4)]);
    assert_eq!(changed(), [true, true]);
}

/// What months came to is kept beside their reports, of open and of closed months.
fn totals_are_those_of_the_reports(w: World) {
    full_month(&w);
    w.make_figures();
    let manager = w.sign_in("manager");
    close(&manager, "2026-02");
    repairs(&w, "2026-02-20", 30_000.0);
    w.make_figures();
    let actor = traybook_app::Actor::machine(w.a.coop.clone());
    let months: Vec<Month> =
        ["2026-01", "2026-02", "2026-03"].iter().filter_map(|m| Month::parse(m)).collect();
    let totals = w.wait(w.app.month_totals(&actor, months.clone())).expect("totals");
    for (total, month) in totals.iter().zip(&months) {
        let report = w.wait(w.app.savings_report(&actor, *month)).expect("a report");
        assert_eq!((total.month, total.is_running), (*month, report.is_running));
        assert_eq!(total.total, report.total, "{month}");
    }
    let sql =
        "SELECT CAST(COUNT(*) AS BIGINT) FROM month_snapshots WHERE coop_id = ? AND total = ''";
    let binds = [Bind::int(w.a.coop.number)];
    let without = w.db.connect().rows(sql, &binds, &[ColumnType::Int]).expect("rows");
    assert_eq!(without, [[Value::Int(0)]]);
}

/// How the saving of a closed month divides stays when the next month closes: intervals of groups
/// are made of it.
fn divisions_of_a_closed_month_stay_when_the_next_one_closes(w: World) {
    full_month(&w);
    let manager = w.sign_in("manager");
    close(&manager, "2026-01");
    let sql = "SELECT divisions FROM month_snapshots WHERE coop_id = ? AND month = ?";
    let january = Month::parse("2026-01").expect("a month").number();
    let binds = [Bind::int(w.a.coop.number), Bind::int(january)];
    let kept = || w.db.connect().rows(sql, &binds, &[ColumnType::Text]).expect("rows");
    let before = kept();
    assert!(matches!(&before[0][0], Value::Text(text) if text.len() > 2), "{before:?}");
    close(&manager, "2026-02");
    w.make_figures();
    assert_eq!(kept(), before);
}

/// Another server on the same database reads and continues what was closed.
fn what_is_closed_outlives_a_restart(w: World) {
    full_month(&w);
    let manager = w.sign_in("manager");
    close(&manager, "2026-02");
    repairs(&w, "2026-02-20", 30_000.0);
    w.make_figures();
    let (other, _) = acceptance::world::app_on_url(&w.db.url);
    let actor = traybook_app::Actor::machine(w.a.coop.clone());
    let form = traybook_app::savings::Form::Json;
    for month in ["2026-02", "2026-03"] {
        let mine = w.wait(w.app.savings_text(&actor, month, form)).expect("a report");
        assert_eq!(mine, w.wait(other.savings_text(&actor, month, form)).expect("a report"));
    }
    let march = w.wait(other.savings_text(&actor, "2026-03", form)).expect("a report");
    let march: Json = serde_json::from_str(&march).expect("JSON");
    holds(&march["adjustments"][0], &json!({ "change": -30_000, "reported": 107_360 }));
}
