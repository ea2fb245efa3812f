//! How much fodder an animal had in a month, where that is known.

use super::Ground;
use super::panel::FarmPanel;
use crate::error::AppError;
use crate::estimates::put;
use std::collections::{HashMap, HashSet};
use traybook_answers::estimates::Enterprise;
use traybook_domain::kinds::{GrowingPause, gives_milk, lays_eggs};
use traybook_domain::record::Record as _;
use traybook_domain::time::{local_date, start_of_day};
use traybook_domain::value::{Instant, real};
use traybook_domain::{Kind, Month};
use traybook_storage::Conn;
use traybook_storage::estimates::estimate_rows::{fed_months, unweighed_feedings};
use traybook_storage::records::{self, Filter, Visible};
use uuid::Uuid;

/// kg of dry matter an animal and day, one a cell of the panel. Not-a-number where it is not known:
/// something was fed without being weighed, the farm keeps animals of several classes, or nothing
/// was fed without a pause of growing that covers the month.
pub(super) fn doses(
    conn: &mut Conn,
    ground: &Ground<'_>,
    panel: &FarmPanel,
) -> Result<Vec<f64>, AppError> {
    let (number, zone) = (ground.coop.number, ground.coop.zone);
    let gives = if panel.enterprise == Enterprise::Milk { gives_milk } else { lays_eggs };
    let days = ground.savings.animal_days_of_one_class(gives);
    let fed: HashMap<(Uuid, Month), i64> = fed_months(conn, number, panel.first)?
        .into_iter()
        .map(|(farm, month, grams)| ((farm, month), grams))
        .collect();
    let since = start_of_day(panel.first.first_day(), zone).0;
    let unweighed: HashSet<(Uuid, Month)> = unweighed_feedings(conn, number, since)?
        .into_iter()
        .map(|(farm, at)| (farm, Month::of(local_date(Instant(at), zone))))
        .collect();
    let guide = ground.coop.guide(conn)?;
    let pauses = pauses(conn, number)?;
    let months = panel.months.months;
    let mut doses = vec![f64::NAN; panel.farms.len() * months];
    for (at, farm) in panel.farms.iter().enumerate() {
        let Some((first, animal_days)) = days.get(&farm.farm) else { continue };
        for (t, month) in panel.first.to(panel.last).enumerate() {
            let place = usize::try_from(month.number() - first.number()).ok();
            let animals = place.and_then(|p| animal_days.get(p)).copied().unwrap_or(0.0);
            if animals <= 0.0 || unweighed.contains(&(farm.farm, month)) {
                continue;
            }
            let share = real(guide.fodder_dry_matter(month.first_day())) / 10_000.0;
            let dose = match fed.get(&(farm.farm, month)) {
                Some(grams) if *grams > 0 => real(*grams) / 1_000.0 * share / animals,
                _ if is_paused(pauses.get(&farm.farm), month) => 0.0,
                _ => continue,
            };
            put(&mut doses, at * months + t, dose);
        }
    }
    Ok(doses)
}

fn pauses(conn: &mut Conn, number: i64) -> Result<HashMap<Uuid, Vec<GrowingPause>>, AppError> {
    let (all, filter) = (Visible::All, Filter::default());
    let mut by_farm: HashMap<Uuid, Vec<GrowingPause>> = HashMap::new();
    for record in records::page(conn, number, Kind::GrowingPause, &all, &filter, None, 100_000)? {
        if let Some(pause) = GrowingPause::from_values(&record.values) {
            by_farm.entry(pause.farm_id).or_default().push(pause);
        }
    }
    Ok(by_farm)
}

/// Whether one pause covers all of a month.
fn is_paused(pauses: Option<&Vec<GrowingPause>>, month: Month) -> bool {
    let covers = |p: &GrowingPause| {
        p.first_day <= month.first_day() && p.last_day.is_none_or(|last| last >= month.last_day())
    };
    pauses.is_some_and(|all| all.iter().any(covers))
}
