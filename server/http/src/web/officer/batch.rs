//! Starting a batch on behalf of the member, and correcting what it is: its crop, seed lot, group.

use super::farm::batch_option;
use crate::web::blocks::{Block, Field, Form, Input, Leaf, Link, Refusal};
use crate::web::called::by_code;
use crate::web::echo::{saved, taken};
use crate::web::farms::{Names, all, held_lots, list, one, text};
use crate::web::forms::{
    Options, as_it_stood, choices, correct, instant, is_taken_back, minute, or_none, put, stands,
    take_back, version, why,
};
use crate::web::member::batches::cautions;
use crate::web::page::{Page, shown};
use crate::web::site::{Shown, go};
use crate::web::visit::Visit;
use serde_json::json;
use traybook_answers::seed::StockLine;
use traybook_app::records::together::{Piece, following};
use traybook_app::{Actor, AppError};
use traybook_domain::Kind;
use traybook_domain::kinds::CROPS;
use uuid::Uuid;

/// Seed lots that a farm has, to choose one of; those that are held only where they are the one
/// that stands, and are answered by name.
async fn lots(
    visit: &Visit,
    actor: &Actor,
    farm: Uuid,
    standing: &str,
) -> Result<(Options, Vec<String>), AppError> {
    let page = visit.page();
    let stock = visit.state.app.farm_stock(actor, farm).await?.items;
    let held = held_lots(visit).await?;
    let is_held = |row: &&StockLine| held.contains(&row.seed_lot_id.to_string());
    let lot = |row: &StockLine| {
        let kg = shown(&row.stock_kg, 1);
        let code = row.seed_lot.clone().unwrap_or_default();
        let args = [("lot", code.into()), ("kg", kg.into())];
        (row.seed_lot_id.to_string(), page.tell("lot-in-stock", &args))
    };
    let is_free = |row: &&StockLine| !is_held(row) || row.seed_lot_id.to_string() == standing;
    let mut options: Options = stock.iter().filter(is_free).map(lot).collect();
    if let Ok(id) = Uuid::try_parse(standing)
        && !options.iter().any(|(known, _)| known == standing)
    {
        let lot = one(visit, Kind::SeedLot, id).await?;
        options.push((standing.to_owned(), text(&lot, "code").to_owned()));
    }
    let kept = stock.iter().filter(is_held).filter_map(|row| row.seed_lot.clone()).collect();
    Ok((or_none(options), kept))
}

/// The form for a batch: what was soaked, where, for whom.
pub(crate) async fn show_new(visit: Visit) -> Shown {
    new(&visit, None).await
}

async fn new(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let farm = one(visit, Kind::Farm, visit.id("id")?).await?;
    let (page, actor) = (visit.page(), visit.actor()?);
    let farm_id = text(&farm, "id");
    let of = [("farm_id", farm_id.to_owned())];
    let sheds = Names::of(visit, Kind::Shed, "code", &of).await?;
    let groups = Names::of(visit, Kind::AnimalGroup, "code", &of).await?;
    let (lots, kept) = lots(visit, actor, visit.id("id")?, "").await?;
    let mut leaf = Leaf::new(page.clone(), page.with("batch-new", "farm", text(&farm, "code")))
        .back(format!("/farms/{farm_id}"), text(&farm, "code"));
    let form = Form::new(format!("/farms/{farm_id}/batch"), "batch", page.say("save"))
        .id("id", visit.state.app.new_id()?)
        .keep(page.with("batch-new", "farm", text(&farm, "code")))
        .field(
            Field::new("shed_id", page.say("in-shed"), Input::Choice(sheds.options())).required(),
        )
        .field(
            Field::new("animal_group_id", page.say("for-group"), Input::Choice(groups.options()))
                .required(),
        )
        .field(
            Field::new("crop", page.say("crop"), Input::Choice(choices(&page, "crop", CROPS)))
                .required(),
        )
        .field(Field::new("seed_lot_id", page.say("seed-lot"), Input::Choice(lots)))
        .field(
            Field::new("at", page.say("soaked-at"), Input::Moment)
                .now(minute(actor, visit.state.app.now()))
                .required(),
        )
        .field(Field::new("kg", page.say("seed-soaked-kg"), Input::Decimal).required())
        .field(Field::new("note", page.say("note"), Input::Text));
    leaf.form(visit, refusal, form);
    for lot in kept {
        leaf.add(Block::Caution(page.with("lot-held", "lot", lot)));
    }
    leaf.text("treated-seed");
    let recent =
        list(visit, Kind::Batch, &[("farm_id", farm_id.to_owned()), ("limit", "5".to_owned())])
            .await?;
    let links = recent.iter().map(|b| {
        let (id, name) = batch_option(&page, b);
        Link::to(format!("/batches/{id}"), name)
    });
    leaf.add(Block::Links(links.collect()));
    leaf.answer(refusal)
}

/// Starts a batch: the batch and its soak, both or neither.
pub(crate) async fn start(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    let id = visit.form_id("id")?;
    let batch =
        visit.record(Kind::Batch, &["shed_id", "animal_group_id", "crop", "seed_lot_id", "note"]);
    let mut soak = visit.record(Kind::BatchEvent, &["kg"]);
    put(&mut soak, [("batch_id", json!(id)), ("event", json!("soaked"))]);
    put(&mut soak, [("at", instant(&visit, actor, "at"))]);
    let soaked = following(actor, id, Kind::BatchEvent, "soaked");
    let pieces =
        vec![Piece::new(Kind::Batch, id, batch), Piece::new(Kind::BatchEvent, soaked, soak)];
    match visit.state.app.create_together(actor, pieces).await {
        Ok(()) => Ok(go(&format!("/batches/{id}"))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "batch", error)?;
            new(&visit, Some(&refusal)).await
        }
    }
}

/// What of a batch can be corrected; its shed can not.
const FIELDS: &[&str] =
    &["code", "animal_group_id", "crop", "seed_lot_id", "note", "harvest_age_days"];

/// A batch, to be corrected.
pub(crate) async fn show_batch(visit: Visit) -> Shown {
    batch(&visit, None).await
}

async fn batch(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let batch = one(visit, Kind::Batch, visit.id("id")?).await?;
    let (page, actor) = (visit.page(), visit.actor()?);
    let (id, farm) = (text(&batch, "id"), text(&batch, "farm_id"));
    let of = [("farm_id", farm.to_owned())];
    let groups = Names::of(visit, Kind::AnimalGroup, "code", &of).await?;
    let farm = Uuid::try_parse(farm).ok().ok_or(AppError::NotFound)?;
    let (lots, _) = lots(visit, actor, farm, text(&batch, "seed_lot_id")).await?;
    let title = by_code(&page, &batch);
    let mut leaf = Leaf::new(page.clone(), page.with("correct-of", "what", title.as_str()))
        .back(format!("/batches/{id}"), &*title);
    for caution in cautions(&page, &batch) {
        leaf.add(Block::Caution(caution));
    }
    if is_taken_back(&batch) {
        leaf.add(Block::Caution(page.say("taken-back")));
        return leaf.show();
    }
    leaf.text("correction-about").text("batch-shed-stays");
    let mut form = Form::new(format!("/batches/{id}/correct"), "batch", page.say("correct"))
        .hide("version", shown(&batch["version"], 0))
        .keep(page.with("correct-of", "what", title.as_str()));
    for mut field in fields(&page, &groups, lots) {
        field.value = stands(&batch[field.name.as_str()]);
        form = form.field(field);
    }
    form = form.field(Field::new("change_reason", page.say("why-corrected"), Input::Text));
    leaf.form(visit, refusal, form);
    leaf.text("treated-seed");
    leaf.heading("take-back").text("batch-take-back-about");
    let back = take_back(&page, format!("/batches/{id}"), &batch, &title)
        .hide("events", events(visit, visit.id("id")?).await?);
    leaf.form(visit, refusal, back);
    leaf.answer(refusal)
}

fn fields(page: &Page, groups: &Names, lots: Options) -> Vec<Field> {
    let crops = Input::Choice(choices(page, "crop", CROPS));
    let groups = Input::Choice(or_none(groups.options()));
    vec![
        Field::new("crop", page.say("crop"), crops).required(),
        Field::new("seed_lot_id", page.say("seed-lot"), Input::Choice(lots)),
        Field::new("animal_group_id", page.say("for-group"), groups),
        Field::new("harvest_age_days", page.say("harvest-age-days"), Input::Whole)
            .hint(page.say("harvest-age-hint")),
        Field::new("code", page.say("short-name"), Input::Text),
        Field::new("note", page.say("note"), Input::Long),
    ]
}

/// Corrects a batch; its earlier values stay in the history.
pub(crate) async fn correct_batch(visit: Visit) -> Shown {
    let id = visit.id("id")?;
    let before = one(&visit, Kind::Batch, id).await?;
    let mut patch = visit.record(Kind::Batch, FIELDS);
    as_it_stood(&visit, &mut patch, &before, FIELDS);
    if let Some(why) = visit.field("change_reason") {
        patch.insert("change_reason".to_owned(), json!(why));
    }
    match correct(&visit, Kind::Batch, id, patch).await {
        Ok(_) => Ok(go(&format!("/batches/{id}?{}", saved(Kind::Batch, id)))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "batch", error)?;
            batch(&visit, Some(&refusal)).await
        }
    }
}

/// Takes a batch back with all that happened to it, with a reason; both stay in the history.
pub(crate) async fn withdraw_batch(visit: Visit) -> Shown {
    let id = visit.id("id")?;
    let before = one(&visit, Kind::Batch, id).await?;
    match take(&visit, id).await {
        Ok(()) => {
            let farm = text(&before, "farm_id");
            Ok(go(&format!("/farms/{farm}?{}", taken(Kind::Batch, id))))
        }
        Err(error) => {
            let refusal = Refusal::of(&visit, "withdraw", error)?;
            batch(&visit, Some(&refusal)).await
        }
    }
}

async fn take(visit: &Visit, id: Uuid) -> Result<(), AppError> {
    let (why, version) = (why(visit)?, version(visit)?);
    // What was recorded since the form was made would go unseen.
    let now = events(visit, id).await?;
    if visit.field("events").is_some_and(|seen| seen != now) {
        return Err(AppError::Stale { current: version });
    }
    visit.state.app.take_back_batch(visit.actor()?, id, version, &why).await
}

/// How often anything was recorded or corrected of a batch.
async fn events(visit: &Visit, batch: Uuid) -> Result<String, AppError> {
    let events = all(visit, Kind::BatchEvent, &[("batch_id", batch.to_string())]).await?;
    Ok(events.iter().filter_map(|e| e["version"].as_i64()).sum::<i64>().to_string())
}
