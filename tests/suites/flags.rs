//! Flags of the served program on made-up farms, beside what was wrong on them.
//!
//! The table: `cargo run --release -p acceptance --example flags_served -- 70 4 1`.

use acceptance::growers::{Grower, GrowersServed};
use acceptance::{World, both};

both!(a_year_of_batches_flags_the_farms_that_spoil);

/// Farms of a large batch a week: twenty-four on which nothing is wrong, and three that begin to lose
/// a fifth. The promise is at most five false flags in a hundred farm-years; of the chart alone it is
/// 1.2 for this size (NOTES of the analytics), so that three on twenty-four happen to one seed in
/// three hundred (Poisson, mean 0.29). By the same table 99 of 100 such rises are found in 90 days.
fn a_year_of_batches_flags_the_farms_that_spoil(w: World) {
    let size = (20, 7);
    let mut growers = vec![Grower { size, rises_to: None }; 24];
    growers.extend([Grower { size, rises_to: Some(0.20) }; 3]);
    let served = GrowersServed::run(&w, "year", 7, growers);
    let all = served.flags();
    let count = all.get(&size).expect("the size");
    assert_eq!(count.clean.0, 24);
    assert!(count.clean.1 <= 2, "{count:?}");
    assert_eq!(count.rises.get(&20), Some(&(3, 3)), "{count:?}");
    // A quarter above the median farm's four in a hundred, by SPEC-B.
    let accepted = served.accepted_percent();
    assert!((4.0..=6.5).contains(&accepted), "{accepted}");
}
