//! What seed to buy, when, and what each issue point hands out.

use crate::web::blocks::{Block, Cell, Column, Leaf, Link, Table};
use crate::web::page::{Page, shown};
use crate::web::shelf::Shelf;
use crate::web::site::{Shown, file};
use crate::web::visit::Visit;
use traybook_answers::Decimal;
use traybook_answers::planning::forecast::{CropNeed, StoreNeed};
use traybook_answers::sheet::Cell as _;
use traybook_app::AppError;

/// Weeks that the page looks ahead where none are named.
pub(super) const WEEKS: &str = "8";

/// The crops of the forecast.
async fn forecast(visit: &Visit, weeks: &str) -> Result<Vec<CropNeed>, AppError> {
    let forecast = visit.state.app.seed_forecast(visit.actor()?, Some(weeks.to_owned())).await?;
    Ok(forecast.crops)
}

/// What to buy of a crop and by when, in one sentence.
pub(crate) fn crop_sentence(page: &Page, crop: &CropNeed, weeks: &str) -> String {
    let store = crop.store.as_ref();
    let bags = store.map_or(0, |s| s.to_buy_bags);
    let order_by = store.and_then(|s| s.order_by);
    let args = [
        ("crop", name(page, crop).into()),
        ("kg", shown(&store.map(|s| s.to_buy_kg), 0).into()),
        ("bags", bags.into()),
        ("date", page.day(&order_by).into()),
        ("weeks", weeks.into()),
    ];
    let key = match (bags == 0, order_by.is_none()) {
        (true, _) => "buy-nothing",
        (false, true) => "buy-some",
        (false, false) => "buy-by",
    };
    page.tell(key, &args)
}

fn name(page: &Page, crop: &CropNeed) -> String {
    page.crop(crop.crop.as_deref().unwrap_or_default())
}

pub(crate) async fn show_seed(visit: Visit) -> Shown {
    let page = visit.page();
    let weeks = visit.field("weeks").unwrap_or(WEEKS).to_owned();
    let crops = forecast(&visit, &weeks).await?;
    let mut leaf = Leaf::new(page.clone(), page.say("purchases-title"));
    leaf.text("purchases-about");
    for crop in &crops {
        leaf.add(Block::Lead(crop_sentence(&page, crop, &weeks)));
    }
    leaf.add(Block::Table(list(&page, &crops)));
    leaf.add(Block::Table(points(&page, &crops)));
    let mut links = vec![
        Link::to(format!("/seed.csv?weeks={weeks}"), page.say("as-csv")),
        Link::to("/spoilage#lots-title", page.say("lots-title")),
    ];
    if Shelf::Store.may_open(visit.actor()?) {
        links.push(Link::to("/store", page.say("store-title")));
    }
    leaf.add(Block::Links(links));
    leaf.text("treated-seed");
    let method = vec![page.say("purchases-method")];
    leaf.add(Block::Folded(page.say("method-title"), method));
    leaf.show()
}

fn list(page: &Page, crops: &[CropNeed]) -> Table {
    let row = |c: &CropNeed| -> Vec<Cell> {
        let store = c.store.as_ref();
        let kg = |of: fn(&StoreNeed) -> Decimal| shown(&store.map(of), 0);
        vec![
            name(page, c).into(),
            shown(&c.need_kg, 0).into(),
            shown(&c.on_farms_kg, 0).into(),
            kg(|s| s.stock_kg).into(),
            kg(|s| s.held_kg).into(),
            kg(|s| s.to_buy_kg).into(),
            shown(&store.map(|s| s.to_buy_bags), 0).into(),
            page.day(&store.and_then(|s| s.lasts_until)).into(),
            page.day(&store.and_then(|s| s.order_by)).into(),
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

fn points(page: &Page, crops: &[CropNeed]) -> Table {
    let mut rows = Vec::new();
    for crop in crops {
        for point in &crop.issue_points {
            rows.push(vec![
                point.area.clone().unwrap_or_default().into(),
                name(page, crop).into(),
                shown(&point.farms, 0).into(),
                shown(&point.to_issue_kg, 0).into(),
                shown(&point.to_issue_bags, 0).into(),
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
    for crop in forecast {
        let store = crop.store.as_ref();
        out.push_str(&line(&[
            crop.crop.cell(),
            String::new(),
            String::new(),
            crop.to_issue_kg.cell(),
            String::new(),
            store.map(|s| s.to_buy_kg).cell(),
            store.map(|s| s.to_buy_bags).cell(),
            store.and_then(|s| s.order_by).cell(),
        ]));
        for point in &crop.issue_points {
            out.push_str(&line(&[
                crop.crop.cell(),
                point.area.cell(),
                point.farms.cell(),
                point.to_issue_kg.cell(),
                point.to_issue_bags.cell(),
                String::new(),
                String::new(),
                String::new(),
            ]));
        }
    }
    Ok(file("seed-purchases.csv", "text/csv; charset=utf-8", out.into_bytes()))
}
