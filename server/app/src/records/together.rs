//! Several records that belong together: a visit with its checks, a farm with its sheds and
//! animals. All of them are made, or none, and every field error of all of them is told at once.

use super::txn::{Txn, clean_reason};
use crate::error::AppError;
use crate::{Actor, App};
use serde_json::{Map, Value as Json};
use traybook_domain::people::authz::{Role, Task};
use traybook_domain::records::import_id::{import_id, v7_millis};
use traybook_domain::{FieldError, Kind, Value};
use traybook_storage::records::{self, Filter, Record, Visible};
use uuid::Uuid;

/// A record to make.
#[derive(Clone, Debug)]
pub struct Piece {
    pub kind: Kind,
    /// Id, made by whoever makes the record.
    pub id: Uuid,
    /// Its members.
    pub body: Map<String, Json>,
    /// What stands before the names of its fields in errors; empty for none.
    pub prefix: String,
}

impl Piece {
    /// A record whose fields keep their names in errors.
    #[must_use]
    pub fn new(kind: Kind, id: Uuid, body: Map<String, Json>) -> Self {
        Self { kind, id, body, prefix: String::new() }
    }

    /// The same, told from records of its kind by what stands before its fields.
    #[must_use]
    pub fn within(mut self, prefix: impl Into<String>) -> Self {
        self.prefix = prefix.into();
        self
    }
}

/// The id of a record that follows from another one's: the same record sent twice has the same.
#[must_use]
pub fn following(actor: &Actor, of: Uuid, kind: Kind, key: &str) -> Uuid {
    let millis = v7_millis(of).unwrap_or(0);
    import_id(&actor.coop.id.to_string(), kind.spec().one, &format!("{of} {key}"), millis)
}

impl App {
    /// Takes back a batch that still has the given version, with all that was recorded of it: what
    /// happened to it, the photos of that, wishes for its correction, flags that it raised. They
    /// fall with it whoever may take back the batch; all of them stay in the history. A flag is the
    /// officer's, though: a batch that raised one is not a member's to take back.
    ///
    /// # Errors
    /// `Forbidden`, `NotFound`, `Stale`; `Conflict` where something else refers to it, or a flag
    /// does and a member asks; `Invalid` for a reason that is none.
    pub async fn take_back_batch(
        &self,
        actor: &Actor,
        batch: Uuid,
        version: i64,
        reason: &str,
    ) -> Result<(), AppError> {
        let reason = clean_reason(reason)?;
        let visible = actor.task(Task::TakeBackBatch)?;
        let (number, is_member) = (actor.coop.number, actor.role == Role::Member);
        self.change(actor, move |txn| {
            let found = txn.find_visible(Kind::Batch, batch, &visible)?;
            if found.withdrawn_at.is_none() && found.version != version {
                return Err(AppError::Stale { current: found.version });
            }
            if is_member && !resting(txn, number, Kind::Flag, (Kind::Batch, batch))?.is_empty() {
                let detail = "a spoilage flag names this batch: ask your officer to take it back";
                return Err(AppError::conflict("flagged", detail));
            }
            fall(txn, number, (Kind::Batch, &found), &reason)
        })
        .await
    }

    /// Makes records, in order, all or none. What was made before with the same content is no
    /// error, so that the same records can be sent again.
    ///
    /// # Errors
    /// `Invalid` with the errors of all records, each field behind its piece's prefix;
    /// `Forbidden`, `NotFound`, `Conflict`.
    pub async fn create_together(&self, actor: &Actor, pieces: Vec<Piece>) -> Result<(), AppError> {
        self.change(actor, move |txn| create_all(txn, &pieces)).await
    }
}

/// Makes records within a transaction, as [`App::create_together`] does.
pub(super) fn create_all(txn: &mut Txn<'_, '_>, pieces: &[Piece]) -> Result<(), AppError> {
    let mut errors = Vec::new();
    let mut made: Vec<Uuid> = Vec::new();
    for piece in pieces {
        let body = txn.with_code(piece.kind, piece.id, &piece.body)?;
        match txn.create(piece.kind, piece.id, &body) {
            Ok(_) => made.push(piece.id),
            Err(AppError::Invalid(found)) => {
                // What only refers to a record that was refused itself is no news.
                let refused = |e: &FieldError| {
                    let to = piece.body.get(e.field()).and_then(Json::as_str);
                    let to = to.and_then(|t| Uuid::try_parse(t).ok());
                    e.code == "unknown_reference"
                        && to.is_some_and(|to| {
                            pieces.iter().any(|p| p.id == to) && !made.contains(&to)
                        })
                };
                let found = found.into_iter().filter(|e| !refused(e));
                for error in found.map(|e| prefixed(&piece.prefix, e)) {
                    // Two records that take the same field say the same about it.
                    if !errors.contains(&error) {
                        errors.push(error);
                    }
                }
            }
            Err(other) => return Err(other),
        }
    }
    if errors.is_empty() { Ok(()) } else { Err(AppError::Invalid(errors)) }
}

fn prefixed(prefix: &str, error: FieldError) -> FieldError {
    if prefix.is_empty() {
        return error;
    }
    let field = format!("{prefix}{}", error.field());
    error.renamed(&field)
}

/// What falls with a batch.
const FALLS: [Kind; 5] =
    [Kind::Photo, Kind::BatchEvent, Kind::WorkRecord, Kind::CorrectionRequest, Kind::Flag];

/// Records of one kind that name one batch.
const RESTING_MAX: usize = 10_000;

/// Records of a kind that refer to a record.
fn resting(
    txn: &mut Txn<'_, '_>,
    number: i64,
    of: Kind,
    (kind, id): (Kind, Uuid),
) -> Result<Vec<Record>, AppError> {
    let refs = of.spec().refs().filter(|(_, _, to)| *to == kind).map(|(at, ..)| at);
    let mut all = Vec::new();
    for field in refs {
        let filter = Filter { equals: vec![(field, Value::Id(id))], ..Filter::default() };
        let seen = Visible::All;
        all.extend(records::page(txn.conn(), number, of, &seen, &filter, None, RESTING_MAX)?);
    }
    Ok(all)
}

/// Withdraws a record after the records that name it.
fn fall(
    txn: &mut Txn<'_, '_>,
    number: i64,
    (kind, record): (Kind, &Record),
    reason: &str,
) -> Result<(), AppError> {
    for other in FALLS {
        for resting in resting(txn, number, other, (kind, record.id))? {
            fall(txn, number, (other, &resting), reason)?;
        }
    }
    let (version, reason) = (record.version, Some(reason.to_owned()));
    txn.withdraw_within(kind, record.id, version, reason, &Visible::All).map(drop)
}
