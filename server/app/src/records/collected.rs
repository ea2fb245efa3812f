//! Milk and eggs as a person writes them down. A second entry for the same milking is asked back:
//! it comes on top, or stands instead. So is a figure far from the group's usual. What is replaced
//! is taken back and stays in the history.

use super::together::Piece;
use super::txn::Txn;
use crate::error::AppError;
use crate::{Actor, App};
use chrono::NaiveDate;
use std::collections::BTreeMap;
use traybook_domain::effects::{DayRecord, day_record};
use traybook_domain::kinds::{AnimalGroup, EggRecord, MilkRecord};
use traybook_domain::people::authz::Action;
use traybook_domain::record::Record as _;
use traybook_domain::records::collected::{Again, FarOff, USUAL_DAYS, far_off, standing};
use traybook_domain::savings::money::format_decimal;
use traybook_domain::time::minus_days;
use traybook_domain::{FieldError, Kind, Value};
use traybook_storage::records::{self, Filter};
use uuid::Uuid;

/// Field of the answer to what is written already.
pub const AGAIN: &str = "again";
/// Field that says of a far figure that it is right.
pub const SURE: &str = "sure";
/// Records of a group that make its usual; a day has a few.
const USUAL_RECORDS_MAX: usize = 200;

/// What a person has answered.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Answers {
    /// How the figure stands to what is written of the milking.
    pub again: Option<Again>,
    /// Whether a figure far from the usual is right.
    pub is_sure: bool,
}

/// An entry that has been read.
struct Entry {
    kind: Kind,
    group: Uuid,
    farm: Uuid,
    class: String,
    date: NaiveDate,
    day: DayRecord,
}

impl App {
    /// Records milk or eggs, all pieces or none. A piece whose id is there was recorded before.
    ///
    /// # Errors
    /// `Invalid` with `already_written` at [`AGAIN`] and `far_off` at [`SURE`] for what is asked
    /// back, and with field errors; `Forbidden`, `NotFound`.
    pub async fn collect(
        &self,
        actor: &Actor,
        pieces: Vec<Piece>,
        answers: Answers,
    ) -> Result<(), AppError> {
        let by = actor.clone();
        self.change(actor, move |txn| {
            let mut errors = Vec::new();
            for piece in &pieces {
                match collect_one(txn, &by, piece, answers) {
                    Ok(()) => {}
                    Err(AppError::Invalid(found)) => {
                        let field = |e: FieldError| {
                            let is_asked = matches!(e.field(), AGAIN | SURE);
                            let name = format!("{}{}", piece.prefix, e.field());
                            if is_asked { e } else { e.renamed(&name) }
                        };
                        errors.extend(found.into_iter().map(field));
                    }
                    Err(other) => return Err(other),
                }
            }
            if errors.is_empty() { Ok(()) } else { Err(AppError::Invalid(errors)) }
        })
        .await
    }
}

/// Records one piece within a change, as [`App::collect`] does.
pub(crate) fn collect_one(
    txn: &mut Txn<'_, '_>,
    actor: &Actor,
    piece: &Piece,
    answers: Answers,
) -> Result<(), AppError> {
    let (kind, number) = (piece.kind, actor.coop.number);
    let visible = actor.visible(Action::Create, kind)?;
    if records::find(txn.conn(), number, kind, piece.id)?.is_some() {
        return Ok(());
    }
    let mut values = txn.read_body(kind, piece.id, &piece.body)?;
    let Some(entry) = entry(txn, kind, piece.id, &mut values)? else {
        // The rules say what is wrong with it.
        return txn.create(kind, piece.id, &piece.body).map(drop);
    };
    let stored = records::of_day(txn.conn(), number, kind, entry.farm, entry.group, entry.date)?;
    let day_of = |r: &records::Record| day_record(kind, &r.values, r.id, r.created_at);
    let day: Vec<DayRecord> = stored.iter().filter_map(day_of).map(|cell| cell.3).collect();
    let written = standing(&day, &entry.day.session);
    let mut errors = Vec::new();
    if !written.is_empty() {
        match answers.again {
            None => errors.push(already_written(&entry, &written)),
            Some(Again::Instead) => {}
            Some(Again::Add) => {
                let of = |id: Uuid| stored.iter().find(|r| r.id == id).map(|r| &r.values);
                let old = written.iter().filter_map(|w| of(w.id));
                values = old.fold(values, |new, old| on_top(kind, new, old));
            }
        }
    }
    let summed = day_record(kind, &values, piece.id, 0).map(|cell| cell.3);
    if errors.is_empty()
        && !answers.is_sure
        && let Some(summed) = summed
        && let Some(far) = far_from_usual(txn, actor, &entry, &summed)?
    {
        errors.push(far_off_error(kind, &summed, far));
    }
    if !errors.is_empty() {
        return Err(AppError::Invalid(errors));
    }
    let made = txn.create_values(kind, piece.id, values, &visible)?.record().clone();
    let reason = Some(format!("replaced by {}", made.id));
    for old in &written {
        let version = stored.iter().find(|r| r.id == old.id).map_or(0, |r| r.version);
        txn.withdraw(kind, old.id, version, reason.clone())?;
    }
    Ok(())
}

/// The entry, with the group's farm put in; none where the group is not one of this person's.
fn entry(
    txn: &mut Txn<'_, '_>,
    kind: Kind,
    id: Uuid,
    values: &mut [Value],
) -> Result<Option<Entry>, AppError> {
    let group = kind.spec().get(values, "animal_group_id").as_id();
    let found = group.map(|group| txn.group(group)).transpose()?.flatten();
    let Some((group, found)) = group.zip(found) else { return Ok(None) };
    let farm = found.farm_id;
    if let Some(value) = kind.spec().index("farm_id").and_then(|at| values.get_mut(at)) {
        *value = Value::Id(farm);
    }
    let day = day_record(kind, values, id, 0);
    Ok(day.map(|(_, _, date, day)| Entry {
        kind,
        group,
        farm,
        class: found.animal_class,
        date,
        day,
    }))
}

fn on_top(kind: Kind, new: Vec<Value>, old: &[Value]) -> Vec<Value> {
    let sum = if kind == Kind::MilkRecord {
        MilkRecord::from_values(&new)
            .zip(MilkRecord::from_values(old))
            .map(|(new, old)| new.on_top_of(&old).into_values())
    } else {
        EggRecord::from_values(&new)
            .zip(EggRecord::from_values(old))
            .map(|(new, old)| new.on_top_of(&old).into_values())
    };
    sum.unwrap_or(new)
}

/// Litres or eggs, as a sentence says them.
fn amount(kind: Kind, amount: i64) -> String {
    format_decimal(amount, if kind == Kind::MilkRecord { 3 } else { 0 })
}

fn unit(kind: Kind) -> &'static str {
    if kind == Kind::MilkRecord { "litres" } else { "eggs" }
}

fn already_written(entry: &Entry, written: &[&DayRecord]) -> FieldError {
    let (kind, session) = (entry.kind, entry.day.session.as_str());
    let there: i64 = written.iter().map(|r| r.amount).sum();
    let new = entry.day.amount;
    let [was, now, both] = [there, new, there + new].map(|a| amount(kind, a));
    let unit = unit(kind);
    let detail = format!(
        "{was} {unit} are written of this already: choose whether {now} comes on top, which makes \
         {both}, or stands instead"
    );
    let stands = written.first().map_or("day", |r| r.session.as_str());
    FieldError::new(AGAIN, "already_written", detail)
        .naming("was", was)
        .naming("now", now)
        .naming("both", both)
        .naming("stands", stands)
        .naming("session", session)
}

fn far_off_error(kind: Kind, summed: &DayRecord, far: FarOff) -> FieldError {
    let (now, unit) = (amount(kind, summed.amount), unit(kind));
    let animals = summed.animals;
    let Some(usual) = far.usual else {
        let detail = format!(
            "{now} {unit} is very much for so many animals ({animals}): mend it, or say it is right"
        );
        let error = FieldError::new(SURE, "very_much", detail);
        return error.naming("now", now).naming("animals", animals);
    };
    let usual = amount(kind, usual.round() as i64);
    let detail = format!(
        "{now} {unit}: so many animals of this group ({animals}) usually give about {usual}. Mend \
         it, or say it is right"
    );
    let error = FieldError::new(SURE, "far_off", detail);
    error.naming("now", now).naming("animals", animals).naming("usual", usual)
}

/// Whether a figure is far from what the group gave in the days before.
fn far_from_usual(
    txn: &mut Txn<'_, '_>,
    actor: &Actor,
    entry: &Entry,
    summed: &DayRecord,
) -> Result<Option<FarOff>, AppError> {
    let (kind, spec) = (entry.kind, entry.kind.spec());
    let group = spec.index("animal_group_id").map(|at| (at, Value::Id(entry.group)));
    let farm = spec.index("farm_id").map(|at| (at, Value::Id(entry.farm)));
    let filter = Filter {
        equals: group.into_iter().chain(farm).collect(),
        from: Some((minus_days(entry.date, USUAL_DAYS), 0)),
        to: Some((minus_days(entry.date, 1), 0)),
        ..Filter::default()
    };
    let visible = actor.visible(Action::Read, kind)?;
    let number = actor.coop.number;
    let found =
        records::page(txn.conn(), number, kind, &visible, &filter, None, USUAL_RECORDS_MAX)?;
    let mut days: BTreeMap<NaiveDate, Vec<DayRecord>> = BTreeMap::new();
    for record in &found {
        if let Some((.., date, day)) =
            day_record(kind, &record.values, record.id, record.created_at)
        {
            days.entry(date).or_default().push(day);
        }
    }
    let days: Vec<_> = days.into_iter().collect();
    Ok(far_off(summed, kind == Kind::MilkRecord, &entry.class, &days))
}

impl Txn<'_, '_> {
    /// A group of animals that this person may record of.
    fn group(&mut self, id: Uuid) -> Result<Option<AnimalGroup>, AppError> {
        let visible = self.actor().visible(Action::Read, Kind::AnimalGroup)?;
        match self.find_visible(Kind::AnimalGroup, id, &visible) {
            Ok(found) => Ok(AnimalGroup::from_values(&found.values)),
            Err(AppError::NotFound) => Ok(None),
            Err(other) => Err(other),
        }
    }
}
