//! The co-operative itself and what it sets up before records come in.

use crate::field::{
    FieldError, any_date, choice, code, currency, decimal, past_date, percent, reference, text,
    zone,
};
use crate::kind::{Kind, Scope};
use crate::planning::guide::{GUIDE_NAMES, GuideEntry, GuideName};
use crate::record::record;
use crate::savings::money::format_decimal;
use chrono::NaiveDate;
use uuid::Uuid;

/// Languages that texts for people exist in (BCP 47).
pub const LANGUAGES: &[&str] = &["en", "sw"];
/// Classes of animal; one animal group holds one class.
pub const ANIMAL_CLASSES: &[&str] = &[
    "dairy_cows",
    "other_cattle",
    "goats",
    "sheep",
    "pigs",
    "rabbits",
    "indigenous_chickens",
    "layers",
    "broilers",
];
/// Whether animals of a class are milked.
#[must_use]
pub fn gives_milk(class: &str) -> bool {
    matches!(class, "dairy_cows" | "goats" | "sheep")
}
/// Whether animals of a class lay eggs that are recorded.
#[must_use]
pub fn lays_eggs(class: &str) -> bool {
    matches!(class, "indigenous_chickens" | "layers" | "broilers")
}
/// What farms give that is compared.
pub const ENTERPRISES: &[&str] = &["milk", "eggs"];
/// Grains that are grown as sprouted feed.
pub const CROPS: &[&str] = &["barley", "wheat", "maize", "millet", "oats", "sorghum"];
/// What a checklist question is about.
pub const CHECK_TOPICS: &[&str] = &[
    "seed",
    "water",
    "disinfection",
    "trays",
    "shelves",
    "seed_depth",
    "shed",
    "pests",
    "people",
    "batches",
    "spoiled_trays",
    "feeding",
    "waste_water",
    "records",
];

record! {
    /// A livestock co-operative. All other records belong to one.
    Cooperative {
        one: "cooperative", path: "cooperatives", scope: Scope::Cooperative, code: "name";
        /// Name.
        name: String = code();
        /// Currency of all its money, ISO 4217. It stays.
        currency: String = currency().fixed();
        /// IANA time zone of its days and months. It stays.
        zone: String = zone().fixed();
        /// Language of its letters and reports.
        language: String = choice(LANGUAGES);
        /// First day on which records are expected.
        started_on: NaiveDate = past_date();
        /// Months of the wet season, 1 to 12 with commas between, such as 3,4,5,11; none: spoilage
        /// is not compared with the season.
        wet_months: Option<String> = text(30);
    }
    rules(self, _ctx, errors) {
        if self.wet_months.as_deref().is_some_and(|months| read_months(months).is_none()) {
            let detail = "give months from 1 to 12, each once, with commas between: 3,4,5,11";
            errors.push(FieldError::new("wet_months", "months", detail));
        }
    }
}

/// Months as `wet_months` has them; none where the text is no such list.
#[must_use]
pub fn read_months(text: &str) -> Option<Vec<u32>> {
    let read = |part: &str| part.trim().parse().ok().filter(|month| (1..=12).contains(month));
    let months: Vec<u32> = text.split(',').map(read).collect::<Option<_>>()?;
    let is_once = months.iter().all(|month| months.iter().filter(|m| *m == month).count() == 1);
    is_once.then_some(months)
}

record! {
    /// An area of the co-operative; areas form a tree.
    Area {
        one: "area", path: "areas", scope: Scope::Cooperative, code: "name";
        /// Name, unique in the co-operative.
        name: String = code();
        /// The area this one lies in; none for the top.
        parent_id: Option<Uuid> = reference(Kind::Area);
    }
}

record! {
    /// A dated value of the co-operative's growing guide. Before the first one the default of
    /// common practice holds; see the growing guide's own resource for values in force.
    GrowingGuideValue {
        one: "growing_guide_value", path: "growing-guide-values", scope: Scope::Cooperative,
        date: "valid_from";
        /// Which standard.
        name: String = choice(GUIDE_NAMES);
        /// For this class of animal only; harvest age and animals per tray need it.
        animal_class: Option<String> = choice(ANIMAL_CLASSES);
        /// The value, in the unit of the standard.
        value: i64 = decimal(3, 0, 1_000_000_000_000);
        /// First day on which it holds.
        valid_from: NaiveDate = any_date();
        /// Why it was set.
        note: Option<String> = text(500);
    }
    rules(self, _ctx, errors) {
        let Some(name) = GuideName::parse(&self.name) else { return };
        if name.by_class() != self.animal_class.is_some() {
            let detail = if name.by_class() {
                "name the class of animal this value is for"
            } else {
                "leave this out: the standard is the same for all classes"
            };
            errors.push(FieldError::new("animal_class", "combination", detail));
        }
        let (low, high) = name.range();
        if self.value < low || self.value > high {
            let detail = format!("give {} to {} {}", low / 1000, high / 1000, name.unit());
            let error = FieldError::new("value", "range", detail);
            let [low, high] = [low, high].map(|limit| format_decimal(limit, 3));
            errors.push(error.naming("low", low).naming("high", high));
        }
    }
}

impl GrowingGuideValue {
    /// The entry of the guide that it is; none of a standard that is not known.
    #[must_use]
    pub fn entry(&self) -> Option<GuideEntry> {
        Some(GuideEntry {
            name: GuideName::parse(&self.name)?,
            class: self.animal_class.clone(),
            valid_from: self.valid_from,
            value: self.value,
        })
    }
}

record! {
    /// A question of the visit checklist, with the days on which it is asked.
    ChecklistItem {
        one: "checklist_item", path: "checklist-items", scope: Scope::Cooperative,
        date: "valid_from", code: "code";
        /// Short name.
        code: String = code();
        /// What it is about.
        topic: String = choice(CHECK_TOPICS);
        /// The question, so that yes is good.
        question: String = text(300);
        /// First day on which it is asked.
        valid_from: NaiveDate = any_date();
        /// Last day on which it is asked.
        valid_to: Option<NaiveDate> = any_date();
    }
    rules(self, _ctx, errors) {
        if self.valid_to.is_some_and(|to| to < self.valid_from) {
            errors.push(FieldError::new("valid_to", "order", "give a day from valid_from on"));
        }
    }
}

record! {
    /// A feed that members buy, with what a laboratory or feed table says of it.
    Feed {
        one: "feed", path: "feeds", scope: Scope::Cooperative, code: "name";
        /// Name.
        name: String = code();
        /// Dry matter, per cent of the feed as it is fed.
        dry_matter_percent: Option<i64> = percent();
        /// Crude protein, per cent of dry matter.
        crude_protein_percent: Option<i64> = percent();
        /// Metabolisable energy for ruminants, MJ per kg dry matter.
        energy_mj_per_kg: Option<i64> = decimal(2, 0, 2_500);
        /// Where the values come from.
        source: Option<String> = text(300);
    }
    rules(self, _ctx, errors) {
        if self.dry_matter_percent == Some(0) {
            errors.push(FieldError::new("dry_matter_percent", "range", "give more than 0 %"));
        }
    }
}

record! {
    /// Somebody who sells seed.
    Supplier {
        one: "supplier", path: "suppliers", scope: Scope::Cooperative, code: "name";
        /// Name.
        name: String = code();
        /// Telephone.
        phone: Option<String> = text(20);
        /// Days from order to delivery.
        lead_time_days: Option<i64> = crate::field::int(0, 365);
        /// Remarks.
        note: Option<String> = text(1_000);
    }
}
