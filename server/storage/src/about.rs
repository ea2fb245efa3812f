//! What the database is: its version, its size, how far its tables are, and the room on its disk.

use crate::columns::columns;
use crate::conn::Conn;
use crate::error::StoreError;
use crate::store::Store;
use std::path::{Path, PathBuf};

/// What the database is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct About {
    /// Version of SQLite or PostgreSQL.
    pub version: String,
    /// Name of the last change of its tables.
    pub tables: String,
    pub bytes: i64,
}

/// What the database is.
pub fn about(conn: &mut Conn) -> Result<About, StoreError> {
    let (version, bytes) = match conn.is_sqlite() {
        true => (
            "sqlite_version()",
            "(SELECT page_count FROM pragma_page_count) * (SELECT page_size FROM pragma_page_size)",
        ),
        false => ("current_setting('server_version')", "pg_database_size(current_database())"),
    };
    let columns = columns!("about::about" {
        version: String = version,
        tables: String = "(SELECT MAX(version) FROM __diesel_schema_migrations)",
        bytes: i64 = bytes,
    } => About { version, tables, bytes });
    let found = conn.select_one(&columns, &format!("SELECT {columns}"), &[])?;
    found.ok_or_else(|| StoreError::Internal("a database without a version".to_owned()))
}

/// Room of a disk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Room {
    pub bytes: i64,
    /// What this process may still use.
    pub free_bytes: i64,
}

/// The room of the disk that holds a folder; none where the system does not say.
#[must_use]
pub fn room(folder: &Path) -> Option<Room> {
    let found = rustix::fs::statvfs(folder).ok()?;
    let bytes = |blocks: u64| i64::try_from(blocks.checked_mul(found.f_frsize)?).ok();
    Some(Room { bytes: bytes(found.f_blocks)?, free_bytes: bytes(found.f_bavail)? })
}

impl Store {
    /// The folder of the embedded database; none on PostgreSQL, whose disk is elsewhere.
    #[must_use]
    pub fn folder(&self) -> Option<PathBuf> {
        let file = Path::new(self.url().strip_prefix("sqlite:")?);
        let folder = file.parent().filter(|folder| !folder.as_os_str().is_empty());
        Some(folder.unwrap_or(Path::new(".")).to_owned())
    }
}
