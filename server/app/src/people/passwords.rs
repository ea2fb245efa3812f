//! Password hashes: Argon2id, 19 MiB, two passes (OWASP's minimum), on threads of their own.

use crate::Random;
use crate::error::AppError;
use argon2::password_hash::phc::PasswordHash;
use argon2::{Algorithm, Argon2, Params, PasswordHasher, PasswordVerifier, Version};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use tokio::sync::oneshot;
use traybook_domain::limits::{PASSWORD_BUSY_S, PASSWORD_QUEUE_MAX};

/// Hashes that a try costs at least, whatever is known of its login: somebody of two co-operatives
/// takes no other time than somebody of one, or of none.
const HASHES_A_TRY: usize = 2;

/// Whose password is hashed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lane {
    /// Somebody of whom something is known: a device that signed in before, a one-time code, a
    /// sign-in.
    Known,
    /// Anybody else. However many of these come, they take one thread.
    Stranger,
}

type Work = Box<dyn FnOnce() + Send>;

/// Hashes and checks passwords, one at a time in each lane. So forged tries slow neither other
/// requests nor those who are known.
pub struct Hasher {
    known: SyncSender<Work>,
    strangers: SyncSender<Work>,
    /// A hash to compare with where there is no account, so that both take as long.
    decoy: String,
    checked: Arc<AtomicU64>,
}

impl Hasher {
    /// Makes one, with its threads. They end with it.
    ///
    /// # Errors
    /// `Internal` when there is no randomness or no thread.
    pub fn new(random: &dyn Random) -> Result<Self, AppError> {
        let decoy = hash("no such account", random)?;
        let checked = Arc::default();
        Ok(Self { known: lane("known")?, strangers: lane("strangers")?, decoy, checked })
    }

    /// Hashes that were compared with so far.
    #[must_use]
    pub fn checked(&self) -> u64 {
        self.checked.load(Ordering::Relaxed)
    }

    /// Which of these hashes a password fits. None never fits, and takes as long.
    ///
    /// # Errors
    /// `TooMany` when too many wait already.
    pub async fn fits(
        &self,
        lane: Lane,
        password: String,
        hashes: Vec<Option<String>>,
    ) -> Result<Vec<bool>, AppError> {
        let mut different: Vec<String> = hashes.iter().flatten().cloned().collect();
        different.sort();
        different.dedup();
        let decoys = HASHES_A_TRY.saturating_sub(different.len());
        let work = different.iter().cloned().chain((0..decoys).map(|_| self.decoy.clone()));
        let work: Vec<String> = work.collect();
        let checked = Arc::clone(&self.checked);
        let fitting: Vec<bool> = self
            .run(lane, move || {
                let fits = |hash: &String| {
                    checked.fetch_add(1, Ordering::Relaxed);
                    let parsed = PasswordHash::new(hash);
                    parsed.is_ok_and(|h| argon2().verify_password(password.as_bytes(), &h).is_ok())
                };
                work.iter().map(fits).collect()
            })
            .await?;
        let fits = |hash: &String| {
            let known = different.iter().zip(&fitting).find(|(of, _)| *of == hash);
            known.is_some_and(|(_, fits)| *fits)
        };
        Ok(hashes.iter().map(|hash| hash.as_ref().is_some_and(fits)).collect())
    }

    /// Hashes a password.
    ///
    /// # Errors
    /// `TooMany` when too many wait already; `Internal` when there is no randomness.
    pub async fn hash(
        &self,
        password: String,
        random: Arc<dyn Random>,
    ) -> Result<String, AppError> {
        self.run(Lane::Known, move || hash(&password, &*random)).await?
    }

    /// Hashes codes, all with one salt: whoever gives one of them costs one hash.
    ///
    /// # Errors
    /// `TooMany` when too many wait already; `Internal` when there is no randomness.
    pub async fn hash_all(
        &self,
        codes: Vec<String>,
        random: Arc<dyn Random>,
    ) -> Result<Vec<String>, AppError> {
        self.run(Lane::Known, move || {
            let salt = new_salt(&*random)?;
            codes.iter().map(|code| with_salt(code, &salt)).collect()
        })
        .await?
    }

    /// Hashes what is given with the salt of a kept hash; none where that is of another form.
    ///
    /// # Errors
    /// `TooMany` when too many wait already.
    pub async fn hash_like(
        &self,
        lane: Lane,
        code: String,
        kept: String,
    ) -> Result<Option<String>, AppError> {
        let checked = Arc::clone(&self.checked);
        self.run(lane, move || {
            let parsed = PasswordHash::new(&kept).ok()?;
            let salt = parsed.salt.as_ref()?;
            checked.fetch_add(1, Ordering::Relaxed);
            with_salt(&code, salt.as_ref()).ok()
        })
        .await
    }

    async fn run<T: Send + 'static>(
        &self,
        lane: Lane,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, AppError> {
        let queue = match lane {
            Lane::Known => &self.known,
            Lane::Stranger => &self.strangers,
        };
        let (send, receive) = oneshot::channel();
        let work: Work = Box::new(move || {
            // Nobody waits any more for what a client gave up.
            if !send.is_closed() {
                drop(send.send(work()));
            }
        });
        let queued = queue.try_send(work).ok();
        queued.ok_or(AppError::TooMany { retry_after_s: PASSWORD_BUSY_S })?;
        receive.await.map_err(|e| AppError::Internal(format!("a password was not hashed: {e}")))
    }
}

/// A thread that hashes, and the queue to it.
fn lane(name: &str) -> Result<SyncSender<Work>, AppError> {
    let (send, receive): (_, Receiver<Work>) = sync_channel(PASSWORD_QUEUE_MAX);
    let builder = std::thread::Builder::new().name(format!("passwords-{name}"));
    let thread = builder.spawn(move || receive.iter().for_each(|work| work()));
    thread.map_err(|e| AppError::Internal(e.to_string()))?;
    Ok(send)
}

fn argon2() -> Argon2<'static> {
    let params = Params::new(19 * 1024, 2, 1, None).unwrap_or(Params::DEFAULT);
    Argon2::new(Algorithm::Argon2id, Version::V0x13, params)
}

/// Hashes a password into a PHC string.
///
/// # Errors
/// `Internal` when there is no randomness.
pub fn hash(password: &str, random: &dyn Random) -> Result<String, AppError> {
    with_salt(password, &new_salt(random)?)
}

fn new_salt(random: &dyn Random) -> Result<[u8; 16], AppError> {
    let mut salt = [0_u8; 16];
    random.fill(&mut salt).map_err(AppError::Internal)?;
    Ok(salt)
}

fn with_salt(password: &str, salt: &[u8]) -> Result<String, AppError> {
    let hashed = argon2().hash_password_with_salt(password.as_bytes(), salt);
    hashed.map(|h| h.to_string()).map_err(|e| AppError::Internal(e.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::SystemRandom;

    /// A hash of our cost that the reference implementation of Argon2 made (`argon2`, from Debian).
    #[tokio::test]
    async fn a_hash_of_the_reference_implementation_fits() {
        let made = "$argon2id$v=19$m=19456,t=2,p=1$9kHjjVIOo9K2qwApyMWweg$kKK/KF2IL3q1Z1IcKtz27RXVmnwXm+FmF6lSbqsSU9U";
        let hasher = Hasher::new(&SystemRandom).expect("a hasher");
        for (password, wanted) in [("maize lantern bicycle", true), ("maize lantern", false)] {
            let hashes = vec![Some(made.to_owned())];
            let fits = hasher.fits(Lane::Known, password.to_owned(), hashes).await;
            assert_eq!(fits.expect("checked"), [wanted], "{password}");
        }
    }

    /// Strangers' tries, however many, do not stand in the way of those who are known.
    #[tokio::test]
    async fn strangers_wait_for_each_other_alone() {
        let hasher = Arc::new(Hasher::new(&SystemRandom).expect("a hasher"));
        let tries = PASSWORD_QUEUE_MAX * 2;
        let strangers: Vec<_> = (0..tries)
            .map(|_| {
                let hasher = Arc::clone(&hasher);
                tokio::spawn(async move {
                    hasher.fits(Lane::Stranger, "x".to_owned(), vec![None]).await
                })
            })
            .collect();
        tokio::task::yield_now().await;
        let own = hash("known words", &SystemRandom).expect("a hash");
        let fits = hasher.fits(Lane::Known, "known words".to_owned(), vec![Some(own)]).await;
        assert_eq!(fits.expect("checked"), [true]);
        let all = u64::try_from((PASSWORD_QUEUE_MAX + 1) * HASHES_A_TRY).expect("small");
        assert!(hasher.checked() < all, "strangers are still at it: {}", hasher.checked());
        let mut refused = 0;
        for stranger in strangers {
            match stranger.await.expect("a task") {
                Ok(fits) => assert_eq!(fits, [false]),
                Err(AppError::TooMany { .. }) => refused += 1,
                Err(other) => panic!("{other}"),
            }
        }
        assert!((1..tries).contains(&refused), "{refused} found the queue full");
    }
}
