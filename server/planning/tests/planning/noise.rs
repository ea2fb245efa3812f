//! The plan under noise against its bars, in the simulator; the example `plan_table` prints more.

use crate::simulator::{FIRST, Outcome, Simulated, USUAL, World, simulate, standards};
use traybook_planning::make_up::early;
use traybook_planning::service::{LADDER, level_of};

/// Days or weight of a hundred.
fn percent(of: f64, all: f64) -> f64 {
    100.0 * of / all
}

fn check_shed(out: &Outcome) {
    assert_eq!(out.over_full, 0, "nights on which trays had no place");
    assert_eq!(out.wrong_age, 0, "trays over age or more than two days young");
}

#[test]
fn sixty_farms_go_short_on_few_days_and_waste_little() {
    let out = simulate(&USUAL);
    println!("{}", out.line());
    check_shed(&out);
    assert!(percent(out.tenth, out.days) <= 1.5, "{}", out.line());
    assert!(percent(out.quarter, out.days) <= 0.5, "{}", out.line());
    assert!(percent(out.wasted, out.need) <= 6.0, "{}", out.line());
    assert!(out.seed / out.least <= 1.13, "{}", out.line());
    // Exact plans go short on one day in five: the same farms, the same losses.
    let exact = simulate(&World { learns: false, ..USUAL.clone() });
    assert!(percent(exact.tenth, exact.days) > 15.0, "{}", exact.line());
}

#[test]
fn without_noise_nobody_goes_short_and_little_seed_is_kept() {
    let world = World { spoil: 0.0, sd: 0.0, farms: 10, ..USUAL.clone() };
    for size in [4.0, 6.0] {
        let out = simulate(&World { size: Some(size), ..world.clone() });
        check_shed(&out);
        assert!(percent(out.tenth, out.days) <= 0.0, "{}", out.line());
        assert!(percent(out.wasted, out.need) <= 4.0, "{}", out.line());
        assert!(out.seed / out.least <= 1.04, "{}", out.line());
    }
    // Small farms keep 4 or 8 of a hundred in reserve.
    let out = simulate(&World { size: Some(1.0), ..world });
    assert!((1.08..=1.13).contains(&(out.seed / out.least)), "{}", out.line());
}

/// The specification's own simulation has 1.7 days of 100 in a shed with places for exact trays, and
/// 1.0 with places for more. Its farms are not given; needs that are not whole trays come near it.
#[test]
fn a_full_shed_keeps_the_bars_and_takes_no_more_trays_than_it_has_places() {
    let full = World { places: 1.0, ..USUAL.clone() };
    let out = simulate(&World { drawn: true, ..full.clone() });
    check_shed(&out);
    assert!(percent(out.tenth, out.days) <= 2.5, "{}", out.line());
    assert!(percent(out.quarter, out.days) <= 1.0, "{}", out.line());
    assert!(percent(out.unmet, out.need) <= 2.5, "{}", out.line());
    assert!(percent(out.wasted, out.need) <= 4.5, "{}", out.line());
    assert!(out.seed / out.least <= 1.13, "{}", out.line());
    // Needs of whole trays leave a tray less room: the promise of one day in twenty.
    let out = simulate(&full);
    check_shed(&out);
    assert!(percent(out.tenth, out.days) <= 5.0, "{}", out.line());
    assert!(percent(out.quarter, out.days) <= 1.0, "{}", out.line());
    // Trays that may carry no more than their load leave nothing to repay with: exact plans.
    let most = World { load_most: 100_000, days: 200, ..full };
    check_shed(&simulate(&most));
}

#[test]
fn from_three_trays_a_day_on_a_full_shed_keeps_the_promise() {
    for size in [3.0, 4.0, 5.0, 6.0, 8.0] {
        let world = World { size: Some(size), places: 1.0, farms: 20, ..USUAL.clone() };
        let out = simulate(&world);
        check_shed(&out);
        assert!(percent(out.tenth, out.days) <= 5.0, "{size}: {}", out.line());
    }
}

/// The last of several trays is asked for when the others are weighed: with all at once 2.4 days of
/// 100 were more than a tenth short.
#[test]
fn trays_are_taken_early_one_after_the_other() {
    let trays = [(1, 7.0), (1, 7.0), (2, 6.0)];
    // ARITH: 14 of 24 are missing, 2.4 of them within a tenth: two trays, so one for now.
    assert_eq!(early(24.0, 10.0, 0.0, &trays, 2), [0]);
    // It weighs 9: 5 are missing, and the next is taken. It weighs 12: 2 are missing, and none is.
    assert_eq!(early(24.0, 19.0, 0.0, &trays[1..], 2), [0]);
    assert_eq!(early(24.0, 22.0, 0.0, &trays[1..], 2), [0_usize; 0]);
    // Three are missing: two for now.
    assert_eq!(early(24.0, 2.0, 0.0, &trays, 2), [0, 1]);
}

#[test]
fn every_size_keeps_the_promise_of_one_day_in_twenty() {
    for size in [0.6, 1.0, 1.4, 2.0, 3.0, 4.0, 8.0] {
        let out = simulate(&World { size: Some(size), farms: 10, ..USUAL.clone() });
        assert!(percent(out.tenth, out.days) <= 5.0, "{size}: {}", out.line());
    }
}

#[test]
fn a_tray_lost_three_days_before_it_is_due_is_soaked_again_on_that_day() {
    // ARITH: three cows need 6 kg of seed; with 4 % ahead and 4 % in reserve 6.48 kg on 4 trays.
    // A day shall find 6.42 kg; one tray of 1.62 kg is lost, and four days hold 0.06 kg more:
    // 1.56 - 4 x 0.06 = 1.32 kg are owed.
    let world = World { spoil: 0.0, sd: 0.0, size: Some(3.0), ..USUAL.clone() };
    let standards = standards(&world);
    let mut farm = Simulated::new(0, &world);
    for today in FIRST..FIRST + 60 {
        farm.look(today);
        if today == FIRST + 40 {
            farm.lose_one(today, 3);
        }
        let made = farm.soak(&world, &standards, today);
        let seed: i64 = made.soaks.iter().filter(|s| s.day == today).map(|s| s.seed_g).sum();
        let more = if today == FIRST + 40 { 1_320 } else { 0 };
        if today < FIRST + 41 {
            assert_eq!(seed, 6_480 + more, "day {}", today - FIRST);
        }
        farm.feed(&world, &standards, &made, today);
        farm.spread(&world, today);
        farm.night(today);
    }
    assert!(farm.out.tenth < 0.5, "{}", farm.out.line());
    check_shed(&farm.out);
}

#[test]
fn the_ladder_of_service_levels_is_what_the_simulator_gives() {
    for days in [33.0, 15.0] {
        let out = simulate(&World { short_days: (days * 1_000.0) as i64, ..USUAL.clone() });
        let level = level_of(days);
        let near = |told: f64, is: f64, by: f64| {
            assert!((told - is).abs() <= by, "{days}: {told} for {}", out.line());
        };
        near(level.short_days, percent(out.any, out.days), 7.0);
        near(level.short_tenth_days, percent(out.tenth, out.days), 0.5);
        near(level.wasted, out.wasted / out.need, 0.005);
        near(level.seed, out.seed / out.least, 0.005);
    }
    assert!(LADDER.windows(2).all(|w| w[0].wasted < w[1].wasted));
    assert!(LADDER[1..].windows(2).all(|w| w[0].seed < w[1].seed));
}
