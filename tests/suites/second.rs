//! The second factor, asking for it again, and what people do about their own sign-ins.

use acceptance::browser::Browser;
use acceptance::world::PASSWORD;
use acceptance::{Client, World, both};
use hmac::{Hmac, Mac as _};
use serde_json::{Value as Json, json};
use sha1::Sha1;
use sha2::{Digest as _, Sha256};
use traybook_domain::limits::{PROOF_MS, session_ms};
use traybook_domain::people::authz::Role;
use traybook_domain::time::Clock as _;
use traybook_domain::value::Instant;
use traybook_storage::Bind;

both!(
    a_second_factor_is_asked_for_at_signing_in,
    recovery_codes_work_once,
    a_code_is_asked_for_again_before_what_does_most_harm,
    forms_wait_for_a_code,
    only_those_who_run_something_have_one,
    a_password_is_changed_by_its_owner,
    own_sign_ins_are_seen_and_ended,
    sign_ins_end_unused_and_old,
    sign_ins_of_an_older_program_go_on,
    a_reset_by_somebody_else_is_shown,
    a_lost_telephone_takes_the_second_factor_along,
);

const MANAGER: &str = "manager.a@coop.example";

pub(super) fn later(w: &World, ms: i64) {
    w.clock.set(Instant(w.clock.now().0 + ms));
}

/// The code of a moment (RFC 6238 over RFC 4226), worked out apart from the program.
fn code(secret: &str, at_ms: i64) -> String {
    let letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567";
    let bits: String = secret
        .chars()
        .map(|c| format!("{:05b}", letters.find(c).expect("a letter of base 32")))
        .collect();
    let bytes: Vec<u8> = (0..bits.len() / 8)
        .map(|n| u8::from_str_radix(&bits[n * 8..n * 8 + 8], 2).expect("bits"))
        .collect();
    let mut mac = Hmac::<Sha1>::new_from_slice(&bytes).expect("a key");
    mac.update(&(at_ms / 30_000).to_be_bytes());
    let hash = mac.finalize().into_bytes();
    let offset = usize::from(hash[19] & 15);
    let number = u32::from_be_bytes(hash[offset..offset + 4].try_into().expect("four"));
    format!("{:06}", (number & 0x7fff_ffff) % 1_000_000)
}

/// A manager with a second factor: browser, secret, recovery codes.
pub(super) struct Manager {
    pub browser: Browser,
    secret: String,
    recovery: Vec<String>,
}

impl Manager {
    pub fn set_up(w: &World, who: &str) -> Self {
        let mut browser = Browser::sign_in(w, who);
        let page = browser.fill("/own", "/own/second", &[]).expect(200).text;
        let secret = page.split("<figcaption>").nth(1).expect("the secret");
        let secret = secret.split("<br>").nth(1).and_then(|t| t.split('<').next());
        let secret = secret.expect("the secret").to_owned();
        assert_eq!(secret.len(), 32, "160 bits: {page}");
        let now = w.clock.now().0;
        // Before a first code it does not count.
        drop(Browser::sign_in(w, who));
        let wrong = browser.fill_in(&page, "/own/second/confirm", &[("code", "000000")]);
        assert_eq!(wrong.status, 422);
        let fields = [("code", code(&secret, now))];
        let fields = [("code", fields[0].1.as_str())];
        let done = browser.fill_in(&page, "/own/second/confirm", &fields).expect(200).text;
        let words =
            done.split(|c: char| !(c.is_ascii_uppercase() || c.is_ascii_digit() || c == '-'));
        let recovery: Vec<String> =
            words.filter(|w| w.len() == 11 && w.contains('-')).map(str::to_owned).collect();
        assert_eq!(recovery.len(), 10, "{done}");
        Self { browser, secret, recovery }
    }

    /// A code that was not used yet.
    pub fn code(&self, w: &World) -> String {
        later(w, 30_000);
        code(&self.secret, w.clock.now().0)
    }

    /// A client of the interface, signed in with a code.
    fn client(&self, w: &World) -> Client {
        let body = json!({ "login": MANAGER, "password": PASSWORD, "code": self.code(w) });
        let token = w.nobody.post("/v1/session", &body).expect(201).json();
        w.nobody.with_token(token["access_token"].as_str().expect("a token"))
    }
}

fn new_person(n: u32) -> Json {
    json!({ "code": format!("n{n}"), "name": "New", "email": format!("n{n}@coop.example"),
        "language": "en", "role": "officer", "active": true })
}

fn a_second_factor_is_asked_for_at_signing_in(w: World) {
    let manager = Manager::set_up(&w, "manager");
    let body = json!({ "login": MANAGER, "password": PASSWORD });
    let asked = w.nobody.post("/v1/session", &body).expect(409).json();
    assert_eq!(asked["conflict"], "second_factor");
    let with = |code: &str| {
        let body = json!({ "login": MANAGER, "password": PASSWORD, "code": code });
        w.nobody.post("/v1/session", &body)
    };
    assert_eq!(with("000000").expect(422).errors()[0].1, "wrong_code");
    let good = manager.code(&w);
    with(&good).expect(201);
    assert_eq!(with(&good).expect(422).errors()[0].1, "wrong_code", "each works once");
    // A page asks for the password first, and then for the code.
    let mut browser = Browser::new(&w);
    let fields = [("login", MANAGER), ("password", PASSWORD)];
    let page = browser.post("/sign-in", &fields).expect(200).text;
    assert!(page.contains("name=\"code\"") && !page.contains("name=\"password\""), "{page}");
    assert!(!browser.cookies.iter().any(|(name, _)| name == "__Host-traybook"));
    let wrong = browser.fill_in(&page, "/sign-in", &[("code", "000000")]);
    assert_eq!(wrong.status, 422);
    let good = manager.code(&w);
    assert_eq!(browser.fill_in(&wrong.text, "/sign-in", &[("code", &good)]).status, 303);
    browser.get("/month").expect(200);
    // A ticket of nobody, and one that is too old.
    let made_up = page.replace("name=\"ticket\" value=\"", "name=\"ticket\" value=\"1");
    let good = manager.code(&w);
    let refused = Browser::new(&w).fill_in(&made_up, "/sign-in", &[("code", &good)]);
    assert_eq!(refused.status, 422);
    later(&w, 10 * 60_000);
    let good = manager.code(&w);
    let old = Browser::new(&w).fill_in(&page, "/sign-in", &[("code", &good)]);
    assert_eq!(old.status, 422, "{}", old.text);
    // Guesses are counted.
    for _ in 0..10 {
        drop(with("000000"));
    }
    let good = manager.code(&w);
    with(&good).expect(429);
}

fn recovery_codes_work_once(w: World) {
    let manager = Manager::set_up(&w, "manager");
    let with = |code: &str| {
        let body = json!({ "login": MANAGER, "password": PASSWORD, "code": code });
        w.nobody.post("/v1/session", &body).status
    };
    let first = manager.recovery[0].to_lowercase().replace('-', " ");
    assert_eq!((with(&first), with(&first), with(&manager.recovery[1])), (201, 422, 201));
    // Only hashes are kept.
    let sql = "SELECT code_hash FROM recovery_codes";
    let rows = w.db.connect().rows(sql, &[], &[traybook_domain::ColumnType::Text]).expect("rows");
    assert_eq!(rows.len(), 8);
    // By a slow hash, all with one salt: one try costs one hash.
    let kept: Vec<&str> = rows.iter().filter_map(|r| r[0].as_text()).collect();
    let salt = |hash: &str| hash.split('$').nth(4).map(str::to_owned);
    assert!(
        kept.iter().all(|h| h.starts_with("$argon2id$") && salt(h) == salt(kept[0])),
        "{kept:?}"
    );
    let before = w.app.hasher.checked();
    assert_eq!(with("WRONG-CODES"), 422);
    let of_wrong = w.app.hasher.checked() - before;
    let before = w.app.hasher.checked();
    assert_eq!(with("000000"), 422);
    assert_eq!(of_wrong, w.app.hasher.checked() - before + 1);
    // Codes that an earlier version kept by a fast hash work until they are used.
    let old: String = Sha256::digest("ABCDE23456").iter().map(|b| format!("{b:02x}")).collect();
    let mut conn = w.db.connect();
    conn.exec("DELETE FROM recovery_codes WHERE code_hash <> ?", &[Bind::text(kept[0])])
        .expect("gone");
    let sql = "UPDATE recovery_codes SET code_hash = ?";
    conn.exec(sql, &[Bind::text(&*old)]).expect("as it was");
    assert_eq!((with("abcde-23456"), with("abcde-23456")), (201, 422));
    let sql = "SELECT sealed FROM second_factors";
    let rows = w.db.connect().rows(sql, &[], &[traybook_domain::ColumnType::Text]).expect("rows");
    assert!(!rows[0][0].as_text().expect("text").contains(&manager.secret));
}

fn a_code_is_asked_for_again_before_what_does_most_harm(w: World) {
    let manager = Manager::set_up(&w, "manager");
    let client = manager.client(&w);
    client.post("/v1/people", &new_person(1)).expect(201);
    later(&w, PROOF_MS);
    let officer = w.a.id("officer");
    let asked = |answer: acceptance::Answer| {
        assert_eq!(answer.expect(403).json()["code"], "proof_needed");
    };
    asked(client.post("/v1/people", &new_person(2)));
    asked(client.patch(&format!("/v1/people/{officer}"), "\"1\"", &json!({ "active": false })));
    asked(client.delete(&format!("/v1/people/{officer}"), "\"1\""));
    asked(client.send("POST", &format!("/v1/people/{officer}/invitations"), &[], None));
    asked(client.post("/v1/month-closes", &json!({ "month": "2026-02" })));
    let csv = [("accept", "text/csv")];
    asked(client.send("GET", "/v1/reports/savings?month=2026-02", &csv, None));
    // What is everyday work goes on, and so does reading.
    client.get("/v1/people").expect(200);
    client.post("/v1/areas", &json!({ "name": "New area" })).expect(201);
    let prove = |code: &str| client.post("/v1/session/proof", &json!({ "code": code }));
    prove("000000").expect(422);
    prove(&manager.code(&w)).expect(204);
    client.post("/v1/people", &new_person(2)).expect(201);
    client.send("GET", "/v1/reports/savings?month=2026-02", &csv, None).expect(200);
    // Whoever has none is not asked.
    later(&w, PROOF_MS);
    w.sign_in("operator").post("/v1/people", &new_person(3)).expect(201);
}

fn forms_wait_for_a_code(w: World) {
    let mut manager = Manager::set_up(&w, "manager");
    later(&w, PROOF_MS);
    let fields = [
        ("code", "n7"),
        ("name", "Juma Mfano"),
        ("role", "officer"),
        ("email", "n7@coop.example"),
        ("language", "en"),
        ("active", "true"),
    ];
    let asked = manager.browser.fill("/people", "/people", &fields).expect(200).text;
    assert!(asked.contains("action=\"/proof\"") && asked.contains("Juma Mfano"), "{asked}");
    let wrong = manager.browser.fill_in(&asked, "/proof", &[("code", "000000")]);
    assert!(wrong.status == 422 && wrong.text.contains("Juma Mfano"), "{}", wrong.text);
    let good = manager.code(&w);
    let send = manager.browser.fill_in(&wrong.text, "/proof", &[("code", &good)]).expect(200).text;
    let done = manager.browser.fill_in(&send, "/people", &[]);
    assert!(done.status == 303, "{} {}", done.status, done.text);
    // A file leads on to itself.
    later(&w, PROOF_MS);
    let asked = manager.browser.get("/owed.csv").expect(200).text;
    let good = manager.code(&w);
    let to = manager.browser.fill_in(&asked, "/proof", &[("code", &good)]);
    assert_eq!(to.header("location"), Some("/owed.csv"), "{}", to.text);
    let file = manager.browser.get("/owed.csv").expect(200);
    assert!(file.header("content-disposition").is_some());
}

fn only_those_who_run_something_have_one(w: World) {
    let mut officer = Browser::sign_in(&w, "officer");
    let page = officer.page("/own");
    assert!(!page.contains("/own/second"));
    let csrf = acceptance::browser::hidden(&page, "csrf");
    assert_eq!(officer.post("/own/second", &[("csrf", &csrf)]).status, 403);
    let mut manager = Manager::set_up(&w, "manager");
    let good = manager.code(&w);
    let gone = manager.browser.fill("/own", "/own/second/end", &[("code", &good)]);
    assert!(gone.leads_to("/own"), "{}", gone.text);
    drop(Browser::sign_in(&w, "manager"));
}

fn a_password_is_changed_by_its_owner(w: World) {
    let mut here = Browser::sign_in(&w, "officer");
    let mut there = Browser::sign_in(&w, "officer");
    let mut change =
        |old: &str, new: &str| here.fill("/own", "/own/password", &[("old", old), ("new", new)]);
    let wrong = change("not this one", "river basket seven");
    assert!(wrong.status == 422 && !wrong.text.contains("river basket"), "{}", wrong.text);
    assert_eq!(change(PASSWORD, "officer.a@coop.example").status, 422);
    let done = change(PASSWORD, "river basket seven");
    assert!(done.leads_to("/own"), "{}", done.text);
    assert_eq!(here.get("/own").status, 200);
    assert_eq!(there.get("/own").status, 303);
    let login = "officer.a@coop.example";
    let enter = |password: &str| {
        w.nobody.post("/v1/session", &json!({ "login": login, "password": password })).status
    };
    assert_eq!((enter(PASSWORD), enter("river basket seven")), (401, 201));
}

fn own_sign_ins_are_seen_and_ended(w: World) {
    let mut here = Browser::sign_in(&w, "officer");
    let mut there = Browser::sign_in(&w, "officer");
    let api = w.sign_in("officer");
    let mut other = Browser::sign_in(&w, "manager");
    let page = here.page("/own");
    assert!(page.contains("this one") && page.contains("a program"), "{page}");
    let ends = |page: &str| page.matches("action=\"/own/sign-ins/").count();
    assert_eq!((ends(&page), ends(&other.page("/own"))), (2, 0));
    // Somebody else's is not there.
    let id = page.split("action=\"/own/sign-ins/").nth(1).and_then(|t| t.split('"').next());
    let path = format!("/own/sign-ins/{}", id.expect("an id"));
    let csrf = acceptance::browser::hidden(&other.page("/own"), "csrf");
    assert_eq!(other.post(&path, &[("csrf", &csrf)]).status, 404);
    assert!(here.fill("/own", &path, &[]).leads_to("/own"));
    assert_eq!(ends(&here.page("/own")), 1);
    assert!(here.fill("/own", "/own/sign-ins", &[]).leads_to("/own"));
    assert_eq!(there.get("/own").status, 303);
    api.get("/v1/session").expect(401);
    assert_eq!((here.get("/own").status, other.get("/own").status), (200, 200));
}

fn sign_ins_end_unused_and_old(w: World) {
    for (who, role) in [("manager", Role::Manager), ("officer", Role::Officer)] {
        let (idle, whole) = session_ms(role);
        let login = format!("{who}.a@coop.example");
        let body = json!({ "login": login, "password": PASSWORD });
        let enter = || w.nobody.post("/v1/session", &body).expect(201).json();
        let refresh = |tokens: &Json| {
            let body = json!({ "refresh_token": tokens["refresh_token"] });
            w.nobody.post("/v1/session/refresh", &body)
        };
        let unused = enter();
        later(&w, idle - 1);
        let mut used = refresh(&unused).expect(201).json();
        later(&w, idle);
        refresh(&used).expect(401);
        used = enter();
        // In use all the time, and too old in the end.
        let begun = w.clock.now().0;
        while w.clock.now().0 + idle / 2 < begun + whole {
            later(&w, idle / 2);
            used = refresh(&used).expect(201).json();
        }
        later(&w, idle / 2);
        refresh(&used).expect(401);
    }
    let mut browser = Browser::sign_in(&w, "manager");
    later(&w, session_ms(Role::Manager).0 - 1);
    assert_eq!(browser.get("/own").status, 200);
    later(&w, session_ms(Role::Manager).0 - 1);
    assert_eq!(browser.get("/own").status, 200, "it was seen in between");
    later(&w, session_ms(Role::Manager).0);
    assert_eq!(browser.get("/own").status, 303);
}

/// The migration makes a line of each sign-in that was not ended, and of no other.
fn sign_ins_of_an_older_program_go_on(w: World) {
    let (going, ended) = (w.sign_in("manager"), w.sign_in("officer"));
    let mut browser = Browser::sign_in(&w, "member");
    ended.send("DELETE", "/v1/session", &[], None).expect(204);
    let folder = if w.db.is_sqlite() { "sqlite" } else { "postgres" };
    let up =
        format!("{}/../migrations/{folder}/0022_second_factors/up.sql", env!("CARGO_MANIFEST_DIR"));
    let up = std::fs::read_to_string(up).expect("the migration");
    let from = up.find("INSERT INTO sign_ins").expect("the statement");
    let fill = up[from..].split(';').next().expect("the statement");
    let conn = &mut w.db.connect();
    conn.exec("DELETE FROM sign_ins", &[]).expect("as before");
    going.get("/v1/session").expect(401);
    conn.exec(fill, &[]).expect("filled");
    going.get("/v1/session").expect(200);
    assert_eq!(browser.get("/today").status, 200);
    let sql = "SELECT CAST(COUNT(*) AS BIGINT) FROM sign_ins";
    let row = conn.row(sql, &[], &[traybook_domain::ColumnType::Int]).expect("count");
    assert_eq!(row.expect("a row")[0].as_int(), Some(2));
    assert!(browser.page("/own").contains("20 March 2026"));
}

fn a_reset_by_somebody_else_is_shown(w: World) {
    let mut officer = Browser::sign_in(&w, "officer");
    let mut manager = Browser::sign_in(&w, "manager");
    let person = format!("/people/{}", w.a.id("officer"));
    let notice = "reset this sign-in";
    assert!(!officer.page("/round").contains(notice));
    manager.fill(&person, &format!("{person}/code"), &[]).expect(200);
    let page = officer.page("/round");
    assert!(page.contains(notice) && page.contains("20 March 2026"), "{page}");
    assert!(officer.fill("/round", "/own/notice", &[]).leads_to("/round"));
    assert!(!officer.page("/round").contains(notice));
    assert!(!manager.page("/month").contains(notice));
    // A first code resets nothing.
    let new = manager.fill(
        "/people",
        "/people",
        &[
            ("code", "n1"),
            ("name", "Juma Mfano"),
            ("role", "officer"),
            ("email", "n1@coop.example"),
            ("language", "en"),
            ("active", "true"),
        ],
    );
    let to = new.header("location").expect("a page").split('?').next().expect("a path").to_owned();
    let page = manager.fill(&to, &format!("{to}/code"), &[]).expect(200).text;
    let code = page.split("shown only now: ").nth(1).and_then(|t| t.split('<').next());
    let words = "grass moon bucket";
    let mut first = Browser::new(&w);
    let fields = [("code", code.expect("a code")), ("password", words)];
    assert_eq!(first.post("/invitation", &fields).status, 303);
    assert_eq!(
        first.post("/sign-in", &[("login", "n1@coop.example"), ("password", words)]).status,
        303
    );
    assert!(!first.page("/round").contains(notice));
}

/// What the documentation says of sign-ins follows from the constants.
#[test]
fn the_documentation_says_how_long_sign_ins_hold() {
    let serve = concat!(env!("CARGO_MANIFEST_DIR"), "/../server/cli/SERVE.md");
    let serve = std::fs::read_to_string(serve).expect("the text");
    let days = |ms: i64| ms / 86_400_000;
    let (office, field) = (session_ms(Role::Manager), session_ms(Role::Officer));
    for said in [
        format!("older than {} minutes", PROOF_MS / 60_000),
        format!("{} days without use, and after {} days", days(office.0), days(office.1)),
        format!("after {} and {} days", days(field.0), days(field.1)),
        format!("is kept {} days", days(traybook_domain::limits::SECURITY_LOG_MS)),
        format!(
            "the last {},000,000 lines",
            traybook_domain::limits::SECURITY_LINES_MAX / 1_000_000
        ),
    ] {
        assert!(serve.contains(&said), "SERVE.md does not say: {said}");
    }
}

fn a_lost_telephone_takes_the_second_factor_along(w: World) {
    drop(Manager::set_up(&w, "manager"));
    let mut operator = Browser::sign_in(&w, "operator");
    let person = format!("/people/{}", w.a.id("manager"));
    let page = operator.fill(&person, &format!("{person}/lost"), &[]).expect(200).text;
    let code = page.split("shown only now: ").nth(1).and_then(|t| t.split('<').next());
    let words = "grass moon bucket";
    let mut manager = Browser::new(&w);
    let fields = [("code", code.expect("a code")), ("password", words)];
    assert_eq!(manager.post("/invitation", &fields).status, 303);
    assert_eq!(manager.post("/sign-in", &[("login", MANAGER), ("password", words)]).status, 303);
    assert!(manager.page("/month").contains("reset this sign-in"));
}
