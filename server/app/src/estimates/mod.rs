//! Estimates: did output change, who keeps spoiling, which seed lots.
//!
//! They are computed on demand from the month sums (output) and the trays by batch (spoilage), and
//! kept until a record of the co-operative changes: the number of its last change is part of the
//! key, so an answer is never stale. The methods are those of `traybook-analytics`.

mod output;
mod spoilage;

use std::any::Any;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use crate::error::AppError;
use traybook_storage::Conn;

pub use output::Enterprise;

/// What an estimate is kept under: co-operative, kind of estimate.
type Key = (i64, &'static str);
/// When it holds: number of the last change, and the day (a start may pass from future to past).
type Version = (i64, i64);
type Kept = (Version, Arc<dyn Any + Send + Sync>);

/// Estimates that still hold.
#[derive(Default)]
pub struct Estimates {
    kept: Mutex<HashMap<Key, Kept>>,
}

impl Estimates {
    /// The estimate as kept, or made now.
    fn get<T: Any + Send + Sync>(
        &self,
        key: Key,
        version: Version,
        make: impl FnOnce() -> Result<T, AppError>,
    ) -> Result<Arc<T>, AppError> {
        let found = {
            let kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
            let fits = |(v, _): &&Kept| *v == version;
            kept.get(&key).filter(fits).map(|(_, value)| Arc::clone(value))
        };
        if let Some(value) = found.and_then(|v| v.downcast::<T>().ok()) {
            return Ok(value);
        }
        let made = Arc::new(make()?);
        let value: Arc<dyn Any + Send + Sync> = Arc::<T>::clone(&made);
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        kept.insert(key, (version, value));
        Ok(made)
    }
}

/// The version of a co-operative's estimates.
fn version(conn: &mut Conn, coop: i64, day: chrono::NaiveDate) -> Result<Version, AppError> {
    use chrono::Datelike as _;
    let seq = traybook_storage::changes::counters(conn, coop)?.change_seq;
    Ok((seq, i64::from(day.num_days_from_ce())))
}
