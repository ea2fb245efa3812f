//! What the served change in output says beside the truth: the table of many seeds.
//!
//! `cargo run --release -p acceptance --example herds -- SEEDS FARMS [FIRST]`.

use acceptance::herds::{Care, FIELD, herds};
use acceptance::herds_served::{Count, enter_herds, share};
use acceptance::{Db, World};
use std::time::Instant;

fn main() {
    let args: Vec<u64> = std::env::args().skip(1).map(|a| a.parse().expect("numbers")).collect();
    let seeds = args.first().copied().unwrap_or(4);
    let farms = usize::try_from(args.get(1).copied().unwrap_or(60)).expect("a number of farms");
    let first = args.get(2).copied().unwrap_or(1);
    let careful = Care { slips: 0.0, changes: 0.0, stage: 1.0 };
    println!(
        "| people | kind | member intervals | wrong of said | said | programme | changes caught | held without reason |"
    );
    println!("|---|---|---|---|---|---|---|---|");
    for (name, care) in [("careful", careful), ("field", FIELD)] {
        let (mut milk, mut eggs) = (Count::default(), Count::default());
        let w = World::start(Db::sqlite());
        for seed in first..first + seeds {
            let begun = Instant::now();
            let made = herds(seed, farms, care);
            let there = enter_herds(&w, &format!("{name}{seed}"), &made);
            milk.add(&there.beside(&made.herds, true));
            eggs.add(&there.beside(&made.herds, false));
            eprintln!("{seed} {name}: {:.1?}", begun.elapsed());
        }
        for (kind, count) in [("milk", &milk), ("eggs", &eggs)] {
            println!(
                "| {name} | {kind} | {:.1} % of {} | {:.1} % | {} | {:.1} % | {} of {} | {:.1} % |",
                share(count.members),
                count.members.1,
                share(count.wrong),
                count.wrong.1,
                share(count.programme),
                count.caught.0,
                count.caught.1,
                share(count.held)
            );
            eprintln!("{:?}", count.statuses);
        }
    }
}
