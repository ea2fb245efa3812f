//! What a use case can answer besides success.

use traybook_domain::FieldError;
use traybook_storage::StoreError;
use traybook_storage::store::MaybeRetry;

/// A use case's failure, made for the caller.
#[derive(Debug, thiserror::Error)]
pub enum AppError {
    /// Fields break rules; all of them are listed.
    #[error("the record breaks {} rules", .0.len())]
    Invalid(Vec<FieldError>),
    /// Nobody is signed in, or no longer.
    #[error("not signed in")]
    Unauthenticated,
    /// Login and password do not fit together.
    #[error("wrong login or password")]
    WrongPassword,
    /// The role does not allow it.
    #[error("not allowed for this role")]
    Forbidden,
    /// The person has a second factor, and it was not proved lately.
    #[error("a code of the second factor is needed")]
    ProofNeeded,
    /// Login and password fit, and the person has a second factor: a code goes with the ticket.
    #[error("a code of the second factor is needed to sign in")]
    SecondFactor {
        /// Stands for login and password for a few minutes.
        ticket: String,
    },
    /// It is not there, or not for this person.
    #[error("not found")]
    NotFound,
    /// It contradicts what is there.
    #[error("conflict: {code}")]
    Conflict {
        /// Stable code.
        code: &'static str,
        detail: String,
    },
    /// The record has changed since the caller read it.
    #[error("stale; the current version is {current}")]
    Stale {
        /// Version now.
        current: i64,
    },
    /// Too many tries.
    #[error("too many requests")]
    TooMany {
        /// Seconds to wait.
        retry_after_s: u32,
    },
    /// Larger than the limit.
    #[error("too large")]
    TooLarge {
        /// The limit, bytes.
        bytes_max: usize,
    },
    /// The page or feed cursor belongs to other conditions.
    #[error("unusable cursor")]
    Cursor {
        /// Whether to begin from the start because access has changed.
        gone: bool,
    },
    /// The records were restored from a backup since this cursor was given.
    #[error("restored since")]
    Restored,
    /// The file is not of a type that is taken.
    #[error("unsupported media type")]
    MediaType,
    /// The database is busy or away; passes by itself.
    #[error("unavailable: {0}")]
    Unavailable(String),
    /// This server only reads: another one takes changes.
    #[error("this server only reads: send changes to the main server")]
    ReadsOnly,
    /// The database's pages are not what was written: a restore is needed.
    #[error("damaged: {0}")]
    Damaged(String),
    /// Our fault.
    #[error("internal: {0}")]
    Internal(String),
    /// PostgreSQL asks for the transaction to be run again.
    #[error("run again")]
    Retry,
}

impl AppError {
    /// One field breaks one rule.
    #[must_use]
    pub fn field(field: &str, code: &'static str, detail: impl Into<String>) -> Self {
        Self::Invalid(vec![FieldError::new(field, code, detail)])
    }

    /// Says of another field what was said of one.
    #[must_use]
    pub fn of_field(self, name: &str) -> Self {
        let Self::Invalid(errors) = self else { return self };
        Self::Invalid(errors.into_iter().map(|e| e.renamed(name)).collect())
    }

    /// A conflict with what is there.
    #[must_use]
    pub fn conflict(code: &'static str, detail: impl Into<String>) -> Self {
        Self::Conflict { code, detail: detail.into() }
    }
}

impl From<StoreError> for AppError {
    fn from(error: StoreError) -> Self {
        match error {
            StoreError::Busy => Self::Unavailable("the database is busy".to_owned()),
            StoreError::Unavailable(text) => Self::Unavailable(text),
            StoreError::ReadsOnly => Self::ReadsOnly,
            StoreError::Retry => Self::Retry,
            StoreError::Damaged(text) => Self::Damaged(text),
            other => Self::Internal(other.to_string()),
        }
    }
}

impl MaybeRetry for AppError {
    fn wants_retry(&self) -> bool {
        matches!(self, Self::Retry)
    }
    fn lost_connection(&self) -> bool {
        matches!(self, Self::Unavailable(_))
    }
}
