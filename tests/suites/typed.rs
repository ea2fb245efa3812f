//! What use cases answer has a type, and the document says its shape.

use serde_json::Value as Json;
use std::path::{Path, PathBuf};

/// Use cases that answer JSON, with the reason; this list only gets shorter.
const UNTYPED: &[(&str, &str)] = &[
    ("body_json", "records of any kind, made into JSON"),
    ("one", "the same, with what follows from other records"),
    ("many", "the same"),
];

/// Objects of the document that say nothing of their members, with the reason.
const BARE: &[(&str, &str)] = &[
    ("/components/schemas/AnyRecord", "the record of any kind"),
    (
        "/components/schemas/SyncMutation/properties/body",
        "a record to make, or a patch, of any kind",
    ),
];

/// Functions of the store that read rows without `columns!`, with the reason.
const UNNAMED: &[(&str, usize, &str)] = &[
    (
        "people/accounts.rs",
        1,
        "`signed_in`: records of two kinds, with the columns that these declare",
    ),
    ("copies/mod.rs", 2, "`each_page`: any table, with the columns that the database names"),
    (
        "planning/planning_rows.rs",
        1,
        "`settings`: a record of any kind, with the columns that it declares",
    ),
    ("records/sums.rs", 1, "`dump`: six tables that differ in their columns"),
];

fn sources(folder: &Path, all: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            sources(&path, all);
        } else if path.extension().is_some_and(|e| e == "rs") {
            all.push(path);
        }
    }
}

/// Names of public functions of a source whose answer is JSON.
fn untyped(source: &str) -> Vec<String> {
    let source = source.split("#[cfg(test)]").next().unwrap_or_default();
    let mut found = Vec::new();
    for part in source.split("pub ").skip(1) {
        let part = part.strip_prefix("async ").unwrap_or(part);
        let Some(rest) = part.strip_prefix("fn ") else { continue };
        let signature = rest.split('{').next().unwrap_or_default();
        let name = signature.split(['(', '<']).next().unwrap_or_default();
        let answer = signature.rsplit_once("->").map_or("", |(_, answer)| answer);
        let is_word = |c: char| c.is_alphanumeric() || c == '_' || c == ':';
        let mut words = answer.split(|c| !is_word(c));
        if words.any(|w| matches!(w, "Json" | "Value" | "serde_json::Value")) {
            found.push(name.to_owned());
        }
    }
    found
}

#[test]
fn use_cases_answer_structs() {
    let mut files = Vec::new();
    sources(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../server/app/src"), &mut files);
    let mut found: Vec<String> = Vec::new();
    for file in &files {
        found.extend(untyped(&std::fs::read_to_string(file).expect("a source")));
    }
    found.sort();
    found.dedup();
    let mut allowed: Vec<&str> = UNTYPED.iter().map(|(name, _)| *name).collect();
    allowed.sort_unstable();
    assert_eq!(found, allowed, "answer a struct of traybook-answers");
    let told = "pub async fn told(&self) -> Result<Vec<Json>, AppError> {";
    assert_eq!(untyped(told), ["told"], "it would be found");
}

/// What a source of the store reads by position or may leave out, and how many queries of it have
/// no named columns.
fn unnamed(source: &str) -> (Vec<&str>, usize) {
    let is_by_position = |line: &str| {
        let mut gets = line.split(".get(").skip(1);
        line.contains(".first()") || gets.any(|at| at.starts_with(|c: char| c.is_ascii_digit()))
    };
    let lines = source.lines().map(str::trim);
    let wrong = lines.filter(|l| is_by_position(l) || l.contains("filter_map")).collect();
    (wrong, source.matches("conn.rows(").count() + source.matches("conn.row(").count())
}

#[test]
fn queries_name_their_columns() {
    let mut files = Vec::new();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../server/storage/src");
    sources(&folder, &mut files);
    let mut found = Vec::new();
    for file in &files {
        let name = file.strip_prefix(&folder).expect("inside").to_string_lossy().into_owned();
        // Their statements are made of the kinds' declarations.
        if ["conn.rs", "records/mod.rs", "records/visible.rs"].contains(&name.as_str()) {
            continue;
        }
        let source = std::fs::read_to_string(file).expect("a source");
        let (wrong, queries) = unnamed(&source);
        assert_eq!(wrong, Vec::<&str>::new(), "{name}: read rows with `columns!`");
        if queries > 0 {
            found.push((name, queries));
        }
    }
    found.sort();
    let mut allowed: Vec<_> = UNNAMED.iter().map(|(name, n, _)| ((*name).to_owned(), *n)).collect();
    allowed.sort();
    assert_eq!(found, allowed, "read rows with `columns!`, or say the reason here");
    for wrong in ["row.get(3)?.as_int()", "r.first()?", "rows.iter().filter_map(one)"] {
        assert_eq!(unnamed(wrong).0, [wrong], "it would be found");
    }
    assert_eq!(unnamed("conn.rows(sql, &[], &types)").1, 1, "it would be found");
}

/// Whether a schema is an object of which nothing is said.
fn is_bare(schema: &Json) -> bool {
    let is_object = match &schema["type"] {
        Json::String(text) => text == "object",
        Json::Array(types) => types.iter().any(|t| t == "object"),
        _ => false,
    };
    is_object && ["properties", "additionalProperties"].iter().all(|m| schema.get(m).is_none())
}

fn bare(schema: &Json, at: &str, found: &mut Vec<String>) {
    if is_bare(schema) {
        found.push(at.to_owned());
    }
    match schema {
        Json::Object(map) => map.iter().for_each(|(k, v)| bare(v, &format!("{at}/{k}"), found)),
        Json::Array(list) => list.iter().for_each(|v| bare(v, at, found)),
        _ => {}
    }
}

#[test]
fn the_document_says_what_objects_hold() {
    let text = traybook_http::openapi::text().expect("a sound document");
    let document: Json = serde_json::from_str(&text).expect("JSON");
    let mut found = Vec::new();
    bare(&document, "", &mut found);
    let allowed: Vec<&str> = BARE.iter().map(|(at, _)| *at).collect();
    assert_eq!(found, allowed, "say the members, or the reason here");
}

#[test]
fn the_document_names_numbers_by_their_value() {
    let text = traybook_http::openapi::text().expect("a sound document");
    let is_name = |t: &str| !t.is_empty() && t.chars().all(|c| c == '_' || c.is_uppercase());
    let names = text.split('{').skip(1).filter_map(|part| part.split_once('}'));
    let unknown: Vec<&str> = names.map(|(name, _)| name).filter(|name| is_name(name)).collect();
    assert_eq!(unknown, Vec::<&str>::new(), "add it to ops/numbers.rs");
}
