//! Passkeys in place of a code of the second factor: at signing in, before what does most harm, and
//! all that does not hold.

use super::second::{Manager, later};
use acceptance::browser::{Browser, hidden};
use acceptance::passkey::{SoftKey, asked};
use acceptance::world::PASSWORD;
use acceptance::{Answer, Db, World, both};
use traybook_domain::limits::{
    PASSKEY_MS, PASSKEY_QUESTIONS_MAX, PASSKEYS_MAX, PROOF_MS, SIGN_IN_FAILURES_MAX,
};
use traybook_domain::{ColumnType, Value};
use traybook_http::Settings;

both!(
    a_passkey_stands_for_a_code,
    what_does_not_hold_is_refused,
    an_answer_holds_once_and_not_for_long,
    a_copied_key_is_seen,
    keys_of_others_are_not_there,
    keys_end_with_the_second_factor,
    keys_and_questions_are_bounded,
    without_a_safe_address_there_are_none,
    guesses_are_counted,
);

const HOST: &str = "records.example";

/// Adds a new key.
fn add(manager: &mut Manager, name: &str) -> SoftKey {
    let mut key = SoftKey::new(HOST);
    let page = manager.browser.fill("/own", "/own/passkeys", &[("name", name)]).expect(200).text;
    let (form, options) = asked(&page);
    assert_eq!(options["publicKey"]["rp"]["id"], HOST);
    let answer = key.make(&options);
    let done = manager.browser.fill_in(&form, "/own/passkeys/add", &[("answer", &answer)]);
    assert!(done.leads_to("/own"), "{} {}", done.status, done.text);
    key
}

/// The page after the password.
fn entering(w: &World, who: &str) -> (Browser, String) {
    let mut browser = Browser::new(w);
    let fields = [("login", &*format!("{who}.a@coop.example")), ("password", PASSWORD)];
    let page = browser.post("/sign-in", &fields).expect(200).text;
    (browser, page)
}

/// Signs in with what a key makes of the question.
fn enter(w: &World, sign: impl FnOnce(&serde_json::Value) -> String) -> Answer {
    let (mut browser, page) = entering(w, "manager");
    let (form, options) = asked(&page);
    browser.fill_in(&form, "/sign-in", &[("answer", &sign(&options))])
}

fn count(w: &World, table: &str) -> i64 {
    let sql = format!("SELECT CAST(COUNT(*) AS BIGINT) FROM {table}");
    let row = w.db.connect().row(&sql, &[], &[ColumnType::Int]).expect("a count");
    let Some([Value::Int(n)]) = row.as_deref() else { panic!("{row:?}") };
    *n
}

fn a_passkey_stands_for_a_code(w: World) {
    let mut manager = Manager::set_up(&w, "manager");
    let mut key = add(&mut manager, "My telephone");
    assert!(manager.browser.page("/own").contains("My telephone"));
    // At signing in.
    let (mut browser, page) = entering(&w, "manager");
    let (form, options) = asked(&page);
    assert_eq!(options["publicKey"]["rpId"], HOST);
    assert_eq!(options["publicKey"]["userVerification"], "required");
    let done = browser.fill_in(&form, "/sign-in", &[("answer", &key.sign(&options))]);
    assert!(done.leads_to("/month"), "{}", done.text);
    // Before people are changed, and the form goes on.
    later(&w, PROOF_MS);
    let fields = [("code", "n8"), ("name", "Asha Mfano"), ("role", "officer")];
    let more = [("email", "n8@coop.example"), ("language", "en"), ("active", "true")];
    let fields = [&fields[..], &more[..]].concat();
    let page = browser.fill("/people", "/people", &fields).expect(200).text;
    let (form, options) = asked(&page);
    let send = browser.fill_in(&form, "/proof", &[("answer", &key.sign(&options))]);
    let done = browser.fill_in(&send.expect(200).text, "/people", &[]);
    assert_eq!(done.status, 303, "{}", done.text);
    // Before a file is taken.
    later(&w, PROOF_MS);
    let (form, options) = asked(&browser.get("/owed.csv").expect(200).text);
    let to = browser.fill_in(&form, "/proof", &[("answer", &key.sign(&options))]);
    assert_eq!(to.header("location"), Some("/owed.csv"), "{}", to.text);
    // Before it is removed.
    later(&w, PROOF_MS);
    let page = browser.page("/own");
    let path = page.split("action=\"/own/passkeys/").nth(1).and_then(|t| t.split('"').next());
    let path = format!("/own/passkeys/{}", path.expect("a key"));
    let (form, options) = asked(&browser.fill_in(&page, &path, &[]).expect(200).text);
    let send = browser.fill_in(&form, "/proof", &[("answer", &key.sign(&options))]).expect(200);
    let done = browser.fill_in(&send.text, &path, &[]);
    assert!(done.leads_to("/own"), "{}", done.text);
    assert!(!browser.page("/own").contains("My telephone"));
    assert!(!entering(&w, "manager").1.contains("data-passkey"));
    let log = browser.page("/security");
    assert!(log.contains("passkey added") && log.contains("passkey removed"), "{log}");
}

fn what_does_not_hold_is_refused(w: World) {
    let mut manager = Manager::set_up(&w, "manager");
    let mut key = add(&mut manager, "Key");
    let mut another = SoftKey::new(HOST);
    let is = |answer: Answer, wanted: u16| assert_eq!(answer.status, wanted, "{}", answer.text);
    // A page of another address, another port, without TLS.
    for origin in
        ["https://records.example.org", "https://records.example:8443", "http://records.example"]
    {
        origin.clone_into(&mut key.origin);
        is(enter(&w, |options| key.sign(options)), 422);
    }
    key.origin = format!("https://{HOST}");
    // Bound to another name; nobody verified; a key that nobody knows.
    "example".clone_into(&mut key.host);
    is(enter(&w, |options| key.sign(options)), 422);
    HOST.clone_into(&mut key.host);
    key.verifies = false;
    is(enter(&w, |options| key.sign(options)), 422);
    key.verifies = true;
    is(enter(&w, |options| another.sign(options)), 422);
    is(enter(&w, |options| key.sign(options)), 303);
    // Another signature, no answer, and what is none.
    is(
        enter(&w, |options| {
            let mut answer: serde_json::Value =
                serde_json::from_str(&key.sign(options)).expect("JSON");
            answer["response"]["signature"] = "MEUCIQDx".into();
            answer.to_string()
        }),
        422,
    );
    is(enter(&w, |_| String::new()), 422);
    is(enter(&w, |_| "{\"id\":1}".to_owned()), 422);
    is(enter(&w, |options| key.make(options)), 422);
    is(enter(&w, |options| key.sign(options)), 303);
    // A new key from another address is not added, nor one that is there already.
    let page = manager.browser.fill("/own", "/own/passkeys", &[("name", "x")]).expect(200).text;
    let (form, options) = asked(&page);
    "https://elsewhere.example".clone_into(&mut another.origin);
    let answer = another.make(&options);
    is(manager.browser.fill_in(&form, "/own/passkeys/add", &[("answer", &answer)]), 422);
    let page = manager.browser.fill("/own", "/own/passkeys", &[("name", "x")]).expect(200).text;
    let (form, options) = asked(&page);
    let answer = key.make(&options);
    is(manager.browser.fill_in(&form, "/own/passkeys/add", &[("answer", &answer)]), 422);
    is(manager.browser.fill("/own", "/own/passkeys", &[("name", " ")]), 422);
    assert_eq!(count(&w, "passkeys"), 1);
}

fn an_answer_holds_once_and_not_for_long(w: World) {
    let mut manager = Manager::set_up(&w, "manager");
    let mut key = add(&mut manager, "Key");
    let (mut browser, page) = entering(&w, "manager");
    let (form, options) = asked(&page);
    let answer = key.sign(&options);
    assert_eq!(browser.fill_in(&form, "/sign-in", &[("answer", &answer)]).status, 303);
    let again = Browser::new(&w).fill_in(&form, "/sign-in", &[("answer", &answer)]);
    assert_eq!(again.status, 422, "the same answer");
    let other = Browser::new(&w).fill_in(&form, "/sign-in", &[("answer", &key.sign(&options))]);
    assert_eq!(other.status, 422, "another answer to the same question");
    // A wrong answer uses the question up, too.
    let (_, page) = entering(&w, "manager");
    let (form, options) = asked(&page);
    let wrong = Browser::new(&w).fill_in(&form, "/sign-in", &[("answer", "{}")]);
    assert_eq!(wrong.status, 422);
    let right = Browser::new(&w).fill_in(&form, "/sign-in", &[("answer", &key.sign(&options))]);
    assert_eq!(right.status, 422);
    // Too late: on a page that holds longer than the question.
    later(&w, PROOF_MS);
    let (form, options) = asked(&browser.get("/owed.csv").expect(200).text);
    later(&w, PASSKEY_MS);
    let late = browser.fill_in(&form, "/proof", &[("answer", &key.sign(&options))]);
    assert_eq!(late.status, 422, "{}", late.text);
    // The page that says so asks anew.
    let (form, options) = asked(&late.text);
    assert_eq!(browser.fill_in(&form, "/proof", &[("answer", &key.sign(&options))]).status, 303);
    // What was asked for adding a key is not answered by using one.
    let page = manager.browser.get("/own").expect(200).text;
    let csrf = hidden(&page, "csrf");
    let good = manager.code(&w);
    drop(manager.browser.post("/proof", &[("csrf", &csrf), ("code", &good), ("to", "/own")]));
    let page = manager.browser.fill("/own", "/own/passkeys", &[("name", "x")]).expect(200).text;
    let (form, options) = asked(&page);
    let question = hidden(&form, "question");
    let answer = key.sign(&options);
    let fields = [("csrf", &*csrf), ("question", &question), ("answer", &answer)];
    assert_eq!(manager.browser.post("/proof", &fields).status, 422);
}

fn a_copied_key_is_seen(w: World) {
    let mut manager = Manager::set_up(&w, "manager");
    let mut key = add(&mut manager, "Key");
    key.counter = 10;
    assert_eq!(enter(&w, |options| key.sign(options)).status, 303);
    // The copy was made before.
    for counter in [0, 4, 10] {
        key.counter = counter;
        assert_eq!(enter(&w, |options| key.sign(options)).status, 422, "{counter}");
    }
    // Also where both were asked before either answered.
    key.counter = 20;
    let pages: Vec<_> = (0..2).map(|_| asked(&entering(&w, "manager").1)).collect();
    let mut answered = |n: usize| {
        let (form, options) = &pages[n];
        key.counter = 20;
        let answer = key.sign(options);
        Browser::new(&w).fill_in(form, "/sign-in", &[("answer", &answer)]).status
    };
    assert_eq!((answered(0), answered(1)), (303, 422));
    // Keys that count nothing say nought always.
    let plain = add(&mut manager, "Plain");
    for _ in 0..2 {
        let done = enter(&w, |options| plain.sign_uncounted(options));
        assert_eq!(done.status, 303, "{}", done.text);
    }
}

fn keys_of_others_are_not_there(w: World) {
    let mut manager = Manager::set_up(&w, "manager");
    let mut operator = Manager::set_up(&w, "operator");
    let mut key = add(&mut manager, "Key");
    let mut other = add(&mut operator, "Other");
    // Another's key answers for nobody else, and another's question is none.
    assert_eq!(enter(&w, |options| other.sign(options)).status, 422);
    let (form, _) = asked(&entering(&w, "manager").1);
    let (_, options) = asked(&entering(&w, "operator").1);
    let own = hidden(&asked(&entering(&w, "operator").1).0, "question");
    let answer = other.sign(&options);
    let fields = [("answer", &*answer), ("question", &own)];
    assert_eq!(Browser::new(&w).fill_in(&form, "/sign-in", &fields).status, 422);
    // Another's key can not be removed: of the same co-operative, of another one, of nobody.
    let page = manager.browser.page("/own");
    let id = page.split("action=\"/own/passkeys/").nth(1).and_then(|t| t.split('"').next());
    let path = format!("/own/passkeys/{}", id.expect("a key"));
    let csrf = hidden(&operator.browser.page("/own"), "csrf");
    assert_eq!(operator.browser.post(&path, &[("csrf", &csrf)]).status, 404);
    let mut elsewhere = Browser::sign_in_as(&w, "manager.b@coop.example");
    let csrf = hidden(&elsewhere.page("/own"), "csrf");
    assert_eq!(elsewhere.post(&path, &[("csrf", &csrf)]).status, 404);
    assert!(Browser::new(&w).post(&path, &[]).text.contains("name=\"password\""));
    assert_eq!(count(&w, "passkeys"), 2);
    assert_eq!(enter(&w, |options| key.sign(options)).status, 303);
    // Whoever has no codes adds none.
    let mut officer = Browser::sign_in(&w, "officer");
    let page = officer.page("/own");
    assert!(!page.contains("/own/passkeys"));
    let csrf = hidden(&page, "csrf");
    assert_eq!(officer.post("/own/passkeys", &[("csrf", &csrf), ("name", "x")]).status, 409);
}

fn keys_end_with_the_second_factor(w: World) {
    let mut manager = Manager::set_up(&w, "manager");
    drop(add(&mut manager, "Key"));
    let mut operator = Browser::sign_in(&w, "operator");
    let person = format!("/people/{}", w.a.id("manager"));
    operator.fill(&person, &format!("{person}/lost"), &[]).expect(200);
    assert_eq!((count(&w, "passkeys"), count(&w, "passkey_challenges")), (0, 0));
    // Taken away by its owner.
    let mut own = Manager::set_up(&w, "operator");
    drop(add(&mut own, "Key"));
    let good = own.code(&w);
    assert!(own.browser.fill("/own", "/own/second/end", &[("code", &good)]).leads_to("/own"));
    assert_eq!(count(&w, "passkeys"), 0);
    // Erased with the person.
    let mut own = Manager::set_up(&w, "operator");
    drop(add(&mut own, "Key"));
    entering(&w, "operator");
    assert_eq!((count(&w, "passkeys"), count(&w, "passkey_challenges")), (1, 1));
    let conn = &mut w.db.connect();
    traybook_storage::people::accounts::forget_account(conn, w.a.coop.number, w.a.id("operator"))
        .expect("forgotten");
    assert_eq!((count(&w, "passkeys"), count(&w, "passkey_challenges")), (0, 0));
}

fn keys_and_questions_are_bounded(w: World) {
    let mut manager = Manager::set_up(&w, "manager");
    for n in 0..PASSKEYS_MAX {
        drop(add(&mut manager, &format!("Key {n}")));
    }
    let full = manager.browser.fill("/own", "/own/passkeys", &[("name", "one more")]);
    assert_eq!(full.status, 409, "{}", full.text);
    for _ in 0..3 * PASSKEY_QUESTIONS_MAX {
        entering(&w, "manager");
    }
    assert_eq!(count(&w, "passkey_challenges"), i64::try_from(PASSKEY_QUESTIONS_MAX).expect("few"));
}

/// A server that does not know its address, or is reached without TLS.
fn without_a_safe_address_there_are_none(w: World) {
    let db = if w.db.is_sqlite() { Db::sqlite() } else { Db::postgres() };
    drop(w);
    let public_address = Some("http://records.example".to_owned());
    let w = World::start_with(db, Settings { public_address, ..Settings::default() });
    let mut manager = Manager::set_up(&w, "manager");
    let page = manager.browser.page("/own");
    assert!(page.contains("--public-address") && !page.contains("/own/passkeys"), "{page}");
    let csrf = hidden(&page, "csrf");
    let refused = manager.browser.post("/own/passkeys", &[("csrf", &csrf), ("name", "x")]);
    assert!(refused.status == 409 && refused.text.contains("https"), "{}", refused.text);
}

fn guesses_are_counted(w: World) {
    let mut manager = Manager::set_up(&w, "manager");
    let mut key = add(&mut manager, "Key");
    let (_, page) = entering(&w, "manager");
    let (form, _) = asked(&page);
    for _ in 0..SIGN_IN_FAILURES_MAX {
        let wrong = Browser::new(&w).fill_in(&form, "/sign-in", &[("answer", "{}")]);
        assert_eq!(wrong.status, 422);
    }
    assert_eq!(enter(&w, |options| key.sign(options)).status, 429);
    let code = manager.code(&w);
    let (mut browser, page) = entering(&w, "manager");
    assert_eq!(browser.fill_in(&page, "/sign-in", &[("code", &code)]).status, 429, "codes as well");
}
