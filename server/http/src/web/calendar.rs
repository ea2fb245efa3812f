//! Secret addresses under which a farm's work stands in a calendar: made, shown once, revoked.

use super::blocks::{Block, Form, Label, Leaf, Refusal};
use super::farms::{one, text};
use super::site::{Shown, go};
use super::visit::Visit;
use traybook_answers::planning::work::NewCalendarLink;
use traybook_app::AppError;
use traybook_domain::Kind;
use traybook_reports::labels::qr_svg;

/// The addresses of a farm.
pub(super) async fn show_calendar(visit: Visit) -> Shown {
    calendar(&visit, None, None).await
}

/// What came of making an address: it, or nothing where the form came again.
type Made = Option<NewCalendarLink>;

async fn calendar(visit: &Visit, refusal: Option<&Refusal>, made: Option<Made>) -> Shown {
    let farm = one(visit, Kind::Farm, visit.id("id")?).await?;
    let (page, id, code) = (visit.page(), text(&farm, "id"), text(&farm, "code"));
    let mut leaf = Leaf::new(page.clone(), page.with("calendar-of", "farm", code))
        .back(format!("/farms/{id}"), code);
    leaf.saved(visit);
    if let Some(None) = &made {
        leaf.add(Block::Notice(page.say("calendar-again")));
    }
    if let Some(Some(made)) = &made {
        let whole = visit.whole_address(&made.path);
        leaf.address_unknown(visit);
        let address = whole.clone().unwrap_or_else(|| made.path.clone());
        let picture = whole.map(|to| qr_svg(&to, 4)).transpose().map_err(AppError::Internal)?;
        leaf.add(Block::Notice(page.with("calendar-address", "address", address.as_str())));
        let label =
            Label { code: picture, title: code.to_owned(), line: page.say("calendar-once") };
        leaf.add(Block::Labels(vec![label]));
    }
    leaf.text("calendar-about");
    leaf.add(Block::Caution(page.say("calendar-secret")));
    let path = format!("/farms/{id}/calendar");
    // The id makes the same form sent twice, or the page loaded again, one address.
    let new = visit.state.app.new_id()?;
    let make = Form::new(path.as_str(), "make", page.say("calendar-make")).id("id", new);
    leaf.form(visit, refusal, make);
    let links = visit.state.app.calendar_links(visit.actor()?, visit.id("id")?).await?.items;
    leaf.heading("calendar-addresses");
    if links.is_empty() {
        leaf.text("calendar-none");
    }
    for link in &links {
        let link_id = link.id;
        let end = page.with("calendar-end", "made", page.moment(&link.made_at));
        let form = Form::new(format!("{path}/{link_id}"), format!("end-{link_id}"), end);
        leaf.form(visit, refusal, form.plain());
    }
    leaf.answer(refusal)
}

/// Makes an address. It is shown on this page, once; not when the page is loaded again.
pub(super) async fn make(visit: Visit) -> Shown {
    let (app, actor, farm) = (&visit.state.app, visit.actor()?, visit.id("id")?);
    match app.add_calendar_link(actor, farm, visit.form_id("id")?).await {
        Ok(made) => calendar(&visit, None, Some(made)).await,
        Err(error) => {
            let refusal = Refusal::of(&visit, "make", error)?;
            calendar(&visit, Some(&refusal), None).await
        }
    }
}

/// Ends an address: the calendar is there no longer.
pub(super) async fn end(visit: Visit) -> Shown {
    let (app, actor, farm) = (&visit.state.app, visit.actor()?, visit.id("id")?);
    app.revoke_calendar_link(actor, farm, visit.id("link")?).await?;
    Ok(go(&format!("/farms/{farm}/calendar?saved=calendar-end")))
}
