//! Feed saving, version 2: by hand, and what must always hold.

#![expect(clippy::unwrap_used, reason = "a test stops at the first thing that is not there")]

use proptest::prelude::*;
use traybook_analytics::feed_saving::{
    BaselineStatus, FeedSavings, FrozenBaseline, IndexSource, Months, Rules, SavingPanel,
    feed_saving, lasting_square,
};
use traybook_analytics::season::season_index;

use crate::made_up::Numbers;

/// An enterprise with its slices.
#[derive(Clone, Default)]
struct Made {
    feeds: usize,
    months: usize,
    kg: Vec<f64>,
    price: Vec<f64>,
    animal_days: Vec<f64>,
    known: Vec<bool>,
    mixed: Vec<f64>,
    open: Vec<f64>,
    start: Vec<Option<u32>>,
    ration: Option<Vec<f64>>,
    ration_month: Vec<Option<u32>>,
    area: Vec<u32>,
    month_of_year: Vec<u32>,
    gaps: Vec<[f64; 2]>,
    frozen: Vec<Option<FrozenBaseline>>,
    frozen_index: Option<Vec<Option<f64>>>,
}

impl Made {
    fn savings(&self) -> FeedSavings {
        let panel = SavingPanel {
            feeds: self.feeds,
            months: self.months,
            kg: &self.kg,
            price: &self.price,
            animal_days: &self.animal_days,
            is_known: &self.known,
            mixed_share: &self.mixed,
            open_share: Some(&self.open),
            start: &self.start,
            ration: self.ration.as_deref(),
            ration_month: &self.ration_month,
            area: Some(&self.area),
            month_of_year: Some(&self.month_of_year),
            is_complete: None,
            gap_share: Some(&self.gaps),
            frozen: &self.frozen,
            frozen_index: self.frozen_index.as_deref(),
        };
        feed_saving(&panel, &Rules::default()).unwrap()
    }

    fn farms(&self) -> usize {
        self.start.len()
    }

    /// Farms with a season, noise and lacking months; fodder spares a fifth of the feed.
    fn new(seed: u64, farms: usize, months: usize, never: f64) -> Self {
        let mut numbers = Numbers(seed);
        let mut made = Self { feeds: 2, months, ration: Some(Vec::new()), ..Self::default() };
        for _ in 0..farms {
            let start = numbers.whole(3, 2 * u32::try_from(months).unwrap() / 3);
            let is_started = numbers.unit() >= never;
            made.start.push(is_started.then_some(start));
            made.area.push(numbers.whole(0, 2));
            made.gaps.push([0.1 * numbers.unit(), 0.1 * numbers.unit()]);
            made.ration_month.push(Some(start));
            let herd = f64::from(numbers.whole(2, 9)) * 30.0;
            for rate in [1.5, 0.5] {
                for t in 0..months {
                    let season = 1.0 + 0.2 * (t as f64 * std::f64::consts::TAU / 12.0).sin();
                    let is_after = is_started && t > start as usize;
                    let spared = if is_after { 0.8 } else { 1.0 };
                    let noise = (0.1 * numbers.normal()).exp();
                    made.kg.push(herd * rate * season * spared * noise);
                    made.price.push(500.0 * (0.05 * numbers.normal()).exp());
                }
                let stated = rate * (0.1 + 0.1 * numbers.normal()).exp();
                made.ration.as_mut().unwrap().push(stated);
            }
            made.animal_days.extend(vec![herd; months]);
            for t in 0..months {
                made.known.push(numbers.unit() > 0.1);
                let near = is_started && (start as usize).abs_diff(t) == 1;
                made.mixed.push(if near { numbers.unit() } else { 0.0 });
                made.open.push(if t + 1 == months { numbers.unit() } else { 0.0 });
            }
        }
        made.month_of_year = (0..12).cycle().take(months).collect();
        made
    }

    /// The same farms in another order of months or farms: every slice by farm.
    fn in_order(&self, order: &[usize]) -> Self {
        fn take<T: Clone>(values: &[T], order: &[usize]) -> Vec<T> {
            let width = values.len() / order.len();
            order.iter().flat_map(|i| values[i * width..(i + 1) * width].to_vec()).collect()
        }
        Self {
            kg: take(&self.kg, order),
            price: take(&self.price, order),
            animal_days: take(&self.animal_days, order),
            known: take(&self.known, order),
            mixed: take(&self.mixed, order),
            open: take(&self.open, order),
            start: take(&self.start, order),
            ration: self.ration.as_ref().map(|r| take(r, order)),
            ration_month: take(&self.ration_month, order),
            area: take(&self.area, order),
            gaps: take(&self.gaps, order),
            ..self.clone()
        }
    }

    /// A year of months without records before the first.
    fn a_year_later(&self) -> Self {
        fn pad<T: Copy>(values: &[T], months: usize, with: T) -> Vec<T> {
            let rows = values.chunks(months);
            rows.flat_map(|row| [vec![with; 12], row.to_vec()].concat()).collect()
        }
        let t = self.months;
        Self {
            months: t + 12,
            kg: pad(&self.kg, t, 0.0),
            price: pad(&self.price, t, f64::NAN),
            animal_days: pad(&self.animal_days, t, 0.0),
            known: pad(&self.known, t, false),
            mixed: pad(&self.mixed, t, 0.0),
            open: pad(&self.open, t, 0.0),
            start: self.start.iter().map(|s| s.map(|s| s + 12)).collect(),
            ration_month: self.ration_month.iter().map(|s| s.map(|s| s + 12)).collect(),
            month_of_year: (0..12).cycle().take(t + 12).collect(),
            ..self.clone()
        }
    }
}

fn near(x: f64, expected: f64) -> bool {
    (x - expected).abs() <= 1e-7 * expected.abs().max(1e-9)
}

fn assert_near(x: f64, expected: f64) {
    assert!(near(x, expected), "{x} for {expected}");
}

/// All numbers of both: months `later` in the second, money `factor` times as much.
fn assert_same(a: &FeedSavings, b: &FeedSavings, months: usize, later: usize, factor: f64) {
    for (i, (x, y)) in a.farms.iter().zip(&b.farms).enumerate() {
        assert_eq!((x.status, x.is_adjusted), (y.status, y.is_adjusted), "{i}");
        assert_near(y.ration_weight, x.ration_weight);
        for t in 0..months {
            match (a.cell(i, t), b.cell(i, t + later)) {
                (Some(x), Some(y)) => {
                    assert_near(y.baseline, factor * x.baseline);
                    assert_near(y.eaten, factor * x.eaten);
                    assert_near(y.standard_error, factor * x.standard_error);
                }
                (x, y) => assert!(x.is_none() && y.is_none(), "{i} {t}: {x:?} {y:?}"),
            }
        }
        assert_near(b.farm_error(i, Months::All), factor * a.farm_error(i, Months::All));
    }
    let everybody = vec![true; a.farms.len()];
    let (x, y) = (a.total(&everybody, Months::All), b.total(&everybody, Months::All));
    assert_near(y.saving, factor * x.saving);
    assert_near(y.standard_error, factor * x.standard_error);
    assert_eq!((x.rows, x.lacking, x.farms), (y.rows, y.lacking, y.farms));
}

fn config() -> ProptestConfig {
    ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() }
}

proptest! {
    #![proptest_config(config())]

    /// Another currency changes money only.
    #[test]
    fn money_scales_with_money(seed in 0_u64..1000, farms in 1_usize..40, factor in 1e-3..1e3) {
        let made = Made::new(seed, farms, 24, 0.3);
        let mut other = made.clone();
        other.price.iter_mut().for_each(|p| *p *= factor);
        assert_same(&made.savings(), &other.savings(), 24, 0, factor);
    }

    /// The same records a year later give the same numbers a year later.
    #[test]
    fn months_may_move_by_whole_years(seed in 0_u64..1000, farms in 1_usize..40) {
        let made = Made::new(seed, farms, 30, 0.2);
        assert_same(&made.savings(), &made.a_year_later().savings(), 30, 12, 1.0);
    }

    /// The order of farms says nothing.
    #[test]
    fn farms_may_come_in_any_order(seed in 0_u64..1000, farms in 2_usize..300) {
        let made = Made::new(seed, farms, 20, 0.3);
        let back: Vec<usize> = (0..farms).rev().collect();
        let (a, b) = (made.savings(), made.in_order(&back).savings());
        for i in 0..farms {
            for t in 0..20 {
                let (x, y) = (a.cell(i, t), b.cell(farms - 1 - i, t));
                prop_assert_eq!(x.is_some(), y.is_some());
                if let Some((x, y)) = x.zip(y) {
                    prop_assert!(near(y.saving, x.saving) && near(y.standard_error, x.standard_error));
                }
            }
        }
        let everybody = vec![true; farms];
        let error = |s: &FeedSavings| s.total(&everybody, Months::All).standard_error;
        prop_assert!(near(error(&b), error(&a)));
    }

    /// Of a farm's single month, the short way and the long way to its error agree.
    #[test]
    fn errors_of_single_months_agree(seed in 0_u64..1000, never in 0.0..0.6_f64) {
        let made = Made::new(seed, 25, 30, never);
        let savings = made.savings();
        for i in 0..25 {
            for t in 0..30 {
                let month: Vec<bool> = (0..30).map(|s| s == t).collect();
                let long = savings.farm_error(i, Months::Same(&month));
                match savings.cell(i, t) {
                    Some(cell) => prop_assert!(near(cell.standard_error, long)),
                    None => prop_assert!(long.abs() <= 0.0),
                }
            }
        }
    }

    /// Freezing what was computed changes nothing.
    #[test]
    fn freezing_what_is_changes_nothing(seed in 0_u64..1000, never in 0.0..0.6_f64) {
        let mut made = Made::new(seed, 30, 26, never);
        let open = made.savings();
        made.frozen = (0..30).map(|i| open.to_freeze(i)).collect();
        made.frozen_index = Some(open.shared.index.clone());
        let frozen = made.savings();
        assert_same(&open, &frozen, 26, 0, 1.0);
        prop_assert_eq!(open.shared.source, frozen.shared.source);
    }

    /// Nothing that comes in stops the program, and no answer holds "not a number".
    #[test]
    fn odd_panels_do_not_stop_it(
        seed in 0_u64..1000,
        odd in prop::collection::vec((0_usize..10_000, prop::num::f64::ANY), 0..12),
        farms in 0_usize..12,
        months in 0_usize..15,
    ) {
        let mut made = Made::new(seed, 12, 15, 0.3).cut(farms, months);
        for (place, value) in odd {
            let slices = [&mut made.kg, &mut made.price, &mut made.animal_days, &mut made.mixed,
                &mut made.open];
            for (k, slice) in slices.into_iter().enumerate() {
                let at = place / (k + 1) % slice.len().max(1);
                if let Some(slot) = slice.get_mut(at).filter(|_| place % 5 == k) {
                    *slot = value;
                }
            }
        }
        let savings = made.savings();
        for i in 0..=farms {
            for t in 0..=months {
                let text = format!("{:?} {:?}", savings.cell(i, t), savings.basket(i));
                prop_assert!(!text.contains("NaN"), "{}", text);
            }
            prop_assert!(!savings.farm_error(i, Months::All).is_nan());
        }
        let total = savings.total(&vec![true; farms + 1], Months::All);
        prop_assert!(!format!("{total:?} {:?}", savings.shared).contains("NaN"), "{:?}", total);
    }
}

impl Made {
    /// The first farms and months.
    fn cut(&self, farms: usize, months: usize) -> Self {
        fn cut<T: Clone>(values: &[T], row: usize, rows: usize, months: usize) -> Vec<T> {
            let kept = values.chunks(row).take(rows);
            kept.flat_map(|row| row.iter().take(months).cloned().collect::<Vec<T>>()).collect()
        }
        let (t, n, k) = (self.months, farms, self.feeds);
        Self {
            months,
            kg: cut(&self.kg, t, n * k, months),
            price: cut(&self.price, t, n * k, months),
            animal_days: cut(&self.animal_days, t, n, months),
            known: cut(&self.known, t, n, months),
            mixed: cut(&self.mixed, t, n, months),
            open: cut(&self.open, t, n, months),
            start: self.start[..n].to_vec(),
            ration: self.ration.as_ref().map(|r| r[..n * k].to_vec()),
            ration_month: self.ration_month[..n].to_vec(),
            area: self.area[..n].to_vec(),
            month_of_year: self.month_of_year[..months].to_vec(),
            gaps: self.gaps[..n].to_vec(),
            ..self.clone()
        }
    }
}

/// One feed at price 10, 100 animal-days a month, 200 kg before and 150 kg after the start.
fn plain(start: &[Option<u32>], months: usize) -> Made {
    let cells = start.len() * months;
    let eaten = |g: &Option<u32>, t: usize| g.is_some_and(|g| t > g as usize);
    let kg = start
        .iter()
        .flat_map(|g| (0..months).map(move |t| if eaten(g, t) { 150.0 } else { 200.0 }));
    Made {
        feeds: 1,
        months,
        kg: kg.collect(),
        price: vec![10.0; cells],
        animal_days: vec![100.0; cells],
        known: vec![true; cells],
        mixed: vec![0.0; cells],
        open: vec![0.0; cells],
        start: start.to_vec(),
        area: vec![0; start.len()],
        month_of_year: (0..12).cycle().take(months).collect(),
        gaps: vec![[0.0, 0.0]; start.len()],
        ..Made::default()
    }
}

/// A farm alone: 2 kg for each animal-day before, 1.5 after, at price 10 and 100 animal-days:
/// 2,000 less 1,500. Nobody tells the season, so the error is a swing of 8.5 % of unknown peak.
#[test]
fn a_farm_alone_has_a_number_with_the_season_left_in() {
    let savings = plain(&[Some(4)], 8).savings();
    let farm = savings.farms[0];
    assert_eq!((farm.status, farm.is_adjusted), (BaselineStatus::Ok, false));
    assert_eq!((farm.months, farm.months_after), (4, 3));
    assert!(savings.shared.source.iter().all(|s| *s == IndexSource::None));
    let cell = savings.cell(0, 6).unwrap();
    assert_near(cell.baseline, 2_000.0);
    assert_near(cell.saving, 500.0);
    // July stands opposite January; the four months before weigh a quarter each.
    let turn = |t: f64| t * std::f64::consts::TAU / 12.0;
    let swing =
        |f: fn(f64) -> f64| f(turn(6.0)) - (0..4).map(|t| f(turn(f64::from(t)))).sum::<f64>() / 4.0;
    assert_near(cell.standard_error, 2_000.0 * 0.085 * swing(f64::cos).hypot(swing(f64::sin)));
    let total = savings.total(&[true], Months::All);
    assert_eq!((total.rows, total.lacking, total.farms), (3, 0, 1));
    assert_near(total.saving, 1_500.0);
    let nothing = savings.total(&[false], Months::All);
    assert_eq!((nothing.rows, nothing.standard_error.abs() <= 0.0), (0, true));
}

/// Nobody is untreated: no index, no baseline, no number, and sums of nothing.
#[test]
fn with_nobody_untreated_there_is_no_number() {
    let savings = plain(&[Some(0); 20], 8).savings();
    assert!(savings.farms.iter().all(|f| f.status == BaselineStatus::NoBaseline));
    let total = savings.total(&[true; 20], Months::All);
    assert_eq!((total.rows, total.lacking, total.farms), (0, 140, 0));
    assert!(savings.to_freeze(0).is_none() && savings.farm_error(0, Months::All).abs() <= 0.0);
}

/// A season that farms without fodder show exactly is taken out exactly: 250 kg in the rich
/// months and 150 kg in the lean ones are the same feeding.
#[test]
fn a_season_that_others_show_is_taken_out() {
    let mut made = plain(&[vec![None; 8], vec![Some(4)]].concat(), 10);
    let rich = |t: usize| if t.is_multiple_of(2) { 1.25 } else { 0.75 };
    for (i, kg) in made.kg.iter_mut().enumerate() {
        *kg *= rich(i % 10);
    }
    let savings = made.savings();
    assert!(savings.farms[8].is_adjusted);
    for t in 5..10 {
        assert_near(savings.cell(8, t).unwrap().baseline, 2_000.0 * rich(t));
        assert_near(savings.cell(8, t).unwrap().eaten, 1_500.0 * rich(t));
    }
    assert_near(savings.shared.index[0].unwrap(), 1.25);
}

/// Months that no farm connects: only the larger set has an index.
#[test]
fn months_that_nobody_connects_have_no_index() {
    let months = 8;
    let mut cost = Vec::new();
    let mut is_untreated = Vec::new();
    for i in 0..14 {
        for t in 0..months {
            cost.push(10.0 + f64::from(i) + if t % 2 == 0 { 2.0 } else { 0.0 });
            is_untreated.push(if i < 7 { t < 3 } else { t >= 3 });
        }
    }
    let fit = season_index(&cost, &is_untreated, months, 6);
    assert!(fit.index[..3].iter().all(Option::is_none));
    assert!(fit.index[3..].iter().all(Option::is_some));
    assert_eq!((fit.months_known(), fit.farms_used()), (5, 7));
    let mean = fit.index.iter().flatten().sum::<f64>() / 5.0;
    assert_near(mean, 1.0);
}

/// A frozen baseline stays when records before the start change; open farms follow theirs.
#[test]
fn a_frozen_baseline_stays() {
    let mut made = plain(&[Some(4), Some(4)], 8);
    let before = made.savings();
    made.frozen = vec![before.to_freeze(0), None];
    for i in 0..2 {
        made.kg[i * 8..i * 8 + 4].fill(300.0);
    }
    let after = made.savings();
    assert_near(after.cell(0, 6).unwrap().baseline, 2_000.0);
    assert_near(after.cell(1, 6).unwrap().baseline, 3_000.0);
    assert_eq!(after.farms[0].status, BaselineStatus::Ok);
    assert_near(after.farms[0].level.unwrap(), 20.0);
}

/// Frozen months keep their index; one factor brings the later fit to their mean. The frozen
/// months had 1.2 and 1.2, the fit now says 1.25 and 0.75 there: the factor is 1.2.
#[test]
fn a_later_fit_is_scaled_to_the_frozen_months() {
    let mut made = plain(&[vec![None; 8], vec![Some(4)]].concat(), 10);
    for (i, kg) in made.kg.iter_mut().enumerate() {
        *kg *= if (i % 10).is_multiple_of(2) { 1.25 } else { 0.75 };
    }
    let mut frozen = vec![None; 10];
    (frozen[0], frozen[1]) = (Some(1.2), Some(1.2));
    made.frozen_index = Some(frozen);
    let savings = made.savings();
    assert_near(savings.shared.index[0].unwrap(), 1.2);
    assert_near(savings.shared.index[1].unwrap(), 1.2);
    assert_near(savings.shared.index[2].unwrap(), 1.5);
    assert_near(savings.shared.index[3].unwrap(), 0.9);
}

/// A stated ration alone: 3 kg at price 10 for 100 animal-days.
#[test]
fn a_ration_alone_is_a_baseline() {
    let mut made = plain(&[Some(2)], 6);
    made.ration = Some(vec![3.0]);
    made.ration_month = vec![Some(2)];
    let savings = made.savings();
    let farm = savings.farms[0];
    assert_eq!((farm.status, farm.months), (BaselineStatus::RationOnly, 2));
    assert_near(farm.ration_weight, 1.0);
    let cell = savings.cell(0, 4).unwrap();
    assert_near(cell.baseline, 3_000.0);
    // A ration is worth 25 %, a season not removed 8.5 %.
    assert_near(cell.standard_error, 3_000.0 * 0.25_f64.hypot(0.085));
    assert!(savings.weights(0).iter().all(|w| w.abs() <= 0.0));
}

/// By hand: `1 + 4 + 9 + 2 * 0.5 * (0.4 * (1*2 + 2*3) + 0.16 * 1*3)`.
#[test]
fn lasting_square_meets_a_sum_by_hand() {
    assert_near(lasting_square(&[1.0, 2.0, 3.0], 0.5, 0.4), 14.0 + 3.2 + 0.48);
    assert!(lasting_square(&[], 0.5, 0.4).abs() <= 0.0);
}

/// A slice that does not fit is named.
#[test]
fn slices_that_do_not_fit_are_named() {
    let made = plain(&[Some(4)], 8);
    let panel = SavingPanel {
        feeds: 1,
        months: 8,
        kg: &made.kg,
        price: &made.price,
        animal_days: &made.animal_days,
        is_known: &made.known,
        mixed_share: &made.mixed,
        start: &made.start,
        ..SavingPanel::default()
    };
    let rules = Rules::default();
    assert!(feed_saving(&panel, &rules).is_ok());
    let error = |panel: SavingPanel| feed_saving(&panel, &rules).unwrap_err().to_string();
    assert!(error(SavingPanel { price: &[], ..panel }).contains("price"));
    assert!(error(SavingPanel { area: Some(&[]), ..panel }).contains("area"));
    assert!(error(SavingPanel { frozen: &[None, None], ..panel }).contains("frozen"));
    let frozen = FrozenBaseline {
        basket: vec![1.0, 2.0],
        weights: vec![0.0; 8],
        ration_weight: 0.0,
        is_adjusted: false,
    };
    assert!(error(SavingPanel { frozen: &[Some(frozen)], ..panel }).contains("basket"));
}

/// The error of a sum is what both ways of counting say: farms without season, ration, areas
/// and gaps are independent, so their squares add.
#[test]
fn sums_of_farms_apart_add_their_squares() {
    let made = Made { area: (0..6).collect(), ration: None, ..Made::new(7, 6, 18, 0.0) };
    let made = Made { gaps: vec![[0.0, 0.0]; made.farms()], ..made };
    let savings = made.savings();
    assert!(savings.shared.index.iter().all(Option::is_none), "too few farms for an index");
    let month: Vec<bool> = (0..18).map(|t| t >= 15).collect();
    let noise = |i: usize| {
        let one: Vec<bool> = (0..6).map(|j| i == j).collect();
        let total = savings.total(&one, Months::Same(&month));
        let own = savings.farm_error(i, Months::Same(&month));
        assert_near(total.standard_error, own);
        total
    };
    let parts: Vec<_> = (0..6).map(noise).collect();
    let all = savings.total(&[true; 6], Months::Same(&month));
    assert_near(all.saving, parts.iter().map(|p| p.saving).sum());
    assert_eq!(all.rows, parts.iter().map(|p| p.rows).sum::<usize>());
    // The season left in is one swing for all, so the whole is more than independent parts.
    let apart: f64 = parts.iter().map(|p| p.standard_error.powi(2)).sum();
    let together: f64 = parts.iter().map(|p| p.standard_error).sum();
    assert!(all.standard_error > apart.sqrt() && all.standard_error <= together);
}
