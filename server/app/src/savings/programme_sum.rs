//! Sums over the co-operatives that were opened to a programme, and who may read them.

use super::made::DIVISION_MONTHS;
use super::programme::{DIVISIONS, FIGURE_NAMES, FIGURES, MEMBERS, Shown};
use crate::error::AppError;
use crate::people::{NO_COOP, Note, add_security};
use crate::savings::read_month;
use crate::{Actor, App, Coop, costly};
use chrono::NaiveDate;
use std::collections::BTreeMap;
use traybook_answers::people::security::SecurityEvent;
use traybook_answers::savings::programme::{
    Division, GroupSum, GroupTotals, HiddenGroup, ProgrammeSum,
};
use traybook_answers::wire;
use traybook_domain::kinds::Person;
use traybook_domain::people::authz::{Role, Task};
use traybook_domain::record::Record as _;
use traybook_domain::savings::money::currency_digits;
use traybook_domain::savings::small_groups::{self, MEMBERS_MIN};
use traybook_domain::{Kind, Month};
use traybook_storage::savings::programme_rows::{self, Added, Grant, Sums};
use traybook_storage::{Conn, people::logins, records};
use uuid::Uuid;

/// Co-operatives that one reader may be given by name; more are given as all.
pub const GRANTS_MAX: usize = 1_000;

/// A grant as it is shown.
#[derive(Clone, Debug)]
pub struct GivenGrant {
    pub grant: Grant,
    /// Name of the reader.
    pub reader: String,
    /// Name of the co-operative; none where all are open.
    pub of: Option<String>,
}

impl App {
    /// Opens the sums of a co-operative, or of all, to a programme reader. The machine itself does
    /// it, for whoever the co-operatives agreed it with; it stands in the security log of each.
    ///
    /// # Errors
    /// `NotFound` for a login that is no programme reader's; `Invalid` for a day that is over.
    pub async fn open_to_programme(
        &self,
        reader: &str,
        of: Option<Coop>,
        (by, until): (String, NaiveDate),
    ) -> Result<Grant, AppError> {
        let (id, now, login) = (self.new_id()?, self.now(), crate::records::normal_login(reader));
        self.store
            .write(move |conn| {
                let (home, person, _) = reader_of(conn, &login)?;
                if until < home.today(now) {
                    return Err(AppError::field("until", "over", "give a day that is not over"));
                }
                let standing = programme_rows::standing(conn, home.number, Some(person))?;
                if standing.len() >= GRANTS_MAX {
                    let detail = format!("this reader has {GRANTS_MAX} grants: end some first");
                    return Err(AppError::conflict("too_many", detail));
                }
                let grant = Grant {
                    id,
                    reader: (home.number, person),
                    of: of.as_ref().map(|coop| coop.number),
                    given_at: now.0,
                    given_by: by.clone(),
                    until,
                };
                programme_rows::give(conn, &grant)?;
                note(conn, SecurityEvent::SumsOpened, &grant, now.0)?;
                Ok(grant)
            })
            .await
    }

    /// The grants of a reader that were not ended.
    ///
    /// # Errors
    /// `NotFound` for a login that is no programme reader's.
    pub async fn programme_grants(&self, reader: &str) -> Result<Vec<GivenGrant>, AppError> {
        let login = crate::records::normal_login(reader);
        self.store
            .read(move |conn| {
                let (home, person, name) = reader_of(conn, &login)?;
                let mut given = Vec::new();
                for grant in programme_rows::standing(conn, home.number, Some(person))? {
                    let of = match grant.of {
                        Some(number) => match logins::coop_id(conn, number)? {
                            Some(id) => Some(Coop::load(conn, number, id)?.name),
                            None => continue,
                        },
                        None => None,
                    };
                    given.push(GivenGrant { grant, reader: name.clone(), of });
                }
                Ok(given)
            })
            .await
    }

    /// Ends a grant of a reader.
    ///
    /// # Errors
    /// `NotFound`.
    pub async fn close_to_programme(&self, reader: &str, id: Uuid) -> Result<(), AppError> {
        let (now, login) = (self.now().0, crate::records::normal_login(reader));
        self.store
            .write(move |conn| {
                let (home, _, _) = reader_of(conn, &login)?;
                let ended = programme_rows::end(conn, home.number, id, now)?;
                note(conn, SecurityEvent::SumsClosed, &ended.ok_or(AppError::NotFound)?, now)
            })
            .await
    }

    /// Sums of a month over the co-operatives that are open to the reader, divided by sex or age
    /// band, or not at all. Of the figures that a co-operative's own table hides only those count
    /// that many people of several co-operatives are behind, so that nothing is found by
    /// subtracting the tables from the sums.
    ///
    /// # Errors
    /// `Forbidden` for whoever has no grant; `Invalid`.
    pub async fn programme_sum(
        &self,
        actor: &Actor,
        month: &str,
        by: &str,
    ) -> Result<ProgrammeSum, AppError> {
        actor.task(Task::ProgrammeTotals)?;
        let now = self.now();
        let today = actor.coop.today(now);
        let month = read_month(month, &actor.coop, now)?;
        if month < Month::of(today).plus(-DIVISION_MONTHS) {
            let detail = format!("sums are kept for the last {DIVISION_MONTHS} months");
            return Err(AppError::field("month", "range", detail));
        }
        let by = Division::parse(by).filter(|by| DIVISIONS.contains(by)).ok_or_else(|| {
            let known = DIVISIONS.map(|d| d.text()).join(", ");
            AppError::field("by", "choice", format!("give one of: {known}"))
        })?;
        let _costly = costly::begin(actor)?;
        let whose = (actor.coop.number, actor.person);
        self.store
            .read(move |conn| {
                let grants = programme_rows::standing(conn, whose.0, Some(whose.1))?;
                let grants: Vec<Grant> = grants.into_iter().filter(|g| g.until >= today).collect();
                if grants.is_empty() {
                    return Err(AppError::Forbidden);
                }
                let named: Option<Vec<i64>> = grants.iter().map(|g| g.of).collect();
                let named = named.map(|mut of| {
                    of.sort_unstable();
                    of.dedup();
                    of
                });
                let cooperatives = match &named {
                    Some(of) => of.len(),
                    None => logins::cooperatives(conn)?.len(),
                };
                let added = programme_rows::added(conn, (month, by.text()), named.as_deref())?;
                let groups = published(&added);
                let (month, members_min) = (wire::Month(month), MEMBERS_MIN);
                Ok(ProgrammeSum { month, by, members_min, cooperatives, groups })
            })
            .await
    }
}

/// The programme reader with a login: the home co-operative, the person and the name.
fn reader_of(conn: &mut Conn, login: &str) -> Result<(Coop, Uuid, String), AppError> {
    for found in logins::by_login(conn, login, GRANTS_MAX)? {
        let of = found.membership;
        let record = records::find(conn, of.coop, Kind::Person, of.person)?;
        let person = record.and_then(|r| Person::from_values(&r.values));
        if let Some(person) = person.filter(|p| p.role == Role::ProgrammeReader.text()) {
            return Ok((Coop::load(conn, of.coop, of.cooperative)?, of.person, person.name));
        }
    }
    Err(AppError::NotFound)
}

/// Writes into the log of the co-operative that is opened or closed, or of none where all are.
fn note(conn: &mut Conn, event: SecurityEvent, grant: &Grant, now: i64) -> Result<(), AppError> {
    let detail = format!("{} until {}", grant.given_by, grant.until);
    let note = Note::new(event).detail(&detail);
    add_security(conn, grant.of.unwrap_or(NO_COOP), &note, now)
}

/// What may be shown of sums over co-operatives.
fn published(added: &[Added]) -> Vec<GroupSum> {
    let mut currencies: BTreeMap<&str, Vec<&Added>> = BTreeMap::new();
    for row in added {
        currencies.entry(&row.currency).or_default().push(row);
    }
    currencies.into_iter().flat_map(|(currency, rows)| of_currency(currency, &rows)).collect()
}

/// Which hidden cells may be added: those that are many people of several co-operatives.
fn may_add(hidden: &[Sums], before: Option<&[bool]>) -> Vec<bool> {
    let people: Vec<usize> =
        hidden.iter().map(|s| usize::try_from(s.people).unwrap_or(0)).collect();
    // Of one co-operative alone it would be the cell that its own table hides.
    let alone: Vec<bool> = hidden
        .iter()
        .enumerate()
        .map(|(at, s)| {
            let was = before.is_some_and(|b| b.get(at) == Some(&true));
            was || (s.people > 0 && s.cooperatives < COOPERATIVES_MIN)
        })
        .collect();
    let is_any_alone = alone.iter().any(|a| *a);
    let kept = small_groups::hide(&people, is_any_alone.then_some(alone.as_slice()));
    kept.cells.iter().map(|hide| !hide && !kept.total).collect()
}

/// Fewest co-operatives of which hidden cells are added up.
const COOPERATIVES_MIN: i64 = 2;

fn of_currency(currency: &str, rows: &[&Added]) -> Vec<GroupSum> {
    let cells: Vec<&str> =
        rows.iter().filter(|r| r.figure == MEMBERS).map(|r| r.cell.as_str()).collect();
    let of = |figure: &str| -> Vec<(Sums, Sums)> {
        let one = |cell: &&str| {
            let row = rows.iter().find(|r| r.cell == **cell && r.figure == figure);
            row.map_or_else(Default::default, |r| (r.shown, r.hidden))
        };
        cells.iter().map(one).collect()
    };
    let hidden = |all: &[(Sums, Sums)]| all.iter().map(|(_, h)| *h).collect::<Vec<_>>();
    let members = of(MEMBERS);
    let adds = may_add(&hidden(&members), None);
    let not: Vec<bool> = adds.iter().map(|a| !a).collect();
    let figures = FIGURE_NAMES.map(|figure| {
        let all = of(figure);
        let adds = may_add(&hidden(&all), Some(&not));
        let sum = |((shown, hidden), adds): (&(Sums, Sums), &bool)| sum(*shown, *hidden, *adds);
        all.iter().zip(&adds).map(sum).collect::<Vec<_>>()
    });
    let digits = currency_digits(currency).unwrap_or(2);
    let group = |(at, name): (usize, &&str)| {
        let (shown, hidden) = members.get(at).copied().unwrap_or_default();
        let whole = sum(shown, hidden, adds.get(at) == Some(&true));
        let cooperatives = shown.cooperatives + hidden.cooperatives;
        let of_figure: [Summed; FIGURES] = std::array::from_fn(|figure| {
            figures.get(figure).and_then(|f| f.get(at)).copied().unwrap_or_default()
        });
        let count = |n: i64| usize::try_from(n).unwrap_or(0);
        let totals = if count(whole.sums.people) < MEMBERS_MIN {
            GroupTotals::Hidden(HiddenGroup { group: (*name).to_owned(), is_hidden: true })
        } else {
            let shown = Shown {
                name,
                members: count(whole.sums.people),
                people: of_figure.map(|f| count(f.sums.people)),
                sums: of_figure.map(|f| (f.sums.top, f.sums.bottom)),
                half: Some(of_figure[0].sums).filter(|s| s.without_half == 0).map(|s| s.half),
                shows: [true; FIGURES],
            };
            GroupTotals::Shown(Box::new(shown.figures(digits)))
        };
        let is_whole = whole.is_whole && of_figure.iter().all(|f| f.is_whole);
        GroupSum { currency: currency.to_owned(), cooperatives, is_whole, totals }
    };
    cells.iter().enumerate().map(group).collect()
}

/// A sum of shown cells, and of hidden ones where they may be added.
#[derive(Clone, Copy, Debug, Default)]
struct Summed {
    sums: Sums,
    is_whole: bool,
}

fn sum(shown: Sums, hidden: Sums, adds: bool) -> Summed {
    if !adds {
        return Summed { sums: shown, is_whole: hidden.people == 0 };
    }
    let sums = Sums {
        people: shown.people + hidden.people,
        top: shown.top + hidden.top,
        bottom: shown.bottom + hidden.bottom,
        // Half widths are added: the errors of co-operatives may go together.
        half: shown.half + hidden.half,
        without_half: shown.without_half + hidden.without_half,
        cooperatives: shown.cooperatives + hidden.cooperatives,
    };
    Summed { sums, is_whole: true }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hidden(cells: &[(i64, i64)]) -> Vec<Sums> {
        let one = |(people, cooperatives): &(i64, i64)| Sums {
            people: *people,
            cooperatives: *cooperatives,
            ..Sums::default()
        };
        cells.iter().map(one).collect()
    }

    #[test]
    fn hidden_cells_are_added_where_nobody_is_found_by_it() {
        let adds = |cells: &[(i64, i64)]| may_add(&hidden(cells), None);
        assert_eq!(adds(&[(15, 2), (7, 2)]), [true, true]);
        // Few people: with the one cell the other would be found.
        assert_eq!(adds(&[(15, 2), (4, 2)]), [false, false]);
        // Of one co-operative alone: it would be the cell that its own table hides.
        assert_eq!(adds(&[(15, 2), (7, 1)]), [false, false]);
        assert_eq!(adds(&[(9, 1)]), [false]);
        // Three groups: the small one takes the next size with it.
        assert_eq!(adds(&[(40, 3), (9, 2), (3, 2)]), [true, false, false]);
        // What is hidden of the members stays hidden of their milk.
        let figure = may_add(&hidden(&[(40, 3), (9, 2), (3, 2)]), Some(&[false, true, true]));
        assert_eq!(figure, [true, false, false]);
        // Where nobody is hidden nothing is left out.
        let whole = sum(Sums { people: 9, ..Sums::default() }, Sums::default(), false);
        assert!(whole.is_whole && whole.sums.people == 9);
    }
}
