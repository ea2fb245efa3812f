//! Whether a write that was acknowledged is there after the server was killed, or after the
//! connections of the database were cut.

use crate::World;
use crate::client::Client;
use crate::random::Rng;
use crate::world::env;
use serde_json::json;
use std::collections::HashSet;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};
use traybook_domain::ColumnType;
use uuid::Uuid;

/// People who write at once.
const WRITERS: usize = 4;

/// What was done, and what is missing.
#[derive(Debug, Default)]
pub struct Found {
    /// Kills or cuts.
    pub blows: u64,
    /// Writes that were acknowledged, all of which must be there.
    pub acknowledged: u64,
    /// Requests that got no acknowledgement.
    pub unanswered: u64,
    /// Acknowledged and not there.
    pub lost: Vec<Uuid>,
    /// Answers that say neither that it is stored nor that the database is away.
    pub wrong: Vec<String>,
}

/// What the writers share.
#[derive(Default)]
struct Shared {
    stop: AtomicBool,
    number: AtomicU64,
    unanswered: AtomicU64,
    acknowledged: Mutex<Vec<Uuid>>,
    wrong: Mutex<Vec<String>>,
}

/// A UUIDv7 (RFC 9562, 5.7) whose number counts on.
fn new_id(number: u64) -> Uuid {
    let mut random = [0_u8; 10];
    random[2..].copy_from_slice(&number.to_be_bytes());
    uuid::Builder::from_unix_timestamp_millis(1_773_997_200_000, &random).into_uuid()
}

/// Writes one record after another until it is told to stop.
fn write(client: &Client, shared: &Shared) {
    while !shared.stop.load(Ordering::Relaxed) {
        let number = shared.number.fetch_add(1, Ordering::Relaxed);
        let id = new_id(number);
        let body = json!({ "id": id, "name": format!("Area {number}") });
        match client.try_post("/v1/areas", &body) {
            Some(answer) if answer.status == 201 => {
                shared.acknowledged.lock().expect("a lock").push(id);
            }
            Some(answer) if answer.status == 503 => {
                shared.unanswered.fetch_add(1, Ordering::Relaxed);
            }
            Some(answer) => {
                let text = format!("{} {}", answer.status, answer.text);
                shared.wrong.lock().expect("a lock").push(text);
            }
            None => {
                shared.unanswered.fetch_add(1, Ordering::Relaxed);
                std::thread::sleep(Duration::from_millis(5));
            }
        }
    }
}

/// Which of the ids are not there.
fn missing(client: &Client, ids: &[Uuid]) -> Vec<Uuid> {
    let (mut there, mut next) = (HashSet::new(), Some("/v1/areas?limit=200".to_owned()));
    while let Some(path) = next {
        let page = client.get(&path).expect(200).json();
        let items = page["items"].as_array().expect("items").iter();
        there.extend(items.filter_map(|item| Uuid::try_parse(item["id"].as_str()?).ok()));
        next = page["next"].as_str().map(str::to_owned);
    }
    ids.iter().copied().filter(|id| !there.contains(id)).collect()
}

/// Writers write while `blow` strikes now and then; afterwards `after` gives who looks for what was
/// acknowledged. The first argument of `blow` is its number.
pub fn run(
    client: &Client,
    (seed, time): (u64, Duration),
    mut blow: impl FnMut(u64),
    after: impl FnOnce() -> Client,
) -> Found {
    let (shared, begun) = (Shared::default(), Instant::now());
    let (mut rng, mut blows) = (Rng::of(seed, 29, 0), 0);
    std::thread::scope(|scope| {
        for _ in 0..WRITERS {
            scope.spawn(|| write(client, &shared));
        }
        while begun.elapsed() < time {
            let pause = rng.int(30, 400);
            std::thread::sleep(Duration::from_millis(u64::try_from(pause).unwrap_or(100)));
            blow(blows);
            blows += 1;
        }
        shared.stop.store(true, Ordering::Relaxed);
    });
    let acknowledged = shared.acknowledged.into_inner().expect("a lock");
    Found {
        blows,
        lost: missing(&after(), &acknowledged),
        acknowledged: u64::try_from(acknowledged.len()).unwrap_or(u64::MAX),
        unanswered: shared.unanswered.into_inner(),
        wrong: shared.wrong.into_inner().expect("a lock"),
    }
}

/// Cuts all connections to a database of PostgreSQL that nothing else uses.
pub fn cuts(w: &World, database: &str, (seed, time): (u64, Duration)) -> Found {
    let base = env("TEST_POSTGRES_URL").expect("TEST_POSTGRES_URL is not set");
    let mut conn = traybook_storage::settings::open_postgres(&base).expect("PostgreSQL");
    let sql = format!(
        "SELECT CAST(COUNT(pg_terminate_backend(pid)) AS BIGINT) FROM pg_stat_activity \
         WHERE datname = '{database}'"
    );
    let blow = |_| drop(conn.row(&sql, &[], &[ColumnType::Int]).expect("cut"));
    let client = w.sign_in("manager");
    run(&client, (seed, time), blow, || {
        // What was cut is opened anew.
        let is_back = || w.nobody.get("/health/ready").status == 200;
        let waits = (0..200).take_while(|_| !is_back());
        waits.for_each(|_| std::thread::sleep(Duration::from_millis(50)));
        client.clone()
    })
}
