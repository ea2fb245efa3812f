//! Making, correcting and withdrawing records inside one transaction.
//!
//! Everything that can be refused is refused before the first write of a change, so that one bad
//! change among thousands undoes nothing but itself and needs no savepoint of its own. Errors of
//! the store undo the whole transaction.

mod check;
mod erase;
mod guide;
mod moves;
mod withdraw;

use crate::error::AppError;
use crate::records::represent::body_json;
use crate::{Actor, App};
use chrono::NaiveDate;
use serde_json::{Map, Value as Json};
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};
use std::sync::OnceLock;
use std::time::{Duration, Instant as Clock};
use traybook_domain::effects::{DayRecord, Effects};
use traybook_domain::field::{ReadCtx, read_object};
use traybook_domain::kinds::LotHold;
use traybook_domain::limits::{SLICE_ALONE_MS, SLICE_MAX, SLICE_MS};
use traybook_domain::people::authz::Action;
use traybook_domain::planning::guide::Guide;
use traybook_domain::records::import_id::v7_millis;
use traybook_domain::value::Instant;
use traybook_domain::{FieldError, Kind, Month, Value, limits};
use traybook_storage::planning::batch_trays;
use traybook_storage::records::changes::{self, Change, Counters};
use traybook_storage::records::sums;
use traybook_storage::records::{self, OldVersion, Record, Visible};
use traybook_storage::savings::months;
use traybook_storage::{Conn, Store, Writing};
use uuid::Uuid;

/// The member of a correction that says why.
pub const REASON: &str = "change_reason";

/// What became of a change.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Written {
    /// It was written now.
    Now(Record),
    /// It had been written before; nothing changed.
    Before(Record),
}

impl Written {
    #[must_use]
    pub fn record(self) -> Record {
        match self {
            Self::Now(r) | Self::Before(r) => r,
        }
    }
}

/// A record that others refer to, kept for the length of the transaction.
struct Parent {
    values: Vec<Value>,
    live: bool,
    visible: bool,
}

/// Kind of record, group, farm, day.
type GroupDay = (Kind, Uuid, Uuid, NaiveDate);

/// The milk or egg records of a group's day. They are read once a transaction, and what they add up
/// to is counted once, however many of them change.
struct Day {
    /// As the transaction found them.
    before: Vec<DayRecord>,
    /// As they are now.
    now: Vec<DayRecord>,
}

/// One transaction's changes to records.
pub struct Txn<'a, 'c> {
    writing: &'a mut Writing<'c>,
    actor: &'a Actor,
    now: Instant,
    read: ReadCtx,
    /// The growing guide, once a rule has asked for it.
    guide: Option<Guide>,
    /// Whether the growing guide or a shed has changed: full loads may be others.
    loads_moved: bool,
    parents: HashMap<(Kind, Uuid), Option<Parent>>,
    /// Holds of the seed lots of which something was handed out.
    holds: HashMap<Uuid, Vec<LotHold>>,
    effects: Effects,
    /// Groups' days of which milk or egg records change.
    days: BTreeMap<GroupDay, Day>,
    herds: BTreeSet<Uuid>,
    /// Batches whose trays are to be counted anew.
    batches: BTreeSet<Uuid>,
    /// Lines of the change feed that are still to be written.
    feed: Vec<Change>,
    all_touched: bool,
    is_restoring: bool,
    begun: Clock,
}

impl<'a, 'c> Txn<'a, 'c> {
    pub fn begin(
        writing: &'a mut Writing<'c>,
        actor: &'a Actor,
        now: Instant,
    ) -> Result<Self, AppError> {
        Ok(Self {
            read: actor.coop.read_ctx(now),
            writing,
            actor,
            now,
            guide: None,
            loads_moved: false,
            parents: HashMap::new(),
            holds: HashMap::new(),
            effects: Effects::default(),
            days: BTreeMap::new(),
            herds: BTreeSet::new(),
            batches: BTreeSet::new(),
            feed: Vec::new(),
            all_touched: false,
            is_restoring: false,
            begun: Clock::now(),
        })
    }

    /// Makes a record. The same id with the same body again gives the stored record.
    ///
    /// # Errors
    /// `Forbidden`, `Invalid` with all field errors, `Conflict` when the id stands for another
    /// record.
    pub fn create(
        &mut self,
        kind: Kind,
        id: Uuid,
        body: &Map<String, Json>,
    ) -> Result<Written, AppError> {
        let visible = self.actor.visible(Action::Create, kind)?;
        let values = self.read_body(kind, id, body)?;
        self.create_values(kind, id, values, &visible)
    }

    /// The values of a body, field by field.
    ///
    /// # Errors
    /// `Invalid` with all field errors.
    pub(super) fn read_body(
        &self,
        kind: Kind,
        id: Uuid,
        body: &Map<String, Json>,
    ) -> Result<Vec<Value>, AppError> {
        let mut errors = Vec::new();
        self.check_id(id, &mut errors);
        match read_object(kind.spec().fields, body, None, &["id"], &self.read) {
            Ok(values) if errors.is_empty() => Ok(values),
            Ok(_) => Err(AppError::Invalid(errors)),
            Err(more) => Err(AppError::Invalid([errors, more].concat())),
        }
    }

    /// Who changes the records.
    pub(crate) const fn actor(&self) -> &'a Actor {
        self.actor
    }

    /// Makes a record from values that are already read.
    pub fn create_values(
        &mut self,
        kind: Kind,
        id: Uuid,
        mut values: Vec<Value>,
        visible: &Visible,
    ) -> Result<Written, AppError> {
        normalise(kind, &mut values);
        for (value, field) in values.iter_mut().zip(kind.spec().fields) {
            if field.derived {
                *value = Value::Null;
            }
        }
        match self.check(kind, id, &mut values, None, visible) {
            Ok(()) => {}
            // What was made before stays made, also where a rule would refuse it now.
            Err(AppError::Invalid(errors)) => {
                return match records::find(self.writing, self.actor.coop.number, kind, id)? {
                    Some(stored) => self.same_again(kind, stored, values),
                    None => Err(AppError::Invalid(errors)),
                };
            }
            Err(other) => return Err(other),
        }
        let by = self.actor.person;
        let record = Record {
            id,
            values,
            version: 1,
            created_at: self.now.0,
            created_by: by,
            changed_at: self.now.0,
            changed_by: by,
            withdrawn_at: None,
        };
        if !records::insert_if_absent(self.writing, kind, &record)? {
            let stored = records::find(self.writing, self.actor.coop.number, kind, id)?;
            return self.same_again(kind, stored.ok_or(AppError::Retry)?, record.values);
        }
        self.move_days(kind, None, Some(&record))?;
        self.moved(kind, None, Some(&record))?;
        Ok(Written::Now(record))
    }

    /// Whether anything of the transaction stays.
    pub(crate) fn is_kept(&self) -> bool {
        self.writing.is_kept()
    }

    /// Whether a slice that has done so much ends here, so that others have their turn. It ends
    /// somewhere else when it is run again, which changes nothing but where the next one begins.
    pub(crate) fn is_over(&self, done: usize, store: &Store) -> bool {
        let most = if store.others_wait() { SLICE_MS } else { SLICE_ALONE_MS };
        done >= SLICE_MAX || self.begun.elapsed() >= Duration::from_millis(most)
    }

    /// The counters as they were when the transaction began.
    pub(crate) fn counters(&self) -> Counters {
        self.writing.before()
    }

    /// Makes a record from a file. One that was exported (`is_exported`) was accepted once, in the
    /// order in which things became known; rules that depend on that order do not refuse it now.
    pub fn restore_values(
        &mut self,
        kind: Kind,
        id: Uuid,
        values: Vec<Value>,
        is_exported: bool,
    ) -> Result<Written, AppError> {
        self.is_restoring = is_exported;
        let written = self.create_values(kind, id, values, &Visible::All);
        self.is_restoring = false;
        written
    }

    /// Corrects a record: what is absent in the patch stays, null removes (RFC 7396).
    ///
    /// # Errors
    /// `NotFound`, `Stale` when the version is not the current one, `Conflict` when it was
    /// withdrawn, `Invalid` with all field errors.
    pub fn correct(
        &mut self,
        kind: Kind,
        id: Uuid,
        version: i64,
        patch: &Map<String, Json>,
    ) -> Result<Written, AppError> {
        let visible = self.actor.visible(Action::Correct, kind)?;
        self.correct_within(kind, id, version, patch, &visible)
    }

    /// The same for whoever has been allowed to do it as part of something larger.
    pub(crate) fn correct_within(
        &mut self,
        kind: Kind,
        id: Uuid,
        version: i64,
        patch: &Map<String, Json>,
        visible: &Visible,
    ) -> Result<Written, AppError> {
        let old = self.find_visible(kind, id, visible)?;
        let reason = reason_of(patch)?;
        let fields = kind.spec().fields;
        let ignore = ["id", REASON];
        let read = read_object(fields, patch, Some(&old.values), &ignore, &self.read);
        let mut values = match read {
            Ok(values) => values,
            Err(errors) if old.version == version => return Err(AppError::Invalid(errors)),
            Err(_) => return Err(AppError::Stale { current: old.version }),
        };
        normalise(kind, &mut values);
        if patch.get("id").is_some_and(|i| i.as_str() != Some(&id.to_string())) {
            return Err(AppError::field("id", "fixed", "leave this out: an id never changes"));
        }
        if values == old.values && old.withdrawn_at.is_none() {
            return Ok(Written::Before(old));
        }
        if old.version != version {
            return Err(AppError::Stale { current: old.version });
        }
        if old.withdrawn_at.is_some() {
            return Err(withdrawn());
        }
        if kind == Kind::Farm && reason.is_none() {
            let spec = kind.spec();
            let start = |v: &[Value]| spec.get(v, "fodder_started_on").clone();
            if !start(&old.values).is_null() && start(&old.values) != start(&values) {
                let detail =
                    "say why the day of the first soak changes: output is compared from it";
                return Err(AppError::field(REASON, "required", detail));
            }
        }
        self.check(kind, id, &mut values, Some(&old.values), visible)?;
        self.check_keepers(kind, &old, Some(&values))?;
        let new = Record {
            values,
            version: old.version + 1,
            changed_at: self.now.0,
            changed_by: self.actor.person,
            ..old.clone()
        };
        self.replace(kind, &old, &new, "corrected", reason)?;
        Ok(Written::Now(new))
    }

    /// A record that the person may see.
    ///
    /// # Errors
    /// `NotFound` when it is not there or not for this person.
    pub fn find_visible(
        &mut self,
        kind: Kind,
        id: Uuid,
        visible: &Visible,
    ) -> Result<Record, AppError> {
        find_visible(self.writing, self.actor, kind, id, visible)
    }

    /// Writes the sums, the counters and the notes on closed months.
    pub fn finish(self) -> Result<(), AppError> {
        let Self { writing, mut effects, .. } = self;
        for ((kind, _, farm, date), day) in &self.days {
            effects.add_day(*kind, *farm, *date, &day.before, -1);
            effects.add_day(*kind, *farm, *date, &day.now, 1);
        }
        changes::append(writing, &self.feed)?;
        sums::add(writing, &effects)?;
        for group in &self.herds {
            sums::recount_herd(writing, *group)?;
        }
        let batches: Vec<Uuid> = self.batches.iter().copied().collect();
        batch_trays::recount(writing, &batches)?;
        if self.loads_moved {
            batch_trays::recount_unspread(writing)?;
        }
        let touched: BTreeSet<Month> = effects.touched().collect();
        let touched: Vec<Month> = touched.into_iter().collect();
        let from = if self.all_touched { Month::from_number(1900 * 12) } else { None };
        Ok(months::touch(writing, &touched, from)?)
    }

    /// The growing guide; read once.
    fn guide(&mut self) -> Result<&Guide, AppError> {
        Ok(match &mut self.guide {
            Some(guide) => guide,
            none => none.insert(self.actor.coop.guide(self.writing)?),
        })
    }

    /// Number of the co-operative.
    #[must_use]
    pub const fn coop(&self) -> i64 {
        self.actor.coop.number
    }

    /// When it happens.
    pub(crate) const fn now(&self) -> Instant {
        self.now
    }

    /// The transaction's connection.
    pub fn conn(&mut self) -> &mut Conn {
        self.writing
    }

    fn check_id(&self, id: Uuid, errors: &mut Vec<FieldError>) {
        let Some(millis) = v7_millis(id) else {
            let detail = "give a UUID of version 7 (RFC 9562), or leave it out";
            errors.push(FieldError::new("id", "id_version", detail));
            return;
        };
        if millis > self.now.0 + limits::ID_SKEW_MS_MAX {
            let detail = "the time inside lies in the future; check the clock of the device";
            errors.push(FieldError::new("id", "future", detail));
        }
    }

    fn same_again(
        &mut self,
        kind: Kind,
        stored: Record,
        mut values: Vec<Value>,
    ) -> Result<Written, AppError> {
        let visible = self.actor.visible(Action::Read, kind)?;
        let coop = self.actor.coop.number;
        let taken = || {
            let detail = "this id stands for another record; make a new id, or correct that one";
            AppError::conflict("id_taken", detail)
        };
        if !records::is_visible(self.writing, coop, kind, &stored.values, stored.id, &visible)? {
            return Err(taken());
        }
        // A derived farm is not sent; it is that of the stored record.
        for ((to, from), field) in values.iter_mut().zip(&stored.values).zip(kind.spec().fields) {
            if field.derived {
                to.clone_from(from);
            }
        }
        let same = if stored.version == 1 {
            stored.values == values
        } else {
            let first = records::history(self.writing, coop, kind, stored.id)?.into_iter().next();
            let body = Json::Object(body_json(kind, &values, self.actor.coop.digits));
            first.is_some_and(|f| serde_json::from_str::<Json>(&f.body).is_ok_and(|b| b == body))
        };
        if same { Ok(Written::Before(stored)) } else { Err(taken()) }
    }

    fn replace(
        &mut self,
        kind: Kind,
        old: &Record,
        new: &Record,
        action: &str,
        reason: Option<String>,
    ) -> Result<(), AppError> {
        self.move_days(kind, Some(old), Some(new).filter(|n| n.withdrawn_at.is_none()))?;
        self.keep_and_update(kind, old, new, (action, reason))?;
        self.moved(kind, Some(old), Some(new))
    }

    /// Keeps the old version and writes the new one.
    fn keep_and_update(
        &mut self,
        kind: Kind,
        old: &Record,
        new: &Record,
        (action, reason): (&str, Option<String>),
    ) -> Result<(), AppError> {
        let kept = OldVersion {
            version: old.version,
            body: Json::Object(body_json(kind, &old.values, self.actor.coop.digits)).to_string(),
            made_at: old.changed_at,
            made_by: old.changed_by,
            replaced_at: new.changed_at,
            replaced_by: new.changed_by,
            action: action.to_owned(),
            reason,
        };
        records::keep_version(self.writing, kind, old.id, &kept)?;
        if !records::update_if_version(self.writing, kind, new)? {
            return Err(AppError::Retry);
        }
        Ok(())
    }
}

fn is_referred_to(kind: Kind) -> bool {
    static TARGETS: OnceLock<HashSet<Kind>> = OnceLock::new();
    let targets = || Kind::ALL.iter().flat_map(|k| k.spec().refs()).map(|(_, _, to)| to).collect();
    TARGETS.get_or_init(targets).contains(&kind)
}

fn withdrawn() -> AppError {
    AppError::conflict("withdrawn", "this record was withdrawn; make a new one")
}

/// The reason of a change, if the patch gives one.
fn reason_of(patch: &Map<String, Json>) -> Result<Option<String>, AppError> {
    match patch.get(REASON) {
        None | Some(Json::Null) => Ok(None),
        Some(Json::String(text)) => clean_reason(text).map(Some),
        Some(_) => Err(AppError::field(REASON, "type", "give text of 1 to 500 characters")),
    }
}

/// A reason as it is kept.
///
/// # Errors
/// `Invalid` for an empty or overlong one, or one with control characters.
pub fn clean_reason(text: &str) -> Result<String, AppError> {
    let text = text.trim();
    let length = text.chars().count();
    if !(1..=500).contains(&length) || text.chars().any(char::is_control) {
        let detail = "give text of 1 to 500 characters, without control characters";
        return Err(AppError::field(REASON, "length", detail));
    }
    Ok(text.to_owned())
}

/// Logins are compared as they are stored: addresses in lower case, numbers as digits with +.
fn normalise(kind: Kind, values: &mut [Value]) {
    if kind != Kind::Person {
        return;
    }
    for field in ["email", "phone"] {
        let slot = kind.spec().index(field).and_then(|i| values.get_mut(i));
        if let Some(Value::Text(text)) = slot {
            *text = normal_login(text);
        }
    }
}

/// An e-mail address or telephone number as it is stored and compared.
#[must_use]
pub fn normal_login(text: &str) -> String {
    let text = text.trim();
    if text.contains('@') {
        text.to_lowercase()
    } else {
        text.chars().filter(|c| !c.is_whitespace() && *c != '-').collect()
    }
}

/// A record that the actor may see.
///
/// # Errors
/// `NotFound` when it is not there or not for this person.
pub fn find_visible(
    conn: &mut Conn,
    actor: &Actor,
    kind: Kind,
    id: Uuid,
    visible: &Visible,
) -> Result<Record, AppError> {
    let coop = actor.coop.number;
    let record = records::find(conn, coop, kind, id)?.ok_or(AppError::NotFound)?;
    if records::is_visible(conn, coop, kind, &record.values, id, visible)? {
        Ok(record)
    } else {
        Err(AppError::NotFound)
    }
}

impl App {
    /// Runs changes to records in one transaction.
    ///
    /// # Errors
    /// Those of `work`, and of the store.
    pub async fn change<T, F>(&self, actor: &Actor, mut work: F) -> Result<T, AppError>
    where
        T: Send + 'static,
        F: FnMut(&mut Txn<'_, '_>) -> Result<T, AppError> + Send + 'static,
    {
        let (actor, now) = (actor.clone(), self.now());
        self.store
            .change(actor.coop.number, move |writing| {
                let mut txn = Txn::begin(writing, &actor, now)?;
                let value = work(&mut txn)?;
                txn.finish()?;
                Ok(value)
            })
            .await
    }
}
