//! What is said on standard error while something takes long.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

/// Seconds between two lines that say how far it is; what is faster is quiet.
const QUIET_S: u64 = 2;

/// Says how far it is until it is dropped.
pub struct Watch {
    is_over: Arc<AtomicBool>,
    thread: Option<std::thread::JoinHandle<()>>,
}

impl Watch {
    /// `says` gets the seconds since the begin.
    pub fn begin(says: impl Fn(u64) -> String + Send + 'static) -> Self {
        let is_over = Arc::new(AtomicBool::new(false));
        let over = Arc::clone(&is_over);
        let thread = std::thread::spawn(move || {
            let mut seconds = 0;
            loop {
                std::thread::park_timeout(Duration::from_secs(QUIET_S));
                seconds += QUIET_S;
                if over.load(Ordering::Acquire) {
                    return;
                }
                eprintln!("{}", says(seconds));
            }
        });
        Self { is_over, thread: Some(thread) }
    }
}

impl Drop for Watch {
    fn drop(&mut self) {
        self.is_over.store(true, Ordering::Release);
        if let Some(thread) = self.thread.take() {
            thread.thread().unpark();
            drop(thread.join());
        }
    }
}
