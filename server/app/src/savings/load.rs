//! What the report of a month is made of: rows by farm, never by record.

use crate::Coop;
use crate::error::AppError;
use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;
use traybook_domain::effects::{PRICE_MONTHS, Sums};
use traybook_domain::herd::animal_days;
use traybook_domain::kinds::{Area, Feed};
use traybook_domain::record::Record as _;
use traybook_domain::time::start_of_day;
use traybook_domain::{Kind, Month};
use traybook_reports::savings::{self, FarmInput, GroupInput, Input, depreciation, median_prices};
use traybook_storage::farm_rows::{self, FarmRow, Farms};
use traybook_storage::records::{self, Filter, Visible};
use traybook_storage::{Conn, changes, report_rows};
use uuid::Uuid;

/// Feed bought: farm, feed, grams, minor units.
type Bought = Vec<(Uuid, Uuid, i64, i64)>;
/// Cost of the seed soaked; none where a lot has no price.
type SeedCosts = HashMap<Uuid, Option<i64>>;

/// The co-operative's median price of each feed, minor units for 1,000 kg.
type Prices = HashMap<Uuid, i64>;

/// Farms that are read by name rather than with all others.
const FEW: usize = 8;

/// The ids of the farms of a person where they are few.
pub(super) fn few(
    conn: &mut Conn,
    number: i64,
    visible: &Visible,
) -> Result<Option<Vec<Uuid>>, AppError> {
    Ok(farm_rows::few(conn, number, visible, FEW)?)
}

/// Farms, and the ids of these where they are few.
type SeenFarms = (Vec<Arc<FarmRow>>, Option<Vec<Uuid>>);

/// The farms of a person, by code, and their ids where they are few.
pub(crate) fn seen_farms(
    conn: &mut Conn,
    number: i64,
    visible: &Visible,
) -> Result<SeenFarms, AppError> {
    let few = few(conn, number, visible)?;
    let mut farms = farm_rows::farms(conn, number, few.as_deref())?;
    farms.retain(|f| visible.sees(f.area, f.member));
    Ok((farms, few))
}

/// Names of areas.
///
/// # Errors
/// Those of the store.
pub(crate) fn area_names(conn: &mut Conn, number: i64) -> Result<BTreeMap<Uuid, String>, AppError> {
    let (all, filter) = (Visible::All, Filter { withdrawn: true, ..Filter::default() });
    let areas = records::page(conn, number, Kind::Area, &all, &filter, None, 100_000)?;
    let name = |r: &records::Record| Area::from_values(&r.values).map(|a| (r.id, a.name));
    Ok(areas.iter().filter_map(name).collect())
}

/// The parts, by farm.
struct Parts {
    sums: HashMap<Uuid, Sums>,
    groups: HashMap<Uuid, Vec<GroupInput>>,
    bought: Bought,
    seed: SeedCosts,
    lost: HashMap<Uuid, i64>,
    unweighed: HashMap<Uuid, i64>,
}

impl Parts {
    /// Reads the parts of all farms, or of these.
    fn read(conn: &mut Conn, coop: &Coop, month: Month, of: Farms<'_>) -> Result<Self, AppError> {
        let number = coop.number;
        Ok(Self {
            sums: report_rows::sums(conn, number, month, of)?.into_iter().collect(),
            groups: groups(conn, number, month, of)?,
            bought: report_rows::feeds(conn, number, month, of)?,
            seed: seed_costs(conn, number, month, of)?,
            lost: lost_value(conn, number, month, of)?,
            unweighed: unweighed(conn, coop, month, of)?,
        })
    }

    /// What the report is told of each farm.
    fn farms(mut self, rows: &[Arc<FarmRow>], month: Month) -> Vec<FarmInput> {
        let mut feeds: HashMap<Uuid, Vec<(Uuid, i64, i64)>> = HashMap::new();
        for (farm, feed, grams, minor) in self.bought {
            feeds.entry(farm).or_default().push((feed, grams, minor));
        }
        let in_month = |f: &&Arc<FarmRow>| {
            let (joined, left) = f.joined;
            joined <= month.last_day() && left.is_none_or(|l| l >= month.first_day())
        };
        let farm = |f: &Arc<FarmRow>| FarmInput {
            farm: f.farm,
            farm_code: f.code.clone(),
            member: f.member,
            member_number: f.number.clone(),
            member_name: f.name.clone(),
            area: f.area,
            started: f.started_on.map(Month::of),
            sums: self.sums.get(&f.farm).copied(),
            groups: self.groups.remove(&f.farm).unwrap_or_default(),
            feeds: feeds.remove(&f.farm).unwrap_or_default(),
            seed_minor: self.seed.get(&f.farm).copied().unwrap_or(Some(0)),
            depreciation_minor: self.lost.get(&f.farm).copied().unwrap_or(0),
            fed_unweighed_trays: self.unweighed.get(&f.farm).copied().unwrap_or(0),
        };
        rows.iter().filter(in_month).map(farm).collect()
    }
}

/// Loads what the report of an open month needs, without adjustments and estimates.
///
/// # Errors
/// Those of the store.
pub(crate) fn load(
    conn: &mut Conn,
    coop: &Coop,
    month: Month,
    visible: &Visible,
) -> Result<Input, AppError> {
    let number = coop.number;
    let (rows, few) = seen_farms(conn, number, visible)?;
    let parts = Parts::read(conn, coop, month, few.as_deref())?;
    let all = few.is_none().then(|| of_bought(&parts.bought));
    let farms = parts.farms(&rows, month);
    Ok(Input {
        month,
        cooperative: coop.name.clone(),
        currency: coop.currency.clone(),
        digits: coop.digits,
        fodder_dry_matter: coop.guide(conn)?.fodder_dry_matter(month.last_day()),
        median_prices: medians(conn, number, month, &farms, all)?,
        farms,
        areas: area_names(conn, number)?,
        feeds: feed_names(conn, number)?,
        adjustments: Vec::new(),
        extras: HashMap::new(),
        data_version: changes::counters(conn, number)?.change_seq,
    })
}

/// Trays whose fodder was fed without being weighed.
fn unweighed(
    conn: &mut Conn,
    coop: &Coop,
    month: Month,
    of: Farms<'_>,
) -> Result<HashMap<Uuid, i64>, AppError> {
    let begins = |month: Month| start_of_day(month.first_day(), coop.zone).0;
    let span = (begins(month), begins(month.plus(1)));
    Ok(report_rows::fed_unweighed(conn, coop.number, span, of)?.into_iter().collect())
}

fn lost_value(
    conn: &mut Conn,
    number: i64,
    month: Month,
    of: Farms<'_>,
) -> Result<HashMap<Uuid, i64>, AppError> {
    let mut lost: HashMap<Uuid, i64> = HashMap::new();
    for a in report_rows::assets(conn, number, month, of)? {
        let (from, until) = (Month::of(a.in_service_on), a.disposed_on.map(Month::of));
        *lost.entry(a.farm).or_default() +=
            depreciation(month, from, until, a.value, a.life_months);
    }
    Ok(lost)
}

/// Median prices of this month and, where the farms need them, of those before. They are those of
/// the whole co-operative, whoever reads; `this_month` is read where it is not given.
fn medians(
    conn: &mut Conn,
    number: i64,
    month: Month,
    farms: &[FarmInput],
    mut this_month: Option<Prices>,
) -> Result<Vec<Prices>, AppError> {
    // A farm that bought a feed itself is charged its own price.
    let has_own = |f: &FarmInput, feed: Uuid| {
        f.feeds
            .iter()
            .any(|(id, grams, minor)| *id == feed && savings::unit_price(*grams, *minor).is_some())
    };
    let wanted: HashSet<Uuid> = farms
        .iter()
        .flat_map(|f| f.groups.iter().flat_map(|g| g.ration.iter()).map(move |r| (f, r.0)))
        .filter(|(f, feed)| !has_own(f, *feed))
        .map(|(_, feed)| feed)
        .collect();
    let mut prices: Vec<Prices> = Vec::new();
    for back in 0..=PRICE_MONTHS {
        let is_known = |feed: &Uuid| prices.iter().any(|p| p.contains_key(feed));
        if wanted.iter().all(is_known) {
            break;
        }
        prices.push(match this_month.take() {
            Some(known) => known,
            None => of_bought(&report_rows::feeds(conn, number, month.plus(-back), None)?),
        });
    }
    Ok(prices)
}

fn of_bought(rows: &Bought) -> Prices {
    let rows: Vec<(Uuid, i64, i64)> = rows.iter().map(|(_, f, g, m)| (*f, *g, *m)).collect();
    median_prices(rows.iter())
}

fn groups(
    conn: &mut Conn,
    number: i64,
    month: Month,
    of: Farms<'_>,
) -> Result<HashMap<Uuid, Vec<GroupInput>>, AppError> {
    let rows = report_rows::groups(conn, number, month, of)?;
    let ids: Option<Vec<Uuid>> = of.map(|_| rows.iter().map(|g| g.group).collect());
    let mut rations: HashMap<Uuid, Vec<(Uuid, i64)>> = HashMap::new();
    for (group, feed, grams) in report_rows::rations(conn, number, ids.as_deref())? {
        rations.entry(group).or_default().push((feed, grams));
    }
    let mut by_farm: HashMap<Uuid, Vec<GroupInput>> = HashMap::new();
    for row in rows {
        by_farm.entry(row.farm).or_default().push(GroupInput {
            animal_days: animal_days(row.herd, month),
            ration: rations.remove(&row.group).unwrap_or_default(),
        });
    }
    Ok(by_farm)
}

/// What the seed soaked cost each farm; none where a lot has no price.
fn seed_costs(
    conn: &mut Conn,
    number: i64,
    month: Month,
    of: Farms<'_>,
) -> Result<SeedCosts, AppError> {
    let mut costs: SeedCosts = HashMap::new();
    for row in report_rows::seed(conn, number, Some(month), of)? {
        let entry = costs.entry(row.farm).or_insert(Some(0));
        *entry = entry.zip(row.cost()).map(|(a, b)| a + b);
    }
    Ok(costs)
}

fn feed_names(conn: &mut Conn, number: i64) -> Result<HashMap<Uuid, String>, AppError> {
    let (all, filter) = (Visible::All, Filter { withdrawn: true, ..Filter::default() });
    let feeds = records::page(conn, number, Kind::Feed, &all, &filter, None, 10_000)?;
    let name = |r: &records::Record| Feed::from_values(&r.values).map(|f| (r.id, f.name));
    Ok(feeds.iter().filter_map(name).collect())
}
