//! Passkeys of people, and what they were asked to sign.

use crate::columns::{Instant, columns};
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use uuid::Uuid;

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Passkey {
    pub id: Uuid,
    /// What its owner calls it.
    pub name: String,
    /// Its public key and what else there is to know, as JSON.
    pub body: String,
    /// When it was added, milliseconds.
    pub made_at: i64,
    /// When it was used last.
    pub used_at: Option<i64>,
}

/// What a challenge is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// Adding a passkey.
    Add,
    /// Proving the second factor.
    Use,
}

impl Purpose {
    const fn text(self) -> &'static str {
        match self {
            Self::Add => "add",
            Self::Use => "use",
        }
    }
}

/// A person's passkeys, the oldest first.
pub fn of_person(conn: &mut Conn, (coop, person): (i64, Uuid)) -> Result<Vec<Passkey>, StoreError> {
    let columns = columns!("passkeys::of_person" {
        id: Uuid,
        name: String,
        body: String,
        made_at: Instant,
        used_at: Option<Instant>,
    } => Passkey { id, name, body, made_at, used_at });
    let sql = format!(
        "SELECT {columns} FROM passkeys WHERE coop_id = ? AND person_id = ? ORDER BY made_at, id"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::id(person)])
}

/// Keeps a new passkey; `false` where the co-operative has it already. What its counter said stands
/// in its body; the column follows from the first use on.
pub fn add(
    conn: &mut Conn,
    (coop, person): (i64, Uuid),
    new: &Passkey,
    credential: &str,
) -> Result<bool, StoreError> {
    let added = conn.exec(
        "INSERT INTO passkeys (coop_id, id, person_id, credential, name, body, counter, made_at) \
         VALUES (?, ?, ?, ?, ?, ?, 0, ?) ON CONFLICT (coop_id, credential) DO NOTHING",
        &[
            Bind::int(coop),
            Bind::id(new.id),
            Bind::id(person),
            Bind::text(credential),
            Bind::text(&*new.name),
            Bind::text(&*new.body),
            Bind::instant(new.made_at),
        ],
    )?;
    Ok(added == 1)
}

/// Keeps what a passkey said when it was used. `false` where it is gone, or where its counter does
/// not go on from the last one: then two hold the same key. Keys that count nothing say 0 always.
pub fn used(
    conn: &mut Conn,
    (coop, person): (i64, Uuid),
    key: &Passkey,
    counter: i64,
    now: i64,
) -> Result<bool, StoreError> {
    let changed = conn.exec(
        "UPDATE passkeys SET body = ?, counter = ?, used_at = ? WHERE coop_id = ? AND \
         person_id = ? AND id = ? AND (counter < ? OR (counter = 0 AND ? = 0))",
        &[
            Bind::text(&*key.body),
            Bind::int(counter),
            Bind::instant(now),
            Bind::int(coop),
            Bind::id(person),
            Bind::id(key.id),
            Bind::int(counter),
            Bind::int(counter),
        ],
    )?;
    Ok(changed == 1)
}

/// Takes one of a person's passkeys away; whether it was there.
pub fn end(conn: &mut Conn, (coop, person): (i64, Uuid), id: Uuid) -> Result<bool, StoreError> {
    let sql = "DELETE FROM passkeys WHERE coop_id = ? AND person_id = ? AND id = ?";
    Ok(conn.exec(sql, &[Bind::int(coop), Bind::id(person), Bind::id(id)])? == 1)
}

/// Takes all of a person's passkeys away, with what they were asked; how many.
pub fn end_all(conn: &mut Conn, (coop, person): (i64, Uuid)) -> Result<usize, StoreError> {
    let whose = [Bind::int(coop), Bind::id(person)];
    conn.exec("DELETE FROM passkey_challenges WHERE coop_id = ? AND person_id = ?", &whose)?;
    conn.exec("DELETE FROM passkeys WHERE coop_id = ? AND person_id = ?", &whose)
}

/// A challenge that waits for its answer.
#[derive(Clone, Debug)]
pub struct Challenge {
    pub id: Uuid,
    /// What it is for.
    pub purpose: Purpose,
    /// What the answer is checked against.
    pub state: String,
    /// When its time is over, milliseconds.
    pub expires_at: i64,
}

/// Keeps a challenge. Of a person so many wait at most: the oldest go, and those that are over.
pub fn ask(
    conn: &mut Conn,
    (coop, person): (i64, Uuid),
    new: &Challenge,
    (now, most): (i64, usize),
) -> Result<(), StoreError> {
    conn.exec(
        "DELETE FROM passkey_challenges WHERE coop_id = ? AND person_id = ? AND expires_at <= ?",
        &[Bind::int(coop), Bind::id(person), Bind::instant(now)],
    )?;
    let columns = columns!("passkeys::ask" { id: Uuid } => id);
    let sql = format!(
        "SELECT {columns} FROM passkey_challenges WHERE coop_id = ? AND person_id = ? \
         ORDER BY expires_at DESC, id"
    );
    let waiting = conn.select(&columns, &sql, &[Bind::int(coop), Bind::id(person)])?;
    for old in waiting.into_iter().skip(most.saturating_sub(1)) {
        let sql = "DELETE FROM passkey_challenges WHERE coop_id = ? AND id = ?";
        conn.exec(sql, &[Bind::int(coop), Bind::id(old)])?;
    }
    conn.exec(
        "INSERT INTO passkey_challenges (coop_id, id, person_id, purpose, state, expires_at) \
         VALUES (?, ?, ?, ?, ?, ?)",
        &[
            Bind::int(coop),
            Bind::id(new.id),
            Bind::id(person),
            Bind::text(new.purpose.text()),
            Bind::text(&*new.state),
            Bind::instant(new.expires_at),
        ],
    )
    .map(drop)
}

/// Takes a challenge, which is used up; none where it is not this person's, was answered or is over.
pub fn take(
    conn: &mut Conn,
    (coop, person): (i64, Uuid),
    (id, purpose): (Uuid, Purpose),
    now: i64,
) -> Result<Option<String>, StoreError> {
    let columns = columns!("passkeys::take" { state: String } => state);
    let sql = format!(
        "SELECT {columns} FROM passkey_challenges WHERE coop_id = ? AND person_id = ? AND id = ? \
         AND purpose = ? AND expires_at > ?"
    );
    let whose = [Bind::int(coop), Bind::id(person), Bind::id(id)];
    let binds = [&whose[..], &[Bind::text(purpose.text()), Bind::instant(now)]].concat();
    let state = conn.select_one(&columns, &sql, &binds)?;
    let sql = "DELETE FROM passkey_challenges WHERE coop_id = ? AND person_id = ? AND id = ?";
    let was_there = conn.exec(sql, &whose)? == 1;
    Ok(state.filter(|_| was_there))
}
