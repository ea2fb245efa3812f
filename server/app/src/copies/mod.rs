//! Backups, restoring them, and moving to the other database.
//!
//! A backup is one SQLite file, whichever database it was made of, packed and perhaps encrypted.
//! It is opened and checked as this program checks a database before it counts as made.

mod keeping;
mod pack;
mod restore;
mod spread;

pub(crate) use keeping::Facts;
pub use keeping::{Backup, Keeping, Schedule};
pub use pack::{Identity, Recipient, is_packed, pack, unpack};
pub(crate) use pack::{create, unpack_any};
pub use restore::{Open, Restored, move_to, restore};

use crate::error::AppError;
use crate::{App, Coop};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use traybook_domain::Kind;
use traybook_domain::records::import_id::v7_millis;
use traybook_domain::time::format_instant;
use traybook_domain::value::Instant;
use traybook_storage::copies;
use traybook_storage::copies::damage::{self, Look};
use traybook_storage::copies::epoch::{self, Ended};
use traybook_storage::{Store, StoreConfig, people::logins, records::changes};

/// What was found in a copy when it was opened and checked.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Proof {
    /// Co-operatives, each with the number of its last change.
    pub cooperatives: Vec<(String, i64)>,
    /// Records of all kinds.
    pub records: i64,
    pub pictures: i64,
    /// Kept sums, all of which agree with the records.
    pub sums: usize,
}

/// What stands in front of the time in a backup's name.
const NAME: &str = "traybook-";
/// How a backup's name ends; one that is encrypted has another end behind it.
const END: &str = ".sqlite.gz";
/// What an encrypted file's name ends with.
const ENCRYPTED: &str = ".age";
/// Milliseconds after which a backup that failed is tried again.
pub const RETRY_MS: i64 = 15 * 60 * 1000;
/// Milliseconds after which what a backup left counts as cut off: another program may be making one.
const LEFT_MS: i64 = 86_400_000;
/// The same of copies that were to be encrypted: an hour.
const LEFT_PRIVATE_MS: i64 = 3_600_000;
/// Backups that are kept however old they are.
const KEPT_ALWAYS: usize = 3;

/// How backups are made.
#[derive(Clone, Debug)]
pub struct Backups {
    /// The folder they go to.
    pub folder: PathBuf,
    /// A folder of this program alone. The copy lies there until it is encrypted: the other folder
    /// may be another machine's.
    pub private: PathBuf,
    /// Who can read them; everybody who has the file where nobody is named.
    pub recipient: Option<Recipient>,
    /// Days after which one goes, the newest few excepted; none goes where nothing is said.
    pub keep_days: Option<u16>,
}

impl App {
    /// Makes a backup, while others go on writing, and checks it. It stands under its name only
    /// when it is whole.
    ///
    /// # Errors
    /// `Unavailable` when the folder can not be written; `Conflict` with code `damaged` when the
    /// copy does not hold what it should.
    pub async fn backup(&self, how: &Backups) -> Result<Backup, AppError> {
        let at = self.now();
        let made = self.make_backup(how, at).await;
        self.keeping.note_backup(&made, at);
        made
    }

    /// Makes a backup when the last one is `every_ms` old; one that failed is tried again after
    /// `RETRY_MS`. Nothing where none is due.
    pub async fn backup_when_due(
        &self,
        how: &Backups,
        every_ms: i64,
    ) -> Result<Option<Backup>, AppError> {
        let now = self.now().0;
        let due = self.keeping.last_backup().map_or(now, |at| at.0 + every_ms);
        let retry = self.keeping.backup_failed().map_or(now, |at| at.0 + RETRY_MS);
        if now < due.max(retry) {
            return Ok(None);
        }
        self.backup(how).await.map(Some)
    }

    async fn make_backup(&self, how: &Backups, at: Instant) -> Result<Backup, AppError> {
        let failed = |e: std::io::Error| cannot(&how.folder, &e);
        std::fs::create_dir_all(&how.folder).map_err(failed)?;
        sweep(&how.folder, Instant(at.0 - LEFT_MS))?;
        let place = match how.recipient {
            Some(_) => {
                make_private(&how.private).map_err(|e| cannot(&how.private, &e))?;
                sweep(&how.private, Instant(at.0 - LEFT_PRIVATE_MS))?;
                &how.private
            }
            None => &how.folder,
        };
        let name = format!("{NAME}{}", self.new_id()?.simple());
        let copy = Scratch(place.join(format!("{name}.part")));
        let packed = Scratch(how.folder.join(format!("{name}.packed")));
        // An empty file is written to as it is, so only its owner can read the copy.
        create(&copy.0).map_err(|e| cannot(place, &e))?;
        self.store.copy_to(copy.0.clone(), Some(at.0)).await?;
        let (from, to, recipient) = (copy.0.clone(), packed.0.clone(), how.recipient.clone());
        let bytes = blocking(move || pack(&from, &to, recipient.as_ref())).await?;
        let proof = self.prove_copy(&copy.0).await?;
        let end = if how.recipient.is_some() { ENCRYPTED } else { "" };
        let file = how.folder.join(format!("{NAME}{}{END}{end}", time_in_name(at)));
        std::fs::rename(&packed.0, &file).map_err(failed)?;
        std::fs::File::open(&how.folder).and_then(|f| f.sync_all()).map_err(failed)?;
        let pruned = prune(how, at)?;
        Ok(Backup { file, at, bytes, proof, pruned })
    }

    /// Opens a copy as the program opens its database, and checks it: its pages, its references,
    /// and that all kept sums agree with the records.
    ///
    /// # Errors
    /// `Conflict` with code `damaged` and what was found; those of the store.
    pub async fn prove_copy(&self, copy: &Path) -> Result<Proof, AppError> {
        let url = copy.to_str().map(|path| format!("sqlite:{path}"));
        let url = url.ok_or_else(|| AppError::Internal("a path is no plain text".to_owned()))?;
        let store = blocking(move || Ok(Store::open(&StoreConfig::new(url, 1))?)).await?;
        let app = App { store, boards: Arc::default(), reports: Arc::default(), ..self.clone() };
        app.prove_here().await
    }

    /// Looks at the database's pages. What is found is kept, and the server is not ready then.
    ///
    /// # Errors
    /// Those of the store, where it can not be read for another reason.
    pub async fn look_for_damage(&self) -> Result<Option<String>, AppError> {
        let found = match self.store.look(Look::Quick).await.map_err(AppError::from) {
            Err(AppError::Damaged(text)) => Some(text),
            other => other?,
        };
        self.keeping.note_damage(found.clone());
        self.keeping.note_look(self.now());
        Ok(found)
    }

    /// As [`App::prove_copy`], of the database that is open.
    pub async fn prove_here(&self) -> Result<Proof, AppError> {
        let damaged = |what: String| AppError::conflict("damaged", what);
        let found = self.store.read(|conn| damage::look(conn, Look::Whole)).await?;
        if let Some(what) = found {
            return Err(damaged(what));
        }
        let (mut proof, coops) = self.store.read(count).await?;
        for coop in coops {
            let sums = self.rebuild_sums(&coop).await?;
            if sums.kept != sums.rebuilt {
                let text = format!("the kept sums of {} do not agree with its records", coop.name);
                return Err(damaged(text));
            }
            proof.sums += sums.rebuilt.len();
        }
        Ok(proof)
    }

    /// Begins another life of the records after a restore: all sign-ins and one-time codes end, and
    /// devices send and read everything again.
    pub async fn begin_life(&self, restored_to: Option<Instant>) -> Result<Ended, AppError> {
        let mut random = [0_u8; 8];
        self.random.fill(&mut random).map_err(AppError::Internal)?;
        // Positive, and never that of a database that was not restored.
        let number = (i64::from_le_bytes(random) & i64::MAX).max(1);
        let at = restored_to.map(|at| at.0);
        self.store.write(move |conn| Ok(epoch::begin(conn, number, at)?)).await
    }

    /// Of which instant a copy is, where it says so.
    pub async fn instant_of_copy(&self) -> Result<Option<Instant>, AppError> {
        let at = self.store.read(epoch::instant).await?;
        Ok(at.map(Instant))
    }

    /// Where all change feeds are: two answers that are equal say that nothing was written between.
    pub async fn last_changes(&self) -> Result<Vec<(i64, i64, i64)>, AppError> {
        self.store
            .read(|conn| {
                let mut all = Vec::new();
                for (number, _) in logins::cooperatives(conn)? {
                    let now = changes::counters(conn, number)?;
                    all.push((number, now.change_seq, now.revision));
                }
                Ok(all)
            })
            .await
    }
}

fn count(conn: &mut traybook_storage::Conn) -> Result<(Proof, Vec<Coop>), AppError> {
    let (mut proof, mut coops) = (Proof::default(), Vec::new());
    for (number, id) in logins::cooperatives(conn)? {
        let coop = Coop::load(conn, number, id)?;
        let last = changes::counters(conn, number)?.change_seq;
        proof.cooperatives.push((coop.name.clone(), last));
        coops.push(coop);
    }
    for (table, rows) in copies::counts(conn)? {
        if Kind::ALL.iter().any(|kind| kind.spec().table() == table) {
            proof.records += rows;
        }
        if table == "photo_contents" {
            proof.pictures = rows;
        }
    }
    Ok((proof, coops))
}

/// A file that goes when it is no longer needed, whatever happens.
pub struct Scratch(pub PathBuf);

impl Drop for Scratch {
    fn drop(&mut self) {
        for end in ["", "-wal", "-shm", "-journal"] {
            let mut name = self.0.clone().into_os_string();
            name.push(end);
            drop(std::fs::remove_file(name));
        }
    }
}

fn cannot(what: &Path, why: &dyn std::fmt::Display) -> AppError {
    AppError::Unavailable(format!("{}: {why}", what.display()))
}

async fn blocking<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, AppError> + Send + 'static,
) -> Result<T, AppError> {
    match tokio::task::spawn_blocking(work).await {
        Ok(done) => done,
        Err(e) => Err(AppError::Internal(e.to_string())),
    }
}

/// An instant as it stands in a name: `2026-03-20T090000Z`.
fn time_in_name(at: Instant) -> String {
    let text = format_instant(at).replace(':', "");
    format!("{}Z", text.split('.').next().unwrap_or_default())
}

/// The backups of a folder, the oldest first, each with its time as it stands in its name.
///
/// # Errors
/// `Unavailable` when the folder can not be read.
pub fn found_in(folder: &Path) -> Result<Vec<(String, PathBuf)>, AppError> {
    let failed = |e: std::io::Error| cannot(folder, &e);
    if !folder.exists() {
        return Ok(Vec::new());
    }
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(failed)? {
        let path = entry.map_err(failed)?.path();
        let name = path.file_name().and_then(|name| name.to_str()).unwrap_or_default();
        let plain = name.strip_suffix(ENCRYPTED).unwrap_or(name);
        let time = plain.strip_prefix(NAME).and_then(|rest| rest.strip_suffix(END));
        if let Some(time) = time {
            found.push((time.to_owned(), path.clone()));
        }
    }
    found.sort();
    Ok(found)
}

/// Makes a folder that only its owner can look into, or closes it to others.
fn make_private(folder: &Path) -> std::io::Result<()> {
    let mut builder = std::fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(folder)?;
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        std::fs::set_permissions(folder, std::fs::Permissions::from_mode(0o700))?;
    }
    Ok(())
}

/// Removes what a backup that was cut off has left, where it began before an instant.
fn sweep(folder: &Path, before: Instant) -> Result<(), AppError> {
    for entry in std::fs::read_dir(folder).map_err(|e| cannot(folder, &e))?.flatten() {
        let name = entry.file_name();
        let rest = name.to_str().and_then(|name| name.strip_prefix(NAME));
        let id = rest.and_then(|rest| rest.split_once('.')).and_then(|(id, end)| {
            let is_part = end.starts_with("part") || end.starts_with("packed");
            uuid::Uuid::try_parse(id).ok().filter(|_| is_part)
        });
        let begun = id.and_then(v7_millis);
        if begun.is_some_and(|at| at < before.0) {
            drop(std::fs::remove_file(entry.path()));
        }
    }
    Ok(())
}

/// Removes the backups that are too old, the newest few excepted; how many there were.
fn prune(how: &Backups, now: Instant) -> Result<usize, AppError> {
    let Some(days) = how.keep_days else { return Ok(0) };
    let oldest = time_in_name(Instant(now.0 - i64::from(days) * 86_400_000));
    let all = found_in(&how.folder)?;
    let may_go = all.len().saturating_sub(KEPT_ALWAYS);
    let old = all.into_iter().take(may_go).filter(|(time, _)| *time < oldest);
    let mut gone = 0;
    for (_, path) in old {
        std::fs::remove_file(&path).map_err(|e| cannot(&path, &e))?;
        gone += 1;
    }
    Ok(gone)
}

impl From<Proof> for String {
    fn from(proof: Proof) -> Self {
        let Proof { cooperatives, records, pictures, sums } = proof;
        let coops = cooperatives.iter().map(|(name, last)| format!("{name}, change {last}"));
        let coops = coops.collect::<Vec<_>>().join("; ");
        format!("{records} records, {pictures} pictures, {sums} sums agree ({coops})")
    }
}
