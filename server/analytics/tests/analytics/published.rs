//! Published values through the same code that answers our own questions.
//!
//! Tags: [READ] read in the source named, [DATA] computed from a public data set, [ARITH]
//! arithmetic on quoted inputs, [MEM] from memory, for plausibility or as input only.

#![expect(clippy::unwrap_used, reason = "a test stops at the first thing that is not there")]

use nalgebra::{DMatrix, DVector};
use statrs::function::erf::erf;
use traybook_analytics::callaway::{Control, GroupTimes, group_times};
use traybook_analytics::net::depreciation_per_month;
use traybook_analytics::panel::{Panel, fit_untreated};
use traybook_analytics::records::{Covariates, OutputRecord, farm_months};
use traybook_analytics::spoilage::{BetaBinomial, beta_binomial_ln, step};
use traybook_analytics::stats::{
    benjamini_hochberg, student_t_critical_95, wilson_interval, wilson_of_share,
};

fn close(x: f64, expected: f64, near: f64) {
    assert!((x - expected).abs() <= near, "{x} where {expected} ± {near} is right");
}

/// Rows of numbers of a CSV file beside the tests, without its heading.
fn csv(name: &str) -> Vec<Vec<f64>> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/");
    let text = std::fs::read_to_string(format!("{folder}{name}")).unwrap();
    let row = |line: &str| line.split(',').map(|x| x.trim().parse().unwrap()).collect();
    text.lines().skip(1).filter(|line| !line.is_empty()).map(row).collect()
}

/// County panel of `mpdta.csv`: log employment, ones, first treated year less 2003.
fn mpdta() -> (Vec<f64>, Vec<f64>, Vec<Option<u32>>) {
    let mut counties = std::collections::BTreeMap::new();
    for row in csv("mpdta.csv") {
        let (year, county, employment, first) = (row[0], row[1], row[3], row[4]);
        let start = (first > 0.0).then(|| first as u32 - 2003);
        let held = counties.entry(county as u64).or_insert(([f64::NAN; 5], start));
        held.0[year as usize - 2003] = employment;
    }
    let start: Vec<Option<u32>> = counties.values().map(|c| c.1).collect();
    let values: Vec<f64> = counties.values().flat_map(|c| c.0).collect();
    (values.clone(), vec![1.0; values.len()], start)
}

fn effect(times: &GroupTimes, group: u32, year: u32) -> f64 {
    let is_it = |e: &&traybook_analytics::callaway::GroupTimeEffect| {
        (e.start + 2003, e.month + 2003) == (group, year)
    };
    times.effects.iter().find(is_it).unwrap().effect
}

/// [READ] R `did` README; Callaway & Sant'Anna 2021, J. Econometrics 225:200. Four decimals;
/// errors there are from a bootstrap, so two decimals of them.
#[test]
fn group_times_of_mpdta_are_the_published_ones() {
    let (y, ones, start) = mpdta();
    assert_eq!(start.len(), 500);
    let panel = Panel::new(5, &y, &ones, &start, None).unwrap();
    let times = group_times(&panel, Control::NeverStarted);
    let published = [
        (2004, [-0.0105, -0.0704, -0.1373, -0.1008]),
        (2006, [0.0065, -0.0028, -0.0046, -0.0412]),
        (2007, [0.0305, -0.0027, -0.0311, -0.0261]),
    ];
    for (group, by_year) in published {
        for (year, value) in (2004..).zip(by_year) {
            close(effect(&times, group, year), value, 5e-5);
        }
    }
    let dynamic = times.dynamic(0);
    let by_event = [0.0305, -0.0006, -0.0245, -0.0199, -0.0510, -0.1373, -0.1008];
    assert_eq!(dynamic.by_event.len(), 7);
    for ((event, estimate), (e, value)) in dynamic.by_event.iter().zip((-3..).zip(by_event)) {
        assert_eq!(*event, e);
        close(estimate.value, value, 5e-5);
    }
    let overall = dynamic.overall.unwrap();
    close(overall.value, -0.0772, 5e-5);
    close(overall.standard_error, 0.0196, 5e-3);
    let group = times.by_group(0);
    let by_group = [(1, -0.0797), (3, -0.0229), (4, -0.0261)];
    for ((start, estimate), (g, value)) in group.by_group.iter().zip(by_group) {
        assert_eq!(*start, g);
        close(estimate.value, value, 5e-5);
    }
    let overall = group.overall.unwrap();
    close(overall.value, -0.0310, 5e-5);
    close(overall.standard_error, 0.0123, 5e-3);
    // [DATA] simple average, csdid 0.4.3 and own code.
    close(times.simple(0).unwrap().value, -0.03995, 5e-6);
}

/// [READ] same source: controls not yet treated move the first effects of 2004 and 2006.
#[test]
fn group_times_of_mpdta_differ_with_controls_not_yet_started() {
    let (y, ones, start) = mpdta();
    let panel = Panel::new(5, &y, &ones, &start, None).unwrap();
    let times = group_times(&panel, Control::NotYetStarted);
    close(effect(&times, 2004, 2004), -0.0194, 5e-5);
    close(effect(&times, 2006, 2006), 0.0047, 5e-5);
}

/// [READ] NIST StRD Norris, certified values. With two months, the first all 0, eliminating farm
/// levels leaves `y = month effect + b x`: intercept and slope through the panel's own solver.
#[test]
fn fit_untreated_solves_norris_to_nine_digits() {
    let rows = csv("nist_norris.csv");
    let y: Vec<f64> = rows.iter().flat_map(|r| [0.0, r[0] / 10.0]).collect();
    let x: Vec<f64> = rows.iter().flat_map(|r| [0.0, r[1]]).collect();
    let start = vec![None; rows.len()];
    let ones = vec![1.0; y.len()];
    let covariates = Covariates::new(1, x).unwrap();
    let panel = Panel::new(2, &y, &ones, &start, Some(&covariates)).unwrap();
    let fit = fit_untreated(&panel, 0.0);
    // A tenth of y keeps it within the range of a logarithm.
    let (intercept, slope) = (10.0 * fit.month_effects[1], 10.0 * fit.coefficients[0]);
    close(intercept, -0.262_323_073_774_029, 1e-9);
    close(slope, 1.002_116_818_020_45, 1e-11);
    let square = |r: &Vec<f64>| (r[0] - intercept - slope * r[1]).powi(2);
    let spread = (rows.iter().map(square).sum::<f64>() / 34.0).sqrt();
    close(spread, 0.884_796_396_144_373, 1e-9);
}

/// [READ] + [DATA] Benjamini & Hochberg 1995, JRSS B 57:289, section 3.2: fifteen p-values, four
/// rejected at 0.05; the p-values as in the scipy documentation.
#[test]
fn benjamini_hochberg_rejects_four_of_the_published_fifteen() {
    let p = [
        0.0344, 0.0001, 1.0, 0.0004, 0.3240, 0.0019, 0.0459, 0.0095, 0.0201, 0.0278, 0.0298,
        0.4262, 0.5719, 0.6528, 0.7590,
    ];
    assert_eq!(benjamini_hochberg(&p, 0.05), [1, 3, 5, 7]);
    // Adjusted values of the fourth and fifth are 0.035625 and 0.0603: reject just above them.
    assert_eq!(benjamini_hochberg(&p, 0.0356).len(), 3);
    assert_eq!(benjamini_hochberg(&p, 0.0357).len(), 4);
    assert_eq!(benjamini_hochberg(&p, 0.0602).len(), 4);
    // The fifth enters at 0.0603; sixth and seventh share 0.06385714.
    assert_eq!(benjamini_hochberg(&p, 0.0604).len(), 5);
    assert_eq!(benjamini_hochberg(&p, 0.0639).len(), 7);
    assert!(benjamini_hochberg(&[], 0.05).is_empty());
}

/// [READ] inputs, [ARITH] limits: Newcombe 1998, Stat. Med. 17:857, table I, method 3; and
/// 5/10, 0/10, 10/10.
#[test]
fn wilson_interval_meets_newcombes_table() {
    let table = [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
        (5, 10, 0.2366, 0.7634),
        (0, 10, 0.0, 0.2775),
        (10, 10, 0.7225, 1.0),
    ];
    for (hits, trials, lower, upper) in table {
        let interval = wilson_interval(hits, trials).unwrap();
        close(interval.lower, lower, 5e-5);
        close(interval.upper, upper, 5e-5);
    }
    // [ARITH] 40 trials that correlate so much that they count as 20.
    assert_eq!(wilson_of_share(0.25, 20.0), wilson_interval(5, 20));
    assert!(wilson_of_share(0.25, 0.0).is_none() && wilson_of_share(1.5, 20.0).is_none());
    assert_eq!(wilson_interval(0, 0), None);
    assert_eq!(wilson_interval(3, 2), None);
    assert!(wilson_interval(2, 2).is_some());
}

/// [DATA] likelihoods of Weil 1970 by group (values in the project's list of checks); counts as
/// printed in Williams 1975, Biometrics 31:949, [MEM] with totals 142/158 and 112/145.
#[test]
fn beta_binomial_meets_the_likelihood_of_weils_litters() {
    let control = [
        (13, 13),
        (12, 12),
        (9, 9),
        (9, 9),
        (8, 8),
        (8, 8),
        (12, 13),
        (11, 12),
        (9, 10),
        (9, 10),
        (8, 9),
        (11, 13),
        (4, 5),
        (5, 7),
        (7, 10),
        (7, 10),
    ];
    let treated = [
        (12, 12),
        (11, 11),
        (10, 10),
        (9, 9),
        (10, 11),
        (9, 10),
        (9, 10),
        (8, 9),
        (8, 9),
        (4, 5),
        (7, 9),
        (4, 7),
        (5, 10),
        (3, 6),
        (3, 10),
        (0, 7),
    ];
    for (litters, share, correlation, log_likelihood) in
        [(control, 0.89798, 0.02020, -21.2535), (treated, 0.74001, 0.31744, -31.5317)]
    {
        let table = BetaBinomial::new(share, correlation, 13);
        let by_table: f64 =
            litters.iter().map(|(d, n)| table.ln_probability(*d, *n).unwrap()).sum();
        let by_gamma: f64 = litters
            .iter()
            .map(|(d, n)| beta_binomial_ln(*d, *n, share, correlation).unwrap())
            .sum();
        close(by_table, log_likelihood, 1e-4);
        close(by_gamma, by_table, 1e-10);
    }
}

/// [DATA] Crowder 1978, Appl. Stat. 27:34 (Orobanche): maximum likelihood with interaction,
/// coefficients and likelihood also in the agridat help page [READ]; counts [MEM] with the
/// totals 49/123, 75/141, 99/272, 201/295.
#[test]
fn beta_binomial_meets_the_likelihood_of_crowders_seeds() {
    let plates: [(f64, &[(u32, u32)]); 4] = [
        (-0.44456, &[(8, 16), (10, 30), (8, 28), (23, 45), (0, 4)]),
        (-0.44456 + 0.52214, &[(3, 12), (22, 41), (15, 30), (32, 51), (3, 7)]),
        (-0.44456 - 0.09739, &[(10, 39), (23, 62), (23, 81), (26, 51), (17, 39)]),
        (
            -0.44456 - 0.09739 + 0.52214 + 0.79792,
            &[(5, 6), (53, 74), (55, 72), (32, 51), (46, 79), (10, 13)],
        ),
    ];
    let mut total = 0.0;
    for (logit, counts) in plates {
        let share = 1.0 / (1.0 + f64::exp(-logit));
        let table = BetaBinomial::new(share, 0.012_361, 81);
        total += counts.iter().map(|(d, n)| table.ln_probability(*d, *n).unwrap()).sum::<f64>();
    }
    close(total, -53.7668, 1e-3);
}

/// A step without any cap, as textbook charts have them.
fn plain_step(value: f64, evidence: f64) -> f64 {
    step(value, evidence, 1e9, 1e9)
}

/// Mean number of steps from state 0 until a state is left for good, by the chain's matrix.
fn steps_to_signal(stay: DMatrix<f64>) -> f64 {
    let size = stay.nrows();
    let system = DMatrix::identity(size, size) - stay;
    system.lu().solve(&DVector::from_element(size, 1.0)).unwrap()[0]
}

/// [ARITH] exact Markov chain of the Bernoulli chart (Reynolds & Stoumbos 1999, J. Qual.
/// Technol. 31:87): step `X - 1/m`, signal at `H/m`; through our own chart step.
#[test]
fn chart_step_gives_the_run_lengths_of_the_bernoulli_chart() {
    let table = [
        (0.05, 14, 42, 491.8),
        (0.10, 14, 42, 75.3),
        (0.05, 14, 56, 1195.6),
        (0.05, 11, 33, 954.6),
        (0.15, 11, 33, 43.2),
        (0.10, 7, 28, 718.5),
        (0.20, 7, 28, 55.7),
        (0.02, 30, 60, 530.5),
        (0.05, 30, 60, 86.0),
    ];
    for (p, m, limit, run_length) in table {
        let mut stay = DMatrix::zeros(limit, limit);
        for state in 0..limit {
            for (step, probability) in [(f64::from(m - 1), p), (-1.0, 1.0 - p)] {
                let next = plain_step(state as f64, step) as usize;
                if next < limit {
                    stay[(state, next)] += probability;
                }
            }
        }
        close(steps_to_signal(stay), run_length, 0.051);
    }
}

/// [MEM] Montgomery's table for k = 0.5, h = 4 and 5, [ARITH] agrees: one-sided chart in control
/// 335.4 and 930.9; two-sided with a shift of 1: 8.38 and 10.4 (the other side hardly matters).
#[test]
fn chart_step_gives_the_run_lengths_of_the_normal_chart() {
    let normal = |z: f64| 0.5 * (1.0 + erf(z / std::f64::consts::SQRT_2));
    for (limit, shift, run_length, near) in [
        (4.0, 0.0, 335.4, 0.5),
        (5.0, 0.0, 930.9, 2.0),
        (4.0, 1.0, 8.38, 0.01),
        (5.0, 1.0, 10.38, 0.01),
    ] {
        let states = 150_i32;
        let width = 2.0 * limit / f64::from(2 * states - 1);
        let mut stay = DMatrix::zeros(150, 150);
        for state in 0..states {
            for jump in -states..=states {
                let at = |edge: f64| normal((f64::from(jump) + edge) * width + 0.5 - shift);
                let below = if jump == -states { 0.0 } else { at(-0.5) };
                let step = f64::from(jump) * width;
                let next = plain_step(f64::from(state) * width, step);
                let next = (next / width).round() as usize;
                if next < 150 {
                    stay[(state as usize, next)] += at(0.5) - below;
                }
            }
        }
        close(steps_to_signal(stay), run_length, near);
    }
}

/// [READ] "Calculating Agriculture", ch. 12, p. 12-11: 200 birds on 1 March, 4 die on the 12th,
/// 10 are added on the 16th, 3,852 eggs: 6,270 hen-days, 61.4 %.
#[test]
fn farm_months_gives_the_published_hen_day_rate() {
    let hens =
        |day: u32| 200.0 - if day >= 12 { 4.0 } else { 0.0 } + if day > 16 { 10.0 } else { 0.0 };
    assert_eq!((1..=31).map(hens).sum::<f64>() as u32, 6270);
    // 3,852 eggs over 31 days: 124 a day and 8 more on the last.
    let record = |day: u32| OutputRecord {
        farm: 0,
        month: 2,
        output: Some(if day == 31 { 132.0 } else { 124.0 }),
        animals: Some(hens(day)),
        stage: None,
    };
    let records: Vec<OutputRecord> = (1..=31).map(record).collect();
    let cells = farm_months(&records, 1, 3, 4.0).unwrap();
    assert_eq!(cells.dropped, 0);
    close(cells.records[2], 31.0, 0.0);
    close(100.0 * cells.log_output[2].exp(), 61.4354, 5e-5);
}

/// [DATA] scipy.stats.t.ppf(0.975, df), scipy 1.17.1; the first decimals as in any printed table.
#[test]
fn student_t_critical_meets_the_printed_table() {
    let table = [
        (1.0, 12.706_204_736_174_707),
        (1.5, 6.016_663_104_427_929),
        (2.0, 4.302_652_729_749_464),
        (5.0, 2.570_581_835_636_314),
        (10.5, 2.213_840_292_918_788_6),
        (30.0, 2.042_272_456_301_238),
        (1000.0, 1.962_339_080_826_474_3),
    ];
    for (df, critical) in table {
        close(student_t_critical_95(df), critical, 1e-9);
    }
    close(student_t_critical_95(0.2), 12.706_204_736_174_707, 1e-9);
    close(student_t_critical_95(f64::INFINITY), 1.959_963_984_540_054, 1e-12);
}

/// [ARITH] CIMMYT 1988: straight line over the life.
#[test]
fn depreciation_is_a_straight_line() {
    assert_eq!(depreciation_per_month(650.0, 50.0, 60), Some(10.0));
    assert_eq!(depreciation_per_month(650.0, 50.0, 0), None);
    assert_eq!(depreciation_per_month(f64::NAN, 50.0, 12), None);
}
