//! Passkeys (W3C, Web Authentication, level 2) in place of a code of the second factor. They stand
//! beside the codes: whoever adds one has set up codes before, and so has recovery codes.
//!
//! The key is bound to the public address of the server. The browser does not show it to another
//! site, so a false page gets nothing. What a key was asked to sign is kept here and used up by the
//! first answer, right or wrong.

use super::second::Proof;
use crate::error::AppError;
use crate::people::security::{self, Note};
use crate::people::throttle::Ended;
use crate::{Actor, App};
use base64::Engine as _;
use base64::prelude::BASE64_URL_SAFE_NO_PAD;
use std::time::Duration;
use traybook_answers::people::security::{OwnPasskey, SecurityEvent};
use traybook_answers::wire::Time;
use traybook_domain::limits;
use traybook_domain::value::Instant;
use traybook_storage::people::passkeys::{self, Challenge, Purpose};
use uuid::Uuid;
use webauthn_rs::prelude::{Passkey, PasskeyAuthentication, PasskeyRegistration, Url};
use webauthn_rs::{Webauthn, WebauthnBuilder};

/// A question to a passkey.
#[derive(Clone, Debug)]
pub struct Asked {
    /// Its id, which comes back with the answer.
    pub id: Uuid,
    /// What the browser is given, as JSON.
    pub options: String,
}

/// The answer of a passkey.
#[derive(Clone, Debug, Default)]
pub struct Answered {
    /// The question; none where the form names none.
    pub question: Option<Uuid>,
    /// What the browser gave, as JSON.
    pub answer: String,
    /// The address under which people reach the server.
    pub origin: Option<String>,
}

fn wrong() -> AppError {
    AppError::field("passkey", "wrong_passkey", "it was not taken: try again, or give a code")
}

fn internal(error: impl std::fmt::Display) -> AppError {
    AppError::Internal(error.to_string())
}

/// What checks keys of an address: one by https, or of this machine itself. A number is no name that
/// a key can be bound to.
fn party(origin: Option<&str>) -> Option<Webauthn> {
    let origin = Url::parse(origin?).ok()?;
    let host = origin.domain()?;
    if origin.scheme() != "https" && host != "localhost" {
        return None;
    }
    let party = WebauthnBuilder::new(host, &origin).ok()?.rp_name("Traybook");
    let time = Duration::from_millis(u64::try_from(limits::PASSKEY_MS).unwrap_or(0));
    party.timeout(time).build().ok()
}

/// The same, where it must be.
fn needed(origin: Option<&str>) -> Result<Webauthn, AppError> {
    party(origin).ok_or_else(|| {
        let detail = "passkeys need an address by https, or localhost: start the server with \
                      --public-address";
        AppError::conflict("no_passkey_address", detail)
    })
}

/// The keys with what the library knows of them. One that can not be read is left out: a code helps.
fn read(all: Vec<passkeys::Passkey>) -> Vec<(passkeys::Passkey, Passkey)> {
    let one = |kept: passkeys::Passkey| match serde_json::from_str(&kept.body) {
        Ok(key) => Some((kept, key)),
        Err(error) => {
            tracing::error!(passkey = %kept.id, %error, "a passkey can not be read");
            None
        }
    };
    all.into_iter().filter_map(one).collect()
}

impl App {
    /// Whether passkeys can be used under this address.
    #[must_use]
    pub fn takes_passkeys(&self, origin: Option<&str>) -> bool {
        party(origin).is_some()
    }

    /// The actor's own passkeys, the oldest first.
    pub async fn own_passkeys(&self, actor: &Actor) -> Result<Vec<OwnPasskey>, AppError> {
        let all = self.passkeys_of((actor.coop.number, actor.person)).await?;
        let one = |key: passkeys::Passkey| OwnPasskey {
            id: key.id,
            name: key.name,
            made_at: Time(Instant(key.made_at)),
            used_at: key.used_at.map(|at| Time(Instant(at))),
        };
        Ok(all.into_iter().map(one).collect())
    }

    async fn passkeys_of(&self, whose: (i64, Uuid)) -> Result<Vec<passkeys::Passkey>, AppError> {
        let found =
            self.store.read(move |conn| Ok::<_, AppError>(passkeys::of_person(conn, whose)?));
        found.await
    }

    async fn keep_question(
        &self,
        whose: (i64, Uuid),
        purpose: Purpose,
        state: String,
    ) -> Result<Uuid, AppError> {
        let (id, now) = (self.new_id()?, self.now().0);
        let new = Challenge { id, purpose, state, expires_at: now + limits::PASSKEY_MS };
        let bound = (now, limits::PASSKEY_QUESTIONS_MAX);
        self.store
            .write(move |conn| Ok::<_, AppError>(passkeys::ask(conn, whose, &new, bound)?))
            .await?;
        Ok(id)
    }

    async fn take_question(
        &self,
        whose: (i64, Uuid),
        purpose: Purpose,
        answered: &Answered,
    ) -> Result<Option<String>, AppError> {
        let (Some(id), now) = (answered.question, self.now().0) else { return Ok(None) };
        if answered.answer.len() > limits::PASSKEY_ANSWER_BYTES_MAX {
            return Ok(None);
        }
        let which = (id, purpose);
        self.store
            .write(move |conn| Ok::<_, AppError>(passkeys::take(conn, whose, which, now)?))
            .await
    }

    /// Begins a passkey of the actor. A code or a passkey was given lately.
    ///
    /// # Errors
    /// `Conflict` without a second factor, without an address that passkeys can be bound to, or
    /// where there are too many; `ProofNeeded`; `Invalid` for a name.
    pub async fn begin_passkey(
        &self,
        actor: &Actor,
        name: &str,
        origin: Option<&str>,
    ) -> Result<Asked, AppError> {
        if actor.proved.is_none() {
            let detail = "set up codes first: passkeys stand beside them";
            return Err(AppError::conflict("second_factor_first", detail));
        }
        actor.prove()?;
        called(name)?;
        let party = needed(origin)?;
        let whose = (actor.coop.number, actor.person);
        let there = read(self.passkeys_of(whose).await?);
        if there.len() >= limits::PASSKEYS_MAX {
            let detail = format!("remove one first: at most {}", limits::PASSKEYS_MAX);
            return Err(AppError::conflict("passkeys_full", detail));
        }
        let known = there.iter().map(|(_, key)| key.cred_id().clone()).collect();
        let begun =
            party.start_passkey_registration(actor.person, &actor.name, &actor.name, Some(known));
        let (options, state) = begun.map_err(internal)?;
        let state = serde_json::to_string(&state).map_err(internal)?;
        let id = self.keep_question(whose, Purpose::Add, state).await?;
        Ok(Asked { id, options: serde_json::to_string(&options).map_err(internal)? })
    }

    /// Adds the passkey that a browser has made.
    ///
    /// # Errors
    /// `Invalid` for an answer that does not hold, or a name; `Conflict` for a key that is there.
    pub async fn add_passkey(
        &self,
        actor: &Actor,
        name: &str,
        answered: &Answered,
    ) -> Result<(), AppError> {
        let name = called(name)?;
        let party = needed(answered.origin.as_deref())?;
        let whose = (actor.coop.number, actor.person);
        let state = self.take_question(whose, Purpose::Add, answered).await?.ok_or_else(wrong)?;
        let state: PasskeyRegistration = serde_json::from_str(&state).map_err(internal)?;
        let Ok(answer) = serde_json::from_str(&answered.answer) else { return Err(wrong()) };
        let key = party.finish_passkey_registration(&answer, &state).map_err(|error| {
            tracing::info!(%error, "a new passkey was refused");
            wrong()
        })?;
        let credential = BASE64_URL_SAFE_NO_PAD.encode(key.cred_id());
        let now = self.now().0;
        let body = serde_json::to_string(&key).map_err(internal)?;
        let new = passkeys::Passkey { id: self.new_id()?, name, body, made_at: now, used_at: None };
        let note = Note::new(SecurityEvent::PasskeyAdded).by(actor).about(actor.person);
        self.store
            .write(move |conn| {
                let full = passkeys::of_person(conn, whose)?.len() >= limits::PASSKEYS_MAX;
                if full || !passkeys::add(conn, whose, &new, &credential)? {
                    let detail = "this key is there already, or too many are";
                    return Err(AppError::conflict("passkey_there", detail));
                }
                security::add(conn, whose.0, &note, now)
            })
            .await
    }

    /// Takes one of the actor's passkeys away. A code or a passkey was given lately.
    ///
    /// # Errors
    /// `NotFound` for one that is not the actor's; `ProofNeeded`.
    pub async fn end_passkey(&self, actor: &Actor, id: Uuid) -> Result<(), AppError> {
        let (whose, now) = ((actor.coop.number, actor.person), self.now().0);
        if !self.passkeys_of(whose).await?.iter().any(|key| key.id == id) {
            return Err(AppError::NotFound);
        }
        actor.prove()?;
        let note = Note::new(SecurityEvent::PasskeyRemoved).by(actor).about(actor.person);
        self.store
            .write(move |conn| {
                if !passkeys::end(conn, whose, id)? {
                    return Err(AppError::NotFound);
                }
                security::add(conn, whose.0, &note, now)
            })
            .await
    }

    /// Asks for one of a person's passkeys; none where there is none, or where the address takes
    /// none.
    pub async fn ask_passkey(
        &self,
        whose: (i64, Uuid),
        origin: Option<&str>,
    ) -> Result<Option<Asked>, AppError> {
        let Some(party) = party(origin) else { return Ok(None) };
        let keys = read(self.passkeys_of(whose).await?);
        if keys.is_empty() {
            return Ok(None);
        }
        let keys: Vec<Passkey> = keys.into_iter().map(|(_, key)| key).collect();
        let (options, state) = party.start_passkey_authentication(&keys).map_err(internal)?;
        let state = serde_json::to_string(&state).map_err(internal)?;
        let id = self.keep_question(whose, Purpose::Use, state).await?;
        Ok(Some(Asked { id, options: serde_json::to_string(&options).map_err(internal)? }))
    }

    /// Takes a proof of a person who has a second factor. Failures are counted by person, those of
    /// codes and of passkeys together.
    ///
    /// # Errors
    /// `Invalid` for a wrong one; `TooMany` after repeated failures.
    pub(crate) async fn check_proof(
        &self,
        (coop, person): (i64, Uuid),
        proof: &Proof,
    ) -> Result<(), AppError> {
        let answered = match proof {
            Proof::Code(code) => return self.check_code(coop, person, code).await,
            Proof::Passkey(answered) => answered,
        };
        let tried = self.begin_try(vec![self.counted_for_second(coop, person)?]).await?;
        let held = self.holds((coop, person), answered).await;
        let ended = match &held {
            Ok(true) => Ended::Right,
            Ok(false) => Ended::Wrong,
            Err(_) => Ended::Untried,
        };
        let note = Note::new(SecurityEvent::SecondFactorFailed).about(person).detail("passkey");
        self.settle(tried, ended, vec![(coop, note)]).await?;
        if held? { Ok(()) } else { Err(wrong()) }
    }

    /// Whether an answer is of a key of this person, to a question that waits.
    async fn holds(&self, whose: (i64, Uuid), answered: &Answered) -> Result<bool, AppError> {
        let Some(party) = party(answered.origin.as_deref()) else { return Ok(false) };
        let state = self.take_question(whose, Purpose::Use, answered).await?;
        let Some(state) = state else { return Ok(false) };
        let state: PasskeyAuthentication = serde_json::from_str(&state).map_err(internal)?;
        let Ok(answer) = serde_json::from_str(&answered.answer) else { return Ok(false) };
        let result = match party.finish_passkey_authentication(&answer, &state) {
            Ok(result) => result,
            Err(error) => {
                tracing::info!(%error, "a passkey was refused");
                return Ok(false);
            }
        };
        let keys = read(self.passkeys_of(whose).await?);
        let used = keys.into_iter().find(|(_, key)| key.cred_id() == result.cred_id());
        let Some((mut kept, mut key)) = used else { return Ok(false) };
        key.update_credential(&result);
        kept.body = serde_json::to_string(&key).map_err(internal)?;
        let (counter, now) = (i64::from(result.counter()), self.now().0);
        self.store
            .write(move |conn| Ok::<_, AppError>(passkeys::used(conn, whose, &kept, counter, now)?))
            .await
    }
}

/// The name of a key, without spaces around.
fn called(name: &str) -> Result<String, AppError> {
    let (name, max) = (name.trim(), limits::PASSKEY_NAME_MAX);
    let chars = name.chars().count();
    if (1..=max).contains(&chars) && !name.chars().any(char::is_control) {
        return Ok(name.to_owned());
    }
    Err(AppError::field("name", "length", format!("give 1 to {max} plain characters")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_are_bound_to_an_address_by_https_or_to_this_machine() {
        for fit in
            ["https://records.example.org", "https://a.example:8443", "http://localhost:8080"]
        {
            assert!(party(Some(fit)).is_some(), "{fit}");
        }
        let unfit = [
            "http://records.example.org",
            "https://192.0.2.7",
            "https://[2001:db8::1]",
            "http://127.0.0.1:8080",
            "http://localhost.example",
            "records.example.org",
        ];
        for unfit in unfit.map(Some).into_iter().chain([None]) {
            assert!(party(unfit).is_none(), "{unfit:?}");
            assert!(matches!(
                needed(unfit),
                Err(AppError::Conflict { code: "no_passkey_address", .. })
            ));
        }
    }
}
