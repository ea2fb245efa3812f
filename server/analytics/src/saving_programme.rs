//! What the whole programme saved: the ratio of savings to animal-days, carried to all farms.

use serde::Serialize;

use crate::feed_panel::FeedPanel;
use crate::limits::AMOUNT_MAX;
use crate::saving::{FarmAnswer, FarmSaving};
use crate::stats::{Interval, student_t_critical_95};

/// The programme's saving.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ProgrammeSaving {
    /// Saving per animal-day over estimated farms.
    pub per_day: f64,
    /// Standard error of `per_day`, by farm.
    pub per_day_standard_error: f64,
    /// 95 % interval of `per_day`.
    pub per_day_interval: Interval,
    /// Money saved by estimated farms.
    pub sample_total: f64,
    /// Animal-days of all started farms after their start.
    pub animal_days: f64,
    /// `per_day` times `animal_days`.
    pub total: f64,
    /// Standard error of `total`.
    pub total_standard_error: f64,
    /// 95 % interval of `total`.
    pub total_interval: Interval,
    /// Estimated farms.
    pub farms: usize,
}

/// Ratio of all savings to all animal-days, applied to every started farm's animal-days.
///
/// # Units
/// Money in the panel's currency, animal-days.
///
/// # Shape
/// None under two estimated farms. The interval is Student's t with farms less 1.
///
/// # Source
/// Cochran 1977, Sampling Techniques, ch. 6 (ratio estimator, clustered by farm).
pub fn programme_saving(panel: &FeedPanel, farms: &[FarmAnswer]) -> Option<ProgrammeSaving> {
    let savings = || farms.iter().filter_map(|f| f.saving.as_ref());
    let count = savings().count();
    if count < 2 {
        return None;
    }
    let sample_total: f64 = savings().map(|s| s.total.value).sum();
    let sample_days: f64 = savings().map(|s| s.animal_days).sum();
    let per_day = sample_total / sample_days;
    let deviation = |s: &FarmSaving| (s.total.value - per_day * s.animal_days).powi(2);
    let square: f64 = savings().map(deviation).sum();
    let factor = count as f64 / (count as f64 - 1.0);
    let error = (factor * square).sqrt() / sample_days;
    let mut animal_days = 0.0;
    for farm in 0..panel.farms() {
        let cells = panel.months_after(farm).map(|t| panel.animal_days[farm * panel.months + t]);
        animal_days += cells.filter(|n| n.abs() <= AMOUNT_MAX).sum::<f64>();
    }
    let critical = student_t_critical_95(count as f64 - 1.0);
    let total = per_day * animal_days;
    let total_error = error * animal_days;
    Some(ProgrammeSaving {
        per_day,
        per_day_standard_error: error,
        per_day_interval: Interval::around(per_day, critical * error),
        sample_total,
        animal_days,
        total,
        total_standard_error: total_error,
        total_interval: Interval::around(total, critical * total_error),
        farms: count,
    })
}
