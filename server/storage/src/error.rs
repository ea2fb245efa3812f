//! What can go wrong in the store.

use diesel::result::{DatabaseErrorKind, Error as DieselError};

/// A failure of the store.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// Another writer has the database, or too many writes wait; passes by itself.
    #[error("the database is busy")]
    Busy,
    /// The database can not be reached or written at present (gone, disk full, read-only).
    #[error("the database is not available: {0}")]
    Unavailable(String),
    /// This program only reads the database.
    #[error("this server only reads: send changes to the main server")]
    ReadsOnly,
    /// A row with this key is there already.
    #[error("a row with this key exists already: {0}")]
    Duplicate(String),
    /// A row that is referred to is missing, or one that is referred to would go.
    #[error("a reference would point nowhere: {0}")]
    Reference(String),
    /// PostgreSQL asks for the transaction to be run again.
    #[error("the transaction must be run again")]
    Retry,
    /// The database was made by a later version of this program, or is none of ours.
    #[error("the database does not fit this program: {0}")]
    Version(String),
    /// The configuration can not be used.
    #[error("the configuration can not be used: {0}")]
    Config(String),
    /// Its pages are not what was written: a restore is needed.
    #[error(
        "the database is damaged ({0}); stop the server, keep the file as it is, and restore the last \
         backup with `traybook restore`"
    )]
    Damaged(String),
    /// Our mistake.
    #[error("unexpected database error: {0}")]
    Internal(String),
}

impl From<DieselError> for StoreError {
    fn from(error: DieselError) -> Self {
        let text = error.to_string();
        match error {
            DieselError::DatabaseError(kind, info) => {
                let message = info.message().to_owned();
                match kind {
                    DatabaseErrorKind::UniqueViolation => Self::Duplicate(message),
                    DatabaseErrorKind::ForeignKeyViolation => Self::Reference(message),
                    DatabaseErrorKind::SerializationFailure => Self::Retry,
                    DatabaseErrorKind::ClosedConnection => Self::Unavailable(message),
                    DatabaseErrorKind::UnableToSendCommand => Self::Unavailable(message),
                    DatabaseErrorKind::ReadOnlyTransaction => Self::Unavailable(message),
                    _ => by_message(&message),
                }
            }
            DieselError::BrokenTransactionManager => Self::Unavailable(text),
            _ => Self::Internal(text),
        }
    }
}

/// The one place that reads error texts: SQLite and libpq name no finer kinds through diesel.
fn by_message(message: &str) -> StoreError {
    let has = |part: &str| message.contains(part);
    if has("database disk image is malformed")
        || has("file is not a database")
        || has("malformed database schema")
        || has("invalid page in block")
        || has("could not read block")
    {
        StoreError::Damaged(message.to_owned())
    } else if has("database is locked") || has("database table is locked") {
        StoreError::Busy
    } else if has("deadlock detected") || has("could not serialize") {
        StoreError::Retry
    } else if has("disk is full")
        || has("readonly database")
        || has("disk I/O error")
        || has("unable to open database")
        || has("No space left")
        || has("terminating connection")
        || has("server closed the connection")
        || has("no connection to the server")
        || has("connection to server")
        || has("could not connect")
        || has("the database system is")
        || has("canceling statement")
        || has("lock timeout")
        || has("SSL connection has been closed")
    {
        StoreError::Unavailable(message.to_owned())
    } else {
        StoreError::Internal(message.to_owned())
    }
}
