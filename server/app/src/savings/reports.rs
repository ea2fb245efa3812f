//! Reports of months that were read a moment ago: a page of them is asked for many times between two
//! changes.

use std::sync::{Arc, Mutex, PoisonError};
use traybook_answers::savings::{SavingsReport, Total};
use traybook_domain::Month;
use traybook_domain::limits::REPORTS_BYTES_MAX;
use traybook_storage::snapshots::State;

/// A farm's line in memory, bytes, estimated.
const LINE_BYTES: usize = 3_000;

/// Which report: co-operative, month, state of the figures, and what it is of.
pub(super) type Key = (i64, Month, Option<State>, Of);

/// Which total: co-operative, month, what it is of.
type TotalKey = (i64, Month, Of);

/// What a report is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Of {
    /// A closed month with this stamp ([`traybook_storage::months::stamp`]).
    Closed((i64, i64)),
    /// The one that is kept, with this digest: records do not move it.
    Kept(i64),
    /// Records of this revision, since none is kept.
    Revision(i64),
}

/// Totals of months that are kept: twelve of a hundred co-operatives.
const TOTALS_MAX: usize = 1_200;

/// What a month came to.
#[derive(Clone, Debug)]
pub struct MonthTotal {
    /// The month.
    pub month: Month,
    /// Whether it is not over.
    pub is_running: bool,
    /// The co-operative's line; none for who sees single farms only.
    pub total: Option<Total>,
}

/// Whole reports of months, of each co-operative and month the last one asked for. Within
/// [`REPORTS_BYTES_MAX`], the least recently used goes first; any may go at any moment.
#[derive(Default)]
pub struct Reports {
    /// The most recently used last.
    kept: Mutex<Vec<(Key, Arc<SavingsReport>)>>,
    /// Totals of single months, at most [`TOTALS_MAX`]; the most recently used last.
    totals: Mutex<Vec<(TotalKey, MonthTotal)>>,
}

impl Reports {
    pub(super) fn get(&self, key: &Key) -> Option<Arc<SavingsReport>> {
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        let at = kept.iter().position(|(k, _)| k == key)?;
        let found = kept.remove(at);
        let report = Arc::clone(&found.1);
        kept.push(found);
        Some(report)
    }

    pub(super) fn put(&self, key: Key, report: &Arc<SavingsReport>) {
        let bytes = |r: &SavingsReport| r.farms.len().saturating_mul(LINE_BYTES);
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        kept.retain(|(k, _)| (k.0, k.1) != (key.0, key.1));
        kept.push((key, Arc::clone(report)));
        while kept.len() > 1
            && kept.iter().map(|(_, r)| bytes(r)).sum::<usize>() > REPORTS_BYTES_MAX
        {
            kept.remove(0);
        }
    }

    pub(super) fn total(&self, key: &TotalKey) -> Option<MonthTotal> {
        let mut totals = self.totals.lock().unwrap_or_else(PoisonError::into_inner);
        let at = totals.iter().position(|(k, _)| k == key)?;
        let found = totals.remove(at);
        let total = found.1.clone();
        totals.push(found);
        Some(total)
    }

    pub(super) fn put_total(&self, key: TotalKey, total: MonthTotal) {
        let mut totals = self.totals.lock().unwrap_or_else(PoisonError::into_inner);
        totals.retain(|(k, _)| (k.0, k.1) != (key.0, key.1));
        totals.push((key, total));
        if totals.len() > TOTALS_MAX {
            totals.remove(0);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn totals_are_bounded_and_one_a_month() {
        let reports = Reports::default();
        let month = Month::from_number(24_300);
        let Some(month) = month else { return assert!(month.is_some()) };
        let total = MonthTotal { month, is_running: false, total: None };
        for coop in 0..2_000 {
            reports.put_total((coop, month, Of::Kept(1)), total.clone());
        }
        reports.put_total((1_999, month, Of::Kept(2)), total);
        let kept = reports.totals.lock().map(|t| t.len());
        assert_eq!(kept.ok(), Some(TOTALS_MAX));
        // The oldest are gone, and so is what a month was before.
        assert!(reports.total(&(0, month, Of::Kept(1))).is_none());
        assert!(reports.total(&(1_999, month, Of::Kept(1))).is_none());
        assert!(reports.total(&(1_999, month, Of::Kept(2))).is_some());
    }
}
