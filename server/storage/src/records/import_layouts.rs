//! How a co-operative's files are read, by the hash of their headers.

use crate::columns::columns;
use crate::conn::{Bind, Conn, LIMIT};
use crate::error::StoreError;

/// Layouts that a co-operative keeps; the oldest goes. It has some tens of kinds of files.
const KEPT_MAX: i64 = 500;

/// What is kept of a header, JSON.
pub fn find(conn: &mut Conn, coop: i64, headers: &str) -> Result<Option<String>, StoreError> {
    let columns = columns!("import_layouts::find" { body: String } => body);
    let sql = format!("SELECT {columns} FROM import_layouts WHERE coop_id = ? AND headers = ?");
    conn.select_one(&columns, &sql, &[Bind::int(coop), Bind::text(headers)])
}

/// Keeps how files of a header are read.
pub fn keep(
    conn: &mut Conn,
    coop: i64,
    (headers, body): (&str, &str),
    now: i64,
) -> Result<(), StoreError> {
    conn.exec(
        "INSERT INTO import_layouts (coop_id, headers, body, kept_at) VALUES (?, ?, ?, ?) \
         ON CONFLICT (coop_id, headers) DO UPDATE SET body = excluded.body, \
         kept_at = excluded.kept_at",
        &[Bind::int(coop), Bind::text(headers), Bind::text(body), Bind::instant(now)],
    )?;
    let newest = format!(
        "SELECT headers FROM import_layouts WHERE coop_id = ? ORDER BY kept_at DESC, headers {LIMIT}"
    );
    let sql = format!("DELETE FROM import_layouts WHERE coop_id = ? AND headers NOT IN ({newest})");
    conn.exec(&sql, &[Bind::int(coop), Bind::int(coop), Bind::int(KEPT_MAX)]).map(drop)
}
