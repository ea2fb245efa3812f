//! Trainings: the list, planning one, and the register of who is there.

use crate::web::blocks::{Block, Field, Form, Input, Item, Leaf, Link, Refusal};
use crate::web::echo::{saved, taken};
use crate::web::farms::{Names, one, row, rows, text};
use crate::web::forms::{
    as_it_stood, correct, is_taken_back, or_none, put, take_back, version, why,
};
use crate::web::page::Page;
use crate::web::site::{Shown, go, query};
use crate::web::visit::Visit;
use chrono::NaiveDate;
use serde_json::{Value as Json, json};
use traybook_app::AppError;
use traybook_app::records::rows::Row;
use traybook_app::records::together::Piece;
use traybook_app::records::trainings::{ON_PAGE, Register, Trainee};
use traybook_domain::Kind;
use traybook_domain::kinds::{Person, Training};
use traybook_domain::people::authz::{Action, Role};
use uuid::Uuid;

/// Trainings on one page of the list.
const LISTED: &str = "30";
/// Fields that a person fills in.
const FIELDS: &[&str] = &["topic", "date", "area_id", "place", "note"];
/// What the names of the register's fields begin with: who is listed and how, who is ticked.
const SHOWN: &str = "listed-";
const TICKED: &str = "here-";

/// The list, the latest day first.
pub(crate) async fn show_trainings(visit: Visit) -> Shown {
    let page = visit.page();
    let today = today(&visit)?;
    let mut pairs = vec![("limit", LISTED.to_owned())];
    pairs.extend(visit.field("after").map(|c| ("cursor", c.to_owned())));
    let trainings = rows::<Training>(&visit, &pairs).await?;
    let ids = trainings.items.iter().map(|t| t.id).collect();
    let came = visit.state.app.training_counts(visit.actor()?, ids).await?;
    let areas = areas(&visit).await?;
    let mut leaf = Leaf::new(page.clone(), page.say("trainings-title"));
    leaf.saved(&visit);
    leaf.add(Block::Links(vec![Link::to("/trainings/new", page.say("training-plan"))]));
    if trainings.items.is_empty() {
        leaf.text("trainings-none");
    }
    let item = |t: &Row<Training>| {
        let is_planned = t.value.date > today;
        let mut facts = vec![page.date(t.value.date), area(&page, &areas, &t.value)];
        let count = came.get(&t.id).copied().unwrap_or(0);
        facts.extend((!is_planned).then(|| page.with("training-came", "count", count)));
        Item {
            title: t.value.topic.clone(),
            href: Some(format!("/trainings/{}", t.id)),
            mark: is_planned.then(|| page.say("training-planned")),
            lines: vec![facts.join(" · ")],
            ..Item::default()
        }
    };
    leaf.add(Block::List(trainings.items.iter().map(item).collect()));
    if let Some(next) = trainings.next {
        let to = format!("/trainings?{}", query(&[("after", &next)]));
        leaf.add(Block::Links(vec![Link::to(to, page.say("more"))]));
    }
    leaf.show()
}

fn today(visit: &Visit) -> Result<NaiveDate, AppError> {
    Ok(visit.actor()?.coop.today(visit.state.app.now()))
}

async fn areas(visit: &Visit) -> Result<Names, AppError> {
    Names::of(visit, Kind::Area, "name", &[]).await
}

/// Whose members a training is for.
fn area(page: &Page, areas: &Names, training: &Training) -> String {
    let name = training.area_id.map(|id| areas.get(&id.to_string()).to_owned());
    name.unwrap_or_else(|| page.say("training-for-all"))
}

/// The form for a new one.
pub(crate) async fn show_new(visit: Visit) -> Shown {
    plan(&visit, None).await
}

async fn plan(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    visit.actor()?.visible(Action::Create, Kind::Training)?;
    let page = visit.page();
    // The next one with the same topic takes over all but its day.
    let mut like = match visit.field("repeat").map(Uuid::try_parse) {
        Some(Ok(id)) => one(visit, Kind::Training, id).await?,
        Some(Err(_)) => return Err(AppError::NotFound),
        None => json!({ "date": today(visit)? }),
    };
    if visit.field("repeat").is_some() {
        like["date"] = Json::Null;
        like["note"] = Json::Null;
    }
    let form = Form::new("/trainings/new", "training", page.say("training-save"))
        .id("id", visit.state.app.new_id()?)
        .keep(page.say("training-plan"));
    let mut leaf = Leaf::new(page.clone(), page.say("training-plan"))
        .back("/trainings", page.say("trainings-title"));
    leaf.form(visit, refusal, fields(visit, &page, form, &like).await?);
    leaf.answer(refusal)
}

async fn fields(visit: &Visit, page: &Page, form: Form, of: &Json) -> Result<Form, AppError> {
    let mut options = or_none(areas(visit).await?.options());
    if let Some(first) = options.first_mut() {
        first.1 = page.say("training-for-all");
    }
    let field = |name: &str, key: &str, input: Input| {
        Field::new(name, page.say(key), input).value(text(of, name))
    };
    Ok(form
        .field(field("topic", "training-topic", Input::Text).required())
        .field(field("date", "day", Input::Date).required())
        .field(field("area_id", "training-for", Input::Choice(options)))
        .field(field("place", "training-place", Input::Text))
        .field(field("note", "note", Input::Long)))
}

/// Plans a training. Whoever plans it teaches it, where that is an officer.
pub(crate) async fn record(visit: Visit) -> Shown {
    let (actor, id) = (visit.actor()?, visit.form_id("id")?);
    let mut body = visit.record(Kind::Training, FIELDS);
    if actor.role == Role::Officer {
        put(&mut body, [("trainer_id", json!(actor.person))]);
    }
    let piece = Piece::new(Kind::Training, id, body);
    match visit.state.app.create_together(actor, vec![piece]).await {
        Ok(()) => Ok(go(&format!("/trainings/{id}?{}", saved(Kind::Training, id)))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "training", error)?;
            plan(&visit, Some(&refusal)).await
        }
    }
}

/// One training with its register.
pub(crate) async fn show_training(visit: Visit) -> Shown {
    training(&visit, None).await
}

async fn training(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let (page, id) = (visit.page(), visit.id("id")?);
    let asked = visit.field("q").unwrap_or_default().to_owned();
    let skip = visit.skip()?;
    let register = visit.state.app.register(visit.actor()?, id, &asked, skip).await?;
    let of = &register.training.value;
    let mut leaf =
        Leaf::new(page.clone(), of.topic.clone()).back("/trainings", page.say("trainings-title"));
    leaf.saved(visit);
    leaf.add(Block::Facts(facts(visit, &page, of).await?));
    leaf.add(Block::Links(vec![
        Link::to(format!("/trainings/new?repeat={id}"), page.say("training-repeat")),
        Link::to(format!("/trainings/{id}/correct"), page.say("correct-it")),
    ]));
    leaf.heading("training-register");
    if of.date > today(visit)? {
        leaf.text("training-later");
        return leaf.answer(refusal);
    }
    leaf.add(Block::Lead(page.with("training-came", "count", register.came)));
    let find = Field::new("q", page.say("training-find"), Input::Text).value(&*asked);
    let here = format!("/trainings/{id}");
    leaf.add(Block::Form(Form::new(&*here, "find", page.say("find")).question().field(find)));
    if register.listed.is_empty() {
        let is_asked = !asked.is_empty() || skip > 0;
        leaf.text(if is_asked { "training-nobody" } else { "training-none-yours" });
    } else {
        leaf.text("training-tick");
        leaf.form(visit, refusal, ticks(&page, &register, (&here, &asked, skip)));
    }
    if register.is_more {
        let next = (skip + ON_PAGE).to_string();
        let to = format!("{here}?{}", query(&[("q", &asked), ("skip", &next)]));
        leaf.add(Block::Links(vec![Link::to(to, page.say("more"))]));
    }
    elsewhere(&page, &mut leaf, &register);
    leaf.answer(refusal)
}

async fn facts(
    visit: &Visit,
    page: &Page,
    of: &Training,
) -> Result<Vec<(String, String)>, AppError> {
    let mut facts = vec![
        (page.say("day"), page.date(of.date)),
        (page.say("training-for"), area(page, &areas(visit).await?, of)),
    ];
    facts.extend(of.place.clone().map(|place| (page.say("training-place"), place)));
    // Names of people are the manager's to read; an officer knows the own.
    if let Some(trainer) = of.trainer_id.filter(|_| role_reads_people(visit)) {
        let trainer: Row<Person> = row(visit, trainer).await?;
        facts.push((page.say("training-trainer"), trainer.value.name));
    }
    facts.extend(of.note.clone().map(|note| (page.say("note"), note)));
    Ok(facts)
}

fn role_reads_people(visit: &Visit) -> bool {
    visit.actor().is_ok_and(|a| a.visible(Action::Read, Kind::Person).is_ok())
}

/// A tick for everybody listed. It says how each was listed, so that only what was changed here is
/// changed there.
fn ticks(page: &Page, register: &Register, (here, asked, skip): (&str, &str, usize)) -> Form {
    let mut form = Form::new(here, "register", page.say("training-mark"))
        .hide("q", asked)
        .hide("skip", skip.to_string())
        .keep(page.with("training-kept", "topic", register.training.value.topic.as_str()));
    for t in &register.listed {
        let was = if t.is_present { "true" } else { "" };
        form = form
            .hide(format!("{SHOWN}{}", t.member), was)
            .field(Field::new(format!("{TICKED}{}", t.member), who(t), Input::Tick).value(was));
    }
    form
}

fn who(t: &Trainee) -> String {
    format!("{} · {}", t.name, t.number)
}

/// Who came and is not listed on this page.
fn elsewhere(page: &Page, leaf: &mut Leaf, register: &Register) {
    let is_listed = |t: &&Trainee| register.listed.iter().any(|l| l.member == t.member);
    let others: Vec<String> = register.present.iter().filter(|t| !is_listed(t)).map(who).collect();
    if !others.is_empty() {
        leaf.add(Block::Folded(page.with("training-also", "count", others.len()), others));
    }
    let seen = i64::try_from(register.present.len()).unwrap_or(0);
    if register.came > seen {
        let text = page.with("training-unseen", "count", register.came - seen);
        leaf.add(Block::Text(text));
    }
}

/// Saves who was ticked, and who no longer is.
pub(crate) async fn mark(visit: Visit) -> Shown {
    let (actor, id) = (visit.actor()?, visit.id("id")?);
    let (mut come, mut gone) = (Vec::new(), Vec::new());
    for (name, was) in &visit.fields {
        let Some(member) = name.strip_prefix(SHOWN) else { continue };
        let ticked = visit.field(&format!("{TICKED}{member}")).is_some();
        let member = Uuid::try_parse(member).ok().ok_or(AppError::NotFound)?;
        match (was == "true", ticked) {
            (false, true) => come.push(member),
            (true, false) => gone.push(member),
            _ => {}
        }
    }
    match visit.state.app.mark_present(actor, id, (come, gone)).await {
        Ok(()) => {
            let asked = visit.field("q").unwrap_or_default();
            let skip = visit.skip()?.to_string();
            let to = query(&[("saved", "1"), ("q", asked), ("skip", &skip)]);
            Ok(go(&format!("/trainings/{id}?{to}")))
        }
        Err(error) => {
            let refusal = Refusal::of(&visit, "register", error)?;
            training(&visit, Some(&refusal)).await
        }
    }
}

/// The form that corrects a training, or takes it back.
pub(crate) async fn show_correct(visit: Visit) -> Shown {
    mend(&visit, None).await
}

async fn mend(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    visit.actor()?.visible(Action::Correct, Kind::Training)?;
    let (page, id) = (visit.page(), visit.id("id")?);
    let record = one(visit, Kind::Training, id).await?;
    if is_taken_back(&record) {
        return Err(AppError::NotFound);
    }
    let here = format!("/trainings/{id}");
    let topic = text(&record, "topic");
    let title = page.with("correct-of", "what", topic);
    let mut leaf = Leaf::new(page.clone(), title).back(&*here, topic);
    let form = Form::new(format!("{here}/correct"), "training", page.say("save"))
        .hide("version", crate::web::page::shown(&record["version"], 0));
    leaf.form(visit, refusal, fields(visit, &page, form, &record).await?);
    leaf.heading("take-back");
    leaf.form(visit, refusal, take_back(&page, here, &record, topic));
    leaf.answer(refusal)
}

pub(crate) async fn correct_training(visit: Visit) -> Shown {
    let id = visit.id("id")?;
    let before = one(&visit, Kind::Training, id).await?;
    let mut patch = visit.record(Kind::Training, FIELDS);
    as_it_stood(&visit, &mut patch, &before, FIELDS);
    match correct(&visit, Kind::Training, id, patch).await {
        Ok(_) => Ok(go(&format!("/trainings/{id}?{}", saved(Kind::Training, id)))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "training", error)?;
            mend(&visit, Some(&refusal)).await
        }
    }
}

/// Takes a training back to which nobody came.
pub(crate) async fn withdraw(visit: Visit) -> Shown {
    let (actor, id) = (visit.actor()?, visit.id("id")?);
    let done = async {
        let (version, why) = (version(&visit)?, why(&visit)?);
        visit.state.app.withdraw(actor, Kind::Training, id, version, Some(why)).await
    };
    match done.await {
        Ok(()) => Ok(go(&format!("/trainings?{}", taken(Kind::Training, id)))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "withdraw", error)?;
            mend(&visit, Some(&refusal)).await
        }
    }
}
