//! The records of a text, through the same ways as from every other door.

use super::scene::{Known, Last};
use crate::Actor;
use crate::error::AppError;
use crate::planning::record_line;
use crate::records::collected::{Answers, collect_one};
use crate::records::{Piece, Txn, Written};
use chrono::NaiveDate;
use serde_json::{Map, Value as Json, json};
use traybook_domain::Kind;
use traybook_domain::effects::{DayRecord, day_record};
use traybook_domain::field::json_decimal;
use traybook_domain::records::collected::{self, standing};
use traybook_domain::records::import_id::import_id;
use traybook_domain::time::{format_instant, start_of_day};
use traybook_domain::value::Instant;
use traybook_storage::Conn;
use traybook_storage::records;
use traybook_texts::{Again, Record, What};
use uuid::Uuid;

/// Hours after midnight that stand for a day which is over.
const NOON_MS: i64 = 12 * 60 * 60 * 1_000;
/// Why a record is taken back.
const UNDONE: &str = "taken back by text";

/// Writes the records of a text.
pub(super) fn records(
    txn: &mut Txn<'_, '_>,
    actor: &Actor,
    known: &Known,
    all: &[Record],
    text: Uuid,
) -> Result<Last, AppError> {
    let mut last = Last { said: all.to_vec(), ..Last::default() };
    for (at, record) in all.iter().enumerate() {
        let of = Of { actor, known, record, key: format!("{text}.{at}") };
        match &record.what {
            What::Milk { .. } | What::Eggs { .. } => of.collected(txn, &mut last)?,
            _ => of.work(txn, &mut last)?,
        }
    }
    Ok(last)
}

struct Of<'a> {
    actor: &'a Actor,
    known: &'a Known,
    record: &'a Record,
    /// From it the ids are made.
    key: String,
}

impl Of<'_> {
    fn id(&self, txn: &Txn<'_, '_>, kind: Kind) -> Uuid {
        let source = format!("text {}", kind.spec().one);
        import_id(&self.actor.coop.id.to_string(), &source, &self.key, txn.now().0)
    }

    /// Milk or eggs; what they replace is noted, so that it can come back.
    fn collected(&self, txn: &mut Txn<'_, '_>, last: &mut Last) -> Result<(), AppError> {
        let mut body = Map::new();
        let mut put = |name: &str, value: Json| drop(body.insert(name.to_owned(), value));
        put("date", json!(self.record.date.to_string()));
        let (kind, code, again, session) = match &self.record.what {
            What::Milk { group, said, animals, session, again, .. } => {
                put("litres", json_decimal(*said, 3));
                put("animals_in_milk", json!(animals));
                put("session", json!(session.text()));
                (Kind::MilkRecord, group, again, session.text())
            }
            What::Eggs { group, said, animals, cracked, again, .. } => {
                put("eggs", json!(said / 1_000));
                put("hens_present", json!(animals));
                if let Some(cracked) = cracked {
                    put("cracked", json!(cracked));
                }
                (Kind::EggRecord, group, again, "day")
            }
            _ => return Ok(()),
        };
        let group = *self.known.groups.get(code).ok_or(AppError::NotFound)?;
        let farm = *self.known.farms.get(&self.record.farm).ok_or(AppError::NotFound)?;
        put("animal_group_id", json!(group));
        let coop = self.actor.coop.number;
        let day = records::of_day(txn.conn(), coop, kind, farm, group, self.record.date)?;
        let rows: Vec<DayRecord> = day
            .iter()
            .filter_map(|r| day_record(kind, &r.values, r.id, r.created_at))
            .map(|cell| cell.3)
            .collect();
        let replaced: Vec<Uuid> = standing(&rows, session).iter().map(|r| r.id).collect();
        let id = self.id(txn, kind);
        // What is far from the usual was asked by the text's own question.
        let again = again.map(|again| match again {
            Again::Add => collected::Again::Add,
            Again::Instead => collected::Again::Instead,
        });
        let answers = Answers { again, is_sure: true };
        collect_one(txn, self.actor, &Piece::new(kind, id, body), answers)?;
        let one = kind.spec().one.to_owned();
        last.made.push((one.clone(), id, 1));
        for old in day.iter().filter(|r| replaced.contains(&r.id)) {
            last.replaced.push((one.clone(), old.id, old.version + 1));
        }
        Ok(())
    }

    /// Work of a line of the list, or what happened to a batch that stands on no line.
    fn work(&self, txn: &mut Txn<'_, '_>, last: &mut Last) -> Result<(), AppError> {
        let (line, batch, event, mut body) = self.event()?;
        let at = self.at(txn.now(), self.record.date);
        if let Some(line) = line {
            let is_of_today = self.known.today.contains(&line);
            let is_over = self.record.date < self.known.scene.today;
            if is_over || !is_of_today {
                body.insert("at".to_owned(), json!(format_instant(at)));
            }
            body.insert("line".to_owned(), json!(line));
            let done = record_line(txn, self.actor, &body)?;
            for made in done.work.records {
                last.made.push((made.kind.text().to_owned(), made.id, made.version));
            }
            return Ok(());
        }
        let batch = batch.and_then(|b| self.known.batches.get(b)).ok_or(AppError::NotFound)?;
        body.insert("batch_id".to_owned(), json!(batch));
        body.insert("event".to_owned(), json!(event));
        body.insert("at".to_owned(), json!(format_instant(at)));
        let kind = Kind::BatchEvent;
        let id = self.id(txn, kind);
        let made = match txn.create(kind, id, &body)? {
            Written::Now(record) | Written::Before(record) => record,
        };
        last.made.push((kind.spec().one.to_owned(), made.id, made.version));
        Ok(())
    }

    /// The line, the batch, the event, and what the text says of it.
    #[expect(clippy::type_complexity, reason = "four things of one match")]
    fn event(
        &self,
    ) -> Result<(Option<String>, Option<&String>, &'static str, Map<String, Json>), AppError> {
        let mut body = Map::new();
        let mut put = |name: &str, value: Option<Json>| {
            body.extend(value.map(|v| (name.to_owned(), v)));
        };
        let kg = |grams: Option<i64>| grams.map(|g| json_decimal(g, 3));
        Ok(match &self.record.what {
            What::Harvest { batch, grams, trays, line, .. } => {
                put("kg", kg(*grams));
                put("trays", trays.map(|t| json!(t)));
                (line.clone(), Some(batch), "harvested", body)
            }
            What::Discard { batch, grams, trays, cause, line } => {
                put("kg", kg(*grams));
                put("trays", trays.map(|t| json!(t)));
                put("cause", Some(json!(cause)));
                (line.clone(), Some(batch), "discarded", body)
            }
            What::Work { task, grams, trays, line, .. } => {
                let is_weighed = matches!(task.text(), "soak" | "feed");
                put("kg", kg(grams.filter(|_| is_weighed)));
                put("trays", trays.map(|t| json!(t)));
                (Some(line.clone()), None, "", body)
            }
            What::Milk { .. } | What::Eggs { .. } => return Err(AppError::NotFound),
        })
    }

    /// When it happened: now, or noon of a day that is over.
    fn at(&self, now: Instant, date: NaiveDate) -> Instant {
        if date == self.known.scene.today {
            return now;
        }
        Instant(start_of_day(date, self.actor.coop.zone).0 + NOON_MS)
    }
}

/// Whether all that a text made is as it was made.
pub(super) fn is_as_made(conn: &mut Conn, coop: i64, last: &Last) -> Result<bool, AppError> {
    for (kind, id, version) in &last.made {
        let Some(kind) = Kind::from_one(kind) else { return Ok(false) };
        let found = records::find(conn, coop, kind, *id)?;
        if !found.is_some_and(|r| r.version == *version && r.withdrawn_at.is_none()) {
            return Ok(false);
        }
    }
    Ok(!last.made.is_empty())
}

/// Takes back what a text made, the last first, and puts back what that replaced.
pub(super) fn undo(txn: &mut Txn<'_, '_>, last: &Last) -> Result<(), AppError> {
    use traybook_domain::people::authz::Action;
    for (kind, id, version) in last.made.iter().rev() {
        let kind = Kind::from_one(kind).ok_or(AppError::NotFound)?;
        txn.withdraw(kind, *id, *version, Some(UNDONE.to_owned()))?;
    }
    for (kind, id, version) in &last.replaced {
        let kind = Kind::from_one(kind).ok_or(AppError::NotFound)?;
        let visible = txn.actor().visible(Action::Withdraw, kind)?;
        txn.put_back(kind, *id, *version, &visible)?;
    }
    Ok(())
}

/// Longest wish of a member that is kept.
const WISH_CHARS_MAX: usize = 900;

/// Asks the officer to call: a wish of the member, which the officer's page shows until it is
/// answered.
pub(super) fn call(
    txn: &mut Txn<'_, '_>,
    farm: Uuid,
    text: &str,
    id: Uuid,
) -> Result<(), AppError> {
    let kind = Kind::CorrectionRequest;
    let today = txn.actor().coop.today(txn.now());
    let said: String = text.chars().filter(|c| !c.is_control()).take(WISH_CHARS_MAX).collect();
    let wish = format!("SMS: {said}");
    let body = json!({
        "farm_id": farm, "about": "other", "asked_on": today.to_string(), "wish": wish.trim(),
    });
    let Json::Object(body) = body else { return Ok(()) };
    txn.create(kind, id, &body).map(drop)
}
