//! Records, stages and prices at the edges of their rules.

#![expect(clippy::float_cmp, reason = "these values are exact in binary")]

use traybook_analytics::error::ShapeError;
use traybook_analytics::limits::{COVARIATES_MAX, MONTHS_MAX};
use traybook_analytics::panel::Panel;
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
