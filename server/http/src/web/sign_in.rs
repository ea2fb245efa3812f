//! Signing in and out, and the choice of language.

use super::blocks::{Field, Form, Input, Leaf, Refusal};
use super::page::{Page, start};
use super::site::{LANGUAGE, SIGN_IN, Shown, go, own_address, show};
use super::visit::Visit;
use actix_web::cookie::{Cookie, SameSite, time};
use actix_web::http::StatusCode;
use askama::Template;
use traybook_app::AppError;
use traybook_domain::limits;
use traybook_speech::Language;
use uuid::Uuid;

#[derive(Template)]
#[template(path = "sign_in.html")]
struct SignInPage<'a> {
    page: Page,
    error: Option<String>,
    login: &'a str,
    to: &'a str,
    /// Whether a password was just set.
    is_ready: bool,
    /// Co-operatives to choose from, where the person belongs to several.
    cooperatives: Vec<(Uuid, String)>,
}

/// The form.
pub(super) async fn show_form(visit: Visit) -> Shown {
    let page = visit.page();
    let to = visit.field("to").and_then(own_address).unwrap_or_default();
    let is_ready = visit.field("ready").is_some();
    show(
        &SignInPage { page, error: None, login: "", to, is_ready, cooperatives: Vec::new() },
        StatusCode::OK,
    )
}

/// Signs in.
pub(super) async fn sign_in(visit: Visit) -> Shown {
    let login = visit.field("login").unwrap_or_default().to_owned();
    let password = visit.fields.iter().find(|(n, _)| n == "password");
    let password = password.map(|(_, p)| p.clone()).unwrap_or_default();
    let chosen = visit.field("cooperative").and_then(|id| Uuid::try_parse(id).ok());
    match visit.state.app.sign_in(&login, password, chosen, &visit.client).await {
        Ok(signed_in) => {
            // One browser is one person: the earlier sign-in ends.
            if let Some((_, family, _)) = &visit.who {
                visit.state.app.sign_out(*family).await?;
            }
            let life = time::Duration::seconds(limits::REFRESH_TOKEN_S);
            let cookie = secret_cookie(SIGN_IN, signed_in.refresh_token, life);
            let to = visit.field("to").and_then(own_address);
            let mut response = go(to.unwrap_or_else(|| start(signed_in.actor.role)));
            response.add_cookie(&cookie).map_err(|e| AppError::Internal(e.to_string()))?;
            Ok(response)
        }
        Err(error) => {
            let page = visit.page();
            let cooperatives = match &error {
                AppError::Conflict { detail, .. } => {
                    let ids = detail.split([' ', ',']).filter_map(|id| Uuid::try_parse(id).ok());
                    visit.state.app.cooperative_names(ids.collect()).await?
                }
                _ => Vec::new(),
            };
            let (status, text) = match &error {
                AppError::WrongPassword | AppError::Invalid(_) => {
                    (StatusCode::UNPROCESSABLE_ENTITY, page.say("wrong-sign-in"))
                }
                AppError::TooMany { retry_after_s } => {
                    let minutes = i64::from(retry_after_s.div_ceil(60));
                    (StatusCode::TOO_MANY_REQUESTS, page.with("wait-sign-in", "minutes", minutes))
                }
                AppError::Conflict { .. } => (StatusCode::CONFLICT, page.say("choose-cooperative")),
                _ => return Err(error),
            };
            let to = visit.field("to").and_then(own_address).unwrap_or_default();
            let is_ready = false;
            show(
                &SignInPage { page, error: Some(text), login: &login, to, is_ready, cooperatives },
                status,
            )
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

/// Signs out. What a phone keeps unsent stays there.
pub(super) async fn sign_out(visit: Visit) -> Shown {
    if let Some((_, family, _)) = &visit.who {
        visit.state.app.sign_out(*family).await?;
    }
    let mut response = go("/sign-in");
    let gone = secret_cookie(SIGN_IN, String::new(), time::Duration::ZERO);
    response.add_cookie(&gone).map_err(|e| AppError::Internal(e.to_string()))?;
    Ok(response)
}

/// Changes the language, and keeps the choice with the person.
pub(super) async fn choose_language(visit: Visit) -> Shown {
    let chosen = visit.field("language").and_then(Language::parse).unwrap_or(visit.language);
    if let Some((actor, ..)) = &visit.who {
        visit.state.app.choose_language(actor, chosen.tag()).await?;
    }
    let mut response = go(visit.field("back").and_then(own_address).unwrap_or("/"));
    let cookie = secret_cookie(LANGUAGE, chosen.tag().to_owned(), time::Duration::days(365));
    response.add_cookie(&cookie).map_err(|e| AppError::Internal(e.to_string()))?;
    Ok(response)
}

/// The form in which an invited person chooses a password.
pub(super) async fn show_invitation(visit: Visit) -> Shown {
    invitation(&visit, None)
}

fn invitation(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let page = visit.page();
    let mut leaf =
        Leaf::new(page.clone(), page.say("invitation-title")).back("/sign-in", page.say("sign-in"));
    leaf.text("invitation-intro");
    let code = visit.field("code").unwrap_or_default();
    let form = Form::new("/invitation", "invitation", page.say("invitation-save"))
        .field(
            Field::new("code", page.say("invitation-your-code"), Input::Text)
                .value(code)
                .required(),
        )
        .field(
            Field::new("password", page.say("invitation-password"), Input::Secret)
                .hint(page.say("invitation-password-hint"))
                .required(),
        );
    leaf.form(visit, refusal, form);
    leaf.answer(refusal)
}

/// Sets the password.
pub(super) async fn accept_invitation(visit: Visit) -> Shown {
    let code = visit.field("code").unwrap_or_default().to_owned();
    let password = visit.fields.iter().find(|(n, _)| n == "password");
    let password = password.map(|(_, p)| p.clone()).unwrap_or_default();
    match visit.state.app.accept(&code, password).await {
        Ok(()) => Ok(go("/sign-in?ready=1")),
        Err(error) => {
            let refusal = Refusal::of(&visit, "invitation", error)?;
            invitation(&visit, Some(&refusal))
        }
    }
}
