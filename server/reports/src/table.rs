//! The savings report for a terminal.

use crate::savings::reason;
use chrono::Datelike as _;
use std::fmt::Write as _;
use traybook_answers::Decimal;
use traybook_answers::savings::{FarmLine, Figures, Interval, SavingsReport, Total};
use traybook_speech::{Language, number};

/// Columns of figures with their width.
const COLUMNS: [(&str, usize); 8] = [
    ("doc-column-animals", 8),
    ("doc-column-before", 12),
    ("doc-column-eaten", 12),
    ("doc-column-fodder", 11),
    ("doc-column-saving", 12),
    ("doc-column-share", 10),
    ("doc-column-output", 9),
    ("doc-column-lost", 11),
];
/// Characters of a member's number, of a name, of what is written under the table, and of a reason.
const NUMBER: usize = 7;
const NAME: usize = 18;
const TEXT: usize = 110;
const REASON: usize = 78;

/// Whole currency units, as people read money.
fn money(value: f64) -> String {
    number(value, 0)
}

fn amount(value: Option<Decimal>) -> String {
    value.map_or("-".to_owned(), |v| money(v.real()))
}

fn percent(value: Option<Decimal>) -> String {
    value.map_or("-".to_owned(), |v| format!("{v} %"))
}

fn range(language: Language, interval: Option<Interval>) -> String {
    let Some((low, high)) = interval.map(Interval::ends) else { return "-".to_owned() };
    language.say("doc-range", &[("low", money(low).into()), ("high", money(high).into())])
}

fn cut(text: &str, width: usize) -> String {
    let mut cut: String = text.chars().take(width).collect();
    if text.chars().count() > width {
        cut.pop();
        cut.push('…');
    }
    format!("{cut:<width$}")
}

/// A text in lines of at most so many characters, broken between words.
fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(' ').filter(|w| !w.is_empty()) {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// The report as a table.
#[must_use]
pub fn savings(r: &SavingsReport, language: Language) -> String {
    let first = r.month.0.first_day();
    let month = language.month(first.year(), first.month());
    let title = [("cooperative", r.cooperative.as_str().into()), ("month", month.into())];
    let mut out = format!("{} · {}\n\n", language.say("doc-title", &title), r.currency);
    heads(&mut out, language);
    r.farms.iter().for_each(|l| farm(&mut out, l, language));
    out.push('\n');
    for t in &r.areas {
        total(&mut out, &format!("{} {}", language.text("sheet-area"), t.name), t, language);
    }
    if let Some(t) = &r.total {
        total(&mut out, &language.text("cooperative"), t, language);
    }
    for text in notes(r, language) {
        out.push('\n');
        wrapped(&text, TEXT).iter().for_each(|line| {
            let _ = writeln!(out, "{line}");
        });
    }
    out
}

/// The heads of the columns, each as wide as its figures.
fn heads(out: &mut String, language: Language) {
    let left = ["doc-column-number", "doc-column-member"];
    let all = left.into_iter().zip([NUMBER, NAME]).chain(COLUMNS);
    let all: Vec<(Vec<String>, usize)> =
        all.map(|(key, width)| (wrapped(&language.text(key), width), width)).collect();
    let most = all.iter().map(|(lines, _)| lines.len()).max().unwrap_or(0);
    for at in 0..most {
        let cell = |(place, (lines, width)): (usize, &(Vec<String>, usize))| {
            let text = lines.get(at).map(String::as_str).unwrap_or_default();
            if place < left.len() { format!("{text:<width$}") } else { format!("{text:>width$}") }
        };
        let line: Vec<String> = all.iter().enumerate().map(cell).collect();
        let _ = writeln!(out, "{}", line.join(" ").trim_end());
    }
}

/// What stands under the table.
fn notes(r: &SavingsReport, language: Language) -> Vec<String> {
    let with_currency = |value: Option<Decimal>| format!("{} {}", amount(value), r.currency);
    let mut notes = Vec::new();
    if !r.adjustments.is_empty() || r.settled.is_some_and(|s| s.units != 0) {
        let count = i64::try_from(r.adjustments.len()).unwrap_or(i64::MAX);
        let change = with_currency(r.adjustments_total);
        let args = [("count", count.into()), ("amount", change.into())];
        notes.push(language.say("table-adjustments", &args));
    }
    if r.is_running {
        notes.push(language.text("doc-running"));
    }
    if let Some(s) = r.total.as_ref().and_then(|t| t.since_start) {
        let args = [
            ("amount", with_currency(Some(s.saving)).into()),
            ("range", range(language, s.saving_interval).into()),
            ("months", s.farm_months.into()),
            ("of", s.of_farm_months.into()),
        ];
        notes.push(language.say("table-since", &args));
    }
    let interval = r.total.as_ref().and_then(|t| t.figures.money.saving_interval);
    notes.push(match interval {
        None => language.text("doc-no-interval"),
        Some(i) => {
            let key = if i.holds_zero() { "doc-interval-open" } else { "doc-interval-clear" };
            language.say(key, &[("range", range(language, interval).into())])
        }
    });
    notes.extend(["term-baseline", "term-eaten", "doc-spoiled"].map(|key| language.text(key)));
    notes.push(language.text("doc-caution"));
    notes
}

/// The start of a line, with as many animals.
fn start(name: &str, animals: &str) -> String {
    let width = COLUMNS[0].1;
    format!("{name} {animals:>width$}")
}

/// The money of a line.
fn figures(t: &Figures) -> Vec<String> {
    let m = &t.money;
    vec![
        amount(m.baseline_cost),
        amount(m.eaten_cost),
        m.fodder_cost().map_or("-".to_owned(), money),
        amount(m.saving),
        percent(t.saving_percent_of_baseline),
    ]
}

/// Figures, each in its column after the animals.
fn columns(values: &[String]) -> String {
    let widths = COLUMNS.iter().skip(1).map(|(_, width)| *width);
    let cells: Vec<String> =
        values.iter().zip(widths).map(|(value, width)| format!("{value:>width$}")).collect();
    cells.join(" ")
}

fn farm(out: &mut String, l: &FarmLine, language: Language) {
    let f = &l.figures;
    let animals = l.animals.map_or("-".to_owned(), |n| n.to_string());
    let name = format!("{} {}", cut(&l.member_number, NUMBER), cut(&l.member_name, NAME));
    let rest = if f.money.saving.is_some() {
        let mut values = figures(f);
        values.push(match f.litres_per_cow_day {
            Some(litres) => format!("{} l", litres.rounded(1)),
            None => percent(f.hen_day_percent),
        });
        values.push(percent(f.trays_discarded_percent));
        columns(&values)
    } else {
        let under = format!("\n{} ", start(&cut("", NUMBER + 1 + NAME), ""));
        wrapped(&reason(language, l), REASON).join(&under)
    };
    let _ = writeln!(out, "{} {rest}", start(&name, &animals));
}

fn total(out: &mut String, name: &str, t: &Total, language: Language) {
    let args = [
        ("farms", t.farms_included.into()),
        ("saved", t.farms_saving.into()),
        ("lost", t.farms_losing.into()),
        ("open", t.farms_unclear.into()),
        ("out", t.farms_left_out.into()),
    ];
    let farms = language.say("table-farms", &args);
    let name = start(&cut(name, NUMBER + 1 + NAME), "");
    let _ = writeln!(out, "{name} {}   {farms}", columns(&figures(&t.recorded())));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::savings::{FarmInput, Input, SumInput, report};
    use traybook_domain::Month;
    use traybook_domain::effects::MEASURES;
    use uuid::Uuid;

    /// A month in which no farm has a number.
    fn empty() -> crate::savings::Report {
        let area = Uuid::from_u128(1);
        let farm = FarmInput {
            farm: Uuid::from_u128(2),
            farm_code: "F1".to_owned(),
            member: Uuid::from_u128(3),
            member_number: "1".to_owned(),
            member_name: "Asha".to_owned(),
            area,
            sums: [0; MEASURES],
            has_uncounted_group: false,
            fed_unweighed_trays: 0,
            fodder_minor: 0,
            rows: Vec::new(),
            since_start: None,
            output_change: None,
            spoilage_status: None,
        };
        let of_area = SumInput { name: "Msituni".to_owned(), ..SumInput::default() };
        report(Input {
            month: Month::parse("2026-02").expect("a month"),
            is_running: false,
            cooperative: "A".to_owned(),
            currency: "TZS".to_owned(),
            digits: 2,
            fodder_dry_matter: 1_500,
            farms: vec![farm],
            areas: [(area, of_area)].into(),
            total: SumInput::default(),
            overstated: Vec::new(),
            adjustments: Vec::new(),
            settled_minor: 0,
            earlier_method: Vec::new(),
            data_version: 1,
        })
    }

    #[test]
    fn an_area_without_a_number_has_dashes_and_no_zeros() {
        let text = savings(&empty().publish(false), Language::En);
        let line = text.lines().find(|l| l.starts_with("Area Msituni")).expect("the area");
        let columns: Vec<&str> = line.split_whitespace().collect();
        assert_eq!(columns.get(2..7), Some(["-"; 5].as_slice()), "{line}");
        assert!(
            line.ends_with("0 farms: 0 saved, 0 lost, 0 cannot tell yet; 1 left out"),
            "{line}"
        );
    }
    /// The words of a table are of its language; no head of a column is broken within a word.
    #[test]
    fn a_table_is_of_one_language() {
        for language in Language::ALL.iter().copied() {
            for (key, width) in COLUMNS {
                let head = language.text(key);
                let longest = head.split(' ').map(|w| w.chars().count()).max();
                assert!(longest.is_some_and(|w| w <= width), "{key}: {head}");
            }
        }
        let text = savings(&empty().publish(false), Language::Sw);
        for word in ["akiba ya Februari 2026", "Mwanachama", "Eneo Msituni", "hakuna shamba"] {
            assert!(text.contains(word), "{word}: {text}");
        }
        for word in ["saved", "Baseline", "Member", "interval"] {
            assert!(!text.contains(word), "{word}: {text}");
        }
    }
}
