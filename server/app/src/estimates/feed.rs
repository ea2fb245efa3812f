//! What was saved on feed since the start, and how sure a farm's saving of a month is.
//!
//! Here the baseline is what the farm bought per animal-day in the months before its start; the
//! monthly report rests on the ration recorded at enrolment. The report's uncertainty is that of its baseline: what the farm's feed cost per animal-day
//! scattered before the start (relative variance, moderated over farms). The report applies it to
//! the baseline it shows, which rests on the recorded ration.

use super::{Estimates, Version, put, real, rests_on, version};
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
use traybook_storage::farm_rows::Farms;
use traybook_storage::{Conn, estimate_rows, report_rows};
use uuid::Uuid;

/// The estimate of every farm.
pub(super) struct FeedSavings {
    /// What it was made from; none without any feed bought.
    grid: Option<Grid>,
    /// Farms, in the order of the answers.
    pub farms: Arc<Vec<report_rows::FarmRow>>,
    /// First month of the panel.
    pub first: Option<Month>,
    /// The answers.
    pub savings: Option<Savings>,
}

impl FeedSavings {
    /// Whether each farm's output is milk (else eggs), in their order.
    pub fn is_milk(&self) -> &[bool] {
        self.grid.as_ref().map_or(&[], |g| g.is_milk.as_slice())
    }
}

/// The estimate that was kept, and the farms whose records have changed since.
type Before = Option<(Arc<FeedSavings>, Vec<Uuid>)>;

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

/// Of these, those that move what one farm alone paid, kept or gave.
const OF_ONE_FARM: &[Kind] = &[
    Kind::HeadCount,
    Kind::FeedPurchase,
    Kind::OtherCost,
    Kind::Asset,
    Kind::Batch,
    Kind::BatchEvent,
    Kind::SeedIssue,
    Kind::MilkRecord,
    Kind::EggRecord,
];

/// The estimate as kept, or made now.
pub(super) fn get(
    conn: &mut Conn,
    kept: &Estimates,
    coop: i64,
    today: chrono::NaiveDate,
) -> Result<Arc<FeedSavings>, AppError> {
    let version = version(conn, coop, today)?;
    let kinds = (COSTS_AND_OUTPUT, OF_ONE_FARM);
    kept.mend(conn, (coop, "feed"), version, kinds, |conn, before: Before| {
        make(conn, (kept, coop), version, before.as_ref())
    })
}

fn make(
    conn: &mut Conn,
    (kept, coop): (&Estimates, i64),
    version: Version,
    before: Option<&(Arc<FeedSavings>, Vec<Uuid>)>,
) -> Result<FeedSavings, AppError> {
    let mended = match before {
        Some((old, changed)) => match &old.grid {
            Some(grid) => grid.mended(conn, coop, &old.farms, changed)?,
            None => None,
        },
        None => None,
    };
    let (farms, grid) = match (before, mended) {
        (Some((old, _)), Some(grid)) => (Arc::clone(&old.farms), Some(grid)),
        _ => {
            let farms = super::farms(conn, kept, coop, version)?;
            let grid = Grid::read(conn, coop, &farms)?;
            (farms, grid)
        }
    };
    let savings = grid.as_ref().map(Grid::savings).transpose()?;
    Ok(FeedSavings { first: grid.as_ref().map(|g| g.first), grid, farms, savings })
}

/// What the farms bought, paid, kept and gave, farms × months (× feeds); NaN where it is not known.
#[derive(Clone)]
struct Grid {
    index: Arc<HashMap<Uuid, usize>>,
    first: Month,
    count: usize,
    feeds: Arc<[Uuid]>,
    /// Month of the first soak as a month of the grid; none when it has not come.
    start: Arc<[Option<u32>]>,
    /// Whether a feed was bought, also of 0 kg.
    bought: Vec<bool>,
    /// kg.
    quantity: Vec<f64>,
    /// Minor units a kg, as paid.
    price: Vec<f64>,
    days: Vec<f64>,
    /// Seed, other costs and depreciation since the start, minor units.
    other: Vec<f64>,
    /// Litres, or eggs on farms without milk.
    output: Vec<f64>,
    is_milk: Vec<bool>,
}

impl Grid {
    /// All farms, from the first month in which any bought feed to the last; none where none did.
    fn read(
        conn: &mut Conn,
        coop: i64,
        farms: &[report_rows::FarmRow],
    ) -> Result<Option<Self>, AppError> {
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
            index: Arc::new(index),
            first,
            count,
            feeds: feeds.into(),
            start: farms.iter().map(|f| start(f, first, last)).collect(),
            bought: vec![false; of_feeds],
            quantity: vec![f64::NAN; of_feeds],
            price: vec![f64::NAN; of_feeds],
            days: vec![f64::NAN; size],
            other: vec![0.0; size],
            output: vec![f64::NAN; size],
            is_milk: vec![false; farms.len()],
        };
        grid.put_feeds(&cells);
        grid.put_rest(conn, coop, None, farms)?;
        Ok(Some(grid))
    }

    /// With the rows of these farms read anew; none where months or feeds come or go by that.
    fn mended(
        &self,
        conn: &mut Conn,
        coop: i64,
        farms: &[report_rows::FarmRow],
        changed: &[Uuid],
    ) -> Result<Option<Self>, AppError> {
        if !changed.iter().all(|f| self.index.contains_key(f)) {
            return Ok(None);
        }
        let mut grid = self.clone();
        for farm in changed.iter().filter_map(|f| self.index.get(f)) {
            let (at, feeds) = (farm * self.count, self.feeds.len());
            let of_feeds = at * feeds..(at + self.count) * feeds;
            let months = at..at + self.count;
            clear(&mut grid.bought, of_feeds.clone(), false);
            clear(&mut grid.quantity, of_feeds.clone(), f64::NAN);
            clear(&mut grid.price, of_feeds, f64::NAN);
            clear(&mut grid.days, months.clone(), f64::NAN);
            clear(&mut grid.other, months.clone(), 0.0);
            clear(&mut grid.output, months, f64::NAN);
            clear(&mut grid.is_milk, *farm..farm + 1, false);
        }
        let cells = estimate_rows::feed_cells(conn, coop, Some(changed))?;
        if !grid.put_feeds(&cells) || !grid.is_filled() {
            return Ok(None);
        }
        grid.put_rest(conn, coop, Some(changed), farms)?;
        Ok(Some(grid))
    }

    fn cell(&self, farm: Uuid, month: Month) -> Option<usize> {
        let month = usize::try_from(month.number() - self.first.number()).ok()?;
        (month < self.count).then_some(self.index.get(&farm)? * self.count + month)
    }

    /// The month at a position.
    fn month(&self, at: usize) -> Month {
        self.first.plus(i32::try_from(at).unwrap_or(0))
    }

    /// Puts in what was bought; false where a month or a feed has no place.
    fn put_feeds(&mut self, cells: &[estimate_rows::FeedCell]) -> bool {
        let feeds = Arc::clone(&self.feeds);
        for cell in cells {
            let at = self.cell(cell.farm, cell.month).map(|c| c * feeds.len());
            let (Some(at), Ok(feed)) = (at, feeds.binary_search(&cell.feed)) else { return false };
            // A month with any feed record is known: what was not bought is 0.
            for slot in self.quantity.iter_mut().skip(at).take(feeds.len()).filter(|q| q.is_nan()) {
                *slot = 0.0;
            }
            put(&mut self.quantity, at + feed, real(cell.grams) / 1000.0);
            if let Some(slot) = self.bought.get_mut(at + feed) {
                *slot = true;
            }
            if cell.grams > 0 {
                let price = real(cell.cost_minor) * 1000.0 / real(cell.grams);
                put(&mut self.price, at + feed, price);
            }
        }
        true
    }

    /// Whether the first and the last month and every feed are there for a reason.
    fn is_filled(&self) -> bool {
        let (months, feeds) = (self.count, self.feeds.len());
        let mut of_month = vec![false; months];
        let mut of_feed = vec![false; feeds];
        for (at, _) in self.bought.iter().enumerate().filter(|(_, bought)| **bought) {
            let month = at.checked_div(feeds).and_then(|c| c.checked_rem(months));
            if let Some(slot) = month.and_then(|m| of_month.get_mut(m)) {
                *slot = true;
            }
            if let Some(slot) = at.checked_rem(feeds).and_then(|f| of_feed.get_mut(f)) {
                *slot = true;
            }
        }
        let ends = of_month.first().zip(of_month.last());
        ends.is_some_and(|(first, last)| *first && *last) && of_feed.iter().all(|f| *f)
    }

    /// Everything but feed.
    fn put_rest(
        &mut self,
        conn: &mut Conn,
        coop: i64,
        of: Farms<'_>,
        farms: &[report_rows::FarmRow],
    ) -> Result<(), AppError> {
        let mut groups: HashMap<(Uuid, Uuid), Vec<HerdMonth>> = HashMap::new();
        for (farm, group, herd) in estimate_rows::herds(conn, coop, of)? {
            groups.entry((farm, group)).or_default().push(herd);
        }
        for ((farm, _), herd) in groups {
            self.put_herd(farm, &herd);
        }
        let cells = estimate_rows::cost_cells(conn, coop, of)?;
        self.put_output(&cells);
        for cell in cells {
            self.add_cost(farms, cell.farm, cell.month, cell.other_minor);
        }
        for row in report_rows::seed(conn, coop, None, of)? {
            self.add_cost(farms, row.farm, row.month, row.cost().unwrap_or(0));
        }
        for a in report_rows::assets(conn, coop, self.month(self.count.max(1) - 1), of)? {
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
    fn add_cost(&mut self, farms: &[report_rows::FarmRow], farm: Uuid, month: Month, minor: i64) {
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
        let internal = |e: String| AppError::Internal(e);
        let (farms, feeds) = (self.index.len(), self.feeds.len());
        let mut price = fill_prices(&self.price, farms, self.count, feeds)
            .map_err(|e| internal(e.to_string()))?;
        price_unused(&mut price, &self.quantity, feeds);
        let slices = FeedSlices {
            quantity: &self.quantity,
            price: &price,
            other_cost: &self.other,
            animal_days: &self.days,
            output: &self.output,
            start: &self.start,
        };
        let panel =
            FeedPanel::new(self.count, feeds, slices).map_err(|e| internal(e.to_string()))?;
        Ok(feed_saving(&panel, &SavingRules::default()))
    }
}

/// Puts a value into every cell of a span.
fn clear<T: Copy>(cells: &mut [T], span: std::ops::Range<usize>, value: T) {
    if let Some(cells) = cells.get_mut(span) {
        cells.fill(value);
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
