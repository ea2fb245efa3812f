//! Every operation that takes an id, asked with the ids of another co-operative: it must answer as
//! if there were no such thing.

use super::{Marks, enter};
use crate::browser::Browser;
use crate::samples::sample;
use crate::world::Fixture;
use crate::{Answer, Client, World};
use std::collections::HashMap;
use traybook_domain::Kind;
use traybook_domain::people::authz::Role;
use traybook_http::ops::{self, Body, Op};
use uuid::Uuid;

/// An id that nothing has.
const UNKNOWN: &str = "01960000-0000-7000-8000-0000000000ff";

/// What was compared.
#[derive(Debug, Default)]
pub struct Found {
    /// Operation, role, direction: with an id of the other co-operative in the address.
    pub addresses: u64,
    /// The same in a filter.
    pub filters: u64,
    /// Page and id.
    pub pages: u64,
    /// What differs from an unknown id, or shows something.
    pub wrong: Vec<String>,
}

/// One record of each kind in a co-operative, and a calendar address of its farm.
struct Things {
    ids: HashMap<Kind, Uuid>,
    link: String,
}

fn things(w: &World, of: &Fixture, which: &str) -> Things {
    let one = |kind: &Kind| {
        let id = match kind {
            Kind::Cooperative => of.id("cooperative"),
            Kind::Person => of.id("officer"),
            Kind::Farm => of.id("farm"),
            _ => w.make(of, *kind, sample(*kind, of).0),
        };
        (*kind, id)
    };
    let ids = Kind::ALL.iter().map(one).collect();
    let manager = enter(w, &format!("manager.{which}@coop.example"));
    let path = format!("/v1/farms/{}/calendar-links", of.id("farm"));
    let link = manager.send("POST", &path, &[], None).expect(201).json();
    Things { ids, link: link["id"].as_str().expect("an id").to_owned() }
}

/// The kind whose id an address takes.
fn kind_of(op: &Op) -> Option<Kind> {
    let first = op.path.split('/').nth(2)?;
    if first == "spoilage" {
        return Some(Kind::Farm);
    }
    Kind::ALL.iter().copied().find(|kind| kind.spec().path == first)
}

fn call(client: &Client, op: &Op, path: &str) -> Answer {
    let body = match op.body {
        Body::None => None,
        // What is asked for besides the id is given.
        Body::Json(..) if op.id == "erase_member" => {
            Some(("application/json", b"{\"member_number\":\"x\",\"reason\":\"x\"}".to_vec()))
        }
        Body::Json(..) | Body::Record(_) => Some(("application/json", b"{}".to_vec())),
        Body::Picture => Some(("image/png", vec![1])),
    };
    let headers: &[(&str, &str)] = if op.if_match { &[("if-match", "\"1\"")] } else { &[] };
    client.send(op.method.text(), path, headers, body)
}

/// An answer without what differs from request to request.
fn bare(answer: &Answer, id: &str) -> String {
    let mut json = answer.json();
    if let Some(map) = json.as_object_mut() {
        for changing in ["request_id", "instance", "as_of"] {
            map.remove(changing);
        }
    }
    format!("{} {}", answer.status, json.to_string().replace(id, "ID"))
}

/// Compares everything, in both directions.
pub fn run(w: &World, marks: &Marks) -> Found {
    let mut found = Found::default();
    let (a, b) = (things(w, &w.a, "a"), things(w, &w.b, "b"));
    for (own, other, of, is_marked) in [("a", &b, &w.b, true), ("b", &a, &w.a, false)] {
        let client = |role: Role| enter(w, &format!("{}.{own}@coop.example", role.text()));
        let clients: Vec<(Role, Client)> =
            Role::ALL.into_iter().map(|role| (role, client(role))).collect();
        for op in ops::all().iter().filter(|op| op.signed_in && op.id != "sign_out") {
            for (_, client) in clients.iter().filter(|(role, _)| op.roles.contains(role)) {
                by_address(client, op, other, &mut found);
                by_filter(client, op, of, is_marked.then_some(marks), &mut found);
            }
        }
    }
    found
}

fn by_address(client: &Client, op: &Op, other: &Things, found: &mut Found) {
    let Some(kind) = kind_of(op).filter(|_| op.path.contains("{id}")) else { return };
    let id = other.ids[&kind].to_string();
    let needed = op.query.iter().filter(|(name, _, is_needed)| *is_needed && *name == "month");
    let query = needed.map(|(name, ..)| format!("?{name}=2026-02")).collect::<String>();
    let address = format!("{}{query}", op.path);
    let path = |id: &str| address.replace("{id}", id).replace("{link_id}", &other.link);
    let (theirs, unknown) = (call(client, op, &path(&id)), call(client, op, &path(UNKNOWN)));
    found.addresses += 1;
    let same = bare(&theirs, &id) == bare(&unknown, UNKNOWN);
    if theirs.status != 404 || !same {
        let (theirs, unknown) = (bare(&theirs, &id), bare(&unknown, UNKNOWN));
        found.wrong.push(format!("{}: {theirs} where an unknown id gets {unknown}", op.id));
    }
}

/// Filters of lists and reports by farm, area, member and so on.
fn by_filter(client: &Client, op: &Op, of: &Fixture, marks: Option<&Marks>, found: &mut Found) {
    let filters = op.query.iter().filter(|param| param.0.ends_with("_id"));
    for param in filters.filter(|_| op.method.text() == "GET" && !op.path.contains('{')) {
        let name = param.0.trim_end_matches("_id");
        let Some(id) = of.ids.get(name).map(ToString::to_string) else { continue };
        let path = |id: &str| format!("{}?{}={id}", op.path, param.0);
        let (theirs, unknown) = (call(client, op, &path(&id)), call(client, op, &path(UNKNOWN)));
        found.filters += 1;
        if bare(&theirs, &id) != bare(&unknown, UNKNOWN) {
            let (theirs, unknown) = (bare(&theirs, &id), bare(&unknown, UNKNOWN));
            found.wrong.push(format!("{} by {}: {theirs}, unknown {unknown}", op.id, param.0));
        }
        let seen = marks.and_then(|marks| marks.seen(&path(&id), &theirs.text));
        found.wrong.extend(seen.map(|mark| format!("{} shows {mark}", op.id)));
    }
}

/// Addresses of pages that take something, from their table.
fn addresses() -> Vec<String> {
    let file = format!("{}/../server/http/src/web/routes.rs", env!("CARGO_MANIFEST_DIR"));
    let table = std::fs::read_to_string(file).expect("the table of pages");
    let all = table.split("page!(\"").skip(1).filter_map(|rest| rest.split_once(';'));
    let shown = all.filter(|(page, _)| page.contains("get =>"));
    let paths = shown.filter_map(|(page, _)| page.split('"').next());
    paths.filter(|path| path.contains('{')).map(str::to_owned).collect()
}

/// An address with one id in each of its places.
fn filled(address: &str, id: &str) -> String {
    let part = |part: &str| if part.starts_with('{') { id.to_owned() } else { part.to_owned() };
    address.split('/').map(part).collect::<Vec<_>>().join("/")
}

/// Asks for every page with every id of the second co-operative, as a manager of the first.
pub fn pages(w: &World, marks: &Marks, found: &mut Found) {
    let mut browser = Browser::sign_in(w, "manager");
    for address in addresses() {
        let unknown = browser.get(&filled(&address, UNKNOWN)).status;
        for id in marks.ids() {
            let path = filled(&address, id);
            let answer = browser.get(&path);
            found.pages += 1;
            if answer.status != unknown {
                let status = answer.status;
                found.wrong.push(format!("{path}: {status} where an unknown id gets {unknown}"));
            }
            let seen = marks.seen(&path, &answer.text);
            found.wrong.extend(seen.map(|mark| format!("{path} shows {mark}")));
        }
    }
}
