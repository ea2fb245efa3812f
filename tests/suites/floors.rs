//! Dependencies point down only, and the pure floors stay pure.

use serde_json::Value as Json;
use std::collections::{HashMap, HashSet};
use std::process::Command;

fn metadata() -> Json {
    let cargo = acceptance::world::env("CARGO").unwrap_or_else(|| "cargo".to_owned());
    // Only what is built here has been fetched.
    let about = Command::new("rustc").arg("-vV").output().expect("rustc");
    let about = String::from_utf8_lossy(&about.stdout).into_owned();
    let host = about.lines().find_map(|l| l.strip_prefix("host: ")).expect("a host").to_owned();
    let out = Command::new(cargo)
        .args(["metadata", "--format-version", "1", "--offline", "--locked"])
        .args(["--filter-platform", &host])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("cargo metadata");
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    serde_json::from_slice(&out.stdout).expect("JSON")
}

/// What each package needs. Ours go by name, others by name and version: two versions of one
/// package have dependencies of their own.
fn edges(metadata: &Json) -> HashMap<String, Vec<String>> {
    let packages = metadata["packages"].as_array().expect("packages").iter();
    let text = |p: &Json, member: &str| p[member].as_str().expect("text").to_owned();
    let label = |p: &Json| {
        let name = text(p, "name");
        if name.starts_with("traybook") { name } else { format!("{name} {}", text(p, "version")) }
    };
    let labels: HashMap<String, String> = packages.map(|p| (text(p, "id"), label(p))).collect();
    let name = |id: &str| labels.get(id).expect("package").clone();
    let nodes = metadata["resolve"]["nodes"].as_array().expect("nodes");
    nodes
        .iter()
        .map(|n| {
            let deps = n["deps"].as_array().expect("deps").iter();
            let normal = deps.filter(|d| {
                d["dep_kinds"].as_array().expect("kinds").iter().any(|k| k["kind"].is_null())
            });
            let deps = normal.map(|d| name(d["pkg"].as_str().expect("pkg"))).collect();
            (name(n["id"].as_str().expect("id")), deps)
        })
        .collect()
}

fn below(edges: &HashMap<String, Vec<String>>, of: &str) -> HashSet<String> {
    let (mut seen, mut next) = (HashSet::new(), vec![of.to_owned()]);
    while let Some(name) = next.pop() {
        for dep in edges.get(&name).into_iter().flatten() {
            if seen.insert(dep.clone()) {
                next.push(dep.clone());
            }
        }
    }
    seen
}

#[test]
fn floors_depend_downwards_only() {
    let edges = edges(&metadata());
    let allowed: &[(&str, &[&str])] = &[
        ("traybook-domain", &[]),
        ("traybook-analytics", &["traybook-domain"]),
        ("traybook-planning", &["traybook-domain"]),
        ("traybook-rations", &["traybook-domain"]),
        ("traybook-answers", &["traybook-domain"]),
        ("traybook-speech", &[]),
        ("traybook-sheets", &["traybook-domain", "traybook-speech"]),
        ("traybook-texts", &["traybook-domain", "traybook-planning", "traybook-speech"]),
        (
            "traybook-reports",
            &["traybook-domain", "traybook-answers", "traybook-analytics", "traybook-speech"],
        ),
        ("traybook-storage", &["traybook-domain"]),
        (
            "traybook-app",
            &[
                "traybook-domain",
                "traybook-answers",
                "traybook-analytics",
                "traybook-planning",
                "traybook-rations",
                "traybook-sheets",
                "traybook-speech",
                "traybook-texts",
                "traybook-reports",
                "traybook-storage",
            ],
        ),
        (
            "traybook-http",
            &[
                "traybook-domain",
                "traybook-answers",
                "traybook-sheets",
                "traybook-speech",
                "traybook-reports",
                "traybook-app",
            ],
        ),
    ];
    for (name, may) in allowed {
        let ours = edges[*name].iter().filter(|d| d.starts_with("traybook"));
        for dep in ours {
            assert!(may.contains(&dep.as_str()), "{name} must not depend on {dep}");
        }
    }
}

/// What a package needs where it is built alone: in the whole workspace other packages switch more
/// features of it on (`uuid` makes random ids for the library of passkeys; `clippy.toml` forbids
/// that to us).
fn alone(name: &str) -> Vec<String> {
    let cargo = acceptance::world::env("CARGO").unwrap_or_else(|| "cargo".to_owned());
    let out = Command::new(cargo)
        .args(["tree", "--offline", "--locked", "--edges", "normal", "--prefix", "none"])
        .args(["--package", name])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("cargo tree");
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8_lossy(&out.stdout).lines().map(str::to_owned).collect()
}

#[test]
fn pure_floors_have_no_database_and_no_server_below_them() {
    let edges = edges(&metadata());
    let pure = "domain answers analytics planning rations sheets speech texts reports";
    let pure: Vec<String> = pure.split(' ').map(|n| format!("traybook-{n}")).collect();
    for name in &pure {
        let deps = alone(name);
        assert!(deps.iter().any(|d| d.starts_with(&format!("{name} "))), "{name} is looked at");
        for banned in ["diesel", "actix-web", "tokio", "getrandom"] {
            let found = deps.iter().any(|d| d.split(' ').next() == Some(banned));
            assert!(!found, "{name} has {banned} below it");
        }
    }
    let app = below(&edges, "traybook-app");
    assert!(!app.iter().any(|d| d.starts_with("actix-web ")));
    // The check sees what is there: the application has randomness below it.
    assert!(app.iter().any(|d| d.starts_with("getrandom ")));
}

/// Folders of the use cases; what one needs of another comes through its `mod.rs`.
const ROOMS: [&str; 8] =
    ["estimates", "people", "planning", "rations", "records", "review", "savings", "seed"];

/// Names of files of other rooms that a source reaches into.
fn reaches(room: &str, text: &str) -> Vec<String> {
    let paths = text.split("crate::").skip(1).filter_map(|rest| {
        let mut parts = rest.split("::");
        let (other, inner) = (parts.next()?, parts.next()?);
        let is_room = ROOMS.contains(&other) && other != room;
        let is_file = inner.starts_with(|c: char| c.is_ascii_lowercase())
            && inner.chars().all(|c| c.is_ascii_alphanumeric() || c == '_')
            && parts.next().is_some();
        (is_room && is_file).then(|| format!("{other}::{inner}"))
    });
    paths.collect()
}

#[test]
fn rooms_are_entered_by_their_door() {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/../server/app/src");
    for room in ROOMS {
        let mut folders = vec![std::path::PathBuf::from(format!("{root}/{room}"))];
        while let Some(folder) = folders.pop() {
            for entry in std::fs::read_dir(&folder).expect("a folder") {
                let path = entry.expect("an entry").path();
                if path.is_dir() {
                    folders.push(path);
                    continue;
                }
                let text = std::fs::read_to_string(&path).expect("a source");
                assert_eq!(reaches(room, &text), Vec::<String>::new(), "{}", path.display());
            }
        }
    }
    let found = reaches("seed", "use crate::records::txn::Txn;\nuse crate::records::Query;");
    assert_eq!(found, ["records::txn"], "it would be found");
}

/// Folders of a floor that are no rooms: declarations of kinds, text messages, trials, copies.
const BESIDE_ROOMS: [&str; 4] = ["copies", "kinds", "texts", "trials"];

#[test]
fn floors_have_the_same_rooms() {
    for floor in ["answers", "app", "domain", "storage"] {
        let root = format!("{}/../server/{floor}/src", env!("CARGO_MANIFEST_DIR"));
        let entries = std::fs::read_dir(&root).expect("a floor").map(|e| e.expect("an entry"));
        let folders = entries.filter(|e| e.path().is_dir()).map(|e| e.file_name());
        let folders: Vec<String> = folders.map(|n| n.to_string_lossy().into_owned()).collect();
        let is_other = |f: &&String| !ROOMS.contains(&f.as_str());
        let other: Vec<&String> = folders.iter().filter(is_other).collect();
        assert!(other.iter().all(|f| BESIDE_ROOMS.contains(&f.as_str())), "{floor}: {other:?}");
        let rooms = folders.len() - other.len();
        assert!(rooms >= 4, "{floor} has {rooms} rooms: its files lie flat");
    }
}

/// Rooms stay small enough to read, and nothing unfinished is left lying about.
#[test]
fn files_are_short_and_finished() {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/..");
    let out = Command::new("git").args(["ls-files", "*.rs"]).current_dir(root).output();
    let out = out.expect("git ls-files");
    let files = String::from_utf8_lossy(&out.stdout).into_owned();
    assert!(files.lines().count() > 50);
    let marks = [["TO", "DO"], ["FIX", "ME"], ["dbg", "!("], ["XX", "X"]].map(|m| m.concat());
    for file in files.lines() {
        let text = std::fs::read_to_string(format!("{root}/{file}")).unwrap_or_default();
        let lines = text.lines().count();
        assert!(lines <= 600, "{file} has {lines} lines: split it");
        for mark in &marks {
            assert!(!text.contains(mark.as_str()), "{file} holds {mark}");
        }
    }
}

/// The program's sources, tests left out.
fn program_files() -> String {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/..");
    let mut git = Command::new("git");
    let out = git.args(["ls-files", "server/*.rs", "seed-demo/*.rs"]).current_dir(root).output();
    String::from_utf8_lossy(&out.expect("git ls-files").stdout).into_owned()
}

/// The functions of a source: name and lines.
fn functions(text: &str) -> Vec<(String, usize)> {
    let text = text.split("#[cfg(test)]").next().unwrap_or_default();
    let lines: Vec<&str> = text.lines().collect();
    let mut found = Vec::new();
    for (at, line) in lines.iter().enumerate() {
        let indent = &line[..line.len() - line.trim_start().len()];
        let before = line.split("fn ").next().unwrap_or_default();
        let is_function = before
            .split_whitespace()
            .all(|w| w.starts_with("pub") || ["const", "async", "extern"].contains(&w));
        let name = line.split("fn ").nth(1).and_then(|rest| rest.split(['(', '<']).next());
        let (true, Some(name)) = (is_function && !line.trim_start().starts_with("//"), name) else {
            continue;
        };
        let end = lines[at..].iter().position(|l| *l == format!("{indent}}}"));
        found.extend(end.map(|end| (name.to_owned(), end + 1)));
    }
    found
}

/// Functions that are longer, with the reason; this list only gets shorter.
const LONG: &[(&str, &str)] = &[
    ("responses", "one arm a form of answer"),
    ("record_ops", "a table of operations"),
    ("session_ops", "a table of operations"),
    ("other_ops", "a table of operations"),
    ("ops", "a table of operations"),
    ("text", "the table of problems, made by a macro"),
    ("status", "the table of problems, made by a macro"),
    ("title", "the table of problems, made by a macro"),
    ("doc", "the table of problems, made by a macro"),
    ("configure", "a table of addresses"),
    ("kept", "a table of tables"),
    ("form", "one field after the other"),
    ("sentence", "one arm a task"),
    ("least", "one step of the simplex after the other"),
    ("batches", "one statement"),
    ("page", "one condition after the other"),
];

#[test]
fn functions_are_short() {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/..");
    let files = program_files();
    let sources = files.lines().filter(|f| f.contains("/src/"));
    for file in sources {
        let text = std::fs::read_to_string(format!("{root}/{file}")).unwrap_or_default();
        let known = |name: &str| LONG.iter().any(|(long, _)| *long == name);
        for (name, lines) in functions(&text).into_iter().filter(|(name, _)| !known(name)) {
            assert!(lines <= 70, "{file}: {name} has {lines} lines: split it");
        }
    }
    let long = format!(
        "impl X {{\n    pub fn long(&self) {{\n{}    }}\n}}\n",
        "        x();\n".repeat(80)
    );
    assert_eq!(functions(&long), [("long".to_owned(), 82)], "it would be found");
}

/// Names that say nothing, or the wrong thing.
const NAMES: &[&str] = &[
    "fn told(",
    "enum Told",
    "struct Told",
    "fn helper",
    "mod utils",
    "mod helpers",
    "mod common",
    "by_farm(",
];

#[test]
fn names_say_what_is_done() {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/..");
    let files = program_files();
    assert!(files.lines().count() > 50);
    for file in files.lines().filter(|f| f.contains("/src/")) {
        let text = std::fs::read_to_string(format!("{root}/{file}")).unwrap_or_default();
        for name in NAMES {
            assert!(!text.contains(name), "{file} holds `{name}`");
        }
    }
}
