//! Backups, restoring them, and moving to the other database.

use crate::args::{Args, BackupFolder, Move, Restore};
use crate::world::{self, SystemClock};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use traybook_app::copies::{self, Backup, Backups, Identity, Recipient, Restored, Scratch};
use traybook_app::{App, AppError, SystemRandom};
use traybook_domain::time::format_instant;

/// How backups are made, as the arguments say it.
///
/// # Errors
/// When the recipient can not be read.
pub fn backups(data: &Path, folder: &Path, with: &BackupFolder) -> Result<Backups, String> {
    let recipient = with.backup_recipient.as_deref().map(Recipient::parse).transpose();
    let recipient = recipient.map_err(|e| format!("--backup-recipient: {e}"))?;
    let (folder, private) = (folder.to_owned(), data.join("backup-work"));
    Ok(Backups { folder, private, recipient, keep_days: with.backup_keep_days })
}

/// Makes a backup and checks it.
pub fn backup(args: &Args, folder: &Path, with: &BackupFolder) -> Result<ExitCode, String> {
    let app = world::open_present(args)?;
    let how = backups(&args.data, folder, with)?;
    say_made(&world::wait(app.backup(&how))?);
    Ok(ExitCode::SUCCESS)
}

fn say_made(made: &Backup) {
    let Backup { file, at, bytes, proof, pruned } = made;
    println!("{}: {bytes} bytes, as of {}", file.display(), format_instant(*at));
    println!("opened and checked: {}", String::from(proof.clone()));
    if *pruned > 0 {
        println!("{pruned} older ones removed");
    }
}

/// Restores a backup into an empty place.
pub fn restore(args: &Args, restore: &Restore) -> Result<ExitCode, String> {
    let Some(file) = &restore.file else { return restored(args) };
    let identity = restore.identity.as_deref().map(read_identity).transpose()?;
    let url = world::database_url(args)?;
    let scratch = scratch(args, &url)?;
    let open = |url: &str| open(args, url).map_err(AppError::Unavailable);
    let done = copies::restore(&open, file, identity.as_ref(), (&scratch, &url));
    let Restored { of, proof, ended } = world::wait(done)?;
    match of {
        Some(at) => println!("restored as of {}", format_instant(at)),
        None => println!("restored; the file does not say of which instant it is"),
    }
    println!("opened and checked: {}", String::from(proof));
    println!("{} sign-ins and {} one-time codes ended", ended.sessions, ended.codes);
    println!(
        "Devices send again what they sent since, and read everything anew. Passwords and calendar \
         addresses are those of the backup."
    );
    Ok(ExitCode::SUCCESS)
}

/// After a restore by the database's own tools.
fn restored(args: &Args) -> Result<ExitCode, String> {
    let app = world::open_present(args)?;
    let (proof, ended) = world::wait(async {
        let proof = app.prove_here().await?;
        Ok((proof, app.begin_life(None).await?))
    })?;
    println!("opened and checked: {}", String::from(proof));
    println!("{} sign-ins and {} one-time codes ended", ended.sessions, ended.codes);
    println!("Devices send again all that they still hold, and read everything anew.");
    Ok(ExitCode::SUCCESS)
}

/// Moves everything to the other database, which must be empty.
pub fn move_to(args: &Args, target: &Move) -> Result<ExitCode, String> {
    let app = world::open_present(args)?;
    let scratch = scratch(args, &target.to)?;
    let open = |url: &str| open(args, url).map_err(AppError::Unavailable);
    let moved = world::wait(copies::move_to(&app, &open, (&scratch, &target.to)))?;
    println!("moved: {}", String::from(moved));
    println!("From now on start with --database-url and this address. Sign-ins go on.");
    Ok(ExitCode::SUCCESS)
}

pub fn read_identity(path: &Path) -> Result<Identity, String> {
    let named = |e: &dyn std::fmt::Display| format!("{}: {e}", path.display());
    let text = std::fs::read_to_string(path).map_err(|e| named(&e))?;
    Identity::parse(&text).map_err(|e| named(&e))
}

/// A file beside the place where the database will be, so that it can be moved there; for
/// PostgreSQL one in the data folder.
fn scratch(args: &Args, url: &str) -> Result<Scratch, String> {
    let target = match url.strip_prefix("sqlite:") {
        Some(path) => PathBuf::from(path),
        None => args.data.join("traybook"),
    };
    if let Some(folder) = target.parent().filter(|p| !p.as_os_str().is_empty()) {
        world::folder(folder)?;
    }
    let scratch = target.with_extension(format!("{}.part", std::process::id()));
    match scratch.exists() {
        true => Err(format!("{} is there already: move it away", scratch.display())),
        false => Ok(Scratch(scratch)),
    }
}

fn open(args: &Args, url: &str) -> Result<App, String> {
    world::app(
        url,
        world::keys(args)?,
        world::carriers(args)?,
        Arc::new(SystemClock),
        Arc::new(SystemRandom),
    )
}

/// Makes backups as long as the server runs: the first when the newest of the folder is old enough.
pub async fn keep_backing_up(app: App, how: Backups, hours: u16) {
    let every_ms = i64::from(hours) * 3_600_000;
    if let Err(error) = app.keeping.look_into(&how.folder) {
        tracing::warn!(%error, "the folder of backups could not be read");
    }
    loop {
        match app.backup_when_due(&how, every_ms).await {
            Ok(None) => {}
            Ok(Some(made)) => tracing::info!(file = %made.file.display(), "backup made"),
            Err(error) => tracing::error!(error = world::say(error), "no backup could be made"),
        }
        actix_web::rt::time::sleep(std::time::Duration::from_secs(LOOK_S)).await;
    }
}

/// Seconds between two looks whether a backup is due.
const LOOK_S: u64 = 30;
