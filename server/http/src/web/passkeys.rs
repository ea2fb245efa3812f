//! Passkeys on the pages: adding and removing one's own, and the form that asks for one.

use super::blocks::{Block, Column, Field, Form, Input, Leaf, Refusal, Table};
use super::own::own;
use super::page::Page;
use super::site::{Shown, go};
use super::visit::Visit;
use traybook_answers::people::security::OwnPasskey;
use traybook_app::people::passkeys::{Answered, Asked};
use uuid::Uuid;

/// The answer that a form brings.
pub(super) fn answered(visit: &Visit) -> Option<Answered> {
    let question = visit.field("question")?;
    Some(Answered {
        question: Uuid::try_parse(question).ok(),
        answer: visit.field("answer").unwrap_or_default().to_owned(),
        origin: visit.state.settings.public_address.clone(),
    })
}

/// The form that asks for a passkey: to sign with one, or to make one.
pub(super) fn passkey_form(form: Form, call: &'static str, asked: Asked) -> Form {
    let form = form.hide("question", asked.id.to_string()).hide("answer", "");
    Form { passkey: Some((call, asked.options)), ..form }
}

/// The part of the own page: what there is, and a form for one more.
pub(super) async fn add_part(
    leaf: &mut Leaf,
    visit: &Visit,
    refusal: Option<&Refusal>,
) -> Result<(), traybook_app::AppError> {
    let (page, app) = (visit.page(), &visit.state.app);
    leaf.heading("passkeys-title").text("passkeys-about");
    let all = app.own_passkeys(visit.actor()?).await?;
    if !all.is_empty() {
        leaf.add(Block::Table(table(&page, &all)));
    }
    for one in &all {
        let end = page.with("passkey-end", "name", &*one.name);
        let id = format!("passkey-{}", one.id);
        leaf.form(visit, refusal, Form::new(format!("/own/passkeys/{}", one.id), id, end).plain());
    }
    if app.takes_passkeys(visit.state.settings.public_address.as_deref()) {
        let name = Field::new("name", page.say("passkey-name"), Input::Text);
        let name = name.hint(page.say("passkey-name-hint")).required();
        let form = Form::new("/own/passkeys", "passkey", page.say("passkey-begin")).field(name);
        leaf.form(visit, refusal, form);
    } else {
        leaf.text("passkeys-no-address");
    }
    Ok(())
}

fn table(page: &Page, all: &[OwnPasskey]) -> Table {
    let row = |one: &OwnPasskey| {
        let used = one.used_at.as_ref().map(|at| page.moment(at)).unwrap_or_default();
        vec![one.name.clone().into(), page.moment(&one.made_at).into(), used.into()]
    };
    Table {
        caption: page.say("passkeys-title"),
        columns: ["passkey-name", "passkey-made", "passkey-used"]
            .map(|key| Column::text(page.say(key)))
            .into(),
        rows: all.iter().map(row).collect(),
        total: None,
    }
}

/// Begins one: the page whose button makes it.
pub(super) async fn begin(visit: Visit) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    let name = visit.field("name").unwrap_or_default();
    let origin = visit.state.settings.public_address.as_deref();
    match visit.state.app.begin_passkey(actor, name, origin).await {
        Ok(asked) => {
            let title = page.say("passkey-make");
            let mut leaf = Leaf::new(page.clone(), title).back("/own", page.say("own-title"));
            leaf.text("passkey-make-about");
            let form = Form::new("/own/passkeys/add", "make", page.say("passkey-make"));
            leaf.add(Block::Form(passkey_form(form.hide("name", name), "create", asked)));
            leaf.show()
        }
        Err(error) => {
            let refusal = Refusal::of(&visit, "passkey", error)?;
            own(&visit, Some(&refusal)).await
        }
    }
}

/// Adds the one that the browser has made.
pub(super) async fn add(visit: Visit) -> Shown {
    let name = visit.field("name").unwrap_or_default();
    let answered = answered(&visit).unwrap_or_default();
    match visit.state.app.add_passkey(visit.actor()?, name, &answered).await {
        Ok(()) => Ok(go("/own?saved=1")),
        Err(error) => {
            let refusal = Refusal::of(&visit, "passkey", error)?;
            own(&visit, Some(&refusal)).await
        }
    }
}

/// Removes one.
pub(super) async fn end(visit: Visit) -> Shown {
    visit.state.app.end_passkey(visit.actor()?, visit.id("id")?).await?;
    Ok(go("/own?saved=1"))
}
