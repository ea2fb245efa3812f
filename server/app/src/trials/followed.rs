//! Whether farms started as was drawn.

use super::orders::places;
use crate::error::AppError;
use chrono::NaiveDate;
use std::collections::HashMap;
use std::sync::Arc;
use traybook_answers::estimates::Enterprise;
use traybook_answers::trials::{Followed, OrderFollowed};
use traybook_domain::kinds::StartPlan;
use traybook_domain::record::Record as _;
use traybook_domain::{Kind, Month};
use traybook_storage::Conn;
use traybook_storage::records::farm_rows::FarmRow;
use traybook_storage::records::{self, Filter, Visible};
use uuid::Uuid;

/// Whether a farm started as was drawn.
pub(super) fn follow(
    month: Option<Month>,
    started_on: Option<NaiveDate>,
    today: NaiveDate,
) -> Followed {
    let started = started_on.filter(|day| *day <= today).map(Month::of);
    match (month, started) {
        (Some(month), Some(started)) if month == started => Followed::AsDrawn,
        (Some(_), Some(_)) => Followed::OtherMonth,
        (Some(month), None) if month < Month::of(today) => Followed::Late,
        (None, Some(_)) => Followed::StartedThough,
        (_, None) => Followed::ToCome,
    }
}

/// How starts of the newest order of an enterprise went; none where none was drawn.
pub(crate) fn followed(
    conn: &mut Conn,
    number: i64,
    enterprise: Enterprise,
    farms: &[Arc<FarmRow>],
    today: NaiveDate,
) -> Result<Option<OrderFollowed>, AppError> {
    let (all, filter) = (Visible::All, Filter::default());
    let found = records::page(conn, number, Kind::StartPlan, &all, &filter, None, 1_000)?;
    let plans = found.iter().filter_map(|r| Some((r, StartPlan::from_values(&r.values)?)));
    let newest = plans
        .filter(|(_, plan)| plan.enterprise == enterprise.text())
        .max_by_key(|(record, _)| (record.created_at, record.id));
    let Some((record, plan)) = newest else { return Ok(None) };
    let by_id: HashMap<Uuid, &Arc<FarmRow>> = farms.iter().map(|f| (f.farm, f)).collect();
    let first = Month::of(plan.first_month);
    let (mut as_drawn, mut otherwise) = (0, 0);
    for place in places(conn, number, record.id)? {
        let Some(farm) = by_id.get(&place.farm_id) else { continue };
        let month = place.month.and_then(|m| i32::try_from(m).ok()).map(|m| first.plus(m));
        match follow(month, farm.started_on, today) {
            Followed::AsDrawn | Followed::ToCome => as_drawn += 1,
            Followed::OtherMonth | Followed::Late | Followed::StartedThough => otherwise += 1,
        }
    }
    Ok(Some(OrderFollowed { name: plan.name, as_drawn, otherwise }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_start_is_held_against_its_month() {
        let day = |text: &str| text.parse().expect("a day");
        let month = Month::parse("2026-03");
        let today = day("2026-05-10");
        let of = |month, started: Option<&str>| follow(month, started.map(day), today);
        assert_eq!(of(month, Some("2026-03-30")), Followed::AsDrawn);
        assert_eq!(of(month, Some("2026-04-01")), Followed::OtherMonth);
        assert_eq!(of(month, None), Followed::Late);
        assert_eq!(of(Month::parse("2026-05"), None), Followed::ToCome);
        assert_eq!(of(None, None), Followed::ToCome);
        assert_eq!(of(None, Some("2026-04-01")), Followed::StartedThough);
        assert_eq!(of(None, Some("2026-06-01")), Followed::ToCome);
    }
}
