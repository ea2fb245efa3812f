//! How often the served program flags a farm where nothing is wrong, and how soon one where trays
//! begin to spoil: a table by size of batch.
//!
//! `cargo run --release -p acceptance --example flags_served -- CLEAN RISING [SEED]`: farms of each size
//! where nothing is wrong, and of each size and share whose losses rise.

use acceptance::growers::{Grower, GrowersServed, Size};
use acceptance::{Db, World};
use std::time::Instant;

const SIZES: [Size; 8] = [(1, 7), (1, 2), (1, 1), (3, 7), (3, 1), (8, 7), (8, 1), (20, 7)];
const RISES: [f64; 3] = [0.10, 0.15, 0.20];

fn main() {
    let args: Vec<u64> = std::env::args().skip(1).map(|a| a.parse().expect("numbers")).collect();
    let number = |at: usize, usual: u64| args.get(at).copied().unwrap_or(usual);
    let (clean, rising, seed) = (number(0, 20), number(1, 5), number(2, 1));
    let mut growers = Vec::new();
    for size in SIZES {
        growers.extend((0..clean).map(|_| Grower { size, rises_to: None }));
        for share in RISES {
            growers.extend((0..rising).map(|_| Grower { size, rises_to: Some(share) }));
        }
    }
    let begun = Instant::now();
    let w = World::start(Db::sqlite());
    let served = GrowersServed::run(&w, &format!("flags{seed}"), seed, growers);
    eprintln!("{:.0?}; {} % are accepted", begun.elapsed(), served.accepted_percent());
    println!(
        "| trays a batch, days between | false flags in 100 farm-years | rise to 10 %: flagged within 90 days | to 15 % | to 20 % |"
    );
    println!("|---|---|---|---|---|");
    let all = served.flags();
    for (trays, every) in SIZES {
        let count = all.get(&(trays, every)).cloned().unwrap_or_default();
        let (farms, flags) = count.clean;
        let rate = 100.0 * f64::from(flags) / f64::from(farms.max(1));
        print!("| {trays}, {every} | {rate:.1} ({flags} on {farms}) |");
        for (found, of) in count.rises.values().map(|(of, found)| (found, of)) {
            print!(" {:.0} % of {of} |", 100.0 * f64::from(*found) / f64::from((*of).max(1)));
        }
        println!();
    }
    let sum = all.values().fold((0, 0), |sum, c| (sum.0 + c.clean.0, sum.1 + c.clean.1));
    println!("{} flags on {} farm-years where nothing is wrong", sum.1, sum.0);
}
