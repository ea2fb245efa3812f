//! A text is taken: what came, what it records, what was said and what is answered are one change.

use super::meant::choose;
use super::said::{answer_key, json, keep_list, last, marked, recent};
use super::scene::{Known, Last, known};
use super::{ANSWER_MS, HOUR_MS, Purpose, ToSend, money, numbers, write};
use crate::error::AppError;
use crate::records::Txn;
use crate::{App, Coop};
use chrono::NaiveDate;
use sha2::{Digest as _, Sha256};
use traybook_answers::texts::TextOutcome;
use traybook_domain::Kind;
use traybook_domain::records::import_id::import_id;
use traybook_domain::value::Instant;
use traybook_speech::Language;
use traybook_storage::texts::{self, In, Number, Turn};
use traybook_storage::{Conn, Writing};
use traybook_texts::phone::e164;
use traybook_texts::{
    Outcome, Pending, Query, Reading, Record, needs_work, numbered, read_of, same_text, work,
};
use uuid::Uuid;

/// Hours for which what a text made can be taken back by one word.
const UNDO_MS: i64 = 24 * HOUR_MS;
/// How long a question stays open.
const QUESTION_MS: i64 = 12 * HOUR_MS;
/// How long the same content is taken for the same text.
const CONTENT_MS: i64 = 48 * HOUR_MS;
/// Records of a number on a day.
const RECORDS_A_DAY: i64 = 20;
/// Answers to a number on a day.
const ANSWERS_A_DAY: i64 = 30;
/// The same to a number that is none of ours: who writes by mistake hears it, a machine soon not.
const UNKNOWN_A_DAY: i64 = 3;
/// Longest text that is kept: ten parts.
const TEXT_CHARS_MAX: usize = 1_600;
/// Longest sender that is kept.
const SENDER_CHARS_MAX: usize = 40;

/// A text as a carrier hands it over.
#[derive(Clone, Debug)]
pub struct Come {
    /// Name of the carrier.
    pub carrier: String,
    /// The carrier's own name of the text.
    pub id: String,
    /// Number of the sender.
    pub from: String,
    /// Number that was written to.
    pub to: Option<String>,
    /// What was written; none for a call that nobody took.
    pub text: Option<String>,
    /// When it was sent.
    pub sent_at: Option<Instant>,
}

/// What became of a text.
#[derive(Clone, Debug)]
pub struct Spoken {
    /// What became of it.
    pub outcome: TextOutcome,
    /// Whether it was taken now.
    pub is_new: bool,
    /// What is answered; none where nothing is.
    pub answer: Option<String>,
    /// What was recorded, or taken back.
    pub records: Vec<Record>,
}

/// A text that is taken on one co-operative.
#[derive(Clone)]
pub(super) struct Taking {
    pub coop: Coop,
    pub come: Come,
    /// The sender, where an answer reaches it.
    pub number: Option<String>,
    /// Names of the co-operatives that may be meant.
    pub names: Vec<String>,
    pub now: Instant,
    /// The text that waited for the choice of a co-operative, and when it was said: it is taken in the
    /// place of the choice.
    pub kept: Option<(NaiveDate, String)>,
    /// What a menu said yes to: it is answered there and not by a text, and what is open by text
    /// stays open.
    pub menu: Option<Agreed>,
    /// Writing the records was refused: that is the answer then.
    pub is_refused: bool,
}

/// A text of a menu, with what was open when it was read.
#[derive(Clone, Debug, Default)]
pub(super) struct Agreed {
    pub pending: Option<Pending>,
    /// The list whose numbers it means.
    pub list: Option<(String, NaiveDate)>,
}

impl App {
    /// Takes a text: once, however often it comes.
    ///
    /// # Errors
    /// `Forbidden` for a carrier that is not known; `Invalid`; those of the store. What a record's
    /// rules refuse is no error: it is the answer.
    pub async fn take_text(&self, come: Come) -> Result<Spoken, AppError> {
        check(&come)?;
        let (coops, number) = self.meant(&come).await?;
        let (coop, asked) = choose(&coops, come.text.as_deref(), self.now())?;
        let names = asked.iter().map(|coop| coop.name.clone()).collect();
        let now = self.now();
        let taking =
            Taking { coop, come, number, names, now, kept: None, menu: None, is_refused: false };
        if let Some(spoken) = self.take_kept(&taking, &asked).await? {
            return Ok(spoken);
        }
        let spoken = self.take_one(&taking).await?;
        if spoken.outcome == TextOutcome::Stop {
            self.stop_all(&taking, &coops).await?;
        }
        Ok(spoken)
    }

    /// Takes a text in its co-operative.
    pub(super) async fn take_one(&self, taking: &Taking) -> Result<Spoken, AppError> {
        let (of, first) = (taking.coop.number, taking.clone());
        let taken = self.store.change(of, move |writing| first.take(writing)).await;
        match taken {
            Err(
                AppError::Invalid(_)
                | AppError::Conflict { .. }
                | AppError::Stale { .. }
                | AppError::Forbidden
                | AppError::NotFound,
            ) => {
                let again = Taking { is_refused: true, ..taking.clone() };
                self.store.change(of, move |writing| again.take(writing)).await
            }
            other => other,
        }
    }

    /// Reads a text as it would be taken now, and writes nothing.
    pub async fn try_text(
        &self,
        coop: &Coop,
        from: &str,
        text: Option<String>,
    ) -> Result<Spoken, AppError> {
        let dialling = self.carriers.of(coop.id).map(|c| c.dialling.clone());
        let number = match dialling {
            Some(dialling) => e164(from, &dialling),
            None => from.starts_with('+').then(|| from.to_owned()),
        };
        let come = Come {
            carrier: String::new(),
            id: String::new(),
            from: from.to_owned(),
            to: None,
            text,
            sent_at: None,
        };
        let names = Vec::new();
        let now = self.now();
        let coop = coop.clone();
        let (kept, menu, is_refused) = (None, None, false);
        let taking = Taking { coop, come, number, names, now, kept, menu, is_refused };
        self.store
            .read(move |conn| {
                let turn = taking.turn(conn)?;
                let links = taking.links(conn)?;
                let (_, reading) = taking.read(conn, &links, &turn)?;
                Ok(Spoken {
                    outcome: outcome(reading.outcome),
                    is_new: true,
                    answer: Some(reading.answer),
                    records: reading.records,
                })
            })
            .await
    }
}

fn check(come: &Come) -> Result<(), AppError> {
    let long = |field: &str, detail: &str| Err(AppError::field(field, "length", detail));
    if come.id.is_empty() || come.id.len() > 200 {
        return long("id", "give the carrier's own name of the text, 1 to 200 characters");
    }
    if come.from.is_empty() || come.from.chars().count() > SENDER_CHARS_MAX {
        return long("from", "give the sender's number, 1 to 40 characters");
    }
    Ok(())
}

/// How an outcome is sent.
fn outcome(of: Outcome) -> TextOutcome {
    TextOutcome::parse(of.text()).unwrap_or(TextOutcome::Unclear)
}

/// What a text leads to, before it is written down.
struct Reply {
    outcome: TextOutcome,
    answer: Option<String>,
    records: Vec<Record>,
    /// Kind, id and version of what it made.
    made: Vec<(Kind, Uuid, i64)>,
}

impl Agreed {
    /// What was open, as a turn keeps it.
    pub fn pending(&self, now: i64) -> Result<Option<(String, i64)>, AppError> {
        self.pending.as_ref().map(|p| Ok((json(p)?, now))).transpose()
    }
}

impl Taking {
    /// What is read.
    fn text(&self) -> Option<&str> {
        self.kept.as_ref().map(|kept| kept.1.as_str()).or(self.come.text.as_deref())
    }

    /// Takes the text within a change.
    pub(super) fn take(&self, writing: &mut Writing<'_>) -> Result<Spoken, AppError> {
        let (coop, now) = (self.coop.number, self.now.0);
        let id = self.id();
        let key = self.content_key();
        let since = key.as_deref().map(|key| (key, now - CONTENT_MS));
        if let Some(before) = texts::came_before(writing, coop, id, since)? {
            let answer = texts::out_of_key(writing, coop, &answer_key(before.id))?;
            let spoken = Spoken {
                outcome: TextOutcome::parse(&before.outcome).unwrap_or(TextOutcome::Unclear),
                is_new: false,
                answer: answer.and_then(|a| a.body),
                records: Vec::new(),
            };
            return Ok(spoken);
        }
        let mut turn = self.turn(writing)?;
        let all = self.all_links(writing)?;
        let reply = match &self.menu {
            None => match self.code(writing, &all)? {
                Some(reply) => reply,
                None => self.say(writing, &mut turn)?,
            },
            Some(agreed) => {
                let open = (turn.pending.take(), turn.list.take());
                turn.pending = agreed.pending(now)?;
                turn.list.clone_from(&agreed.list);
                let reply = self.say(writing, &mut turn)?;
                (turn.pending, turn.list) = open;
                reply
            }
        };
        let is_known = all.iter().any(|l| l.state != "pending");
        texts::add_in(writing, coop, &self.row(id, key, is_known, reply.outcome))?;
        for made in &reply.made {
            texts::note_record(writing, coop, *made, id)?;
        }
        for mut link in all {
            link.heard_at = Some(now);
            numbers::heard(writing, coop, link, self.now)?;
        }
        let most = if is_known { ANSWERS_A_DAY } else { UNKNOWN_A_DAY };
        let is_said = self.menu.is_some() || turn.answers < most;
        let answer = reply.answer.filter(|_| is_said);
        let by_text = answer.as_ref().filter(|_| self.menu.is_none());
        if let (Some(answer), Some(number)) = (by_text, &self.number) {
            turn.answers += 1;
            let answer = ToSend {
                id: import_id(&self.coop.id.to_string(), "answer", &id.to_string(), now),
                number,
                body: answer,
                purpose: Purpose::Answer,
                key: answer_key(id),
                not_before: now,
                expires_at: now + ANSWER_MS,
            };
            answer.put(writing, coop, now)?;
        }
        if self.number.is_some() {
            texts::put_turn(writing, coop, &turn)?;
        }
        Ok(Spoken { outcome: reply.outcome, is_new: true, answer, records: reply.records })
    }

    /// The id of the text: made from what the carrier calls it.
    fn id(&self) -> Uuid {
        let name = format!("{}\n{}", self.come.carrier, self.come.id);
        import_id(&self.coop.id.to_string(), "text", &name, 0)
    }

    /// What the text says, and when it was sent: two carriers may hand over one text.
    fn content_key(&self) -> Option<String> {
        let sent_at = self.come.sent_at?;
        let mut hash = Sha256::new();
        let text = self.come.text.as_deref().unwrap_or("\0");
        for part in [self.come.from.as_str(), &sent_at.0.to_string(), text] {
            hash.update(part.len().to_be_bytes());
            hash.update(part.as_bytes());
        }
        Some(hash.finalize().iter().map(|b| format!("{b:02x}")).collect())
    }

    fn row(&self, id: Uuid, key: Option<String>, is_known: bool, outcome: TextOutcome) -> In {
        let cut = |text: &str, most: usize| text.chars().take(most).collect::<String>();
        let sender = self.number.clone();
        In {
            id,
            carrier: self.come.carrier.clone(),
            carrier_id: self.come.id.clone(),
            content_key: key.unwrap_or_else(|| id.simple().to_string()),
            number: sender.unwrap_or_else(|| cut(&self.come.from, SENDER_CHARS_MAX)),
            is_known,
            sent_at: self.come.sent_at.map(|at| at.0),
            taken_at: self.now.0,
            body: self.text().map(|t| cut(t, TEXT_CHARS_MAX)),
            outcome: outcome.text().to_owned(),
        }
    }

    fn all_links(&self, conn: &mut Conn) -> Result<Vec<Number>, AppError> {
        match &self.number {
            Some(number) => Ok(texts::links(conn, self.coop.number, number)?),
            None => Ok(Vec::new()),
        }
    }

    /// The links that count: verified, of members who have not left.
    pub(super) fn links(&self, conn: &mut Conn) -> Result<Vec<Number>, AppError> {
        let mut links = self.all_links(conn)?;
        links.retain(|l| l.state == "active" || l.state == "stopped");
        let mut live = Vec::new();
        for link in links {
            if numbers::is_member(conn, self.coop.number, link.member)? {
                live.push(link);
            }
        }
        Ok(live)
    }

    /// What was said last with the number, as it still holds.
    pub(super) fn turn(&self, conn: &mut Conn) -> Result<Turn, AppError> {
        let number = self.number.clone().unwrap_or_default();
        let found = texts::turn(conn, self.coop.number, &number)?;
        let today = self.coop.today(self.now);
        let mut turn = found.unwrap_or_else(|| Turn { number, day: today, ..Turn::default() });
        if turn.day != today {
            turn = Turn { day: today, records: 0, answers: 0, undos: 0, ..turn };
        }
        let now = self.now.0;
        turn.pending = turn.pending.filter(|(_, at)| (0..QUESTION_MS).contains(&(now - at)));
        turn.last = turn.last.filter(|(_, at)| (0..UNDO_MS).contains(&(now - at)));
        Ok(turn)
    }

    /// A code that came back.
    fn code(&self, conn: &mut Conn, links: &[Number]) -> Result<Option<Reply>, AppError> {
        let text = self.come.text.as_deref().unwrap_or_default().trim();
        let done = numbers::verify(conn, self.coop.number, links, text, self.now)?;
        let language = links.first().and_then(|l| Language::parse(&l.language)).unwrap_or_default();
        Ok(done.map(|is_verified| Reply {
            outcome: if is_verified { TextOutcome::Verified } else { TextOutcome::Refuse },
            answer: Some(language.text(if is_verified { "t-verified" } else { "t-wrong-code" })),
            records: Vec::new(),
            made: Vec::new(),
        }))
    }

    /// The reading of the text beside what is known.
    pub(super) fn read(
        &self,
        conn: &mut Conn,
        links: &[Number],
        turn: &Turn,
    ) -> Result<(Known, Reading), AppError> {
        let text = self.text();
        let pending = turn.pending.as_ref();
        let pending = pending.and_then(|p| serde_json::from_str::<Pending>(&p.0).ok());
        let with_work = needs_work(text, pending.as_ref());
        let mut known = known(conn, &self.coop, links, turn, (self.now, with_work))?;
        known.scene.coops.clone_from(&self.names);
        known.scene.recent = recent(turn, self.now.0).into_iter().map(|r| r.0).collect();
        known.scene.last = last(turn).said;
        let said_on = self.kept.as_ref().map_or(known.scene.today, |kept| kept.0);
        let mut reading = read_of(text, said_on, &known.scene);
        let asked = reading.asked.clone().filter(|_| reading.outcome == Outcome::Answer);
        match asked.map(|a| (a.query, a.farm)) {
            Some((Query::Work, Some(code))) => {
                if let Some(farm) = known.scene.farms.iter_mut().find(|f| f.code == code) {
                    farm.lines = numbered(&farm.lines);
                }
                if let Some(farm) = known.scene.farms.iter().find(|f| f.code == code) {
                    reading.answer = work(&known.scene, farm);
                }
            }
            Some((query @ (Query::Saving | Query::Account), farm)) if known.scene.may_money => {
                let ids: Vec<Uuid> = match &farm {
                    Some(code) => known.farms.get(code).copied().into_iter().collect(),
                    None => known.farms.values().copied().collect(),
                };
                let language = known.scene.language;
                if let Some(said) = money::said(conn, &self.coop, query, &ids, language, self.now)?
                {
                    reading.answer = said;
                }
            }
            _ => {}
        }
        Ok((known, reading))
    }

    /// Reads the text, writes its records, and keeps what was said.
    fn say(&self, writing: &mut Writing<'_>, turn: &mut Turn) -> Result<Reply, AppError> {
        let links = self.links(writing)?;
        let (known, mut reading) = self.read(writing, &links, turn)?;
        let language = known.scene.language;
        let mut reply = Reply {
            outcome: outcome(reading.outcome),
            answer: Some(std::mem::take(&mut reading.answer)),
            records: Vec::new(),
            made: Vec::new(),
        };
        if self.is_refused {
            reply.outcome = TextOutcome::Refuse;
            reply.answer = Some(language.text("t-cannot"));
            turn.pending = None;
            return Ok(reply);
        }
        let many = i64::try_from(reading.records.len()).unwrap_or(RECORDS_A_DAY);
        if reading.outcome == Outcome::Record && turn.records + many > RECORDS_A_DAY {
            reply.outcome = TextOutcome::TooMany;
            reply.answer = Some(language.with("t-many-today", "n", turn.records));
            return Ok(reply);
        }
        self.keep_pending(turn, &reading)?;
        match reading.outcome {
            Outcome::Record => {
                let last = self.record(writing, &known, &reading)?;
                reply.made = marked(&last);
                turn.records += many;
                let about = reading.about.as_deref().or(self.text());
                self.keep_recent(turn, about.unwrap_or_default())?;
                turn.last = Some((json(&last)?, self.now.0));
            }
            Outcome::Undo => match self.undo(writing, &known, &last(turn))? {
                true => {
                    turn.undos += 1;
                    (turn.last, turn.recent) = (None, None);
                }
                false => {
                    reply.outcome = TextOutcome::NothingToUndo;
                    reply.answer = Some(language.text("t-changed"));
                    return Ok(reply);
                }
            },
            Outcome::Answer => keep_list(turn, &known.scene, &reading)?,
            Outcome::Officer => self.call_officer(writing, &known)?,
            Outcome::Stop if known.scene.stopped => reply.answer = None,
            Outcome::Stop => {
                numbers::set_state(writing, self.coop.number, &links, "stopped")?;
                texts::give_up(writing, self.coop.number, &turn.number, self.now.0)?;
            }
            Outcome::Start => numbers::set_state(writing, self.coop.number, &links, "active")?,
            Outcome::Language => {
                let language = reading.speaks.unwrap_or_default();
                numbers::set_language(writing, self.coop.number, &links, language)?;
            }
            _ => {}
        }
        reply.records = reading.records;
        Ok(reply)
    }

    fn keep_pending(&self, turn: &mut Turn, reading: &Reading) -> Result<(), AppError> {
        turn.pending = match &reading.pending {
            Some(pending) => {
                let text = json(pending)?;
                let was = turn.pending.as_ref().filter(|(old, _)| *old == text).map(|(_, at)| *at);
                Some((text, was.unwrap_or(self.now.0)))
            }
            None => None,
        };
        Ok(())
    }

    fn keep_recent(&self, turn: &mut Turn, text: &str) -> Result<(), AppError> {
        let mut all = recent(turn, self.now.0);
        all.push((same_text(text), self.now.0));
        turn.recent = Some(json(&all)?);
        Ok(())
    }

    fn record(
        &self,
        writing: &mut Writing<'_>,
        known: &Known,
        reading: &Reading,
    ) -> Result<Last, AppError> {
        let code = reading.records.first().map(|r| r.farm.as_str()).unwrap_or_default();
        let actor = known.actors.get(code).ok_or(AppError::NotFound)?;
        let mut txn = Txn::begin(writing, actor, self.now)?;
        let last = write::records(&mut txn, actor, known, &reading.records, self.id())?;
        txn.finish()?;
        Ok(last)
    }

    fn undo(
        &self,
        writing: &mut Writing<'_>,
        known: &Known,
        last: &Last,
    ) -> Result<bool, AppError> {
        let code = last.said.first().map(|r| r.farm.as_str()).unwrap_or_default();
        let Some(actor) = known.actors.get(code) else { return Ok(false) };
        if !write::is_as_made(writing, self.coop.number, last)? {
            return Ok(false);
        }
        let mut txn = Txn::begin(writing, actor, self.now)?;
        write::undo(&mut txn, last)?;
        txn.finish()?;
        Ok(true)
    }

    fn call_officer(&self, writing: &mut Writing<'_>, known: &Known) -> Result<(), AppError> {
        let farm = known
            .scene
            .farms
            .first()
            .and_then(|f| Some((known.farms.get(&f.code)?, known.actors.get(&f.code)?)));
        let Some((farm, actor)) = farm else { return Ok(()) };
        let mut txn = Txn::begin(writing, actor, self.now)?;
        let text = self.text().unwrap_or_default();
        let of = self.id().to_string();
        let id = import_id(&self.coop.id.to_string(), "text call", &of, self.now.0);
        write::call(&mut txn, *farm, text, id)?;
        txn.finish()
    }
}
