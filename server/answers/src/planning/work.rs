//! The work list, what was recorded of it, and calendar addresses.

use crate::Decimal;
use crate::planning::{SeedNote, ShortReason};
use crate::wire::Time;
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// The work of a day.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Work {
    /// The day asked for.
    pub date: NaiveDate,
    /// Today in the co-operative's zone.
    pub today: NaiveDate,
    /// Number of the last change counted.
    pub data_version: i64,
    /// By code; farms without work, warnings or shortage are left out.
    pub farms: Vec<FarmWork>,
}

/// The work of one farm.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FarmWork {
    pub farm_id: Uuid,
    pub farm: String,
    pub area_id: Uuid,
    pub area: Option<String>,
    pub member_name: String,
    /// How to find the farm.
    pub place: Option<String>,
    /// Late work first, then by time, then what is done.
    pub lines: Vec<WorkLine>,
    /// Held seed lots, seed that runs out.
    pub warnings: Vec<String>,
    /// Numbers of held seed lots that are on the farm or grow there.
    pub held_lots: Vec<String>,
    /// Groups that go short or have fodder left over on the day.
    pub feeding: Vec<FeedNote>,
    pub seed: SeedNote,
}

choice! {
    /// What to do, the most pressing first.
    WorkTask {
        Discard = "discard",
        Harvest = "harvest",
        Feed = "feed",
        Clean = "clean",
        Spread = "spread",
        Drain = "drain",
        Soak = "soak",
        Water = "water",
    }
}

choice! {
    /// How a line stands.
    WorkState {
        Late = "late",
        Open = "open",
        Done = "done",
    }
}

/// One line of work.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WorkLine {
    /// Name by which it is recorded as done.
    pub line: String,
    pub task: WorkTask,
    pub state: WorkState,
    pub due_at: Time,
    pub done_at: Option<Time>,
    pub shed_id: Option<Uuid>,
    pub shed: Option<String>,
    pub animal_group_id: Option<Uuid>,
    pub animal_group: Option<String>,
    pub batch_id: Option<Uuid>,
    pub batch: Option<String>,
    pub trays: Option<i64>,
    /// Dry seed to soak, drain or spread; fresh fodder expected or to feed.
    pub kg: Option<Decimal>,
    pub crop: Option<String>,
    pub seed_lot_id: Option<Uuid>,
    pub seed_lot: Option<String>,
    /// Day on which it is fed.
    pub feed_on: Option<NaiveDate>,
    /// Day on which what is to be fed or thrown away was harvested.
    pub harvested_on: Option<NaiveDate>,
    /// Which watering of the day.
    pub watering: Option<i64>,
    /// Waterings of the day.
    pub waterings: Option<i64>,
    /// Days that a harvest is early, since today's harvest falls short.
    pub early_days: Option<i64>,
    /// Why today's soak is what it is.
    pub soak: Option<SoakReason>,
    /// Why it is late, on another day than usual, or more than usual.
    pub why: Option<String>,
    pub sentence: String,
    pub cautions: Vec<String>,
}

impl WorkLine {
    /// Whether this caution stands beside it.
    #[must_use]
    pub fn warns(&self, caution: &str) -> bool {
        self.cautions.iter().any(|c| c == caution)
    }
}

choice! {
    /// What a soak makes up for.
    SoakCause {
        /// Trays were thrown away.
        TraysLost = "trays_lost",
        /// Trays have mould, and feed nobody.
        TraysMouldy = "trays_mouldy",
        /// Trays were harvested early.
        TraysTakenEarly = "trays_taken_early",
        /// Nothing was soaked on a day.
        SoakMissed = "soak_missed",
        /// There are more animals than what stands was soaked for.
        MoreAnimals = "more_animals",
        /// Less stands than the animals need, for another reason.
        TooLittle = "too_little",
    }
}

/// One thing that a soak makes up for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SoakPart {
    pub cause: SoakCause,
    /// Trays concerned.
    pub trays: Option<i64>,
    /// The day of it, the last of several.
    pub on: Option<NaiveDate>,
    /// Animals before and after.
    pub head_from: Option<i64>,
    pub head_to: Option<i64>,
}

/// What today's soak is made of. Dry seed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SoakReason {
    /// For the animals of its feeding day, by the farm's own yield.
    pub need_kg: Decimal,
    /// Ahead of trays that will spoil and harvests that vary.
    pub reserve_kg: Decimal,
    /// For what is missing on the days before.
    pub owed_kg: Decimal,
    /// Trays more than without what is owed.
    pub trays_more: i64,
    /// Trays that found no place.
    pub trays_left_out: i64,
    /// What is owed for, the latest first.
    pub parts: Vec<SoakPart>,
}

/// What a group gets on the day, where that is not what it needs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FeedNote {
    pub animal_group_id: Uuid,
    pub animal_group: String,
    /// Fresh fodder.
    pub need_kg: Decimal,
    /// Of it missing.
    pub short_kg: Decimal,
    /// Left over.
    pub surplus_kg: Decimal,
    pub reason: Option<ShortReason>,
    pub sentence: String,
}

/// Work lists of today that changed since a cursor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WorkChanges {
    /// These are the lists of all farms; those that the device has of others are stale.
    pub is_complete: bool,
    pub farms: Vec<FarmWork>,
    /// Farms that changed and have no work now, or are withdrawn.
    pub without_work: Vec<Uuid>,
    /// Cursor to go on from.
    pub next: String,
}

/// The records that a line of work became.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct RecordedWork {
    pub line: String,
    pub records: Vec<WorkRecorded>,
}

choice! {
    /// Kinds of record that work becomes.
    WorkKind {
        Batch = "batch",
        BatchEvent = "batch_event",
        WorkRecord = "work_record",
    }
}

/// One of them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WorkRecorded {
    pub kind: WorkKind,
    pub id: Uuid,
    pub version: i64,
    /// False where it was there before.
    pub is_new: bool,
}

/// The line, and what differs from it. Which members a line knows depends on its task. For the
/// document: the use case reads member by member, to tell all that is wrong at once.
#[derive(Clone, Debug, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RecordWorkRequest {
    /// As the work list gives it.
    pub line: String,
    /// When it was done; now where it is left out. Needed for lines of earlier days.
    #[schema(nullable = false)]
    pub at: Option<Time>,
    /// Dry seed soaked; fresh fodder harvested, fed or discarded.
    #[schema(nullable = false)]
    pub kg: Option<Decimal>,
    #[schema(nullable = false, minimum = 0)]
    pub trays: Option<i64>,
    #[schema(nullable = false)]
    pub crop: Option<String>,
    /// Seed lot soaked.
    #[schema(nullable = false)]
    pub seed_lot_id: Option<Uuid>,
    /// Shed, for a soak.
    #[schema(nullable = false)]
    pub shed_id: Option<Uuid>,
    /// Group that was fed.
    #[schema(nullable = false)]
    pub animal_group_id: Option<Uuid>,
    /// Seeds that had germinated when spread.
    #[schema(nullable = false)]
    pub germinated_percent: Option<Decimal>,
    #[schema(nullable = false)]
    pub mould_seen: Option<bool>,
    /// Trays that had mould, where they were counted.
    #[schema(nullable = false)]
    pub mould_trays: Option<i64>,
    #[schema(nullable = false)]
    pub cause: Option<String>,
    /// Why it was fed although a caution stands.
    #[schema(nullable = false, min_length = 1, max_length = 500)]
    pub reason: Option<String>,
    #[schema(nullable = false, min_length = 1, max_length = 500)]
    pub note: Option<String>,
}

/// The calendar addresses of a farm that were not revoked.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CalendarLinks {
    pub items: Vec<CalendarLink>,
}

/// A calendar address, without its secret.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CalendarLink {
    /// By which it is revoked.
    pub id: Uuid,
    pub farm_id: Uuid,
    pub made_by: Uuid,
    pub made_at: Time,
}

/// A new calendar address.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct NewCalendarLink {
    /// By which it is revoked.
    pub id: Uuid,
    pub farm_id: Uuid,
    pub made_by: Uuid,
    pub made_at: Time,
    /// Address of the calendar on this server; shown once.
    pub path: String,
}
