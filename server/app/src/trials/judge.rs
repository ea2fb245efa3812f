//! What ways to start farms could show, with output as it wanders by itself.

use crate::error::AppError;
use crate::estimates::{Scatter, scatter};
use crate::savings::area_names;
use crate::{Actor, App};
use chrono::NaiveDate;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;
use traybook_analytics::member_effect::{CONTROLS_MIN, MemberRules};
use traybook_analytics::trial::{PlanSetting, plan_power};
use traybook_answers::Decimal;
use traybook_answers::estimates::Enterprise;
use traybook_answers::trials::{AreaSmallest, TrialOption, TrialPower, TrialStatus};
use traybook_domain::Month;
use traybook_domain::kinds::{START_MONTHS_MAX, gives_milk, lays_eggs};
use traybook_domain::people::authz::Task;
use traybook_domain::value::real;
use traybook_storage::Conn;
use traybook_storage::estimates::estimate_rows::output_months;
use traybook_storage::records::farm_rows::{self, FarmRow};
use uuid::Uuid;

/// Chance to show a change of the size given, per cent.
pub(super) const POWER: u64 = 80;
/// Months that are recorded after the last start.
const MONTHS_AFTER: usize = 6;
/// Degrees of freedom taken for the pool.
const POOL_DF: f64 = 60.0;
/// Months of records before the first start that a plan is judged with at most.
const BEFORE_MAX: usize = 12;
/// Months of the usual plans.
const USUAL_MONTHS: [usize; 2] = [6, 12];
/// Share of farms that waits to the end in the usual plans; never fewer than a month needs.
const WAIT_SHARE: f64 = 0.3;

fn method() -> String {
    format!(
        "the smallest change that {POWER} of 100 such trials would show, with output as it wandered \
         by itself in this co-operative before farms started; records as they are made now; \
         {MONTHS_AFTER} months are recorded after the last start"
    )
}

/// Farms that are asked for by name; more are read faster with all others.
const BY_NAME_MAX: usize = 500;

fn by_name(ids: &[Uuid]) -> Option<&[Uuid]> {
    (ids.len() <= BY_NAME_MAX).then_some(ids)
}

/// A farm that could take part.
#[derive(Clone)]
pub(super) struct Candidate {
    pub farm: Arc<FarmRow>,
    pub head: i64,
}

/// Farms with animals that give what is asked and that have not started, by code.
pub(super) fn candidates(
    conn: &mut Conn,
    coop: i64,
    enterprise: Enterprise,
    today: NaiveDate,
) -> Result<Vec<Candidate>, AppError> {
    let is_there = |f: &Arc<FarmRow>| {
        let has_left = f.joined.1.is_some_and(|left| left <= today);
        f.started_on.is_none_or(|day| day > today) && !has_left
    };
    let mut farms = farm_rows::farms(conn, coop, None)?;
    farms.retain(is_there);
    let ids: Vec<Uuid> = farms.iter().map(|f| f.farm).collect();
    let gives = if enterprise == Enterprise::Milk { gives_milk } else { lays_eggs };
    let mut head: HashMap<Uuid, i64> = HashMap::new();
    for group in farm_rows::groups(conn, coop, Month::of(today), by_name(&ids))? {
        if gives(&group.class) {
            let of_group = group.herd.map_or(0, |herd| herd.closing_head);
            *head.entry(group.farm).or_default() += of_group;
        }
    }
    let one = |f: &Arc<FarmRow>| {
        head.get(&f.farm).map(|head| Candidate { farm: Arc::clone(f), head: *head })
    };
    Ok(farms.iter().filter_map(one).collect())
}

/// Areas as numbers from 0, in the order of their ids.
pub(super) fn area_codes(areas: &[Uuid]) -> (Vec<usize>, Vec<Uuid>) {
    let mut order = areas.to_vec();
    order.sort_unstable();
    order.dedup();
    (areas.iter().map(|a| order.binary_search(a).unwrap_or(0)).collect(), order)
}

/// A plan's setting from what is known of the co-operative.
pub(super) fn setting(of: &Scatter, months_before: usize) -> PlanSetting<'_> {
    PlanSetting {
        months_before,
        months_after: MONTHS_AFTER,
        records: of.records_a_month.max(1.0),
        half_squares: &of.half_squares,
        record_variance: of.record_variance,
        area_shock: (of.area_variance, of.area_correlation),
        effect_sd: of.effect_sd,
        power: real(i64::try_from(POWER).unwrap_or(0)) / 100.0,
        pool_df: POOL_DF,
        kappa: MemberRules::default().kappa,
    }
}

pub(super) fn percent(log: f64) -> f64 {
    (1000.0 * log.exp_m1()).round() / 10.0
}

pub(super) fn count(n: usize) -> u64 {
    u64::try_from(n).unwrap_or(u64::MAX)
}

/// Numbers of farms by month: as even as whole farms go.
fn evenly(farms: usize, months: usize) -> Vec<usize> {
    (0..months).map(|m| farms * (m + 1) / months - farms * m / months).collect()
}

fn usual(farms: usize) -> Vec<Vec<usize>> {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a share of farms")]
    let share = (real(i64::try_from(farms).unwrap_or(0)) * WAIT_SHARE).ceil() as usize;
    let starting = farms.saturating_sub(share.max(CONTROLS_MIN));
    let mut plans = vec![vec![farms]];
    if starting > 0 {
        let mut months = USUAL_MONTHS.map(|months| months.min(starting)).to_vec();
        months.dedup();
        plans.extend(months.into_iter().map(|months| evenly(starting, months)));
    }
    plans
}

impl App {
    /// What ways to start could show: the one asked for, where one is, and usual ones.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for another enterprise, or for more starts than farms.
    pub async fn trial_power(
        &self,
        actor: &Actor,
        enterprise: &str,
        starts: Option<Vec<u64>>,
    ) -> Result<TrialPower, AppError> {
        actor.task(Task::CloseMonth)?;
        let enterprise = Enterprise::parse(enterprise)
            .ok_or_else(|| AppError::field("enterprise", "choice", "give milk or eggs"))?;
        let (coop, now) = (actor.coop.clone(), self.now());
        let today = coop.today(now);
        let read = move |conn: &mut Conn| {
            let farms = candidates(conn, coop.number, enterprise, today)?;
            let asked = starts.map(|s| checked(&s, farms.len())).transpose()?;
            let names = area_names(conn, coop.number)?;
            let known = scatter(conn, coop.number, enterprise)?;
            let is_milk = enterprise == Enterprise::Milk;
            let ids: Vec<Uuid> = farms.iter().map(|f| f.farm.farm).collect();
            let months = output_months(conn, coop.number, is_milk, by_name(&ids))?;
            let mut before: Vec<usize> = farms
                .iter()
                .map(|f| months.get(&f.farm.farm).copied().unwrap_or(0))
                .map(|n| usize::try_from(n).unwrap_or(0))
                .collect();
            before.sort_unstable();
            let before = before.get(before.len() / 2).copied().unwrap_or(0);
            let judge = Judge { farms: &farms, names: &names, known: known.as_ref(), before };
            let plans = asked.into_iter().chain(usual(farms.len()));
            Ok::<_, AppError>(TrialPower {
                enterprise,
                farms: count(farms.len()),
                months_before: count(before),
                shown_of_100: POWER,
                method: method(),
                options: plans.map(|plan| judge.option(&plan, coop.digits)).collect(),
            })
        };
        self.store.read(read).await
    }
}

/// Farms to start by month, as far as there are farms.
///
/// # Errors
/// `Invalid`.
pub(super) fn checked(starts: &[u64], farms: usize) -> Result<Vec<usize>, AppError> {
    let refuse = |code, detail: String| Err(AppError::field("starts", code, detail));
    let numbers: Vec<usize> =
        starts.iter().map(|n| usize::try_from(*n).unwrap_or(usize::MAX)).collect();
    if numbers.len() > START_MONTHS_MAX || numbers.iter().all(|n| *n == 0) {
        let detail =
            format!("give the farms to start in each of at most {START_MONTHS_MAX} months");
        return refuse("range", detail);
    }
    if numbers.iter().fold(0, |sum: usize, n| sum.saturating_add(*n)) > farms {
        return refuse(
            "range",
            format!("{farms} farms have not started; start no more than these"),
        );
    }
    Ok(numbers)
}

struct Judge<'a> {
    farms: &'a [Candidate],
    names: &'a BTreeMap<Uuid, String>,
    known: Option<&'a Scatter>,
    before: usize,
}

impl Judge<'_> {
    fn option(&self, starts: &[usize], digits: u8) -> TrialOption {
        let farms = self.farms.len();
        let waiting = farms.saturating_sub(starts.iter().sum());
        let last = starts.len().saturating_sub(1);
        let waited: usize = starts.iter().enumerate().map(|(m, n)| m * n).sum();
        let waited = waited + waiting * (last + 1 + MONTHS_AFTER);
        let mut option = TrialOption {
            status: TrialStatus::NoRecords,
            starts: starts.iter().map(|n| count(*n)).collect(),
            waiting: count(waiting),
            months: 0,
            usable_months: 0,
            programme_percent: None,
            member_percent: None,
            areas: Vec::new(),
            waiting_farm_months: count(waited),
            saving_forgone: None,
        };
        let Some(known) = self.known else { return option };
        let months = real(i64::try_from(waited).unwrap_or(0));
        option.saving_forgone =
            known.saving_a_farm_month.map(|saving| money(saving * months, digits));
        let ids: Vec<Uuid> = self.farms.iter().map(|f| f.farm.area).collect();
        let (areas, order) = area_codes(&ids);
        // Which farm starts when is drawn later; every month gets farms of every area, so that any
        // order is as good.
        let sizes: Vec<f64> = self.farms.iter().map(|f| real(f.head)).collect();
        let Some(drawn) = traybook_analytics::trial::start_order(&areas, &sizes, starts, 0) else {
            return option;
        };
        let before = self.before.min(BEFORE_MAX);
        let power = plan_power(&drawn, &areas, &setting(known, before));
        option.months = count(power.months);
        option.usable_months = count(power.usable_months);
        let Some(effects) = power.effects else {
            option.status = TrialStatus::NoControls;
            return option;
        };
        option.status = TrialStatus::Judged;
        option.programme_percent = Some(percent(effects.programme));
        option.member_percent = Some(percent(effects.member));
        let named = |(area, log): (&usize, &f64)| {
            let name = self.names.get(order.get(*area)?)?;
            Some(AreaSmallest { area: name.clone(), percent: percent(*log) })
        };
        option.areas = effects.areas.iter().filter_map(named).collect();
        option
    }
}

/// An amount in whole currency units: more would promise more than is known.
#[expect(clippy::cast_possible_truncation, reason = "far below 2^53")]
fn money(amount: f64, digits: u8) -> Decimal {
    let unit = 10_i64.saturating_pow(u32::from(digits));
    Decimal::new((amount.round() as i64).saturating_mul(unit), digits)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn usual_plans_let_three_in_ten_wait() {
        assert_eq!(evenly(10, 4), [2, 3, 2, 3]);
        let plans = usual(60);
        assert_eq!(plans.len(), 3);
        assert_eq!(plans.iter().map(|p| p.iter().sum::<usize>()).collect::<Vec<_>>(), [60, 42, 42]);
        assert_eq!(usual(5), [[5]]);
        assert_eq!(usual(8), [vec![8], vec![1, 1, 1]]);
    }

    #[test]
    fn more_starts_than_farms_are_refused() {
        assert!(checked(&[3, 3], 6).is_ok());
        assert!(checked(&[3, 4], 6).is_err() && checked(&[], 6).is_err());
        assert!(checked(&[0, 0], 6).is_err() && checked(&[u64::MAX, u64::MAX], 6).is_err());
    }
}
