//! Facts of a month by farm, never by record: sums, seed, depreciation.

use crate::Coop;
use crate::error::AppError;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;
use traybook_domain::effects::Sums;
use traybook_domain::kinds::Area;
use traybook_domain::record::Record as _;
use traybook_domain::time::start_of_day;
use traybook_domain::{Kind, Month};
use traybook_reports::savings::depreciation;
use traybook_storage::records::farm_rows::{self, FarmRow, Farms};
use traybook_storage::records::{self, Filter, Visible};
use traybook_storage::{Conn, savings::report_rows};
use uuid::Uuid;

/// Farms that are read by name rather than with all others.
const FEW: usize = 8;

/// Farms, and the ids of these where they are few.
type SeenFarms = (Vec<Arc<FarmRow>>, Option<Vec<Uuid>>);

/// The farms of a person, by code, and their ids where they are few.
pub(crate) fn seen_farms(
    conn: &mut Conn,
    number: i64,
    visible: &Visible,
) -> Result<SeenFarms, AppError> {
    let few = farm_rows::few(conn, number, visible, FEW)?;
    let mut farms = farm_rows::farms(conn, number, few.as_deref())?;
    farms.retain(|f| visible.sees(f.area, f.member));
    Ok((farms, few))
}

pub(crate) fn area_names(conn: &mut Conn, number: i64) -> Result<BTreeMap<Uuid, String>, AppError> {
    let (all, filter) = (Visible::All, Filter { withdrawn: true, ..Filter::default() });
    let areas = records::page(conn, number, Kind::Area, &all, &filter, None, 100_000)?;
    let name = |r: &records::Record| Area::from_values(&r.values).map(|a| (r.id, a.name));
    Ok(areas.iter().filter_map(name).collect())
}

/// What a farm recorded in a month.
#[derive(Clone, Debug)]
pub(crate) struct FarmFacts {
    pub farm: Uuid,
    /// Month sums; none where nothing was recorded.
    pub sums: Option<Sums>,
    /// Cost of the seed soaked, minor units; none where a lot has no price.
    pub seed_minor: Option<i64>,
    /// Depreciation, minor units.
    pub depreciation_minor: i64,
    /// Trays whose fodder was fed without being weighed.
    pub fed_unweighed_trays: i64,
}

/// What a farm's records of a month add up to.
pub(super) struct Recorded {
    pub farm: Arc<FarmRow>,
    /// None where nothing was recorded.
    pub sums: Option<Sums>,
    pub fed_unweighed_trays: i64,
}

/// The sums of a month, of the farms whose members were some in it.
pub(super) fn recorded(
    conn: &mut Conn,
    coop: &Coop,
    month: Month,
    (farms, of): (Vec<Arc<FarmRow>>, Farms<'_>),
) -> Result<Vec<Recorded>, AppError> {
    let number = coop.number;
    let sums: HashMap<Uuid, Sums> =
        report_rows::sums(conn, number, month, of)?.into_iter().collect();
    let begins = |month: Month| start_of_day(month.first_day(), coop.zone).0;
    let span = (begins(month), begins(month.plus(1)));
    let unweighed: HashMap<Uuid, i64> =
        report_rows::fed_unweighed(conn, number, span, of)?.into_iter().collect();
    let in_month = |f: &Arc<FarmRow>| {
        let (joined, left) = f.joined;
        joined <= month.last_day() && left.is_none_or(|l| l >= month.first_day())
    };
    let farm = |farm: Arc<FarmRow>| Recorded {
        sums: sums.get(&farm.farm).copied(),
        fed_unweighed_trays: unweighed.get(&farm.farm).copied().unwrap_or(0),
        farm,
    };
    Ok(farms.into_iter().filter(in_month).map(farm).collect())
}

/// What these farms recorded in a month, of those whose members were some in it.
pub(crate) fn load(
    conn: &mut Conn,
    coop: &Coop,
    month: Month,
    (rows, few): SeenFarms,
) -> Result<Vec<FarmFacts>, AppError> {
    let number = coop.number;
    let of = few.as_deref();
    let seed = seed_costs(conn, number, month, of)?;
    let lost = lost_value(conn, number, month, of)?;
    let farm = |r: Recorded| FarmFacts {
        farm: r.farm.farm,
        sums: r.sums,
        seed_minor: seed.get(&r.farm.farm).copied().unwrap_or(Some(0)),
        depreciation_minor: lost.get(&r.farm.farm).copied().unwrap_or(0),
        fed_unweighed_trays: r.fed_unweighed_trays,
    };
    Ok(recorded(conn, coop, month, (rows, of))?.into_iter().map(farm).collect())
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

/// What the seed soaked cost each farm; none where a lot has no price.
fn seed_costs(
    conn: &mut Conn,
    number: i64,
    month: Month,
    of: Farms<'_>,
) -> Result<HashMap<Uuid, Option<i64>>, AppError> {
    let mut costs: HashMap<Uuid, Option<i64>> = HashMap::new();
    for row in report_rows::seed(conn, number, Some(month), of)? {
        let entry = costs.entry(row.farm).or_insert(Some(0));
        *entry = entry.zip(row.cost()).map(|(a, b)| a + b);
    }
    Ok(costs)
}
