//! Migrations of both databases, embedded in the binary.

use crate::conn::Conn;
use crate::error::StoreError;
use diesel_migrations::{EmbeddedMigrations, MigrationHarness, embed_migrations};

const SQLITE: EmbeddedMigrations = embed_migrations!("../../migrations/sqlite");
const POSTGRES: EmbeddedMigrations = embed_migrations!("../../migrations/postgres");

/// Brings the tables up to date.
///
/// # Errors
/// `Version` when the database has migrations this program does not know.
pub fn run(conn: &mut Conn) -> Result<(), StoreError> {
    let failed = |e: Box<dyn std::error::Error + Send + Sync>| StoreError::Version(e.to_string());
    match conn {
        Conn::Sqlite(c) => {
            let known = names(&SQLITE)?;
            let applied = c.applied_migrations().map_err(failed)?;
            refuse_unknown(&known, &applied.iter().map(ToString::to_string).collect::<Vec<_>>())?;
            c.run_pending_migrations(SQLITE).map_err(failed)?;
        }
        Conn::Pg(c) => {
            let known = names_pg(&POSTGRES)?;
            let applied = c.applied_migrations().map_err(failed)?;
            refuse_unknown(&known, &applied.iter().map(ToString::to_string).collect::<Vec<_>>())?;
            c.run_pending_migrations(POSTGRES).map_err(failed)?;
        }
    }
    Ok(())
}

/// Takes all migrations back.
///
/// # Errors
/// `Version` when a migration fails.
pub(crate) fn undo(conn: &mut Conn) -> Result<(), StoreError> {
    let failed = |e: Box<dyn std::error::Error + Send + Sync>| StoreError::Version(e.to_string());
    match conn {
        Conn::Sqlite(c) => c.revert_all_migrations(SQLITE).map(drop).map_err(failed),
        Conn::Pg(c) => c.revert_all_migrations(POSTGRES).map(drop).map_err(failed),
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
