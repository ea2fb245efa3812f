//! Texts that nobody asked for: only to verified numbers that agreed, never at night, never beyond
//! the month's budget.
//!
//! In the morning a farm with late work or a soak gets its day's list; in the late afternoon one whose
//! harvest is not recorded, and one that is visited tomorrow. A month's result comes once it is closed.
//! Mould and held seed are said as soon as they are known; where the number said STOP, an officer
//! is asked to call.

use super::scene::{Known, Sent, known, may_money};
use super::{HOUR_MS, Purpose, ToSend, money, write};
use crate::error::AppError;
use crate::records::txn::Txn;
use crate::review::all;
use crate::seed::lots;
use crate::{Actor, App, Coop};
use chrono::{Datelike as _, NaiveDate};
use std::collections::{HashMap, HashSet};
use traybook_domain::kinds::LotHold;
use traybook_domain::records::import_id::import_id;
use traybook_domain::time::{plus_days, start_of_day};
use traybook_domain::value::Instant;
use traybook_domain::{Kind, Month, Value};
use traybook_storage::records::{self, Filter, Visible};
use traybook_storage::savings::months::Close;
use traybook_storage::texts::{self, Number, Turn};
use traybook_storage::{Conn, Writing, people::logins};
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
/// How long a month's result is news.
const RESULT_MS: i64 = 7 * 24 * HOUR_MS;
/// Results of one round: each reads a whole report, and the next round comes in a minute.
const RESULTS_AT_ONCE: usize = 100;
/// Visits of a day.
const VISITS_MAX: usize = 1_000;
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

/// A caution that no number of a farm may get any more: an officer calls.
struct Call {
    farm: Uuid,
    /// Makes the wish the same one every round.
    key: String,
    wish: String,
}

/// What a moment asks for.
#[derive(Default)]
struct Wanted {
    texts: Vec<Due>,
    calls: Vec<Call>,
}

impl App {
    /// Puts the reminders and cautions of this moment into the outbox, each once.
    pub async fn remind(&self) -> Result<(), AppError> {
        let now = self.now();
        for id in self.served() {
            let budget = self.carriers.budget(id);
            let found = self.store.read(move |conn| {
                let Some(number) = logins::coop_number(conn, id)? else { return Ok(None) };
                let coop = Coop::load(conn, number, id)?;
                let due = due(conn, &coop, now, budget)?;
                Ok::<_, AppError>(Some((coop, due)))
            });
            let Some((coop, wanted)) = found.await? else { continue };
            if wanted.texts.is_empty() && wanted.calls.is_empty() {
                continue;
            }
            let number = coop.number;
            let put_all = move |w: &mut Writing<'_>| {
                put(w, &coop, &wanted.texts, now)?;
                ask_to_call(w, &coop, &wanted.calls, now)
            };
            self.store.change(number, put_all).await?;
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

/// Asks the officer to call, once a caution.
fn ask_to_call(
    writing: &mut Writing<'_>,
    coop: &Coop,
    calls: &[Call],
    now: Instant,
) -> Result<(), AppError> {
    if calls.is_empty() {
        return Ok(());
    }
    let machine = Actor::machine(coop.clone());
    let mut txn = Txn::begin(writing, &machine, now)?;
    for call in calls {
        write::call(&mut txn, call.farm, &call.wish, call_id(coop, &call.key))?;
    }
    txn.finish()
}

/// Id of the wish of a caution.
fn call_id(coop: &Coop, key: &str) -> Uuid {
    import_id(&coop.id.to_string(), "caution call", key, 0)
}

/// What is read once for all numbers of a co-operative.
struct Round {
    coop: Coop,
    now: Instant,
    today: NaiveDate,
    /// Minutes after midnight.
    minute: i64,
    /// Whether reminders may be made now.
    reminds: bool,
    /// Holds by code of their lot: one that is held again is another.
    holds: HashMap<String, Uuid>,
    /// Farms that somebody plans to visit tomorrow.
    visits: HashSet<Uuid>,
    /// The month that was closed last, while its result is news.
    closed: Option<Close>,
    /// Results that may be made yet in this round.
    results_left: usize,
}

impl Round {
    fn read(
        conn: &mut Conn,
        coop: &Coop,
        now: Instant,
        budget: Option<i64>,
    ) -> Result<Option<Self>, AppError> {
        let today = coop.today(now);
        let minute = minute_of(now, coop);
        if !CAUTIONS.contains(&minute) {
            return Ok(None);
        }
        let reminds = DAY.contains(&minute) && !is_spent(conn, coop, today, budget)?;
        let closed = if reminds { money::closed_last(conn, coop.number)? } else { None };
        let is_news = |c: &Close| (0..RESULT_MS).contains(&(now.0 - c.closed_at));
        let visits = match reminds && minute >= AFTERNOON {
            true => planned(conn, coop, plus_days(today, 1))?,
            false => HashSet::new(),
        };
        Ok(Some(Self {
            coop: coop.clone(),
            now,
            today,
            minute,
            reminds,
            holds: holds(conn, coop, today)?,
            visits,
            closed: closed.filter(is_news),
            results_left: RESULTS_AT_ONCE,
        }))
    }
}

/// The seed lots that are held today, with the hold.
fn holds(
    conn: &mut Conn,
    coop: &Coop,
    today: NaiveDate,
) -> Result<HashMap<String, Uuid>, AppError> {
    let held = all::<LotHold>(conn, coop.number)?;
    let held: Vec<_> = held.into_iter().filter(|(_, hold)| hold.holds_on(today)).collect();
    if held.is_empty() {
        return Ok(HashMap::new());
    }
    let lots = lots(conn, coop.number)?;
    let code = |lot: &Uuid| lots.get(lot).map(|l| l.code.clone());
    Ok(held.into_iter().filter_map(|(id, hold)| Some((code(&hold.seed_lot_id)?, id))).collect())
}

/// The farms that somebody plans to visit on a day.
fn planned(conn: &mut Conn, coop: &Coop, day: NaiveDate) -> Result<HashSet<Uuid>, AppError> {
    let kind = Kind::VisitPlan;
    let of = kind.spec().index("planned_on").map(|at| (at, Value::Date(day)));
    let filter = Filter { equals: of.into_iter().collect(), ..Filter::default() };
    let found = records::page(conn, coop.number, kind, &Visible::All, &filter, None, VISITS_MAX)?;
    Ok(found.iter().filter_map(|r| kind.spec().get(&r.values, "farm_id").as_id()).collect())
}

/// Minutes after midnight.
fn minute_of(now: Instant, coop: &Coop) -> i64 {
    (now.0 - start_of_day(coop.today(now), coop.zone).0).div_euclid(60_000)
}

/// When a text that is not sent at this hour may be sent; none where it may now. What waited for
/// its carrier through the day wakes nobody.
pub(super) fn quiet_until(purpose: Purpose, now: Instant, coop: &Coop) -> Option<i64> {
    let hours = match purpose {
        Purpose::Reminder | Purpose::Result => DAY,
        Purpose::Caution => CAUTIONS,
        Purpose::Answer | Purpose::Code => return None,
    };
    let minute = minute_of(now, coop);
    if hours.contains(&minute) {
        return None;
    }
    let day = coop.today(now);
    let day = if minute < hours.start { day } else { plus_days(day, 1) };
    Some(start_of_day(day, coop.zone).0 + hours.start * 60_000)
}

/// The texts of this moment that are not in the outbox yet.
fn due(
    conn: &mut Conn,
    coop: &Coop,
    now: Instant,
    budget: Option<i64>,
) -> Result<Wanted, AppError> {
    let Some(mut round) = Round::read(conn, coop, now, budget)? else {
        return Ok(Wanted::default());
    };
    let (mut new, mut stopped, mut heard) = (Vec::new(), Vec::new(), HashSet::new());
    for link in texts::all_links(conn, coop.number, NUMBERS_MAX)? {
        let [_, reminders, cautions, _] = link.purposes;
        let is_heard = link.state == "active" && link.verified_at.is_some();
        if cautions && link.state == "stopped" && link.verified_at.is_some() {
            stopped.push(link);
            continue;
        }
        if !is_heard || !((reminders && round.reminds) || cautions) {
            continue;
        }
        let known = of_link(conn, coop, &link, now)?;
        for farm in &known.scene.farms {
            let mut all = Vec::new();
            if cautions {
                heard.insert(farm.code.clone());
                all.extend(mould(&known.scene, &link, farm, now));
                all.extend(held(&round, &known, &link, farm));
            }
            if reminders && round.reminds {
                all.extend(list(&known.scene, &link, farm, &round));
                all.extend(visit(&round, &known, &link, farm));
                all.extend(result(conn, &mut round, &known, &link, farm)?);
            }
            for text in all {
                if texts::out_of_key(conn, coop.number, &text.key)?.is_none() {
                    new.push(text);
                }
            }
        }
    }
    let calls = calls(conn, &round, &stopped, &heard)?;
    Ok(Wanted { texts: new, calls })
}

/// Cautions of farms of which no other number hears them, and that were not said before STOP.
fn calls(
    conn: &mut Conn,
    round: &Round,
    stopped: &[Number],
    heard: &HashSet<String>,
) -> Result<Vec<Call>, AppError> {
    let (coop, mut calls) = (&round.coop, Vec::new());
    for link in stopped {
        let known = of_link(conn, coop, link, round.now)?;
        for farm in known.scene.farms.iter().filter(|f| !heard.contains(&f.code)) {
            let Some(id) = known.farms.get(&farm.code) else { continue };
            let mut all = mould(&known.scene, link, farm, round.now);
            all.extend(held(round, &known, link, farm));
            for Due { key, body, .. } in all {
                let wish = (coop.number, Kind::CorrectionRequest, call_id(coop, &key));
                let is_asked = records::find(conn, wish.0, wish.1, wish.2)?.is_some();
                if !is_asked && texts::out_of_key(conn, coop.number, &key)?.is_none() {
                    let wish = known.scene.language.with("t-call-instead", "caution", body);
                    calls.push(Call { farm: *id, key, wish });
                }
            }
        }
    }
    Ok(calls)
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

fn of_link(conn: &mut Conn, coop: &Coop, link: &Number, now: Instant) -> Result<Known, AppError> {
    let turn = Turn { number: link.number.clone(), day: coop.today(now), ..Turn::default() };
    known(conn, coop, std::slice::from_ref(link), &turn, (now, true))
}

/// The day's list, where there is late work or a soak in the morning, or a harvest in the afternoon.
fn list(scene: &Scene, link: &Number, farm: &Farm, round: &Round) -> Option<Due> {
    let (today, minute) = (round.today, round.minute);
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
    let ends = start_of_day(today, round.coop.zone).0 + DAY.end * 60_000;
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

/// What is said of a held seed lot that a farm has or grows from: once a hold.
fn held(round: &Round, known: &Known, link: &Number, farm: &Farm) -> Vec<Due> {
    let due = |lot: &String| {
        let hold = round.holds.get(lot)?;
        let args = [("lot", lot.as_str().into()), ("farm", farm.code.as_str().into())];
        Some(Due {
            number: link.number.clone(),
            body: known.scene.language.say("t-lot-held", &args),
            purpose: Purpose::Caution,
            key: format!("held.{}.{}.{}", link.number, farm.code, hold.simple()),
            expires_at: round.now.0 + CAUTION_HOURS * HOUR_MS,
            list: None,
        })
    };
    known.held.get(&farm.code).into_iter().flatten().filter_map(due).collect()
}

/// Tomorrow's visit, in the late afternoon.
fn visit(round: &Round, known: &Known, link: &Number, farm: &Farm) -> Option<Due> {
    known.farms.get(&farm.code).filter(|id| round.visits.contains(id))?;
    let day = plus_days(round.today, 1);
    let args = [
        ("farm", farm.code.as_str().into()),
        ("date", format!("{}/{}", day.day(), day.month()).into()),
    ];
    Some(Due {
        number: link.number.clone(),
        body: known.scene.language.say("t-visit", &args),
        purpose: Purpose::Reminder,
        key: format!("visit.{}.{}.{day}", link.number, farm.code),
        expires_at: start_of_day(round.today, round.coop.zone).0 + DAY.end * 60_000,
        list: None,
    })
}

/// The result of the month that was closed last, to a number that may hear money.
fn result(
    conn: &mut Conn,
    round: &mut Round,
    known: &Known,
    link: &Number,
    farm: &Farm,
) -> Result<Option<Due>, AppError> {
    let Some(close) = &round.closed else { return Ok(None) };
    let Some(id) = known.farms.get(&farm.code) else { return Ok(None) };
    let key = format!("result.{}.{}.{}", link.number, farm.code, close.month.number());
    // A report is long: it is read for those alone who have not heard yet.
    let is_known = texts::out_of_key(conn, round.coop.number, &key)?.is_some();
    if round.results_left == 0 || is_known || !may_money(link, round.now) {
        return Ok(None);
    }
    round.results_left -= 1;
    let language = known.scene.language;
    let Some(said) = money::result(&round.coop, close, *id, language)? else { return Ok(None) };
    let names_farm = known.scene.farms.len() > 1;
    Ok(Some(Due {
        number: link.number.clone(),
        body: if names_farm { format!("{}: {said}", farm.code) } else { said },
        purpose: Purpose::Result,
        key,
        expires_at: close.closed_at + RESULT_MS,
        list: None,
    }))
}
