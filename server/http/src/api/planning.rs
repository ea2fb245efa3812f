//! Plans, work lists, recording work, calendars, seed forecasts.

use crate::request::{Answer, Request, body_etag, varied};
use crate::work_words::Words;
use actix_web::HttpResponse;
use base64::Engine as _;
use sha2::{Digest, Sha256};
use traybook_app::AppError;
use traybook_app::planning::{SHEET_STYLE, SheetForm, WorkQuery};
use traybook_reports::sheet;
use uuid::Uuid;

const JSON: &[&str] = &["application/json"];

/// The work of a day.
pub async fn work(r: Request) -> Answer {
    r.accepts(JSON)?;
    let [date, farm_id, shed_id, area_id, task] =
        r.known_query(["date", "farm_id", "shed_id", "area_id", "task"])?;
    let query = WorkQuery { date, farm_id, shed_id, area_id, task };
    let work = r.app().work(r.actor()?, &query).await?;
    r.answer_json(&work)
}

/// The work of some days on paper.
pub async fn work_sheet(r: Request) -> Answer {
    let media = r.accepts(&["text/html", "text/csv"])?;
    let [date, days, farm_id, shed_id, area_id, task, language] =
        r.known_query(["date", "days", "farm_id", "shed_id", "area_id", "task", "language"])?;
    let language = r.language(language.as_deref())?;
    let query = WorkQuery { date, farm_id, shed_id, area_id, task };
    let form = if media == "text/csv" { SheetForm::Csv } else { SheetForm::Html };
    let body = r.app().work_sheet(r.actor()?, &query, days, form, &Words(language)).await?;
    if media == "text/csv" {
        return Ok(r.answer_csv("work", body));
    }
    let tag = body_etag(body.as_bytes());
    Ok(varied(r.tagged(printed(body), &tag)))
}

/// A printed sheet as an answer.
pub(crate) fn printed(body: String) -> HttpResponse {
    // The sheet's own style is all that it loads.
    let digest = Sha256::digest(SHEET_STYLE.as_bytes());
    let hash = base64::engine::general_purpose::STANDARD.encode(digest);
    let policy = format!("default-src 'none'; style-src 'sha256-{hash}'; frame-ancestors 'none'");
    HttpResponse::Ok()
        .content_type("text/html; charset=utf-8")
        .insert_header(("cache-control", "private, no-store"))
        .insert_header(("content-security-policy", policy))
        .body(body)
}

/// Records a line of work as done.
pub async fn record_work(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let done = r.app().record_work(r.actor()?, r.object()?).await?;
    let mut response = if done.is_new { HttpResponse::Created() } else { HttpResponse::Ok() };
    Ok(response.insert_header(("cache-control", "private, no-cache")).json(done.work))
}

/// Work lists that changed.
pub async fn work_changes(r: Request) -> Answer {
    r.accepts(JSON)?;
    let [after] = r.known_query(["after"])?;
    let changes = r.app().work_changes(r.actor()?, after.as_deref()).await?;
    r.answer_json(&changes)
}

/// A farm's plan.
pub async fn farm_plan(r: Request) -> Answer {
    r.accepts(JSON)?;
    let [days, start] = r.known_query(["days", "start"])?;
    let plan = r.app().farm_plan(r.actor()?, r.id()?, days, start).await?;
    r.answer_json(&plan)
}

/// How much seed the plans will take.
pub async fn seed_forecast(r: Request) -> Answer {
    let media = r.accepts(&["application/json", "text/csv"])?;
    let [weeks] = r.known_query(["weeks"])?;
    let forecast = r.app().seed_forecast(r.actor()?, weeks).await?;
    match media {
        "text/csv" => Ok(r.answer_csv("seed-forecast", sheet::csv(&forecast.purchases()))),
        _ => r.answer_json(&forecast).map(varied),
    }
}

/// Makes a calendar address.
pub async fn add_calendar_link(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let id = r.app().new_id()?;
    let link = r.app().add_calendar_link(r.actor()?, r.id()?, id).await?;
    Ok(HttpResponse::Created().insert_header(("cache-control", "no-store")).json(link))
}

/// The calendar addresses of a farm.
pub async fn calendar_links(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let links = r.app().calendar_links(r.actor()?, r.id()?).await?;
    r.answer_json(&links)
}

/// Revokes a calendar address.
pub async fn revoke_calendar_link(r: Request) -> Answer {
    r.known_query([])?;
    let link = r.http.match_info().get("link_id").filter(|t| t.len() == 36);
    let link = link.and_then(|t| Uuid::try_parse(t).ok()).ok_or(AppError::NotFound)?;
    r.app().revoke_calendar_link(r.actor()?, r.id()?, link).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// The calendar under a secret address.
pub async fn calendar(r: Request) -> Answer {
    r.accepts(&["text/calendar"])?;
    r.known_query([])?;
    let secret = r.http.match_info().get("secret").unwrap_or_default();
    let text = r.app().calendar(secret).await?;
    let tag = body_etag(text.as_bytes());
    let mut response = HttpResponse::Ok();
    response.content_type("text/calendar; charset=utf-8");
    response.insert_header(("cache-control", "private, no-cache"));
    response.insert_header(("content-disposition", "inline; filename=\"work.ics\""));
    Ok(r.tagged(response.body(text), &tag))
}
