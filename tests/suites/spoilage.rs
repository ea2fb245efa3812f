//! Spoilage through the interface: batches of any size, what counts and what does not, sheds, lots
//! and flags.

use crate::estimates::add_batches;
use acceptance::browser::Browser;
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_domain::Kind;
use traybook_domain::time::format_instant;
use traybook_domain::value::Instant;
use traybook_storage::{Store, StoreConfig};
use uuid::Uuid;

both!(
    a_farm_of_one_tray_batches_is_judged,
    a_flag_does_not_freeze_and_is_not_raised_again_by_hand,
    each_of_two_sheds_has_its_chart,
    what_is_lost_before_spreading_and_after_harvest_counts,
    what_is_not_counted_is_said,
    trays_follow_the_guide_and_are_filled_at_the_first_start,
    a_close_keeps_what_it_reported,
);

/// Milliseconds of noon so many days before the tests' day.
pub(crate) fn noon(days_ago: i64) -> String {
    let now = traybook_domain::time::parse_instant(acceptance::world::NOW).expect("now");
    format_instant(Instant(now.0 - days_ago * 86_400_000))
}

/// A batch and its events: name, days before the tests' day, and what else the event says.
pub(crate) fn grown(
    w: &World,
    (shed, lot): (Uuid, Option<Uuid>),
    events: &[(&str, i64, Json)],
) -> Vec<(Kind, Json)> {
    let id = w.app.new_id().expect("id");
    let mut batch = json!({ "id": id, "shed_id": shed, "crop": "barley" });
    if let Some(lot) = lot {
        batch["seed_lot_id"] = json!(lot);
    }
    let mut rows = vec![(Kind::Batch, batch)];
    for (event, days_ago, more) in events {
        let mut body = json!({ "batch_id": id, "event": event, "at": noon(*days_ago) });
        for (name, value) in more.as_object().expect("object") {
            body[name] = value.clone();
        }
        rows.push((Kind::BatchEvent, body));
    }
    rows
}

/// A batch of so many trays that ended so many days ago, with so many lost on the shelf.
pub(crate) fn ended(w: &World, shed: Uuid, days_ago: i64, (n, d): (i64, i64)) -> Vec<(Kind, Json)> {
    let mut events = vec![
        ("soaked", days_ago + 8, json!({ "kg": 2 * n })),
        ("spread", days_ago + 6, json!({ "trays": n })),
    ];
    if d > 0 {
        events.push(("discarded", days_ago, json!({ "trays": d, "cause": "mould" })));
    }
    if d < n {
        events.push(("harvested", days_ago, json!({ "trays": n - d, "kg": 12 * (n - d) })));
    }
    grown(w, (shed, None), &events)
}

/// A farm with sheds.
pub(crate) fn farm(w: &World, code: &str, sheds: usize) -> (Uuid, Vec<Uuid>) {
    let body =
        json!({ "code": code, "member_id": w.a.id("member"), "area_id": w.a.id("sub_area") });
    let id = w.make(&w.a, Kind::Farm, body);
    let shed = |k: usize| {
        let body = json!({ "code": format!("{code}-{k}"), "farm_id": id, "tray_places": 80 });
        w.make(&w.a, Kind::Shed, body)
    };
    (id, (1..=sheds).map(shed).collect())
}

fn of(w: &World, farm: Uuid) -> Json {
    let all = w.sign_in("manager").get("/v1/spoilage").expect(200).json();
    let farms = all["farms"].as_array().expect("farms").clone();
    farms.into_iter().find(|f| f["farm_id"] == json!(farm)).expect("the farm")
}

fn flags(w: &World, farm: Uuid) -> Vec<Json> {
    w.sign_in("manager").get(&format!("/v1/flags?farm_id={farm}")).expect(200).items()
}

fn a_farm_of_one_tray_batches_is_judged(w: World) {
    let ((good, good_shed), (bad, bad_shed)) = (farm(&w, "ONE", 1), farm(&w, "TWO", 1));
    let mut rows = Vec::new();
    for day in 1..=50 {
        rows.extend(ended(&w, good_shed[0], day, (1, i64::from(day == 20))));
        rows.extend(ended(&w, bad_shed[0], day, (1, i64::from(day < 25 && day % 3 != 0))));
    }
    add_batches(&w, rows);
    w.make_figures();
    let figures = of(&w, good);
    assert_eq!((&figures["status"], &figures["batches_counted"]), (&json!("ok"), &json!(50)));
    assert_eq!((&figures["trays_begun"], &figures["trays_lost"]), (&json!(50), &json!(1)));
    let figures = of(&w, bad);
    assert_eq!(figures["status"], "recurring");
    assert!(figures["chart_value"].as_f64() >= figures["flag_at"].as_f64());
    assert_eq!((flags(&w, good).len(), flags(&w, bad).len()), (0, 1));
}

/// However long it was bad, a few good batches clear a flag. One closed by a person stays closed
/// while the chart is up.
fn a_flag_does_not_freeze_and_is_not_raised_again_by_hand(w: World) {
    let (id, sheds) = farm(&w, "LONG", 1);
    let bad = |from: i64, to: i64| -> Vec<(Kind, Json)> {
        (to..from).rev().step_by(3).flat_map(|day| ended(&w, sheds[0], day, (6, 4))).collect()
    };
    let mut rows: Vec<(Kind, Json)> =
        (0..8).flat_map(|k| ended(&w, sheds[0], 250 - 5 * k, (6, 0))).collect();
    rows.extend(bad(200, 40));
    add_batches(&w, rows);
    w.make_figures();
    let manager = w.sign_in("manager");
    let open = flags(&w, id);
    assert_eq!((open.len(), &open[0]["points_at"]), (1, &json!("farm_or_lot")));
    let path = format!("/v1/flags/{}", open[0]["id"].as_str().expect("id"));
    let body = json!({ "cleared_on": "2026-03-20", "seen_on": "2026-03-20" });
    manager.patch(&path, "\"1\"", &body).expect(200);
    add_batches(&w, bad(39, 25));
    w.make_figures();
    assert_eq!(of(&w, id)["status"], "recurring");
    assert_eq!(flags(&w, id).len(), 1, "closed by a person: not raised again");
    // A few good batches of good size, after three months of bad ones.
    w.clock.set(Instant(w.app.now().0 + 60 * 86_400_000));
    let good: Vec<(Kind, Json)> =
        (0..6).flat_map(|k| ended(&w, sheds[0], -1 - 2 * k, (12, 0))).collect();
    add_batches(&w, good);
    w.make_figures();
    assert_ne!(of(&w, id)["status"], "recurring");
    // Bad again: a new flag, since the chart had cleared.
    add_batches(&w, bad(-20, -58));
    w.make_figures();
    assert_eq!(of(&w, id)["status"], "recurring");
    let now = flags(&w, id);
    assert_eq!((now.len(), now.iter().filter(|f| f["cleared_on"].is_null()).count()), (2, 1));
}

fn each_of_two_sheds_has_its_chart(w: World) {
    let (id, sheds) = farm(&w, "PAIR", 2);
    let mut rows = Vec::new();
    for k in 0..30 {
        rows.extend(ended(&w, sheds[0], 1 + 2 * k, (20, 0)));
        rows.extend(ended(&w, sheds[1], 1 + 2 * k, (3, if k < 9 { 2 } else { 0 })));
    }
    add_batches(&w, rows);
    w.make_figures();
    let figures = of(&w, id);
    assert_eq!((&figures["status"], &figures["shed"]), (&json!("recurring"), &json!("PAIR-2")));
    assert_eq!(figures["batches_counted"], 60, "of the whole farm");
    let raised = flags(&w, id);
    assert_eq!(raised.len(), 1);
    assert!(raised[0]["evidence"].as_str().is_some_and(|e| e.starts_with("Shed PAIR-2: ")));
    let chart = w.sign_in("manager").get(&format!("/v1/spoilage/{id}")).expect(200).json();
    let status = |k: usize| chart["sheds"][k]["figures"]["status"].clone();
    let mut both = [status(0), status(1)].map(|s| s.as_str().expect("status").to_owned());
    both.sort();
    assert_eq!(both, ["ok", "recurring"]);
}

fn what_is_lost_before_spreading_and_after_harvest_counts(w: World) {
    let (id, sheds) = farm(&w, "LOSS", 1);
    type Batch<'a> = (&'a [(&'a str, i64, Json)], (i64, i64));
    let batches: [Batch<'_>; 6] = [
        // Lost before spreading.
        (
            &[
                ("soaked", 20, json!({ "kg": 8, "trays": 4 })),
                ("discarded", 19, json!({ "trays": 1, "cause": "mould" })),
                ("spread", 18, json!({ "trays": 3 })),
                ("harvested", 12, json!({ "trays": 3, "kg": 36 })),
            ],
            (4, 1),
        ),
        // Never spread: as many trays as it was soaked for.
        (
            &[
                ("soaked", 21, json!({ "kg": 10, "trays": 5 })),
                ("discarded", 19, json!({ "trays": 2, "cause": "rot_at_drain_end" })),
            ],
            (5, 2),
        ),
        // Never spread, its trays not told: 5 kg are 2.5 loads of 2 kg, rounded half up.
        (
            &[
                ("soaked", 21, json!({ "kg": 5 })),
                ("discarded", 19, json!({ "trays": 3, "cause": "poor_germination" })),
            ],
            (3, 3),
        ),
        // Thrown away after harvest: 9 of 36 kg on 3 trays are 0.75, one tray.
        (
            &[
                ("soaked", 30, json!({ "kg": 6 })),
                ("spread", 28, json!({ "trays": 3 })),
                ("harvested", 22, json!({ "trays": 3, "kg": 36 })),
                ("discarded", 21, json!({ "kg": 9, "cause": "mould" })),
            ],
            (3, 1),
        ),
        // Left over is no spoilage.
        (
            &[
                ("soaked", 31, json!({ "kg": 6 })),
                ("spread", 29, json!({ "trays": 3 })),
                ("harvested", 23, json!({ "trays": 3, "kg": 36 })),
                ("discarded", 22, json!({ "kg": 30, "cause": "left_too_long" })),
            ],
            (3, 0),
        ),
        // Thrown away after a harvest that nobody weighed: that part is not counted.
        (
            &[
                ("soaked", 32, json!({ "kg": 6 })),
                ("spread", 30, json!({ "trays": 3 })),
                ("harvested", 24, json!({ "trays": 3 })),
                ("discarded", 23, json!({ "kg": 30, "cause": "mould" })),
            ],
            (3, 0),
        ),
    ];
    let mut rows = Vec::new();
    for (events, _) in &batches {
        rows.extend(grown(&w, (sheds[0], None), events));
    }
    add_batches(&w, rows);
    w.make_figures();
    let chart = w.sign_in("manager").get(&format!("/v1/spoilage/{id}")).expect(200).json();
    let path = chart["path"].as_array().expect("path");
    let mut found: Vec<(i64, i64)> = path
        .iter()
        .map(|b| (b["trays_begun"].as_i64().expect("n"), b["trays_lost"].as_i64().expect("d")))
        .collect();
    let mut wanted: Vec<(i64, i64)> = batches.iter().map(|(_, counted)| *counted).collect();
    found.sort_unstable();
    wanted.sort_unstable();
    assert_eq!(found, wanted);
    let unweighed = json!([{ "reason": "thrown_unweighed", "batches": 1, "trays": 0 }]);
    assert_eq!(chart["not_counted"], unweighed);
    let sums = w.wait(w.app.rebuild_sums(&w.a.coop)).expect("rebuilt");
    assert_eq!(sums.kept, sums.rebuilt);
}

fn what_is_not_counted_is_said(w: World) {
    let (id, sheds) = farm(&w, "SOME", 1);
    let mut rows = ended(&w, sheds[0], 3, (4, 1));
    let soaked = |days: i64| ("soaked", days, json!({ "kg": 8 }));
    let spread = |days: i64| ("spread", days, json!({ "trays": 4 }));
    // Two trays of four are unaccounted for; one batch is growing; one lost more than it began.
    let half = ("harvested", 22, json!({ "trays": 2, "kg": 24 }));
    rows.extend(grown(&w, (sheds[0], None), &[soaked(30), spread(28), half]));
    rows.extend(grown(&w, (sheds[0], None), &[soaked(5), spread(3)]));
    let lost = ("discarded", 31, json!({ "trays": 9, "cause": "mould" }));
    rows.extend(grown(&w, (sheds[0], None), &[soaked(40), spread(38), lost]));
    add_batches(&w, rows);
    w.make_figures();
    let figures = of(&w, id);
    assert_eq!(figures["batches_counted"], 1);
    let line = |reason: &str, trays: i64| json!({ "reason": reason, "batches": 1, "trays": trays });
    let wanted =
        json!([line("growing", 0), line("unaccounted", 2), line("more_lost_than_begun", 0)]);
    assert_eq!(figures["not_counted"], wanted);
    let page = Browser::sign_in(&w, "manager").get(&format!("/spoilage/{id}")).expect(200).text;
    assert!(page.contains("2 trays unaccounted for after 14 days"), "{page}");
    assert!(page.contains("still growing"));
    // What is put right counts at once.
    let chart = w.sign_in("manager").get(&format!("/v1/spoilage/{id}")).expect(200).json();
    let open = chart["not_counted_batches"].as_array().expect("batches").iter();
    let open = open.filter(|b| b["reason"] == "unaccounted").collect::<Vec<_>>();
    let body = json!({ "batch_id": open[0]["batch_id"], "event": "harvested", "at": noon(21),
        "trays": 2, "kg": 24 });
    add_batches(&w, vec![(Kind::BatchEvent, body)]);
    let chart = w.sign_in("manager").get(&format!("/v1/spoilage/{id}")).expect(200).json();
    assert_eq!(chart["batches_counted"], 2);
}

/// The trays kept of a co-operative, as text.
fn kept(w: &World) -> Vec<String> {
    let number = w.a.coop.number;
    let all = w.app.store.read(move |conn| {
        traybook_storage::planning::batch_trays::batch_trays(conn, number, 0, None)
    });
    let all = w.wait(all).expect("read");
    all.iter().map(|b| format!("{b:?}")).collect()
}

fn trays_follow_the_guide_and_are_filled_at_the_first_start(w: World) {
    let (_, sheds) = farm(&w, "FILL", 1);
    let mut rows = ended(&w, sheds[0], 3, (4, 1));
    let never = [
        ("soaked", 21, json!({ "kg": 8 })),
        ("discarded", 19, json!({ "trays": 1, "cause": "mould" })),
    ];
    rows.extend(grown(&w, (sheds[0], None), &never));
    add_batches(&w, rows);
    let begun = |kept: &[String]| {
        kept.iter().find(|b| b.contains("spread: None")).expect("never spread").clone()
    };
    assert!(begun(&kept(&w)).contains("begun: Some(4)"), "four loads of 2 kg");
    // One kg a tray, by the guide: eight trays were soaked for.
    let body = json!({ "name": "seed_kg_per_tray", "value": 1, "valid_from": "2026-01-01" });
    w.make(&w.a, Kind::GrowingGuideValue, body);
    assert!(begun(&kept(&w)).contains("begun: Some(8)"));
    // Half a kg, by the shed itself: it stands above the guide.
    let path = format!("/v1/sheds/{}", sheds[0]);
    w.sign_in("manager").patch(&path, "\"1\"", &json!({ "tray_load_kg": 0.5 })).expect(200);
    assert!(begun(&kept(&w)).contains("begun: Some(16)"));
    // A program that counted otherwise left nothing: the next start fills the table.
    let before = kept(&w);
    let mut conn = w.db.connect();
    conn.exec("DELETE FROM batch_trays", &[]).expect("emptied");
    drop(conn);
    assert_eq!(kept(&w), Vec::<String>::new());
    drop(Store::open(&StoreConfig::new(&w.db.url, 1)).expect("opened"));
    assert_eq!(kept(&w), before);
}

/// The report of a closed month keeps the flags it had, whatever the charts say later.
fn a_close_keeps_what_it_reported(w: World) {
    let (id, sheds) = farm(&w, "KEEP", 1);
    let mut rows: Vec<(Kind, Json)> =
        (0..8).flat_map(|k| ended(&w, sheds[0], 90 - 5 * k, (6, 0))).collect();
    rows.extend((0..8).flat_map(|k| ended(&w, sheds[0], 48 - 3 * k, (6, 5))));
    add_batches(&w, rows);
    let start = json!({ "fodder_started_on": "2025-12-01", "change_reason": "first soak" });
    let manager = w.sign_in("manager");
    manager.patch(&format!("/v1/farms/{id}"), "\"1\"", &start).expect(200);
    w.make_figures();
    manager.post("/v1/month-closes", &json!({ "month": "2026-02" })).expect(201);
    let status = || {
        let report = manager.get("/v1/reports/savings?month=2026-02").expect(200).json();
        let farms = report["farms"].as_array().expect("farms").clone();
        let line = farms.into_iter().find(|f| f["farm"] == "KEEP").expect("the farm");
        line["spoilage_status"].clone()
    };
    assert_eq!(status(), "recurring");
    let good = (0..8).flat_map(|k| ended(&w, sheds[0], 20 - 2 * k, (12, 0))).collect();
    add_batches(&w, good);
    w.make_figures();
    assert_ne!(of(&w, id)["status"], "recurring");
    assert_eq!(status(), "recurring", "as it was reported");
}
