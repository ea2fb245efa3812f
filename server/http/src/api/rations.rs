//! What feeds are worth.

use crate::problem::Problem;
use crate::request::{Answer, Request, json};

const JSON: &[&str] = &["application/json"];

/// Prices of nutrients in a month.
pub async fn feed_values(r: Request) -> Answer {
    r.accepts(JSON)?;
    let [month, farm] = r.known_query(["month", "farm_id"])?;
    let month = month.ok_or_else(|| Problem::field("month", "required", "give month"))?;
    let body = r.app().feed_values(r.actor()?, &month, farm.as_deref()).await?;
    r.answer_json(&body)
}

/// The Pearson square.
pub async fn pearson_square(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let body = r.app().pearson_square(r.actor()?, r.object()?).await?;
    Ok(json(body.to_string()))
}

/// The least-cost mix.
pub async fn feed_mix(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let body = r.app().feed_mix(r.actor()?, r.object()?).await?;
    Ok(json(body.to_string()))
}

/// Partial budgets.
pub async fn partial_budget(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let body = r.app().partial_budget(r.actor()?, r.object()?)?;
    Ok(json(body.to_string()))
}

/// When fodder pays.
pub async fn break_even(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let body = r.app().fodder_break_even(r.actor()?, r.object()?).await?;
    Ok(json(body.to_string()))
}
