//! Cases of the plan under noise and of the rules of the review list.

use std::collections::BTreeMap;

use serde_json::{Value, json};
use traybook_domain::review::levels::{DayOutput, levels};
use traybook_domain::review::mould::{Feeding, Verdict, mould_verdict};
use traybook_domain::review::purchases::{Bought, Outlier, Prices, amount_outliers};
use traybook_domain::review::rations::{Ration, ration_rules};
use traybook_domain::review::values::Output;
use traybook_domain::review::yields::{SEED_DRY_MATTER, guide_dry_matter, yield_verdict};
use traybook_planning::learn::{SPOIL, learn_spoilage, learn_yield};
use traybook_planning::make_up::make_up;
use traybook_planning::plan::YOUNG_DAYS_MAX;
use traybook_planning::short_shed::{Steady, steady_trays, trays_on};
use traybook_planning::sizing::{Ask, Risk, fit, has_capacity, soak};

use crate::cases::{flat, list, real, whole};

/// Correlation of the trays of one batch, as in the cases.
const RHO: f64 = 0.05;

/// Yields, spoilage, soaks, make-up and short sheds.
pub fn plan_case(input: &Value) -> Value {
    let guide = real(&input["guide"], 0.0);
    let spoilage = list(&input["spoilage"]).iter().map(|q| {
        let trays = flat(&q["started"]).into_iter().zip(flat(&q["discarded"]));
        learn_spoilage(&trays.collect::<Vec<_>>(), RHO, SPOIL)
    });
    let made = |q: &Value| {
        let groups: Vec<(f64, i64)> =
            list(&q["groups"]).iter().map(|g| (real(&g[0], 0.0), int(&g[1]))).collect();
        steady_trays(int(&q["places"]), &groups)
    };
    let steady: Vec<Vec<Steady>> = list(&input["steady"]).iter().map(made).collect();
    let days = |of: &Steady| (0..12).map(|day| trays_on(day, of)).collect::<Vec<_>>();
    json!({
        "yields": yields(&input["yields"], guide),
        "few": yields(&input["few"], guide),
        "spoilage": spoilage.collect::<Vec<_>>(),
        "soak": list(&input["soak"]).iter().map(soaks).collect::<Vec<_>>(),
        "make_up": list(&input["make_up"]).iter().map(early).collect::<Vec<_>>(),
        "steady": steady.iter().map(|groups| {
            groups.iter().map(|g| [g.trays, g.stands, g.extra, g.cycle]).collect::<Vec<_>>()
        }).collect::<Vec<_>>(),
        "first_12_days": steady.iter().map(|groups| {
            groups.iter().map(days).collect::<Vec<_>>()
        }).collect::<Vec<_>>(),
    })
}

fn int(value: &Value) -> i64 {
    value.as_i64().unwrap_or_default()
}

fn yields(values: &Value, guide: f64) -> Value {
    let each = values.as_object().into_iter().flatten();
    let values: BTreeMap<&String, Vec<f64>> = each.map(|(farm, v)| (farm, flat(v))).collect();
    let made = learn_yield(&values, guide);
    json!({ "yield_": made.farms, "mean": made.mean, "sd": made.sd, "tau": made.tau })
}

fn soaks(q: &Value) -> Value {
    let of = |name: &str| real(&q[name], 0.0);
    let (need, fresh, load, load_most) = (of("need"), of("yhat"), of("load"), of("load_max"));
    let standing = flat(&q["standing"]);
    let risk = Risk { spoil: of("phat"), sd: of("sd"), young: 0.12, extra: 0.0 };
    let need_seed = vec![need / fresh; standing.len() + 1];
    let ask = Ask { need: &need_seed, standing: &standing, load, light: false, is_ramp: false };
    let (now, ramp) = (soak(&ask, &risk), soak(&Ask { is_ramp: true, ..ask }, &risk));
    let free: Vec<Option<i64>> = list(&q["free"]).iter().map(Value::as_i64).collect();
    let (seed, trays) = fit(&now, &free, load_most);
    let has = has_capacity(need, fresh, risk.spoil, load_most, of("trays_of_places"));
    json!([now.seed(), now.trays, ramp.seed(), ramp.trays, [json!(seed), json!(trays)], has])
}

fn early(q: &Value) -> Value {
    let tray = |t: &Value| (i32::try_from(int(&t[0])).unwrap_or_default(), real(&t[1], 0.0));
    let trays: Vec<(i32, f64)> = list(&q["trays"]).iter().map(tray).collect();
    let of = |name: &str| real(&q[name], 0.0);
    let (taken, fed) = make_up(of("need"), of("got"), of("left"), &trays, YOUNG_DAYS_MAX);
    json!([taken, fed])
}

/// Yields, guides, mould, prices, amounts, rations and levels of output.
pub fn review_case(input: &Value) -> Value {
    let verdict = |v: Option<Verdict>| json!(v.map(Verdict::rule));
    let each = |name: &str, of: &dyn Fn(&Value) -> Value| -> Value {
        list(&input[name]).iter().map(of).collect()
    };
    json!({
        "yields": each("yields", &|q| {
            let (kg, seed) = (real(&q["harvested_kg"], 0.0), real(&q["seed_kg"], 0.0));
            verdict(yield_verdict(kg, seed, q["dm"].as_f64(), SEED_DRY_MATTER))
        }),
        "guides": each("guides", &|q| {
            json!(guide_dry_matter(real(&q[0], 0.0), real(&q[1], 0.0), SEED_DRY_MATTER))
        }),
        "mould": each("mould", &|q| {
            let thrown: Vec<(i64, i64)> =
                list(&q["thrown"]).iter().map(|t| (int(&t[0]), int(&t[1]))).collect();
            let fed = |f: &Value| Feeding { at: int(&f[0]), mouldy: f[2] == json!(true) };
            let fed: Vec<Feeding> = list(&q["fed"]).iter().map(fed).collect();
            verdict(mould_verdict(int(&q["seen_at"]), q["mould_trays"].as_i64(), &thrown, &fed))
        }),
        "prices": prices(&input["purchases"]),
        "amounts": outliers(&amount_outliers(&flat(&input["amounts"])), |at| at),
        "rations": each("rations", &|q| json!(ration(q))),
        "output": each("output", &output),
    })
}

fn outliers(found: &[Outlier], place: impl Fn(usize) -> usize) -> Value {
    found.iter().map(|o| json!([place(o.at), o.unit, o.ratio])).collect()
}

fn prices(input: &Value) -> Value {
    let mut feeds: BTreeMap<&str, Vec<(usize, Bought)>> = BTreeMap::new();
    for (at, feed) in list(&input["feed"]).iter().enumerate() {
        let farm = whole(&input["farm"][at]).and_then(|f| u32::try_from(f).ok()).unwrap_or(0);
        let day = i32::try_from(int(&input["day"][at])).unwrap_or(0);
        let bought = Bought::new(farm, day, real(&input["price"][at], 0.0));
        feeds.entry(feed.as_str().unwrap_or_default()).or_default().push((at, bought));
    }
    let mut found: Vec<Value> = Vec::new();
    for of in feeds.values_mut() {
        of.sort_by_key(|(_, b)| b.day);
        let all: Vec<Bought> = of.iter().map(|(_, b)| *b).collect();
        let found_here = Prices::new(all.clone()).outliers(&all);
        let outliers = outliers(&found_here, |at| of.get(at).map_or(0, |o| o.0));
        found.extend(list(&outliers).iter().cloned());
    }
    found.sort_by_key(|f| int(&f[0]));
    Value::Array(found)
}

fn ration(q: &Value) -> Vec<&'static str> {
    let class = match q["cls"].as_str().unwrap_or_default() {
        "cattle" => "dairy_cows",
        "goat" => "goats",
        "pig" => "pigs",
        "rabbit" => "rabbits",
        "layer" => "layers",
        "broiler" => "broilers",
        "chicken" => "indigenous_chickens",
        other => other,
    };
    ration_rules(&Ration {
        class,
        dry_matter: q["dm_kg"].as_f64(),
        cost: q["cost"].as_f64(),
        others: flat(&q["coop_costs"]),
        bought: q["bought_kg"].as_f64().zip(q["ration_kg"].as_f64()),
    })
}

fn output(q: &Value) -> Value {
    let of = if q["kind"] == "milk" { Output::Milk } else { Output::Eggs };
    let days = list(&q["day"]).iter().enumerate().map(|(at, day)| DayOutput {
        day: int(day),
        total: real(&q["total"][at], 0.0),
        animals: int(&q["animals"][at]),
    });
    let made = levels(of, &days.collect::<Vec<_>>(), &[]);
    json!({
        "slips": made.slips.iter().map(|(a, b, u)| json!([a, b, u])).collect::<Vec<_>>(),
        "shifts": made.steps.iter().map(|s| json!([s.at, s.ratio, s.unit, s.animals])).collect::<Vec<_>>(),
    })
}
