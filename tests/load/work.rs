//! The work list of all farms, and what a change costs.

use crate::Places;
use crate::process::Server;
use crate::table::{Table, median};
use acceptance::client::Client;
use chrono::{NaiveDate, TimeDelta};
use serde_json::{Value as Json, json};
use std::process::Command;
use std::time::Instant;

const TIMES: usize = 11;
const PLAIN: &[(&str, &str)] = &[("accept-encoding", "identity")];

/// Days of batches before today.
const DAYS: i64 = 24;

type Figure = fn(&Figures) -> f64;

/// Milliseconds on one database.
struct Figures {
    first: f64,
    again: f64,
    /// The same by processor time: what others on the machine do lengthens it less.
    cpu: f64,
    farms: usize,
    after: f64,
    changes: f64,
    forecast: f64,
}

/// The work list over HTTP: cold, again, and after a farm recorded something; the same on
/// PostgreSQL, as ratios, where a copy was made there.
pub fn measure(places: &Places, table: &mut Table) {
    let copy = places.copy(&places.database(36), "work.sqlite");
    let own = of(places, &format!("sqlite:{}", copy.display()));
    let other = places.postgres.as_ref().map(|url| of(places, url));
    let lines: [(String, Figure, &str); 6] = [
        ("work list of today, the first of the day".to_owned(), |f| f.first, ""),
        (format!("  the same again, {} farms", own.farms), |f| f.again, "< 150 ms"),
        ("  the same, processor time".to_owned(), |f| f.cpu, ""),
        ("  the same after one farm's change".to_owned(), |f| f.after, "< 150 ms"),
        ("  changes of lists since a minute ago".to_owned(), |f| f.changes, ""),
        ("seed forecast, 12 weeks".to_owned(), |f| f.forecast, ""),
    ];
    for (what, figure, aim) in lines {
        table.line(&what, format!("{:.0} ms", figure(&own)), None, aim);
        if let Some(other) = &other {
            let ratio = figure(other) / figure(&own);
            table.line(
                "    on PostgreSQL, against SQLite",
                format!("{:.0} ms", figure(other)),
                Some(ratio),
                aim,
            );
        }
    }
}

fn of(places: &Places, url: &str) -> Figures {
    let server = Server::on(places, url);
    let manager = server.manager();
    let today = grow(places, url, &manager);
    let get = |path: &str| {
        let started = Instant::now();
        let answer = manager.send("GET", path, PLAIN, None).expect(200);
        (ms(started), answer)
    };
    let (first, list) = get("/v1/work");
    let list = list.json();
    let before = server.cpu();
    let again = median((0..TIMES).map(|_| get("/v1/work").0).collect());
    let cpu = (server.cpu() - before) * 1000.0 / f64::from(u32::try_from(TIMES).unwrap_or(1));
    let farm = list["farms"][0]["farm_id"].clone();
    let shed = get(&format!("/v1/sheds?farm_id={}", farm.as_str().unwrap_or_default())).1.items()
        [0]["id"]
        .clone();
    let changed = |n: usize| {
        let body = json!({ "farm_id": farm, "shed_id": shed, "task": "cleaned", "trays": n,
            // Midnight of the co-operative: UTC may still be on the day before.
            "at": format!("{today}T00:00:00+03:00") });
        manager.post("/v1/work-records", &body).expect(201);
        get("/v1/work").0
    };
    let after = median((0..TIMES).map(changed).collect());
    let next = get("/v1/work-changes").1.json()["next"].as_str().expect("a cursor").to_owned();
    let changes = format!("/v1/work-changes?after={next}");
    let changes = median((0..TIMES).map(|_| get(&changes).0).collect());
    let forecast = median((0..TIMES).map(|_| get("/v1/seed-forecast?weeks=12").0).collect());
    let farms = list["farms"].as_array().map_or(0, Vec::len);
    Figures { first, again, cpu, farms, after, changes, forecast }
}

fn ms(since: Instant) -> f64 {
    since.elapsed().as_secs_f64() * 1000.0
}

/// Gives every shed a batch a day up to yesterday, as a co-operative in full swing has them, by
/// the import; the day that the server calls today.
fn grow(places: &Places, url: &str, manager: &Client) -> String {
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
        .args(["--database-url", url, "import"])
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
