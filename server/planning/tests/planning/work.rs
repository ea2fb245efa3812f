//! A day's work, gone through by hand.

use crate::support::*;
use chrono_tz::Tz;
use traybook_domain::kinds::{HOLD_CAUTION, MOULD_CAUTION};
use traybook_domain::planning::guide::Guide;
use traybook_domain::time::{LocalDays, parse_instant};
use traybook_domain::value::Instant;
use traybook_planning::words::sentence;
use traybook_planning::work::{
    Asked, Batch, Line, LotStock, OVER_AGE_CAUTION, Out, Recorded, Scene, State, Task,
};
use traybook_planning::{Day, Standards, date_of};
use uuid::Uuid;

const ZONE: Tz = chrono_tz::Africa::Dar_es_Salaam;

pub fn at(text: &str) -> Instant {
    // Three hours ahead of UTC, all year.
    parse_instant(&format!("{text}:00+03:00")).expect("an instant")
}

/// A cow's batches, one soaked each day at seven, each spread two days later; as of `now`.
pub fn scene(now: &str) -> Scene {
    let start = day(START);
    let mut farm = farm(12, vec![group("dairy_cows", start, 1)], start);
    farm.groups[0].code = "cows".to_owned();
    let now = at(now);
    let mut batches = Vec::new();
    for number in 0..60 {
        let soak = format!("{}T07:00", date_of(start + number));
        let spread = format!("{}T11:00", date_of(start + number + 2));
        let harvest = format!("{}T07:00", date_of(start + number + 8));
        if at(&soak).0 > now.0 {
            break;
        }
        let past = |text: &str| Some(at(text)).filter(|t| t.0 <= now.0);
        let out = past(&harvest);
        batches.push(Batch {
            id: Uuid::from_u128(u128::try_from(number + 1).expect("positive")),
            code: Some(format!("B{number}")),
            group: Some(0),
            shed: 0,
            lot: Some(Uuid::from_u128(77)),
            crop: 0,
            age: None,
            soaked_at: at(&soak),
            seed_g: 2_000,
            planned: None,
            spread_at: past(&spread),
            spread: i64::from(past(&spread).is_some()),
            outs: out.into_iter().flat_map(harvested_and_fed).collect(),
            mould: false,
        });
    }
    let stock = vec![LotStock { lot: Uuid::from_u128(77), crop: 0, grams: 90_000 }];
    Scene { farm, batches, recorded: Vec::new(), stock }
}

fn harvested_and_fed(at: Instant) -> [Out; 2] {
    let out = |task, trays| Out { task, at, trays, grams: Some(12_000) };
    [out(Task::Harvest, Some(1)), out(Task::Feed, None)]
}

pub fn lines(scene: &Scene, date: Day, now: &str, held: bool) -> Vec<Line> {
    let now = at(now);
    let standards = Standards::new(&Guide::default(), day(START), 90);
    let is_held = |_| held;
    let around = LocalDays::around(date_of(day(START)), 30, 90, ZONE);
    let asked = Asked { standards: &standards, now, days: &around, is_held: &is_held };
    let days = usize::try_from(date - asked.today() + 1).unwrap_or(1);
    scene.work(date, &asked, &scene.plan(&asked, days))
}

pub fn told(lines: &[Line]) -> Vec<(Task, &'static str, Option<i64>)> {
    let state = |line: &Line| match line.state {
        State::Open => "open",
        State::Late => "late",
        State::Done(_) => "done",
    };
    lines.iter().map(|l| (l.task, state(l), l.trays)).collect()
}

#[test]
fn a_morning_on_a_farm_in_full_swing() {
    // 1 April, half past six: 30 days after the first soak, today's not yet made.
    let now = "2026-04-01T06:30";
    let scene = scene(now);
    let today = day("2026-04-01");
    let list = lines(&scene, today, now, false);
    assert_eq!(
        told(&list),
        [
            (Task::Harvest, "open", Some(1)),
            (Task::Soak, "open", Some(1)),
            // Of the six trays one is to be harvested: five are watered, and the one spread at
            // eleven is added then.
            (Task::Water, "open", Some(5)),
            (Task::Clean, "open", Some(1)),
            (Task::Spread, "open", Some(1)),
            (Task::Water, "open", Some(5)),
            (Task::Water, "open", Some(5)),
        ]
    );
    let words: Vec<String> = list.iter().map(|l| sentence(l, &scene, Some("L7"))).collect();
    assert_eq!(
        words[0],
        "harvest 1 tray of batch B22 in S1 for cows, 12 kg expected; feed it the same day"
    );
    assert_eq!(words[1], "soak 2 kg barley of lot L7 in S1 for cows: 1 tray, fed on 2026-04-09");
    assert_eq!(words[3], "scrub, disinfect, rinse and dry 1 tray in S1");
    assert_eq!(words[4], "spread 2 kg barley of batch B28 on 1 tray in S1");
    assert_eq!(words[5], "water 5 trays in S1, round 2 of 3");
    assert_eq!(list[1].lot, Some(Uuid::from_u128(77)));
}

#[test]
fn what_is_done_stays_on_the_list_as_done_and_a_new_soak_is_drained() {
    let now = "2026-04-01T12:00";
    let mut scene = scene(now);
    scene.recorded.push(Recorded {
        task: Task::Water,
        shed: Some(0),
        batch: None,
        at: at("2026-04-01T07:20"),
        watering: Some(1),
    });
    let list = lines(&scene, day("2026-04-01"), now, false);
    let state = |task: Task| {
        let of = list.iter().filter(|l| l.task == task).map(|l| l.state);
        of.collect::<Vec<_>>()
    };
    assert_eq!(state(Task::Harvest), [State::Done(at("2026-04-01T07:00"))]);
    assert_eq!(state(Task::Soak), [State::Done(at("2026-04-01T07:00"))]);
    assert_eq!(state(Task::Spread), [State::Done(at("2026-04-01T11:00"))]);
    assert_eq!(state(Task::Feed), [State::Done(at("2026-04-01T07:00"))]);
    // Soaked at seven for four hours; at noon the drain is due and within its two hours.
    assert_eq!(state(Task::Drain), [State::Open]);
    let water: Vec<State> = state(Task::Water);
    assert_eq!(water, [State::Open, State::Open, State::Done(at("2026-04-01T07:20"))]);
    // Were the first not recorded, it would be gone: the second is due.
    scene.recorded.clear();
    let list = lines(&scene, day("2026-04-01"), now, false);
    assert_eq!(list.iter().filter(|l| l.task == Task::Water).count(), 2);
    assert!(state(Task::Discard).is_empty());
}

#[test]
fn late_work_comes_first_with_its_reason() {
    let now = "2026-04-02T06:00";
    let mut scene = scene("2026-04-01T06:30");
    // Nothing was recorded on the 1st: its harvest, spread and soak are late on the 2nd.
    scene.batches.retain(|b| b.soaked_at.0 < at("2026-04-01T00:00").0);
    let list = lines(&scene, day("2026-04-02"), now, false);
    let late: Vec<(Task, &str)> = list
        .iter()
        .filter(|l| l.state == State::Late)
        .map(|l| (l.task, l.why.as_deref().unwrap_or_default()))
        .collect();
    assert_eq!(
        late,
        [
            (Task::Harvest, "1 day past its harvest age"),
            (
                Task::Soak,
                "was to be soaked 1 day ago; it is fed younger and lighter, on the same day"
            ),
            (Task::Spread, "was due 1 day ago"),
        ]
    );
    assert!(list.iter().position(|l| l.state != State::Late) >= Some(late.len()));
    let harvest = list.iter().find(|l| l.task == Task::Harvest).expect("a harvest");
    assert_eq!(harvest.cautions, [OVER_AGE_CAUTION]);
}

#[test]
fn mould_and_age_turn_a_harvest_into_a_discard() {
    let now = "2026-04-01T06:30";
    let mut scene = scene(now);
    let today = day("2026-04-01");
    let standing =
        scene.batches.iter_mut().find(|b| b.code.as_deref() == Some("B24")).expect("B24");
    standing.mould = true;
    let list = lines(&scene, today, now, false);
    let discard = list.iter().find(|l| l.task == Task::Discard).expect("a discard");
    assert_eq!((discard.state, discard.why.as_deref()), (State::Late, Some("mould was seen")));
    assert_eq!(discard.cautions, [MOULD_CAUTION]);
    let age = scene.batches.iter_mut().find(|b| b.code.as_deref() == Some("B22")).expect("B22");
    age.age = Some(4);
    let list = lines(&scene, today, now, false);
    let old = list.iter().filter(|l| l.task == Task::Discard && l.cautions == [OVER_AGE_CAUTION]);
    assert_eq!(old.count(), 1);
}

#[test]
fn a_hold_warns_beside_every_batch_and_no_held_lot_is_proposed() {
    let now = "2026-04-01T06:30";
    let scene = scene(now);
    let list = lines(&scene, day("2026-04-01"), now, true);
    for line in &list {
        match line.task {
            Task::Harvest => {
                assert_eq!(line.cautions, [HOLD_CAUTION]);
                assert!(sentence(line, &scene, None).ends_with("; keep it apart"));
            }
            Task::Spread => assert_eq!(line.cautions, [HOLD_CAUTION]),
            Task::Soak => assert_eq!(line.lot, None),
            _ => {}
        }
    }
}

#[test]
fn a_day_to_come_and_a_day_past() {
    let now = "2026-04-01T06:30";
    let scene = scene(now);
    let tomorrow = lines(&scene, day("2026-04-02"), now, false);
    let tasks: Vec<Task> = tomorrow.iter().map(|l| l.task).collect();
    assert_eq!(
        tasks,
        [
            Task::Harvest,
            Task::Soak,
            Task::Water,
            Task::Clean,
            Task::Spread,
            Task::Drain,
            Task::Water,
            Task::Water
        ]
    );
    assert_eq!(tomorrow[2].trays, Some(6));
    assert!(tomorrow.iter().all(|l| l.state == State::Open && l.why.is_none()));
    // Twenty days on everything comes from the plan.
    let later = lines(&scene, day("2026-04-21"), now, false);
    assert!(later.iter().any(|l| l.task == Task::Soak));
    let past = lines(&scene, day("2026-03-20"), now, false);
    for task in [Task::Soak, Task::Spread, Task::Harvest, Task::Feed] {
        assert!(
            past.iter().any(|l| l.task == task && matches!(l.state, State::Done(_))),
            "{task:?}"
        );
    }
}

#[test]
fn a_farm_that_records_nothing_begins_anew_and_forgotten_batches_leave_the_list() {
    let mut scene = scene("2026-04-01T06:30");
    scene.batches.truncate(10);
    let now = "2026-04-20T06:30";
    let list = lines(&scene, day("2026-04-20"), now, false);
    assert_eq!(told(&list), [(Task::Soak, "open", Some(1))]);
}

#[test]
fn keys_are_unique_and_stay_while_the_work_stays() {
    let now = "2026-04-01T06:30";
    let scene = scene(now);
    let keys = |now: &str| -> Vec<String> {
        lines(&scene, day("2026-04-01"), now, false).into_iter().map(|l| l.key).collect()
    };
    let first = keys(now);
    let mut unique = first.clone();
    unique.sort();
    unique.dedup();
    assert_eq!(unique.len(), first.len());
    let mut later = keys("2026-04-01T06:50");
    later.sort();
    assert_eq!(later, unique);
}

/// Four cows on a farm whose records tell, one of whose trays was lost.
fn lossy(now: &str) -> Scene {
    let mut scene = scene(now);
    scene.farm.sheds[0].places = 60;
    scene.farm.groups[0].head = vec![(i32::MIN, 4)];
    scene.farm.learned =
        Some(traybook_planning::Learned { fresh: vec![6.0; 7], spoil: 0.05, sd: 0.12 });
    for batch in &mut scene.batches {
        // 8 kg and 4 % of it ahead, on 5 trays.
        (batch.seed_g, batch.planned) = (8_320, Some(5));
        batch.spread *= 5;
        for out in &mut batch.outs {
            out.trays = out.trays.map(|t| t * 5);
            out.grams = Some(49_920);
        }
    }
    scene
}

#[test]
fn todays_soak_says_that_a_lost_tray_is_soaked_again() {
    // 30 March 2026 was a Monday. B25 was soaked on Friday the 27th and is due on 4 April.
    let now = "2026-04-01T06:00";
    let mut scene = lossy(now);
    let soak = |scene: &Scene| {
        let all = lines(scene, day("2026-04-01"), now, false);
        all.into_iter().find(|l| l.task == Task::Soak && l.state == State::Open).expect("a soak")
    };
    let usual = soak(&scene);
    assert_eq!((usual.trays, usual.grams, usual.why), (Some(5), Some(8_320), None));
    let batch = scene.batches.iter_mut().find(|b| b.code.as_deref() == Some("B25")).expect("B25");
    batch.outs.push(Out {
        task: Task::Discard,
        at: at("2026-03-31T10:00"),
        trays: Some(1),
        grams: None,
    });
    // ARITH: 8.24 kg shall stand each day, one day lacks 1.664 kg, and from it on each of five
    // days holds 0.08 kg more.
    let more = soak(&scene);
    assert_eq!((more.trays, more.grams), (Some(6), Some(8_320 + 1_664 - 80 * 5)));
    assert_eq!(more.why.as_deref(), Some("1 tray more: 1 tray was lost on Tuesday"));
    // Once it is soaked, nothing more is asked for on that day.
    let recorded = Batch {
        id: Uuid::from_u128(900),
        code: None,
        soaked_at: at("2026-04-01T05:30"),
        seed_g: 5_000,
        planned: Some(3),
        spread_at: None,
        spread: 0,
        outs: Vec::new(),
        ..scene.batches[20].clone()
    };
    scene.batches.retain(|b| b.soaked_at.0 < at("2026-04-01T00:00").0);
    scene.batches.push(recorded);
    let all = lines(&scene, day("2026-04-01"), now, false);
    assert!(!all.iter().any(|l| l.task == Task::Soak && l.state == State::Open));
}

#[test]
fn a_short_harvest_is_made_up_by_young_trays_that_have_no_mould() {
    let now = "2026-04-01T07:30";
    let mut scene = lossy(now);
    let early = |scene: &Scene| -> Vec<(Option<i64>, Option<i64>, String)> {
        let all = lines(scene, day("2026-04-01"), now, false);
        let early = all.into_iter().filter(|l| l.early.is_some());
        early.map(|l| (l.trays, l.grams, sentence(&l, scene, None))).collect()
    };
    // B22, due today, is harvested and fed already: nothing is asked for.
    assert_eq!(early(&scene), []);
    let today = scene.batches.iter_mut().find(|b| b.code.as_deref() == Some("B22")).expect("B22");
    today.outs.retain(|o| o.task == Task::Harvest);
    assert_eq!(early(&scene), [], "it gave what was expected");
    let today = scene.batches.iter_mut().find(|b| b.code.as_deref() == Some("B22")).expect("B22");
    today.outs[0].grams = Some(36_000);
    // ARITH: 12 kg of 48 are missing; a tray of 1.664 kg gives 6 x .88 of it a day early, 8.786 kg,
    // and 3.2 kg are within a tenth.
    let line = "harvest 1 tray of batch B23 in S1 1 day early for cows, 8.79 kg expected: today's \
                harvest falls short";
    assert_eq!(early(&scene), [(Some(1), Some(8_786), line.to_owned())]);
    // Never one with mould: the day after gives it, two days young.
    let next = scene.batches.iter_mut().find(|b| b.code.as_deref() == Some("B23")).expect("B23");
    next.mould = true;
    let [(trays, grams, _)] = &early(&scene)[..] else { panic!("one line") };
    assert_eq!((*trays, *grams), (Some(1), Some(7_588)));
    // Nor of a lot that is held.
    let held = lines(&scene, day("2026-04-01"), now, true);
    assert!(held.iter().all(|l| l.early.is_none()));
}

#[test]
fn of_two_young_trays_the_second_is_asked_for_when_the_first_is_weighed() {
    let now = "2026-04-01T07:30";
    let with = |due: i64, first: Option<i64>| -> Vec<(Option<i64>, Option<i32>)> {
        let mut scene = lossy(now);
        let of = |code: &'static str| move |b: &&mut Batch| b.code.as_deref() == Some(code);
        let today = scene.batches.iter_mut().find(of("B22")).expect("B22");
        today.outs.retain(|o| o.task == Task::Harvest);
        today.outs[0].grams = Some(due);
        if let Some(grams) = first {
            let (task, at) = (Task::Harvest, at("2026-04-01T07:20"));
            let out = Out { task, at, trays: Some(1), grams: Some(grams) };
            scene.batches.iter_mut().find(of("B23")).expect("B23").outs.push(out);
        }
        let all = lines(&scene, day("2026-04-01"), now, false);
        let early = all.into_iter().filter(|l| l.early.is_some() && l.state == State::Open);
        early.map(|l| (l.trays, l.early)).collect()
    };
    // ARITH: 20 kg of 48 are missing, a tray gives 8.786 kg: two would do.
    assert_eq!(with(28_000, None), [(Some(1), Some(1))]);
    // It weighs 8 kg: 12 are missing. It weighs 16 kg: 4, which is within a tenth.
    assert_eq!(with(28_000, Some(8_000)), [(Some(1), Some(1))]);
    assert_eq!(with(28_000, Some(16_000)), []);
    // Of three, two are asked for.
    assert_eq!(with(19_000, None), [(Some(2), Some(1))]);
}
