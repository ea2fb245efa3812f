//! How a page is answered: who is signed in, in which language, whether a form is ours, and what
//! an error looks like.

use super::echo::Echo;
use super::own::proof_first;
use super::page::{Page, is_token, start};
use super::sign_in::{Kept, sign_in_first, sign_in_gone};
use super::visit::{Visit, Who, pairs, read_form};
use crate::noted;
use crate::problem::{Code, Problem};
use crate::request::in_query;
use crate::serve::{State, request_id, secure};
use actix_web::http::header::{CONTENT_SECURITY_POLICY, HeaderName, HeaderValue};
use actix_web::http::{Method, StatusCode};
use actix_web::web::Payload;
use actix_web::{HttpMessage as _, HttpRequest, HttpResponse};
use askama::Template;
use serde_json::json;
use std::future::Future;
use std::pin::Pin;
use std::sync::Arc;
use std::time::Instant;
use traybook_app::people::passkeys;
use traybook_app::{Actor, AppError};
use traybook_domain::limits;
use traybook_speech::Language;
use uuid::Uuid;

/// Cookie of the sign-in. The prefix makes browsers take it only with Secure, for this host alone
/// and for all of it (RFC 6265bis).
pub(super) const SIGN_IN: &str = "__Host-traybook";
/// Cookie of the language that was chosen.
pub(super) const LANGUAGE: &str = "__Host-language";
/// Cookie of the devices that this browser is known as: one a person who signed in with it.
pub(super) const DEVICE: &str = "__Host-device";
/// What a page may load: style, script and pictures of this server, nothing else.
const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; \
    img-src 'self' blob:; manifest-src 'self'; worker-src 'self'; form-action 'self'; \
    base-uri 'none'; frame-ancestors 'none'";
/// Header by which the script of a phone says that it sends what was kept there.
const FROM_PHONE: &str = "x-from-phone";

/// Media type of a workbook.
pub(super) const XLSX: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";

/// What a page answers.
pub(super) type Shown = Result<HttpResponse, AppError>;

/// A page from its template.
pub(super) fn show(template: &impl Template, status: StatusCode) -> Shown {
    let text = template.render().map_err(|e| AppError::Internal(e.to_string()))?;
    Ok(HttpResponse::build(status)
        .content_type("text/html; charset=utf-8")
        .insert_header(("cache-control", "private, no-store"))
        .body(text))
}

/// To another page, after a form.
pub(super) fn go(to: &str) -> HttpResponse {
    HttpResponse::SeeOther().insert_header(("location", to)).finish()
}

/// A file for the reader to keep or to open.
pub(super) fn file(name: &str, media: &'static str, bytes: Vec<u8>) -> HttpResponse {
    HttpResponse::Ok()
        .content_type(media)
        .insert_header(("cache-control", "private, no-store"))
        .insert_header(("content-disposition", format!("attachment; filename=\"{name}\"")))
        .body(bytes)
}

#[derive(Template)]
#[template(path = "missing.html")]
struct MissingPage {
    page: Page,
    text: String,
    home: &'static str,
}

/// What runs a page. It is of one type for all pages, so that what is around it is built once.
pub(super) type Handler = fn(Visit) -> Pin<Box<dyn Future<Output = Shown>>>;

/// Signs in by cookie, checks forms, runs the page, and turns errors into pages.
pub(super) async fn answer(
    state: Arc<State>,
    http: HttpRequest,
    payload: Payload,
    handler: Handler,
) -> HttpResponse {
    let started = Instant::now();
    let request_id = request_id(&state, &http);
    let name = http.match_pattern().unwrap_or_default();
    let mut response = match run(&state, &http, payload, handler).await {
        Ok(response) => response,
        Err((error, visit)) => failed(error, visit, &request_id),
    };
    // The printed sheet brings a stricter one.
    if !response.headers().contains_key(CONTENT_SECURITY_POLICY) {
        let policy = HeaderValue::from_static(POLICY);
        response.headers_mut().insert(CONTENT_SECURITY_POLICY, policy);
    }
    if http.extensions().contains::<Ended>() {
        clear(&mut response);
        let is_anew = response.cookies().any(|c| c.name() == SIGN_IN);
        let gone = if is_anew { Ok(()) } else { response.add_cookie(&sign_in_gone()) };
        if let Err(error) = gone {
            tracing::error!(%error, "a cookie could not be taken back");
        }
    }
    secure(&state, &mut response, &request_id);
    let (status, took) = (response.status().as_u16(), started.elapsed());
    state.metrics.record(&format!("page {name}"), status, took);
    let duration_ms = u64::try_from(took.as_millis()).unwrap_or(u64::MAX);
    tracing::info!(request_id, page = name, status, duration_ms, "page answered");
    response
}

/// What an error page needs to know of a request.
struct Asked {
    page: Page,
    from_phone: bool,
    is_form: bool,
    /// The form of somebody who is not signed in any more.
    form: Option<Kept>,
    /// The question to a passkey, where a proof is asked for.
    passkey: Option<passkeys::Asked>,
}

async fn run(
    state: &Arc<State>,
    http: &HttpRequest,
    payload: Payload,
    handler: Handler,
) -> Result<HttpResponse, (AppError, Asked)> {
    let signed_in = signed_in(state, http).await;
    let (who, mut failure) = match signed_in {
        Ok(who) => (who, None),
        Err(error) => (None, Some(error)),
    };
    let language = language(http, who.as_ref().map(|(actor, ..)| actor));
    let is_form = http.method() == Method::POST;
    let mut was_read = true;
    let (fields, files) = match (is_form, failure.is_some()) {
        (_, true) => (Vec::new(), Vec::new()),
        (false, _) => (pairs(http.query_string()), Vec::new()),
        (true, _) => read_form(http, payload, who.is_some(), state.settings.body_grace)
            .await
            .unwrap_or_else(|error| {
                // Who is not signed in is asked to do that first, whatever came.
                failure = Some(if who.is_some() { error } else { AppError::Unauthenticated });
                was_read = false;
                (Vec::new(), Vec::new())
            }),
    };
    let nonce = state.app.new_secret().unwrap_or_default();
    let mut visit = Visit {
        state: Arc::clone(state),
        language,
        who,
        fields,
        files,
        parts: http.match_info().iter().map(|(n, v)| (n.to_owned(), v.to_owned())).collect(),
        client: state.client_address(http),
        devices: devices(http),
        here: http.uri().path_and_query().map(ToString::to_string).unwrap_or_default(),
        from_phone: http.headers().contains_key(FROM_PHONE),
        device: device_kind(http),
        echo: None,
        nonce: nonce.get(..8).unwrap_or_default().to_owned(),
    };
    let form = if is_form && was_read { waiting(&visit, http) } else { None };
    let (page, from_phone) = (visit.page(), visit.from_phone);
    let mut asked = Asked { page, from_phone, is_form, form, passkey: None };
    if let Some(error) = failure {
        return Err((error, asked));
    }
    if is_form && !is_own_form(&visit, http) {
        return Err((AppError::Forbidden, asked));
    }
    if !is_form {
        visit.echo = Echo::of(&visit).await;
    }
    let whose = visit.who.as_ref().map(|(actor, ..)| (actor.coop.number, actor.person));
    match handled(state, http, visit, handler).await {
        // A script wants to know what became of it, not the next page.
        Ok(done) if from_phone && is_form => Ok(taken(&done)),
        Ok(done) => Ok(done),
        Err(error) => {
            if let (AppError::ProofNeeded, Some(whose), false) = (&error, whose, from_phone) {
                asked.passkey = ask_passkey(state, whose).await;
            }
            Err((error, asked))
        }
    }
}

/// The form that waits where a sign-in or a proof is asked for first. Only what is surely ours goes
/// along with signing in: no token tells it then.
fn waiting(visit: &Visit, http: &HttpRequest) -> Option<Kept> {
    let is_kept = match &visit.who {
        Some((actor, ..)) => actor.proved == Some(false),
        None => is_surely_own(visit, http),
    };
    if is_kept { Kept::of(visit) } else { None }
}

/// The question to a passkey; without one a code is asked for all the same.
async fn ask_passkey(state: &State, whose: (i64, Uuid)) -> Option<passkeys::Asked> {
    let origin = state.settings.public_address.as_deref();
    state.app.ask_passkey(whose, origin).await.unwrap_or_default()
}

/// Runs the page, and notes what has to be noted of it.
async fn handled(state: &State, http: &HttpRequest, visit: Visit, handler: Handler) -> Shown {
    let who = visit.who.as_ref().map(|(actor, ..)| actor.clone());
    let done = handler(visit).await;
    let Some(who) = &who else { return done };
    let what = http.match_pattern().unwrap_or_default();
    match &done {
        Ok(response) => noted::given((&state.app, who), &what, http, response).await?,
        Err(AppError::Forbidden) => {
            noted::refused((&state.app, who), &what, &AppError::Forbidden.into()).await;
        }
        Err(_) => {}
    }
    done
}

fn taken(done: &HttpResponse) -> HttpResponse {
    let to = done.headers().get("location").and_then(|h| h.to_str().ok());
    let answer = json!({ "taken": true, "see": to });
    HttpResponse::Ok().insert_header(("cache-control", "no-store")).json(answer)
}

/// A request came with a sign-in that was ended.
struct Ended;

/// Makes a browser forget what it stored of somebody who is signed in no longer (Clear-Site-Data,
/// W3C): its cache, and the cookie. What a phone keeps unsent stays: that would go with "storage".
pub(super) fn clear(response: &mut HttpResponse) {
    let name = HeaderName::from_static("clear-site-data");
    response.headers_mut().insert(name, HeaderValue::from_static("\"cache\""));
}

/// Who is signed in; nobody where there is no cookie or it holds no longer.
async fn signed_in(state: &State, http: &HttpRequest) -> Result<Option<Who>, AppError> {
    let cookie = http.cookie(SIGN_IN).filter(|c| !c.value().is_empty());
    let Some(cookie) = cookie else { return Ok(None) };
    let secret = cookie.value().to_owned();
    match state.app.who_by_secret(&secret).await {
        Ok((actor, family)) => Ok(Some((actor, family, secret))),
        // Only what says so ends a sign-in: a database that is away does not.
        Err(AppError::Unauthenticated) => {
            http.extensions_mut().insert(Ended);
            Ok(None)
        }
        Err(other) => Err(other),
    }
}

/// Kind of device, as browsers tell it of themselves: those of telephones say "Mobi" (MDN, browser
/// detection using the user agent).
fn device_kind(http: &HttpRequest) -> &'static str {
    match header(http, "user-agent") {
        Some(agent) if agent.contains("Mobi") => "phone",
        Some(_) => "computer",
        None => "unknown",
    }
}

/// The device tokens of a browser, a few at most.
fn devices(http: &HttpRequest) -> Vec<String> {
    let cookie = http.cookie(DEVICE);
    let all = cookie.as_ref().map(|c| c.value()).unwrap_or_default().split('~');
    let all = all.filter(|token| !token.is_empty() && token.len() <= 200);
    all.take(limits::DEVICE_PEOPLE_MAX).map(str::to_owned).collect()
}

fn language(http: &HttpRequest, actor: Option<&Actor>) -> Language {
    let chosen = http.cookie(LANGUAGE).and_then(|c| Language::parse(c.value()));
    let own = || actor.and_then(|a| Language::parse(&a.language));
    let asked = || {
        let header = http.headers().get("accept-language").and_then(|h| h.to_str().ok())?;
        header.split(',').find_map(|part| Language::parse(part.trim()))
    };
    // What a person chose is kept with the person; the cookie is for those not signed in.
    own().or(chosen).or_else(asked).unwrap_or_default()
}

/// Whether a form came from our own page: the browser says so where it says anything, and a form
/// of somebody signed in carries the token.
fn is_own_form(visit: &Visit, http: &HttpRequest) -> bool {
    let site = header(http, "sec-fetch-site");
    if site.is_some_and(|site| site != "same-origin" && site != "none") {
        return false;
    }
    if came_from(http).is_some_and(|host| !is_our_host(visit, http, host)) {
        return false;
    }
    let token = visit.field("csrf").unwrap_or_default();
    visit.who.as_ref().is_none_or(|(.., secret)| is_token(secret, token))
}

/// Whether the browser says by itself that a form came from our own page.
fn is_surely_own(visit: &Visit, http: &HttpRequest) -> bool {
    let is_told = header(http, "sec-fetch-site") == Some("same-origin")
        || came_from(http).is_some_and(|host| is_our_host(visit, http, host));
    is_told && is_own_form(visit, http)
}

fn header<'a>(http: &'a HttpRequest, name: &str) -> Option<&'a str> {
    http.headers().get(name).and_then(|h| h.to_str().ok())
}

/// The host of the page that a form was on, where the browser names it.
fn came_from(http: &HttpRequest) -> Option<&str> {
    header(http, "origin").and_then(|origin| origin.split_once("://")).map(|(_, host)| host)
}

/// A proxy may end TLS and name another host inwards: it is the outer one that a browser knows.
fn is_our_host(visit: &Visit, http: &HttpRequest, host: &str) -> bool {
    let settings = &visit.state.settings;
    let ours = settings.public_address.as_deref().and_then(|a| a.split_once("://"));
    let ours = ours.map(|(_, host)| host);
    header(http, "host") == Some(host) || ours == Some(host)
}

fn failed(error: AppError, asked: Asked, request_id: &str) -> HttpResponse {
    if matches!(error, AppError::Unauthenticated) && !asked.from_phone {
        // What was filled in is sent after signing in.
        if let Some(form) = &asked.form {
            return sign_in_first(&asked.page, form)
                .unwrap_or_else(|_| HttpResponse::InternalServerError().finish());
        }
        // A label or a link leads to its page after signing in.
        // A form's own address may have no page.
        let to = own_address(&asked.page.here).filter(|to| *to != "/" && !asked.is_form);
        return go(&to.map_or_else(
            || "/sign-in".to_owned(),
            |to| format!("/sign-in?{}", query(&[("to", to)])),
        ));
    }
    if matches!(error, AppError::ProofNeeded) && !asked.from_phone {
        let to = own_address(&asked.page.here).filter(|_| !asked.is_form).unwrap_or_default();
        return proof_first(&asked.page, asked.form.as_ref(), to, asked.passkey)
            .unwrap_or_else(|_| HttpResponse::InternalServerError().finish());
    }
    let problem = Problem::from(error);
    let status = problem.code.status();
    if status >= 500 {
        tracing::error!(request_id, detail = problem.detail, "a page failed");
    }
    let page = asked.page.clone();
    if asked.from_phone {
        let mut problem = problem;
        for error in &mut problem.errors {
            error.detail = page.refusal(error);
        }
        problem.detail = page.problem(&problem);
        return problem.response(request_id);
    }
    let text = match status {
        403 => page.say("not-for-you"),
        404 => page.say("page-not-there"),
        412 => page.say("stale-short"),
        _ if problem.code == Code::Damaged => page.say("problem-damaged"),
        _ if problem.code == Code::ReadsOnly => page.say("problem-reads_only"),
        _ if !problem.errors.is_empty() => {
            let wrong = problem
                .errors
                .iter()
                .map(|e| format!("{}: {}", page.field_name(e.field()), page.refusal(e)));
            page.with("error-try-again", "detail", wrong.collect::<Vec<_>>().join("; "))
        }
        _ => page.with("error-try-again", "detail", page.problem(&problem)),
    };
    let home = page.role.map_or("/sign-in", start);
    let code = StatusCode::from_u16(status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
    show(&MissingPage { page, text, home }, code)
        .unwrap_or_else(|_| HttpResponse::InternalServerError().finish())
}

/// The first page of whoever is signed in.
pub(super) async fn home(visit: Visit) -> Shown {
    let role = visit.who.as_ref().map(|(actor, ..)| actor.role);
    Ok(go(role.map_or("/sign-in", start)))
}

/// An address on this server that a form may lead back to.
pub(super) fn own_address(text: &str) -> Option<&str> {
    let plain = text.starts_with('/') && !text.starts_with("//");
    let tame = text.bytes().all(|b| b.is_ascii_graphic() && b != b'\\');
    (plain && tame && text.len() <= limits::ADDRESS_BYTES_MAX).then_some(text)
}

/// Query parameters of an address, put together again.
pub(super) fn query(pairs: &[(&str, &str)]) -> String {
    let pair = |(name, value): &(&str, &str)| format!("{}={}", in_query(name), in_query(value));
    pairs.iter().map(pair).collect::<Vec<_>>().join("&")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn forms_lead_back_to_this_server_alone() {
        assert_eq!(own_address("/today?x=1"), Some("/today?x=1"));
        for bad in
            ["", "today", "//elsewhere.example", "https://elsewhere.example", "/a\\b", "/a b"]
        {
            assert_eq!(own_address(bad), None, "{bad}");
        }
        assert_eq!(query(&[("q", "a b&c")]), "q=a%20b%26c");
    }
}
