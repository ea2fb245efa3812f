//! Erasing what is personal of a member who left. The figures stay, under the number.

use super::{held, reports};
use crate::error::AppError;
use crate::people::security::{self, Note};
use crate::records::{Txn, clean_reason, find_visible};
use crate::{Actor, App};
use traybook_answers::people::privacy::Erased;
use traybook_answers::people::security::SecurityEvent;
use traybook_domain::Kind;
use traybook_domain::kinds::Member;
use traybook_domain::people::authz::Task;
use traybook_domain::record::Record as _;
use traybook_domain::records::personal::{emptied, is_personal};
use traybook_domain::value::Value;
use traybook_storage::records::Record;
use traybook_storage::{people::accounts, records::photos, savings::months, texts};
use uuid::Uuid;

/// Letters of the id that stand in an erased account's code.
const CODE_LETTERS: usize = 12;

impl App {
    /// Empties name, telephone, places, pictures and all free texts of a member, in every version,
    /// in the account and in the reports of closed months. Figures stay, under the membership
    /// number. The member must have left.
    ///
    /// # Errors
    /// `Forbidden`, `NotFound`; `Invalid` for another number, and for a member who has not left.
    pub async fn erase_member(
        &self,
        actor: &Actor,
        member: Uuid,
        number: &str,
        reason: &str,
    ) -> Result<Erased, AppError> {
        actor.task(Task::EraseMember)?;
        actor.prove()?;
        let reason = clean_reason(reason).map_err(|e| e.of_field("reason"))?;
        let number = number.trim().to_owned();
        let (by, now) = (actor.clone(), self.now().0);
        let erased = self.change(actor, move |txn| {
            let erased = erase(txn, member, &number)?;
            let note = Note::new(SecurityEvent::MemberErased).by(&by).about(member).detail(&reason);
            security::add(txn.conn(), by.coop.number, &note, now)?;
            Ok(erased)
        });
        let erased = erased.await?;
        // The kept reports of open months, findings and figures named the member: they are made anew.
        self.make_figures_now(&actor.coop).await?;
        Ok(erased)
    }
}

fn erase(txn: &mut Txn<'_, '_>, member: Uuid, number: &str) -> Result<Erased, AppError> {
    let visible = txn.actor().task(Task::EraseMember)?;
    let actor = txn.actor();
    let found = find_visible(txn.conn(), actor, Kind::Member, member, &visible)?;
    let of = Member::from_values(&found.values).ok_or(AppError::NotFound)?;
    if of.number != number {
        let detail = "give the number of this member, to be sure that it is the right one";
        return Err(AppError::field("member_number", "different", detail));
    }
    if of.left_on.is_none() {
        let detail = "the member has not left: write down the day of leaving first";
        return Err(AppError::field("left_on", "required", detail));
    }
    let coop = txn.coop();
    let mut all: Vec<(Kind, Record)> = Vec::new();
    held(txn.conn(), coop, &found, |_, kind, records| {
        all.extend(records.into_iter().map(|record| (kind, record)));
        Ok(())
    })?;
    let mut erased = Erased::default();
    for (kind, record) in &all {
        one(txn, *kind, record, &of.number, &mut erased)?;
    }
    texts::forget_member(txn.conn(), coop, member)?;
    for (month, ..) in months::list(txn.conn(), coop)? {
        let close = months::find(txn.conn(), coop, month)?;
        if let Some(without) = close.and_then(|close| reports::without_name(&close, member)) {
            months::rewrite(txn.writing(), &without)?;
            erased.closed_months += 1;
        }
    }
    Ok(erased)
}

/// Empties one record.
fn one(
    txn: &mut Txn<'_, '_>,
    kind: Kind,
    record: &Record,
    number: &str,
    erased: &mut Erased,
) -> Result<(), AppError> {
    let mut values = emptied(kind, &record.values, number);
    let mut withdrawn_at = record.withdrawn_at;
    match kind {
        Kind::Person => {
            // Files name people by code, and a code is often made of the name.
            let code: String = record.id.simple().to_string().chars().take(CODE_LETTERS).collect();
            set(kind, &mut values, "code", Value::Text(code));
            let coop = txn.coop();
            accounts::forget_account(txn.conn(), coop, record.id)?;
            withdrawn_at = withdrawn_at.or(Some(txn.now().0));
            erased.accounts += 1;
        }
        Kind::Photo => {
            erased.pictures += usize::from(photos::forget(txn.writing(), record.id)?);
            withdrawn_at = withdrawn_at.or(Some(txn.now().0));
        }
        _ if record.version == 1 && !kind.spec().fields.iter().any(|f| is_personal(kind, f)) => {
            return Ok(());
        }
        _ => {}
    }
    let done = txn.empty(kind, record, values, withdrawn_at, number)?;
    erased.records += usize::from(done.is_new);
    erased.versions += done.versions;
    Ok(())
}

fn set(kind: Kind, values: &mut [Value], field: &str, value: Value) {
    let slot = kind.spec().index(field).and_then(|index| values.get_mut(index));
    if let Some(slot) = slot {
        *slot = value;
    }
}
