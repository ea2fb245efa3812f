//! The pooled error model: sums by hand, and what units must not change.

#![expect(clippy::unwrap_used, reason = "a test stops at the first thing that is not there")]
#![expect(clippy::float_cmp, reason = "powers of two change no digit")]

use crate::made_up::Herds;
use traybook_analytics::errors::pooled_errors;
use traybook_analytics::panel::{Panel, fit_untreated};
use traybook_analytics::variance::ErrorModel;

/// Two months; each kind of farm has half squared differences of `half_square` and `n` records
/// a month, one farm going up and one going down, so that the month itself has no effect.
fn of_two_kinds(kinds: [(f64, f64); 2]) -> ErrorModel {
    let (mut y, mut records) = (Vec::new(), Vec::new());
    for (half_square, n) in kinds {
        let step = f64::sqrt(2.0 * half_square);
        y.extend([1.0, 1.0 + step, 2.0, 2.0 - step]);
        records.extend([n; 4]);
    }
    let panel = Panel::new(2, &y, &records, &[None; 4], None).unwrap();
    pooled_errors(&panel, &fit_untreated(&panel, 0.0)).model
}

fn close(found: &ErrorModel, month: f64, record: f64) {
    assert!((found.month_variance - month).abs() < 1e-12, "{found:?}");
    assert!((found.record_variance - record).abs() < 1e-12, "{found:?}");
    // One lag fits any correlation equally well: the first is taken.
    assert_eq!(found.correlation, 0.0);
}

/// [ARITH] half squared differences are `u + e / n` with 1 and 4 records. 0.02 and 0.01 are met
/// by `e = 0.01 / 0.75` and `u = 0.02 - e`. 0.02 and 0.002 ask for `u` below 0: records alone,
/// `e = (0.02 + 0.002 / 4) / (1 + 1 / 16)`. 0.01 and 0.02 ask for `e` below 0: months alone.
#[test]
fn error_model_meets_sums_by_hand() {
    let both = of_two_kinds([(0.02, 1.0), (0.01, 4.0)]);
    close(&both, 0.02 - 0.04 / 3.0, 0.04 / 3.0);
    let records_alone = of_two_kinds([(0.02, 1.0), (0.002, 4.0)]);
    close(&records_alone, 0.0, 0.020_5 / 1.062_5);
    let months_alone = of_two_kinds([(0.01, 1.0), (0.02, 4.0)]);
    close(&months_alone, 0.015, 0.0);
}

/// The smallest sum of squares wins by what it is of itself, not by its size.
#[test]
fn error_model_does_not_depend_on_the_size_of_changes() {
    let herds = Herds::new(11, 60, 24);
    let of = |scale: f64| {
        let y: Vec<f64> = herds.log_output.iter().map(|y| y * scale).collect();
        let panel = Panel::new(24, &y, &herds.records, &herds.start, None).unwrap();
        pooled_errors(&panel, &fit_untreated(&panel, 4.0)).model
    };
    let (plain, small) = (of(1.0), of(1.0 / 128.0));
    assert!(plain.correlation > 0.0 && plain.month_variance > 0.0, "{plain:?}");
    assert_eq!(small.correlation, plain.correlation);
    assert_eq!(small.month_variance * 16_384.0, plain.month_variance);
    assert_eq!(small.record_variance * 16_384.0, plain.record_variance);
}

/// Records counted in other units carry as much more variance each, and nothing else changes.
#[test]
fn error_model_does_not_depend_on_the_unit_of_records() {
    let herds = Herds::new(12, 60, 24);
    let of = |scale: f64| {
        let records: Vec<f64> = herds.records.iter().map(|n| n * scale).collect();
        let panel = Panel::new(24, &herds.log_output, &records, &herds.start, None).unwrap();
        pooled_errors(&panel, &fit_untreated(&panel, 0.0)).model
    };
    let (plain, many) = (of(1.0), of(1_048_576.0));
    assert!(plain.month_variance > 0.0 && plain.record_variance > 0.0, "{plain:?}");
    assert_eq!(many.correlation, plain.correlation);
    assert_eq!(many.month_variance, plain.month_variance);
    assert_eq!(many.record_variance, plain.record_variance * 1_048_576.0);
}
