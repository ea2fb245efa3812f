//! Failed sign-ins by account and by address.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};
use traybook_domain::limits::{SIGN_IN_FAILURES_MAX, SIGN_IN_WINDOW_MS};

/// Keys kept at most; the oldest windows go first.
const KEYS_MAX: usize = 100_000;

/// Counts failures in a window.
#[derive(Debug, Default)]
pub struct Throttle {
    windows: Mutex<HashMap<String, (i64, u32)>>,
}

impl Throttle {
    /// Seconds to wait before one of the keys may try again; none when all may.
    #[must_use]
    pub fn wait_s(&self, keys: &[&str], now_ms: i64) -> Option<u32> {
        let windows = self.windows.lock().unwrap_or_else(PoisonError::into_inner);
        let left = keys.iter().filter_map(|key| {
            let (since, failures) = windows.get(*key)?;
            let left = since + SIGN_IN_WINDOW_MS - now_ms;
            (*failures >= SIGN_IN_FAILURES_MAX && left > 0).then_some(left)
        });
        left.max().map(|ms| u32::try_from(ms / 1000 + 1).unwrap_or(1))
    }

    /// Counts a failure.
    pub fn failed(&self, keys: &[&str], now_ms: i64) {
        let mut windows = self.windows.lock().unwrap_or_else(PoisonError::into_inner);
        if windows.len() >= KEYS_MAX {
            windows.retain(|_, (since, _)| *since + SIGN_IN_WINDOW_MS > now_ms);
        }
        for key in keys {
            let entry = windows.entry((*key).to_owned()).or_insert((now_ms, 0));
            if entry.0 + SIGN_IN_WINDOW_MS <= now_ms {
                *entry = (now_ms, 0);
            }
            entry.1 = entry.1.saturating_add(1);
        }
    }

    /// Forgets the failures of an account that has signed in.
    pub fn succeeded(&self, key: &str) {
        self.windows.lock().unwrap_or_else(PoisonError::into_inner).remove(key);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn throttle_makes_the_key_wait_until_its_window_ends() {
        let throttle = Throttle::default();
        for _ in 1..SIGN_IN_FAILURES_MAX {
            throttle.failed(&["a"], 0);
        }
        assert_eq!(throttle.wait_s(&["a"], 1), None);
        throttle.failed(&["a"], 1);
        assert!(throttle.wait_s(&["a", "b"], 2).is_some());
        assert_eq!(throttle.wait_s(&["b"], 2), None);
        assert_eq!(throttle.wait_s(&["a"], SIGN_IN_WINDOW_MS), None);
    }
}
