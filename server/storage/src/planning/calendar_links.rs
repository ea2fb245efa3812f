//! Secret addresses under which a farm's work can be subscribed to. Only hashes are kept.

use crate::columns::{Columns, Instant, columns};
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use crate::people::accounts::of_secret;
use traybook_domain::ColumnType;
use uuid::Uuid;

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CalendarLink {
    /// Its id, by which it is revoked.
    pub id: Uuid,
    /// Co-operative, farm, and the person who made it.
    pub coop: i64,
    pub farm: Uuid,
    pub person: Uuid,
    /// When it was made, milliseconds.
    pub made_at: i64,
}

fn link() -> Columns<CalendarLink> {
    columns!("calendar_links::link" {
        id: Uuid,
        coop: i64 = "coop_id",
        farm: Uuid = "farm_id",
        person: Uuid = "person_id",
        made_at: Instant,
    } => CalendarLink { id, coop, farm, person, made_at })
}

/// Keeps a new link under the hash of its secret.
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
    let sql = "INSERT INTO calendar_links (secret_hash, id, coop_id, farm_id, person_id, made_at, \
               revoked_at) VALUES (?, ?, ?, ?, ?, ?, ?)";
    conn.exec(sql, &binds).map(drop)
}

/// The link of a secret that was not revoked.
pub fn find(
    conn: &mut Conn,
    (coop, hash): (Option<i64>, &str),
) -> Result<Option<CalendarLink>, StoreError> {
    let columns = link();
    let (within, binds) = of_secret(coop, hash);
    let sql = format!(
        "SELECT {columns} FROM calendar_links WHERE {within}secret_hash = ? AND revoked_at IS NULL"
    );
    conn.select_one(&columns, &sql, &binds)
}

/// The links of a farm that were not revoked, the oldest first.
pub fn of_farm(conn: &mut Conn, coop: i64, farm: Uuid) -> Result<Vec<CalendarLink>, StoreError> {
    let columns = link();
    let sql = format!(
        "SELECT {columns} FROM calendar_links WHERE coop_id = ? AND farm_id = ? AND \
         revoked_at IS NULL ORDER BY made_at, id"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::id(farm)])
}

/// Whether a farm has or had a link of this id.
pub fn is_known(conn: &mut Conn, coop: i64, farm: Uuid, id: Uuid) -> Result<bool, StoreError> {
    let columns = columns!("calendar_links::is_known" { id: Uuid } => id);
    let sql = format!(
        "SELECT {columns} FROM calendar_links WHERE coop_id = ? AND farm_id = ? AND id = ?"
    );
    let binds = [Bind::int(coop), Bind::id(farm), Bind::id(id)];
    Ok(conn.select_one(&columns, &sql, &binds)?.is_some())
}

/// Revokes a link of a farm; whether there was one.
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
