//! Signing in and out.

use crate::problem::Problem;
use crate::request::{Answer, Request, json};
use actix_web::HttpResponse;
use serde::{Deserialize, Serialize};
use traybook_app::Actor;
use traybook_app::people::second::Proof;
use traybook_app::people::session::{Attempt, SignedIn};
use traybook_domain::time::format_instant;
use traybook_domain::value::Instant;
use utoipa::ToSchema;
use uuid::Uuid;

const JSON: &[&str] = &["application/json"];
/// Digits of the number of a line of the security log.
const LINE_DIGITS_MAX: usize = 19;

/// Who wants to sign in.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SignInRequest {
    /// E-mail address or telephone number.
    #[schema(example = "manager@nyota.example", max_length = 200)]
    login: String,
    /// Password.
    #[schema(example = "three words apart", max_length = 128)]
    password: String,
    /// The co-operative, for people who belong to several.
    #[serde(default)]
    #[schema(format = "uuid")]
    cooperative_id: Option<Uuid>,
    /// The device token of an earlier answer to this person on this device. With it the failures of
    /// others do not make this device wait.
    #[serde(default)]
    #[schema(max_length = 200)]
    device_token: Option<String>,
    /// A code of the second factor, of whoever has one; a recovery code stands for it once.
    #[serde(default)]
    #[schema(max_length = 20)]
    code: Option<String>,
}

/// A code of the second factor.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ProofRequest {
    /// The code that is shown now, or a recovery code.
    #[schema(example = "287082", max_length = 20)]
    code: String,
}

/// A refresh token.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RefreshRequest {
    /// The refresh token of the last answer.
    #[schema(max_length = 200)]
    refresh_token: String,
}

/// A one-time code and the password it sets.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AcceptRequest {
    /// The code.
    #[schema(max_length = 200)]
    code: String,
    /// The new password, 10 to 128 characters; three words that do not belong together are good.
    /// A member may take a PIN of 6 to 9 digits instead.
    #[schema(example = "maize lantern bicycle", min_length = 6, max_length = 128)]
    password: String,
}

/// Who is signed in.
#[derive(Serialize, ToSchema)]
pub struct SessionResponse {
    /// The person.
    #[schema(format = "uuid")]
    person_id: Uuid,
    /// Name.
    name: String,
    /// Role.
    #[schema(example = "manager")]
    role: &'static str,
    /// The member this person is.
    #[schema(format = "uuid")]
    member_id: Option<Uuid>,
    /// The co-operative.
    #[schema(format = "uuid")]
    cooperative_id: Uuid,
    /// Its name.
    cooperative: String,
    /// Its currency, ISO 4217.
    currency: String,
    /// Its IANA time zone.
    zone: String,
    /// Areas of an officer, with everything below them.
    #[schema(value_type = Vec<String>)]
    area_ids: Vec<Uuid>,
}

/// Tokens.
#[derive(Serialize, ToSchema)]
pub struct SignedInResponse {
    /// Access token (JWT); send it as `Authorization: Bearer …`.
    access_token: String,
    /// Always `Bearer`.
    token_type: &'static str,
    /// Life of the access token, seconds.
    expires_in_s: i64,
    /// Refresh token, for one use.
    refresh_token: String,
    /// Its end.
    #[schema(format = "date-time")]
    refresh_expires_at: String,
    /// Keep it on the device and send it with the next sign-in. It opens nothing. Exchanging a
    /// refresh token gives none.
    #[serde(skip_serializing_if = "String::is_empty")]
    device_token: String,
    /// Who signed in.
    session: SessionResponse,
}

/// A one-time code.
#[derive(Serialize, ToSchema)]
pub struct InvitationResponse {
    /// The code; it is not shown again.
    code: String,
    /// Its end.
    #[schema(format = "date-time")]
    expires_at: String,
}

fn session(actor: &Actor) -> SessionResponse {
    SessionResponse {
        person_id: actor.person,
        name: actor.name.clone(),
        role: actor.role.text(),
        member_id: actor.member,
        cooperative_id: actor.coop.id,
        cooperative: actor.coop.name.clone(),
        currency: actor.coop.currency.clone(),
        zone: actor.coop.zone.to_string(),
        area_ids: actor.areas.clone(),
    }
}

fn tokens(r: &Request, s: SignedIn) -> HttpResponse {
    let now_s = r.app().now().0.div_euclid(1000);
    HttpResponse::Created().insert_header(("cache-control", "no-store")).json(SignedInResponse {
        expires_in_s: s.access_expires_s - now_s,
        access_token: s.access_token,
        token_type: "Bearer",
        refresh_token: s.refresh_token,
        refresh_expires_at: format_instant(Instant(s.refresh_expires_ms)),
        device_token: s.device_token,
        session: session(&s.actor),
    })
}

/// Signs in.
pub async fn sign_in(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let asked: SignInRequest = r.json()?;
    let attempt = Attempt {
        login: asked.login,
        password: asked.password,
        cooperative: asked.cooperative_id,
        address: r.state.client_address(&r.http),
        devices: asked.device_token.into_iter().collect(),
        code: asked.code,
        passkey: None,
        device: "program",
    };
    let signed = r.app().sign_in(attempt).await?;
    Ok(tokens(&r, signed))
}

/// Exchanges a refresh token.
pub async fn refresh(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let asked: RefreshRequest = r.json()?;
    let signed = r.app().refresh(&asked.refresh_token).await?;
    Ok(tokens(&r, signed))
}

/// Sets a password with a one-time code.
pub async fn accept(r: Request) -> Answer {
    r.known_query([])?;
    let asked: AcceptRequest = r.json()?;
    let address = r.state.client_address(&r.http);
    r.app().accept(&asked.code, asked.password, &address).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Who is signed in.
pub async fn get(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let body = serde_json::to_string(&session(r.actor()?)).unwrap_or_default();
    Ok(json(body))
}

/// Signs out.
pub async fn sign_out(r: Request) -> Answer {
    r.known_query([])?;
    if let Some((actor, family)) = &r.signed_in {
        r.app().sign_out(actor, *family).await?;
    }
    Ok(HttpResponse::NoContent().finish())
}

/// Proves the second factor once more.
pub async fn prove(r: Request) -> Answer {
    r.known_query([])?;
    let asked: ProofRequest = r.json()?;
    r.app().prove(r.actor()?, &Proof::Code(asked.code)).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Makes a one-time code.
pub async fn invite(r: Request) -> Answer {
    r.accepts(JSON)?;
    r.known_query([])?;
    let (code, expires) = r.app().invite(r.actor()?, r.id()?).await?;
    Ok(HttpResponse::Created()
        .insert_header(("cache-control", "no-store"))
        .json(InvitationResponse { code, expires_at: format_instant(Instant(expires)) }))
}

/// The security log.
pub async fn security_log(r: Request) -> Answer {
    r.accepts(JSON)?;
    let [before, of] = r.known_query(["before", "of"])?;
    let parsed = |text: String| match text.len() <= LINE_DIGITS_MAX {
        true => text.parse::<i64>().ok(),
        false => None,
    };
    let detail = "give a whole number, as `next` of an answer has it";
    let wrong = || Problem::field("before", "type", detail);
    let before = before.map(|text| parsed(text).ok_or_else(wrong)).transpose()?;
    let of_none = match of.as_deref() {
        None | Some("cooperative") => false,
        Some("none") => true,
        Some(_) => return Err(Problem::field("of", "choice", "give cooperative or none")),
    };
    let log = r.app().security_log(r.actor()?, before, of_none).await?;
    r.answer_json(&log)
}
