//! Recording a line of work as done: one small call, harmless to repeat.
//!
//! A line's name gives the ids of the records that it becomes, so that the same call made twice
//! finds them there, corrected ones too. Withdrawn ones are made anew by another id. What the call
//! does not say is taken from the line as the list has it now.
//! Where the list does not have it any more (it comes from a phone that was without signal), what
//! was done is recorded all the same, as long as the call says enough.

use super::board;
use super::line_key::Key;
use super::work::Round;
use crate::error::AppError;
use crate::records::{Txn, Written};
use crate::{Actor, App};
use serde_json::{Map, Value as Json, json};
use std::sync::Arc;
use traybook_answers::planning::work::{RecordedWork, WorkKind, WorkRecorded};
use traybook_domain::field::json_decimal;
use traybook_domain::kinds::CROPS;
use traybook_domain::people::authz::{Action, Task as May};
use traybook_domain::records::import_id::{import_id, v7_millis};
use traybook_domain::time::{format_instant, local_date, parse_instant, start_of_day};
use traybook_domain::value::Instant;
use traybook_domain::{FieldError, Kind};
use traybook_planning::day_of;
use traybook_planning::work::{Line, State, Task};
use traybook_storage::records;
use uuid::Uuid;

/// What the call may say of each kind of work, besides the line. What was harvested before is
/// thrown away by weight: its trays are counted already.
const fn members_of(key: Key) -> &'static [&'static str] {
    match key {
        Key::Batch { task: Task::Discard, harvested_on: Some(_), .. } => {
            &["at", "kg", "cause", "mould_seen", "note"]
        }
        _ => members(key.task()),
    }
}

const fn members(task: Task) -> &'static [&'static str] {
    match task {
        Task::Soak => &["at", "kg", "crop", "seed_lot_id", "shed_id", "note"],
        Task::Drain => &["at", "note"],
        Task::Spread => &["at", "trays", "germinated_percent", "mould_seen", "mould_trays", "note"],
        Task::Water | Task::Clean => &["at", "trays", "note"],
        Task::Harvest => &["at", "trays", "kg", "mould_seen", "mould_trays", "note"],
        Task::Feed => {
            &["at", "kg", "trays", "animal_group_id", "mould_seen", "mould_trays", "reason", "note"]
        }
        Task::Discard => &["at", "trays", "kg", "cause", "mould_seen", "mould_trays", "note"],
    }
}

/// Work as it was recorded.
#[derive(Clone, Debug)]
pub struct Done {
    pub work: RecordedWork,
    /// Whether it was recorded now.
    pub is_new: bool,
}

impl App {
    /// Records a line of work as done. `body` holds `line`, and what differs from it: `at`, `kg`,
    /// `trays` and the like.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` with all field errors; `NotFound` where the line's farm is not there
    /// for this person; `Conflict` when it is recorded in another way than the call says.
    pub async fn record_work(
        &self,
        actor: &Actor,
        body: Map<String, Json>,
    ) -> Result<Done, AppError> {
        actor.task(May::Work)?;
        let (key, line) = called(actor, &body, self.now())?;
        let (of, now) = (actor.clone(), self.now());
        self.change(actor, move |txn| {
            Call { actor: &of, key, line: &line, body: &body, now }.record(txn)
        })
        .await
    }
}

/// The same within a change.
pub(crate) fn record_line(
    txn: &mut Txn<'_, '_>,
    actor: &Actor,
    body: &Map<String, Json>,
) -> Result<Done, AppError> {
    actor.task(May::Work)?;
    let now = txn.now();
    let (key, line) = called(actor, body, now)?;
    Call { actor, key, line: &line, body, now }.record(txn)
}

/// The line that a call is about.
fn called(
    actor: &Actor,
    body: &Map<String, Json>,
    now: Instant,
) -> Result<(Key, String), AppError> {
    let line = match body.get("line") {
        Some(Json::String(line)) => line.clone(),
        Some(_) => return Err(AppError::field("line", "type", "give the line's name as text")),
        None => {
            return Err(AppError::field("line", "required", "give the line of the work list"));
        }
    };
    let Some(key) = Key::parse(&line) else {
        let detail = "this is no line of today's work list or an earlier one; send the line as \
                      the list gives it";
        return Err(AppError::field("line", "type", detail));
    };
    check_members(key, body)?;
    if key.date().is_some_and(|date| date > actor.coop.today(now)) {
        let detail = "this is the work of a day to come; record it when it is done";
        return Err(AppError::field("line", "future", detail));
    }
    Ok((key, line))
}

fn check_members(key: Key, body: &Map<String, Json>) -> Result<(), AppError> {
    let (task, known) = (key.task(), members_of(key));
    let unknown = body.keys().filter(|k| *k != "line" && !known.contains(&k.as_str()));
    let error = |name: &String| {
        let detail = format!("remove this; {} knows {}", task.text(), known.join(", "));
        FieldError::new(name, "unknown", detail)
    };
    let errors: Vec<FieldError> = unknown.map(error).collect();
    if errors.is_empty() { Ok(()) } else { Err(AppError::Invalid(errors)) }
}

struct Call<'a> {
    actor: &'a Actor,
    key: Key,
    line: &'a str,
    body: &'a Map<String, Json>,
    now: Instant,
}

impl Call<'_> {
    fn record(&self, txn: &mut Txn<'_, '_>) -> Result<Done, AppError> {
        let (kind, id) = self.key.subject();
        let visible = self.actor.visible(Action::Read, kind)?;
        let subject = txn.find_visible(kind, id, &visible)?;
        let farm = kind.spec().get(&subject.values, "farm_id").as_id().ok_or(AppError::NotFound)?;
        let places = self.places(txn, id)?;
        if let Some(done) = self.repeated(txn, &places)? {
            return Ok(done);
        }
        let found = self.find(txn, farm)?;
        let at = self.at(found.as_ref())?;
        self.check_kept(at)?;
        let ids: Vec<(Kind, Uuid)> = places.iter().map(|p| (p.kind, p.id)).collect();
        let bodies = self.bodies(farm, at, found.as_ref(), &ids)?;
        self.check_cut(bodies.last())?;
        let mut records = Vec::new();
        for ((kind, id, body), place) in bodies.into_iter().zip(places) {
            // A batch whose soak was withdrawn is there still.
            if let Some(stored) = place.stored {
                records.push(recorded(kind, &stored, false));
                continue;
            }
            let written = txn.create(kind, id, &body)?;
            let is_new = matches!(written, Written::Now(_));
            records.push(recorded(kind, &written.record(), is_new));
        }
        Ok(Done { work: RecordedWork { line: self.line.to_owned(), records }, is_new: true })
    }

    /// What was harvested on an earlier day is not fed without a reason.
    fn check_kept(&self, at: Instant) -> Result<(), AppError> {
        let on = local_date(at, self.actor.coop.zone);
        let kept = self.key.harvested_on().filter(|day| *day < on);
        let says_why = self.body.get("reason").is_some_and(|r| !r.is_null());
        match kept.filter(|_| self.key.task() == Task::Feed && !says_why) {
            None => Ok(()),
            Some(day) => {
                let detail = format!(
                    "this was harvested on {day}: a mat that was kept heats and moulds; look at \
                     all of it, feed nothing that smells or shows mould, and if it was fed, say why"
                );
                Err(AppError::field("reason", "over_age", detail))
            }
        }
    }

    /// What was harvested without being weighed is thrown away by a weight that somebody tells.
    fn check_cut(&self, event: Option<&NewRecord>) -> Result<(), AppError> {
        let is_cut = self.key.task() == Task::Discard && self.key.harvested_on().is_some();
        if is_cut && event.is_none_or(|(.., body)| !body.contains_key("kg")) {
            let detail = "it was harvested without being weighed: give the kg thrown away, also as \
                          an estimate";
            return Err(AppError::field("kg", "required", detail));
        }
        Ok(())
    }

    /// The records that the line becomes: the batch for a soak, then the event or work record.
    /// Their ids are made from the line's name; where what stood there was withdrawn, from the
    /// name and a counter.
    fn places(&self, txn: &mut Txn<'_, '_>, subject: Uuid) -> Result<Vec<Place>, AppError> {
        let coop = (self.actor.coop.number, self.actor.coop.id.to_string());
        let begin = |date| start_of_day(date, self.actor.coop.zone).0;
        let at = self.key.date().map_or_else(|| v7_millis(subject).unwrap_or(0), begin);
        let kinds: &[Kind] = match self.key.task() {
            Task::Soak => &[Kind::Batch, Kind::BatchEvent],
            Task::Drain | Task::Water | Task::Clean => &[Kind::WorkRecord],
            _ => &[Kind::BatchEvent],
        };
        let (mut places, mut name) = (Vec::new(), self.line.to_owned());
        for kind in kinds {
            let source = format!("work {}", kind.spec().one);
            let mut tries = 0;
            let place = loop {
                let name = if tries == 0 { name.clone() } else { format!("{name}#{tries}") };
                let id = import_id(&coop.1, &source, &name, at);
                let stored = records::find(txn.conn(), coop.0, *kind, id)?;
                if stored.as_ref().is_none_or(|r| r.withdrawn_at.is_none()) {
                    break Place { kind: *kind, id, stored };
                }
                tries += 1;
            };
            if tries > 0 {
                name = format!("{name}#{tries}");
            }
            places.push(place);
        }
        Ok(places)
    }

    /// The answer where the line was recorded before: by the same call, or as it stands now.
    fn repeated(&self, txn: &mut Txn<'_, '_>, places: &[Place]) -> Result<Option<Done>, AppError> {
        let (coop, digits) = (self.actor.coop.number, self.actor.coop.digits);
        let mut records = Vec::new();
        let mut unlike: [Vec<String>; 2] = [Vec::new(), Vec::new()];
        for place in places {
            let Some(record) = &place.stored else { continue };
            let now = crate::records::body_json(place.kind, &record.values, digits);
            let first = match record.version {
                1 => now.clone(),
                _ => {
                    let all = records::history(txn.conn(), coop, place.kind, place.id)?;
                    let first = all.first().and_then(|f| serde_json::from_str(&f.body).ok());
                    first.unwrap_or_else(|| now.clone())
                }
            };
            for (unlike, stored) in unlike.iter_mut().zip([first, now]) {
                unlike.extend(self.unlike(place.kind, &stored));
            }
            records.push(recorded(place.kind, record, false));
        }
        let [first, mut now] = unlike;
        if first.is_empty() || now.is_empty() {
            let is_whole = records.len() == places.len();
            let work = RecordedWork { line: self.line.to_owned(), records };
            return Ok(is_whole.then_some(Done { work, is_new: false }));
        }
        now.dedup();
        let detail = format!(
            "this work is recorded with another {}; correct that record instead",
            now.join(", ")
        );
        Err(AppError::conflict("work_recorded", detail))
    }

    /// Members of the call that say otherwise than a record.
    fn unlike(&self, kind: Kind, stored: &Map<String, Json>) -> Vec<String> {
        let is_same = |name: &str, given: &Json, kept: &Json| match (name, given) {
            ("at", Json::String(text)) => {
                parse_instant(text).map(format_instant).as_deref() == kept.as_str()
            }
            // A note stands on the event; the batch of a soak has one of its own.
            ("note", _) if kind == Kind::Batch => true,
            _ => same_number(given, kept) || given == kept,
        };
        let given = self.body.iter().filter(|(name, _)| *name != "line");
        let given = given.filter_map(|(name, given)| Some((name, given, stored.get(name)?)));
        let unlike = given.filter(|(name, given, kept)| !is_same(name, given, kept));
        unlike.map(|(name, ..)| name.clone()).collect()
    }

    /// The line as the list has it now.
    fn find(&self, txn: &mut Txn<'_, '_>, farm: Uuid) -> Result<Option<Found>, AppError> {
        let coop = &self.actor.coop;
        let today = coop.today(self.now);
        let date = self.key.date().unwrap_or(today);
        let board = Arc::new(board::on_day(txn.conn(), coop, date.min(today), Some(&[farm]))?);
        let round = Round::new(txn.conn(), (None, coop), Arc::clone(&board), self.now, date)?;
        let Some(of) = board.farm(farm) else { return Ok(None) };
        let (lines, ..) = round.lines(of);
        let line = lines.into_iter().find(|l| l.key == self.line);
        let open = line.filter(|l| !matches!(l.state, State::Done(_)));
        let shed = |line: &Line| of.scene.farm.sheds.get(line.shed).map(|s| s.id);
        let group =
            |line: &Line| line.group.and_then(|g| of.scene.farm.groups.get(g)).map(|g| g.id);
        Ok(open.map(|line| Found {
            shed: shed(&line),
            group: group(&line),
            is_mouldy: line.batch.and_then(|b| of.scene.batches.get(b)).is_some_and(|b| b.mould),
            is_over_age: line.feed_on.is_some_and(|on| on < day_of(today)),
            line,
        }))
    }

    /// When it was done: as given, or now.
    fn at(&self, found: Option<&Found>) -> Result<Instant, AppError> {
        match self.body.get("at") {
            Some(Json::String(text)) => parse_instant(text).ok_or_else(|| {
                let detail = "give an instant as RFC 3339, like 2026-03-01T06:30:00Z";
                AppError::field("at", "type", detail)
            }),
            Some(Json::Null) | None => {
                let today = self.actor.coop.today(self.now);
                let is_old = self.key.date().is_some_and(|date| date < today);
                if is_old || found.is_none() {
                    let detail = "say when it was done: the line is not on today's list";
                    return Err(AppError::field("at", "required", detail));
                }
                Ok(self.now)
            }
            Some(_) => Err(AppError::field("at", "type", "give an instant as RFC 3339 text")),
        }
    }

    /// A member of the call, or what the line says.
    fn say(&self, body: &mut Map<String, Json>, name: &str, line: Option<Json>) {
        let given = self.body.get(name).filter(|v| !v.is_null()).cloned();
        if let Some(value) = given.or(line) {
            body.insert(name.to_owned(), value);
        }
    }

    fn bodies(
        &self,
        farm: Uuid,
        at: Instant,
        found: Option<&Found>,
        ids: &[(Kind, Uuid)],
    ) -> Result<Vec<NewRecord>, AppError> {
        let line = found.map(|f| &f.line);
        let (trays, kg) = (
            line.and_then(|l| l.trays).map(|t| json!(t)),
            line.and_then(|l| l.grams).map(|g| json_decimal(g, 3)),
        );
        let mut event = Map::new();
        event.insert("at".to_owned(), json!(format_instant(at)));
        for name in ["mould_seen", "mould_trays", "germinated_percent", "note", "reason"] {
            if members(self.key.task()).contains(&name) {
                self.say(&mut event, name, None);
            }
        }
        let mut put = |name: &str, value: Json| drop(event.insert(name.to_owned(), value));
        let mut first = None;
        match self.key {
            Key::Soak { group, feed_on, .. } => {
                let batch = self.soak(at, group, feed_on, found)?;
                let id = ids.first().map(|(_, id)| *id).unwrap_or_default();
                put("batch_id", json!(id));
                put("event", json!("soaked"));
                first = Some((Kind::Batch, id, batch));
                // Trays are those of the line's own seed.
                if let Some(trays) = trays.filter(|_| !self.body.contains_key("kg")) {
                    put("trays", trays);
                }
                self.say(&mut event, "kg", kg);
            }
            Key::Shed { task, shed, watering, .. } => {
                put("farm_id", json!(farm));
                put("shed_id", json!(shed));
                put("task", json!(if task == Task::Water { "watered" } else { "cleaned" }));
                if let Some(number) = watering {
                    put("watering", json!(number));
                }
                self.say(&mut event, "trays", trays);
            }
            Key::Batch { task: Task::Drain, batch, .. } => {
                put("farm_id", json!(farm));
                put("batch_id", json!(batch));
                put("task", json!("drained"));
            }
            Key::Batch { task, batch, .. } => {
                put("batch_id", json!(batch));
                put("event", json!(event_of(task)));
                self.event(&mut event, task, found, trays, kg);
            }
        }
        let last = ids.last().map(|(kind, id)| (*kind, *id, event));
        Ok(first.into_iter().chain(last).collect())
    }

    fn event(
        &self,
        event: &mut Map<String, Json>,
        task: Task,
        found: Option<&Found>,
        trays: Option<Json>,
        kg: Option<Json>,
    ) {
        match task {
            Task::Spread => self.say(event, "trays", trays),
            // What was expected is not what was weighed: kg only where they are told.
            Task::Harvest => {
                self.say(event, "trays", trays);
                self.say(event, "kg", None);
            }
            Task::Feed => {
                // By weight where it is known, else by trays: the kg stay missing.
                let gives = |name: &str| self.body.get(name).is_some_and(|v| !v.is_null());
                self.say(event, "kg", kg.filter(|_| !gives("trays")));
                self.say(event, "trays", trays.filter(|_| !event.contains_key("kg")));
                let group = found.and_then(|f| f.group).map(|g| json!(g));
                self.say(event, "animal_group_id", group);
            }
            _ => {
                // What was harvested before has left its trays: by weight.
                let is_cut = self.key.harvested_on().is_some();
                self.say(event, "trays", trays.filter(|_| !is_cut));
                self.say(event, "kg", kg.filter(|_| is_cut));
                let cause = match found {
                    Some(f) if f.is_mouldy => Some(json!("mould")),
                    Some(f) if f.is_over_age || f.line.harvested_on.is_some() => {
                        Some(json!("left_too_long"))
                    }
                    _ => None,
                };
                self.say(event, "cause", cause);
            }
        }
    }

    /// The batch that a soak begins.
    fn soak(
        &self,
        at: Instant,
        group: Uuid,
        feed_on: chrono::NaiveDate,
        found: Option<&Found>,
    ) -> Result<Map<String, Json>, AppError> {
        let line = found.map(|f| &f.line);
        let on = local_date(at, self.actor.coop.zone);
        let age = (feed_on - on).num_days();
        if !(2..=14).contains(&age) {
            let detail = format!("seed soaked on {on} can not be fed on {feed_on}");
            return Err(AppError::field("at", "range", detail));
        }
        let mut batch = Map::new();
        batch.insert("animal_group_id".to_owned(), json!(group));
        batch.insert("harvest_age_days".to_owned(), json!(age));
        self.say(&mut batch, "shed_id", found.and_then(|f| f.shed).map(|s| json!(s)));
        let of_line = line.and_then(|l| l.crop).and_then(|c| CROPS.get(c)).copied();
        self.say(&mut batch, "crop", of_line.map(|c| json!(c)));
        // Seed of another crop is not of the line's lot.
        let is_of_line = batch.get("crop").and_then(Json::as_str) == of_line;
        let lot = line.and_then(|l| l.lot).filter(|_| is_of_line).map(|l| json!(l));
        self.say(&mut batch, "seed_lot_id", lot);
        Ok(batch)
    }
}

/// Where a record of the line stands, and what stands there.
struct Place {
    kind: Kind,
    id: Uuid,
    stored: Option<records::Record>,
}

/// A record to make.
type NewRecord = (Kind, Uuid, Map<String, Json>);

/// The line with what it refers to.
struct Found {
    line: Line,
    shed: Option<Uuid>,
    group: Option<Uuid>,
    is_mouldy: bool,
    is_over_age: bool,
}

const fn event_of(task: Task) -> &'static str {
    match task {
        Task::Spread => "spread",
        Task::Harvest => "harvested",
        Task::Feed => "fed_out",
        _ => "discarded",
    }
}

fn recorded(kind: Kind, record: &records::Record, is_new: bool) -> WorkRecorded {
    let kind = match kind {
        Kind::Batch => WorkKind::Batch,
        Kind::BatchEvent => WorkKind::BatchEvent,
        _ => WorkKind::WorkRecord,
    };
    WorkRecorded { kind, id: record.id, version: record.version, is_new }
}

/// Whether two JSON numbers are the same, however they are written.
fn same_number(a: &Json, b: &Json) -> bool {
    match (a.as_f64(), b.as_f64()) {
        (Some(a), Some(b)) => (a - b).abs() < 1e-9,
        _ => false,
    }
}
