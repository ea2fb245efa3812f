//! Signing in and out, refresh tokens.

use crate::error::AppError;
use crate::people::guessable;
use crate::people::keys::Subject;
use crate::people::passkeys::{Answered, Asked};
use crate::people::passwords::Lane;
use crate::people::second::Proof;
use crate::people::security::{self, NO_COOP, Note};
use crate::people::throttle::{Counted, Ended};
use crate::records::{Txn, normal_login};
use crate::{Actor, App, Coop};
use serde_json::{Map, Value as Json};
use sha2::{Digest, Sha256};
use traybook_answers::people::security::SecurityEvent;
use traybook_domain::kinds::Person;
use traybook_domain::people::authz::{Role, Task};
use traybook_domain::record::Record as _;
use traybook_domain::value::Instant;
use traybook_domain::{Kind, limits};
use traybook_storage::Conn;
use traybook_storage::people::accounts::{self, Session};
use traybook_storage::people::logins::{self, Found, Membership};
use traybook_storage::people::sign_ins::{self, SignIn};
use traybook_storage::records;
use uuid::Uuid;

/// What a sign-in gives.
#[derive(Clone, Debug)]
pub struct SignedIn {
    /// Access token (JWT).
    pub access_token: String,
    /// Its end, seconds since 1970.
    pub access_expires_s: i64,
    /// Refresh token, for one use.
    pub refresh_token: String,
    /// Its end, milliseconds since 1970.
    pub refresh_expires_ms: i64,
    /// What the device keeps to be known by, the next time this person signs in on it.
    pub device_token: String,
    /// Who signed in.
    pub actor: Actor,
}

pub(crate) fn digest(secret: &str) -> String {
    Sha256::digest(secret.as_bytes()).iter().map(|b| format!("{b:02x}")).collect()
}

/// Somebody who wants to sign in.
#[derive(Clone, Debug, Default)]
pub struct Attempt {
    /// E-mail address or telephone number.
    pub login: String,
    /// Password or PIN.
    pub password: String,
    /// The co-operative, for people of several.
    pub cooperative: Option<Uuid>,
    /// Address that failures count for.
    pub address: String,
    /// Tokens that the device was given when it signed in before.
    pub devices: Vec<String>,
    /// A code of the second factor, of whoever has one.
    pub code: Option<String>,
    /// The answer of a passkey in place of a code; only after a password.
    pub passkey: Option<Answered>,
    /// Kind of device, in a word of ours.
    pub device: &'static str,
}

/// What a sign-in begins with, after all was checked.
struct Begun<'a> {
    login: &'a str,
    device: &'static str,
    is_proved: bool,
    note: Note,
}

impl App {
    /// Signs in to one co-operative.
    ///
    /// An unknown login takes as long and answers the same as a wrong password.
    ///
    /// # Errors
    /// `WrongPassword`; `TooMany` after repeated failures of the account, address or secret, of
    /// which a device that has signed in before knows nothing; `Conflict` with code
    /// `choose_cooperative` when the person belongs to several and named none; `SecondFactor` when
    /// the person has one and gave no code.
    pub async fn sign_in(&self, asked: Attempt) -> Result<SignedIn, AppError> {
        let login = normal_login(&asked.login);
        if login.is_empty() || login.len() > 200 || login.chars().any(char::is_control) {
            return Err(AppError::field("login", "length", "give 1 to 200 plain characters"));
        }
        if asked.password.len() > 4 * limits::PASSWORD_CHARS_MAX {
            let text = format!("give at most {} characters", limits::PASSWORD_CHARS_MAX);
            return Err(AppError::field("password", "length", text));
        }
        let (account, address) = self.hashed(&login, &asked.address)?;
        let note = Note {
            account: Some(account),
            address: Some(address),
            ..Note::new(SecurityEvent::SignInFailed)
        };
        let by_login = login.clone();
        let found = self.store.read(move |conn| {
            Ok::<_, AppError>(logins::by_login(conn, &by_login, COOPERATIVES_MAX)?)
        });
        let found = found.await?;
        let set_at = found.iter().filter_map(|f| f.changed_at).min();
        let device = set_at.and_then(|set_at| self.known_device(&asked.devices, &login, set_at));
        let (lane, keys) = match &device {
            Some(device) => (Lane::Known, vec![self.counted("device", device)?]),
            None => (Lane::Stranger, self.counted_for_strangers(&login, &asked)?),
        };
        let tried = self.begin_try(keys).await?;
        let failed =
            found.iter().map(|f| (f.membership.coop, note.clone().about(f.membership.person)));
        let mut failed: Vec<(i64, Note)> = failed.collect();
        if failed.is_empty() {
            failed.push((NO_COOP, note.clone()));
        }
        let fitting = self.fitting(lane, asked.password, found).await;
        let ended = match &fitting {
            Ok(fitting) if fitting.is_empty() => Ended::Wrong,
            Ok(_) => Ended::Right,
            Err(_) => Ended::Untried,
        };
        self.settle(tried, ended, failed).await?;
        let fitting = fitting?;
        let to = choose(&fitting, asked.cooperative)?;
        let is_proved = self.has_second(to.coop, to.person).await?;
        match &asked.code {
            _ if !is_proved => {}
            Some(code) => self.check_code(to.coop, to.person, code).await?,
            None => return Err(AppError::SecondFactor { ticket: self.ticket(to)? }),
        }
        let begun = Begun { login: &login, device: asked.device, is_proved, note };
        self.begin(begun, to, fitting).await
    }

    /// Stands for a password that fitted, until a code of the second factor goes with it.
    fn ticket(&self, to: Membership) -> Result<String, AppError> {
        let whole = format!("{}.{}.{}.{}", to.coop, to.cooperative, to.person, self.now().0);
        let mark = self.keys.mark(&["ticket", &whole]).map_err(AppError::Internal)?;
        Ok(format!("{whole}.{mark}"))
    }

    fn read_ticket(&self, ticket: &str) -> Option<Membership> {
        let (whole, mark) = ticket.rsplit_once('.')?;
        let mut parts = whole.split('.');
        let coop = parts.next()?.parse().ok()?;
        let cooperative = Uuid::try_parse(parts.next()?).ok()?;
        let person = Uuid::try_parse(parts.next()?).ok()?;
        let made: i64 = parts.next()?.parse().ok()?;
        let holds = (0..TICKET_MS).contains(&(self.now().0 - made));
        let is_ours = holds && self.keys.is_mark(mark, &["ticket", whole]);
        is_ours.then_some(Membership { coop, cooperative, person })
    }

    /// Asks for a passkey of whom a ticket stands for; none where there is none.
    pub async fn ask_passkey_for_ticket(
        &self,
        ticket: &str,
        origin: Option<&str>,
    ) -> Result<Option<Asked>, AppError> {
        let Some(to) = self.read_ticket(ticket) else { return Ok(None) };
        self.ask_passkey((to.coop, to.person), origin).await
    }

    /// Signs in with the ticket that stands for a password, and a code or a passkey.
    ///
    /// # Errors
    /// `WrongPassword` when the ticket is too old; `Invalid` for a wrong code or passkey; `TooMany`
    /// after repeated failures.
    pub async fn sign_in_second(&self, ticket: &str, asked: Attempt) -> Result<SignedIn, AppError> {
        let to = self.read_ticket(ticket).ok_or(AppError::WrongPassword)?;
        let proof = match asked.passkey {
            Some(answered) => Proof::Passkey(answered),
            None => Proof::Code(asked.code.unwrap_or_default()),
        };
        self.check_proof((to.coop, to.person), &proof).await?;
        let login = normal_login(&asked.login);
        let (account, address) = self.hashed(&login, &asked.address)?;
        let note = Note {
            account: Some(account),
            address: Some(address),
            ..Note::new(SecurityEvent::SignedIn)
        };
        let begun = Begun { login: &login, device: asked.device, is_proved: true, note };
        self.begin(begun, to, vec![to]).await
    }

    /// What a try of somebody counts for of whom nothing is known. The login comes first: a right
    /// password makes its failures forgotten, and those of nothing else.
    fn counted_for_strangers(
        &self,
        login: &str,
        asked: &Attempt,
    ) -> Result<Vec<Counted>, AppError> {
        let mut keys = vec![
            self.counted("login", login)?,
            self.counted("address", &asked.address)?,
            self.counted("secret", &asked.password)?,
        ];
        if guessable::is_pin(&asked.password) {
            keys.push(self.counted("pins", "")?);
        }
        Ok(keys)
    }

    /// The people that a password opens.
    async fn fitting(
        &self,
        lane: Lane,
        password: String,
        found: Vec<Found>,
    ) -> Result<Vec<Membership>, AppError> {
        let is_pin = guessable::is_pin(&password);
        let (found, hashes): (Vec<Membership>, Vec<Option<String>>) =
            found.into_iter().map(|f| (f.membership, f.hash)).unzip();
        let fits = self.hasher.fits(lane, password, hashes).await?;
        let fitting = found.into_iter().zip(fits).filter_map(|(m, fits)| fits.then_some(m));
        let fitting: Vec<Membership> = fitting.collect();
        // A PIN opens a member's own farm only: who has another role now needs a password.
        if is_pin && !fitting.is_empty() { self.members_of(fitting).await } else { Ok(fitting) }
    }

    /// Those memberships in which the person is a member.
    async fn members_of(&self, all: Vec<Membership>) -> Result<Vec<Membership>, AppError> {
        self.store
            .read(move |conn| {
                let mut members = Vec::new();
                for to in all {
                    let record = records::find(conn, to.coop, Kind::Person, to.person)?;
                    let person = record.and_then(|r| Person::from_values(&r.values));
                    if person.is_some_and(|p| p.role == Role::Member.text()) {
                        members.push(to);
                    }
                }
                Ok(members)
            })
            .await
    }

    /// Names of the co-operatives that a person must choose one of, in the order given.
    pub async fn cooperative_names(&self, ids: Vec<Uuid>) -> Result<Vec<(Uuid, String)>, AppError> {
        self.store
            .read(move |conn| {
                let mut names = Vec::new();
                for id in ids {
                    if let Some(number) = logins::coop_number(conn, id)? {
                        names.push((id, Coop::load(conn, number, id)?.name));
                    }
                }
                Ok(names)
            })
            .await
    }

    /// Signs a person of a co-operative in, after the password was checked.
    async fn begin(
        &self,
        begun: Begun<'_>,
        to: Membership,
        opened: Vec<Membership>,
    ) -> Result<SignedIn, AppError> {
        let (family, secret) = (self.new_id()?, within(to.coop, &self.new_secret()?));
        let now = self.now();
        let session = session_of(&secret, family, to, now);
        let (kept, note) = (session.clone(), begun.note);
        let sign_in = SignIn {
            family,
            coop: to.coop,
            person: to.person,
            begun_at: now.0,
            seen_at: now.0,
            device: begun.device.to_owned(),
            proved_at: begun.is_proved.then_some(now.0),
        };
        let actor = self
            .store
            .write(move |conn| {
                let actor = Actor::load(conn, to.coop, to.cooperative, to.person)?;
                accounts::forget_expired(conn, to.coop, to.person, now.0)?;
                accounts::add_session(conn, &kept)?;
                sign_ins::add(conn, &sign_in)?;
                accounts::add_people(conn, (to.coop, family), &opened)?;
                let note = Note { event: SecurityEvent::SignedIn, ..note.clone() }.by(&actor);
                security::add(conn, to.coop, &note, now.0)?;
                Ok::<_, AppError>(actor)
            })
            .await?;
        self.signed_in(actor, secret, &session, self.device_token(begun.login)?)
    }

    fn signed_in(
        &self,
        actor: Actor,
        secret: String,
        session: &Session,
        device_token: String,
    ) -> Result<SignedIn, AppError> {
        let subject = Subject {
            person: actor.person,
            coop: actor.coop.number,
            cooperative: actor.coop.id,
            family: session.family,
        };
        let signed = self.keys.sign(subject, self.now().0.div_euclid(1000));
        let (access_token, access_expires_s) = signed.map_err(AppError::Internal)?;
        Ok(SignedIn {
            access_token,
            access_expires_s,
            refresh_token: secret,
            refresh_expires_ms: session.expires_at,
            device_token,
            actor,
        })
    }

    /// Exchanges a refresh token for the next one. An old one that comes again ends the sign-in:
    /// somebody has copied it. Only where the next one was not used and the exchange was just now,
    /// the answer may have been lost: then another one takes the place of the next, and whoever
    /// has that one ends the sign-in by using it.
    ///
    /// # Errors
    /// `Unauthenticated`.
    pub async fn refresh(&self, token: &str) -> Result<SignedIn, AppError> {
        let (hash, random, now) = (digest(token), self.new_secret()?, self.now());
        let coop = coop_in(token)?;
        let outcome = self
            .store
            .write(move |conn| {
                let Some(old) = accounts::session(conn, (coop, &hash))? else { return Ok(None) };
                let (secret, of) = (within(old.coop, &random), (old.coop, old.family));
                if old.ended_at.is_some() || old.expires_at <= now.0 {
                    return Ok(None);
                }
                let is_next = match old.used_at {
                    Some(used_at) => {
                        now.0 - used_at < limits::REFRESH_GRACE_MS
                            && accounts::take_successors(conn, of, used_at)?
                    }
                    None => accounts::use_session(conn, &old, now.0)?,
                };
                if !is_next {
                    accounts::end_family(conn, of, now.0)?;
                    tracing::warn!(family = %old.family, "a used refresh token came again");
                    return Ok(None);
                }
                let cooperative = cooperative_of(conn, old.coop)?;
                let to = Membership { coop: old.coop, cooperative, person: old.person };
                let session = session_of(&secret, old.family, to, now);
                let whole = (to.coop, to.cooperative, to.person);
                let actor = match Actor::signed_in(conn, old.family, whole, now.0) {
                    Ok((actor, _)) => actor,
                    Err(AppError::Unauthenticated) => {
                        accounts::end_family(conn, of, now.0)?;
                        return Ok(None);
                    }
                    Err(e) => return Err(e),
                };
                accounts::forget_expired(conn, to.coop, to.person, now.0)?;
                accounts::add_session(conn, &session)?;
                sign_ins::seen(conn, of, now.0)?;
                Ok(Some((actor, session, secret)))
            })
            .await?;
        let (actor, session, secret) = outcome.ok_or(AppError::Unauthenticated)?;
        self.signed_in(actor, secret, &session, String::new())
    }

    /// Who an access token stands for, now.
    ///
    /// # Errors
    /// `Unauthenticated` when the token does not hold, the sign-in was ended or the person may no
    /// longer sign in.
    pub async fn who(&self, token: &str) -> Result<(Actor, Uuid), AppError> {
        let now = self.now().0;
        let claims = self.keys.verify(token, now.div_euclid(1000));
        let claims = claims.ok_or(AppError::Unauthenticated)?;
        let whole = (claims.coop, claims.cid, claims.sub);
        let found = self.store.read(move |conn| Actor::signed_in(conn, claims.fam, whole, now));
        let (actor, seen_at) = found.await?;
        self.seen((claims.coop, claims.fam), seen_at, now).await?;
        Ok((actor, claims.fam))
    }

    /// Keeps when a sign-in was seen last, not to the minute.
    async fn seen(&self, of: (i64, Uuid), seen_at: i64, now: i64) -> Result<(), AppError> {
        if now - seen_at < limits::SEEN_STEP_MS || self.store.only_reads() {
            return Ok(());
        }
        self.store.write(move |conn| Ok::<_, AppError>(sign_ins::seen(conn, of, now)?)).await
    }

    /// Who a sign-in's own secret stands for, now: the secret is the refresh token that signing in
    /// gave, kept in a cookie and never exchanged.
    ///
    /// # Errors
    /// `Unauthenticated` when it does not hold or the person may no longer sign in.
    pub async fn who_by_secret(&self, secret: &str) -> Result<(Actor, Uuid), AppError> {
        let (coop, hash, now) = (coop_in(secret)?, digest(secret), self.now().0);
        let found = self.store.read(move |conn| {
            let found = accounts::session(conn, (coop, &hash))?;
            let found = found.ok_or(AppError::Unauthenticated)?;
            let holds = found.used_at.is_none() && found.ended_at.is_none();
            if !holds || found.expires_at <= now {
                return Err(AppError::Unauthenticated);
            }
            let whole = (found.coop, cooperative_of(conn, found.coop)?, found.person);
            let (actor, seen_at) = Actor::signed_in(conn, found.family, whole, now)?;
            Ok((actor, found.family, seen_at))
        });
        let (actor, family, seen_at) = found.await?;
        self.seen((actor.coop.number, family), seen_at, now).await?;
        Ok((actor, family))
    }

    /// Ends a sign-in: its refresh tokens and access tokens hold no longer.
    pub async fn sign_out(&self, actor: &Actor, family: Uuid) -> Result<(), AppError> {
        let (now, coop) = (self.now().0, actor.coop.number);
        let note = Note::new(SecurityEvent::SignedOut).by(actor);
        self.store
            .write(move |conn| {
                accounts::end_family(conn, (coop, family), now)?;
                security::add(conn, coop, &note, now)
            })
            .await
    }

    /// Keeps the language that a person chose for the pages, in the person's own record.
    pub async fn choose_language(&self, actor: &Actor, language: &str) -> Result<(), AppError> {
        let visible = actor.task(Task::ChooseLanguage)?;
        let (own, now) = (actor.clone(), self.now());
        let patched = language.to_owned();
        let patch = Map::from_iter([("language".to_owned(), Json::from(language))]);
        self.store
            .change(own.coop.number, move |writing| {
                let mut txn = Txn::begin(writing, &own, now)?;
                let record = txn.find_visible(Kind::Person, own.person, &visible)?;
                let spoken = Kind::Person.spec().get(&record.values, "language").as_text();
                if spoken == Some(patched.as_str()) {
                    return Ok(());
                }
                txn.correct_within(Kind::Person, record.id, record.version, &patch, &visible)?;
                txn.finish()
            })
            .await
    }

    /// Sets a person's password from the machine itself: demo and tests.
    pub async fn set_password(
        &self,
        actor: &Actor,
        person: Uuid,
        password: String,
    ) -> Result<(), AppError> {
        let hash = self.hasher.hash(password, self.random.clone()).await?;
        let (now, coop) = (self.now().0, actor.coop.number);
        self.store
            .write(move |conn| Ok(accounts::set_password(conn, coop, person, &hash, now)?))
            .await
    }
}

/// How long a ticket stands for a password, milliseconds: time to take a telephone and read a code.
const TICKET_MS: i64 = 5 * 60 * 1000;

/// Co-operatives that one login is tried in: each password costs a hash.
const COOPERATIVES_MAX: usize = 8;

fn choose(all: &[Membership], wanted: Option<Uuid>) -> Result<Membership, AppError> {
    let fits = |m: &&Membership| wanted.is_none_or(|w| w == m.cooperative);
    let mut fitting = all.iter().filter(fits);
    match (fitting.next(), fitting.next()) {
        (Some(one), None) => Ok(*one),
        (None, _) => Err(AppError::WrongPassword),
        (Some(_), Some(_)) => {
            let ids: Vec<String> = all.iter().map(|m| m.cooperative.to_string()).collect();
            let detail = format!("name one as cooperative_id: {}", ids.join(", "));
            Err(AppError::conflict("choose_cooperative", detail))
        }
    }
}

fn session_of(secret: &str, family: Uuid, to: Membership, now: Instant) -> Session {
    Session {
        token_hash: digest(secret),
        family,
        coop: to.coop,
        person: to.person,
        expires_at: now.0 + limits::REFRESH_TOKEN_S * 1000,
        used_at: None,
        ended_at: None,
    }
}

pub(crate) fn cooperative_of(conn: &mut Conn, number: i64) -> Result<Uuid, AppError> {
    logins::coop_id(conn, number)?.ok_or(AppError::Unauthenticated)
}

/// What stands between the number of a co-operative and the random part of a secret. So a secret is
/// looked for in that co-operative alone, on whichever machine it lies.
const OF: char = '-';

/// A secret of a co-operative.
pub(crate) fn within(coop: i64, random: &str) -> String {
    format!("{coop}{OF}{random}")
}

/// The co-operative that a secret names. One of an older program names none.
///
/// # Errors
/// `Unauthenticated` when no number stands where it should.
pub(crate) fn coop_in(secret: &str) -> Result<Option<i64>, AppError> {
    let Some((coop, _)) = secret.split_once(OF) else { return Ok(None) };
    let number = coop.parse().ok().filter(|n| *n > 0).ok_or(AppError::Unauthenticated)?;
    Ok(Some(number))
}
