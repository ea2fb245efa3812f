//! The security log: who signed in, failed, was refused, was given a new code, took data out.
//!
//! Lines are only added, in the transaction of what they tell of. Each has a hash over the line
//! before it; `traybook check` follows the chain. No secret stands in it: logins and addresses are
//! keyed hashes.

use super::session::digest;
use crate::error::AppError;
use crate::{Actor, App};
use serde_json::json;
use traybook_answers::people::security::{SecurityEvent, SecurityLine, SecurityLog};
use traybook_answers::wire::Time;
use traybook_domain::Kind;
use traybook_domain::limits::{SECURITY_LINES_MAX, SECURITY_LOG_MS};
use traybook_domain::people::authz::{Role, Task};
use traybook_domain::value::Instant;
use traybook_storage::Conn;
use traybook_storage::people::logins;
use traybook_storage::people::security_log::{self, Chain, Line};
use traybook_storage::records;
use uuid::Uuid;

/// Lines on one page.
pub const LINES_MAX: i64 = 100;
/// Lines that are read at a time when a chain is followed.
const STEP: i64 = 1_000;
/// What the first line of a chain follows.
const BEGIN: &str = "";
/// The chain of what concerns no co-operative.
pub(crate) const NO_COOP: i64 = 0;

/// Something to be noted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Note {
    pub event: SecurityEvent,
    pub person: Option<Uuid>,
    /// The person or farm that it was done to.
    pub about: Option<Uuid>,
    /// Keyed hash of a login.
    pub account: Option<String>,
    /// Keyed hash of an address.
    pub address: Option<String>,
    /// What else there is to say.
    pub detail: Option<String>,
}

impl Note {
    pub(crate) const fn new(event: SecurityEvent) -> Self {
        Self { event, person: None, about: None, account: None, address: None, detail: None }
    }

    pub(crate) fn by(self, actor: &Actor) -> Self {
        Self { person: Some(actor.person).filter(|id| !id.is_nil()), ..self }
    }

    pub(crate) fn about(self, about: Uuid) -> Self {
        Self { about: Some(about), ..self }
    }

    pub(crate) fn detail(self, detail: &str) -> Self {
        Self { detail: Some(detail.to_owned()), ..self }
    }
}

/// A break in a chain.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Broken {
    /// Number of the co-operative; 0 for none.
    pub chain: i64,
    /// The place from which it does not hold.
    pub seq: i64,
}

fn hash(before: &str, line: &Line) -> String {
    let whole = json!([
        before,
        line.chain,
        line.seq,
        line.at,
        line.event,
        line.person,
        line.about,
        line.account,
        line.address,
        line.detail
    ]);
    digest(&whole.to_string())
}

/// Adds a line to a co-operative's log.
pub(crate) fn add(conn: &mut Conn, coop: i64, note: &Note, now: i64) -> Result<(), AppError> {
    let chain = security_log::next(conn, coop, BEGIN)?;
    let mut line = Line {
        chain: coop,
        seq: chain.lines,
        at: now,
        event: note.event.text().to_owned(),
        person: note.person,
        about: note.about,
        account: note.account.clone(),
        address: note.address.clone(),
        detail: note.detail.clone(),
        hash: String::new(),
    };
    line.hash = hash(&chain.head, &line);
    Ok(security_log::add(conn, &line)?)
}

/// Follows a chain from its first kept line to its last.
fn follow(conn: &mut Conn, chain: &Chain) -> Result<Option<Broken>, AppError> {
    let (mut seq, mut head) = (chain.forgotten, chain.base.clone());
    loop {
        let lines = security_log::after(conn, chain.chain, seq, STEP)?;
        for line in &lines {
            if line.seq != seq + 1 || line.hash != hash(&head, line) {
                return Ok(Some(Broken { chain: chain.chain, seq: seq + 1 }));
            }
            (seq, head) = (line.seq, line.hash.clone());
        }
        if lines.is_empty() {
            let is_whole = seq == chain.lines && head == chain.head;
            return Ok((!is_whole).then_some(Broken { chain: chain.chain, seq: seq + 1 }));
        }
    }
}

/// The last line that is older than what is kept, in a row with all before it; a chain that is longer
/// than `keep` loses the lines above that, too.
fn last_old(
    conn: &mut Conn,
    chain: &Chain,
    over: i64,
    keep: i64,
) -> Result<Option<Line>, AppError> {
    let mut last: Option<Line> = None;
    let is_old = |line: &Line| line.at <= over || line.seq <= chain.lines - keep;
    loop {
        let seq = last.as_ref().map_or(chain.forgotten, |line| line.seq);
        let lines = security_log::after(conn, chain.chain, seq, STEP)?;
        let count = lines.len();
        let old: Vec<Line> = lines.into_iter().take_while(is_old).collect();
        let all = old.len() == count && count > 0;
        last = old.into_iter().next_back().or(last);
        if !all {
            return Ok(last);
        }
    }
}

/// Names of people and codes of farms.
fn names(conn: &mut Conn, coop: i64, mut ids: Vec<Uuid>) -> Result<Vec<(Uuid, String)>, AppError> {
    ids.sort_unstable();
    ids.dedup();
    let mut names = Vec::new();
    for (kind, field) in [(Kind::Person, "name"), (Kind::Farm, "code"), (Kind::Member, "name")] {
        for record in records::several(conn, coop, kind, &ids)? {
            let name = kind.spec().get(&record.values, field).as_text().unwrap_or_default();
            names.push((record.id, name.to_owned()));
        }
    }
    Ok(names)
}

impl App {
    /// The keyed hashes of a login and an address.
    pub(crate) fn hashed(&self, login: &str, address: &str) -> Result<(String, String), AppError> {
        let mark = |what: &str, whose: &str| self.keys.mark(&["security", what, whose]);
        let both = mark("account", login).and_then(|l| Ok((l, mark("address", address)?)));
        both.map_err(AppError::Internal)
    }

    /// Notes what somebody did.
    pub(crate) async fn note(&self, coop: i64, note: Note) -> Result<(), AppError> {
        let now = self.now().0;
        self.store.write(move |conn| add(conn, coop, &note, now)).await
    }

    /// Notes that somebody took a file of data: `what` names the operation or page.
    pub async fn note_export(&self, actor: &Actor, what: &str) -> Result<(), AppError> {
        let note = Note::new(SecurityEvent::Exported).by(actor).detail(what);
        self.note(actor.coop.number, note).await
    }

    /// Notes that somebody was refused by the role: `what` names the operation or page. The same
    /// again within a window is not noted.
    pub async fn note_denied(&self, actor: &Actor, what: &str) -> Result<(), AppError> {
        if self.store.only_reads() {
            // The main server keeps the log.
            tracing::warn!(person = %actor.person, what, "refused by the role");
            return Ok(());
        }
        self.note_once(actor, Note::new(SecurityEvent::Denied).by(actor).detail(what)).await
    }

    async fn note_once(&self, actor: &Actor, note: Note) -> Result<(), AppError> {
        let (coop, now) = (actor.coop.number, self.now().0);
        let whose = format!("{coop} {:?} {:?} {:?}", actor.person, note.about, note.detail);
        let key = self.counted(note.event.text(), &whose)?;
        self.store
            .write(move |conn| match Self::is_first(conn, &key, now)? {
                true => add(conn, coop, &note, now),
                false => Ok(()),
            })
            .await
    }

    /// Notes that somebody read what is personal to another: a person's page, or what a farm's
    /// member earns and owes. Nothing where it is one's own, or again within a window.
    pub async fn note_read(&self, actor: &Actor, about: Uuid, what: &str) -> Result<(), AppError> {
        if actor.role == Role::Member || actor.person == about || actor.is_machine() {
            return Ok(());
        }
        let note = Note::new(SecurityEvent::ReadPersonal).by(actor).about(about).detail(what);
        self.note_once(actor, note).await
    }

    /// Notes in every log that the database was restored from a copy.
    pub async fn note_restored(&self, detail: &str) -> Result<(), AppError> {
        let (note, now) = (Note::new(SecurityEvent::Restored).detail(detail), self.now().0);
        self.store
            .write(move |conn| {
                add(conn, NO_COOP, &note, now)?;
                for (coop, _) in logins::cooperatives(conn)? {
                    add(conn, coop, &note, now)?;
                }
                Ok(())
            })
            .await
    }

    /// The log of the actor's co-operative, the newest line first; of those before a place where
    /// one is given. An operator, who runs the machine, may ask for what concerns no co-operative.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn security_log(
        &self,
        actor: &Actor,
        before: Option<i64>,
        of_none: bool,
    ) -> Result<SecurityLog, AppError> {
        actor.task(Task::SecurityLog)?;
        if of_none && actor.role != Role::Operator {
            return Err(AppError::Forbidden);
        }
        let (coop, chain) = (actor.coop.number, if of_none { NO_COOP } else { actor.coop.number });
        let lines = self
            .store
            .read(move |conn| {
                let from = before.unwrap_or(i64::MAX);
                let lines = security_log::before(conn, chain, from, LINES_MAX)?;
                let ids = lines.iter().flat_map(|l| [l.person, l.about]).flatten().collect();
                let names = names(conn, coop, ids)?;
                let name = |id: Option<Uuid>| names.iter().find(|(of, _)| Some(*of) == id);
                let name = |id: Option<Uuid>| name(id).map(|(_, name)| name.clone());
                let shown = lines.into_iter().filter_map(|line| {
                    Some(SecurityLine {
                        seq: line.seq,
                        at: Time(Instant(line.at)),
                        event: SecurityEvent::parse(&line.event)?,
                        by: name(line.person),
                        about: name(line.about),
                        account: line.account,
                        address: line.address,
                        detail: line.detail,
                    })
                });
                Ok::<_, AppError>(shown.collect::<Vec<_>>())
            })
            .await?;
        let is_full = i64::try_from(lines.len()).is_ok_and(|n| n == LINES_MAX);
        let next = lines.last().map(|l| l.seq).filter(|seq| is_full && *seq > 1);
        Ok(SecurityLog { items: lines, next })
    }

    /// Follows every chain; where each is broken first.
    pub async fn check_security_log(&self) -> Result<(i64, Vec<Broken>), AppError> {
        self.store
            .read(|conn| {
                let (mut lines, mut broken) = (0, Vec::new());
                for chain in security_log::chains(conn)? {
                    lines += chain.lines - chain.forgotten;
                    broken.extend(follow(conn, &chain)?);
                }
                Ok((lines, broken))
            })
            .await
    }

    /// Forgets the lines that are older than they are kept, and the oldest of a chain that is too
    /// long. A server does this now and then.
    pub async fn forget_security(&self) -> Result<(), AppError> {
        self.forget_lines(SECURITY_LINES_MAX).await
    }

    /// The same with another number of lines that each chain may have.
    pub async fn forget_lines(&self, keep: i64) -> Result<(), AppError> {
        let over = self.now().0 - SECURITY_LOG_MS;
        let long = self
            .store
            .read(move |conn| Ok::<_, AppError>(security_log::too_long(conn, over, keep)?));
        for chain in long.await? {
            let forget = self.store.write(move |conn| {
                let Some(chain) = security_log::one(conn, chain)? else { return Ok(()) };
                match last_old(conn, &chain, over, keep)? {
                    Some(last) => Ok(security_log::forget(conn, &last)?),
                    None => Ok::<_, AppError>(()),
                }
            });
            forget.await?;
        }
        Ok(())
    }
}
