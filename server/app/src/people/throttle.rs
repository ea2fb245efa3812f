//! Failed sign-ins by account and by address.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};
use traybook_domain::limits::{SIGN_IN_FAILURES_MAX, SIGN_IN_WINDOW_MS};

/// Keys kept at most. At this number those whose window is over go; where that is not enough,
/// the older half goes.
const KEYS_MAX: usize = 100_000;

/// Counts failures in a window.
#[derive(Debug, Default)]
pub struct Throttle {
    windows: Mutex<HashMap<String, (i64, u32)>>,
}

impl Throttle {
    /// Counts a try, or gives the seconds to wait before one of the keys may try again. A try
    /// counts from its beginning, so that many at once are not more than many in turn.
    ///
    /// # Errors
    /// Seconds to wait.
    pub fn begin(&self, keys: &[&str], now_ms: i64) -> Result<(), u32> {
        let mut windows = self.windows.lock().unwrap_or_else(PoisonError::into_inner);
        let left = keys.iter().filter_map(|key| {
            let (since, tries) = windows.get(*key)?;
            let left = since + SIGN_IN_WINDOW_MS - now_ms;
            (*tries >= SIGN_IN_FAILURES_MAX && left > 0).then_some(left)
        });
        if let Some(ms) = left.max() {
            return Err(u32::try_from(ms / 1000 + 1).unwrap_or(1));
        }
        if windows.len() + keys.len() > KEYS_MAX {
            windows.retain(|_, (since, _)| *since + SIGN_IN_WINDOW_MS > now_ms);
        }
        if windows.len() + keys.len() > KEYS_MAX {
            let mut begun: Vec<i64> = windows.values().map(|(since, _)| *since).collect();
            let (_, middle, _) = begun.select_nth_unstable(KEYS_MAX / 2);
            windows.retain(|_, (since, _)| since > middle);
        }
        for key in keys {
            let entry = windows.entry((*key).to_owned()).or_insert((now_ms, 0));
            if entry.0 + SIGN_IN_WINDOW_MS <= now_ms {
                *entry = (now_ms, 0);
            }
            entry.1 = entry.1.saturating_add(1);
        }
        Ok(())
    }

    /// Takes a try back that succeeded: the login's failures are forgotten, the address keeps its.
    pub fn succeeded(&self, login: &str, address: &str) {
        let mut windows = self.windows.lock().unwrap_or_else(PoisonError::into_inner);
        windows.remove(login);
        if let Some((_, tries)) = windows.get_mut(address) {
            *tries = tries.saturating_sub(1);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn throttle_makes_the_key_wait_until_its_window_ends() {
        let throttle = Throttle::default();
        for _ in 0..SIGN_IN_FAILURES_MAX {
            assert_eq!(throttle.begin(&["a"], 0), Ok(()));
        }
        assert!(throttle.begin(&["a", "b"], 2).is_err());
        assert_eq!(throttle.begin(&["b"], 2), Ok(()), "a refused try counts for nobody");
        assert_eq!(throttle.begin(&["a"], SIGN_IN_WINDOW_MS), Ok(()));
    }

    #[test]
    fn throttle_keeps_a_bounded_number_of_keys_and_the_youngest() {
        let throttle = Throttle::default();
        for n in 0..=i64::try_from(KEYS_MAX).unwrap_or(0) {
            assert_eq!(throttle.begin(&[&n.to_string()], n / 1_000), Ok(()));
        }
        let windows = throttle.windows.lock().unwrap_or_else(PoisonError::into_inner);
        assert!(windows.len() <= KEYS_MAX);
        assert!(!windows.contains_key("0"));
        assert!(windows.contains_key(&KEYS_MAX.to_string()));
    }

    #[test]
    fn throttle_forgets_a_login_that_succeeded_and_not_its_address() {
        let throttle = Throttle::default();
        for _ in 0..SIGN_IN_FAILURES_MAX - 1 {
            assert_eq!(throttle.begin(&["login", "address"], 0), Ok(()));
        }
        assert_eq!(throttle.begin(&["login", "address"], 0), Ok(()));
        throttle.succeeded("login", "address");
        assert_eq!(throttle.begin(&["login"], 0), Ok(()));
        assert_eq!(throttle.begin(&["address"], 0), Ok(()));
        assert!(throttle.begin(&["address"], 0).is_err());
    }
}
