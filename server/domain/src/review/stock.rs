//! Seed stock that falls below zero.

use super::{Finding, RECORDS_MAX, json_kg, kg};
use crate::kind::Kind;
use chrono::NaiveDate;
use serde_json::json;
use std::collections::BTreeMap;
use uuid::Uuid;

/// A movement of seed into or out of a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Movement {
    /// Farm; none for the store.
    pub farm: Option<Uuid>,
    pub lot: Uuid,
    pub day: NaiveDate,
    /// Grams in, or with a minus out.
    pub grams: i64,
    /// The record behind it.
    pub record: (Kind, Uuid),
}

/// Places and lots whose stock was below zero at the end of a day.
///
/// What moved on one day is taken together, so that seed handed out in the morning and entered
/// after the day's soak is no finding. `opening` is the stock before the first day of the
/// movements; one that is below zero already counts from that day. No amount is too small: stock is
/// weighed out of bags, so a farm that soaks a little more than it was given each time shows here,
/// and a count (seed adjustment) puts it right.
///
/// # Shape
/// One finding a place and lot; `opening` by place and lot; `lot_code` names a lot.
#[must_use]
pub fn below_zero(
    opening: &BTreeMap<(Option<Uuid>, Uuid), i64>,
    movements: &[Movement],
    first_day: NaiveDate,
    lot_code: &dyn Fn(Uuid) -> String,
) -> Vec<Finding> {
    type Days<'a> = BTreeMap<NaiveDate, Vec<&'a Movement>>;
    let mut places: BTreeMap<(Option<Uuid>, Uuid), Days<'_>> = BTreeMap::new();
    for place in opening.iter().filter(|(_, grams)| **grams < 0).map(|(place, _)| *place) {
        places.entry(place).or_default();
    }
    for m in movements {
        places.entry((m.farm, m.lot)).or_default().entry(m.day).or_default().push(m);
    }
    let mut found = Vec::new();
    for (place, days) in places {
        let mut stock = opening.get(&place).copied().unwrap_or(0);
        let mut since = (stock < 0).then_some(first_day);
        let mut lowest = (stock.min(0), first_day);
        let mut records = Vec::new();
        for (day, moves) in days {
            stock += moves.iter().map(|m| m.grams).sum::<i64>();
            if stock < 0 {
                since = since.or(Some(day));
                records.extend(moves.iter().map(|m| m.record));
                if stock < lowest.0 {
                    lowest = (stock, day);
                }
            }
        }
        let Some(since) = since else { continue };
        found.push(finding(place, lowest, (since, stock), records, &lot_code(place.1)));
    }
    found
}

fn finding(
    (farm, lot): (Option<Uuid>, Uuid),
    (lowest, day): (i64, NaiveDate),
    (since, now): (NaiveDate, i64),
    mut records: Vec<(Kind, Uuid)>,
    code: &str,
) -> Finding {
    let (rule, place) = match farm {
        Some(_) => ("farm_stock_below_zero", "the farm's"),
        None => ("store_stock_below_zero", "the store's"),
    };
    records.truncate(RECORDS_MAX - 1);
    records.insert(0, (Kind::SeedLot, lot));
    let place_id = farm.map_or_else(|| "store".to_owned(), |f| f.to_string());
    Finding {
        rule,
        farm,
        finding: format!("{rule}:{place_id}:{lot}"),
        subject: Some(code.to_owned()),
        evidence: format!("{} kg on {day}", kg(lowest)),
        figures: vec![
            ("lowest_kg", json_kg(lowest)),
            ("lowest_on", json!(day)),
            ("stock_kg", json_kg(now)),
        ],
        records,
        problem: format!(
            "By the records {place} stock of lot {code} was {} kg on {day}.",
            kg(lowest)
        ),
        fix: if farm.is_some() {
            "Add the seed issue that is missing, correct a soak or its lot, or count the stock."
        } else {
            "Add the purchase that is missing, correct an issue or its lot, or count the stock."
        },
        since,
        weight: 1.0,
    }
}
