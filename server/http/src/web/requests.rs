//! A member's wish for a correction, and the answer to it.

use super::blocks::{Block, Field, Form, Input, Leaf, Link, Refusal};
use super::farms::{id, one, text};
use super::forms::correct;
use super::member::ask::item;
use super::page::shown;
use super::site::{Shown, go};
use super::visit::Visit;
use traybook_domain::Kind;

/// The wish, with a form for the answer while it is open.
pub(super) async fn show_request(visit: Visit) -> Shown {
    page(&visit, None).await
}

async fn page(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let wish = one(visit, Kind::CorrectionRequest, visit.id("id")?).await?;
    let farm = one(visit, Kind::Farm, id(&wish, "farm_id").unwrap_or_default()).await?;
    let page = visit.page();
    let farm_id = text(&farm, "id");
    let mut leaf = Leaf::new(page.clone(), page.with("wish-of", "farm", text(&farm, "code")))
        .back(format!("/farms/{farm_id}"), text(&farm, "code"));
    leaf.add(Block::List(vec![item(&page, &wish)]));
    let mut links = vec![Link::to(format!("/batches?farm={farm_id}"), page.say("nav-batches"))];
    if let Some(batch) = id(&wish, "batch_id") {
        links.insert(0, Link::to(format!("/batches/{batch}/events"), page.say("batch-record")));
    }
    leaf.add(Block::Links(links));
    if text(&wish, "answer").is_empty() {
        let form = Form::new(
            format!("/requests/{}", text(&wish, "id")),
            "answer",
            page.say("answer-send"),
        )
        .hide("version", shown(&wish["version"], 0))
        .day("answered_on")
        .keep(page.with("wish-of", "farm", text(&farm, "code")))
        .field(
            Field::new("answer", page.say("answer-what"), Input::Long)
                .hint(page.say("answer-hint"))
                .required(),
        );
        leaf.form(visit, refusal, form);
    }
    leaf.answer(refusal)
}

/// Answers.
pub(super) async fn answer(visit: Visit) -> Shown {
    let (actor, id) = (visit.actor()?, visit.id("id")?);
    let mut patch = visit.record(&["answer"], &[]);
    patch.insert("answered_on".to_owned(), visit.day("answered_on", actor));
    match correct(&visit, Kind::CorrectionRequest, id, patch).await {
        Ok(_) => Ok(go(&format!("/requests/{id}"))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "answer", error)?;
            page(&visit, Some(&refusal)).await
        }
    }
}
