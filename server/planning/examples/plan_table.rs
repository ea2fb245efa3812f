//! Prints what the plan under noise gives in the simulator of the tests, as in `NOTES.md`.
//!
//! `cargo run --release -p traybook-planning --example plan_table`
#![expect(clippy::expect_used, reason = "a simulation stops at the first thing that is not there")]

#[expect(dead_code, reason = "one test spoils a single tray")]
#[path = "../tests/planning/simulator.rs"]
mod simulator;

use simulator::{USUAL, World, simulate};

fn row(name: &str, world: &World) {
    let out = simulate(world);
    let shed = if out.over_full == 0 && out.wrong_age == 0 { "" } else { " (places or ages!)" };
    println!("| {name}{shed} | {} |", out.line());
}

fn main() {
    let usual = || USUAL.clone();
    let apart = || World { tau: 0.12, sd: 0.0, batch_sd: 0.12, ..usual() };
    println!("| | short | > 10 % | > 25 % | unmet | wasted | seed |");
    println!("|---|---|---|---|---|---|---|");
    row("exact plan", &World { learns: false, ..usual() });
    row("plan under noise", &usual());
    row("the same without noise", &World { spoil: 0.0, sd: 0.0, ..usual() });
    row("places for exact trays, load up to 1.1", &World { places: 1.0, ..usual() });
    row("the same, load up to 1.0", &World { places: 1.0, load_most: 100_000, ..usual() });
    row("needs that are not whole trays", &World { drawn: true, ..usual() });
    row("the same, places for exact trays", &World { drawn: true, places: 1.0, ..usual() });
    for size in [1.0, 2.0, 3.0, 4.0, 6.0, 8.0] {
        let world = World { size: Some(size), places: 1.0, ..usual() };
        row(&format!("{size} trays a day, places for exact trays"), &world);
    }
    row("a third more places", &World { places: 1.33, ..usual() });
    row("spoilage 10 %", &World { spoil: 0.10, ..usual() });
    row("trays vary by 20 %", &World { sd: 0.20, ..usual() });
    row("farms and whole batches vary by 12 %", &apart());
    row("the same, exact plan", &World { learns: false, ..apart() });
    row("5 % of batches ready a day late", &World { late: 0.05, ..usual() });
    row("the same, exact plan", &World { late: 0.05, learns: false, ..usual() });
    row("herds change by a quarter, every 100 days", &World { changes: 0.01, ..usual() });
    row("the same, exact plan", &World { changes: 0.01, learns: false, ..usual() });
    row("cows and layers in one shed", &World { groups: true, ..usual() });
    row("the same, exact plan", &World { groups: true, learns: false, ..usual() });
    row("a rest day a week", &World { rest: true, ..usual() });
    row("what is left is fed on the next day", &World { keeps: true, ..usual() });
    for size in [0.6, 1.0, 1.4, 2.0, 3.0, 4.0, 6.0, 8.0] {
        row(&format!("{size} trays a day"), &World { size: Some(size), ..usual() });
    }
    for days in [46, 33, 23, 15, 8, 5] {
        let world = World { short_days: days * 1_000, ..usual() };
        row(&format!("service: {days} days of 100"), &world);
    }
}
