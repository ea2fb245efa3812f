//! Reads what version 1 froze into the report of today. Its bytes are served as they were; this is
//! for pages and documents.

use super::{Adjustment, FarmLine, Figures, Interval, Money, Note, OutputChange, SavingsReport};
use super::{Spoiling, Status, Total, Wait, What};
use crate::Decimal;
use crate::estimates::AsOf;
use crate::wire::Month;
use serde::Deserialize;
use std::collections::BTreeMap;
use uuid::Uuid;

#[derive(Deserialize)]
struct Report {
    cooperative: String,
    month: Month,
    currency: String,
    is_closed: bool,
    data_version: i64,
    method: String,
    units: String,
    fodder_dry_matter_percent: Decimal,
    fresh_cost_is: String,
    caution: String,
    farms: Vec<Farm>,
    areas: Vec<Sum>,
    total: Option<Sum>,
    adjustments: Vec<Changed>,
    adjustments_total: Option<Decimal>,
}

#[derive(Deserialize)]
struct Farm {
    farm_id: Uuid,
    farm: String,
    member_id: Uuid,
    member_number: String,
    member_name: String,
    area: Option<String>,
    status: Status,
    missing: Vec<String>,
    notes: Vec<Note>,
    animals: Option<Decimal>,
    #[serde(flatten)]
    numbers: Numbers,
    output_change: Option<OutputChange>,
    spoilage_status: Option<Spoiling>,
}

#[derive(Deserialize)]
struct Sum {
    name: String,
    farms_included: i64,
    farms_saving: i64,
    farms_losing: i64,
    farms_left_out: i64,
    left_out_by_status: BTreeMap<Status, i64>,
    #[serde(flatten)]
    numbers: Numbers,
}

#[derive(Deserialize)]
struct Changed {
    month: Month,
    farm_id: Uuid,
    farm: String,
    reported: Option<Decimal>,
    now: Option<Decimal>,
    change: Decimal,
}

#[derive(Deserialize)]
struct Numbers {
    animal_days: Option<i64>,
    baseline_cost: Option<Decimal>,
    feed_cost: Option<Decimal>,
    seed_cost: Option<Decimal>,
    other_cost: Option<Decimal>,
    depreciation: Option<Decimal>,
    saving: Option<Decimal>,
    saving_interval: Option<Interval>,
    saving_percent_of_baseline: Option<Decimal>,
    saving_per_animal_day: Option<Decimal>,
    saving_per_litre: Option<Decimal>,
    saving_per_egg: Option<Decimal>,
    fresh_fodder_fed_kg: Option<Decimal>,
    dry_matter_fed_kg: Option<Decimal>,
    trays_fed_unweighed: Option<i64>,
    fodder_cost_per_kg_dry_matter: Option<Decimal>,
    fodder_cost_per_kg_fresh_misleading: Option<Decimal>,
    trays_started: Option<i64>,
    trays_discarded: Option<i64>,
    trays_discarded_percent: Option<Decimal>,
    milk_litres: Option<Decimal>,
    litres_per_cow_day: Option<Decimal>,
    eggs: Option<i64>,
    hen_day_percent: Option<Decimal>,
}

/// The whole report.
pub(super) fn read(json: &str) -> Result<SavingsReport, String> {
    let r: Report = serde_json::from_str(json).map_err(|e| e.to_string())?;
    Ok(SavingsReport {
        cooperative: r.cooperative,
        month: r.month,
        currency: r.currency,
        is_closed: r.is_closed,
        is_running: false,
        as_of: AsOf { revision: None, made_at: None },
        data_version: r.data_version,
        method_version: 1,
        method: r.method,
        units: r.units,
        fodder_dry_matter_percent: r.fodder_dry_matter_percent,
        fresh_cost_is: r.fresh_cost_is,
        caution: r.caution,
        farms: r.farms.into_iter().map(FarmLine::from).collect(),
        areas: r.areas.into_iter().map(Total::from).collect(),
        total: r.total.map(Total::from),
        rations_overstated: Vec::new(),
        adjustments: r.adjustments.into_iter().map(Adjustment::from).collect(),
        settled: None,
        adjustments_total: r.adjustments_total,
        earlier_method: Vec::new(),
    })
}

/// One farm's line.
pub(super) fn read_farm(json: &str) -> Result<FarmLine, String> {
    serde_json::from_str::<Farm>(json).map(FarmLine::from).map_err(|e| e.to_string())
}

impl From<Farm> for FarmLine {
    fn from(f: Farm) -> Self {
        Self {
            farm_id: f.farm_id,
            farm: f.farm,
            member_id: f.member_id,
            member_number: f.member_number,
            member_name: f.member_name,
            area: f.area,
            status: f.status,
            waits: f.missing.iter().map(|text| wait(text)).collect(),
            notes: f.notes,
            animals: f.animals,
            figures: f.numbers.into(),
            enterprises: Vec::new(),
            since_start: None,
            output_change: f.output_change,
            spoilage_status: f.spoilage_status,
        }
    }
}

/// What version 1 said was missing.
fn wait(text: &str) -> Wait {
    let price = text.strip_prefix("price of ").and_then(|t| t.strip_suffix(" within three months"));
    if let Some(feed) = price {
        return Wait { feed: Some(feed.to_owned()), ..Wait::of(What::Purchase) };
    }
    Wait::of(match text {
        "head count of the animals" => What::HeadCount,
        "price of the seed that was soaked" => What::SeedPrice,
        "ration before fodder of an animal group" => What::Baseline,
        _ => What::Purchase,
    })
}

impl From<Sum> for Total {
    fn from(t: Sum) -> Self {
        Self {
            name: t.name,
            farms_included: t.farms_included,
            farms_saving: t.farms_saving,
            farms_losing: t.farms_losing,
            farms_unclear: t.farms_included - t.farms_saving - t.farms_losing,
            farms_left_out: t.farms_left_out,
            left_out_by_status: t.left_out_by_status,
            figures: t.numbers.into(),
            since_start: None,
        }
    }
}

impl From<Changed> for Adjustment {
    fn from(a: Changed) -> Self {
        Self {
            month: a.month,
            farm_id: a.farm_id,
            farm: a.farm,
            enterprise: None,
            reported: a.reported,
            now: a.now,
            change: a.change,
        }
    }
}

impl From<Numbers> for Figures {
    fn from(n: Numbers) -> Self {
        // Version 1 took all feed bought in the month for eaten.
        let feed_saving = n.baseline_cost.zip(n.feed_cost).map(|(b, f)| {
            let digits = b.digits.max(f.digits);
            Decimal::new(b.units_of(digits) - f.units_of(digits), digits)
        });
        Self {
            money: Money {
                animal_days: n.animal_days,
                baseline_cost: n.baseline_cost,
                eaten_cost: n.feed_cost,
                feed_saving: feed_saving.filter(|_| n.saving.is_some()),
                seed_cost: n.seed_cost,
                other_cost: n.other_cost,
                depreciation: n.depreciation,
                saving: n.saving,
                saving_interval: n.saving_interval,
                ..Money::default()
            },
            bought_cost: n.feed_cost,
            saving_percent_of_baseline: n.saving_percent_of_baseline,
            saving_per_animal_day: n.saving_per_animal_day,
            saving_per_litre: n.saving_per_litre,
            saving_per_egg: n.saving_per_egg,
            fresh_fodder_fed_kg: n.fresh_fodder_fed_kg,
            dry_matter_fed_kg: n.dry_matter_fed_kg,
            trays_fed_unweighed: n.trays_fed_unweighed,
            fodder_cost_per_kg_dry_matter: n.fodder_cost_per_kg_dry_matter,
            fodder_cost_per_kg_fresh_misleading: n.fodder_cost_per_kg_fresh_misleading,
            trays_started: n.trays_started,
            trays_discarded: n.trays_discarded,
            trays_discarded_percent: n.trays_discarded_percent,
            milk_litres: n.milk_litres,
            litres_per_cow_day: n.litres_per_cow_day,
            eggs: n.eggs,
            hen_day_percent: n.hen_day_percent,
        }
    }
}
