//! Totals over co-operatives for those who read a programme: no names, no small groups.

use super::blocks::{Block, Cell, Column, Field, Form, Input, Leaf, Link, Refusal, Table};
use super::farms::text;
use super::page::{Page, shown};
use super::site::{Shown, file, query};
use super::visit::Visit;
use serde_json::Value as Json;
use traybook_app::AppError;
use traybook_app::programme::DIVISIONS;
use traybook_domain::Month;

/// Groups that are words rather than names of areas.
const GROUPS: [&str; 9] = [
    "all",
    "female",
    "male",
    "not_stated",
    "under_18",
    "18_to_24",
    "25_to_34",
    "35_to_59",
    "60_and_over",
];
/// Figures of a group: key of the column's name, member of the answer, digits.
const FIGURES: [(&str, &str, usize); 7] = [
    ("totals-members", "members", 0),
    ("saving", "saving", 0),
    ("totals-milk", "litres_per_cow_day", 2),
    ("totals-eggs", "hen_day_percent", 1),
    ("trays-lost-percent", "trays_discarded_percent", 1),
    ("totals-fed", "fresh_fodder_fed_kg", 0),
    ("totals-fed-unweighed", "trays_fed_unweighed", 0),
];

/// Months that one page or file holds.
const MONTHS_MAX: i64 = 12;

/// The totals of the months that are asked for, the latest first.
async fn read(visit: &Visit, by: &str) -> Result<Vec<(Month, Json)>, AppError> {
    let actor = visit.actor()?;
    let last = visit.month(actor)?;
    let first = visit.month_named("from")?.unwrap_or(last);
    let count = last.number() - first.number() + 1;
    if !(1..=MONTHS_MAX).contains(&count) {
        let detail = format!("give a month up to {MONTHS_MAX} months before the last one");
        return Err(AppError::field("from", "range", detail));
    }
    let mut all = Vec::new();
    let mut month = last;
    while month >= first {
        let totals = visit.state.app.programme_totals(actor, &month.to_string(), by).await?;
        all.push((month, totals));
        month = month.plus(-1);
    }
    Ok(all)
}

/// The page.
pub(super) async fn show_totals(visit: Visit) -> Shown {
    let page = visit.page();
    let by = visit.field("by").unwrap_or("cooperative").to_owned();
    let (all, refusal) = match read(&visit, &by).await {
        Ok(all) => (all, None),
        Err(error) => (Vec::new(), Some(Refusal::of(&visit, "choose", error)?)),
    };
    let actor = visit.actor()?;
    let last = visit.month(actor).unwrap_or_else(|_| visit.last_month(actor));
    let from = visit.field("from").map_or_else(|| last.to_string(), str::to_owned);
    let mut leaf = Leaf::new(page.clone(), page.with("totals-title", "month", page.month(last)));
    let divisions =
        DIVISIONS.iter().map(|d| ((*d).to_owned(), page.word("totals-by", d))).collect();
    let form = Form::new("/totals", "choose", page.say("show"))
        .question()
        .field(Field::new("from", page.say("totals-from"), Input::Month).value(&*from))
        .field(Field::new("month", page.say("totals-until"), Input::Month).value(last.to_string()))
        .field(Field::new("by", page.say("totals-divide"), Input::Choice(divisions)).value(&*by));
    leaf.form(&visit, refusal.as_ref(), form);
    let least = all.first().and_then(|(_, t)| t["members_min"].as_i64()).unwrap_or(5);
    leaf.add(Block::Text(page.with("totals-hidden", "count", least)));
    for coop in all.first().and_then(|(_, t)| t["cooperatives"].as_array()).into_iter().flatten() {
        leaf.add(Block::Table(table(&page, coop, &all)));
    }
    let last = last.to_string();
    let to = query(&[("from", &from), ("month", &last), ("by", &by)]);
    leaf.add(Block::Links(vec![Link::to(format!("/totals.csv?{to}"), page.say("as-csv"))]));
    leaf.answer(refusal.as_ref())
}

/// One co-operative's groups, month by month.
fn table(page: &Page, coop: &Json, all: &[(Month, Json)]) -> Table {
    let name_of = text(coop, "cooperative");
    let mut rows = Vec::new();
    for (month, totals) in all {
        let coops = totals["cooperatives"].as_array().into_iter().flatten();
        let own = coops.filter(|c| text(c, "cooperative") == name_of);
        for group in own.flat_map(|c| c["groups"].as_array().into_iter().flatten()) {
            rows.push(row(page, *month, group));
        }
    }
    let mut columns = vec![Column::text(page.say("totals-group")), Column::text(page.say("month"))];
    columns.extend(FIGURES.iter().map(|(key, ..)| Column::number(page.say(key))));
    let caption = format!("{name_of} · {}", text(coop, "currency"));
    Table { caption, columns, rows, total: None }
}

fn row(page: &Page, month: Month, group: &Json) -> Vec<Cell> {
    let mut cells: Vec<Cell> =
        vec![name(page, text(group, "group")).into(), page.month(month).into()];
    let hidden = group["is_hidden"] == Json::Bool(true);
    for (at, (_, member, digits)) in FIGURES.iter().enumerate() {
        let text = match (hidden, at) {
            (true, 0) => page.say("totals-too-few"),
            (true, _) => String::new(),
            (false, _) => shown(&group[*member], *digits),
        };
        cells.push(text.into());
    }
    cells
}

/// The name of a group: words that records know get the reader's, areas stay.
fn name(page: &Page, group: &str) -> String {
    let known = GROUPS.contains(&group);
    if known { page.say(&format!("group-{}", group.replace('_', "-"))) } else { group.to_owned() }
}

/// The totals as CSV.
pub(super) async fn csv(visit: Visit) -> Shown {
    use traybook_reports::csv_text::line;
    let by = visit.field("by").unwrap_or("cooperative").to_owned();
    let all = read(&visit, &by).await?;
    let mut head = vec!["month", "cooperative", "currency", "group", "is_hidden"];
    head.extend(FIGURES.iter().map(|(_, member, _)| *member));
    let mut out = line(&head);
    for (month, totals) in &all {
        for coop in totals["cooperatives"].as_array().into_iter().flatten() {
            for group in coop["groups"].as_array().into_iter().flatten() {
                let mut cells = vec![
                    month.to_string(),
                    text(coop, "cooperative").to_owned(),
                    text(coop, "currency").to_owned(),
                    text(group, "group").to_owned(),
                    (group["is_hidden"] == Json::Bool(true)).to_string(),
                ];
                let number = |v: &Json| if v.is_null() { String::new() } else { v.to_string() };
                cells.extend(FIGURES.iter().map(|(_, member, _)| number(&group[*member])));
                out.push_str(&line(&cells));
            }
        }
    }
    let last = visit.month(visit.actor()?)?;
    Ok(file(&format!("totals-{last}.csv"), "text/csv; charset=utf-8", out.into_bytes()))
}
