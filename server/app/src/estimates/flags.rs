//! Raising and clearing flags, and whom to visit next.

use super::{Estimates, spoilage, version};
use crate::ctx::{Actor, App, Coop};
use crate::error::AppError;
use crate::savings::area_names;
use crate::savings_parts::SUMS;
use crate::txn::Txn;
use chrono::NaiveDate;
use serde_json::{Map, Value as Json, json};
use std::collections::HashMap;
use std::sync::Arc;
use traybook_domain::authz::{Action, Task};
use traybook_domain::import_id::import_id;
use traybook_domain::kinds::Flag;
use traybook_domain::record::Record as _;
use traybook_domain::time::local_date;
use traybook_domain::value::Instant;
use traybook_domain::{Kind, Month, Value};
use traybook_storage::farm_rows::{self, FarmRow, Farms};
use traybook_storage::records::{self, Filter, Record, Visible};
use traybook_storage::{Conn, estimate_rows};
use uuid::Uuid;

/// A farm's standing as its chart has it.
pub(super) struct Standing {
    /// Farm.
    pub farm: Uuid,
    /// Batch that raised the flag that is up, and its soak.
    pub raised_by: Option<(Uuid, i64)>,
    /// `farm`, `seed_lot` or `not_known`.
    pub points_at: &'static str,
    /// The evidence in words.
    pub sentence: String,
}

/// Days after the start in which a farm is a new starter.
const NEW_DAYS: i64 = 30;

fn open_flags(conn: &mut Conn, coop: i64, of: Farms<'_>) -> Result<Vec<(Record, Flag)>, AppError> {
    let mut filter = Filter { unset: Kind::Flag.spec().index("cleared_on"), ..Filter::default() };
    if let (Some([farm]), Some(field)) = (of, Kind::Flag.spec().index("farm_id")) {
        filter.equals.push((field, Value::Id(*farm)));
    }
    let open = records::page(conn, coop, Kind::Flag, &Visible::All, &filter, None, 100_000)?;
    let read = |r: Record| Flag::from_values(&r.values).map(|flag| (r, flag));
    Ok(open.into_iter().filter_map(read).collect())
}

impl App {
    /// Raises a flag for every farm whose chart has one and that has none standing, and clears the
    /// flags whose chart has come back. Repeating it changes nothing. Gives the numbers raised and
    /// cleared.
    ///
    /// # Errors
    /// Those of the store.
    pub async fn update_flags(&self, coop: &Coop) -> Result<(u64, u64), AppError> {
        let (of, app, now) = (coop.clone(), self.clone(), self.now());
        let today = coop.today(now);
        // The estimate is made while others write; only what it asks for is written then.
        let asked = self.store.read(move |conn| ask(conn, &app, &of, today)).await?;
        if asked.raise.is_empty() && asked.clear.is_empty() {
            return Ok((0, 0));
        }
        let coop = coop.clone();
        self.store
            .write(move |conn| {
                let machine = Actor::machine(coop.clone());
                let mut txn = Txn::begin(conn, &machine, now)?;
                let (mut raised, mut cleared) = (0, 0);
                for (id, flag) in &asked.raise {
                    if records::find(txn.conn(), coop.number, Kind::Flag, *id)?.is_none() {
                        let values = flag.clone().into_values();
                        txn.create_values(Kind::Flag, *id, values, &Visible::All)?;
                        raised += 1;
                    }
                }
                for (id, version) in &asked.clear {
                    let patch = Map::from_iter([("cleared_on".to_owned(), json!(today))]);
                    match txn.correct(Kind::Flag, *id, *version, &patch) {
                        Ok(_) => cleared += 1,
                        // An officer was quicker; the next round looks again.
                        Err(AppError::Stale { .. } | AppError::Invalid(_)) => {}
                        Err(e) => return Err(e),
                    }
                }
                txn.finish()?;
                Ok((raised, cleared))
            })
            .await
    }

    /// Updates the flags of all co-operatives; one that fails does not stop the others.
    ///
    /// # Errors
    /// Those of the store.
    pub async fn update_all_flags(&self) -> Result<(), AppError> {
        for coop in self.every_coop().await? {
            let number = coop.number;
            match self.update_flags(&coop).await {
                Ok((0, 0)) => {}
                Ok((raised, cleared)) => tracing::info!(number, raised, cleared, "flags updated"),
                Err(error) => tracing::warn!(number, %error, "the flags could not be updated"),
            }
        }
        Ok(())
    }

    /// Whom to visit next, the most pressing first, each with the reasons.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn visit_list(&self, actor: &Actor) -> Result<Vec<Json>, AppError> {
        actor.task(Task::Estimates)?;
        let visible = actor.visible(Action::Read, Kind::Farm)?;
        let (actor, app, now) = (actor.clone(), self.clone(), self.now());
        let asked = (None, usize::MAX);
        let list = self.store.read(move |conn| list(conn, &app, &actor, now, &visible, asked));
        Ok(list.await?.0)
    }

    /// The first farms of the list, and how many there are.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn first_visits(
        &self,
        actor: &Actor,
        most: usize,
    ) -> Result<(Vec<Json>, usize), AppError> {
        actor.task(Task::Estimates)?;
        let visible = actor.visible(Action::Read, Kind::Farm)?;
        let (actor, app, now) = (actor.clone(), self.clone(), self.now());
        self.store.read(move |conn| list(conn, &app, &actor, now, &visible, (None, most))).await
    }

    /// Why to visit one farm: its line of the list, none where there is no reason.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn visit_reasons(&self, actor: &Actor, farm: Uuid) -> Result<Option<Json>, AppError> {
        actor.task(Task::Estimates)?;
        let visible = actor.visible(Action::Read, Kind::Farm)?;
        let (actor, app, now) = (actor.clone(), self.clone(), self.now());
        let of = [farm];
        let (list, _) = self
            .store
            .read(move |conn| list(conn, &app, &actor, now, &visible, (Some(&of), 1)))
            .await?;
        Ok(list.into_iter().next())
    }
}

/// Flags to raise, and to clear with the version they had.
struct Asked {
    raise: Vec<(Uuid, Flag)>,
    clear: Vec<(Uuid, i64)>,
}

fn ask(conn: &mut Conn, app: &App, coop: &Coop, today: NaiveDate) -> Result<Asked, AppError> {
    let standing = spoilage::standing(conn, &app.estimates, coop, today)?;
    let open = open_flags(conn, coop.number, None)?;
    let mut asked = Asked { raise: Vec::new(), clear: Vec::new() };
    for s in &standing {
        let Some((batch, soaked_at)) = s.raised_by else { continue };
        if open.iter().any(|(_, f)| f.farm_id == s.farm) {
            continue;
        }
        let key = format!("{} {batch}", s.farm);
        let id = import_id(&coop.id.to_string(), "flag", &key, soaked_at);
        if records::find(conn, coop.number, Kind::Flag, id)?.is_none() {
            asked.raise.push((id, flag(s, batch, today)));
        }
    }
    for (record, flag) in &open {
        let up = standing.iter().any(|s| s.farm == flag.farm_id && s.raised_by.is_some());
        // One raised by hand is cleared by hand.
        if !up && flag.batch_id.is_some() {
            asked.clear.push((record.id, record.version));
        }
    }
    Ok(asked)
}

fn flag(s: &Standing, batch: Uuid, today: NaiveDate) -> Flag {
    Flag {
        farm_id: s.farm,
        batch_id: Some(batch),
        raised_on: today,
        points_at: s.points_at.to_owned(),
        evidence: s.sentence.chars().take(500).collect(),
        seen_on: None,
        cause: None,
        finding: None,
        cleared_on: None,
    }
}

/// A reason to visit: how pressing, and what is said.
struct Reason {
    /// Class of the reason, then strength within it; larger comes first.
    weight: (u8, f64),
    reason: &'static str,
    since: NaiveDate,
    sentence: String,
    /// What is to be done, of a follow-up.
    action: Option<String>,
}

fn list(
    conn: &mut Conn,
    app: &App,
    actor: &Actor,
    now: Instant,
    visible: &Visible,
    (of, most): (Farms<'_>, usize),
) -> Result<(Vec<Json>, usize), AppError> {
    let (number, zone, today) = (actor.coop.number, actor.coop.zone, actor.coop.today(now));
    let mut reasons: HashMap<Uuid, Vec<Reason>> = HashMap::new();
    let mut values: Option<HashMap<Uuid, f64>> = None;
    for (_, flag) in open_flags(conn, number, of)? {
        let values = match &mut values {
            Some(values) => values,
            None => values.insert(spoilage::values(conn, &app.estimates, &actor.coop, today)?),
        };
        let value = values.get(&flag.farm_id).copied().unwrap_or(0.0);
        reasons.entry(flag.farm_id).or_default().push(Reason {
            weight: (3, value),
            reason: "flag",
            since: flag.raised_on,
            sentence: flag.evidence,
            action: None,
        });
    }
    for (farm, due_on, action) in overdue(conn, &app.estimates, number, today, of)?.iter() {
        reasons.entry(*farm).or_default().push(Reason {
            weight: (2, days(*due_on, today)),
            reason: "follow_up_overdue",
            since: *due_on,
            sentence: format!("overdue since {due_on}: {action}"),
            action: Some(action.clone()),
        });
    }
    let mut farms = match of {
        Some(_) => farm_rows::farms(conn, number, of)?,
        None => {
            let version = version(conn, number, today)?;
            super::farms(conn, &app.estimates, number, version)?.to_vec()
        }
    };
    farms.retain(|f| visible.sees(f.area, f.member));
    let last = last_months(conn, (&app.estimates, number), today, of)?;
    let new = |f: &&Arc<FarmRow>| f.started_on.is_some_and(|since| is_new(since, today));
    let new: Vec<Uuid> = farms.iter().filter(new).map(|f| f.farm).collect();
    let seen = estimate_rows::last_visits(conn, number, &new)?;
    let day = |at: &i64| local_date(Instant(*at), zone);
    let names = area_names(conn, number)?;
    let mut rows = Vec::new();
    for farm in farms {
        let mut own = reasons.remove(&farm.farm).unwrap_or_default();
        let grown = Some(farm.farm).filter(|_| has_started(&farm, today));
        own.extend(quiet(grown.and_then(|farm| last.get(&farm).copied()), today));
        own.extend(fresh(&farm, seen.get(&farm.farm).map(day), today));
        own.sort_by(|a, b| order(b.weight, a.weight));
        let Some(first) = own.first() else { continue };
        let weight = first.weight;
        rows.push((weight, farm, own));
    }
    rows.sort_by(|a, b| order(b.0, a.0).then_with(|| a.1.code.cmp(&b.1.code)));
    let count = rows.len();
    rows.truncate(most);
    let shown: Vec<Uuid> = rows.iter().map(|(_, farm, _)| farm.farm).collect();
    let visits = estimate_rows::last_visits(conn, number, &shown)?;
    let mut items = Vec::with_capacity(rows.len());
    for (_, farm, own) in rows {
        items.push(json!({
            "farm_id": farm.farm,
            "farm": farm.code,
            "area": names.get(&farm.area),
            "place": farm.place,
            "member_name": farm.name,
            "last_visit_on": visits.get(&farm.farm).map(day),
            "reasons": own.iter().map(|r| json!({
                "reason": r.reason, "since": r.since, "sentence": r.sentence,
                "action": r.action,
            })).collect::<Vec<_>>(),
        }));
    }
    Ok((items, count))
}

/// The last month in which each farm recorded anything; of all farms as kept.
fn last_months(
    conn: &mut Conn,
    (kept, coop): (&Estimates, i64),
    today: NaiveDate,
    of: Farms<'_>,
) -> Result<Arc<HashMap<Uuid, Month>>, AppError> {
    let recent = Month::of(today).plus(-1);
    if let Some(farms) = of {
        return Ok(Arc::new(estimate_rows::last_months(conn, coop, farms, recent)?));
    }
    let version = version(conn, coop, today)?;
    let farms = super::farms(conn, kept, coop, version)?;
    kept.by_farm(conn, (coop, "last months"), version, SUMS, |conn, of| {
        let all = || farms.iter().filter(|f| f.started_on.is_some()).map(|f| f.farm).collect();
        let of: Vec<Uuid> = of.map_or_else(all, <[Uuid]>::to_vec);
        Ok(estimate_rows::last_months(conn, coop, &of, recent)?)
    })
}

/// Open follow-ups that are overdue: farm, due day, action.
type Overdue = Arc<Vec<(Uuid, NaiveDate, String)>>;

/// Of all farms they lie among all follow-ups there were, so these are kept.
fn overdue(
    conn: &mut Conn,
    kept: &Estimates,
    coop: i64,
    today: NaiveDate,
    of: Farms<'_>,
) -> Result<Overdue, AppError> {
    if of.is_some() {
        return Ok(Arc::new(estimate_rows::overdue_follow_ups(conn, coop, today, of)?));
    }
    let version = version(conn, coop, today)?;
    kept.follow(conn, (coop, "overdue"), version, &[Kind::FollowUp], |conn| {
        Ok(estimate_rows::overdue_follow_ups(conn, coop, today, None)?)
    })
}

fn order(a: (u8, f64), b: (u8, f64)) -> std::cmp::Ordering {
    a.0.cmp(&b.0).then_with(|| a.1.total_cmp(&b.1))
}

fn days(from: NaiveDate, to: NaiveDate) -> f64 {
    i32::try_from((to - from).num_days()).map_or(0.0, f64::from)
}

fn has_started(farm: &FarmRow, today: NaiveDate) -> bool {
    farm.started_on.is_some_and(|d| d <= today)
}

/// A farm that grows and has not recorded anything for a whole month.
fn quiet(last: Option<Month>, today: NaiveDate) -> Option<Reason> {
    let last = last?;
    if last.plus(1) >= Month::of(today) {
        return None;
    }
    let since = last.last_day();
    let sentence = format!("nothing recorded since {last}: ask whether trays are still grown");
    Some(Reason {
        weight: (1, days(since, today)),
        reason: "no_records",
        since,
        sentence,
        action: None,
    })
}

fn is_new(since: NaiveDate, today: NaiveDate) -> bool {
    (0..=NEW_DAYS).contains(&(today - since).num_days())
}

/// A farm that has just started and has not been seen since.
fn fresh(farm: &FarmRow, visited: Option<NaiveDate>, today: NaiveDate) -> Option<Reason> {
    let since = farm.started_on?;
    if !is_new(since, today) || visited.is_some_and(|v| v >= since) {
        return None;
    }
    let sentence = format!("started on {since} and has not been visited since");
    Some(Reason {
        weight: (0, days(since, today)),
        reason: "new_starter",
        since,
        sentence,
        action: None,
    })
}
