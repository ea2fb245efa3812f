//! A copy of everything that is held about a member.

use super::held;
use crate::error::AppError;
use crate::records::{find_visible, versions};
use crate::{Actor, App};
use std::collections::BTreeMap;
use traybook_answers::people::privacy::{HeldAccount, HeldRecord, HeldSession, PersonalCopy};
use traybook_answers::wire::{self, Time};
use traybook_domain::Kind;
use traybook_domain::kinds::Member;
use traybook_domain::people::authz::Task;
use traybook_domain::record::Record as _;
use traybook_domain::value::Instant;
use traybook_storage::records::Record;
use traybook_storage::{Conn, people::accounts, savings::months, texts};
use uuid::Uuid;

impl App {
    /// Everything that is held about a member: for the manager, and for the member.
    ///
    /// # Errors
    /// `Forbidden`; `NotFound` for a member out of reach.
    pub async fn personal_copy(
        &self,
        actor: &Actor,
        member: Uuid,
    ) -> Result<PersonalCopy, AppError> {
        let visible = actor.task(Task::PersonalCopy)?;
        let (actor, now) = (actor.clone(), self.now());
        self.store
            .read(move |conn| {
                let found = find_visible(conn, &actor, Kind::Member, member, &visible)?;
                copy(conn, &actor, &found, now)
            })
            .await
    }
}

fn copy(
    conn: &mut Conn,
    actor: &Actor,
    found: &Record,
    now: Instant,
) -> Result<PersonalCopy, AppError> {
    let (coop, digits) = (actor.coop.number, actor.coop.digits);
    let member = Member::from_values(&found.values).ok_or(AppError::NotFound)?;
    let mut all: Vec<(Kind, Record)> = Vec::new();
    held(conn, coop, found, |_, kind, records| {
        all.extend(records.into_iter().map(|record| (kind, record)));
        Ok(())
    })?;
    let (mut records, mut pictures, mut accounts) =
        (BTreeMap::<String, Vec<HeldRecord>>::new(), Vec::new(), Vec::new());
    for (kind, record) in &all {
        let versions = versions(conn, coop, digits, *kind, record)?;
        let withdrawn_at = record.withdrawn_at.map(|at| Time(Instant(at)));
        let held = HeldRecord { id: record.id, withdrawn_at, versions };
        records.entry(kind.spec().one.to_owned()).or_default().push(held);
        match kind {
            Kind::Photo => pictures.push(record.id),
            Kind::Person => accounts.push(account(conn, coop, record.id, now)?),
            _ => {}
        }
    }
    let mut closed_months = Vec::new();
    for (month, ..) in months::list(conn, coop)? {
        let closed = months::find(conn, coop, month)?;
        let id = found.id.to_string();
        if closed.is_some_and(|closed| closed.report_json.contains(&id)) {
            closed_months.push(wire::Month(month));
        }
    }
    Ok(PersonalCopy {
        cooperative: actor.coop.name.clone(),
        made_at: Time(now),
        member_id: found.id,
        member_number: member.number,
        records,
        accounts,
        pictures,
        closed_months,
        text_numbers: texts::links_of(conn, coop, found.id)?
            .into_iter()
            .map(|l| l.number)
            .collect(),
    })
}

fn account(
    conn: &mut Conn,
    coop: i64,
    person: Uuid,
    now: Instant,
) -> Result<HeldAccount, AppError> {
    let sessions = accounts::standing_sessions(conn, coop, person, now.0)?;
    let session =
        |(id, expires_at): (Uuid, i64)| HeldSession { id, expires_at: Time(Instant(expires_at)) };
    let set_at = accounts::password_set_at(conn, coop, person)?;
    Ok(HeldAccount {
        person_id: person,
        password_set_at: set_at.map(|at| Time(Instant(at))),
        sessions: sessions.into_iter().map(session).collect(),
    })
}
