//! The work list of all farms, and what a change costs.

use crate::Places;
use crate::process::Server;
use crate::table::{Table, median};
use serde_json::json;
use std::time::Instant;

const TIMES: usize = 11;
const PLAIN: &[(&str, &str)] = &[("accept-encoding", "identity")];

/// Milliseconds of the work list over HTTP: cold, again, and after a farm recorded something.
pub fn measure(places: &Places, table: &mut Table) {
    let copy = places.copy(&places.database(36), "work.sqlite");
    let server = Server::start(places, &copy);
    let manager = server.manager();
    let started = Instant::now();
    let first = manager.send("GET", "/v1/work?date=2026-03-20", PLAIN, None).expect(200);
    let cold = ms(started);
    let answer = first.json();
    let (today, farms) = (
        answer["today"].as_str().unwrap_or_default().to_owned(),
        answer["farms"].as_array().map_or(0, Vec::len),
    );
    table.line(
        &format!("work list of a past day, {farms} farms, read anew"),
        format!("{cold:.0} ms"),
        None,
        "",
    );
    let started = Instant::now();
    let list = manager.send("GET", "/v1/work", PLAIN, None).expect(200);
    table.line(
        "work list of today, the first of the day",
        format!("{:.0} ms", ms(started)),
        None,
        "",
    );
    let farms = list.json()["farms"].as_array().map_or(0, Vec::len);
    let ask = || {
        let started = Instant::now();
        manager.send("GET", "/v1/work", PLAIN, None).expect(200);
        ms(started)
    };
    let again = median((0..TIMES).map(|_| ask()).collect());
    table.line(
        &format!("  the same again, {farms} farms"),
        format!("{again:.0} ms"),
        None,
        "< 150 ms",
    );
    let farm = list.json()["farms"][0]["farm_id"].clone();
    let shed = manager
        .send(
            "GET",
            &format!("/v1/sheds?farm_id={}", farm.as_str().unwrap_or_default()),
            PLAIN,
            None,
        )
        .expect(200);
    let shed = shed.items()[0]["id"].clone();
    let changed = |n: usize| {
        let body = json!({ "farm_id": farm, "shed_id": shed, "task": "cleaned", "trays": n,
            "at": format!("{today}T00:00:00Z") });
        manager.post("/v1/work-records", &body).expect(201);
        ask()
    };
    let after = median((0..TIMES).map(changed).collect());
    table.line("  the same after one farm's change", format!("{after:.0} ms"), None, "< 150 ms");
    let started = Instant::now();
    manager.send("GET", "/v1/seed-forecast?weeks=12", PLAIN, None).expect(200);
    table.line("seed forecast, 12 weeks", format!("{:.0} ms", ms(started)), None, "");
}

fn ms(since: Instant) -> f64 {
    since.elapsed().as_secs_f64() * 1000.0
}
