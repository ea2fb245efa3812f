//! The estimate of feed saving of a co-operative, as its records stand: every farm, class of animals
//! and month.
//!
//! Purchases are read once ([`books`]), become months ([`eaten`]), and months become panels, one a
//! class of animals ([`panel`]). What closes froze comes in from [`frozen`]. The reports of months
//! are made of the result ([`report`]).

mod account;
mod adjust;
mod axis;
mod books;
mod costs;
mod eaten;
mod findings;
mod frozen;
mod holes;
mod output;
mod panel;
mod report;
mod sums;
mod years;

pub(crate) use account::{Basis, FeedPrices, account};
pub(crate) use output::{Effect, Effects};
pub(crate) use report::Extras;
pub(crate) use sums::DIVISION_MONTHS;
pub(super) use sums::Halves;
pub(crate) use years::YearSoFar;

use crate::Coop;
use crate::error::AppError;
use adjust::Past;
use axis::Axis;
use books::{Book, Books};
use chrono::NaiveDate;
use costs::{AllCosts, Costs};
use eaten::{Enterprise, FarmUse, Ground, farm_use};
use frozen::{Frozen, Version};
use holes::{Hole, Why};
use panel::{Panel, Panels, Source};
use std::collections::HashMap;
use std::sync::{Arc, OnceLock};
use traybook_analytics::eaten::{PricedPurchase, Rules, price_medians};
use traybook_analytics::net::{RowFacts, RowStatus, row_status};
use traybook_answers::savings::{Status, Wait, What};
use traybook_domain::kinds::Feed;
use traybook_domain::record::Record as _;
use traybook_domain::value::real;
use traybook_domain::{Kind, Month};
use traybook_reports::savings::{RowMoney, whole};
use traybook_storage::Conn;
use traybook_storage::records::farm_rows::FarmRow;
use traybook_storage::records::{self, Filter, Visible};
use uuid::Uuid;

/// A farm, class of animals and month.
#[derive(Clone, Copy, Debug)]
struct Cell {
    status: Status,
    money: Option<RowMoney>,
    /// Whether the season is taken out.
    is_adjusted: bool,
}

/// The months of a farm's class of animals; none in which there were no animals, or the member was
/// none.
struct ClassRows {
    class: String,
    cells: Vec<Option<Cell>>,
}

/// The estimate.
pub(crate) struct Made {
    axis: Axis,
    farms: Vec<Arc<FarmRow>>,
    uses: Vec<FarmUse>,
    rows: Vec<Vec<ClassRows>>,
    /// As open months take them.
    panels: Panels,
    /// As closed months took them, by version of the frozen baselines; none where open months take
    /// the same.
    closed: Vec<Panels>,
    /// What stands for each farm's records before its start.
    records: HashMap<Uuid, Uuid>,
    costs: AllCosts,
    feeds: HashMap<Uuid, String>,
    frozen: Frozen,
    past: Past,
    medians: HashMap<Uuid, Vec<Option<f64>>>,
    effects: Effects,
    since: OnceLock<sums::SinceStarts>,
}

impl Made {
    /// Estimates from everything recorded before today.
    pub fn make(
        conn: &mut Conn,
        coop: &Coop,
        today: NaiveDate,
        farms: &[Arc<FarmRow>],
    ) -> Result<Self, AppError> {
        let (number, rules) = (coop.number, Rules::default());
        let Books { axis, books, accepted } = Books::read(conn, number, today, farms, None)?;
        let frozen = Frozen::read(conn, number, None)?;
        let mut medians = medians(&books, &axis);
        frozen.put_medians(&mut medians, &axis);
        let ground = Ground {
            axis: &axis,
            medians: &medians,
            accepted: &accepted,
            rules: &rules,
            keeps_lots: false,
        };
        let uses: Vec<FarmUse> = books.iter().map(|book| farm_use(book, &ground)).collect();
        let records: HashMap<Uuid, Uuid> =
            books.iter().map(|b| (b.farm.farm, b.records_before(&axis))).collect();
        let source = |version| Source {
            axis: &axis,
            farms,
            uses: &uses,
            medians: &medians,
            frozen: &frozen,
            version,
            records: &records,
            rules: &rules,
        };
        let panels = Panels::make(&source(Version::Open))?;
        let ranks = 0..frozen.ranks(&records);
        let closed = ranks.map(|rank| Panels::make(&source(Version::Frozen(rank))));
        let closed = closed.collect::<Result<Vec<Panels>, AppError>>()?;
        let is_several = |(farm, of): &(&Arc<FarmRow>, &FarmUse)| {
            (of.enterprises.len() > 1).then_some(farm.farm)
        };
        let several: Vec<Uuid> = farms.iter().zip(&uses).filter_map(|f| is_several(&f)).collect();
        let span = (axis.first, Month::of(today));
        let costs = AllCosts::read(conn, coop, span, None, &several)?;
        let past = Past::read(conn, number)?;
        let mut made = Self {
            axis,
            farms: farms.to_vec(),
            uses,
            rows: Vec::new(),
            panels,
            closed,
            records,
            costs,
            feeds: feed_names(conn, number)?,
            frozen,
            past,
            medians,
            effects: Effects::default(),
            since: OnceLock::new(),
        };
        made.rows = books.iter().enumerate().map(|(i, b)| made.farm_rows(i, b, &rules)).collect();
        Ok(made)
    }

    /// Animal-days by month, from the first month on, of farms whose animals are all of one class
    /// that gives what is asked.
    pub fn animal_days_of_one_class<'a>(
        &'a self,
        gives: fn(&str) -> bool,
    ) -> HashMap<Uuid, (Month, &'a [f64])> {
        let all = self.farms.iter().zip(&self.uses);
        let of_farm = |(farm, of): (&Arc<FarmRow>, &'a FarmUse)| {
            let [one] = of.enterprises.as_slice() else { return None };
            let days = one.animal_days.as_deref().filter(|_| gives(&one.class))?;
            Some((farm.farm, (self.axis.first, days)))
        };
        all.filter_map(of_farm).collect()
    }

    fn farm_rows(&self, i: usize, book: &Book, rules: &Rules) -> Vec<ClassRows> {
        let (Some(farm), Some(of)) = (self.farms.get(i), self.uses.get(i)) else {
            return Vec::new();
        };
        let class_of: HashMap<Uuid, String> =
            book.groups.iter().map(|g| (g.id, g.class.clone())).collect();
        let months = self.axis.months();
        let class = |e: &Enterprise| ClassRows {
            class: e.class.clone(),
            cells: Vec::with_capacity(months),
        };
        let mut rows: Vec<ClassRows> = of.enterprises.iter().map(class).collect();
        for t in 0..months {
            let days = |e: &Enterprise| {
                e.animal_days.as_ref().and_then(|d| d.get(t)).copied().unwrap_or(0.0)
            };
            let classes: Vec<(&str, f64)> =
                of.enterprises.iter().map(|e| (e.class.as_str(), days(e))).collect();
            let costs = self.costs.split(farm.farm, self.axis.month(t), &classes, &class_of);
            let is_there = is_there(farm, self.axis.month(t));
            let all = rows.iter_mut().zip(&of.enterprises).zip(costs);
            for ((row, e), costs) in all {
                let cell = is_there.then(|| self.cell(i, of, e, t, costs, rules));
                row.cells.push(cell.flatten());
            }
        }
        rows
    }

    /// One row; none where there were no animals of the class.
    fn cell(
        &self,
        i: usize,
        of: &FarmUse,
        e: &Enterprise,
        t: usize,
        costs: Costs,
        rules: &Rules,
    ) -> Option<Cell> {
        let is_counted = self.is_counted(e, t);
        if is_counted && e.animal_days.as_ref().and_then(|d| d.get(t)).is_none_or(|n| *n <= 0.0) {
            return None;
        }
        let (panel, row) = self.panels_of(i, &e.class, t).of(i, &e.class)?;
        let baseline = panel.savings.farms.get(row)?;
        let number = panel.savings.cell(row, t);
        let holes = self.holes(e, t, rules);
        let is_open = costs.seed.lacks || self.is_unnamed(of, t);
        let position = |month: usize| u32::try_from(month).unwrap_or(u32::MAX);
        let status = row_status(
            &RowFacts {
                month: position(t),
                start_month: self.start(i),
                is_over: self.axis.is_over(t),
                is_known: panel.is_known(row, t),
                mixed_share: panel.mixed(row, t),
                is_lacking: is_open || !is_counted || !holes.is_empty(),
                is_held: holes.iter().any(|h| matches!(h.1.why, Why::Price | Why::Kg)),
                is_waiting: !holes.is_empty() && holes.iter().all(|h| h.1.why == Why::Next),
                has_level: baseline.level.is_some(),
                is_ration_only: baseline.status
                    == traybook_analytics::feed_saving::BaselineStatus::RationOnly,
            },
            rules,
        );
        let status = match said(status) {
            // Seed without a price, or a purchase for nobody knows whom, is a lack of its own.
            with_number if with_number.has_number() && (is_open || number.is_none()) => {
                Status::Missing
            }
            status => status,
        };
        let money = number.filter(|_| status.has_number()).map(|n| RowMoney {
            baseline: whole(n.baseline),
            eaten: whole(n.eaten),
            seed: costs.seed.minor,
            other: costs.other,
            depreciation: costs.depreciation,
            half: whole(baseline.critical * n.standard_error),
            output: None,
        });
        Some(Cell { status, money, is_adjusted: baseline.is_adjusted })
    }

    /// The panels of a month: of a closed one those that it was made with.
    fn panels_of(&self, i: usize, class: &str, t: usize) -> &Panels {
        let month = self.axis.month(t);
        let farm = self.farms.get(i).map(|f| f.farm).filter(|_| self.past.is_closed(month));
        let rank = farm.and_then(|farm| self.frozen.rank(farm, class, month));
        rank.and_then(|rank| self.closed.get(rank)).unwrap_or(&self.panels)
    }

    /// Whether animals of the class had been counted before the end of a month.
    fn is_counted(&self, e: &Enterprise, t: usize) -> bool {
        e.counted_from.is_some_and(|day| day < self.axis.span(t).1)
    }

    /// Start month of a farm as a position; none where it has not come.
    fn start(&self, i: usize) -> Option<u32> {
        let month = Month::of(self.farms.get(i)?.started_on?);
        let t = month.number() - self.axis.first.number();
        u32::try_from(t.max(0)).ok().filter(|_| month <= Month::of(self.axis.today))
    }

    /// The feeds that leave a row without a number, with the days that are not covered.
    fn holes<'a>(&self, e: &'a Enterprise, t: usize, rules: &Rules) -> Vec<(Uuid, &'a Hole)> {
        let (from, to) = self.axis.span(t);
        let mut found = Vec::new();
        for f in &e.feeds {
            let days = f.days.get(t).copied().unwrap_or(0.0);
            let covered = f.uses.get(t).map_or(0.0, |u| u.covered);
            let is_needed = f.is_needed.get(t) == Some(&true);
            if !is_needed || days <= 0.0 || covered >= rules.cover_min * days {
                continue;
            }
            let inside = |h: &&Hole| h.from < to && h.to > from;
            found.extend(f.holes.iter().filter(inside).map(|h| (f.feed, h)));
        }
        found
    }

    fn is_unnamed(&self, of: &FarmUse, t: usize) -> bool {
        let (from, to) = self.axis.span(t);
        of.unnamed.iter().any(|(first, end, ..)| *first < to && *end > from)
    }

    /// What the number of a farm's class waits for in a month.
    fn waits(&self, i: usize, e: &Enterprise, t: usize) -> Vec<Wait> {
        let Some(of) = self.uses.get(i) else { return Vec::new() };
        let (rules, mut waits) = (Rules::default(), Vec::new());
        let class = |what| Wait { enterprise: Some(e.class.clone()), ..Wait::of(what) };
        if !self.is_counted(e, t) {
            waits.push(class(What::HeadCount));
        }
        let has_level = self.panels.of(i, &e.class).is_some_and(|(panel, row)| {
            panel.savings.farms.get(row).is_some_and(|b| b.level.is_some())
        });
        if !has_level {
            waits.push(class(What::Baseline));
            waits.extend(self.held_before(i, e));
        }
        for (feed, hole) in self.holes(e, t, &rules) {
            waits.push(hole.wait(&self.axis, &e.class, (feed, self.feed_name(feed))));
        }
        let (from, to) = self.axis.span(t);
        for (first, end, feed, purchase) in &of.unnamed {
            if *first < to && *end > from {
                waits.push(Wait {
                    feed: Some(self.feed_name(*feed)),
                    feed_id: Some(*feed),
                    purchase_id: Some(*purchase),
                    from: Some(self.axis.date(*first)),
                    ..Wait::of(What::Animals)
                });
            }
        }
        let farm = self.farms.get(i).map(|f| f.farm).unwrap_or_default();
        if self.costs.of(farm, self.axis.month(t)).seed.lacks {
            waits.push(Wait::of(What::SeedPrice));
        }
        waits
    }

    /// Purchases before the start that are held: without them there may be a baseline.
    fn held_before(&self, i: usize, e: &Enterprise) -> Vec<Wait> {
        let start = self.farms.get(i).and_then(|f| f.started_on).map(|d| self.axis.day(d));
        let Some(start) = start else { return Vec::new() };
        let held = e.feeds.iter().flat_map(|f| f.holes.iter().map(move |h| (f.feed, h)));
        held.filter(|(_, h)| matches!(h.why, Why::Price | Why::Kg) && h.from < start)
            .map(|(feed, h)| h.wait(&self.axis, &e.class, (feed, self.feed_name(feed))))
            .collect()
    }

    fn feed_name(&self, feed: Uuid) -> String {
        self.feeds.get(&feed).cloned().unwrap_or_default()
    }

    /// The panel of a class.
    fn panel(&self, i: usize, class: &str) -> Option<(&Panel, usize)> {
        self.panels.of(i, class)
    }
}

/// Whether the farm's member was one in a month.
fn is_there(farm: &FarmRow, month: Month) -> bool {
    let (joined, left) = farm.joined;
    joined <= month.last_day() && left.is_none_or(|l| l >= month.first_day())
}

fn said(status: RowStatus) -> Status {
    match status {
        RowStatus::NotStarted => Status::NotStarted,
        RowStatus::Running => Status::Running,
        RowStatus::StartMonth => Status::StartMonth,
        RowStatus::NoBaseline => Status::NoBaseline,
        RowStatus::Held => Status::Held,
        RowStatus::Waiting => Status::Waiting,
        RowStatus::Missing => Status::Missing,
        RowStatus::StartLot => Status::StartLot,
        RowStatus::RationOnly => Status::RationOnly,
        RowStatus::Estimated => Status::Estimated,
    }
}

/// Median price of each feed and month over the co-operative's purchases, minor units a kg.
fn medians(books: &[Book], axis: &Axis) -> HashMap<Uuid, Vec<Option<f64>>> {
    let mut feeds: Vec<Uuid> =
        books.iter().flat_map(|b| b.purchases.iter().map(|p| p.feed)).collect();
    feeds.sort_unstable();
    feeds.dedup();
    let priced: Vec<PricedPurchase> = books
        .iter()
        .flat_map(|b| &b.purchases)
        .filter_map(|p| {
            Some(PricedPurchase {
                feed: feeds.binary_search(&p.feed).ok()?,
                month: axis.at(Month::of(p.on)).unwrap_or(usize::MAX),
                kg: real(p.grams) / 1000.0,
                cost: real(p.minor),
            })
        })
        .collect();
    let months = axis.months();
    let all = price_medians(&priced, feeds.len(), months);
    let of = |(at, feed): (usize, &Uuid)| {
        let row = all.iter().skip(at * months).take(months).copied();
        (*feed, row.collect())
    };
    feeds.iter().enumerate().map(of).collect()
}

fn feed_names(conn: &mut Conn, number: i64) -> Result<HashMap<Uuid, String>, AppError> {
    let (all, filter) = (Visible::All, Filter { withdrawn: true, ..Filter::default() });
    let feeds = records::page(conn, number, Kind::Feed, &all, &filter, None, 10_000)?;
    let name = |r: &records::Record| Feed::from_values(&r.values).map(|f| (r.id, f.name));
    Ok(feeds.iter().filter_map(name).collect())
}
