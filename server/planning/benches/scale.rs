//! Prints how long plans, work lists and seed forecasts take for one farm and for many.
//!
//! `cargo bench -p traybook-planning` — information, nothing is asserted.

use chrono_tz::Africa::Dar_es_Salaam as ZONE;
use std::hint::black_box;
use std::time::Instant as Stopwatch;
use traybook_domain::planning::guide::Guide;
use traybook_domain::time::{LocalDays, at_local, local_date};
use traybook_domain::value::Instant;
use traybook_planning::forecast::{CROP_SLOTS, add, seed_need};
use traybook_planning::work::{Asked, Batch, LotStock, Out, Scene, Task};
use traybook_planning::{Day, Farm, Group, Learned, RestDays, Shed, Standards, date_of, day_of};
use uuid::Uuid;

const WEEKS: usize = 12;

/// A farm in full swing: cows, and on every third farm chickens that begin today.
fn scene(number: usize, today: Day) -> Scene {
    let id = |n: usize| Uuid::from_u128(u128::try_from(number * 1_000 + n).unwrap_or(0));
    let group = |n: usize, class: usize, head: i64| Group {
        id: id(n),
        code: format!("F{number}-{n}"),
        class,
        head: vec![(today - 400, head), (today + 30, head + 1)],
        settings: Vec::new(),
        crop: Some(number % 3),
        starts_on: None,
    };
    let cows = i64::try_from(number % 5 + 1).unwrap_or(1);
    let mut groups = vec![group(1, 0, cows)];
    if number.is_multiple_of(3) {
        groups.push(group(2, 6, 40 + cows * 10));
    }
    let mut rest = RestDays::default();
    if number.is_multiple_of(4) {
        rest.add_weekday(chrono::Weekday::Sun);
    }
    Scene {
        farm: Farm {
            sheds: vec![Shed { id: id(3), code: "S".into(), places: 60, load_g: None }],
            groups,
            rest,
            pauses: Vec::new(),
            started_on: Some(today - 300),
            learned: Some(Learned { fresh: vec![5.8; CROP_SLOTS], spoil: 0.05, sd: 0.12 }),
        },
        batches: (0..18).rev().map(|age| batch(number, cows, today, age)).collect(),
        recorded: Vec::new(),
        stock: vec![LotStock { lot: id(9), crop: number % 3, grams: 90_000 }],
    }
}

fn outs(trays: i64, harvested: Instant, fed: Instant) -> Vec<Out> {
    let grams = trays * 12_000;
    let out = |task, at, trays| Out { task, at, trays, grams: Some(grams) };
    vec![out(Task::Harvest, harvested, Some(trays)), out(Task::Feed, fed, None)]
}

/// A cow's batch of so many days ago.
fn batch(number: usize, cows: i64, today: Day, age: i32) -> Batch {
    let at = |day: Day, minutes| at_local(date_of(day), minutes, ZONE);
    let (soaked, spread, out) = (today - age, age >= 2, age >= 8);
    let trays = if spread { cows } else { 0 };
    let key = number * 1_000 + 100 + usize::try_from(age).unwrap_or(0);
    Batch {
        id: Uuid::from_u128(u128::try_from(key).unwrap_or(0)),
        code: None,
        group: Some(0),
        shed: 0,
        lot: None,
        crop: number % 3,
        age: None,
        soaked_at: at(soaked, 420),
        seed_g: cows * 2_000,
        planned: None,
        spread_at: spread.then(|| at(soaked + 2, 660)),
        spread: trays,
        outs: if out { outs(trays, at(soaked + 8, 420), at(soaked + 8, 480)) } else { Vec::new() },
        mould: false,
    }
}

fn best(mut run: impl FnMut()) -> f64 {
    let time = |_| {
        let begin = Stopwatch::now();
        run();
        begin.elapsed().as_secs_f64()
    };
    (0..5).map(time).fold(f64::INFINITY, f64::min)
}

fn sizes(of: &[Scene], run: impl Fn(&[Scene])) {
    for count in [1_000_u32, 10_000, 100_000] {
        let farms = of.get(..usize::try_from(count).unwrap_or(0)).unwrap_or(of);
        let took = best(|| run(farms));
        let each = took * 1e6 / f64::from(count);
        println!("  {count:>7} farms: {took:.4} s, {each:.2} µs a farm");
    }
}

fn main() {
    let date = chrono::NaiveDate::from_ymd_opt(2026, 3, 20).unwrap_or_default();
    let now: Instant = at_local(date, 480, ZONE);
    let today = day_of(local_date(now, ZONE));
    let standards = Standards::new(&Guide::default(), today, WEEKS * 7);
    let is_held = |_| false;
    let around = LocalDays::around(date, 40, 100, ZONE);
    let asked = Asked { standards: &standards, now, days: &around, is_held: &is_held };
    let scenes: Vec<Scene> = (0..100_000).map(|n| scene(n, today)).collect();
    let work = |of: &[Scene]| {
        let lines = |s: &Scene| s.work(today, &asked, &s.plan(&asked, 14)).len();
        black_box(of.iter().map(lines).sum::<usize>());
    };
    println!("plan of 14 days and work list of today (aim: 1 ms a farm)");
    let one = scenes.get(..1).unwrap_or(&scenes);
    println!("  one farm: {:.4} ms", best(|| work(one)) * 1e3);
    sizes(&scenes, work);
    println!("seed forecast of {WEEKS} weeks (aim: 0.5 s for 10,000 farms)");
    sizes(&scenes, |of| {
        let mut total = vec![vec![0; WEEKS * 7]; CROP_SLOTS];
        for scene in of {
            add(&mut total, &seed_need(scene, &asked, WEEKS * 7).need);
        }
        black_box(total);
    });
}
