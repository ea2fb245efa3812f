//! What was saved on feed since the start, and how sure a farm's saving of a month is.
//!
//! Here the baseline is what the farm bought per animal-day in the months before its start. The
//! monthly report uses the ration recorded at enrolment instead; it takes from here how the feed
//! cost per animal-day scattered before the start, as a share of its own baseline.

use super::figures::HalfWidths;
use super::{put, real};
use crate::error::AppError;
use std::collections::HashMap;
use std::sync::Arc;
use traybook_analytics::feed_panel::{FeedPanel, FeedSlices};
use traybook_analytics::prices::fill_prices;
use traybook_analytics::saving::{FarmAnswer, SavingRules, Savings, feed_saving};
use traybook_analytics::stats::CriticalPoints;
use traybook_answers::wire;
use traybook_domain::Month;
use traybook_domain::herd::{HerdMonth, animal_days};
use traybook_reports::savings::depreciation;
use traybook_storage::estimate_rows::{self, FeedCell};
use traybook_storage::farm_rows::FarmRow;
use traybook_storage::{Conn, report_rows};
use uuid::Uuid;

/// The estimate of every farm.
#[derive(Default)]
pub(super) struct FeedSavings {
    /// First month in which any farm bought feed.
    pub first: Option<Month>,
    /// The answers; none without any feed bought.
    pub savings: Option<Savings>,
    /// Whether each farm's output is milk (else eggs), in the order of the farms.
    pub is_milk: Vec<bool>,
}

impl FeedSavings {
    /// Of these farms, from everything recorded.
    ///
    /// # Errors
    /// Those of the store.
    pub fn make(conn: &mut Conn, coop: i64, farms: &[Arc<FarmRow>]) -> Result<Self, AppError> {
        let Some(grid) = Grid::read(conn, coop, farms)? else { return Ok(Self::default()) };
        let savings = grid.savings()?;
        Ok(Self { first: Some(grid.first), savings: Some(savings), is_milk: grid.is_milk })
    }

    /// The half widths of a farm's 95 % intervals by month, as shares of the baseline.
    pub fn half_widths(
        &self,
        answer: &FarmAnswer,
        critical: &mut CriticalPoints,
    ) -> Option<HalfWidths> {
        let saving = answer.saving.as_ref()?;
        let mut shares: Vec<Option<f64>> = Vec::new();
        for m in &saving.months {
            let width = m.standard_error_per_day.map(|error| {
                critical.at(saving.degrees_of_freedom) * (error / m.counterfactual_per_day)
            });
            shares.resize(shares.len().max(m.month + 1), None);
            if let Some(slot) = shares.get_mut(m.month) {
                *slot = width.filter(|w| w.is_finite());
            }
        }
        let skip = shares.iter().take_while(|s| s.is_none()).count();
        let first = self.first?.plus(i32::try_from(skip).ok()?);
        shares.drain(..skip);
        (!shares.is_empty()).then_some(HalfWidths { first: wire::Month(first), shares })
    }
}

/// What the farms bought, paid, kept and gave, farms × months (× feeds); NaN where it is not known.
struct Grid {
    index: HashMap<Uuid, usize>,
    first: Month,
    count: usize,
    feeds: Vec<Uuid>,
    /// Month of the first soak as a month of the grid; none when it has not come.
    start: Vec<Option<u32>>,
    bought: Bought,
    days: Vec<f64>,
    /// Seed, other costs and depreciation since the start, minor units.
    other: Vec<f64>,
    /// Litres, or eggs on farms without milk.
    output: Vec<f64>,
    is_milk: Vec<bool>,
}

/// What was bought, farms × months × feeds.
struct Bought {
    /// kg.
    quantity: Vec<f64>,
    /// Minor units a kg, as paid.
    price: Vec<f64>,
    /// The same where every feed that was used has a price, if there is one to be had.
    filled: Vec<f64>,
}

/// What a record says of its cell: kg, and minor units a kg where any were bought.
fn of_cell(cell: &FeedCell) -> (f64, f64) {
    let has_price = cell.grams > 0;
    let price = || real(cell.cost_minor) * 1000.0 / real(cell.grams);
    (real(cell.grams) / 1000.0, if has_price { price() } else { f64::NAN })
}

impl Grid {
    /// All farms, from the first month in which any bought feed to the last; none where none did.
    fn read(conn: &mut Conn, coop: i64, farms: &[Arc<FarmRow>]) -> Result<Option<Self>, AppError> {
        let index: HashMap<Uuid, usize> =
            farms.iter().enumerate().map(|(i, f)| (f.farm, i)).collect();
        let mut cells = estimate_rows::feed_cells(conn, coop, None)?;
        // A withdrawn farm is no row.
        cells.retain(|c| index.contains_key(&c.farm));
        let months = cells.iter().map(|c| c.month);
        let Some((first, last)) = months.clone().min().zip(months.max()) else { return Ok(None) };
        let count = usize::try_from(last.number() - first.number() + 1).unwrap_or(0);
        let mut feeds: Vec<Uuid> = cells.iter().map(|c| c.feed).collect();
        feeds.sort_unstable();
        feeds.dedup();
        let (size, of_feeds) = (farms.len() * count, farms.len() * count * feeds.len());
        let mut grid = Self {
            index,
            first,
            count,
            feeds,
            start: farms.iter().map(|f| start(f, first, last)).collect(),
            bought: Bought {
                quantity: vec![f64::NAN; of_feeds],
                price: vec![f64::NAN; of_feeds],
                filled: Vec::new(),
            },
            days: vec![f64::NAN; size],
            other: vec![0.0; size],
            output: vec![f64::NAN; size],
            is_milk: vec![false; farms.len()],
        };
        grid.put_feeds(&cells);
        grid.fill_prices()?;
        grid.put_rest(conn, coop, farms)?;
        Ok(Some(grid))
    }

    /// The place of what was bought; none where the month or the feed has none.
    fn feed_cell(&self, cell: &FeedCell) -> Option<usize> {
        let feed = self.feeds.binary_search(&cell.feed).ok()?;
        Some(self.cell(cell.farm, cell.month)? * self.feeds.len() + feed)
    }

    fn cell(&self, farm: Uuid, month: Month) -> Option<usize> {
        let month = usize::try_from(month.number() - self.first.number()).ok()?;
        (month < self.count).then_some(self.index.get(&farm)? * self.count + month)
    }

    /// The month at a position.
    fn month(&self, at: usize) -> Month {
        self.first.plus(i32::try_from(at).unwrap_or(0))
    }

    /// Puts in what was bought.
    fn put_feeds(&mut self, cells: &[FeedCell]) {
        let feeds = self.feeds.len();
        for cell in cells {
            let Some(at) = self.feed_cell(cell) else { continue };
            let bought = &mut self.bought;
            // A month with any feed record is known: what was not bought is 0.
            let month = at - at.checked_rem(feeds).unwrap_or(0);
            let slots = bought.quantity.iter_mut().skip(month).take(feeds);
            slots.filter(|q| q.is_nan()).for_each(|q| *q = 0.0);
            let (quantity, price) = of_cell(cell);
            put(&mut bought.quantity, at, quantity);
            put(&mut bought.price, at, price);
        }
    }

    /// Gives every feed that was used a price.
    fn fill_prices(&mut self) -> Result<(), AppError> {
        let (farms, feeds) = (self.index.len(), self.feeds.len());
        let bought = &mut self.bought;
        bought.filled = fill_prices(&bought.price, farms, self.count, feeds)
            .map_err(|e| AppError::Internal(e.to_string()))?;
        price_unused(&mut bought.filled, &bought.quantity, feeds);
        Ok(())
    }

    /// Everything but feed.
    fn put_rest(
        &mut self,
        conn: &mut Conn,
        coop: i64,
        farms: &[Arc<FarmRow>],
    ) -> Result<(), AppError> {
        let mut groups: HashMap<(Uuid, Uuid), Vec<HerdMonth>> = HashMap::new();
        for (farm, group, herd) in estimate_rows::herds(conn, coop, None)? {
            groups.entry((farm, group)).or_default().push(herd);
        }
        for ((farm, _), herd) in groups {
            self.put_herd(farm, &herd);
        }
        let cells = estimate_rows::cost_cells(conn, coop, None)?;
        self.put_output(&cells);
        for cell in cells {
            self.add_cost(farms, cell.farm, cell.month, cell.other_minor);
        }
        for row in report_rows::seed(conn, coop, None, None)? {
            self.add_cost(farms, row.farm, row.month, row.cost().unwrap_or(0));
        }
        for a in report_rows::assets(conn, coop, self.month(self.count.max(1) - 1), None)? {
            let (from, until) = (Month::of(a.in_service_on), a.disposed_on.map(Month::of));
            for month in (0..self.count).map(|m| self.month(m)).collect::<Vec<_>>() {
                let minor = depreciation(month, from, until, a.value, a.life_months);
                self.add_cost(farms, a.farm, month, minor);
            }
        }
        Ok(())
    }

    /// A group's animal-days; `herd` in the order of the months.
    fn put_herd(&mut self, farm: Uuid, herd: &[HerdMonth]) {
        let mut herd = herd.iter().copied().peekable();
        let mut latest = None;
        for month in 0..self.count {
            let at = self.month(month);
            while let Some(next) = herd.next_if(|h| h.month <= at) {
                latest = Some(next);
            }
            let cell = self.cell(farm, at).and_then(|c| self.days.get_mut(c));
            if let (Some(known), Some(slot)) = (animal_days(latest, at), cell) {
                *slot = if slot.is_nan() { real(known) } else { *slot + real(known) };
            }
        }
    }

    /// Costs before the start are not those of fodder.
    fn add_cost(&mut self, farms: &[Arc<FarmRow>], farm: Uuid, month: Month, minor: i64) {
        let row = self.index.get(&farm).and_then(|i| farms.get(*i));
        if row.and_then(|f| f.started_on).is_none_or(|d| Month::of(d) > month) {
            return;
        }
        if let Some(slot) = self.cell(farm, month).and_then(|c| self.other.get_mut(c)) {
            *slot += real(minor);
        }
    }

    fn put_output(&mut self, cells: &[estimate_rows::CostCell]) {
        for cell in cells.iter().filter(|c| c.milk.1) {
            if let Some(slot) = self.index.get(&cell.farm).and_then(|f| self.is_milk.get_mut(*f)) {
                *slot = true;
            }
        }
        for cell in cells {
            let milk = self.index.get(&cell.farm).and_then(|f| self.is_milk.get(*f)) == Some(&true);
            let (amount, known) = if milk { cell.milk } else { cell.eggs };
            let unit = if milk { 1000.0 } else { 1.0 };
            if let (true, Some(at)) = (known, self.cell(cell.farm, cell.month)) {
                put(&mut self.output, at, real(amount) / unit);
            }
        }
    }

    fn savings(&self) -> Result<Savings, AppError> {
        let slices = FeedSlices {
            quantity: &self.bought.quantity,
            price: &self.bought.filled,
            other_cost: &self.other,
            animal_days: &self.days,
            output: &self.output,
            start: &self.start,
        };
        let panel = FeedPanel::new(self.count, self.feeds.len(), slices)
            .map_err(|e| AppError::Internal(e.to_string()))?;
        let rules = SavingRules::default();
        Ok(feed_saving(&panel, &rules))
    }
}

/// A feed that a farm does not use needs some price, which then weighs nothing.
fn price_unused(price: &mut [f64], quantity: &[f64], feeds: usize) {
    for feed in 0..feeds {
        let is_unused = |p: f64, q: f64| p.is_nan() && q <= 0.0;
        let mut cells = price.iter().zip(quantity).skip(feed).step_by(feeds);
        if !cells.any(|(p, q)| is_unused(*p, *q)) {
            continue;
        }
        let mut known: Vec<f64> =
            price.iter().skip(feed).step_by(feeds).copied().filter(|p| p.is_finite()).collect();
        if known.is_empty() {
            continue;
        }
        let middle = known.len() / 2;
        let middle = *known.select_nth_unstable_by(middle, f64::total_cmp).1;
        let cells = price.iter_mut().zip(quantity).skip(feed).step_by(feeds);
        for (slot, _) in cells.filter(|(p, q)| is_unused(**p, **q)) {
            *slot = middle;
        }
    }
}

fn start(farm: &FarmRow, first: Month, last: Month) -> Option<u32> {
    let month = Month::of(farm.started_on?);
    if month > last {
        return None;
    }
    Some(u32::try_from(month.number() - first.number()).unwrap_or(0))
}
