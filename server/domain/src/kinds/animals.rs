//! Animal groups, their dated head counts and their ration before fodder.

use super::setup::{ANIMAL_CLASSES, gives_milk, lays_eggs};
use crate::field::{FieldError, choice, code, decimal, int, past_date, reference, text};
use crate::kind::{Kind, Scope};
use crate::limits::HEAD_MAX;
use crate::record::record;
use chrono::NaiveDate;
use uuid::Uuid;

/// Why a group's head count changed. `counted` states the whole group, the others so many animals.
pub const HEAD_REASONS: &[&str] =
    &["counted", "born", "bought", "moved_in", "sold", "slaughtered", "died", "moved_out"];

record! {
    /// A herd or flock kept together, of one class of animal.
    AnimalGroup {
        one: "animal_group", path: "animal-groups", scope: Scope::Farm, code: "code";
        /// Short name, unique in the co-operative.
        code: String = code();
        /// The farm that keeps it.
        farm_id: Uuid = reference(Kind::Farm).fixed();
        /// Class of animal. It stays.
        animal_class: String = choice(ANIMAL_CLASSES).fixed();
        /// Remarks.
        note: Option<String> = text(1_000);
    }
}

impl AnimalGroup {
    /// Whether animals of this class are milked.
    #[must_use]
    pub fn gives_milk(&self) -> bool {
        gives_milk(&self.animal_class)
    }

    /// Whether animals of this class lay eggs that are recorded.
    #[must_use]
    pub fn lays_eggs(&self) -> bool {
        lays_eggs(&self.animal_class)
    }
}

record! {
    /// A dated change of a group's head count.
    HeadCount {
        one: "head_count", path: "head-counts", scope: Scope::Farm, date: "date";
        /// The group.
        animal_group_id: Uuid = reference(Kind::AnimalGroup).fixed();
        /// Its farm.
        farm_id: Uuid = reference(Kind::Farm).derived();
        /// Day of the change.
        date: NaiveDate = past_date();
        /// Why: `counted` states the whole group, the others how many animals came or went.
        reason: String = choice(HEAD_REASONS);
        /// Animals.
        head: i64 = int(0, HEAD_MAX);
        /// Remarks.
        note: Option<String> = text(500);
    }
    rules(self, _ctx, errors) {
        if self.reason != "counted" && self.head == 0 {
            errors.push(FieldError::new("head", "range", "give at least 1 animal"));
        }
    }
}

record! {
    /// One feed of a group's ration before fodder, as recorded at enrolment.
    BaselineRation {
        one: "baseline_ration", path: "baseline-rations", scope: Scope::Farm, date: "recorded_on";
        /// The group.
        animal_group_id: Uuid = reference(Kind::AnimalGroup).fixed();
        /// Its farm.
        farm_id: Uuid = reference(Kind::Farm).derived();
        /// The feed.
        feed_id: Uuid = reference(Kind::Feed);
        /// Feed per animal and day before fodder, kg.
        kg_per_animal_day: i64 = decimal(3, 0, 200_000);
        /// Day of recording.
        recorded_on: NaiveDate = past_date();
    }
}
