//! What an attacker tries: generated requests, other people's ids, forged tokens, kills and cuts. The
//! suite runs it within bounds, the program `attack` as long as it is told.

pub mod isolation;
pub mod losses;
pub mod requests;
pub mod tokens;

use crate::world::PASSWORD;
use crate::{Client, World};
use serde_json::json;
use std::collections::BTreeSet;
use std::time::Duration;
use traybook_domain::Kind;

/// Signs in by e-mail address; a database that is busy is asked again.
fn enter(w: &World, login: &str) -> Client {
    let body = json!({ "login": login, "password": PASSWORD });
    for _ in 0..20 {
        let answer = w.nobody.post("/v1/session", &body);
        if answer.status == 503 {
            std::thread::sleep(Duration::from_millis(500));
            continue;
        }
        let token = answer.expect(201).json();
        return w.nobody.with_token(token["access_token"].as_str().expect("a token"));
    }
    panic!("the database stays busy");
}

/// What stands in the other co-operative and nowhere else: ids, and a text.
pub struct Marks {
    all: BTreeSet<String>,
}

impl Marks {
    /// Those of the second co-operative, with a record whose text is known.
    pub fn of_other(w: &World) -> Self {
        let text = "Marula ridge of the other one";
        w.make(&w.b, Kind::Area, json!({ "name": text }));
        let mut all: BTreeSet<String> = w.b.ids.values().map(ToString::to_string).collect();
        all.insert(text.to_owned());
        Self { all }
    }

    /// Ids among them.
    pub fn ids(&self) -> impl Iterator<Item = &String> {
        self.all.iter().filter(|mark| uuid::Uuid::try_parse(mark).is_ok())
    }

    /// The first mark in an answer that was not in the question.
    pub fn seen(&self, question: &str, answer: &str) -> Option<&String> {
        self.all.iter().find(|mark| answer.contains(*mark) && !question.contains(*mark))
    }
}
