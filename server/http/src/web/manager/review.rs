//! What contradicts itself across records, with the likely fix; accepted with a reason or put
//! right in the records.

use super::findings::{fix, problem};
use crate::web::blocks::{Block, Field, Form, Input, Item, Leaf, Link, Refusal};
use crate::web::farms::text;
use crate::web::page::Page;
use crate::web::site::{Shown, go};
use crate::web::visit::Visit;
use serde_json::{Value as Json, json};
use traybook_app::review::Asked;
use traybook_domain::Kind;

/// Findings on one page.
const FINDINGS_MAX: usize = 40;

/// The list.
pub(crate) async fn show_review(visit: Visit) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    let rule = visit.field("rule").map(str::to_owned);
    let asked = Asked { rule, items_max: Some(FINDINGS_MAX), ..Asked::default() };
    let review = visit.state.app.review(actor, asked).await?.json;
    let mut leaf = Leaf::new(page.clone(), page.say("review-title"));
    leaf.saved(&visit).text("review-intro");
    let by_rule = review["by_rule"].as_object().into_iter().flatten();
    let links: Vec<Link> = by_rule
        .map(|(rule, count)| {
            let name = format!("{} ({count})", page.word("rule", rule));
            Link::to(format!("/review?rule={rule}"), name)
        })
        .collect();
    leaf.add(Block::Links(links));
    let items: Vec<&Json> = review["items"].as_array().into_iter().flatten().collect();
    if items.is_empty() {
        leaf.text("review-none");
    }
    leaf.add(Block::List(items.iter().map(|f| item(&page, f)).collect()));
    let left = review["left_off"].as_i64().unwrap_or(0);
    if left > 0 {
        leaf.add(Block::Text(page.with("review-more", "count", left)));
    }
    leaf.show()
}

fn item(page: &Page, finding: &Json) -> Item {
    let records = finding["records"].as_array().into_iter().flatten();
    let link = |r: &Json| {
        let id = text(r, "id");
        let (to, key) = match text(r, "kind") {
            "batch" => (format!("/batches/{id}/events"), "see-batch"),
            "batch_event" => (format!("/events/{id}"), "correct"),
            "farm" => (format!("/farms/{id}"), "see-farm"),
            "seed_lot" => (format!("/lots/{id}"), "see-lot"),
            _ => return None,
        };
        Some(Link::to(to, page.say(key)))
    };
    let mut links: Vec<Link> = records.filter_map(link).take(4).collect();
    let name = text(finding, "finding");
    let to = format!("/review/accept?{}", crate::web::site::query(&[("finding", name)]));
    links.push(Link::to(to, page.say("review-accept")));
    let rule = page.word("rule", text(finding, "rule"));
    let farm = text(finding, "farm");
    Item {
        title: if farm.is_empty() { rule } else { format!("{farm} · {rule}") },
        lines: vec![problem(page, finding), fix(page, finding)],
        links,
        ..Item::default()
    }
}

/// One finding, to be accepted with a reason.
pub(crate) async fn show_accept(visit: Visit) -> Shown {
    accept_page(&visit, None).await
}

async fn found(visit: &Visit) -> Result<Json, traybook_app::AppError> {
    let review = visit.state.app.review(visit.actor()?, Asked::default()).await?.json;
    let name = visit.field("finding").unwrap_or_default();
    let mut items = review["items"].as_array().into_iter().flatten();
    items.find(|f| text(f, "finding") == name).cloned().ok_or(traybook_app::AppError::NotFound)
}

async fn accept_page(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let finding = found(visit).await?;
    let page = visit.page();
    let mut leaf = Leaf::new(page.clone(), page.say("review-accept"))
        .back("/review", page.say("review-title"));
    leaf.add(Block::Text(problem(&page, &finding)));
    leaf.add(Block::Text(fix(&page, &finding)));
    let form = Form::new("/review/accept", "accept", page.say("review-accept"))
        .id("id", visit.state.app.new_id()?)
        .hide("finding", text(&finding, "finding"))
        .field(Field::new("reason", page.say("review-reason"), Input::Text).required());
    leaf.form(visit, refusal, form);
    leaf.answer(refusal)
}

/// Accepts a finding.
pub(crate) async fn accept(visit: Visit) -> Shown {
    let finding = found(&visit).await?;
    let actor = visit.actor()?;
    let mut body = visit.record(&["reason"], &[]);
    body.insert("id".to_owned(), json!(visit.form_id("id")?));
    for name in ["farm_id", "rule", "finding", "evidence"] {
        if !finding[name].is_null() {
            body.insert(name.to_owned(), finding[name].clone());
        }
    }
    body.insert("accepted_on".to_owned(), json!(actor.coop.today(visit.state.app.now())));
    match visit.state.app.create(actor, Kind::ReviewAcceptance, body).await {
        Ok(_) => Ok(go("/review?saved=1")),
        Err(error) => {
            let refusal = Refusal::of(&visit, "accept", error)?;
            accept_page(&visit, Some(&refusal)).await
        }
    }
}
