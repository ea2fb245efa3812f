//! What the planner is told of a farm, and work that is no event of one batch.

use super::setup::CROPS;
use crate::field::{FieldError, any_date, choice, flag, instant, int, past_date, reference, text};
use crate::kind::{Kind, Scope};
use crate::limits::{HEAD_MAX, TRAYS_MAX, WATERINGS_MAX};
use crate::record::record;
use crate::value::Instant;
use chrono::NaiveDate;
use uuid::Uuid;

/// Days of the week.
pub const WEEKDAYS: &[&str] =
    &["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"];
/// How a day's fodder is put on whole trays: each with a scaled seed load, so that nothing is left
/// over, or each full, with a surplus.
pub const TRAY_LOADS: &[&str] = &["scaled", "full"];
/// Work that is no event of a single batch.
pub const WORK_TASKS: &[&str] = &["drained", "watered", "cleaned"];

record! {
    /// How a group's fodder is grown from a day on. Without one it grows in the farm's first shed,
    /// from the crop of its last batch, at the growing guide's harvest age.
    FodderPlan {
        one: "fodder_plan", path: "fodder-plans", scope: Scope::Farm, date: "valid_from";
        /// The group.
        animal_group_id: Uuid = reference(Kind::AnimalGroup).fixed();
        /// Its farm.
        farm_id: Uuid = reference(Kind::Farm).derived();
        /// First day on which it holds, for what is soaked from then on.
        valid_from: NaiveDate = any_date();
        /// The shed.
        shed_id: Option<Uuid> = reference(Kind::Shed);
        /// Crop.
        crop: Option<String> = choice(CROPS);
        /// Age at harvest, counted from the soak, days.
        harvest_age_days: Option<i64> = int(2, 14);
        /// Seed on each tray: scaled to the day's need, or full; the growing guide's where none is
        /// given.
        tray_load: Option<String> = choice(TRAY_LOADS);
        /// Whether fodder is grown for this group at all; yes where none is given.
        is_grown: Option<bool> = flag();
        /// Remarks.
        note: Option<String> = text(500);
    }
    rules(self, ctx, errors) {
        if let Some(crop) = &self.crop {
            super::seed::check_sorghum(crop, ctx, errors);
        }
    }
}

record! {
    /// A head count that is expected from a day on, for planning. It holds until a head count of
    /// the group is recorded for that day or later.
    PlannedHead {
        one: "planned_head", path: "planned-heads", scope: Scope::Farm, date: "date";
        /// The group.
        animal_group_id: Uuid = reference(Kind::AnimalGroup).fixed();
        /// Its farm.
        farm_id: Uuid = reference(Kind::Farm).derived();
        /// First day.
        date: NaiveDate = any_date();
        /// Animals expected from that day on.
        head: i64 = int(0, HEAD_MAX);
        /// Remarks.
        note: Option<String> = text(500);
    }
}

record! {
    /// A day of the week, or one day, on which a farm soaks no seed (market, worship). What stands
    /// is watered, harvested and fed on that day as on any other.
    RestDay {
        one: "rest_day", path: "rest-days", scope: Scope::Farm;
        /// The farm.
        farm_id: Uuid = reference(Kind::Farm).fixed();
        /// Every such day of the week.
        weekday: Option<String> = choice(WEEKDAYS);
        /// This day only.
        day: Option<NaiveDate> = any_date();
        /// Remarks.
        note: Option<String> = text(500);
    }
    rules(self, _ctx, errors) {
        if self.weekday.is_some() == self.day.is_some() {
            let detail = "give either a weekday or one day";
            errors.push(FieldError::new("weekday", "combination", detail));
        }
    }
}

record! {
    /// Days on which a farm feeds no fodder: nothing is soaked for them, and after the last one
    /// feeding goes on as before.
    GrowingPause {
        one: "growing_pause", path: "growing-pauses", scope: Scope::Farm, date: "first_day";
        /// The farm.
        farm_id: Uuid = reference(Kind::Farm).fixed();
        /// First day without fodder.
        first_day: NaiveDate = any_date();
        /// Last day without fodder; until further notice where none is given.
        last_day: Option<NaiveDate> = any_date();
        /// Why.
        note: Option<String> = text(500);
    }
    rules(self, _ctx, errors) {
        if self.last_day.is_some_and(|last| last < self.first_day) {
            errors.push(FieldError::new("last_day", "order", "give a day from first_day on"));
        }
    }
}

record! {
    /// Work done that is no event of a single batch: a soak drained, a shed's trays watered, empty
    /// trays cleaned.
    WorkRecord {
        one: "work_record", path: "work-records", scope: Scope::Farm, date: "at";
        /// The farm.
        farm_id: Uuid = reference(Kind::Farm).fixed();
        /// The shed.
        shed_id: Option<Uuid> = reference(Kind::Shed);
        /// The batch that was drained.
        batch_id: Option<Uuid> = reference(Kind::Batch);
        /// What was done.
        task: String = choice(WORK_TASKS).fixed();
        /// When.
        at: Instant = instant();
        /// Which watering of the day, 1 for the first.
        watering: Option<i64> = int(1, WATERINGS_MAX);
        /// Trays concerned.
        trays: Option<i64> = int(0, TRAYS_MAX);
        /// Remarks.
        note: Option<String> = text(500);
    }
    rules(self, _ctx, errors) {
        let mut need = |field: &str, missing: bool, detail: &str| {
            if missing {
                errors.push(FieldError::new(field, "required", detail));
            }
        };
        match self.task.as_str() {
            "drained" => need("batch_id", self.batch_id.is_none(), "give the batch drained"),
            "watered" => need("shed_id", self.shed_id.is_none(), "give the shed watered"),
            _ => need("shed_id", self.shed_id.is_none(), "give the shed cleaned"),
        }
        if self.watering.is_some() && self.task != "watered" {
            let detail = "leave this out: only watering is counted through the day";
            errors.push(FieldError::new("watering", "combination", detail));
        }
    }
}

/// Rules of the review list: what contradicts itself across records, or looks unlikely.
pub const REVIEW_RULES: &[&str] = &[
    "store_stock_below_zero",
    "farm_stock_below_zero",
    "more_trays_out_than_spread",
    "more_fed_than_harvested",
    "yield_impossible",
    "yield_unlikely",
    "events_out_of_order",
    "fed_over_age",
    "fed_with_mould",
    "held_lot_soaked",
    "shed_over_full",
    "silent_farm",
    "repeated_values",
    "rounded_values",
    "output_jump",
    "head_jump",
    "feed_price",
    "feed_kg",
    "feed_gap",
    "feed_stock",
    "ration_not_bought",
    "guide_dry_matter",
    "thrown_without_weight",
    "price_outlier",
    "amount_outlier",
    "ration_too_much",
    "ration_cost",
    "unit_slip",
    "level_shift",
    "herd_implied",
    "check_level",
    "texts_undone",
    "text_against_visit",
];

record! {
    /// A finding of the review list that somebody looked at and accepts, with the reason. When the
    /// figures behind it change, it stands on the list again.
    ReviewAcceptance {
        one: "review_acceptance", path: "review-acceptances", scope: Scope::Farm,
        date: "accepted_on";
        /// The farm; none for what concerns the co-operative's store.
        farm_id: Option<Uuid> = reference(Kind::Farm).fixed();
        /// The rule.
        rule: String = choice(REVIEW_RULES).fixed();
        /// The finding, as the review list names it.
        finding: String = text(120).fixed();
        /// The figures behind it, as the review list gives them.
        evidence: String = text(120).fixed();
        /// Day of acceptance.
        accepted_on: NaiveDate = past_date();
        /// Why it may stand.
        reason: String = text(500);
    }
}
