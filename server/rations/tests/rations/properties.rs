//! What must hold of every mix.

use crate::mixes::{mix, outcome};
use proptest::prelude::*;
use serde_json::{Value as Json, json};
use traybook_rations::mix::{Outcome, Worth};

fn feed() -> impl Strategy<Value = (f64, f64, f64, f64, Option<f64>)> {
    let whole = |low: i32, high: i32| (low..high).prop_map(f64::from);
    (
        whole(1, 3_000),
        whole(10, 95),
        whole(3, 48),
        whole(6, 15),
        proptest::option::weighted(0.2, whole(5, 60)),
    )
}

prop_compose! {
    fn asked()(
        feeds in prop::collection::vec(feed(), 1..9),
        protein in 5_i32..30,
        energy in proptest::option::of(7_i32..12),
        in_dry in any::<bool>(),
        kg in 1_i32..500,
    ) -> Json {
        let feeds: Vec<Json> = feeds.iter().enumerate().map(|(j, (price, dry, cp, me, most))| {
            let mut feed = json!({ "name": format!("feed {j}"), "price": price,
                "dry_matter_percent": dry, "crude_protein_percent": cp, "energy_mj_per_kg": me });
            if let Some(most) = most {
                feed["max_share_percent"] = json!(most);
            }
            feed
        }).collect();
        let mut limits = vec![json!({ "nutrient": "crude_protein", "min": protein })];
        if let Some(energy) = energy {
            limits.push(json!({ "nutrient": "energy", "min": energy }));
        }
        let amount = if in_dry { "dry_matter_kg" } else { "as_fed_kg" };
        json!({ amount: kg, "feeds": feeds, "limits": limits })
    }
}

fn of(feed: &Json, member: &str) -> f64 {
    feed[member].as_f64().unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// Within 1e-6 of what was asked, and scaling the prices scales the cost.
    #[test]
    fn mixes_meet_every_limit_and_scale_with_money(asked in asked(), scale in 1e-3_f64..1e4) {
        let Outcome::Found(got) = outcome(&asked) else { return Ok(()) };
        let feeds = asked["feeds"].as_array().unwrap();
        let kg: Vec<f64> = got.feeds.iter().map(|f| f.as_fed_kg).collect();
        let dry: f64 = feeds.iter().zip(&kg).map(|(f, k)| k * of(f, "dry_matter_percent") / 100.0).sum();
        let fed: f64 = kg.iter().sum();
        let (weight, wanted) = if asked["dry_matter_kg"].is_null() {
            (fed, of(&asked, "as_fed_kg"))
        } else {
            (dry, of(&asked, "dry_matter_kg"))
        };
        prop_assert!((weight - wanted).abs() <= 1e-6 * wanted);
        prop_assert!(kg.iter().all(|k| *k >= 0.0));
        for limit in asked["limits"].as_array().unwrap() {
            let member = if limit["nutrient"] == "energy" { "energy_mj_per_kg" } else { "crude_protein_percent" };
            let held: f64 = feeds.iter().zip(&kg)
                .map(|(f, k)| k * of(f, "dry_matter_percent") / 100.0 * of(f, member)).sum();
            prop_assert!(held / dry >= of(limit, "min") * (1.0 - 1e-6));
        }
        for (feed, k) in feeds.iter().zip(&kg).filter(|(f, _)| !f["max_share_percent"].is_null()) {
            prop_assert!(100.0 * k / fed <= of(feed, "max_share_percent") * (1.0 + 1e-6));
        }
        let mut dearer = asked.clone();
        for feed in dearer["feeds"].as_array_mut().unwrap() {
            feed["price"] = json!(of(feed, "price") * scale);
        }
        let there = mix(&dearer).cost;
        prop_assert!((there - got.cost * scale).abs() <= 1e-6 * there);
    }

    /// What a feed is said to be worth really decides whether it is bought.
    #[test]
    fn worth_flips_the_choice(asked in asked(), pick in any::<prop::sample::Index>()) {
        let Outcome::Found(got) = outcome(&asked) else { return Ok(()) };
        let j = pick.index(got.feeds.len());
        let at = |price: f64| {
            let mut moved = asked.clone();
            moved["feeds"][j]["price"] = json!(price);
            mix(&moved).feeds[j].as_fed_kg
        };
        let kg = got.as_fed_kg;
        match got.feeds[j].worth {
            Worth::UpTo { price_per_kg } => {
                prop_assert!(at(price_per_kg * 0.999) > 1e-7 * kg);
                prop_assert!(at((price_per_kg * 1.001).min(1e9)) <= 1e-7 * kg);
            }
            Worth::Needed => prop_assert!(at(1e9) > 0.0),
            Worth::Never => {
                // For nothing it may come in, but without saving anything.
                let mut moved = asked.clone();
                moved["feeds"][j]["price"] = json!(0.0);
                let saves = got.cost - mix(&moved).cost;
                prop_assert!(saves <= 1e-6 * got.cost);
            }
        }
    }

    /// Loosening a limit that binds saves what was said, at the start; strong duality inside.
    #[test]
    fn shadow_prices_are_what_loosening_saves(asked in asked()) {
        let Outcome::Found(got) = outcome(&asked) else { return Ok(()) };
        for limit in got.binding_limits.iter().filter(|l| l.pointer.starts_with("/limits")) {
            let price = limit.shadow_price.unwrap();
            let step = 1e-6 * limit.asked;
            let mut looser = asked.clone();
            let member = looser.pointer_mut(&limit.pointer).unwrap();
            *member = json!(limit.asked - step);
            let saved = (got.cost - mix(&looser).cost) / step;
            let size = got.cost / limit.asked;
            prop_assert!((saved - price).abs() <= 1e-2 * size.max(price), "{saved} for {price}");
        }
    }
}
