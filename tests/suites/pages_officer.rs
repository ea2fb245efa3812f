//! The officer's pages without script: whom to visit, the visit, batches, a new farm.

use acceptance::browser::{Browser, hidden};
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_domain::Kind;

both!(
    a_visit_is_logged_whole_or_not_at_all,
    a_phone_sends_a_visit_again_and_its_photos_one_by_one,
    events_are_recorded_and_corrected_for_a_member,
    a_batch_is_started_with_its_soak,
    a_batch_is_corrected_and_taken_back,
    a_farm_is_registered_with_its_animals_and_shows_its_plan,
    an_officer_stays_within_the_own_areas,
    labels_open_the_right_page,
    a_calendar_address_is_shown_once_and_ends,
    a_flagged_batch_is_not_a_members_to_take_back,
    today_tells_the_farms_with_most_that_is_late,
);

/// The smallest JPEG that the server takes: one grey point.
fn picture() -> Vec<u8> {
    let hex = "ffd8ffe000104a46494600010100000100010000ffdb004300281c1e231e19282321232d2b28303c64413c3737\
               3c7b585d4964918099968f808c8aa0b4e6c3a0aadaad8a8cc8ffcbdaeef5ffffff9bc1fffffffaffe6fdfff8ff\
               c0000b080001000101011100ffc40014000100000000000000000000000000000000ffc4001410010000000000\
               0000000000000000000000ffda0008010100003f003fffd9";
    let digits: Vec<u8> = hex.bytes().filter(u8::is_ascii_hexdigit).collect();
    let digit = |b: u8| (b as char).to_digit(16).expect("a digit") as u8;
    digits.chunks(2).map(|pair| digit(pair[0]) * 16 + digit(pair[1])).collect()
}

fn list(w: &World, path: &str) -> Vec<Json> {
    w.sign_in("officer").get(path).expect(200).items()
}

fn a_visit_is_logged_whole_or_not_at_all(w: World) {
    let farm = w.a.id("farm");
    let mut officer = Browser::sign_in(&w, "officer");
    let (path, check) =
        (format!("/farms/{farm}/visit"), format!("check-{}-answer", w.a.id("item")));
    let before = list(&w, "/v1/visits").len();
    let fields = [
        ("started_at", "2026-03-20T10:30"),
        (check.as_str(), "no"),
        ("temperature_c", "86"),
        ("humidity_percent", "85"),
        ("advice", "Level the shelf & spread less"),
        ("follow-up-1-action", "Level the shelf"),
        ("follow-up-1-due_on", "2026-03-27"),
    ];
    let refused = officer.fill_with_files(&path, &path, &fields, &[]);
    assert_eq!(refused.status, 422, "{}", refused.text);
    for part in
        ["Fahrenheit", "value=\"86\"", "Level the shelf &#38; spread less", "#visit-temperature_c"]
    {
        assert!(refused.text.contains(part), "{part}: {}", refused.text);
    }
    assert_eq!(list(&w, "/v1/visits").len(), before, "nothing of it is kept");
    let mut right = fields;
    right[2].1 = "27,5";
    // What is no picture is refused beside the photos before any of it is recorded.
    let files = [("photos", "list.pdf", b"%PDF-1.7".as_slice())];
    let refused = officer.fill_with_files(&path, &path, &right, &files);
    assert_eq!(refused.status, 422, "{}", refused.text);
    for part in ["#visit-photos", "list.pdf", "JPEG"] {
        assert!(refused.text.contains(part), "{part}: {}", refused.text);
    }
    assert_eq!(list(&w, "/v1/visits").len(), before, "nothing of it is kept");
    let photo = picture();
    let files = [("photos", "tray.jpg", photo.as_slice())];
    // Of a form with files the words wait for signing in, too.
    let mut nobody = Browser::new(&w);
    let kept = nobody.send_with_files(&path, &right, &files).expect(200).text;
    for part in ["What you filled in is kept", "kept.advice", "name=\"kept-files\""] {
        assert!(kept.contains(part), "{part}: {kept}");
    }
    let logged = officer.fill_with_files(&path, &path, &right, &files);
    let to = logged.header("location").unwrap_or_else(|| panic!("{}", logged.text)).to_owned();
    let page = officer.get(&to).expect(200).text;
    for part in ["20 March 2026, 10:30", "27.5", "Warm and humid", "Level the shelf", "/photos/"] {
        assert!(page.contains(part), "{part}: {page}");
    }
    let visits = list(&w, "/v1/visits");
    assert_eq!(visits.len(), before + 1);
    let visit = visits.iter().find(|v| v["advice"] == json!("Level the shelf & spread less"));
    let visit = visit.expect("the visit");
    assert_eq!(
        visit["started_at"],
        json!("2026-03-20T07:30:00.000Z"),
        "the clock of Dar es Salaam"
    );
    assert_eq!(visit["officer_id"], json!(w.a.id("officer")));
    let of = visit["id"].as_str().expect("an id");
    assert_eq!(list(&w, &format!("/v1/visit-checks?visit_id={of}"))[0]["answer"], json!("no"));
    assert_eq!(list(&w, &format!("/v1/readings?visit_id={of}")).len(), 1);
    let follow = list(&w, &format!("/v1/follow-ups?visit_id={of}"));
    assert_eq!(follow[0]["action"], json!("Level the shelf"));
    // What was agreed on is closed; closing it twice is no conflict.
    let path = format!("/follow-ups/{}", follow[0]["id"].as_str().expect("an id"));
    let page = officer.get(&path).expect(200).text;
    let form = [
        ("csrf", hidden(&page, "csrf")),
        ("version", hidden(&page, "version")),
        ("outcome", "done".to_owned()),
    ];
    let form: Vec<(&str, &str)> = form.iter().map(|(n, v)| (*n, v.as_str())).collect();
    for _ in 0..2 {
        assert_eq!(officer.post(&path, &form).status, 303);
    }
}

fn a_phone_sends_a_visit_again_and_its_photos_one_by_one(w: World) {
    let farm = w.a.id("farm");
    let mut officer = Browser::sign_in(&w, "officer");
    let phone = [("x-from-phone", "1")];
    let token = officer.ask("GET", "/phone/token", None, &phone).expect(200).json();
    assert_eq!(token["person"], json!(w.a.id("officer")));
    let csrf = token["csrf"].as_str().expect("a token").to_owned();
    let id = w.wait(async { w.app.new_id() }).expect("an id").to_string();
    let path = format!("/farms/{farm}/visit");
    let form = format!("csrf={csrf}&id={id}&started_at=2026-03-20T07:30:00Z&note=kept");
    let media = "application/x-www-form-urlencoded".to_owned();
    for _ in 0..2 {
        let body = Some((media.clone(), form.clone().into_bytes()));
        let answer = officer.ask("POST", &path, body, &phone).expect(200).json();
        assert_eq!(answer["taken"], json!(true));
    }
    assert_eq!(list(&w, "/v1/visits").iter().filter(|v| v["note"] == json!("kept")).count(), 1);
    // Another content under the same id is not taken, and the phone is told so.
    let body = Some((media.clone(), form.replace("kept", "other").into_bytes()));
    let answer = officer.ask("POST", &path, body, &phone);
    assert_eq!((answer.status, &answer.json()["code"]), (409, &json!("conflict")));
    // A refusal names the fields.
    let other = w.wait(async { w.app.new_id() }).expect("an id").to_string();
    let bad = form.replace(&id, &other) + "&temperature_c=400";
    let answer = officer.ask("POST", &path, Some((media, bad.into_bytes())), &phone);
    assert_eq!(answer.status, 422);
    assert_eq!(answer.json()["errors"][0]["pointer"], json!("/temperature_c"));
    // Photos: each on its own, repeated without harm.
    let photo_id = w.wait(async { w.app.new_id() }).expect("an id").to_string();
    let mut body = Vec::new();
    for (name, value) in
        [("csrf", &csrf), ("id", &photo_id), ("taken_at", &"2026-03-20T07:31:00Z".to_owned())]
    {
        let part =
            format!("--cut\r\ncontent-disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n");
        body.extend(part.into_bytes());
    }
    body.extend(
        *b"--cut\r\ncontent-disposition: form-data; name=\"photo\"; filename=\"p.jpg\"\r\n\r\n",
    );
    body.extend(picture());
    body.extend(*b"\r\n--cut--\r\n");
    let media = "multipart/form-data; boundary=cut".to_owned();
    for _ in 0..2 {
        let body = Some((media.clone(), body.clone()));
        officer.ask("POST", &format!("/visits/{id}/photos"), body, &phone).expect(200);
    }
    assert_eq!(list(&w, &format!("/v1/photos?visit_id={id}")).len(), 1);
    let shown = officer.get(&format!("/photos/{photo_id}")).expect(200);
    assert_eq!(shown.header("content-type"), Some("image/jpeg"));
    // Nobody signed in: told so, not led to a page.
    let mut nobody = Browser::new(&w);
    assert_eq!(nobody.ask("GET", "/phone/token", None, &phone).status, 401);
    let pages = officer.ask("GET", "/phone/pages", None, &phone).expect(200).json();
    for page in pages["pages"].as_array().expect("pages") {
        officer.get(page.as_str().expect("an address")).expect(200);
    }
}

fn events_are_recorded_and_corrected_for_a_member(w: World) {
    let (batch, mut officer) = (w.a.id("batch"), Browser::sign_in(&w, "officer"));
    let path = format!("/batches/{batch}/events");
    let spread = [("event", "spread"), ("at", "2026-03-12T09:00"), ("trays", "2"), ("kg", "")];
    let page = officer.get(&path).expect(200).text;
    let (csrf, id) = (hidden(&page, "csrf"), hidden(&page, "id"));
    let mut form = vec![("csrf", csrf.as_str()), ("id", id.as_str())];
    form.extend(spread);
    for _ in 0..2 {
        assert_eq!(officer.post(&path, &form).status, 303);
    }
    let events = list(&w, &format!("/v1/batch-events?batch_id={batch}"));
    let spread: Vec<&Json> = events.iter().filter(|e| e["event"] == json!("spread")).collect();
    assert_eq!((spread.len(), &spread[0]["trays"]), (1, &json!(2)));
    // A loss without a cause is refused beside its field.
    let lost = [("event", "discarded"), ("at", "2026-03-15T09:00"), ("trays", "1"), ("cause", "")];
    let refused = officer.fill(&path, &path, &lost);
    assert_eq!(refused.status, 422);
    assert!(refused.text.contains("id=\"event-cause-error\""), "{}", refused.text);
    // Correcting: two open the same form; the second is told, and nothing is lost.
    let event = format!("/events/{}", spread[0]["id"].as_str().expect("an id"));
    let page = officer.get(&event).expect(200).text;
    let (csrf, version) = (hidden(&page, "csrf"), hidden(&page, "version"));
    let at = ("at", "2026-03-12T09:00");
    let mut correct = |trays: &str, why: &str| {
        let form = [
            ("csrf", csrf.as_str()),
            ("version", &version),
            at,
            ("trays", trays),
            ("change_reason", why),
        ];
        officer.post(&event, &form)
    };
    assert_eq!(correct("3", "counted again").status, 303);
    assert_eq!(correct("3", "counted again").status, 303, "what stands already is no conflict");
    let stale = correct("4", "counted otherwise");
    assert_eq!(stale.status, 412);
    assert!(stale.text.contains("Somebody has changed this meanwhile"), "{}", stale.text);
    assert!(stale.text.contains("there now: 3") && stale.text.contains("value=\"4\""));
    assert_eq!(hidden(&stale.text, "version"), "2", "saving again is meant for what is there now");
    let id = event.trim_start_matches("/events/");
    let path = format!("/v1/batch-events/{id}/history");
    let history = w.sign_in("officer").get(&path).expect(200).items();
    let path = format!("{event}/withdraw");
    assert_eq!(officer.fill(&event, &path, &[("why", "")]).status, 422);
    let back = officer.fill(&event, &path, &[("why", "it was another batch")]);
    assert_eq!(back.status, 303, "{}", back.text);
    let left = list(&w, &format!("/v1/batch-events?batch_id={batch}"));
    assert!(left.iter().all(|e| e["event"] != json!("spread")), "{left:?}");
    let trays: Vec<&Json> = history.iter().map(|v| &v["record"]["trays"]).collect();
    assert_eq!(trays, [&json!(2), &json!(3)], "{history:?}");
    assert_eq!(history[1]["reason"], json!("counted again"));
}

fn a_batch_is_started_with_its_soak(w: World) {
    let (farm, mut officer) = (w.a.id("farm"), Browser::sign_in(&w, "officer"));
    let path = format!("/farms/{farm}/batch");
    let (shed, cows) = (w.a.id("shed").to_string(), w.a.id("cows").to_string());
    let fields = [
        ("shed_id", shed.as_str()),
        ("animal_group_id", &cows),
        ("crop", "barley"),
        ("at", "2026-03-20T08:00"),
        ("kg", ""),
    ];
    let count = || list(&w, &format!("/v1/batches?farm_id={farm}")).len();
    let before = count();
    let refused = officer.fill(&path, &path, &fields);
    assert_eq!((refused.status, count()), (422, before), "no batch without its soak");
    let mut right = fields;
    right[4].1 = "2,5";
    let made = officer.fill(&path, &path, &right);
    let to = made.header("location").expect("a place").to_owned();
    assert!(officer.get(&to).expect(200).text.contains("in water"));
    assert_eq!(count(), before + 1);
    let mut sorghum = right;
    sorghum[2].1 = "sorghum";
    assert_eq!(officer.fill(&path, &path, &sorghum).status, 422, "sorghum is off");
}

fn a_batch_is_corrected_and_taken_back(w: World) {
    let (farm, mut officer) = (w.a.id("farm"), Browser::sign_in(&w, "officer"));
    let (shed, cows) = (w.a.id("shed").to_string(), w.a.id("cows").to_string());
    let start = format!("/farms/{farm}/batch");
    let fields = [
        ("shed_id", shed.as_str()),
        ("animal_group_id", &cows),
        ("crop", "wheat"),
        ("at", "2026-03-20T08:00"),
        ("kg", "2,5"),
    ];
    let batch = officer.fill(&start, &start, &fields).header("location").expect("made").to_owned();
    let id = batch.trim_start_matches("/batches/");
    let read = || w.sign_in("officer").get(&format!("/v1/batches/{id}")).expect(200).json();
    assert!(officer.get(&batch).expect(200).text.contains(&format!("{batch}/correct")));
    let path = format!("{batch}/correct");
    // Seed of another crop is refused beside the crop, and what was filled in is still there.
    let lot = w.a.id("lot").to_string();
    let refused = officer.fill(&path, &path, &[("seed_lot_id", &lot), ("note", "from the store")]);
    assert_eq!(refused.status, 422, "{}", refused.text);
    assert!(refused.text.contains("id=\"batch-crop-error\""), "{}", refused.text);
    assert!(refused.text.contains("the seed lot is of another crop"), "{}", refused.text);
    assert!(refused.text.contains(">from the store</textarea>"), "{}", refused.text);
    assert_eq!(read()["seed_lot_id"], Json::Null);
    let right = [
        ("seed_lot_id", lot.as_str()),
        ("crop", "barley"),
        ("animal_group_id", ""),
        ("harvest_age_days", "8"),
        ("change_reason", "read the bag again"),
    ];
    let done = officer.fill(&path, &path, &right);
    assert!(done.leads_to(&batch), "{}", done.text);
    let now = read();
    assert_eq!((&now["crop"], &now["seed_lot_id"]), (&json!("barley"), &json!(lot)));
    assert_eq!((&now["animal_group_id"], &now["harvest_age_days"]), (&Json::Null, &json!(8)));
    let path = format!("/v1/batches/{id}/history");
    let history = w.sign_in("officer").get(&path).expect(200).items();
    assert_eq!(history.last().expect("versions")["reason"], json!("read the bag again"));
    // Seed that the soak took is that of the other lot now.
    let stock = |lot: &str| {
        let rows = w.sign_in("officer").get("/v1/seed-stock").expect(200).items();
        let of =
            rows.iter().find(|r| r["seed_lot_id"] == json!(lot) && r["farm_id"] == json!(farm));
        of.and_then(|r| r["stock_kg"].as_f64()).unwrap_or(0.0)
    };
    let before = stock(&lot);
    // Taken back with its soak: not without a reason; then neither is there, and the seed is back.
    let (form, path) = (format!("{batch}/correct"), format!("{batch}/withdraw"));
    assert_eq!(officer.fill(&form, &path, &[("why", "")]).status, 422);
    let long = "x".repeat(501);
    let refused = officer.fill(&form, &path, &[("why", &long)]);
    assert!(refused.text.contains("id=\"withdraw-why-error\""), "{}", refused.text);
    // A member asks for a correction of it, and records what happened while the form is open.
    let mut member = Browser::sign_in(&w, "member");
    let ask = format!("/ask?farm={farm}&batch_id={id}");
    let asked = [("about", "batch"), ("wish", "It stands in the other shed.")];
    assert_eq!(member.fill(&ask, "/ask", &asked).status, 303);
    let wishes = || list(&w, &format!("/v1/correction-requests?batch_id={id}")).len();
    assert_eq!(wishes(), 1);
    let page = officer.get(&form).expect(200).text;
    let (csrf, seen) = (hidden(&page, "csrf"), hidden(&page, "events"));
    let events = format!("{batch}/events");
    let spread = [("event", "spread"), ("at", "2026-03-20T09:00"), ("trays", "2")];
    assert_eq!(member.fill(&events, &events, &spread).status, 303);
    let version = hidden(&page, "version");
    let old = [
        ("csrf", csrf.as_str()),
        ("version", &version),
        ("events", &seen),
        ("why", "it was the other shed"),
    ];
    assert_eq!(officer.post(&path, &old).status, 412, "what was recorded since is not taken along");
    let back = officer.fill(&form, &path, &[("why", "it was the other shed")]);
    assert_eq!(wishes(), 0, "the wish falls with it");
    assert!(back.leads_to(&format!("/farms/{farm}")), "{}", back.text);
    assert!(list(&w, &format!("/v1/batch-events?batch_id={id}")).is_empty());
    assert!(list(&w, &format!("/v1/batches?farm_id={farm}")).iter().all(|b| b["id"] != json!(id)));
    let page = officer.get(&form).expect(200).text;
    assert!(page.contains("taken back") && !page.contains("name=\"why\""), "{page}");
    assert!((stock(&lot) - before - 2.5).abs() < 1e-9, "{before} and then {}", stock(&lot));
}

/// The evidence of a flag is the officer's: a member whose batch raised one can not make both vanish.
fn a_flagged_batch_is_not_a_members_to_take_back(w: World) {
    let body = json!({ "shed_id": w.a.id("shed"), "crop": "barley" });
    let batch = w.make(&w.a, Kind::Batch, body);
    let (form, path) = (format!("/batches/{batch}/correct"), format!("/batches/{batch}/withdraw"));
    let flag = json!({ "farm_id": w.a.id("farm"), "batch_id": batch, "raised_on": "2026-03-20",
        "points_at": "farm", "evidence": "batch after batch spoils" });
    w.make(&w.a, Kind::Flag, flag);
    let why = [("why", "nothing happened")];
    let mut member = Browser::sign_in(&w, "member");
    let refused = member.fill(&form, &path, &why);
    assert_eq!(refused.status, 409, "{}", refused.text);
    assert!(refused.text.contains("ask your officer"), "{}", refused.text);
    assert_eq!(list(&w, "/v1/flags").len(), 1);
    assert_eq!(Browser::sign_in(&w, "officer").fill(&form, &path, &why).status, 303);
    assert_eq!(list(&w, "/v1/flags").len(), 0, "it falls with the batch");
}

fn a_farm_is_registered_with_its_animals_and_shows_its_plan(w: World) {
    let mut officer = Browser::sign_in(&w, "officer");
    let (area, feed) = (w.a.id("sub_area").to_string(), w.a.id("feed").to_string());
    let bran = w.make(&w.a, Kind::Feed, json!({ "name": "Wheat bran" })).to_string();
    let fields = [
        ("number", "M77"),
        ("name", "Neema Mfano"),
        ("sex", "female"),
        ("language", "sw"),
        ("consent", "true"),
        ("code", "F77"),
        ("area_id", &area),
        ("fodder_started_on", "2026-03-21"),
        ("shed-code", "S77"),
        ("shed-tray_places", "6"),
        ("group-1-animal_class", "dairy_cows"),
        ("group-1-head", "1"),
        ("group-1-ration-1-feed_id", &feed),
        ("group-1-ration-1-kg_per_animal_day", "4"),
        ("group-1-ration-2-feed_id", &bran),
        ("group-1-ration-2-kg_per_animal_day", "1,5"),
    ];
    let mut twice = fields;
    twice[5].1 = "F1";
    let refused = officer.fill("/farms/new", "/farms/new", &twice);
    assert_eq!(refused.status, 422, "{}", refused.text);
    assert!(list(&w, "/v1/members?q=M77").is_empty(), "no member is left behind");
    // What can not be recorded without the rest is not dropped.
    let refused = |officer: &mut Browser, part: &[(&str, &str)], at: &str| {
        let refused = officer.fill("/farms/new", "/farms/new", part);
        let error = format!("farm-{at}-error");
        assert!(refused.status == 422 && refused.text.contains(&error), "{at}: {}", refused.text);
    };
    for without in ["group-1-animal_class", "group-1-ration-1-kg_per_animal_day"] {
        let mut part = fields.to_vec();
        part.retain(|(name, _)| *name != without);
        refused(&mut officer, &part, without);
    }
    // What breaks a rule stands beside its own field.
    for wrong in ["shed-tray_places", "group-1-head", "group-1-ration-1-kg_per_animal_day"] {
        let mut part = fields.to_vec();
        part.iter_mut().filter(|(name, _)| *name == wrong).for_each(|f| f.1 = "many");
        refused(&mut officer, &part, wrong);
    }
    // The codes of groups follow from the farm's: one that gets too long is told of there.
    let mut part = fields.to_vec();
    let long = "F".repeat(39);
    part.iter_mut().filter(|(name, _)| *name == "code").for_each(|f| f.1 = &long);
    refused(&mut officer, &part, "code");
    let made = officer.fill("/farms/new", "/farms/new", &fields);
    let to = made.header("location").unwrap_or_else(|| panic!("{}", made.text)).to_owned();
    // Common practice, no source: one cow, one tray a day, six places.
    let plan = officer.get(&to).expect(200).text;
    for part in [
        "<dt>Trays a day</dt><dd>1</dd>",
        "<dt>Shelf places needed</dt><dd>6</dd>",
        "First feed on",
    ] {
        assert!(plan.contains(part), "{part}: {plan}");
    }
    let farm = to.split('/').nth(2).expect("an id").to_owned();
    let rations = list(&w, &format!("/v1/baseline-rations?farm_id={farm}"));
    assert_eq!(rations.len(), 2, "every feed of the ration is taken");
    // A form that names nothing by a code: the server makes the next of each pattern, once.
    let page = officer.get("/farms/new").expect(200).text;
    let (csrf, id) = (hidden(&page, "csrf"), hidden(&page, "id"));
    let joined = ("joined_on", "2026-03-20");
    let mut unnamed = vec![("csrf", csrf.as_str()), ("id", id.as_str()), joined];
    unnamed.extend(fields.iter().filter(|(n, _)| !n.ends_with("code") && *n != "number"));
    for _ in 0..2 {
        let made = officer.post("/farms/new", &unnamed);
        assert_eq!(made.status, 303, "{}", made.text);
    }
    let made = w.sign_in("officer").get(&format!("/v1/farms/{id}")).expect(200).json();
    assert_eq!(made["code"], "F78");
    let member = made["member_id"].as_str().expect("an id");
    let member = w.sign_in("officer").get(&format!("/v1/members/{member}")).expect(200).json();
    assert_eq!(member["number"], "M78");
    let of = |path: &str| list(&w, &format!("/v1/{path}?farm_id={id}"))[0]["code"].clone();
    assert_eq!((of("sheds"), of("animal-groups")), (json!("F78-S1"), json!("F78-1")));
    let animals = format!("/farms/{farm}/animals");
    // Later than the first count: of two made in one instant either may come first.
    w.clock.set(traybook_domain::value::Instant(w.app.now().0 + 60_000));
    let counted = officer.fill(
        &animals,
        &animals,
        &[
            (
                "animal_group_id",
                list(&w, &format!("/v1/animal-groups?farm_id={farm}"))[0]["id"]
                    .as_str()
                    .expect("an id"),
            ),
            ("reason", "bought"),
            ("head", "2"),
        ],
    );
    assert_eq!(counted.status, 303, "{}", counted.text);
    w.clock.set(traybook_domain::time::parse_instant("2026-03-21T06:00:00Z").expect("an instant"));
    assert!(officer.get(&format!("/farms/{farm}")).expect(200).text.contains("Neema Mfano"));
    let sheet = officer.get(&format!("/farms/{farm}/sheet")).expect(200);
    // The shed has places for one cow: a tray a day, not three on one day and none on the next.
    assert!(sheet.text.contains("F77") && sheet.text.contains("soak 2 kg"), "{}", sheet.text);
    let plan = officer.get(&format!("/farms/{farm}/plan")).expect(200).text;
    assert!(plan.contains("12 of the places needed are missing"), "{plan}");
    let policy = sheet.header("content-security-policy").expect("a policy");
    assert!(policy.contains("style-src 'sha256-"), "{policy}");
}

fn an_officer_stays_within_the_own_areas(w: World) {
    let mut officer = Browser::sign_in(&w, "officer");
    let other = w.a.id("other_farm");
    for page in ["", "/visit", "/plan", "/batch", "/animals", "/labels", "/calendar"] {
        assert_eq!(officer.get(&format!("/farms/{other}{page}")).status, 404, "{page}");
    }
    let farms = officer.get("/farms").expect(200).text;
    assert!(farms.contains("· F1<") && !farms.contains("· F2<"), "{farms}");
    // A form to the own farm's address can not reach another one's.
    let farm = w.a.id("farm");
    let path = format!("/farms/{farm}/visit");
    let csrf = hidden(&officer.get(&path).expect(200).text, "csrf");
    let form = [("csrf", csrf.as_str()), ("started_at", "2026-03-20T10:30")];
    assert_eq!(officer.post(&format!("/farms/{other}/visit"), &form).status, 404);
    for path in ["/people", "/import", "/totals", "/close"] {
        assert_eq!(officer.get(path).status, 403, "{path}");
    }
}

fn labels_open_the_right_page(w: World) {
    w.make(
        &w.a,
        Kind::BatchEvent,
        json!({ "batch_id": w.a.id("batch"), "event": "watered", "at": "2026-03-18T05:00:00Z" }),
    );
    let mut officer = Browser::sign_in(&w, "officer");
    let page = officer.get(&format!("/farms/{}/labels", w.a.id("farm"))).expect(200).text;
    assert_eq!(page.matches("<figcaption>").count(), page.matches("<svg").count());
    assert!(page.contains("F1-S1") && page.contains("batch B1"), "{page}");
    let shed = officer.get(&format!("/sheds/{}", w.a.id("shed")));
    let to = shed.header("location").expect("a place").to_owned();
    assert!(to.starts_with(&format!("/farms/{}#shed-", w.a.id("farm"))), "{to}");
}

fn a_calendar_address_is_shown_once_and_ends(w: World) {
    let (mut member, mut officer) =
        (Browser::sign_in(&w, "member"), Browser::sign_in(&w, "officer"));
    let path = format!("/farms/{}/calendar", w.a.id("farm"));
    let page = member.get(&path).expect(200).text;
    let made = member.fill_in(&page, &path, &[]).expect(200).text;
    // Loading the page again sends its form again: that makes no other address.
    let again = member.fill_in(&page, &path, &[]).expect(200).text;
    assert!(again.contains("shown once") && !again.contains("<svg"), "{again}");
    assert_eq!(again.matches("End the address of").count(), 1, "{again}");
    let secret = made.split("/calendar/").nth(1).expect("an address");
    let secret: String = secret.chars().take_while(|c| !c.is_whitespace() && *c != '<').collect();
    assert!(made.contains("shown once") && made.contains("<svg"), "{made}");
    // A calendar program signs in nowhere.
    let events = w.nobody.get(&format!("/calendar/{secret}")).expect(200);
    assert!(events.text.starts_with("BEGIN:VCALENDAR"), "{}", events.text);
    // The officer sees that there is one, not where, and ends it.
    let page = officer.get(&path).expect(200).text;
    assert!(page.contains("End the address of") && !page.contains(&secret), "{page}");
    let end = page.split(&format!("{path}/")).nth(1).expect("a form");
    let end: String = end.chars().take_while(|c| *c != '"').collect();
    let csrf = hidden(&page, "csrf");
    assert_eq!(officer.post(&format!("{path}/{end}"), &[("csrf", csrf.as_str())]).status, 303);
    assert_eq!(w.nobody.get(&format!("/calendar/{secret}")).status, 404);
    assert_eq!(officer.post(&format!("{path}/{end}"), &[("csrf", csrf.as_str())]).status, 404);
    // As many as there may be, and one more is refused in place.
    let refused = (0..=traybook_domain::limits::CALENDAR_LINKS_MAX).map(|_| {
        let csrf = hidden(&member.get(&path).expect(200).text, "csrf");
        member.post(&path, &[("csrf", csrf.as_str())])
    });
    let last = refused.last().expect("one");
    assert_eq!(last.status, 409);
    assert!(last.text.contains("revoke one first"), "{}", last.text);
}

/// The page holds six farms: those with the most that is late, in the order of the list. Each has its
/// most pressing line; the others are one tap away.
fn today_tells_the_farms_with_most_that_is_late(w: World) {
    for n in 1..=12 {
        let (farm, shed, cows) = crate::work::farm(&w, &format!("L{n:02}"));
        // Some have seed in soak that should have been spread, one in two sheds' worth.
        for at in ["2026-03-17T04:00:00Z", "2026-03-18T04:00:00Z"].iter().take(n % 3) {
            let batch = json!({ "shed_id": shed, "crop": "barley", "animal_group_id": cows });
            let batch = w.make(&w.a, Kind::Batch, batch);
            let soak = json!({ "batch_id": batch, "event": "soaked", "at": at, "kg": 2 });
            w.make(&w.a, Kind::BatchEvent, soak);
        }
        assert_ne!(farm, w.a.id("farm"));
    }
    let manager = crate::work::at(&w, "2026-03-20T12:00", "manager");
    let mut list: Vec<(usize, String)> = manager.get("/v1/work").expect(200).json()["farms"]
        .as_array()
        .expect("farms")
        .iter()
        .map(|f| {
            let lines = f["lines"].as_array().expect("lines");
            let late = lines.iter().filter(|l| l["state"] == "late").count();
            (late, f["farm"].as_str().expect("a code").to_owned())
        })
        .collect();
    list.sort_by_key(|(late, _)| std::cmp::Reverse(*late));
    assert!(list.len() > 6 && list[0].0 > list[6].0, "{list:?}");
    let page = Browser::sign_in(&w, "manager").get("/today").expect(200).text;
    let place = |code: &str| page.find(&format!("{code} · "));
    let shown: Vec<Option<usize>> = list.iter().take(6).map(|(_, code)| place(code)).collect();
    assert!(shown.iter().all(Option::is_some) && shown.is_sorted(), "{list:?} {shown:?} {page}");
    assert!(list.iter().skip(6).all(|(_, code)| place(code).is_none()), "{list:?} {page}");
    assert!(page.contains(&format!("{} more farms", list.len() - 6)), "{page}");
    assert_eq!(page.matches("name=\"line\"").count(), 6, "{page}");
    let rest = page.split("href=\"/today?farm_id=").nth(1).and_then(|at| at.get(..36));
    let rest = rest.expect("a way to the other lines");
    let own = Browser::sign_in(&w, "manager").page(&format!("/today?farm_id={rest}"));
    assert!(own.matches("name=\"line\"").count() > 1, "{own}");
}
