//! The second factor of those who run a co-operative: time-based codes, recovery codes, and asking
//! again before what does most harm in the wrong hands.

use super::passkeys::Answered;
use super::session::digest;
use super::totp;
use crate::error::AppError;
use crate::people::passwords::Lane;
use crate::people::security::{self, Note};
use crate::people::throttle::{Counted, Ended};
use crate::{Actor, App};
use traybook_answers::people::security::SecurityEvent;
use traybook_domain::people::authz::Role;
use traybook_storage::Conn;
use traybook_storage::people::sign_ins::{self, SecondFactor};
use uuid::Uuid;

pub use super::totp::DIGITS as CODE_DIGITS;

/// Recovery codes that come with a second factor.
pub const RECOVERY_CODES: usize = 10;

/// A second factor that waits for its first code.
#[derive(Clone, Debug)]
pub struct NewSecond {
    /// The secret in letters, for typing.
    pub secret: String,
    /// The same as an address that programs for codes read from a picture.
    pub address: String,
}

/// What proves a second factor.
#[derive(Clone, Debug)]
pub enum Proof {
    /// A code of this moment, or a recovery code.
    Code(String),
    /// The answer of a passkey.
    Passkey(Answered),
}

fn wrong_code() -> AppError {
    AppError::field("code", "wrong_code", "give the code that is shown now; each works once")
}

/// Whose secret it is, as it is sealed.
fn whose(coop: i64, person: Uuid) -> String {
    format!("second factor {coop} {person}")
}

/// A recovery code as it may be written, as it is hashed.
fn signs_of(code: &str) -> String {
    let signs = code.chars().filter(char::is_ascii_alphanumeric);
    signs.map(|c| c.to_ascii_uppercase()).collect()
}

/// What a code was.
enum Code {
    Now,
    Recovery,
    Wrong,
}

/// Takes a code: of this moment, or a recovery code, which is used up.
fn take(
    conn: &mut Conn,
    (coop, person): (i64, Uuid),
    factor: &SecondFactor,
    step: Option<i64>,
    recovery: &str,
) -> Result<Code, AppError> {
    if let Some(step) = step.filter(|step| *step > factor.last_step) {
        let used = SecondFactor { last_step: step, ..factor.clone() };
        sign_ins::put_second_factor(conn, (coop, person), &used)?;
        return Ok(Code::Now);
    }
    let is_recovery = sign_ins::use_recovery_code(conn, (coop, person), recovery)?;
    Ok(if is_recovery { Code::Recovery } else { Code::Wrong })
}

impl App {
    /// Whether a person has a second factor that counts.
    pub(crate) async fn has_second(&self, coop: i64, person: Uuid) -> Result<bool, AppError> {
        let found = self
            .store
            .read(move |conn| Ok::<_, AppError>(sign_ins::second_factor(conn, coop, person)?));
        Ok(found.await?.is_some_and(|f| f.confirmed_at.is_some()))
    }

    /// What a try at a person's second factor counts for.
    pub(crate) fn counted_for_second(&self, coop: i64, person: Uuid) -> Result<Counted, AppError> {
        self.counted("code of", &whose(coop, person))
    }

    /// Takes a code of a person who has a second factor. Failures are counted by person.
    ///
    /// # Errors
    /// `Invalid` for a wrong code; `TooMany` after repeated failures.
    pub(crate) async fn check_code(
        &self,
        coop: i64,
        person: Uuid,
        given: &str,
    ) -> Result<(), AppError> {
        let tried = self.begin_try(vec![self.counted_for_second(coop, person)?]).await?;
        let (now, recovery) = (self.now().0, self.recovery_hash((coop, person), given).await?);
        let (app, text) = (self.clone(), given.to_owned());
        let taken = self.store.write(move |conn| {
            let factor = sign_ins::second_factor(conn, coop, person)?;
            let Some(factor) = factor else { return Ok(Code::Wrong) };
            let secret = app.keys.unseal(&whose(coop, person), &factor.sealed);
            let step = secret.and_then(|secret| {
                totp::step_of(&secret, &text, factor.last_step, now.div_euclid(1000))
            });
            let taken = take(conn, (coop, person), &factor, step, &recovery)?;
            if matches!(taken, Code::Recovery) {
                let note = Note::new(SecurityEvent::RecoveryCodeUsed).about(person);
                security::add(conn, coop, &note, now)?;
            }
            Ok::<_, AppError>(taken)
        });
        let taken = taken.await?;
        let ended = if matches!(taken, Code::Wrong) { Ended::Wrong } else { Ended::Right };
        let note = Note::new(SecurityEvent::SecondFactorFailed).about(person);
        self.settle(tried, ended, vec![(coop, note)]).await?;
        if ended == Ended::Wrong { Err(wrong_code()) } else { Ok(()) }
    }

    /// A code hashed as the person's recovery codes are: slowly, or as they were kept earlier. What
    /// is a code of the moment by its form is not.
    async fn recovery_hash(&self, whose: (i64, Uuid), given: &str) -> Result<String, AppError> {
        let signs = signs_of(given);
        if signs.len() == CODE_DIGITS && signs.bytes().all(|b| b.is_ascii_digit()) {
            return Ok(String::new());
        }
        let kept =
            self.store.read(move |conn| Ok::<_, AppError>(sign_ins::recovery_code(conn, whose)?));
        let Some(kept) = kept.await? else { return Ok(String::new()) };
        let slow = self.hasher.hash_like(Lane::Known, signs.clone(), kept).await?;
        Ok(slow.unwrap_or_else(|| digest(&signs)))
    }

    /// Begins a second factor for the actor; it counts once [`App::confirm_second`] has a code of it.
    ///
    /// # Errors
    /// `Forbidden` for those who run nothing; `Conflict` where there is one already.
    pub async fn begin_second(&self, actor: &Actor) -> Result<NewSecond, AppError> {
        if !matches!(actor.role, Role::Operator | Role::Manager) || actor.is_machine() {
            return Err(AppError::Forbidden);
        }
        let (coop, person) = (actor.coop.number, actor.person);
        if self.has_second(coop, person).await? {
            let detail = "there is a second factor already; take it away first";
            return Err(AppError::conflict("second_factor_there", detail));
        }
        let mut secret = [0_u8; totp::SECRET_BYTES];
        self.random.fill(&mut secret).map_err(AppError::Internal)?;
        let sealed = self.keys.seal(&whose(coop, person), &secret, &*self.random);
        let sealed = sealed.map_err(AppError::Internal)?;
        let factor = SecondFactor { sealed, confirmed_at: None, last_step: 0 };
        self.store
            .write(move |conn| {
                Ok::<_, AppError>(sign_ins::put_second_factor(conn, (coop, person), &factor)?)
            })
            .await?;
        let letters = totp::base32(&secret);
        let label: String =
            actor.name.chars().filter(|c| c.is_ascii_alphanumeric()).take(40).collect();
        let address = format!(
            "otpauth://totp/Traybook:{label}?secret={letters}&issuer=Traybook&digits={}&period={}",
            totp::DIGITS,
            totp::STEP_S
        );
        Ok(NewSecond { secret: letters, address })
    }

    /// Makes a second factor count, with its first code. Gives the recovery codes, which are shown
    /// once.
    ///
    /// # Errors
    /// `Invalid` for a wrong code; `TooMany` after repeated failures.
    pub async fn confirm_second(
        &self,
        actor: &Actor,
        given: &str,
    ) -> Result<Vec<String>, AppError> {
        let (coop, person) = (actor.coop.number, actor.person);
        if self.has_second(coop, person).await? {
            let detail = "there is a second factor already; take it away first";
            return Err(AppError::conflict("second_factor_there", detail));
        }
        self.check_code(coop, person, given).await?;
        let codes: Vec<String> =
            (0..RECOVERY_CODES).map(|_| self.new_code()).collect::<Result<_, _>>()?;
        let signs = codes.iter().map(|code| signs_of(code)).collect();
        let hashes = self.hasher.hash_all(signs, self.random.clone()).await?;
        let (actor, now) = (actor.clone(), self.now().0);
        self.store
            .write(move |conn| {
                let found = sign_ins::second_factor(conn, coop, person)?;
                let found = found.ok_or_else(wrong_code)?;
                let counts = SecondFactor { confirmed_at: Some(now), ..found };
                sign_ins::put_second_factor(conn, (coop, person), &counts)?;
                sign_ins::put_recovery_codes(conn, (coop, person), &hashes)?;
                if let Some(family) = actor.family {
                    sign_ins::proved(conn, (coop, family), now)?;
                }
                let note = Note::new(SecurityEvent::SecondFactorOn).by(&actor).about(person);
                security::add(conn, coop, &note, now)
            })
            .await?;
        Ok(codes)
    }

    /// Takes the actor's own second factor away. It asks for a code first.
    ///
    /// # Errors
    /// `Invalid` for a wrong code; `TooMany` after repeated failures.
    pub async fn end_second(&self, actor: &Actor, given: &str) -> Result<(), AppError> {
        let (coop, person, now) = (actor.coop.number, actor.person, self.now().0);
        self.check_code(coop, person, given).await?;
        let actor = actor.clone();
        self.store
            .write(move |conn| {
                sign_ins::end_second_factor(conn, coop, person)?;
                let note = Note::new(SecurityEvent::SecondFactorOff).by(&actor).about(person);
                security::add(conn, coop, &note, now)
            })
            .await
    }

    /// Proves the second factor once more in a sign-in.
    ///
    /// # Errors
    /// `Invalid` for a wrong one; `TooMany` after repeated failures.
    pub async fn prove(&self, actor: &Actor, given: &Proof) -> Result<(), AppError> {
        self.check_proof((actor.coop.number, actor.person), given).await?;
        let Some(family) = actor.family else { return Ok(()) };
        let (of, now) = ((actor.coop.number, family), self.now().0);
        self.store.write(move |conn| Ok::<_, AppError>(sign_ins::proved(conn, of, now)?)).await
    }
}
