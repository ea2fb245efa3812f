//! The savings report as a page and as files.

use super::month::choose;
use crate::web::blocks::{Block, Cell, Column, Leaf, Link, Table};
use crate::web::member::result::{net_sentence, saving_sentence, since_start_sentence};
use crate::web::page::{NONE, Page, figure, plain_money, shown};
use crate::web::site::{Shown, XLSX, file, query};
use crate::web::visit::Visit;
use traybook_answers::Decimal;
use traybook_answers::savings::{
    FarmLine, Interval as Between, Money, Note, OutputChange, Restated, SavingsReport, Total,
};
use traybook_app::savings::Form;
use traybook_domain::Month;
use traybook_domain::value::real;
use traybook_reports::charts::{self, Interval, Intervals, Words};

/// Members in the table of one page.
const ON_PAGE: usize = 50;
/// Bars of the chart.
const BARS: usize = 6;

/// What all counted farms saved together, in one sentence.
pub(crate) fn total_sentence(page: &Page, report: &SavingsReport) -> String {
    if report.is_running {
        return page.say("saving-status-running");
    }
    let total = report.total.as_ref();
    total.map_or(page.say("saving-total-none"), |total| saving_sentence(page, &total.figures.money))
}

/// Their saving with what milk and eggs gained or lost, and whether that was shown to come from the
/// fodder; none without a price.
fn total_net(page: &Page, report: &SavingsReport) -> Option<String> {
    let net = net_sentence(page, &report.total.as_ref()?.figures.money)?;
    let is_association = report.farms.iter().any(|l| l.notes.contains(&Note::OutputAssociation));
    let why = if is_association { "net-association" } else { "net-causal" };
    Some(format!("{net} {}", page.say(why)))
}

/// What they saved since the start, beside how many farm-months it is of.
pub(crate) fn since_sentence(page: &Page, report: &SavingsReport) -> String {
    let since = report.total.as_ref().and_then(|t| t.since_start);
    since.map_or(page.say("since-none"), |since| since_start_sentence(page, since))
}

/// Months closed by the earlier method, and what this one says of them; nothing where there are none.
pub(crate) fn add_restated(leaf: &mut Leaf, page: &Page, report: &SavingsReport) {
    if report.earlier_method.is_empty() {
        return;
    }
    let row = |r: &Restated| vec![page.month(r.month.0).into(), amount(r.reported), amount(r.now)];
    leaf.add(Block::Table(Table {
        caption: page.with("earlier-method", "currency", page.currency.as_str()),
        columns: vec![
            Column::text(page.say("month")),
            Column::number(page.say("earlier-reported")),
            Column::number(page.say("earlier-now")),
        ],
        rows: report.earlier_method.iter().map(row).collect(),
        total: None,
    }));
    leaf.text("earlier-method-about");
}

pub(crate) async fn show_savings(visit: Visit) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    let month = visit.month(actor)?;
    let report = visit.state.app.savings_report(actor, month).await?;
    let title = page.with("savings-of", "month", page.month(month));
    let mut leaf =
        Leaf::new(page.clone(), title).back(format!("/month?month={month}"), page.say("nav-month"));
    leaf.add(Block::Form(choose(&page, "/savings", month)));
    if report.total.is_some() {
        leaf.add(Block::Lead(total_sentence(&page, &report)));
        if let Some(net) = total_net(&page, &report) {
            leaf.add(Block::Text(net));
        }
        leaf.add(Block::Text(since_sentence(&page, &report)));
    }
    for o in &report.rations_overstated {
        let key = if o.percent > 0.0 { "rations-too-high" } else { "rations-too-low" };
        let args = [
            ("class", page.word("class", &o.enterprise).into()),
            ("percent", figure(o.percent.abs(), 0).into()),
            ("farms", o.farms.into()),
        ];
        leaf.add(Block::Text(page.tell(key, &args)));
    }
    if !report.is_closed {
        leaf.add(Block::Text(page.figures_of(report.as_of)));
    }
    leaf.text(if report.is_closed { "month-closed" } else { "month-open" });
    add_restated(&mut leaf, &page, &report);
    leaf.add(Block::Links(vec![
        Link::to(format!("/savings.xlsx?month={month}"), page.say("as-workbook")),
        Link::to(format!("/savings.pdf?month={month}"), page.say("as-pdf")),
        Link::to(format!("/savings.csv?month={month}"), page.say("as-csv")),
    ]));
    if !report.areas.is_empty() {
        leaf.add(Block::Table(by_area(&page, &report, month)));
    }
    let area = visit.field("area").unwrap_or_default();
    let in_area = |l: &&FarmLine| area.is_empty() || l.area.as_deref() == Some(area);
    let mut lines: Vec<&FarmLine> = report.farms.iter().filter(in_area).collect();
    lines.sort_by(|a, b| evidence(b).total_cmp(&evidence(a)));
    let first: Vec<&FarmLine> = lines.iter().take(BARS).copied().collect();
    if let Some(chart) = bars(&page, &first) {
        leaf.add(Block::Chart(chart));
    }
    let from = visit.skip()?;
    let on_page: Vec<&FarmLine> = lines.iter().skip(from).take(ON_PAGE).copied().collect();
    leaf.add(Block::Table(by_member(&page, &on_page, area)));
    if from.saturating_add(ON_PAGE) < lines.len() {
        let skip = (from + ON_PAGE).to_string();
        let month = month.to_string();
        let to = query(&[("month", &month), ("area", area), ("skip", &skip)]);
        leaf.add(Block::Links(vec![Link::to(format!("/savings?{to}"), page.say("more"))]));
    }
    let method = vec![page.say("savings-method")];
    leaf.add(Block::Folded(page.say("method-title"), method));
    leaf.add(Block::Caution(page.say("caution-rations")));
    leaf.show()
}

/// How clearly a farm saves or loses: far from zero against the width of its interval first,
/// farms without an interval after those with one, farms without a number last.
fn evidence(line: &FarmLine) -> f64 {
    let Some(saving) = line.figures.money.saving.map(Decimal::real) else { return -1.0 };
    match line.figures.money.saving_interval.map(Between::ends) {
        Some((low, high)) if high > low => 1.0 + saving.abs() / (high - low),
        _ => saving.abs() / (saving.abs() + 1e12),
    }
}

fn bars(page: &Page, lines: &[&FarmLine]) -> Option<String> {
    let rows = lines.iter().filter_map(|l| {
        let number = Some(l.figures.money.saving_between()?);
        let label = format!("{} {}", l.farm, l.member_name);
        Some(Interval { label, text: String::new(), number })
    });
    let rows: Vec<Interval> = rows.collect();
    charts::intervals(&Intervals {
        words: Words {
            id: "savings".to_owned(),
            title: page.say("savings-chart"),
            description: page.say("savings-chart-text"),
        },
        axis: page.currency.clone(),
        rows,
    })
    .filter(|_| !lines.is_empty())
}

fn amount(amount: Option<Decimal>) -> Cell {
    amount.map_or_else(|| NONE.to_owned(), |amount| plain_money(amount.real())).into()
}

/// What growing fodder cost: seed, other costs and wear.
fn fodder(money: &Money) -> Cell {
    money.fodder_cost().map_or_else(|| NONE.to_owned(), plain_money).into()
}

/// A saving; bold only where its interval lies on one side of zero.
fn saving(money: &Money) -> Cell {
    let is_clear = money.saving_interval.is_some_and(|i| !i.holds_zero());
    let cell = amount(money.saving);
    if is_clear { cell.bold() } else { cell }
}

fn by_area(page: &Page, report: &SavingsReport, month: Month) -> Table {
    let farms = |count: i64| figure(real(count), 0).into();
    let row = |t: &Total, name: Cell| {
        let sums = t.recorded();
        vec![
            name,
            amount(sums.money.baseline_cost),
            amount(sums.money.eaten_cost),
            amount(sums.money.feed_saving),
            fodder(&sums.money),
            saving(&sums.money),
            shown(&sums.saving_percent_of_baseline, 1).into(),
            farms(t.farms_saving),
            farms(t.farms_losing),
            farms(t.farms_unclear),
            farms(t.farms_left_out),
        ]
    };
    let month = month.to_string();
    let link = |t: &Total| {
        let to = query(&[("month", &month), ("area", &t.name)]);
        Cell::link(t.name.as_str(), format!("/savings?{to}"))
    };
    let currency = page.currency.as_str();
    Table {
        caption: page.with("by-area", "currency", currency),
        columns: vec![
            Column::text(page.say("area")),
            Column::number(page.say("baseline-cost")),
            Column::number(page.say("feed-cost")),
            Column::number(page.say("feed-saving")),
            Column::number(page.say("fodder-cost")),
            Column::number(page.say("saving")),
            Column::number(page.say("percent-of-before")),
            Column::number(page.say("farms-saving")),
            Column::number(page.say("farms-losing")),
            Column::number(page.say("farms-unclear")),
            Column::number(page.say("farms-unknown")),
        ],
        rows: report.areas.iter().map(|t| row(t, link(t))).collect(),
        total: report.total.as_ref().map(|t| row(t, page.say("all-together").into())),
    }
}

fn by_member(page: &Page, lines: &[&FarmLine], area: &str) -> Table {
    let row = |l: &&FarmLine| {
        let figures = l.recorded();
        let name = format!("{} {}", l.member_number, l.member_name);
        let money = &figures.money;
        let saved = match money.saving {
            None => page.word("saving-short", l.status.text()).into(),
            Some(_) => saving(money),
        };
        let between = match (money.saving, money.saving_interval.map(Between::ends)) {
            (Some(_), Some((low, high))) => {
                let args = [("low", plain_money(low).into()), ("high", plain_money(high).into())];
                page.tell("low-to-high", &args)
            }
            (Some(_), None) => page.say("interval-none"),
            (None, _) => NONE.to_owned(),
        };
        let output = l.output_change.as_ref().map_or_else(|| NONE.to_owned(), |o| change(page, o));
        vec![
            Cell::link(name, format!("/result?farm={}", l.farm_id)),
            amount(money.baseline_cost),
            amount(money.eaten_cost),
            amount(money.feed_saving),
            fodder(money),
            saved,
            between.into(),
            output.into(),
            shown(&figures.trays_discarded_percent, 1).into(),
        ]
    };
    let caption = if area.is_empty() {
        page.say("by-member")
    } else {
        page.with("by-member-of", "area", area)
    };
    Table {
        caption,
        columns: vec![
            Column::text(page.say("member-title")),
            Column::number(page.say("baseline-cost")),
            Column::number(page.say("feed-cost")),
            Column::number(page.say("feed-saving")),
            Column::number(page.say("fodder-cost")),
            Column::number(page.say("saving")),
            Column::number(page.say("between-95")),
            Column::number(page.say("output-change")),
            Column::number(page.say("trays-lost-percent")),
        ],
        rows: lines.iter().map(row).collect(),
        total: None,
    }
}

/// A change in output with its interval, or that it cannot be told.
fn change(page: &Page, output: &OutputChange) -> String {
    let Some((percent, low, high)) = output.between() else { return page.say("change-none") };
    let key = if low > 0.0 || high < 0.0 { "change-told" } else { "change-unclear" };
    let args = [("percent", percent), ("low", low), ("high", high)];
    page.tell(key, &args.map(|(name, value)| (name, figure(value, 1).into())))
}

/// The report as CSV.
pub(crate) async fn csv(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    let month = visit.month(actor)?;
    let text = visit.state.app.savings_text(actor, &month.to_string(), Form::Csv).await?;
    Ok(file(&format!("savings-{month}.csv"), "text/csv; charset=utf-8", text.into_bytes()))
}

/// The report as a workbook.
pub(crate) async fn workbook(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    let month = visit.month(actor)?.to_string();
    let from = visit.field("from").unwrap_or(&month);
    let bytes =
        visit.state.app.savings_workbook(actor, from, &month, visit.page().language).await?;
    Ok(file(&format!("savings-{month}.xlsx"), XLSX, bytes))
}

/// The report as PDF, for the board.
pub(crate) async fn pdf(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    let month = visit.month(actor)?.to_string();
    let bytes = visit.state.app.savings_pdf(actor, &month, visit.page().language).await?;
    Ok(file(&format!("savings-{month}.pdf"), "application/pdf", bytes))
}

/// A farm's own page of the report as PDF, to print and hand over.
pub(crate) async fn member_pdf(visit: Visit) -> Shown {
    let (actor, farm) = (visit.actor()?, visit.id("id")?);
    let month = visit.month(actor)?.to_string();
    let bytes = visit.state.app.member_pdf(actor, farm, &month, visit.page().language).await?;
    Ok(file(&format!("farm-{month}.pdf"), "application/pdf", bytes))
}
