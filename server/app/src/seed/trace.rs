//! Seed traced both ways: from a lot to the animals, and from a batch back to the purchase.

use crate::error::AppError;
use crate::records::Presenter;
use crate::records::find_visible;
use crate::savings::seen_farms;
use crate::{Actor, App};
use chrono::NaiveDate;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use traybook_answers::Decimal;
use traybook_answers::seed::seed_trace::{
    BatchTrace, FarmTrace, LotStock, LotTrace, TraceEvent, TraceLine, TraySpoilage,
};
use traybook_answers::wire::BatchRecord;
use traybook_domain::Kind;
use traybook_domain::kinds::{
    AnimalGroup, Batch, HOLD_CAUTION, LotHold, MOULD_CAUTION, SeedAdjustment, SeedIssue, SeedLot,
    SeedPurchase, Supplier,
};
use traybook_domain::people::authz::{Action, Task};
use traybook_domain::record::Record as Declared;
use traybook_domain::time::local_date;
use traybook_domain::value::Instant;
use traybook_storage::Conn;
use traybook_storage::records::{self, Record, Visible};
use traybook_storage::seed::lot_rows::{self, LotEvent};
use uuid::Uuid;

/// Lines of one trace: a lot of 100 t in batches of 20 kg with four events each. What is beyond is
/// left off at the end and counted.
pub const LINES_MAX: usize = 20_000;

/// What a trace names things by.
struct Names {
    farms: HashMap<Uuid, String>,
    /// Code and class.
    groups: HashMap<Uuid, (String, String)>,
    digits: u8,
}

impl App {
    /// Everything that happened to a lot, oldest first: purchases, hand-outs, corrections, holds,
    /// and every event of the batches grown from it down to the groups and days fed; with what is
    /// left where, and what spoiled. Only of farms within reach; the co-operative's own part only
    /// for those who may read purchases.
    ///
    /// # Errors
    /// `Forbidden`; `NotFound`.
    pub async fn lot_trace(&self, actor: &Actor, lot: Uuid) -> Result<LotTrace, AppError> {
        let visible = actor.task(Task::SeedTrace)?;
        let actor = actor.clone();
        let today = actor.coop.today(self.now());
        self.store
            .read(move |conn| {
                let number = actor.coop.number;
                let found = records::find(conn, number, Kind::SeedLot, lot)?;
                let found = found.ok_or(AppError::NotFound)?;
                let seed = SeedLot::from_values(&found.values).ok_or(AppError::NotFound)?;
                let mut trace = Trace::new(conn, &actor, visible)?;
                let mut lines = trace.of_lot(conn, lot, &seed)?;
                let events = lot_rows::lot_events(conn, number, Ok(lot))?;
                let events: Vec<LotEvent> =
                    events.into_iter().filter(|e| trace.sees(Some(e.farm))).collect();
                trace.add_groups(conn, number, &events)?;
                lines.extend(events.iter().map(|e| trace.event(e)));
                lines.sort_by_key(|l| l.date);
                let stock = lot_rows::lot_stock(conn, number, lot)?;
                let left = stock.into_iter().filter(|(at, grams)| *grams != 0 && trace.sees(*at));
                let stock = left.map(|(farm_id, grams)| LotStock {
                    farm_id,
                    farm: trace.code(farm_id),
                    stock_kg: Decimal::kg(grams),
                });
                let head = trace.head(conn, lot, &seed, today)?;
                Ok(LotTrace {
                    seed_lot_id: lot,
                    seed_lot: seed.code,
                    crop: seed.crop,
                    cautions: head.cautions(),
                    supplier_id: head.supplier.as_ref().map(|s| s.0),
                    supplier: head.supplier.map(|s| s.1),
                    is_held: head.held_because.is_some(),
                    held_because: head.held_because,
                    shows_purchases: trace.store,
                    farms: trace.farms(&lines),
                    stock: stock.collect(),
                    lines_left_off: lines.len().saturating_sub(LINES_MAX),
                    spoilage: spoilage(&lines),
                    lines: first(lines),
                })
            })
            .await
    }

    /// A batch back to its lot, the purchases, supplier, germination test and holds of that lot,
    /// and forward to the groups and days fed; oldest first.
    ///
    /// # Errors
    /// `Forbidden`; `NotFound` for a batch out of reach.
    pub async fn batch_trace(&self, actor: &Actor, batch: Uuid) -> Result<BatchTrace, AppError> {
        let visible = actor.task(Task::SeedTrace)?;
        let (actor, now) = (actor.clone(), self.now());
        let today = actor.coop.today(now);
        self.store
            .read(move |conn| {
                let number = actor.coop.number;
                let reach = actor.visible(Action::Read, Kind::Batch)?;
                let record = find_visible(conn, &actor, Kind::Batch, batch, &reach)?;
                let grown = Batch::from_values(&record.values).ok_or(AppError::NotFound)?;
                let shown = Presenter::new(&actor.coop, now);
                let shown = shown.one(conn, Kind::Batch, record)?;
                let mut trace = Trace::new(conn, &actor, visible)?;
                trace.only = Some(grown.farm_id);
                let events = lot_rows::lot_events(conn, number, Err(batch))?;
                trace.add_groups(conn, number, &events)?;
                let mut lines = Vec::new();
                let lot = match grown.seed_lot_id {
                    Some(lot) => records::find(conn, number, Kind::SeedLot, lot)?,
                    None => None,
                };
                let known = lot.and_then(|r| Some((r.id, SeedLot::from_values(&r.values)?)));
                let mut head = None;
                if let Some((lot, seed)) = &known {
                    head = Some(trace.head(conn, *lot, seed, today)?);
                    lines = trace.of_lot(conn, *lot, seed)?;
                }
                lines.extend(events.iter().map(|e| trace.event(e)));
                lines.sort_by_key(|l| l.date);
                Ok(BatchTrace {
                    seed_lot_id: known.as_ref().map(|(lot, _)| *lot),
                    cautions: head.as_ref().map(Head::cautions),
                    is_held: head.as_ref().map(|h| h.held_because.is_some()),
                    supplier_id: head.as_ref().map(|h| h.supplier.as_ref().map(|s| s.0)),
                    supplier: head.as_ref().map(|h| h.supplier.as_ref().map(|s| s.1.clone())),
                    held_because: head.map(|h| h.held_because),
                    shows_purchases: known.as_ref().map(|_| trace.store),
                    seed_lot: known.as_ref().map(|(_, seed)| seed.code.clone()),
                    crop: known.map(|(_, seed)| seed.crop),
                    batch: BatchRecord(shown),
                    lines_left_off: lines.len().saturating_sub(LINES_MAX),
                    lines: first(lines),
                })
            })
            .await
    }
}

/// Where a lot comes from, and why it is held, if it is.
struct Head {
    supplier: Option<(Uuid, String)>,
    held_because: Option<String>,
}

impl Head {
    fn cautions(&self) -> Vec<String> {
        self.held_because.iter().map(|_| HOLD_CAUTION.to_owned()).collect()
    }
}

/// One trace in the making.
struct Trace<'a> {
    actor: &'a Actor,
    /// Whether the person sees the store, with its purchases.
    store: bool,
    /// The one farm looked at.
    only: Option<Uuid>,
    names: Names,
}

impl<'a> Trace<'a> {
    fn new(conn: &mut Conn, actor: &'a Actor, visible: Visible) -> Result<Self, AppError> {
        let store = matches!(actor.visible(Action::Read, Kind::SeedPurchase), Ok(Visible::All));
        let (farms, _) = seen_farms(conn, actor.coop.number, &visible)?;
        let farms = farms.into_iter().map(|f| (f.farm, f.code.clone())).collect();
        let names = Names { farms, groups: HashMap::new(), digits: actor.coop.digits };
        Ok(Self { actor, store, only: None, names })
    }

    fn sees(&self, farm: Option<Uuid>) -> bool {
        match farm {
            Some(farm) => {
                self.names.farms.contains_key(&farm) && self.only.is_none_or(|o| o == farm)
            }
            None => self.store,
        }
    }

    fn code(&self, farm: Option<Uuid>) -> Option<String> {
        farm.and_then(|f| self.names.farms.get(&f)).cloned()
    }

    fn money(&self, minor: i64) -> Decimal {
        Decimal::new(minor, self.names.digits)
    }

    fn add_groups(
        &mut self,
        conn: &mut Conn,
        number: i64,
        events: &[LotEvent],
    ) -> Result<(), AppError> {
        let mut ids: Vec<Uuid> = events.iter().filter_map(|e| e.group).collect();
        ids.sort_unstable();
        ids.dedup();
        for record in records::by_reference(conn, number, Kind::AnimalGroup, "id", &ids)? {
            if let Some(group) = AnimalGroup::from_values(&record.values) {
                self.names.groups.insert(record.id, (group.code, group.animal_class));
            }
        }
        Ok(())
    }

    fn event(&self, e: &LotEvent) -> TraceLine {
        let what = TraceEvent::parse(&e.event.0).unwrap_or(TraceEvent::Discarded);
        let date = local_date(Instant(e.event.1), self.actor.coop.zone);
        let group = e.group.filter(|_| what == TraceEvent::FedOut);
        let named = group.and_then(|g| self.names.groups.get(&g));
        TraceLine {
            farm_id: Some(e.farm),
            farm: self.code(Some(e.farm)),
            batch_id: Some(e.batch.0),
            batch: e.batch.1.clone(),
            animal_group_id: group,
            animal_group: named.map(|g| g.0.clone()),
            animal_class: named.map(|g| g.1.clone()),
            kg: e.grams.map(Decimal::kg),
            trays: e.trays,
            cause: e.cause.clone(),
            mould_seen: Some(e.mould),
            germination_percent: e.germinated.map(Decimal::percent),
            detail: e.reason.clone(),
            ..TraceLine::new(date, what, e.id)
        }
    }

    /// The lines of a lot that are not events of batches.
    fn of_lot(
        &self,
        conn: &mut Conn,
        lot: Uuid,
        seed: &SeedLot,
    ) -> Result<Vec<TraceLine>, AppError> {
        let number = self.actor.coop.number;
        let supplier = supplier(conn, number, seed)?.map(|s| s.1);
        let mut lines = Vec::new();
        if self.store {
            for (id, p) in of_lot::<SeedPurchase>(conn, number, lot)? {
                lines.push(TraceLine {
                    kg: Some(Decimal::kg(p.kg)),
                    germination_percent: p.germination_percent.map(Decimal::percent),
                    supplier: supplier.clone(),
                    price: Some(self.money(p.price)),
                    transport: p.transport.map(|t| self.money(t)),
                    detail: p.note,
                    ..TraceLine::new(p.date, TraceEvent::Bought, id)
                });
            }
        }
        for (id, i) in of_lot::<SeedIssue>(conn, number, lot)? {
            lines.push(TraceLine {
                farm_id: Some(i.farm_id),
                farm: self.code(Some(i.farm_id)),
                kg: Some(Decimal::kg(i.kg)),
                detail: i.note,
                ..TraceLine::new(i.date, TraceEvent::Issued, id)
            });
        }
        for (id, a) in of_lot::<SeedAdjustment>(conn, number, lot)? {
            lines.push(TraceLine {
                farm_id: a.farm_id,
                farm: self.code(a.farm_id),
                kg: Some(Decimal::kg(a.change_kg)),
                detail: Some(a.note.map_or(a.reason.clone(), |n| format!("{}: {n}", a.reason))),
                ..TraceLine::new(a.date, TraceEvent::Adjusted, id)
            });
        }
        lines.retain(|l| l.what == TraceEvent::Bought || self.sees(l.farm_id));
        for (id, h) in of_lot::<LotHold>(conn, number, lot)? {
            let detail = Some(h.reason);
            lines.push(TraceLine { detail, ..TraceLine::new(h.held_from, TraceEvent::Held, id) });
            if let Some(date) = h.released_on {
                let detail = h.finding;
                lines.push(TraceLine { detail, ..TraceLine::new(date, TraceEvent::Released, id) });
            }
        }
        Ok(lines)
    }

    /// What a lot is.
    fn head(
        &self,
        conn: &mut Conn,
        lot: Uuid,
        seed: &SeedLot,
        today: NaiveDate,
    ) -> Result<Head, AppError> {
        let number = self.actor.coop.number;
        let holds = of_lot::<LotHold>(conn, number, lot)?;
        let held = holds.iter().find(|(_, h)| h.holds_on(today));
        let held_because = held.map(|(_, h)| h.reason.clone());
        Ok(Head { supplier: supplier(conn, number, seed)?, held_because })
    }

    /// What each farm had of the lot, by code.
    fn farms(&self, lines: &[TraceLine]) -> Vec<FarmTrace> {
        let mut by_farm: BTreeMap<Uuid, Vec<&TraceLine>> = BTreeMap::new();
        for line in lines {
            if let Some(farm) = line.farm_id {
                by_farm.entry(farm).or_default().push(line);
            }
        }
        let mut farms: Vec<FarmTrace> = Vec::new();
        for (farm_id, lines) in by_farm {
            let Some(farm) = self.code(Some(farm_id)) else { continue };
            let sum = |what: TraceEvent| {
                let of = lines.iter().filter(|l| l.what == what);
                Decimal::kg(of.filter_map(|l| l.kg).map(|kg| kg.units).sum())
            };
            let batches: BTreeSet<Uuid> = lines.iter().filter_map(|l| l.batch_id).collect();
            let mould_seen = lines.iter().any(|l| l.mould_seen == Some(true));
            let fed = lines.iter().filter(|l| l.what == TraceEvent::FedOut).map(|l| l.date);
            farms.push(FarmTrace {
                farm_id,
                farm,
                issued_kg: sum(TraceEvent::Issued),
                soaked_kg: sum(TraceEvent::Soaked),
                harvested_kg: sum(TraceEvent::Harvested),
                fed_kg: sum(TraceEvent::FedOut),
                batches: batches.len(),
                first_fed_on: fed.clone().min(),
                last_fed_on: fed.max(),
                mould_seen,
                cautions: mould_seen.then(|| MOULD_CAUTION.to_owned()).into_iter().collect(),
                trays: spoilage(lines.iter().copied()),
            });
        }
        farms.sort_by(|a, b| a.farm.cmp(&b.farm));
        farms
    }
}

/// The lines that are answered.
fn first(mut lines: Vec<TraceLine>) -> Vec<TraceLine> {
    lines.truncate(LINES_MAX);
    lines
}

fn spoilage<'l>(lines: impl IntoIterator<Item = &'l TraceLine>) -> TraySpoilage {
    let (mut spread, mut discarded) = (0, 0);
    for line in lines {
        match line.what {
            TraceEvent::Spread => spread += line.trays.unwrap_or(0),
            TraceEvent::Discarded => discarded += line.trays.unwrap_or(0),
            _ => {}
        }
    }
    let share = traybook_domain::savings::money::mul_div(discarded, 10_000, spread);
    TraySpoilage {
        trays_spread: spread,
        trays_discarded: discarded,
        discarded_percent: share.map(Decimal::percent),
    }
}

fn of_lot<T: Declared>(
    conn: &mut Conn,
    number: i64,
    lot: Uuid,
) -> Result<Vec<(Uuid, T)>, AppError> {
    let all = records::by_reference(conn, number, T::KIND, "seed_lot_id", &[lot])?;
    let one = |r: &Record| Some((r.id, T::from_values(&r.values)?));
    Ok(all.iter().filter_map(one).collect())
}

fn supplier(
    conn: &mut Conn,
    number: i64,
    seed: &SeedLot,
) -> Result<Option<(Uuid, String)>, AppError> {
    let Some(id) = seed.supplier_id else { return Ok(None) };
    let found = records::find(conn, number, Kind::Supplier, id)?;
    Ok(found.and_then(|r| Supplier::from_values(&r.values)).map(|s| (id, s.name)))
}
