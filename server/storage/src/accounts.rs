//! Accounts, passwords, invitations and sessions. They stand above the co-operatives.

use crate::conn::{Bind, Conn, Row};
use crate::error::StoreError;
use traybook_domain::{ColumnType, Value};
use uuid::Uuid;

/// The account of a login (an e-mail address or telephone number), with its password hash.
///
/// # Errors
/// Those of the database.
pub fn find(conn: &mut Conn, login: &str) -> Result<Option<(Uuid, Option<String>)>, StoreError> {
    let row = conn.row(
        "SELECT a.account_id, p.hash FROM accounts a LEFT JOIN passwords p \
         ON p.account_id = a.account_id WHERE a.login = ?",
        &[Bind::text(login)],
        &[ColumnType::Id, ColumnType::Text],
    )?;
    Ok(row.and_then(|r| {
        let id = r.first()?.as_id()?;
        Some((id, r.get(1).and_then(Value::as_text).map(str::to_owned)))
    }))
}

/// The logins of an account.
///
/// # Errors
/// Those of the database.
pub fn logins(conn: &mut Conn, account: Uuid) -> Result<Vec<String>, StoreError> {
    let rows = conn.rows(
        "SELECT login FROM accounts WHERE account_id = ? ORDER BY login",
        &[Bind::id(account)],
        &[ColumnType::Text],
    )?;
    Ok(rows.iter().filter_map(|r| r.first()?.as_text().map(str::to_owned)).collect())
}

/// Makes a login lead to an account, unless it leads to one already.
///
/// # Errors
/// Those of the database.
pub fn add_login(conn: &mut Conn, login: &str, account: Uuid, now: i64) -> Result<(), StoreError> {
    conn.exec(
        "INSERT INTO accounts (login, account_id, created_at) VALUES (?, ?, ?) \
         ON CONFLICT (login) DO NOTHING",
        &[Bind::text(login), Bind::id(account), Bind::instant(now)],
    )
    .map(drop)
}

/// Sets an account's password hash.
///
/// # Errors
/// Those of the database.
pub fn set_password(
    conn: &mut Conn,
    account: Uuid,
    hash: &str,
    now: i64,
) -> Result<(), StoreError> {
    conn.exec(
        "INSERT INTO passwords (account_id, hash, changed_at) VALUES (?, ?, ?) \
         ON CONFLICT (account_id) DO UPDATE SET hash = excluded.hash, \
         changed_at = excluded.changed_at",
        &[Bind::id(account), Bind::text(hash), Bind::instant(now)],
    )
    .map(drop)
}

/// A person who may sign in: co-operative and person.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Membership {
    /// Short number of the co-operative.
    pub coop: i64,
    /// Id of the co-operative.
    pub cooperative: Uuid,
    /// The person there.
    pub person: Uuid,
}

/// The active people, in all co-operatives, who have one of the account's logins.
///
/// # Errors
/// Those of the database.
pub fn memberships(conn: &mut Conn, account: Uuid) -> Result<Vec<Membership>, StoreError> {
    let mut all: Vec<Membership> = Vec::new();
    for login in logins(conn, account)? {
        for column in ["email", "phone"] {
            let sql = format!(
                "SELECT p.coop_id, c.id, p.id FROM people p JOIN cooperatives c \
                 ON c.coop_id = p.coop_id WHERE p.{column} = ? AND p.withdrawn_at IS NULL AND \
                 c.withdrawn_at IS NULL AND p.active ORDER BY p.coop_id, p.id"
            );
            let types = [ColumnType::Int, ColumnType::Id, ColumnType::Id];
            for row in conn.rows(&sql, &[Bind::text(&*login)], &types)? {
                let found = membership(&row);
                all.extend(found.filter(|m| !all.contains(m)));
            }
        }
    }
    Ok(all)
}

fn membership(row: &Row) -> Option<Membership> {
    Some(Membership {
        coop: row.first()?.as_int()?,
        cooperative: row.get(1)?.as_id()?,
        person: row.get(2)?.as_id()?,
    })
}

/// The short number of a co-operative.
///
/// # Errors
/// Those of the database.
pub fn coop_number(conn: &mut Conn, cooperative: Uuid) -> Result<Option<i64>, StoreError> {
    let sql = "SELECT coop_id FROM cooperatives WHERE id = ?";
    let row = conn.row(sql, &[Bind::id(cooperative)], &[ColumnType::Int])?;
    Ok(row.and_then(|r| r.first()?.as_int()))
}

/// All co-operatives: number and id.
///
/// # Errors
/// Those of the database.
pub fn cooperatives(conn: &mut Conn) -> Result<Vec<(i64, Uuid)>, StoreError> {
    let sql = "SELECT coop_id, id FROM cooperatives WHERE withdrawn_at IS NULL ORDER BY coop_id";
    let rows = conn.rows(sql, &[], &[ColumnType::Int, ColumnType::Id])?;
    Ok(rows.iter().filter_map(|r| Some((r.first()?.as_int()?, r.get(1)?.as_id()?))).collect())
}

/// Keeps an invitation; only the hash of its code is stored.
///
/// # Errors
/// Those of the database.
pub fn invite(
    conn: &mut Conn,
    code_hash: &str,
    coop: i64,
    person: Uuid,
    expires_at: i64,
) -> Result<(), StoreError> {
    conn.exec(
        "INSERT INTO invitations (code_hash, coop_id, person_id, expires_at, used_at) \
         VALUES (?, ?, ?, ?, NULL)",
        &[Bind::text(code_hash), Bind::int(coop), Bind::id(person), Bind::instant(expires_at)],
    )
    .map(drop)
}

/// Whom an invitation is for, if it is there, unused and in time.
///
/// # Errors
/// Those of the database.
pub fn invited(
    conn: &mut Conn,
    code_hash: &str,
    now: i64,
) -> Result<Option<(i64, Uuid)>, StoreError> {
    let row = conn.row(
        "SELECT coop_id, person_id FROM invitations WHERE code_hash = ? AND used_at IS NULL AND \
         expires_at > ?",
        &[Bind::text(code_hash), Bind::instant(now)],
        &[ColumnType::Int, ColumnType::Id],
    )?;
    Ok(row.and_then(|r| Some((r.first()?.as_int()?, r.get(1)?.as_id()?))))
}

/// Uses an invitation up; whose it was, if it was there, unused and in time.
///
/// # Errors
/// Those of the database.
pub fn use_invitation(
    conn: &mut Conn,
    code_hash: &str,
    now: i64,
) -> Result<Option<(i64, Uuid)>, StoreError> {
    let found = invited(conn, code_hash, now)?;
    let used = conn.exec(
        "UPDATE invitations SET used_at = ? WHERE code_hash = ? AND used_at IS NULL",
        &[Bind::instant(now), Bind::text(code_hash)],
    )?;
    Ok(found.filter(|_| used == 1))
}

/// A refresh token as stored.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Session {
    /// SHA-256 of the token.
    pub token_hash: String,
    /// All tokens that came from one sign-in.
    pub family: Uuid,
    /// Co-operative.
    pub coop: i64,
    /// Person.
    pub person: Uuid,
    /// Account.
    pub account: Uuid,
    /// End of its life.
    pub expires_at: i64,
    /// When it was exchanged for the next one.
    pub used_at: Option<i64>,
    /// When the family was ended.
    pub ended_at: Option<i64>,
}

/// Keeps a new refresh token.
///
/// # Errors
/// Those of the database.
pub fn add_session(conn: &mut Conn, session: &Session) -> Result<(), StoreError> {
    conn.exec(
        "INSERT INTO sessions (token_hash, family_id, coop_id, person_id, account_id, expires_at, \
         used_at, ended_at) VALUES (?, ?, ?, ?, ?, ?, NULL, NULL)",
        &[
            Bind::text(&*session.token_hash),
            Bind::id(session.family),
            Bind::int(session.coop),
            Bind::id(session.person),
            Bind::id(session.account),
            Bind::instant(session.expires_at),
        ],
    )
    .map(drop)
}

/// Finds a refresh token by its hash.
///
/// # Errors
/// Those of the database.
pub fn session(conn: &mut Conn, token_hash: &str) -> Result<Option<Session>, StoreError> {
    use ColumnType::{Id, Instant, Int, Text};
    let row = conn.row(
        "SELECT token_hash, family_id, coop_id, person_id, account_id, expires_at, used_at, \
         ended_at FROM sessions WHERE token_hash = ?",
        &[Bind::text(token_hash)],
        &[Text, Id, Int, Id, Id, Instant, Instant, Instant],
    )?;
    Ok(row.and_then(|r| {
        Some(Session {
            token_hash: r.first()?.as_text()?.to_owned(),
            family: r.get(1)?.as_id()?,
            coop: r.get(2)?.as_int()?,
            person: r.get(3)?.as_id()?,
            account: r.get(4)?.as_id()?,
            expires_at: r.get(5)?.as_instant()?,
            used_at: r.get(6)?.as_instant(),
            ended_at: r.get(7)?.as_instant(),
        })
    }))
}

/// Marks a refresh token as exchanged; false when it was already.
///
/// # Errors
/// Those of the database.
pub fn use_session(conn: &mut Conn, token_hash: &str, now: i64) -> Result<bool, StoreError> {
    let done = conn.exec(
        "UPDATE sessions SET used_at = ? WHERE token_hash = ? AND used_at IS NULL AND \
         ended_at IS NULL",
        &[Bind::instant(now), Bind::text(token_hash)],
    )?;
    Ok(done == 1)
}

/// Ends all tokens of a sign-in.
///
/// # Errors
/// Those of the database.
pub fn end_family(conn: &mut Conn, family: Uuid, now: i64) -> Result<(), StoreError> {
    conn.exec(
        "UPDATE sessions SET ended_at = ? WHERE family_id = ? AND ended_at IS NULL",
        &[Bind::instant(now), Bind::id(family)],
    )
    .map(drop)
}

/// Ends all sign-ins of an account, as after a new password.
///
/// # Errors
/// Those of the database.
pub fn end_account(conn: &mut Conn, account: Uuid, now: i64) -> Result<(), StoreError> {
    conn.exec(
        "UPDATE sessions SET ended_at = ? WHERE account_id = ? AND ended_at IS NULL",
        &[Bind::instant(now), Bind::id(account)],
    )
    .map(drop)
}

/// Whether the tokens of a sign-in still hold.
///
/// # Errors
/// Those of the database.
pub fn family_holds(conn: &mut Conn, family: Uuid) -> Result<bool, StoreError> {
    let row = conn.row(
        "SELECT coop_id FROM sessions WHERE family_id = ? AND ended_at IS NULL LIMIT 1",
        &[Bind::id(family)],
        &[ColumnType::Int],
    )?;
    Ok(row.is_some())
}
