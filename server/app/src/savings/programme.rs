//! Totals over co-operatives for partners and funders: no names, no small groups.

use super::load::{Recorded, recorded};
use super::made::Halves;
use super::report::Reader;
use crate::error::AppError;
use crate::estimates::{Figures, as_of};
use crate::savings::{Reports, area_names, read_month};
use crate::{Actor, App, Coop, costly};
use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;
use traybook_answers::estimates::AsOf;
use traybook_answers::savings::programme::{
    CooperativeTotals, Division, GroupFigures, GroupTotals, HiddenGroup, ProgrammeTotals, TOGETHER,
};
use traybook_answers::savings::{FarmLine, Interval, SavingsReport};
use traybook_answers::{Decimal, wire};
use traybook_domain::Month;
use traybook_domain::effects::Measure;
use traybook_domain::people::authz::{Role, Task};
use traybook_domain::savings::money::mul_div;
use traybook_domain::savings::small_groups;
use traybook_domain::value::Instant;
use traybook_storage::records::Visible;
use traybook_storage::records::farm_rows::{self, FarmRow};
use traybook_storage::{Conn, estimates::snapshots, people::accounts, savings::programme_rows};
use uuid::Uuid;

pub use traybook_domain::savings::small_groups::MEMBERS_MIN;

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

/// The totals of one co-operative: as its figures were last made, else made now.
pub(super) fn cooperative(
    conn: &mut Conn,
    coop: &Coop,
    kept: &Reports,
    (month, by, now): (Month, Division, Instant),
) -> Result<CooperativeTotals, AppError> {
    let mut cells = programme_rows::of(conn, (coop.number, month), by.text())?;
    let mut as_of = as_of(snapshots::state(conn, coop.number)?);
    if cells.is_empty() {
        as_of = AsOf { revision: None, made_at: None };
        let visible = &Visible::All;
        let report = Reader { coop, kept, visible, now }.read(conn, month)?;
        let halves = match snapshots::divisions_of_month(conn, coop.number, month)? {
            None if !report.is_closed => {
                Some(Figures::make(conn, coop, now)?.month(conn, coop, month)?.0.divisions)
            }
            kept => kept,
        };
        cells = made_cells(conn, coop, (&report, &halves_of(halves)), (month, &[by]))?;
    }
    Ok(CooperativeTotals {
        cooperative: coop.name.clone(),
        currency: coop.currency.clone(),
        revision: as_of.revision,
        made_at: as_of.made_at,
        groups: published(&cells, coop.digits),
    })
}

/// The farms of the members who have agreed to be counted.
pub(super) fn counted(conn: &mut Conn, coop: i64) -> Result<Vec<Arc<FarmRow>>, AppError> {
    let mut farms = farm_rows::farms(conn, coop, None)?;
    farms.retain(|farm| farm.consent);
    Ok(farms)
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

/// The figures of a month's groups that are kept, for who reads programmes.
pub(crate) fn kept_cells(
    conn: &mut Conn,
    coop: &Coop,
    of: (&SavingsReport, &Halves),
    month: Month,
) -> Result<Vec<programme_rows::Cell>, AppError> {
    made_cells(conn, coop, of, (month, Division::ALL))
}

fn made_cells(
    conn: &mut Conn,
    coop: &Coop,
    (report, halves): (&SavingsReport, &Halves),
    (month, divisions): (Month, &[Division]),
) -> Result<Vec<programme_rows::Cell>, AppError> {
    let lines: HashMap<Uuid, &FarmLine> = report.farms.iter().map(|l| (l.farm_id, l)).collect();
    let counted = counted(conn, coop.number)?;
    let areas = area_names(conn, coop.number)?;
    let recorded = recorded(conn, coop, month, (counted, None))?;
    let members = Members { month, recorded, areas: &areas };
    let of =
        |by: &Division| rows(*by, &members.cells(&lines, halves.get(by.text()), *by, coop.digits));
    Ok(divisions.iter().flat_map(of).collect())
}

/// The groups of a division, hidden ones too; last what several hidden ones are together, without a
/// name.
fn rows(by: Division, cells: &BTreeMap<String, Cell>) -> Vec<programme_rows::Cell> {
    let (groups, hidden) = hide(cells);
    let (mut rows, mut together) = (Vec::new(), Cell::default());
    for (at, (name, cell)) in cells.iter().enumerate() {
        let hides = |mask: &[bool]| mask.get(at) == Some(&true);
        if hides(&groups) {
            together.join(cell);
        }
        let of_figures = std::array::from_fn(|figure| hidden.get(figure).is_none_or(|h| hides(h)));
        rows.extend(cell.rows(by, name, (hides(&groups), of_figures)));
    }
    // What the hidden groups are together can be found by subtraction: it is shown outright. A
    // figure that hides one group more stays hidden here, else that one would be found.
    let is_several = groups.iter().filter(|h| **h).count() > 1;
    if is_several && together.members.len() >= MEMBERS_MIN {
        let differs = std::array::from_fn(|figure| hidden.get(figure) != Some(&groups));
        rows.extend(together.rows(by, programme_rows::TOGETHER, (false, differs)));
    }
    rows
}

/// The same of a closed month, as members agree to be counted now.
pub(crate) fn kept_cells_of_closed(
    conn: &mut Conn,
    coop: &Coop,
    kept: &Reports,
    (month, now): (Month, Instant),
) -> Result<Vec<programme_rows::Cell>, AppError> {
    let report = Reader { coop, kept, visible: &Visible::All, now }.read(conn, month)?;
    let halves = halves_of(snapshots::divisions_of_month(conn, coop.number, month)?);
    kept_cells(conn, coop, (&report, &halves), month)
}

/// The intervals of a month's groups from the kept text; none where it is of another form.
fn halves_of(kept: Option<String>) -> Halves {
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

/// The groups with what may be shown of them, by name; last what several hidden ones are together.
fn published(cells: &[programme_rows::Cell], digits: u8) -> Vec<GroupTotals> {
    let mut groups: BTreeMap<(bool, &str), (bool, Shown<'_>)> = BTreeMap::new();
    for row in cells {
        let is_together = row.cell == programme_rows::TOGETHER;
        let name = if is_together { TOGETHER } else { row.cell.as_str() };
        let (is_hidden, shown) = groups.entry((is_together, name)).or_insert_with(|| {
            let (people, sums, shows) = ([0; FIGURES], [(0, 0); FIGURES], [false; FIGURES]);
            (false, Shown { name, members: 0, people, sums, half: None, shows })
        });
        let people = usize::try_from(row.people).unwrap_or(0);
        let Some(at) = FIGURE_NAMES.iter().position(|name| *name == row.figure) else {
            (*is_hidden, shown.members) = (row.is_hidden, people);
            continue;
        };
        shown.people[at] = people;
        shown.sums[at] = (row.top, row.bottom);
        shown.shows[at] = !row.is_hidden;
        shown.half = shown.half.or(row.half);
    }
    let of = |(is_hidden, shown): (bool, Shown<'_>)| match is_hidden {
        true => GroupTotals::Hidden(HiddenGroup { group: shown.name.to_owned(), is_hidden: true }),
        false => GroupTotals::Shown(Box::new(shown.figures(digits))),
    };
    groups.into_values().map(of).collect()
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

    /// What is kept of it: its members, then each figure, with what is hidden.
    fn rows(
        &self,
        by: Division,
        name: &str,
        (is_hidden, hidden): (bool, [bool; FIGURES]),
    ) -> impl Iterator<Item = programme_rows::Cell> {
        let row =
            |figure: &str, people: usize, is_hidden, (top, bottom), half| programme_rows::Cell {
                division: by.text().to_owned(),
                cell: name.to_owned(),
                figure: figure.to_owned(),
                people: i64::try_from(people).unwrap_or(i64::MAX),
                is_hidden,
                top,
                bottom,
                half,
            };
        let members = row(MEMBERS, self.members.len(), is_hidden, (0, 0), None);
        let of = |at: usize| {
            let half = self.half.filter(|_| at == 0);
            row(FIGURE_NAMES[at], self.people()[at].len(), hidden[at], self.sums()[at], half)
        };
        let figures: [_; FIGURES] = std::array::from_fn(of);
        std::iter::once(members).chain(figures)
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
        published(&rows(Division::Sex, &cells(sizes)), 0).iter().map(told).collect()
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
