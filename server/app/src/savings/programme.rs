//! Totals over co-operatives for partners and funders: no names, no small groups.

use super::made::Halves;
use super::report::Reader;
use crate::error::AppError;
use crate::estimates::Figures;
use crate::savings::{FarmFacts, Reports, area_names, load, read_month};
use crate::{Actor, App, Coop};
use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;
use traybook_answers::programme::{
    CooperativeTotals, Division, GroupFigures, GroupTotals, HiddenGroup, ProgrammeTotals,
};
use traybook_answers::savings::{FarmLine, Interval};
use traybook_answers::{Decimal, wire};
use traybook_domain::Month;
use traybook_domain::authz::{Role, Task};
use traybook_domain::effects::Measure;
use traybook_domain::money::mul_div;
use traybook_domain::value::Instant;
use traybook_storage::farm_rows::{self, FarmRow};
use traybook_storage::records::Visible;
use traybook_storage::{Conn, accounts, snapshots};
use uuid::Uuid;

/// Fewest members that are shown as a group.
pub const MEMBERS_MIN: usize = 5;

impl App {
    /// Totals of a month, divided by area, sex or age band. A group of fewer than five members is
    /// hidden, and with it the next smallest, so that it can not be found by subtraction; so is
    /// every figure that comes from fewer than five members of a group. Members who have not agreed to be counted are left out.
    ///
    /// # Errors
    /// `Forbidden`, `Invalid`.
    pub async fn programme_totals(
        &self,
        actor: &Actor,
        month: &str,
        by: &str,
    ) -> Result<ProgrammeTotals, AppError> {
        actor.task(Task::ProgrammeTotals)?;
        let month = read_month(month, &actor.coop, self.now())?;
        let by = Division::parse(by).ok_or_else(|| {
            let known: Vec<&str> = Division::ALL.iter().map(|d| d.text()).collect();
            AppError::field("by", "choice", format!("give one of: {}", known.join(", ")))
        })?;
        let (actor, kept, now) = (actor.clone(), Arc::clone(&self.reports), self.now());
        self.store
            .read(move |conn| {
                let mut cooperatives = Vec::new();
                for coop in readable(conn, &actor)? {
                    cooperatives.push(cooperative(conn, &coop, &kept, (month, by, now))?);
                }
                let (month, members_min) = (wire::Month(month), MEMBERS_MIN);
                Ok(ProgrammeTotals { month, by, members_min, cooperatives })
            })
            .await
    }
}

/// The co-operatives whose totals a person may read: those in which the password of this sign-in
/// opens a programme reader, else the own one.
fn readable(conn: &mut Conn, actor: &Actor) -> Result<Vec<Coop>, AppError> {
    let (Role::ProgrammeReader, Some(family)) = (actor.role, actor.family) else {
        return Ok(vec![actor.coop.clone()]);
    };
    let mut coops = Vec::new();
    for m in accounts::people_of(conn, family)? {
        let person = match Actor::load(conn, m.coop, m.cooperative, m.person) {
            Ok(person) => person,
            Err(AppError::Unauthenticated) => continue,
            Err(e) => return Err(e),
        };
        if person.role == Role::ProgrammeReader {
            coops.push(person.coop);
        }
    }
    Ok(coops)
}

/// Sums of a group, each with the members it comes from.
#[derive(Default)]
struct Cell {
    members: HashSet<Uuid>,
    saving: (HashSet<Uuid>, i64),
    /// Half width of its 95 % interval, minor units.
    half: Option<i64>,
    milk: (HashSet<Uuid>, i64, i64),
    eggs: (HashSet<Uuid>, i64, i64),
    trays: (HashSet<Uuid>, i64, i64),
    fed: (HashSet<Uuid>, i64),
    unweighed: (HashSet<Uuid>, i64),
}

fn cooperative(
    conn: &mut Conn,
    coop: &Coop,
    kept: &Reports,
    (month, by, now): (Month, Division, Instant),
) -> Result<CooperativeTotals, AppError> {
    let visible = &Visible::All;
    let report = Reader { coop, kept, visible, now }.read(conn, month)?;
    let lines: HashMap<Uuid, &FarmLine> = report.farms.iter().map(|l| (l.farm_id, l)).collect();
    let kept = match snapshots::of_month(conn, coop.number, month)? {
        // A month that was never made is made on reading, its intervals too.
        None if !report.is_closed => {
            Some(Figures::make(conn, coop, now)?.month(conn, coop, month)?)
        }
        kept => kept,
    };
    let halves: Halves =
        kept.and_then(|h| serde_json::from_str(&h.divisions).ok()).unwrap_or_default();
    let halves = halves.get(by.text());
    let names = area_names(conn, coop.number)?;
    let all = farm_rows::farms(conn, coop.number, None)?;
    let farms: HashMap<Uuid, &FarmRow> = all.iter().map(|f| (f.farm, &**f)).collect();
    let mut cells: BTreeMap<String, Cell> = BTreeMap::new();
    for facts in load(conn, coop, month, visible)? {
        let Some(farm) = farms.get(&facts.farm).filter(|f| f.consent) else { continue };
        let key = group(farm, by, &names, month);
        let half = halves.and_then(|h| h.get(&key)).copied();
        let cell = cells.entry(key).or_default();
        cell.half = half;
        cell.add(farm.member, &facts);
        if let Some(line) = lines.get(&facts.farm) {
            cell.add_saving(farm.member, line, coop.digits);
        }
    }
    let hidden = hide(&cells);
    let shown = |(name, cell): (&String, &Cell)| match hidden.contains(name.as_str()) {
        true => GroupTotals::Hidden(HiddenGroup { group: name.clone(), is_hidden: true }),
        false => GroupTotals::Shown(Box::new(cell.figures(name, coop))),
    };
    Ok(CooperativeTotals {
        cooperative: coop.name.clone(),
        currency: coop.currency.clone(),
        groups: cells.iter().map(shown).collect(),
    })
}

/// The groups to hide: the small ones, and more until what is hidden can not be found by
/// subtraction from a total.
fn hide(cells: &BTreeMap<String, Cell>) -> HashSet<&str> {
    let mut by_size: Vec<(&str, usize)> =
        cells.iter().map(|(name, cell)| (name.as_str(), cell.members.len())).collect();
    by_size.sort_by_key(|(_, size)| *size);
    let (mut hidden, mut members) = (HashSet::new(), 0);
    for (name, size) in by_size {
        let exposed = !hidden.is_empty() && (hidden.len() < 2 || members < MEMBERS_MIN);
        if size < MEMBERS_MIN || exposed {
            hidden.insert(name);
            members += size;
        }
    }
    hidden
}

impl Cell {
    fn add(&mut self, member: Uuid, facts: &FarmFacts) {
        let of = |m: Measure| facts.sums.and_then(|s| s.get(m.index()).copied()).unwrap_or(0);
        self.members.insert(member);
        let pairs = [
            (&mut self.milk, of(Measure::MilkMl), of(Measure::CowDays)),
            (&mut self.eggs, of(Measure::Eggs), of(Measure::HenDays)),
            (&mut self.trays, of(Measure::TraysDiscarded), of(Measure::TraysStarted)),
        ];
        for (sum, top, bottom) in pairs {
            if bottom > 0 {
                sum.0.insert(member);
                sum.1 += top;
                sum.2 += bottom;
            }
        }
        for (sum, amount) in
            [(&mut self.fed, of(Measure::FedG)), (&mut self.unweighed, facts.fed_unweighed_trays)]
        {
            if amount > 0 {
                sum.0.insert(member);
                sum.1 += amount;
            }
        }
    }

    /// Adds the classes of animals that have a number; of a month closed by the earlier method the
    /// farm's own.
    fn add_saving(&mut self, member: Uuid, line: &FarmLine, digits: u8) {
        let own = [line.figures.money];
        let classes: Vec<_> = line.enterprises.iter().map(|e| e.money).collect();
        let rows = if classes.is_empty() { own.as_slice() } else { classes.as_slice() };
        for saving in rows.iter().filter_map(|m| m.saving) {
            self.saving.0.insert(member);
            self.saving.1 += saving.units_of(digits);
        }
    }

    fn figures(&self, name: &str, coop: &Coop) -> GroupFigures {
        // What comes from few members is not shown.
        let enough = |members: &HashSet<Uuid>| (members.len() >= MEMBERS_MIN).then_some(());
        let over = |members: &HashSet<Uuid>, (top, by, bottom): (i64, i64, i64), scale: u8| {
            enough(members).and(mul_div(top, by, bottom)).map(|r| Decimal::new(r, scale))
        };
        let (milk, eggs, trays, saving) = (&self.milk, &self.eggs, &self.trays, &self.saving);
        let kg_or_litres = |members, amount| enough(members).map(|()| Decimal::new(amount, 3));
        let count = |members, number| enough(members).map(|()| number);
        GroupFigures {
            group: name.to_owned(),
            is_hidden: false,
            members: self.members.len(),
            members_with_a_saving_number: enough(&saving.0).map(|()| saving.0.len()),
            saving: enough(&saving.0).map(|()| Decimal::new(saving.1, coop.digits)),
            saving_interval: enough(&saving.0).and(self.half).map(|half| Interval {
                low: Decimal::new(saving.1 - half, coop.digits),
                high: Decimal::new(saving.1 + half, coop.digits),
            }),
            milk_litres: kg_or_litres(&milk.0, milk.1),
            litres_per_cow_day: over(&milk.0, (milk.1, 1, milk.2), 3),
            eggs: count(&eggs.0, eggs.1),
            hen_day_percent: over(&eggs.0, (eggs.1, 1_000, eggs.2), 1),
            fresh_fodder_fed_kg: kg_or_litres(&self.fed.0, self.fed.1),
            trays_fed_unweighed: count(&self.unweighed.0, self.unweighed.1),
            trays_started: count(&trays.0, trays.2),
            trays_discarded_percent: over(&trays.0, (trays.1, 1_000, trays.2), 1),
        }
    }
}

/// The group of a farm's member in a division.
pub(super) fn group(
    farm: &FarmRow,
    by: Division,
    names: &BTreeMap<Uuid, String>,
    month: Month,
) -> String {
    match by {
        Division::Area => names.get(&farm.area).cloned().unwrap_or_default(),
        Division::Sex => farm.sex.clone(),
        Division::AgeBand => age_band(farm.birth_year, month).to_owned(),
        Division::Cooperative => "all".to_owned(),
    }
}

fn age_band(birth_year: Option<i64>, month: Month) -> &'static str {
    match birth_year.map(|year| month.number() / 12 - year) {
        None => "not_stated",
        Some(age) if age < 18 => "under_18",
        Some(age) if age < 25 => "18_to_24",
        Some(age) if age < 35 => "25_to_34",
        Some(age) if age < 60 => "35_to_59",
        Some(_) => "60_and_over",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cells(sizes: &[(&str, u128)]) -> BTreeMap<String, Cell> {
        let cell =
            |n: u128| Cell { members: (0..n).map(Uuid::from_u128).collect(), ..Cell::default() };
        sizes.iter().map(|(name, n)| ((*name).to_owned(), cell(*n))).collect()
    }

    #[test]
    fn hide_leaves_no_small_group_to_be_found_by_subtraction() {
        assert!(hide(&cells(&[("a", 5), ("b", 9)])).is_empty());
        let all = cells(&[("a", 4), ("b", 9), ("c", 30)]);
        assert_eq!(hide(&all), HashSet::from(["a", "b"]));
        let all = cells(&[("a", 2), ("b", 2), ("c", 30), ("d", 40)]);
        assert_eq!(hide(&all), HashSet::from(["a", "b", "c"]));
        let all = cells(&[("a", 3), ("b", 2), ("c", 30)]);
        assert_eq!(hide(&all), HashSet::from(["a", "b"]));
    }
}
