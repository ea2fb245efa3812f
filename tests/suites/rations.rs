//! What feeds are worth: prices of nutrients, Pearson square, mixes, break-even.

use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_domain::Kind;

both!(
    feed_values_follow_the_price_rule_and_a_worked_farm,
    feed_values_keep_to_what_a_person_sees,
    square_fills_in_records_and_refuses_what_can_not_be,
    mix_answers_the_cheapest_and_what_clashes,
    break_even_reads_the_farm_and_takes_what_is_given,
    partial_budgets_rank_choices_and_name_what_is_missing
);

fn near(got: &Json, want: f64) {
    let got = got.as_f64().expect("a number");
    assert!((got - want).abs() <= 1e-6 * want.abs().max(1.0), "{got} for {want}");
}

/// [MADE] Farm F1 in February 2026, worked by hand. Cake (90 % dry matter, 40 % protein of it,
/// 12 MJ) 100 kg for 90,000: 900 a kg, 1,000 a kg dry matter, 2,500 a kg protein, 83.3333 a MJ.
/// F2 paid 1,100 a kg: the median of the two is 1,000. Bran was bought in December by F2 only, 50 kg
/// for 20,000: 400. Seed: 500 kg for 470,000 with transport, 940 a kg; 56 kg soaked: 52,640. Labour
/// 30,000. 28 trays spread, 7 discarded: 25 %. 200 kg fed at 13 % dry matter: 26 kg. So 82,640 in
/// all: 413.20 a kg fresh, 3,178.4615 a kg of dry matter. Cake's protein and energy are made up.
pub(crate) fn month(w: &World) -> Json {
    let a = &w.a;
    let add = |kind, body| w.make(a, kind, body);
    let cake = add(
        Kind::Feed,
        json!({ "name": "Sunflower cake", "dry_matter_percent": 90,
        "crude_protein_percent": 40, "energy_mj_per_kg": 12 }),
    );
    let id = |name: &str| json!(a.id(name));
    for (farm, feed, date, kg, cost) in [
        (id("farm"), json!(cake), "2026-02-03", 100, 90_000),
        (id("other_farm"), json!(cake), "2026-02-20", 10, 11_000),
        (id("other_farm"), id("bran"), "2025-12-20", 50, 20_000),
    ] {
        let body =
            json!({ "farm_id": farm, "feed_id": feed, "date": date, "kg": kg, "cost": cost });
        add(Kind::FeedPurchase, body);
    }
    add(
        Kind::SeedPurchase,
        json!({ "seed_lot_id": id("lot"), "date": "2026-01-05", "kg": 500,
        "price": 450_000, "transport": 20_000, "feed_grade": true, "untreated": true }),
    );
    for (event, name, value) in [
        ("soaked", "kg", 56),
        ("spread", "trays", 28),
        ("discarded", "trays", 7),
        ("fed_out", "kg", 200),
    ] {
        let mut body =
            json!({ "batch_id": id("batch"), "event": event, "at": "2026-02-10T06:00:00Z" });
        body[name] = json!(value);
        if event == "discarded" {
            body["cause"] = json!("dried_out");
        }
        add(Kind::BatchEvent, body);
    }
    add(
        Kind::OtherCost,
        json!({ "farm_id": id("farm"), "date": "2026-02-28", "category": "labour",
        "amount": 30_000 }),
    );
    json!(cake)
}

fn feed<'a>(values: &'a Json, name: &str) -> &'a Json {
    let feeds = values["feeds"].as_array().expect("feeds");
    feeds.iter().find(|f| f["feed"] == name).expect("the feed")
}

fn feed_values_follow_the_price_rule_and_a_worked_farm(w: World) {
    month(&w);
    let manager = w.sign_in("manager");
    let farm = w.a.id("farm");
    let own = format!("/v1/feed-values?month=2026-02&farm_id={farm}");
    let got = manager.get(&own).expect(200);
    assert!(got.header("etag").is_some());
    let got = got.json();
    let cake = feed(&got, "Sunflower cake");
    assert_eq!((&cake["price_is"], &cake["price_month"]), (&json!("own"), &json!("2026-02")));
    near(&cake["cost_per_kg_fresh"], 900.0);
    near(&cake["cost_per_kg_dry_matter"], 1_000.0);
    near(&cake["cost_per_kg_protein"], 2_500.0);
    near(&cake["cost_per_mj"], 1_000.0 / 12.0);
    let bran = feed(&got, "Maize bran");
    assert_eq!(bran["price_is"], "earlier_median");
    assert_eq!(bran["price_month"], "2025-12");
    near(&bran["cost_per_kg_dry_matter"], 400.0 / 0.88);
    assert_eq!((&bran["cost_per_kg_protein"], &bran["cost_per_mj"]), (&Json::Null, &Json::Null));
    assert_eq!(bran["missing"], json!(["crude protein", "energy"]));
    let meal = feed(&got, "Dairy meal");
    assert_eq!((&meal["price_is"], &meal["cost_per_kg_fresh"]), (&Json::Null, &Json::Null));
    let fodder = &got["fodder"];
    near(&fodder["cost"], 82_640.0);
    near(&fodder["dry_matter_fed_kg"], 26.0);
    near(&fodder["cost_per_kg_dry_matter"], 3_178.461_538);
    near(&fodder["cost_per_kg_fresh_misleading"], 413.2);
    assert_eq!(
        (&fodder["cost_per_kg_protein"], &fodder["cost_per_mj"]),
        (&Json::Null, &Json::Null)
    );
    assert!(got["caution"].as_str().expect("text").contains("local livestock service"));
    // Without a farm the median of the two counts.
    let all = manager.get("/v1/feed-values?month=2026-02").expect(200).json();
    assert_eq!(feed(&all, "Sunflower cake")["price_is"], "median");
    near(&feed(&all, "Sunflower cake")["cost_per_kg_fresh"], 1_000.0);
    near(&all["fodder"]["cost_per_kg_dry_matter"], 3_178.461_538);
    // A month without records has no number, and says why.
    let none = manager.get("/v1/feed-values?month=2025-08").expect(200).json();
    assert_eq!(none["fodder"]["cost_per_kg_dry_matter"], Json::Null);
    assert_eq!(none["fodder"]["missing"][0], "seed soaked in the month");
    for (path, code) in [
        ("/v1/feed-values", "required"),
        ("/v1/feed-values?month=2026-2", "type"),
        ("/v1/feed-values?month=2027-01", "future"),
        ("/v1/feed-values?month=2026-02&farm_id=x", "type"),
        (
            "/v1/feed-values?month=2026-02&farm_id=01960000-0000-7000-8000-000000000001",
            "unknown_reference",
        ),
    ] {
        assert_eq!(manager.get(path).expect(422).errors()[0].1, code, "{path}");
    }
}

fn feed_values_keep_to_what_a_person_sees(w: World) {
    month(&w);
    let other = w.a.id("other_farm");
    for who in ["member", "officer"] {
        let client = w.sign_in(who);
        let own = client.get("/v1/feed-values?month=2026-02").expect(200).json();
        assert_eq!(own["fodder"]["farms"], 1, "{who}");
        let path = format!("/v1/feed-values?month=2026-02&farm_id={other}");
        assert_eq!(client.get(&path).expect(422).errors()[0].1, "unknown_reference");
        let body = json!({ "month": "2026-02", "farm_id": other });
        let refused = client.post("/v1/fodder-break-even", &body).expect(422);
        assert!(
            refused.errors().contains(&("/farm_id".to_owned(), "unknown_reference".to_owned()))
        );
    }
    let foreign = format!("/v1/feed-values?month=2026-02&farm_id={}", w.b.id("farm"));
    w.sign_in("manager").get(&foreign).expect(422);
    for who in ["operator", "programme_reader"] {
        w.sign_in(who).get("/v1/feed-values?month=2026-02").expect(403);
    }
}

fn square_fills_in_records_and_refuses_what_can_not_be(w: World) {
    let cake = month(&w);
    let manager = w.sign_in("manager");
    // [ARITH] 40 and 8 to 16: 8 to 24 parts, a quarter cake. 9 kg dry matter: 2.25 kg of cake's, 2.5
    // as fed at the co-operative's 1,000; bran 6.75 kg, 7.670455 as fed at 400.
    let body = json!({ "month": "2026-02", "target": 16, "amount_kg": 9, "feeds": [
        { "feed_id": cake }, { "feed_id": w.a.id("bran"), "crude_protein_percent": 8 } ] });
    let got = manager.post("/v1/pearson-square", &body).expect(200).json();
    near(&got["parts"][0]["share_percent"], 25.0);
    near(&got["parts"][0]["as_fed_kg"], 2.5);
    near(&got["cost"], 2_500.0 + 6.75 / 0.88 * 400.0);
    let mut outside = body.clone();
    outside["target"] = json!(41);
    let refused = manager.post("/v1/pearson-square", &outside).expect(422);
    assert_eq!(refused.errors(), [("/target".to_owned(), "outside".to_owned())]);
    let wrong = json!({ "target": 16, "farm_id": "x", "feeds": [
        { "feed_id": "y", "name": "a" }, { "name": "b", "price": -1 } ] });
    let errors = manager.post("/v1/pearson-square", &wrong).expect(422).errors();
    for (place, code) in [
        ("/farm_id", "type"),
        ("/feeds/0/feed_id", "unknown_reference"),
        ("/feeds/0/crude_protein_percent", "required"),
        ("/feeds/1/price", "range"),
    ] {
        assert!(errors.contains(&(place.to_owned(), code.to_owned())), "{place} {errors:?}");
    }
}

fn mix_answers_the_cheapest_and_what_clashes(w: World) {
    let cake = month(&w);
    let member = w.sign_in("member");
    // [ARITH] 40 and 8 to 16 again, at the own price of cake, 900: 1,000 a kg of dry matter, bran
    // 400 / 0.88 = 454.5455. 12 kg: 3 × 1,000 + 9 × 454.5455 = 7,090.9091. A per cent less protein
    // moves 12 / 32 kg from cake to bran: saves 0.375 × 545.4545 = 204.5455.
    let mut body = json!({
        "month": "2026-02", "farm_id": w.a.id("farm"), "dry_matter_kg": 12, "bag_kg": 70,
        "feeds": [{ "feed_id": cake }, { "feed_id": w.a.id("bran"), "crude_protein_percent": 8 }],
        "limits": [{ "nutrient": "crude_protein", "per": "kg_dry_matter", "min": 16 }],
    });
    let got = member.post("/v1/feed-mixes", &body).expect(200).json();
    assert_eq!(got["status"], "found");
    near(&got["cost"], 7_090.909_09);
    near(&got["feeds"][0]["as_fed_kg"], 3.0 / 0.9);
    near(&got["binding_limits"][0]["shadow_price"], 204.545_454);
    // Bran stands for cake at once: worth 1,000 a kg of dry matter, 880 as fed, 61,600 a bag.
    near(&got["feeds"][1]["bag_worth"], 61_600.0);
    let said = got["feeds"][1]["sentence"].as_str().expect("text");
    assert!(
        said.contains("A 70 kg bag of Maize bran") && said.contains("up to TZS 61\u{202f}600"),
        "{said}"
    );
    assert!(got["caution"].as_str().expect("text").contains("local livestock service"));
    body["feeds"][0]["max_kg"] = json!(2);
    let got = member.post("/v1/feed-mixes", &body).expect(200).json();
    assert_eq!(got["status"], "impossible");
    let places: Vec<&Json> =
        got["limits"].as_array().expect("limits").iter().map(|l| &l["pointer"]).collect();
    assert_eq!(places, ["/limits/0/min", "/feeds/0/max_kg"]);
    // [ARITH] 1.8 kg of cake's dry matter and 10.2 of bran's: (0.72 + 0.816) / 12 = 12.8 %.
    near(&got["limits"][0]["reachable"], 12.8);
    body["feeds"][0]["price"] = json!(-5);
    let refused = member.post("/v1/feed-mixes", &body).expect(422);
    assert_eq!(refused.errors(), [("/feeds/0/price".to_owned(), "range".to_owned())]);
}

fn break_even_reads_the_farm_and_takes_what_is_given(w: World) {
    let cake = month(&w);
    let manager = w.sign_in("manager");
    // [ARITH] 200 kg fed of three quarters of the trays: 266.667 kg grown, 34.667 kg of dry matter
    // from 49.28 kg sown; 26 kg fed stand for 28.8889 kg cake at 900: 26,000. Cost 82,640: a loss of
    // 56,640. It pays from 82,640 / 28.8889 = 2,860.6154 a kg on.
    let mut body = json!({ "month": "2026-02", "farm_id": w.a.id("farm"),
        "replaces": { "feed_id": cake } });
    let got = manager.post("/v1/fodder-break-even", &body).expect(200).json();
    near(&got["cost"], 82_640.0);
    near(&got["dry_matter_fed_kg"], 26.0);
    near(&got["saving"], -56_640.0);
    near(&got["saving_by_fresh_weight_misleading"], 200.0 * 900.0 - 82_640.0);
    near(&got["replaced_price"]["value"], 82_640.0 / (26.0 / 0.9));
    assert_eq!(got["fresh_kg_per_kg_seed"]["kind"], "never");
    assert_eq!(got["spoiled_percent"]["kind"], "never");
    assert_eq!(got["used"]["spoiled_percent"], 25);
    assert_eq!(got["from_records"].as_array().map(Vec::len), Some(7));
    // What is given counts before what is recorded.
    body["other_cost"] = json!(0);
    body["replaces"]["price"] = json!(4_000);
    let got = manager.post("/v1/fodder-break-even", &body).expect(200).json();
    near(&got["cost"], 52_640.0);
    near(&got["saving"], 26.0 / 0.9 * 4_000.0 - 52_640.0);
    // [ARITH] All 34.667 kg would stand for 38.5185 kg at 4,000: 1 − 52,640 / 154,074.07 = 65.8346 %.
    near(&got["spoiled_percent"]["value"], 65.834_615);
    // More dry matter than was sown is refused, not called a saving.
    body["fodder_dry_matter_percent"] = json!(30);
    let refused = manager.post("/v1/fodder-break-even", &body).expect(422);
    let wanted = ("/fodder_dry_matter_percent".to_owned(), "impossible".to_owned());
    assert_eq!(refused.errors(), [wanted]);
    // A month without records names what to give.
    let bare = json!({ "month": "2025-09", "farm_id": w.a.id("farm"), "replaces": { "name": "Cake",
        "price": 900, "dry_matter_percent": 90 } });
    let errors = manager.post("/v1/fodder-break-even", &bare).expect(422).errors();
    let places: Vec<&str> = errors.iter().map(|e| e.0.as_str()).collect();
    assert_eq!(places, ["/seed_price", "/seed_kg", "/fresh_kg", "/other_cost", "/spoiled_percent"]);
}

fn partial_budgets_rank_choices_and_name_what_is_missing(w: World) {
    let officer = w.sign_in("officer");
    let choice =
        |name: &str, cost: i64, net: i64| json!({ "name": name, "cost": cost, "net_benefit": net });
    let choices = [
        choice("first", 200, 1_000),
        choice("second", 300, 1_180),
        choice("third", 450, 1_150),
        choice("fourth", 500, 1_400),
    ];
    let ask = |minimum: i64| {
        let body = json!({ "choices": choices, "minimum_percent": minimum });
        officer.post("/v1/partial-budgets", &body).expect(200).json()
    };
    // [MADE] CHECKS 2.11: the third is dominated, the steps bring 180 and 110 %; a minimum of
    // 100 % takes the fourth, one of 120 % the second.
    let made = ask(100);
    let ranked = made["choices"].as_array().expect("choices");
    let dominated: Vec<bool> = ranked.iter().map(|c| c["is_dominated"] == true).collect();
    assert_eq!(dominated, [false, false, true, false]);
    near(&ranked[1]["marginal_rate_percent"], 180.0);
    near(&ranked[3]["marginal_rate_percent"], 110.0);
    assert_eq!((&made["chosen"], &ask(120)["chosen"]), (&json!("fourth"), &json!("second")));
    assert!(made["caution"].as_str().is_some_and(|c| c.contains("livestock service")));
    // [READ] CHECKS 2.9: added income + saved cost - lost income - added cost.
    let change = json!({ "name": "fodder", "added_income": 500, "saved_cost": 300,
        "lost_income": 100, "added_cost": 450 });
    let made =
        officer.post("/v1/partial-budgets", &json!({ "changes": [change] })).expect(200).json();
    near(&made["changes"][0]["net"], 250.0);
    assert_eq!(made["changes"][0]["sentence"], "fodder brings TZS 250.");
    assert_eq!((&made["chosen"], &made["choices"]), (&Json::Null, &json!([])));
    // What is missing is not 0.
    let wrong = json!({ "changes": [{ "name": "fodder", "added_income": 500, "saved_cost": 300 }],
        "choices": [choice("a", 1, 1), choice("a", -1, 1)], "month": "2026-02" });
    let errors = officer.post("/v1/partial-budgets", &wrong).expect(422).json();
    let mut at: Vec<&str> = errors["errors"]
        .as_array()
        .expect("errors")
        .iter()
        .filter_map(|e| e["pointer"].as_str())
        .collect();
    at.sort_unstable();
    assert_eq!(
        at,
        [
            "/changes/0/added_cost",
            "/changes/0/lost_income",
            "/choices/1/cost",
            "/choices/1/name",
            "/month"
        ]
    );
    let errors = officer.post("/v1/partial-budgets", &json!({})).expect(422).json();
    assert_eq!(errors["errors"][0]["pointer"], "/changes");
    w.sign_in("programme_reader")
        .post("/v1/partial-budgets", &json!({ "choices": choices }))
        .expect(403);
}
