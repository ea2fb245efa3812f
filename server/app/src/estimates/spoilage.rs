//! Who keeps spoiling?

use super::figures::{LotShare, SharedCharts};
use super::flags::Standing;
use super::grouped;
use crate::Coop;
use crate::error::AppError;
use chrono::{Datelike as _, NaiveDate};
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;
use traybook_analytics::sentences::spoilage_sentence;
use traybook_analytics::spoilage::{
    self, Batch, Charter, FarmChart, FlagSource, LotLevel, Shared, Step, spoilage,
};
use traybook_answers::estimates::{
    NotCounted, NotCountedReason, PointsAt, SpoilageFigures, SpoilageStatus,
};
use traybook_answers::savings::Spoiling;
use traybook_domain::planning::trays;
use traybook_domain::time::{local_date, start_of_day};
use traybook_domain::value::real;
use traybook_storage::Conn;
use traybook_storage::estimates::spoilage_rows::shed_codes;
use traybook_storage::planning::batch_trays::{BatchTrays, batch_trays};
use traybook_storage::records::farm_rows::{FarmRow, Farms};
use uuid::Uuid;

const DAY_MS: i64 = 86_400_000;
/// How far back charts, correlations and lots reach, days.
const CHART_DAYS: i64 = 400;
/// After so many days trays that are neither harvested nor discarded are unaccounted for.
const BATCH_DAYS: i64 = 14;
/// Days of the recent share of trays lost.
const RECENT_DAYS: i64 = 90;
/// How it is charted.
pub(super) const METHOD: &str = "a running chart of each farm's batches of any size, and of each shed's where \
    a farm has several (beta-binomial likelihood ratio of the accepted share of trays lost, 4 to 8 %, against \
    11 percentage points more; capped so that no fewer than three bad batches raise a flag; the flag goes up \
    where a farm in order would have one in ten years); batches of lots that spoil on other farms are \
    skipped; lots against farms by a crossed weighted comparison of the last 90 days, lots named at a false \
    discovery rate of 5 %";
/// What mould means.
pub(super) const CAUTION: &str = "do not feed mouldy trays; ask a veterinary officer";

/// Every farm's chart.
pub(super) struct Charts {
    pub farms: Vec<FarmTrays>,
    pub shared: Shared,
    pub today: NaiveDate,
}

/// One farm's batches and its charts.
pub(super) struct FarmTrays {
    pub farm: Uuid,
    pub grown: Grown,
    pub chart: FarmChart,
    /// The chart after each batch.
    pub steps: Vec<Step>,
    /// Its sheds, where several have batches.
    pub sheds: Vec<ShedTrays>,
    /// How its lots do on other farms, where that tells something.
    pub lots: Vec<LotShare>,
}

/// One shed's batches and chart.
pub(super) struct ShedTrays {
    pub shed: Uuid,
    pub code: Option<String>,
    pub grown: Grown,
    pub chart: FarmChart,
}

/// What a farm or a shed grew.
#[derive(Clone, Default)]
pub(super) struct Grown {
    /// Batches that count, by the day on which they ended.
    pub counted: Vec<Counted>,
    /// The same as the chart takes them.
    pub batches: Vec<Batch>,
    /// Those that do not count, or not in full, and why.
    pub others: Vec<(BatchTrays, NotCountedReason)>,
}

/// A batch that counts.
#[derive(Clone, Copy)]
pub(super) struct Counted {
    pub of: BatchTrays,
    pub ended_on: NaiveDate,
    pub begun: i64,
    pub lost: i64,
}

/// Positions of seed lots, for the charts.
#[derive(Default)]
pub(super) struct LotPositions {
    of: HashMap<Uuid, u32>,
    pub ids: Vec<Uuid>,
}

impl LotPositions {
    pub(super) fn position(&mut self, lot: Uuid) -> u32 {
        let next = u32::try_from(self.ids.len()).unwrap_or(u32::MAX);
        let ids = &mut self.ids;
        *self.of.entry(lot).or_insert_with(|| {
            ids.push(lot);
            next
        })
    }

    pub(super) fn id(&self, position: u32) -> Option<Uuid> {
        usize::try_from(position).ok().and_then(|at| self.ids.get(at)).copied()
    }
}

/// Number of a day, for the charts.
pub(super) fn day_number(day: NaiveDate) -> i32 {
    day.num_days_from_ce()
}

impl Grown {
    fn new(all: Vec<BatchTrays>, coop: &Coop, today: NaiveDate, lots: &mut LotPositions) -> Self {
        let mut grown = Self::default();
        for of in all {
            let ended_on = of.sums.ended_at.map(|at| local_date(at, coop.zone));
            match of.counted().zip(ended_on) {
                Some(((begun, lost), ended_on)) => {
                    grown.counted.push(Counted { of, ended_on, begun, lost });
                }
                None => grown.others.push((of, why_not(&of, coop, today))),
            }
            if of.not_counted == Some(trays::NotCounted::ThrownUnweighed) {
                grown.others.push((of, NotCountedReason::ThrownUnweighed));
            }
        }
        grown.counted.sort_by_key(|b| (b.ended_on, b.of.batch));
        grown.batches = grown.counted.iter().map(|b| charted(b, lots)).collect();
        grown
    }

    /// The part of one shed.
    fn of_shed(&self, shed: Uuid) -> Self {
        let is_here = |b: &&(Counted, Batch)| b.0.of.shed == shed;
        let all: Vec<(Counted, Batch)> =
            self.counted.iter().copied().zip(self.batches.iter().copied()).collect();
        let (counted, batches) = all.iter().filter(is_here).copied().unzip();
        let others = self.others.iter().filter(|(b, _)| b.shed == shed).copied().collect();
        Self { counted, batches, others }
    }

    /// Lots of the batches that go on.
    pub(super) fn growing_lots(&self) -> impl Iterator<Item = Uuid> {
        let growing = self.others.iter().filter(|(_, why)| *why == NotCountedReason::Growing);
        growing.filter_map(|(b, _)| b.lot)
    }

    fn not_counted(&self) -> Vec<NotCounted> {
        let mut all: BTreeMap<usize, NotCounted> = BTreeMap::new();
        for (batch, reason) in &self.others {
            let at = NotCountedReason::ALL.iter().position(|r| r == reason).unwrap_or(0);
            let empty = NotCounted { reason: *reason, batches: 0, trays: 0 };
            let line = all.entry(at).or_insert(empty);
            line.batches += 1;
            line.trays += open_trays(batch, *reason);
        }
        all.into_values().collect()
    }
}

/// Trays of a batch that are unaccounted for.
pub(super) fn open_trays(of: &BatchTrays, reason: NotCountedReason) -> i64 {
    if reason == NotCountedReason::Unaccounted { of.sums.open() } else { 0 }
}

fn charted(b: &Counted, lots: &mut LotPositions) -> Batch {
    let count = |n: i64| u32::try_from(n.max(0)).unwrap_or(u32::MAX);
    Batch {
        day: day_number(b.ended_on),
        started: count(b.begun),
        discarded: count(b.lost),
        lot: b.of.lot.map(|lot| lots.position(lot)),
        // The temperature of a batch is compared in what goes with losses.
        temperature_class: None,
    }
}

fn why_not(of: &BatchTrays, coop: &Coop, today: NaiveDate) -> NotCountedReason {
    if of.not_counted == Some(trays::NotCounted::MoreLostThanBegun) {
        return NotCountedReason::MoreLostThanBegun;
    }
    let since = local_date(of.sums.soaked_at.unwrap_or_else(|| of.last_at()), coop.zone);
    if (today - since).num_days() > BATCH_DAYS {
        NotCountedReason::Unaccounted
    } else {
        NotCountedReason::Growing
    }
}

/// What farms grew, all or these.
fn grown(
    conn: &mut Conn,
    coop: &Coop,
    today: NaiveDate,
    (of, lots): (Farms<'_>, &mut LotPositions),
) -> Result<HashMap<Uuid, Grown>, AppError> {
    let since = start_of_day(today, coop.zone).0 - (CHART_DAYS - 1) * DAY_MS;
    let rows = batch_trays(conn, coop.number, since, of)?;
    let batches = grouped(rows, |b: &BatchTrays| b.farm);
    Ok(batches.map(|(farm, all)| (farm, Grown::new(all, coop, today, lots))).collect())
}

impl Charts {
    /// Charts all farms.
    pub fn make(
        conn: &mut Conn,
        coop: &Coop,
        today: NaiveDate,
        farms: &[Arc<FarmRow>],
    ) -> Result<Self, AppError> {
        let mut lots = LotPositions::default();
        let mut read = grown(conn, coop, today, (None, &mut lots))?;
        let codes = shed_codes(conn, coop.number, None)?;
        let all: Vec<(Uuid, Grown)> =
            farms.iter().map(|f| (f.farm, read.remove(&f.farm).unwrap_or_default())).collect();
        let by_farm: Vec<&[Batch]> = all.iter().map(|(_, g)| g.batches.as_slice()).collect();
        let day = day_number(today);
        let made = spoilage(&by_farm, day);
        let mut charter = Charter::new(&made.shared);
        let charted = all.into_iter().zip(made.farms).enumerate();
        let farms = charted.map(|(at, ((farm, grown), chart))| {
            let level = |lot| made.lots.of(at, lot);
            let sheds = sheds(&mut charter, &grown, (&codes, level, day));
            let shares = made.lots.farm(at).iter().filter_map(|(lot, level)| {
                let LotLevel { multiplier, other_farms } = *level;
                let lot = lots.id(*lot)?;
                (other_farms > 0).then_some(LotShare { lot, multiplier, other_farms })
            });
            let shares = shares.collect();
            FarmTrays { farm, grown, chart, steps: Vec::new(), sheds, lots: shares }
        });
        Ok(Self { farms: farms.collect(), shared: made.shared, today })
    }

    /// Charts one farm now, with what the charts of all farms share.
    pub fn of_farm(
        conn: &mut Conn,
        coop: &Coop,
        (farm, today): (Uuid, NaiveDate),
        (shared, shares): (&SharedCharts, Vec<LotShare>),
    ) -> Result<Self, AppError> {
        let mut lots = LotPositions::default();
        let mut read = grown(conn, coop, today, (Some(&[farm]), &mut lots))?;
        let codes = shed_codes(conn, coop.number, Some(farm))?;
        let grown = read.remove(&farm).unwrap_or_default();
        let shared = shared.of_charts();
        let mut charter = Charter::new(&shared);
        let level = |lot: Option<u32>| {
            let lot = lot.and_then(|lot| lots.id(lot));
            let share = shares.iter().find(|s| Some(s.lot) == lot);
            share.map_or(LotLevel::UNKNOWN, |s| LotLevel {
                multiplier: s.multiplier,
                other_farms: s.other_farms,
            })
        };
        let day = day_number(today);
        let sheds = sheds(&mut charter, &grown, (&codes, level, day));
        let chart = charter.farm(&grown.batches, level, day);
        if chart.status == spoilage::SpoilageStatus::RecurringLot {
            // What is shown is the chart without what lots do elsewhere.
            charter.chart(&grown.batches, |_| Some(1.0), day);
        }
        let steps = charter.steps().to_vec();
        let farm = FarmTrays { farm, grown, chart, steps, sheds, lots: shares };
        Ok(Self { farms: vec![farm], shared, today })
    }

    /// What the charts share, as it is stored.
    pub fn shared(&self) -> SharedCharts {
        let Shared { correlation, serial, share_ok, .. } = self.shared;
        SharedCharts { correlation, serial, share_ok }
    }

    /// What is said of each farm.
    pub fn figures(&self) -> Vec<(Uuid, SpoilageFigures)> {
        self.farms.iter().map(|f| (f.farm, f.figures(self.today))).collect()
    }
}

/// Every farm's standing, for flags.
pub(super) fn standing(figures: &[(Uuid, SpoilageFigures)]) -> Vec<Standing> {
    let one = |(farm, f): &(Uuid, SpoilageFigures)| Standing {
        farm: *farm,
        raised_by: f.flagged_since_batch_id.zip(f.flagged_since).filter(|_| f.status.is_flagged()),
        points_at: f.points_at,
        sentence: f.sentence.clone(),
    };
    figures.iter().map(one).collect()
}

/// The charts of sheds, where several have batches.
fn sheds(
    charter: &mut Charter,
    grown: &Grown,
    (codes, level, day): (&HashMap<Uuid, String>, impl Fn(Option<u32>) -> LotLevel, i32),
) -> Vec<ShedTrays> {
    let mut sheds: Vec<Uuid> = grown.counted.iter().map(|b| b.of.shed).collect();
    sheds.sort_unstable();
    sheds.dedup();
    if sheds.len() < 2 {
        return Vec::new();
    }
    let one = |shed: Uuid| {
        let grown = grown.of_shed(shed);
        let chart = charter.farm(&grown.batches, &level, day);
        ShedTrays { shed, code: codes.get(&shed).cloned(), grown, chart }
    };
    sheds.into_iter().map(one).collect()
}

impl FarmTrays {
    /// The shed whose chart raised the flag, where the farm's own did not.
    fn flagged_shed(&self) -> Option<&ShedTrays> {
        if self.chart.status.is_flagged() {
            return None;
        }
        let flagged = self.sheds.iter().filter(|s| s.chart.status.is_flagged());
        let rank = |s: &&ShedTrays| {
            (s.chart.status == spoilage::SpoilageStatus::Recurring, s.chart.excess())
        };
        flagged.max_by(|a, b| rank(a).0.cmp(&rank(b).0).then(rank(a).1.total_cmp(&rank(b).1)))
    }

    /// What is said of the farm: by the shed that raised its flag, else by its own chart.
    pub fn figures(&self, today: NaiveDate) -> SpoilageFigures {
        let own = line(&self.grown, &self.chart, today);
        let Some(shed) = self.flagged_shed() else { return own };
        let of_shed = line(&shed.grown, &shed.chart, today);
        let name = shed.code.clone().unwrap_or_default();
        SpoilageFigures {
            batches_counted: own.batches_counted,
            not_counted: own.not_counted,
            trays_begun: own.trays_begun,
            trays_lost: own.trays_lost,
            recent_percent: own.recent_percent,
            last_ended_on: own.last_ended_on,
            sentence: format!("Shed {name}: {}", of_shed.sentence),
            shed_id: Some(shed.shed),
            shed: shed.code.clone(),
            ..of_shed
        }
    }

    /// Batches that raised the flag which is up, of the farm's own chart.
    pub fn raised(&self) -> Option<std::ops::RangeInclusive<usize>> {
        self.chart.shown().raised()
    }
}

impl ShedTrays {
    /// What is said of the shed.
    pub fn figures(&self, today: NaiveDate) -> SpoilageFigures {
        line(&self.grown, &self.chart, today)
    }
}

fn line(grown: &Grown, of: &FarmChart, today: NaiveDate) -> SpoilageFigures {
    let shown = of.shown();
    let since = shown.flagged_since().and_then(|i| grown.counted.get(i));
    let raised = shown.raised().into_iter().flatten().filter_map(|i| grown.counted.get(i));
    let sum = |from: Option<NaiveDate>| {
        let of = grown.counted.iter().filter(|b| from.is_none_or(|from| b.ended_on > from));
        of.fold((0, 0), |(n, d), b| (n + b.begun, d + b.lost))
    };
    let (trays_begun, trays_lost) = sum(None);
    let (begun, lost) = sum(today.checked_sub_days(chrono::Days::new(RECENT_DAYS.unsigned_abs())));
    SpoilageFigures {
        status: status(of.status),
        points_at: of.source.map(|source| match source {
            FlagSource::SeedLot => PointsAt::SeedLot,
            FlagSource::FarmOrLot => PointsAt::FarmOrLot,
            FlagSource::Farm => PointsAt::Farm,
        }),
        chart_value: round(shown.value),
        flag_at: shown.threshold.map(round),
        batches_used: u64::try_from(shown.batches_used).unwrap_or(u64::MAX),
        batches_counted: u64::try_from(grown.counted.len()).unwrap_or(u64::MAX),
        not_counted: grown.not_counted(),
        trays_begun,
        trays_lost,
        recent_percent: (begun > 0).then(|| round(100.0 * real(lost) / real(begun))),
        last_ended_on: grown.counted.last().map(|b| b.ended_on),
        flagged_since_batch_id: since.map(|b| b.of.batch),
        flagged_since: since.map(|b| b.ended_on),
        raised_by_batch_ids: raised.map(|b| b.of.batch).collect(),
        shed_id: None,
        shed: None,
        sentence: spoilage_sentence(of),
    }
}

const fn status(of: spoilage::SpoilageStatus) -> SpoilageStatus {
    use spoilage::SpoilageStatus as Made;
    match of {
        Made::Recurring => SpoilageStatus::Recurring,
        Made::RecurringQuiet => SpoilageStatus::RecurringQuiet,
        Made::RecurringLot => SpoilageStatus::RecurringLot,
        Made::NothingCounted => SpoilageStatus::NothingCounted,
        Made::InsufficientData => SpoilageStatus::InsufficientData,
        Made::OneBadBatch => SpoilageStatus::OneBadBatch,
        Made::Watch => SpoilageStatus::Watch,
        Made::Ok => SpoilageStatus::Ok,
    }
}

/// How pressing the spoilage of a farm is: by the kind of flag, how far the chart is above what
/// raises one, then by what was lost lately.
pub(super) fn rank(f: &SpoilageFigures) -> (u8, f64, f64) {
    let kind = match f.status {
        SpoilageStatus::Recurring => 3,
        SpoilageStatus::RecurringQuiet => 2,
        SpoilageStatus::RecurringLot => 1,
        _ => 0,
    };
    let excess = f.flag_at.map_or(f64::MIN, |at| f.chart_value - at);
    (kind, excess, f.recent_percent.unwrap_or(0.0))
}

/// Farms with batches, the strongest evidence first, and whether a flag of theirs is up.
pub(super) fn order(figures: &[(Uuid, SpoilageFigures)]) -> Vec<(Uuid, bool)> {
    let mut all: Vec<_> = figures.iter().collect();
    all.sort_by(|(_, a), (_, b)| {
        let (a, b) = (rank(a), rank(b));
        b.0.cmp(&a.0).then(b.1.total_cmp(&a.1)).then(b.2.total_cmp(&a.2))
    });
    all.into_iter().map(|(farm, f)| (*farm, f.status == SpoilageStatus::Recurring)).collect()
}

/// The status as the savings report has it.
pub(super) const fn for_report(f: &SpoilageFigures) -> Spoiling {
    match f.status {
        SpoilageStatus::Recurring => Spoiling::Recurring,
        SpoilageStatus::RecurringQuiet => Spoiling::RecurringQuiet,
        SpoilageStatus::RecurringLot => Spoiling::RecurringSeedLot,
        SpoilageStatus::NothingCounted => Spoiling::NothingCounted,
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
