//! Recording and correcting what happened to a batch, on behalf of the member.

use super::farm::batch_option;
use crate::web::blocks::{Block, Cell, Column, Field, Form, Input, Leaf, Link, Refusal, Table};
use crate::web::farms::{Names, held_lots, id, list, one, text};
use crate::web::forms::{choices, correct, instant, minute, or_none, put, version};
use crate::web::member::batches::{cautions, name};
use crate::web::page::{Page, shown};
use crate::web::site::{Shown, go};
use crate::web::visit::Visit;
use serde_json::{Value as Json, json};
use traybook_app::AppError;
use traybook_app::together::{Piece, following};
use traybook_domain::Kind;
use traybook_domain::kinds::{BATCH_EVENTS, CROPS, LOSS_CAUSES};
use traybook_domain::time::parse_instant;

fn fields(page: &Page, groups: &Names) -> Vec<Field> {
    vec![
        Field::new("at", page.say("when"), Input::Moment).required(),
        Field::new("trays", page.say("trays"), Input::Whole),
        Field::new("kg", page.say("kg"), Input::Decimal).hint(page.say("kg-hint")),
        Field::new(
            "cause",
            page.say("cause-of-loss"),
            Input::Choice(or_none(choices(page, "cause", LOSS_CAUSES))),
        ),
        Field::new("mould_seen", page.say("mould-seen"), Input::Tick),
        Field::new("germinated_percent", page.say("germinated-percent"), Input::Decimal),
        Field::new(
            "animal_group_id",
            page.say("for-group"),
            Input::Choice(or_none(groups.options())),
        ),
        Field::new("reason", page.say("reason-in-spite"), Input::Text),
        Field::new("note", page.say("note"), Input::Text),
    ]
}

/// The form for a new event, and the events with a link each to correct them.
pub(crate) async fn show_events(visit: Visit) -> Shown {
    events(&visit, None).await
}

async fn events(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let batch = one(visit, Kind::Batch, visit.id("id")?).await?;
    let (page, actor) = (visit.page(), visit.actor()?);
    let (batch_id, farm) = (text(&batch, "id"), text(&batch, "farm_id"));
    let groups =
        Names::of(visit, Kind::AnimalGroup, "code", &[("farm_id", farm.to_owned())]).await?;
    let title = name(&page, &batch);
    let mut leaf = Leaf::new(page.clone(), &*title).back(format!("/batches/{batch_id}"), &*title);
    leaf.saved(visit);
    for caution in cautions(&page, &batch) {
        leaf.add(Block::Caution(caution));
    }
    let mut form = Form::new(format!("/batches/{batch_id}/events"), "event", page.say("save"))
        .id("id", visit.state.app.new_id()?)
        .keep(title)
        .field(
            Field::new(
                "event",
                page.say("what-happened"),
                Input::Choice(choices(&page, "event", BATCH_EVENTS)),
            )
            .value("harvested")
            .required(),
        );
    for mut field in fields(&page, &groups) {
        if field.name == "at" {
            field = field.now(minute(actor, visit.state.app.now()));
        }
        form = form.field(field);
    }
    leaf.form(visit, refusal, form);
    leaf.heading("to-correct");
    let events = list(visit, Kind::BatchEvent, &[("batch_id", batch_id.to_owned())]).await?;
    let row = |e: &Json| {
        vec![
            Cell::link(page.word("event", text(e, "event")), format!("/events/{}", text(e, "id"))),
            page.moment(&e["at"]).into(),
            shown(&e["trays"], 0).into(),
            shown(&e["kg"], 2).into(),
        ]
    };
    leaf.add(Block::Table(Table {
        caption: page.say("what-happened"),
        columns: vec![
            Column::text(page.say("event")),
            Column::text(page.say("when")),
            Column::number(page.say("trays")),
            Column::number(page.say("kg")),
        ],
        rows: events.iter().map(row).collect(),
        total: None,
    }));
    leaf.answer(refusal)
}

const NUMBERS: &[&str] = &["trays", "kg", "germinated_percent"];
const TEXTS: &[&str] = &["cause", "animal_group_id", "reason", "note"];

/// Records an event.
pub(crate) async fn record(visit: Visit) -> Shown {
    let (actor, batch) = (visit.actor()?, visit.id("id")?);
    let mut body = visit.record(TEXTS, NUMBERS);
    body.insert("id".to_owned(), json!(visit.form_id("id")?));
    body.insert("batch_id".to_owned(), json!(batch));
    body.insert("event".to_owned(), json!(visit.field("event")));
    body.insert("at".to_owned(), instant(&visit, actor, "at"));
    if visit.field("mould_seen") == Some("true") {
        body.insert("mould_seen".to_owned(), json!(true));
    }
    match visit.state.app.create(actor, Kind::BatchEvent, body).await {
        Ok(_) => Ok(go(&format!("/batches/{batch}/events?saved=1"))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "event", error)?;
            events(&visit, Some(&refusal)).await
        }
    }
}

/// One event, to be corrected.
pub(crate) async fn show_event(visit: Visit) -> Shown {
    event(&visit, None).await
}

async fn event(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let event = one(visit, Kind::BatchEvent, visit.id("id")?).await?;
    let batch = one(visit, Kind::Batch, id(&event, "batch_id").unwrap_or_default()).await?;
    let (page, actor) = (visit.page(), visit.actor()?);
    let groups = Names::of(
        visit,
        Kind::AnimalGroup,
        "code",
        &[("farm_id", text(&batch, "farm_id").to_owned())],
    )
    .await?;
    let title = format!("{} · {}", page.word("event", text(&event, "event")), name(&page, &batch));
    let mut leaf = Leaf::new(page.clone(), &*title)
        .back(format!("/batches/{}/events", text(&batch, "id")), name(&page, &batch));
    for caution in cautions(&page, &batch) {
        leaf.add(Block::Caution(caution));
    }
    leaf.text("correction-about");
    let mut form =
        Form::new(format!("/events/{}", text(&event, "id")), "event", page.say("correct"))
            .hide("version", shown(&event["version"], 0))
            .keep(&*title);
    for mut field in fields(&page, &groups) {
        let value = &event[field.name.as_str()];
        field.value = match field.name.as_str() {
            "at" => {
                let at = parse_instant(text(&event, "at"));
                at.map(|at| minute(actor, at)).unwrap_or_default()
            }
            "mould_seen" => {
                if value == &json!(true) {
                    "true".to_owned()
                } else {
                    String::new()
                }
            }
            name if NUMBERS.contains(&name) => {
                value.as_f64().map(|v| v.to_string()).unwrap_or_default()
            }
            name => text(&event, name).to_owned(),
        };
        form = form.field(field);
    }
    form = form.field(Field::new("change_reason", page.say("why-corrected"), Input::Text));
    leaf.form(visit, refusal, form);
    leaf.heading("take-back");
    let back = Form::new(
        format!("/events/{}/withdraw", text(&event, "id")),
        "withdraw",
        page.say("take-back"),
    )
    .hide("version", shown(&event["version"], 0))
    .keep(page.with("take-back-of", "what", title.as_str()))
    .field(Field::new("why", page.say("take-back-why"), Input::Text).required());
    leaf.form(visit, refusal, back);
    leaf.answer(refusal)
}

/// Takes an event back, with a reason; it stays in the history.
pub(crate) async fn withdraw(visit: Visit) -> Shown {
    let (actor, id) = (visit.actor()?, visit.id("id")?);
    let before = one(&visit, Kind::BatchEvent, id).await?;
    let version = version(&visit)?;
    let reason = visit.field("why").map(str::to_owned);
    let done = match reason {
        Some(reason) => {
            visit.state.app.withdraw(actor, Kind::BatchEvent, id, version, Some(reason)).await
        }
        None => Err(AppError::field("why", "required", "say why it is taken back")),
    };
    match done {
        Ok(()) => Ok(go(&format!("/batches/{}?saved=1", text(&before, "batch_id")))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "withdraw", error)?;
            event(&visit, Some(&refusal)).await
        }
    }
}

/// Corrects an event; its earlier values stay in the history.
pub(crate) async fn correct_event(visit: Visit) -> Shown {
    let (actor, id) = (visit.actor()?, visit.id("id")?);
    let before = one(&visit, Kind::BatchEvent, id).await?;
    let mut patch = visit.record(TEXTS, NUMBERS);
    // What was emptied is taken away.
    for name in TEXTS.iter().chain(NUMBERS) {
        if !patch.contains_key(*name) && !before[*name].is_null() {
            patch.insert((*name).to_owned(), Json::Null);
        }
    }
    let seen = visit.field("mould_seen") == Some("true");
    if seen || before["mould_seen"] == json!(true) {
        patch.insert("mould_seen".to_owned(), json!(seen));
    }
    patch.insert("at".to_owned(), same_minute(&before, instant(&visit, actor, "at")));
    if let Some(why) = visit.field("change_reason") {
        patch.insert("change_reason".to_owned(), json!(why));
    }
    let done = correct(&visit, Kind::BatchEvent, id, patch).await;
    match done {
        Ok(record) => Ok(go(&format!("/batches/{}/events?saved=1", text(&record, "batch_id")))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "event", error)?;
            event(&visit, Some(&refusal)).await
        }
    }
}

/// A form shows minutes: a time that was not changed keeps its seconds.
fn same_minute(before: &Json, given: Json) -> Json {
    let of = |v: &Json| v.as_str().and_then(parse_instant).map(|at| at.0 / 60_000);
    if of(&before["at"]).is_some_and(|minute| of(&given) == Some(minute)) {
        return before["at"].clone();
    }
    given
}

/// Starting a batch for a member: what was soaked, where, for whom.
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
    let stock = visit.state.app.farm_stock(actor, visit.id("id")?).await?;
    let held = held_lots(visit).await?;
    let (kept, free): (Vec<&Json>, Vec<&Json>) =
        stock.iter().partition(|r| held.contains(text(r, "seed_lot_id")));
    let lot = |row: &&Json| {
        let kg = shown(&row["stock_kg"], 1);
        let args = [("lot", text(row, "seed_lot").to_owned().into()), ("kg", kg.into())];
        (text(row, "seed_lot_id").to_owned(), page.tell("lot-in-stock", &args))
    };
    let lots = or_none(free.iter().map(lot).collect());
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
    for row in kept {
        leaf.add(Block::Caution(page.with("lot-held", "lot", text(row, "seed_lot"))));
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
    let batch = visit.record(&["shed_id", "animal_group_id", "crop", "seed_lot_id", "note"], &[]);
    let mut soak = visit.record(&[], &["kg"]);
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
