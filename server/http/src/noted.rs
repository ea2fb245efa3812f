//! What of a request goes to the security log: refusals by role, files of data that were taken, and
//! readings of what is personal to another.

use crate::problem::{Code, Problem};
use actix_web::http::header::CONTENT_DISPOSITION;
use actix_web::{HttpRequest, HttpResponse};
use traybook_app::{Actor, App, AppError};
use uuid::Uuid;

/// Operations and pages that show what is personal to somebody, with what their address names: a
/// person, a member or a farm.
const PERSONAL: [&str; 10] = [
    "get_person",
    "get_member",
    "get_personal_copy",
    "/members/{id}/held",
    "get_seed_account",
    "/people/{id}",
    "/account",
    "/result",
    "/farms/{id}/how",
    "/farms/{id}/report.pdf",
];

/// The id that an address names.
fn about(http: &HttpRequest) -> Option<Uuid> {
    let in_query = || {
        let pairs = http.query_string().split('&').filter_map(|pair| pair.split_once('='));
        pairs.filter(|(name, _)| *name == "farm").map(|(_, id)| id).next()
    };
    let id = http.match_info().get("id").or_else(in_query)?;
    Uuid::try_parse(id).ok()
}

/// Notes what has to be noted of an answer that somebody is given.
///
/// # Errors
/// Those of the store: what can not be noted is not given. `ProofNeeded` before a file is given.
pub(crate) async fn given(
    (app, actor): (&App, &Actor),
    what: &str,
    http: &HttpRequest,
    response: &HttpResponse,
) -> Result<(), AppError> {
    if !response.status().is_success() {
        return Ok(());
    }
    let is_file = response.headers().get(CONTENT_DISPOSITION);
    if is_file.is_some_and(|h| h.as_bytes().starts_with(b"attachment")) {
        actor.prove()?;
        app.note_export(actor, what).await?;
    }
    match about(http).filter(|_| PERSONAL.contains(&what) && http.method() == "GET") {
        Some(about) => app.note_read(actor, about, what).await,
        None => Ok(()),
    }
}

/// Notes that somebody was refused by the role.
pub(crate) async fn refused((app, actor): (&App, &Actor), what: &str, problem: &Problem) {
    if problem.code == Code::Forbidden
        && let Err(error) = app.note_denied(actor, what).await
    {
        tracing::error!(%error, what, "a refusal could not be noted");
    }
}
