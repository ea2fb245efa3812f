//! What growing fodder cost, by farm and month, and by class of animals.

use crate::Coop;
use crate::error::AppError;
use std::collections::HashMap;
use traybook_domain::Month;
use traybook_domain::planning::guide::livestock_units_milli;
use traybook_domain::time::local_date;
use traybook_domain::value::{Instant, real};
use traybook_reports::savings::{depreciation, whole};
use traybook_storage::Conn;
use traybook_storage::estimates::estimate_rows;
use traybook_storage::records::farm_rows::Farms;
use traybook_storage::savings::{report_rows, saving_rows};
use uuid::Uuid;

/// Costs of one farm and month, minor units.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Costs {
    /// Seed soaked; not known where a lot has no price.
    pub seed: Known,
    pub other: i64,
    pub depreciation: i64,
    /// Seed soaked, g.
    pub seed_g: i64,
}

/// An amount, and whether all of it is known.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Known {
    pub minor: i64,
    pub lacks: bool,
}

/// Costs of farms.
#[derive(Default)]
pub(super) struct AllCosts {
    cells: HashMap<(Uuid, Month), Costs>,
    /// Seed soaked for a group, g: farm, month, group.
    by_group: HashMap<(Uuid, Month), Vec<(Uuid, i64)>>,
}

impl AllCosts {
    /// Reads the costs of farms up to a month; `several` have several classes of animals.
    pub fn read(
        conn: &mut Conn,
        coop: &Coop,
        (first, last): (Month, Month),
        of: Farms<'_>,
        several: &[Uuid],
    ) -> Result<Self, AppError> {
        let (number, mut all) = (coop.number, Self::default());
        for cell in estimate_rows::cost_cells(conn, number, of)? {
            all.cells.entry((cell.farm, cell.month)).or_default().other += cell.other_minor;
        }
        for row in report_rows::seed(conn, number, None, of)? {
            let cell = all.cells.entry((row.farm, row.month)).or_default();
            cell.seed_g += row.grams;
            match row.cost() {
                Some(minor) => cell.seed.minor += minor,
                None => cell.seed.lacks = true,
            }
        }
        for a in report_rows::assets(conn, number, last, of)? {
            let (from, until) = (Month::of(a.in_service_on), a.disposed_on.map(Month::of));
            for month in first.max(from).to(last) {
                let minor = depreciation(month, from, until, a.value, a.life_months);
                if minor != 0 {
                    all.cells.entry((a.farm, month)).or_default().depreciation += minor;
                }
            }
        }
        if !several.is_empty() {
            for (farm, at, group, grams) in saving_rows::soaks_of_groups(conn, number, several)? {
                let month = Month::of(local_date(Instant(at), coop.zone));
                all.by_group.entry((farm, month)).or_default().push((group, grams));
            }
        }
        Ok(all)
    }

    /// The costs of a farm and month.
    pub fn of(&self, farm: Uuid, month: Month) -> Costs {
        self.cells.get(&(farm, month)).copied().unwrap_or_default()
    }

    /// The costs of a farm and month by class: seed by the group that a batch was for, the rest in
    /// proportion to it; what is not named by head × days and livestock units (Jahnke 1982).
    pub fn split(
        &self,
        farm: Uuid,
        month: Month,
        classes: &[(&str, f64)],
        class_of: &HashMap<Uuid, String>,
    ) -> Vec<Costs> {
        let costs = self.of(farm, month);
        if classes.len() == 1 {
            return vec![costs];
        }
        let units = |(class, days): &(&str, f64)| days * real(livestock_units_milli(class));
        let all: f64 = classes.iter().map(units).sum();
        let even = 1.0 / real(i64::try_from(classes.len().max(1)).unwrap_or(1));
        let by_units = |c: &(&str, f64)| if all > 0.0 { units(c) / all } else { even };
        let named = self.by_group.get(&(farm, month)).map_or(&[][..], Vec::as_slice);
        let of_class = |class: &str| {
            let is_of = |(group, _): &&(Uuid, i64)| class_of.get(group).is_some_and(|c| c == class);
            named.iter().filter(is_of).map(|(_, grams)| real(*grams)).sum::<f64>()
        };
        let named_g: f64 = classes.iter().map(|(class, _)| of_class(class)).sum();
        let total = real(costs.seed_g).max(named_g);
        let share = |c: &(&str, f64)| {
            if total <= 0.0 {
                return by_units(c);
            }
            (of_class(c.0) + (total - named_g) * by_units(c)) / total
        };
        let shares: Vec<f64> = classes.iter().map(share).collect();
        let seed = parts(costs.seed.minor, &shares);
        let (other, worn) = (parts(costs.other, &shares), parts(costs.depreciation, &shares));
        let part = |((seed, other), depreciation): ((i64, i64), i64)| Costs {
            seed: Known { minor: seed, lacks: costs.seed.lacks },
            other,
            depreciation,
            seed_g: 0,
        };
        seed.into_iter().zip(other).zip(worn).map(part).collect()
    }
}

/// An amount in parts that add up to it.
fn parts(amount: i64, shares: &[f64]) -> Vec<i64> {
    let (mut done, mut share) = (0, 0.0);
    let mut parts = Vec::with_capacity(shares.len());
    for part in shares {
        share += part;
        let upto = whole(real(amount) * share.min(1.0));
        parts.push(upto - done);
        done = upto;
    }
    if let Some(last) = parts.last_mut() {
        *last += amount - done;
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_add_up_to_the_amount() {
        assert_eq!(parts(100, &[0.5, 0.25, 0.25]), [50, 25, 25]);
        assert_eq!(parts(100, &[1.0 / 3.0, 1.0 / 3.0, 1.0 / 3.0]).iter().sum::<i64>(), 100);
        assert_eq!(parts(7, &[0.0, 1.0]), [0, 7]);
        assert_eq!(parts(0, &[0.5, 0.5]), [0, 0]);
    }
}
