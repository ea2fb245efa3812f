//! Savings since the start, with intervals.

use super::feed::FeedSavings;
use super::figures::HalfWidths;
use crate::Coop;
use std::sync::Arc;
use traybook_analytics::saving::{self, Amount, FarmAnswer};
use traybook_analytics::sentences::{saving_programme_sentence, saving_sentence};
use traybook_analytics::stats::{CriticalPoints, Interval};
use traybook_answers::estimates::{ProgrammeSaving, Range, SavingFigures, SavingStatus};
use traybook_storage::farm_rows::FarmRow;
use uuid::Uuid;

/// How it is estimated.
pub(super) const METHOD: &str = "what the feed bought per animal-day before the start would cost at each month's \
    prices, set against the months' index of farms that had not started, minus feed, seed, other \
    costs and straight-line depreciation; all reported months after the start; 95 % intervals from \
    how the cost per animal-day scattered before it. The monthly report uses the recorded \
    ration instead, so the two differ";

fn power(coop: &Coop) -> f64 {
    10_f64.powi(i32::from(coop.digits))
}

/// What each farm saved, and the half widths of its months.
pub(super) fn of_farms(
    made: &FeedSavings,
    coop: &Coop,
    farms: &[Arc<FarmRow>],
) -> Vec<(Uuid, SavingFigures, Option<HalfWidths>)> {
    let answers = made.savings.as_ref().map_or(&[][..], |s| s.farms.as_slice());
    let mut critical = CriticalPoints::default();
    let figures = |((farm, answer), milk): ((&Arc<FarmRow>, &FarmAnswer), &bool)| {
        let widths = made.half_widths(answer, &mut critical);
        (farm.farm, figures(&in_units(answer, power(coop)), *milk, &coop.currency), widths)
    };
    farms.iter().zip(answers).zip(&made.is_milk).map(figures).collect()
}

/// What all farms saved together.
pub(super) fn of_programme(made: &FeedSavings, coop: &Coop) -> ProgrammeSaving {
    let power = power(coop);
    let programme = made.savings.as_ref().and_then(|s| s.programme).map(|mut p| {
        p.per_day /= power;
        p.total /= power;
        p.total_standard_error /= power;
        p.total_interval = scaled(p.total_interval, power);
        p.per_day_interval = scaled(p.per_day_interval, power);
        p
    });
    ProgrammeSaving {
        sentence: saving_programme_sentence(programme.as_ref(), &coop.currency),
        farms_estimated: programme.as_ref().map_or(0, |p| u64::try_from(p.farms).unwrap_or(0)),
        saving: programme.as_ref().map(|p| cents(p.total)),
        saving_interval: programme.as_ref().map(|p| range(p.total_interval)),
        saving_per_animal_day: programme.as_ref().map(|p| cents(p.per_day)),
    }
}

fn cents(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

fn range(i: Interval) -> Range {
    Range { low: cents(i.lower), high: cents(i.upper) }
}

fn scaled(i: Interval, power: f64) -> Interval {
    Interval { lower: i.lower / power, upper: i.upper / power }
}

/// The answer with its money in currency units.
fn in_units(answer: &FarmAnswer, power: f64) -> FarmAnswer {
    let mut answer = answer.clone();
    if let Some(s) = &mut answer.saving {
        let amount = |a: &mut Amount| {
            a.value /= power;
            a.standard_error = a.standard_error.map(|e| e / power);
            a.interval = a.interval.map(|i| scaled(i, power));
        };
        amount(&mut s.total);
        amount(&mut s.per_day);
        s.counterfactual_total /= power;
        s.per_unit_matched = s.per_unit_matched.map(|v| v / power);
    }
    answer
}

fn figures(answer: &FarmAnswer, milk: bool, currency: &str) -> SavingFigures {
    let s = answer.saving.as_ref();
    let per_unit = s.and_then(|s| s.per_unit_matched).map(cents);
    let count = |n: usize| u64::try_from(n).unwrap_or(u64::MAX);
    SavingFigures {
        status: match answer.status {
            saving::SavingStatus::NotStarted => SavingStatus::NotStarted,
            saving::SavingStatus::NoBaseline => SavingStatus::NoBaseline,
            saving::SavingStatus::InsufficientBaseline => SavingStatus::InsufficientBaseline,
            saving::SavingStatus::NoPostMonths => SavingStatus::NoPostMonths,
            saving::SavingStatus::Estimated => SavingStatus::Estimated,
            saving::SavingStatus::EstimatedUnadjusted => SavingStatus::EstimatedUnadjusted,
        },
        sentence: saving_sentence(answer, currency),
        months_before: s.map(|s| count(s.baseline_months)),
        months_after: s.map(|s| count(s.months.len())),
        saving: s.map(|s| cents(s.total.value)),
        saving_interval: s.and_then(|s| s.total.interval).map(range),
        baseline_cost: s.map(|s| cents(s.counterfactual_total)),
        saving_percent_of_baseline: s.and_then(|s| s.percent).map(cents),
        saving_per_animal_day: s.map(|s| cents(s.per_day.value)),
        saving_per_animal_day_interval: s.and_then(|s| s.per_day.interval).map(range),
        saving_per_litre: per_unit.filter(|_| milk),
        saving_per_egg: per_unit.filter(|_| !milk),
    }
}
