//! Each page of each role at the size of the large co-operative, as a browser asks for it: over one
//! kept connection, compressed. Once with nothing changed between two requests, once with a milk
//! record of another farm written between them, so that nothing kept from before holds.

use crate::Places;
use crate::process::Server;
use crate::table::{Table, median};
use acceptance::client::Client;
use serde_json::{Value as Json, json};
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::time::{Duration, Instant};

/// Requests of each page, with nothing changed and after a change.
const TIMES: (usize, usize) = (200, 60);
/// A slow page is asked no longer than this, but often enough for a middle.
const LENGTH: Duration = Duration::from_secs(4);
/// Milk records of one day; a day takes 40.
const DAY_RECORDS: u64 = 20;
/// See [`LENGTH`].
const TIMES_MIN: usize = 15;

/// A browser of one person, on one connection.
struct Browser {
    stream: BufReader<TcpStream>,
    host: String,
    cookie: String,
}

/// An answer as it came over the wire.
struct Arrived {
    status: u16,
    headers: Vec<String>,
    bytes: usize,
}

impl Browser {
    fn new(server: &Server) -> Self {
        let host = server.address.trim_start_matches("http://").to_owned();
        let stream = TcpStream::connect(&host).expect("the server listens");
        stream.set_nodelay(true).expect("a setting");
        Self { stream: BufReader::new(stream), host, cookie: String::new() }
    }

    fn sign_in(server: &Server, login: &str, password: &str) -> Self {
        let mut browser = Self::new(server);
        let form = format!("login={login}&password={}", password.replace(' ', "+"));
        let answer = browser.ask("POST", "/sign-in", &form);
        assert_eq!(answer.status, 303, "{login} signs in");
        let of = |h: &String| {
            let value = h.strip_prefix("set-cookie: ")?;
            value.split(';').next().map(str::to_owned)
        };
        browser.cookie = answer.headers.iter().find_map(of).expect("a cookie");
        browser
    }

    fn ask(&mut self, method: &str, path: &str, form: &str) -> Arrived {
        let (host, cookie) = (&self.host, &self.cookie);
        let length = form.len();
        let text = format!(
            "{method} {path} HTTP/1.1\r\nhost: {host}\r\ncookie: {cookie}\r\n\
             accept-encoding: gzip\r\ncontent-type: application/x-www-form-urlencoded\r\n\
             content-length: {length}\r\n\r\n{form}"
        );
        self.stream.get_mut().write_all(text.as_bytes()).expect("sent");
        let head = self.line();
        let status = head.split(' ').nth(1).and_then(|s| s.parse().ok()).expect("a status");
        let mut headers = Vec::new();
        loop {
            let line = self.line();
            if line.is_empty() {
                break;
            }
            headers.push(line);
        }
        let is_chunked = headers.iter().any(|h| h == "transfer-encoding: chunked");
        let length = headers.iter().find_map(|h| h.strip_prefix("content-length: "));
        let bytes = match (is_chunked, length.and_then(|l| l.parse().ok())) {
            (true, _) => self.chunks(),
            (false, length) => self.skip(length.unwrap_or(0)),
        };
        Arrived { status, headers, bytes }
    }

    fn line(&mut self) -> String {
        let mut line = String::new();
        self.stream.read_line(&mut line).expect("a line");
        line.trim_end().to_owned()
    }

    fn skip(&mut self, count: usize) -> usize {
        let mut bytes = vec![0; count];
        self.stream.read_exact(&mut bytes).expect("the rest");
        count
    }

    fn chunks(&mut self) -> usize {
        let mut all = 0;
        loop {
            let size = usize::from_str_radix(&self.line(), 16).expect("a size");
            all += self.skip(size);
            self.line();
            if size == 0 {
                return all;
            }
        }
    }

    /// Milliseconds until the last byte, and how many came.
    fn time(&mut self, path: &str) -> (f64, usize) {
        let started = Instant::now();
        let answer = self.ask("GET", path, "");
        let took = started.elapsed().as_secs_f64() * 1000.0;
        assert_eq!(answer.status, 200, "{path}");
        (took, answer.bytes)
    }
}

/// What was measured of a page.
struct Figures {
    middle: f64,
    /// Of a hundred requests the slowest but one.
    slow: f64,
    /// Processor time of the server.
    cpu: f64,
    bytes: usize,
}

fn figures(
    server: &Server,
    times: usize,
    browser: &mut Browser,
    path: &str,
    mut before: impl FnMut(),
) -> Figures {
    let mut all = Vec::with_capacity(times);
    let (mut bytes, mut cpu) = (0, 0.0);
    let begun = Instant::now();
    for done in 0..times {
        if done >= TIMES_MIN && begun.elapsed() > LENGTH {
            break;
        }
        before();
        let used = server.cpu();
        let (took, size) = browser.time(path);
        cpu += server.cpu() - used;
        all.push(took);
        bytes = size;
    }
    all.sort_by(f64::total_cmp);
    let times = all.len();
    let slow = all.get((times * 99).div_ceil(100).saturating_sub(1)).copied().unwrap_or(0.0);
    let count = f64::from(u32::try_from(times).unwrap_or(1));
    Figures { middle: median(all), slow, cpu: cpu * 1000.0 / count, bytes }
}

/// Every page of every role. `only` is a role or a part of an address.
pub fn measure(places: &Places, only: Option<&str>, table: &mut Table) {
    let copy = places.copy(&places.recent(), "pages.sqlite");
    let server = Server::start(places, &copy);
    let manager = server.manager();
    let chosen = Chosen::new(&server, &manager);
    for (path, what) in [("/style.css", "style of every page"), ("/health/ready", "ready")] {
        let bytes = Browser::new(&server).ask("GET", path, "").bytes;
        table.line(&format!("{what}, GET {path}"), format!("{bytes} bytes"), None, "");
    }
    let fits = |text: &str| only.is_none_or(|o| text.contains(o));
    for (role, login, password, pages) in chosen.roles() {
        let mut browser = Browser::sign_in(&server, login, password);
        for path in pages.iter().filter(|p| fits(role) || fits(p)) {
            let name = format!("{role} {}", short(path));
            // A token holds for some minutes only.
            let manager = server.manager();
            // The first request of a page after a change makes what later ones take from memory.
            browser.time(path);
            let ready = figures(&server, TIMES.0, &mut browser, "/health/ready", || {});
            let still = figures(&server, TIMES.0, &mut browser, path, || {});
            line(table, &name, &still, &ready, true);
            let mut write = || chosen.write(&manager);
            let moved = figures(&server, TIMES.1, &mut browser, path, &mut write);
            line(table, "  after a milk record", &moved, &ready, false);
            let mut write = || chosen.harvest(&manager);
            let moved = figures(&server, TIMES.1, &mut browser, path, &mut write);
            line(table, "  after a harvest", &moved, &ready, false);
        }
    }
    let (now, most) = server.memory();
    table.line("memory of the serving process", format!("{now} MB, at most {most}"), None, "");
}

fn line(table: &mut Table, what: &str, of: &Figures, ready: &Figures, has_bytes: bool) {
    let bytes = if has_bytes { format!(" {:>6} bytes", of.bytes) } else { " ".repeat(13) };
    let figure = format!("{:6.1} {:6.1} {:6.1} ms{bytes}", of.middle, of.slow, of.cpu);
    table.line(what, figure, Some(of.middle / ready.middle), "p99 < 30 ms");
}

/// An address without its ids.
fn short(path: &str) -> String {
    let is_id = |part: &&str| part.len() == 36;
    let part = |p: &str| if is_id(&p) { "ID".to_owned() } else { p.to_owned() };
    path.split('/').map(part).collect::<Vec<_>>().join("/")
}

/// The records that pages are about.
struct Chosen {
    batch: String,
    farm: String,
    flagged: String,
    person: String,
    /// Dairy cows of a farm that no measured page is about.
    group: String,
    /// A batch of that farm.
    harvested: String,
    today: String,
    written: std::cell::Cell<u32>,
}

const MEMBER: (&str, &str) = ("member@nyota.example", "green basket morning");
const OFFICER: (&str, &str) = ("officer.kilima@nyota.example", "bicycle under acacia");
const MANAGER: (&str, &str) = ("manager@nyota.example", "lantern saddle nine rivers");
const READER: (&str, &str) = ("programme@nyota.example", "window of seven maps");

impl Chosen {
    fn new(server: &Server, manager: &Client) -> Self {
        let (member, officer) =
            (server.sign_in(MEMBER.0, MEMBER.1), server.sign_in(OFFICER.0, OFFICER.1));
        let id = |r: &Json| r["id"].as_str().expect("an id").to_owned();
        let batches = member.get("/v1/batches?limit=20").expect(200).items();
        let farms = officer.get("/v1/farms?limit=50").expect(200).items();
        let started = farms.iter().find(|f| !f["fodder_started_on"].is_null());
        let started = started.expect("a farm that grows");
        let own = member.get("/v1/farms").expect(200).items();
        let busy = |farm: &Json| *farm == started["id"] || own.iter().any(|f| f["id"] == *farm);
        let groups = manager.get("/v1/animal-groups?animal_class=dairy_cows&limit=50");
        let groups = groups.expect(200).items();
        let group = groups.iter().find(|g| !busy(&g["farm_id"])).expect("other cows");
        let farm = group["farm_id"].as_str().expect("a farm");
        let others = manager.get(&format!("/v1/batches?farm_id={farm}&limit=20"));
        let others = others.expect(200).items();
        let harvested = id(others.last().expect("a batch of that farm"));
        let spoiling = manager.get("/v1/spoilage").expect(200).json();
        let flagged = spoiling["farms"][0]["farm_id"].as_str().expect("a farm").to_owned();
        let people = manager.get("/v1/people?limit=1").expect(200).items();
        let work = manager.get("/v1/work?task=soak").expect(200).json();
        Self {
            batch: id(batches.last().expect("a batch")),
            farm: id(started),
            flagged,
            person: id(&people[0]),
            group: id(group),
            harvested,
            today: work["today"].as_str().expect("a day").to_owned(),
            written: std::cell::Cell::new(0),
        }
    }

    /// A milk record of another farm.
    fn write(&self, manager: &Client) {
        let count = self.written.get() + 1;
        self.written.set(count);
        let litres = f64::from(count % 100).mul_add(0.01, 8.0);
        // A day takes so many records of a group.
        let back = u64::from(count) / DAY_RECORDS;
        let today: chrono::NaiveDate = self.today.parse().expect("a day");
        let date = today - chrono::Days::new(back);
        let body = json!({ "animal_group_id": self.group, "date": date, "session": "day",
            "litres": litres, "animals_in_milk": 1 });
        manager.post("/v1/milk-records", &body).expect(201);
    }

    /// A tray that another farm harvests.
    fn harvest(&self, manager: &Client) {
        // In the zone of the demo.
        let at = format!("{}T00:00:01+03:00", self.today);
        let body = json!({ "batch_id": self.harvested, "event": "harvested", "at": at,
            "trays": 1, "kg": 5 });
        manager.post("/v1/batch-events", &body).expect(201);
    }

    fn roles(&self) -> [(&'static str, &'static str, &'static str, Vec<String>); 4] {
        let (farm, flagged) = (&self.farm, &self.flagged);
        let all = |paths: &[&str]| paths.iter().map(|p| (*p).to_owned()).collect::<Vec<_>>();
        let mut member = all(&["/today", "/output", "/batches", "/result", "/account", "/ask"]);
        member.insert(3, format!("/batches/{}", self.batch));
        let mut officer =
            all(&["/round", "/today", "/farms", "/review", "/farms/new", "/trainings"]);
        officer.push(format!("/farms/{farm}"));
        for of in ["visit", "plan", "batch", "animals", "book", "sheds", "how"] {
            officer.push(format!("/farms/{farm}/{of}"));
        }
        officer.push(format!("/result?farm={farm}"));
        let mut manager = all(&[
            "/month",
            "/savings",
            "/close",
            "/spoilage",
            "/seed",
            "/people",
            "/guide",
            "/review",
            "/farms",
            "/round",
            "/today",
            "/office",
            "/year",
            "/board",
            "/output-change",
            "/trials",
            "/owed",
            "/pay-run",
            "/suppliers",
            "/feed-value",
            "/break-even",
            "/service",
            "/trainings",
            "/texts",
            "/security",
            "/store",
            "/setup",
            "/first",
        ]);
        manager.insert(4, format!("/spoilage/{flagged}"));
        manager.insert(7, format!("/people/{}", self.person));
        [
            ("member", MEMBER.0, MEMBER.1, member),
            ("officer", OFFICER.0, OFFICER.1, officer),
            ("manager", MANAGER.0, MANAGER.1, manager),
            ("reader", READER.0, READER.1, all(&["/totals", "/totals?by=age_band"])),
        ]
    }
}
