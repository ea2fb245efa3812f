//! What a page is asked: who, in which language, with which fields and files.

use super::echo::Echo;
use super::page::{Page, form_token};
use crate::connections::Paced;
use crate::problem::Code;
use crate::serve::State;
use actix_web::HttpRequest;
use actix_web::web::{self, Payload};
use serde_json::{Map, Value as Json, json};
use std::collections::HashMap;
use std::sync::Arc;
use std::time::Duration;
use traybook_app::{Actor, AppError};
use traybook_domain::records::written::Reading;
use traybook_domain::time::local_date;
use traybook_domain::value::Instant;
use traybook_domain::{FieldError, Kind, Month, limits};
use traybook_speech::Language;
use uuid::Uuid;

/// A file that came with a form.
pub(super) struct Upload {
    /// The form's field.
    pub field: String,
    /// Name the file had.
    pub name: String,
    pub bytes: Vec<u8>,
}

/// Who is signed in, with the sign-in and its secret.
pub(super) type Who = (Actor, Uuid, String);

/// A request to a page.
pub(super) struct Visit {
    /// What the server holds.
    pub state: Arc<State>,
    pub language: Language,
    /// Who is signed in.
    pub who: Option<Who>,
    /// Fields of the form or of the address, in order.
    pub fields: Vec<(String, String)>,
    /// Files of the form.
    pub files: Vec<Upload>,
    /// Named parts of the address.
    pub parts: HashMap<String, String>,
    /// Address of the client, for failed sign-ins.
    pub client: String,
    /// Tokens by which this browser is known to people's sign-ins.
    pub devices: Vec<String>,
    /// Kind of device, in a word of ours.
    pub device: &'static str,
    /// Path and query of the page.
    pub here: String,
    /// Whether a script on a phone asks, which sends what was kept there.
    pub from_phone: bool,
    /// What was saved or taken back before this page.
    pub echo: Option<Echo>,
    /// What makes this page's form token differ from that of every other page.
    pub nonce: String,
}

impl Visit {
    /// Who is signed in.
    pub fn actor(&self) -> Result<&Actor, AppError> {
        self.who.as_ref().map(|(actor, ..)| actor).ok_or(AppError::Unauthenticated)
    }

    /// An address for other devices and for paper; none where the server does not know its own.
    pub fn whole_address(&self, path: &str) -> Option<String> {
        let origin = self.state.settings.public_address.as_ref()?;
        Some(format!("{origin}{path}"))
    }

    /// The frame of a page.
    pub fn page(&self) -> Page {
        let secret = self.who.as_ref().map(|(.., secret)| secret.as_str());
        let actor = self.who.as_ref().map(|(actor, ..)| actor);
        let notice = actor.and_then(|a| Some((a.notice.clone()?, a.coop.zone)));
        Page {
            notice: notice.map(|((at, by), zone)| (local_date(Instant(at), zone), by)),
            language: self.language,
            role: actor.map(|a| a.role),
            person: actor.map(|a| a.person.to_string()).unwrap_or_default(),
            csrf: secret.map(|s| form_token(s, &self.nonce)).unwrap_or_default(),
            here: self.here.clone(),
            now: self.state.app.now().0,
            epoch: format!("{:x}", self.state.app.store.epoch()),
            currency: actor.map(|a| a.coop.currency.clone()).unwrap_or_default(),
            zone: actor.map(|a| a.coop.zone),
        }
    }

    /// A field that is not empty.
    pub fn field(&self, name: &str) -> Option<&str> {
        let found = self.fields.iter().find(|(n, _)| n == name);
        found.map(|(_, v)| v.trim()).filter(|v| !v.is_empty())
    }

    /// A month that the address or the form names; none where it names none.
    pub fn month_named(&self, name: &str) -> Result<Option<Month>, AppError> {
        let given = self.field(name).map(Month::parse);
        match given {
            Some(None) => Err(AppError::field(name, "type", "give a month as YYYY-MM")),
            given => Ok(given.flatten()),
        }
    }

    /// The month that a page is about: the one asked for, else the last that is over.
    pub fn month(&self, actor: &Actor) -> Result<Month, AppError> {
        Ok(self.month_named("month")?.unwrap_or_else(|| self.last_month(actor)))
    }

    /// The last month that is over.
    pub fn last_month(&self, actor: &Actor) -> Month {
        Month::of(actor.coop.today(self.state.app.now())).plus(-1)
    }

    /// How many things of a list the address leaves out at its beginning.
    pub fn skip(&self) -> Result<usize, AppError> {
        let skip = self.field("skip").map_or(Ok(0), str::parse);
        skip.ok().ok_or_else(|| AppError::field("skip", "type", "give a whole number, 0 or more"))
    }

    /// An id in the address.
    pub fn id(&self, name: &str) -> Result<Uuid, AppError> {
        let text = self.parts.get(name).ok_or(AppError::NotFound)?;
        Uuid::try_parse(text).ok().ok_or(AppError::NotFound)
    }

    /// An id that the form carries, so that the same form sent twice makes one record; a new one
    /// where it carries none.
    pub fn form_id(&self, name: &str) -> Result<Uuid, AppError> {
        match self.field(name) {
            Some(text) => {
                let detail = "load the page again";
                Uuid::try_parse(text).ok().ok_or_else(|| AppError::field(name, "format", detail))
            }
            None => self.state.app.new_id(),
        }
    }

    /// The named fields that were filled in, as members of a record of a kind. Numbers are read as
    /// people write them; what is none, or can be two, is left for the rules to ask back.
    pub fn record(&self, kind: Kind, names: &[&str]) -> Map<String, Json> {
        self.part("", kind, names)
    }

    /// The same of a form that holds several records, whose fields begin with different words.
    pub fn part(&self, prefix: &str, kind: Kind, names: &[&str]) -> Map<String, Json> {
        let digits = self.who.as_ref().map_or(0, |(actor, ..)| actor.coop.digits);
        let read = |name: &&str| {
            let text = self.field(&format!("{prefix}{name}"))?;
            let spec = kind.spec().field(name).filter(|f| f.scale(digits).is_some());
            let value = spec.map_or_else(|| json!(text), |f| plain(text, f.written(text, digits)));
            Some(((*name).to_owned(), value))
        };
        names.iter().filter_map(read).collect()
    }

    /// The day that a form says, which a phone sets when it keeps it; today where it says none.
    pub fn day(&self, name: &str, actor: &Actor) -> Json {
        let today = || json!(actor.coop.today(self.state.app.now()));
        self.field(name).map_or_else(today, |day| json!(day))
    }

    /// The first file of a field, if it holds anything.
    pub fn file(&self, field: &str) -> Option<&Upload> {
        self.files.iter().find(|f| f.field == field && !f.bytes.is_empty())
    }
}

/// A number that was read, as JSON; the text where it is not one number.
fn plain(text: &str, reading: Reading) -> Json {
    let Reading::One(number) = reading else { return json!(text) };
    // "007" is a number for people, none for JSON.
    let (sign, digits) = number.strip_prefix('-').map_or(("", &*number), |rest| ("-", rest));
    let digits = digits.trim_start_matches('0');
    let lead = if digits.is_empty() || digits.starts_with('.') { "0" } else { "" };
    let value = serde_json::from_str::<Json>(&format!("{sign}{lead}{digits}"));
    value.ok().filter(Json::is_number).unwrap_or_else(|| json!(text))
}

/// Fields and files of a body.
type Sent = (Vec<(String, String)>, Vec<Upload>);

/// Reads a form: fields, and files where it has any.
pub(super) async fn read_form(
    http: &HttpRequest,
    payload: Payload,
    signed_in: bool,
    grace: Duration,
) -> Result<Sent, AppError> {
    let media = http.headers().get("content-type").and_then(|h| h.to_str().ok());
    if media.is_some_and(|m| m.starts_with("multipart/form-data")) {
        return read_parts(http, Paced::new(payload, grace), signed_in).await;
    }
    let bytes = crate::serve::read_body(payload, limits::BODY_BYTES_MAX, grace, http).await;
    let bytes = bytes.map_err(|problem| match problem.code {
        Code::TooSlow => broken(),
        _ => AppError::TooLarge { bytes_max: limits::BODY_BYTES_MAX },
    })?;
    Ok((pairs(&String::from_utf8_lossy(&bytes)), Vec::new()))
}

/// The pairs of a query or of a plain form.
pub(super) fn pairs(text: &str) -> Vec<(String, String)> {
    web::Query::<Vec<(String, String)>>::from_query(text)
        .map(|p| p.into_inner())
        .unwrap_or_default()
}

/// What came does not hold together as a form.
fn broken() -> AppError {
    AppError::Invalid(vec![FieldError::new("", "type", "the form broke off; send it again")])
}

/// Reads a form with files (RFC 7578). Nobody's files are kept before it is known whose they are:
/// of those of somebody who is not signed in only the first bytes tell that there were any.
async fn read_parts(http: &HttpRequest, body: Paced, signed_in: bool) -> Result<Sent, AppError> {
    let mut parts = actix_multipart::Multipart::new(http.headers(), body);
    let (mut fields, mut files) = (Vec::new(), Vec::new());
    let bytes_max = if signed_in { limits::FORM_BYTES_MAX } else { limits::BODY_BYTES_MAX };
    let (mut size, mut left_out) = (0, 0);
    while let Some(part) = next(&mut parts).await {
        let mut part = part.ok().ok_or_else(broken)?;
        let name = part.name().unwrap_or_default().to_owned();
        let file = part.content_disposition().and_then(|d| d.get_filename()).map(str::to_owned);
        let mut bytes = Vec::new();
        while let Some(chunk) = next(&mut part).await {
            let chunk = chunk.ok().ok_or_else(broken)?;
            if signed_in || file.is_none() {
                size += chunk.len();
                bytes.extend_from_slice(&chunk);
            } else {
                bytes.extend(chunk.first().filter(|_| bytes.is_empty()));
                left_out += chunk.len();
            }
            // Somebody who is not signed in may send large photos, and not without an end.
            if size > bytes_max || left_out > 4 * limits::FORM_BYTES_MAX {
                return Err(AppError::TooLarge { bytes_max });
            }
        }
        if fields.len() + files.len() > limits::FORM_PARTS_MAX {
            return Err(broken());
        }
        match file {
            Some(file) => files.push(Upload { field: name, name: file, bytes }),
            None => fields.push((name, String::from_utf8_lossy(&bytes).into_owned())),
        }
    }
    Ok((fields, files))
}

async fn next<S: futures_core::Stream + Unpin>(stream: &mut S) -> Option<S::Item> {
    std::future::poll_fn(|cx| std::pin::Pin::new(&mut *stream).poll_next(cx)).await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_that_was_read_is_a_number_in_json() {
        for (text, value) in [("7.5", 7.5), ("007", 7.0), ("0.50", 0.5), ("-3", -3.0), ("0", 0.0)] {
            assert_eq!(plain("", Reading::One(text.to_owned())).as_f64(), Some(value), "{text}");
        }
        assert_eq!(plain("much", Reading::Not), json!("much"));
    }
}
