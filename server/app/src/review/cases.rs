//! Cases of the review list: kept, and put together into one finding a rule, farm and quarter.

use crate::error::AppError;
use chrono::{Datelike as _, NaiveDate};
use serde::{Deserialize, Serialize};
use std::cmp::Reverse;
use std::collections::{BTreeMap, HashMap, HashSet};
use traybook_answers::review::{BearsOn, Finding, FindingBearing, FindingRecord, ReviewRule};
use traybook_domain::Kind;
use traybook_domain::review::{Figure, Finding as Found, RECORDS_MAX, figures_of};
use traybook_storage::review::review_cases::{self, CaseRow};
use traybook_storage::{Conn, review::review_rows};
use uuid::Uuid;

/// Characters of an acceptance's evidence.
const EVIDENCE_MAX: usize = 120;

/// One case, as it is stored.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct Case {
    pub finding: Finding,
    /// How bad it is, against others of its rule.
    weight: f64,
}

impl Case {
    /// The row that keeps it; only cases of farms are kept.
    pub fn row(&self) -> Result<CaseRow, AppError> {
        Ok(CaseRow {
            farm: self.finding.farm_id.unwrap_or_default(),
            day: self.finding.since,
            finding: self.finding.finding.clone(),
            body: serde_json::to_string(self).map_err(|e| AppError::Internal(e.to_string()))?,
        })
    }

    /// Whether each case is accepted by itself: the saving and the output change take an
    /// acceptance for one purchase or jump.
    fn is_accepted_alone(&self) -> bool {
        matches!(
            self.finding.rule,
            ReviewRule::FeedPrice
                | ReviewRule::FeedKg
                | ReviewRule::FeedGap
                | ReviewRule::FeedStock
                | ReviewRule::RationNotBought
                | ReviewRule::SilentFarm
                | ReviewRule::GuideDryMatter
                | ReviewRule::CheckLevel
        )
    }
}

/// The cases that are kept of days before one, without those that are found `again`.
///
/// # Errors
/// Those of the store. A case that can not be read any more is left out: it is found again.
pub(super) fn earlier(
    conn: &mut Conn,
    number: i64,
    before: NaiveDate,
    again: &[Case],
) -> Result<Vec<Case>, AppError> {
    let again: HashSet<(Option<Uuid>, &str)> =
        again.iter().map(|c| (c.finding.farm_id, c.finding.finding.as_str())).collect();
    let bodies = review_cases::bodies(conn, number, Some(before))?;
    let cases = bodies.iter().filter_map(|body| serde_json::from_str::<Case>(body).ok());
    let is_other = |c: &Case| !again.contains(&(c.finding.farm_id, c.finding.finding.as_str()));
    Ok(cases.filter(is_other).collect())
}

/// One finding of the cases of a rule on a farm in a quarter: the worst of them, with how many
/// there are; the newest first. Cases that are accepted by themselves stay apart.
///
/// An acceptance holds for the worst record as it is: when it changes, or a worse one comes, the
/// finding stands on the list again. That there are more or fewer others does not matter.
pub(super) fn gathered(all: Vec<Case>) -> Vec<Case> {
    let (mut found, rest): (Vec<Case>, Vec<Case>) =
        all.into_iter().partition(Case::is_accepted_alone);
    for (name, cases) in quarters(rest) {
        found.extend(worst_of(cases).map(|(worst, _)| {
            let own = evidence(&worst.finding);
            let finding = Finding { evidence: own, finding: name, ..worst.finding };
            Case { finding, ..worst }
        }));
    }
    let order = |c: &Case| (Reverse(c.finding.since), c.finding.finding.clone());
    found.sort_by_cached_key(order);
    found
}

/// The same of open cases that are accepted by themselves: the worst of a quarter is told, with the
/// others beside it.
pub(super) fn together(open: Vec<Case>) -> Vec<Finding> {
    let (alone, rest): (Vec<Case>, Vec<Case>) = open.into_iter().partition(Case::is_accepted_alone);
    let mut found: Vec<Finding> = rest.into_iter().map(|c| c.finding).collect();
    for (_, cases) in quarters(alone) {
        found.extend(worst_of(cases).map(|(worst, others)| Finding {
            others: others.into_iter().map(|c| c.finding.into()).collect(),
            ..worst.finding
        }));
    }
    found.sort_by_cached_key(|f| (Reverse(f.since), f.finding.clone()));
    found
}

/// Cases by rule, farm and quarter.
fn quarters(all: Vec<Case>) -> BTreeMap<String, Vec<Case>> {
    let mut groups: BTreeMap<String, Vec<Case>> = BTreeMap::new();
    for case in all {
        let (rule, since) = (case.finding.rule, case.finding.since);
        let farm = case.finding.farm_id.map_or_else(|| "store".to_owned(), |f| f.to_string());
        let quarter = format!("{}Q{}", since.year(), since.month0() / 3 + 1);
        groups.entry(format!("{}:{farm}:{quarter}", rule.text())).or_default().push(case);
    }
    groups
}

/// The worst of cases with their number, days and records, and the others, the worst first.
fn worst_of(mut cases: Vec<Case>) -> Option<(Case, Vec<Case>)> {
    let newest = |c: &Case| (c.finding.since, c.finding.finding.clone());
    cases.sort_by(|a, b| b.weight.total_cmp(&a.weight).then_with(|| newest(b).cmp(&newest(a))));
    let count = i64::try_from(cases.len()).unwrap_or(i64::MAX);
    let first = cases.iter().map(|c| c.finding.first_on).min()?;
    let last = cases.iter().map(|c| c.finding.last_on).max()?;
    let mut cases = cases.into_iter();
    let mut worst = cases.next()?;
    let others: Vec<Case> = cases.collect();
    let records = &mut worst.finding.records;
    let of_others = others.iter().flat_map(|c| c.finding.records.iter().cloned());
    records.extend(of_others.take(RECORDS_MAX.saturating_sub(records.len())));
    let finding = Finding { cases: count, first_on: first, last_on: last, ..worst.finding };
    Some((Case { finding, ..worst }, others))
}

/// The worst record with its version, and what it says.
fn evidence(worst: &Finding) -> String {
    // Of a finding about records of a group or a lot, the record and not the group.
    let record = worst.records.get(1).or_else(|| worst.records.first());
    let record =
        record.map_or_else(String::new, |r| format!("{} v{}; ", r.id, r.version.unwrap_or(0)));
    format!("{record}{}", worst.evidence).chars().take(EVIDENCE_MAX).collect()
}

/// Findings as cases, with the versions of their records.
pub(super) fn listed(
    conn: &mut Conn,
    number: i64,
    found: Vec<Found>,
) -> Result<Vec<Case>, AppError> {
    let mut ids: BTreeMap<Kind, Vec<Uuid>> = BTreeMap::new();
    for (kind, id) in found.iter().flat_map(|f| &f.records) {
        ids.entry(*kind).or_default().push(*id);
    }
    let mut versions: HashMap<(Kind, Uuid), i64> = HashMap::new();
    for (kind, mut ids) in ids {
        ids.sort_unstable();
        ids.dedup();
        let known = review_rows::versions(conn, number, kind, &ids)?;
        versions.extend(known.into_iter().map(|(id, version)| ((kind, id), version)));
    }
    let record = |(kind, id): &(Kind, Uuid)| FindingRecord {
        kind: kind.spec().one.to_owned(),
        id: *id,
        version: versions.get(&(*kind, *id)).copied(),
    };
    let rule = |name: &str| {
        let unknown = || AppError::Internal(format!("no review rule is named {name}"));
        ReviewRule::parse(name).ok_or_else(unknown)
    };
    let case = |f: Found| {
        let records = f.records.iter().map(record).collect();
        Ok(Case { weight: f.weight, finding: finding(f, records, rule)? })
    };
    found.into_iter().map(case).collect()
}

fn finding(
    f: Found,
    records: Vec<FindingRecord>,
    rule: impl Fn(&str) -> Result<ReviewRule, AppError>,
) -> Result<Finding, AppError> {
    let bearing = |(figure, is_held_back): &(Figure, bool)| FindingBearing {
        figure: match figure {
            Figure::FeedSaving => BearsOn::FeedSaving,
            Figure::OutputChange => BearsOn::OutputChange,
            Figure::Spoilage => BearsOn::Spoilage,
            Figure::PlannedYield => BearsOn::PlannedYield,
            Figure::SeedStock => BearsOn::SeedStock,
        },
        is_held_back: *is_held_back,
    };
    let figures = f.figures.into_iter();
    let figures = figures
        .filter_map(|(name, value)| Some((name.to_owned(), serde_json::from_value(value).ok()?)));
    Ok(Finding {
        rule: rule(f.rule)?,
        farm_id: f.farm,
        farm: None,
        member_name: None,
        records,
        finding: f.finding,
        subject: f.subject,
        evidence: f.evidence,
        figures: figures.collect(),
        problem: f.problem,
        fix: f.fix.to_owned(),
        since: f.since,
        cases: 1,
        others: Vec::new(),
        first_on: f.since,
        last_on: f.since,
        bears_on: figures_of(f.rule).iter().map(bearing).collect(),
        acceptance_id: None,
        accepted_on: None,
        accepted_because: None,
    })
}
