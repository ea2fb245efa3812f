//! Failed sign-ins, counted in the database: a restart forgets none, and several servers share them.
//!
//! A try counts from its beginning, so that many at once are not more than many in turn. Those under
//! way may all be right: at the bound a further one waits until they are settled, and is refused
//! only when as many have failed.
//!
//! Who signs in from a device that has signed in before counts for that device alone. So no
//! stranger can keep somebody out of it. Strangers count four times:
//!
//! * for the login and for the address: guessing at one account, and from one place;
//! * for the secret that was tried, as a keyed hash: one PIN tried with many accounts;
//! * with a PIN for all of this installation: many PINs, many accounts, many addresses.

use crate::App;
use crate::error::AppError;
use crate::people::security::{self, Note};
use std::time::Duration;
use traybook_answers::people::security::SecurityEvent;
use traybook_domain::limits::{
    PIN_FAILURES_MAX, SIGN_IN_FAILURES_MAX, SIGN_IN_KEYS_MAX, SIGN_IN_WINDOW_MS,
};
use traybook_storage::Conn;
use traybook_storage::people::failures::{self, Tries};

/// Looks for those under way to be settled, and the pause between two.
const LOOKS_MAX: u32 = 200;
/// See [`LOOKS_MAX`].
const PAUSE: Duration = Duration::from_millis(50);

/// What a try counts for: the keyed hash of a login or the like, and the failures it may have.
#[derive(Clone, Debug)]
pub(crate) struct Counted {
    what: &'static str,
    hash: String,
    max: i64,
}

/// A try that counts until it is settled.
#[derive(Debug)]
#[must_use]
pub(crate) struct Try {
    keys: Vec<Counted>,
}

/// How a try ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Ended {
    /// It was right. The failures of the first key are forgotten.
    Right,
    /// It was wrong.
    Wrong,
    /// It was not looked at.
    Untried,
}

/// Whether a try may begin.
enum May {
    Begin,
    Wait,
    /// Not before so many milliseconds.
    Not(i64),
}

impl App {
    /// A key of failures, by what for and whose.
    pub(crate) fn counted(&self, what: &'static str, whose: &str) -> Result<Counted, AppError> {
        let hash = self.keys.mark(&["failures", what, whose]).map_err(AppError::Internal)?;
        let max = if what == "pins" { PIN_FAILURES_MAX } else { SIGN_IN_FAILURES_MAX };
        Ok(Counted { what, hash, max: i64::from(max) })
    }

    /// Begins a try. The order of the keys matters to [`Ended::Right`] alone.
    ///
    /// # Errors
    /// `TooMany` while as many have failed as may.
    pub(crate) async fn begin_try(&self, keys: Vec<Counted>) -> Result<Try, AppError> {
        let now = self.now().0;
        for _ in 0..LOOKS_MAX {
            // Refused and waiting tries only read: they take no turn from those who write.
            let looked = keys.clone();
            let may = self.store.read(move |conn| look(conn, &looked, now)).await?;
            let may = match may {
                May::Begin => {
                    let counted = keys.clone();
                    self.store.write(move |conn| begin(conn, &counted, now)).await?
                }
                other => other,
            };
            match may {
                May::Begin => return Ok(Try { keys }),
                May::Wait => tokio::time::sleep(PAUSE).await,
                May::Not(ms) => return Err(wait(ms)),
            }
        }
        Err(wait(i64::try_from(PAUSE.as_millis()).unwrap_or(0) * i64::from(LOOKS_MAX)))
    }

    /// Settles a try. A wrong one is noted in the logs of these co-operatives, and so is that no
    /// further one will be taken.
    pub(crate) async fn settle(
        &self,
        tried: Try,
        ended: Ended,
        notes: Vec<(i64, Note)>,
    ) -> Result<(), AppError> {
        let now = self.now().0;
        self.store
            .write(move |conn| {
                let tired = settle(conn, &tried.keys, ended)?;
                for (coop, note) in notes.iter().filter(|_| ended == Ended::Wrong) {
                    security::add(conn, *coop, note, now)?;
                    if let Some(what) = tired {
                        let refused = Note { event: SecurityEvent::SignInRefused, ..note.clone() };
                        security::add(conn, *coop, &refused.detail(what), now)?;
                    }
                }
                Ok(())
            })
            .await
    }

    /// Whether something is the first of its kind in a window; the others of the window are not.
    pub(crate) fn is_first(conn: &mut Conn, key: &Counted, now: i64) -> Result<bool, AppError> {
        let tries = failures::open(conn, &key.hash, now - SIGN_IN_WINDOW_MS, now)?;
        failures::settle(conn, &key.hash, 1)?;
        Ok(tries.failed == 0)
    }

    /// Forgets windows that are over, and the oldest above the bound. A server does this now and
    /// then.
    pub async fn forget_failures(&self) -> Result<(), AppError> {
        let over = self.now().0 - SIGN_IN_WINDOW_MS;
        self.store.write(move |conn| Ok(failures::prune(conn, over, SIGN_IN_KEYS_MAX)?)).await
    }
}

fn wait(ms: i64) -> AppError {
    AppError::TooMany { retry_after_s: u32::try_from(ms / 1000 + 1).unwrap_or(1) }
}

/// Whether one more try may begin beside those of a window.
fn may(tries: Option<Tries>, max: i64, now: i64) -> May {
    let left = |t: &Tries| t.since + SIGN_IN_WINDOW_MS - now;
    match tries.filter(|t| left(t) > 0) {
        Some(t) if t.failed >= max => May::Not(left(&t)),
        Some(t) if t.failed + t.under_way >= max => May::Wait,
        _ => May::Begin,
    }
}

/// What all keys allow: the one that makes wait longest counts.
fn strictest(all: impl Iterator<Item = May>) -> May {
    all.fold(May::Begin, |found, next| match (found, next) {
        (May::Not(a), May::Not(b)) => May::Not(a.max(b)),
        (May::Not(a), _) | (_, May::Not(a)) => May::Not(a),
        (May::Wait, _) | (_, May::Wait) => May::Wait,
        _ => May::Begin,
    })
}

fn look(conn: &mut Conn, keys: &[Counted], now: i64) -> Result<May, AppError> {
    let mut all = Vec::new();
    for key in keys {
        all.push(may(failures::find(conn, &key.hash)?, key.max, now));
    }
    Ok(strictest(all.into_iter()))
}

fn begin(conn: &mut Conn, keys: &[Counted], now: i64) -> Result<May, AppError> {
    let mut all = Vec::new();
    // In one order everywhere, so that two tries never wait for each other.
    for key in sorted(keys) {
        let tries = failures::open(conn, &key.hash, now - SIGN_IN_WINDOW_MS, now)?;
        all.push(may(Some(tries), key.max, now));
    }
    let found = strictest(all.into_iter());
    if matches!(found, May::Begin) {
        for key in keys {
            failures::begin(conn, &key.hash)?;
        }
    }
    Ok(found)
}

fn sorted(keys: &[Counted]) -> Vec<&Counted> {
    let mut sorted: Vec<&Counted> = keys.iter().collect();
    sorted.sort_by(|a, b| a.hash.cmp(&b.hash));
    sorted
}

/// What has had all its failures by this one.
fn settle(
    conn: &mut Conn,
    keys: &[Counted],
    ended: Ended,
) -> Result<Option<&'static str>, AppError> {
    let mut tired = None;
    let own = keys.first().map(|key| key.hash.as_str()).unwrap_or_default();
    for key in sorted(keys) {
        if ended == Ended::Right && key.hash == own {
            failures::forgive(conn, &key.hash)?;
        }
        failures::settle(conn, &key.hash, i64::from(ended == Ended::Wrong))?;
        let tries = failures::find(conn, &key.hash)?.filter(|_| ended == Ended::Wrong);
        if tries.is_some_and(|t| t.failed == key.max) {
            tired = Some(key.what);
        }
    }
    Ok(tired)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tries(failed: i64, under_way: i64) -> Option<Tries> {
        Some(Tries { since: 0, failed, under_way })
    }

    #[test]
    fn only_failures_refuse_and_those_under_way_are_waited_for() {
        assert!(matches!(may(None, 10, 5), May::Begin));
        assert!(matches!(may(tries(9, 0), 10, 5), May::Begin));
        assert!(matches!(may(tries(9, 1), 10, 5), May::Wait));
        assert!(matches!(may(tries(10, 3), 10, 5), May::Not(ms) if ms == SIGN_IN_WINDOW_MS - 5));
        assert!(matches!(may(tries(10, 3), 10, SIGN_IN_WINDOW_MS), May::Begin));
        let all = [May::Wait, May::Not(3), May::Begin, May::Not(9)];
        assert!(matches!(strictest(all.into_iter()), May::Not(9)));
    }
}
