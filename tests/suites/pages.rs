//! The pages without script: signing in, today's work, milk and eggs, both languages.

use acceptance::client::{Answer, Client};
use acceptance::world::PASSWORD;
use acceptance::{World, both};
use serde_json::json;
use traybook_domain::Kind;
use traybook_domain::time::parse_instant;

both!(
    a_member_signs_in_and_does_a_line_of_work,
    forms_from_elsewhere_are_refused,
    milk_is_recorded_in_two_fields_and_once,
    pages_are_small_and_speak_both_languages,
    nobody_sees_a_page_without_signing_in,
);

/// A browser without script: it keeps cookies and follows nothing by itself.
struct Browser {
    client: Client,
    cookies: Vec<(String, String)>,
}

impl Browser {
    fn new(w: &World) -> Self {
        Self { client: w.nobody.clone(), cookies: Vec::new() }
    }

    fn send(&mut self, method: &str, path: &str, form: Option<String>) -> Answer {
        let cookie: Vec<String> = self.cookies.iter().map(|(n, v)| format!("{n}={v}")).collect();
        let cookie = cookie.join("; ");
        let mut headers = vec![("cookie", cookie.as_str()), ("accept-encoding", "identity")];
        if form.is_some() {
            headers.push(("sec-fetch-site", "same-origin"));
        }
        let media = "application/x-www-form-urlencoded";
        let body = form.map(|f| (media, f.into_bytes()));
        let answer = self.client.send_plain(method, path, &headers, body);
        for (name, value) in &answer.headers {
            if name == "set-cookie" {
                for part in ["Path=/", "Secure", "HttpOnly", "SameSite=Lax"] {
                    assert!(value.contains(part), "{value}");
                }
                let pair = value.split(';').next().expect("a pair");
                let (name, value) = pair.split_once('=').expect("a name");
                assert!(name.starts_with("__Host-"));
                self.cookies.retain(|(n, _)| n != name);
                self.cookies.push((name.to_owned(), value.to_owned()));
            }
        }
        answer
    }

    fn get(&mut self, path: &str) -> Answer {
        self.send("GET", path, None)
    }

    fn post(&mut self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let pair = |(n, v): &(&str, &str)| {
            format!("{n}={}", v.replace('%', "%25").replace('&', "%26").replace(' ', "+"))
        };
        let form: Vec<String> = fields.iter().map(pair).collect();
        self.send("POST", path, Some(form.join("&")))
    }

    fn sign_in(w: &World, who: &str) -> Self {
        let mut browser = Self::new(w);
        let login = format!("{who}.a@coop.example");
        let answer = browser.post("/sign-in", &[("login", &login), ("password", PASSWORD)]);
        assert_eq!(
            (answer.status, answer.header("location")),
            (303, Some("/today")),
            "{}",
            answer.text
        );
        browser
    }
}

/// The value of a hidden field, the first of its name.
fn hidden(page: &str, name: &str) -> String {
    let mark = format!("name=\"{name}\" value=\"");
    let from = page.find(&mark).unwrap_or_else(|| panic!("no {name} in {page}")) + mark.len();
    page[from..].split('"').next().expect("a value").to_owned()
}

fn farm(w: &World) {
    w.clock.set(parse_instant("2026-03-20T05:00:00Z").expect("an instant"));
    w.make(
        &w.a,
        Kind::HeadCount,
        json!({ "animal_group_id": w.a.id("cows"), "date": "2025-06-01",
        "reason": "counted", "head": 1 }),
    );
    w.make(
        &w.a,
        Kind::HeadCount,
        json!({ "animal_group_id": w.a.id("hens"), "date": "2025-06-01",
        "reason": "counted", "head": 100 }),
    );
}

fn a_member_signs_in_and_does_a_line_of_work(w: World) {
    farm(&w);
    let mut browser = Browser::new(&w);
    let wrong = browser.post("/sign-in", &[("login", "member.a@coop.example"), ("password", "no")]);
    assert_eq!(wrong.status, 422);
    assert!(wrong.text.contains("role=\"alert\"") && wrong.text.contains("member.a@coop.example"));
    let mut browser = Browser::sign_in(&w, "member");
    let page = browser.get("/today").expect(200);
    assert!(page.text.contains("Soak 2 kg barley for F1-cows: 1 tray"), "{}", page.text);
    let (csrf, line) = (hidden(&page.text, "csrf"), hidden(&page.text, "line"));
    for _ in 0..2 {
        let done = browser.post("/today", &[("csrf", &csrf), ("line", &line)]);
        assert_eq!(done.status, 303, "{}", done.text);
    }
    let page = browser.get("/today").expect(200).text;
    assert!(page.contains("<span class=\"state\">done</span> done at 08:00"), "{page}");
    assert!(!page.contains(&format!("value=\"{line}\"")), "what is done is not asked for again");
    let refused = browser.post("/today", &[("csrf", &csrf), ("line", "soak.nonsense")]);
    assert_eq!(refused.status, 422);
    assert!(refused.text.contains("Please check"));
    let out = browser.post("/sign-out", &[("csrf", &csrf)]);
    assert_eq!(out.header("location"), Some("/sign-in"));
    assert_eq!(browser.get("/today").header("location"), Some("/sign-in"));
}

fn forms_from_elsewhere_are_refused(w: World) {
    farm(&w);
    let mut browser = Browser::sign_in(&w, "member");
    let page = browser.get("/today").expect(200).text;
    let line = hidden(&page, "line");
    assert_eq!(browser.post("/today", &[("line", &line)]).status, 403);
    assert_eq!(browser.post("/today", &[("csrf", "0"), ("line", &line)]).status, 403);
    let csrf = hidden(&page, "csrf");
    let cookie = format!("{}={}", browser.cookies[0].0, browser.cookies[0].1);
    for (name, value) in [("sec-fetch-site", "cross-site"), ("origin", "https://elsewhere.example")]
    {
        let headers = [("cookie", cookie.as_str()), (name, value)];
        let body = format!("csrf={csrf}&line={line}").into_bytes();
        let media = "application/x-www-form-urlencoded";
        let answer = w.nobody.send_plain("POST", "/today", &headers, Some((media, body)));
        assert_eq!(answer.status, 403, "{name}");
    }
    // Another person's token does not fit either.
    let mut officer = Browser::sign_in(&w, "officer");
    let other = hidden(&officer.get("/today").expect(200).text, "csrf");
    assert_eq!(browser.post("/today", &[("csrf", &other), ("line", &line)]).status, 403);
}

fn milk_is_recorded_in_two_fields_and_once(w: World) {
    farm(&w);
    let mut browser = Browser::sign_in(&w, "member");
    let page = browser.get("/output").expect(200).text;
    assert!(page.contains("Litres today, F1-cows") && page.contains("Eggs today, F1-hens"));
    let (csrf, cows) = (hidden(&page, "csrf"), w.a.id("cows").to_string());
    let at = page.find(&format!("value=\"{cows}\"")).expect("the cows' form");
    let id = hidden(&page[at..], "id");
    let form = [
        ("csrf", csrf.as_str()),
        ("group", &cows),
        ("id", &id),
        ("amount", "11,5"),
        ("animals", "1"),
    ];
    for _ in 0..2 {
        let saved = browser.post("/output", &form);
        assert_eq!(saved.header("location"), Some("/output?saved=1"), "{}", saved.text);
    }
    assert!(browser.get("/output?saved=1").expect(200).text.contains("Saved."));
    let member = w.sign_in("member");
    let kept = member.get(&format!("/v1/milk-records?animal_group_id={cows}")).expect(200).items();
    assert_eq!((kept.len(), &kept[0]["litres"]), (1, &json!(11.5)));
    let mut wrong = form;
    wrong[3].1 = "much";
    wrong[2].1 = "";
    let refused = browser.post("/output", &wrong);
    assert_eq!(refused.status, 422);
    assert!(refused.text.contains("value=\"much\""), "what was typed stays");
    // Another farm's animals are not there.
    let other = w.a.id("other_cows").to_string();
    let foreign = [
        ("csrf", csrf.as_str()),
        ("group", &other),
        ("id", &id),
        ("amount", "3"),
        ("animals", "1"),
    ];
    assert_eq!(browser.post("/output", &foreign).status, 404);
}

fn pages_are_small_and_speak_both_languages(w: World) {
    farm(&w);
    let style = w.nobody.get("/style.css").expect(200);
    assert_eq!(style.header("content-type"), Some("text/css; charset=utf-8"));
    for who in ["member", "officer", "manager"] {
        let mut browser = Browser::sign_in(&w, who);
        for (language, word) in [("sw", "Loweka kilo 2"), ("en", "Soak 2 kg")] {
            let csrf = hidden(&browser.get("/today").expect(200).text, "csrf");
            let chosen = [("csrf", csrf.as_str()), ("language", language), ("back", "/today")];
            assert_eq!(browser.post("/language", &chosen).header("location"), Some("/today"));
            for path in ["/today", "/output"] {
                let page = browser.get(path).expect(200);
                // With the style below 14 KB even without compression, and no script at all.
                let bytes = page.text.len() + style.text.len();
                assert!(bytes < 14_000, "{who} {path}: {bytes}");
                assert!(page.text.contains(&format!("<html lang=\"{language}\">")));
                assert!(!page.text.contains("<script") && !page.text.contains("style="));
                assert!(!page.text.contains('['), "a text is missing: {}", page.text);
                let policy = page.header("content-security-policy").expect("a policy");
                assert!(policy.starts_with("default-src 'none'; style-src 'self'"));
                if path == "/today" {
                    assert!(page.text.contains(word), "{who} {language}: {}", page.text);
                }
            }
        }
    }
}

fn nobody_sees_a_page_without_signing_in(w: World) {
    let mut browser = Browser::new(&w);
    for path in ["/", "/today", "/output"] {
        assert_eq!(browser.get(path).header("location"), Some("/sign-in"), "{path}");
    }
    browser.cookies.push(("__Host-traybook".to_owned(), "0".repeat(64)));
    assert_eq!(browser.get("/today").header("location"), Some("/sign-in"));
    let mut reader = Browser::sign_in(&w, "programme_reader");
    assert_eq!(reader.get("/today").status, 403);
    let page =
        w.nobody.send_plain("GET", "/sign-in", &[("accept-language", "sw-TZ,en;q=0.5")], None);
    assert!(page.text.contains("<html lang=\"sw\">") && page.text.contains("Nenosiri"));
}
