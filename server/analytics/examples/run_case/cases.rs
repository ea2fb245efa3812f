//! Reads a case, asks the crate, and writes the answer in the shape of the case's `expected`.

use serde_json::{Value, json};
use traybook_analytics::callaway::{Control, GroupTimeEffect, group_times};
use traybook_analytics::panel::{Panel, fit_untreated};
use traybook_analytics::programme::{Averaging, Reference, imputation_effect};
use traybook_analytics::records::{Output, OutputRecord, farm_months, fill_stage, stage_basis};
use traybook_analytics::stats::LogEstimate;

use crate::{cases_money, cases_output, cases_saving, cases_spoilage};

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
        "spoilage_v2" => cases_spoilage::charts_case(input),
        "spoilage_lots" => cases_spoilage::farms_case(input),
        "batch_trays" => cases_spoilage::trays_case(input),
        "why" => cases_spoilage::why_case(config, input),
        "lot_vs_farm" => cases_spoilage::lots_case(config, input),
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
