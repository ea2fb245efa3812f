//! Splits work over farms on a few threads with an answer that does not depend on how many.

use std::ops::Range;
use std::sync::OnceLock;
use std::thread;

use crate::limits::{CHUNK_FARMS, THREADS_MAX};

/// Processors there are; asked once, since the answer is read from files.
fn processors() -> usize {
    static COUNT: OnceLock<usize> = OnceLock::new();
    *COUNT.get_or_init(|| thread::available_parallelism().map_or(1, |n| n.get()))
}

/// Runs `work` on consecutive pieces of `0..len` and returns the results in order.
///
/// Pieces are cut at fixed places, so a caller who adds results in order gets the same sum on
/// one processor and on eight.
pub(crate) fn map_chunks<R, F>(len: usize, work: F) -> Vec<R>
where
    R: Send,
    F: Fn(Range<usize>) -> R + Sync,
{
    let piece = |k: usize| work(k * CHUNK_FARMS..len.min((k + 1) * CHUNK_FARMS));
    map_items(len.div_ceil(CHUNK_FARMS), piece)
}

/// Runs `work` on each of `0..count`, a few and each of them much work, and returns the results in
/// order.
pub(crate) fn map_items<R, F>(count: usize, work: F) -> Vec<R>
where
    R: Send,
    F: Fn(usize) -> R + Sync,
{
    let threads = processors().min(THREADS_MAX).min(count);
    if threads <= 1 {
        return (0..count).map(work).collect();
    }
    let share = |worker: usize| {
        let (from, to) = (worker * count / threads, (worker + 1) * count / threads);
        (from..to).map(&work).collect::<Vec<R>>()
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
