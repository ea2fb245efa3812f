//! The seed that each farm's plan takes, kept as long as the farm stays as it is: a forecast adds
//! them up, and after a change makes those of the farms that changed.

use super::board::{Board, FarmBoard};
use crate::ctx::{App, Coop};
use crate::error::AppError;
use chrono::{Datelike as _, NaiveDate};
use std::collections::{HashMap, HashSet};
use std::sync::{Arc, Mutex, PoisonError};
use traybook_domain::guide::Guide;
use traybook_domain::time::local_date;
use traybook_planning::forecast::{ByCropAndDay, SeedNeed, seed_need};
use traybook_planning::work::{Asked, Batch};
use uuid::Uuid;

/// Lengths of forecasts that are kept, in weeks: those that pages and devices ask for.
const KEPT: [(usize, &str); 3] = [(1, "needs 1"), (4, "needs 4"), (8, "needs 8")];

/// What all farms' needs rest on besides the farm itself.
#[derive(PartialEq)]
struct Common {
    day: NaiveDate,
    zone: chrono_tz::Tz,
    guide: Guide,
    held: HashSet<Uuid>,
}

/// What a farm's plan takes, and what was soaked there.
pub(super) struct Need {
    /// What its plan takes.
    pub plan: SeedNeed,
    /// Soaks on the board: crop, day, grams.
    pub soaks: Vec<(usize, NaiveDate, i64)>,
}

/// A farm as it was, and its need.
type Kept = (Arc<FarmBoard>, Arc<Need>);

/// Needs by farm.
struct Needs {
    common: Common,
    farms: Mutex<HashMap<Uuid, Kept>>,
}

/// The needs of these farms, in their order.
///
/// # Errors
/// None of its own.
pub(super) fn of(
    app: &App,
    coop: &Coop,
    board: &Board,
    farms: &[&Arc<FarmBoard>],
    (weeks, asked): (usize, &Asked<'_>),
) -> Result<Vec<Arc<Need>>, AppError> {
    let make = |farm: &FarmBoard| {
        let soak = |b: &Batch| (b.crop, local_date(b.soaked_at, coop.zone), b.seed_g);
        let plan = sparse(seed_need(&farm.scene, asked, weeks * 7));
        Arc::new(Need { plan, soaks: farm.scene.batches.iter().map(soak).collect() })
    };
    let Some((_, name)) = KEPT.iter().find(|(kept, _)| *kept == weeks) else {
        return Ok(farms.iter().map(|farm| make(farm)).collect());
    };
    let common = Common {
        day: board.day,
        zone: coop.zone,
        guide: board.guide.clone(),
        held: board.held.keys().copied().collect(),
    };
    let version = (board.seq, i64::from(board.day.num_days_from_ce()));
    let needs =
        app.estimates.renew((coop.number, name), version, |old: Option<Arc<Arc<Needs>>>| {
            let old = old.filter(|old| old.common == common);
            Ok(old.map_or_else(
                || Arc::new(Needs { common, farms: Mutex::default() }),
                |old| Arc::clone(&old),
            ))
        })?;
    let mut kept = needs.farms.lock().unwrap_or_else(PoisonError::into_inner);
    let need = |farm: &&Arc<FarmBoard>| {
        if let Some((was, need)) = kept.get(&farm.row.farm)
            && Arc::ptr_eq(was, farm)
        {
            return Arc::clone(need);
        }
        let need = make(farm);
        kept.insert(farm.row.farm, (Arc::clone(farm), Arc::clone(&need)));
        need
    };
    Ok(farms.iter().map(need).collect())
}

/// Without the days of crops of which there is nothing: a farm grows one or two.
fn sparse(mut need: SeedNeed) -> SeedNeed {
    let empty = |all: &mut ByCropAndDay| {
        for days in all.iter_mut().filter(|days| days.iter().all(|g| *g == 0)) {
            *days = Vec::new();
        }
    };
    empty(&mut need.need);
    empty(&mut need.issue);
    need
}
