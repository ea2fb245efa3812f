//! Turns of many who share: each has so many at one time, so that none takes all.

use std::collections::HashMap;
use std::hash::Hash;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::sync::{OwnedSemaphorePermit, Semaphore};

/// So many turns at one time for each. What is kept are those who have a turn or wait for one.
pub struct Turns<K> {
    each: usize,
    taken: Mutex<HashMap<K, Arc<Semaphore>>>,
}

/// A turn, as long as it lives.
pub struct Turn {
    _permit: OwnedSemaphorePermit,
}

impl<K: Eq + Hash> Turns<K> {
    /// So many for each.
    #[must_use]
    pub fn new(each: usize) -> Self {
        Self { each: each.max(1), taken: Mutex::default() }
    }

    fn of(&self, who: K) -> Arc<Semaphore> {
        let mut taken = self.taken.lock().unwrap_or_else(PoisonError::into_inner);
        // Who has a turn or waits holds the semaphore too.
        taken.retain(|_, turns| Arc::strong_count(turns) > 1);
        let turns = taken.entry(who).or_insert_with(|| Arc::new(Semaphore::new(self.each)));
        Arc::clone(turns)
    }

    /// A turn, where one is free.
    pub fn now(&self, who: K) -> Option<Turn> {
        self.of(who).try_acquire_owned().ok().map(|permit| Turn { _permit: permit })
    }

    /// A turn, in the order of asking; none where none came within this time.
    pub async fn within(&self, who: K, time: Duration) -> Option<Turn> {
        let turn = tokio::time::timeout(time, self.of(who).acquire_owned()).await;
        turn.ok().and_then(Result::ok).map(|permit| Turn { _permit: permit })
    }

    /// How many have a turn, wait for one, or did when somebody last asked.
    pub fn kept(&self) -> usize {
        self.taken.lock().unwrap_or_else(PoisonError::into_inner).len()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_has_turns_of_its_own_and_none_is_kept() {
        let turns = Turns::new(2);
        let held: Vec<_> = (0..2).map(|_| turns.now("a")).collect();
        assert!(held.iter().all(Option::is_some) && turns.now("a").is_none());
        let other = turns.now("b");
        assert!(other.is_some(), "one who has all its turns is in nobody's way");
        assert_eq!(turns.kept(), 2);
        drop((held, other));
        let again = turns.now("c");
        assert!(again.is_some() && turns.kept() == 1, "those who are done are forgotten");
    }
}
