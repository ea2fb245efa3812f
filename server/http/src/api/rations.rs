//! What feeds are worth.

use crate::problem::Problem;
use crate::request::{Answer, Request, json};
use serde::Serialize;
use traybook_app::AppError;

const JSON: &[&str] = &["application/json"];

/// Prices of nutrients in a month.
pub async fn feed_values(r: Request) -> Answer {
    r.accepts(JSON)?;
    let [month, farm] = r.known_query(["month", "farm_id"])?;
    let month = month.ok_or_else(|| Problem::field("month", "required", "give month"))?;
    let body = r.app().feed_values(r.actor()?, &month, farm.as_deref()).await?;
    r.answer_json(&body)
}

/// What a request was answered; it is asked by POST, so there is nothing to compare it with.
fn answer<T: Serialize>(body: &T) -> Answer {
    let text = serde_json::to_string(body).map_err(|e| AppError::Internal(e.to_string()))?;
    Ok(json(text))
}

pub async fn pearson_square(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let body = r.app().pearson_square(r.actor()?, r.object()?).await?;
    answer(&body)
}

/// The least-cost mix.
pub async fn feed_mix(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let body = r.app().feed_mix(r.actor()?, r.object()?).await?;
    answer(&body)
}

pub async fn partial_budget(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let body = r.app().partial_budget(r.actor()?, r.object()?)?;
    answer(&body)
}

/// When fodder pays.
pub async fn break_even(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let body = r.app().fodder_break_even(r.actor()?, r.object()?).await?;
    answer(&body)
}
