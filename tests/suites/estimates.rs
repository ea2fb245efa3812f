//! Estimates through the interface, on records whose truth is known.

use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_app::Actor;
use traybook_domain::Kind;
use uuid::Uuid;

both!(output_change_finds_what_was_put_in, spoilage_points_at_the_farm_and_at_the_lot);

/// Plain noise that repeats: about ±2 % around 0.
fn noise(farm: i64, month: i64) -> f64 {
    let x = (farm * 7919 + month * 104_729) % 1000;
    (x as f64 / 1000.0 - 0.5) * 0.04
}

fn add(w: &World, rows: Vec<(Kind, Json)>) {
    let machine = Actor::machine(w.a.coop.clone());
    let rows: Vec<(Kind, Uuid, Json)> =
        rows.into_iter().map(|(k, b)| (k, w.app.new_id().expect("id"), b)).collect();
    let written = w.wait(w.app.change(&machine, move |txn| {
        for (kind, id, body) in &rows {
            txn.create(*kind, *id, &acceptance::world::object(body.clone()))?;
        }
        Ok(())
    }));
    written.expect("written");
}

/// Sixteen farms, fifteen months of milk; eight start in the eighth month and then give 10 % more.
fn herd(w: &World) {
    for farm in 0..16_i64 {
        let mut body = json!({ "code": format!("E{farm:02}"), "member_id": w.a.id("member"),
            "area_id": w.a.id(if farm % 4 < 2 { "sub_area" } else { "other_area" }) });
        if farm % 2 == 0 {
            body["fodder_started_on"] = json!("2025-07-09");
        }
        let id = w.make(&w.a, Kind::Farm, body);
        let cows = json!({ "code": format!("E{farm:02}-cows"), "farm_id": id,
            "animal_class": "dairy_cows" });
        let cows = w.make(&w.a, Kind::AnimalGroup, cows);
        let mut rows = Vec::new();
        for month in 0..15_i64 {
            let (year, m) = (2024 + (11 + month) / 12, (11 + month) % 12 + 1);
            let lift = if farm % 2 == 0 && month > 7 { 1.10 } else { 1.0 };
            let season = 1.0 + 0.1 * ((month as f64) * 0.5).sin();
            for day in [5, 12, 19, 26] {
                let litres = (6.0 + 0.2 * farm as f64) * 3.0 * season * lift;
                let litres = litres * (1.0 + noise(farm, month * 31 + day));
                rows.push((
                    Kind::MilkRecord,
                    json!({
                        "animal_group_id": cows, "date": format!("{year}-{m:02}-{day:02}"),
                        "session": "day", "litres": (litres * 1000.0).round() / 1000.0,
                        "animals_in_milk": 3,
                    }),
                ));
            }
        }
        add(w, rows);
    }
}

fn output_change_finds_what_was_put_in(w: World) {
    // Before there are records the answer says so and is no error.
    w.make_figures();
    let manager = w.sign_in("manager");
    let path = "/v1/output-change?enterprise=milk";
    let empty = manager.get(path).expect(200).json();
    assert_eq!((&empty["programme"]["percent"], &empty["farms"]), (&Json::Null, &json!([])));
    assert!(empty["programme"]["sentence"].as_str().is_some_and(|s| s.starts_with("cannot tell")));
    herd(&w);
    w.make_figures();
    let answer = manager.get(path).expect(200);
    let made = answer.json();
    let number = |j: &Json, m: &str| j[m].as_f64().unwrap_or_else(|| panic!("{m} in {j}"));
    let programme = &made["programme"];
    assert!((number(programme, "percent") - 10.0).abs() < 2.0, "{programme}");
    assert!(number(programme, "low") > 5.0 && number(programme, "high") < 15.0, "{programme}");
    assert_eq!(programme["is_cross_check_apart"], false);
    let farms = made["farms"].as_array().expect("farms");
    assert_eq!(farms.len(), 16);
    for farm in farms {
        let code: usize = farm["farm"].as_str().expect("code")[1..].parse().expect("number");
        if code.is_multiple_of(2) {
            assert_eq!(
                (&farm["status"], &farm["verdict"]),
                (&json!("estimated"), &json!("increase"))
            );
            assert!((number(farm, "percent") - 10.0).abs() < 4.0, "{farm}");
            assert!(farm["sentence"].as_str().is_some_and(|s| s.contains("higher")));
        } else {
            assert_eq!((&farm["status"], &farm["percent"]), (&json!("not_started"), &Json::Null));
        }
    }
    // The same answer until the figures are made anew.
    let etag = answer.header("etag").expect("etag").to_owned();
    manager.send("GET", path, &[("if-none-match", &etag)], None).expect(304);
    let cows = manager.get("/v1/animal-groups?code=E00-cows").expect(200).items();
    let query =
        format!("/v1/milk-records?animal_group_id={}&limit=1", cows[0]["id"].as_str().expect("id"));
    let record = manager.get(&query).expect(200).items().remove(0);
    let one = format!("/v1/milk-records/{}", record["id"].as_str().expect("id"));
    manager.patch(&one, "\"1\"", &json!({ "litres": 11 })).expect(200);
    w.make_figures();
    let next = manager.send("GET", path, &[("if-none-match", &etag)], None).expect(200).json();
    assert_ne!(next["revision"], made["revision"]);
    assert_ne!(next["farms"][0]["percent"], made["farms"][0]["percent"]);
    // The member sees the own farms only; nobody else's figures.
    let own = w.sign_in("member").get(path).expect(200).json();
    assert_eq!(own["areas"], json!([]));
    let officer = w.sign_in("officer").get(path).expect(200).json();
    assert_eq!(officer["farms"].as_array().map(Vec::len), Some(8));
    manager.get("/v1/output-change?enterprise=wool").expect(422);
}

fn batch(w: &World, shed: &str, lot: Uuid, day: i64, discarded: i64) -> Vec<(Kind, Json)> {
    let id = w.app.new_id().expect("id");
    let at = |d: i64| {
        let ms = 1_770_000_000_000 + (day + d) * 86_400_000;
        traybook_domain::time::format_instant(traybook_domain::value::Instant(ms))
    };
    let event = |event: &str, d: i64, trays: i64| {
        let mut body =
            json!({ "batch_id": id, "event": event, "at": at(d), "trays": trays, "kg": 20 });
        if event == "discarded" {
            body["cause"] = json!("rot_at_drain_end");
        }
        (Kind::BatchEvent, body)
    };
    let mut rows = vec![
        (Kind::Batch, json!({ "id": id, "shed_id": shed, "seed_lot_id": lot, "crop": "barley" })),
        event("soaked", 0, 0),
        event("spread", 2, 10),
    ];
    if discarded > 0 {
        rows.push(event("discarded", 8, discarded));
    }
    if discarded < 10 {
        rows.push(event("harvested", 8, 10 - discarded));
    }
    rows
}

/// Writes rows whose batches carry their own ids, so that their events can name them.
pub(crate) fn add_batches(w: &World, rows: Vec<(Kind, Json)>) {
    let machine = Actor::machine(w.a.coop.clone());
    let rows: Vec<(Kind, Uuid, Json)> = rows
        .into_iter()
        .map(|(kind, mut body)| {
            let given = body.as_object_mut().and_then(|m| m.remove("id"));
            let id = given.and_then(|i| i.as_str()?.parse().ok());
            (kind, id.unwrap_or_else(|| w.app.new_id().expect("id")), body)
        })
        .collect();
    let written = w.wait(w.app.change(&machine, move |txn| {
        for (kind, id, body) in &rows {
            txn.create(*kind, *id, &acceptance::world::object(body.clone()))?;
        }
        Ok(())
    }));
    written.expect("written");
}

fn spoilage_points_at_the_farm_and_at_the_lot(w: World) {
    let manager = w.sign_in("manager");
    let mut farms = Vec::new();
    for farm in 0..8 {
        let body = json!({ "code": format!("S{farm}"), "member_id": w.a.id("member"),
            "area_id": w.a.id("sub_area") });
        let id = w.make(&w.a, Kind::Farm, body);
        let shed = json!({ "code": format!("S{farm}-shed"), "farm_id": id, "tray_places": 80 });
        farms.push((id, w.make(&w.a, Kind::Shed, shed)));
    }
    let lot = |code: &str| w.make(&w.a, Kind::SeedLot, json!({ "code": code, "crop": "barley" }));
    let (good, bad) = (lot("GOOD"), lot("BAD"));
    let mut rows = Vec::new();
    for (farm, (_, shed)) in farms.iter().enumerate() {
        let shed = shed.to_string();
        for n in 0..14_i64 {
            // Farm S0 has a bad shed; the lot BAD spoils on S1, S2 and S3.
            let of_bad_lot = (1..=3).contains(&farm) && n >= 9;
            let discarded = match (farm, of_bad_lot) {
                (0, _) => 2 + n % 3,
                (_, true) => 4,
                _ => i64::from(n % 6 == 0),
            };
            let lot = if of_bad_lot { bad } else { good };
            rows.extend(batch(&w, &shed, lot, n * 2, discarded));
        }
    }
    add_batches(&w, rows);
    let after = end_of_feed(&w);
    w.make_figures();
    let answer = manager.get("/v1/spoilage").expect(200).json();
    let of = |code: &str| {
        let all = answer["farms"].as_array().expect("farms");
        all.iter().find(|f| f["farm"] == code).expect("farm").clone()
    };
    assert_eq!(of("S0")["status"], "recurring");
    assert_ne!(of("S0")["points_at"], "seed_lot");
    for farm in ["S1", "S2", "S3"] {
        assert_eq!(
            (&of(farm)["status"], &of(farm)["points_at"]),
            (&json!("recurring_lot"), &json!("seed_lot"))
        );
    }
    assert_eq!(of("S5")["status"], "ok");
    assert_eq!(answer["farms"][0]["status"], "recurring", "the strongest evidence first");
    let chart = manager.get(&format!("/v1/spoilage/{}", farms[0].0)).expect(200).json();
    let path = chart["path"].as_array().expect("path");
    assert_eq!(path.len(), 14);
    assert!(path.iter().filter(|b| b["raised_the_flag"] == true).count() >= 3);
    let lots = manager.get("/v1/seed-lot-evidence").expect(200).json();
    assert_eq!(lots["verdict"], "both");
    let suspect: Vec<&Json> = lots["seed_lots"]
        .as_array()
        .expect("lots")
        .iter()
        .filter(|l| l["is_suspect"] == true)
        .collect();
    assert_eq!(suspect.iter().map(|l| &l["seed_lot"]).collect::<Vec<_>>(), [&json!("BAD")]);
    let carried = suspect[0]["carries_flags_at"].as_array().expect("farms").iter();
    assert_eq!(carried.map(|f| &f["farm"]).collect::<Vec<_>>(), ["S1", "S2", "S3"]);
    assert!(suspect[0]["multiplier"].as_f64() >= Some(2.0));
    flags_are_raised_seen_and_cleared(&w, &farms, (good, &after));
    manager.get(&format!("/v1/spoilage/{}", w.b.id("farm"))).expect(404);
    w.sign_in("programme_reader").get("/v1/spoilage").expect(403);
}

/// The cursor at the end of the change feed.
pub(crate) fn end_of_feed(w: &World) -> String {
    let manager = w.sign_in("manager");
    let mut path = "/v1/changes?limit=1000".to_owned();
    loop {
        let page = manager.get(&path).expect(200).json();
        let next = page["next"].as_str().expect("cursor");
        if page["has_more"] != true {
            return next.to_owned();
        }
        path = format!("/v1/changes?limit=1000&after={next}");
    }
}

fn flags_are_raised_seen_and_cleared(
    w: &World,
    farms: &[(Uuid, Uuid)],
    (good, after): (Uuid, &str),
) {
    let (manager, officer) = (w.sign_in("manager"), w.sign_in("officer"));
    // Making the figures once more raises nothing twice.
    w.make_figures();
    let events = manager.get(&format!("/v1/changes?after={after}")).expect(200).json();
    let kinds: Vec<&Json> =
        events["items"].as_array().expect("items").iter().map(|i| &i["kind"]).collect();
    assert_eq!(kinds, [&json!("flag")], "a flag is an event of the feed; a lot raises none");
    // The farm with the strongest evidence stands first, with its reason.
    let list = officer.get("/v1/visit-list").expect(200).items();
    assert_eq!(
        (&list[0]["farm"], &list[0]["reasons"][0]["reason"]),
        (&json!("S0"), &json!("flag"))
    );
    assert!(list[0]["reasons"][0]["sentence"].as_str().is_some_and(|s| s.contains("spoils")));
    w.sign_in("member").get("/v1/visit-list").expect(403);
    // An officer notes what was found.
    let flags = officer.get(&format!("/v1/flags?farm_id={}", farms[0].0)).expect(200).items();
    let path = format!("/v1/flags/{}", flags[0]["id"].as_str().expect("id"));
    let cause = json!({ "cause": "poor_germination", "finding": "seed of one lot" });
    assert_eq!(officer.patch(&path, "\"1\"", &cause).expect(422).errors()[0].0, "/seen_on");
    let seen = json!({ "seen_on": "2026-03-20", "cause": "poor_germination" });
    officer.patch(&path, "\"1\"", &seen).expect(200);
    // Good batches clear the flag, and its history stays.
    let mut rows = Vec::new();
    for _ in 0..8 {
        rows.extend(batch(w, &farms[0].1.to_string(), good, 30, 0));
    }
    add_batches(w, rows);
    w.make_figures();
    let cleared = manager.get(&path).expect(200).json();
    assert_eq!(
        (&cleared["cleared_on"], &cleared["cause"]),
        (&json!("2026-03-20"), &json!("poor_germination"))
    );
    let farms_listed = officer.get("/v1/visit-list").expect(200).items();
    assert!(!farms_listed.iter().any(|f| f["farm"] == "S0"));
}
