//! The board's paper: its figures are those of the reports, and it names nobody where it must not.

use crate::report::{full_month, pdf_text, withdraw};
use acceptance::browser::Browser;
use acceptance::{World, both, feeding};
use chrono::NaiveDate;
use serde_json::{Value as Json, json};
use traybook_app::Actor;
use traybook_speech::Language;

both!(
    a_paper_has_the_figures_of_the_reports_beside_each_other,
    a_year_so_far_is_as_sure_as_the_sum_of_its_months,
    a_paper_for_all_members_names_nobody,
    a_paper_asks_what_the_records_raise,
    a_paper_is_for_those_who_run_the_cooperative
);

fn paper(w: &World, query: &str) -> Json {
    w.sign_in("manager").get(&format!("/v1/reports/board-paper?{query}")).expect(200).json()
}

/// February's paper as text.
fn pdf(w: &World, is_anonymous: bool) -> String {
    let actor = Actor::machine(w.a.coop.clone());
    let bytes = w.app.board_pdf(&actor, "2026-02", is_anonymous, Language::En);
    pdf_text(&w.wait(bytes).expect("a document"))
}

/// [ARITH] The year so far is the sum of its months.
fn a_paper_has_the_figures_of_the_reports_beside_each_other(w: World) {
    full_month(&w);
    w.make_figures();
    let manager = w.sign_in("manager");
    let of = |month: &str| {
        let path = format!("/v1/reports/savings?month={month}");
        manager.get(&path).expect(200).json()["total"].clone()
    };
    let (january, february) = (of("2026-01"), of("2026-02"));
    let paper = paper(&w, "month=2026-02");
    let [month, before, year] = [0, 1, 2].map(|i| paper["periods"][i].clone());
    assert_eq!((&month["span"], &before["span"]), (&json!("month"), &json!("month_before")));
    assert_eq!((&year["from"], &year["to"]), (&json!("2026-01"), &json!("2026-02")));
    for (period, total) in [(&month, &february), (&before, &january)] {
        for name in ["baseline_cost", "saving", "saving_interval", "trays_started", "net"] {
            assert_eq!(period[name], total[name], "{name}");
        }
    }
    assert!(february["saving"].is_number(), "the case has a saving: {february}");
    let number = |v: &Json| v.as_f64().unwrap_or(0.0);
    for name in ["baseline_cost", "eaten_cost", "saving"] {
        let sum = number(&january[name]) + number(&february[name]);
        assert!((number(&year[name]) - sum).abs() < 1e-6, "{name}: {year}");
    }
    sure(&year, &[january, february]);
    // A month that is not over has no saving, and the year does not count it.
    let march = self::paper(&w, "month=2026-03");
    assert_eq!(march["periods"][0]["saving"], Json::Null);
    assert_eq!(march["periods"][2]["saving"], year["saving"]);
    assert_eq!(march["periods"][2]["to"], "2026-02", "the year ends with what is over");
    assert_eq!(march["is_running"], true);
}

/// The interval of a sum lies around it, and its width between that of the widest month and that of
/// all added: months share the baseline, and not what happens in each.
#[track_caller]
fn sure(year: &Json, months: &[Json]) {
    let end = |of: &Json, end: &str| of["saving_interval"][end].as_f64().expect("an end");
    let half = |of: &Json| (end(of, "high") - end(of, "low")) / 2.0;
    let saving = year["saving"].as_f64().expect("a saving");
    let middle = f64::midpoint(end(year, "low"), end(year, "high"));
    assert!((saving - middle).abs() < 1e-6, "{year}");
    let halves: Vec<f64> = months.iter().map(half).collect();
    let (widest, added) = (halves.iter().copied().fold(0.0, f64::max), halves.iter().sum::<f64>());
    assert!(half(year) > widest && half(year) < added, "{} of {halves:?}", half(year));
}

/// The year 2025 of two farms: two months closed, the others open.
fn a_year_so_far_is_as_sure_as_the_sum_of_its_months(w: World) {
    let place = full_month(&w);
    let other = feeding::place(&w, "G1");
    feeding::regular(&w, other);
    w.make_figures();
    let manager = w.sign_in("manager");
    let year = || paper(&w, "month=2025-12")["periods"][2].clone();
    let of = |month: &str| {
        let path = format!("/v1/reports/savings?month={month}");
        manager.get(&path).expect(200).json()["total"].clone()
    };
    let names: Vec<String> = (7..=12).map(|m| format!("2025-{m:02}")).collect();
    let months = || names.iter().map(|m| of(m)).collect::<Vec<Json>>();
    let open = year();
    sure(&open, &months());
    // A year of one month is that month.
    let january = paper(&w, "month=2026-01");
    assert_eq!(january["periods"][2]["saving_interval"], january["periods"][0]["saving_interval"]);
    for month in ["2025-07", "2025-08"] {
        manager.post("/v1/month-closes", &json!({ "month": month })).expect(201);
    }
    // Right after the close the kept sum is still the printed one; nothing has changed.
    assert_eq!(year()["saving_interval"], open["saving_interval"]);
    w.make_figures();
    let closed = year();
    assert_eq!(closed["saving"], open["saving"]);
    sure(&closed, &months());
    // A purchase of a closed month is corrected: the paper of that month stays, and so does the sum.
    let late = NaiveDate::from_ymd_opt(2025, 8, 20).expect("a day");
    feeding::add_all(&w, vec![feeding::bought(place.farm, w.a.id("bran"), late, 12, 4_800)]);
    w.make_figures();
    let after = year();
    let sum: f64 = months().iter().map(|m| m["saving"].as_f64().unwrap_or(0.0)).sum();
    assert!((after["saving"].as_f64().expect("a saving") - sum).abs() < 1e-6, "{after}");
    sure(&after, &months());
    // A farm is withdrawn: its closed months stay in the sum, and how sure that is can not be said.
    withdraw(&w, other);
    w.make_figures();
    let gone = year();
    assert_eq!(gone["saving_interval"], Json::Null, "{gone}");
    let sum: f64 = months().iter().map(|m| m["saving"].as_f64().unwrap_or(0.0)).sum();
    assert!((gone["saving"].as_f64().expect("a saving") - sum).abs() < 1e-6, "{gone}");
}

fn a_paper_for_all_members_names_nobody(w: World) {
    full_month(&w);
    let issue = json!({ "seed_lot_id": w.a.id("lot"), "farm_id": w.a.id("farm"),
        "date": "2026-02-11", "kg": 10, "price": 10_000, "payment": "credit" });
    let flag = json!({ "farm_id": w.a.id("farm"), "raised_on": "2026-02-12", "points_at": "farm",
        "evidence": "trays lost", "seen_on": "2026-02-13", "cause": "mould",
        "finding": "Asha washes trays now" });
    let manager = w.sign_in("manager");
    manager.post("/v1/seed-issues", &issue).expect(201);
    manager.post("/v1/flags", &flag).expect(201);
    w.make_figures();
    let named = manager.get("/v1/reports/board-paper?month=2026-02").expect(200).text;
    let nobody =
        manager.get("/v1/reports/board-paper?month=2026-02&anonymous=true").expect(200).text;
    let (board, members) = (pdf(&w, false), pdf(&w, true));
    for name in ["Asha", "F1", "M1"] {
        assert!(named.contains(name) && !nobody.contains(name), "{name}: {nobody}");
        assert!(board.contains(name) && !members.contains(name), "{name}: {members}");
    }
    // The figures are the same.
    let [named, nobody] = [named, nobody].map(|text| serde_json::from_str::<Json>(&text).unwrap());
    assert_eq!(named["periods"], nobody["periods"]);
    assert_eq!(named["seed"]["owed"], nobody["seed"]["owed"]);
    assert_eq!(nobody["spoiling"][0]["cause"], "mould");
}

fn a_paper_asks_what_the_records_raise(w: World) {
    full_month(&w);
    let manager = w.sign_in("manager");
    // Owed since the autumn, above the limit.
    let limit =
        json!({ "name": "seed_credit_most", "value": 5_000_000, "valid_from": "2025-01-01" });
    manager.post("/v1/growing-guide-values", &limit).expect(201);
    let issue = json!({ "seed_lot_id": w.a.id("lot"), "farm_id": w.a.id("farm"),
        "date": "2025-10-11", "kg": 10, "price": 6_000_000, "payment": "credit" });
    manager.post("/v1/seed-issues", &issue).expect(201);
    let paid = json!({ "farm_id": w.a.id("farm"), "date": "2026-02-10", "amount": 400_000,
        "paid_by": "milk_check_off" });
    manager.post("/v1/seed-payments", &paid).expect(201);
    w.make_figures();
    let paper = paper(&w, "month=2026-02");
    let seed = &paper["seed"];
    assert_eq!(seed["owed"], 5_600_000);
    assert_eq!((&seed["credit_limit"], &seed["over_limit"]), (&json!(5_000_000), &json!(1)));
    assert_eq!(seed["paid_by_check_off"], 400_000);
    let asked: Vec<&str> = paper["decisions"]
        .as_array()
        .expect("a list")
        .iter()
        .filter_map(|d| d["question"].as_str())
        .collect();
    assert!(asked.starts_with(&["close_month"]), "{asked:?}");
    assert!(asked.ends_with(&["old_debts", "credit_limit"]), "{asked:?}");
    // The page and the paper ask the same; an account above the limit warns, and nothing is refused.
    let mut browser = Browser::sign_in(&w, "manager");
    let page = browser.get("/board?month=2026-02").expect(200).text;
    assert!(page.contains("owes more than the credit limit"), "{page}");
    let file = browser.get("/board.pdf?month=2026-02&anonymous=1").expect(200);
    assert!(file.text.starts_with("%PDF"));
    let pdf = pdf(&w, false);
    assert!(pdf.contains("owes more than the credit"), "{pdf}");
    let owed = browser.get("/owed").expect(200).text;
    assert!(owed.contains("credit limit"), "{owed}");
}

fn a_paper_is_for_those_who_run_the_cooperative(w: World) {
    for role in ["officer", "member", "programme_reader"] {
        w.sign_in(role).get("/v1/reports/board-paper?month=2026-02").expect(403);
    }
    let manager = w.sign_in("manager");
    for (query, field) in
        [("", "/month"), ("month=2027-01", "/month"), ("month=2026-02&anonymous=yes", "/anonymous")]
    {
        let refused = manager.get(&format!("/v1/reports/board-paper?{query}")).expect(422);
        assert_eq!(refused.errors()[0].0, field, "{query}");
    }
}
