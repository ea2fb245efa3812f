//! What is kept about a member, for the manager and for the member; erasing it.

use super::blocks::{Block, Column, Field, Form, Input, Item, Leaf, Link, Refusal, Table};
use super::echo::{facts, saved};
use super::farms::text;
use super::forms::correct;
use super::page::Page;
use super::site::{Shown, file, go};
use super::visit::Visit;
use serde_json::Value as Json;
use traybook_answers::people::privacy::{HeldRecord, Kept, PersonalCopy};
use traybook_app::AppError;
use traybook_app::people::privacy::kept;
use traybook_domain::Kind;
use traybook_domain::people::authz::{Action, Task};

/// Records of one kind that the page shows: the newest. The file holds all.
const SHOWN_MAX: usize = 3;

async fn copy(visit: &Visit) -> Result<PersonalCopy, AppError> {
    visit.state.app.personal_copy(visit.actor()?, visit.id("id")?).await
}

pub(super) async fn show_held(visit: Visit) -> Shown {
    page(&visit, None).await
}

async fn page(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    let copy = copy(visit).await?;
    let member = current(copy.records.get(Kind::Member.spec().one).and_then(|all| all.first()));
    let name = text(&member, "name").to_owned();
    let mut leaf = Leaf::new(page.clone(), page.with("held-title", "name", name));
    leaf.saved(visit);
    leaf.text("held-about");
    let path = format!("/members/{}/held", copy.member_id);
    leaf.add(Block::Links(vec![Link::to(format!("{path}.json"), page.say("held-file"))]));
    leaf.add(Block::List(
        copy.records.iter().filter_map(|(one, all)| kind(&page, one, all)).collect(),
    ));
    leaf.add(Block::Facts(vec![
        (page.say("held-pictures"), copy.pictures.len().to_string()),
        (page.say("held-accounts"), copy.accounts.len().to_string()),
        (page.say("held-months"), copy.closed_months.len().to_string()),
    ]));
    leaf.add(Block::Table(table(&page)));
    leaf.text("held-law");
    if actor.task(Task::EraseMember).is_ok() && actor.visible(Action::Correct, Kind::Member).is_ok()
    {
        leaf.heading("erase-title");
        if member["left_on"].is_null() {
            leaf.text("erase-left-first");
            let today = actor.coop.today(visit.state.app.now());
            let form =
                Form::new(format!("/members/{}/left", copy.member_id), "left", page.say("save"))
                    .hide("version", version(&copy))
                    .field(
                        Field::new("left_on", page.say("erase-left-on"), Input::Date)
                            .value(today.to_string())
                            .required(),
                    );
            leaf.form(visit, refusal, form);
        } else {
            leaf.add(Block::Caution(page.say("erase-about")));
            let form = Form::new(
                format!("/members/{}/erase", copy.member_id),
                "erase",
                page.say("erase-do"),
            )
            .field(Field::new("member_number", page.say("erase-number"), Input::Text).required())
            .field(Field::new("reason", page.say("erase-reason"), Input::Text).required());
            leaf.form(visit, refusal, form);
        }
    }
    leaf.answer(refusal)
}

/// A record as it is now.
fn current(record: Option<&HeldRecord>) -> Json {
    let last = record.and_then(|r| r.versions.last());
    last.map_or(Json::Null, |version| version.record.0.clone())
}

fn version(copy: &PersonalCopy) -> String {
    let member = copy.records.get(Kind::Member.spec().one).and_then(|all| all.first());
    member.and_then(|m| m.versions.last()).map_or(0, |v| v.version).to_string()
}

/// How much of one kind there is, with the newest.
fn kind(page: &Page, one: &str, all: &[HeldRecord]) -> Option<Item> {
    let kind = Kind::from_one(one)?;
    let versions: usize = all.iter().map(|r| r.versions.len()).sum();
    let args = [
        ("records", i64::try_from(all.len()).unwrap_or(i64::MAX).into()),
        ("versions", i64::try_from(versions).unwrap_or(i64::MAX).into()),
    ];
    let newest = all.iter().rev().take(SHOWN_MAX).map(|r| facts(page, kind, &current(Some(r))));
    let lines = std::iter::once(page.tell("held-count", &args)).chain(newest);
    let lines = lines.filter(|line| !line.is_empty()).collect();
    Some(Item { title: page.word("kind", one), lines, ..Item::default() })
}

/// How long things are kept.
fn table(page: &Page) -> Table {
    let row = |k: &Kept| {
        let days = match k.days {
            Some(days) => page.with("held-for-days", "days", days),
            None => page.say("held-for-until-erased"),
        };
        vec![page.word("held-for", k.what.text()).into(), days.into()]
    };
    Table {
        caption: page.say("held-for-title"),
        columns: vec![
            Column::text(page.say("held-for-what")),
            Column::text(page.say("held-for-how-long")),
        ],
        rows: kept().iter().map(row).collect(),
        total: None,
    }
}

/// Everything as a file, to be handed over.
pub(super) async fn json(visit: Visit) -> Shown {
    let copy = copy(&visit).await?;
    let bytes = serde_json::to_vec_pretty(&copy).map_err(|e| AppError::Internal(e.to_string()))?;
    Ok(file(&format!("member-{}.json", copy.member_id), "application/json", bytes))
}

/// Notes that a member has left.
pub(super) async fn left(visit: Visit) -> Shown {
    let id = visit.id("id")?;
    let patch = visit.record(Kind::Member, &["left_on"]);
    match correct(&visit, Kind::Member, id, patch).await {
        Ok(_) => Ok(go(&format!("/members/{id}/held?{}", saved(Kind::Member, id)))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "left", error)?;
            page(&visit, Some(&refusal)).await
        }
    }
}

/// Erases what is personal.
pub(super) async fn erase(visit: Visit) -> Shown {
    let id = visit.id("id")?;
    let given = |name: &str| visit.field(name).unwrap_or_default().to_owned();
    let (number, reason) = (given("member_number"), given("reason"));
    match visit.state.app.erase_member(visit.actor()?, id, &number, &reason).await {
        Ok(_) => Ok(go(&format!("/members/{id}/held?saved=erased"))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "erase", error)?;
            page(&visit, Some(&refusal)).await
        }
    }
}
