//! Trials: what a plan could show, random orders of starts, months with and without fodder.

use super::reports::given;
use crate::problem::Problem;
use crate::request::{Answer, Request};
use actix_web::HttpResponse;
use serde::Serialize;
use traybook_answers::trials::{NewOnOffOrder, NewStartOrder};
use traybook_domain::kinds::starts;

const JSON: &[&str] = &["application/json"];

/// What ways to start could show.
pub async fn power(r: Request) -> Answer {
    r.accepts(JSON)?;
    let [enterprise, asked] = r.known_query(["enterprise", "starts"])?;
    let enterprise = given(enterprise, "enterprise")?;
    let numbers = |text: String| {
        let read = starts(&text).map(|n| n.into_iter().map(|n| n as u64).collect());
        read.ok_or_else(|| Problem::field("starts", "type", "give numbers such as 5,5,4"))
    };
    let asked: Option<Vec<u64>> = asked.map(numbers).transpose()?;
    let body = r.app().trial_power(r.actor()?, &enterprise, asked).await?;
    r.answer_json(&body)
}

pub async fn start_orders(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let body = r.app().start_orders(r.actor()?).await?;
    r.answer_json(&body)
}

pub async fn start_order(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let body = r.app().start_order(r.actor()?, r.id()?).await?;
    r.answer_json(&body)
}

pub async fn draw_start_order(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let asked: NewStartOrder = r.json()?;
    let id = asked.id.map_or_else(|| r.app().new_id(), Ok)?;
    let drawn = r.app().draw_start_order(r.actor()?, id, asked).await?;
    Ok(made(format!("/v1/start-orders/{}", drawn.id), &drawn))
}

/// Months with and without fodder of a farm.
pub async fn on_off_order(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let body = r.app().on_off_order(r.actor()?, r.id()?).await?;
    r.answer_json(&body)
}

/// Draws months with and without fodder.
pub async fn draw_on_off(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let asked: NewOnOffOrder = r.json()?;
    let id = asked.id.map_or_else(|| r.app().new_id(), Ok)?;
    let drawn = r.app().draw_on_off(r.actor()?, id, asked).await?;
    Ok(made(format!("/v1/on-off-orders/{}", drawn.id), &drawn))
}

fn made<T: Serialize>(location: String, body: &T) -> HttpResponse {
    HttpResponse::Created()
        .insert_header(("location", location))
        .insert_header(("cache-control", "private, no-cache"))
        .json(body)
}
