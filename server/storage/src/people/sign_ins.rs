//! Sign-ins as their owner sees them, second factors, and notices of what others did to a sign-in.

use crate::columns::{Instant, columns};
use crate::conn::{Bind, Conn, LIMIT};
use crate::error::StoreError;
use crate::people::passkeys;
use traybook_domain::{ColumnType, Value};
use uuid::Uuid;

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SignIn {
    /// All tokens that came from it.
    pub family: Uuid,
    pub coop: i64,
    pub person: Uuid,
    /// When it began, milliseconds.
    pub begun_at: i64,
    /// When it was seen last, about.
    pub seen_at: i64,
    /// Kind of device.
    pub device: String,
    /// When a second factor was proved last.
    pub proved_at: Option<i64>,
}

/// Keeps a new sign-in.
pub fn add(conn: &mut Conn, new: &SignIn) -> Result<(), StoreError> {
    conn.exec(
        "INSERT INTO sign_ins (family_id, coop_id, person_id, begun_at, seen_at, device, proved_at) \
         VALUES (?, ?, ?, ?, ?, ?, ?)",
        &[
            Bind::id(new.family),
            Bind::int(new.coop),
            Bind::id(new.person),
            Bind::instant(new.begun_at),
            Bind::instant(new.seen_at),
            Bind::text(&*new.device),
            Bind::opt(ColumnType::Instant, new.proved_at.map(Value::Instant)),
        ],
    )
    .map(drop)
}

/// Sign-ins of a person that were not ended and whose tokens still hold, the last seen first.
pub fn of_person(
    conn: &mut Conn,
    (coop, person): (i64, Uuid),
    now: i64,
) -> Result<Vec<SignIn>, StoreError> {
    let columns = columns!("sign_ins::of_person" {
        family: Uuid = "family_id",
        coop: i64 = "coop_id",
        person: Uuid = "person_id",
        begun_at: Instant,
        seen_at: Instant,
        device: String,
        proved_at: Option<Instant>,
    } => SignIn { family, coop, person, begun_at, seen_at, device, proved_at });
    let sql = format!(
        "SELECT {columns} FROM sign_ins WHERE coop_id = ? AND person_id = ? AND EXISTS (SELECT 1 \
         FROM sessions s WHERE s.coop_id = ? AND s.family_id = sign_ins.family_id AND \
         s.ended_at IS NULL AND s.used_at IS NULL AND s.expires_at > ?) ORDER BY seen_at DESC, family_id"
    );
    let binds = [Bind::int(coop), Bind::id(person), Bind::int(coop), Bind::instant(now)];
    conn.select(&columns, &sql, &binds)
}

/// Notes that a sign-in was seen.
pub fn seen(conn: &mut Conn, (coop, family): (i64, Uuid), now: i64) -> Result<(), StoreError> {
    let sql = "UPDATE sign_ins SET seen_at = ? WHERE coop_id = ? AND family_id = ?";
    conn.exec(sql, &[Bind::instant(now), Bind::int(coop), Bind::id(family)]).map(drop)
}

/// Notes that a second factor was proved in a sign-in.
pub fn proved(conn: &mut Conn, (coop, family): (i64, Uuid), now: i64) -> Result<(), StoreError> {
    let sql = "UPDATE sign_ins SET proved_at = ? WHERE coop_id = ? AND family_id = ?";
    conn.exec(sql, &[Bind::instant(now), Bind::int(coop), Bind::id(family)]).map(drop)
}

/// Forgets the sign-ins of a person of which no token is left.
pub fn forget(conn: &mut Conn, coop: i64, person: Uuid) -> Result<(), StoreError> {
    conn.exec(
        "DELETE FROM sign_ins WHERE coop_id = ? AND person_id = ? AND NOT EXISTS \
         (SELECT 1 FROM sessions s WHERE s.coop_id = ? AND s.family_id = sign_ins.family_id)",
        &[Bind::int(coop), Bind::id(person), Bind::int(coop)],
    )
    .map(drop)
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SecondFactor {
    /// Its secret, sealed.
    pub sealed: String,
    /// When a first code was given; it does not count before.
    pub confirmed_at: Option<i64>,
    /// The last step of time whose code was taken.
    pub last_step: i64,
}

/// A person's second factor.
pub fn second_factor(
    conn: &mut Conn,
    coop: i64,
    person: Uuid,
) -> Result<Option<SecondFactor>, StoreError> {
    let columns = columns!("sign_ins::second_factor" {
        sealed: String,
        confirmed_at: Option<Instant>,
        last_step: i64,
    } => SecondFactor { sealed, confirmed_at, last_step });
    let sql = format!("SELECT {columns} FROM second_factors WHERE coop_id = ? AND person_id = ?");
    conn.select_one(&columns, &sql, &[Bind::int(coop), Bind::id(person)])
}

/// Keeps a person's second factor in place of the one before.
pub fn put_second_factor(
    conn: &mut Conn,
    (coop, person): (i64, Uuid),
    factor: &SecondFactor,
) -> Result<(), StoreError> {
    conn.exec(
        "INSERT INTO second_factors (coop_id, person_id, sealed, confirmed_at, last_step) \
         VALUES (?, ?, ?, ?, ?) ON CONFLICT (coop_id, person_id) DO UPDATE SET \
         sealed = excluded.sealed, confirmed_at = excluded.confirmed_at, \
         last_step = excluded.last_step",
        &[
            Bind::int(coop),
            Bind::id(person),
            Bind::text(&*factor.sealed),
            Bind::opt(ColumnType::Instant, factor.confirmed_at.map(Value::Instant)),
            Bind::int(factor.last_step),
        ],
    )
    .map(drop)
}

/// Takes a person's second factor away, with its recovery codes and passkeys.
pub fn end_second_factor(conn: &mut Conn, coop: i64, person: Uuid) -> Result<bool, StoreError> {
    let whose = [Bind::int(coop), Bind::id(person)];
    passkeys::end_all(conn, (coop, person))?;
    conn.exec("DELETE FROM recovery_codes WHERE coop_id = ? AND person_id = ?", &whose)?;
    let sql = "DELETE FROM second_factors WHERE coop_id = ? AND person_id = ?";
    Ok(conn.exec(sql, &whose)? > 0)
}

/// Keeps recovery codes in place of those before.
pub fn put_recovery_codes(
    conn: &mut Conn,
    (coop, person): (i64, Uuid),
    hashes: &[String],
) -> Result<(), StoreError> {
    let whose = [Bind::int(coop), Bind::id(person)];
    conn.exec("DELETE FROM recovery_codes WHERE coop_id = ? AND person_id = ?", &whose)?;
    for hash in hashes {
        conn.exec(
            "INSERT INTO recovery_codes (coop_id, person_id, code_hash) VALUES (?, ?, ?)",
            &[Bind::int(coop), Bind::id(person), Bind::text(&**hash)],
        )?;
    }
    Ok(())
}

/// A recovery code of a person as it is kept, whichever: all are hashed alike.
pub fn recovery_code(
    conn: &mut Conn,
    (coop, person): (i64, Uuid),
) -> Result<Option<String>, StoreError> {
    let columns = columns!("sign_ins::recovery_code" { hash: String = "code_hash" } => hash);
    let sql =
        format!("SELECT {columns} FROM recovery_codes WHERE coop_id = ? AND person_id = ? {LIMIT}");
    let binds = [Bind::int(coop), Bind::id(person), Bind::int(1)];
    Ok(conn.select(&columns, &sql, &binds)?.pop())
}

/// Uses a recovery code up; whether it was there.
pub fn use_recovery_code(
    conn: &mut Conn,
    (coop, person): (i64, Uuid),
    hash: &str,
) -> Result<bool, StoreError> {
    let sql = "DELETE FROM recovery_codes WHERE coop_id = ? AND person_id = ? AND code_hash = ?";
    Ok(conn.exec(sql, &[Bind::int(coop), Bind::id(person), Bind::text(hash)])? == 1)
}

/// Tells a person, from the next page on, that somebody else reset the sign-in.
pub fn put_notice(
    conn: &mut Conn,
    (coop, person): (i64, Uuid),
    by_name: &str,
    now: i64,
) -> Result<(), StoreError> {
    conn.exec(
        "INSERT INTO sign_in_notices (coop_id, person_id, at, by_name) VALUES (?, ?, ?, ?) \
         ON CONFLICT (coop_id, person_id) DO UPDATE SET at = excluded.at, \
         by_name = excluded.by_name",
        &[Bind::int(coop), Bind::id(person), Bind::instant(now), Bind::text(by_name)],
    )
    .map(drop)
}

/// Takes a notice away that its person has seen.
pub fn end_notice(conn: &mut Conn, coop: i64, person: Uuid) -> Result<(), StoreError> {
    let sql = "DELETE FROM sign_in_notices WHERE coop_id = ? AND person_id = ?";
    conn.exec(sql, &[Bind::int(coop), Bind::id(person)]).map(drop)
}
