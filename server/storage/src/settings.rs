//! Settings of every connection, set on connect and read back: a server that runs with weaker
//! ones than it believes loses data.

use crate::columns::columns;
use crate::conn::Conn;
use crate::error::StoreError;
use diesel::Connection;
use diesel::connection::{CacheSize, SimpleConnection};
use diesel::pg::PgConnection;
use diesel::sqlite::SqliteConnection;
use std::io::Read as _;
use std::time::Duration;
use traybook_domain::limits::SILENCE_S;

/// Opens a SQLite file and sets WAL, full synchronisation and foreign keys. The WAL is taken over
/// every 4,000 pages (16 MB): a page that is written often in that time is copied once.
///
/// # Errors
/// `Unavailable` when the file can not be opened or written; `Config` when a setting did not hold.
pub fn open_sqlite(path: &str) -> Result<Conn, StoreError> {
    let unavailable = |e: &dyn std::fmt::Display| StoreError::Unavailable(format!("{path}: {e}"));
    let mut conn = SqliteConnection::establish(path).map_err(|e| unavailable(&e))?;
    conn.batch_execute(
        "PRAGMA busy_timeout = 5000; PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; \
         PRAGMA foreign_keys = ON; PRAGMA trusted_schema = OFF; PRAGMA cache_size = -16000; \
         PRAGMA temp_store = MEMORY; PRAGMA journal_size_limit = 67108864; \
         PRAGMA wal_autocheckpoint = 4000;",
    )
    .map_err(|e| unavailable(&e))?;
    let mut conn = Conn::from(conn);
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

/// Whether a database of this program is there. A file that is none of ours is never made into one.
///
/// # Errors
/// `Config` for a file that is empty or somebody else's, with what to do; `Damaged` for one that can
/// not be read.
pub(crate) fn is_ours(path: &str) -> Result<bool, StoreError> {
    let wrong = |what: &str| {
        let text = format!(
            "{path} {what}: restore the last backup with `traybook restore` into another place, or \
             move the file away if you mean to begin anew"
        );
        Err(StoreError::Config(text))
    };
    match std::fs::metadata(path) {
        Err(_) => return Ok(false),
        Ok(file) if file.is_file() && file.len() == 0 => {
            return wrong("is empty (0 bytes), which no database of this program ever is");
        }
        Ok(_) => {}
    }
    let failed = |e: &dyn std::fmt::Display| StoreError::Unavailable(format!("{path}: {e}"));
    let mut first = [0; 16];
    let read = std::fs::File::open(path).and_then(|mut file| file.read_exact(&mut first));
    if read.is_err() || first != *b"SQLite format 3\0" {
        return wrong("is no database of this program");
    }
    let mut conn = Conn::from(SqliteConnection::establish(path).map_err(|e| failed(&e))?);
    // Another process may just be closing it.
    conn.batch("PRAGMA busy_timeout = 5000")?;
    let columns = columns!("settings::is_ours" {
        tables: i64 = "COUNT(*)",
        ours: i64 = "COALESCE(SUM(name = '__diesel_schema_migrations'), 0)",
    } => (tables, ours));
    let sql = format!("SELECT {columns} FROM sqlite_schema WHERE type = 'table'");
    match conn.select_one(&columns, &sql, &[])? {
        Some((tables, 0)) if tables > 0 => wrong("is a database of another program"),
        _ => Ok(true),
    }
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

/// What a connection waits for at most, where the address does not say it itself: seconds to
/// connect; milliseconds for what was sent to be taken (RFC 5482); seconds until a silent
/// connection is asked whether it stands, between two questions, and how many.
const LIMITS: [(&str, &str); 6] = [
    ("connect_timeout", "4"),
    ("tcp_user_timeout", "8000"),
    ("keepalives", "1"),
    ("keepalives_idle", "4"),
    ("keepalives_interval", "2"),
    ("keepalives_count", "2"),
];

fn with_limits(url: &str) -> String {
    let mut url = url.to_owned();
    for (name, value) in LIMITS {
        if !url.contains(&format!("{name}=")) {
            let mark = if url.contains('?') { '&' } else { '?' };
            url.push_str(&format!("{mark}{name}={value}"));
        }
    }
    url
}

/// What holds in every transaction on PostgreSQL: a commit is on disk, and nothing waits for long.
const IN_TRANSACTION: [(&str, &str); 5] = [
    ("synchronous_commit", "on"),
    ("statement_timeout", "7s"),
    ("lock_timeout", "5s"),
    ("idle_in_transaction_session_timeout", "60s"),
    ("timezone", "UTC"),
];

/// What is asked of a transaction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Begin {
    /// Reads one consistent state.
    Read,
    /// Reads one consistent state, tries changes out and keeps none.
    Preview,
    /// Writes.
    Write,
}

/// Begins a transaction. On PostgreSQL the settings go with it, in the same message: between two
/// transactions a pooler may have given the connection to somebody else.
pub(crate) fn begin(conn: &mut Conn, how: Begin, patience: Duration) -> Result<(), StoreError> {
    if conn.is_sqlite() {
        return conn.batch(if how == Begin::Write { "BEGIN IMMEDIATE" } else { "BEGIN" });
    }
    let mut sql = String::from(match how {
        Begin::Read => "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY",
        Begin::Preview => "BEGIN ISOLATION LEVEL REPEATABLE READ",
        Begin::Write => "BEGIN",
    });
    for (name, value) in IN_TRANSACTION {
        sql.push_str(&format!("; SET LOCAL {name} = '{value}'"));
    }
    let seconds = patience.as_secs();
    if seconds > SILENCE_S {
        for name in ["statement_timeout", "idle_in_transaction_session_timeout"] {
            sql.push_str(&format!("; SET LOCAL {name} = '{seconds}s'"));
        }
    }
    conn.batch(&sql)
}

/// What an address says of a pooler that gives a connection to another server between two
/// transactions.
const POOLER: &str = "pooler=transaction";

/// An address without what is ours in it, and whether it names a pooler.
fn without_pooler(url: &str) -> (String, bool) {
    let Some((base, query)) = url.split_once('?') else { return (url.to_owned(), false) };
    let rest: Vec<&str> = query.split('&').filter(|part| *part != POOLER).collect();
    let is_pooled = rest.len() < query.split('&').count();
    let url = if rest.is_empty() { base.to_owned() } else { format!("{base}?{}", rest.join("&")) };
    (url, is_pooled)
}

/// Connects to PostgreSQL with time limits, and refuses a server that may lose commits. Behind a
/// pooler no statement is prepared for later.
///
/// # Errors
/// `Unavailable` when it can not be reached; `Config` when it runs with `fsync` or
/// `full_page_writes` off.
pub fn open_postgres(url: &str) -> Result<Conn, StoreError> {
    // The error text of libpq names host and user, never the password.
    let (url, is_pooled) = without_pooler(url);
    let mut conn = PgConnection::establish(&with_limits(&url))
        .map_err(|e| StoreError::Unavailable(e.to_string()))?;
    if is_pooled {
        conn.set_prepared_statement_cache_size(CacheSize::Disabled);
    }
    let sets = IN_TRANSACTION.map(|(name, value)| format!("SET {name} = '{value}'; "));
    conn.batch_execute(&format!("{}SET application_name = 'traybook'", sets.concat()))?;
    let mut conn = Conn::from(conn);
    begin(&mut conn, Begin::Read, Duration::ZERO)?;
    for setting in ["fsync", "full_page_writes"] {
        let columns = columns!("settings::current_setting" {
            found: String = format!("current_setting('{setting}')"),
        } => found);
        let found = conn.select_one(&columns, &format!("SELECT {columns}"), &[])?;
        if found.as_deref() != Some("on") {
            return Err(StoreError::Config(format!("PostgreSQL runs with {setting} = off")));
        }
    }
    conn.batch("COMMIT")?;
    Ok(conn)
}
