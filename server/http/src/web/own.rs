//! The own account: password, second factor, sign-ins; and asking for a code once more.

use super::blocks::{Block, Cell, Column, Field, Form, Input, Leaf, Refusal, Table};
use super::page::{Page, start};
use super::passkeys::{add_part, answered, passkey_form};
use super::sign_in::{Kept, device_cookie, send_kept, set_cookies};
use super::site::{Shown, go, own_address};
use super::visit::Visit;
use traybook_answers::people::security::OwnSignIn;
use traybook_app::AppError;
use traybook_app::people::passkeys::Asked;
use traybook_app::people::second::{CODE_DIGITS, Proof};
use traybook_domain::people::authz::Role;
use traybook_reports::labels::qr_svg;

/// Pixels of a square of the picture.
const SQUARE: u32 = 5;

pub(super) async fn show_own(visit: Visit) -> Shown {
    own(&visit, None).await
}

pub(super) async fn own(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    let mut leaf = Leaf::new(page.clone(), page.say("own-title"));
    leaf.saved(visit).heading("own-password");
    let secret = |name: &str, key: &str| Field::new(name, page.say(key), Input::Secret).required();
    let form = Form::new("/own/password", "password", page.say("own-password-change"))
        .field(secret("old", "own-password-old"))
        .field(secret("new", "invitation-password").hint(page.say("invitation-password-hint")));
    leaf.form(visit, refusal, form);
    if matches!(actor.role, Role::Operator | Role::Manager) {
        leaf.heading("second-title");
        match actor.proved {
            None => {
                leaf.text("second-about");
                let begin = Form::new("/own/second", "begin", page.say("second-begin"));
                leaf.form(visit, refusal, begin);
            }
            Some(_) => {
                leaf.text("second-there");
                let end = Form::new("/own/second/end", "end", page.say("second-end"));
                leaf.form(visit, refusal, end.field(code_field(&page)));
                add_part(&mut leaf, visit, refusal).await?;
            }
        }
    }
    leaf.heading("own-sign-ins");
    let all = visit.state.app.own_sign_ins(actor).await?;
    leaf.add(Block::Table(table(&page, &all)));
    for one in all.iter().filter(|one| !one.is_this) {
        let end = page.with("own-end", "begun", page.moment(&one.begun_at));
        let form = Form::new(format!("/own/sign-ins/{}", one.id), format!("end-{}", one.id), end);
        leaf.form(visit, refusal, form.plain());
    }
    if all.len() > 1 {
        let end = Form::new("/own/sign-ins", "end-all", page.say("own-end-all"));
        leaf.form(visit, refusal, end);
    }
    leaf.answer(refusal)
}

fn code_field(page: &Page) -> Field {
    Field::new("code", page.say("second-code"), Input::Text)
        .hint(page.with("second-code-hint", "digits", CODE_DIGITS.to_string()))
        .required()
}

fn table(page: &Page, all: &[OwnSignIn]) -> Table {
    let row = |one: &OwnSignIn| -> Vec<Cell> {
        let device = page.word("own-device", &one.device);
        let this = if one.is_this { page.say("own-this") } else { String::new() };
        vec![
            device.into(),
            page.moment(&one.begun_at).into(),
            page.moment(&one.seen_at).into(),
            this.into(),
        ]
    };
    Table {
        caption: page.say("own-sign-ins"),
        columns: ["own-device", "own-begun", "own-seen", "own-which"]
            .map(|key| Column::text(page.say(key)))
            .into(),
        rows: all.iter().map(row).collect(),
        total: None,
    }
}

/// Changes the password.
pub(super) async fn change_password(visit: Visit) -> Shown {
    let secret = |name: &str| {
        let found = visit.fields.iter().find(|(n, _)| n == name);
        found.map(|(_, value)| value.clone()).unwrap_or_default()
    };
    let done = visit.state.app.change_password(visit.actor()?, secret("old"), secret("new"));
    match done.await {
        Ok(devices) => {
            let mut response = go("/own?saved=1");
            set_cookies(&mut response, &[device_cookie(devices, &visit.devices)])?;
            Ok(response)
        }
        Err(error) => {
            let refusal = Refusal::of(&visit, "password", error)?;
            own(&visit, Some(&refusal)).await
        }
    }
}

/// Begins a second factor: its secret is shown on this page, once.
pub(super) async fn begin_second(visit: Visit) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    let new = visit.state.app.begin_second(actor).await?;
    let mut leaf =
        Leaf::new(page.clone(), page.say("second-title")).back("/own", page.say("own-title"));
    leaf.text("second-scan");
    let code = qr_svg(&new.address, SQUARE).map_err(AppError::Internal)?;
    leaf.add(Block::Labels(vec![super::blocks::Label {
        code: Some(code),
        title: page.say("second-title"),
        line: new.secret,
    }]));
    leaf.form(&visit, None, confirm_form(&page));
    leaf.show()
}

fn confirm_form(page: &Page) -> Form {
    Form::new("/own/second/confirm", "confirm", page.say("second-confirm")).field(code_field(page))
}

/// Makes it count, with its first code; shows the recovery codes, once.
pub(super) async fn confirm_second(visit: Visit) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    let code = visit.field("code").unwrap_or_default();
    let mut leaf =
        Leaf::new(page.clone(), page.say("second-title")).back("/own", page.say("own-title"));
    match visit.state.app.confirm_second(actor, code).await {
        Ok(codes) => {
            leaf.add(Block::Notice(page.say("second-done")));
            leaf.text("second-recovery");
            leaf.add(Block::Text(codes.join("   ")));
            leaf.show()
        }
        Err(error) => {
            let refusal = Refusal::of(&visit, "confirm", error)?;
            leaf.form(&visit, Some(&refusal), confirm_form(&page));
            leaf.answer(Some(&refusal))
        }
    }
}

/// Takes the second factor away.
pub(super) async fn end_second(visit: Visit) -> Shown {
    let code = visit.field("code").unwrap_or_default();
    match visit.state.app.end_second(visit.actor()?, code).await {
        Ok(()) => Ok(go("/own?saved=1")),
        Err(error) => {
            let refusal = Refusal::of(&visit, "end", error)?;
            own(&visit, Some(&refusal)).await
        }
    }
}

pub(super) async fn end_sign_in(visit: Visit) -> Shown {
    visit.state.app.end_sign_in(visit.actor()?, Some(visit.id("id")?)).await?;
    Ok(go("/own?saved=1"))
}

/// Ends all sign-ins but this one.
pub(super) async fn end_sign_ins(visit: Visit) -> Shown {
    visit.state.app.end_sign_in(visit.actor()?, None).await?;
    Ok(go("/own?saved=1"))
}

/// Takes the notice of a reset away.
pub(super) async fn notice_seen(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    visit.state.app.notice_seen(actor).await?;
    Ok(go(start(actor.role)))
}

/// The question for a code or a passkey, before what asks for one: then on to an address, or a form
/// that waits.
pub(super) fn proof_first(
    page: &Page,
    kept: Option<&Kept>,
    to: &str,
    asked: Option<Asked>,
) -> Shown {
    let mut leaf = proof_leaf(page);
    let along = |form: Form| Kept::along_with(kept, form.hide("to", to));
    let form = Form::new("/proof", "proof", page.say("proof-go"));
    leaf.add(Block::Form(along(form).field(code_field(page))));
    if let Some(asked) = asked {
        leaf.add(Block::Form(along(by_passkey(page, "/proof", asked))));
    }
    leaf.show()
}

/// The form that asks for a passkey in place of a code.
pub(super) fn by_passkey(page: &Page, action: &str, asked: Asked) -> Form {
    let form = Form::new(action, "by-passkey", page.say("passkey-use")).plain();
    passkey_form(form, "get", asked)
}

fn proof_leaf(page: &Page) -> Leaf {
    let mut leaf = Leaf::new(page.clone(), page.say("proof-title"));
    leaf.text("proof-about");
    leaf
}

/// Takes the code, or the answer of a passkey.
pub(super) async fn prove(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    let kept = Kept::along(&visit);
    let proof = match answered(&visit) {
        Some(answered) => Proof::Passkey(answered),
        None => Proof::Code(visit.field("code").unwrap_or_default().to_owned()),
    };
    let app = &visit.state.app;
    match app.prove(actor, &proof).await {
        Ok(()) => match kept {
            Some(kept) => send_kept(&visit, kept),
            None => Ok(go(visit.field("to").and_then(own_address).unwrap_or("/"))),
        },
        Err(error) => {
            let refusal = Refusal::of(&visit, "proof", error)?;
            let (page, address) = (visit.page(), visit.state.settings.public_address.as_deref());
            let mut leaf = proof_leaf(&page);
            // What waits goes along once more, as it came.
            let along = |form: Form| {
                let waits = |name: &str| name == "to" || name.starts_with("kept");
                let fields = visit.fields.iter().filter(|(name, _)| waits(name));
                fields.fold(form, |form, (name, value)| form.hide(name, value))
            };
            let form = along(Form::new("/proof", "proof", page.say("proof-go")));
            leaf.form(&visit, Some(&refusal), form.field(code_field(&page)));
            let asked = app.ask_passkey((actor.coop.number, actor.person), address).await?;
            if let Some(asked) = asked {
                leaf.add(Block::Form(along(by_passkey(&page, "/proof", asked))));
            }
            leaf.answer(Some(&refusal))
        }
    }
}
