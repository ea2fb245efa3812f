//! Did a member's output really change? One estimate a member, with its honest interval.

use serde::Serialize;

use crate::area_shock::{AreaShock, area_shock};
use crate::core::{Core, Draft};
use crate::errors::{Entry, PooledErrors};
use crate::level::{CUT_MONTHS, LevelChange, LowStart, StartPoint, level_changes, low_start};
use crate::linear::quadratic;
use crate::panel::{MonthFit, Panel};
use crate::parallel::map_chunks;
use crate::programme::{Programme, programme};
use crate::shrinkage::{Population, shrink};
use crate::stats::{
    CriticalPoints, LogEstimate, VariancePrior, moderate_variances, student_t_upper,
};

/// Fewest farms that still wait in a month for it to be compared.
pub const CONTROLS_MIN: usize = 5;

/// Minimum data and windows of a member effect. [`MemberRules::default`] is the house rule.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MemberRules {
    /// Records at which a cell has half the weight of a perfect one.
    pub kappa: f64,
    /// Months before the start that are used; none for all.
    pub months_pre_max: Option<u32>,
    /// Months after the start that are used; none for all.
    pub months_post_max: Option<u32>,
    /// Fewest usable months before the start.
    pub months_pre_min: usize,
    /// Fewest usable months after the start.
    pub months_post_min: usize,
    /// Fewest records in the usable months before the start.
    pub records_pre_min: f64,
    /// Fewest records in the usable months after the start.
    pub records_post_min: f64,
    /// Fewest untreated farms a month needs to be usable.
    pub controls_min: usize,
    /// Fewest estimated members for shrinkage and ranking.
    pub members_shrunk_min: usize,
    /// Largest chance of the wrong sign at which a verdict is given.
    pub wrong_sign_max: f64,
    /// The same for a verdict that was given before.
    pub wrong_sign_kept_max: f64,
}

impl Default for MemberRules {
    fn default() -> Self {
        Self {
            kappa: 4.0,
            months_pre_max: Some(12),
            months_post_max: Some(12),
            months_pre_min: 3,
            months_post_min: 2,
            records_pre_min: 6.0,
            records_post_min: 4.0,
            controls_min: CONTROLS_MIN,
            members_shrunk_min: 8,
            // So that the word and the 95 % interval agree.
            wrong_sign_max: 0.025,
            wrong_sign_kept_max: 0.04,
        }
    }
}

/// Chance of the wrong sign asked for where start and area go together.
const WRONG_SIGN_BY_AREA: f64 = 0.01;

/// What is known of the farms beside their output. An empty slice says nothing of any.
#[derive(Debug, Clone, Copy, Default)]
pub struct Background<'a> {
    /// Area of each farm, as a number from 0.
    pub areas: &'a [usize],
    /// Changes of level that somebody looked at and accepted.
    pub accepted: &'a [Option<Acceptance>],
    /// Verdicts given before.
    pub previous: &'a [Option<Verdict>],
}

/// Which change of level was accepted as true.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Acceptance {
    /// Whatever it is.
    Any,
    /// The one in this month, give or take one, in this direction.
    At {
        /// First month of the new level.
        month: usize,
        /// Whether the new level is higher.
        is_up: bool,
    },
}

impl Acceptance {
    fn covers(self, change: &LevelChange) -> bool {
        match self {
            Self::Any => true,
            Self::At { month, is_up } => {
                let is_near = change.month.is_some_and(|m| m.abs_diff(month) <= 1);
                is_near && is_up == (change.shift > 0.0)
            }
        }
    }
}

/// Why a member has an estimate or has none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum MemberStatus {
    /// Its level jumps for good at some month: held until records are corrected or somebody
    /// accepts it.
    CheckLevel,
    /// The member has not started, or starts in the future.
    NotStarted,
    /// No output was observed before the start.
    NoPreData,
    /// Too few usable months or records before the start.
    InsufficientPre,
    /// Too few months or records after the start.
    InsufficientPost,
    /// Enough of its own months, but too few with untreated farms beside them.
    NoControls,
    /// There is an estimate.
    Estimated,
}

/// What is said of the direction. `Unclear` is shown as "cannot tell yet", never as "no effect".
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Output is higher.
    Increase,
    /// Output is lower.
    Decrease,
    /// Either may be.
    Unclear,
}

/// Months and records behind one side of a comparison.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Evidence {
    /// Farm-months.
    pub months: usize,
    /// Records in them.
    pub records: f64,
}

/// One member's answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MemberEffect {
    /// Whether there is an estimate.
    pub status: MemberStatus,
    /// Usable months before the start.
    pub pre: Evidence,
    /// Usable months after the start.
    pub post: Evidence,
    /// Months after the start with or without enough untreated farms beside them.
    pub post_any: Evidence,
    /// Degrees of freedom of the intervals; none without an estimate.
    pub degrees_of_freedom: Option<f64>,
    /// The member's own estimate with its t interval.
    pub own: Option<LogEstimate>,
    /// The shrunken estimate; none under `members_shrunk_min` members.
    pub shrunken: Option<LogEstimate>,
    /// Place by shrunken estimate, 1 is the largest; none when not ranked.
    pub rank: Option<usize>,
    /// Chance that the effect is 0 or below.
    pub p_lower: Option<f64>,
    /// What is said; none without an estimate.
    pub verdict: Option<Verdict>,
}

impl MemberEffect {
    /// The estimate to publish: shrunken when there is one, else the member's own.
    pub fn published(&self) -> Option<&LogEstimate> {
        self.shrunken.as_ref().or(self.own.as_ref())
    }

    /// Chance that the effect has the other sign.
    pub fn wrong_sign(&self) -> Option<f64> {
        self.p_lower.map(|p| p.min(1.0 - p))
    }
}

/// All members' answers and the figures behind them.
#[derive(Debug, Clone)]
pub struct MemberEffects {
    /// One answer a farm, in the panel's order.
    pub members: Vec<MemberEffect>,
    /// The largest change of level of each farm, before any was held.
    pub levels: Vec<LevelChange>,
    /// Farms held back for it.
    pub held: Vec<bool>,
    /// Whether members started at a low point; then the months before the starts are left out.
    pub low_start: LowStart,
    /// Pooled errors.
    pub errors: PooledErrors,
    /// Prior of the members' own scales.
    pub prior: VariancePrior,
    /// The population of effects; none under `members_shrunk_min` members.
    pub population: Option<Population>,
    /// Variance of the error that all members share.
    pub shared_variance: Option<f64>,
    /// Months in the connected set with enough untreated farms.
    pub is_month_usable: Vec<bool>,
    /// Month effects.
    pub fit: MonthFit,
    /// Cells after the start of estimated members, `farm * months + month`.
    pub post_cells: Vec<bool>,
    /// What the farms of one area share in a month.
    pub area_shock: AreaShock,
    /// The average over members; none without an estimated one.
    pub programme: Option<Programme>,
}

impl MemberEffects {
    /// The panel as it was used: without farms held and months left out.
    pub(crate) fn view<'a>(&'a self, panel: &Panel<'a>) -> Panel<'a> {
        panel.without(&self.held, cut_months(&self.low_start))
    }

    /// The panel without the farms held.
    pub fn without_held<'a>(&'a self, panel: &Panel<'a>) -> Panel<'a> {
        panel.without(&self.held, 0)
    }
}

fn cut_months(low_start: &LowStart) -> u32 {
    let is_cut = matches!(low_start.flag, StartPoint::Low | StartPoint::High);
    if is_cut { CUT_MONTHS } else { 0 }
}

/// Estimates every member's change in output against what would have happened anyway.
///
/// Month effects come from untreated farm-months ([`crate::panel::fit_untreated`]); a member's
/// effect is the weighted mean of what they leave after its start minus the same before. Farms
/// whose level jumps are held first ([`crate::level`]); where members started at a low point, the
/// months before the starts are left out. Errors come from placebo comparisons
/// ([`crate::errors`]) times the member's own scale, moderated over members
/// ([`moderate_variances`]); what all members share is never shrunk away. With enough members the
/// effects are shrunk ([`shrink`]) and ranked.
///
/// # Units
/// Natural logarithms of output per animal; [`LogEstimate::percent`] for people.
///
/// # Shape
/// One member a farm. Minimum data as in [`MemberRules`]; what is missing is in the status.
///
/// # Source
/// Borusyak, Jaravel & Spiess 2024; Smyth 2004; Morris 1983; Stephens 2017 (false sign rate).
pub fn member_effects(
    panel: &Panel,
    rules: &MemberRules,
    background: &Background,
) -> MemberEffects {
    let first = Core::new(*panel, rules);
    let levels = level_changes(&first);
    let is_held = |(farm, change): (usize, &LevelChange)| {
        let accepted = background.accepted.get(farm).copied().flatten();
        change.is_large() && !accepted.is_some_and(|a| a.covers(change))
    };
    let held: Vec<bool> = levels.iter().enumerate().map(is_held).collect();
    let core = if held.contains(&true) {
        drop(first);
        Core::new(panel.without(&held, 0), rules)
    } else {
        first
    };
    let low_start = low_start(&core);
    let core = match cut_months(&low_start) {
        0 => core,
        cut => {
            drop(core);
            Core::new(panel.without(&held, cut), rules)
        }
    };
    let post_cells = core.post_cells();
    let shock = area_shock(&core, background.areas);
    let programme = programme(&core, &post_cells, background.areas, &shock);
    let work = Moderation::new(&core, background.areas, programme.as_ref(), &shock);
    let mut members = work.members();
    let population = work.shrink(&mut members);
    work.give_verdicts(&mut members, background.previous);
    for (member, _) in members.iter_mut().zip(&held).filter(|(_, held)| **held) {
        member.status = MemberStatus::CheckLevel;
    }
    MemberEffects {
        levels,
        low_start,
        prior: work.prior,
        population,
        shared_variance: programme.is_some().then_some(work.shared + work.area_variance),
        members,
        post_cells,
        programme,
        area_shock: shock,
        is_month_usable: core.is_month_usable,
        errors: core.errors,
        fit: core.fit,
        held,
    }
}

/// Errors of members over all of them: own scales moderated, what is shared set apart.
struct Moderation<'a, 'b> {
    core: &'b Core<'a>,
    prior: VariancePrior,
    /// Keeps the level of the pool over the members.
    scale_factor: f64,
    /// Degrees of freedom of the pool.
    pool_df: f64,
    /// Variance that all members share, and what it makes of each one's variance of months.
    shared: f64,
    month_factor: f64,
    /// Variance through shocks of areas: the programme's, and each member's.
    area_variance: f64,
    member_area_variance: Vec<f64>,
    is_start_by_area: bool,
}

/// Variance and degrees of freedom of an estimated member.
struct MemberError {
    /// Without what is shared.
    own: f64,
    whole: f64,
    degrees_of_freedom: f64,
}

impl<'a, 'b> Moderation<'a, 'b> {
    fn new(
        core: &'b Core<'a>,
        areas: &[usize],
        programme: Option<&Programme>,
        shock: &AreaShock,
    ) -> Self {
        let scales: Vec<_> =
            core.estimated().map(|(_, e)| (e.scale, e.degrees_of_freedom)).collect();
        let windows = core.errors.all.windows.max(1.0);
        let mut work = Self {
            core,
            prior: moderate_variances(&scales),
            scale_factor: 1.0,
            pool_df: 3.0 * windows,
            shared: 0.0,
            month_factor: 1.0,
            area_variance: programme.map_or(0.0, |p| p.area_variance),
            member_area_variance: Vec::new(),
            is_start_by_area: programme.is_some_and(Programme::is_start_by_area),
        };
        let (mut pooled, mut moderated) = (0.0, 0.0);
        for (_, e) in core.estimated() {
            pooled += e.own_variance;
            moderated += work.scale(e.scale, e.degrees_of_freedom) * e.own_variance;
        }
        if moderated > 0.0 {
            work.scale_factor = pooled / moderated;
        }
        work.share_months();
        work.member_area_variance = work.area_parts(areas, shock);
        work
    }

    fn scale(&self, own: f64, df: f64) -> f64 {
        let d0 = self.prior.degrees_of_freedom;
        self.scale_factor * (d0 * self.prior.scale + df * own) / (d0 + df)
    }

    /// The error all members share through month effects: by farm scores or by the pool, the
    /// larger.
    fn share_months(&mut self) {
        let core = self.core;
        let size = core.fit.inverse.nrows();
        let mut mean = vec![0.0; size];
        let mut count = 0.0_f64;
        for (farm, e) in core.estimated() {
            core.design(farm, &e.contrast, &mut mean);
            count += 1.0;
        }
        if count <= 0.0 {
            return;
        }
        mean.iter_mut().for_each(|m| *m /= count);
        let by_scores = quadratic(&core.fit.covariance, &mean);
        let implied = &core.fit.inverse * nalgebra::DVector::from_vec(mean);
        let by_pool: f64 = map_chunks(core.panel.farms(), |farms| {
            let mut cells = Vec::new();
            let of_farm = |farm| implied_variance(core, implied.as_slice(), farm, &mut cells);
            farms.map(of_farm).sum::<f64>()
        })
        .into_iter()
        .sum();
        self.shared = by_scores.max(by_pool);
        self.month_factor = if by_scores > 0.0 { self.shared / by_scores } else { 1.0 };
    }

    /// Each member's variance through shocks of areas. Where start and area go together, the own
    /// area's shocks are not in the pool either.
    fn area_parts(&self, areas: &[usize], shock: &AreaShock) -> Vec<f64> {
        let core = self.core;
        let mut parts = vec![self.area_variance; core.panel.farms()];
        if !self.is_start_by_area {
            return parts;
        }
        let of = |farm: usize| areas.get(farm).copied().unwrap_or(0);
        let distinct = |farms: &mut dyn Iterator<Item = usize>| {
            let mut found: Vec<usize> = farms.map(of).collect();
            found.sort_unstable();
            found.dedup();
            found.len() as f64
        };
        let Some(last) = core.is_month_usable.iter().rposition(|usable| *usable) else {
            return parts;
        };
        let is_untreated = |farm: &usize| {
            last < core.panel.months_before_start(*farm)
                && core.panel.observed(*farm, last).is_some()
        };
        let untreated = distinct(&mut (0..core.panel.farms()).filter(is_untreated)).max(1.0);
        let estimated = distinct(&mut core.estimated().map(|(farm, _)| farm));
        let missing = (1.0 / untreated - 1.0 / estimated).max(0.0);
        for (farm, e) in core.estimated() {
            parts[farm] += shock.variance(&e.contrast).max(0.0) * missing;
        }
        parts
    }

    fn error(&self, farm: usize, draft: &Draft) -> Option<MemberError> {
        let e = draft.effect.as_ref()?;
        let own = self.scale(e.scale, e.degrees_of_freedom) * e.own_variance;
        let months = e.month_variance * self.month_factor;
        let whole = own + months + self.member_area_variance[farm];
        Some(MemberError {
            own: (own + (months - self.shared).max(0.0)).max(1e-10),
            whole: whole.max(1e-12),
            degrees_of_freedom: self.degrees_of_freedom(e.degrees_of_freedom),
        })
    }

    fn degrees_of_freedom(&self, own: f64) -> f64 {
        let members = self.prior.degrees_of_freedom + own;
        (1.0 / (1.0 / members + 1.0 / self.pool_df)).min(1000.0)
    }

    fn members(&self) -> Vec<MemberEffect> {
        let drafts = &self.core.drafts;
        let parts = map_chunks(drafts.len(), |range| {
            let mut critical = CriticalPoints::default();
            let member = |farm: usize| self.member(farm, &drafts[farm], &mut critical);
            range.map(member).collect::<Vec<_>>()
        });
        parts.into_iter().flatten().collect()
    }

    fn member(&self, farm: usize, draft: &Draft, critical: &mut CriticalPoints) -> MemberEffect {
        let error = self.error(farm, draft);
        let tau = draft.effect.as_ref().map(|e| e.tau);
        let own = tau.zip(error.as_ref()).map(|(tau, e)| {
            LogEstimate::with_critical(tau, e.whole.sqrt(), critical.at(e.degrees_of_freedom))
        });
        MemberEffect {
            status: draft.status,
            pre: draft.pre,
            post: draft.post,
            post_any: draft.post_any,
            degrees_of_freedom: error.map(|e| e.degrees_of_freedom),
            own,
            shrunken: None,
            rank: None,
            p_lower: None,
            verdict: None,
        }
    }

    fn shrink(&self, members: &mut [MemberEffect]) -> Option<Population> {
        let estimated: Vec<(usize, &Draft)> =
            self.core.drafts.iter().enumerate().filter(|(_, d)| d.effect.is_some()).collect();
        if estimated.len() < self.core.rules.members_shrunk_min {
            return None;
        }
        let errors = estimated.iter().filter_map(|(farm, d)| self.error(*farm, d));
        let variances: Vec<f64> = errors.map(|e| e.own).collect();
        let effects: Vec<f64> = self.core.estimated().map(|(_, e)| e.tau).collect();
        let windows = self.core.errors.all.windows.max(1.0);
        let shrunk = shrink(&effects, &variances, (2.0 / windows).sqrt().min(0.5))?;
        for (k, (farm, _)) in estimated.iter().enumerate() {
            let member = &mut members[*farm];
            let Some(own) = member.own else { continue };
            let spread = shrunk.standard_errors[k].powi(2);
            let shared = self.shared + self.member_area_variance[*farm];
            let error = (spread + shared).max(1e-12).sqrt();
            // Half width over standard error of the own interval is the critical value itself.
            let critical = (own.interval.upper - own.value) / own.standard_error;
            member.shrunken = Some(LogEstimate::with_critical(shrunk.effects[k], error, critical));
        }
        let mut order: Vec<usize> = (0..estimated.len()).collect();
        order.sort_by(|a, b| shrunk.effects[*b].total_cmp(&shrunk.effects[*a]));
        for (place, k) in order.into_iter().enumerate() {
            members[estimated[k].0].rank = Some(place + 1);
        }
        let mean = shrunk.population.mean_standard_error;
        let mean_standard_error = (mean * mean + self.shared + self.area_variance).sqrt();
        Some(Population { mean_standard_error, ..shrunk.population })
    }

    fn give_verdicts(&self, members: &mut [MemberEffect], previous: &[Option<Verdict>]) {
        let rules = self.core.rules;
        let (max, kept) = if self.is_start_by_area {
            let max = rules.wrong_sign_max.min(WRONG_SIGN_BY_AREA);
            (max, max)
        } else {
            (rules.wrong_sign_max, rules.wrong_sign_kept_max.max(rules.wrong_sign_max))
        };
        let tails = map_chunks(members.len(), |farms| {
            let tail = |member: &MemberEffect| {
                let estimate = member.published()?;
                let t = estimate.value / estimate.standard_error;
                Some(student_t_upper(t, member.degrees_of_freedom?))
            };
            members[farms].iter().map(tail).collect::<Vec<_>>()
        });
        let tails = tails.into_iter().flatten();
        for (farm, (member, p)) in members.iter_mut().zip(tails).enumerate() {
            let Some(p) = p else { continue };
            let before = previous.get(farm).copied().flatten();
            let limit = |verdict| if before == Some(verdict) { kept } else { max };
            member.p_lower = Some(p);
            member.verdict = Some(if p <= limit(Verdict::Increase) {
                Verdict::Increase
            } else if 1.0 - p <= limit(Verdict::Decrease) {
                Verdict::Decrease
            } else {
                Verdict::Unclear
            });
        }
    }
}

/// Variance of what one farm's untreated months put into the mean month effects.
fn implied_variance(
    core: &Core,
    implied: &[f64],
    farm: usize,
    cells: &mut Vec<crate::panel::Cell>,
) -> f64 {
    core.fit.untreated(&core.panel, farm, cells);
    let total: f64 = cells.iter().map(|c| c.weight).sum();
    if total <= 0.0 {
        return 0.0;
    }
    let shift = |month: usize| core.fit.implied(&core.panel, implied, farm, month);
    let mean: f64 = cells.iter().map(|c| c.weight / total * shift(c.month)).sum();
    let entry = |c: &crate::panel::Cell| Entry {
        month: c.month,
        weight: c.weight * (shift(c.month) - mean),
        inverse: 1.0 / c.records.max(1.0),
    };
    let entries: Vec<Entry> = cells.iter().map(entry).collect();
    core.errors.variance(farm, &entries)
}
