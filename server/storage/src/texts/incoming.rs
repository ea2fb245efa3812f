//! Texts that came, and what they recorded.

use super::{instant, text};
use crate::columns::{Columns, Instant, columns};
use crate::conn::{Bind, Conn, LIMIT};
use crate::error::StoreError;
use std::collections::HashSet;
use traybook_domain::Kind;
use uuid::Uuid;

/// A text that came.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct In {
    pub id: Uuid,
    pub carrier: String,
    /// The carrier's own name of it.
    pub carrier_id: String,
    /// Hash of sender, sent time and text.
    pub content_key: String,
    pub number: String,
    pub is_known: bool,
    pub sent_at: Option<i64>,
    pub taken_at: i64,
    /// Empties after its days.
    pub body: Option<String>,
    pub outcome: String,
}

fn in_columns() -> Columns<In> {
    columns!("texts::in" {
        id: Uuid,
        carrier: String,
        carrier_id: String,
        content_key: String,
        number: String,
        is_known: bool,
        sent_at: Option<Instant>,
        taken_at: Instant,
        body: Option<String>,
        outcome: String,
    } => In {
        id, carrier, carrier_id, content_key, number, is_known, sent_at, taken_at, body, outcome,
    })
}

/// Keeps a text that came.
pub fn add_in(conn: &mut Conn, coop: i64, t: &In) -> Result<(), StoreError> {
    conn.exec(
        "INSERT INTO texts_in (coop_id, id, carrier, carrier_id, content_key, number, is_known, \
         sent_at, taken_at, body, outcome) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        &[
            Bind::int(coop),
            Bind::id(t.id),
            Bind::text(&*t.carrier),
            Bind::text(&*t.carrier_id),
            Bind::text(&*t.content_key),
            Bind::text(&*t.number),
            Bind::bool(t.is_known),
            instant(t.sent_at),
            Bind::instant(t.taken_at),
            text(t.body.as_deref()),
            Bind::text(&*t.outcome),
        ],
    )
    .map(drop)
}

/// A text that came before: by its id, or by what it says within some time.
pub fn came_before(
    conn: &mut Conn,
    coop: i64,
    id: Uuid,
    content: Option<(&str, i64)>,
) -> Result<Option<In>, StoreError> {
    let columns = in_columns();
    let sql = format!("SELECT {columns} FROM texts_in WHERE coop_id = ? AND id = ?");
    let found = conn.select_one(&columns, &sql, &[Bind::int(coop), Bind::id(id)])?;
    let (None, Some((key, since))) = (&found, content) else { return Ok(found) };
    let sql = format!(
        "SELECT {columns} FROM texts_in WHERE coop_id = ? AND content_key = ? AND taken_at >= ? \
         ORDER BY taken_at, id {LIMIT}"
    );
    let binds = [Bind::int(coop), Bind::text(key), Bind::instant(since), Bind::int(1)];
    conn.select_one(&columns, &sql, &binds)
}

/// Texts that came since an instant, the newest first.
pub fn came_since(
    conn: &mut Conn,
    coop: i64,
    since: i64,
    most: i64,
) -> Result<Vec<In>, StoreError> {
    let columns = in_columns();
    let sql = format!(
        "SELECT {columns} FROM texts_in WHERE coop_id = ? AND taken_at >= ? \
         ORDER BY taken_at DESC, id DESC {LIMIT}"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::instant(since), Bind::int(most)])
}

/// Texts that came since an instant, by what became of them.
pub fn outcomes(conn: &mut Conn, coop: i64, since: i64) -> Result<Vec<(String, i64)>, StoreError> {
    let columns = columns!("texts::outcomes" { outcome: String, texts: i64 = "COUNT(*)" } => (outcome, texts));
    let sql = format!(
        "SELECT {columns} FROM texts_in WHERE coop_id = ? AND taken_at >= ? \
         GROUP BY outcome ORDER BY outcome"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::instant(since)])
}

/// Notes which version of a record a text made.
pub fn note_record(
    conn: &mut Conn,
    coop: i64,
    (kind, id, version): (Kind, Uuid, i64),
    of: Uuid,
) -> Result<(), StoreError> {
    let sql = "INSERT INTO text_records (coop_id, kind, id, version, text_id) \
               VALUES (?, ?, ?, ?, ?) ON CONFLICT (coop_id, kind, id, version) DO NOTHING";
    let binds = [
        Bind::int(coop),
        Bind::text(kind.spec().one),
        Bind::id(id),
        Bind::int(version),
        Bind::id(of),
    ];
    conn.exec(sql, &binds).map(drop)
}

/// Of records those that texts made or changed.
pub fn by_text(
    conn: &mut Conn,
    coop: i64,
    kind: Kind,
    ids: &[Uuid],
) -> Result<HashSet<Uuid>, StoreError> {
    let columns = columns!("texts::by_text" { id: Uuid } => id);
    let sql = format!(
        "SELECT {columns} FROM text_records WHERE coop_id = ? AND kind = ? AND id IN ({})",
        vec!["?"; IDS_AT_ONCE].join(", ")
    );
    let mut all = HashSet::new();
    for chunk in ids.chunks(IDS_AT_ONCE) {
        let pad = std::iter::repeat(chunk.last().copied().unwrap_or_default());
        let mut binds = vec![Bind::int(coop), Bind::text(kind.spec().one)];
        binds.extend(chunk.iter().copied().chain(pad).take(IDS_AT_ONCE).map(Bind::id));
        all.extend(conn.select(&columns, &sql, &binds)?);
    }
    Ok(all)
}

/// Records that one statement looks for.
const IDS_AT_ONCE: usize = 64;

/// The versions of a record that texts made.
pub fn versions_by_text(
    conn: &mut Conn,
    coop: i64,
    kind: Kind,
    id: Uuid,
) -> Result<Vec<i64>, StoreError> {
    let columns = columns!("texts::versions_by_text" { version: i64 } => version);
    let sql = format!(
        "SELECT {columns} FROM text_records WHERE coop_id = ? AND kind = ? AND id = ? \
         ORDER BY version"
    );
    let binds = [Bind::int(coop), Bind::text(kind.spec().one), Bind::id(id)];
    conn.select(&columns, &sql, &binds)
}
