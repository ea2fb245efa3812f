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
use traybook_reports::savings::{self, Amounts, Line};
use traybook_storage::records::Visible;
use traybook_storage::{Conn, accounts, report_rows};
use uuid::Uuid;

/// Fewest members that are shown as a group.
const MEMBERS_MIN: usize = 5;

/// By what totals are divided.
pub const DIVISIONS: &[&str] = &["cooperative", "area", "sex", "age_band"];

impl App {
    /// Totals of a month, divided by area, sex or age band. A group of fewer than five members is
    /// hidden, and with it the next smallest, so that it can not be found by subtraction. Members
    /// who have not agreed to be counted are left out.
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

/// The co-operatives whose totals a person may read: a programme reader's all, else the own one.
fn readable(conn: &mut Conn, actor: &Actor) -> Result<Vec<Coop>, AppError> {
    let (Role::ProgrammeReader, Some(account)) = (actor.role, actor.account) else {
        return Ok(vec![actor.coop.clone()]);
    };
    let mut coops = Vec::new();
    for m in accounts::memberships(conn, account)? {
        let person = Actor::load(conn, m.coop, m.cooperative, m.person)?;
        if person.role == Role::ProgrammeReader {
            coops.push(person.coop);
        }
    }
    Ok(coops)
}

#[derive(Default)]
struct Cell {
    members: HashSet<Uuid>,
    included: i64,
    amounts: Amounts,
    saving: i64,
}

fn cooperative(conn: &mut Conn, coop: &Coop, month: Month, by: &str) -> Result<Json, AppError> {
    let report = savings::report(load(conn, coop, month, &Visible::All, false)?);
    let names = area_names(conn, coop.number)?;
    let farms: HashMap<Uuid, report_rows::FarmRow> =
        report_rows::farms(conn, coop.number)?.into_iter().map(|f| (f.farm, f)).collect();
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
        self.members.insert(line.farm.member);
        let a = &line.amounts;
        let to = &mut self.amounts;
        to.milk_ml += a.milk_ml;
        to.cow_days += a.cow_days;
        to.eggs += a.eggs;
        to.hen_days += a.hen_days;
        to.trays_started += a.trays_started;
        to.trays_discarded += a.trays_discarded;
        to.fed_g += a.fed_g;
        if let Some(saving) = line.saving() {
            self.included += 1;
            self.saving += saving;
        }
    }

    fn json(&self, name: &str, coop: &Coop) -> Json {
        let a = &self.amounts;
        let over = |top: i64, by: i64, bottom: i64, scale: u8| {
            let ratio = if bottom > 0 { mul_div(top, by, bottom) } else { None };
            ratio.map_or(Json::Null, |r| json_decimal(r, scale))
        };
        json!({
            "group": name,
            "is_hidden": false,
            "members": self.members.len(),
            "farms_with_a_saving_number": self.included,
            "saving": if self.included > 0 {
                json_decimal(self.saving, coop.digits)
            } else {
                Json::Null
            },
            "milk_litres": json_decimal(a.milk_ml, 3),
            "litres_per_cow_day": over(a.milk_ml, 1, a.cow_days, 3),
            "eggs": a.eggs,
            "hen_day_percent": over(a.eggs, 1_000, a.hen_days, 1),
            "fresh_fodder_fed_kg": json_decimal(a.fed_g, 3),
            "trays_started": a.trays_started,
            "trays_discarded_percent": over(a.trays_discarded, 1_000, a.trays_started, 1),
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
