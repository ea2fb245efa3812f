//! Sums over farms and months, with their intervals.

use super::{Basis, Cell, Made};
use crate::Coop;
use crate::error::AppError;
use crate::savings::{area_names, programme};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use traybook_analytics::feed_saving::{Months, SUM_CRITICAL};
use traybook_answers::estimates::{ProgrammeSaving, SavingFigures, SavingMonth};
use traybook_answers::savings::programme::Division;
use traybook_answers::savings::{Interval, SinceStart};
use traybook_answers::{Decimal, wire};
use traybook_domain::Month;
use traybook_domain::value::real;
use traybook_reports::savings::{Between, RowMoney, Since, whole};
use traybook_storage::Conn;
use traybook_storage::records::farm_rows::FarmRow;
use uuid::Uuid;

/// Months back of which the groups of programme readers have an interval: as many as one page shows.
pub(crate) const DIVISION_MONTHS: i32 = 12;

/// Which months a sum is over.
#[derive(Clone, Copy)]
pub(super) enum Span {
    /// One, by its position.
    Month(usize),
    /// All since the start, but those that were closed by the earlier method.
    SinceStart,
}

/// Sums since the start.
#[derive(Default)]
pub(super) struct SinceStarts {
    /// By position.
    pub farms: Vec<Option<Since>>,
    pub areas: BTreeMap<Uuid, Since>,
    pub all: Option<Since>,
}

impl Made {
    fn is_in(&self, span: Span, t: usize) -> bool {
        match span {
            Span::Month(month) => month == t,
            Span::SinceStart => !self.past.is_earlier(self.axis.month(t)),
        }
    }

    /// Half width of the 95 % interval of the feed saving of farms together, minor units; none where
    /// they have no number.
    pub(super) fn half(&self, is_of: &dyn Fn(usize) -> bool, span: Span) -> Option<i64> {
        let is_on = |i: usize, class: &str| {
            let cells = self.cells(i, class).iter().enumerate();
            let on = |(t, cell): (usize, &Option<Cell>)| {
                cell.is_some_and(|c| c.money.is_some()) && self.is_in(span, t)
            };
            cells.map(on).collect()
        };
        self.half_of(is_of, &is_on).map(|(half, _)| half)
    }

    /// The same of chosen months of each farm and class, with how many of them have a number.
    /// Classes of animals in quadrature.
    pub(super) fn half_of(
        &self,
        is_of: &dyn Fn(usize) -> bool,
        is_on: &dyn Fn(usize, &str) -> Vec<bool>,
    ) -> Option<(i64, usize)> {
        let months = self.axis.months();
        let (mut square, mut rows) = (0.0, None);
        for panel in &self.panels.all {
            let is_in: Vec<bool> = panel.farms.iter().map(|i| is_of(*i)).collect();
            let mut chosen = vec![false; panel.farms.len() * months];
            for ((row, i), is_in) in panel.farms.iter().enumerate().zip(&is_in) {
                if !is_in {
                    continue;
                }
                let slots = chosen.iter_mut().skip(row * months).take(months);
                slots.zip(is_on(*i, &panel.class)).for_each(|(slot, on)| *slot = on);
            }
            if chosen.contains(&true) {
                let total = panel.savings.total(&is_in, Months::Cells(&chosen));
                square += total.standard_error.powi(2);
                rows = Some(rows.unwrap_or(0) + total.rows);
            }
        }
        rows.map(|rows| (whole(SUM_CRITICAL * square.sqrt()), rows))
    }

    pub(super) fn cells(&self, i: usize, class: &str) -> &[Option<Cell>] {
        let rows = self.rows.get(i).map_or(&[][..], Vec::as_slice);
        rows.iter().find(|r| r.class == class).map_or(&[], |r| r.cells.as_slice())
    }

    /// The months with a number of one farm: each class with its own t, in quadrature.
    fn farm_since(&self, i: usize) -> Option<Since> {
        let (mut since, start) = (Since::default(), self.start(i)?);
        let mut square = 0.0;
        for row in self.rows.get(i)? {
            self.count(&mut since, start, &row.cells);
            let Some((panel, at)) = self.panel(i, &row.class) else { continue };
            let is_on = |(t, cell): (usize, &Option<Cell>)| {
                cell.is_some_and(|c| c.money.is_some()) && self.is_in(Span::SinceStart, t)
            };
            let chosen: Vec<bool> = row.cells.iter().enumerate().map(is_on).collect();
            if chosen.contains(&true) {
                let error = panel.savings.farm_error(at, Months::Same(&chosen));
                let critical = panel.savings.farms.get(at).map_or(0.0, |f| f.critical);
                square += (critical * error).powi(2);
            }
        }
        Some(around(since, whole(square.sqrt())))
    }

    /// The sums since the start. They are the same in the report of every month: made once.
    pub(super) fn since_start(&self) -> &SinceStarts {
        self.since.get_or_init(|| {
            let areas: BTreeSet<Uuid> = self.farms.iter().map(|f| f.area).collect();
            let of_area = |area: Uuid| {
                let is_of = |i: usize| self.farms.get(i).is_some_and(|f| f.area == area);
                Some((area, self.since(&is_of)?))
            };
            SinceStarts {
                farms: (0..self.farms.len()).map(|i| self.farm_since(i)).collect(),
                areas: areas.into_iter().filter_map(of_area).collect(),
                all: self.since_of_all(),
            }
        })
    }

    /// The months with a number of farms together.
    fn since(&self, is_of: &dyn Fn(usize) -> bool) -> Option<Since> {
        let mut since = Since::default();
        for i in (0..self.farms.len()).filter(|i| is_of(*i)) {
            let Some(start) = self.start(i) else { continue };
            for row in self.rows.get(i).into_iter().flatten() {
                self.count(&mut since, start, &row.cells);
            }
        }
        let half = self.half(is_of, Span::SinceStart).unwrap_or(0);
        (since.of_rows > 0).then(|| around(since, half))
    }

    /// The months with a number of all farms; of those that are withdrawn by now what was reported.
    fn since_of_all(&self) -> Option<Since> {
        let standing: BTreeSet<Uuid> = self.farms.iter().map(|f| f.farm).collect();
        let (saving, rows) = self.past.withdrawn(&standing);
        let mut since = self.since(&|_| true)?;
        since.rows += rows;
        since.of_rows += rows;
        for end in [&mut since.between.value, &mut since.between.low, &mut since.between.high] {
            *end += saving;
        }
        Some(since)
    }

    fn count(&self, since: &mut Since, start: u32, cells: &[Option<Cell>]) {
        for (t, cell) in cells.iter().enumerate() {
            let is_after = u32::try_from(t).is_ok_and(|t| t > start) && self.axis.is_over(t);
            let Some(cell) = cell.filter(|_| is_after) else { continue };
            since.of_rows += 1;
            if let Some(money) = cell.money.filter(|_| self.is_in(Span::SinceStart, t)) {
                since.rows += 1;
                since.between.value += money.saving();
            }
        }
    }
}

fn around(mut since: Since, half: i64) -> Since {
    let value = since.between.value;
    since.between = Between { value, low: value - half, high: value + half };
    since
}

impl Made {
    /// First month that is looked at; none without any farm.
    pub fn first_month(&self) -> Option<Month> {
        (!self.farms.is_empty()).then_some(self.axis.first)
    }

    /// The last closed month.
    pub fn last_closed(&self) -> Option<Month> {
        self.past.last()
    }

    /// What every farm that has started saved, month by month.
    pub fn farm_figures(&self, digits: u8) -> Vec<(Uuid, SavingFigures, Vec<Basis>)> {
        let of = |(i, farm): (usize, &Arc<FarmRow>)| {
            let start = self.start(i)?;
            let since = self.since_start().farms.get(i).copied().flatten();
            let since_start = since.map(|s| since_start(s, digits));
            let first = usize::try_from(start).ok()?;
            let months = first..self.axis.months();
            let months = months.filter_map(|t| self.farm_month(i, t, digits)).collect();
            Some((farm.farm, SavingFigures { since_start, months }, self.basis(i)))
        };
        self.farms.iter().enumerate().filter_map(of).collect()
    }

    /// A farm's month over its classes of animals; none without any animals.
    fn farm_month(&self, i: usize, t: usize, digits: u8) -> Option<SavingMonth> {
        let rows = self.rows.get(i)?.iter();
        let cells: Vec<Cell> = rows.filter_map(|r| r.cells.get(t).copied().flatten()).collect();
        let lacking = cells.iter().map(|c| c.status).filter(|s| !s.has_number()).min();
        let status = lacking.or_else(|| cells.iter().map(|c| c.status).min())?;
        let money: Vec<_> = cells.iter().filter_map(|c| c.money).collect();
        let saving: i64 = money.iter().map(RowMoney::saving).sum();
        let half = money.iter().map(|m| real(m.half).powi(2)).sum::<f64>().sqrt();
        let of = |minor| Decimal::new(minor, digits);
        let interval = Interval { low: of(saving - whole(half)), high: of(saving + whole(half)) };
        Some(SavingMonth {
            month: wire::Month(self.axis.month(t)),
            status,
            saving: status.has_number().then(|| of(saving)),
            saving_interval: status.has_number().then_some(interval),
        })
    }

    /// What all farms saved together.
    pub fn programme(&self, digits: u8) -> ProgrammeSaving {
        let has_number = |rows: &&Vec<super::ClassRows>| {
            rows.iter().flat_map(|r| &r.cells).flatten().any(|c| c.money.is_some())
        };
        let farms = self.rows.iter().filter(has_number).count();
        ProgrammeSaving {
            since_start: self.since_start().all.map(|s| since_start(s, digits)),
            farms_estimated: u64::try_from(farms).unwrap_or(u64::MAX),
        }
    }

    /// Whether a month is one of which programme readers see divisions.
    pub fn is_divided(&self, month: Month) -> bool {
        let is_over = self.axis.at(month).is_some_and(|t| self.axis.is_over(t));
        is_over && month >= self.first_divided()
    }

    /// The first month of which programme readers see divisions.
    pub fn first_divided(&self) -> Month {
        Month::of(self.axis.today).plus(-DIVISION_MONTHS)
    }

    /// The closed months of which programme readers see divisions.
    pub fn closed_divided(&self) -> impl Iterator<Item = Month> {
        let first = self.first_divided().max(self.axis.first);
        self.last_closed().into_iter().flat_map(move |last| first.to(last))
    }

    /// Half widths of the saving of a month by division and group, of members who agreed to be
    /// counted, minor units.
    pub fn divisions(
        &self,
        conn: &mut Conn,
        coop: &Coop,
        month: Month,
    ) -> Result<Halves, AppError> {
        let t = self.axis.at(month).filter(|_| self.is_divided(month));
        let Some(t) = t else { return Ok(Halves::new()) };
        let names = area_names(conn, coop.number)?;
        let mut all = Halves::new();
        for by in Division::ALL {
            let key = |i: usize| {
                let farm = self.farms.get(i).filter(|f| f.consent)?;
                Some(programme::group(farm, *by, &names, month))
            };
            let keys: Vec<Option<String>> = (0..self.farms.len()).map(key).collect();
            let groups: BTreeSet<&String> = keys.iter().flatten().collect();
            for group in groups {
                let is_of = |i: usize| keys.get(i).and_then(Option::as_ref) == Some(group);
                if let Some(half) = self.half(&is_of, Span::Month(t)) {
                    let of_division = all.entry(by.text().to_owned()).or_default();
                    of_division.insert(group.clone(), half);
                }
            }
        }
        Ok(all)
    }
}

/// Half widths by division and group.
pub(crate) type Halves = BTreeMap<String, BTreeMap<String, i64>>;

fn since_start(s: Since, digits: u8) -> SinceStart {
    let of = |minor| Decimal::new(minor, digits);
    let interval = Interval { low: of(s.between.low), high: of(s.between.high) };
    SinceStart {
        saving: of(s.between.value),
        saving_interval: (s.rows > 0).then_some(interval),
        farm_months: s.rows,
        of_farm_months: s.of_rows,
    }
}
