//! What a written record moves: sums, the change feed, and what must be counted anew.

use super::{Day, GroupDay, Parent, Txn, is_referred_to};
use crate::error::AppError;
use std::collections::btree_map::Entry;
use traybook_domain::effects::{DayRecord, day_record};
use traybook_domain::kinds::Batch;
use traybook_domain::limits::DAY_RECORDS_MAX;
use traybook_domain::record::Record as _;
use traybook_domain::{FieldError, Kind, Value};
use traybook_storage::people::{accounts, logins};
use traybook_storage::records::changes::{self, Change};
use traybook_storage::records::{self, Record};
use uuid::Uuid;

/// Whether a batch event says when a batch began, or moves trays.
fn moves_trays(event: &Record) -> bool {
    let event = Kind::BatchEvent.spec().get(&event.values, "event").as_text();
    event.is_some_and(|e| matches!(e, "soaked" | "spread" | "harvested" | "discarded"))
}

impl Txn<'_, '_> {
    /// Notes what a milk or egg record does to its group's day. Runs before a correction is written,
    /// and may run after a new record is.
    pub(super) fn move_days(
        &mut self,
        kind: Kind,
        old: Option<&Record>,
        new: Option<&Record>,
    ) -> Result<(), AppError> {
        if !matches!(kind, Kind::MilkRecord | Kind::EggRecord) {
            return Ok(());
        }
        let cell = |r: &Record| day_record(kind, &r.values, r.id, r.created_at);
        if let Some((group, farm, date, was)) = old.and_then(cell) {
            self.day((kind, group, farm, date), None)?.now.retain(|r| r.id != was.id);
        }
        if let Some((group, farm, date, becomes)) = new.and_then(cell) {
            let is_new = old.is_none();
            let day = self.day((kind, group, farm, date), is_new.then_some(becomes.id))?;
            day.now.push(becomes);
        }
        Ok(())
    }

    /// The records of a group's day; without `but`, which has just been written.
    fn day(&mut self, of: GroupDay, but: Option<Uuid>) -> Result<&mut Day, AppError> {
        Ok(match self.days.entry(of) {
            Entry::Occupied(kept) => kept.into_mut(),
            Entry::Vacant(empty) => {
                let ((kind, group, farm, date), coop) = (of, self.actor.coop.number);
                let stored = records::of_day(self.writing, coop, kind, farm, group, date)?;
                let day = |r: &Record| day_record(kind, &r.values, r.id, r.created_at);
                let days = stored.iter().filter_map(day).map(|cell| cell.3);
                let before: Vec<DayRecord> = days.filter(|r| Some(r.id) != but).collect();
                empty.insert(Day { now: before.clone(), before })
            }
        })
    }

    /// Refuses a record that comes to a group's day which has as many as a day may have.
    pub(super) fn check_day(
        &mut self,
        kind: Kind,
        values: &[Value],
        old: Option<&[Value]>,
        errors: &mut Vec<FieldError>,
    ) -> Result<(), AppError> {
        if !matches!(kind, Kind::MilkRecord | Kind::EggRecord) || self.is_restoring {
            return Ok(());
        }
        let day_of = |values: &[Value]| {
            let (group, farm, date, _) = day_record(kind, values, Uuid::nil(), 0)?;
            Some((kind, group, farm, date))
        };
        let Some(day) = day_of(values).filter(|day| old.and_then(day_of) != Some(*day)) else {
            return Ok(());
        };
        if self.day(day, None)?.now.len() >= DAY_RECORDS_MAX {
            let detail = format!(
                "this group has {DAY_RECORDS_MAX} records of this day; correct or withdraw one"
            );
            errors.push(FieldError::new("date", "day_full", detail));
        }
        Ok(())
    }

    /// After a record was written: its other sums, the change feed, and what must be counted anew.
    pub(super) fn moved(
        &mut self,
        kind: Kind,
        old: Option<&Record>,
        new: Option<&Record>,
    ) -> Result<(), AppError> {
        let zone = self.actor.coop.zone;
        let live = new.filter(|r| r.withdrawn_at.is_none());
        for (record, sign) in [(old, -1), (live, 1)] {
            let Some(record) = record else { continue };
            let batch = self.batch_of(kind, record)?;
            self.effects.add(kind, &record.values, batch.as_ref(), zone, sign);
            if kind == Kind::HeadCount {
                self.herds.extend(kind.spec().get(&record.values, "animal_group_id").as_id());
            }
            if kind == Kind::BatchEvent && moves_trays(record) {
                self.batches.extend(kind.spec().get(&record.values, "batch_id").as_id());
            }
        }
        if kind == Kind::Batch {
            self.move_lot(old, live)?;
            // A new batch has no events yet.
            self.batches.extend(old.map(|r| r.id));
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
                | Kind::Member
        );
        self.note_access(kind, old, new);
        self.end_sign_ins(kind, old, new)?;
        let Some(record) = new else { return Ok(()) };
        if kind == Kind::LotHold {
            self.holds.clear();
        }
        if kind == Kind::GrowingGuideValue {
            self.guide = None;
        }
        self.loads_moved |=
            kind == Kind::GrowingGuideValue || (kind == Kind::Shed && old.is_some());
        let parent = Parent {
            values: record.values.clone(),
            live: record.withdrawn_at.is_none(),
            visible: true,
        };
        if is_referred_to(kind) {
            self.parents.insert((kind, record.id), Some(parent));
        }
        self.append(kind, record)
    }

    /// The batch of a batch event.
    fn batch_of(&mut self, kind: Kind, record: &Record) -> Result<Option<Batch>, AppError> {
        if kind != Kind::BatchEvent {
            return Ok(None);
        }
        let id = kind.spec().get(&record.values, "batch_id").as_id();
        let parent = id.and_then(|id| self.parents.get(&(Kind::Batch, id)));
        if let Some(known) = parent.and_then(Option::as_ref) {
            return Ok(Batch::from_values(&known.values));
        }
        let Some(id) = id else { return Ok(None) };
        let found = records::find(self.writing, self.actor.coop.number, Kind::Batch, id)?;
        Ok(found.and_then(|b| Batch::from_values(&b.values)))
    }

    /// A line of the change feed.
    fn append(&mut self, kind: Kind, record: &Record) -> Result<(), AppError> {
        let seq = self.writing.next_change();
        let farm = match kind {
            Kind::Farm => Some(record.id),
            _ => kind.spec().get(&record.values, "farm_id").as_id(),
        };
        let change = Change {
            seq,
            kind,
            id: record.id,
            farm_id: farm,
            version: record.version,
            withdrawn: record.withdrawn_at.is_some(),
        };
        self.feed.push(change);
        if self.feed.len() == changes::LINES_AT_ONCE {
            changes::append(self.writing, &self.feed)?;
            self.feed.clear();
        }
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
        let events = records::by_reference(self.writing, coop, kind, "batch_id", &[record.id])?;
        for event in events {
            let zone = self.actor.coop.zone;
            self.effects.add(kind, &event.values, Some(&was), zone, -1);
            self.effects.add(kind, &event.values, Some(&is), zone, 1);
        }
        Ok(())
    }

    /// Keeps by which logins a person is known. Whoever signs in by another, or no more, signs in
    /// anew.
    fn end_sign_ins<'r>(
        &mut self,
        kind: Kind,
        old: Option<&'r Record>,
        new: Option<&'r Record>,
    ) -> Result<(), AppError> {
        let of = |record: Option<&'r Record>| -> Vec<&'r str> {
            let Some(record) = record.filter(|r| r.withdrawn_at.is_none()) else { return vec![] };
            let logins = ["email", "phone"].map(|field| kind.spec().get(&record.values, field));
            logins.into_iter().filter_map(Value::as_text).collect()
        };
        if let (Kind::Person, Some(whose)) = (kind, new.or(old)) {
            let (both, coop) = ((&*of(old), &*of(new)), self.actor.coop.number);
            logins::change_logins(self.writing, (coop, whose.id), both)?;
        }
        let (Kind::Person, Some(old), Some(new)) = (kind, old, new) else { return Ok(()) };
        let same = |field: &str| {
            kind.spec().get(&old.values, field) == kind.spec().get(&new.values, field)
        };
        if !(same("email") && same("phone") && same("active")) || new.withdrawn_at.is_some() {
            accounts::end_person(self.writing, self.actor.coop.number, new.id, self.now.0)?;
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
        let moves = match kind {
            Kind::Farm => changed("area_id") || changed("member_id"),
            Kind::Member => changed("area_id"),
            Kind::Area => changed("parent_id"),
            Kind::Person => changed("role") || changed("member_id"),
            Kind::OfficerArea => true,
            _ => false,
        };
        if moves {
            self.writing.move_access();
        }
    }
}
