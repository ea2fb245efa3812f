//! For whoever runs the machine, and the document of the interface.

use crate::problem::{Code, Problem};
use crate::request::{Answer, Request, body_etag};
use actix_web::HttpResponse;
use std::collections::BTreeMap;
use traybook_answers::server::ServerCarrier;
use traybook_answers::wire::Time;
use traybook_app::texts::TextCounts;
use traybook_app::{App, AppError};
use traybook_domain::time::format_instant;

fn text(body: String) -> HttpResponse {
    HttpResponse::Ok()
        .content_type("text/plain; charset=utf-8")
        .insert_header(("cache-control", "no-store"))
        .body(body)
}

/// Whether the process runs.
pub async fn live(_r: Request) -> Answer {
    Ok(text("alive\n".to_owned()))
}

/// Whether the database answers. Figures that could not be made leave the old ones in use: said,
/// and no reason to send nobody here.
pub async fn ready(r: Request) -> Answer {
    if let Some(what) = r.app().keeping.damage() {
        return Err(AppError::Damaged(what).into());
    }
    if r.app().keeping.is_ending() {
        let detail = "the server ends: ask another one";
        return Err(Problem { retry_after_s: Some(1), ..Problem::new(Code::Unavailable, detail) });
    }
    let reads = if r.app().store.only_reads() { ", only reads" } else { "" };
    let mut said = format!("ready{reads}\n");
    let failed = r.app().failed_makings().await?;
    if failed > 0 {
        let text =
            format!("the figures of {failed} co-operatives could not be made; see the log\n");
        said.push_str(&text);
    }
    let keeping = &r.app().keeping;
    if let Some(at) = keeping.last_backup() {
        said.push_str(&format!("last backup {}\n", format_instant(at)));
    }
    if let Some(at) = keeping.backup_failed() {
        said.push_str(&format!("no backup could be made at {}; see the log\n", format_instant(at)));
    }
    Ok(text(said))
}

/// How the server is, for whoever runs it.
pub async fn server(r: Request) -> Answer {
    r.accepts(&["application/json"])?;
    r.known_query([])?;
    let state = r.app().server_state(r.actor()?).await?;
    r.answer_json(&state)
}

/// Counters, for the machine itself.
pub async fn metrics(r: Request) -> Answer {
    let local = r.http.peer_addr().is_some_and(|a| a.ip().is_loopback());
    let forwarded = r.http.headers().contains_key("x-forwarded-for");
    if !local || forwarded {
        return Err(AppError::NotFound.into());
    }
    let failed = r.app().failed_makings().await?;
    let about = "Co-operatives whose figures could not be made the last time.";
    let mut figures = gauge("traybook_figures_failed", about, failed);
    let keeping = &r.app().keeping;
    if let Some(at) = keeping.last_backup() {
        let about = "Instant of the last backup that was made and checked.";
        figures += &gauge("traybook_backup_last_success_seconds", about, at.0.div_euclid(1000));
    }
    let about = "1 when the database's pages are damaged.";
    let is_damaged = i64::from(keeping.damage().is_some());
    figures += &gauge("traybook_database_damaged", about, is_damaged);
    let about = "1 when the last try to make a backup failed.";
    let is_failed = i64::from(keeping.backup_failed().is_some());
    figures += &gauge("traybook_backup_failed", about, is_failed);
    let about = "Statements that this server sent to the database.";
    figures += &counter("traybook_database_statements_total", about, App::statements());
    figures += &of_texts(&r.app().text_counts().await?);
    Ok(text(r.state.metrics.text() + &figures))
}

/// Text messages of the running month, of all co-operatives together.
fn of_texts(counts: &TextCounts) -> String {
    if counts.carriers.is_empty() {
        return String::new();
    }
    let mut out = String::new();
    let about = "Texts that came this month, by what became of them.";
    out += &labelled("traybook_texts_came", about, "outcome", &counts.came);
    let about = "Texts to be sent of this month, by how they stand.";
    out += &labelled("traybook_texts_out", about, "state", &counts.out);
    let about = "Segments of this month's texts that were not given up.";
    out += &gauge("traybook_texts_segments", about, counts.segments);
    let by_carrier = |value: fn(&ServerCarrier) -> Option<i64>| -> BTreeMap<String, i64> {
        let all = counts.carriers.iter();
        all.filter_map(|c| Some((c.name.clone(), value(c)?))).collect()
    };
    let carrier = |name: &str, about: &str, value: fn(&ServerCarrier) -> Option<i64>| {
        labelled(name, about, "carrier", &by_carrier(value))
    };
    let about = "Texts that a carrier could fetch now.";
    out += &carrier("traybook_texts_waiting", about, |c| Some(c.waiting));
    let about = "Instant since which the oldest text waits for a carrier.";
    out += &carrier("traybook_texts_waiting_since_seconds", about, |c| seconds(c.waiting_since));
    let about = "Instant at which a carrier spoke last with this server.";
    out += &carrier("traybook_carrier_heard_seconds", about, |c| seconds(c.heard_at));
    out
}

fn seconds(at: Option<Time>) -> Option<i64> {
    at.map(|Time(at)| at.0.div_euclid(1_000))
}

fn labelled(name: &str, about: &str, label: &str, values: &BTreeMap<String, i64>) -> String {
    let mut out = format!("# HELP {name} {about}\n# TYPE {name} gauge\n");
    for (of, value) in values {
        out.push_str(&format!("{name}{{{label}=\"{of}\"}} {value}\n"));
    }
    out
}

fn counter(name: &str, about: &str, value: u64) -> String {
    format!("# HELP {name} {about}\n# TYPE {name} counter\n{name} {value}\n")
}

fn gauge(name: &str, about: &str, value: impl std::fmt::Display) -> String {
    format!("# HELP {name} {about}\n# TYPE {name} gauge\n{name} {value}\n")
}

/// This document.
#[derive(utoipa::ToSchema)]
#[expect(dead_code, reason = "says in the document what the document is")]
pub struct OpenApiDocument {
    /// Version of the OpenAPI specification.
    #[schema(example = "3.1.0")]
    openapi: String,
}

/// The OpenAPI document.
pub async fn openapi(r: Request) -> Answer {
    let body = r.state.document()?;
    let tag = body_etag(&body);
    let response = HttpResponse::Ok()
        .content_type("application/json")
        .insert_header(("cache-control", "public, max-age=300"))
        .body(body);
    Ok(r.tagged(response, &tag))
}

/// What a problem code means.
pub async fn problem(r: Request) -> Answer {
    let code = r.http.match_info().get("code").unwrap_or_default();
    let code = Code::ALL.iter().find(|c| c.text() == code).ok_or(AppError::NotFound)?;
    let about = format!("{} ({})\n\n{}\n", code.title(), code.status(), code.doc().trim());
    Ok(text(about))
}
