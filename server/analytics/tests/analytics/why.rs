//! Conditions at the edges of their rules, and against a published regression.

use traybook_analytics::why::{ConditionStatus, WhyBatch, WhyRules, why};

/// Rules that let any data through, without penalty and without effects of farms.
fn plain() -> WhyRules {
    WhyRules {
        prior: f64::INFINITY,
        variance_min: 1e-10,
        variance_max: 1e-10,
        batches_min: 1,
        farms_min: 1,
        trays_min: 0.0,
        lost_min: 0.0,
        ..WhyRules::default()
    }
}

/// [READ] Crowder 1978, Appl. Stat. 27:34 (Orobanche): binomial regression with interaction,
/// coefficients -0.41224, -0.14593, 0.54008, 0.77810 with errors .184, .223, .250, .306 and
/// Pearson 31.6511 on 17 degrees of freedom.
#[test]
fn why_without_penalty_meets_the_regression_of_crowders_seeds() {
    type Plates<'a> = (bool, bool, &'a [(u32, u32)]);
    let plates: [Plates<'_>; 4] = [
        (false, false, &[(8, 16), (10, 30), (8, 28), (23, 45), (0, 4)]),
        (false, true, &[(3, 12), (22, 41), (15, 30), (32, 51), (3, 7)]),
        (true, false, &[(10, 39), (23, 62), (23, 81), (26, 51), (17, 39)]),
        (true, true, &[(5, 6), (53, 74), (55, 72), (32, 51), (46, 79), (10, 13)]),
    ];
    let (mut batches, mut columns) = (Vec::new(), vec![Vec::new(); 3]);
    for (is_other_seed, is_cucumber, counts) in plates {
        for (discarded, started) in counts {
            batches.push(WhyBatch { farm: 0, started: *started, discarded: *discarded });
            let both = is_other_seed && is_cucumber;
            for (column, x) in columns.iter_mut().zip([is_other_seed, is_cucumber, both]) {
                column.push(Some(x));
            }
        }
    }
    let made = why(&batches, &columns, 0.0, &plain());
    let fit = made.fit.unwrap();
    let near =
        |x: f64, printed: f64, half: f64| assert!((x - printed).abs() <= half, "{x} {printed}");
    near(fit.intercept, -0.41224, 6e-6);
    near(fit.dispersion, 31.6511 / 17.0, 5e-6);
    let printed = [(-0.14593, 0.223), (0.54008, 0.250), (0.77810, 0.306)];
    for (condition, (slope, error)) in made.conditions.iter().zip(printed) {
        let effect = condition.effect.as_ref().unwrap();
        near(effect.slope, slope, 6e-6);
        near(effect.standard_error / fit.dispersion.sqrt(), error, 5.5e-4);
    }
}

/// Twelve batches of two trays on each side of each of three farms.
fn balanced(lost: impl Fn(u32, bool, u32) -> u32) -> (Vec<WhyBatch>, Vec<Option<bool>>) {
    let cells =
        (0..3).flat_map(|farm| (0..2).flat_map(move |x| (0..12).map(move |k| (farm, x == 1, k))));
    let cells: Vec<(u32, bool, u32)> = cells.collect();
    let batch = |(farm, x, k): &(u32, bool, u32)| WhyBatch {
        farm: *farm,
        started: 4,
        discarded: lost(*farm, *x, *k),
    };
    (cells.iter().map(batch).collect(), cells.iter().map(|c| Some(c.1)).collect())
}

#[test]
fn a_condition_is_tested_from_enough_of_both_sides_on() {
    let (batches, column) = balanced(|_, x, k| if x { k % 3 } else { u32::from(k == 0) });
    let status = |column: &[Option<bool>]| {
        why(&batches, &[column.to_vec()], 0.05, &WhyRules::default()).conditions.remove(0)
    };
    let made = status(&column);
    assert_eq!(made.status, ConditionStatus::Linked);
    assert_eq!((made.counts.with, made.counts.without, made.counts.farms_with_both), (36, 36, 3));
    let effect = made.effect.unwrap();
    assert!(effect.times.value > 3.0 && effect.times.interval.lower > 1.25);
    assert!(effect.own.len() == 3 && effect.share > 0.5);
    // Recorded for fewer than 60 % of the batches; seen in eleven; on two farms.
    let known: Vec<Option<bool>> =
        column.iter().enumerate().map(|(k, x)| x.filter(|_| k % 2 == 0)).collect();
    assert_eq!(status(&known).status, ConditionStatus::TooFew);
    let mut left = 11;
    let rare: Vec<Option<bool>> = column
        .iter()
        .map(|x| {
            let is = *x == Some(true) && left > 0;
            left -= u32::from(is);
            Some(is)
        })
        .collect();
    let few = status(&rare);
    assert_eq!((few.status, few.counts.with, few.effect), (ConditionStatus::TooFew, 11, None));
    let on_two: Vec<Option<bool>> =
        column.iter().zip(&batches).map(|(x, b)| x.map(|x| x && b.farm < 2)).collect();
    assert_eq!(status(&on_two).status, ConditionStatus::TooFew);
}

#[test]
fn nothing_is_fitted_from_too_few_trays_or_losses() {
    let (batches, column) = balanced(|_, x, k| u32::from(x && k == 0));
    let made = why(&batches, std::slice::from_ref(&column), 0.05, &WhyRules::default());
    assert_eq!(made.fit, None);
    assert_eq!(made.conditions[0].status, ConditionStatus::TooFew);
    let (batches, _) = balanced(|_, _, _| 4);
    assert_eq!(why(&batches, &[column], 0.05, &plain()).fit, None);
    assert_eq!(why(&[], &[], 0.05, &WhyRules::default()).conditions, []);
}

/// Where a farm does not lose more with a condition than others do, its own ratio stays near theirs;
/// no farm has one where nothing is linked.
#[test]
fn farms_have_ratios_of_their_own_only_where_losses_are_linked() {
    let (batches, column) = balanced(|_, _, k| u32::from(k % 3 == 0));
    let made = why(&batches, &[column], 0.05, &WhyRules::default());
    let condition = &made.conditions[0];
    assert_ne!(condition.status, ConditionStatus::Linked);
    let effect = condition.effect.as_ref().unwrap();
    assert!(effect.own.is_empty() && effect.times.value > 0.99 && effect.times.value < 1.01);
}
