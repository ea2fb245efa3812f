//! CSV in and out, photos, and the demo.

use acceptance::world::{app_on, folder, object};
use acceptance::{Db, World, both};
use serde_json::json;
use std::collections::BTreeMap;
use std::path::Path;
use traybook_app::Actor;
use traybook_app::records::import::read_folder;
use traybook_app::{App, Coop};

both!(
    every_bad_row_is_reported_and_nothing_of_the_file_is_kept,
    spreadsheets_come_in_as_they_are,
    photos_lose_their_place,
    photos_keep_the_picture_and_nothing_beside_it
);

fn files(folder: &Path) -> BTreeMap<String, String> {
    let entries = std::fs::read_dir(folder).expect("folder");
    entries
        .map(|e| {
            let path = e.expect("entry").path();
            let name = path.file_name().expect("name").to_string_lossy().into_owned();
            (name, std::fs::read_to_string(path).expect("text"))
        })
        .collect()
}

fn wait<T>(work: impl Future<Output = T>) -> T {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    runtime.expect("runtime").block_on(work)
}

async fn import_into_empty(app: &App, from: &Path) -> Coop {
    let text = std::fs::read_to_string(from.join("cooperatives.csv")).expect("file");
    let cells: Vec<&str> = text.lines().nth(1).expect("a row").splitn(7, ',').collect();
    let mut body = object(json!({ "name": cells[1], "currency": cells[2], "zone": cells[3],
        "language": cells[4], "started_on": cells[5] }));
    let wet_months = cells[6].trim_matches('"');
    if !wet_months.is_empty() {
        body.insert("wet_months".to_owned(), json!(wet_months));
    }
    let coop = app.found(cells[0].parse().expect("id"), body).await.expect("co-operative");
    let reports = app
        .import(&Actor::machine(coop.clone()), read_folder(from).expect("files"), false)
        .await
        .expect("in");
    for report in reports {
        assert_eq!(report.bad, [], "{}", report.file);
    }
    coop
}

/// The demo goes out of SQLite, into an empty database, and out again: the same bytes; into the
/// other database and out again: the same bytes; and once more in: nothing changes.
#[test]
fn export_import_export_gives_the_same_bytes_on_both_databases() {
    let (source, sqlite, postgres) = (Db::sqlite(), Db::sqlite(), Db::postgres());
    let (app, clock) = app_on(&source);
    let plan = traybook_seed_demo::Plan {
        months: None,
        size: traybook_seed_demo::Size::Small,
        seed: 7,
        today: "2026-03-20".parse().expect("a day"),
    };
    let demo = wait(traybook_seed_demo::generate(&app, &clock, &plan)).expect("demo");
    let first = folder();
    let out = wait(app.export(&demo.cooperative, first.join("out"))).expect("out");
    assert!(out.iter().map(|(_, rows)| rows).sum::<u64>() > 5_000);
    let first = files(&first.join("out"));
    let start = folder();
    for (name, text) in &first {
        std::fs::write(start.join(name), text).expect("written");
    }
    for db in [&sqlite, &postgres] {
        let (app, clock) = app_on(db);
        clock.set(traybook_domain::time::parse_instant("2026-03-20T16:30:00Z").expect("instant"));
        let coop = wait(import_into_empty(&app, &start));
        let second = folder();
        wait(app.export(&coop, second.join("out"))).expect("out");
        let second = files(&second.join("out"));
        assert_eq!(second.keys().collect::<Vec<_>>(), first.keys().collect::<Vec<_>>());
        for (name, text) in &first {
            let line = text.lines().zip(second[name].lines()).find(|(a, b)| a != b);
            assert!(*text == second[name], "{name} differs: {line:?}");
        }
        let again = wait(app.import(
            &Actor::machine(coop.clone()),
            read_folder(&start).expect("files"),
            false,
        ))
        .expect("in");
        for report in again {
            assert_eq!((report.made, report.bad_count), (0, 0), "{}", report.file);
            assert!(report.before >= report.rows, "{}", report.file);
        }
        let sums = wait(app.rebuild_sums(&coop)).expect("sums");
        assert_eq!(sums.kept, sums.rebuilt);
    }
}

fn import(
    w: &World,
    texts: &[(&str, &[u8])],
    dry_run: bool,
) -> Vec<traybook_app::records::import::FileReport> {
    let folder = folder();
    for (name, text) in texts {
        std::fs::write(folder.join(name), text).expect("written");
    }
    let files = read_folder(&folder).expect("files");
    w.wait(w.app.import(&Actor::machine(w.a.coop.clone()), files, dry_run)).expect("imported")
}

fn every_bad_row_is_reported_and_nothing_of_the_file_is_kept(w: World) {
    let text = "animal_group,session,litres,animals_in_milk,date\n\
        F1-cows,day,20,3,2026-02-01\nF1-cows,day,-2,3,2026-02-02\n\
        F9-cows,day,20,3,2026-02-30\nF1-hens,day,20,3,2026-02-04\nF1-cows,day,20\n";
    let reports = import(&w, &[("milk_records.csv", text.as_bytes())], false);
    let bad: Vec<(u64, usize, &str)> =
        reports[0].bad.iter().map(|b| (b.line, b.column, b.name.as_str())).collect();
    let want = [
        (3, 3, "litres"),
        (4, 1, "animal_group"),
        (4, 5, "date"),
        (5, 1, "animal_group"),
        (6, 0, ""),
    ];
    assert_eq!(bad, want);
    assert_eq!(reports[0].made, 0);
    let manager = w.sign_in("manager");
    assert_eq!(manager.get("/v1/milk-records").expect(200).items().len(), 0);
    // A file that can not be read at all, and columns that are not known.
    for (bytes, part) in [
        (&b"animal_group,date\nF1-cows,\"2026"[..], "cut off"),
        (b"PK\x03\x04", "workbook"),
        (b"", "empty"),
        (b"animal_group,colour\nF1-cows,red\n", "not known"),
        (b"animal_group\nF1-cows\n", "add the column"),
    ] {
        let reports = import(&w, &[("milk.csv", bytes)], false);
        let said = reports[0].bad.iter().any(|b| b.error.detail.contains(part));
        assert!(said, "{part}: {:?}", reports[0].bad);
    }
    // Files that need a bad one are not tried: one line instead of an error a row.
    let areas = b"name,parent\nLow,nowhere\n";
    let members =
        b"number,name,area,sex,language,consent,joined_on\nM8,A,Low,female,sw,yes,2025-01-01\n";
    let refused = import(&w, &[("areas.csv", areas), ("members.csv", members)], false);
    assert_eq!((refused[1].bad.len(), refused[1].made), (1, 0));
    assert!(refused[1].bad[0].error.detail.contains("areas.csv"));
    // A good file beside a bad one is kept; a dry run keeps nothing and lets files see each other.
    let feeds = b"name\nSilage\n";
    let bought = b"farm,feed,date,kg,cost\nF1,Silage,2026-02-01,10,100\n";
    let both: &[(&str, &[u8])] = &[("feeds.csv", feeds), ("feed_purchases.csv", bought)];
    let dry = import(&w, both, true);
    assert!(dry.iter().all(|r| r.made == 1 && r.bad_count == 0), "{dry:?}");
    assert_eq!(manager.get("/v1/feeds?q=silage").expect(200).items().len(), 0);
    let done = import(&w, &[("feeds.csv", feeds), ("feed_purchases.csv", b"farm\nF1\n")], false);
    assert_eq!((done[0].made, done[1].bad_count > 0), (1, true));
    assert_eq!(manager.get("/v1/feeds?q=silage").expect(200).items().len(), 1);
}

fn spreadsheets_come_in_as_they_are(w: World) {
    // Semicolons, a byte order mark, a day and clock in the co-operative's zone, and a batch with
    // its events in one line.
    let batches = "\u{FEFF}code;shed;animal group;seed lot;crop;soaked_at;seed_kg;spread_at;\
        trays_spread;harvested_at;trays_harvested;harvested_kg;discarded_at;trays_discarded;\
        discard_cause\r\nK1;F1-S1;F1-cows;L1;barley;2026-03-01 06:30;8;2026-03-03;4;\
        2026-03-09 06:30;3;36;2026-03-09;1;dried_out\r\n";
    let files: &[(&str, &[u8])] = &[("Batches.csv", batches.as_bytes())];
    let first = import(&w, files, false);
    assert_eq!((first[0].made, first[0].bad.len()), (5, 0), "{:?}", first[0].bad);
    assert_eq!(import(&w, files, false)[0].made, 0, "twice changes nothing");
    let manager = w.sign_in("manager");
    let batch = manager.get("/v1/batches?code=K1").expect(200).items().remove(0);
    assert_eq!(
        (&batch["stage"], &batch["soaked_at"]),
        (&json!("finished"), &json!("2026-03-01T03:30:00.000Z"))
    );
    assert_eq!(batch["fresh_kg_per_kg_seed"], 4.5);
    // The same record with another value is not overwritten.
    let changed = batches.replace(";barley;", ";wheat;");
    let refused = import(&w, &[("batches.csv", changed.as_bytes())], false);
    assert!(refused[0].bad[0].error.detail.contains("there already with other values"));
    assert_eq!(manager.get("/v1/batches?code=K1").expect(200).items()[0]["crop"], "barley");
    // A changed amount is the same row, told from a new one; the same line twice is two purchases.
    let bought = "farm,feed,date,kg,cost\nF1,Dairy meal,2026-02-01,10,100\nF1,Dairy meal,2026-02-01,10,100\n";
    let first = import(&w, &[("feed_purchases.csv", bought.as_bytes())], false);
    assert_eq!((first[0].made, first[0].bad_count), (2, 0));
    let typo = bought.replacen("10,100", "10,110", 1);
    let refused = import(&w, &[("feed_purchases.csv", typo.as_bytes())], false);
    assert!(refused[0].bad[0].error.detail.contains("there already with other values"));
    // So it is with what was left of a feed.
    let left = "farm,feed,date,kg\nF1,Dairy meal,2026-02-14,7.5\nF1,Dairy meal,2026-02-28,0\n";
    let first = import(&w, &[("feed_counts.csv", left.as_bytes())], false);
    assert_eq!((first[0].made, first[0].bad_count), (2, 0), "{:?}", first[0].bad);
    let again = import(&w, &[("feed_counts.csv", left.as_bytes())], false);
    assert_eq!((again[0].made, again[0].before), (0, 2));
    let typo = left.replacen("7.5", "75", 1);
    let refused = import(&w, &[("feed_counts.csv", typo.as_bytes())], false);
    assert!(refused[0].bad[0].error.detail.contains("there already with other values"));
    // Mould in a batch's own line: fed out all the same only with a reason, and an export of it
    // comes in again.
    let line = "code,shed,crop,soaked_at,seed_kg,spread_at,trays_spread,discarded_at,trays_discarded,\
        discard_cause,fed_at,fed_kg,fed_reason\nK2,F1-S1,barley,2026-03-01 06:30,8,2026-03-03,4,\
        2026-03-09 07:30,1,mould,2026-03-09 08:00,20,";
    let refused = import(&w, &[("batches.csv", format!("{line}\n").as_bytes())], false);
    assert!(refused[0].bad[0].error.detail.contains("mould"), "{:?}", refused[0].bad);
    let done =
        import(&w, &[("batches.csv", format!("{line}clean trays only\n").as_bytes())], false);
    assert_eq!((done[0].made, done[0].bad_count), (5, 0), "{:?}", done[0].bad);
    // Areas may stand before the area they lie in; formulas from an export come back as text.
    let areas = b"name,parent\nValley,Highland\nHighland,\n\"'=1+1\",\n";
    let done = import(&w, &[("areas.csv", areas)], false);
    assert_eq!((done[0].made, done[0].bad.len()), (3, 0), "{:?}", done[0].bad);
    assert_eq!(manager.get("/v1/areas?q=%3D1").expect(200).items()[0]["name"], "=1+1");
}

/// A JPEG of two segments: an Exif one that says where it was taken, and a comment.
fn jpeg() -> Vec<u8> {
    let mut bytes = vec![0xFF, 0xD8];
    let mut segment = |marker: u8, body: &[u8]| {
        let length = u16::try_from(body.len() + 2).expect("small").to_be_bytes();
        bytes.extend([0xFF, marker, length[0], length[1]]);
        bytes.extend(body);
    };
    segment(0xE0, b"JFIF\0\x01\x01\0\0\x01\0\x01\0\0");
    segment(0xE1, b"Exif\0\0II*\0\x08\0\0\0 GPS 6.17S 35.74E");
    segment(0xFE, b"near the well");
    segment(0xC0, &[8, 0, 16, 0, 16, 1, 1, 0x11, 0]);
    segment(0xDA, &[1, 1, 0, 0, 63, 0]);
    bytes.extend([0x12, 0x34, 0xFF, 0xD9]);
    bytes
}

fn photos_lose_their_place(w: World) {
    let officer = w.sign_in("officer");
    let photo = |keep: bool| {
        let body = json!({ "farm_id": w.a.id("farm"), "visit_id": w.a.id("visit"),
            "taken_at": "2026-03-11T07:10:00Z", "keep_location": keep });
        let made = officer.post("/v1/photos", &body).expect(201).json();
        format!("/v1/photos/{}/content", made["id"].as_str().expect("id"))
    };
    let send = |path: &str, media: &str, bytes: Vec<u8>| {
        officer.send("PUT", path, &[], Some((media, bytes)))
    };
    let path = photo(false);
    officer.get(&path).expect(404);
    send(&path, "image/jpeg", b"not a picture".to_vec()).expect(415);
    send(&path, "text/plain", jpeg()).expect(415);
    send(&path, "image/jpeg", vec![0; 6_000_000]).expect(413);
    send(&path, "image/jpeg", jpeg()).expect(201);
    send(&path, "image/jpeg", jpeg()).expect(204);
    let stored = officer.get(&path).expect(200);
    assert_eq!(stored.header("content-type"), Some("image/jpeg"));
    assert!(!stored.text.contains("GPS") && !stored.text.contains("well"));
    let mut other = jpeg();
    let at = other.len() - 3;
    other[at] = 0x77;
    assert_eq!(send(&path, "image/jpeg", other).expect(409).json()["conflict"], "photo_stored");
    let wanted = photo(true);
    send(&wanted, "image/jpeg", jpeg()).expect(201);
    assert!(officer.get(&wanted).expect(200).text.contains("GPS"));
}

/// Four pictures of 24 by 16 points, made with another library. All but the last are turned (Exif
/// orientation 6) and have the word SECRET in every kind of segment or chunk and behind their end.
const PICTURES: [(&str, &str, &[u8]); 4] = [
    ("image/jpeg", "turned.jpg", include_bytes!("../pictures/turned.jpg")),
    ("image/png", "turned.png", include_bytes!("../pictures/turned.png")),
    ("image/webp", "turned.webp", include_bytes!("../pictures/turned.webp")),
    ("image/webp", "plain.webp", include_bytes!("../pictures/plain.webp")),
];

fn holds(bytes: &[u8], part: &[u8]) -> bool {
    bytes.windows(part.len()).any(|window| window == part)
}

fn photos_keep_the_picture_and_nothing_beside_it(w: World) {
    let machine = traybook_app::Actor::machine(w.a.coop.clone());
    let store = |keep: bool, bytes: &[u8]| {
        let body = json!({ "farm_id": w.a.id("farm"), "visit_id": w.a.id("visit"),
            "taken_at": "2026-03-11T07:10:00Z", "keep_location": keep });
        let photo = w.make(&w.a, traybook_domain::Kind::Photo, body);
        let stored = w.wait(w.app.store_photo(&machine, photo, bytes.to_vec()));
        stored.map(|_| w.wait(w.app.photo(&machine, photo)).expect("stored"))
    };
    // Tag 0x0112, a SHORT, one of them, 6: TIFF 6.0, section 2, as Exif has it.
    let turned = b"\x01\x12\0\x03\0\0\0\x01\0\x06";
    for (media, name, bytes) in PICTURES {
        let kept = store(false, bytes).expect("a picture");
        assert_eq!(kept.media_type, media, "{name}");
        assert!(!holds(&kept.bytes, b"SECRET"), "{name}: {}", String::from_utf8_lossy(&kept.bytes));
        assert_eq!(holds(&kept.bytes, turned), name.starts_with("turned"), "{name}");
        assert_eq!(store(false, &kept.bytes).expect("a picture"), kept, "{name}: once is enough");
        if let Some(folder) = acceptance::world::env("TRAYBOOK_KEPT_PICTURES") {
            std::fs::write(std::path::Path::new(&folder).join(name), &kept.bytes).expect("written");
        }
        // Where the place is wanted Exif stays, and nothing else.
        let placed = store(true, bytes).expect("a picture").bytes;
        assert_eq!(holds(&placed, b"SECRET-maker"), name.starts_with("turned"), "{name}");
        for gone in ["SECRET-profile", "SECRET-comment", "SECRET-xmp", "SECRET-behind", "SECRET-e2"]
        {
            assert!(!holds(&placed, gone.as_bytes()), "{name}: {gone}");
        }
        // Cut short or changed anywhere it is taken or refused, and never more than that.
        for at in 0..bytes.len() {
            let mut changed = bytes.to_vec();
            changed[at] ^= 0xFF;
            for odd in [&changed[..], &bytes[..at]] {
                drop(traybook_app::records::photos::check(odd));
            }
        }
    }
    // A small file that would fill a telephone's memory is refused before anybody shows it.
    let mut huge = PICTURES[1].2.to_vec();
    huge[16..24].copy_from_slice(&[0, 0, 0x75, 0x30, 0, 0, 0x75, 0x30]);
    let refused = store(false, &huge).expect_err("900 million points");
    let traybook_app::AppError::Invalid(errors) = refused else { panic!("{refused:?}") };
    assert_eq!((errors[0].field(), errors[0].code), ("photos", "points"));
    assert!(errors[0].detail.contains("at most 50 million"), "{}", errors[0].detail);
}
