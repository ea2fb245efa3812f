//! Flags: farms whose trays keep spoiling.

use super::batches::LOSS_CAUSES;
use crate::field::{FieldError, choice, past_date, reference, text};
use crate::kind::{Kind, Scope};
use crate::record::record;
use chrono::NaiveDate;
use uuid::Uuid;

/// What the evidence of a flag points at.
pub const FLAG_EVIDENCE: &[&str] = &["farm", "farm_or_lot", "seed_lot", "not_known"];

record! {
    /// A farm whose trays keep spoiling. The server raises a flag when the farm's chart does, and
    /// clears it when the chart has come back; officers note when they saw it and what they found.
    Flag {
        one: "flag", path: "flags", scope: Scope::Farm, date: "raised_on";
        /// The farm.
        farm_id: Uuid = reference(Kind::Farm).fixed();
        /// The batch that raised it.
        batch_id: Option<Uuid> = reference(Kind::Batch).fixed();
        /// Day on which it was raised.
        raised_on: NaiveDate = past_date().fixed();
        /// What the evidence points at.
        points_at: String = choice(FLAG_EVIDENCE);
        /// The evidence in words.
        evidence: String = text(500);
        /// Day on which an officer saw it.
        seen_on: Option<NaiveDate> = past_date();
        /// The cause that was found.
        cause: Option<String> = choice(LOSS_CAUSES);
        /// What was found and done.
        finding: Option<String> = text(2_000);
        /// Day on which it was cleared; none while it stands.
        cleared_on: Option<NaiveDate> = past_date();
    }
    rules(self, _ctx, errors) {
        if self.cause.is_some() && self.seen_on.is_none() {
            let detail = "give the day on which the farm was seen";
            errors.push(FieldError::new("seen_on", "required", detail));
        }
        for (field, day) in [("seen_on", self.seen_on), ("cleared_on", self.cleared_on)] {
            if day.is_some_and(|day| day < self.raised_on) {
                errors.push(FieldError::new(field, "order", "give a day from raised_on on"));
            }
        }
    }
}
