//! What a database may forget after years: lines of the feed that were replaced or withdrawn, and
//! old versions, which go to an archive.

use acceptance::world::folder;
use acceptance::{Client, World, both};
use chrono::NaiveDate;
use serde_json::{Value as Json, json};
use std::collections::BTreeMap;
use traybook_app::copies::{Identity, Recipient};
use traybook_app::records::archive::{ArchivedVersion, read_archive};
use traybook_domain::limits::FEED_KEPT_MS;
use traybook_domain::value::Instant;
use traybook_domain::{ColumnType, Kind};
use uuid::Uuid;

both!(
    the_feed_forgets_what_was_replaced_and_loses_no_record,
    the_newest_line_of_a_record_has_its_version,
    old_versions_go_to_an_archive_and_can_be_read
);

/// All records as the feed gives them from a cursor on, by id; and the last cursor.
fn read_on(client: &Client, cursor: Option<String>) -> (BTreeMap<String, Json>, String) {
    let (mut all, mut cursor) = (BTreeMap::new(), cursor);
    loop {
        let after = cursor.map(|c| format!("&after={c}")).unwrap_or_default();
        let page = client.get(&format!("/v1/changes?limit=7{after}")).expect(200).json();
        for item in page["items"].as_array().expect("items") {
            all.insert(item["id"].as_str().expect("an id").to_owned(), item.clone());
        }
        let next = page["next"].as_str().expect("a cursor").to_owned();
        if page["has_more"] == false {
            return (all, next);
        }
        cursor = Some(next);
    }
}

/// Versions of the records that stand: what they show may depend on the day.
fn standing(all: &BTreeMap<String, Json>) -> BTreeMap<&String, &Json> {
    let of = all.iter().filter(|(_, item)| item["is_withdrawn"] == false);
    of.inspect(|(_, item)| assert!(item["record"].is_object()))
        .map(|(id, i)| (id, &i["version"]))
        .collect()
}

fn cost(client: &Client, farm: &str, amount: i64) -> String {
    let body = json!({ "farm_id": farm, "date": "2026-02-11", "category": "labour",
        "amount": amount });
    client.post("/v1/other-costs", &body).expect(201).json()["id"].as_str().expect("id").to_owned()
}

fn change(client: &Client, id: &str, amount: Option<i64>) {
    let path = format!("/v1/other-costs/{id}");
    let etag = client.get(&path).expect(200).header("etag").expect("a tag").to_owned();
    match amount {
        Some(amount) => client.patch(&path, &etag, &json!({ "amount": amount })).expect(200),
        None => client.delete(&path, &etag).expect(204),
    };
}

fn lines(w: &World) -> i64 {
    let sql = "SELECT CAST(COUNT(*) AS BIGINT) FROM changes";
    let row = w.db.connect().rows(sql, &[], &[ColumnType::Int]).expect("a count").remove(0);
    row[0].as_int().expect("a count")
}

/// What a server does every minute, some time later.
fn later(w: &World, ms: i64) {
    w.clock.set(Instant(w.app.now().0 + ms));
    w.wait(w.app.forget_changes()).expect("forgotten");
}

fn the_feed_forgets_what_was_replaced_and_loses_no_record(w: World) {
    let farm = w.a.id("farm").to_string();
    let manager = w.sign_in("manager");
    later(&w, 0);
    let [kept, changed, gone] = [1, 2, 3].map(|n| cost(&manager, &farm, n * 1000));
    let (_, early) = read_on(&manager, None);
    for amount in 0..40 {
        change(&manager, &changed, Some(5_000 + amount));
    }
    change(&manager, &gone, None);
    let (_, seen) = read_on(&manager, None);
    let before = (read_on(&w.sign_in("manager"), None).0, lines(&w));
    // A mark is set; nothing is forgotten until it is old enough, however often it is looked.
    later(&w, FEED_KEPT_MS + 1);
    later(&w, FEED_KEPT_MS - 1);
    assert_eq!(lines(&w), before.1, "the mark is not old enough yet");
    later(&w, 2);
    let forgotten = before.1 - lines(&w);
    assert!(forgotten >= 42, "{forgotten} of {}", before.1);
    let manager = w.sign_in("manager");
    let (all, end) = read_on(&manager, None);
    assert_eq!(standing(&all), standing(&before.0), "every record that stands is there");
    assert!(all.contains_key(&kept) && all.contains_key(&changed) && !all.contains_key(&gone));
    // Who has not seen the withdrawal begins anew; who has goes on.
    let lost = manager.get(&format!("/v1/changes?after={early}"));
    assert_eq!((lost.status, lost.json()["code"].clone()), (410, json!("gone")));
    assert_eq!(read_on(&manager, Some(seen)).1, end);
    // A reading from the start that is under way goes on, until the floor moves again.
    let page = manager.get("/v1/changes?limit=1").expect(200).json();
    let half = page["next"].as_str().expect("a cursor");
    manager.get(&format!("/v1/changes?after={half}")).expect(200);
    cost(&manager, &farm, 9000);
    later(&w, FEED_KEPT_MS + 1);
    later(&w, FEED_KEPT_MS + 1);
    let manager = w.sign_in("manager");
    assert_eq!(manager.get(&format!("/v1/changes?after={half}")).status, 410);
    assert_eq!(standing(&read_on(&manager, None).0).len(), standing(&all).len() + 1);
}

/// On this it depends which lines may be forgotten.
fn the_newest_line_of_a_record_has_its_version(w: World) {
    let farm = w.a.id("farm").to_string();
    let manager = w.sign_in("manager");
    let id = cost(&manager, &farm, 1000);
    change(&manager, &id, Some(2000));
    let mut conn = w.db.connect();
    for kind in Kind::ALL {
        let sql = format!(
            "SELECT CAST(COUNT(*) AS BIGINT) FROM {} r WHERE r.withdrawn_at IS NULL AND r.version <> \
             COALESCE((SELECT MAX(c.version) FROM changes c WHERE c.coop_id = r.coop_id AND \
             c.kind = ? AND c.id = r.id), 0)",
            kind.spec().table()
        );
        let binds = [traybook_storage::Bind::text(kind.spec().one)];
        let row = conn.rows(&sql, &binds, &[ColumnType::Int]).expect("a count").remove(0);
        assert_eq!(row[0].as_int(), Some(0), "{kind:?}");
    }
}

fn old_versions_go_to_an_archive_and_can_be_read(w: World) {
    let farm = w.a.id("farm").to_string();
    let manager = w.sign_in("manager");
    let id = cost(&manager, &farm, 1000);
    change(&manager, &id, Some(2000));
    change(&manager, &id, Some(3000));
    let path = format!("/v1/other-costs/{id}/history");
    let whole = manager.get(&path).expect(200).json();
    assert_eq!(whole["archived_versions"], 0);
    let place = folder();
    let file = place.join("2026.archive");
    let day = |text: &str| text.parse::<NaiveDate>().expect("a day");
    let archive = |file: &std::path::Path, before: &str, to: Option<&Recipient>| {
        w.wait(w.app.archive_history(&w.a.coop, day(before), (file, to)))
    };
    assert!(archive(&file, "2026-03-01", None).is_err(), "it is too late a day");
    // Two years on one more version is replaced, which stays.
    let now = Instant(w.app.now().0 + 2 * 366 * 24 * 3_600_000);
    w.clock.set(now);
    let manager = w.sign_in("manager");
    change(&manager, &id, Some(4000));
    let made = archive(&file, "2027-01-01", None).expect("an archive");
    assert!(made.versions >= 2 && made.bytes > 0, "{made:?}");
    assert!(archive(&file, "2027-01-01", None).is_err(), "never over a file that is there");
    let none = archive(&place.join("none"), "2027-01-01", None).expect("nothing to move");
    assert_eq!((none.versions, place.join("none").exists()), (0, false));
    let rest = manager.get(&path).expect(200).json();
    assert_eq!(rest["archived_versions"], 2, "{rest}");
    let items = rest["items"].as_array().expect("items");
    assert_eq!(items.len(), 2);
    assert_eq!(
        (items[0]["version"].clone(), items[0]["action"].clone()),
        (json!(3), json!("archived"))
    );
    assert_eq!(items[1]["action"], json!("corrected"));
    assert_eq!(manager.get(&format!("/v1/other-costs/{id}")).expect(200).json()["amount"], 4000);
    // What the file holds is what the history said.
    let of: Uuid = id.parse().expect("an id");
    let read = |file: &std::path::Path, identity: Option<&Identity>| {
        let mut found: Vec<ArchivedVersion> = Vec::new();
        let shown = read_archive(file, identity, Some(of), |v, _| found.push(v.clone()));
        shown.map(|_| found)
    };
    let found = read(&file, None).expect("read");
    assert_eq!(found.len(), 2);
    for (old, was) in found.iter().zip(whole["items"].as_array().expect("items")) {
        assert_eq!((json!(old.version), &old.record), (was["version"].clone(), &was["record"]));
    }
    let left: Vec<_> = std::fs::read_dir(&place).expect("a folder").flatten().collect();
    assert_eq!(left.len(), 1, "nothing plain is left beside it");
    // Encrypted it needs the identity.
    w.clock.set(Instant(now.0 + 2 * 366 * 24 * 3_600_000));
    let secret = age::x25519::Identity::generate();
    let recipient = Recipient::parse(&secret.to_public().to_string()).expect("a recipient");
    let sealed = place.join("2028.archive");
    archive(&sealed, "2029-01-01", Some(&recipient)).expect("an archive");
    assert!(read(&sealed, None).is_err());
    let text = age::secrecy::ExposeSecret::expose_secret(&secret.to_string()).to_owned();
    let identity = Identity::parse(&text).expect("an identity");
    assert_eq!(read(&sealed, Some(&identity)).expect("read").len(), 1);
    std::fs::remove_dir_all(place).ok();
}
