//! The savings report for the board: a PDF that says on its first page what the month was.

use super::publish::{CAUTION, METHOD, UNITS};
use super::wording::{
    amount, amount_or, bar, bars, between, is_open, money, money_or, month_name, or_dash, own,
    reason, verdict,
};
use crate::charts::{Interval, intervals_picture, number};
use crate::pdf::{About, Align, Cell, Paper, Row, Table};
use traybook_answers::Decimal;
use traybook_answers::savings::{
    FarmLine, Figures, Interval as Range, OutputChange, SavingsReport, Total,
};
use traybook_domain::value::real;
use traybook_speech::Language;

/// Bars on one page of charts.
const BARS: usize = 14;
/// Bars in all: beyond this many members the ends are shown and the middle is left to the table.
const BARS_MAX: usize = 44;

/// The report of a month as PDF; the same bytes for the same report.
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
    let money = &total.figures.money;
    if report.is_running {
        return l.text("doc-running");
    }
    let Some(saving) = money.saving else { return l.text("doc-nobody") };
    let farms = report.farms.iter().filter(|f| f.is_estimated()).count();
    let farms = l.with("doc-farms", "count", i64::try_from(farms).unwrap_or(i64::MAX));
    let key = match (is_open(money), saving.is_negative()) {
        (true, _) => "doc-together-open",
        (false, true) => "doc-together-lost",
        (false, false) => "doc-together-saved",
    };
    l.say(key, &[("farms", farms.into()), ("amount", amount(report, saving).into())])
}

fn meaning(total: &Total, l: Language) -> String {
    let money = &total.figures.money;
    let Some(range) = between(l, money.saving_interval) else {
        return l.text("doc-no-interval");
    };
    let key = if is_open(money) { "doc-interval-open" } else { "doc-interval-clear" };
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
    let money = &sums.money;
    let weight = |interval: Option<Range>| match interval {
        Some(i) if !i.holds_zero() => Weight::Bold,
        _ => Weight::Plain,
    };
    let mut facts = vec![
        line(money_of("doc-fact-baseline"), amount_or(money.baseline_cost)),
        line(money_of("doc-fact-eaten"), amount_or(money.eaten_cost)),
        line(money_of("doc-fact-feed-saving"), amount_or(money.feed_saving)),
        line(money_of("doc-fact-fodder"), money_or(money.fodder_cost())),
        (money_of("doc-fact-saving"), amount_or(money.saving), weight(money.saving_interval)),
    ];
    if money.net.is_some() {
        facts.push(line(money_of("doc-fact-output-value"), amount_or(money.output_value)));
        let net = amount_or(money.net);
        facts.push((money_of("doc-fact-net"), net, weight(money.net_interval)));
    }
    facts.extend(since(total, report, l));
    facts.extend([
        line(l.text("doc-fact-share"), share),
        line(l.text("doc-fact-included"), plain(total.farms_included)),
        line(l.text("doc-fact-saves"), plain(total.farms_saving)),
        line(l.text("doc-fact-loses"), plain(total.farms_losing)),
        line(l.text("doc-fact-unclear"), plain(total.farms_unclear)),
        line(l.text("doc-fact-left-out"), plain(total.farms_left_out)),
    ]);
    let why = total.left_out_by_status.iter().map(|(status, farms)| {
        let name = l.text(&format!("doc-left-out-{}", status.text()));
        line(name, plain(*farms))
    });
    facts.extend(why);
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

/// The sum since the start, beside how many farm-months it is of.
fn since(total: &Total, report: &SavingsReport, l: Language) -> Vec<(String, String, Weight)> {
    let Some(s) = total.since_start else { return Vec::new() };
    let is_clear = s.saving_interval.is_some_and(|i| !i.holds_zero());
    let weight = if is_clear { Weight::Bold } else { Weight::Plain };
    let name = l.with("doc-fact-since", "currency", report.currency.as_str());
    let months = [
        ("months", number(real(s.farm_months), 0).into()),
        ("of", number(real(s.of_farm_months), 0).into()),
    ];
    vec![
        (name, amount_or(Some(s.saving)), weight),
        (
            l.text("doc-fact-since-range"),
            between(l, s.saving_interval).unwrap_or_else(|| amount_or(None)),
            Weight::Plain,
        ),
        (l.text("doc-fact-since-months"), l.say("doc-x-of-y", &months), Weight::Plain),
    ]
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
    let rows =
        report.areas.iter().map(|t| bar(l, &t.name, &t.recorded().money, &without)).collect();
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
        .filter(|f| f.is_estimated() && f.figures.money.saving_interval.is_some())
        .filter_map(|f| Some((f, f.figures.money.saving?.real())))
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
        bar(l, &label, &f.figures.money, "")
    });
    chart(paper, report, &title, rows.collect(), l);
}

/// Heading, width, side.
pub(super) const MEMBER_COLUMNS: &[(&str, f64, Align)] = &[
    ("doc-column-number", 44.0, Align::Left),
    ("doc-column-member", 87.0, Align::Left),
    ("doc-column-animals", 42.0, Align::Right),
    ("doc-column-before", 59.0, Align::Right),
    ("doc-column-eaten", 59.0, Align::Right),
    ("doc-column-fodder", 51.0, Align::Right),
    ("doc-column-saving", 59.0, Align::Right),
    ("", 57.0, Align::Left),
    ("doc-column-lost", 53.0, Align::Right),
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
        table.rows.push(Row { cells, bold: true, ruled: true, stays: true, room: 0.0 });
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
pub(super) fn percent(value: Option<Decimal>) -> String {
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
    let money = &figures.money;
    let texts = [
        amount_or(money.baseline_cost),
        amount_or(money.eaten_cost),
        money_or(money.fodder_cost()),
        amount_or(money.saving),
        verdict(l, money),
        percent(figures.trays_discarded_percent),
    ];
    texts.map(|text| Cell { text, span: 1 }).to_vec()
}

fn sum(name: &str, total: &Total, l: Language) -> Row {
    let mut cells = vec![Cell { text: name.to_owned(), span: 2 }];
    cells.push(Cell { text: number(real(total.farms_included), 0), span: 1 });
    cells.extend(amounts(&total.recorded(), l));
    Row { cells, bold: true, ruled: true, stays: false, room: 0.0 }
}

fn adjustments(paper: &mut Paper, report: &SavingsReport, l: Language) {
    let settled = report.settled.filter(|s| s.units != 0);
    restated(paper, report, l);
    if report.adjustments.is_empty() && settled.is_none() {
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
    if let Some(settled) = settled {
        let mut cells = vec![Cell { text: l.text("doc-settled"), span: 4 }];
        cells.push(Cell { text: money(settled.real()), span: 1 });
        table.rows.push(Row { cells, ..Row::default() });
    }
    paper.table(&table);
}

/// Months closed by the earlier method, and what this one says of them.
fn restated(paper: &mut Paper, report: &SavingsReport, l: Language) {
    if report.earlier_method.is_empty() {
        return;
    }
    paper.heading(2, &l.text("doc-earlier"));
    paper.paragraph(&l.text("doc-earlier-about"));
    let [month, reported, now] =
        ["doc-month", "doc-reported", "doc-by-this-method"].map(|key| l.text(key));
    let mut table = Table::new(&[
        (&month, 100.0, Align::Left),
        (&reported, 150.0, Align::Right),
        (&now, 150.0, Align::Right),
    ]);
    for r in &report.earlier_method {
        let row = [r.month.to_string(), amount_or(r.reported), amount_or(r.now)];
        table.rows.push(Row::of(row));
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
    paper.heading(2, &l.text("doc-terms"));
    for term in TERMS {
        paper.paragraph(&l.text(&format!("term-{term}")));
    }
    paper.heading(2, &l.text("doc-cautions"));
    paper.paragraph(&own(l, &report.caution, CAUTION, "doc-caution"));
}

/// One sentence a term, for the board.
pub const TERMS: [&str; 9] =
    ["eaten", "baseline", "index", "interval", "waiting", "missing", "held", "net", "unseen"];
