//! The book of a farm and the store on the pages, without script: what the savings report is made
//! of is written down, corrected and taken back there.

use acceptance::browser::{Browser, hidden};
use acceptance::feeding::{add_all, first_place, regular_but};
use acceptance::{World, both};
use serde_json::{Value as Json, json};

both!(
    feed_bought_fills_what_the_report_lacks,
    a_ration_and_costs_are_recorded_and_corrected,
    seed_is_taken_in_handed_out_and_paid_off,
    books_of_others_are_not_there,
    a_lot_is_offered_by_its_stock_and_with_its_price
);

fn list(w: &World, path: &str) -> Vec<Json> {
    w.sign_in("manager").get(path).expect(200).items()
}

fn feed_bought_fills_what_the_report_lacks(w: World) {
    let (farm, feed) = (w.a.id("farm"), w.a.id("feed").to_string());
    let all = regular_but(&w, first_place(&w), &["2026-02-15"]);
    add_all(&w, all);
    let mut manager = Browser::sign_in(&w, "manager");
    let close = "/close?month=2026-02";
    let lacking = "Dairy meal, 2026-02-15 to 2026-02-24: write down the purchase";
    let page = manager.get(close).expect(200).text;
    let book = format!("/farms/{farm}/book");
    let lack = page.matches(lacking).count();
    assert!(lack == 1 && page.contains(&book), "{page}");
    // A member writes it down: money for 0 kg is refused beside the kg.
    let mut member = Browser::sign_in(&w, "member");
    let new = format!("{book}/feed-purchases");
    assert!(member.get(&book).expect(200).text.contains(&new));
    let fields =
        [("feed_id", feed.as_str()), ("date", "2026-02-15"), ("kg", "0"), ("cost", "30000")];
    let refused = member.fill(&new, &new, &fields);
    assert_eq!(refused.status, 422, "{}", refused.text);
    assert!(refused.text.contains("id=\"book-kg-error\""), "{}", refused.text);
    assert!(refused.text.contains("value=\"30000\""), "{}", refused.text);
    let before = list(&w, &format!("/v1/feed-purchases?farm_id={farm}&limit=200")).len();
    let mut right = fields;
    right[2].1 = "40,5";
    // The same form sent twice is one record.
    let page = member.get(&new).expect(200).text;
    let (csrf, id) = (hidden(&page, "csrf"), hidden(&page, "id"));
    let mut form = vec![("csrf", csrf.as_str()), ("id", id.as_str())];
    form.extend(right);
    for _ in 0..2 {
        let done = member.post(&new, &form);
        assert!(done.leads_to(&book), "{}", done.text);
    }
    let all = list(&w, &format!("/v1/feed-purchases?farm_id={farm}&limit=200"));
    assert_eq!(all.len(), before + 1);
    let made = all.iter().find(|r| r["id"] == json!(id)).expect("the record");
    assert_eq!((&made["kg"], &made["cost"]), (&json!(40.5), &json!(30000)));
    let page = member.get(&book).expect(200).text;
    for part in ["Dairy meal", "40.5", "30\u{202f}000", "15 February 2026"] {
        assert!(page.contains(part), "{part}: {page}");
    }
    // Older ones stand on a page of their own, back to the first.
    for day in 1..=8 {
        let date = format!("2026-01-{day:02}");
        let (kg, cost) = (format!("{}", 60 + day), format!("{}", (60 + day) * 850));
        let fields = [("feed_id", feed.as_str()), ("date", &date), ("kg", &kg), ("cost", &cost)];
        assert_eq!(member.fill(&new, &new, &fields).status, 303);
    }
    let page = member.get(&book).expect(200).text;
    assert!(
        page.contains("book?kind=feed-purchases") && !page.contains("1 January 2026"),
        "{page}"
    );
    let older = member.get(&format!("{book}?kind=feed-purchases")).expect(200).text;
    assert!(older.contains("1 January 2026") && older.contains("40.5"), "{older}");
    assert!(!older.contains("book/other-costs"), "of one kind alone: {older}");
    assert_eq!(member.get(&format!("{book}?kind=feeds")).status, 404);
    let left = manager.get(close).expect(200).text.matches(lacking).count();
    assert_eq!(left, lack - 1, "this farm lacks it no more");
    // Taken back, it lacks it again.
    let record = format!("/book/feed-purchases/{id}");
    let back = member.fill(&record, &format!("{record}/withdraw"), &[("why", "the neighbour's")]);
    assert!(back.leads_to(&book), "{}", back.text);
    assert_eq!(manager.get(close).expect(200).text.matches(lacking).count(), lack);
    let page = member.get(&record).expect(200).text;
    assert!(page.contains("taken back") && !page.contains("name=\"why\""), "{page}");
}

fn a_ration_and_costs_are_recorded_and_corrected(w: World) {
    let farm = w.a.id("farm");
    let (cows, feed) = (w.a.id("cows").to_string(), w.a.id("feed").to_string());
    let mut officer = Browser::sign_in(&w, "officer");
    let book = format!("/farms/{farm}/book");
    let mut add = |kind: &str, fields: &[(&str, &str)]| {
        let path = format!("{book}/{kind}");
        let done = officer.fill(&path, &path, fields);
        assert_eq!(done.status, 303, "{kind}: {}", done.text);
    };
    add(
        "baseline-rations",
        &[
            ("animal_group_id", &cows),
            ("feed_id", &feed),
            ("kg_per_animal_day", "3,2"),
            ("recorded_on", "2026-01-05"),
        ],
    );
    add("other-costs", &[("date", "2026-02-03"), ("category", "labour"), ("amount", "5000")]);
    add(
        "assets",
        &[
            ("name", "Second shelf"),
            ("in_service_on", "2026-01-02"),
            ("cost", "240000"),
            ("salvage_value", ""),
            ("life_months", "48"),
            ("disposed_on", ""),
        ],
    );
    add(
        "fodder-plans",
        &[
            ("animal_group_id", &cows),
            ("valid_from", "2026-03-25"),
            ("tray_load", "full"),
            ("is_grown", ""),
            ("harvest_age_days", "7"),
        ],
    );
    let plan = &list(&w, &format!("/v1/fodder-plans?farm_id={farm}"))[0];
    assert_eq!((&plan["tray_load"], &plan["is_grown"]), (&json!("full"), &Json::Null));
    // A correction: what was emptied goes, what can not change is not asked for.
    let id = plan["id"].as_str().expect("an id").to_owned();
    let path = format!("/book/fodder-plans/{id}");
    let page = officer.get(&path).expect(200).text;
    assert!(!page.contains("name=\"animal_group_id\"") && page.contains("value=\"7\""), "{page}");
    let change = [("harvest_age_days", ""), ("is_grown", "false"), ("change_reason", "dry cows")];
    assert_eq!(officer.fill(&path, &path, &change).status, 303);
    let plan = &list(&w, &format!("/v1/fodder-plans?farm_id={farm}"))[0];
    assert_eq!((&plan["harvest_age_days"], &plan["is_grown"]), (&Json::Null, &json!(false)));
    // A salvage value above the cost is refused beside its field.
    let asset = list(&w, &format!("/v1/assets?farm_id={farm}"));
    let asset = asset.iter().find(|a| a["name"] == json!("Second shelf")).expect("the asset");
    let path = format!("/book/assets/{}", asset["id"].as_str().expect("an id"));
    let refused = officer.fill(&path, &path, &[("salvage_value", "250000")]);
    assert_eq!(refused.status, 422);
    assert!(refused.text.contains("id=\"book-salvage_value-error\""), "{}", refused.text);
}

fn seed_is_taken_in_handed_out_and_paid_off(w: World) {
    let (farm, supplier) = (w.a.id("farm"), w.a.id("supplier").to_string());
    let mut manager = Browser::sign_in(&w, "manager");
    let lots = "/store/seed-lots";
    let lot = [("code", "L-77"), ("crop", "barley"), ("supplier_id", supplier.as_str())];
    assert!(manager.fill(lots, lots, &lot).leads_to("/store"));
    // Lines of a remark stay when something else is corrected.
    let made = list(&w, "/v1/seed-lots");
    let id = made.iter().find(|l| l["code"] == json!("L-77")).expect("the lot")["id"].clone();
    let path = format!("/book/seed-lots/{}", id.as_str().expect("an id"));
    let note = [("note", "bag 1 torn\nbag 2 ok")];
    assert_eq!(manager.fill(&path, &path, &note).status, 303);
    let page = manager.get(&path).expect(200).text;
    assert!(page.contains("<textarea") && page.contains("bag 1 torn\nbag 2 ok"), "{page}");
    let lot = made.iter().find(|l| l["code"] == json!("L-77")).expect("the lot");
    let lot = lot["id"].as_str().expect("an id").to_owned();
    let path = "/store/seed-purchases";
    let page = manager.get(path).expect(200).text;
    assert!(page.contains("dressed seed is poisonous"), "the caution stands there: {page}");
    // Seed that nobody declares untreated is refused beside the tick.
    let fields = [
        ("seed_lot_id", lot.as_str()),
        ("date", "2026-03-18"),
        ("kg", "200"),
        ("price", "180000"),
        ("feed_grade", "true"),
        ("untreated", ""),
    ];
    let refused = manager.fill(path, path, &fields);
    assert_eq!(refused.status, 422, "{}", refused.text);
    assert!(refused.text.contains("id=\"book-untreated-error\""), "{}", refused.text);
    let mut right = fields;
    right[5].1 = "true";
    assert!(manager.fill(path, path, &right).leads_to("/store"));
    // An officer hands it out on credit, and writes down what was paid.
    let mut officer = Browser::sign_in(&w, "officer");
    let issue = format!("/farms/{farm}/book/seed-issues");
    let fields = [
        ("seed_lot_id", lot.as_str()),
        ("date", "2026-03-19"),
        ("kg", "25"),
        ("price", "25000"),
        ("payment", "credit"),
    ];
    assert_eq!(officer.fill(&issue, &issue, &fields).status, 303);
    let pay = format!("/farms/{farm}/book/seed-payments");
    let fields = [("date", "2026-03-20"), ("amount", "4000"), ("paid_by", "mobile_money")];
    assert_eq!(officer.fill(&pay, &pay, &fields).status, 303);
    let account = officer.get(&format!("/account?farm={farm}")).expect(200).text;
    assert!(account.contains("25\u{202f}000") && account.contains("4000"), "{account}");
    let stock = list(&w, "/v1/seed-stock");
    let kg = |farm: &Json| {
        let of = stock.iter().find(|r| r["seed_lot"] == json!("L-77") && &r["farm_id"] == farm);
        of.map(|r| r["stock_kg"].clone())
    };
    assert_eq!((kg(&Json::Null), kg(&json!(farm))), (Some(json!(175)), Some(json!(25))));
    // The officer may correct an issue, and not take it back.
    let issues = list(&w, &format!("/v1/seed-issues?farm_id={farm}"));
    let issue = issues.iter().find(|i| i["seed_lot_id"] == json!(lot)).expect("the issue");
    let path = format!("/book/seed-issues/{}", issue["id"].as_str().expect("an id"));
    let page = officer.get(&path).expect(200).text;
    assert!(page.contains("name=\"kg\"") && !page.contains("/withdraw"), "{page}");
}

fn books_of_others_are_not_there(w: World) {
    let theirs = w.b.id("farm");
    for who in ["manager", "officer", "member"] {
        let mut browser = Browser::sign_in(&w, who);
        for path in [
            format!("/farms/{theirs}/book"),
            format!("/farms/{theirs}/book/feed-purchases"),
            format!("/book/seed-lots/{}", w.b.id("lot")),
            format!("/farms/{}/book/seed-lots", w.a.id("farm")),
            "/store/people".to_owned(),
        ] {
            let status = browser.get(&path).status;
            assert_eq!(status, 404, "{who} {path}");
        }
    }
    let mut member = Browser::sign_in(&w, "member");
    let farm = w.a.id("farm");
    for path in [
        "/store".to_owned(),
        "/store/seed-purchases".to_owned(),
        format!("/farms/{farm}/book/seed-issues"),
        format!("/farms/{farm}/book/baseline-rations"),
    ] {
        assert_eq!(member.get(&path).status, 403, "{path}");
    }
    // A form made up by hand is refused as well, and nothing is recorded.
    let page = member.get(&format!("/farms/{farm}/book/feed-purchases")).expect(200).text;
    let csrf = hidden(&page, "csrf");
    let before = list(&w, "/v1/seed-issues").len();
    let lot = w.a.id("lot").to_string();
    let form = [
        ("csrf", csrf.as_str()),
        ("seed_lot_id", &lot),
        ("date", "2026-03-19"),
        ("kg", "25"),
        ("payment", "paid"),
    ];
    let path = format!("/farms/{farm}/book/seed-issues");
    assert_eq!(member.post(&path, &form).status, 403);
    assert_eq!(list(&w, "/v1/seed-issues").len(), before);
}

/// [ARITH] 1,000 kg for 800,000 and 50,000 of transport are 850 a kg; 12.5 kg of it 10,625. After
/// an issue of 10 kg for 9,000 a kg is 900.
fn a_lot_is_offered_by_its_stock_and_with_its_price(w: World) {
    let manager = w.sign_in("manager");
    let lot = |code: &str| {
        let body = json!({ "code": code, "crop": "barley", "supplier_id": w.a.id("supplier") });
        manager.post("/v1/seed-lots", &body).expect(201).json()["id"].as_str().unwrap().to_owned()
    };
    let (empty, full, held) = (lot("L-A"), lot("L-Z"), lot("L-H"));
    let buy = |lot: &str, kg: i64| {
        let body = json!({ "seed_lot_id": lot, "date": "2026-03-02", "kg": kg, "price": 800 * kg,
            "transport": 50 * kg, "feed_grade": true, "untreated": true });
        manager.post("/v1/seed-purchases", &body).expect(201);
    };
    buy(&full, 1_000);
    buy(&held, 2_000);
    let hold = json!({ "seed_lot_id": held, "held_from": "2026-03-03", "reason": "musty" });
    manager.post("/v1/lot-holds", &hold).expect(201);
    let mut officer = Browser::sign_in(&w, "officer");
    let path = format!("/farms/{}/book/seed-issues", w.a.id("farm"));
    let page = officer.page(&path);
    let at = |lot: &str| page.find(&format!("value=\"{lot}\""));
    assert!(at(&full).is_some() && at(&full) < at(&empty), "{page}");
    assert_eq!(at(&held), None, "a held lot is not offered: {page}");
    for part in ["1000 kg in store", "TZS 850 a kg", "none in store"] {
        assert!(
            page.replace('\u{202f}', "").replace('\u{a0}', " ").contains(part),
            "{part}: {page}"
        );
    }
    let give = |officer: &mut Browser, day: &str, kg: &str, price: &str| {
        let fields = [
            ("seed_lot_id", &*full),
            ("date", day),
            ("kg", kg),
            ("price", price),
            ("payment", "credit"),
        ];
        assert_eq!(officer.fill(&path, &path, &fields).status, 303);
    };
    give(&mut officer, "2026-03-16", "12.5", "");
    give(&mut officer, "2026-03-17", "10", "9000");
    give(&mut officer, "2026-03-18", "20", "");
    give(&mut officer, "2026-03-19", "3", "0");
    let issues = list(&w, &format!("/v1/seed-issues?seed_lot_id={full}"));
    let mut prices: Vec<i64> = issues.iter().filter_map(|i| i["price"].as_i64()).collect();
    prices.sort_unstable();
    assert_eq!(prices, [0, 9_000, 10_625, 18_000]);
}
