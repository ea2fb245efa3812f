//! Indicators that funders ask for: people and farms by sex and age, and what was saved. No names,
//! and no figure of few people.

use super::programme::{age_band, cooperative, counted as counted_farms, readable};
use super::read_month;
use super::reports::Reports;
use crate::error::AppError;
use crate::estimates::{ProgrammeOutput, programme_outputs};
use crate::{Actor, App, Coop, costly};
use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;
use traybook_answers::savings::Interval;
use traybook_answers::savings::programme::{
    CooperativeIndicators, Division, GroupFigures, GroupTotals, Indicator, IndicatorLine,
    Indicators, NotShown, TOGETHER,
};
use traybook_answers::{Decimal, wire};
use traybook_domain::Month;
use traybook_domain::kinds::SEXES;
use traybook_domain::limits;
use traybook_domain::people::authz::{Role, Task};
use traybook_domain::savings::small_groups::{Hidden, MEMBERS_MIN};
use traybook_domain::savings::small_years::{Item, Period, Quarters, hide_period};
use traybook_domain::value::Instant;
use traybook_storage::Conn;
use traybook_storage::records::farm_rows::FarmRow;
use traybook_storage::records::training_rows;
use traybook_storage::records::training_rows::Trained;
use traybook_storage::savings::{months, report_rows};
use uuid::Uuid;

/// Months without a new batch after which a farm has dropped out.
pub const DROPPED_MONTHS: i32 = 3;
/// Months before these in which it grew.
pub const GREW_MONTHS: i32 = 12;

/// What all groups of an indicator are called.
const ALL: &str = "all";

/// Years of which the periods that may be asked are offered: this one and the last.
const PERIOD_YEARS: i32 = 2;
/// A period that stands beside no other: everything in it counts as of one quarter.
const ANY: Period = Period::Quarter(0);
const ALWAYS: Quarters = ANY.quarters();
/// What a programme reader may ask for.
const QUARTERS_ONLY: &str = "give a quarter of a year that is over, such as 2026-04 to 2026-06, or \
    a year up to the end of such a quarter, such as 2026-01 to 2026-06";

/// Farms with the quarters in which they count.
type Farms = HashMap<Uuid, Quarters>;

impl App {
    /// The same as [`App::indicators`], months as texts.
    pub async fn indicators_between(
        &self,
        actor: &Actor,
        (from, month): (&str, &str),
    ) -> Result<Indicators, AppError> {
        let read = |text| read_month(text, &actor.coop, self.now());
        let from = read(from).map_err(|e| e.of_field("from"))?;
        self.indicators(actor, (from, read(month)?)).await
    }

    /// The periods that a programme reader may ask for, the latest year first: quarters that are
    /// over and, from the second on, the year so far. None where any months may be asked.
    ///
    /// # Errors
    /// `Forbidden`.
    pub fn indicator_periods(
        &self,
        actor: &Actor,
    ) -> Result<Option<Vec<(Month, Month)>>, AppError> {
        actor.task(Task::ProgrammeTotals)?;
        if actor.role != Role::ProgrammeReader {
            return Ok(None);
        }
        let running = Month::of(actor.coop.today(self.now()));
        let of_year = |back: i32| {
            let year = Period::ALL.map(|p| p.months(running.plus(-12 * back)));
            let mut over: Vec<_> = year.into_iter().filter(|(_, to)| *to < running).collect();
            over.sort_by_key(|(from, to)| std::cmp::Reverse((*to, *from)));
            over
        };
        Ok(Some((0..PERIOD_YEARS).flat_map(of_year).collect()))
    }

    /// Indicators over some months, of the co-operatives that a person may read. Who reads
    /// programmes asks for quarters of one year that are over: one, or the first of them. With any
    /// months two periods that overlap would give a month, and what few people did in it.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for months that are not in order, or that may not be asked.
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
        let period = if actor.role == Role::ProgrammeReader {
            let is_over = month < Month::of(actor.coop.today(self.now()));
            let period = Period::of(from, month).filter(|_| is_over);
            period.ok_or_else(|| AppError::field("month", "quarters", QUARTERS_ONLY))?
        } else {
            ANY
        };
        let _costly = costly::begin(actor)?;
        let (actor, kept, now) = (actor.clone(), Arc::clone(&self.reports), self.now());
        self.store
            .read(move |conn| {
                let mut cooperatives = Vec::new();
                for coop in readable(conn, &actor)? {
                    let of = Asked { coop: &coop, from, month, period, now, role: actor.role };
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
    period: Period,
    now: Instant,
    role: Role,
}

/// Things counted by group, each with the person behind it and the quarters in which it counts.
struct Tally {
    groups: BTreeMap<String, Vec<(Uuid, Quarters)>>,
    period: Period,
}

impl Tally {
    const fn of(period: Period) -> Self {
        Self { groups: BTreeMap::new(), period }
    }

    /// By sex: those who are none are said, too.
    fn by_sex(period: Period) -> Self {
        let groups = SEXES.iter().map(|sex| ((*sex).to_owned(), Vec::new())).collect();
        Self { groups, period }
    }

    fn add(&mut self, group: &str, person: Uuid, quarters: Quarters) {
        self.groups.entry(group.to_owned()).or_default().push((person, quarters));
    }

    fn hidden(&self) -> Hidden {
        let of = |(group, things): (usize, &Vec<(Uuid, Quarters)>)| {
            let item = move |(person, quarters): &(Uuid, Quarters)| Item {
                group,
                person: *person,
                quarters: *quarters,
            };
            things.iter().map(item).collect::<Vec<_>>()
        };
        let items: Vec<Item<Uuid>> = self.groups.values().enumerate().flat_map(of).collect();
        hide_period(&items, self.groups.len(), self.period)
    }

    fn count(&self) -> i64 {
        self.groups.values().map(|things| counted(things.len())).sum()
    }

    /// The groups; those that are hidden are one line together, where there are several.
    fn lines(&self, indicator: Indicator) -> Vec<IndicatorLine> {
        let hidden = self.hidden();
        let counts = self.groups.iter().map(|(name, things)| (name, counted(things.len())));
        let groups = counts.zip(&hidden.cells);
        let of = |((name, count), hide): ((&String, i64), &bool)| {
            shown(indicator, name, (!hide).then_some(count))
        };
        let mut lines: Vec<IndicatorLine> = groups.clone().map(of).collect();
        let inside: Vec<i64> = groups.filter(|(_, hide)| **hide).map(|((_, c), _)| c).collect();
        let is_part = inside.len() > 1 && inside.len() < self.groups.len();
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
        let at = self.groups.keys().position(|sex| sex == "female");
        let is_hidden = hidden.total || at.and_then(|at| hidden.cells.get(at)) == Some(&true);
        let women = self.groups.get("female").map_or(0, |things| counted(things.len()));
        let all = self.count();
        let percent = traybook_domain::savings::money::mul_div(women, 1_000, all);
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

fn counted(of: usize) -> i64 {
    i64::try_from(of).unwrap_or(i64::MAX)
}

fn shown(indicator: Indicator, group: &str, count: Option<i64>) -> IndicatorLine {
    let not_shown = count.is_none().then_some(NotShown::FewPeople);
    let (value, group) = (count.map(|n| Decimal::new(n, 0)), group.to_owned());
    IndicatorLine { indicator, group, month: None, value, interval: None, not_shown }
}

impl Asked<'_> {
    fn read(&self, conn: &mut Conn, kept: &Reports) -> Result<CooperativeIndicators, AppError> {
        let number = self.coop.number;
        let agreed = counted_farms(conn, number)?;
        let farms: HashMap<Uuid, &FarmRow> = agreed.iter().map(|f| (f.farm, &**f)).collect();
        let mut lines = self.people(conn)?;
        lines.extend(self.farms(conn, &farms)?);
        for at in self.from.number()..=self.month.number() {
            if let Some(month) = Month::from_number(at) {
                lines.extend(self.output(conn, kept, month)?);
            }
        }
        lines.sort_by_key(|l| l.indicator);
        let outputs = programme_outputs(conn, number)?;
        for (at, indicator) in
            [Indicator::MilkChangePercent, Indicator::EggChangePercent].into_iter().enumerate()
        {
            let of = outputs.as_ref().and_then(|both| both.get(at));
            lines.push(self.change(of, &farms, indicator));
        }
        let closed = months::list(conn, number)?;
        let is_in = |m: &Month| *m >= self.from && *m <= self.month;
        let closed = closed.iter().filter(|(m, ..)| is_in(m)).count();
        lines.push(shown(Indicator::MonthsReported, ALL, Some(counted(closed))));
        let (cooperative, currency) = (self.coop.name.clone(), self.coop.currency.clone());
        Ok(CooperativeIndicators { cooperative, currency, lines })
    }

    /// The parts of the period that are looked at one by one, with the quarter of each.
    fn parts(&self) -> Vec<(Quarters, Month, Month)> {
        let Period::SoFar(count) = self.period else {
            return vec![(ALWAYS, self.from, self.month)];
        };
        let quarters = (0..count).map(Period::Quarter);
        let of = |p: Period| {
            let (from, to) = p.months(self.from);
            (p.quarters(), from, to)
        };
        quarters.map(of).collect()
    }

    /// People trained: each once, however often they came.
    fn people(&self, conn: &mut Conn) -> Result<Vec<IndicatorLine>, AppError> {
        let mut people: BTreeMap<Uuid, (Trained, Quarters)> = BTreeMap::new();
        for (quarter, from, to) in self.parts() {
            let days = (from.first_day(), to.last_day());
            for person in training_rows::trained(conn, self.coop.number, days)? {
                people.entry(person.member).or_insert((person, 0)).1 |= quarter;
            }
        }
        let (mut sexes, mut ages) = (Tally::by_sex(self.period), Tally::of(self.period));
        for (person, quarters) in people.values() {
            sexes.add(&person.sex, person.member, *quarters);
            // The age band that is not stated is not the sex that is not stated.
            let band = age_band(person.birth_year, self.month);
            let band = if band == "not_stated" { "age_not_stated" } else { band };
            ages.add(band, person.member, *quarters);
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
        let bits = |(from, to): (Month, Month)| {
            let months = from.number().max(first.number())..=to.number();
            months.fold(0_i64, |bits, at| bits | 1 << (at - first.number()))
        };
        let parts = self.parts().into_iter().map(|(quarter, from, to)| (quarter, bits((from, to))));
        let parts: Vec<(Quarters, i64)> = parts.collect();
        let (late, before) =
            (bits((silent, self.month)), bits((silent.plus(-GREW_MONTHS), silent.plus(-1))));
        let (mut growing, mut active, mut dropped) = (Farms::new(), Farms::new(), Farms::new());
        for row in rows {
            let of = |months: i64| {
                let met = parts.iter().filter(|(_, part)| part & months != 0);
                met.fold(None, |all: Option<Quarters>, (quarter, _)| {
                    Some(all.unwrap_or_default() | quarter)
                })
            };
            active.extend(of(row.recorded).map(|quarters| (row.farm, quarters)));
            growing.extend(of(row.grew).map(|quarters| (row.farm, quarters)));
            if row.grew & late == 0 && row.grew & before != 0 {
                // As of the last month: of a year so far the same as of its last quarter.
                dropped.insert(row.farm, ALWAYS);
            }
        }
        let tally = |of: &Farms, period: Period| {
            let mut tally = Tally::by_sex(period);
            for (farm, quarters) in of {
                if let Some(farm) = farms.get(farm) {
                    tally.add(&farm.sex, farm.member, *quarters);
                }
            }
            tally
        };
        let mut lines = Vec::new();
        for (indicator, of, period) in [
            (Indicator::FarmsGrowing, &growing, self.period),
            (Indicator::FarmsActive, &active, self.period),
            (Indicator::FarmsDroppedOut, &dropped, ANY),
        ] {
            let tally = tally(of, period);
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
        output: Option<&ProgrammeOutput>,
        agreed: &HashMap<Uuid, &FarmRow>,
        indicator: Indicator,
    ) -> IndicatorLine {
        let mut line = shown(indicator, ALL, None);
        let Some((change, farms)) = output else {
            line.not_shown = Some(NotShown::NotKnown);
            return line;
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
        line
    }
}
