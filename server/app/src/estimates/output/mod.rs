//! Did output per animal and day really change after the start?

mod answer;
mod dose;
mod panel;

use super::figures::{CoopOutput, Judged};
use crate::error::AppError;
use crate::savings::Made as Savings;
use crate::trials::followed;
use crate::{Coop, coop};
use chrono::NaiveDate;
use panel::FarmPanel;
use serde_json::json;
use std::collections::HashMap;
use std::sync::Arc;
use traybook_analytics::callaway::{Control, group_times};
use traybook_analytics::limits::PRE_START_EVENTS;
use traybook_analytics::member_effect::{
    Acceptance, Background, MemberEffect, MemberEffects, MemberRules, MemberStatus,
    Verdict as Direction, member_effects,
};
use traybook_analytics::panel::Panel;
use traybook_analytics::programme::area_programme;
use traybook_analytics::records::stage_covariates;
use traybook_analytics::settled::{Drift, DriftStatus, SettledPanel, dose_response, settled_drift};
use traybook_answers::estimates::{
    AreaOutputChange, Comparison, Enterprise, OutputFigures, Verdict,
};
use traybook_answers::trials::OrderFollowed;
use traybook_answers::wire;
use traybook_domain::kinds::ReviewAcceptance;
use traybook_domain::record::Record as _;
use traybook_domain::review::Finding as Found;
use traybook_domain::{Kind, Month};
use traybook_storage::Conn;
use traybook_storage::records::farm_rows::FarmRow;
use traybook_storage::records::{self, Filter, Visible};
use uuid::Uuid;

/// How it is estimated.
pub(super) const METHOD: &str = "change in output per animal-day after the farm's start, net of what farms that had \
    not started did in the same months; months without five such farms are not used. Whole days \
    only; a day more than four times, or less than a quarter of, the farm's usual is left out. A \
    farm whose level jumps for good is held until somebody looks. Errors come from the same \
    comparison between months in which nothing began. Members are pulled towards the group where \
    data are few (empirical Bayes); what all share is not. 95 % intervals";
/// Units of the figures.
pub(super) const UNITS: &str = "per cent of what output per animal-day would have been; months and records \
    (whole group-days) used";

/// Months of records that are looked at, the running one included.
const MONTHS: i32 = 60;
/// Farms of an area that make a line of its own.
const AREA_FARMS_MIN: usize = 5;
/// Farms of an area below which its farms count with the area above it.
const AREA_OWN_MIN: usize = 3;
/// Rule of the review list for a lasting jump.
const CHECK_LEVEL: &str = "check_level";

/// The figures of one enterprise.
pub(super) struct Made {
    pub coop: CoopOutput,
    pub farms: Vec<(Uuid, OutputFigures)>,
}

/// Accepted jumps by enterprise and farm: first month of the new level, and whether it is higher.
pub(super) type Jumps = HashMap<(Enterprise, Uuid), (Month, bool)>;

/// What the figures are made from besides the records.
pub(super) struct Ground<'a> {
    pub coop: &'a Coop,
    pub today: NaiveDate,
    pub farms: &'a [Arc<FarmRow>],
    pub savings: &'a Savings,
    /// Area of each farm, and the area above it.
    pub parents: &'a HashMap<Uuid, Uuid>,
    /// Jumps that somebody accepted.
    pub accepted: &'a Jumps,
    /// What was said at the last making that began a day.
    pub kept: &'a HashMap<(Enterprise, Uuid), Verdict>,
}

/// The area above each area.
pub(super) fn parents(conn: &mut Conn, number: i64) -> Result<HashMap<Uuid, Uuid>, AppError> {
    let children = coop::area_children(conn, number)?;
    let pairs = children
        .into_iter()
        .flat_map(|(parent, areas)| areas.into_iter().map(move |a| (a, parent)));
    Ok(pairs.collect())
}

/// A jump that holds a farm's output change back, for the review list; none where nothing jumps.
pub(super) fn level_jump(
    enterprise: Enterprise,
    farm: Uuid,
    figures: &OutputFigures,
) -> Option<Found> {
    let level = figures.level?;
    let month = level.month.0;
    let (what, factor) = (enterprise.text(), (level.factor * 100.0).round() / 100.0);
    Some(Found {
        rule: CHECK_LEVEL,
        farm: Some(farm),
        finding: level_finding(enterprise, farm),
        subject: None,
        evidence: level_evidence(month, level.factor > 1.0),
        figures: vec![
            ("ratio", json!(factor)),
            ("month", json!(month.to_string())),
            ("enterprise", json!(what)),
        ],
        records: vec![(Kind::Farm, farm)],
        problem: format!(
            "The records of {what} jump to {factor} times the old level in {month} and stay there."
        ),
        fix: "Look at the records around the step; accept it if it was so.",
        since: month.first_day(),
        weight: level.factor.ln().abs(),
    })
}

/// Name of a jump on the review list.
fn level_finding(enterprise: Enterprise, farm: Uuid) -> String {
    format!("{CHECK_LEVEL}:{}:{farm}", enterprise.text())
}

/// What an acceptance of a jump is of: month and direction alone, so that a later record does not
/// undo it.
fn level_evidence(month: Month, is_up: bool) -> String {
    format!("{month} {}", if is_up { "up" } else { "down" })
}

/// The jumps that somebody accepted.
pub(super) fn accepted(conn: &mut Conn, number: i64) -> Result<Jumps, AppError> {
    let (all, filter) = (Visible::All, Filter::default());
    let found = records::page(conn, number, Kind::ReviewAcceptance, &all, &filter, None, 100_000)?;
    let each = found.iter().filter_map(|r| ReviewAcceptance::from_values(&r.values));
    let of_rule = each.filter(|a| a.rule == CHECK_LEVEL);
    let read = |a: ReviewAcceptance| {
        let mut parts = a.finding.split(':').skip(1);
        let (enterprise, farm) = (parts.next()?, parts.next()?);
        let (month, way) = a.evidence.split_once(' ')?;
        let key = (Enterprise::parse(enterprise)?, Uuid::try_parse(farm).ok()?);
        Some((key, (Month::parse(month)?, way == "up")))
    };
    Ok(of_rule.filter_map(read).collect())
}

/// Makes the figures of an enterprise; a farm without any record of it has none.
pub(super) fn make(
    conn: &mut Conn,
    enterprise: Enterprise,
    ground: &Ground<'_>,
) -> Result<Made, AppError> {
    let found = FarmPanel::read(conn, enterprise, ground)?;
    let Some(found) = found else {
        return Ok(Made { coop: answer::nothing(enterprise), farms: Vec::new() });
    };
    let dose = dose::doses(conn, ground, &found)?;
    let covariates = stage_covariates(&found.months, found.output);
    let cells = &found.months;
    let panel = Panel::new(
        cells.months,
        &cells.log_output,
        &cells.records,
        &found.start,
        covariates.as_ref(),
    );
    let panel = panel.map_err(|e| AppError::Internal(e.to_string()))?;
    let start_order = followed(conn, ground.coop.number, enterprise, ground.farms, ground.today)?;
    let made = Estimates { start_order, ..Estimates::make(&panel, &found, ground, &dose)? };
    Ok(made.answer(&panel, &found))
}

/// All that is estimated of one enterprise.
struct Estimates {
    effects: MemberEffects,
    /// Area of each farm, as a position in `area_ids`.
    areas: Vec<usize>,
    area_ids: Vec<Uuid>,
    /// Farms without enough waiting farms beside them, against settled farms.
    by_settled: HashMap<usize, MemberEffect>,
    drift: Drift,
    /// Whether starts followed the newest order that was drawn.
    start_order: Option<OrderFollowed>,
    dose: traybook_analytics::settled::DoseResponse,
}

impl Estimates {
    fn make(
        panel: &Panel<'_>,
        found: &FarmPanel,
        ground: &Ground<'_>,
        dose: &[f64],
    ) -> Result<Self, AppError> {
        let (areas, area_ids) = areas(found, ground);
        let accepted: Vec<Option<Acceptance>> =
            found.farms.iter().map(|f| acceptance(found, ground, f.farm)).collect();
        let kept = |f: &Arc<FarmRow>| ground.kept.get(&(found.enterprise, f.farm)).copied();
        let previous: Vec<Option<Direction>> =
            found.farms.iter().map(|f| kept(f).map(direction)).collect();
        let rules = MemberRules::default();
        let background = Background { areas: &areas, accepted: &accepted, previous: &previous };
        let effects = member_effects(panel, &rules, &background);
        let drift = settled_drift(panel, &effects, &found.true_start);
        let is_helped = |m: &MemberEffect| m.status == MemberStatus::NoControls;
        let mut by_settled = HashMap::new();
        if drift.status != DriftStatus::Drifting && effects.members.iter().any(is_helped) {
            let settled = SettledPanel::new(panel, &found.true_start, &effects.held);
            let wide = settled.panel().map_err(|e| AppError::Internal(e.to_string()))?;
            let background = Background {
                areas: &settled.extend(&areas),
                accepted: &settled.extend(&accepted),
                previous: &settled.extend(&previous),
            };
            let again = member_effects(&wide, &rules, &background);
            for (farm, member) in again.members.into_iter().enumerate() {
                let was = effects.members.get(farm).is_some_and(is_helped);
                if was && member.status == MemberStatus::Estimated {
                    by_settled.insert(farm, member);
                }
            }
        }
        let dose = dose_response(panel, &found.true_start, dose, rules.kappa);
        Ok(Self { effects, areas, area_ids, by_settled, drift, start_order: None, dose })
    }

    fn answer(&self, panel: &Panel<'_>, found: &FarmPanel) -> Made {
        let times = group_times(&self.effects.without_held(panel), Control::NotYetStarted);
        let (low, high) = PRE_START_EVENTS;
        let events = times.dynamic(1).by_event.into_iter();
        let checks = answer::Checks {
            before_start: events.filter(|e| (low..=high).contains(&e.0)).collect(),
            cross_check: times.simple(1),
        };
        let farm = |at: usize| {
            let settled = self.by_settled.get(&at);
            let member = settled.or_else(|| self.effects.members.get(at))?;
            let comparison = match (member.status, settled) {
                (MemberStatus::Estimated, Some(_)) => Some(Comparison::Settled),
                (MemberStatus::Estimated, None) => Some(Comparison::Waiting),
                _ => None,
            };
            let level = self.effects.levels.get(at);
            Some(answer::figures(found, at, (member, comparison), level))
        };
        let farms: Vec<(Uuid, OutputFigures)> = found
            .farms
            .iter()
            .enumerate()
            .filter_map(|(at, f)| Some((f.farm, farm(at)?)))
            .collect();
        Made {
            coop: CoopOutput {
                first_month: Some(wire::Month(found.first)),
                last_month: Some(wire::Month(found.last)),
                is_stage_adjusted: !self.effects.fit.coefficients.is_empty(),
                programme: answer::programme(self, &checks, found, &farms),
                areas: self.by_area(panel, found),
                farms: Judged::of(&farms),
                scatter: answer::scatter(self, found),
            },
            farms,
        }
    }

    fn by_area(&self, panel: &Panel<'_>, found: &FarmPanel) -> Vec<(Uuid, AreaOutputChange)> {
        let months = panel.months().max(1);
        let line = |(area, id): (usize, &Uuid)| {
            let of_area = |at: usize| self.areas.get(at / months) == Some(&area);
            let keep = |(at, is_post): (usize, &bool)| *is_post && of_area(at);
            let cells: Vec<bool> = self.effects.post_cells.iter().enumerate().map(keep).collect();
            let effect = area_programme(panel, &self.effects, &cells, &self.areas);
            let effect = effect.filter(|e| e.farms >= AREA_FARMS_MIN);
            (*id, answer::area(effect.as_ref(), found.output))
        };
        self.area_ids.iter().enumerate().map(line).collect()
    }
}

const fn direction(verdict: Verdict) -> Direction {
    match verdict {
        Verdict::Increase => Direction::Increase,
        Verdict::Decrease => Direction::Decrease,
        Verdict::Unclear => Direction::Unclear,
    }
}

fn acceptance(found: &FarmPanel, ground: &Ground<'_>, farm: Uuid) -> Option<Acceptance> {
    let (month, is_up) = *ground.accepted.get(&(found.enterprise, farm))?;
    let month = usize::try_from(month.number() - found.first.number()).ok()?;
    Some(Acceptance::At { month, is_up })
}

/// Area of each farm as a number: its own, or the area above where its own has too few farms.
fn areas(found: &FarmPanel, ground: &Ground<'_>) -> (Vec<usize>, Vec<Uuid>) {
    let mut count: HashMap<Uuid, usize> = HashMap::new();
    for farm in &found.farms {
        *count.entry(farm.area).or_default() += 1;
    }
    let of = |farm: &Arc<FarmRow>| {
        let own = count.get(&farm.area).copied().unwrap_or(0);
        let above = ground.parents.get(&farm.area).filter(|_| own < AREA_OWN_MIN);
        *above.unwrap_or(&farm.area)
    };
    let ids: Vec<Uuid> = found.farms.iter().map(of).collect();
    let mut order = ids.clone();
    order.sort_unstable();
    order.dedup();
    let codes = ids.iter().map(|id| order.binary_search(id).unwrap_or(0)).collect();
    (codes, order)
}
