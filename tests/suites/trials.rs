//! Trials: drawn by the server, stored at once, drawn again by whoever reads; and what a plan could
//! show on herds whose truth is known.

use acceptance::browser::Browser;
use acceptance::herds::{FIELD, herds};
use acceptance::herds_served::enter_herds;
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_domain::Kind;

both!(
    an_order_is_drawn_once_and_can_be_checked,
    a_plan_says_what_it_could_show,
    numbers_that_cannot_be_read_are_asked_back,
    months_are_drawn_for_the_farm_whose_code_is_typed,
);

/// The page keeps the usual ways, and says at the field what is wrong with those typed.
fn numbers_that_cannot_be_read_are_asked_back(w: World) {
    let mut browser = Browser::sign_in(&w, "manager");
    for bad in ["five", "0", "5;5", "900%20900"] {
        let page = browser.get(&format!("/trials?enterprise=milk&starts={bad}")).expect(422).text;
        assert!(page.contains(r#"aria-invalid="true""#), "{bad}: {page}");
    }
    browser.get("/trials?enterprise=milk&starts=").expect(200);
}

/// The page takes the code of a farm, in small letters too, and says so where there is none.
fn months_are_drawn_for_the_farm_whose_code_is_typed(w: World) {
    let mut browser = Browser::sign_in(&w, "manager");
    let mut draw = |code: &str| {
        let page = browser.page("/trials");
        let field = page.find("name=\"farm\"").expect("a field");
        let form = page[..field].rfind("<form").expect("a form");
        browser.fill_in(&page[form..], "/trials", &[("farm", code)])
    };
    let refused = draw("nowhere").expect(422).text;
    assert!(refused.contains(r#"aria-invalid="true""#), "{refused}");
    for code in ["F1", "f1"] {
        let drawn = draw(code).expect(303);
        let to = drawn.header("location").expect("an address");
        assert!(to.starts_with("/trials/on-off/"), "{to}");
    }
}

fn next_month(w: &World) -> String {
    let today = w.a.coop.today(w.app.now());
    traybook_domain::Month::of(today).plus(1).to_string()
}

/// Seed and list are stored together; the same id draws nothing; a changed place is seen; a redraw
/// leaves the old one to be read; a member sees its own place, another co-operative nothing.
fn an_order_is_drawn_once_and_can_be_checked(w: World) {
    let manager = w.sign_in("manager");
    for n in 0..14 {
        let farm = json!({ "code": format!("T{n:02}"), "member_id": w.a.id("member"),
            "area_id": w.a.id(if n % 2 == 0 { "sub_area" } else { "other_area" }) });
        let farm = w.make(&w.a, Kind::Farm, farm);
        let group = json!({ "code": format!("T{n:02}-c"), "farm_id": farm,
            "animal_class": "dairy_cows" });
        let group = w.make(&w.a, Kind::AnimalGroup, group);
        let head = json!({ "animal_group_id": group, "date": "2026-01-05", "reason": "counted",
            "head": 1 + n % 5 });
        w.make(&w.a, Kind::HeadCount, head);
    }
    let id = w.app.new_id().expect("id");
    let body = json!({ "id": id, "name": "First year", "enterprise": "milk",
        "first_month": next_month(&w), "starts": [4, 3, 3] });
    let drawn = manager.post("/v1/start-orders", &body).expect(201).json();
    assert_eq!(drawn["farms"].as_array().expect("farms").len(), 14);
    let in_month = |order: &Json, month: &Json| {
        let farms = order["farms"].as_array().expect("farms").iter();
        farms.filter(|f| f["month"] == *month).count()
    };
    assert_eq!(in_month(&drawn, &Json::Null), 4);
    assert_eq!(in_month(&drawn, &drawn["first_month"]), 4);
    assert_eq!(drawn["is_as_drawn"], true);
    let again = manager.post("/v1/start-orders", &body).expect(201).json();
    assert_eq!(again, drawn);
    // Somebody changes a place in the database: the list is no longer what was drawn.
    let mut conn = w.db.connect();
    let change = "UPDATE start_places SET month = 2 WHERE month = 0";
    assert_eq!(conn.exec(change, &[]).expect("changed"), 4);
    let path = format!("/v1/start-orders/{id}");
    assert_eq!(manager.get(&path).expect(200).json()["is_as_drawn"], false);
    conn.exec("UPDATE start_places SET month = 0 WHERE month = 2", &[]).expect("changed");
    // A redraw has another seed, and the old one stays on the list: it can not be taken away.
    let mut other = body.clone();
    other["id"] = json!(w.app.new_id().expect("id"));
    let other = manager.post("/v1/start-orders", &other).expect(201).json();
    assert_ne!(other["seed"], drawn["seed"]);
    let all = manager.get("/v1/start-orders").expect(200).json();
    assert_eq!(all["items"].as_array().expect("items").len(), 3);
    manager.delete(&format!("/v1/start-plans/{id}"), "\"1\"").expect(409);
    // The member sees its farms, and not whether all is as drawn; the other co-operative nothing.
    let seen = w.sign_in("member").get(&path).expect(200).json();
    assert!(seen["is_as_drawn"].is_null(), "{seen}");
    w.sign_in_as("manager.b@coop.example").get(&path).expect(404);
    // What cannot be: more farms than there are, a month that is over, no numbers.
    let bad = |change: Json| {
        let mut body = body.clone();
        body["id"] = json!(w.app.new_id().expect("id"));
        for (name, value) in change.as_object().expect("members") {
            body[name] = value.clone();
        }
        manager.post("/v1/start-orders", &body).expect(422).json()["errors"][0]["pointer"].clone()
    };
    assert_eq!(bad(json!({ "starts": [10, 10] })), "/starts");
    assert_eq!(bad(json!({ "starts": [] })), "/starts");
    assert_eq!(bad(json!({ "first_month": "2020-01" })), "/first_month");
    assert_eq!(bad(json!({ "first_month": "soon" })), "/first_month");
    w.sign_in("officer").post("/v1/start-orders", &body).expect(403);
    // Months with and without fodder of one farm.
    let body = json!({ "farm_id": w.a.id("farm"), "enterprise": "milk",
        "first_month": next_month(&w), "blocks": 4, "block_months": 2, "unused_months": 1 });
    let order = manager.post("/v1/on-off-orders", &body).expect(201).json();
    let months = order["months"].as_array().expect("months");
    assert_eq!(months.len(), 8);
    assert_eq!(months.iter().filter(|m| m["is_on"] == true).count(), 4);
    assert_eq!(months.iter().filter(|m| m["is_used"] == true).count(), 4);
    let odd = json!({ "farm_id": w.a.id("farm"), "enterprise": "milk",
        "first_month": next_month(&w), "blocks": 3, "block_months": 2, "unused_months": 1 });
    manager.post("/v1/on-off-orders", &odd).expect(422);
}

/// All at once shows nothing; the longer and the more wait, the smaller the change that is seen.
fn a_plan_says_what_it_could_show(w: World) {
    let made = herds(7, 90, FIELD);
    let there = enter_herds(&w, "power", &made);
    let path = "/v1/trial-power?enterprise=milk&starts=1,1,1";
    let power = there.manager.get(path).expect(200).json();
    let options = power["options"].as_array().expect("options");
    assert_eq!(options[0]["starts"], json!([1, 1, 1]));
    assert_eq!(options[1]["status"], "no_controls");
    let judged: Vec<f64> =
        options[2..].iter().filter_map(|o| o["programme_percent"].as_f64()).collect();
    assert!(!judged.is_empty() && judged.iter().all(|p| (1.0..60.0).contains(p)), "{power}");
    there.manager.get("/v1/trial-power?enterprise=milk&starts=900").expect(422);
    there.manager.get("/v1/trial-power?enterprise=milk&starts=x").expect(422);
    there.manager.get("/v1/trial-power?enterprise=wool").expect(422);
    let none = w.sign_in("manager").get("/v1/trial-power?enterprise=eggs").expect(200).json();
    assert_eq!(none["options"][0]["status"], "no_records");
}
