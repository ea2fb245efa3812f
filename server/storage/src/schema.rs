//! The tables that the kinds' declarations ask for, as DDL for either database.
//!
//! The first migration was printed from here; later ones are written by hand. A test compares
//! what all migrations make with what the declarations ask for, on both databases.

use std::fmt::Write as _;
use traybook_domain::effects::MEASURE_COLUMNS;
use traybook_domain::field::FieldKind;
use traybook_domain::guide::GUIDE_NAMES;
use traybook_domain::kinds::{LANGUAGES, REVIEW_RULES};
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

/// All tables of the first migration.
#[must_use]
pub fn ddl(dialect: Dialect) -> String {
    let mut out = String::new();
    out.push_str(&counters(dialect));
    for kind in Kind::ALL {
        kind_table(*kind, dialect, &mut out);
    }
    out.push_str(&kept(dialect));
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
        if *kind == Kind::Cooperative {
            put(&table, &format!("{table}_id_key"), "1000000 1");
        }
        if order_field(*kind).is_some() {
            put(&table, &format!("{table}_order"), "1000000 1000000 1000 1");
            if spec.scope == Scope::Farm && spec.field("farm_id").is_some() {
                put(&table, &format!("{table}_farm_order"), "1000000 1000000 500 3 1");
            }
        }
        for (_, columns) in EXTRA_INDEXES.iter().filter(|(k, _)| k == kind) {
            let stat = if *columns == BY_FEED {
                "1000000 1000000 500 100 1 1"
            } else {
                "1000000 1000000 10 1"
            };
            put(&table, &format!("{table}_{}", columns.join("_")), stat);
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
    if kind == Kind::Cooperative {
        let _ = writeln!(out, "CREATE UNIQUE INDEX {table}_id_key ON {table} (id);");
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

fn counters(dialect: Dialect) -> String {
    let int = sql_type(ColumnType::Int, dialect);
    format!(
        "-- One row a co-operative: the number of its last change, and of the last change of who\n\
         -- may see what. Locked first by every write on PostgreSQL.\n\
         CREATE TABLE coop_counters (\n  coop_id {int} NOT NULL,\n  change_seq {int} NOT NULL,\n  \
         access_version {int} NOT NULL,\n  PRIMARY KEY (coop_id)\n{}",
        tail(dialect)
    )
}

/// Tables that are kept for the records: history, changes, sums, closed months, accounts.
fn kept(dialect: Dialect) -> String {
    let mut out = String::new();
    let mut table = |name: &str, columns: &[(&str, ColumnType, bool)], key: &str, refs: &str| {
        let _ = writeln!(out, "\nCREATE TABLE {name} (");
        for (column, ty, nullable) in columns {
            let null = if *nullable { "" } else { " NOT NULL" };
            let _ = writeln!(out, "  {column} {}{null},", sql_type(*ty, dialect));
        }
        let comma = if refs.is_empty() { "" } else { ",\n  " };
        let _ = writeln!(out, "  PRIMARY KEY ({key}){comma}{refs}");
        // Large values do not belong into the leaves of a clustered index.
        let large = dialect == Dialect::Sqlite && name == "photo_contents";
        out.push_str(if large { ") STRICT;\n" } else { tail(dialect) });
    };
    use ColumnType::{Bool, Bytes, Id, Instant, Int, Text};
    let coop = "FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)";
    let farm = "FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)";
    table(
        "record_history",
        &[
            ("coop_id", Int, false),
            ("kind", Text, false),
            ("id", Id, false),
            ("version", Int, false),
            ("body", Text, false),
            ("made_at", Instant, false),
            ("made_by", Id, false),
            ("replaced_at", Instant, false),
            ("replaced_by", Id, false),
            ("action", Text, false),
            ("reason", Text, true),
        ],
        "coop_id, kind, id, version",
        coop,
    );
    table(
        "changes",
        &[
            ("coop_id", Int, false),
            ("seq", Int, false),
            ("kind", Text, false),
            ("id", Id, false),
            ("farm_id", Id, true),
            ("version", Int, false),
            ("withdrawn", Bool, false),
        ],
        "coop_id, seq",
        coop,
    );
    let mut months = vec![("coop_id", Int, false), ("farm_id", Id, false), ("month", Int, false)];
    let key = "coop_id, month, farm_id";
    let mut sums = months.clone();
    sums.extend(MEASURE_COLUMNS.iter().map(|c| (*c, Int, false)));
    table("farm_months", &sums, key, farm);
    let mut feeds = months.clone();
    feeds.extend([
        ("feed_id", Id, false),
        ("grams", Int, false),
        ("cost_minor", Int, false),
        ("records", Int, false),
    ]);
    let feed = format!("{farm},\n  FOREIGN KEY (coop_id, feed_id) REFERENCES feeds (coop_id, id)");
    table("farm_month_feeds", &feeds, "coop_id, month, farm_id, feed_id", &feed);
    months.extend([("lot_id", Id, false), ("grams", Int, false)]);
    table("farm_month_lots", &months, "coop_id, month, farm_id, lot_id", farm);
    table(
        "farm_lots",
        &[
            ("coop_id", Int, false),
            ("farm_id", Id, false),
            ("lot_id", Id, false),
            ("issued_g", Int, false),
            ("issued_minor", Int, false),
        ],
        "coop_id, farm_id, lot_id",
        farm,
    );
    table(
        "lot_totals",
        &[
            ("coop_id", Int, false),
            ("lot_id", Id, false),
            ("bought_g", Int, false),
            ("paid_minor", Int, false),
        ],
        "coop_id, lot_id",
        "FOREIGN KEY (coop_id, lot_id) REFERENCES seed_lots (coop_id, id)",
    );
    table(
        "herd_months",
        &[
            ("coop_id", Int, false),
            ("animal_group_id", Id, false),
            ("month", Int, false),
            ("animal_days", Int, false),
            ("closing_head", Int, false),
        ],
        "coop_id, animal_group_id, month",
        "FOREIGN KEY (coop_id, animal_group_id) REFERENCES animal_groups (coop_id, id)",
    );
    table(
        "batch_trays",
        &[
            ("coop_id", Int, false),
            ("last_at", Instant, false),
            ("batch_id", Id, false),
            ("farm_id", Id, false),
            ("shed_id", Id, false),
            ("lot_id", Id, true),
            ("soaked_at", Instant, true),
            ("seed_g", Int, false),
            ("soaked_for", Int, true),
            ("spread", Int, true),
            ("before_spread", Int, false),
            ("discarded", Int, false),
            ("harvested", Int, false),
            ("harvested_g", Int, true),
            ("thrown_g", Int, false),
            ("harvested_at", Instant, true),
            ("ended_at", Instant, true),
            ("germinated", Int, true),
            ("begun", Int, true),
            ("lost", Int, true),
            ("not_counted", Text, true),
        ],
        "coop_id, last_at, batch_id",
        &format!("FOREIGN KEY (coop_id, batch_id) REFERENCES batches (coop_id, id),\n  {farm}"),
    );
    table(
        "month_closes",
        &[
            ("coop_id", Int, false),
            ("month", Int, false),
            ("closed_at", Instant, false),
            ("closed_by", Id, false),
            ("report_json", Text, false),
            ("report_csv", Text, false),
            ("touched", Bool, false),
            ("report_version", Int, false),
        ],
        "coop_id, month",
        coop,
    );
    table(
        "coop_snapshots",
        &[
            ("coop_id", Int, false),
            ("revision", Int, true),
            ("change_seq", Int, true),
            ("made_at", Instant, true),
            ("day", ColumnType::Date, true),
            ("format", Int, true),
            ("body", Text, true),
            ("findings", Text, true),
            ("next_at", Instant, false),
            ("day_ends_at", Instant, false),
            ("lease_until", Instant, false),
            ("lease", Id, true),
            ("failed_at", Instant, true),
        ],
        "coop_id",
        coop,
    );
    table(
        "farm_snapshots",
        &[
            ("coop_id", Int, false),
            ("farm_id", Id, false),
            ("revision", Int, false),
            ("body", Text, false),
        ],
        "coop_id, farm_id",
        farm,
    );
    table(
        "why_snapshots",
        &[
            ("coop_id", Int, false),
            ("day", ColumnType::Date, false),
            ("format", Int, false),
            ("body", Text, false),
        ],
        "coop_id",
        coop,
    );
    table(
        "reported_savings",
        &[
            ("coop_id", Int, false),
            ("month", Int, false),
            ("farm_id", Id, false),
            ("reported_in", Int, false),
            ("saving_minor", Int, true),
        ],
        "coop_id, month, farm_id, reported_in",
        farm,
    );
    table(
        "photo_contents",
        &[
            ("coop_id", Int, false),
            ("photo_id", Id, false),
            ("media_type", Text, false),
            ("sha256", Text, false),
            ("content", Bytes, false),
            ("stored_at", Instant, false),
        ],
        "coop_id, photo_id",
        "FOREIGN KEY (coop_id, photo_id) REFERENCES photos (coop_id, id)",
    );
    // A password is a person's in one co-operative: no co-operative can reach into another by a
    // login that both know.
    table(
        "passwords",
        &[
            ("coop_id", Int, false),
            ("person_id", Id, false),
            ("hash", Text, false),
            ("changed_at", Instant, false),
        ],
        "coop_id, person_id",
        "FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)",
    );
    table(
        "invitations",
        &[
            ("code_hash", Text, false),
            ("coop_id", Int, false),
            ("person_id", Id, false),
            ("expires_at", Instant, false),
            ("used_at", Instant, true),
        ],
        "code_hash",
        "FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)",
    );
    table(
        "sessions",
        &[
            ("token_hash", Text, false),
            ("family_id", Id, false),
            ("coop_id", Int, false),
            ("person_id", Id, false),
            ("expires_at", Instant, false),
            ("used_at", Instant, true),
            ("ended_at", Instant, true),
        ],
        "token_hash",
        "FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)",
    );
    // Secret addresses under which a farm's work can be subscribed to as a calendar.
    table(
        "calendar_links",
        &[
            ("secret_hash", Text, false),
            ("coop_id", Int, false),
            ("id", Id, false),
            ("farm_id", Id, false),
            ("person_id", Id, false),
            ("made_at", Instant, false),
            ("revoked_at", Instant, true),
        ],
        "secret_hash",
        &format!("{farm},\n  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)"),
    );
    // The people whose password the sign-in gave, for totals over co-operatives.
    table(
        "session_people",
        &[("family_id", Id, false), ("coop_id", Int, false), ("person_id", Id, false)],
        "family_id, coop_id, person_id",
        "FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)",
    );
    out.push_str(
        "CREATE INDEX farm_month_lots_farm ON farm_month_lots (coop_id, farm_id, lot_id, month);\n",
    );
    out.push_str("CREATE UNIQUE INDEX batch_trays_batch ON batch_trays (coop_id, batch_id);\n");
    out.push_str(
        "CREATE INDEX batch_trays_farm ON batch_trays (coop_id, farm_id, last_at, batch_id);\n",
    );
    out.push_str("CREATE INDEX calendar_links_farm ON calendar_links (coop_id, farm_id, id);\n");
    out.push_str("CREATE INDEX sessions_family ON sessions (family_id);\n");
    out.push_str("CREATE INDEX sessions_person ON sessions (coop_id, person_id);\n");
    for login in ["email", "phone"] {
        let live = "WHERE withdrawn_at IS NULL";
        let _ = writeln!(out, "CREATE INDEX people_{login} ON people ({login});");
        let _ = writeln!(
            out,
            "CREATE UNIQUE INDEX people_{login}_key ON people (coop_id, {login}) {live};"
        );
    }
    out.push_str(SEED_MOVEMENTS);
    out
}

/// The ledger of seed: every movement into and out of the store (no farm) and the farms. Soaks
/// carry an instant, the others a day.
const SEED_MOVEMENTS: &str = "
CREATE VIEW seed_movements AS
SELECT coop_id, id AS source_id, 'purchase' AS movement, seed_lot_id AS lot_id,
       CAST(NULL AS UUID) AS farm_id, kg AS grams, date AS moved_on,
       CAST(NULL AS TIMESTAMPTZ) AS moved_at
  FROM seed_purchases WHERE withdrawn_at IS NULL
UNION ALL
SELECT coop_id, id, 'issue', seed_lot_id, NULL, -kg, date, NULL
  FROM seed_issues WHERE withdrawn_at IS NULL
UNION ALL
SELECT coop_id, id, 'issue', seed_lot_id, farm_id, kg, date, NULL
  FROM seed_issues WHERE withdrawn_at IS NULL
UNION ALL
SELECT coop_id, id, 'adjustment', seed_lot_id, farm_id, change_kg, date, NULL
  FROM seed_adjustments WHERE withdrawn_at IS NULL
UNION ALL
SELECT e.coop_id, e.id, 'soak', b.seed_lot_id, e.farm_id, -e.kg, NULL, e.at
  FROM batch_events e JOIN batches b ON b.coop_id = e.coop_id AND b.id = e.batch_id
 WHERE e.withdrawn_at IS NULL AND e.event = 'soaked' AND b.seed_lot_id IS NOT NULL;
";
