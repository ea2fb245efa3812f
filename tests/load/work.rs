//! The work list of all farms, and what a change costs.

use crate::Places;
use crate::process::Server;
use crate::table::{Table, median};
use acceptance::client::Client;
use chrono::{NaiveDate, TimeDelta};
use serde_json::{Value as Json, json};
use std::path::Path;
use std::process::Command;
use std::time::Instant;

const TIMES: usize = 11;
const PLAIN: &[(&str, &str)] = &[("accept-encoding", "identity")];

/// Days of batches before today.
const DAYS: i64 = 24;

/// Milliseconds of the work list over HTTP: cold, again, and after a farm recorded something.
pub fn measure(places: &Places, table: &mut Table) {
    let copy = places.copy(&places.database(36), "work.sqlite");
    let server = Server::start(places, &copy);
    let manager = server.manager();
    let today = grow(places, &copy, &manager);
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

/// Gives every shed a batch a day up to yesterday, as a co-operative in full swing has them, by
/// the import; the day that the server calls today.
fn grow(places: &Places, database: &Path, manager: &Client) -> String {
    let today = manager.send("GET", "/v1/work?task=soak", PLAIN, None).expect(200).json();
    let today = today["today"].as_str().unwrap_or_default().to_owned();
    let day: NaiveDate = today.parse().expect("a day");
    let mut csv = String::from(
        "code,shed,crop,harvest_age_days,soaked_at,seed_kg,spread_at,trays_spread,harvested_at,\
         trays_harvested,harvested_kg,fed_at,fed_kg\n",
    );
    for shed in all(manager, "/v1/sheds?limit=200") {
        let code = shed["code"].as_str().expect("a code");
        for back in 1..=DAYS {
            let at = |after: i64, hour: &str| {
                let on = day - TimeDelta::days(back - after);
                if on < day { format!("{on} {hour}") } else { String::new() }
            };
            let (spread, out) = (at(2, "11:00"), at(8, "07:00"));
            let of = |is: &str, text: &'static str| if is.is_empty() { "" } else { text };
            let fed = at(8, "08:00");
            let soaked = at(0, "07:00");
            csv.push_str(&format!(
                "W-{code}-{back},{code},barley,8,{soaked},4,{spread},{},{out},{},{},{fed},{}\n",
                of(&spread, "2"),
                of(&out, "2"),
                of(&out, "22"),
                of(&fed, "22"),
            ));
        }
    }
    let folder = places.work.join("batches");
    std::fs::create_dir_all(&folder).expect("a folder");
    std::fs::write(folder.join("batches.csv"), csv).expect("room for a file");
    let done = Command::new(&places.program)
        .args(["--database-url", &format!("sqlite:{}", database.display()), "import"])
        .arg(&folder)
        .output()
        .expect("the program runs");
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stdout));
    today
}

/// All records of a list.
fn all(manager: &Client, path: &str) -> Vec<Json> {
    let (mut items, mut next) = (Vec::new(), Some(path.to_owned()));
    while let Some(path) = next {
        let page = manager.send("GET", &path, PLAIN, None).expect(200).json();
        items.extend(page["items"].as_array().cloned().unwrap_or_default());
        next = page["next"].as_str().map(str::to_owned);
    }
    items
}
