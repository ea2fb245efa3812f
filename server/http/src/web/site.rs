//! Routes of the pages, signing in and out, forms.

use super::page::{Page, form_token};
use super::speech::Language;
use super::{output, today};
use crate::problem::Problem;
use crate::serve::{State, request_id, secure};
use actix_web::cookie::{Cookie, SameSite, time};
use actix_web::http::StatusCode;
use actix_web::http::header::HeaderValue;
use actix_web::web::{self, Bytes, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use askama::Template;
use std::collections::HashMap;
use std::future::Future;
use std::sync::Arc;
use std::time::Instant;
use traybook_app::{Actor, AppError};
use traybook_domain::limits;
use uuid::Uuid;

/// Cookie of the sign-in. The prefix makes browsers take it only with Secure, for this host alone
/// and for all of it (RFC 6265bis).
const SIGN_IN: &str = "__Host-traybook";
/// Cookie of the language that was chosen.
const LANGUAGE: &str = "__Host-language";
const STYLE: &str = include_str!("../../static/style.css");
/// What a page may load: its style, nothing else.
const POLICY: &str = "default-src 'none'; style-src 'self'; form-action 'self'; base-uri 'none'; \
    frame-ancestors 'none'";

/// A request to a page.
pub(super) struct Visit {
    /// What the server holds.
    pub state: Arc<State>,
    /// Language.
    pub language: Language,
    /// Who is signed in, with the sign-in and its secret.
    pub who: Option<(Actor, Uuid, String)>,
    /// Fields of the form or of the address.
    pub fields: HashMap<String, String>,
}

impl Visit {
    /// Who is signed in.
    pub fn actor(&self) -> Result<&Actor, AppError> {
        self.who.as_ref().map(|(actor, ..)| actor).ok_or(AppError::Unauthenticated)
    }

    /// The frame of a page.
    pub fn page(&self, here: &'static str) -> Page {
        let csrf = self.who.as_ref().map(|(.., secret)| form_token(secret)).unwrap_or_default();
        Page { language: self.language, signed_in: self.who.is_some(), csrf, here }
    }

    /// A field that is not empty.
    pub fn field(&self, name: &str) -> Option<&str> {
        self.fields.get(name).map(|v| v.trim()).filter(|v| !v.is_empty())
    }
}

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

#[derive(Template)]
#[template(path = "sign_in.html")]
struct SignInPage<'a> {
    page: Page,
    error: Option<String>,
    login: &'a str,
}

#[derive(Template)]
#[template(path = "missing.html")]
struct MissingPage {
    page: Page,
    text: String,
}

/// Registers the pages.
pub fn configure(state: &Arc<State>, config: &mut ServiceConfig) {
    macro_rules! page {
        ($path:literal, $($method:ident => $handler:path),+) => {{
            let mut resource = web::resource($path);
            $(
                let of = Arc::clone(state);
                resource = resource.route(web::$method().to(move |http: HttpRequest, body: Bytes| {
                    answer(Arc::clone(&of), http, body, $handler)
                }));
            )+
            config.service(resource);
        }};
    }
    page!("/", get => home);
    page!("/sign-in", get => sign_in_page, post => sign_in);
    page!("/sign-out", post => sign_out);
    page!("/language", post => choose_language);
    page!("/today", get => today::show_today, post => today::record);
    page!("/output", get => output::show_output, post => output::record);
    config.service(web::resource("/style.css").route(web::get().to(style)));
}

async fn style() -> HttpResponse {
    let mut response = HttpResponse::Ok();
    response.content_type("text/css; charset=utf-8");
    response.insert_header(("cache-control", "public, max-age=3600"));
    response.insert_header(("x-content-type-options", "nosniff"));
    response.body(STYLE)
}

/// Signs in by cookie, checks forms, runs the page, and turns errors into pages.
async fn answer<F>(
    state: Arc<State>,
    http: HttpRequest,
    body: Bytes,
    handler: fn(Visit, HttpRequest) -> F,
) -> HttpResponse
where
    F: Future<Output = Shown>,
{
    let started = Instant::now();
    let request_id = request_id(&state, &http);
    let is_form = http.method() == actix_web::http::Method::POST;
    let text = if is_form { body.to_vec() } else { http.query_string().as_bytes().to_vec() };
    let text = String::from_utf8_lossy(&text).into_owned();
    let pairs = web::Query::<Vec<(String, String)>>::from_query(&text);
    let fields: HashMap<String, String> =
        pairs.map(|p| p.into_inner().into_iter().collect()).unwrap_or_default();
    let who = signed_in(&state, &http).await;
    let language = language(&http, who.as_ref().map(|(actor, ..)| actor));
    let visit = Visit { state: Arc::clone(&state), language, who, fields };
    let frame = visit.page("today");
    let allowed = !is_form || is_own_form(&visit, &http);
    let path = http.path().to_owned();
    let done = if allowed { handler(visit, http).await } else { Err(AppError::Forbidden) };
    let mut response = done.unwrap_or_else(|error| failed(error, frame, &request_id));
    let policy = HeaderValue::from_static(POLICY);
    response.headers_mut().insert(actix_web::http::header::CONTENT_SECURITY_POLICY, policy);
    secure(&mut response, &request_id);
    let (status, took) = (response.status().as_u16(), started.elapsed());
    state.metrics.record(&format!("page {path}"), status, took);
    let duration_ms = u64::try_from(took.as_millis()).unwrap_or(u64::MAX);
    tracing::info!(request_id, status, duration_ms, "page answered");
    response
}

async fn signed_in(state: &State, http: &HttpRequest) -> Option<(Actor, Uuid, String)> {
    let secret = http.cookie(SIGN_IN)?.value().to_owned();
    let (actor, family) = state.app.who_by_secret(&secret).await.ok()?;
    Some((actor, family, secret))
}

fn language(http: &HttpRequest, actor: Option<&Actor>) -> Language {
    let chosen = http.cookie(LANGUAGE).and_then(|c| Language::parse(c.value()));
    let own = || actor.and_then(|a| Language::parse(&a.language));
    let asked = || {
        let header = http.headers().get("accept-language").and_then(|h| h.to_str().ok())?;
        header.split(',').find_map(|part| Language::parse(part.trim()))
    };
    chosen.or_else(own).or_else(asked).unwrap_or(Language::En)
}

/// Whether a form came from our own page: the browser says so where it says anything, and a form
/// of somebody signed in carries the token.
fn is_own_form(visit: &Visit, http: &HttpRequest) -> bool {
    let header = |name: &str| http.headers().get(name).and_then(|h| h.to_str().ok());
    if header("sec-fetch-site").is_some_and(|site| site != "same-origin" && site != "none") {
        return false;
    }
    let host = header("host").unwrap_or_default();
    let from = header("origin").and_then(|o| o.split_once("://")).map(|(_, host)| host);
    if from.is_some_and(|from| from != host) {
        return false;
    }
    let token = visit.fields.get("csrf").map(String::as_str).unwrap_or_default();
    visit.who.as_ref().is_none_or(|(.., secret)| form_token(secret) == token)
}

fn failed(error: AppError, page: Page, request_id: &str) -> HttpResponse {
    if matches!(error, AppError::Unauthenticated) {
        return go("/sign-in");
    }
    let problem = Problem::from(error);
    let status = problem.code.status();
    if status >= 500 {
        tracing::error!(request_id, detail = problem.detail, "a page failed");
    }
    let text = match status {
        403 => page.say("not-for-you"),
        404 => page.say("page-not-there"),
        _ => page.tell("error-try-again", &[("detail", problem.detail.into())]),
    };
    let code = StatusCode::from_u16(status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
    show(&MissingPage { page, text }, code)
        .unwrap_or_else(|_| HttpResponse::InternalServerError().finish())
}

async fn home(visit: Visit, _: HttpRequest) -> Shown {
    Ok(go(if visit.who.is_some() { "/today" } else { "/sign-in" }))
}

async fn sign_in_page(visit: Visit, _: HttpRequest) -> Shown {
    let page = visit.page("sign-in");
    show(&SignInPage { page, error: None, login: "" }, StatusCode::OK)
}

async fn sign_in(visit: Visit, http: HttpRequest) -> Shown {
    let login = visit.field("login").unwrap_or_default().to_owned();
    let password = visit.fields.get("password").cloned().unwrap_or_default();
    let address = visit.state.client_address(&http);
    match visit.state.app.sign_in(&login, password, None, &address).await {
        Ok(signed_in) => {
            let life = time::Duration::seconds(limits::REFRESH_TOKEN_S);
            let cookie = secret_cookie(SIGN_IN, signed_in.refresh_token, life);
            let mut response = go("/today");
            response.add_cookie(&cookie).map_err(|e| AppError::Internal(e.to_string()))?;
            Ok(response)
        }
        Err(error) => {
            let page = visit.page("sign-in");
            let (status, text) = match &error {
                AppError::WrongPassword | AppError::Invalid(_) => {
                    (StatusCode::UNPROCESSABLE_ENTITY, page.say("wrong-sign-in"))
                }
                AppError::TooMany { retry_after_s } => {
                    let minutes = i64::from(retry_after_s.div_ceil(60));
                    let text = page.tell("wait-sign-in", &[("minutes", minutes.into())]);
                    (StatusCode::TOO_MANY_REQUESTS, text)
                }
                AppError::Conflict { .. } => (StatusCode::CONFLICT, page.say("choose-cooperative")),
                _ => return Err(error),
            };
            show(&SignInPage { page, error: Some(text), login: &login }, status)
        }
    }
}

fn secret_cookie(name: &'static str, value: String, life: time::Duration) -> Cookie<'static> {
    Cookie::build(name, value)
        .path("/")
        .secure(true)
        .http_only(true)
        .same_site(SameSite::Lax)
        .max_age(life)
        .finish()
}

async fn sign_out(visit: Visit, _: HttpRequest) -> Shown {
    if let Some((_, family, _)) = &visit.who {
        visit.state.app.sign_out(*family).await?;
    }
    let mut response = go("/sign-in");
    let gone = secret_cookie(SIGN_IN, String::new(), time::Duration::ZERO);
    response.add_cookie(&gone).map_err(|e| AppError::Internal(e.to_string()))?;
    Ok(response)
}

async fn choose_language(visit: Visit, _: HttpRequest) -> Shown {
    let chosen = visit.field("language").and_then(Language::parse).unwrap_or(visit.language);
    let back = visit.field("back").filter(|b| ["/today", "/output", "/sign-in"].contains(b));
    let mut response = go(back.unwrap_or("/"));
    let life = time::Duration::days(365);
    let cookie = secret_cookie(LANGUAGE, chosen.tag().to_owned(), life);
    response.add_cookie(&cookie).map_err(|e| AppError::Internal(e.to_string()))?;
    Ok(response)
}
