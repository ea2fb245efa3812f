//! Milk and egg records.

use super::animals::AnimalGroup;
use crate::field::{FieldError, choice, int, litres, money, past_date, reference, text};
use crate::kind::{Kind, Scope};
use crate::limits::HEAD_MAX;
use crate::record::record;
use chrono::NaiveDate;
use uuid::Uuid;

/// Which milking a record holds; `day` is the whole day.
pub const MILK_SESSIONS: &[&str] = &["day", "morning", "midday", "evening"];
/// Most milk one animal gives in a day, ml; more is a slip (the world's best cows stay below).
pub const MILLILITRES_PER_ANIMAL_MAX: i64 = 100_000;

record! {
    /// Milk of one group on one day or at one milking.
    MilkRecord {
        one: "milk_record", path: "milk-records", scope: Scope::Farm, date: "date";
        /// The group.
        animal_group_id: Uuid = reference(Kind::AnimalGroup).fixed();
        /// Its farm.
        farm_id: Uuid = reference(Kind::Farm).derived();
        /// Day of milking.
        date: NaiveDate = past_date();
        /// The milking, or the whole day.
        session: String = choice(MILK_SESSIONS);
        /// Milk, litres.
        litres: i64 = litres();
        /// Animals milked.
        animals_in_milk: i64 = int(1, HEAD_MAX);
        /// Mean days since calving of the animals milked.
        mean_days_in_milk: Option<i64> = int(0, 1_500);
        /// Sold, litres.
        sold_litres: Option<i64> = litres();
        /// Used at home, litres.
        home_litres: Option<i64> = litres();
        /// Given to calves, litres.
        calf_litres: Option<i64> = litres();
        /// Price of one litre sold.
        price_per_litre: Option<i64> = money();
        /// Remarks.
        note: Option<String> = text(500);
    }
    rules(self, ctx, errors) {
        if ctx.parent::<AnimalGroup>("animal_group_id").is_some_and(|g| !g.gives_milk()) {
            let detail = "choose a group of dairy cows, goats or sheep";
            errors.push(FieldError::new("animal_group_id", "impossible", detail));
        }
        if self.litres > self.animals_in_milk.saturating_mul(MILLILITRES_PER_ANIMAL_MAX) {
            let detail = "more than 100 litres an animal and day; check litres and animals";
            errors.push(FieldError::new("litres", "impossible", detail));
        }
        let parts = [self.sold_litres, self.home_litres, self.calf_litres];
        if parts.iter().flatten().sum::<i64>() > self.litres {
            let detail = "sold, home and calf use together are more than the litres";
            errors.push(FieldError::new("sold_litres", "impossible", detail));
        }
    }
}

record! {
    /// Eggs of one flock on one day.
    EggRecord {
        one: "egg_record", path: "egg-records", scope: Scope::Farm, date: "date";
        /// The flock.
        animal_group_id: Uuid = reference(Kind::AnimalGroup).fixed();
        /// Its farm.
        farm_id: Uuid = reference(Kind::Farm).derived();
        /// Day of collection.
        date: NaiveDate = past_date();
        /// Hens alive that day.
        hens_present: i64 = int(1, HEAD_MAX);
        /// Eggs collected, the cracked ones included.
        eggs: i64 = int(0, 2 * HEAD_MAX);
        /// Cracked eggs and leakers.
        cracked: Option<i64> = int(0, 2 * HEAD_MAX);
        /// Age of the flock, weeks.
        flock_age_weeks: Option<i64> = int(0, 300);
        /// Sold.
        sold_eggs: Option<i64> = int(0, 2 * HEAD_MAX);
        /// Price of one egg sold.
        price_per_egg: Option<i64> = money();
        /// Remarks.
        note: Option<String> = text(500);
    }
    rules(self, ctx, errors) {
        if ctx.parent::<AnimalGroup>("animal_group_id").is_some_and(|g| !g.lays_eggs()) {
            let detail = "choose a flock of chickens";
            errors.push(FieldError::new("animal_group_id", "impossible", detail));
        }
        if self.eggs * 2 > self.hens_present * 3 {
            let detail = "more than 1.5 eggs a hen and day; check eggs and hens";
            errors.push(FieldError::new("eggs", "impossible", detail));
        }
        for (field, part) in [("cracked", self.cracked), ("sold_eggs", self.sold_eggs)] {
            if part.is_some_and(|part| part > self.eggs) {
                errors.push(FieldError::new(field, "impossible", "give at most the eggs collected"));
            }
        }
    }
}
