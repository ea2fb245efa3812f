//! What an attacker tries, within bounds; `cargo run -p acceptance --bin attack` goes on for longer.

use acceptance::attack::{Marks, isolation, losses, requests, tokens};
use acceptance::{Db, World, both};
use std::time::Duration;

both!(generated_requests_break_nothing, others_ids_are_as_if_they_were_not);

fn generated_requests_break_nothing(w: World) {
    let found =
        requests::run(&w, &Marks::of_other(&w), (20_260_320, 1_800), Duration::from_secs(50));
    println!(
        "{} requests, {} operations: {:?}",
        found.requests(),
        found.operations,
        found.by_class
    );
    assert_eq!(found.wrong, Vec::<String>::new());
    assert!(found.operations > 300 && found.requests() > 300, "{found:?}");
    // Not everything is refused at the door.
    assert!(found.by_class[&2] * 20 > found.requests(), "{:?}", found.by_class);
}

fn others_ids_are_as_if_they_were_not(w: World) {
    let marks = Marks::of_other(&w);
    let mut found = isolation::run(&w, &marks);
    isolation::pages(&w, &marks, &mut found);
    println!("{} addresses, {} filters, {} pages", found.addresses, found.filters, found.pages);
    assert_eq!(found.wrong, Vec::<String>::new());
    assert!(found.addresses > 800 && found.filters > 20 && found.pages > 500, "{found:?}");
}

#[test]
fn forged_tokens_are_refused() {
    let w = World::start_with_keys(Db::sqlite(), &tokens::ring());
    let (sent, taken) = tokens::run(&w);
    println!("{sent} forged tokens");
    assert_eq!(taken, Vec::<String>::new());
    assert!(sent > 80, "{sent}");
}

#[test]
fn nothing_acknowledged_is_lost_when_connections_are_cut() {
    let (db, name) = Db::postgres_alone();
    let found = losses::cuts(&World::start(db), &name, (1, Duration::from_secs(8)));
    Db::forget(&name);
    println!(
        "{} cuts, {} writes, {} unanswered",
        found.blows, found.acknowledged, found.unanswered
    );
    assert_eq!((found.lost, found.wrong), (Vec::new(), Vec::new()));
    assert!(found.blows > 5 && found.acknowledged > 20 && found.unanswered > 0);
}
