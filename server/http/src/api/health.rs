//! For whoever runs the machine, and the document of the interface.

use crate::problem::Code;
use crate::request::{Answer, Request, body_etag};
use actix_web::HttpResponse;
use traybook_app::AppError;

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
    Ok(text(match r.app().failed_makings().await? {
        0 => "ready\n".to_owned(),
        n => format!("ready\nthe figures of {n} co-operatives could not be made; see the log\n"),
    }))
}

/// Counters, for the machine itself.
pub async fn metrics(r: Request) -> Answer {
    let local = r.http.peer_addr().is_some_and(|a| a.ip().is_loopback());
    let forwarded = r.http.headers().contains_key("x-forwarded-for");
    if !local || forwarded {
        return Err(AppError::NotFound.into());
    }
    let failed = r.app().failed_makings().await?;
    let name = "traybook_figures_failed";
    let about = "Co-operatives whose figures could not be made the last time.";
    let figures = format!("# HELP {name} {about}\n# TYPE {name} gauge\n{name} {failed}\n");
    Ok(text(r.state.metrics.text() + &figures))
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
    let body = r.state.document.clone();
    let tag = body_etag(body.as_bytes());
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
