//! Months of milk or eggs that were forgotten, between months with records.

use super::herds::HerdEvents;
use super::values::{Output, OutputRow};
use super::{Finding, ReviewCtx};
use crate::effects::{DayRecord, day_total};
use crate::herd::apply;
use crate::kind::Kind;
use crate::month::Month;
use chrono::NaiveDate;
use serde_json::json;
use std::collections::BTreeMap;
use uuid::Uuid;

/// Days with a record in each of the two months before, from which a group has a habit: once a
/// week.
pub const HABIT_MIN: usize = 4;
/// A month with so many times fewer days than the habit is forgotten as well.
pub const FEWER: usize = 4;
/// Forgotten months in a row at the most: longer is a group that stopped and began again.
pub const MONTHS_MAX: usize = 2;
/// Milk or eggs an animal after the months over those before from which the animals were dry or
/// moulted: a cow that calved gives far more than before she was dried off.
pub const FRESH_RATIO: f64 = 1.3;

/// Days on either side by which that is told.
const FRESH_DAYS: usize = 5;

/// One day of a group.
struct Day {
    group: (Uuid, Uuid),
    record: Uuid,
    amount: i64,
    animals: i64,
}

/// Months of each group of a farm that are over and have no record, or a quarter of the group's
/// days, between months with records.
///
/// The habit is the smaller number of days of the two months before. Not asked for: a month in which
/// the group had no animals by its counts, and months after which an animal gives more than
/// [`FRESH_RATIO`] times what it gave before. A single cow that is dry and comes back with as much
/// milk as before looks the same as a forgotten month: the list asks, it does not tell.
///
/// # Shape
/// `rows` in any order. One finding a group and month, of the last day of the month.
#[must_use]
pub fn missing(
    output: Output,
    rows: &[OutputRow],
    herds: &[HerdEvents],
    ctx: &ReviewCtx<'_>,
) -> Vec<Finding> {
    let mut cells: BTreeMap<(Uuid, NaiveDate), Vec<&OutputRow>> = BTreeMap::new();
    for row in rows.iter().filter(|r| r.date <= ctx.today) {
        cells.entry((row.group.0, row.date)).or_default().push(row);
    }
    let mut groups: BTreeMap<Uuid, BTreeMap<Month, Vec<Day>>> = BTreeMap::new();
    for ((group, date), rows) in cells {
        let records: Vec<DayRecord> = rows.iter().map(|r| r.record.clone()).collect();
        let (Some(first), Some(total)) = (rows.first(), day_total(&records)) else { continue };
        let (amount, animals) = (total.amount, total.animals);
        let day = Day { group: first.group, record: first.record.id, amount, animals };
        groups.entry(group).or_default().entry(Month::of(date)).or_default().push(day);
    }
    let mut found = Vec::new();
    for (group, months) in &groups {
        let herd = herds.iter().find(|h| h.group == *group);
        found.extend(of_group(output, months, herd, ctx));
    }
    found
}

fn of_group(
    output: Output,
    months: &BTreeMap<Month, Vec<Day>>,
    herd: Option<&HerdEvents>,
    ctx: &ReviewCtx<'_>,
) -> Vec<Finding> {
    let none = Vec::new();
    let of = |month: Month| months.get(&month).unwrap_or(&none);
    let ends = months.keys().next().copied().zip(months.keys().next_back().copied());
    let Some((first, last)) = ends else { return Vec::new() };
    let (mut found, mut gap) = (Vec::new(), Vec::<Month>::new());
    // The months that were kept, without a month between them of which nothing is asked.
    let mut kept: Vec<&[Day]> = Vec::new();
    for month in first.to(last) {
        let days = of(month);
        let habit = habit(&kept);
        let is_over = month.last_day() < ctx.today;
        let is_few = days.is_empty() || days.len() * FEWER <= habit;
        if is_over && is_few && habit >= HABIT_MIN {
            gap.push(month);
            continue;
        }
        let before = kept.last().copied().unwrap_or_default();
        if gap.len() <= MONTHS_MAX && !is_fresh(before, days) {
            let asked = gap.iter().filter(|m| has_animals(herd, **m));
            let around = before.last().zip(days.first());
            let made = |m: &Month| Some(finding(output, *m, (of(*m).len(), habit), around?));
            found.extend(asked.filter_map(made));
        }
        gap.clear();
        if days.is_empty() {
            kept.clear();
        } else {
            kept.push(days);
        }
    }
    found.retain(|f| f.since >= ctx.from);
    found
}

/// The smaller number of days of the last two months; 0 without two.
fn habit(kept: &[&[Day]]) -> usize {
    match kept {
        [.., a, b] => a.len().min(b.len()),
        _ => 0,
    }
}

/// Whether an animal gives far more after than before.
fn is_fresh(before: &[Day], after: &[Day]) -> bool {
    let each = |days: &[Day]| {
        let amount: i64 = days.iter().map(|d| d.amount).sum();
        amount as f64 / days.iter().map(|d| d.animals).sum::<i64>().max(1) as f64
    };
    let last = before.get(before.len().saturating_sub(FRESH_DAYS)..).unwrap_or_default();
    let first = after.get(..FRESH_DAYS.min(after.len())).unwrap_or_default();
    each(first) > FRESH_RATIO * each(last)
}

/// Whether the group had animals on every day of a month, as far as its counts tell.
fn has_animals(herd: Option<&HerdEvents>, month: Month) -> bool {
    let Some(herd) = herd else { return true };
    let mut head = herd.opening;
    let mut is_empty_from: Option<NaiveDate> = None;
    for (_, event) in &herd.events {
        let (from, next) = apply(event, head.unwrap_or(0));
        let is_in = is_empty_from.is_some_and(|day| day <= month.last_day());
        if is_in && from > month.first_day() {
            return false;
        }
        head = Some(next);
        is_empty_from = (next <= 0).then_some(from);
    }
    is_empty_from.is_none_or(|day| day > month.last_day())
}

fn finding(
    output: Output,
    month: Month,
    (days, habit): (usize, usize),
    (before, after): (&Day, &Day),
) -> Finding {
    let (group, farm) = before.group;
    let (first, last) = (month.first_day(), month.last_day());
    let (what, were) = match output {
        Output::Milk => ("milk", "was"),
        Output::Eggs => ("eggs", "were"),
    };
    let ids = [before, after].into_iter().map(|day| (output.kind(), day.record));
    Finding {
        rule: "month_missing",
        farm: Some(farm),
        finding: format!("month_missing:{what}:{group}:{first}"),
        subject: None,
        evidence: format!("{days} of {habit} days from {first}"),
        figures: vec![
            ("days", json!(days)),
            ("usual_days", json!(habit)),
            ("first", json!(first)),
            ("last", json!(last)),
        ],
        records: std::iter::once((Kind::AnimalGroup, group)).chain(ids).collect(),
        problem: format!(
            "From {first} to {last} {what} {were} recorded on {days} days, in each month before on \
             {habit} days or more."
        ),
        fix: "Ask for the sheet or the phone of that month. If there were no records, accept it and \
              say why.",
        since: last,
        weight: habit as f64 - days as f64,
    }
}
