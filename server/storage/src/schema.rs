//! The tables that the kinds' declarations ask for, as DDL for either database.
//!
//! The first migration was printed from here; later ones are written by hand. A test compares
//! what all migrations make with what the declarations ask for, on both databases.

use std::fmt::Write as _;
use traybook_domain::field::FieldKind;
use traybook_domain::kinds::{LANGUAGES, REVIEW_RULES};
use traybook_domain::planning::guide::GUIDE_NAMES;
use traybook_domain::{ColumnType, Kind, Scope};

/// Which database.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dialect {
    /// Embedded.
    Sqlite,
    /// Server.
    Postgres,
}

/// Lists of words that grow with the program: the record's rule holds them, and no CHECK, which SQLite
/// changes only by making the table anew.
pub const GROWING: [&[&str]; 3] = [LANGUAGES, GUIDE_NAMES, REVIEW_RULES];

/// Columns that every kind's table has besides its fields, with type and whether they may be null.
pub const COMMON: &[(&str, ColumnType, bool)] = &[
    ("version", ColumnType::Int, false),
    ("created_at", ColumnType::Instant, false),
    ("created_by", ColumnType::Id, false),
    ("changed_at", ColumnType::Instant, false),
    ("changed_by", ColumnType::Id, false),
    ("withdrawn_at", ColumnType::Instant, true),
];

/// What a farm had of a feed, day after day.
const BY_FEED: &[&str] = &["farm_id", "feed_id", "date"];

/// Accounts of seed and their last days are read from these columns alone, without a look at the rows.
const SEED_CHARGED: &[&str] = &["farm_id", "date", "payment", "price", "kg", "withdrawn_at"];
/// See [`SEED_CHARGED`].
const SEED_PAID: &[&str] = &["farm_id", "date", "amount", "withdrawn_at"];

/// Lookups by a reference that lists or rules need and that the list order does not serve.
pub const EXTRA_INDEXES: &[(Kind, &[&str])] = &[
    (Kind::Person, &["member_id"]),
    (Kind::OfficerArea, &["person_id"]),
    (Kind::Member, &["area_id"]),
    (Kind::Farm, &["member_id"]),
    (Kind::Farm, &["area_id"]),
    (Kind::Shed, &["farm_id"]),
    (Kind::AnimalGroup, &["farm_id"]),
    (Kind::HeadCount, &["animal_group_id"]),
    (Kind::BaselineRation, &["animal_group_id"]),
    (Kind::Batch, &["farm_id"]),
    (Kind::Batch, &["seed_lot_id"]),
    (Kind::BatchEvent, &["batch_id"]),
    (Kind::FeedPurchase, BY_FEED),
    (Kind::FeedCount, BY_FEED),
    (Kind::SeedPurchase, &["seed_lot_id"]),
    (Kind::SeedIssue, &["seed_lot_id"]),
    (Kind::SeedIssue, SEED_CHARGED),
    (Kind::SeedPayment, SEED_PAID),
    (Kind::SeedAdjustment, &["seed_lot_id"]),
    (Kind::SeedAdjustment, &["farm_id"]),
    (Kind::LotHold, &["seed_lot_id"]),
    (Kind::FodderPlan, &["animal_group_id"]),
    (Kind::PlannedHead, &["animal_group_id"]),
    (Kind::RestDay, &["farm_id"]),
    (Kind::StartPlace, &["start_plan_id"]),
    (Kind::StartPlace, &["farm_id"]),
    (Kind::WorkRecord, &["batch_id"]),
    (Kind::VisitCheck, &["visit_id"]),
    (Kind::VisitCheck, &["farm_id"]),
    (Kind::FollowUp, &["visit_id"]),
    // Those that nobody has ended.
    (Kind::FollowUp, &["outcome", "due_on"]),
    (Kind::Attendance, &["training_id"]),
    (Kind::Flag, &["batch_id"]),
    (Kind::Photo, &["visit_id"]),
    (Kind::Photo, &["batch_event_id"]),
];

/// SQL type of a column.
#[must_use]
pub const fn sql_type(ty: ColumnType, dialect: Dialect) -> &'static str {
    match (dialect, ty) {
        (Dialect::Sqlite, ColumnType::Id | ColumnType::Bytes) => "BLOB",
        (Dialect::Sqlite, ColumnType::Int | ColumnType::Bool | ColumnType::Instant) => "INTEGER",
        (Dialect::Sqlite, ColumnType::Text | ColumnType::Date) => "TEXT",
        (Dialect::Postgres, ColumnType::Id) => "UUID",
        (Dialect::Postgres, ColumnType::Int) => "BIGINT",
        (Dialect::Postgres, ColumnType::Bool) => "BOOLEAN",
        (Dialect::Postgres, ColumnType::Text) => "TEXT COLLATE \"C\"",
        (Dialect::Postgres, ColumnType::Date) => "DATE",
        (Dialect::Postgres, ColumnType::Instant) => "TIMESTAMPTZ",
        (Dialect::Postgres, ColumnType::Bytes) => "BYTEA",
    }
}

/// The field by which a kind's lists are ordered, newest first; kinds without one are listed by id.
#[must_use]
pub fn order_field(kind: Kind) -> Option<&'static str> {
    let spec = kind.spec();
    spec.date.filter(|d| spec.field(d).is_some_and(|f| f.required))
}

/// Whether a kind that has no order field is listed newest first: a batch history is read from its
/// end.
#[must_use]
pub const fn is_newest_first(kind: Kind) -> bool {
    matches!(kind, Kind::Batch)
}

/// The tables of all kinds. Tables that are kept for them stand in the migrations alone.
#[must_use]
pub fn ddl(dialect: Dialect) -> String {
    let mut out = String::new();
    for kind in Kind::ALL {
        kind_table(*kind, dialect, &mut out);
    }
    if dialect == Dialect::Sqlite {
        statistics(&mut out);
    }
    out
}

/// What SQLite's planner must know. Without figures it takes `coop_id`, with which every key
/// begins, for a good way to find one record, and reads a whole co-operative; these say that one
/// co-operative may hold the whole table. They stay when the tables grow: only their proportions
/// matter.
fn statistics(out: &mut String) {
    out.push_str("\nANALYZE;\nDELETE FROM sqlite_stat1;\n");
    let mut put = |table: &str, index: &str, stat: &str| {
        let _ = writeln!(out, "INSERT INTO sqlite_stat1 VALUES ('{table}', '{index}', '{stat}');");
    };
    for kind in Kind::ALL {
        let (spec, table) = (kind.spec(), kind.spec().table());
        put(&table, &table, "1000000 1000000 1");
        if let Some(code) = spec.code {
            put(&table, &format!("{table}_{code}_key"), "1000000 1000000 1");
        }
        if order_field(*kind).is_some() {
            put(&table, &format!("{table}_order"), "1000000 1000000 1000 1");
            if spec.scope == Scope::Farm && spec.field("farm_id").is_some() {
                put(&table, &format!("{table}_farm_order"), "1000000 1000000 500 3 1");
            }
        }
        for (_, columns) in EXTRA_INDEXES.iter().filter(|(k, _)| k == kind) {
            let stat = match columns.len() {
                0 | 1 => "1000000 1000000 10 1".to_owned(),
                more => format!("1000000 1000000 500 100{}", " 1".repeat(more - 1)),
            };
            put(&table, &format!("{table}_{}", columns.join("_")), &stat);
        }
    }
    put("farm_month_lots", "farm_month_lots_farm", "100000 100000 50 20 1");
    put("batch_trays", "batch_trays_batch", "100000 100000 1");
    put("batch_trays", "batch_trays_farm", "100000 100000 50 1 1");
    for (table, stat) in [
        ("record_history", "1000000 1000000 30000 2 1"),
        ("changes", "1000000 1000000 1"),
        ("farm_months", "100000 100000 2000 1"),
        ("farm_month_feeds", "400000 400000 8000 4 1"),
        ("farm_month_lots", "100000 100000 2000 2 1"),
        ("farm_lots", "20000 20000 10 1"),
        ("lot_totals", "200 200 1"),
        ("herd_months", "50000 50000 10 1"),
        ("batch_trays", "100000 100000 2 1"),
        ("month_closes", "100 100 1"),
        ("farm_snapshots", "2000 2000 1"),
        ("reported_savings", "100000 100000 2000 2 1"),
    ] {
        put(table, table, stat);
    }
}

fn tail(dialect: Dialect) -> &'static str {
    match dialect {
        Dialect::Sqlite => ") STRICT, WITHOUT ROWID;\n",
        Dialect::Postgres => ");\n",
    }
}

fn kind_table(kind: Kind, dialect: Dialect, out: &mut String) {
    let (spec, table) = (kind.spec(), kind.spec().table());
    let ty = |t| sql_type(t, dialect);
    let _ = writeln!(out, "\nCREATE TABLE {table} (");
    let _ = writeln!(out, "  coop_id {} NOT NULL,", ty(ColumnType::Int));
    let _ = writeln!(out, "  id {} NOT NULL,", ty(ColumnType::Id));
    for field in spec.fields {
        let null = if field.required || field.derived { " NOT NULL" } else { "" };
        let check = match field.kind {
            FieldKind::Choice(of) if !GROWING.contains(&of) => {
                let list = of.iter().map(|c| format!("'{c}'")).collect::<Vec<_>>().join(", ");
                format!(" CHECK ({} IN ({list}))", field.name)
            }
            FieldKind::Int { min, max } | FieldKind::Decimal { min, max, .. } => {
                format!(" CHECK ({} BETWEEN {min} AND {max})", field.name)
            }
            FieldKind::Money => format!(" CHECK ({} >= 0)", field.name),
            FieldKind::Bool if dialect == Dialect::Sqlite => {
                format!(" CHECK ({} IN (0, 1))", field.name)
            }
            _ => String::new(),
        };
        let _ = writeln!(out, "  {} {}{null}{check},", field.name, ty(field.column()));
    }
    for (name, column, nullable) in COMMON {
        let null = if *nullable { "" } else { " NOT NULL" };
        let _ = writeln!(out, "  {name} {}{null},", ty(*column));
    }
    let _ = writeln!(out, "  PRIMARY KEY (coop_id, id),");
    for (_, field, target) in spec.refs() {
        let (name, to) = (field.name, target.spec().table());
        let _ = writeln!(out, "  FOREIGN KEY (coop_id, {name}) REFERENCES {to} (coop_id, id),");
    }
    let _ = writeln!(out, "  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)");
    out.push_str(tail(dialect));
    indexes(kind, &table, out);
}

fn indexes(kind: Kind, table: &str, out: &mut String) {
    let spec = kind.spec();
    if let Some(code) = spec.code {
        let live = "WHERE withdrawn_at IS NULL";
        let _ = writeln!(
            out,
            "CREATE UNIQUE INDEX {table}_{code}_key ON {table} (coop_id, {code}) {live};"
        );
    }
    if let Some(date) = order_field(kind) {
        let _ = writeln!(out, "CREATE INDEX {table}_order ON {table} (coop_id, {date}, id);");
        if spec.scope == Scope::Farm && spec.field("farm_id").is_some() {
            let columns = format!("coop_id, farm_id, {date}, id");
            let _ = writeln!(out, "CREATE INDEX {table}_farm_order ON {table} ({columns});");
        }
    }
    for (_, columns) in EXTRA_INDEXES.iter().filter(|(k, _)| *k == kind) {
        let name = columns.join("_");
        let list = columns.join(", ");
        let _ = writeln!(out, "CREATE INDEX {table}_{name} ON {table} (coop_id, {list}, id);");
    }
}
