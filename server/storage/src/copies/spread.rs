//! How tables lie on several machines, where a distributed PostgreSQL spreads them: the one list
//! that says by which column. A new table must stand in it; a test looks.

use crate::columns::columns;
use crate::conn::Conn;
use crate::error::StoreError;
use traybook_domain::Kind;

/// By what a table is spread.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spread {
    /// By co-operative: all that belongs to one lies on one machine. The column.
    Cooperative(&'static str),
    /// By a key of its own, for what is asked before the co-operative is known. The column.
    Key(&'static str),
    /// A copy on every machine: few rows, seldom changed.
    Everywhere,
}

use Spread::{Cooperative, Everywhere, Key};

/// Tables that belong to no kind of record, those first to which others refer.
const KEPT: &[(&str, Spread)] = &[
    ("record_history", Cooperative("coop_id")),
    ("changes", Cooperative("coop_id")),
    ("feed_floors", Cooperative("coop_id")),
    ("farm_months", Cooperative("coop_id")),
    ("farm_month_feeds", Cooperative("coop_id")),
    ("farm_month_lots", Cooperative("coop_id")),
    ("farm_lots", Cooperative("coop_id")),
    ("lot_totals", Cooperative("coop_id")),
    ("seed_accounts", Cooperative("coop_id")),
    ("herd_months", Cooperative("coop_id")),
    ("batch_trays", Cooperative("coop_id")),
    ("output_bins", Cooperative("coop_id")),
    ("month_closes", Cooperative("coop_id")),
    ("frozen_months", Cooperative("coop_id")),
    ("farm_baselines", Cooperative("coop_id")),
    ("reported_savings", Cooperative("coop_id")),
    ("coop_snapshots", Cooperative("coop_id")),
    ("farm_snapshots", Cooperative("coop_id")),
    ("month_snapshots", Cooperative("coop_id")),
    ("why_snapshots", Cooperative("coop_id")),
    ("plan_learned", Cooperative("coop_id")),
    ("review_runs", Cooperative("coop_id")),
    ("review_cases", Cooperative("coop_id")),
    ("review_queue", Cooperative("coop_id")),
    ("programme_cells", Cooperative("coop_id")),
    ("programme_grants", Cooperative("coop_id")),
    ("photo_contents", Cooperative("coop_id")),
    ("import_layouts", Cooperative("coop_id")),
    ("import_runs", Cooperative("coop_id")),
    ("import_rows", Cooperative("coop_id")),
    ("import_waits", Cooperative("coop_id")),
    ("import_wait_parts", Cooperative("coop_id")),
    ("passwords", Cooperative("coop_id")),
    ("invitations", Cooperative("coop_id")),
    ("sessions", Cooperative("coop_id")),
    ("sign_ins", Cooperative("coop_id")),
    ("sign_in_people", Cooperative("coop_id")),
    ("sign_in_notices", Cooperative("coop_id")),
    ("second_factors", Cooperative("coop_id")),
    ("recovery_codes", Cooperative("coop_id")),
    ("passkeys", Cooperative("coop_id")),
    ("passkey_challenges", Cooperative("coop_id")),
    ("calendar_links", Cooperative("coop_id")),
    ("text_numbers", Cooperative("coop_id")),
    ("texts_in", Cooperative("coop_id")),
    ("texts_out", Cooperative("coop_id")),
    ("text_turns", Cooperative("coop_id")),
    ("text_records", Cooperative("coop_id")),
    ("text_menus", Cooperative("coop_id")),
    ("security_chains", Cooperative("chain")),
    ("security_log", Cooperative("chain")),
    ("logins", Key("login")),
    ("sign_in_failures", Key("key_hash")),
    ("coop_directory", Everywhere),
    ("record_epoch", Everywhere),
];

/// The table that all others of a co-operative lie beside.
const FIRST: &str = "coop_counters";

/// All tables with how they are spread, those first to which others refer.
#[must_use]
pub fn tables() -> Vec<(String, Spread)> {
    let first = std::iter::once((FIRST.to_owned(), Cooperative("coop_id")));
    let kinds = Kind::ALL.iter().map(|kind| (kind.spec().table(), Cooperative("coop_id")));
    let kept = KEPT.iter().map(|(name, spread)| ((*name).to_owned(), *spread));
    first.chain(kinds).chain(kept).collect()
}

/// Whether the database can spread tables: whether it has the functions for it.
pub fn can_spread(conn: &mut Conn) -> Result<bool, StoreError> {
    if conn.is_sqlite() {
        return Ok(false);
    }
    let columns = columns!("spread::can_spread" {
        is_there: bool = "to_regproc('create_distributed_table') IS NOT NULL AND \
                          to_regproc('create_reference_table') IS NOT NULL",
    } => is_there);
    Ok(conn.select_one(&columns, &format!("SELECT {columns}"), &[])?.unwrap_or(false))
}

/// The listed tables that lie on one machine alone, in the order in which they are to be spread.
pub fn local(conn: &mut Conn) -> Result<Vec<(String, Spread)>, StoreError> {
    let columns = columns!("spread::local" { name: String = "CAST(c.relname AS TEXT)" } => name);
    let sql = format!(
        "SELECT {columns} FROM pg_dist_partition d JOIN pg_class c ON c.oid = d.logicalrel \
         JOIN pg_namespace n ON n.oid = c.relnamespace WHERE n.nspname = current_schema()"
    );
    let spread = conn.select(&columns, &sql, &[])?;
    let mut all = tables();
    all.retain(|(name, _)| !spread.contains(name));
    Ok(all)
}

/// Spreads one table.
pub fn spread(conn: &mut Conn, table: &str, how: Spread) -> Result<(), StoreError> {
    if table == "security_log" {
        // A table with a trigger can not be spread. That nobody changes a line is seen by the
        // chain of hashes all the same.
        conn.batch("DROP TRIGGER IF EXISTS security_log_stays ON security_log")?;
    }
    let sql = match how {
        Everywhere => format!("SELECT create_reference_table('{table}')"),
        Key(column) => format!(
            "SELECT create_distributed_table('{table}', '{column}', colocate_with => 'none')"
        ),
        Cooperative(column) if table == FIRST => {
            format!("SELECT create_distributed_table('{table}', '{column}')")
        }
        Cooperative(column) => format!(
            "SELECT create_distributed_table('{table}', '{column}', colocate_with => '{FIRST}')"
        ),
    };
    conn.batch(&sql)
}
