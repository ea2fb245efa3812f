//! Secret addresses under which a farm's work can be subscribed to. Only hashes are kept.

use crate::conn::{Bind, Conn, Row};
use crate::error::StoreError;
use traybook_domain::ColumnType;
use uuid::Uuid;

/// A link.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CalendarLink {
    /// Its id, by which it is revoked.
    pub id: Uuid,
    /// Co-operative, farm, and the person who made it.
    pub coop: i64,
    /// See [`CalendarLink::coop`].
    pub farm: Uuid,
    /// See [`CalendarLink::coop`].
    pub person: Uuid,
    /// When it was made, milliseconds.
    pub made_at: i64,
}

const COLUMNS: &str = "id, coop_id, farm_id, person_id, made_at";
const TYPES: [ColumnType; 5] =
    [ColumnType::Id, ColumnType::Int, ColumnType::Id, ColumnType::Id, ColumnType::Instant];

fn link(r: &Row) -> Option<CalendarLink> {
    Some(CalendarLink {
        id: r.first()?.as_id()?,
        coop: r.get(1)?.as_int()?,
        farm: r.get(2)?.as_id()?,
        person: r.get(3)?.as_id()?,
        made_at: r.get(4)?.as_instant()?,
    })
}

/// Keeps a new link under the hash of its secret.
///
/// # Errors
/// Those of the database.
pub fn add(conn: &mut Conn, hash: &str, link: &CalendarLink) -> Result<(), StoreError> {
    let binds = [
        Bind::text(hash),
        Bind::id(link.id),
        Bind::int(link.coop),
        Bind::id(link.farm),
        Bind::id(link.person),
        Bind::instant(link.made_at),
        Bind::opt(ColumnType::Instant, None),
    ];
    let sql = format!(
        "INSERT INTO calendar_links (secret_hash, {COLUMNS}, revoked_at) VALUES (?, ?, ?, ?, ?, ?, ?)"
    );
    conn.exec(&sql, &binds).map(drop)
}

/// The link of a secret that was not revoked.
///
/// # Errors
/// Those of the database.
pub fn find(conn: &mut Conn, hash: &str) -> Result<Option<CalendarLink>, StoreError> {
    let sql = format!(
        "SELECT {COLUMNS} FROM calendar_links WHERE secret_hash = ? AND revoked_at IS NULL"
    );
    Ok(conn.row(&sql, &[Bind::text(hash)], &TYPES)?.as_ref().and_then(link))
}

/// The links of a farm that were not revoked, the oldest first.
///
/// # Errors
/// Those of the database.
pub fn of_farm(conn: &mut Conn, coop: i64, farm: Uuid) -> Result<Vec<CalendarLink>, StoreError> {
    let sql = format!(
        "SELECT {COLUMNS} FROM calendar_links WHERE coop_id = ? AND farm_id = ? AND \
         revoked_at IS NULL ORDER BY made_at, id"
    );
    let rows = conn.rows(&sql, &[Bind::int(coop), Bind::id(farm)], &TYPES)?;
    Ok(rows.iter().filter_map(link).collect())
}

/// Whether a farm has or had a link of this id.
///
/// # Errors
/// Those of the database.
pub fn is_known(conn: &mut Conn, coop: i64, farm: Uuid, id: Uuid) -> Result<bool, StoreError> {
    let sql =
        "SELECT CAST(1 AS BIGINT) FROM calendar_links WHERE coop_id = ? AND farm_id = ? AND id = ?";
    let binds = [Bind::int(coop), Bind::id(farm), Bind::id(id)];
    Ok(conn.row(sql, &binds, &[ColumnType::Int])?.is_some())
}

/// Revokes a link of a farm; whether there was one.
///
/// # Errors
/// Those of the database.
pub fn revoke(
    conn: &mut Conn,
    coop: i64,
    farm: Uuid,
    id: Uuid,
    now: i64,
) -> Result<bool, StoreError> {
    let sql = "UPDATE calendar_links SET revoked_at = ? WHERE coop_id = ? AND farm_id = ? AND \
               id = ? AND revoked_at IS NULL";
    let binds = [Bind::instant(now), Bind::int(coop), Bind::id(farm), Bind::id(id)];
    Ok(conn.exec(sql, &binds)? > 0)
}
