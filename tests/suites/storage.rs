//! Both databases hold what the declarations ask for, and commits are what they say.

use acceptance::world::{app_on, env};
use acceptance::{Db, World, both};
use serde_json::json;
use std::collections::BTreeMap;
use std::time::{Duration, Instant};
use traybook_domain::{ColumnType, Kind, Value};
use traybook_storage::schema::{COMMON, Dialect, GROWING, order_field, sql_type};
use traybook_storage::store::{Store, StoreConfig};
use traybook_storage::{Bind, Conn, StoreError, migrate};

both!(
    one_failed_write_undoes_only_itself,
    a_write_that_panics_keeps_nothing,
    references_can_not_point_into_another_cooperative,
    a_lost_connection_passes,
    large_lists_use_an_index,
    lookups_use_their_index
);

type Columns = BTreeMap<(String, String), (String, bool)>;

fn columns(db: &Db) -> Columns {
    let mut conn = db.connect();
    let (sql, text) = if db.is_sqlite() {
        (
            "SELECT m.name, c.name, c.type, CAST(c.\"notnull\" AS TEXT) FROM sqlite_master m \
             JOIN pragma_table_info(m.name) c WHERE m.type = 'table' AND m.name NOT LIKE '\\_\\_%' \
             ESCAPE '\\' AND m.name NOT LIKE 'sqlite%'",
            "1",
        )
    } else {
        (
            "SELECT CAST(c.table_name AS TEXT), CAST(c.column_name AS TEXT), \
             CAST(UPPER(c.udt_name) || COALESCE(' COLLATE \"' || c.collation_name || '\"', '') AS TEXT), \
             CAST(c.is_nullable AS TEXT) FROM information_schema.columns c JOIN \
             information_schema.tables t USING (table_schema, table_name) \
             WHERE t.table_type = 'BASE TABLE' AND c.table_schema = current_schema() \
             AND c.table_name NOT LIKE '\\_\\_%'",
            "NO",
        )
    };
    let rows = conn.rows(sql, &[], &[ColumnType::Text; 4]).expect("columns");
    let cell = |row: &Vec<Value>, i: usize| row[i].as_text().expect("text").to_owned();
    rows.iter().map(|r| ((cell(r, 0), cell(r, 1)), (cell(r, 2), cell(r, 3) == text))).collect()
}

fn declared(dialect: Dialect) -> Columns {
    let name = |ty: ColumnType| match (dialect, ty) {
        (Dialect::Sqlite, ty) => sql_type(ty, dialect).to_owned(),
        (_, ColumnType::Int) => "INT8".to_owned(),
        (_, ColumnType::Bool) => "BOOL".to_owned(),
        (_, ty) => sql_type(ty, dialect).to_owned(),
    };
    let mut all = Columns::new();
    for kind in Kind::ALL {
        let table = kind.spec().table();
        let mut add = |column: &str, ty, required| {
            all.insert((table.clone(), column.to_owned()), (name(ty), required));
        };
        add("coop_id", ColumnType::Int, true);
        add("id", ColumnType::Id, true);
        for field in kind.spec().fields {
            add(field.name, field.column(), field.required || field.derived);
        }
        for (column, ty, nullable) in COMMON {
            add(column, *ty, !nullable);
        }
    }
    all
}

fn schema_holds(db: &Db, dialect: Dialect) -> Columns {
    drop(Store::open(&StoreConfig::new(&db.url, 1)).expect("opened"));
    let before = columns(db);
    for (column, want) in declared(dialect) {
        assert_eq!(before.get(&column), Some(&want), "{column:?}");
    }
    let mut conn = db.connect();
    migrate::redo(&mut conn).expect("down and up");
    drop(conn);
    assert_eq!(columns(db), before, "down and up again gives the same");
    before
}

#[test]
fn both_databases_hold_the_same_tables() {
    let sqlite = schema_holds(&Db::sqlite(), Dialect::Sqlite);
    let postgres = schema_holds(&Db::postgres(), Dialect::Postgres);
    let shape = |all: &Columns| {
        all.iter().map(|(c, (_, required))| (c.clone(), *required)).collect::<Vec<_>>()
    };
    let (sqlite, postgres) = (shape(&sqlite), shape(&postgres));
    let differ = sqlite.iter().filter(|c| !postgres.contains(c));
    let differ: Vec<_> = differ.chain(postgres.iter().filter(|c| !sqlite.contains(c))).collect();
    assert!(differ.is_empty(), "{differ:?}");
}

/// A list that grows with the program has no CHECK in either database; lists of the trade have.
#[test]
fn growing_lists_have_no_check() {
    for db in [Db::sqlite(), Db::postgres()] {
        drop(Store::open(&StoreConfig::new(&db.url, 1)).expect("opened"));
        let sql = if db.is_sqlite() {
            "SELECT sql FROM sqlite_schema WHERE type = 'table' AND sql IS NOT NULL"
        } else {
            "SELECT CAST(pg_get_constraintdef(c.oid) AS TEXT) FROM pg_constraint c \
             WHERE c.connamespace = CAST(current_schema() AS regnamespace)"
        };
        let rows = db.connect().rows(sql, &[], &[ColumnType::Text]).expect("declarations");
        let text: String = rows.iter().filter_map(|row| row[0].as_text()).collect();
        assert!(text.contains("'indigenous_chickens'"), "checks are read");
        for list in GROWING {
            let word = format!("'{}'", list[0]);
            assert!(!text.contains(&word), "{word}");
        }
    }
}

#[test]
fn a_database_of_a_later_version_is_refused() {
    let db = Db::sqlite();
    let config = StoreConfig::new(&db.url, 1);
    drop(Store::open(&config).expect("opened"));
    let sql = "INSERT INTO __diesel_schema_migrations (version) VALUES ('9999')";
    db.connect().exec(sql, &[]).expect("written");
    assert!(
        matches!(Store::open(&config), Err(StoreError::Version(text)) if text.contains("9999"))
    );
}

#[test]
fn unusable_addresses_are_refused_with_what_to_do() {
    for url in ["", "mysql://x", "sqlite:", "traybook.sqlite"] {
        let config = StoreConfig::new(url, 1);
        assert!(matches!(Store::open(&config), Err(StoreError::Config(_))), "{url}");
    }
    let config = StoreConfig::new("sqlite:/nowhere/at/all/x.sqlite", 1);
    assert!(
        matches!(Store::open(&config), Err(StoreError::Unavailable(t)) if t.contains("nowhere"))
    );
}

#[test]
fn sqlite_runs_with_full_synchronisation() {
    let db = Db::sqlite();
    let mut conn = db.connect();
    for (pragma, want) in [("synchronous", 2), ("foreign_keys", 1), ("trusted_schema", 0)] {
        let sql = format!("SELECT {pragma} FROM pragma_{pragma}");
        let row = conn.row(&sql, &[], &[ColumnType::Int]).expect("pragma").expect("a row");
        assert_eq!(row[0], Value::Int(want), "{pragma}");
    }
}

/// A row of a table that has nothing but numbers.
fn count_row(conn: &mut Conn, key: i64, value: i64) -> Result<usize, StoreError> {
    conn.exec(
        "INSERT INTO coop_counters (coop_id, change_seq, access_version) VALUES (?, ?, 0)",
        &[Bind::int(key), Bind::int(value)],
    )
}

/// A hundred writes at once: a failing one undoes only itself, all others are there.
fn one_failed_write_undoes_only_itself(w: World) {
    let store = w.app.store.clone();
    let results = w.wait(async {
        let mut tasks = Vec::new();
        for n in 0..100_i64 {
            let store = store.clone();
            tasks.push(tokio::spawn(async move {
                store
                    .write(move |conn| {
                        count_row(conn, 1_000 + n, n)?;
                        // Every tenth write fails halfway, on a key that another row has.
                        count_row(conn, if n % 10 == 0 { 1_000 + n } else { 2_000 + n }, n)?;
                        Ok::<_, StoreError>(n)
                    })
                    .await
            }));
        }
        let mut results = Vec::new();
        for task in tasks {
            results.push(task.await.expect("task"));
        }
        results
    });
    let failed = results.iter().filter(|r| matches!(r, Err(StoreError::Duplicate(_)))).count();
    assert_eq!((failed, results.iter().filter(|r| r.is_ok()).count()), (10, 90));
    let sql = "SELECT CAST(COUNT(*) AS BIGINT) FROM coop_counters WHERE coop_id >= 1000";
    let row = w.db.connect().row(sql, &[], &[ColumnType::Int]).expect("count").expect("a row");
    assert_eq!(row[0], Value::Int(180));
}

fn a_write_that_panics_keeps_nothing(w: World) {
    let store = w.app.store.clone();
    let panicked = w.wait(store.write(|conn| {
        count_row(conn, 5_000, 1)?;
        if conn.is_sqlite() || !conn.is_sqlite() {
            panic!("a mistake of ours, on purpose");
        }
        Ok::<_, StoreError>(())
    }));
    assert!(matches!(panicked, Err(StoreError::Internal(_))));
    // The next ones, on every connection, neither see nor keep what it did.
    for n in 0..6 {
        w.wait(store.write(move |conn| count_row(conn, 6_000 + n, 1).map(drop))).expect("written");
    }
    let sql = "SELECT CAST(COUNT(*) AS BIGINT) FROM coop_counters WHERE coop_id >= 5000";
    let row = w.db.connect().row(sql, &[], &[ColumnType::Int]).expect("count").expect("a row");
    assert_eq!(row[0], Value::Int(6));
}

fn references_can_not_point_into_another_cooperative(w: World) {
    let mut conn = w.db.connect();
    let wrong = conn.exec(
        "UPDATE sheds SET farm_id = ? WHERE id = ?",
        &[Bind::id(w.b.id("farm")), Bind::id(w.a.id("shed"))],
    );
    assert!(matches!(wrong, Err(StoreError::Reference(_))), "{wrong:?}");
}

/// The database throws every connection out (PostgreSQL), or another process holds it (SQLite):
/// the server answers again by itself, and meanwhile says that it will pass.
fn a_lost_connection_passes(w: World) {
    let manager = w.sign_in("manager");
    let supplier = |n: u32| json!({ "name": format!("Supplier {n}") });
    manager.post("/v1/suppliers", &supplier(1)).expect(201);
    let mut other = w.db.connect();
    if w.db.is_sqlite() {
        other.exec("BEGIN IMMEDIATE", &[]).expect("locked");
        let busy = manager.post("/v1/suppliers", &supplier(2)).expect(503);
        assert!(busy.header("retry-after").is_some());
        other.exec("ROLLBACK", &[]).expect("free");
    } else {
        other
            .rows(
                "SELECT CAST(COUNT(pg_terminate_backend(pid)) AS BIGINT) FROM pg_stat_activity \
                 WHERE pid <> pg_backend_pid() AND application_name = 'traybook' \
                 AND query NOT LIKE '%pg_terminate%' AND backend_start > now() - interval '2 minutes' \
                 AND pid IN (SELECT pid FROM pg_stat_activity WHERE state = 'idle')",
                &[],
                &[ColumnType::Int],
            )
            .expect("terminated");
    }
    let until = Instant::now() + Duration::from_secs(30);
    loop {
        let answer = manager.post("/v1/suppliers", &supplier(3));
        match answer.status {
            201 => break,
            503 => assert!(answer.header("retry-after").is_some()),
            other => panic!("{other}: {}", answer.text),
        }
        assert!(Instant::now() < until, "the server did not recover");
    }
    assert_eq!(manager.get("/v1/suppliers?q=supplier").expect(200).items().len(), 2);
}

/// A list in its order reads an index from its end: no table is scanned or sorted.
fn large_lists_use_an_index(w: World) {
    let mut conn = w.db.connect();
    if !w.db.is_sqlite() {
        // On tables this small PostgreSQL would rather scan.
        conn.batch("SET enable_seqscan = off; SET enable_sort = off; SET enable_bitmapscan = off")
            .expect("settings");
    }
    for kind in Kind::ALL {
        let Some(order) = order_field(*kind) else { continue };
        let table = kind.spec().table();
        let mut filters = vec![String::new()];
        if kind.spec().field("farm_id").is_some_and(|f| f.required || f.derived) {
            filters.push(" AND farm_id = ?".to_owned());
        }
        for filter in filters {
            let explain = if w.db.is_sqlite() { "EXPLAIN QUERY PLAN" } else { "EXPLAIN" };
            let sql = format!(
                "{explain} SELECT id FROM {table} WHERE coop_id = ?{filter} AND withdrawn_at IS NULL \
                 ORDER BY {order} DESC, id DESC LIMIT 50"
            );
            let mut binds = vec![Bind::int(1)];
            if !filter.is_empty() {
                binds.push(Bind::id(w.a.id("farm")));
            }
            let types: &[ColumnType] = if w.db.is_sqlite() {
                &[ColumnType::Int, ColumnType::Int, ColumnType::Int, ColumnType::Text]
            } else {
                &[ColumnType::Text]
            };
            let plan = format!("{:?}", conn.rows(&sql, &binds, types).expect("plan"));
            let bad = ["SCAN", "TEMP B-TREE", "Seq Scan", "Sort"];
            assert!(!bad.iter().any(|b| plan.contains(b)), "{table}{filter}: {plan}");
        }
    }
}

/// The lookups behind every write and every batch list find single records, not a co-operative.
fn lookups_use_their_index(w: World) {
    let mut conn = w.db.connect();
    if !w.db.is_sqlite() {
        conn.batch("SET enable_seqscan = off; SET enable_bitmapscan = off").expect("settings");
    }
    let id = || Bind::id(w.a.id("farm"));
    let day = || Bind::date("2026-03-01".parse().expect("a day"));
    let cases: [(&str, Vec<Bind>, &str); 7] = [
        (
            "SELECT id FROM milk_records WHERE coop_id = ? AND farm_id = ? AND date = ? AND \
             animal_group_id = ? AND withdrawn_at IS NULL",
            vec![Bind::int(1), id(), day(), id()],
            "milk_records_farm_order",
        ),
        (
            "SELECT id FROM batch_events WHERE coop_id = ? AND batch_id IN (?, ?) AND \
             withdrawn_at IS NULL ORDER BY id",
            vec![Bind::int(1), id(), id()],
            "batch_events_batch_id",
        ),
        (
            "SELECT date, reason, head FROM head_counts WHERE coop_id = ? AND animal_group_id = ? \
             AND withdrawn_at IS NULL ORDER BY date, created_at, id",
            vec![Bind::int(1), id()],
            "head_counts_animal_group_id",
        ),
        (
            "SELECT id FROM farms WHERE coop_id = ? AND member_id = ?",
            vec![Bind::int(1), id()],
            "farms_member_id",
        ),
        (
            "SELECT date, kg, cost FROM feed_purchases WHERE coop_id = ? AND farm_id = ? AND \
             feed_id = ? AND withdrawn_at IS NULL ORDER BY date, id",
            vec![Bind::int(1), id(), id()],
            "feed_purchases_farm_id_feed_id_date",
        ),
        (
            "SELECT date, kg FROM feed_counts WHERE coop_id = ? AND farm_id = ? AND feed_id = ? \
             AND date >= ? AND withdrawn_at IS NULL ORDER BY date, id",
            vec![Bind::int(1), id(), id(), day()],
            "feed_counts_farm_id_feed_id_date",
        ),
        (
            "SELECT id FROM batches WHERE coop_id = ? AND code = ? AND withdrawn_at IS NULL",
            vec![Bind::int(1), Bind::text("B1")],
            "batches_code_key",
        ),
    ];
    for (sql, binds, index) in cases {
        let (explain, types): (&str, &[ColumnType]) = if w.db.is_sqlite() {
            (
                "EXPLAIN QUERY PLAN",
                &[ColumnType::Int, ColumnType::Int, ColumnType::Int, ColumnType::Text],
            )
        } else {
            ("EXPLAIN", &[ColumnType::Text])
        };
        let plan = conn.rows(&format!("{explain} {sql}"), &binds, types).expect("plan");
        let plan = format!("{plan:?}");
        // PostgreSQL counts its rows itself; on a handful of them any index will do.
        let good = if w.db.is_sqlite() { plan.contains(index) } else { !plan.contains("Seq Scan") };
        assert!(good, "{sql}: {plan}");
    }
}

/// Kills a writing process many times: what it acknowledged is there, nothing is half there.
#[test]
fn sqlite_keeps_what_was_acknowledged_when_the_process_dies() {
    if let Some(path) = env("TRAYBOOK_CRASH_FILE") {
        return write_until_killed(&path);
    }
    let db = Db::sqlite();
    let path = db.url.strip_prefix("sqlite:").expect("a file").to_owned();
    drop(app_on(&db));
    let mut acknowledged = 0;
    for round in 0..8_u64 {
        let exe = std::env::current_exe().expect("this test");
        let mut child = std::process::Command::new(exe)
            .args(["--exact", "--nocapture"])
            .arg("storage::sqlite_keeps_what_was_acknowledged_when_the_process_dies")
            .env("TRAYBOOK_CRASH_FILE", &path)
            .stdout(std::process::Stdio::piped())
            .spawn()
            .expect("a child");
        let out = child.stdout.take().expect("output");
        let lines = std::io::BufRead::lines(std::io::BufReader::new(out));
        let mut last = None;
        for line in lines.map_while(Result::ok) {
            if let Some(n) = line.strip_prefix("ack ").and_then(|t| t.parse::<u64>().ok()) {
                last = Some(n);
                if n % 40 >= 20 + round {
                    child.kill().expect("killed");
                }
            }
        }
        child.wait().expect("ended");
        acknowledged = last.expect("at least one acknowledgement").max(acknowledged);
        let mut conn = db.connect();
        let sql = "SELECT CAST(COUNT(*) AS BIGINT) FROM coop_counters WHERE coop_id % 2 = ?";
        let mut count = |rest: i64| {
            let row = conn.row(sql, &[Bind::int(rest)], &[ColumnType::Int]).expect("count");
            row.expect("a row")[0].as_int().expect("a number")
        };
        let (a, b) = (count(0), count(1));
        assert_eq!(a, b, "both rows of a write or none");
        assert!(a >= i64::try_from(acknowledged).expect("small"), "{a} < {acknowledged}");
    }
}

fn write_until_killed(path: &str) {
    let config = StoreConfig::new(format!("sqlite:{path}"), 1);
    let store = Store::open(&config).expect("opened");
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    let runtime = runtime.expect("runtime");
    let sql = "SELECT CAST(COUNT(*) AS BIGINT) FROM coop_counters WHERE coop_id % 2 = 0";
    let begin = runtime.block_on(store.read(move |conn| conn.row(sql, &[], &[ColumnType::Int])));
    let begin = begin.expect("count").expect("a row")[0].as_int().expect("a number");
    for n in begin.. {
        let write = store.write(move |conn| {
            for side in [0, 1] {
                count_row(conn, 2 * n + side, n)?;
            }
            Ok::<_, StoreError>(())
        });
        runtime.block_on(write).expect("written");
        println!("ack {}", n + 1);
        if n > begin + 2_000 {
            break;
        }
    }
}
