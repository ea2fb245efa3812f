//! Closing a month: what is missing first, then the closing itself, which can not be undone.

use super::month::choose;
use super::savings::total_sentence;
use crate::web::blocks::{Block, Column, Form, Item, Leaf, Link, Refusal, Table};
use crate::web::farms::text;
use crate::web::member::result::missing;
use crate::web::site::{Shown, go};
use crate::web::visit::Visit;
use serde_json::Value as Json;
use traybook_app::review::Asked;
use traybook_domain::authz::Task;

/// Farms with something missing that the page names.
const FARMS_MAX: usize = 60;

/// The checklist.
pub(crate) async fn show_close(visit: Visit) -> Shown {
    page(&visit, None).await
}

async fn page(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    actor.task(Task::CloseMonth)?;
    let month = visit.month(actor)?;
    let view = visit.state.app.savings_view(actor, month).await?;
    let report = &view.head;
    let title = page.with("close-of", "month", page.month(month));
    let mut leaf =
        Leaf::new(page.clone(), title).back(format!("/month?month={month}"), page.say("nav-month"));
    leaf.saved(visit);
    leaf.add(Block::Form(choose(&page, "/close", month)));
    let closed = visit.state.app.closed_months(actor).await?;
    if report["is_closed"] == Json::Bool(true) {
        leaf.text("month-closed");
    } else {
        leaf.add(Block::Lead(total_sentence(&page, &report["total"])));
        let all = view.briefs();
        let lacking = all.iter().enumerate().filter(|(_, l)| l.has_missing);
        let lacking: Vec<usize> = lacking.map(|(at, _)| at).collect();
        leaf.heading("close-missing");
        if lacking.is_empty() {
            leaf.text("close-nothing-missing");
        } else {
            let count = i64::try_from(lacking.len()).unwrap_or(0);
            leaf.add(Block::Text(page.with("close-missing-count", "count", count)));
        }
        let item = |l: &Json| Item {
            title: format!("{} · {}", text(l, "farm"), text(l, "member_name")),
            href: Some(format!("/farms/{}/book", text(l, "farm_id"))),
            lines: missing(&page, l),
            ..Item::default()
        };
        let first = lacking.iter().take(FARMS_MAX).map(|at| item(&view.line(*at)));
        leaf.add(Block::List(first.collect()));
        let asked = Asked { items_max: Some(0), ..Asked::default() };
        let review = visit.state.app.review(actor, asked).await?;
        leaf.add(Block::Text(page.with("close-review", "count", review.findings)));
        leaf.add(Block::Links(vec![Link::to("/review", page.say("review-title"))]));
        leaf.heading("close-title");
        leaf.text("close-warning");
        let form = Form::new("/close", "close", page.with("close-do", "month", page.month(month)))
            .hide("month", month.to_string());
        leaf.form(visit, refusal, form);
    }
    if !closed.is_empty() {
        let row = |c: &Json| {
            vec![
                text(c, "month").to_owned().into(),
                page.day(&c["closed_at"]).into(),
                page.say(if c["has_changed_since"] == Json::Bool(true) { "yes" } else { "no" })
                    .into(),
            ]
        };
        leaf.add(Block::Table(Table {
            caption: page.say("closed-months"),
            columns: vec![
                Column::text(page.say("month")),
                Column::text(page.say("closed-on")),
                Column::text(page.say("changed-since")),
            ],
            rows: closed.iter().map(row).collect(),
            total: None,
        }));
    }
    leaf.answer(refusal)
}

/// Closes the month.
pub(crate) async fn close(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    let month = visit.field("month").unwrap_or_default().to_owned();
    match visit.state.app.close_month(actor, &month).await {
        Ok(_) => Ok(go(&format!("/close?month={month}&saved=1"))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "close", error)?;
            page(&visit, Some(&refusal)).await
        }
    }
}
