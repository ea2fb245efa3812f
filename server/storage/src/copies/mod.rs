//! Whole copies of a database: into a file, and from one database into the other.
//!
//! A copy is always a SQLite file, whichever database it was made of, so it can be opened and
//! checked on any machine. All tables are copied as the database itself lists them, in pages by
//! their keys, with a digest on both sides.

pub mod damage;
pub mod epoch;
pub mod spread;

use crate::columns::columns;
use crate::conn::{Bind, Conn, LIMIT};
use crate::error::StoreError;
use crate::settings::Begin;
use crate::store::Store;
use crate::work::spawn;
use crate::{migrate, settings};
use sha2::{Digest as _, Sha256};
use std::path::{Path, PathBuf};
use std::time::Duration;
use traybook_domain::limits::SILENCE_PATIENT_S;
use traybook_domain::{ColumnType, Value};

/// What one table held: its rows, and SHA-256 of all its values in the order of its key.
#[derive(Debug, PartialEq, Eq)]
struct Tally {
    rows: u64,
    digest: [u8; 32],
}

/// Rows that are read or written by one statement.
const ROWS_AT_ONCE: usize = 500;
/// How long a copy may take.
const PATIENCE: Duration = Duration::from_secs(SILENCE_PATIENT_S);
/// The same of tables with files in them, which take much memory.
const FILES_AT_ONCE: usize = 8;
/// Values bound by one statement: SQLite takes 32,766, PostgreSQL 65,535.
const BINDS_MAX: usize = 30_000;

impl Store {
    /// Writes the database as it is at one moment into a SQLite file that is not there yet, while
    /// others go on writing. Where an instant is given, the copy says that it is of that one.
    ///
    /// # Errors
    /// Those of the database; `Unavailable` when the file can not be written.
    pub async fn copy_to(&self, file: PathBuf, of: Option<i64>) -> Result<(), StoreError> {
        let store = self.clone();
        spawn(move || {
            let path = name(&file)?;
            let mut source = store.open_one()?;
            if source.is_sqlite() {
                source.exec("VACUUM INTO ?", &[Bind::text(path)])?;
            } else {
                let mut copy = settings::open_sqlite(path)?;
                migrate::run(&mut copy)?;
                settings::begin(&mut source, Begin::Read, PATIENCE)?;
                copy_tables(&mut source, &mut copy)?;
                source.exec("COMMIT", &[])?;
            }
            let mut copy = settings::open_sqlite(path)?;
            if let Some(instant) = of {
                epoch::mark(&mut copy, instant)?;
            }
            settings::one_file(&mut copy)
        })
        .await
    }
}

fn name(file: &Path) -> Result<&str, StoreError> {
    let text = || StoreError::Config(format!("the path {} is no plain text", file.display()));
    file.to_str().ok_or_else(text)
}

/// Puts a checked copy into a place that must be empty: a SQLite file is moved there, an empty
/// PostgreSQL database is filled.
///
/// # Errors
/// `Config` when the place is not empty; those of the database, after which it is empty again.
pub fn place(copy: &Path, url: &str) -> Result<(), StoreError> {
    refuse_full(url)?;
    let mut source = settings::open_sqlite(name(copy)?)?;
    if let Some(target) = url.strip_prefix("sqlite:") {
        settings::one_file(&mut source)?;
        drop(source);
        return move_file(copy, Path::new(target));
    }
    let mut target = settings::open_postgres(url)?;
    migrate::run(&mut target)?;
    settings::begin(&mut source, Begin::Read, PATIENCE)?;
    let filled = copy_tables(&mut source, &mut target);
    if filled.is_err() {
        // What was begun is taken back, so that the next try finds the place empty.
        drop(target.exec("ROLLBACK", &[]));
        drop(migrate::undo(&mut target));
    }
    filled
}

fn move_file(from: &Path, to: &Path) -> Result<(), StoreError> {
    let failed = |e: std::io::Error| StoreError::Unavailable(format!("{}: {e}", to.display()));
    std::fs::File::open(from).and_then(|file| file.sync_all()).map_err(failed)?;
    std::fs::rename(from, to).map_err(failed)?;
    let folder = to.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    std::fs::File::open(folder).and_then(|folder| folder.sync_all()).map_err(failed)
}

/// Refuses a place where something is.
///
/// # Errors
/// `Config`, with what to do.
pub fn refuse_full(url: &str) -> Result<(), StoreError> {
    if let Some(path) = url.strip_prefix("sqlite:") {
        for end in ["", "-wal", "-shm", "-journal"] {
            let file = PathBuf::from(format!("{path}{end}"));
            if file.exists() {
                let text = format!(
                    "{} is there already, and nothing is ever written over: move it away, or name \
                     another place with --database-url or --data",
                    file.display()
                );
                return Err(StoreError::Config(text));
            }
        }
        return Ok(());
    }
    let mut conn = settings::open_postgres(url)?;
    let columns = columns!("copies::refuse_full" { tables: i64 = "COUNT(*)" } => tables);
    let sql = format!(
        "SELECT {columns} FROM pg_class WHERE relkind IN ('r', 'p') AND relnamespace = \
         CAST(current_schema() AS regnamespace) AND relname NOT LIKE '\\_\\_%'"
    );
    match conn.select_one(&columns, &sql, &[])?.unwrap_or(0) {
        0 => Ok(()),
        n => Err(StoreError::Config(format!(
            "the PostgreSQL database has {n} tables already, and nothing is ever written over: \
             make a new one (createdb) and name it with --database-url"
        ))),
    }
}

/// How many rows each table has.
pub fn counts(conn: &mut Conn) -> Result<Vec<(String, i64)>, StoreError> {
    let all = tables(conn)?;
    let count = |table: String| {
        let columns = columns!("copies::counts" { rows: i64 = "COUNT(*)" } => rows);
        let rows = conn.select_one(&columns, &format!("SELECT {columns} FROM {table}"), &[])?;
        Ok((table, rows.unwrap_or(0)))
    };
    all.into_iter().map(count).collect()
}

/// Copies all tables into a database that has been made with empty ones, in one transaction.
fn copy_tables(from: &mut Conn, to: &mut Conn) -> Result<(), StoreError> {
    let (mut here, mut there) = (tables(from)?, tables(to)?);
    here.sort();
    there.sort();
    if here != there {
        let text = "the copy was made by another version of this program: open it with that one";
        return Err(StoreError::Version(text.to_owned()));
    }
    let keys = without_keys(to)?;
    for table in here {
        let shape = if from.is_sqlite() { Shape::of(to, table)? } else { Shape::of(from, table)? };
        // A migration may have put a row there.
        to.exec(&format!("DELETE FROM {}", shape.table), &[])?;
        let read = shape.each_page(from, |rows| shape.insert(to, rows))?;
        let written = shape.each_page(to, |_| Ok(()))?;
        if read != written {
            let text = format!("{} differs after the copy: {read:?}, {written:?}", shape.table);
            return Err(StoreError::Internal(text));
        }
    }
    with_keys(to, &keys)
}

/// Begins to write without references between tables, which come in any order; what to put back.
fn without_keys(conn: &mut Conn) -> Result<Vec<(String, String, String)>, StoreError> {
    if conn.is_sqlite() {
        conn.batch("PRAGMA foreign_keys = OFF")?;
        conn.exec("BEGIN IMMEDIATE", &[])?;
        return Ok(Vec::new());
    }
    conn.batch("SET statement_timeout = 0")?;
    conn.exec("BEGIN", &[])?;
    let columns = columns!("copies::keys" {
        table: String = "CAST(CAST(conrelid AS regclass) AS TEXT)",
        name: String = "CAST(conname AS TEXT)",
        made_by: String = "pg_get_constraintdef(oid)",
    } => (table, name, made_by));
    let sql = format!(
        "SELECT {columns} FROM pg_constraint WHERE contype = 'f' AND \
         connamespace = CAST(current_schema() AS regnamespace) ORDER BY 1, 2"
    );
    let keys = conn.select(&columns, &sql, &[])?;
    for (table, name, _) in &keys {
        conn.batch(&format!("ALTER TABLE {table} DROP CONSTRAINT \"{name}\""))?;
    }
    Ok(keys)
}

fn with_keys(conn: &mut Conn, keys: &[(String, String, String)]) -> Result<(), StoreError> {
    if conn.is_sqlite() {
        let columns = columns!("copies::loose" { table: String = "\"table\"" } => table);
        let sql = format!("SELECT {columns} FROM pragma_foreign_key_check");
        if let Some(table) = conn.select_one(&columns, &sql, &[])? {
            return Err(StoreError::Reference(format!("in {table}")));
        }
        conn.exec("COMMIT", &[])?;
        // What the planner must know came with the migrations (see `schema::statistics`).
        return conn.batch("PRAGMA foreign_keys = ON");
    }
    for (table, name, made_by) in keys {
        conn.batch(&format!("ALTER TABLE {table} ADD CONSTRAINT \"{name}\" {made_by}"))?;
    }
    conn.exec("COMMIT", &[])?;
    // A database may hold other programs' tables as well: only these.
    for table in tables(conn)? {
        conn.batch(&format!("ANALYZE {table}"))?;
    }
    Ok(())
}

/// The tables, those of the migrations' own book left out.
fn tables(conn: &mut Conn) -> Result<Vec<String>, StoreError> {
    let columns = columns!("copies::tables" { name: String = "CAST(name AS TEXT)" } => name);
    let sql = if conn.is_sqlite() {
        format!(
            "SELECT {columns} FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE \
             'sqlite\\_%' ESCAPE '\\' AND name NOT LIKE '\\_\\_%' ESCAPE '\\' ORDER BY name"
        )
    } else {
        format!(
            "SELECT {columns} FROM (SELECT relname AS name FROM pg_class \
             WHERE relkind IN ('r', 'p') AND relnamespace = CAST(current_schema() AS regnamespace) \
             AND relname NOT LIKE '\\_\\_%') t ORDER BY 1"
        )
    };
    conn.select(&columns, &sql, &[])
}

/// A table as PostgreSQL describes it.
struct Shape {
    table: String,
    columns: Vec<(String, ColumnType)>,
    /// Places of the key's columns.
    key: Vec<usize>,
}

impl Shape {
    fn of(postgres: &mut Conn, table: String) -> Result<Self, StoreError> {
        let read = columns!("copies::columns" {
            name: String = "CAST(a.attname AS TEXT)",
            ty: String = "CAST(t.typname AS TEXT)",
            key: Option<i64> = "CAST(array_position(CAST(k.indkey AS int2[]), a.attnum) AS BIGINT)",
        } => (name, ty, key));
        let sql = format!(
            "SELECT {read} FROM pg_attribute a JOIN pg_type t ON t.oid = a.atttypid \
             LEFT JOIN pg_index k ON k.indrelid = a.attrelid AND k.indisprimary \
             WHERE a.attrelid = CAST(CAST(? AS TEXT) AS regclass) AND a.attnum > 0 \
             AND NOT a.attisdropped ORDER BY a.attnum"
        );
        let found = postgres.select(&read, &sql, &[Bind::text(&*table)])?;
        let mut key: Vec<(i64, usize)> =
            found.iter().enumerate().flat_map(|(at, (.., key))| key.map(|key| (key, at))).collect();
        key.sort_unstable();
        if key.is_empty() {
            return Err(StoreError::Internal(format!("{table} has no key")));
        }
        let typed = |(name, ty, _): (String, String, Option<i64>)| {
            Ok((name, column_type(&ty).ok_or(StoreError::Internal(ty))?))
        };
        let columns = found.into_iter().map(typed).collect::<Result<_, StoreError>>()?;
        Ok(Self { table, columns, key: key.into_iter().map(|(_, at)| at).collect() })
    }

    fn names(&self) -> String {
        let names: Vec<String> = self.columns.iter().map(|(n, _)| format!("\"{n}\"")).collect();
        names.join(", ")
    }

    fn key_names(&self) -> Vec<String> {
        let name = |at: &usize| self.columns.get(*at).map(|(n, _)| format!("\"{n}\""));
        self.key.iter().flat_map(name).collect()
    }

    /// Reads all rows in the order of the key, page by page, and says what they were.
    fn each_page(
        &self,
        conn: &mut Conn,
        mut page: impl FnMut(&[Vec<Value>]) -> Result<(), StoreError>,
    ) -> Result<Tally, StoreError> {
        let has_files = self.columns.iter().any(|(_, ty)| *ty == ColumnType::Bytes);
        let limit = if has_files { FILES_AT_ONCE } else { ROWS_AT_ONCE };
        let types: Vec<ColumnType> = self.columns.iter().map(|(_, ty)| *ty).collect();
        let (names, key) = (self.names(), self.key_names());
        let marks = vec!["?"; key.len()].join(", ");
        let key = key.join(", ");
        let first = format!("SELECT {names} FROM {} ORDER BY {key} {LIMIT}", self.table);
        let next = format!(
            "SELECT {names} FROM {} WHERE ({key}) > ({marks}) ORDER BY {key} {LIMIT}",
            self.table
        );
        let count = Bind::int(i64::try_from(limit).unwrap_or(i64::MAX));
        let mut tally = Tally { rows: 0, digest: [0; 32] };
        let mut hash = Sha256::new();
        let mut last: Option<Vec<Bind>> = None;
        loop {
            let rows = match &last {
                None => conn.rows(&first, std::slice::from_ref(&count), &types)?,
                Some(key) => {
                    let binds: Vec<Bind> = key.iter().chain([&count]).cloned().collect();
                    conn.rows(&next, &binds, &types)?
                }
            };
            rows.iter().flatten().for_each(|value| feed(&mut hash, value));
            tally.rows += u64::try_from(rows.len()).unwrap_or(0);
            page(&rows)?;
            if rows.len() < limit {
                tally.digest = hash.finalize().into();
                return Ok(tally);
            }
            last = rows.last().map(|row| self.key_of(row));
        }
    }

    fn key_of(&self, row: &[Value]) -> Vec<Bind> {
        let bind = |at: &usize| {
            let (_, ty) = self.columns.get(*at)?;
            Some(Bind::new(*ty, row.get(*at)?.clone()))
        };
        self.key.iter().flat_map(bind).collect()
    }

    fn insert(&self, conn: &mut Conn, rows: &[Vec<Value>]) -> Result<(), StoreError> {
        let row = format!("({})", vec!["?"; self.columns.len()].join(", "));
        for part in rows.chunks((BINDS_MAX / self.columns.len()).max(1)) {
            let values = vec![row.as_str(); part.len()].join(", ");
            let sql = format!("INSERT INTO {} ({}) VALUES {values}", self.table, self.names());
            let bind = |row: &Vec<Value>| {
                let typed = self.columns.iter().zip(row.clone());
                typed.map(|((_, ty), value)| Bind::new(*ty, value)).collect::<Vec<_>>()
            };
            let binds: Vec<Bind> = part.iter().flat_map(bind).collect();
            conn.exec(&sql, &binds)?;
        }
        Ok(())
    }
}

fn column_type(name: &str) -> Option<ColumnType> {
    Some(match name {
        "uuid" => ColumnType::Id,
        "int8" => ColumnType::Int,
        "bool" => ColumnType::Bool,
        "text" => ColumnType::Text,
        "date" => ColumnType::Date,
        "timestamptz" => ColumnType::Instant,
        "bytea" => ColumnType::Bytes,
        _ => return None,
    })
}

/// One value into a digest, so that no two rows give the same bytes.
fn feed(hash: &mut Sha256, value: &Value) {
    let mut part = |kind: u8, bytes: &[u8]| {
        hash.update([kind]);
        hash.update(bytes.len().to_le_bytes());
        hash.update(bytes);
    };
    match value {
        Value::Null => part(0, &[]),
        Value::Int(v) => part(1, &v.to_le_bytes()),
        Value::Bool(v) => part(2, &[u8::from(*v)]),
        Value::Text(v) => part(3, v.as_bytes()),
        Value::Id(v) => part(4, v.as_bytes()),
        Value::Bytes(v) => part(5, v),
        Value::Date(v) => part(6, v.to_string().as_bytes()),
        Value::Instant(v) => part(7, &v.to_le_bytes()),
    }
}
