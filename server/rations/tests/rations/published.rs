//! Published values and worked examples; numbers are those of CHECKS section 1d and 2.

use serde_json::{Map, Value as Json, json};
use traybook_rations::break_even::{Fodder, Point};
use traybook_rations::budget::{Change, Choice, rank};
use traybook_rations::feeds::values;
use traybook_rations::square::{Square, shares};

pub fn object(value: Json) -> Map<String, Json> {
    value.as_object().unwrap().clone()
}

pub fn near(got: f64, want: f64, within: f64) {
    assert!((got - want).abs() <= within, "{got} for {want}");
}

#[test]
fn feed_values_match_the_printed_silage() {
    // [READ] J. Warner, Kansas State Univ. Extension (CHECKS 2.1): silage at $30 a ton as fed with
    // 27 % dry matter is $111.11 a ton of dry matter; at 55 % TDN of it $202.02 a ton of TDN. TDN
    // stands in the place of protein here: both are a share of the dry matter.
    let asked = json!({ "feeds": [{ "name": "Silage", "price": 30, "dry_matter_percent": 27,
        "crude_protein_percent": 55, "energy_mj_per_kg": 10 }] });
    let found = values(&object(asked)).unwrap();
    near(found[0].cost_per_kg_dry_matter.unwrap(), 111.11, 0.005);
    near(found[0].cost_per_kg_protein.unwrap(), 202.02, 0.005);
    // [ARITH] 111.11 / 10 MJ.
    near(found[0].cost_per_mj.unwrap(), 11.111, 0.0005);
}

#[test]
fn feed_values_match_the_printed_balage_and_grain() {
    // [READ] Univ. of Nevada SP-09-19 (CHECKS 2.2): 60 % water, 2,000 lb hold 800 lb: so dry matter
    // costs 2.5 times the price. [READ + ARITH] Parish, Mississippi State Univ. 2007 (CHECKS 2.3):
    // 13.2 % moisture, protein 7.2 % as fed is 8.295 % of dry matter; at a price of 7.2 the kg of
    // protein costs 7.2 / 0.072 = 100.
    let asked = json!({ "feeds": [
        { "name": "Balage", "price": 1, "dry_matter_percent": 40 },
        { "name": "Grain", "price": 7.2, "dry_matter_percent": 86.8,
          "crude_protein_percent": 8.294_930_875_576_037 } ] });
    let found = values(&object(asked)).unwrap();
    near(found[0].cost_per_kg_dry_matter.unwrap(), 2_000.0 / 800.0, 1e-12);
    assert_eq!((found[0].cost_per_kg_protein, found[0].cost_per_mj), (None, None));
    near(found[1].cost_per_kg_protein.unwrap(), 100.0, 1e-9);
}

#[test]
fn square_matches_the_printed_hay_and_silage() {
    // [READ] Montana State Univ. Extension (CHECKS 2.5): 12.25 % hay and 10.8 % silage to 11 %:
    // parts 0.2 and 1.25, 13.8 % and 86.2 %; 100 lb hold 1.69 + 9.31 = 11.00 lb protein.
    let asked = json!({ "target": 11, "amount_kg": 100, "feeds": [
        { "name": "Hay", "crude_protein_percent": 12.25 },
        { "name": "Silage", "crude_protein_percent": 10.8 } ] });
    let got = Square::read(&object(asked)).unwrap().answer().unwrap();
    let [hay, silage] = &got.parts;
    near(hay.parts, 0.2, 1e-9);
    near(silage.parts, 1.25, 1e-9);
    near(hay.share_percent, 13.8, 0.05);
    near(silage.share_percent, 86.2, 0.05);
    near(hay.kg.unwrap() * 0.1225, 1.69, 0.005);
    near(silage.kg.unwrap() * 0.108, 9.31, 0.005);
}

#[test]
fn square_matches_the_printed_supplement() {
    // [READ] Same page (CHECKS 2.6): 8.95 % hay and 40 % supplement to 9.8 %: parts 30.2 and 0.85,
    // 97.3 % and 2.7 %; of 20.4 lb a day 19.8 and 0.55 lb.
    let [hay, supplement] = shares([8.95, 40.0], 9.8).unwrap();
    near(100.0 * hay, 97.3, 0.05);
    near(100.0 * supplement, 2.7, 0.05);
    near(20.4 * hay, 19.8, 0.05);
    near(20.4 * supplement, 0.55, 0.01);
}

#[test]
fn square_solves_the_school_exercises_and_not_the_wrong_answer() {
    // [ARITH] CHECKS 2.7: corn 8.9 % and soybean meal 44.4 % to 2,000 lb of 18 %: 1,487.3 and
    // 512.7 lb. A stored answer of 1,200 and 800 lb is wrong: it makes 23.1 %.
    let [corn, soy] = shares([8.9, 44.4], 18.0).unwrap();
    near(2_000.0 * corn, 1_487.3, 0.05);
    near(2_000.0 * soy, 512.7, 0.05);
    near((1_200.0 * 8.9 + 800.0 * 44.4) / 2_000.0, 23.1, 0.05);
    assert!((2_000.0 * corn - 1_200.0).abs() > 200.0);
    // 8 % and 44 % to 16 %: 28 to 8 parts. 44 % and 9 % to 500 lb of 21 %: 171.4 and 328.6 lb.
    let [low, high] = shares([8.0, 44.0], 16.0).unwrap();
    near(low / high, 28.0 / 8.0, 1e-9);
    let [meal, grain] = shares([44.0, 9.0], 21.0).unwrap();
    near(500.0 * meal, 171.4, 0.05);
    near(500.0 * grain, 328.6, 0.05);
}

#[test]
fn square_refuses_a_target_that_no_mix_reaches() {
    // [READ] Montana State (CHECKS 2.8): the target must lie between the two feeds.
    for (contents, target) in [([8.9, 44.4], 8.8), ([8.9, 44.4], 44.5), ([10.0, 10.0], 10.0)] {
        assert_eq!(shares(contents, target), None);
    }
    assert_eq!(shares([8.9, 44.4], f64::NAN), None);
    assert_eq!(shares([8.9, 44.4], 44.4), Some([0.0, 1.0]));
    let asked = json!({ "target": 45, "feeds": [
        { "name": "Corn", "crude_protein_percent": 8.9 },
        { "name": "Soy", "crude_protein_percent": 44.4 } ] });
    let errors = Square::read(&object(asked)).unwrap_err();
    assert_eq!((errors[0].pointer.as_str(), errors[0].code), ("/target", "outside"));
    assert!(errors[0].detail.contains("between the two feeds, 8.9 and 44.4"));
}

#[test]
fn square_as_fed_counts_the_water() {
    // [ARITH] As fed: 20 % of 90 % is 18 %, 10 % of 20 % is 2 %; to 10 % half of each.
    let asked = json!({ "target": 10, "basis": "as_fed", "amount_kg": 8, "feeds": [
        { "name": "Meal", "crude_protein_percent": 20, "dry_matter_percent": 90, "price": 100 },
        { "name": "Grass", "crude_protein_percent": 10, "dry_matter_percent": 20, "price": 10 } ] });
    let got = Square::read(&object(asked)).unwrap().answer().unwrap();
    near(got.parts[0].as_fed_kg.unwrap(), 4.0, 1e-9);
    near(got.cost.unwrap(), 4.0 * 100.0 + 4.0 * 10.0, 1e-9);
    // On dry matter the kg as fed are more than the kg of dry matter, and are what is paid for.
    let asked = json!({ "target": 15, "amount_kg": 1.8, "feeds": [
        { "name": "Meal", "crude_protein_percent": 20, "dry_matter_percent": 90, "price": 100 },
        { "name": "Grass", "crude_protein_percent": 10, "dry_matter_percent": 20, "price": 10 } ] });
    let got = Square::read(&object(asked)).unwrap().answer().unwrap();
    near(got.parts[1].kg.unwrap(), 0.9, 1e-9);
    near(got.parts[1].as_fed_kg.unwrap(), 4.5, 1e-9);
    near(got.cost.unwrap(), 1.0 * 100.0 + 4.5 * 10.0, 1e-9);
}

#[test]
fn partial_budget_counts_what_changes() {
    // CIMMYT 1988 (CHECKS 2.9): added income + saved cost − lost income − added cost. [ARITH]
    let change =
        Change { added_income: 500.0, saved_cost: 120.0, lost_income: 80.0, added_cost: 300.0 };
    near(change.net(), 240.0, 1e-12);
}

fn four() -> Vec<Choice> {
    // [MADE] CHECKS 2.11.
    [
        ("first", 200.0, 1_000.0),
        ("second", 300.0, 1_180.0),
        ("third", 450.0, 1_150.0),
        ("fourth", 500.0, 1_400.0),
    ]
    .map(|(name, cost, net_benefit)| Choice { name: name.to_owned(), cost, net_benefit })
    .to_vec()
}

#[test]
fn marginal_rates_choose_as_in_the_test_set() {
    // [MADE] CHECKS 2.11 under the rules of CIMMYT 1988, [MEM] 2.10: the third is dominated; 180 %
    // and 110 %; the fourth at a minimum of 100 %, the second at 120 %, the first at 200 %.
    let got = rank(&four(), 100.0);
    let dominated: Vec<bool> = got.choices.iter().map(|c| c.is_dominated).collect();
    assert_eq!(dominated, [false, false, true, false]);
    near(got.choices[1].marginal_rate_percent.unwrap(), 180.0, 1e-9);
    assert_eq!(got.choices[2].marginal_rate_percent, None);
    near(got.choices[3].marginal_rate_percent.unwrap(), 110.0, 1e-9);
    assert_eq!(got.chosen.as_deref(), Some("fourth"));
    assert_eq!(rank(&four(), 120.0).chosen.as_deref(), Some("second"));
    assert_eq!(rank(&four(), 200.0).chosen.as_deref(), Some("first"));
    // The order in which they are told does not matter; of equal cost the better one stays.
    let mut turned = four();
    turned.reverse();
    turned.push(Choice { name: "worse".to_owned(), cost: 200.0, net_benefit: 900.0 });
    let got = rank(&turned, 100.0);
    assert_eq!(got.chosen.as_deref(), Some("fourth"));
    assert!(got.choices[1].is_dominated && got.choices[1].name == "worse");
    assert_eq!(rank(&[], 100.0).chosen, None);
    let broken = Choice { name: "x".to_owned(), cost: f64::NAN, net_benefit: 1.0 };
    assert!(rank(&[broken], 100.0).choices.is_empty());
}

/// [MADE] CHECKS 1d: 100 kg seed at 50, 88 % dry matter of which 21.9 % is lost, 6 kg fresh a kg,
/// 5 % spoiled; labour 1,200, water 93, disinfectant 40, depreciation 60,000 / 5 / 52.
pub fn worked() -> Json {
    let dry_percent = 100.0 * 0.88 * (1.0 - 0.219) / 6.0;
    json!({ "seed_price": 50, "seed_kg": 100, "seed_dry_matter_percent": 88, "fresh_kg": 600,
        "fodder_dry_matter_percent": dry_percent, "spoiled_percent": 5,
        "other_cost": 1_200.0 + 93.0 + 40.0 + 60_000.0 / 5.0 / 52.0,
        "replaces": { "name": "Concentrate", "price": 45, "dry_matter_percent": 90 } })
}

fn at(point: Point) -> f64 {
    match point {
        Point::At { value } => value,
        other => panic!("{other:?}"),
    }
}

#[test]
fn worked_example_is_a_loss_and_its_naive_count_has_the_wrong_sign() {
    let got = Fodder::read(&object(worked())).unwrap().answer();
    near(got.cost, 6_563.77, 0.005);
    near(got.dry_matter_made_kg, 68.728, 0.0005);
    near(got.dry_matter_fed_kg, 65.2916, 0.00005);
    near(got.cost_per_kg_dry_matter_fed.unwrap(), 100.53, 0.005);
    near(got.replaces_cost, 3_264.58, 0.005);
    near(got.saving, -3_299.19, 0.005);
    near(got.saving_by_fresh_weight_misleading, 19_086.23, 0.005);
    assert!(got.sentence.contains("loses 3\u{202f}299"), "{}", got.sentence);
    // [ARITH] 100.53 a kg of dry matter × 0.9: the price of concentrate at which it pays.
    near(at(got.replaced_price.point()), 6_563.769_23 / 65.2916 * 0.9, 1e-4);
    // It would take 12.06 kg fresh a kg seed, more dry matter than was sown (7.68 at the most).
    assert_eq!(got.fresh_kg_per_kg_seed.point(), Point::Never);
    assert!(got.fresh_kg_per_kg_seed.sentence.contains("more dry matter than was sown (7.68"));
    assert_eq!(got.spoiled_percent.point(), Point::Never);
}

#[test]
fn break_even_points_are_where_the_saving_is_nothing() {
    let mut asked = worked();
    asked["replaces"]["price"] = json!(130);
    let got = Fodder::read(&object(asked.clone())).unwrap().answer();
    assert!(got.saving > 0.0);
    let saving = |member: &str, value: f64| {
        let mut moved = asked.clone();
        match member {
            "price" => moved["replaces"]["price"] = json!(value),
            other => moved[other] = json!(value),
        }
        Fodder::read(&object(moved)).unwrap().answer().saving
    };
    near(saving("price", at(got.replaced_price.point())), 0.0, 1e-6);
    near(saving("fresh_kg", 100.0 * at(got.fresh_kg_per_kg_seed.point())), 0.0, 1e-6);
    near(saving("spoiled_percent", at(got.spoiled_percent.point())), 0.0, 1e-6);
    // [ARITH] Value of all of it 68.728 / 0.9 × 130 = 9,927.38; 1 − 6,563.77 / 9,927.38.
    near(at(got.spoiled_percent.point()), 33.882, 0.001);
}

#[test]
fn break_even_by_energy_counts_energy() {
    let mut asked = worked();
    asked["basis"] = json!("energy");
    asked["fodder_energy_mj_per_kg"] = json!(11);
    asked["replaces"]["energy_mj_per_kg"] = json!(13.2);
    let got = Fodder::read(&object(asked)).unwrap().answer();
    // [ARITH] 65.2916 kg × 11 / 13.2 / 0.9 at 45.
    near(got.replaces_cost, 65.2916 * 11.0 / 13.2 / 0.9 * 45.0, 1e-6);
}

#[test]
fn break_even_never_leaves_what_can_be() {
    let with = |member: &str, value: Json| {
        let mut asked = worked();
        asked[member] = value;
        Fodder::read(&object(asked)).unwrap().answer()
    };
    let rotten = with("spoiled_percent", json!(100));
    assert_eq!(rotten.replaced_price.point(), Point::Never);
    assert_eq!(rotten.fresh_kg_per_kg_seed.point(), Point::Never);
    assert_eq!(rotten.cost_per_kg_dry_matter_fed, None);
    let mut free = worked();
    free["seed_price"] = json!(0);
    free["other_cost"] = json!(0);
    let got = Fodder::read(&object(free)).unwrap().answer();
    assert_eq!(got.spoiled_percent.point(), Point::Always);
    assert_eq!(got.fresh_kg_per_kg_seed.point(), Point::Always);
    near(at(got.replaced_price.point()), 0.0, 0.0);
    // [READ + ARITH] CHECKS 1.17: 5.5 kg barley at 88 % to 55 kg at 12 % is more than was sown.
    let mut claim = worked();
    claim["seed_kg"] = json!(5.5);
    claim["fresh_kg"] = json!(55);
    claim["fodder_dry_matter_percent"] = json!(12);
    let errors = Fodder::read(&object(claim)).unwrap_err();
    assert_eq!(errors[0].pointer, "/fodder_dry_matter_percent");
    assert_eq!(errors[0].code, "impossible");
    assert!(errors[0].detail.contains("6.6 kg of dry matter, and only 4.84 kg was sown"));
}
