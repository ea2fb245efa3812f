//! A damaged, empty or foreign file is said to be what it is, and never made new.

use acceptance::world::{app_on, folder};
use acceptance::{Db, World};
use flate2::read::GzDecoder;
use serde_json::json;
use std::io::Read as _;
use std::path::{Path, PathBuf};
use traybook_domain::limits::COPIES_BEFORE_MAX;
use traybook_storage::{Store, StoreConfig, StoreError};

fn file_of(db: &Db) -> PathBuf {
    PathBuf::from(db.url.strip_prefix("sqlite:").expect("a file"))
}

fn open(file: &Path) -> Result<Store, StoreError> {
    Store::open(&StoreConfig::new(format!("sqlite:{}", file.display()), 1))
}

#[test]
fn an_empty_or_foreign_file_is_never_made_new() {
    let place = folder();
    let foreign = place.join("foreign.sqlite");
    let conn = rusqlite::Connection::open(&foreign).expect("a file");
    conn.execute_batch("CREATE TABLE songs (name TEXT); INSERT INTO songs VALUES ('a')")
        .expect("written");
    drop(conn);
    std::fs::write(place.join("empty.sqlite"), "").expect("written");
    std::fs::write(place.join("letter.sqlite"), "Dear members, the store is closed on Monday.")
        .expect("written");
    std::fs::write(place.join("short.sqlite"), "SQLite").expect("written");
    for (name, why) in [
        ("empty.sqlite", "is empty (0 bytes)"),
        ("letter.sqlite", "is no database of this program"),
        ("short.sqlite", "is no database of this program"),
        ("foreign.sqlite", "is a database of another program"),
    ] {
        let file = place.join(name);
        let before = std::fs::read(&file).expect("a file");
        let Err(StoreError::Config(text)) = open(&file) else { panic!("{name} is refused") };
        for part in [why, "traybook restore", "move the file away"] {
            assert!(text.contains(part), "{name}: {text}");
        }
        assert_eq!(std::fs::read(&file).expect("a file"), before, "{name} is as it was");
    }
    // One that is not there is begun.
    open(&place.join("new.sqlite")).expect("opened");
    std::fs::remove_dir_all(place).ok();
}

/// Writes over the first page of a table, as a bad disk does.
fn spoil(file: &Path, table: &str) {
    let conn = rusqlite::Connection::open(file).expect("a file");
    let sql = "SELECT rootpage FROM sqlite_schema WHERE name = ?1";
    let page: i64 = conn.query_row(sql, [table], |row| row.get(0)).expect("a table");
    let size: i64 = conn.query_row("PRAGMA page_size", [], |row| row.get(0)).expect("a size");
    conn.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(())).expect("one file");
    drop(conn);
    let mut bytes = std::fs::read(file).expect("a file");
    let from = usize::try_from((page - 1) * size).expect("small");
    bytes[from..from + usize::try_from(size).expect("small")].fill(0xA5);
    std::fs::write(file, bytes).expect("written");
}

#[test]
fn a_damaged_page_is_found_and_the_server_is_not_ready() {
    let w = World::start(Db::sqlite());
    assert_eq!(w.wait(w.app.look_for_damage()).expect("read"), None);
    let milk = json!({ "animal_group_id": w.a.id("cows"), "date": "2026-02-01", "session": "day",
        "litres": 5, "animals_in_milk": 1 });
    w.sign_in("manager").post("/v1/milk-records", &milk).expect(201);
    let other = Db::sqlite();
    let copy = w.app.store.copy_to(file_of(&other).with_extension("copy"), None);
    w.wait(copy).expect("copied");
    std::fs::rename(file_of(&other).with_extension("copy"), file_of(&other)).expect("moved");
    spoil(&file_of(&other), "milk_records");
    let w = w.lost_for(other);
    // What does not touch the page is served still; what does says what to do.
    let manager = w.sign_in("manager");
    w.nobody.get("/health/ready").expect(200);
    let met = manager.get("/v1/milk-records").expect(503);
    assert_eq!((met.json()["code"].as_str(), met.header("retry-after")), (Some("damaged"), None));
    let detail = met.json()["detail"].as_str().unwrap_or_default().to_owned();
    assert!(detail.contains("restore the last backup") && !detail.contains("nothing was lost"));
    let ready = w.nobody.get("/health/ready").expect(503);
    assert_eq!(ready.json()["code"], "damaged");
    w.nobody.get("/health/live").expect(200);
    // The look finds it by itself.
    w.app.keeping.note_damage(None);
    w.nobody.get("/health/ready").expect(200);
    assert!(w.wait(w.app.look_for_damage()).expect("read").is_some());
    w.nobody.get("/health/ready").expect(503);
    let metrics = w.nobody.get("/metrics").expect(200).text;
    assert!(metrics.contains("traybook_database_damaged 1"), "{metrics}");
    // No backup is made of it.
    let place = folder();
    let how = traybook_app::copies::Backups {
        folder: place.clone(),
        private: place.join("private"),
        recipient: None,
        keep_days: None,
    };
    assert!(w.wait(w.app.backup(&how)).is_err());
    assert_eq!(std::fs::read_dir(&place).expect("a folder").count(), 0);
    std::fs::remove_dir_all(place).ok();
    // A page says it too.
    let mut browser = acceptance::browser::Browser::sign_in(&w, "member");
    let page = browser.get("/output");
    assert!(page.status == 503 && page.text.contains("restore the last backup"), "{}", page.text);
}

#[test]
fn a_copy_is_kept_before_the_tables_are_changed() {
    let place = folder();
    let file = place.join("old.sqlite");
    let mut bytes = Vec::new();
    let packed = std::fs::read("upgrade/first.sqlite.gz").expect("a database of the first program");
    GzDecoder::new(packed.as_slice()).read_to_end(&mut bytes).expect("unpacked");
    std::fs::write(&file, bytes).expect("written");
    for old in 1..=COPIES_BEFORE_MAX {
        std::fs::write(place.join(format!("old.sqlite.before-000{old}")), "x").expect("written");
    }
    let names = || {
        let files = std::fs::read_dir(&place).expect("a folder");
        let names = files.map(|f| f.expect("a file").file_name().to_string_lossy().into_owned());
        let mut names: Vec<String> = names.filter(|name| name.contains(".before-")).collect();
        names.sort();
        names
    };
    open(&file).expect("opened");
    let kept = names();
    assert_eq!(kept.len(), COPIES_BEFORE_MAX, "the number is bounded: {kept:?}");
    let copy = place.join(kept.last().expect("copies"));
    let conn = rusqlite::Connection::open(&copy).expect("a file");
    let count = |sql: &str| conn.query_row(sql, [], |row| row.get::<_, i64>(0)).expect("a count");
    let sql = "SELECT COUNT(*) FROM sqlite_schema WHERE name = 'record_epoch'";
    assert_eq!(count(sql), 0, "it is as it was before");
    assert!(count("SELECT COUNT(*) FROM changes") > 0, "it holds the records");
    // Nothing to change: nothing more is kept.
    open(&file).expect("opened");
    assert_eq!(names(), kept);
    // A new database has nothing to keep.
    let (app, _) = app_on(&Db::at(&format!("sqlite:{}", place.join("new.sqlite").display())));
    drop(app);
    assert_eq!(names(), kept);
    std::fs::remove_dir_all(place).ok();
}
