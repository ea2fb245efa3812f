//! What the sizes come to: run by hand, `cargo test --release -p traybook-seed-demo --test demo
//! -- --ignored --nocapture SIZE`.

use crate::support::{Made, make, plan};
use std::time::Instant;
use traybook_app::Actor;
use traybook_domain::Month;
use traybook_domain::kinds::BatchEvent;
use traybook_seed_demo::Size;

async fn measure(size: Size) {
    let plan = plan(size);
    let begin = Instant::now();
    let made = make(&plan).await;
    println!("{size:?}: {} records, {:?} with reading back", made.demo.records, begin.elapsed());
    for (kind, list) in &made.records {
        println!("{:>10} {}", list.len(), kind.spec().path);
    }
    savings(&made, Month::of(plan.today)).await;
    let sum = |name: &str| -> i64 {
        let all = made.all::<BatchEvent>();
        all.iter().filter(|e| e.event == name).filter_map(|e| e.trays).sum()
    };
    println!("trays spread {}, discarded {}", sum("spread"), sum("discarded"));
    println!("digest {}", made.digest());
}

async fn savings(made: &Made, running: Month) {
    let actor = Actor::machine(made.demo.cooperative.clone());
    for back in 1..=6 {
        let month = running.plus(-back).to_string();
        let report = made
            .app
            .savings(&actor, &month, traybook_app::savings::Form::Json)
            .await
            .expect("a report")
            .report;
        let total = report.expect("an open month").total;
        let (save, lose) = total.saving_losing;
        let a = total.amounts;
        let percent = a.saving() * 100 / a.baseline.max(1);
        println!("{month}: {save} save, {lose} lose, {percent} %, out: {:?}", total.left_out);
        println!(
            "  ration {} feed {} seed {} other {} depreciation {}",
            a.baseline, a.feed, a.seed, a.other, a.depreciation
        );
    }
}

#[tokio::test(flavor = "multi_thread")]
#[ignore = "prints, run by hand"]
async fn small() {
    measure(Size::Small).await;
}

#[tokio::test(flavor = "multi_thread")]
#[ignore = "prints, run by hand"]
async fn medium() {
    measure(Size::Medium).await;
}

#[tokio::test(flavor = "multi_thread")]
#[ignore = "takes long, run by hand"]
async fn large() {
    measure(Size::Large).await;
}
