//! One farm over months: its savings, as they were reported and, where a month is not closed, as
//! the records stand; its milk and eggs.

use super::made::account;
use super::report::read_month;
use crate::error::AppError;
use crate::estimates;
use crate::records::find_visible;
use crate::{Actor, App};
use std::collections::{HashMap, HashSet};
use traybook_answers::estimates::SavingMonth;
use traybook_answers::savings::{Interval, SavingAccount, Status, VERSION};
use traybook_answers::{Decimal, wire};
use traybook_domain::effects::{Measure, Sums};
use traybook_domain::limits::FARM_MONTHS_MAX;
use traybook_domain::people::authz::Task;
use traybook_domain::value::real;
use traybook_domain::{Kind, Month};
use traybook_storage::records::farm_rows;
use traybook_storage::savings::{months, report_rows};
use uuid::Uuid;

impl App {
    /// The savings of a farm in the months up to `last`, as they were reported and adjusted and,
    /// where a month is not closed, as they were last made.
    ///
    /// # Errors
    /// `Forbidden`; `NotFound` for a farm out of reach.
    pub async fn farm_savings(
        &self,
        actor: &Actor,
        farm: Uuid,
        last: Month,
        count: i32,
    ) -> Result<Vec<FarmMonth>, AppError> {
        let visible = actor.task(Task::SavingsReport)?;
        let (actor, now) = (actor.clone(), self.now());
        let first = last.plus(1 - count.clamp(1, FARM_MONTHS_MAX));
        self.store
            .read(move |conn| {
                find_visible(conn, &actor, Kind::Farm, farm, &visible)?;
                let coop = &actor.coop;
                let made = estimates::saving_months(conn, coop, farm, now)?;
                let made: HashMap<Month, SavingMonth> =
                    made.into_iter().map(|m| (m.month.0, m)).collect();
                let mut earlier: HashMap<Month, i64> = HashMap::new();
                let mut adjusted: HashSet<Month> = HashSet::new();
                for line in months::reported(conn, coop.number, Some(&[farm]))? {
                    if line.method < VERSION {
                        *earlier.entry(line.month).or_default() += line.saving_minor.unwrap_or(0);
                    }
                    if line.reported_in != line.month {
                        adjusted.insert(line.month);
                    }
                }
                let month = |month: Month| {
                    let was = earlier.get(&month).map(|minor| Decimal::new(*minor, coop.digits));
                    let made = made.get(&month).filter(|_| was.is_none());
                    FarmMonth {
                        month,
                        status: made.map(|m| m.status),
                        saving: was.or_else(|| made.and_then(|m| m.saving)),
                        interval: made.and_then(|m| m.saving_interval),
                        is_adjusted: adjusted.contains(&month),
                    }
                };
                Ok(first.to(last).map(month).collect())
            })
            .await
    }

    /// How the saving of a farm in a month came about, down to the purchases.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for what is no month or has not begun; `NotFound` for a farm out of
    /// reach.
    pub async fn saving_account(
        &self,
        actor: &Actor,
        farm: Uuid,
        month: &str,
    ) -> Result<SavingAccount, AppError> {
        let visible = actor.task(Task::SavingsReport)?;
        let month = read_month(month, &actor.coop, self.now())?;
        let line = self.farm_saving(actor, farm, month).await?;
        let (actor, now) = (actor.clone(), self.now());
        self.store
            .read(move |conn| {
                let coop = &actor.coop;
                find_visible(conn, &actor, Kind::Farm, farm, &visible)?;
                let rows = farm_rows::farms(conn, coop.number, Some(&[farm]))?;
                let row = rows.first().ok_or(AppError::NotFound)?;
                let (as_of, basis, prices) = estimates::saving_basis(conn, coop, farm, now)?;
                let known = (basis.as_slice(), &prices);
                let mut enterprises = account(conn, coop, row, (month, now), known)?;
                for e in &mut enterprises {
                    let lines = line.iter().flat_map(|l| &l.enterprises);
                    let own = lines.into_iter().find(|l| l.enterprise == e.enterprise);
                    e.status = own.map(|l| l.status);
                    e.money = own.map(|l| l.money);
                }
                Ok(SavingAccount {
                    farm_id: farm,
                    farm: row.code.clone(),
                    month: wire::Month(month),
                    currency: coop.currency.clone(),
                    as_of,
                    enterprises,
                })
            })
            .await
    }

    /// Milk and eggs of a farm in the months up to `last`: litres per cow-day and eggs per
    /// hen-day, none where nothing was recorded.
    ///
    /// # Errors
    /// `Forbidden`; `NotFound` for a farm out of reach.
    pub async fn farm_output(
        &self,
        actor: &Actor,
        farm: Uuid,
        last: Month,
        count: i32,
    ) -> Result<Vec<Output>, AppError> {
        let visible = actor.task(Task::SavingsReport)?;
        let actor = actor.clone();
        let first = last.plus(1 - count.clamp(1, FARM_MONTHS_MAX));
        self.store
            .read(move |conn| {
                find_visible(conn, &actor, Kind::Farm, farm, &visible)?;
                let rows = report_rows::farm_sums(conn, actor.coop.number, farm, (first, last))?;
                let sums: HashMap<Month, Sums> = rows.into_iter().collect();
                let output = |month: Month| {
                    let of = |measure: Measure| {
                        sums.get(&month)?.get(measure.index()).copied().map(real)
                    };
                    // A month whose animals gave nothing is one of 0; without animals it is none.
                    let over = |top, bottom| Some(of(top)? / of(bottom).filter(|n| *n > 0.0)?);
                    let litres = over(Measure::MilkMl, Measure::CowDays).map(|ml| ml / 1000.0);
                    let eggs = over(Measure::Eggs, Measure::HenDays);
                    Output { month, litres, eggs }
                };
                Ok(first.to(last).map(output).collect())
            })
            .await
    }
}

/// A farm's saving of a month, currency units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FarmMonth {
    pub month: Month,
    /// Why there is a number or none; none of months closed by the earlier method.
    pub status: Option<Status>,
    /// Saving; none where there is no number.
    pub saving: Option<Decimal>,
    /// 95 % interval.
    pub interval: Option<Interval>,
    /// Whether it was adjusted after the month had been closed.
    pub is_adjusted: bool,
}

/// A farm's output of a month.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Output {
    pub month: Month,
    /// Litres per cow-day.
    pub litres: Option<f64>,
    /// Eggs per hen-day.
    pub eggs: Option<f64>,
}
