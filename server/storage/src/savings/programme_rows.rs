//! Sums for programmes: cells by co-operative, month and group, and who may read them.

use crate::columns::{Instant, columns};
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use chrono::NaiveDate;
use traybook_domain::{ColumnType, Month, Value};
use uuid::Uuid;

/// A figure of a group in a month.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Cell {
    /// By what members are divided.
    pub division: String,
    pub cell: String,
    pub figure: String,
    /// Members behind it.
    pub people: i64,
    /// Whether the co-operative's own table hides it.
    pub is_hidden: bool,
    /// What is added up.
    pub top: i64,
    /// What it is divided by.
    pub bottom: i64,
    /// Half width of its 95 % interval.
    pub half: Option<i64>,
}

/// What several hidden groups of a division are together: no group is called so.
pub const TOGETHER: &str = "";

/// The cells of a month in a division.
pub fn of(
    conn: &mut Conn,
    (coop, month): (i64, Month),
    division: &str,
) -> Result<Vec<Cell>, StoreError> {
    let columns = columns!("programme_rows::of" {
        division: String,
        cell: String,
        figure: String,
        people: i64,
        is_hidden: bool,
        top: i64,
        bottom: i64,
        half: Option<i64>,
    } => Cell { division, cell, figure, people, is_hidden, top, bottom, half });
    let sql = format!(
        "SELECT {columns} FROM programme_cells WHERE coop_id = ? AND month = ? AND division = ? \
         ORDER BY cell, figure"
    );
    let binds = [Bind::int(coop), Bind::int(month.number()), Bind::text(division)];
    conn.select(&columns, &sql, &binds)
}

/// Keeps the cells of a month in place of those before.
pub fn keep(
    conn: &mut Conn,
    (coop, month): (i64, Month),
    currency: &str,
    cells: &[Cell],
) -> Result<(), StoreError> {
    let place = [Bind::int(coop), Bind::int(month.number())];
    conn.exec("DELETE FROM programme_cells WHERE coop_id = ? AND month = ?", &place)?;
    for cell in cells {
        conn.exec(
            "INSERT INTO programme_cells (coop_id, month, division, cell, figure, currency, people, \
             is_hidden, top, bottom, half) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            &[
                Bind::int(coop),
                Bind::int(month.number()),
                Bind::text(&*cell.division),
                Bind::text(&*cell.cell),
                Bind::text(&*cell.figure),
                Bind::text(currency),
                Bind::int(cell.people),
                Bind::bool(cell.is_hidden),
                Bind::int(cell.top),
                Bind::int(cell.bottom),
                Bind::opt(ColumnType::Int, cell.half.map(Value::Int)),
            ],
        )?;
    }
    Ok(())
}

/// Forgets the cells of months before one.
pub fn forget(conn: &mut Conn, coop: i64, before: Month) -> Result<(), StoreError> {
    let sql = "DELETE FROM programme_cells WHERE coop_id = ? AND month < ?";
    conn.exec(sql, &[Bind::int(coop), Bind::int(before.number())]).map(drop)
}

/// Sums of some cells.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Sums {
    /// Members.
    pub people: i64,
    /// What is added up.
    pub top: i64,
    /// What it is divided by.
    pub bottom: i64,
    /// Half widths, added up.
    pub half: i64,
    /// Cells without a half width.
    pub without_half: i64,
    /// Co-operatives.
    pub cooperatives: i64,
}

/// A figure of a group, added up over co-operatives.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Added {
    /// Of the co-operatives with this currency.
    pub currency: String,
    pub cell: String,
    pub figure: String,
    /// Of cells that the co-operatives' own tables show.
    pub shown: Sums,
    /// Of cells that they hide.
    pub hidden: Sums,
}

/// The figures of a month over some co-operatives, or over all.
pub fn added(
    conn: &mut Conn,
    (month, division): (Month, &str),
    of: Option<&[i64]>,
) -> Result<Vec<Added>, StoreError> {
    let sum = |what: &str, is_hidden: bool| {
        let (yes, no) = if is_hidden { (what, "0") } else { ("0", what) };
        format!("CAST(SUM(CASE WHEN is_hidden THEN {yes} ELSE {no} END) AS BIGINT)")
    };
    let lacks = "CASE WHEN half IS NULL AND people > 0 THEN 1 ELSE 0 END";
    let columns = columns!("programme_rows::added" {
        currency: String,
        cell: String,
        figure: String,
        people: i64 = sum("people", false),
        top: i64 = sum("top", false),
        bottom: i64 = sum("bottom", false),
        half: i64 = sum("COALESCE(half, 0)", false),
        without_half: i64 = sum(lacks, false),
        cooperatives: i64 = sum("1", false),
        other_people: i64 = sum("people", true),
        other_top: i64 = sum("top", true),
        other_bottom: i64 = sum("bottom", true),
        other_half: i64 = sum("COALESCE(half, 0)", true),
        other_without: i64 = sum(lacks, true),
        others: i64 = sum("1", true),
    } => Added {
        currency,
        cell,
        figure,
        shown: Sums { people, top, bottom, half, without_half, cooperatives },
        hidden: Sums {
            people: other_people,
            top: other_top,
            bottom: other_bottom,
            half: other_half,
            without_half: other_without,
            cooperatives: others,
        },
    });
    let mut sql = format!(
        "SELECT {columns} FROM programme_cells WHERE month = ? AND division = ? \
         AND cell <> ?"
    );
    let mut binds = vec![Bind::int(month.number()), Bind::text(division), Bind::text(TOGETHER)];
    if let Some(of) = of {
        let marks = vec!["?"; of.len()].join(", ");
        sql.push_str(&format!(" AND coop_id IN ({marks})"));
        binds.extend(of.iter().map(|coop| Bind::int(*coop)));
    }
    sql.push_str(" GROUP BY currency, cell, figure ORDER BY currency, cell, figure");
    conn.select(&columns, &sql, &binds)
}

/// A grant: a person may read the sums of a co-operative, or of all.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Grant {
    pub id: Uuid,
    /// The reader: co-operative and person.
    pub reader: (i64, Uuid),
    /// Of which co-operative; all where none is named.
    pub of: Option<i64>,
    /// When it was given, milliseconds.
    pub given_at: i64,
    pub given_by: String,
    /// Last day.
    pub until: NaiveDate,
}

/// Keeps a grant.
pub fn give(conn: &mut Conn, grant: &Grant) -> Result<(), StoreError> {
    conn.exec(
        "INSERT INTO programme_grants (coop_id, id, person_id, of_coop_id, given_at, given_by, \
         until, ended_at) VALUES (?, ?, ?, ?, ?, ?, ?, NULL)",
        &[
            Bind::int(grant.reader.0),
            Bind::id(grant.id),
            Bind::id(grant.reader.1),
            Bind::opt(ColumnType::Int, grant.of.map(Value::Int)),
            Bind::instant(grant.given_at),
            Bind::text(&*grant.given_by),
            Bind::date(grant.until),
        ],
    )
    .map(drop)
}

/// Ends a grant; the grant, if it stood.
pub fn end(conn: &mut Conn, coop: i64, id: Uuid, now: i64) -> Result<Option<Grant>, StoreError> {
    let found = standing(conn, coop, None)?.into_iter().find(|grant| grant.id == id);
    let sql = "UPDATE programme_grants SET ended_at = ? WHERE coop_id = ? AND id = ? AND \
               ended_at IS NULL";
    conn.exec(sql, &[Bind::instant(now), Bind::int(coop), Bind::id(id)])?;
    Ok(found)
}

/// The grants of a co-operative's readers that were not ended, the newest first; of one person
/// where one is named.
pub fn standing(
    conn: &mut Conn,
    coop: i64,
    person: Option<Uuid>,
) -> Result<Vec<Grant>, StoreError> {
    let columns = columns!("programme_rows::standing" {
        id: Uuid,
        coop: i64 = "coop_id",
        person_id: Uuid,
        of: Option<i64> = "of_coop_id",
        given_at: Instant,
        given_by: String,
        until: NaiveDate,
    } => Grant { id, reader: (coop, person_id), of, given_at, given_by, until });
    let mut sql =
        format!("SELECT {columns} FROM programme_grants WHERE coop_id = ? AND ended_at IS NULL");
    let mut binds = vec![Bind::int(coop)];
    if let Some(person) = person {
        sql.push_str(" AND person_id = ?");
        binds.push(Bind::id(person));
    }
    sql.push_str(" ORDER BY given_at DESC, id");
    conn.select(&columns, &sql, &binds)
}
