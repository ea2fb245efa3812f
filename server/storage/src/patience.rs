//! How long a database server may be silent before a caller is told so.
//!
//! The client library waits for an answer as long as the connection stands. A network that swallows
//! everything lets it stand for minutes, and a program between may do so for ever. So the caller
//! watches from outside since when the work has waited for the database, and gives up. The thread
//! that waits is left behind; the connection's own limits end it.

use crate::error::StoreError;
use crate::work::Task;
use std::cell::RefCell;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// Since when work waits for the database.
struct Watch {
    begun: Instant,
    /// Milliseconds after the beginning, and one; 0 while it does not wait.
    waits_since: AtomicU64,
    given_up: AtomicBool,
}

thread_local! {
    static WATCH: RefCell<Option<Arc<Watch>>> = const { RefCell::new(None) };
}

impl Watch {
    fn new() -> Arc<Self> {
        // It waits for a thread first, which may be taken by others that wait.
        let waits_since = AtomicU64::new(1);
        Arc::new(Self { begun: Instant::now(), waits_since, given_up: AtomicBool::new(false) })
    }

    fn elapsed_ms(&self) -> u64 {
        u64::try_from(self.begun.elapsed().as_millis()).unwrap_or(u64::MAX - 1) + 1
    }

    fn waited(&self) -> Duration {
        match self.waits_since.load(Ordering::Relaxed) {
            0 => Duration::ZERO,
            since => Duration::from_millis(self.elapsed_ms().saturating_sub(since)),
        }
    }
}

/// While it lives this thread waits for the database.
pub(crate) struct Waits(Option<Arc<Watch>>);

impl Waits {
    pub(crate) fn begin() -> Self {
        let watch = WATCH.with(|watch| watch.borrow().clone());
        if let Some(watch) = &watch {
            watch.waits_since.store(watch.elapsed_ms(), Ordering::Relaxed);
        }
        Self(watch)
    }
}

impl Drop for Waits {
    fn drop(&mut self) {
        if let Some(watch) = &self.0 {
            watch.waits_since.store(0, Ordering::Relaxed);
        }
    }
}

/// Takes the watch off the thread, which serves others next.
struct OnThread;

impl OnThread {
    fn put(watch: &Arc<Watch>) -> Self {
        watch.waits_since.store(0, Ordering::Relaxed);
        WATCH.with(|here| *here.borrow_mut() = Some(Arc::clone(watch)));
        Self
    }
}

impl Drop for OnThread {
    fn drop(&mut self) {
        WATCH.with(|here| *here.borrow_mut() = None);
    }
}

/// Milliseconds between two looks at work that goes on.
const LOOK_MS: u64 = 200;

/// Runs a task on a thread of its own, as long as it does not wait longer than this for the database
/// at one time.
///
/// # Errors
/// Those of the work; `Unavailable` when the database was silent.
pub(crate) async fn run_watched(patience: Duration, task: Task) -> Result<(), StoreError> {
    let silent = move || {
        let text = format!("the database server was silent for {} s", patience.as_secs());
        StoreError::Unavailable(text)
    };
    let watch = Watch::new();
    let inside = Arc::clone(&watch);
    let mut running = tokio::task::spawn_blocking(move || {
        if inside.given_up.load(Ordering::Relaxed) {
            return Err(silent());
        }
        let _on = OnThread::put(&inside);
        task()
    });
    loop {
        match tokio::time::timeout(Duration::from_millis(LOOK_MS), &mut running).await {
            Ok(Ok(ran)) => return ran,
            Ok(Err(e)) => return Err(StoreError::Internal(e.to_string())),
            Err(_) if watch.waited() > patience => {
                watch.given_up.store(true, Ordering::Relaxed);
                return Err(silent());
            }
            Err(_) => {}
        }
    }
}
