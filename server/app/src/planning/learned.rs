//! What the plan learns from a co-operative's records, once a day, and how it is kept.

use crate::Coop;
use crate::error::AppError;
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;
use traybook_domain::kinds::CROPS;
use traybook_domain::planning::guide::{Guide, GuideName};
use traybook_domain::time::{LocalDays, plus_days, start_of_day};
use traybook_domain::value::Instant;
use traybook_planning::Learned;
use traybook_planning::learn::{
    LEARN_DAYS, SPOIL, SPOIL_TRAYS_MIN, Yields, learn_spoilage, learn_yield,
};
use traybook_storage::Conn;
use traybook_storage::planning::learned_rows::{self, GrownRow};
use uuid::Uuid;

/// Correlation of the trays of one batch. A usual value: the charts of spoilage estimate it, and
/// the plan hardly depends on it.
const RHO: f64 = 0.05;
/// Days before the first harvest learned from, in which its batch was soaked.
const GROWS_DAYS: u64 = 20;

/// What was learned of all farms on a day.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct LearnedFarms {
    /// Of a farm that is not among them.
    usual: Figures,
    farms: HashMap<Uuid, Figures>,
}

#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
struct Figures {
    /// Fresh fodder from a kg of seed, by crop; last of a crop that is not known.
    fresh: Vec<f64>,
    spoil: f64,
    sd: f64,
}

impl LearnedFarms {
    /// What was learned of a farm.
    #[must_use]
    pub fn of(&self, farm: Uuid) -> Learned {
        let of = self.farms.get(&farm).unwrap_or(&self.usual);
        Learned { fresh: of.fresh.clone(), spoil: of.spoil, sd: of.sd }
    }
}

/// What was learned last, with its day; none before the first night.
///
/// # Errors
/// Those of the store; `Internal` for a row that can not be read.
pub fn read(
    conn: &mut Conn,
    coop: i64,
    day: Option<NaiveDate>,
) -> Result<Option<(NaiveDate, Arc<LearnedFarms>)>, AppError> {
    let (Some(day), Some(body)) = (day, learned_rows::body(conn, coop)?) else { return Ok(None) };
    let learned = serde_json::from_str(&body).map_err(|e| AppError::Internal(e.to_string()))?;
    Ok(Some((day, Arc::new(learned))))
}

/// Farms with the lots that spoil on other farms too.
pub type BadLots = HashSet<(Uuid, Uuid)>;

/// What is to be kept of today; none where today's is kept already.
pub fn make_due(
    conn: &mut Conn,
    coop: &Coop,
    day: NaiveDate,
    bad: &BadLots,
) -> Result<Option<String>, AppError> {
    if learned_rows::day(conn, coop.number)?.is_some_and(|kept| kept >= day) {
        return Ok(None);
    }
    let made = make(conn, coop, day, bad)?;
    serde_json::to_string(&made).map(Some).map_err(|e| AppError::Internal(e.to_string()))
}

/// Yields of weighed harvests, by crop and farm; last of all crops together.
type Harvests = Vec<BTreeMap<Uuid, Vec<f64>>>;

fn make(
    conn: &mut Conn,
    coop: &Coop,
    day: NaiveDate,
    bad: &BadLots,
) -> Result<LearnedFarms, AppError> {
    let guide = coop.guide(conn)?;
    let before = |days: u64| day.checked_sub_days(chrono::Days::new(days)).unwrap_or(day);
    let first = start_of_day(before(LEARN_DAYS), coop.zone).0;
    let soaked = start_of_day(before(LEARN_DAYS + GROWS_DAYS), coop.zone).0;
    let end = start_of_day(plus_days(day, 1), coop.zone).0;
    let grown = learned_rows::grown(conn, coop.number, (soaked, end))?;
    let days = LocalDays::around(day, LEARN_DAYS + GROWS_DAYS, 2, coop.zone);
    let at = At { guide: &guide, days: &days, day };
    let batches: HashMap<Uuid, &GrownRow> = grown.iter().map(|g| (g.batch, g)).collect();
    let mut harvests: Harvests = vec![BTreeMap::new(); CROPS.len() + 1];
    for (batch, on, trays, grams) in learned_rows::harvests(conn, coop.number, first)? {
        let Some(batch) = batches.get(&batch) else { continue };
        let Some(fresh) = at.yield_of(batch, Instant(on), trays, grams) else { continue };
        let crop = CROPS.iter().position(|c| *c == batch.crop).unwrap_or(CROPS.len());
        for slot in [crop, CROPS.len()] {
            if let Some(of) = harvests.get_mut(slot) {
                of.entry(batch.farm).or_default().push(fresh);
            }
        }
    }
    // What a bad lot loses says nothing of the seed that comes next.
    let is_told = |g: &&GrownRow| {
        g.soaked_at >= first && g.lot.is_none_or(|lot| !bad.contains(&(g.farm, lot)))
    };
    Ok(learn(grown.iter().filter(is_told), &harvests, at.guide_yield()))
}

struct At<'a> {
    guide: &'a Guide,
    days: &'a LocalDays,
    day: NaiveDate,
}

impl At<'_> {
    fn guide_yield(&self) -> f64 {
        share(self.guide.value(GuideName::FreshKgPerKgSeed, None, self.day), 1_000.0)
    }

    /// Fresh fodder from a kg of the seed of the trays harvested, as if at full age.
    fn yield_of(&self, of: &GrownRow, at: Instant, trays: i64, grams: i64) -> Option<f64> {
        if of.spread <= 0 || of.seed_g <= 0 || of.harvested + of.discarded > of.spread {
            return None;
        }
        let soaked = self.days.date(Instant(of.soaked_at));
        let age =
            of.age.unwrap_or_else(|| self.guide.harvest_age_days(of.class.as_deref(), soaked));
        let young = (age - (self.days.date(at) - soaked).num_days()).max(0);
        let loss = share(self.guide.value(GuideName::YoungLossPercent, None, self.day), 100_000.0);
        let full = (1.0 - loss * share(young, 1.0)).max(0.1);
        let seed = share(of.seed_g, 1.0) * share(trays, share(of.spread, 1.0));
        (seed > 0.0).then(|| share(grams, 1.0) / seed / full)
    }
}

fn share(of: i64, over: f64) -> f64 {
    of as f64 / over
}

/// `grown` are the batches whose losses count.
fn learn<'a>(
    grown: impl Iterator<Item = &'a GrownRow>,
    harvests: &Harvests,
    guide: f64,
) -> LearnedFarms {
    let yields: Vec<Yields<Uuid>> = harvests.iter().map(|of| learn_yield(of, guide)).collect();
    let sd = yields.last().map_or(0.0, |y| y.sd);
    let mut trays: BTreeMap<Uuid, Vec<(f64, f64)>> = BTreeMap::new();
    let (mut all, mut lost) = (0, 0);
    for batch in grown {
        // One that has ended, and says what became of its trays.
        let is_over = batch.spread > 0 && batch.harvested + batch.discarded == batch.spread;
        if is_over {
            (all, lost) = (all + batch.spread, lost + batch.discarded);
            let of = (share(batch.spread, 1.0), share(batch.discarded, 1.0));
            trays.entry(batch.farm).or_default().push(of);
        }
    }
    let usual = if all < SPOIL_TRAYS_MIN { SPOIL } else { share(lost, share(all, 1.0)) };
    // Of a crop that a farm has not harvested: what it is used to from any, else the others'.
    let fresh = |farm: Option<&Uuid>| -> Vec<f64> {
        let any = yields.last();
        let own = farm.and_then(|farm| any.and_then(|y| y.farms.get(farm)).copied());
        let of = |(y, of): (&Yields<Uuid>, &BTreeMap<Uuid, Vec<f64>>)| {
            let known = farm.and_then(|farm| y.farms.get(farm)).copied();
            known.or(own).unwrap_or(match of.is_empty() {
                true => any.map_or(guide, |y| y.usual),
                false => y.usual,
            })
        };
        yields.iter().zip(harvests).map(of).collect()
    };
    let mut ids: Vec<Uuid> = trays.keys().copied().collect();
    ids.extend(harvests.last().into_iter().flat_map(|of| of.keys().copied()));
    let figures = |farm: &Uuid| {
        let of = trays.get(farm).map_or(&[][..], Vec::as_slice);
        let spoil = learn_spoilage(of, RHO, usual);
        (*farm, Figures { fresh: fresh(Some(farm)), spoil, sd })
    };
    LearnedFarms {
        usual: Figures { fresh: fresh(None), spoil: usual, sd },
        farms: ids.iter().map(figures).collect(),
    }
}
