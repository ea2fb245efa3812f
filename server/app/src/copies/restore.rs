//! Restoring a backup, and moving to the other database: both go through a checked SQLite file.

use super::{Identity, Proof, Scratch, is_packed, unpack};
use crate::App;
use crate::error::AppError;
use std::path::Path;
use traybook_domain::value::Instant;
use traybook_storage::copies::epoch::Ended;
use traybook_storage::{StoreError, copies};

/// Opens the use cases on a database.
pub type Open<'a> = &'a dyn Fn(&str) -> Result<App, AppError>;

/// What a restore did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Restored {
    /// The instant whose records the backup held, where it says so.
    pub of: Option<Instant>,
    /// What was found when the restored database was opened and checked.
    pub proof: Proof,
    /// What ended.
    pub ended: Ended,
}

/// Restores a backup into an empty place. Another life of the records begins: all sign-ins and
/// one-time codes end, and devices send and read everything again.
///
/// # Errors
/// `Conflict` with code `not_empty`, `not_a_backup`, `encrypted` or `damaged`, and what to do;
/// those of the store. The place is still empty then.
pub async fn restore(
    open: Open<'_>,
    file: &Path,
    identity: Option<&Identity>,
    (scratch, url): (&Scratch, &str),
) -> Result<Restored, AppError> {
    refuse_full(url)?;
    unpack(file, &scratch.0, identity)?;
    let app = open(&format!("sqlite:{}", scratch.0.display()))?;
    let proof = app.prove_here().await?;
    // A file that somebody copied does not know when that was: everything is sent again.
    let of = if is_packed(file)? { app.instant_of_copy().await? } else { None };
    let ended = app.begin_life(of).await?;
    app.note_restored("traybook restore").await?;
    drop(app);
    place(&scratch.0, url)?;
    is_there(open, url, &proof).await?;
    Ok(Restored { of, proof, ended })
}

/// Moves everything to another database, which must be empty and be written by nobody.
///
/// # Errors
/// `Conflict` with code `not_empty`, `damaged` or `written`, and what to do; those of the store.
pub async fn move_to(
    from: &App,
    open: Open<'_>,
    (scratch, url): (&Scratch, &str),
) -> Result<Proof, AppError> {
    refuse_full(url)?;
    let before = from.last_changes().await?;
    from.store.copy_to(scratch.0.clone(), None).await?;
    let proof = from.prove_copy(&scratch.0).await?;
    let written = |what: &str| AppError::conflict("written", what);
    if from.last_changes().await? != before {
        return Err(written("somebody writes meanwhile: stop the server, then move"));
    }
    place(&scratch.0, url)?;
    is_there(open, url, &proof).await?;
    if from.last_changes().await? != before {
        return Err(written(
            "somebody wrote meanwhile, and what was moved is not complete: stop the server, make \
             a new empty database and move again",
        ));
    }
    Ok(proof)
}

async fn is_there(open: Open<'_>, url: &str, proof: &Proof) -> Result<(), AppError> {
    match open(url)?.prove_here().await? == *proof {
        true => Ok(()),
        false => Err(AppError::conflict("damaged", "what was written differs; do not use it")),
    }
}

/// Refuses a place where something is.
///
/// # Errors
/// `Conflict` with code `not_empty`; those of the store.
fn refuse_full(url: &str) -> Result<(), AppError> {
    copies::refuse_full(url).map_err(not_empty)
}

fn place(copy: &Path, url: &str) -> Result<(), AppError> {
    copies::place(copy, url).map_err(not_empty)
}

fn not_empty(error: StoreError) -> AppError {
    match error {
        StoreError::Config(text) => AppError::conflict("not_empty", text),
        other => other.into(),
    }
}
