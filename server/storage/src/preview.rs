//! Trying changes out without holding up anybody who writes.
//!
//! A preview has a connection of its own. The tables that it writes are copied to temporary ones of
//! the same names, which both databases look up first. So its statements are those of a real
//! change, the database itself is only read, and nothing is left when the connection ends.

use crate::columns::columns;
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use crate::settings::{self, Begin};
use crate::store::Store;
use crate::work::spawn;
use crate::writing::{Writing, trying};
use std::sync::Arc;
use std::time::Duration;
use traybook_domain::Kind;

impl Store {
    /// Runs `work` on a co-operative as if it were a change that writes records of these kinds and
    /// nothing else. Nothing is kept, and nobody waits for it.
    ///
    /// # Errors
    /// Those of `work`; `Unavailable` when no connection could be opened.
    pub async fn preview<T, E, F>(&self, coop: i64, kinds: Vec<Kind>, work: F) -> Result<T, E>
    where
        T: Send + 'static,
        E: From<StoreError> + Send + 'static,
        F: FnOnce(&mut Writing<'_>) -> Result<T, E> + Send + 'static,
    {
        self.may_write()?;
        let turns = self.previews();
        let turn = Arc::clone(&turns).acquire_owned().await;
        let turn = turn.map_err(|e| E::from(StoreError::Internal(e.to_string())))?;
        let store = self.clone();
        spawn(move || {
            let _turn = turn;
            let mut conn = store.open_one()?;
            begin(&mut conn)?;
            for kind in kinds {
                stand_in(&mut conn, coop, &kind.spec().table())?;
            }
            plan_as_ever(&mut conn)?;
            let outcome = trying(&mut conn, coop, work);
            // Closing the connection would do the same.
            conn.exec("ROLLBACK", &[])?;
            outcome
        })
        .await
    }
}

fn begin(conn: &mut Conn) -> Result<(), StoreError> {
    if conn.is_sqlite() {
        // A key can not point out of the temporary tables. The rules look references up themselves.
        // The tables may be large, and stay out of memory.
        conn.batch("PRAGMA foreign_keys = OFF; PRAGMA temp_store = FILE")?;
    }
    settings::begin(conn, Begin::Preview, Duration::ZERO)
}

/// Gives SQLite's planner the figures of the real tables for the temporary ones: without them it
/// reads a whole farm's rows for each new one.
fn plan_as_ever(conn: &mut Conn) -> Result<(), StoreError> {
    if !conn.is_sqlite() {
        return Ok(());
    }
    conn.batch(
        "ANALYZE temp; DELETE FROM temp.sqlite_stat1; \
         INSERT INTO temp.sqlite_stat1 SELECT tbl, idx, stat FROM main.sqlite_stat1 WHERE tbl IN \
         (SELECT name FROM temp.sqlite_schema WHERE type = 'table'); \
         ANALYZE temp.sqlite_schema",
    )
}

/// Puts a temporary table with the co-operative's rows before the real one.
fn stand_in(conn: &mut Conn, coop: i64, table: &str) -> Result<(), StoreError> {
    if !conn.is_sqlite() {
        let columns =
            columns!("preview::schema" { name: String = "current_schema()::text" } => name);
        let schema = conn.select_one(&columns, &format!("SELECT {columns}"), &[])?;
        let real = format!("\"{}\".{table}", schema.unwrap_or_default());
        conn.batch(&format!(
            "CREATE TEMP TABLE {table} (LIKE {real} INCLUDING ALL) ON COMMIT DROP"
        ))?;
        let copy = format!("INSERT INTO pg_temp.{table} SELECT * FROM {real} WHERE coop_id = ?");
        conn.exec(&copy, &[Bind::int(coop)])?;
        return conn.batch(&format!("ANALYZE pg_temp.{table}"));
    }
    let columns = columns!("preview::made_by" { sql: String } => sql);
    let of = |kind: &str| {
        format!(
            "SELECT {columns} FROM main.sqlite_schema \
             WHERE type = '{kind}' AND tbl_name = ? AND sql IS NOT NULL"
        )
    };
    let missing = || StoreError::Internal(format!("there is no table {table}"));
    let made = conn.select_one(&columns, &of("table"), &[Bind::text(table)])?;
    let (_, shape) = made.as_deref().and_then(|sql| sql.split_once('(')).ok_or_else(missing)?;
    conn.batch(&format!("CREATE TEMP TABLE {table} ({shape}"))?;
    let copy = format!("INSERT INTO temp.{table} SELECT * FROM main.{table} WHERE coop_id = ?");
    conn.exec(&copy, &[Bind::int(coop)])?;
    for index in conn.select(&columns, &of("index"), &[Bind::text(table)])? {
        let (head, on) = index.split_once(" ON ").ok_or_else(missing)?;
        let (create, name) = head.rsplit_once(' ').ok_or_else(missing)?;
        conn.batch(&format!("{create} temp.{name} ON {on}"))?;
    }
    Ok(())
}
