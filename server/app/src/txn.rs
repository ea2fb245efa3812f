//! Making, correcting and withdrawing records inside one transaction.
//!
//! Everything that can be refused is refused before the first write of a change, so that one bad
//! change among thousands undoes nothing but itself and needs no savepoint of its own. Errors of
//! the store undo the whole transaction.

use crate::ctx::{Actor, App};
use crate::error::AppError;
use crate::represent::body_json;
use serde_json::{Map, Value as Json};
use std::collections::{BTreeSet, HashMap, HashSet};
use std::sync::OnceLock;
use traybook_domain::authz::{Action, Role};
use traybook_domain::effects::{DayRecord, Effects, day_record};
use traybook_domain::field::{ReadCtx, read_object};
use traybook_domain::guide::Guide;
use traybook_domain::import_id::v7_millis;
use traybook_domain::kinds::{Batch, BatchEvent, MOULD_CAUTION, Person};
use traybook_domain::record::{Record as _, RuleCtx};
use traybook_domain::value::Instant;
use traybook_domain::{FieldError, Kind, Month, Value, limits};
use traybook_storage::changes::{self, Change, Counters};
use traybook_storage::records::{self, OldVersion, Record, Visible};
use traybook_storage::{Conn, months, sums};
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
    /// The record.
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

/// One transaction's changes to records.
pub struct Txn<'a> {
    conn: &'a mut Conn,
    actor: &'a Actor,
    now: Instant,
    read: ReadCtx,
    guide: Guide,
    parents: HashMap<(Kind, Uuid), Option<Parent>>,
    effects: Effects,
    herds: BTreeSet<Uuid>,
    counters: Counters,
    all_touched: bool,
    access_changed: bool,
}

impl<'a> Txn<'a> {
    /// Begins; locks the co-operative's counters first.
    ///
    /// # Errors
    /// Those of the store.
    pub fn begin(conn: &'a mut Conn, actor: &'a Actor, now: Instant) -> Result<Self, AppError> {
        let counters = changes::lock(conn, actor.coop.number)?;
        let guide = actor.coop.guide(conn)?;
        Ok(Self {
            read: actor.coop.read_ctx(now),
            conn,
            actor,
            now,
            guide,
            parents: HashMap::new(),
            effects: Effects::default(),
            herds: BTreeSet::new(),
            counters,
            all_touched: false,
            access_changed: false,
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
        let mut errors = Vec::new();
        self.check_id(id, &mut errors);
        let read = read_object(kind.spec().fields, body, None, &["id"], &self.read);
        let values = match read {
            Ok(values) if errors.is_empty() => values,
            Ok(_) => return Err(AppError::Invalid(errors)),
            Err(more) => return Err(AppError::Invalid([errors, more].concat())),
        };
        self.create_values(kind, id, values, &visible)
    }

    /// Makes a record from values that are already read.
    ///
    /// # Errors
    /// As [`Txn::create`].
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
        if let Some(stored) = records::find(self.conn, self.actor.coop.number, kind, id)? {
            return self.same_again(kind, stored, values);
        }
        self.check(kind, id, &mut values, None, visible)?;
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
        self.move_days(kind, None, Some(&record))?;
        records::insert(self.conn, self.actor.coop.number, kind, &record)?;
        self.moved(kind, None, Some(&record))?;
        Ok(Written::Now(record))
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
        let old = self.find_visible(kind, id, &visible)?;
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
        self.check(kind, id, &mut values, Some(&old.values), &visible)?;
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
        let old = self.find_visible(kind, id, &visible)?;
        if old.withdrawn_at.is_some() {
            return Ok(Written::Before(old));
        }
        if old.version != version {
            return Err(AppError::Stale { current: old.version });
        }
        if let Some((other, _)) = records::referrer(self.conn, self.actor.coop.number, kind, id)? {
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
        find_visible(self.conn, self.actor, kind, id, visible)
    }

    /// Writes the sums, the counters and the notes on closed months.
    ///
    /// # Errors
    /// Those of the store.
    pub fn finish(self) -> Result<(), AppError> {
        let coop = self.actor.coop.number;
        sums::add(self.conn, coop, &self.effects)?;
        for group in &self.herds {
            sums::recount_herd(self.conn, coop, *group)?;
        }
        let touched: BTreeSet<Month> = self.effects.touched().collect();
        let touched: Vec<Month> = touched.into_iter().collect();
        let from = if self.all_touched { Month::from_number(1900 * 12) } else { None };
        months::touch(self.conn, coop, &touched, from)?;
        let mut counters = self.counters;
        if self.access_changed {
            counters.access_version += 1;
        }
        changes::store_counters(self.conn, coop, counters)?;
        Ok(())
    }

    /// The transaction's connection.
    pub fn conn(&mut self) -> &mut Conn {
        self.conn
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
        if !records::is_visible(self.conn, coop, kind, &stored.values, stored.id, &visible)? {
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
            let first = records::history(self.conn, coop, kind, stored.id)?.into_iter().next();
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
        let coop = self.actor.coop.number;
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
        self.move_days(kind, Some(old), Some(new).filter(|n| n.withdrawn_at.is_none()))?;
        records::keep_version(self.conn, coop, kind, old.id, &kept)?;
        if !records::update_if_version(self.conn, coop, kind, new)? {
            return Err(AppError::Retry);
        }
        self.moved(kind, Some(old), Some(new))
    }

    /// Moves the sums of milk and eggs, which depend on all records of a group's day. Runs before
    /// the record itself is written.
    fn move_days(
        &mut self,
        kind: Kind,
        old: Option<&Record>,
        new: Option<&Record>,
    ) -> Result<(), AppError> {
        if !matches!(kind, Kind::MilkRecord | Kind::EggRecord) {
            return Ok(());
        }
        let cell = |r: &Record| day_record(kind, &r.values, r.id, r.created_at);
        let (old, new) = (old.and_then(cell), new.and_then(cell));
        let same_cell = match (&old, &new) {
            (Some((g, f, d, _)), Some((h, e, c, _))) => (g, f, d) == (h, e, c),
            _ => false,
        };
        if let Some((group, farm, date, was)) = &old {
            let before = self.day(kind, *group, *farm, *date)?;
            let mut after: Vec<DayRecord> =
                before.iter().filter(|r| r.id != was.id).cloned().collect();
            if same_cell {
                after.extend(new.iter().map(|n| n.3.clone()));
            }
            self.effects.add_day(kind, *farm, *date, &before, -1);
            self.effects.add_day(kind, *farm, *date, &after, 1);
        }
        if let Some((group, farm, date, becomes)) = new.filter(|_| !same_cell) {
            let before = self.day(kind, group, farm, date)?;
            self.effects.add_day(kind, farm, date, &before, -1);
            let after: Vec<DayRecord> = before.into_iter().chain([becomes]).collect();
            self.effects.add_day(kind, farm, date, &after, 1);
        }
        Ok(())
    }

    fn day(
        &mut self,
        kind: Kind,
        group: Uuid,
        farm: Uuid,
        date: chrono::NaiveDate,
    ) -> Result<Vec<DayRecord>, AppError> {
        let coop = self.actor.coop.number;
        let stored = records::of_day(self.conn, coop, kind, farm, group, date)?;
        let day = |r: &Record| day_record(kind, &r.values, r.id, r.created_at).map(|c| c.3);
        Ok(stored.iter().filter_map(day).collect())
    }

    /// After a record was written: its other sums, the change feed, and what must be counted anew.
    fn moved(
        &mut self,
        kind: Kind,
        old: Option<&Record>,
        new: Option<&Record>,
    ) -> Result<(), AppError> {
        let zone = self.actor.coop.zone;
        let live = new.filter(|r| r.withdrawn_at.is_none());
        for (record, sign) in [(old, -1), (live, 1)] {
            let Some(record) = record else { continue };
            let batch = if kind == Kind::BatchEvent {
                let id = kind.spec().get(&record.values, "batch_id").as_id();
                let parent = id.and_then(|id| self.parents.get(&(Kind::Batch, id)));
                let known = parent.and_then(Option::as_ref).map(|p| p.values.clone());
                match (known, id) {
                    (Some(values), _) => Batch::from_values(&values),
                    (None, Some(id)) => {
                        let found =
                            records::find(self.conn, self.actor.coop.number, Kind::Batch, id)?;
                        found.and_then(|b| Batch::from_values(&b.values))
                    }
                    (None, None) => None,
                }
            } else {
                None
            };
            self.effects.add(kind, &record.values, batch.as_ref(), zone, sign);
            if kind == Kind::HeadCount {
                self.herds.extend(kind.spec().get(&record.values, "animal_group_id").as_id());
            }
        }
        if kind == Kind::Batch {
            self.move_lot(old, live)?;
        }
        self.all_touched |= matches!(
            kind,
            Kind::HeadCount
                | Kind::BaselineRation
                | Kind::AnimalGroup
                | Kind::Asset
                | Kind::Feed
                | Kind::SeedPurchase
                | Kind::SeedIssue
                | Kind::GrowingGuideValue
                | Kind::Farm
        );
        self.note_access(kind, old, new);
        let Some(record) = new else { return Ok(()) };
        if kind == Kind::GrowingGuideValue {
            self.guide = self.actor.coop.guide(self.conn)?;
        }
        let parent = Parent {
            values: record.values.clone(),
            live: record.withdrawn_at.is_none(),
            visible: true,
        };
        if is_referred_to(kind) {
            self.parents.insert((kind, record.id), Some(parent));
        }
        self.counters.change_seq += 1;
        let farm = match kind {
            Kind::Farm => Some(record.id),
            _ => kind.spec().get(&record.values, "farm_id").as_id(),
        };
        let change = Change {
            seq: self.counters.change_seq,
            kind,
            id: record.id,
            farm_id: farm,
            version: record.version,
            withdrawn: record.withdrawn_at.is_some(),
        };
        changes::append(self.conn, self.actor.coop.number, &change)?;
        Ok(())
    }

    /// A batch whose seed lot was corrected: its soaks count for the other lot.
    fn move_lot(&mut self, old: Option<&Record>, new: Option<&Record>) -> Result<(), AppError> {
        let batch = |r: Option<&Record>| r.and_then(|r| Batch::from_values(&r.values));
        let (Some(was), Some(is), Some(record)) = (batch(old), batch(new), new) else {
            return Ok(());
        };
        if was.seed_lot_id == is.seed_lot_id {
            return Ok(());
        }
        let coop = self.actor.coop.number;
        let kind = Kind::BatchEvent;
        let events = records::by_reference(self.conn, coop, kind, "batch_id", &[record.id])?;
        for event in events {
            let zone = self.actor.coop.zone;
            self.effects.add(kind, &event.values, Some(&was), zone, -1);
            self.effects.add(kind, &event.values, Some(&is), zone, 1);
        }
        Ok(())
    }

    /// Who may see what changes with farms' areas and members, officers' areas and the tree.
    fn note_access(&mut self, kind: Kind, old: Option<&Record>, new: Option<&Record>) {
        let spec = kind.spec();
        let changed = |field: &str| match (old, new) {
            (Some(a), Some(b)) => spec.get(&a.values, field) != spec.get(&b.values, field),
            _ => false,
        };
        self.access_changed |= match kind {
            Kind::Farm => changed("area_id") || changed("member_id"),
            Kind::Member => changed("area_id"),
            Kind::Area => changed("parent_id"),
            Kind::Person => changed("role") || changed("member_id"),
            Kind::OfficerArea => true,
            _ => false,
        };
    }

    /// Everything that must hold of a record besides its fields' own shapes.
    fn check(
        &mut self,
        kind: Kind,
        id: Uuid,
        values: &mut [Value],
        old: Option<&[Value]>,
        visible: &Visible,
    ) -> Result<(), AppError> {
        let mut errors = Vec::new();
        self.check_refs(kind, values, old, &mut errors)?;
        if errors.is_empty() {
            self.check_rules(kind, id, values, old, visible, &mut errors)?;
        }
        if errors.is_empty() { Ok(()) } else { Err(AppError::Invalid(errors)) }
    }

    fn check_refs(
        &mut self,
        kind: Kind,
        values: &mut [Value],
        old: Option<&[Value]>,
        errors: &mut Vec<FieldError>,
    ) -> Result<(), AppError> {
        let spec = kind.spec();
        for (index, field, target) in spec.refs() {
            let Some(id) = values.get(index).and_then(Value::as_id) else { continue };
            let unchanged = old.and_then(|o| o.get(index)).and_then(Value::as_id) == Some(id);
            let parent = self.parent(target, id)?;
            let good = unchanged || parent.is_some_and(|p| p.live && p.visible);
            if !good {
                let path = target.spec().path;
                let detail = format!("there is no such record of {path} that you can use");
                errors.push(FieldError::new(field.name, "unknown_reference", detail));
            }
        }
        if !errors.is_empty() {
            return Ok(());
        }
        if let Some((index, _, target)) = spec.parent() {
            let id = values.get(index).and_then(Value::as_id);
            let farm = match id {
                Some(id) => {
                    self.parent(target, id)?.map(|p| target.spec().get(&p.values, "farm_id"))
                }
                None => None,
            };
            let farm = farm.cloned().unwrap_or(Value::Null);
            if let Some(slot) = spec.index("farm_id").and_then(|i| values.get_mut(i)) {
                *slot = farm;
            }
        }
        let farm = spec.get(values, "farm_id").as_id();
        for (index, field, target) in spec.refs() {
            let id = values.get(index).and_then(Value::as_id);
            let (Some(id), Some(farm)) = (id, farm) else { continue };
            if target.spec().field("farm_id").is_none() {
                continue;
            }
            let parent = self.parent(target, id)?;
            let other = parent.and_then(|p| target.spec().get(&p.values, "farm_id").as_id());
            if other.is_some_and(|other| other != farm) {
                let detail = "this belongs to another farm; choose one of the same farm";
                errors.push(FieldError::new(field.name, "other_farm", detail));
            }
        }
        Ok(())
    }

    fn check_rules(
        &mut self,
        kind: Kind,
        id: Uuid,
        values: &[Value],
        old: Option<&[Value]>,
        visible: &Visible,
        errors: &mut Vec<FieldError>,
    ) -> Result<(), AppError> {
        let coop = self.actor.coop.number;
        let spec = kind.spec();
        if !records::is_visible(self.conn, coop, kind, values, id, visible)? {
            let field = if spec.field("area_id").is_some() { "area_id" } else { "farm_id" };
            let detail = "choose one within your own reach";
            errors.push(FieldError::new(field, "outside_reach", detail));
            return Ok(());
        }
        let parents = &self.parents;
        let refs = |name: &str| {
            let (index, _, target) = spec.refs().find(|(_, f, _)| f.name == name)?;
            let id = values.get(index)?.as_id()?;
            let parent = parents.get(&(target, id))?.as_ref()?;
            Some((target, parent.values.as_slice()))
        };
        let ctx = RuleCtx {
            read: self.read,
            zone: self.actor.coop.zone,
            guide: &self.guide,
            refs: &refs,
        };
        kind.check(values, &ctx, errors);
        if let Some(code) = spec.code {
            let text = spec.get(values, code).as_text().unwrap_or_default();
            let was = old.and_then(|o| spec.get(o, code).as_text());
            if !text.is_empty() && was != Some(text) {
                let taken = records::find_by_code(self.conn, coop, kind, text)?;
                if taken.is_some_and(|t| t.id != id) {
                    let detail = format!("{text} is taken; choose another");
                    errors.push(FieldError::new(code, "taken", detail));
                }
            }
        }
        match kind {
            Kind::Area => self.check_tree(id, values, errors)?,
            Kind::BatchEvent => self.check_mould(id, values, errors)?,
            Kind::Person => self.check_role(values, old, errors),
            _ => {}
        }
        Ok(())
    }

    fn check_tree(
        &mut self,
        id: Uuid,
        values: &[Value],
        errors: &mut Vec<FieldError>,
    ) -> Result<(), AppError> {
        let spec = Kind::Area.spec();
        let mut next = spec.get(values, "parent_id").as_id();
        let mut depth = 1;
        while let Some(area) = next {
            depth += 1;
            if area == id || depth > limits::AREA_DEPTH_MAX {
                let detail = if area == id {
                    "an area can not lie within itself".to_owned()
                } else {
                    format!("give a tree of at most {} levels", limits::AREA_DEPTH_MAX)
                };
                errors.push(FieldError::new("parent_id", "tree", detail));
                return Ok(());
            }
            let parent = self.parent(Kind::Area, area)?;
            next = parent.and_then(|p| spec.get(&p.values, "parent_id").as_id());
        }
        Ok(())
    }

    /// Fodder of a batch in which mould was seen is not fed out without a reason.
    fn check_mould(
        &mut self,
        id: Uuid,
        values: &[Value],
        errors: &mut Vec<FieldError>,
    ) -> Result<(), AppError> {
        let Some(event) = BatchEvent::from_values(values) else { return Ok(()) };
        if event.event != "fed_out" || event.reason.is_some() {
            return Ok(());
        }
        let (coop, kind) = (self.actor.coop.number, Kind::BatchEvent);
        let others = records::by_reference(self.conn, coop, kind, "batch_id", &[event.batch_id])?;
        let mould = others.iter().filter(|r| r.id != id).any(|r| {
            BatchEvent::from_values(&r.values).is_some_and(|e| e.saw_mould() && e.at <= event.at)
        });
        if mould && !errors.iter().any(|e| e.code == "mould") {
            let detail =
                format!("mould was seen in this batch: {MOULD_CAUTION}; if it was fed, say why");
            errors.push(FieldError::new("reason", "mould", detail));
        }
        Ok(())
    }

    /// Only an operator makes operators.
    fn check_role(&self, values: &[Value], old: Option<&[Value]>, errors: &mut Vec<FieldError>) {
        let role = |v: &[Value]| Person::from_values(v).map(|p| p.role);
        let operator = |v: &[Value]| role(v).as_deref() == Some("operator");
        let concerns = operator(values) || old.is_some_and(operator);
        let may = self.actor.role == Role::Operator || self.actor.is_machine();
        if concerns && !may {
            let detail = "only an operator makes or changes an operator";
            errors.push(FieldError::new("role", "outside_reach", detail));
        }
    }

    fn parent(&mut self, kind: Kind, id: Uuid) -> Result<Option<&Parent>, AppError> {
        if !self.parents.contains_key(&(kind, id)) {
            let coop = self.actor.coop.number;
            let found = records::find(self.conn, coop, kind, id)?;
            let parent = match found {
                None => None,
                Some(record) => {
                    let visible = match self.actor.visible(Action::Read, kind) {
                        Ok(v) => {
                            records::is_visible(self.conn, coop, kind, &record.values, id, &v)?
                        }
                        // An officer may name an officer without reading the list of people.
                        Err(_) => kind == Kind::Person && id == self.actor.person,
                    };
                    let live = record.withdrawn_at.is_none();
                    Some(Parent { values: record.values, live, visible })
                }
            };
            self.parents.insert((kind, id), parent);
        }
        Ok(self.parents.get(&(kind, id)).and_then(Option::as_ref))
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
        F: FnMut(&mut Txn<'_>) -> Result<T, AppError> + Send + 'static,
    {
        let (actor, now) = (actor.clone(), self.now());
        self.store
            .write(move |conn| {
                let mut txn = Txn::begin(conn, &actor, now)?;
                let value = work(&mut txn)?;
                txn.finish()?;
                Ok(value)
            })
            .await
    }
}
