//! Closing a month: what is missing first, then the closing itself, which can not be undone.

use super::month::choose;
use super::savings::{add_restated, total_sentence};
use crate::web::blocks::{Block, Column, Form, Leaf, Link, Refusal, Table};
use crate::web::nothing_bought;
use crate::web::site::{Shown, go};
use crate::web::visit::Visit;
use crate::web::waits;
use traybook_answers::savings::{FarmLine, MonthClose};
use traybook_app::review::Asked;
use traybook_domain::people::authz::Task;

/// The checklist.
pub(crate) async fn show_close(visit: Visit) -> Shown {
    page(&visit, None).await
}

async fn page(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    actor.task(Task::CloseMonth)?;
    let month = visit.month(actor)?;
    let report = visit.state.app.savings_report(actor, month).await?;
    let title = page.with("close-of", "month", page.month(month));
    let mut leaf =
        Leaf::new(page.clone(), title).back(format!("/month?month={month}"), page.say("nav-month"));
    nothing_bought::echo(visit, &mut leaf).await?;
    leaf.add(Block::Form(choose(&page, "/close", month)));
    let closed = visit.state.app.closed_months(actor).await?.items;
    if report.is_closed {
        leaf.text("month-closed");
    } else {
        leaf.add(Block::Lead(total_sentence(&page, &report)));
        let lacking = waits::waiting(&report);
        leaf.heading("close-missing");
        if lacking.is_empty() {
            leaf.text("close-nothing-missing");
        } else {
            let count = i64::try_from(lacking.len()).unwrap_or(0);
            leaf.add(Block::Text(page.with("close-missing-count", "count", count)));
        }
        let back = format!("/close?month={month}");
        let item = |l: &FarmLine| waits::item(&page, l, month, &back);
        leaf.add(Block::List(lacking.into_iter().take(waits::FARMS_MAX).map(item).collect()));
        let asked = Asked { items_max: Some(0), ..Asked::default() };
        let review = visit.state.app.review(actor, asked).await?;
        leaf.add(Block::Text(page.with("close-review", "count", review.findings)));
        leaf.add(Block::Links(vec![Link::to("/review", page.say("review-title"))]));
        add_restated(&mut leaf, &page, &report);
        leaf.heading("close-title");
        leaf.text("close-warning");
        let form = Form::new("/close", "close", page.with("close-do", "month", page.month(month)))
            .hide("month", month.to_string());
        leaf.form(visit, refusal, form);
    }
    if !closed.is_empty() {
        let row = |c: &MonthClose| {
            vec![
                c.month.to_string().into(),
                page.day(&c.closed_at).into(),
                page.say(if c.has_changed_since { "yes" } else { "no" }).into(),
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
        Ok(_) => Ok(go(&format!("/close?month={month}&saved=close"))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "close", error)?;
            page(&visit, Some(&refusal)).await
        }
    }
}
