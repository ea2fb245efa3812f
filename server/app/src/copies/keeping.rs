//! How the database is kept: the last backup, and what was found wrong.

use super::{Proof, found_in};
use crate::error::AppError;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};
use traybook_domain::time::parse_instant;
use traybook_domain::value::Instant;

/// A backup that was made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Backup {
    pub file: PathBuf,
    /// The instant whose records it holds.
    pub at: Instant,
    pub bytes: u64,
    /// What was found in it.
    pub proof: Proof,
    /// Older ones that were removed.
    pub pruned: usize,
}

/// Where a server puts its backups, and how often.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Schedule {
    pub folder: PathBuf,
    /// Hours between two.
    pub hours: u16,
}

/// What is known of how the server and its database are kept. One value a process; it holds a few
/// facts.
#[derive(Debug, Default)]
pub struct Keeping(Mutex<Facts>);

#[derive(Clone, Debug, Default)]
pub(crate) struct Facts {
    pub last_backup: Option<Instant>,
    pub backup_failed: Option<Instant>,
    pub damage: Option<String>,
    pub looked_at: Option<Instant>,
    pub started_at: Option<Instant>,
    pub schedule: Option<Schedule>,
    pub certificate_until: Option<Instant>,
    pub is_ending: bool,
}

impl Keeping {
    fn with<T>(&self, work: impl FnOnce(&mut Facts) -> T) -> T {
        work(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }

    /// The instant of the last backup that was made and checked.
    pub fn last_backup(&self) -> Option<Instant> {
        self.with(|facts| facts.last_backup)
    }

    /// When a backup failed, if none has been made since.
    pub fn backup_failed(&self) -> Option<Instant> {
        self.with(|facts| facts.backup_failed)
    }

    /// What is wrong with the database's pages.
    pub fn damage(&self) -> Option<String> {
        self.with(|facts| facts.damage.clone())
    }

    /// Notes what a look at the database's pages found.
    pub fn note_damage(&self, found: Option<String>) {
        self.with(|facts| facts.damage = found);
    }

    /// Notes when the pages were looked at.
    pub(super) fn note_look(&self, at: Instant) {
        self.with(|facts| facts.looked_at = Some(at));
    }

    /// Notes that a server begins, and how it makes backups.
    pub fn note_start(&self, at: Instant, schedule: Option<Schedule>) {
        self.with(|facts| (facts.started_at, facts.schedule) = (Some(at), schedule));
    }

    /// Notes that the server ends soon: it answers, and wants no new work.
    pub fn note_end(&self) {
        self.with(|facts| facts.is_ending = true);
    }

    /// Whether the server ends soon.
    pub fn is_ending(&self) -> bool {
        self.with(|facts| facts.is_ending)
    }

    /// Notes until when the certificate holds that the server shows.
    pub fn note_certificate(&self, until: Option<Instant>) {
        self.with(|facts| facts.certificate_until = until);
    }

    /// All that is known.
    pub(crate) fn facts(&self) -> Facts {
        self.with(|facts| facts.clone())
    }

    pub(super) fn note_backup(&self, made: &Result<Backup, AppError>, at: Instant) {
        self.with(|facts| match made {
            Ok(_) => (facts.last_backup, facts.backup_failed) = (Some(at), None),
            Err(_) => facts.backup_failed = Some(at),
        });
    }

    /// Takes the time of the newest backup of a folder from its name, as after a new start.
    ///
    /// # Errors
    /// `Unavailable` when the folder can not be read.
    pub fn look_into(&self, folder: &Path) -> Result<(), AppError> {
        let newest = found_in(folder)?.pop().and_then(|(time, _)| read_time(&time));
        self.with(|facts| facts.last_backup = facts.last_backup.max(newest));
        Ok(())
    }
}

/// `2026-03-20T090000Z` as an instant.
fn read_time(text: &str) -> Option<Instant> {
    let (day, time) = text.strip_suffix('Z')?.split_once('T')?;
    let part = |from: usize| time.get(from..from + 2);
    parse_instant(&format!("{day}T{}:{}:{}.000Z", part(0)?, part(2)?, part(4)?))
}
