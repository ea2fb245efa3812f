//! Farms whose true feed use is known, and what their people write down of it, with slips.
//!
//! Pure: the same seed gives the same farms. What a farm feeds without fodder is
//! its level × the season of the calendar month × the month of its area × a noise of its own, part
//! of which lasts. Fodder takes a share of it from the start on. Purchases follow from the store.

use crate::farms_milk::milk;
use crate::farms_store::{Bought, Buyer, Store};
use crate::random::Rng;
use chrono::{Datelike, Days, Months, NaiveDate};
use std::fmt::Write as _;

/// Months that are over; the running one follows.
pub const MONTHS: usize = 30;
/// Classes of animals.
pub const CLASSES: [&str; 2] = ["dairy_cows", "layers"];
/// Feeds with their price in the first month, currency units a kg.
const FEEDS: [(&str, f64); 4] =
    [("Cow meal", 850.0), ("Rough bran", 400.0), ("Pressed cake", 700.0), ("Hen mash", 1000.0)];
/// Bran, which cows and hens of one farm may share.
const BRAN: usize = 1;
/// kg a head and day by class and feed.
const USUAL: [[f64; 4]; 2] = [[1.8, 1.5, 0.7, 0.0], [0.0, 0.03, 0.0, 0.09]];
/// Swing of the season by class, and the calendar month of its peak.
const SEASON: [(f64, f64); 2] = [(0.18, 9.0), (0.06, 3.0)];
const AREAS: usize = 4;
/// Labour of growing fodder, currency units a farm and month after the start.
pub const LABOUR: i64 = 900;

/// What people do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Slip {
    /// They write everything down as it is.
    None,
    /// Rations are recorded in the month of the season's peak.
    OtherSeason,
    /// Rations are stated 20 % too high.
    RationsHigh,
    /// The purchases of one feed are forgotten in 20 % of a farm's months.
    Forgotten,
    /// Half of the farms buy for two months at once.
    TwoMonths,
    /// Half of the farms buy for two months at once from the start on.
    TwoMonthsSince,
    /// 1 % of kg has a digit too many.
    Digit,
    /// A quarter of the farms double their flock, and record it.
    FlockDoubled,
    /// Milk falls by 13 % from the start on; it is written down and most of it is sold.
    MilkFalls,
}

impl Slip {
    /// All of them.
    pub const ALL: [Self; 9] = [
        Self::None,
        Self::OtherSeason,
        Self::RationsHigh,
        Self::Forgotten,
        Self::TwoMonths,
        Self::TwoMonthsSince,
        Self::Digit,
        Self::FlockDoubled,
        Self::MilkFalls,
    ];
}

/// The truth of one class of animals of a farm by month, currency units.
#[derive(Clone, Debug, PartialEq)]
pub struct Truth {
    /// Code of the farm.
    pub farm: String,
    /// Class of animals.
    pub class: &'static str,
    /// Month of the first soak.
    pub start: Option<usize>,
    /// What would have been eaten without fodder.
    pub baseline: Vec<f64>,
    /// What was eaten.
    pub eaten: Vec<f64>,
    /// What the change in milk came to.
    pub output: Vec<f64>,
}

/// What is written down, and the truth.
pub struct Farms {
    /// Files as they are imported.
    pub files: Vec<(&'static str, String)>,
    /// The truth.
    pub truth: Vec<Truth>,
}

/// First day of records.
pub fn first_day() -> NaiveDate {
    NaiveDate::from_ymd_opt(2023, 9, 1).expect("a day")
}

/// First day of a month.
pub fn month_day(month: usize) -> NaiveDate {
    first_day() + Months::new(u32::try_from(month).expect("a few months"))
}

/// The day of the last reading: the 5th of the running month.
pub fn today() -> NaiveDate {
    month_day(MONTHS) + Days::new(4)
}

/// Days before a month.
fn days_before(month: usize) -> usize {
    usize::try_from((month_day(month) - first_day()).num_days()).expect("not negative")
}

/// A class of animals of a farm.
struct Pen {
    class: usize,
    /// Head by day.
    head: Vec<i64>,
    /// kg a head and day without fodder, by feed and month.
    feed_use: Vec<Vec<f64>>,
    /// kg a head and day as people state it, by feed.
    stated: Vec<f64>,
    /// Share that fodder takes.
    effect: f64,
}

struct Farm {
    code: String,
    area: usize,
    /// Month and day of the first soak.
    start: Option<(usize, usize)>,
    /// First day with records.
    from: usize,
    /// Day on which the ration is recorded.
    stated_on: usize,
    buyer: Buyer,
    /// From the start on, where it differs.
    later: Option<Buyer>,
    names_group: bool,
    pens: Vec<Pen>,
}

/// What all farms share.
struct Land {
    seed: u64,
    slip: Slip,
    /// Price by feed and month.
    price: Vec<Vec<f64>>,
    /// Factor by area and month.
    area: Vec<Vec<f64>>,
    /// Month of each day.
    month_of: Vec<usize>,
}

/// Makes farms.
pub fn farms(seed: u64, slip: Slip, count: usize) -> Farms {
    let land = Land::make(seed, slip);
    let mut book = Book::new();
    let mut truth = Vec::new();
    for i in 0..count {
        let farm = land.farm(i, count);
        book.farm(&farm);
        truth.extend(land.live(&farm, i, &mut book));
    }
    Farms { files: book.files(), truth }
}

fn season(class: usize, month: usize) -> f64 {
    let (swing, peak) = SEASON[class];
    let at = f64::from(month_day(month).month()) - peak;
    1.0 + swing * (std::f64::consts::TAU * at / 12.0).cos()
}

impl Land {
    fn make(seed: u64, slip: Slip) -> Self {
        let mut rng = Rng::of(seed, 1, 0);
        let price = FEEDS.iter().map(|(_, first)| {
            let trend = rng.between(0.0, 0.02);
            let mut log = 0.0;
            let mut month = || {
                log += trend + 0.02 * rng.normal();
                first * f64::exp(log)
            };
            (0..=MONTHS).map(|_| month()).collect()
        });
        let price = price.collect();
        let mut rng = Rng::of(seed, 2, 0);
        let mut months = || (0..=MONTHS).map(|_| (0.04 * rng.normal()).exp()).collect();
        let area = (0..AREAS).map(|_| months()).collect();
        let days = days_before(MONTHS) + 4;
        let month = |d: usize| (0..=MONTHS).rev().find(|m| days_before(*m) <= d).expect("a month");
        Self { seed, slip, price, area, month_of: (0..days).map(month).collect() }
    }

    fn days(&self) -> usize {
        self.month_of.len()
    }

    fn farm(&self, i: usize, count: usize) -> Farm {
        let mut rng = Rng::of(self.seed, 3, i);
        // Half keep cows, a quarter cows and hens, a quarter hens.
        let kept: &[usize] = [&[0][..], &[0], &[0, 1], &[1]][i % 4];
        let nth = i / 4;
        let has_started = nth % 3 != 2;
        let month = 12 + rng.below(9);
        let day = days_before(month) + rng.below(28);
        let start = has_started.then_some((month, day));
        // A few join shortly before their start: they have a stated ration only.
        let is_late = has_started && nth % 12 == 4;
        let from = if is_late { days_before(month - 2) } else { 0 };
        let mut stated_on = day.saturating_sub(rng.below(120)).max(from);
        if self.slip == Slip::OtherSeason && !is_late {
            let peak = |m: &usize| f64::from(month_day(*m).month()) == SEASON[kept[0]].1;
            let last = (0..=month).rev().filter(peak).find(|m| days_before(*m) + 9 < day);
            stated_on = last.map_or(stated_on, |m| days_before(m) + 9);
        }
        let buyer = Buyer::draw(&mut rng);
        let is_bulk = rng.chance(0.5);
        let bulk = Buyer { interval: 60, ..buyer };
        let is = |slip| is_bulk && self.slip == slip;
        let pens = kept.iter().map(|class| self.pen(i, *class, (i % AREAS, stated_on, start)));
        let mut pens: Vec<Pen> = pens.collect();
        let doubles = self.slip == Slip::FlockDoubled && kept.contains(&1) && (i < count / 2);
        if doubles {
            let from = day + 75;
            let hens = pens.iter_mut().filter(|p| p.class == 1);
            hens.flat_map(|p| p.head.iter_mut().skip(from)).for_each(|head| *head *= 2);
        }
        Farm {
            code: format!("F{i:03}"),
            area: i % AREAS,
            start,
            from,
            stated_on,
            buyer: if is(Slip::TwoMonths) { bulk } else { buyer },
            later: is(Slip::TwoMonthsSince).then_some(bulk),
            names_group: rng.chance(0.5),
            pens,
        }
    }

    fn pen(
        &self,
        i: usize,
        class: usize,
        (area, stated_on, start): (usize, usize, Option<(usize, usize)>),
    ) -> Pen {
        let mut rng = Rng::of(self.seed, 4 + u64::try_from(class).expect("small"), i);
        let head = self.head(class, &mut rng);
        let level = (0.25 * rng.normal()).exp();
        let eats_cake = rng.chance(0.6);
        let effect = if start.is_some() { rng.between(0.08, 0.35) } else { 0.0 };
        let mut lasting = rng.normal();
        let months: Vec<f64> = (0..=MONTHS)
            .map(|m| {
                lasting = 0.6 * lasting + 0.8 * rng.normal();
                let noise = 0.07 * lasting + 0.08 * rng.normal();
                level * season(class, m) * self.area[area][m] * noise.exp()
            })
            .collect();
        let usual = |k: usize| if k == 2 && !eats_cake { 0.0 } else { USUAL[class][k] };
        let of_feed = |k: usize| {
            let own = usual(k) * (0.2 * rng.normal()).exp();
            let month = |m: &f64| own * m * (0.04 * rng.normal()).exp();
            (own * level, months.iter().map(month).collect::<Vec<f64>>())
        };
        let feeds: Vec<(f64, Vec<f64>)> = (0..FEEDS.len()).map(of_feed).collect();
        let mut rng = Rng::of(self.seed, 6, i);
        let high = if self.slip == Slip::RationsHigh { 1.2 } else { 1.0 };
        let said = season(class, self.month_of[stated_on]) * high * (0.15 * rng.normal()).exp();
        let stated = feeds.iter().map(|f| f.0 * said * (0.05 * rng.normal()).exp()).collect();
        Pen { class, head, feed_use: feeds.into_iter().map(|f| f.1).collect(), stated, effect }
    }

    fn head(&self, class: usize, rng: &mut Rng) -> Vec<i64> {
        let mut head = if class == 0 { rng.int(2, 6) } else { rng.int(40, 180) };
        let mut next = (0, head);
        let mut all = Vec::with_capacity(self.days());
        for day in 0..self.days() {
            if day == next.0 {
                head = next.1;
                let more = if class == 0 {
                    head + if rng.chance(0.5) { 1 } else { -1 }
                } else {
                    (head as f64 * rng.between(0.8, 1.3)).round() as i64
                };
                let wait = if class == 0 { rng.int(200, 700) } else { rng.int(100, 400) };
                next = (day + usize::try_from(wait).expect("positive"), more.max(1));
            }
            all.push(head);
        }
        all
    }

    /// Feeds a farm day by day, writes its purchases and gives the truth.
    fn live(&self, farm: &Farm, i: usize, book: &mut Book) -> Vec<Truth> {
        let nothing = || vec![0.0; MONTHS + 1];
        let truth = |pen: &Pen| Truth {
            farm: farm.code.clone(),
            class: CLASSES[pen.class],
            start: farm.start.map(|s| s.0),
            baseline: nothing(),
            eaten: nothing(),
            output: nothing(),
        };
        let mut truth: Vec<Truth> = farm.pens.iter().map(truth).collect();
        let mut bought = Vec::new();
        for feed in 0..FEEDS.len() {
            let eats = |p: &usize| USUAL[farm.pens[*p].class].get(feed).is_some_and(|kg| *kg > 0.0);
            let all: Vec<usize> = (0..farm.pens.len()).filter(eats).collect();
            let is_split = feed != BRAN || farm.names_group;
            let stores: Vec<Vec<usize>> =
                if is_split { all.iter().map(|p| vec![*p]).collect() } else { vec![all.clone()] };
            for (nth, eaters) in stores.iter().filter(|s| !s.is_empty()).enumerate() {
                let rng = Rng::of(self.seed, 100 + 10 * feed as u64 + nth as u64, i);
                let made = self.feed(farm, (feed, eaters), rng, &mut truth);
                let group = (is_split && all.len() > 1).then(|| eaters[0]);
                bought.extend(made.into_iter().map(|b| (feed, group, b)));
            }
        }
        if self.slip == Slip::MilkFalls {
            self.milk(farm, i, book, &mut truth);
        }
        let mut rng = Rng::of(self.seed, 7, i);
        self.slips(&mut bought, &mut rng);
        book.purchases(farm, &bought);
        truth
    }

    /// Milks the cows of a farm.
    fn milk(&self, farm: &Farm, i: usize, book: &mut Book, truth: &mut [Truth]) {
        let cows = farm.pens.iter().zip(truth).filter(|(pen, _)| pen.class == 0);
        for (pen, truth) in cows {
            let shared = |day: usize| {
                let month = self.month_of[day];
                1.0 + (self.area[farm.area][month] - 1.0) / 2.0 + (season(0, month) - 1.0) / 3.0
            };
            let start = farm.start.map(|s| s.1);
            let made = milk((self.seed, i), &pen.head, shared, start);
            for m in made.into_iter().skip(farm.from) {
                truth.output[self.month_of[m.day]] += m.gained;
                let (on, head) = (first_day() + Days::new(m.day as u64), pen.head[m.day]);
                let line = format!(
                    "{}-{},{on},day,{:.1},{head},{:.1},{}",
                    farm.code, CLASSES[0], m.litres, m.sold, m.price
                );
                book.line("milk_records.csv", &line);
            }
        }
    }

    /// Feeds from one store.
    fn feed(
        &self,
        farm: &Farm,
        (feed, eaters): (usize, &[usize]),
        rng: Rng,
        truth: &mut [Truth],
    ) -> Vec<Bought> {
        let started = |day: usize| farm.start.is_some_and(|s| day >= s.1);
        let need = |pen: usize, day: usize| {
            let p = &farm.pens[pen];
            let without = p.head[day] as f64 * p.feed_use[feed][self.month_of[day]];
            (without, if started(day) { without * (1.0 - p.effect) } else { without })
        };
        let all = |day: usize| eaters.iter().map(|p| need(*p, day).1).sum::<f64>();
        if all(0) <= 0.0 {
            return Vec::new();
        }
        let mut store = Store::new(rng);
        for month in 0..=MONTHS {
            let days = days_before(month)..days_before(month + 1).min(self.days());
            let (mut kg, mut cost) = (0.0, 0.0);
            let mut of = vec![(0.0, 0.0); eaters.len()];
            for day in days.clone() {
                let buyer = farm.later.filter(|_| started(day)).unwrap_or(farm.buyer);
                let eaten = all(day);
                cost += store.day(day, eaten, self.price[feed][month], &buyer);
                kg += eaten;
                for (sum, pen) in of.iter_mut().zip(eaters) {
                    let (without, with) = need(*pen, day);
                    *sum = (sum.0 + without, sum.1 + with);
                }
            }
            for (sum, pen) in of.iter().zip(eaters) {
                truth[*pen].baseline[month] += sum.0 * cost / kg;
                truth[*pen].eaten[month] += sum.1 * cost / kg;
            }
        }
        store.bought.into_iter().filter(|b| b.day >= farm.from).collect()
    }

    /// What people forget or mistype.
    fn slips(&self, bought: &mut Vec<(usize, Option<usize>, Bought)>, rng: &mut Rng) {
        match self.slip {
            Slip::Forgotten => {
                let feeds: Vec<usize> =
                    (0..FEEDS.len()).filter(|k| bought.iter().any(|b| b.0 == *k)).collect();
                let month = |_| rng.chance(0.2).then(|| feeds[rng.below(feeds.len())]);
                let lost: Vec<Option<usize>> = (0..=MONTHS).map(month).collect();
                bought.retain(|b| lost[self.month_of[b.2.day]] != Some(b.0));
            }
            Slip::Digit => {
                for b in bought.iter_mut().filter(|_| rng.chance(0.01)) {
                    b.2.kg *= 10;
                }
            }
            _ => {}
        }
    }
}

/// Files in the making.
struct Book {
    all: Vec<(&'static str, String)>,
}

impl Book {
    fn new() -> Self {
        let heads = [
            ("areas.csv", "name"),
            ("feeds.csv", "name"),
            ("members.csv", "number,name,area,sex,language,consent,joined_on"),
            ("farms.csv", "code,member,area,fodder_started_on"),
            ("animal_groups.csv", "code,farm,animal_class"),
            ("head_counts.csv", "animal_group,date,reason,head"),
            ("baseline_rations.csv", "animal_group,feed,kg_per_animal_day,recorded_on"),
            ("feed_purchases.csv", "farm,feed,date,kg,cost,animal_group"),
            ("other_costs.csv", "farm,date,category,amount"),
            (
                "milk_records.csv",
                "animal_group,date,session,litres,animals_in_milk,sold_litres,price_per_litre",
            ),
        ];
        let mut book = Self { all: heads.map(|(f, h)| (f, format!("{h}\n"))).to_vec() };
        for area in 0..AREAS {
            book.line("areas.csv", &format!("Ridge {area}"));
        }
        for (feed, _) in FEEDS {
            book.line("feeds.csv", feed);
        }
        book
    }

    fn line(&mut self, file: &str, line: &str) {
        let text = self.all.iter_mut().find(|f| f.0 == file).expect("a file");
        writeln!(text.1, "{line}").expect("text");
    }

    fn farm(&mut self, farm: &Farm) {
        let (code, area) = (&farm.code, farm.area);
        let on = |day: usize| first_day() + Days::new(day as u64);
        let joined = on(farm.from);
        let member = format!("M{code},Member {code},Ridge {area},female,en,yes,{joined}");
        self.line("members.csv", &member);
        let start = farm.start.map(|s| on(s.1).to_string()).unwrap_or_default();
        self.line("farms.csv", &format!("{code},M{code},Ridge {area},{start}"));
        for pen in &farm.pens {
            let group = format!("{code}-{}", CLASSES[pen.class]);
            self.line("animal_groups.csv", &format!("{group},{code},{}", CLASSES[pen.class]));
            let mut known = 0;
            for (day, head) in pen.head.iter().enumerate().skip(farm.from) {
                if *head != known {
                    self.line("head_counts.csv", &format!("{group},{},counted,{head}", on(day)));
                    known = *head;
                }
            }
            let stated = pen.stated.iter().zip(FEEDS).filter(|(kg, _)| **kg > 0.0);
            for (kg, (feed, _)) in stated {
                let line = format!("{group},{feed},{kg:.3},{}", on(farm.stated_on));
                self.line("baseline_rations.csv", &line);
            }
        }
        let months = farm.start.map_or(0..0, |s| s.0 + 1..MONTHS);
        for month in months {
            let day = on(days_before(month) + 20);
            self.line("other_costs.csv", &format!("{code},{day},labour,{LABOUR}"));
        }
    }

    fn purchases(&mut self, farm: &Farm, bought: &[(usize, Option<usize>, Bought)]) {
        for (feed, pen, b) in bought {
            let on = first_day() + Days::new(b.day as u64);
            let group = pen.map(|p| format!("{}-{}", farm.code, CLASSES[farm.pens[p].class]));
            let (code, group) = (&farm.code, group.unwrap_or_default());
            let line = format!("{code},{},{on},{},{},{group}", FEEDS[*feed].0, b.kg, b.cost);
            self.line("feed_purchases.csv", &line);
        }
    }

    fn files(self) -> Vec<(&'static str, String)> {
        self.all
    }
}
