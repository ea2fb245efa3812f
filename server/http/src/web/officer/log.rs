//! A visit: one form for checks, readings, photos, advice and what is agreed on; and the visit as
//! it was logged.

use crate::web::blocks::{Block, Field, Form, Input, Item, Leaf, Link, Refusal};
use crate::web::echo::saved;
use crate::web::farms::{all_rows, row, rows, text};
use crate::web::forms::{choices, correct, instant, minute, put};
use crate::web::page::{Page, shown};
use crate::web::site::{Shown, go};
use crate::web::visit::{Upload, Visit};
use actix_web::HttpResponse;
use chrono::NaiveDate;
use serde_json::{Map, json};
use traybook_answers::Decimal;
use traybook_app::records::photos;
use traybook_app::records::rows::Row;
use traybook_app::records::together::{Piece, following};
use traybook_app::{Actor, AppError};
use traybook_domain::kinds::{
    ANSWERS, ChecklistItem, Farm, FollowUp, Member, OUTCOMES, Photo, Reading, Shed,
    Visit as Logged, VisitCheck,
};
use traybook_domain::people::authz::Action;
use traybook_domain::{FieldError, Kind};
use uuid::Uuid;

/// Things that can be agreed on in one visit.
const FOLLOW_UPS: usize = 3;
/// Air temperature between which mould keeps slow (published range of sprouting rooms, °C).
const MILD_C: (f64, f64) = (17.0, 24.0);
/// Relative humidity above which mould grows fast, per cent.
const HUMID_PERCENT: f64 = 80.0;

/// The questions asked on a day.
async fn questions(visit: &Visit, day: NaiveDate) -> Result<Vec<Row<ChecklistItem>>, AppError> {
    let mut items = all_rows::<ChecklistItem>(visit, &[]).await?;
    items.retain(|i| i.value.valid_from <= day && i.value.valid_to.is_none_or(|to| day <= to));
    items.sort_by(|a, b| {
        let (a, b) = (&a.value, &b.value);
        (&a.topic, &a.code).cmp(&(&b.topic, &b.code))
    });
    Ok(items)
}

pub(crate) async fn show_form(visit: Visit) -> Shown {
    form(&visit, None).await
}

async fn form(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    visit.actor()?.visible(Action::Create, Kind::Visit)?;
    let farm: Row<Farm> = row(visit, visit.id("id")?).await?;
    let member: Row<Member> = row(visit, farm.value.member_id).await?;
    let (page, actor) = (visit.page(), visit.actor()?);
    let (farm_id, today) = (farm.id, actor.coop.today(visit.state.app.now()));
    let code = farm.value.code.as_str();
    let name = format!("{code} · {}", member.value.name);
    let mut leaf = Leaf::new(page.clone(), page.with("visit-title", "farm", name.as_str()))
        .back(format!("/farms/{farm_id}"), code);
    let mut form = Form::new(format!("/farms/{farm_id}/visit"), "visit", page.say("visit-save"))
        .id("id", visit.state.app.new_id()?)
        .hide("ended_at", "")
        .keep(page.with("visit-title", "farm", name.as_str()));
    form = form.field(
        Field::new("started_at", page.say("visit-begin"), Input::Moment)
            .now(minute(actor, visit.state.app.now()))
            .required(),
    );
    let answers = choices(&page, "answer", ANSWERS);
    let mut group = page.say("checks-title");
    for item in questions(visit, today).await? {
        let field = Field::new(
            format!("{CHECK}{}{ANSWER}", item.id),
            item.value.question,
            Input::Tap(answers.clone()),
        );
        form = form.field(field.group(std::mem::take(&mut group)));
    }
    let sheds = rows::<Shed>(visit, &[("farm_id", farm_id.to_string())]).await?.items;
    form = form.field(
        Field::new("temperature_c", page.say("reading-temperature"), Input::Decimal)
            .group(page.say("readings-title"))
            .half(),
    );
    let humidity = Field::new("humidity_percent", page.say("reading-humidity"), Input::Decimal);
    form = form.field(humidity.half());
    match sheds.as_slice() {
        [only] => form = form.hide("shed_id", only.id.to_string()),
        [] => {}
        several => {
            let mut options: Vec<(String, String)> =
                several.iter().map(|s| (s.id.to_string(), s.value.code.clone())).collect();
            options.sort_by(|a, b| a.1.cmp(&b.1));
            form = form.field(Field::new("shed_id", page.say("in-shed"), Input::Choice(options)));
        }
    }
    form = form.field(
        Field::new(
            "photos",
            page.say("photos-title"),
            Input::File("image/jpeg,image/png,image/webp", true),
        )
        .hint(page.say("photos-hint"))
        .group(page.say("photos-title")),
    );
    form = form.field(
        Field::new("note", page.say("visit-seen"), Input::Long).group(page.say("advice-title")),
    );
    form = form.field(
        Field::new("advice", page.say("visit-advised"), Input::Long).hint(page.say("advice-hint")),
    );
    for at in 1..=FOLLOW_UPS {
        let prefix = follow_up_prefix(at);
        let mut action =
            Field::new(format!("{prefix}action"), page.say("follow-up-action"), Input::Text);
        if at == 1 {
            action = action.group(page.say("follow-ups-title"));
        }
        let due = Field::new(format!("{prefix}due_on"), page.say("follow-up-due"), Input::Date);
        // One thing agreed on is the usual case.
        let [action, due] = [action, due].map(|field| if at == 1 { field } else { field.more() });
        form = form.field(action).field(due);
    }
    leaf.form(visit, refusal, form);
    leaf.answer(refusal)
}

/// What the names of the answers' fields begin and end with; the question's id stands between.
const CHECK: &str = "check-";
const ANSWER: &str = "-answer";

/// What the names of the fields of a follow-up begin with.
fn follow_up_prefix(at: usize) -> String {
    format!("follow-up-{at}-")
}

/// Records a visit with everything that came with it: all of it, or nothing.
pub(crate) async fn log(visit: Visit) -> Shown {
    let farm = visit.id("id")?;
    let actor = visit.actor()?;
    let id = visit.form_id("id")?;
    let pieces = pieces(&visit, actor, farm, id);
    let done = async {
        let photos = photos(&visit)?;
        visit.state.app.create_together(actor, pieces).await?;
        for (at, photo) in photos.iter().enumerate() {
            let photo_id = following(actor, id, Kind::Photo, &at.to_string());
            keep_photo(&visit, actor, (farm, id, photo_id), photo.bytes.clone()).await?;
        }
        Ok(())
    };
    match done.await {
        Ok(()) => Ok(go(&format!("/visits/{id}?{}", saved(Kind::Visit, id)))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "visit", error)?;
            form(&visit, Some(&refusal)).await
        }
    }
}

/// The photos that came with the form, each looked at before anything is recorded.
fn photos(visit: &Visit) -> Result<Vec<&Upload>, AppError> {
    let sent = visit.files.iter().filter(|f| f.field == "photos" && !f.bytes.is_empty());
    let sent: Vec<&Upload> = sent.collect();
    for photo in &sent {
        let detail = match photos::check(&photo.bytes) {
            Ok(()) => continue,
            Err(AppError::TooLarge { bytes_max }) => {
                format!("{}: choose a picture of at most {bytes_max} bytes", photo.name)
            }
            Err(AppError::Invalid(errors)) => {
                let why = errors.into_iter().map(|e| e.detail).collect::<Vec<_>>().join("; ");
                format!("{}: {why}", photo.name)
            }
            Err(_) => format!("{}: choose a JPEG, PNG or WebP picture", photo.name),
        };
        let error = FieldError::new("photos", "type", detail).naming("file", &photo.name);
        return Err(AppError::Invalid(vec![error]));
    }
    Ok(sent)
}

fn pieces(visit: &Visit, actor: &Actor, farm: Uuid, id: Uuid) -> Vec<Piece> {
    let following = |kind: Kind, key: &str| following(actor, id, kind, key);
    let begun = instant(visit, actor, "started_at");
    let mut body = visit.record(Kind::Visit, &["note", "advice"]);
    put(&mut body, [("farm_id", json!(farm)), ("officer_id", json!(actor.person))]);
    put(&mut body, [("started_at", begun.clone())]);
    if visit.field("ended_at").is_some() {
        put(&mut body, [("ended_at", instant(visit, actor, "ended_at"))]);
    }
    let mut pieces = vec![Piece::new(Kind::Visit, id, body)];
    // Every answer that came is kept, whatever questions are asked meanwhile.
    for (name, _) in &visit.fields {
        let item = name.strip_prefix(CHECK).and_then(|n| n.strip_suffix(ANSWER));
        let Some(item) = item else { continue };
        let prefix = format!("{CHECK}{item}-");
        let mut body = visit.part(&prefix, Kind::VisitCheck, &["answer"]);
        if !body.is_empty() {
            put(&mut body, [("visit_id", json!(id)), ("checklist_item_id", json!(item))]);
            let check = Piece::new(Kind::VisitCheck, following(Kind::VisitCheck, item), body);
            pieces.push(check.within(prefix));
        }
    }
    let mut body = visit.record(Kind::Reading, &["temperature_c", "humidity_percent"]);
    if !body.is_empty() {
        body.extend(visit.record(Kind::Reading, &["shed_id"]));
        put(&mut body, [("farm_id", json!(farm)), ("visit_id", json!(id)), ("at", begun)]);
        pieces.push(Piece::new(Kind::Reading, following(Kind::Reading, ""), body));
    }
    for at in 1..=FOLLOW_UPS {
        let prefix = follow_up_prefix(at);
        let mut body = visit.part(&prefix, Kind::FollowUp, &["action", "due_on"]);
        if !body.is_empty() {
            put(&mut body, [("farm_id", json!(farm)), ("visit_id", json!(id))]);
            let key = at.to_string();
            let agreed = Piece::new(Kind::FollowUp, following(Kind::FollowUp, &key), body);
            pieces.push(agreed.within(prefix));
        }
    }
    pieces
}

/// Keeps a photo of a visit: its record, then its bytes. Sending it again is harmless.
async fn keep_photo(
    visit: &Visit,
    actor: &Actor,
    (farm, of, id): (Uuid, Uuid, Uuid),
    bytes: Vec<u8>,
) -> Result<(), AppError> {
    let taken = if visit.field("taken_at").is_some() { "taken_at" } else { "started_at" };
    let mut body = Map::new();
    put(&mut body, [("farm_id", json!(farm)), ("visit_id", json!(of))]);
    put(&mut body, [("taken_at", instant(visit, actor, taken)), ("keep_location", json!(false))]);
    visit.state.app.create_together(actor, vec![Piece::new(Kind::Photo, id, body)]).await?;
    visit.state.app.store_photo(actor, id, bytes).await?;
    Ok(())
}

/// One photo of a visit that a phone kept: each is sent on its own, so that a broken line costs
/// one photo, not all.
pub(crate) async fn keep_one_photo(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    let of = visit.id("id")?;
    let id = visit.form_id("id")?;
    let logged: Row<Logged> = row(&visit, of).await?;
    let farm = logged.value.farm_id;
    let photo = visit.file("photo");
    let bytes = photo.map(|p| p.bytes.clone());
    let bytes =
        bytes.ok_or_else(|| AppError::field("photo", "required", "send the picture file"))?;
    keep_photo(&visit, actor, (farm, of, id), bytes).await?;
    Ok(go(&format!("/visits/{of}")))
}

/// The bytes of a photo.
pub(crate) async fn show_photo(visit: Visit) -> Shown {
    let content = visit.state.app.photo(visit.actor()?, visit.id("id")?).await?;
    Ok(HttpResponse::Ok()
        .content_type(content.media_type)
        .insert_header(("cache-control", "private, no-store"))
        .body(content.bytes))
}

/// A visit as it was logged.
pub(crate) async fn show_visit(visit: Visit) -> Shown {
    let logged: Row<Logged> = row(&visit, visit.id("id")?).await?;
    let farm: Row<Farm> = row(&visit, logged.value.farm_id).await?;
    let page = visit.page();
    let of = [("visit_id", logged.id.to_string())];
    let (code, logged) = (farm.value.code.as_str(), logged.value);
    let mut leaf = Leaf::new(page.clone(), page.with("visit-title", "farm", code))
        .back(format!("/farms/{}", farm.id), code);
    leaf.saved(&visit);
    leaf.add(Block::Lead(page.moment(&logged.started_at)));
    for (key, said) in [("visit-seen", logged.note), ("visit-advised", logged.advice)] {
        if let Some(said) = said {
            leaf.add(Block::Facts(vec![(page.say(key), said)]));
        }
    }
    for reading in rows::<Reading>(&visit, &of).await?.items {
        climate(&page, &mut leaf, &reading.value);
    }
    let mut checks = rows::<VisitCheck>(&visit, &of).await?.items;
    if !checks.is_empty() {
        leaf.heading("checks-title");
        let questions = all_rows::<ChecklistItem>(&visit, &[]).await?;
        // What was not as it should be comes first.
        checks.sort_by_key(|c| c.value.answer == "yes");
        let item = |c: &Row<VisitCheck>| {
            let question = questions.iter().find(|q| q.id == c.value.checklist_item_id);
            Item {
                title: question.map(|q| q.value.question.clone()).unwrap_or_default(),
                mark: Some(page.word("answer", &c.value.answer)),
                ..Item::default()
            }
        };
        leaf.add(Block::List(checks.iter().map(item).collect()));
    }
    let follow = rows::<FollowUp>(&visit, &of).await?.items;
    if !follow.is_empty() {
        leaf.heading("follow-ups-title");
        let item = |f: &Row<FollowUp>| Item {
            title: f.value.action.clone(),
            href: Some(format!("/follow-ups/{}", f.id)),
            mark: Some(match &f.value.outcome {
                None => page.say("open"),
                Some(outcome) => page.word("outcome", outcome),
            }),
            lines: vec![page.with("due-on", "date", page.date(f.value.due_on))],
            ..Item::default()
        };
        leaf.add(Block::List(follow.iter().map(item).collect()));
    }
    let photos = rows::<Photo>(&visit, &of).await?.items;
    if !photos.is_empty() {
        leaf.heading("photos-title");
        let link = |(at, photo): (usize, &Row<Photo>)| {
            Link::to(format!("/photos/{}", photo.id), page.with("photo-of", "number", at + 1))
        };
        leaf.add(Block::Links(photos.iter().enumerate().map(link).collect()));
    }
    leaf.show()
}

fn climate(page: &Page, leaf: &mut Leaf, reading: &Reading) {
    let warm = Decimal::new(reading.temperature_c, 1).real();
    let humid = reading.humidity_percent.map(|h| Decimal::new(h, 1).real());
    let mut facts = vec![(page.say("reading-temperature"), shown(&warm, 1))];
    if humid.is_some() {
        facts.push((page.say("reading-humidity"), shown(&humid, 0)));
    }
    leaf.add(Block::Facts(facts));
    let outside = !(MILD_C.0..=MILD_C.1).contains(&warm);
    if outside && humid.is_some_and(|h| h > HUMID_PERCENT) {
        leaf.add(Block::Caution(page.say("caution-climate")));
    }
}

/// What was agreed on, to be closed.
pub(crate) async fn show_follow_up(visit: Visit) -> Shown {
    follow_up(&visit, None).await
}

async fn follow_up(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let Row { id, version, value: follow, .. } = row::<FollowUp>(visit, visit.id("id")?).await?;
    let farm: Row<Farm> = row(visit, follow.farm_id).await?;
    let page = visit.page();
    let mut leaf = Leaf::new(page.clone(), follow.action.as_str())
        .back(format!("/farms/{}", farm.id), farm.value.code);
    leaf.add(Block::Text(page.with("due-on", "date", page.date(follow.due_on))));
    if let Some(outcome) = &follow.outcome {
        let args = [
            ("date", page.day(&follow.ended_on).into()),
            ("outcome", page.word("outcome", outcome).into()),
        ];
        leaf.add(Block::Lead(page.tell("follow-up-ended", &args)));
        return leaf.show();
    }
    let outcomes = choices(&page, "outcome", OUTCOMES);
    let form = Form::new(format!("/follow-ups/{id}"), "follow", page.say("save"))
        .hide("version", version.to_string())
        .keep(follow.action)
        .field(Field::new("outcome", page.say("how-it-ended"), Input::Tap(outcomes)).required())
        .field(Field::new("note", page.say("note"), Input::Text));
    leaf.form(visit, refusal, form);
    leaf.answer(refusal)
}

/// Closes what was agreed on.
pub(crate) async fn close_follow_up(visit: Visit) -> Shown {
    let (actor, id) = (visit.actor()?, visit.id("id")?);
    let mut patch = visit.record(Kind::FollowUp, &["outcome", "note"]);
    patch.insert("ended_on".to_owned(), visit.day("ended_on", actor));
    let done = correct(&visit, Kind::FollowUp, id, patch).await;
    match done {
        Ok(record) => {
            let farm = text(&record, "farm_id");
            Ok(go(&format!("/farms/{farm}?{}", saved(Kind::FollowUp, id))))
        }
        Err(error) => {
            let refusal = Refusal::of(&visit, "follow", error)?;
            follow_up(&visit, Some(&refusal)).await
        }
    }
}
