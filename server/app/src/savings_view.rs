//! The savings report for pages: its head at once, and of its lines only those that are shown.

use crate::ctx::{Actor, App, Coop};
use crate::error::AppError;
use crate::estimates::figures::extras;
use crate::savings::{FEW, has_begun, load, narrowed};
use crate::txn::find_visible;
use serde_json::Value as Json;
use std::sync::Arc;
use traybook_domain::authz::Task;
use traybook_domain::value::real;
use traybook_domain::{Kind, Month};
use traybook_reports::savings::{self, Report};
use traybook_storage::records::Visible;
use traybook_storage::{Conn, farm_rows, months};
use uuid::Uuid;

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
    pub async fn savings_view(&self, actor: &Actor, month: Month) -> Result<SavingsView, AppError> {
        let visible = actor.task(Task::SavingsReport)?;
        let (coop, now) = (actor.coop.clone(), self.now());
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
                let report = open_report(conn, &coop, month, &visible)?;
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
        let (actor, now) = (actor.clone(), self.now());
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
                let mut input = load(conn, coop, month, &own, false)?;
                input.extras = extras(conn, coop.number, month, Some(&[farm]))?;
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

/// The report of an open month within what a person may see, with what the figures say of its farms
/// as they were last made.
///
/// # Errors
/// Those of the store.
pub(crate) fn open_report(
    conn: &mut Conn,
    coop: &Coop,
    month: Month,
    visible: &Visible,
) -> Result<Arc<Report>, AppError> {
    let mut input = load(conn, coop, month, visible, true)?;
    let few = farm_rows::few(conn, coop.number, visible, FEW)?;
    input.extras = extras(conn, coop.number, month, few.as_deref())?;
    Ok(Arc::new(savings::report(input)))
}
