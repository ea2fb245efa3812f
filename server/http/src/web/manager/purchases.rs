//! What seed to buy, when, and what each issue point hands out.

use crate::web::blocks::{Block, Cell, Column, Leaf, Link, Table};
use crate::web::book::may_keep_store;
use crate::web::farms::text;
use crate::web::page::{NONE, Page, shown};
use crate::web::site::{Shown, file};
use crate::web::visit::Visit;
use serde_json::Value as Json;
use traybook_app::AppError;

/// Weeks that the page looks ahead where none are named.
const WEEKS: &str = "8";

/// The crops of the forecast.
async fn forecast(visit: &Visit, weeks: &str) -> Result<Json, AppError> {
    let forecast = visit.state.app.seed_forecast(visit.actor()?, Some(weeks.to_owned())).await?;
    serde_json::to_value(&forecast.crops).map_err(|e| AppError::Internal(e.to_string()))
}

/// What to buy of a crop and by when, in one sentence.
pub(crate) fn crop_sentence(page: &Page, crop: &Json) -> String {
    let store = &crop["store"];
    let args = [
        ("crop", page.crop(text(crop, "crop")).into()),
        ("kg", shown(&store["to_buy_kg"], 0).into()),
        ("bags", store["to_buy_bags"].as_i64().unwrap_or(0).into()),
        ("date", page.day(&store["order_by"]).into()),
    ];
    let nothing = store["to_buy_bags"].as_i64().unwrap_or(0) == 0;
    let key = match (nothing, store["order_by"].is_null()) {
        (true, _) => "buy-nothing",
        (false, true) => "buy-some",
        (false, false) => "buy-by",
    };
    page.tell(key, &args)
}

/// The page.
pub(crate) async fn show_seed(visit: Visit) -> Shown {
    let page = visit.page();
    let weeks = visit.field("weeks").unwrap_or(WEEKS).to_owned();
    let forecast = forecast(&visit, &weeks).await?;
    let mut leaf = Leaf::new(page.clone(), page.say("purchases-title"));
    leaf.text("purchases-about");
    let crops: Vec<&Json> = forecast.as_array().into_iter().flatten().collect();
    for crop in &crops {
        leaf.add(Block::Lead(crop_sentence(&page, crop)));
    }
    leaf.add(Block::Table(list(&page, &crops)));
    leaf.add(Block::Table(points(&page, &crops)));
    let mut links = vec![
        Link::to(format!("/seed.csv?weeks={weeks}"), page.say("as-csv")),
        Link::to("/spoilage#lots-title", page.say("lots-title")),
    ];
    if may_keep_store(visit.actor()?) {
        links.push(Link::to("/store", page.say("store-title")));
    }
    leaf.add(Block::Links(links));
    leaf.text("treated-seed");
    leaf.heading("method-title");
    leaf.text("purchases-method");
    leaf.show()
}

fn list(page: &Page, crops: &[&Json]) -> Table {
    let row = |c: &&Json| -> Vec<Cell> {
        let store = &c["store"];
        let day = |v: &Json| if v.is_null() { NONE.to_owned() } else { page.day(v) };
        vec![
            page.crop(text(c, "crop")).into(),
            shown(&c["need_kg"], 0).into(),
            shown(&c["on_farms_kg"], 0).into(),
            shown(&store["stock_kg"], 0).into(),
            shown(&store["held_kg"], 0).into(),
            shown(&store["to_buy_kg"], 0).into(),
            shown(&store["to_buy_bags"], 0).into(),
            day(&store["lasts_until"]).into(),
            day(&store["order_by"]).into(),
        ]
    };
    Table {
        caption: page.say("purchases-list"),
        columns: vec![
            Column::text(page.say("crop")),
            Column::number(page.say("need-kg")),
            Column::number(page.say("on-farms-kg")),
            Column::number(page.say("in-store-kg")),
            Column::number(page.say("held-kg")),
            Column::number(page.say("to-buy-kg")),
            Column::number(page.say("to-buy-bags")),
            Column::text(page.say("store-lasts")),
            Column::text(page.say("order-by")),
        ],
        rows: crops.iter().map(row).collect(),
        total: None,
    }
}

fn points(page: &Page, crops: &[&Json]) -> Table {
    let mut rows = Vec::new();
    for crop in crops {
        for point in crop["issue_points"].as_array().into_iter().flatten() {
            rows.push(vec![
                text(point, "area").to_owned().into(),
                page.crop(text(crop, "crop")).into(),
                shown(&point["farms"], 0).into(),
                shown(&point["to_issue_kg"], 0).into(),
                shown(&point["to_issue_bags"], 0).into(),
            ]);
        }
    }
    Table {
        caption: page.say("issue-points"),
        columns: vec![
            Column::text(page.say("area")),
            Column::text(page.say("crop")),
            Column::number(page.say("farms-count")),
            Column::number(page.say("to-issue-kg")),
            Column::number(page.say("to-issue-bags")),
        ],
        rows,
        total: None,
    }
}

/// The list as CSV.
pub(crate) async fn csv(visit: Visit) -> Shown {
    use traybook_reports::csv_text::line;
    let weeks = visit.field("weeks").unwrap_or(WEEKS).to_owned();
    let forecast = forecast(&visit, &weeks).await?;
    let mut out = line(&[
        "crop",
        "area",
        "farms",
        "to_issue_kg",
        "to_issue_bags",
        "to_buy_kg",
        "to_buy_bags",
        "order_by",
    ]);
    for crop in forecast.as_array().into_iter().flatten() {
        let store = &crop["store"];
        let number = |v: &Json| if v.is_null() { String::new() } else { v.to_string() };
        let name = text(crop, "crop").to_owned();
        out.push_str(&line(&[
            name.clone(),
            String::new(),
            String::new(),
            number(&crop["to_issue_kg"]),
            String::new(),
            number(&store["to_buy_kg"]),
            number(&store["to_buy_bags"]),
            text(store, "order_by").to_owned(),
        ]));
        for point in crop["issue_points"].as_array().into_iter().flatten() {
            out.push_str(&line(&[
                name.clone(),
                text(point, "area").to_owned(),
                number(&point["farms"]),
                number(&point["to_issue_kg"]),
                number(&point["to_issue_bags"]),
                String::new(),
                String::new(),
                String::new(),
            ]));
        }
    }
    Ok(file("seed-purchases.csv", "text/csv; charset=utf-8", out.into_bytes()))
}
