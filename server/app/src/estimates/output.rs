//! Did output per animal and day really change after the start?

use super::figures::CoopOutput;
use super::{grouped, put, real};
use crate::error::AppError;
use chrono::NaiveDate;
use std::collections::HashMap;
use std::sync::Arc;
use traybook_analytics::callaway::{Control, group_times};
use traybook_analytics::limits::PRE_START_EVENTS;
use traybook_analytics::member_effect::{
    self, MemberEffect, MemberEffects, MemberRules, MemberStatus, member_effects,
};
use traybook_analytics::panel::Panel;
use traybook_analytics::programme::{
    Averaging, ProgrammeEffect, Reference, imputation_effect, programme_effect, programmes_disagree,
};
use traybook_analytics::records::{FarmMonths, Output, stage_covariates};
use traybook_analytics::sentences::{output_change_sentence, programme_sentence, warning_sentence};
use traybook_analytics::stats::LogEstimate;
use traybook_answers::estimates::{
    AreaOutputChange, BeforeStart, Enterprise, OutputFigures, OutputStatus, Percent,
    ProgrammeOutputChange, Verdict,
};
use traybook_answers::wire;
use traybook_domain::Month;
use traybook_storage::Conn;
use traybook_storage::estimate_rows::{OutputCell, output_cells};
use traybook_storage::farm_rows::FarmRow;
use uuid::Uuid;

/// How it is estimated.
pub(super) const METHOD: &str = "change in output per animal-day after the farm's start, net of what farms that \
    had not started did in the same months; months without five such farms are not used; members \
    are pulled towards the group where data are few (empirical Bayes); 95 % intervals. From month \
    sums: output over animals of the days with a record";
/// Units of the figures.
pub(super) const UNITS: &str = "per cent of what output per animal-day would have been; months and records \
    (group-days) used";

/// The figures of one enterprise.
pub(super) struct Made {
    pub coop: CoopOutput,
    pub farms: Vec<(Uuid, OutputFigures)>,
}

/// What the analytics call an enterprise.
const fn measure(enterprise: Enterprise) -> Output {
    match enterprise {
        Enterprise::Milk => Output::Milk,
        Enterprise::Eggs => Output::Eggs,
    }
}

/// Makes the figures of an enterprise; a farm without any record of it has none.
///
/// # Errors
/// Those of the store.
pub(super) fn make(
    conn: &mut Conn,
    coop: i64,
    (enterprise, today): (Enterprise, NaiveDate),
    all: &[Arc<FarmRow>],
) -> Result<Made, AppError> {
    let is_milk = enterprise == Enterprise::Milk;
    let rows = output_cells(conn, coop, is_milk, None)?;
    let cells: HashMap<Uuid, Vec<OutputCell>> = grouped(rows, |c| c.farm).collect();
    let farms: Vec<Arc<FarmRow>> =
        all.iter().filter(|f| cells.contains_key(&f.farm)).cloned().collect();
    let output = measure(enterprise);
    let months = || cells.values().flat_map(|c| c.iter()).map(|c| c.month);
    let Some((first, last)) = months().min().zip(months().max()) else {
        let coop = CoopOutput {
            first_month: None,
            last_month: None,
            is_stage_adjusted: false,
            programme: programme(None, &Checks::default(), output),
            areas: Vec::new(),
        };
        return Ok(Made { coop, farms: Vec::new() });
    };
    let sums = panel_sums(&farms, &cells, (first, last), is_milk);
    let start: Vec<Option<u32>> = farms.iter().map(|f| start(f, first, last, today)).collect();
    let covariates = stage_covariates(&sums, output);
    let panel =
        Panel::new(sums.months, &sums.log_output, &sums.records, &start, covariates.as_ref());
    let panel = panel.map_err(|e| AppError::Internal(e.to_string()))?;
    let effects = member_effects(&panel, &MemberRules::default());
    let times = group_times(&panel, Control::NotYetStarted);
    let (low, high) = PRE_START_EVENTS;
    let events = times.dynamic(1).by_event.into_iter();
    let checks = Checks {
        before_start: events.filter(|e| (low..=high).contains(&e.0)).collect(),
        cross_check: times.simple(1),
    };
    let areas = by_area(&panel, &effects, &farms, sums.months);
    let programme_effect = programme_effect(&panel, &effects);
    let lines = farms.iter().zip(&effects.members);
    Ok(Made {
        farms: lines.map(|(f, effect)| (f.farm, figures(effect, output))).collect(),
        coop: CoopOutput {
            first_month: Some(wire::Month(first)),
            last_month: Some(wire::Month(last)),
            is_stage_adjusted: covariates.is_some(),
            programme: programme(programme_effect.as_ref(), &checks, output),
            areas: areas
                .into_iter()
                .map(|(id, effect)| (id, area(effect.as_ref(), output)))
                .collect(),
        },
    })
}

/// Farms by months. The running month is not over: its sums are those of some days only, which is
/// no bias.
fn panel_sums(
    farms: &[Arc<FarmRow>],
    cells: &HashMap<Uuid, Vec<OutputCell>>,
    (first, last): (Month, Month),
    is_milk: bool,
) -> FarmMonths {
    let count = usize::try_from(last.number() - first.number() + 1).unwrap_or(0);
    let size = farms.len() * count;
    let mut sums = FarmMonths {
        months: count,
        log_output: vec![f64::NAN; size],
        records: vec![0.0; size],
        stage: vec![f64::NAN; size],
        dropped: 0,
    };
    let of_farms = farms.iter().enumerate().filter_map(|(at, f)| Some((at, cells.get(&f.farm)?)));
    for (farm, cell) in of_farms.flat_map(|(at, cells)| cells.iter().map(move |c| (at, c))) {
        let month = usize::try_from(cell.month.number() - first.number()).unwrap_or(0);
        let at = farm * count + month;
        let (amount, animals) = (real(cell.amount), real(cell.animal_days));
        if amount > 0.0 && animals > 0.0 {
            let unit = if is_milk { 1000.0 } else { 1.0 };
            put(&mut sums.log_output, at, (amount / unit / animals).ln());
            put(&mut sums.records, at, real(cell.records));
        }
        if cell.stage.1 > 0 {
            put(&mut sums.stage, at, real(cell.stage.0) / real(cell.stage.1));
        }
    }
    sums
}

/// What the programme's estimate is checked against.
#[derive(Default)]
struct Checks {
    cross_check: Option<LogEstimate>,
    before_start: Vec<(i64, LogEstimate)>,
}

/// Month of the first soak as a month of the panel; none when it has not come.
fn start(farm: &FarmRow, first: Month, last: Month, today: NaiveDate) -> Option<u32> {
    let started = farm.started_on.filter(|day| *day <= today)?;
    let month = Month::of(started);
    if month > last {
        return None;
    }
    Some(u32::try_from(month.number() - first.number()).unwrap_or(0))
}

fn by_area(
    panel: &Panel<'_>,
    effects: &MemberEffects,
    farms: &[Arc<FarmRow>],
    months: usize,
) -> Vec<(Uuid, Option<ProgrammeEffect>)> {
    let mut areas: Vec<Uuid> = farms.iter().map(|f| f.area).collect();
    areas.sort_unstable();
    areas.dedup();
    let effect = |area: Uuid| {
        let keep = |(at, is_post): (usize, &bool)| {
            *is_post && farms.get(at / months.max(1)).is_some_and(|f| f.area == area)
        };
        let cells: Vec<bool> = effects.post_cells.iter().enumerate().map(keep).collect();
        let (averaging, reference) = (Averaging::FarmEqual, Reference::Horizon);
        imputation_effect(panel, &effects.fit, &cells, averaging, reference)
    };
    areas.into_iter().map(|area| (area, effect(area))).collect()
}

fn round(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

/// An estimate in per cent with its interval; empty where there is none.
fn percent(estimate: Option<&LogEstimate>) -> Percent {
    estimate.and_then(LogEstimate::percent).map_or_else(Percent::default, |p| Percent {
        percent: Some(round(p.value)),
        low: Some(round(p.interval.lower)),
        high: Some(round(p.interval.upper)),
    })
}

fn count(n: usize) -> u64 {
    u64::try_from(n).unwrap_or(u64::MAX)
}

fn area(effect: Option<&ProgrammeEffect>, output: Output) -> AreaOutputChange {
    let Percent { percent, low, high } = percent(effect.map(|e| &e.estimate));
    AreaOutputChange {
        area: None,
        farms_estimated: effect.map_or(0, |e| count(e.farms)),
        sentence: programme_sentence(effect, output),
        percent,
        low,
        high,
    }
}

fn programme(
    effect: Option<&ProgrammeEffect>,
    checks: &Checks,
    output: Output,
) -> ProgrammeOutputChange {
    let both = effect.map(|e| &e.estimate).zip(checks.cross_check.as_ref());
    let before = |(months_from_start, estimate): &(i64, LogEstimate)| {
        let Percent { percent, low, high } = percent(Some(estimate));
        BeforeStart { months_from_start: *months_from_start, percent, low, high }
    };
    let Percent { percent: value, low, high } = percent(effect.map(|e| &e.estimate));
    ProgrammeOutputChange {
        farms_estimated: effect.map_or(0, |p| count(p.farms)),
        farm_months: effect.map_or(0, |p| count(p.cells)),
        sentence: programme_sentence(effect, output),
        cross_check: percent(checks.cross_check.as_ref()),
        is_cross_check_apart: both.is_some_and(|(a, b)| programmes_disagree(a, b)),
        warning: both.and_then(|(a, b)| warning_sentence(a, b)),
        before_start: checks.before_start.iter().map(before).collect(),
        percent: value,
        low,
        high,
    }
}

fn figures(e: &MemberEffect, output: Output) -> OutputFigures {
    let Percent { percent, low, high } = percent(e.published());
    OutputFigures {
        status: match e.status {
            MemberStatus::NotStarted => OutputStatus::NotStarted,
            MemberStatus::NoPreData => OutputStatus::NoPreData,
            MemberStatus::InsufficientPre => OutputStatus::InsufficientPre,
            MemberStatus::InsufficientPost => OutputStatus::InsufficientPost,
            MemberStatus::NoControls => OutputStatus::NoControls,
            MemberStatus::Estimated => OutputStatus::Estimated,
        },
        months_before: count(e.pre.months),
        records_before: e.pre.records,
        months_after: count(e.post.months),
        records_after: e.post.records,
        is_shrunken: e.shrunken.is_some(),
        rank: e.rank.map(count),
        verdict: e.verdict.map(|v| match v {
            member_effect::Verdict::Increase => Verdict::Increase,
            member_effect::Verdict::Decrease => Verdict::Decrease,
            member_effect::Verdict::Unclear => Verdict::Unclear,
        }),
        sentence: output_change_sentence(e, output),
        percent,
        low,
        high,
    }
}
