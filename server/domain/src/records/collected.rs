//! Milk and eggs as a person writes them down: what a second entry for the same milking does, and
//! when a figure is so far from the usual that it is asked back.

use crate::effects::{DayRecord, counting};
use crate::kinds::{EggRecord, MilkRecord};
use chrono::NaiveDate;

/// How a figure stands to what is written of the day already.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Again {
    /// It comes on top.
    Add,
    /// It stands in place of what is written.
    Instead,
}

impl Again {
    /// Its name in forms.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::Add => "add",
            Self::Instead => "instead",
        }
    }

    /// The answer of a name.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        [Self::Add, Self::Instead].into_iter().find(|a| a.text() == text)
    }
}

/// What counts of a day for the milking that an entry is about: the same milking, the whole day
/// where one milking is entered, the single milkings where the whole day is entered.
#[must_use]
pub fn standing<'a>(day: &'a [DayRecord], session: &str) -> Vec<&'a DayRecord> {
    let counts = counting(day);
    let is_about = |r: &&DayRecord| {
        let same = r.session == session || r.session == "day" || session == "day";
        same && counts.contains(&r.id)
    };
    day.iter().filter(is_about).collect()
}

impl MilkRecord {
    /// This milk on top of another record's: the more animals of the two, the newer price.
    #[must_use]
    pub fn on_top_of(self, other: &Self) -> Self {
        let is_same = self.session == other.session;
        Self {
            session: if is_same { self.session } else { "day".to_owned() },
            litres: self.litres + other.litres,
            animals_in_milk: self.animals_in_milk.max(other.animals_in_milk),
            mean_days_in_milk: self.mean_days_in_milk.or(other.mean_days_in_milk),
            sold_litres: sum(self.sold_litres, other.sold_litres),
            home_litres: sum(self.home_litres, other.home_litres),
            calf_litres: sum(self.calf_litres, other.calf_litres),
            price_per_litre: self.price_per_litre.or(other.price_per_litre),
            note: self.note.or_else(|| other.note.clone()),
            ..self
        }
    }
}

impl EggRecord {
    /// These eggs on top of another collection's: the more hens of the two, the newer price.
    #[must_use]
    pub fn on_top_of(self, other: &Self) -> Self {
        Self {
            eggs: self.eggs + other.eggs,
            hens_present: self.hens_present.max(other.hens_present),
            cracked: sum(self.cracked, other.cracked),
            flock_age_weeks: self.flock_age_weeks.or(other.flock_age_weeks),
            sold_eggs: sum(self.sold_eggs, other.sold_eggs),
            price_per_egg: self.price_per_egg.or(other.price_per_egg),
            note: self.note.or_else(|| other.note.clone()),
            ..self
        }
    }
}

fn sum(a: Option<i64>, b: Option<i64>) -> Option<i64> {
    match (a, b) {
        (None, None) => None,
        _ => Some(a.unwrap_or(0) + b.unwrap_or(0)),
    }
}

/// Days back in which the usual is looked for: a farm may write one week of a month.
pub const USUAL_DAYS: u64 = 45;
/// Days of a group that make its usual: about a week.
const WEEK: usize = 7;
/// Days that are needed for a usual.
const DAYS_MIN: usize = 3;
/// A figure so many times the usual, or less than one of so many parts, is asked back. Cows that
/// fall ill or dry off rarely lose half from one day to the next. *Common practice, no source.*
const FAR: f64 = 2.5;
/// Standard deviations of a count of eggs within which a figure is usual: a few hens lay unevenly.
const EGG_DEVIATIONS: f64 = 3.0;
/// Litres an animal and milking that are asked back where nothing is known of the group. *Common
/// practice, no source.*
pub const MUCH_MILK: [(&str, i64); 3] = [("dairy_cows", 40), ("goats", 8), ("sheep", 5)];

/// A figure that is asked back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FarOff {
    /// What the group gives on a usual day or at this milking, with as many animals; none where
    /// nothing is known of it. ml or eggs.
    pub usual: Option<f64>,
}

/// Whether a figure is far from what the group usually gives. `days` are its earlier days.
#[must_use]
pub fn far_off(
    entry: &DayRecord,
    is_milk: bool,
    animal_class: &str,
    days: &[(NaiveDate, Vec<DayRecord>)],
) -> Option<FarOff> {
    let animals = entry.animals.max(1) as f64;
    let amount = entry.amount as f64;
    let mut newest: Vec<&(NaiveDate, Vec<DayRecord>)> = days.iter().collect();
    newest.sort_by_key(|(day, _)| std::cmp::Reverse(*day));
    let each = newest.iter().filter_map(|(_, records)| {
        let ids = counting(records);
        let own = |r: &&DayRecord| r.session == entry.session && ids.contains(&r.id);
        let found = records.iter().find(own)?;
        Some(found.amount as f64 / found.animals.max(1) as f64)
    });
    let mut each: Vec<f64> = each.take(WEEK).collect();
    if each.len() < DAYS_MIN {
        let most = MUCH_MILK.iter().find(|(class, _)| is_milk && *class == animal_class);
        let is_much = most.is_some_and(|(_, litres)| amount > (litres * 1_000) as f64 * animals);
        return is_much.then_some(FarOff { usual: None });
    }
    each.sort_by(f64::total_cmp);
    let usual = each.get(each.len() / 2).copied().unwrap_or(0.0) * animals;
    let is_near = (usual / FAR..=usual * FAR).contains(&amount);
    let by_chance = !is_milk && (amount - usual).abs() <= EGG_DEVIATIONS * usual.max(1.0).sqrt();
    (!is_near && !by_chance).then_some(FarOff { usual: Some(usual) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use uuid::Uuid;

    fn record(id: u128, session: &str, entered: i64, amount: i64, animals: i64) -> DayRecord {
        let (session, id) = (session.to_owned(), Uuid::from_u128(id));
        DayRecord { id, entered, session, amount, animals, cracked: 0, stage: None }
    }

    fn ids(records: &[&DayRecord]) -> Vec<u128> {
        records.iter().map(|r| r.id.as_u128()).collect()
    }

    #[test]
    fn an_entry_meets_what_counts_for_its_milking() {
        let day = [record(1, "morning", 1, 6_000, 1), record(2, "morning", 2, 6_500, 1)];
        assert_eq!(ids(&standing(&day, "morning")), [2], "the last entered");
        assert!(standing(&day, "evening").is_empty());
        assert_eq!(ids(&standing(&day, "day")), [2]);
        let whole = [record(1, "morning", 1, 6_000, 1), record(3, "day", 2, 11_000, 1)];
        assert_eq!(ids(&standing(&whole, "evening")), [3], "the whole day stands before it");
        assert_eq!(ids(&standing(&whole, "morning")), [3]);
    }

    fn week(session: &str, each_ml: i64, animals: i64) -> Vec<(NaiveDate, Vec<DayRecord>)> {
        let first = NaiveDate::from_ymd_opt(2026, 3, 1).expect("a day");
        let day = |n: u64| {
            let of = record(u128::from(n) + 10, session, 0, each_ml * animals, animals);
            (first + chrono::Days::new(n), vec![of])
        };
        (0..7).map(day).collect()
    }

    #[test]
    fn a_missing_decimal_point_is_asked_back() {
        let usual = week("day", 7_500, 1);
        let asks =
            |ml, animals| far_off(&record(1, "day", 1, ml, animals), true, "dairy_cows", &usual);
        assert_eq!(asks(75_000, 1), Some(FarOff { usual: Some(7_500.0) }));
        assert_eq!(asks(750, 1), Some(FarOff { usual: Some(7_500.0) }));
        for (ml, animals) in [(7_500, 1), (9_000, 1), (4_000, 1), (15_000, 2)] {
            assert_eq!(asks(ml, animals), None, "{ml}");
        }
        // One milking is held against milkings, and of these nothing is known.
        assert_eq!(far_off(&record(1, "morning", 1, 5_000, 1), true, "dairy_cows", &usual), None);
    }

    #[test]
    fn eggs_written_for_trays_are_asked_back_and_uneven_days_are_not() {
        let flock = week("day", 1, 30);
        let asks = |eggs| far_off(&record(1, "day", 1, eggs, 30), false, "layers", &flock);
        assert!(asks(1).is_some(), "a tray of 30 written as 1");
        assert!(asks(20).is_none() && asks(44).is_none());
        let three = week("day", 1, 3);
        let few = |eggs| far_off(&record(1, "day", 1, eggs, 3), false, "layers", &three);
        assert!(few(0).is_none() && few(1).is_none(), "three hens may lay nothing");
    }

    #[test]
    fn of_a_new_group_only_what_no_animal_gives_is_asked_back() {
        let new = |ml, class| far_off(&record(1, "day", 1, ml, 1), true, class, &[]);
        assert_eq!(new(75_000, "dairy_cows"), Some(FarOff { usual: None }));
        assert_eq!(new(30_000, "dairy_cows"), None);
        assert_eq!(new(12_000, "goats"), Some(FarOff { usual: None }));
    }
}
