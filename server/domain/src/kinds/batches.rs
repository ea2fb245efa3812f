//! Batches and their events.

use super::seed::{SeedLot, check_sorghum};
use super::setup::CROPS;
use crate::field::{FieldError, choice, code, flag, instant, int, kg, percent, reference, text};
use crate::kind::{Kind, Scope};
use crate::limits::TRAYS_MAX;
use crate::record::record;
use crate::value::Instant;
use uuid::Uuid;

/// What happens to a batch.
pub const BATCH_EVENTS: &[&str] =
    &["soaked", "spread", "watered", "harvested", "fed_out", "discarded"];
/// Why trays were lost.
pub const LOSS_CAUSES: &[&str] = &[
    "mould",
    "rot_at_drain_end",
    "poor_germination",
    "dried_out",
    "pests",
    "left_too_long",
    "other",
];
/// What is said wherever a batch with mould is shown.
pub const MOULD_CAUTION: &str =
    "do not feed: mouldy feed can poison animals; ask a veterinary officer";

record! {
    /// Seed soaked together in one shed for one feeding day.
    Batch {
        one: "batch", path: "batches", scope: Scope::Farm, code: "code";
        /// Short name, unique in the co-operative.
        code: Option<String> = code();
        /// The shed.
        shed_id: Uuid = reference(Kind::Shed).fixed();
        /// The farm of the shed.
        farm_id: Uuid = reference(Kind::Farm).derived();
        /// The animal group it is grown for.
        animal_group_id: Option<Uuid> = reference(Kind::AnimalGroup);
        /// The seed lot.
        seed_lot_id: Option<Uuid> = reference(Kind::SeedLot);
        /// Crop.
        crop: String = choice(CROPS);
        /// Age at harvest, counted from the soak, days; the growing guide's where none is given.
        harvest_age_days: Option<i64> = int(2, 14);
        /// Remarks.
        note: Option<String> = text(1_000);
    }
    rules(self, ctx, errors) {
        check_sorghum(&self.crop, ctx, errors);
        let lot = ctx.parent::<SeedLot>("seed_lot_id");
        if lot.is_some_and(|lot| lot.crop != self.crop) {
            let detail = "the seed lot is of another crop; correct one of them";
            errors.push(FieldError::new("crop", "combination", detail));
        }
    }
}

record! {
    /// Something that happened to a batch.
    BatchEvent {
        one: "batch_event", path: "batch-events", scope: Scope::Farm, date: "at";
        /// The batch.
        batch_id: Uuid = reference(Kind::Batch).fixed();
        /// Its farm.
        farm_id: Uuid = reference(Kind::Farm).derived();
        /// What happened.
        event: String = choice(BATCH_EVENTS).fixed();
        /// When.
        at: Instant = instant();
        /// Trays concerned; left out beside kg where what is discarded was harvested before.
        trays: Option<i64> = int(0, TRAYS_MAX);
        /// Dry seed soaked, or fresh fodder harvested, fed out or discarded, kg.
        kg: Option<i64> = kg();
        /// Why trays were discarded.
        cause: Option<String> = choice(LOSS_CAUSES);
        /// Whether mould was seen.
        mould_seen: Option<bool> = flag();
        /// Trays that had mould, where they were counted.
        mould_trays: Option<i64> = int(0, TRAYS_MAX);
        /// Seeds that had germinated when they were spread, of those counted, per cent.
        germinated_percent: Option<i64> = percent();
        /// The group that was fed.
        animal_group_id: Option<Uuid> = reference(Kind::AnimalGroup);
        /// Why it was done although a caution stands.
        reason: Option<String> = text(500);
        /// Remarks.
        note: Option<String> = text(1_000);
    }
    rules(self, _ctx, errors) {
        let mut need = |field: &str, missing: bool, detail: &str| {
            if missing {
                errors.push(FieldError::new(field, "required", detail));
            }
        };
        let some = |v: Option<i64>| v.is_some_and(|v| v > 0);
        match self.event.as_str() {
            "soaked" => need("kg", !some(self.kg), "give the dry seed soaked, kg"),
            "spread" => need("trays", !some(self.trays), "give the trays spread"),
            "harvested" => need(
                "trays",
                !some(self.trays) && !some(self.kg),
                "give the trays or the kg harvested",
            ),
            "fed_out" => need(
                "kg",
                !some(self.trays) && !some(self.kg),
                "give the fresh fodder fed, kg, or the trays where it was not weighed",
            ),
            "discarded" => {
                need(
                    "trays",
                    !some(self.trays) && !some(self.kg),
                    "give the trays discarded, or the kg where it was harvested before",
                );
                need("cause", self.cause.is_none(), "give the cause; take other if unsure");
            }
            _ => {}
        }
        if self.cause.is_some() && self.event != "discarded" {
            let detail = "leave this out: only discarded trays have a cause";
            errors.push(FieldError::new("cause", "combination", detail));
        }
        if self.mould_trays.is_some_and(|trays| trays > 0) && self.mould_seen == Some(false) {
            let detail = "leave this out, or say that mould was seen";
            errors.push(FieldError::new("mould_trays", "combination", detail));
        }
        if self.germinated_percent.is_some() && self.event != "spread" {
            let detail = "leave this out: germination is counted when the seed is spread";
            errors.push(FieldError::new("germinated_percent", "combination", detail));
        }
        if self.event == "fed_out" && self.saw_mould() && self.reason.is_none() {
            let detail = format!("{MOULD_CAUTION}; if it was fed all the same, say why");
            errors.push(FieldError::new("reason", "mould", detail));
        }
    }
}

impl BatchEvent {
    /// Whether this event says that there was mould.
    #[must_use]
    pub fn saw_mould(&self) -> bool {
        self.mould_seen == Some(true)
            || self.cause.as_deref() == Some("mould")
            || self.mould_trays.is_some_and(|trays| trays > 0)
    }
}
