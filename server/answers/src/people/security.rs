//! What concerns security, as it was noted.

use crate::wire::Time;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

choice! {
    /// What happened.
    SecurityEvent {
        SignedIn = "signed_in",
        SignInFailed = "sign_in_failed",
        SignInRefused = "sign_in_refused",
        SignedOut = "signed_out",
        SessionsEnded = "sessions_ended",
        CodeMade = "code_made",
        PhoneLost = "phone_lost",
        PasswordSet = "password_set",
        PasswordChanged = "password_changed",
        SecondFactorOn = "second_factor_on",
        SecondFactorOff = "second_factor_off",
        SecondFactorFailed = "second_factor_failed",
        PasskeyAdded = "passkey_added",
        PasskeyRemoved = "passkey_removed",
        RecoveryCodeUsed = "recovery_code_used",
        Denied = "denied",
        ReadPersonal = "read_personal",
        Exported = "exported",
        Restored = "restored",
        MemberErased = "member_erased",
        SumsOpened = "sums_opened",
        SumsClosed = "sums_closed",
    }
}

/// A line of the security log.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct SecurityLine {
    /// Its number.
    pub seq: i64,
    /// When.
    pub at: Time,
    /// What happened.
    pub event: SecurityEvent,
    /// Name of who did it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// The person or farm that it was done to.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub about: Option<String>,
    /// Keyed hash of the login.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub account: Option<String>,
    /// Keyed hash of the address.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub address: Option<String>,
    /// What else there is to say: an operation, a page, what was tried.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub detail: Option<String>,
}

/// One of a person's own sign-ins.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct OwnSignIn {
    /// Its id.
    pub id: Uuid,
    /// When it began.
    pub begun_at: Time,
    /// When it was seen last, about.
    pub seen_at: Time,
    /// Kind of device: phone, computer, program, or unknown.
    pub device: String,
    /// Whether it is the one that asks.
    pub is_this: bool,
}

/// One of a person's own passkeys.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct OwnPasskey {
    /// Its id.
    pub id: Uuid,
    /// What its owner calls it.
    pub name: String,
    /// When it was added.
    pub made_at: Time,
    /// When it was used last.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub used_at: Option<Time>,
}

/// Lines of the security log, the newest first.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct SecurityLog {
    /// The lines.
    pub items: Vec<SecurityLine>,
    /// Ask for those before this number; none at the end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next: Option<i64>,
}
