//! Finding farms, inviting people, a lost telephone, and the farms to call when a lot is bad.

use acceptance::browser::Browser;
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_domain::Kind;

both!(
    farms_are_found_by_what_people_know,
    members_are_invited_on_one_sheet,
    an_older_code_ends_with_a_newer_one,
    a_lost_telephone_is_closed_at_once,
    codes_are_not_guessed,
    the_last_manager_and_the_operator_stay,
    a_lot_shows_the_farms_to_call,
);

/// A farm of a new member.
fn register(w: &World, number: &str, name: &str, phone: Option<&str>) -> (String, String) {
    let area = w.a.id("sub_area");
    let mut member = json!({ "number": number, "name": name, "area_id": area, "sex": "female",
        "language": "sw", "joined_on": "2026-01-01", "consent": true, "consent_on": "2026-01-01" });
    if let Some(phone) = phone {
        member["phone"] = json!(phone);
    }
    let member = w.make(&w.a, Kind::Member, member);
    let farm = json!({ "code": format!("F{number}"), "member_id": member, "area_id": area });
    (w.make(&w.a, Kind::Farm, farm).to_string(), member.to_string())
}

fn farms_are_found_by_what_people_know(w: World) {
    let (neema, _) = register(&w, "K77", "Neema Ólafur", Some("+255 712 000 111"));
    let (zawadi, _) = register(&w, "K78", "Zawadi Mfano", None);
    let mut officer = Browser::sign_in(&w, "officer");
    let find = |officer: &mut Browser, q: &str| {
        let page = officer.get(&format!("/farms?q={q}")).expect(200).text;
        (page.contains(&format!("/farms/{neema}\"")), page.contains(&format!("/farms/{zawadi}\"")))
    };
    for q in ["neema", "K77", "FK77", "0712000111", "712+000", "%2B255712000111"] {
        assert_eq!(find(&mut officer, q), (true, false), "{q}");
    }
    assert_eq!(find(&mut officer, "Mfano"), (false, true));
    assert_eq!(find(&mut officer, "%25"), (false, false), "a sign is no pattern");
    let page = officer.get("/farms").expect(200).text;
    let at = |name: &str| page.find(name).unwrap_or_else(|| panic!("{name}: {page}"));
    assert!(at("Neema") < at("Zawadi"), "by name");
    assert!(page.contains("href=\"tel:+255712000111\""), "a tap calls");
    // Another officer's areas and another co-operative are not there.
    let mut other = Browser::sign_in_as(&w, "officer.b@coop.example");
    assert_eq!(find(&mut other, "neema"), (false, false));
}

fn codes(page: &str) -> Vec<String> {
    let parts = page.split("/invitation?code=").skip(1);
    parts.filter_map(|p| p.split(['"', '<', ' ']).next()).map(str::to_owned).collect()
}

/// The codes that a page says: the co-operative's number, then two halves.
fn said_codes(page: &str) -> Vec<String> {
    let is_sign = |c: char| c == '-' || c.is_ascii_uppercase() || c.is_ascii_digit();
    let read = |part: &str| part.chars().take_while(|c| is_sign(*c)).collect::<String>();
    let codes = page.split("Code ").skip(1).map(read);
    codes.filter(|c| c.split('-').map(str::len).eq([1, 5, 5])).collect()
}

fn members_are_invited_on_one_sheet(w: World) {
    register(&w, "K77", "Neema Mfano", Some("+255 712 000 111"));
    register(&w, "K78", "Zawadi Mfano", None);
    let mut manager = Browser::sign_in(&w, "manager");
    let path = "/people/invitations";
    let page = manager.fill(path, path, &[]).expect(200).text;
    assert!(page.contains("Neema Mfano") && page.contains("<svg"), "{page}");
    assert!(page.contains("Without a telephone number") && page.contains("Zawadi Mfano"), "{page}");
    let at = page.find("Neema Mfano").expect("a piece");
    let code = said_codes(&page[at..])[0].clone();
    // It is typed as it was read out, and the member signs in with the telephone number.
    let spoken = code.to_lowercase().replace('-', " ");
    let mut member = Browser::new(&w);
    let set = [("code", spoken.as_str()), ("password", "840271")];
    let done = member.post("/invitation", &set);
    assert_eq!(done.header("location"), Some("/sign-in?ready=1"), "{}", done.text);
    let login = [("login", "0712000111"), ("password", "840271")];
    let international = [("login", "+255712000111"), ("password", "840271")];
    let is_in = member.post("/sign-in", &international).status == 303;
    assert!(is_in || member.post("/sign-in", &login).status == 303);
    // Who has a password is not on the next sheet.
    let next = manager.fill(path, path, &[]).expect(200).text;
    assert!(!next.contains("Neema Mfano"), "{next}");
    // Officers do not invite.
    let mut officer = Browser::sign_in(&w, "officer");
    assert_eq!(officer.get(path).status, 403);
}

fn invite(w: &World, person: &str) -> String {
    let path = format!("/v1/people/{person}/invitations");
    let made = w.sign_in("manager").send("POST", &path, &[], None).expect(201).json();
    made["code"].as_str().expect("a code").to_owned()
}

fn accept(w: &World, code: &str, password: &str) -> u16 {
    let body = json!({ "code": code, "password": password });
    w.nobody.post("/v1/session/invitation", &body).status
}

fn an_older_code_ends_with_a_newer_one(w: World) {
    let person = w.a.id("member_person").to_string();
    let (first, second) = (invite(&w, &person), invite(&w, &person));
    assert_eq!(accept(&w, &first, "840271"), 422, "the older code ended");
    assert_eq!(accept(&w, &second, "840271"), 204);
    // One that was made before the person was made inactive opens nothing.
    let third = invite(&w, &person);
    let manager = w.sign_in("manager");
    let path = format!("/v1/people/{person}");
    let etag = manager.get(&path).expect(200).header("etag").expect("a tag").to_owned();
    manager.patch(&path, &etag, &json!({ "active": false })).expect(200);
    assert_eq!(accept(&w, &third, "840272"), 422);
}

fn a_lost_telephone_is_closed_at_once(w: World) {
    let mut lost = Browser::sign_in(&w, "member");
    let api = w.sign_in("member");
    lost.get("/today").expect(200);
    let person = w.a.id("member_person").to_string();
    let mut manager = Browser::sign_in(&w, "manager");
    let page = format!("/people/{person}");
    let done = manager.fill(&page, &format!("{page}/lost"), &[]).expect(200).text;
    let code = codes(&done)[0].clone();
    assert!(lost.get("/today").header("location").is_some_and(|to| to.starts_with("/sign-in")));
    api.get("/v1/batches").expect(401);
    assert_eq!(accept(&w, &code, "840271"), 204, "the new code opens a new telephone");
}

fn codes_are_not_guessed(w: World) {
    let person = w.a.id("member_person").to_string();
    let code = invite(&w, &person);
    let mut last = 0;
    for n in 0..40 {
        last = accept(&w, &format!("AAAAA-AAA{:02}", n % 100), "840271");
    }
    assert_eq!(last, 429, "tries of an address are counted");
    assert_eq!(accept(&w, &code, "840271"), 429);
    w.clock.set(traybook_domain::value::Instant(w.app.now().0 + 3_600_000));
    assert_eq!(accept(&w, &code, "840271"), 204, "and forgotten after a while");
}

fn a_lot_shows_the_farms_to_call(w: World) {
    let lot = w.a.id("lot").to_string();
    let mut manager = Browser::sign_in(&w, "manager");
    let page = manager.get(&format!("/lots/{lot}")).expect(200).text;
    let at = page.find("Farms that had this lot").expect("the list");
    assert!(at < page.find("lot-trace").unwrap_or(usize::MAX));
    let csv = manager.get(&format!("/lots/{lot}/farms.csv")).expect(200).text;
    let mut lines = csv.lines();
    assert_eq!(lines.next(), Some("farm,member,phone,got_kg,left_kg,batches_growing,animals_fed"));
    let own: Vec<&str> = lines.next().expect("a farm").split(',').collect();
    let trace = w.sign_in("manager").get(&format!("/v1/seed-lots/{lot}/trace")).expect(200).json();
    let farm: &Json = &trace["farms"][0];
    assert_eq!(own[0], farm["farm"].as_str().expect("a code"));
    assert_eq!(own[3].parse::<f64>().ok(), farm["issued_kg"].as_f64());
    assert!(own[5].parse::<usize>().expect("batches") > 0, "{csv}");
    let mut other = Browser::sign_in_as(&w, "manager.b@coop.example");
    assert_eq!(other.get(&format!("/lots/{lot}/farms.csv")).status, 404);
}

fn the_last_manager_and_the_operator_stay(w: World) {
    let manager = w.sign_in("manager");
    let people = manager.get("/v1/people?limit=200").expect(200).items();
    let of = |role: &str| {
        let found = people.iter().find(|p| p["role"] == role && p["active"] == json!(true));
        let path =
            format!("/v1/people/{}", found.expect("a person")["id"].as_str().expect("an id"));
        (path.clone(), manager.get(&path).expect(200).header("etag").expect("a tag").to_owned())
    };
    let ((operator, operator_tag), (own, own_tag)) = (of("operator"), of("manager"));
    let remove = |who: &str, path: &str, tag: &str| {
        w.sign_in(who).send("DELETE", path, &[("if-match", tag)], None).status
    };
    assert_eq!(remove("manager", &operator, &operator_tag), 403, "an operator is an operator's");
    assert_eq!(remove("operator", &operator, &operator_tag), 409, "the last operator stays");
    assert_eq!(remove("operator", &own, &own_tag), 409, "and the last manager");
    assert_eq!(remove("manager", &own, &own_tag), 409);
    // Nor by another door: made inactive, or given another role.
    for patch in [json!({ "active": false }), json!({ "role": "officer" })] {
        assert_eq!(manager.patch(&own, &own_tag, &patch).status, 409, "{patch}");
    }
    let id = own.trim_start_matches("/v1/people/");
    let queue = json!({ "mutations": [
        { "operation": "withdraw", "kind": "person", "id": id, "version": 1 },
        { "operation": "correct", "kind": "person", "id": id, "version": 1,
          "body": { "active": false } },
    ] });
    let sent = manager.post("/v1/sync", &queue).expect(200).json();
    let results = sent["results"].as_array().expect("results");
    assert!(results.iter().all(|r| r["status"] != "done"), "{sent}");
    let kept = w.sign_in("manager").get(&own).expect(200).json();
    assert_eq!((&kept["active"], &kept["withdrawn_at"]), (&json!(true), &Json::Null));
    // With a second one the first may go.
    let second = json!({ "code": "second", "name": "Second", "email": "second@coop.example",
        "language": "en", "role": "manager", "active": true });
    manager.post("/v1/people", &second).expect(201);
    assert_eq!(remove("operator", &own, &own_tag), 204);
}
