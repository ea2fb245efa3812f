//! The server as a process of its own, and what the kernel says of it.

use crate::Places;
use acceptance::client::Client;
use serde_json::json;
use std::io::{BufRead as _, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};

/// Parts of a second in which Linux counts processor time, on every architecture.
const TICKS: f64 = 100.0;

/// A server that ends with its value.
pub struct Server {
    child: Child,
    /// Where it listens.
    pub address: String,
}

impl Server {
    /// Starts the program on an SQLite database.
    pub fn start(places: &Places, database: &Path) -> Self {
        Self::on(places, &format!("sqlite:{}", database.display()))
    }

    /// Starts the program on the database of an address.
    pub fn on(places: &Places, url: &str) -> Self {
        let mut child = Command::new(&places.program)
            .args(["--database-url", url])
            .arg("--data")
            .arg(&places.work)
            .args(["serve", "--listen", "127.0.0.1:0"])
            .stdout(Stdio::piped())
            .spawn()
            .expect("the program starts");
        let out = BufReader::new(child.stdout.take().expect("its output"));
        let line = out.lines().next().expect("it says where it listens").expect("text");
        let address = line.split_whitespace().find(|w| w.starts_with("http://"));
        let address = address.expect("an address").to_owned();
        Self { child, address }
    }

    /// Somebody of the demo co-operative.
    pub fn sign_in(&self, login: &str, password: &str) -> Client {
        let nobody = Client::new(vec![self.address.clone()]);
        let body = json!({ "login": login, "password": password });
        let answer = nobody.post("/v1/session", &body).expect(201);
        nobody.with_token(answer.json()["access_token"].as_str().expect("a token"))
    }

    /// The manager.
    pub fn manager(&self) -> Client {
        self.sign_in("manager@nyota.example", "lantern saddle nine rivers")
    }

    /// Processor time used so far, seconds.
    pub fn cpu(&self) -> f64 {
        cpu(&self.child.id().to_string())
    }

    /// Resident memory now and at most, megabytes.
    pub fn memory(&self) -> (u64, u64) {
        let path = format!("/proc/{}/status", self.child.id());
        let text = std::fs::read_to_string(path).unwrap_or_default();
        let field = |name: &str| {
            let line = text.lines().find(|l| l.starts_with(name))?;
            line.split_whitespace().nth(1)?.parse::<u64>().ok()
        };
        let megabytes = |name| field(name).unwrap_or(0) * 1024 / 1_000_000;
        (megabytes("VmRSS:"), megabytes("VmHWM:"))
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        drop(self.child.kill());
        drop(self.child.wait());
    }
}

/// Processor time of a process, seconds; `self` for this one.
pub fn cpu(process: &str) -> f64 {
    let text = std::fs::read_to_string(format!("/proc/{process}/stat")).unwrap_or_default();
    // The name, in brackets, may hold blanks; user and system time are the 12th and 13th after it.
    let rest = text.rsplit_once(')').map_or("", |(_, rest)| rest);
    let field = |at| rest.split_whitespace().nth(at).and_then(|t| t.parse::<f64>().ok());
    (field(11).unwrap_or(0.0) + field(12).unwrap_or(0.0)) / TICKS
}
