//! Members, programme and cross-check: minimum data, order of statuses, and simple truths.

#![expect(clippy::unwrap_used, reason = "a test stops at the first thing that is not there")]

use crate::made_up::Herds;
use traybook_analytics::callaway::{Control, group_times};
use traybook_analytics::errors::pooled_errors;
use traybook_analytics::limits::PRE_START_EVENTS;
use traybook_analytics::member_effect::{
    Background, MemberEffects, MemberRules, MemberStatus, Verdict, member_effects,
};
use traybook_analytics::panel::{Panel, fit_untreated};
use traybook_analytics::programme::{Averaging, Reference, imputation_effect, programmes_disagree};
use traybook_analytics::records::Covariates;
use traybook_analytics::shrinkage::shrink;
use traybook_analytics::stats::{Interval, LogEstimate, moderate_variances};

const MISSING: f64 = f64::NAN;

/// Six farms that never start, observed throughout, then farms as the test asks for.
struct Coop {
    months: usize,
    log_output: Vec<f64>,
    records: Vec<f64>,
    start: Vec<Option<u32>>,
}

impl Coop {
    fn new(months: usize) -> Self {
        let mut coop = Self { months, log_output: vec![], records: vec![], start: vec![] };
        (0..6).for_each(|farm| coop.add(None, |t| Some((wave(farm, t), 8.0))));
        coop
    }

    fn add(&mut self, start: Option<u32>, cell: impl Fn(usize) -> Option<(f64, f64)>) {
        for t in 0..self.months {
            let (y, n) = cell(t).unwrap_or((MISSING, 0.0));
            self.log_output.push(y);
            self.records.push(n);
        }
        self.start.push(start);
    }

    fn effects(&self, rules: &MemberRules) -> MemberEffects {
        let (y, n) = (&self.log_output, &self.records);
        let panel = Panel::new(self.months, y, n, &self.start, None).unwrap();
        member_effects(&panel, rules, &Background::default())
    }

    fn last_status(&self) -> MemberStatus {
        self.effects(&MemberRules::default()).members.last().unwrap().status
    }
}

/// A smooth path with some noise, the same every time.
fn wave(farm: usize, t: usize) -> f64 {
    let noise = ((farm * 31 + t * 17) % 11) as f64 / 11.0 - 0.5;
    2.0 + 0.1 * farm as f64 + 0.05 * (t as f64 / 2.0).sin() + 0.06 * noise
}

/// Status of one more farm with these months, each with `n` records.
fn status(start: Option<u32>, months: &[usize], n: f64) -> MemberStatus {
    let mut coop = Coop::new(20);
    coop.add(start, |t| months.contains(&t).then(|| (wave(9, t), n)));
    coop.last_status()
}

#[test]
fn status_names_the_first_thing_in_the_way() {
    let all: Vec<usize> = (0..20).collect();
    assert_eq!(status(None, &all, 8.0), MemberStatus::NotStarted);
    assert_eq!(status(Some(18), &all, 8.0), MemberStatus::InsufficientPost);
    assert_eq!(status(Some(19), &all, 8.0), MemberStatus::InsufficientPost);
    assert_eq!(status(Some(25), &all, 8.0), MemberStatus::InsufficientPost);
    assert_eq!(status(Some(0), &all, 8.0), MemberStatus::NoPreData);
    assert_eq!(status(Some(5), &all[5..], 8.0), MemberStatus::NoPreData);
    assert_eq!(status(Some(5), &all[3..], 8.0), MemberStatus::InsufficientPre);
    assert_eq!(status(Some(5), &all[..6], 8.0), MemberStatus::InsufficientPost);
    assert_eq!(status(Some(5), &all, 8.0), MemberStatus::Estimated);
    assert_eq!(status(Some(17), &all, 8.0), MemberStatus::Estimated);
}

#[test]
fn minima_are_three_months_and_six_records_before_two_and_four_after() {
    assert_eq!(status(Some(8), &[5, 6, 7, 9, 10], 2.0), MemberStatus::Estimated);
    assert_eq!(status(Some(8), &[6, 7, 9, 10], 3.0), MemberStatus::InsufficientPre);
    assert_eq!(status(Some(8), &[5, 6, 7, 9, 10], 1.9), MemberStatus::InsufficientPre);
    assert_eq!(status(Some(8), &[5, 6, 7, 9], 4.0), MemberStatus::InsufficientPost);
    assert_eq!(status(Some(8), &[4, 5, 6, 7, 9, 10], 1.9), MemberStatus::InsufficientPost);
    assert_eq!(status(Some(8), &[4, 5, 6, 7, 9, 10, 11], 1.5), MemberStatus::Estimated);
    // The month of the start is neither before nor after.
    assert_eq!(status(Some(8), &[5, 6, 7, 8, 9], 4.0), MemberStatus::InsufficientPost);
    assert_eq!(status(Some(8), &[5, 6, 8, 9, 10], 4.0), MemberStatus::InsufficientPre);
}

#[test]
fn windows_reach_twelve_months_either_way() {
    // Months 3 to 14 are the twelve before month 15; 16 to 27 the twelve after.
    let status = |months: &[usize]| {
        let mut coop = Coop::new(30);
        coop.add(Some(15), |t| months.contains(&t).then(|| (wave(9, t), 8.0)));
        coop.last_status()
    };
    assert_eq!(status(&[3, 4, 5, 16, 27]), MemberStatus::Estimated);
    assert_eq!(status(&[2, 4, 5, 16, 27]), MemberStatus::InsufficientPre);
    assert_eq!(status(&[3, 4, 5, 16, 28]), MemberStatus::InsufficientPost);
    let mut coop = Coop::new(30);
    coop.add(Some(15), |t| [0, 1, 2, 28, 29].contains(&t).then(|| (wave(9, t), 8.0)));
    let open =
        MemberRules { months_pre_max: None, months_post_max: None, ..MemberRules::default() };
    assert_eq!(coop.effects(&open).members[6].status, MemberStatus::Estimated);
    assert_eq!(coop.effects(&open).members[0].pre.months, 0);
}

#[test]
fn months_need_five_untreated_farms() {
    // Farms 0 to 5 leave at month 12, one of them already at month 10: five, then none.
    let mut coop = Coop { months: 16, log_output: vec![], records: vec![], start: vec![] };
    for farm in 0..6 {
        let last = if farm == 0 { 10 } else { 12 };
        coop.add(None, |t| (t < last).then(|| (wave(farm, t), 8.0)));
    }
    coop.add(Some(8), |t| Some((wave(9, t), 8.0)));
    let effects = coop.effects(&MemberRules::default());
    assert_eq!(effects.fit.controls[8..12], [6, 6, 5, 5]);
    assert_eq!(effects.is_month_usable, [[true; 12].to_vec(), vec![false; 4]].concat());
    let member = &effects.members[6];
    assert_eq!((member.status, member.post.months), (MemberStatus::Estimated, 3));
    assert_eq!((member.post_any.months, member.post_any.records as u32), (7, 56));
    assert_eq!((member.pre.months, member.pre.records as u32), (8, 64));
    coop.start[6] = Some(10);
    let late = coop.effects(&MemberRules::default());
    assert_eq!(late.members[6].status, MemberStatus::NoControls);
    assert_eq!(late.members[6].own, None);
    let six = MemberRules { controls_min: 6, ..MemberRules::default() };
    assert_eq!(coop.effects(&six).is_month_usable[9..12], [true, false, false]);
}

#[test]
fn an_exact_change_is_found_exactly() {
    // No noise: farm levels, common months, and 0.2 more after the start.
    let common = |t: usize| 0.3 * (t as f64).cos();
    let mut coop = Coop { months: 18, log_output: vec![], records: vec![], start: vec![] };
    for farm in 0..7 {
        coop.add(None, |t| Some((farm as f64 + common(t), 3.0 + t as f64)));
    }
    for farm in 0..9 {
        let after = |t: usize| if t > 8 { 0.2 } else { 0.0 };
        coop.add(Some(8), |t| Some((farm as f64 + common(t) + after(t), 5.0)));
    }
    let effects = coop.effects(&MemberRules::default());
    let (y, n) = (&coop.log_output, &coop.records);
    let panel = Panel::new(18, y, n, &coop.start, None).unwrap();
    for member in &effects.members[7..] {
        assert!((member.own.unwrap().value - 0.2).abs() < 1e-9);
        assert_eq!(member.verdict, Some(Verdict::Increase));
    }
    let programme = effects.programme.unwrap();
    assert!((programme.estimate.value - 0.2).abs() < 1e-9);
    assert_eq!((programme.farms, programme.cells), (9, 81));
    let percent = programme.estimate.percent().unwrap();
    assert!((percent.value - 22.140_275_816).abs() < 1e-6);
    let check = group_times(&panel, Control::NotYetStarted).simple(1).unwrap();
    assert!((check.value - 0.2).abs() < 1e-9);
    for t in 0..18 {
        let expected = common(t) - common(0);
        assert!((effects.fit.month_effects[t] - expected).abs() < 1e-9);
    }
}

#[test]
fn no_change_at_all_is_unclear_not_a_verdict() {
    // At level 0 nothing is rounded either, so that there is no variance at all.
    for level in [2.0, 0.0] {
        let mut coop = Coop { months: 12, log_output: vec![], records: vec![], start: vec![] };
        (0..7).for_each(|_| coop.add(None, |_| Some((level, 3.0))));
        (0..3).for_each(|_| coop.add(Some(6), |_| Some((level, 3.0))));
        let effects = coop.effects(&MemberRules::default());
        assert_eq!(effects.members[8].verdict, Some(Verdict::Unclear));
        assert_eq!(effects.members[0].verdict, None);
        // Without any noise the error is a millionth, not "not a number".
        let own = effects.members[8].own.unwrap();
        assert!(own.value.abs() < 1e-9 && own.standard_error <= 1e-6, "{own:?}");
    }
}

#[test]
fn members_are_shrunk_and_ranked_from_eight_on() {
    let estimated = |members: usize| {
        let mut coop = Coop::new(20);
        for farm in 0..members {
            let gain = 0.03 * farm as f64;
            let cell = |t: usize| (wave(farm + 3, t) + if t > 9 { gain } else { 0.0 }, 8.0);
            coop.add(Some(9), |t| Some(cell(t)));
        }
        coop.effects(&MemberRules::default())
    };
    let seven = estimated(7);
    assert_eq!(seven.population, None);
    assert!(seven.members.iter().all(|m| m.shrunken.is_none() && m.rank.is_none()));
    let top = seven.members.last().unwrap();
    assert_eq!(top.published(), top.own.as_ref());
    let eight = estimated(8);
    let mean = eight.population.unwrap().mean;
    let ranks: Vec<_> = eight.members[6..].iter().map(|m| m.rank.unwrap()).collect();
    assert_eq!(ranks, [8, 7, 6, 5, 4, 3, 2, 1]);
    for member in &eight.members[6..] {
        let (own, seen) = (member.own.unwrap(), member.shrunken.unwrap());
        assert!((seen.value - mean).abs() < (own.value - mean).abs());
        assert_eq!(member.published(), member.shrunken.as_ref());
        // Both intervals use the same critical value.
        let critical = |e: &LogEstimate| (e.interval.upper - e.value) / e.standard_error;
        assert!((critical(&own) - critical(&seen)).abs() < 1e-9);
    }
    assert_eq!(eight.members[13].verdict, Some(Verdict::Increase));
}

#[test]
fn only_the_largest_connected_months_are_used() {
    // Months 0 and 1 are seen by two farms, months 2 to 7 by six others: two sets.
    let mut coop = Coop { months: 8, log_output: vec![], records: vec![], start: vec![] };
    (0..2).for_each(|farm| coop.add(None, |t| (t < 2).then(|| (wave(farm, t), 8.0))));
    (2..8).for_each(|farm| coop.add(None, |t| (t >= 2).then(|| (wave(farm, t), 8.0))));
    let effects = coop.effects(&MemberRules::default());
    let connected = [false, false, true, true, true, true, true, true];
    assert_eq!(effects.fit.is_connected, connected);
    assert_eq!(effects.fit.controls, [0, 0, 6, 6, 6, 6, 6, 6]);
    // Sets of the same size: the earlier one.
    let mut tie = Coop { months: 4, log_output: vec![], records: vec![], start: vec![] };
    tie.add(None, |t| (t % 2 == 1).then(|| (wave(0, t), 8.0)));
    tie.add(None, |t| (t % 2 == 0).then(|| (wave(1, t), 8.0)));
    let fit = tie.effects(&MemberRules::default()).fit;
    assert_eq!(fit.is_connected, [true, false, true, false]);
}

#[test]
fn a_covariate_that_says_nothing_new_is_dropped() {
    let coop = Coop::new(12);
    let beta = |column: &dyn Fn(usize, usize) -> f64| {
        let cells = (0..6).flat_map(|farm| (0..12).map(move |t| (farm, t)));
        let x = Covariates::new(1, cells.map(|(f, t)| column(f, t)).collect()).unwrap();
        let panel = Panel::new(12, &coop.log_output, &coop.records, &coop.start, Some(&x)).unwrap();
        fit_untreated(&panel, 4.0).coefficients[0].abs()
    };
    // The same for a farm throughout: eliminated with its level. The same for a month: its effect.
    assert!(beta(&|farm, _| farm as f64) < 1e-12);
    assert!(beta(&|_, t| t as f64 * 0.3) < 1e-12);
    // Age of flocks rises by the same step everywhere: farm plus month.
    assert!(beta(&|farm, t| 7.0 * farm as f64 + 4.3 * t as f64) < 1e-12);
    let pattern = |farm: usize, t: usize| ((farm * 5 + t * 3) % 7) as f64;
    assert!(beta(&pattern) > 1e-6);
    // So small that it does not vary: squares sum to less than 1e-9 of the weight, here 48.
    assert!(beta(&|farm, t| 1e-4 * pattern(farm, t)) > 1e-6);
    assert!(beta(&|farm, t| 1e-5 * pattern(farm, t)) < 1e-12);
}

/// Only changes inside farms count, however far from 0 a covariate and the output lie.
#[test]
fn coefficients_do_not_depend_on_where_the_scales_begin() {
    let coop = Coop::new(12);
    let beta = |from_x: f64, from_y: f64| {
        let y: Vec<f64> = coop.log_output.iter().map(|y| y + from_y).collect();
        let cells = (0..6).flat_map(|farm| (0..12).map(move |t| (farm, t)));
        let x = cells.map(|(f, t)| from_x + ((f * 5 + t * 3) % 7) as f64).collect();
        let x = Covariates::new(1, x).unwrap();
        let panel = Panel::new(12, &y, &coop.records, &coop.start, Some(&x)).unwrap();
        fit_untreated(&panel, 4.0).coefficients[0]
    };
    let near = beta(0.0, 0.0);
    for (from_x, from_y) in [(1e8, 0.0), (0.0, 600.0), (1e8, 600.0)] {
        let far = beta(from_x, from_y);
        assert!((far - near).abs() < 1e-5 * near.abs(), "{far} for {near}");
    }
}

#[test]
fn extreme_cells_are_not_observed() {
    let mut coop = Coop::new(12);
    let plain = coop.effects(&MemberRules::default()).fit.month_effects;
    for (y, n) in [(746.0, 3.0), (f64::INFINITY, 3.0), (2.0, -1.0), (2.0, 1e13), (2.0, 1e-7)] {
        coop.add(None, |_| Some((y, n)));
    }
    let effects = coop.effects(&MemberRules::default());
    assert_eq!(effects.fit.controls, [6; 12]);
    assert_eq!(effects.fit.month_effects, plain);
}

#[test]
fn error_model_finds_record_noise_and_month_noise() {
    let herds = Herds::new(3, 1_500, 30);
    let start = vec![None; 1_500];
    let noise = |kind: u8| {
        let mut numbers = crate::made_up::Numbers(5);
        let y: Vec<f64> = herds
            .records
            .iter()
            .map(|n| match kind {
                0 => 0.3 / n.max(1.0).sqrt() * numbers.normal(),
                _ => 0.1 * numbers.normal(),
            })
            .collect();
        let panel = Panel::new(30, &y, &herds.records, &start, None).unwrap();
        pooled_errors(&panel, &fit_untreated(&panel, 4.0)).model
    };
    let records = noise(0);
    assert!((records.record_variance - 0.09).abs() < 0.005, "{records:?}");
    assert!(records.month_variance < 0.001, "{records:?}");
    let months = noise(1);
    assert!((months.month_variance - 0.01).abs() < 0.001, "{months:?}");
    assert!(months.record_variance < 0.003, "{months:?}");
    let none = Panel::new(1, &[1.0, 2.0], &[3.0, 3.0], &[None, None], None).unwrap();
    assert_eq!(pooled_errors(&none, &fit_untreated(&none, 4.0)).model.month_variance.to_bits(), 0);
}

#[test]
fn moderate_variances_needs_five_and_stays_within_bounds() {
    let same = moderate_variances(&[(1.0, 10.0); 4]);
    assert_eq!((same.degrees_of_freedom as u32, same.scale as u32), (1000, 1));
    // All alike: no spread beyond chance, a firm prior.
    let alike = moderate_variances(&[(2.0, 10.0); 5]);
    assert_eq!(alike.degrees_of_freedom as u32, 1000);
    assert!((alike.scale - 2.0 * 1.105).abs() < 0.01, "{alike:?}");
    let wild: Vec<(f64, f64)> = (0..20).map(|k| (10.0_f64.powi(k % 7 - 3), 8.0)).collect();
    let loose = moderate_variances(&wild);
    assert_eq!(loose.degrees_of_freedom as u32, 1);
    let unusable =
        moderate_variances(&[(1.0, 0.9), (0.0, 5.0), (1.0, 5.0), (1.0, 5.0), (1.0, 5.0)]);
    assert_eq!(unusable.degrees_of_freedom as u32, 1000);
    assert!((unusable.scale - 1.0).abs() < 1e-12);
    // A row without any variance says nothing of how variances differ, and is left out.
    let five = [(1.0, 5.0), (2.0, 7.0), (0.5, 4.0), (3.0, 9.0), (1.5, 6.0)];
    let with_none: Vec<(f64, f64)> = five.iter().copied().chain([(0.0, 5.0)]).collect();
    let (with, without) = (moderate_variances(&with_none), moderate_variances(&five));
    assert_eq!(with, without);
    assert!(with.scale > 0.5 && with.scale < 3.0, "{with:?}");
}

/// Known-variance check of the posterior: equal variances shrink every effect by one factor.
#[test]
fn shrink_pulls_all_by_one_factor_when_errors_are_equal() {
    let effects = [-0.3, -0.1, 0.0, 0.1, 0.2, 0.25, 0.4, 0.65];
    let shrunk = shrink(&effects, &[0.01; 8], 0.0).unwrap();
    let mean = effects.iter().sum::<f64>() / 8.0;
    assert!((shrunk.population.mean - mean).abs() < 1e-12);
    let factor = (shrunk.effects[0] - mean) / (effects[0] - mean);
    assert!(factor > 0.5 && factor < 1.0);
    for (t, e) in effects.iter().zip(&shrunk.effects) {
        assert!((e - mean - factor * (t - mean)).abs() < 1e-12);
    }
    // A thousand members have a likelihood beyond any double: only its ratio may be used.
    let many: Vec<f64> = (0..1_000).map(|k| f64::from(k % 8) / 10.0).collect();
    let shrunk = shrink(&many, &[0.01; 1_000], 0.0).unwrap();
    assert!((shrunk.population.mean - 0.35).abs() < 1e-12);
    assert!((shrunk.population.variance - (0.052_5 - 0.01)).abs() < 1e-3);
    assert_eq!(shrink(&[0.1], &[0.01], 0.0), None);
    assert_eq!(shrink(&[0.1, 0.2], &[0.01], 0.0), None);
    assert_eq!(shrink(&[0.1, 0.1], &[0.0, 0.0], 0.0), None);
    for variance in [0.0, -0.01, f64::NAN, f64::INFINITY] {
        assert_eq!(shrink(&[0.1, 0.3, 0.2], &[0.01, variance, 0.02], 0.0), None);
        assert_eq!(shrink(&[0.1, 0.3], &[variance; 2], 0.0), None);
    }
    assert_eq!(shrink(&[0.1, f64::NAN, 0.2], &[0.01; 3], 0.0), None);
    assert!(shrink(&[0.1, 0.2], &[0.01, 0.01], 0.0).is_some());
}

#[test]
fn programmes_disagree_beyond_twice_the_larger_error() {
    let estimate = |value: f64, standard_error: f64| LogEstimate {
        value,
        standard_error,
        interval: Interval { lower: value, upper: value },
    };
    let check = |a: f64, b: f64| programmes_disagree(&estimate(a, 0.25), &estimate(b, 0.125));
    assert!(!check(1.0, 1.5) && !check(1.5, 1.0));
    assert!(check(1.0, 1.501) && check(1.501, 1.0));
}

#[test]
fn percent_is_none_when_it_cannot_be_written() {
    let interval = Interval { lower: 0.0, upper: 800.0 };
    let wide = LogEstimate { value: 0.1, standard_error: 1.0, interval };
    assert_eq!(wide.percent(), None);
    let narrow = LogEstimate { interval: Interval { lower: -0.1, upper: 0.3 }, ..wide };
    let percent = narrow.percent().unwrap();
    assert!((percent.value - 10.517_091_807_56).abs() < 1e-9);
    assert!((percent.interval.lower + 9.516_258_196_4).abs() < 1e-9);
    assert!((percent.interval.upper - 34.985_880_757_6).abs() < 1e-9);
}

#[test]
fn imputation_effect_needs_something_to_average() {
    let mut coop = Coop::new(12);
    coop.add(Some(6), |t| Some((wave(9, t), 8.0)));
    let panel = Panel::new(12, &coop.log_output, &coop.records, &coop.start, None).unwrap();
    let fit = fit_untreated(&panel, 0.0);
    let of = |marks: &[bool]| {
        imputation_effect(&panel, &fit, marks, Averaging::FarmEqual, Reference::Horizon)
    };
    assert_eq!(of(&[false; 84]), None);
    assert_eq!(of(&[true; 83]), None);
    let mut marks = [false; 84];
    marks[72 + 8] = true;
    let one = of(&marks).unwrap();
    assert_eq!((one.farms, one.cells), (1, 1));
    // Weights whose squares are 0 as doubles: the error is no number, and so there is no answer.
    let tiny = fit_untreated(&panel, 1e200);
    let (cells, horizon) = (Averaging::CellWeighted, Reference::Horizon);
    assert_eq!(imputation_effect(&panel, &tiny, &marks, cells, horizon), None);
}

#[test]
fn pre_start_events_are_near_zero_without_anticipation() {
    let herds = Herds::new(8, 400, 30);
    let panel = Panel::new(30, &herds.log_output, &herds.records, &herds.start, None).unwrap();
    let dynamic = group_times(&panel, Control::NotYetStarted).dynamic(1);
    let (from, to) = PRE_START_EVENTS;
    let shown: Vec<_> = dynamic.by_event.iter().filter(|(e, _)| (from..=to).contains(e)).collect();
    assert_eq!(shown.len(), 5);
    for (event, estimate) in shown {
        assert!(estimate.value.abs() < 4.0 * estimate.standard_error, "event {event}");
    }
    let after = dynamic.overall.unwrap();
    let started = herds.start.iter().zip(&herds.truth).filter(|(g, _)| g.is_some());
    let truths: Vec<f64> = started.map(|(_, truth)| *truth).collect();
    let mean = truths.iter().sum::<f64>() / truths.len() as f64;
    assert!((after.value - mean).abs() < 4.0 * after.standard_error);
}

#[test]
fn group_times_of_nobody_started_are_empty() {
    let coop = Coop::new(12);
    let panel = Panel::new(12, &coop.log_output, &coop.records, &coop.start, None).unwrap();
    let times = group_times(&panel, Control::NotYetStarted);
    assert!(times.effects.is_empty() && times.simple(0).is_none());
    let dynamic = times.dynamic(0);
    assert!(dynamic.by_event.is_empty() && dynamic.overall.is_none());
    assert!(times.by_group(0).overall.is_none());
}

#[test]
fn farms_that_started_before_the_data_do_not_move_the_cross_check() {
    let herds = Herds::new(9, 60, 20);
    let mut coop = Coop {
        months: 20,
        log_output: herds.log_output.clone(),
        records: herds.records.clone(),
        start: herds.start.clone(),
    };
    let averages = |coop: &Coop| {
        let panel = Panel::new(20, &coop.log_output, &coop.records, &coop.start, None).unwrap();
        let times = group_times(&panel, Control::NotYetStarted);
        let group = times.by_group(0).overall.unwrap();
        [times.simple(1).unwrap(), times.dynamic(1).overall.unwrap(), group]
    };
    let before = averages(&coop);
    (0..7).for_each(|farm| coop.add(Some(0), |t| Some((wave(farm, t), 8.0))));
    for (a, b) in before.iter().zip(averages(&coop)) {
        assert!((a.value - b.value).abs() < 1e-12);
        assert!((a.standard_error - b.standard_error).abs() < 1e-12);
    }
}

/// [DATA] the reference implementation on this made-up co-operative with unequal weights.
#[test]
fn imputation_effect_with_unequal_weights_meets_the_reference() {
    let mut coop = Coop::new(12);
    for (farm, start) in (6_usize..).zip([5, 6, 7, 5, 8]) {
        let records = move |t: usize| (1 + (farm * 3 + t * 5) % 7) as f64;
        coop.add(Some(start), |t| Some((wave(farm, t), records(t))));
    }
    let panel = Panel::new(12, &coop.log_output, &coop.records, &coop.start, None).unwrap();
    let fit = fit_untreated(&panel, 4.0);
    let is_treated = |(farm, t): (usize, usize)| coop.start[farm].is_some_and(|g| t > g as usize);
    let cells = (0..11).flat_map(|farm| (0..12).map(move |t| (farm, t)));
    let treated: Vec<bool> = cells.map(is_treated).collect();
    let (farms, cells) = (Averaging::FarmEqual, Averaging::CellWeighted);
    let table = [
        (farms, Reference::CohortHorizon, -0.005_531_940_672_251_019, 0.003_474_224_715_758_701),
        (cells, Reference::CohortHorizon, -0.004_881_770_079_375_188, 0.003_589_563_268_615_79),
        (farms, Reference::Horizon, -0.005_531_940_672_251_019, 0.003_444_363_510_837_477_6),
        (cells, Reference::Horizon, -0.004_881_770_079_375_188, 0.003_528_312_774_879_287_5),
        (farms, Reference::All, -0.005_531_940_672_251_019, 0.003_517_299_951_481_778),
        (cells, Reference::All, -0.004_881_770_079_375_188, 0.003_604_029_502_133_226_4),
    ];
    for (averaging, reference, value, error) in table {
        let found = imputation_effect(&panel, &fit, &treated, averaging, reference).unwrap();
        assert!((found.estimate.value - value).abs() < 1e-12);
        assert!((found.estimate.standard_error - error).abs() < 1e-12);
        assert_eq!((found.farms, found.cells), (5, 24));
        // Interval: 1.96 errors either way.
        let half = (found.estimate.interval.upper - found.estimate.interval.lower) / 2.0;
        assert!((half - 1.96 * error).abs() < 1e-12);
    }
}

/// [DATA] the reference implementation, with so few members that the end of its grid matters.
#[test]
fn shrink_of_two_and_three_members_meets_the_reference() {
    let near = |found: f64, expected: f64| assert!((found - expected).abs() < 1e-12, "{found}");
    let two = shrink(&[0.1, 0.4], &[0.01, 0.02], 0.0).unwrap();
    near(two.effects[0], 0.122_031_105_815_488_55);
    near(two.effects[1], 0.355_937_788_369_022_85);
    near(two.standard_errors[0], 0.097_776_203_757_536_79);
    near(two.standard_errors[1], 0.135_058_298_837_729_4);
    near(two.population.variance, 0.085_338_773_734_868_62);
    near(two.population.mean, 0.238_984_447_092_255_72);
    near(two.population.mean_standard_error, 0.223_739_655_342_421_6);
    let three = shrink(&[-0.3, 0.1, 0.2], &[0.01, 0.04, 0.02], 0.0).unwrap();
    near(three.effects[0], -0.270_590_463_818_225_1);
    near(three.standard_errors[1], 0.179_292_233_544_814_13);
    near(three.population.variance, 0.132_909_305_078_841_38);
    near(three.population.mean, -0.015_743_271_315_208_696);
    let wide = shrink(&[-0.3, 0.1, 0.2], &[0.01, 0.04, 0.02], 0.3).unwrap();
    near(wide.effects[2], 0.158_110_637_201_267_28);
    near(wide.standard_errors[0], 0.101_078_536_333_371_38);
    near(wide.population.scale, 1.032_901_152_393_675_3);
}
