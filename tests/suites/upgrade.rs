//! A database of the first landed program opens with this one: closed months stay to the byte.

use acceptance::browser::Browser;
use acceptance::{Client, Db, World};
use flate2::read::GzDecoder;
use serde_json::{Value as Json, json};
use std::collections::HashMap;
use std::io::Read as _;
use std::path::{Path, PathBuf};
use traybook_answers::Decimal;
use traybook_answers::savings::{SavingsReport, VERSION};
use traybook_domain::time::parse_instant;
use traybook_domain::{ColumnType, Month, Value};
use traybook_storage::{Bind, Conn};

/// The migrations that the first program had.
const FIRST: [&str; 6] = ["0001", "0002", "0003", "0004", "0005", "0006"];
const MONTHS: [&str; 2] = ["2026-08", "2026-09"];
const XLSX: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";

fn here() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("upgrade")
}

fn answered(month: &str, form: &str) -> String {
    std::fs::read_to_string(here().join(format!("{month}.{form}"))).expect("what was answered")
}

/// The first program's database as a file.
fn first() -> Db {
    let db = Db::sqlite();
    let path = db.url.strip_prefix("sqlite:").expect("a file").to_owned();
    let packed = std::fs::File::open(here().join("first.sqlite.gz")).expect("the database");
    let mut bytes = Vec::new();
    GzDecoder::new(packed).read_to_end(&mut bytes).expect("a whole file");
    std::fs::write(path, bytes).expect("room");
    db
}

/// The same on PostgreSQL: its tables as that program made them, filled from the file.
fn first_on_postgres() -> Db {
    let (from, db) = (first(), Db::postgres());
    let (mut from, mut to) = (from.connect(), db.connect());
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../migrations/postgres");
    let mut folders: Vec<PathBuf> = std::fs::read_dir(folder)
        .expect("migrations")
        .map(|e| e.expect("a folder").path())
        .collect();
    folders.sort();
    let is_first = |path: &&PathBuf| {
        FIRST.iter().any(|n| path.file_name().is_some_and(|f| f.to_string_lossy().starts_with(n)))
    };
    for folder in folders.iter().filter(is_first) {
        let sql = std::fs::read_to_string(folder.join("up.sql")).expect("a migration");
        to.batch(&sql).expect("the tables");
    }
    to.batch(
        "CREATE TABLE __diesel_schema_migrations (version VARCHAR(50) PRIMARY KEY NOT NULL, \
         run_on TIMESTAMP NOT NULL DEFAULT CURRENT_TIMESTAMP)",
    )
    .expect("the list of migrations");
    for version in FIRST {
        let sql = "INSERT INTO __diesel_schema_migrations (version) VALUES (?)";
        to.exec(sql, &[Bind::text(version)]).expect("a migration");
    }
    // Rows come table by table, so that references are checked by the records' own rules only.
    to.batch("BEGIN; SET LOCAL session_replication_role = replica").expect("a transaction");
    for (table, columns) in tables(&mut to) {
        copy(&mut from, &mut to, &table, &columns);
    }
    to.batch("COMMIT").expect("committed");
    db
}

/// Tables with their columns.
fn tables(conn: &mut Conn) -> Vec<(String, Vec<(String, ColumnType)>)> {
    let sql = "SELECT CAST(c.table_name AS TEXT), CAST(c.column_name AS TEXT), \
               CAST(c.udt_name AS TEXT) FROM information_schema.columns c JOIN \
               information_schema.tables t USING (table_schema, table_name) WHERE \
               t.table_type = 'BASE TABLE' AND c.table_schema = current_schema() AND \
               c.table_name NOT LIKE '\\_\\_%' ORDER BY c.table_name, c.ordinal_position";
    let mut all: Vec<(String, Vec<(String, ColumnType)>)> = Vec::new();
    for row in conn.rows(sql, &[], &[ColumnType::Text; 3]).expect("columns") {
        let [table, column, ty] =
            [0, 1, 2].map(|i: usize| row[i].as_text().expect("a name").to_owned());
        let ty = match ty.as_str() {
            "int8" => ColumnType::Int,
            "bool" => ColumnType::Bool,
            "uuid" => ColumnType::Id,
            "date" => ColumnType::Date,
            "timestamptz" | "timestamp" => ColumnType::Instant,
            "bytea" => ColumnType::Bytes,
            "text" => ColumnType::Text,
            other => panic!("{table}.{column} is {other}"),
        };
        match all.last_mut().filter(|(name, _)| *name == table) {
            Some((_, columns)) => columns.push((column, ty)),
            None => all.push((table, vec![(column, ty)])),
        }
    }
    all
}

fn copy(from: &mut Conn, to: &mut Conn, table: &str, columns: &[(String, ColumnType)]) {
    let names: Vec<&str> = columns.iter().map(|(name, _)| name.as_str()).collect();
    let types: Vec<ColumnType> = columns.iter().map(|(_, ty)| *ty).collect();
    let names = names.join(", ");
    let rows = from.rows(&format!("SELECT {names} FROM {table}"), &[], &types).expect(table);
    for some in rows.chunks(200) {
        let marks = format!("({})", vec!["?"; types.len()].join(", "));
        let marks = vec![marks; some.len()].join(", ");
        let cell = |(value, ty): (&Value, &ColumnType)| Bind::new(*ty, value.clone());
        let binds: Vec<Bind> = some.iter().flat_map(|r| r.iter().zip(&types).map(cell)).collect();
        to.exec(&format!("INSERT INTO {table} ({names}) VALUES {marks}"), &binds).expect(table);
    }
}

const MANAGER: [(&str, &str); 2] =
    [("login", "manager@nyota.example"), ("password", "lantern saddle nine rivers")];

fn sign_in(w: &World) -> Client {
    let answer = w.nobody.post("/v1/session", &json!(HashMap::from(MANAGER))).expect(201).json();
    w.nobody.with_token(answer["access_token"].as_str().expect("a token"))
}

/// The migrations of this program, as its folders name them.
fn known(db: &Db) -> Vec<String> {
    let of = if db.is_sqlite() { "sqlite" } else { "postgres" };
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../migrations").join(of);
    let names = std::fs::read_dir(folder).expect("migrations").map(|e| e.expect("one").file_name());
    let number = |name: &str| name.split('_').next().expect("a number").to_owned();
    let mut all: Vec<String> = names.map(|n| number(&n.to_string_lossy())).collect();
    all.sort();
    all
}

/// The migrations that a database has.
fn applied(db: &Db) -> Vec<String> {
    let sql = "SELECT CAST(version AS TEXT) FROM __diesel_schema_migrations ORDER BY 1";
    let rows = db.connect().rows(sql, &[], &[ColumnType::Text]).expect("versions");
    rows.iter().map(|row| row[0].as_text().expect("a version").to_owned()).collect()
}

fn opens(db: Db) {
    assert_eq!(applied(&db), FIRST, "it begins as the first program left it");
    let w = World::start(db);
    assert_eq!(applied(&w.db), known(&w.db), "every migration since has run");
    assert_eq!(w.wait(w.app.check_security_log()).expect("checked").1, []);
    w.clock.set(parse_instant("2026-11-21T08:00:00Z").expect("an instant"));
    let coop =
        w.wait(w.app.choose_cooperative(Some("Nyota Valley Livestock Co-operative".to_owned())));
    let coop = coop.expect("the co-operative");
    let sums = w.wait(w.app.rebuild_sums(&coop)).expect("sums");
    assert!(sums.kept == sums.rebuilt, "the sums agree with the records");
    let manager = sign_in(&w);
    let closes = manager.get("/v1/month-closes").expect(200).items();
    assert_eq!(closes.iter().map(|c| &c["month"]).collect::<Vec<_>>(), MONTHS);
    let mut browser = Browser::new(&w);
    browser.post("/sign-in", &MANAGER).expect(303);
    for month in MONTHS {
        let path = format!("/v1/reports/savings?month={month}");
        let get = |media| manager.send("GET", &path, &[("accept", media)], None).expect(200).text;
        let (json, csv) = (answered(month, "json"), answered(month, "csv"));
        assert!(get("application/json") == json, "{month} stays as JSON");
        assert!(get("text/csv") == csv, "{month} stays as CSV");
        assert!(get(XLSX).starts_with("PK"), "{month} opens as workbook");
        assert!(get("application/pdf").starts_with("%PDF"), "{month} opens as PDF");
        let report: Json = serde_json::from_str(&json).expect("JSON");
        let farm = report["farms"][0].clone();
        let page = browser.get(&format!("/savings?month={month}")).expect(200).text;
        let member = farm["member_name"].as_str().expect("a name");
        assert!(page.contains("The month is closed") && page.contains(member), "{page}");
        let id = farm["farm_id"].as_str().expect("an id");
        let page = browser.get(&format!("/result?farm={id}&month={month}")).expect(200).text;
        assert!(page.contains("Seed soaked"), "{page}");
        let pdf = browser.get(&format!("/farms/{id}/report.pdf?month={month}")).expect(200);
        assert!(pdf.text.starts_with("%PDF"));
    }
}

#[test]
fn the_first_database_opens_on_sqlite() {
    opens(first());
}

#[test]
fn the_first_database_opens_on_postgres() {
    opens(first_on_postgres());
}

#[test]
fn what_was_frozen_is_read_as_the_report_of_today() {
    for month in MONTHS {
        let json = answered(month, "json");
        let was: Json = serde_json::from_str(&json).expect("JSON");
        let report = SavingsReport::read(1, &json).expect("a report");
        assert_eq!(report.method_version, 1);
        let number = |of: &Json| of.as_f64();
        for (line, was) in report.farms.iter().zip(was["farms"].as_array().expect("farms")) {
            let money = &line.figures.money;
            assert_eq!(money.saving.map(Decimal::real), number(&was["saving"]));
            assert_eq!(money.baseline_cost.map(Decimal::real), number(&was["baseline_cost"]));
            assert_eq!(money.eaten_cost.map(Decimal::real), number(&was["feed_cost"]));
            let difference = number(&was["baseline_cost"]).zip(number(&was["feed_cost"]));
            let difference = difference.filter(|_| was["saving"].is_number()).map(|(b, f)| b - f);
            let found = money.feed_saving.map(Decimal::real);
            assert!(
                found.zip(difference).map_or(found == difference, |(a, b)| (a - b).abs() < 1e-6),
                "{found:?} for {difference:?}"
            );
            assert_eq!(line.waits.len(), was["missing"].as_array().map_or(0, Vec::len));
            let alone = SavingsReport::read_farm(1, &json, line.farm_id).expect("a report");
            assert_eq!(alone.as_ref(), Some(line));
        }
        let total = report.total.as_ref().and_then(|t| t.figures.money.saving);
        assert_eq!(total.map(Decimal::real), number(&was["total"]["saving"]));
        let one = report.farms.first().expect("a farm").farm_id;
        let narrowed = report.narrowed(|farm| farm == one);
        assert_eq!(narrowed.farms.len(), 1);
        assert_eq!((narrowed.total, narrowed.adjustments_total), (None, None));
        assert!(SavingsReport::read(VERSION + 1, &json).is_err(), "a later program's");
    }
}

/// Months closed by the first method keep their bytes and stand beside the sum; the first close by
/// this one says once what would have been different.
fn restates_once(db: Db) {
    let w = World::start(db);
    w.clock.set(parse_instant("2026-11-21T08:00:00Z").expect("an instant"));
    let coop =
        w.wait(w.app.choose_cooperative(Some("Nyota Valley Livestock Co-operative".to_owned())));
    let coop = coop.expect("the co-operative");
    w.wait(w.app.make_figures_now(&coop)).expect("figures");
    // What these months came to is kept as well from now on.
    let sql = "SELECT CAST(COUNT(*) AS BIGINT) FROM month_snapshots WHERE total <> ''";
    let kept = w.db.connect().rows(sql, &[], &[ColumnType::Int]).expect("rows");
    let actor = traybook_app::Actor::machine(coop.clone());
    let months: Vec<Month> = MONTHS.iter().filter_map(|m| Month::parse(m)).collect();
    assert!(kept[0][0].as_int() >= i64::try_from(months.len()).ok(), "{kept:?}");
    for total in w.wait(w.app.month_totals(&actor, months)).expect("totals") {
        let report = w.wait(w.app.savings_report(&actor, total.month)).expect("a report");
        assert_eq!(total.total, report.total);
    }
    let manager = sign_in(&w);
    let read =
        |month: &str| manager.get(&format!("/v1/reports/savings?month={month}")).expect(200).json();
    let reported = |month: &str| -> Json {
        let was: Json = serde_json::from_str(&answered(month, "json")).expect("JSON");
        was["total"]["saving"].clone()
    };
    let open = read("2026-10");
    let restated = open["earlier_method"].as_array().expect("months");
    assert_eq!(restated.iter().map(|r| &r["month"]).collect::<Vec<_>>(), MONTHS);
    for line in restated {
        let month = line["month"].as_str().expect("a month");
        assert_eq!(line["reported"].as_f64(), reported(month).as_f64(), "{month}");
    }
    assert_eq!(open["adjustments"], json!([]), "no adjustment of what another method said");
    assert_eq!(open["adjustments_total"], 0);
    let since = open["total"]["since_start"].clone();
    let count = |name: &str| since[name].as_i64().expect("a count");
    assert!(count("farm_months") < count("of_farm_months"), "they count in y alone: {since}");
    let mut browser = Browser::new(&w);
    browser.post("/sign-in", &MANAGER).expect(303);
    for page in ["close", "savings"] {
        let text = browser.get(&format!("/{page}?month=2026-10")).expect(200).text;
        assert!(text.contains("Months closed by the earlier method, TZS"), "{page}: {text}");
        assert!(text.contains("September 2026"), "{page} names them: {text}");
    }
    manager.post("/v1/month-closes", &json!({ "month": "2026-10" })).expect(201);
    let closed = read("2026-10");
    assert_eq!(
        (&closed["earlier_method"], &closed["is_closed"]),
        (&open["earlier_method"], &json!(true))
    );
    w.wait(w.app.make_figures_now(&coop)).expect("figures");
    assert_eq!(read("2026-11")["earlier_method"], json!([]), "said once");
    for month in MONTHS {
        let path = format!("/v1/reports/savings?month={month}");
        assert!(manager.get(&path).expect(200).text == answered(month, "json"), "{month} stays");
    }
}

#[test]
fn the_first_close_by_this_method_says_once_what_differs_on_sqlite() {
    restates_once(first());
}

#[test]
fn the_first_close_by_this_method_says_once_what_differs_on_postgres() {
    restates_once(first_on_postgres());
}
