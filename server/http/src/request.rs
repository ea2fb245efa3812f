//! What a handler gets, and how it reads it.

use crate::problem::{Code, Problem};
use crate::serve::State;
use actix_web::http::header::{Accept, EntityTag, Header, HeaderMap, IfNoneMatch, Quality};
use actix_web::{HttpRequest, HttpResponse};
use percent_encoding::{AsciiSet, NON_ALPHANUMERIC, PercentEncode, utf8_percent_encode};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value as Json};
use sha2::{Digest, Sha256};
use std::sync::Arc;
use traybook_app::records::Query;
use traybook_app::{Actor, App, AppError};
use traybook_domain::Kind;
use traybook_speech::Language;
use uuid::Uuid;

/// A request, read and let in.
pub struct Request {
    /// What the server holds.
    pub state: Arc<State>,
    /// The request as it came.
    pub http: HttpRequest,
    pub body: Vec<u8>,
    /// The kind of record, for operations on records.
    pub kind: Option<Kind>,
    /// Who is signed in, and the sign-in; only for operations that need it.
    pub signed_in: Option<(Actor, Uuid)>,
}

/// What a handler answers.
pub type Answer = Result<HttpResponse, Problem>;

impl Request {
    /// The language of an answer: the one asked for, else the person's.
    ///
    /// # Errors
    /// 422 for one that is not spoken here.
    pub fn language(&self, asked: Option<&str>) -> Result<Language, Problem> {
        match asked {
            Some(tag) => Language::tagged(tag).ok_or_else(|| {
                Problem::field("language", "choice", format!("give {}", Language::tags()))
            }),
            None => Ok(Language::parse(&self.actor()?.language).unwrap_or_default()),
        }
    }

    #[must_use]
    pub fn app(&self) -> &App {
        &self.state.app
    }

    /// Who is signed in.
    ///
    /// # Errors
    /// 401 when nobody is.
    pub fn actor(&self) -> Result<&Actor, Problem> {
        let signed_in = self.signed_in.as_ref();
        signed_in.map(|(actor, _)| actor).ok_or_else(|| AppError::Unauthenticated.into())
    }

    /// The kind of record.
    ///
    /// # Errors
    /// 404 when the path names none.
    pub fn kind(&self) -> Result<Kind, Problem> {
        self.kind.ok_or_else(|| AppError::NotFound.into())
    }

    /// The id in the path. A text that is no id stands for nothing that exists.
    ///
    /// # Errors
    /// 404.
    pub fn id(&self) -> Result<Uuid, Problem> {
        let text = self.http.match_info().get("id").filter(|t| t.len() == 36);
        let id = text.and_then(|t| Uuid::try_parse(t).ok());
        id.ok_or_else(|| AppError::NotFound.into())
    }

    /// The query parameters.
    ///
    /// # Errors
    /// 400 when they can not be decoded.
    pub fn query(&self) -> Result<Query, Problem> {
        let pairs =
            actix_web::web::Query::<Vec<(String, String)>>::from_query(self.http.query_string());
        match pairs {
            Ok(pairs) => Ok(Query { pairs: pairs.into_inner() }),
            Err(_) => Err(Problem::new(Code::Malformed, "the query can not be decoded")),
        }
    }

    /// The query parameters of an operation that knows these names.
    ///
    /// # Errors
    /// 400, 422 for unknown or repeated names.
    pub fn known_query<const N: usize>(
        &self,
        names: [&str; N],
    ) -> Result<[Option<String>; N], Problem> {
        let mut values = [const { None }; N];
        for (name, value) in self.query()?.pairs {
            let Some(index) = names.iter().position(|n| *n == name) else {
                let known = names.join(", ");
                let detail = format!("remove this; this operation knows {known}");
                return Err(Problem::field(&name, "unknown_parameter", detail));
            };
            match values.get_mut(index) {
                Some(slot @ None) => *slot = Some(value),
                _ => return Err(Problem::field(&name, "repeated", "give this once")),
            }
        }
        Ok(values)
    }

    /// The body as a JSON object.
    ///
    /// # Errors
    /// 400 when it is not JSON, 422 when it is another value.
    pub fn object(&self) -> Result<Map<String, Json>, Problem> {
        match self.json::<Json>()? {
            Json::Object(map) => Ok(map),
            _ => Err(Problem::field("", "type", "send a JSON object")),
        }
    }

    /// The body as JSON of a known shape.
    ///
    /// # Errors
    /// 400 when it is not JSON, 422 with a pointer when it is of another shape.
    pub fn json<T: DeserializeOwned>(&self) -> Result<T, Problem> {
        let mut reader = serde_json::Deserializer::from_slice(&self.body);
        let value = serde_path_to_error::deserialize(&mut reader).map_err(|error| {
            let inner = error.inner();
            if inner.is_data() {
                let path = error.path().to_string();
                let path = if path == "." { String::new() } else { path.replace('.', "/") };
                let path = path.replace('[', "/").replace(']', "").replace("//", "/");
                let mut problem = Problem::field(&path, "shape", reason(inner));
                for e in &mut problem.errors {
                    e.pointer = e.pointer.replace("~1", "/");
                }
                problem
            } else {
                let place = format!("line {}, column {}", inner.line(), inner.column());
                Problem::new(Code::Malformed, format!("the body is not JSON: see {place}"))
            }
        })?;
        match reader.end() {
            Ok(()) => Ok(value),
            Err(_) => Err(Problem::new(Code::Malformed, "there is more after the JSON value")),
        }
    }

    /// The version in If-Match.
    ///
    /// # Errors
    /// 428 when it is missing or names no version.
    pub fn if_match(&self) -> Result<i64, Problem> {
        let header = self.http.headers().get("if-match").and_then(|h| h.to_str().ok());
        let version = header.and_then(|text| {
            let tag = text.trim().strip_prefix('"')?.strip_suffix('"')?;
            tag.split('-').next()?.parse::<i64>().ok().filter(|v| *v > 0)
        });
        version.ok_or_else(|| {
            let detail = "send the ETag of the record that you read as If-Match";
            Problem::new(Code::PreconditionRequired, detail)
        })
    }

    /// An answer with an ETag, or 304 when the client has it already.
    #[must_use]
    pub fn tagged(&self, mut response: HttpResponse, etag: &str) -> HttpResponse {
        if let Ok(value) = etag.parse() {
            response.headers_mut().insert(actix_web::http::header::ETAG, value);
        }
        let same = match (IfNoneMatch::parse(&self.http), etag.parse::<EntityTag>()) {
            (Ok(IfNoneMatch::Any), _) => true,
            (Ok(IfNoneMatch::Items(known)), Ok(tag)) => known.iter().any(|t| t.weak_eq(&tag)),
            _ => false,
        };
        if same {
            let mut not_modified = HttpResponse::NotModified().finish();
            let tag = response.headers().get(actix_web::http::header::ETAG).cloned();
            if let Some(tag) = tag {
                not_modified.headers_mut().insert(actix_web::http::header::ETAG, tag);
            }
            return not_modified;
        }
        response
    }

    /// A JSON answer with its ETag, or 304 when the client has it already.
    ///
    /// # Errors
    /// When the value is no JSON.
    pub fn answer_json(&self, value: &impl Serialize) -> Answer {
        let text = serde_json::to_string(value).map_err(|e| AppError::Internal(e.to_string()))?;
        let tag = body_etag(text.as_bytes());
        Ok(self.tagged(json(text), &tag))
    }

    /// The same as a CSV file. JSON of the same address says `vary` by [`varied`].
    #[must_use]
    pub fn answer_csv(&self, name: &str, body: String) -> HttpResponse {
        let tag = body_etag(body.as_bytes());
        let response = HttpResponse::Ok()
            .insert_header(("cache-control", "private, no-cache"))
            .insert_header(("content-disposition", format!("attachment; filename=\"{name}.csv\"")))
            .content_type("text/csv; charset=utf-8")
            .body(body);
        varied(self.tagged(response, &tag))
    }

    /// A document as a file to keep, with its ETag, or 304 when the client has it already.
    #[must_use]
    pub fn answer_file(&self, name: &str, media: &str, body: Vec<u8>) -> HttpResponse {
        let tag = body_etag(&body);
        let response = HttpResponse::Ok()
            .insert_header(("cache-control", "private, no-cache"))
            .insert_header(("content-disposition", format!("attachment; filename=\"{name}\"")))
            .content_type(media)
            .body(body);
        varied(self.tagged(response, &tag))
    }

    /// Whether the client takes one of these media types; the first it takes.
    ///
    /// # Errors
    /// 406 when it takes none.
    pub fn accepts(&self, offered: &[&'static str]) -> Result<&'static str, Problem> {
        let first = offered.first().copied().unwrap_or("application/json");
        if accept(self.http.headers()).is_none() {
            return Ok(first);
        }
        let mut ranges = Accept::parse(&self.http).map_or_else(|_| Vec::new(), |a| a.0);
        ranges.retain(|range| range.quality > Quality::ZERO);
        // Of ranges that are liked the same the first counts: the sort is stable.
        ranges.sort_by_key(|range| std::cmp::Reverse(range.quality));
        let best = ranges.iter().find_map(|range| {
            let range = range.item.essence_str();
            offered.iter().copied().find(|media| {
                let main = media.split('/').next().unwrap_or_default();
                range == "*/*" || range == *media || range == format!("{main}/*")
            })
        });
        best.ok_or_else(|| {
            let detail = format!("this is answered as {}", offered.join(" or "));
            Problem::new(Code::NotAcceptable, detail)
        })
    }
}

fn accept(headers: &HeaderMap) -> Option<&str> {
    headers.get("accept").and_then(|h| h.to_str().ok()).filter(|h| !h.trim().is_empty())
}

/// What serde found, without the place, which the pointer tells.
fn reason(error: &serde_json::Error) -> String {
    let text = error.to_string();
    let end = text.find(" at line ").unwrap_or(text.len());
    text.get(..end).unwrap_or(&text).to_owned()
}

/// Percent-encodes what a query must not hold as it is.
#[must_use]
pub fn in_query(text: &str) -> PercentEncode<'_> {
    const KEPT: AsciiSet = NON_ALPHANUMERIC.remove(b'-').remove(b'.').remove(b'_').remove(b'~');
    utf8_percent_encode(text, &KEPT)
}

/// A strong ETag: the record's version and a digest of its representation, which may change with
/// the clock (a batch becomes ready) while the version stays.
#[must_use]
pub fn etag(version: i64, body: &str) -> String {
    let digest = Sha256::digest(body.as_bytes());
    let hex: String = digest.iter().take(6).map(|b| format!("{b:02x}")).collect();
    format!("\"{version}-{hex}\"")
}

/// Says that the answer depends on the media types that the client takes.
#[must_use]
pub fn varied(mut response: HttpResponse) -> HttpResponse {
    let accept = actix_web::http::header::HeaderValue::from_static("accept");
    response.headers_mut().insert(actix_web::http::header::VARY, accept);
    response
}

/// An ETag of a list or report.
#[must_use]
pub fn body_etag(body: &[u8]) -> String {
    let digest = Sha256::digest(body);
    let hex: String = digest.iter().take(12).map(|b| format!("{b:02x}")).collect();
    format!("\"{hex}\"")
}

/// A JSON answer that may be kept by nobody but the client, and asked again each time.
#[must_use]
pub fn json(body: String) -> HttpResponse {
    HttpResponse::Ok()
        .insert_header(("content-type", "application/json"))
        .insert_header(("cache-control", "private, no-cache"))
        .body(body)
}
