//! Totals over co-operatives for partners and funders: no names, no small groups.

use super::load::{Recorded, recorded};
use super::made::Halves;
use super::report::Reader;
use crate::error::AppError;
use crate::estimates::Figures;
use crate::savings::{Reports, area_names, read_month};
use crate::{Actor, App, Coop, costly};
use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;
use traybook_answers::programme::{
    CooperativeTotals, Division, GroupFigures, GroupTotals, HiddenGroup, ProgrammeTotals, TOGETHER,
};
use traybook_answers::savings::{FarmLine, Interval, SavingsReport};
use traybook_answers::{Decimal, wire};
use traybook_domain::Month;
use traybook_domain::authz::{Role, Task};
use traybook_domain::effects::Measure;
use traybook_domain::money::mul_div;
use traybook_domain::small_groups;
use traybook_domain::value::Instant;
use traybook_storage::farm_rows::{self, FarmRow};
use traybook_storage::records::Visible;
use traybook_storage::{Conn, accounts, programme_rows, snapshots};
use uuid::Uuid;

pub use traybook_domain::small_groups::MEMBERS_MIN;

impl App {
    /// Totals of a month, divided by area, sex or age band. A group of fewer than [`MEMBERS_MIN`]
    /// members is hidden, and others with it, so that it can not be found by subtraction
    /// ([`small_groups::hide`]); so is every figure that comes from too few members of a group.
    /// Groups that are hidden are shown together. Members who have not agreed to be counted are left
    /// out.
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
        let _costly = costly::begin(actor)?;
        let (actor, kept, now) = (actor.clone(), Arc::clone(&self.reports), self.now());
        self.store
            .read(move |conn| {
                let mut cooperatives = Vec::new();
                for coop in readable(conn, &actor)? {
                    let counted = Counted::read(conn, &coop)?;
                    let asked = (month, by, now);
                    cooperatives.push(cooperative(conn, &coop, (&kept, &counted), asked)?);
                }
                let (month, members_min) = (wire::Month(month), MEMBERS_MIN);
                Ok(ProgrammeTotals { month, by, members_min, cooperatives })
            })
            .await
    }
}

/// The co-operatives whose totals a person may read: those in which the password of this sign-in
/// opens a programme reader, else the own one.
pub(super) fn readable(conn: &mut Conn, actor: &Actor) -> Result<Vec<Coop>, AppError> {
    let (Role::ProgrammeReader, Some(family)) = (actor.role, actor.family) else {
        return Ok(vec![actor.coop.clone()]);
    };
    let mut coops = vec![actor.coop.clone()];
    let own = actor.coop.number;
    let begun_at = accounts::begun_at(conn, (own, family))?.ok_or(AppError::Unauthenticated)?;
    for (other, person) in accounts::people_of(conn, (own, family))? {
        // Whoever has another password or login there since signs in anew.
        let settled = accounts::settled_since(conn, (other, person))?;
        let Some((cooperative, _)) = settled.filter(|(_, at)| *at <= begun_at) else { continue };
        let person = match Actor::load(conn, other, cooperative, person) {
            Ok(person) => person,
            Err(AppError::Unauthenticated) => continue,
            Err(e) => return Err(e),
        };
        if person.role == Role::ProgrammeReader {
            coops.push(person.coop);
        }
    }
    coops.sort_by_key(|coop| coop.number);
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

pub(super) fn cooperative(
    conn: &mut Conn,
    coop: &Coop,
    (kept, counted): (&Reports, &Counted),
    (month, by, now): (Month, Division, Instant),
) -> Result<CooperativeTotals, AppError> {
    let visible = &Visible::All;
    let report = Reader { coop, kept, visible, now }.read(conn, month)?;
    let lines: HashMap<Uuid, &FarmLine> = report.farms.iter().map(|l| (l.farm_id, l)).collect();
    let kept = match snapshots::divisions_of_month(conn, coop.number, month)? {
        // A month that was never made is made on reading, its intervals too.
        None if !report.is_closed => {
            Some(Figures::make(conn, coop, now)?.month(conn, coop, month)?.0.divisions)
        }
        kept => kept,
    };
    let halves = halves(kept);
    let members = counted.members(conn, coop, month)?;
    let cells = members.cells(&lines, halves.get(by.text()), by, coop.digits);
    Ok(CooperativeTotals {
        cooperative: coop.name.clone(),
        currency: coop.currency.clone(),
        groups: publish(&cells, coop.digits),
    })
}

/// The farms of the members who have agreed to be counted, and the names of areas.
pub(super) struct Counted {
    pub(super) farms: Vec<Arc<FarmRow>>,
    areas: BTreeMap<Uuid, String>,
}

impl Counted {
    pub(super) fn read(conn: &mut Conn, coop: &Coop) -> Result<Self, AppError> {
        let mut farms = farm_rows::farms(conn, coop.number, None)?;
        farms.retain(|farm| farm.consent);
        Ok(Self { farms, areas: area_names(conn, coop.number)? })
    }

    /// What they recorded in a month.
    fn members(&self, conn: &mut Conn, coop: &Coop, month: Month) -> Result<Members<'_>, AppError> {
        let recorded = recorded(conn, coop, month, (self.farms.clone(), None))?;
        Ok(Members { month, recorded, areas: &self.areas })
    }
}

/// What these members recorded in a month.
struct Members<'a> {
    month: Month,
    recorded: Vec<Recorded>,
    areas: &'a BTreeMap<Uuid, String>,
}

impl Members<'_> {
    /// Their groups in a division.
    fn cells(
        &self,
        lines: &HashMap<Uuid, &FarmLine>,
        halves: Option<&BTreeMap<String, i64>>,
        by: Division,
        digits: u8,
    ) -> BTreeMap<String, Cell> {
        let mut cells: BTreeMap<String, Cell> = BTreeMap::new();
        for of in &self.recorded {
            let key = group(&of.farm, by, self.areas, self.month);
            let half = halves.and_then(|h| h.get(&key)).copied();
            let cell = cells.entry(key).or_default();
            cell.half = half;
            cell.add(of);
            if let Some(line) = lines.get(&of.farm.farm) {
                cell.add_saving(of.farm.member, line, digits);
            }
        }
        cells
    }
}

/// Divisions whose groups are the same in every co-operative.
pub(super) const DIVISIONS: [Division; 3] =
    [Division::Cooperative, Division::Sex, Division::AgeBand];

/// The figures of a month that are kept for sums over co-operatives.
pub(crate) fn kept_cells(
    conn: &mut Conn,
    coop: &Coop,
    (report, halves): (&SavingsReport, &Halves),
    month: Month,
) -> Result<Vec<programme_rows::Cell>, AppError> {
    let lines: HashMap<Uuid, &FarmLine> = report.farms.iter().map(|l| (l.farm_id, l)).collect();
    let counted = Counted::read(conn, coop)?;
    let members = counted.members(conn, coop, month)?;
    let mut kept = Vec::new();
    for by in DIVISIONS {
        let cells = members.cells(&lines, halves.get(by.text()), by, coop.digits);
        let (groups, hidden) = hide(&cells);
        for (at, (name, cell)) in cells.iter().enumerate() {
            let is_hidden = |mask: &[bool]| mask.get(at) == Some(&true);
            let row = |figure: &str, people: usize, sums: (i64, i64), mask: &[bool]| {
                programme_rows::Cell {
                    division: by.text().to_owned(),
                    cell: name.clone(),
                    figure: figure.to_owned(),
                    people: i64::try_from(people).unwrap_or(i64::MAX),
                    is_hidden: is_hidden(mask),
                    top: sums.0,
                    bottom: sums.1,
                    half: cell.half.filter(|_| figure == FIGURE_NAMES[0]),
                }
            };
            kept.push(row(MEMBERS, cell.members.len(), (0, 0), &groups));
            let figures = FIGURE_NAMES.iter().zip(cell.people()).zip(cell.sums()).zip(&hidden);
            kept.extend(
                figures.map(|(((name, people), sums), mask)| row(name, people.len(), sums, mask)),
            );
        }
    }
    Ok(kept)
}

/// The same of a closed month, as members agree to be counted now.
pub(crate) fn kept_cells_of_closed(
    conn: &mut Conn,
    coop: &Coop,
    kept: &Reports,
    (month, now): (Month, Instant),
) -> Result<Vec<programme_rows::Cell>, AppError> {
    let report = Reader { coop, kept, visible: &Visible::All, now }.read(conn, month)?;
    let halves = halves(snapshots::divisions_of_month(conn, coop.number, month)?);
    kept_cells(conn, coop, (&report, &halves), month)
}

/// The intervals of a month's groups from the kept text; none where it is of another form.
fn halves(kept: Option<String>) -> Halves {
    kept.and_then(|text| serde_json::from_str(&text).ok()).unwrap_or_default()
}

/// Figures of a group, by the members that each comes from.
pub(super) const FIGURES: usize = 6;
/// Their names, as they are kept.
pub(super) const FIGURE_NAMES: [&str; FIGURES] =
    ["saving", "milk", "eggs", "trays", "fed", "unweighed"];
/// The figure that is the members themselves.
pub(super) const MEMBERS: &str = "members";

/// Which groups are hidden, and of each figure which ones.
fn hide(cells: &BTreeMap<String, Cell>) -> (Vec<bool>, Vec<Vec<bool>>) {
    let members: Vec<usize> = cells.values().map(|c| c.members.len()).collect();
    let groups = small_groups::hide(&members, None).cells;
    let of_figure = |figure: usize| {
        let people: Vec<usize> = cells.values().map(|c| c.people()[figure].len()).collect();
        small_groups::hide(&people, Some(&groups)).cells
    };
    let hidden = (0..FIGURES).map(of_figure).collect();
    (groups, hidden)
}

/// The groups with what may be shown of them, and those that are hidden as one.
fn publish(cells: &BTreeMap<String, Cell>, digits: u8) -> Vec<GroupTotals> {
    let (groups, hidden) = hide(cells);
    let shows = |at: usize| -> [bool; FIGURES] {
        std::array::from_fn(|figure| hidden.get(figure).and_then(|h| h.get(at)) == Some(&false))
    };
    let mut out = Vec::new();
    let mut together = Cell::default();
    for ((at, (name, cell)), hide) in cells.iter().enumerate().zip(&groups) {
        out.push(if *hide {
            together.join(cell);
            GroupTotals::Hidden(HiddenGroup { group: name.clone(), is_hidden: true })
        } else {
            GroupTotals::Shown(Box::new(cell.figures(name, digits, shows(at))))
        });
    }
    // What the hidden groups are together can be found by subtraction: it is shown outright. A
    // figure that hides one group more stays hidden here, else that one would be found.
    let is_several = groups.iter().filter(|h| **h).count() > 1;
    if is_several && together.members.len() >= MEMBERS_MIN {
        let alike = std::array::from_fn(|figure| hidden.get(figure) == Some(&groups));
        out.push(GroupTotals::Shown(Box::new(together.figures(TOGETHER, digits, alike))));
    }
    out
}

impl Cell {
    /// The members behind each figure.
    fn people(&self) -> [&HashSet<Uuid>; FIGURES] {
        let (saving, milk, eggs) = (&self.saving.0, &self.milk.0, &self.eggs.0);
        [saving, milk, eggs, &self.trays.0, &self.fed.0, &self.unweighed.0]
    }

    /// What is added up of each figure, and what it is divided by.
    fn sums(&self) -> [(i64, i64); FIGURES] {
        let pair = |of: &(HashSet<Uuid>, i64, i64)| (of.1, of.2);
        let one = |of: &(HashSet<Uuid>, i64)| (of.1, 0);
        let (milk, eggs, trays) = (pair(&self.milk), pair(&self.eggs), pair(&self.trays));
        [one(&self.saving), milk, eggs, trays, one(&self.fed), one(&self.unweighed)]
    }

    /// Adds another group. An interval of both together is not known.
    fn join(&mut self, other: &Self) {
        self.members.extend(&other.members);
        let sums = [
            (&mut self.milk, &other.milk),
            (&mut self.eggs, &other.eggs),
            (&mut self.trays, &other.trays),
        ];
        for (sum, more) in sums {
            sum.0.extend(&more.0);
            sum.1 += more.1;
            sum.2 += more.2;
        }
        let sums = [
            (&mut self.saving, &other.saving),
            (&mut self.fed, &other.fed),
            (&mut self.unweighed, &other.unweighed),
        ];
        for (sum, more) in sums {
            sum.0.extend(&more.0);
            sum.1 += more.1;
        }
    }

    fn add(&mut self, recorded: &Recorded) {
        let member = recorded.farm.member;
        let of = |m: Measure| recorded.sums.and_then(|s| s.get(m.index()).copied()).unwrap_or(0);
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
        for (sum, amount) in [
            (&mut self.fed, of(Measure::FedG)),
            (&mut self.unweighed, recorded.fed_unweighed_trays),
        ] {
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

    fn figures(&self, name: &str, digits: u8, shows: [bool; FIGURES]) -> GroupFigures {
        let people = self.people().map(HashSet::len);
        Shown {
            name,
            members: self.members.len(),
            people,
            sums: self.sums(),
            half: self.half,
            shows,
        }
        .figures(digits)
    }
}

/// The numbers of a group, and which of them may be shown.
pub(super) struct Shown<'a> {
    pub name: &'a str,
    pub members: usize,
    pub people: [usize; FIGURES],
    pub sums: [(i64, i64); FIGURES],
    /// Half width of the saving's 95 % interval, minor units.
    pub half: Option<i64>,
    pub shows: [bool; FIGURES],
}

impl Shown<'_> {
    pub fn figures(&self, digits: u8) -> GroupFigures {
        let [saving, milk, eggs, trays, fed, unweighed] = self.sums;
        // What comes from few members is not shown.
        let may = |at: usize| {
            let enough = self.people.get(at).is_some_and(|n| *n >= MEMBERS_MIN);
            (enough && self.shows.get(at) == Some(&true)).then_some(())
        };
        let over = |at: usize, (top, bottom): (i64, i64), by: i64, scale: u8| {
            may(at).and(mul_div(top, by, bottom)).map(|r| Decimal::new(r, scale))
        };
        let kg_or_litres = |at, amount| may(at).map(|()| Decimal::new(amount, 3));
        let count = |at, number| may(at).map(|()| number);
        GroupFigures {
            group: self.name.to_owned(),
            is_hidden: false,
            members: self.members,
            members_with_a_saving_number: may(0).map(|()| self.people[0]),
            saving: may(0).map(|()| Decimal::new(saving.0, digits)),
            saving_interval: may(0).and(self.half).map(|half| Interval {
                low: Decimal::new(saving.0 - half, digits),
                high: Decimal::new(saving.0 + half, digits),
            }),
            milk_litres: kg_or_litres(1, milk.0),
            litres_per_cow_day: over(1, milk, 1, 3),
            eggs: count(2, eggs.0),
            hen_day_percent: over(2, eggs, 1_000, 1),
            fresh_fodder_fed_kg: kg_or_litres(4, fed.0),
            trays_fed_unweighed: count(5, unweighed.0),
            trays_started: count(3, trays.1),
            trays_discarded_percent: over(3, trays, 1_000, 1),
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

pub(super) fn age_band(birth_year: Option<i64>, month: Month) -> &'static str {
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

    /// Groups of members of whom some have a saving of 10 each.
    fn cells(sizes: &[(&str, u128, u128)]) -> BTreeMap<String, Cell> {
        let ids = |from: u128, n: u128| (from..from + n).map(Uuid::from_u128).collect();
        let cell = |at: usize, n: u128, with: u128| Cell {
            members: ids(1_000 * at as u128, n),
            saving: (ids(1_000 * at as u128, with), 10 * with as i64),
            half: Some(3),
            ..Cell::default()
        };
        let all = sizes.iter().enumerate();
        all.map(|(at, (name, n, with))| ((*name).to_owned(), cell(at, *n, *with))).collect()
    }

    fn savings(sizes: &[(&str, u128, u128)]) -> Vec<(String, Option<Option<String>>)> {
        let told = |g: &GroupTotals| match g {
            GroupTotals::Hidden(h) => (h.group.clone(), None),
            GroupTotals::Shown(f) => {
                (f.group.clone(), Some(f.saving.map(|saving| saving.to_string())))
            }
        };
        publish(&cells(sizes), 0).iter().map(told).collect()
    }

    #[test]
    fn one_not_stated_does_not_hide_the_men() {
        let told = savings(&[("female", 30, 30), ("male", 27, 27), ("not_stated", 1, 1)]);
        let (shown, hidden) = (|s: &str| Some(Some(s.to_owned())), None);
        let wanted = [
            ("female", shown("300")),
            ("male", hidden.clone()),
            ("not_stated", hidden),
            (TOGETHER, shown("280")),
        ];
        assert_eq!(told, wanted.map(|(g, s)| (g.to_owned(), s)));
    }

    #[test]
    fn a_figure_of_few_hides_a_second_one_of_its_kind() {
        // Two men have a number: theirs would be that of all less that of the women.
        let told = savings(&[("female", 30, 20), ("male", 27, 2)]);
        assert_eq!(told, [("female".to_owned(), Some(None)), ("male".to_owned(), Some(None))]);
        // Together they are only shown where no group more is hidden.
        let told = savings(&[("a", 1, 1), ("b", 9, 9), ("c", 30, 2), ("d", 40, 40)]);
        let figure = |name: &str| told.iter().find(|(n, _)| n == name).expect("a group").1.clone();
        assert_eq!((figure("c"), figure(TOGETHER)), (Some(None), Some(None)));
        assert_eq!(figure("d"), Some(Some("400".to_owned())));
    }
}
