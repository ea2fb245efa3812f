//! The kept sums equal what the records give, after thousands of random changes.

use acceptance::samples::sample;
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use traybook_app::{Actor, AppError};
use traybook_domain::Kind;
use uuid::Uuid;

both!(sums_equal_the_records_after_random_changes, hen_days_follow_the_worked_example);

/// SplitMix64 (Steele, Lea & Flood 2014), so that a seed repeats a run.
struct Rng(u64);

impl Rng {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }
    fn below(&mut self, n: u64) -> u64 {
        self.next() % n
    }
    fn pick<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        &of[usize::try_from(self.below(of.len() as u64)).expect("small")]
    }
}

const KINDS: &[Kind] = &[
    Kind::MilkRecord,
    Kind::EggRecord,
    Kind::BatchEvent,
    Kind::FeedPurchase,
    Kind::OtherCost,
    Kind::SeedIssue,
    Kind::SeedPurchase,
    Kind::HeadCount,
    Kind::Batch,
];

fn body(kind: Kind, w: &World, rng: &mut Rng, batches: &[Uuid], lots: &[Uuid]) -> Json {
    let day = format!("2026-0{}-{:02}", 1 + rng.below(3), 1 + rng.below(19));
    let n = i64::try_from(1 + rng.below(30)).expect("small");
    let (mut body, _) = sample(kind, &w.a);
    match kind {
        Kind::MilkRecord => {
            let session = *rng.pick(&["day", "morning", "evening"]);
            body = json!({ "animal_group_id": body["animal_group_id"], "date": day,
                "session": session, "litres": n, "animals_in_milk": 1 + n / 8 });
        }
        Kind::EggRecord => {
            body["date"] = json!(day);
            body["eggs"] = json!(n);
            body["cracked"] = json!(n / 10);
        }
        Kind::BatchEvent => {
            let events = ["soaked", "spread", "harvested", "fed_out", "discarded", "watered"];
            let event = *rng.pick(&events);
            // Few batches, so that each has events of every kind.
            let few = &batches[..batches.len().min(12)];
            body = json!({ "batch_id": rng.pick(few), "event": event,
                "at": format!("{day}T22:30:00Z"), "trays": n, "kg": n });
            if event == "discarded" {
                body["cause"] = json!("dried_out");
            }
            if event == "fed_out" {
                body["reason"] = json!("random days are often past the harvest day");
            }
        }
        Kind::HeadCount => {
            let reason = *rng.pick(&["counted", "born", "died", "sold", "bought"]);
            body["date"] = json!(day);
            body["reason"] = json!(reason);
            body["head"] = json!(n);
        }
        Kind::Batch => body["seed_lot_id"] = json!(rng.pick(lots)),
        Kind::SeedIssue | Kind::SeedPurchase => {
            body["seed_lot_id"] = json!(rng.pick(lots));
            body["date"] = json!(day);
            body["kg"] = json!(n);
        }
        _ => {
            body["date"] = json!(day);
            body[if kind == Kind::FeedPurchase { "kg" } else { "amount" }] = json!(n);
        }
    }
    body
}

fn sums_equal_the_records_after_random_changes(w: World) {
    let seed = 20_260_320;
    println!("seed {seed}");
    let mut rng = Rng(seed);
    let machine = Actor::machine(w.a.coop.clone());
    let lots =
        [w.a.id("lot"), w.make(&w.a, Kind::SeedLot, json!({ "code": "L2", "crop": "barley" }))];
    let mut live: Vec<(Kind, Uuid, i64)> = Vec::new();
    let mut batches = vec![w.a.id("batch")];
    let (mut made, mut changed, mut withdrawn) = (0, 0, 0);
    for _ in 0..3_000 {
        let kind = *rng.pick(KINDS);
        let body = acceptance::world::object(body(kind, &w, &mut rng, &batches, &lots));
        let choice = rng.below(10);
        let same: Vec<usize> = (0..live.len()).filter(|i| live[*i].0 == kind).collect();
        if choice < 6 || same.is_empty() {
            let shown = w.wait(w.app.create(&machine, kind, body)).expect("made");
            let id = shown.json["id"].as_str().and_then(|t| t.parse().ok()).expect("id");
            live.push((kind, id, 1));
            if kind == Kind::Batch {
                batches.push(id);
            }
            made += 1;
            continue;
        }
        let index = *rng.pick(&same);
        let (_, id, version) = live[index];
        if choice < 8 {
            let fixed = |f: &&traybook_domain::FieldSpec| !f.fixed;
            let patch = kind
                .spec()
                .fields
                .iter()
                .filter(fixed)
                .filter_map(|f| body.get(f.name).map(|v| (f.name.to_owned(), v.clone())));
            match w.wait(w.app.correct(&machine, kind, id, version, patch.collect())) {
                Ok(shown) => live[index].2 = shown.version,
                // A cause stays with an event that can not have one, and the like.
                Err(AppError::Invalid(_)) => continue,
                Err(e) => panic!("{kind:?} {e:?}"),
            }
            changed += 1;
        } else {
            match w.wait(w.app.withdraw(&machine, kind, id, version, None)) {
                Ok(()) => drop(live.remove(index)),
                Err(AppError::Conflict { code: "in_use", .. }) => continue,
                Err(e) => panic!("{kind:?} {e:?}"),
            }
            batches.retain(|b| *b != id);
            withdrawn += 1;
        }
    }
    println!("{made} made, {changed} corrected, {withdrawn} withdrawn");
    assert!(made > 1_000 && changed > 300 && withdrawn > 100);
    let sums = w.wait(w.app.rebuild_sums(&w.a.coop)).expect("rebuilt");
    assert!(sums.rebuilt.len() > 10);
    let trays = sums.rebuilt.iter().filter(|l| l.starts_with("BatchTrays")).count();
    assert!(trays > 5, "{trays} batches with trays");
    assert_eq!(sums.kept, sums.rebuilt);
}

fn hen_days_follow_the_worked_example(w: World) {
    // "Calculating Agriculture" ch. 12 p. 12-11 [READ, CHECKS 4.3], moved to January 2026: 200 hens
    // on the 1st, 4 die on the 12th, 10 are added on the 16th: 6,270 hen-days.
    let count = |date: &str, reason: &str, head: i64| {
        let body = json!({ "animal_group_id": w.a.id("hens"), "date": date, "reason": reason,
            "head": head });
        w.make(&w.a, Kind::HeadCount, body);
    };
    count("2026-01-16", "bought", 10);
    count("2026-01-01", "counted", 200);
    count("2026-01-12", "died", 4);
    let report = w.sign_in("manager").get("/v1/reports/savings?month=2026-01").expect(200).json();
    let farm = report["farms"].as_array().expect("farms").iter().find(|f| f["farm"] == "F1");
    assert_eq!(farm.expect("F1")["animal_days"], 6_270);
    let february = w.sign_in("manager").get("/v1/reports/savings?month=2026-02").expect(200).json();
    assert_eq!(february["farms"][0]["animal_days"], 206 * 28);
}
