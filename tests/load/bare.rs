//! The least that writes the same rows: one prepared statement in one transaction, no server, no
//! rules, into the same table with its indexes and foreign keys.

use rusqlite::types::Value;
use rusqlite::{Connection, params_from_iter};
use std::path::{Path, PathBuf};
use std::time::Instant;

const COLUMNS: &str = "coop_id, id, version, created_at, created_by, changed_at, changed_by, \
    withdrawn_at, animal_group_id, farm_id, date, session, litres, animals_in_milk, \
    mean_days_in_milk, sold_litres, home_litres, calf_litres, price_per_litre, note";
const FEED: &str = "coop_id, seq, kind, id, farm_id, version, withdrawn";

/// Opens a database with the settings that the server uses.
pub fn open(path: &Path) -> Connection {
    let conn = Connection::open(path).expect("a database");
    conn.execute_batch(
        "PRAGMA busy_timeout = 5000; PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; \
         PRAGMA foreign_keys = ON; PRAGMA cache_size = -16000; PRAGMA temp_store = MEMORY; \
         PRAGMA journal_size_limit = 67108864; PRAGMA wal_autocheckpoint = 4000;",
    )
    .expect("settings");
    conn
}

/// Brings everything into the main file, so that it can be copied.
pub fn settle(path: &Path) {
    open(path).execute_batch("PRAGMA wal_checkpoint(TRUNCATE);").expect("a checkpoint");
}

/// Removes a database.
pub fn remove(path: &Path) {
    for end in ["", "-wal", "-shm"] {
        drop(std::fs::remove_file(PathBuf::from(format!("{}{end}", path.display()))));
    }
}

/// Number of the last change.
pub fn last_change(path: &Path) -> i64 {
    let sql = "SELECT max(change_seq) FROM coop_counters";
    open(path).query_row(sql, [], |row| row.get(0)).expect("a counter")
}

/// Rows as the server wrote them, in its order.
pub struct Rows {
    records: Vec<Vec<Value>>,
    feed: Vec<Vec<Value>>,
}

impl Rows {
    /// The milk records made after a change.
    pub fn written_after(path: &Path, seq: i64) -> Self {
        let conn = open(path);
        let read = |sql: &str| {
            let mut statement = conn.prepare(sql).expect("a query");
            let width = statement.column_count();
            let rows = statement
                .query_map([seq], |row| (0..width).map(|i| row.get(i)).collect())
                .expect("rows");
            rows.collect::<Result<Vec<Vec<Value>>, _>>().expect("rows")
        };
        let columns = |table: &str, names: &str| {
            names
                .split(", ")
                .map(|c| format!("{table}.{}", c.trim()))
                .collect::<Vec<_>>()
                .join(", ")
        };
        let from = "FROM changes f JOIN milk_records m ON m.coop_id = f.coop_id AND m.id = f.id \
                    WHERE f.seq > ? ORDER BY f.seq";
        Self {
            records: read(&format!("SELECT {} {from}", columns("m", COLUMNS))),
            feed: read(&format!("SELECT {} {from}", columns("f", FEED))),
        }
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.records.len()
    }

    /// Writes them into a database that lacks them; rows by the second.
    pub fn write(&self, path: &Path, with_feed: bool) -> f64 {
        let conn = open(path);
        let insert = |table: &str, columns: &str| {
            let marks = vec!["?"; columns.split(',').count()].join(", ");
            format!("INSERT INTO {table} ({columns}) VALUES ({marks})")
        };
        let started = Instant::now();
        conn.execute_batch("BEGIN IMMEDIATE").expect("a transaction");
        let mut record = conn.prepare(&insert("milk_records", COLUMNS)).expect("a statement");
        let mut line = conn.prepare(&insert("changes", FEED)).expect("a statement");
        for (values, feed) in self.records.iter().zip(&self.feed) {
            record.execute(params_from_iter(values)).expect("a new row");
            if with_feed {
                line.execute(params_from_iter(feed)).expect("a new line");
            }
        }
        conn.execute_batch("COMMIT").expect("written");
        self.len() as f64 / started.elapsed().as_secs_f64()
    }
}
