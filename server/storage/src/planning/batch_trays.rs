//! The trays of every batch as spoilage counts them, kept beside its events: reading them takes no
//! adding up of all events there are.

use crate::columns::{Instant, columns};
use crate::conn::{Bind, Conn, LIMIT};
use crate::error::StoreError;
use crate::records::farm_rows::{Farms, only};
use crate::records::guide::{guide, zone};
use crate::writing::{Writing, in_coop};
use chrono_tz::Tz;
use std::collections::HashMap;
use traybook_domain::planning::guide::{Guide, GuideName};
use traybook_domain::planning::trays::{NotCounted, TrayEvent, TraySums};
use traybook_domain::time::local_date;
use traybook_domain::value::Instant as At;
use traybook_domain::{ColumnType, Value};
use uuid::Uuid;

/// Batches whose events are read at once.
const BATCHES_AT_ONCE: usize = 400;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BatchTrays {
    pub farm: Uuid,
    pub shed: Uuid,
    pub batch: Uuid,
    pub lot: Option<Uuid>,
    /// What its events add up to.
    pub sums: TraySums,
    /// Trays begun; none where the batch is not counted.
    pub begun: Option<i64>,
    /// Trays lost; none where the batch is not counted.
    pub lost: Option<i64>,
    /// Why the batch, or a part of it, is not counted.
    pub not_counted: Option<NotCounted>,
}

impl BatchTrays {
    /// Trays begun and lost of a batch that counts.
    #[must_use]
    pub fn counted(&self) -> Option<(i64, i64)> {
        self.begun.zip(self.lost)
    }

    /// Last harvest or discard; before one the last that is known of the batch.
    #[must_use]
    pub fn last_at(&self) -> At {
        self.sums.ended_at.or(self.sums.soaked_at).unwrap_or(At(0))
    }
}

/// Trays of a batch that counts, as far as a comparison of lots asks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LotTrays {
    pub farm: Uuid,
    pub lot: Option<Uuid>,
    /// Trays begun.
    pub begun: i64,
    /// Trays lost.
    pub lost: i64,
}

/// The trays of the batches that count and were soaked since an instant.
pub fn lot_trays(conn: &mut Conn, coop: i64, since_ms: i64) -> Result<Vec<LotTrays>, StoreError> {
    let columns = columns!("batch_trays::lot_trays" {
        farm: Uuid = "farm_id",
        lot: Option<Uuid> = "lot_id",
        begun: i64,
        lost: i64,
    } => LotTrays { farm, lot, begun, lost });
    let sql = format!(
        "SELECT {columns} FROM batch_trays WHERE coop_id = ? AND last_at >= ? AND soaked_at >= ? \
         AND begun IS NOT NULL AND lost IS NOT NULL ORDER BY last_at, batch_id"
    );
    let since = Bind::instant(since_ms);
    conn.select(&columns, &sql, &[Bind::int(coop), since.clone(), since])
}

/// The batches in which something ended or, of those that go on, began since an instant: of all
/// farms or of these, in the order of that.
pub fn batch_trays(
    conn: &mut Conn,
    coop: i64,
    since_ms: i64,
    of: Farms<'_>,
) -> Result<Vec<BatchTrays>, StoreError> {
    let columns = columns!("batch_trays::batch_trays" {
        farm: Uuid = "farm_id",
        shed: Uuid = "shed_id",
        batch: Uuid = "batch_id",
        lot: Option<Uuid> = "lot_id",
        soaked_at: Option<Instant>,
        seed_g: i64,
        soaked_for: Option<i64>,
        spread: Option<i64>,
        before: i64 = "before_spread",
        discarded: i64,
        harvested: i64,
        harvested_g: Option<i64>,
        thrown_g: i64,
        harvested_at: Option<Instant>,
        ended_at: Option<Instant>,
        germinated: Option<i64>,
        begun: Option<i64>,
        lost: Option<i64>,
        not_counted: Option<String>,
    } => {
        let at = |ms: Option<i64>| ms.map(At);
        let sums = TraySums {
            soaked_at: at(soaked_at),
            seed_g,
            soaked_for,
            spread,
            before,
            discarded,
            harvested,
            harvested_g,
            thrown_g,
            harvested_at: at(harvested_at),
            ended_at: at(ended_at),
            germinated,
        };
        let not_counted = not_counted.and_then(|text| NotCounted::parse(&text));
        BatchTrays { farm, shed, batch, lot, sums, begun, lost, not_counted }
    });
    let mut sql = format!("SELECT {columns} FROM batch_trays WHERE coop_id = ? AND last_at >= ?");
    let mut binds = vec![Bind::int(coop), Bind::instant(since_ms)];
    only(of, "farm_id", &mut sql, &mut binds);
    sql.push_str(" ORDER BY last_at, batch_id");
    conn.select(&columns, &sql, &binds)
}

/// A batch with what is kept of it besides its events.
struct Head {
    batch: Uuid,
    farm: Uuid,
    shed: Uuid,
    lot: Option<Uuid>,
    /// Seed on a full tray of its shed, grams; else the growing guide's.
    load_g: Option<i64>,
}

/// An event as it is read.
struct Event {
    batch: Uuid,
    event: String,
    at: i64,
    trays: Option<i64>,
    grams: Option<i64>,
    cause: Option<String>,
    germinated: Option<i64>,
}

/// Counts the trays of batches anew from their events.
pub fn recount(writing: &mut Writing<'_>, batches: &[Uuid]) -> Result<(), StoreError> {
    let mut plan = None;
    for batches in batches.chunks(BATCHES_AT_ONCE) {
        let marks = vec!["?"; batches.len()].join(", ");
        let ids: Vec<Bind> = batches.iter().map(|b| Bind::id(*b)).collect();
        let binds = [&[Bind::int(writing.coop())], ids.as_slice()].concat();
        let sql = format!("DELETE FROM batch_trays WHERE coop_id = ? AND batch_id IN ({marks})");
        writing.moving().exec(&sql, &binds)?;
        let heads = heads(writing, &format!("AND id IN ({marks}) ORDER BY id"), ids)?;
        put(writing, &heads, &mut plan)?;
    }
    Ok(())
}

/// Counts the trays of batches anew that were never spread, after the growing guide or a shed has
/// changed: how many they were soaked for may follow from it.
pub fn recount_unspread(writing: &mut Writing<'_>) -> Result<(), StoreError> {
    let columns = columns!("batch_trays::recount_unspread" {
        batch: Uuid = "batch_id",
    } => batch);
    let sql = format!(
        "SELECT {columns} FROM batch_trays WHERE coop_id = ? AND spread IS NULL \
         AND soaked_for IS NULL AND before_spread > 0 ORDER BY batch_id"
    );
    let binds = [Bind::int(writing.coop())];
    let batches = writing.select(&columns, &sql, &binds)?;
    recount(writing, &batches)
}

/// Counts the trays of all batches anew, where none are kept.
pub fn recount_all(writing: &mut Writing<'_>) -> Result<(), StoreError> {
    let (mut last, mut plan) = (Uuid::nil(), None);
    let at_once = i64::try_from(BATCHES_AT_ONCE).unwrap_or(i64::MAX);
    loop {
        let binds = vec![Bind::id(last), Bind::int(at_once)];
        let heads = heads(writing, &format!("AND id > ? ORDER BY id {LIMIT}"), binds)?;
        let Some(end) = heads.last() else { return Ok(()) };
        last = end.batch;
        put(writing, &heads, &mut plan)?;
    }
}

/// Fills the table where a program that counted otherwise left the database.
pub(crate) fn fill(conn: &mut Conn) -> Result<(), StoreError> {
    let columns = columns!("batch_trays::fill" { coop: i64 = "c.coop_id" } => coop);
    let sql = format!(
        "SELECT {columns} FROM coop_counters c \
         WHERE NOT EXISTS (SELECT 1 FROM batch_trays t WHERE t.coop_id = c.coop_id) \
           AND EXISTS (SELECT 1 FROM batch_events e WHERE e.coop_id = c.coop_id \
             AND e.event IN ('soaked', 'harvested', 'discarded') AND e.withdrawn_at IS NULL) \
         ORDER BY c.coop_id"
    );
    for coop in conn.select(&columns, &sql, &[])? {
        conn.exec("BEGIN", &[])?;
        let filled = in_coop(conn, coop, |writing| {
            // Another server may have filled it before this one had the counters.
            let sql = "DELETE FROM batch_trays WHERE coop_id = ?";
            writing.moving().exec(sql, &[Bind::int(coop)])?;
            recount_all(writing)
        });
        match filled {
            Ok(()) => drop(conn.exec("COMMIT", &[])?),
            Err(error) => {
                conn.exec("ROLLBACK", &[])?;
                return Err(error);
            }
        }
    }
    Ok(())
}

fn heads(
    writing: &mut Writing<'_>,
    rest: &str,
    mut binds: Vec<Bind>,
) -> Result<Vec<Head>, StoreError> {
    let columns = columns!("batch_trays::heads" {
        batch: Uuid = "id",
        farm: Uuid = "farm_id",
        shed: Uuid = "shed_id",
        lot: Option<Uuid> = "seed_lot_id",
        load_g: Option<i64> = "(SELECT s.tray_load_kg FROM sheds s \
            WHERE s.coop_id = ? AND s.id = batches.shed_id)",
    } => Head { batch, farm, shed, lot, load_g });
    let sql =
        format!("SELECT {columns} FROM batches WHERE coop_id = ? AND withdrawn_at IS NULL {rest}");
    let coop = writing.coop();
    binds.splice(0..0, [Bind::int(coop), Bind::int(coop)]);
    writing.select(&columns, &sql, &binds)
}

fn events(writing: &mut Writing<'_>, heads: &[Head]) -> Result<Vec<Event>, StoreError> {
    let columns = columns!("batch_trays::events" {
        batch: Uuid = "batch_id",
        event: String,
        at: Instant,
        trays: Option<i64>,
        grams: Option<i64> = "kg",
        cause: Option<String>,
        germinated: Option<i64> = "germinated_percent",
    } => Event { batch, event, at, trays, grams, cause, germinated });
    let marks = vec!["?"; heads.len()].join(", ");
    let sql = format!(
        "SELECT {columns} FROM batch_events WHERE coop_id = ? AND batch_id IN ({marks}) \
         AND withdrawn_at IS NULL ORDER BY batch_id, id"
    );
    let mut binds = vec![Bind::int(writing.coop())];
    binds.extend(heads.iter().map(|h| Bind::id(h.batch)));
    writing.select(&columns, &sql, &binds)
}

/// The growing guide and the time zone, read when they are needed first.
type Plan = Option<(Guide, Tz)>;

/// Seed on a full tray on the day of a soak, grams.
fn load_g(writing: &mut Writing<'_>, plan: &mut Plan, at: At) -> Result<i64, StoreError> {
    let coop = writing.coop();
    let (guide, zone) = match plan {
        Some(plan) => plan,
        none => none.insert((guide(writing, coop)?, zone(writing, coop)?)),
    };
    Ok(guide.value(GuideName::SeedKgPerTray, None, local_date(at, *zone)))
}

/// Counts batches and keeps those that have begun.
fn put(writing: &mut Writing<'_>, heads: &[Head], plan: &mut Plan) -> Result<(), StoreError> {
    if heads.is_empty() {
        return Ok(());
    }
    let read = events(writing, heads)?;
    let mut by_batch: HashMap<Uuid, Vec<TrayEvent<'_>>> = HashMap::new();
    for e in &read {
        by_batch.entry(e.batch).or_default().push(TrayEvent {
            event: &e.event,
            at: At(e.at),
            trays: e.trays,
            grams: e.grams,
            cause: e.cause.as_deref(),
            germinated: e.germinated,
        });
    }
    for head in heads {
        let Some(events) = by_batch.get(&head.batch) else { continue };
        let sums = TraySums::of(events);
        let Some(last_at) = sums.ended_at.or(sums.soaked_at) else { continue };
        let is_told = sums.spread.is_some() || sums.soaked_for.is_some();
        let load_g = match head.load_g {
            Some(own) => own,
            None if is_told => 1,
            None => load_g(writing, plan, sums.soaked_at.unwrap_or(last_at))?,
        };
        insert(writing, head, &sums, (last_at, load_g))?;
    }
    Ok(())
}

fn insert(
    writing: &mut Writing<'_>,
    head: &Head,
    sums: &TraySums,
    (last_at, load_g): (At, i64),
) -> Result<(), StoreError> {
    let (trays, not_counted) = sums.counted(sums.planned(load_g));
    let int = |n: Option<i64>| Bind::opt(ColumnType::Int, n.map(Value::Int));
    let at = |at: Option<At>| Bind::opt(ColumnType::Instant, at.map(|at| Value::Instant(at.0)));
    let text = not_counted.map(|reason| Value::Text(reason.text().to_owned()));
    let binds = [
        Bind::int(writing.coop()),
        Bind::instant(last_at.0),
        Bind::id(head.batch),
        Bind::id(head.farm),
        Bind::id(head.shed),
        Bind::opt(ColumnType::Id, head.lot.map(Value::Id)),
        at(sums.soaked_at),
        Bind::int(sums.seed_g),
        int(sums.soaked_for),
        int(sums.spread),
        Bind::int(sums.before),
        Bind::int(sums.discarded),
        Bind::int(sums.harvested),
        int(sums.harvested_g),
        Bind::int(sums.thrown_g),
        at(sums.harvested_at),
        at(sums.ended_at),
        int(sums.germinated),
        int(trays.map(|t| t.begun)),
        int(trays.map(|t| t.lost)),
        Bind::opt(ColumnType::Text, text),
    ];
    let marks = vec!["?"; binds.len()].join(", ");
    let sql = format!(
        "INSERT INTO batch_trays (coop_id, last_at, batch_id, farm_id, shed_id, lot_id, \
         soaked_at, seed_g, soaked_for, spread, before_spread, discarded, harvested, harvested_g, \
         thrown_g, harvested_at, ended_at, germinated, begun, lost, not_counted) VALUES ({marks})"
    );
    writing.moving().exec(&sql, &binds).map(drop)
}
