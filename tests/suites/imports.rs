//! Large files are written in slices, and all the same whole or not at all.

use acceptance::browser::{Browser, hidden};
use acceptance::{World, both};
use serde_json::json;
use std::fmt::Write as _;
use std::time::{Duration, Instant};
use traybook_app::Actor;
use traybook_app::records::import::{FileReport, Source};
use traybook_domain::limits::IMPORT_WAITS_MS;
use traybook_domain::value::Instant as At;

both!(
    others_write_while_a_large_file_comes_in,
    a_large_file_with_one_bad_row_leaves_nothing,
    a_file_that_breaks_off_is_undone_and_comes_again,
    a_page_says_how_far_a_large_file_is,
    files_wait_for_whichever_server_is_asked,
    files_wait_for_their_person_for_a_while,
    a_large_preview_writes_nothing_that_others_wait_for
);

const ROWS: usize = 4_000;

/// Milk of one group, three times a day.
fn milk(rows: usize) -> String {
    let first = chrono::NaiveDate::from_ymd_opt(2022, 7, 1).expect("a day");
    let mut text = "animal_group,date,session,litres,animals_in_milk\n".to_owned();
    for n in 0..rows {
        let day = first + chrono::Days::new(u64::try_from(n / 3).expect("few"));
        let session = ["morning", "midday", "evening"][n % 3];
        let _ = writeln!(text, "F1-cows,{day},{session},5.5,3");
    }
    text
}

fn source(text: &str) -> Vec<Source> {
    Source::of_file("milk_records.csv", text.as_bytes(), 1_000_000)
}

fn import(w: &World, text: &str) -> FileReport {
    let machine = Actor::machine(w.a.coop.clone());
    w.wait(w.app.import(&machine, source(text), false)).expect("imported").remove(0)
}

/// Milk records that count, and the number of the last change.
fn state(w: &World) -> (i64, i64) {
    let sql = "SELECT CAST(COUNT(*) AS BIGINT), CAST((SELECT COUNT(*) FROM import_rows) AS BIGINT) \
               FROM milk_records WHERE withdrawn_at IS NULL";
    let types = [traybook_domain::ColumnType::Int; 2];
    let row = w.db.connect().rows(sql, &[], &types).expect("counts").remove(0);
    (row[0].as_int().expect("a count"), row[1].as_int().expect("a count"))
}

fn sums_agree(w: &World) {
    let sums = w.wait(w.app.rebuild_sums(&w.a.coop)).expect("rebuilt");
    assert_eq!(sums.kept, sums.rebuilt);
}

fn until(what: impl Fn() -> bool) {
    let end = Instant::now() + Duration::from_secs(60);
    while !what() {
        assert!(Instant::now() < end, "it comes");
        std::thread::sleep(Duration::from_millis(2));
    }
}

fn others_write_while_a_large_file_comes_in(w: World) {
    let other = w.sign_in_as("manager.b@coop.example");
    let manager = w.sign_in("manager");
    let before = state(&w).0;
    let (app, machine) = (w.app.clone(), Actor::machine(w.a.coop.clone()));
    let files = source(&milk(ROWS));
    let task = w.begin(async move { app.import(&machine, files, false).await.expect("imported") });
    until(|| state(&w).0 > before);
    for (client, name) in [(&other, "Supplier 1"), (&manager, "Supplier 2")] {
        client.post("/v1/suppliers", &json!({ "name": name })).expect(201);
        assert!(!task.is_finished(), "{name} is written meanwhile");
    }
    let report = w.wait(task).expect("no panic").remove(0);
    let all = u64::try_from(ROWS).expect("few");
    assert_eq!((report.rows, report.made, report.bad_count), (all, all, 0));
    let wanted = before + i64::try_from(ROWS).expect("few");
    assert_eq!(state(&w), (wanted, 0), "no note of it is left");
    // The same file again changes nothing; a row that stands twice is two records, as in one piece.
    let again = import(&w, &milk(ROWS));
    assert_eq!((again.made, again.before), (0, all));
    assert_eq!(state(&w), (wanted, 0));
    sums_agree(&w);
}

fn a_large_file_with_one_bad_row_leaves_nothing(w: World) {
    let before = state(&w);
    let last = w.app.last_changes();
    let last = w.wait(last).expect("read");
    let text = milk(ROWS) + "F1-cows,2026-01-02,morning,minus one,3\n";
    let report = import(&w, &text);
    assert_eq!((report.made, report.bad_count), (0, 1));
    assert_eq!(report.bad[0].line, u64::try_from(ROWS).expect("few") + 2);
    assert_eq!(state(&w), before);
    assert_eq!(w.wait(w.app.last_changes()).expect("read"), last, "nothing was written at all");
    // Its good rows are taken, in slices too.
    let machine = Actor::machine(w.a.coop.clone());
    let report = w.wait(w.app.import_good_rows(&machine, source(&text))).expect("taken").remove(0);
    assert_eq!((report.made, report.bad_count), (u64::try_from(ROWS).expect("few"), 1));
}

fn a_file_that_breaks_off_is_undone_and_comes_again(w: World) {
    let before = state(&w).0;
    let (app, machine) = (w.app.clone(), Actor::machine(w.a.coop.clone()));
    let files = source(&milk(ROWS));
    let task = w.begin(async move { app.import(&machine, files, false).await.map(drop) });
    until(|| state(&w).0 > before);
    // As a program that is killed: no line of it runs any more.
    task.abort();
    assert!(w.wait(task).is_err_and(|e| e.is_cancelled()), "it broke off");
    // A slice that was being written still ends.
    std::thread::sleep(Duration::from_millis(500));
    let (there, noted) = state(&w);
    assert!(there > before && noted == there - before, "{there} {noted}");
    // One that may still be going on is left alone.
    assert_eq!(w.wait(w.app.undo_broken_off()).expect("looked"), 0);
    w.clock.set(At(w.app.now().0 + 5 * 60_000));
    assert_eq!(w.wait(w.app.undo_broken_off()).expect("undone"), 1);
    assert_eq!(state(&w).0, before, "nothing of it counts");
    assert_eq!(w.wait(w.app.undo_broken_off()).expect("looked"), 0);
    sums_agree(&w);
    let all = u64::try_from(ROWS).expect("few");
    let report = import(&w, &milk(ROWS));
    assert_eq!((report.made, report.before, report.bad_count), (all, 0, 0), "{:?}", report.bad);
    assert_eq!(state(&w), (before + i64::try_from(ROWS).expect("few"), 0));
    sums_agree(&w);
}

fn a_large_preview_writes_nothing_that_others_wait_for(w: World) {
    let mut holder = w.db.connect();
    let lock = if w.db.is_sqlite() {
        "BEGIN IMMEDIATE"
    } else {
        "BEGIN; LOCK TABLE changes, farm_months, record_history, import_rows IN SHARE MODE"
    };
    holder.batch(lock).expect("locked");
    let machine = Actor::machine(w.a.coop.clone());
    let report = w.wait(w.app.import(&machine, source(&milk(ROWS)), true)).expect("looked through");
    assert_eq!((report[0].rows, report[0].bad_count), (u64::try_from(ROWS).expect("few"), 0));
    holder.batch("ROLLBACK").expect("unlocked");
}

fn a_page_says_how_far_a_large_file_is(w: World) {
    let mut browser = Browser::sign_in(&w, "manager");
    let mut other = Browser::sign_in_as(&w, "manager.b@coop.example");
    let text = milk(ROWS);
    let files = [("files", "milk_records.csv", text.as_bytes())];
    let page = browser.fill_with_files("/import", "/import", &[], &files).expect(200).text;
    let (csrf, name) = (hidden(&page, "csrf"), hidden(&page, "name"));
    let form = [("csrf", csrf.as_str()), ("name", name.as_str()), ("how", "whole")];
    // Somebody else writes for a while, as soon as the first slices are there.
    let is_begun = || {
        let sql = "SELECT CAST(COUNT(*) AS BIGINT) FROM import_rows";
        let row = w.db.connect().row(sql, &[], &[traybook_domain::ColumnType::Int]);
        row.ok().flatten().and_then(|row| row[0].as_int()).is_some_and(|count| count > 0)
    };
    let (running, mut holder, mut browser) = std::thread::scope(|all| {
        let taking = all.spawn(move || {
            let running = browser.post("/import/take", &form).expect(200);
            (running, browser)
        });
        until(is_begun);
        let mut holder = w.db.connect();
        if w.db.is_sqlite() {
            // Between two slices is little time: it is asked without a pause.
            holder.batch("PRAGMA busy_timeout = 0").expect("set");
            let end = Instant::now() + Duration::from_secs(60);
            while holder.exec("BEGIN IMMEDIATE", &[]).is_err() {
                assert!(Instant::now() < end, "it comes");
                std::thread::yield_now();
            }
        } else {
            holder.exec("BEGIN", &[]).expect("begun");
        }
        holder.exec("UPDATE coop_counters SET revision = revision", &[]).expect("held");
        let (running, browser) = taking.join().expect("answered");
        (running, holder, browser)
    });
    assert!(running.text.contains("of 4000 rows are read"), "{}", running.text);
    let address = format!("/import/running?name={name}");
    let refresh = running.header("refresh").unwrap_or_default();
    assert!(refresh.ends_with(&address), "{refresh}");
    // Tapped again it is not begun again, and somebody else sees nothing of it.
    assert!(browser.post("/import/take", &form).expect(200).text.contains("rows are read"));
    let other = other.get(&address);
    assert!(other.leads_to("/import"), "{}", other.status);
    holder.exec("ROLLBACK", &[]).expect("let go");
    let end = Instant::now() + Duration::from_secs(60);
    loop {
        let page = browser.get(&address).expect(200);
        if page.header("refresh").is_none() {
            assert!(page.text.contains("Done."), "{}", page.text);
            break;
        }
        assert!(Instant::now() < end, "it comes to an end");
        std::thread::sleep(Duration::from_millis(50));
    }
    assert!(state(&w).0 >= i64::try_from(ROWS).expect("few"));
}

fn files_wait_for_whichever_server_is_asked(mut w: World) {
    let mut first = Browser::sign_in(&w, "manager");
    // Its columns must be asked for, and one row is bad.
    let text = "Mnyama,Siku,Asubuhi,Maelezo ya ziada\nF1-cows,2026-03-01,5.5,x\n\
                F1-cows,2026-03-02,much,x\n";
    let files = [("files", "maziwa.csv", text.as_bytes()), ("files", "areas.csv", b"name\nEast\n")];
    let page = first.fill_with_files("/import", "/import", &[], &files).expect(200).text;
    assert!(page.contains("action=\"/import/columns\""), "{page}");
    w.turn_to_another_server();
    let mut second = Browser::new(&w);
    second.cookies.clone_from(&first.cookies);
    let form = [
        ("kind-0", "area"),
        ("kind-1", "milk_record"),
        ("to-1-0", "animal_group"),
        ("to-1-1", "date"),
        ("to-1-2", "litres"),
        ("to-1-3", "-"),
        ("fixed-1-session", "morning"),
        ("fixed-1-animals_in_milk", "2"),
    ];
    let preview = second.fill_in(&page, "/import/columns", &form).expect(200).text;
    assert!(preview.contains("2026-03-02, much") || preview.contains("much"), "{preview}");
    // The first takes what was chosen at the second; the second gives the refused row.
    let (csrf, name) = (hidden(&preview, "csrf"), hidden(&preview, "name"));
    let take = [("csrf", csrf.as_str()), ("name", name.as_str()), ("how", "rows")];
    let done = first.post("/import/take", &take).expect(200).text;
    assert!(done.contains("Done."), "{done}");
    let refused = second.get(&format!("/import/refused?name={name}&file=1")).expect(200).text;
    assert!(refused.contains("F1-cows,2026-03-02,much,x"), "{refused}");
    assert!(!refused.contains("5.5"), "{refused}");
    let milk = w.sign_in("manager").get("/v1/milk-records").expect(200).json();
    assert_eq!(milk["items"].as_array().map(Vec::len), Some(1), "{milk}");
}

fn files_wait_for_their_person_for_a_while(w: World) {
    let mut browser = Browser::sign_in(&w, "manager");
    let kept = || {
        let sql = "SELECT CAST((SELECT COUNT(*) FROM import_waits) AS BIGINT), \
                   CAST((SELECT COUNT(*) FROM import_wait_parts) AS BIGINT)";
        let types = [traybook_domain::ColumnType::Int; 2];
        let row = w.db.connect().rows(sql, &[], &types).expect("counts").remove(0);
        (row[0].as_int().expect("a count"), row[1].as_int().expect("a count"))
    };
    // A file of several parts, then a small one: the person's first goes.
    let large = format!("name\n{}", "\n".repeat(3 * 1024 * 1024));
    for (text, parts) in [(large.as_str(), 4), ("name\nEast\n", 1)] {
        let files = [("files", "areas.csv", text.as_bytes())];
        let page = browser.fill_with_files("/import", "/import", &[], &files);
        assert_eq!(page.status, 200, "{}", page.text);
        assert_eq!(kept(), (1, parts));
    }
    let files = [("files", "areas.csv", b"name\nEast\n".as_slice())];
    let page = browser.fill_with_files("/import", "/import", &[], &files).expect(200).text;
    let name = hidden(&page, "name");
    w.wait(w.app.forget_files()).expect("forgotten");
    assert_eq!(kept(), (1, 1), "it waits");
    w.clock.set(At(w.app.now().0 + IMPORT_WAITS_MS + 1));
    // Too old: nobody sees them, whether or not they are forgotten yet.
    assert!(browser.get(&format!("/import/columns?name={name}")).leads_to("/import"));
    w.wait(w.app.forget_files()).expect("forgotten");
    assert_eq!(kept(), (0, 0));
}
