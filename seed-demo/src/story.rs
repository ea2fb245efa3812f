//! What each farm is like: the numbers behind its records, drawn before anything happens.

use crate::calendar::Calendar;
use crate::generate::Plan;
use crate::prices::{FeedKind, seed_usual};
use crate::random::{Rng, float, round};
use chrono::NaiveDate;
use std::cmp::Reverse;
use traybook_domain::savings::money::mul_div;

/// Names of the areas.
pub(crate) const AREAS: [&str; 4] = ["Kilima", "Bondeni", "Msituni", "Ziwani"];
/// Where most farms have their water from.
const SOURCES: [&str; 3] = ["piped", "piped", "borehole"];
/// The source whose water spoils trays, and how many times as many.
pub(crate) const BAD_WATER: (&str, f64) = ("river", 2.0);
/// Dry seed on a full tray, grams.
pub(crate) const TRAY_G: i64 = 2_000;
/// Labour for one tray from soak to harvest, shillings.
pub(crate) const LABOUR: f64 = 240.0;
/// Water for one tray, shillings.
pub(crate) const WATER: f64 = 40.0;
/// Disinfectant and repairs for one tray, shillings, over the months.
pub(crate) const UPKEEP: f64 = 55.0;
/// Shed and trays for one tray a day, shillings: straight line over their lives.
const DEPRECIATION: f64 = 120.0;

/// The animals that a farm grows fodder for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Class {
    /// Cows in milk.
    Cows,
    /// Hens of exotic breed.
    Layers,
    /// Chickens of the country.
    Indigenous,
}

impl Class {
    /// As it stands in records.
    pub(crate) fn text(self) -> &'static str {
        match self {
            Self::Cows => "dairy_cows",
            Self::Layers => "layers",
            Self::Indigenous => "indigenous_chickens",
        }
    }

    /// Animals that one tray feeds for a day, as the growing guide has it.
    pub(crate) fn per_tray(self) -> i64 {
        match self {
            Self::Cows => 1,
            Self::Layers => 100,
            Self::Indigenous => 50,
        }
    }

    /// Age at harvest, days from the soak, as the growing guide has it.
    pub(crate) fn harvest_age(self) -> i64 {
        if self == Self::Cows { 8 } else { 4 }
    }
}

/// Animals kept beside.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Side {
    Goats,
    Pigs,
}

/// A slip that nobody has put right yet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Slip {
    /// A day's milk without its decimal point: ten times as much.
    MissingPoint,
    /// No milk written down in the last whole month.
    ForgottenMonth,
    /// A purchase of that month copied by a second person, under the day after.
    Copied,
}

/// What a farm is like.
#[derive(Clone, Debug)]
pub(crate) struct Story {
    /// Number of the farm, from 0.
    pub(crate) number: usize,
    pub(crate) code: String,
    /// Its area, by position among [`AREAS`].
    pub(crate) area: usize,
    /// Animals fed with fodder.
    pub(crate) class: Class,
    /// How many at enrolment.
    pub(crate) head: i64,
    /// Other animals, and how many.
    pub(crate) side: Option<(Side, i64)>,
    /// Month of enrolment.
    pub(crate) enrolled: usize,
    /// Month from which output and feed are recorded.
    pub(crate) reports_from: usize,
    /// Month and day of the first soak.
    pub(crate) start: Option<(usize, NaiveDate)>,
    /// Ration of the main group, g per animal-day.
    pub(crate) ration: Vec<(FeedKind, i64)>,
    /// Crop grown.
    pub(crate) crop: &'static str,
    /// Fresh from one kg of seed.
    pub(crate) fresh_yield: f64,
    /// Milk of a cow at its peak, litres; or laying rate against the usual.
    pub(crate) level: f64,
    /// True effect on output, log scale.
    pub(crate) effect: f64,
    /// True probability that a tray spoils, but for season, heat and bad seed.
    pub(crate) spoilage: f64,
    /// Where its water comes from.
    pub(crate) water: &'static str,
    /// Share of the ration before fodder that is saved where a batch is soaked every day.
    pub(crate) saved: f64,
    /// Whether the shed is bad.
    pub(crate) bad_shed: bool,
    /// What was written down wrong.
    pub(crate) slip: Option<Slip>,
    /// Whether milk is recorded by milking.
    pub(crate) by_milking: bool,
    /// Share of checks that are answered no.
    pub(crate) slack: f64,
    /// Spreads farms over the days.
    pub(crate) offset: i32,
}

/// What is true of a farm, to compare estimates with.
#[derive(Clone, Debug, PartialEq)]
pub struct FarmTruth {
    pub farm_code: String,
    /// Class of the animals fed with fodder, as it stands in records.
    pub animal_class: String,
    /// Day of the first soak; none where the farm never starts.
    pub started_on: Option<NaiveDate>,
    /// Effect on milk (or eggs) per animal from the first harvest on, log scale; 0 where the farm
    /// never starts.
    pub log_effect: f64,
    /// Probability that a tray is discarded, apart from season, hot days and bad seed.
    pub spoilage: f64,
    /// Share of the ration before fodder that the farm no longer buys while it soaks a batch every
    /// day; in a month with batches on a part of the days, so much the less.
    pub feed_saved_share: f64,
    /// Whether the farm's shed makes trays spoil all the time.
    pub has_bad_shed: bool,
}

/// What is true of each farm of a plan, in order of farm code; the same numbers that
/// [`crate::generate`] uses.
#[must_use]
pub fn truth(plan: &Plan) -> Vec<FarmTruth> {
    stories(plan).iter().map(FarmTruth::of).collect()
}

impl FarmTruth {
    /// Of one farm.
    pub(crate) fn of(story: &Story) -> Self {
        let started = story.start.is_some();
        Self {
            farm_code: story.code.clone(),
            animal_class: story.class.text().to_owned(),
            started_on: story.start.map(|s| s.1),
            log_effect: if started { story.effect } else { 0.0 },
            spoilage: story.spoilage,
            feed_saved_share: if started { story.saved } else { 0.0 },
            has_bad_shed: story.bad_shed,
        }
    }
}

/// The stories of all farms, by number.
pub(crate) fn stories(plan: &Plan) -> Vec<Story> {
    let calendar = Calendar::new(plan);
    let starts = starts(plan, &calendar);
    let mut all: Vec<Story> =
        starts.into_iter().enumerate().map(|(i, s)| story(plan, &calendar, i, s)).collect();
    spoil_one_shed(&mut all);
    slip(plan, &mut all);
    let mut rng = Rng::of(plan.seed, "payback", 0);
    let mut starting: Vec<&mut Story> =
        all.iter_mut().filter(|s| s.start.is_some() && !s.bad_shed).collect();
    rng.shuffle(&mut starting);
    let count = index_f(starting.len()).max(1.0);
    for (rank, story) in starting.into_iter().enumerate() {
        let payback = payback((index_f(rank) + rng.between(0.2, 0.8)) / count);
        story.saved = (payback * cost_share(story)).clamp(0.02, 0.85);
    }
    all
}

/// Feed saved for each shilling spent on fodder, by rank from the worst farm (0) to the best (1):
/// for about a quarter it does not pay.
fn payback(rank: f64) -> f64 {
    const LOSE: f64 = 0.26;
    if rank < LOSE { 0.6 + 0.3 * rank / LOSE } else { 1.1 + 0.8 * (rank - LOSE) / (1.0 - LOSE) }
}

/// Three dairy farms have a slip each: that whose cows give least, as ten times more than a cow can
/// give is refused, and of the others the two with most cows. A demo to measure with has none.
fn slip(plan: &Plan, all: &mut [Story]) {
    if plan.size.measures() {
        return;
    }
    let fits = |s: &&mut Story| s.class == Class::Cows && s.start.is_some() && !s.bad_shed;
    let mut farms: Vec<&mut Story> = all.iter_mut().filter(fits).collect();
    farms.sort_by(|a, b| a.level.total_cmp(&b.level));
    let mut farms = farms.into_iter();
    if let Some(least) = farms.next() {
        least.slip = Some(Slip::MissingPoint);
    }
    let mut others: Vec<&mut Story> = farms.collect();
    others.sort_by_key(|s| (Reverse(s.head), s.number));
    for (story, slip) in others.into_iter().zip([Slip::ForgottenMonth, Slip::Copied]) {
        story.slip = Some(slip);
    }
}

/// The earliest dairy farm to start has the bad shed, and loses by it.
fn spoil_one_shed(all: &mut [Story]) {
    let dairy = all.iter_mut().filter(|s| s.class == Class::Cows && s.start.is_some());
    if let Some(story) = dairy.min_by_key(|s| (s.start.map(|s| s.1), s.number)) {
        story.head = story.head.max(4);
        story.bad_shed = true;
        story.spoilage = 0.175;
        story.slack = 0.3;
        story.saved = 0.75 * cost_share(story);
    }
}

fn class_of(number: usize) -> Class {
    match (number % 3, number / 3 % 3) {
        (2, 1) => Class::Indigenous,
        (2, _) => Class::Layers,
        _ => Class::Cows,
    }
}

/// The start of each farm: staggered from a quarter of the history on, more in the first half; a
/// fifth of the farms, of each kind, never.
fn starts(plan: &Plan, calendar: &Calendar) -> Vec<Option<(usize, NaiveDate)>> {
    let farms = plan.size.farms();
    let mut rng = Rng::of(plan.seed, "starts", 0);
    let mut dairy: Vec<usize> = (0..farms).filter(|i| class_of(*i) == Class::Cows).collect();
    let mut hens: Vec<usize> = (0..farms).filter(|i| class_of(*i) != Class::Cows).collect();
    let mut result = vec![None; farms];
    let (first, last) = (plan.history().div_ceil(4), plan.history() - 2);
    for list in [&mut dairy, &mut hens] {
        rng.shuffle(list);
        let starting = list.len() - list.len().div_ceil(5);
        for (rank, farm) in list.iter().take(starting).enumerate() {
            let part = index_f(rank) / index_f(starting.max(2) - 1);
            // A part of the farms starts late, most in the first half of what is left.
            let bent = 0.6 * part * part + 0.4 * part;
            let span = float(i64::try_from(last - first).unwrap_or(0));
            let number = first + usize::try_from(round(bent * span)).unwrap_or(0);
            let day = calendar.day(number, rng.int(10, 20));
            if let Some(slot) = result.get_mut(*farm) {
                *slot = Some((number, day));
            }
        }
    }
    result
}

fn index_f(index: usize) -> f64 {
    float(i64::try_from(index).unwrap_or(0))
}

fn story(
    plan: &Plan,
    calendar: &Calendar,
    number: usize,
    start: Option<(usize, NaiveDate)>,
) -> Story {
    let mut rng = Rng::of(plan.seed, "farm", number);
    let class = class_of(number);
    let quarter = i64::try_from(calendar.months / 4).unwrap_or(0);
    let enrolled = if rng.chance(0.15) { rng.int(1, quarter.max(1)) } else { 0 };
    let enrolled = usize::try_from(enrolled).unwrap_or(0);
    let delay = usize::from(rng.chance(0.12));
    let (head, ration, level) = animals(class, &mut rng);
    // Every fourth farm has no better water than the river's.
    let other = Rng::of(plan.seed, "water", number).pick(&SOURCES);
    let water = if number % 4 == 1 { BAD_WATER.0 } else { other };
    let hens_crop = if rng.chance(0.6) { "barley" } else { "wheat" };
    let cow_crop = if rng.chance(0.65) { "barley" } else { "maize" };
    let effect = match class {
        Class::Cows => 0.03 + 0.03 * rng.normal(),
        _ => 0.025 * rng.normal(),
    };
    Story {
        number,
        code: format!("F{:04}", number + 1),
        area: number % AREAS.len(),
        class,
        head,
        side: side(&mut rng),
        enrolled,
        reports_from: enrolled + delay,
        start: start.map(|(m, day)| (m.max(enrolled), day.max(calendar.day(enrolled, 10)))),
        ration,
        crop: if class == Class::Cows { cow_crop } else { hens_crop },
        fresh_yield: rng.between(4.5, 5.6),
        level,
        effect,
        spoilage: 0.03
            * rng.between(0.5, 1.5)
            * if water == BAD_WATER.0 { BAD_WATER.1 } else { 1.0 },
        water,
        saved: 0.0,
        bad_shed: false,
        slip: None,
        by_milking: rng.chance(0.15),
        slack: rng.between(0.03, 0.22),
        offset: i32::try_from(rng.int(0, 839)).unwrap_or(0),
    }
}

fn side(rng: &mut Rng) -> Option<(Side, i64)> {
    match rng.int(0, 9) {
        0 | 1 => Some((Side::Goats, rng.int(3, 12))),
        2 => Some((Side::Pigs, rng.int(2, 6))),
        _ => None,
    }
}

/// Head at enrolment, ration before fodder, level of output.
fn animals(class: Class, rng: &mut Rng) -> (i64, Vec<(FeedKind, i64)>, f64) {
    use FeedKind::{DairyMeal, LayerMash, MaizeBran, Napier};
    let mut grams = |low: i64, high: i64, step: i64| rng.int(low / step, high / step) * step;
    match class {
        Class::Cows => {
            let ration = vec![
                (Napier, grams(20_000, 32_000, 1_000)),
                (DairyMeal, grams(2_500, 4_500, 250)),
                (MaizeBran, grams(1_000, 3_000, 250)),
            ];
            (rng.int(1, 6), ration, rng.between(9.0, 15.0))
        }
        Class::Layers => {
            let ration = vec![(LayerMash, grams(108, 122, 1))];
            (rng.int(8, 60) * 10, ration, rng.between(0.9, 1.04))
        }
        Class::Indigenous => {
            let ration = vec![(MaizeBran, grams(40, 60, 1)), (LayerMash, grams(35, 55, 1))];
            (rng.int(8, 25) * 10, ration, rng.between(0.85, 1.15))
        }
    }
}

/// Cost of growing fodder against the ration before it, at usual prices and a batch every day.
fn cost_share(story: &Story) -> f64 {
    let ration: f64 = story.ration.iter().map(|(f, g)| f.usual() * float(*g) / 1000.0).sum();
    let seed = seed_usual(story.crop) * 1.1 * float(TRAY_G) / 1000.0;
    (seed + LABOUR + WATER + UPKEEP + DEPRECIATION) / (ration * float(story.class.per_tray()))
}

impl Story {
    /// Dry seed of one batch for so many animals, grams, and its trays.
    pub(crate) fn batch(&self, head: i64) -> (i64, i64) {
        let seed = mul_div(head, TRAY_G, self.class.per_tray()).unwrap_or(0);
        (seed, seed.unsigned_abs().div_ceil(TRAY_G.unsigned_abs()).try_into().unwrap_or(0))
    }

    /// Whether the farm grows fodder in a month: it began in an earlier one.
    pub(crate) fn grows_in(&self, number: usize) -> bool {
        self.start.is_some_and(|(start, _)| start <= number)
    }

    /// Whether fodder is fed on a day: the first batch is ripe.
    pub(crate) fn feeds_on(&self, day: NaiveDate) -> bool {
        self.start.is_some_and(|(_, s)| day >= crate::calendar::later(s, self.class.harvest_age()))
    }
}
