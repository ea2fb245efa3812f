//! What goes with losses: made with the first figures of the day, from the batches of two years.

use super::conditions::{Column, Facts};
use super::spoilage::{LotPositions, day_number, round};
use crate::Coop;
use crate::error::AppError;
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet, HashMap};
use traybook_analytics::spoilage::{Batch, lot_levels, tray_correlation};
use traybook_analytics::why::{self as analytics, WhyBatch, WhyRules};
use traybook_answers::estimates::{
    Condition, ConditionStatus, FarmCondition, FarmConditions, FarmOfMember, SpoilageConditions,
    Times,
};
use traybook_domain::time::start_of_day;
use traybook_reports::conditions;
use traybook_speech::Language;
use traybook_storage::planning::batch_trays::{BatchTrays, batch_trays};
use traybook_storage::{Conn, estimates::spoilage_rows};
use uuid::Uuid;

/// Version of the form of the stored answer.
pub(super) const FORMAT: i64 = 1;
/// Days of batches that are compared: two years.
const DAYS: i64 = 730;
const DAY_MS: i64 = 86_400_000;
/// How conditions are compared.
const METHOD: &str = "binomial regression of trays lost on all conditions at once over the batches of 24 months, \
    with an effect of each farm and trays of a batch correlated; batches of seed lots that spoil everywhere left \
    out; effects drawn to none; ratios standardised over all batches with 95 % interval; named at a false \
    discovery rate of 10 % where losses differ by a quarter or more";

/// What goes with losses, as it is stored.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct Why {
    pub answer: SpoilageConditions,
    /// Of each condition of the answer, the ratios of farms that have one of their own.
    pub own: Vec<BTreeMap<Uuid, Times>>,
}

/// The stored answer; none before the first, or of an older program.
pub(super) fn stored(conn: &mut Conn, coop: i64) -> Result<Option<Why>, AppError> {
    let row = spoilage_rows::why(conn, coop)?;
    let read = row.filter(|(_, format, _)| *format == FORMAT);
    Ok(read.and_then(|(_, _, body)| serde_json::from_str(&body).ok()))
}

/// Whether the answer of a day is still to be made.
pub(super) fn is_due(conn: &mut Conn, coop: i64, day: NaiveDate) -> Result<bool, AppError> {
    let row = spoilage_rows::why(conn, coop)?;
    Ok(row.is_none_or(|(made, format, _)| made != day || format != FORMAT))
}

/// Before anything was made.
pub(super) fn empty() -> SpoilageConditions {
    SpoilageConditions {
        method: METHOD.to_owned(),
        caution: conditions::caution(Language::En),
        made_on: None,
        batches: 0,
        farms: 0,
        batches_of_bad_lots: 0,
        is_estimated: false,
        conditions: Vec::new(),
    }
}

/// Batches that count, without those of lots that spoil everywhere, and how many these are.
fn compared(rows: Vec<BatchTrays>) -> (Vec<(BatchTrays, WhyBatch)>, u64, f64) {
    let count = |n: i64| u32::try_from(n.max(0)).unwrap_or(u32::MAX);
    let farms: BTreeSet<Uuid> = rows.iter().map(|b| b.farm).collect();
    let place: HashMap<Uuid, usize> = farms.into_iter().zip(0..).collect();
    let mut lots = LotPositions::default();
    let mut by_farm: Vec<Vec<Batch>> = vec![Vec::new(); place.len()];
    let mut all = Vec::new();
    for row in rows {
        let Some((begun, lost)) = row.counted() else { continue };
        let Some(at) = place.get(&row.farm).copied() else { continue };
        let (started, discarded) = (count(begun), count(lost));
        let lot = row.lot.map(|lot| lots.position(lot));
        by_farm[at].push(Batch { day: 0, started, discarded, lot, temperature_class: None });
        let farm = u32::try_from(at).unwrap_or(u32::MAX);
        all.push((row, WhyBatch { farm, started, discarded }, (at, lot)));
    }
    let correlation = tray_correlation(&by_farm);
    let levels = lot_levels(&by_farm, correlation);
    let before = all.len();
    all.retain(|(.., (at, lot))| !levels.of(*at, *lot).is_bad());
    let bad = u64::try_from(before - all.len()).unwrap_or(u64::MAX);
    (all.into_iter().map(|(row, batch, _)| (row, batch)).collect(), bad, correlation)
}

/// Compares all conditions of a co-operative's batches.
pub(super) fn make(conn: &mut Conn, coop: &Coop, day: NaiveDate) -> Result<Why, AppError> {
    let since = start_of_day(day, coop.zone).0 - (DAYS - 1) * DAY_MS;
    let (batches, bad, correlation) = compared(batch_trays(conn, coop.number, since, None)?);
    let facts = Facts::load(conn, coop, since)?;
    let rows: Vec<&BatchTrays> = batches.iter().map(|(row, _)| row).collect();
    let columns = facts.columns(&rows);
    let data: Vec<WhyBatch> = batches.iter().map(|(_, batch)| *batch).collect();
    let x: Vec<Vec<Option<bool>>> = columns.iter().map(|c| c.of.clone()).collect();
    let rules = WhyRules::default();
    let made = analytics::why(&data, &x, correlation, &rules);
    let ids: HashMap<u32, Uuid> = batches.iter().map(|(row, b)| (b.farm, row.farm)).collect();
    let mut lines: Vec<(Condition, BTreeMap<Uuid, Times>)> = columns
        .into_iter()
        .zip(&made.conditions)
        .map(|(column, of)| line(column, of, (&ids, &rules)))
        .collect();
    lines.sort_by(|(a, _), (b, _)| {
        order(a).cmp(&order(b)).then(strength(b).total_cmp(&strength(a)))
    });
    let (conditions, own) = lines.into_iter().unzip();
    let answer = SpoilageConditions {
        made_on: Some(day),
        batches: u64::try_from(data.len()).unwrap_or(u64::MAX),
        farms: u64::try_from(ids.len()).unwrap_or(u64::MAX),
        batches_of_bad_lots: bad,
        is_estimated: made.fit.is_some(),
        conditions,
        ..empty()
    };
    Ok(Why { answer, own })
}

/// What losses go with first, what cannot be told last.
fn order(of: &Condition) -> usize {
    ConditionStatus::ALL.iter().position(|s| *s == of.status).unwrap_or(usize::MAX)
}

fn strength(of: &Condition) -> f64 {
    of.ratio.map_or(0.0, |r| r.times.ln().abs())
}

fn times(of: &analytics::Times) -> Times {
    Times { times: round(of.value), low: round(of.interval.lower), high: round(of.interval.upper) }
}

fn line(
    column: Column,
    of: &analytics::Condition,
    (farms, rules): (&HashMap<u32, Uuid>, &WhyRules),
) -> (Condition, BTreeMap<Uuid, Times>) {
    let count = |n: usize| u64::try_from(n).unwrap_or(u64::MAX);
    let effect = of.effect.as_ref();
    let mut line = Condition {
        kind: column.kind,
        value: column.value,
        question: column.question,
        compared_with: column.compared_with,
        status: match of.status {
            analytics::ConditionStatus::Linked => ConditionStatus::Linked,
            analytics::ConditionStatus::NoDifference => ConditionStatus::NoDifference,
            analytics::ConditionStatus::CannotTell => ConditionStatus::CannotTell,
            analytics::ConditionStatus::TooFew => ConditionStatus::TooFew,
        },
        batches_with: count(of.counts.with),
        batches_without: count(of.counts.without),
        batches_needed: count(rules.batches_min),
        is_between_farms: of.counts.farms_with_both == 0,
        ratio: effect.map(|e| times(&e.times)),
        share_percent: effect.map(|e| round(100.0 * e.share)),
        sentence: String::new(),
    };
    line.sentence = conditions::sentence(Language::En, &line);
    let own = effect.into_iter().flat_map(|e| &e.own);
    let own = own.filter_map(|(farm, t)| Some((*farms.get(farm)?, times(t))));
    (line, own.collect())
}

/// What goes with losses, for one farm.
pub(super) fn of_farm(
    stored: Option<Why>,
    (farm, sheds): (Uuid, usize),
    of: FarmOfMember,
) -> FarmConditions {
    let Why { answer, own } = stored.unwrap_or_else(|| Why { answer: empty(), own: Vec::new() });
    let mut lines = Vec::new();
    for (condition, own) in answer.conditions.into_iter().zip(&own) {
        if condition.status != ConditionStatus::Linked {
            continue;
        }
        // Said only where the interval holds no "as many".
        let own = own.get(&farm).copied().filter(|t| t.low > 1.0 || t.high < 1.0);
        let mut line = FarmCondition { of_all: condition, own, own_sentence: String::new() };
        line.own_sentence = conditions::own_sentence(Language::En, &line, sheds == 1);
        lines.push(line);
    }
    FarmConditions {
        of,
        has_one_shed: sheds == 1,
        caution: answer.caution,
        made_on: answer.made_on,
        conditions: lines,
    }
}

/// The number of the day of an instant, in the co-operative's zone.
pub(super) fn day_of(coop: &Coop, at: traybook_domain::value::Instant) -> i32 {
    day_number(traybook_domain::time::local_date(at, coop.zone))
}
