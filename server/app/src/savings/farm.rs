//! One farm over months: its savings, as they were reported and, where a month is not closed, as
//! the records stand; its milk and eggs.

use super::load::load;
use crate::error::AppError;
use crate::records::find_visible;
use crate::{Actor, App};
use std::collections::{HashMap, HashSet};
use traybook_domain::authz::Task;
use traybook_domain::effects::{Measure, Sums};
use traybook_domain::limits::FARM_MONTHS_MAX;
use traybook_domain::value::real;
use traybook_domain::{Kind, Month};
use traybook_reports::savings::{self, Line};
use traybook_storage::records::Visible;
use traybook_storage::{months, report_rows};
use uuid::Uuid;

impl App {
    /// The savings of a farm in the months up to `last`, in minor units: none where there is no
    /// number.
    ///
    /// # Errors
    /// `Forbidden`; `NotFound` for a farm out of reach.
    pub async fn farm_savings(
        &self,
        actor: &Actor,
        farm: Uuid,
        last: Month,
        count: i32,
    ) -> Result<Vec<(Month, Option<i64>)>, AppError> {
        let visible = actor.task(Task::SavingsReport)?;
        let actor = actor.clone();
        let first = last.plus(1 - count.clamp(1, FARM_MONTHS_MAX));
        self.store
            .read(move |conn| {
                let number = actor.coop.number;
                let record = find_visible(conn, &actor, Kind::Farm, farm, &visible)?;
                let member = Kind::Farm.spec().get(&record.values, "member_id").as_id();
                let own = member.map_or(Visible::All, Visible::Member);
                let closed: HashSet<Month> =
                    months::list(conn, number)?.into_iter().map(|c| c.0).collect();
                let reported: HashMap<Month, Option<i64>> =
                    months::reported_of_farm(conn, number, farm, (first, last))?
                        .into_iter()
                        .collect();
                let mut out = Vec::new();
                for month in first.to(last) {
                    let saving = if closed.contains(&month) {
                        reported.get(&month).copied().flatten()
                    } else {
                        let report = savings::report(load(conn, &actor.coop, month, &own)?);
                        let line = report.lines.iter().find(|l| l.farm.farm == farm);
                        line.and_then(Line::saving)
                    };
                    out.push((month, saving));
                }
                Ok(out)
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

/// A farm's output of a month.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Output {
    /// Month.
    pub month: Month,
    /// Litres per cow-day.
    pub litres: Option<f64>,
    /// Eggs per hen-day.
    pub eggs: Option<f64>,
}
