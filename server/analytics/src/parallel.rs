//! Splits work over farms on a few threads with an answer that does not depend on how many.

use std::ops::Range;
use std::thread;

use crate::limits::{CHUNK_FARMS, THREADS_MAX};

/// Runs `work` on consecutive pieces of `0..len` and returns the results in order.
///
/// Pieces are cut at fixed places, so a caller who adds results in order gets the same sum on
/// one processor and on eight.
pub(crate) fn map_chunks<R, F>(len: usize, work: F) -> Vec<R>
where
    R: Send,
    F: Fn(Range<usize>) -> R + Sync,
{
    let chunks = len.div_ceil(CHUNK_FARMS);
    let available = thread::available_parallelism().map_or(1, |n| n.get());
    let threads = available.min(THREADS_MAX).min(chunks);
    let piece = |k: usize| work(k * CHUNK_FARMS..len.min((k + 1) * CHUNK_FARMS));
    if threads <= 1 {
        return (0..chunks).map(piece).collect();
    }
    let share = |worker: usize| {
        let (from, to) = (worker * chunks / threads, (worker + 1) * chunks / threads);
        (from..to).map(piece).collect::<Vec<R>>()
    };
    thread::scope(|scope| {
        let share = &share;
        let workers: Vec<_> = (1..threads)
            .map(|w| (w, thread::Builder::new().spawn_scoped(scope, move || share(w))))
            .collect();
        let mut results = share(0);
        for (w, worker) in workers {
            match worker.map(|handle| handle.join()) {
                Ok(Ok(part)) => results.extend(part),
                // A fault in a worker is a fault here: hand it on unchanged.
                Ok(Err(fault)) => std::panic::resume_unwind(fault),
                // No thread to be had: do its share here.
                Err(_) => results.extend(share(w)),
            }
        }
        results
    })
}
