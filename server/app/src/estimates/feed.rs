//! What was saved on feed since the start, and how sure a farm's saving of a month is.
//!
//! Here the baseline is what the farm bought per animal-day in the months before its start; the
//! monthly report rests on the ration recorded at enrolment. The report's uncertainty is that of its baseline: what the farm's feed cost per animal-day
//! scattered before the start (relative variance, moderated over farms). The report applies it to
//! the baseline it shows, which rests on the recorded ration.

use super::{Estimates, Version, is_asked, put, real, rests_on, version};
use crate::error::AppError;
use std::collections::HashMap;
use std::sync::Arc;
use traybook_analytics::feed_panel::{FeedPanel, FeedSlices};
use traybook_analytics::prices::fill_prices;
use traybook_analytics::saving::{
    FarmAnswer, PriceLevel, SavingRules, Savings, feed_saving_at, price_level,
};
use traybook_analytics::stats::CriticalPoints;
use traybook_domain::herd::{HerdMonth, animal_days};
use traybook_domain::{Kind, Month};
use traybook_reports::savings::depreciation;
use traybook_storage::estimate_rows::FeedCell;
use traybook_storage::farm_rows::{FarmRow, Farms};
use traybook_storage::{Conn, estimate_rows, report_rows};
use uuid::Uuid;

/// The estimate of every farm.
pub(super) struct FeedSavings {
    /// What it was made from; none without any feed bought.
    grid: Option<Grid>,
    /// Farms, in the order of the answers.
    pub farms: Arc<Vec<Arc<FarmRow>>>,
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

/// The half widths of the 95 % interval in one month, as shares of the baseline: of all farms or of
/// one.
pub(super) fn half_widths(
    conn: &mut Conn,
    kept: &Estimates,
    coop: i64,
    (today, month): (chrono::NaiveDate, Month),
    of: Option<Uuid>,
) -> Result<Vec<(Uuid, f64)>, AppError> {
    let version = version(conn, coop, today)?;
    let key = (coop, "half widths");
    let made =
        kept.follow(conn, key, version, COSTS, |conn| get(conn, kept, coop, today).map(Widths))?;
    let made = &made.0;
    let (Some(first), Some(savings)) = (made.first, &made.savings) else { return Ok(Vec::new()) };
    let at = usize::try_from(month.number() - first.number()).ok();
    let mut critical = CriticalPoints::default();
    let width = |(farm, answer): (&Arc<FarmRow>, &FarmAnswer)| {
        let saving = answer.saving.as_ref()?;
        let month = saving.months.iter().find(|m| Some(m.month) == at)?;
        let share = month.standard_error_per_day? / month.counterfactual_per_day;
        let width = critical.at(saving.degrees_of_freedom) * share;
        width.is_finite().then_some((farm.farm, width))
    };
    let asked = made.farms.iter().zip(&savings.farms).filter(|(f, _)| is_asked(of, f.farm));
    Ok(asked.filter_map(width).collect())
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
    let (farms, mut grid) = match (before, mended) {
        (Some((old, _)), Some(grid)) => (Arc::clone(&old.farms), Some(grid)),
        _ => {
            let farms = super::farms(conn, kept, coop, version)?;
            let grid = Grid::read(conn, coop, &farms)?;
            (farms, grid)
        }
    };
    let savings = grid.as_mut().map(Grid::savings).transpose()?;
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
    bought: Arc<Bought>,
    /// Made of what was bought and of animal-days, and kept while these are as they were.
    level: Option<PriceLevel>,
    days: Vec<f64>,
    /// Seed, other costs and depreciation since the start, minor units.
    other: Vec<f64>,
    /// Litres, or eggs on farms without milk.
    output: Vec<f64>,
    is_milk: Vec<bool>,
}

/// What was bought, farms × months × feeds.
#[derive(Clone)]
struct Bought {
    /// Whether a feed was bought, also of 0 kg.
    is_known: Vec<bool>,
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
            index: Arc::new(index),
            first,
            count,
            feeds: feeds.into(),
            start: farms.iter().map(|f| start(f, first, last)).collect(),
            bought: Arc::new(Bought {
                is_known: vec![false; of_feeds],
                quantity: vec![f64::NAN; of_feeds],
                price: vec![f64::NAN; of_feeds],
                filled: Vec::new(),
            }),
            level: None,
            days: vec![f64::NAN; size],
            other: vec![0.0; size],
            output: vec![f64::NAN; size],
            is_milk: vec![false; farms.len()],
        };
        grid.put_feeds(&cells);
        grid.fill_prices()?;
        grid.put_rest(conn, coop, None, farms)?;
        Ok(Some(grid))
    }

    /// With the rows of these farms read anew; none where months or feeds come or go by that.
    fn mended(
        &self,
        conn: &mut Conn,
        coop: i64,
        farms: &[Arc<FarmRow>],
        changed: &[Uuid],
    ) -> Result<Option<Self>, AppError> {
        if !changed.iter().all(|f| self.index.contains_key(f)) {
            return Ok(None);
        }
        let cells = estimate_rows::feed_cells(conn, coop, Some(changed))?;
        let mut grid = self.clone();
        let rows: Vec<usize> = changed.iter().filter_map(|f| self.index.get(f).copied()).collect();
        for farm in &rows {
            let months = farm * self.count..(farm + 1) * self.count;
            clear(&mut grid.days, months.clone(), f64::NAN);
            clear(&mut grid.other, months.clone(), 0.0);
            clear(&mut grid.output, months, f64::NAN);
            clear(&mut grid.is_milk, *farm..farm + 1, false);
        }
        if !grid.has_bought(&rows, &cells) {
            let bought = Arc::make_mut(&mut grid.bought);
            for farm in &rows {
                let of_feeds = self.row(*farm);
                clear(&mut bought.is_known, of_feeds.clone(), false);
                clear(&mut bought.quantity, of_feeds.clone(), f64::NAN);
                clear(&mut bought.price, of_feeds, f64::NAN);
            }
            if !grid.put_feeds(&cells) || !grid.is_filled() {
                return Ok(None);
            }
            grid.fill_prices()?;
        }
        grid.put_rest(conn, coop, Some(changed), farms)?;
        let days = |g: &Self, farm: usize| {
            let months = g.days.iter().skip(farm * g.count).take(g.count);
            months.map(|d| d.to_bits()).collect::<Vec<u64>>()
        };
        let is_level = Arc::ptr_eq(&grid.bought, &self.bought)
            && rows.iter().all(|farm| days(&grid, *farm) == days(self, *farm));
        if !is_level {
            grid.level = None;
        }
        Ok(Some(grid))
    }

    /// The cells of a farm's feeds.
    fn row(&self, farm: usize) -> std::ops::Range<usize> {
        let wide = self.count * self.feeds.len();
        farm * wide..(farm + 1) * wide
    }

    /// Whether these farms bought just this.
    fn has_bought(&self, rows: &[usize], cells: &[FeedCell]) -> bool {
        let bought = &self.bought;
        let known = rows.iter().filter_map(|farm| bought.is_known.get(self.row(*farm))).flatten();
        let same = |cell: &FeedCell| {
            let at = self.feed_cell(cell)?;
            let (quantity, price) = of_cell(cell);
            let is_same = |held: &[f64], new: f64| {
                held.get(at).is_some_and(|held| held.to_bits() == new.to_bits())
            };
            let is_known = bought.is_known.get(at) == Some(&true);
            Some(is_known && is_same(&bought.quantity, quantity) && is_same(&bought.price, price))
        };
        known.filter(|k| **k).count() == cells.len()
            && cells.iter().all(|cell| same(cell) == Some(true))
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

    /// Puts in what was bought; false where a month or a feed has no place.
    fn put_feeds(&mut self, cells: &[FeedCell]) -> bool {
        let feeds = self.feeds.len();
        let places: Option<Vec<usize>> = cells.iter().map(|cell| self.feed_cell(cell)).collect();
        let Some(places) = places else { return false };
        let bought = Arc::make_mut(&mut self.bought);
        for (cell, at) in cells.iter().zip(places) {
            // A month with any feed record is known: what was not bought is 0.
            let month = at - at.checked_rem(feeds).unwrap_or(0);
            let slots = bought.quantity.iter_mut().skip(month).take(feeds);
            slots.filter(|q| q.is_nan()).for_each(|q| *q = 0.0);
            let (quantity, price) = of_cell(cell);
            put(&mut bought.quantity, at, quantity);
            put(&mut bought.price, at, price);
            if let Some(slot) = bought.is_known.get_mut(at) {
                *slot = true;
            }
        }
        true
    }

    /// Gives every feed that was used a price.
    fn fill_prices(&mut self) -> Result<(), AppError> {
        let (farms, feeds) = (self.index.len(), self.feeds.len());
        let bought = Arc::make_mut(&mut self.bought);
        bought.filled = fill_prices(&bought.price, farms, self.count, feeds)
            .map_err(|e| AppError::Internal(e.to_string()))?;
        price_unused(&mut bought.filled, &bought.quantity, feeds);
        Ok(())
    }

    /// Whether the first and the last month and every feed are there for a reason.
    fn is_filled(&self) -> bool {
        let (months, feeds) = (self.count, self.feeds.len());
        let mut of_month = vec![false; months];
        let mut of_feed = vec![false; feeds];
        for (at, _) in self.bought.is_known.iter().enumerate().filter(|(_, known)| **known) {
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
        farms: &[Arc<FarmRow>],
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

    fn savings(&mut self) -> Result<Savings, AppError> {
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
        let level = self.level.take().unwrap_or_else(|| price_level(&panel, &rules));
        let savings = feed_saving_at(&panel, &rules, level.clone());
        self.level = Some(level);
        Ok(savings)
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
