//! The record kinds' tables. SQL text is built from the declarations, once a kind and shape; the
//! values always travel as parameters.

pub mod changes;
pub mod event_sums;
pub(crate) mod farm_lists;
pub mod farm_rows;
pub mod feed_floors;
pub mod guide;
pub mod history_rows;
pub mod import_layouts;
pub mod import_runs;
pub mod import_waits;
pub mod photos;
pub mod sums;
pub mod training_rows;
mod visible;

pub use visible::{Visible, is_seen, is_visible, seen_by};

use crate::conn::{Bind, Conn, LIMIT, Row};
use crate::error::StoreError;
use crate::schema::{is_newest_first, order_field};
use crate::writing::Writing;
use chrono::NaiveDate;
use std::sync::OnceLock;
use traybook_domain::{ColumnType, Kind, Value};
use uuid::Uuid;
use visible::visibility;

/// A stored record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Record {
    pub id: Uuid,
    /// Values in the order of the kind's fields.
    pub values: Vec<Value>,
    /// 1 when made, one more at each change.
    pub version: i64,
    /// When it was made, milliseconds.
    pub created_at: i64,
    pub created_by: Uuid,
    /// When it was last changed.
    pub changed_at: i64,
    pub changed_by: Uuid,
    /// When it was withdrawn; none while it counts.
    pub withdrawn_at: Option<i64>,
}

/// Which of the visible records are asked for.
#[derive(Clone, Debug, Default)]
pub struct Filter {
    /// Field by position, and the value it must have.
    pub equals: Vec<(usize, Value)>,
    /// First day of the dating field.
    pub from: Option<(NaiveDate, i64)>,
    /// Last day of the dating field: the day, and the instant at which it ends.
    pub to: Option<(NaiveDate, i64)>,
    /// Withdrawn records too.
    pub withdrawn: bool,
    /// Field by position that must hold nothing.
    pub unset: Option<usize>,
    /// Part of the code, whatever the case of ASCII letters.
    pub search: Option<String>,
}

/// After which record a page begins.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct After {
    /// Value of the order field, for kinds that have one.
    pub order: Option<Value>,
    pub id: Uuid,
}

const HEAD: [ColumnType; 7] = [
    ColumnType::Id,
    ColumnType::Int,
    ColumnType::Instant,
    ColumnType::Id,
    ColumnType::Instant,
    ColumnType::Id,
    ColumnType::Instant,
];

/// The statements of one kind that do not depend on what is asked.
struct Texts {
    select: String,
    types: Vec<ColumnType>,
    insert: String,
    insert_if_absent: String,
    update: String,
    find: String,
    find_by_code: Option<String>,
    of_day: String,
}

impl Texts {
    fn new(kind: Kind) -> Self {
        let (spec, table) = (kind.spec(), kind.spec().table());
        let names: String = spec.fields.iter().map(|f| format!(", {}", f.name)).collect();
        let sets: String = spec.fields.iter().map(|f| format!(", {} = ?", f.name)).collect();
        let marks = ", ?".repeat(spec.fields.len());
        let select = format!(
            "SELECT id, version, created_at, created_by, changed_at, changed_by, \
             withdrawn_at{names} FROM {table}"
        );
        let insert = format!(
            "INSERT INTO {table} (coop_id, id, version, created_at, created_by, changed_at, \
             changed_by, withdrawn_at{names}) VALUES (?, ?, ?, ?, ?, ?, ?, ?{marks})"
        );
        Self {
            types: HEAD.iter().copied().chain(spec.fields.iter().map(|f| f.column())).collect(),
            insert_if_absent: format!("{insert} ON CONFLICT (coop_id, id) DO NOTHING"),
            insert,
            update: format!(
                "UPDATE {table} SET version = ?, changed_at = ?, changed_by = ?, \
                 withdrawn_at = ?{sets} WHERE coop_id = ? AND id = ? AND version = ?"
            ),
            find: format!("{select} WHERE coop_id = ? AND id = ?"),
            find_by_code: spec.code.map(|code| {
                format!("{select} WHERE coop_id = ? AND {code} = ? AND withdrawn_at IS NULL")
            }),
            of_day: format!(
                "{select} WHERE coop_id = ? AND farm_id = ? AND date = ? AND \
                 animal_group_id = ? AND withdrawn_at IS NULL"
            ),
            select,
        }
    }
}

/// The columns of a kind's records under an alias, in the order of [`record`].
pub(crate) fn columns(kind: Kind, alias: &str) -> String {
    let head = ["id", "version", "created_at", "created_by", "changed_at", "changed_by"];
    let fields = kind.spec().fields.iter().map(|f| f.name);
    let names = head.into_iter().chain(["withdrawn_at"]).chain(fields);
    names.map(|name| format!("{alias}.{name}")).collect::<Vec<_>>().join(", ")
}

/// The types of these columns.
pub(crate) fn types(kind: Kind) -> &'static [ColumnType] {
    &texts(kind).types
}

/// The statements of a kind, built once: an import runs each of them a hundred thousand times.
fn texts(kind: Kind) -> &'static Texts {
    const KINDS: usize = Kind::ALL.len();
    static ALL: [OnceLock<Texts>; KINDS] = [const { OnceLock::new() }; KINDS];
    ALL[kind as usize].get_or_init(|| Texts::new(kind))
}

pub(crate) fn record(row: Row) -> Result<Record, StoreError> {
    let mut row = row.into_iter();
    let mut next = || row.next().unwrap_or(Value::Null);
    let missing = || StoreError::Internal("a record lacks its head".to_owned());
    let head = Record {
        id: next().as_id().ok_or_else(missing)?,
        version: next().as_int().ok_or_else(missing)?,
        created_at: next().as_instant().ok_or_else(missing)?,
        created_by: next().as_id().ok_or_else(missing)?,
        changed_at: next().as_instant().ok_or_else(missing)?,
        changed_by: next().as_id().ok_or_else(missing)?,
        withdrawn_at: next().as_instant(),
        values: Vec::new(),
    };
    Ok(Record { values: row.collect(), ..head })
}

/// Writes a new record.
///
/// # Errors
/// `Duplicate` when the id or the code is taken, `Reference` when a reference points nowhere.
pub fn insert(writing: &mut Writing<'_>, kind: Kind, record: &Record) -> Result<(), StoreError> {
    let binds = insert_binds(writing.coop(), kind, record);
    writing.moving().exec(&texts(kind).insert, &binds).map(drop)
}

/// Writes a new record unless there is one with its id; whether it did.
///
/// # Errors
/// As [`insert`], but for the id.
pub fn insert_if_absent(
    writing: &mut Writing<'_>,
    kind: Kind,
    record: &Record,
) -> Result<bool, StoreError> {
    let binds = insert_binds(writing.coop(), kind, record);
    writing.insert(&texts(kind).insert_if_absent, &binds)
}

fn insert_binds(coop: i64, kind: Kind, record: &Record) -> Vec<Bind> {
    let mut binds = vec![
        Bind::int(coop),
        Bind::id(record.id),
        Bind::int(record.version),
        Bind::instant(record.created_at),
        Bind::id(record.created_by),
        Bind::instant(record.changed_at),
        Bind::id(record.changed_by),
        Bind::opt(ColumnType::Instant, record.withdrawn_at.map(Value::Instant)),
    ];
    for (field, value) in kind.spec().fields.iter().zip(&record.values) {
        binds.push(Bind::new(field.column(), value.clone()));
    }
    binds
}

/// Finds a record by id, withdrawn or not.
pub fn find(
    conn: &mut Conn,
    coop: i64,
    kind: Kind,
    id: Uuid,
) -> Result<Option<Record>, StoreError> {
    let Texts { find, types, .. } = texts(kind);
    conn.row(find, &[Bind::int(coop), Bind::id(id)], types)?.map(record).transpose()
}

/// Finds a record that is not withdrawn by its code.
pub fn find_by_code(
    conn: &mut Conn,
    coop: i64,
    kind: Kind,
    code: &str,
) -> Result<Option<Record>, StoreError> {
    let Texts { find_by_code: Some(sql), types, .. } = texts(kind) else {
        return Ok(None);
    };
    conn.row(sql, &[Bind::int(coop), Bind::text(code)], types)?.map(record).transpose()
}

/// Replaces a record's values if it still has the version before `record.version`.
///
/// # Errors
/// `Duplicate` when the code is taken, `Reference` when a reference points nowhere.
pub fn update_if_version(
    writing: &mut Writing<'_>,
    kind: Kind,
    record: &Record,
) -> Result<bool, StoreError> {
    let spec = kind.spec();
    let mut binds = vec![
        Bind::int(record.version),
        Bind::instant(record.changed_at),
        Bind::id(record.changed_by),
        Bind::opt(ColumnType::Instant, record.withdrawn_at.map(Value::Instant)),
    ];
    for (field, value) in spec.fields.iter().zip(&record.values) {
        binds.push(Bind::new(field.column(), value.clone()));
    }
    let coop = Bind::int(writing.coop());
    binds.extend([coop, Bind::id(record.id), Bind::int(record.version - 1)]);
    Ok(writing.moving().exec(&texts(kind).update, &binds)? == 1)
}

/// One page of records: newest first by the order field, or by id where there is none.
pub fn page(
    conn: &mut Conn,
    coop: i64,
    kind: Kind,
    visible: &Visible,
    filter: &Filter,
    after: Option<&After>,
    limit: usize,
) -> Result<Vec<Record>, StoreError> {
    let spec = kind.spec();
    let Texts { select, types, .. } = texts(kind);
    let mut sql = select.clone();
    let mut binds = vec![Bind::int(coop)];
    sql.push_str(" WHERE coop_id = ?");
    for (index, value) in &filter.equals {
        if let Some(field) = spec.fields.get(*index) {
            sql.push_str(&format!(" AND {} = ?", field.name));
            binds.push(Bind::new(field.column(), value.clone()));
        }
    }
    if let Some(field) = filter.unset.and_then(|index| spec.fields.get(index)) {
        sql.push_str(&format!(" AND {} IS NULL", field.name));
    }
    if let Some(field) = spec.date.and_then(|d| spec.field(d)) {
        let day = |date: NaiveDate, ms: i64| match field.column() {
            ColumnType::Instant => Bind::instant(ms),
            _ => Bind::date(date),
        };
        if let Some((date, ms)) = filter.from {
            sql.push_str(&format!(" AND {} >= ?", field.name));
            binds.push(day(date, ms));
        }
        if let Some((date, ms)) = filter.to {
            let sign = if field.column() == ColumnType::Instant { "<" } else { "<=" };
            sql.push_str(&format!(" AND {} {sign} ?", field.name));
            binds.push(day(date, ms));
        }
    }
    if !filter.withdrawn {
        sql.push_str(" AND withdrawn_at IS NULL");
    }
    if let (Some(search), Some(code)) = (&filter.search, spec.code) {
        let name = spec.field("name").map_or(code, |f| f.name);
        sql.push_str(&format!(
            " AND (LOWER({code}) LIKE ? ESCAPE '!' OR LOWER({name}) LIKE ? ESCAPE '!')"
        ));
        let escaped = search.to_ascii_lowercase().replace('!', "!!");
        let escaped = escaped.replace('%', "!%").replace('_', "!_");
        binds.extend([Bind::text(format!("%{escaped}%")), Bind::text(format!("%{escaped}%"))]);
    }
    visibility(kind, coop, visible, &mut sql, &mut binds);
    let order = order_field(kind).and_then(|d| spec.field(d));
    match (order, after) {
        (Some(field), Some(after)) => {
            sql.push_str(&format!(" AND ({}, id) < (?, ?)", field.name));
            binds.push(Bind::new(field.column(), after.order.clone().unwrap_or(Value::Null)));
            binds.push(Bind::id(after.id));
        }
        (None, Some(after)) => {
            sql.push_str(if is_newest_first(kind) { " AND id < ?" } else { " AND id > ?" });
            binds.push(Bind::id(after.id));
        }
        (_, None) => {}
    }
    match order {
        Some(field) => sql.push_str(&format!(" ORDER BY {} DESC, id DESC {LIMIT}", field.name)),
        None if is_newest_first(kind) => sql.push_str(&format!(" ORDER BY id DESC {LIMIT}")),
        None => sql.push_str(&format!(" ORDER BY id {LIMIT}")),
    }
    binds.push(Bind::int(i64::try_from(limit).unwrap_or(i64::MAX)));
    conn.rows(&sql, &binds, types)?.into_iter().map(record).collect()
}

/// The records of a kind that were made last, withdrawn ones too.
pub fn newest(
    conn: &mut Conn,
    coop: i64,
    kind: Kind,
    limit: usize,
) -> Result<Vec<Record>, StoreError> {
    let Texts { select, types, .. } = texts(kind);
    let sql = format!("{select} WHERE coop_id = ? ORDER BY id DESC {LIMIT}");
    let limit = Bind::int(i64::try_from(limit).unwrap_or(i64::MAX));
    conn.rows(&sql, &[Bind::int(coop), limit], types)?.into_iter().map(record).collect()
}

/// Lengths that lists of ids are filled up to, so that few statements are prepared.
const LENGTHS: [usize; 4] = [1, 16, 256, 1_000];

/// Ids in lists of one of few lengths, filled up with the last.
fn lists(ids: &[Uuid]) -> impl Iterator<Item = Vec<Bind>> {
    ids.chunks(1_000).map(|chunk| {
        let length = LENGTHS.into_iter().find(|n| *n >= chunk.len()).unwrap_or(chunk.len());
        let last = chunk.last().copied().unwrap_or_default();
        let filled = chunk.iter().copied().chain(std::iter::repeat(last));
        filled.take(length).map(Bind::id).collect()
    })
}

/// These records of a kind, withdrawn or not, by id.
pub fn several(
    conn: &mut Conn,
    coop: i64,
    kind: Kind,
    ids: &[Uuid],
) -> Result<Vec<Record>, StoreError> {
    let Texts { select, types, .. } = texts(kind);
    let mut all = Vec::with_capacity(ids.len());
    for list in lists(ids) {
        let marks = vec!["?"; list.len()].join(", ");
        let sql = format!("{select} WHERE coop_id = ? AND id IN ({marks}) ORDER BY id");
        let binds: Vec<Bind> = std::iter::once(Bind::int(coop)).chain(list).collect();
        for row in conn.rows(&sql, &binds, types)? {
            all.push(record(row)?);
        }
    }
    Ok(all)
}

/// All records of a kind that are not withdrawn and whose reference field is one of `ids`.
pub fn by_reference(
    conn: &mut Conn,
    coop: i64,
    kind: Kind,
    field: &str,
    ids: &[Uuid],
) -> Result<Vec<Record>, StoreError> {
    let Texts { select, types, .. } = texts(kind);
    let mut all = Vec::new();
    for list in lists(ids) {
        let marks = vec!["?"; list.len()].join(", ");
        let sql = format!(
            "{select} WHERE coop_id = ? AND {field} IN ({marks}) AND withdrawn_at IS NULL ORDER BY id"
        );
        let binds: Vec<Bind> = std::iter::once(Bind::int(coop)).chain(list).collect();
        for row in conn.rows(&sql, &binds, types)? {
            all.push(record(row)?);
        }
    }
    Ok(all)
}

/// The records of one group and day, for milk and eggs.
pub fn of_day(
    conn: &mut Conn,
    coop: i64,
    kind: Kind,
    farm: Uuid,
    group: Uuid,
    date: NaiveDate,
) -> Result<Vec<Record>, StoreError> {
    let Texts { of_day, types, .. } = texts(kind);
    let binds = [Bind::int(coop), Bind::id(farm), Bind::date(date), Bind::id(group)];
    conn.rows(of_day, &binds, types)?.into_iter().map(record).collect()
}

/// Every record of a kind in the order of its export: by code where there is one, else by id.
///
/// # Errors
/// Those of the database and of `each`.
pub fn for_each<E: From<StoreError>>(
    conn: &mut Conn,
    coop: i64,
    kind: Kind,
    mut each: impl FnMut(&mut Conn, Record) -> Result<(), E>,
) -> Result<(), E> {
    let Texts { select, types, .. } = texts(kind);
    let sql = format!(
        "{select} WHERE coop_id = ? AND id > ? AND withdrawn_at IS NULL ORDER BY id LIMIT 2000"
    );
    let mut last = Uuid::nil();
    loop {
        let rows = conn.rows(&sql, &[Bind::int(coop), Bind::id(last)], types)?;
        if rows.is_empty() {
            return Ok(());
        }
        for row in rows {
            let record = record(row)?;
            last = record.id;
            each(conn, record)?;
        }
    }
}

/// A kind and field by which a record that is not withdrawn refers to `id`, if there is one.
pub fn referrer(
    conn: &mut Conn,
    coop: i64,
    target: Kind,
    id: Uuid,
) -> Result<Option<(Kind, &'static str)>, StoreError> {
    for kind in Kind::ALL {
        for (_, field, to) in kind.spec().refs().filter(|(_, _, to)| *to == target) {
            debug_assert_eq!(to, target);
            let sql = format!(
                "SELECT version FROM {} WHERE coop_id = ? AND {} = ? AND withdrawn_at IS NULL \
                 LIMIT 1",
                kind.spec().table(),
                field.name
            );
            let binds = [Bind::int(coop), Bind::id(id)];
            if conn.row(&sql, &binds, &[ColumnType::Int])?.is_some() {
                return Ok(Some((*kind, field.name)));
            }
        }
    }
    Ok(None)
}

/// A version of a record that a later one replaced.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OldVersion {
    /// Its number.
    pub version: i64,
    /// The record as JSON text.
    pub body: String,
    /// When it was made.
    pub made_at: i64,
    pub made_by: Uuid,
    /// When it was replaced.
    pub replaced_at: i64,
    pub replaced_by: Uuid,
    /// `corrected` or `withdrawn`.
    pub action: String,
    /// Why, if a reason was given.
    pub reason: Option<String>,
}

/// Keeps the version that is about to be replaced.
pub fn keep_version(
    writing: &mut Writing<'_>,
    kind: Kind,
    id: Uuid,
    old: &OldVersion,
) -> Result<(), StoreError> {
    let coop = writing.coop();
    writing
        .moving()
        .exec(
            "INSERT INTO record_history (coop_id, kind, id, version, body, made_at, made_by, \
         replaced_at, replaced_by, action, reason) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            &[
                Bind::int(coop),
                Bind::text(kind.spec().one),
                Bind::id(id),
                Bind::int(old.version),
                Bind::text(&*old.body),
                Bind::instant(old.made_at),
                Bind::id(old.made_by),
                Bind::instant(old.replaced_at),
                Bind::id(old.replaced_by),
                Bind::text(&*old.action),
                Bind::opt(ColumnType::Text, old.reason.clone().map(Value::Text)),
            ],
        )
        .map(drop)
}

/// Writes the bodies of a record's replaced versions anew, and forgets why they were replaced; how
/// many there are.
pub fn empty_history(
    writing: &mut Writing<'_>,
    kind: Kind,
    id: Uuid,
    emptied: impl Fn(&str) -> String,
) -> Result<usize, StoreError> {
    let coop = writing.coop();
    let versions = history(writing, coop, kind, id)?;
    for old in &versions {
        writing.moving().exec(
            "UPDATE record_history SET body = ?, reason = NULL WHERE coop_id = ? AND kind = ? \
             AND id = ? AND version = ?",
            &[
                Bind::text(emptied(&old.body)),
                Bind::int(coop),
                Bind::text(kind.spec().one),
                Bind::id(id),
                Bind::int(old.version),
            ],
        )?;
    }
    Ok(versions.len())
}

/// The replaced versions of a record, oldest first.
pub fn history(
    conn: &mut Conn,
    coop: i64,
    kind: Kind,
    id: Uuid,
) -> Result<Vec<OldVersion>, StoreError> {
    use ColumnType::{Id, Instant, Int, Text};
    let rows = conn.rows(
        "SELECT version, body, made_at, made_by, replaced_at, replaced_by, action, reason FROM \
         record_history WHERE coop_id = ? AND kind = ? AND id = ? ORDER BY version",
        &[Bind::int(coop), Bind::text(kind.spec().one), Bind::id(id)],
        &[Int, Text, Instant, Id, Instant, Id, Text, Text],
    )?;
    let text = |v: Option<&Value>| v.and_then(|v| v.as_text().map(str::to_owned));
    Ok(rows
        .iter()
        .map(|row| OldVersion {
            version: row.first().and_then(Value::as_int).unwrap_or(0),
            body: text(row.get(1)).unwrap_or_default(),
            made_at: row.get(2).and_then(Value::as_instant).unwrap_or(0),
            made_by: row.get(3).and_then(Value::as_id).unwrap_or_default(),
            replaced_at: row.get(4).and_then(Value::as_instant).unwrap_or(0),
            replaced_by: row.get(5).and_then(Value::as_id).unwrap_or_default(),
            action: text(row.get(6)).unwrap_or_default(),
            reason: text(row.get(7)),
        })
        .collect())
}
