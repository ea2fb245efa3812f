//! What was saved on feed, version 2: what the same animals would have eaten, less what they ate.
//!
//! One estimator serves the month, the months since the start, the farm, the area and the
//! co-operative. A panel holds one enterprise (cows, hens): animal-days are never added over
//! enterprises, money is.

mod baseline;
mod index;
mod numbers;
mod panel;
mod ration;
mod total;

use nalgebra::DMatrix;
use serde::Serialize;

pub use crate::feed_rules::Rules;
pub use baseline::lasting_square;
pub use index::IndexSource;
pub use panel::{FrozenBaseline, SavingPanel};
pub use ration::{RationMix, mix_ration};
pub use total::{Months, SUM_CRITICAL, Total};

use crate::error::ShapeError;
use crate::season::{SeasonIndex, season_index};
use crate::stats::{Interval, finite};
use baseline::Weights;
use index::MonthIndex;
use ration::Ground;

/// Why a farm has a baseline or has none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum BaselineStatus {
    /// The farm has not started.
    NotStarted,
    /// There is a baseline, but no known month after the start.
    NoMonths,
    /// Too few known months before the start, and no stated ration.
    NoBaseline,
    /// The stated ration alone is the baseline.
    RationOnly,
    /// Purchases are the baseline, together with the stated ration where there is one.
    Ok,
}

/// One farm's baseline.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FarmBaseline {
    /// Whether there is a baseline.
    pub status: BaselineStatus,
    /// Whether the season is taken out.
    pub is_adjusted: bool,
    /// Money for each animal-day at reference prices and index 1.
    pub level: Option<f64>,
    /// Weight of the stated ration, 0 to 1.
    pub ration_weight: f64,
    /// Relative variance of a month of this farm.
    pub variance: f64,
    /// Degrees of freedom of its intervals.
    pub degrees_of_freedom: f64,
    /// Point of Student's t at them, for two-sided 95 % intervals.
    pub critical: f64,
    /// Known months before the start that make the baseline.
    pub months: usize,
    /// Known months after the start.
    pub months_after: usize,
    /// Logarithm of the stated ration over what was bought; none without both.
    pub ration_difference: Option<f64>,
    /// Part by which the stated ration differs, where it differs clearly: 0.2 is 20 % more.
    pub ration_finding: Option<f64>,
}

/// One farm's number in one month.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SavingCell {
    /// Money the same animals would have eaten without fodder, at this month's prices.
    pub baseline: f64,
    /// Money eaten.
    pub eaten: f64,
    /// Feed saving: `baseline - eaten`.
    pub saving: f64,
    /// Standard error of the saving.
    pub standard_error: f64,
    /// 95 % interval of the saving.
    pub interval: Interval,
}

/// What all farms of the panel share.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Shared {
    /// Index of each month; none when it lacks.
    pub index: Vec<Option<f64>>,
    /// Where each month's index comes from.
    pub source: Vec<IndexSource>,
    /// Reference price of each feed: the median over known cells.
    pub price_reference: Vec<f64>,
    /// Logarithm by which stated rations are too large; 0 while unknown.
    pub overstatement: f64,
    /// Its standard error; none while unknown.
    pub overstatement_error: Option<f64>,
    /// Whether rations of the co-operative are clearly overstated or understated.
    pub is_ration_off: bool,
    /// Variance of the logarithm of one farm's stated ration.
    pub ration_variance: f64,
    /// Farms having both purchases and a ration.
    pub farms_with_both: usize,
    /// Relative variance of a month.
    pub variance: f64,
    /// Part of it that passes from month to month.
    pub lasting_share: f64,
    /// Correlation of that part from one month to the next.
    pub correlation: f64,
    /// Relative variance that farms of one area share in a month.
    pub area_variance: f64,
    /// Variance of an index taken from earlier years.
    pub year_variance: f64,
    /// Variance of a sum, relative to its baseline, for gaps nobody found.
    pub gap_variance: f64,
}

/// Savings of one enterprise.
#[derive(Debug, Clone, PartialEq)]
pub struct FeedSavings {
    /// One row a farm, in the panel's order.
    pub farms: Vec<FarmBaseline>,
    /// What they share.
    pub shared: Shared,
    rules: Rules,
    feeds: usize,
    months: usize,
    start: Vec<Option<u32>>,
    area: Option<Vec<u32>>,
    /// Angle of each month in the year: cosine and sine.
    angle: Vec<(f64, f64)>,
    basket: Vec<f64>,
    weights: Weights,
    /// Whether the overstatement rests on the farm.
    is_used: Vec<bool>,
    /// Money, farms x months; not a number without a number.
    base: Vec<f64>,
    eaten: Vec<f64>,
    /// Standard error of what was eaten, from lots in use.
    open: Vec<f64>,
    error: Vec<f64>,
    fit: SeasonIndex,
    covariance: DMatrix<f64>,
}

/// Savings of one enterprise.
///
/// The baseline of a farm is what it bought in the twelve months before its start, freed of the
/// season and weighed against its stated ration, freed of what rations are overstated by.
///
/// # Units
/// kg, money, animal-days; relative variances.
///
/// # Shape
/// An error names the slice that does not fit. Whatever lacks a number has none.
///
/// # Source
/// SPEC C2-C5; CIMMYT 1988 (partial budgets); Cochran 1977 (ratio estimator); Smyth 2004
/// (moderated variances).
pub fn feed_saving(panel: &SavingPanel, rules: &Rules) -> Result<FeedSavings, ShapeError> {
    panel.check()?;
    let prices = panel.price_reference();
    let cells = panel.cells(&prices, rules);
    let fit = season_index(&cells.cost, &cells.untreated(), panel.months, rules.month_farms_min);
    let index = MonthIndex::new(panel, &fit, rules);
    let bought = baseline::bought(panel, &cells, &index);
    let noise = baseline::noise(panel, &bought.residual, &fit, rules);
    let area_variance = baseline::area_variance(panel, &bought.residual);
    let mut farms = baseline::farms(panel, &bought, &noise, rules);
    let mut basket = bought.basket;
    let ground = Ground { panel, index: &index, prices: &prices, noise: &noise, rules };
    let stated = ration::weigh(&ground, &bought.weights, &mut farms, &mut basket);
    let weights = ration::freeze(panel, &prices, &mut farms, &mut basket, &bought.weights);
    let covariance = fit.covariance();
    let mut savings = FeedSavings {
        farms,
        rules: *rules,
        feeds: panel.feeds,
        months: panel.months,
        start: panel.start.to_vec(),
        area: panel.area.map(<[u32]>::to_vec),
        angle: index.angle.clone(),
        basket,
        weights,
        is_used: stated.is_used,
        base: Vec::new(),
        eaten: Vec::new(),
        open: Vec::new(),
        error: Vec::new(),
        fit,
        covariance,
        shared: Shared {
            index: index.value,
            source: index.source,
            price_reference: prices,
            overstatement: stated.overstatement,
            overstatement_error: finite(stated.overstatement_error),
            is_ration_off: stated.is_ration_off,
            ration_variance: stated.variance,
            farms_with_both: stated.farms_with_both,
            variance: noise.variance,
            lasting_share: noise.lasting_share,
            correlation: noise.correlation,
            area_variance,
            year_variance: index.year_variance,
            gap_variance: baseline::gap_variance(panel, rules),
        },
    };
    numbers::fill(&mut savings, panel, &cells);
    Ok(savings)
}
