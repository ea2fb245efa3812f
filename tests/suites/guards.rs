//! What a stranger may send: an address of this server, formulas, headers that documents lack.

use acceptance::browser::Browser;
use acceptance::world::{app_on, folder, object};
use acceptance::{Db, World, both};
use serde_json::json;
use traybook_app::Actor;
use traybook_domain::Kind;
use traybook_http::Settings;

both!(
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
