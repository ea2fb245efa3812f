//! Registering a farm with its member, shed and animals, in one form; head counts later on.

use crate::web::blocks::{Block, Field, Form, Input, Item, Leaf, Refusal};
use crate::web::echo::{saved, saved_record};
use crate::web::farms::{Names, list, one, text};
use crate::web::forms::{choices, or_none, put};
use crate::web::page::{Page, shown};
use crate::web::site::{Shown, go};
use crate::web::visit::Visit;
use serde_json::{Map, Value as Json, json};
use traybook_app::records::together::{Piece, following};
use traybook_app::{Actor, AppError};
use traybook_domain::kinds::{ANIMAL_CLASSES, HEAD_REASONS, LANGUAGES, SEXES, WATER_SOURCES};
use traybook_domain::people::authz::{Action, Role};
use traybook_domain::{FieldError, Kind};
use uuid::Uuid;

/// Animal groups that the form asks for; more are added on the farm's page.
const GROUPS: usize = 2;
/// Feeds of a ration before fodder that the form asks for; more are written in the farm's book.
const RATION_FEEDS: usize = 4;

pub(crate) async fn show_form(visit: Visit) -> Shown {
    form(&visit, None).await
}

/// Areas that a person may register farms in.
async fn areas(visit: &Visit, actor: &Actor) -> Result<Vec<(String, String)>, AppError> {
    let all = Names::of(visit, Kind::Area, "name", &[]).await?.options();
    let own = |(id, _): &(String, String)| {
        actor.role != Role::Officer || Uuid::try_parse(id).is_ok_and(|id| actor.areas.contains(&id))
    };
    Ok(all.into_iter().filter(own).collect())
}

async fn form(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    actor.visible(Action::Create, Kind::Farm)?;
    let today = actor.coop.today(visit.state.app.now()).to_string();
    let feeds = Names::of(visit, Kind::Feed, "name", &[]).await?;
    let feeds = or_none(feeds.options());
    let mut leaf =
        Leaf::new(page.clone(), page.say("register-title")).back("/farms", page.say("nav-farms"));
    leaf.text("register-about");
    let choice = |set: &str, names: &[&str]| Input::Choice(choices(&page, set, names));
    let any = |set: &str, names: &[&str]| Input::Choice(or_none(choices(&page, set, names)));
    let mut form = Form::new("/farms/new", "farm", page.say("register-save"))
        .id("id", visit.state.app.new_id()?)
        .day("registered_on")
        .keep(page.say("register-title"));
    let field = |name: &str, key: &str, input: Input| Field::new(name, page.say(key), input);
    let member = [
        field("name", "member-name", Input::Text).required().group(page.say("member-title")),
        field("phone", "phone-number", Input::Phone),
        field("sex", "sex", choice("sex", SEXES)).value("not_stated").required().half(),
        field("language", "speaks", choice("language-name", LANGUAGES))
            .value(page.lang())
            .required()
            .half(),
        field("consent", "consent", Input::Tick),
    ];
    let farm = [
        field("area_id", "area", Input::Choice(areas(visit, actor).await?))
            .required()
            .group(page.say("farm-title")),
        field("place", "place-hint", Input::Text),
        field("water_source", "water-source", any("water", WATER_SOURCES)).half(),
        field("shed-tray_places", "tray-places", Input::Whole).half(),
    ];
    let more = [
        field("number", "member-number", Input::Text).hint(page.say("made-by-server")).more(),
        field("birth_year", "birth-year", Input::Whole).more(),
        field("joined_on", "joined-on", Input::Date).now(&*today).required().more(),
        field("code", "farm-code", Input::Text).hint(page.say("made-by-server")).more(),
        field("fodder_started_on", "started-on", Input::Date).hint(page.say("started-hint")).more(),
        field("shed-code", "shed-code", Input::Text).hint(page.say("made-by-server")).more(),
    ];
    for field in member.into_iter().chain(farm) {
        form = form.field(field);
    }
    for at in 1..=GROUPS {
        let prefix = group_prefix(at);
        let named = |name: &str| format!("{prefix}{name}");
        let number = i64::try_from(at).unwrap_or(0);
        let mut group = vec![
            field(&named("animal_class"), "animal-class", any("class", ANIMAL_CLASSES))
                .group(page.with("group-title", "number", number))
                .half(),
            field(&named("head"), "head", Input::Whole).half(),
        ];
        for line in 1..=RATION_FEEDS {
            let named = |name: &str| format!("{}{name}", ration_prefix(at, line));
            let number = i64::try_from(line).unwrap_or(0);
            let label = page.with("ration-feed", "number", number);
            let mut feed = Field::new(named("feed_id"), label, Input::Choice(feeds.clone())).half();
            if line == 1 {
                feed = feed.group(page.say("ration-title"));
            }
            group.push(feed);
            group.push(field(&named("kg_per_animal_day"), "ration-kg", Input::Decimal).half());
        }
        // One kind of animals is the usual case.
        for field in group {
            form = form.field(if at == 1 { field } else { field.more() });
        }
    }
    for field in more {
        form = form.field(field);
    }
    leaf.form(visit, refusal, form);
    leaf.answer(refusal)
}

/// Registers: everything, or nothing.
pub(crate) async fn register(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    let id = visit.form_id("id")?;
    let missing = missing(&visit);
    let made = if missing.is_empty() {
        visit.state.app.create_together(actor, pieces(&visit, actor, id)).await
    } else {
        Err(AppError::Invalid(missing))
    };
    match made {
        Ok(()) => Ok(go(&format!("/farms/{id}/plan?{}", saved(Kind::Farm, id)))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "farm", told_of_code(error))?;
            form(&visit, Some(&refusal)).await
        }
    }
}

/// The codes of the groups follow from the farm's: what is wrong with them is said beside that.
fn told_of_code(error: AppError) -> AppError {
    let AppError::Invalid(errors) = error else { return error };
    let mut told: Vec<FieldError> = Vec::new();
    for error in errors {
        let of_group = (1..=GROUPS).any(|at| error.field() == format!("{}code", group_prefix(at)));
        let error = if of_group { error.renamed("code") } else { error };
        if !told.iter().any(|t| t.pointer == error.pointer && t.code == error.code) {
            told.push(error);
        }
    }
    AppError::Invalid(told)
}

/// What the names of the shed's fields begin with.
const SHED: &str = "shed-";

/// What the names of a group's fields begin with.
fn group_prefix(at: usize) -> String {
    format!("group-{at}-")
}

/// What the names of a ration's fields begin with.
fn ration_prefix(at: usize, line: usize) -> String {
    format!("{}ration-{line}-", group_prefix(at))
}

/// What was typed of a group that can not be recorded without the rest of it.
fn missing(visit: &Visit) -> Vec<FieldError> {
    let mut errors = Vec::new();
    let given = |name: &str| visit.field(name).is_some();
    for at in 1..=GROUPS {
        let prefix = group_prefix(at);
        let mut need = |name: String, detail: &str| {
            errors.push(FieldError::new(&name, "required", detail));
        };
        let mut is_begun = given(&format!("{prefix}head"));
        for line in 1..=RATION_FEEDS {
            let named = |name: &str| format!("{}{name}", ration_prefix(at, line));
            let (feed, kg) = (given(&named("feed_id")), given(&named("kg_per_animal_day")));
            is_begun |= feed || kg;
            if feed && !kg {
                let detail = "give kg per animal and day, or choose no feed";
                need(named("kg_per_animal_day"), detail);
            }
            if kg && !feed {
                need(named("feed_id"), "choose the feed, or empty the kg");
            }
        }
        let class = format!("{prefix}animal_class");
        if is_begun && !given(&class) {
            need(class, "choose the animals, or empty the fields below");
        }
    }
    errors
}

fn pieces(visit: &Visit, actor: &Actor, farm: Uuid) -> Vec<Piece> {
    let today = visit.day("registered_on", actor);
    let member = following(actor, farm, Kind::Member, "");
    let agreed = visit.field("consent") == Some("true");
    let mut body = visit.record(
        Kind::Member,
        &["number", "name", "phone", "sex", "language", "joined_on", "area_id", "birth_year"],
    );
    put(&mut body, [("consent", json!(agreed)), ("consent_on", today.clone())]);
    let mut pieces = vec![Piece::new(Kind::Member, member, body)];
    let mut body = visit
        .record(Kind::Farm, &["code", "area_id", "place", "water_source", "fodder_started_on"]);
    put(&mut body, [("member_id", json!(member))]);
    pieces.push(Piece::new(Kind::Farm, farm, body));
    let mut body = visit.part(SHED, Kind::Shed, &["code", "tray_places"]);
    if !body.is_empty() {
        put(&mut body, [("farm_id", json!(farm))]);
        let shed = following(actor, farm, Kind::Shed, "1");
        pieces.push(Piece::new(Kind::Shed, shed, body).within(SHED));
    }
    for at in 1..=GROUPS {
        pieces.extend(group_pieces(visit, actor, (farm, at), &today));
    }
    pieces
}

/// A group of animals with its count and its ration before fodder.
fn group_pieces(
    visit: &Visit,
    actor: &Actor,
    (farm, at): (Uuid, usize),
    today: &Json,
) -> Vec<Piece> {
    let prefix = group_prefix(at);
    let mut body = visit.part(&prefix, Kind::AnimalGroup, &["animal_class"]);
    if body.is_empty() {
        return Vec::new();
    }
    let group = following(actor, farm, Kind::AnimalGroup, &at.to_string());
    put(&mut body, [("farm_id", json!(farm))]);
    let mut pieces = vec![Piece::new(Kind::AnimalGroup, group, body).within(&*prefix)];
    let mut add = |kind: Kind, mut body: Map<String, Json>, day: &str, key: &str, within: &str| {
        if !body.is_empty() {
            put(&mut body, [("animal_group_id", json!(group)), (day, today.clone())]);
            let id = following(actor, group, kind, key);
            pieces.push(Piece::new(kind, id, body).within(within));
        }
    };
    let mut counted = visit.part(&prefix, Kind::HeadCount, &["head"]);
    if !counted.is_empty() {
        put(&mut counted, [("reason", json!("counted"))]);
    }
    add(Kind::HeadCount, counted, "date", "", &prefix);
    for line in 1..=RATION_FEEDS {
        let within = ration_prefix(at, line);
        let ration = visit.part(&within, Kind::BaselineRation, &["feed_id", "kg_per_animal_day"]);
        add(Kind::BaselineRation, ration, "recorded_on", &line.to_string(), &within);
    }
    pieces
}

/// The animals of a farm: counts, and a form for the next one.
pub(crate) async fn show_animals(visit: Visit) -> Shown {
    animals(&visit, None).await
}

async fn animals(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let farm = one(visit, Kind::Farm, visit.id("id")?).await?;
    let (page, actor) = (visit.page(), visit.actor()?);
    let farm_id = text(&farm, "id");
    let of = [("farm_id", farm_id.to_owned())];
    let groups = list(visit, Kind::AnimalGroup, &of).await?;
    let counts = list(visit, Kind::HeadCount, &of).await?;
    let names = Names::from_records(&groups, "code");
    let mut leaf = Leaf::new(page.clone(), page.with("animals-of", "farm", text(&farm, "code")))
        .back(format!("/farms/{farm_id}"), text(&farm, "code"));
    leaf.saved(visit);
    leaf.add(Block::List(groups.iter().map(|g| group(&page, g, &counts)).collect()));
    let today = actor.coop.today(visit.state.app.now()).to_string();
    let form = Form::new(format!("/farms/{farm_id}/animals"), "count", page.say("save"))
        .id("id", visit.state.app.new_id()?)
        .keep(page.with("animals-of", "farm", text(&farm, "code")))
        .field(
            Field::new("animal_group_id", page.say("for-group"), Input::Choice(names.options()))
                .required(),
        )
        .field(
            Field::new(
                "reason",
                page.say("head-why"),
                Input::Choice(choices(&page, "head", HEAD_REASONS)),
            )
            .value("counted")
            .required(),
        )
        .field(
            Field::new("head", page.say("head"), Input::Whole)
                .hint(page.say("head-hint"))
                .required(),
        )
        .field(Field::new("date", page.say("day"), Input::Date).now(today).required());
    leaf.form(visit, refusal, form);
    let add = Form::new(format!("/farms/{farm_id}/groups"), "group", page.say("group-add"))
        .id("id", visit.state.app.new_id()?)
        .keep(page.say("group-add"))
        .field(
            Field::new("code", page.say("group-code"), Input::Text)
                .hint(page.say("made-by-server")),
        )
        .field(
            Field::new(
                "animal_class",
                page.say("animal-class"),
                Input::Choice(choices(&page, "class", ANIMAL_CLASSES)),
            )
            .required(),
        );
    if actor.role != Role::Member {
        leaf.heading("group-add");
        leaf.form(visit, refusal, add);
    }
    leaf.answer(refusal)
}

fn group(page: &Page, group: &Json, counts: &[Json]) -> Item {
    let own = counts.iter().filter(|c| text(c, "animal_group_id") == text(group, "id")).take(4);
    let line = |c: &Json| {
        let args = [
            ("date", page.day(&c["date"]).into()),
            ("why", page.word("head", text(c, "reason")).into()),
            ("head", shown(&c["head"], 0).into()),
        ];
        page.tell("head-line", &args)
    };
    Item {
        title: text(group, "code").to_owned(),
        mark: Some(page.word("class", text(group, "animal_class"))),
        lines: own.map(line).collect(),
        ..Item::default()
    }
}

/// Records a head count.
pub(crate) async fn count(visit: Visit) -> Shown {
    let (actor, farm) = (visit.actor()?, visit.id("id")?);
    let mut body = visit.record(Kind::HeadCount, &["animal_group_id", "reason", "date", "head"]);
    body.insert("id".to_owned(), json!(visit.form_id("id")?));
    match visit.state.app.create(actor, Kind::HeadCount, body).await {
        Ok(done) => {
            let saved = saved_record(Kind::HeadCount, &done.json);
            Ok(go(&format!("/farms/{farm}/animals?{saved}")))
        }
        Err(error) => {
            let refusal = Refusal::of(&visit, "count", error)?;
            animals(&visit, Some(&refusal)).await
        }
    }
}

/// Adds a group of animals.
pub(crate) async fn add_group(visit: Visit) -> Shown {
    let (actor, farm) = (visit.actor()?, visit.id("id")?);
    let mut body = visit.record(Kind::AnimalGroup, &["code", "animal_class"]);
    let id = visit.form_id("id")?;
    body.insert("farm_id".to_owned(), json!(farm));
    let pieces = vec![Piece::new(Kind::AnimalGroup, id, body)];
    match visit.state.app.create_together(actor, pieces).await {
        Ok(()) => {
            let saved = saved(Kind::AnimalGroup, id);
            Ok(go(&format!("/farms/{farm}/animals?{saved}")))
        }
        Err(error) => {
            let refusal = Refusal::of(&visit, "group", error)?;
            animals(&visit, Some(&refusal)).await
        }
    }
}
