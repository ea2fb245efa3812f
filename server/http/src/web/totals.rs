//! Totals over co-operatives for those who read a programme: no names, no small groups.

use super::blocks::{Block, Cell, Column, Field, Form, Input, Leaf, Link, Refusal, Table};
use super::indicators;
use super::page::{NONE, Page, plain_money, shown};
use super::site::{Shown, file, query};
use super::visit::Visit;
use traybook_answers::columns;
use traybook_answers::savings::programme::{
    CooperativeTotals, Division, GroupFigures, GroupTotals, ProgrammeTotals,
};
use traybook_app::AppError;
use traybook_domain::Month;
use traybook_domain::limits::TOTALS_MONTHS_MAX as MONTHS_MAX;

/// Groups that are words rather than names of areas.
const GROUPS: [&str; 12] = [
    "all",
    "female",
    "male",
    "not_stated",
    "under_18",
    "18_to_24",
    "25_to_34",
    "35_to_59",
    "60_and_over",
    "together",
    "ages_together",
    "age_not_stated",
];
/// Names of the columns with a group's figures.
const FIGURES: [&str; 8] = [
    "totals-members",
    "saving",
    "between-95",
    "totals-milk",
    "totals-eggs",
    "trays-lost-percent",
    "totals-fed",
    "totals-fed-unweighed",
];

/// The totals of the months that are asked for, the latest first.
async fn read(visit: &Visit, by: &str) -> Result<Vec<(Month, ProgrammeTotals)>, AppError> {
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

pub(super) async fn show_totals(visit: Visit) -> Shown {
    let page = visit.page();
    let by = visit.field("by").unwrap_or("cooperative").to_owned();
    let (period, wrong) = match indicators::field(&visit) {
        Ok(field) => (field, None),
        Err(error) => (None, Some(Refusal::of(&visit, "choose", error)?)),
    };
    let (all, refusal) = match read(&visit, &by).await {
        Ok(all) => (all, wrong),
        Err(error) => (Vec::new(), Some(Refusal::of(&visit, "choose", error)?)),
    };
    let actor = visit.actor()?;
    let last = visit.month(actor).unwrap_or_else(|_| visit.last_month(actor));
    let from = visit.field("from").map_or_else(|| last.to_string(), str::to_owned);
    let mut leaf = Leaf::new(page.clone(), page.with("totals-title", "month", page.month(last)));
    let divisions =
        Division::ALL.iter().map(|d| d.text()).map(|d| (d.to_owned(), page.word("totals-by", d)));
    let mut form = Form::new("/totals", "choose", page.say("show"))
        .question()
        .field(Field::new("from", page.say("totals-from"), Input::Month).value(&*from))
        .field(Field::new("month", page.say("totals-until"), Input::Month).value(last.to_string()))
        .field(
            Field::new("by", page.say("totals-divide"), Input::Choice(divisions.collect()))
                .value(&*by),
        );
    if let Some(period) = period {
        form = form.field(period);
    }
    leaf.form(&visit, refusal.as_ref(), form);
    let least = all.first().map_or(5, |(_, t)| t.members_min);
    leaf.add(Block::Text(page.with("totals-hidden-why", "count", least)));
    if refusal.is_none() {
        add_sum(&visit, &mut leaf, last, &by).await?;
    }
    for coop in all.first().into_iter().flat_map(|(_, t)| &t.cooperatives) {
        leaf.figures_of(coop.made_at);
        leaf.add(Block::Table(table(&page, coop, &all)));
    }
    let last_text = last.to_string();
    let to = query(&[("from", &from), ("month", &last_text), ("by", &by)]);
    leaf.add(Block::Links(vec![Link::to(format!("/totals.csv?{to}"), page.say("as-csv"))]));
    if let (Some((first, _)), true) = (all.last(), refusal.is_none()) {
        indicators::show(&visit, &mut leaf, (*first, last)).await?;
    }
    leaf.answer(refusal.as_ref())
}

/// The sums of a month over the co-operatives of the reader's programme, where there is one.
async fn add_sum(visit: &Visit, leaf: &mut Leaf, month: Month, by: &str) -> Result<(), AppError> {
    let page = visit.page();
    let sum = match visit.state.app.programme_sum(visit.actor()?, &month.to_string(), by).await {
        Ok(sum) => sum,
        // Nothing is open to this reader, or not of this month or division.
        Err(AppError::Forbidden | AppError::Invalid(_)) => return Ok(()),
        Err(error) => return Err(error),
    };
    let mut currencies: Vec<&str> = sum.groups.iter().map(|g| g.currency.as_str()).collect();
    currencies.dedup();
    for currency in currencies {
        let of = sum.groups.iter().filter(|g| g.currency == currency);
        let rows = of.map(|group| {
            let mut cells = row(&page, month, &group.totals);
            if let (false, Some(first)) = (group.is_whole, cells.first_mut()) {
                first.text.push_str(" *");
            }
            cells.push(group.cooperatives.to_string().into());
            cells
        });
        let count = i64::try_from(sum.cooperatives).unwrap_or(i64::MAX);
        let args = [("count", count.into()), ("currency", currency.into())];
        let mut table = Table {
            caption: page.tell("sum-title", &args),
            columns: group_columns(&page),
            rows: rows.collect(),
            total: None,
        };
        table.columns.push(Column::number(page.say("sum-cooperatives")));
        leaf.add(Block::Table(table));
    }
    leaf.text("sum-why");
    Ok(())
}

fn group_columns(page: &Page) -> Vec<Column> {
    let mut columns = vec![Column::text(page.say("totals-group")), Column::text(page.say("month"))];
    columns.extend(FIGURES.iter().map(|key| Column::number(page.say(key))));
    columns
}

/// One co-operative's groups, month by month.
fn table(page: &Page, coop: &CooperativeTotals, all: &[(Month, ProgrammeTotals)]) -> Table {
    let mut rows = Vec::new();
    for (month, totals) in all {
        let own = totals.cooperatives.iter().filter(|c| c.cooperative == coop.cooperative);
        rows.extend(own.flat_map(|c| &c.groups).map(|group| row(page, *month, group)));
    }
    let caption = format!("{} · {}", coop.cooperative, coop.currency);
    Table { caption, columns: group_columns(page), rows, total: None }
}

fn row(page: &Page, month: Month, group: &GroupTotals) -> Vec<Cell> {
    let (group, figures) = match group {
        GroupTotals::Hidden(hidden) => {
            let mut none: [String; 8] = std::array::from_fn(|_| String::new());
            if let Some(first) = none.first_mut() {
                *first = page.say("totals-hidden-group");
            }
            (&hidden.group, none)
        }
        GroupTotals::Shown(f) => {
            let figures = [
                shown(&f.members, 0),
                shown(&f.saving, 0),
                f.saving_interval.map_or_else(
                    || NONE.to_owned(),
                    |i| {
                        let (low, high) = i.ends();
                        let args =
                            [("low", plain_money(low).into()), ("high", plain_money(high).into())];
                        page.tell("low-to-high", &args)
                    },
                ),
                shown(&f.litres_per_cow_day, 2),
                shown(&f.hen_day_percent, 1),
                shown(&f.trays_discarded_percent, 1),
                shown(&f.fresh_fodder_fed_kg, 0),
                shown(&f.trays_fed_unweighed, 0),
            ];
            (&f.group, figures)
        }
    };
    let head = [name(page, group), page.month(month)];
    head.into_iter().chain(figures).map(Cell::from).collect()
}

/// The name of a group: words that records know get the reader's, areas stay.
pub(super) fn name(page: &Page, group: &str) -> String {
    let known = GROUPS.contains(&group);
    if known { page.say(&format!("group-{}", group.replace('_', "-"))) } else { group.to_owned() }
}

/// The totals as CSV.
pub(super) async fn csv(visit: Visit) -> Shown {
    use traybook_reports::csv_text::line;
    let by = visit.field("by").unwrap_or("cooperative").to_owned();
    let all = read(&visit, &by).await?;
    let figures = columns!(GroupFigures: members, saving, litres_per_cow_day, hen_day_percent,
        trays_discarded_percent, fresh_fodder_fed_kg, trays_fed_unweighed);
    let mut head = vec!["month", "cooperative", "currency", "group", "is_hidden"];
    head.extend(figures.iter().map(|c| c.name));
    let mut out = line(&head);
    for (month, totals) in &all {
        for coop in &totals.cooperatives {
            for group in &coop.groups {
                let (name, shown) = match group {
                    GroupTotals::Hidden(hidden) => (&hidden.group, None),
                    GroupTotals::Shown(figures) => (&figures.group, Some(&**figures)),
                };
                let mut cells = vec![
                    month.to_string(),
                    coop.cooperative.clone(),
                    coop.currency.clone(),
                    name.clone(),
                    shown.is_none().to_string(),
                ];
                cells.extend(figures.iter().map(|c| shown.map_or_else(String::new, c.cell)));
                out.push_str(&line(&cells));
            }
        }
    }
    let last = visit.month(visit.actor()?)?;
    Ok(file(&format!("totals-{last}.csv"), "text/csv; charset=utf-8", out.into_bytes()))
}
