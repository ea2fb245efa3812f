//! Feed prices where a farm gave none, and how dear every month was for everybody.

use crate::error::{ShapeError, check_length, check_limit};
use crate::limits::{AMOUNT_MAX, MONTHS_MAX, PRICE_AGE_MONTHS_MAX};
use crate::parallel::{map_chunks, map_items};
use crate::stats::median;

/// A price that can be right.
fn known(price: f64) -> Option<f64> {
    (0.0..=AMOUNT_MAX).contains(&price).then_some(price)
}

/// Fills missing prices: the farm's own, else the co-operative's median of the month, else the
/// last known one up to three months old (the newest month first; in it the farm's own before
/// the median), else still missing.
///
/// # Units
/// Money per unit of feed, one currency.
///
/// # Shape
/// `price[(farm * months + month) * feeds + feed]` in and out, not-a-number where not known.
/// Medians are over the prices farms gave, never over filled ones.
///
/// # Errors
/// `Length` when the prices do not fit, `TooMany` months.
///
/// # Source
/// SPEC C; the order inside a month is a house rule.
pub fn fill_prices(
    price: &[f64],
    farms: usize,
    months: usize,
    feeds: usize,
) -> Result<Vec<f64>, ShapeError> {
    check_limit("months", months, MONTHS_MAX)?;
    check_length("prices", price.len(), farms * months * feeds)?;
    let at = |farm: usize, column: usize| known(price[farm * months * feeds + column]);
    // One pass over the farms' rows a month: its prices lie beside each other.
    let of_month = |month: usize| {
        let mut given: Vec<Vec<f64>> = vec![Vec::with_capacity(farms); feeds];
        for farm in 0..farms {
            for (feed, given) in given.iter_mut().enumerate() {
                given.extend(at(farm, month * feeds + feed));
            }
        }
        given.iter_mut().map(|given| median(given)).collect::<Vec<Option<f64>>>()
    };
    let medians: Vec<Option<f64>> = map_items(months, of_month).concat();
    let fill = |farm: usize, column: usize| {
        let ages = 0..=PRICE_AGE_MONTHS_MAX;
        let mut columns = ages.map_while(|age| column.checked_sub(age * feeds));
        columns.find_map(|c| at(farm, c).or(medians[c])).unwrap_or(f64::NAN)
    };
    let rows = map_chunks(farms, |range| {
        let columns = |farm| (0..months * feeds).map(move |column| (farm, column));
        range.flat_map(columns).map(|(farm, column)| fill(farm, column)).collect::<Vec<_>>()
    });
    Ok(rows.concat())
}

/// Rules of the month index. [`IndexRules::default`] is the house rule.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IndexRules {
    /// Fewest untreated farms that report a month.
    pub controls_min: usize,
    /// Most sweeps.
    pub sweeps_max: usize,
    /// Largest change of an index at which the sweeps stop.
    pub tolerance: f64,
}

impl Default for IndexRules {
    fn default() -> Self {
        Self { controls_min: 5, sweeps_max: 500, tolerance: 1e-10 }
    }
}

/// How dear each month was against the mean month, from untreated farms.
///
/// Fits cost of a farm-month as weight times farm level times month index by iterative
/// proportional scaling, which is the two-way Poisson fit. Months need `controls_min` farms,
/// farms two months.
///
/// # Units
/// `cost` in money at constant prices per animal-day, `weight` in animal-days; index without
/// unit, mean 1 over the months it exists for.
///
/// # Shape
/// `farm * months + month` cells, not-a-number cost where not reported or treated. One index a
/// month; none where too few farms report or nothing was spent. Cost grows with sweeps times
/// cells.
///
/// # Source
/// Deming & Stephan 1940, Ann. Math. Stat. 11:427 (proportional scaling).
pub fn month_index(
    cost: &[f64],
    weight: &[f64],
    months: usize,
    rules: &IndexRules,
) -> Vec<Option<f64>> {
    let Some(table) = IndexTable::new(cost, weight, months, rules) else {
        return vec![None; months];
    };
    let mut index: Vec<f64> =
        table.is_kept.iter().map(|kept| if *kept { 1.0 } else { 0.0 }).collect();
    for _ in 0..rules.sweeps_max.min(10_000) {
        let next = table.sweep(&index);
        let change = next.iter().zip(&index).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        index = next;
        if change < rules.tolerance {
            break;
        }
    }
    // Months that are not kept hold 0, and sums too large for a double give no number.
    index.into_iter().map(|m| (m > 0.0).then_some(m)).collect()
}

struct IndexTable {
    months: usize,
    /// Weights row by row, 0 where not used.
    weight: Vec<f64>,
    row_total: Vec<f64>,
    column_total: Vec<f64>,
    is_kept: Vec<bool>,
}

impl IndexTable {
    fn new(cost: &[f64], weight: &[f64], months: usize, rules: &IndexRules) -> Option<Self> {
        if months == 0 || cost.len() != weight.len() {
            return None;
        }
        let farms = cost.len() / months;
        let mut reporting = vec![0_usize; months];
        for row in cost.chunks_exact(months) {
            let marks = reporting.iter_mut().zip(row);
            marks.for_each(|(n, c)| *n += usize::from(!c.is_nan()));
        }
        let has_controls: Vec<bool> = reporting.iter().map(|n| *n >= rules.controls_min).collect();
        let mut table = Self {
            months,
            weight: Vec::with_capacity(farms * months),
            row_total: Vec::with_capacity(farms),
            column_total: vec![0.0; months],
            is_kept: Vec::new(),
        };
        for (costs, weights) in cost.chunks_exact(months).zip(weight.chunks_exact(months)) {
            table.add_farm(costs, weights, &has_controls);
        }
        let kept = has_controls.iter().zip(&table.column_total).map(|(c, x)| *c && *x > 0.0);
        table.is_kept = kept.collect();
        table.is_kept.contains(&true).then_some(table)
    }

    fn add_farm(&mut self, costs: &[f64], weights: &[f64], has_controls: &[bool]) {
        let used = |t: usize| has_controls[t] && !costs[t].is_nan() && weights[t] > 0.0;
        if (0..self.months).filter(|t| used(*t)).count() < 2 {
            return;
        }
        let mut total = 0.0;
        for t in 0..self.months {
            let w = if used(t) { weights[t] } else { 0.0 };
            let x = if used(t) { costs[t] * w } else { 0.0 };
            self.weight.push(w);
            self.column_total[t] += x;
            total += x;
        }
        self.row_total.push(total);
    }

    /// Farm levels from the index, then the index from farm levels, scaled to mean 1.
    fn sweep(&self, index: &[f64]) -> Vec<f64> {
        let months = self.months;
        let parts = map_chunks(self.row_total.len(), |farms| {
            let mut sums = vec![0.0; months];
            for farm in farms {
                let row = &self.weight[farm * months..(farm + 1) * months];
                let expected: f64 = row.iter().zip(index).map(|(w, m)| w * m).sum();
                if expected > 0.0 {
                    let level = self.row_total[farm] / expected;
                    sums.iter_mut().zip(row).for_each(|(s, w)| *s += level * w);
                }
            }
            sums
        });
        let mut expected = vec![0.0; months];
        for part in parts {
            expected.iter_mut().zip(part).for_each(|(a, b)| *a += b);
        }
        let scaled = |t: usize| {
            // Something was spent in a kept month, so that something is expected in it.
            if self.is_kept[t] { self.column_total[t] / expected[t] } else { 0.0 }
        };
        let raw: Vec<f64> = (0..months).map(scaled).collect();
        let count = self.is_kept.iter().filter(|kept| **kept).count() as f64;
        let mean = raw.iter().sum::<f64>() / count;
        raw.into_iter().map(|m| m / mean).collect()
    }
}
