//! Totals over co-operatives for partners and funders: no names, no small groups.

use crate::ctx::{Actor, App, Coop};
use crate::error::AppError;
use crate::savings::{area_names, load, read_month};
use serde_json::{Value as Json, json};
use std::collections::{BTreeMap, HashMap, HashSet};
use traybook_domain::Month;
use traybook_domain::authz::{Role, Task};
use traybook_domain::field::json_decimal;
use traybook_domain::money::mul_div;
use traybook_reports::savings::{self, Line};
use traybook_storage::farm_rows::{self, FarmRow};
use traybook_storage::records::Visible;
use traybook_storage::{Conn, accounts};
use uuid::Uuid;

/// Fewest members that are shown as a group.
const MEMBERS_MIN: usize = 5;

/// By what totals are divided.
pub const DIVISIONS: &[&str] = &["cooperative", "area", "sex", "age_band"];

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
    ) -> Result<Json, AppError> {
        actor.task(Task::ProgrammeTotals)?;
        let month = read_month(month, &actor.coop, self.now())?;
        let by = DIVISIONS.iter().find(|d| **d == by).ok_or_else(|| {
            AppError::field("by", "choice", format!("give one of: {}", DIVISIONS.join(", ")))
        })?;
        let actor = actor.clone();
        self.store
            .read(move |conn| {
                let mut parts = Vec::new();
                for coop in readable(conn, &actor)? {
                    parts.push(cooperative(conn, &coop, month, by)?);
                }
                Ok(json!({
                    "month": month.to_string(),
                    "by": by,
                    "members_min": MEMBERS_MIN,
                    "cooperatives": parts,
                }))
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
    milk: (HashSet<Uuid>, i64, i64),
    eggs: (HashSet<Uuid>, i64, i64),
    trays: (HashSet<Uuid>, i64, i64),
    fed: (HashSet<Uuid>, i64),
    unweighed: (HashSet<Uuid>, i64),
}

fn cooperative(conn: &mut Conn, coop: &Coop, month: Month, by: &str) -> Result<Json, AppError> {
    let report = savings::report(load(conn, coop, month, &Visible::All, false)?);
    let names = area_names(conn, coop.number)?;
    let all = farm_rows::farms(conn, coop.number, None)?;
    let farms: HashMap<Uuid, &FarmRow> = all.iter().map(|f| (f.farm, &**f)).collect();
    let mut cells: BTreeMap<String, Cell> = BTreeMap::new();
    for line in &report.lines {
        let Some(farm) = farms.get(&line.farm.farm).filter(|f| f.consent) else { continue };
        let key = match by {
            "area" => names.get(&farm.area).cloned().unwrap_or_default(),
            "sex" => farm.sex.clone(),
            "age_band" => age_band(farm.birth_year, month).to_owned(),
            _ => "all".to_owned(),
        };
        cells.entry(key).or_default().add(line);
    }
    let hidden = hide(&cells);
    let rows: Vec<Json> = cells
        .iter()
        .map(|(name, cell)| {
            if hidden.contains(name.as_str()) {
                json!({ "group": name, "is_hidden": true })
            } else {
                cell.json(name, coop)
            }
        })
        .collect();
    Ok(json!({
        "cooperative": coop.name, "currency": coop.currency, "groups": rows,
    }))
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
    fn add(&mut self, line: &Line) {
        let (member, a) = (line.farm.member, &line.amounts);
        self.members.insert(member);
        let pairs = [
            (&mut self.milk, a.milk_ml, a.cow_days),
            (&mut self.eggs, a.eggs, a.hen_days),
            (&mut self.trays, a.trays_discarded, a.trays_started),
        ];
        for (sum, top, bottom) in pairs {
            if bottom > 0 {
                sum.0.insert(member);
                sum.1 += top;
                sum.2 += bottom;
            }
        }
        for (sum, amount) in
            [(&mut self.fed, a.fed_g), (&mut self.unweighed, a.trays_fed_unweighed)]
        {
            if amount > 0 {
                sum.0.insert(member);
                sum.1 += amount;
            }
        }
        if let Some(saving) = line.saving() {
            self.saving.0.insert(member);
            self.saving.1 += saving;
        }
    }

    fn json(&self, name: &str, coop: &Coop) -> Json {
        let shown = |members: &HashSet<Uuid>, value: Option<Json>| {
            value.filter(|_| members.len() >= MEMBERS_MIN).unwrap_or(Json::Null)
        };
        let over = |top: i64, by: i64, bottom: i64, scale: u8| {
            mul_div(top, by, bottom).map(|r| json_decimal(r, scale))
        };
        let (milk, eggs, trays) = (&self.milk, &self.eggs, &self.trays);
        let number = |v: i64, scale: u8| Some(json_decimal(v, scale));
        let counted = self.saving.0.len();
        json!({
            "group": name,
            "is_hidden": false,
            "members": self.members.len(),
            "members_with_a_saving_number":
                shown(&self.saving.0, Some(json!(counted))),
            "saving": shown(&self.saving.0, number(self.saving.1, coop.digits)),
            "milk_litres": shown(&milk.0, number(milk.1, 3)),
            "litres_per_cow_day": shown(&milk.0, over(milk.1, 1, milk.2, 3)),
            "eggs": shown(&eggs.0, number(eggs.1, 0)),
            "hen_day_percent": shown(&eggs.0, over(eggs.1, 1_000, eggs.2, 1)),
            "fresh_fodder_fed_kg": shown(&self.fed.0, number(self.fed.1, 3)),
            "trays_fed_unweighed": shown(&self.unweighed.0, number(self.unweighed.1, 0)),
            "trays_started": shown(&trays.0, number(trays.2, 0)),
            "trays_discarded_percent": shown(&trays.0, over(trays.1, 1_000, trays.2, 1)),
        })
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
