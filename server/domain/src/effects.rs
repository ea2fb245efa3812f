//! Which month sums a record moves. Storage adds what comes out here in the same transaction as
//! the record, so that a report never scans records.

use crate::kind::Kind;
use crate::kinds::{
    Batch, BatchEvent, EggRecord, FeedPurchase, MilkRecord, OtherCost, SeedIssue, SeedPayment,
    SeedPurchase,
};
use crate::month::Month;
use crate::record::Record;
use crate::review::half_octave::half_octave;
use crate::savings::money::mul_div;
use crate::time::local_date;
use crate::value::Value;
use chrono::NaiveDate;
use chrono_tz::Tz;
use std::collections::BTreeMap;
use uuid::Uuid;

macro_rules! measures {
    ($($(#[doc = $doc:literal])* $name:ident = $column:literal;)*) => {
        /// A sum kept per farm and month.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum Measure { $($(#[doc = $doc])* $name),* }
        /// Columns of the measures, in order.
        pub const MEASURE_COLUMNS: &[&str] = &[$($column),*];
        /// Number of measures.
        pub const MEASURES: usize = MEASURE_COLUMNS.len();
        impl Measure {
            /// Position among the measures.
            #[must_use]
            pub fn index(self) -> usize {
                const ORDER: &[Measure] = &[$(Measure::$name),*];
                ORDER.iter().position(|m| *m == self).unwrap_or(0)
            }
        }
    };
}

measures! {
    MilkMl = "milk_ml";
    /// Animals milked, summed over days with a milk record.
    CowDays = "cow_days";
    /// Group-days with a milk record.
    MilkDays = "milk_days";
    Eggs = "eggs";
    /// Hens present, summed over days with an egg record.
    HenDays = "hen_days";
    /// Cracked eggs.
    Cracked = "cracked";
    /// Group-days with an egg record.
    EggDays = "egg_days";
    /// Days in milk × animals, where days in milk are recorded.
    MilkStage = "milk_stage";
    /// Animals milked, where days in milk are recorded.
    MilkStageAnimals = "milk_stage_animals";
    /// Age of the flock in weeks × hens, where the age is recorded.
    EggStage = "egg_stage";
    /// Hens present, where the age is recorded.
    EggStageAnimals = "egg_stage_animals";
    /// Trays spread.
    TraysStarted = "trays_started";
    TraysHarvested = "trays_harvested";
    TraysDiscarded = "trays_discarded";
    /// Dry seed soaked, g.
    SeedG = "seed_g";
    /// Fresh fodder fed out, g.
    FedG = "fed_g";
    /// Paid for feed, minor units.
    FeedCost = "feed_cost_minor";
    /// Feed purchase records, those of 0 kg included.
    FeedPurchases = "feed_purchases";
    /// Other costs, minor units.
    OtherCost = "other_cost_minor";
    /// Other cost records.
    OtherCosts = "other_costs";
    /// Milk sold at a price, ml.
    MilkSoldMl = "milk_sold_ml";
    /// What it was sold for, minor units.
    MilkSoldMinor = "milk_sold_minor";
    /// Eggs sold at a price.
    EggsSold = "eggs_sold";
    /// What they were sold for, minor units.
    EggsSoldMinor = "eggs_sold_minor";
}

const ML_OF_A_LITRE: u32 = 1_000;

/// Months back in which the price of a feed is looked for.
pub const PRICE_MONTHS: i32 = 3;

/// Sums of one farm in one month.
pub type Sums = [i64; MEASURES];

/// Milk or eggs of one group and day, one record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DayRecord {
    /// Which record.
    pub id: Uuid,
    /// Order of entry: instant of creation, then id.
    pub entered: i64,
    /// Milking session; `day` for eggs.
    pub session: String,
    /// ml of milk or number of eggs.
    pub amount: i64,
    /// Animals milked or hens present.
    pub animals: i64,
    /// Cracked eggs.
    pub cracked: i64,
    /// Mean days in milk, or age of the flock in weeks.
    pub stage: Option<i64>,
}

/// What a group gave on one day.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct DayTotal {
    /// ml of milk or number of eggs.
    pub amount: i64,
    /// Animals milked or hens present.
    pub animals: i64,
    /// Cracked eggs.
    pub cracked: i64,
    /// Mean days in milk, or age of the flock in weeks.
    pub stage: Option<i64>,
    /// Whether it is what a whole day gave: a record of the day, or morning and evening.
    pub is_whole: bool,
}

/// Milkings of a day, in order.
const MILKINGS: [&str; 3] = ["morning", "midday", "evening"];

/// The record of a session that counts: the last entered.
fn last_of<'a>(records: &'a [DayRecord], session: &str) -> Option<&'a DayRecord> {
    records.iter().filter(|r| r.session == session).max_by_key(|r| (r.entered, r.id))
}

/// Which of a day's records count, as [`day_total`] takes them.
#[must_use]
pub fn counting(records: &[DayRecord]) -> Vec<Uuid> {
    match last_of(records, "day") {
        Some(day) => vec![day.id],
        None => MILKINGS.iter().filter_map(|s| last_of(records, s)).map(|r| r.id).collect(),
    }
}

/// What a group gave on one day.
///
/// Of several records of the same session the last entered counts. A record of the whole day
/// counts before those of single milkings; these add up, and the animals are the most that were
/// milked at one of them.
#[must_use]
pub fn day_total(records: &[DayRecord]) -> Option<DayTotal> {
    let last = |session: &str| last_of(records, session);
    let of = |r: &DayRecord| DayTotal {
        amount: r.amount,
        animals: r.animals,
        cracked: r.cracked,
        stage: r.stage,
        is_whole: true,
    };
    if let Some(day) = last("day") {
        return Some(of(day));
    }
    let mut total: Option<DayTotal> = None;
    for session in MILKINGS {
        if let Some(r) = last(session) {
            let t = total.unwrap_or_default();
            total = Some(DayTotal {
                amount: t.amount + r.amount,
                animals: t.animals.max(r.animals),
                cracked: t.cracked + r.cracked,
                stage: r.stage.or(t.stage),
                is_whole: false,
            });
        }
    }
    let is_whole = last("morning").is_some() && last("evening").is_some();
    total.map(|total| DayTotal { is_whole, ..total })
}

/// Records of one farm, month and half octave, added up.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct OutputBin {
    /// Whole group-days.
    pub records: i64,
    /// ml of milk or number of eggs.
    pub amount: i64,
    /// Animals, summed over days.
    pub animals: i64,
    /// Stage times animals, where the stage is recorded.
    pub stage: i64,
    /// Animals, where the stage is recorded.
    pub stage_animals: i64,
}

/// Where a bin is kept: kind of output, farm, month, half octave.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct BinKey {
    /// Milk or eggs.
    pub is_milk: bool,
    pub farm: Uuid,
    pub month: Month,
    /// Half octave of output an animal and day, in litres or eggs.
    pub half_octave: i32,
}

/// What a set of changes adds to the kept sums. Keys sort, so that the database always sees them
/// in one order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Effects {
    /// By farm and month.
    pub months: BTreeMap<(Uuid, Month), Sums>,
    /// By farm, month and feed: grams, cost, records.
    pub feeds: BTreeMap<(Uuid, Month, Uuid), [i64; 3]>,
    /// By farm, month and seed lot (nil where the batch names none): grams soaked.
    pub lots: BTreeMap<(Uuid, Month, Uuid), i64>,
    /// By farm and lot: grams issued at a price, and that price.
    pub issues: BTreeMap<(Uuid, Uuid), [i64; 2]>,
    /// By lot: grams bought, and what was paid, transport included.
    pub purchases: BTreeMap<Uuid, [i64; 2]>,
    /// Whole days of milk and eggs, by rate.
    pub bins: BTreeMap<BinKey, OutputBin>,
    /// By farm: its seed account, in the order of [`ACCOUNT_COLUMNS`].
    pub accounts: BTreeMap<Uuid, [i64; ACCOUNT_COLUMNS.len()]>,
}

/// Sums of a farm's seed account: issues on credit and issues paid at once, minor units; issues
/// without a price; seed handed out, g; payments, minor units.
pub const ACCOUNT_COLUMNS: [&str; 5] =
    ["credit_minor", "paid_at_once_minor", "unpriced", "issued_g", "paid_minor"];

impl Effects {
    /// Adds (`sign` 1) or takes away (−1) what one record contributes by itself.
    ///
    /// Of milk and eggs this is what was sold; what was given counts by day: see
    /// [`Effects::add_day`]. `batch` is the batch of
    /// a batch event.
    pub fn add(
        &mut self,
        kind: Kind,
        values: &[Value],
        batch: Option<&Batch>,
        zone: Tz,
        sign: i64,
    ) {
        match kind {
            Kind::BatchEvent => {
                let event = BatchEvent::from_values(values);
                if let (Some(event), Some(batch)) = (event, batch) {
                    self.add_event(&event, batch, zone, sign);
                }
            }
            Kind::FeedPurchase => {
                if let Some(r) = FeedPurchase::from_values(values) {
                    let month = Month::of(r.date);
                    self.bump(r.farm_id, month, Measure::FeedCost, sign * r.cost);
                    self.bump(r.farm_id, month, Measure::FeedPurchases, sign);
                    let feed = self.feeds.entry((r.farm_id, month, r.feed_id)).or_default();
                    add_each(feed, [sign * r.kg, sign * r.cost, sign]);
                }
            }
            Kind::MilkRecord => {
                let sold = MilkRecord::from_values(values)
                    .and_then(|r| Some((r.farm_id, r.date, r.sold_litres?, r.price_per_litre?)));
                if let Some((farm, date, ml, price)) = sold {
                    let minor = mul_div(ml, price, 1_000).unwrap_or(0);
                    self.bump(farm, Month::of(date), Measure::MilkSoldMl, sign * ml);
                    self.bump(farm, Month::of(date), Measure::MilkSoldMinor, sign * minor);
                }
            }
            Kind::EggRecord => {
                let sold = EggRecord::from_values(values)
                    .and_then(|r| Some((r.farm_id, r.date, r.sold_eggs?, r.price_per_egg?)));
                if let Some((farm, date, eggs, price)) = sold {
                    let minor = eggs.saturating_mul(price);
                    self.bump(farm, Month::of(date), Measure::EggsSold, sign * eggs);
                    self.bump(farm, Month::of(date), Measure::EggsSoldMinor, sign * minor);
                }
            }
            Kind::OtherCost => {
                if let Some(r) = OtherCost::from_values(values) {
                    let month = Month::of(r.date);
                    self.bump(r.farm_id, month, Measure::OtherCost, sign * r.amount);
                    self.bump(r.farm_id, month, Measure::OtherCosts, sign);
                }
            }
            Kind::SeedIssue => {
                if let Some(r) = SeedIssue::from_values(values) {
                    self.add_issue(&r, sign);
                }
            }
            Kind::SeedPayment => {
                if let Some(r) = SeedPayment::from_values(values) {
                    let account = self.accounts.entry(r.farm_id).or_default();
                    add_each(account, [0, 0, 0, 0, sign * r.amount]);
                }
            }
            Kind::SeedPurchase => {
                if let Some(r) = SeedPurchase::from_values(values) {
                    let paid = r.price + r.transport.unwrap_or(0);
                    let sums = self.purchases.entry(r.seed_lot_id).or_default();
                    add_each(sums, [sign * r.kg, sign * paid]);
                }
            }
            _ => {}
        }
    }

    /// Adds or takes away what a group gave on one day, from all its records of that day.
    pub fn add_day(
        &mut self,
        kind: Kind,
        farm: Uuid,
        date: NaiveDate,
        records: &[DayRecord],
        sign: i64,
    ) {
        let Some(total) = day_total(records) else { return };
        let month = Month::of(date);
        let stage = total.stage.map_or((0, 0), |s| (s * total.animals, total.animals));
        let is_milk = kind == Kind::MilkRecord;
        self.add_bin((is_milk, farm, month), &total, sign);
        let mut bump = |measure, by: i64| self.bump(farm, month, measure, sign * by);
        if is_milk {
            bump(Measure::MilkMl, total.amount);
            bump(Measure::CowDays, total.animals);
            bump(Measure::MilkDays, 1);
            bump(Measure::MilkStage, stage.0);
            bump(Measure::MilkStageAnimals, stage.1);
        } else {
            bump(Measure::Eggs, total.amount);
            bump(Measure::HenDays, total.animals);
            bump(Measure::Cracked, total.cracked);
            bump(Measure::EggDays, 1);
            bump(Measure::EggStage, stage.0);
            bump(Measure::EggStageAnimals, stage.1);
        }
    }

    /// A whole day, by its rate; a lone milking says nothing of a day.
    fn add_bin(&mut self, of: (bool, Uuid, Month), total: &DayTotal, sign: i64) {
        let (is_milk, farm, month) = of;
        let unit = if is_milk { ML_OF_A_LITRE } else { 1 };
        let bin = half_octave(total.amount, total.animals, unit).filter(|_| total.is_whole);
        let Some(half_octave) = bin else { return };
        let bin = self.bins.entry(BinKey { is_milk, farm, month, half_octave }).or_default();
        bin.records += sign;
        bin.amount += sign * total.amount;
        bin.animals += sign * total.animals;
        if let Some(stage) = total.stage {
            bin.stage += sign * stage * total.animals;
            bin.stage_animals += sign * total.animals;
        }
    }

    fn add_issue(&mut self, r: &SeedIssue, sign: i64) {
        let price = sign * r.price.unwrap_or(0);
        let (credit, at_once) = if r.payment == "credit" { (price, 0) } else { (0, price) };
        let unpriced = if r.price.is_none() { sign } else { 0 };
        let account = self.accounts.entry(r.farm_id).or_default();
        add_each(account, [credit, at_once, unpriced, sign * r.kg, 0]);
        if r.price.is_some() {
            let sums = self.issues.entry((r.farm_id, r.seed_lot_id)).or_default();
            add_each(sums, [sign * r.kg, price]);
        }
    }

    fn add_event(&mut self, event: &BatchEvent, batch: &Batch, zone: Tz, sign: i64) {
        let farm = event.farm_id;
        let month = Month::of(local_date(event.at, zone));
        let (trays, kg) = (sign * event.trays.unwrap_or(0), sign * event.kg.unwrap_or(0));
        match event.event.as_str() {
            "soaked" => {
                self.bump(farm, month, Measure::SeedG, kg);
                let lot = batch.seed_lot_id.unwrap_or(Uuid::nil());
                *self.lots.entry((farm, month, lot)).or_default() += kg;
            }
            "spread" => self.bump(farm, month, Measure::TraysStarted, trays),
            "harvested" => self.bump(farm, month, Measure::TraysHarvested, trays),
            "discarded" => self.bump(farm, month, Measure::TraysDiscarded, trays),
            "fed_out" => self.bump(farm, month, Measure::FedG, kg),
            _ => {}
        }
    }

    fn bump(&mut self, farm: Uuid, month: Month, measure: Measure, by: i64) {
        let sums = self.months.entry((farm, month)).or_insert([0; MEASURES]);
        if let Some(cell) = sums.get_mut(measure.index()) {
            *cell += by;
        }
    }

    /// The months whose report moves. The price of a feed is looked for up to three months back,
    /// so a purchase reaches the reports of the three months after it.
    pub fn touched(&self) -> impl Iterator<Item = Month> {
        let months = self.months.iter().filter(|(_, s)| s.iter().any(|v| *v != 0));
        let feeds = self.feeds.iter().filter(|(_, s)| s.iter().any(|v| *v != 0));
        let feeds = feeds.flat_map(|((_, m, _), _)| (0..=PRICE_MONTHS).map(|by| m.plus(by)));
        let lots = self.lots.iter().filter(|(_, g)| **g != 0);
        months.map(|((_, m), _)| *m).chain(feeds).chain(lots.map(|((_, m, _), _)| *m))
    }

    /// Whether nothing is to be added.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

fn add_each<const N: usize>(to: &mut [i64; N], by: [i64; N]) {
    for (to, by) in to.iter_mut().zip(by) {
        *to += by;
    }
}

/// The day cell a milk or egg record lies in, and the record as one of its day.
#[must_use]
pub fn day_record(
    kind: Kind,
    values: &[Value],
    id: Uuid,
    entered: i64,
) -> Option<(Uuid, Uuid, NaiveDate, DayRecord)> {
    if kind == Kind::MilkRecord {
        let r = MilkRecord::from_values(values)?;
        let day = DayRecord {
            id,
            entered,
            session: r.session,
            amount: r.litres,
            animals: r.animals_in_milk,
            cracked: 0,
            stage: r.mean_days_in_milk,
        };
        return Some((r.animal_group_id, r.farm_id, r.date, day));
    }
    let r = EggRecord::from_values(values)?;
    let day = DayRecord {
        id,
        entered,
        session: "day".to_owned(),
        amount: r.eggs,
        animals: r.hens_present,
        cracked: r.cracked.unwrap_or(0),
        stage: r.flock_age_weeks,
    };
    Some((r.animal_group_id, r.farm_id, r.date, day))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn record(session: &str, entered: i64, amount: i64, animals: i64) -> DayRecord {
        DayRecord {
            id: Uuid::from_u128(u128::from(entered.unsigned_abs())),
            entered,
            session: session.to_owned(),
            amount,
            animals,
            cracked: 0,
            stage: None,
        }
    }

    fn total(amount: i64, animals: i64) -> Option<DayTotal> {
        Some(DayTotal { amount, animals, is_whole: true, ..DayTotal::default() })
    }

    #[test]
    fn day_total_takes_the_last_entered_and_the_whole_day_first() {
        assert_eq!(day_total(&[]), None);
        let milkings = [record("morning", 1, 10, 3), record("evening", 2, 6, 2)];
        assert_eq!(day_total(&milkings), total(16, 3));
        let corrected = [record("morning", 1, 10, 3), record("morning", 5, 8, 3)];
        assert_eq!(day_total(&corrected).map(|t| (t.amount, t.is_whole)), Some((8, false)));
        let both = [record("morning", 9, 10, 3), record("day", 1, 14, 4)];
        assert_eq!(day_total(&both), total(14, 4));
        let lone = day_total(&[record("morning", 1, 10, 3), record("midday", 2, 3, 3)]);
        assert_eq!(lone.map(|t| (t.amount, t.is_whole)), Some((13, false)));
    }

    /// A lone milking enters no bin; the evening completes the day; what is taken away cancels.
    #[test]
    fn whole_days_enter_the_bin_of_their_rate() {
        let (farm, day) = (Uuid::from_u128(1), "2026-02-28".parse().expect("a day"));
        let milk = Kind::MilkRecord;
        let mut effects = Effects::default();
        let morning = [record("morning", 1, 8_000, 2)];
        effects.add_day(milk, farm, day, &morning, 1);
        assert!(effects.bins.is_empty());
        let both = [record("morning", 1, 8_000, 2), record("evening", 2, 4_000, 2)];
        effects.add_day(milk, farm, day, &morning, -1);
        effects.add_day(milk, farm, day, &both, 1);
        // 12 litres of two cows: 6 a cow, half octave 5.
        let bins: Vec<_> = effects.bins.iter().map(|(k, b)| (k.half_octave, b.amount)).collect();
        assert_eq!(bins, [(5, 12_000)]);
        effects.add_day(milk, farm, day, &both, -1);
        assert!(effects.bins.values().all(|b| *b == OutputBin::default()));
    }

    #[test]
    fn effects_of_a_record_and_its_removal_cancel() {
        let values = FeedPurchase {
            farm_id: Uuid::from_u128(1),
            feed_id: Uuid::from_u128(2),
            date: "2026-02-28".parse().expect("a day"),
            kg: 5_000,
            cost: 700,
            animal_group_id: None,
            note: None,
        }
        .into_values();
        let mut effects = Effects::default();
        effects.add(Kind::FeedPurchase, &values, None, chrono_tz::UTC, 1);
        let months: Vec<String> = effects.touched().map(|m| m.to_string()).collect();
        assert_eq!(months, ["2026-02", "2026-02", "2026-03", "2026-04", "2026-05"]);
        effects.add(Kind::FeedPurchase, &values, None, chrono_tz::UTC, -1);
        assert_eq!(effects.touched().count(), 0);
    }
}
