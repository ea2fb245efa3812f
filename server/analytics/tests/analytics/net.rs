//! Money: the worked example step by step, partial budgets, adjustments and statuses by hand.

use std::collections::BTreeMap;

use traybook_analytics::eaten::{Purchase, Rules, Series, month_use, spread};
use traybook_analytics::feed_saving::{
    FrozenBaseline, SavingPanel, feed_saving, lasting_square, mix_ration,
};
use traybook_analytics::net::{
    NetStatus, OutputEstimate, RowFacts, RowStatus, adjustments, in_quadrature, net_result,
    per_unit, row_status,
};
use traybook_analytics::stats::student_t_critical_95;

/// As many digits as the sum is written with.
fn assert_near(x: f64, expected: f64, digits: i32) {
    assert!((x - expected).abs() <= 0.51 * 10_f64.powi(-digits), "{x} for {expected}");
}

/// Four cows. 108 kg for 88,560 on 19 May last until 18 June: 120 animal-days, 0.9 kg each. 112 kg
/// for 94,080 then last until 20 July: 128 animal-days, 0.875 kg each. June has 18 days of the
/// one and 12 of the other: `72 x 0.9 + 48 x 0.875 = 106.8 kg`, at 820 and 840 a kg 88,416.
#[test]
fn worked_example_what_june_ate() {
    let lot = |day, kg, cost| Purchase { day, kg, cost, median: None, is_accepted: false };
    let purchases =
        [lot(139, 108.0, 88_560.0), lot(169, 112.0, 94_080.0), lot(201, 110.0, 93_500.0)];
    let animal_days: Vec<f64> = (0..=212).map(|d| 4.0 * f64::from(d)).collect();
    let series = Series {
        purchases: &purchases,
        counts: &[],
        animal_days: &animal_days,
        start: Some(99),
        as_of: 212,
    };
    let pieces = spread(&series, &Rules::default()).pieces;
    let june = month_use(&pieces, &animal_days, &[151, 181], series.start)[0];
    assert_near(june.kg, 106.8, 9);
    assert_near(june.cost, 88_416.0, 6);
    assert_near(june.covered, 120.0, 9);
}

/// January to March the cows ate 1.3, 1.25 and 1.32 kg in 124, 112 and 124 animal-days, when
/// other farms used 0.98, 1 and 1.04 of the usual. At 800 a kg that is `371,904 / 362.48 = 1,026`
/// for each animal-day at index 1. The stated ration, 1.35 kg in a month of index 1.04, is
/// `1,080 / 1.04 = 1,038`: 1.2 % more in logarithms. Rations are overstated by 5 %, so the ration
/// speaks for 3.8 % less; it weighs `0.005434 / (0.005434 + 0.0064) = 0.459`, a factor of 0.983.
/// June: 120 animal-days at index 0.96, 1.2604 kg, 827.87 a kg: 120,200. Less 88,416 eaten:
/// 31,784.
#[test]
fn worked_example_the_feed_saving_of_june() {
    let kg = [124.0 * 1.3, 112.0 * 1.25, 124.0 * 1.32, 0.0, 0.0, 106.8, 0.0];
    let price = [800.0, 800.0, 800.0, 800.0, 800.0, 88_416.0 / 106.8, 800.0];
    let index = [Some(0.98), Some(1.0), Some(1.04), None, None, Some(0.96), None];
    let panel = SavingPanel {
        feeds: 1,
        months: 7,
        kg: &kg,
        price: &price,
        animal_days: &[124.0, 112.0, 124.0, 120.0, 124.0, 120.0, 124.0],
        is_known: &[true, true, true, false, false, true, false],
        mixed_share: &[0.0; 7],
        start: &[Some(3)],
        ration: Some(&[1.35]),
        ration_month: &[Some(2)],
        frozen_index: Some(&index),
        ..SavingPanel::default()
    };
    let bought = feed_saving(&panel, &Rules::default()).unwrap();
    let (farm, weights) = (bought.farms[0], bought.weights(0));
    assert_near(farm.level.unwrap(), 1_026.0, 2);
    assert_near(farm.ration_difference.unwrap(), (1_080.0_f64 / 1.04 / 1_026.0).ln(), 5);
    let square = lasting_square(&weights, 1.0, 0.4);
    assert_near(0.01 * square, 0.005_434, 6);
    let mixed = mix_ration(farm.ration_difference.unwrap(), 0.05, 0.01 * square, 0.0064);
    assert_near(mixed.weight, 0.459, 3);
    assert_near(mixed.factor, (0.459_f64 * (0.012 - 0.05)).exp(), 3);
    let frozen = [Some(FrozenBaseline {
        basket: vec![bought.basket(0).unwrap()[0] * mixed.factor],
        weights,
        ration_weight: mixed.weight,
        is_adjusted: true,
    })];
    let panel = SavingPanel { frozen: &frozen, ..panel };
    let cell = feed_saving(&panel, &Rules::default()).unwrap().cell(0, 5).unwrap();
    assert_near(cell.baseline, 120.0 * 0.96 * 1.260_356_6 * 827.865_17, 1);
    assert_near(cell.saving, 31_784.3, 1);
}

/// From the feed saving of 31,784.30 with error 13,638.23: fodder cost 25,000, which leaves
/// 6,784.30, or 6.92 for each of 980 litres. With 6 degrees of freedom t is 2.447, so the saving
/// may be 33,372 more or less. Output rose by 3 %: `980 x 900 x (1 - exp(-0.03)) = 26,067`. The
/// lower half width of the net result is `sqrt(33,372^2 + 34,219^2) = 47,797`.
#[test]
fn worked_example_the_net_result() {
    let output = OutputEstimate {
        units: 980.0,
        price: 900.0,
        log_effect: 0.03,
        log_error: 0.02,
        is_causal: true,
    };
    let critical = student_t_critical_95(6.0);
    assert_near(critical, 2.447, 3);
    let net = net_result(31_784.295_5, 13_638.235, 25_000.0, Some(&output), critical);
    assert_near(net.saving, 6_784.3, 1);
    assert_near(net.saving - net.interval.lower, 33_371.6, 1);
    let money = net.output.unwrap();
    assert_near(money.change, 26_067.04, 2);
    assert_near(money.change - money.interval.lower, 34_218.88, 2);
    assert_near(money.net, 32_851.3, 1);
    assert_near(money.net - money.net_interval.lower, 33_371.56_f64.hypot(34_218.88), 0);
    assert_eq!(net.status, NetStatus::Causal);
    let (per_litre, months) = per_unit(&[Some(31_784.3)], &[25_000.0], &[Some(980.0)]);
    assert_near(per_litre.unwrap(), 6.92, 2);
    assert_eq!(months, 1);
}

/// Output that fell is a return lost; one too large to be money is none.
#[test]
fn output_that_fell_is_a_return_lost() {
    let mut output = OutputEstimate {
        units: 100.0,
        price: 10.0,
        log_effect: 0.5_f64.ln(),
        log_error: 0.0,
        is_causal: false,
    };
    let net = net_result(100.0, 3.0, 40.0, Some(&output), 2.0);
    let money = net.output.unwrap();
    // Half of what there would have been is what there is: as much again is lost.
    assert_near(money.reduced_return, 1_000.0, 9);
    assert!(money.added_return.abs() <= 0.0);
    assert_near(money.net, 60.0 - 1_000.0, 9);
    assert_near(money.net_interval.upper, 66.0 - 1_000.0, 9);
    assert_eq!(net.status, NetStatus::Association);
    output.log_effect = -1e6;
    let net = net_result(100.0, 3.0, 40.0, Some(&output), 2.0);
    assert_eq!((net.output, net.status), (None, NetStatus::NoOutputEstimate));
}

/// Half widths of 3 and 4 make 5.
#[test]
fn half_widths_of_enterprises_combine_in_quadrature() {
    let (value, interval) = in_quadrature(&[(10.0, 3.0), (-2.0, 4.0)]);
    assert_near(value, 8.0, 12);
    assert_near(interval.lower, 3.0, 12);
    assert_near(interval.upper, 13.0, 12);
}

/// Months without a number or without output count on neither side.
#[test]
fn per_unit_takes_months_with_both() {
    let saving = [Some(100.0), None, Some(-40.0), Some(60.0), Some(5.0)];
    let units = [Some(300.0), Some(310.0), None, Some(280.0), Some(0.0)];
    let (value, months) = per_unit(&saving, &[20.0; 5], &units);
    assert_near(value.unwrap(), 120.0 / 580.0, 12);
    assert_eq!(months, 2);
    assert_eq!(per_unit(&[None], &[0.0], &[Some(1.0)]), (None, 0));
}

/// Each row has its own limit; numbers that came or went are always shown.
#[test]
fn adjustments_show_what_is_over_its_limit() {
    let reported: BTreeMap<&str, Option<f64>> =
        [("a", Some(100.0)), ("b", Some(100.0)), ("c", None), ("d", Some(7.0))].into();
    let now = [("a", Some(104.0)), ("b", Some(104.0)), ("c", Some(0.0)), ("e", None)].into();
    let limit = |key: &&str| if *key == "a" { 3.0 } else { 5.0 };
    let all = adjustments(&reported, &now, limit);
    let shown: Vec<(&str, f64)> = all.lines.iter().map(|l| (l.key, l.change)).collect();
    assert_eq!(shown, [("a", 4.0), ("c", 0.0), ("d", -7.0)]);
    assert_eq!((all.settled, all.settled_rows, all.total), (4.0, 1, 1.0));
}

/// From what stands first to what stands last, one thing is put right after the other.
#[test]
fn the_first_status_that_applies_is_given() {
    let mut facts = RowFacts {
        month: 4,
        start_month: None,
        is_over: false,
        is_known: false,
        mixed_share: 0.51,
        is_lacking: true,
        is_held: true,
        is_waiting: true,
        has_level: false,
        is_ration_only: true,
    };
    let mut given = Vec::new();
    let steps: [fn(&mut RowFacts); 11] = [
        |_| {},
        |f| f.start_month = Some(5),
        |f| f.start_month = Some(4),
        |f| f.is_over = true,
        |f| f.start_month = Some(3),
        |f| f.has_level = true,
        |f| f.is_held = false,
        |f| f.is_waiting = false,
        |f| (f.is_lacking, f.is_known) = (false, true),
        |f| f.mixed_share = 0.5,
        |f| f.is_ration_only = false,
    ];
    for step in steps {
        step(&mut facts);
        given.push(row_status(&facts, &Rules::default()));
    }
    assert_eq!(
        given,
        [
            RowStatus::NotStarted,
            RowStatus::NotStarted,
            RowStatus::Running,
            RowStatus::StartMonth,
            RowStatus::NoBaseline,
            RowStatus::Held,
            RowStatus::Waiting,
            RowStatus::Missing,
            RowStatus::StartLot,
            RowStatus::RationOnly,
            RowStatus::Estimated,
        ]
    );
    facts.is_lacking = true;
    assert_eq!(row_status(&facts, &Rules::default()), RowStatus::Missing);
    assert_eq!(serde_json::to_value(RowStatus::StartLot).unwrap(), "start_lot");
}
