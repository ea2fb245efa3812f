//! Whose a telephone number is, and what it may hear.

use super::{instant, text};
use crate::columns::{Columns, Instant, columns};
use crate::conn::{Bind, Conn, LIMIT};
use crate::error::StoreError;
use chrono::NaiveDate;
use traybook_domain::{ColumnType, Value};
use uuid::Uuid;

/// Whose a telephone number is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Number {
    pub id: Uuid,
    /// As E.164 writes it.
    pub number: String,
    pub member: Uuid,
    /// The one farm that it is for; none for all of the member's.
    pub farm: Option<Uuid>,
    /// `pending`, `active`, `stopped` or `ended`.
    pub state: String,
    pub language: String,
    /// What it may hear: answers, reminders, cautions, money.
    pub purposes: [bool; 4],
    pub consent_on: NaiveDate,
    /// Hash of the code that must come back, until when, and how often another one came.
    pub code: Option<(String, i64)>,
    pub code_tries: i64,
    pub verified_at: Option<i64>,
    /// When it was chosen among several co-operatives.
    pub chosen_at: Option<i64>,
    /// When a text came from it last.
    pub heard_at: Option<i64>,
    pub made_by: Uuid,
    pub made_at: i64,
    pub ended_at: Option<i64>,
}

fn number_columns() -> Columns<Number> {
    columns!("texts::number" {
        id: Uuid,
        number: String,
        member: Uuid = "member_id",
        farm: Option<Uuid> = "farm_id",
        state: String,
        language: String,
        answers: bool,
        reminders: bool,
        cautions: bool,
        money: bool,
        consent_on: NaiveDate,
        code_hash: Option<String>,
        code_until: Option<Instant>,
        code_tries: i64,
        verified_at: Option<Instant>,
        chosen_at: Option<Instant>,
        heard_at: Option<Instant>,
        made_by: Uuid,
        made_at: Instant,
        ended_at: Option<Instant>,
    } => Number {
        id,
        number,
        member,
        farm,
        state,
        language,
        purposes: [answers, reminders, cautions, money],
        consent_on,
        code: code_hash.zip(code_until),
        code_tries,
        verified_at,
        chosen_at,
        heard_at,
        made_by,
        made_at,
        ended_at,
    })
}

/// The columns of a number that change.
fn changing(n: &Number) -> [Bind; 14] {
    let [answers, reminders, cautions, money] = n.purposes.map(Bind::bool);
    [
        Bind::text(&*n.state),
        Bind::text(&*n.language),
        answers,
        reminders,
        cautions,
        money,
        Bind::date(n.consent_on),
        text(n.code.as_ref().map(|c| c.0.as_str())),
        instant(n.code.as_ref().map(|c| c.1)),
        Bind::int(n.code_tries),
        instant(n.verified_at),
        instant(n.chosen_at),
        instant(n.heard_at),
        instant(n.ended_at),
    ]
}

/// Keeps a new number.
pub fn add_number(conn: &mut Conn, coop: i64, n: &Number) -> Result<(), StoreError> {
    let fixed = [
        Bind::int(coop),
        Bind::id(n.id),
        Bind::text(&*n.number),
        Bind::id(n.member),
        Bind::opt(ColumnType::Id, n.farm.map(Value::Id)),
        Bind::id(n.made_by),
        Bind::instant(n.made_at),
    ];
    let sql = "INSERT INTO text_numbers (coop_id, id, number, member_id, farm_id, made_by, made_at, \
               state, language, answers, reminders, cautions, money, consent_on, code_hash, \
               code_until, code_tries, verified_at, chosen_at, heard_at, ended_at) VALUES \
               (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)";
    conn.exec(sql, &[fixed.as_slice(), changing(n).as_slice()].concat()).map(drop)
}

/// Writes what may change of a number.
pub fn put_number(conn: &mut Conn, coop: i64, n: &Number) -> Result<(), StoreError> {
    let sql = "UPDATE text_numbers SET state = ?, language = ?, answers = ?, reminders = ?, \
               cautions = ?, money = ?, consent_on = ?, code_hash = ?, code_until = ?, \
               code_tries = ?, verified_at = ?, chosen_at = ?, heard_at = ?, ended_at = ? \
               WHERE coop_id = ? AND id = ?";
    let key = [Bind::int(coop), Bind::id(n.id)];
    conn.exec(sql, &[changing(n).as_slice(), key.as_slice()].concat()).map(drop)
}

/// The links of a number that have not ended, the oldest first.
pub fn links(conn: &mut Conn, coop: i64, number: &str) -> Result<Vec<Number>, StoreError> {
    let columns = number_columns();
    let sql = format!(
        "SELECT {columns} FROM text_numbers WHERE coop_id = ? AND number = ? AND ended_at IS NULL \
         ORDER BY made_at, id"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::text(number)])
}

pub fn link(conn: &mut Conn, coop: i64, id: Uuid) -> Result<Option<Number>, StoreError> {
    let columns = number_columns();
    let sql = format!("SELECT {columns} FROM text_numbers WHERE coop_id = ? AND id = ?");
    conn.select_one(&columns, &sql, &[Bind::int(coop), Bind::id(id)])
}

/// All links of a co-operative, ended ones too.
pub fn all_links(conn: &mut Conn, coop: i64, most: i64) -> Result<Vec<Number>, StoreError> {
    let columns = number_columns();
    let sql = format!(
        "SELECT {columns} FROM text_numbers WHERE coop_id = ? ORDER BY number, made_at, id {LIMIT}"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::int(most)])
}

/// The links of a member, ended ones too.
pub fn links_of(conn: &mut Conn, coop: i64, member: Uuid) -> Result<Vec<Number>, StoreError> {
    let columns = number_columns();
    let sql = format!(
        "SELECT {columns} FROM text_numbers WHERE coop_id = ? AND member_id = ? \
         ORDER BY made_at, id"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::id(member)])
}
