//! Texts that nobody asked for: only to verified numbers that agreed, never at night, never beyond
//! the month's budget.
//!
//! In the morning a farm with late work or a soak gets its day's list; in the late afternoon one whose
//! harvest is not recorded. Mould is said as soon as it is seen.

use super::scene::{Sent, known};
use super::{HOUR_MS, Purpose, ToSend};
use crate::error::AppError;
use crate::{App, Coop};
use chrono::NaiveDate;
use traybook_domain::Month;
use traybook_domain::import_id::import_id;
use traybook_domain::time::start_of_day;
use traybook_domain::value::Instant;
use traybook_storage::texts::{self, Number, Turn};
use traybook_storage::{Conn, logins};
use traybook_texts::{Caution, Farm, Line, Scene, State, Task, numbered, short, work};
use uuid::Uuid;

/// Minutes after midnight between which there are reminders.
const DAY: std::ops::Range<i64> = 6 * 60 + 30..19 * 60;
/// Minutes after midnight at which the morning's list is of no use any more.
const MORNING_ENDS: i64 = 10 * 60;
/// Minutes after midnight from which a harvest that is not recorded is asked for.
const AFTERNOON: i64 = 17 * 60;
/// Minutes after midnight between which cautions are said.
const CAUTIONS: std::ops::Range<i64> = 5 * 60..21 * 60;
/// Hours for which a caution is of use.
const CAUTION_HOURS: i64 = 48;
/// Numbers of a co-operative.
const NUMBERS_MAX: i64 = 20_000;

/// A text to be sent, and the list that goes with it.
struct Due {
    number: String,
    body: String,
    purpose: Purpose,
    key: String,
    expires_at: i64,
    list: Option<Sent>,
}

impl App {
    /// Puts the reminders and cautions of this moment into the outbox, each once.
    ///
    /// # Errors
    /// Those of the store.
    pub async fn remind(&self) -> Result<(), AppError> {
        let now = self.now();
        let mut ids: Vec<Uuid> =
            self.carriers.all().iter().flat_map(|c| c.serves.iter().map(|s| s.id)).collect();
        ids.sort_unstable();
        ids.dedup();
        for id in ids {
            let budget = self.carriers.budget(id);
            let found = self.store.read(move |conn| {
                let Some(number) = logins::coop_number(conn, id)? else { return Ok(None) };
                let coop = Coop::load(conn, number, id)?;
                let due = due(conn, &coop, now, budget)?;
                Ok::<_, AppError>(Some((coop, due)))
            });
            let Some((coop, due)) = found.await? else { continue };
            if due.is_empty() {
                continue;
            }
            let number = coop.number;
            self.store.change(number, move |w| put(w, &coop, &due, now)).await?;
        }
        Ok(())
    }
}

fn put(conn: &mut Conn, coop: &Coop, due: &[Due], now: Instant) -> Result<(), AppError> {
    for text in due {
        let id = import_id(&coop.id.to_string(), "reminder", &text.key, now.0);
        let out = ToSend {
            id,
            number: &text.number,
            body: &text.body,
            purpose: text.purpose,
            key: text.key.clone(),
            not_before: now.0,
            expires_at: text.expires_at,
        };
        // Whoever said STOP meanwhile gets nothing.
        let links = texts::links(conn, coop.number, &text.number)?;
        let is_wanted = links.iter().any(|l| l.state == "active");
        if !is_wanted || !out.put(conn, coop.number, now.0)? {
            continue;
        }
        if let Some(list) = &text.list {
            let today = coop.today(now);
            let found = texts::turn(conn, coop.number, &text.number)?;
            let new = || Turn { number: text.number.clone(), day: today, ..Turn::default() };
            let list =
                serde_json::to_string(list).map_err(|e| AppError::Internal(e.to_string()))?;
            let turn = Turn { list: Some((list, today)), ..found.unwrap_or_else(new) };
            texts::put_turn(conn, coop.number, &turn)?;
        }
    }
    Ok(())
}

/// The texts of this moment that are not in the outbox yet.
fn due(
    conn: &mut Conn,
    coop: &Coop,
    now: Instant,
    budget: Option<i64>,
) -> Result<Vec<Due>, AppError> {
    let today = coop.today(now);
    let minute = (now.0 - start_of_day(today, coop.zone).0).div_euclid(60_000);
    if !CAUTIONS.contains(&minute) {
        return Ok(Vec::new());
    }
    let reminds = DAY.contains(&minute) && !is_spent(conn, coop, today, budget)?;
    let mut all = Vec::new();
    for link in texts::all_links(conn, coop.number, NUMBERS_MAX)? {
        let [_, reminders, cautions, _] = link.purposes;
        let is_heard = link.state == "active" && link.verified_at.is_some();
        if !is_heard || !((reminders && reminds) || cautions) {
            continue;
        }
        let (scene, farms) = scene(conn, coop, &link, now)?;
        for farm in &farms {
            if cautions {
                all.extend(mould(&scene, &link, farm, now));
            }
            if reminders && reminds {
                all.extend(list(&scene, &link, farm, (today, minute), coop));
            }
        }
    }
    let mut new = Vec::new();
    for text in all {
        if texts::out_of_key(conn, coop.number, &text.key)?.is_none() {
            new.push(text);
        }
    }
    Ok(new)
}

/// Whether the month's segments are used up: then there are only cautions and answers.
fn is_spent(
    conn: &mut Conn,
    coop: &Coop,
    today: NaiveDate,
    budget: Option<i64>,
) -> Result<bool, AppError> {
    let Some(budget) = budget else { return Ok(false) };
    let since = start_of_day(Month::of(today).first_day(), coop.zone).0;
    let used: i64 = texts::counts(conn, coop.number, since)?.iter().map(|c| c.3).sum();
    Ok(used >= budget)
}

fn scene(
    conn: &mut Conn,
    coop: &Coop,
    link: &Number,
    now: Instant,
) -> Result<(Scene, Vec<Farm>), AppError> {
    let turn = Turn { number: link.number.clone(), day: coop.today(now), ..Turn::default() };
    let known = known(conn, coop, std::slice::from_ref(link), &turn, (now, true))?;
    let farms = known.scene.farms.clone();
    Ok((known.scene, farms))
}

/// The day's list, where there is late work or a soak in the morning, or a harvest in the afternoon.
fn list(
    scene: &Scene,
    link: &Number,
    farm: &Farm,
    (today, minute): (NaiveDate, i64),
    coop: &Coop,
) -> Option<Due> {
    let open = |l: &&Line| l.state != State::Done;
    let mut lines = farm.lines.iter().filter(open);
    let (name, is_due) = if minute < MORNING_ENDS {
        ("morning", lines.any(|l| l.state == State::Late || l.task == Task::Soak))
    } else if minute >= AFTERNOON {
        ("harvest", lines.any(|l| l.task == Task::Harvest))
    } else {
        return None;
    };
    if !is_due {
        return None;
    }
    let farm = Farm { lines: numbered(&farm.lines), ..farm.clone() };
    let ends = start_of_day(today, coop.zone).0 + DAY.end * 60_000;
    Some(Due {
        number: link.number.clone(),
        body: work(scene, &farm),
        purpose: Purpose::Reminder,
        key: format!("{name}.{}.{}.{today}", link.number, farm.code),
        expires_at: ends,
        list: Some(Sent { farm: farm.code.clone(), lines: farm.lines }),
    })
}

/// What is said of a batch in which mould was seen: once.
fn mould(scene: &Scene, link: &Number, farm: &Farm, now: Instant) -> Vec<Due> {
    let is_mouldy = |l: &&Line| l.caution == Some(Caution::Mould) && l.state != State::Done;
    let mut batches: Vec<&String> =
        farm.lines.iter().filter(is_mouldy).filter_map(|l| l.batch.as_ref()).collect();
    batches.sort_unstable();
    batches.dedup();
    let due = |batch: &String| Due {
        number: link.number.clone(),
        body: scene.language.with("t-never-mould", "batch", short(batch, &farm.code)),
        purpose: Purpose::Caution,
        key: format!("mould.{}.{batch}", link.number),
        expires_at: now.0 + CAUTION_HOURS * HOUR_MS,
        list: None,
    };
    batches.into_iter().map(due).collect()
}
