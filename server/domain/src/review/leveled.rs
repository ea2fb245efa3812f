//! Findings of slips of a unit and of lasting steps in a group's milk or eggs.

use super::levels::{DayOutput, Step, levels};
use super::values::{Output, OutputRow};
use super::{Finding, RECORDS_MAX, ReviewCtx};
use crate::effects::{DayRecord, day_total};
use crate::kind::Kind;
use chrono::{Datelike as _, NaiveDate};
use serde_json::json;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use uuid::Uuid;

/// How near the animals that would explain a step are to a whole number, as a share of the herd.
const HERD_NEAR: f64 = 0.04;

/// One day of a group with its records.
struct Day<'a> {
    date: NaiveDate,
    total: DayOutput,
    rows: Vec<&'a OutputRow>,
}

/// Slips and steps of every group, and the days of groups that slipped.
#[must_use]
pub fn leveled(
    output: Output,
    rows: &[OutputRow],
    events: &HashMap<Uuid, Vec<NaiveDate>>,
    ctx: &ReviewCtx<'_>,
) -> (Vec<Finding>, BTreeSet<(Uuid, NaiveDate)>) {
    let mut cells: BTreeMap<(Uuid, NaiveDate), Vec<&OutputRow>> = BTreeMap::new();
    for row in rows {
        cells.entry((row.group.0, row.date)).or_default().push(row);
    }
    let mut groups: BTreeMap<Uuid, Vec<Day<'_>>> = BTreeMap::new();
    for ((group, date), rows) in cells {
        let records: Vec<DayRecord> = rows.iter().map(|r| r.record.clone()).collect();
        let Some(of) = day_total(&records).filter(|t| t.animals > 0) else { continue };
        let total = DayOutput {
            day: number(date),
            total: of.amount as f64 / output.unit() as f64,
            animals: of.animals,
        };
        groups.entry(group).or_default().push(Day { date, total, rows });
    }
    let (mut found, mut slipped) = (Vec::new(), BTreeSet::new());
    for (group, days) in &groups {
        let totals: Vec<DayOutput> = days.iter().map(|d| d.total).collect();
        let of: Vec<i64> = events.get(group).into_iter().flatten().map(|d| number(*d)).collect();
        let made = levels(output, &totals, &of);
        for (first, last, unit) in made.slips {
            let those = days.get(first..=last).unwrap_or_default();
            slipped.extend(those.iter().map(|d| (*group, d.date)));
            found.extend(slip(output, those, unit).filter(|f| f.since >= ctx.from));
        }
        for step in made.steps {
            found.extend(self::step(output, days, &step).filter(|f| f.since >= ctx.from));
        }
    }
    (found, slipped)
}

fn number(day: NaiveDate) -> i64 {
    day.num_days_from_ce().into()
}

/// What a unit means, in words.
fn unit_words(unit: &str) -> &'static str {
    match unit {
        "x10" | "x100" | "x1000" => "a digit too many",
        "d10" | "d100" | "d1000" => "a digit missing",
        "x30" => "eggs where trays of 30 are meant, or trays counted twice",
        "d30" => "trays of 30 where eggs are meant",
        _ => "bags where kg are meant",
    }
}

fn records(output: Output, group: Uuid, days: &[Day<'_>]) -> Vec<(Kind, Uuid)> {
    let mut records = vec![(Kind::AnimalGroup, group)];
    let ids = days.iter().flat_map(|d| &d.rows).map(|r| (output.kind(), r.record.id));
    records.extend(ids.take(RECORDS_MAX - 1));
    records
}

fn slip(output: Output, days: &[Day<'_>], unit: &'static str) -> Option<Finding> {
    let (first, last) = (days.first()?, days.last()?);
    let (group, farm) = first.rows.first()?.group;
    let each = first.total.total / first.total.animals as f64;
    let shown = (each * 100.0).round() / 100.0;
    let what = if output == Output::Milk { "litres" } else { "eggs" };
    Some(Finding {
        rule: "unit_slip",
        farm: Some(farm),
        finding: format!("unit_slip:{group}:{}", first.date),
        subject: None,
        evidence: format!("{shown} {what} an animal on {}", first.date),
        figures: vec![
            ("per_animal", json!(shown)),
            ("unit", json!(unit)),
            ("first_on", json!(first.date)),
            ("last_on", json!(last.date)),
            ("records", json!(days.len())),
        ],
        records: records(output, group, days),
        problem: format!(
            "{shown} {what} an animal on {}: most likely {}.",
            first.date,
            unit_words(unit)
        ),
        fix: "Correct the amount: look for a digit or a unit that slipped.",
        since: first.date,
        weight: days.len() as f64,
    })
}

fn step(output: Output, days: &[Day<'_>], step: &Step) -> Option<Finding> {
    let day = days.get(step.at)?;
    let (group, farm) = day.rows.first()?.group;
    let herd = day.total.animals;
    let exact = herd as f64 * step.ratio;
    let near = (exact - step.animals as f64).abs() <= HERD_NEAR * herd as f64;
    let is_herd = step.unit.is_none() && step.ratio < 1.0 && step.animals > 0 && near;
    let rule = if is_herd { "herd_implied" } else { "level_shift" };
    let ratio = (step.ratio * 100.0).round() / 100.0;
    let mut figures =
        vec![("ratio", json!(ratio)), ("animals", json!(herd)), ("date", json!(day.date))];
    figures.extend(step.unit.map(|unit| ("unit", json!(unit))));
    figures.extend(is_herd.then_some(("animals_that_fit", json!(step.animals))));
    let (problem, fix) = match (is_herd, step.unit) {
        (true, _) => (
            format!(
                "From {} on the level is {ratio} times that before, with {herd} animals all the \
                 while: {} animals would fit.",
                day.date, step.animals
            ),
            "Enter the animals sold, dead or dry, or correct the amounts from that day on.",
        ),
        (false, Some(unit)) => (
            format!(
                "From {} on the level is {ratio} times that before: most likely {}.",
                day.date,
                unit_words(unit)
            ),
            "Ask whether a milking is left out or the measure changed, or say what changed.",
        ),
        (false, None) => (
            format!("From {} on the level is {ratio} times that before.", day.date),
            "Ask whether a milking is left out or the measure changed, or say what changed.",
        ),
    };
    let those = days.get(step.at..(step.at + 1).min(days.len())).unwrap_or_default();
    Some(Finding {
        rule,
        farm: Some(farm),
        finding: format!("{rule}:{group}:{}", day.date),
        subject: None,
        evidence: format!("{ratio} times from {}", day.date),
        figures,
        records: records(output, group, those),
        problem,
        fix,
        since: day.date,
        weight: step.ratio.ln().abs(),
    })
}
