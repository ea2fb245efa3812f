//! Signing in and out, and the choice of language.

use super::blocks::{Block, Field, Form, Input, Leaf, Refusal};
use super::own::by_passkey;
use super::page::{Page, start};
use super::passkeys::answered;
use super::site::{DEVICE, LANGUAGE, SIGN_IN, Shown, clear, go, own_address, show};
use super::visit::Visit;
use actix_web::HttpResponse;
use actix_web::cookie::{Cookie, SameSite, time};
use actix_web::http::StatusCode;
use askama::Template;
use traybook_app::AppError;
use traybook_app::people::second::CODE_DIGITS;
use traybook_app::people::session::{Attempt, SignedIn};
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
    /// The form that is sent after signing in.
    kept: Option<&'a Kept>,
    /// What stands for login and password, where a code of the second factor is asked for.
    ticket: Option<String>,
    /// The form that asks for a passkey in place of a code.
    passkey: Option<Form>,
    /// Co-operatives to choose from, where the person belongs to several.
    cooperatives: Vec<(Uuid, String)>,
}

impl SignInPage<'_> {
    /// What a code is.
    fn code_hint(&self) -> String {
        self.page.with("second-code-hint", "digits", CODE_DIGITS.to_string())
    }
}

/// A form that came after its sign-in had ended. Its fields go along with signing in, under names
/// of their own, and stand on a page to be sent then.
pub(super) struct Kept {
    pub action: String,
    /// Its fields, in order.
    pub fields: Vec<(String, String)>,
    /// Whether files came with it, which do not go along.
    pub had_files: bool,
    /// The id of the person whose page it was on; empty where it does not say.
    pub by: String,
}

impl Kept {
    /// That of a request, where it is not too large: what belongs to a sign-in stays out.
    pub fn of(visit: &Visit) -> Option<Self> {
        let is_kept = |(name, _): &&(String, String)| {
            !matches!(name.as_str(), "by" | "csrf" | "password" | "old" | "new")
        };
        let fields: Vec<(String, String)> = visit.fields.iter().filter(is_kept).cloned().collect();
        let size: usize = fields.iter().map(|(name, value)| name.len() + value.len()).sum();
        (size <= limits::KEPT_FORM_BYTES_MAX).then(|| Self {
            action: visit.here.clone(),
            fields,
            had_files: visit.files.iter().any(|f| !f.bytes.is_empty()),
            by: visit.field("by").unwrap_or_default().to_owned(),
        })
    }

    /// A form that is sent first, with one that waits.
    pub fn along_with(kept: Option<&Self>, form: Form) -> Form {
        let Some(kept) = kept else { return form };
        let form = form.hide("kept", &*kept.action).hide("kept-by", &*kept.by);
        let form = if kept.had_files { form.hide("kept-files", "1") } else { form };
        let fields = kept.fields.iter();
        fields.fold(form, |form, (name, value)| form.hide(format!("kept.{name}"), value))
    }

    /// That which goes along with signing in; none where there is none.
    pub fn along(visit: &Visit) -> Option<Self> {
        let action = visit.field("kept").and_then(own_address)?.to_owned();
        let own = |(name, value): &(String, String)| {
            Some((name.strip_prefix("kept.")?.to_owned(), value.clone()))
        };
        let fields = visit.fields.iter().filter_map(own).collect();
        let had_files = visit.field("kept-files").is_some();
        let by = visit.field("kept-by").unwrap_or_default().to_owned();
        Some(Self { action, fields, had_files, by })
    }
}

/// The form, with another one that waits for it.
pub(super) fn sign_in_first(page: &Page, kept: &Kept) -> Shown {
    first(page.clone(), ("", false), Some(kept))
}

/// The form as it is met.
fn first(page: Page, (to, is_ready): (&str, bool), kept: Option<&Kept>) -> Shown {
    let (error, login, ticket, cooperatives) = (None, "", None, Vec::new());
    let passkey = None;
    let form = SignInPage { page, error, login, to, is_ready, kept, ticket, passkey, cooperatives };
    show(&form, StatusCode::OK)
}

/// The form that waited, to be sent by whoever has signed in now.
pub(super) fn send_kept(visit: &Visit, kept: Kept) -> Shown {
    let page = visit.page();
    let mut leaf = Leaf::new(page.clone(), page.say("kept-title"));
    leaf.text("kept-about");
    if !kept.by.is_empty() && kept.by != page.person {
        leaf.add(Block::Caution(page.say("kept-of-another")));
    }
    if kept.had_files {
        leaf.add(Block::Notice(page.say("kept-no-files")));
    }
    // What has a name in words is told under it; of the rest what was written in sentences.
    let known = |(name, value): &(String, String)| {
        let is_id = Uuid::try_parse(value).is_ok();
        let name = page.language.known(&format!("field-{name}"), &[])?;
        (!value.trim().is_empty() && !is_id).then(|| (name, value.clone()))
    };
    let facts: Vec<(String, String)> = kept.fields.iter().filter_map(known).collect();
    let others = kept.fields.iter().filter(|f| known(f).is_none());
    for (_, value) in others.filter(|(_, value)| value.trim().contains(char::is_whitespace)) {
        leaf.add(Block::Text(value.clone()));
    }
    if !facts.is_empty() {
        leaf.add(Block::Facts(facts));
    }
    let form = Form::new(kept.action, "kept", page.say("kept-send"));
    let form = kept.fields.into_iter().fold(form, |form, (name, value)| form.hide(name, value));
    leaf.form(visit, None, form);
    leaf.show()
}

pub(super) async fn show_form(visit: Visit) -> Shown {
    let page = visit.page();
    let to = visit.field("to").and_then(own_address).unwrap_or_default();
    let is_ready = visit.field("ready").is_some();
    first(page, (to, is_ready), None)
}

/// Signs in: with a password, or with a code after it.
pub(super) async fn sign_in(visit: Visit) -> Shown {
    let kept = Kept::along(&visit);
    let password = visit.fields.iter().find(|(n, _)| n == "password");
    let attempt = Attempt {
        login: visit.field("login").unwrap_or_default().to_owned(),
        password: password.map(|(_, p)| p.clone()).unwrap_or_default(),
        cooperative: visit.field("cooperative").and_then(|id| Uuid::try_parse(id).ok()),
        address: visit.client.clone(),
        devices: visit.devices.clone(),
        code: visit.field("code").map(str::to_owned),
        passkey: answered(&visit),
        device: visit.device,
    };
    let app = &visit.state.app;
    let done = match visit.field("ticket") {
        Some(ticket) => app.sign_in_second(ticket, attempt).await,
        None => app.sign_in(attempt).await,
    };
    match done {
        Ok(signed_in) => entered(visit, signed_in, kept).await,
        Err(error) => not_entered(&visit, error, kept).await,
    }
}

/// The first page after signing in, or the form that waited for it.
async fn entered(mut visit: Visit, signed_in: SignedIn, kept: Option<Kept>) -> Shown {
    // One browser is one person: the earlier sign-in ends.
    if let Some((actor, family, _)) = &visit.who {
        visit.state.app.sign_out(actor, *family).await?;
    }
    let life = time::Duration::seconds(limits::REFRESH_TOKEN_S);
    let cookie = secret_cookie(SIGN_IN, signed_in.refresh_token.clone(), life);
    let known = device_cookie(vec![signed_in.device_token], &visit.devices);
    let mut response = match kept {
        Some(kept) => {
            let actor = signed_in.actor;
            visit.language = Language::parse(&actor.language).unwrap_or(visit.language);
            visit.who = Some((actor, Uuid::nil(), signed_in.refresh_token));
            send_kept(&visit, kept)?
        }
        None => {
            let to = visit.field("to").and_then(own_address);
            go(to.unwrap_or_else(|| start(signed_in.actor.role)))
        }
    };
    set_cookies(&mut response, &[cookie, known])?;
    Ok(response)
}

/// The form once more, with what is missing or wrong.
async fn not_entered(visit: &Visit, error: AppError, kept: Option<Kept>) -> Shown {
    let page = visit.page();
    let cooperatives = match &error {
        AppError::Conflict { detail, .. } => {
            let ids = detail.split([' ', ',']).filter_map(|id| Uuid::try_parse(id).ok());
            visit.state.app.cooperative_names(ids.collect()).await?
        }
        _ => Vec::new(),
    };
    let mut ticket = visit.field("ticket").map(str::to_owned);
    let (status, text) = match error {
        AppError::SecondFactor { ticket: new } => {
            ticket = Some(new);
            (StatusCode::OK, None)
        }
        AppError::Invalid(_) if ticket.is_some() => {
            let is_passkey = visit.field("question").is_some();
            let key = if is_passkey { "passkey-wrong" } else { "wrong-code" };
            (StatusCode::UNPROCESSABLE_ENTITY, Some(page.say(key)))
        }
        AppError::WrongPassword | AppError::Invalid(_) => {
            ticket = None;
            (StatusCode::UNPROCESSABLE_ENTITY, Some(page.say("wrong-sign-in")))
        }
        AppError::TooMany { retry_after_s } => {
            let minutes = i64::from(retry_after_s.div_ceil(60));
            (StatusCode::TOO_MANY_REQUESTS, Some(page.with("wait-sign-in", "minutes", minutes)))
        }
        AppError::Conflict { .. } => (StatusCode::CONFLICT, Some(page.say("choose-cooperative"))),
        _ => return Err(error),
    };
    let to = visit.field("to").and_then(own_address).unwrap_or_default();
    let login = visit.field("login").unwrap_or_default();
    let (is_ready, kept, error) = (false, kept.as_ref(), text);
    let passkey = match &ticket {
        Some(ticket) => ask_passkey(visit, ticket, (login, to), kept).await?,
        None => None,
    };
    let form = SignInPage { page, error, login, to, is_ready, kept, ticket, passkey, cooperatives };
    show(&form, status)
}

/// The form that asks for a passkey in place of a code; none where the person has none.
async fn ask_passkey(
    visit: &Visit,
    ticket: &str,
    (login, to): (&str, &str),
    kept: Option<&Kept>,
) -> Result<Option<Form>, AppError> {
    let origin = visit.state.settings.public_address.as_deref();
    let asked = visit.state.app.ask_passkey_for_ticket(ticket, origin).await?;
    Ok(asked.map(|asked| {
        let form = by_passkey(&visit.page(), "/sign-in", asked);
        let form = form.hide("ticket", ticket).hide("login", login).hide("to", to);
        Kept::along_with(kept, form)
    }))
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

/// The devices that this browser is, the newest first. It outlives signing out.
pub(super) fn device_cookie(mut new: Vec<String>, known: &[String]) -> Cookie<'static> {
    new.extend(known.iter().cloned());
    new.truncate(limits::DEVICE_PEOPLE_MAX);
    let life = time::Duration::milliseconds(limits::DEVICE_KNOWN_MS);
    secret_cookie(DEVICE, new.join("~"), life)
}

pub(super) fn set_cookies(response: &mut HttpResponse, cookies: &[Cookie]) -> Result<(), AppError> {
    for cookie in cookies {
        response.add_cookie(cookie).map_err(|e| AppError::Internal(e.to_string()))?;
    }
    Ok(())
}

/// Takes the cookie of a sign-in back.
pub(super) fn sign_in_gone() -> Cookie<'static> {
    secret_cookie(SIGN_IN, String::new(), time::Duration::ZERO)
}

/// Signs out. What a phone keeps unsent stays there.
pub(super) async fn sign_out(visit: Visit) -> Shown {
    if let Some((actor, family, _)) = &visit.who {
        visit.state.app.sign_out(actor, *family).await?;
    }
    let mut response = go("/sign-in");
    set_cookies(&mut response, &[sign_in_gone()])?;
    clear(&mut response);
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
    set_cookies(&mut response, &[cookie])?;
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
    match visit.state.app.accept(&code, password, &visit.client).await {
        Ok(devices) => {
            let mut response = go("/sign-in?ready=1");
            set_cookies(&mut response, &[device_cookie(devices, &visit.devices)])?;
            Ok(response)
        }
        Err(error) => {
            let refusal = Refusal::of(&visit, "invitation", error)?;
            invitation(&visit, Some(&refusal))
        }
    }
}
