//! Whether the database's pages are whole.

use crate::columns::columns;
use crate::conn::Conn;
use crate::error::StoreError;
use crate::store::Store;
use crate::work::spawn;

/// How closely to look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Look {
    /// Every page of every table.
    Quick,
    /// Also whether every index holds what its table holds, and every reference points somewhere.
    Whole,
}

impl Store {
    /// What is wrong with the database's pages, looked at on a connection of its own.
    pub async fn look(&self, how: Look) -> Result<Option<String>, StoreError> {
        let store = self.clone();
        spawn(move || look(&mut store.open_one()?, how)).await
    }

    /// Bytes of the embedded database's file; 0 on PostgreSQL.
    #[must_use]
    pub fn file_bytes(&self) -> u64 {
        let file = self.url().strip_prefix("sqlite:").map(std::fs::metadata);
        file.and_then(Result::ok).map_or(0, |file| file.len())
    }
}

/// What is wrong with the pages of the embedded database; none where nothing is. PostgreSQL looks
/// after its own pages (data checksums, `pg_amcheck`), so there is nothing to find here.
///
/// # Errors
/// Those of the database; a damaged one may not be readable at all.
pub fn look(conn: &mut Conn, how: Look) -> Result<Option<String>, StoreError> {
    if !conn.is_sqlite() {
        return Ok(None);
    }
    let pragma = match how {
        Look::Quick => "quick_check",
        Look::Whole => "integrity_check",
    };
    let columns = columns!("damage::look" { found: String = pragma } => found);
    let sql = format!("SELECT {columns} FROM pragma_{pragma} LIMIT 1");
    let found = conn.select_one(&columns, &sql, &[])?.unwrap_or_default();
    if found != "ok" {
        return Ok(Some(found));
    }
    if how == Look::Quick {
        return Ok(None);
    }
    let columns = columns!("damage::loose" { table: String = "\"table\"" } => table);
    let sql = format!("SELECT {columns} FROM pragma_foreign_key_check LIMIT 1");
    let loose = conn.select_one(&columns, &sql, &[])?;
    Ok(loose.map(|table| format!("a row of {table} refers to one that is not there")))
}
