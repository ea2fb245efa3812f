//! The columns that a kind's file may have; people and things are named by their codes.

use traybook_domain::field::{FieldKind, FieldSpec};
use traybook_domain::{Kind, kinds};

/// A column of a kind's file.
#[derive(Clone, Copy, Debug)]
pub struct Column {
    pub field: &'static FieldSpec,
    /// Position among the kind's fields.
    pub index: usize,
}

/// Name of a field's column: references are named without `_id`, since they hold codes.
#[must_use]
pub fn column_name(field: &FieldSpec) -> &'static str {
    match field.kind {
        FieldKind::Ref(_) => field.name.strip_suffix("_id").unwrap_or(field.name),
        _ => field.name,
    }
}

/// The columns of a kind's file after `id`.
#[must_use]
pub fn columns(kind: Kind) -> Vec<Column> {
    let fields = kind.spec().fields.iter().enumerate().filter(|(_, f)| !f.derived);
    fields.map(|(index, field)| Column { field, index }).collect()
}

/// Name of a kind's file.
#[must_use]
pub fn file_name(kind: Kind) -> String {
    format!("{}.csv", kind.spec().table())
}

/// What may stand in a batch's own line of `batches.csv`, as spreadsheets have it: each group of
/// columns makes one event of the batch.
pub const BATCH_SHORTHAND: &[(&str, &str, &str, &str)] = &[
    // event, when, trays, kg
    ("soaked", "soaked_at", "", "seed_kg"),
    ("spread", "spread_at", "trays_spread", ""),
    ("harvested", "harvested_at", "trays_harvested", "harvested_kg"),
    // Before the feeding, so that mould is known when it is judged.
    ("discarded", "discarded_at", "trays_discarded", ""),
    ("fed_out", "fed_at", "", "fed_kg"),
];

/// The columns of [`BATCH_SHORTHAND`], the cause of discarded trays, and why it was fed although
/// mould was seen; each with its field of the event.
pub fn shorthand_columns() -> impl Iterator<Item = (&'static str, &'static str)> {
    let of = |(_, at, trays, kg): &(&str, &'static str, &'static str, &'static str)| {
        [(*at, "at"), (*trays, "trays"), (*kg, "kg")]
    };
    let all = BATCH_SHORTHAND.iter().flat_map(of).filter(|(column, _)| !column.is_empty());
    all.chain([("discard_cause", "cause"), ("fed_reason", "reason")])
}

/// Where a column of a file goes.
#[derive(Clone, Copy, Debug)]
pub enum Target {
    /// The record's id.
    Id,
    Field(Column),
    /// A field of an event in a batch's own line: the column's name, and the field.
    Event(&'static str, &'static FieldSpec),
}

impl Target {
    /// Its name in a file.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match self {
            Self::Id => "id",
            Self::Field(column) => column_name(column.field),
            Self::Event(name, _) => name,
        }
    }

    /// The field that it fills; none for the id.
    #[must_use]
    pub fn field(&self) -> Option<&'static FieldSpec> {
        match self {
            Self::Id => None,
            Self::Field(column) => Some(column.field),
            Self::Event(_, field) => Some(field),
        }
    }

    /// Whether every row needs it.
    #[must_use]
    pub fn is_required(&self) -> bool {
        matches!(self, Self::Field(column) if column.field.required)
    }
}

/// All that a kind's file may hold.
#[must_use]
pub fn targets(kind: Kind) -> Vec<Target> {
    let fields = columns(kind).into_iter().map(Target::Field);
    let mut all: Vec<Target> = std::iter::once(Target::Id).chain(fields).collect();
    if kind == Kind::Batch {
        let event = Kind::BatchEvent.spec();
        let short = |(name, field)| event.field(field).map(|field| Target::Event(name, field));
        all.extend(shorthand_columns().filter_map(short));
    }
    all
}

/// Kinds that people keep in spreadsheets, in the order of dependence. Others are read by the name
/// of their file.
pub const KEPT_IN_SHEETS: &[Kind] = &[
    Kind::Area,
    Kind::GrowingGuideValue,
    Kind::ChecklistItem,
    Kind::Feed,
    Kind::Supplier,
    Kind::Member,
    Kind::Person,
    Kind::OfficerArea,
    Kind::Farm,
    Kind::Shed,
    Kind::AnimalGroup,
    Kind::HeadCount,
    Kind::BaselineRation,
    Kind::SeedLot,
    Kind::SeedPurchase,
    Kind::SeedIssue,
    Kind::SeedAdjustment,
    Kind::Batch,
    Kind::BatchEvent,
    Kind::MilkRecord,
    Kind::EggRecord,
    Kind::FeedPurchase,
    Kind::FeedCount,
    Kind::OtherCost,
    Kind::Asset,
    Kind::Visit,
    Kind::Reading,
    Kind::Training,
    Kind::Attendance,
    Kind::FodderPlan,
    Kind::SeedPayment,
    Kind::Deduction,
];

/// The kind of record that a file of exactly this name holds, whatever its ending.
#[must_use]
pub fn kind_of_name(name: &str) -> Option<Kind> {
    let stem = name.rsplit_once('.').map_or(name, |(stem, _)| stem);
    let stem = stem.to_lowercase().replace(['-', ' '], "_");
    let kind = Kind::ALL.iter().find(|k| k.spec().table() == stem).copied();
    kind.or(match stem.as_str() {
        "milk" => Some(Kind::MilkRecord),
        "eggs" => Some(Kind::EggRecord),
        _ => None,
    })
}

/// Values of a choice that are worded by another set than the field's own name; a set is the first
/// part of the keys of its texts.
#[must_use]
pub fn word_set(of: &'static [&'static str]) -> Option<&'static str> {
    let sets: [(&[&str], &str); 14] = [
        (kinds::SEXES, "sex"),
        (kinds::CROPS, "crop"),
        (kinds::ANIMAL_CLASSES, "class"),
        (kinds::HEAD_REASONS, "head"),
        (kinds::WATER_SOURCES, "water"),
        (kinds::COST_CATEGORIES, "cost"),
        (kinds::PAYMENTS, "payment"),
        (kinds::PAID_BY, "paid-by"),
        (kinds::ADJUSTMENTS, "adjustment"),
        (kinds::LOSS_CAUSES, "cause"),
        (kinds::BATCH_EVENTS, "event"),
        (kinds::ANSWERS, "answer"),
        (kinds::LANGUAGES, "language-name"),
        (traybook_domain::people::authz::ROLES, "role"),
    ];
    sets.iter().find(|(words, _)| *words == of).map(|(_, set)| *set)
}
