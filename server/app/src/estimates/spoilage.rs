//! Who keeps spoiling, and is it the farm or the seed?

use super::flags::Standing;
use super::{Estimates, Version, farms, grouped, is_asked, rests_on, version};
use crate::ctx::{Actor, App, Coop};
use crate::error::AppError;
use crate::savings::area_names;
use serde_json::{Value as Json, json};
use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::{Arc, OnceLock};
use traybook_analytics::lots::{LotAnswer, LotBatch, LotRules, lot_or_farm};
use traybook_analytics::sentences::{lots_sentence, spoilage_sentence};
use traybook_analytics::spoilage::{
    Batch, FlagCause, Spoilage, SpoilageChart, SpoilageRules, SpoilageStatus, flag_cause, spoilage,
};
use traybook_domain::Kind;
use traybook_domain::authz::Task;
use traybook_domain::kinds::{SeedLot, Supplier};
use traybook_domain::record::Record as _;
use traybook_domain::time::{local_date, start_of_day};
use traybook_domain::value::Instant;
use traybook_storage::Conn;
use traybook_storage::batch_trays::{BatchTrays, batch_trays};
use traybook_storage::farm_rows::FarmRow;
use traybook_storage::records::{self, Filter, Visible};
use uuid::Uuid;

const DAY_MS: i64 = 86_400_000;
/// How far back a farm's chart begins.
const CHART_DAYS: i64 = 400;
/// How far back seed lots are compared.
const LOT_DAYS: i64 = 90;
/// After so many days a batch is over, whether or not all its trays were recorded.
const BATCH_DAYS: i64 = 14;
const METHOD: &str = "a running chart of each farm's batches (beta-binomial likelihood ratio of 15 % \
    against 4 % of trays discarded, capped so that no fewer than three bad batches raise a flag); \
    lots against farms by a crossed weighted comparison of the last 90 days, lots named at a false \
    discovery rate of 5 %";
const CAUTION: &str = "do not feed mouldy trays; ask a veterinary officer";

/// Lots with their suppliers.
type LotNames = HashMap<Uuid, (SeedLot, Option<String>)>;

/// The estimate: every farm's chart, and the seed lots.
struct Spoiling {
    farms: Vec<FarmChart>,
    names: BTreeMap<Uuid, String>,
    /// Correlation and multipliers of all farms; the charts are beside the farms.
    shared: Spoilage,
    lot_names: Arc<LotNames>,
    /// Where the day begins.
    now: Instant,
    /// Made when somebody asks for it: most ask for the charts alone.
    seed: OnceLock<Seed>,
}

/// What seed lots have to do with it.
struct Seed {
    answer: LotAnswer,
    /// The lots compared, in the answer's order.
    ids: Vec<Uuid>,
    /// Those that are named.
    bad: HashSet<Uuid>,
}

struct FarmChart {
    farm: Arc<FarmRow>,
    grown: Arc<Grown>,
    chart: SpoilageChart,
}

/// What a farm grew, as it is kept.
#[derive(Default)]
struct Grown {
    /// Its batches that are over, in the order of the soak.
    over: Vec<BatchTrays>,
    /// The same as the chart takes them.
    trays: Vec<Batch>,
    /// Lots of the batches that are not over.
    lots: Vec<Uuid>,
}

impl Grown {
    fn new(batches: Vec<BatchTrays>, now: Instant) -> Self {
        let is_over = |b: &BatchTrays| {
            b.harvested + b.discarded >= b.spread || b.soaked_at < now.0 - BATCH_DAYS * DAY_MS
        };
        let (over, growing): (Vec<_>, Vec<_>) = batches.into_iter().partition(is_over);
        let trays = over.iter().map(trays).collect();
        Self { over, trays, lots: growing.iter().filter_map(|b| b.lot).collect() }
    }
}

impl App {
    async fn spoiling<T: Send + 'static>(
        &self,
        actor: &Actor,
        read: impl FnOnce(&mut Conn, &Spoiling, i64, &Visible) -> Result<T, AppError> + Send + 'static,
    ) -> Result<T, AppError> {
        let visible = actor.task(Task::Estimates)?;
        let (actor, app, now) = (actor.clone(), self.clone(), self.now());
        self.store
            .read(move |conn| {
                let coop = &actor.coop;
                let seq = version(conn, coop.number, coop.today(now))?.0;
                let made = get(conn, &app.estimates, coop, coop.today(now))?;
                read(conn, &made, seq, &visible)
            })
            .await
    }

    /// Every farm's spoilage, the strongest evidence first.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn spoilage(&self, actor: &Actor) -> Result<Json, AppError> {
        self.most_spoiling(actor, usize::MAX).await
    }

    /// The same of the first few farms, with the number of those whose spoilage is recurring.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn most_spoiling(&self, actor: &Actor, most: usize) -> Result<Json, AppError> {
        self.spoiling(actor, move |_, s, data_version, visible| {
            let mut seen: Vec<&FarmChart> =
                s.farms.iter().filter(|f| sees(visible, &f.farm)).collect();
            seen.sort_by(|a, b| {
                let by =
                    |c: &FarmChart| (c.chart.status == SpoilageStatus::Recurring, c.chart.value);
                by(b).partial_cmp(&by(a)).unwrap_or(std::cmp::Ordering::Equal)
            });
            let is_recurring = |f: &&&FarmChart| f.chart.status == SpoilageStatus::Recurring;
            let recurring = seen.iter().filter(is_recurring).count();
            let mut all = json!({
                "method": METHOD,
                "units": "trays; chart values are log likelihood ratios, a flag goes up at 6",
                "caution": CAUTION,
                "data_version": data_version,
                "tray_correlation": round(s.shared.correlation),
                "farms": seen.iter().take(most).map(|f| s.line(f)).collect::<Vec<_>>(),
            });
            if let (true, Json::Object(all)) = (most < usize::MAX, &mut all) {
                all.insert("recurring".to_owned(), json!(recurring));
            }
            Ok(all)
        })
        .await
    }

    /// One farm's chart with the batches behind it.
    ///
    /// # Errors
    /// `Forbidden`; `NotFound` for a farm out of reach.
    pub async fn farm_spoilage(&self, actor: &Actor, farm: Uuid) -> Result<Json, AppError> {
        let zone = actor.coop.zone;
        self.spoiling(actor, move |_, s, data_version, visible| {
            let found = s.farms.iter().find(|f| f.farm.farm == farm && sees(visible, &f.farm));
            let found = found.ok_or(AppError::NotFound)?;
            let raised = found.chart.raised_by();
            let path: Vec<Json> = found
                .grown
                .over
                .iter()
                .zip(&found.chart.path)
                .enumerate()
                .map(|(i, (b, value))| {
                    json!({
                        "batch_id": b.batch,
                        "soaked_on": local_date(Instant(b.soaked_at), zone),
                        "trays_spread": b.spread,
                        "trays_discarded": b.discarded,
                        "seed_lot": b.lot.and_then(|l| s.lot_names.get(&l)).map(|l| &l.0.code),
                        "chart_value": round(*value),
                        "raised_the_flag": raised.as_ref().is_some_and(|r| r.contains(&i)),
                    })
                })
                .collect();
            let mut line = s.line(found);
            if let Json::Object(map) = &mut line {
                map.insert("path".to_owned(), json!(path));
                map.insert("method".to_owned(), json!(METHOD));
                map.insert("caution".to_owned(), json!(CAUTION));
                map.insert("data_version".to_owned(), json!(data_version));
            }
            Ok(line)
        })
        .await
    }

    /// Whether the evidence of the last 90 days points at seed lots, at farms, or at both; the
    /// suspect lots and where else they are in use.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn seed_lot_evidence(&self, actor: &Actor) -> Result<Json, AppError> {
        self.spoiling(actor, |_, s, data_version, visible| Ok(s.lots_json(data_version, visible)))
            .await
    }
}

/// The status of every farm that has batches, or of one.
pub(super) fn of_farms(
    conn: &mut Conn,
    kept: &Estimates,
    coop: &Coop,
    today: chrono::NaiveDate,
    of: Option<Uuid>,
) -> Result<Vec<(Uuid, String)>, AppError> {
    let made = get(conn, kept, coop, today)?;
    let status = |f: &FarmChart| {
        let text = serde_json::to_value(f.chart.status).ok()?.as_str()?.to_owned();
        let seed = made.cause(f) == Some(FlagCause::SeedLot);
        let text = if seed { format!("{text} (seed lot)") } else { text };
        (!f.grown.over.is_empty()).then_some((f.farm.farm, text))
    };
    let asked = made.farms.iter().filter(|f| is_asked(of, f.farm.farm));
    Ok(asked.filter_map(status).collect())
}

/// Every farm's chart value, for the visit list.
pub(super) fn values(
    conn: &mut Conn,
    kept: &Estimates,
    coop: &Coop,
    today: chrono::NaiveDate,
) -> Result<HashMap<Uuid, f64>, AppError> {
    let made = get(conn, kept, coop, today)?;
    Ok(made.farms.iter().map(|f| (f.farm.farm, f.chart.value)).collect())
}

/// Every farm's standing, for flags.
pub(super) fn standing(
    conn: &mut Conn,
    kept: &Estimates,
    coop: &Coop,
    today: chrono::NaiveDate,
) -> Result<Vec<Standing>, AppError> {
    let made = get(conn, kept, coop, today)?;
    let one = |f: &FarmChart| Standing {
        farm: f.farm.farm,
        raised_by: f
            .chart
            .flagged_since
            .and_then(|i| f.grown.over.get(i))
            .map(|b| (b.batch, b.soaked_at)),
        points_at: match made.cause(f) {
            Some(FlagCause::SeedLot) => "seed_lot",
            Some(FlagCause::Farm) => "farm",
            None => "not_known",
        },
        sentence: spoilage_sentence(&f.chart, made.cause(f)),
    };
    Ok(made.farms.iter().map(one).collect())
}

fn sees(visible: &Visible, f: &FarmRow) -> bool {
    visible.sees(f.area, f.member)
}

fn round(value: f64) -> Json {
    json!((value * 1000.0).round() / 1000.0)
}

/// The estimate of a day as kept, or made now. Its days end as the day begins, so that it does not
/// depend on when it is asked for.
fn get(
    conn: &mut Conn,
    kept: &Estimates,
    coop: &Coop,
    today: chrono::NaiveDate,
) -> Result<Arc<Spoiling>, AppError> {
    let (number, now) = (coop.number, start_of_day(today, coop.zone));
    let version = version(conn, number, today)?;
    let rests_on: &[Kind] = rests_on!(Batch, BatchEvent, SeedLot, Supplier);
    kept.follow(conn, (number, "spoilage"), version, rests_on, |conn| {
        make(conn, (kept, number), version, now)
    })
}

fn make(
    conn: &mut Conn,
    (kept, coop): (&Estimates, i64),
    version: Version,
    now: Instant,
) -> Result<Spoiling, AppError> {
    let kinds: (&[Kind], &[Kind]) =
        (rests_on!(Batch, BatchEvent), &[Kind::Batch, Kind::BatchEvent]);
    // Each farm's in the order of the soak.
    let read = kept.by_farm(conn, (coop, "trays"), version, kinds, |conn, of| {
        let rows = batch_trays(conn, coop, now.0 - CHART_DAYS * DAY_MS, of)?;
        let batches = grouped(rows, |b: &BatchTrays| b.farm);
        Ok(batches.map(|(farm, all)| (farm, Arc::new(Grown::new(all, now)))).collect())
    })?;
    let of_lots = &[Kind::SeedLot, Kind::Supplier];
    let lot_names =
        kept.follow(conn, (coop, "lot names"), version, of_lots, |conn| lot_names(conn, coop))?;
    let (farms, names) = (farms(conn, kept, coop, version)?, area_names(conn, coop)?);
    let grown: Vec<Arc<Grown>> =
        farms.iter().map(|f| read.get(&f.farm).map(Arc::clone).unwrap_or_default()).collect();
    let by_farm: Vec<&[Batch]> = grown.iter().map(|g| g.trays.as_slice()).collect();
    let mut shared = spoilage(&by_farm, &SpoilageRules::default());
    let charts = std::mem::take(&mut shared.farms);
    let charted = farms.iter().zip(grown).zip(charts).map(|((farm, grown), chart)| FarmChart {
        farm: Arc::clone(farm),
        grown,
        chart,
    });
    Ok(Spoiling { farms: charted.collect(), names, shared, lot_names, now, seed: OnceLock::new() })
}

fn trays(b: &BatchTrays) -> Batch {
    let count = |n: i64| u32::try_from(n.max(0)).unwrap_or(u32::MAX);
    // More trays discarded than spread is a slip: the review comes later, the chart stays sound.
    let (started, discarded) = (count(b.spread), count(b.discarded.min(b.spread)));
    Batch { started, discarded, temperature_class: None }
}

fn compare_lots(farms: &[FarmChart], now: Instant, correlation: f64) -> (LotAnswer, Vec<Uuid>) {
    let since = now.0 - LOT_DAYS * DAY_MS;
    let mut lot_ids: Vec<Uuid> = Vec::new();
    let mut index: HashMap<Uuid, u32> = HashMap::new();
    let mut rows = Vec::new();
    for (farm, grown) in farms.iter().map(|f| &f.grown).enumerate() {
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
    (lot_or_farm(&rows, &LotRules { correlation, ..LotRules::default() }), lot_ids)
}

fn lot_names(conn: &mut Conn, coop: i64) -> Result<LotNames, AppError> {
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

impl Spoiling {
    fn seed(&self) -> &Seed {
        self.seed.get_or_init(|| {
            let (answer, ids) = compare_lots(&self.farms, self.now, self.shared.correlation);
            let named = answer.tests.iter().flat_map(|t| t.bad_lots.iter());
            let bad = named.filter_map(|lot| ids.get(usize::try_from(*lot).ok()?).copied());
            Seed { bad: bad.collect(), answer, ids }
        })
    }

    /// Whether a flag is the seed's doing.
    fn cause(&self, farm: &FarmChart) -> Option<FlagCause> {
        if farm.chart.status != SpoilageStatus::Recurring {
            return None;
        }
        let bad = &self.seed().bad;
        let is_bad = |b: &BatchTrays| b.lot.is_some_and(|lot| bad.contains(&lot));
        let is_bad: Vec<bool> = farm.grown.over.iter().map(is_bad).collect();
        flag_cause(&farm.grown.trays, &is_bad, &self.shared, &SpoilageRules::default())
    }

    /// Farms with a batch of the lot that is not over, each once.
    fn growing_at(&self, lot: Uuid) -> impl Iterator<Item = &FarmRow> {
        let grows = move |f: &&FarmChart| f.grown.lots.contains(&lot);
        self.farms.iter().filter(grows).map(|f| &*f.farm)
    }

    fn line(&self, f: &FarmChart) -> Json {
        let since = f.chart.flagged_since.and_then(|i| f.grown.over.get(i)).map(|b| b.batch);
        let raised: Vec<Uuid> = match f.chart.raised_by() {
            Some(range) => range.filter_map(|i| f.grown.over.get(i)).map(|b| b.batch).collect(),
            None => Vec::new(),
        };
        let cause = self.cause(f);
        json!({
            "farm_id": f.farm.farm,
            "farm": f.farm.code,
            "member_number": f.farm.number,
            "member_name": f.farm.name,
            "area": self.names.get(&f.farm.area),
            "status": f.chart.status,
            "points_at": cause,
            "chart_value": round(f.chart.value),
            "batches_used": f.chart.batches_used,
            "trays_spread": f.grown.over.iter().map(|b| b.spread).sum::<i64>(),
            "trays_discarded": f.grown.over.iter().map(|b| b.discarded).sum::<i64>(),
            "flagged_since_batch_id": since,
            "raised_by_batch_ids": raised,
            "sentence": spoilage_sentence(&f.chart, cause),
        })
    }

    fn lots_json(&self, data_version: i64, visible: &Visible) -> Json {
        let seed = self.seed();
        let name = |lot: u32| {
            let id = usize::try_from(lot).ok().and_then(|i| seed.ids.get(i));
            let known = id.and_then(|id| self.lot_names.get(id));
            known.map_or_else(|| "unknown".to_owned(), |(lot, _)| lot.code.clone())
        };
        let tests = seed.answer.tests.as_ref();
        let lots: Vec<Json> = tests
            .map(|t| {
                let bad: HashSet<u32> = t.bad_lots.iter().copied().collect();
                t.lots
                    .iter()
                    .map(|l| {
                        let id = usize::try_from(l.lot).ok().and_then(|i| seed.ids.get(i));
                        let known = id.and_then(|id| self.lot_names.get(id));
                        let at = id.into_iter().flat_map(|lot| self.growing_at(*lot));
                        let at: Vec<Json> = at
                            .filter(|f| sees(visible, f))
                            .map(|f| json!({ "farm_id": f.farm, "farm": f.code }))
                            .collect();
                        json!({
                            "seed_lot_id": id,
                            "seed_lot": known.map(|(lot, _)| &lot.code),
                            "crop": known.map(|(lot, _)| &lot.crop),
                            "supplier": known.and_then(|(_, s)| s.as_ref()),
                            "is_suspect": bad.contains(&l.lot),
                            "effect": round(l.effect),
                            "p": l.p,
                            "batches": l.batches,
                            "farms": l.farms,
                            "growing_at": at,
                        })
                    })
                    .collect()
            })
            .unwrap_or_default();
        json!({
            "method": METHOD,
            "units": "effect on the arcsine root of the share of trays discarded",
            "caution": CAUTION,
            "data_version": data_version,
            "verdict": seed.answer.verdict,
            "sentence": lots_sentence(&seed.answer, &name),
            "p_lots": tests.map(|t| t.lot.p),
            "p_farms": tests.map(|t| t.farm.p),
            "seed_lots": lots,
        })
    }
}
