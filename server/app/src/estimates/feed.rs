//! What was saved on feed since the start, and how sure a farm's saving of a month is.
//!
//! Here the baseline is what the farm bought per animal-day in the months before its start; the
//! monthly report rests on the ration recorded at enrolment. The report's uncertainty is that of its baseline: what the farm's feed cost per animal-day
//! scattered before the start (relative variance, moderated over farms). The report applies it to
//! the baseline it shows, which rests on the recorded ration.

use super::{Estimates, put, real, rests_on, version};
use crate::error::AppError;
use std::collections::HashMap;
use std::sync::Arc;
use traybook_analytics::feed_panel::{FeedPanel, FeedSlices};
use traybook_analytics::prices::fill_prices;
use traybook_analytics::saving::{FarmAnswer, SavingRules, Savings, feed_saving};
use traybook_analytics::stats::student_t_critical_95;
use traybook_domain::herd::{HerdMonth, animal_days};
use traybook_domain::{Kind, Month};
use traybook_reports::savings::depreciation;
use traybook_storage::{Conn, estimate_rows, report_rows};
use uuid::Uuid;

/// The estimate of every farm.
pub(super) struct FeedSavings {
    /// Farms, in the order of the answers.
    pub farms: Vec<report_rows::FarmRow>,
    /// First month of the panel.
    pub first: Option<Month>,
    /// Whether each farm's output is milk (else eggs).
    pub is_milk: Vec<bool>,
    /// The answers.
    pub savings: Option<Savings>,
}

/// The estimate for half widths alone, which milk and eggs do not move.
struct Widths(Arc<FeedSavings>);

/// The farms' half widths of the 95 % interval in one month, as shares of the baseline.
pub(super) fn half_widths(
    conn: &mut Conn,
    kept: &Estimates,
    coop: i64,
    today: chrono::NaiveDate,
    month: Month,
) -> Result<Vec<(Uuid, f64)>, AppError> {
    let version = version(conn, coop, today)?;
    let key = (coop, "half widths");
    let made =
        kept.follow(conn, key, version, COSTS, |conn| get(conn, kept, coop, today).map(Widths))?;
    let made = &made.0;
    let (Some(first), Some(savings)) = (made.first, &made.savings) else { return Ok(Vec::new()) };
    let at = usize::try_from(month.number() - first.number()).ok();
    let width = |(farm, answer): (&report_rows::FarmRow, &FarmAnswer)| {
        let saving = answer.saving.as_ref()?;
        let month = saving.months.iter().find(|m| Some(m.month) == at)?;
        let share = month.standard_error_per_day? / month.counterfactual_per_day;
        let width = student_t_critical_95(saving.degrees_of_freedom) * share;
        width.is_finite().then_some((farm.farm, width))
    };
    Ok(made.farms.iter().zip(&savings.farms).filter_map(width).collect())
}

/// What costs and animal-days rest on.
const COSTS: &[Kind] = rests_on!(
    HeadCount,
    Feed,
    FeedPurchase,
    OtherCost,
    Asset,
    Batch,
    BatchEvent,
    SeedLot,
    SeedPurchase,
    SeedIssue
);
/// The same with output, over which savings are divided.
const COSTS_AND_OUTPUT: &[Kind] = rests_on!(
    HeadCount,
    Feed,
    FeedPurchase,
    OtherCost,
    Asset,
    Batch,
    BatchEvent,
    SeedLot,
    SeedPurchase,
    SeedIssue,
    MilkRecord,
    EggRecord
);

/// The estimate as kept, or made now.
pub(super) fn get(
    conn: &mut Conn,
    kept: &Estimates,
    coop: i64,
    today: chrono::NaiveDate,
) -> Result<Arc<FeedSavings>, AppError> {
    let version = version(conn, coop, today)?;
    kept.follow(conn, (coop, "feed"), version, COSTS_AND_OUTPUT, |conn| make(conn, coop))
}

fn make(conn: &mut Conn, coop: i64) -> Result<FeedSavings, AppError> {
    let cells = estimate_rows::feed_cells(conn, coop)?;
    let farms = report_rows::farms(conn, coop)?;
    let months = cells.iter().map(|c| c.month);
    let Some((first, last)) = months.clone().min().zip(months.max()) else {
        let is_milk = vec![true; farms.len()];
        return Ok(FeedSavings { farms, first: None, is_milk, savings: None });
    };
    let count = usize::try_from(last.number() - first.number() + 1).unwrap_or(0);
    let index: HashMap<Uuid, usize> = farms.iter().enumerate().map(|(i, f)| (f.farm, i)).collect();
    let grid = Grid { index, first, count };
    let mut feeds: Vec<Uuid> = cells.iter().map(|c| c.feed).collect();
    feeds.sort_unstable();
    feeds.dedup();
    let (quantity, price) = grid.feeds(&cells, &feeds)?;
    let days = grid.animal_days(conn, coop)?;
    let other = grid.other_costs(conn, coop, &farms)?;
    let (output, is_milk) = grid.output(conn, coop)?;
    let start: Vec<Option<u32>> = farms.iter().map(|f| start(f, first, last)).collect();
    let slices = FeedSlices {
        quantity: &quantity,
        price: &price,
        other_cost: &other,
        animal_days: &days,
        output: &output,
        start: &start,
    };
    let panel = FeedPanel::new(count, feeds.len(), slices)
        .map_err(|e| AppError::Internal(e.to_string()))?;
    let savings = feed_saving(&panel, &SavingRules::default());
    Ok(FeedSavings { farms, first: Some(first), is_milk, savings: Some(savings) })
}

/// Farms × months.
struct Grid {
    index: HashMap<Uuid, usize>,
    first: Month,
    count: usize,
}

impl Grid {
    fn size(&self) -> usize {
        self.index.len() * self.count
    }

    fn cell(&self, farm: Uuid, month: Month) -> Option<usize> {
        let month = usize::try_from(month.number() - self.first.number()).ok()?;
        (month < self.count).then_some(self.index.get(&farm)? * self.count + month)
    }

    /// Quantities (kg) and prices (minor units a kg) of the feeds.
    fn feeds(
        &self,
        cells: &[estimate_rows::FeedCell],
        feeds: &[Uuid],
    ) -> Result<(Vec<f64>, Vec<f64>), AppError> {
        let mut quantity = vec![f64::NAN; self.size() * feeds.len()];
        let mut price = vec![f64::NAN; self.size() * feeds.len()];
        for cell in cells {
            let Some(at) = self.cell(cell.farm, cell.month).map(|c| c * feeds.len()) else {
                continue;
            };
            // A month with any feed record is known: what was not bought is 0.
            for slot in quantity.iter_mut().skip(at).take(feeds.len()).filter(|q| q.is_nan()) {
                *slot = 0.0;
            }
            let feed = feeds.binary_search(&cell.feed).unwrap_or(0);
            put(&mut quantity, at + feed, real(cell.grams) / 1000.0);
            if cell.grams > 0 {
                put(&mut price, at + feed, real(cell.cost_minor) * 1000.0 / real(cell.grams));
            }
        }
        let mut price = fill_prices(&price, self.index.len(), self.count, feeds.len())
            .map_err(|e| AppError::Internal(e.to_string()))?;
        price_unused(&mut price, &quantity, feeds.len());
        Ok((quantity, price))
    }

    fn animal_days(&self, conn: &mut Conn, coop: i64) -> Result<Vec<f64>, AppError> {
        let mut groups: HashMap<(Uuid, Uuid), Vec<HerdMonth>> = HashMap::new();
        for (farm, group, herd) in estimate_rows::herds(conn, coop)? {
            groups.entry((farm, group)).or_default().push(herd);
        }
        let mut days = vec![f64::NAN; self.size()];
        for ((farm, _), herd) in groups {
            for month in 0..self.count {
                let at = self.first.plus(i32::try_from(month).unwrap_or(0));
                let latest = herd.iter().rev().find(|h| h.month <= at).copied();
                let known = animal_days(latest, at);
                let cell = self.cell(farm, at).and_then(|c| days.get_mut(c));
                if let (Some(known), Some(slot)) = (known, cell) {
                    *slot = if slot.is_nan() { real(known) } else { *slot + real(known) };
                }
            }
        }
        Ok(days)
    }

    /// Seed, other costs and depreciation, minor units.
    fn other_costs(
        &self,
        conn: &mut Conn,
        coop: i64,
        farms: &[report_rows::FarmRow],
    ) -> Result<Vec<f64>, AppError> {
        let mut costs = vec![0.0; self.size()];
        let mut add = |farm, month, minor: i64| {
            if let Some(slot) = self.cell(farm, month).and_then(|c| costs.get_mut(c)) {
                *slot += real(minor);
            }
        };
        for row in report_rows::seed(conn, coop, None, None)? {
            add(row.farm, row.month, row.cost().unwrap_or(0));
        }
        for cell in estimate_rows::cost_cells(conn, coop)? {
            add(cell.farm, cell.month, cell.other_minor);
        }
        let last = self.first.plus(i32::try_from(self.count).unwrap_or(1) - 1);
        for a in report_rows::assets(conn, coop, last, None)? {
            let (from, until) = (Month::of(a.in_service_on), a.disposed_on.map(Month::of));
            let months = 0..i32::try_from(self.count).unwrap_or(0);
            for month in months.map(|m| self.first.plus(m)) {
                add(a.farm, month, depreciation(month, from, until, a.value, a.life_months));
            }
        }
        // Costs before the start are not those of fodder.
        for (farm, row) in farms.iter().zip(costs.chunks_mut(self.count.max(1))) {
            let months = 0..i32::try_from(self.count).unwrap_or(0);
            for (slot, month) in row.iter_mut().zip(months.map(|m| self.first.plus(m))) {
                if farm.started_on.is_none_or(|d| Month::of(d) > month) {
                    *slot = 0.0;
                }
            }
        }
        Ok(costs)
    }

    /// Litres, or eggs on farms without milk.
    fn output(&self, conn: &mut Conn, coop: i64) -> Result<(Vec<f64>, Vec<bool>), AppError> {
        let cells = estimate_rows::cost_cells(conn, coop)?;
        let mut is_milk = vec![false; self.index.len()];
        for cell in cells.iter().filter(|c| c.milk.1) {
            if let Some(slot) = self.index.get(&cell.farm).and_then(|f| is_milk.get_mut(*f)) {
                *slot = true;
            }
        }
        let mut output = vec![f64::NAN; self.size()];
        for cell in &cells {
            let milk = self.index.get(&cell.farm).and_then(|f| is_milk.get(*f)) == Some(&true);
            let (amount, known) = if milk { cell.milk } else { cell.eggs };
            let unit = if milk { 1000.0 } else { 1.0 };
            if let (true, Some(at)) = (known, self.cell(cell.farm, cell.month)) {
                put(&mut output, at, real(amount) / unit);
            }
        }
        Ok((output, is_milk))
    }
}

/// A feed that a farm does not use needs some price, which then weighs nothing.
fn price_unused(price: &mut [f64], quantity: &[f64], feeds: usize) {
    for feed in 0..feeds {
        let mut known: Vec<f64> =
            price.iter().skip(feed).step_by(feeds).copied().filter(|p| p.is_finite()).collect();
        known.sort_by(f64::total_cmp);
        let Some(middle) = known.get(known.len() / 2).copied() else { continue };
        let cells = price.iter_mut().zip(quantity).skip(feed).step_by(feeds);
        for (slot, _) in cells.filter(|(p, q)| p.is_nan() && **q <= 0.0) {
            *slot = middle;
        }
    }
}

fn start(farm: &report_rows::FarmRow, first: Month, last: Month) -> Option<u32> {
    let month = Month::of(farm.started_on?);
    if month > last {
        return None;
    }
    Some(u32::try_from(month.number() - first.number()).unwrap_or(0))
}
