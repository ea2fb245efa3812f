//! A member's wish for a correction, and the answer to it.

use super::blocks::{Block, Field, Form, Input, Leaf, Link, Refusal};
use super::farms::{self, row};
use super::forms::correct;
use super::member::ask::item;
use super::site::{Shown, go};
use super::visit::Visit;
use traybook_app::records::rows::Row;
use traybook_domain::Kind;
use traybook_domain::kinds::{CorrectionRequest, Farm};

/// The wish, with a form for the answer while it is open.
pub(super) async fn show_request(visit: Visit) -> Shown {
    page(&visit, None).await
}

async fn page(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let row: Row<CorrectionRequest> = row(visit, visit.id("id")?).await?;
    let wish = &row.value;
    let farm_id = wish.farm_id;
    let farm: Row<Farm> = farms::row(visit, farm_id).await?;
    let code = farm.value.code.as_str();
    let page = visit.page();
    let mut leaf = Leaf::new(page.clone(), page.with("wish-of", "farm", code))
        .back(format!("/farms/{farm_id}"), code);
    leaf.add(Block::List(vec![item(&page, wish)]));
    let mut links = vec![Link::to(format!("/batches?farm={farm_id}"), page.say("nav-batches"))];
    if let Some(batch) = wish.batch_id {
        links.insert(0, Link::to(format!("/batches/{batch}/events"), page.say("batch-record")));
    }
    leaf.add(Block::Links(links));
    if wish.answer.is_none() {
        let to = format!("/requests/{}", row.id);
        let form = Form::new(to, "answer", page.say("answer-send"))
            .hide("version", row.version.to_string())
            .day("answered_on")
            .keep(page.with("wish-of", "farm", code))
            .field(
                Field::new("answer", page.say("answer-what"), Input::Long)
                    .hint(page.say("answer-hint"))
                    .required(),
            );
        leaf.form(visit, refusal, form);
    }
    leaf.answer(refusal)
}

pub(super) async fn answer(visit: Visit) -> Shown {
    let (actor, id) = (visit.actor()?, visit.id("id")?);
    let mut patch = visit.record(Kind::CorrectionRequest, &["answer"]);
    patch.insert("answered_on".to_owned(), visit.day("answered_on", actor));
    match correct(&visit, Kind::CorrectionRequest, id, patch).await {
        Ok(_) => Ok(go(&format!("/requests/{id}"))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "answer", error)?;
            page(&visit, Some(&refusal)).await
        }
    }
}
