//! Taking a record back, and undoing that.

use super::{Txn, Written};
use crate::error::AppError;
use traybook_domain::Kind;
use traybook_domain::people::authz::Action;
use traybook_storage::records::{self, Record, Visible};
use uuid::Uuid;

impl Txn<'_, '_> {
    /// Withdraws a record: it no longer counts, and stays readable with its history.
    ///
    /// # Errors
    /// `NotFound`, `Stale`, and `Conflict` when other records refer to it.
    pub fn withdraw(
        &mut self,
        kind: Kind,
        id: Uuid,
        version: i64,
        reason: Option<String>,
    ) -> Result<Written, AppError> {
        let visible = self.actor.visible(Action::Withdraw, kind)?;
        self.withdraw_within(kind, id, version, reason, &visible)
    }

    /// The same for whoever has been allowed to do it as part of something larger.
    pub(crate) fn withdraw_within(
        &mut self,
        kind: Kind,
        id: Uuid,
        version: i64,
        reason: Option<String>,
        visible: &Visible,
    ) -> Result<Written, AppError> {
        let old = self.find_visible(kind, id, visible)?;
        if old.withdrawn_at.is_some() {
            return Ok(Written::Before(old));
        }
        if old.version != version {
            return Err(AppError::Stale { current: old.version });
        }
        self.check_keepers(kind, &old, None)?;
        if let Some((other, _)) = records::referrer(self.writing, self.actor.coop.number, kind, id)?
        {
            let path = other.spec().path;
            let detail = format!("records of {path} refer to it; withdraw or correct these first");
            return Err(AppError::conflict("in_use", detail));
        }
        let new = Record {
            version: old.version + 1,
            changed_at: self.now.0,
            changed_by: self.actor.person,
            withdrawn_at: Some(self.now.0),
            ..old.clone()
        };
        self.replace(kind, &old, &new, "withdrawn", reason)?;
        Ok(Written::Now(new))
    }

    /// Undoes a withdrawal: the record counts again. The rules are asked anew, since other records
    /// may have come meanwhile.
    ///
    /// # Errors
    /// `NotFound`, `Stale`, `Invalid` and `Conflict` as [`Txn::create`].
    pub(crate) fn put_back(
        &mut self,
        kind: Kind,
        id: Uuid,
        version: i64,
        visible: &Visible,
    ) -> Result<Written, AppError> {
        let old = self.find_visible(kind, id, visible)?;
        if old.withdrawn_at.is_none() {
            return Ok(Written::Before(old));
        }
        if old.version != version {
            return Err(AppError::Stale { current: old.version });
        }
        let mut values = old.values.clone();
        self.check(kind, id, &mut values, None, visible)?;
        let new = Record {
            values,
            version: old.version + 1,
            changed_at: self.now.0,
            changed_by: self.actor.person,
            withdrawn_at: None,
            ..old.clone()
        };
        self.keep_and_update(kind, &old, &new, ("put_back", None))?;
        self.move_days(kind, None, Some(&new))?;
        self.moved(kind, None, Some(&new))?;
        if kind == Kind::Batch {
            self.batches.insert(id);
        }
        self.loads_moved |= kind == Kind::Shed;
        Ok(Written::Now(new))
    }
}
