//! The savings report for a terminal.

use crate::savings::Said as _;
use std::fmt::Write as _;
use traybook_answers::Decimal;
use traybook_answers::savings::{FarmLine, Interval, SavingsReport, Total};
use traybook_speech::{Language, number};

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

fn between(interval: Option<Interval>) -> String {
    let Some((low, high)) = interval.map(Interval::ends) else { return "no number".to_owned() };
    format!("{} to {}", money(low), money(high))
}

fn cut(text: &str, width: usize) -> String {
    let mut cut: String = text.chars().take(width).collect();
    if text.chars().count() > width {
        cut.pop();
        cut.push('…');
    }
    format!("{cut:<width$}")
}

/// The report as a table of at most 110 columns.
#[must_use]
pub fn savings(r: &SavingsReport) -> String {
    let mut out = format!("{} · savings of {} · {}\n\n", r.cooperative, r.month, r.currency);
    for [number, name, animals, before, feed, fodder, saving, share, output, trays] in [
        [
            "Member", "Name", "Animals", "Baseline", "Eaten", "Fodder", "Saving", "Of base",
            "Output", "Trays",
        ],
        ["", "", "", "", "", "cost", "(loss -)", "", "a day", "lost"],
    ] {
        let (number, name) = (cut(number, 7), cut(name, 18));
        let _ = writeln!(
            out,
            "{number} {name} {animals:>8} {before:>12} {feed:>12} {fodder:>11} {saving:>12} \
             {share:>8} {output:>9} {trays:>8}"
        );
    }
    r.farms.iter().for_each(|l| farm(&mut out, l));
    out.push('\n');
    for t in &r.areas {
        total(&mut out, &format!("Area {}", t.name), t);
    }
    if let Some(t) = &r.total {
        total(&mut out, "Co-operative", t);
    }
    if !r.adjustments.is_empty() || r.settled.is_some_and(|s| s.units != 0) {
        let (count, change) = (r.adjustments.len(), amount(r.adjustments_total));
        let _ = writeln!(
            out,
            "\n{count} adjustments of earlier, closed months, and feed in use at the close: \
             {change} {}",
            r.currency
        );
    }
    let interval = r.total.as_ref().and_then(|t| t.figures.money.saving_interval);
    if r.is_running {
        out.push_str("\nThe month is not over: there is no saving yet, only facts to date.\n");
    }
    if let Some(s) = r.total.as_ref().and_then(|t| t.since_start) {
        let _ = writeln!(
            out,
            "\nSince the start: {} {}, 95 % interval {}, of {} of {} farm-months.",
            amount(Some(s.saving)),
            r.currency,
            between(s.saving_interval),
            s.farm_months,
            s.of_farm_months
        );
    }
    let _ = writeln!(
        out,
        "\nBaseline: what the same animals would have eaten without fodder, at this month's prices.\n\
         Eaten: bought feed, spread over the days until the next purchase. Fodder cost: seed, other\n\
         costs and depreciation, spoiled trays included. Amounts in whole {}.\n\
         95 % interval of the whole: {}. Ask the local livestock service about rations and disease;\n\
         do not feed mouldy fodder.",
        r.currency,
        between(interval),
    );
    out
}

fn farm(out: &mut String, l: &FarmLine) {
    let (f, m) = (&l.figures, &l.figures.money);
    let animals = l.animals.map_or("-".to_owned(), |n| n.to_string());
    let output = match f.litres_per_cow_day {
        Some(litres) => format!("{} l", litres.rounded(1)),
        None => percent(f.hen_day_percent),
    };
    let (number, name) = (cut(&l.member_number, 7), cut(&l.member_name, 18));
    let _ = write!(out, "{number} {name} {animals:>8} ");
    if m.saving.is_some() {
        let _ = writeln!(
            out,
            "{:>12} {:>12} {:>11} {:>12} {:>8} {output:>9} {:>8}",
            amount(m.baseline_cost),
            amount(m.eaten_cost),
            m.fodder_cost().map_or("-".to_owned(), money),
            amount(m.saving),
            percent(f.saving_percent_of_baseline),
            percent(f.trays_discarded_percent),
        );
        return;
    }
    let waits: Vec<String> = l.waits.iter().map(|w| w.said(Language::En)).collect();
    let what = if waits.is_empty() { String::new() } else { format!(": {}", waits.join("; ")) };
    let why = format!("no number: {}{what}", l.status.text().replace('_', " "));
    let _ = writeln!(out, "{}", cut(&why, 74).trim_end());
}

fn total(out: &mut String, name: &str, t: &Total) {
    let f = t.recorded();
    let m = &f.money;
    let _ = writeln!(
        out,
        "{} {:>12} {:>12} {:>11} {:>12} {:>8}   {} farms: {} saved, {} lost, {} cannot tell yet; {} left out",
        cut(name, 35),
        amount(m.baseline_cost),
        amount(m.eaten_cost),
        m.fodder_cost().map_or("-".to_owned(), money),
        amount(m.saving),
        percent(f.saving_percent_of_baseline),
        t.farms_included,
        t.farms_saving,
        t.farms_losing,
        t.farms_unclear,
        t.farms_left_out,
    );
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::savings::{FarmInput, Input, SumInput, report};
    use traybook_domain::Month;
    use traybook_domain::effects::MEASURES;
    use uuid::Uuid;

    #[test]
    fn an_area_without_a_number_has_dashes_and_no_zeros() {
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
        let made = report(Input {
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
        });
        let text = savings(&made.publish(false));
        let line = text.lines().find(|l| l.starts_with("Area Msituni")).expect("the area");
        let columns: Vec<&str> = line.split_whitespace().collect();
        assert_eq!(columns.get(2..7), Some(["-"; 5].as_slice()), "{line}");
        assert!(
            line.ends_with("0 farms: 0 saved, 0 lost, 0 cannot tell yet; 1 left out"),
            "{line}"
        );
    }
}
