//! The rules at their thresholds, on the honest cases they must spare, and by simulation.

use super::batches::{BatchFigures, batches, sheds};
use super::herds::{HerdEvents, jumps};
use super::mould::Feeding;
use super::silence::{FarmDays, silent};
use super::stock::{Movement, below_zero};
use super::values::{Output, OutputRow, findings, watch};
use super::{Finding, ReviewCtx, figures_of};
use crate::effects::DayRecord;
use crate::herd::HeadEvent;
use crate::kind::Kind;
use crate::kinds::{GrowingPause, LotHold, REVIEW_RULES};
use crate::planning::guide::Guide;
use crate::time::{parse_instant, plus_days};
use chrono::NaiveDate;
use std::collections::{BTreeMap, HashMap};
use uuid::Uuid;

fn day(text: &str) -> NaiveDate {
    text.parse().expect("a day")
}

fn id(n: u128) -> Uuid {
    Uuid::from_u128(n)
}

fn with<T>(work: impl FnOnce(&ReviewCtx<'_>) -> T) -> T {
    let guide = Guide::default();
    let zone = chrono_tz::Africa::Dar_es_Salaam;
    work(&ReviewCtx { guide: &guide, zone, today: day("2026-03-20"), from: day("2000-01-01") })
}

fn ms(text: &str) -> Option<i64> {
    Some(parse_instant(&format!("2026-03-{text}:00:00Z")).expect("instant").0)
}

/// 8 kg soaked on the 1st, four trays of 10 kg harvested and fed on the 9th.
fn sound() -> BatchFigures {
    BatchFigures {
        batch: id(1),
        farm: id(2),
        shed: id(3),
        lot: Some(id(4)),
        class: Some("dairy_cows".to_owned()),
        soaked: (ms("01T05"), 8_000),
        spread: (ms("03T05"), 4),
        harvested: (ms("09T05"), 4),
        harvested_g: 40_000,
        fed: (ms("09T06"), ms("09T07"), 40_000),
        ..BatchFigures::default()
    }
}

fn rules(b: BatchFigures) -> Vec<&'static str> {
    let hold = LotHold {
        seed_lot_id: id(9),
        held_from: day("2026-03-01"),
        reason: "musty".to_owned(),
        released_on: Some(day("2026-03-05")),
        finding: None,
    };
    let holds = HashMap::from([(id(9), vec![hold])]);
    let found = with(|ctx| batches(&[b], &holds, ctx));
    for f in &found {
        assert!(f.finding.len() <= 120 && f.evidence.len() <= 120, "{f:?}");
        assert!(!f.problem.is_empty() && !f.fix.is_empty() && !f.records.is_empty(), "{f:?}");
    }
    found.iter().map(|f| f.rule).collect()
}

/// As the application does: watched by farm, then held against all.
fn outputs(output: Output, rows: &[OutputRow], ctx: &ReviewCtx<'_>) -> Vec<Finding> {
    let mut farms: HashMap<Uuid, Vec<OutputRow>> = HashMap::new();
    for row in rows {
        farms.entry(row.group.1).or_default().push(row.clone());
    }
    let watched: Vec<_> =
        farms.values().map(|rows| watch(output, rows, &HashMap::new(), ctx)).collect();
    findings(output, watched.iter())
}

#[test]
fn a_sound_batch_has_no_finding_and_each_slip_has_its_own() {
    let none: [&str; 0] = [];
    assert_eq!(rules(sound()), none);
    assert_eq!(rules(BatchFigures { discarded: (ms("08T05"), 0), ..sound() }), none);
    let one_more = BatchFigures { discarded: (ms("08T05"), 1), ..sound() };
    assert_eq!(rules(one_more), ["more_trays_out_than_spread"]);
    // A tray's seed that rotted before it was spread is none of the four that stood.
    let rotten = BatchFigures { discarded: (ms("02T05"), 1), ..sound() };
    assert_eq!(rules(rotten.clone()), none);
    let five = BatchFigures { harvested: (ms("09T05"), 5), ..rotten };
    assert_eq!(rules(five), ["more_trays_out_than_spread"]);
    let fed = |grams| BatchFigures { fed: (ms("09T06"), ms("09T07"), grams), ..sound() };
    // Both are weighed: scales differ by 5 %.
    assert_eq!(rules(fed(42_000)), none);
    assert_eq!(rules(fed(42_001)), ["more_fed_than_harvested"]);
    // A harvest without a weight: nothing is known.
    assert_eq!(rules(BatchFigures { unweighed: 1, ..fed(42_001) }), none);
    let thrown = BatchFigures { unweighed: 1, thrown_g: 500, ..sound() };
    assert_eq!(rules(thrown), ["thrown_without_weight"]);
    assert_eq!(rules(BatchFigures { thrown_g: 500, ..sound() }), none);
    // [ARITH] 8 kg × 88 % × 1.05² = 7.7616 kg of dry matter; at 10 % that is 77.616 kg fresh. 8.4 kg
    // a kg are 67.2 kg, with the scales 74.088.
    let weighs = |grams| BatchFigures { harvested_g: grams, ..sound() };
    assert_eq!(rules(weighs(74_088)), none);
    assert_eq!(rules(weighs(74_089)), ["yield_unlikely"]);
    assert_eq!(rules(weighs(77_616)), ["yield_unlikely"]);
    assert_eq!(rules(weighs(77_617)), ["yield_impossible"]);
    let low = |grams| BatchFigures { fed: (None, None, 0), ..weighs(grams) };
    // [ARITH] 16 kg / 1.05² = 14.512 kg.
    assert_eq!(rules(low(14_513)), none);
    assert_eq!(rules(low(14_512)), ["yield_unlikely"]);
    // Half of the trays spoiled: the yield is that of the others.
    let half = |grams| BatchFigures {
        harvested: (ms("09T05"), 2),
        discarded: (ms("08T05"), 2),
        ..low(grams)
    };
    assert_eq!(rules(half(16_000)), none);
    assert_eq!(rules(half(38_809)), ["yield_impossible"]);
    let late = BatchFigures { fed: (ms("09T06"), ms("10T05"), 40_000), ..sound() };
    assert_eq!(rules(late.clone()), ["fed_over_age"]);
    assert_eq!(rules(BatchFigures { harvest_age_days: Some(9), ..late }), none);
    let feeding = |mouldy| Feeding { at: ms("09T07").expect("a time"), mouldy };
    let mouldy = |seen: &str, trays, thrown: i64| BatchFigures {
        mould: ms(seen),
        mould_trays: trays,
        thrown: vec![(ms(seen).expect("a time"), thrown)],
        feedings: vec![feeding(false)],
        ..sound()
    };
    assert_eq!(rules(mouldy("09T07", None, 0)), ["fed_with_mould"]);
    assert_eq!(rules(mouldy("09T08", None, 0)), none);
    // What was mouldy is thrown away before the rest is fed.
    assert_eq!(rules(mouldy("09T06", None, 1)), none);
    assert_eq!(rules(mouldy("09T06", Some(1), 1)), none);
    assert_eq!(rules(mouldy("09T06", Some(2), 1)), ["fed_with_mould"]);
    let marked = BatchFigures { feedings: vec![feeding(true)], ..mouldy("09T06", None, 1) };
    assert_eq!(rules(marked), ["fed_with_mould"]);
    assert_eq!(rules(BatchFigures { lot: Some(id(9)), ..sound() }), ["held_lot_soaked"]);
    assert_eq!(
        rules(BatchFigures { spread: (ms("01T04"), 4), ..sound() }),
        ["events_out_of_order"]
    );
    assert_eq!(rules(BatchFigures { spread: (None, 0), ..sound() }), ["events_out_of_order"]);
    assert_eq!(rules(BatchFigures { spread: (ms("01T05"), 4), ..sound() }), none);
}

#[test]
fn a_shed_is_full_only_while_trays_stand() {
    let full = |more: &[BatchFigures], places| {
        let all: Vec<BatchFigures> = [&[sound()], more].concat();
        with(|ctx| sheds(&all, &HashMap::from([(id(3), places)]), ctx))
    };
    let next = |spread: &str| BatchFigures {
        batch: id(8),
        soaked: (ms(spread), 8_000),
        spread: (ms(spread), 4),
        harvested: (None, 0),
        ..sound()
    };
    assert!(full(&[next("08T05")], 8).is_empty());
    let found = full(&[next("08T05")], 7);
    assert_eq!((found.len(), found[0].since), (1, day("2026-03-08")));
    assert_eq!(found[0].evidence, "8 trays on 2026-03-08, 7 places");
    // The places of what is harvested are free on that day.
    assert!(full(&[next("09T05")], 7).is_empty());
    // A batch whose harvest nobody wrote down leaves after two weeks.
    let forgotten = BatchFigures { harvested: (None, 0), ..sound() };
    let all = [forgotten, next("15T05")];
    let found = with(|ctx| sheds(&all, &HashMap::from([(id(3), 7)]), ctx));
    assert!(found.is_empty(), "{found:?}");
}

/// What is left of a batch leaves after two weeks, once: it frees no places of another.
#[test]
fn a_half_harvested_batch_frees_its_own_places_only() {
    let half = BatchFigures { harvested: (ms("05T05"), 2), ..sound() };
    let next = BatchFigures {
        batch: id(8),
        soaked: (ms("16T05"), 16_000),
        spread: (ms("16T05"), 8),
        harvested: (None, 0),
        ..sound()
    };
    let all = [half, next];
    let found = with(|ctx| sheds(&all, &HashMap::from([(id(3), 7)]), ctx));
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].evidence, "8 trays on 2026-03-16, 7 places");
}

/// The one finding of a batch.
fn only(b: BatchFigures) -> Finding {
    let hold = LotHold {
        seed_lot_id: id(9),
        held_from: day("2026-03-01"),
        reason: "musty".to_owned(),
        released_on: None,
        finding: None,
    };
    let found = with(|ctx| batches(&[b], &HashMap::from([(id(9), vec![hold])]), ctx));
    let [one] = found.try_into().expect("one finding");
    one
}

/// Both numbers stand in it, and how bad it is against others of its rule: of a quarter the worst
/// stands on the list.
#[test]
fn a_finding_names_its_numbers_and_weighs_by_them() {
    let figure = |f: &Finding, name: &str| {
        f.figures.iter().find(|(n, _)| *n == name).map(|(_, v)| v.to_string())
    };
    let has = |f: &Finding, all: &[(&str, &str)]| {
        for (name, value) in all {
            assert_eq!(figure(f, name).as_deref(), Some(*value), "{name} of {f:?}");
        }
    };
    let of = |trays: i64| only(BatchFigures { harvested: (ms("09T05"), trays), ..sound() });
    let (one, three) = (of(5), of(7));
    assert_eq!((one.weight, three.weight), (1.0, 3.0));
    assert_eq!(three.evidence, "spread 4, harvested 7, discarded 0");
    has(&three, &[("trays_spread", "4"), ("trays_harvested", "7"), ("trays_discarded", "0")]);
    let fed = only(BatchFigures { fed: (ms("09T06"), ms("09T07"), 45_000), ..sound() });
    has(&fed, &[("harvested_kg", "40"), ("fed_kg", "45")]);
    assert!((fed.weight - 5_000.0).abs() < 1e-9);
    let weighs = |grams| BatchFigures { harvested_g: grams, fed: (None, None, 0), ..sound() };
    let (much, more) = (only(weighs(75_000)), only(weighs(77_000)));
    has(&much, &[("seed_kg", "8"), ("harvested_kg", "75"), ("fresh_kg_per_kg_seed", "9.375")]);
    assert!(much.problem.ends_with("is unlikely much."), "{}", much.problem);
    assert!(more.weight > much.weight, "{} {}", more.weight, much.weight);
    let (little, less) = (only(weighs(14_000)), only(weighs(12_000)));
    assert!(little.problem.ends_with("is unlikely little."), "{}", little.problem);
    assert!(less.weight > little.weight, "{} {}", less.weight, little.weight);
    let impossible = only(weighs(80_000));
    has(&impossible, &[("seed_kg", "8"), ("harvested_kg", "80")]);
    let late = only(BatchFigures { fed: (ms("09T06"), ms("12T05"), 40_000), ..sound() });
    has(&late, &[("due_on", "\"2026-03-09\""), ("last_fed_on", "\"2026-03-12\"")]);
    assert!((late.weight - 3.0).abs() < 1e-9);
    let order = only(BatchFigures { spread: (ms("01T04"), 4), ..sound() });
    // 04:00 UTC is 07:00 in Dar es Salaam.
    assert_eq!(order.evidence, "spread 2026-03-01 07:00, soaked 2026-03-01 08:00");
    has(&order, &[("event", "\"spread\""), ("must_follow", "\"soaked\"")]);
    let held = only(BatchFigures { lot: Some(id(9)), ..sound() });
    has(&held, &[("held_from", "\"2026-03-01\""), ("soaked_on", "\"2026-03-01\"")]);
    assert_eq!(held.records, [(Kind::Batch, id(1)), (Kind::SeedLot, id(9))]);
}

/// A yield is unlikely only where all of it is known: every harvest weighed, every tray accounted
/// for.
#[test]
fn an_unlikely_yield_needs_the_whole_batch() {
    let low = BatchFigures { harvested_g: 8_000, fed: (None, None, 0), ..sound() };
    let none: [&str; 0] = [];
    assert_eq!(rules(low.clone()), ["yield_unlikely"]);
    assert_eq!(rules(BatchFigures { unweighed: 1, ..low.clone() }), none);
    assert_eq!(rules(BatchFigures { harvested_g: 0, ..low.clone() }), none);
    assert_eq!(rules(BatchFigures { harvested: (ms("09T05"), 0), ..low.clone() }), none);
    let unspread = BatchFigures { spread: (None, 0), ..low.clone() };
    assert_eq!(rules(unspread), ["events_out_of_order"]);
    // Three trays of four: the fourth may still be weighed, unless it was thrown away.
    let three = BatchFigures { harvested: (ms("09T05"), 3), ..low };
    assert_eq!(rules(three.clone()), none);
    assert_eq!(rules(BatchFigures { discarded: (ms("08T05"), 1), ..three }), ["yield_unlikely"]);
}

/// Every rule, and what its finding bears on: with `!` what leaves it out until it is settled.
#[test]
fn every_rule_says_which_figures_it_bears_on() {
    let held = |rule: &str| {
        figures_of(rule)
            .iter()
            .map(|(figure, is_held)| format!("{figure:?}{}", if *is_held { "!" } else { "" }))
            .collect::<Vec<_>>()
            .join(" ")
    };
    let of: HashMap<&str, &str> = HashMap::from([
        ("store_stock_below_zero", "SeedStock"),
        ("farm_stock_below_zero", "SeedStock"),
        ("more_trays_out_than_spread", "Spoilage! PlannedYield!"),
        ("thrown_without_weight", "Spoilage! PlannedYield!"),
        ("yield_impossible", "PlannedYield!"),
        ("yield_unlikely", "PlannedYield"),
        ("text_against_visit", "PlannedYield"),
        ("repeated_values", "OutputChange"),
        ("rounded_values", "OutputChange"),
        ("output_jump", "OutputChange"),
        ("head_jump", "OutputChange"),
        ("unit_slip", "OutputChange"),
        ("level_shift", "OutputChange"),
        ("herd_implied", "OutputChange"),
        ("check_level", "OutputChange!"),
        ("feed_price", "FeedSaving!"),
        ("feed_kg", "FeedSaving!"),
        ("feed_gap", "FeedSaving!"),
        ("feed_stock", "FeedSaving"),
        ("ration_not_bought", "FeedSaving"),
        ("price_outlier", "FeedSaving"),
        ("amount_outlier", "FeedSaving"),
        ("ration_too_much", "FeedSaving"),
        ("ration_cost", "FeedSaving"),
    ]);
    for rule in REVIEW_RULES {
        assert_eq!(held(rule), of.get(rule).copied().unwrap_or_default(), "{rule}");
    }
}

#[test]
fn stock_is_looked_at_at_the_end_of_every_day() {
    let moved = |on: &str, grams| Movement {
        farm: Some(id(2)),
        lot: id(4),
        day: day(on),
        grams,
        record: (Kind::SeedIssue, id(7)),
    };
    let found = |opening: i64, moves: &[Movement]| {
        let opening = BTreeMap::from([((Some(id(2)), id(4)), opening)]);
        below_zero(&opening, moves, day("2026-01-20"), &|_| "L1".to_owned())
    };
    assert!(found(0, &[moved("2026-03-01", -4), moved("2026-03-01", 4)]).is_empty());
    assert!(found(4, &[moved("2026-03-01", -4)]).is_empty());
    let later = found(0, &[moved("2026-03-01", -4_000), moved("2026-03-02", 9_000)]);
    assert_eq!((later.len(), later[0].since), (1, day("2026-03-01")));
    assert_eq!(later[0].evidence, "-4 kg on 2026-03-01");
    assert_eq!(found(-1, &[])[0].since, day("2026-01-20"));
}

#[test]
fn a_farm_is_silent_only_while_it_grows() {
    let farm = FarmDays {
        farm: id(2),
        code: "F1".to_owned(),
        started_on: Some(day("2025-06-01")),
        left_on: None,
        last_on: Some(day("2026-03-07")),
    };
    let count = |farm: &FarmDays, pause: Option<(&str, Option<&str>)>| {
        let pause = pause.map(|(first, last)| GrowingPause {
            farm_id: id(2),
            first_day: day(first),
            last_day: last.map(day),
            note: None,
        });
        let pauses = HashMap::from([(id(2), pause.into_iter().collect())]);
        with(|ctx| silent(std::slice::from_ref(farm), &pauses, ctx).len())
    };
    // 13 days, then 14 (the guide's default).
    assert_eq!(count(&farm, None), 0);
    let quiet = FarmDays { last_on: Some(day("2026-03-06")), ..farm.clone() };
    assert_eq!(count(&quiet, None), 1);
    assert_eq!(count(&quiet, Some(("2026-03-10", None))), 0);
    assert_eq!(count(&quiet, Some(("2026-03-01", Some("2026-03-10")))), 0);
    assert_eq!(count(&quiet, Some(("2026-02-01", Some("2026-02-10")))), 1);
    assert_eq!(count(&FarmDays { started_on: None, ..quiet.clone() }, None), 0);
    assert_eq!(count(&FarmDays { left_on: Some(day("2026-03-01")), ..quiet }, None), 0);
}

#[test]
fn a_count_is_held_against_births_and_deaths() {
    let count = |steps: &[(&str, &str, i64)], opening| {
        let events = steps.iter().map(|(on, reason, head)| {
            let event = HeadEvent { date: day(on), reason: (*reason).to_owned(), head: *head };
            (id(5), event)
        });
        let herd = HerdEvents { opening, events: events.collect(), ..HerdEvents::default() };
        with(|ctx| jumps(&[herd], ctx).len())
    };
    let counted = |head| ("2026-03-01", "counted", head);
    assert_eq!(count(&[counted(100)], None), 0);
    assert_eq!((count(&[counted(119)], Some(100)), count(&[counted(120)], Some(100))), (0, 1));
    assert_eq!((count(&[counted(6)], Some(4)), count(&[counted(7)], Some(4))), (0, 1));
    let with_births = [("2026-02-01", "born", 30), counted(130)];
    assert_eq!(count(&with_births, Some(100)), 0);
}

/// SplitMix64, Steele et al. 2014 [MEM].
struct Draws(u64);
impl Draws {
    fn below(&mut self, n: u64) -> i64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        i64::try_from((z ^ (z >> 31)) % n).expect("small")
    }
}

fn rows(group: u128, amounts: &[i64], animals: i64) -> Vec<OutputRow> {
    let first = day("2026-01-20");
    let row = |(i, amount): (usize, &i64)| OutputRow {
        group: (id(group), id(2)),
        date: plus_days(first, u64::try_from(i).expect("small")),
        record: DayRecord {
            id: id(group * 1_000 + u128::try_from(i).expect("small")),
            entered: 0,
            session: "day".to_owned(),
            amount: *amount,
            animals,
            cracked: 0,
            stage: None,
        },
    };
    amounts.iter().enumerate().map(row).collect()
}

/// 2,000 honest farms for 60 days: a third writes whole litres of one cow, a third half litres, a
/// third litres with a decimal; yields wander by a litre or two.
fn honest(draws: &mut Draws) -> Vec<OutputRow> {
    let mut all = Vec::new();
    for farm in 0..2_000_u128 {
        let step = [1_000, 500, 100][usize::try_from(farm % 3).expect("small")];
        let usual = 5_000 + draws.below(10) * 1_000;
        let amounts: Vec<i64> = (0..60)
            .map(|_| {
                let exact = usual + draws.below(1_400) + draws.below(1_400) - 1_400;
                (exact + step / 2) / step * step
            })
            .collect();
        all.extend(rows(farm + 10, &amounts, 1));
    }
    all
}

#[test]
fn honest_farms_are_hardly_ever_listed() {
    let mut draws = Draws(7);
    let all = honest(&mut draws);
    let found = with(|ctx| outputs(Output::Milk, &all, ctx));
    let count = |rule: &str| found.iter().filter(|f| f.rule == rule).count();
    // A chance of at most 1 in 10,000 a series: 0.2 expected of 2,000, more than 3 in 1 of 4,000.
    assert!(count("repeated_values") <= 3, "{}", count("repeated_values"));
    assert_eq!(count("rounded_values"), 0);
    assert_eq!(count("output_jump"), 0);
}

#[test]
fn copied_records_are_found_among_honest_ones() {
    let mut draws = Draws(11);
    let mut all = honest(&mut draws);
    let mut copied: Vec<i64> = (0..60).map(|_| 8_000 + draws.below(40) * 100).collect();
    copied.iter_mut().skip(30).take(10).for_each(|v| *v = 9_300);
    all.extend(rows(9_001, &copied, 2));
    // Nothing at all for weeks is a dry cow.
    copied.iter_mut().skip(30).take(25).for_each(|v| *v = 0);
    all.extend(rows(9_002, &copied, 2));
    let found = with(|ctx| outputs(Output::Milk, &all, ctx));
    let of = |group: u128| -> Vec<&Finding> {
        let named = |f: &&Finding| f.finding == format!("repeated_values:{}:day", id(group));
        found.iter().filter(named).collect()
    };
    assert_eq!((of(9_001).len(), of(9_002).len()), (1, 0));
    assert_eq!(of(9_001)[0].evidence, "9.3 litres from 2026-02-19");
}

#[test]
fn tens_are_listed_against_the_farms_own_precision() {
    let mut draws = Draws(13);
    let found = |amounts: &[i64]| {
        let all = with(|ctx| outputs(Output::Eggs, &rows(10, amounts, 100), ctx));
        all.iter().filter(|f| f.rule == "rounded_values").count()
    };
    let mut mixed = |before: i64, after: i64, length: usize| -> Vec<i64> {
        let step = |i: usize| if i < 60 - length { before } else { after };
        (0..60).map(|i| step(i) * ((60 + draws.below(20)) / step(i))).collect()
    };
    let (singles, tens) = (mixed(1, 10, 20), mixed(1, 10, 9));
    assert_eq!((found(&singles), found(&tens)), (1, 0));
    // Steps of five before: ten records with a 0 are one in a thousand, twenty one in a million.
    let (ten, twenty) = (mixed(5, 10, 10), mixed(5, 10, 20));
    assert!(found(&twenty) == 1 && found(&ten) == 0);
    let trays: Vec<i64> = (0..60).map(|_| 30 * (1 + draws.below(3))).collect();
    assert_eq!(found(&trays), 0);
}

#[test]
fn an_odd_day_is_listed_and_a_lasting_change_is_not() {
    let mut draws = Draws(17);
    let found = |amounts: &[i64]| {
        let all = with(|ctx| outputs(Output::Milk, &rows(10, amounts, 2), ctx));
        let of_day = all.iter().filter(|f| f.rule == "output_jump" || f.rule == "unit_slip");
        of_day.map(|f| (f.rule, f.since)).collect::<Vec<_>>()
    };
    let base: Vec<i64> = (0..60).map(|_| 20_000 + draws.below(3_000)).collect();
    assert!(found(&base).is_empty());
    let mut slip = base.clone();
    slip[30] *= 10;
    // A digit too many says more than a jump: one finding of the day.
    assert_eq!(found(&slip), [("unit_slip", day("2026-02-19"))]);
    slip[30] = base[30] * 3 / 10;
    assert_eq!(found(&slip), [("output_jump", day("2026-02-19"))]);
    let fallen: Vec<i64> =
        base.iter().enumerate().map(|(i, v)| if i < 30 { *v } else { *v / 2 }).collect();
    assert!(found(&fallen).is_empty(), "{:?}", found(&fallen));
}
