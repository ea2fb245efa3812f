//! Signing in and out.

use acceptance::world::PASSWORD;
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_domain::Kind;
use traybook_domain::limits::REFRESH_GRACE_MS;
use traybook_domain::time::Clock as _;
use traybook_domain::value::Instant;

both!(
    refresh_tokens_rotate_and_a_copied_one_ends_the_sign_in,
    a_lost_refresh_answer_signs_nobody_out,
    access_tokens_end,
    sign_in_tells_nothing_and_tires_guessers,
    an_invitation_sets_a_password_once,
    a_member_signs_in_with_a_pin,
    a_person_of_two_cooperatives_chooses_one,
    no_cooperative_reaches_into_another_by_a_login,
    a_login_is_one_persons_and_its_change_ends_sign_ins,
    many_guesses_at_once_are_not_more_than_in_turn,
    inactive_people_are_out_at_once,
    a_new_cooperative_can_be_used_at_once
);

fn sign_in(w: &World, login: &str, password: &str) -> acceptance::Answer {
    w.nobody.post("/v1/session", &json!({ "login": login, "password": password }))
}

fn text(json: &Json, name: &str) -> String {
    json[name].as_str().unwrap_or_default().to_owned()
}

fn refresh_tokens_rotate_and_a_copied_one_ends_the_sign_in(w: World) {
    let first = sign_in(&w, "Manager.A@coop.example", PASSWORD).expect(201).json();
    let refresh =
        |token: &str| w.nobody.post("/v1/session/refresh", &json!({ "refresh_token": token }));
    let second = refresh(&text(&first, "refresh_token")).expect(201).json();
    let client = w.nobody.with_token(&text(&second, "access_token"));
    client.get("/v1/session").expect(200);
    assert_ne!(first["refresh_token"], second["refresh_token"]);
    // The first token comes again: somebody has copied it. All tokens of the sign-in end.
    w.clock.set(Instant(w.clock.now().0 + REFRESH_GRACE_MS));
    refresh(&text(&first, "refresh_token")).expect(401);
    refresh(&text(&second, "refresh_token")).expect(401);
    client.get("/v1/session").expect(401);
    let third = sign_in(&w, "manager.a@coop.example", PASSWORD).expect(201).json();
    let client = w.nobody.with_token(&text(&third, "access_token"));
    client.send("DELETE", "/v1/session", &[], None).expect(204);
    client.get("/v1/session").expect(401);
    refresh(&text(&third, "refresh_token")).expect(401);
}

fn a_lost_refresh_answer_signs_nobody_out(w: World) {
    let first = sign_in(&w, "manager.a@coop.example", PASSWORD).expect(201).json();
    let refresh =
        |token: &str| w.nobody.post("/v1/session/refresh", &json!({ "refresh_token": token }));
    let later = |ms: i64| w.clock.set(Instant(w.clock.now().0 + ms));
    let lost = refresh(&text(&first, "refresh_token")).expect(201).json();
    later(REFRESH_GRACE_MS / 2);
    // Asked again twice: two answers were lost.
    let lost_too = refresh(&text(&first, "refresh_token")).expect(201).json();
    let next = refresh(&text(&first, "refresh_token")).expect(201).json();
    later(REFRESH_GRACE_MS);
    let client = w.nobody.with_token(&text(&next, "access_token"));
    client.get("/v1/session").expect(200);
    let next = refresh(&text(&next, "refresh_token")).expect(201).json();
    // Whoever has the token of a lost answer has copied it.
    later(REFRESH_GRACE_MS);
    refresh(&text(&lost, "refresh_token")).expect(401);
    client.get("/v1/session").expect(401);
    for gone in [&lost_too, &next] {
        refresh(&text(gone, "refresh_token")).expect(401);
    }
    // Once the next token was used, the one before it has no grace.
    let first = sign_in(&w, "manager.a@coop.example", PASSWORD).expect(201).json();
    let second = refresh(&text(&first, "refresh_token")).expect(201).json();
    later(1);
    let third = refresh(&text(&second, "refresh_token")).expect(201).json();
    refresh(&text(&first, "refresh_token")).expect(401);
    refresh(&text(&third, "refresh_token")).expect(401);
}

fn access_tokens_end(w: World) {
    let manager = w.sign_in("manager");
    let now = w.clock.now().0;
    w.clock.set(Instant(now + 15 * 60 * 1000 - 1000));
    manager.get("/v1/session").expect(200);
    w.clock.set(Instant(now + 15 * 60 * 1000));
    manager.get("/v1/session").expect(401);
}

fn sign_in_tells_nothing_and_tires_guessers(w: World) {
    let wrong = sign_in(&w, "manager.a@coop.example", "not the password").expect(401).json();
    let unknown = sign_in(&w, "nobody@coop.example", "not the password").expect(401).json();
    let plain = |mut j: Json| {
        j["request_id"] = Json::Null;
        j
    };
    assert_eq!(plain(wrong), plain(unknown));
    for _ in 0..8 {
        sign_in(&w, "manager.a@coop.example", "not the password").expect(401);
    }
    let tired = sign_in(&w, "manager.a@coop.example", PASSWORD).expect(429);
    let seconds: i64 = tired.header("retry-after").expect("Retry-After").parse().expect("seconds");
    w.clock.set(Instant(w.clock.now().0 + seconds * 1000));
    sign_in(&w, "manager.a@coop.example", PASSWORD).expect(201);
}

fn an_invitation_sets_a_password_once(w: World) {
    let manager = w.sign_in("manager");
    let person = json!({ "code": "o2", "name": "Officer two", "phone": "+255 700-000 002",
        "language": "sw", "role": "officer", "active": true });
    let id = text(&manager.post("/v1/people", &person).expect(201).json(), "id");
    let path = format!("/v1/people/{id}/invitations");
    let code = text(&manager.send("POST", &path, &[], None).expect(201).json(), "code");
    let accept = |code: &str, password: &str| {
        w.nobody.post("/v1/session/invitation", &json!({ "code": code, "password": password }))
    };
    assert_eq!(accept(&code, "password123").expect(422).errors()[0].1, "common");
    accept(&code, "river basket seven").expect(204);
    assert_eq!(accept(&code, "river basket eight").expect(422).errors()[0].1, "unknown_code");
    assert_eq!(accept("guess", "river basket eight").expect(422).errors()[0].1, "unknown_code");
    let session = sign_in(&w, "+255700000002", "river basket seven").expect(201).json();
    assert_eq!(session["session"]["role"], "officer");
    // A second code: the old password and its sign-ins end.
    let code = text(&manager.send("POST", &path, &[], None).expect(201).json(), "code");
    accept(&code, "river basket eight").expect(204);
    sign_in(&w, "+255700000002", "river basket seven").expect(401);
    w.nobody.with_token(&text(&session, "access_token")).get("/v1/session").expect(401);
    // Only an operator makes operators.
    let operator = json!({ "code": "op2", "name": "x", "email": "op2@coop.example",
        "language": "en", "role": "operator", "active": true });
    let refused = manager.post("/v1/people", &operator).expect(422);
    assert_eq!(refused.errors(), [("/role".to_owned(), "outside_reach".to_owned())]);
    w.sign_in("operator").post("/v1/people", &operator).expect(201);
}

fn a_member_signs_in_with_a_pin(w: World) {
    let manager = w.sign_in("manager");
    let person = w.a.id("member_person");
    let code = || {
        let path = format!("/v1/people/{person}/invitations");
        text(&manager.send("POST", &path, &[], None).expect(201).json(), "code")
    };
    let accept = |code: &str, pin: &str| {
        w.nobody.post("/v1/session/invitation", &json!({ "code": code, "password": pin }))
    };
    let first = code();
    assert_eq!(accept(&first, "123456").expect(422).errors()[0].1, "common");
    assert_eq!(accept(&first, "84027").expect(422).errors()[0].1, "length");
    accept(&first, "840271").expect(204);
    sign_in(&w, "member.a@coop.example", "840271").expect(201);
    for _ in 0..10 {
        sign_in(&w, "member.a@coop.example", "840272").expect(401);
    }
    sign_in(&w, "member.a@coop.example", "840271").expect(429);
}

/// Somebody of the second co-operative with the login of the first one's manager.
fn second_membership(w: &World, role: &str, password: &str) -> uuid::Uuid {
    let person = json!({ "code": "guest", "name": "Guest", "email": "manager.a@coop.example",
        "language": "en", "role": role, "active": true });
    let id = w.make(&w.b, Kind::Person, person);
    let machine = traybook_app::Actor::machine(w.b.coop.clone());
    w.wait(w.app.set_password(&machine, id, password.to_owned())).expect("password");
    id
}

fn a_person_of_two_cooperatives_chooses_one(w: World) {
    second_membership(&w, "programme_reader", PASSWORD);
    let refused = sign_in(&w, "manager.a@coop.example", PASSWORD).expect(409);
    assert_eq!(refused.json()["conflict"], "choose_cooperative");
    let choose = |id: uuid::Uuid| {
        let body = json!({ "login": "manager.a@coop.example", "password": PASSWORD,
            "cooperative_id": id });
        w.nobody.post("/v1/session", &body)
    };
    assert_eq!(choose(w.a.id("cooperative")).expect(201).json()["session"]["role"], "manager");
    let b = choose(w.b.id("cooperative")).expect(201).json();
    assert_eq!(b["session"]["role"], "programme_reader");
    choose(w.a.id("farm")).expect(401);
    let reader = w.nobody.with_token(&text(&b, "access_token"));
    let totals = reader.get("/v1/programme-totals?month=2026-02&by=sex").expect(200).json();
    // Two members are fewer than five: nothing of them is shown.
    let group = &totals["cooperatives"][0]["groups"][0];
    assert_eq!((&group["is_hidden"], group.get("members")), (&json!(true), None));
    reader.get("/v1/members").expect(403);
}

fn no_cooperative_reaches_into_another_by_a_login(w: World) {
    // The second co-operative gives the same login a password of its own: it opens only that one.
    second_membership(&w, "manager", "stolen account words");
    let enter = |password: &str, cooperative: uuid::Uuid| {
        let body = json!({ "login": "manager.a@coop.example", "password": password,
            "cooperative_id": cooperative });
        w.nobody.post("/v1/session", &body)
    };
    enter("stolen account words", w.a.id("cooperative")).expect(401);
    enter(PASSWORD, w.b.id("cooperative")).expect(401);
    let plain = |password: &str| sign_in(&w, "manager.a@coop.example", password).expect(201).json();
    assert_eq!(plain(PASSWORD)["session"]["cooperative_id"], json!(w.a.id("cooperative")));
    let other = plain("stolen account words");
    assert_eq!(other["session"]["cooperative_id"], json!(w.b.id("cooperative")));
    // A reader's totals reach only where the same password opens a reader.
    let reader = json!({ "code": "r2", "name": "R", "email": "programme_reader.a@coop.example",
        "language": "en", "role": "programme_reader", "active": true });
    let id = w.make(&w.b, Kind::Person, reader);
    let machine = traybook_app::Actor::machine(w.b.coop.clone());
    let totals = |password: &str| {
        let session = w.nobody.post(
            "/v1/session",
            &json!({ "cooperative_id": w.b.id("cooperative"),
            "login": "programme_reader.a@coop.example", "password": password }),
        );
        let token = text(&session.expect(201).json(), "access_token");
        let path = "/v1/programme-totals?month=2026-02&by=cooperative";
        let all = w.nobody.with_token(&token).get(path).expect(200).json();
        all["cooperatives"].as_array().map_or(0, Vec::len)
    };
    w.wait(w.app.set_password(&machine, id, "another set of words".to_owned())).expect("password");
    assert_eq!(totals("another set of words"), 1);
    w.wait(w.app.set_password(&machine, id, PASSWORD.to_owned())).expect("password");
    assert_eq!(totals(PASSWORD), 2);
}

fn a_login_is_one_persons_and_its_change_ends_sign_ins(w: World) {
    let manager = w.sign_in("manager");
    let twin = json!({ "code": "twin", "name": "T", "email": "OPERATOR.a@coop.example",
        "language": "en", "role": "officer", "active": true });
    let refused = manager.post("/v1/people", &twin).expect(422);
    assert_eq!(refused.errors(), [("/email".to_owned(), "taken".to_owned())]);
    let first = sign_in(&w, "officer.a@coop.example", PASSWORD).expect(201).json();
    let officer = w.nobody.with_token(&text(&first, "access_token"));
    officer.get("/v1/session").expect(200);
    let path = format!("/v1/people/{}", w.a.id("officer"));
    manager.patch(&path, "\"1\"", &json!({ "email": "new.officer@coop.example" })).expect(200);
    officer.get("/v1/session").expect(401);
    let old = json!({ "refresh_token": first["refresh_token"] });
    w.nobody.post("/v1/session/refresh", &old).expect(401);
    sign_in(&w, "officer.a@coop.example", PASSWORD).expect(401);
    sign_in(&w, "new.officer@coop.example", PASSWORD).expect(201);
}

fn many_guesses_at_once_are_not_more_than_in_turn(w: World) {
    let tasks: Vec<_> = (0..30)
        .map(|_| {
            let nobody = w.nobody.clone();
            std::thread::spawn(move || {
                let body = json!({ "login": "manager.a@coop.example", "password": "not this one" });
                nobody.post("/v1/session", &body).status
            })
        })
        .collect();
    let statuses: Vec<u16> = tasks.into_iter().map(|t| t.join().expect("answered")).collect();
    let tried = statuses.iter().filter(|s| **s == 401).count();
    let refused = statuses.iter().filter(|s| **s == 429).count();
    assert_eq!((tried, refused), (10, 20));
}

fn inactive_people_are_out_at_once(w: World) {
    let officer = w.sign_in("officer");
    let path = format!("/v1/people/{}", w.a.id("officer"));
    w.sign_in("manager").patch(&path, "\"1\"", &json!({ "active": false })).expect(200);
    officer.get("/v1/farms").expect(401);
    sign_in(&w, "officer.a@coop.example", PASSWORD).expect(401);
}

fn a_new_cooperative_can_be_used_at_once(w: World) {
    let operator = w.sign_in("operator");
    let body = json!({ "name": "Third", "currency": "UGX", "zone": "Africa/Kampala",
        "language": "en", "started_on": "2026-01-01" });
    let made = operator.post("/v1/cooperatives", &body).expect(201).json();
    operator.get(&format!("/v1/cooperatives/{}", text(&made, "id"))).expect(404);
    let body = json!({ "login": "operator.a@coop.example", "password": PASSWORD,
        "cooperative_id": made["id"] });
    let session = w.nobody.post("/v1/session", &body).expect(201).json();
    let there = w.nobody.with_token(&text(&session, "access_token"));
    let manager = json!({ "code": "m", "name": "M", "email": "m@third.example", "language": "en",
        "role": "manager", "active": true });
    there.post("/v1/people", &manager).expect(201);
    for (field, bad) in [("currency", "ABC"), ("zone", "Mars/Olympus"), ("language", "fr")] {
        let mut wrong = body_of(&made);
        wrong[field] = json!(bad);
        let refused = operator.post("/v1/cooperatives", &wrong).expect(422);
        assert_eq!(refused.errors()[0].0, format!("/{field}"));
    }
}

fn body_of(made: &Json) -> Json {
    json!({ "name": "Fourth", "currency": made["currency"], "zone": made["zone"],
        "language": made["language"], "started_on": made["started_on"] })
}
