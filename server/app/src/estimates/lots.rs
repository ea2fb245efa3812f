//! Is it the farm or the seed?

use super::figures::{Lot, Lots};
use super::spoilage::{Charts, LotPositions, round};
use crate::error::AppError;
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};
use traybook_analytics::lots::{self, LotAnswer, LotBatch, LotRules, lot_or_farm};
use traybook_analytics::sentences::lots_sentence;
use traybook_analytics::spoilage::{LOT_BAD, SpoilageStatus};
use traybook_answers::estimates::LotVerdict;
use traybook_domain::Kind;
use traybook_domain::kinds::{SeedLot, Supplier};
use traybook_domain::record::Record as _;
use traybook_storage::Conn;
use traybook_storage::records::{self, Filter, Visible};
use uuid::Uuid;

/// How far back seed lots are compared, days.
pub const LOT_DAYS: i64 = 90;

/// Lots with the names of their suppliers.
pub(super) type LotNames = HashMap<Uuid, (SeedLot, Option<String>)>;

/// Compares the lots of the last days over all farms.
pub(super) fn compare(charts: &Charts, names: LotNames) -> Lots {
    let (answer, ids) = answer(charts);
    let id = |lot: u32| usize::try_from(lot).ok().and_then(|i| ids.get(i)).copied();
    let name = |lot: u32| {
        let known = id(lot).and_then(|id| names.get(&id));
        known.map_or_else(|| "unknown".to_owned(), |(lot, _)| lot.code.clone())
    };
    let tests = answer.tests.as_ref();
    let suspects: HashSet<Uuid> =
        tests.into_iter().flat_map(|t| &t.bad_lots).filter_map(|lot| id(*lot)).collect();
    let mut lots: BTreeMap<Uuid, Lot> = BTreeMap::new();
    for l in tests.into_iter().flat_map(|t| &t.lots) {
        let Some(lot) = id(l.lot) else { continue };
        let slot = lots.entry(lot).or_insert_with(|| empty(lot));
        (slot.effect, slot.p) = (Some(round(l.effect)), Some(l.p));
        slot.is_suspect = suspects.contains(&lot);
        slot.batches = u64::try_from(l.batches).unwrap_or(u64::MAX);
        slot.farms = u64::try_from(l.farms).unwrap_or(u64::MAX);
    }
    carried(charts, &mut lots);
    for f in &charts.farms {
        for lot in f.grown.growing_lots().collect::<BTreeSet<Uuid>>() {
            if let Some(slot) = lots.get_mut(&lot) {
                slot.growing_at.push(f.farm);
            }
        }
    }
    Lots {
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
        lots: lots.into_values().collect(),
    }
}

const fn empty(lot: Uuid) -> Lot {
    Lot {
        lot,
        is_suspect: false,
        effect: None,
        p: None,
        multiplier: 1.0,
        batches: 0,
        farms: 0,
        growing_at: Vec::new(),
        carries_flags_at: Vec::new(),
    }
}

/// Lots that spoil on other farms too, and the farms that would have a flag without that.
fn carried(charts: &Charts, lots: &mut BTreeMap<Uuid, Lot>) {
    for f in &charts.farms {
        let is_lot = f.chart.status == SpoilageStatus::RecurringLot;
        for share in f.lots.iter().filter(|share| share.multiplier >= LOT_BAD) {
            let own = f.grown.counted.iter().filter(|b| b.of.lot == Some(share.lot));
            let own = u64::try_from(own.count()).unwrap_or(u64::MAX);
            let slot = lots.entry(share.lot).or_insert_with(|| empty(share.lot));
            slot.multiplier = slot.multiplier.max(round(share.multiplier));
            if slot.effect.is_none() {
                slot.batches += own;
                slot.farms += 1;
            }
            if is_lot {
                slot.carries_flags_at.push(f.farm);
            }
        }
    }
}

/// The comparison, and the lots in its order.
fn answer(charts: &Charts) -> (LotAnswer, Vec<Uuid>) {
    let mut ids = LotPositions::default();
    let mut rows = Vec::new();
    for (farm, grown) in charts.farms.iter().map(|f| &f.grown).enumerate() {
        let farm = u32::try_from(farm).unwrap_or(u32::MAX);
        for (b, t) in grown.counted.iter().zip(&grown.batches) {
            let is_recent = (charts.today - b.ended_on).num_days() < LOT_DAYS;
            let Some(lot) = b.of.lot.filter(|_| is_recent) else { continue };
            let lot = ids.position(lot);
            rows.push(LotBatch { farm, lot, started: t.started, discarded: t.discarded });
        }
    }
    let rules = LotRules { correlation: charts.shared.correlation, ..LotRules::default() };
    (lot_or_farm(&rows, &rules), ids.ids)
}

/// All lots, withdrawn ones too, with the names of their suppliers.
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
