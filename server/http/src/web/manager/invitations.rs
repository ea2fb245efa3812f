//! One-time codes: for one person, after a lost telephone, and for many members on one sheet.

use crate::web::blocks::{Block, Field, Form, Input, Label, Leaf, Refusal};
use crate::web::farms::Names;
use crate::web::forms::or_none;
use crate::web::page::Page;
use crate::web::site::{Shown, query};
use crate::web::visit::Visit;
use traybook_app::AppError;
use traybook_app::people::invitations::{Invited, SHEET_MAX, Sheet};
use traybook_domain::Kind;
use traybook_domain::people::authz::{Action, Task};
use traybook_reports::labels::qr_svg;
use uuid::Uuid;

/// Pixels of a square of the code's picture.
const SQUARE: u32 = 4;

/// What a person gets: the code in words and as a picture.
pub(super) fn label(visit: &Visit, page: &Page, invited: &Invited) -> Result<Label, AppError> {
    let to = address(visit, &invited.code);
    let code = to.map(|to| qr_svg(&to, SQUARE).map_err(AppError::Internal)).transpose()?;
    Ok(Label {
        code,
        title: invited.name.clone(),
        line: page.tell(
            "invitation-line",
            &[("code", invited.code.as_str().into()), ("login", invited.login.as_str().into())],
        ),
    })
}

/// The address that a code opens; none where the server does not know its own.
pub(super) fn address(visit: &Visit, code: &str) -> Option<String> {
    visit.whole_address(&format!("/invitation?{}", query(&[("code", code)])))
}

/// The form for a sheet of members.
pub(crate) async fn show_form(visit: Visit) -> Shown {
    form(&visit, None).await
}

async fn form(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let actor = visit.actor()?;
    actor.task(Task::Invite)?;
    actor.visible(Action::Read, Kind::Member)?;
    let page = visit.page();
    let mut leaf = Leaf::new(page.clone(), page.say("invite-many-title"))
        .back("/people", page.say("people-title"));
    let most = i64::try_from(SHEET_MAX).unwrap_or(0);
    leaf.add(Block::Text(page.with("invite-many-about", "most", most)));
    let areas = or_none(Names::of(visit, Kind::Area, "name", &[]).await?.options());
    let form = Form::new("/people/invitations", "sheet", page.say("invite-many-make"))
        .field(Field::new("area_id", page.say("area"), Input::Choice(areas)));
    leaf.form(visit, refusal, form);
    leaf.answer(refusal)
}

/// Invites, and shows the sheet once.
pub(crate) async fn make(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    let area = visit.field("area_id").and_then(|id| Uuid::try_parse(id).ok());
    match visit.state.app.invite_members(actor, area).await {
        Ok(sheet) => show(&visit, &sheet),
        Err(error) => {
            let refusal = Refusal::of(&visit, "sheet", error)?;
            form(&visit, Some(&refusal)).await
        }
    }
}

fn show(visit: &Visit, sheet: &Sheet) -> Shown {
    let page = visit.page();
    let mut leaf = Leaf::new(page.clone(), page.say("invite-many-title"))
        .back("/people", page.say("people-title"));
    let count = |n: usize| i64::try_from(n).unwrap_or(0);
    leaf.add(Block::Lead(page.with("invite-many-done", "count", count(sheet.invited.len()))));
    if !sheet.invited.is_empty() {
        leaf.text("invite-many-once");
    }
    let labels: Result<Vec<Label>, AppError> =
        sheet.invited.iter().map(|one| label(visit, &page, one)).collect();
    leaf.add(Block::Labels(labels?));
    leaf.address_unknown(visit);
    if sheet.left > 0 {
        leaf.add(Block::Text(page.with("invite-many-left", "count", count(sheet.left))));
    }
    if !sheet.without_phone.is_empty() {
        let names = sheet.without_phone.join(", ");
        leaf.add(Block::Caution(page.with("invite-many-without", "names", names)));
    }
    leaf.show()
}
