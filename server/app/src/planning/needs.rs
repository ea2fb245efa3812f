//! The seed that each farm's plan takes, kept as long as the farm stays as it is: a forecast adds
//! them up, and after a change makes those of the farms that changed.

use super::board::{Board, FarmBoard};
use super::by_farm::ByFarm;
use crate::error::AppError;
use crate::{App, Coop};
use chrono::NaiveDate;
use std::sync::Arc;
use traybook_planning::forecast::{ByCropAndDay, SeedNeed, seed_need};
use traybook_planning::work::{Asked, Batch};

/// Lengths of forecasts that are kept, in weeks: those that pages and devices ask for.
const KEPT: [(usize, &str); 3] = [(1, "needs 1"), (4, "needs 4"), (8, "needs 8")];

/// What a farm's plan takes, and what was soaked there.
pub(super) struct Need {
    /// What its plan takes.
    pub plan: SeedNeed,
    /// Soaks on the board: crop, day, grams.
    pub soaks: Vec<(usize, NaiveDate, i64)>,
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
        let soak = |b: &Batch| (b.crop, board.days.date(b.soaked_at), b.seed_g);
        let plan = sparse(seed_need(&farm.scene, asked, weeks * 7));
        Need { plan, soaks: farm.scene.batches.iter().map(soak).collect() }
    };
    let Some((_, name)) = KEPT.iter().find(|(kept, _)| *kept == weeks) else {
        return Ok(farms.iter().map(|farm| Arc::new(make(farm))).collect());
    };
    let kept = ByFarm::kept(app, coop, board, name);
    Ok(farms.iter().map(|farm| kept.get(farm, make)).collect())
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
