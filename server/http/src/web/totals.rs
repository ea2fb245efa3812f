//! Totals over co-operatives for those who read a programme: no names, no small groups.

use super::blocks::{Block, Cell, Column, Field, Form, Input, Leaf, Link, Table};
use super::farms::text;
use super::manager::savings::chosen_month;
use super::page::{Page, shown};
use super::site::{Shown, file, query};
use super::visit::Visit;
use serde_json::Value as Json;
use traybook_app::programme::DIVISIONS;

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
const FIGURES: [(&str, &str, usize); 6] = [
    ("totals-members", "members", 0),
    ("saving", "saving", 0),
    ("totals-milk", "litres_per_cow_day", 2),
    ("totals-eggs", "hen_day_percent", 1),
    ("trays-lost-percent", "trays_discarded_percent", 1),
    ("totals-fed", "fresh_fodder_fed_kg", 0),
];

/// The page.
pub(super) async fn show_totals(visit: Visit) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    let month = chosen_month(&visit, actor);
    let by = visit.field("by").unwrap_or("cooperative").to_owned();
    let totals = visit.state.app.programme_totals(actor, &month.to_string(), &by).await?;
    let title = page.with("totals-title", "month", page.month(month));
    let mut leaf = Leaf::new(page.clone(), title);
    let divisions =
        DIVISIONS.iter().map(|d| ((*d).to_owned(), page.word("totals-by", d))).collect();
    let form = Form::new("/totals", "choose", page.say("show"))
        .question()
        .field(Field::new("month", page.say("month"), Input::Month).value(month.to_string()))
        .field(Field::new("by", page.say("totals-divide"), Input::Choice(divisions)).value(&*by));
    leaf.add(Block::Form(form));
    let least = totals["members_min"].as_i64().unwrap_or(5);
    leaf.add(Block::Text(page.with("totals-hidden", "count", least)));
    for coop in totals["cooperatives"].as_array().into_iter().flatten() {
        leaf.add(Block::Table(table(&page, coop)));
    }
    let month = month.to_string();
    let to = query(&[("month", &month), ("by", &by)]);
    leaf.add(Block::Links(vec![Link::to(format!("/totals.csv?{to}"), page.say("as-csv"))]));
    leaf.show()
}

fn table(page: &Page, coop: &Json) -> Table {
    let row = |group: &Json| -> Vec<Cell> {
        let mut cells: Vec<Cell> = vec![name(page, text(group, "group")).into()];
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
    };
    let mut columns = vec![Column::text(page.say("totals-group"))];
    columns.extend(FIGURES.iter().map(|(key, ..)| Column::number(page.say(key))));
    let groups = coop["groups"].as_array().into_iter().flatten();
    Table {
        caption: format!("{} · {}", text(coop, "cooperative"), text(coop, "currency")),
        columns,
        rows: groups.map(row).collect(),
        total: None,
    }
}

/// The name of a group: words that records know get the reader's, areas stay.
fn name(page: &Page, group: &str) -> String {
    let known = GROUPS.contains(&group);
    if known { page.say(&format!("group-{}", group.replace('_', "-"))) } else { group.to_owned() }
}

/// The totals as CSV.
pub(super) async fn csv(visit: Visit) -> Shown {
    use traybook_reports::csv_text::line;
    let actor = visit.actor()?;
    let month = chosen_month(&visit, actor).to_string();
    let by = visit.field("by").unwrap_or("cooperative").to_owned();
    let totals = visit.state.app.programme_totals(actor, &month, &by).await?;
    let mut head = vec!["month", "cooperative", "currency", "group", "is_hidden"];
    head.extend(FIGURES.iter().map(|(_, member, _)| *member));
    let mut out = line(&head);
    for coop in totals["cooperatives"].as_array().into_iter().flatten() {
        for group in coop["groups"].as_array().into_iter().flatten() {
            let hidden = group["is_hidden"] == Json::Bool(true);
            let mut cells = vec![
                month.clone(),
                text(coop, "cooperative").to_owned(),
                text(coop, "currency").to_owned(),
                text(group, "group").to_owned(),
                hidden.to_string(),
            ];
            let number = |v: &Json| if v.is_null() { String::new() } else { v.to_string() };
            cells.extend(FIGURES.iter().map(|(_, member, _)| number(&group[*member])));
            out.push_str(&line(&cells));
        }
    }
    Ok(file(&format!("totals-{month}.csv"), "text/csv; charset=utf-8", out.into_bytes()))
}
