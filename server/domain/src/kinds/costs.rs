//! What a farm spends.

use crate::field::{FieldError, choice, int, kg, money, past_date, reference, text};
use crate::kind::{Kind, Scope};
use crate::record::record;
use chrono::NaiveDate;
use uuid::Uuid;

/// Costs besides feed and seed.
pub const COST_CATEGORIES: &[&str] =
    &["labour", "water", "power", "repairs", "disinfectant", "disposal", "interest", "other"];

record! {
    /// Feed that a farm bought. A month in which none was bought is recorded as 0 kg: no record
    /// means not known.
    FeedPurchase {
        one: "feed_purchase", path: "feed-purchases", scope: Scope::Farm, date: "date";
        /// The farm.
        farm_id: Uuid = reference(Kind::Farm).fixed();
        /// The feed.
        feed_id: Uuid = reference(Kind::Feed);
        /// Day.
        date: NaiveDate = past_date();
        /// Feed, kg; 0 when none was bought this month.
        kg: i64 = kg();
        /// Paid for all of it.
        cost: i64 = money();
        /// The animals that it is for; asked for where animals of two classes could eat it and no
        /// ration names it.
        animal_group_id: Option<Uuid> = reference(Kind::AnimalGroup);
        /// Remarks.
        note: Option<String> = text(500);
    }
    rules(self, _ctx, errors) {
        if self.kg == 0 && self.cost > 0 {
            errors.push(FieldError::new("kg", "required", "give the kg that this was paid for"));
        }
    }
}

record! {
    /// Feed that was left in a farm's store in the morning, before feeding. What was bought before
    /// that day lasted until then, but for what is left.
    FeedCount {
        one: "feed_count", path: "feed-counts", scope: Scope::Farm, date: "date";
        /// The farm.
        farm_id: Uuid = reference(Kind::Farm).fixed();
        /// The feed.
        feed_id: Uuid = reference(Kind::Feed);
        /// Day.
        date: NaiveDate = past_date();
        /// Left in store that morning, kg; 0 when nothing was left.
        kg: i64 = kg();
        /// The animals that eat it; asked for where animals of two classes could eat it and no
        /// ration names it.
        animal_group_id: Option<Uuid> = reference(Kind::AnimalGroup);
        /// Remarks.
        note: Option<String> = text(500);
    }
}

record! {
    /// Money or family labour spent on growing fodder, besides seed and feed.
    OtherCost {
        one: "other_cost", path: "other-costs", scope: Scope::Farm, date: "date";
        /// The farm.
        farm_id: Uuid = reference(Kind::Farm).fixed();
        /// Day.
        date: NaiveDate = past_date();
        /// What for.
        category: String = choice(COST_CATEGORIES);
        /// Amount; family hours at what they could have earned.
        amount: i64 = money();
        /// Remarks.
        note: Option<String> = text(500);
    }
}

record! {
    /// A shed, shelves, trays or a tank: its cost is spread evenly over its life (straight line).
    Asset {
        one: "asset", path: "assets", scope: Scope::Farm, date: "in_service_on";
        /// The farm.
        farm_id: Uuid = reference(Kind::Farm).fixed();
        /// What it is.
        name: String = text(120);
        /// First day of use.
        in_service_on: NaiveDate = past_date();
        /// What it cost.
        cost: i64 = money();
        /// What it will still be worth at the end.
        salvage_value: Option<i64> = money();
        /// Months it will be used.
        life_months: i64 = int(1, 600);
        /// Day on which it was given up.
        disposed_on: Option<NaiveDate> = past_date();
    }
    rules(self, _ctx, errors) {
        if self.salvage_value.is_some_and(|salvage| salvage > self.cost) {
            errors.push(FieldError::new("salvage_value", "range", "give at most the cost"));
        }
        if self.disposed_on.is_some_and(|day| day < self.in_service_on) {
            errors.push(FieldError::new("disposed_on", "order", "give a day from in_service_on on"));
        }
    }
}
