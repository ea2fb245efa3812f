//! Recording a line of work as done: one small call, harmless to repeat.
//!
//! A line's name gives the ids of the records that it becomes, so that the same call made twice
//! finds them there. What the call does not say is taken from the line as the list has it now.
//! Where the list does not have it any more (it comes from a phone that was without signal), what
//! was done is recorded all the same, as long as the call says enough.

use super::board;
use super::work::Round;
use crate::ctx::{Actor, App};
use crate::error::AppError;
use crate::txn::{Txn, Written};
use serde_json::{Map, Value as Json, json};
use std::sync::Arc;
use traybook_domain::authz::{Action, Task as May};
use traybook_domain::field::json_decimal;
use traybook_domain::import_id::{import_id, v7_millis};
use traybook_domain::kinds::CROPS;
use traybook_domain::time::{format_instant, local_date, parse_date, parse_instant, start_of_day};
use traybook_domain::value::Instant;
use traybook_domain::{FieldError, Kind};
use traybook_planning::day_of;
use traybook_planning::work::{Line, State, Task};
use traybook_storage::records;
use uuid::Uuid;

/// What a line's name says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Key {
    /// Seed to soak for a group, to be fed on a day.
    Soak { date: chrono::NaiveDate, group: Uuid, feed_on: chrono::NaiveDate },
    /// Work on a shed on a day.
    Shed { task: Task, date: chrono::NaiveDate, shed: Uuid, watering: Option<i64> },
    /// Work on a batch.
    Batch { task: Task, batch: Uuid },
}

impl Key {
    fn parse(text: &str) -> Option<Self> {
        let parts: Vec<&str> = text.split('.').collect();
        let task = Task::parse(parts.first()?)?;
        let id = |at: usize| Uuid::try_parse(parts.get(at)?).ok();
        let date = |at: usize| parse_date(parts.get(at)?);
        let number = |at: usize| parts.get(at)?.parse::<i64>().ok();
        match (task, parts.len()) {
            // A top-up carries the grams that grow already.
            (Task::Soak, 4 | 5) if parts.len() == 4 || number(4).is_some() => {
                Some(Self::Soak { date: date(1)?, group: id(2)?, feed_on: date(3)? })
            }
            (Task::Water, 4) => {
                let watering = Some(number(3)?);
                Some(Self::Shed { task, date: date(1)?, shed: id(2)?, watering })
            }
            (Task::Clean, 3) => {
                Some(Self::Shed { task, date: date(1)?, shed: id(2)?, watering: None })
            }
            (Task::Drain | Task::Spread, 2) => Some(Self::Batch { task, batch: id(1)? }),
            (Task::Harvest | Task::Feed | Task::Discard, 3) => {
                number(2)?;
                Some(Self::Batch { task, batch: id(1)? })
            }
            _ => None,
        }
    }

    const fn task(self) -> Task {
        match self {
            Self::Soak { .. } => Task::Soak,
            Self::Shed { task, .. } | Self::Batch { task, .. } => task,
        }
    }

    const fn date(self) -> Option<chrono::NaiveDate> {
        match self {
            Self::Soak { date, .. } | Self::Shed { date, .. } => Some(date),
            Self::Batch { .. } => None,
        }
    }

    /// What the work is done on.
    const fn subject(self) -> (Kind, Uuid) {
        match self {
            Self::Soak { group, .. } => (Kind::AnimalGroup, group),
            Self::Shed { shed, .. } => (Kind::Shed, shed),
            Self::Batch { batch, .. } => (Kind::Batch, batch),
        }
    }
}

/// What the call may say of each kind of work, besides the line.
const fn members(task: Task) -> &'static [&'static str] {
    match task {
        Task::Soak => &["at", "kg", "crop", "seed_lot_id", "shed_id", "note"],
        Task::Drain => &["at", "note"],
        Task::Spread => &["at", "trays", "germinated_percent", "mould_seen", "note"],
        Task::Water | Task::Clean => &["at", "trays", "note"],
        Task::Harvest => &["at", "trays", "kg", "mould_seen", "note"],
        Task::Feed => &["at", "kg", "animal_group_id", "mould_seen", "reason", "note"],
        Task::Discard => &["at", "trays", "kg", "cause", "mould_seen", "note"],
    }
}

/// Work as it was recorded.
#[derive(Clone, Debug)]
pub struct Done {
    /// The answer.
    pub json: Json,
    /// Whether it was recorded now.
    pub is_new: bool,
}

impl App {
    /// Records a line of work as done. `body` holds `line`, and what differs from it: `at`, `kg`,
    /// `trays` and the like.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` with all field errors; `NotFound` where the line's farm is not there
    /// for this person; `Conflict` when it was recorded before in another way.
    pub async fn record_work(
        &self,
        actor: &Actor,
        body: Map<String, Json>,
    ) -> Result<Done, AppError> {
        actor.task(May::Work)?;
        let (coop, now) = (actor.coop.clone(), self.now());
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
        check_members(key.task(), &body)?;
        if key.date().is_some_and(|date| date > coop.today(now)) {
            let detail = "this is the work of a day to come; record it when it is done";
            return Err(AppError::field("line", "future", detail));
        }
        let of = actor.clone();
        self.change(actor, move |txn| {
            let call = Call { actor: &of, key, line: &line, body: &body, now };
            call.record(txn)
        })
        .await
    }
}

fn check_members(task: Task, body: &Map<String, Json>) -> Result<(), AppError> {
    let known = members(task);
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
    fn record(&self, txn: &mut Txn<'_>) -> Result<Done, AppError> {
        let (kind, id) = self.key.subject();
        let visible = self.actor.visible(Action::Read, kind)?;
        let subject = txn.find_visible(kind, id, &visible)?;
        let farm = kind.spec().get(&subject.values, "farm_id").as_id().ok_or(AppError::NotFound)?;
        let ids = self.ids(id);
        if let Some(done) = self.repeated(txn, &ids)? {
            return Ok(done);
        }
        let found = self.find(txn, farm)?;
        let at = self.at(found.as_ref())?;
        let bodies = self.bodies(farm, at, found.as_ref(), &ids)?;
        let mut records = Vec::new();
        for (kind, id, body) in bodies {
            let written = txn.create(kind, id, &body)?;
            let is_new = matches!(written, Written::Now(_));
            records.push(told(kind, &written.record(), is_new));
        }
        Ok(Done { json: json!({ "line": self.line, "records": records }), is_new: true })
    }

    /// The records that the line becomes: the batch for a soak, then the event or work record.
    fn ids(&self, subject: Uuid) -> Vec<(Kind, Uuid)> {
        let coop = self.actor.coop.id.to_string();
        let begin = |date| start_of_day(date, self.actor.coop.zone).0;
        let at = self.key.date().map_or_else(|| v7_millis(subject).unwrap_or(0), begin);
        let id = |kind: Kind| {
            (kind, import_id(&coop, &format!("work {}", kind.spec().one), self.line, at))
        };
        match self.key.task() {
            Task::Soak => vec![id(Kind::Batch), id(Kind::BatchEvent)],
            Task::Drain | Task::Water | Task::Clean => vec![id(Kind::WorkRecord)],
            _ => vec![id(Kind::BatchEvent)],
        }
    }

    /// The answer where the line was recorded before.
    fn repeated(&self, txn: &mut Txn<'_>, ids: &[(Kind, Uuid)]) -> Result<Option<Done>, AppError> {
        let coop = self.actor.coop.number;
        let mut records = Vec::new();
        let mut unlike: Vec<String> = Vec::new();
        for (kind, id) in ids {
            let Some(record) = records::find(txn.conn(), coop, *kind, *id)? else {
                return Ok(None);
            };
            if record.withdrawn_at.is_some() {
                let detail = "what was recorded for this line was withdrawn; record it by itself, \
                              as a record of batch-events, batches or work-records";
                return Err(AppError::conflict("work_withdrawn", detail));
            }
            let stored = crate::represent::body_json(*kind, &record.values, self.actor.coop.digits);
            for (name, given) in self.body.iter().filter(|(n, _)| *n != "line") {
                let Some(kept) = stored.get(name) else { continue };
                let same = match (name.as_str(), given) {
                    ("at", Json::String(text)) => {
                        parse_instant(text).map(format_instant).as_deref() == kept.as_str()
                    }
                    _ => same_number(given, kept) || given == kept,
                };
                // A note stands on the event; the batch of a soak has one of its own.
                let is_elsewhere = name == "note" && *kind == Kind::Batch;
                if !same && !is_elsewhere {
                    unlike.push(name.clone());
                }
            }
            records.push(told(*kind, &record, false));
        }
        if unlike.is_empty() {
            return Ok(Some(Done {
                json: json!({ "line": self.line, "records": records }),
                is_new: false,
            }));
        }
        unlike.dedup();
        let detail = format!(
            "this work is recorded with another {}; correct that record instead",
            unlike.join(", ")
        );
        Err(AppError::conflict("work_recorded", detail))
    }

    /// The line as the list has it now.
    fn find(&self, txn: &mut Txn<'_>, farm: Uuid) -> Result<Option<Found>, AppError> {
        let coop = &self.actor.coop;
        let today = coop.today(self.now);
        let date = self.key.date().unwrap_or(today);
        let board = Arc::new(board::on_day(txn.conn(), coop, date.min(today), Some(&[farm]))?);
        let round = Round::new(txn.conn(), coop, Arc::clone(&board), self.now, date)?;
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
        for name in ["mould_seen", "germinated_percent", "note", "reason"] {
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
            Key::Batch { task: Task::Drain, batch } => {
                put("farm_id", json!(farm));
                put("batch_id", json!(batch));
                put("task", json!("drained"));
            }
            Key::Batch { task, batch } => {
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
                self.say(event, "kg", kg);
                let group = found.and_then(|f| f.group).map(|g| json!(g));
                self.say(event, "animal_group_id", group);
            }
            _ => {
                self.say(event, "trays", trays);
                self.say(event, "kg", None);
                let cause = match found {
                    Some(f) if f.is_mouldy => Some(json!("mould")),
                    Some(f) if f.is_over_age => Some(json!("left_too_long")),
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

fn told(kind: Kind, record: &records::Record, is_new: bool) -> Json {
    json!({
        "kind": kind.spec().one,
        "id": record.id,
        "version": record.version,
        "is_new": is_new,
    })
}

/// Whether two JSON numbers are the same, however they are written.
fn same_number(a: &Json, b: &Json) -> bool {
    match (a.as_f64(), b.as_f64()) {
        (Some(a), Some(b)) => (a - b).abs() < 1e-9,
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_are_read_as_the_list_writes_them_and_nothing_else() {
        let id = Uuid::from_u128(7);
        let day = |text: &str| parse_date(text).expect("a day");
        let soak = Key::Soak { date: day("2026-03-01"), group: id, feed_on: day("2026-03-09") };
        assert_eq!(Key::parse(&format!("soak.2026-03-01.{id}.2026-03-09")), Some(soak));
        let water = Key::parse(&format!("water.2026-03-01.{id}.2"));
        assert!(matches!(water, Some(Key::Shed { watering: Some(2), .. })));
        assert_eq!(
            Key::parse(&format!("harvest.{id}.0")),
            Some(Key::Batch { task: Task::Harvest, batch: id })
        );
        for bad in ["", "soak", "harvest.x.0", "spread", "eat.2026-03-01", "water.2026-03-01"] {
            assert_eq!(Key::parse(bad), None, "{bad}");
        }
        assert_eq!(Key::parse(&format!("harvest.{id}")), None);
        assert_eq!(Key::parse(&format!("soak.{id}")), None);
    }
}
