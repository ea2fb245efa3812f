//! Whom to visit next, and why. From the records of this moment; only how pressing a flag is comes
//! from the figures as they were last made.

use super::flags::open_flags;
use super::{spoilage, stored};
use crate::error::AppError;
use crate::savings::area_names;
use crate::{Actor, App};
use chrono::NaiveDate;
use std::collections::HashMap;
use std::sync::Arc;
use traybook_answers::Decimal;
use traybook_answers::estimates::{FarmToVisit, Reason, VisitReason};
use traybook_domain::people::authz::{Action, Task};
use traybook_domain::planning::way::DEGREE_DIGITS;
use traybook_domain::time::local_date;
use traybook_domain::value::Instant;
use traybook_domain::{Kind, Month};
use traybook_storage::records::Visible;
use traybook_storage::records::farm_rows::{self, FarmRow, Farms};
use traybook_storage::{Conn, estimates::estimate_rows};
use uuid::Uuid;

/// More than any two charts differ: what sets flags of different kinds apart.
const QUIET_LESS: f64 = 1_000.0;
/// Days after the start in which a farm is a new starter.
const NEW_DAYS: i64 = 30;

impl App {
    /// Whom to visit next, the most pressing first, each with the reasons.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn visit_list(&self, actor: &Actor) -> Result<Vec<FarmToVisit>, AppError> {
        Ok(self.first_visits(actor, usize::MAX).await?.0)
    }

    /// The first farms of the list, and how many there are.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn first_visits(
        &self,
        actor: &Actor,
        most: usize,
    ) -> Result<(Vec<FarmToVisit>, usize), AppError> {
        self.visits(actor, None, most).await
    }

    /// Why to visit one farm: its line of the list, none where there is no reason.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn visit_reasons(
        &self,
        actor: &Actor,
        farm: Uuid,
    ) -> Result<Option<FarmToVisit>, AppError> {
        Ok(self.visits(actor, Some(farm), 1).await?.0.pop())
    }

    async fn visits(
        &self,
        actor: &Actor,
        of: Option<Uuid>,
        most: usize,
    ) -> Result<(Vec<FarmToVisit>, usize), AppError> {
        actor.task(Task::Estimates)?;
        let visible = actor.visible(Action::Read, Kind::Farm)?;
        let (actor, now) = (actor.clone(), self.now());
        let list = self.store.read(move |conn| {
            let of = of.map(|farm| [farm]);
            list(conn, &actor, now, &visible, (of.as_ref().map(<[Uuid; 1]>::as_slice), most))
        });
        list.await
    }
}

/// A reason and how strong it is within its class; larger comes first.
struct Weighed {
    weight: (VisitReason, f64),
    reason: Reason,
}

impl Weighed {
    const fn new(strength: f64, reason: Reason) -> Self {
        Self { weight: (reason.reason, strength), reason }
    }
}

fn list(
    conn: &mut Conn,
    actor: &Actor,
    now: Instant,
    visible: &Visible,
    (of, most): (Farms<'_>, usize),
) -> Result<(Vec<FarmToVisit>, usize), AppError> {
    let (number, zone, today) = (actor.coop.number, actor.coop.zone, actor.coop.today(now));
    let mut farms = farm_rows::farms(conn, number, of)?;
    farms.retain(|f| visible.sees(f.area, f.member));
    let mut reasons = standing_reasons(conn, number, today, of)?;
    let is_grower = |f: &&Arc<FarmRow>| f.started_on.is_some_and(|d| d <= today);
    let growers: Vec<Uuid> = farms.iter().filter(is_grower).map(|f| f.farm).collect();
    let last = estimate_rows::last_months(conn, number, &growers, Month::of(today).plus(-1))?;
    let is_fresh = |f: &&Arc<FarmRow>| f.started_on.is_some_and(|since| is_new(since, today));
    let fresh: Vec<Uuid> = farms.iter().filter(is_fresh).map(|f| f.farm).collect();
    let seen = estimate_rows::last_visits(conn, number, &fresh)?;
    let day = |at: &i64| local_date(Instant(*at), zone);
    let mut rows = Vec::new();
    for farm in farms {
        let mut own = reasons.remove(&farm.farm).unwrap_or_default();
        own.extend(last.get(&farm.farm).and_then(|last| quiet(*last, today)));
        own.extend(starter(&farm, seen.get(&farm.farm).map(day), today));
        own.sort_by(|a, b| order(b.weight, a.weight));
        let Some(first) = own.first() else { continue };
        rows.push((first.weight, farm, own));
    }
    rows.sort_by(|a, b| order(b.0, a.0).then_with(|| a.1.code.cmp(&b.1.code)));
    let count = rows.len();
    rows.truncate(most);
    let shown: Vec<Uuid> = rows.iter().map(|(_, farm, _)| farm.farm).collect();
    let visits = estimate_rows::last_visits(conn, number, &shown)?;
    let names = area_names(conn, number)?;
    let items = rows.into_iter().map(|(_, farm, own)| FarmToVisit {
        farm_id: farm.farm,
        farm: farm.code.clone(),
        area: names.get(&farm.area).cloned(),
        place: farm.place.clone(),
        latitude: farm.position.map(|p| Decimal::new(p.0, DEGREE_DIGITS)),
        longitude: farm.position.map(|p| Decimal::new(p.1, DEGREE_DIGITS)),
        member_name: farm.name.clone(),
        last_visit_on: visits.get(&farm.farm).map(day),
        reasons: own.into_iter().map(|w| w.reason).collect(),
    });
    Ok((items.collect(), count))
}

/// Flags that are up, and follow-ups that are overdue, by farm.
fn standing_reasons(
    conn: &mut Conn,
    coop: i64,
    today: NaiveDate,
    of: Farms<'_>,
) -> Result<HashMap<Uuid, Vec<Weighed>>, AppError> {
    let mut reasons: HashMap<Uuid, Vec<Weighed>> = HashMap::new();
    let flags = open_flags(conn, coop, of)?;
    let flagged: Vec<Uuid> = flags.iter().map(|(_, flag)| flag.farm_id).collect();
    let figures = stored::farms(conn, coop, Some(&flagged))?;
    for (_, flag) in flags {
        let spoilage = figures.get(&flag.farm_id).and_then(|f| f.spoilage.as_ref());
        // A quiet flag comes after all others; within each, the chart highest above what raises one.
        let strength = spoilage.map_or(0.0, |s| {
            let (kind, excess, _) = spoilage::rank(s);
            QUIET_LESS * f64::from(kind) + excess.clamp(-QUIET_LESS / 4.0, QUIET_LESS / 4.0)
        });
        let reason = Reason {
            reason: VisitReason::Flag,
            since: flag.raised_on,
            sentence: flag.evidence,
            action: None,
        };
        let weighed = Weighed::new(strength, reason);
        reasons.entry(flag.farm_id).or_default().push(weighed);
    }
    for (farm, due_on, action) in estimate_rows::overdue_follow_ups(conn, coop, today, of)? {
        let reason = Reason {
            reason: VisitReason::FollowUpOverdue,
            since: due_on,
            sentence: format!("overdue since {due_on}: {action}"),
            action: Some(action),
        };
        reasons.entry(farm).or_default().push(Weighed::new(days(due_on, today), reason));
    }
    Ok(reasons)
}

fn order(a: (VisitReason, f64), b: (VisitReason, f64)) -> std::cmp::Ordering {
    a.0.cmp(&b.0).then_with(|| a.1.total_cmp(&b.1))
}

fn days(from: NaiveDate, to: NaiveDate) -> f64 {
    i32::try_from((to - from).num_days()).map_or(0.0, f64::from)
}

/// A farm that grows and has not recorded anything for a whole month.
fn quiet(last: Month, today: NaiveDate) -> Option<Weighed> {
    if last.plus(1) >= Month::of(today) {
        return None;
    }
    let since = last.last_day();
    let sentence = format!("nothing recorded since {last}: ask whether trays are still grown");
    let reason = Reason { reason: VisitReason::NoRecords, since, sentence, action: None };
    Some(Weighed::new(days(since, today), reason))
}

fn is_new(since: NaiveDate, today: NaiveDate) -> bool {
    (0..=NEW_DAYS).contains(&(today - since).num_days())
}

/// A farm that has just started and has not been seen since.
fn starter(farm: &FarmRow, visited: Option<NaiveDate>, today: NaiveDate) -> Option<Weighed> {
    let since = farm.started_on?;
    if !is_new(since, today) || visited.is_some_and(|v| v >= since) {
        return None;
    }
    let sentence = format!("started on {since} and has not been visited since");
    let reason = Reason { reason: VisitReason::NewStarter, since, sentence, action: None };
    Some(Weighed::new(days(since, today), reason))
}
