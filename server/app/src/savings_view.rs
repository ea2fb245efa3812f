//! The savings report for pages: its head at once, and of its lines only those that are shown.

use crate::ctx::{Actor, App, Coop};
use crate::error::AppError;
use crate::estimates::{MONTHS, for_farm, for_report, version};
use crate::savings::{adjustments, has_begun, load, narrowed, told};
use crate::savings_parts::Parts;
use crate::txn::find_visible;
use serde_json::Value as Json;
use std::sync::Arc;
use traybook_domain::authz::Task;
use traybook_domain::value::{Instant, real};
use traybook_domain::{Kind, Month};
use traybook_reports::savings::{self, Report};
use traybook_storage::records::Visible;
use traybook_storage::{Conn, months};
use uuid::Uuid;

/// Whether lines say what the estimates say: intervals, output, spoilage.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Told {
    /// They do.
    Estimates,
    /// They do not, and no estimate is made for them.
    Figures,
}

/// The report of a month.
pub struct SavingsView {
    /// The report without its farms.
    pub head: Json,
    lines: Lines,
}

enum Lines {
    Open(Arc<Report>),
    Closed(Vec<Json>),
}

/// What a line is chosen and ordered by.
pub struct Brief<'a> {
    /// Name of the area.
    pub area: &'a str,
    /// Saving, currency units; none where there is no number.
    pub saving: Option<f64>,
    /// Its 95 % interval.
    pub interval: Option<(f64, f64)>,
    /// Whether something is missing for a number.
    pub has_missing: bool,
}

impl SavingsView {
    /// Every line in the order of the report, in short.
    #[must_use]
    pub fn briefs(&self) -> Vec<Brief<'_>> {
        match &self.lines {
            Lines::Open(report) => {
                let power = 10_f64.powi(i32::from(report.head.digits));
                let units = |minor: i64| real(minor) / power;
                let brief = |l: &'_ savings::Line| Brief {
                    area: "",
                    saving: l.saving().map(units),
                    interval: l.interval.map(|(low, high)| (units(low), units(high))),
                    has_missing: !l.missing.is_empty(),
                };
                let area = |l: &savings::Line| report.head.areas.get(&l.farm.area);
                let lines = report.lines.iter();
                lines
                    .map(|l| Brief { area: area(l).map_or("", String::as_str), ..brief(l) })
                    .collect()
            }
            Lines::Closed(lines) => lines.iter().map(brief_of).collect(),
        }
    }

    /// A line as it is published.
    #[must_use]
    pub fn line(&self, at: usize) -> Json {
        match &self.lines {
            Lines::Open(report) => {
                report.lines.get(at).map_or(Json::Null, |l| savings::line_json(l, report))
            }
            Lines::Closed(lines) => lines.get(at).cloned().unwrap_or(Json::Null),
        }
    }
}

fn brief_of(line: &Json) -> Brief<'_> {
    let interval = line.get("saving_interval");
    let bound = |name: &str| interval.and_then(|i| i.get(name)).and_then(Json::as_f64);
    let missing = line.get("missing").and_then(Json::as_array);
    Brief {
        area: line.get("area").and_then(Json::as_str).unwrap_or_default(),
        saving: line.get("saving").and_then(Json::as_f64),
        interval: bound("low").zip(bound("high")),
        has_missing: missing.is_some_and(|m| !m.is_empty()),
    }
}

impl App {
    /// The savings report of a month, within what the person may see, for a page.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for a month that has not begun.
    pub async fn savings_view(
        &self,
        actor: &Actor,
        month: Month,
        told: Told,
    ) -> Result<SavingsView, AppError> {
        let visible = actor.task(Task::SavingsReport)?;
        let (coop, app, now) = (actor.coop.clone(), self.clone(), self.now());
        has_begun(month, &coop, now)?;
        self.store
            .read(move |conn| {
                if let Some((json, _)) = narrowed(conn, &coop, month, &visible)? {
                    let mut head: Json = serde_json::from_str(&json)
                        .map_err(|e| AppError::Internal(e.to_string()))?;
                    let lines = match head.get_mut("farms").map(Json::take) {
                        Some(Json::Array(lines)) => lines,
                        _ => Vec::new(),
                    };
                    return Ok(SavingsView { head, lines: Lines::Closed(lines) });
                }
                let report = open_report(conn, &app, &coop, (now, month), (&visible, told))?;
                Ok(SavingsView { head: savings::head_json(&report), lines: Lines::Open(report) })
            })
            .await
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
    ) -> Result<Option<Json>, AppError> {
        let visible = actor.task(Task::SavingsReport)?;
        let (actor, app, now) = (actor.clone(), self.clone(), self.now());
        has_begun(month, &actor.coop, now)?;
        self.store
            .read(move |conn| {
                let coop = &actor.coop;
                let record = find_visible(conn, &actor, Kind::Farm, farm, &visible)?;
                if let Some(closed) = months::find(conn, coop.number, month)? {
                    return closed_line(&closed.report_json, farm);
                }
                let member = Kind::Farm.spec().get(&record.values, "member_id").as_id();
                let own = member.map_or(Visible::All, Visible::Member);
                let kept = &app.estimates;
                let mut input = load(conn, coop, month, &own, (false, Some(kept)))?;
                told(&mut input, &for_farm(conn, kept, coop, (now, month), farm)?);
                let report = savings::report(input);
                let line = report.lines.iter().find(|l| l.farm.farm == farm);
                Ok(line.map(|l| savings::line_json(l, &report)))
            })
            .await
    }
}

/// A farm's line of a closed report. The report is ours, to the byte: a line begins with its farm.
fn closed_line(report: &str, farm: Uuid) -> Result<Option<Json>, AppError> {
    let mark = format!("{{\"farm_id\":\"{farm}\"");
    let Some(rest) = report.find(&mark).and_then(|at| report.get(at..)) else { return Ok(None) };
    let mut values = serde_json::Deserializer::from_str(rest).into_iter::<Json>();
    values.next().transpose().map_err(|e| AppError::Internal(e.to_string()))
}

/// The report of an open month within what a person may see.
///
/// # Errors
/// Those of the store.
pub(crate) fn open_report(
    conn: &mut Conn,
    app: &App,
    coop: &Coop,
    (now, month): (Instant, Month),
    (visible, how): (&Visible, Told),
) -> Result<Arc<Report>, AppError> {
    if *visible == Visible::All {
        return whole(conn, app, coop, (now, month), how);
    }
    let mut input = load(conn, coop, month, visible, (true, Some(&app.estimates)))?;
    if how == Told::Estimates {
        told(&mut input, &*for_report(conn, &app.estimates, coop, now, month)?);
    }
    Ok(Arc::new(savings::report(input)))
}

/// The report of the whole co-operative, as kept until a record changes.
///
/// # Errors
/// Those of the store.
pub(crate) fn whole(
    conn: &mut Conn,
    app: &App,
    coop: &Coop,
    (now, month): (Instant, Month),
    how: Told,
) -> Result<Arc<Report>, AppError> {
    let (number, today) = (coop.number, coop.today(now));
    let (seq, day) = version(conn, number, today)?;
    let key = (number, if how == Told::Figures { "month" } else { "month with estimates" });
    app.estimates.get(key, (seq, day * MONTHS + month.number()), || {
        let parts = Parts::kept(conn, &app.estimates, coop, today, month)?;
        let adjustments = adjustments(conn, coop, month, &Visible::All)?;
        let mut input = parts.input(conn, coop, adjustments, Some(&app.estimates))?;
        if how == Told::Estimates {
            told(&mut input, &*for_report(conn, &app.estimates, coop, now, month)?);
        }
        Ok(savings::report(input))
    })
}
