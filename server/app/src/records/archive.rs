//! Replaced versions of old years, moved out of the database into a file that stays readable.
//!
//! The records themselves stay. The file is compressed, encrypted where somebody is named, and read
//! back before anything is forgotten.

use crate::copies::{Identity, Recipient, pack, unpack_any};
use crate::error::AppError;
use crate::{Actor, App, Coop};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use serde_json::Value as Json;
use std::fs::File;
use std::io::{BufRead as _, BufReader, BufWriter, Write as _};
use std::path::{Path, PathBuf};
use traybook_answers::wire::Time;
use traybook_domain::limits::HISTORY_KEPT_DAYS;
use traybook_domain::value::Instant;
use traybook_storage::Conn;
use traybook_storage::records::history_rows::{self, OldRow, Place};
use uuid::Uuid;

/// Versions that are read or forgotten in one transaction.
const AT_ONCE: i64 = 1_000;

/// A replaced version, a line of an archive.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ArchivedVersion {
    pub cooperative: Uuid,
    /// Kind of the record.
    pub kind: String,
    pub id: Uuid,
    /// Its version, from 1.
    pub version: i64,
    /// The record as it was.
    pub record: Json,
    /// When this version was made.
    pub made_at: Time,
    pub made_by: Uuid,
    /// When it was replaced.
    pub replaced_at: Time,
    pub replaced_by: Uuid,
    /// What replaced it: `corrected`, `withdrawn`, …
    pub action: String,
    /// Why, where it was said.
    pub reason: Option<String>,
}

impl ArchivedVersion {
    fn of(cooperative: Uuid, row: OldRow) -> Result<Self, AppError> {
        let body = serde_json::from_str(&row.body);
        let wrong = |e| AppError::Internal(format!("{} version {}: {e}", row.id, row.version));
        Ok(Self {
            cooperative,
            kind: row.kind.spec().one.to_owned(),
            id: row.id,
            version: row.version,
            record: body.map_err(wrong)?,
            made_at: Time(Instant(row.made_at)),
            made_by: row.made_by,
            replaced_at: Time(Instant(row.replaced_at)),
            replaced_by: row.replaced_by,
            action: row.action,
            reason: row.reason,
        })
    }
}

/// What was moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Archived {
    /// Versions in the file.
    pub versions: u64,
    /// Bytes of the file.
    pub bytes: u64,
}

fn failed(path: &Path, e: &dyn std::fmt::Display) -> AppError {
    AppError::conflict("files", format!("{}: {e}", path.display()))
}

/// A file that goes when it is dropped.
struct Passing(PathBuf);

impl Drop for Passing {
    fn drop(&mut self) {
        drop(std::fs::remove_file(&self.0));
    }
}

/// Where the plain lines lie for a moment, beside the file and for its owner alone.
fn beside(file: &Path) -> Passing {
    let mut name = file.as_os_str().to_owned();
    name.push(".part");
    Passing(PathBuf::from(name))
}

impl App {
    /// Moves what was replaced before a day into a new file, and forgets it here. Nothing is made
    /// where there is nothing to move.
    ///
    /// # Errors
    /// `Invalid` for a day that is too late; `Conflict` for a file that is there or can not be
    /// written: then nothing is forgotten.
    pub async fn archive_history(
        &self,
        coop: &Coop,
        before: NaiveDate,
        (file, recipient): (&Path, Option<&Recipient>),
    ) -> Result<Archived, AppError> {
        let today = coop.today(self.now());
        if (today - before).num_days() < HISTORY_KEPT_DAYS {
            let detail = format!("give a day at least {HISTORY_KEPT_DAYS} days ago, as YYYY-MM-DD");
            return Err(AppError::field("before", "range", detail));
        }
        if file.exists() {
            return Err(failed(file, &"it is there already; name another file"));
        }
        let instant = traybook_domain::time::start_of_day(before, coop.zone).0;
        let plain = beside(file);
        let versions = self.write_lines(coop, instant, &plain.0).await?;
        if versions == 0 {
            return Ok(Archived { versions, bytes: 0 });
        }
        let bytes = pack(&plain.0, file, recipient)?;
        drop(plain);
        self.note_export(&Actor::machine(coop.clone()), "history archive").await?;
        let number = coop.number;
        loop {
            let forget = move |conn: &mut Conn| {
                let rows = history_rows::before(conn, number, (instant, &start()), AT_ONCE)?;
                let keys: Vec<_> = rows.iter().map(|r| (r.kind, r.id, r.version)).collect();
                history_rows::forget(conn, number, &keys)?;
                Ok::<_, AppError>(keys.is_empty())
            };
            if self.store.write(forget).await? {
                return Ok(Archived { versions, bytes });
            }
        }
    }

    async fn write_lines(&self, coop: &Coop, instant: i64, to: &Path) -> Result<u64, AppError> {
        let file = crate::copies::create(to).map_err(|e| failed(to, &e))?;
        let mut out = BufWriter::new(file);
        let (mut place, mut versions) = (start(), 0);
        loop {
            let (number, from) = (coop.number, place.clone());
            let read = move |conn: &mut Conn| {
                Ok::<_, AppError>(history_rows::before(conn, number, (instant, &from), AT_ONCE)?)
            };
            let rows = self.store.read(read).await?;
            let Some(last) = rows.last() else { break };
            place = (last.kind.spec().one.to_owned(), last.id, last.version);
            for row in rows {
                let line = ArchivedVersion::of(coop.id, row)?;
                let line = serde_json::to_string(&line);
                let line = line.map_err(|e| AppError::Internal(e.to_string()))?;
                writeln!(out, "{line}").map_err(|e| failed(to, &e))?;
                versions += 1;
            }
        }
        out.flush().map_err(|e| failed(to, &e))?;
        Ok(versions)
    }
}

/// Before the first version.
fn start() -> Place {
    (String::new(), Uuid::nil(), 0)
}

/// Hands the versions of an archive over, one by one; of one record where it is named.
///
/// # Errors
/// `Conflict` for a file that is no archive, is damaged, or needs another identity.
pub fn read_archive(
    file: &Path,
    identity: Option<&Identity>,
    record: Option<Uuid>,
    mut each: impl FnMut(&ArchivedVersion, &str),
) -> Result<u64, AppError> {
    let plain = beside(file);
    unpack_any(file, &plain.0, identity)?;
    let lines = File::open(&plain.0).map_err(|e| failed(&plain.0, &e))?;
    let mut shown = 0;
    for line in BufReader::new(lines).lines() {
        let line = line.map_err(|e| failed(file, &e))?;
        let version: ArchivedVersion = serde_json::from_str(&line)
            .map_err(|e| failed(file, &format!("it is no archive of this program: {e}")))?;
        if record.is_none_or(|id| id == version.id) {
            each(&version, &line);
            shown += 1;
        }
    }
    Ok(shown)
}
