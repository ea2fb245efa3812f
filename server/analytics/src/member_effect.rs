//! Did a member's output really change? One estimate a member, with its honest interval.

use serde::Serialize;

use crate::panel::{MonthFit, NEVER, Panel, fit_untreated};
use crate::parallel::map_chunks;
use crate::shrinkage::{Population, shrink};
use crate::stats::{CriticalPoints, LogEstimate, VariancePrior, moderate_variances};
use crate::variance::{ErrorModel, error_model};

/// Minimum data and windows of a member effect. [`MemberRules::default`] is the house rule.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MemberRules {
    /// Records at which a cell has half the weight of a perfect one.
    pub kappa: f64,
    /// The month of the start counts neither before nor after.
    pub is_transition_skipped: bool,
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
    /// Longest lag of the error model in months.
    pub lags_max: usize,
}

impl Default for MemberRules {
    fn default() -> Self {
        Self {
            kappa: 4.0,
            is_transition_skipped: true,
            months_pre_max: Some(12),
            months_post_max: Some(12),
            months_pre_min: 3,
            months_post_min: 2,
            records_pre_min: 6.0,
            records_post_min: 4.0,
            controls_min: 5,
            members_shrunk_min: 8,
            lags_max: 6,
        }
    }
}

/// Why a member has an estimate or has none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum MemberStatus {
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

/// What the interval says. `Unclear` is shown as "cannot tell yet", never as "no effect".
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// The whole interval is above 0.
    Increase,
    /// The whole interval is below 0.
    Decrease,
    /// The interval holds 0.
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
    /// Degrees of freedom of the intervals.
    pub degrees_of_freedom: f64,
    /// The member's own estimate with its t interval.
    pub own: Option<LogEstimate>,
    /// The shrunken estimate; none under `members_shrunk_min` members.
    pub shrunken: Option<LogEstimate>,
    /// Place by shrunken estimate, 1 is the largest; none when not ranked.
    pub rank: Option<usize>,
    /// What the shrunken interval (else the own interval) says.
    pub verdict: Option<Verdict>,
}

impl MemberEffect {
    /// The estimate to publish: shrunken when there is one, else the member's own.
    pub fn published(&self) -> Option<&LogEstimate> {
        self.shrunken.as_ref().or(self.own.as_ref())
    }
}

/// All members' answers and the figures behind them.
#[derive(Debug, Clone)]
pub struct MemberEffects {
    /// One answer a farm, in the panel's order.
    pub members: Vec<MemberEffect>,
    /// Pooled error model.
    pub errors: ErrorModel,
    /// Prior of the members' own scales.
    pub prior: VariancePrior,
    /// The population of effects; none under `members_shrunk_min` members.
    pub population: Option<Population>,
    /// Months in the connected set with enough untreated farms.
    pub is_month_usable: Vec<bool>,
    /// Month effects.
    pub fit: MonthFit,
    /// Cells after the start of estimated members, `farm * months + month`.
    pub post_cells: Vec<bool>,
}

/// Differences of logarithms below this are rounding, not change.
const ROUNDING: f64 = 1e-12;

/// One member before scales are moderated.
struct Draft {
    status: MemberStatus,
    pre: Evidence,
    post: Evidence,
    post_any: Evidence,
    effect: Option<DraftEffect>,
}

#[derive(Clone, Copy)]
struct DraftEffect {
    tau: f64,
    own_variance: f64,
    month_variance: f64,
    scale: f64,
    degrees_of_freedom: f64,
}

/// Estimates every member's change in output against what would have happened anyway.
///
/// Month effects come from untreated farm-months ([`fit_untreated`]); a member's effect is the
/// weighted mean of what they leave after its start minus the same before. The error is the
/// pooled model ([`error_model`]) times the member's own scale, moderated over members
/// ([`moderate_variances`]), plus the error of the month effects. With enough members the
/// effects are shrunk ([`shrink`]) and ranked.
///
/// # Units
/// Natural logarithms of output per animal; [`LogEstimate::percent`] for people.
///
/// # Shape
/// One member a farm. Minimum data as in [`MemberRules`]; what is missing is in the status.
///
/// # Source
/// SPEC A1-A3: Borusyak, Jaravel & Spiess 2024; Smyth 2004; Morris 1983.
pub fn member_effects(panel: &Panel, rules: &MemberRules) -> MemberEffects {
    let fit = fit_untreated(panel, rules.kappa, rules.lags_max);
    let errors = error_model(&fit);
    let enough = |(n, c): (&usize, &bool)| *c && *n >= rules.controls_min;
    let is_month_usable: Vec<bool> =
        fit.controls.iter().zip(&fit.is_connected).map(enough).collect();
    let work = Work { panel, rules, fit: &fit, errors, is_month_usable: &is_month_usable };
    let drafts: Vec<Draft> = map_chunks(panel.farms(), |farms| {
        let mut cells = MemberCells::default();
        farms.map(|farm| work.draft(farm, &mut cells)).collect::<Vec<_>>()
    })
    .into_iter()
    .flatten()
    .collect();
    let estimated = || drafts.iter().filter_map(|d| d.effect.as_ref());
    let scales: Vec<_> = estimated().map(|e| (e.scale, e.degrees_of_freedom)).collect();
    let prior = moderate_variances(&scales);
    let mut post_cells = vec![false; panel.farms() * panel.months()];
    for (farm, draft) in drafts.iter().enumerate() {
        if draft.effect.is_some() {
            work.mark_post(farm, &mut post_cells);
        }
    }
    let mut members: Vec<MemberEffect> = map_chunks(drafts.len(), |range| {
        let mut critical = CriticalPoints::default();
        drafts[range].iter().map(|d| d.moderate(&prior, &mut critical)).collect::<Vec<_>>()
    })
    .into_iter()
    .flatten()
    .collect();
    let population = shrink_members(&mut members, rules.members_shrunk_min);
    for member in &mut members {
        member.verdict = member.published().map(verdict);
    }
    MemberEffects { members, errors, prior, population, is_month_usable, fit, post_cells }
}

fn verdict(estimate: &LogEstimate) -> Verdict {
    if estimate.interval.lower > ROUNDING {
        Verdict::Increase
    } else if estimate.interval.upper < -ROUNDING {
        Verdict::Decrease
    } else {
        Verdict::Unclear
    }
}

fn shrink_members(members: &mut [MemberEffect], members_min: usize) -> Option<Population> {
    let own = |(i, m): (usize, &MemberEffect)| m.own.map(|e| (i, e));
    let estimated: Vec<(usize, LogEstimate)> = members.iter().enumerate().filter_map(own).collect();
    if estimated.len() < members_min {
        return None;
    }
    let effects: Vec<f64> = estimated.iter().map(|(_, e)| e.value).collect();
    let variances: Vec<f64> = estimated.iter().map(|(_, e)| e.standard_error.powi(2)).collect();
    let shrunk = shrink(&effects, &variances)?;
    for (k, (i, own)) in estimated.iter().enumerate() {
        let (value, error) = (shrunk.effects[k], shrunk.standard_errors[k]);
        // Half width over standard error of the own interval is the critical value itself.
        let critical = (own.interval.upper - own.value) / own.standard_error;
        members[*i].shrunken = Some(LogEstimate::with_critical(value, error, critical));
    }
    let mut order: Vec<usize> = (0..estimated.len()).collect();
    order.sort_by(|a, b| shrunk.effects[*b].total_cmp(&shrunk.effects[*a]));
    for (place, k) in order.into_iter().enumerate() {
        members[estimated[k].0].rank = Some(place + 1);
    }
    Some(shrunk.population)
}

impl Draft {
    fn moderate(&self, prior: &VariancePrior, critical: &mut CriticalPoints) -> MemberEffect {
        let d0 = prior.degrees_of_freedom;
        let own_df = self.effect.map_or(0.0, |e| e.degrees_of_freedom);
        let degrees_of_freedom = (d0 + own_df).min(1000.0);
        let own = self.effect.map(|e| {
            let scale = (d0 * prior.scale + own_df * e.scale) / (d0 + own_df);
            let error = (scale * e.own_variance + e.month_variance).sqrt();
            LogEstimate::with_critical(e.tau, error, critical.at(degrees_of_freedom))
        });
        MemberEffect {
            status: self.status,
            pre: self.pre,
            post: self.post,
            post_any: self.post_any,
            degrees_of_freedom,
            own,
            shrunken: None,
            rank: None,
            verdict: None,
        }
    }
}

/// One usable cell of a member: month, weight, records, and output less months and stage.
#[derive(Debug, Clone, Copy)]
struct PhaseCell {
    month: usize,
    weight: f64,
    records: f64,
    left: f64,
}

#[derive(Default)]
struct MemberCells {
    pre: Vec<PhaseCell>,
    post: Vec<PhaseCell>,
    contrast: Vec<f64>,
}

struct Work<'a> {
    panel: &'a Panel<'a>,
    rules: &'a MemberRules,
    fit: &'a MonthFit,
    errors: ErrorModel,
    is_month_usable: &'a [bool],
}

impl Work<'_> {
    /// Months after the start that count, cut to the panel.
    fn post_months(&self, farm: usize) -> std::ops::Range<usize> {
        let first = self.panel.start(farm) + i64::from(self.rules.is_transition_skipped);
        let last = self.rules.months_post_max.map_or(i64::MAX, |w| first + i64::from(w));
        let cut = |t: i64| t.clamp(0, self.panel.months() as i64) as usize;
        cut(first)..cut(last)
    }

    fn pre_months(&self, farm: usize) -> std::ops::Range<usize> {
        if self.panel.start(farm) >= NEVER {
            return 0..0;
        }
        let last = self.panel.months_before_start(farm);
        let first = |w: u32| (self.panel.start(farm) - i64::from(w)).max(0);
        let first = self.rules.months_pre_max.map_or(0, first);
        last.min(usize::try_from(first).unwrap_or(usize::MAX))..last
    }

    fn phase(&self, farm: usize, months: std::ops::Range<usize>, cells: &mut Vec<PhaseCell>) {
        cells.clear();
        for t in months.filter(|t| self.is_month_usable[*t]) {
            if let Some(c) = self.fit.cell(self.panel, farm, t) {
                let left = c.y - self.fit.fitted(self.panel, farm, t);
                let (weight, records) = (c.weight, c.records);
                cells.push(PhaseCell { month: t, weight, records, left });
            }
        }
    }

    fn mark_post(&self, farm: usize, marks: &mut [bool]) {
        for t in self.post_months(farm) {
            let is_used = self.is_month_usable[t] && self.panel.observed(farm, t).is_some();
            marks[farm * self.panel.months() + t] = is_used;
        }
    }

    fn draft(&self, farm: usize, cells: &mut MemberCells) -> Draft {
        self.phase(farm, self.pre_months(farm), &mut cells.pre);
        self.phase(farm, self.post_months(farm), &mut cells.post);
        let observed = self.post_months(farm).filter_map(|t| self.panel.observed(farm, t));
        let any = |e: Evidence, (_, n): (f64, f64)| Evidence {
            months: e.months + 1,
            records: e.records + n,
        };
        let post_any = observed.fold(Evidence { months: 0, records: 0.0 }, any);
        let (pre, post) = (evidence(&cells.pre), evidence(&cells.post));
        let status = self.status(farm, pre, post, post_any);
        let is_estimated = status == MemberStatus::Estimated;
        let effect = is_estimated.then(|| self.effect(farm, cells));
        Draft { status, pre, post, post_any, effect }
    }

    /// The first thing that stands in the way, in the order of the specification.
    fn status(&self, farm: usize, pre: Evidence, post: Evidence, any: Evidence) -> MemberStatus {
        let (panel, rules) = (self.panel, self.rules);
        let is_enough_post =
            |e: Evidence| e.months >= rules.months_post_min && e.records >= rules.records_post_min;
        let first_post = panel.start(farm) + i64::from(rules.is_transition_skipped);
        let mut before = 0..panel.months_before_start(farm);
        if panel.start(farm) >= NEVER {
            MemberStatus::NotStarted
        } else if first_post >= panel.months() as i64 {
            MemberStatus::InsufficientPost
        } else if !before.any(|t| panel.observed(farm, t).is_some()) {
            MemberStatus::NoPreData
        } else if pre.months < rules.months_pre_min || pre.records < rules.records_pre_min {
            MemberStatus::InsufficientPre
        } else if !is_enough_post(any) {
            MemberStatus::InsufficientPost
        } else if !is_enough_post(post) || pre.months == 0 || post.months == 0 {
            MemberStatus::NoControls
        } else {
            MemberStatus::Estimated
        }
    }

    fn effect(&self, farm: usize, cells: &mut MemberCells) -> DraftEffect {
        let (before, after) =
            (Phase::new(&cells.pre, &self.errors), { Phase::new(&cells.post, &self.errors) });
        let contrast = &mut cells.contrast;
        contrast.clear();
        contrast.resize(self.panel.months() + self.panel.covariate_count(), 0.0);
        let sides = [(&cells.pre, before.weight, -1.0), (&cells.post, after.weight, 1.0)];
        let mut chain = Chain::default();
        let (mut record_part, mut inverse_records) = (0.0, 0.0);
        for (side, total, sign) in sides {
            for c in side {
                let a = sign * c.weight / total;
                contrast[c.month] = a;
                let x = self.panel.covariates(farm, c.month);
                let means = contrast[self.panel.months()..].iter_mut();
                means.zip(x).for_each(|(m, x)| *m += a * x);
                chain.add(c.month, a, self.errors.correlation);
                record_part += a * a / c.records;
                inverse_records += 1.0 / c.records;
            }
        }
        let count = (cells.pre.len() + cells.post.len()) as f64;
        let model = &self.errors;
        let expected = before.expected + after.expected;
        let record_variance = model.record_variance * (inverse_records / count);
        let total = model.month_variance + record_variance;
        let share = if total > 0.0 { model.month_variance / total } else { 0.0 };
        let phi2 = model.correlation * model.correlation;
        let inflation = 1.0 + 2.0 * share * share * phi2 / (1.0 - phi2);
        let month_variance = crate::linear::quadratic(&self.fit.covariance, contrast).max(0.0);
        DraftEffect {
            tau: after.mean - before.mean,
            own_variance: model.month_variance * chain.square + model.record_variance * record_part,
            month_variance,
            scale: if expected > 1e-12 { (before.square + after.square) / expected } else { 0.0 },
            degrees_of_freedom: (count - 2.0) / inflation,
        }
    }
}

fn evidence(cells: &[PhaseCell]) -> Evidence {
    Evidence { months: cells.len(), records: cells.iter().map(|c| c.records).sum() }
}

/// `a' K a` for `K = phi^|s - t|`, month by month: cost linear in months.
#[derive(Default)]
struct Chain {
    last: Option<usize>,
    carried: f64,
    square: f64,
}

impl Chain {
    fn add(&mut self, month: usize, a: f64, phi: f64) {
        let gap = self.last.map_or(0, |last| month - last);
        // `carried` is the sum of earlier `a_s phi^(t - s)`.
        self.carried *= phi.powi(i32::try_from(gap).unwrap_or(i32::MAX));
        self.square += a * a + 2.0 * a * self.carried;
        self.carried += a;
        self.last = Some(month);
    }
}

/// Weighted mean, sum of squares about it, and what that sum should be under the error model.
struct Phase {
    weight: f64,
    mean: f64,
    square: f64,
    expected: f64,
}

impl Phase {
    fn new(cells: &[PhaseCell], errors: &ErrorModel) -> Self {
        let weight: f64 = cells.iter().map(|c| c.weight).sum();
        let mean = cells.iter().map(|c| c.weight / weight * c.left).sum::<f64>();
        let (mut chain, mut spread, mut record_part) = (Chain::default(), 0.0, 0.0);
        for c in cells {
            let share = c.weight / weight;
            chain.add(c.month, share, errors.correlation);
            record_part += share * share / c.records;
            spread += c.weight * (errors.month_variance + errors.record_variance / c.records);
        }
        let of_mean = errors.month_variance * chain.square + errors.record_variance * record_part;
        let square = cells.iter().map(|c| c.weight * (c.left - mean).powi(2)).sum();
        Self { weight, mean, square, expected: spread - weight * of_mean }
    }
}
