//! Estimates: did output change, who keeps spoiling, which seed lots.
//!
//! They are computed on demand from the month sums (output) and the trays by batch (spoilage), and
//! kept until a record changes that they rest on: the number of the co-operative's last change
//! stands beside them, and the change feed tells what came after it, so an answer is never stale.
//! The methods are those of `traybook-analytics`.

mod feed;
mod flags;
mod output;
mod saving;
mod spoilage;

use serde_json::Value as Json;
use std::any::Any;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use crate::ctx::Coop;
use crate::error::AppError;
use traybook_domain::limits::{FARMS_MENDED_MAX, FOLLOWED_MAX};
use traybook_domain::value::{Instant, real};
use traybook_domain::{Kind, Month};
use traybook_reports::savings::Extras;
use traybook_storage::farm_rows::{self, FarmRow, Farms};
use traybook_storage::{Conn, changes, planning_rows};
use uuid::Uuid;

pub use output::Enterprise;

/// What an estimate is kept under: co-operative, kind of estimate.
pub(crate) type Key = (i64, &'static str);
/// When it holds: number of the last change, and the day (a start may pass from future to past).
pub(crate) type Version = (i64, i64);
type Kept = (Version, Arc<dyn Any + Send + Sync>);

/// One estimate's place. Whoever makes it holds the place, so that those who ask meanwhile wait for
/// it rather than make it once more beside each other.
type Place = Arc<Mutex<Option<Kept>>>;

/// Estimates that still hold. One that is made of others asks for them while it is being made; the
/// order in which they rest on each other has no circle. What is kept was committed: a change under
/// way works with a [copy](Estimates::of_change). So whoever still reads an older state of the same
/// day is given what is kept, rather than making the older one anew.
#[derive(Default)]
pub struct Estimates {
    places: Mutex<HashMap<Key, Place>>,
}

impl Estimates {
    fn place(&self, key: Key) -> Place {
        let mut places = self.places.lock().unwrap_or_else(PoisonError::into_inner);
        Arc::clone(places.entry(key).or_default())
    }

    /// What is kept of a co-operative, for a change under way: what is made meanwhile is not kept,
    /// since the change may yet be undone, and nobody is waited for.
    pub(crate) fn of_change(&self, coop: i64) -> Self {
        let places = self.places.lock().unwrap_or_else(PoisonError::into_inner);
        let copy = |(key, place): (&Key, &Place)| {
            let kept = place.try_lock().ok()?;
            let kept = kept.as_ref().map(|(version, value)| (*version, Arc::clone(value)))?;
            Some((*key, Arc::new(Mutex::new(Some(kept)))))
        };
        let own = places.iter().filter(|(key, _)| key.0 == coop);
        Self { places: Mutex::new(own.filter_map(copy).collect()) }
    }

    /// The value as kept, or made now from the one that was kept before.
    pub(crate) fn renew<T: Any + Send + Sync>(
        &self,
        key: Key,
        version: Version,
        make: impl FnOnce(Option<Arc<T>>) -> Result<T, AppError>,
    ) -> Result<Arc<T>, AppError> {
        let place = self.place(key);
        let mut kept = place.lock().unwrap_or_else(PoisonError::into_inner);
        match as_kept::<T>(&kept) {
            Some((v, value)) if holds(v, version) => Ok(value),
            old => {
                let made = Arc::new(make(old.map(|(_, value)| value))?);
                put_back(&mut kept, version, &made);
                Ok(made)
            }
        }
    }

    /// The estimate as kept, or made now.
    pub(crate) fn get<T: Any + Send + Sync>(
        &self,
        key: Key,
        version: Version,
        make: impl FnOnce() -> Result<T, AppError>,
    ) -> Result<Arc<T>, AppError> {
        self.renew(key, version, |_| make())
    }

    /// The estimate as kept where nothing of the kinds that it rests on has changed since, or made
    /// now: a milk record leaves what is known of trays as it was.
    pub(crate) fn follow<T: Any + Send + Sync>(
        &self,
        conn: &mut Conn,
        key: Key,
        version: Version,
        rests_on: &[Kind],
        make: impl FnOnce(&mut Conn) -> Result<T, AppError>,
    ) -> Result<Arc<T>, AppError> {
        self.mend(conn, key, version, (rests_on, &[]), |conn, _| make(conn))
    }

    /// The same. Where records of these kinds of one farm each have changed and nothing else has,
    /// `make` is given what was kept with the farms that changed, few of them.
    pub(crate) fn mend<T: Any + Send + Sync>(
        &self,
        conn: &mut Conn,
        key: Key,
        version: Version,
        (rests_on, of_farm): (&[Kind], &[Kind]),
        make: impl FnOnce(&mut Conn, Option<(Arc<T>, Vec<Uuid>)>) -> Result<T, AppError>,
    ) -> Result<Arc<T>, AppError> {
        let place = self.place(key);
        let mut kept = place.lock().unwrap_or_else(PoisonError::into_inner);
        let mut before = None;
        match as_kept::<T>(&kept) {
            Some((v, value)) if holds(v, version) => return Ok(value),
            Some((v, value))
                if v.1 == version.1 && (1..=FOLLOWED_MAX).contains(&(version.0 - v.0)) =>
            {
                let mut changed = changes::kinds_since(conn, key.0, v.0)?;
                changed.retain(|k| rests_on.contains(k));
                if changed.is_empty() {
                    put_back(&mut kept, version, &value);
                    return Ok(value);
                }
                if changed.iter().all(|k| of_farm.contains(k)) {
                    let farms = changed_farms(conn, key.0, v.0, of_farm)?;
                    before = farms.map(|farms| (value, farms));
                }
            }
            _ => {}
        }
        let made = Arc::new(make(conn, before)?);
        put_back(&mut kept, version, &made);
        Ok(made)
    }
}

impl Estimates {
    /// Something of each farm, of which the farms that changed are read again.
    pub(crate) fn by_farm<T: Any + Send + Sync + Clone>(
        &self,
        conn: &mut Conn,
        key: Key,
        version: Version,
        kinds: (&[Kind], &[Kind]),
        read: impl Fn(&mut Conn, Farms<'_>) -> Result<HashMap<Uuid, T>, AppError>,
    ) -> Result<Arc<HashMap<Uuid, T>>, AppError> {
        type Before<T> = Option<(Arc<HashMap<Uuid, T>>, Vec<Uuid>)>;
        self.mend(conn, key, version, kinds, |conn, before: Before<T>| {
            let Some((old, changed)) = before else { return read(conn, None) };
            let mut all = HashMap::clone(&old);
            all.retain(|farm, _| !changed.contains(farm));
            all.extend(read(conn, Some(&changed))?);
            Ok(all)
        })
    }
}

/// Rows by their farm, each farm's in the order in which they came.
pub(crate) fn grouped<T>(
    rows: Vec<T>,
    farm: impl Fn(&T) -> Uuid,
) -> impl Iterator<Item = (Uuid, Vec<T>)> {
    let mut all: HashMap<Uuid, Vec<T>> = HashMap::new();
    for row in rows {
        all.entry(farm(&row)).or_default().push(row);
    }
    all.into_iter()
}

/// Whether what is kept under a version is that of another one, or younger.
const fn holds(kept: Version, asked: Version) -> bool {
    kept.1 == asked.1 && kept.0 >= asked.0
}

/// What is kept at a place.
fn as_kept<T: Any + Send + Sync>(kept: &Option<Kept>) -> Option<(Version, Arc<T>)> {
    let (version, value) = kept.as_ref()?;
    Some((*version, Arc::clone(value).downcast::<T>().ok()?))
}

/// Keeps a value, unless one of a younger state is there: of another month, say.
fn put_back<T: Any + Send + Sync>(kept: &mut Option<Kept>, version: Version, made: &Arc<T>) {
    let is_older = kept.as_ref().is_some_and(|(v, _)| v.0 > version.0);
    if !is_older {
        let value: Arc<dyn Any + Send + Sync> = Arc::<T>::clone(made);
        *kept = Some((version, value));
    }
}

/// The farms whose records of these kinds changed since a number; none where they are many, or
/// where a change is of no farm.
fn changed_farms(
    conn: &mut Conn,
    coop: i64,
    seq: i64,
    of: &[Kind],
) -> Result<Option<Vec<Uuid>>, AppError> {
    let most = FARMS_MENDED_MAX;
    let changes = planning_rows::changed_since(conn, coop, seq, most)?;
    if i64::try_from(changes.len()).unwrap_or(most) >= most {
        return Ok(None);
    }
    let farms: Option<Vec<Uuid>> =
        changes.into_iter().filter(|(kind, _)| of.contains(kind)).map(|(_, farm)| farm).collect();
    Ok(farms.map(|mut farms| {
        farms.sort_unstable();
        farms.dedup();
        farms
    }))
}

/// What farms, their members and their areas are called, who belongs to whom, and what a day is.
macro_rules! rests_on {
    ($($kind:ident),*) => {
        &[Kind::Cooperative, Kind::Area, Kind::Member, Kind::Farm, Kind::AnimalGroup,
            $(Kind::$kind),*]
    };
}
pub(crate) use rests_on;

/// What the savings report says of each farm besides its own figures.
///
/// # Errors
/// Those of the store.
pub fn for_report(
    conn: &mut Conn,
    kept: &Estimates,
    coop: &Coop,
    now: Instant,
    month: Month,
) -> Result<Arc<HashMap<Uuid, Extras>>, AppError> {
    let today = coop.today(now);
    let (seq, day) = version(conn, coop.number, today)?;
    // One month's answers are kept at a time: a report is read many times over.
    let version = (seq, day * MONTHS + month.number());
    kept.get((coop.number, "report"), version, || extras(conn, kept, coop, (today, month), None))
}

/// The same of one farm.
///
/// # Errors
/// Those of the store.
pub(crate) fn for_farm(
    conn: &mut Conn,
    kept: &Estimates,
    coop: &Coop,
    (now, month): (Instant, Month),
    farm: Uuid,
) -> Result<HashMap<Uuid, Extras>, AppError> {
    extras(conn, kept, coop, (coop.today(now), month), Some(farm))
}

fn extras(
    conn: &mut Conn,
    kept: &Estimates,
    coop: &Coop,
    (today, month): (chrono::NaiveDate, Month),
    of: Option<Uuid>,
) -> Result<HashMap<Uuid, Extras>, AppError> {
    let mut all: HashMap<Uuid, Extras> = HashMap::new();
    for (farm, half_width) in feed::half_widths(conn, kept, coop.number, (today, month), of)? {
        all.entry(farm).or_default().half_width_of_baseline = Some(half_width);
    }
    for (farm, change) in output::of_farms(conn, kept, coop.number, today, of)? {
        all.entry(farm).or_default().output_change = Some(change);
    }
    for (farm, status) in spoilage::of_farms(conn, kept, coop, today, of)? {
        all.entry(farm).or_default().spoilage_status = Some(status);
    }
    Ok(all)
}

/// Whether a farm is the one that is asked for, if one is.
fn is_asked(of: Option<Uuid>, farm: Uuid) -> bool {
    of.is_none_or(|asked| asked == farm)
}

/// More than any month's number, so that day and month make one number.
pub(crate) const MONTHS: i64 = 100_000;

/// All farms of a co-operative, by code, as kept.
pub(crate) fn farms(
    conn: &mut Conn,
    kept: &Estimates,
    coop: i64,
    version: Version,
) -> Result<Arc<Vec<Arc<FarmRow>>>, AppError> {
    kept.follow(conn, (coop, "farms"), version, rests_on!(), |conn| {
        Ok(farm_rows::farms(conn, coop, None)?)
    })
}

/// The version of a co-operative's estimates.
pub(crate) fn version(
    conn: &mut Conn,
    coop: i64,
    day: chrono::NaiveDate,
) -> Result<Version, AppError> {
    use chrono::Datelike as _;
    let seq = changes::counters(conn, coop)?.change_seq;
    Ok((seq, i64::from(day.num_days_from_ce())))
}

/// Puts a value into a cell of a panel; one outside it is left out.
fn put(cells: &mut [f64], at: usize, value: f64) {
    if let Some(cell) = cells.get_mut(at) {
        *cell = value;
    }
}

/// The members of two JSON objects.
pub(crate) fn merge(mut into: Json, more: Json) -> Json {
    if let (Json::Object(a), Json::Object(b)) = (&mut into, more) {
        a.extend(b);
    }
    into
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicUsize, Ordering};

    const KEY: Key = (1, "a number");

    fn get(kept: &Estimates, version: Version, made: i64) -> i64 {
        *kept.get(KEY, version, || Ok(made)).expect("made")
    }

    #[test]
    fn what_is_kept_holds_for_older_states_of_its_day() {
        let kept = Estimates::default();
        assert_eq!(get(&kept, (5, 1), 50), 50);
        assert_eq!(get(&kept, (5, 1), 51), 50);
        assert_eq!(get(&kept, (4, 1), 40), 50);
        assert_eq!(get(&kept, (4, 2), 42), 42, "another day's is made, and not kept");
        assert_eq!(get(&kept, (5, 1), 52), 50);
        assert_eq!(get(&kept, (6, 1), 60), 60);
    }

    #[test]
    fn what_a_change_makes_is_not_kept() {
        let kept = Estimates::default();
        assert_eq!(get(&kept, (5, 1), 50), 50);
        let copy = kept.of_change(KEY.0);
        assert_eq!(get(&copy, (5, 1), 51), 50, "it begins with what is kept");
        assert_eq!(get(&copy, (6, 1), 60), 60);
        assert_eq!(get(&kept, (6, 1), 61), 61);
        assert_eq!(
            get(&kept.of_change(2), (6, 1), 62),
            62,
            "of another co-operative there is none"
        );
    }

    #[test]
    fn those_who_ask_meanwhile_wait_for_one_making() {
        let (kept, made) = (Estimates::default(), AtomicUsize::new(0));
        let slow = || {
            made.fetch_add(1, Ordering::SeqCst);
            std::thread::sleep(std::time::Duration::from_millis(50));
            Ok(7_i64)
        };
        std::thread::scope(|threads| {
            for _ in 0..4 {
                threads.spawn(|| assert_eq!(*kept.get(KEY, (1, 1), slow).expect("made"), 7));
            }
        });
        assert_eq!(made.load(Ordering::SeqCst), 1);
    }
}
