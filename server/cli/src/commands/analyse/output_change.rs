//! Did output really change: each farm, the programme, and what checks it.

use super::answer::{Answer, interval, joined, log_estimate};
use super::panel_file::PanelFile;
use serde_json::{Map, Value, json};
use traybook_analytics::callaway::{Control, GroupTimes, group_times};
use traybook_analytics::limits::PRE_START_EVENTS;
use traybook_analytics::member_effect::{
    Background, MemberEffect, MemberEffects, MemberRules, MemberStatus, Verdict, member_effects,
};
use traybook_analytics::programme::Programme;
use traybook_analytics::sentences::{
    Measure, estimate_sentence, output_change_sentence, programme_sentence, warning_sentence,
};

const METHOD: &str = "two-way imputation from farm-months before the start (Borusyak, Jaravel & \
    Spiess 2024), errors from placebo comparisons, variances moderated (Smyth 2004), effects \
    shrunken over farms (Morris 1983); farms whose level jumps for good are held; 95 % intervals";

const CROSS_CHECK: &str = "group-time effects against farms not yet started, averaged from the \
    period after the start (Callaway & Sant'Anna 2021)";

/// Estimates and answers.
///
/// # Errors
/// When the panel is larger than the estimates take.
pub fn answer(file: &PanelFile) -> Result<Answer, String> {
    let panel = file.panel()?;
    let effects = member_effects(&panel, &MemberRules::default(), &Background::default());
    let programme = effects.programme;
    let times = group_times(&effects.without_held(&panel), Control::NotYetStarted);
    let cross_check = times.simple(1);
    let warning = programme.as_ref().zip(cross_check.as_ref());
    let warning = warning.and_then(|(one, other)| warning_sentence(&one.estimate, other));
    let members = effects.members.iter().enumerate();
    let members: Vec<Value> = members.map(|(farm, m)| member_row(file, farm, m)).collect();
    let cross_row = joined([
        json!({ "status": if cross_check.is_some() { "estimated" } else { "not_estimable" } }),
        Value::Object(log_estimate(cross_check.as_ref())),
        json!({
            "sentence": cross_check.as_ref().map(|e| estimate_sentence(e, file.measure)),
            "own_method": CROSS_CHECK,
        }),
    ]);
    Ok(Answer::new("output-change", METHOD, units(file.measure), numbers(file, &effects))
        .with("members", Value::Array(members))
        .with("programme", programme_row(programme.as_ref(), file.measure))
        .with("cross_check", cross_row)
        .with("warning", json!(warning))
        .with("pre_start", pre_start(&times)))
}

/// Units of effects on output.
pub fn units(measure: Measure) -> Value {
    let of = match measure {
        Measure::Milk => "litres per cow-day",
        Measure::Eggs => "eggs per hen-day",
        Measure::Value => "value",
    };
    json!({
        "estimate_percent": format!("per cent of the {of} that would have been"),
        "estimate_log": format!("difference of natural logarithms of {of}"),
    })
}

fn numbers(file: &PanelFile, effects: &MemberEffects) -> Value {
    let is_estimated = |m: &&MemberEffect| m.status == MemberStatus::Estimated;
    let last = file.months.checked_sub(1);
    json!({
        "farms": file.farms.len(),
        "farms_started": file.start.iter().flatten().count(),
        "farms_estimated": effects.members.iter().filter(is_estimated).count(),
        "farms_held": effects.held.iter().filter(|held| **held).count(),
        "comparisons": effects.errors.basis,
        "start_point": effects.low_start.flag,
        "periods": file.months,
        "first_period": last.map(|_| file.period(0).json()),
        "last_period": last.map(|last| file.period(last).json()),
        "periods_usable": effects.is_month_usable.iter().filter(|u| **u).count(),
        "farm_months": file.observed(),
        "records": number(file.records.iter().sum()),
        "records_left_out": file.is_records.then_some(file.left_out),
        "records_replaced": file.is_records.then_some(file.replaced),
        "stage_adjusted": file.covariates.is_some(),
    })
}

/// A whole number where it is one.
fn number(x: f64) -> Value {
    let is_whole = x.fract().abs() <= 0.0 && (0.0..1e15).contains(&x);
    if is_whole { json!(x as u64) } else { json!(x) }
}

fn member_row(file: &PanelFile, farm: usize, member: &MemberEffect) -> Value {
    let shrunken = log_estimate(member.shrunken.as_ref());
    let renamed: Map<String, Value> = shrunken
        .into_iter()
        .filter(|(name, _)| name.as_str() != "interval_log")
        .map(|(name, value)| (format!("shrunken_{name}"), value))
        .collect();
    joined([
        json!({
            "farm": file.farms.name(farm),
            "status": member.status,
            "started": file.started.get(farm).copied().flatten().map(|p| p.json()),
            "months_before": member.pre.months,
            "records_before": number(member.pre.records),
            "months_after": member.post.months,
            "records_after": number(member.post.records),
        }),
        Value::Object(log_estimate(member.own.as_ref())),
        Value::Object(renamed),
        json!({
            "degrees_of_freedom": member.degrees_of_freedom,
            "sure_of_100": member.wrong_sign().map(|p| 100.0 * (1.0 - p)),
            "rank": member.rank,
            "verdict": member.verdict.map(verdict_word),
            "sentence": output_change_sentence(member, file.measure),
        }),
    ])
}

fn verdict_word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Increase => "increase",
        Verdict::Decrease => "decrease",
        Verdict::Unclear => "cannot_tell_yet",
    }
}

fn programme_row(programme: Option<&Programme>, measure: Measure) -> Value {
    joined([
        json!({ "status": if programme.is_some() { "estimated" } else { "not_estimable" } }),
        Value::Object(log_estimate(programme.map(|p| &p.estimate))),
        json!({
            "farms": programme.map_or(0, |p| p.farms),
            "farm_months": programme.map_or(0, |p| p.cells),
            "sentence": programme_sentence(programme, measure),
        }),
    ])
}

/// Effects before the start: near 0 when farms would have moved alike without the start.
fn pre_start(times: &GroupTimes<'_>) -> Value {
    let (earliest, latest) = PRE_START_EVENTS;
    let events = times.dynamic(1).by_event;
    let shown = events.iter().filter(|(e, _)| (earliest..=latest).contains(e));
    let row = |(event, estimate): &(i64, traybook_analytics::stats::LogEstimate)| {
        json!({
            "periods_since_start": event,
            "estimate_percent": estimate.percent().map(|p| p.value),
            "interval_percent": interval(estimate.percent().map(|p| p.interval).as_ref()),
            "estimate_log": estimate.value,
            "standard_error_log": estimate.standard_error,
            "interval_log": interval(Some(&estimate.interval)),
        })
    };
    Value::Array(shown.map(row).collect())
}
