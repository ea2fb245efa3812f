//! Recording and correcting what happened to a batch, on behalf of the member.

use crate::web::blocks::{Block, Cell, Column, Field, Form, Input, Leaf, Refusal, Table};
use crate::web::called::by_code;
use crate::web::echo::{saved, saved_record, taken};
use crate::web::farms::{Names, by_text, id, list, one, text};
use crate::web::forms::{
    as_it_stood, choices, correct, instant, minute, or_none, stands, take_back, version, why,
};
use crate::web::member::batches::cautions;
use crate::web::page::{Page, shown};
use crate::web::site::{Shown, go};
use crate::web::visit::Visit;
use serde_json::{Value as Json, json};
use traybook_domain::Kind;
use traybook_domain::kinds::{BATCH_EVENTS, LOSS_CAUSES};
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
        Field::new("mould_trays", page.say("mould-trays"), Input::Whole)
            .hint(page.say("mould-trays-hint")),
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
    let title = by_code(&page, &batch);
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
    let by_text = by_text(visit, Kind::BatchEvent, &events).await?;
    let row = |e: &Json| {
        let mut name = page.word("event", text(e, "event"));
        if id(e, "id").is_some_and(|id| by_text.contains(&id)) {
            name = format!("{name} · {}", page.say("by-text"));
        }
        vec![
            Cell::link(name, format!("/events/{}", text(e, "id"))),
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

const FIELDS: &[&str] = &[
    "trays",
    "kg",
    "germinated_percent",
    "mould_trays",
    "cause",
    "animal_group_id",
    "reason",
    "note",
];

/// Records an event.
pub(crate) async fn record(visit: Visit) -> Shown {
    let (actor, batch) = (visit.actor()?, visit.id("id")?);
    let mut body = visit.record(Kind::BatchEvent, FIELDS);
    body.insert("id".to_owned(), json!(visit.form_id("id")?));
    body.insert("batch_id".to_owned(), json!(batch));
    body.insert("event".to_owned(), json!(visit.field("event")));
    body.insert("at".to_owned(), instant(&visit, actor, "at"));
    if visit.field("mould_seen") == Some("true") {
        body.insert("mould_seen".to_owned(), json!(true));
    }
    match visit.state.app.create(actor, Kind::BatchEvent, body).await {
        Ok(done) => {
            let saved = saved_record(Kind::BatchEvent, &done.json);
            Ok(go(&format!("/batches/{batch}/events?{saved}")))
        }
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
    let title =
        format!("{} · {}", page.word("event", text(&event, "event")), by_code(&page, &batch));
    let mut leaf = Leaf::new(page.clone(), &*title)
        .back(format!("/batches/{}/events", text(&batch, "id")), by_code(&page, &batch));
    for caution in cautions(&page, &batch) {
        leaf.add(Block::Caution(caution));
    }
    if !by_text(visit, Kind::BatchEvent, std::slice::from_ref(&event)).await?.is_empty() {
        leaf.text("by-text");
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
            // A tick is there or not: "false" would set it.
            "mould_seen" if value == &json!(false) => String::new(),
            _ => stands(value),
        };
        form = form.field(field);
    }
    form = form.field(Field::new("change_reason", page.say("why-corrected"), Input::Text));
    leaf.form(visit, refusal, form);
    leaf.heading("take-back");
    let back = take_back(&page, format!("/events/{}", text(&event, "id")), &event, &title);
    leaf.form(visit, refusal, back);
    leaf.answer(refusal)
}

/// Takes an event back, with a reason; it stays in the history.
pub(crate) async fn withdraw(visit: Visit) -> Shown {
    let (actor, id) = (visit.actor()?, visit.id("id")?);
    let before = one(&visit, Kind::BatchEvent, id).await?;
    let version = version(&visit)?;
    let done = match why(&visit) {
        Ok(why) => visit.state.app.withdraw(actor, Kind::BatchEvent, id, version, Some(why)).await,
        Err(missing) => Err(missing),
    };
    match done {
        Ok(()) => {
            let batch = text(&before, "batch_id");
            Ok(go(&format!("/batches/{batch}?{}", taken(Kind::BatchEvent, id))))
        }
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
    let mut patch = visit.record(Kind::BatchEvent, FIELDS);
    as_it_stood(&visit, &mut patch, &before, FIELDS);
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
        Ok(record) => {
            let batch = text(&record, "batch_id");
            Ok(go(&format!("/batches/{batch}/events?{}", saved(Kind::BatchEvent, id))))
        }
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
