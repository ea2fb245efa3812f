//! A device's queue through `POST /v1/sync`.

use crate::Places;
use crate::bare::{self, Rows};
use crate::process::Server;
use crate::table::{Table, median, rate};
use acceptance::client::Client;
use chrono::{Days, NaiveDate};
use serde_json::{Value as Json, json};
use std::path::Path;
use std::time::{Instant, SystemTime, UNIX_EPOCH};
use uuid::Uuid;

/// Changes in one call, the most that are taken.
const CALL: usize = 5_000;
/// Calls that are measured, after one that is not.
const CALLS: usize = 10;

/// Measures the manager's queue and an officer's.
pub fn measure(places: &Places, server: &Server, large: &Path, served: &Path, table: &mut Table) {
    let manager = server.manager();
    let (calls, rows) = send(&manager, &groups(served, None), served, "2022-01-01");
    let bare = |feed: bool| {
        let one = |_| rows.write(&places.copy(large, "bare.sqlite"), feed);
        median((0..3).map(one).collect())
    };
    let (plain, with_feed) = (bare(false), bare(true));
    bare::remove(&places.work.join("bare.sqlite"));
    let sync = CALL as f64 / median(calls);
    table.line("rows by a bare insert loop, large database", rate(plain, "rows"), None, "");
    table.line("the same with the change feed's line", rate(with_feed, "rows"), None, "");
    let figure = rate(sync, "rows");
    table.line("POST /v1/sync, 5,000 new records a call", figure, Some(sync / plain), "0.50");
    let figure = rate(sync, "rows");
    table.line("  against the loop with the feed", figure, Some(sync / with_feed), "");
    let officer = server.sign_in("officer.kilima@nyota.example", "bicycle under acacia");
    let area = groups(served, Some("officer.kilima@nyota.example"));
    let (calls, _) = send(&officer, &area, served, "2021-01-01");
    let sync = CALL as f64 / median(calls);
    let figure = rate(sync, "rows");
    table.line("  the same by an officer, of one area", figure, Some(sync / plain), "");
}

/// Groups of cows, all or those of an officer's areas.
pub fn groups(database: &Path, officer: Option<&str>) -> Vec<Uuid> {
    let within = match officer {
        None => "?1 = ''",
        Some(_) => {
            "f.area_id IN (SELECT area_id FROM officer_areas a JOIN people p ON p.id = a.person_id \
             WHERE p.email = ?1)"
        }
    };
    let sql = format!(
        "SELECT g.id FROM animal_groups g JOIN farms f ON f.coop_id = g.coop_id AND \
         f.id = g.farm_id WHERE g.animal_class = 'dairy_cows' AND {within} ORDER BY g.id"
    );
    let conn = bare::open(database);
    let mut statement = conn.prepare(&sql).expect("a query");
    let ids = statement.query_map([officer.unwrap_or_default()], |row| row.get::<_, Vec<u8>>(0));
    let id = |bytes: Vec<u8>| Uuid::from_slice(&bytes).expect("an id");
    ids.expect("rows").map(|bytes| id(bytes.expect("a row"))).collect()
}

/// Sends the calls; seconds of each, and the rows that they made.
fn send(client: &Client, groups: &[Uuid], served: &Path, first: &str) -> (Vec<f64>, Rows) {
    let first: NaiveDate = first.parse().expect("a day");
    let mut number = 0;
    let mut call = || {
        let all = (0..CALL).map(|_| {
            number += 1;
            mutation(groups, first, number)
        });
        let body = json!({ "mutations": all.collect::<Vec<Json>>() }).to_string().into_bytes();
        let headers = [("accept-encoding", "identity")];
        let started = Instant::now();
        let answer = client.send("POST", "/v1/sync", &headers, Some(("application/json", body)));
        let took = started.elapsed().as_secs_f64();
        let answer = answer.expect(200).json();
        let results = answer["results"].as_array().expect("results");
        let done = results.iter().filter(|r| r["status"] == "done").count();
        assert_eq!(done, CALL, "{:?}", results.iter().find(|r| r["status"] != "done"));
        took
    };
    call();
    let seq = bare::last_change(served);
    let calls = (0..CALLS).map(|_| call()).collect();
    let rows = Rows::written_after(served, seq);
    assert_eq!(rows.len(), CALL * CALLS);
    (calls, rows)
}

/// A day's milk of one group after the other, then the next day's.
pub fn mutation(groups: &[Uuid], first: NaiveDate, number: usize) -> Json {
    let (day, group) = (number / groups.len(), number % groups.len());
    let date = first.checked_add_days(Days::new(day as u64)).expect("a day");
    json!({
        "operation": "create",
        "kind": "milk_record",
        "id": new_id(number),
        "body": {
            "animal_group_id": groups[group],
            "date": date.to_string(),
            "session": "day",
            "litres": (120 + number % 97) as f64 / 10.0,
            "animals_in_milk": 2,
            "sold_litres": 8.5,
            "price_per_litre": 900,
        },
    })
}

/// An id as a device makes it.
#[expect(clippy::disallowed_methods, reason = "a device reads its own clock")]
pub fn new_id(number: usize) -> Uuid {
    let now = SystemTime::now().duration_since(UNIX_EPOCH).expect("a time after 1970");
    let mut rest = [0_u8; 10];
    let mixed = (number as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ u64::from(now.subsec_nanos());
    rest[..8].copy_from_slice(&mixed.to_le_bytes());
    let millis = u64::try_from(now.as_millis()).expect("a time of this age");
    uuid::Builder::from_unix_timestamp_millis(millis, &rest).into_uuid()
}
