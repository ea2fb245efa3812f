//! Farms and their sheds.

use crate::field::{FieldError, any_date, choice, code, decimal, int, kg, reference, text};
use crate::kind::{Kind, Scope};
use crate::limits::TRAYS_MAX;
use crate::record::record;
use chrono::NaiveDate;
use uuid::Uuid;

/// Where a farm's water comes from.
pub const WATER_SOURCES: &[&str] =
    &["piped", "borehole", "shallow_well", "rainwater", "river", "vendor", "other"];

record! {
    /// A member's farm.
    Farm {
        one: "farm", path: "farms", scope: Scope::Farm, date: "fodder_started_on", code: "code";
        /// Short name, unique in the co-operative.
        code: String = code();
        /// The member whose farm it is.
        member_id: Uuid = reference(Kind::Member);
        /// The area it lies in.
        area_id: Uuid = reference(Kind::Area);
        /// How to find it.
        place: Option<String> = text(200);
        /// Latitude, degrees north (WGS 84).
        latitude: Option<i64> = decimal(5, -9_000_000, 9_000_000);
        /// Longitude, degrees east (WGS 84).
        longitude: Option<i64> = decimal(5, -18_000_000, 18_000_000);
        /// Where its water comes from.
        water_source: Option<String> = choice(WATER_SOURCES);
        /// Day of the first soak, from which output is compared. A change needs a reason.
        fodder_started_on: Option<NaiveDate> = any_date();
    }
    rules(self, _ctx, errors) {
        if self.latitude.is_some() != self.longitude.is_some() {
            let field = if self.latitude.is_some() { "longitude" } else { "latitude" };
            errors.push(FieldError::new(field, "combination", "give both or neither"));
        }
    }
}

record! {
    /// A shade shed with sloped shelves of trays.
    Shed {
        one: "shed", path: "sheds", scope: Scope::Farm, code: "code";
        /// Short name, unique in the co-operative.
        code: String = code();
        /// The farm it stands on.
        farm_id: Uuid = reference(Kind::Farm).fixed();
        /// Places for trays on its shelves.
        tray_places: i64 = int(1, TRAYS_MAX);
        /// Dry seed on one full tray, kg; the growing guide's value where none is given.
        tray_load_kg: Option<i64> = kg();
        /// Remarks.
        note: Option<String> = text(1_000);
    }
    rules(self, _ctx, errors) {
        if self.tray_load_kg.is_some_and(|g| !(50..=20_000).contains(&g)) {
            errors.push(FieldError::new("tray_load_kg", "range", "give 0.05 to 20 kg a tray"));
        }
    }
}
