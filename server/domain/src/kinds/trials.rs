//! Trials: who starts when, by lot; and months with and without fodder on one farm.

use super::setup::ENTERPRISES;
use crate::field::{FieldError, any_date, choice, int, past_date, reference, text};
use crate::kind::{Kind, Scope};
use crate::limits::HEAD_MAX;
use crate::record::record;
use chrono::{Datelike as _, NaiveDate};
use uuid::Uuid;

/// Months over which farms may start.
pub const START_MONTHS_MAX: usize = 36;

record! {
    /// The plan of a trial: how many farms start in each month, and the seed of the random order. It
    /// is stored with the whole list before the first start, so that anybody can draw it again.
    StartPlan {
        one: "start_plan", path: "start-plans", scope: Scope::Cooperative, date: "drawn_on";
        /// What it is called.
        name: String = text(80).fixed();
        /// What shall be told: milk or eggs.
        enterprise: String = choice(ENTERPRISES).fixed();
        /// First day of the month in which the first farms start.
        first_month: NaiveDate = any_date().fixed();
        /// Farms to start in each month, one number a month; the others wait.
        starts: String = text(200).fixed();
        /// Seed of the random numbers (SplitMix64), decimal.
        seed: String = text(20).fixed();
        /// Day on which it was drawn.
        drawn_on: NaiveDate = past_date().fixed();
        /// Remarks.
        note: Option<String> = text(500);
    }
    rules(self, _ctx, errors) {
        if self.first_month.day() != 1 {
            errors.push(FieldError::new("first_month", "type", "give the first day of a month"));
        }
        if starts(&self.starts).is_none() {
            let detail = "give the farms to start in each month, such as 5 5 4; at most 36 months";
            errors.push(FieldError::new("starts", "type", detail));
        }
        if self.seed.parse::<u64>().is_err() {
            errors.push(FieldError::new("seed", "type", "give a whole number below 2 to the 64"));
        }
    }
}

record! {
    /// A farm's place in the plan of a trial, with what the draw took for it.
    StartPlace {
        one: "start_place", path: "start-places", scope: Scope::Farm;
        /// The plan.
        start_plan_id: Uuid = reference(Kind::StartPlan).fixed();
        /// The farm.
        farm_id: Uuid = reference(Kind::Farm).fixed();
        /// Its place among the farms of the plan, by farm code, from 0.
        place: i64 = int(0, 100_000).fixed();
        /// Its area on the day of the draw.
        area_id: Uuid = reference(Kind::Area).fixed();
        /// Animals that give milk or eggs on that day.
        head: i64 = int(0, HEAD_MAX).fixed();
        /// Month of the plan in which it starts, from 0; none where it waits.
        month: Option<i64> = int(0, 35).fixed();
        /// Remarks.
        note: Option<String> = text(500);
    }
}

record! {
    /// Months with and without fodder on a farm that agreed, in pairs whose order was drawn.
    OnOffPlan {
        one: "on_off_plan", path: "on-off-plans", scope: Scope::Farm, date: "first_month";
        /// The farm.
        farm_id: Uuid = reference(Kind::Farm).fixed();
        /// What shall be told: milk or eggs.
        enterprise: String = choice(ENTERPRISES).fixed();
        /// First day of the first month.
        first_month: NaiveDate = any_date().fixed();
        /// Blocks of months, with and without fodder; an even number.
        blocks: i64 = int(2, 24).fixed();
        /// Months a block.
        block_months: i64 = int(1, 6).fixed();
        /// First months of each block that are not used.
        unused_months: i64 = int(0, 5).fixed();
        /// Seed of the random numbers (SplitMix64), decimal.
        seed: String = text(20).fixed();
        /// Day on which it was drawn.
        drawn_on: NaiveDate = past_date().fixed();
        /// Remarks.
        note: Option<String> = text(500);
    }
    rules(self, _ctx, errors) {
        if self.first_month.day() != 1 {
            errors.push(FieldError::new("first_month", "type", "give the first day of a month"));
        }
        if self.blocks % 2 == 1 {
            errors.push(FieldError::new("blocks", "range", "give an even number of blocks"));
        }
        if self.unused_months >= self.block_months {
            let detail = "give fewer months than a block has";
            errors.push(FieldError::new("unused_months", "range", detail));
        }
        if self.seed.parse::<u64>().is_err() {
            errors.push(FieldError::new("seed", "type", "give a whole number below 2 to the 64"));
        }
    }
}

/// Farms to start in each month: numbers with spaces or commas between them.
#[must_use]
pub fn starts(text: &str) -> Option<Vec<usize>> {
    let parts = text.split([',', ' ']).map(str::trim).filter(|part| !part.is_empty());
    let numbers: Option<Vec<usize>> = parts.map(|part| part.parse().ok()).collect();
    let is_some = |n: &Vec<usize>| n.iter().any(|n| *n > 0) && n.len() <= START_MONTHS_MAX;
    numbers.filter(is_some)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn starts_are_numbers_by_month() {
        assert_eq!(starts("5, 5 4"), Some(vec![5, 5, 4]));
        assert_eq!(starts("0,3"), Some(vec![0, 3]));
        for bad in ["", "0", "five", "5;5", "-1", "5.5"] {
            assert_eq!(starts(bad), None, "{bad}");
        }
        assert_eq!(starts(&"1 ".repeat(37)), None);
    }
}
