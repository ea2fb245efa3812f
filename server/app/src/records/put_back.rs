//! A record that was taken back counts again: taking back by mistake loses nothing.

use super::txn::Txn;
use crate::error::AppError;
use crate::{Actor, App};
use traybook_domain::people::authz::{Action, Task};
use traybook_domain::{Kind, Value};
use traybook_storage::records::{self, Filter, Visible};
use uuid::Uuid;

/// What comes back with a batch: what happened to it first, since the others may name that.
const COME_BACK: [Kind; 5] =
    [Kind::BatchEvent, Kind::WorkRecord, Kind::CorrectionRequest, Kind::Flag, Kind::Photo];
/// Records of one kind that fell with a batch.
const FALLEN_MAX: usize = 10_000;

impl App {
    /// Undoes a withdrawal. With a batch comes back what fell with it. People and officers' areas
    /// stay withdrawn: they are made anew.
    ///
    /// # Errors
    /// `Forbidden`, `NotFound`, `Stale`; `Invalid` and `Conflict` where the record no longer fits
    /// the others.
    pub async fn put_back(
        &self,
        actor: &Actor,
        kind: Kind,
        id: Uuid,
        version: i64,
    ) -> Result<(), AppError> {
        if matches!(kind, Kind::Person | Kind::OfficerArea) {
            return Err(AppError::Forbidden);
        }
        let visible = match kind {
            Kind::Batch => actor.task(Task::TakeBackBatch)?,
            _ => actor.visible(Action::Withdraw, kind)?,
        };
        let number = actor.coop.number;
        self.change(actor, move |txn| {
            let fallen = txn.find_visible(kind, id, &visible)?.withdrawn_at;
            txn.put_back(kind, id, version, &visible)?;
            match fallen {
                Some(at) if kind == Kind::Batch => rise(txn, number, (kind, id), at),
                _ => Ok(()),
            }
        })
        .await
    }
}

/// Puts back what fell with a record: what names it and was withdrawn at the same instant.
fn rise(
    txn: &mut Txn<'_, '_>,
    number: i64,
    (kind, id): (Kind, Uuid),
    at: i64,
) -> Result<(), AppError> {
    for of in COME_BACK {
        for (field, _, to) in of.spec().refs() {
            if to != kind {
                continue;
            }
            let equals = vec![(field, Value::Id(id))];
            let filter = Filter { equals, withdrawn: true, ..Filter::default() };
            let all = Visible::All;
            let found = records::page(txn.conn(), number, of, &all, &filter, None, FALLEN_MAX)?;
            let mut fell: Vec<_> =
                found.into_iter().filter(|r| r.withdrawn_at == Some(at)).collect();
            let when = |r: &records::Record| {
                let at = of.spec().date.map(|date| of.spec().get(&r.values, date).as_instant());
                (at.flatten(), r.id)
            };
            fell.sort_by_key(when);
            for record in fell {
                txn.put_back(of, record.id, record.version, &all)?;
                rise(txn, number, (of, record.id), at)?;
            }
        }
    }
    Ok(())
}
