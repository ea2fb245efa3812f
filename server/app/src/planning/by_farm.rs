//! What is made of single farms of the board, kept as long as the farm stays as it is: after a
//! change it is made anew for the farms that changed.

use super::board::{Board, FarmBoard};
use crate::{App, Coop};
use chrono::NaiveDate;
use std::any::Any;
use std::collections::{HashMap, HashSet};
use std::sync::{Arc, Mutex, PoisonError};
use traybook_domain::planning::guide::Guide;
use uuid::Uuid;

/// What it depends on besides the farm itself.
#[derive(Clone, PartialEq)]
struct Common {
    day: NaiveDate,
    zone: chrono_tz::Tz,
    guide: Guide,
    held: HashSet<Uuid>,
}

/// A farm as it was, and what was made of it.
type Made<T> = (Arc<FarmBoard>, Arc<T>);

/// Something of each farm of a day's board.
pub(super) struct ByFarm<T> {
    common: Common,
    farms: Mutex<HashMap<Uuid, Made<T>>>,
}

impl<T: Any + Send + Sync> ByFarm<T> {
    /// What is kept under a name; empty where the day, the guide or a hold is another.
    pub(super) fn kept(app: &App, coop: &Coop, board: &Board, name: &'static str) -> Arc<Self> {
        let common = Common {
            day: board.day,
            zone: coop.zone,
            guide: board.guide.clone(),
            held: board.held.keys().copied().collect(),
        };
        let place = app.boards.place(coop.number);
        let is_good = |kept: &Self| kept.common == common;
        place.made(name, is_good, || Self { common: common.clone(), farms: Mutex::default() })
    }

    /// What was made of a farm, or is made now.
    pub(super) fn get(&self, farm: &Arc<FarmBoard>, make: impl FnOnce(&FarmBoard) -> T) -> Arc<T> {
        let mut farms = self.farms.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((was, made)) = farms.get(&farm.row.farm)
            && Arc::ptr_eq(was, farm)
        {
            return Arc::clone(made);
        }
        let made = Arc::new(make(farm));
        farms.insert(farm.row.farm, (Arc::clone(farm), Arc::clone(&made)));
        made
    }
}
