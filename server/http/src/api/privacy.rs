//! What is held about a member.

use crate::request::{Answer, Request};
use traybook_answers::people::privacy::EraseRequest;

const JSON: &[&str] = &["application/json"];

/// A copy of everything.
pub async fn personal_copy(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let copy = r.app().personal_copy(r.actor()?, r.id()?).await?;
    r.answer_json(&copy)
}

/// Empties what is personal.
pub async fn erase(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let asked: EraseRequest = r.json()?;
    let app = r.app();
    let done = app.erase_member(r.actor()?, r.id()?, &asked.member_number, &asked.reason).await?;
    r.answer_json(&done)
}
