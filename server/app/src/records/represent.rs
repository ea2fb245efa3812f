//! Records as JSON: the recorded fields, what is known of their making, and what follows from them.

use crate::Coop;
use crate::error::AppError;
use serde_json::{Map, Value as Json, json};
use std::cell::OnceCell;
use std::collections::HashMap;
use traybook_domain::field::json_decimal;
use traybook_domain::kinds::{
    AnimalGroup, Batch, BatchEvent, HOLD_CAUTION, MOULD_CAUTION, Reading,
};
use traybook_domain::planning::batch::{Progress, ProgressCtx, Stage, progress};
use traybook_domain::planning::guide::{Guide, GuideName, animals_per_tray_is_derived};
use traybook_domain::record::Record as _;
use traybook_domain::review::mould::Verdict;
use traybook_domain::review::yields::yield_verdict;
use traybook_domain::savings::money::mul_div;
use traybook_domain::time::format_instant;
use traybook_domain::value::{Instant, real};
use traybook_domain::{Kind, Value, planning::thi};
use traybook_planning::work::OVER_AGE_CAUTION;
use traybook_storage::Conn;
use traybook_storage::records::{self, Record};
use traybook_storage::seed::lot_rows::{self, LotFacts};
use uuid::Uuid;

/// The recorded fields alone.
#[must_use]
pub fn body_json(kind: Kind, values: &[Value], digits: u8) -> Map<String, Json> {
    let fields = kind.spec().fields.iter().zip(values);
    fields.map(|(f, v)| (f.name.to_owned(), f.write_json(v, digits))).collect()
}

/// Records as they are answered.
pub struct Presenter<'a> {
    coop: &'a Coop,
    /// Read when the first record comes that is shown by it.
    guide: OnceCell<Guide>,
    now: Instant,
}

impl<'a> Presenter<'a> {
    /// Makes one.
    #[must_use]
    pub const fn new(coop: &'a Coop, now: Instant) -> Self {
        Self { guide: OnceCell::new(), coop, now }
    }

    fn guide(&self, conn: &mut Conn) -> Result<&Guide, AppError> {
        if let Some(guide) = self.guide.get() {
            return Ok(guide);
        }
        let guide = self.coop.guide(conn)?;
        Ok(self.guide.get_or_init(|| guide))
    }

    pub fn one(&self, conn: &mut Conn, kind: Kind, record: Record) -> Result<Json, AppError> {
        let mut all = self.many(conn, kind, vec![record])?;
        all.pop().ok_or_else(|| AppError::Internal("no record to show".to_owned()))
    }

    /// Several records of one kind.
    pub fn many(
        &self,
        conn: &mut Conn,
        kind: Kind,
        records: Vec<Record>,
    ) -> Result<Vec<Json>, AppError> {
        let (progress, guide) = match kind {
            Kind::Batch if !records.is_empty() => {
                (self.progress(conn, &records)?, Some(self.guide(conn)?))
            }
            Kind::AnimalGroup if !records.is_empty() => (HashMap::new(), Some(self.guide(conn)?)),
            _ => (HashMap::new(), None),
        };
        let show = |record: Record| {
            let mut map = Map::new();
            map.insert("id".to_owned(), json!(record.id));
            map.extend(body_json(kind, &record.values, self.coop.digits));
            map.extend(self.derived(kind, &record, (guide, progress.get(&record.id))));
            map.insert("version".to_owned(), json!(record.version));
            let at = |ms: i64| json!(format_instant(Instant(ms)));
            map.insert("created_at".to_owned(), at(record.created_at));
            map.insert("created_by".to_owned(), json!(record.created_by));
            map.insert("changed_at".to_owned(), at(record.changed_at));
            map.insert("changed_by".to_owned(), json!(record.changed_by));
            map.insert("withdrawn_at".to_owned(), record.withdrawn_at.map_or(Json::Null, at));
            Json::Object(map)
        };
        Ok(records.into_iter().map(show).collect())
    }

    fn progress(
        &self,
        conn: &mut Conn,
        batches: &[Record],
    ) -> Result<HashMap<Uuid, (Progress, Germination)>, AppError> {
        let coop = self.coop.number;
        let (guide, today) = (self.guide(conn)?, self.coop.today(self.now));
        let LotFacts { tested, held } = lot_rows::lot_facts(conn, coop, &lots(batches), today)?;
        let ids: Vec<Uuid> = batches.iter().map(|b| b.id).collect();
        let mut events: HashMap<Uuid, Vec<BatchEvent>> = HashMap::new();
        for record in records::by_reference(conn, coop, Kind::BatchEvent, "batch_id", &ids)? {
            if let Some(event) = BatchEvent::from_values(&record.values) {
                events.entry(event.batch_id).or_default().push(event);
            }
        }
        let batch = |r: &Record| Batch::from_values(&r.values);
        let mut groups: Vec<Uuid> =
            batches.iter().filter_map(batch).filter_map(|b| b.animal_group_id).collect();
        groups.sort_unstable();
        groups.dedup();
        let groups = records::by_reference(conn, coop, Kind::AnimalGroup, "id", &groups)?;
        let class = |id: Option<Uuid>| {
            let found = groups.iter().find(|g| Some(g.id) == id)?;
            AnimalGroup::from_values(&found.values).map(|g| g.animal_class)
        };
        let mut all = HashMap::new();
        for record in batches {
            let Some(batch) = batch(record) else { continue };
            let class = class(batch.animal_group_id);
            let ctx = ProgressCtx {
                guide,
                class: class.as_deref(),
                harvest_age_days: batch.harvest_age_days,
                crop: &batch.crop,
                now: self.now,
                zone: self.coop.zone,
            };
            let none = Vec::new();
            let events = events.get(&record.id).unwrap_or(&none);
            let germination = Germination {
                seen: counted(events),
                tested: batch.seed_lot_id.and_then(|lot| tested.get(&lot).copied()),
            };
            let mut progress = progress(events, &ctx);
            if progress.stage != Stage::Finished {
                let held = batch.seed_lot_id.is_some_and(|lot| held.contains(&lot));
                progress.cautions.extend(held.then_some(HOLD_CAUTION));
                let is_old = progress.stage == Stage::Overdue;
                progress.cautions.extend(is_old.then_some(OVER_AGE_CAUTION));
            }
            all.insert(record.id, (progress, germination));
        }
        Ok(all)
    }

    /// What follows from a record and the clock; read-only members.
    fn derived(
        &self,
        kind: Kind,
        record: &Record,
        (guide, at): (Option<&Guide>, Option<&(Progress, Germination)>),
    ) -> Map<String, Json> {
        let derived = match kind {
            Kind::Batch => {
                guide.zip(at).map(|(guide, (p, germination))| self.batch(guide, p, *germination))
            }
            Kind::BatchEvent => BatchEvent::from_values(&record.values).map(|e| {
                let cautions = if e.saw_mould() { vec![MOULD_CAUTION] } else { Vec::new() };
                json!({ "cautions": cautions })
            }),
            Kind::Reading => Reading::from_values(&record.values).map(|r| reading(&r)),
            Kind::AnimalGroup => {
                guide.zip(AnimalGroup::from_values(&record.values)).map(|(guide, g)| {
                    let today = self.coop.today(self.now);
                    let class = Some(g.animal_class.as_str());
                    let per_tray = guide.value(GuideName::AnimalsPerTray, class, today);
                    let set = guide.since(GuideName::AnimalsPerTray, class, today).is_some();
                    json!({
                        "animals_per_tray": json_decimal(per_tray, 3),
                        "animals_per_tray_is_derived":
                            !set && animals_per_tray_is_derived(&g.animal_class),
                        "harvest_age_days": guide.harvest_age_days(class, today),
                    })
                })
            }
            _ => None,
        };
        match derived {
            Some(Json::Object(map)) => map,
            _ => Map::new(),
        }
    }

    fn batch(&self, of: &Guide, p: &Progress, germination: Germination) -> Json {
        let dry_matter = |day| of.fodder_dry_matter(day);
        let day = p.soaked_at.map(|at| traybook_domain::time::local_date(at, self.coop.zone));
        let impossible = day.is_some_and(|day| {
            let percent = of.value(GuideName::SeedDryMatterPercent, None, day);
            let trays = (p.trays_spread, p.trays_harvested.min(p.trays_spread));
            let seed_g = match trays {
                (spread, trays) if trays > 0 => mul_div(p.seed_g, trays, spread),
                _ => Some(p.seed_g),
            };
            // How wet the fodder was is not measured: the guide's own figure is no evidence.
            let of_seed = |seed: i64| {
                let share = real(percent) / 100_000.0;
                yield_verdict(real(p.harvested_g), real(seed), None, share)
            };
            let verdict = seed_g.filter(|g| *g > 0).and_then(of_seed);
            verdict == Some(Verdict::YieldImpossible)
        });
        let yield_g = mul_div(p.harvested_g, 1000, p.seed_g);
        let guide = |name, day| of.value(name, None, day);
        let expected = day.and_then(|day| {
            mul_div(p.seed_g, guide(GuideName::FreshKgPerKgSeed, day), 1_000).filter(|g| *g > 0)
        });
        let dry_in = day.and_then(|day| {
            mul_div(p.seed_g, guide(GuideName::SeedDryMatterPercent, day), 100_000)
        });
        let dry_out = day.and_then(|day| mul_div(p.harvested_g, dry_matter(day), 10_000));
        let harvested = p.harvested_g > 0;
        let kg = |grams: i64| json_decimal(grams, 3);
        json!({
            "expected_kg": expected.map(kg),
            "yield_of_expected_percent": expected
                .filter(|_| harvested)
                .and_then(|e| mul_div(p.harvested_g, 1_000, e))
                .map(|share| json_decimal(share, 1)),
            "dry_matter_in_kg": dry_in.filter(|_| p.seed_g > 0).map(kg),
            "dry_matter_out_kg": dry_out.filter(|_| harvested).map(kg),
            "dry_matter_kept_percent": dry_in
                .zip(dry_out)
                .filter(|_| harvested)
                .and_then(|(seed, fodder)| mul_div(fodder, 1_000, seed))
                .map(|share| json_decimal(share, 1)),
            "germinated_percent": germination.seen.map(|p| json_decimal(p, 2)),
            "tested_percent": germination.tested.map(|p| json_decimal(p, 2)),
            "stage": p.stage.text(),
            "soaked_at": p.soaked_at.map(format_instant),
            "age_days": p.age_days,
            "harvest_on": p.harvest_on,
            "seed_kg": json_decimal(p.seed_g, 3),
            "trays_spread": p.trays_spread,
            "trays_harvested": p.trays_harvested,
            "trays_discarded": p.trays_discarded,
            "harvested_kg": json_decimal(p.harvested_g, 3),
            "fed_kg": json_decimal(p.fed_g, 3),
            "fresh_kg_per_kg_seed":
                yield_g.filter(|_| p.harvested_g > 0).map(|g| json_decimal(g, 3)),
            "is_yield_impossible": impossible,
            "mould_seen": p.mould_seen,
            "cautions": p.cautions,
        })
    }
}

/// The lots that batches were soaked from.
fn lots(batches: &[Record]) -> Vec<Uuid> {
    let lot = |r: &Record| Batch::from_values(&r.values).and_then(|b| b.seed_lot_id);
    let mut lots: Vec<Uuid> = batches.iter().filter_map(lot).collect();
    lots.sort_unstable();
    lots.dedup();
    lots
}

/// Germination of a batch's seed, hundredths of a per cent.
#[derive(Clone, Copy)]
struct Germination {
    /// Counted when it was spread.
    seen: Option<i64>,
    /// In the test of the lot.
    tested: Option<i64>,
}

/// What was counted at spreading, weighted by trays where it was counted several times.
fn counted(events: &[BatchEvent]) -> Option<i64> {
    let (mut trays, mut sum) = (0, 0);
    for event in events {
        if let Some(percent) = event.germinated_percent {
            let weight = event.trays.unwrap_or(1).max(1);
            trays += weight;
            sum += weight * percent;
        }
    }
    mul_div(sum, 1, trays)
}

fn reading(r: &Reading) -> Json {
    let index = thi::thi(r.temperature_c, r.humidity_percent);
    json!({
        "temperature_humidity_index": index.map(|i| (i * 10.0).round() / 10.0),
        "cattle_heat": index.map(thi::heat_band),
        "is_mould_weather": thi::mould_weather(r.temperature_c, r.humidity_percent),
    })
}
