//! Words and numbers that the printed reports share.

use super::{FarmLine, Figures, Published};
use crate::charts::{Interval, Intervals, Words, number};

/// Whole currency units, as people read money.
pub fn money(value: f64) -> String {
    number(value, 0)
}

/// Whole currency units, or a dash where it is not known.
pub fn money_or(value: Option<f64>) -> String {
    value.map_or("–".to_owned(), money)
}

/// A number with so many digits, or a dash.
pub fn or_dash(value: Option<f64>, digits: usize, unit: &str) -> String {
    value.map_or("–".to_owned(), |v| format!("{}{unit}", number(v, digits)))
}

/// An interval of money.
pub fn between(interval: Option<(f64, f64)>) -> Option<String> {
    interval.map(|(low, high)| format!("{} to {}", money(low), money(high)))
}

/// Name of the month.
pub fn month_name(report: &Published) -> String {
    report.month.first_day().format("%B %Y").to_string()
}

/// Whether the interval leaves it open on which side of zero the saving lies.
pub fn is_open(figures: &Figures) -> bool {
    figures.interval.is_some_and(|(low, high)| low <= 0.0 && high >= 0.0)
}

/// What the saving means, in a word or two.
pub fn verdict(figures: &Figures) -> &'static str {
    match figures.get("saving") {
        None => "no number",
        // How sure it is can not be said.
        Some(_) if figures.interval.is_none() => "no interval",
        Some(_) if is_open(figures) => "cannot tell",
        Some(s) if s > 0.0 => "saves",
        Some(s) if s < 0.0 => "loses",
        Some(_) => "neither",
    }
}

/// Why a farm has no number.
pub fn reason(farm: &FarmLine) -> String {
    match farm.status.as_str() {
        "not_started" => "no number: fodder not started".to_owned(),
        "start_month" => "no number: fodder began in this month".to_owned(),
        _ if farm.missing.is_empty() => "no number".to_owned(),
        _ => format!("no number; missing: {}", farm.missing.join("; ")),
    }
}

/// A number of things with their name.
pub fn count(value: Option<f64>, one: &str, many: &str) -> String {
    let value = value.unwrap_or(0.0);
    let name = if (value - 1.0).abs() < 0.5 { one } else { many };
    format!("{} {name}", number(value, 0))
}

/// A row of the chart of savings.
pub fn bar(label: &str, figures: &Figures, without: &str) -> Interval {
    let saving = figures.get("saving");
    let number = saving.zip(figures.interval).map(|(s, (low, high))| (s, low, high));
    let text = match (saving, between(figures.interval)) {
        (Some(s), Some(range)) => format!("{} ({range})", money(s)),
        (Some(s), None) => format!("{}, no interval yet", money(s)),
        (None, _) => without.to_owned(),
    };
    Interval { label: label.to_owned(), text, number }
}

/// A chart of savings.
pub fn bars(title: &str, currency: &str, rows: Vec<Interval>) -> Intervals {
    let words = Words { title: title.to_owned(), ..Words::default() };
    Intervals { words, axis: format!("saving, {currency} (left of zero: loss)"), rows }
}

/// A text as a sentence: a capital letter in front and a full stop behind.
pub fn sentence(text: &str) -> String {
    let mut letters = text.trim().trim_end_matches('.').chars();
    let first: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
    format!("{first}{}.", letters.as_str())
}
