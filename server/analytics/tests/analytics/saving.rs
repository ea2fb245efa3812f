//! Feed saving by hand: known truths, minimum data and what is left out.

#![expect(clippy::unwrap_used, reason = "a test stops at the first thing that is not there")]

use traybook_analytics::feed_panel::{FeedPanel, FeedSlices};
use traybook_analytics::saving::{FarmSaving, SavingRules, SavingStatus, Savings, feed_saving};

const MISSING: f64 = f64::NAN;

/// Farms of 100 animal-days a month that use 200 and 100 of two feeds at prices 1 and 2.
struct Feeds {
    months: usize,
    quantity: Vec<f64>,
    price: Vec<f64>,
    other_cost: Vec<f64>,
    animal_days: Vec<f64>,
    output: Vec<f64>,
    start: Vec<Option<u32>>,
}

impl Feeds {
    fn new(months: usize, start: &[Option<u32>]) -> Self {
        let cells = months * start.len();
        Self {
            months,
            quantity: [200.0, 100.0].repeat(cells),
            price: [1.0, 2.0].repeat(cells),
            other_cost: vec![0.0; cells],
            animal_days: vec![100.0; cells],
            output: vec![500.0; cells],
            start: start.to_vec(),
        }
    }

    fn cell(&self, farm: usize, month: usize) -> usize {
        farm * self.months + month
    }

    fn savings(&self, rules: &SavingRules) -> Savings {
        let slices = FeedSlices {
            quantity: &self.quantity,
            price: &self.price,
            other_cost: &self.other_cost,
            animal_days: &self.animal_days,
            output: &self.output,
            start: &self.start,
        };
        feed_saving(&FeedPanel::new(self.months, 2, slices).unwrap(), rules)
    }

    fn first(&self, rules: &SavingRules) -> (SavingStatus, Option<FarmSaving>) {
        let answer = self.savings(rules).farms[0].clone();
        (answer.status, answer.saving)
    }
}

/// More farms than are worked on at once: each counts once.
#[test]
fn reference_prices_are_medians_over_all_farms() {
    let mut feeds = Feeds::new(3, &[None; 300]);
    for cell in 130 * 3..300 * 3 {
        feeds.price[cell * 2] = 7.0;
    }
    let savings = feeds.savings(&plain());
    assert_eq!(savings.price_reference, [Some(7.0), Some(2.0)]);
}

fn plain() -> SavingRules {
    SavingRules { is_seasonal: false, ..SavingRules::default() }
}

fn close(x: f64, expected: f64) {
    assert!((x - expected).abs() < 1e-9, "{x} where {expected} is right");
}

#[test]
fn feed_saving_reprices_the_old_ration() {
    let mut feeds = Feeds::new(6, &[Some(3), None]);
    for month in [4, 5] {
        let cell = feeds.cell(0, month);
        feeds.quantity[2 * cell] = 100.0;
        feeds.price[2 * cell] = 1.5;
        feeds.other_cost[cell] = 40.0;
        feeds.animal_days[cell] = 50.0;
    }
    let (status, saving) = feeds.first(&plain());
    let saving = saving.unwrap();
    assert_eq!(status, SavingStatus::Estimated);
    // Old ration a day: 2 and 1; at new prices 2 · 1.5 + 1 · 2 = 5. Spent: 150 + 200 + 40.
    let month = saving.months[0];
    assert_eq!((month.month, saving.months.len(), saving.baseline_months), (4, 2, 3));
    close(month.counterfactual_per_day, 5.0);
    close(month.actual_per_day, 390.0 / 50.0);
    close(month.saving, 250.0 - 390.0);
    close(saving.total.value, -280.0);
    close(saving.counterfactual_total, 500.0);
    close(saving.per_day.value, -2.8);
    close(saving.per_unit.unwrap(), -0.28);
    close(saving.per_unit_matched.unwrap(), -0.28);
    close(saving.percent.unwrap(), -56.0);
    close(saving.animal_days, 100.0);
    close(saving.degrees_of_freedom, 6.0);
    // Unit values 1 and 2; new ration a day 2 and 2.
    close(saving.prices.laspeyres.unwrap(), 5.0 / 4.0);
    close(saving.prices.paasche.unwrap(), 7.0 / 6.0);
    close(saving.prices.fisher.unwrap(), (35.0_f64 / 24.0).sqrt());
    close(saving.prices.bennet_quantity, -2.0);
    // A baseline without noise has no error.
    close(saving.total.standard_error.unwrap(), 0.0);
}

/// [ARITH] by hand: baseline costs 3, 4, 5 a day about 4: relative squares 1/16, 0, 1/16, mean
/// 1/24.
#[test]
fn feed_saving_carries_the_noise_of_the_baseline() {
    let mut feeds = Feeds::new(6, &[Some(3)]);
    for (month, factor) in [(0, 0.75), (2, 1.25)] {
        let cell = feeds.cell(0, month);
        feeds.quantity[2 * cell] *= factor;
        feeds.quantity[2 * cell + 1] *= factor;
    }
    let saving = feeds.first(&plain()).1.unwrap();
    // w'Rw for three equal weights and neighbours at 0.3, ends at 0.09.
    let level: f64 = (3.0 + 2.0 * (0.3 + 0.3 + 0.09)) / 9.0;
    let variance = (1.0 / 24.0) / (1.0 - level);
    let month = saving.months[0].standard_error_per_day.unwrap();
    close(month, 4.0 * (variance * (1.0 + level)).sqrt());
    // Two months of equal cost after the start.
    let two = (2.0 + 2.0 * 0.3) / 4.0;
    let total = 800.0 * (variance * (two + level)).sqrt();
    close(saving.total.standard_error.unwrap(), total);
    close(saving.per_day.standard_error.unwrap(), total / 200.0);
    // Student's t, 6 degrees of freedom: 2.4469.
    let interval = saving.total.interval.unwrap();
    assert!(((interval.upper - interval.lower) / 2.0 / total - 2.446_911_851).abs() < 1e-8);
    close((interval.upper + interval.lower) / 2.0, 0.0);
}

#[test]
fn status_names_what_is_missing() {
    let status = |start: Option<u32>, gone: &[usize]| {
        let mut feeds = Feeds::new(8, &[start]);
        for month in gone {
            let cell = feeds.cell(0, *month);
            feeds.quantity[2 * cell + 1] = MISSING;
        }
        feeds.first(&plain()).0
    };
    assert_eq!(status(None, &[]), SavingStatus::NotStarted);
    assert_eq!(status(Some(0), &[]), SavingStatus::NoBaseline);
    assert_eq!(status(Some(3), &[0, 1, 2]), SavingStatus::NoBaseline);
    assert_eq!(status(Some(3), &[0, 2]), SavingStatus::InsufficientBaseline);
    assert_eq!(status(Some(3), &[0]), SavingStatus::Estimated);
    assert_eq!(status(Some(7), &[]), SavingStatus::NoPostMonths);
    assert_eq!(status(Some(9), &[]), SavingStatus::NoPostMonths);
    assert_eq!(status(Some(6), &[]), SavingStatus::Estimated);
    assert_eq!(status(Some(6), &[7]), SavingStatus::NoPostMonths);
}

#[test]
fn a_month_counts_only_when_all_of_it_is_reported() {
    let months = |spoil: &dyn Fn(&mut Feeds, usize)| {
        let mut feeds = Feeds::new(6, &[Some(2)]);
        let cell = feeds.cell(0, 4);
        spoil(&mut feeds, cell);
        feeds.first(&plain()).1.unwrap().months.len()
    };
    assert_eq!(months(&|_, _| {}), 3);
    assert_eq!(months(&|f, c| f.quantity[2 * c] = MISSING), 2);
    assert_eq!(months(&|f, c| f.price[2 * c + 1] = MISSING), 2);
    assert_eq!(months(&|f, c| f.other_cost[c] = MISSING), 2);
    assert_eq!(months(&|f, c| f.animal_days[c] = 0.0), 2);
    assert_eq!(months(&|f, c| f.animal_days[c] = MISSING), 2);
    assert_eq!(months(&|f, c| f.quantity[2 * c] = 1e13), 2);
    // A recorded 0 is 0, and output is not needed.
    assert_eq!(months(&|f, c| f.quantity[2 * c] = 0.0), 3);
    assert_eq!(months(&|f, c| f.output[c] = MISSING), 3);
}

#[test]
fn per_unit_matches_savings_to_the_months_with_output() {
    let mut feeds = Feeds::new(5, &[Some(2)]);
    let (third, fourth) = (feeds.cell(0, 3), feeds.cell(0, 4));
    feeds.quantity[2 * third] = 100.0;
    feeds.quantity[2 * fourth] = 150.0;
    feeds.output[fourth] = MISSING;
    let saving = feeds.first(&plain()).1.unwrap();
    close(saving.total.value, 150.0);
    close(saving.per_unit.unwrap(), 150.0 / 500.0);
    close(saving.per_unit_matched.unwrap(), 100.0 / 500.0);
    feeds.output[third] = MISSING;
    let saving = feeds.first(&plain()).1.unwrap();
    assert_eq!((saving.per_unit, saving.per_unit_matched), (None, None));
}

#[test]
fn the_baseline_is_the_last_twelve_months() {
    let mut feeds = Feeds::new(20, &[Some(15)]);
    let baseline = |feeds: &Feeds| feeds.first(&plain()).1.unwrap();
    let old = feeds.cell(0, 2);
    feeds.quantity[2 * old] = 9_000.0;
    assert_eq!(baseline(&feeds).baseline_months, 12);
    close(baseline(&feeds).months[0].counterfactual_per_day, 4.0);
    let inside = feeds.cell(0, 3);
    feeds.quantity[2 * inside] = 9_000.0;
    assert!(baseline(&feeds).months[0].counterfactual_per_day > 5.0);
}

#[test]
fn seasons_are_taken_out_and_their_absence_is_said() {
    // Five untreated farms and one started use half as much again in odd months.
    let mut feeds = Feeds::new(9, &[None, None, None, None, None, Some(4)]);
    for farm in 0..6 {
        for month in (1..9).step_by(2) {
            let cell = feeds.cell(farm, month);
            feeds.quantity[2 * cell] *= 1.5;
            feeds.quantity[2 * cell + 1] *= 1.5;
        }
    }
    let answer = feeds.savings(&SavingRules::default());
    assert_eq!(answer.farms[5].status, SavingStatus::Estimated);
    let saving = answer.farms[5].saving.as_ref().unwrap();
    saving.months.iter().for_each(|m| close(m.saving, 0.0));
    close(answer.month_index[1].unwrap() / answer.month_index[0].unwrap(), 1.5);
    // One farm fewer: four controls after the start, no index there.
    let cell = feeds.cell(0, 6);
    feeds.quantity[2 * cell] = MISSING;
    let answer = feeds.savings(&SavingRules::default());
    assert_eq!(answer.month_index[6], None);
    assert_eq!(answer.farms[5].status, SavingStatus::EstimatedUnadjusted);
}

#[test]
fn nothing_fed_before_gives_a_saving_without_interval() {
    let mut feeds = Feeds::new(6, &[Some(3), Some(3)]);
    for month in 0..3 {
        let cell = feeds.cell(0, month);
        feeds.quantity[2 * cell] = 0.0;
        feeds.quantity[2 * cell + 1] = 0.0;
    }
    let answer = feeds.savings(&plain());
    let saving = answer.farms[0].saving.as_ref().unwrap();
    close(saving.total.value, -800.0);
    assert_eq!((saving.total.standard_error, saving.total.interval), (None, None));
    assert_eq!((saving.percent, saving.prices.laspeyres), (None, None));
    assert_eq!(saving.months[0].standard_error_per_day, None);
    // With one month there is no spread to judge: nothing fed, no error of a month.
    let one = SavingRules { baseline_months_min: 1, baseline_months_max: 1, ..plain() };
    let single = feeds.savings(&one).farms[0].saving.clone().unwrap();
    close(single.months[0].standard_error_per_day.unwrap(), 0.0);
    assert_eq!(single.total.standard_error, None);
    // The neighbour is not touched by it.
    close(answer.farms[1].saving.as_ref().unwrap().total.standard_error.unwrap(), 0.0);
}

/// A ration that cost nothing at reference prices has no spread that could be judged: a saving at
/// prices that came later has no error, and not the error 0.
#[test]
fn a_ration_that_was_free_before_has_a_saving_without_interval() {
    let mut feeds = Feeds::new(6, &[Some(3)]);
    let bought_from = 2 * feeds.cell(0, 4);
    feeds.price[..bought_from].fill(0.0);
    let answer = feeds.savings(&plain());
    assert_eq!(answer.price_reference, [Some(0.0), Some(0.0)]);
    let saving = answer.farms[0].saving.as_ref().unwrap();
    close(saving.counterfactual_total, 800.0);
    close(saving.total.value, 0.0);
    assert_eq!((saving.total.standard_error, saving.total.interval), (None, None));
    assert_eq!(saving.months[0].standard_error_per_day, None);
}

#[test]
fn programme_carries_the_sample_to_all_started_farms() {
    let mut feeds = Feeds::new(6, &[Some(3), Some(3), Some(3), None]);
    for (farm, used) in [(0, 100.0), (1, 150.0)] {
        for month in [4, 5] {
            let cell = feeds.cell(farm, month);
            feeds.quantity[2 * cell] = used;
        }
    }
    // The third has animals but no feed records after its start.
    for month in [4, 5] {
        let cell = feeds.cell(2, month);
        feeds.quantity[2 * cell] = MISSING;
    }
    let programme = feeds.savings(&plain()).programme.unwrap();
    assert_eq!(programme.farms, 2);
    close(programme.sample_total, 300.0);
    close(programme.per_day, 0.75);
    close(programme.animal_days, 600.0);
    close(programme.total, 450.0);
    // Deviations 50 and -50 over 400 animal-days: sqrt(2 · 5,000) / 400 = 0.25.
    close(programme.per_day_standard_error, 0.25);
    close(programme.total_standard_error, 150.0);
    // One degree of freedom: 12.7062.
    assert!((programme.per_day_interval.upper - 0.75 - 0.25 * 12.706_204_736).abs() < 1e-8);
    assert!((programme.total_interval.lower - 450.0 + 150.0 * 12.706_204_736).abs() < 1e-6);
    let one = Feeds::new(6, &[Some(3), None]);
    assert_eq!(one.savings(&plain()).programme, None);
}

#[test]
fn reference_prices_are_medians_over_reported_months() {
    let mut feeds = Feeds::new(2, &[None, None]);
    feeds.price[0] = 5.0;
    feeds.price[2] = 3.0;
    assert_eq!(feeds.savings(&plain()).price_reference, [Some(2.0), Some(2.0)]);
    feeds.animal_days.fill(MISSING);
    assert_eq!(feeds.savings(&plain()).price_reference, [None, None]);
}

#[test]
fn feed_panels_refuse_parts_that_do_not_fit() {
    let feeds = Feeds::new(3, &[None, Some(1)]);
    let slices = FeedSlices {
        quantity: &feeds.quantity,
        price: &feeds.price,
        other_cost: &feeds.other_cost,
        animal_days: &feeds.animal_days,
        output: &feeds.output,
        start: &feeds.start,
    };
    assert!(FeedPanel::new(3, 2, slices).is_ok());
    assert!(FeedPanel::new(3, 1, slices).is_err());
    assert!(FeedPanel::new(601, 2, slices).is_err());
    for broken in [
        FeedSlices { quantity: &feeds.quantity[1..], ..slices },
        FeedSlices { price: &feeds.price[1..], ..slices },
        FeedSlices { other_cost: &feeds.other_cost[1..], ..slices },
        FeedSlices { animal_days: &feeds.animal_days[1..], ..slices },
        FeedSlices { output: &feeds.output[1..], ..slices },
        FeedSlices { start: &feeds.start[1..], ..slices },
    ] {
        assert!(FeedPanel::new(3, 2, broken).is_err());
    }
}
