//! A transaction that may write what answers show.
//!
//! Every statement that writes such a thing takes a [`Writing`], and only [`in_coop`] makes one. It
//! stores the counters at the end, and the revision has moved by then. So nothing that an answer
//! shows can be committed without a new revision.

use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use crate::records::changes::{self, Counters};
use crate::store::{MaybeRetry, Store};
use std::ops::{Deref, DerefMut};
use traybook_domain::Month;

/// One co-operative's part of a transaction. As a [`Conn`] it reads.
pub struct Writing<'a> {
    conn: &'a mut Conn,
    coop: i64,
    /// As they were, to see whether anything moved.
    before: Counters,
    counters: Counters,
    /// Whether anything of it stays.
    is_kept: bool,
}

/// Runs `work` on a co-operative inside a transaction. Its counters are locked first, so that two
/// changes of one co-operative come one after the other.
///
/// # Errors
/// Those of `work`, and of the database.
pub fn in_coop<T, E: From<StoreError>>(
    conn: &mut Conn,
    coop: i64,
    work: impl FnOnce(&mut Writing<'_>) -> Result<T, E>,
) -> Result<T, E> {
    let counters = changes::lock(conn, coop)?;
    let mut writing = Writing { conn, coop, before: counters, counters, is_kept: true };
    let value = work(&mut writing)?;
    if writing.counters != writing.before {
        changes::store_counters(writing.conn, coop, writing.counters)?;
    }
    Ok(value)
}

/// Runs `work` on a connection of which nothing is kept: the counters are neither locked nor stored.
pub(crate) fn trying<T, E: From<StoreError>>(
    conn: &mut Conn,
    coop: i64,
    work: impl FnOnce(&mut Writing<'_>) -> Result<T, E>,
) -> Result<T, E> {
    let counters = changes::counters(conn, coop)?;
    work(&mut Writing { conn, coop, before: counters, counters, is_kept: false })
}

impl Store {
    /// Runs `work` on a co-operative in a transaction of its own.
    pub async fn change<T, E, F>(&self, coop: i64, mut work: F) -> Result<T, E>
    where
        T: Send + 'static,
        E: From<StoreError> + MaybeRetry + Send + 'static,
        F: FnMut(&mut Writing<'_>) -> Result<T, E> + Send + 'static,
    {
        let _turn = self.turn(coop).await?;
        self.write(move |conn| in_coop(conn, coop, &mut work)).await
    }
}

impl Writing<'_> {
    /// The co-operative's number.
    #[must_use]
    pub const fn coop(&self) -> i64 {
        self.coop
    }

    /// Whether anything of it stays. A preview writes to tables of its own only: what it wrote to
    /// another one would make others wait.
    #[must_use]
    pub const fn is_kept(&self) -> bool {
        self.is_kept
    }

    /// The connection, for a statement that writes.
    pub(crate) const fn moving(&mut self) -> &mut Conn {
        self.counters.revision = self.before.revision + 1;
        self.conn
    }

    /// Runs a statement that writes a row unless it is there; whether it did.
    pub(crate) fn insert(&mut self, sql: &str, binds: &[Bind]) -> Result<bool, StoreError> {
        let is_new = self.conn.exec(sql, binds)? == 1;
        if is_new {
            self.moving();
        }
        Ok(is_new)
    }

    /// The next number of the change feed.
    pub const fn next_change(&mut self) -> i64 {
        self.counters.change_seq += 1;
        self.counters.change_seq
    }

    /// Notes that somebody may see more or less than before.
    pub const fn move_access(&mut self) {
        self.counters.access_version = self.before.access_version + 1;
    }

    /// The last closed month as it was when the transaction began; none where none is.
    pub(crate) fn closed_until(&self) -> Option<Month> {
        Month::from_number(self.before.closed_until)
    }

    /// Notes that a month is closed.
    pub(crate) fn note_close(&mut self, month: Month) {
        self.counters.closed_until = self.counters.closed_until.max(month.number());
    }

    /// The counters as they were when the transaction began.
    #[must_use]
    pub const fn before(&self) -> Counters {
        self.before
    }

    /// The revision this transaction began with.
    #[must_use]
    pub const fn revision(&self) -> i64 {
        self.before.revision
    }
}

impl Deref for Writing<'_> {
    type Target = Conn;

    fn deref(&self) -> &Conn {
        self.conn
    }
}

impl DerefMut for Writing<'_> {
    fn deref_mut(&mut self) -> &mut Conn {
        self.conn
    }
}
