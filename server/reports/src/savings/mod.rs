//! The monthly savings report.
//!
//! # Source
//! Feed-cost saving as the co-operatives' analytics defines it: what the ration before fodder would
//! cost this month, at this month's prices and for the animals now kept (a Laspeyres basket
//! repriced), minus what was spent on feed, seed, other costs and straight-line depreciation.
//! Spoiled trays are inside, since their seed and labour were spent. Losses are shown as plainly
//! as savings. A number is given only where everything it needs was recorded: missing is not zero.

mod board;
mod csv;
mod member;
mod publish;
mod wording;
mod workbook;

pub use board::board_pdf;
pub use csv::csv;
pub use member::member_pdf;
pub use publish::json;
pub use wording::{Said, sentence};
pub use workbook::workbook;

use std::collections::{BTreeMap, HashMap};
use traybook_answers::savings::{Extras, Missing, Note, Status};
use traybook_domain::effects::{MEASURES, Measure, Sums};
use traybook_domain::money::mul_div;
use traybook_domain::value::real;
use traybook_domain::{Month, feed};
use uuid::Uuid;

/// What one farm brings to the report.
#[derive(Clone, Debug)]
pub struct FarmInput {
    /// Farm.
    pub farm: Uuid,
    /// Farm code.
    pub farm_code: String,
    /// Member.
    pub member: Uuid,
    /// Membership number.
    pub member_number: String,
    /// Member's name.
    pub member_name: String,
    /// Area.
    pub area: Uuid,
    /// Month of the first soak.
    pub started: Option<Month>,
    /// Month sums; none where nothing was recorded.
    pub sums: Option<Sums>,
    /// Groups with their animal-days; none where no head was ever counted.
    pub groups: Vec<GroupInput>,
    /// Feed bought this month: feed, grams, minor units.
    pub feeds: Vec<(Uuid, i64, i64)>,
    /// Cost of the seed soaked, minor units; none where a lot has no price.
    pub seed_minor: Option<i64>,
    /// Depreciation, minor units.
    pub depreciation_minor: i64,
    /// Trays whose fodder was fed without being weighed.
    pub fed_unweighed_trays: i64,
}

/// An animal group of a farm.
#[derive(Clone, Debug)]
pub struct GroupInput {
    /// Animal-days of the month.
    pub animal_days: Option<i64>,
    /// Ration before fodder: feed, grams per animal-day.
    pub ration: Vec<(Uuid, i64)>,
}

/// What the whole report needs.
#[derive(Clone, Debug)]
pub struct Input {
    /// Month.
    pub month: Month,
    /// Name of the co-operative.
    pub cooperative: String,
    /// ISO 4217 code.
    pub currency: String,
    /// Digits of the currency.
    pub digits: u8,
    /// Share of dry matter in fresh fodder, hundredths of a per cent.
    pub fodder_dry_matter: i64,
    /// Farms, in the order of the report.
    pub farms: Vec<FarmInput>,
    /// Names of areas.
    pub areas: BTreeMap<Uuid, String>,
    /// Names of feeds.
    pub feeds: HashMap<Uuid, String>,
    /// Median prices of feeds over the whole co-operative, this month first and then those before,
    /// the latest first: minor units for 1,000 kg.
    pub median_prices: Vec<HashMap<Uuid, i64>>,
    /// What changed in closed months since they were reported.
    pub adjustments: Vec<Adjustment>,
    /// What the estimates say of farms.
    pub extras: HashMap<Uuid, Extras>,
    /// How far the data goes: number of the last change counted.
    pub data_version: i64,
}

/// A change of a month that was reported already.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Adjustment {
    /// The closed month.
    pub month: Month,
    /// The farm.
    pub farm: Uuid,
    /// Its code.
    pub farm_code: String,
    /// Reported so far, adjustments included, minor units.
    pub reported_minor: Option<i64>,
    /// What the records say now.
    pub now_minor: Option<i64>,
}

impl Adjustment {
    /// The difference that this report brings.
    #[must_use]
    pub fn change_minor(&self) -> i64 {
        self.now_minor.unwrap_or(0) - self.reported_minor.unwrap_or(0)
    }
}

/// Amounts that add up over farms, minor units and grams.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Amounts {
    /// Head of animals × days.
    pub animal_days: i64,
    /// Ration before fodder at this month's prices.
    pub baseline: i64,
    /// Feed bought.
    pub feed: i64,
    /// Seed soaked.
    pub seed: i64,
    /// Other costs.
    pub other: i64,
    /// Depreciation.
    pub depreciation: i64,
    /// Milk, ml.
    pub milk_ml: i64,
    /// Cow-days with a milk record.
    pub cow_days: i64,
    /// Eggs.
    pub eggs: i64,
    /// Hen-days with an egg record.
    pub hen_days: i64,
    /// Trays spread.
    pub trays_started: i64,
    /// Trays discarded.
    pub trays_discarded: i64,
    /// Fresh fodder fed, g, as far as it was weighed.
    pub fed_g: i64,
    /// Trays whose fodder was fed without being weighed.
    pub trays_fed_unweighed: i64,
    /// What growing fodder cost, and the fodder fed, g, of the farms that weighed all of it: only
    /// theirs tell what a kg cost.
    pub weighed: (i64, i64),
}

impl Amounts {
    /// Saving; negative for a loss.
    #[must_use]
    pub fn saving(&self) -> i64 {
        self.baseline - self.feed - self.fodder_cost()
    }

    /// What growing fodder cost.
    #[must_use]
    pub fn fodder_cost(&self) -> i64 {
        self.seed + self.other + self.depreciation
    }

    fn add(&mut self, o: &Self) {
        let pairs = [
            (&mut self.animal_days, o.animal_days),
            (&mut self.baseline, o.baseline),
            (&mut self.feed, o.feed),
            (&mut self.seed, o.seed),
            (&mut self.other, o.other),
            (&mut self.depreciation, o.depreciation),
            (&mut self.milk_ml, o.milk_ml),
            (&mut self.cow_days, o.cow_days),
            (&mut self.eggs, o.eggs),
            (&mut self.hen_days, o.hen_days),
            (&mut self.trays_started, o.trays_started),
            (&mut self.trays_discarded, o.trays_discarded),
            (&mut self.fed_g, o.fed_g),
            (&mut self.trays_fed_unweighed, o.trays_fed_unweighed),
            (&mut self.weighed.0, o.weighed.0),
            (&mut self.weighed.1, o.weighed.1),
        ];
        for (to, from) in pairs {
            *to += from;
        }
    }
}

/// A farm's line.
#[derive(Clone, Debug)]
pub struct Line {
    /// The farm as it came.
    pub farm: FarmInput,
    /// Whether there is a number.
    pub status: Status,
    /// Days × animals over days of the month; none where no head was counted.
    pub animals: Option<i64>,
    /// Amounts; those that are not known are 0 and named in `missing`.
    pub amounts: Amounts,
    /// What is missing for a number.
    pub missing: Vec<Missing>,
    /// What to keep in mind reading the number.
    pub notes: Vec<Note>,
    /// 95 % interval of the saving, minor units; none where the months before the start are too
    /// few to judge by.
    pub interval: Option<(i64, i64)>,
    /// What the estimates say.
    pub extras: Extras,
}

impl Line {
    /// The saving, where there is a number.
    #[must_use]
    pub fn saving(&self) -> Option<i64> {
        (self.status == Status::Estimated).then(|| self.amounts.saving())
    }
}

/// Sums over farms with a number, and how many had none.
#[derive(Clone, Debug, Default)]
pub struct Total {
    /// Name of the area, or of the co-operative.
    pub name: String,
    /// Farms with a number.
    pub included: i64,
    /// Farms that save, and farms that lose.
    pub saving_losing: (i64, i64),
    /// Farms without a number by status.
    pub left_out: BTreeMap<Status, i64>,
    /// Sums over the farms included.
    pub amounts: Amounts,
    /// Saving and animal-days of the farms included, for the interval of the sum.
    pub farms: Vec<(i64, i64)>,
}

impl Total {
    /// 95 % interval of the saving, minor units; none under two farms.
    ///
    /// # Source
    /// Ratio estimator over farms (Cochran 1977, ch. 6): the farms differ in saving per animal-day.
    #[must_use]
    pub fn interval(&self) -> Option<(i64, i64)> {
        let farms = real(i64::try_from(self.farms.len()).ok()?);
        let (saving, days) = (self.amounts.saving(), self.amounts.animal_days);
        if farms < 2.0 || days <= 0 {
            return None;
        }
        let per_day = real(saving) / real(days);
        let square = |(s, n): &(i64, i64)| (real(*s) - per_day * real(*n)).powi(2);
        let sum: f64 = self.farms.iter().map(square).sum();
        around(saving, 1.96 * (farms / (farms - 1.0) * sum).sqrt())
    }
}

/// An interval around an amount, in whole minor units.
fn around(middle: i64, half_width: f64) -> Option<(i64, i64)> {
    #[expect(clippy::as_conversions, reason = "a finite number below 2^53, rounded")]
    let half = (half_width.is_finite() && half_width < 9e15).then(|| half_width.round() as i64)?;
    Some((middle - half, middle + half))
}

/// The report.
#[derive(Clone, Debug)]
pub struct Report {
    /// What it was made from, without the farms.
    pub head: Input,
    /// Farms.
    pub lines: Vec<Line>,
    /// By area.
    pub areas: Vec<Total>,
    /// All farms.
    pub total: Total,
}

/// Minor units for 1,000 kg: whole numbers keep medians exact. `None` where nothing was bought.
#[must_use]
pub fn unit_price(grams: i64, minor: i64) -> Option<i64> {
    if grams > 0 { mul_div(minor, 1_000_000, grams) } else { None }
}

/// Median price of each feed over the farms that bought it; of an even number the mean of the
/// middle two.
#[must_use]
pub fn median_prices<'a>(bought: impl Iterator<Item = &'a (Uuid, i64, i64)>) -> HashMap<Uuid, i64> {
    let mut by_feed: HashMap<Uuid, Vec<i64>> = HashMap::new();
    for (feed, grams, minor) in bought {
        if let Some(price) = unit_price(*grams, *minor) {
            by_feed.entry(*feed).or_default().push(price);
        }
    }
    let median = |mut prices: Vec<i64>| {
        prices.sort_unstable();
        let middle = prices.len() / 2;
        let high = prices.get(middle).copied()?;
        let low =
            if prices.len().is_multiple_of(2) { prices.get(middle - 1).copied()? } else { high };
        mul_div(low + high, 1, 2)
    };
    by_feed.into_iter().filter_map(|(feed, prices)| Some((feed, median(prices)?))).collect()
}

/// Makes the report. Cost grows with the number of farms.
#[must_use]
pub fn report(mut input: Input) -> Report {
    let farms = std::mem::take(&mut input.farms);
    let lines: Vec<Line> = farms.into_iter().map(|farm| line(farm, &input)).collect();
    let mut total = Total { name: input.cooperative.clone(), ..Total::default() };
    let mut areas: BTreeMap<Uuid, Total> = BTreeMap::new();
    for line in &lines {
        total.count(line);
        let name = || input.areas.get(&line.farm.area).cloned().unwrap_or_default();
        let area = areas.entry(line.farm.area);
        area.or_insert_with(|| Total { name: name(), ..Total::default() }).count(line);
    }
    let mut areas: Vec<Total> = areas.into_values().collect();
    areas.sort_by(|a, b| a.name.cmp(&b.name));
    Report { head: input, lines, areas, total }
}

impl Total {
    fn count(&mut self, line: &Line) {
        match line.saving() {
            Some(saving) => {
                self.included += 1;
                self.saving_losing.0 += i64::from(saving > 0);
                self.saving_losing.1 += i64::from(saving < 0);
                self.amounts.add(&line.amounts);
                self.farms.push((saving, line.amounts.animal_days));
            }
            None => *self.left_out.entry(line.status).or_default() += 1,
        }
    }
}

fn line(farm: FarmInput, input: &Input) -> Line {
    let sums = farm.sums.unwrap_or([0; MEASURES]);
    let of = |m: Measure| sums.get(m.index()).copied().unwrap_or(0);
    let mut missing = Vec::new();
    let mut notes = Vec::new();
    let known: Vec<&GroupInput> = farm.groups.iter().filter(|g| g.animal_days.is_some()).collect();
    let animal_days: i64 = known.iter().filter_map(|g| g.animal_days).sum();
    if animal_days == 0 {
        missing.push(Missing::HeadCount);
    } else if known.len() < farm.groups.len() {
        notes.push(Note::GroupLeftOut);
    }
    let baseline = baseline(&farm, input, &mut missing);
    if of(Measure::FeedPurchases) == 0 {
        missing.push(Missing::FeedPurchases);
    }
    if farm.seed_minor.is_none() {
        missing.push(Missing::SeedPrice);
    }
    if of(Measure::OtherCosts) == 0 {
        notes.push(Note::NoOtherCosts);
    }
    if of(Measure::SeedG) == 0 {
        notes.push(Note::NoSoak);
    }
    let status = match farm.started {
        None => Status::NotStarted,
        Some(start) if start > input.month => Status::NotStarted,
        Some(start) if start == input.month => Status::StartMonth,
        Some(_) if missing.is_empty() => Status::Estimated,
        Some(_) => Status::Missing,
    };
    if farm.fed_unweighed_trays > 0 {
        notes.push(Note::FedUnweighed);
    }
    let mut amounts = Amounts {
        animal_days,
        baseline: baseline.unwrap_or(0),
        feed: of(Measure::FeedCost),
        seed: farm.seed_minor.unwrap_or(0),
        other: of(Measure::OtherCost),
        depreciation: farm.depreciation_minor,
        milk_ml: of(Measure::MilkMl),
        cow_days: of(Measure::CowDays),
        eggs: of(Measure::Eggs),
        hen_days: of(Measure::HenDays),
        trays_started: of(Measure::TraysStarted),
        trays_discarded: of(Measure::TraysDiscarded),
        fed_g: of(Measure::FedG),
        trays_fed_unweighed: farm.fed_unweighed_trays,
        weighed: (0, 0),
    };
    if farm.fed_unweighed_trays == 0 {
        amounts.weighed = (amounts.fodder_cost(), amounts.fed_g);
    }
    let animals =
        (!known.is_empty()).then(|| mul_div(animal_days, 10, input.month.days())).flatten();
    let extras = input.extras.get(&farm.farm).cloned().unwrap_or_default();
    let half = extras.half_width_of_baseline.filter(|_| status == Status::Estimated);
    let interval = half.and_then(|h| around(amounts.saving(), h * real(amounts.baseline)));
    Line { farm, status, animals, amounts, missing, notes, interval, extras }
}

/// The ration before fodder at this month's prices; what is missing is named.
fn baseline(farm: &FarmInput, input: &Input, missing: &mut Vec<Missing>) -> Option<i64> {
    let before = missing.len();
    // Grams × price for 1,000 kg, before rounding once at the end.
    let mut total: i128 = 0;
    for group in &farm.groups {
        let days = group.animal_days.unwrap_or(0);
        if days > 0 && group.ration.is_empty() {
            missing.push(Missing::Ration);
        }
        for (feed, grams) in group.ration.iter().filter(|_| days > 0) {
            let own = farm.feeds.iter().find(|(f, _, _)| f == feed);
            let own = own.and_then(|(_, grams, minor)| unit_price(*grams, *minor));
            let median = || input.median_prices.iter().find_map(|month| month.get(feed).copied());
            match own.or_else(median) {
                Some(price) => total += i128::from(days) * i128::from(*grams) * i128::from(price),
                None => {
                    let name = input.feeds.get(feed).map_or("a feed", String::as_str);
                    missing.push(Missing::FeedPrice { feed: name.to_owned() });
                }
            }
        }
    }
    let rounded = (total + 500_000) / 1_000_000;
    (missing.len() == before).then(|| i64::try_from(rounded).ok()).flatten()
}

/// Depreciation of a month of an asset.
///
/// The month of first use counts whole, the month of disposal and later ones not at all.
#[must_use]
pub fn depreciation(
    month: Month,
    in_service: Month,
    disposed: Option<Month>,
    value: (i64, i64),
    life_months: i64,
) -> i64 {
    if disposed.is_some_and(|d| d <= month) {
        return 0;
    }
    feed::straight_line(value.0, value.1, life_months, month.number() - in_service.number())
}
