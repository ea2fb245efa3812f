//! Effects of each start group in each period, and their averages.

use super::answer::{Answer, interval, joined, log_estimate};
use super::args::OutputChange;
use super::output_change::units;
use super::panel_file::PanelFile;
use serde_json::{Value, json};
use traybook_analytics::callaway::{GroupTimeEffect, group_times};
use traybook_analytics::sentences::estimate_sentence;
use traybook_analytics::stats::{Interval, LogEstimate};

const METHOD: &str = "group-time effects without covariates, varying base period, influence \
    function errors (Callaway & Sant'Anna 2021); 95 % intervals, each for itself";

/// Half width of a 95 % interval in standard errors.
const CRITICAL: f64 = 1.96;

/// Estimates and answers.
///
/// # Errors
/// When the panel is larger than the estimates take.
pub fn answer(file: &PanelFile, asked: &OutputChange) -> Result<Answer, String> {
    let panel = file.panel()?;
    let times = group_times(&panel, asked.control.control());
    let event_min = i64::from(asked.event_min);
    let (dynamic, group) = (times.dynamic(event_min), times.by_group(event_min));
    let numbers = json!({
        "farms": file.farms.len(),
        "farms_started": file.start.iter().flatten().count(),
        "farms_never_started": file.start.iter().filter(|g| g.is_none()).count(),
        "periods": file.months,
        "farm_months": file.observed(),
        "effects": times.effects.len(),
        "control": asked.control.word(),
        "event_min": asked.event_min,
        "covariates": 0,
    });
    let average = |name: &str, estimate: Option<&LogEstimate>| {
        let status = if estimate.is_some() { "estimated" } else { "not_estimable" };
        let sentence = estimate.map(|e| estimate_sentence(e, file.measure));
        let sentence = sentence.unwrap_or_else(|| "cannot tell yet: nothing to compare".to_owned());
        joined([
            json!({ "average": name, "status": status }),
            Value::Object(log_estimate(estimate)),
            json!({ "sentence": sentence }),
        ])
    };
    let simple = times.simple(event_min);
    let averages = vec![
        average("simple", simple.as_ref()),
        average("dynamic", dynamic.overall.as_ref()),
        average("group", group.overall.as_ref()),
    ];
    let effects = times.effects.iter().map(|e| effect_row(file, e)).collect();
    let by_event = dynamic.by_event.iter().map(|(event, estimate)| {
        let place = json!({ "periods_since_start": event, "status": "estimated" });
        joined([place, Value::Object(log_estimate(Some(estimate)))])
    });
    let by_group = group.by_group.iter().map(|(start, estimate)| {
        let place = json!({ "group": period(file, *start), "status": "estimated" });
        joined([place, Value::Object(log_estimate(Some(estimate)))])
    });
    Ok(Answer::new("output-change", METHOD, units(file.measure), numbers)
        .with("effects", Value::Array(effects))
        .with("averages", Value::Array(averages))
        .with("by_event", by_event.collect())
        .with("by_group", by_group.collect()))
}

fn period(file: &PanelFile, position: u32) -> Value {
    file.period(usize::try_from(position).unwrap_or(usize::MAX)).json()
}

fn effect_row(file: &PanelFile, effect: &GroupTimeEffect) -> Value {
    // A group of one farm beside one control has no spread to judge an error by.
    let has_error = effect.farms > 1 && effect.controls > 1;
    let half = CRITICAL * effect.standard_error;
    let ends = Interval { lower: effect.effect - half, upper: effect.effect + half };
    let shown = has_error.then_some(ends);
    json!({
        "group": period(file, effect.start),
        "period": period(file, effect.month),
        "status": "estimated",
        "estimate_log": effect.effect,
        "standard_error_log": has_error.then_some(effect.standard_error),
        "interval_log": interval(shown.as_ref()),
        "farms": effect.farms,
        "controls": effect.controls,
    })
}
