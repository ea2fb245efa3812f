//! The savings report of a month: as it was closed, or as records and estimates stand.

use super::load::{few, load, seen_farms};
use super::reports::Reports;
use crate::error::AppError;
use crate::estimates::extras;
use crate::records::find_visible;
use crate::{Actor, App, Coop};
use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;
use traybook_answers::savings::{FarmLine, SavingsReport};
use traybook_domain::authz::Task;
use traybook_domain::value::Instant;
use traybook_domain::{Kind, Month};
use traybook_reports::savings::{self, Adjustment, Input};
use traybook_storage::months::{self, Close};
use traybook_storage::records::Visible;
use traybook_storage::{Conn, changes, report_rows, snapshots};
use uuid::Uuid;

/// A text that is sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// JSON.
    Json,
    /// CSV.
    Csv,
}

/// Reads a month that reports are made of.
///
/// # Errors
/// `Invalid` for another form, a month before records and one that has not begun.
pub fn read_month(text: &str, coop: &Coop, now: Instant) -> Result<Month, AppError> {
    let month = Month::parse(text)
        .ok_or_else(|| AppError::field("month", "type", "give a month as YYYY-MM"))?;
    has_begun(month, coop, now)?;
    Ok(month)
}

/// Refuses a month that is still to come.
pub(crate) fn has_begun(month: Month, coop: &Coop, now: Instant) -> Result<(), AppError> {
    if month > Month::of(coop.today(now)) {
        return Err(AppError::field("month", "future", "give a month that has begun"));
    }
    Ok(())
}

impl App {
    /// The savings report of a month as text, within what the person may see: of a closed month the
    /// one that was frozen, to the byte, for who sees all of it.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for what is no month or has not begun.
    pub async fn savings_text(
        &self,
        actor: &Actor,
        month: &str,
        form: Form,
    ) -> Result<String, AppError> {
        let visible = actor.task(Task::SavingsReport)?;
        let month = read_month(month, &actor.coop, self.now())?;
        let (coop, kept) = (actor.coop.clone(), Arc::clone(&self.reports));
        self.store
            .read(move |conn| {
                if visible == Visible::All
                    && let Some(closed) = months::find(conn, coop.number, month)?
                {
                    return Ok(match form {
                        Form::Json => closed.report_json,
                        Form::Csv => closed.report_csv,
                    });
                }
                let report = published(conn, &kept, &coop, month, &visible)?;
                match form {
                    Form::Json => savings::json(&report).map_err(AppError::Internal),
                    Form::Csv => Ok(savings::csv(&report)),
                }
            })
            .await
    }

    /// The savings reports of months within what the person may see, all as of one moment.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for a month that has not begun.
    pub async fn savings_reports(
        &self,
        actor: &Actor,
        months: Vec<Month>,
    ) -> Result<Vec<Arc<SavingsReport>>, AppError> {
        let visible = actor.task(Task::SavingsReport)?;
        let (coop, kept) = (actor.coop.clone(), Arc::clone(&self.reports));
        for month in &months {
            has_begun(*month, &coop, self.now())?;
        }
        self.store
            .read(move |conn| {
                let mut one = |month| published(conn, &kept, &coop, month, &visible);
                months.into_iter().map(&mut one).collect()
            })
            .await
    }

    /// The savings report of one month.
    ///
    /// # Errors
    /// As for [`App::savings_reports`].
    pub async fn savings_report(
        &self,
        actor: &Actor,
        month: Month,
    ) -> Result<Arc<SavingsReport>, AppError> {
        let all = self.savings_reports(actor, vec![month]).await?;
        all.into_iter().next().ok_or(AppError::NotFound)
    }

    /// One farm's line of the savings report of a month; none where the report has none.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for a month that has not begun; `NotFound` for a farm out of reach.
    pub async fn farm_saving(
        &self,
        actor: &Actor,
        farm: Uuid,
        month: Month,
    ) -> Result<Option<FarmLine>, AppError> {
        let visible = actor.task(Task::SavingsReport)?;
        let actor = actor.clone();
        has_begun(month, &actor.coop, self.now())?;
        self.store
            .read(move |conn| {
                let coop = &actor.coop;
                let record = find_visible(conn, &actor, Kind::Farm, farm, &visible)?;
                if let Some(Close { report_version, report_json, .. }) =
                    months::find(conn, coop.number, month)?
                {
                    return SavingsReport::read_farm(report_version, &report_json, farm)
                        .map_err(AppError::Internal);
                }
                let member = Kind::Farm.spec().get(&record.values, "member_id").as_id();
                let own = member.map_or(Visible::All, Visible::Member);
                let mut input = load(conn, coop, month, &own)?;
                input.extras = extras(conn, coop.number, month, Some(&[farm]))?;
                let report = savings::report(input).publish(false);
                Ok(report.farms.into_iter().find(|line| line.farm_id == farm))
            })
            .await
    }
}

/// The report of a month within what a person may see.
fn published(
    conn: &mut Conn,
    kept: &Reports,
    coop: &Coop,
    month: Month,
    visible: &Visible,
) -> Result<Arc<SavingsReport>, AppError> {
    let Some(closed) = months::find(conn, coop.number, month)? else {
        let revision = changes::counters(conn, coop.number)?.revision;
        let key = (coop.number, month, revision, snapshots::state(conn, coop.number)?);
        let is_whole = *visible == Visible::All;
        if let Some(report) = kept.get(&key).filter(|_| is_whole) {
            return Ok(report);
        }
        let mut input = load_with_adjustments(conn, coop, month, visible)?;
        let few = few(conn, coop.number, visible)?;
        input.extras = extras(conn, coop.number, month, few.as_deref())?;
        let report = Arc::new(savings::report(input).publish(false));
        if is_whole {
            kept.put(key, &report);
        }
        return Ok(report);
    };
    let report = SavingsReport::read(closed.report_version, &closed.report_json);
    let report = report.map_err(AppError::Internal)?;
    if *visible == Visible::All {
        return Ok(Arc::new(report));
    }
    let (seen, _) = seen_farms(conn, coop.number, visible)?;
    let seen: HashSet<Uuid> = seen.iter().map(|f| f.farm).collect();
    Ok(Arc::new(report.narrowed(|farm| seen.contains(&farm))))
}

/// What the report of an open month is made of, without what the estimates say.
///
/// # Errors
/// Those of the store.
pub(super) fn load_with_adjustments(
    conn: &mut Conn,
    coop: &Coop,
    month: Month,
    visible: &Visible,
) -> Result<Input, AppError> {
    let mut input = load(conn, coop, month, visible)?;
    input.adjustments = adjustments(conn, coop, month, visible)?;
    Ok(input)
}

/// What records say now of closed months whose records have changed, where it differs from what
/// has been reported.
fn adjustments(
    conn: &mut Conn,
    coop: &Coop,
    before: Month,
    visible: &Visible,
) -> Result<Vec<Adjustment>, AppError> {
    let mut all = Vec::new();
    let closed = months::list(conn, coop.number)?;
    if !closed.iter().any(|(month, _, _, touched)| *touched && *month < before) {
        return Ok(all);
    }
    let seen = report_rows::farm_codes(conn, coop.number)?;
    let seen: HashMap<Uuid, String> =
        seen.into_iter().filter(|f| visible.sees(f.2, f.3)).map(|f| (f.0, f.1)).collect();
    for (month, _, _, touched) in closed {
        if !touched || month >= before {
            continue;
        }
        let mut reported: BTreeMap<Uuid, Option<i64>> = BTreeMap::new();
        for line in months::reported(conn, coop.number, month)? {
            let sum = reported.entry(line.farm).or_insert(None);
            if let Some(minor) = line.saving_minor {
                *sum = Some(sum.unwrap_or(0) + minor);
            }
        }
        let now = savings::report(load(conn, coop, month, &Visible::All)?);
        let mut today: BTreeMap<Uuid, Option<i64>> =
            now.lines.iter().map(|l| (l.farm.farm, l.saving())).collect();
        // A farm that is no longer in the report had its saving reported all the same.
        for farm in reported.keys() {
            today.entry(*farm).or_insert(None);
        }
        for (farm, now_minor) in today {
            let reported_minor = reported.get(&farm).copied().flatten();
            let Some(code) = seen.get(&farm) else { continue };
            let farm_code = code.clone();
            let adjustment = Adjustment { month, farm, farm_code, reported_minor, now_minor };
            // A number that came or went without any money is no news twice.
            let known = reported.contains_key(&farm);
            if adjustment.change_minor() != 0 || (now_minor.is_some() && !known) {
                all.push(adjustment);
            }
        }
    }
    Ok(all)
}
