//! Servers that only read: on the same database, and on a standby of PostgreSQL (its manual, 27.4:
//! a hot standby takes no write, not even of a lock or a sequence).

use acceptance::browser::Browser;
use acceptance::clusters::Cluster;
use acceptance::{Client, Db, World, both};
use serde_json::{Value as Json, json};

both!(a_server_that_only_reads_answers_as_the_main_one_and_keeps_nothing);

/// Questions without a place in their address, as the list of operations has them.
fn questions() -> Vec<String> {
    let routes =
        std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/../openapi/routes.txt"));
    let routes = routes.expect("the list of operations");
    let path = |line: &str| {
        let mut words = line.split_whitespace();
        let path = (words.next() == Some("GET")).then(|| words.next())??;
        (path.starts_with("/v1/") && !path.contains('{')).then(|| path.to_owned())
    };
    let month = |path: String| match path.as_str() {
        "/v1/reports/savings" | "/v1/reports/board-paper" | "/v1/reports/savings-workbook" => {
            format!("{path}?month=2026-02")
        }
        _ => path,
    };
    routes.lines().filter_map(path).map(month).collect()
}

/// What concerns one server alone.
fn is_of_the_server(path: &str) -> bool {
    path == "/v1/server"
}

fn comparable(mut body: Json) -> Json {
    if let Some(members) = body.as_object_mut() {
        members.remove("request_id");
    }
    body
}

/// Asks both servers all questions as one person; how many were answered by both, and those that
/// only the main one answers.
fn compare(main: &Client, reader: &Client) -> (usize, Vec<String>) {
    let (mut same, mut only_main) = (0, Vec::new());
    for path in questions().iter().filter(|path| !is_of_the_server(path)) {
        let (there, here) = (main.get(path), reader.get(path));
        if here.status == 503 {
            assert_eq!(here.json()["code"], "reads_only", "{path}: {}", here.text);
            only_main.push(path.clone());
            continue;
        }
        assert_eq!(here.status, there.status, "{path}: {}", here.text);
        match there.json() {
            Json::Null => assert_eq!(here.text.len(), there.text.len(), "{path}"),
            body => assert_eq!(comparable(here.json()), comparable(body), "{path}"),
        }
        same += usize::from(here.status == 200);
    }
    (same, only_main)
}

fn keeps_nothing(w: &World, reader: &Client) {
    let farm = w.a.id("farm").to_string();
    let body =
        json!({ "farm_id": farm, "date": "2026-02-11", "category": "labour", "amount": 30000 });
    let manager = w.sign_in("manager").at(reader);
    let refused = manager.post("/v1/other-costs", &body).expect(503);
    assert_eq!(refused.json()["code"], "reads_only", "{}", refused.text);
    let login =
        json!({ "login": "manager.a@coop.example", "password": acceptance::world::PASSWORD });
    assert_eq!(reader.post("/v1/session", &login).expect(503).json()["code"], "reads_only");
    let dry = manager.post("/v1/sync", &json!({ "mutations": [] }));
    assert!([200, 422, 503].contains(&dry.status), "{}", dry.text);
    // Long after, when the main server would note that somebody is there.
    w.clock.set(traybook_domain::value::Instant(w.app.now().0 + 11 * 60 * 1000));
    manager.get("/v1/session").expect(200);
    assert!(w.sign_in("manager").get("/v1/other-costs").expect(200).items().is_empty());
    let ready = reader.get("/health/ready").expect(200);
    assert!(ready.text.starts_with("ready, only reads"), "{}", ready.text);
}

fn a_server_that_only_reads_answers_as_the_main_one_and_keeps_nothing(mut w: World) {
    w.make_figures();
    let url = w.db.url.clone();
    let reader = w.begin_reader(&url);
    for who in ["manager", "officer", "member"] {
        let main = w.sign_in(who);
        let (same, only_main) = compare(&main, &main.at(&reader));
        assert!(same > 25, "{who}: {same}");
        assert_eq!(only_main, Vec::<String>::new(), "{who}");
    }
    keeps_nothing(&w, &reader);
    // What has to stand in the log is answered by the main server alone.
    let personal = format!("/v1/members/{}", w.a.id("member"));
    let officer = w.sign_in("officer");
    officer.get(&personal).expect(200);
    let refused = officer.at(&reader).get(&personal).expect(503);
    assert_eq!(refused.json()["code"], "reads_only");
    // A browser that signed in at the main server sees its pages, and is sent there to write.
    let browser = Browser::sign_in(&w, "manager");
    w.nobody = reader;
    let mut there = Browser::new(&w);
    there.cookies.clone_from(&browser.cookies);
    assert!(there.page("/farms").contains("F1"));
    let refused = there.fill("/farms/new", "/farms/new", &[("name", "West")]);
    assert_eq!(refused.status, 503);
    assert!(refused.text.contains("This server shows records only"), "{}", refused.text);
}

#[test]
fn a_standby_answers_questions() {
    let primary = Cluster::start("-c synchronous_standby_names='*' -c synchronous_commit=local");
    let standby = primary.standby();
    let at = |port: u16| format!("postgres://traybook@127.0.0.1:{port}/postgres");
    let mut w = World::start(Db::at(&at(primary.port)));
    w.make_figures();
    let reader = w.begin_reader(&at(standby.port));
    let main = w.sign_in("manager");
    let replayed = std::time::Instant::now();
    while main.at(&reader).get("/v1/session").status != 200 {
        assert!(replayed.elapsed().as_secs() < 20, "the standby has the sign-in");
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    let (same, _) = compare(&main, &main.at(&reader));
    assert!(same > 25, "{same}");
    keeps_nothing(&w, &reader);
    // Without being said so, a server does not begin on it.
    let url = at(standby.port);
    assert!(std::panic::catch_unwind(|| acceptance::world::app_on_url(&url)).is_err());
}
