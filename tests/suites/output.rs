//! The served change in output: beside a truth that is known, and with what people really enter.
//!
//! The table of many seeds: `cargo run --release -p acceptance --example herds -- 40 60 1`.

use acceptance::herds::{FIELD, Herd, first_day, herds, today};
use acceptance::herds_served::{Count, enter_herds, share};
use acceptance::{Db, World, both};
use chrono::{Days, NaiveDate};
use serde_json::{Value as Json, json};
use traybook_answers::estimates::Enterprise;
use traybook_app::{Actor, Coop};
use traybook_domain::Kind;
use traybook_domain::value::Instant;
use uuid::Uuid;

both!(
    a_lasting_jump_is_held_until_somebody_accepts_it,
    half_days_and_slips_are_counted_and_left_out,
    older_sums_are_filled_up,
    what_was_said_is_remembered_from_day_to_day,
);

/// Cows and hens with cycles, seasons, bad weeks, areas, small farms and the slips of people: five
/// co-operatives of 60 farms. Nine in ten intervals at least hold the truth, hardly a direction is
/// wrong, farms that change for good what they count are held, and few others are.
#[test]
fn intervals_hold_the_truth_of_made_up_herds() {
    let w = World::start(Db::sqlite());
    let mut all = Count::default();
    for seed in 41..46 {
        let made = herds(seed, 60, FIELD);
        let there = enter_herds(&w, &format!("c{seed}"), &made);
        all.add(&there.beside(&made.herds, true));
        all.add(&there.beside(&made.herds, false));
    }
    assert!(all.members.1 > 180, "{all:?}");
    assert!((90.0..=98.5).contains(&share(all.members)), "{:.1} %: {all:?}", share(all.members));
    assert!(share(all.wrong) <= 5.0, "{:.1} %: {all:?}", share(all.wrong));
    assert!(all.programme.0 + 1 >= all.programme.1, "{all:?}");
    assert!(share(all.caught) >= 80.0, "{:.1} %: {all:?}", share(all.caught));
    assert!(share(all.held) <= 5.0, "{:.1} %: {all:?}", share(all.held));
}

fn milk(w: &World, date: NaiveDate, session: &str, litres: f64) {
    let body = json!({ "animal_group_id": w.a.id("cows"), "date": date.to_string(),
        "session": session, "litres": litres, "animals_in_milk": 2 });
    w.make(&w.a, Kind::MilkRecord, body);
}

fn of_farm(w: &World) -> Json {
    w.make_figures();
    let answer = w.sign_in("manager").get("/v1/output-change?enterprise=milk").expect(200).json();
    answer["farms"].as_array().expect("farms").first().cloned().unwrap_or_default()
}

/// A morning alone is no day; with its evening it is one. A day of ten times the usual is left out,
/// counted, and comes back when it is corrected.
fn half_days_and_slips_are_counted_and_left_out(w: World) {
    let today = w.a.coop.today(w.app.now());
    let day = |back: u64| today - Days::new(back);
    for back in 2..20 {
        milk(&w, day(back), "day", 16.0);
    }
    milk(&w, day(1), "morning", 9.0);
    let farm = of_farm(&w);
    assert_eq!((&farm["half_days"], &farm["days_left_out"]), (&json!(1), &json!(0)), "{farm}");
    milk(&w, day(1), "evening", 7.0);
    assert_eq!(of_farm(&w)["half_days"], 0);
    milk(&w, day(0), "day", 160.0);
    assert_eq!(of_farm(&w)["days_left_out"], 1);
    // Of two records of a day the later entered counts.
    w.clock.set(Instant(w.app.now().0 + 1_000));
    milk(&w, day(0), "day", 16.0);
    let farm = of_farm(&w);
    assert_eq!((&farm["half_days"], &farm["days_left_out"]), (&json!(0), &json!(0)), "{farm}");
}

/// A database of an older program has no half octaves: they are filled up once, and are what the
/// records give.
fn older_sums_are_filled_up(w: World) {
    let today = w.a.coop.today(w.app.now());
    for back in 0..5 {
        milk(&w, today - Days::new(back), "day", 16.0 + back as f64);
    }
    let before = of_farm(&w);
    let bins = |w: &World| {
        let number = w.a.coop.number;
        let read =
            w.app.store.read(move |conn| traybook_storage::records::sums::dump(conn, number));
        w.wait(read).expect("sums")
    };
    let kept = bins(&w);
    assert!(kept.iter().any(|line| line.starts_with("output_bins")), "{kept:?}");
    let mut conn = w.db.connect();
    conn.exec("DELETE FROM output_bins", &[]).expect("emptied");
    conn.exec("UPDATE coop_counters SET sums_form = 0", &[]).expect("older");
    assert_ne!(bins(&w), kept);
    assert!(w.wait(w.app.fill_sums()).expect("filled") > 0);
    assert_eq!(bins(&w), kept);
    assert_eq!(w.wait(w.app.fill_sums()).expect("nothing"), 0);
    let after = of_farm(&w);
    assert_eq!(after["records_after"], before["records_after"]);
}

/// The page lists the first few farms of each kind, and counts all of them.
fn the_page_says_the_same(w: &World, coop: &Coop, answer: &Json) {
    let all = answer["farms"].as_array().expect("farms");
    let of = |key: &str, value: &str| -> Vec<Uuid> {
        let mut farms: Vec<&Json> = all.iter().filter(|f| f[key] == value).collect();
        farms.sort_by_key(|f| f["rank"].as_u64().unwrap_or(u64::MAX));
        farms.iter().map(|f| f["farm_id"].as_str().expect("an id").parse().expect("one")).collect()
    };
    let actor = Actor::machine(coop.clone());
    let page = w.app.output_in_short(&actor, Enterprise::Milk, 2);
    let page = w.wait(page).expect("a page");
    let mut lower = of("verdict", "decrease");
    lower.reverse();
    let kinds = [
        (&page.held, of("status", "check_level")),
        (&page.lower, lower),
        (&page.higher, of("verdict", "increase")),
    ];
    assert!(kinds.iter().any(|(_, all)| all.len() > 2), "{answer}");
    for (few, all) in kinds {
        assert_eq!(few.count, all.len());
        let shown: Vec<Uuid> = few.farms.iter().map(|f| f.of.farm_id).collect();
        assert_eq!(shown, all.iter().take(2).copied().collect::<Vec<_>>());
    }
}

/// A farm that counts half from a month on is held, stands on the review list with month, factor and
/// the likely reason, and comes back when somebody accepts the jump as true.
fn a_lasting_jump_is_held_until_somebody_accepts_it(w: World) {
    // Of these herds at least three with cows changed what they count.
    let changed = |h: &&Herd| h.is_milk && h.changes_count;
    let three = |seed: &u64| herds(*seed, 60, FIELD).herds.iter().filter(changed).count() >= 3;
    let made = herds((41..99).find(three).expect("such herds"), 60, FIELD);
    let there = enter_herds(&w, "jump", &made);
    let path = "/v1/output-change?enterprise=milk";
    let held = |answer: &Json| -> Vec<Json> {
        let farms = answer["farms"].as_array().expect("farms").iter();
        farms.filter(|f| f["status"] == "check_level").cloned().collect()
    };
    let answer = there.manager.get(path).expect(200).json();
    let first = held(&answer);
    let jumped =
        |farm: &Json| made.herds.iter().any(|h| farm["farm"] == h.farm.as_str() && h.changes_count);
    let farm = first.iter().find(|f| jumped(f)).expect("a farm that changed what it counts");
    assert_eq!(farm["level"]["likely"], "halved", "{farm}");
    assert!(farm["percent"].is_null() && farm["verdict"].is_null(), "{farm}");
    let without = answer["programme"]["not_estimated"].as_array().expect("reasons");
    let counted = without.iter().find(|n| n["status"] == "check_level").expect("counted");
    assert_eq!(counted["farms"], first.len());
    the_page_says_the_same(&w, &there.coop, &answer);
    let list = there.manager.get("/v1/review?rule=check_level").expect(200).json();
    let mut finding = list["items"].as_array().expect("items").iter();
    let finding = finding.find(|f| f["farm_id"] == farm["farm_id"]).expect("on the list");
    let body = json!({ "farm_id": farm["farm_id"], "rule": "check_level",
        "finding": finding["finding"], "evidence": finding["evidence"],
        "accepted_on": today().to_string(), "reason": "they sold half of the herd" });
    there.manager.post("/v1/review-acceptances", &body).expect(201);
    w.wait(w.app.make_figures_now(&there.coop)).expect("figures");
    let after = held(&there.manager.get(path).expect(200).json());
    assert!(!after.iter().any(|f| f["farm_id"] == farm["farm_id"]), "{after:?}");
}

/// The first making of a day stores what it says; later ones of the day leave that as it is.
fn what_was_said_is_remembered_from_day_to_day(w: World) {
    let made = herds(41, 60, FIELD);
    let there = enter_herds(&w, "memory", &made);
    let number = there.coop.number;
    let kept = |w: &World| {
        let read = move |conn: &mut _| {
            traybook_storage::estimates::snapshots::of_farms(conn, number, None)
        };
        let rows = w.wait(w.app.store.read(read)).expect("rows");
        let said = |(_, body): &(uuid::Uuid, String)| body.contains("\"kept\":{");
        rows.iter().filter(|row| said(row)).count()
    };
    let first = kept(&w);
    let told = |is_milk| there.beside(&made.herds, is_milk).wrong.1;
    assert_eq!(first, usize::try_from(told(true) + told(false)).expect("a count"));
    assert!(first > 0, "nothing was said from {}", first_day());
    // A day later the memory is what the first making of that day says.
    w.clock.set(Instant(w.app.now().0 + 24 * 3_600_000));
    w.wait(w.app.make_figures_now(&there.coop)).expect("figures");
    assert!(kept(&w) >= first, "{} of {first} kept", kept(&w));
}
