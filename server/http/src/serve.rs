//! The table of operations as an actix application.

use crate::connections::{Connections, Paced, is_slow};
use crate::metrics::Metrics;
use crate::noted;
use crate::openapi;
use crate::ops::{Body, Method, Op, all};
use crate::problem::{Code, Problem};
use crate::request::{Answer, Request};
use actix_web::http::header::{
    ALLOW, CACHE_CONTROL, CONTENT_SECURITY_POLICY, HeaderName, HeaderValue,
};
use actix_web::web::{self, Payload, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use std::collections::BTreeMap;
use std::net::{IpAddr, SocketAddr};
use std::sync::{Arc, OnceLock};
use std::time::{Duration, Instant};
use tracing::Instrument as _;
use traybook_app::{App, AppError};
use traybook_domain::limits;
use utoipa_swagger_ui::Config;

/// Settings of the interface.
#[derive(Clone, Debug)]
pub struct Settings {
    /// Whether a proxy in front tells the client's address in `X-Forwarded-For`.
    pub behind_proxy: bool,
    /// Scheme, host and port under which people reach the server, without a slash at its end. Where
    /// none is given no page leads there: what a request says of it anybody can make up.
    pub public_address: Option<String>,
    /// Whether this server speaks TLS itself.
    pub speaks_tls: bool,
    /// How long a body may take before it must have come at a least rate.
    pub body_grace: Duration,
    /// Connections that one address may hold; they say nothing behind a proxy.
    pub connections_max: usize,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            behind_proxy: false,
            public_address: None,
            speaks_tls: false,
            body_grace: Duration::from_secs(limits::BODY_GRACE_S),
            connections_max: limits::CONNECTIONS_BY_ADDRESS,
        }
    }
}

impl Settings {
    /// Whether people reach the server by TLS: its own, or that of a proxy in front. Only then it
    /// may ask browsers to come by TLS alone (RFC 6797, 7.2).
    fn is_reached_by_tls(&self) -> bool {
        let is_named = || self.public_address.as_ref().is_some_and(|a| a.starts_with("https://"));
        self.speaks_tls || self.behind_proxy || is_named()
    }

    /// What counts the connections of a server with these settings.
    #[must_use]
    pub fn connections(&self) -> Arc<Connections> {
        Connections::new(if self.behind_proxy { usize::MAX } else { self.connections_max })
    }
}

/// What every request shares.
pub struct State {
    pub app: App,
    /// The OpenAPI document, once somebody has asked for it: most servers are never asked, and making
    /// it takes longer than all else at the start.
    document: OnceLock<web::Bytes>,
    /// Counters.
    pub metrics: Metrics,
    pub settings: Settings,
}

impl State {
    /// Makes it.
    #[must_use]
    pub fn new(app: App, settings: Settings) -> Self {
        Self { app, document: OnceLock::new(), metrics: Metrics::default(), settings }
    }

    /// The OpenAPI document.
    pub(crate) fn document(&self) -> Result<web::Bytes, AppError> {
        if let Some(made) = self.document.get() {
            return Ok(made.clone());
        }
        let made = web::Bytes::from(openapi::text().map_err(AppError::Internal)?);
        Ok(self.document.get_or_init(|| made).clone())
    }

    /// Notes that an answer met a damaged page: from then on the server is not ready.
    pub(crate) fn note_damage(&self, problem: &Problem) {
        if problem.code == Code::Damaged && self.app.keeping.damage().is_none() {
            self.app.keeping.note_damage(Some("an answer met a damaged page".to_owned()));
        }
    }

    /// The address that failed sign-ins count for.
    #[must_use]
    pub fn client_address(&self, http: &HttpRequest) -> String {
        let lines = http.headers().get_all("x-forwarded-for").filter_map(|h| h.to_str().ok());
        // Several lines are one list (RFC 9110, 5.3). Its last entry is the one that our own proxy
        // wrote; what stands before it anybody may have made up.
        let last = lines.last().and_then(|list| list.rsplit(',').next()).and_then(read_address);
        let peer = http.peer_addr().map(|a| a.ip());
        let address = last.filter(|_| self.settings.behind_proxy).or(peer);
        address.map_or_else(String::new, network)
    }
}

/// An address as proxies write it: alone, with a port, in brackets (RFC 7239 and common practice).
fn read_address(text: &str) -> Option<IpAddr> {
    let text = text.trim();
    let bare = text.strip_prefix('[').and_then(|t| t.strip_suffix(']')).unwrap_or(text);
    bare.parse().ok().or_else(|| text.parse::<SocketAddr>().ok().map(|a| a.ip()))
}

/// What one subscriber has: an IPv4 address, or a network of 64 bits (RFC 6177), whose addresses
/// change at will.
pub(crate) fn network(address: IpAddr) -> String {
    match address.to_canonical() {
        IpAddr::V4(v4) => v4.to_string(),
        IpAddr::V6(v6) => {
            let [a, b, c, d, ..] = v6.segments();
            format!("{a:x}:{b:x}:{c:x}:{d:x}::/64")
        }
    }
}

/// Registers every operation, and answers for everything else.
pub fn configure(state: &Arc<State>, config: &mut ServiceConfig) {
    let mut by_path: BTreeMap<String, Vec<Arc<Op>>> = BTreeMap::new();
    for op in all() {
        by_path.entry(op.path.clone()).or_default().push(Arc::new(op));
    }
    for (path, ops) in by_path {
        let allow = allowed(&ops);
        let mut resource = web::resource(path);
        for op in ops {
            let guards = match op.method {
                Method::Get => vec![web::get(), web::head()],
                Method::Post => vec![web::post()],
                Method::Put => vec![web::put()],
                Method::Patch => vec![web::patch()],
                Method::Delete => vec![web::delete()],
            };
            for route in guards {
                let (state, op) = (Arc::clone(state), Arc::clone(&op));
                resource = resource.route(route.to(move |http: HttpRequest, payload: Payload| {
                    run(Arc::clone(&state), Some(Arc::clone(&op)), None, http, payload)
                }));
            }
        }
        let state = Arc::clone(state);
        resource = resource.default_service(web::to(move |http: HttpRequest, payload: Payload| {
            run(Arc::clone(&state), None, Some(allow.clone()), http, payload)
        }));
        config.service(resource);
    }
    let of = Arc::clone(state);
    let docs = Arc::new(Config::from("/openapi.json"));
    config.service(web::resource("/docs/{file:.*}").route(web::get().to(
        move |http: HttpRequest| {
            let answer = documentation(&of, &docs, &http);
            std::future::ready(answer)
        },
    )));
    crate::web::routes::configure(state, config);
    let state = Arc::clone(state);
    config.default_service(web::to(move |http: HttpRequest, payload: Payload| {
        run(Arc::clone(&state), None, None, http, payload)
    }));
}

/// What the pages of the documentation may load: files of this server, the styles that they carry,
/// and pictures within them.
const DOCS_POLICY: &str = "default-src 'none'; style-src 'self' 'unsafe-inline'; \
    script-src 'self'; connect-src 'self'; img-src 'self' data:; form-action 'none'; \
    base-uri 'none'; frame-ancestors 'none'";

/// A file of the documentation.
fn documentation(state: &State, docs: &Arc<Config<'static>>, http: &HttpRequest) -> HttpResponse {
    let file = http.match_info().get("file").unwrap_or_default();
    let found = utoipa_swagger_ui::serve(file, Arc::clone(docs)).ok().flatten();
    let mut response = found.map_or_else(
        || HttpResponse::NotFound().finish(),
        |file| {
            let mut response = HttpResponse::Ok();
            if file.gzpipped {
                response.insert_header(("content-encoding", "gzip"));
            }
            response.insert_header((CACHE_CONTROL, "public, max-age=300"));
            response.content_type(file.content_type).body(file.bytes.to_vec())
        },
    );
    let policy = HeaderValue::from_static(DOCS_POLICY);
    response.headers_mut().insert(CONTENT_SECURITY_POLICY, policy);
    secure(state, &mut response, &request_id(state, http));
    response
}

fn allowed(ops: &[Arc<Op>]) -> String {
    let mut methods: Vec<&str> = ops.iter().map(|op| op.method.text()).collect();
    if methods.contains(&"GET") {
        methods.push("HEAD");
    }
    methods.push("OPTIONS");
    methods.join(", ")
}

/// Reads a request, lets it in or not, runs it, and answers, logs and counts it.
async fn run(
    state: Arc<State>,
    op: Option<Arc<Op>>,
    allow: Option<String>,
    http: HttpRequest,
    payload: Payload,
) -> HttpResponse {
    let started = Instant::now();
    let request_id = request_id(&state, &http);
    let operation = op.as_ref().map_or_else(|| "none".to_owned(), |op| op.id.clone());
    let span = tracing::info_span!("request", request_id, operation);
    let method = http.method().to_string();
    let answer = answer(&state, op, allow, http, payload).instrument(span.clone()).await;
    let _entered = span.enter();
    let mut response = answer.unwrap_or_else(|problem| {
        state.note_damage(&problem);
        problem.response(&request_id)
    });
    secure(&state, &mut response, &request_id);
    let (status, took) = (response.status().as_u16(), started.elapsed());
    state.metrics.record(&operation, status, took);
    let duration_ms = u64::try_from(took.as_millis()).unwrap_or(u64::MAX);
    // What machines ask every few seconds would hide what people do.
    match operation.as_str() {
        "get_liveness" | "get_readiness" | "get_metrics" | "lease_texts" if status < 400 => {
            tracing::debug!(method, status, duration_ms, "answered");
        }
        _ => tracing::info!(method, status, duration_ms, "answered"),
    }
    response
}

async fn answer(
    state: &Arc<State>,
    op: Option<Arc<Op>>,
    allow: Option<String>,
    http: HttpRequest,
    payload: Payload,
) -> Answer {
    let Some(op) = op else { return not_served(allow, &http) };
    let limit = match op.body {
        Body::None => 0,
        Body::Json(_, bytes) => bytes,
        Body::Record(_) => limits::BODY_BYTES_MAX,
        Body::Picture => limits::PHOTO_BYTES_MAX,
    };
    let signed_in = if op.signed_in { Some(sign_in(state, &http).await?) } else { None };
    let who = signed_in.as_ref().map(|(actor, _)| actor.clone());
    let done = admitted(state, &op, (http.clone(), payload), limit, signed_in).await;
    let Some(who) = &who else { return done };
    match &done {
        Ok(response) => noted::given((&state.app, who), &op.id, &http, response).await?,
        Err(problem) => noted::refused((&state.app, who), &op.id, problem).await,
    }
    done
}

/// Lets a request in by its role, reads it and runs it.
async fn admitted(
    state: &Arc<State>,
    op: &Op,
    (http, payload): (HttpRequest, Payload),
    limit: usize,
    signed_in: Option<(traybook_app::Actor, uuid::Uuid)>,
) -> Answer {
    if let Some((actor, _)) = &signed_in
        && !op.roles.contains(&actor.role)
    {
        return Err(AppError::Forbidden.into());
    }
    check_media(op, &http)?;
    let body = read_body(payload, limit, state.settings.body_grace, &http).await?;
    let request = Request { state: Arc::clone(state), http, body, kind: op.kind, signed_in };
    (op.handler)(request).await
}

fn not_served(allow: Option<String>, http: &HttpRequest) -> Answer {
    let Some(allow) = allow else {
        return Err(Problem::new(Code::NotFound, "there is nothing at this address"));
    };
    if http.method() == actix_web::http::Method::OPTIONS {
        let mut response = HttpResponse::NoContent().finish();
        if let Ok(value) = HeaderValue::from_str(&allow) {
            response.headers_mut().insert(ALLOW, value);
        }
        return Ok(response);
    }
    let mut problem = Problem::new(Code::MethodNotAllowed, format!("this address knows {allow}"));
    problem.allow = Some(allow);
    Err(problem)
}

async fn sign_in(
    state: &State,
    http: &HttpRequest,
) -> Result<(traybook_app::Actor, uuid::Uuid), Problem> {
    let header = http.headers().get("authorization").and_then(|h| h.to_str().ok());
    let token = header.and_then(|h| {
        let (scheme, token) = h.split_once(' ')?;
        scheme.eq_ignore_ascii_case("bearer").then(|| token.trim())
    });
    let token = token.ok_or(AppError::Unauthenticated)?;
    Ok(state.app.who(token).await?)
}

fn check_media(op: &Op, http: &HttpRequest) -> Result<(), Problem> {
    let given = http.headers().get("content-type").and_then(|h| h.to_str().ok());
    let given = given.map(|t| t.split(';').next().unwrap_or_default().trim().to_ascii_lowercase());
    let taken: &[&str] = match op.body {
        Body::None => return Ok(()),
        Body::Json(..) | Body::Record("New") => &["application/json"],
        Body::Record(_) => &["application/json", "application/merge-patch+json"],
        Body::Picture => &["image/jpeg", "image/png", "image/webp"],
    };
    if given.as_deref().is_some_and(|given| taken.contains(&given)) {
        return Ok(());
    }
    let detail = format!("send Content-Type: {}", taken.join(" or "));
    Err(Problem::new(Code::MediaType, detail))
}

pub(crate) async fn read_body(
    payload: Payload,
    limit: usize,
    grace: Duration,
    http: &HttpRequest,
) -> Result<Vec<u8>, Problem> {
    use futures_core::Stream as _;
    let too_large = || Problem::from(AppError::TooLarge { bytes_max: limit });
    let declared = http.headers().get("content-length").and_then(|h| h.to_str().ok());
    if declared.and_then(|d| d.parse::<usize>().ok()).is_some_and(|d| d > limit) {
        return Err(too_large());
    }
    let mut payload = Paced::new(payload, grace);
    let mut body = Vec::new();
    loop {
        let chunk = std::future::poll_fn(|cx| std::pin::Pin::new(&mut payload).poll_next(cx)).await;
        match chunk {
            None => return Ok(body),
            Some(Ok(bytes)) if body.len() + bytes.len() > limit => return Err(too_large()),
            Some(Ok(bytes)) => body.extend_from_slice(&bytes),
            Some(Err(error)) if is_slow(&error) => {
                return Err(Problem::new(Code::TooSlow, "the body came too slowly; send it again"));
            }
            Some(Err(_)) => {
                return Err(Problem::new(Code::Malformed, "the body broke off; send it again"));
            }
        }
    }
}

pub(crate) fn request_id(state: &State, http: &HttpRequest) -> String {
    let given = http.headers().get("x-request-id").and_then(|h| h.to_str().ok());
    let plain = |t: &&str| {
        (8..=64).contains(&t.len())
            && t.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'_')
    };
    match given.filter(plain) {
        Some(id) => id.to_owned(),
        None => state.app.new_id().map(|id| id.simple().to_string()).unwrap_or_default(),
    }
}

/// Headers of every answer.
pub(crate) fn secure(state: &State, response: &mut HttpResponse, request_id: &str) {
    let headers = response.headers_mut();
    let set = [
        ("x-content-type-options", "nosniff"),
        ("x-frame-options", "DENY"),
        ("referrer-policy", "no-referrer"),
        ("content-security-policy", "default-src 'none'; frame-ancestors 'none'"),
        ("cross-origin-resource-policy", "same-origin"),
        ("cross-origin-opener-policy", "same-origin"),
    ];
    let tls = ("strict-transport-security", "max-age=31536000");
    let tls = state.settings.is_reached_by_tls().then_some(tls);
    for (name, value) in set.into_iter().chain(tls) {
        // A page may allow the one style that it carries.
        if name == "content-security-policy" && headers.contains_key(name) {
            continue;
        }
        headers.insert(HeaderName::from_static(name), HeaderValue::from_static(value));
    }
    // What says nothing of itself is for nobody to store.
    if !headers.contains_key(CACHE_CONTROL) {
        headers.insert(CACHE_CONTROL, HeaderValue::from_static("private, no-store"));
    }
    if let Ok(value) = HeaderValue::from_str(request_id) {
        headers.insert(HeaderName::from_static("x-request-id"), value);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_is_read_as_proxies_write_it() {
        for (text, address) in [
            ("192.0.2.7", "192.0.2.7"),
            (" 192.0.2.7:51234", "192.0.2.7"),
            ("[2001:db8:1:2:3:4:5:6]:443", "2001:db8:1:2::/64"),
            ("2001:db8:1:2::9", "2001:db8:1:2::/64"),
            ("[2001:db8::1]", "2001:db8:0:0::/64"),
            ("::ffff:192.0.2.7", "192.0.2.7"),
        ] {
            assert_eq!(read_address(text).map(network).as_deref(), Some(address), "{text}");
        }
        for wrong in ["", "unknown", "_hidden", "192.0.2", "192.0.2.7, "] {
            assert_eq!(read_address(wrong), None, "{wrong}");
        }
    }
}
