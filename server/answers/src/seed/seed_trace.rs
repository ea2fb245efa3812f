//! Seed traced both ways. Money in currency units.

use crate::sheet::{Column, Sheet};
use crate::wire::BatchRecord;
use crate::{Decimal, columns};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// A lot from its purchase to the animals.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LotTrace {
    pub seed_lot_id: Uuid,
    pub seed_lot: String,
    pub crop: String,
    pub supplier_id: Option<Uuid>,
    pub supplier: Option<String>,
    pub is_held: bool,
    pub held_because: Option<String>,
    pub cautions: Vec<String>,
    /// Whether this person may see the store and its purchases.
    pub shows_purchases: bool,
    pub farms: Vec<FarmTrace>,
    /// Where seed of it is left.
    pub stock: Vec<LotStock>,
    /// Lines beyond the most that are answered.
    pub lines_left_off: usize,
    /// Oldest first.
    pub lines: Vec<TraceLine>,
    pub spoilage: TraySpoilage,
}

/// A batch back to the purchase of its seed, and on to the animals.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BatchTrace {
    /// Null where the batch names no lot: then nothing is said of a lot.
    pub seed_lot_id: Option<Uuid>,
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub seed_lot: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub crop: Option<String>,
    /// Null where the lot names no supplier.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<Uuid>)]
    pub supplier_id: Option<Option<Uuid>>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub supplier: Option<Option<String>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub is_held: Option<bool>,
    /// Null where it is not held.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub held_because: Option<Option<String>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub cautions: Option<Vec<String>>,
    /// Whether this person may see the store and its purchases.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub shows_purchases: Option<bool>,
    pub batch: BatchRecord,
    /// Lines beyond the most that are answered.
    pub lines_left_off: usize,
    /// Oldest first.
    pub lines: Vec<TraceLine>,
}

/// What one farm had of a lot.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FarmTrace {
    pub farm_id: Uuid,
    pub farm: String,
    pub issued_kg: Decimal,
    pub soaked_kg: Decimal,
    pub harvested_kg: Decimal,
    pub fed_kg: Decimal,
    pub batches: usize,
    pub first_fed_on: Option<NaiveDate>,
    pub last_fed_on: Option<NaiveDate>,
    pub mould_seen: bool,
    pub cautions: Vec<String>,
    pub trays: TraySpoilage,
}

/// Seed of the lot in one place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LotStock {
    /// Null for the store.
    pub farm_id: Option<Uuid>,
    pub farm: Option<String>,
    pub stock_kg: Decimal,
}

/// Trays spread and discarded.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TraySpoilage {
    pub trays_spread: i64,
    pub trays_discarded: i64,
    pub discarded_percent: Option<Decimal>,
}

choice! {
    /// What happened to seed or to a batch.
    TraceEvent {
        Bought = "bought",
        Issued = "issued",
        Adjusted = "adjusted",
        Held = "held",
        Released = "released",
        Soaked = "soaked",
        Spread = "spread",
        Watered = "watered",
        Harvested = "harvested",
        FedOut = "fed_out",
        Discarded = "discarded",
    }
}

/// One line of a trace; null where a member does not apply.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TraceLine {
    pub date: NaiveDate,
    pub what: TraceEvent,
    pub record_id: Uuid,
    pub farm_id: Option<Uuid>,
    pub farm: Option<String>,
    pub batch_id: Option<Uuid>,
    pub batch: Option<String>,
    pub animal_group_id: Option<Uuid>,
    pub animal_group: Option<String>,
    pub animal_class: Option<String>,
    /// Dry seed or fresh fodder.
    pub kg: Option<Decimal>,
    pub trays: Option<i64>,
    pub cause: Option<String>,
    pub mould_seen: Option<bool>,
    pub germination_percent: Option<Decimal>,
    pub supplier: Option<String>,
    pub price: Option<Decimal>,
    pub transport: Option<Decimal>,
    pub detail: Option<String>,
}

impl TraceLine {
    /// A line of which nothing more is known.
    #[must_use]
    pub const fn new(date: NaiveDate, what: TraceEvent, record_id: Uuid) -> Self {
        Self {
            date,
            what,
            record_id,
            farm_id: None,
            farm: None,
            batch_id: None,
            batch: None,
            animal_group_id: None,
            animal_group: None,
            animal_class: None,
            kg: None,
            trays: None,
            cause: None,
            mould_seen: None,
            germination_percent: None,
            supplier: None,
            price: None,
            transport: None,
            detail: None,
        }
    }

    fn columns() -> Vec<Column<Self>> {
        columns!(TraceLine: date, what, farm, batch, animal_group, kg, trays, cause, mould_seen,
            germination_percent, supplier, detail, record_id)
    }
}

impl Sheet for LotTrace {
    type Row = TraceLine;

    fn rows(&self) -> &[TraceLine] {
        &self.lines
    }

    fn columns() -> Vec<Column<TraceLine>> {
        TraceLine::columns()
    }
}

impl Sheet for BatchTrace {
    type Row = TraceLine;

    fn rows(&self) -> &[TraceLine] {
        &self.lines
    }

    fn columns() -> Vec<Column<TraceLine>> {
        TraceLine::columns()
    }
}
