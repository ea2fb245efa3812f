//! Cases of spoilage: charts, lots, trays and conditions.

use serde_json::{Map, Value, json};
use std::collections::BTreeMap;
use traybook_analytics::lots::{LotBatch, LotRules, lot_or_farm};
use traybook_analytics::spoilage::{
    Batch, Chart, Charter, FlagSource, Shared, lot_levels, serial_correlation, share_ok,
    tray_correlation,
};
use traybook_analytics::why::{Condition, ConditionStatus, Times, WhyBatch, WhyRules, why};
use traybook_domain::planning::trays::TraySums;

use crate::cases::{count, list, real};

fn trays(value: &Value) -> u32 {
    value.as_f64().map_or(0, |n| n as u32)
}

fn day(value: &Value) -> i32 {
    value.as_f64().map_or(0, |n| n as i32)
}

fn shared(input: &Value) -> Shared {
    Shared {
        correlation: real(&input["rho"], 0.05),
        serial: real(&input["rho_s"], 0.0),
        share_ok: real(&input["p0"], 0.04),
        class_multipliers: Vec::new(),
    }
}

/// Charts of farms with a multiplier for each batch.
pub fn charts_case(input: &Value) -> Result<Value, String> {
    let shared = shared(input);
    let farm = |farm: &Value| {
        let batch = |k: usize| Batch {
            day: day(&farm["day"][k]),
            started: trays(&farm["started"][k]),
            discarded: trays(&farm["discarded"][k]),
            lot: None,
            temperature_class: None,
        };
        let batches: Vec<Batch> = (0..list(&farm["day"]).len()).map(batch).collect();
        let mut charter = Charter::new(&shared);
        let level = |k: usize| Some(real(&farm["mult"][k], 1.0));
        let chart = charter.chart(&batches, level, day(&farm["today"]));
        let mut shown = chart_json(&chart);
        let steps = charter.steps().iter();
        shown["path"] = steps.clone().map(|s| json!(s.value)).collect();
        shown["h_path"] = steps.map(|s| json!(s.threshold())).collect();
        shown
    };
    Ok(json!({ "farms": list(&input["farms"]).iter().map(farm).collect::<Vec<_>>() }))
}

fn chart_json(chart: &Chart) -> Value {
    json!({
        "status": chart.status,
        "S": chart.value,
        "R": chart.clearing,
        "h": chart.threshold,
        "since": chart.flagged_since(),
        "first_alarm": chart.flagged_first,
        "cleared": chart.cleared,
        "onsets": chart.onsets,
        "used": chart.batches_used,
        "last_p": chart.last_p,
    })
}

/// Flags of farms whose seed lots are known.
pub fn farms_case(input: &Value) -> Result<Value, String> {
    let (farms, lots) = (Names::new(&input["farm"]), Names::new(&input["lot"]));
    let mut by_farm: BTreeMap<u32, Vec<Batch>> = BTreeMap::new();
    let mut place = Vec::new();
    for (k, farm) in farms.code.iter().enumerate() {
        let batches = by_farm.entry(*farm).or_default();
        let is_known = !input["lot"][k].is_null();
        batches.push(Batch {
            day: day(&input["day"][k]),
            started: trays(&input["started"][k]),
            discarded: trays(&input["discarded"][k]),
            lot: is_known.then(|| lots.code[k]),
            temperature_class: None,
        });
        place.push(batches.len() - 1);
    }
    let codes: Vec<u32> = by_farm.keys().copied().collect();
    let batches: Vec<Vec<Batch>> = by_farm.into_values().collect();
    let shared = shared(input);
    let levels = lot_levels(&batches, shared.correlation);
    let level = |k: usize| {
        let farm = codes.binary_search(&farms.code[k]).unwrap_or(0);
        levels.of(farm, batches[farm][place[k]].lot)
    };
    let each = || (0..place.len()).map(level);
    let mut charter = Charter::new(&shared);
    let mut shown = Map::new();
    for (at, code) in codes.iter().enumerate() {
        let today = day(&input["today"]);
        let made = charter.farm(&batches[at], |lot| levels.of(at, lot), today);
        let raw = made.raw.as_ref().unwrap_or(&made.chart);
        let source = made.source.map(|s| match s {
            FlagSource::Farm => "farm",
            FlagSource::FarmOrLot => "farm_or_lot",
            FlagSource::SeedLot => "seed_lot",
        });
        let line = json!({
            "status": made.status, "source": source, "S": made.chart.value,
            "h": made.chart.threshold, "S_raw": raw.value, "onsets": made.chart.onsets,
            "since": made.chart.flagged_since(),
        });
        shown.insert(farms.text(*code), line);
    }
    let farms_min = count(&input["serial_min_farms"], 10);
    let rates = [[0.03; 9].as_slice(), &[0.06, 0.09, 0.2]].concat();
    let rates: Vec<(f64, u64)> = rates.into_iter().map(|rate| (rate, 80)).collect();
    Ok(json!({
        "multiplier": each().map(|l| l.multiplier).collect::<Vec<_>>(),
        "other_farms": each().map(|l| l.other_farms).collect::<Vec<_>>(),
        "pooled_rho": tray_correlation(&batches),
        "serial": serial_correlation(&batches, &levels, shared.correlation, farms_min),
        "level": share_ok(&rates),
        "farms": shown,
    }))
}

/// Records of batches to trays begun and lost.
pub fn trays_case(input: &Value) -> Result<Value, String> {
    let batch = |b: &Value| {
        let of = |key: &str| b[key].as_i64();
        let sums = TraySums {
            spread: of("spread"),
            before: of("before").unwrap_or(0),
            discarded: of("discarded").unwrap_or(0),
            harvested: of("harvested").unwrap_or(0),
            harvested_g: of("harvested_g"),
            thrown_g: of("thrown_g").unwrap_or(0),
            ..TraySums::default()
        };
        let counted = sums.trays(of("planned").unwrap_or(1));
        counted.map(|trays| [trays.begun, trays.lost])
    };
    Ok(json!({ "counted": list(&input["batches"]).iter().map(batch).collect::<Vec<_>>() }))
}

fn why_rules(config: &Value) -> WhyRules {
    let house = WhyRules::default();
    WhyRules {
        prior: real(&config["prior"], house.prior),
        variance_min: real(&config["tau_lo"], house.variance_min),
        variance_max: real(&config["tau_hi"], house.variance_max),
        variance_start: real(&config["tau2"], house.variance_start),
        discovery_rate: real(&config["q"], house.discovery_rate),
        batches_min: count(&config["min_batches"], house.batches_min),
        farms_min: count(&config["min_farms"], house.farms_min),
        trays_min: real(&config["min_trays"], house.trays_min),
        lost_min: real(&config["min_lost"], house.lost_min),
        known_min: real(&config["known"], house.known_min),
        worth: real(&config["worth"], house.worth),
        own_batches_min: count(&config["own_batches"], house.own_batches_min),
        all_trays_min: real(&config["min_total"], house.all_trays_min),
        all_lost_min: real(&config["min_lost_total"], house.all_lost_min),
    }
}

/// Conditions that go with losses.
pub fn why_case(config: &Value, input: &Value) -> Result<Value, String> {
    let farms = Names::new(&input["farm"]);
    let batch = |k: usize| WhyBatch {
        farm: farms.code[k],
        started: trays(&input["started"][k]),
        discarded: trays(&input["discarded"][k]),
    };
    let batches: Vec<WhyBatch> = (0..farms.code.len()).map(batch).collect();
    let named: BTreeMap<&String, &Value> =
        input["X"].as_object().into_iter().flat_map(|x| x.iter()).collect();
    let column = |values: &Value| -> Vec<Option<bool>> {
        list(values).iter().map(|v| v.as_f64().map(|v| v > 0.5)).collect()
    };
    let columns: Vec<Vec<Option<bool>>> = named.values().map(|v| column(v)).collect();
    let answer = why(&batches, &columns, real(&input["rho"], 0.05), &why_rules(config));
    let causes = named.keys().zip(&answer.conditions);
    let causes: Map<String, Value> =
        causes.map(|(name, c)| ((*name).clone(), condition_json(c, &farms))).collect();
    Ok(match answer.fit {
        None => json!({ "status": "too_few", "causes": causes }),
        Some(fit) => json!({
            "status": "estimated",
            "intercept": fit.intercept,
            "tau2": fit.farm_variance,
            "phi": fit.dispersion,
            "farms": fit.farms,
            "batches": fit.batches,
            "causes": causes,
        }),
    })
}

fn condition_json(condition: &Condition, farms: &Names) -> Value {
    let counts = condition.counts;
    let mut shown = json!({
        "status": match condition.status {
            ConditionStatus::TooFew => "too_few",
            ConditionStatus::Linked => "linked",
            ConditionStatus::NoDifference => "no_difference",
            ConditionStatus::CannotTell => "cannot_tell",
        },
        "with_batches": counts.with,
        "without_batches": counts.without,
        "known": counts.with + counts.without,
    });
    let Some(e) = &condition.effect else { return shown };
    let ends = |t: &Times| json!([t.value, t.interval.lower, t.interval.upper]);
    shown["beta"] = json!(e.slope);
    shown["se"] = json!(e.standard_error);
    shown["p"] = json!(e.p);
    shown["times"] = json!(e.times.value);
    shown["lo"] = json!(e.times.interval.lower);
    shown["hi"] = json!(e.times.interval.upper);
    shown["share"] = json!(e.share);
    shown["omega2"] = json!(e.slope_variance);
    shown["own"] = Value::Object(e.own.iter().map(|(f, t)| (farms.text(*f), ends(t))).collect());
    shown
}

pub fn lots_case(config: &Value, input: &Value) -> Result<Value, String> {
    let house = LotRules::default();
    let rules = LotRules {
        correlation: real(&config["rho"], house.correlation),
        discovery_rate: real(&config["q"], house.discovery_rate),
        level: real(&config["alpha"], house.level),
        batches_min: count(&config["min_batches"], house.batches_min),
        farms_min: count(&config["min_farms"], house.farms_min),
    };
    let (farms, lots) = (Names::new(&input["farm"]), Names::new(&input["lot"]));
    let batch = |k: usize| LotBatch {
        farm: farms.code[k],
        lot: lots.code[k],
        started: trays(&input["started"][k]),
        discarded: trays(&input["discarded"][k]),
    };
    let size = farms.code.len().min(lots.code.len());
    let batches: Vec<LotBatch> = (0..size).map(batch).collect();
    let answer = lot_or_farm(&batches, &rules);
    let mut shown = json!({
        "verdict": answer.verdict,
        "df_lot": answer.degrees.lot,
        "df_farm": answer.degrees.farm,
        "df_error": answer.degrees.error,
    });
    let Some(tests) = answer.tests else {
        return Ok(shown);
    };
    shown["F_lot"] = json!(tests.lot.f);
    shown["F_farm"] = json!(tests.farm.f);
    shown["p_lot"] = json!(tests.lot.p);
    shown["p_farm"] = json!(tests.farm.p);
    shown["var_lot"] = json!(tests.lot.variance);
    shown["var_farm"] = json!(tests.farm.variance);
    shown["mse"] = json!(tests.mean_square);
    shown["bad_lots"] = tests.bad_lots.iter().map(|lot| lots.name(*lot).clone()).collect();
    let by_lot = |f: &dyn Fn(&traybook_analytics::lots::LotEffect) -> f64| -> Value {
        let each = tests.lots.iter().map(|l| (lots.text(l.lot), json!(f(l))));
        Value::Object(each.collect())
    };
    shown["lot_effects"] = by_lot(&|l| l.effect);
    shown["lot_p"] = by_lot(&|l| l.p);
    Ok(shown)
}

/// Ids of a case, numbers or words, as codes in their own order.
struct Names {
    names: Vec<Value>,
    code: Vec<u32>,
}

impl Names {
    fn new(ids: &Value) -> Self {
        let order = |a: &Value, b: &Value| match (a.as_f64(), b.as_f64()) {
            (Some(a), Some(b)) => a.total_cmp(&b),
            _ => a.to_string().cmp(&b.to_string()),
        };
        let mut names = list(ids).to_vec();
        names.sort_by(order);
        names.dedup();
        let code = |id: &Value| names.binary_search_by(|n| order(n, id)).map_or(0, |k| k as u32);
        let code = list(ids).iter().map(code).collect();
        Self { names, code }
    }

    fn name(&self, code: u32) -> &Value {
        &self.names[code as usize]
    }

    fn text(&self, code: u32) -> String {
        let name = self.name(code);
        name.as_str().map_or_else(|| name.to_string(), str::to_owned)
    }
}
