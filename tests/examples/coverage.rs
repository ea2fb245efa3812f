//! How often the estimates' intervals hold the truth of the demo, which its generator knows.
//!
//! `cargo run --release -p acceptance --example coverage -- sqlite:PATH SIZE SEED TODAY` on a
//! database that `traybook demo --size SIZE --seed SEED --today TODAY` made.

use acceptance::Db;
use acceptance::world::app_on;
use serde_json::Value as Json;
use std::collections::HashMap;
use std::time::Instant as Timer;
use traybook_app::Actor;
use traybook_domain::time::at_local;
use traybook_seed_demo::{FarmTruth, Plan, Size, truth};

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [url, size, seed, today] = args.as_slice() else {
        eprintln!("give: sqlite:PATH SIZE SEED TODAY");
        std::process::exit(2);
    };
    let plan = Plan {
        size: Size::parse(size).expect("small, medium, large or huge"),
        seed: seed.parse().expect("a number"),
        today: today.parse().expect("a day"),
        months: None,
    };
    let truth: HashMap<String, FarmTruth> =
        truth(&plan).into_iter().map(|t| (t.farm_code.clone(), t)).collect();
    let db = Db::at(url);
    let (app, clock) = app_on(&db);
    clock.set(at_local(plan.today, 12 * 60, chrono_tz::Africa::Dar_es_Salaam));
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    let runtime = runtime.expect("runtime");
    let coop = runtime.block_on(app.choose_cooperative(None)).expect("the demo");
    let manager = Actor::machine(coop);
    let json = |answer: &dyn Fn() -> Json| {
        let begun = Timer::now();
        (answer(), begun.elapsed())
    };
    let begun = Timer::now();
    runtime.block_on(app.make_figures_now(&manager.coop)).expect("figures");
    println!("the figures of all: {:?}", begun.elapsed());
    for enterprise in ["milk", "eggs"] {
        let (answer, took) = json(&|| {
            let made = runtime.block_on(app.output_change(&manager, enterprise));
            serde_json::to_value(made.expect("estimate")).expect("JSON")
        });
        println!("{enterprise}: {took:?}");
        covered(&answer, &truth);
    }
    let (answer, took) = json(&|| {
        let made = runtime.block_on(app.spoilage(&manager));
        serde_json::to_value(made.expect("spoilage")).expect("JSON")
    });
    println!("spoilage: {took:?}");
    flags(&answer, &truth);
    let begun = Timer::now();
    runtime.block_on(app.saving_estimates(&manager)).expect("savings");
    println!("saving estimates: {:?}", begun.elapsed());
}

fn covered(answer: &Json, truth: &HashMap<String, FarmTruth>) {
    let (mut all, mut inside, mut mean) = (0_u32, 0_u32, 0.0);
    for farm in answer["farms"].as_array().expect("farms") {
        let known = &truth[farm["farm"].as_str().expect("code")];
        let number = |m: &str| farm[m].as_f64();
        if let (Some(low), Some(high)) = (number("low"), number("high")) {
            let percent = 100.0 * (known.log_effect.exp() - 1.0);
            all += 1;
            inside += u32::from(low <= percent && percent <= high);
            mean += percent;
        }
    }
    let share = 100.0 * f64::from(inside) / f64::from(all.max(1));
    let mean = mean / f64::from(all.max(1));
    println!("  {inside} of {all} member intervals hold the truth: {share:.1} %");
    println!("  true mean {mean:.2} %; {}", answer["programme"]["sentence"]);
}

fn flags(answer: &Json, truth: &HashMap<String, FarmTruth>) {
    let (mut bad, mut found, mut false_flags, mut of_seed) = (0, 0, 0, 0);
    for farm in answer["farms"].as_array().expect("farms") {
        let known = &truth[farm["farm"].as_str().expect("code")];
        let flagged = farm["status"] == "recurring";
        bad += i32::from(known.has_bad_shed);
        found += i32::from(known.has_bad_shed && flagged);
        let seed = farm["points_at"] == "seed_lot";
        of_seed += i32::from(flagged && seed);
        false_flags += i32::from(!known.has_bad_shed && flagged && !seed);
    }
    let farms = truth.len();
    println!("  bad sheds flagged: {found} of {bad}; flags of seed: {of_seed};");
    println!(
        "  flags on sound farms not put down to seed: {false_flags} of {farms} farms standing now"
    );
}
