//! All farms of co-operatives, kept in memory between reads: most pages of an office name them, and
//! they seldom change. Any of them may go at any moment; the next read reads them again.

use super::changes;
use super::farm_rows::{self, FarmRow};
use crate::conn::Conn;
use crate::error::StoreError;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use traybook_domain::Kind;
use traybook_domain::limits::FARMS_KEPT_MAX;

/// Changes looked through for one of a farm or member; after more all are read again.
const CHANGES_MAX: i64 = 1_000;
/// A list that is older is read again: lines of the change feed are not kept for ever.
const AGE_MAX: Duration = Duration::from_secs(3_600);

#[derive(Clone)]
struct Kept {
    coop: i64,
    /// Number of the last change that it holds.
    seq: i64,
    read_at: Instant,
    farms: Arc<Vec<Arc<FarmRow>>>,
}

/// At most [`FARMS_KEPT_MAX`] farms, but always one co-operative; the least recently used goes first.
#[derive(Default)]
pub(crate) struct FarmLists {
    /// The most recently used last.
    kept: Mutex<Vec<Kept>>,
}

impl FarmLists {
    fn held(&self) -> MutexGuard<'_, Vec<Kept>> {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub fn len(&self) -> usize {
        self.held().iter().map(|kept| kept.farms.len()).sum()
    }

    pub fn clear(&self) {
        self.held().clear();
    }

    /// The farms of a co-operative as the connection sees them, by code.
    pub fn read(&self, conn: &mut Conn, coop: i64) -> Result<Arc<Vec<Arc<FarmRow>>>, StoreError> {
        let seq = changes::counters(conn, coop)?.change_seq;
        let kept = self.held().iter().find(|kept| kept.coop == coop).cloned();
        let kept = kept.filter(|kept| kept.seq <= seq && kept.read_at.elapsed() < AGE_MAX);
        let made = match kept {
            Some(kept) if !is_moved(conn, &kept, seq)? => Kept { seq, ..kept },
            _ => {
                let farms = Arc::new(farm_rows::read(conn, coop, None)?);
                Kept { coop, seq, read_at: Instant::now(), farms }
            }
        };
        let farms = Arc::clone(&made.farms);
        self.keep(made);
        Ok(farms)
    }

    fn keep(&self, made: Kept) {
        let mut all = self.held();
        // Whoever reads an older state keeps nothing.
        if all.iter().any(|kept| kept.coop == made.coop && kept.seq > made.seq) {
            return;
        }
        all.retain(|kept| kept.coop != made.coop);
        all.push(made);
        let count = |all: &[Kept]| all.iter().map(|kept| kept.farms.len()).sum::<usize>();
        while all.len() > 1 && count(&all) > FARMS_KEPT_MAX {
            all.remove(0);
        }
    }
}

/// Whether a farm or member changed since.
fn is_moved(conn: &mut Conn, kept: &Kept, seq: i64) -> Result<bool, StoreError> {
    if kept.seq == seq {
        return Ok(false);
    }
    let changes = changes::kinds_since(conn, kept.coop, kept.seq, CHANGES_MAX)?;
    let is_many = i64::try_from(changes.len()).is_ok_and(|n| n >= CHANGES_MAX);
    Ok(is_many || changes.iter().any(|(kind, _)| matches!(kind, Kind::Farm | Kind::Member)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use uuid::Uuid;

    fn list(coop: i64, seq: i64, farms: usize) -> Kept {
        let id = Uuid::nil();
        let row = Arc::new(FarmRow {
            farm: id,
            code: String::new(),
            area: id,
            member: id,
            number: String::new(),
            name: String::new(),
            sex: String::new(),
            birth_year: None,
            consent: false,
            joined: (chrono::NaiveDate::default(), None),
            started_on: None,
            place: None,
            position: None,
        });
        let farms = Arc::new(vec![row; farms]);
        Kept { coop, seq, read_at: Instant::now(), farms }
    }

    #[test]
    fn the_least_recently_used_goes_first_and_one_always_stays() {
        let lists = FarmLists::default();
        let coops = || lists.held().iter().map(|kept| kept.coop).collect::<Vec<_>>();
        let third = FARMS_KEPT_MAX / 3;
        for coop in 1..=3 {
            lists.keep(list(coop, 1, third));
        }
        lists.keep(list(1, 2, third));
        assert_eq!(coops(), [2, 3, 1]);
        lists.keep(list(4, 1, third));
        assert_eq!((coops(), lists.len()), (vec![3, 1, 4], 3 * third));
        lists.keep(list(5, 1, 2 * FARMS_KEPT_MAX));
        assert_eq!(coops(), [5]);
        lists.clear();
        assert_eq!(lists.len(), 0);
    }

    #[test]
    fn an_older_state_is_not_kept() {
        let lists = FarmLists::default();
        lists.keep(list(1, 7, 2));
        lists.keep(list(1, 6, 3));
        let seqs: Vec<i64> = lists.held().iter().map(|kept| kept.seq).collect();
        assert_eq!((lists.len(), seqs), (2, vec![7]));
    }
}
