//! What is said of a change in milk or eggs, for pages.

use crate::web::page::{Page, counted, figure};
use serde_json::json;
use traybook_answers::estimates::{
    Comparison, Enterprise, LevelChange, OutputFigures, OutputStatus, ProgrammeOutputChange,
    StartPoint, Verdict,
};
use traybook_speech::Arg;

/// A change in output in one sentence.
pub(crate) fn output_sentence(
    page: &Page,
    enterprise: Enterprise,
    change: &OutputFigures,
) -> String {
    let what = page.word("output-of", enterprise.text());
    let (Some(low), Some(high)) = (change.low, change.high) else {
        let args = [("what", what.into()), ("why", why(page, change).into())];
        return page.tell("output-cannot-tell", &args);
    };
    let key = match change.verdict {
        Some(Verdict::Increase) => "output-higher",
        Some(Verdict::Decrease) => "output-lower",
        _ => "output-unclear",
    };
    sentence(page, key, &what, (change.percent, low, high))
}

/// Why there is no number, in words.
fn why(page: &Page, change: &OutputFigures) -> String {
    if let Some(level) = &change.level {
        return level_sentence(page, level);
    }
    let status = change.status.text().replace('_', "-");
    let args = [
        ("before", records(change.records_before)),
        ("months", whole(change.months_before)),
        ("after", records(change.records_after)),
        ("later", whole(change.months_after)),
    ];
    page.tell(&format!("output-status-{status}"), &args)
}

/// A lasting jump: when, how much, and what may have made it.
fn level_sentence(page: &Page, level: &LevelChange) -> String {
    let digits = if level.factor < 10.0 { 2 } else { 0 };
    let args = [
        ("month", page.month(level.month.0).into()),
        ("factor", figure(level.factor, digits).into()),
        ("likely", page.word("level-cause", level.likely.text()).into()),
    ];
    page.tell("output-status-check-level", &args)
}

fn sentence(page: &Page, key: &str, what: &str, of: (Option<f64>, f64, f64)) -> String {
    let (percent, low, high) = of;
    let args = [
        ("what", what.into()),
        ("percent", percent.map(|v| figure(v.abs(), 0)).unwrap_or_default().into()),
        ("low", figure(low, 0).into()),
        ("high", figure(high, 0).into()),
    ];
    page.tell(key, &args)
}

/// The sentence that an interval of a change allows: one across zero allows none but "cannot tell".
fn change_key(low: f64, high: f64) -> &'static str {
    match (low > 0.0, high < 0.0) {
        (true, _) => "output-higher",
        (_, true) => "output-lower",
        _ => "output-unclear",
    }
}

fn records(count: f64) -> Arg {
    counted(&json!(count), 0)
}

fn whole(count: u64) -> Arg {
    counted(&json!(count), 0)
}

/// What stands behind a farm's sentence, and what would make it firmer.
pub(crate) fn output_notes(
    page: &Page,
    enterprise: Enterprise,
    change: &OutputFigures,
) -> Vec<String> {
    let mut notes = Vec::new();
    if change.status == OutputStatus::Estimated {
        let args =
            [("before", records(change.records_before)), ("after", records(change.records_after))];
        let weaker = change.comparison == Some(Comparison::Settled);
        notes.push(page.tell(if weaker { "output-basis-settled" } else { "output-basis" }, &args));
        let is_said = change.verdict.is_some_and(|v| v != Verdict::Unclear);
        if let Some(sure) = change.sure_of_100.filter(|_| is_said) {
            notes.push(page.with("output-sure", "sure", figure(sure.floor(), 0)));
        }
        let touches =
            change.low.zip(change.high).is_some_and(|(low, high)| low <= 0.0 && high >= 0.0);
        if is_said && touches {
            notes.push(page.say("output-kept"));
        }
    }
    if change.days_left_out > 0 {
        notes.push(page.tell("output-left-out", &[("days", whole(change.days_left_out))]));
    }
    if let Some(month) = change.shifted_months.first() {
        notes.push(page.with("output-shifted", "month", page.month(month.0)));
    }
    if change.half_days > 0 {
        notes.push(page.tell("output-half-days", &[("days", whole(change.half_days))]));
    }
    if change.is_stage_missing {
        notes.push(page.word("output-stage", enterprise.text()));
    }
    notes
}

/// What a whole programme's output did, in one sentence.
pub(crate) fn programme_sentence(
    page: &Page,
    enterprise: Enterprise,
    programme: Option<&ProgrammeOutputChange>,
) -> String {
    let what = page.word("output-of", enterprise.text());
    let figures = programme.and_then(|p| p.percent.zip(p.low.zip(p.high)));
    let (Some(p), Some((value, (low, high)))) = (programme, figures) else {
        let why = page.say("output-programme-unknown");
        return page.tell("output-cannot-tell", &[("what", what.into()), ("why", why.into())]);
    };
    format!(
        "{} {}",
        sentence(page, change_key(low, high), &what, (Some(value), low, high)),
        page.with("from-farms", "farms", i64::try_from(p.farms_estimated).unwrap_or(i64::MAX))
    )
}

/// What makes the programme's sentence weaker than it looks.
pub(crate) fn programme_notes(page: &Page, p: &ProgrammeOutputChange) -> Vec<String> {
    let mut keys = Vec::new();
    if p.percent.is_some() {
        keys.extend(p.has_few_comparisons.then_some("output-few-comparisons"));
        keys.extend(p.is_start_by_area.then_some("output-by-area"));
        keys.extend((!p.are_area_shocks_known).then_some("output-area-unknown"));
        keys.extend(p.is_cross_check_apart.then_some("output-apart"));
    }
    keys.extend(match p.start_point {
        StartPoint::Low => Some("output-start-low"),
        StartPoint::High => Some("output-start-high"),
        StartPoint::None | StartPoint::NotChecked => None,
    });
    let mut notes: Vec<String> = keys.into_iter().map(|key| page.say(key)).collect();
    if let Some(order) = &p.start_order {
        let args = [
            ("as", whole(order.as_drawn)),
            ("all", whole(order.as_drawn + order.otherwise)),
            ("name", order.name.as_str().into()),
        ];
        notes.push(page.tell("output-order-followed", &args));
    }
    notes
}

/// A change of an area in a few words.
pub(crate) fn in_short(page: &Page, percent: Option<f64>, ends: Option<(f64, f64)>) -> String {
    let Some((percent, (low, high))) = percent.zip(ends) else {
        return page.say("cannot-tell-yet");
    };
    let sign = if percent > 0.0 { "+" } else { "" };
    let args = [
        ("percent", format!("{sign}{}", figure(percent, 0)).into()),
        ("low", figure(low, 0).into()),
        ("high", figure(high, 0).into()),
    ];
    page.tell("output-short", &args)
}
