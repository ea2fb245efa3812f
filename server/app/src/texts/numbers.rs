//! Whose a number is: an officer links it with the member's consent, and it counts when the number
//! itself returns a code.

use super::scene::SILENT_MS;
use super::{HOUR_MS, Purpose, ToSend};
use crate::error::AppError;
use crate::people::digest;
use crate::records::find_visible;
use crate::{Actor, App};
use chrono::NaiveDate;
use traybook_answers::texts::{TextNumber, TextNumberState, TextNumbers};
use traybook_answers::wire::Time;
use traybook_domain::kinds::Member;
use traybook_domain::people::authz::{Action, Task};
use traybook_domain::record::Record as _;
use traybook_domain::value::Instant;
use traybook_domain::{Kind, Value};
use traybook_speech::Language;
use traybook_storage::records::{self, Visible};
use traybook_storage::texts::{self, Number};
use traybook_storage::{Conn, Writing};
use traybook_texts::phone::e164;
use uuid::Uuid;

/// Hours in which a code must come back.
const CODE_HOURS: i64 = 24;
/// Other codes that may come before it ends.
const CODE_TRIES: i64 = 3;
const CODE_DIGITS: usize = 4;
/// Numbers of a co-operative that are listed.
const NUMBERS_MAX: i64 = 20_000;
/// Members who may share a number.
const SHARED_MAX: usize = 5;

/// A number that a member wants to write from.
#[derive(Clone, Debug)]
pub struct NewLink {
    /// As it is dialled, or with + and the calling code.
    pub number: String,
    pub member: Uuid,
    /// One farm of the member; all where none is given.
    pub farm: Option<Uuid>,
    /// Language of its texts; the person's own where none is given.
    pub language: Option<String>,
    /// Day on which the member agreed.
    pub consent_on: NaiveDate,
    /// Reminders, cautions, money.
    pub purposes: [bool; 3],
}

fn hash(number: &str, code: &str) -> String {
    digest(&format!("{number} {code}"))
}

impl App {
    /// Links a number, and sends it a code. The same member's number again gets a new code.
    ///
    /// # Errors
    /// `Forbidden`; `NotFound` for a member or farm out of reach; `Invalid` with field errors.
    pub async fn link_number(&self, actor: &Actor, new: NewLink) -> Result<TextNumber, AppError> {
        let visible = actor.task(Task::TextNumbers)?;
        let number = self.number_of(actor, &new)?;
        let language = new.language.clone().unwrap_or_else(|| actor.language.clone());
        let Some(language) = Language::parse(&language) else {
            return Err(AppError::field(
                "language",
                "choice",
                format!("give {}", Language::tags()),
            ));
        };
        let (code, id, code_id) = (self.new_digits()?, self.new_id()?, self.new_id()?);
        let (by, now) = (actor.clone(), self.now());
        self.store
            .change(actor.coop.number, move |writing| {
                let link = Link { by: &by, visible: &visible, new: &new, number: &number, now };
                let link = link.put(writing, (id, &code, language))?;
                send_code(writing, by.coop.number, (&link, code_id), &code, language, now)?;
                shown(writing, by.coop.number, link)
            })
            .await
    }

    /// Ends a link: the number is a stranger's from then on.
    ///
    /// # Errors
    /// `Forbidden`, `NotFound`.
    pub async fn end_number(&self, actor: &Actor, id: Uuid) -> Result<TextNumber, AppError> {
        let visible = actor.task(Task::TextNumbers)?;
        let (by, now) = (actor.clone(), self.now());
        self.store
            .change(actor.coop.number, move |writing| {
                let coop = by.coop.number;
                let mut link = texts::link(writing, coop, id)?.ok_or(AppError::NotFound)?;
                find_visible(writing, &by, Kind::Member, link.member, &visible)?;
                if link.ended_at.is_none() {
                    link.ended_at = Some(now.0);
                    link.state = "ended".to_owned();
                    texts::put_number(writing, coop, &link)?;
                    texts::give_up(writing, coop, &link.number, now.0)?;
                }
                shown(writing, coop, link)
            })
            .await
    }

    /// The numbers that a person looks after.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn text_numbers(&self, actor: &Actor) -> Result<TextNumbers, AppError> {
        let visible = actor.task(Task::TextNumbers)?;
        let actor = actor.clone();
        self.store
            .read(move |conn| {
                let coop = actor.coop.number;
                let mut items = Vec::new();
                for link in texts::all_links(conn, coop, NUMBERS_MAX)? {
                    let spec = Kind::Member;
                    let Some(found) = records::find(conn, coop, spec, link.member)? else {
                        continue;
                    };
                    let seen = records::is_visible(
                        conn,
                        coop,
                        spec,
                        &found.values,
                        link.member,
                        &visible,
                    )?;
                    if seen {
                        items.push(shown(conn, coop, link)?);
                    }
                }
                Ok(TextNumbers { items })
            })
            .await
    }

    /// The member of a farm.
    ///
    /// # Errors
    /// `Forbidden`; `NotFound` for a farm out of reach.
    pub async fn member_of(&self, actor: &Actor, farm: Uuid) -> Result<Uuid, AppError> {
        let visible = actor.visible(Action::Read, Kind::Farm)?;
        let actor = actor.clone();
        self.store
            .read(move |conn| {
                let found = find_visible(conn, &actor, Kind::Farm, farm, &visible)?;
                let member = Kind::Farm.spec().get(&found.values, "member_id").as_id();
                member.ok_or(AppError::NotFound)
            })
            .await
    }

    fn number_of(&self, actor: &Actor, new: &NewLink) -> Result<String, AppError> {
        let dialling = self.carriers.of(actor.coop.id).map(|c| c.dialling.clone());
        let dialling = dialling.ok_or_else(|| {
            let detail = "no carrier serves this co-operative: write one into carriers.json first";
            AppError::conflict("no_carrier", detail)
        })?;
        e164(&new.number, &dialling).ok_or_else(|| {
            let detail = "give a telephone number with + and the calling code, like +255700000101";
            AppError::field("number", "telephone", detail)
        })
    }

    /// Four digits, each as likely as the others.
    fn new_digits(&self) -> Result<String, AppError> {
        let mut code = String::new();
        while code.len() < CODE_DIGITS {
            let mut random = [0_u8; 8];
            self.random.fill(&mut random).map_err(AppError::Internal)?;
            // 250 is 25 times 10.
            for byte in random.iter().filter(|b| **b < 250) {
                if code.len() < CODE_DIGITS {
                    code.push(char::from(b'0' + byte % 10));
                }
            }
        }
        Ok(code)
    }
}

struct Link<'a> {
    by: &'a Actor,
    visible: &'a Visible,
    new: &'a NewLink,
    number: &'a str,
    now: Instant,
}

impl Link<'_> {
    fn put(
        &self,
        writing: &mut Writing<'_>,
        (id, code, language): (Uuid, &str, Language),
    ) -> Result<Number, AppError> {
        let (coop, new) = (self.by.coop.number, self.new);
        let found = find_visible(writing, self.by, Kind::Member, new.member, self.visible)?;
        let member = Member::from_values(&found.values).ok_or(AppError::NotFound)?;
        if found.withdrawn_at.is_some() || member.left_on.is_some() {
            let detail = "this member has left: a number is linked to members only";
            return Err(AppError::field("member_id", "left", detail));
        }
        if new.consent_on > self.by.coop.today(self.now) {
            let detail = "give the day on which the member agreed; it can not be to come";
            return Err(AppError::field("consent_on", "future", detail));
        }
        if let Some(farm) = new.farm {
            let farm = records::find(writing, coop, Kind::Farm, farm)?;
            let of = farm.filter(|f| f.withdrawn_at.is_none());
            let of = of.map(|f| Kind::Farm.spec().get(&f.values, "member_id").clone());
            if of != Some(Value::Id(new.member)) {
                let detail = "give a farm of this member, or leave it out for all of them";
                return Err(AppError::field("farm_id", "unknown_reference", detail));
            }
        }
        let code = Some((hash(self.number, code), self.now.0 + CODE_HOURS * HOUR_MS));
        let links = texts::links(writing, coop, self.number)?;
        let [reminders, cautions, money] = new.purposes;
        let purposes = [true, reminders, cautions, money];
        let same = links.iter().find(|l| l.member == new.member && l.farm == new.farm);
        if let Some(same) = same {
            let link = Number {
                language: language.tag().to_owned(),
                purposes,
                consent_on: new.consent_on,
                code,
                code_tries: 0,
                ..same.clone()
            };
            texts::put_number(writing, coop, &link)?;
            return Ok(link);
        }
        if links.len() >= SHARED_MAX {
            let detail = format!("{SHARED_MAX} members share this number already; end one first");
            return Err(AppError::field("number", "many", detail));
        }
        let link = Number {
            id,
            number: self.number.to_owned(),
            member: new.member,
            farm: new.farm,
            state: "pending".to_owned(),
            language: language.tag().to_owned(),
            purposes,
            consent_on: new.consent_on,
            code,
            code_tries: 0,
            verified_at: None,
            chosen_at: None,
            heard_at: None,
            made_by: self.by.person,
            made_at: self.now.0,
            ended_at: None,
        };
        texts::add_number(writing, coop, &link)?;
        Ok(link)
    }
}

fn send_code(
    conn: &mut Conn,
    coop: i64,
    (link, id): (&Number, Uuid),
    code: &str,
    language: Language,
    now: Instant,
) -> Result<(), AppError> {
    let args = [("code", code.into()), ("hours", CODE_HOURS.into())];
    let body = language.say("t-code", &args);
    let code = ToSend {
        id,
        number: &link.number,
        body: &body,
        purpose: Purpose::Code,
        key: format!("code.{}", id.simple()),
        not_before: now.0,
        expires_at: now.0 + CODE_HOURS * HOUR_MS,
    };
    code.put(conn, coop, now.0).map(drop)
}

/// Whether a text is the code of a link that has not run out.
fn is_code_of(link: &Number, text: &str, now: Instant) -> bool {
    let code = link.code.as_ref();
    code.is_some_and(|(known, until)| *known == hash(&link.number, text) && *until > now.0)
        && link.code_tries < CODE_TRIES
}

/// Whether a text is the code of one of these links.
pub(super) fn is_code(links: &[Number], text: &str, now: Instant) -> bool {
    links.iter().any(|l| is_code_of(l, text, now))
}

/// Whether a text that came is the code of a link: none where it is no code or none is awaited.
pub(super) fn verify(
    conn: &mut Conn,
    coop: i64,
    links: &[Number],
    text: &str,
    now: Instant,
) -> Result<Option<bool>, AppError> {
    let is_code = text.len() == CODE_DIGITS && text.bytes().all(|b| b.is_ascii_digit());
    let mut awaited: Vec<Number> = links.iter().filter(|l| l.code.is_some()).cloned().collect();
    // A verified number may well write a figure of four digits.
    let only_pending = links.iter().all(|l| l.state == "pending");
    if !is_code || awaited.is_empty() {
        return Ok(None);
    }
    if let Some(link) = awaited.iter_mut().find(|l| is_code_of(l, text, now)) {
        link.code = None;
        link.code_tries = 0;
        link.verified_at = Some(now.0);
        if link.state == "pending" {
            link.state = "active".to_owned();
        }
        texts::put_number(conn, coop, link)?;
        return Ok(Some(true));
    }
    for link in &mut awaited {
        link.code_tries += 1;
        if link.code_tries >= CODE_TRIES {
            link.code = None;
        }
        texts::put_number(conn, coop, link)?;
    }
    Ok(only_pending.then_some(false))
}

/// Notes that a number was heard: after long silence it must be verified again before it hears money.
pub(super) fn heard(
    conn: &mut Conn,
    coop: i64,
    link: Number,
    now: Instant,
) -> Result<(), AppError> {
    // What this text changed of the link stands in the database already.
    let Some(stored) = texts::link(conn, coop, link.id)? else { return Ok(()) };
    let was_silent = stored.heard_at.is_some_and(|at| now.0 - at >= SILENT_MS);
    let is_fresh = stored.verified_at == Some(now.0);
    let verified_at = stored.verified_at.filter(|_| !was_silent || is_fresh);
    let link = Number { heard_at: Some(now.0), verified_at, ..stored };
    Ok(texts::put_number(conn, coop, &link)?)
}

/// Notes that a co-operative was chosen for a number.
pub(super) fn choose(
    conn: &mut Conn,
    coop: i64,
    number: &str,
    now: Instant,
) -> Result<(), AppError> {
    for link in texts::links(conn, coop, number)? {
        let link = Number { chosen_at: Some(now.0), ..link };
        texts::put_number(conn, coop, &link)?;
    }
    Ok(())
}

pub(super) fn set_state(
    conn: &mut Conn,
    coop: i64,
    links: &[Number],
    state: &str,
) -> Result<(), AppError> {
    for link in links {
        texts::put_number(conn, coop, &Number { state: state.to_owned(), ..link.clone() })?;
    }
    Ok(())
}

pub(super) fn set_language(
    conn: &mut Conn,
    coop: i64,
    links: &[Number],
    language: Language,
) -> Result<(), AppError> {
    for link in links {
        let link = Number { language: language.tag().to_owned(), ..link.clone() };
        texts::put_number(conn, coop, &link)?;
    }
    Ok(())
}

/// Whether somebody is a member still.
pub(super) fn is_member(conn: &mut Conn, coop: i64, member: Uuid) -> Result<bool, AppError> {
    let found = records::find(conn, coop, Kind::Member, member)?;
    let found = found.filter(|r| r.withdrawn_at.is_none());
    let member = found.and_then(|r| Member::from_values(&r.values));
    Ok(member.is_some_and(|m| m.left_on.is_none()))
}

fn shown(conn: &mut Conn, coop: i64, link: Number) -> Result<TextNumber, AppError> {
    let found = records::find(conn, coop, Kind::Member, link.member)?;
    let name = found.and_then(|r| Member::from_values(&r.values)).map(|m| m.name);
    let time = |at: Option<i64>| at.map(|at| Time(Instant(at)));
    let [_, reminders, cautions, money] = link.purposes;
    Ok(TextNumber {
        id: link.id,
        member_id: link.member,
        member_name: name.unwrap_or_default(),
        farm_id: link.farm,
        state: TextNumberState::parse(&link.state).unwrap_or(TextNumberState::Ended),
        language: link.language,
        reminders,
        cautions,
        money,
        consent_on: link.consent_on,
        verified_at: time(link.verified_at),
        heard_at: time(link.heard_at),
        ended_at: time(link.ended_at),
        number: link.number,
    })
}
