//! Farms whose animals eat by plain arithmetic, for tests of the savings report.

use crate::world::{World, object};
use chrono::NaiveDate;
use serde_json::{Value as Json, json};
use traybook_app::Actor;
use traybook_domain::Kind;
use traybook_domain::time::plus_days;
use uuid::Uuid;

/// A farm with one group of four cows.
#[derive(Clone, Copy, Debug)]
pub struct Place {
    /// The farm.
    pub farm: Uuid,
    /// Its cows.
    pub cows: Uuid,
}

/// Day of the first purchase: 24 lots of ten days before the start of the farms of the tests.
pub const FIRST: &str = "2024-10-13";
/// Day on which the farms of the tests start.
pub const START: &str = "2025-06-10";

/// A day.
pub fn day(text: &str) -> NaiveDate {
    text.parse().expect("a day")
}

/// Every so many days, from one to another that is not among them.
pub fn days(from: &str, every: u64, until: &str) -> Vec<NaiveDate> {
    let (mut on, until) = (day(from), day(until));
    let mut all = Vec::new();
    while on < until {
        all.push(on);
        on = plus_days(on, every);
    }
    all
}

/// Makes records as the machine itself, in one change; their ids.
pub fn add_all(w: &World, rows: Vec<(Kind, Json)>) -> Vec<Uuid> {
    let machine = Actor::machine(w.a.coop.clone());
    let rows: Vec<(Kind, Uuid, Json)> =
        rows.into_iter().map(|(k, b)| (k, w.app.new_id().expect("id"), b)).collect();
    let ids = rows.iter().map(|r| r.1).collect();
    let written = w.wait(w.app.change(&machine, move |txn| {
        for (kind, id, body) in &rows {
            txn.create(*kind, *id, &object(body.clone()))?;
        }
        Ok(())
    }));
    written.expect("written");
    ids
}

/// So many animals from a day on.
pub fn counted(group: Uuid, on: &str, head: i64) -> (Kind, Json) {
    let body = json!({ "animal_group_id": group, "date": on, "reason": "counted", "head": head });
    (Kind::HeadCount, body)
}

/// A ration before fodder.
pub fn ration(group: Uuid, feed: Uuid, kg: f64) -> (Kind, Json) {
    let body = json!({ "animal_group_id": group, "feed_id": feed, "kg_per_animal_day": kg,
        "recorded_on": "2025-06-01" });
    (Kind::BaselineRation, body)
}

/// A purchase.
pub fn bought(farm: Uuid, feed: Uuid, on: NaiveDate, kg: i64, cost: i64) -> (Kind, Json) {
    let body = json!({ "farm_id": farm, "feed_id": feed, "date": on, "kg": kg, "cost": cost });
    (Kind::FeedPurchase, body)
}

/// Purchases of the same kg on days, 850 a kg.
pub fn meal(w: &World, place: Place, on: &[NaiveDate], kg: i64) -> Vec<(Kind, Json)> {
    let feed = w.a.id("feed");
    on.iter().map(|day| bought(place.farm, feed, *day, kg, kg * 850)).collect()
}

/// The farm F1 of the tests: four cows, and no hens.
pub fn first_place(w: &World) -> Place {
    let place = Place { farm: w.a.id("farm"), cows: w.a.id("cows") };
    let rows = vec![counted(place.cows, "2024-10-01", 4), counted(w.a.id("hens"), "2024-10-01", 0)];
    add_all(w, rows);
    place
}

/// Another farm of a member of the tests, with four cows since October 2024.
pub fn place_of(w: &World, member: &str, code: &str, start: Option<&str>) -> Place {
    let area = if member == "member" { "sub_area" } else { "other_area" };
    let body = json!({ "code": code, "member_id": w.a.id(member), "area_id": w.a.id(area),
        "fodder_started_on": start });
    let farm = w.make(&w.a, Kind::Farm, body);
    let group = json!({ "code": format!("{code}-cows"), "farm_id": farm,
        "animal_class": "dairy_cows" });
    let cows = w.make(&w.a, Kind::AnimalGroup, group);
    add_all(w, vec![counted(cows, "2024-10-01", 4)]);
    Place { farm, cows }
}

/// The same of the member who signs in.
pub fn place(w: &World, code: &str) -> Place {
    place_of(w, "member", code, Some(START))
}

/// Dairy meal every ten days: 140 kg, which is 3.5 kg a cow and day, before the start; 80 kg, which
/// is 2, from the start on. Days that are named are left out.
pub fn regular_but(w: &World, place: Place, without: &[&str]) -> Vec<(Kind, Json)> {
    let is_there = |on: &NaiveDate| without.iter().all(|w| day(w) != *on);
    let before: Vec<NaiveDate> = days(FIRST, 10, START).into_iter().filter(is_there).collect();
    let after: Vec<NaiveDate> =
        days(START, 10, "2026-03-20").into_iter().filter(is_there).collect();
    let mut rows = meal(w, place, &before, 140);
    rows.extend(meal(w, place, &after, 80));
    rows
}

/// The same without a gap.
pub fn regular(w: &World, place: Place) {
    let rows = regular_but(w, place, &[]);
    add_all(w, rows);
}
