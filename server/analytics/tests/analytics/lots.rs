//! Lots against farms at the edges of the rules.

#![expect(clippy::float_cmp, reason = "these values are exact in binary")]

use traybook_analytics::limits::LOTS_MAX;
use traybook_analytics::lots::{LotBatch, LotRules, LotVerdict, lot_or_farm};

fn lot_batch(farm: u32, lot: u32, discarded: u32) -> LotBatch {
    LotBatch { farm, lot, started: 20, discarded }
}

/// Four farms, three lots, two batches of each; lot 3 spoils, a little noise elsewhere.
fn crossed(bad: impl Fn(u32, u32) -> u32) -> Vec<LotBatch> {
    let noise = |farm: u32, lot: u32, k: u32| (farm * 7 + lot * 5 + k * 3) % 3;
    let cells = (1..=4).flat_map(|farm| (1..=3).map(move |lot| (farm, lot)));
    let two = cells.flat_map(|(farm, lot)| (0..2).map(move |k| (farm, lot, k)));
    two.map(|(f, l, k)| lot_batch(f, l, bad(f, l) + noise(f, l, k))).collect()
}

#[test]
fn lot_or_farm_tells_where_the_difference_lies() {
    let rules = LotRules::default();
    let verdict = |bad: &dyn Fn(u32, u32) -> u32| lot_or_farm(&crossed(bad), &rules);
    let lot = verdict(&|_, lot| if lot == 3 { 9 } else { 1 });
    assert_eq!(lot.verdict, LotVerdict::SeedLot);
    assert_eq!(lot.tests.unwrap().bad_lots, [3]);
    let farm = verdict(&|farm, _| if farm == 3 { 9 } else { 1 });
    assert_eq!(farm.verdict, LotVerdict::Farm);
    assert_eq!(farm.tests.unwrap().bad_lots, Vec::<u32>::new());
    let both =
        verdict(&|farm, lot| 1 + if farm == 3 { 6 } else { 0 } + if lot == 3 { 6 } else { 0 });
    assert_eq!(both.verdict, LotVerdict::Both);
    let neither = verdict(&|_, _| 2);
    assert_eq!(neither.verdict, LotVerdict::Neither);
    assert_eq!((neither.degrees.lot, neither.degrees.farm, neither.degrees.error), (2, 3, 18));
}

#[test]
fn lot_or_farm_names_only_lots_with_enough_batches_and_farms() {
    let rows = crossed(|_, lot| if lot == 3 { 9 } else { 1 });
    let with = |batches_min, farms_min| {
        let rules = LotRules { batches_min, farms_min, ..LotRules::default() };
        lot_or_farm(&rows, &rules).tests.unwrap().bad_lots
    };
    assert_eq!(with(8, 4), [3]);
    assert_eq!(with(9, 4), Vec::<u32>::new());
    assert_eq!(with(8, 5), Vec::<u32>::new());
}

#[test]
fn lot_or_farm_says_nothing_without_error_or_when_nested() {
    let rules = LotRules::default();
    let none = lot_or_farm(&[], &rules);
    assert_eq!((none.verdict, none.tests), (LotVerdict::NotIdentifiable, None));
    // Two farms and two lots: three parameters. Seven batches leave four for error, eight five.
    let rows: Vec<LotBatch> = (0..8)
        .map(|k| lot_batch(k % 2, (k / 2) % 2, [0, 3, 1, 2, 4, 1, 0, 2][k as usize]))
        .collect();
    assert_eq!(lot_or_farm(&rows[..7], &rules).verdict, LotVerdict::NotIdentifiable);
    assert_ne!(lot_or_farm(&rows, &rules).verdict, LotVerdict::NotIdentifiable);
    let nested: Vec<LotBatch> = (0..20).map(|k| lot_batch(k % 4, k % 4, k % 3)).collect();
    let answer = lot_or_farm(&nested, &rules);
    assert_eq!((answer.verdict, answer.degrees.lot), (LotVerdict::NotIdentifiable, 0));
}

#[test]
fn lot_or_farm_of_batches_all_alike_is_neither() {
    let alike = crossed(|_, _| 0).into_iter().map(|b| LotBatch { discarded: 1, ..b });
    let answer = lot_or_farm(&alike.collect::<Vec<_>>(), &LotRules::default());
    assert_eq!(answer.verdict, LotVerdict::Neither);
    let tests = answer.tests.unwrap();
    assert_eq!((tests.lot.p, tests.farm.p), (1.0, 1.0));
}

/// "All alike" goes by what is left of the whole, so that it holds for huge batches too.
#[test]
fn lot_or_farm_of_huge_batches_all_alike_is_neither() {
    let rules = LotRules { correlation: 0.0, ..LotRules::default() };
    let of = |step: u32| {
        let cells = (0..20).flat_map(|farm| (0..20).map(move |lot| (farm, lot)));
        let huge = |(farm, lot)| {
            let discarded = 30_001 + step * lot;
            LotBatch { farm, lot, started: 100_000, discarded }
        };
        lot_or_farm(&cells.map(huge).collect::<Vec<_>>(), &rules)
    };
    let answer = of(0);
    assert_eq!(answer.verdict, LotVerdict::Neither);
    let tests = answer.tests.unwrap();
    assert_eq!((tests.lot.f, tests.lot.p, tests.farm.f, tests.farm.p), (0.0, 1.0, 0.0, 1.0));
    // Lots that differ and nothing else: a perfect fit, in which farms are alike.
    let answer = of(1_000);
    assert_eq!(answer.verdict, LotVerdict::SeedLot);
    let tests = answer.tests.unwrap();
    assert_eq!((tests.lot.p, tests.farm.f, tests.farm.p), (0.0, 0.0, 1.0));
}

/// [ARITH] balanced two-way analysis of variance by hand, four farms and two lots, two batches of
/// 20 trays each that do not correlate: sums of squares about the means of each factor.
#[test]
fn lot_or_farm_of_a_balanced_layout_meets_the_textbook_sums() {
    let discarded = [[[1, 2], [6, 8]], [[0, 2], [4, 9]], [[3, 1], [7, 5]], [[2, 2], [10, 6]]];
    let mut rows = Vec::new();
    for (farm, of_farm) in (0_u32..).zip(discarded) {
        for (lot, of_lot) in (0_u32..).zip(of_farm) {
            rows.extend(of_lot.map(|d| lot_batch(farm, lot, d)));
        }
    }
    let angle = |b: &LotBatch| ((f64::from(b.discarded) + 0.375) / 20.75).sqrt().asin();
    let mean = |of: &dyn Fn(&LotBatch) -> bool| {
        let angles: Vec<f64> = rows.iter().filter(|b| of(b)).map(angle).collect();
        angles.iter().sum::<f64>() / angles.len() as f64
    };
    let grand = mean(&|_| true);
    let by_lot = [0, 1].map(|lot| (mean(&|b| b.lot == lot) - grand).powi(2));
    let by_farm = [0, 1, 2, 3].map(|farm| (mean(&|b| b.farm == farm) - grand).powi(2));
    let (of_lot, of_farm) =
        (160.0 * by_lot.iter().sum::<f64>(), 80.0 * by_farm.iter().sum::<f64>());
    let whole: f64 = rows.iter().map(|b| 20.0 * (angle(b) - grand).powi(2)).sum();
    let error = (whole - of_lot - of_farm) / 11.0;
    let rules = LotRules { correlation: 0.0, ..LotRules::default() };
    let answer = lot_or_farm(&rows, &rules);
    assert_eq!((answer.degrees.lot, answer.degrees.farm, answer.degrees.error), (1, 3, 11));
    let tests = answer.tests.unwrap();
    let close = |x: f64, wanted: f64| assert!((x - wanted).abs() < 1e-9 * wanted, "{x} {wanted}");
    close(tests.mean_square, error);
    close(tests.lot.f, of_lot / error);
    close(tests.farm.f, of_farm / 3.0 / error);
    close(tests.lot.variance, (of_lot - error) / 160.0);
    assert_eq!(tests.farm.variance, ((of_farm / 3.0 - error) / 80.0).max(0.0));
}

#[test]
fn lot_or_farm_leaves_out_impossible_batches() {
    let mut rows = crossed(|_, _| 2);
    let before = lot_or_farm(&rows, &LotRules::default());
    rows.push(LotBatch { farm: 9, lot: 9, started: 0, discarded: 0 });
    rows.push(LotBatch { farm: 9, lot: 9, started: 5, discarded: 6 });
    assert_eq!(lot_or_farm(&rows, &LotRules::default()), before);
}

/// [ARITH] four farms with two batches of each of two lots, 1 and 10 of 20 discarded: the fit is
/// perfect, farms are alike, and balanced lots a step apart have half its square as variance.
#[test]
fn lot_or_farm_of_a_perfect_fit_names_the_factor() {
    let cells = (0..4).flat_map(|farm| (0..4).map(move |k| (farm, k % 2)));
    let rows: Vec<LotBatch> = cells.map(|(f, l)| lot_batch(f, l, 1 + 9 * l)).collect();
    let answer = lot_or_farm(&rows, &LotRules::default());
    assert_eq!(answer.verdict, LotVerdict::SeedLot);
    let tests = answer.tests.unwrap();
    assert_eq!((tests.lot.p, tests.farm.p), (0.0, 1.0));
    let angle = |d: f64| ((d + 0.375) / 20.75).sqrt().asin();
    let step = angle(10.0) - angle(1.0);
    assert!((tests.lot.variance - step * step / 2.0).abs() < 1e-12);
    assert!((tests.lots[1].effect - step / 2.0).abs() < 1e-12);
}

#[test]
fn lot_or_farm_refuses_more_lots_than_the_limit() {
    let lots = LOTS_MAX as u32 + 1;
    let rows: Vec<LotBatch> =
        (0..lots).flat_map(|lot| (0..3).map(move |farm| lot_batch(farm, lot, lot % 3))).collect();
    let answer = lot_or_farm(&rows, &LotRules::default());
    assert!(answer.degrees.error > 5 && answer.degrees.farm == 2);
    assert_eq!(answer.verdict, LotVerdict::NotIdentifiable);
}

#[test]
fn lot_or_farm_rejects_below_the_level_and_not_at_it() {
    let rows =
        crossed(|farm, lot| 1 + if farm == 3 { 6 } else { 0 } + if lot == 3 { 6 } else { 0 });
    let at = |level: f64| lot_or_farm(&rows, &LotRules { level, ..LotRules::default() });
    let tests = at(0.01).tests.unwrap();
    assert_ne!(tests.lot.p, tests.farm.p);
    let of_lot = at(tests.lot.p);
    assert!(matches!(of_lot.verdict, LotVerdict::Farm | LotVerdict::Neither));
    assert_eq!(of_lot.tests.unwrap().bad_lots, Vec::<u32>::new());
    let of_farm = at(tests.farm.p);
    assert!(matches!(of_farm.verdict, LotVerdict::SeedLot | LotVerdict::Neither));
}
