//! Settings of every connection, set on connect and read back: a server that runs with weaker
//! ones than it believes loses data.

use crate::columns::columns;
use crate::conn::Conn;
use crate::error::StoreError;
use diesel::connection::SimpleConnection;
use diesel::pg::PgConnection;
use diesel::sqlite::SqliteConnection;
use diesel::{Connection, RunQueryDsl, sql_query};
use std::time::Duration;

/// Opens a SQLite file and sets WAL, full synchronisation and foreign keys.
///
/// # Errors
/// `Unavailable` when the file can not be opened or written; `Config` when a setting did not hold.
pub fn open_sqlite(path: &str) -> Result<Conn, StoreError> {
    let unavailable = |e: &dyn std::fmt::Display| StoreError::Unavailable(format!("{path}: {e}"));
    let mut conn = SqliteConnection::establish(path).map_err(|e| unavailable(&e))?;
    conn.batch_execute(
        "PRAGMA busy_timeout = 5000; PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; \
         PRAGMA foreign_keys = ON; PRAGMA trusted_schema = OFF; PRAGMA cache_size = -16000; \
         PRAGMA temp_store = MEMORY; PRAGMA journal_size_limit = 67108864;",
    )
    .map_err(|e| unavailable(&e))?;
    let mut conn = Conn::Sqlite(conn);
    let wanted = [("synchronous", "2"), ("foreign_keys", "1"), ("journal_mode", "wal")];
    for (pragma, value) in wanted {
        let columns = columns!("settings::pragma" {
            found: String = format!("CAST({pragma} AS TEXT)"),
        } => found);
        let sql = format!("SELECT {columns} FROM pragma_{pragma}");
        let found = conn.select_one(&columns, &sql, &[])?;
        if found.as_deref() != Some(value) {
            let text =
                format!("PRAGMA {pragma} is {found:?}, not {value}; is {path} on local disk?");
            return Err(StoreError::Config(text));
        }
    }
    Ok(conn)
}

/// Tries to be the only one who has a file open, 20 ms apart.
const ONE_FILE_TRIES: u32 = 250;

/// Puts a SQLite file's log into the file, so that it is one file and can be moved.
///
/// # Errors
/// `Unavailable` when another connection has it open.
pub(crate) fn one_file(conn: &mut Conn) -> Result<(), StoreError> {
    // Connections that were just given up may still be closing, and SQLite does not wait for them.
    for _ in 0..ONE_FILE_TRIES {
        match conn.batch("PRAGMA journal_mode = DELETE") {
            Err(StoreError::Busy) => std::thread::sleep(Duration::from_millis(20)),
            Err(other) => return Err(other),
            Ok(()) => break,
        }
    }
    let columns = columns!("settings::journal" { found: String = "journal_mode" } => found);
    let found =
        conn.select_one(&columns, &format!("SELECT {columns} FROM pragma_journal_mode"), &[])?;
    match found.as_deref() {
        Some("delete") => Ok(()),
        _ => Err(StoreError::Unavailable("another program has the file open".to_owned())),
    }
}

/// Connects to PostgreSQL with time limits, and refuses a server that may lose commits.
///
/// # Errors
/// `Unavailable` when it can not be reached; `Config` when it runs with `fsync` or
/// `full_page_writes` off.
pub fn open_postgres(url: &str) -> Result<Conn, StoreError> {
    // The error text of libpq names host and user, never the password.
    let mut conn =
        PgConnection::establish(url).map_err(|e| StoreError::Unavailable(e.to_string()))?;
    sql_query("SET synchronous_commit = on").execute(&mut conn)?;
    conn.batch_execute(
        "SET statement_timeout = '60s'; SET lock_timeout = '10s'; \
         SET idle_in_transaction_session_timeout = '60s'; SET TIME ZONE 'UTC'; \
         SET application_name = 'traybook';",
    )?;
    let mut conn = Conn::Pg(conn);
    for setting in ["fsync", "full_page_writes"] {
        let columns = columns!("settings::current_setting" {
            found: String = format!("current_setting('{setting}')"),
        } => found);
        let found = conn.select_one(&columns, &format!("SELECT {columns}"), &[])?;
        if found.as_deref() != Some("on") {
            return Err(StoreError::Config(format!("PostgreSQL runs with {setting} = off")));
        }
    }
    Ok(conn)
}
