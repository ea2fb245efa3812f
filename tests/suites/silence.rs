//! PostgreSQL behind a network that swallows everything: requests are answered all the same.

use acceptance::{Db, World};
use serde_json::json;
use std::io::{Read as _, Write as _};
use std::net::{Shutdown, TcpListener, TcpStream};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// The limit that the server promises.
const ANSWERED_WITHIN: Duration = Duration::from_secs(10);

/// A proxy that passes bytes on, or swallows them and keeps its connections open.
struct Proxy {
    url: String,
    is_silent: Arc<AtomicBool>,
}

impl Proxy {
    fn before(url: &str) -> Self {
        let (head, rest) = url.split_once("://").expect("an address");
        let (host, tail) = rest.split_once('/').expect("a name");
        let (user, server) = host.rsplit_once('@').unwrap_or(("", host));
        let listener = TcpListener::bind("127.0.0.1:0").expect("a free port");
        let here = listener.local_addr().expect("an address");
        let is_silent = Arc::new(AtomicBool::new(false));
        let (silent, server) = (Arc::clone(&is_silent), server.to_owned());
        std::thread::spawn(move || {
            for client in listener.incoming().flatten() {
                // A new connection is taken, and nothing more, as long as it is silent.
                let (silent, server) = (Arc::clone(&silent), server.clone());
                std::thread::spawn(move || {
                    wait(&silent);
                    let Ok(server) = TcpStream::connect(&server) else { return };
                    let (from, to) = (client.try_clone(), server.try_clone());
                    let (Ok(from), Ok(to)) = (from, to) else { return };
                    let other = Arc::clone(&silent);
                    std::thread::spawn(move || pass(from, to, &other));
                    pass(server, client, &silent);
                });
            }
        });
        let at = if user.is_empty() { String::new() } else { format!("{user}@") };
        Self { url: format!("{head}://{at}{here}/{tail}"), is_silent }
    }

    fn go_silent(&self, is_silent: bool) {
        self.is_silent.store(is_silent, Ordering::Relaxed);
    }
}

fn wait(silent: &AtomicBool) {
    while silent.load(Ordering::Relaxed) {
        std::thread::sleep(Duration::from_millis(20));
    }
}

fn pass(mut from: TcpStream, mut to: TcpStream, silent: &AtomicBool) {
    let mut part = [0; 16 * 1024];
    loop {
        let read = from.read(&mut part).unwrap_or(0);
        wait(silent);
        if read == 0 || to.write_all(&part[..read]).is_err() {
            to.shutdown(Shutdown::Both).ok();
            return;
        }
    }
}

#[test]
fn a_silent_network_is_answered_within_seconds_and_passes() {
    let direct = Db::postgres();
    let proxy = Proxy::before(&direct.url);
    let w = World::start(Db::at(&proxy.url));
    let manager = w.sign_in("manager");
    let supplier = |n: usize| json!({ "name": format!("Supplier {n}") });
    manager.post("/v1/suppliers", &supplier(0)).expect(201);
    proxy.go_silent(true);
    // More at once than there are threads and connections, reading and writing.
    let tries: Vec<_> = (1..=40)
        .map(|n| {
            let (client, body) = (manager.clone(), supplier(n));
            std::thread::spawn(move || {
                let begun = Instant::now();
                let answer = match n % 2 {
                    0 => client.post("/v1/suppliers", &body),
                    _ => client.get("/v1/suppliers"),
                };
                (begun.elapsed(), answer)
            })
        })
        .collect();
    let begun = Instant::now();
    let ready = w.nobody.get("/health/ready");
    assert!(ready.status == 503 && begun.elapsed() < ANSWERED_WITHIN, "{:?}", begun.elapsed());
    for one in tries {
        let (took, answer) = one.join().expect("no panic");
        assert!(took < ANSWERED_WITHIN, "{took:?}: {}", answer.text);
        assert_eq!(answer.status, 503, "{}", answer.text);
        assert!(answer.header("retry-after").is_some(), "{}", answer.text);
    }
    // Still silent: nothing has piled up.
    let begun = Instant::now();
    manager.get("/v1/suppliers").expect(503);
    assert!(begun.elapsed() < ANSWERED_WITHIN, "{:?}", begun.elapsed());
    proxy.go_silent(false);
    let until = Instant::now() + Duration::from_secs(30);
    while manager.post("/v1/suppliers", &supplier(99)).status != 201 {
        assert!(Instant::now() < until, "it passes");
        std::thread::sleep(Duration::from_millis(200));
    }
}

#[test]
fn every_connection_to_postgres_has_limits() {
    let db = Db::postgres();
    let mut conn = db.connect();
    for (setting, most_ms) in [
        ("statement_timeout", 8_000),
        ("lock_timeout", 8_000),
        ("idle_in_transaction_session_timeout", 60_000),
    ] {
        let sql = format!(
            "SELECT CAST(EXTRACT(EPOCH FROM CAST(current_setting('{setting}') AS interval)) * 1000 \
             AS BIGINT)"
        );
        let rows = conn.rows(&sql, &[], &[traybook_domain::ColumnType::Int]).expect("a setting");
        let traybook_domain::Value::Int(ms) = rows[0][0] else { panic!("{rows:?}") };
        assert!(0 < ms && ms <= most_ms, "{setting}: {ms}");
    }
    // A server that takes the connection and says nothing.
    let listener = TcpListener::bind("127.0.0.1:0").expect("a free port");
    let url = format!("postgres://traybook@{}/x", listener.local_addr().expect("an address"));
    let begun = Instant::now();
    assert!(traybook_storage::settings::open_postgres(&url).is_err());
    assert!(begun.elapsed() < ANSWERED_WITHIN, "{:?}", begun.elapsed());
}
