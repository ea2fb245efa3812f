//! How often the spoilage chart is wrong, and how soon it is right, by size of batch: a table.
//!
//! `cargo run --release -p traybook-analytics --example flags`

use traybook_analytics::spoilage::{Batch, Charter, Shared};
use traybook_analytics::trial::SplitMix64;

const FARM_YEARS: usize = 2_000;
const FARMS: usize = 400;
/// Day on which the rise begins.
const RISES_ON: i32 = 100;

/// Discards of a batch with correlation 0.05 between trays: beta-binomial by urn.
fn discards(numbers: &mut SplitMix64, trays: u32, share: f64) -> u32 {
    let s = 0.95 / 0.05;
    let mut discards = 0;
    for tray in 0..trays {
        let unit = (numbers.draw() >> 11) as f64 / (1_u64 << 53) as f64;
        discards += u32::from(unit < (share * s + f64::from(discards)) / (s + f64::from(tray)));
    }
    discards
}

fn year(numbers: &mut SplitMix64, trays: u32, every: usize, share: f64) -> Vec<Batch> {
    let batch = |day: i32| {
        let share = if day >= RISES_ON { share } else { 0.04 };
        Batch {
            day,
            started: trays,
            discarded: discards(numbers, trays, share),
            lot: None,
            temperature_class: None,
        }
    };
    (0..365).step_by(every).map(batch).collect()
}

fn main() {
    println!(
        "| trays a batch, days between | false flags in 100 farm-years | rise to 10 %: flagged within 90 days | to 15 % | to 20 % |"
    );
    println!("|---|---|---|---|---|");
    for (trays, every) in [(1, 7), (1, 2), (1, 1), (3, 7), (3, 1), (8, 7), (8, 1), (20, 7)] {
        let mut numbers = SplitMix64::new(u64::from(trays) * 1_000 + every as u64);
        let shared = Shared {
            correlation: 0.05,
            serial: 0.0,
            share_ok: 0.04,
            class_multipliers: Vec::new(),
        };
        let mut charter = Charter::new(&shared);
        let onsets: usize = (0..FARM_YEARS)
            .map(|_| {
                let batches = year(&mut numbers, trays, every, 0.04);
                charter.chart(&batches, |_| Some(1.0), 364).onsets
            })
            .sum();
        print!("| {trays}, {every} | {:.1} |", 100.0 * onsets as f64 / FARM_YEARS as f64);
        for share in [0.10, 0.15, 0.20] {
            let found = (0..FARMS).filter(|_| {
                let batches = year(&mut numbers, trays, every, share);
                let chart = charter.chart(&batches, |_| Some(1.0), 364);
                let day = chart.flagged_first.map(|k| batches[k].day);
                day.is_some_and(|day| (RISES_ON..RISES_ON + 90).contains(&day))
            });
            print!(" {:.0} % |", 100.0 * found.count() as f64 / FARMS as f64);
        }
        println!();
    }
}
