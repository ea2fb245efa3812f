//! Reads a case, asks the crate, and writes the answer in the shape of the case's `expected`.

use serde_json::{Map, Value, json};
use traybook_analytics::callaway::{Control, GroupTimeEffect, group_times};
use traybook_analytics::lots::{LotBatch, LotRules, lot_or_farm};
use traybook_analytics::panel::{Panel, fit_untreated};
use traybook_analytics::programme::{Averaging, Reference, imputation_effect};
use traybook_analytics::records::{Output, OutputRecord, farm_months, fill_stage, stage_basis};
use traybook_analytics::spoilage::{Batch, SpoilageChart, SpoilageRules, spoilage};
use traybook_analytics::stats::LogEstimate;

use crate::{cases_money, cases_output, cases_saving};

/// Computes one case; an error says what is wrong with the case.
pub fn compute(case: &Value) -> Result<Value, String> {
    let (config, input) = (&case["config"], &case["input"]);
    match case["kind"].as_str().unwrap_or_default() {
        "farm_months" => records_case(config, input),
        "member_panel" => cases_output::member_case(config, input),
        "records_bins" => cases_output::bins_case(input),
        "dose_response" => cases_output::dose_case(config, input),
        "design" => cases_output::design_case(config, input),
        "callaway_santanna" => callaway_case(config, input),
        "imputation" => imputation_case(config, input),
        "spoilage" => spoilage_case(config, input),
        "lot_vs_farm" => lots_case(config, input),
        "purchase_spread" => cases_saving::spread_case(config, input),
        "saving_money" => cases_money::money_case(config, input),
        "saving_worked" => cases_money::worked_case(input),
        "saving_month" => cases_saving::month_case(config, input),
        "plan_noise" => Ok(crate::cases_plan::plan_case(input)),
        "review_rules" => Ok(crate::cases_plan::review_case(input)),
        kind => Err(format!("has the unknown kind {kind:?}")),
    }
}

pub fn fail(e: impl std::fmt::Display) -> String {
    format!("does not fit together: {e}")
}

/// Numbers of any nesting, row by row; null is "not a number".
pub fn flat(value: &Value) -> Vec<f64> {
    match value {
        Value::Array(parts) => parts.iter().flat_map(flat).collect(),
        other => vec![other.as_f64().unwrap_or(f64::NAN)],
    }
}

pub fn starts(value: &Value) -> Vec<Option<u32>> {
    let start = |g: &Value| whole(g).and_then(|g| u32::try_from(g).ok());
    list(value).iter().map(start).collect()
}

pub fn list(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

/// A whole number, written as `8` or `8.0`.
pub fn whole(value: &Value) -> Option<u64> {
    value.as_f64().filter(|n| *n >= 0.0 && n.fract() == 0.0).map(|n| n as u64)
}

pub fn count(value: &Value, otherwise: usize) -> usize {
    whole(value).and_then(|n| usize::try_from(n).ok()).unwrap_or(otherwise)
}

pub fn real(value: &Value, otherwise: f64) -> f64 {
    value.as_f64().unwrap_or(otherwise)
}

pub fn rows(values: &[f64], width: usize) -> Value {
    let value = |x: &f64| if x.is_finite() { json!(x) } else { Value::Null };
    let row = |row: &[f64]| row.iter().map(value).collect::<Vec<_>>();
    values.chunks(width.max(1)).map(row).collect()
}

pub fn output_of(config: &Value) -> Output {
    if config["output"] == "eggs" { Output::Eggs } else { Output::Milk }
}

fn records_case(config: &Value, input: &Value) -> Result<Value, String> {
    let record = |r: &Value| OutputRecord {
        farm: count(&r[0], usize::MAX),
        month: count(&r[1], usize::MAX),
        output: r[2].as_f64(),
        animals: r[3].as_f64(),
        stage: r[4].as_f64(),
    };
    let records: Vec<OutputRecord> = list(&input["records"]).iter().map(record).collect();
    let farms = records.iter().map(|r| r.farm + 1).max().unwrap_or(0);
    let months = count(&input["T"], 0);
    let ratio = real(&config["outlier_ratio"], 4.0);
    let cells = farm_months(&records, farms, months, ratio).map_err(fail)?;
    let filled = fill_stage(&cells.stage, months);
    let basis = stage_basis(&filled, output_of(config));
    let columns: Vec<Vec<&[f64]>> =
        basis.values().chunks(3 * months.max(1)).map(|farm| farm.chunks(3).collect()).collect();
    Ok(json!({
        "Y": rows(&cells.log_output, months),
        "N": rows(&cells.records, months),
        "stage": rows(&cells.stage, months),
        "dropped": cells.dropped,
        "stage_filled": rows(&filled, months),
        "X": columns,
    }))
}

fn estimate_json(estimate: &LogEstimate) -> Value {
    json!({ "att": estimate.value, "se": estimate.standard_error })
}

/// An average over no cells is 0 with error 0 in the cases; the crate says none.
pub fn average_json(average: Option<LogEstimate>) -> Value {
    average.map_or_else(|| json!({ "att": 0.0, "se": 0.0 }), |a| estimate_json(&a))
}

/// An estimate that does not exist, as the cases write it.
fn no_estimate() -> Value {
    json!({ "att": null, "se": null })
}

fn callaway_case(config: &Value, input: &Value) -> Result<Value, String> {
    let start = starts(&input["G"]);
    let months = count(&input["T"], 0);
    let log_output = flat(&input["Y"]);
    let ones = vec![1.0; log_output.len()];
    let panel = Panel::new(months, &log_output, &ones, &start, None).map_err(fail)?;
    let is_not_yet = config["control"].as_str().unwrap_or("notyet") == "notyet";
    let control = if is_not_yet { Control::NotYetStarted } else { Control::NeverStarted };
    let times = group_times(&panel, control);
    let event_min = config["min_e"].as_f64().map_or(0, |e| e as i64);
    let effect = |e: &GroupTimeEffect| json!({ "g": e.start, "t": e.month, "att": e.effect, "se": e.standard_error });
    let (dynamic, group) = (times.dynamic(event_min), times.by_group(event_min));
    let overall = |o: &Option<LogEstimate>, key: &str, by: Vec<Value>| {
        let mut answer = o.as_ref().map_or_else(no_estimate, estimate_json);
        answer[key] = Value::Array(by);
        answer
    };
    let by_e = dynamic.by_event.iter().map(|(e, x)| json!([e, x.value, x.standard_error]));
    let by_g = group.by_group.iter().map(|(g, x)| json!([g, x.value, x.standard_error]));
    Ok(json!({
        "att_gt": times.effects.iter().map(effect).collect::<Vec<_>>(),
        "simple": average_json(times.simple(event_min)),
        "dynamic": overall(&dynamic.overall, "by_e", by_e.collect()),
        "group": overall(&group.overall, "by_g", by_g.collect()),
    }))
}

fn imputation_case(config: &Value, input: &Value) -> Result<Value, String> {
    let start = starts(&input["G"]);
    let months = count(&input["T"], 0);
    let log_output = flat(&input["Y"]);
    let ones = vec![1.0; log_output.len()];
    let panel = Panel::new(months, &log_output, &ones, &start, None).map_err(fail)?;
    let skipped = u32::from(config["skip_transition"].as_bool().unwrap_or(false));
    let treated: Vec<bool> = start
        .iter()
        .flat_map(|g| (0..months).map(move |t| g.is_some_and(|g| t >= (g + skipped) as usize)))
        .collect();
    let is_farm_equal = config["farm_equal"].as_bool().unwrap_or(false);
    let averaging = if is_farm_equal { Averaging::FarmEqual } else { Averaging::CellWeighted };
    let fit = fit_untreated(&panel, 0.0);
    let of = |reference: Reference| {
        imputation_effect(&panel, &fit, &treated, averaging, reference)
            .map_or_else(no_estimate, |p| estimate_json(&p.estimate))
    };
    Ok(json!({
        "cohort_horizon": of(Reference::CohortHorizon),
        "horizon": of(Reference::Horizon),
        "all": of(Reference::All),
    }))
}

fn spoilage_rules(config: &Value) -> SpoilageRules {
    let house = SpoilageRules::default();
    SpoilageRules {
        share_ok: real(&config["p0"], house.share_ok),
        share_bad: real(&config["p1"], house.share_bad),
        flag_at: real(&config["h"], house.flag_at),
        step_max: real(&config["cap"], house.step_max),
        chart_max: real(&config["smax"], house.chart_max),
        batches_min: count(&config["min_batches"], house.batches_min),
        trays_min: whole(&config["min_trays"]).map_or(house.trays_min, |n| n as u32),
        one_bad_p: real(&config["one_bad_p"], house.one_bad_p),
        correlation_min: real(&config["rho_lo"], house.correlation_min),
        correlation_max: real(&config["rho_hi"], house.correlation_max),
        correlation_default: real(&config["rho_default"], house.correlation_default),
        trim_share: real(&config["trim"], house.trim_share),
    }
}

fn trays(value: &Value) -> u32 {
    value.as_f64().map_or(0, |n| n as u32)
}

fn spoilage_case(config: &Value, input: &Value) -> Result<Value, String> {
    let farms = list(&input["farms"]);
    let mut classes: Vec<&str> =
        farms.iter().flat_map(|f| list(&f["temp_class"])).filter_map(Value::as_str).collect();
    classes.sort_unstable();
    classes.dedup();
    let class = |name: &Value| {
        let place = classes.iter().position(|c| Some(*c) == name.as_str());
        place.and_then(|k| u8::try_from(k).ok())
    };
    let batches = |farm: &Value| -> Vec<Batch> {
        let each = list(&farm["started"]).iter().zip(list(&farm["discarded"])).enumerate();
        each.map(|(k, (n, d))| Batch {
            started: trays(n),
            discarded: trays(d),
            temperature_class: class(&farm["temp_class"][k]),
        })
        .collect()
    };
    let farms: Vec<Vec<Batch>> = farms.iter().map(batches).collect();
    let answer = spoilage(&farms, &spoilage_rules(config));
    let named = classes.iter().zip(&answer.class_multipliers);
    let multipliers: Map<String, Value> =
        named.map(|(name, m)| ((*name).to_owned(), json!(m))).collect();
    Ok(json!({
        "rho": answer.correlation,
        "multipliers": multipliers,
        "farms": answer.farms.iter().map(chart_json).collect::<Vec<_>>(),
    }))
}

fn chart_json(chart: &SpoilageChart) -> Value {
    json!({
        "status": chart.status,
        "S": chart.value,
        "path": chart.path,
        "since": chart.flagged_since,
        "first_alarm": chart.flagged_first,
        "used": chart.batches_used,
        "last_p": chart.last_p,
    })
}

fn lots_case(config: &Value, input: &Value) -> Result<Value, String> {
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
