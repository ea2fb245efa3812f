//! Guessing at sign-ins: what is counted, for whom, and who is not kept out.

use acceptance::browser::Browser;
use acceptance::world::PASSWORD;
use acceptance::{World, both};
use serde_json::json;
use traybook_app::people::session::{Attempt, SignedIn};
use traybook_app::{Actor, App, AppError};
use traybook_domain::Kind;
use traybook_domain::limits::{
    PIN_DAYS_ANY, PIN_DAYS_ONE, PIN_FAILURES_MAX, PINS_LEFT, SIGN_IN_FAILURES_MAX,
    SIGN_IN_WINDOW_MS,
};
use traybook_domain::time::Clock as _;
use traybook_domain::value::Instant;
use traybook_storage::store::{Store, StoreConfig};

both!(
    failures_outlive_a_restart_and_are_shared,
    right_sign_ins_at_once_do_not_hinder_each_other,
    a_known_device_keeps_its_way_in,
    a_device_is_known_for_its_login_and_password_only,
    a_browser_is_a_known_device,
    one_secret_with_many_accounts_is_counted,
    many_pins_with_many_accounts_are_counted,
    windows_that_are_over_are_forgotten,
    every_login_costs_the_same_hashes,
    a_password_is_not_the_person,
);

const MANAGER: &str = "manager.a@coop.example";

fn attempt(login: &str, password: &str, address: &str) -> Attempt {
    Attempt {
        login: login.to_owned(),
        password: password.to_owned(),
        address: address.to_owned(),
        ..Attempt::default()
    }
}

fn enter(w: &World, app: &App, asked: Attempt) -> Result<SignedIn, AppError> {
    w.wait(app.sign_in(asked))
}

#[track_caller]
fn wrong(w: &World, asked: Attempt) {
    assert!(matches!(enter(w, &w.app, asked), Err(AppError::WrongPassword)));
}

fn is_tired(result: &Result<SignedIn, AppError>) -> bool {
    matches!(result, Err(AppError::TooMany { .. }))
}

/// Tries with the login of the manager, each from another address and with another password.
fn tire(w: &World, login: &str) {
    for n in 0..SIGN_IN_FAILURES_MAX {
        wrong(w, attempt(login, &format!("wrong password {n}"), &format!("192.0.2.{n}")));
    }
}

fn failures_outlive_a_restart_and_are_shared(w: World) {
    tire(&w, MANAGER);
    // Another server on the same database, with the same keys.
    let store = Store::open(&StoreConfig::new(&w.db.url, 2));
    let other = App { store: store.expect("store"), ..w.app.clone() };
    assert!(is_tired(&enter(&w, &other, attempt(MANAGER, PASSWORD, "198.51.100.1"))));
    w.clock.set(Instant(w.clock.now().0 + SIGN_IN_WINDOW_MS));
    assert!(enter(&w, &other, attempt(MANAGER, PASSWORD, "198.51.100.1")).is_ok());
}

fn right_sign_ins_at_once_do_not_hinder_each_other(w: World) {
    let tasks: Vec<_> = (0..30)
        .map(|_| {
            let nobody = w.nobody.clone();
            std::thread::spawn(move || {
                let body = json!({ "login": MANAGER, "password": PASSWORD });
                nobody.post("/v1/session", &body).status
            })
        })
        .collect();
    let statuses: Vec<u16> = tasks.into_iter().map(|t| t.join().expect("answered")).collect();
    assert_eq!(statuses, [201; 30]);
}

fn a_known_device_keeps_its_way_in(w: World) {
    let first = enter(&w, &w.app, attempt(MANAGER, PASSWORD, "203.0.113.5")).expect("in");
    let device = vec![first.device_token];
    tire(&w, MANAGER);
    assert!(is_tired(&enter(&w, &w.app, attempt(MANAGER, PASSWORD, "203.0.113.5"))));
    let known = |password: &str| {
        let asked = attempt(MANAGER, password, "203.0.113.5");
        enter(&w, &w.app, Attempt { devices: device.clone(), ..asked })
    };
    assert!(known(PASSWORD).is_ok());
    // Its own failures count, for itself.
    for _ in 0..SIGN_IN_FAILURES_MAX {
        assert!(matches!(known("not this one"), Err(AppError::WrongPassword)));
    }
    assert!(is_tired(&known(PASSWORD)));
}

fn a_device_is_known_for_its_login_and_password_only(w: World) {
    let first = enter(&w, &w.app, attempt(MANAGER, PASSWORD, "203.0.113.5")).expect("in");
    let with = |login: &str, token: &str| {
        let asked = attempt(login, PASSWORD, "203.0.113.5");
        enter(&w, &w.app, Attempt { devices: vec![token.to_owned()], ..asked })
    };
    tire(&w, "officer.a@coop.example");
    assert!(is_tired(&with("officer.a@coop.example", &first.device_token)));
    tire(&w, MANAGER);
    for made_up in ["", "x", "1.2.3", &first.device_token.replace('.', ".0")] {
        assert!(is_tired(&with(MANAGER, made_up)), "{made_up}");
    }
    assert!(with(MANAGER, &first.device_token).is_ok());
    // A new password, as after a lost telephone: the device is a stranger again.
    w.clock.set(Instant(w.clock.now().0 + 1000));
    let machine = Actor::machine(w.a.coop.clone());
    w.wait(w.app.set_password(&machine, w.a.id("manager"), PASSWORD.to_owned())).expect("set");
    assert!(is_tired(&with(MANAGER, &first.device_token)));
}

fn a_browser_is_a_known_device(w: World) {
    let mut browser = Browser::sign_in(&w, "manager");
    browser.cookies.retain(|(name, _)| name == "__Host-device");
    tire(&w, MANAGER);
    let fields = [("login", MANAGER), ("password", PASSWORD)];
    assert_eq!(Browser::new(&w).post("/sign-in", &fields).status, 429);
    assert_eq!(browser.post("/sign-in", &fields).status, 303);
    // Who sets a password by a one-time code is no stranger either.
    let officer = "officer.a@coop.example";
    tire(&w, officer);
    let (code, _) = {
        let manager = enter(&w, &w.app, attempt(MANAGER, PASSWORD, "203.0.113.77"));
        assert!(is_tired(&manager));
        let machine = Actor::machine(w.a.coop.clone());
        w.wait(w.app.invite(&machine, w.a.id("officer"))).expect("a code")
    };
    let mut phone = Browser::new(&w);
    let words = "river basket seven";
    drop(phone.post("/invitation", &[("code", &code), ("password", words)]));
    assert_eq!(phone.post("/sign-in", &[("login", officer), ("password", words)]).status, 303);
}

fn one_secret_with_many_accounts_is_counted(w: World) {
    for n in 0..SIGN_IN_FAILURES_MAX {
        wrong(&w, attempt(&format!("+25570000{n:04}"), "840271", &format!("192.0.2.{n}")));
    }
    // Another account, another address: the same PIN must wait, and another need not.
    assert!(is_tired(&enter(&w, &w.app, attempt("+255711000000", "840271", "198.51.100.9"))));
    wrong(&w, attempt("+255711000000", "840272", "198.51.100.9"));
}

fn many_pins_with_many_accounts_are_counted(w: World) {
    let one_more = |n: u32| {
        let address = format!("2001:db8:0:{n:x}::/64");
        wrong(&w, attempt(&format!("+25570000{n:04}"), &format!("84{n:04}"), &address));
    };
    one_more(0);
    // As after all but one more.
    let key = w.app.keys.mark(&["failures", "pins", ""]).expect("a key");
    let sql =
        format!("UPDATE sign_in_failures SET failed = {} WHERE key_hash = ?", PIN_FAILURES_MAX - 1);
    let rows = w.db.connect().exec(&sql, &[traybook_storage::Bind::text(key)]);
    assert_eq!(rows.expect("written"), 1);
    one_more(1);
    let next = |password: &str| attempt("member.a@coop.example", password, "198.51.100.9");
    assert!(is_tired(&enter(&w, &w.app, next("840271"))));
    // Whoever has a password goes on.
    assert!(enter(&w, &w.app, next(PASSWORD)).is_ok());
}

fn kept(w: &World) -> i64 {
    let sql = "SELECT CAST(COUNT(*) AS BIGINT) FROM sign_in_failures";
    let row = w.db.connect().row(sql, &[], &[traybook_domain::ColumnType::Int]).expect("count");
    row.expect("a row")[0].as_int().expect("a number")
}

fn windows_that_are_over_are_forgotten(w: World) {
    tire(&w, MANAGER);
    assert!(enter(&w, &w.app, attempt("officer.a@coop.example", PASSWORD, "192.0.2.77")).is_ok());
    // The login, ten addresses and ten passwords; of what was right nothing.
    assert_eq!(kept(&w), 21);
    let sql = "SELECT key_hash FROM sign_in_failures";
    let rows = w.db.connect().rows(sql, &[], &[traybook_domain::ColumnType::Text]).expect("rows");
    for row in &rows {
        let key = row[0].as_text().expect("text");
        assert!(key.len() == 32 && key.bytes().all(|b| b.is_ascii_hexdigit()), "{key}");
    }
    w.wait(w.app.forget_failures()).expect("pruned");
    assert_eq!(kept(&w), 21);
    let conn = &mut w.db.connect();
    traybook_storage::people::failures::prune(conn, 0, 5).expect("bounded");
    assert_eq!(kept(&w), 5);
    w.clock.set(Instant(w.clock.now().0 + SIGN_IN_WINDOW_MS));
    w.wait(w.app.forget_failures()).expect("pruned");
    assert_eq!(kept(&w), 0);
}

fn every_login_costs_the_same_hashes(w: World) {
    let guest = json!({ "code": "guest", "name": "Guest", "email": MANAGER, "language": "en",
        "role": "manager", "active": true });
    let id = w.make(&w.b, Kind::Person, guest);
    let machine = Actor::machine(w.b.coop.clone());
    w.wait(w.app.set_password(&machine, id, "another set of words".to_owned())).expect("set");
    let cost = |login: &str| {
        let before = w.app.hasher.checked();
        wrong(&w, attempt(login, "not this one", login));
        w.app.hasher.checked() - before
    };
    let (two, one, none) =
        (cost(MANAGER), cost("officer.a@coop.example"), cost("nobody@coop.example"));
    assert_eq!((two, one), (none, none));
}

fn a_password_is_not_the_person(w: World) {
    let manager = w.sign_in("manager");
    let person = json!({ "code": "o9", "name": "Zawadi Lukumay", "phone": "+255700840271",
        "language": "sw", "role": "member", "active": true, "member_id": w.a.id("member") });
    let id = manager.post("/v1/people", &person).expect(201).json()["id"].clone();
    let path = format!("/v1/people/{}/invitations", id.as_str().expect("an id"));
    let code = manager.send("POST", &path, &[], None).expect(201).json()["code"].clone();
    let refused = |password: &str| {
        let body = json!({ "code": code, "password": password });
        w.nobody.post("/v1/session/invitation", &body).expect(422).errors()[0].1.clone()
    };
    for password in ["zawadilukumay", "+255700840271", "Cooperative a", "840271", "700840"] {
        assert_eq!(refused(password), "common", "{password}");
    }
    assert_eq!(refused("250685"), "date_like");
}

/// What the documentation says of an attack follows from the constants.
#[test]
fn the_documentation_says_how_long_guessing_takes() {
    let serve =
        std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/../server/cli/SERVE.md"));
    let serve = serve.expect("the text");
    let minutes = SIGN_IN_WINDOW_MS / 60_000;
    for said in [
        format!("{SIGN_IN_FAILURES_MAX} failures in {minutes} minutes"),
        format!("{PIN_FAILURES_MAX} failures in {minutes} minutes"),
        format!("{},000 PINs", PINS_LEFT / 1_000),
        format!("{PIN_DAYS_ONE} days"),
        format!("{PIN_DAYS_ANY} days"),
    ] {
        assert!(serve.contains(&said), "SERVE.md does not say: {said}");
    }
}
