//! A month in which a farm bought none of a feed, said with one tap.

use super::blocks::{Block, Field, Form, Input, Leaf, Refusal};
use super::farms::{Names, all, one, text};
use super::forms::or_none;
use super::page::Page;
use super::site::{Shown, go, own_address};
use super::visit::Visit;
use serde_json::Value as Json;
use std::collections::BTreeSet;
use traybook_app::AppError;
use traybook_app::records::nothing_bought::NothingBought;
use traybook_domain::people::authz::Action;
use traybook_domain::{Kind, Month};
use uuid::Uuid;

/// The two answers, as the form sends them: none was used, or some was left from before.
const ANSWERS: [&str; 2] = ["none", "some"];

/// Address of the page. A link may add the feed, the month and the page to come back to:
/// `?feed=ID&month=YYYY-MM&back=/close`.
pub(super) fn address(farm: &str) -> String {
    format!("/farms/{farm}/nothing-bought")
}

pub(super) async fn show_form(visit: Visit) -> Shown {
    form(&visit, None).await
}

async fn form(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let farm = one(visit, Kind::Farm, visit.id("id")?).await?;
    let (page, actor) = (visit.page(), visit.actor()?);
    actor.visible(Action::Create, Kind::FeedPurchase)?;
    let (id, code) = (text(&farm, "id"), text(&farm, "code"));
    let title = page.with("nothing-bought-of", "farm", code);
    let (back, name) = match came_from(visit) {
        Some(address) => (address, page.say("back")),
        None => (book(id), page.with("book-of", "farm", code)),
    };
    let mut leaf = Leaf::new(page.clone(), &*title).back(&*back, name);
    leaf.text("nothing-bought-about");
    let meaning = |answer: &&str| {
        let says = page.say(&format!("nothing-bought-{answer}-about"));
        (page.word("nothing-bought", answer), says)
    };
    leaf.add(Block::Facts(ANSWERS.iter().map(meaning).collect()));
    // What was sent stands there again; a month that is none is refused, and no reason for no page.
    let month = match visit.month(actor) {
        Err(error) if refusal.is_none() => return Err(error),
        month => month.unwrap_or_else(|_| visit.last_month(actor)),
    };
    let feeds = Names::of(visit, Kind::Feed, "name", &[]).await?;
    let feeds = Input::Choice(or_none(feeds.options()));
    let feed = visit.field("feed").unwrap_or_default();
    let mut form = Form::new(address(id), "nothing", "")
        .id("id", visit.state.app.new_id()?)
        .keep(&*title)
        .hide("back", back)
        .field(Field::new("feed_id", page.say("book-feed-id"), feeds).value(feed).required())
        .field(
            Field::new("month", page.say("month"), Input::Month)
                .value(month.to_string())
                .required(),
        );
    let groups = all(visit, Kind::AnimalGroup, &[("farm_id", id.to_owned())]).await?;
    if let Some(field) = animals(&page, &groups) {
        form = form.field(field);
    }
    let answer = |answer: &&str| ((*answer).to_owned(), page.word("nothing-bought", answer));
    form = form.answers("stock", ANSWERS.iter().map(answer).collect());
    leaf.form(visit, refusal, form);
    leaf.answer(refusal)
}

/// Which animals it is about: asked for where a farm has animals of two classes.
fn animals(page: &Page, groups: &[Json]) -> Option<Field> {
    let classes: BTreeSet<&str> = groups.iter().map(|g| text(g, "animal_class")).collect();
    let options = Names::from_records(groups, "code").options();
    let label = page.say("book-feed-count-animal-group-id");
    let field = Field::new("animal_group_id", label, Input::Choice(or_none(options)));
    let hint = page.say("book-feed-count-animal-group-id-hint");
    (classes.len() > 1).then(|| field.hint(hint))
}

fn book(farm: &str) -> String {
    format!("/farms/{farm}/book")
}

/// The page that led here, where it said so.
fn came_from(visit: &Visit) -> Option<String> {
    visit.field("back").and_then(own_address).map(str::to_owned)
}

/// Records the answer.
pub(super) async fn record(visit: Visit) -> Shown {
    let farm = visit.id("id")?;
    let done = match read(&visit, farm) {
        Ok((id, said)) => {
            let app = &visit.state.app;
            app.nothing_bought(visit.actor()?, id, said).await.map(|()| said)
        }
        Err(wrong) => Err(wrong),
    };
    match done {
        Ok(said) => {
            let to = came_from(&visit).unwrap_or_else(|| book(&farm.to_string()));
            Ok(go(&with_echo(&to, &said)))
        }
        Err(error) => {
            let refusal = Refusal::of(&visit, "nothing", as_asked(error))?;
            form(&visit, Some(&refusal)).await
        }
    }
}

/// What the form says.
fn read(visit: &Visit, farm: Uuid) -> Result<(Uuid, NothingBought), AppError> {
    let id = |name: &str| {
        let text = visit.field(name);
        let id = text.map(|text| {
            let detail = "choose one of the list";
            Uuid::try_parse(text).ok().ok_or_else(|| AppError::field(name, "type", detail))
        });
        id.transpose()
    };
    let missing = |name: &str, detail: &str| AppError::field(name, "required", detail);
    let feed = id("feed_id")?.ok_or_else(|| missing("feed_id", "choose the feed"))?;
    let month = visit.month_named("month")?;
    let month = month.ok_or_else(|| missing("month", "give the month as YYYY-MM"))?;
    let is_used_up = match visit.field("stock") {
        Some("none") => true,
        Some("some") => false,
        _ => return Err(missing("stock", "tap one of the two answers")),
    };
    let group = id("animal_group_id")?;
    Ok((visit.form_id("id")?, NothingBought { farm, feed, group, month, is_used_up }))
}

/// Errors by the fields of this form: the day of the records is its month.
fn as_asked(error: AppError) -> AppError {
    match error {
        AppError::Invalid(errors) => {
            let asked = errors.into_iter().map(|e| match e.field() {
                "date" => e.renamed("month"),
                _ => e,
            });
            AppError::Invalid(asked.collect())
        }
        other => other,
    }
}

/// The page to go back to, with what was saved in its address.
fn with_echo(to: &str, said: &NothingBought) -> String {
    let to = to.split('#').next().unwrap_or_default();
    let (path, query) = to.split_once('?').unwrap_or((to, ""));
    let kept = query.split('&').filter(|p| !p.is_empty() && !p.starts_with("saved="));
    let answer = if said.is_used_up { "none" } else { "some" };
    let saved = format!("saved={answer}.{}.{}", said.month, said.feed);
    let pairs: Vec<&str> = kept.chain([saved.as_str()]).collect();
    format!("{path}?{}", pairs.join("&"))
}

/// Says what was saved, as the address has it; else only that something was saved.
pub(super) async fn echo(visit: &Visit, leaf: &mut Leaf) -> Result<(), AppError> {
    let said = visit.field("saved").and_then(|saved| {
        let (answer, rest) = saved.split_once('.')?;
        let (month, feed) = rest.split_once('.')?;
        let answer = ANSWERS.into_iter().find(|a| *a == answer)?;
        Some((answer, Month::parse(month)?, Uuid::try_parse(feed).ok()?))
    });
    let Some((answer, month, feed)) = said else {
        leaf.saved(visit);
        return Ok(());
    };
    let feed = one(visit, Kind::Feed, feed).await?;
    let page = visit.page();
    let args = [("feed", text(&feed, "name").into()), ("month", page.month(month).into())];
    let said = page.tell(&format!("nothing-bought-{answer}-saved"), &args);
    leaf.add(Block::Notice(said));
    Ok(())
}
