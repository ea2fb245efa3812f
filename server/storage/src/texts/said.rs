//! What was said last with a number.

use super::{instant, text};
use crate::columns::{Columns, Instant, columns};
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use chrono::NaiveDate;
use traybook_domain::{ColumnType, Value};

/// What was said last with a number.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Turn {
    pub number: String,
    /// The open question, as JSON, and since when.
    pub pending: Option<(String, i64)>,
    /// The list sent last, as JSON, and on which day.
    pub list: Option<(String, NaiveDate)>,
    /// What the last recorded text made, as JSON, and when.
    pub last: Option<(String, i64)>,
    /// Texts of the last minutes that made records, as JSON.
    pub recent: Option<String>,
    /// The day of the counts.
    pub day: NaiveDate,
    pub records: i64,
    pub answers: i64,
    pub undos: i64,
}

fn turn_columns() -> Columns<Turn> {
    columns!("texts::turn" {
        number: String,
        pending: Option<String>,
        pending_at: Option<Instant>,
        list: Option<String>,
        list_on: Option<NaiveDate>,
        last: Option<String>,
        last_at: Option<Instant>,
        recent: Option<String>,
        day: NaiveDate,
        records: i64,
        answers: i64,
        undos: i64,
    } => Turn {
        number,
        pending: pending.zip(pending_at),
        list: list.zip(list_on),
        last: last.zip(last_at),
        recent,
        day,
        records,
        answers,
        undos,
    })
}

/// What was said last with a number.
pub fn turn(conn: &mut Conn, coop: i64, number: &str) -> Result<Option<Turn>, StoreError> {
    let columns = turn_columns();
    let sql = format!("SELECT {columns} FROM text_turns WHERE coop_id = ? AND number = ?");
    conn.select_one(&columns, &sql, &[Bind::int(coop), Bind::text(number)])
}

/// What was said last with all numbers on a day or later.
pub fn turns(conn: &mut Conn, coop: i64, day: NaiveDate) -> Result<Vec<Turn>, StoreError> {
    let columns = turn_columns();
    let sql =
        format!("SELECT {columns} FROM text_turns WHERE coop_id = ? AND day >= ? ORDER BY number");
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::date(day)])
}

/// Keeps what was said last.
pub fn put_turn(conn: &mut Conn, coop: i64, t: &Turn) -> Result<(), StoreError> {
    let list_on = t.list.as_ref().map(|l| Value::Date(l.1));
    let sql = "INSERT INTO text_turns (coop_id, number, pending, pending_at, list, list_on, last, \
               last_at, recent, day, records, answers, undos) \
               VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) \
               ON CONFLICT (coop_id, number) DO UPDATE SET pending = excluded.pending, \
               pending_at = excluded.pending_at, list = excluded.list, list_on = excluded.list_on, \
               last = excluded.last, last_at = excluded.last_at, recent = excluded.recent, \
               day = excluded.day, records = excluded.records, answers = excluded.answers, \
               undos = excluded.undos";
    let binds = [
        Bind::int(coop),
        Bind::text(&*t.number),
        text(t.pending.as_ref().map(|p| p.0.as_str())),
        instant(t.pending.as_ref().map(|p| p.1)),
        text(t.list.as_ref().map(|l| l.0.as_str())),
        Bind::opt(ColumnType::Date, list_on),
        text(t.last.as_ref().map(|l| l.0.as_str())),
        instant(t.last.as_ref().map(|l| l.1)),
        text(t.recent.as_deref()),
        Bind::date(t.day),
        Bind::int(t.records),
        Bind::int(t.answers),
        Bind::int(t.undos),
    ];
    conn.exec(sql, &binds).map(drop)
}
