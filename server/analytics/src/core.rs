//! One pass over all members: what each one's contrast is, and how far it may be off by itself.

use crate::errors::{Basis, Entry, Pool, PooledErrors, pooled_errors};
use crate::linear::quadratic;
use crate::member_effect::{Evidence, MemberRules, MemberStatus};
use crate::panel::{MonthFit, NEVER, Panel, fit_untreated};
use crate::parallel::map_chunks;

/// One usable cell of a member: month, weight, records, and output less months and stage.
#[derive(Debug, Clone, Copy)]
pub(crate) struct PhaseCell {
    pub month: usize,
    pub weight: f64,
    pub records: f64,
    pub left: f64,
}

/// A member's cells before and after its start, within the windows and usable months.
#[derive(Debug, Default)]
pub(crate) struct Phases {
    pub before: Vec<PhaseCell>,
    pub after: Vec<PhaseCell>,
}

/// What is known of a member before errors are moderated over all of them.
pub(crate) struct Draft {
    pub status: MemberStatus,
    pub pre: Evidence,
    pub post: Evidence,
    pub post_any: Evidence,
    pub effect: Option<DraftEffect>,
}

#[derive(Debug, Clone)]
pub(crate) struct DraftEffect {
    pub tau: f64,
    /// Weights of the comparison: they add up to 0.
    pub contrast: Vec<Entry>,
    pub own_variance: f64,
    /// The same by the model alone; 0 where nothing asks for it.
    pub model_variance: f64,
    pub month_variance: f64,
    /// The member's own scatter over what the pool leads one to expect.
    pub scale: f64,
    pub degrees_of_freedom: f64,
}

/// Month effects, errors and members of one panel.
pub(crate) struct Core<'a> {
    pub panel: Panel<'a>,
    pub rules: &'a MemberRules,
    pub fit: MonthFit,
    pub errors: PooledErrors,
    pub is_month_usable: Vec<bool>,
    pub drafts: Vec<Draft>,
}

impl<'a> Core<'a> {
    pub(crate) fn new(panel: Panel<'a>, rules: &'a MemberRules) -> Self {
        let fit = fit_untreated(&panel, rules.kappa);
        let errors = pooled_errors(&panel, &fit);
        let enough = |(n, c): (&usize, &bool)| *c && *n >= rules.controls_min;
        let is_month_usable = fit.controls.iter().zip(&fit.is_connected).map(enough).collect();
        let mut core = Self { panel, rules, fit, errors, is_month_usable, drafts: Vec::new() };
        let scatter = [core.errors.scatter(0), core.errors.scatter(1)];
        let drafts = map_chunks(panel.farms(), |farms| {
            let mut work = DraftWork {
                core: &core,
                scatter: &scatter,
                phases: Phases::default(),
                design: Vec::new(),
                form: Form::default(),
            };
            farms.map(|farm| work.draft(farm)).collect::<Vec<_>>()
        });
        core.drafts = drafts.into_iter().flatten().collect();
        core.moderate_shape();
        core
    }

    /// Estimated members in order.
    pub(crate) fn estimated(&self) -> impl Iterator<Item = (usize, &DraftEffect)> {
        let all = self.drafts.iter().enumerate();
        all.filter_map(|(farm, d)| d.effect.as_ref().map(|e| (farm, e)))
    }

    /// Moves errors towards the shape of the model, as far as comparisons are few; their level
    /// stays that of the comparisons.
    fn moderate_shape(&mut self) {
        if self.errors.basis != Basis::Placebo {
            return;
        }
        let share = self.errors.shape_share();
        for group in [0, 1] {
            let of_group = |farm: usize| self.errors.group(farm) == group;
            let (mut own, mut model) = (0.0, 0.0);
            for (_, e) in self.estimated().filter(|(farm, _)| of_group(*farm)) {
                own += e.own_variance;
                model += e.model_variance;
            }
            if model <= 0.0 {
                continue;
            }
            let errors = &self.errors;
            let drafts = self.drafts.iter_mut().enumerate();
            for (_, draft) in drafts.filter(|(farm, _)| errors.group(*farm) == group) {
                if let Some(e) = draft.effect.as_mut() {
                    let other = e.model_variance * own / model;
                    e.own_variance = share * e.own_variance + (1.0 - share) * other;
                }
            }
        }
    }

    /// Months after the start that count, cut to the panel.
    fn post_months(&self, farm: usize) -> std::ops::Range<usize> {
        let first = self.panel.start(farm) + 1;
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
            if let Some(c) = self.fit.cell(&self.panel, farm, t) {
                let left = c.y - self.fit.fitted(&self.panel, farm, t);
                let (weight, records) = (c.weight, c.records);
                cells.push(PhaseCell { month: t, weight, records, left });
            }
        }
    }

    /// A member's cells on both sides of its start.
    pub(crate) fn phases(&self, farm: usize, phases: &mut Phases) {
        self.phase(farm, self.pre_months(farm), &mut phases.before);
        self.phase(farm, self.post_months(farm), &mut phases.after);
    }

    /// Cells after the start of estimated members, `farm * months + month`.
    pub(crate) fn post_cells(&self) -> Vec<bool> {
        let months = self.panel.months();
        let mut marks = vec![false; self.panel.farms() * months];
        for (farm, _) in self.estimated() {
            for t in self.post_months(farm) {
                let is_used = self.is_month_usable[t] && self.panel.observed(farm, t).is_some();
                marks[farm * months + t] = is_used;
            }
        }
        marks
    }

    /// Weights of a contrast over months and covariates.
    pub(crate) fn design(&self, farm: usize, contrast: &[Entry], to: &mut [f64]) {
        let months = self.panel.months();
        for e in contrast {
            to[e.month] += e.weight;
            let x = self.panel.covariates(farm, e.month);
            to[months..].iter_mut().zip(x).for_each(|(m, x)| *m += e.weight * x);
        }
    }
}

struct DraftWork<'a, 'b> {
    core: &'b Core<'a>,
    scatter: &'b [Pool; 2],
    phases: Phases,
    design: Vec<f64>,
    form: Form,
}

/// Room for a quadratic form over the cells of both phases.
#[derive(Default)]
struct Form {
    /// Covariance of two cells.
    covariance: Vec<f64>,
    /// Each cell's share of the weight of its side.
    share: Vec<f64>,
    mean: Vec<f64>,
    form: Vec<f64>,
}

impl DraftWork<'_, '_> {
    fn draft(&mut self, farm: usize) -> Draft {
        let core = self.core;
        core.phases(farm, &mut self.phases);
        let observed = core.post_months(farm).filter_map(|t| core.panel.observed(farm, t));
        let any = |e: Evidence, (_, n): (f64, f64)| Evidence {
            months: e.months + 1,
            records: e.records + n,
        };
        let post_any = observed.fold(Evidence { months: 0, records: 0.0 }, any);
        let (pre, post) = (evidence(&self.phases.before), evidence(&self.phases.after));
        let status = self.status(farm, pre, post, post_any);
        let is_estimated = status == MemberStatus::Estimated;
        let effect = is_estimated.then(|| self.effect(farm));
        Draft { status, pre, post, post_any, effect }
    }

    /// The first thing that stands in the way, in the order of the specification.
    fn status(&self, farm: usize, pre: Evidence, post: Evidence, any: Evidence) -> MemberStatus {
        let (panel, rules) = (&self.core.panel, self.core.rules);
        let is_enough_post =
            |e: Evidence| e.months >= rules.months_post_min && e.records >= rules.records_post_min;
        let mut before = 0..panel.months_before_start(farm);
        if panel.start(farm) >= NEVER {
            MemberStatus::NotStarted
        } else if panel.start(farm) + 1 >= panel.months() as i64 {
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

    fn effect(&mut self, farm: usize) -> DraftEffect {
        let core = self.core;
        let (before, after) = (Phase::new(&self.phases.before), Phase::new(&self.phases.after));
        let sides =
            [(&self.phases.before, before.weight, -1.0), (&self.phases.after, after.weight, 1.0)];
        let mut contrast = Vec::with_capacity(self.phases.before.len() + self.phases.after.len());
        for (cells, total, sign) in sides {
            contrast.extend(cells.iter().map(|c| Entry {
                month: c.month,
                weight: sign * c.weight / total,
                inverse: c.inverse(),
            }));
        }
        let (expected, degrees_of_freedom) = self.expected_scatter(farm);
        let design = &mut self.design;
        design.clear();
        design.resize(core.fit.inverse.nrows(), 0.0);
        core.design(farm, &contrast, design);
        let scale = (before.square + after.square) / expected;
        DraftEffect {
            tau: after.mean - before.mean,
            own_variance: core.errors.variance(farm, &contrast),
            model_variance: match core.errors.basis {
                Basis::Placebo => core.errors.model_variance(&contrast),
                Basis::Model => 0.0,
            },
            month_variance: quadratic(&core.fit.covariance, design).max(0.0),
            scale: if expected > 1e-12 { scale } else { 0.0 },
            degrees_of_freedom,
            contrast,
        }
    }

    /// What the scatter within both phases should be under the pool, and its degrees of freedom
    /// (Satterthwaite 1946).
    fn expected_scatter(&mut self, farm: usize) -> (f64, f64) {
        let pool = &self.scatter[usize::from(self.core.errors.group(farm))];
        let (before, after) = (&self.phases.before, &self.phases.after);
        let count = before.len() + after.len();
        let Form { covariance, share, mean, form } = &mut self.form;
        share.clear();
        for side in [before, after] {
            let total: f64 = side.iter().map(|c| c.weight).sum();
            share.extend(side.iter().map(|c| c.weight / total));
        }
        covariance.clear();
        for t in before.iter().chain(after) {
            covariance.extend(before.iter().chain(after).map(|s| {
                let lag = t.month.abs_diff(s.month);
                let noise = if lag == 0 { pool.record_variance * t.inverse() } else { 0.0 };
                noise - pool.half_squares[lag]
            }));
        }
        form.clear();
        let mut expected = 0.0;
        let sides = [(before, 0..before.len()), (after, before.len()..count)];
        for (side, cells) in sides {
            // The mean of the side's rows, taken off each of them.
            mean.clear();
            mean.resize(count, 0.0);
            for u in cells.clone() {
                let row = &covariance[u * count..(u + 1) * count];
                mean.iter_mut().zip(row).for_each(|(m, c)| *m += share[u] * c);
            }
            for (t, cell) in cells.zip(side) {
                let row = covariance[t * count..(t + 1) * count].iter().zip(&*mean);
                form.extend(row.map(|(c, mean)| cell.weight * (c - mean)));
                expected += form[t * count + t];
            }
        }
        let mut square = 0.0;
        for t in 0..count {
            for s in 0..count {
                square += form[t * count + s] * form[s * count + t];
            }
        }
        let df = if square > 0.0 { expected * expected / square } else { 1.0 };
        (expected, df.min(count as f64 - 2.0).max(0.0))
    }
}

impl PhaseCell {
    pub(crate) fn inverse(&self) -> f64 {
        1.0 / self.records.max(1.0)
    }
}

fn evidence(cells: &[PhaseCell]) -> Evidence {
    // The sum of nothing is minus 0.
    Evidence { months: cells.len(), records: cells.iter().map(|c| c.records).sum::<f64>() + 0.0 }
}

/// Weighted mean, and sum of squares about it.
struct Phase {
    weight: f64,
    mean: f64,
    square: f64,
}

impl Phase {
    fn new(cells: &[PhaseCell]) -> Self {
        let weight: f64 = cells.iter().map(|c| c.weight).sum();
        let mean = cells.iter().map(|c| c.weight / weight * c.left).sum::<f64>();
        let square = cells.iter().map(|c| c.weight * (c.left - mean).powi(2)).sum();
        Self { weight, mean, square }
    }
}
