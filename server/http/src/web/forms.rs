//! What forms share that make records or correct them: lists to choose from, times as people give
//! them, a correction at the version that the form was made of.

use super::blocks::{Field, Form, Input};
use super::page::{Page, local, shown};
use super::visit::Visit;
use chrono::{NaiveDateTime, TimeZone as _};
use serde_json::{Map, Value as Json, json};
use traybook_app::records::txn::clean_reason;
use traybook_app::{Actor, AppError};
use traybook_domain::Kind;
use traybook_domain::time::{format_instant, parse_instant};
use traybook_domain::value::Instant;
use uuid::Uuid;

/// How a form's field writes a day and time (HTML, "local date and time").
const MINUTE: &str = "%Y-%m-%dT%H:%M";

/// What can be chosen: value and text.
pub(super) type Options = Vec<(String, String)>;

/// Words to choose from.
pub(super) fn choices(page: &Page, set: &str, names: &[&str]) -> Options {
    names.iter().map(|n| ((*n).to_owned(), page.word(set, n))).collect()
}

/// The same list where nothing need be chosen.
pub(super) fn or_none(options: Options) -> Options {
    std::iter::once((String::new(), String::new())).chain(options).collect()
}

/// Adds members to a record.
pub(super) fn put<const N: usize>(body: &mut Map<String, Json>, members: [(&str, Json); N]) {
    body.extend(members.map(|(name, value)| (name.to_owned(), value)));
}

/// An instant that a form gives: the co-operative's clock, or RFC 3339 from a phone. Other text is
/// left for the rules to refuse.
pub(super) fn instant(visit: &Visit, actor: &Actor, name: &str) -> Json {
    let Some(given) = visit.field(name) else { return Json::Null };
    if parse_instant(given).is_some() {
        return json!(given);
    }
    let clock = NaiveDateTime::parse_from_str(given, MINUTE).ok();
    let at = clock.and_then(|clock| actor.coop.zone.from_local_datetime(&clock).earliest());
    let at = at.map(|at| format_instant(Instant(at.timestamp_millis())));
    json!(at.as_deref().unwrap_or(given))
}

/// An instant as a form's field shows it.
pub(super) fn minute(actor: &Actor, at: Instant) -> String {
    local(at, actor.coop.zone, MINUTE)
}

/// Corrects a record at the version that the form was made of. A form that comes again, whose
/// correction stands already, is no conflict.
pub(super) async fn correct(
    visit: &Visit,
    kind: Kind,
    id: Uuid,
    patch: Map<String, Json>,
) -> Result<Json, AppError> {
    let (app, actor, version) = (&visit.state.app, visit.actor()?, version(visit)?);
    match app.correct(actor, kind, id, version, patch.clone()).await {
        Ok(done) => Ok(done.json),
        Err(AppError::Stale { current }) => {
            let now = app.get(actor, kind, id).await?.json;
            let stands = |(name, value): (&String, &Json)| {
                name == "change_reason" || now.get(name) == Some(value)
            };
            if patch.iter().all(stands) { Ok(now) } else { Err(AppError::Stale { current }) }
        }
        Err(other) => Err(other),
    }
}

/// A value as a form's field holds it.
pub(super) fn stands(value: &Json) -> String {
    match value {
        Json::String(text) => text.clone(),
        Json::Null => String::new(),
        other => other.to_string(),
    }
}

/// Compares a correction with the record that its form was made of: what was emptied goes; a
/// number that was left as it stood stays that number, also where a person could mean another.
pub(super) fn as_it_stood(
    visit: &Visit,
    patch: &mut Map<String, Json>,
    before: &Json,
    names: &[&str],
) {
    for name in names {
        let stood = &before[*name];
        let is_emptied = !patch.contains_key(*name) && !stood.is_null();
        if is_emptied {
            patch.insert((*name).to_owned(), Json::Null);
        } else if stood.is_number() && visit.field(name) == Some(&stands(stood)) {
            patch.insert((*name).to_owned(), stood.clone());
        }
    }
}

/// Whether a record was taken back: it is shown from an old address, and not to be changed.
pub(super) fn is_taken_back(record: &Json) -> bool {
    !record["withdrawn_at"].is_null()
}

/// The form that takes a record back: at its version, with a reason.
pub(super) fn take_back(page: &Page, of: String, record: &Json, title: &str) -> Form {
    Form::new(format!("{of}/withdraw"), "withdraw", page.say("take-back"))
        .hide("version", shown(&record["version"], 0))
        .keep(page.with("take-back-of", "what", title))
        .field(Field::new("why", page.say("take-back-why"), Input::Text).required())
}

/// Why a record is taken back; a form without a reason is refused.
pub(super) fn why(visit: &Visit) -> Result<String, AppError> {
    let Some(why) = visit.field("why") else {
        return Err(AppError::field("why", "required", "say why it is taken back"));
    };
    clean_reason(why).map_err(|error| error.of_field("why"))
}

/// The version that the form was made of.
pub(super) fn version(visit: &Visit) -> Result<i64, AppError> {
    let version = visit.field("version").and_then(|v| v.parse().ok());
    version.ok_or_else(|| AppError::field("version", "required", "load the page again"))
}
