//! Reads a case, asks the crate, and writes the answer in the shape of the case's `expected`.

use serde_json::{Value, json};
use traybook_analytics::callaway::{Control, GroupTimeEffect, group_times};
use traybook_analytics::member_effect::{
    MemberEffect, MemberEffects, MemberRules, MemberStatus, Verdict, member_effects,
};
use traybook_analytics::panel::{Panel, fit_untreated};
use traybook_analytics::programme::{
    Averaging, ProgrammeEffect, Reference, imputation_effect, programme_effect,
};
use traybook_analytics::records::{Output, OutputRecord, farm_months, fill_stage, stage_basis};
use traybook_analytics::stats::LogEstimate;

use crate::{cases_money, cases_saving, cases_spoilage};

/// Computes one case; an error says what is wrong with the case.
pub fn compute(case: &Value) -> Result<Value, String> {
    let (config, input) = (&case["config"], &case["input"]);
    match case["kind"].as_str().unwrap_or_default() {
        "farm_months" => records_case(config, input),
        "member_panel" => member_case(config, input),
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

/// Window in months: 0 or null is no window.
fn window(config: &Value, key: &str, otherwise: Option<u32>) -> Option<u32> {
    match config.get(key) {
        None => otherwise,
        Some(value) => whole(value).and_then(|n| u32::try_from(n).ok()).filter(|n| *n > 0),
    }
}

fn rows(values: &[f64], width: usize) -> Value {
    let value = |x: &f64| if x.is_finite() { json!(x) } else { Value::Null };
    let row = |row: &[f64]| row.iter().map(value).collect::<Vec<_>>();
    values.chunks(width.max(1)).map(row).collect()
}

fn output_of(config: &Value) -> Output {
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

fn member_rules(config: &Value) -> MemberRules {
    let house = MemberRules::default();
    MemberRules {
        kappa: real(&config["kappa"], house.kappa),
        is_transition_skipped: config["skip_transition"].as_bool().unwrap_or(true),
        months_pre_max: window(config, "pre_window", house.months_pre_max),
        months_post_max: window(config, "post_window", house.months_post_max),
        months_pre_min: count(&config["min_pre"], house.months_pre_min),
        months_post_min: count(&config["min_post"], house.months_post_min),
        records_pre_min: real(&config["min_pre_records"], house.records_pre_min),
        records_post_min: real(&config["min_post_records"], house.records_post_min),
        controls_min: count(&config["min_controls"], house.controls_min),
        members_shrunk_min: count(&config["min_members_eb"], house.members_shrunk_min),
        lags_max: count(&config["hmax"], house.lags_max),
    }
}

fn member_case(config: &Value, input: &Value) -> Result<Value, String> {
    let start = starts(&input["G"]);
    let months = count(&input["T"], 0);
    let (log_output, records) = (flat(&input["Y"]), flat(&input["N"]));
    let is_adjusted = config["stage_adjust"].as_bool().unwrap_or(false);
    let covariates = is_adjusted.then(|| {
        let filled = fill_stage(&flat(&input["stage"]), months);
        stage_basis(&filled, output_of(config))
    });
    let panel = Panel::new(months, &log_output, &records, &start, covariates.as_ref());
    let panel = panel.map_err(fail)?;
    let effects = member_effects(&panel, &member_rules(config));
    let programme = programme_effect(&panel, &effects);
    Ok(json!({
        "members": members_json(&effects.members),
        "pooled": pooled_json(&effects),
        "month": {
            "lam": month_effects(&effects),
            "n_controls": effects.fit.controls,
            "usable": effects.is_month_usable,
        },
        "beta": effects.fit.coefficients,
        "programme": programme.map(|p| programme_json(&p)),
        "programme_cs": cross_check(months, &log_output, &records, &start)?,
    }))
}

fn month_effects(effects: &MemberEffects) -> Vec<Option<f64>> {
    let months = effects.fit.month_effects.iter().zip(&effects.fit.is_connected);
    months.map(|(effect, connected)| connected.then_some(*effect)).collect()
}

/// The Callaway-Sant'Anna cross-check, without farms that started before the data.
fn cross_check(
    months: usize,
    log_output: &[f64],
    records: &[f64],
    start: &[Option<u32>],
) -> Result<Value, String> {
    let kept: Vec<usize> = (0..start.len()).filter(|i| start[*i] != Some(0)).collect();
    let take = |values: &[f64]| -> Vec<f64> {
        kept.iter().flat_map(|i| values[i * months..(i + 1) * months].to_vec()).collect()
    };
    let (log_output, records) = (take(log_output), take(records));
    let start: Vec<Option<u32>> = kept.iter().map(|i| start[*i]).collect();
    let panel = Panel::new(months, &log_output, &records, &start, None).map_err(fail)?;
    let times = group_times(&panel, Control::NotYetStarted);
    let is_empty = times.effects.is_empty();
    Ok(if is_empty { Value::Null } else { average_json(times.simple(1)) })
}

fn estimate_json(estimate: &LogEstimate) -> Value {
    json!({ "att": estimate.value, "se": estimate.standard_error })
}

/// An average over no cells is 0 with error 0 in the cases; the crate says none.
fn average_json(average: Option<LogEstimate>) -> Value {
    average.map_or_else(|| json!({ "att": 0.0, "se": 0.0 }), |a| estimate_json(&a))
}

/// An estimate that does not exist, as the cases write it.
fn no_estimate() -> Value {
    json!({ "att": null, "se": null })
}

fn programme_json(programme: &ProgrammeEffect) -> Value {
    let mut answer = estimate_json(&programme.estimate);
    answer["n_farms"] = json!(programme.farms);
    answer["n_cells"] = json!(programme.cells);
    answer
}

fn pooled_json(effects: &MemberEffects) -> Value {
    let population = effects.population;
    json!({
        "phi": effects.errors.correlation,
        "su2": effects.errors.month_variance,
        "se2": effects.errors.record_variance,
        "d0": effects.prior.degrees_of_freedom,
        "s02": effects.prior.scale,
        "A": population.map(|p| p.variance),
        "mu": population.map(|p| p.mean),
        "mu_se": population.map(|p| p.mean_standard_error),
    })
}

fn members_json(members: &[MemberEffect]) -> Value {
    let each = |f: &dyn Fn(&MemberEffect) -> Value| members.iter().map(f).collect::<Value>();
    let own = |f: &dyn Fn(&LogEstimate) -> f64| each(&|m| json!(m.own.as_ref().map(f)));
    let shrunken = |f: &dyn Fn(&LogEstimate) -> f64| each(&|m| json!(m.shrunken.as_ref().map(f)));
    json!({
        "status": each(&|m| json!(status_word(m.status))),
        "tau": own(&|e| e.value),
        "se": own(&|e| e.standard_error),
        "df": each(&|m| json!(m.degrees_of_freedom)),
        "lo": own(&|e| e.interval.lower),
        "hi": own(&|e| e.interval.upper),
        "eb": shrunken(&|e| e.value),
        "eb_se": shrunken(&|e| e.standard_error),
        "eb_lo": shrunken(&|e| e.interval.lower),
        "eb_hi": shrunken(&|e| e.interval.upper),
        "n_pre": each(&|m| json!(m.pre.months)),
        "n_post": each(&|m| json!(m.post.months)),
        "rank": each(&|m| json!(m.rank.unwrap_or(0))),
        "verdict": each(&|m| json!(verdict_word(m.verdict))),
    })
}

fn status_word(status: MemberStatus) -> &'static str {
    match status {
        MemberStatus::NotStarted => "not_started",
        MemberStatus::NoPreData => "no_pre_data",
        MemberStatus::InsufficientPre => "insufficient_pre",
        MemberStatus::InsufficientPost => "insufficient_post",
        MemberStatus::NoControls => "no_controls",
        MemberStatus::Estimated => "estimated",
    }
}

fn verdict_word(verdict: Option<Verdict>) -> &'static str {
    match verdict {
        None => "",
        Some(Verdict::Increase) => "increase",
        Some(Verdict::Decrease) => "decrease",
        Some(Verdict::Unclear) => "unclear",
    }
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
    let fit = fit_untreated(&panel, 0.0, 6);
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
