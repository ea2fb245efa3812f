//! Mixes worked by hand.

use crate::published::{near, object};
use serde_json::{Value as Json, json};
use traybook_rations::mix::{Clash, Mix, Outcome, Request, Worth, solve};

pub fn outcome(asked: &Json) -> Outcome {
    solve(&Request::read(&object(asked.clone())).unwrap()).unwrap()
}

pub fn mix(asked: &Json) -> Mix {
    match outcome(asked) {
        Outcome::Found(mix) => *mix,
        Outcome::Impossible(clash) => panic!("{}", clash.sentence),
    }
}

fn clash(asked: &Json) -> Clash {
    match outcome(asked) {
        Outcome::Impossible(clash) => clash,
        Outcome::Found(mix) => panic!("{}", mix.sentence),
    }
}

/// [MADE] Bran 10 % protein at 400 and cake 40 % at 1,000, both 80 % dry matter.
fn two() -> Json {
    json!({ "dry_matter_kg": 12, "bag_kg": 70, "currency": "TZS", "feeds": [
        { "name": "Maize bran", "price": 400, "dry_matter_percent": 80, "crude_protein_percent": 10 },
        { "name": "Sunflower cake", "price": 1_000, "dry_matter_percent": 80,
          "crude_protein_percent": 40 } ],
      "limits": [{ "nutrient": "crude_protein", "per": "kg_dry_matter", "min": 20 }] })
}

fn up_to(worth: Worth) -> f64 {
    match worth {
        Worth::UpTo { price_per_kg } => price_per_kg,
        other => panic!("{other:?}"),
    }
}

#[test]
fn mix_of_two_is_the_pearson_square() {
    // [ARITH] 10 and 40 to 20: two parts bran, one cake; 8 and 4 kg dry matter, 10 and 5 kg as fed.
    // Dry matter costs 500 and 1,250: 8 × 500 + 4 × 1,250 = 9,000. One per cent less protein moves
    // 12 / 30 = 0.4 kg of dry matter from cake to bran: 0.4 × 750 = 300. A kg more dry matter of
    // the same 20 % costs 750.
    let got = mix(&two());
    near(got.feeds[0].as_fed_kg, 10.0, 1e-6);
    near(got.feeds[1].as_fed_kg, 5.0, 1e-6);
    near(got.cost, 9_000.0, 1e-4);
    near(got.as_fed_kg, 15.0, 1e-6);
    near(got.nutrients[0].per_kg_dry_matter, 20.0, 1e-6);
    near(got.nutrients[0].per_day, 2.4, 1e-7);
    near(got.binding_limits[0].shadow_price.unwrap(), 300.0, 1e-4);
    assert_eq!(got.binding_limits[0].pointer, "/limits/0/min");
    near(got.next_kg_costs.unwrap(), 750.0, 1e-4);
    assert!(
        got.binding_limits[0].sentence.contains(
            "asking for 1 % crude protein in the dry \
        matter less would save TZS 300"
        ),
        "{}",
        got.binding_limits[0].sentence
    );
    // Without cake no mix has 20 %; without bran all is cake: 15 kg for 15,000. Bran then stands
    // for cake at once, so it is worth buying up to cake's 1,000.
    assert_eq!(got.feeds[1].worth, Worth::Needed);
    near(up_to(got.feeds[0].worth), 1_000.0, 1e-4);
    near(got.feeds[0].bag_worth.unwrap(), 70_000.0, 1e-2);
    assert!(got.feeds[0].sentence.contains("A 70 kg bag of Maize bran"));
    assert!(got.caution.contains("local livestock service"));
}

#[test]
fn feed_left_out_is_worth_what_it_saves() {
    // [ARITH] Peas, 80 % dry matter, 25 % protein: a kg of their dry matter stands for half bran
    // and half cake dry matter, 500 / 2 + 1,250 / 2 = 875; so a kg as fed is worth 700.
    let mut asked = two();
    let feeds = asked["feeds"].as_array_mut().unwrap();
    feeds.push(json!({ "name": "Peas", "price": 800, "dry_matter_percent": 80,
        "crude_protein_percent": 25, "bag_kg": 50 }));
    let got = mix(&asked);
    near(got.feeds[2].as_fed_kg, 0.0, 0.0);
    near(up_to(got.feeds[2].worth), 700.0, 1e-4);
    near(got.feeds[2].bag_worth.unwrap(), 35_000.0, 1e-2);
    assert_eq!(
        got.feeds[2].sentence,
        "At TZS 40\u{202f}000 the mix leaves it out: a 50 kg bag of Peas is worth buying up to TZS 35\u{202f}000."
    );
    for (price, is_in) in [(699.0, true), (701.0, false)] {
        asked["feeds"][2]["price"] = json!(price);
        assert_eq!(mix(&asked).feeds[2].as_fed_kg > 0.0, is_in, "{price}");
    }
}

#[test]
fn limits_of_a_feed_have_their_price() {
    // [ARITH] Bran at most 6 kg as fed of 12 kg dry matter, peas fill up. Dry matter: bran 4.8, the
    // other 7.2 kg must hold 2.4 − 0.48 = 1.92 kg protein: 25 p + 40 c = 192, p + c = 7.2: p = 6.4,
    // c = 0.8. Cost 4.8 × 500 + 6.4 × 1,000 + 0.8 × 1,250 = 9,800. A kg of bran (0.8 dry) more takes
    // the place of 1.6 kg of peas' and gives 0.8 of cake's dry matter: saves 1,600 − 1,000 − 400.
    let mut asked = two();
    let feeds = asked["feeds"].as_array_mut().unwrap();
    feeds.push(json!({ "name": "Peas", "price": 800, "dry_matter_percent": 80,
        "crude_protein_percent": 25 }));
    asked["feeds"][0]["max_kg"] = json!(6);
    let got = mix(&asked);
    near(got.cost, 9_800.0, 1e-4);
    let limit = got.binding_limits.iter().find(|l| l.pointer == "/feeds/0/max_kg").unwrap();
    near(limit.shadow_price.unwrap(), 200.0, 1e-4);
    near(got.feeds[0].beyond_limit_price_per_kg.unwrap(), 600.0, 1e-4);
    assert!(
        got.feeds[0].sentence.ends_with("would be worth buying up to TZS 42\u{202f}000 a bag.")
    );
    // As a share of the mix as fed: 6 of 15 kg is the same 40 %.
    asked["feeds"][0]["max_kg"] = Json::Null;
    asked["feeds"][0]["max_share_percent"] = json!(40);
    let got = mix(&asked);
    near(got.cost, 9_800.0, 1e-4);
    near(got.feeds[0].beyond_limit_price_per_kg.unwrap(), 600.0, 1e-4);
}

#[test]
fn impossible_limits_are_named_and_no_others() {
    let mut asked = two();
    asked["limits"] = json!([
        { "nutrient": "crude_protein", "per": "kg_dry_matter", "min": 30 },
        { "nutrient": "dry_matter", "per": "day", "max": 50 } ]);
    asked["feeds"][1]["max_kg"] = json!(6);
    asked["feeds"][0]["min_kg"] = json!(1);
    // [ARITH] 6 kg cake hold 4.8 kg of dry matter; the other 7.2 kg are bran: 1.92 + 0.72 = 2.64 kg
    // protein, 22 % of 12 kg. 30 % needs 8 kg of cake's dry matter, 10 kg as fed.
    let got = clash(&asked);
    let places: Vec<&str> = got.limits.iter().map(|l| l.pointer.as_str()).collect();
    assert_eq!(places, ["/limits/0/min", "/feeds/1/max_kg"]);
    near(got.limits[0].reachable.unwrap(), 22.0, 1e-6);
    near(got.limits[1].reachable.unwrap(), 10.0, 1e-6);
    assert!(
        got.sentence.starts_with(
            "These limits clash in 12 kg of dry matter: at least 30 % \
        crude protein in the dry matter and at most 6 kg of Sunflower cake."
        ),
        "{}",
        got.sentence
    );
    // One limit alone that the feeds can not meet.
    let mut asked = two();
    asked["limits"][0]["min"] = json!(41);
    let got = clash(&asked);
    assert_eq!(got.limits.len(), 1);
    near(got.limits[0].reachable.unwrap(), 40.0, 1e-6);
    assert!(got.sentence.contains("the most that can be had is 40 % crude protein"));
}

#[test]
fn fixed_weight_as_fed_keeps_limits_per_dry_matter() {
    // [ARITH] As fed 10 kg: grass 20 % dry, 10 % protein; meal 90 % dry, 20 %. At least 15 % of dry
    // matter: equal dry matter from both: 0.2 g = 0.9 m, g + m = 10: m = 20/11, g = 90/11.
    let asked = json!({ "as_fed_kg": 10, "feeds": [
        { "name": "Grass", "price": 50, "dry_matter_percent": 20, "crude_protein_percent": 10 },
        { "name": "Meal", "price": 900, "dry_matter_percent": 90, "crude_protein_percent": 20 } ],
      "limits": [{ "nutrient": "crude_protein", "per": "kg_dry_matter", "min": 15 }] });
    let got = mix(&asked);
    near(got.feeds[0].as_fed_kg, 90.0 / 11.0, 1e-6);
    near(got.feeds[1].as_fed_kg, 20.0 / 11.0, 1e-6);
    near(got.nutrients[0].per_kg_dry_matter, 15.0, 1e-6);
}

#[test]
fn extremes_neither_panic_nor_lose_their_sense() {
    let feed = |name: &str, price: f64, dry: f64, protein: f64| {
        json!({ "name": name, "price": price, "dry_matter_percent": dry,
            "crude_protein_percent": protein, "energy_mj_per_kg": 10 })
    };
    let limits = json!([
        { "nutrient": "crude_protein", "per": "kg_dry_matter", "min": 10, "max": 10 },
        { "nutrient": "energy", "per": "kg_dry_matter", "min": 10, "max": 10 } ]);
    for (price, dry, kg) in
        [(0.0, 100.0, 1.0), (1e9, 0.5, 1e7), (1e-6, 0.5, 0.001), (1.0, 90.0, 1e7)]
    {
        // Twins, and all limits met at one point.
        let feeds = json!([
            feed("a", price, dry, 10.0),
            feed("b", price, dry, 10.0),
            feed("c", 1e9, 50.0, 10.0)
        ]);
        for amount in ["dry_matter_kg", "as_fed_kg"] {
            let got = mix(&json!({ amount: kg, "feeds": feeds, "limits": limits }));
            let text = serde_json::to_string(&got).unwrap();
            assert!(got.cost.is_finite() && !text.contains("NaN"), "{text}");
            let want = if amount == "as_fed_kg" { kg } else { kg / dry * 100.0 };
            if price < 1e8 {
                near(got.as_fed_kg, want, want * 1e-6);
                near(got.cost, want * price, want * price * 1e-6);
            }
        }
    }
}
