//! Trainings by page: planned, marked, repeated; what two people mark at once stays.

use acceptance::browser::Browser;
use acceptance::client::Answer;
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_domain::Kind;

both!(
    a_training_is_planned_and_marked_with_two_taps,
    two_registers_of_one_training_lose_nothing,
    people_are_counted_and_not_attendances,
    an_officer_sees_attendances_of_the_own_areas,
    a_topic_is_repeated,
    the_register_opens_on_the_day,
    a_training_is_corrected_and_taken_back,
    indicators_count_people_and_hide_the_complement,
    who_reads_programmes_asks_for_quarters,
    farms_grow_are_active_and_drop_out,
);

const NEXT: [(&str, &str); 2] = [("topic", "Clean trays & seed"), ("date", "2026-03-20")];

fn plan(w: &World, officer: &mut Browser, more: &[(&str, &str)]) -> String {
    let area = w.a.id("area").to_string();
    let fields = [&NEXT, [("area_id", area.as_str())].as_slice(), more].concat();
    let made = officer.fill("/trainings/new", "/trainings/new", &fields);
    let to = made.header("location").unwrap_or_else(|| panic!("{}", made.text)).to_owned();
    to.split('?').next().expect("a path").to_owned()
}

fn attendances(w: &World) -> Vec<Json> {
    w.sign_in("manager").get("/v1/attendances").expect(200).items()
}

fn here(w: &World, who: &str) -> String {
    format!("here-{}", w.a.id(who))
}

fn mark(browser: &mut Browser, path: &str, ticks: &[(&str, &str)]) -> Answer {
    browser.fill(path, path, ticks)
}

fn a_training_is_planned_and_marked_with_two_taps(w: World) {
    let mut officer = Browser::sign_in(&w, "officer");
    let path = plan(&w, &mut officer, &[]);
    let id = path.rsplit('/').next().expect("an id").to_owned();
    let kept = w.sign_in("officer").get(&format!("/v1/trainings/{id}")).expect(200).json();
    assert_eq!(kept["code"], json!("T2"), "the server names it after T1");
    assert_eq!(kept["trainer_id"], json!(w.a.id("officer")));
    let page = officer.page(&path);
    // The member lives in an area below that of the training; the other one elsewhere.
    assert!(page.contains(&here(&w, "member")) && !page.contains(&here(&w, "other_member")));
    assert!(page.contains("Asha Mfano · M1") && page.contains("nobody is marked present"));
    let there = here(&w, "member");
    for _ in 0..2 {
        assert_eq!(mark(&mut officer, &path, &[(&there, "true")]).status, 303);
    }
    assert!(officer.page(&path).contains("one person came"));
    assert!(officer.page("/trainings").contains("20 March 2026 · North · one person came"));
    let first = attendances(&w);
    assert_eq!(first.len(), 1);
    // Without its tick the member was not there; ticked again it is the same record.
    let page = officer.page(&path);
    let listed = format!("listed-{}", w.a.id("member"));
    let csrf = acceptance::browser::hidden(&page, "csrf");
    let untick = [("csrf", csrf.as_str()), (listed.as_str(), "true")];
    assert_eq!(officer.post(&path, &untick).status, 303);
    assert_eq!(attendances(&w), Vec::<Json>::new());
    assert_eq!(mark(&mut officer, &path, &[(&there, "true")]).status, 303);
    assert_eq!(attendances(&w)[0]["id"], first[0]["id"]);
    // A member of somebody else's area is found by the manager alone.
    let found = |browser: &mut Browser, text: &str| browser.page(&format!("{path}?q={text}"));
    let other = here(&w, "other_member");
    assert!(!found(&mut officer, "M2").contains(&other));
    let mut manager = Browser::sign_in(&w, "manager");
    assert!(found(&mut manager, "m2").contains(&other));
    assert!(!found(&mut manager, "nobody").contains("here-"));
    let search = format!("{path}?q=m2");
    assert_eq!(manager.fill(&search, &path, &[(&other, "true")]).status, 303);
    assert!(manager.page(&path).contains("2 people came"));
    let page = officer.page(&path);
    assert!(page.contains("2 people came") && page.contains("an area that is not yours"));
    let csrf = acceptance::browser::hidden(&page, "csrf");
    let hidden = format!("listed-{}", w.b.id("member"));
    let strange = here(&w, "member").replace(&w.a.id("member").to_string(), &hidden[7..]);
    let form = [("csrf", csrf.as_str()), (hidden.as_str(), ""), (strange.as_str(), "true")];
    assert_eq!(officer.post(&path, &form).status, 422, "nobody's own member");
}

fn two_registers_of_one_training_lose_nothing(w: World) {
    let mut manager = Browser::sign_in(&w, "manager");
    let path = plan(&w, &mut manager, &[("area_id", "")]);
    let (one, two) = (here(&w, "member"), here(&w, "other_member"));
    let before = manager.page(&path);
    assert!(before.contains(&one) && before.contains(&two), "all members are invited");
    // Somebody else marks one member while this register lies open; then the other is marked.
    assert_eq!(manager.fill_in(&before, &path, &[(&one, "true")]).status, 303);
    assert_eq!(manager.fill_in(&before, &path, &[(&two, "true")]).status, 303);
    assert_eq!(attendances(&w).len(), 2);
    assert!(manager.page(&path).contains("2 people came"));
}

fn people_are_counted_and_not_attendances(w: World) {
    let training = w.a.id("training");
    let came = json!({ "training_id": training, "member_id": w.a.id("member") });
    for _ in 0..2 {
        w.make(&w.a, Kind::Attendance, came.clone());
    }
    let mut manager = Browser::sign_in(&w, "manager");
    assert!(manager.page("/trainings").contains("one person came"));
    let path = format!("/trainings/{training}");
    let page = manager.page(&path);
    assert!(page.contains("one person came"), "{page}");
    let csrf = acceptance::browser::hidden(&page, "csrf");
    let listed = format!("listed-{}", w.a.id("member"));
    assert_eq!(manager.post(&path, &[("csrf", &csrf), (&listed, "true")]).status, 303);
    assert!(manager.page(&path).contains("nobody is marked present"), "both are taken back");
}

fn an_officer_sees_attendances_of_the_own_areas(w: World) {
    let came = |who: &str| json!({ "training_id": w.a.id("training"), "member_id": w.a.id(who) });
    w.make(&w.a, Kind::Attendance, came("member"));
    let before = w.sign_in("manager").get("/v1/attendances").expect(200).items();
    w.make(&w.a, Kind::Attendance, came("other_member"));
    let all = w.sign_in("manager").get("/v1/attendances").expect(200).items();
    let (own, other) = (&before[0], all.iter().find(|a| **a != before[0]).expect("another"));
    let officer = w.sign_in("officer");
    assert_eq!(officer.get("/v1/attendances").expect(200).items(), before);
    officer.get(&format!("/v1/attendances/{}", own["id"].as_str().expect("id"))).expect(200);
    let path = format!("/v1/attendances/{}", other["id"].as_str().expect("id"));
    officer.get(&path).expect(404);
    officer.get(&format!("{path}/history")).expect(404);
    let lines = |who: &str| -> Vec<Json> {
        let (client, mut from, mut all) = (w.sign_in(who), String::new(), Vec::new());
        loop {
            let feed = client.get(&format!("/v1/changes?limit=1000{from}")).expect(200).json();
            all.extend(feed["items"].as_array().expect("items").clone());
            if feed["has_more"] == false {
                break;
            }
            from = format!("&after={}", feed["next"].as_str().expect("cursor"));
        }
        all.retain(|line| line["kind"] == "attendance");
        all
    };
    assert_eq!((lines("manager").len(), lines("officer").len()), (2, 1));
    assert_eq!(lines("officer")[0]["id"], own["id"]);
    let refused = officer.post("/v1/attendances", &came("other_member"));
    assert!([404, 422].contains(&refused.status), "{}", refused.text);
    w.sign_in("member").get("/v1/attendances").expect(403);
    // How many came is no secret; who, of other areas, is.
    let page = Browser::sign_in(&w, "officer").page(&format!("/trainings/{}", w.a.id("training")));
    assert!(page.contains("2 people came") && !page.contains(&here(&w, "other_member")), "{page}");
}

fn a_topic_is_repeated(w: World) {
    let mut officer = Browser::sign_in(&w, "officer");
    let path = plan(&w, &mut officer, &[("place", "Market hall"), ("note", "bring trays")]);
    let id = path.rsplit('/').next().expect("an id").to_owned();
    let page = officer.page(&path);
    let to = format!("/trainings/new?repeat={id}");
    assert!(page.contains(&to), "{page}");
    let page = officer.page(&to);
    for part in ["value=\"Clean trays &#38; seed\"", "value=\"Market hall\""] {
        assert!(page.contains(part), "{part}: {page}");
    }
    assert!(!page.contains("2026-03-20") && !page.contains("bring trays"));
    let refused = officer.fill_in(&page, "/trainings/new", &[]);
    assert_eq!(refused.status, 422, "a day is asked for");
    assert!(refused.text.contains("#training-date"));
    let next = officer.fill_in(&page, "/trainings/new", &[("date", "2026-04-17")]);
    assert_eq!(next.status, 303, "{}", next.text);
    assert!(officer.page("/trainings").contains("planned"));
}

fn the_register_opens_on_the_day(w: World) {
    let mut officer = Browser::sign_in(&w, "officer");
    let path = plan(&w, &mut officer, &[("date", "2026-03-21")]);
    let page = officer.page(&path);
    assert!(page.contains("opens on the day") && !page.contains("here-"));
    let csrf = acceptance::browser::hidden(&officer.page("/trainings/new"), "csrf");
    let (there, listed) = (here(&w, "member"), format!("listed-{}", w.a.id("member")));
    let form = [("csrf", csrf.as_str()), (listed.as_str(), ""), (there.as_str(), "true")];
    let refused = officer.post(&path, &form);
    assert_eq!(refused.status, 422);
    assert!(refused.text.contains("the register opens on the day of the training"));
    assert_eq!(attendances(&w).len(), 0);
    w.clock.set(traybook_domain::time::parse_instant("2026-03-21T06:00:00Z").expect("instant"));
    assert_eq!(mark(&mut officer, &path, &[(&there, "true")]).status, 303);
    assert_eq!(attendances(&w).len(), 1);
}

fn a_training_is_corrected_and_taken_back(w: World) {
    let mut officer = Browser::sign_in(&w, "officer");
    let path = plan(&w, &mut officer, &[("place", "Market hall")]);
    let mend = format!("{path}/correct");
    let done = officer.fill(&mend, &mend, &[("topic", "Clean seed"), ("place", "")]);
    assert_eq!(done.status, 303, "{}", done.text);
    let page = officer.page(&path);
    assert!(page.contains("Clean seed") && !page.contains("Market hall"));
    let there = here(&w, "member");
    assert_eq!(mark(&mut officer, &path, &[(&there, "true")]).status, 303);
    let withdraw = format!("{path}/withdraw");
    let refused = officer.fill(&mend, &withdraw, &[("why", "rain")]);
    assert_eq!(refused.status, 409, "people came");
    let page = officer.page(&path);
    let csrf = acceptance::browser::hidden(&page, "csrf");
    let listed = format!("listed-{}", w.a.id("member"));
    assert_eq!(officer.post(&path, &[("csrf", &csrf), (&listed, "true")]).status, 303);
    assert_eq!(officer.fill(&mend, &withdraw, &[("why", "")]).status, 422);
    let gone = officer.fill(&mend, &withdraw, &[("why", "rain")]);
    let to = gone.header("location").unwrap_or_else(|| panic!("{}", gone.text)).to_owned();
    let page = officer.page(&to);
    assert!(!page.contains(&format!("href=\"{path}\"")) && page.contains("/put-back/trainings/"));
}

/// Members with a farm each that grows, who all came to the training of 3 February.
fn train(w: &World, sex: &str, count: usize, consent: bool) {
    for at in 0..count {
        let number = format!("{sex}-{at}-{consent}");
        let member = json!({ "number": number, "name": "Juma Mfano", "area_id": w.a.id("area"),
            "sex": sex, "birth_year": 1990, "language": "sw", "consent": consent,
            "joined_on": "2024-02-01" });
        let member_id = w.make(&w.a, Kind::Member, member);
        let came = json!({ "training_id": w.a.id("training"), "member_id": member_id });
        // Twice: people are counted.
        w.make(&w.a, Kind::Attendance, came.clone());
        w.make(&w.a, Kind::Attendance, came);
    }
}

fn indicators(browser: &mut Browser, query: &str) -> String {
    browser.get(&format!("/indicators.csv?{query}")).expect(200).text
}

/// Group and value of an indicator's lines.
fn figures(csv: &str, indicator: &str) -> Vec<(String, String, String)> {
    let mut reader = csv.lines().filter(|l| l.contains(&format!(",{indicator},")));
    let mut out = Vec::new();
    for line in reader.by_ref() {
        // After the definition, which is quoted where it holds a comma.
        let cells: Vec<&str> = line.rsplitn(7, ',').collect();
        let cell = |at: usize| cells.get(at).copied().unwrap_or_default().to_owned();
        out.push((cell(5), cell(3), cell(0)));
    }
    out
}

fn set(w: &World, instant: &str) {
    w.clock.set(traybook_domain::time::parse_instant(instant).expect("an instant"));
}

fn indicators_count_people_and_hide_the_complement(w: World) {
    train(&w, "female", 30, true);
    train(&w, "male", 27, true);
    train(&w, "not_stated", 1, true);
    train(&w, "male", 3, false);
    set(&w, "2026-04-02T09:00:00Z");
    for (who, month) in [("programme_reader", "2026-03"), ("manager", "2026-02")] {
        let from = if who == "manager" { "2026-02" } else { "2026-01" };
        let mut reader = Browser::sign_in(&w, who);
        let csv = indicators(&mut reader, &format!("from={from}&month={month}"));
        let told = figures(&csv, "people_trained");
        let line = |group: &str, value: &str, why: &str| {
            (group.to_owned(), value.to_owned(), why.to_owned())
        };
        // 58 agreed; one who did not state the sex is not found as 58 - 30 - 27.
        for wanted in [
            line("all", "58", ""),
            line("female", "30", ""),
            line("male", "", "few_people"),
            line("not_stated", "", "few_people"),
            line("together", "28", ""),
            line("35_to_59", "58", ""),
        ] {
            assert!(told.contains(&wanted), "{wanted:?} of {told:?} in {csv}");
        }
        assert_eq!(figures(&csv, "women_trained_percent"), [line("all", "51.7", "")]);
        let page = reader.page(&format!("/totals?from={from}&month={month}"));
        for part in ["People trained", "Each is counted once.", "hidden groups together 28"] {
            assert!(page.contains(part), "{part}: {page}");
        }
        assert!(!page.contains("Juma"), "no names");
        let none = indicators(&mut reader, "from=2025-10&month=2025-12");
        assert!(figures(&none, "people_trained").contains(&line("all", "0", "")), "{none}");
        let file = reader.get(&format!("/indicators.xlsx?from={from}&month={month}"));
        assert_eq!(file.status, 200);
        assert_eq!(reader.get("/indicators.csv?from=2024-01&month=2026-02").status, 422);
        assert_eq!(reader.get("/indicators.csv?from=2026-02&month=2026-01").status, 422);
        // The interface gives the same.
        let client = w.sign_in(who);
        let of = |months: &str| client.get(&format!("/v1/indicators?{months}"));
        let own = of(&format!("from={from}&month={month}")).expect(200).json();
        let lines = own["cooperatives"][0]["lines"].as_array().expect("lines").clone();
        let trained = |group: &str| {
            let is = |l: &&Json| l["indicator"] == "people_trained" && l["group"] == group;
            let line = lines.iter().find(is).expect("a line");
            (line["value"].clone(), line["not_shown"].clone())
        };
        assert_eq!(trained("all"), (json!(58), Json::Null));
        assert_eq!(trained("male"), (Json::Null, json!("few_people")));
        assert_eq!(of("from=2026-02&month=2026-01").expect(422).errors()[0].0, "/from");
        assert_eq!(of("from=2024-01&month=2026-02").status, 422);
        assert_eq!(of("month=2026-02").status, 422);
    }
    assert_eq!(w.sign_in("officer").get("/v1/indicators?from=2026-02&month=2026-02").status, 403);
    assert_eq!(Browser::sign_in(&w, "officer").get("/indicators.csv").status, 403);
}

/// A training on a day, to which members came.
fn trained_on(w: &World, day: &str, members: &[uuid::Uuid]) {
    let training = json!({ "code": day, "date": day, "topic": "Clean seed" });
    let training = w.make(&w.a, Kind::Training, training);
    for member in members {
        let came = json!({ "training_id": training, "member_id": member });
        w.make(&w.a, Kind::Attendance, came);
    }
}

fn who_reads_programmes_asks_for_quarters(w: World) {
    let members: Vec<uuid::Uuid> = (0..32)
        .map(|at| {
            let sex = if at % 2 == 0 { "female" } else { "male" };
            let member = json!({ "number": format!("Q{at}"), "name": "Juma Mfano",
                "area_id": w.a.id("area"), "sex": sex, "birth_year": 1990, "language": "sw",
                "consent": true, "joined_on": "2024-02-01" });
            w.make(&w.a, Kind::Member, member)
        })
        .collect();
    // Twenty come in the first two quarters; two more in the second; ten more in the third.
    trained_on(&w, "2025-02-03", &members[..20]);
    trained_on(&w, "2025-05-03", &members[..22]);
    trained_on(&w, "2025-08-03", &members);
    let client = w.sign_in("programme_reader");
    let of = |months: &str| client.get(&format!("/v1/indicators?{months}"));
    let trained = |months: &str, group: &str| {
        let lines = of(months).expect(200).json()["cooperatives"][0]["lines"].clone();
        let lines = lines.as_array().expect("lines").clone();
        let is = |l: &Json| l["indicator"] == "people_trained" && l["group"] == group;
        lines.into_iter().find(is).expect("a line")["value"].clone()
    };
    assert_eq!(trained("from=2025-01&month=2025-03", "all"), 20);
    assert_eq!(trained("from=2025-04&month=2025-06", "all"), 22);
    assert_eq!(trained("from=2025-07&month=2025-09", "all"), 32);
    // The year so far less its first quarter would be two people.
    assert_eq!(trained("from=2025-01&month=2025-06", "all"), Json::Null);
    // Of three quarters, ten came to the third alone. They are five women and five men.
    assert_eq!(trained("from=2025-01&month=2025-09", "all"), 32);
    for (group, number) in [("female", 16), ("male", 16)] {
        assert_eq!(trained("from=2025-01&month=2025-09", group), number, "{group}");
    }
    // What is no such quarter is refused at the field, through every door.
    let mut browser = Browser::sign_in(&w, "programme_reader");
    for wrong in [
        "from=2025-01&month=2025-01",
        "from=2025-01&month=2025-05",
        "from=2025-02&month=2025-04",
        "from=2025-04&month=2025-09",
        "from=2024-10&month=2025-03",
        // The quarter is not over.
        "from=2026-01&month=2026-03",
    ] {
        let errors = of(wrong).expect(422).errors();
        assert_eq!((&*errors[0].0, &*errors[0].1), ("/month", "quarters"), "{wrong}");
        assert_eq!(browser.get(&format!("/indicators.csv?{wrong}")).status, 422, "{wrong}");
    }
    // The page offers what may be asked, says why a number is left out, and shows other months of
    // the totals beside.
    let page = browser.page("/totals?period=2025-01_2025-06&month=2026-02");
    for part in [
        "value=\"2025-01_2025-09\"",
        "selected>2025-01 to 2025-06",
        "or between it and a quarter",
        "/indicators.csv?from=2025-01&#38;month=2025-06",
    ] {
        assert!(page.contains(part), "{part}: {page}");
    }
    assert!(!page.contains("value=\"2026-01_2026-03\""), "{page}");
    let other = browser.get("/totals?period=2025-01_2025-05");
    assert_eq!(other.status, 422, "{}", other.text);
    // Without months it is the last quarter that is over; the manager's months are free.
    assert!(indicators(&mut browser, "").contains("\n2025-10,2025-12,"));
    let manager = w.sign_in("manager");
    manager.get("/v1/indicators?from=2025-01&month=2025-05").expect(200);
    let page = Browser::sign_in(&w, "manager").page("/totals?from=2025-04&month=2025-05");
    assert!(!page.contains("name=\"period\""), "{page}");
}

fn farms_grow_are_active_and_drop_out(w: World) {
    for at in 0..6 {
        let member = json!({ "number": format!("G{at}"), "name": "Juma Mfano",
            "area_id": w.a.id("area"), "sex": "female", "language": "sw", "consent": true,
            "joined_on": "2024-02-01" });
        let member_id = w.make(&w.a, Kind::Member, member);
        let farm = json!({ "code": format!("G{at}"), "member_id": member_id,
            "area_id": w.a.id("area") });
        let farm = w.make(&w.a, Kind::Farm, farm);
        let shed = json!({ "code": format!("G{at}-S"), "farm_id": farm, "tray_places": 40 });
        let shed = w.make(&w.a, Kind::Shed, shed);
        let cows = json!({ "code": format!("G{at}-c"), "farm_id": farm,
            "animal_class": "dairy_cows" });
        let cows = w.make(&w.a, Kind::AnimalGroup, cows);
        let batch = json!({ "code": format!("G{at}-b"), "shed_id": shed, "crop": "barley",
            "animal_group_id": cows, "seed_lot_id": w.a.id("lot") });
        let batch = w.make(&w.a, Kind::Batch, batch);
        for (event, at, more) in [
            ("soaked", "2025-10-10T05:00:00Z", json!({ "kg": 4 })),
            ("spread", "2025-10-11T05:00:00Z", json!({ "trays": 4 })),
        ] {
            let mut body = json!({ "batch_id": batch, "event": event, "at": at });
            body.as_object_mut()
                .expect("an object")
                .extend(more.as_object().expect("an object").clone());
            w.make(&w.a, Kind::BatchEvent, body);
        }
    }
    set(&w, "2026-04-02T09:00:00Z");
    let mut reader = Browser::sign_in(&w, "programme_reader");
    let value = |csv: &str, indicator: &str| {
        let all = figures(csv, indicator);
        all.iter().find(|(group, ..)| group == "female").expect("women").1.clone()
    };
    let then = indicators(&mut reader, "from=2025-10&month=2025-12");
    assert_eq!(
        (value(&then, "farms_growing"), value(&then, "farms_dropped_out")),
        ("6".to_owned(), "0".to_owned()),
        "{then}"
    );
    let later = indicators(&mut reader, "from=2026-01&month=2026-03");
    assert_eq!(
        (value(&later, "farms_growing"), value(&later, "farms_dropped_out")),
        ("0".to_owned(), "6".to_owned()),
        "{later}"
    );
}
