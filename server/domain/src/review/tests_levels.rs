//! Slips and steps in a series, and purchases against those of others, at their thresholds.

use super::levels::{DayOutput, Levels, SIDE, levels};
use super::priced::{Purchase, Shop, Watch, guide_share};
use super::values::Output;
use super::{Finding, ReviewCtx};
use crate::planning::guide::Guide;
use crate::time::plus_days;
use chrono::NaiveDate;
use std::collections::{HashMap, HashSet};
use uuid::Uuid;

/// Day of the first record of a series: far from 0, as days of the calendar are.
const FIRST: i64 = 739_000;

/// About ten litres a cow and day, times a factor.
fn milk(days: i64, animals: i64, factor: impl Fn(i64) -> f64) -> Vec<DayOutput> {
    let wander = [0.0, 0.02, -0.03, 0.01, -0.02, 0.03, -0.01];
    let total =
        |n: i64| 10.0 * animals as f64 * factor(n) * (1.0 + wander[n.rem_euclid(7) as usize]);
    (0..days).map(|n| DayOutput { day: FIRST + n, total: total(n), animals }).collect()
}

fn at(found: &Levels) -> Vec<usize> {
    found.steps.iter().map(|s| s.at).collect()
}

/// From a day on half of the milk.
fn halved(from: i64) -> impl Fn(i64) -> f64 {
    move |n| if n >= from { 0.5 } else { 1.0 }
}

/// By REVIEW-RULES: 14 records on either side, and not in the first 60 days.
#[test]
fn a_step_needs_both_sides_and_comes_after_sixty_days() {
    let side = i64::try_from(SIDE).expect("small");
    let of = |days: i64, from: i64| at(&levels(Output::Milk, &milk(days, 4, halved(from)), &[]));
    assert_eq!(of(120, 80), [80]);
    assert_eq!(of(80 + side, 80), [80], "the newest that can be told");
    assert_eq!(of(79 + side, 80), Vec::<usize>::new());
    assert_eq!(of(120, 60), [60]);
    assert_eq!(of(120, 59), Vec::<usize>::new());
    let step = levels(Output::Milk, &milk(120, 4, halved(80)), &[]).steps[0];
    assert!((step.ratio - 0.5).abs() < 0.02, "{step:?}");
    assert_eq!((step.animals, step.unit), (2, None), "two of four cows would fit");
}

/// 14 days from an event, a change of a tenth of the animals, or a gap: it is explained, or there is
/// nothing to compare.
#[test]
fn a_step_that_something_explains_is_none() {
    let none = Vec::<usize>::new();
    let days = milk(120, 4, halved(80));
    let event = |n: i64| at(&levels(Output::Milk, &days, &[FIRST + n]));
    assert_eq!((event(65), event(66)), (vec![80], none.clone()));
    assert_eq!((event(94), event(95)), (none.clone(), vec![80]));
    let herd = |after: i64| {
        let mut days = milk(120, 20, halved(80));
        for day in &mut days[80..] {
            // As much an animal as before the change.
            (day.total, day.animals) = (day.total * after as f64 / 20.0, after);
        }
        at(&levels(Output::Milk, &days, &[]))
    };
    assert_eq!((herd(19), herd(18)), (vec![80], none.clone()));
    let gap = |days_without: i64| {
        let mut days = milk(140, 4, halved(80));
        days.retain(|d| !(FIRST + 80..FIRST + 80 + days_without).contains(&d.day));
        at(&levels(Output::Milk, &days, &[]))
    };
    assert_eq!((gap(13), gap(14)), (vec![80], none));
}

/// One cow dries off or calves: with fewer than three only a factor of three near a unit is told. And
/// drying off is gradual, which no step is.
#[test]
fn drying_off_is_no_step() {
    let tenth = |n: i64| if n >= 80 { 0.1 } else { 1.0 };
    let of = |animals: i64, factor: &dyn Fn(i64) -> f64| {
        levels(Output::Milk, &milk(120, animals, factor), &[]).steps
    };
    assert_eq!(of(2, &halved(80)), []);
    assert_eq!(of(3, &halved(80)).len(), 1);
    let told = of(1, &tenth);
    assert_eq!((told.len(), told[0].unit), (1, Some("d10")));
    let gradual = |n: i64| (1.0 - 0.03 * (n - 70).clamp(0, 20) as f64).max(0.4);
    assert_eq!(of(4, &gradual), []);
    // A week of little milk, and all is as before.
    let week = |n: i64| if (80..87).contains(&n) { 0.5 } else { 1.0 };
    assert_eq!(of(4, &week), []);
}

/// Neighbours of one unit are one slip; records that are left out move no level.
#[test]
fn slips_of_neighbours_are_joined() {
    let slips = |of: &[(i64, f64)]| {
        let factor = |n: i64| of.iter().find(|(day, _)| *day == n).map_or(1.0, |(_, f)| *f);
        levels(Output::Milk, &milk(100, 2, factor), &[]).slips
    };
    assert_eq!(slips(&[(40, 10.0)]), [(40, 40, "x10")]);
    assert_eq!(slips(&[(40, 10.0), (41, 10.0), (42, 10.0)]), [(40, 42, "x10")]);
    assert_eq!(slips(&[(40, 10.0), (42, 10.0)]), [(40, 40, "x10"), (42, 42, "x10")]);
    assert_eq!(slips(&[(40, 10.0), (41, 0.1)]), [(40, 40, "x10"), (41, 41, "d10")]);
    assert_eq!(slips(&[(40, 4.0)]), [], "four times is no digit");
    let few = |days: i64| {
        let factor = |n: i64| if n == 3 { 10.0 } else { 1.0 };
        levels(Output::Milk, &milk(days, 2, factor), &[]).slips.len()
    };
    assert_eq!((few(8), few(7)), (1, 0), "seven others are needed");
}

fn with<T>(work: impl FnOnce(&ReviewCtx<'_>) -> T) -> T {
    let (guide, zone) = (Guide::default(), chrono_tz::Africa::Dar_es_Salaam);
    let day = |text: &str| text.parse().expect("a day");
    work(&ReviewCtx { guide: &guide, zone, today: day("2026-03-20"), from: day("2026-01-01") })
}

/// Six farms buy 50 kg for 45,000 every ten days; `more` are bought by the first.
fn found(more: &[(&str, i64, i64)]) -> Vec<Finding> {
    let feed = Uuid::from_u128(9);
    let buy = |farm: u128, on: NaiveDate, grams: i64, minor: i64| Purchase {
        id: Uuid::from_u128(1_000 + farm),
        farm: Uuid::from_u128(farm),
        feed,
        on,
        grams,
        minor,
    };
    let first: NaiveDate = "2025-12-01".parse().expect("a day");
    let mut all: Vec<Purchase> = (1..=6)
        .flat_map(|farm| (0..11).map(move |n| (farm, plus_days(first, n * 10))))
        .map(|(farm, on)| buy(farm, on, 50_000, 4_500_000))
        .collect();
    all.extend(
        more.iter().map(|(on, grams, minor)| buy(1, on.parse().expect("a day"), *grams, *minor)),
    );
    let (names, held) = (HashMap::from([(feed, "Bran".to_owned())]), HashSet::new());
    let shop = Shop { names: &names, held: &held, digits: 2 };
    all.sort_by_key(|p| p.farm);
    with(|ctx| {
        let mut watch = Watch::new(&shop, ctx);
        all.iter().for_each(|p| watch.price(p));
        for farm in all.chunk_by(|a, b| a.farm == b.farm) {
            watch.farm(farm.to_vec());
        }
        watch.findings()
    })
}

#[test]
fn a_dear_purchase_says_how_dear_and_why() {
    assert_eq!(found(&[]), []);
    // Nothing, or for nothing: neither price nor amount.
    assert_eq!(found(&[("2026-03-01", 0, 45_000), ("2026-03-02", 50_000, 0)]), []);
    let dear = found(&[("2026-03-01", 50_000, 45_000_000)]);
    assert_eq!(dear.len(), 1, "{dear:#?}");
    let figure = |name: &str| dear[0].figures.iter().find(|f| f.0 == name).map(|f| &f.1);
    assert_eq!(figure("ratio").and_then(|r| r.as_f64()), Some(10.0));
    // 450,000.00 for 50 kg.
    assert_eq!(figure("per_kg").and_then(|r| r.as_f64()), Some(9_000.0));
    assert!(dear[0].problem.contains("cost 10 times what other farms"), "{}", dear[0].problem);
    assert!(dear[0].problem.contains("a digit slipped"), "{}", dear[0].problem);
    let more = found(&[("2026-03-01", 50_000, 4_500_000_000)]);
    assert!(more[0].weight > dear[0].weight);
    // Bought before the days looked through: read for comparison only.
    assert_eq!(found(&[("2025-12-31", 50_000, 45_000_000)]), []);
}

/// [ARITH] 6 kg fresh from a kg of seed at 13 % dry matter, over 0.88: 0.886.
#[test]
fn the_default_guide_keeps_less_than_was_sown() {
    let share = guide_share(&Guide::default(), "2026-03-20".parse().expect("a day"));
    assert!((share - 0.886).abs() < 0.001, "{share}");
}
