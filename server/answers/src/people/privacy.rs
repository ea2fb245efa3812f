//! What is held about a member: a copy to hand over, and what an erasure did.

use crate::records::RecordVersion;
use crate::wire::Time;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use utoipa::ToSchema;
use uuid::Uuid;

/// Everything that is held about a member, as of one moment.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PersonalCopy {
    /// Name of the co-operative that holds it.
    pub cooperative: String,
    /// When the copy was made.
    pub made_at: Time,
    /// The member.
    pub member_id: Uuid,
    /// Membership number.
    pub member_number: String,
    /// Records by kind: the member, the farms, all that was recorded of them, attendances. Each with
    /// all its versions, the current one last.
    #[schema(value_type = BTreeMap<String, Vec<HeldRecord>>)]
    pub records: BTreeMap<String, Vec<HeldRecord>>,
    /// Accounts with which the member signs in. Passwords are held as hashes and not handed out.
    pub accounts: Vec<HeldAccount>,
    /// Pictures, by the id of their record; their files are at `/v1/photos/{id}/content`.
    pub pictures: Vec<Uuid>,
    /// Closed months whose report names the member.
    pub closed_months: Vec<crate::wire::Month>,
    /// Telephone numbers that the member writes from, ended ones too.
    pub text_numbers: Vec<String>,
}

/// One record with all its versions.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct HeldRecord {
    /// The record.
    pub id: Uuid,
    /// When it was withdrawn.
    pub withdrawn_at: Option<Time>,
    /// Its versions, the current one last.
    pub versions: Vec<RecordVersion>,
}

/// An account of the member.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct HeldAccount {
    /// The person that signs in.
    pub person_id: Uuid,
    /// When the password or PIN was set; null where none is.
    pub password_set_at: Option<Time>,
    /// Sign-ins that have not ended.
    pub sessions: Vec<HeldSession>,
}

/// A sign-in of the member.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct HeldSession {
    /// The sign-in.
    pub id: Uuid,
    /// Until when it holds unless it is used again.
    pub expires_at: Time,
}

/// What an erasure did.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Erased {
    /// Records whose personal fields or texts were emptied.
    pub records: usize,
    /// Earlier versions in which they were emptied.
    pub versions: usize,
    /// Pictures that were deleted.
    pub pictures: usize,
    /// Accounts that were closed.
    pub accounts: usize,
    /// Closed months whose report now shows the number in place of the name.
    pub closed_months: usize,
}

/// What to erase.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct EraseRequest {
    /// The membership number once more, so that nobody erases another member by a slip.
    pub member_number: String,
    /// Who asked for it and when.
    #[schema(max_length = 500)]
    pub reason: String,
}

/// How long something is kept.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Kept {
    /// Of what.
    pub what: KeptWhat,
    /// Days; null where it is kept until it is erased.
    pub days: Option<i64>,
}

choice! {
    /// What is kept.
    KeptWhat {
        /// Records and their history.
        Records = "records",
        /// Pictures.
        Pictures = "pictures",
        /// Reports of closed months.
        Reports = "reports",
        /// Sign-ins that are not used.
        Sessions = "sessions",
        /// One-time codes.
        Codes = "codes",
        /// Failed sign-ins.
        Failures = "failures",
        /// Lines of the security log.
        SecurityLog = "security_log",
        /// Text messages of known numbers.
        Texts = "texts",
    }
}
