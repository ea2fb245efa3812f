//! Purchases spread over days: the rules one by one, by hand, and what must always hold.

use proptest::prelude::*;
use traybook_analytics::eaten::{
    Finding, MonthUse, Piece, PricedPurchase, Purchase, Rule, Rules, Series, Spread, StoreCount,
    UseSlices, cells, month_use, price_medians, spread,
};

/// Four animals on every day.
fn four_animals(days: i32) -> Vec<f64> {
    (0..=days).map(|d| 4.0 * f64::from(d)).collect()
}

fn bought(day: i32, kg: f64) -> Purchase {
    Purchase { day, kg, cost: 700.0 * kg, median: Some(700.0), is_accepted: false }
}

fn nothing(day: i32) -> Purchase {
    Purchase { day, kg: 0.0, cost: 0.0, median: Some(700.0), is_accepted: false }
}

/// The series of four animals over 243 days, not started.
fn spread_of(purchases: &[Purchase], counts: &[StoreCount]) -> Spread {
    let animal_days = four_animals(243);
    let series = Series { purchases, counts, animal_days: &animal_days, start: None, as_of: 243 };
    spread(&series, &Rules::default())
}

/// 120 kg, all four animals' feed of 30 days, every 30 days.
fn monthly(count: i32) -> Vec<Purchase> {
    (0..count).map(|k| bought(5 + 30 * k, 120.0)).collect()
}

fn days(pieces: &[Piece]) -> Vec<(i32, i32)> {
    pieces.iter().map(|p| (p.from, p.to)).collect()
}

fn close(x: f64, expected: f64) {
    assert!((x - expected).abs() <= 1e-9 * expected.abs().max(1.0), "{x} for {expected}");
}

/// (+) Zeros without any lot: none eaten, known for 31 days each.
#[test]
fn zeros_without_a_lot_are_known_for_31_days_each() {
    let answer = spread_of(&[nothing(10), nothing(31), nothing(100), nothing(230)], &[]);
    assert_eq!(days(&answer.pieces), [(10, 31), (31, 62), (100, 131), (230, 243)]);
    assert!(answer.pieces.iter().all(|p| p.kg_per_animal_day.abs() <= 0.0 && !p.is_open));
    assert!(answer.findings.is_empty() && !answer.waiting);
}

/// (+) A count after an empty lot says nothing: neither a finding nor a split.
#[test]
fn a_count_after_an_empty_lot_is_ignored() {
    let emptied = [StoreCount { day: 80, kg: 0.0 }];
    let counted = [emptied[0], StoreCount { day: 85, kg: 3.0 }, StoreCount { day: 90, kg: 0.0 }];
    let answer = spread_of(&monthly(8), &counted);
    assert_eq!(answer, spread_of(&monthly(8), &emptied));
    assert!(answer.findings.is_empty());
    assert!(
        answer
            .pieces
            .iter()
            .any(|p| (p.from, p.to) == (80, 95) && p.kg_per_animal_day.abs() <= 0.0)
    );
}

/// (+) A count on a purchase day counts before the purchase: 20 of the 120 kg bought on day 35
/// are left on day 65, so 100 kg fed 120 animal-days, and 140 kg the next 120.
#[test]
fn a_count_on_a_purchase_day_counts_before_the_purchase() {
    let answer = spread_of(&monthly(8), &[StoreCount { day: 65, kg: 20.0 }]);
    assert!(answer.findings.is_empty());
    let rate = |from: i32| {
        answer.pieces.iter().find(|p| p.from == from).map_or(f64::NAN, |p| p.kg_per_animal_day)
    };
    close(rate(35), 100.0 / 120.0);
    close(rate(65), 140.0 / 120.0);
    close(rate(95), 1.0);
    let cost: f64 =
        answer.pieces.iter().filter(|p| p.from == 65).map(|p| p.cost_per_animal_day).sum();
    close(cost, 700.0 * 140.0 / 120.0);
}

/// More left than the lot held, and a second count of one day, are findings and not used.
#[test]
fn impossible_counts_are_findings() {
    let count = |day, kg| StoreCount { day, kg };
    let answer = spread_of(&monthly(8), &[count(80, 130.0)]);
    let stock = |day| Finding { day, rule: Rule::Stock, purchase: None };
    assert_eq!(answer.findings, [stock(80)]);
    assert_eq!(answer.pieces.len(), 8);
    let answer = spread_of(&monthly(8), &[count(80, 60.0), count(80, 70.0)]);
    assert_eq!(answer.findings, [stock(80)]);
    let answer = spread_of(&monthly(8), &[count(65, 10.0), count(65, 20.0)]);
    assert_eq!(answer.findings, [stock(65)]);
}

/// "Used none": a 0 and an empty store on one day. There is no lot, so none is eaten, for 31
/// days; an empty store alone is a gap.
#[test]
fn an_emptied_store_and_nothing_bought_is_none_eaten() {
    let mut purchases = monthly(6);
    let counts = [StoreCount { day: 181, kg: 0.0 }];
    let answer = spread_of(&purchases, &counts);
    assert_eq!(answer.findings, [Finding { day: 181, rule: Rule::Gap, purchase: None }]);
    purchases.push(nothing(181));
    let answer = spread_of(&purchases, &counts);
    assert!(answer.findings.is_empty());
    let last = answer.pieces.last().copied();
    assert_eq!(last.map(|p| (p.from, p.to)), Some((181, 212)));
    assert!(last.is_some_and(|p| p.kg_per_animal_day.abs() <= 0.0));
    purchases.push(nothing(212));
    let answer = spread_of(&purchases, &counts);
    assert_eq!(answer.pieces.last().map(|p| (p.from, p.to)), Some((181, 243)));
}

/// A finding names its purchase: both of one day for the price, the first of the lot for kg.
#[test]
fn findings_name_their_purchase() {
    let mut purchases = monthly(8);
    purchases[2].cost *= 3.0;
    purchases.insert(3, Purchase { cost: 0.0, ..bought(65, 5.0) });
    purchases[5] = bought(125, 1_200.0);
    purchases.insert(6, bought(125, 1.0));
    let answer = spread_of(&purchases, &[]);
    let found = |day, rule, p| Finding { day, rule, purchase: Some(p) };
    let price = [found(65, Rule::Price, 2), found(65, Rule::Price, 3)];
    assert_eq!(answer.findings, [price[0], price[1], found(125, Rule::Kg, 5)]);
    let covered = days(&answer.pieces);
    assert!(!covered.contains(&(65, 95)) && !covered.contains(&(125, 155)));
}

/// Without a usual rate the lot in use waits; it is all that lacks unless another day does too.
#[test]
fn the_lot_in_use_waits_for_the_next_purchase() {
    let answer = spread_of(&[bought(10, 120.0)], &[]);
    assert_eq!((answer.waiting, answer.waits_from), (true, Some(10)));
    let answer = spread_of(&monthly(2), &[]);
    assert_eq!((answer.waiting, answer.waits_from), (true, Some(35)));
    let answer = spread_of(&monthly(8), &[]);
    assert_eq!((answer.waiting, answer.waits_from), (false, None));
    let held = [Purchase { cost: 0.0, ..bought(5, 120.0) }, bought(35, 120.0)];
    let answer = spread_of(&held, &[]);
    assert_eq!((answer.waiting, answer.waits_from), (false, Some(35)));
}

/// (+) A gift is not a price of 0. Three purchases make a month's median, an older one stays
/// for three months, then the median of all counts.
#[test]
fn medians_leave_out_purchases_without_a_price() {
    let row = |month, price: f64| PricedPurchase { feed: 0, month, kg: 10.0, cost: 10.0 * price };
    let mut rows = vec![row(1, 600.0), row(1, 700.0), row(1, 900.0), row(6, 500.0)];
    let medians = price_medians(&rows, 1, 7);
    let all = Some(650.0);
    let own = Some(700.0);
    assert_eq!(medians, [all, own, own, own, own, all, all]);
    rows.extend([row(1, 0.0), row(1, 0.0), row(1, f64::NAN), row(1, -5.0)]);
    assert_eq!(price_medians(&rows, 1, 7), medians);
    assert_eq!(price_medians(&[row(0, 0.0)], 2, 1), [None, None]);
}

fn used(kg: f64, covered: f64) -> MonthUse {
    MonthUse { kg, cost: 700.0 * kg, covered, open: 0.0, mixed: 0.0 }
}

/// (+) Needed feeds count with their rate on the animal-days that eat them; others as covered.
#[test]
fn cells_scale_needed_feeds_only() {
    // Two feeds, one month. The first is eaten on 100 of the 120 animal-days, covered on 80.
    let slices = UseSlices {
        uses: &[used(80.0, 80.0), used(6.0, 30.0)],
        feed_animal_days: &[100.0, 120.0],
        is_needed: &[true, false],
        median: &[Some(650.0), Some(50.0)],
        animal_days: &[120.0],
    };
    let rules = Rules::default();
    let answer = cells(&slices, 2, 1, &rules).unwrap_or_default();
    assert_eq!((answer.kg, answer.is_known), (vec![100.0, 6.0], vec![true]));
    assert_eq!(answer.price, [700.0, 700.0]);
    let is_known = |is_needed: &[bool], covered: f64, eaten_on: f64| {
        let uses = [used(covered, covered), used(6.0, 30.0)];
        let feed_animal_days = &[eaten_on, 120.0];
        let slices = UseSlices { uses: &uses, feed_animal_days, is_needed, ..slices };
        cells(&slices, 2, 1, &rules).unwrap_or_default().is_known
    };
    assert_eq!(is_known(&[true, false], 75.0, 100.0), [true]);
    assert_eq!(is_known(&[true, false], 74.9, 100.0), [false]);
    assert_eq!(is_known(&[true, true], 80.0, 100.0), [false], "the other covers a quarter");
    assert_eq!(is_known(&[false, false], 80.0, 100.0), [false], "nothing is needed");
    assert_eq!(is_known(&[true, false], 0.0, 0.0), [true], "no animals to eat it");
    let short = UseSlices { is_needed: &[true], ..slices };
    assert!(cells(&short, 2, 1, &rules).is_err_and(|e| e.to_string().contains("is_needed")));
}

/// Months and feeds are not mixed up: a month without a use takes the median of its own feed and month.
/// [ARITH] 60 kg at 10 are 600, all of them of a lot in use; 30 kg at 30 are 900: 600 of 1,500.
#[test]
fn cells_take_the_price_of_their_feed_and_month() {
    let use_of =
        |kg: f64, price: f64, open: f64| MonthUse { cost: price * kg, open, ..used(kg, 30.0) };
    let none = MonthUse::default();
    let slices = UseSlices {
        uses: &[use_of(60.0, 10.0, 30.0), none, use_of(30.0, 30.0, 0.0), none],
        feed_animal_days: &[30.0; 4],
        is_needed: &[true; 4],
        median: &[Some(11.0), Some(12.0), Some(31.0), Some(32.0)],
        animal_days: &[30.0; 2],
    };
    let answer = cells(&slices, 2, 2, &Rules::default()).unwrap_or_default();
    assert_eq!(answer.price, [10.0, 12.0, 30.0, 32.0]);
    assert_eq!(answer.is_known, [true, false]);
    close(answer.open_share[0], 0.4);
}

/// Shares of cells: a quarter of one feed's money is open, and half of the needed feed is mixed.
#[test]
fn cells_carry_open_and_mixed_shares() {
    let first = MonthUse { open: 50.0, mixed: 50.0, ..used(100.0, 100.0) };
    let second = MonthUse { mixed: 100.0, ..used(100.0, 100.0) };
    let slices = UseSlices {
        uses: &[first, second],
        feed_animal_days: &[100.0, 100.0],
        is_needed: &[true, false],
        median: &[None, None],
        animal_days: &[100.0],
    };
    let answer = cells(&slices, 2, 1, &Rules::default()).unwrap_or_default();
    close(answer.open_share[0], 0.25);
    close(answer.mixed_share[0], 0.5);
    let nothing = UseSlices { uses: &[MonthUse::default(); 2], ..slices };
    let answer = cells(&nothing, 2, 1, &Rules::default()).unwrap_or_default();
    assert!(answer.price.iter().all(|p| p.is_nan()) && answer.open_share[0].abs() <= 0.0);
}

/// Records of one feed: purchases, heads by day, the start.
#[derive(Debug, Clone)]
struct Made {
    purchases: Vec<Purchase>,
    counts: Vec<StoreCount>,
    /// Heads of eight equal times.
    heads: Vec<u8>,
    /// Days without animals before them.
    days_before: i32,
    start: Option<i32>,
}

const AS_OF: i32 = 400;

impl Made {
    fn animal_days(&self) -> Vec<f64> {
        let mut sum = 0.0;
        let mut sums = vec![0.0];
        for d in -self.days_before..AS_OF {
            let place = usize::try_from(d * 8 / AS_OF).unwrap_or(0);
            sum += if d < 0 { 0.0 } else { f64::from(self.heads[place]) };
            sums.push(sum);
        }
        sums
    }

    fn months(&self) -> (Spread, Vec<MonthUse>) {
        let (animal_days, start) = (self.animal_days(), self.start);
        let (purchases, counts) = (&self.purchases, &self.counts);
        let as_of = self.days_before + AS_OF;
        let animal_days = &animal_days;
        let series = Series { purchases, counts, animal_days, start, as_of };
        let answer = spread(&series, &Rules::default());
        let starts: Vec<i32> = (self.days_before..=as_of).step_by(25).collect();
        let months = month_use(&answer.pieces, animal_days, &starts, start);
        (answer, months)
    }
}

prop_compose! {
    fn made(lots_max: usize)(
        steps in prop::collection::vec((5_i32..50, 20.0..300.0, 0.2..3.0_f64, 0_u8..12), 1..lots_max),
        counted in prop::collection::vec((0_i32..AS_OF, 0.0..150.0), 0..3),
        heads in prop::collection::vec(0_u8..6, 8),
        start in prop::option::of(0_i32..AS_OF),
    ) -> Made {
        let mut day = 0;
        let purchases = steps.iter().map(|(step, kg, price, kind)| {
            day += step;
            let kg = if *kind == 0 { 0.0 } else { *kg };
            let price = if *kind == 1 { 0.0 } else { 700.0 * price.powf(0.4) };
            let (median, is_accepted) = ((*kind != 2).then_some(700.0), *kind == 3);
            Purchase { day, kg, cost: kg * price, median, is_accepted }
        });
        let counts = counted.iter().map(|(day, kg)| StoreCount { day: *day, kg: *kg });
        let known = purchases.filter(|p: &Purchase| p.day < AS_OF);
        let (purchases, counts) = (known.collect(), counts.collect());
        Made { purchases, counts, heads, days_before: 0, start }
    }
}

fn same(a: &[MonthUse], b: &[MonthUse], kg: f64, cost: f64) -> Result<(), TestCaseError> {
    prop_assert_eq!(a.len(), b.len());
    let near = |x: f64, y: f64| (x - y).abs() <= 1e-7 * (1.0 + x.abs());
    for (a, b) in a.iter().zip(b) {
        prop_assert!(near(a.kg * kg, b.kg) && near(a.cost * cost, b.cost), "{:?} {:?}", a, b);
        prop_assert!(near(a.covered, b.covered) && near(a.open, b.open), "{:?} {:?}", a, b);
        prop_assert!(near(a.mixed, b.mixed), "{:?} {:?}", a, b);
    }
    Ok(())
}

fn config() -> ProptestConfig {
    ProptestConfig { cases: 128, failure_persistence: None, ..ProptestConfig::default() }
}

proptest! {
    #![proptest_config(config())]

    /// One lot or four of the same price on one day give the same months.
    #[test]
    fn a_lot_may_be_written_as_four(made in made(16)) {
        let mut parts = made.clone();
        parts.purchases = made.purchases.iter().flat_map(|p| {
            [0.1, 0.2, 0.3, 0.4].map(|f| Purchase { kg: p.kg * f, cost: p.cost * f, ..*p })
        }).collect();
        same(&made.months().1, &parts.months().1, 1.0, 1.0)?;
    }

    /// Another currency changes money only.
    #[test]
    fn money_scales_with_money(made in made(16), factor in 0.001..1000.0_f64) {
        let mut other = made.clone();
        for p in &mut other.purchases {
            p.cost *= factor;
            p.median = p.median.map(|m| m * factor);
        }
        let ((a, before), (b, after)) = (made.months(), other.months());
        prop_assert_eq!(a.findings, b.findings);
        same(&before, &after, 1.0, factor)?;
    }

    /// The same records a year later give the same months a year later.
    #[test]
    fn days_may_move(made in made(16)) {
        let mut later = made.clone();
        later.days_before = 365;
        later.purchases.iter_mut().for_each(|p| p.day += 365);
        later.counts.iter_mut().for_each(|c| c.day += 365);
        later.start = made.start.map(|s| s + 365);
        same(&made.months().1, &later.months().1, 1.0, 1.0)?;
    }

    /// Where nothing is doubted, a settled lot's months add up to the lot. Under eight lots no
    /// farm tops up.
    #[test]
    fn months_of_settled_lots_add_up_to_them(mut made in made(6)) {
        made.counts.clear();
        for p in &mut made.purchases {
            p.kg = 100.0 + p.kg / 5.0;
            p.cost = p.kg * 700.0;
        }
        let (answer, _) = made.months();
        let animal_days = made.animal_days();
        let lots: Vec<&Purchase> = made.purchases.iter().filter(|p| p.kg > 0.0).collect();
        prop_assume!(answer.findings.is_empty());
        let at = |day: i32| animal_days[usize::try_from(day).unwrap_or(0)];
        let settled: Vec<Piece> = answer.pieces.iter().filter(|p| !p.is_open).copied().collect();
        let starts: Vec<i32> = (0..=AS_OF).step_by(16).collect();
        let months = month_use(&settled, &animal_days, &starts, made.start);
        let (kg, cost) =
            months.iter().fold((0.0, 0.0), |sum, m| (sum.0 + m.kg, sum.1 + m.cost));
        let followed = lots.windows(2).filter(|p| at(p[1].day) > at(p[0].day));
        let bought = followed.fold((0.0, 0.0), |sum: (f64, f64), p| {
            (sum.0 + p[0].kg, sum.1 + p[0].cost)
        });
        prop_assert!((kg - bought.0).abs() <= 1e-7 * (1.0 + kg), "{} {:?}", kg, bought);
        prop_assert!((cost - bought.1).abs() <= 1e-7 * (1.0 + cost), "{} {:?}", cost, bought);
    }

    /// Pieces do not overlap, lie between the first lot and `as_of`, and hold numbers.
    #[test]
    fn pieces_are_days_in_order(made in made(16)) {
        let (answer, months) = made.months();
        for pair in answer.pieces.windows(2) {
            prop_assert!(pair[0].to <= pair[1].from, "{:?}", pair);
        }
        for piece in &answer.pieces {
            prop_assert!(piece.from < piece.to && piece.to <= AS_OF, "{:?}", piece);
            prop_assert!(piece.kg_per_animal_day >= 0.0 && piece.kg_per_animal_day.is_finite());
            prop_assert!(piece.cost_per_animal_day.is_finite(), "{:?}", piece);
        }
        prop_assert!(months.iter().all(|m| m.kg.is_finite() && m.covered >= m.open));
    }

    /// Nothing that comes in stops the program.
    #[test]
    fn odd_records_do_not_stop_it(
        days in prop::collection::vec(prop::num::i32::ANY, 0..12),
        numbers in prop::collection::vec(prop::num::f64::ANY, 12),
        length in 0_usize..40,
        as_of in prop::num::i32::ANY,
        start in prop::option::of(prop::num::i32::ANY),
    ) {
        let purchases: Vec<Purchase> = days.iter().zip(&numbers).map(|(day, x)| Purchase {
            day: *day, kg: *x, cost: x / 3.0, median: Some(-x), is_accepted: *x > 1.0,
        }).collect();
        let counts: Vec<StoreCount> =
            days.iter().zip(&numbers).map(|(d, x)| StoreCount { day: *d, kg: x / 2.0 }).collect();
        let animal_days = &numbers[..length.min(12)];
        for as_of in [as_of, 3] {
            let series =
                Series { purchases: &purchases, counts: &counts, animal_days, start, as_of };
            let answer = spread(&series, &Rules::default());
            let months = month_use(&answer.pieces, animal_days, &days, start);
            prop_assert_eq!(months.len(), days.len().saturating_sub(1));
        }
    }
}
