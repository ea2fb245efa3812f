//! Charts at the edges of their rules.

#![expect(clippy::float_cmp, reason = "these values are exact in binary")]

use traybook_analytics::spoilage::{
    Batch, BetaBinomial, Chart, Charter, FarmChart, FlagSource, Shared, SpoilageStatus,
    beta_binomial_ln, class_multipliers, information, lot_levels, rates, serial_correlation,
    share_ok, spoilage, step, tray_correlation,
};

fn batch(day: i32, started: u32, discarded: u32) -> Batch {
    Batch { day, started, discarded, lot: None, temperature_class: None }
}

const GOOD: (u32, u32) = (20, 0);
const BAD: (u32, u32) = (20, 12);

/// A batch a week.
fn weekly(kinds: &[(u32, u32)]) -> Vec<Batch> {
    (0..).step_by(7).zip(kinds).map(|(day, (n, d))| batch(day, *n, *d)).collect()
}

fn house() -> Shared {
    Shared { correlation: 0.05, serial: 0.0, share_ok: 0.04, class_multipliers: Vec::new() }
}

fn last_day(batches: &[Batch]) -> i32 {
    batches.last().map_or(0, |b| b.day)
}

fn chart_at(batches: &[Batch], today: i32) -> (Chart, Vec<f64>) {
    let mut charter = Charter::new(&house());
    let chart = charter.chart(batches, |_| Some(1.0), today);
    (chart, charter.steps().iter().map(|s| s.value).collect())
}

fn chart(kinds: &[(u32, u32)]) -> (Chart, Vec<f64>) {
    let batches = weekly(kinds);
    chart_at(&batches, last_day(&batches))
}

fn status(kinds: &[(u32, u32)]) -> SpoilageStatus {
    chart(kinds).0.status
}

#[test]
fn a_flag_needs_three_bad_batches_and_good_ones_clear_it() {
    let (two, path) = chart(&[GOOD, GOOD, GOOD, BAD, BAD]);
    assert_eq!(path[..3], [0.0; 3]);
    assert!(path[4] < two.threshold.unwrap());
    assert_eq!(two.flagged_first, None);
    let after = |more: &[(u32, u32)]| chart(&[&[GOOD; 5], more].concat()).0;
    let three = after(&[BAD; 3]);
    assert_eq!(three.status, SpoilageStatus::Recurring);
    assert_eq!((three.flagged_since(), three.raised()), (Some(7), Some(5..=7)));
    // However long it was bad: the fourth good batch clears it, not the third.
    for bad in [3, 8, 40] {
        let mut kinds = vec![BAD; bad];
        kinds.extend([GOOD; 3]);
        assert_eq!(after(&kinds).status, SpoilageStatus::Recurring, "{bad}");
        kinds.push(GOOD);
        let over = after(&kinds);
        assert_eq!(over.flagged_since(), None, "{bad}");
        assert_eq!((over.cleared, over.value), (Some(5 + bad + 3), 0.0));
        assert_eq!((over.flagged_first, over.onsets), (Some(7), 1));
    }
}

#[test]
fn raised_by_begins_after_the_last_zero() {
    let raised = |kinds: &[(u32, u32)]| chart(kinds).0.raised();
    assert_eq!(raised(&[BAD, GOOD, GOOD, GOOD, GOOD, BAD, BAD, BAD]), Some(5..=7));
    assert_eq!(raised(&[BAD, BAD]), None);
}

/// A day's single tray is judged too.
#[test]
fn one_tray_a_day_is_judged() {
    let daily = |lost: &dyn Fn(i32) -> bool| {
        let batches: Vec<Batch> = (0..60).map(|k| batch(k, 1, u32::from(lost(k)))).collect();
        chart_at(&batches, 59).0
    };
    assert_eq!(daily(&|_| false).status, SpoilageStatus::Ok);
    let bad = daily(&|k| k > 30 && k % 3 == 0);
    assert_eq!(bad.status, SpoilageStatus::Recurring);
    assert_eq!(daily(&|k| k == 40).status, SpoilageStatus::Ok);
}

#[test]
fn status_goes_by_age_then_number_then_last_batch_then_chart() {
    assert_eq!(status(&[]), SpoilageStatus::NothingCounted);
    assert_eq!(status(&[GOOD; 4]), SpoilageStatus::InsufficientData);
    assert_eq!(status(&[(1, 0); 7]), SpoilageStatus::InsufficientData);
    assert_eq!(status(&[(1, 0); 8]), SpoilageStatus::Ok);
    assert_eq!(status(&[GOOD; 5]), SpoilageStatus::Ok);
    assert_eq!(status(&[GOOD, GOOD, GOOD, GOOD, BAD]), SpoilageStatus::OneBadBatch);
    let (watched, _) = chart(&[GOOD, GOOD, GOOD, BAD, BAD, (20, 1)]);
    assert_eq!(watched.status, SpoilageStatus::Watch);
    assert!(watched.value >= watched.threshold.unwrap() / 2.0);
}

/// A flag grows quiet after four weeks and is over after ninety days.
#[test]
fn a_flag_ages() {
    let batches = weekly(&[GOOD, GOOD, GOOD, GOOD, GOOD, BAD, BAD, BAD]);
    let last = last_day(&batches);
    let at = |quiet: i32| chart_at(&batches, last + quiet).0.status;
    assert_eq!(at(28), SpoilageStatus::Recurring);
    assert_eq!(at(29), SpoilageStatus::RecurringQuiet);
    assert_eq!(at(90), SpoilageStatus::RecurringQuiet);
    assert_eq!(at(91), SpoilageStatus::NothingCounted);
    // A batch after so long begins anew; one after ninety days does not.
    let again = |gap: i32| {
        let mut more = batches.clone();
        more.push(batch(last + gap, 20, 12));
        chart_at(&more, last + gap).0
    };
    assert_eq!(again(90).status, SpoilageStatus::Recurring);
    let anew = again(91);
    assert_eq!((anew.status, anew.batches_used), (SpoilageStatus::InsufficientData, 1));
    assert_eq!(anew.zero, Some(7));
}

#[test]
fn impossible_batches_do_not_move_the_chart() {
    let rows = [batch(0, 0, 0), batch(1, 5, 6), batch(2, 200_000, 9), batch(3, 20, 0)];
    let (chart, path) = chart_at(&rows, 3);
    assert_eq!((path.len(), chart.batches_used, chart.recent), (4, 1, (1, 20)));
    assert_eq!(chart_at(&rows[..3], 3).0.last_p, 1.0);
    // What lies near the ends of the days does not overflow.
    let far = [batch(i32::MIN, 5, 1), batch(i32::MAX, 5, 1)];
    assert_eq!(chart_at(&far, i32::MAX).0.batches_used, 1);
}

#[test]
fn step_is_capped_on_three_sides() {
    assert_eq!(step(1.0, 5.0, 2.0, 9.0), 3.0);
    assert_eq!(step(8.5, 1.5, 2.0, 9.0), 9.0);
    assert_eq!(step(1.0, -4.0, 2.0, 9.0), 0.0);
    assert_eq!(step(1.0, -0.5, 2.0, 9.0), 0.5);
}

#[test]
fn tray_correlation_needs_ten_farms_of_three_batches() {
    let farm = weekly(&[(20, 0), (20, 6), (20, 1)]);
    assert_eq!(tray_correlation(&vec![farm.clone(); 9]), 0.05);
    assert_eq!(tray_correlation(&vec![farm; 10]), 0.15);
    // A disaster above 35 % is left out; one at 35 % is not, nor two trays of a small batch.
    let of = |kinds: &[(u32, u32)]| tray_correlation(&vec![weekly(kinds); 10]);
    assert_eq!(of(&[(20, 1), (20, 1), (20, 1), (20, 8)]), 0.02);
    assert_eq!(of(&[(20, 1), (20, 1), (20, 1), (20, 7)]), 0.15);
    assert_eq!(of(&[(4, 0), (4, 0), (4, 2), (4, 0)]), 0.15);
    assert_eq!(of(&[(3, 0), (3, 0), (3, 2), (3, 0)]), 0.05);
    assert_eq!(tray_correlation(&vec![weekly(&[(20, 0), (20, 6)]); 20]), 0.05);
    assert_eq!(tray_correlation(&vec![weekly(&[GOOD; 5]); 20]), 0.05);
}

/// [ARITH] by hand: n = 10 throughout, shares 0.1, 0.2, 0.3, 0, 0, 0: p = 0.1, pq = 0.09, squares
/// 10 (0 + 0.01 + 0.04 + 0.03) = 0.8, leverage 5: (0.8 - 0.45) / (0.09 · 5 · 9).
#[test]
fn tray_correlation_meets_a_sum_by_hand() {
    let farm = weekly(&[(10, 1), (10, 2), (10, 3), (10, 0), (10, 0), (10, 0)]);
    let rho = tray_correlation(&vec![farm; 10]);
    assert!((rho - 0.35 / 4.05).abs() < 1e-12, "{rho}");
}

/// [ARITH] by hand: each of ten farms has three blocks of two batches of 10 trays; one block loses
/// 2 and 2, the others nothing: p = 1/15. Residuals 4/3 twice and -2/3 four times.
#[test]
fn serial_correlation_meets_a_sum_by_hand() {
    let days = [(0, 2), (5, 2), (28, 0), (30, 0), (56, 0), (60, 0)];
    let farm: Vec<Batch> = days.iter().map(|(day, d)| batch(*day, 10, *d)).collect();
    let farms = vec![farm; 10];
    let levels = lot_levels(&farms, 0.15);
    let expected = (32.0 / 9.0 + 16.0 / 9.0) / (14.0 / 225.0 * 600.0);
    let rho = serial_correlation(&farms, &levels, 0.15, 10);
    assert!((rho - expected).abs() < 1e-12, "{rho} {expected}");
    assert_eq!(serial_correlation(&farms, &levels, 0.05, 10), 0.05);
    assert_eq!(serial_correlation(&farms[..9], &levels, 0.15, 10), 0.0);
}

/// Bad weeks say less: a second batch of the same weeks adds less evidence.
#[test]
fn batches_of_one_bad_week_count_less() {
    let batches = [batch(0, 20, 4), batch(1, 20, 4), batch(40, 20, 4)];
    let evidence = |serial: f64| {
        let mut charter = Charter::new(&Shared { serial, ..house() });
        charter.chart(&batches, |_| Some(1.0), 40);
        charter.steps().iter().map(|s| s.evidence).collect::<Vec<f64>>()
    };
    let (calm, weeks) = (evidence(0.0), evidence(0.02));
    assert_eq!((calm[0], calm[1]), (weeks[0], calm[2]));
    assert!((weeks[1] - calm[1] / (1.0 + 1.5 * 0.02 * 20.0 / 1.95)).abs() < 1e-12);
    assert_eq!(weeks[2], calm[2]);
}

/// The threshold follows the information of a year, within its limits.
#[test]
fn more_batches_raise_the_threshold() {
    let threshold = |trays: u32, every: usize| {
        let days = (0..120).step_by(every);
        let batches: Vec<Batch> = days.map(|day| batch(day, trays, 0)).collect();
        chart_at(&batches, 119).0.threshold.unwrap()
    };
    assert_eq!(threshold(1, 30), 4.0);
    assert!(threshold(3, 1) > threshold(3, 7) && threshold(8, 7) > threshold(3, 7));
    // Ten years' worth of a year's information, by hand.
    let year = 365.0 / 90.0 * 90.0 * information(8, 0.04, 0.15, 0.05);
    assert!((threshold(8, 1) - (year / 0.1).ln()).abs() < 1e-9);
}

#[test]
fn the_accepted_share_follows_the_median_farm() {
    let of = |rates: &[f64]| {
        let rates: Vec<(f64, u64)> = rates.iter().map(|r| (*r, 60)).collect();
        share_ok(&rates)
    };
    assert_eq!(of(&[0.06; 9]), 0.04);
    assert_eq!(of(&[0.06; 10]), 0.075);
    assert_eq!(of(&[0.01; 10]), 0.04);
    assert_eq!(of(&[0.2; 10]), 0.08);
    assert_eq!(share_ok(&[(0.06, 59); 20]), 0.04);
    // A year and no longer.
    let farm = [batch(0, 30, 30), batch(35, 30, 3), batch(365, 30, 3)];
    let levels = lot_levels(&[farm], 0.05);
    assert_eq!(rates(&[farm], &levels, 365), [(0.1, 60)]);
}

/// Farms 0 to 3 grow lot 1, which spoils; lot 2 does not.
fn bad_lot() -> Vec<Vec<Batch>> {
    let farm = |of: i32| -> Vec<Batch> {
        let lots = (0..12).map(|k| (7 * k + of, if k >= 6 { 1 } else { 2 }));
        let lost = |lot: u32| if lot == 1 { 8 } else { 0 };
        lots.map(|(day, lot)| Batch { lot: Some(lot), ..batch(day, 20, lost(lot)) }).collect()
    };
    (0..4).map(farm).collect()
}

#[test]
fn a_lot_that_spoils_elsewhere_clears_the_farm() {
    let made = spoilage(&bad_lot(), 90);
    for (k, farm) in made.farms.iter().enumerate() {
        assert_eq!(farm.status, SpoilageStatus::RecurringLot);
        assert_eq!(farm.source, Some(FlagSource::SeedLot));
        assert!(made.lots.of(k, Some(1)).is_bad());
        assert_eq!(made.lots.of(k, Some(2)).multiplier, 1.0);
        assert_eq!(made.lots.of(k, Some(1)).other_farms, 3);
        assert_eq!(farm.shown().raised().map(|r| *r.start()), Some(6));
        assert_eq!(farm.chart.value, 0.0);
    }
    // With one other farm alone nothing is said against the lot.
    let two = spoilage(&bad_lot()[..2], 90);
    assert_eq!(two.lots.of(0, Some(1)).multiplier, 1.0);
    assert_eq!(two.farms[0].source, Some(FlagSource::FarmOrLot));
}

fn flag_of(batches: Vec<Batch>) -> FarmChart {
    spoilage(&[batches], 90).farms.remove(0)
}

/// One lot that carries a flag may be to blame; several lots point at the farm.
#[test]
fn a_flag_of_one_lot_points_at_the_farm_or_the_lot() {
    let of = |lots: [Option<u32>; 6]| {
        let days = (30..).step_by(7).zip(lots);
        flag_of(days.map(|(day, lot)| Batch { lot, ..batch(day, 20, 8) }).collect())
    };
    assert_eq!(of([Some(1); 6]).source, Some(FlagSource::FarmOrLot));
    assert_eq!(of([None; 6]).source, Some(FlagSource::FarmOrLot));
    let each = [1, 2, 3, 4, 5, 6].map(Some);
    assert_eq!(of(each).source, Some(FlagSource::Farm));
}

/// Skipped batches move nothing, but the farm is not quiet.
#[test]
fn a_skipped_batch_keeps_the_farm_from_being_quiet() {
    let mut batches = weekly(&[GOOD, GOOD, GOOD, GOOD, GOOD, BAD, BAD, BAD]);
    batches.push(batch(79, 20, 20));
    let mut charter = Charter::new(&house());
    let chart = charter.chart(&batches, |k| (k < 8).then_some(1.0), 84);
    assert_eq!(chart.status, SpoilageStatus::Recurring);
    assert_eq!((chart.batches_used, chart.recent), (8, (8, 160)));
    assert_eq!(charter.steps()[8].evidence, 0.0);
    assert_eq!(chart_at(&batches[..8], 84).0.status, SpoilageStatus::RecurringQuiet);
}

#[test]
fn information_meets_the_sum_over_all_outcomes() {
    for (n, rho) in [(1, 0.05), (3, 0.02), (20, 0.15), (300, 0.05)] {
        let [ok, bad] = [0.04, 0.15].map(|share| BetaBinomial::new(share, rho, n));
        let term = |d| {
            let (a, b) = (bad.ln_probability(d, n).unwrap(), ok.ln_probability(d, n).unwrap());
            a.exp() * (a - b)
        };
        let sum: f64 = (0..=n).map(term).sum();
        assert!((information(n, 0.04, 0.15, rho) - sum).abs() < 1e-9 * sum, "{n}");
    }
}

#[test]
fn class_multipliers_shrink_and_are_clamped() {
    let of = |started, discarded, class| Batch {
        temperature_class: Some(class),
        ..batch(0, started, discarded)
    };
    // P = 0.1 over 4,000 trays: hot 0.19, cold 0.01; each mixed with 1,000 trays at 0.1.
    let both = [of(2000, 380, 0), of(2000, 20, 2)];
    let found = class_multipliers(&[both]);
    assert_eq!(found.len(), 3);
    assert!((found[0] - 480.0 / 3000.0 / 0.1).abs() < 1e-12);
    assert_eq!(found[1], 1.0);
    assert_eq!(found[2], 0.5);
    assert_eq!(class_multipliers(&[[of(20, 0, 1)]]), [1.0, 1.0]);
    // A batch without a class counts in the overall share only.
    let mixed = [of(1000, 100, 0), batch(0, 1000, 300)];
    let expected = (100.0 + 1000.0 * 0.2) / 2000.0 / 0.2;
    assert!((class_multipliers(&[mixed])[0] - expected).abs() < 1e-12);
    assert_eq!(class_multipliers::<&[Batch]>(&[]), Vec::<f64>::new());
}

#[test]
fn a_hot_class_is_forgiven_what_heat_does() {
    let of = |k: i32, d, class| Batch { temperature_class: Some(class), ..batch(7 * k, 50, d) };
    let mut farms = vec![(0..40).map(|k| of(k, 1, 0)).collect::<Vec<_>>(); 20];
    farms.push((0..40).map(|k| of(k, 8, 1)).collect());
    let classed = spoilage(&farms, 280);
    assert_eq!(classed.shared.class_multipliers[1], 2.0);
    let plain = |f: &Vec<Batch>| -> Vec<Batch> {
        f.iter().map(|b| Batch { temperature_class: None, ..*b }).collect()
    };
    let plain: Vec<Vec<Batch>> = farms.iter().map(plain).collect();
    let unclassed = spoilage(&plain, 280);
    assert_eq!(unclassed.farms[20].status, SpoilageStatus::Recurring);
    assert!(classed.farms[20].chart.value < unclassed.farms[20].chart.value);
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
