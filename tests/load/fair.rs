//! How long another's small write takes while somebody does something large: for each role, what
//! costs it most. Middle, 99 of a hundred, and the slowest.

use crate::process::Server;
use crate::syncs::{groups, mutation, new_id};
use crate::table::Table;
use crate::{Places, imports};
use acceptance::client::Client;
use serde_json::{Value as Json, json};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};
use uuid::Uuid;

/// Small writes that are measured beside each large thing.
const WRITES: usize = 300;
/// Milliseconds between two of them.
const PAUSE: Duration = Duration::from_millis(20);
/// People who do the same large thing at once.
const AT_ONCE: usize = 3;
/// What the issue asks of 99 of a hundred.
const AIM: &str = "< 250 ms";

const OFFICER: (&str, &str) = ("officer.kilima@nyota.example", "bicycle under acacia");
const PROGRAMME: (&str, &str) = ("programme@nyota.example", "window of seven maps");

/// Measures all of them on a database of the demo.
pub fn measure(places: &Places, database: &Path, table: &mut Table) {
    let served = places.copy(database, "fair.sqlite");
    let server = Server::start(places, &served);
    let all = groups(&served, None);
    let (manager, officer) = (server.manager(), server.sign_in(OFFICER.0, OFFICER.1));
    let programme = server.sign_in(PROGRAMME.0, PROGRAMME.1);
    let of_area = groups(&served, Some(OFFICER.0));
    let writer = server.manager();
    let mut beside = |what: &str, large: Vec<Large>| {
        let label = format!("a small write beside {what}");
        line(table, &label, &writes(&writer, large));
    };
    beside("nothing", Vec::new());
    let queue = |client: &Client, groups: &[Uuid], from: &'static str| -> Vec<Large> {
        (0..AT_ONCE).map(|n| syncs(client.clone(), groups.to_vec(), from, n)).collect()
    };
    beside("queues of 5,000 changes, a manager's", queue(&manager, &all, "2012-01-01"));
    beside("queues of 5,000 changes, an officer's", queue(&officer, &of_area, "2008-01-01"));
    let get = |client: &Client, path: &'static str| -> Vec<Large> {
        (0..AT_ONCE).map(|_| gets(client.clone(), path)).collect()
    };
    for (what, client, path) in [
        (
            "workbooks of two months, a manager's",
            &manager,
            "/v1/reports/savings-workbook?from=2026-01&to=2026-02",
        ),
        ("the change feed from its start, an officer's", &officer, "/v1/changes?limit=1000"),
        ("totals, a programme reader's", &programme, "/v1/programme-totals?month=2026-02&by=area"),
        ("work lists of all farms, a manager's", &manager, "/v1/work"),
    ] {
        beside(what, get(client, path));
    }
    let file = imports::milk_of(&served, &places.work.join("fair-import"));
    let (program, url) = (places.program.clone(), format!("sqlite:{}", served.display()));
    let data = places.work.clone();
    let import: Large = Box::new(move |_| imports::run(&program, &data, &url, &file));
    beside("an import of 60,000 rows by the command line", vec![import]);
}

/// Something large, done until it is told to stop.
type Large = Box<dyn FnMut(&AtomicBool) + Send>;

fn syncs(client: Client, groups: Vec<Uuid>, first: &'static str, who: usize) -> Large {
    let first: chrono::NaiveDate = first.parse().expect("a day");
    let mut number = who * 1_000_000;
    Box::new(move |_| {
        let all = (0..5_000).map(|_| {
            number += 1;
            mutation(&groups, first, number)
        });
        let body = json!({ "mutations": all.collect::<Vec<Json>>() });
        client.post("/v1/sync", &body);
    })
}

fn gets(client: Client, path: &'static str) -> Large {
    Box::new(move |_| {
        let answer = client.get(path);
        // One person has only so many of what costs much under way.
        assert!(matches!(answer.status, 200 | 429), "{path}: {}", answer.text);
        if answer.status == 429 {
            std::thread::sleep(PAUSE);
        }
    })
}

/// Milliseconds of each small write while the large things go on.
fn writes(client: &Client, large: Vec<Large>) -> Vec<f64> {
    let stop = Arc::new(AtomicBool::new(false));
    let threads: Vec<_> = large
        .into_iter()
        .map(|mut one| {
            let stop = Arc::clone(&stop);
            std::thread::spawn(move || {
                while !stop.load(Ordering::Relaxed) {
                    one(&stop);
                }
            })
        })
        .collect();
    // The large things have begun.
    std::thread::sleep(Duration::from_millis(500));
    let write = |n: usize| {
        std::thread::sleep(PAUSE);
        let body = json!({ "id": new_id(n), "name": new_id(n).to_string() });
        let started = Instant::now();
        client.post("/v1/suppliers", &body).expect(201);
        started.elapsed().as_secs_f64() * 1000.0
    };
    let took = (0..WRITES).map(write).collect();
    stop.store(true, Ordering::Relaxed);
    threads.into_iter().for_each(|thread| thread.join().expect("no panic"));
    took
}

fn line(table: &mut Table, what: &str, of: &[f64]) {
    let mut sorted = of.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = |part: usize| sorted.get(sorted.len() * part / 100).copied().unwrap_or(0.0);
    let most = sorted.last().copied().unwrap_or(0.0);
    let figure = format!("{:.0} / {:.0} / {most:.0} ms", at(50), at(99));
    table.line(what, figure, None, AIM);
}
