//! The pages without script: signing in, what a member sees and does, both languages.

use acceptance::browser::{Browser, hidden};
use acceptance::world::PASSWORD;
use acceptance::{World, both};
use serde_json::json;
use traybook_domain::Kind;
use traybook_domain::time::parse_instant;

both!(
    a_member_signs_in_and_does_a_line_of_work,
    forms_from_elsewhere_are_refused,
    pages_are_small_and_speak_both_languages,
    nobody_sees_a_page_without_signing_in,
    signing_in_leads_back_and_keeps_the_language,
    a_form_waits_for_signing_in_again,
    a_member_sees_batches_result_account_and_asks_for_a_correction,
    a_member_reads_words_and_a_code_only_where_two_things_would_be_confused,
    pages_of_the_office_do_not_speak_to_the_member,
);

/// The member's words for the batch of these tests; 10 March 2026 is a Tuesday.
const SOAKED: &str = "Barley soaked on Tuesday 10 March";

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
    assert!(page.text.contains("Soak 2 kg barley for your cow: 1 tray"), "{}", page.text);
    let (csrf, line) = (hidden(&page.text, "csrf"), hidden(&page.text, "line"));
    for _ in 0..2 {
        let done = browser.post("/today", &[("csrf", &csrf), ("line", &line)]);
        assert_eq!(done.status, 303, "{}", done.text);
        // What was saved is said, with the place where it is corrected.
        let said = browser.get(done.header("location").expect("a page")).expect(200).text;
        assert!(said.contains("Saved: Spread") && said.contains("trays 2"), "{said}");
        assert!(said.contains("/events/"), "{said}");
    }
    let page = browser.get("/today").expect(200).text;
    assert!(page.contains("<span class=\"state\">done</span> done at 08:00"), "{page}");
    assert!(!page.contains(&format!("value=\"{line}\"")), "what is done is not asked for again");
    let refused = browser.post("/today", &[("csrf", &csrf), ("line", "soak.nonsense")]);
    assert_eq!(refused.status, 422);
    assert!(refused.text.contains("Please check"));
    trays_spoil_on_a_line(&w, &mut browser, &csrf);
    let out = browser.post("/sign-out", &[("csrf", &csrf)]);
    assert_eq!(out.header("location"), Some("/sign-in"));
    assert_eq!(browser.get("/today").header("location"), Some("/sign-in?to=%2Ftoday"));
}

/// Nothing that was filled in is lost where a sign-in has ended meanwhile.
fn a_form_waits_for_signing_in_again(w: World) {
    let mut browser = Browser::sign_in(&w, "member");
    let wish = "It was 3 kg & \"not\" 4.";
    let page = browser.get("/ask").expect(200).text;
    browser.cookies.clear();
    let first = browser.fill_in(&page, "/ask", &[("about", "milk"), ("wish", wish)]).expect(200);
    assert!(first.text.contains("What you filled in is kept"), "{}", first.text);
    assert!(!first.text.contains("name=\"kept.csrf\""), "{}", first.text);
    let login = ("login", "member.a@coop.example");
    // A wrong password loses nothing either.
    let wrong = browser.fill_in(&first.text, "/sign-in", &[login, ("password", "no")]);
    assert_eq!(wrong.status, 422);
    let fields = [login, ("password", PASSWORD)];
    let waits = browser.fill_in(&wrong.text, "/sign-in", &fields).expect(200);
    assert!(waits.text.contains("Nothing of it is recorded yet"), "{}", waits.text);
    assert!(waits.text.contains("<p>It was 3 kg &#38; &#34;not&#34; 4.</p>"), "{}", waits.text);
    assert!(!browser.get("/ask").expect(200).text.contains("3 kg"));
    for _ in 0..2 {
        let sent = browser.fill_in(&waits.text, "/ask", &[]);
        assert!(sent.leads_to("/ask"), "{}", sent.text);
    }
    let page = browser.get("/ask").expect(200).text;
    assert_eq!(page.matches("It was 3 kg &#38; &#34;not&#34; 4.").count(), 1, "{page}");
    // Whoever sends what somebody else filled in is told whose name it gets.
    let mut second = Browser::new(&w);
    let first = second.fill_in(&page, "/ask", &[("about", "milk"), ("wish", "Two trays.")]);
    let officer = [("login", "officer.a@coop.example"), ("password", PASSWORD)];
    let waits = second.fill_in(&first.text, "/sign-in", &officer).expect(200).text;
    assert!(waits.contains("Somebody else filled this in"), "{waits}");
    // What the browser does not say to be ours is not carried along.
    let form = b"wish=from+elsewhere".to_vec();
    let media = "application/x-www-form-urlencoded";
    let plain = [("accept-encoding", "identity")];
    let sent = w.nobody.send_plain("POST", "/ask", &plain, Some((media, form)));
    assert_eq!(sent.header("location"), Some("/sign-in"), "{}", sent.text);
    // Nor what is too large.
    let large = "x".repeat(70_000);
    let sent = second.fill_in(&page, "/ask", &[("wish", &large)]);
    assert_eq!(sent.status, 403, "somebody is signed in: the token is another's");
    let sent = Browser::new(&w).fill_in(&page, "/ask", &[("wish", &large)]);
    assert_eq!(sent.header("location"), Some("/sign-in"));
    // It leads to this server alone.
    let mut other = Browser::new(&w);
    let away = [login, ("password", PASSWORD), ("kept", "//elsewhere.example/x")];
    assert_eq!(other.post("/sign-in", &away).header("location"), Some("/today"));
}

/// Two taps: the line's "spoiled", then the cause. One tray is the usual case.
fn trays_spoil_on_a_line(w: &World, browser: &mut Browser, csrf: &str) {
    let events = |event: &str| {
        let all = w.sign_in("member").get("/v1/batch-events?limit=200").expect(200).items();
        all.into_iter().filter(|e| e["event"] == event).collect::<Vec<_>>()
    };
    let page = browser.get("/today").expect(200).text;
    let at = page.find("class=\"spoils\"").expect("a line of a batch that grows");
    let (id, of) = (hidden(&page[at..], "id"), hidden(&page[at..], "batch_id"));
    let tap = [
        ("csrf", csrf),
        ("batch_id", of.as_str()),
        ("id", &id),
        ("trays", "1"),
        ("cause", "mould"),
    ];
    for _ in 0..2 {
        let done = browser.post("/today", &tap);
        assert_eq!(done.status, 303, "{}", done.text);
        let said = browser.get(done.header("location").expect("a page")).expect(200).text;
        assert!(said.contains("trays 1") && said.contains("mould"), "{said}");
    }
    let thrown = events("discarded");
    assert_eq!(thrown.len(), 1, "the same form sent twice is one event");
    assert_eq!((&thrown[0]["trays"], &thrown[0]["cause"]), (&json!(1), &json!("mould")));
    assert_eq!(thrown[0]["mould_seen"], json!(true));
    let mut many = tap;
    (many[2].1, many[3].1) = ("", "9");
    assert_eq!(browser.post("/today", &many).status, 422, "more than stand are refused");
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
                // Without style and script a few KB: what travels is measured in the browser.
                assert!(page.text.len() < 14_000, "{who} {path}: {}", page.text.len());
                assert!(page.text.contains(&format!("<html lang=\"{language}\">")));
                assert!(!page.text.contains("<script>") && !page.text.contains(" style="));
                assert!(!page.text.contains('['), "a text is missing: {}", page.text);
                let policy = page.header("content-security-policy").expect("a policy");
                assert!(policy.starts_with("default-src 'none'; style-src 'self'"));
                assert!(!policy.contains("unsafe"));
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
        let to = browser.get(path);
        assert!(to.header("location").is_some_and(|l| l.starts_with("/sign-in")), "{path}");
    }
    browser.cookies.push(("__Host-traybook".to_owned(), "0".repeat(64)));
    assert_eq!(browser.get("/today").header("location"), Some("/sign-in?to=%2Ftoday"));
    let mut reader = Browser::sign_in(&w, "programme_reader");
    assert_eq!(reader.get("/today").status, 403);
    let page =
        w.nobody.send_plain("GET", "/sign-in", &[("accept-language", "sw-TZ,en;q=0.5")], None);
    assert!(page.text.contains("<html lang=\"sw\">") && page.text.contains("Nenosiri"));
}

fn signing_in_leads_back_and_keeps_the_language(w: World) {
    let mut browser = Browser::new(&w);
    let to = browser.get("/account").header("location").expect("to sign in").to_owned();
    assert_eq!(to, "/sign-in?to=%2Faccount");
    let page = browser.get(&to).expect(200).text;
    assert_eq!(hidden(&page, "to"), "/account");
    let form = |to: &'static str| {
        [("login", "member.a@coop.example"), ("password", acceptance::world::PASSWORD), ("to", to)]
    };
    let signed_in = browser.post("/sign-in", &form("/account"));
    assert_eq!(signed_in.header("location"), Some("/account"));
    // It never leads to another server.
    for bad in ["//elsewhere.example", "https://elsewhere.example", "/\\elsewhere.example"] {
        let signed_in = Browser::new(&w).post("/sign-in", &form(bad));
        assert_eq!(signed_in.header("location"), Some("/today"), "{bad}");
    }
    let csrf = hidden(&browser.get("/account").expect(200).text, "csrf");
    browser.post("/language", &[("csrf", &csrf), ("language", "sw"), ("back", "/account")]);
    // The person's own record says so, with the person as the one who changed it.
    let person = w.a.id("member_person");
    let kept = w.sign_in("manager").get(&format!("/v1/people/{person}")).expect(200).json();
    assert_eq!((&kept["language"], &kept["changed_by"]), (&json!("sw"), &json!(person)));
    let other = Browser::sign_in(&w, "member").get("/today").expect(200).text;
    assert!(other.contains("<html lang=\"sw\">"), "another phone speaks it too");
}

fn a_member_sees_batches_result_account_and_asks_for_a_correction(w: World) {
    farm(&w);
    let mut browser = Browser::sign_in(&w, "member");
    let list = browser.get("/batches").expect(200).text;
    let batch = w.a.id("batch");
    assert!(list.contains(&format!("/batches/{batch}")) && list.contains(SOAKED), "{list}");
    let page = browser.get(&format!("/batches/{batch}")).expect(200).text;
    assert!(page.contains("<svg") && page.contains("role=\"img\""), "a picture of its life");
    assert!(page.contains("Soaked") && page.contains("10 March 2026, 08:00"), "{page}");
    let result = browser.get("/result?month=2026-02").expect(200).text;
    for part in [
        "Cannot tell: nothing is known from before the start",
        "What the number waits for: record the ration before fodder",
    ] {
        assert!(result.contains(part), "{part}: {result}");
    }
    assert!(result.contains("Milk per cow-day: cannot tell yet") || result.contains("No milk"));
    let account = browser.get("/account").expect(200).text;
    assert!(account.contains("Nothing is owed for seed."), "{account}");
    // Asking for a correction: once, however often it is sent.
    let page = browser.get(&format!("/ask?batch_id={batch}")).expect(200).text;
    let (csrf, id) = (hidden(&page, "csrf"), hidden(&page, "id"));
    let batch_text = batch.to_string();
    let wish = [
        ("csrf", csrf.as_str()),
        ("id", &id),
        ("batch_id", &batch_text),
        ("about", "batch"),
        ("wish", "It was 3 kg, not 4."),
    ];
    for _ in 0..2 {
        assert!(browser.post("/ask", &wish).leads_to("/ask"));
    }
    let page = browser.get("/ask").expect(200).text;
    assert_eq!(page.matches("It was 3 kg, not 4.").count(), 1, "{page}");
    let empty = browser.post("/ask", &[("csrf", &csrf), ("about", "milk")]);
    assert_eq!(empty.status, 422);
    assert!(
        empty.text.contains("aria-invalid=\"true\"") && empty.text.contains("href=\"#ask-wish\"")
    );
    // The officer answers; the member reads it.
    let mut officer = Browser::sign_in(&w, "officer");
    let round = officer.get("/round").expect(200).text;
    assert!(round.contains("It was 3 kg, not 4."), "{round}");
    let path = format!("/requests/{id}");
    let answered = officer.fill(&path, &path, &[("answer", "Put right, thank you.")]);
    assert_eq!(answered.status, 303, "{}", answered.text);
    assert!(browser.get("/ask").expect(200).text.contains("Put right, thank you."));
    // What belongs to others is not there.
    for path in [
        format!("/batches?farm={}", w.a.id("other_farm")),
        format!("/result?farm={}", w.a.id("other_farm")),
        format!("/account?farm={}", w.a.id("other_farm")),
        format!("/farms/{}", w.a.id("other_farm")),
    ] {
        assert_eq!(browser.get(&path).status, 404, "{path}");
    }
    for path in ["/month", "/people", "/import", "/round", "/totals", "/review"] {
        assert_eq!(browser.get(path).status, 403, "{path}");
    }
}

fn a_member_reads_words_and_a_code_only_where_two_things_would_be_confused(w: World) {
    farm(&w);
    let mut browser = Browser::sign_in(&w, "member");
    let today = browser.page("/today");
    for part in ["for your cow: 1 tray", "barley soaked on Tuesday 10 March", "your shed"] {
        assert!(today.contains(part), "{part}: {today}");
    }
    let output = browser.page("/output");
    assert!(output.contains("Milk, your cow") && output.contains("Eggs, your 100 laying hens"));
    let batch = format!("/batches/{}", w.a.id("batch"));
    let mut all = vec![today, output];
    all.extend(["/batches", &batch, "/result", "/account"].map(|page| browser.page(page)));
    for page in &all {
        for code in ["F1-cows", "F1-hens", "F1-S1", "batch B1", "Result of", "Seed account of"] {
            assert!(!page.contains(code), "{code}: {page}");
        }
    }
    assert!(all[2].contains(SOAKED) && all[3].contains(SOAKED), "{}", all[2]);
    let csrf = hidden(&browser.page("/today"), "csrf");
    browser.post("/language", &[("csrf", &csrf), ("language", "sw"), ("back", "/today")]);
    let kiswahili = browser.page("/today");
    for part in [
        "kwa ng’ombe wako mmoja: trei 1",
        "mkupuo wa shayiri uliolowekwa Jumanne 10 Machi",
        "banda lako",
    ] {
        assert!(kiswahili.contains(part), "{part}: {kiswahili}");
    }
    assert!(browser.page("/output").contains("kuku wa mayai wako 100"));
    browser.post("/language", &[("csrf", &csrf), ("language", "en"), ("back", "/today")]);
    // A second group of the class, a second shed, a second batch of that day and crop.
    let farm = w.a.id("farm");
    let heifers = json!({ "code": "F1-heifers", "farm_id": farm, "animal_class": "dairy_cows" });
    w.make(&w.a, Kind::AnimalGroup, heifers);
    let shed = json!({ "code": "F1-S2", "farm_id": farm, "tray_places": 8 });
    w.make(&w.a, Kind::Shed, shed);
    let (shed, cows, lot) = (w.a.id("shed"), w.a.id("cows"), w.a.id("lot"));
    let second = json!({ "code": "B2", "shed_id": shed, "animal_group_id": cows,
        "seed_lot_id": lot, "crop": "barley" });
    let second = w.make(&w.a, Kind::Batch, second);
    let soak = json!({ "batch_id": second, "event": "soaked", "at": "2026-03-10T06:00:00Z",
        "kg": 2 });
    w.make(&w.a, Kind::BatchEvent, soak);
    let today = browser.page("/today");
    for part in ["your cow (F1-cows)", "soaked on Tuesday 10 March (B1)", "shed F1-S1"] {
        assert!(today.contains(part), "{part}: {today}");
    }
}

fn pages_of_the_office_do_not_speak_to_the_member(w: World) {
    farm(&w);
    let (farm, batch) = (w.a.id("farm"), w.a.id("batch"));
    for who in ["officer", "manager"] {
        let mut browser = Browser::sign_in(&w, who);
        for path in [
            "/today".to_owned(),
            format!("/today?farm_id={farm}"),
            format!("/batches?farm={farm}"),
            format!("/batches/{batch}"),
            format!("/result?farm={farm}"),
            format!("/account?farm={farm}"),
            format!("/farms/{farm}"),
            format!("/farms/{farm}/how?month=2026-02"),
        ] {
            let page = browser.page(&path);
            for word in ["My ", " my ", "Your ", " your "] {
                assert!(!page.contains(word), "{who} {path} {word}: {page}");
            }
        }
        assert!(browser.page("/today").contains("for F1-cows: 1 tray"), "{who}");
    }
}
