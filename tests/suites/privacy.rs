//! What is held about a member: handed over whole, and erased everywhere.

use crate::report::full_month;
use acceptance::browser::Browser;
use acceptance::world::PASSWORD;
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_domain::records::personal::is_personal;
use traybook_domain::{ColumnType, Kind};
use uuid::Uuid;

both!(
    a_copy_holds_all_that_is_recorded_of_a_member,
    an_erased_member_is_nowhere_and_the_figures_stay,
    a_member_is_erased_only_after_leaving_and_by_the_number,
    a_copy_is_for_the_manager_and_the_member,
    a_device_gets_the_erasure_with_the_feed
);

/// A word that stands nowhere else.
const SECRET: &str = "Zawadi-Kipekee";

fn member(w: &World) -> Uuid {
    w.a.id("member")
}

/// Writes the word wherever somebody may write about the member.
fn write_everywhere(w: &World) {
    let manager = w.sign_in("manager");
    let farm = w.a.id("farm");
    let change = |path: String, body: Json| {
        let now = manager.get(&path).expect(200);
        let version = format!("\"{}\"", now.json()["version"]);
        manager.patch(&path, &version, &body).expect(200);
    };
    change(
        format!("/v1/members/{}", member(w)),
        json!({ "name": SECRET, "phone": "+255 700 123 987" }),
    );
    change(
        format!("/v1/farms/{farm}"),
        json!({ "place": SECRET, "latitude": -1.5, "longitude": 37.0 }),
    );
    let visit = json!({ "farm_id": farm, "officer_id": w.a.id("officer"),
        "started_at": "2026-02-01T07:00:00Z", "note": SECRET, "advice": SECRET });
    let visit = manager.post("/v1/visits", &visit).expect(201).json()["id"].clone();
    let follow = json!({ "farm_id": farm, "visit_id": visit, "action": SECRET,
        "due_on": "2026-02-20" });
    manager.post("/v1/follow-ups", &follow).expect(201);
    let milk = json!({ "animal_group_id": w.a.id("cows"), "date": "2026-03-01", "session": "day",
        "litres": 20, "animals_in_milk": 4, "note": SECRET });
    manager.post("/v1/milk-records", &milk).expect(201);
    let wish =
        json!({ "farm_id": farm, "about": "milk", "asked_on": "2026-03-02", "wish": SECRET });
    manager.post("/v1/correction-requests", &wish).expect(201);
    let deduction = json!({ "farm_id": farm, "date": "2026-03-02", "amount": 5, "reason": SECRET });
    manager.post("/v1/deductions", &deduction).expect(201);
    // An earlier version, and why it was changed.
    change(
        format!("/v1/members/{}", member(w)),
        json!({ "left_on": "2026-03-10", "change_reason": SECRET }),
    );
}

/// Every text of the database, table by table.
fn everything(w: &World) -> String {
    let mut conn = w.db.connect();
    let columns = match w.db.is_sqlite() {
        true => {
            "SELECT m.name, p.name FROM sqlite_schema m JOIN pragma_table_info(m.name) p \
             WHERE m.type = 'table' AND p.type = 'TEXT' ORDER BY 1, 2"
        }
        false => {
            "SELECT CAST(table_name AS TEXT), CAST(column_name AS TEXT) FROM \
             information_schema.columns WHERE table_schema = current_schema() AND \
             data_type = 'text' ORDER BY 1, 2"
        }
    };
    let columns = conn.rows(columns, &[], &[ColumnType::Text; 2]).expect("columns");
    assert!(columns.len() > 100, "all texts are looked at");
    let mut out = String::new();
    for row in columns {
        let [table, column] = [0, 1].map(|i: usize| row[i].as_text().expect("a name").to_owned());
        let sql = format!("SELECT {column} FROM {table} WHERE {column} IS NOT NULL");
        for row in conn.rows(&sql, &[], &[ColumnType::Text]).expect("texts") {
            out.push_str(&format!("{table}.{column}: {}\n", row[0].as_text().unwrap_or_default()));
        }
    }
    out
}

fn erase(w: &World) -> Json {
    let body = json!({ "member_number": "M1", "reason": "asked on 12 March, in writing" });
    let path = format!("/v1/members/{}/erasure", member(w));
    w.sign_in("manager").post(&path, &body).expect(200).json()
}

fn a_copy_holds_all_that_is_recorded_of_a_member(w: World) {
    full_month(&w);
    write_everywhere(&w);
    let path = format!("/v1/members/{}/personal-copy", member(&w));
    let copy = w.sign_in("manager").get(&path).expect(200).json();
    assert_eq!(copy["member_number"], "M1");
    let versions = copy["records"]["member"][0]["versions"].as_array().expect("versions");
    assert_eq!(versions.len(), 3, "{versions:?}");
    for kind in ["farm", "visit", "follow_up", "milk_record", "deduction", "correction_request"] {
        let text = copy["records"][kind].to_string();
        assert!(text.contains(SECRET), "{kind}: {text}");
    }
    // As many records as the lists of the interface have.
    let milk =
        w.sign_in("manager").get(&format!("/v1/milk-records?farm_id={}&limit=200", w.a.id("farm")));
    let milk = milk.expect(200).items().len();
    assert_eq!(copy["records"]["milk_record"].as_array().map(Vec::len), Some(milk));
    assert_eq!(copy["accounts"].as_array().map(Vec::len), Some(1));
    assert!(!copy.to_string().contains("$argon2"), "no hash of a password");
    // The same as a page and as a file.
    let mut browser = Browser::sign_in(&w, "manager");
    let page = browser.page(&format!("/members/{}/held", member(&w)));
    assert!(page.contains(SECRET) && page.contains("How long things are kept"), "{page}");
    let file = browser.get(&format!("/members/{}/held.json", member(&w))).expect(200);
    assert!(file.text.contains(SECRET));
}

fn an_erased_member_is_nowhere_and_the_figures_stay(w: World) {
    full_month(&w);
    write_everywhere(&w);
    let manager = w.sign_in("manager");
    w.make_figures();
    manager.post("/v1/month-closes", &json!({ "month": "2026-01" })).expect(201);
    let month = |form: &str| {
        let path = "/v1/reports/savings?month=2026-01";
        manager.send("GET", path, &[("accept", form)], None).expect(200).text
    };
    let (json_before, csv_before) = (month("application/json"), month("text/csv"));
    let feb_before = manager.get("/v1/reports/savings?month=2026-02").expect(200).json();
    assert!(json_before.contains(SECRET) && csv_before.contains(SECRET));
    // A page reads it, too, and the server keeps what it read.
    let mut browser = Browser::sign_in(&w, "manager");
    assert!(browser.page("/savings?month=2026-01").contains(SECRET));
    assert!(everything(&w).contains(SECRET));
    let done = erase(&w);
    assert!(done["records"].as_i64() >= Some(7) && done["closed_months"] == 1, "{done}");
    assert!(done["versions"].as_i64() >= Some(3) && done["accounts"] == 1, "{done}");
    // Nowhere: not in a record, an earlier version, a report or a kept figure.
    let all = everything(&w);
    for text in [SECRET, "123 987", "member.a@coop.example"] {
        assert!(!all.contains(text), "{text} is still there: {}", around(&all, text));
    }
    // The closed month is equal to the byte but for the name.
    assert_eq!(month("application/json"), json_before.replace(SECRET, "M1"));
    assert_eq!(month("text/csv"), csv_before.replace(SECRET, "M1"));
    assert!(!browser.page("/savings?month=2026-01").contains(SECRET));
    // Figures of open months stay.
    let feb = manager.get("/v1/reports/savings?month=2026-02").expect(200).json();
    assert_eq!(feb["total"]["saving"], feb_before["total"]["saving"]);
    assert_eq!(feb["farms"][0]["member_name"], "M1");
    // The account is closed.
    let body = json!({ "login": "member.a@coop.example", "password": PASSWORD });
    assert_eq!(w.nobody.post("/v1/session", &body).status, 401);
    // Once more changes nothing.
    let again = erase(&w);
    assert_eq!((&again["closed_months"], &again["records"]), (&json!(0), &json!(0)), "{again}");
}

fn around(all: &str, text: &str) -> String {
    let at = all.find(text).unwrap_or(0);
    all.chars().skip(at.saturating_sub(300)).take(600).collect()
}

fn a_member_is_erased_only_after_leaving_and_by_the_number(w: World) {
    let manager = w.sign_in("manager");
    let path = format!("/v1/members/{}/erasure", member(&w));
    let ask = |number: &str, reason: &str| {
        let body = json!({ "member_number": number, "reason": reason });
        manager.post(&path, &body).expect(422).errors()[0].clone()
    };
    assert_eq!(ask("M1", "asked"), ("/left_on".to_owned(), "required".to_owned()));
    assert_eq!(ask("M2", "asked"), ("/member_number".to_owned(), "different".to_owned()));
    assert_eq!(ask("M1", " "), ("/reason".to_owned(), "length".to_owned()));
    // By the pages: the day of leaving first, then the number once more.
    let mut browser = Browser::sign_in(&w, "manager");
    let held = format!("/members/{}/held", member(&w));
    let left = format!("/members/{}/left", member(&w));
    let action = format!("/members/{}/erase", member(&w));
    assert!(!browser.page(&held).contains(&action));
    assert_eq!(browser.fill(&held, &left, &[("left_on", "2026-03-01")]).status, 303);
    let wrong = [("member_number", "M7"), ("reason", "asked in writing")];
    let refused = browser.fill(&held, &action, &wrong).expect(422).text;
    assert!(refused.contains("give the number of this member"), "{refused}");
    let right = [("member_number", "M1"), ("reason", "asked in writing")];
    let done = browser.fill(&held, &action, &right).expect(303);
    let page = browser.page(done.header("location").expect("a page"));
    assert!(page.contains("The member is erased") && !page.contains("Asha"), "{page}");
}

fn a_copy_is_for_the_manager_and_the_member(w: World) {
    let own = format!("/v1/members/{}/personal-copy", member(&w));
    w.sign_in("member").get(&own).expect(200);
    for role in ["officer", "operator", "programme_reader"] {
        w.sign_in(role).get(&own).expect(403);
    }
    let theirs = format!("/v1/members/{}/personal-copy", w.b.id("member"));
    w.sign_in("manager").get(&theirs).expect(404);
    w.sign_in("member").get(&theirs).expect(404);
    let body = json!({ "member_number": "M1", "reason": "asked" });
    for role in ["member", "officer", "operator"] {
        let path = format!("/v1/members/{}/erasure", member(&w));
        w.sign_in(role).post(&path, &body).expect(403);
    }
    let path = format!("/v1/members/{}/erasure", w.b.id("member"));
    w.sign_in("manager").post(&path, &body).expect(404);
}

fn a_device_gets_the_erasure_with_the_feed(w: World) {
    write_everywhere(&w);
    let officer = w.sign_in("officer");
    let all = |from: &str| -> (Vec<Json>, String) {
        let (mut items, mut cursor) = (Vec::new(), from.to_owned());
        loop {
            let path = format!("/v1/changes?after={cursor}");
            let page = officer.get(if cursor.is_empty() { "/v1/changes" } else { &path });
            let page = page.expect(200).json();
            items.extend(page["items"].as_array().expect("items").clone());
            cursor = page["next"].as_str().expect("a cursor").to_owned();
            if page["has_more"] == false {
                return (items, cursor);
            }
        }
    };
    let (_, cursor) = all("");
    erase(&w);
    let (changed, _) = all(&cursor);
    let member = changed.iter().find(|c| c["kind"] == "member").expect("the member");
    assert_eq!(member["record"]["name"], "M1", "{member}");
    assert!(!json!(changed).to_string().contains(SECRET));
}

/// A text field that is added to a record of a farm is erased unless somebody says why not.
#[test]
fn free_texts_of_farms_are_personal() {
    for kind in Kind::ALL.iter().filter(|k| k.spec().index("farm_id").is_some()) {
        for field in kind.spec().fields.iter().filter(|f| matches!(f.name, "note" | "advice")) {
            assert!(is_personal(*kind, field), "{kind:?} {}", field.name);
        }
    }
}
