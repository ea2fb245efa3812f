//! The savings report for a terminal.

use crate::savings::{Report, Status, Total};
use std::fmt::Write as _;
use traybook_domain::money::{format_decimal, mul_div};

/// Whole currency units with thousands apart, as people read money.
fn money(minor: i64, digits: u8) -> String {
    let units = mul_div(minor, 1, 10_i64.pow(u32::from(digits))).unwrap_or(0);
    let text = units.unsigned_abs().to_string();
    let mut out = String::new();
    for (index, digit) in text.chars().enumerate() {
        if index > 0 && (text.len() - index).is_multiple_of(3) {
            out.push(' ');
        }
        out.push(digit);
    }
    if units < 0 { format!("-{out}") } else { out }
}

fn tenth(top: i64, bottom: i64) -> String {
    let tenths = if bottom > 0 { mul_div(top, 1_000, bottom) } else { None };
    tenths.map_or("-".to_owned(), |t| format!("{} %", format_decimal(t, 1)))
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
pub fn savings(r: &Report) -> String {
    let (head, digits) = (&r.head, r.head.digits);
    let mut out = String::new();
    let _ = writeln!(out, "{} · savings of {} · {}\n", head.cooperative, head.month, head.currency);
    let _ = writeln!(
        out,
        "{} {} {:>8} {:>12} {:>12} {:>11} {:>12} {:>8} {:>9} {:>8}",
        cut("Member", 7),
        cut("Name", 18),
        "Animals",
        "Before",
        "Feed now",
        "Fodder",
        "Saving",
        "Of bef.",
        "Output",
        "Trays"
    );
    let _ = writeln!(
        out,
        "{} {} {:>8} {:>12} {:>12} {:>11} {:>12} {:>8} {:>9} {:>8}",
        cut("", 7),
        cut("", 18),
        "",
        "fodder",
        "",
        "cost",
        "(loss -)",
        "",
        "a day",
        "lost"
    );
    for l in &r.lines {
        let a = &l.amounts;
        let animals = l.animals.map_or("-".to_owned(), |n| format_decimal(n, 1));
        let output = if a.cow_days > 0 {
            let tenths = mul_div(a.milk_ml, 1, a.cow_days * 100).unwrap_or(0);
            format!("{} l", format_decimal(tenths, 1))
        } else {
            tenth(a.eggs, a.hen_days)
        };
        let _ = write!(
            out,
            "{} {} {animals:>8} ",
            cut(&l.farm.member_number, 7),
            cut(&l.farm.member_name, 18)
        );
        match l.saving() {
            Some(saving) => {
                let _ = writeln!(
                    out,
                    "{:>12} {:>12} {:>11} {:>12} {:>8} {output:>9} {:>8}",
                    money(a.baseline, digits),
                    money(a.feed, digits),
                    money(a.fodder_cost(), digits),
                    money(saving, digits),
                    tenth(saving, a.baseline),
                    tenth(a.trays_discarded, a.trays_started),
                );
            }
            None => {
                let why = match l.status {
                    Status::NotStarted => "no number: fodder not started".to_owned(),
                    Status::StartMonth => "no number: fodder started this month".to_owned(),
                    _ => format!("no number: {}", l.missing.join("; ")),
                };
                let _ = writeln!(out, "{}", cut(&why, 74).trim_end());
            }
        }
    }
    out.push('\n');
    for t in &r.areas {
        total(&mut out, &format!("Area {}", t.name), t, digits);
    }
    total(&mut out, "Co-operative", &r.total, digits);
    let change: i64 = head.adjustments.iter().map(crate::savings::Adjustment::change_minor).sum();
    if !head.adjustments.is_empty() {
        let count = head.adjustments.len();
        let _ = writeln!(
            out,
            "\n{count} adjustments of earlier, closed months: {} {}",
            money(change, digits),
            head.currency
        );
    }
    let _ = writeln!(
        out,
        "\nBefore fodder: the ration before fodder at this month's prices for the animals now kept.\n\
         Fodder cost: seed, other costs and depreciation, spoiled trays included. Amounts in whole {}.\n\
         95 % interval of the whole: {}. Ask the local livestock service about rations and disease;\n\
         do not feed mouldy fodder.",
        head.currency,
        r.total.interval().map_or("cannot tell under two farms".to_owned(), |(low, high)| {
            format!("{} to {}", money(low, digits), money(high, digits))
        })
    );
    out
}

fn total(out: &mut String, name: &str, t: &Total, digits: u8) {
    let left: i64 = t.left_out.values().sum();
    let a = &t.amounts;
    let known = |text: String| if t.included > 0 { text } else { "-".to_owned() };
    let _ = writeln!(
        out,
        "{} {:>12} {:>12} {:>11} {:>12} {:>8}   {} farms counted ({} save, {} lose), {left} left out",
        cut(name, 35),
        known(money(a.baseline, digits)),
        known(money(a.feed, digits)),
        known(money(a.fodder_cost(), digits)),
        known(money(a.saving(), digits)),
        known(tenth(a.saving(), a.baseline)),
        t.included,
        t.saving_losing.0,
        t.saving_losing.1,
    );
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::savings::{FarmInput, Input, report};
    use traybook_domain::Month;
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
            started: None,
            sums: None,
            groups: Vec::new(),
            feeds: Vec::new(),
            seed_minor: Some(0),
            depreciation_minor: 0,
            fed_unweighed_trays: 0,
        };
        let made = report(Input {
            month: Month::parse("2026-02").expect("a month"),
            cooperative: "A".to_owned(),
            currency: "TZS".to_owned(),
            digits: 2,
            fodder_dry_matter: 1_500,
            farms: vec![farm],
            areas: [(area, "Msituni".to_owned())].into(),
            feeds: [].into(),
            median_prices: Vec::new(),
            adjustments: Vec::new(),
            extras: [].into(),
            data_version: 1,
        });
        let text = savings(&made);
        let line = text.lines().find(|l| l.starts_with("Area Msituni")).expect("the area");
        let columns: Vec<&str> = line.split_whitespace().collect();
        assert_eq!(columns.get(2..7), Some(["-"; 5].as_slice()), "{line}");
        assert!(line.ends_with("0 farms counted (0 save, 0 lose), 1 left out"), "{line}");
    }
}
