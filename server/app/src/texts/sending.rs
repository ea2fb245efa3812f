//! Texts are fetched by carriers: leased for a while, handed over, settled. What is not settled in
//! time is handed out again, so that a text may be sent twice but is never lost.

use super::menu::MENU_MS;
use super::reminders::quiet_until;
use super::{Carrier, Purpose};
use crate::error::AppError;
use crate::{App, Coop};
use traybook_answers::texts::{LeasedText, LeasedTexts, SettledState, SettledText, TextsSettled};
use traybook_answers::wire::Time;
use traybook_domain::value::Instant;
use traybook_storage::texts::{self, Out};
use traybook_storage::{Conn, people::logins};

/// Seconds of a lease.
pub const LEASE_S: i64 = 120;
/// Texts of one lease.
const LEASE_MAX: i64 = 100;
/// Seconds until the next try.
const RETRIES_S: [i64; 5] = [30, 2 * 60, 8 * 60, 30 * 60, 2 * 60 * 60];
/// Days for which what was said with known numbers is kept.
pub const TEXTS_KEPT_DAYS: i64 = 90;
/// The same of other numbers.
const UNKNOWN_KEPT_DAYS: i64 = 7;
const DAY_MS: i64 = 24 * 60 * 60 * 1_000;

impl App {
    /// Texts that are due, for one carrier alone for a while.
    ///
    /// # Errors
    /// `Forbidden` for a carrier that is not known; those of the store.
    pub async fn lease_texts(&self, carrier: &str, most: i64) -> Result<LeasedTexts, AppError> {
        let most = most.clamp(1, LEASE_MAX);
        let now = self.now();
        let mut items = Vec::new();
        for coop in self.coops_of_carrier(carrier).await? {
            let left = most - i64::try_from(items.len()).unwrap_or(most);
            if left < 1 {
                break;
            }
            // Most of the time nothing is due: a look costs no change.
            let of = coop.number;
            let is_due = self.store.read(move |conn| {
                let waits = !texts::due(conn, of, now.0, 1)?.is_empty();
                Ok::<_, AppError>(waits || texts::has_run_out(conn, of, now.0)?)
            });
            if !is_due.await? {
                continue;
            }
            let name = carrier.to_owned();
            let leased = self.store.change(of, move |w| lease(w, &coop, &name, (now, left)));
            items.extend(leased.await?);
        }
        Ok(LeasedTexts { items, lease_s: LEASE_S })
    }

    /// Notes what became of leased texts; those of another carrier's lease are left as they are.
    pub async fn settle_texts(
        &self,
        carrier: &str,
        items: Vec<SettledText>,
    ) -> Result<TextsSettled, AppError> {
        let now = self.now();
        let mut settled = 0;
        for coop in self.coops_of_carrier(carrier).await? {
            let (of, name, items) = (coop.number, carrier.to_owned(), items.clone());
            let done = self.store.change(of, move |w| {
                let mut done = 0;
                for item in &items {
                    done += i64::from(settle(w, of, &name, item, now)?);
                }
                Ok::<_, AppError>(done)
            });
            settled += done.await?;
        }
        Ok(TextsSettled { settled })
    }

    /// Empties what was said once its days are over.
    pub async fn forget_texts(&self) -> Result<(), AppError> {
        let now = self.now().0;
        let [known, unknown] = [TEXTS_KEPT_DAYS, UNKNOWN_KEPT_DAYS].map(|days| now - days * DAY_MS);
        self.store
            .write(move |conn| {
                for (coop, _) in logins::cooperatives(conn)? {
                    texts::forget_bodies(conn, coop, (known, unknown))?;
                    texts::forget_menus(conn, coop, now - MENU_MS)?;
                }
                Ok::<_, AppError>(())
            })
            .await
    }

    async fn coops_of_carrier(&self, carrier: &str) -> Result<Vec<Coop>, AppError> {
        let carrier: &Carrier = self.carriers.named(carrier).ok_or(AppError::Forbidden)?;
        let ids: Vec<_> = carrier.serves.iter().map(|s| s.id).collect();
        self.store
            .read(move |conn| {
                let mut coops = Vec::new();
                for id in &ids {
                    if let Some(number) = logins::coop_number(conn, *id)? {
                        coops.push(Coop::load(conn, number, *id)?);
                    }
                }
                Ok(coops)
            })
            .await
    }
}

fn lease(
    conn: &mut Conn,
    of: &Coop,
    carrier: &str,
    (now, most): (Instant, i64),
) -> Result<Vec<LeasedText>, AppError> {
    let coop = of.number;
    texts::tidy_out(conn, coop, now.0)?;
    for purpose in [Purpose::Reminder, Purpose::Result, Purpose::Caution] {
        if let Some(until) = quiet_until(purpose, now, of) {
            texts::hold_back(conn, coop, purpose.text(), until)?;
        }
    }
    let mut leased = Vec::new();
    for out in texts::due(conn, coop, now.0, most)? {
        let Some(body) = out.body.clone() else { continue };
        let out = Out {
            state: "leased".to_owned(),
            lease_until: Some(now.0 + LEASE_S * 1_000),
            carrier: Some(carrier.to_owned()),
            tries: out.tries + 1,
            ..out
        };
        texts::put_out(conn, coop, &out)?;
        leased.push(LeasedText {
            id: out.id,
            to: out.number,
            text: body,
            expires_at: Time(Instant(out.expires_at)),
        });
    }
    Ok(leased)
}

fn settle(
    conn: &mut Conn,
    coop: i64,
    carrier: &str,
    item: &SettledText,
    now: Instant,
) -> Result<bool, AppError> {
    let found = texts::out(conn, coop, item.id)?;
    let is_ours = |o: &Out| o.state == "leased" && o.carrier.as_deref() == Some(carrier);
    let Some(out) = found.filter(is_ours) else { return Ok(false) };
    let tried = usize::try_from(out.tries - 1).unwrap_or(0);
    let next = RETRIES_S.get(tried).map(|s| now.0 + s * 1_000).filter(|at| *at < out.expires_at);
    let (state, not_before) = match (item.state, next) {
        (SettledState::Sent, _) => ("sent", out.not_before),
        (SettledState::Failed, Some(next)) => ("waiting", next),
        (SettledState::Failed | SettledState::Refused, _) => ("failed", out.not_before),
    };
    let settled_at = (state != "waiting").then_some(now.0);
    let out = Out { state: state.to_owned(), not_before, lease_until: None, settled_at, ..out };
    texts::put_out(conn, coop, &out)?;
    Ok(true)
}
