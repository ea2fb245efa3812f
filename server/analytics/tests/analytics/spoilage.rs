//! Charts and lots at the edges of their rules.

#![expect(clippy::float_cmp, reason = "these values are exact in binary")]

use traybook_analytics::limits::LOTS_MAX;
use traybook_analytics::lots::{LotBatch, LotRules, LotVerdict, lot_or_farm};
use traybook_analytics::spoilage::{
    Batch, BetaBinomial, FlagCause, Spoilage, SpoilageRules, SpoilageStatus, beta_binomial_ln,
    chart_step, class_multipliers, flag_cause, spoilage, tray_correlation,
};

fn batch(started: u32, discarded: u32) -> Batch {
    Batch { started, discarded, temperature_class: None }
}

fn chart_of(batches: &[Batch]) -> Spoilage {
    spoilage(&[batches], &SpoilageRules::default())
}

fn status(batches: &[Batch]) -> SpoilageStatus {
    chart_of(batches).farms[0].status
}

const GOOD: (u32, u32) = (20, 0);
const BAD: (u32, u32) = (20, 12);

fn batches(kinds: &[(u32, u32)]) -> Vec<Batch> {
    kinds.iter().map(|(n, d)| batch(*n, *d)).collect()
}

#[test]
fn a_flag_needs_three_bad_batches_and_comes_down_at_zero() {
    let two = chart_of(&batches(&[GOOD, GOOD, GOOD, BAD, BAD]));
    assert_eq!(two.farms[0].path, [0.0, 0.0, 0.0, 2.0, 4.0]);
    assert_eq!(two.farms[0].flagged_first, None);
    let three = chart_of(&batches(&[BAD, BAD, BAD]));
    assert_eq!(three.farms[0].status, SpoilageStatus::Recurring);
    assert_eq!(three.farms[0].flagged_since, Some(2));
    let mut long = vec![BAD; 8];
    let high = chart_of(&batches(&long));
    assert_eq!(high.farms[0].value, 9.0);
    long.extend([GOOD; 30]);
    let over = chart_of(&batches(&long));
    let farm = &over.farms[0];
    assert_eq!((farm.flagged_since, farm.flagged_first), (None, Some(2)));
    assert_eq!((farm.status, farm.batches_used), (SpoilageStatus::Ok, 38));
    // The flag is up until the chart is back at 0, not only below 6.
    let first_zero = farm.path.iter().skip(8).position(|s| *s <= 0.0).unwrap() + 8;
    let still_up = chart_of(&batches(&long[..first_zero]));
    assert!(still_up.farms[0].value < 3.0);
    assert_eq!(still_up.farms[0].status, SpoilageStatus::Recurring);
    let down = chart_of(&batches(&long[..=first_zero]));
    assert_eq!(down.farms[0].status, SpoilageStatus::Ok);
}

#[test]
fn raised_by_begins_after_the_last_zero() {
    let raised = |kinds: &[(u32, u32)]| chart_of(&batches(kinds)).farms[0].raised_by();
    assert_eq!(raised(&[BAD, GOOD, GOOD, GOOD, GOOD, BAD, (3, 3), BAD, BAD, BAD]), Some(5..=8));
    assert_eq!(raised(&[BAD, BAD, BAD]), Some(0..=2));
    assert_eq!(raised(&[BAD, BAD]), None);
}

#[test]
fn status_goes_by_batches_then_last_batch_then_chart() {
    assert_eq!(status(&[]), SpoilageStatus::InsufficientData);
    assert_eq!(status(&batches(&[GOOD; 4])), SpoilageStatus::InsufficientData);
    assert_eq!(status(&batches(&[GOOD; 5])), SpoilageStatus::Ok);
    assert_eq!(status(&batches(&[GOOD, GOOD, GOOD, GOOD, BAD])), SpoilageStatus::OneBadBatch);
    // Less likely than the limit, not as likely.
    let last_bad = batches(&[GOOD, GOOD, GOOD, GOOD, BAD]);
    let one_bad_p = chart_of(&last_bad).farms[0].last_p;
    let at = SpoilageRules { one_bad_p, ..SpoilageRules::default() };
    assert_ne!(spoilage(&[last_bad], &at).farms[0].status, SpoilageStatus::OneBadBatch);
    let watched = [GOOD, GOOD, GOOD, BAD, BAD, (20, 1)];
    assert_eq!(status(&batches(&watched)), SpoilageStatus::Watch);
}

#[test]
fn small_and_impossible_batches_do_not_move_the_chart() {
    let rows =
        [batch(3, 3), batch(0, 0), batch(5, 6), batch(200_000, 9), batch(4, 4), batch(20, 0)];
    let answer = chart_of(&rows);
    let farm = &answer.farms[0];
    assert_eq!((farm.path.len(), farm.batches_used), (6, 2));
    assert_eq!(farm.path[..4], [0.0; 4]);
    assert_eq!(farm.path[4], 2.0);
    let p = chart_of(&rows[..4]).farms[0].last_p;
    assert_eq!(p, 1.0);
}

#[test]
fn chart_step_is_capped_on_three_sides() {
    let rules = SpoilageRules::default();
    assert_eq!(chart_step(1.0, 5.0, &rules), 3.0);
    assert_eq!(chart_step(8.5, 1.5, &rules), 9.0);
    assert_eq!(chart_step(1.0, -4.0, &rules), 0.0);
    assert_eq!(chart_step(1.0, -0.5, &rules), 0.5);
}

#[test]
fn tray_correlation_needs_ten_farms_of_three_batches() {
    let rules = SpoilageRules::default();
    let farm = batches(&[(20, 0), (20, 6), (20, 1)]);
    assert_eq!(tray_correlation(&vec![farm.clone(); 9], &rules), 0.05);
    let ten = tray_correlation(&vec![farm.clone(); 10], &rules);
    assert_eq!(ten, 0.15);
    // A disaster above 35 % is left out; one at 35 % is not.
    let trimmed = batches(&[(20, 1), (20, 1), (20, 1), (20, 8)]);
    assert_eq!(tray_correlation(&vec![trimmed; 10], &rules), 0.02);
    let kept = batches(&[(20, 1), (20, 1), (20, 1), (20, 7)]);
    assert_eq!(tray_correlation(&vec![kept; 10], &rules), 0.15);
    let two = batches(&[(20, 0), (20, 6)]);
    assert_eq!(tray_correlation(&vec![two; 20], &rules), 0.05);
    assert_eq!(tray_correlation(&vec![batches(&[GOOD; 5]); 20], &rules), 0.05);
}

/// [ARITH] by hand: n = 10 throughout, shares 0.1, 0.2, 0.3; p = 0.2, pq = 0.16, squares
/// 10 (0.01 + 0 + 0.01) = 0.2, leverage 2, so (0.2 - 0.32) / (0.16 · 2 · 9) < 0 for one kind;
/// 0, 0.2, 0.4 leaves 0.8: (0.8 - 0.32) / 2.88 = 1/6 without the trim.
#[test]
fn tray_correlation_meets_a_sum_by_hand() {
    let open = SpoilageRules {
        correlation_min: -1.0,
        correlation_max: 1.0,
        trim_share: 0.4,
        ..SpoilageRules::default()
    };
    let calm = batches(&[(10, 1), (10, 2), (10, 3)]);
    let rho = tray_correlation(&vec![calm; 10], &open);
    assert!((rho + 0.12 / 2.88).abs() < 1e-12, "{rho}");
    let wild = batches(&[(10, 0), (10, 2), (10, 4)]);
    let rho = tray_correlation(&vec![wild; 10], &open);
    assert!((rho - 0.48 / 2.88).abs() < 1e-12, "{rho}");
}

#[test]
fn class_multipliers_shrink_and_are_clamped() {
    let of =
        |started, discarded, class| Batch { started, discarded, temperature_class: Some(class) };
    // P = 0.1 over 4,000 trays: hot 0.19, cold 0.01; each mixed with 1,000 trays at 0.1.
    let both = [of(2000, 380, 0), of(2000, 20, 2)];
    let found = class_multipliers(&[both]);
    assert_eq!(found.len(), 3);
    assert!((found[0] - 480.0 / 3000.0 / 0.1).abs() < 1e-12);
    assert_eq!(found[1], 1.0);
    assert_eq!(found[2], 0.5);
    assert_eq!(class_multipliers(&[[of(20, 0, 1)]]), [1.0, 1.0]);
    // A batch without a class counts in the overall share only.
    let mixed = [of(1000, 100, 0), batch(1000, 300)];
    let expected = (100.0 + 1000.0 * 0.2) / 2000.0 / 0.2;
    assert!((class_multipliers(&[mixed])[0] - expected).abs() < 1e-12);
    assert_eq!(class_multipliers::<&[Batch]>(&[]), Vec::<f64>::new());
}

#[test]
fn a_hot_class_is_forgiven_what_heat_does() {
    let of = |d, class| Batch { started: 50, discarded: d, temperature_class: Some(class) };
    let mut farms = vec![vec![of(1, 0); 40]; 20];
    farms.push(vec![of(8, 1); 40]);
    let classed = spoilage(&farms, &SpoilageRules::default());
    assert_eq!(classed.class_multipliers[1], 2.0);
    let plain: Vec<Vec<Batch>> =
        farms.iter().map(|f| f.iter().map(|b| batch(b.started, b.discarded)).collect()).collect();
    let unclassed = spoilage(&plain, &SpoilageRules::default());
    assert!(classed.farms[20].path[0] < unclassed.farms[20].path[0]);
}

#[test]
fn beta_binomial_sums_to_one_and_knows_its_tables() {
    let table = BetaBinomial::new(0.04, 0.05, 30);
    let total: f64 = (0..=30).map(|d| table.ln_probability(d, 30).unwrap().exp()).sum();
    assert!((total - 1.0).abs() < 1e-12);
    assert!((table.upper_tail(0, 30) - 1.0).abs() < 1e-12);
    let one_or_more = 1.0 - table.ln_probability(0, 30).unwrap().exp();
    assert!((table.upper_tail(1, 30) - one_or_more).abs() < 1e-12);
    assert_eq!(table.upper_tail(31, 30), 0.0);
    assert_eq!(table.ln_probability(3, 2), None);
    assert_eq!(table.ln_probability(0, 31), None);
    // Odd parameters are brought within reason instead of giving no number.
    for (share, correlation) in [(f64::NAN, 0.05), (0.0, 0.0), (1.0, 1.0), (0.04, f64::NAN)] {
        let odd = BetaBinomial::new(share, correlation, 5);
        assert!(odd.upper_tail(0, 5).is_finite());
    }
}

#[test]
fn beta_binomial_ln_refuses_what_is_no_probability() {
    assert!(beta_binomial_ln(2, 5, 0.1, 0.05).is_some());
    assert!(beta_binomial_ln(5, 5, 0.1, 0.05).is_some());
    assert_eq!(beta_binomial_ln(6, 5, 0.1, 0.05), None);
    for (share, correlation) in [(0.0, 0.05), (1.0, 0.05), (0.1, 0.0), (0.1, 1.0)] {
        assert_eq!(beta_binomial_ln(2, 5, share, correlation), None);
    }
}

#[test]
fn flag_cause_tells_seed_from_farm() {
    let rules = SpoilageRules::default();
    let rows = batches(&[GOOD, BAD, BAD, BAD, GOOD, BAD, BAD, BAD]);
    let all = chart_of(&rows);
    assert_eq!(all.farms[0].status, SpoilageStatus::Recurring);
    let cause = |bad: [bool; 8]| flag_cause(&rows, &bad, &all, &rules);
    let (t, f) = (true, false);
    assert_eq!(cause([f, t, t, t, f, t, t, t]), Some(FlagCause::SeedLot));
    assert_eq!(cause([f, f, f, f, f, t, t, t]), Some(FlagCause::Farm));
    assert_eq!(cause([f; 8]), None);
    assert_eq!(flag_cause(&rows, &[f, t], &all, &rules), Some(FlagCause::Farm));
    let calm = batches(&[GOOD; 8]);
    assert_eq!(flag_cause(&calm, &[true; 8], &chart_of(&calm), &rules), None);
}

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
