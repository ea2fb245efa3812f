//! What devices use: their queue of changes, and the change feed.

use crate::problem::{FieldProblem, Problem};
use crate::request::{Answer, Request, json};
use actix_web::http::header::LINK;
use serde::{Deserialize, Serialize};
use traybook_answers::choice;
use traybook_answers::records::{Life, SyncMutation};
use traybook_answers::wire::AnyRecord;
use traybook_app::AppError;
use traybook_app::records::changes::LIMIT_MAX;
use traybook_app::records::sync::Outcome;
use traybook_domain::limits;
use utoipa::ToSchema;

const JSON: &[&str] = &["application/json"];

/// A device's queue.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SyncRequest {
    /// The changes, oldest first.
    #[schema(min_items = 1, max_items = 5000)]
    mutations: Vec<SyncMutation>,
}

choice! {
    /// What became of a change.
    SyncStatus {
        Done = "done",
        AlreadyDone = "already_done",
        Conflict = "conflict",
        Refused = "refused",
    }
}

/// What became of a change.
#[derive(Serialize, ToSchema)]
pub struct SyncResult {
    /// Position in the queue, from 0.
    index: usize,
    /// What became of it.
    status: SyncStatus,
    /// The record's version now.
    #[serde(skip_serializing_if = "Option::is_none")]
    version: Option<i64>,
    /// Stable code of the conflict or refusal.
    #[serde(skip_serializing_if = "Option::is_none")]
    code: Option<&'static str>,
    /// What to do.
    #[serde(skip_serializing_if = "Option::is_none")]
    detail: Option<String>,
    /// The record as it is now, for a conflict.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    current: Option<AnyRecord>,
    /// Fields that break rules.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    errors: Vec<FieldProblem>,
}

/// What became of the queue.
#[derive(Serialize, ToSchema)]
pub struct SyncResponse {
    /// One result a change, in the order of the queue.
    results: Vec<SyncResult>,
    /// Which life of the records the queue went to.
    life: Life,
}

/// Carries out a device's queue.
pub async fn sync(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let asked: SyncRequest = r.json()?;
    let count = asked.mutations.len();
    if !(1..=limits::SYNC_MUTATIONS_MAX).contains(&count) {
        let detail = format!("send 1 to {} changes in one call", limits::SYNC_MUTATIONS_MAX);
        return Err(Problem::field("mutations", "length", detail));
    }
    let (outcomes, life) = r.app().sync(r.actor()?, asked.mutations).await?;
    let results: Vec<SyncResult> =
        outcomes.into_iter().enumerate().map(|(i, o)| result(i, o)).collect();
    let body = serde_json::to_string(&SyncResponse { results, life });
    let body = body.map_err(|e| AppError::Internal(e.to_string()))?;
    Ok(json(body))
}

fn result(index: usize, outcome: Outcome) -> SyncResult {
    let none = SyncResult {
        index,
        status: SyncStatus::Done,
        version: None,
        code: None,
        detail: None,
        current: None,
        errors: Vec::new(),
    };
    match outcome {
        Outcome::Done { version } => SyncResult { version: Some(version), ..none },
        Outcome::AlreadyDone { version } => {
            SyncResult { status: SyncStatus::AlreadyDone, version: Some(version), ..none }
        }
        Outcome::Conflict { code, detail, current } => SyncResult {
            status: SyncStatus::Conflict,
            code: Some(code),
            detail: Some(detail),
            current,
            ..none
        },
        Outcome::Refused { code, errors } => SyncResult {
            status: SyncStatus::Refused,
            code: Some(code),
            errors: errors.into_iter().map(FieldProblem::from).collect(),
            ..none
        },
    }
}

/// The change feed.
pub async fn changes(r: Request) -> Answer {
    r.accepts(JSON)?;
    let [after, limit] = r.known_query(["after", "limit"])?;
    let limit = match limit {
        None => limits::PAGE_MAX,
        Some(text) => {
            let number = text.parse::<usize>().ok().filter(|n| (1..=LIMIT_MAX).contains(n));
            let detail = format!("give 1 to {LIMIT_MAX}");
            number.ok_or_else(|| Problem::field("limit", "range", detail))?
        }
    };
    let feed = r.app().changes(r.actor()?, after, limit).await?;
    let link = format!("</v1/changes?after={}&limit={limit}>; rel=\"next\"", feed.next);
    let body = serde_json::to_string(&feed).map_err(|e| AppError::Internal(e.to_string()))?;
    let mut response = json(body);
    if let Ok(link) = link.parse() {
        response.headers_mut().insert(LINK, link);
    }
    Ok(response)
}
