//! The savings report as a page and as files.

use super::month::choose;
use crate::web::blocks::{Block, Cell, Column, Leaf, Link, Table};
use crate::web::farms::text;
use crate::web::member::result::saving_sentence;
use crate::web::page::{NONE, Page, figure, plain_money, shown};
use crate::web::site::{Shown, file, query};
use crate::web::visit::Visit;
use serde_json::Value as Json;
use traybook_app::savings::Form;
use traybook_app::savings_view::Brief;
use traybook_domain::Month;
use traybook_reports::charts::{self, Interval, Intervals, Words};
use traybook_reports::savings::{FarmLine, Figures, Output};

/// Members in the table of one page.
const ON_PAGE: usize = 50;
/// Bars of the chart.
const BARS: usize = 24;

/// What all counted farms saved together, in one sentence.
pub(crate) fn total_sentence(page: &Page, total: &Json) -> String {
    if total["saving"].is_null() {
        return page.say("saving-total-none");
    }
    saving_sentence(page, total)
}

/// The page.
pub(crate) async fn show_savings(visit: Visit) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    let month = visit.month(actor)?;
    let view = visit.state.app.savings_view(actor, month).await?;
    let report = &view.head;
    let title = page.with("savings-of", "month", page.month(month));
    let mut leaf =
        Leaf::new(page.clone(), title).back(format!("/month?month={month}"), page.say("nav-month"));
    leaf.add(Block::Form(choose(&page, "/savings", month)));
    if !report["total"].is_null() {
        leaf.add(Block::Lead(total_sentence(&page, &report["total"])));
    }
    leaf.text(if report["is_closed"] == Json::Bool(true) { "month-closed" } else { "month-open" });
    leaf.add(Block::Links(vec![
        Link::to(format!("/savings.xlsx?month={month}"), page.say("as-workbook")),
        Link::to(format!("/savings.pdf?month={month}"), page.say("as-pdf")),
        Link::to(format!("/savings.csv?month={month}"), page.say("as-csv")),
    ]));
    let areas = report["areas"].as_array().map(Vec::as_slice).unwrap_or_default();
    if !areas.is_empty() {
        leaf.add(Block::Table(by_area(&page, areas, &report["total"], month)));
    }
    let area = visit.field("area").unwrap_or_default();
    let all = view.briefs().into_iter().enumerate();
    let mut lines: Vec<(usize, f64)> = all
        .filter(|(_, l)| area.is_empty() || l.area == area)
        .map(|(at, l)| (at, evidence(&l)))
        .collect();
    lines.sort_by(|a, b| b.1.total_cmp(&a.1));
    let take = |from: usize, count: usize| -> Vec<Json> {
        lines.iter().skip(from).take(count).map(|(at, _)| view.line(*at)).collect()
    };
    if let Some(chart) = bars(&page, &take(0, BARS)) {
        leaf.add(Block::Chart(chart));
    }
    let from = visit.skip()?;
    leaf.add(Block::Table(by_member(&page, &take(from, ON_PAGE), area)));
    if from.saturating_add(ON_PAGE) < lines.len() {
        let skip = (from + ON_PAGE).to_string();
        let month = month.to_string();
        let to = query(&[("month", &month), ("area", area), ("skip", &skip)]);
        leaf.add(Block::Links(vec![Link::to(format!("/savings?{to}"), page.say("more"))]));
    }
    leaf.heading("method-title");
    leaf.text("savings-method");
    leaf.add(Block::Caution(page.say("caution-rations")));
    leaf.show()
}

/// How clearly a farm saves or loses: far from zero against the width of its interval first,
/// farms without an interval after those with one, farms without a number last.
fn evidence(line: &Brief<'_>) -> f64 {
    let Some(saving) = line.saving else { return -1.0 };
    match line.interval {
        Some((low, high)) if high > low => 1.0 + saving.abs() / (high - low),
        _ => saving.abs() / (saving.abs() + 1e12),
    }
}

fn bars(page: &Page, lines: &[Json]) -> Option<String> {
    let rows = lines.iter().filter_map(|l| {
        let interval = &l["saving_interval"];
        let number = (|| {
            Some((l["saving"].as_f64()?, interval["low"].as_f64()?, interval["high"].as_f64()?))
        })();
        let label = format!("{} {}", text(l, "farm"), text(l, "member_name"));
        number.map(|number| Interval { label, text: String::new(), number: Some(number) })
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

fn amount(figures: &Figures, name: &str) -> Cell {
    figures.get(name).map_or_else(|| NONE.to_owned(), plain_money).into()
}

fn by_area(page: &Page, areas: &[Json], total: &Json, month: Month) -> Table {
    let row = |t: &Json, name: Cell| {
        let figures = Figures::sums(t);
        vec![
            name,
            amount(&figures, "baseline_cost"),
            amount(&figures, "feed_cost"),
            amount(&figures, "saving"),
            shown(&t["saving_percent_of_baseline"], 1).into(),
            shown(&t["farms_saving"], 0).into(),
            shown(&t["farms_losing"], 0).into(),
            shown(&t["farms_left_out"], 0).into(),
        ]
    };
    let month = month.to_string();
    let link = |t: &Json| {
        let to = query(&[("month", &month), ("area", text(t, "name"))]);
        Cell::link(text(t, "name"), format!("/savings?{to}"))
    };
    let currency = page.currency.as_str();
    Table {
        caption: page.with("by-area", "currency", currency),
        columns: vec![
            Column::text(page.say("area")),
            Column::number(page.say("baseline-cost")),
            Column::number(page.say("feed-cost")),
            Column::number(page.say("saving")),
            Column::number(page.say("percent-of-before")),
            Column::number(page.say("farms-saving")),
            Column::number(page.say("farms-losing")),
            Column::number(page.say("farms-unknown")),
        ],
        rows: areas.iter().map(|t| row(t, link(t))).collect(),
        total: Some(row(total, page.say("all-together").into())),
    }
}

fn by_member(page: &Page, lines: &[Json], area: &str) -> Table {
    let row = |l: &Json| {
        let line = FarmLine::read(l);
        let name = format!("{} {}", line.member_number, line.member_name);
        let saving = match line.figures.get("saving") {
            None => page.word("saving-status", &line.status).into(),
            Some(_) => amount(&line.figures, "saving"),
        };
        let between = match (line.figures.get("saving"), line.figures.interval) {
            (Some(_), Some((low, high))) => {
                let args = [("low", plain_money(low).into()), ("high", plain_money(high).into())];
                page.tell("low-to-high", &args)
            }
            (Some(_), None) => page.say("interval-none"),
            (None, _) => NONE.to_owned(),
        };
        let output = line.output.as_ref().map_or_else(|| NONE.to_owned(), |o| change(page, o));
        vec![
            Cell::link(name, format!("/result?farm={}", line.farm_id)),
            amount(&line.figures, "baseline_cost"),
            amount(&line.figures, "feed_cost"),
            saving,
            between.into(),
            output.into(),
            shown(&l["trays_discarded_percent"], 1).into(),
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
fn change(page: &Page, output: &Output) -> String {
    let Some((percent, low, high)) = output.percent else { return page.say("change-none") };
    let key = if low > 0.0 || high < 0.0 { "change-told" } else { "change-unclear" };
    let args = [("percent", percent), ("low", low), ("high", high)];
    page.tell(key, &args.map(|(name, value)| (name, figure(value, 1).into())))
}

/// The report as CSV.
pub(crate) async fn csv(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    let month = visit.month(actor)?;
    let text = visit.state.app.savings(actor, &month.to_string(), Form::Csv).await?;
    Ok(file(&format!("savings-{month}.csv"), "text/csv; charset=utf-8", text.csv.into_bytes()))
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

const XLSX: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";

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
