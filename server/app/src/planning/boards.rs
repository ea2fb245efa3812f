//! Boards of today, kept in memory between requests.
//!
//! They are the one thing that is: within [`BOARDS_BYTES_MAX`], the least recently used
//! co-operative goes first, and any of them may go at any moment; the next request reads it again.

use super::board::Board;
use crate::error::AppError;
use std::any::Any;
use std::collections::HashMap;
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use traybook_domain::limits::BOARDS_BYTES_MAX;

/// What is kept of one co-operative. Whoever makes its board holds the place, so that those who
/// ask meanwhile wait for it rather than make it once more.
#[derive(Default)]
pub(super) struct Place {
    used: AtomicU64,
    bytes: AtomicUsize,
    board: Mutex<Option<Arc<Board>>>,
    /// What was made of single farms of the board, by name.
    made: Mutex<HashMap<&'static str, Arc<dyn Any + Send + Sync>>>,
}

pub struct Boards {
    bytes_max: usize,
    uses: AtomicU64,
    places: Mutex<HashMap<i64, Arc<Place>>>,
}

impl Default for Boards {
    fn default() -> Self {
        Self::within(BOARDS_BYTES_MAX)
    }
}

fn held<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Boards {
    /// Boards of at most so many bytes together, but always one.
    #[must_use]
    pub fn within(bytes_max: usize) -> Self {
        Self { bytes_max, uses: AtomicU64::new(0), places: Mutex::default() }
    }

    /// Throws everything away.
    pub fn clear(&self) {
        held(&self.places).clear();
    }

    /// Co-operatives whose board is kept.
    #[must_use]
    pub fn len(&self) -> usize {
        held(&self.places).len()
    }

    /// Whether none is kept.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The place of a co-operative.
    pub(super) fn place(&self, coop: i64) -> Arc<Place> {
        let mut places = held(&self.places);
        let place = Arc::clone(places.entry(coop).or_default());
        place.used.store(self.uses.fetch_add(1, Ordering::Relaxed), Ordering::Relaxed);
        place
    }

    /// The board of a co-operative: as it is kept where `holds` says so, or made now from the one
    /// that was kept.
    pub(super) fn renew(
        &self,
        coop: i64,
        holds: impl FnOnce(&Board) -> bool,
        make: impl FnOnce(Option<Arc<Board>>) -> Result<Board, AppError>,
    ) -> Result<Arc<Board>, AppError> {
        let place = self.place(coop);
        let mut kept = held(&place.board);
        let old = kept.as_ref().map(Arc::clone);
        if let Some(board) = old.as_ref().filter(|board| holds(board)) {
            return Ok(Arc::clone(board));
        }
        let is_younger = |made: &Board| old.as_ref().is_none_or(|old| made.seq >= old.seq);
        let board = Arc::new(make(old.as_ref().map(Arc::clone))?);
        // Who reads an older state keeps nothing.
        if is_younger(&board) {
            place.bytes.store(board.bytes(), Ordering::Relaxed);
            *kept = Some(Arc::clone(&board));
            drop(kept);
            self.shrink(coop);
        }
        Ok(board)
    }

    fn shrink(&self, newest: i64) {
        let mut places = held(&self.places);
        loop {
            let bytes: usize = places.values().map(|p| p.bytes.load(Ordering::Relaxed)).sum();
            if bytes <= self.bytes_max {
                return;
            }
            let others = places.iter().filter(|(coop, _)| **coop != newest);
            let oldest = others.min_by_key(|(_, place)| place.used.load(Ordering::Relaxed));
            let Some(coop) = oldest.map(|(coop, _)| *coop) else { return };
            places.remove(&coop);
        }
    }
}

impl Place {
    /// What is kept under a name, where it is of this type and still good; else `new`.
    pub(super) fn made<T: Any + Send + Sync>(
        &self,
        name: &'static str,
        is_good: impl FnOnce(&T) -> bool,
        new: impl FnOnce() -> T,
    ) -> Arc<T> {
        let mut all = held(&self.made);
        let kept = all.get(name).map(Arc::clone).and_then(|kept| kept.downcast::<T>().ok());
        if let Some(kept) = kept.filter(|kept| is_good(kept)) {
            return kept;
        }
        let fresh = Arc::new(new());
        let any: Arc<dyn Any + Send + Sync> = Arc::<T>::clone(&fresh);
        all.insert(name, any);
        fresh
    }
}
