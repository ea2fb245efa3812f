//! The committed description of the interface is what the code serves.

use serde_json::Value as Json;
use std::collections::HashSet;
use std::path::PathBuf;
use traybook_domain::people::authz::policy_text;
use traybook_http::{openapi, ops, problem};

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("..")
}

#[track_caller]
fn same(file: &str, made: &str, how: &str) {
    let stored = std::fs::read_to_string(root().join(file)).unwrap_or_default();
    if stored != made {
        let line = stored.lines().zip(made.lines()).position(|(a, b)| a != b);
        panic!("{file} differs from the code (line {line:?}); read the change, then: {how}");
    }
}

#[test]
fn committed_document_equals_the_code() {
    let made = openapi::text().expect("a sound document");
    same("openapi/openapi.json", &made, "cargo run -- openapi > openapi/openapi.json");
    let how = "cargo run -- openapi --part routes > openapi/routes.txt";
    same("openapi/routes.txt", &openapi::routes_text(), how);
    let how = "cargo run -- openapi --part problems > openapi/problems.md";
    same("openapi/problems.md", &problem::problems_text(), how);
}

#[test]
fn policy_equals_the_expected_table() {
    let how = "cargo run -- openapi --part policy > tests/suites/expected/policy.txt";
    same("tests/suites/expected/policy.txt", &policy_text(), how);
}

#[test]
fn operation_ids_and_addresses_are_unique() {
    let (mut ids, mut addresses) = (HashSet::new(), HashSet::new());
    for op in ops::all() {
        assert!(ids.insert(op.id.clone()), "{} stands twice", op.id);
        assert!(addresses.insert((op.method.text(), op.path.clone())), "{} {}", op.id, op.path);
    }
}

#[test]
fn problem_codes_are_unique() {
    let codes: HashSet<&str> = problem::Code::ALL.iter().map(|c| c.text()).collect();
    assert_eq!(codes.len(), problem::Code::ALL.len());
}

/// JSON Reference: what is referred to stands in the document.
#[test]
fn every_reference_leads_somewhere() {
    fn refs<'a>(of: &'a Json, found: &mut Vec<&'a str>) {
        match of {
            Json::Object(map) => {
                found.extend(map.get("$ref").and_then(Json::as_str));
                map.values().for_each(|v| refs(v, found));
            }
            Json::Array(all) => all.iter().for_each(|v| refs(v, found)),
            _ => {}
        }
    }
    let document: Json =
        serde_json::from_str(&openapi::text().expect("a sound document")).expect("JSON");
    let mut found = Vec::new();
    refs(&document, &mut found);
    assert!(found.len() > 100, "references are looked at");
    for to in found {
        let pointer = to.strip_prefix('#').expect("within the document");
        assert!(document.pointer(pointer).is_some(), "{to} leads nowhere");
    }
}
