//! Text messages: what carriers hand over and fetch, whose numbers there are, what it all costs.

use crate::wire::Time;
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// A text that a carrier hands over.
#[derive(Clone, Debug, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TakeTextRequest {
    /// The carrier's own name of it: the same text has the same id.
    #[schema(min_length = 1, max_length = 200)]
    pub id: String,
    /// Number of the sender.
    #[schema(min_length = 1, max_length = 40, example = "+255700000101")]
    pub from: String,
    /// Number that was written to.
    #[serde(default)]
    #[schema(max_length = 40)]
    pub to: Option<String>,
    /// What was written; null for a call that nobody took.
    #[serde(default)]
    #[schema(max_length = 2000)]
    pub text: Option<String>,
    /// When it was sent, as the carrier knows it.
    #[serde(default)]
    pub sent_at: Option<Time>,
}

choice! {
    /// What became of a text.
    TextOutcome {
        /// Records were made.
        Record = "record",
        /// Something was asked back.
        Ask = "ask",
        /// A question was answered.
        Answer = "answer",
        /// It can not be.
        Refuse = "refuse",
        /// What the last text made was taken back.
        Undo = "undo",
        NothingToUndo = "nothing-to-undo",
        /// The officer is called.
        Officer = "officer",
        Stop = "stop",
        Start = "start",
        Language = "language",
        /// The same text came before, and made its records then.
        Repeat = "repeat",
        Unclear = "unclear",
        /// The number is none of ours.
        Unknown = "unknown",
        /// The number was verified by its code.
        Verified = "verified",
        /// More than a number may write on a day.
        TooMany = "too-many",
    }
}

/// A text, taken.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TextTaken {
    pub outcome: TextOutcome,
    /// Whether it was taken now; false for one that had come before.
    pub is_new: bool,
}

/// A step of a menu over USSD.
#[derive(Clone, Debug, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TextMenuRequest {
    /// The carrier's own name of the session.
    #[schema(min_length = 1, max_length = 100)]
    pub session: String,
    /// Number of the member.
    #[schema(min_length = 1, max_length = 40, example = "+255700000101")]
    pub from: String,
    /// Number or code that was called.
    #[serde(default)]
    #[schema(max_length = 40)]
    pub to: Option<String>,
    /// What was typed; empty where the session begins.
    #[serde(default)]
    #[schema(max_length = 400, example = "1*12.5")]
    pub input: String,
    /// Whether that is all since the session began, joined by stars; else it is the last alone.
    #[serde(default)]
    pub is_joined: bool,
}

/// What a menu shows.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TextMenu {
    /// At most 182 septets of the alphabet of 3GPP TS 23.038.
    pub text: String,
    /// Whether the session is over.
    pub ends: bool,
}

/// What a carrier asks for.
#[derive(Clone, Debug, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LeaseTextsRequest {
    /// Texts at most.
    #[schema(minimum = 1, maximum = 100)]
    pub most: i64,
}

/// Texts to be sent, for a while only this carrier's.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LeasedTexts {
    pub items: Vec<LeasedText>,
    /// Seconds in which they must be settled; then they are handed out again.
    pub lease_s: i64,
}

/// A text to be sent.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LeasedText {
    pub id: Uuid,
    pub to: String,
    /// At most 160 septets of the alphabet of 3GPP TS 23.038.
    pub text: String,
    /// After that it is of no use.
    pub expires_at: Time,
}

/// What became of leased texts.
#[derive(Clone, Debug, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SettleTextsRequest {
    #[schema(max_items = 100)]
    pub items: Vec<SettledText>,
}

choice! {
    /// What became of a text.
    SettledState {
        /// Handed over to the network.
        Sent = "sent",
        /// Not this time; it is tried again.
        Failed = "failed",
        /// Never: the number does not exist.
        Refused = "refused",
    }
}

/// One of them.
#[derive(Clone, Debug, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SettledText {
    pub id: Uuid,
    pub state: SettledState,
}

/// How many were settled; others were no longer this carrier's.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TextsSettled {
    pub settled: i64,
}

choice! {
    /// How a number stands.
    TextNumberState {
        /// Its code has not come back.
        Pending = "pending",
        Active = "active",
        /// It wants no reminders.
        Stopped = "stopped",
        Ended = "ended",
    }
}

/// Whose a number is, and what it may hear.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TextNumber {
    pub id: Uuid,
    #[schema(example = "+255700000101")]
    pub number: String,
    pub member_id: Uuid,
    pub member_name: String,
    /// The one farm that it is for; null for all of the member's.
    pub farm_id: Option<Uuid>,
    pub state: TextNumberState,
    pub language: String,
    pub reminders: bool,
    pub cautions: bool,
    pub money: bool,
    pub consent_on: NaiveDate,
    pub verified_at: Option<Time>,
    /// When a text came from it last.
    pub heard_at: Option<Time>,
    pub ended_at: Option<Time>,
}

/// The numbers of a co-operative.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TextNumbers {
    pub items: Vec<TextNumber>,
}

/// A number that a member wants to write from.
#[derive(Clone, Debug, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LinkNumberRequest {
    /// As it is dialled, or with + and the calling code.
    #[schema(min_length = 1, max_length = 40)]
    pub number: String,
    pub member_id: Uuid,
    /// One farm of the member; all where none is given.
    #[serde(default)]
    pub farm_id: Option<Uuid>,
    /// Language of its texts.
    #[serde(default)]
    #[schema(example = "sw")]
    pub language: Option<String>,
    /// Day on which the member agreed.
    pub consent_on: NaiveDate,
    #[serde(default)]
    pub reminders: bool,
    #[serde(default)]
    pub cautions: bool,
    /// Saving and debt.
    #[serde(default)]
    pub money: bool,
}

/// What a period of texts was: numbers, what was not understood, segments by purpose.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TextsUse {
    pub from: NaiveDate,
    pub to: NaiveDate,
    /// Texts that came.
    pub came: i64,
    /// Of those of known numbers: not understood.
    pub unclear: i64,
    /// Sent or waiting, by purpose.
    pub purposes: Vec<TextsOfPurpose>,
    /// Segments of all of them.
    pub segments: i64,
    /// Segments that a month may take; null where none is set.
    pub budget: Option<i64>,
    /// When a carrier spoke last.
    pub heard_at: Option<Time>,
    /// When the oldest text that waits was made.
    pub oldest_waiting: Option<Time>,
}

/// Texts of one purpose.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TextsOfPurpose {
    #[schema(example = "answer")]
    pub purpose: String,
    pub texts: i64,
    pub segments: i64,
    /// Given up: too late, or refused by the network.
    pub given_up: i64,
}
