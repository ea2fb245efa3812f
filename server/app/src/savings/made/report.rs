//! The report of a month, made of the estimate and the month's facts.

use super::output::Prices;
use super::sums::Span;
use super::{Made, Status, is_there};
use crate::Coop;
use crate::error::AppError;
use crate::savings::area_names;
use std::collections::{BTreeMap, HashMap};
use traybook_answers::savings::{OutputChange, Spoiling, Wait, What};
use traybook_domain::Month;
use traybook_domain::effects::{MEASURES, Measure, Sums};
use traybook_domain::kinds::{gives_milk, lays_eggs};
use traybook_domain::time::start_of_day;
use traybook_reports::savings::{self, FarmInput, Given, Input, Report, Row, SumInput, whole};
use traybook_storage::records::farm_rows::FarmRow;
use traybook_storage::{Conn, records::changes, savings::report_rows};
use uuid::Uuid;

/// What other estimates say of a farm.
#[derive(Clone, Debug, Default)]
pub(crate) struct Extras {
    pub output_change: Option<OutputChange>,
    pub spoilage_status: Option<Spoiling>,
}

impl Made {
    /// The months whose reports are open, the running one last.
    pub fn open_months(&self) -> impl Iterator<Item = Month> {
        let first = self.past.last().map_or(self.axis.first, |last| last.plus(1));
        first.to(Month::of(self.axis.today))
    }

    /// The report of a month.
    pub fn report(
        &self,
        conn: &mut Conn,
        coop: &Coop,
        month: Month,
        extras: &HashMap<Uuid, Extras>,
    ) -> Result<Report, AppError> {
        let number = coop.number;
        let t = self.axis.at(month);
        let sums: HashMap<Uuid, Sums> =
            report_rows::sums(conn, number, month, None)?.into_iter().collect();
        let begins = |month: Month| start_of_day(month.first_day(), coop.zone).0;
        let span = (begins(month), begins(month.plus(1)));
        let unweighed: HashMap<Uuid, i64> =
            report_rows::fed_unweighed(conn, number, span, None)?.into_iter().collect();
        let prices = Prices::of(&sums);
        let mut farms = Vec::new();
        for (i, farm) in self.farms.iter().enumerate().filter(|(_, f)| is_there(f, month)) {
            let sums = sums.get(&farm.farm).copied().unwrap_or([0; MEASURES]);
            let extras = extras.get(&farm.farm).cloned().unwrap_or_default();
            let unweighed = unweighed.get(&farm.farm).copied().unwrap_or(0);
            let mut input = self.farm_input(i, month, (sums, unweighed), extras);
            for row in &mut input.rows {
                let output = self.output_of(farm.farm, row, &prices);
                if let Some(money) = &mut row.money {
                    money.output = output;
                }
            }
            farms.push(input);
        }
        let changes = self.changes(month);
        let names = area_names(conn, number)?;
        let guide = coop.guide(conn)?;
        let mut areas = self.areas(&names, t);
        for (area, sum) in &mut areas {
            let rows = farms.iter().filter(|f| f.area == *area);
            let rows = rows.flat_map(|f| f.rows.iter().map(|r| (f.farm, r)));
            sum.output = self.output_sum(rows, &prices, Some(*area));
        }
        let rows = farms.iter().flat_map(|f| f.rows.iter().map(|r| (f.farm, r)));
        let mut total = self.sum(coop.name.clone(), t, &|_| true);
        total.since_start = self.since_start().all;
        total.output = self.output_sum(rows, &prices, None);
        Ok(savings::report(Input {
            month,
            is_running: t.is_none_or(|t| !self.axis.is_over(t))
                && month >= Month::of(self.axis.today),
            cooperative: coop.name.clone(),
            currency: coop.currency.clone(),
            digits: coop.digits,
            fodder_dry_matter: guide.fodder_dry_matter(month.last_day()),
            farms,
            areas,
            total,
            overstated: self.overstated(),
            adjustments: changes.lines,
            settled_minor: changes.settled,
            earlier_method: self.restated(month),
            data_version: changes::counters(conn, number)?.change_seq,
        }))
    }

    fn farm_input(
        &self,
        i: usize,
        month: Month,
        (sums, fed_unweighed_trays): (Sums, i64),
        extras: Extras,
    ) -> FarmInput {
        let farm = self.farms.get(i).map(|f| (**f).clone());
        let costs = farm.as_ref().map(|f| self.costs.of(f.farm, month)).unwrap_or_default();
        let of = |f: fn(&FarmRow) -> Uuid| farm.as_ref().map(f).unwrap_or_default();
        let text = |f: fn(&FarmRow) -> &String| farm.as_ref().map(f).cloned().unwrap_or_default();
        FarmInput {
            farm: of(|f| f.farm),
            farm_code: text(|f| &f.code),
            member: of(|f| f.member),
            member_number: text(|f| &f.number),
            member_name: text(|f| &f.name),
            area: of(|f| f.area),
            sums,
            has_uncounted_group: self.uses.get(i).is_some_and(|u| u.has_uncounted_group),
            fed_unweighed_trays,
            fodder_minor: costs.seed.minor + costs.other + costs.depreciation,
            rows: self.report_rows(i, month, &sums),
            since_start: self.since_start().farms.get(i).copied().flatten(),
            output_change: extras.output_change,
            spoilage_status: extras.spoilage_status,
        }
    }

    /// The rows of a farm in a month.
    fn report_rows(&self, i: usize, month: Month, sums: &Sums) -> Vec<Row> {
        let (Some(rows), Some(of)) = (self.rows.get(i), self.uses.get(i)) else {
            return Vec::new();
        };
        let t = self.axis.at(month).filter(|_| !of.enterprises.is_empty());
        let Some(t) = t else { return self.outside(i, month).into_iter().collect() };
        let classes: Vec<&str> = of.enterprises.iter().map(|e| e.class.as_str()).collect();
        let mut made = Vec::new();
        for (row, e) in rows.iter().zip(&of.enterprises) {
            let Some(cell) = row.cells.get(t).copied().flatten() else { continue };
            let days = e.animal_days.as_ref().and_then(|d| d.get(t)).copied();
            // Before the first count nothing is known, which is no 0.
            let days = days.filter(|_| self.is_counted(e, t));
            let asks = !cell.status.has_number()
                && !matches!(cell.status, Status::NotStarted | Status::StartMonth);
            let mut waits = if asks { self.waits(i, e, t) } else { Vec::new() };
            if waits.is_empty() && cell.status == Status::Missing {
                // No feed is in a ration, and none was bought often: nothing says what they eat.
                let enterprise = Some(row.class.clone());
                waits.push(Wait { enterprise, ..Wait::of(What::Baseline) });
            }
            made.push(Row {
                enterprise: row.class.clone(),
                status: cell.status,
                waits,
                animal_days: days.map(whole),
                money: cell.money,
                given: given(&row.class, &classes, sums),
                is_adjusted: cell.is_adjusted,
            });
        }
        made
    }

    /// A month before anything was recorded, or a farm without any animals.
    fn outside(&self, i: usize, month: Month) -> Option<Row> {
        let started = self.farms.get(i)?.started_on.map(Month::of);
        let status = match started {
            Some(start) if start <= month && month >= Month::of(self.axis.today) => Status::Running,
            Some(start) if start == month => Status::StartMonth,
            Some(start) if start < month => Status::Missing,
            _ => Status::NotStarted,
        };
        let asks = matches!(status, Status::Missing | Status::Running);
        Some(Row {
            enterprise: String::new(),
            status,
            waits: if asks { vec![Wait::of(What::HeadCount)] } else { Vec::new() },
            animal_days: None,
            money: None,
            given: None,
            is_adjusted: true,
        })
    }

    fn areas(&self, names: &BTreeMap<Uuid, String>, t: Option<usize>) -> BTreeMap<Uuid, SumInput> {
        let has_farm = |area: &Uuid| self.farms.iter().any(|f| f.area == *area);
        let of = |(area, name): (&Uuid, &String)| {
            let is_of = |i: usize| self.farms.get(i).is_some_and(|f| f.area == *area);
            let since_start = self.since_start().areas.get(area).copied();
            (*area, SumInput { since_start, ..self.sum(name.clone(), t, &is_of) })
        };
        names.iter().filter(|(area, _)| has_farm(area)).map(of).collect()
    }

    fn sum(&self, name: String, t: Option<usize>, is_of: &dyn Fn(usize) -> bool) -> SumInput {
        SumInput {
            name,
            half: t.and_then(|t| self.half(is_of, Span::Month(t))),
            output: None,
            since_start: None,
        }
    }

    /// Rations that were stated too high or too low, beyond chance.
    fn overstated(&self) -> Vec<(String, f64, i64)> {
        let of = |p: &super::Panel| {
            let shared = &p.savings.shared;
            let percent = (shared.overstatement.exp() - 1.0) * 100.0;
            let farms = i64::try_from(shared.farms_with_both).unwrap_or(i64::MAX);
            let line = (p.class.clone(), (percent * 10.0).round() / 10.0, farms);
            shared.is_ration_off.then_some(line)
        };
        self.panels.all.iter().filter_map(of).collect()
    }
}

/// Milk or eggs of a class, where no other class of the farm can have given them.
fn given(class: &str, classes: &[&str], sums: &Sums) -> Option<Given> {
    let of = |m: Measure| sums.get(m.index()).copied().unwrap_or(0);
    let is_only =
        |gives: fn(&str) -> bool| gives(class) && classes.iter().filter(|c| gives(c)).count() == 1;
    if is_only(gives_milk) && of(Measure::MilkDays) > 0 {
        return Some(Given::Milk(of(Measure::MilkMl)));
    }
    (is_only(lays_eggs) && of(Measure::EggDays) > 0).then(|| Given::Eggs(of(Measure::Eggs)))
}
