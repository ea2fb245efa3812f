//! Passwords, invitations and sessions.

use crate::columns::{Instant, columns};
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use crate::people::logins::Membership;
use crate::people::sign_ins;
use crate::records::{self, Record};
use std::collections::HashSet;
use traybook_domain::{ColumnType, Kind, Value};
use uuid::Uuid;

/// Sets a person's password hash.
pub fn set_password(
    conn: &mut Conn,
    coop: i64,
    person: Uuid,
    hash: &str,
    now: i64,
) -> Result<(), StoreError> {
    conn.exec(
        "INSERT INTO passwords (coop_id, person_id, hash, changed_at) VALUES (?, ?, ?, ?) \
         ON CONFLICT (coop_id, person_id) DO UPDATE SET hash = excluded.hash, \
         changed_at = excluded.changed_at",
        &[Bind::int(coop), Bind::id(person), Bind::text(hash), Bind::instant(now)],
    )
    .map(drop)
}

/// The hash of a person's password.
pub fn password(conn: &mut Conn, coop: i64, person: Uuid) -> Result<Option<String>, StoreError> {
    let columns = columns!("accounts::password" { hash: String } => hash);
    let sql = format!("SELECT {columns} FROM passwords WHERE coop_id = ? AND person_id = ?");
    conn.select_one(&columns, &sql, &[Bind::int(coop), Bind::id(person)])
}

/// Gives a person the password of another: of the one who made a co-operative, in the new one.
pub fn copy_password(
    conn: &mut Conn,
    from: (i64, Uuid),
    to: (i64, Uuid),
    now: i64,
) -> Result<(), StoreError> {
    match password(conn, from.0, from.1)? {
        Some(hash) => set_password(conn, to.0, to.1, &hash, now),
        None => Ok(()),
    }
}

/// The people of other co-operatives whose password a sign-in gave: co-operative and person.
pub fn people_of(
    conn: &mut Conn,
    (coop, family): (i64, Uuid),
) -> Result<Vec<(i64, Uuid)>, StoreError> {
    let columns = columns!("accounts::people_of" {
        other: i64 = "other_coop_id",
        person_id: Uuid,
    } => (other, person_id));
    let sql = format!(
        "SELECT {columns} FROM sign_in_people WHERE coop_id = ? AND family_id = ? \
         ORDER BY other_coop_id, person_id"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::id(family)])
}

/// Notes which people of other co-operatives the password of a sign-in opens.
pub fn add_people(
    conn: &mut Conn,
    (coop, family): (i64, Uuid),
    people: &[Membership],
) -> Result<(), StoreError> {
    for m in people.iter().filter(|m| m.coop != coop) {
        conn.exec(
            "INSERT INTO sign_in_people (coop_id, family_id, other_coop_id, person_id) \
             VALUES (?, ?, ?, ?)",
            &[Bind::int(coop), Bind::id(family), Bind::int(m.coop), Bind::id(m.person)],
        )?;
    }
    Ok(())
}

/// When a sign-in began, milliseconds.
pub fn begun_at(conn: &mut Conn, (coop, family): (i64, Uuid)) -> Result<Option<i64>, StoreError> {
    let columns = columns!("accounts::begun_at" { begun_at: Instant } => begun_at);
    let sql = format!("SELECT {columns} FROM sign_ins WHERE coop_id = ? AND family_id = ?");
    conn.select_one(&columns, &sql, &[Bind::int(coop), Bind::id(family)])
}

/// The id of a co-operative and the instant since which a person's password and record are as they
/// are; none where the person has no password.
pub fn settled_since(
    conn: &mut Conn,
    (coop, person): (i64, Uuid),
) -> Result<Option<(Uuid, i64)>, StoreError> {
    let columns = columns!("accounts::settled_since" {
        cooperative: Uuid = "c.id",
        set: Instant = "w.changed_at",
        changed: Instant = "p.changed_at",
    } => (cooperative, set.max(changed)));
    let sql = format!(
        "SELECT {columns} FROM people p JOIN cooperatives c ON c.coop_id = p.coop_id \
         JOIN passwords w ON w.coop_id = p.coop_id AND w.person_id = p.id \
         WHERE p.coop_id = ? AND p.id = ?"
    );
    conn.select_one(&columns, &sql, &[Bind::int(coop), Bind::id(person)])
}

/// Keeps an invitation of a person. The person's earlier ones end.
pub fn invite(
    conn: &mut Conn,
    code_hash: &str,
    (coop, person): (i64, Uuid),
    expires_at: i64,
    now: i64,
) -> Result<(), StoreError> {
    end_invitations(conn, (coop, person), now)?;
    conn.exec(
        "INSERT INTO invitations (code_hash, coop_id, person_id, expires_at, used_at) \
         VALUES (?, ?, ?, ?, NULL)",
        &[Bind::text(code_hash), Bind::int(coop), Bind::id(person), Bind::instant(expires_at)],
    )
    .map(drop)
}

/// Ends the invitations of a person that are not used yet.
fn end_invitations(
    conn: &mut Conn,
    (coop, person): (i64, Uuid),
    now: i64,
) -> Result<(), StoreError> {
    conn.exec(
        "UPDATE invitations SET used_at = ? WHERE coop_id = ? AND person_id = ? AND used_at IS NULL",
        &[Bind::instant(now), Bind::int(coop), Bind::id(person)],
    )
    .map(drop)
}

/// People of a co-operative who have set a password.
pub fn with_password(conn: &mut Conn, coop: i64) -> Result<HashSet<Uuid>, StoreError> {
    let columns = columns!("accounts::with_password" { person_id: Uuid } => person_id);
    let sql = format!("SELECT {columns} FROM passwords WHERE coop_id = ?");
    Ok(conn.select(&columns, &sql, &[Bind::int(coop)])?.into_iter().collect())
}

/// Whom an invitation is for, if it is there, unused and in time.
pub fn invited(
    conn: &mut Conn,
    (coop, code_hash): (Option<i64>, &str),
    now: i64,
) -> Result<Option<(i64, Uuid)>, StoreError> {
    let columns = columns!("accounts::invited" { coop_id: i64, person_id: Uuid } => {
        (coop_id, person_id)
    });
    let (within, binds) = of_secret(coop, code_hash);
    let sql = format!(
        "SELECT {columns} FROM invitations WHERE {within}code_hash = ? AND used_at IS NULL AND \
         expires_at > ?"
    );
    conn.select_one(&columns, &sql, &[binds, vec![Bind::instant(now)]].concat())
}

/// Uses an invitation up; whose it was, if it was there, unused and in time.
pub fn use_invitation(
    conn: &mut Conn,
    (coop, code_hash): (Option<i64>, &str),
    now: i64,
) -> Result<Option<(i64, Uuid)>, StoreError> {
    let Some(whose) = invited(conn, (coop, code_hash), now)? else { return Ok(None) };
    let used = conn.exec(
        "UPDATE invitations SET used_at = ? WHERE coop_id = ? AND code_hash = ? AND used_at IS NULL",
        &[Bind::instant(now), Bind::int(whose.0), Bind::text(code_hash)],
    )?;
    end_invitations(conn, whose, now)?;
    Ok((used == 1).then_some(whose))
}

/// The condition on the hash of a secret, without its end: with the co-operative that the secret
/// names. A secret of an older program names none.
pub(crate) fn of_secret(coop: Option<i64>, hash: &str) -> (&'static str, Vec<Bind>) {
    match coop {
        Some(coop) => ("coop_id = ? AND ", vec![Bind::int(coop), Bind::text(hash)]),
        None => ("", vec![Bind::text(hash)]),
    }
}

/// A refresh token as stored.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Session {
    /// SHA-256 of the token.
    pub token_hash: String,
    /// All tokens that came from one sign-in.
    pub family: Uuid,
    pub coop: i64,
    pub person: Uuid,
    /// End of its life.
    pub expires_at: i64,
    /// When it was exchanged for the next one.
    pub used_at: Option<i64>,
    /// When the family was ended.
    pub ended_at: Option<i64>,
}

/// Keeps a new refresh token.
pub fn add_session(conn: &mut Conn, session: &Session) -> Result<(), StoreError> {
    conn.exec(
        "INSERT INTO sessions (token_hash, family_id, coop_id, person_id, expires_at, \
         used_at, ended_at) VALUES (?, ?, ?, ?, ?, NULL, NULL)",
        &[
            Bind::text(&*session.token_hash),
            Bind::id(session.family),
            Bind::int(session.coop),
            Bind::id(session.person),
            Bind::instant(session.expires_at),
        ],
    )
    .map(drop)
}

/// Finds a refresh token by its hash.
pub fn session(
    conn: &mut Conn,
    (coop, token_hash): (Option<i64>, &str),
) -> Result<Option<Session>, StoreError> {
    let columns = columns!("accounts::session" {
        token_hash: String,
        family: Uuid = "family_id",
        coop: i64 = "coop_id",
        person: Uuid = "person_id",
        expires_at: Instant,
        used_at: Option<Instant>,
        ended_at: Option<Instant>,
    } => Session { token_hash, family, coop, person, expires_at, used_at, ended_at });
    let (within, binds) = of_secret(coop, token_hash);
    let sql = format!("SELECT {columns} FROM sessions WHERE {within}token_hash = ?");
    conn.select_one(&columns, &sql, &binds)
}

/// Marks a refresh token as exchanged; false when it was already.
pub fn use_session(conn: &mut Conn, session: &Session, now: i64) -> Result<bool, StoreError> {
    let done = conn.exec(
        "UPDATE sessions SET used_at = ? WHERE coop_id = ? AND token_hash = ? AND used_at IS NULL \
         AND ended_at IS NULL",
        &[Bind::instant(now), Bind::int(session.coop), Bind::text(&*session.token_hash)],
    )?;
    Ok(done == 1)
}

/// Marks the tokens that came after one as exchanged at the same instant; false when one of them was
/// exchanged since.
pub fn take_successors(
    conn: &mut Conn,
    (coop, family): (i64, Uuid),
    used_at: i64,
) -> Result<bool, StoreError> {
    let columns = columns!("accounts::take_successors" { token_hash: String } => token_hash);
    let sql = format!(
        "SELECT {columns} FROM sessions WHERE coop_id = ? AND family_id = ? AND used_at > ? \
         ORDER BY token_hash"
    );
    let binds = [Bind::int(coop), Bind::id(family), Bind::instant(used_at)];
    if !conn.select(&columns, &sql, &binds)?.is_empty() {
        return Ok(false);
    }
    conn.exec(
        "UPDATE sessions SET used_at = ? WHERE coop_id = ? AND family_id = ? AND used_at IS NULL",
        &[Bind::instant(used_at), Bind::int(coop), Bind::id(family)],
    )?;
    Ok(true)
}

/// Ends all tokens of a sign-in.
pub fn end_family(
    conn: &mut Conn,
    (coop, family): (i64, Uuid),
    now: i64,
) -> Result<(), StoreError> {
    conn.exec(
        "UPDATE sessions SET ended_at = ? WHERE coop_id = ? AND family_id = ? AND ended_at IS NULL",
        &[Bind::instant(now), Bind::int(coop), Bind::id(family)],
    )
    .map(drop)
}

/// Ends all sign-ins of a person, as after a new password or another login.
pub fn end_person(conn: &mut Conn, coop: i64, person: Uuid, now: i64) -> Result<(), StoreError> {
    conn.exec(
        "UPDATE sessions SET ended_at = ? WHERE coop_id = ? AND person_id = ? AND ended_at IS NULL",
        &[Bind::instant(now), Bind::int(coop), Bind::id(person)],
    )
    .map(drop)
}

/// A sign-in that has not ended: its family, and until when it holds.
pub fn standing_sessions(
    conn: &mut Conn,
    coop: i64,
    person: Uuid,
    now: i64,
) -> Result<Vec<(Uuid, i64)>, StoreError> {
    let columns = columns!("accounts::standing_sessions" {
        family: Uuid = "family_id",
        expires_at: Instant = "MAX(expires_at)",
    } => (family, expires_at));
    let sql = format!(
        "SELECT {columns} FROM sessions WHERE coop_id = ? AND person_id = ? AND ended_at IS NULL \
         AND expires_at > ? GROUP BY family_id ORDER BY family_id"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::id(person), Bind::instant(now)])
}

/// When a person's password was set; none where there is none.
pub fn password_set_at(
    conn: &mut Conn,
    coop: i64,
    person: Uuid,
) -> Result<Option<i64>, StoreError> {
    let columns = columns!("accounts::password_set_at" { at: Instant = "changed_at" } => at);
    let sql = format!("SELECT {columns} FROM passwords WHERE coop_id = ? AND person_id = ?");
    conn.select_one(&columns, &sql, &[Bind::int(coop), Bind::id(person)])
}

/// Deletes all that a person signs in with: password, codes, sign-ins, calendar addresses.
pub fn forget_account(conn: &mut Conn, coop: i64, person: Uuid) -> Result<(), StoreError> {
    const TABLES: [&str; 10] = [
        "passwords",
        "invitations",
        "second_factors",
        "recovery_codes",
        "passkeys",
        "passkey_challenges",
        "sign_in_notices",
        "sign_ins",
        "sessions",
        "calendar_links",
    ];
    for table in TABLES {
        let sql = format!("DELETE FROM {table} WHERE coop_id = ? AND person_id = ?");
        conn.exec(&sql, &[Bind::int(coop), Bind::id(person)])?;
    }
    Ok(())
}

/// Ends the sign-ins of a person but one.
pub fn end_others(
    conn: &mut Conn,
    (coop, person): (i64, Uuid),
    kept: Uuid,
    now: i64,
) -> Result<(), StoreError> {
    conn.exec(
        "UPDATE sessions SET ended_at = ? WHERE coop_id = ? AND person_id = ? AND \
         family_id <> ? AND ended_at IS NULL",
        &[Bind::instant(now), Bind::int(coop), Bind::id(person), Bind::id(kept)],
    )
    .map(drop)
}

/// Forgets a person's tokens whose time has passed.
pub fn forget_expired(
    conn: &mut Conn,
    coop: i64,
    person: Uuid,
    now: i64,
) -> Result<(), StoreError> {
    conn.exec(
        "DELETE FROM sessions WHERE coop_id = ? AND person_id = ? AND expires_at <= ?",
        &[Bind::int(coop), Bind::id(person), Bind::instant(now)],
    )?;
    sign_ins::forget(conn, coop, person)?;
    conn.exec(
        "DELETE FROM sign_in_people WHERE coop_id = ? AND NOT EXISTS (SELECT 1 FROM sign_ins i \
         WHERE i.coop_id = ? AND i.family_id = sign_in_people.family_id)",
        &[Bind::int(coop), Bind::int(coop)],
    )?;
    conn.exec(
        "DELETE FROM invitations WHERE coop_id = ? AND person_id = ? AND expires_at <= ?",
        &[Bind::int(coop), Bind::id(person), Bind::instant(now)],
    )
    .map(drop)
}

/// A sign-in that holds: its co-operative and its person, as they are now.
#[derive(Clone, Debug, PartialEq)]
pub struct SignedIn {
    pub cooperative: Record,
    pub person: Record,
    /// When the sign-in began and was seen last, milliseconds.
    pub begun_at: i64,
    pub seen_at: i64,
    /// When a second factor was proved in it.
    pub proved_at: Option<i64>,
    /// Whether the person has a second factor.
    pub has_second: bool,
    /// When somebody else reset the person's sign-in, and who; until the person has seen it.
    pub notice: Option<(i64, String)>,
}

/// Whom a sign-in stands for; none where it was ended, or where there is no such person.
pub fn signed_in(
    conn: &mut Conn,
    family: Uuid,
    (coop, cooperative, person): (i64, Uuid, Uuid),
) -> Result<Option<SignedIn>, StoreError> {
    let (of_coop, of_person) = (Kind::Cooperative, Kind::Person);
    let sql = format!(
        "SELECT (SELECT CAST(MAX(CASE WHEN s.ended_at IS NULL THEN 0 ELSE 1 END) AS BIGINT) \
           FROM sessions s WHERE s.coop_id = ? AND s.family_id = ?), i.begun_at, i.seen_at, i.proved_at, \
           f.confirmed_at, n.at, n.by_name, {}, {} \
         FROM cooperatives c JOIN people p ON p.coop_id = c.coop_id AND p.id = ? \
         JOIN sign_ins i ON i.family_id = ? AND i.coop_id = p.coop_id AND i.person_id = p.id \
         LEFT JOIN second_factors f ON f.coop_id = p.coop_id AND f.person_id = p.id \
         LEFT JOIN sign_in_notices n ON n.coop_id = p.coop_id AND n.person_id = p.id \
         WHERE c.coop_id = ? AND c.id = ?",
        records::columns(of_coop, "c"),
        records::columns(of_person, "p"),
    );
    let binds = [
        Bind::int(coop),
        Bind::id(family),
        Bind::id(person),
        Bind::id(family),
        Bind::int(coop),
        Bind::id(cooperative),
    ];
    let width = records::types(of_coop).len();
    let types: Vec<ColumnType> = std::iter::once(ColumnType::Int)
        .chain([ColumnType::Instant; 5])
        .chain(std::iter::once(ColumnType::Text))
        .chain(records::types(of_coop).iter().copied())
        .chain(records::types(of_person).iter().copied())
        .collect();
    let Some(mut row) = conn.row(&sql, &binds, &types)? else { return Ok(None) };
    let person = records::record(row.split_off(7 + width))?;
    let cooperative = records::record(row.split_off(7))?;
    // Once one of its tokens was ended the whole sign-in is, even if a refresh slipped in beside.
    let [ended, begun, seen, proved, confirmed, noticed, by] = row.as_slice() else {
        return Ok(None);
    };
    let (Value::Int(0), Some(begun_at), Some(seen_at)) =
        (ended, begun.as_instant(), seen.as_instant())
    else {
        return Ok(None);
    };
    Ok(Some(SignedIn {
        cooperative,
        person,
        begun_at,
        seen_at,
        proved_at: proved.as_instant(),
        has_second: confirmed.as_instant().is_some(),
        notice: noticed.as_instant().zip(by.as_text().map(str::to_owned)),
    }))
}

/// The areas of an officer with everything below them.
pub fn officer_areas(conn: &mut Conn, coop: i64, person: Uuid) -> Result<Vec<Uuid>, StoreError> {
    let columns = columns!("accounts::officer_areas" { id: Uuid } => id);
    let sql = format!(
        "WITH RECURSIVE own(id) AS (SELECT area_id FROM officer_areas WHERE coop_id = ? AND \
           person_id = ? AND withdrawn_at IS NULL UNION SELECT a.id FROM areas a \
           JOIN own ON a.parent_id = own.id WHERE a.coop_id = ? AND a.withdrawn_at IS NULL) \
         SELECT {columns} FROM own ORDER BY id"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::id(person), Bind::int(coop)])
}
