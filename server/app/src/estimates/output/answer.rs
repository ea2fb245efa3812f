//! From estimates to what is answered.

use super::Estimates;
use super::panel::FarmPanel;
use crate::estimates::figures::{CoopOutput, Scatter};
use traybook_analytics::area_shock::AreaBasis;
use traybook_analytics::errors::Basis;
use traybook_analytics::level::{self, LevelChange as Jump};
use traybook_analytics::member_effect::{MemberEffect, MemberStatus, Verdict as Direction};
use traybook_analytics::programme::{Programme, programmes_disagree};
use traybook_analytics::records::Output;
use traybook_analytics::sentences::{
    SETTLED_ASSUMPTION, by_settled, dose_sentence, output_change_sentence, programme_sentence,
    warning_sentence,
};
use traybook_analytics::settled::{DoseResponse, Drift, DriftStatus as Moves};
use traybook_analytics::stats::LogEstimate;
use traybook_answers::estimates::{
    AreaOutputChange, BeforeStart, Comparison, DoseAnswer, DoseStatus, DriftStatus, Enterprise,
    LevelCause, LevelChange, NotEstimated, OutputFigures, OutputStatus, Percent,
    ProgrammeOutputChange, StartPoint, Verdict, WeakerAnswers,
};
use traybook_answers::wire;
use traybook_domain::value::real;
use uuid::Uuid;

/// What the programme's estimate is checked against.
#[derive(Default)]
pub(super) struct Checks {
    pub cross_check: Option<LogEstimate>,
    pub before_start: Vec<(i64, LogEstimate)>,
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

/// Spread of effects where no population could be estimated.
const EFFECT_SD: f64 = 0.07;

/// How output wanders by itself; none where only a model gives it.
pub(super) fn scatter(of: &Estimates, found: &FarmPanel) -> Option<Scatter> {
    let (errors, shock) = (&of.effects.errors, &of.effects.area_shock);
    let observed = found.months.records.iter().filter(|n| **n > 0.0).count();
    let records: f64 = found.months.records.iter().sum();
    let population = of.effects.population;
    (errors.basis == Basis::Placebo).then(|| Scatter {
        half_squares: errors.all.half_squares.clone(),
        record_variance: errors.all.record_variance,
        area_variance: shock.variance,
        area_correlation: shock.correlation,
        records_a_month: records / real(i64::try_from(observed.max(1)).unwrap_or(1)),
        effect_sd: population.map_or(EFFECT_SD, |p| p.variance.max(0.0).sqrt()),
        saving_a_farm_month: None,
    })
}

/// What is said where there is no record.
pub(super) fn nothing(enterprise: Enterprise) -> CoopOutput {
    let output = if enterprise == Enterprise::Milk { Output::Milk } else { Output::Eggs };
    CoopOutput {
        first_month: None,
        last_month: None,
        is_stage_adjusted: false,
        programme: ProgrammeOutputChange {
            farms_estimated: 0,
            farm_months: 0,
            not_estimated: Vec::new(),
            has_few_comparisons: true,
            start_point: StartPoint::NotChecked,
            is_start_by_area: false,
            are_area_shocks_known: false,
            start_order: None,
            weaker: WeakerAnswers {
                assumption: SETTLED_ASSUMPTION.to_owned(),
                settled_farms: DriftStatus::NotKnown,
                settled_change_a_month: None,
                farms_by_settled: 0,
                dose: dose(&DoseResponse::InsufficientDoseData, output),
            },
            sentence: programme_sentence(None, output),
            cross_check: Percent::default(),
            is_cross_check_apart: false,
            warning: None,
            before_start: Vec::new(),
            percent: None,
            low: None,
            high: None,
        },
        areas: Vec::new(),
        farms: Vec::new(),
        scatter: None,
    }
}

pub(super) fn area(effect: Option<&Programme>, output: Output) -> AreaOutputChange {
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

pub(super) fn programme(
    of: &Estimates,
    checks: &Checks,
    found: &FarmPanel,
    farms: &[(Uuid, OutputFigures)],
) -> ProgrammeOutputChange {
    let (effects, output) = (&of.effects, found.output);
    let effect = effects.programme.as_ref();
    let both = effect.map(|e| &e.estimate).zip(checks.cross_check.as_ref());
    let before = |(months_from_start, estimate): &(i64, LogEstimate)| {
        let Percent { percent, low, high } = percent(Some(estimate));
        BeforeStart { months_from_start: *months_from_start, percent, low, high }
    };
    let without = |status: &OutputStatus| {
        let of_status = farms.iter().filter(|(_, f)| f.status == *status).count();
        (of_status > 0).then_some(NotEstimated { status: *status, farms: count(of_status) })
    };
    let statuses = OutputStatus::ALL.iter().filter(|s| **s != OutputStatus::Estimated);
    let Percent { percent: value, low, high } = percent(effect.map(|e| &e.estimate));
    ProgrammeOutputChange {
        farms_estimated: effect.map_or(0, |p| count(p.farms)),
        farm_months: effect.map_or(0, |p| count(p.cells)),
        not_estimated: statuses.filter_map(without).collect(),
        has_few_comparisons: effects.errors.basis == Basis::Model,
        start_point: match effects.low_start.flag {
            level::StartPoint::None => StartPoint::None,
            level::StartPoint::Low => StartPoint::Low,
            level::StartPoint::High => StartPoint::High,
            level::StartPoint::NotChecked => StartPoint::NotChecked,
        },
        is_start_by_area: effect.is_some_and(Programme::is_start_by_area),
        are_area_shocks_known: effects.area_shock.basis == AreaBasis::AreaMonths,
        start_order: of.start_order.clone(),
        weaker: weaker(&of.drift, of.by_settled.len(), &of.dose, output),
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

fn weaker(drift: &Drift, helped: usize, found: &DoseResponse, output: Output) -> WeakerAnswers {
    WeakerAnswers {
        assumption: SETTLED_ASSUMPTION.to_owned(),
        settled_farms: match drift.status {
            Moves::Drifting => DriftStatus::Drifting,
            Moves::Steady => DriftStatus::Steady,
            Moves::NotKnown => DriftStatus::NotKnown,
        },
        settled_change_a_month: drift.slope.map(|(slope, _)| round(100.0 * slope.exp_m1())),
        farms_by_settled: count(helped),
        dose: dose(found, output),
    }
}

fn dose(found: &DoseResponse, output: Output) -> DoseAnswer {
    let (status, effect) = match found {
        DoseResponse::InsufficientDoseData => (DoseStatus::InsufficientDoseData, None),
        DoseResponse::NoDoseVariation { .. } => (DoseStatus::NoDoseVariation, None),
        DoseResponse::DoseFollowsOutput(_) => (DoseStatus::DoseFollowsOutput, None),
        DoseResponse::Estimated(effect) => (DoseStatus::Estimated, Some(effect)),
    };
    DoseAnswer {
        status,
        farms: effect.map_or(0, |e| count(e.farms)),
        mean_dose_kg: effect.map(|e| round(e.mean_dose)),
        at_mean: percent(effect.map(|e| &e.at_mean)),
        sentence: dose_sentence(found, output),
    }
}

pub(super) fn figures(
    found: &FarmPanel,
    at: usize,
    (e, comparison): (&MemberEffect, Option<Comparison>),
    jump: Option<&Jump>,
) -> OutputFigures {
    let left = found.left.get(at).cloned().unwrap_or_default();
    let Percent { percent, low, high } = percent(e.published());
    let is_held = e.status == MemberStatus::CheckLevel;
    let own = output_change_sentence(e, found.output);
    OutputFigures {
        status: status(e.status),
        months_before: count(e.pre.months),
        records_before: e.pre.records,
        months_after: count(e.post.months),
        records_after: e.post.records,
        days_left_out: whole(left.slips),
        half_days: u64::try_from(left.half_days).unwrap_or(0),
        shifted_months: left.shifted.into_iter().map(wire::Month).collect(),
        level: jump.filter(|_| is_held).and_then(|j| level_change(found, j)),
        is_stage_missing: left.is_stage_missing,
        comparison,
        sure_of_100: e.wrong_sign().map(|p| (1000.0 * (1.0 - p)).round() / 10.0),
        is_shrunken: e.shrunken.is_some(),
        rank: e.rank.filter(|_| comparison == Some(Comparison::Waiting)).map(count),
        verdict: e.verdict.map(|v| match v {
            Direction::Increase => Verdict::Increase,
            Direction::Decrease => Verdict::Decrease,
            Direction::Unclear => Verdict::Unclear,
        }),
        sentence: if comparison == Some(Comparison::Settled) { by_settled(&own) } else { own },
        percent,
        low,
        high,
    }
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count of days")]
fn whole(days: f64) -> u64 {
    days.max(0.0).round() as u64
}

const fn status(status: MemberStatus) -> OutputStatus {
    match status {
        MemberStatus::CheckLevel => OutputStatus::CheckLevel,
        MemberStatus::NotStarted => OutputStatus::NotStarted,
        MemberStatus::NoPreData => OutputStatus::NoPreData,
        MemberStatus::InsufficientPre => OutputStatus::InsufficientPre,
        MemberStatus::InsufficientPost => OutputStatus::InsufficientPost,
        MemberStatus::NoControls => OutputStatus::NoControls,
        MemberStatus::Estimated => OutputStatus::Estimated,
    }
}

fn level_change(found: &FarmPanel, jump: &Jump) -> Option<LevelChange> {
    let month = found.first.plus(i32::try_from(jump.month?).ok()?);
    let likely = cause(jump.shift, found.enterprise);
    Some(LevelChange { month: wire::Month(month), factor: round(jump.shift.exp()), likely })
}

/// How far from a usual slip's factor a jump may lie, logarithm: 25 %; for factors of ten and more
/// 40 %.
const NEAR: f64 = 0.25;
const NEAR_LARGE: f64 = 0.35;

/// What may have made a jump: the usual slip nearest to it.
fn cause(shift: f64, enterprise: Enterprise) -> LevelCause {
    let causes = [
        (0.5, LevelCause::Halved),
        (2.0, LevelCause::Doubled),
        (10.0, LevelCause::TenTimes),
        (0.1, LevelCause::Tenth),
        (100.0, LevelCause::HundredTimes),
        (0.01, LevelCause::Hundredth),
        (30.0, LevelCause::ThirtyTimes),
        (1.0 / 30.0, LevelCause::Thirtieth),
    ];
    let of_eggs = |c: LevelCause| matches!(c, LevelCause::ThirtyTimes | LevelCause::Thirtieth);
    let usual = causes.into_iter().filter(|(_, c)| enterprise == Enterprise::Eggs || !of_eggs(*c));
    let near = usual.filter_map(|(factor, cause)| {
        let factor: f64 = factor;
        let distance = (shift - factor.ln()).abs();
        let reach = if factor.ln().abs() < 1.0 { NEAR } else { NEAR_LARGE };
        (distance <= reach).then_some((distance, cause))
    });
    near.min_by(|a, b| a.0.total_cmp(&b.0)).map_or(LevelCause::Unknown, |(_, cause)| cause)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn usual_slips_are_named() {
        let milk = |factor: f64| cause(factor.ln(), Enterprise::Milk);
        let eggs = |factor: f64| cause(factor.ln(), Enterprise::Eggs);
        assert_eq!(milk(0.52), LevelCause::Halved);
        assert_eq!(milk(9.0), LevelCause::TenTimes);
        assert_eq!(milk(0.011), LevelCause::Hundredth);
        assert_eq!(milk(30.0), LevelCause::Unknown);
        assert_eq!(eggs(30.0), LevelCause::ThirtyTimes);
        assert_eq!(eggs(1.0 / 28.0), LevelCause::Thirtieth);
        assert_eq!(milk(1.4), LevelCause::Unknown);
    }
}
