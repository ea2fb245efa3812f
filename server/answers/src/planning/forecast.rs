//! How much seed the plans will take, and what to buy.

use crate::sheet::{Column, Sheet};
use crate::{Decimal, columns};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// Seed of the coming weeks.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SeedForecast {
    /// Today.
    pub from: NaiveDate,
    pub weeks: usize,
    /// Number of the last change counted.
    pub data_version: i64,
    pub method: String,
    /// Seed in one bag.
    pub bag_kg: Decimal,
    /// How often seed shall last until the new seed comes.
    pub service_percent: Decimal,
    /// Crops that are grown or in stock.
    pub crops: Vec<CropNeed>,
    /// Farms that grow, by code.
    pub farms: Vec<FarmNeed>,
}

/// One crop.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CropNeed {
    /// Null for plans whose crop nothing tells.
    pub crop: Option<String>,
    /// What the plans soak.
    pub need_kg: Decimal,
    pub need_kg_by_week: Vec<Decimal>,
    /// Seed on farms that may be used.
    pub on_farms_kg: Decimal,
    /// What must be issued to farms.
    pub to_issue_kg: Decimal,
    pub to_issue_kg_by_week: Vec<Decimal>,
    /// Null for who may not see the store.
    pub store: Option<StoreNeed>,
    pub issue_points: Vec<IssuePoint>,
}

/// The co-operative's store for one crop.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct StoreNeed {
    /// Seed that may be issued.
    pub stock_kg: Decimal,
    pub held_kg: Decimal,
    /// From order to delivery.
    pub lead_time_days: i64,
    /// Kept against the variation of use; null where too few soaks are recorded.
    pub safety_stock_kg: Option<Decimal>,
    /// First day whose issues the store does not cover; null beyond the weeks looked at.
    pub lasts_until: Option<NaiveDate>,
    /// Null where nothing need be ordered within the weeks looked at.
    pub order_by: Option<NaiveDate>,
    /// Missing for all weeks and the safety stock.
    pub to_buy_kg: Decimal,
    pub to_buy_bags: i64,
}

/// An area, where its farms fetch their seed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct IssuePoint {
    pub area_id: Uuid,
    pub area: Option<String>,
    /// Farms that need seed.
    pub farms: i64,
    pub to_issue_kg: Decimal,
    pub to_issue_kg_by_week: Vec<Decimal>,
    pub to_issue_bags: i64,
}

/// One farm and crop.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FarmNeed {
    pub farm_id: Uuid,
    pub farm: String,
    pub area_id: Uuid,
    pub crop: Option<String>,
    /// What its plan soaks in these weeks.
    pub need_kg: Decimal,
    /// Seed on the farm that may be used.
    pub on_farm_kg: Decimal,
    /// First day for whose soak it does not suffice; null beyond the weeks looked at.
    pub lasts_until: Option<NaiveDate>,
    pub to_issue_kg: Decimal,
}

/// The purchase list: a line a crop and issue point, and one for the store.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PurchaseList {
    pub lines: Vec<PurchaseLine>,
}

/// One line of it.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct PurchaseLine {
    pub crop: Option<String>,
    /// The area, or `store`.
    pub issue_point: Option<String>,
    pub farms: Option<i64>,
    pub to_issue_kg: Option<Decimal>,
    pub to_issue_bags: Option<i64>,
    pub stock_kg: Option<Decimal>,
    pub held_kg: Option<Decimal>,
    pub safety_stock_kg: Option<Decimal>,
    pub lasts_until: Option<NaiveDate>,
    pub order_by: Option<NaiveDate>,
    pub to_buy_kg: Option<Decimal>,
    pub to_buy_bags: Option<i64>,
}

impl SeedForecast {
    /// The purchase list.
    #[must_use]
    pub fn purchases(&self) -> PurchaseList {
        let mut lines = Vec::new();
        for crop in &self.crops {
            lines.extend(crop.issue_points.iter().map(|point| PurchaseLine {
                crop: crop.crop.clone(),
                issue_point: point.area.clone(),
                farms: Some(point.farms),
                to_issue_kg: Some(point.to_issue_kg),
                to_issue_bags: Some(point.to_issue_bags),
                ..PurchaseLine::default()
            }));
            lines.extend(crop.store.iter().map(|store| PurchaseLine {
                crop: crop.crop.clone(),
                issue_point: Some("store".to_owned()),
                to_issue_kg: Some(crop.to_issue_kg),
                stock_kg: Some(store.stock_kg),
                held_kg: Some(store.held_kg),
                safety_stock_kg: store.safety_stock_kg,
                lasts_until: store.lasts_until,
                order_by: store.order_by,
                to_buy_kg: Some(store.to_buy_kg),
                to_buy_bags: Some(store.to_buy_bags),
                ..PurchaseLine::default()
            }));
        }
        PurchaseList { lines }
    }
}

impl Sheet for PurchaseList {
    type Row = PurchaseLine;

    fn rows(&self) -> &[PurchaseLine] {
        &self.lines
    }

    fn columns() -> Vec<Column<PurchaseLine>> {
        columns!(PurchaseLine: crop, issue_point, farms, to_issue_kg, to_issue_bags, stock_kg,
            held_kg, safety_stock_kg, lasts_until, order_by, to_buy_kg, to_buy_bags)
    }
}
