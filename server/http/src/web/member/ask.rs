//! What a member asks to have put right, and what became of it.

use crate::web::blocks::{Block, Field, Form, Input, Item, Leaf, Refusal};
use crate::web::called::{Called, alone};
use crate::web::echo::saved_record;
use crate::web::farms::{chosen, id, one, rows, text};
use crate::web::member::batches::cautions;
use crate::web::page::{Page, capital};
use crate::web::site::{Shown, go};
use crate::web::visit::Visit;
use serde_json::json;
use traybook_app::AppError;
use traybook_domain::Kind;
use traybook_domain::kinds::{CorrectionRequest, REQUEST_SUBJECTS};
use uuid::Uuid;

pub(crate) async fn show_requests(visit: Visit) -> Shown {
    page(&visit, None).await
}

pub(crate) async fn ask(visit: Visit) -> Shown {
    let farm = chosen(&visit).await?;
    let actor = visit.actor()?;
    let mut body = visit.record(Kind::CorrectionRequest, &["about", "batch_id", "wish"]);
    body.insert("id".to_owned(), json!(visit.form_id("id")?));
    body.insert("farm_id".to_owned(), farm["id"].clone());
    body.insert("asked_on".to_owned(), visit.day("asked_on", actor));
    match visit.state.app.create(actor, Kind::CorrectionRequest, body).await {
        Ok(done) => {
            let saved = saved_record(Kind::CorrectionRequest, &done.json);
            Ok(go(&format!("/ask?{saved}")))
        }
        Err(error) => {
            let refusal = Refusal::of(&visit, "ask", error)?;
            page(&visit, Some(&refusal)).await
        }
    }
}

async fn page(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let farm = chosen(visit).await?;
    let page = visit.page();
    let mut leaf = Leaf::new(page.clone(), page.say("ask-title"));
    leaf.saved(visit).text("ask-about");
    let mut form = Form::new("/ask", "ask", page.say("ask-send"))
        .id("id", visit.state.app.new_id()?)
        .hide("farm", text(&farm, "id"))
        .day("asked_on")
        .keep(page.say("ask-title"));
    let batch = visit.field("batch_id").and_then(|b| Uuid::try_parse(b).ok());
    let subjects = REQUEST_SUBJECTS.iter();
    let subjects = subjects.map(|s| ((*s).to_owned(), page.word("subject", s))).collect::<Vec<_>>();
    let about = if batch.is_some() { "batch" } else { "" };
    form = form.field(
        Field::new("about", page.say("ask-subject"), Input::Choice(subjects))
            .value(about)
            .required(),
    );
    if let Some(batch) = batch {
        let batch = one(visit, Kind::Batch, batch).await?;
        let called = Called::of(visit, &[("farm_id", text(&farm, "id").to_owned())]).await?;
        leaf.add(Block::Text(capital(&alone(visit, &called, &batch).await?)));
        for caution in cautions(&page, &batch) {
            leaf.add(Block::Caution(caution));
        }
        form = form.hide("batch_id", text(&batch, "id"));
    }
    form = form.field(
        Field::new("wish", page.say("ask-wish"), Input::Long)
            .hint(page.say("ask-wish-hint"))
            .required(),
    );
    leaf.form(visit, refusal, form);
    let farm_id = id(&farm, "id").ok_or(AppError::NotFound)?.to_string();
    let asked = rows::<CorrectionRequest>(visit, &[("farm_id", farm_id)]).await?.items;
    if !asked.is_empty() {
        leaf.heading("ask-before");
        leaf.add(Block::List(asked.iter().map(|r| item(&page, &r.value)).collect()));
    }
    leaf.answer(refusal)
}

/// A wish with its answer.
pub(crate) fn item(page: &Page, wish: &CorrectionRequest) -> Item {
    let mut lines = vec![page.with("asked-on", "date", page.date(wish.asked_on))];
    lines.extend(wish.answer.as_ref().map(|answer| {
        let on = page.day(&wish.answered_on).into();
        page.tell("answered", &[("date", on), ("answer", answer.as_str().into())])
    }));
    Item {
        title: format!("{}: {}", page.word("subject", &wish.about), wish.wish),
        mark: wish.answer.is_none().then(|| page.say("open")),
        lines,
        ..Item::default()
    }
}
