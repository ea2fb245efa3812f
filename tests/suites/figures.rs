//! The figures that are made in the background: when they are due, who makes them, what they say of
//! themselves; and the boards, the one thing that a server keeps in memory.

use acceptance::samples::sample;
use acceptance::world::{app_on_url, object};
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use std::sync::Arc;
use traybook_app::planning::Boards;
use traybook_app::review::Asked;
use traybook_app::savings::Reports;
use traybook_app::{Actor, App};
use traybook_domain::limits::{ASKED_WITHIN_MS, MAKING_PAUSE_MS};
use traybook_domain::value::Instant;
use traybook_domain::{Kind, Month};
use traybook_storage::StoreError;
use traybook_storage::estimates::{estimate_rows, snapshots};
use traybook_storage::records::changes;
use traybook_storage::records::farm_rows;
use uuid::Uuid;

both!(
    every_change_moves_the_revision,
    figures_are_made_when_they_are_due,
    one_of_two_servers_makes_them,
    a_making_that_fails_leaves_the_old_figures,
    a_row_of_an_unexpected_form_is_an_error_that_names_the_query,
    figures_say_of_when_they_are,
    a_finding_goes_as_soon_as_it_is_put_right,
    boards_can_be_thrown_away,
    boards_are_bounded,
    reports_are_bounded,
    farms_can_be_thrown_away,
);

fn revision(w: &World) -> i64 {
    let number = w.a.coop.number;
    let read = w.app.store.read(move |conn| changes::counters(conn, number));
    w.wait(read).expect("counters").revision
}

fn state(w: &World) -> Option<snapshots::State> {
    let number = w.a.coop.number;
    w.wait(w.app.store.read(move |conn| snapshots::state(conn, number))).expect("a state")
}

/// Runs what a server runs by itself, at a time.
fn make_due(w: &World, at: i64) -> usize {
    w.clock.set(Instant(at));
    w.wait(w.app.make_due_figures()).expect("figures")
}

fn milk(w: &World, day: &str, litres: u32) -> Uuid {
    let body = json!({ "animal_group_id": w.a.id("cows"), "date": day, "session": "day",
        "litres": litres, "animals_in_milk": 2 });
    w.make(&w.a, Kind::MilkRecord, body)
}

fn every_change_moves_the_revision(w: World) {
    let machine = Actor::machine(w.a.coop.clone());
    let mut last = revision(&w);
    let mut moved = |what: &str| {
        let now = revision(&w);
        assert!(now > last, "{what} leaves the revision at {now}");
        last = now;
    };
    for kind in Kind::ALL.iter().copied().filter(|k| *k != Kind::Cooperative) {
        let (body, patch) = sample(kind, &w.a);
        let made = w.wait(w.app.create(&machine, kind, object(body)));
        let made = made.unwrap_or_else(|e| panic!("{kind:?}: {e:?}"));
        moved(&format!("a new {kind:?}"));
        let id: Uuid = made.json["id"].as_str().and_then(|t| t.parse().ok()).expect("an id");
        let mut version = made.version;
        if patch != json!({}) {
            let done = w.wait(w.app.correct(&machine, kind, id, version, object(patch)));
            version = done.unwrap_or_else(|e| panic!("{kind:?}: {e:?}")).version;
            moved(&format!("a corrected {kind:?}"));
        }
        let gone: Result<(), _> = w.wait(w.app.withdraw(&machine, kind, id, version, None));
        gone.unwrap_or_else(|e| panic!("{kind:?}: {e:?}"));
        moved(&format!("a withdrawn {kind:?}"));
    }
    w.wait(w.app.rebuild_sums(&w.a.coop)).expect("sums");
    moved("sums built anew");
    w.wait(w.app.close_month(&machine, "2026-01")).expect("closed");
    moved("a closed month");
    w.make_figures();
    assert_eq!(revision(&w), last, "making figures moves nothing");
    let before = revision(&w);
    milk(&w, "2026-02-01", 9);
    let again = w.wait(w.app.create(&machine, Kind::MilkRecord, object(sent_again(&w))));
    again.expect("sent again");
    assert_eq!(revision(&w), before + 1, "what is sent again moves nothing");
}

/// The last milk record, as it was sent.
fn sent_again(w: &World) -> Json {
    let list = w.sign_in("manager").get("/v1/milk-records?limit=200").expect(200).items();
    let last = list.iter().find(|r| r["date"] == "2026-02-01" && r["litres"] == 9).expect("it");
    let names = ["id", "animal_group_id", "date", "session", "litres", "animals_in_milk"];
    Json::Object(names.iter().map(|n| ((*n).to_owned(), last[*n].clone())).collect())
}

fn figures_are_made_when_they_are_due(w: World) {
    let begun = w.app.now().0;
    assert_eq!(make_due(&w, begun), 2, "both co-operatives have none yet");
    assert_eq!(make_due(&w, begun), 0, "nothing has changed");
    let first = state(&w).expect("figures");
    assert_eq!(first.revision, revision(&w));
    milk(&w, "2026-03-01", 9);
    assert_eq!(make_due(&w, begun + MAKING_PAUSE_MS - 1), 0, "no sooner than a minute after");
    assert_eq!(make_due(&w, begun + MAKING_PAUSE_MS), 1, "of the one that changed");
    assert_eq!(state(&w).expect("figures").revision, revision(&w));
    // A day later they are of another day, though nothing has changed: where somebody asks.
    let tomorrow = begun + 24 * 3_600_000;
    assert_eq!(make_due(&w, tomorrow), 0, "nobody was here lately");
    w.sign_in("manager");
    assert_eq!(make_due(&w, tomorrow), 1);
    w.sign_in_as("manager.b@coop.example");
    assert_eq!(make_due(&w, tomorrow + 1), 1, "who comes finds them");
    assert_eq!(make_due(&w, tomorrow + ASKED_WITHIN_MS + 24 * 3_600_000), 0, "all have gone again");
    w.clock.set(Instant(tomorrow));
    assert_eq!(make_due(&w, tomorrow + MAKING_PAUSE_MS), 0);
    let day = state(&w).expect("figures").day;
    assert_eq!(day, w.a.coop.today(Instant(tomorrow)));
}

fn one_of_two_servers_makes_them(w: World) {
    let (other, _) = app_on_url(&w.db.url);
    let number = w.a.coop.number;
    let (now, lease) = (w.app.now().0, Uuid::from_u128(7));
    // Somebody is at it.
    let taken = |app: &App, lease: Uuid, now: i64| {
        let write =
            app.store.write(move |conn| snapshots::lease(conn, number, lease, (now, now + 1_000)));
        w.wait(write).expect("a lease")
    };
    assert!(taken(&other, lease, now));
    assert!(!taken(&w.app, Uuid::from_u128(8), now + 999), "it is held");
    assert_eq!(make_due(&w, now), 1, "of the other co-operative alone");
    assert_eq!(state(&w), None);
    // Who held it and did nothing loses it.
    assert_eq!(make_due(&w, now + 1_000), 1);
    assert!(state(&w).is_some());
    // The same answers come from both.
    let (mine, theirs) = (Actor::machine(w.a.coop.clone()), Actor::machine(w.a.coop.clone()));
    let spoilage = w.wait(w.app.spoilage(&mine)).expect("spoilage");
    assert_eq!(spoilage, w.wait(other.spoilage(&theirs)).expect("spoilage"));
}

fn a_making_that_fails_leaves_the_old_figures(w: World) {
    w.make_figures();
    let before = state(&w).expect("figures");
    let manager = w.sign_in("manager");
    let answer = manager.get("/v1/spoilage").expect(200).json();
    milk(&w, "2026-03-01", 9);
    w.db.connect().exec("ALTER TABLE farm_months RENAME TO away", &[]).expect("broken");
    let later = w.app.now().0 + MAKING_PAUSE_MS;
    assert_eq!(make_due(&w, later), 0);
    assert_eq!(w.wait(w.app.failed_makings()).expect("failed"), 1);
    assert_eq!(state(&w), Some(before));
    assert_eq!(manager.get("/v1/spoilage").expect(200).json(), answer);
    let text = w.nobody.get("/metrics").expect(200).text;
    assert!(text.contains("traybook_figures_failed 1"), "{text}");
    // It is tried again a minute later, and no sooner.
    w.db.connect().exec("ALTER TABLE away RENAME TO farm_months", &[]).expect("mended");
    assert_eq!(make_due(&w, later + MAKING_PAUSE_MS - 1), 0);
    assert_eq!(make_due(&w, later + MAKING_PAUSE_MS), 1);
    assert_eq!(w.wait(w.app.failed_makings()).expect("failed"), 0);
}

fn a_row_of_an_unexpected_form_is_an_error_that_names_the_query(w: World) {
    milk(&w, "2026-03-01", 9);
    w.make_figures();
    let number = w.a.coop.number;
    let since = Month::of(w.a.coop.today(w.app.now())).plus(-12);
    let cells =
        || w.app.store.read(move |conn| estimate_rows::output_rows(conn, number, true, since));
    assert!(!w.wait(cells()).expect("cells").is_empty());
    let named = |error: StoreError, name: &str| {
        let text = error.to_string();
        assert!(text.ends_with(&format!("a row of an unexpected form: {name}")), "{text}");
    };
    // There is no such month; the row is not left out.
    let sql = "UPDATE output_bins SET month = 99999999 WHERE is_milk";
    assert_eq!(w.db.connect().exec(sql, &[]).expect("spoilt"), 1);
    named(w.wait(cells()).expect_err("no such month"), "estimate_rows::output_rows.month");
    milk(&w, "2026-03-02", 9);
    assert_eq!(make_due(&w, w.app.now().0 + MAKING_PAUSE_MS), 0);
    assert_eq!(w.wait(w.app.failed_makings()).expect("failed"), 1);
    // Nor is there such a kind of record.
    let sql = "UPDATE changes SET kind = 'unheard_of' WHERE seq = 1";
    assert!(w.db.connect().exec(sql, &[]).expect("spoilt") > 0);
    let after = w.wait(w.app.store.read(move |conn| changes::after(conn, number, 0, 10)));
    named(after.expect_err("no such kind"), "changes::after.kind");
}

fn figures_say_of_when_they_are(w: World) {
    let manager = w.sign_in("manager");
    let paths = [
        "/v1/output-change?enterprise=milk",
        "/v1/spoilage",
        "/v1/seed-lot-evidence",
        "/v1/saving-estimates",
        "/v1/review",
    ];
    for path in paths {
        let answer = manager.get(path).expect(200).json();
        assert_eq!((&answer["revision"], &answer["made_at"]), (&Json::Null, &Json::Null), "{path}");
    }
    w.make_figures();
    let known = state(&w).expect("figures").revision;
    milk(&w, "2026-03-01", 9);
    for path in paths {
        let answer = manager.get(path).expect(200).json();
        assert_eq!(answer["revision"], known, "{path}");
        assert_eq!(answer["made_at"], acceptance::world::NOW, "{path}");
    }
}

/// Trays harvested beyond those that were spread, corrected.
fn a_finding_goes_as_soon_as_it_is_put_right(w: World) {
    let event = |event: &str, at: &str, trays: i64| {
        let body = json!({ "batch_id": w.a.id("batch"), "event": event, "at": at, "trays": trays,
            "kg": if event == "harvested" { json!(10) } else { Json::Null } });
        w.make(&w.a, Kind::BatchEvent, body)
    };
    let soaked = json!({ "batch_id": w.a.id("batch"), "event": "soaked", "kg": 8,
        "at": "2026-03-08T06:00:00Z" });
    w.make(&w.a, Kind::BatchEvent, soaked);
    event("spread", "2026-03-10T06:00:00Z", 4);
    let harvest = event("harvested", "2026-03-16T06:00:00Z", 14);
    w.make_figures();
    let machine = Actor::machine(w.a.coop.clone());
    let rule = Some("more_trays_out_than_spread".to_owned());
    let asked = || Asked { rule: rule.clone(), ..Asked::default() };
    let found = w.wait(w.app.review(&machine, asked())).expect("review");
    assert_eq!((found.items.len(), found.looked_at_again), (1, 0));
    let right = object(json!({ "trays": 4 }));
    let done = w.wait(w.app.correct(&machine, Kind::BatchEvent, harvest, 1, right));
    done.expect("corrected");
    let found = w.wait(w.app.review(&machine, asked())).expect("review");
    assert_eq!((found.items.len(), found.looked_at_again), (0, 1), "it is looked at again");
    w.make_figures();
    let found = w.wait(w.app.review(&machine, asked())).expect("review");
    assert_eq!((found.items.len(), found.looked_at_again), (0, 0));
}

/// Every answer that is made of a board, by name.
fn planned(w: &World, app: &App) -> Vec<(String, String)> {
    let actor = Actor::machine(w.a.coop.clone());
    let mut all = Vec::new();
    for weeks in ["1", "4", "8"] {
        let made = w.wait(app.seed_forecast(&actor, Some(weeks.to_owned()))).expect(weeks);
        all.push((weeks.to_owned(), json!(made).to_string()));
    }
    let (work, left) = w.wait(app.pressing_work(&actor, None, 50)).expect("work");
    all.push(("work".to_owned(), format!("{} {left:?}", json!(work))));
    all
}

fn boards_can_be_thrown_away(w: World) {
    let machine = Actor::machine(w.a.coop.clone());
    let compare = |what: &str| {
        let anew = App { boards: Arc::default(), reports: Arc::default(), ..w.app.clone() };
        for ((name, kept), (_, made)) in planned(&w, &w.app).iter().zip(&planned(&w, &anew)) {
            assert_eq!(kept, made, "{name} after {what}");
        }
    };
    compare("nothing");
    for kind in Kind::ALL.iter().copied().filter(|k| *k != Kind::Cooperative) {
        let (body, _) = sample(kind, &w.a);
        let made = w.wait(w.app.create(&machine, kind, object(body)));
        made.unwrap_or_else(|e| panic!("{kind:?}: {e:?}"));
        compare(&format!("a new {kind:?}"));
    }
    assert_eq!(w.app.boards.len(), 1);
    w.app.boards.clear();
    assert!(w.app.boards.is_empty());
    compare("throwing everything away");
}

/// Only one board has room: the other goes.
fn boards_are_bounded(w: World) {
    let app = App { boards: Arc::new(Boards::within(1)), ..w.app.clone() };
    for coop in [&w.a.coop, &w.b.coop, &w.a.coop] {
        w.wait(app.seed_forecast(&Actor::machine(coop.clone()), None)).expect("a forecast");
        assert_eq!(app.boards.len(), 1, "the newest stays");
    }
    let roomy = App { boards: Arc::new(Boards::within(100_000_000)), ..w.app.clone() };
    for coop in [&w.a.coop, &w.b.coop] {
        w.wait(roomy.seed_forecast(&Actor::machine(coop.clone()), None)).expect("a forecast");
    }
    assert_eq!(roomy.boards.len(), 2);
}

/// Within one byte only the newest report has room; it says the same as those that are all kept.
fn reports_are_bounded(w: World) {
    let app = App { reports: Arc::new(Reports::within(1)), ..w.app.clone() };
    let machine = Actor::machine(w.a.coop.clone());
    for month in ["2026-01", "2026-02", "2026-01"] {
        let month = Month::parse(month).expect("a month");
        let small = w.wait(app.savings_report(&machine, month)).expect("a report");
        let roomy = w.wait(w.app.savings_report(&machine, month)).expect("a report");
        assert_eq!((app.reports.count(), &small), (1, &roomy), "the newest stays");
    }
    assert_eq!(w.app.reports.count(), 2);
}

/// The farms as they are kept are those of the database after every change.
fn farms_can_be_thrown_away(w: World) {
    let (machine, number) = (Actor::machine(w.a.coop.clone()), w.a.coop.number);
    let farms = || w.wait(w.app.store.read(move |conn| farm_rows::farms(conn, number, None)));
    let mut names = Vec::new();
    let mut compare = |what: &str| {
        let kept = farms().expect("farms");
        assert!(w.app.store.farms_kept() >= kept.len(), "they are kept");
        w.app.store.forget_farms();
        assert_eq!((w.app.store.farms_kept(), &farms().expect("farms")), (0, &kept), "{what}");
        names.push(kept.iter().map(|f| f.name.clone()).collect::<Vec<_>>());
    };
    compare("nothing");
    for kind in Kind::ALL.iter().copied().filter(|k| *k != Kind::Cooperative) {
        let (body, _) = sample(kind, &w.a);
        let made = w.wait(w.app.create(&machine, kind, object(body)));
        made.unwrap_or_else(|e| panic!("{kind:?}: {e:?}"));
        compare(&format!("a new {kind:?}"));
    }
    let renamed = object(json!({ "name": "Another name" }));
    let done = w.wait(w.app.correct(&machine, Kind::Member, w.a.id("member"), 1, renamed));
    done.expect("corrected");
    compare("a member with another name");
    let last = names.last().expect("names");
    assert!(last.iter().any(|name| name == "Another name"), "{last:?}");
}
