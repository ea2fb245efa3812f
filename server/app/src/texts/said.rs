//! What was said last with a number, as it is kept.

use super::scene::{Last, Sent};
use crate::error::AppError;
use traybook_domain::Kind;
use traybook_storage::texts::Turn;
use traybook_texts::{Query, Reading, Scene};
use uuid::Uuid;

/// How long the same text is taken for the same record.
const SAME_MS: i64 = 10 * 60 * 1_000;

/// The key of the answer to a text.
pub(super) fn answer_key(id: Uuid) -> String {
    format!("answer.{}", id.simple())
}

pub(super) fn json<T: serde::Serialize>(value: &T) -> Result<String, AppError> {
    serde_json::to_string(value).map_err(|e| AppError::Internal(e.to_string()))
}

/// Texts of the last minutes that made records.
pub(super) fn recent(turn: &Turn, now: i64) -> Vec<(String, i64)> {
    let all = turn.recent.as_deref().and_then(|r| serde_json::from_str(r).ok());
    let mut all: Vec<(String, i64)> = all.unwrap_or_default();
    all.retain(|(_, at)| (0..SAME_MS).contains(&(now - at)));
    all
}

pub(super) fn last(turn: &Turn) -> Last {
    let last = turn.last.as_ref().and_then(|l| serde_json::from_str(&l.0).ok());
    last.unwrap_or_default()
}

pub(super) fn marked(last: &Last) -> Vec<(Kind, Uuid, i64)> {
    let of =
        |(kind, id, version): &(String, Uuid, i64)| Some((Kind::from_one(kind)?, *id, *version));
    last.made.iter().filter_map(of).collect()
}

/// Keeps the list that is sent with this answer.
pub(super) fn keep_list(turn: &mut Turn, scene: &Scene, reading: &Reading) -> Result<(), AppError> {
    let asked = reading.asked.as_ref().filter(|a| a.query == Query::Work);
    let farm = asked.and_then(|a| scene.farms.iter().find(|f| Some(&f.code) == a.farm.as_ref()));
    if let Some(farm) = farm {
        let sent = Sent { farm: farm.code.clone(), lines: farm.lines.clone() };
        turn.list = Some((json(&sent)?, scene.today));
    }
    Ok(())
}
