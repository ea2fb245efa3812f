//! Where a login is known, and which co-operatives there are: what is asked before it is known which
//! co-operative a person means.

use crate::columns::{Instant, columns};
use crate::conn::{Bind, Conn, LIMIT};
use crate::error::StoreError;
use uuid::Uuid;

/// A person who may sign in: co-operative and person.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Membership {
    /// Short number of the co-operative.
    pub coop: i64,
    /// Id of the co-operative.
    pub cooperative: Uuid,
    pub person: Uuid,
}

/// A person that a login may be meant for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Found {
    pub membership: Membership,
    /// The password's hash, where one is set.
    pub hash: Option<String>,
    /// When it was set, milliseconds.
    pub changed_at: Option<i64>,
}

/// The active people of all co-operatives with a login, and their password hashes. One statement
/// finds where the login is known, then one each asks those co-operatives alone.
pub fn by_login(conn: &mut Conn, login: &str, most: usize) -> Result<Vec<Found>, StoreError> {
    let known =
        columns!("accounts::logins" { coop_id: i64, person_id: Uuid } => (coop_id, person_id));
    let sql =
        format!("SELECT {known} FROM logins WHERE login = ? ORDER BY coop_id, person_id {LIMIT}");
    let most = i64::try_from(most).unwrap_or(i64::MAX);
    let known = conn.select(&known, &sql, &[Bind::text(login), Bind::int(most)])?;
    let columns = columns!("accounts::by_login" {
        coop: i64 = "p.coop_id",
        cooperative: Uuid = "c.id",
        person: Uuid = "p.id",
        hash: Option<String> = "w.hash",
        changed_at: Option<Instant> = "w.changed_at",
    } => Found { membership: Membership { coop, cooperative, person }, hash, changed_at });
    let sql = format!(
        "SELECT {columns} FROM people p JOIN cooperatives c \
         ON c.coop_id = p.coop_id LEFT JOIN passwords w ON w.coop_id = p.coop_id AND \
         w.person_id = p.id WHERE p.coop_id = ? AND p.id = ? AND (p.email = ? OR p.phone = ?) AND \
         p.withdrawn_at IS NULL AND c.withdrawn_at IS NULL AND p.active"
    );
    let mut all: Vec<Found> = Vec::new();
    for (coop, person) in known {
        let login = || Bind::text(login);
        let binds = [Bind::int(coop), Bind::id(person), login(), login()];
        all.extend(conn.select_one(&columns, &sql, &binds)?);
    }
    Ok(all)
}

/// Notes by which logins a person is known, in place of those before.
pub fn change_logins(
    conn: &mut Conn,
    (coop, person): (i64, Uuid),
    (old, new): (&[&str], &[&str]),
) -> Result<(), StoreError> {
    let binds = |login: &&str| [Bind::text(*login), Bind::int(coop), Bind::id(person)];
    for login in old.iter().filter(|login| !new.contains(login)) {
        let sql = "DELETE FROM logins WHERE login = ? AND coop_id = ? AND person_id = ?";
        conn.exec(sql, &binds(login))?;
    }
    for login in new.iter().filter(|login| !old.contains(login)) {
        let sql = "INSERT INTO logins (login, coop_id, person_id) VALUES (?, ?, ?) \
                   ON CONFLICT (login, coop_id, person_id) DO NOTHING";
        conn.exec(sql, &binds(login))?;
    }
    Ok(())
}

/// The short number of a co-operative.
pub fn coop_number(conn: &mut Conn, cooperative: Uuid) -> Result<Option<i64>, StoreError> {
    let columns = columns!("accounts::coop_number" { coop_id: i64 } => coop_id);
    let sql = format!("SELECT {columns} FROM coop_directory WHERE id = ?");
    conn.select_one(&columns, &sql, &[Bind::id(cooperative)])
}

/// The id of a co-operative by its short number.
pub fn coop_id(conn: &mut Conn, number: i64) -> Result<Option<Uuid>, StoreError> {
    let columns = columns!("accounts::coop_id" { id: Uuid } => id);
    let sql = format!("SELECT {columns} FROM coop_directory WHERE coop_id = ?");
    conn.select_one(&columns, &sql, &[Bind::int(number)])
}

/// All co-operatives: number and id.
pub fn cooperatives(conn: &mut Conn) -> Result<Vec<(i64, Uuid)>, StoreError> {
    let columns = columns!("accounts::cooperatives" { coop_id: i64, id: Uuid } => (coop_id, id));
    let sql = format!("SELECT {columns} FROM coop_directory ORDER BY coop_id");
    conn.select(&columns, &sql, &[])
}
