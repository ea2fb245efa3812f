//! A member's own page of the savings report, to be printed and handed over.

use super::publish::{CAUTION, METHOD};
use super::wording::{
    amount, amount_or, between, change, is_open, month_name, or_dash, own, reason, remarks,
};
use crate::charts::number;
use crate::pdf::{About, Align, Paper, Row, Table};
use traybook_answers::Decimal;
use traybook_answers::savings::{FarmLine, Figures, Money, SavingsReport};
use traybook_domain::value::real;
use traybook_speech::Language;
use uuid::Uuid;

/// The page of a farm's member as PDF; `None` where the farm is not in the report.
pub fn member_pdf(
    report: &SavingsReport,
    farm: Uuid,
    l: Language,
) -> Result<Option<Vec<u8>>, String> {
    let Some(farm) = report.farms.iter().find(|f| f.farm_id == farm) else { return Ok(None) };
    let figures = farm.recorded();
    let title = |key: &str, month: String| {
        let args = [
            ("cooperative", report.cooperative.clone().into()),
            ("member", farm.member_name.clone().into()),
            ("month", month.into()),
        ];
        l.say(key, &args)
    };
    let mut paper = Paper::new(About {
        title: title("doc-member-title", report.month.to_string()),
        author: report.cooperative.clone(),
        language: l.tag().to_owned(),
        day: report.month.0.last_day(),
        page_of: l.say("doc-page", &[("page", "{page}".into()), ("pages", "{pages}".into())]),
    })?;
    paper.heading(1, &title("doc-member-heading", month_name(l, report)));
    paper.paragraph(&about(report, farm, l));
    paper.strong(&headline(report, farm, l));
    if let Some(said) = farm.is_estimated().then(|| certainty(&figures.money, l)) {
        paper.paragraph(&said);
    }
    paper.heading(2, &l.with("doc-money-went", "currency", report.currency.as_str()));
    paper.table(&amounts(&figures, report.digits(), l));
    rest(&mut paper, report, farm, &figures, l);
    paper.finish().map(Some)
}

fn about(report: &SavingsReport, farm: &FarmLine, l: Language) -> String {
    let area = farm.area.clone();
    let key = if area.is_some() { "doc-member-about-area" } else { "doc-member-about" };
    let args = [
        ("cooperative", report.cooperative.clone().into()),
        ("number", farm.member_number.clone().into()),
        ("farm", farm.farm.clone().into()),
        ("area", area.unwrap_or_default().into()),
        ("animals", or_dash(farm.animals.map(Decimal::real), 1, "").into()),
    ];
    l.say(key, &args)
}

fn headline(report: &SavingsReport, farm: &FarmLine, l: Language) -> String {
    let money = &farm.figures.money;
    match money.saving.filter(|_| farm.is_estimated()) {
        None => l.with("doc-you-none", "reason", reason(l, farm)),
        // Neither word may be said while zero lies in the interval.
        Some(_) if is_open(money) => l.text("doc-you-cannot-tell"),
        Some(s) if s.is_negative() => l.with("doc-you-lost", "amount", amount(report, s)),
        Some(s) => l.with("doc-you-saved", "amount", amount(report, s)),
    }
}

fn certainty(money: &Money, l: Language) -> String {
    let Some(range) = between(l, money.saving_interval) else {
        return l.text("doc-you-no-interval");
    };
    let key = if is_open(money) { "doc-you-open" } else { "doc-you-clear" };
    l.with(key, "range", range)
}

fn amounts(figures: &Figures, currency_digits: u8, l: Language) -> Table {
    // As many digits as the report gives: an egg saves a small part of a small coin.
    let digits = usize::from(currency_digits) + 2;
    let mut table = Table::new(&[("", 340.0, Align::Left), ("", 140.0, Align::Right)]);
    table.size = 11.0;
    let money = &figures.money;
    for (name, figure, is_sum) in [
        ("doc-went-baseline", money.baseline_cost, false),
        ("doc-went-eaten", money.eaten_cost, false),
        ("doc-went-feed-saving", money.feed_saving, true),
        ("doc-went-seed", money.seed_cost, false),
        ("doc-went-other", money.other_cost, false),
        ("doc-went-depreciation", money.depreciation, false),
    ] {
        let row = Row::of([l.text(name), amount_or(figure)]);
        table.rows.push(Row { ruled: is_sum, ..row });
    }
    // Bold only what is beyond chance.
    let weight = |row: Row, is_clear: bool| if is_clear { row.bold() } else { row };
    let saving = Row::of([l.text("doc-went-saving"), amount_or(money.saving)]);
    let is_clear = money.saving_interval.is_some_and(|i| !i.holds_zero());
    table.rows.push(Row { ruled: true, ..weight(saving, is_clear) });
    if money.net.is_some() {
        let row = Row::of([l.text("doc-went-output"), amount_or(money.output_value)]);
        table.rows.push(row);
        let net = Row::of([l.text("doc-went-net"), amount_or(money.net)]);
        let is_clear = money.net_interval.is_some_and(|i| !i.holds_zero());
        table.rows.push(Row { ruled: true, ..weight(net, is_clear) });
    }
    if figures.bought_cost.is_some() {
        table.rows.push(Row::of([l.text("doc-went-bought"), amount_or(figures.bought_cost)]));
    }
    for (name, figure) in [
        ("doc-per-litre", figures.saving_per_litre),
        ("doc-per-egg", figures.saving_per_egg),
        ("doc-per-animal-day", figures.saving_per_animal_day),
    ] {
        if let Some(value) = figure {
            table.rows.push(Row::of([l.text(name), number(value.real(), digits)]));
        }
    }
    table
}

/// Output, spoilage, what is missing, cautions.
fn rest(
    paper: &mut Paper,
    report: &SavingsReport,
    farm: &FarmLine,
    figures: &Figures,
    l: Language,
) {
    paper.heading(2, &l.text("doc-milk-and-eggs"));
    let mut told = Vec::new();
    if let Some(litres) = figures.litres_per_cow_day {
        told.push(l.with("doc-milk-a-day", "litres", number(litres.real(), 1)));
    }
    if let Some(eggs) = figures.hen_day_percent {
        told.push(l.with("doc-eggs-a-day", "eggs", number(eggs.real(), 1)));
    }
    if told.is_empty() {
        told.push(l.text("doc-no-output"));
    }
    if let Some(output) = &farm.output_change {
        told.push(l.with("doc-since", "change", change(l, output)));
    }
    paper.paragraph(&told.join(" "));
    paper.heading(2, &l.text("doc-trays"));
    let mut told = vec![match figures.trays_started {
        None => l.text("doc-no-trays"),
        Some(spread) => {
            let percent = or_dash(figures.trays_discarded_percent.map(Decimal::real), 1, " %");
            let args = [
                ("spread", number(real(spread), 0).into()),
                ("lost", or_dash(figures.trays_discarded.map(real), 0, "").into()),
                ("percent", percent.into()),
            ];
            l.say("doc-trays-spread", &args)
        }
    }];
    if farm.seed_is_suspect() {
        told.push(l.text("doc-spoiling-seed"));
    } else if farm.keeps_spoiling() {
        told.push(l.text("doc-spoiling"));
    }
    paper.paragraph(&told.join(" "));
    if !(farm.waits.is_empty() && farm.notes.is_empty()) {
        paper.heading(2, &l.text("doc-lacks"));
        paper.paragraph(&l.with("doc-lacks-about", "what", remarks(l, farm)));
    }
    paper.heading(2, &l.text("doc-cautions"));
    paper.paragraph(&own(l, &report.caution, CAUTION, "doc-caution"));
    paper.aside(&own(l, &report.method, METHOD, "doc-method"));
}
