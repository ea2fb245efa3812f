//! A payment run: what was sold, what is kept back for seed, what is paid out.

use acceptance::browser::{Browser, hidden};
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_domain::value::Instant;

both!(
    a_run_adds_up_for_a_reader_with_a_calculator,
    what_is_kept_back_is_written_once,
    a_run_is_asked_again_when_the_records_have_changed,
    each_sees_the_run_of_its_own_farms
);

const DAYS: &str = "from=2026-03-01&to=2026-03-15";

fn milk(w: &World, date: &str, session: &str, sold: i64, price: Option<i64>) {
    let body = json!({ "animal_group_id": w.a.id("cows"), "date": date, "session": session,
        "litres": 20, "animals_in_milk": 4, "sold_litres": sold, "price_per_litre": price });
    w.sign_in("officer").post("/v1/milk-records", &body).expect(201);
}

fn owe(w: &World, amount: i64) {
    let body = json!({ "seed_lot_id": w.a.id("lot"), "farm_id": w.a.id("farm"),
        "date": "2026-02-11", "kg": 10, "price": amount, "payment": "credit" });
    w.sign_in("manager").post("/v1/seed-issues", &body).expect(201);
}

fn deduct(w: &World, date: &str, amount: i64) {
    let body = json!({ "farm_id": w.a.id("farm"), "date": date, "amount": amount,
        "reason": "transport of milk" });
    w.sign_in("manager").post("/v1/deductions", &body).expect(201);
}

fn run(w: &World) -> Json {
    w.sign_in("manager").get(&format!("/v1/payment-run?{DAYS}")).expect(200).json()
}

/// [ARITH] 10 l + 12 l at 900 and 6 l of the second entry of an evening at 1,000 are 25,800. Less
/// 5,000 of transport 20,800 are left; 30,000 are due.
fn a_run_adds_up_for_a_reader_with_a_calculator(w: World) {
    owe(&w, 30_000);
    milk(&w, "2026-03-02", "day", 10, Some(900));
    milk(&w, "2026-03-03", "morning", 12, Some(900));
    milk(&w, "2026-03-03", "evening", 16, Some(1_000));
    w.clock.set(Instant(w.app.now().0 + 1_000));
    // The evening again: the last entered counts.
    milk(&w, "2026-03-03", "evening", 6, Some(1_000));
    // Without a price it is no value, and it is said; outside the days it is of another run.
    milk(&w, "2026-03-04", "day", 8, None);
    milk(&w, "2026-02-27", "day", 8, Some(900));
    deduct(&w, "2026-03-05", 5_000);
    deduct(&w, "2026-02-05", 7_000);
    let run = run(&w);
    let line = &run["items"][0];
    for (name, value) in [
        ("milk_litres", 28),
        ("sold", 25_800),
        ("sold_without_price", 1),
        ("seed_due", 30_000),
        ("other", 5_000),
        ("kept_back", 0),
        ("keep_back", 20_800),
        ("net", 0),
    ] {
        assert_eq!(line[name], value, "{name}: {line}");
    }
    assert_eq!(run["items"].as_array().map(Vec::len), Some(1), "{run}");
    let csv = w.sign_in("manager").send(
        "GET",
        &format!("/v1/payment-run?{DAYS}"),
        &[("accept", "text/csv")],
        None,
    );
    assert!(csv.expect(200).text.contains("20800"));
    let page = Browser::sign_in(&w, "manager").get(&format!("/pay-run?{DAYS}")).expect(200).text;
    for part in ["One record of milk or eggs sold has no price", "Keep back TZS"] {
        assert!(page.contains(part), "{part}: {page}");
    }
}

fn payments(w: &World) -> usize {
    let list = w.sign_in("manager").get("/v1/seed-payments").expect(200).json();
    list["items"].as_array().map_or(0, Vec::len)
}

fn what_is_kept_back_is_written_once(w: World) {
    owe(&w, 9_000);
    milk(&w, "2026-03-02", "day", 10, Some(1_000));
    let mut browser = Browser::sign_in(&w, "manager");
    let page = format!("/pay-run?{DAYS}");
    let first = browser.page(&page);
    let next = browser.fill_in(&first, "/pay-run", &[]).expect(303);
    let shown = browser.get(next.header("location").expect("a page")).expect(200).text;
    assert!(shown.contains("Kept back for seed: TZS"), "{shown}");
    assert_eq!(payments(&w), 1);
    let line = run(&w)["items"][0].clone();
    for (name, value) in [("kept_back", 9_000), ("keep_back", 0), ("seed_due", 0), ("net", 1_000)] {
        assert_eq!(line[name], value, "{name}: {line}");
    }
    // The same form sent once more writes nothing more.
    browser.fill_in(&first, "/pay-run", &[]).expect(422);
    assert_eq!(payments(&w), 1);
    // Of seed handed out since, the rest of the milk money.
    owe(&w, 5_000);
    let line = run(&w)["items"][0].clone();
    assert_eq!((&line["keep_back"], &line["net"]), (&json!(1_000), &json!(0)), "{line}");
}

fn a_run_is_asked_again_when_the_records_have_changed(w: World) {
    owe(&w, 9_000);
    milk(&w, "2026-03-02", "day", 10, Some(1_000));
    let mut browser = Browser::sign_in(&w, "manager");
    let page = browser.page(&format!("/pay-run?{DAYS}"));
    deduct(&w, "2026-03-05", 4_000);
    let refused = browser.fill_in(&page, "/pay-run", &[]).expect(422).text;
    assert!(refused.contains("changed since"), "{refused}");
    assert_eq!(payments(&w), 0);
    let manager = w.sign_in("manager");
    for (query, field) in [
        ("from=2026-01-01&to=2026-03-15", "/to"),
        ("from=2026-03-15&to=2026-03-01", "/to"),
        ("to=2027-03-01", "/to"),
        ("from=soon", "/from"),
    ] {
        let refused = manager.get(&format!("/v1/payment-run?{query}")).expect(422);
        assert_eq!(refused.errors()[0].0, field, "{query}");
    }
}

fn each_sees_the_run_of_its_own_farms(w: World) {
    owe(&w, 9_000);
    milk(&w, "2026-03-02", "day", 10, Some(1_000));
    let path = format!("/v1/payment-run?{DAYS}");
    let own = w.sign_in("member").get(&path).expect(200).json();
    assert_eq!(own["items"].as_array().map(Vec::len), Some(1));
    w.sign_in("programme_reader").get(&path).expect(403);
    let mut member = Browser::sign_in(&w, "member");
    let page = member.page(&format!("/pay-run?{DAYS}"));
    assert!(!page.contains("name=\"expected\""), "{page}");
    let csrf = hidden(&page, "csrf");
    let form =
        [("csrf", &*csrf), ("from", "2026-03-01"), ("to", "2026-03-15"), ("expected", "9000")];
    assert_eq!(member.post("/pay-run", &form).status, 403);
    assert_eq!(payments(&w), 0);
}
