//! Cows and hens whose true change after the start is known, and what their people write down.
//!
//! Pure: the same seed gives the same herds. Cows calve, give milk by Wood's curve and go dry; flocks
//! come into lay, fall off and are replaced. On it lie a season, a month that all share, months of
//! one area, a farm's own months and bad weeks. People write some days of a month, some milk twice
//! and forget an evening; they drop a decimal point, write trays of thirty for eggs, enter a day
//! twice, forget a month, change what they count for good.

use crate::random::Rng;
use chrono::{Datelike, Days, Months, NaiveDate};
use std::fmt::Write as _;

/// Months that are over; the running one follows.
pub const MONTHS: usize = 30;
const AREAS: usize = 5;
/// Days of the running month that have records.
const RUNNING_DAYS: u64 = 14;
/// Weeks of age at which hens begin to lay, and at which a flock is replaced.
const LAY_FROM: f64 = 19.0;
const LAY_TO: f64 = 82.0;

/// A farm and what its start really did.
#[derive(Clone, Debug)]
pub struct Herd {
    /// Code of the farm.
    pub farm: String,
    /// Whether it keeps cows; else hens.
    pub is_milk: bool,
    /// Change of the logarithm of output after the start.
    pub effect: f64,
    /// Month of the first soak.
    pub start: Option<usize>,
    /// Whether its people changed for good what they count.
    pub changes_count: bool,
    area: usize,
    head: i64,
}

/// What is written down, and the truth.
pub struct Herds {
    /// Files as they are imported.
    pub files: Vec<(&'static str, String)>,
    /// The truth.
    pub herds: Vec<Herd>,
}

/// How careful people are, and what they record.
#[derive(Clone, Copy, Debug)]
pub struct Care {
    /// Share of records with a slip.
    pub slips: f64,
    /// Share of farms that change for good what they count.
    pub changes: f64,
    /// Share of farms that record days in milk or the age of the flock.
    pub stage: f64,
}

/// As in the field.
pub const FIELD: Care = Care { slips: 0.006, changes: 0.03, stage: 0.7 };

/// First day of records.
pub fn first_day() -> NaiveDate {
    NaiveDate::from_ymd_opt(2023, 9, 1).expect("a day")
}

/// First day of a month.
pub fn month_day(month: usize) -> NaiveDate {
    first_day() + Months::new(u32::try_from(month).expect("a few months"))
}

/// The day of reading, in the middle of the running month.
pub fn today() -> NaiveDate {
    month_day(MONTHS) + Days::new(RUNNING_DAYS)
}

/// Makes farms: three in five keep cows.
pub fn herds(seed: u64, count: usize, care: Care) -> Herds {
    let land = Land::make(seed);
    let mut book = Book::new();
    let mut all = Vec::new();
    for i in 0..count {
        let mut rng = Rng::of(seed, 11, i);
        let is_milk = i % 5 < 3;
        let mean = if is_milk { 0.06 } else { 0.04 };
        let head = if is_milk {
            (3.0 * (0.7 * rng.normal()).exp()).round().clamp(1.0, 20.0)
        } else {
            (60.0 * (0.8 * rng.normal()).exp()).round().clamp(15.0, 400.0)
        };
        let herd = Herd {
            farm: format!("H{i:03}"),
            is_milk,
            effect: mean + 0.07 * rng.normal(),
            start: rng.chance(0.72).then(|| 8 + rng.below(18)),
            changes_count: rng.chance(care.changes),
            area: rng.below(AREAS),
            head: head as i64,
        };
        book.farm(&herd, &mut rng);
        land.live(&herd, i, care, &mut book);
        all.push(herd);
    }
    Herds { files: book.files, herds: all }
}

/// What all farms share.
struct Land {
    seed: u64,
    /// Logarithm by month, cows and hens.
    month: [Vec<f64>; 2],
    /// Logarithm by area and month.
    area: Vec<Vec<f64>>,
}

/// Logarithms that wander: each keeps a share of the one before.
fn wander(rng: &mut Rng, kept: f64, step: f64) -> Vec<f64> {
    let mut last = step / (1.0 - kept * kept).sqrt() * rng.normal();
    let mut next = || {
        last = kept * last + step * rng.normal();
        last
    };
    (0..=MONTHS).map(|_| next()).collect()
}

impl Land {
    fn make(seed: u64) -> Self {
        let mut rng = Rng::of(seed, 9, 0);
        let mut month = |swing: f64, peak: f64| -> Vec<f64> {
            let shared = wander(&mut rng, 0.7, 0.02);
            let season = |m: usize| {
                let at = f64::from(month_day(m).month()) - peak;
                swing * (std::f64::consts::TAU * at / 12.0).cos()
            };
            shared.into_iter().enumerate().map(|(m, x)| x + season(m)).collect()
        };
        let month = [month(0.10, 4.0), month(0.04, 7.0)];
        let mut rng = Rng::of(seed, 10, 0);
        let area = (0..AREAS).map(|_| wander(&mut rng, 0.8, 0.015)).collect();
        Self { seed, month, area }
    }

    fn live(&self, herd: &Herd, i: usize, care: Care, book: &mut Book) {
        let mut rng = Rng::of(self.seed, 12, i);
        let own = wander(&mut rng, 0.6, 0.04);
        let level = 0.3 * rng.normal();
        let days_a_month = rng.between(4.0, 14.0);
        let writes_stage = rng.chance(care.stage);
        let milks_twice = rng.chance(0.4);
        let turns = 10 + rng.below(15);
        let mut animals = Animals::make(herd, &mut rng);
        let forgotten: Vec<bool> = (0..=MONTHS).map(|_| rng.chance(0.04)).collect();
        let last = (today() - first_day()).num_days();
        let mut bad_until = -1;
        for day in 0..last {
            let date = first_day() + Days::new(day as u64);
            let month = (date.year() * 12 + date.month0() as i32 - 2023 * 12 - 8) as usize;
            let given = animals.day(&mut rng);
            if rng.chance(1.0 / 200.0) {
                bad_until = day + 10;
            }
            let Some((rate, giving, stage)) = given else { continue };
            let is_written = rng.chance(days_a_month / 30.0);
            if !is_written || forgotten[month] {
                continue;
            }
            let effect = if herd.start.is_some_and(|s| month > s) { herd.effect } else { 0.0 };
            let bad = if day < bad_until { -0.25 } else { 0.0 };
            let shared = self.month[usize::from(!herd.is_milk)][month];
            let noise = if herd.is_milk { 0.06 } else { 0.05 } * rng.normal();
            let log =
                level + shared + self.area[herd.area][month] + own[month] + effect + bad + noise;
            let mut total = rate * log.exp() * giving as f64;
            if herd.changes_count && month >= turns {
                total *= 0.5;
            }
            let written = Written { date, total, giving, stage: stage.filter(|_| writes_stage) };
            book.day(herd, &written, (milks_twice, care.slips), &mut rng);
        }
    }
}

/// The animals of a farm, day by day.
enum Animals {
    /// Days since calving, and days from calving to calving.
    Cows(Vec<(f64, f64)>),
    /// Age of the flock in weeks, and hens.
    Hens(f64, i64),
}

impl Animals {
    fn make(herd: &Herd, rng: &mut Rng) -> Self {
        if !herd.is_milk {
            return Self::Hens(rng.between(LAY_FROM, LAY_TO), herd.head);
        }
        let cow = |_| {
            let round = 395.0 + 35.0 * rng.normal();
            (round * rng.unit(), round)
        };
        Self::Cows((0..herd.head).map(cow).collect())
    }

    /// Output an animal that gives, the animals that give, and their mean stage.
    fn day(&mut self, rng: &mut Rng) -> Option<(f64, i64, Option<f64>)> {
        match self {
            Self::Cows(cows) => {
                let (mut sum, mut stage, mut count) = (0.0, 0.0, 0_i64);
                for (since, round) in cows.iter_mut() {
                    *since += 1.0;
                    if *since >= *round {
                        *since = 1.0;
                        *round = 395.0 + 35.0 * rng.normal();
                    }
                    // Dry for the last two months.
                    if *since < *round - 60.0 {
                        sum += wood(*since);
                        stage += *since;
                        count += 1;
                    }
                }
                (count > 0).then(|| (sum / count as f64, count, Some(stage / count as f64)))
            }
            Self::Hens(age, hens) => {
                *age += 1.0 / 7.0;
                if *age > LAY_TO {
                    *age = LAY_FROM;
                }
                let since = *age - LAY_FROM + 0.5;
                let rate = 0.9 * (1.0 - (-since / 2.5).exp()) * (-0.006 * since).exp();
                (rate > 0.05).then_some((rate, *hens, Some(*age)))
            }
        }
    }
}

/// Litres a day so many days after calving (Wood 1967), about 10 at the peak.
fn wood(day: f64) -> f64 {
    5.6 * day.powf(0.2) * (-0.0036 * day).exp()
}

struct Written {
    date: NaiveDate,
    total: f64,
    giving: i64,
    stage: Option<f64>,
}

/// Files in the making.
struct Book {
    files: Vec<(&'static str, String)>,
}

impl Book {
    fn new() -> Self {
        let heads = [
            ("areas.csv", "name"),
            ("members.csv", "number,name,area,sex,language,consent,joined_on"),
            ("farms.csv", "code,member,area,fodder_started_on"),
            ("animal_groups.csv", "code,farm,animal_class"),
            ("head_counts.csv", "animal_group,date,reason,head"),
            (
                "milk_records.csv",
                "animal_group,date,session,litres,animals_in_milk,mean_days_in_milk",
            ),
            ("egg_records.csv", "animal_group,date,hens_present,eggs,flock_age_weeks"),
        ];
        let mut book = Self { files: heads.map(|(f, h)| (f, format!("{h}\n"))).to_vec() };
        for area in 0..AREAS {
            book.line("areas.csv", &format!("Vale {area}"));
        }
        book
    }

    fn line(&mut self, file: &str, line: &str) {
        let text = self.files.iter_mut().find(|f| f.0 == file).expect("a file");
        writeln!(text.1, "{line}").expect("text");
    }

    fn farm(&mut self, herd: &Herd, rng: &mut Rng) {
        let (code, area) = (&herd.farm, herd.area);
        let joined = first_day();
        self.line(
            "members.csv",
            &format!("M{code},Member {code},Vale {area},female,en,yes,{joined}"),
        );
        let start =
            herd.start.map(|m| (month_day(m) + Days::new(rng.below(25) as u64)).to_string());
        let start = start.unwrap_or_default();
        self.line("farms.csv", &format!("{code},M{code},Vale {area},{start}"));
        let class = if herd.is_milk { "dairy_cows" } else { "layers" };
        self.line("animal_groups.csv", &format!("{code}-g,{code},{class}"));
        self.line("head_counts.csv", &format!("{code}-g,{joined},counted,{}", herd.head));
    }

    fn day(&mut self, herd: &Herd, day: &Written, (twice, slips): (bool, f64), rng: &mut Rng) {
        let (code, date, giving) = (&herd.farm, day.date, day.giving);
        let stage = day.stage.map(|s| format!("{s:.0}")).unwrap_or_default();
        let is_slip = rng.chance(slips);
        let is_again = rng.chance(0.01);
        if !herd.is_milk {
            let eggs = day.total.round().clamp(0.0, 1.4 * giving as f64);
            // Trays of thirty for eggs.
            let eggs = if is_slip { (eggs / 30.0).round() } else { eggs };
            let line = format!("{code}-g,{date},{giving},{eggs:.0},{stage}");
            self.line("egg_records.csv", &line);
            if is_again {
                self.line("egg_records.csv", &line);
            }
            return;
        }
        // A decimal point left out; what no cow can give is refused and written again.
        let most = 99.0 * giving as f64;
        let slip =
            |litres: f64| if is_slip && 10.0 * litres < most { 10.0 * litres } else { litres };
        let mut write = |session: &str, litres: f64| {
            let line = format!("{code}-g,{date},{session},{litres:.1},{giving},{stage}");
            self.line("milk_records.csv", &line);
        };
        if twice {
            write("morning", slip(0.58 * day.total));
            if !rng.chance(0.06) {
                write("evening", 0.42 * day.total);
            }
        } else {
            write("day", slip(day.total));
            if is_again {
                write("day", day.total);
            }
        }
    }
}
