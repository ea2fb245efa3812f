//! Sums over co-operatives that were opened to a programme reader.

use acceptance::browser::Browser;
use acceptance::world::Fixture;
use acceptance::{Client, World, both};
use chrono::NaiveDate;
use serde_json::{Value as Json, json};
use traybook_app::AppError;
use traybook_domain::Kind;

both!(
    nothing_is_open_until_somebody_opens_it,
    small_groups_of_several_cooperatives_count_together,
    a_member_who_withdraws_consent_leaves_the_sum,
);

const READER: &str = "programme_reader.a@coop.example";
const MONTH: &str = "2026-02";

/// Registers members with a farm each, who milk one cow that gives 10 litres on one day.
fn members(w: &World, of: &Fixture, sex: &str, count: usize) -> Vec<uuid::Uuid> {
    let one = |n: usize| {
        let member = w.make(
            of,
            Kind::Member,
            json!({ "number": format!("{sex}{n}"), "name": "Mfano",
            "area_id": of.id("area"), "sex": sex, "language": "sw", "consent": true,
            "consent_on": "2025-02-01", "joined_on": "2025-02-01" }),
        );
        let farm = w.make(
            of,
            Kind::Farm,
            json!({ "code": format!("{sex}{n}"), "member_id": member,
            "area_id": of.id("area") }),
        );
        let cows = w.make(
            of,
            Kind::AnimalGroup,
            json!({ "code": format!("{sex}{n}"), "farm_id": farm,
            "animal_class": "dairy_cows" }),
        );
        w.make(
            of,
            Kind::HeadCount,
            json!({ "animal_group_id": cows, "date": "2026-01-01", "reason": "counted",
            "head": 1 }),
        );
        w.make(
            of,
            Kind::MilkRecord,
            json!({ "animal_group_id": cows, "date": "2026-02-10",
            "session": "day", "litres": 10, "animals_in_milk": 1 }),
        );
        member
    };
    (0..count).map(one).collect()
}

fn open(w: &World, of: Option<&Fixture>) -> uuid::Uuid {
    let until = NaiveDate::from_ymd_opt(2026, 12, 31).expect("a day");
    let coop = of.map(|of| of.coop.clone());
    let grant = w.wait(w.app.open_to_programme(READER, coop, ("the board".to_owned(), until)));
    grant.expect("open").id
}

fn sums(reader: &Client, by: &str) -> Json {
    reader.get(&format!("/v1/programme-sum?month={MONTH}&by={by}")).expect(200).json()
}

/// The group of a sum: members, litres, whether it is whole.
fn group<'s>(sum: &'s Json, name: &str) -> &'s Json {
    let groups = sum["groups"].as_array().expect("groups");
    groups.iter().find(|g| g["totals"]["group"] == name).expect("the group")
}

fn nothing_is_open_until_somebody_opens_it(w: World) {
    members(&w, &w.b, "male", 6);
    w.make_figures();
    let reader = w.sign_in("programme_reader");
    let path = format!("/v1/programme-sum?month={MONTH}&by=cooperative");
    reader.get(&path).expect(403);
    w.sign_in("manager").get(&path).expect(403);
    w.sign_in("officer").get(&path).expect(403);
    let id = open(&w, Some(&w.b));
    let sum = sums(&reader, "cooperative");
    assert_eq!(sum["cooperatives"], 1);
    assert!(group(&sum, "all")["totals"]["members"].as_u64() >= Some(6), "{sum}");
    // It stands in the log of the co-operative that was opened, and in no other.
    let log = |login: &str| w.sign_in_as(login).get("/v1/security-log").expect(200).text;
    assert!(log("manager.b@coop.example").contains("sums_opened"));
    assert!(!log("manager.a@coop.example").contains("sums_opened"));
    // The page of the reader shows it.
    let page = Browser::sign_in(&w, "programme_reader").page(&format!("/totals?month={MONTH}"));
    assert!(page.contains("One co-operative of the programme"), "{page}");
    for wrong in ["month=2026-02&by=area", "month=2024-02&by=sex", "month=2026-02&by=x"] {
        reader.get(&format!("/v1/programme-sum?{wrong}")).expect(422);
    }
    // It ends by its day, and by hand.
    w.wait(w.app.close_to_programme(READER, id)).expect("closed");
    reader.get(&path).expect(403);
    open(&w, Some(&w.b));
    reader.get(&path).expect(200);
    w.clock.set(traybook_domain::time::parse_instant("2027-01-01T09:00:00Z").expect("instant"));
    let reader = w.sign_in("programme_reader");
    reader.get("/v1/programme-sum?month=2026-11&by=cooperative").expect(403);
    let over = w.wait(w.app.open_to_programme(
        READER,
        None,
        ("the board".to_owned(), NaiveDate::from_ymd_opt(2026, 12, 31).expect("a day")),
    ));
    assert!(matches!(over, Err(AppError::Invalid(_))), "{over:?}");
    let nobody = w.wait(w.app.programme_grants("manager.a@coop.example"));
    assert!(matches!(nobody, Err(AppError::NotFound)));
}

fn small_groups_of_several_cooperatives_count_together(w: World) {
    // Women and men of both co-operatives are hidden in their own tables: three men and four.
    for (of, men) in [(&w.a, 3), (&w.b, 4)] {
        members(&w, of, "male", men);
        members(&w, of, "female", 9);
    }
    w.make_figures();
    let reader = w.sign_in("programme_reader");
    open(&w, Some(&w.a));
    let own = reader.get(&format!("/v1/programme-totals?month={MONTH}&by=sex")).expect(200).text;
    assert!(own.contains("\"is_hidden\":true"), "{own}");
    // Of one co-operative alone nothing is added that its table hides.
    let sum = sums(&reader, "sex");
    for name in ["male", "female"] {
        let group = group(&sum, name);
        assert_eq!(
            (&group["totals"]["is_hidden"], &group["is_whole"]),
            (&json!(true), &json!(false))
        );
    }
    // Of both together there are seven men, and many women: subtraction finds no co-operative's.
    open(&w, None);
    let sum = sums(&reader, "sex");
    assert_eq!(sum["cooperatives"], 2);
    let men = group(&sum, "male");
    assert_eq!((&men["totals"]["members"], &men["is_whole"]), (&json!(7), &json!(true)), "{sum}");
    assert_eq!(men["totals"]["milk_litres"], json!(70));
    assert_eq!(men["totals"]["litres_per_cow_day"], json!(10));
    let all = sums(&reader, "cooperative");
    let everybody = group(&all, "all")["totals"]["members"].as_u64();
    let women = group(&sum, "female")["totals"]["members"].as_u64();
    assert_eq!(women.map(|n| n + 7), everybody, "{sum} {all}");
}

fn a_member_who_withdraws_consent_leaves_the_sum(w: World) {
    let them = members(&w, &w.a, "male", 8);
    w.make_figures();
    open(&w, Some(&w.a));
    let reader = w.sign_in("programme_reader");
    let before = group(&sums(&reader, "cooperative"), "all")["totals"]["members"].as_u64();
    let manager = w.sign_in("manager");
    // Of a closed month, too: the report on paper stays, the sum for strangers does not.
    manager.post("/v1/month-closes", &json!({ "month": MONTH })).expect(201);
    w.make_figures();
    let closed = group(&sums(&reader, "cooperative"), "all")["totals"]["members"].as_u64();
    assert_eq!(closed, before);
    let path = format!("/v1/members/{}", them[0]);
    manager.patch(&path, "\"1\"", &json!({ "consent": false })).expect(200);
    w.make_figures();
    let after = group(&sums(&reader, "cooperative"), "all")["totals"]["members"].as_u64();
    assert_eq!(after.map(|n| n + 1), before);
}
