//! Indicators that funders ask for: people and farms by sex and age, and what was saved. No names,
//! and no figure of few people.

use super::programme::{age_band, cooperative, readable};
use super::read_month;
use super::reports::Reports;
use crate::error::AppError;
use crate::estimates::programme_output;
use crate::{Actor, App, Coop, costly};
use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;
use traybook_answers::estimates::Enterprise;
use traybook_answers::programme::{
    CooperativeIndicators, Division, GroupFigures, GroupTotals, Indicator, IndicatorLine,
    Indicators, NotShown, TOGETHER,
};
use traybook_answers::savings::Interval;
use traybook_answers::{Decimal, wire};
use traybook_domain::Month;
use traybook_domain::authz::{Role, Task};
use traybook_domain::kinds::SEXES;
use traybook_domain::limits;
use traybook_domain::small_groups::{self, MEMBERS_MIN};
use traybook_domain::value::Instant;
use traybook_storage::farm_rows::{self, FarmRow};
use traybook_storage::{Conn, months, report_rows, training_rows};
use uuid::Uuid;

/// Months without a new batch after which a farm has dropped out.
pub const DROPPED_MONTHS: i32 = 3;
/// Months before these in which it grew.
pub const GREW_MONTHS: i32 = 12;

/// What all groups of an indicator are called.
const ALL: &str = "all";

impl App {
    /// The same as [`App::indicators`], months as texts.
    ///
    /// # Errors
    /// As there.
    pub async fn indicators_between(
        &self,
        actor: &Actor,
        (from, month): (&str, &str),
    ) -> Result<Indicators, AppError> {
        let read = |text| read_month(text, &actor.coop, self.now());
        let from = read(from).map_err(|e| e.of_field("from"))?;
        self.indicators(actor, (from, read(month)?)).await
    }

    /// Indicators over some months, of the co-operatives that a person may read.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for months that are not in order.
    pub async fn indicators(
        &self,
        actor: &Actor,
        (from, month): (Month, Month),
    ) -> Result<Indicators, AppError> {
        actor.task(Task::ProgrammeTotals)?;
        let most = limits::TOTALS_MONTHS_MAX;
        if from > month || month.number() - from.number() >= most {
            let detail = format!("give the last month or one up to {} before it", most - 1);
            return Err(AppError::field("from", "range", detail));
        }
        let _costly = costly::begin(actor)?;
        let (actor, kept, now) = (actor.clone(), Arc::clone(&self.reports), self.now());
        self.store
            .read(move |conn| {
                let mut cooperatives = Vec::new();
                for coop in readable(conn, &actor)? {
                    let of = Asked { coop: &coop, from, month, now, role: actor.role };
                    cooperatives.push(of.read(conn, &kept)?);
                }
                let (from, month) = (wire::Month(from), wire::Month(month));
                Ok(Indicators { from, month, members_min: MEMBERS_MIN, cooperatives })
            })
            .await
    }
}

/// What is asked of one co-operative.
struct Asked<'a> {
    coop: &'a Coop,
    from: Month,
    month: Month,
    now: Instant,
    role: Role,
}

/// Things counted by group, each with the people behind them.
#[derive(Default)]
struct Tally(BTreeMap<String, (HashSet<Uuid>, i64)>);

impl Tally {
    /// By sex: those who are none are said, too.
    fn by_sex() -> Self {
        Self(SEXES.iter().map(|sex| ((*sex).to_owned(), Default::default())).collect())
    }

    fn add(&mut self, group: &str, person: Uuid) {
        let cell = self.0.entry(group.to_owned()).or_default();
        cell.0.insert(person);
        cell.1 += 1;
    }

    fn hidden(&self) -> small_groups::Hidden {
        let people: Vec<usize> = self.0.values().map(|(people, _)| people.len()).collect();
        small_groups::hide(&people, None)
    }

    fn count(&self) -> i64 {
        self.0.values().map(|(_, count)| count).sum()
    }

    /// The groups; those that are hidden are one line together, where there are several.
    fn lines(&self, indicator: Indicator) -> Vec<IndicatorLine> {
        let hidden = self.hidden();
        let groups = self.0.iter().zip(&hidden.cells);
        let of = |((name, (_, count)), hide): ((&String, &(HashSet<Uuid>, i64)), &bool)| {
            shown(indicator, name, (!hide).then_some(*count))
        };
        let mut lines: Vec<IndicatorLine> = groups.clone().map(of).collect();
        let inside: Vec<i64> = groups.filter(|(_, hide)| **hide).map(|((_, c), _)| c.1).collect();
        let is_part = inside.len() > 1 && inside.len() < self.0.len();
        if is_part && !hidden.total {
            lines.push(shown(indicator, TOGETHER, Some(inside.iter().sum())));
        }
        lines
    }

    fn total(&self, indicator: Indicator) -> IndicatorLine {
        shown(indicator, ALL, (!self.hidden().total).then(|| self.count()))
    }

    /// Women among all, per cent: hidden where their number is.
    fn women(&self, indicator: Indicator) -> IndicatorLine {
        let hidden = self.hidden();
        let at = self.0.keys().position(|sex| sex == "female");
        let is_hidden = hidden.total || at.and_then(|at| hidden.cells.get(at)) == Some(&true);
        let women = self.0.get("female").map_or(0, |(_, count)| *count);
        let all = self.count();
        let percent = traybook_domain::money::mul_div(women, 1_000, all);
        let mut line = IndicatorLine {
            value: percent.filter(|_| !is_hidden).map(|p| Decimal::new(p, 1)),
            ..shown(indicator, ALL, None)
        };
        line.not_shown = match (line.value, all) {
            (Some(_), _) => None,
            (None, 0) => Some(NotShown::NotKnown),
            (None, _) => Some(NotShown::FewPeople),
        };
        line
    }
}

fn shown(indicator: Indicator, group: &str, count: Option<i64>) -> IndicatorLine {
    let not_shown = count.is_none().then_some(NotShown::FewPeople);
    let (value, group) = (count.map(|n| Decimal::new(n, 0)), group.to_owned());
    IndicatorLine { indicator, group, month: None, value, interval: None, not_shown }
}

impl Asked<'_> {
    fn read(&self, conn: &mut Conn, kept: &Reports) -> Result<CooperativeIndicators, AppError> {
        let number = self.coop.number;
        let all = farm_rows::farms(conn, number, None)?;
        let farms: HashMap<Uuid, &FarmRow> =
            all.iter().filter(|f| f.consent).map(|f| (f.farm, &**f)).collect();
        let mut lines = self.people(conn)?;
        lines.extend(self.farms(conn, &farms)?);
        for at in self.from.number()..=self.month.number() {
            if let Some(month) = Month::from_number(at) {
                lines.extend(self.output(conn, kept, month)?);
            }
        }
        lines.sort_by_key(|l| l.indicator);
        for (enterprise, indicator) in [
            (Enterprise::Milk, Indicator::MilkChangePercent),
            (Enterprise::Eggs, Indicator::EggChangePercent),
        ] {
            lines.push(self.change(conn, &farms, enterprise, indicator)?);
        }
        let closed = months::list(conn, number)?;
        let is_in = |m: &Month| *m >= self.from && *m <= self.month;
        let closed = closed.iter().filter(|(m, ..)| is_in(m)).count();
        let closed = i64::try_from(closed).unwrap_or(0);
        lines.push(shown(Indicator::MonthsReported, ALL, Some(closed)));
        let (cooperative, currency) = (self.coop.name.clone(), self.coop.currency.clone());
        Ok(CooperativeIndicators { cooperative, currency, lines })
    }

    /// People trained: each once, however often they came.
    fn people(&self, conn: &mut Conn) -> Result<Vec<IndicatorLine>, AppError> {
        let days = (self.from.first_day(), self.month.last_day());
        let (mut sexes, mut ages) = (Tally::by_sex(), Tally::default());
        for person in training_rows::trained(conn, self.coop.number, days)? {
            sexes.add(&person.sex, person.member);
            // The age band that is not stated is not the sex that is not stated.
            let band = age_band(person.birth_year, self.month);
            let band = if band == "not_stated" { "age_not_stated" } else { band };
            ages.add(band, person.member);
        }
        let trained = Indicator::PeopleTrained;
        let mut lines = vec![sexes.total(trained)];
        lines.extend(sexes.lines(trained));
        // Groups hidden by sex and by age are told apart by their names alone: age has its own.
        lines.extend(ages.lines(trained).into_iter().map(|mut line| {
            if line.group == TOGETHER {
                "ages_together".clone_into(&mut line.group);
            }
            line
        }));
        lines.push(sexes.women(Indicator::WomenTrainedPercent));
        Ok(lines)
    }

    fn farms(
        &self,
        conn: &mut Conn,
        farms: &HashMap<Uuid, &FarmRow>,
    ) -> Result<Vec<IndicatorLine>, AppError> {
        let silent = self.month.plus(1 - DROPPED_MONTHS);
        let first = silent.plus(-GREW_MONTHS).min(self.from);
        let rows = report_rows::active(conn, self.coop.number, (first, self.month))?;
        let mut sets: [HashSet<Uuid>; 4] = Default::default();
        let [growing, active, grew, still] = &mut sets;
        for (farm, month, trays) in rows {
            if month >= self.from {
                active.insert(farm);
                if trays > 0 {
                    growing.insert(farm);
                }
            }
            if trays > 0 && month >= silent {
                still.insert(farm);
            } else if trays > 0 && month >= silent.plus(-GREW_MONTHS) {
                grew.insert(farm);
            }
        }
        let dropped: HashSet<Uuid> = grew.difference(still).copied().collect();
        let tally = |of: &HashSet<Uuid>| {
            let mut tally = Tally::by_sex();
            for farm in of.iter().filter_map(|farm| farms.get(farm)) {
                tally.add(&farm.sex, farm.member);
            }
            tally
        };
        let mut lines = Vec::new();
        for (indicator, of) in [
            (Indicator::FarmsGrowing, &*growing),
            (Indicator::FarmsActive, &*active),
            (Indicator::FarmsDroppedOut, &dropped),
        ] {
            let tally = tally(of);
            lines.push(tally.total(indicator));
            lines.extend(tally.lines(indicator));
            if indicator == Indicator::FarmsGrowing {
                lines.push(tally.women(Indicator::WomenGrowingPercent));
            }
        }
        Ok(lines)
    }

    /// Saving and output of a month. Months are not added: their intervals do not add.
    fn output(
        &self,
        conn: &mut Conn,
        kept: &Reports,
        month: Month,
    ) -> Result<Vec<IndicatorLine>, AppError> {
        let asked = (month, Division::Cooperative, self.now);
        let totals = cooperative(conn, self.coop, kept, asked)?;
        let figures = totals.groups.iter().find_map(|g| match g {
            GroupTotals::Shown(figures) => Some(&**figures),
            GroupTotals::Hidden(_) => None,
        });
        let line = |indicator, value: fn(&GroupFigures) -> Option<Decimal>| IndicatorLine {
            month: Some(wire::Month(month)),
            value: figures.and_then(value),
            interval: figures
                .filter(|_| indicator == Indicator::Saving)
                .and_then(|f| f.saving_interval),
            not_shown: figures.and_then(value).is_none().then_some(NotShown::FewPeople),
            ..shown(indicator, ALL, None)
        };
        Ok(vec![
            line(Indicator::Saving, |f| f.saving),
            line(Indicator::LitresPerCowDay, |f| f.litres_per_cow_day),
            line(Indicator::HenDayPercent, |f| f.hen_day_percent),
        ])
    }

    /// The change in output since the start. It is estimated of all farms together, so those who
    /// read programmes see it only where all of them agreed; the manager reads it anyway.
    fn change(
        &self,
        conn: &mut Conn,
        agreed: &HashMap<Uuid, &FarmRow>,
        enterprise: Enterprise,
        indicator: Indicator,
    ) -> Result<IndicatorLine, AppError> {
        let mut line = shown(indicator, ALL, None);
        let Some((change, farms)) = programme_output(conn, self.coop.number, enterprise)? else {
            line.not_shown = Some(NotShown::NotKnown);
            return Ok(line);
        };
        let is_agreed = farms.iter().all(|f| agreed.contains_key(f));
        let members: HashSet<Uuid> =
            farms.iter().filter_map(|f| agreed.get(f)).map(|f| f.member).collect();
        let tenths = |v: f64| Decimal::new(traybook_reports::savings::whole(v * 10.0), 1);
        line.not_shown = match change.percent {
            None => Some(NotShown::NotKnown),
            Some(_) if members.len() < MEMBERS_MIN => Some(NotShown::FewPeople),
            Some(_) if self.role != Role::Manager && !is_agreed => Some(NotShown::NotAgreed),
            Some(_) => None,
        };
        if line.not_shown.is_none() {
            line.value = change.percent.map(tenths);
            let ends = change.low.zip(change.high);
            line.interval =
                ends.map(|(low, high)| Interval { low: tenths(low), high: tenths(high) });
        }
        Ok(line)
    }
}
