//! The service level: how often fodder may be missing, and what each promise costs.

use crate::web::blocks::{Block, Cell, Column, Field, Form, Input, Leaf, Refusal, Table};
use crate::web::echo::saved_record;
use crate::web::page::{Page, shown};
use crate::web::site::{Shown, go};
use crate::web::visit::Visit;
use serde_json::json;
use traybook_answers::planning::ServiceLevel;
use traybook_domain::Kind;
use traybook_domain::planning::guide::GuideName;

pub(crate) async fn show_levels(visit: Visit) -> Shown {
    page(&visit, None).await
}

async fn page(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    let levels = visit.state.app.service_levels(actor).await?;
    let mut leaf = Leaf::new(page.clone(), page.say("service-title"));
    leaf.saved(visit).text("service-intro");
    let need = page.tell("service-need", &[("kg", shown(&levels.need_kg_a_day, 0).into())]);
    leaf.add(Block::Lead(need));
    leaf.add(Block::Table(Table {
        caption: page.say("service-title"),
        columns: vec![
            Column::number(page.say("service-short-days")),
            Column::number(page.say("service-short-tenth")),
            Column::number(page.say("service-wasted")),
            Column::number(page.say("service-seed")),
            Column::text(page.say("service-now")),
        ],
        rows: levels.levels.iter().map(|level| row(&page, level)).collect(),
        total: None,
    }));
    leaf.text("service-measured");
    if let Some(prices) = &levels.prices {
        let args = [
            ("wasted", page.money(&prices.wasted_per_kg).into()),
            ("missing", page.money(&prices.missing_per_kg).into()),
            ("days", shown(&prices.short_days, 0).into()),
        ];
        leaf.add(Block::Text(page.tell("service-prices", &args)));
    }
    let option = |level: &ServiceLevel| {
        let days = shown(&level.short_days, 1);
        (level.short_days.to_string(), page.tell("service-choice", &[("days", days.into())]))
    };
    let today = actor.coop.today(visit.state.app.now()).to_string();
    let form = Form::new("/service", "value", page.say("save"))
        .id("id", visit.state.app.new_id()?)
        .field(
            Field::new(
                "value",
                page.say("service-choose"),
                Input::Choice(levels.levels.iter().map(option).collect()),
            )
            .value(
                levels
                    .levels
                    .iter()
                    .find(|l| l.is_in_force)
                    .map_or_else(String::new, |l| l.short_days.to_string()),
            )
            .required(),
        )
        .field(
            Field::new("valid_from", page.say("guide-from"), Input::Date).value(today).required(),
        )
        .field(Field::new("note", page.say("guide-why"), Input::Text));
    leaf.form(visit, refusal, form);
    leaf.answer(refusal)
}

fn row(page: &Page, level: &ServiceLevel) -> Vec<Cell> {
    vec![
        shown(&level.short_days, 1).into(),
        shown(&level.short_tenth_days, 1).into(),
        shown(&level.wasted_kg_a_day, 1).into(),
        shown(&level.seed_kg_a_day, 1).into(),
        if level.is_in_force { page.say("service-in-force") } else { String::new() }.into(),
    ]
}

/// Sets the level from a day on.
pub(crate) async fn set(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    let mut body = visit.record(Kind::GrowingGuideValue, &["valid_from", "note", "value"]);
    body.insert("id".to_owned(), json!(visit.form_id("id")?));
    body.insert("name".to_owned(), json!(GuideName::ShortDaysPercent.text()));
    match visit.state.app.create(actor, Kind::GrowingGuideValue, body).await {
        Ok(done) => {
            Ok(go(&format!("/service?{}", saved_record(Kind::GrowingGuideValue, &done.json))))
        }
        Err(error) => {
            let refusal = Refusal::of(&visit, "value", error)?;
            page(&visit, Some(&refusal)).await
        }
    }
}
