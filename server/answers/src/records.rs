//! Records of any kind: their history, and what changed.

use crate::wire::{AnyRecord, Time};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// All versions of a record, the current one last.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct RecordHistory {
    pub items: Vec<RecordVersion>,
}

choice! {
    /// What made a version.
    RecordAction {
        Created = "created",
        Corrected = "corrected",
        Withdrawn = "withdrawn",
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
    pub record: AnyRecord,
}

/// What changed since a cursor, oldest first, each record once.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Changes {
    pub items: Vec<ChangedRecord>,
    /// Cursor to go on from.
    pub next: String,
    pub has_more: bool,
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
