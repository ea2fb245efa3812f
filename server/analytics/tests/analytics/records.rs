//! Records, stages and prices at the edges of their rules.

#![expect(clippy::float_cmp, reason = "these values are exact in binary")]

use traybook_analytics::error::ShapeError;
use traybook_analytics::limits::{COVARIATES_MAX, MONTHS_MAX};
use traybook_analytics::panel::Panel;
use traybook_analytics::prices::{IndexRules, fill_prices, month_index};
use traybook_analytics::records::{
    Covariates, DayKey, Output, OutputRecord, farm_months, fill_stage, last_entered, stage_basis,
    stage_covariates,
};

const NONE: f64 = f64::NAN;

fn record(month: usize, output: f64, animals: f64) -> OutputRecord {
    let (output, animals) = (Some(output), Some(animals));
    OutputRecord { farm: 0, month, output, animals, stage: None }
}

/// Values with "not a number" shown as none, so that they can be compared.
fn shown(values: &[f64]) -> Vec<Option<f64>> {
    values.iter().map(|x| (!x.is_nan()).then_some(*x)).collect()
}

#[test]
fn last_entered_keeps_the_later_entry_of_a_day() {
    let key = |farm, day, entered| DayKey { farm, day, entered };
    let keys = [key(0, 5, 2), key(0, 5, 1), key(1, 5, 0), key(0, 6, 3), key(0, 6, 3), key(0, 5, 9)];
    assert_eq!(last_entered(&keys), [2, 4, 5]);
    assert_eq!(last_entered(&[]), Vec::<usize>::new());
}

#[test]
fn farm_months_keeps_a_rate_at_four_times_the_median_and_drops_one_above() {
    // Rates 10 10 10 and one more: the median stays 10.
    let kept = |rate: f64| {
        let records = [record(0, 10.0, 1.0), record(0, 10.0, 1.0), record(0, 10.0, 1.0), {
            record(1, rate, 1.0)
        }];
        farm_months(&records, 1, 2, 4.0).unwrap().records[1]
    };
    assert_eq!(kept(40.0), 1.0);
    assert_eq!(kept(40.1), 0.0);
    assert_eq!(kept(2.5), 1.0);
    assert_eq!(kept(2.4), 0.0);
}

#[test]
fn farm_months_counts_what_it_drops_and_keeps_a_zero() {
    let mut records = vec![record(0, 10.0, 2.0), record(0, 0.0, 2.0), record(0, 12.0, 2.0)];
    records.push(record(0, -1.0, 2.0));
    records.push(record(0, 10.0, 0.0));
    records.push(record(0, f64::INFINITY, 2.0));
    records.push(OutputRecord { output: None, ..record(0, 1.0, 2.0) });
    records.push(OutputRecord { animals: None, ..record(0, 1.0, 2.0) });
    let cells = farm_months(&records, 1, 1, 4.0).unwrap();
    assert_eq!((cells.dropped, cells.records[0]), (5, 3.0));
    assert!((cells.log_output[0] - (22.0_f64 / 6.0).ln()).abs() < 1e-15);
    // Nothing but zeros is no observation.
    let cells = farm_months(&[record(0, 0.0, 2.0)], 1, 1, 4.0).unwrap();
    assert_eq!((cells.records[0], cells.log_output[0].is_nan(), cells.dropped), (0.0, true, 0));
}

#[test]
fn farm_months_weighs_stage_by_animals() {
    let staged = |animals, stage| OutputRecord { stage, ..record(0, 10.0 * animals, animals) };
    let records = [staged(3.0, Some(100.0)), staged(1.0, Some(200.0)), staged(5.0, None)];
    assert_eq!(farm_months(&records, 1, 1, 4.0).unwrap().stage, [125.0]);
    let unbelievable = [staged(1.0, Some(1e300)), staged(1.0, Some(7.0))];
    assert_eq!(farm_months(&unbelievable, 1, 1, 4.0).unwrap().stage, [7.0]);
}

#[test]
fn farm_months_refuses_what_lies_outside() {
    let outside = Err(ShapeError::OutsidePanel { index: 0 });
    assert_eq!(farm_months(&[record(2, 1.0, 1.0)], 1, 2, 4.0), outside);
    assert_eq!(farm_months(&[record(0, 1.0, 1.0)], 0, 2, 4.0), outside);
    assert!(farm_months(&[], 1, MONTHS_MAX, 4.0).is_ok());
    assert!(farm_months(&[], 1, MONTHS_MAX + 1, 4.0).is_err());
}

#[test]
fn fill_stage_reaches_two_months_and_no_further() {
    let row = [10.0, NONE, NONE, 40.0, NONE, NONE, NONE, NONE, NONE, 7.0];
    let filled = fill_stage(&row, 10);
    let (s, n) = (Some, None);
    let expected =
        [s(10.0), s(20.0), s(30.0), s(40.0), s(40.0), s(40.0), n, s(7.0), s(7.0), s(7.0)];
    assert_eq!(shown(&filled), expected);
    // Farms do not lend each other their stage.
    assert_eq!(shown(&fill_stage(&[5.0, 6.0, NONE, NONE], 2)), [s(5.0), s(6.0), n, n]);
    assert_eq!(fill_stage(&[], 0), Vec::<f64>::new());
    assert_eq!(fill_stage(&[1.0], 0), [1.0]);
}

#[test]
fn stage_basis_has_floors_and_centred_columns() {
    let milk = stage_basis(&[1.0, 5.0, 305.0, NONE], Output::Milk);
    let x = milk.values();
    assert_eq!(milk.count(), 3);
    // Days 1 and 5 are both 5: the same columns.
    assert_eq!(x[0..3], x[3..6]);
    assert!((x[7] - x[1] - 3.0).abs() < 1e-12);
    assert_eq!(x[9..12], [0.0, 0.0, 1.0]);
    assert!((x[0] + x[3] + x[6]).abs() < 1e-12 && (x[1] + x[4] + x[7]).abs() < 1e-12);
    let eggs = stage_basis(&[10.0, 18.0, 28.0], Output::Eggs);
    let x = eggs.values();
    assert_eq!(x[0..3], x[3..6]);
    assert!((x[6] - x[0] - 11.0_f64.ln()).abs() < 1e-12 && (x[7] - x[1] - 1.0).abs() < 1e-12);
}

#[test]
fn stage_covariates_need_half_of_the_observed_farm_months() {
    let staged = |months: usize| {
        let with = |m: usize| OutputRecord {
            stage: (m < months).then_some(50.0),
            month: 5 * m,
            ..record(0, 10.0, 1.0)
        };
        let records: Vec<OutputRecord> = (0..4).map(with).collect();
        farm_months(&records, 1, 20, 4.0).unwrap()
    };
    assert!(stage_covariates(&staged(1), Output::Milk).is_none());
    assert_eq!(stage_covariates(&staged(2), Output::Milk).unwrap().values().len(), 60);
    assert!(stage_covariates(&farm_months(&[], 1, 3, 4.0).unwrap(), Output::Milk).is_none());
}

#[test]
fn covariates_and_panels_refuse_parts_that_do_not_fit() {
    assert!(Covariates::new(2, vec![1.0; 4]).is_ok());
    let length = |found, wanted| ShapeError::Length { name: "covariates", found, wanted };
    assert_eq!(Covariates::new(2, vec![1.0; 5]), Err(length(5, 2)));
    assert_eq!(Covariates::new(0, vec![]), Err(length(0, 0)));
    assert!(Covariates::new(1, vec![NONE]).is_err() && Covariates::new(1, vec![1e13]).is_err());
    assert!(Covariates::new(COVARIATES_MAX, vec![0.0; COVARIATES_MAX]).is_ok());
    assert!(Covariates::new(COVARIATES_MAX + 1, vec![0.0; COVARIATES_MAX + 1]).is_err());
    let (y, n, start) = ([1.0; 6], [1.0; 6], [None; 3]);
    let x = Covariates::new(1, vec![0.0; 6]).unwrap();
    let panel = Panel::new(2, &y, &n, &start, Some(&x)).unwrap();
    assert_eq!((panel.farms(), panel.months()), (3, 2));
    assert!(Panel::new(3, &y, &n, &start, None).is_err());
    assert!(Panel::new(2, &y[..5], &n, &start, None).is_err());
    assert!(Panel::new(2, &y, &n[..5], &start, None).is_err());
    let short = Covariates::new(1, vec![0.0; 5]).unwrap();
    assert!(Panel::new(2, &y, &n, &start, Some(&short)).is_err());
    let wide = vec![1.0; MONTHS_MAX + 1];
    let error = Panel::new(MONTHS_MAX + 1, &wide, &wide, &[None], None).unwrap_err();
    assert_eq!(error.to_string(), "accept 601 months: at most 600 are allowed");
}

#[test]
fn fill_prices_takes_own_then_median_then_the_newest_of_three_months() {
    // Three farms, seven months, one feed.
    let price = [
        [2.0, NONE, NONE, NONE, NONE, NONE, NONE],
        [4.0, 6.0, NONE, NONE, NONE, NONE, NONE],
        [9.0, 7.0, NONE, NONE, NONE, NONE, 3.0],
    ]
    .concat();
    let filled = fill_prices(&price, 3, 7, 1).unwrap();
    let (s, n) = (Some, None);
    // Month 1: median of 6 and 7. Then month 1 is the last known, up to three months old.
    assert_eq!(shown(&filled[0..7]), [s(2.0), s(6.5), s(6.5), s(6.5), s(6.5), n, s(3.0)]);
    assert_eq!(shown(&filled[7..14]), [s(4.0), s(6.0), s(6.0), s(6.0), s(6.0), n, s(3.0)]);
    assert!(fill_prices(&price, 3, 7, 2).is_err());
    assert!(fill_prices(&[], 0, MONTHS_MAX + 1, 1).is_err());
    assert_eq!(fill_prices(&[], 0, 7, 1).unwrap(), Vec::<f64>::new());
}

#[test]
fn fill_prices_takes_the_median_of_each_feed_over_all_farms() {
    // Three farms, two months, two feeds: the last farm gave no price in the second month.
    let none = f64::NAN;
    let price = [1.0, 10.0, 3.0, 30.0, 2.0, 20.0, 5.0, 50.0, 9.0, 90.0, none, none];
    let filled = fill_prices(&price, 3, 2, 2).unwrap();
    assert_eq!(filled[10..], [4.0, 40.0]);
    assert_eq!(filled[..10], price[..10]);
}

#[test]
fn fill_prices_keeps_feeds_apart_and_a_price_of_zero() {
    let price = [0.0, 5.0, NONE, -1.0, 1e13, NONE];
    let filled = fill_prices(&price, 1, 3, 2).unwrap();
    assert_eq!(filled, [0.0, 5.0, 0.0, 5.0, 0.0, 5.0]);
}

#[test]
fn month_index_finds_the_months_of_a_table_that_is_exactly_multiplicative() {
    let (levels, months) = ([1.0, 2.0, 5.0, 3.0, 4.0], [0.5, 1.5, 1.0]);
    let cost: Vec<f64> = levels.iter().flat_map(|a| months.map(|m| a * m)).collect();
    let weight: Vec<f64> = (1..=15).map(f64::from).collect();
    let index = month_index(&cost, &weight, 3, &IndexRules::default());
    for (m, expected) in index.iter().zip(months) {
        assert!((m.unwrap() - expected).abs() < 1e-9);
    }
    // With four of five farms in a month it has no index, and the others have mean 1.
    let mut gaps = cost.clone();
    gaps[2] = NONE;
    let index = month_index(&gaps, &weight, 3, &IndexRules::default());
    assert!((index[0].unwrap() - 0.5).abs() < 1e-9 && (index[1].unwrap() - 1.5).abs() < 1e-9);
    assert_eq!(index[2], None);
    // Nobody spends anything in a month: no index for it.
    let free: Vec<f64> = cost.chunks(3).flat_map(|r| [r[0], 0.0, r[2]]).collect();
    assert_eq!(month_index(&free, &weight, 3, &IndexRules::default())[1], None);
    assert_eq!(month_index(&[], &[], 0, &IndexRules::default()), []);
    assert_eq!(month_index(&cost, &weight[1..], 3, &IndexRules::default()), [None; 3]);
}

/// Months with one farm are enough here.
fn one_farm_rules() -> IndexRules {
    IndexRules { controls_min: 1, ..IndexRules::default() }
}

/// [ARITH] by hand: costs 2, 4 with weights 1, 1 and costs 3, 3 with weights 1, 3. Both levels are
/// 3, so 6 and 12 are expected where 5 and 13 were spent: 5/6 and 13/12, over their mean 23/24.
#[test]
fn month_index_stops_once_it_changes_less_than_the_tolerance() {
    let (cost, weight) = ([2.0, 4.0, 3.0, 3.0], [1.0, 1.0, 1.0, 3.0]);
    let rules = IndexRules { tolerance: 1.0, ..one_farm_rules() };
    let index = month_index(&cost, &weight, 2, &rules);
    assert!((index[0].unwrap() - 20.0 / 23.0).abs() < 1e-12);
    assert!((index[1].unwrap() - 26.0 / 23.0).abs() < 1e-12);
    // The next sweep changes it by about 0.01.
    let settled = month_index(&cost, &weight, 2, &one_farm_rules());
    assert!((settled[0].unwrap() - 20.0 / 23.0).abs() > 0.005);
}

/// [ARITH] two farms spend twice as much in the second month as in the first: 2/3 and 4/3.
#[test]
fn month_index_is_not_moved_by_farms_that_cannot_tell() {
    let third = |index: &[Option<f64>]| {
        assert!((index[0].unwrap() - 2.0 / 3.0).abs() < 1e-12);
        assert!((index[1].unwrap() - 4.0 / 3.0).abs() < 1e-12);
        assert!(index[2..].iter().all(Option::is_none), "{index:?}");
    };
    // The last farm has no animals in the first month, and so one month only, not two.
    let cost = [1.0, 2.0, 0.0, 2.0, 4.0, 0.0, 1.0, NONE, 5.0];
    let weight = [1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 0.0, 1.0, 1.0];
    third(&month_index(&cost, &weight, 3, &one_farm_rules()));
    // The last farm reports only months in which nobody spent anything.
    let cost = [1.0, 2.0, NONE, NONE, 2.0, 4.0, NONE, NONE, NONE, NONE, 0.0, 0.0];
    third(&month_index(&cost, &[1.0; 12], 4, &one_farm_rules()));
}
