//! Estimates: output change, spoilage, seed lots.

use super::reports::given;
use crate::problem::Problem;
use crate::request::{Answer, Request};
use traybook_answers::estimates::VisitList;

const JSON: &[&str] = &["application/json"];

/// Output change of farms, areas and the co-operative.
pub async fn output_change(r: Request) -> Answer {
    r.accepts(JSON)?;
    let [enterprise] = r.known_query(["enterprise"])?;
    let enterprise = enterprise
        .ok_or_else(|| Problem::field("enterprise", "required", "give enterprise, milk or eggs"))?;
    let body = r.app().output_change(r.actor()?, &enterprise).await?;
    r.answer_json(&body)
}

/// How a farm's saving of a month came about.
pub async fn farm_saving(r: Request) -> Answer {
    r.accepts(JSON)?;
    let [month] = r.known_query(["month"])?;
    let month = given(month, "month")?;
    let body = r.app().saving_account(r.actor()?, r.id()?, &month).await?;
    r.answer_json(&body)
}

/// Every farm's spoilage.
pub async fn spoilage(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let body = r.app().spoilage(r.actor()?).await?;
    r.answer_json(&body)
}

/// One farm's spoilage chart.
pub async fn farm_spoilage(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let body = r.app().farm_spoilage(r.actor()?, r.id()?).await?;
    r.answer_json(&body)
}

/// What goes with losses.
pub async fn spoilage_conditions(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let body = r.app().spoilage_conditions(r.actor()?).await?;
    r.answer_json(&body)
}

/// What goes with losses on a farm.
pub async fn farm_conditions(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let body = r.app().farm_conditions(r.actor()?, r.id()?).await?;
    r.answer_json(&body)
}

/// Seed lots against farms.
pub async fn seed_lot_evidence(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let body = r.app().seed_lot_evidence(r.actor()?).await?;
    r.answer_json(&body)
}

/// Whom to visit next.
pub async fn visit_list(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let items = r.app().visit_list(r.actor()?).await?;
    r.answer_json(&VisitList { items })
}

/// Savings since the start.
pub async fn savings(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let body = r.app().saving_estimates(r.actor()?).await?;
    r.answer_json(&body)
}
