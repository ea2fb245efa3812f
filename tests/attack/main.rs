//! Attacks a server on loopback for as long as it is told, and prints the counts.
//!
//! ```text
//! attack PROGRAM SECONDS [SEED]
//! ```
//!
//! `PROGRAM` is the server's program, which is started and killed on an SQLite file of its own. The
//! rest runs within this process, on both databases. `TEST_POSTGRES_URL` says where PostgreSQL is.

use acceptance::attack::{Marks, isolation, losses, requests, tokens};
use acceptance::client::Client;
use acceptance::world::folder;
use acceptance::{Db, World};
use serde_json::json;
use std::io::{BufRead as _, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitCode, Stdio};
use std::time::Duration;

/// The manager of the demo.
const LOGIN: (&str, &str) = ("manager@nyota.example", "lantern saddle nine rivers");

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [program, seconds, rest @ ..] = args.as_slice() else {
        eprintln!("attack PROGRAM SECONDS [SEED]");
        return ExitCode::FAILURE;
    };
    let seconds: u64 = seconds.parse().expect("seconds");
    let seed: u64 = rest.first().map_or(1, |seed| seed.parse().expect("a seed"));
    let mut wrong = Vec::new();
    for (name, db) in [("SQLite", Db::sqlite()), ("PostgreSQL", Db::postgres())] {
        let w = World::start(db);
        let marks = Marks::of_other(&w);
        let mut found = isolation::run(&w, &marks);
        isolation::pages(&w, &marks, &mut found);
        let (addresses, filters, pages) = (found.addresses, found.filters, found.pages);
        println!("{name}: cells: {addresses} by address, {filters} by filter, {pages} of pages");
        wrong.extend(found.wrong);
        let time = Duration::from_secs(seconds * 3 / 10);
        let found = requests::run(&w, &marks, (seed, u64::MAX), time);
        println!(
            "{name}: {} generated requests over {} operations, by class {:?}",
            found.requests(),
            found.operations,
            found.by_class
        );
        wrong.extend(found.wrong);
    }
    let (sent, taken) = tokens::run(&World::start_with_keys(Db::sqlite(), &tokens::ring()));
    println!("{sent} forged tokens");
    wrong.extend(taken);
    let (db, name) = Db::postgres_alone();
    let time = Duration::from_secs(seconds * 2 / 10);
    let cuts = losses::cuts(&World::start(db), &name, (seed, time));
    Db::forget(&name);
    let kills = kills(Path::new(program), (seed, time));
    for (what, found) in [("cuts", cuts), ("kills", kills)] {
        let (blows, writes, none) = (found.blows, found.acknowledged, found.unanswered);
        println!("{blows} {what}: {writes} acknowledged writes, {none} without one");
        wrong.extend(found.lost.iter().map(|id| format!("{what}: {id} was acknowledged and lost")));
        wrong.extend(found.wrong);
    }
    println!("{} wrong", wrong.len());
    wrong.iter().take(40).for_each(|one| println!("{one}"));
    if wrong.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// The server on one address, started again and again.
struct Server {
    program: PathBuf,
    data: PathBuf,
    child: Option<Child>,
    listen: String,
}

impl Server {
    /// Waits until it says where it listens.
    fn start(&mut self) {
        let database = format!("sqlite:{}", self.data.join("demo-small-1.sqlite").display());
        let mut child = Command::new(&self.program)
            .arg("--data")
            .arg(&self.data)
            .args(["--database-url", &database, "serve", "--listen", &self.listen])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the program starts");
        let out = BufReader::new(child.stdout.take().expect("its output"));
        let line = out.lines().next().expect("it says where it listens").expect("text");
        let address = line.split_whitespace().find_map(|word| word.strip_prefix("http://"));
        self.listen = address.expect("an address").trim_end_matches(['/', '.']).to_owned();
        self.child = Some(child);
    }

    /// SIGKILL, by its own number.
    fn kill(&mut self) {
        if let Some(mut child) = self.child.take() {
            child.kill().expect("killed");
            child.wait().expect("gone");
        }
    }

    fn sign_in(&self) -> Client {
        let nobody = Client::new(vec![format!("http://{}", self.listen)]);
        let body = json!({ "login": LOGIN.0, "password": LOGIN.1 });
        let token = nobody.post("/v1/session", &body).expect(201).json();
        nobody.with_token(token["access_token"].as_str().expect("a token"))
    }
}

/// Kills the server in the middle of writes, and starts it again.
fn kills(program: &Path, how: (u64, Duration)) -> losses::Found {
    let data = folder();
    let made = Command::new(program).arg("--data").arg(&data).args(["demo", "--no-serve"]).output();
    assert!(made.expect("the program starts").status.success(), "a demo is made");
    let listen = "127.0.0.1:0".to_owned();
    let mut server = Server { program: program.to_owned(), data, child: None, listen };
    server.start();
    let client = server.sign_in();
    let mut blow = |_| {
        server.kill();
        server.start();
    };
    let found = losses::run(&client, how, &mut blow, || client.clone());
    server.kill();
    drop(std::fs::remove_dir_all(&server.data));
    found
}
