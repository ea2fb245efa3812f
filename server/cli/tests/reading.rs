//! Commands that read: which database they find, and that they make none.

#![expect(clippy::expect_used, reason = "a test stops at the first thing that is not there")]

mod place;

use place::{Place, said};
use std::process::Output;

/// Commands that read, in their shortest form.
const READING: [&[&str]; 6] = [
    &["report"],
    &["work"],
    &["seed", "account"],
    &["trial", "show"],
    &["check"],
    &["export", "out"],
];

fn error(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

#[test]
fn a_reading_command_makes_no_database() {
    let place = Place::new("none");
    for command in READING {
        let done = place.run(command);
        assert_eq!(done.status.code(), Some(2), "{command:?}");
        for part in ["there is no database in", "--data", "traybook found", "traybook demo"] {
            assert!(error(&done).contains(part), "{command:?} {part}: {}", error(&done));
        }
        let named = place.run(&[&["--database-url", "sqlite:mine.sqlite"], command].concat());
        assert_eq!(named.status.code(), Some(2), "{command:?}");
        assert!(error(&named).contains("there is no database mine.sqlite"), "{}", error(&named));
    }
    let left = std::fs::read_dir(&place.0).expect("the folder").count();
    assert_eq!(left, 0, "nothing was made");
}

#[test]
fn a_reading_command_finds_the_only_demo() {
    let place = Place::new("demo");
    std::fs::create_dir(place.0.join("data")).expect("a folder");
    place.found(&["--database-url", "sqlite:data/demo-small-1.sqlite"]);
    // A demo that was not finished has no note.
    assert_eq!(place.run(&["report"]).status.code(), Some(2));
    place.write("data/demo-small-1.json", "{}");
    for command in READING {
        let done = place.run(command);
        assert!(done.status.success(), "{command:?}: {}", error(&done));
    }
    let table = said(&place.run(&["report", "--month", "2026-01"]));
    assert!(table.starts_with("Mfano: savings of January 2026 · TZS"), "{table}");
    let table = said(&place.run(&["report", "--month", "2026-01", "--language", "sw"]));
    assert!(table.starts_with("Mfano: akiba ya Januari 2026 · TZS"), "{table}");
    for word in ["Mwanachama", "Chama", "mashamba 0: 0 yameokoa", "Uhakika haujulikani"] {
        assert!(table.contains(word), "{word}: {table}");
    }
    place.found(&["--database-url", "sqlite:data/demo-small-2.sqlite"]);
    place.write("data/demo-small-2.json", "{}");
    let several = place.run(&["report"]);
    assert_eq!(several.status.code(), Some(2));
    for part in ["several demos", "demo-small-1.sqlite", "--database-url sqlite:"] {
        assert!(error(&several).contains(part), "{part}: {}", error(&several));
    }
    // A co-operative's own database goes before demos.
    place.found(&[]);
    assert!(place.run(&["report"]).status.success());
}
