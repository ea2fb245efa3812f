//! Kannel or an aggregator: texts come by HTTP and are sent by HTTP.
//!
//! Kannel's smsbox acknowledges a text before its call has succeeded and keeps retries in memory. So
//! a received text is written to the spool, on the disk, before it is answered.

use super::door::{Door, Taken};
use super::{now_s, with};
use actix_web::{App, HttpRequest, HttpResponse, HttpServer, web};
use percent_encoding::{NON_ALPHANUMERIC, utf8_percent_encode};
use serde_json::{Map, Value as Json, json};
use std::fs::File;
use std::io::Write as _;
use std::net::TcpListener;
use std::path::{Path, PathBuf};

/// Texts that are fetched at once.
const LEASE: usize = 20;
/// Largest call of an aggregator, bytes.
const CALL_BYTES_MAX: usize = 16 * 1024;

/// Takes texts on an address and writes them into the spool, on a thread of its own.
pub fn receive(address: &str, spool: &Path) -> Result<(), String> {
    std::fs::create_dir_all(spool).map_err(with(spool))?;
    let listener = TcpListener::bind(address).map_err(|e| format!("{address}: {e}"))?;
    let spool = spool.to_owned();
    let thread = std::thread::Builder::new().name("receive".to_owned()).spawn(move || {
        actix_web::rt::System::new().block_on(async move {
            if let Err(error) = serve(listener, spool).await {
                tracing::error!(%error, "texts are not received");
            }
        });
    });
    thread.map(drop).map_err(|e| e.to_string())
}

async fn serve(listener: TcpListener, spool: PathBuf) -> std::io::Result<()> {
    let server = HttpServer::new(move || {
        let spool = spool.clone();
        let take = move |http: HttpRequest, body: web::Bytes| {
            let done = keep(&spool, &http, &body);
            std::future::ready(match done {
                Ok(()) => HttpResponse::Ok().finish(),
                Err(Refused::Key) => HttpResponse::Unauthorized().finish(),
                Err(Refused::Wrong(why)) => HttpResponse::BadRequest().body(why),
                Err(Refused::Disk(why)) => {
                    tracing::error!(why, "a text could not be stored");
                    HttpResponse::ServiceUnavailable().finish()
                }
            })
        };
        let limit = web::PayloadConfig::new(CALL_BYTES_MAX);
        App::new().app_data(limit).default_service(web::to(take))
    });
    server.workers(1).disable_signals().listen(listener)?.run().await
}

/// Why a call is not taken.
pub enum Refused {
    /// It does not carry the key.
    Key,
    Wrong(String),
    Disk(String),
}

/// Names and values of a call: of its query and of its body.
pub fn pairs(query: &str, body: &[u8]) -> Result<Vec<(String, String)>, Refused> {
    let body = std::str::from_utf8(body).map_err(|_e| Refused::Wrong("UTF-8 only".to_owned()))?;
    let all = web::Query::<Vec<(String, String)>>::from_query(&format!("{query}&{body}"));
    let all = all.map_err(|_e| Refused::Wrong("the call can not be decoded".to_owned()))?;
    Ok(all.into_inner())
}

/// Writes a call's text into the spool, durably.
fn keep(spool: &Path, http: &HttpRequest, body: &[u8]) -> Result<(), Refused> {
    let text = text_of(&pairs(http.query_string(), body)?)?;
    let name = format!("{}-{:016x}.json", now_s(), hash(&text.to_string()));
    let (beside, to) = (spool.join(format!(".{name}")), spool.join(&name));
    let write = || {
        let mut file = File::create(&beside)?;
        file.write_all(text.to_string().as_bytes())?;
        file.sync_all()?;
        std::fs::rename(&beside, &to)?;
        File::open(spool)?.sync_all()
    };
    write().map_err(|e| Refused::Disk(format!("{}: {e}", to.display())))
}

/// A name for the file: the same text has the same.
fn hash(text: &str) -> u64 {
    use std::hash::{DefaultHasher, Hash as _, Hasher as _};
    let mut hasher = DefaultHasher::new();
    text.hash(&mut hasher);
    hasher.finish()
}

/// The text of a call: id, from, to, text, and when it was sent (seconds since 1970).
fn text_of(pairs: &[(String, String)]) -> Result<Json, Refused> {
    let of = |name: &str| {
        let found = pairs.iter().find(|(n, v)| n == name && !v.is_empty());
        found.map(|(_, v)| v.clone())
    };
    let need = |name: &str| of(name).ok_or_else(|| Refused::Wrong(format!("{name} is missing")));
    // A number in a query may have lost its plus to a space.
    let from = need("from")?;
    let from = from.strip_prefix(' ').map_or(from.clone(), |rest| format!("+{rest}"));
    let mut out = Map::new();
    out.insert("id".to_owned(), json!(need("id")?));
    out.insert("from".to_owned(), json!(from));
    out.insert("text".to_owned(), json!(of("text").unwrap_or_default()));
    if let Some(to) = of("to") {
        out.insert("to".to_owned(), json!(to));
    }
    let at = of("time").and_then(|t| t.parse::<i64>().ok());
    let at = at.and_then(|s| chrono::DateTime::from_timestamp(s, 0));
    if let Some(at) = at {
        let at = at.format("%Y-%m-%dT%H:%M:%SZ").to_string();
        out.insert("sent_at".to_owned(), json!(at));
    }
    Ok(Json::Object(out))
}

/// Hands over what lies in the spool; it goes once the server has it.
pub fn forward(door: &Door, spool: &Path) -> Result<(), String> {
    let entries = std::fs::read_dir(spool).map_err(with(spool))?;
    let mut all: Vec<PathBuf> = entries.flatten().map(|e| e.path()).collect();
    all.retain(|p| p.extension().is_some_and(|e| e == "json"));
    all.retain(|p| !p.file_name().is_some_and(|n| n.to_string_lossy().starts_with('.')));
    all.sort();
    for path in all {
        let text = std::fs::read_to_string(&path).map_err(with(&path))?;
        let taken = match serde_json::from_str::<Json>(&text) {
            Ok(text) => door.take(&text)?,
            Err(error) => Taken::Never(error.to_string()),
        };
        match taken {
            Taken::Yes => std::fs::remove_file(&path).map_err(with(&path))?,
            Taken::Never(why) => {
                tracing::warn!(file = %path.display(), why, "a text can not be taken");
                std::fs::rename(&path, path.with_extension("refused")).map_err(with(&path))?;
            }
        }
    }
    Ok(())
}

/// Sends what is due, one call a text.
pub fn send(door: &Door, agent: &ureq::Agent, template: &str) -> Result<(), String> {
    for out in door.lease(LEASE)? {
        let call = filled(template, &[("to", &out.to), ("text", &out.text), ("id", &out.id)]);
        let state = match agent.get(&call).call() {
            Ok(answer) if answer.status().is_success() => "sent",
            Ok(answer) => {
                tracing::warn!(status = answer.status().as_u16(), "a text was not sent");
                "failed"
            }
            Err(error) => {
                // The address holds numbers and words: it is not said.
                let why = match error {
                    ureq::Error::Timeout(_) => "timeout",
                    ureq::Error::Io(_) | ureq::Error::ConnectionFailed => "no connection",
                    _ => "no answer",
                };
                tracing::warn!(why, "a text was not sent");
                "failed"
            }
        };
        door.settle(&[(out.id, state)])?;
    }
    Ok(())
}

/// The template with its parts put in, as a query carries them.
fn filled(template: &str, parts: &[(&str, &str)]) -> String {
    parts.iter().fold(template.to_owned(), |call, (name, value)| {
        let value = utf8_percent_encode(value, NON_ALPHANUMERIC).to_string();
        call.replace(&format!("{{{name}}}"), &value)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_call_is_read_and_made() {
        let pairs = |all: &[(&str, &str)]| {
            all.iter().map(|(n, v)| ((*n).to_owned(), (*v).to_owned())).collect::<Vec<_>>()
        };
        let all = [("id", "7"), ("from", " 255700000101"), ("text", "Maziwa 12"), ("time", "0")];
        let text = text_of(&pairs(&all)).ok().expect("a text");
        assert_eq!(text["from"], "+255700000101");
        assert_eq!(text["sent_at"], "1970-01-01T00:00:00Z");
        assert!(text_of(&pairs(&all[1..])).is_err());
        let call = filled("http://h/?to={to}&t={text}", &[("to", "+255"), ("text", "a b & c")]);
        assert_eq!(call, "http://h/?to=%2B255&t=a%20b%20%26%20c");
    }
}
