//! How the server is, as its operator sees it: by the interface and on the page.

use acceptance::browser::Browser;
use acceptance::world::folder;
use acceptance::{World, both};
use serde_json::{Value as Json, json};
use std::path::Path;
use std::process::Command;
use traybook_app::copies::{Backups, Schedule};
use traybook_domain::time::Clock as _;
use traybook_domain::value::Instant;

both!(
    the_operator_sees_how_the_server_is,
    the_operator_sees_that_a_backup_fails_and_grows_old,
    nobody_else_sees_it,
);

fn state(w: &World) -> Json {
    w.sign_in("operator").get("/v1/server").expect(200).json()
}

fn worries(w: &World) -> Vec<String> {
    let state = state(w);
    let all = state["worries"].as_array().expect("worries").iter();
    all.map(|w| w.as_str().expect("a word").to_owned()).collect()
}

fn page(w: &World) -> String {
    Browser::sign_in(w, "operator").get("/server").expect(200).text
}

/// The last change of the tables in the folder of this repository.
fn last_change(w: &World) -> String {
    let of = if w.db.is_sqlite() { "sqlite" } else { "postgres" };
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../migrations").join(of);
    let names = std::fs::read_dir(folder).expect("migrations").map(|e| e.expect("one").file_name());
    let last = names.max().expect("one").to_string_lossy().into_owned();
    last.split('_').next().expect("a number").to_owned()
}

/// Size of the disk of a folder by another program (POSIX `df -P -k`).
fn size_by_df(folder: &Path) -> i64 {
    let out = Command::new("df").args(["-P", "-k"]).arg(folder).output().expect("df");
    let text = String::from_utf8_lossy(&out.stdout).into_owned();
    let cell = text.lines().nth(1).and_then(|l| l.split_whitespace().nth(1)).expect("a size");
    cell.parse::<i64>().expect("a number") * 1024
}

fn the_operator_sees_how_the_server_is(w: World) {
    let place = folder();
    let schedule = Schedule { folder: place.clone(), hours: 24 };
    w.app.keeping.note_start(w.clock.now(), Some(schedule));
    w.wait(w.app.look_for_damage()).expect("looked");
    let state = state(&w);
    let (database, disks) = (&state["database"], state["disks"].as_array().expect("disks"));
    assert_eq!(state["version"], env!("CARGO_PKG_VERSION"));
    assert_eq!(state["started_at"], "2026-03-20T09:00:00.000Z");
    assert!(state["memory_bytes"].as_i64().is_some_and(|b| b > 1_000_000), "{state}");
    assert_eq!(state["figures_failed"], 0);
    assert_eq!(database["tables"].as_str(), Some(&*last_change(&w)));
    assert!(database["bytes"].as_i64().is_some_and(|b| b > 100_000), "{state}");
    let version = database["version"].as_str().expect("a version");
    if w.db.is_sqlite() {
        assert_eq!((&database["kind"], version), (&json!("sqlite"), rusqlite::version()));
        assert_eq!(database["looked_at"], "2026-03-20T09:00:00.000Z");
    } else {
        assert_eq!(database["kind"], "postgresql");
        assert!(version.starts_with(|c: char| c.is_ascii_digit()), "{version}");
        assert!(database.get("looked_at").is_none());
    }
    // The disk of PostgreSQL is elsewhere.
    let holds: Vec<_> = disks.iter().map(|d| d["holds"].as_str().expect("a word")).collect();
    assert_eq!(holds, if w.db.is_sqlite() { vec!["records", "backups"] } else { vec!["backups"] });
    for disk in disks {
        let number = |name: &str| disk[name].as_i64().expect("bytes");
        assert_eq!(number("bytes"), size_by_df(&place), "{disk}");
        assert!((0..=number("bytes")).contains(&number("free_bytes")), "{disk}");
        assert!(number("needed_bytes") >= 2 * database["bytes"].as_i64().expect("bytes"));
    }
    let page = page(&w);
    for part in [version, env!("CARGO_PKG_VERSION"), "Backups", "every 24 hours", "Runs since"] {
        assert!(page.contains(part), "{part}: {page}");
    }
    std::fs::remove_dir_all(place).ok();
}

fn the_operator_sees_that_a_backup_fails_and_grows_old(w: World) {
    let place = folder();
    w.app.keeping.note_start(w.clock.now(), None);
    assert_eq!(worries(&w), ["backup_none"]);
    assert!(page(&w).contains("This server makes no backups."));
    let schedule = Schedule { folder: place.clone(), hours: 24 };
    w.app.keeping.note_start(w.clock.now(), Some(schedule));
    assert_eq!(worries(&w), Vec::<String>::new());
    assert!(page(&w).contains("Nothing needs you now."));
    // A file stands where the folder should be: as a disk that is not there.
    let gone = place.join("gone");
    std::fs::write(&gone, "").expect("written");
    let into = |folder: &Path| Backups {
        folder: folder.to_owned(),
        private: folder.join("private"),
        recipient: None,
        keep_days: None,
    };
    w.wait(w.app.backup(&into(&gone))).expect_err("no folder");
    assert_eq!(worries(&w), ["backup_failed"]);
    assert!(page(&w).contains("The last backup could not be made."));
    w.wait(w.app.backup(&into(&place))).expect("a backup");
    let now = state(&w);
    assert_eq!(now["backups"]["last_at"], "2026-03-20T09:00:00.000Z");
    assert_eq!(now["worries"], json!([]));
    w.clock.set(Instant(w.clock.now().0 + 48 * 3_600_000 + 1));
    assert_eq!(worries(&w), ["backup_old"]);
    assert!(page(&w).contains("The last backup is older than 48 hours."));
    // What was found wrong comes first.
    w.app.keeping.note_damage(Some("a page is torn".to_owned()));
    assert_eq!(worries(&w), ["damaged", "backup_old"]);
    let page = page(&w);
    let at = |part: &str| page.find(part).expect(part);
    assert!(at("The database is damaged.") < at("The last backup is older"), "{page}");
    assert!(page.contains("a page is torn"), "{page}");
    std::fs::remove_dir_all(place).ok();
}

fn nobody_else_sees_it(w: World) {
    w.nobody.get("/v1/server").expect(401);
    for who in ["manager", "officer", "member", "programme_reader"] {
        w.sign_in(who).get("/v1/server").expect(403);
        assert_eq!(Browser::sign_in(&w, who).get("/server").status, 403, "{who}");
    }
}
