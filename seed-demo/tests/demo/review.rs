//! Clean data leave little on the review list.

use crate::support::{make, plan};
use chrono::NaiveDate;
use std::collections::BTreeMap;
use traybook_app::Actor;
use traybook_app::review::Asked;
use traybook_domain::kinds::{EggRecord, FeedPurchase, MilkRecord};
use traybook_seed_demo::Size;
use uuid::Uuid;

/// The whole history of the demo, looked through as after an import: fewer than two findings a farm
/// and year of records.
#[tokio::test]
async fn a_clean_history_has_few_findings() {
    let plan = plan(Size::Small);
    let made = make(&plan).await;
    let coop = &made.demo.cooperative;
    made.app.make_figures_now(coop).await.expect("figures");
    let mut waited = 0;
    loop {
        let done = made.app.review_waiting().await.expect("looked through");
        waited += done;
        if done == 0 {
            break;
        }
    }
    assert!(waited > 0, "every farm with a history waits");
    made.app.make_figures_now(coop).await.expect("figures");
    let machine = Actor::machine(coop.clone());
    let list = made.app.review(&machine, Asked::default()).await.expect("a list");
    let mut first: BTreeMap<Uuid, NaiveDate> = BTreeMap::new();
    let mut see = |farm: Uuid, on: NaiveDate| {
        let slot = first.entry(farm).or_insert(on);
        *slot = on.min(*slot);
    };
    for record in made.all::<MilkRecord>() {
        see(record.farm_id, record.date);
    }
    for record in made.all::<EggRecord>() {
        see(record.farm_id, record.date);
    }
    for record in made.all::<FeedPurchase>() {
        see(record.farm_id, record.date);
    }
    let days: i64 = first.values().map(|day| (plan.today - *day).num_days()).sum();
    let years = f64::from(i32::try_from(days).expect("few")) / 365.25;
    let findings: usize = list.by_rule.values().sum();
    println!("{findings} findings in {years:.1} farm-years: {:?}", list.by_rule);
    let findings = f64::from(u32::try_from(findings).expect("few"));
    assert!(findings < 2.0 * years, "{findings} in {years}: {:?}", list.by_rule);
}
