//! Reports of months that were read a moment ago: a page of them is asked for many times between two
//! changes.

use crate::error::AppError;
use serde::{Deserialize, Serialize};
use std::sync::{Arc, Mutex, PoisonError};
use traybook_answers::savings::{SavingsReport, Total};
use traybook_domain::Month;
use traybook_domain::limits::REPORTS_BYTES_MAX;
use traybook_storage::estimates::snapshots::State;

/// A farm's line in memory, bytes, estimated.
const LINE_BYTES: usize = 3_000;

/// Which report: co-operative, month, state of the figures, and what it is of.
pub(super) type Key = (i64, Month, Option<State>, Of);

/// What a report is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Of {
    /// A closed month with this stamp ([`traybook_storage::savings::months::stamp`]).
    Closed((i64, i64)),
    /// The one that is kept, with this digest: records do not move it.
    Kept(i64),
    /// Records of this revision, since none is kept.
    Revision(i64),
}

/// What a month came to.
#[derive(Clone, Debug)]
pub struct MonthTotal {
    pub month: Month,
    /// Whether it is not over.
    pub is_running: bool,
    /// The co-operative's line; none for who sees single farms only.
    pub total: Option<Total>,
}

/// What a month came to, as it is kept beside its report.
#[derive(Deserialize, Serialize)]
pub(crate) struct KeptTotal {
    pub(super) is_running: bool,
    pub(super) total: Option<Total>,
}

impl KeptTotal {
    /// That of a report, JSON.
    pub(crate) fn of(report: &SavingsReport) -> Result<String, AppError> {
        let kept = Self { is_running: report.is_running, total: report.total.clone() };
        serde_json::to_string(&kept).map_err(|e| AppError::Internal(e.to_string()))
    }
}

/// Whole reports of months, of each co-operative and month the last one asked for. Within
/// [`REPORTS_BYTES_MAX`], the least recently used goes first; any may go at any moment.
pub struct Reports {
    bytes_max: usize,
    /// The most recently used last.
    kept: Mutex<Vec<(Key, Arc<SavingsReport>)>>,
}

impl Default for Reports {
    fn default() -> Self {
        Self::within(REPORTS_BYTES_MAX)
    }
}

impl Reports {
    /// Reports of at most so many bytes together, but always one.
    #[must_use]
    pub fn within(bytes_max: usize) -> Self {
        Self { bytes_max, kept: Mutex::default() }
    }

    /// Reports that are kept.
    #[must_use]
    pub fn count(&self) -> usize {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner).len()
    }

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
        while kept.len() > 1 && kept.iter().map(|(_, r)| bytes(r)).sum::<usize>() > self.bytes_max {
            kept.remove(0);
        }
    }
}
