//! The door of carriers of text messages, and whose numbers there are.

use crate::problem::Problem;
use crate::request::{Answer, Request};
use traybook_answers::texts::{
    LeaseTextsRequest, LinkNumberRequest, SettleTextsRequest, TakeTextRequest, TextMenu,
    TextMenuRequest, TextTaken,
};
use traybook_app::AppError;
use traybook_app::texts::{Come, MENU_INPUT_MAX, MenuCall, NewLink, Signed};

const JSON: &[&str] = &["application/json"];
/// Longest text that is read: ten parts, and room.
const TEXT_CHARS_MAX: usize = 2_000;
/// Texts that are settled at once.
const SETTLED_MAX: usize = 100;

/// The carrier that signed a request.
fn carrier(r: &Request) -> Result<String, Problem> {
    let head = |name: &str| r.http.headers().get(name).and_then(|h| h.to_str().ok());
    let signed = |id, timestamp, signature| Signed { id, timestamp, signature };
    let given = head("webhook-id").zip(head("webhook-timestamp")).zip(head("webhook-signature"));
    let given = given.map(|((id, timestamp), signature)| signed(id, timestamp, signature));
    let by = given.and_then(|s| r.app().carriers.signed_by(s, &r.body, r.app().now()));
    by.map(|c| c.name.clone()).ok_or_else(|| AppError::Unauthenticated.into())
}

/// Takes a text.
pub async fn take(r: Request) -> Answer {
    let carrier = carrier(&r)?;
    r.accepts(JSON)?;
    r.known_query([])?;
    let asked: TakeTextRequest = r.json()?;
    if asked.text.as_ref().is_some_and(|t| t.chars().count() > TEXT_CHARS_MAX) {
        let detail = format!("give at most {TEXT_CHARS_MAX} characters");
        return Err(Problem::field("text", "length", detail));
    }
    let come = Come {
        carrier,
        id: asked.id,
        from: asked.from,
        to: asked.to,
        text: asked.text,
        sent_at: asked.sent_at.map(|t| t.0),
    };
    let spoken = r.app().take_text(come).await?;
    r.answer_json(&TextTaken { outcome: spoken.outcome, is_new: spoken.is_new })
}

/// Takes a step of a menu.
pub async fn menu(r: Request) -> Answer {
    let carrier = carrier(&r)?;
    r.accepts(JSON)?;
    r.known_query([])?;
    let asked: TextMenuRequest = r.json()?;
    if asked.input.chars().count() > MENU_INPUT_MAX {
        let detail = format!("give at most {MENU_INPUT_MAX} characters");
        return Err(Problem::field("input", "length", detail));
    }
    let call = MenuCall {
        carrier,
        session: asked.session,
        from: asked.from,
        to: asked.to,
        input: asked.input,
        is_joined: asked.is_joined,
    };
    let said = r.app().text_menu(call).await?;
    r.answer_json(&TextMenu { text: said.text, ends: said.ends })
}

/// Gives texts to be sent.
pub async fn lease(r: Request) -> Answer {
    let carrier = carrier(&r)?;
    r.accepts(JSON)?;
    r.known_query([])?;
    let asked: LeaseTextsRequest = r.json()?;
    let most = i64::try_from(SETTLED_MAX).unwrap_or(i64::MAX);
    if !(1..=most).contains(&asked.most) {
        return Err(Problem::field("most", "range", format!("give 1 to {most}")));
    }
    let leased = r.app().lease_texts(&carrier, asked.most).await?;
    r.answer_json(&leased)
}

/// Notes what became of them.
pub async fn settle(r: Request) -> Answer {
    let carrier = carrier(&r)?;
    r.accepts(JSON)?;
    r.known_query([])?;
    let asked: SettleTextsRequest = r.json()?;
    if asked.items.len() > SETTLED_MAX {
        return Err(Problem::field("items", "length", format!("give at most {SETTLED_MAX}")));
    }
    let settled = r.app().settle_texts(&carrier, asked.items).await?;
    r.answer_json(&settled)
}

/// Whose numbers there are.
pub async fn numbers(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let numbers = r.app().text_numbers(r.actor()?).await?;
    r.answer_json(&numbers)
}

/// Links a number.
pub async fn link(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let asked: LinkNumberRequest = r.json()?;
    let new = NewLink {
        number: asked.number,
        member: asked.member_id,
        farm: asked.farm_id,
        language: asked.language,
        consent_on: asked.consent_on,
        purposes: [asked.reminders, asked.cautions, asked.money],
    };
    let link = r.app().link_number(r.actor()?, new).await?;
    r.answer_json(&link)
}

/// Ends a link.
pub async fn end(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let link = r.app().end_number(r.actor()?, r.id()?).await?;
    r.answer_json(&link)
}

/// What texts cost this month.
pub async fn used(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let (used, _) = r.app().texts_use(r.actor()?).await?;
    r.answer_json(&used)
}
