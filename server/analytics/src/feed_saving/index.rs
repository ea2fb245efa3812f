//! The month index: fitted, frozen at a close, or taken from earlier years.

use serde::Serialize;

use super::{Rules, SavingPanel};
use crate::season::SeasonIndex;

/// Months in a year.
const YEAR: usize = 12;
/// Year-to-year changes needed to judge how much the index moves from year to year.
const CHANGES_MIN: usize = 6;

/// Where a month's index comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum IndexSource {
    /// Farms without fodder in that month.
    Fitted,
    /// The same month of other years.
    FromEarlierYears,
    /// Nowhere: the month has no index.
    None,
}

pub(super) struct MonthIndex {
    pub value: Vec<Option<f64>>,
    /// The fitted index alone: residuals are taken from it.
    pub fitted: Vec<Option<f64>>,
    pub source: Vec<IndexSource>,
    pub year_variance: f64,
    pub is_any: bool,
    /// Cosine and sine of each month in the year.
    pub angle: Vec<(f64, f64)>,
}

impl MonthIndex {
    pub(super) fn new(panel: &SavingPanel, fit: &SeasonIndex, rules: &Rules) -> Self {
        let months = panel.months;
        let month_of_year =
            |t: usize| panel.month_of_year.map_or(t % YEAR, |m| m[t] as usize % YEAR);
        let frozen: Vec<Option<f64>> = (0..months)
            .map(|t| panel.frozen_index.and_then(|f| f[t]).filter(|m| m.is_finite() && *m > 0.0))
            .collect();
        let factor = frozen_factor(&frozen, &fit.index);
        let own: Vec<Option<f64>> = frozen
            .iter()
            .zip(&fit.index)
            .map(|(frozen, fitted)| frozen.or(fitted.map(|m| m * factor)))
            .collect();
        let is_enough = own.iter().flatten().count() >= YEAR;
        let mut value = own.clone();
        for t in (0..months).filter(|t| own[*t].is_none() && is_enough) {
            let same = (0..months).filter(|s| month_of_year(*s) == month_of_year(t));
            let logs: Vec<f64> = same.filter_map(|s| own[s]).map(f64::ln).collect();
            if !logs.is_empty() {
                value[t] = Some((logs.iter().sum::<f64>() / logs.len() as f64).exp());
            }
        }
        let source = value.iter().zip(&fit.index).map(|(value, fitted)| match (value, fitted) {
            (None, _) => IndexSource::None,
            (Some(_), Some(_)) => IndexSource::Fitted,
            (Some(_), None) => IndexSource::FromEarlierYears,
        });
        let angle = |t: usize| {
            let turn = std::f64::consts::TAU * month_of_year(t) as f64 / YEAR as f64;
            (turn.cos(), turn.sin())
        };
        Self {
            source: source.collect(),
            is_any: own.iter().any(Option::is_some),
            year_variance: year_variance(&fit.index, rules),
            fitted: fit.index.clone(),
            angle: (0..months).map(angle).collect(),
            value,
        }
    }
}

/// One factor that brings a later fit to the mean of the frozen months.
fn frozen_factor(frozen: &[Option<f64>], fitted: &[Option<f64>]) -> f64 {
    let both = frozen.iter().zip(fitted).filter_map(|(a, b)| a.zip(*b));
    let (frozen, fitted) = both.fold((0.0, 0.0), |sum, (a, b)| (sum.0 + a, sum.1 + b));
    if fitted > 0.0 { frozen / fitted } else { 1.0 }
}

/// Half the variance of year-to-year changes, but never under the house rule.
fn year_variance(fitted: &[Option<f64>], rules: &Rules) -> f64 {
    let least = rules.year_sd * rules.year_sd;
    let years = fitted.iter().zip(fitted.get(YEAR..).unwrap_or(&[]));
    let changes: Vec<f64> =
        years.filter_map(|(a, b)| a.zip(*b)).map(|(a, b)| b.ln() - a.ln()).collect();
    if changes.len() < CHANGES_MIN {
        return least;
    }
    let count = changes.len() as f64;
    let mean = changes.iter().sum::<f64>() / count;
    let variance = changes.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / count;
    least.max(variance / 2.0)
}
