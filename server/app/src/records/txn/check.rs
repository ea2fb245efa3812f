//! What must hold of a record before it is written.

use super::{Parent, Txn};
use crate::error::AppError;
use traybook_domain::kinds::{
    AnimalGroup, Batch, BatchEvent, HOLD_CAUTION, LotHold, MOULD_CAUTION, Person, SeedIssue,
};
use traybook_domain::people::authz::{Action, Role};
use traybook_domain::planning::batch::{ProgressCtx, progress};
use traybook_domain::record::{GUIDED, Record as _, RuleCtx};
use traybook_domain::time::local_date;
use traybook_domain::{FieldError, Kind, Value, limits};
use traybook_storage::records::{self, Filter, Record, Visible};
use uuid::Uuid;

impl Txn<'_, '_> {
    /// Everything that must hold of a record besides its fields' own shapes.
    pub(super) fn check(
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
            self.check_day(kind, values, old, &mut errors)?;
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
        if !self.is_within(kind, values, id, visible)? {
            let field = if spec.field("area_id").is_some() { "area_id" } else { "farm_id" };
            let detail = "choose one within your own reach";
            errors.push(FieldError::new(field, "outside_reach", detail));
            return Ok(());
        }
        if GUIDED.contains(&kind) {
            self.guide()?;
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
            guide: self.guide.as_ref(),
            refs: &refs,
        };
        kind.check(values, &ctx, errors);
        if let Some(code) = spec.code {
            let text = spec.get(values, code).as_text().unwrap_or_default();
            let was = old.and_then(|o| spec.get(o, code).as_text());
            if !text.is_empty() && was != Some(text) {
                let taken = records::find_by_code(self.writing, coop, kind, text)?;
                if taken.is_some_and(|t| t.id != id) {
                    let detail = format!("{text} is taken; choose another");
                    errors.push(FieldError::new(code, "taken", detail));
                }
            }
        }
        match kind {
            Kind::Area => self.check_tree(id, values, errors)?,
            Kind::GrowingGuideValue if !self.is_restoring => {
                super::guide::check(self.guide()?, values, old, errors);
            }
            Kind::BatchEvent if !self.is_restoring => self.check_feeding(id, values, errors)?,
            Kind::SeedIssue if !self.is_restoring => self.check_hold(values, old, errors)?,
            Kind::Person => {
                self.check_role(values, old, errors);
                self.check_login(id, values, errors)?;
            }
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

    /// Fodder of a batch in which mould was seen, or that is past its harvest day, is not fed out
    /// without a reason.
    fn check_feeding(
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
        let others =
            records::by_reference(self.writing, coop, kind, "batch_id", &[event.batch_id])?;
        let others = others.iter().filter(|r| r.id != id);
        let others: Vec<BatchEvent> =
            others.filter_map(|r| BatchEvent::from_values(&r.values)).collect();
        let mould = others.iter().any(|e| e.saw_mould() && e.at <= event.at);
        if mould && !errors.iter().any(|e| e.code == "mould") {
            let detail =
                format!("mould was seen in this batch: {MOULD_CAUTION}; if it was fed, say why");
            errors.push(FieldError::new("reason", "mould", detail));
        }
        self.check_age(&event, &others, errors)
    }

    /// The day of harvest is that of the batch, or of the growing guide on the day of the soak;
    /// a batch whose soak is not recorded has none.
    fn check_age(
        &mut self,
        event: &BatchEvent,
        others: &[BatchEvent],
        errors: &mut Vec<FieldError>,
    ) -> Result<(), AppError> {
        let batch = self.parent(Kind::Batch, event.batch_id)?;
        let Some(batch) = batch.and_then(|p| Batch::from_values(&p.values)) else { return Ok(()) };
        let group = match batch.animal_group_id {
            Some(group) => self.parent(Kind::AnimalGroup, group)?,
            None => None,
        };
        let class = group.and_then(|p| AnimalGroup::from_values(&p.values)).map(|g| g.animal_class);
        let (zone, now) = (self.actor.coop.zone, self.now);
        let ctx = ProgressCtx {
            guide: self.guide()?,
            class: class.as_deref(),
            harvest_age_days: batch.harvest_age_days,
            crop: &batch.crop,
            now,
            zone,
        };
        let due = progress(others, &ctx).harvest_on;
        if let Some(due) = due.filter(|due| local_date(event.at, zone) > *due) {
            let detail = format!(
                "this batch was due on {due}: old fodder spoils; look at every tray, feed nothing \
                 that smells or shows mould, and if it was fed, say why"
            );
            errors.push(FieldError::new("reason", "over_age", detail));
        }
        Ok(())
    }

    /// Nothing of a held lot is handed out. What was handed out before the hold and is entered
    /// late is taken, and so is a correction that changes neither lot nor day.
    fn check_hold(
        &mut self,
        values: &[Value],
        old: Option<&[Value]>,
        errors: &mut Vec<FieldError>,
    ) -> Result<(), AppError> {
        let Some(issue) = SeedIssue::from_values(values) else { return Ok(()) };
        let same = old
            .and_then(SeedIssue::from_values)
            .is_some_and(|was| (was.seed_lot_id, was.date) == (issue.seed_lot_id, issue.date));
        if same {
            return Ok(());
        }
        if !self.holds.contains_key(&issue.seed_lot_id) {
            let (coop, lot) = (self.actor.coop.number, issue.seed_lot_id);
            let found =
                records::by_reference(self.writing, coop, Kind::LotHold, "seed_lot_id", &[lot])?;
            let holds = found.iter().filter_map(|r| LotHold::from_values(&r.values)).collect();
            self.holds.insert(lot, holds);
        }
        let holds = self.holds.get(&issue.seed_lot_id);
        let hold = holds.and_then(|all| all.iter().find(|h| h.holds_on(issue.date)));
        if let Some(hold) = hold {
            let (from, reason) = (hold.held_from, &hold.reason);
            let detail = format!("{HOLD_CAUTION} (held from {from}: {reason})");
            errors.push(FieldError::new("seed_lot_id", "held", detail));
        }
        Ok(())
    }

    /// A login is one person's in a co-operative.
    fn check_login(
        &mut self,
        id: Uuid,
        values: &[Value],
        errors: &mut Vec<FieldError>,
    ) -> Result<(), AppError> {
        let spec = Kind::Person.spec();
        for field in ["email", "phone"] {
            let value = spec.get(values, field);
            let Some(index) = spec.index(field).filter(|_| !value.is_null()) else { continue };
            let filter = Filter { equals: vec![(index, value.clone())], ..Filter::default() };
            let coop = self.actor.coop.number;
            let same =
                records::page(self.writing, coop, Kind::Person, &Visible::All, &filter, None, 2)?;
            if same.iter().any(|r| r.id != id) {
                let detail = "another person signs in with this; each needs a login of their own";
                errors.push(FieldError::new(field, "taken", detail));
            }
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

    /// A co-operative keeps somebody who can sign in as its manager, and as its operator: nobody
    /// withdraws, closes or moves the last one. An operator is an operator's to withdraw.
    pub(super) fn check_keepers(
        &mut self,
        kind: Kind,
        old: &Record,
        becomes: Option<&[Value]>,
    ) -> Result<(), AppError> {
        if kind != Kind::Person || old.withdrawn_at.is_some() {
            return Ok(());
        }
        let spec = Kind::Person.spec();
        let is_active = |v: &[Value]| spec.get(v, "active") == &Value::Bool(true);
        let role = |v: &[Value]| Role::parse(spec.get(v, "role").as_text().unwrap_or_default());
        let Some(was) = role(&old.values) else { return Ok(()) };
        let is_operators = was != Role::Operator || self.actor.role == Role::Operator;
        if becomes.is_none() && !is_operators && !self.actor.is_machine() {
            return Err(AppError::Forbidden);
        }
        let stays = becomes.is_some_and(|v| is_active(v) && role(v) == Some(was));
        if stays || !is_active(&old.values) || !matches!(was, Role::Manager | Role::Operator) {
            return Ok(());
        }
        let given = [("role", Value::Text(was.text().to_owned())), ("active", Value::Bool(true))];
        let equals = given.into_iter().filter_map(|(name, v)| Some((spec.index(name)?, v)));
        let filter = Filter { equals: equals.collect(), ..Filter::default() };
        let (coop, all) = (self.actor.coop.number, Visible::All);
        let found = records::page(self.writing, coop, kind, &all, &filter, None, 2)?;
        if found.iter().any(|p| p.id != old.id) {
            return Ok(());
        }
        let detail = format!("this is the last {} who can sign in: make another first", was.text());
        Err(AppError::conflict("last_keeper", detail))
    }

    /// Whether a record lies within reach. Its farm or member is read once a transaction.
    fn is_within(
        &mut self,
        kind: Kind,
        values: &[Value],
        id: Uuid,
        visible: &Visible,
    ) -> Result<bool, AppError> {
        let Some((above, of)) = records::seen_by(kind, values, visible) else {
            return Ok(records::is_seen(kind, values, id, visible));
        };
        let values = self.parent(above, of)?.map(|p| p.values.as_slice());
        Ok(values.is_some_and(|values| records::is_seen(above, values, of, visible)))
    }

    fn parent(&mut self, kind: Kind, id: Uuid) -> Result<Option<&Parent>, AppError> {
        if !self.parents.contains_key(&(kind, id)) {
            let coop = self.actor.coop.number;
            let found = records::find(self.writing, coop, kind, id)?;
            let parent = match found {
                None => None,
                Some(record) => {
                    let visible = match self.actor.visible(Action::Read, kind) {
                        Ok(v) => self.is_within(kind, &record.values, id, &v)?,
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
