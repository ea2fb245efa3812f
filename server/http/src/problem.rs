//! Errors as problem details (RFC 9457). Every answer of 400 and above goes through here.

use actix_web::HttpResponse;
use actix_web::http::header::{
    ALLOW, CACHE_CONTROL, CONTENT_TYPE, HeaderValue, RETRY_AFTER, WWW_AUTHENTICATE,
};
use actix_web::http::{ConnectionType, StatusCode};
use serde::Serialize;
use traybook_app::AppError;
use traybook_domain::FieldError;
use utoipa::ToSchema;

/// A problem on its way out.
#[derive(Clone, Debug)]
pub struct Problem {
    /// What kind of problem.
    pub code: Code,
    /// What happened and what to do, for this case.
    pub detail: String,
    /// Fields that break rules.
    pub errors: Vec<FieldError>,
    /// Finer code of a conflict.
    pub conflict: Option<&'static str>,
    /// Seconds after which it may pass.
    pub retry_after_s: Option<u32>,
    /// Methods that the path knows.
    pub allow: Option<String>,
    /// Version of the record now.
    pub current_version: Option<i64>,
}

macro_rules! codes {
    ($($(#[doc = $doc:literal])* $name:ident = $code:literal, $status:literal, $title:literal;)*) => {
        /// Kinds of problem. Codes are never renamed or reused.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum Code { $($(#[doc = $doc])* $name),* }
        impl Code {
            /// All codes.
            pub const ALL: &'static [Code] = &[$(Code::$name),*];
            /// The stable code.
            #[must_use]
            pub const fn text(self) -> &'static str { match self { $(Self::$name => $code),* } }
            /// HTTP status.
            #[must_use]
            pub const fn status(self) -> u16 { match self { $(Self::$name => $status),* } }
            /// Short title.
            #[must_use]
            pub const fn title(self) -> &'static str { match self { $(Self::$name => $title),* } }
            /// Meaning, and what the client should do.
            #[must_use]
            pub const fn doc(self) -> &'static str { match self { $(Self::$name => concat!($($doc),*)),* } }
        }
    };
}

codes! {
    /// The body is not JSON, or not readable at all. Send what the documentation shows.
    Malformed = "malformed", 400, "The request can not be read";
    /// The cursor belongs to a list with other conditions. Begin at the first page.
    Cursor = "cursor", 400, "The cursor does not fit";
    /// Nobody is signed in, or no longer. Refresh the token or sign in.
    Unauthenticated = "unauthenticated", 401, "Sign in first";
    /// Login and password do not fit together.
    WrongPassword = "wrong_password", 401, "Wrong login or password";
    /// The role does not allow this.
    Forbidden = "forbidden", 403, "Not allowed";
    /// The person has a second factor, and it was not proved lately. Send a code to
    /// `POST /v1/session/proof` and repeat.
    ProofNeeded = "proof_needed", 403, "A code is needed first";
    /// There is no such thing, or not for you.
    NotFound = "not_found", 404, "Not found";
    /// The path does not know this method; the header Allow lists those it knows.
    MethodNotAllowed = "method_not_allowed", 405, "Method not allowed";
    /// The answer exists only in the media types listed.
    NotAcceptable = "not_acceptable", 406, "No acceptable form";
    /// The body came too slowly, and the connection is closed. Send it again on a better network.
    TooSlow = "too_slow", 408, "The body came too slowly";
    /// It contradicts what is there; `conflict` says how.
    Conflict = "conflict", 409, "Conflict";
    /// You may since see other records, or were away so long that withdrawals are forgotten. Forget the cursor and begin the feed from the start.
    Gone = "gone", 410, "Begin from the start";
    /// The records were restored from a backup since you got the cursor. Send again all that you sent and still hold, the queue of changes and the pictures; then forget the cursor and begin the feed from the start.
    Restored = "restored", 410, "Send and read everything again";
    /// The record has changed since you read it. Read it again and decide.
    Stale = "stale", 412, "The record has changed";
    /// The body is larger than the limit.
    TooLarge = "too_large", 413, "Too large";
    /// The body is of a media type that is not taken here.
    MediaType = "media_type", 415, "Unsupported media type";
    /// Fields break rules; `errors` lists all of them with what to do.
    Invalid = "invalid", 422, "Some fields need attention";
    /// Send the version you read as If-Match, so that nobody's change is overwritten.
    PreconditionRequired = "precondition_required", 428, "If-Match is missing";
    /// Too many tries. Wait the seconds of Retry-After.
    TooMany = "too_many", 429, "Too many tries";
    /// Our fault. The request id leads us to the log.
    Internal = "internal", 500, "Our fault";
    /// The database is damaged. Trying again does not help: whoever runs the server restores the last backup. Keep what was not sent.
    Damaged = "damaged", 503, "The database is damaged";
    /// This server only answers questions. Send changes and sign-ins to the main server.
    ReadsOnly = "reads_only", 503, "This server only reads";
    /// The database is busy or away. Nothing was lost; try again after Retry-After.
    Unavailable = "unavailable", 503, "Not available at present";
}

/// The body of a problem.
#[derive(Serialize, ToSchema)]
pub struct ProblemDetails {
    /// Address of the explanation of this kind of problem.
    #[schema(rename = "type", example = "/problems/invalid")]
    r#type: String,
    /// Short title.
    title: &'static str,
    /// HTTP status.
    #[schema(example = 422)]
    status: u16,
    /// What happened and what to do.
    detail: String,
    /// Stable code.
    #[schema(example = "invalid")]
    code: &'static str,
    /// Finer code of a conflict.
    #[serde(skip_serializing_if = "Option::is_none")]
    conflict: Option<&'static str>,
    /// Fields that break rules.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    errors: Vec<FieldProblem>,
    /// Version of the record now.
    #[serde(skip_serializing_if = "Option::is_none")]
    current_version: Option<i64>,
    /// Leads to the log.
    request_id: String,
}

/// A field that breaks a rule.
#[derive(Serialize, ToSchema)]
pub struct FieldProblem {
    /// JSON pointer (RFC 6901) to the field, or the name of the parameter.
    #[schema(example = "/litres")]
    pub pointer: String,
    /// Stable code of the rule.
    #[schema(example = "range")]
    pub code: String,
    /// What to do.
    #[schema(example = "give a number from 0 to 100000")]
    pub detail: String,
}

impl From<FieldError> for FieldProblem {
    fn from(e: FieldError) -> Self {
        Self { pointer: e.pointer, code: e.code.to_owned(), detail: e.detail }
    }
}

impl Problem {
    /// A problem of a kind.
    #[must_use]
    pub fn new(code: Code, detail: impl Into<String>) -> Self {
        Self {
            code,
            detail: detail.into(),
            errors: Vec::new(),
            conflict: None,
            retry_after_s: None,
            allow: None,
            current_version: None,
        }
    }

    /// One parameter or field breaks a rule.
    #[must_use]
    pub fn field(field: &str, code: &'static str, detail: impl Into<String>) -> Self {
        AppError::field(field, code, detail).into()
    }

    /// The answer.
    #[must_use]
    pub fn response(self, request_id: &str) -> HttpResponse {
        let status = self.code.status();
        let body = ProblemDetails {
            r#type: format!("/problems/{}", self.code.text()),
            title: self.code.title(),
            status,
            detail: self.detail,
            code: self.code.text(),
            conflict: self.conflict,
            errors: self.errors.into_iter().map(FieldProblem::from).collect(),
            current_version: self.current_version,
            request_id: request_id.to_owned(),
        };
        let code = StatusCode::from_u16(status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
        let mut response = HttpResponse::build(code).json(body);
        if self.code == Code::TooSlow {
            response.head_mut().set_connection_type(ConnectionType::Close);
        }
        let headers = response.headers_mut();
        headers.insert(CONTENT_TYPE, HeaderValue::from_static("application/problem+json"));
        headers.insert(CACHE_CONTROL, HeaderValue::from_static("no-store"));
        if self.code == Code::Unauthenticated || self.code == Code::WrongPassword {
            headers.insert(WWW_AUTHENTICATE, HeaderValue::from_static("Bearer"));
        }
        if let Some(seconds) = self.retry_after_s {
            headers.insert(RETRY_AFTER, HeaderValue::from(seconds));
        }
        if let Some(allow) = self.allow.and_then(|a| HeaderValue::from_str(&a).ok()) {
            headers.insert(ALLOW, allow);
        }
        response
    }
}

impl From<AppError> for Problem {
    fn from(error: AppError) -> Self {
        match error {
            AppError::Invalid(errors) => invalid(errors),
            AppError::Unauthenticated => {
                Self::new(Code::Unauthenticated, "sign in, or refresh the access token")
            }
            AppError::WrongPassword => {
                Self::new(Code::WrongPassword, "login and password do not fit together")
            }
            AppError::Forbidden => Self::new(Code::Forbidden, "your role does not allow this"),
            AppError::ProofNeeded => {
                Self::new(Code::ProofNeeded, "prove the second factor with a code, then repeat")
            }
            AppError::SecondFactor { .. } => {
                let detail = "send a code of the second factor as code";
                Self { conflict: Some("second_factor"), ..Self::new(Code::Conflict, detail) }
            }
            AppError::NotFound => Self::new(Code::NotFound, "there is no such thing for you here"),
            AppError::Conflict { code, detail } => {
                Self { conflict: Some(code), ..Self::new(Code::Conflict, detail) }
            }
            AppError::Stale { current } => {
                let detail = format!("the record is at version {current}; read it again");
                Self { current_version: Some(current), ..Self::new(Code::Stale, detail) }
            }
            AppError::TooMany { retry_after_s } => {
                let detail = format!("wait {retry_after_s} seconds and try again");
                Self { retry_after_s: Some(retry_after_s), ..Self::new(Code::TooMany, detail) }
            }
            AppError::TooLarge { bytes_max } => {
                Self::new(Code::TooLarge, format!("send at most {bytes_max} bytes"))
            }
            AppError::Cursor { gone: false } => {
                Self::new(Code::Cursor, "begin at the first page: this cursor is of another list")
            }
            AppError::Cursor { gone: true } => {
                Self::new(Code::Gone, "begin the feed from the start, without a cursor")
            }
            AppError::Restored => {
                let detail = "the records were restored from a backup: send again all that you sent \
                              and still hold, then begin the feed from the start, without a cursor";
                Self::new(Code::Restored, detail)
            }
            AppError::MediaType => {
                Self::new(Code::MediaType, "send a JPEG, PNG or WebP picture file")
            }
            AppError::Unavailable(context) => unavailable(&context),
            AppError::ReadsOnly => Self::new(
                Code::ReadsOnly,
                "this server only answers questions: send this to the main server; nothing was kept",
            ),
            AppError::Damaged(context) => damaged(&context),
            AppError::Retry => {
                let detail = "too many changes met; try again";
                Self { retry_after_s: Some(1), ..Self::new(Code::Unavailable, detail) }
            }
            AppError::Internal(context) => {
                tracing::error!(context, "internal error");
                Self::new(Code::Internal, "this is our fault; the request id leads us to the log")
            }
        }
    }
}

fn invalid(errors: Vec<FieldError>) -> Problem {
    let detail = match errors.as_slice() {
        [one] => format!("{}: {}", one.field(), one.detail),
        many => format!("{} fields need attention", many.len()),
    };
    Problem { errors, ..Problem::new(Code::Invalid, detail) }
}

fn unavailable(context: &str) -> Problem {
    tracing::error!(context, "the database is not available");
    let detail = "the database is busy or away; nothing was lost, try again";
    Problem { retry_after_s: Some(2), ..Problem::new(Code::Unavailable, detail) }
}

fn damaged(context: &str) -> Problem {
    tracing::error!(context, "the database is damaged; restore the last backup");
    let detail = "the database is damaged, and trying again does not help: restore the last backup \
                  with `traybook restore`";
    Problem::new(Code::Damaged, detail)
}

/// The list of problem codes as a page for people.
#[must_use]
pub fn problems_text() -> String {
    let mut out = String::from(
        "# Problems\n\nPrinted from the code; every error answer carries one of these codes.\n\n\
         | code | status | title | meaning and what to do |\n|---|---|---|---|\n",
    );
    for code in Code::ALL {
        let (text, status, title) = (code.text(), code.status(), code.title());
        out.push_str(&format!("| `{text}` | {status} | {title} | {} |\n", code.doc().trim()));
    }
    out
}
