//! Thresholds of the feed-cost saving, version 2, each with its unit.

/// Thresholds of the saving. [`Rules::default`] is the house rule.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rules {
    /// An interval longer than so many usual ones may hide a purchase.
    pub gap: f64,
    /// A rate below this share of the usual one, at such an interval, is a gap.
    pub low: f64,
    /// A rate over so many usual ones, or under one part in so many, is a slip in the kg.
    pub high: f64,
    /// A price over so many medians, or under one part in so many, is held.
    pub price: f64,
    /// Lots that one side of the start needs for a usual rate of its own.
    pub usual_min: usize,
    /// Lots of its side that the lot in use needs for a usual rate.
    pub open_min: usize,
    /// Share of the usual rate that a gap and its neighbour reach together when they are one lot.
    pub make_up: f64,
    /// Usual rates that such a neighbour exceeds alone.
    pub double: f64,
    /// Share of a month's animal-days that must be covered for the month to be known.
    pub cover_min: f64,
    /// Most of a month's animal-days fed from the lot in use at the start, before the start.
    pub mixed_before_max: f64,
    /// The same after the start.
    pub mixed_after_max: f64,
    /// Untreated farms that a month of the index needs.
    pub month_farms_min: usize,
    /// Months before the start that make the baseline.
    pub base_months_max: usize,
    /// Known months before the start that a bought baseline needs.
    pub base_months_min: usize,
    /// Farms having both purchases and a ration that the overstatement needs.
    pub ration_farms_min: usize,
    /// Relative error of a stated ration while the overstatement is unknown.
    pub ration_sd: f64,
    /// Prior degrees of freedom of a farm's own noise.
    pub prior_degrees: f64,
    /// Months apart that the variogram looks at, at most.
    pub lags_max: usize,
    /// Relative size of a season that was not removed.
    pub season_sd: f64,
    /// Relative error of an index taken from earlier years.
    pub year_sd: f64,
    /// Relative error of what is eaten from a lot not yet finished.
    pub open_cv: f64,
    /// Lots needed to ask whether a farm tops up.
    pub order_min: usize,
    /// How much steadier the rate must be for that reading to be taken.
    pub order: f64,
    /// How much the share of lots found as gaps widens the farm's noise.
    pub gap_widen: f64,
    /// Error of the sum for each unit of difference in that share, after less before.
    pub gap_bias: f64,
}

impl Default for Rules {
    fn default() -> Self {
        Self {
            gap: 1.5,
            low: 0.8,
            high: 3.0,
            price: 2.0,
            usual_min: 4,
            open_min: 2,
            make_up: 0.8,
            double: 1.5,
            cover_min: 0.75,
            mixed_before_max: 0.1,
            mixed_after_max: 0.5,
            month_farms_min: 6,
            base_months_max: 12,
            base_months_min: 3,
            ration_farms_min: 8,
            ration_sd: 0.25,
            prior_degrees: 4.0,
            lags_max: 6,
            season_sd: 0.085,
            year_sd: 0.04,
            open_cv: 0.15,
            order_min: 8,
            order: 0.8,
            gap_widen: 2.0,
            gap_bias: 0.08,
        }
    }
}
