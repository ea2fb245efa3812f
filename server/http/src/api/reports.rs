//! Reports and what they rest on.

use crate::problem::Problem;
use crate::request::{Answer, Request, body_etag, json};
use actix_web::HttpResponse;
use serde::Deserialize;
use serde_json::{Value as Json, json as value};
use traybook_app::savings::Form;
use utoipa::ToSchema;

const JSON: &[&str] = &["application/json"];

/// The month to close.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CloseMonthRequest {
    /// Month, YYYY-MM.
    #[schema(example = "2026-01", pattern = r"^\d{4}-\d{2}$")]
    month: String,
}

fn tagged(r: &Request, body: &Json) -> HttpResponse {
    let text = body.to_string();
    let tag = body_etag(text.as_bytes());
    r.tagged(json(text), &tag)
}

fn given(value: Option<String>, name: &str) -> Result<String, Problem> {
    value.ok_or_else(|| Problem::field(name, "required", format!("give {name}")))
}

/// The savings report.
pub async fn savings(r: Request) -> Answer {
    let media = r.accepts(&["application/json", "text/csv"])?;
    let [month] = r.known_query(["month"])?;
    let month = given(month, "month")?;
    let form = if media == "text/csv" { Form::Csv } else { Form::Json };
    let text = r.app().savings(r.actor()?, &month, form).await?;
    let body = if media == "text/csv" { text.csv } else { text.json };
    let tag = body_etag(body.as_bytes());
    let mut response = HttpResponse::Ok();
    response.insert_header(("cache-control", "private, no-cache"));
    response.insert_header(("vary", "accept"));
    if media == "text/csv" {
        response.content_type("text/csv; charset=utf-8");
        let name = format!("attachment; filename=\"savings-{month}.csv\"");
        response.insert_header(("content-disposition", name));
    } else {
        response.content_type("application/json");
    }
    Ok(r.tagged(response.body(body), &tag))
}

/// Closes a month.
pub async fn close_month(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let asked: CloseMonthRequest = r.json()?;
    let closed = r.app().close_month(r.actor()?, &asked.month).await?;
    let location = format!("/v1/reports/savings?month={}", asked.month);
    Ok(HttpResponse::Created()
        .insert_header(("location", location))
        .insert_header(("cache-control", "private, no-cache"))
        .json(closed))
}

/// The closed months.
pub async fn month_closes(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let closed = r.app().closed_months(r.actor()?).await?;
    Ok(tagged(&r, &value!({ "items": closed })))
}

/// Totals over co-operatives.
pub async fn programme_totals(r: Request) -> Answer {
    r.accepts(JSON)?;
    let [month, by] = r.known_query(["month", "by"])?;
    let (month, by) = (given(month, "month")?, given(by, "by")?);
    let totals = r.app().programme_totals(r.actor()?, &month, &by).await?;
    Ok(tagged(&r, &totals))
}

/// Seed stock.
pub async fn seed_stock(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let rows = r.app().seed_stock(r.actor()?).await?;
    Ok(tagged(&r, &value!({ "items": rows })))
}

/// The ledger of seed.
pub async fn seed_movements(r: Request) -> Answer {
    r.accepts(JSON)?;
    let [from, to] = r.known_query(["from", "to"])?;
    let (from, to) = (given(from, "from")?, given(to, "to")?);
    let rows = r.app().seed_movements(r.actor()?, &from, &to).await?;
    Ok(tagged(&r, &value!({ "items": rows })))
}

/// The growing guide.
pub async fn growing_guide(r: Request) -> Answer {
    r.accepts(JSON)?;
    let [day] = r.known_query(["day"])?;
    let guide = r.app().growing_guide(r.actor()?, day).await?;
    Ok(tagged(&r, &guide))
}
