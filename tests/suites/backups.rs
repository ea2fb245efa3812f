//! Backups, restoring them, and moving to the other database.

use acceptance::world::{app_on_url, folder};
use acceptance::{Client, Db, World, both};
use age::secrecy::ExposeSecret as _;
use serde_json::{Value as Json, json};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use traybook_app::copies::{self, Backups, Identity, Recipient, Restored, Scratch};
use traybook_app::{App, AppError};
use traybook_domain::value::Instant;

both!(
    the_disk_is_lost_and_nothing_else,
    a_backup_is_encrypted_and_old_ones_go,
    a_restore_writes_over_nothing,
    a_copy_that_disagrees_is_no_backup,
    a_plain_copy_is_never_beside_an_encrypted_backup,
    a_backup_is_made_when_it_is_due,
    moving_there_and_back_gives_the_same
);

fn into(folder: &Path) -> Backups {
    Backups {
        folder: folder.to_owned(),
        private: folder.join("private"),
        recipient: None,
        keep_days: None,
    }
}

fn open(url: &str) -> Result<App, AppError> {
    Ok(app_on_url(url).0)
}

fn restore(
    w: &World,
    file: &Path,
    identity: Option<&Identity>,
    url: &str,
) -> Result<Restored, AppError> {
    let scratch = beside(url);
    w.wait(copies::restore(&open, file, identity, (&scratch, url)))
}

fn beside(url: &str) -> Scratch {
    let file = url.strip_prefix("sqlite:").map(PathBuf::from);
    Scratch(file.unwrap_or_else(|| folder().join("copy")).with_extension("part"))
}

fn fresh(like: &Db) -> Db {
    if like.is_sqlite() { Db::sqlite() } else { Db::postgres() }
}

fn lose(db: &Db) {
    if let Some(path) = db.url.strip_prefix("sqlite:") {
        for end in ["", "-wal", "-shm"] {
            std::fs::remove_file(format!("{path}{end}")).ok();
        }
        return;
    }
    let sql = "DO $$ BEGIN EXECUTE 'DROP SCHEMA ' || current_schema() || ' CASCADE'; END $$";
    db.connect().batch(sql).expect("dropped");
}

/// What a device has sent and was told that it was taken, in that order.
type Sent = Arc<Mutex<Vec<(String, Json)>>>;

/// A device that sends a milk record at a time until it is stopped.
fn device(client: Client, group: String, first: u32, sent: Sent, stop: Arc<AtomicBool>) {
    // Days enough for a backup that takes minutes on a busy machine: there is a milking each.
    let day = chrono::NaiveDate::from_ymd_opt(2010, 1, 1).expect("a day");
    let mut n = first;
    while !stop.load(Ordering::Relaxed) {
        let date = day.checked_add_days(chrono::Days::new(u64::from(n / 3))).expect("a day");
        let session = ["morning", "midday", "evening"][(n % 3) as usize];
        let id = uuid::Uuid::from_u128(0x0195_0000_0000_7000_8000_0000_0000_0000 + u128::from(n));
        let body = json!({ "animal_group_id": group, "date": date, "session": session,
            "litres": 5, "animals_in_milk": 1 });
        let one = json!({ "operation": "create", "kind": "milk_record", "id": id, "body": body });
        let answer = client.post("/v1/sync", &json!({ "mutations": [one] }));
        if answer.status == 200 && answer.json()["results"][0]["status"] == "done" {
            sent.lock().expect("no panic").push((id.to_string(), one));
        }
        n += 1;
    }
}

fn milk_of(manager: &Client) -> (BTreeSet<String>, String) {
    let (mut ids, mut cursor) = (BTreeSet::new(), None::<String>);
    loop {
        let after = cursor.map(|c| format!("&after={c}")).unwrap_or_default();
        let page = manager.get(&format!("/v1/changes?limit=1000{after}")).expect(200).json();
        for item in page["items"].as_array().expect("items") {
            if item["kind"] == "milk_record" {
                assert!(ids.insert(item["id"].as_str().expect("an id").to_owned()));
            }
        }
        let next = page["next"].as_str().expect("a cursor").to_owned();
        if page["has_more"] == false {
            return (ids, next);
        }
        cursor = Some(next);
    }
}

/// The drill: devices write, a backup is made meanwhile, they write on, the disk is lost.
fn the_disk_is_lost_and_nothing_else(w: World) {
    let place = folder();
    let (sent, stop) = (Sent::default(), Arc::new(AtomicBool::new(false)));
    let devices: Vec<_> = (0..3)
        .map(|n| {
            let (client, group) = (w.sign_in("manager"), w.a.id("cows").to_string());
            let (sent, stop) = (Arc::clone(&sent), Arc::clone(&stop));
            std::thread::spawn(move || device(client, group, n * 5_000, sent, stop))
        })
        .collect();
    let until = |count: usize| {
        while sent.lock().expect("no panic").len() < count {
            std::thread::sleep(std::time::Duration::from_millis(5));
        }
    };
    until(60);
    let before: Vec<String> =
        sent.lock().expect("no panic").iter().map(|(id, _)| id.clone()).collect();
    let backup = w.wait(w.app.backup(&into(&place))).expect("a backup");
    let at_end = sent.lock().expect("no panic").len();
    until(at_end + 60);
    stop.store(true, Ordering::Relaxed);
    devices.into_iter().for_each(|device| device.join().expect("no panic"));
    let sent = sent.lock().expect("no panic").clone();
    let manager = w.sign_in("manager");
    let (all, cursor) = milk_of(&manager);
    let records = w.wait(w.app.prove_here()).expect("whole").records;

    lose(&w.db);
    let other = fresh(&w.db);
    let done = restore(&w, &backup.file, None, &other.url).expect("restored");
    assert_eq!((done.of, &done.proof), (Some(backup.at), &backup.proof));
    assert!(done.ended.sessions > 0, "sign-ins of the lost life end");
    let w = w.lost_for(other);
    let manager = w.sign_in("manager");
    // Every record whose taking was said before the backup began is there; later ones are lost.
    let (restored, _) = milk_of(&manager);
    let missing: Vec<_> = before.iter().filter(|id| !restored.contains(*id)).collect();
    assert!(missing.is_empty(), "{missing:?}");
    assert!(restored.len() < all.len(), "the drill lost something");
    // Devices hear it and send again what they hold.
    let problem = manager.get(&format!("/v1/changes?after={cursor}")).expect(410).json();
    assert_eq!(problem["code"], "restored");
    let mutations: Vec<Json> = sent.iter().map(|(_, one)| one.clone()).collect();
    let answer = manager.post("/v1/sync", &json!({ "mutations": mutations })).expect(200).json();
    for result in answer["results"].as_array().expect("results") {
        assert!(["done", "already_done"].contains(&result["status"].as_str().expect("a status")));
    }
    assert_eq!(milk_of(&manager).0, all, "nothing is missing and nothing is there twice");
    assert_eq!(w.wait(w.app.prove_here()).expect("whole").records, records);
    std::fs::remove_dir_all(place).ok();
}

fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).expect("a folder");
    let mut names: Vec<String> =
        entries.map(|e| e.expect("an entry").file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

fn a_backup_is_encrypted_and_old_ones_go(w: World) {
    let place = folder();
    let secret = age::x25519::Identity::generate();
    let recipient = Recipient::parse(&secret.to_public().to_string()).expect("a recipient");
    let how = Backups { recipient: Some(recipient), keep_days: Some(10), ..into(&place) };
    // One that was cut off long ago, and one that has just begun: their names tell the time.
    let cut_off = place.join("traybook-0195000000007000800000000000abcd.part");
    let begun = w.app.new_id().expect("an id");
    let begun = place.join(format!("traybook-{}.packed", begun.simple()));
    std::fs::write(&cut_off, "x").expect("written");
    std::fs::write(&begun, "x").expect("written");
    let backup = || w.wait(w.app.backup(&how)).expect("a backup");
    let mut made = vec![backup()];
    assert!(!cut_off.exists() && begun.exists());
    for _ in 0..5 {
        w.clock.set(Instant(w.app.now().0 + 4 * 86_400_000));
        made.push(backup());
    }
    // Of six, each four days apart, those of the last ten days stay, and three at least.
    assert_eq!(made.iter().map(|m| m.pruned).collect::<Vec<_>>(), [0, 0, 0, 1, 1, 1]);
    assert_eq!(names(&place).iter().filter(|n| n.ends_with(".sqlite.gz.age")).count(), 3);
    assert_eq!(w.app.keeping.last_backup(), made.last().map(|m| m.at));
    // The time is read back from the name after a new start.
    let (again, _) = app_on_url(&Db::sqlite().url);
    again.keeping.look_into(&place).expect("read");
    assert_eq!(again.keeping.last_backup(), w.app.keeping.last_backup());
    let file = &made.last().expect("six").file;
    let bytes = std::fs::read(file).expect("a file");
    assert!(bytes.starts_with(b"age-encryption.org/v1\n"), "as the format's document says");
    // Without the secret, or with another, nothing is restored.
    let to = fresh(&w.db);
    let other = Identity::parse(age::x25519::Identity::generate().to_string().expose_secret());
    for identity in [None, Some(&other.expect("an identity"))] {
        let refused = restore(&w, file, identity, &to.url);
        assert!(matches!(refused, Err(AppError::Conflict { code: "encrypted", .. })));
    }
    let text = format!("# made for a test\n{}\n", secret.to_string().expose_secret());
    let right = Identity::parse(&text).expect("an identity");
    restore(&w, file, Some(&right), &to.url).expect("restored");
    std::fs::remove_dir_all(place).ok();
}

fn a_backup_is_made_when_it_is_due(w: World) {
    const DAY_MS: i64 = 86_400_000;
    let place = folder();
    let how = into(&place);
    let look = |after_ms: i64| {
        w.clock.set(Instant(w.app.now().0 + after_ms));
        w.wait(w.app.backup_when_due(&how, DAY_MS))
    };
    assert!(look(0).expect("tried").is_some(), "where there is none, one is due at once");
    assert!(look(DAY_MS - 1).expect("not tried").is_none());
    assert!(look(1).expect("tried").is_some());
    // The folder is gone and something else stands in its place: the same as a full disk.
    std::fs::remove_dir_all(&place).expect("removed");
    std::fs::write(&place, "x").expect("written");
    assert!(look(DAY_MS).is_err());
    assert!(look(copies::RETRY_MS - 1).expect("not tried").is_none());
    assert!(look(1).is_err());
    std::fs::remove_file(&place).expect("removed");
    assert!(look(copies::RETRY_MS).expect("tried").is_some(), "after a failure it goes on");
    assert!(look(DAY_MS - 1).expect("not tried").is_none());
    std::fs::remove_dir_all(place).ok();
}

fn a_restore_writes_over_nothing(w: World) {
    let place = folder();
    let backup = w.wait(w.app.backup(&into(&place))).expect("a backup");
    // The compressed file is read by another program.
    let gzip = Command::new("gzip").arg("-t").arg(&backup.file).status().expect("gzip");
    assert!(gzip.success());
    let refused = restore(&w, &backup.file, None, &w.db.url).expect_err("it is full");
    let AppError::Conflict { code: "not_empty", detail } = refused else { panic!("{refused:?}") };
    assert!(detail.contains("nothing is ever written over"), "{detail}");
    // A damaged backup, one cut short and another file are refused, and the place stays empty.
    let good = std::fs::read(&backup.file).expect("a file");
    let mut flipped = good.clone();
    flipped[good.len() / 2] ^= 0x20;
    let short = good[..good.len() / 2].to_vec();
    let to = fresh(&w.db);
    for bytes in [flipped, short, b"invoice".to_vec(), Vec::new()] {
        let wrong = place.join("wrong");
        std::fs::write(&wrong, bytes).expect("written");
        let refused = restore(&w, &wrong, None, &to.url).expect_err("refused");
        assert!(matches!(refused, AppError::Conflict { code: "not_a_backup", .. }), "{refused:?}");
    }
    restore(&w, &backup.file, None, &to.url).expect("the place is still empty");
    std::fs::remove_dir_all(place).ok();
}

fn a_copy_that_disagrees_is_no_backup(w: World) {
    let place = folder();
    let milk = json!({ "animal_group_id": w.a.id("cows"), "date": "2026-02-01", "session": "day",
        "litres": 5, "animals_in_milk": 1 });
    w.sign_in("manager").post("/v1/milk-records", &milk).expect(201);
    let sql = format!("UPDATE farm_months SET milk_ml = 1 WHERE coop_id = {}", w.a.coop.number);
    assert!(w.db.connect().exec(&sql, &[]).expect("written") > 0);
    let refused = w.wait(w.app.backup(&into(&place))).expect_err("it does not agree");
    assert!(matches!(refused, AppError::Conflict { code: "damaged", .. }), "{refused:?}");
    assert_eq!(names(&place), Vec::<String>::new(), "nothing stays that looks like a backup");
    assert_eq!(w.app.keeping.backup_failed(), Some(w.app.now()));
    let ready = w.nobody.get("/health/ready").expect(200).text;
    assert!(ready.contains("no backup could be made at 2026-03-20T09:00:00.000Z"), "{ready}");
    w.wait(w.app.rebuild_sums(&w.a.coop)).expect("mended");
    w.wait(w.app.backup(&into(&place))).expect("a backup");
    let ready = w.nobody.get("/health/ready").expect(200).text;
    assert_eq!(ready, "ready\nlast backup 2026-03-20T09:00:00.000Z\n");
    let metrics = w.nobody.get("/metrics").expect(200).text;
    let at = format!("traybook_backup_last_success_seconds {}", w.app.now().0 / 1000);
    assert!(metrics.contains(&at) && metrics.contains("traybook_backup_failed 0"), "{metrics}");
    std::fs::remove_dir_all(place).ok();
}

/// Files of a folder that begin as a database does (SQLite file format, 1.3).
fn databases(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let is_database = |path: &PathBuf| {
        let begin = std::fs::read(path).unwrap_or_default();
        begin.starts_with(b"SQLite format 3\0")
    };
    entries.map(|entry| entry.path()).filter(is_database).collect()
}

/// The folder of backups may be another machine's: what is to be encrypted is not there as it is.
fn a_plain_copy_is_never_beside_an_encrypted_backup(w: World) {
    let (place, private) = (folder(), folder().join("private"));
    let secret = age::x25519::Identity::generate();
    let recipient = Recipient::parse(&secret.to_public().to_string()).expect("a recipient");
    let how = Backups { recipient: Some(recipient), private: private.clone(), ..into(&place) };
    let left = |ago: i64| {
        std::fs::create_dir_all(&private).expect("a folder");
        let millis = u64::try_from(w.app.now().0 - ago).expect("after 1970");
        let id = uuid::Builder::from_unix_timestamp_millis(millis, &[7; 10]).into_uuid();
        let file = private.join(format!("traybook-{}.part", id.simple()));
        std::fs::write(&file, "of a program that was killed").expect("written");
        file
    };
    let (old, new) = (left(3_600_001), left(60_000));
    let stop = Arc::new(AtomicBool::new(false));
    let (watched, is_over, own) = (place.clone(), Arc::clone(&stop), private.clone());
    let watch = std::thread::spawn(move || {
        let (mut beside, mut within) = (BTreeSet::new(), 0);
        while !is_over.load(Ordering::Relaxed) {
            beside.extend(databases(&watched));
            within += databases(&own).len();
        }
        (beside, within)
    });
    w.wait(w.app.backup(&how)).expect("a backup");
    // One that fails leaves nothing, either.
    let sql =
        format!("UPDATE farm_months SET milk_ml = milk_ml + 1 WHERE coop_id = {}", w.a.coop.number);
    let milk = json!({ "animal_group_id": w.a.id("cows"), "date": "2026-02-01", "session": "day",
        "litres": 5, "animals_in_milk": 1 });
    w.sign_in("manager").post("/v1/milk-records", &milk).expect(201);
    assert!(w.db.connect().exec(&sql, &[]).expect("written") > 0);
    w.wait(w.app.backup(&how)).expect_err("it does not agree");
    stop.store(true, Ordering::Relaxed);
    let (beside, within) = watch.join().expect("watched");
    assert_eq!(beside, BTreeSet::new());
    assert!(within > 0, "the copy was seen where it belongs");
    assert!(!old.exists() && new.exists());
    std::fs::remove_file(new).expect("removed");
    assert_eq!(names(&private), Vec::<String>::new());
    assert_eq!(names(&place).len(), 1);
    let mode = |path: &Path| {
        let about = std::fs::metadata(path).expect("it is there");
        std::os::unix::fs::PermissionsExt::mode(&about.permissions()) & 0o777
    };
    assert_eq!((mode(&private), mode(&place.join(&names(&place)[0]))), (0o700, 0o600));
    std::fs::remove_dir_all(place).ok();
}

/// All rows of all tables of a SQLite file, read by another library.
fn dump(path: &Path) -> BTreeMap<String, Vec<String>> {
    let conn = rusqlite::Connection::open(path).expect("a file");
    let list = |sql: &str| -> Vec<String> {
        let mut read = conn.prepare(sql).expect("SQL");
        let width = read.column_count();
        let row = |row: &rusqlite::Row<'_>| -> rusqlite::Result<String> {
            let cells: rusqlite::Result<Vec<_>> = (0..width)
                .map(|i| row.get::<_, rusqlite::types::Value>(i).map(|v| format!("{v:?}")))
                .collect();
            Ok(cells?.join("|"))
        };
        read.query_map([], row).expect("rows").map(|r| r.expect("a row")).collect()
    };
    let sql = "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%' \
               AND name NOT LIKE '\\_\\_%' ESCAPE '\\'";
    let tables = list(sql).into_iter().map(|t| t[6..t.len() - 2].to_owned());
    let rows = |table: String| {
        let mut rows = list(&format!("SELECT * FROM {table}"));
        rows.sort();
        (table, rows)
    };
    tables.map(rows).collect()
}

fn move_to(w: &World, from: &App, url: &str) -> Result<copies::Proof, AppError> {
    w.wait(copies::move_to(from, &open, (&beside(url), url)))
}

fn moving_there_and_back_gives_the_same(w: World) {
    let manager = w.sign_in("manager");
    let cursor = milk_of(&manager).1;
    w.make_figures();
    let first = Db::sqlite();
    let proof = move_to(&w, &w.app, &first.url).expect("moved");
    assert_eq!(proof, w.wait(w.app.prove_here()).expect("whole"));
    let (there, back) = (Db::postgres(), Db::sqlite());
    let from = open(&first.url).expect("opened");
    assert_eq!(move_to(&w, &from, &there.url).expect("moved"), proof);
    assert!(move_to(&w, &from, &there.url).is_err(), "it is full now");
    let from = open(&there.url).expect("opened");
    assert_eq!(move_to(&w, &from, &back.url).expect("moved"), proof);
    let file = |db: &Db| PathBuf::from(db.url.strip_prefix("sqlite:").expect("a file"));
    let (one, other) = (dump(&file(&first)), dump(&file(&back)));
    assert!(one.values().filter(|rows| !rows.is_empty()).count() > 30, "most tables have rows");
    for (table, rows) in &one {
        // Proving builds the sums anew, which moves the revision of the feed's counters.
        if table != "coop_counters" {
            assert_eq!(Some(rows), other.get(table), "{table}");
        }
    }
    // A move is no restore: devices go on where they are, and sign-ins hold.
    let w = w.lost_for(there);
    let manager = w.sign_in("manager");
    let feed = manager.get(&format!("/v1/changes?after={cursor}")).expect(200).json();
    assert_eq!(feed["life"], json!({ "epoch": "0", "restored_to": null }));
}
