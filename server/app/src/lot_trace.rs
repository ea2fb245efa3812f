//! Seed traced both ways: from a lot to the animals, and from a batch back to the purchase.

use crate::ctx::{Actor, App};
use crate::error::AppError;
use crate::represent::Presenter;
use crate::savings::seen_farms;
use crate::sheet::Sheet;
use crate::txn::find_visible;
use chrono::NaiveDate;
use serde_json::{Value as Json, json};
use std::collections::{BTreeMap, HashMap};
use traybook_domain::Kind;
use traybook_domain::authz::{Action, Task};
use traybook_domain::field::json_decimal;
use traybook_domain::kinds::{
    AnimalGroup, Batch, HOLD_CAUTION, LotHold, MOULD_CAUTION, SeedAdjustment, SeedIssue, SeedLot,
    SeedPurchase, Supplier,
};
use traybook_domain::record::Record as Declared;
use traybook_domain::time::local_date;
use traybook_domain::value::Instant;
use traybook_storage::Conn;
use traybook_storage::records::{self, Record, Visible};
use traybook_storage::seed_rows::{self, LotEvent};
use uuid::Uuid;

/// Lines of one trace: a lot of 100 t in batches of 20 kg with four events each. What is beyond is
/// left off at the end and counted.
const LINES_MAX: usize = 20_000;
const COLUMNS: &[&str] = &[
    "date",
    "what",
    "farm",
    "batch",
    "animal_group",
    "kg",
    "trays",
    "cause",
    "mould_seen",
    "germination_percent",
    "supplier",
    "detail",
    "record_id",
];

/// One line of a trace; null where a column does not apply.
#[derive(Default)]
struct Line {
    date: NaiveDate,
    what: &'static str,
    record: Uuid,
    farm: Option<Uuid>,
    batch: Option<(Uuid, Option<String>)>,
    group: Option<Uuid>,
    grams: Option<i64>,
    trays: Option<i64>,
    cause: Option<String>,
    mould: Option<bool>,
    germination: Option<i64>,
    supplier: Option<String>,
    detail: Option<String>,
    price: Option<i64>,
    transport: Option<i64>,
}

/// What a trace names things by.
struct Names {
    farms: HashMap<Uuid, String>,
    groups: HashMap<Uuid, (String, String)>,
    digits: u8,
}

impl Line {
    fn json(&self, names: &Names) -> Json {
        let group = self.group.and_then(|g| names.groups.get(&g));
        json!({
            "date": self.date,
            "what": self.what,
            "record_id": self.record,
            "farm_id": self.farm,
            "farm": self.farm.and_then(|f| names.farms.get(&f)),
            "batch_id": self.batch.as_ref().map(|b| b.0),
            "batch": self.batch.as_ref().and_then(|b| b.1.as_ref()),
            "animal_group_id": self.group,
            "animal_group": group.map(|g| &g.0),
            "animal_class": group.map(|g| &g.1),
            "kg": self.grams.map(|g| json_decimal(g, 3)),
            "trays": self.trays,
            "cause": self.cause,
            "mould_seen": self.mould,
            "germination_percent": self.germination.map(|p| json_decimal(p, 2)),
            "supplier": self.supplier,
            "price": self.price.map(|p| json_decimal(p, names.digits)),
            "transport": self.transport.map(|p| json_decimal(p, names.digits)),
            "detail": self.detail,
        })
    }
}

impl App {
    /// Everything that happened to a lot, oldest first: purchases, hand-outs, corrections, holds,
    /// and every event of the batches grown from it down to the groups and days fed; with what is
    /// left where, and what spoiled. Only of farms within reach; the co-operative's own part only
    /// for those who may read purchases.
    ///
    /// # Errors
    /// `Forbidden`; `NotFound`.
    pub async fn lot_trace(&self, actor: &Actor, lot: Uuid) -> Result<Sheet, AppError> {
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
                let events = seed_rows::lot_events(conn, number, Ok(lot))?;
                let events: Vec<LotEvent> =
                    events.into_iter().filter(|e| trace.sees(Some(e.farm))).collect();
                trace.add_groups(conn, number, &events)?;
                lines.extend(events.iter().map(|e| trace.event(e)));
                lines.sort_by_key(|l| l.date);
                let stock: Vec<(Option<Uuid>, i64)> = seed_rows::lot_stock(conn, number, lot)?;
                let stock: Vec<Json> = stock
                    .iter()
                    .filter(|(farm, grams)| *grams != 0 && trace.sees(*farm))
                    .map(|(farm, grams)| {
                        json!({
                            "farm_id": farm,
                            "farm": farm.and_then(|f| trace.names.farms.get(&f)),
                            "stock_kg": json_decimal(*grams, 3),
                        })
                    })
                    .collect();
                let json = trace.head(conn, lot, &seed, today)?;
                let more = json!({
                    "farms": trace.farms(&lines),
                    "stock": stock,
                    "lines_left_off": lines.len().saturating_sub(LINES_MAX),
                    "lines": lines.iter().take(LINES_MAX).map(|l| l.json(&trace.names))
                        .collect::<Vec<_>>(),
                });
                let json = merge(merge(json, more), json!({ "spoilage": spoilage(&lines) }));
                Ok(Sheet { json, rows: "lines", columns: COLUMNS })
            })
            .await
    }

    /// A batch back to its lot, the purchases, supplier, germination test and holds of that lot,
    /// and forward to the groups and days fed; oldest first.
    ///
    /// # Errors
    /// `Forbidden`; `NotFound` for a batch out of reach.
    pub async fn batch_trace(&self, actor: &Actor, batch: Uuid) -> Result<Sheet, AppError> {
        let visible = actor.task(Task::SeedTrace)?;
        let (actor, now) = (actor.clone(), self.now());
        let today = actor.coop.today(now);
        self.store
            .read(move |conn| {
                let number = actor.coop.number;
                let reach = actor.visible(Action::Read, Kind::Batch)?;
                let record = find_visible(conn, &actor, Kind::Batch, batch, &reach)?;
                let grown = Batch::from_values(&record.values).ok_or(AppError::NotFound)?;
                let shown = Presenter::new(conn, &actor.coop, now)?;
                let shown = shown.one(conn, Kind::Batch, record)?;
                let mut trace = Trace::new(conn, &actor, visible)?;
                trace.only = Some(grown.farm_id);
                let events = seed_rows::lot_events(conn, number, Err(batch))?;
                trace.add_groups(conn, number, &events)?;
                let mut lines = Vec::new();
                let mut json = json!({ "seed_lot_id": null });
                let lot = match grown.seed_lot_id {
                    Some(lot) => records::find(conn, number, Kind::SeedLot, lot)?,
                    None => None,
                };
                let known = lot.and_then(|r| Some((r.id, SeedLot::from_values(&r.values)?)));
                if let Some((lot, seed)) = known {
                    json = trace.head(conn, lot, &seed, today)?;
                    lines = trace.of_lot(conn, lot, &seed)?;
                }
                lines.extend(events.iter().map(|e| trace.event(e)));
                lines.sort_by_key(|l| l.date);
                let more = json!({
                    "batch": shown,
                    "lines_left_off": lines.len().saturating_sub(LINES_MAX),
                    "lines": lines.iter().take(LINES_MAX).map(|l| l.json(&trace.names))
                        .collect::<Vec<_>>(),
                });
                Ok(Sheet { json: merge(json, more), rows: "lines", columns: COLUMNS })
            })
            .await
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

    fn event(&self, e: &LotEvent) -> Line {
        let what = match e.event.0.as_str() {
            "soaked" => "soaked",
            "spread" => "spread",
            "watered" => "watered",
            "harvested" => "harvested",
            "fed_out" => "fed_out",
            _ => "discarded",
        };
        Line {
            date: local_date(Instant(e.event.1), self.actor.coop.zone),
            what,
            record: e.id,
            farm: Some(e.farm),
            batch: Some(e.batch.clone()),
            group: e.group.filter(|_| what == "fed_out"),
            grams: e.grams,
            trays: e.trays,
            cause: e.cause.clone(),
            mould: Some(e.mould),
            germination: e.germinated,
            detail: e.reason.clone(),
            ..Line::default()
        }
    }

    /// The lines of a lot that are not events of batches.
    fn of_lot(&self, conn: &mut Conn, lot: Uuid, seed: &SeedLot) -> Result<Vec<Line>, AppError> {
        let number = self.actor.coop.number;
        let supplier = supplier(conn, number, seed)?.map(|s| s.1);
        let mut lines = Vec::new();
        if self.store {
            for (id, p) in of_lot::<SeedPurchase>(conn, number, lot)? {
                lines.push(Line {
                    date: p.date,
                    what: "bought",
                    record: id,
                    grams: Some(p.kg),
                    germination: p.germination_percent,
                    supplier: supplier.clone(),
                    price: Some(p.price),
                    transport: p.transport,
                    detail: p.note,
                    ..Line::default()
                });
            }
        }
        for (id, i) in of_lot::<SeedIssue>(conn, number, lot)? {
            let (farm, grams) = (Some(i.farm_id), Some(i.kg));
            let detail = i.note;
            lines.push(Line {
                date: i.date,
                what: "issued",
                record: id,
                farm,
                grams,
                detail,
                ..Line::default()
            });
        }
        for (id, a) in of_lot::<SeedAdjustment>(conn, number, lot)? {
            lines.push(Line {
                date: a.date,
                what: "adjusted",
                record: id,
                farm: a.farm_id,
                grams: Some(a.change_kg),
                detail: Some(a.note.map_or(a.reason.clone(), |n| format!("{}: {n}", a.reason))),
                ..Line::default()
            });
        }
        lines.retain(|l| l.what == "bought" || self.sees(l.farm));
        for (id, h) in of_lot::<LotHold>(conn, number, lot)? {
            let detail = Some(h.reason);
            lines.push(Line {
                date: h.held_from,
                what: "held",
                record: id,
                detail,
                ..Line::default()
            });
            if let Some(date) = h.released_on {
                let detail = h.finding;
                lines.push(Line { date, what: "released", record: id, detail, ..Line::default() });
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
    ) -> Result<Json, AppError> {
        let number = self.actor.coop.number;
        let holds = of_lot::<LotHold>(conn, number, lot)?;
        let held = holds.iter().find(|(_, h)| h.holds_on(today));
        let supplier = supplier(conn, number, seed)?;
        Ok(json!({
            "seed_lot_id": lot,
            "seed_lot": seed.code,
            "crop": seed.crop,
            "supplier_id": supplier.as_ref().map(|s| s.0),
            "supplier": supplier.map(|s| s.1),
            "is_held": held.is_some(),
            "held_because": held.map(|(_, h)| &h.reason),
            "cautions": held.map_or_else(Vec::new, |_| vec![HOLD_CAUTION]),
            "shows_purchases": self.store,
        }))
    }

    /// What each farm had of the lot.
    fn farms(&self, lines: &[Line]) -> Vec<Json> {
        let mut by_farm: BTreeMap<Uuid, Vec<&Line>> = BTreeMap::new();
        for line in lines {
            if let Some(farm) = line.farm {
                by_farm.entry(farm).or_default().push(line);
            }
        }
        let mut farms: Vec<(&String, Json)> = Vec::new();
        for (farm, lines) in by_farm {
            let Some(code) = self.names.farms.get(&farm) else { continue };
            let sum = |what: &str| {
                let of = lines.iter().filter(|l| l.what == what);
                json_decimal(of.filter_map(|l| l.grams).sum(), 3)
            };
            let mut batches: Vec<Uuid> =
                lines.iter().filter_map(|l| l.batch.as_ref()).map(|b| b.0).collect();
            batches.sort_unstable();
            batches.dedup();
            let mould = lines.iter().any(|l| l.mould == Some(true));
            let fed = lines.iter().filter(|l| l.what == "fed_out").map(|l| l.date);
            farms.push((
                code,
                json!({
                    "farm_id": farm,
                    "farm": code,
                    "issued_kg": sum("issued"),
                    "soaked_kg": sum("soaked"),
                    "harvested_kg": sum("harvested"),
                    "fed_kg": sum("fed_out"),
                    "batches": batches.len(),
                    "first_fed_on": fed.clone().min(),
                    "last_fed_on": fed.max(),
                    "mould_seen": mould,
                    "cautions": if mould { vec![MOULD_CAUTION] } else { Vec::new() },
                    "trays": spoilage(lines.iter().copied()),
                }),
            ));
        }
        farms.sort_by_key(|(code, _)| (*code).clone());
        farms.into_iter().map(|(_, json)| json).collect()
    }
}

/// Trays spread and discarded.
fn spoilage<'l>(lines: impl IntoIterator<Item = &'l Line>) -> Json {
    let (mut spread, mut discarded) = (0, 0);
    for line in lines {
        match line.what {
            "spread" => spread += line.trays.unwrap_or(0),
            "discarded" => discarded += line.trays.unwrap_or(0),
            _ => {}
        }
    }
    let share = traybook_domain::money::mul_div(discarded, 10_000, spread);
    json!({
        "trays_spread": spread,
        "trays_discarded": discarded,
        "discarded_percent": share.map(|s| json_decimal(s, 2)),
    })
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

/// The members of two JSON objects.
fn merge(mut into: Json, more: Json) -> Json {
    if let (Json::Object(a), Json::Object(b)) = (&mut into, more) {
        a.extend(b);
    }
    into
}
