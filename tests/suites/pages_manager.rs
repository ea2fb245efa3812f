//! The manager's pages without script: the report as page and files, closing a month, flags and
//! lots, people, the growing guide, files read in with a preview; and the programme reader's.

use acceptance::browser::{Browser, hidden};
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_domain::Kind;

both!(
    the_report_is_a_page_and_files,
    a_month_is_closed_with_a_checklist,
    files_are_looked_through_before_they_are_taken,
    people_get_one_time_codes_and_areas,
    standards_are_set_from_a_day_on,
    a_flag_is_noted_and_a_lot_is_held,
    findings_are_accepted_with_a_reason,
    programme_readers_see_totals_alone,
);

fn manager(w: &World, path: &str) -> Json {
    w.sign_in("manager").get(path).expect(200).json()
}

fn the_report_is_a_page_and_files(w: World) {
    let mut browser = Browser::sign_in(&w, "manager");
    let month = browser.get("/month?month=2026-02").expect(200).text;
    for part in ["February 2026 at a glance", "Farms without a number", "cannot tell yet"] {
        assert!(month.contains(part), "{part}: {month}");
    }
    let page = browser.get("/savings?month=2026-02").expect(200).text;
    assert!(page.contains("M1 Asha Mfano") && page.contains("By area, TZS"), "{page}");
    let why = "nothing before";
    assert!(page.contains(why), "missing is no zero: {page}");
    let xlsx = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
    let farm = w.a.id("farm");
    for (path, media, begin) in [
        ("/savings.xlsx?month=2026-02".to_owned(), xlsx, "PK"),
        ("/savings.pdf?month=2026-02".to_owned(), "application/pdf", "%PDF"),
        (format!("/farms/{farm}/report.pdf?month=2026-02"), "application/pdf", "%PDF"),
        ("/savings.csv?month=2026-02".to_owned(), "text/csv; charset=utf-8", "month,"),
        ("/seed.csv".to_owned(), "text/csv; charset=utf-8", "crop,"),
    ] {
        let file = browser.get(&path).expect(200);
        assert_eq!(file.header("content-type"), Some(media), "{path}");
        assert!(file.header("content-disposition").is_some_and(|d| d.starts_with("attachment")));
        assert!(file.text.starts_with(begin), "{path}");
    }
    let mut reader = Browser::sign_in(&w, "programme_reader");
    for (path, field) in [
        ("/savings?month=2027-01", "month"),
        ("/savings?month=soon", "month"),
        ("/savings.xlsx?month=2026-02&from=2026-13", "from"),
        ("/savings?skip=-1", "skip"),
        ("/month?month=2026", "month"),
        ("/close?month=x", "month"),
        ("/result?month=x", "month"),
    ] {
        let refused = browser.get(path);
        assert_eq!(refused.status, 422, "{path}");
        assert!(refused.text.contains(&format!("{field}: ")), "{path}: {}", refused.text);
    }
    let refused = reader.get("/totals?from=x");
    assert_eq!(refused.status, 422);
    assert!(refused.text.contains("href=\"#choose-from\""), "{}", refused.text);
}

fn a_month_is_closed_with_a_checklist(w: World) {
    let mut browser = Browser::sign_in(&w, "manager");
    let page = browser.get("/close?month=2026-02").expect(200).text;
    for part in ["2 farms have no number", "Record the ration before fodder", "Record a head count"]
    {
        assert!(page.contains(part), "{part}: {page}");
    }
    let closed = browser.fill("/close?month=2026-02", "/close", &[]);
    assert_eq!(
        closed.header("location"),
        Some("/close?month=2026-02&saved=close"),
        "{}",
        closed.text
    );
    let page = browser.get("/close?month=2026-02").expect(200).text;
    assert!(page.contains("The month is closed") && !page.contains("for good"), "{page}");
    assert_eq!(manager(&w, "/v1/month-closes")["items"][0]["month"], json!("2026-02"));
}

fn files_are_looked_through_before_they_are_taken(w: World) {
    let mut browser = Browser::sign_in(&w, "manager");
    let good = "name\nEast\nWest\n";
    let bad = "animal_group,date,session,litres,animals_in_milk\n\
               F1-cows,2026-03-18,day,12.5,1\n\
               F1-cows,2026-03-19,day,much,1\n";
    let files = [("files", "areas.csv", good.as_bytes()), ("files", "milk.csv", bad.as_bytes())];
    let areas = || manager(&w, "/v1/areas?limit=200")["items"].as_array().expect("items").len();
    let before = areas();
    let page = browser.fill_with_files("/import", "/import", &[], &files).expect(200).text;
    for part in [
        "Nothing is kept yet",
        "F1-cows, 2026-03-19, day, much, 1",
        "<td data-of=\"Column\">litres</td>",
    ] {
        assert!(page.contains(part), "{part}: {page}");
    }
    assert_eq!(areas(), before, "a preview keeps nothing");
    let (csrf, name) = (hidden(&page, "csrf"), hidden(&page, "name"));
    let form = [("csrf", csrf.as_str()), ("name", &name)];
    // Somebody else can not take them.
    let mut other = Browser::sign_in(&w, "manager");
    let token = hidden(&other.get("/import").expect(200).text, "csrf");
    let nothing = w.wait(async { w.app.new_id() }).expect("an id").to_string();
    let missing = other.post("/import/take", &[("csrf", &token), ("name", &nothing)]);
    assert_eq!(missing.header("location"), Some("/import"));
    let done = browser.post("/import/take", &form).expect(200).text;
    assert!(done.contains("milk.csv was not taken"), "{done}");
    assert_eq!(areas(), before + 2, "the good file went through");
    let milk = manager(&w, "/v1/milk-records");
    assert_eq!(milk["items"], json!([]), "the bad one not at all");
    let made = manager(&w, "/v1/areas?q=East")["items"][0].clone();
    assert_eq!(made["created_by"], json!(w.a.id("manager")), "the manager read them in");
    // What a manager may not make can not be read in either.
    let root =
        b"name,currency,zone,language,started_on\nMine,TZS,Africa/Dar_es_Salaam,en,2026-01-01\n";
    let root = [("files", "cooperatives.csv", root.as_slice())];
    assert_eq!(browser.fill_with_files("/import", "/import", &[], &root).status, 403);
    let mut nobody = Browser::new(&w);
    let parts = Some(("multipart/form-data; boundary=cut".to_owned(), b"--cut--\r\n".to_vec()));
    let sent = nobody.ask("POST", "/import", parts, &[]);
    assert_eq!(sent.header("location"), Some("/sign-in"), "what broke off is not kept");
    // What no header tells is asked.
    let odd = [("files", "cattle.csv", b"x".as_slice())];
    let asked = browser.fill_with_files("/import", "/import", &[], &odd).expect(200).text;
    assert!(asked.contains("The rows are") && asked.contains("leave this file out"), "{asked}");
}

fn people_get_one_time_codes_and_areas(w: World) {
    let mut browser = Browser::sign_in(&w, "manager");
    let fields = [
        ("code", "new-officer"),
        ("name", "Juma Mfano"),
        ("role", "officer"),
        ("email", "juma@coop.example"),
        ("language", "sw"),
        ("active", "true"),
    ];
    let added = browser.fill("/people", "/people", &fields);
    let to = added.header("location").unwrap_or_else(|| panic!("{}", added.text)).to_owned();
    let person = to.split('?').next().unwrap_or_default().to_owned();
    let page = browser.fill(&person, &format!("{person}/code"), &[]).expect(200).text;
    let code = page.split("shown only now: ").nth(1).and_then(|t| t.split('<').next());
    let code = code.expect("a code").to_owned();
    assert!(!browser.get(&person).expect(200).text.contains(&code), "it is shown once");
    assert!(page.contains(&format!("/invitation?code={code}")) && page.contains("<svg"), "{page}");
    let mut invited = Browser::new(&w);
    let path = format!("/invitation?code={code}");
    let weak = invited.fill(&path, "/invitation", &[("password", "840271")]);
    assert_eq!(weak.status, 422, "a PIN is for members: {}", weak.text);
    assert!(!weak.text.contains("840271") && weak.text.contains(&code), "{}", weak.text);
    let set = invited.fill(&path, "/invitation", &[("password", "grass moon bucket")]);
    assert_eq!(set.header("location"), Some("/sign-in?ready=1"), "{}", set.text);
    assert_eq!(
        invited.fill(&path, "/invitation", &[("password", "grass moon bucket")]).status,
        422
    );
    let area = w.a.id("other_area").to_string();
    let given = browser.fill(&person, &format!("{person}/areas"), &[("area_id", &area)]);
    assert_eq!(given.status, 303, "{}", given.text);
    let page = browser.get(&person).expect(200).text;
    assert!(page.contains("Take South away"), "{page}");
    // A member is named by the membership number.
    let mut as_member = fields;
    (as_member[0].1, as_member[2].1, as_member[3].1) = ("mwana", "member", "mwana@coop.example");
    let with = |number: &'static str| {
        let mut all = as_member.to_vec();
        all.push(("member_number", number));
        all
    };
    let refused = browser.fill("/people", "/people", &with("M404"));
    assert_eq!(refused.status, 422);
    assert!(refused.text.contains("id=\"person-member_number-error\""), "{}", refused.text);
    let number = w.sign_in("manager").get(&format!("/v1/members/{}", w.a.id("member")));
    let number = number.expect(200).json()["number"].as_str().expect("a number").to_owned();
    let added = browser.fill("/people", "/people", &with(number.leak()));
    let to = added.header("location").unwrap_or_else(|| panic!("{}", added.text)).to_owned();
    let kept =
        w.sign_in("manager").get(&format!("/v1{}", to.split('?').next().unwrap_or_default()));
    assert_eq!(kept.expect(200).json()["member_id"], json!(w.a.id("member")));
    assert!(browser.get("/people?q=mwana").expect(200).text.contains("mwana@coop.example"));
    assert!(!browser.get("/people?q=mwana").expect(200).text.contains("juma@coop.example"));
    // A wrong address names its field.
    let mut wrong = fields;
    wrong[0].1 = "another";
    wrong[3].1 = "nowhere";
    let refused = browser.fill("/people", "/people", &wrong);
    assert!(refused.status == 422 && refused.text.contains("id=\"person-email-error\""));
    let off =
        browser.fill(&person, &person, &[("active", ""), ("role", "officer"), ("language", "sw")]);
    assert_eq!(off.status, 303, "{}", off.text);
    let login = json!({ "login": "juma@coop.example", "password": "grass moon bucket" });
    w.nobody.post("/v1/session", &login).expect(401);
}

fn standards_are_set_from_a_day_on(w: World) {
    let mut browser = Browser::sign_in(&w, "manager");
    let page = browser.get("/guide").expect(200).text;
    assert!(page.contains("default, common practice") && page.contains("derived from live weight"));
    let set = [
        ("name", "seed_kg_per_tray"),
        ("animal_class", ""),
        ("value", "1,8"),
        ("valid_from", "2026-03-20"),
    ];
    assert_eq!(browser.fill("/guide", "/guide", &set).status, 303);
    assert!(browser.get("/guide").expect(200).text.contains("1.8 kg"));
    let mut wrong = set;
    wrong[2].1 = "900";
    let refused = browser.fill("/guide", "/guide", &wrong);
    assert!(
        refused.status == 422 && refused.text.contains("id=\"value-value-error\""),
        "{}",
        refused.text
    );
}

fn a_flag_is_noted_and_a_lot_is_held(w: World) {
    let (farm, lot) = (w.a.id("farm"), w.a.id("lot"));
    let flag = w.make(
        &w.a,
        Kind::Flag,
        json!({ "farm_id": farm, "raised_on": "2026-03-18", "points_at": "farm", "evidence": "seen by hand" }),
    );
    w.make_figures();
    let mut browser = Browser::sign_in(&w, "manager");
    assert!(browser.get("/spoilage").expect(200).text.contains("cannot tell yet"));
    let path = format!("/flags/{flag}");
    let note = [
        ("seen_on", "2026-03-20"),
        ("cause", "mould"),
        ("finding", "Shelf level at the drain end"),
    ];
    let page = format!("/spoilage/{farm}");
    let noted = browser.fill(&page, &path, &note);
    assert_eq!(noted.status, 303, "{}", noted.text);
    let kept = manager(&w, &format!("/v1/flags/{flag}"));
    assert_eq!((&kept["cause"], &kept["seen_on"]), (&json!("mould"), &json!("2026-03-20")));
    let wrong = browser.fill(&page, &path, &[("seen_on", "2026-03-01"), ("cause", "mould")]);
    assert!(
        wrong.status == 422 && wrong.text.contains("id=\"flag-seen_on-error\""),
        "{}",
        wrong.text
    );
    let page = format!("/lots/{lot}");
    let held = browser.fill(&page, &format!("{page}/hold"), &[("reason", "musty smell")]);
    assert_eq!(held.status, 303, "{}", held.text);
    let shown = browser.get(&page).expect(200).text;
    assert!(shown.contains("This seed lot is held") && !shown.contains("Hold this lot"), "{shown}");
    // It is let go again, with what was found.
    let hold = manager(&w, "/v1/lot-holds")["items"][0]["id"].as_str().expect("an id").to_owned();
    let free =
        browser.fill(&page, &format!("/holds/{hold}"), &[("finding", "only the sack was damp")]);
    assert_eq!(free.status, 303, "{}", free.text);
    assert!(browser.get(&page).expect(200).text.contains("Hold this lot"));
}

fn findings_are_accepted_with_a_reason(w: World) {
    // Three trays out of two spread contradict each other.
    let at = |day: u32| format!("2026-03-{day:02}T05:00:00Z");
    for (event, trays, day) in [("spread", 2, 12), ("harvested", 3, 18)] {
        let body = json!({ "batch_id": w.a.id("batch"), "event": event, "at": at(day), "trays": trays, "kg": 20 });
        w.make(&w.a, Kind::BatchEvent, body);
    }
    w.make_figures();
    let mut browser = Browser::sign_in(&w, "manager");
    let page = browser.get("/review?rule=more_trays_out_than_spread").expect(200).text;
    assert!(page.contains("more trays out than spread"), "{page}");
    let link = page.split("href=\"/review/accept?").nth(1).and_then(|t| t.split('"').next());
    let path = format!("/review/accept?{}", link.expect("a link"));
    let refused = browser.fill(&path, "/review/accept", &[("reason", "")]);
    assert_eq!(refused.status, 422);
    let accepted = browser.fill(&path, "/review/accept", &[("reason", "counted by hand")]);
    assert_eq!(accepted.header("location"), Some("/review?saved=accepted"), "{}", accepted.text);
    let page = browser.get("/review?rule=more_trays_out_than_spread").expect(200).text;
    assert!(
        !page.contains("counted by hand") && page.contains("Nothing contradicts itself."),
        "{page}"
    );
}

fn programme_readers_see_totals_alone(w: World) {
    let mut reader = Browser::sign_in(&w, "programme_reader");
    for by in ["area", "sex", "age_band", "cooperative"] {
        let page = reader.get(&format!("/totals?month=2026-02&by={by}")).expect(200).text;
        assert!(page.contains("hidden: too few") && !page.contains("Asha"), "{by}: {page}");
    }
    let page = reader.get("/totals?from=2025-12&month=2026-02").expect(200).text;
    assert!(page.contains("December 2025") && page.contains("February 2026"), "{page}");
    assert_eq!(reader.get("/totals?from=2024-01&month=2026-02").status, 422);
    let file = reader.get("/totals.csv?month=2026-02&by=sex").expect(200);
    assert!(file.text.starts_with("month,cooperative,currency,group,is_hidden,members,saving"));
    assert!(file.text.contains(",female,true,,"), "{}", file.text);
    for path in [
        "/month",
        "/savings",
        "/farms",
        "/spoilage",
        "/people",
        "/import",
        "/today",
        "/phone/pages",
    ] {
        assert_eq!(reader.get(path).status, 403, "{path}");
    }
}
