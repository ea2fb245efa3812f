//! Text messages: how many are read in a second, and how 200 a second go through the door of
//! carriers into an SQLite database, with nothing lost.

#[path = "../../server/texts/examples/read_cases/cases.rs"]
#[expect(dead_code, reason = "the scene alone")]
mod cases;

use crate::Places;
use crate::bare;
use crate::process::Server;
use crate::table::{Table, rate};
use acceptance::client::{Answer, Client};
use chrono::{DateTime, Datelike as _, Days, NaiveDate};
use serde_json::{Value as Json, json};
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};
use traybook_app::texts::sign;
use traybook_texts::read;
use uuid::Uuid;

const SECRET: &str = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw";
/// Texts a second that are sent by the clock.
const RATE: usize = 200;
/// Members who write: each writes of six days, mornings and evenings.
const MEMBERS: usize = 500;
const TEXTS_OF_ONE: usize = 12;
/// Connections of carriers.
const CONNECTIONS: usize = 8;
/// Texts that are read, round after round.
const READ: [&str; 6] =
    ["Maziwa 12.5", "maziwa 12 mayai 41", "tupa 2 ukungu", "tayari 2 3", "kazi", "Maizwa 12.5"];
const ROUNDS: usize = 5_000;

/// Measures both on a copy of a database of the demo.
pub fn measure(places: &Places, database: &Path, table: &mut Table) {
    table.line("texts read, one core", rate(reading(), "texts"), None, "1,000");
    let served = places.copy(database, "texts.sqlite");
    let coop = one_id(&served, "SELECT id FROM cooperatives");
    let carriers = json!([{ "name": "load", "secret": SECRET, "calling_code": "255", "trunk": "0",
        "cooperatives": [{ "id": coop }] }]);
    let file = places.work.join("carriers.json");
    std::fs::write(&file, carriers.to_string()).expect("carriers.json");
    let server = Server::start(places, &served);
    let door = Client::new(vec![server.address.clone()]);
    let phones = link(&server, &door, &served);
    let all = texts(&phones);
    let (by_clock, rest) = all.split_at(all.len() / 2);
    let before = counts(&served);
    let (paced, took) = send(&door, by_clock, Some(RATE));
    let sent = by_clock.len() as f64 / took;
    table.line("texts sent by the clock through HTTP, SQLite", rate(sent, "texts"), None, "200");
    let [middle, late, worst] = [0.5, 0.99, 1.0].map(|share| of(&paced, share) * 1_000.0);
    let figure = format!("{middle:.0} / {late:.0} / {worst:.0} ms");
    table.line("  taken after (middle / 99 of a hundred / slowest)", figure, None, "99: < 300 ms");
    let (_, took) = send(&door, rest, None);
    let most = rest.len() as f64 / took;
    table.line("texts taken, as fast as they go", rate(most, "texts"), Some(most / sent), "");
    let after = counts(&served);
    let made: Vec<i64> = after.iter().zip(before).map(|(a, b)| a - b).collect();
    let figure = format!("{} of {}", made[0], all.len());
    table.line("  texts that are kept", figure, None, "all");
    let figure = format!("{} of {}", made[1], all.len());
    table.line("  texts with an answer to be sent", figure, None, "all");
    let figure = format!("{} of {}", made[2], made[3]);
    table.line("  milk records of texts that were echoed", figure, None, "all");
    drop(server);
    drop(std::fs::remove_file(file));
}

/// Texts read in a second.
fn reading() -> f64 {
    let file = include_str!("../../server/texts/tests/cases.json");
    let file: Json = serde_json::from_str(file).expect("cases");
    let scene = cases::scene(&file["base"], &Json::Null);
    let begin = Instant::now();
    let mut letters = 0;
    for _ in 0..ROUNDS {
        letters += READ.iter().map(|text| read(Some(text), &scene).answer.len()).sum::<usize>();
    }
    assert!(letters > 0, "something is answered");
    (ROUNDS * READ.len()) as f64 / begin.elapsed().as_secs_f64()
}

/// The one that stands so far in the order of figures.
fn of(figures: &[f64], share: f64) -> f64 {
    let mut sorted = figures.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = (share * (sorted.len().saturating_sub(1)) as f64).round() as usize;
    sorted.get(at).copied().unwrap_or(0.0)
}

fn one_id(database: &Path, sql: &str) -> Uuid {
    let id: Vec<u8> = bare::open(database).query_row(sql, [], |row| row.get(0)).expect("an id");
    Uuid::from_slice(&id).expect("an id")
}

/// Texts kept, answers, milk records of texts, and texts that were echoed.
fn counts(database: &Path) -> [i64; 4] {
    let conn = bare::open(database);
    [
        "SELECT COUNT(*) FROM texts_in",
        "SELECT COUNT(*) FROM texts_out WHERE purpose = 'answer'",
        "SELECT COUNT(*) FROM milk_records r JOIN text_records t ON t.coop_id = r.coop_id \
         AND t.kind = 'milk_record' AND t.id = r.id WHERE r.withdrawn_at IS NULL",
        "SELECT COUNT(*) FROM texts_in WHERE outcome = 'record'",
    ]
    .map(|sql| conn.query_row(sql, [], |row| row.get(0)).expect("a count"))
}

#[expect(clippy::disallowed_methods, reason = "a carrier reads its own clock")]
fn now_s() -> i64 {
    let now = SystemTime::now().duration_since(UNIX_EPOCH).expect("a time after 1970");
    i64::try_from(now.as_secs()).expect("a time of this age")
}

/// A signed request.
fn post(client: &Client, path: &str, id: &str, body: &Json) -> Answer {
    let body = body.to_string().into_bytes();
    let at = now_s();
    let signature = sign(SECRET, id, at, &body).expect("a signature");
    let at = at.to_string();
    let headers = [
        ("webhook-id", id),
        ("webhook-timestamp", at.as_str()),
        ("webhook-signature", signature.as_str()),
    ];
    client.send("POST", path, &headers, Some(("application/json", body)))
}

/// Links a number of each of so many members, and returns the codes.
fn link(server: &Server, door: &Client, served: &Path) -> Vec<String> {
    let sql = "SELECT m.id FROM members m JOIN farms f ON f.coop_id = m.coop_id \
               AND f.member_id = m.id JOIN animal_groups g ON g.coop_id = f.coop_id \
               AND g.farm_id = f.id WHERE m.left_on IS NULL AND m.withdrawn_at IS NULL \
               AND f.withdrawn_at IS NULL AND g.withdrawn_at IS NULL \
               AND g.animal_class IN ('dairy_cows', 'goats', 'sheep') \
               GROUP BY m.id HAVING COUNT(DISTINCT f.id) = 1 AND COUNT(*) = 1 \
               AND MIN(g.animal_class) = 'dairy_cows' ORDER BY m.id LIMIT ?1";
    let members: Vec<Uuid> = {
        let conn = bare::open(served);
        let mut statement = conn.prepare(sql).expect("a query");
        let most = i64::try_from(MEMBERS).expect("small");
        let ids = statement.query_map([most], |row| row.get::<_, Vec<u8>>(0)).expect("rows");
        ids.map(|id| Uuid::from_slice(&id.expect("a row")).expect("an id")).collect()
    };
    let manager = server.manager();
    let today = day(0).to_string();
    for (n, member) in members.iter().enumerate() {
        let body = json!({ "number": number(n), "member_id": member, "language": "sw",
            "consent_on": today });
        manager.post("/v1/text-numbers", &body).expect(200);
    }
    let mut verified = 0;
    while verified < members.len() {
        let leased = post(door, "/v1/texts/lease", "lease", &json!({ "most": 100 })).expect(200);
        let items = leased.items();
        assert!(!items.is_empty(), "codes for all: {verified} of {}", members.len());
        let settled: Vec<Json> =
            items.iter().map(|i| json!({ "id": i["id"], "state": "sent" })).collect();
        post(door, "/v1/texts/settle", "settle", &json!({ "items": settled })).expect(200);
        for item in &items {
            let text = item["text"].as_str().unwrap_or_default();
            let mut words = text.split(|c: char| !c.is_ascii_digit());
            let Some(code) = words.find(|w| w.len() == 4) else { continue };
            let id = format!("code {}", item["to"]);
            let body = json!({ "id": id, "from": item["to"], "text": code });
            let taken = post(door, "/v1/texts/in", "code", &body).expect(200).json();
            verified += usize::from(taken["outcome"] == "verified");
        }
    }
    (0..members.len()).map(number).collect()
}

fn number(n: usize) -> String {
    format!("+2557{:08}", 10_000_000 + n)
}

/// The day so many days before today in the co-operative's zone, three hours before UTC.
fn day(before: u64) -> NaiveDate {
    let now = DateTime::from_timestamp(now_s() + 3 * 3_600, 0).expect("a time").date_naive();
    now.checked_sub_days(Days::new(before)).expect("a day")
}

/// A text of each number, then the next one of each.
fn texts(phones: &[String]) -> Vec<Json> {
    let text = |n: usize, phone: &String| {
        let on = day(n as u64 / 2);
        let session = if n.is_multiple_of(2) { "asubuhi" } else { "jioni" };
        let text = format!("maziwa {}/{} {session} {}.{}", on.day(), on.month(), 5 + n % 3, n % 10);
        json!({ "id": format!("{phone} {n}"), "from": phone, "text": text })
    };
    (0..TEXTS_OF_ONE).flat_map(|n| phones.iter().map(move |phone| text(n, phone))).collect()
}

/// Sends texts over several connections: by the clock, or one after the other; seconds until each
/// was taken, counted from the instant at which it was due, and of all of them.
fn send(door: &Client, texts: &[Json], a_second: Option<usize>) -> (Vec<f64>, f64) {
    let next = AtomicUsize::new(0);
    let begin = Instant::now();
    let work = || {
        let client = door.clone();
        let mut took = Vec::new();
        loop {
            let at = next.fetch_add(1, Ordering::Relaxed);
            let Some(text) = texts.get(at) else { return took };
            let due = a_second.map(|rate| Duration::from_secs_f64(at as f64 / rate as f64));
            let since = due.unwrap_or_else(|| begin.elapsed());
            std::thread::sleep(since.saturating_sub(begin.elapsed()));
            post(&client, "/v1/texts/in", "load", text).expect(200);
            took.push((begin.elapsed() - since).as_secs_f64());
        }
    };
    let took = std::thread::scope(|scope| {
        let all: Vec<_> = (0..CONNECTIONS).map(|_| scope.spawn(work)).collect();
        all.into_iter().flat_map(|t| t.join().expect("sent")).collect()
    });
    (took, begin.elapsed().as_secs_f64())
}
