//! Loading the savings report: rows by farm, never by record.

use crate::ctx::{Actor, App, Coop};
use crate::error::AppError;
use crate::savings_parts::Parts;
use crate::savings_view::open_report;
use serde_json::Value as Json;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;
use traybook_domain::authz::Task;
use traybook_domain::kinds::Area;
use traybook_domain::record::Record as _;
use traybook_domain::value::Instant;
use traybook_domain::{Kind, Month};
use traybook_reports::savings::{self, Adjustment, Input, Report};
use traybook_storage::farm_rows;
use traybook_storage::records::{self, Filter, Visible};
use traybook_storage::{Conn, months, report_rows};
use uuid::Uuid;

/// Which form of a report is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// JSON only; the CSV is empty.
    Json,
    /// CSV only; the JSON is empty.
    Csv,
    /// Both.
    Both,
}

/// A report as it is sent.
#[derive(Clone, Debug)]
pub struct SavingsText {
    /// JSON, to the byte.
    pub json: String,
    /// CSV, to the byte.
    pub csv: String,
    /// Whether the month is closed.
    pub is_closed: bool,
    /// For the terminal; only while the month is open.
    pub report: Option<Arc<Report>>,
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
    /// The savings report of a month, within what the person may see.
    ///
    /// # Errors
    /// `Forbidden`, `Invalid`.
    pub async fn savings(
        &self,
        actor: &Actor,
        month: &str,
        form: Form,
    ) -> Result<SavingsText, AppError> {
        let visible = actor.task(Task::SavingsReport)?;
        let month = read_month(month, &actor.coop, self.now())?;
        let coop = actor.coop.clone();
        self.store
            .read(move |conn| {
                let report = |conn: &mut Conn| open_report(conn, &coop, month, &visible);
                text_with(conn, &coop, month, (&visible, form), report)
            })
            .await
    }

    /// The reports of months as they are published, all as of one moment.
    ///
    /// # Errors
    /// `Forbidden`.
    pub(crate) async fn savings_json(
        &self,
        actor: &Actor,
        months: Vec<Month>,
    ) -> Result<Vec<String>, AppError> {
        let visible = actor.task(Task::SavingsReport)?;
        let coop = actor.coop.clone();
        self.store
            .read(move |conn| {
                let one = |month: &Month| {
                    let report = |conn: &mut Conn| open_report(conn, &coop, *month, &visible);
                    let text = text_with(conn, &coop, *month, (&visible, Form::Json), report)?;
                    Ok(text.json)
                };
                months.iter().map(one).collect()
            })
            .await
    }
}

/// The report of a month as JSON, without what the estimates say.
///
/// # Errors
/// Those of the store.
pub fn text(
    conn: &mut Conn,
    coop: &Coop,
    month: Month,
    visible: &Visible,
) -> Result<SavingsText, AppError> {
    text_with(conn, coop, month, (visible, Form::Json), |conn| {
        Ok(Arc::new(savings::report(load(conn, coop, month, visible, true)?)))
    })
}

/// The report of a month: as it was closed, or as the records and estimates stand.
fn text_with(
    conn: &mut Conn,
    coop: &Coop,
    month: Month,
    (visible, form): (&Visible, Form),
    report: impl FnOnce(&mut Conn) -> Result<Arc<Report>, AppError>,
) -> Result<SavingsText, AppError> {
    if let Some((json, csv)) = narrowed(conn, coop, month, visible)? {
        return Ok(SavingsText { json, csv, is_closed: true, report: None });
    }
    let report = report(conn)?;
    let json = if form == Form::Csv { String::new() } else { savings::json(&report, false) };
    let csv = if form == Form::Json { String::new() } else { savings::csv(&report) };
    Ok(SavingsText { json, csv, is_closed: false, report: Some(report) })
}

/// The JSON and CSV of a closed month, within what the person may see; none while it is open.
pub(crate) fn narrowed(
    conn: &mut Conn,
    coop: &Coop,
    month: Month,
    visible: &Visible,
) -> Result<Option<(String, String)>, AppError> {
    let Some(closed) = months::find(conn, coop.number, month)? else { return Ok(None) };
    Ok(Some(match visible {
        Visible::All => (closed.report_json, closed.report_csv),
        _ => narrow(conn, coop, visible, &closed.report_json, &closed.report_csv)?,
    }))
}

/// Farms that are read by name rather than with all others.
pub(crate) const FEW: usize = 8;

/// Farms, and the ids of these where they are few.
type SeenFarms = (Vec<Arc<report_rows::FarmRow>>, Option<Vec<Uuid>>);

/// The farms of a person, by code, and their ids where they are few.
pub(crate) fn seen_farms(
    conn: &mut Conn,
    number: i64,
    visible: &Visible,
) -> Result<SeenFarms, AppError> {
    let few = farm_rows::few(conn, number, visible, FEW)?;
    let mut farms = farm_rows::farms(conn, number, few.as_deref())?;
    farms.retain(|f| visible.sees(f.area, f.member));
    Ok((farms, few))
}

/// A closed report without the farms and totals that the person may not see.
fn narrow(
    conn: &mut Conn,
    coop: &Coop,
    visible: &Visible,
    json: &str,
    csv: &str,
) -> Result<(String, String), AppError> {
    let (seen, _) = seen_farms(conn, coop.number, visible)?;
    let ids: Vec<String> = seen.iter().map(|f| f.farm.to_string()).collect();
    let mut report: Json =
        serde_json::from_str(json).map_err(|e| AppError::Internal(e.to_string()))?;
    let keep = |list: Option<&mut Json>| {
        if let Some(Json::Array(list)) = list {
            list.retain(|row| {
                let id = row.get("farm_id").and_then(Json::as_str);
                id.is_some_and(|id| ids.iter().any(|i| i == id))
            });
        }
    };
    keep(report.get_mut("farms"));
    keep(report.get_mut("adjustments"));
    // The lines carry the codes that farms had when the month was closed.
    let mut codes: Vec<String> = Vec::new();
    for part in ["farms", "adjustments"] {
        let rows = report.get(part).and_then(Json::as_array).into_iter().flatten();
        codes.extend(rows.filter_map(|r| r.get("farm")?.as_str().map(str::to_owned)));
    }
    for part in ["areas", "total", "adjustments_total"] {
        if let Some(slot) = report.get_mut(part) {
            *slot = if part == "areas" { Json::Array(Vec::new()) } else { Json::Null };
        }
    }
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(csv.as_bytes());
    let mut lines = String::new();
    for (index, row) in reader.records().enumerate() {
        let row = row.map_err(|e| AppError::Internal(e.to_string()))?;
        let farm = row.get(5).map(traybook_reports::csv_text::unguard).unwrap_or_default();
        if index == 0 || codes.iter().any(|c| c == farm) {
            let cells: Vec<&str> = row.iter().map(traybook_reports::csv_text::unguard).collect();
            lines.push_str(&traybook_reports::csv_text::line(&cells));
        }
    }
    Ok((format!("{report}\n"), lines))
}

/// Loads what the report of an open month needs.
///
/// # Errors
/// Those of the store.
pub fn load(
    conn: &mut Conn,
    coop: &Coop,
    month: Month,
    visible: &Visible,
    with_adjustments: bool,
) -> Result<Input, AppError> {
    let (farms, few) = seen_farms(conn, coop.number, visible)?;
    let parts = Parts::read(conn, coop, month, farms, few.as_deref())?;
    let adjustments =
        if with_adjustments { adjustments(conn, coop, month, visible)? } else { Vec::new() };
    parts.input(conn, coop, adjustments)
}

/// Names of areas.
///
/// # Errors
/// Those of the store.
pub fn area_names(conn: &mut Conn, number: i64) -> Result<BTreeMap<Uuid, String>, AppError> {
    let (all, filter) = (Visible::All, Filter { withdrawn: true, ..Filter::default() });
    let areas = records::page(conn, number, Kind::Area, &all, &filter, None, 100_000)?;
    let name = |r: &records::Record| Area::from_values(&r.values).map(|a| (r.id, a.name));
    Ok(areas.iter().filter_map(name).collect())
}

/// What records say now of closed months whose records have changed, where it differs from what
/// has been reported.
pub(crate) fn adjustments(
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
        let now = savings::report(load(conn, coop, month, &Visible::All, false)?);
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
