//! Prints how long each question takes for 1,000, 10,000 and 100,000 farms, and how that
//! compares with the reference implementation, where it has that question, when `python3` with numpy and scipy is there.
//!
//! `cargo bench -p traybook-analytics` — information, nothing is asserted. With `-- A B` only those
//! questions.

use std::process::Command;
use std::time::Instant;

use traybook_analytics::callaway::{Control, group_times};
use traybook_analytics::eaten::{self, Purchase, Series, month_use, spread};
use traybook_analytics::feed_saving::{self, FeedSavings, Months, SavingPanel};
use traybook_analytics::member_effect::{Background, MemberRules, member_effects};
use traybook_analytics::panel::Panel;
use traybook_analytics::spoilage::{Batch, spoilage};
use traybook_analytics::why::{WhyBatch, WhyRules, why};

const MONTHS: usize = 36;
const BATCHES: usize = 100;
const FEEDS: usize = 4;
const SIZES: [usize; 3] = [1_000, 10_000, 100_000];

/// Question, seconds for a number of farms, and the largest size the reference is asked for.
type Question = (&'static str, &'static str, fn(usize) -> Option<f64>, usize);

fn main() {
    let questions: [Question; 4] = [
        ("A", "output change, 36 months", output_change, 10_000),
        ("B", "spoilage, 100 batches", spoilage_charts, 0),
        ("C", "feed saving, 36 months, 4 feeds", panel_savings, 1_000),
        ("S", "purchases of 36 months spread, 4 feeds", spread_purchases, 100),
    ];
    let asked: Vec<String> = std::env::args().skip(1).filter(|a| !a.starts_with('-')).collect();
    let is_asked = |name: &str| asked.is_empty() || asked.iter().any(|a| a == name);
    for (name, text, run, reference_size) in questions {
        if !is_asked(name) {
            continue;
        }
        println!("{name}: {text}");
        let mut last = None;
        for farms in SIZES {
            let Some(seconds) = best_of_three(run, farms) else {
                println!("  {farms:>7} farms: no answer");
                continue;
            };
            let growth = last.map_or(String::new(), |s: f64| format!(", {:.1} times", seconds / s));
            println!("  {farms:>7} farms: {seconds:.4} s{growth}");
            last = Some(seconds);
        }
        if let Some(slow) = reference_seconds(name, reference_size)
            && let Some(fast) = best_of_three(run, reference_size)
        {
            let ratio = slow / fast;
            println!("  reference, {reference_size} farms: {slow:.2} s, {ratio:.0} times as long");
        } else {
            println!("  reference: not run (needs python3 with numpy and scipy)");
        }
    }
    if is_asked("why")
        && let Some(seconds) = best_of_three(conditions, 200)
    {
        println!("why: 22 conditions of 200 farms with {BATCHES} batches: {seconds:.4} s");
    }
    if is_asked("sums")
        && let Some(seconds) = best_of_three(area_totals, 2_000)
    {
        println!("360 sums (10 areas, 36 months) over 2,000 farms: {seconds:.4} s");
    }
    if let Some(peak) = peak_memory() {
        println!("peak memory of all runs, inputs included: {peak}");
    }
}

fn best_of_three(run: fn(usize) -> Option<f64>, farms: usize) -> Option<f64> {
    (0..3).filter_map(|_| run(farms)).reduce(f64::min)
}

fn reference_seconds(name: &str, farms: usize) -> Option<f64> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/benches");
    let mut command = Command::new("python3");
    command.current_dir(folder).args(["-B", "time_reference.py", name, &farms.to_string()]);
    let output = command.output().ok()?;
    String::from_utf8(output.stdout).ok()?.trim().parse().ok()
}

fn peak_memory() -> Option<String> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    Some(line.trim_start_matches("VmHWM:").trim().to_owned())
}

/// Numbers that look random and are the same every time (SplitMix64, Steele et al. 2014).
struct Numbers(u64);

impl Numbers {
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    fn noise(&mut self) -> f64 {
        (0..4).map(|_| self.between(-1.0, 1.0)).sum::<f64>() * 0.866
    }

    /// About 0.8 of the farms start between months 6 and 33.
    fn start(&mut self) -> Option<u32> {
        let g = self.between(6.0, 42.0) as u32;
        (g < 34).then_some(g)
    }
}

fn output_change(farms: usize) -> Option<f64> {
    let mut numbers = Numbers(1);
    let start: Vec<Option<u32>> = (0..farms).map(|_| numbers.start()).collect();
    let (mut y, mut n) = (Vec::new(), Vec::new());
    for _ in 0..farms {
        let level = 2.0 + 0.3 * numbers.noise();
        for _ in 0..MONTHS {
            let is_missing = numbers.unit() < 0.1;
            n.push(if is_missing { 0.0 } else { numbers.between(2.0, 20.0).floor() });
            y.push(if is_missing { f64::NAN } else { level + 0.1 * numbers.noise() });
        }
    }
    let panel = Panel::new(MONTHS, &y, &n, &start, None).ok()?;
    let clock = Instant::now();
    let effects = member_effects(&panel, &MemberRules::default(), &Background::default());
    effects.programme.as_ref()?;
    let times = group_times(&panel, Control::NotYetStarted);
    times.simple(1)?;
    times.dynamic(1).overall?;
    Some(clock.elapsed().as_secs_f64())
}

/// A co-operative's batches, one each third day; of every eight farms grow the same lots.
fn grown(farms: usize) -> Vec<Vec<Batch>> {
    let mut numbers = Numbers(2);
    let mut farm = |farm: usize| -> Vec<Batch> {
        let usual = numbers.between(1.0, 24.0) as u32;
        let mut batch = |k: usize| {
            let started = usual + u32::from(numbers.unit() < 0.2);
            let share = 0.15 * numbers.unit() * numbers.unit();
            let discarded = (0..started).filter(|_| numbers.unit() < share).count() as u32;
            let lot = Some((farm / 8 * 8 + k / 12) as u32);
            Batch { day: 3 * k as i32, started, discarded, lot, temperature_class: None }
        };
        (0..BATCHES).map(&mut batch).collect()
    };
    (0..farms).map(&mut farm).collect()
}

fn spoilage_charts(farms: usize) -> Option<f64> {
    let farms = grown(farms);
    let clock = Instant::now();
    let answer = spoilage(&farms, 3 * BATCHES as i32);
    let seconds = clock.elapsed().as_secs_f64();
    (answer.farms.len() == farms.len()).then_some(seconds)
}

/// Twenty-two conditions of all batches of some farms.
fn conditions(farms: usize) -> Option<f64> {
    let grown = grown(farms);
    let mut numbers = Numbers(3);
    let (mut batches, mut columns) = (Vec::new(), vec![Vec::new(); 22]);
    for (farm, b) in grown.iter().enumerate().flat_map(|(k, f)| f.iter().map(move |b| (k, b))) {
        let farm = farm as u32;
        batches.push(WhyBatch { farm, started: b.started, discarded: b.discarded });
        for column in &mut columns {
            column.push((numbers.unit() < 0.9).then(|| numbers.unit() < 0.4));
        }
    }
    let clock = Instant::now();
    why(&batches, &columns, 0.05, &WhyRules::default()).fit?;
    Some(clock.elapsed().as_secs_f64())
}

/// A panel, and the seconds its savings took.
fn panel_of(farms: usize) -> Option<(FeedSavings, Vec<u32>, f64)> {
    let mut numbers = Numbers(4);
    let start: Vec<Option<u32>> = (0..farms).map(|_| numbers.start()).collect();
    let cells = farms * MONTHS;
    let (mut kg, mut price, mut days) = (vec![], vec![], vec![]);
    let mut ration = Vec::with_capacity(farms * FEEDS);
    for _ in 0..farms {
        let herd = numbers.between(2.0, 12.0).floor() * 30.4;
        days.extend(vec![herd; MONTHS]);
        for _ in 0..FEEDS {
            let rate = numbers.between(0.5, 2.0);
            ration.push(rate * (1.1 + 0.1 * numbers.noise()));
            kg.extend((0..MONTHS).map(|_| herd * rate * (1.0 + 0.1 * numbers.noise())));
            price.extend((0..MONTHS).map(|_| numbers.between(0.3, 0.8)));
        }
    }
    let known: Vec<bool> = (0..cells).map(|_| numbers.unit() > 0.1).collect();
    let share: Vec<f64> = (0..cells).map(|_| 0.0).collect();
    let area: Vec<u32> = (0..farms).map(|_| numbers.between(0.0, 10.0) as u32).collect();
    let ration_month: Vec<Option<u32>> = vec![Some(5); farms];
    let panel = SavingPanel {
        feeds: FEEDS,
        months: MONTHS,
        kg: &kg,
        price: &price,
        animal_days: &days,
        is_known: &known,
        mixed_share: &share,
        open_share: Some(&share),
        start: &start,
        ration: Some(&ration),
        ration_month: &ration_month,
        area: Some(&area),
        ..SavingPanel::default()
    };
    let clock = Instant::now();
    let savings = feed_saving::feed_saving(&panel, &feed_saving::Rules::default()).ok()?;
    let seconds = clock.elapsed().as_secs_f64();
    Some((savings, area, seconds))
}

fn panel_savings(farms: usize) -> Option<f64> {
    let (savings, _, seconds) = panel_of(farms)?;
    let clock = Instant::now();
    let total = savings.total(&vec![true; farms], Months::All);
    (total.rows > 0).then(|| seconds + clock.elapsed().as_secs_f64())
}

fn area_totals(farms: usize) -> Option<f64> {
    let (savings, area, _) = panel_of(farms)?;
    let clock = Instant::now();
    let mut rows = 0;
    for chosen in 0..10 {
        let is_in: Vec<bool> = area.iter().map(|a| *a == chosen).collect();
        for month in 0..MONTHS {
            let months: Vec<bool> = (0..MONTHS).map(|t| t == month).collect();
            rows += savings.total(&is_in, Months::Same(&months)).rows;
        }
    }
    (rows > 0).then(|| clock.elapsed().as_secs_f64())
}

/// A purchase about every 30 days, of each feed.
fn spread_purchases(farms: usize) -> Option<f64> {
    let mut numbers = Numbers(5);
    let as_of = 30 * MONTHS as i32;
    let animal_days: Vec<f64> = (0..=as_of).map(|d| 4.0 * f64::from(d)).collect();
    let month_starts: Vec<i32> = (0..=MONTHS as i32).map(|m| 30 * m).collect();
    let mut series = || -> Vec<Purchase> {
        let mut day = numbers.between(0.0, 30.0);
        std::iter::from_fn(|| {
            day += numbers.between(20.0, 40.0);
            let kg = numbers.between(90.0, 140.0);
            let cost = 0.7 * kg;
            let day = day as i32;
            let bought = Purchase { day, kg, cost, median: Some(0.7), is_accepted: false };
            (day < as_of).then_some(bought)
        })
        .collect()
    };
    let all: Vec<Vec<Purchase>> = (0..4_000).map(|_| series()).collect();
    let rules = eaten::Rules::default();
    let clock = Instant::now();
    let mut covered = 0.0;
    for purchases in all.iter().cycle().take(farms * FEEDS) {
        let series =
            Series { purchases, counts: &[], animal_days: &animal_days, start: Some(500), as_of };
        let pieces = spread(&series, &rules).pieces;
        let months = month_use(&pieces, &animal_days, &month_starts, series.start);
        covered += months.iter().map(|m| m.covered).sum::<f64>();
    }
    (covered > 0.0).then(|| clock.elapsed().as_secs_f64())
}
