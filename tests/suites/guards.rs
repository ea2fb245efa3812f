//! What a stranger may send: an address of this server, formulas, headers that documents lack.

use acceptance::browser::Browser;
use acceptance::world::{app_on, folder, object};
use acceptance::{Db, World, both};
use serde_json::json;
use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::time::Duration;
use traybook_app::Actor;
use traybook_domain::Kind;
use traybook_domain::limits::{BODY_BYTES_A_SECOND_MIN, BODY_GRACE_S, CONNECTIONS_BY_ADDRESS};
use traybook_http::Settings;

both!(
    an_ended_sign_in_clears_what_the_browser_stored,
    shared_caches_keep_nothing_of_anybody,
    formulas_are_guarded_on_the_way_out_and_read_back,
    the_documentation_has_the_headers_of_pages
);

fn formulas_are_guarded_on_the_way_out_and_read_back(w: World) {
    // OWASP, CSV injection: signs, full-width signs, and signs behind a separator.
    let names =
        ["=1+1", "+1 a", "-1 a", "@x", "＝1", "＋1", "－1 a", "＠x", "a;=1", "a, -x", "'=1", "-5"];
    for name in names {
        w.make(&w.a, Kind::Area, json!({ "name": name }));
    }
    let to = folder();
    w.wait(w.app.export(&w.a.coop, to.join("out"))).expect("out");
    let text = std::fs::read_to_string(to.join("out/areas.csv")).expect("areas");
    for line in text.lines() {
        for part in line.split([',', ';', '"']).map(str::trim_start) {
            let is_number = part.parse::<f64>().is_ok();
            let signs = ['=', '+', '-', '@', '＝', '＋', '－', '＠'];
            assert!(is_number || !part.starts_with(signs), "{line}");
        }
    }
    let db = Db::sqlite();
    let (app, _) = app_on(&db);
    let body = object(json!({ "name": "Other", "currency": "TZS", "zone": "Africa/Dar_es_Salaam",
        "language": "en", "started_on": "2024-01-01" }));
    let coop = w.wait(app.found(app.new_id().expect("id"), body)).expect("co-operative");
    let alone = folder();
    std::fs::write(alone.join("areas.csv"), &text).expect("written");
    let files = traybook_app::records::import::read_folder(&alone).expect("files");
    let done = w.wait(app.import(&Actor::machine(coop.clone()), files, false)).expect("imported");
    assert_eq!(done[0].bad, []);
    let again = folder();
    w.wait(app.export(&coop, again.join("out"))).expect("out");
    assert_eq!(std::fs::read_to_string(again.join("out/areas.csv")).expect("areas"), text);
}

fn the_documentation_has_the_headers_of_pages(w: World) {
    let page = Browser::new(&w).get("/sign-in").expect(200);
    for path in ["/docs/", "/docs/swagger-ui.css", "/docs/swagger-initializer.js", "/docs/none"] {
        let answer = w.nobody.get(path);
        for (name, value) in &page.headers {
            let is_guard = name.starts_with("x-")
                || name.contains("policy")
                || name == "strict-transport-security";
            if is_guard && name != "x-request-id" && name != "content-security-policy" {
                assert_eq!(answer.header(name), Some(value.as_str()), "{path} {name}");
            }
        }
        let policy = answer.header("content-security-policy").expect("a policy");
        assert!(policy.contains("script-src 'self';") && policy.contains("frame-ancestors 'none'"));
    }
    w.nobody.get("/docs/swagger-ui-bundle.js").expect(200);
}

/// The pages that lead back to this server name what the request says only where nothing is known.
fn nothing_leads_to_the_host_of_a_request(db: fn() -> Db) {
    let forged = [("host", "elsewhere.example"), ("x-forwarded-host", "elsewhere.example")];
    let code_page = |w: &World| {
        let mut manager = Browser::sign_in(w, "manager");
        let person = format!("/people/{}", w.a.id("officer"));
        let form = manager.page(&person);
        let csrf = acceptance::browser::hidden(&form, "csrf");
        let body = format!("csrf={csrf}").into_bytes();
        let media = "application/x-www-form-urlencoded".to_owned();
        let made = manager.ask("POST", &format!("{person}/code"), Some((media, body)), &forged);
        let labels = format!("/farms/{}/labels", w.a.id("farm"));
        let labels = manager.ask("GET", &labels, None, &forged).expect(200);
        (made.expect(200).text, labels.text)
    };
    let (code, labels) = code_page(&World::start_with(db(), Settings::default()));
    assert!(code.contains("One-time code") && !code.contains("<svg"), "{code}");
    for page in [&code, &labels] {
        assert!(page.contains("does not know its own address"), "{page}");
        assert!(!page.contains("elsewhere") && !page.contains("/invitation?code"), "{page}");
    }
    let (code, labels) = code_page(&World::start(db()));
    assert!(code.contains("https://records.example/invitation?code=") && code.contains("<svg"));
    assert!(labels.contains("<svg") && !labels.contains("does not know"));
}

#[test]
fn nothing_leads_to_the_host_of_a_request_sqlite() {
    nothing_leads_to_the_host_of_a_request(Db::sqlite);
}

#[test]
fn nothing_leads_to_the_host_of_a_request_postgres() {
    nothing_leads_to_the_host_of_a_request(Db::postgres);
}

/// Sends the head of a request and a little of its body, and reads until the server closes.
fn slow(w: &World, head: &str) -> String {
    let mut stream = TcpStream::connect(w.address).expect("connected");
    stream.set_read_timeout(Some(Duration::from_secs(30))).expect("a limit");
    let whole = format!("{head}host: x\r\ncontent-length: 5000\r\n\r\n{{");
    stream.write_all(whole.as_bytes()).expect("sent");
    let mut answer = Vec::new();
    stream.read_to_end(&mut answer).expect("the server closes");
    String::from_utf8_lossy(&answer).into_owned()
}

fn slow_bodies_are_closed(db: Db) {
    let settings = Settings { body_grace: Duration::from_millis(300), ..Settings::default() };
    let w = World::start_with(db, settings);
    let json = "content-type: application/json\r\n";
    let answer = slow(&w, &format!("POST /v1/session HTTP/1.1\r\n{json}"));
    assert!(answer.starts_with("HTTP/1.1 408") && answer.contains("too_slow"), "{answer}");
    let form = "content-type: application/x-www-form-urlencoded\r\n";
    drop(slow(&w, &format!("POST /sign-in HTTP/1.1\r\n{form}")));
    let parts = "content-type: multipart/form-data; boundary=cut\r\n";
    drop(slow(&w, &format!("POST /sign-in HTTP/1.1\r\n{parts}")));
    // An operation that takes no body, one for which nobody is signed in, one that is not there.
    drop(slow(&w, "GET /v1/session HTTP/1.1\r\n"));
    drop(slow(&w, &format!("POST /v1/farms HTTP/1.1\r\n{json}")));
    drop(slow(&w, &format!("POST /nothing HTTP/1.1\r\n{json}")));
    w.sign_in("manager").get("/v1/session").expect(200);
}

#[test]
fn slow_bodies_are_closed_sqlite() {
    slow_bodies_are_closed(Db::sqlite());
}

#[test]
fn slow_bodies_are_closed_postgres() {
    slow_bodies_are_closed(Db::postgres());
}

/// What the documentation says of connections follows from the constants.
#[test]
fn the_documentation_says_what_a_client_may_hold() {
    let serve = concat!(env!("CARGO_MANIFEST_DIR"), "/../server/cli/SERVE.md");
    let serve = std::fs::read_to_string(serve).expect("the text");
    for said in [
        format!("at most {CONNECTIONS_BY_ADDRESS} connections"),
        format!(
            "after {BODY_GRACE_S} seconds, or at {} KB a second",
            BODY_BYTES_A_SECOND_MIN / 1024
        ),
    ] {
        assert!(serve.contains(&said), "SERVE.md does not say: {said}");
    }
}

#[test]
fn an_address_holds_so_many_connections() {
    let settings = Settings { connections_max: 6, ..Settings::default() };
    let w = World::start_with(Db::sqlite(), settings);
    let is_open = |mut stream: &TcpStream| {
        stream.set_read_timeout(Some(Duration::from_secs(20))).expect("a limit");
        let asked = stream.write_all(b"GET /health/live HTTP/1.1\r\nhost: x\r\n\r\n");
        let mut first = [0_u8; 8];
        asked.is_ok() && stream.read(&mut first).is_ok_and(|n| n > 0)
    };
    let connect = || TcpStream::connect(w.address).expect("connected");
    let held: Vec<TcpStream> = (0..6).map(|_| connect()).collect();
    assert!(held.iter().all(is_open));
    assert!(!is_open(&connect()), "one too many");
    drop(held);
    // Those that were closed count no longer, as soon as the server has seen it.
    let freed = (0..100).any(|_| {
        std::thread::sleep(Duration::from_millis(50));
        is_open(&connect())
    });
    assert!(freed);
}

fn an_ended_sign_in_clears_what_the_browser_stored(w: World) {
    let mut phone = Browser::sign_in(&w, "officer");
    let clears = |answer: &acceptance::Answer| answer.header("clear-site-data").map(str::to_owned);
    assert_eq!(clears(&phone.get("/round").expect(200)), None);
    let mut manager = Browser::sign_in(&w, "manager");
    let person = format!("/people/{}", w.a.id("officer"));
    manager.fill(&person, &format!("{person}/lost"), &[]).expect(200);
    // What is not sent stands in the browser's storage: that stays.
    let cookie = |phone: &Browser| {
        phone.cookies.iter().find(|(name, _)| name == "__Host-traybook").map(|(_, v)| v.clone())
    };
    let before = cookie(&phone);
    let script = phone.ask("GET", "/phone/token", None, &[("x-from-phone", "1")]).expect(401);
    assert_eq!(clears(&script).as_deref(), Some("\"cache\""));
    assert_eq!(cookie(&phone).as_deref(), Some(""));
    phone.cookies.retain(|(name, _)| name != "__Host-traybook");
    phone.cookies.push(("__Host-traybook".to_owned(), before.expect("a cookie")));
    let page = phone.get("/round").expect(303);
    assert_eq!(clears(&page).as_deref(), Some("\"cache\""));
    // Once it was said it is not said again, and nobody is asked to clear without a sign-in.
    assert_eq!(clears(&phone.get("/sign-in").expect(200)), None);
    assert_eq!(clears(&Browser::new(&w).get("/round").expect(303)), None);
    let csrf = acceptance::browser::hidden(&manager.page("/own"), "csrf");
    let out = manager.post("/sign-out", &[("csrf", &csrf)]).expect(303);
    assert_eq!(clears(&out).as_deref(), Some("\"cache\""));
}

fn shared_caches_keep_nothing_of_anybody(w: World) {
    let is_private = |answer: &acceptance::Answer| {
        let says = answer.header("cache-control").unwrap_or_default();
        says.contains("no-store") || says.contains("private")
    };
    let farm = w.a.id("farm");
    let mut browser = Browser::sign_in(&w, "manager");
    for path in ["/month", "/nothing", "/sign-in", "/security", "/owed.csv", "/savings.pdf"]
        .map(str::to_owned)
        .into_iter()
        .chain(["sheet", "labels", "report.pdf", "calendar"].map(|p| format!("/farms/{farm}/{p}")))
    {
        assert!(is_private(&browser.get(&path)), "{path}");
    }
    let manager = w.sign_in("manager");
    let open = ["/openapi.json"];
    let gets = traybook_http::ops::all().into_iter().filter(|op| op.method.text() == "GET");
    let mut asked = 0;
    for op in gets.filter(|op| !open.contains(&op.path.as_str()) && !op.path.contains("{code}")) {
        let path = op.path.replace("{id}", &farm.to_string());
        for client in [&manager, &w.nobody] {
            asked += 1;
            assert!(is_private(&client.get(&path)), "{path}");
        }
    }
    assert!(asked > 100, "{asked}");
}
