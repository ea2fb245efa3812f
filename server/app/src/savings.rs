//! Loading the savings report: rows by farm, never by record.

use crate::ctx::{Actor, App, Coop};
use crate::error::AppError;
use crate::estimates::for_report;
use serde_json::Value as Json;
use std::collections::{BTreeMap, HashMap};
use traybook_domain::authz::Task;
use traybook_domain::effects::PRICE_MONTHS;
use traybook_domain::herd::animal_days;
use traybook_domain::kinds::{Area, Feed};
use traybook_domain::record::Record as _;
use traybook_domain::value::Instant;
use traybook_domain::{Kind, Month};
use traybook_reports::savings::{
    self, Adjustment, Extras, FarmInput, GroupInput, Input, Report, depreciation, median_prices,
};
use traybook_storage::records::{self, Filter, Visible};
use traybook_storage::{Conn, changes, months, report_rows};
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
    pub report: Option<Box<Report>>,
}

/// Reads a month that reports are made of.
///
/// # Errors
/// `Invalid` for another form, a month before records and one that has not begun.
pub fn read_month(text: &str, coop: &Coop, now: Instant) -> Result<Month, AppError> {
    let month = Month::parse(text)
        .ok_or_else(|| AppError::field("month", "type", "give a month as YYYY-MM"))?;
    if month > Month::of(coop.today(now)) {
        return Err(AppError::field("month", "future", "give a month that has begun"));
    }
    Ok(month)
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
        let (coop, app, now) = (actor.coop.clone(), self.clone(), self.now());
        self.store
            .read(move |conn| {
                let extras = |conn: &mut Conn| for_report(conn, &app.estimates, &coop, now, month);
                text_with(conn, &coop, month, (&visible, form), extras)
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
        let (coop, app, now) = (actor.coop.clone(), self.clone(), self.now());
        self.store
            .read(move |conn| {
                let one = |month: &Month| {
                    let extras =
                        |conn: &mut Conn| for_report(conn, &app.estimates, &coop, now, *month);
                    let text = text_with(conn, &coop, *month, (&visible, Form::Json), extras)?;
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
    text_with(conn, coop, month, (visible, Form::Json), |_| Ok(HashMap::new()))
}

/// The report of a month: as it was closed, or as the records and estimates stand.
fn text_with(
    conn: &mut Conn,
    coop: &Coop,
    month: Month,
    (visible, form): (&Visible, Form),
    extras: impl FnOnce(&mut Conn) -> Result<HashMap<Uuid, Extras>, AppError>,
) -> Result<SavingsText, AppError> {
    if let Some(closed) = months::find(conn, coop.number, month)? {
        let (json, csv) = match visible {
            Visible::All => (closed.report_json, closed.report_csv),
            _ => narrow(conn, coop, visible, &closed.report_json, &closed.report_csv)?,
        };
        return Ok(SavingsText { json, csv, is_closed: true, report: None });
    }
    let mut input = load(conn, coop, month, visible, true)?;
    input.extras = extras(conn)?;
    let report = savings::report(input);
    let json = if form == Form::Csv { String::new() } else { savings::json(&report, false) };
    let csv = if form == Form::Json { String::new() } else { savings::csv(&report) };
    Ok(SavingsText { json, csv, is_closed: false, report: Some(Box::new(report)) })
}

/// The farms of a person who sees only some.
fn seen_farms(
    conn: &mut Conn,
    coop: &Coop,
    visible: &Visible,
) -> Result<Vec<report_rows::FarmRow>, AppError> {
    let mut farms = report_rows::farms(conn, coop.number)?;
    farms.retain(|f| visible.sees(f.area, f.member));
    Ok(farms)
}

/// A closed report without the farms and totals that the person may not see.
fn narrow(
    conn: &mut Conn,
    coop: &Coop,
    visible: &Visible,
    json: &str,
    csv: &str,
) -> Result<(String, String), AppError> {
    let seen = seen_farms(conn, coop, visible)?;
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
    let number = coop.number;
    let guide = coop.guide(conn)?;
    let farms = seen_farms(conn, coop, visible)?;
    let mut sums: HashMap<Uuid, _> = report_rows::sums(conn, number, month)?.into_iter().collect();
    let mut groups = groups(conn, number, month)?;
    let bought = report_rows::feeds(conn, number, month)?;
    let mut feeds: HashMap<Uuid, Vec<(Uuid, i64, i64)>> = HashMap::new();
    for (farm, feed, grams, minor) in &bought {
        feeds.entry(*farm).or_default().push((*feed, *grams, *minor));
    }
    let mut seed = seed_costs(conn, number, month)?;
    let mut lost: HashMap<Uuid, i64> = HashMap::new();
    for a in report_rows::assets(conn, number, month)? {
        let (from, until) = (Month::of(a.in_service_on), a.disposed_on.map(Month::of));
        *lost.entry(a.farm).or_default() +=
            depreciation(month, from, until, a.value, a.life_months);
    }
    let mut lines = Vec::with_capacity(farms.len());
    for f in farms {
        let (joined, left) = f.joined;
        if joined > month.last_day() || left.is_some_and(|l| l < month.first_day()) {
            continue;
        }
        lines.push(FarmInput {
            farm: f.farm,
            farm_code: f.code,
            member: f.member,
            member_number: f.number,
            member_name: f.name,
            area: f.area,
            started: f.started_on.map(Month::of),
            sums: sums.remove(&f.farm),
            groups: groups.remove(&f.farm).unwrap_or_default(),
            feeds: feeds.get(&f.farm).cloned().unwrap_or_default(),
            seed_minor: seed.remove(&f.farm).unwrap_or(Some(0)),
            depreciation_minor: lost.remove(&f.farm).unwrap_or(0),
        });
    }
    // The medians are those of the whole co-operative, whoever reads.
    let all: Vec<(Uuid, i64, i64)> = bought.iter().map(|(_, f, g, m)| (*f, *g, *m)).collect();
    let mut prices = vec![median_prices(all.iter())];
    let names = feed_names(conn, number)?;
    let priced = prices.first();
    let rations = lines.iter().flat_map(|f| f.groups.iter().flat_map(|g| g.ration.iter()));
    let all_priced =
        rations.into_iter().all(|(feed, _)| priced.is_some_and(|p| p.contains_key(feed)));
    if !all_priced {
        for back in 1..=PRICE_MONTHS {
            let rows = report_rows::feeds(conn, number, month.plus(-back))?;
            let rows: Vec<(Uuid, i64, i64)> =
                rows.into_iter().map(|(_, f, g, m)| (f, g, m)).collect();
            prices.push(median_prices(rows.iter()));
        }
    }
    let adjustments =
        if with_adjustments { adjustments(conn, coop, month, visible)? } else { Vec::new() };
    Ok(Input {
        month,
        cooperative: coop.name.clone(),
        currency: coop.currency.clone(),
        digits: coop.digits,
        fodder_dry_matter: guide.fodder_dry_matter(month.last_day()),
        farms: lines,
        areas: area_names(conn, number)?,
        feeds: names,
        median_prices: prices,
        adjustments,
        extras: HashMap::new(),
        data_version: changes::counters(conn, number)?.change_seq,
    })
}

fn groups(
    conn: &mut Conn,
    number: i64,
    month: Month,
) -> Result<HashMap<Uuid, Vec<GroupInput>>, AppError> {
    let mut rations: HashMap<Uuid, Vec<(Uuid, i64)>> = HashMap::new();
    for (group, feed, grams) in report_rows::rations(conn, number)? {
        rations.entry(group).or_default().push((feed, grams));
    }
    let mut by_farm: HashMap<Uuid, Vec<GroupInput>> = HashMap::new();
    for row in report_rows::groups(conn, number, month)? {
        by_farm.entry(row.farm).or_default().push(GroupInput {
            animal_days: animal_days(row.herd, month),
            ration: rations.remove(&row.group).unwrap_or_default(),
        });
    }
    Ok(by_farm)
}

/// What the seed soaked cost each farm; none where a lot has no price.
fn seed_costs(
    conn: &mut Conn,
    number: i64,
    month: Month,
) -> Result<HashMap<Uuid, Option<i64>>, AppError> {
    let mut costs: HashMap<Uuid, Option<i64>> = HashMap::new();
    for row in report_rows::seed(conn, number, Some(month))? {
        let entry = costs.entry(row.farm).or_insert(Some(0));
        *entry = entry.zip(row.cost()).map(|(a, b)| a + b);
    }
    Ok(costs)
}

fn feed_names(conn: &mut Conn, number: i64) -> Result<HashMap<Uuid, String>, AppError> {
    let (all, filter) = (Visible::All, Filter { withdrawn: true, ..Filter::default() });
    let feeds = records::page(conn, number, Kind::Feed, &all, &filter, None, 10_000)?;
    let name = |r: &records::Record| Feed::from_values(&r.values).map(|f| (r.id, f.name));
    Ok(feeds.iter().filter_map(name).collect())
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
