//! The clock that the demo sets.

use std::sync::atomic::{AtomicI64, Ordering};
use traybook_domain::time::Clock;
use traybook_domain::value::Instant;

/// A clock that stands still until it is set: records of the past are made as of their own month.
#[derive(Debug, Default)]
pub struct ManualClock {
    millis: AtomicI64,
}

impl ManualClock {
    /// A clock that shows `at`.
    #[must_use]
    pub fn new(at: Instant) -> Self {
        Self { millis: AtomicI64::new(at.0) }
    }

    pub fn set(&self, at: Instant) {
        self.millis.store(at.0, Ordering::SeqCst);
    }
}

impl Clock for ManualClock {
    fn now(&self) -> Instant {
        Instant(self.millis.load(Ordering::SeqCst))
    }
}
