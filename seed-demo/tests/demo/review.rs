//! Clean data leave little on the review list; slips stand on it.

use crate::support::{make, plan};
use chrono::NaiveDate;
use std::collections::BTreeMap;
use traybook_answers::estimates::OutputStatus;
use traybook_app::Actor;
use traybook_app::review::Asked;
use traybook_domain::Month;
use traybook_domain::kinds::{BatchEvent, EggRecord, FeedPurchase, MilkRecord};
use traybook_domain::time::plus_days;
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

/// Three slips were planted in the small demo and nobody has put them right.
#[tokio::test]
async fn slips_that_stay_are_found_where_they_matter() {
    let plan = plan(Size::Small);
    let made = make(&plan).await;
    let coop = &made.demo.cooperative;
    made.app.make_figures_now(coop).await.expect("figures");
    let machine = Actor::machine(coop.clone());
    let of_rule = async |rule: &str| {
        let asked = Asked { rule: Some(rule.to_owned()), ..Asked::default() };
        made.app.review(&machine, asked).await.expect("a list").items
    };
    // Ten times the milk: a finding, and a day that the output change leaves out.
    let [slip] = of_rule("unit_slip").await.try_into().expect("one finding");
    assert_eq!((slip.word("unit"), slip.cases), ("x10", 1), "{slip:?}");
    let output = made.app.output_change(&machine, "milk").await.expect("farms");
    let figures = |farm: Uuid| {
        let of = output.farms.iter().find(|f| f.of.farm_id == farm).expect("the farm");
        of.figures.clone()
    };
    assert_eq!(figures(slip.farm_id.expect("a farm")).days_left_out, 1);
    // A purchase and its copy of the day after would be eaten in a day: held back.
    let purchases = made.with_ids::<FeedPurchase>();
    let copies = purchases.iter().filter(|(_, p)| p.note.is_some());
    let [(_, copy)] = copies.collect::<Vec<_>>().try_into().expect("one copy");
    let is_original = |p: &FeedPurchase| {
        p.farm_id == copy.farm_id && p.feed_id == copy.feed_id && plus_days(p.date, 1) == copy.date
    };
    let (original, first) = purchases.iter().find(|(_, p)| is_original(p)).expect("the original");
    assert_eq!((first.kg, first.cost), (copy.kg, copy.cost));
    let held = of_rule("feed_kg").await;
    let held = held.iter().find(|f| f.records.iter().any(|r| r.id == *original));
    let held = held.expect("it is held back");
    assert!(held.bears_on.iter().all(|b| b.is_held_back), "{held:?}");
    // A farm without milk in the last whole month has a month less than its milk began.
    let last = Month::of(plan.today).plus(-1);
    let milk = made.all::<MilkRecord>();
    let in_month = |farm: Uuid, month: Month| {
        milk.iter().any(|m| m.farm_id == farm && Month::of(m.date) == month)
    };
    let forgot: Vec<Uuid> = output
        .farms
        .iter()
        .filter(|f| f.figures.status == OutputStatus::Estimated)
        .map(|f| f.of.farm_id)
        .filter(|farm| !in_month(*farm, last))
        .collect();
    let [forgot] = forgot.try_into().expect("one farm");
    assert!(in_month(forgot, last.plus(-1)) && in_month(forgot, last.plus(1)));
    // All the same members' milk can be estimated.
    let estimated = output.farms.iter().filter(|f| f.figures.status == OutputStatus::Estimated);
    assert!(estimated.count() >= 5);
}

/// A ripe batch may stand beside the new one; only where the herd has grown since the shed was
/// built the trays stand above its places.
#[tokio::test]
async fn sheds_have_room_for_a_ripe_batch() {
    let made = make(&plan(Size::Small)).await;
    let coop = &made.demo.cooperative;
    made.app.make_figures_now(coop).await.expect("figures");
    let machine = Actor::machine(coop.clone());
    let asked = Asked { rule: Some("shed_over_full".to_owned()), ..Asked::default() };
    let over = made.app.review(&machine, asked).await.expect("a list").items;
    for finding in over {
        let spread = made
            .all::<BatchEvent>()
            .into_iter()
            .filter(|e| e.event == "spread" && Some(e.farm_id) == finding.farm_id);
        let mut spread: Vec<_> = spread.map(|e| (e.at, e.trays)).collect();
        spread.sort_unstable();
        let (first, last) = (spread.first().expect("a batch"), spread.last().expect("a batch"));
        assert!(last.1 > first.1, "{finding:?}");
    }
}
