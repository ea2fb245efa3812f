//! Who signs in, in which role, and one-time codes to set a password with.

use super::invitations::{address, label};
use crate::web::blocks::{Block, Cell, Column, Field, Form, Input, Leaf, Link, Refusal, Table};
use crate::web::echo::saved;
use crate::web::farms::{Names, all, id, list, one, page as records, text};
use crate::web::forms::{choices, correct, version};
use crate::web::page::{Page, shown};
use crate::web::site::{Shown, go, query};
use crate::web::visit::Visit;
use serde_json::{Value as Json, json};
use traybook_app::AppError;
use traybook_app::people::invitations::Invited;
use traybook_domain::Kind;
use traybook_domain::kinds::LANGUAGES;
use traybook_domain::people::authz::{ROLES, Role};

const TEXTS: &[&str] = &["code", "name", "role", "email", "phone", "language"];

/// People on one page.
const ON_PAGE: &str = "50";
/// A member is named by the membership number: a list of thousands is no choice.
const NUMBER: &str = "member_number";

/// The list, with a form for a new person.
pub(crate) async fn show_people(visit: Visit) -> Shown {
    people(&visit, None).await
}

async fn people(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    // What a refused form held is no question to the list.
    let asked = |name: &str| visit.field(name).filter(|_| refusal.is_none()).map(str::to_owned);
    let (find, after) = (asked("q").unwrap_or_default(), asked("after"));
    let mut pairs = vec![("limit", ON_PAGE.to_owned())];
    pairs.extend((!find.is_empty()).then(|| ("q", find.clone())));
    pairs.extend(after.map(|c| ("cursor", c)));
    let (mut people, next) = records(visit, actor, Kind::Person, &pairs).await?;
    people.sort_by(|a, b| {
        (text(a, "role"), text(a, "name")).cmp(&(text(b, "role"), text(b, "name")))
    });
    let mut leaf = Leaf::new(page.clone(), page.say("people-title"));
    leaf.saved(visit);
    let field = Field::new("q", page.say("find-person"), Input::Text).value(&*find);
    leaf.add(Block::Form(Form::new("/people", "find", page.say("find")).question().field(field)));
    let row = |p: &Json| -> Vec<Cell> {
        vec![
            Cell::link(text(p, "name"), format!("/people/{}", text(p, "id"))),
            page.word("role", text(p, "role")).into(),
            login(p).to_owned().into(),
            page.say(if p["active"] == json!(true) { "yes" } else { "no" }).into(),
        ]
    };
    leaf.add(Block::Table(Table {
        caption: page.say("people-title"),
        columns: vec![
            Column::text(page.say("person-name")),
            Column::text(page.say("role")),
            Column::text(page.say("login")),
            Column::text(page.say("may-sign-in")),
        ],
        rows: people.iter().map(row).collect(),
        total: None,
    }));
    if let Some(next) = next {
        let to = format!("/people?{}", query(&[("q", &find), ("after", &next)]));
        leaf.add(Block::Links(vec![Link::to(to, page.say("more"))]));
    }
    leaf.add(Block::Links(vec![Link::to("/people/invitations", page.say("invite-many-title"))]));
    leaf.heading("person-new");
    let form =
        Form::new("/people", "person", page.say("person-add")).id("id", visit.state.app.new_id()?);
    // Most people who are added are members; a first officer is asked for by the first steps.
    let role = asked("role").unwrap_or_else(|| Role::Member.text().to_owned());
    let new = json!({ "active": true, "language": page.lang(), "role": role });
    leaf.form(visit, refusal, fields(visit, &page, form, &new).await?);
    leaf.answer(refusal)
}

async fn fields(visit: &Visit, page: &Page, form: Form, person: &Json) -> Result<Form, AppError> {
    let member = match id(person, "member_id") {
        Some(member) if sees_members(visit)? => Some(one(visit, Kind::Member, member).await?),
        _ => None,
    };
    let number = member.as_ref().map(|m| text(m, "number")).unwrap_or_default();
    let field = |name: &str, key: &str, input: Input| {
        Field::new(name, page.say(key), input).value(text(person, name))
    };
    let mut form = form
        .field(field("code", "short-name", Input::Text).required())
        .field(field("name", "person-name", Input::Text).required())
        .field(field("role", "role", Input::Choice(choices(page, "role", ROLES))).required())
        .field(field("phone", "phone-number", Input::Phone))
        .field(field("email", "email", Input::Email))
        .field(
            field("language", "speaks", Input::Choice(choices(page, "language-name", LANGUAGES)))
                .required(),
        );
    if sees_members(visit)? {
        form = form.field(
            Field::new(NUMBER, page.say("member-number"), Input::Text)
                .value(number)
                .hint(page.say("person-member-hint")),
        );
    }
    let active = if person["active"] == json!(true) { "true" } else { "" };
    form = form.field(Field::new("active", page.say("may-sign-in"), Input::Tick).value(active));
    Ok(form)
}

/// An operator keeps people, and sees no members.
fn sees_members(visit: &Visit) -> Result<bool, AppError> {
    Ok(visit.actor()?.role == Role::Manager)
}

/// The member whose number the form holds; none where it holds none.
async fn member(visit: &Visit) -> Result<Option<Json>, AppError> {
    let is_asked = sees_members(visit)?;
    let Some(number) = visit.field(NUMBER).filter(|_| is_asked) else { return Ok(None) };
    let found = list(visit, Kind::Member, &[("number", number.to_owned())]).await?;
    let detail = "no member has this number; look it up on the page of the farm";
    let first =
        found.first().ok_or_else(|| AppError::field(NUMBER, "unknown_reference", detail))?;
    Ok(Some(first["id"].clone()))
}

/// Adds a person.
pub(crate) async fn add(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    let id = visit.form_id("id")?;
    let mut body = visit.record(Kind::Person, TEXTS);
    body.insert("id".to_owned(), json!(id));
    body.insert("active".to_owned(), json!(visit.field("active") == Some("true")));
    let done = match member(&visit).await {
        Ok(member) => {
            body.extend(member.map(|id| ("member_id".to_owned(), id)));
            visit.state.app.create(actor, Kind::Person, body).await
        }
        Err(error) => Err(error),
    };
    match done {
        Ok(_) => Ok(go(&format!("/people/{id}?{}", saved(Kind::Person, id)))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "person", error)?;
            people(&visit, Some(&refusal)).await
        }
    }
}

pub(crate) async fn show_person(visit: Visit) -> Shown {
    person(&visit, None, None).await
}

async fn person(visit: &Visit, refusal: Option<&Refusal>, code: Option<String>) -> Shown {
    let record = one(visit, Kind::Person, visit.id("id")?).await?;
    let page = visit.page();
    let id = text(&record, "id").to_owned();
    let mut leaf =
        Leaf::new(page.clone(), text(&record, "name")).back("/people", page.say("people-title"));
    leaf.saved(visit);
    if let Some(code) = code {
        leaf.add(Block::Notice(page.with("invitation-code", "code", code.as_str())));
        if let Some(to) = address(visit, &code) {
            leaf.add(Block::Text(page.with("invitation-link", "link", to)));
        }
        leaf.address_unknown(visit);
        leaf.text("invitation-once");
        let (name, login) = (text(&record, "name").to_owned(), login(&record).to_owned());
        leaf.add(Block::Labels(vec![label(visit, &page, &Invited { name, login, code })?]));
    }
    leaf.text("invitation-about");
    leaf.add(Block::Form(Form::new(
        format!("/people/{id}/code"),
        "code",
        page.say("invitation-make"),
    )));
    leaf.heading("lost-title");
    leaf.text("lost-about");
    leaf.add(Block::Form(Form::new(format!("/people/{id}/lost"), "lost", page.say("lost-make"))));
    leaf.heading("correct");
    let form = Form::new(format!("/people/{id}"), "person", page.say("save"))
        .hide("version", shown(&record["version"], 0));
    leaf.form(visit, refusal, fields(visit, &page, form, &record).await?);
    if text(&record, "role") == "officer" {
        areas(visit, &page, &mut leaf, &id).await?;
    }
    leaf.answer(refusal)
}

/// The areas of an officer, with a form to add one.
async fn areas(visit: &Visit, page: &Page, leaf: &mut Leaf, person: &str) -> Result<(), AppError> {
    if visit.actor()?.role != Role::Manager {
        return Ok(());
    }
    let names = Names::of(visit, Kind::Area, "name", &[]).await?;
    let own = all(visit, Kind::OfficerArea, &[("person_id", person.to_owned())]).await?;
    leaf.heading("officer-areas");
    for area in &own {
        let remove = page.with("area-take-away", "area", names.of_member(area, "area_id"));
        let form = Form::new(
            format!("/people/{person}/areas"),
            format!("area-{}", text(area, "id")),
            remove,
        )
        .hide("remove", text(area, "id"))
        .hide("version", shown(&area["version"], 0))
        .plain();
        leaf.add(Block::Form(form));
    }
    let form = Form::new(format!("/people/{person}/areas"), "area", page.say("area-add"))
        .id("id", visit.state.app.new_id()?)
        .field(Field::new("area_id", page.say("area"), Input::Choice(names.options())).required());
    leaf.add(Block::Form(form));
    Ok(())
}

/// Gives an officer an area, or takes one away.
pub(crate) async fn change_areas(visit: Visit) -> Shown {
    let (actor, id) = (visit.actor()?, visit.id("id")?);
    let app = &visit.state.app;
    let done = match visit.field("remove").map(uuid::Uuid::try_parse) {
        Some(Ok(area)) => {
            app.withdraw(actor, Kind::OfficerArea, area, version(&visit)?, None).await
        }
        _ => {
            let mut body = visit.record(Kind::OfficerArea, &["area_id"]);
            body.insert("id".to_owned(), json!(visit.form_id("id")?));
            body.insert("person_id".to_owned(), json!(id));
            app.create(actor, Kind::OfficerArea, body).await.map(drop)
        }
    };
    match done {
        Ok(()) => Ok(go(&format!("/people/{id}?saved=areas"))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "area", error)?;
            person(&visit, Some(&refusal), None).await
        }
    }
}

pub(crate) async fn correct_person(visit: Visit) -> Shown {
    let id = visit.id("id")?;
    let before = one(&visit, Kind::Person, id).await?;
    let mut patch = visit.record(Kind::Person, TEXTS);
    for name in ["email", "phone"] {
        if !patch.contains_key(name) && !before[name].is_null() {
            patch.insert(name.to_owned(), Json::Null);
        }
    }
    patch.insert("active".to_owned(), json!(visit.field("active") == Some("true")));
    let done = match member(&visit).await {
        Ok(member) => {
            // Who does not see members leaves this as it is.
            if sees_members(&visit)? && (member.is_some() || !before["member_id"].is_null()) {
                patch.insert("member_id".to_owned(), member.unwrap_or(Json::Null));
            }
            correct(&visit, Kind::Person, id, patch).await
        }
        Err(error) => Err(error),
    };
    match done {
        Ok(_) => Ok(go(&format!("/people/{id}?{}", saved(Kind::Person, id)))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "person", error)?;
            person(&visit, Some(&refusal), None).await
        }
    }
}

/// Ends all sign-ins of a person whose telephone is lost, and makes a new code.
pub(crate) async fn lost_telephone(visit: Visit) -> Shown {
    let (actor, id) = (visit.actor()?, visit.id("id")?);
    let (code, _) = visit.state.app.lost_telephone(actor, id).await?;
    person(&visit, None, Some(code)).await
}

/// What a person signs in with.
fn login(person: &Json) -> &str {
    if text(person, "phone").is_empty() { text(person, "email") } else { text(person, "phone") }
}

/// Makes a one-time code. It is shown on this page, once.
pub(crate) async fn make_code(visit: Visit) -> Shown {
    let (actor, id) = (visit.actor()?, visit.id("id")?);
    let (code, _) = visit.state.app.invite(actor, id).await?;
    person(&visit, None, Some(code)).await
}
