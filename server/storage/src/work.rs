//! Work without the type of its answer: what runs it is built once, and not for each of some
//! hundred callers. The answer waits beside it until it has run.

use crate::conn::Conn;
use crate::error::StoreError;
use crate::store::MaybeRetry;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, Mutex, PoisonError};

/// Work on a thread of its own.
pub(crate) type Task = Box<dyn FnOnce() -> Result<(), StoreError> + Send>;
/// Work that reads.
pub(crate) type Reading = Box<dyn FnOnce(&mut Conn) + Send>;
/// Work that writes. It may run more than once.
pub(crate) type Change = Box<dyn FnMut(&mut Conn) -> Tried + Send>;

/// How work that writes ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Tried {
    /// It is to be kept.
    Kept,
    /// It is to be undone.
    Failed {
        /// Whether it should be run again.
        again: bool,
        /// Whether the connection should be given up.
        lost: bool,
    },
}

/// Where the answer waits.
pub(crate) struct Answer<T, E>(Arc<Mutex<Option<Result<T, E>>>>);

impl<T, E: From<StoreError>> Answer<T, E> {
    fn new() -> (Self, Self) {
        let place = Arc::new(Mutex::new(None));
        (Self(Arc::clone(&place)), Self(place))
    }

    fn put(&self, result: Result<T, E>) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some(result);
    }

    /// The answer of work that has run; the error where it could not.
    pub fn of(self, ran: Result<(), StoreError>) -> Result<T, E> {
        ran?;
        let found = self.0.lock().unwrap_or_else(PoisonError::into_inner).take();
        found.unwrap_or_else(|| Err(E::from(StoreError::Internal("no answer".to_owned()))))
    }
}

/// Work that reads, and its answer.
pub(crate) fn reading<T, E>(
    work: impl FnOnce(&mut Conn) -> Result<T, E> + Send + 'static,
) -> (Reading, Answer<T, E>)
where
    T: Send + 'static,
    E: From<StoreError> + Send + 'static,
{
    let (place, answer) = Answer::new();
    (Box::new(move |conn| place.put(work(conn))), answer)
}

/// Work that writes, and its answer.
pub(crate) fn change<T, E>(
    mut work: impl FnMut(&mut Conn) -> Result<T, E> + Send + 'static,
) -> (Change, Answer<T, E>)
where
    T: Send + 'static,
    E: From<StoreError> + MaybeRetry + Send + 'static,
{
    let (place, answer) = Answer::new();
    let change = move |conn: &mut Conn| {
        let result = work(conn);
        let tried = match &result {
            Ok(_) => Tried::Kept,
            Err(e) => Tried::Failed { again: e.wants_retry(), lost: e.lost_connection() },
        };
        place.put(result);
        tried
    };
    (Box::new(change), answer)
}

/// Runs work whose panic becomes an error.
pub(crate) fn caught<T>(work: impl FnOnce() -> T) -> Result<T, StoreError> {
    catch_unwind(AssertUnwindSafe(work))
        .map_err(|_panic| StoreError::Internal("the work stopped halfway".to_owned()))
}

/// Runs a task on a thread of its own.
pub(crate) async fn run(task: Task) -> Result<(), StoreError> {
    match tokio::task::spawn_blocking(task).await {
        Ok(ran) => ran,
        Err(e) => Err(StoreError::Internal(e.to_string())),
    }
}

/// Runs work on a thread of its own.
pub(crate) async fn spawn<T, E>(
    work: impl FnOnce() -> Result<T, E> + Send + 'static,
) -> Result<T, E>
where
    T: Send + 'static,
    E: From<StoreError> + Send + 'static,
{
    let (place, answer) = Answer::new();
    let task = move || {
        place.put(work());
        Ok(())
    };
    answer.of(run(Box::new(task)).await)
}
