//! The savings report for the board: a PDF that says on its first page what the month was.

use super::publish::{CAUTION, METHOD, UNITS};
use super::wording::{
    amount, amount_or, bar, bars, between, is_open, money, money_or, month_name, or_dash, own,
    reason, verdict,
};
use crate::charts::{Interval, intervals_picture, number};
use crate::pdf::{About, Align, Cell, Paper, Row, Table};
use traybook_answers::Decimal;
use traybook_answers::savings::{FarmLine, Figures, OutputChange, SavingsReport, Total};
use traybook_domain::value::real;
use traybook_speech::Language;

/// Bars on one page of charts.
const BARS: usize = 22;
/// Bars in all: beyond this many members the ends are shown and the middle is left to the table.
const BARS_MAX: usize = 44;

/// The report of a month as PDF; the same bytes for the same report.
///
/// # Errors
/// A text that says what went wrong in writing.
pub fn board_pdf(report: &SavingsReport, l: Language) -> Result<Vec<u8>, String> {
    let mut paper = Paper::new(About {
        title: l.say(
            "doc-title",
            &[
                ("cooperative", report.cooperative.clone().into()),
                ("month", report.month.to_string().into()),
            ],
        ),
        author: report.cooperative.clone(),
        language: l.tag().to_owned(),
        day: report.month.0.last_day(),
        page_of: l.say("doc-page", &[("page", "{page}".into()), ("pages", "{pages}".into())]),
    })?;
    glance(&mut paper, report, l);
    area_chart(&mut paper, report, l);
    members(&mut paper, report, l);
    member_chart(&mut paper, report, l);
    adjustments(&mut paper, report, l);
    method(&mut paper, report, l);
    paper.finish()
}

/// The first page: the month at a glance.
fn glance(paper: &mut Paper, report: &SavingsReport, l: Language) {
    paper.heading(1, &l.with("doc-heading", "month", month_name(l, report)));
    let state = l.text(if report.is_closed { "doc-closed" } else { "doc-open" });
    let args = [("cooperative", report.cooperative.clone().into()), ("state", state.into())];
    paper.paragraph(&l.say("doc-state", &args));
    let Some(total) = &report.total else {
        paper.paragraph(&l.text("doc-no-totals"));
        return;
    };
    paper.strong(&headline(report, total, l));
    paper.paragraph(&meaning(total, l));
    paper.heading(2, &l.text("doc-glance"));
    let mut table = Table::new(&[("", 290.0, Align::Left), ("", 150.0, Align::Right)]);
    for (name, value, weight) in facts(report, total, l) {
        let row = Row::of([name, value]);
        table.rows.push(if weight == Weight::Bold { row.bold() } else { row });
    }
    paper.table(&table);
}

fn headline(report: &SavingsReport, total: &Total, l: Language) -> String {
    let Some(saving) = total.figures.saving else { return l.text("doc-nobody") };
    let farms = report.farms.iter().filter(|f| f.is_estimated()).count();
    let farms = l.with("doc-farms", "count", i64::try_from(farms).unwrap_or(i64::MAX));
    let key = if saving.is_negative() { "doc-together-lost" } else { "doc-together-saved" };
    l.say(key, &[("farms", farms.into()), ("amount", amount(report, saving).into())])
}

fn meaning(total: &Total, l: Language) -> String {
    let Some(range) = between(l, total.figures.saving_interval) else {
        return l.text("doc-no-interval");
    };
    let key = if is_open(&total.figures) { "doc-interval-open" } else { "doc-interval-clear" };
    l.with(key, "range", range)
}

/// How a line of the first page is set.
#[derive(PartialEq, Eq)]
enum Weight {
    Plain,
    Bold,
}

fn facts(report: &SavingsReport, total: &Total, l: Language) -> Vec<(String, String, Weight)> {
    let sums = total.recorded();
    let money_of = |key: &str| l.with(key, "currency", report.currency.as_str());
    let plain = |count: i64| number(real(count), 0);
    let trays = |count: Option<i64>| count.map_or(or_dash(None, 0, ""), plain);
    let count = |of: &dyn Fn(&FarmLine) -> bool| report.farms.iter().filter(|f| of(f)).count();
    let line = |name: String, value: String| (name, value, Weight::Plain);
    let share = percent(sums.saving_percent_of_baseline);
    let open = count(&|f| f.is_estimated() && is_open(&f.figures));
    let mut facts = vec![
        line(money_of("doc-fact-baseline"), amount_or(sums.baseline_cost)),
        line(money_of("doc-fact-feed"), amount_or(sums.feed_cost)),
        line(money_of("doc-fact-fodder"), money_or(sums.fodder_cost())),
        (money_of("doc-fact-saving"), amount_or(sums.saving), Weight::Bold),
        line(l.text("doc-fact-share"), share),
        line(l.text("doc-fact-included"), plain(total.farms_included)),
        line(l.text("doc-fact-saves"), plain(total.farms_saving)),
        line(l.text("doc-fact-loses"), plain(total.farms_losing)),
        line(l.text("doc-fact-unclear"), open.to_string()),
        line(l.text("doc-fact-left-out"), plain(total.farms_left_out)),
    ];
    facts.extend(output(report, &sums, l).into_iter().map(|(name, value)| line(name, value)));
    let lost = [
        ("trays", trays(sums.trays_discarded).into()),
        ("percent", percent(sums.trays_discarded_percent).into()),
    ];
    facts.push(line(l.text("doc-fact-trays"), trays(sums.trays_started)));
    facts.push(line(l.text("doc-fact-lost"), l.say("doc-fact-lost-share", &lost)));
    let spoiling = count(&FarmLine::keeps_spoiling);
    facts.push(line(l.text("doc-fact-spoiling"), spoiling.to_string()));
    facts.push(line(l.text("doc-fact-seed"), count(&FarmLine::seed_is_suspect).to_string()));
    facts
}

/// Milk and eggs, and on how many farms they changed.
fn output(report: &SavingsReport, sums: &Figures, l: Language) -> Vec<(String, String)> {
    let mut facts = Vec::new();
    if let Some(litres) = sums.litres_per_cow_day {
        let litres = l.with("doc-litres", "litres", number(litres.real(), 1));
        facts.push((l.text("doc-fact-milk"), litres));
    }
    if let Some(eggs) = sums.hen_day_percent {
        facts.push((l.text("doc-fact-eggs"), number(eggs.real(), 1)));
    }
    // Farms whose change has no number yet are among those of which it can not be told.
    let known = || report.farms.iter().filter(|f| f.is_estimated());
    let percent =
        || known().filter_map(|f| f.output_change.as_ref().and_then(OutputChange::between));
    let up = percent().filter(|p| p.1 > 0.0).count();
    let down = percent().filter(|p| p.2 < 0.0).count();
    let args = [
        ("up", up.to_string().into()),
        ("down", down.to_string().into()),
        ("open", (known().count() - up - down).to_string().into()),
    ];
    facts.push((l.text("doc-fact-output"), l.say("doc-up-down", &args)));
    facts
}

fn area_chart(paper: &mut Paper, report: &SavingsReport, l: Language) {
    let without = l.text("doc-area-without");
    let rows = report.areas.iter().map(|t| bar(l, &t.name, &t.recorded(), &without)).collect();
    chart(paper, report, &l.text("doc-chart-areas"), rows, l);
}

/// Charts in parts that fit a page.
fn chart(paper: &mut Paper, report: &SavingsReport, title: &str, rows: Vec<Interval>, l: Language) {
    if !rows.iter().any(|r| r.number.is_some()) {
        return;
    }
    for (index, part) in rows.chunks(BARS).enumerate() {
        let Some(picture) = intervals_picture(&bars(l, title, &report.currency, part.to_vec()))
        else {
            continue;
        };
        paper.need(picture.height + 60.0);
        if index == 0 {
            paper.heading(2, title);
            paper.aside(&l.text("doc-chart-marks"));
        }
        let said: Vec<String> = part.iter().map(|r| format!("{}: {}", r.label, r.text)).collect();
        paper.picture(&picture, 1.0, &format!("{title}. {}.", said.join("; ")));
    }
}

fn member_chart(paper: &mut Paper, report: &SavingsReport, l: Language) {
    let mut farms: Vec<(&FarmLine, f64)> = report
        .farms
        .iter()
        .filter(|f| f.is_estimated() && f.figures.saving_interval.is_some())
        .filter_map(|f| Some((f, f.figures.saving?.real())))
        .collect();
    farms.sort_by(|a, b| a.1.total_cmp(&b.1));
    let count = farms.len();
    let title = if count > BARS_MAX {
        let half = BARS_MAX / 2;
        farms.drain(half..count - half);
        l.with("doc-chart-ends", "half", half.to_string())
    } else {
        l.text("doc-chart-members")
    };
    let rows = farms.iter().map(|(f, _)| {
        let label = format!("{} {}", f.member_number, f.member_name);
        bar(l, &label, &f.figures, "")
    });
    chart(paper, report, &title, rows.collect(), l);
}

/// Heading, width, side.
const MEMBER_COLUMNS: &[(&str, f64, Align)] = &[
    ("doc-column-number", 47.0, Align::Left),
    ("doc-column-member", 97.0, Align::Left),
    ("doc-column-animals", 44.0, Align::Right),
    ("doc-column-before", 59.0, Align::Right),
    ("doc-column-feed", 59.0, Align::Right),
    ("doc-column-fodder", 51.0, Align::Right),
    ("doc-column-saving", 59.0, Align::Right),
    ("", 57.0, Align::Left),
    ("doc-column-lost", 38.0, Align::Right),
];

/// All members by area.
fn members(paper: &mut Paper, report: &SavingsReport, l: Language) {
    paper.new_page();
    paper.heading(2, &l.text("doc-members"));
    paper.aside(&l.with("doc-members-about", "currency", report.currency.as_str()));
    let heading = |key: &str| if key.is_empty() { String::new() } else { l.text(key) };
    let headings: Vec<(String, f64, Align)> =
        MEMBER_COLUMNS.iter().map(|(key, width, side)| (heading(key), *width, *side)).collect();
    let headings: Vec<(&str, f64, Align)> =
        headings.iter().map(|(name, width, side)| (name.as_str(), *width, *side)).collect();
    let mut table = Table::new(&headings);
    let no_area = l.text("doc-no-area");
    for (area, farms) in report.by_area() {
        let name = area.unwrap_or(&no_area).to_owned();
        let cells = vec![Cell { text: name.clone(), span: MEMBER_COLUMNS.len() }];
        table.rows.push(Row { cells, bold: true, ruled: true, stays: true });
        table.rows.extend(farms.iter().map(|f| member(f, l)));
        if let Some(total) = report.areas.iter().find(|t| t.name == name) {
            table.rows.push(sum(&l.with("doc-counted", "area", name), total, l));
        }
    }
    if let Some(total) = &report.total {
        table.rows.push(sum(&l.text("doc-all-counted"), total, l));
    }
    paper.table(&table);
}

/// Per cent with one digit, or a dash.
fn percent(value: Option<Decimal>) -> String {
    or_dash(value.map(Decimal::real), 1, " %")
}

fn member(farm: &FarmLine, l: Language) -> Row {
    let animals = or_dash(farm.animals.map(Decimal::real), 1, "");
    let mut row = Row::of([farm.member_number.clone(), farm.member_name.clone(), animals]);
    if farm.is_estimated() {
        row.cells.extend(amounts(&farm.recorded(), l));
    } else {
        row.cells.push(Cell { text: reason(l, farm), span: 6 });
    }
    row
}

fn amounts(figures: &Figures, l: Language) -> Vec<Cell> {
    let texts = [
        amount_or(figures.baseline_cost),
        amount_or(figures.feed_cost),
        money_or(figures.fodder_cost()),
        amount_or(figures.saving),
        verdict(l, figures),
        percent(figures.trays_discarded_percent),
    ];
    texts.map(|text| Cell { text, span: 1 }).to_vec()
}

fn sum(name: &str, total: &Total, l: Language) -> Row {
    let mut cells = vec![Cell { text: name.to_owned(), span: 2 }];
    cells.push(Cell { text: number(real(total.farms_included), 0), span: 1 });
    cells.extend(amounts(&total.recorded(), l));
    Row { cells, bold: true, ruled: true, stays: false }
}

fn adjustments(paper: &mut Paper, report: &SavingsReport, l: Language) {
    if report.adjustments.is_empty() {
        return;
    }
    paper.heading(2, &l.text("doc-corrections"));
    paper.paragraph(&l.text("doc-corrections-about"));
    let [month, farm, reported, now, change] =
        ["doc-month", "doc-farm", "doc-reported", "doc-now", "doc-change"].map(|key| l.text(key));
    let mut table = Table::new(&[
        (&month, 70.0, Align::Left),
        (&farm, 120.0, Align::Left),
        (&reported, 100.0, Align::Right),
        (&now, 100.0, Align::Right),
        (&change, 100.0, Align::Right),
    ]);
    for a in &report.adjustments {
        let number =
            |v: Option<Decimal>| v.map_or_else(|| l.text("doc-verdict-none"), |v| money(v.real()));
        table.rows.push(Row::of([
            a.month.to_string(),
            a.farm.clone(),
            number(a.reported),
            number(a.now),
            money(a.change.real()),
        ]));
    }
    paper.table(&table);
}

/// The last page: how the numbers came about and what to beware of.
fn method(paper: &mut Paper, report: &SavingsReport, l: Language) {
    paper.new_page();
    paper.heading(2, &l.text("doc-method-title"));
    paper.paragraph(&own(l, &report.method, METHOD, "doc-method"));
    let units = if report.units == UNITS { l.text("doc-units") } else { report.units.clone() };
    let args = [("units", units.into()), ("currency", report.currency.clone().into())];
    let dry = report.fodder_dry_matter_percent.to_string();
    let dry = l.with("doc-dry-matter", "percent", dry);
    paper.paragraph(&format!("{} {dry}", l.say("doc-units-of", &args)));
    paper.paragraph(&l.text("doc-complete"));
    paper.paragraph(&l.text("doc-spoiled"));
    paper.heading(2, &l.text("doc-cautions"));
    paper.paragraph(&own(l, &report.caution, CAUTION, "doc-caution"));
}
