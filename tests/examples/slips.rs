//! What the served savings report says beside the truth, by slip: the table of many seeds.
//!
//! `cargo run --release -p acceptance --example slips -- SEEDS [FIRST [AT_CLOSE]]`. With `AT_CLOSE`
//! = 1 each month is also read on the 10th of the next, as it would be closed.

use acceptance::farms::{MONTHS, Slip, farms, month_day, today};
use acceptance::farms_served::{AllSeen, MonthSeen, Seen, enter};
use acceptance::{Db, World};
use chrono::Days;
use std::collections::BTreeMap;
use std::time::Instant;

const FARMS: usize = 48;

#[derive(Default)]
struct Line {
    value: f64,
    truth: f64,
    baseline: f64,
    all: f64,
    all_baseline: f64,
    month: (usize, usize),
    close: (usize, usize),
    close_bias: (f64, f64),
    since: (usize, usize),
    farm: (usize, usize),
    farm_since: (usize, usize),
    net: (usize, usize),
    net_value: f64,
    net_truth: f64,
    statuses: BTreeMap<String, usize>,
    bias: Vec<f64>,
}

fn count(into: &mut (usize, usize), seen: &Seen) {
    into.0 += usize::from(seen.is_held());
    into.1 += 1;
}

fn share(of: (usize, usize)) -> f64 {
    100.0 * of.0 as f64 / of.1.max(1) as f64
}

impl Line {
    fn add(&mut self, all: &AllSeen, seeds: f64) {
        self.value += all.since.value / seeds;
        self.truth += all.since.truth / seeds;
        self.baseline += all.since.baseline / seeds;
        self.bias.push(100.0 * (all.since.value - all.since.truth) / all.since.baseline);
        count(&mut self.since, &all.since);
        for month in all.months.values() {
            self.all += month.all / seeds;
            self.all_baseline += month.all_baseline / seeds;
            month.total.iter().for_each(|t| count(&mut self.month, t));
            if let Some(net) = &month.net {
                count(&mut self.net, net);
                self.net_value += net.value / seeds;
                self.net_truth += net.truth / seeds;
            }
            month.farms.iter().for_each(|t| count(&mut self.farm, t));
            for (status, n) in &month.statuses {
                *self.statuses.entry(status.clone()).or_default() += n;
            }
        }
        all.farms_since.iter().for_each(|t| count(&mut self.farm_since, t));
    }

    fn at_close(&mut self, month: &MonthSeen) {
        if let Some(t) = &month.total {
            count(&mut self.close, t);
            self.close_bias.0 += t.value - t.truth;
            self.close_bias.1 += t.baseline;
        }
    }

    fn print(&self, slip: Slip) {
        let rows: usize = self.statuses.values().sum();
        let with = |s: &str| self.statuses.get(s).copied().unwrap_or(0);
        let number = with("estimated") + with("ration_only");
        let mean = self.bias.iter().sum::<f64>() / self.bias.len() as f64;
        let spread = self.bias.iter().map(|b| (b - mean).powi(2)).sum::<f64>();
        let error = (spread / (self.bias.len() as f64 - 1.0).max(1.0)).sqrt();
        println!(
            "| {slip:?} | {:.2} | {:.2} | {:+.2} ({error:.2}) | {:.2} | {:.1} | {:.1} | {:.1} | {:.1} | {:.1} | {:.0} | {:+.2} |",
            self.value / 1e6,
            self.truth / 1e6,
            100.0 * (self.value - self.truth) / self.baseline,
            self.all / 1e6,
            share(self.month),
            share(self.close),
            share(self.since),
            share(self.farm),
            share(self.farm_since),
            100.0 * number as f64 / rows as f64,
            100.0 * self.close_bias.0 / self.close_bias.1.max(1.0),
        );
        if self.net.1 > 0 {
            println!(
                "    net of milk: served {:.2} M, truth {:.2} M, holds {:.1} %",
                self.net_value / 1e6,
                self.net_truth / 1e6,
                share(self.net)
            );
        }
        println!("    {:?}", self.statuses);
    }
}

fn main() {
    let args: Vec<u64> = std::env::args().skip(1).map(|a| a.parse().expect("numbers")).collect();
    let seeds = args.first().copied().unwrap_or(4);
    let first = args.get(1).copied().unwrap_or(1);
    let at_close = args.get(2) == Some(&1);
    let only = args.get(3).copied();
    let mut lines: BTreeMap<Slip, Line> = BTreeMap::new();
    for seed in first..first + seeds {
        let w = World::start(Db::sqlite());
        for (nth, slip) in Slip::ALL.into_iter().enumerate() {
            if only.is_some_and(|o| o != nth as u64) {
                continue;
            }
            let begun = Instant::now();
            let made = farms(seed, slip, FARMS);
            let mut there = enter(&w, &format!("s{seed}-{nth}"), &made);
            let entered = begun.elapsed();
            let line = lines.entry(slip).or_default();
            for month in (15..MONTHS).filter(|_| at_close) {
                there.make(&w, month_day(month + 1) + Days::new(9));
                line.at_close(&there.beside(&there.report(month), month, &mut BTreeMap::new()));
            }
            there.make(&w, today());
            let running = there.report(MONTHS);
            assert!(running["total"]["saving"].is_null(), "{}", running["total"]);
            let all = there.all();
            line.add(&all, seeds as f64);
            eprintln!(
                "{seed} {slip:?}: entered {entered:.1?}, all {:.1?}; {} of {} months; {:+.2} %",
                begun.elapsed(),
                all.months.values().filter(|m| m.total.is_some_and(|t| t.is_held())).count(),
                all.months.values().filter(|m| m.total.is_some()).count(),
                100.0 * (all.since.value - all.since.truth) / all.since.baseline
            );
        }
    }
    println!(
        "| slip | served, M | truth, M | bias, % of baseline (sd a seed) | truth of all rows, M | total month | at close | total since | farm month | farm since | rows with number | bias at close |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|---|---|");
    for (slip, line) in &lines {
        line.print(*slip);
    }
}
