//! Text messages of members: whose numbers there are, a text taken in one change, answers to be
//! sent. What a text says is read by `traybook-texts`; `README.md` of that crate follows one text.

mod carriers;
mod counts;
mod meant;
mod menu;
mod money;
mod numbers;
mod reminders;
mod said;
mod scene;
mod sending;
mod take;
mod usage;
mod write;

pub use carriers::{CLOCKS_APART_S, Carrier, Carriers, Served, Signed, sign};
pub use counts::TextCounts;
pub use menu::{MENU_INPUT_MAX, MenuCall, MenuSaid, SESSION_MAX};
pub use numbers::NewLink;
pub use sending::{LEASE_S, TEXTS_KEPT_DAYS};
pub use take::{Come, Spoken};
pub use usage::{SILENT_DAYS, Unclear};

use crate::error::AppError;
use traybook_storage::Conn;
use traybook_storage::texts::{self, Out};
use traybook_texts::gsm;
use uuid::Uuid;

/// Milliseconds of an hour.
const HOUR_MS: i64 = 60 * 60 * 1_000;
/// After that an answer is of no use.
const ANSWER_MS: i64 = 6 * HOUR_MS;

/// What a text is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Purpose {
    /// To a text of the member.
    Answer,
    /// The code that verifies a number.
    Code,
    /// Work that is due.
    Reminder,
    /// Something that must not be fed or soaked.
    Caution,
    /// A month's result.
    Result,
}

impl Purpose {
    const fn text(self) -> &'static str {
        match self {
            Self::Answer => "answer",
            Self::Code => "code",
            Self::Reminder => "reminder",
            Self::Caution => "caution",
            Self::Result => "result",
        }
    }
}

/// A text to be sent.
struct ToSend<'a> {
    id: Uuid,
    number: &'a str,
    body: &'a str,
    purpose: Purpose,
    /// Two texts with one key are one.
    key: String,
    not_before: i64,
    expires_at: i64,
}

impl ToSend<'_> {
    /// Puts it into the outbox; false where one with its key is there.
    fn put(&self, conn: &mut Conn, coop: i64, now: i64) -> Result<bool, AppError> {
        let body = gsm::fit(self.body, gsm::SEGMENT);
        let out = Out {
            id: self.id,
            seq: now,
            number: self.number.to_owned(),
            segments: i64::try_from(gsm::segments(&body)).unwrap_or(1),
            body: Some(body),
            purpose: self.purpose.text().to_owned(),
            dedup_key: self.key.clone(),
            state: "waiting".to_owned(),
            not_before: self.not_before,
            expires_at: self.expires_at,
            made_at: now,
            tries: 0,
            lease_until: None,
            carrier: None,
            settled_at: None,
        };
        Ok(texts::add_out(conn, coop, &out)?)
    }
}
