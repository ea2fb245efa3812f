//! What texts a co-operative had, how many were not understood, and what they cost.

use super::scene::SILENT_MS;
use crate::error::AppError;
use crate::{Actor, App};
use std::collections::{BTreeMap, HashSet};
use traybook_answers::texts::{TextOutcome, TextsOfPurpose, TextsUse};
use traybook_answers::wire::Time;
use traybook_domain::people::authz::{Action, Role, Task};
use traybook_domain::time::start_of_day;
use traybook_domain::value::Instant;
use traybook_domain::{Kind, Month};
use traybook_storage::texts;
use uuid::Uuid;

/// Texts of a month that are looked through.
const TEXTS_MAX: i64 = 100_000;
/// Texts that were not understood and are shown.
const UNCLEAR_MAX: usize = 50;

/// A text that was not understood.
#[derive(Clone, Debug)]
pub struct Unclear {
    /// When it came.
    pub at: Instant,
    pub number: String,
    /// What was written; none once its days are over.
    pub text: Option<String>,
}

impl App {
    /// Texts of the running month.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn texts_use(&self, actor: &Actor) -> Result<(TextsUse, Vec<Unclear>), AppError> {
        actor.task(Task::TextNumbers)?;
        if actor.role != Role::Manager {
            return Err(AppError::Forbidden);
        }
        let (coop, now) = (actor.coop.clone(), self.now());
        let today = coop.today(now);
        let from = Month::of(today).first_day();
        let since = start_of_day(from, coop.zone).0;
        let budget = self.carriers.budget(coop.id);
        let heard_at = self.carriers.heard_at(coop.id).map(Time);
        self.store
            .read(move |conn| {
                let came = texts::came_since(conn, coop.number, since, TEXTS_MAX)?;
                let is_unclear =
                    |t: &&texts::In| t.is_known && t.outcome == TextOutcome::Unclear.text();
                let unclear: Vec<Unclear> = came
                    .iter()
                    .filter(is_unclear)
                    .take(UNCLEAR_MAX)
                    .map(|t| Unclear {
                        at: Instant(t.taken_at),
                        number: t.number.clone(),
                        text: t.body.clone(),
                    })
                    .collect();
                let mut purposes: BTreeMap<String, TextsOfPurpose> = BTreeMap::new();
                for (purpose, state, count, segments) in texts::counts(conn, coop.number, since)? {
                    let line = purposes.entry(purpose.clone()).or_insert(TextsOfPurpose {
                        purpose,
                        texts: 0,
                        segments: 0,
                        given_up: 0,
                    });
                    if state == "expired" || state == "failed" {
                        line.given_up += count;
                    } else {
                        line.texts += count;
                        line.segments += segments;
                    }
                }
                let oldest = texts::due(conn, coop.number, now.0, 1)?;
                let purposes: Vec<TextsOfPurpose> = purposes.into_values().collect();
                let used = TextsUse {
                    from,
                    to: today,
                    came: i64::try_from(came.len()).unwrap_or(TEXTS_MAX),
                    unclear: i64::try_from(came.iter().filter(is_unclear).count()).unwrap_or(0),
                    segments: purposes.iter().map(|p| p.segments).sum(),
                    purposes,
                    budget,
                    heard_at,
                    oldest_waiting: oldest.first().map(|o| Time(Instant(o.made_at))),
                };
                Ok((used, unclear))
            })
            .await
    }
}

impl App {
    /// Of records that the actor read those that came by text.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn came_by_text(
        &self,
        actor: &Actor,
        kind: Kind,
        ids: Vec<Uuid>,
    ) -> Result<HashSet<Uuid>, AppError> {
        actor.visible(Action::Read, kind)?;
        let coop = actor.coop.number;
        self.store.read(move |conn| Ok(texts::by_text(conn, coop, kind, &ids)?)).await
    }
}

/// Days after which a silent number hears no money; for the page that says so.
pub const SILENT_DAYS: i64 = SILENT_MS / (24 * 60 * 60 * 1_000);
