//! Records of every kind that the rules accept.

use crate::world::Fixture;
use serde_json::{Value as Json, json};
use std::collections::HashMap;
use traybook_domain::Kind;
use uuid::Uuid;

/// What a co-operative of the tests begins with; `@name` stands for the id of an earlier record.
pub fn setup(coop: &str) -> Vec<(&'static str, Kind, Json)> {
    let person = |code: &str, role: &str| {
        json!({
            "code": code, "name": format!("{code} of {coop}"), "language": "en", "role": role,
            "email": format!("{code}.{coop}@coop.example"), "active": true,
        })
    };
    let mut member_person = person("member", "member");
    member_person["member_id"] = json!("@member");
    let member = |number: &str, area: &str| {
        json!({
            "number": number, "name": "Asha Mfano", "area_id": area, "sex": "female",
            "birth_year": 1984, "language": "sw", "consent": true, "joined_on": "2024-02-01",
        })
    };
    let farm = |code: &str, member: &str, area: &str| {
        json!({
            "code": code, "member_id": member, "area_id": area,
            "fodder_started_on": "2025-06-10",
        })
    };
    let group = |code: &str, farm: &str, class: &str| json!({ "code": code, "farm_id": farm, "animal_class": class });
    vec![
        ("area", Kind::Area, json!({ "name": "North" })),
        ("sub_area", Kind::Area, json!({ "name": "North hill", "parent_id": "@area" })),
        ("other_area", Kind::Area, json!({ "name": "South" })),
        (
            "item",
            Kind::ChecklistItem,
            json!({
                "code": "trays-clean", "topic": "trays", "question": "Are empty trays clean and dry?",
                "valid_from": "2024-01-01",
            }),
        ),
        ("feed", Kind::Feed, json!({ "name": "Dairy meal", "dry_matter_percent": 90 })),
        ("bran", Kind::Feed, json!({ "name": "Maize bran", "dry_matter_percent": 88 })),
        ("supplier", Kind::Supplier, json!({ "name": "Seed store" })),
        ("member", Kind::Member, member("M1", "@sub_area")),
        ("other_member", Kind::Member, member("M2", "@other_area")),
        ("operator", Kind::Person, person("operator", "operator")),
        ("manager", Kind::Person, person("manager", "manager")),
        ("officer", Kind::Person, person("officer", "officer")),
        ("member_person", Kind::Person, member_person),
        ("programme_reader", Kind::Person, person("programme_reader", "programme_reader")),
        (
            "officer_area",
            Kind::OfficerArea,
            json!({
                "person_id": "@officer", "area_id": "@area",
            }),
        ),
        ("farm", Kind::Farm, farm("F1", "@member", "@sub_area")),
        ("other_farm", Kind::Farm, farm("F2", "@other_member", "@other_area")),
        ("shed", Kind::Shed, json!({ "code": "F1-S1", "farm_id": "@farm", "tray_places": 40 })),
        (
            "other_shed",
            Kind::Shed,
            json!({
                "code": "F2-S1", "farm_id": "@other_farm", "tray_places": 40,
            }),
        ),
        ("cows", Kind::AnimalGroup, group("F1-cows", "@farm", "dairy_cows")),
        ("hens", Kind::AnimalGroup, group("F1-hens", "@farm", "layers")),
        ("other_cows", Kind::AnimalGroup, group("F2-cows", "@other_farm", "dairy_cows")),
        (
            "lot",
            Kind::SeedLot,
            json!({
                "code": "L1", "crop": "barley", "supplier_id": "@supplier",
            }),
        ),
        ("other_lot", Kind::SeedLot, json!({ "code": "L-other", "crop": "barley" })),
        (
            "batch",
            Kind::Batch,
            json!({
                "code": "B1", "shed_id": "@shed", "animal_group_id": "@cows", "seed_lot_id": "@lot",
                "crop": "barley",
            }),
        ),
        (
            "event",
            Kind::BatchEvent,
            json!({
                "batch_id": "@batch", "event": "soaked", "at": "2026-03-10T05:00:00Z", "kg": 4,
            }),
        ),
        (
            "visit",
            Kind::Visit,
            json!({
                "farm_id": "@farm", "officer_id": "@officer", "started_at": "2026-03-11T07:00:00Z",
            }),
        ),
        (
            "training",
            Kind::Training,
            json!({
                "code": "T1", "topic": "Clean trays", "date": "2026-02-03",
            }),
        ),
        (
            "start_plan",
            Kind::StartPlan,
            json!({
                "name": "Pilot", "enterprise": "milk", "first_month": "2026-04-01", "starts": "1",
                "seed": "7", "drawn_on": "2026-02-03",
            }),
        ),
    ]
}

/// Puts ids in for `@name`.
pub fn resolve(mut body: Json, ids: &HashMap<&'static str, Uuid>) -> Json {
    if let Json::Object(map) = &mut body {
        for value in map.values_mut() {
            if let Some(name) = value.as_str().and_then(|t| t.strip_prefix('@')) {
                let id = ids.get(name).unwrap_or_else(|| panic!("no fixture {name}"));
                *value = json!(id);
            }
        }
    }
    body
}

/// A new record of a kind, and a correction of it that the rules accept.
pub fn sample(kind: Kind, f: &Fixture) -> (Json, Json) {
    let (new, patch) = match kind {
        Kind::Cooperative => (
            json!({ "name": "Third", "currency": "KES", "zone": "Africa/Nairobi",
                    "language": "sw", "started_on": "2025-01-01" }),
            json!({ "name": "Third again" }),
        ),
        Kind::Area => {
            (json!({ "name": "East", "parent_id": "@area" }), json!({ "name": "Far east" }))
        }
        Kind::GrowingGuideValue => (
            json!({ "name": "harvest_age_days", "animal_class": "pigs", "value": 5,
                    "valid_from": "2026-01-01" }),
            json!({ "value": 7 }),
        ),
        Kind::ChecklistItem => (
            json!({ "code": "water-clean", "topic": "water", "question": "Is the tank covered?",
                    "valid_from": "2025-01-01" }),
            json!({ "valid_to": "2026-12-31" }),
        ),
        Kind::Feed => (json!({ "name": "Napier grass" }), json!({ "dry_matter_percent": 20.5 })),
        Kind::Supplier => (json!({ "name": "Another store" }), json!({ "lead_time_days": 4 })),
        Kind::Member => (
            json!({ "number": "M9", "name": "Juma Mfano", "area_id": "@area", "sex": "male",
                    "language": "sw", "consent": false, "joined_on": "2025-02-01" }),
            json!({ "phone": "+255 700 000 001" }),
        ),
        Kind::Person => (
            json!({ "code": "new", "name": "New", "email": "New.Person@coop.example",
                    "language": "en", "role": "officer", "active": true }),
            json!({ "active": false }),
        ),
        Kind::OfficerArea => {
            (json!({ "person_id": "@officer", "area_id": "@other_area" }), json!({}))
        }
        Kind::Farm => (
            json!({ "code": "F9", "member_id": "@member", "area_id": "@area",
                    "latitude": -6.12345, "longitude": 35.7 }),
            json!({ "water_source": "borehole" }),
        ),
        Kind::Shed => (
            json!({ "code": "F1-S9", "farm_id": "@farm", "tray_places": 12 }),
            json!({ "tray_load_kg": 1.25 }),
        ),
        Kind::AnimalGroup => (
            json!({ "code": "F1-goats", "farm_id": "@farm", "animal_class": "goats" }),
            json!({ "note": "new pen" }),
        ),
        Kind::HeadCount => (
            json!({ "animal_group_id": "@cows", "date": "2026-03-01", "reason": "counted", "head": 4 }),
            json!({ "head": 5 }),
        ),
        Kind::BaselineRation => (
            json!({ "animal_group_id": "@cows", "feed_id": "@feed", "kg_per_animal_day": 3.5,
                    "recorded_on": "2025-06-01" }),
            json!({ "kg_per_animal_day": 4 }),
        ),
        Kind::SeedLot => (json!({ "code": "L9", "crop": "wheat" }), json!({ "note": "dry" })),
        Kind::SeedPurchase => (
            json!({ "seed_lot_id": "@lot", "date": "2026-01-05", "kg": 500, "price": 450000,
                    "transport": 20000, "feed_grade": true, "untreated": true,
                    "germination_percent": 92.5 }),
            json!({ "kg": 510 }),
        ),
        Kind::SeedIssue => (
            json!({ "seed_lot_id": "@lot", "farm_id": "@farm", "date": "2026-01-07", "kg": 50,
                    "price": 52000, "payment": "credit" }),
            json!({ "payment": "paid" }),
        ),
        Kind::SeedAdjustment => (
            json!({ "seed_lot_id": "@lot", "date": "2026-02-01", "change_kg": -2.5,
                    "reason": "stock_count" }),
            json!({ "change_kg": -3 }),
        ),
        Kind::Batch => (
            json!({ "shed_id": "@shed", "animal_group_id": "@cows", "seed_lot_id": "@lot",
                    "crop": "barley" }),
            json!({ "harvest_age_days": 7 }),
        ),
        Kind::BatchEvent => (
            json!({ "batch_id": "@batch", "event": "spread", "at": "2026-03-12T06:00:00Z",
                    "trays": 2 }),
            json!({ "trays": 3 }),
        ),
        Kind::MilkRecord => (
            json!({ "animal_group_id": "@cows", "date": "2026-03-02", "session": "day",
                    "litres": 31.25, "animals_in_milk": 4, "price_per_litre": 900 }),
            json!({ "litres": 32 }),
        ),
        Kind::EggRecord => (
            json!({ "animal_group_id": "@hens", "date": "2026-03-02", "hens_present": 100,
                    "eggs": 81, "cracked": 2 }),
            json!({ "eggs": 82 }),
        ),
        Kind::FeedPurchase => (
            json!({ "farm_id": "@farm", "feed_id": "@feed", "date": "2026-02-10", "kg": 140,
                    "cost": 119000, "animal_group_id": "@cows" }),
            json!({ "cost": 120000 }),
        ),
        Kind::FeedCount => (
            json!({ "farm_id": "@farm", "feed_id": "@feed", "date": "2026-03-02", "kg": 12.5,
                    "animal_group_id": "@cows" }),
            json!({ "kg": 0 }),
        ),
        Kind::OtherCost => (
            json!({ "farm_id": "@farm", "date": "2026-02-11", "category": "labour", "amount": 30000 }),
            json!({ "amount": 31000 }),
        ),
        Kind::Asset => (
            json!({ "farm_id": "@farm", "name": "Shed", "in_service_on": "2025-06-01",
                    "cost": 1200000, "life_months": 60 }),
            json!({ "salvage_value": 60000 }),
        ),
        Kind::Visit => (
            json!({ "farm_id": "@farm", "officer_id": "@officer",
                    "started_at": "2026-03-05T07:00:00Z" }),
            json!({ "advice": "Dry the trays in the sun." }),
        ),
        Kind::VisitPlan => (
            json!({ "farm_id": "@farm", "planned_on": "2026-04-02" }),
            json!({ "note": "bring trays" }),
        ),
        Kind::VisitCheck => (
            json!({ "visit_id": "@visit", "checklist_item_id": "@item", "answer": "no" }),
            json!({ "answer": "yes" }),
        ),
        Kind::FollowUp => (
            json!({ "farm_id": "@farm", "visit_id": "@visit", "action": "Open the drain holes",
                    "due_on": "2026-04-01" }),
            json!({ "outcome": "done", "ended_on": "2026-03-18" }),
        ),
        Kind::Reading => (
            json!({ "farm_id": "@farm", "shed_id": "@shed", "at": "2026-03-12T06:00:00Z",
                    "temperature_c": 27, "humidity_percent": 85 }),
            json!({ "humidity_percent": 75 }),
        ),
        Kind::Training => (
            json!({ "code": "T9", "topic": "Seed test", "date": "2026-03-03",
                    "area_id": "@area" }),
            json!({ "place": "Market hall" }),
        ),
        Kind::Attendance => {
            (json!({ "training_id": "@training", "member_id": "@member" }), json!({}))
        }
        Kind::Flag => (
            json!({ "farm_id": "@farm", "raised_on": "2026-03-10", "points_at": "not_known",
                    "evidence": "seen by hand" }),
            json!({ "seen_on": "2026-03-12", "cause": "mould" }),
        ),
        Kind::FodderPlan => (
            json!({ "animal_group_id": "@cows", "valid_from": "2026-04-01", "shed_id": "@shed",
                    "crop": "maize", "tray_load": "full" }),
            json!({ "harvest_age_days": 7 }),
        ),
        Kind::PlannedHead => (
            json!({ "animal_group_id": "@cows", "date": "2026-04-01", "head": 6 }),
            json!({ "head": 7 }),
        ),
        Kind::StartPlan => (
            json!({ "name": "First year", "enterprise": "milk", "first_month": "2026-05-01",
                    "starts": "1", "seed": "7", "drawn_on": "2026-03-10" }),
            json!({ "note": "agreed by the board" }),
        ),
        Kind::StartPlace => (
            json!({ "start_plan_id": "@start_plan", "farm_id": "@farm", "place": 0,
                    "area_id": "@sub_area", "head": 3, "month": 0 }),
            json!({ "note": "told by telephone" }),
        ),
        Kind::OnOffPlan => (
            json!({ "farm_id": "@farm", "enterprise": "milk", "first_month": "2026-05-01",
                    "blocks": 4, "block_months": 2, "unused_months": 1, "seed": "7",
                    "drawn_on": "2026-03-10" }),
            json!({ "note": "the member agreed" }),
        ),
        Kind::RestDay => {
            (json!({ "farm_id": "@farm", "weekday": "sunday" }), json!({ "note": "church" }))
        }
        Kind::GrowingPause => (
            json!({ "farm_id": "@farm", "first_day": "2026-05-01" }),
            json!({ "last_day": "2026-05-20" }),
        ),
        Kind::WorkRecord => (
            json!({ "farm_id": "@farm", "shed_id": "@shed", "task": "watered",
                    "at": "2026-03-12T06:00:00Z", "watering": 1, "trays": 6 }),
            json!({ "trays": 5 }),
        ),
        Kind::LotHold => (
            json!({ "seed_lot_id": "@other_lot", "held_from": "2026-03-12", "reason": "musty" }),
            json!({ "released_on": "2026-03-15", "finding": "only the outer bag was wet" }),
        ),
        Kind::SeedPayment => (
            json!({ "farm_id": "@farm", "date": "2026-02-01", "amount": 20000,
                    "paid_by": "milk_check_off" }),
            json!({ "amount": 21000 }),
        ),
        Kind::Deduction => (
            json!({ "farm_id": "@farm", "date": "2026-02-01", "amount": 5000,
                    "reason": "transport of milk" }),
            json!({ "amount": 6000 }),
        ),
        Kind::ReviewAcceptance => (
            json!({ "farm_id": "@farm", "rule": "silent_farm", "finding": "silent_farm:F1",
                    "evidence": "2026-03-01", "accepted_on": "2026-03-10", "reason": "moved away" }),
            json!({ "reason": "moved away until June" }),
        ),
        Kind::CorrectionRequest => (
            json!({ "farm_id": "@farm", "about": "milk", "asked_on": "2026-03-10",
                    "wish": "On 8 March it was 14 litres, not 41." }),
            json!({ "answer": "Put right.", "answered_on": "2026-03-11" }),
        ),
        Kind::Photo => (
            json!({ "farm_id": "@farm", "visit_id": "@visit", "taken_at": "2026-03-11T07:10:00Z",
                    "keep_location": false }),
            json!({ "caption": "Drain end" }),
        ),
    };
    (resolve(new, &f.ids), patch)
}
