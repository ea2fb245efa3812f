//! What people do about their own sign-ins: another password, seeing and ending sign-ins.

use crate::error::AppError;
use crate::people::guessable;
use crate::people::passwords::Lane;
use crate::people::security::{self, Note};
use crate::people::throttle::Ended;
use crate::{Actor, App};
use traybook_answers::people::security::{OwnSignIn, SecurityEvent};
use traybook_answers::wire::Time;
use traybook_domain::Kind;
use traybook_domain::kinds::Person;
use traybook_domain::record::Record as _;
use traybook_domain::value::Instant;
use traybook_storage::people::accounts;
use traybook_storage::people::sign_ins;
use traybook_storage::records;
use uuid::Uuid;

impl App {
    /// The actor's own sign-ins, the last seen first.
    pub async fn own_sign_ins(&self, actor: &Actor) -> Result<Vec<OwnSignIn>, AppError> {
        let (own, now, this) = ((actor.coop.number, actor.person), self.now().0, actor.family);
        let found =
            self.store.read(move |conn| Ok::<_, AppError>(sign_ins::of_person(conn, own, now)?));
        let one = |s: sign_ins::SignIn| OwnSignIn {
            id: s.family,
            begun_at: Time(Instant(s.begun_at)),
            seen_at: Time(Instant(s.seen_at)),
            device: s.device,
            is_this: Some(s.family) == this,
        };
        Ok(found.await?.into_iter().map(one).collect())
    }

    /// Ends one of the actor's own sign-ins, or all but the one that asks.
    ///
    /// # Errors
    /// `NotFound` for one that is not the actor's.
    pub async fn end_sign_in(&self, actor: &Actor, family: Option<Uuid>) -> Result<(), AppError> {
        let (own, now, this) = ((actor.coop.number, actor.person), self.now().0, actor.family);
        let note = Note::new(SecurityEvent::SessionsEnded).by(actor).about(actor.person);
        self.store
            .write(move |conn| {
                match family {
                    Some(family) => {
                        let all = sign_ins::of_person(conn, own, now)?;
                        if !all.iter().any(|s| s.family == family) {
                            return Err(AppError::NotFound);
                        }
                        accounts::end_family(conn, (own.0, family), now)?;
                    }
                    None => accounts::end_others(conn, own, this.unwrap_or_default(), now)?,
                }
                security::add(conn, own.0, &note, now)
            })
            .await
    }

    /// Changes the actor's own password. The other sign-ins end. Gives the tokens by which this
    /// device is known from now on.
    ///
    /// # Errors
    /// `Invalid` for a wrong old or a weak new password; `TooMany` after repeated failures.
    pub async fn change_password(
        &self,
        actor: &Actor,
        old: String,
        new: String,
    ) -> Result<Vec<String>, AppError> {
        actor.prove()?;
        let (coop, person) = (actor.coop.number, actor.person);
        let found = self.store.read(move |conn| {
            let record = records::find(conn, coop, Kind::Person, person)?;
            let person_of = record.and_then(|r| Person::from_values(&r.values));
            let hash = accounts::password(conn, coop, person)?;
            Ok::<_, AppError>((person_of.ok_or(AppError::NotFound)?, hash))
        });
        let (record, hash) = found.await?;
        let logins: Vec<String> = record.email.into_iter().chain(record.phone).collect();
        let about = logins.iter().map(String::as_str).chain([&*record.name, &*actor.coop.name]);
        guessable::check_for(actor.role, &new, &about.collect::<Vec<_>>())
            .map_err(|e| e.of_field("new"))?;
        let whose = format!("{coop} {person}");
        let tried = self.begin_try(vec![self.counted("own password", &whose)?]).await?;
        let fits = self.hasher.fits(Lane::Known, old, vec![hash]).await;
        let ended = match &fits {
            Ok(fits) if fits.contains(&true) => Ended::Right,
            Ok(_) => Ended::Wrong,
            Err(_) => Ended::Untried,
        };
        let failed = Note::new(SecurityEvent::SignInFailed).about(person).detail("own password");
        self.settle(tried, ended, vec![(coop, failed)]).await?;
        fits?;
        if ended == Ended::Wrong {
            let text = "this is not the current password";
            return Err(AppError::field("old", "wrong_password", text));
        }
        let hash = self.hasher.hash(new, self.random.clone()).await?;
        let (now, kept) = (self.now().0, actor.family.unwrap_or_default());
        let note = Note::new(SecurityEvent::PasswordChanged).by(actor).about(person);
        self.store
            .write(move |conn| {
                accounts::set_password(conn, coop, person, &hash, now)?;
                accounts::end_others(conn, (coop, person), kept, now)?;
                security::add(conn, coop, &note, now)
            })
            .await?;
        logins.iter().map(|login| self.device_token(login)).collect()
    }

    /// Takes the notice away that somebody else reset the actor's sign-in.
    pub async fn notice_seen(&self, actor: &Actor) -> Result<(), AppError> {
        let (coop, person) = (actor.coop.number, actor.person);
        self.store
            .write(move |conn| Ok::<_, AppError>(sign_ins::end_notice(conn, coop, person)?))
            .await
    }
}
