//! A device's queue of changes, each answered on its own.

use super::changes::life;
use super::represent::Presenter;
use super::txn::{REASON, Txn, Written, clean_reason, find_visible};
use crate::error::AppError;
use crate::records::single::read_id;
use crate::{Actor, App};
use serde_json::Value as Json;
use std::sync::Arc;
use traybook_answers::records::{Life, SyncMutation, SyncOperation};
use traybook_answers::wire::AnyRecord;
use traybook_domain::limits::SLICE;
use traybook_domain::people::authz::{Action, Task};
use traybook_domain::{FieldError, Kind};
use uuid::Uuid;

/// What became of a change.
#[derive(Clone, Debug)]
pub enum Outcome {
    /// It is on disk.
    Done {
        /// The record's version now.
        version: i64,
    },
    /// It had been done before.
    AlreadyDone {
        /// The record's version now.
        version: i64,
    },
    /// The record has changed meanwhile: a person must choose.
    Conflict {
        /// Stable code.
        code: &'static str,
        detail: String,
        /// The record as it is now, if the person may see it.
        current: Option<AnyRecord>,
    },
    /// It can not be done as it is.
    Refused {
        /// Stable code.
        code: &'static str,
        /// What to do, for each field.
        errors: Vec<FieldError>,
    },
}

impl App {
    /// Carries out a queue of changes in the order given, a slice a transaction, so that others have
    /// their turn between; one bad change does not stop the others. Sending the same queue again is
    /// harmless.
    ///
    /// # Errors
    /// `Forbidden`; those of the store, after which the queue can be sent again.
    pub async fn sync(
        &self,
        actor: &Actor,
        mutations: Vec<SyncMutation>,
    ) -> Result<(Vec<Outcome>, Life), AppError> {
        actor.task(Task::Sync)?;
        let _turn = match mutations.len() {
            0..=SLICE => None,
            _ => Some(self.store.large_turn(actor.coop.number).await?),
        };
        let mutations = Arc::new(mutations);
        let (mut all, mut life) = (Vec::<Outcome>::with_capacity(mutations.len()), None);
        while all.len() < mutations.len() {
            let (outcomes, of) = self.slice(actor, Arc::clone(&mutations), all.len()).await?;
            all.extend(outcomes);
            life = Some(of);
        }
        match life {
            Some(life) => Ok((all, life)),
            None => Ok((all, self.life(actor).await?)),
        }
    }

    async fn slice(
        &self,
        actor: &Actor,
        mutations: Arc<Vec<SyncMutation>>,
        from: usize,
    ) -> Result<(Vec<Outcome>, Life), AppError> {
        let (who, now, store) = (actor.clone(), self.now(), self.store.clone());
        self.change(actor, move |txn| {
            let mut outcomes = Vec::new();
            for mutation in mutations.iter().skip(from) {
                let outcome = match one(txn, mutation) {
                    Ok(outcome) => outcome,
                    Err(error) => refusal(txn, &who, mutation, error, now)?,
                };
                outcomes.push(outcome);
                if txn.is_over(outcomes.len(), &store) {
                    break;
                }
            }
            Ok((outcomes, life(txn.counters())))
        })
        .await
    }
}

fn one(txn: &mut Txn<'_, '_>, m: &SyncMutation) -> Result<Outcome, AppError> {
    let (kind, id) = target(m)?;
    let version = || {
        m.version.map(|v| i64::from(v.get())).ok_or_else(|| {
            AppError::field("version", "required", "give the version that the device had")
        })
    };
    let written = match m.operation {
        SyncOperation::Create => txn.create(kind, id, &m.body)?,
        SyncOperation::Correct => {
            let mut patch = m.body.clone();
            if let Some(reason) = &m.reason {
                patch.insert(REASON.to_owned(), Json::from(reason.as_str()));
            }
            txn.correct(kind, id, version()?, &patch)?
        }
        SyncOperation::Withdraw => {
            let reason = m.reason.as_deref().map(clean_reason).transpose()?;
            txn.withdraw(kind, id, version()?, reason)?
        }
    };
    Ok(match written {
        Written::Now(r) => Outcome::Done { version: r.version },
        Written::Before(r) => Outcome::AlreadyDone { version: r.version },
    })
}

fn target(m: &SyncMutation) -> Result<(Kind, Uuid), AppError> {
    let kind = Kind::from_one(&m.kind).filter(|k| *k != Kind::Cooperative);
    let kind = kind.ok_or_else(|| {
        AppError::field("kind", "choice", "give a kind of record, such as milk_record")
    })?;
    Ok((kind, read_id(&Json::from(m.id.as_str()))?))
}

/// What a device is told of a change that failed. Failures of the store stop the whole queue.
fn refusal(
    txn: &mut Txn<'_, '_>,
    actor: &Actor,
    m: &SyncMutation,
    error: AppError,
    now: traybook_domain::value::Instant,
) -> Result<Outcome, AppError> {
    let (code, detail) = match error {
        AppError::Invalid(errors) => return Ok(Outcome::Refused { code: "invalid", errors }),
        AppError::Forbidden => return Ok(refused("forbidden")),
        AppError::ProofNeeded => return Ok(refused("proof_needed")),
        AppError::NotFound => return Ok(refused("not_found")),
        AppError::Stale { current } => {
            let detail = format!("the record is at version {current}; look at both and choose");
            ("stale", detail)
        }
        AppError::Conflict { code, detail } => (code, detail),
        other => return Err(other),
    };
    let current = match target(m) {
        Ok((kind, id)) => current(txn, actor, kind, id, now)?,
        Err(_) => None,
    };
    Ok(Outcome::Conflict { code, detail, current })
}

fn refused(code: &'static str) -> Outcome {
    Outcome::Refused { code, errors: Vec::new() }
}

fn current(
    txn: &mut Txn<'_, '_>,
    actor: &Actor,
    kind: Kind,
    id: Uuid,
    now: traybook_domain::value::Instant,
) -> Result<Option<AnyRecord>, AppError> {
    let Ok(visible) = actor.visible(Action::Read, kind) else { return Ok(None) };
    match find_visible(txn.conn(), actor, kind, id, &visible) {
        Ok(record) => {
            let show = Presenter::new(&actor.coop, now);
            show.one(txn.conn(), kind, record).map(|json| Some(AnyRecord(json)))
        }
        Err(AppError::NotFound) => Ok(None),
        Err(other) => Err(other),
    }
}
