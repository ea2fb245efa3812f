//! Who may do what, for every operation in the table.

use acceptance::samples::sample;
use acceptance::{Client, World, both};
use serde_json::json;
use traybook_domain::Kind;
use traybook_domain::people::authz::{Action, Reach, Role, reach};
use traybook_http::ops::{self, Body, Op};
use uuid::Uuid;

both!(
    every_operation_is_closed_to_nobody,
    every_operation_is_closed_to_other_roles,
    records_of_another_cooperative_do_not_exist,
    roles_reach_what_the_policy_says,
    member_sees_only_the_own_farm,
    officer_sees_only_the_own_areas
);

const SOME_ID: &str = "01960000-0000-7000-8000-000000000001";

fn path(op: &Op, id: &str) -> String {
    op.path.replace("{id}", id).replace("{code}", "invalid")
}

fn call(client: &Client, op: &Op, id: &str) -> acceptance::Answer {
    let path = path(op, id);
    let body = match op.body {
        Body::None => None,
        Body::Json(..) | Body::Record(_) => Some(("application/json", b"{}".to_vec())),
        Body::Picture => Some(("image/png", vec![1])),
    };
    let headers: &[(&str, &str)] = if op.if_match { &[("if-match", "\"1\"")] } else { &[] };
    client.send(op.method.text(), &path, headers, body)
}

fn every_operation_is_closed_to_nobody(w: World) {
    let stranger = w.nobody.with_token("eyJhbGciOiJIUzI1NiJ9.e30.x");
    for op in ops::all() {
        if op.signed_in {
            assert_eq!(call(&w.nobody, &op, SOME_ID).status, 401, "{}", op.id);
            assert_eq!(call(&stranger, &op, SOME_ID).status, 401, "{}", op.id);
        } else {
            assert_ne!(call(&w.nobody, &op, SOME_ID).status, 403, "{}", op.id);
        }
    }
}

fn every_operation_is_closed_to_other_roles(w: World) {
    for role in Role::ALL {
        let client = w.sign_in(role.text());
        for op in ops::all().iter().filter(|op| op.signed_in && op.id != "sign_out") {
            let status = call(&client, op, SOME_ID).status;
            let may = op.roles.contains(&role);
            assert_eq!(status == 403, !may, "{} as {}: {status}", op.id, role.text());
        }
    }
}

fn records_of_another_cooperative_do_not_exist(w: World) {
    let manager = w.sign_in("manager");
    for kind in Kind::ALL {
        let id = if *kind == Kind::Cooperative {
            w.b.id("cooperative")
        } else {
            let (body, _) = sample(*kind, &w.b);
            w.make(&w.b, *kind, body)
        };
        let of_kind = ops::all().into_iter().filter(|op| op.kind == Some(*kind));
        for op in of_kind.filter(|op| op.path.contains("{id}") && op.roles.contains(&Role::Manager))
        {
            let status = call(&manager, &op, &id.to_string()).status;
            assert_eq!(status, 404, "{}", op.id);
        }
        let list = manager.get(&format!("/v1/{}?withdrawn=true&limit=200", kind.spec().path));
        let seen = list.expect(200).text.contains(&id.to_string());
        assert!(!seen, "{} are listed across co-operatives", kind.spec().path);
        // A record can not point into another co-operative either.
        if let Some((_, field, _)) = kind.spec().refs().find(|(_, f, _)| !f.derived) {
            let (mut body, _) = sample(*kind, &w.a);
            let (foreign, _) = sample(*kind, &w.b);
            if foreign[field.name].is_string() {
                body[field.name] = foreign[field.name].clone();
                body["id"] = json!(w.app.new_id().expect("id"));
                let answer = manager.post(&format!("/v1/{}", kind.spec().path), &body).expect(422);
                let pointer = format!("/{}", field.name);
                assert!(answer.errors().contains(&(pointer, "unknown_reference".to_owned())));
            }
        }
    }
    let changes = manager.get("/v1/changes?limit=1000").expect(200).text;
    assert!(!changes.contains(&w.b.id("farm").to_string()));
}

/// Each role makes, reads, corrects and withdraws a record of each kind on its own farm or area
/// exactly when the policy says so.
fn roles_reach_what_the_policy_says(w: World) {
    for role in Role::ALL {
        let client = w.sign_in(role.text());
        for kind in Kind::ALL.iter().filter(|k| **k != Kind::Cooperative) {
            let (mut body, patch) = sample(*kind, &w.a);
            let base = format!("/v1/{}", kind.spec().path);
            let may = |action| reach(role, action, *kind) != Reach::None;
            if *kind == Kind::Visit && role == Role::Officer {
                body["officer_id"] = json!(w.a.id("officer"));
            }
            let made = client.post(&base, &body);
            assert_eq!(made.status == 201, may(Action::Create), "{base} {role:?} {}", made.text);
            if role == Role::Member && *kind == Kind::Member {
                // Another member is not the own one.
                client.get(&format!("{base}/{}", w.a.id("member"))).expect(200);
                client.get(&format!("{base}/{}", w.a.id("other_member"))).expect(404);
                continue;
            }
            let (id, by_machine) = match made.json()["id"].as_str() {
                Some(id) if made.status == 201 => (id.to_owned(), false),
                _ => (w.make(&w.a, *kind, body.clone()).to_string(), true),
            };
            let item = format!("{base}/{id}");
            let read = client.get(&item);
            assert_eq!(read.status == 200, may(Action::Read), "{item} {role:?} {}", read.status);
            let mut version = 1;
            if patch != json!({}) {
                let fixed = client.patch(&item, "\"1\"", &patch);
                let allowed = fixed.status == 200;
                assert_eq!(allowed, may(Action::Correct), "{item} {role:?} {}", fixed.text);
                version += i64::from(allowed);
            }
            let gone = client.delete(&item, &format!("\"{version}\""));
            assert_eq!(gone.status == 204, may(Action::Withdraw), "{item} {role:?} {}", gone.text);
            if gone.status != 204 {
                // Codes are free again for the next role.
                let machine = traybook_app::Actor::machine(w.a.coop.clone());
                let id: Uuid = id.parse().expect("id");
                let withdrawn = w.wait(w.app.withdraw(&machine, *kind, id, version, None));
                withdrawn.unwrap_or_else(|e| panic!("{item} {by_machine}: {e:?}"));
            }
        }
    }
}

fn member_sees_only_the_own_farm(w: World) {
    let member = w.sign_in("member");
    let farms = member.get("/v1/farms").expect(200).items();
    assert_eq!(farms.len(), 1);
    assert_eq!(farms[0]["code"], "F1");
    member.get(&format!("/v1/farms/{}", w.a.id("other_farm"))).expect(404);
    member.get(&format!("/v1/members/{}", w.a.id("other_member"))).expect(404);
    let milk = json!({
        "animal_group_id": w.a.id("other_cows"), "date": "2026-03-02", "session": "day",
        "litres": 10, "animals_in_milk": 1,
    });
    let refused = member.post("/v1/milk-records", &milk).expect(422);
    assert_eq!(refused.errors()[0].1, "unknown_reference");
    let report = member.get("/v1/reports/savings?month=2026-02").expect(200).json();
    assert_eq!(report["farms"].as_array().map(Vec::len), Some(1));
    assert!(!member.get("/v1/changes?limit=1000").expect(200).text.contains("F2"));
}

fn officer_sees_only_the_own_areas(w: World) {
    let officer = w.sign_in("officer");
    // The farm lies in an area below the assigned one.
    let farms = officer.get("/v1/farms").expect(200).items();
    assert_eq!(farms.iter().map(|f| f["code"].clone()).collect::<Vec<_>>(), [json!("F1")]);
    officer.get(&format!("/v1/animal-groups/{}", w.a.id("other_cows"))).expect(404);
    let farm = json!({
        "code": "F7", "member_id": w.a.id("member"), "area_id": w.a.id("other_area"),
    });
    let refused = officer.post("/v1/farms", &farm).expect(422);
    assert_eq!(refused.errors(), [("/area_id".to_owned(), "outside_reach".to_owned())]);
    // A farm moved into the area comes into sight, and the change feed says: begin again.
    let feed = officer.get("/v1/changes").expect(200).json();
    let after = feed["next"].as_str().expect("cursor").to_owned();
    officer.get(&format!("/v1/changes?after={after}")).expect(200);
    let moved = json!({ "area_id": w.a.id("area") });
    let path = format!("/v1/farms/{}", w.a.id("other_farm"));
    w.sign_in("manager").patch(&path, "\"1\"", &moved).expect(200);
    officer.get(&path).expect(200);
    officer.get(&format!("/v1/changes?after={after}")).expect(410);
}
