//! The growing guide: every standard with its value in force, and a form for the next one.

use crate::web::blocks::{Block, Cell, Column, Field, Form, Input, Leaf, Refusal, Table};
use crate::web::echo::saved_record;
use crate::web::farms::{one, text};
use crate::web::forms::{choices, correct, or_none};
use crate::web::page::{Page, counted, shown};
use crate::web::site::{Shown, go};
use crate::web::visit::Visit;
use serde_json::{Value as Json, json};
use traybook_answers::planning::GuideValue;
use traybook_domain::Kind;
use traybook_domain::kinds::ANIMAL_CLASSES;
use traybook_domain::people::authz::Action;
use traybook_domain::planning::guide::GUIDE_NAMES;

pub(crate) async fn show_guide(visit: Visit) -> Shown {
    page(&visit, None).await
}

async fn page(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    let guide = visit.state.app.growing_guide(actor, None).await?;
    let mut leaf = Leaf::new(page.clone(), page.say("guide-title"));
    leaf.saved(visit).text("guide-intro");
    if guide.is_dry_matter_doubtful {
        let percent = shown(&guide.dry_matter_kept_percent, 0);
        leaf.add(Block::Caution(page.with("guide-doubtful", "percent", percent)));
    }
    leaf.add(Block::Table(Table {
        caption: page.say("guide-title"),
        columns: vec![
            Column::text(page.say("guide-standard")),
            Column::text(page.say("animal-class")),
            Column::number(page.say("guide-value")),
            Column::text(page.say("guide-since")),
        ],
        rows: guide.values.iter().map(|v| row(&page, v)).collect(),
        total: None,
    }));
    if actor.visible(Action::Create, Kind::GrowingGuideValue).is_err() {
        return leaf.answer(refusal);
    }
    leaf.heading("guide-change");
    let today = actor.coop.today(visit.state.app.now()).to_string();
    let form = Form::new("/guide", "value", page.say("save"))
        .id("id", visit.state.app.new_id()?)
        .field(
            Field::new(
                "name",
                page.say("guide-standard"),
                Input::Choice(choices(&page, "guide", GUIDE_NAMES)),
            )
            .required(),
        )
        .field(
            Field::new(
                "animal_class",
                page.say("animal-class"),
                Input::Choice(or_none(choices(&page, "class", ANIMAL_CLASSES))),
            )
            .hint(page.say("guide-class-hint")),
        )
        .field(Field::new("value", page.say("guide-value"), Input::Decimal).required())
        .field(
            Field::new("valid_from", page.say("guide-from"), Input::Date).value(today).required(),
        )
        .field(Field::new("note", page.say("guide-why"), Input::Text));
    leaf.form(visit, refusal, form);
    leaf.text("sorghum-about");
    if actor.visible(Action::Correct, Kind::Cooperative).is_ok() {
        let coop = one(visit, Kind::Cooperative, actor.coop.id).await?;
        leaf.form(visit, refusal, wet_months(&page, &coop));
    }
    leaf.answer(refusal)
}

/// The months of the wet season: losses are compared with it where they are given.
fn wet_months(page: &Page, coop: &Json) -> Form {
    Form::new("/guide/wet-months", "wet_months", page.say("save"))
        .hide("version", shown(&coop["version"], 0))
        .field(
            Field::new("wet_months", page.say("wet-months"), Input::Text)
                .value(text(coop, "wet_months"))
                .hint(page.say("wet-months-hint"))
                .group(page.say("wet-months-title")),
        )
}

/// Sets the months of the wet season.
pub(crate) async fn set_wet_months(visit: Visit) -> Shown {
    let coop = visit.actor()?.coop.id;
    let mut patch = visit.record(Kind::Cooperative, &["wet_months"]);
    patch.entry("wet_months").or_insert(Json::Null);
    match correct(&visit, Kind::Cooperative, coop, patch).await {
        Ok(_) => Ok(go("/guide?saved=wet-months")),
        Err(error) => {
            let refusal = Refusal::of(&visit, "wet_months", error)?;
            page(&visit, Some(&refusal)).await
        }
    }
}

fn row(page: &Page, value: &GuideValue) -> Vec<Cell> {
    let class = value.animal_class.as_ref().map_or_else(String::new, |c| page.word("class", c));
    let since = match (value.is_derived, value.is_default) {
        (true, _) => page.say("guide-derived"),
        (false, true) => page.say("guide-default"),
        (false, false) => page.day(&value.valid_from),
    };
    let unit = format!("unit-{}", value.unit.replace([' ', '/', '%'], "-"));
    let unit = page.tell(&unit, &[("count", counted(&value.value, 3))]);
    vec![
        page.word("guide", &value.name).into(),
        class.into(),
        format!("{} {unit}", shown(&value.value, 3)).into(),
        since.into(),
    ]
}

/// Sets a standard from a day on.
pub(crate) async fn set(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    let mut body = visit
        .record(Kind::GrowingGuideValue, &["name", "animal_class", "valid_from", "note", "value"]);
    body.insert("id".to_owned(), json!(visit.form_id("id")?));
    match visit.state.app.create(actor, Kind::GrowingGuideValue, body).await {
        Ok(done) => {
            let saved = saved_record(Kind::GrowingGuideValue, &done.json);
            Ok(go(&format!("/guide?{saved}")))
        }
        Err(error) => {
            let refusal = Refusal::of(&visit, "value", error)?;
            page(&visit, Some(&refusal)).await
        }
    }
}
