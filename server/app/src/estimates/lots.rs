//! Is it the farm or the seed?

use super::figures::{Lot, Lots};
use super::spoilage::{Charts, round};
use crate::error::AppError;
use std::collections::{HashMap, HashSet};
use traybook_analytics::lots::{self, LotAnswer, LotBatch, LotRules, lot_or_farm};
use traybook_analytics::sentences::lots_sentence;
use traybook_answers::estimates::LotVerdict;
use traybook_domain::Kind;
use traybook_domain::kinds::{SeedLot, Supplier};
use traybook_domain::record::Record as _;
use traybook_storage::Conn;
use traybook_storage::records::{self, Filter, Visible};
use uuid::Uuid;

const DAY_MS: i64 = 86_400_000;
/// How far back seed lots are compared, days.
pub const LOT_DAYS: i64 = 90;

/// Lots with the names of their suppliers.
pub(super) type LotNames = HashMap<Uuid, (SeedLot, Option<String>)>;

/// What is held against lots, and those that are named.
pub(super) struct Compared {
    pub figures: Lots,
    pub suspects: HashSet<Uuid>,
}

/// Compares the lots of the last days over all farms.
pub(super) fn compare(charts: &Charts, names: LotNames) -> Compared {
    let (answer, ids) = answer(charts);
    let id = |lot: u32| usize::try_from(lot).ok().and_then(|i| ids.get(i)).copied();
    let name = |lot: u32| {
        let known = id(lot).and_then(|id| names.get(&id));
        known.map_or_else(|| "unknown".to_owned(), |(lot, _)| lot.code.clone())
    };
    let tests = answer.tests.as_ref();
    let named = tests.into_iter().flat_map(|t| &t.bad_lots);
    let suspects: HashSet<Uuid> = named.filter_map(|lot| id(*lot)).collect();
    let growing_at = |lot: Uuid| {
        let grows = move |f: &&super::spoilage::FarmTrays| f.grown.lots.contains(&lot);
        charts.farms.iter().filter(grows).map(|f| f.farm).collect()
    };
    let lots = tests.into_iter().flat_map(|t| &t.lots).filter_map(|l| {
        let lot = id(l.lot)?;
        Some(Lot {
            lot,
            is_suspect: suspects.contains(&lot),
            effect: round(l.effect),
            p: l.p,
            batches: u64::try_from(l.batches).unwrap_or(u64::MAX),
            farms: u64::try_from(l.farms).unwrap_or(u64::MAX),
            growing_at: growing_at(lot),
        })
    });
    let figures = Lots {
        verdict: match answer.verdict {
            lots::LotVerdict::SeedLot => LotVerdict::SeedLot,
            lots::LotVerdict::Farm => LotVerdict::Farm,
            lots::LotVerdict::Both => LotVerdict::Both,
            lots::LotVerdict::Neither => LotVerdict::Neither,
            lots::LotVerdict::NotIdentifiable => LotVerdict::NotIdentifiable,
        },
        sentence: lots_sentence(&answer, &name),
        p_lots: tests.map(|t| t.lot.p),
        p_farms: tests.map(|t| t.farm.p),
        lots: lots.collect(),
    };
    Compared { figures, suspects }
}

/// The comparison, and the lots in its order.
fn answer(charts: &Charts) -> (LotAnswer, Vec<Uuid>) {
    let since = charts.now.0 - LOT_DAYS * DAY_MS;
    let mut lot_ids: Vec<Uuid> = Vec::new();
    let mut index: HashMap<Uuid, u32> = HashMap::new();
    let mut rows = Vec::new();
    for (farm, grown) in charts.farms.iter().map(|f| &f.grown).enumerate() {
        let first = grown.over.partition_point(|b| b.soaked_at < since);
        for (b, t) in grown.over.iter().zip(&grown.trays).skip(first) {
            let Some(lot) = b.lot else { continue };
            let next = u32::try_from(lot_ids.len()).unwrap_or(u32::MAX);
            let at = *index.entry(lot).or_insert_with(|| {
                lot_ids.push(lot);
                next
            });
            let farm = u32::try_from(farm).unwrap_or(u32::MAX);
            rows.push(LotBatch { farm, lot: at, started: t.started, discarded: t.discarded });
        }
    }
    let rules = LotRules { correlation: charts.correlation(), ..LotRules::default() };
    (lot_or_farm(&rows, &rules), lot_ids)
}

/// All lots, withdrawn ones too, with the names of their suppliers.
///
/// # Errors
/// Those of the store.
pub(super) fn names(conn: &mut Conn, coop: i64) -> Result<LotNames, AppError> {
    let (all, filter) = (Visible::All, Filter { withdrawn: true, ..Filter::default() });
    let suppliers = records::page(conn, coop, Kind::Supplier, &all, &filter, None, 100_000)?;
    let suppliers: HashMap<Uuid, String> = suppliers
        .iter()
        .filter_map(|r| Some((r.id, Supplier::from_values(&r.values)?.name)))
        .collect();
    let lots = records::page(conn, coop, Kind::SeedLot, &all, &filter, None, 100_000)?;
    let named = lots.iter().filter_map(|r| {
        let lot = SeedLot::from_values(&r.values)?;
        let supplier = lot.supplier_id.and_then(|s| suppliers.get(&s).cloned());
        Some((r.id, (lot, supplier)))
    });
    Ok(named.collect())
}
