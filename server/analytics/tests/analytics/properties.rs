//! What must hold for any co-operative: no panic, no "not a number" in an answer, and nothing
//! that depends on the order of farms, the unit of money, the level of output or the calendar.

#![expect(clippy::unwrap_used, reason = "a test stops at the first thing that is not there")]

use proptest::prelude::*;
use proptest::test_runner::FileFailurePersistence;
use traybook_analytics::callaway::{Control, group_times};
use traybook_analytics::lots::{LotBatch, LotRules, lot_or_farm};
use traybook_analytics::member_effect::{
    Background, MemberEffects, MemberRules, MemberStatus, Verdict, member_effects,
};
use traybook_analytics::panel::Panel;
use traybook_analytics::records::{
    Covariates, Output, OutputRecord, farm_months, fill_stage, stage_basis, stage_covariates,
};

fn config() -> ProptestConfig {
    let persistence = FileFailurePersistence::WithSource("regressions");
    let failure_persistence = Some(Box::new(persistence) as Box<_>);
    ProptestConfig { cases: 96, failure_persistence, ..ProptestConfig::default() }
}

/// Rules that let small co-operatives through to the end of the method.
fn open_rules() -> MemberRules {
    MemberRules { controls_min: 1, members_shrunk_min: 2, ..MemberRules::default() }
}

/// No number in the answer is other than finite.
fn assert_finite(answer: &impl std::fmt::Debug) {
    let text = format!("{answer:?}");
    assert!(!text.contains("NaN") && !text.contains("inf"), "{text}");
}

fn near(a: f64, b: f64, scale: f64) -> bool {
    (a - b).abs() <= 1e-7 * (scale + a.abs().max(b.abs()))
}

#[derive(Debug, Clone)]
struct Coop {
    months: usize,
    log_output: Vec<f64>,
    records: Vec<f64>,
    start: Vec<Option<u32>>,
}

impl Coop {
    fn panel(&self) -> Panel<'_> {
        Panel::new(self.months, &self.log_output, &self.records, &self.start, None).unwrap()
    }

    fn effects(&self) -> MemberEffects {
        member_effects(&self.panel(), &open_rules(), &Background::default())
    }

    fn row<'a>(&self, values: &'a [f64], farm: usize) -> &'a [f64] {
        &values[farm * self.months..(farm + 1) * self.months]
    }

    fn reordered(&self, order: &[usize]) -> Self {
        let take =
            |values: &[f64]| order.iter().flat_map(|i| self.row(values, *i).to_vec()).collect();
        Self {
            months: self.months,
            log_output: take(&self.log_output),
            records: take(&self.records),
            start: order.iter().map(|i| self.start[*i]).collect(),
        }
    }

    /// The same records in a calendar that begins `by` months earlier.
    fn shifted(&self, by: usize) -> Self {
        let shift = |values: &[f64], empty: f64| {
            let rows = (0..self.start.len()).flat_map(|i| {
                std::iter::repeat_n(empty, by).chain(self.row(values, i).iter().copied())
            });
            rows.collect()
        };
        Self {
            months: self.months + by,
            log_output: shift(&self.log_output, f64::NAN),
            records: shift(&self.records, 0.0),
            start: self.start.iter().map(|g| g.map(|g| g + by as u32)).collect(),
        }
    }
}

/// A co-operative of ordinary numbers with gaps.
fn coop(farms: std::ops::Range<usize>) -> impl Strategy<Value = Coop> {
    (farms, 4_usize..16).prop_flat_map(|(farms, months)| {
        let cell = prop_oneof![1 => Just((f64::NAN, 0.0)), 5 => (0.5_f64..3.5, 1_u32..20)
            .prop_map(|(y, n)| (y, f64::from(n)))];
        let cells = proptest::collection::vec(cell, farms * months);
        let start = proptest::option::weighted(0.6, 0_u32..months as u32 + 2);
        let start = proptest::collection::vec(start, farms);
        (cells, start).prop_map(move |(cells, start)| {
            let (log_output, records) = cells.into_iter().unzip();
            Coop { months, log_output, records, start }
        })
    })
}

/// Numbers at and beyond every edge.
fn extreme() -> impl Strategy<Value = f64> + Clone {
    let edges = [
        f64::NAN,
        f64::INFINITY,
        f64::NEG_INFINITY,
        f64::MAX,
        f64::MIN,
        f64::MIN_POSITIVE,
        1e-300,
        -1e-300,
        0.0,
        -0.0,
        -1.0,
        1.0,
        2.0,
        3.0,
        5.0,
        744.0,
        -744.0,
        1e12,
        -1e12,
        1e13,
        1e-6,
        1e-7,
    ];
    prop_oneof![2 => proptest::sample::select(edges.to_vec()), 1 => 0.5_f64..20.0]
}

fn assert_same_members(a: &MemberEffects, b: &MemberEffects, order: &[usize], scale: f64) {
    assert!(near(a.errors.model.month_variance, b.errors.model.month_variance, 1e-6 * scale));
    for (i, from) in order.iter().enumerate() {
        let (x, y) = (&b.members[i], &a.members[*from]);
        assert_eq!(
            (x.status, x.pre.months, x.post.months),
            (y.status, y.pre.months, y.post.months)
        );
        if let (Some(x), Some(y)) = (&x.own, &y.own) {
            assert!(near(x.value, y.value, scale), "{x:?} {y:?}");
        }
        assert_eq!(x.own.is_some(), y.own.is_some());
    }
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn members_do_not_depend_on_the_order_of_farms(
        (coop, order) in coop(1..14).prop_flat_map(|c| {
            let order: Vec<usize> = (0..c.start.len()).collect();
            (Just(c), Just(order).prop_shuffle())
        }),
    ) {
        let (a, b) = (coop.effects(), coop.reordered(&order).effects());
        assert_same_members(&a, &b, &order, 1.0);
        let (panel, other) = (coop.panel(), coop.reordered(&order));
        let (x, y) = (&a.programme, &b.programme);
        prop_assert_eq!(x.is_some(), y.is_some());
        if let (Some(x), Some(y)) = (x, y) {
            prop_assert!(near(x.estimate.value, y.estimate.value, 1.0));
            prop_assert!(near(x.estimate.standard_error, y.estimate.standard_error, 1.0));
        }
        let simple = |panel: &Panel| group_times(panel, Control::NotYetStarted).simple(1);
        if let (Some(x), Some(y)) = (simple(&panel), simple(&other.panel())) {
            prop_assert!(near(x.value, y.value, 1.0));
            prop_assert!(near(x.standard_error, y.standard_error, 1.0));
        }
    }

    #[test]
    fn members_do_not_depend_on_the_level_of_output(coop in coop(1..14), by in -5.0_f64..5.0) {
        let mut moved = coop.clone();
        moved.log_output.iter_mut().for_each(|y| *y += by);
        let order: Vec<usize> = (0..coop.start.len()).collect();
        assert_same_members(&coop.effects(), &moved.effects(), &order, 1.0);
        let simple = |c: &Coop| group_times(&c.panel(), Control::NotYetStarted).simple(0);
        let (x, y) = (simple(&coop), simple(&moved));
        prop_assert_eq!(x.is_some(), y.is_some());
        if let (Some(x), Some(y)) = (x, y) {
            prop_assert!(near(x.value, y.value, 1.0));
            prop_assert!(near(x.standard_error, y.standard_error, 1.0));
        }
    }

    #[test]
    fn members_do_not_depend_on_the_calendar(coop in coop(1..14), by in 1_usize..9) {
        let later = coop.shifted(by);
        let order: Vec<usize> = (0..coop.start.len()).collect();
        assert_same_members(&coop.effects(), &later.effects(), &order, 1.0);
    }

    #[test]
    fn output_answers_are_finite_whatever_comes_in(
        cells in proptest::collection::vec((extreme(), extreme()), 0..120),
        start in proptest::collection::vec(proptest::option::of(0_u32..14), 0..12),
        stage in proptest::collection::vec(extreme(), 120),
    ) {
        let months = if start.is_empty() { 7 } else { (cells.len() / start.len()).min(10) };
        let size = months * start.len();
        let (y, n): (Vec<f64>, Vec<f64>) = cells.into_iter().take(size).unzip();
        let filled = fill_stage(&stage[..size], months);
        let basis = stage_basis(&filled, Output::Eggs);
        let covariates = Covariates::new(3, basis.values().to_vec()).ok();
        let panel = Panel::new(months, &y, &n, &start, covariates.as_ref()).unwrap();
        let effects = member_effects(&panel, &open_rules(), &Background::default());
        assert_finite(&effects);
        for control in [Control::NotYetStarted, Control::NeverStarted] {
            let times = group_times(&panel, control);
            assert_finite(&times.effects);
            assert_finite(&(times.simple(1), times.dynamic(-2), times.by_group(0)));
        }
        for (member, g) in effects.members.iter().zip(&start) {
            let is_held = member.status == MemberStatus::CheckLevel;
            prop_assert_eq!(member.status == MemberStatus::NotStarted, g.is_none() && !is_held);
            prop_assert_eq!(member.own.is_some(), member.status == MemberStatus::Estimated);
            prop_assert_eq!(member.verdict.is_some(), member.own.is_some());
            if member.verdict == Some(Verdict::Increase) {
                prop_assert!(member.published().unwrap().interval.lower >= -1e-12);
            }
        }
    }

    #[test]
    fn records_never_give_a_cell_that_is_no_number(
        records in proptest::collection::vec(
            (0_usize..4, 0_usize..5, proptest::option::of(extreme()), proptest::option::of(extreme()),
             proptest::option::of(extreme())), 0..60),
    ) {
        let record = |(farm, month, output, animals, stage)| {
            OutputRecord { farm, month, output, animals, stage }
        };
        let records: Vec<OutputRecord> = records.into_iter().map(record).collect();
        let cells = farm_months(&records, 4, 5, 4.0).unwrap();
        let kept: f64 = cells.records.iter().sum();
        prop_assert!(kept as usize + cells.dropped <= records.len());
        for (y, n) in cells.log_output.iter().zip(&cells.records) {
            prop_assert_eq!(y.is_finite(), *n > 0.0);
        }
        prop_assert!(cells.stage.iter().all(|s| s.is_nan() || s.is_finite()));
        if let Some(x) = stage_covariates(&cells, Output::Milk) {
            assert_finite(&x.values());
        }
    }

    #[test]
    fn one_farm_alone_is_never_estimated(coop in coop(1..2)) {
        let rules = MemberRules::default();
        let effects = member_effects(&coop.panel(), &rules, &Background::default());
        prop_assert!(effects.members[0].own.is_none() && effects.population.is_none());
        assert_finite(&effects);
    }

    #[test]
    fn nobody_is_estimated_when_none_or_all_started_before_the_data(coop in coop(0..14)) {
        for (g, status) in [(None, MemberStatus::NotStarted), (Some(0), MemberStatus::NoPreData)] {
            let same = Coop { start: vec![g; coop.start.len()], ..coop.clone() };
            let effects = same.effects();
            let is_either = |m: MemberStatus| m == status || m == MemberStatus::CheckLevel;
            prop_assert!(effects.members.iter().all(|m| is_either(m.status)));
            let is_observed = coop.records.iter().any(|n| *n > 0.0);
            let is_fitted = g.is_none() && is_observed;
            prop_assert_eq!(effects.fit.is_connected.contains(&true), is_fitted);
            prop_assert!(effects.programme.is_none());
            assert_finite(&effects);
        }
    }

    #[test]
    fn lots_do_not_depend_on_the_order_of_batches(
        rows in proptest::collection::vec((0_u32..6, 0_u32..5, 1_u32..40, 0.0_f64..1.0), 0..80)
            .prop_flat_map(|r| (Just(r.clone()), Just(r).prop_shuffle())),
    ) {
        let batch = |(farm, lot, started, share): &(u32, u32, u32, f64)| {
            let discarded = (f64::from(*started) * share) as u32;
            LotBatch { farm: *farm, lot: *lot, started: *started, discarded }
        };
        let of = |rows: &[(u32, u32, u32, f64)]| {
            lot_or_farm(&rows.iter().map(batch).collect::<Vec<_>>(), &LotRules::default())
        };
        let (a, b) = (of(&rows.0), of(&rows.1));
        assert_finite(&a);
        prop_assert_eq!(a.degrees, b.degrees);
        prop_assert_eq!(a.tests.is_some(), b.tests.is_some());
        if let (Some(a), Some(b)) = (a.tests, b.tests) {
            prop_assert!(near(a.lot.p, b.lot.p, 1.0) && near(a.farm.p, b.farm.p, 1.0));
            let total: f64 = a.lots.iter().map(|l| l.p).sum();
            prop_assert!((0.0..=a.lots.len() as f64).contains(&total));
        }
    }

    #[test]
    fn lots_are_finite_whatever_comes_in(
        rows in proptest::collection::vec((0_u32..4, 0_u32..4, prop_oneof![0_u32..9,
            Just(u32::MAX)], prop_oneof![0_u32..9, Just(u32::MAX)]), 0..40),
        correlation in extreme(),
    ) {
        let batch = |(farm, lot, started, discarded)| LotBatch { farm, lot, started, discarded };
        let rows: Vec<LotBatch> = rows.into_iter().map(batch).collect();
        assert_finite(&lot_or_farm(&rows, &LotRules { correlation, ..LotRules::default() }));
    }
}
