//! Farms that lose trays and whose yields vary, day by day, under the plan that the server uses.

use std::collections::BTreeMap;
use traybook_domain::kinds::{ANIMAL_CLASSES, CROPS};
use traybook_domain::planning::guide::{Guide, GuideName};
use traybook_planning::learn::{SPOIL, SPOIL_TRAYS_MIN, learn_spoilage, learn_yield};
use traybook_planning::make_up::early;
use traybook_planning::plan::YOUNG_DAYS_MAX;
use traybook_planning::{
    Day, Farm, Feed, Group, Growing, Learned, Plan, RestDays, Shed, Short, Span, Standards, plan,
};
use uuid::Uuid;

/// The guide's yield and load, and the weight lost by a day's early harvest.
const GUIDE: f64 = 6.0;
const LOAD_G: i64 = 2_000;
const YOUNG: f64 = 0.12;

/// What happens to farms.
#[derive(Clone, Debug)]
pub struct World {
    pub farms: usize,
    pub days: i32,
    /// Share of trays that spoil, and their correlation within a batch.
    pub spoil: f64,
    pub rho: f64,
    /// Spread of a tray's yield, of a whole batch's and of farms', log scale.
    pub sd: f64,
    pub batch_sd: f64,
    pub tau: f64,
    /// Whether the plan learns; else it is exact.
    pub learns: bool,
    /// Places over those that the trays of a farm need.
    pub places: f64,
    /// The most on a tray, thousandths of a per cent.
    pub load_most: i64,
    /// Share of batches that are ready a day late.
    pub late: f64,
    /// Share of days on which a herd changes by a quarter.
    pub changes: f64,
    /// Whether cows and layers share a shed.
    pub groups: bool,
    /// Days of a hundred that may lack fodder, thousandths.
    pub short_days: i64,
    /// A rest day a week.
    pub rest: bool,
    /// Trays a day of every farm; several sizes where there is none.
    pub size: Option<f64>,
    /// Whether needs are drawn from one to eight trays, so that most are not whole trays.
    pub drawn: bool,
    /// Whether what is left of a harvest is fed on the next day.
    pub keeps: bool,
    pub seed: u64,
}

pub const USUAL: World = World {
    farms: 60,
    days: 400,
    spoil: 0.05,
    rho: 0.06,
    sd: 0.12,
    batch_sd: 0.0,
    tau: 0.0,
    learns: true,
    places: 3.0,
    load_most: 110_000,
    late: 0.0,
    changes: 0.0,
    groups: false,
    short_days: 33_000,
    rest: false,
    size: None,
    drawn: false,
    keeps: false,
    seed: 7,
};

/// What came of it, shares of all farms' days or needs.
#[derive(Clone, Copy, Debug, Default)]
pub struct Outcome {
    pub days: f64,
    /// Days on which any, more than a tenth, more than a quarter was missing.
    pub any: f64,
    pub tenth: f64,
    pub quarter: f64,
    pub need: f64,
    pub unmet: f64,
    pub wasted: f64,
    /// Seed soaked, and that of the need at the farm's true yield.
    pub seed: f64,
    pub least: f64,
    /// Nights on which more trays stood than there are places.
    pub over_full: usize,
    /// Trays fed over age, or more than two days young.
    pub wrong_age: usize,
}

impl Outcome {
    pub fn line(&self) -> String {
        let percent = |of: f64, all: f64| format!("{:.1}", 100.0 * of / all);
        format!(
            "{} | {} | {} | {} | {} | {:.2}",
            percent(self.any, self.days),
            percent(self.tenth, self.days),
            percent(self.quarter, self.days),
            percent(self.unmet, self.need),
            percent(self.wasted, self.need),
            self.seed / self.least
        )
    }

    fn add(&mut self, o: &Self) {
        self.days += o.days;
        self.any += o.any;
        self.tenth += o.tenth;
        self.quarter += o.quarter;
        self.need += o.need;
        self.unmet += o.unmet;
        self.wasted += o.wasted;
        self.seed += o.seed;
        self.least += o.least;
        self.over_full += o.over_full;
        self.wrong_age += o.wrong_age;
    }
}

/// Splitmix64.
pub struct Random(pub u64);

impl Random {
    pub fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        let (a, b) = (self.uniform().max(1e-300), self.uniform());
        (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }
}

/// Trays soaked together that have not been harvested or thrown away.
#[derive(Clone, Debug)]
struct Stand {
    group: usize,
    soaked_on: Day,
    spread_on: Day,
    feed_on: Day,
    /// Day on which it is ready: `feed_on`, or the day after.
    ready_on: Day,
    planned: i64,
    /// Day on which each tray is seen to be spoiled, and its yield.
    trays: Vec<(Option<Day>, f64)>,
    seed_each: f64,
    lost: usize,
}

/// A farm in the simulation.
pub struct Simulated {
    pub farm: Farm,
    fresh: f64,
    /// What each group left of yesterday's harvest.
    left: Vec<f64>,
    stands: Vec<Stand>,
    random: Random,
    /// Yields of harvests brought to full age, and trays begun and lost, with their days.
    harvests: Vec<(Day, f64)>,
    batches: Vec<(Day, f64, f64)>,
    pub out: Outcome,
}

pub const FIRST: Day = 739_000;
/// Days before anything is counted: the ramp.
const RAMP: Day = 10;

fn class(name: &str) -> usize {
    ANIMAL_CLASSES.iter().position(|c| *c == name).expect("a class")
}

/// Animals that a tray feeds by the guide.
fn a_tray(name: &str) -> f64 {
    match name {
        "layers" => 100.0,
        "goats" => 7.0,
        _ => 1.0,
    }
}

/// A group of so many trays a day.
fn herd(name: &str, trays: f64) -> Group {
    let each = a_tray(name);
    Group {
        id: Uuid::nil(),
        code: name.to_owned(),
        class: class(name),
        head: vec![(i32::MIN, ((trays * each).round() as i64).max(1))],
        settings: Vec::new(),
        crop: Some(0),
        starts_on: None,
    }
}

const SIZES: [f64; 10] = [1.0, 1.4, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0];

impl Simulated {
    pub fn new(number: usize, world: &World) -> Self {
        let mut random = Random(world.seed.wrapping_mul(1_000_003) ^ number as u64);
        random.uniform();
        let size = world.size.unwrap_or(SIZES[number % SIZES.len()]);
        let size = if world.drawn { 1.0 + 7.0 * random.uniform() } else { size };
        // Fewer than a whole tray of layers are told in birds; cows come whole.
        let is_layers = number % 3 == 1 || (size.fract() > 0.0 && !world.drawn);
        let others = if world.drawn { "goats" } else { "dairy_cows" };
        let mut groups = vec![herd(if is_layers { "layers" } else { others }, size)];
        if world.groups {
            groups.push(herd(if is_layers { "dairy_cows" } else { "layers" }, (size / 2.0).ceil()));
        }
        let nights = |g: &Group| if g.code == "layers" { 2.0 } else { 6.0 };
        let trays = |g: &Group| (g.head[0].1 as f64 / a_tray(&g.code)).ceil();
        let needed: f64 = groups.iter().map(|g| trays(g) * nights(g)).sum();
        let places = (needed * world.places).round() as i64;
        let mut rest = RestDays::default();
        if world.rest {
            rest.weekdays[6] = true;
        }
        let groups_len = groups.len();
        let farm = Farm {
            sheds: vec![Shed { id: Uuid::nil(), code: String::new(), places, load_g: None }],
            groups,
            rest,
            started_on: Some(FIRST),
            learned: world.learns.then(|| Learned {
                fresh: vec![GUIDE; CROPS.len() + 1],
                spoil: SPOIL,
                sd: 0.12,
            }),
            ..Farm::default()
        };
        let fresh = GUIDE * (world.tau * random.normal()).exp();
        let (left, stands) = (vec![0.0; groups_len], Vec::new());
        let (harvests, batches) = (Vec::new(), Vec::new());
        Self { farm, fresh, left, stands, random, harvests, batches, out: Outcome::default() }
    }

    fn growing(&self, today: Day) -> Vec<Growing> {
        let of = |s: &Stand| {
            let left = s.trays.len() as i64;
            let is_over = s.feed_on < today;
            Growing {
                group: Some(s.group),
                shed: 0,
                crop: Some(0),
                soaked_on: s.soaked_on,
                spread_on: s.spread_on,
                feed_on: if is_over { today + 1 } else { s.feed_on },
                trays: left,
                seed_g: if is_over { 0 } else { (left as f64 * s.seed_each).round() as i64 },
            }
        };
        self.stands.iter().filter(|s| !s.trays.is_empty()).map(of).collect()
    }

    pub fn soak(&mut self, world: &World, standards: &Standards, today: Day) -> Plan {
        for group in &mut self.farm.groups {
            if self.random.uniform() < world.changes {
                let start = group.head[0].1 as f64;
                let to = if self.random.uniform() < 0.5 { 1.25 } else { 0.75 };
                group.head.push((today, ((start * to).round() as i64).max(1)));
            }
        }
        let growing = self.growing(today);
        let made = plan(&self.farm, standards, &growing, Span { first: today, days: 1 });
        for soak in made.soaks.iter().filter(|s| s.day == today) {
            let (a, b) = match world.spoil {
                p if p > 0.0 => {
                    (p * (1.0 - world.rho) / world.rho, (1.0 - p) * (1.0 - world.rho) / world.rho)
                }
                _ => (0.0, 1.0),
            };
            let of_batch = self.fresh * (world.batch_sd * self.random.normal()).exp();
            let (mut lost, mut trays) = (0.0, Vec::new());
            for k in 0..soak.trays {
                // One urn a batch: trays of a batch spoil together.
                let spoils = self.random.uniform() < (a + lost) / (a + b + k as f64);
                lost += f64::from(u8::from(spoils));
                let span = f64::from(soak.feed_on - soak.spread_on + 1);
                let on = soak.spread_on + (self.random.uniform() * span) as i32;
                let fresh = of_batch * (world.sd * self.random.normal()).exp();
                trays.push((spoils.then_some(on), fresh));
            }
            let is_late = self.random.uniform() < world.late;
            if (FIRST + RAMP..FIRST + world.days).contains(&soak.feed_on) {
                self.out.seed += soak.seed_g as f64;
            }
            self.stands.push(Stand {
                group: soak.group,
                soaked_on: today,
                spread_on: soak.spread_on,
                feed_on: soak.feed_on,
                ready_on: soak.feed_on + i32::from(is_late),
                planned: soak.trays,
                trays,
                seed_each: soak.seed_g as f64 / soak.trays as f64,
                lost: 0,
            });
        }
        made
    }

    /// Trays that are seen to be spoiled are thrown away at once.
    pub fn look(&mut self, today: Day) {
        for stand in &mut self.stands {
            let before = stand.trays.len();
            stand.trays.retain(|t| t.0.is_none_or(|on| on > today));
            stand.lost += before - stand.trays.len();
        }
    }

    /// Trays are spread on the places that there are, each with some more seed where they are few.
    pub fn spread(&mut self, world: &World, today: Day) {
        let most = LOAD_G as f64 * world.load_most as f64 / 100_000.0;
        let mut free = self.farm.sheds[0].places;
        let stood = |s: &&Stand| s.spread_on < today;
        free -= self.stands.iter().filter(stood).map(|s| s.trays.len() as i64).sum::<i64>();
        for stand in self.stands.iter_mut().filter(|s| s.spread_on == today) {
            let count = (stand.trays.len() as i64).min(free.max(0));
            if count < stand.trays.len() as i64 {
                let all = stand.trays.len() as f64 * stand.seed_each;
                stand.seed_each = (all / count.max(1) as f64).min(most);
                stand.trays.truncate(usize::try_from(count).expect("trays"));
            }
            free -= count;
        }
    }

    /// Spoils a tray that is due in so many days.
    pub fn lose_one(&mut self, today: Day, due_in: i32) {
        let of = self.stands.iter_mut().find(|s| s.feed_on == today + due_in);
        of.expect("a batch").trays.pop().expect("a tray");
    }

    fn harvest(&mut self, at: usize, count: usize, today: Day) -> f64 {
        let stand = &mut self.stands[at];
        let early = f64::from((stand.feed_on - today).max(0));
        self.out.wrong_age +=
            usize::from(today > stand.ready_on || early > f64::from(YOUNG_DAYS_MAX));
        let taken = stand.trays.split_off(stand.trays.len() - count);
        let fresh: f64 = taken.iter().map(|t| t.1).sum();
        self.harvests.push((today, fresh / count as f64));
        stand.seed_each * fresh * (1.0 - YOUNG * early)
    }

    pub fn feed(&mut self, world: &World, standards: &Standards, made: &Plan, today: Day) {
        for group in 0..self.farm.groups.len() {
            let of = &self.farm.groups[group];
            let per_tray = standards.per_tray_milli(of.class, today) as f64 / 1_000.0;
            let head = of.head_on(today).unwrap_or(0) as f64;
            let need = head / per_tray * LOAD_G as f64 * GUIDE;
            let due: Vec<usize> = (0..self.stands.len())
                .filter(|at| {
                    let s = &self.stands[*at];
                    s.group == group && s.ready_on <= today && !s.trays.is_empty()
                })
                .collect();
            let mut got = 0.0;
            for at in due {
                let count = self.stands[at].trays.len();
                got += self.harvest(at, count, today);
            }
            let is_fed = |f: &&Feed| {
                (f.day, f.group) == (today, group) && f.short != Some(Short::BeforeFirstHarvest)
            };
            let has_capacity = made.sheds[0].places_missing == 0;
            if world.learns && has_capacity && made.feeds.iter().any(|f| is_fed(&f)) {
                got += self.make_up(group, (need, got, self.left[group]), today);
            }
            // What was left is eaten first; what is left of it again is thrown away.
            let old = if world.keeps { self.left[group] } else { 0.0 };
            self.left[group] = if world.keeps { (got + old - need).clamp(0.0, got) } else { 0.0 };
            let wasted = if world.keeps { (old - need).max(0.0) } else { (got - need).max(0.0) };
            let got = got + old;
            if today < FIRST + RAMP {
                continue;
            }
            let missing = (need - got).max(0.0);
            let day = |is: bool| f64::from(u8::from(is));
            self.out.add(&Outcome {
                days: 1.0,
                any: day(missing > 1e-6 * need),
                tenth: day(missing > 0.1 * need),
                quarter: day(missing > 0.25 * need),
                need,
                unmet: missing,
                wasted,
                least: need / self.fresh,
                ..Outcome::default()
            });
        }
    }

    fn make_up(&mut self, group: usize, (need, got, left): (f64, f64, f64), today: Day) -> f64 {
        let yield_of = self.farm.learned.as_ref().expect("learned").fresh[0];
        let mut trays: Vec<(i32, f64, usize)> = Vec::new();
        for (at, s) in self.stands.iter().enumerate() {
            let early = s.feed_on - today;
            if s.group == group && (1..=YOUNG_DAYS_MAX).contains(&early) && s.spread_on < today {
                let kg = s.seed_each * yield_of * (1.0 - YOUNG * f64::from(early));
                trays.extend(s.trays.iter().map(|_| (early, kg, at)));
            }
        }
        trays.sort_by_key(|t| t.0);
        let those: Vec<(i32, f64)> = trays.iter().map(|t| (t.0, t.1)).collect();
        // As on the list of work: all trays but the last, weighed; then it is asked again.
        let (mut more, mut from) = (0.0, 0);
        loop {
            let taken = early(need, got + more, left, &those[from..], YOUNG_DAYS_MAX);
            let Some(last) = taken.last().copied() else { return more };
            more += taken.iter().map(|i| self.harvest(trays[from + i].2, 1, today)).sum::<f64>();
            from += last + 1;
        }
    }

    pub fn night(&mut self, today: Day) {
        let standing: usize =
            self.stands.iter().filter(|s| s.spread_on <= today).map(|s| s.trays.len()).sum();
        self.out.over_full += usize::from(standing as i64 > self.farm.sheds[0].places);
        for stand in self.stands.iter().filter(|s| s.trays.is_empty()) {
            self.batches.push((today, stand.planned as f64, stand.lost as f64));
        }
        self.stands.retain(|s| !s.trays.is_empty());
    }
}

/// What all farms have recorded in the last half year teaches each of them.
fn learn(farms: &mut [Simulated], today: Day) {
    let values: BTreeMap<usize, Vec<f64>> = farms
        .iter()
        .enumerate()
        .map(|(at, f)| {
            (at, f.harvests.iter().filter(|(d, _)| *d > today - 180).map(|h| h.1).collect())
        })
        .collect();
    let yields = learn_yield(&values, GUIDE);
    let batches = |f: &Simulated| -> Vec<(f64, f64)> {
        f.batches.iter().filter(|(d, ..)| *d > today - 180).map(|(_, n, d)| (*n, *d)).collect()
    };
    let (mut all, mut lost) = (0.0, 0.0);
    for (n, d) in farms.iter().flat_map(&batches) {
        (all, lost) = (all + n, lost + d);
    }
    let usual = if all < SPOIL_TRAYS_MIN as f64 { SPOIL } else { lost / all };
    for (at, farm) in farms.iter_mut().enumerate() {
        let spoil = learn_spoilage(&batches(farm), 0.05, usual);
        if let Some(learned) = &mut farm.farm.learned {
            learned.fresh.fill(yields.farms[&at]);
            (learned.spoil, learned.sd) = (spoil, yields.sd);
        }
    }
}

/// The growing guide of a world, laid out.
pub fn standards(world: &World) -> Standards {
    let of = |name, value| traybook_domain::planning::guide::GuideEntry {
        name,
        class: None,
        valid_from: chrono::NaiveDate::from_ymd_opt(2000, 1, 1).expect("a day"),
        value,
    };
    let guide = Guide::new(vec![
        of(GuideName::TrayMostPercent, world.load_most),
        of(GuideName::ShortDaysPercent, world.short_days),
    ]);
    Standards::new(&guide, FIRST, usize::try_from(world.days).expect("days"))
}

/// Runs a world to its end.
pub fn simulate(world: &World) -> Outcome {
    let standards = standards(world);
    let mut farms: Vec<Simulated> =
        (0..world.farms).map(|number| Simulated::new(number, world)).collect();
    for today in FIRST..FIRST + world.days {
        if world.learns && (today - FIRST) % 7 == 6 {
            learn(&mut farms, today);
        }
        for farm in &mut farms {
            farm.look(today);
            let made = farm.soak(world, &standards, today);
            farm.feed(world, &standards, &made, today);
            farm.spread(world, today);
            farm.night(today);
        }
    }
    let mut all = Outcome::default();
    for farm in &farms {
        all.add(&farm.out);
    }
    all
}
