//! Records of any kind: their history, and what changed.

use crate::wire::{AnyRecord, Time};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value as Json};
use std::num::NonZeroU32;
use utoipa::ToSchema;
use uuid::Uuid;

/// All versions of a record, the current one last.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct RecordHistory {
    pub items: Vec<RecordVersion>,
    /// Versions before the first one here, which lie in an archive of old versions.
    pub archived_versions: i64,
}

choice! {
    /// What made a version.
    RecordAction {
        Created = "created",
        Corrected = "corrected",
        Withdrawn = "withdrawn",
        /// A withdrawal was undone.
        PutBack = "put_back",
        /// Name and texts were emptied, since the member asked for it.
        Erased = "erased",
        /// What made this version lies in an archive of old versions.
        Archived = "archived",
    }
}

choice! {
    /// Where a version came from, beside pages and devices.
    RecordOrigin {
        /// A text message of the member.
        Text = "text",
    }
}

/// One version of a record.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct RecordVersion {
    pub version: i64,
    pub action: RecordAction,
    pub reason: Option<String>,
    pub at: Time,
    pub by: Uuid,
    /// Null where it came from a page, a device or a file.
    pub origin: Option<RecordOrigin>,
    pub record: AnyRecord,
}

/// What changed since a cursor, oldest first, each record once.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Changes {
    pub items: Vec<ChangedRecord>,
    /// Cursor to go on from.
    pub next: String,
    pub has_more: bool,
    pub life: Life,
}

/// Which life of the records an answer is of. Keep `epoch` with what you send. When it differs the
/// next time the records were restored from a backup: send again what you sent after `restored_to`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Life {
    #[schema(example = "0")]
    pub epoch: String,
    /// The instant of the backup that the records were restored from; null where they never were.
    pub restored_to: Option<Time>,
}

/// A record that changed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ChangedRecord {
    #[schema(example = "milk_record")]
    pub kind: String,
    pub id: Uuid,
    pub version: i64,
    pub is_withdrawn: bool,
    /// As it is now; null when withdrawn.
    pub record: Option<AnyRecord>,
}

choice! {
    /// What a queued change does.
    SyncOperation {
        /// Makes a record.
        Create = "create",
        /// Corrects one.
        Correct = "correct",
        /// Withdraws one.
        Withdraw = "withdraw",
    }
}

/// A queued change.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SyncMutation {
    /// What it does.
    pub operation: SyncOperation,
    /// Kind of record, as the change feed names it.
    #[schema(example = "milk_record")]
    pub kind: String,
    /// The record's id, made by the device (UUID version 7).
    #[schema(example = "01960000-0000-7000-8000-000000000001")]
    pub id: String,
    /// Version that the device had; for correct and withdraw.
    #[serde(default)]
    #[schema(value_type = Option<i64>, minimum = 1, maximum = 4294967295_i64)]
    pub version: Option<NonZeroU32>,
    /// The record to make, or the members to change.
    #[serde(default)]
    #[schema(value_type = Object)]
    pub body: Map<String, Json>,
    /// Why, for correct and withdraw; 1 to 500 characters.
    #[serde(default)]
    pub reason: Option<String>,
}
