//! Texts that nobody asked for: work, cautions, tomorrow's visit, a month's result; their hours, their
//! consent, and each once.

use crate::report::full_month;
use crate::texts::Phone;
use acceptance::browser::Browser;
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_domain::Kind;

both!(
    reminders_come_by_day_and_end_with_stop,
    a_held_lot_is_said_at_once_and_once_a_hold,
    a_caution_after_stop_is_an_officers_call,
    a_planned_visit_is_said_the_day_before,
    a_closed_month_is_said_to_who_may_hear_money,
    what_waited_through_the_day_wakes_nobody,
);

const EMPTY: [&str; 0] = [];

/// What a telephone gets at a time of the co-operative's zone.
fn at(w: &World, phone: &Phone<'_>, text: &str) -> Vec<String> {
    set(w, text);
    w.wait(w.app.remind()).expect("reminders");
    phone.fetch()
}

fn set(w: &World, text: &str) {
    let at = traybook_domain::time::parse_instant(&format!("{text}:00+03:00"));
    w.clock.set(at.expect("an instant"));
}

fn reminders_come_by_day_and_end_with_stop(w: World) {
    crate::work::farm(&w, "T1");
    let phone = Phone::linked(&w, "member");
    let at = |text: &str| at(&w, &phone, text);
    assert_eq!(at("2026-03-21T05:30"), Vec::<String>::new(), "nobody is woken");
    let morning = at("2026-03-21T06:31");
    let list = morning.iter().find(|t| t.contains("T1")).expect("the day's list");
    assert!(list.contains("loweka"), "{list}");
    assert_eq!(at("2026-03-21T06:40"), Vec::<String>::new(), "once");
    // Its numbers hold without asking for the list.
    let place = list.find("loweka").expect("a soak");
    let number = list[..place].trim_end().rsplit([' ', ':', ';']).next().expect("a number");
    assert_eq!(phone.say(&format!("tayari {number}")).0, "record", "{list}");
    assert_eq!(at("2026-03-21T21:30"), Vec::<String>::new());
    phone.say("stop");
    assert_eq!(at("2026-03-22T06:31"), Vec::<String>::new(), "nothing after STOP");
    phone.say("anza");
    assert!(!at("2026-03-22T06:35").is_empty());
}

/// Of several texts those with a word.
fn with<'t>(texts: &'t [String], word: &str) -> Vec<&'t String> {
    texts.iter().filter(|t| t.contains(word)).collect()
}

fn a_held_lot_is_said_at_once_and_once_a_hold(w: World) {
    crate::work::farm(&w, "T1");
    let phone = Phone::linked(&w, "member");
    let lot = w.a.id("lot");
    let code = w.sign_in("manager").get(&format!("/v1/seed-lots/{lot}")).expect(200).json();
    let code = code["code"].as_str().expect("a code").to_owned();
    at(&w, &phone, "2026-03-20T12:00");
    let hold = |on: &str| {
        let body = json!({ "seed_lot_id": lot, "held_from": on, "reason": "musty" });
        let made = w.sign_in("manager").post("/v1/lot-holds", &body).expect(201).json();
        made["id"].as_str().expect("an id").to_owned()
    };
    let first = hold("2026-03-20");
    let said = at(&w, &phone, "2026-03-20T12:01");
    let caution = with(&said, &code);
    assert!(caution.iter().any(|t| t.contains("T1") && t.contains("Usiiloweke")), "{said:?}");
    assert_eq!(at(&w, &phone, "2026-03-20T12:02"), EMPTY, "once");
    let released = json!({ "released_on": "2026-03-20", "finding": "dry inside" });
    w.sign_in("manager").patch(&format!("/v1/lot-holds/{first}"), "\"1\"", &released).expect(200);
    assert_eq!(with(&at(&w, &phone, "2026-03-20T12:03"), &code), Vec::<&String>::new());
    // Held again is news again, but not at night.
    set(&w, "2026-03-20T22:00");
    hold("2026-03-20");
    assert_eq!(at(&w, &phone, "2026-03-20T22:00"), EMPTY);
    assert!(!with(&at(&w, &phone, "2026-03-21T05:00"), &code).is_empty());
}

fn a_planned_visit_is_said_the_day_before(w: World) {
    let phone = Phone::linked(&w, "member");
    let plan = |farm: &str, on: &str| {
        let body = json!({ "farm_id": w.a.id(farm), "planned_on": on });
        w.sign_in("officer").post("/v1/visit-plans", &body).expect(201).json()
    };
    plan("farm", "2026-03-22");
    // Another member's farm.
    w.make(
        &w.a,
        Kind::VisitPlan,
        json!({ "farm_id": w.a.id("other_farm"),
        "planned_on": "2026-03-22" }),
    );
    let visits = |texts: Vec<String>| with(&texts, "kutembelea").len();
    assert_eq!(visits(at(&w, &phone, "2026-03-20T17:30")), 0, "two days before");
    assert_eq!(visits(at(&w, &phone, "2026-03-21T12:00")), 0, "not yet");
    let said = at(&w, &phone, "2026-03-21T17:00");
    assert_eq!(with(&said, "kutembelea").len(), 1, "{said:?}");
    assert!(with(&said, "F1")[0].contains("22/3") && with(&said, "F2").is_empty(), "{said:?}");
    assert_eq!(visits(at(&w, &phone, "2026-03-21T17:01")), 0, "once");
    assert_eq!(visits(at(&w, &phone, "2026-03-22T17:00")), 0, "it is over");
    // Taken back, or the number does not want to hear.
    let gone = plan("farm", "2026-03-24");
    let path = format!("/v1/visit-plans/{}", gone["id"].as_str().expect("an id"));
    w.sign_in("officer").delete(&path, "\"1\"").expect(204);
    assert_eq!(visits(at(&w, &phone, "2026-03-23T17:00")), 0);
    plan("farm", "2026-03-25");
    phone.say("stop");
    assert_eq!(visits(at(&w, &phone, "2026-03-24T17:00")), 0);
    // The officer sees it on the round and on the farm's page.
    let mut browser = Browser::sign_in(&w, "officer");
    assert!(browser.page("/round").contains("Planned visits"));
    let page = browser.page(&format!("/farms/{}", w.a.id("farm")));
    assert!(page.contains("A visit is planned for 25 March 2026"), "{page}");
    w.sign_in("member")
        .post(
            "/v1/visit-plans",
            &json!({ "farm_id": w.a.id("farm"),
        "planned_on": "2026-03-25" }),
        )
        .expect(403);
}

/// The digits of a text in one row.
fn digits(text: &str) -> String {
    text.chars().filter(char::is_ascii_digit).collect()
}

fn a_closed_month_is_said_to_who_may_hear_money(w: World) {
    full_month(&w);
    let phone = Phone::linked(&w, "member");
    at(&w, &phone, "2026-03-20T12:00");
    let manager = w.sign_in("manager");
    manager.post("/v1/month-closes", &json!({ "month": "2026-02" })).expect(201);
    // Not in the evening.
    assert_eq!(with(&at(&w, &phone, "2026-03-20T20:00"), "Februari"), Vec::<&String>::new());
    let said = at(&w, &phone, "2026-03-21T06:30");
    let result = with(&said, "Februari");
    assert_eq!(result.len(), 1, "{said:?}");
    // The figures are those of the report.
    let report = w.sign_in("manager").get("/v1/reports/savings?month=2026-02").expect(200).json();
    let farms = report["farms"].as_array().expect("farms");
    let line = farms.iter().find(|f| f["farm"] == "F1").expect("the farm");
    let whole = |v: &Json| digits(&format!("{:.0}", v.as_f64().expect("a figure").abs()));
    assert!(digits(result[0]).contains(&whole(&line["saving"])), "{} {line}", result[0]);
    if let Some(interval) = line["saving_interval"].as_object() {
        for end in ["low", "high"] {
            assert!(digits(result[0]).contains(&whole(&interval[end])), "{} {line}", result[0]);
        }
    }
    // An interval that reaches zero, or none at all, allows no word but "cannot tell".
    let ends = ["low", "high"].map(|end| line["saving_interval"][end].as_f64());
    let is_clear = matches!(ends, [Some(low), Some(high)] if low > 0.0 || high < 0.0);
    assert_eq!(result[0].contains("bado haijulikani"), !is_clear, "{} {line}", result[0]);
    assert_eq!(with(&at(&w, &phone, "2026-03-21T06:31"), "Februari").len(), 0, "once");
    // A number that did not agree to money, and one that comes when it is no news any more.
    let link = |number: &str, money: bool| {
        let other = Phone::new(&w, number);
        let body = json!({ "number": number, "member_id": w.a.id("member"), "language": "sw",
            "consent_on": "2026-03-19", "reminders": true, "money": money });
        w.sign_in("manager").post("/v1/text-numbers", &body).expect(200);
        other.verify();
        other
    };
    let poor = link("+255700000104", false);
    assert_eq!(with(&at(&w, &poor, "2026-03-21T07:00"), "Februari").len(), 0);
    set(&w, "2026-03-27T12:01");
    let late = link("+255700000105", true);
    assert_eq!(with(&at(&w, &late, "2026-03-27T12:02"), "Februari").len(), 0);
}

fn what_waited_through_the_day_wakes_nobody(w: World) {
    let phone = Phone::linked(&w, "member");
    let body = json!({ "farm_id": w.a.id("farm"), "planned_on": "2026-03-21" });
    w.make(&w.a, Kind::VisitPlan, body);
    full_month(&w);
    w.sign_in("manager").post("/v1/month-closes", &json!({ "month": "2026-02" })).expect(201);
    set(&w, "2026-03-20T18:00");
    w.wait(w.app.remind()).expect("reminders");
    // The carrier was away until the night: the visit's text is too late, the result waits, and
    // the answer to a text is not held up.
    set(&w, "2026-03-20T23:00");
    assert!(phone.say("msaada").1.starts_with("Andika"));
    assert_eq!(phone.fetch(), EMPTY);
    set(&w, "2026-03-21T06:29");
    assert_eq!(phone.fetch(), EMPTY);
    set(&w, "2026-03-21T06:30");
    let said = phone.fetch();
    assert_eq!(
        (with(&said, "Februari").len(), with(&said, "kutembelea").len()),
        (1, 0),
        "{said:?}"
    );
}

fn a_caution_after_stop_is_an_officers_call(w: World) {
    crate::work::farm(&w, "T1");
    let phone = Phone::linked(&w, "member");
    let lot = w.a.id("lot");
    let code = w.sign_in("manager").get(&format!("/v1/seed-lots/{lot}")).expect(200).json();
    let code = code["code"].as_str().expect("a code").to_owned();
    at(&w, &phone, "2026-03-20T12:00");
    phone.say("stop");
    phone.fetch();
    let calls = || -> Vec<Json> {
        let all = w.sign_in("officer").get("/v1/correction-requests?limit=200").expect(200).items();
        let is_call = |r: &Json| r["wish"].as_str().is_some_and(|t| t.contains(&code));
        all.into_iter().filter(is_call).collect()
    };
    assert_eq!(calls(), Vec::<Json>::new());
    let body = json!({ "seed_lot_id": lot, "held_from": "2026-03-20", "reason": "musty" });
    w.sign_in("manager").post("/v1/lot-holds", &body).expect(201);
    for minute in ["12:01", "12:02"] {
        assert_eq!(at(&w, &phone, &format!("2026-03-20T{minute}")), EMPTY, "nothing unasked");
    }
    // One for each farm of the member, each once.
    let asked = calls();
    let farms: std::collections::HashSet<String> =
        asked.iter().map(|r| r["farm_id"].to_string()).collect();
    assert!(!asked.is_empty() && farms.len() == asked.len(), "{asked:?}");
    assert!(asked.iter().all(|r| r["wish"].as_str().is_some_and(|t| t.contains("STOP"))));
}
