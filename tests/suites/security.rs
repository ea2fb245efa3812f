//! The security log: what stands in it, that it is whole, who reads it, and how long it is kept.

use acceptance::browser::Browser;
use acceptance::world::PASSWORD;
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_app::Actor;
use traybook_domain::ColumnType;
use traybook_domain::limits::{SECURITY_LOG_MS, SIGN_IN_FAILURES_MAX};
use traybook_domain::time::Clock as _;
use traybook_domain::value::Instant;

both!(
    signing_in_and_failing_is_noted,
    codes_files_and_readings_are_noted,
    a_chain_that_was_changed_is_found,
    lines_are_kept_for_their_time,
    each_sees_the_log_of_the_own_cooperative,
);

const MANAGER: &str = "manager.a@coop.example";

/// Events of a chain with their details, in order.
fn events(w: &World, chain: i64) -> Vec<String> {
    let sql = format!(
        "SELECT event, COALESCE(detail, '') FROM security_log WHERE chain = {chain} ORDER BY seq"
    );
    let rows = w.db.connect().rows(&sql, &[], &[ColumnType::Text; 2]).expect("lines");
    let text = |row: &[traybook_domain::Value], n: usize| row[n].as_text().unwrap_or("").to_owned();
    rows.iter().map(|r| format!("{} {}", text(r, 0), text(r, 1)).trim().to_owned()).collect()
}

fn sign_in(w: &World, login: &str, password: &str) -> u16 {
    w.nobody.post("/v1/session", &json!({ "login": login, "password": password })).status
}

fn signing_in_and_failing_is_noted(w: World) {
    let coop = w.a.coop.number;
    assert_eq!(sign_in(&w, MANAGER, PASSWORD), 201);
    assert_eq!(sign_in(&w, "nobody@coop.example", "a wrong password"), 401);
    for n in 1..SIGN_IN_FAILURES_MAX {
        assert_eq!(sign_in(&w, MANAGER, &format!("a wrong password {n}")), 401);
    }
    assert_eq!(sign_in(&w, MANAGER, PASSWORD), 429);
    let mut wanted = vec!["signed_in".to_owned()];
    wanted.extend((1..SIGN_IN_FAILURES_MAX).map(|_| "sign_in_failed".to_owned()));
    wanted.push("sign_in_refused address".to_owned());
    assert_eq!(events(&w, coop), wanted);
    assert_eq!(events(&w, 0), ["sign_in_failed"]);
    // No login, address or password stands anywhere in it.
    let sql = "SELECT COALESCE(account, '') || ' ' || COALESCE(address, '') || ' ' || \
        COALESCE(detail, '') FROM security_log";
    for row in w.db.connect().rows(sql, &[], &[ColumnType::Text]).expect("lines") {
        let text = row[0].as_text().expect("text");
        for secret in ["@", "manager", "127.0.0.1", "password"] {
            assert!(!text.contains(secret), "{text}");
        }
    }
    assert_eq!(w.wait(w.app.check_security_log()).expect("checked").1, []);
}

fn codes_files_and_readings_are_noted(w: World) {
    let manager = w.sign_in("manager");
    let officer = w.sign_in("officer");
    let person = w.a.id("member_person");
    let path = format!("/v1/people/{person}/invitations");
    let code = manager.send("POST", &path, &[], None).expect(201).json()["code"].clone();
    let body = json!({ "code": code, "password": "river basket seven" });
    w.nobody.post("/v1/session/invitation", &body).expect(204);
    let mut browser = Browser::sign_in(&w, "manager");
    let lost = format!("/people/{person}");
    browser.fill(&lost, &format!("{lost}/lost"), &[]).expect(200);
    manager.get(&format!("/v1/members/{}", w.a.id("member"))).expect(200);
    browser.page(&format!("/people/{}", w.a.id("manager")));
    for _ in 0..3 {
        officer.get(&format!("/v1/people/{person}")).expect(403);
    }
    browser.get("/owed.csv").expect(200);
    w.wait(w.app.note_restored("from a copy")).expect("noted");
    let all = events(&w, w.a.coop.number);
    assert_eq!(
        all,
        [
            "signed_in",
            "signed_in",
            "code_made",
            "password_set code",
            "signed_in",
            // The page of the member, and once only.
            "read_personal /people/{id}",
            "phone_lost",
            "read_personal get_member",
            "denied get_person",
            "exported /owed.csv",
            "restored from a copy",
        ]
    );
    assert_eq!(events(&w, 0), ["restored from a copy"]);
    assert_eq!(events(&w, w.b.coop.number), ["restored from a copy"]);
}

fn a_chain_that_was_changed_is_found(w: World) {
    for _ in 0..3 {
        drop(w.sign_in("manager"));
    }
    let machine = Actor::machine(w.a.coop.clone());
    w.wait(w.app.note_export(&machine, "export")).expect("noted");
    let coop = w.a.coop.number;
    let broken = |w: &World| {
        let (_, broken) = w.wait(w.app.check_security_log()).expect("checked");
        broken.first().map(|b| (b.chain, b.seq))
    };
    assert_eq!(broken(&w), None);
    let change = format!("UPDATE security_log SET event = 'signed_out' WHERE chain = {coop}");
    assert!(w.db.connect().exec(&change, &[]).is_err(), "lines are only added");
    // Somebody who may change the tables themselves.
    let drop_guard = match w.db.is_sqlite() {
        true => "DROP TRIGGER security_log_stays",
        false => "DROP TRIGGER security_log_stays ON security_log",
    };
    w.db.connect().exec(drop_guard, &[]).expect("dropped");
    let (second, last) = (" AND seq = 2", " AND seq = 4");
    let back = format!("UPDATE security_log SET event = 'signed_in' WHERE chain = {coop}{second}");
    w.db.connect().exec(&format!("{change}{second}"), &[]).expect("changed");
    assert_eq!(broken(&w), Some((coop, 2)));
    w.db.connect().exec(&back, &[]).expect("changed back");
    assert_eq!(broken(&w), None);
    let delete = format!("DELETE FROM security_log WHERE chain = {coop}");
    w.db.connect().exec(&format!("{delete}{last}"), &[]).expect("the last one is gone");
    assert_eq!(broken(&w), Some((coop, 4)));
}

fn lines_are_kept_for_their_time(w: World) {
    drop(w.sign_in("manager"));
    w.clock.set(Instant(w.clock.now().0 + SECURITY_LOG_MS / 2));
    drop(w.sign_in("manager"));
    let coop = w.a.coop.number;
    w.wait(w.app.forget_security()).expect("nothing is old");
    assert_eq!(events(&w, coop).len(), 2);
    w.clock.set(Instant(w.clock.now().0 + SECURITY_LOG_MS / 2));
    w.wait(w.app.forget_security()).expect("forgotten");
    assert_eq!(events(&w, coop).len(), 1);
    drop(w.sign_in("manager"));
    assert_eq!(w.wait(w.app.check_security_log()).expect("checked"), (2, Vec::new()));
    // And so many of them at most, the youngest.
    let machine = Actor::machine(w.a.coop.clone());
    for n in 0..5 {
        w.wait(w.app.note_export(&machine, &format!("file {n}"))).expect("noted");
    }
    w.wait(w.app.forget_lines(3)).expect("forgotten");
    assert_eq!(events(&w, coop), ["exported file 2", "exported file 3", "exported file 4"]);
    assert_eq!(w.wait(w.app.check_security_log()).expect("checked"), (3, Vec::new()));
}

fn each_sees_the_log_of_the_own_cooperative(w: World) {
    assert_eq!(sign_in(&w, "nobody@coop.example", "a wrong password"), 401);
    drop(w.sign_in_as("manager.b@coop.example"));
    drop(w.sign_in("officer"));
    let mut manager = Browser::sign_in(&w, "manager");
    let page = manager.page("/security");
    assert_eq!(page.matches("signed in").count(), 2, "{page}");
    assert_eq!(manager.get("/security?of=none").status, 403);
    let mut operator = Browser::sign_in(&w, "operator");
    assert!(operator.page("/security?of=none").contains("sign-in failed"));
    assert!(!operator.page("/security").contains("sign-in failed"));
    for who in ["officer", "member", "programme_reader"] {
        assert_eq!(Browser::sign_in(&w, who).get("/security").status, 403);
    }
    // Programs read the same.
    let read = w.sign_in("manager").get("/v1/security-log").expect(200).json();
    assert_eq!(read["items"][0]["event"], "signed_in");
    w.sign_in("manager").get("/v1/security-log?of=none").expect(403);
    let none = w.sign_in("operator").get("/v1/security-log?of=none").expect(200).json();
    assert_eq!(none["items"][0]["event"], "sign_in_failed");
    for wrong in ["before=x", "of=all", "after=1"] {
        w.sign_in("operator").get(&format!("/v1/security-log?{wrong}")).expect(422);
    }
    w.sign_in("officer").get("/v1/security-log").expect(403);
    // Page by page.
    let machine = Actor::machine(w.a.coop.clone());
    for _ in 0..traybook_app::people::security::LINES_MAX {
        w.wait(w.app.note_export(&machine, "export")).expect("noted");
    }
    let first = w.wait(w.app.security_log(&machine, None, false)).expect("read");
    let next = w.wait(w.app.security_log(&machine, first.next, false)).expect("read");
    let seqs = |log: &Json| log["items"].as_array().expect("items").len();
    let both = [&first, &next].map(|log| seqs(&serde_json::to_value(log).expect("JSON")));
    assert_eq!(both[0], 100);
    assert!(both[1] > 0 && next.next.is_none());
}
