//! Who keeps spoiling?

use super::figures::SharedCharts;
use super::flags::Standing;
use super::grouped;
use crate::Coop;
use crate::error::AppError;
use chrono::NaiveDate;
use std::collections::{HashMap, HashSet};
use std::sync::Arc;
use traybook_analytics::sentences::spoilage_sentence;
use traybook_analytics::spoilage::{
    self, Batch, FlagCause, Spoilage, SpoilageChart, SpoilageRules, chart_of_farm, flag_cause,
};
use traybook_answers::estimates::{PointsAt, SpoilageFigures, SpoilageStatus};
use traybook_answers::savings::Spoiling;
use traybook_domain::time::start_of_day;
use traybook_domain::value::Instant;
use traybook_storage::Conn;
use traybook_storage::batch_trays::{BatchTrays, batch_trays};
use traybook_storage::farm_rows::{FarmRow, Farms};
use uuid::Uuid;

const DAY_MS: i64 = 86_400_000;
/// How far back a farm's chart begins, days.
const CHART_DAYS: i64 = 400;
/// After so many days a batch is over, whether or not all its trays were recorded.
const BATCH_DAYS: i64 = 14;
/// How it is charted.
pub(super) const METHOD: &str = "a running chart of each farm's batches (beta-binomial likelihood ratio of 15 % \
    against 4 % of trays discarded, capped so that no fewer than three bad batches raise a flag); \
    lots against farms by a crossed weighted comparison of the last 90 days, lots named at a false \
    discovery rate of 5 %";
/// What mould means.
pub(super) const CAUTION: &str = "do not feed mouldy trays; ask a veterinary officer";

/// Every farm's chart.
pub(super) struct Charts {
    pub farms: Vec<FarmTrays>,
    /// Correlation and multipliers of all farms; the charts are beside the farms.
    all: Spoilage,
    /// Where the day begins: the figures of a day do not depend on the hour.
    pub now: Instant,
}

/// One farm's batches and its chart.
pub(super) struct FarmTrays {
    pub farm: Uuid,
    pub grown: Grown,
    pub chart: SpoilageChart,
}

/// What a farm grew.
#[derive(Default)]
pub(super) struct Grown {
    /// Its batches that are over, in the order of the soak.
    pub over: Vec<BatchTrays>,
    /// The same as the chart takes them.
    pub trays: Vec<Batch>,
    /// Lots of the batches that are not over.
    pub lots: Vec<Uuid>,
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

fn trays(b: &BatchTrays) -> Batch {
    let count = |n: i64| u32::try_from(n.max(0)).unwrap_or(u32::MAX);
    // More trays discarded than spread is a slip: the review comes later, the chart stays sound.
    let (started, discarded) = (count(b.spread), count(b.discarded.min(b.spread)));
    Batch { started, discarded, temperature_class: None }
}

/// What farms grew, all or these, each farm's batches in the order of the soak.
fn grown(
    conn: &mut Conn,
    coop: i64,
    now: Instant,
    of: Farms<'_>,
) -> Result<HashMap<Uuid, Grown>, AppError> {
    let rows = batch_trays(conn, coop, now.0 - CHART_DAYS * DAY_MS, of)?;
    let batches = grouped(rows, |b: &BatchTrays| b.farm);
    Ok(batches.map(|(farm, all)| (farm, Grown::new(all, now))).collect())
}

impl Charts {
    /// Charts all farms.
    ///
    /// # Errors
    /// Those of the store.
    pub fn make(
        conn: &mut Conn,
        coop: &Coop,
        day: NaiveDate,
        farms: &[Arc<FarmRow>],
    ) -> Result<Self, AppError> {
        let now = start_of_day(day, coop.zone);
        let mut read = grown(conn, coop.number, now, None)?;
        let grown: Vec<(Uuid, Grown)> =
            farms.iter().map(|f| (f.farm, read.remove(&f.farm).unwrap_or_default())).collect();
        let by_farm: Vec<&[Batch]> = grown.iter().map(|(_, g)| g.trays.as_slice()).collect();
        let mut all = spoilage::spoilage(&by_farm, &SpoilageRules::default());
        let charts = std::mem::take(&mut all.farms);
        let charted = grown.into_iter().zip(charts);
        let farms = charted.map(|((farm, grown), chart)| FarmTrays { farm, grown, chart });
        Ok(Self { farms: farms.collect(), all, now })
    }

    /// Charts one farm now, with what the charts of all farms share.
    ///
    /// # Errors
    /// Those of the store.
    pub fn of_farm(
        conn: &mut Conn,
        coop: &Coop,
        day: NaiveDate,
        farm: Uuid,
        shared: &SharedCharts,
    ) -> Result<Self, AppError> {
        let now = start_of_day(day, coop.zone);
        let mut read = grown(conn, coop.number, now, Some(&[farm]))?;
        let grown = read.remove(&farm).unwrap_or_default();
        let all = Spoilage {
            correlation: shared.correlation,
            class_multipliers: shared.class_multipliers.clone(),
            farms: Vec::new(),
        };
        let chart = chart_of_farm(&grown.trays, &all, &SpoilageRules::default());
        Ok(Self { farms: vec![FarmTrays { farm, grown, chart }], all, now })
    }

    /// Correlation between the trays of a batch.
    pub const fn correlation(&self) -> f64 {
        self.all.correlation
    }

    /// What the charts share.
    pub fn shared(&self) -> SharedCharts {
        let Spoilage { correlation, class_multipliers, .. } = &self.all;
        SharedCharts { correlation: *correlation, class_multipliers: class_multipliers.clone() }
    }

    /// What is said of each farm, given the lots that are named.
    pub fn figures(&self, suspects: &HashSet<Uuid>) -> Vec<(Uuid, SpoilageFigures)> {
        self.farms.iter().map(|f| (f.farm, self.line(f, suspects))).collect()
    }

    fn line(&self, f: &FarmTrays, suspects: &HashSet<Uuid>) -> SpoilageFigures {
        let since = f.chart.flagged_since.and_then(|i| f.grown.over.get(i)).map(|b| b.batch);
        let raised = f.chart.raised_by().into_iter().flatten();
        let cause = self.cause(f, suspects);
        SpoilageFigures {
            status: match f.chart.status {
                spoilage::SpoilageStatus::Recurring => SpoilageStatus::Recurring,
                spoilage::SpoilageStatus::InsufficientData => SpoilageStatus::InsufficientData,
                spoilage::SpoilageStatus::OneBadBatch => SpoilageStatus::OneBadBatch,
                spoilage::SpoilageStatus::Watch => SpoilageStatus::Watch,
                spoilage::SpoilageStatus::Ok => SpoilageStatus::Ok,
            },
            points_at: cause.map(|c| match c {
                FlagCause::SeedLot => PointsAt::SeedLot,
                FlagCause::Farm => PointsAt::Farm,
            }),
            chart_value: round(f.chart.value),
            batches_used: u64::try_from(f.chart.batches_used).unwrap_or(u64::MAX),
            trays_spread: f.grown.over.iter().map(|b| b.spread).sum(),
            trays_discarded: f.grown.over.iter().map(|b| b.discarded).sum(),
            flagged_since_batch_id: since,
            raised_by_batch_ids: raised
                .filter_map(|i| f.grown.over.get(i))
                .map(|b| b.batch)
                .collect(),
            sentence: spoilage_sentence(&f.chart, cause),
        }
    }

    /// Whether a flag is the seed's doing.
    fn cause(&self, farm: &FarmTrays, suspects: &HashSet<Uuid>) -> Option<FlagCause> {
        if farm.chart.status != spoilage::SpoilageStatus::Recurring {
            return None;
        }
        let is_bad = |b: &BatchTrays| b.lot.is_some_and(|lot| suspects.contains(&lot));
        let is_bad: Vec<bool> = farm.grown.over.iter().map(is_bad).collect();
        flag_cause(&farm.grown.trays, &is_bad, &self.all, &SpoilageRules::default())
    }

    /// Every farm's standing, for flags.
    pub fn standing(&self, figures: &[(Uuid, SpoilageFigures)]) -> Vec<Standing> {
        let one = |(f, (_, figures)): (&FarmTrays, &(Uuid, SpoilageFigures))| Standing {
            farm: f.farm,
            raised_by: f
                .chart
                .flagged_since
                .and_then(|i| f.grown.over.get(i))
                .map(|b| (b.batch, b.soaked_at)),
            points_at: figures.points_at,
            sentence: figures.sentence.clone(),
        };
        self.farms.iter().zip(figures).map(one).collect()
    }
}

/// Farms with batches, the strongest evidence first, and whether their spoilage is recurring.
pub(super) fn order(figures: &[(Uuid, SpoilageFigures)]) -> Vec<(Uuid, bool)> {
    let is_recurring = |f: &SpoilageFigures| f.status == SpoilageStatus::Recurring;
    let mut all: Vec<_> = figures.iter().collect();
    all.sort_by(|(_, a), (_, b)| {
        is_recurring(b).cmp(&is_recurring(a)).then(b.chart_value.total_cmp(&a.chart_value))
    });
    all.into_iter().map(|(farm, f)| (*farm, is_recurring(f))).collect()
}

/// The status as the savings report has it; none for a farm without batches.
pub(super) fn for_report(f: &SpoilageFigures) -> Spoiling {
    match f.status {
        SpoilageStatus::Recurring if f.points_at == Some(PointsAt::SeedLot) => {
            Spoiling::RecurringSeedLot
        }
        SpoilageStatus::Recurring => Spoiling::Recurring,
        SpoilageStatus::InsufficientData => Spoiling::InsufficientData,
        SpoilageStatus::OneBadBatch => Spoiling::OneBadBatch,
        SpoilageStatus::Watch => Spoiling::Watch,
        SpoilageStatus::Ok => Spoiling::Ok,
    }
}

/// To three places.
pub(super) fn round(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}
