//! Migrations of both databases, embedded in the binary.

use crate::columns::columns;
use crate::conn::{Bind, Conn, Link};
use crate::error::StoreError;
use diesel_migrations::{EmbeddedMigrations, MigrationHarness, embed_migrations};
use std::path::{Path, PathBuf};
use traybook_domain::limits::COPIES_BEFORE_MAX;

const SQLITE: EmbeddedMigrations = embed_migrations!("../../migrations/sqlite");
const POSTGRES: EmbeddedMigrations = embed_migrations!("../../migrations/postgres");

/// Brings the tables up to date.
///
/// # Errors
/// `Version` when the database has migrations this program does not know.
pub fn run(conn: &mut Conn) -> Result<(), StoreError> {
    let failed = |e: Box<dyn std::error::Error + Send + Sync>| StoreError::Version(e.to_string());
    match &mut conn.link {
        Link::Sqlite(c) => {
            let known = names(&SQLITE)?;
            let applied = c.applied_migrations().map_err(failed)?;
            refuse_unknown(&known, &applied.iter().map(ToString::to_string).collect::<Vec<_>>())?;
            c.run_pending_migrations(SQLITE).map_err(failed)?;
        }
        Link::Pg(c) => {
            let known = names_pg(&POSTGRES)?;
            let applied = c.applied_migrations().map_err(failed)?;
            refuse_unknown(&known, &applied.iter().map(ToString::to_string).collect::<Vec<_>>())?;
            c.run_pending_migrations(POSTGRES).map_err(failed)?;
        }
    }
    Ok(())
}

/// Refuses a database whose tables are not up to date.
///
/// # Errors
/// `Version`, with what to do.
pub(crate) fn refuse_pending(conn: &mut Conn) -> Result<(), StoreError> {
    let failed = |e: Box<dyn std::error::Error + Send + Sync>| StoreError::Version(e.to_string());
    let is_pending = match &mut conn.link {
        Link::Sqlite(c) => c.has_pending_migration(SQLITE).map_err(failed)?,
        Link::Pg(c) => c.has_pending_migration(POSTGRES).map_err(failed)?,
    };
    if is_pending { Err(StoreError::Version(PENDING.to_owned())) } else { Ok(()) }
}

/// What is to be done with older tables.
const PENDING: &str = "its tables are of an older version: run `traybook migrate` first";

/// Refuses a database whose tables are of another version; only reads.
///
/// # Errors
/// `Version`, with what to do.
pub(crate) fn refuse_other(conn: &mut Conn) -> Result<(), StoreError> {
    let known = if conn.is_sqlite() { names(&SQLITE) } else { names_pg(&POSTGRES) }?;
    let columns = columns!("migrate::applied" {
        version: String = "CAST(version AS TEXT)",
    } => version);
    let sql = format!("SELECT {columns} FROM __diesel_schema_migrations");
    let applied = conn.select(&columns, &sql, &[])?;
    refuse_unknown(&known, &applied)?;
    match known.iter().all(|version| applied.contains(version)) {
        true => Ok(()),
        false => Err(StoreError::Version(PENDING.to_owned())),
    }
}

/// Keeps a copy beside a SQLite file whose tables are about to be changed; the newest few stay.
///
/// # Errors
/// `Unavailable` when there is no room for it: then nothing is changed.
pub(crate) fn keep_copy(conn: &mut Conn, path: &str) -> Result<(), StoreError> {
    let failed = |e: Box<dyn std::error::Error + Send + Sync>| StoreError::Version(e.to_string());
    let Link::Sqlite(sqlite) = &mut conn.link else { return Ok(()) };
    let applied = sqlite.applied_migrations().map_err(failed)?;
    let applied: Vec<String> = applied.iter().map(ToString::to_string).collect();
    let known = names(&SQLITE)?;
    let Some(next) = known.iter().find(|name| !applied.contains(name)) else { return Ok(()) };
    if applied.is_empty() {
        return Ok(());
    }
    let copy = format!("{path}{BEFORE}{next}");
    if !Path::new(&copy).exists() {
        let cannot = |e: &dyn std::fmt::Display| {
            let text = format!("no copy could be made before the tables are changed: {copy}: {e}");
            StoreError::Unavailable(text)
        };
        let part = format!("{copy}.part");
        drop(std::fs::remove_file(&part));
        conn.exec("VACUUM INTO ?", &[Bind::text(&*part)]).map_err(|e| cannot(&e))?;
        std::fs::File::open(&part).and_then(|file| file.sync_all()).map_err(|e| cannot(&e))?;
        std::fs::rename(&part, &copy).map_err(|e| cannot(&e))?;
        tracing::info!(copy, "a copy was kept before the tables are changed");
    }
    forget_copies(path);
    Ok(())
}

/// What stands behind the name of a copy, before the first change that it has not seen.
const BEFORE: &str = ".before-";

/// Removes the oldest copies; migrations are named in their order.
fn forget_copies(path: &str) {
    let path = Path::new(path);
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let begins = path.file_name().map(|name| format!("{}{BEFORE}", name.to_string_lossy()));
    let Some(begins) = begins else { return };
    let files = std::fs::read_dir(folder).into_iter().flatten().flatten().map(|e| e.path());
    let is_copy = |file: &PathBuf| {
        let name = file.file_name().unwrap_or_default().to_string_lossy();
        name.starts_with(&begins) && !name.ends_with(".part")
    };
    let mut copies: Vec<PathBuf> = files.filter(is_copy).collect();
    copies.sort();
    for old in copies.iter().rev().skip(COPIES_BEFORE_MAX) {
        drop(std::fs::remove_file(old));
    }
}

/// Takes all migrations back.
///
/// # Errors
/// `Version` when a migration fails.
pub(crate) fn undo(conn: &mut Conn) -> Result<(), StoreError> {
    let failed = |e: Box<dyn std::error::Error + Send + Sync>| StoreError::Version(e.to_string());
    match &mut conn.link {
        Link::Sqlite(c) => c.revert_all_migrations(SQLITE).map(drop).map_err(failed),
        Link::Pg(c) => c.revert_all_migrations(POSTGRES).map(drop).map_err(failed),
    }
}

/// Takes all migrations back and runs them again; for tests on an empty database.
///
/// # Errors
/// `Version` when a migration fails.
pub fn redo(conn: &mut Conn) -> Result<(), StoreError> {
    undo(conn)?;
    run(conn)
}

fn names(from: &EmbeddedMigrations) -> Result<Vec<String>, StoreError> {
    use diesel::migration::MigrationSource;
    let all = MigrationSource::<diesel::sqlite::Sqlite>::migrations(from)
        .map_err(|e| StoreError::Version(e.to_string()))?;
    Ok(all.iter().map(|m| m.name().version().to_string()).collect())
}

fn names_pg(from: &EmbeddedMigrations) -> Result<Vec<String>, StoreError> {
    use diesel::migration::MigrationSource;
    let all = MigrationSource::<diesel::pg::Pg>::migrations(from)
        .map_err(|e| StoreError::Version(e.to_string()))?;
    Ok(all.iter().map(|m| m.name().version().to_string()).collect())
}

fn refuse_unknown(known: &[String], applied: &[String]) -> Result<(), StoreError> {
    match applied.iter().find(|a| !known.contains(a)) {
        Some(later) => {
            let text = format!("it has migration {later}, made by a later version; use that one");
            Err(StoreError::Version(text))
        }
        None => Ok(()),
    }
}
