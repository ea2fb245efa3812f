//! PostgreSQL with a standby, and behind a pooler: two real servers and pgbouncer, from Debian.
//!
//! Streaming replication and failover as the PostgreSQL documentation describes them (27.2.5, 27.2.8,
//! 27.3; libpq 34.1.1.3: several hosts).

use acceptance::clusters::{Cluster, Pooler};
use acceptance::{Client, Db, World};
use serde_json::{Value as Json, json};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// What a request may wait for a server that is gone.
const ANSWERED_WITHIN: Duration = Duration::from_secs(10);

/// How long there is no server that takes writes.
const GAP: Duration = Duration::from_secs(1);

/// What a writer met.
#[derive(Default)]
struct Met {
    acknowledged: Vec<String>,
    refused: usize,
    slowest: Duration,
}

/// Sends records until told to stop; each comes again until it is acknowledged, as a phone does.
fn write(w: &World, client: &Client, farm: &str, stop: &AtomicBool) -> Met {
    let mut met = Met::default();
    while !stop.load(Ordering::Relaxed) {
        let id = w.app.new_id().expect("an id").to_string();
        let body = json!({ "id": id, "farm_id": farm, "date": "2026-02-11", "category": "labour",
            "amount": 30000 });
        while !stop.load(Ordering::Relaxed) {
            let begun = Instant::now();
            let answer = client.post("/v1/other-costs", &body);
            met.slowest = met.slowest.max(begun.elapsed());
            if [200, 201].contains(&answer.status) {
                met.acknowledged.push(id);
                break;
            }
            assert_eq!(answer.status, 503, "{}", answer.text);
            assert!(answer.header("retry-after").is_some());
            met.refused += 1;
            std::thread::sleep(Duration::from_millis(100));
        }
    }
    met
}

fn counted(client: &Client) -> usize {
    let (mut path, mut all) = ("/v1/other-costs?limit=200".to_owned(), 0);
    loop {
        let page = client.get(&path).expect(200).json();
        all += page["items"].as_array().map_or(0, Vec::len);
        match page["next"].as_str() {
            Some(next) => path = next.to_owned(),
            None => return all,
        }
    }
}

#[test]
fn a_standby_takes_over_and_nothing_acknowledged_is_lost() {
    // A commit is acknowledged when the standby has it, too.
    let primary = Cluster::start("-c synchronous_standby_names='*' -c synchronous_commit=local");
    let standby = primary.standby();
    let url = format!(
        "postgres://traybook@127.0.0.1:{},127.0.0.1:{}/postgres?target_session_attrs=read-write",
        primary.port, standby.port
    );
    let w = World::start(Db::at(&url));
    let client = w.sign_in("manager");
    let (farm, stop) = (w.a.id("farm").to_string(), AtomicBool::new(false));
    let all: Vec<Met> = std::thread::scope(|scope| {
        let writers: Vec<_> =
            (0..4).map(|_| scope.spawn(|| write(&w, &client, &farm, &stop))).collect();
        std::thread::sleep(Duration::from_secs(2));
        primary.lose();
        std::thread::sleep(GAP);
        standby.promote();
        let promoted = Instant::now();
        while client.get("/v1/session").status != 200 {
            assert!(promoted.elapsed() < ANSWERED_WITHIN, "the standby is not found");
            std::thread::sleep(Duration::from_millis(50));
        }
        std::thread::sleep(Duration::from_secs(2));
        stop.store(true, Ordering::Relaxed);
        writers.into_iter().map(|w| w.join().expect("a writer")).collect()
    });
    let written: Vec<&String> = all.iter().flat_map(|m| &m.acknowledged).collect();
    // Who asked in between was refused, or waited until there was a server again.
    let met_it = |m: &Met| m.refused > 0 || m.slowest >= GAP;
    assert!(all.iter().any(met_it), "the loss was met");
    for met in &all {
        assert!(met.slowest < ANSWERED_WITHIN, "{:?}", met.slowest);
        assert!(met.acknowledged.len() > 2, "it went on");
    }
    for id in &written {
        client.get(&format!("/v1/other-costs/{id}")).expect(200);
    }
    // Each is there once; one that was cut off may be there without having been acknowledged.
    let there = counted(&client);
    assert!((written.len()..=written.len() + all.len()).contains(&there), "{there}");
}

#[test]
fn a_pooler_may_change_the_connection_between_transactions() {
    let cluster = Cluster::start("");
    let pooler = Pooler::before(&cluster, 3);
    let at = |port: u16| format!("postgres://traybook@127.0.0.1:{port}/postgres");
    // Tables are brought up to date past the pooler.
    drop(acceptance::world::app_on_url(&at(cluster.port)));
    let w = World::start(Db::at(&format!("{}?pooler=transaction", at(pooler.port))));
    let farm = w.a.id("farm").to_string();
    let clients = ["manager", "officer", "member"].map(|who| w.sign_in(who));
    std::thread::scope(|scope| {
        for (n, client) in clients.iter().cycle().take(9).enumerate() {
            let (w, farm) = (&w, &farm);
            scope.spawn(move || {
                for day in 1..=20 {
                    let id = w.app.new_id().expect("an id");
                    let body = json!({ "id": id, "farm_id": farm, "date": format!("2026-02-{day:02}"),
                        "category": "labour", "amount": 100 * n });
                    client.post("/v1/other-costs", &body).expect(201);
                    client.get("/v1/farms").expect(200);
                    client.get("/v1/changes?limit=50").expect(200);
                }
            });
        }
    });
    assert_eq!(counted(&clients[0]), 9 * 20);
    // What holds in a transaction holds on every connection that the pooler gives.
    for _ in 0..10 {
        let found = w.wait(w.app.store.read(|conn| {
            let text = traybook_domain::ColumnType::Text;
            let sql = "SELECT current_setting('statement_timeout') || ' ' || \
                       current_setting('synchronous_commit') || ' ' || current_setting('timezone')";
            conn.row(sql, &[], &[text])
        }));
        let found = found.expect("read").expect("a row");
        assert_eq!(found[0].as_text(), Some("7s on UTC"));
    }
    let report: Json = clients[0].get("/v1/reports/savings?month=2026-02").expect(200).json();
    assert!(report["farms"].is_array(), "{report}");
    w.make_figures();
}
