//! Recording and correcting what happened to a batch, on behalf of the member.

use super::farm::batch_option;
use super::log::{correct, instant, now_field};
use crate::web::blocks::{Block, Cell, Column, Field, Form, Input, Leaf, Link, Refusal, Table};
use crate::web::farms::{Names, held_lots, id, list, one, text};
use crate::web::member::batches::{cautions, moment, name};
use crate::web::page::{Page, shown};
use crate::web::site::{Shown, go};
use crate::web::visit::Visit;
use serde_json::{Value as Json, json};
use traybook_app::AppError;
use traybook_domain::Kind;
use traybook_domain::kinds::{BATCH_EVENTS, CROPS, LOSS_CAUSES};
use traybook_domain::time::parse_instant;

/// Words for a list to choose from, the first of them empty where nothing need be chosen.
pub(crate) fn choices(
    page: &Page,
    set: &str,
    names: &[&str],
    empty: bool,
) -> Vec<(String, String)> {
    let none = empty.then(|| (String::new(), String::new()));
    none.into_iter().chain(names.iter().map(|n| ((*n).to_owned(), page.word(set, n)))).collect()
}

fn fields(page: &Page, groups: &Names) -> Vec<Field> {
    let mut by_group = vec![(String::new(), String::new())];
    by_group.extend(groups.options());
    vec![
        Field::new("at", page.say("when"), Input::Moment).required(),
        Field::new("trays", page.say("trays"), Input::Whole),
        Field::new("kg", page.say("kg"), Input::Decimal).hint(page.say("kg-hint")),
        Field::new(
            "cause",
            page.say("cause-of-loss"),
            Input::Choice(choices(page, "cause", LOSS_CAUSES, true)),
        ),
        Field::new("mould_seen", page.say("mould-seen"), Input::Tick),
        Field::new("germinated_percent", page.say("germinated-percent"), Input::Decimal),
        Field::new("animal_group_id", page.say("for-group"), Input::Choice(by_group)),
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
                Input::Choice(choices(&page, "event", BATCH_EVENTS, false)),
            )
            .value("harvested")
            .required(),
        );
    for mut field in fields(&page, &groups) {
        if field.name == "at" {
            field = field.now(now_field(visit, actor));
        }
        form = form.field(field);
    }
    leaf.form(visit, refusal, form);
    leaf.heading("to-correct");
    let events = list(visit, Kind::BatchEvent, &[("batch_id", batch_id.to_owned())]).await?;
    let row = |e: &Json| {
        let at = parse_instant(text(e, "at"));
        let when = at.map(|at| moment(&page, actor, at)).unwrap_or_default();
        vec![
            Cell::link(page.word("event", text(e, "event")), format!("/events/{}", text(e, "id"))),
            when.into(),
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
    body.insert("at".to_owned(), visit.field("at").map_or(Json::Null, |t| instant(actor, t)));
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
                let at = parse_instant(text(&event, "at")).map(traybook_domain::time::to_utc);
                let local = at.map(|at| at.with_timezone(&actor.coop.zone));
                local.map(|l| l.format("%Y-%m-%dT%H:%M").to_string()).unwrap_or_default()
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
    let version = visit.field("version").and_then(|v| v.parse().ok()).unwrap_or(0);
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
    patch.insert(
        "at".to_owned(),
        visit.field("at").map_or(Json::Null, |t| same_minute(&before, instant(actor, t))),
    );
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
    let minute = |v: &Json| v.as_str().and_then(parse_instant).map(|at| at.0 / 60_000);
    if minute(&before["at"]).is_some() && minute(&before["at"]) == minute(&given) {
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
    let mut lots = vec![(String::new(), String::new())];
    let (kept, free): (Vec<&Json>, Vec<&Json>) =
        stock.iter().partition(|r| held.contains(text(r, "seed_lot_id")));
    for row in free {
        let kg = shown(&row["stock_kg"], 1);
        let name = page.tell(
            "lot-in-stock",
            &[("lot", text(row, "seed_lot").to_owned().into()), ("kg", kg.into())],
        );
        lots.push((text(row, "seed_lot_id").to_owned(), name));
    }
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
            Field::new(
                "crop",
                page.say("crop"),
                Input::Choice(choices(&page, "crop", CROPS, false)),
            )
            .required(),
        )
        .field(Field::new("seed_lot_id", page.say("seed-lot"), Input::Choice(lots)))
        .field(
            Field::new("at", page.say("soaked-at"), Input::Moment)
                .now(now_field(visit, actor))
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
    use traybook_app::together::{Piece, following};
    let actor = visit.actor()?;
    let id = visit.form_id("id")?;
    let batch = visit.record(&["shed_id", "animal_group_id", "crop", "seed_lot_id", "note"], &[]);
    let mut soak = visit.record(&[], &["kg"]);
    soak.insert("batch_id".to_owned(), json!(id));
    soak.insert("event".to_owned(), json!("soaked"));
    soak.insert("at".to_owned(), visit.field("at").map_or(Json::Null, |t| instant(actor, t)));
    let pieces = vec![
        Piece { kind: Kind::Batch, id, body: batch, prefix: String::new() },
        Piece {
            kind: Kind::BatchEvent,
            id: following(actor, id, Kind::BatchEvent, "soaked"),
            body: soak,
            prefix: String::new(),
        },
    ];
    match visit.state.app.create_together(actor, pieces).await {
        Ok(()) => Ok(go(&format!("/batches/{id}"))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "batch", error)?;
            new(&visit, Some(&refusal)).await
        }
    }
}
