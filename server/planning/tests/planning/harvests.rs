//! What becomes of a harvest: fed, kept, thrown away; harvests before their day, and seed lost
//! before it was spread.

use crate::support::*;
use crate::work::{at, lines, scene, told};
use traybook_domain::kinds::{HOLD_CAUTION, MOULD_CAUTION};
use traybook_planning::words::sentence;
use traybook_planning::work::{LotStock, OVER_AGE_CAUTION, Out, Scene, State, Task};
use uuid::Uuid;

/// The batch of a code.
fn batch<'a>(scene: &'a mut Scene, code: &str) -> &'a mut traybook_planning::work::Batch {
    scene.batches.iter_mut().find(|b| b.code.as_deref() == Some(code)).expect("a batch")
}

fn harvest(day: &str, trays: i64, grams: Option<i64>) -> Out {
    Out { task: Task::Harvest, at: at(&format!("{day}T07:00")), trays: Some(trays), grams }
}

#[test]
fn a_harvest_that_was_not_fed_stays_until_it_is_fed_or_thrown_away() {
    let now = "2026-04-02T06:30";
    let mut scene = scene(now);
    // B22 was harvested on the 1st and not fed.
    batch(&mut scene, "B22").outs.retain(|o| o.task == Task::Harvest);
    let of_b22 = |scene: &Scene, now: &str| {
        let at = scene.batches.iter().position(|b| b.code.as_deref() == Some("B22"));
        let list = lines(scene, day(now.split('T').next().expect("a day")), now, false);
        list.into_iter().filter(|l| l.batch == at).collect::<Vec<_>>()
    };
    let late = of_b22(&scene, now);
    assert_eq!(
        told(&late),
        [(Task::Discard, "late", Some(1)), (Task::Feed, "late", Some(1))],
        "on the next day"
    );
    for line in &late {
        assert_eq!(line.cautions, [OVER_AGE_CAUTION]);
        assert_eq!(line.grams, Some(12_000));
        assert_eq!(
            line.why.as_deref(),
            Some("was harvested 1 day ago, and neither fed nor thrown away by the records")
        );
    }
    assert_eq!(
        sentence(&late[1], &scene, None),
        "feed 12 kg fresh fodder of batch B22 for cows of 2026-04-01, or throw it away"
    );
    assert_eq!(
        sentence(&late[0], &scene, None),
        "throw away 12 kg fresh fodder of batch B22: bury or compost away from animals"
    );
    // It empties no tray: nothing more is cleaned for it.
    let all = lines(&scene, day("2026-04-02"), now, false);
    assert_eq!(all.iter().filter(|l| l.task == Task::Clean).count(), 1);
    // Ten days later it is a record that lacks its end.
    assert_eq!(of_b22(&scene, "2026-04-11T06:30").len(), 2);
    assert_eq!(of_b22(&scene, "2026-04-12T06:30").len(), 0);
    // Half of it fed: the other half stays, by another name.
    let names = |lines: &[traybook_planning::work::Line]| -> Vec<String> {
        lines.iter().filter(|l| l.state == State::Late).map(|l| l.key.clone()).collect()
    };
    let fed = Out { task: Task::Feed, at: at(now), trays: None, grams: Some(6_000) };
    batch(&mut scene, "B22").outs.push(fed);
    let half = of_b22(&scene, now);
    assert!(names(&half).iter().all(|name| !names(&late).contains(name)), "{half:?}");
    assert_eq!(half.iter().filter(|l| l.grams == Some(6_000)).count(), 3);
    let thrown = Out { task: Task::Discard, at: at(now), trays: None, grams: Some(6_000) };
    batch(&mut scene, "B22").outs.push(thrown);
    let end = of_b22(&scene, now);
    assert!(end.iter().all(|l| matches!(l.state, State::Done(_))), "{end:?}");
}

#[test]
fn a_batch_of_several_days_shows_the_amounts_of_each() {
    let now = "2026-04-02T12:00";
    let mut scene = scene("2026-04-01T06:30");
    scene.batches.retain(|b| b.code.as_deref() == Some("B22"));
    let of = batch(&mut scene, "B22");
    of.spread = 3;
    let fed = |at_day: &str, grams| Out {
        task: Task::Feed,
        at: at(&format!("{at_day}T08:00")),
        trays: None,
        grams: Some(grams),
    };
    of.outs = vec![
        harvest("2026-04-01", 1, Some(6_000)),
        fed("2026-04-01", 6_000),
        harvest("2026-04-02", 2, Some(11_000)),
        fed("2026-04-02", 4_000),
    ];
    let amounts = |date: &str| {
        let list = lines(&scene, day(date), now, false);
        let of = list.iter().filter(|l| matches!(l.task, Task::Harvest | Task::Feed));
        of.map(|l| (l.task, matches!(l.state, State::Done(_)), l.grams)).collect::<Vec<_>>()
    };
    assert_eq!(
        amounts("2026-04-01"),
        [(Task::Harvest, true, Some(6_000)), (Task::Feed, true, Some(6_000))]
    );
    assert_eq!(
        amounts("2026-04-02"),
        [
            (Task::Feed, false, Some(7_000)),
            (Task::Harvest, true, Some(11_000)),
            (Task::Feed, true, Some(4_000))
        ]
    );
}

#[test]
fn a_mouldy_harvest_is_thrown_away_and_a_held_one_kept_apart() {
    let now = "2026-04-01T12:00";
    let mut scene = scene(now);
    let of = batch(&mut scene, "B22");
    of.outs.retain(|o| o.task == Task::Harvest);
    let held = lines(&scene, day("2026-04-01"), now, true);
    let held =
        held.iter().find(|l| l.task == Task::Feed && l.state == State::Open).expect("a line");
    assert_eq!(sentence(held, &scene, None), "keep 12 kg fresh fodder of batch B22 apart");
    batch(&mut scene, "B22").mould = true;
    let list = lines(&scene, day("2026-04-01"), now, false);
    let b22 = scene.batches.iter().position(|b| b.code.as_deref() == Some("B22"));
    let open: Vec<_> =
        list.iter().filter(|l| l.batch == b22 && !matches!(l.state, State::Done(_))).collect();
    assert_eq!(open.len(), 1, "{open:?}");
    assert_eq!(
        (open[0].task, open[0].state, open[0].grams),
        (Task::Discard, State::Late, Some(12_000))
    );
    assert_eq!(
        (open[0].why.as_deref(), &open[0].cautions[..]),
        (Some("mould was seen"), &[MOULD_CAUTION][..])
    );
}

#[test]
fn a_soak_whose_only_seed_is_held_says_so_each_crop_by_itself() {
    let now = "2026-04-01T06:30";
    // Two crops: the cows are given barley, the hens maize (positions 0 and 1).
    let mut scene = scene(now);
    let mut hens = group("layers", day(START), 100);
    hens.id = Uuid::from_u128(5);
    hens.crop = Some(1);
    scene.farm.groups.push(hens);
    scene.farm.sheds[0].places = 40;
    let lot =
        |number: u128, crop: usize| LotStock { lot: Uuid::from_u128(number), crop, grams: 50_000 };
    scene.stock = vec![lot(1, 0), lot(2, 1)];
    let soaks = |scene: &Scene, held: bool| {
        let list = lines(scene, day("2026-04-01"), now, held);
        let of = list.into_iter().filter(|l| l.task == Task::Soak);
        of.map(|l| (l.crop, l.lot.map(|id| id.as_u128()), l.cautions)).collect::<Vec<_>>()
    };
    let mut free = soaks(&scene, false);
    free.sort();
    assert_eq!(free, [(Some(0), Some(1), vec![]), (Some(1), Some(2), vec![])]);
    let held = soaks(&scene, true);
    assert_eq!(held.len(), 2);
    assert!(held.iter().all(|(_, lot, said)| lot.is_none() && *said == [HOLD_CAUTION]), "{held:?}");
    // Where there is no seed at all, nothing is held either.
    scene.stock.clear();
    assert!(soaks(&scene, true).iter().all(|(_, lot, said)| lot.is_none() && said.is_empty()));
}

#[test]
fn a_harvest_before_its_day_is_fed_then_and_missing_on_its_day() {
    let now = "2026-04-01T12:00";
    let mut scene = scene(now);
    // B24 is due on the 3rd and was harvested today.
    batch(&mut scene, "B24").outs = vec![harvest("2026-04-01", 1, Some(9_000))];
    let b24 = scene.batches.iter().position(|b| b.code.as_deref() == Some("B24"));
    let list = lines(&scene, day("2026-04-01"), now, false);
    let of = list.iter().filter(|l| l.batch == b24);
    let told: Vec<_> = of.map(|l| (l.task, l.grams, l.cautions.len())).collect();
    assert_eq!(told, [(Task::Feed, Some(9_000), 0), (Task::Harvest, Some(9_000), 0)]);
    // On its day nothing of it is harvested any more.
    let later = lines(&scene, day("2026-04-03"), now, false);
    assert!(later.iter().all(|l| l.batch != b24), "{later:?}");
    // Kept over night it is late, with the caution, though its day is still to come.
    let next = lines(&scene, day("2026-04-02"), "2026-04-02T06:30", false);
    let kept: Vec<_> = next.iter().filter(|l| l.batch == b24).collect();
    assert_eq!(kept.len(), 2);
    assert!(kept.iter().all(|l| l.state == State::Late && l.cautions == [OVER_AGE_CAUTION]));
}

#[test]
fn of_a_batch_partly_lost_before_it_was_spread_the_rest_counts() {
    let now = "2026-04-01T06:30";
    let mut scene = scene(now);
    let lost = Out { task: Task::Discard, at: at("2026-03-31T18:00"), trays: Some(1), grams: None };
    let of = batch(&mut scene, "B28");
    // 6 kg for three trays; one tray's seed had rotted.
    (of.seed_g, of.outs) = (6_000, vec![lost]);
    let spread = |scene: &Scene| {
        let list = lines(scene, day("2026-04-01"), now, false);
        let line = list.into_iter().find(|l| l.task == Task::Spread).expect("a spreading");
        (line.trays, line.grams)
    };
    assert_eq!(spread(&scene), (Some(2), Some(4_000)));
    let harvest = |scene: &Scene, now: &str| {
        let list = lines(scene, day("2026-04-07"), now, false);
        let line = list.into_iter().find(|l| l.task == Task::Harvest).expect("a harvest");
        (line.trays, line.grams)
    };
    // Six times the seed: 24 kg of the 4 kg that are left, on two trays.
    assert_eq!(harvest(&scene, now), (Some(2), Some(24_000)));
    let of = batch(&mut scene, "B28");
    (of.spread, of.spread_at) = (2, Some(at("2026-04-01T11:00")));
    assert_eq!(of.standing(), 2);
    assert_eq!(harvest(&scene, "2026-04-01T12:00"), (Some(2), Some(24_000)));
    // All of it lost is no work at all.
    let of = batch(&mut scene, "B28");
    (of.spread, of.spread_at) = (0, None);
    of.outs.push(Out { trays: Some(2), ..lost });
    assert!(!lines(&scene, day("2026-04-01"), now, false).iter().any(|l| l.task == Task::Spread));
}
