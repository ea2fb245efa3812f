//! Reading what is stored: the figures of farms and of the co-operative, or parts of them.

use super::figures::{FORMAT, FarmFigures, SharedCharts};
use crate::error::AppError;
use crate::savings::{FeedPrices, YearSoFar};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use std::collections::HashMap;
use traybook_answers::estimates::{AsOf, Enterprise, ProgrammeOutputChange};
use traybook_answers::planning::ServicePrices;
use traybook_answers::rations::FeedValues;
use traybook_answers::seed::SupplierComparison;
use traybook_answers::wire;
use traybook_domain::Month;
use traybook_domain::value::Instant;
use traybook_storage::Conn;
use traybook_storage::estimates::snapshots::{self, State};
use traybook_storage::records::farm_rows::Farms;
use uuid::Uuid;

/// The figures of farms, all or these, as they were last made.
pub(super) fn farms(
    conn: &mut Conn,
    coop: i64,
    of: Farms<'_>,
) -> Result<HashMap<Uuid, FarmFigures>, AppError> {
    let rows = snapshots::of_farms(conn, coop, of)?;
    let read = |(farm, body): (Uuid, String)| Some((farm, serde_json::from_str(&body).ok()?));
    // A row of another form is of an older program; it is made anew within a minute.
    Ok(rows.into_iter().filter_map(read).collect())
}

/// The figures of the co-operative as they were last made, all or the part that is asked for, and of
/// which state they are; none before they were made by this program. What is not asked for is passed
/// over, which takes a fraction of the time.
pub(super) fn coop<Part: DeserializeOwned>(
    conn: &mut Conn,
    coop: i64,
) -> Result<(AsOf, Option<Part>), AppError> {
    let row = snapshots::of_coop(conn, coop)?;
    let row = row.filter(|r| r.format == FORMAT);
    let figures = row.as_ref().and_then(|r| serde_json::from_str(&r.body).ok());
    Ok((as_of(row.filter(|_| figures.is_some()).map(|r| r.state)), figures))
}

/// The years so far.
#[derive(Deserialize)]
pub(super) struct Years {
    pub years: Vec<YearSoFar>,
}

/// Median prices.
#[derive(Deserialize)]
pub(super) struct Prices {
    pub prices: FeedPrices,
}

/// What charts share.
#[derive(Deserialize)]
pub(super) struct Charts {
    pub charts: SharedCharts,
}

/// The correlation between trays of a batch; none before figures were made.
pub(crate) fn tray_correlation(conn: &mut Conn, number: i64) -> Result<Option<f64>, AppError> {
    Ok(coop::<Charts>(conn, number)?.1.map(|kept| kept.charts.correlation))
}

#[derive(Deserialize)]
struct Suppliers {
    suppliers: SupplierComparison,
}

/// Suppliers as they were last compared.
pub(crate) fn kept_suppliers(
    conn: &mut Conn,
    number: i64,
) -> Result<Option<SupplierComparison>, AppError> {
    let (AsOf { revision, made_at }, made) = coop::<Suppliers>(conn, number)?;
    Ok(made.map(|made| SupplierComparison { revision, made_at, ..made.suppliers }))
}

#[derive(Deserialize)]
struct Service {
    service_prices: Option<ServicePrices>,
}

/// Prices of wasted and missing fodder as last made; the outer none before figures were made.
pub(crate) fn kept_service_prices(
    conn: &mut Conn,
    number: i64,
) -> Result<Option<Option<ServicePrices>>, AppError> {
    Ok(coop::<Service>(conn, number)?.1.map(|made| made.service_prices))
}

#[derive(Deserialize)]
struct Feeds {
    feed_values: Vec<FeedValues>,
}

/// What feeds and fodder of all farms cost in a month, as last made; none for other months.
pub(crate) fn kept_feed_values(
    conn: &mut Conn,
    number: i64,
    month: Month,
) -> Result<Option<FeedValues>, AppError> {
    let made = coop::<Feeds>(conn, number)?.1;
    Ok(made.and_then(|made| made.feed_values.into_iter().find(|v| v.month.0 == month)))
}

/// The change in output of the co-operative alone.
#[derive(Deserialize)]
pub(super) struct Programmes {
    milk: Programme,
    eggs: Programme,
}

#[derive(Deserialize)]
struct Programme {
    programme: ProgrammeOutputChange,
}

impl Programmes {
    pub(super) fn of(self, enterprise: Enterprise) -> ProgrammeOutputChange {
        match enterprise {
            Enterprise::Milk => self.milk.programme,
            Enterprise::Eggs => self.eggs.programme,
        }
    }
}

/// Which state figures are of, as it is sent.
pub(crate) fn as_of(state: Option<State>) -> AsOf {
    AsOf {
        revision: state.map(|s| s.revision),
        made_at: state.map(|s| wire::Time(Instant(s.made_at))),
    }
}
