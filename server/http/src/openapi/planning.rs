//! Schemas of planning: work lists, plans, calendar addresses.

use super::{list_of, reference};
use serde_json::{Value as Json, json};
use traybook_app::planning::{REASONS, TASKS};
use traybook_domain::kinds::{CROPS, LOSS_CAUSES};

/// All of them.
pub fn schemas() -> Json {
    json!({
        "Work": {
            "type": "object", "required": ["date", "today", "data_version", "farms"],
            "properties": {
                "date": day("The day asked for."), "today": day("Today in the co-operative's zone."),
                "data_version": data_version(),
                "farms": { "type": "array", "items": reference("FarmWork"), "description":
                    "By code; farms without work, warnings or shortage are left out." },
            },
        },
        "FarmWork": farm_work(),
        "WorkLine": work_line(),
        "WorkChanges": {
            "type": "object", "required": ["is_complete", "farms", "without_work", "next"],
            "properties": {
                "is_complete": { "type": "boolean", "description":
                    "These are the lists of all farms; those that the device has of others are stale." },
                "farms": { "type": "array", "items": reference("FarmWork") },
                "without_work": { "type": "array", "items": id("A farm that changed and has no work now, or is withdrawn.") },
                "next": { "type": "string", "description": "Cursor to go on from." },
            },
        },
        "RecordWorkRequest": record_work(),
        "RecordedWork": {
            "type": "object", "required": ["line", "records"],
            "properties": {
                "line": { "type": "string" },
                "records": { "type": "array", "items": {
                    "type": "object", "required": ["kind", "id", "version", "is_new"],
                    "properties": {
                        "kind": { "type": "string", "enum": ["batch", "batch_event", "work_record"] },
                        "id": id("The record."), "version": { "type": "integer" },
                        "is_new": { "type": "boolean", "description": "False where it was there before." },
                    },
                } },
            },
        },
        "FarmPlan": plan(),
        "SeedForecast": forecast(),
        "CalendarLink": calendar_link(false),
        "NewCalendarLink": calendar_link(true),
        "CalendarLinks": list_of("Addresses that were not revoked.", &reference("CalendarLink")),
    })
}

fn id(about: &str) -> Json {
    json!({ "type": "string", "format": "uuid", "description": about })
}

fn maybe(ty: &str, about: &str) -> Json {
    json!({ "type": [ty, "null"], "description": about })
}

fn maybe_id(about: &str) -> Json {
    json!({ "type": ["string", "null"], "format": "uuid", "description": about })
}

fn day(about: &str) -> Json {
    json!({ "type": "string", "format": "date", "description": about })
}

fn maybe_day(about: &str) -> Json {
    json!({ "type": ["string", "null"], "format": "date", "description": about })
}

fn data_version() -> Json {
    json!({ "type": "integer", "description": "Number of the last change counted." })
}

fn number(about: &str) -> Json {
    json!({ "type": "number", "description": about })
}

fn farm_work() -> Json {
    json!({
        "type": "object",
        "required": ["farm_id", "farm", "area_id", "lines", "warnings", "feeding", "seed"],
        "properties": {
            "farm_id": id("Farm."), "farm": { "type": "string" },
            "area_id": id("Its area."), "area": maybe("string", "Its name."),
            "member_name": { "type": "string" },
            "place": maybe("string", "How to find it."),
            "lines": { "type": "array", "items": reference("WorkLine"), "description":
                "Late work first, then by time, then what is done." },
            "warnings": { "type": "array", "items": { "type": "string" }, "description":
                "Held seed lots, seed that runs out." },
            "held_lots": { "type": "array", "items": { "type": "string" }, "description":
                "Numbers of held seed lots that are on the farm or grow there." },
            "feeding": { "type": "array", "description":
                "Groups that go short or have fodder left over on the day.",
                "items": { "type": "object", "properties": {
                    "animal_group_id": id("Animal group."), "animal_group": { "type": "string" },
                    "need_kg": number("Fresh fodder needed."), "short_kg": number("Of it missing."),
                    "surplus_kg": number("Left over."),
                    "reason": { "type": ["string", "null"], "enum": reasons() },
                    "sentence": { "type": "string" },
                } },
            },
            "seed": seed(),
        },
    })
}

fn reasons() -> Vec<Json> {
    REASONS.iter().map(|r| json!(r)).chain([Json::Null]).collect()
}

fn seed() -> Json {
    json!({ "type": "object", "properties": {
        "on_farm_kg": maybe("number", "By the records; null where none tells."),
        "held_kg": number("Of it held back."),
        "days_left": maybe("integer", "Whole days that the rest lasts by the plan; null where it \
            lasts longer than the days looked at, or nothing is planned."),
        "days_looked_at": { "type": "integer" },
    } })
}

fn work_line() -> Json {
    json!({
        "type": "object",
        "required": ["line", "task", "state", "due_at", "sentence", "cautions"],
        "properties": {
            "line": { "type": "string", "description": "Name by which it is recorded as done." },
            "task": { "type": "string", "enum": TASKS },
            "state": { "type": "string", "enum": ["late", "open", "done"] },
            "due_at": { "type": "string", "format": "date-time" },
            "done_at": { "type": ["string", "null"], "format": "date-time" },
            "shed_id": maybe_id("Shed."), "shed": maybe("string", "Its code."),
            "animal_group_id": maybe_id("Animal group."),
            "animal_group": maybe("string", "Its code."),
            "batch_id": maybe_id("Batch."), "batch": maybe("string", "Its code."),
            "trays": maybe("integer", "Trays."),
            "kg": maybe("number", "Dry seed to soak, drain or spread; fresh fodder expected or to feed."),
            "crop": { "type": ["string", "null"] },
            "seed_lot_id": maybe_id("Seed lot."), "seed_lot": maybe("string", "Its number."),
            "feed_on": maybe_day("Day on which it is fed."),
            "harvested_on": maybe_day("Day on which what is to be fed or thrown away was harvested."),
            "watering": maybe("integer", "Which watering of the day."),
            "waterings": maybe("integer", "Waterings of the day."),
            "why": maybe("string", "Why it is late, or on another day than usual."),
            "sentence": { "type": "string" },
            "cautions": { "type": "array", "items": { "type": "string" } },
        },
    })
}

fn record_work() -> Json {
    json!({
        "type": "object", "required": ["line"], "additionalProperties": false,
        "description": "The line, and what differs from it. Which members a line knows depends on \
            its task.",
        "properties": {
            "line": { "type": "string", "description": "As the work list gives it." },
            "at": { "type": "string", "format": "date-time", "description":
                "When it was done; now where it is left out. Needed for lines of earlier days." },
            "kg": number("Dry seed soaked; fresh fodder harvested, fed or discarded."),
            "trays": { "type": "integer", "minimum": 0 },
            "crop": { "type": "string", "enum": CROPS },
            "seed_lot_id": id("Seed lot soaked."),
            "shed_id": id("Shed, for a soak."),
            "animal_group_id": id("Group that was fed."),
            "germinated_percent": number("Seeds that had germinated when spread."),
            "mould_seen": { "type": "boolean" },
            "cause": { "type": "string", "enum": LOSS_CAUSES },
            "reason": { "type": "string", "minLength": 1, "maxLength": 500, "description":
                "Why it was fed although a caution stands." },
            "note": { "type": "string", "minLength": 1, "maxLength": 500 },
        },
    })
}

fn plan() -> Json {
    let rows = json!({ "type": "array", "items": { "type": "object" } });
    json!({
        "type": "object",
        "required": ["farm_id", "farm", "from", "days", "is_started", "groups", "sheds",
            "steady_state", "seed", "notes", "schedule", "caution"],
        "properties": {
            "farm_id": id("Farm."), "farm": { "type": "string" },
            "from": day("Today."), "days": { "type": "integer" },
            "is_started": { "type": "boolean" },
            "soaks_from": maybe_day("First day of soaking."),
            "first_feed_on": maybe_day("First day on which fodder is fed."),
            "data_version": data_version(), "units": { "type": "string" },
            "groups": rows, "sheds": rows, "steady_state": { "type": "object" },
            "seed": seed(),
            "notes": { "type": "array", "items": { "type": "string" }, "description":
                "Who goes short or has too much, and why." },
            "schedule": rows, "caution": { "type": "string" },
        },
    })
}

fn calendar_link(with_secret: bool) -> Json {
    let mut properties = json!({
        "id": id("By which it is revoked."), "farm_id": id("Farm."),
        "made_by": id("Who made it."), "made_at": { "type": "string", "format": "date-time" },
    });
    let mut required = vec!["id", "farm_id", "made_by", "made_at"];
    if let (true, Json::Object(map)) = (with_secret, &mut properties) {
        let about = "Address of the calendar on this server; told once.";
        map.insert("path".to_owned(), json!({ "type": "string", "description": about }));
        required.push("path");
    }
    json!({ "type": "object", "required": required, "properties": properties })
}

fn forecast() -> Json {
    let weeks = json!({ "type": "array", "items": { "type": "number" } });
    json!({
        "type": "object",
        "required": ["from", "weeks", "data_version", "method", "bag_kg", "service_percent", "crops", "farms"],
        "properties": {
            "from": day("Today."), "weeks": { "type": "integer" }, "data_version": data_version(),
            "method": { "type": "string" }, "bag_kg": number("Seed in one bag."),
            "service_percent": number("How often seed shall last until the new seed comes."),
            "crops": { "type": "array", "items": {
                "type": "object",
                "required": ["crop", "need_kg", "to_issue_kg", "store", "issue_points"],
                "properties": {
                    "crop": maybe("string", "Null for plans whose crop nothing tells."),
                    "need_kg": number("What the plans soak."), "need_kg_by_week": weeks,
                    "on_farms_kg": number("Seed on farms that may be used."),
                    "to_issue_kg": number("What must be issued to farms."),
                    "to_issue_kg_by_week": weeks,
                    "store": { "type": ["object", "null"], "description":
                        "The co-operative's store; null for who may not see it.", "properties": {
                        "stock_kg": number("Seed that may be issued."), "held_kg": number("Seed that is held."),
                        "lead_time_days": { "type": "integer" },
                        "safety_stock_kg": maybe("number", "Null where too few soaks are recorded."),
                        "lasts_until": maybe_day("First day whose issues the store does not cover."),
                        "order_by": maybe_day("Day to order by."),
                        "to_buy_kg": number("Missing for all weeks and the safety stock."),
                        "to_buy_bags": { "type": "integer" },
                    } },
                    "issue_points": { "type": "array", "items": { "type": "object", "properties": {
                        "area_id": id("Area."), "area": maybe("string", "Its name."),
                        "farms": { "type": "integer" }, "to_issue_kg": number("What its farms need."),
                        "to_issue_kg_by_week": weeks, "to_issue_bags": { "type": "integer" },
                    } } },
                },
            } },
            "farms": { "type": "array", "items": { "type": "object", "properties": {
                "farm_id": id("Farm."), "farm": { "type": "string" }, "area_id": id("Area."),
                "crop": maybe("string", "Crop."), "need_kg": number("What its plan soaks."),
                "on_farm_kg": number("Seed on the farm that may be used."),
                "lasts_until": maybe_day("First day for whose soak it does not suffice."),
                "to_issue_kg": number("What must be issued."),
            } } },
        },
    })
}
