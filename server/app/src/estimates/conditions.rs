//! The conditions of batches, from what was recorded: each holds of a batch, does not, or is not
//! known.

use super::why::day_of;
use crate::Coop;
use crate::error::AppError;
use chrono::{Datelike as _, NaiveDate};
use std::collections::{BTreeMap, HashMap};
use traybook_answers::estimates::{
    ConditionKind, DEEP_TIMES, GERMINATED_PERCENT, HOT_C, HUMID_PERCENT,
};
use traybook_domain::Kind;
use traybook_domain::kinds::{ChecklistItem, Cooperative, read_months};
use traybook_domain::planning::guide::{Guide, GuideName};
use traybook_domain::record::Record as _;
use traybook_domain::time::local_date;
use traybook_domain::value::{Instant, real};
use traybook_storage::estimates::spoilage_rows::{self, BatchRow, ReadingRow};
use traybook_storage::planning::batch_trays::BatchTrays;
use traybook_storage::records::{self, Filter, Visible};
use traybook_storage::{Conn, records::guide};
use uuid::Uuid;

/// Days around a soak in which a reading tells of it.
const READING_DAYS: i32 = 3;
/// Days before a soak in which a visit tells of it.
const VISIT_DAYS: i32 = 45;
const DAY_MS: i64 = 86_400_000;

/// One condition of every batch.
pub(super) struct Column {
    pub kind: ConditionKind,
    pub value: Option<String>,
    pub question: Option<String>,
    pub compared_with: Option<String>,
    pub of: Vec<Option<bool>>,
}

impl Column {
    const fn new(kind: ConditionKind, of: Vec<Option<bool>>) -> Self {
        Self { kind, value: None, question: None, compared_with: None, of }
    }
}

/// Sums of readings of a day.
#[derive(Clone, Copy, Default)]
struct Weather {
    temperature: (i64, i64),
    humidity: (i64, i64),
}

/// Readings of a shed, or of a farm where no shed was named, by day.
type Days = BTreeMap<i32, Weather>;

/// What was recorded around the batches.
pub(super) struct Facts {
    coop: Coop,
    batches: HashMap<Uuid, BatchRow>,
    sheds: HashMap<Uuid, Days>,
    farms: HashMap<Uuid, Days>,
    /// Answers by farm and question in the order of the visits: day, and whether it was no.
    checks: HashMap<(Uuid, Uuid), Vec<(i64, bool)>>,
    questions: BTreeMap<String, (Uuid, String)>,
    water: HashMap<Uuid, String>,
    germination: HashMap<Uuid, i64>,
    guide: Guide,
    wet_months: Vec<u32>,
}

impl Facts {
    /// Reads what was recorded since the first batches.
    pub fn load(conn: &mut Conn, coop: &Coop, since: i64) -> Result<Self, AppError> {
        let number = coop.number;
        // What was read or seen before the soak of a batch that ended later.
        let before = since - 60 * DAY_MS;
        let batches = spoilage_rows::batches(conn, number, since)?;
        let mut facts = Self {
            coop: coop.clone(),
            batches: batches.into_iter().map(|b| (b.batch, b)).collect(),
            sheds: HashMap::new(),
            farms: HashMap::new(),
            checks: HashMap::new(),
            questions: questions(conn, number)?,
            water: spoilage_rows::water_sources(conn, number)?,
            germination: spoilage_rows::germination(conn, number)?,
            guide: guide::guide(conn, number)?,
            wet_months: wet_months(conn, coop)?,
        };
        for r in spoilage_rows::readings(conn, number, before)? {
            facts.read(&r);
        }
        for c in spoilage_rows::checks(conn, number, before)? {
            facts.checks.entry((c.farm, c.item)).or_default().push((c.at, c.is_no));
        }
        Ok(facts)
    }

    fn read(&mut self, r: &ReadingRow) {
        let day = day_of(&self.coop, Instant(r.at));
        let days = match r.shed {
            Some(shed) => self.sheds.entry(shed).or_default(),
            None => self.farms.entry(r.farm).or_default(),
        };
        let weather = days.entry(day).or_default();
        weather.temperature = (weather.temperature.0 + r.temperature, weather.temperature.1 + 1);
        if let Some(humidity) = r.humidity {
            weather.humidity = (weather.humidity.0 + humidity, weather.humidity.1 + 1);
        }
    }

    /// All conditions of the batches.
    pub fn columns(&self, rows: &[&BatchTrays]) -> Vec<Column> {
        let each = |of: &dyn Fn(&BatchTrays) -> Option<bool>| -> Vec<Option<bool>> {
            rows.iter().map(|b| of(b)).collect()
        };
        let hot = |b: &BatchTrays| Some(self.mean(b, |w| w.temperature)? > 10.0 * real(HOT_C));
        let humid =
            |b: &BatchTrays| Some(self.mean(b, |w| w.humidity)? > 10.0 * real(HUMID_PERCENT));
        let germinated = |b: &BatchTrays| {
            let lots = || b.lot.and_then(|lot| self.germination.get(&lot).copied());
            Some(b.sums.germinated.or_else(lots)? < 100 * GERMINATED_PERCENT)
        };
        let mut columns = vec![
            Column::new(ConditionKind::SoakedHot, each(&hot)),
            Column::new(ConditionKind::Humid, each(&humid)),
            Column::new(ConditionKind::HarvestedLate, each(&|b| self.is_late(b))),
            Column::new(ConditionKind::SeedDeep, each(&|b| self.is_deep(b))),
            Column::new(ConditionKind::PoorGermination, each(&germinated)),
        ];
        if !self.wet_months.is_empty() {
            let wet = |b: &BatchTrays| Some(self.wet_months.contains(&self.soaked_on(b)?.month()));
            columns.push(Column::new(ConditionKind::WetSeason, each(&wet)));
        }
        let water = |b: &BatchTrays| self.water.get(&b.farm).map(String::as_str);
        columns.extend(by_value(ConditionKind::WaterSource, rows, water));
        let crop = |b: &BatchTrays| self.batches.get(&b.batch).map(|b| b.crop.as_str());
        columns.extend(by_value(ConditionKind::Crop, rows, crop));
        for (code, (item, question)) in &self.questions {
            let of = each(&|b| self.was_no(b, *item));
            if of.iter().any(Option::is_some) {
                columns.push(Column {
                    value: Some(code.clone()),
                    question: Some(question.clone()),
                    ..Column::new(ConditionKind::ChecklistNo, of)
                });
            }
        }
        columns
    }

    fn soaked_on(&self, b: &BatchTrays) -> Option<NaiveDate> {
        b.sums.soaked_at.map(|at| local_date(at, self.coop.zone))
    }

    /// The mean of the day nearest to the soak that has readings: the shed's before the farm's.
    fn mean(&self, b: &BatchTrays, of: impl Fn(&Weather) -> (i64, i64)) -> Option<f64> {
        let soaked = day_of(&self.coop, b.sums.soaked_at?);
        let nearest = |days: Option<&Days>| {
            let days = days?;
            (0..=READING_DAYS).flat_map(|off| [soaked - off, soaked + off]).find_map(|day| {
                let (sum, count) = of(days.get(&day)?);
                (count > 0).then(|| real(sum) / real(count))
            })
        };
        nearest(self.sheds.get(&b.shed)).or_else(|| nearest(self.farms.get(&b.farm)))
    }

    /// Whether the last harvest came later than the batch's age says.
    fn is_late(&self, b: &BatchTrays) -> Option<bool> {
        let soaked = self.soaked_on(b)?;
        let harvested = local_date(b.sums.harvested_at?, self.coop.zone);
        let batch = self.batches.get(&b.batch)?;
        let guide = || self.guide.harvest_age_days(batch.class.as_deref(), soaked);
        let age = batch.harvest_age_days.unwrap_or_else(guide);
        Some((harvested - soaked).num_days() > age)
    }

    /// Whether more seed lay on a tray than a full load.
    fn is_deep(&self, b: &BatchTrays) -> Option<bool> {
        let soaked = self.soaked_on(b)?;
        let is_told = b.sums.spread.is_some() || b.sums.soaked_for.is_some();
        let begun = b.begun.filter(|n| *n > 0 && is_told && b.sums.seed_g > 0)?;
        let own = self.batches.get(&b.batch)?.load_g;
        let load = own.unwrap_or_else(|| self.guide.value(GuideName::SeedKgPerTray, None, soaked));
        Some(real(b.sums.seed_g) > DEEP_TIMES * real(load) * real(begun))
    }

    /// Whether the last visit before the soak that answered a question said no.
    fn was_no(&self, b: &BatchTrays, item: Uuid) -> Option<bool> {
        let soaked = b.sums.soaked_at?.0;
        let checks = self.checks.get(&(b.farm, item))?;
        let last = checks.iter().rev().find(|(at, _)| *at <= soaked)?;
        (last.0 >= soaked - i64::from(VISIT_DAYS) * DAY_MS).then_some(last.1)
    }
}

/// One column a value but for the commonest, which the others are compared with.
fn by_value<'a>(
    kind: ConditionKind,
    rows: &[&'a BatchTrays],
    value: impl Fn(&'a BatchTrays) -> Option<&'a str>,
) -> Vec<Column> {
    let values: Vec<Option<&str>> = rows.iter().map(|b| value(b)).collect();
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for value in values.iter().flatten() {
        *counts.entry(value).or_default() += 1;
    }
    // Of values as common as each other the first by name.
    let commonest = counts.iter().rev().max_by_key(|(_, count)| **count).map(|(value, _)| *value);
    let others = counts.keys().filter(|value| Some(**value) != commonest);
    let column = |other: &&str| Column {
        value: Some((*other).to_owned()),
        compared_with: commonest.map(str::to_owned),
        ..Column::new(kind, values.iter().map(|v| v.map(|v| v == *other)).collect())
    };
    others.map(column).collect()
}

/// The checklist's questions by code.
fn questions(conn: &mut Conn, coop: i64) -> Result<BTreeMap<String, (Uuid, String)>, AppError> {
    let (all, filter) = (Visible::All, Filter::default());
    let items = records::page(conn, coop, Kind::ChecklistItem, &all, &filter, None, 10_000)?;
    let read = items.iter().filter_map(|r| {
        let item = ChecklistItem::from_values(&r.values)?;
        Some((item.code, (r.id, item.question)))
    });
    Ok(read.collect())
}

fn wet_months(conn: &mut Conn, coop: &Coop) -> Result<Vec<u32>, AppError> {
    let record = records::find(conn, coop.number, Kind::Cooperative, coop.id)?;
    let record = record.and_then(|r| Cooperative::from_values(&r.values));
    Ok(record.and_then(|c| read_months(&c.wet_months?)).unwrap_or_default())
}
