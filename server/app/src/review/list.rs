//! The review list as it is read: what was found when the figures were last made, within reach.

use super::cases::{self, Case};
use super::find::{all, first_day};
use crate::error::AppError;
use crate::estimates::as_of;
use crate::{Actor, App};
use chrono::NaiveDate;
use std::collections::{BTreeMap, HashMap};
use std::slice::from_ref;
use std::sync::Arc;
use traybook_answers::estimates::AsOf;
use traybook_answers::review::{Finding, ReviewList, ReviewRule, ReviewRun};
use traybook_answers::wire::Time;
use traybook_domain::kinds::{REVIEW_RULES, ReviewAcceptance};
use traybook_domain::people::authz::Task;
use traybook_domain::value::Instant;
use traybook_storage::records::Visible;
use traybook_storage::records::changes::{self, Changed};
use traybook_storage::savings::report_rows::FarmRow;
use traybook_storage::{Conn, estimates::snapshots, records::farm_rows, review::review_cases};
use uuid::Uuid;

/// Findings in one answer: more is work for weeks. What is beyond is counted.
pub const FINDINGS_MAX: usize = 2_000;
/// What is asked of the list.
#[derive(Clone, Debug, Default)]
pub struct Asked {
    pub farm: Option<Uuid>,
    pub rule: Option<String>,
    /// The accepted findings instead of the open ones.
    pub accepted: bool,
    /// Findings in the answer at most; the house limit where none is given.
    pub items_max: Option<usize>,
}

impl Asked {
    /// From the parameters of a query.
    ///
    /// # Errors
    /// `Invalid` for what is no farm id, rule or truth value.
    pub fn parse(
        farm: Option<String>,
        rule: Option<String>,
        accepted: Option<String>,
    ) -> Result<Self, AppError> {
        let farm = farm.map(|text| {
            let id = Uuid::try_parse(&text).ok().filter(|_| text.len() == 36);
            id.ok_or_else(|| AppError::field("farm_id", "type", "give the id of a farm"))
        });
        if rule.as_ref().is_some_and(|r| !REVIEW_RULES.contains(&r.as_str())) {
            let detail = format!("give one of {}", REVIEW_RULES.join(", "));
            return Err(AppError::field("rule", "choice", detail));
        }
        let accepted = match accepted.as_deref() {
            None | Some("false") => false,
            Some("true") => true,
            Some(_) => return Err(AppError::field("accepted", "type", "give true or false")),
        };
        Ok(Self { farm: farm.transpose()?, rule, accepted, items_max: None })
    }
}

impl App {
    /// What contradicts itself or looks unlikely, the newest first; open findings, or the accepted
    /// ones. A finding of the store is shown to those who see the whole co-operative. The records
    /// were looked through when the figures were last made; who accepts a finding or corrects one
    /// of its records no longer sees it.
    ///
    /// # Errors
    /// `Forbidden`; `NotFound` for a farm out of reach.
    pub async fn review(&self, actor: &Actor, asked: Asked) -> Result<ReviewList, AppError> {
        let visible = actor.task(Task::Review)?;
        let (actor, now) = (actor.clone(), self.now());
        self.store
            .read(move |conn| {
                let number = actor.coop.number;
                let farms = farm_rows::farms(conn, number, asked.farm.as_ref().map(from_ref))?;
                let farms: HashMap<Uuid, Arc<FarmRow>> = farms
                    .into_iter()
                    .filter(|f| visible.sees(f.area, f.member))
                    .map(|f| (f.farm, f))
                    .collect();
                if asked.farm.is_some() && farms.is_empty() {
                    return Err(AppError::NotFound);
                }
                let stored = snapshots::findings(conn, number)?;
                let state = stored.as_ref().map(|(state, _)| *state);
                let found: Vec<Case> = match &stored {
                    Some((_, text)) => serde_json::from_str(text).unwrap_or_default(),
                    None => Vec::new(),
                };
                let changed = match state {
                    Some(state) => changes::since(conn, number, state.change_seq)?,
                    None => Changed::default(),
                };
                let reader = Reader { visible, farms, changed, accepted: accepted(conn, number)? };
                let day = state.map_or_else(|| actor.coop.today(now), |s| s.day);
                let run = review_cases::run(conn, number)?.map(|run| ReviewRun {
                    farms: run.farms,
                    done: run.farms - run.left,
                    began_at: Time(Instant(run.began_at)),
                    ended_at: run.ended_at.map(|at| Time(Instant(at))),
                });
                Ok(ReviewList { run, ..reader.answer(found, &asked, (day, as_of(state))) })
            })
            .await
    }
}

/// Acceptances by finding and evidence.
type Accepted = HashMap<(String, String), (Uuid, ReviewAcceptance)>;

fn accepted(conn: &mut Conn, number: i64) -> Result<Accepted, AppError> {
    let each = all::<ReviewAcceptance>(conn, number)?.into_iter();
    Ok(each.map(|(id, a)| ((a.finding.clone(), a.evidence.clone()), (id, a))).collect())
}

/// Who reads the list.
struct Reader {
    visible: Visible,
    /// Farms within reach.
    farms: HashMap<Uuid, Arc<FarmRow>>,
    /// Records that have changed since they were looked through.
    changed: Changed,
    accepted: Accepted,
}

impl Reader {
    fn answer(
        &self,
        found: Vec<Case>,
        asked: &Asked,
        (day, as_of): (NaiveDate, AsOf),
    ) -> ReviewList {
        let fits = |Case { finding: f, .. }: &Case| {
            asked.farm.is_none_or(|farm| f.farm_id == Some(farm))
                && asked.rule.as_ref().is_none_or(|rule| f.rule.text() == rule.as_str())
        };
        let seen = found.into_iter().filter(|f| fits(f)).filter_map(|f| self.seen(f));
        let seen = seen.filter(|c| c.finding.acceptance_id.is_some() == asked.accepted);
        let (again, seen): (Vec<Case>, Vec<Case>) =
            seen.partition(|c| self.has_changed(&c.finding));
        let (again, seen) = match asked.accepted {
            // Each has an acceptance of its own.
            true => (again.len(), seen.into_iter().map(|c| c.finding).collect()),
            false => (cases::together(again).len(), cases::together(seen)),
        };
        let mut by_rule: BTreeMap<ReviewRule, usize> = BTreeMap::new();
        for finding in &seen {
            *by_rule.entry(finding.rule).or_insert(0) += 1;
        }
        let items_max = asked.items_max.unwrap_or(FINDINGS_MAX);
        ReviewList {
            day,
            from: first_day(day),
            as_of,
            findings: seen.len(),
            looked_at_again: again,
            run: None,
            by_rule,
            left_off: seen.len().saturating_sub(items_max),
            items: seen.into_iter().take(items_max).collect(),
        }
    }

    /// Whether what a finding is about has changed since. Whatever a farm records ends its silence.
    fn has_changed(&self, f: &Finding) -> bool {
        let is_heard = f.rule == ReviewRule::SilentFarm
            && f.farm_id.is_some_and(|farm| self.changed.farms.contains(&farm));
        is_heard || f.records.iter().any(|r| self.changed.ids.contains(&r.id))
    }

    /// The finding with its farm and its acceptance; none out of reach.
    fn seen(&self, mut case: Case) -> Option<Case> {
        let f = &mut case.finding;
        match f.farm_id {
            Some(farm) => {
                let farm = self.farms.get(&farm)?;
                f.farm = Some(farm.code.clone());
                f.member_name = Some(farm.name.clone());
            }
            None if self.visible != Visible::All => return None,
            None => {}
        }
        let key = (f.finding.clone(), f.evidence.clone());
        let accepted = self.accepted.get(&key);
        // An acceptance of another farm or rule is none of this.
        if let Some((id, a)) =
            accepted.filter(|(_, a)| a.farm_id == f.farm_id && a.rule == f.rule.text())
        {
            f.acceptance_id = Some(*id);
            f.accepted_on = Some(a.accepted_on);
            f.accepted_because = Some(a.reason.clone());
        }
        Some(case)
    }
}
