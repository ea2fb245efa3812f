//! What contradicts itself across records, with the likely fix; accepted with a reason or put
//! right in the records.

use super::findings::{bearing, cases, fix, problem};
use crate::web::blocks::{Block, Field, Form, Input, Item, Leaf, Link, Refusal};
use crate::web::page::Page;
use crate::web::site::{Shown, go};
use crate::web::visit::Visit;
use serde_json::json;
use traybook_answers::review::{Finding, FindingRecord, ReviewRun};
use traybook_app::records::together::{Piece, following};
use traybook_app::review::Asked;
use traybook_domain::Kind;

/// Findings on one page.
const FINDINGS_MAX: usize = 40;

/// The list.
pub(crate) async fn show_review(visit: Visit) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    let rule = visit.field("rule").map(str::to_owned);
    let asked = Asked { rule, items_max: Some(FINDINGS_MAX), ..Asked::default() };
    let review = visit.state.app.review(actor, asked).await?;
    let mut leaf = Leaf::new(page.clone(), page.say("review-title"));
    leaf.saved(&visit).text("review-intro");
    leaf.add(Block::Text(page.figures_of(review.as_of)));
    if let Some(run) = review.run {
        leaf.add(Block::Notice(run_line(&page, &run)));
    }
    let links: Vec<Link> = review
        .by_rule
        .iter()
        .map(|(rule, count)| {
            let name = format!("{} ({count})", page.word("rule", rule.text()));
            Link::to(format!("/review?rule={}", rule.text()), name)
        })
        .collect();
    leaf.add(Block::Links(links));
    if review.items.is_empty() {
        leaf.text("review-none");
    }
    leaf.add(Block::List(review.items.iter().map(|f| item(&page, f)).collect()));
    if review.looked_at_again > 0 {
        leaf.add(Block::Text(page.with("review-again", "count", review.looked_at_again)));
    }
    if review.left_off > 0 {
        leaf.add(Block::Text(page.with("review-more", "count", review.left_off)));
    }
    leaf.show()
}

/// How far the looking through of whole histories is.
fn run_line(page: &Page, run: &ReviewRun) -> String {
    let ended = run.ended_at.map(|at| page.day(&at));
    let args = [
        ("done", run.done.into()),
        ("farms", run.farms.into()),
        ("date", ended.clone().unwrap_or_default().into()),
    ];
    page.tell(if ended.is_some() { "review-run-ended" } else { "review-run" }, &args)
}

fn item(page: &Page, finding: &Finding) -> Item {
    let link = |r: &FindingRecord| {
        let id = r.id;
        let (to, key) = match r.kind.as_str() {
            "batch" => (format!("/batches/{id}/events"), "see-batch"),
            "batch_event" => (format!("/events/{id}"), "correct"),
            "farm" => (format!("/farms/{id}"), "see-farm"),
            "seed_lot" => (format!("/lots/{id}"), "see-lot"),
            _ => return None,
        };
        Some(Link::to(to, page.say(key)))
    };
    let mut links: Vec<Link> = finding.records.iter().filter_map(link).take(4).collect();
    let name = finding.finding.as_str();
    let to = format!("/review/accept?{}", crate::web::site::query(&[("finding", name)]));
    links.push(Link::to(to, page.say("review-accept")));
    let rule = page.word("rule", finding.rule.text());
    Item {
        title: match &finding.farm {
            None => rule,
            Some(farm) => format!("{farm} · {rule}"),
        },
        lines: lines(page, finding),
        links,
        ..Item::default()
    }
}

/// What a finding says: the case told, then the others that are accepted by themselves.
fn lines(page: &Page, finding: &Finding) -> Vec<String> {
    let first = [problem(page, finding), fix(page, finding)].into_iter();
    let all = first.chain(cases(page, finding));
    let all = all.chain(finding.each_other().map(|other| problem(page, &other)));
    all.chain(bearing(page, finding)).collect()
}

/// One finding, to be accepted with a reason.
pub(crate) async fn show_accept(visit: Visit) -> Shown {
    accept_page(&visit, None).await
}

async fn found(visit: &Visit) -> Result<Finding, traybook_app::AppError> {
    let review = visit.state.app.review(visit.actor()?, Asked::default()).await?;
    let name = visit.field("finding").unwrap_or_default();
    review.items.into_iter().find(|f| f.finding == name).ok_or(traybook_app::AppError::NotFound)
}

async fn accept_page(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let finding = found(visit).await?;
    let page = visit.page();
    let mut leaf = Leaf::new(page.clone(), page.say("review-accept"))
        .back("/review", page.say("review-title"));
    for line in lines(&page, &finding) {
        leaf.add(Block::Text(line));
    }
    if !finding.others.is_empty() {
        leaf.add(Block::Text(page.with("review-accept-each", "cases", finding.cases)));
    }
    let mut form = Form::new("/review/accept", "accept", page.say("review-accept"))
        .id("id", visit.state.app.new_id()?)
        .hide("finding", finding.finding.as_str())
        .field(Field::new("reason", page.say("review-reason"), Input::Text).required());
    for other in &finding.others {
        form = form.hide("other", other.finding.as_str());
    }
    leaf.form(visit, refusal, form);
    leaf.answer(refusal)
}

/// Accepts a finding with the other cases that the page showed.
pub(crate) async fn accept(visit: Visit) -> Shown {
    let finding = found(&visit).await?;
    let actor = visit.actor()?;
    let (first, today) = (visit.form_id("id")?, actor.coop.today(visit.state.app.now()));
    let was_shown = |name: &str| visit.fields.iter().any(|(n, v)| n == "other" && v == name);
    let others = finding.each_other().filter(|other| was_shown(&other.finding));
    let pieces = std::iter::once(finding.clone()).chain(others).map(|of| {
        let kind = Kind::ReviewAcceptance;
        let id = match of.finding == finding.finding {
            true => first,
            false => following(actor, first, kind, &of.finding),
        };
        let mut body = visit.record(kind, &["reason"]);
        body.insert("id".to_owned(), json!(id));
        if let Some(farm) = of.farm_id {
            body.insert("farm_id".to_owned(), json!(farm));
        }
        body.insert("rule".to_owned(), json!(of.rule));
        body.insert("finding".to_owned(), json!(of.finding));
        body.insert("evidence".to_owned(), json!(of.evidence));
        body.insert("accepted_on".to_owned(), json!(today));
        Piece::new(kind, id, body)
    });
    match visit.state.app.create_together(actor, pieces.collect()).await {
        Ok(()) => Ok(go("/review?saved=accepted")),
        Err(error) => {
            let refusal = Refusal::of(&visit, "accept", error)?;
            accept_page(&visit, Some(&refusal)).await
        }
    }
}
