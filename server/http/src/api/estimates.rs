//! Estimates: output change, spoilage, seed lots.

use crate::problem::Problem;
use crate::request::{Answer, Request, body_etag, json};
use actix_web::HttpResponse;
use serde_json::Value as Json;

const JSON: &[&str] = &["application/json"];

fn tagged(r: &Request, body: &Json) -> HttpResponse {
    let text = body.to_string();
    let tag = body_etag(text.as_bytes());
    r.tagged(json(text), &tag)
}

/// Output change of farms, areas and the co-operative.
pub async fn output_change(r: Request) -> Answer {
    r.accepts(JSON)?;
    let [enterprise] = r.known_query(["enterprise"])?;
    let enterprise = enterprise
        .ok_or_else(|| Problem::field("enterprise", "required", "give enterprise, milk or eggs"))?;
    let body = r.app().output_change(r.actor()?, &enterprise).await?;
    Ok(tagged(&r, &body))
}

/// Every farm's spoilage.
pub async fn spoilage(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let body = r.app().spoilage(r.actor()?).await?;
    Ok(tagged(&r, &body))
}

/// One farm's spoilage chart.
pub async fn farm_spoilage(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let body = r.app().farm_spoilage(r.actor()?, r.id()?).await?;
    Ok(tagged(&r, &body))
}

/// Seed lots against farms.
pub async fn seed_lot_evidence(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let body = r.app().seed_lot_evidence(r.actor()?).await?;
    Ok(tagged(&r, &body))
}

/// Whom to visit next.
pub async fn visit_list(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let items = r.app().visit_list(r.actor()?).await?;
    Ok(tagged(&r, &serde_json::json!({ "items": items })))
}

/// Savings since the start.
pub async fn savings(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let body = r.app().saving_estimates(r.actor()?).await?;
    Ok(tagged(&r, &body))
}
