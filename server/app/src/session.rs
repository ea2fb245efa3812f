//! Signing in and out, refresh tokens, invitations.

use crate::ctx::{Actor, App};
use crate::error::AppError;
use crate::keys::Subject;
use crate::passwords;
use crate::txn::{find_visible, normal_login};
use sha2::{Digest, Sha256};
use traybook_domain::authz::{Action, Role, Task};
use traybook_domain::kinds::Person;
use traybook_domain::record::Record as _;
use traybook_domain::value::Instant;
use traybook_domain::{Kind, limits};
use traybook_storage::accounts::{self, Membership, Session};
use traybook_storage::{Conn, records};
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
    /// Who signed in.
    pub actor: Actor,
}

fn digest(secret: &str) -> String {
    Sha256::digest(secret.as_bytes()).iter().map(|b| format!("{b:02x}")).collect()
}

impl App {
    /// Signs in to one co-operative.
    ///
    /// An unknown login takes as long and answers the same as a wrong password.
    ///
    /// # Errors
    /// `WrongPassword`; `TooMany` after repeated failures of the account or address; `Conflict`
    /// with code `choose_cooperative` when the person belongs to several and named none.
    pub async fn sign_in(
        &self,
        login: &str,
        password: String,
        cooperative: Option<Uuid>,
        address: &str,
    ) -> Result<SignedIn, AppError> {
        let login = normal_login(login);
        if login.is_empty() || login.len() > 200 || login.chars().any(char::is_control) {
            return Err(AppError::field("login", "length", "give 1 to 200 plain characters"));
        }
        if password.len() > 4 * limits::PASSWORD_CHARS_MAX {
            let text = format!("give at most {} characters", limits::PASSWORD_CHARS_MAX);
            return Err(AppError::field("password", "length", text));
        }
        let now = self.now();
        let (by_login, by_address) = (format!("login {login}"), format!("address {address}"));
        let keys = [by_login.as_str(), by_address.as_str()];
        if let Some(retry_after_s) = self.throttle.wait_s(&keys, now.0) {
            return Err(AppError::TooMany { retry_after_s });
        }
        let wanted = login.clone();
        let found = self
            .store
            .read(move |conn| {
                let account = accounts::find(conn, &wanted)?;
                let members = match &account {
                    Some((id, _)) => accounts::memberships(conn, *id)?,
                    None => Vec::new(),
                };
                Ok::<_, AppError>((account, members))
            })
            .await?;
        let (account, memberships) = found;
        let stored = account.as_ref().and_then(|(_, hash)| hash.clone());
        let fits = self.hasher.fits(password, stored).await?;
        let account = account.map(|(id, _)| id).filter(|_| fits && !memberships.is_empty());
        let Some(account) = account else {
            self.throttle.failed(&keys, now.0);
            return Err(AppError::WrongPassword);
        };
        self.throttle.succeeded(&by_login);
        let membership = choose(&memberships, cooperative)?;
        self.begin(account, membership).await
    }

    /// Signs a person of a co-operative in, after the password was checked.
    async fn begin(&self, account: Uuid, to: Membership) -> Result<SignedIn, AppError> {
        let (family, secret) = (self.new_id()?, self.new_secret()?);
        let now = self.now();
        let session = session_of(&secret, family, account, to, now);
        let kept = session.clone();
        let actor = self
            .store
            .write(move |conn| {
                let actor = Actor::load(conn, to.coop, to.cooperative, to.person)?;
                accounts::add_session(conn, &kept)?;
                Ok::<_, AppError>(actor)
            })
            .await?;
        self.signed_in(actor, secret, &session)
    }

    fn signed_in(
        &self,
        actor: Actor,
        secret: String,
        session: &Session,
    ) -> Result<SignedIn, AppError> {
        let subject = Subject {
            person: actor.person,
            coop: actor.coop.number,
            cooperative: actor.coop.id,
            family: session.family,
            account: session.account,
        };
        let signed = self.keys.sign(subject, self.now().0.div_euclid(1000));
        let (access_token, access_expires_s) = signed.map_err(AppError::Internal)?;
        Ok(SignedIn {
            access_token,
            access_expires_s,
            refresh_token: secret,
            refresh_expires_ms: session.expires_at,
            actor,
        })
    }

    /// Exchanges a refresh token for the next one. An old one that comes again ends the sign-in:
    /// somebody has copied it.
    ///
    /// # Errors
    /// `Unauthenticated`.
    pub async fn refresh(&self, token: &str) -> Result<SignedIn, AppError> {
        let (hash, secret, now) = (digest(token), self.new_secret()?, self.now());
        let next = secret.clone();
        let outcome = self
            .store
            .write(move |conn| {
                let Some(old) = accounts::session(conn, &hash)? else { return Ok(None) };
                if old.ended_at.is_some() || old.expires_at <= now.0 {
                    return Ok(None);
                }
                if old.used_at.is_some() || !accounts::use_session(conn, &hash, now.0)? {
                    accounts::end_family(conn, old.family, now.0)?;
                    tracing::warn!(family = %old.family, "a used refresh token came again");
                    return Ok(None);
                }
                let cooperative = cooperative_of(conn, old.coop)?;
                let to = Membership { coop: old.coop, cooperative, person: old.person };
                let session = session_of(&next, old.family, old.account, to, now);
                let actor = match Actor::load(conn, to.coop, to.cooperative, to.person) {
                    Ok(actor) => actor,
                    Err(AppError::Unauthenticated) => {
                        accounts::end_family(conn, old.family, now.0)?;
                        return Ok(None);
                    }
                    Err(e) => return Err(e),
                };
                accounts::add_session(conn, &session)?;
                Ok(Some((actor, session)))
            })
            .await?;
        let (actor, session) = outcome.ok_or(AppError::Unauthenticated)?;
        self.signed_in(actor, secret, &session)
    }

    /// Who an access token stands for, now.
    ///
    /// # Errors
    /// `Unauthenticated` when the token does not hold, the sign-in was ended or the person may no
    /// longer sign in.
    pub async fn who(&self, token: &str) -> Result<(Actor, Uuid), AppError> {
        let now_s = self.now().0.div_euclid(1000);
        let claims = self.keys.verify(token, now_s).ok_or(AppError::Unauthenticated)?;
        let family = claims.fam;
        let actor = self
            .store
            .read(move |conn| {
                if !accounts::family_holds(conn, claims.fam)? {
                    return Err(AppError::Unauthenticated);
                }
                let actor = Actor::load(conn, claims.coop, claims.cid, claims.sub)?;
                Ok(Actor { account: Some(claims.acc), ..actor })
            })
            .await?;
        Ok((actor, family))
    }

    /// Ends a sign-in: its refresh tokens and access tokens hold no longer.
    ///
    /// # Errors
    /// Those of the store.
    pub async fn sign_out(&self, family: Uuid) -> Result<(), AppError> {
        let now = self.now().0;
        self.store
            .write(move |conn| accounts::end_family(conn, family, now).map_err(AppError::from))
            .await
    }

    /// Makes a one-time code with which a person sets a password. It is shown once.
    ///
    /// # Errors
    /// `Forbidden`, `NotFound`; `Invalid` when only an operator may invite this person.
    pub async fn invite(&self, actor: &Actor, person: Uuid) -> Result<(String, i64), AppError> {
        let visible = actor.task(Task::Invite)?;
        actor.visible(Action::Correct, Kind::Person)?;
        let (code, now) = (self.new_secret()?, self.now());
        let expires_at = now.0 + limits::INVITATION_S * 1000;
        let (actor, hash) = (actor.clone(), digest(&code));
        self.store
            .write(move |conn| {
                let record = find_visible(conn, &actor, Kind::Person, person, &visible)?;
                let p = Person::from_values(&record.values).ok_or(AppError::NotFound)?;
                if record.withdrawn_at.is_some() || !p.active {
                    let detail = "this person may not sign in; make the person active first";
                    return Err(AppError::conflict("inactive", detail));
                }
                if p.role == "operator" && actor.role != Role::Operator && !actor.is_machine() {
                    return Err(AppError::Forbidden);
                }
                accounts::invite(conn, &hash, actor.coop.number, person, expires_at)?;
                Ok(())
            })
            .await?;
        Ok((code, expires_at))
    }

    /// Sets the password of an invited person. Where the login already has an account that is also
    /// used in another co-operative, the password must be the one it has: no co-operative can take
    /// over an account of another.
    ///
    /// # Errors
    /// `Invalid` for a weak password or a code that is unknown, used or too old.
    pub async fn accept(&self, code: &str, password: String) -> Result<(), AppError> {
        passwords::check(&password)?;
        let (hash, now) = (digest(code), self.now());
        let peek = hash.clone();
        let account = self
            .store
            .read(move |conn| invited_account(conn, &peek, now.0))
            .await?
            .ok_or_else(bad_code)?;
        if account.shared {
            if !self.hasher.fits(password, account.password).await? {
                let detail = "this login is in use in another co-operative: give its password";
                return Err(AppError::field("password", "other_cooperative", detail));
            }
            return self.use_code(hash, account.logins, account.id, None).await;
        }
        let new = self.hasher.hash(password, self.random.clone()).await?;
        let id = match account.id {
            Some(id) => id,
            None => self.new_id()?,
        };
        self.use_code(hash, account.logins, Some(id), Some(new)).await
    }

    async fn use_code(
        &self,
        code_hash: String,
        logins: Vec<String>,
        account: Option<Uuid>,
        password: Option<String>,
    ) -> Result<(), AppError> {
        let now = self.now().0;
        let account = account.ok_or_else(bad_code)?;
        self.store
            .write(move |conn| {
                accounts::use_invitation(conn, &code_hash, now)?.ok_or_else(bad_code)?;
                for login in &logins {
                    accounts::add_login(conn, login, account, now)?;
                }
                if let Some(hash) = &password {
                    accounts::set_password(conn, account, hash, now)?;
                    accounts::end_account(conn, account, now)?;
                }
                Ok(())
            })
            .await
    }

    /// Sets a person's password from the machine itself: first start and demo.
    ///
    /// # Errors
    /// `NotFound`; `Internal`.
    pub async fn set_password(
        &self,
        actor: &Actor,
        person: Uuid,
        password: String,
    ) -> Result<(), AppError> {
        let hash = self.hasher.hash(password, self.random.clone()).await?;
        let (id, now, coop) = (self.new_id()?, self.now().0, actor.coop.number);
        self.store
            .write(move |conn| {
                let logins = person_logins(conn, coop, person)?;
                let mut account = id;
                for login in &logins {
                    if let Some((known, _)) = accounts::find(conn, login)? {
                        account = known;
                    }
                }
                for login in &logins {
                    accounts::add_login(conn, login, account, now)?;
                }
                accounts::set_password(conn, account, &hash, now)?;
                Ok(())
            })
            .await
    }
}

fn bad_code() -> AppError {
    AppError::field("code", "unknown_code", "ask for a new code: this one is unknown, used or old")
}

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

fn session_of(secret: &str, family: Uuid, account: Uuid, to: Membership, now: Instant) -> Session {
    Session {
        token_hash: digest(secret),
        family,
        coop: to.coop,
        person: to.person,
        account,
        expires_at: now.0 + limits::REFRESH_TOKEN_S * 1000,
        used_at: None,
        ended_at: None,
    }
}

fn cooperative_of(conn: &mut Conn, number: i64) -> Result<Uuid, AppError> {
    let all = accounts::cooperatives(conn)?;
    all.into_iter().find(|(n, _)| *n == number).map(|(_, id)| id).ok_or(AppError::Unauthenticated)
}

fn person_logins(conn: &mut Conn, coop: i64, person: Uuid) -> Result<Vec<String>, AppError> {
    let record = records::find(conn, coop, Kind::Person, person)?.ok_or(AppError::NotFound)?;
    let p = Person::from_values(&record.values).ok_or(AppError::NotFound)?;
    Ok([p.email, p.phone].into_iter().flatten().collect())
}

struct Invited {
    id: Option<Uuid>,
    password: Option<String>,
    shared: bool,
    logins: Vec<String>,
}

/// The account that an invitation is for, without using it up.
fn invited_account(conn: &mut Conn, hash: &str, now: i64) -> Result<Option<Invited>, AppError> {
    let Some((coop, person)) = accounts::invited(conn, hash, now)? else { return Ok(None) };
    let logins = person_logins(conn, coop, person)?;
    let mut found = None;
    for login in &logins {
        found = found.or(accounts::find(conn, login)?);
    }
    let shared = match &found {
        Some((id, _)) => {
            let all = accounts::memberships(conn, *id)?;
            all.iter().any(|m| m.coop != coop)
        }
        None => false,
    };
    let (id, password) = found.map_or((None, None), |(id, hash)| (Some(id), hash));
    Ok(Some(Invited { id, password, shared, logins }))
}
