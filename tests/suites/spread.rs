//! Tables that a distributed PostgreSQL spreads over several machines. There is none here: plain
//! PostgreSQL refuses to partition by hash what such a database refuses to spread (PostgreSQL
//! documentation, 5.11.2.3: a unique or primary key must include all columns of the partition key),
//! and functions that stand in for its own record what they are asked.

use acceptance::world::app_on_url;
use acceptance::{Db, World, both};
use serde_json::json;
use sha2::{Digest as _, Sha256};
use std::collections::BTreeSet;
use traybook_app::AppError;
use traybook_domain::ColumnType;
use traybook_storage::copies::spread::{Spread, tables};
use traybook_storage::{Bind, Conn};

both!(
    every_table_stands_in_the_list,
    secrets_of_an_older_program_hold,
    secrets_name_their_cooperative,
    a_login_is_known_where_it_is_used
);

fn texts(conn: &mut Conn, sql: &str) -> Vec<String> {
    let rows = conn.rows(sql, &[], &[ColumnType::Text]).expect("rows");
    rows.iter().map(|row| row[0].as_text().expect("a text").to_owned()).collect()
}

fn every_table_stands_in_the_list(w: World) {
    let sql = if w.db.is_sqlite() {
        "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite\\_%' \
         ESCAPE '\\' AND name NOT LIKE '\\_\\_%' ESCAPE '\\'"
    } else {
        "SELECT CAST(table_name AS TEXT) FROM information_schema.tables WHERE table_schema = \
         current_schema() AND table_type = 'BASE TABLE' AND table_name NOT LIKE '\\_\\_%'"
    };
    let there: BTreeSet<String> = texts(&mut w.db.connect(), sql).into_iter().collect();
    let listed: BTreeSet<String> = tables().into_iter().map(|(name, _)| name).collect();
    assert_eq!(
        there, listed,
        "a new table says how it is spread: server/storage/src/copies/spread.rs"
    );
}

#[test]
fn every_table_can_be_spread_by_its_column() {
    let db = Db::postgres();
    drop(app_on_url(&db.url));
    let mut conn = db.connect();
    for (table, spread) in tables() {
        let (Spread::Cooperative(column) | Spread::Key(column)) = spread else { continue };
        let sql =
            format!("CREATE TABLE z (LIKE {table} INCLUDING ALL) PARTITION BY HASH ({column})");
        conn.batch(&sql).unwrap_or_else(|e| panic!("{table}: {e:?}"));
        conn.batch("DROP TABLE z").expect("dropped");
    }
}

/// Functions with the names and arguments of the extension's, in the test's own schema.
const STAND_IN: &str = "
CREATE TABLE pg_dist_partition (logicalrel REGCLASS, asked TEXT, at SERIAL);
CREATE FUNCTION create_distributed_table(t REGCLASS, c TEXT, colocate_with TEXT DEFAULT 'default')
RETURNS VOID LANGUAGE sql AS
$$ INSERT INTO pg_dist_partition (logicalrel, asked) VALUES (t, c || ' ' || colocate_with) $$;
CREATE FUNCTION create_reference_table(t REGCLASS) RETURNS VOID LANGUAGE sql AS
$$ INSERT INTO pg_dist_partition (logicalrel, asked) VALUES (t, 'everywhere') $$;";

#[test]
fn tables_are_spread_in_an_order_that_references_allow() {
    let db = Db::postgres();
    let (app, _) = app_on_url(&db.url);
    let runtime = tokio::runtime::Runtime::new().expect("runtime");
    assert_eq!(runtime.block_on(app.local_tables()).expect("read"), None);
    let refused = runtime.block_on(app.spread_tables()).expect_err("it can not");
    assert!(matches!(refused, AppError::Conflict { code: "can_not_spread", .. }), "{refused:?}");
    let mut conn = db.connect();
    conn.batch(STAND_IN).expect("stand-ins");
    let all = tables().len();
    assert_eq!(runtime.block_on(app.local_tables()).expect("read").map(|t| t.len()), Some(all));
    assert_eq!(runtime.block_on(app.spread_tables()).expect("spread"), all);
    assert_eq!(runtime.block_on(app.local_tables()).expect("read"), Some(Vec::new()));
    assert_eq!(runtime.block_on(app.spread_tables()).expect("nothing left"), 0);
    let asked = texts(
        &mut conn,
        "SELECT CAST(logicalrel AS TEXT) || ' ' || asked FROM pg_dist_partition ORDER BY at",
    );
    assert_eq!(asked[0], "coop_counters coop_id default");
    for line in [
        "milk_records coop_id coop_counters",
        "security_log chain coop_counters",
        "logins login none",
        "coop_directory everywhere",
    ] {
        assert!(asked.iter().any(|a| a == line), "{line}: {asked:?}");
    }
    // A table that is spread may only refer to one that is spread already, or stands everywhere.
    let refers = texts(
        &mut conn,
        "SELECT CAST(conrelid AS REGCLASS) || ' ' || CAST(confrelid AS REGCLASS) FROM \
         pg_constraint WHERE contype = 'f' AND connamespace = CAST(current_schema() AS REGNAMESPACE)",
    );
    let place = |table: &str| asked.iter().position(|a| a.split(' ').next() == Some(table));
    assert!(refers.len() > 100, "{}", refers.len());
    for pair in refers {
        let (from, to) = pair.split_once(' ').expect("two tables");
        assert!(place(from).expect("spread") >= place(to).expect("spread"), "{pair}");
    }
    // A table made by a later program is seen.
    conn.exec("DELETE FROM pg_dist_partition WHERE asked = ?", &[Bind::text("login none")])
        .expect("as if it were new");
    let local = runtime.block_on(app.local_tables()).expect("read");
    assert_eq!(local, Some(vec!["logins".to_owned()]));
}

fn digest(secret: &str) -> String {
    Sha256::digest(secret.as_bytes()).iter().map(|b| format!("{b:02x}")).collect()
}

/// Makes what is kept of a secret that of one without the co-operative's number, as an older program
/// made it.
fn age(w: &World, (table, column): (&str, &str), (new, old): (&str, &str)) {
    let sql = format!("UPDATE {table} SET {column} = ? WHERE {column} = ?");
    let binds = [Bind::text(digest(old)), Bind::text(digest(new))];
    assert_eq!(w.db.connect().exec(&sql, &binds).expect("kept"), 1, "{table}");
}

fn secrets_of_an_older_program_hold(w: World) {
    let login =
        json!({ "login": "manager.a@coop.example", "password": acceptance::world::PASSWORD });
    let made = w.nobody.post("/v1/session", &login).expect(201).json();
    let secret = made["refresh_token"].as_str().expect("a token");
    let old = "0123456789abcdef".repeat(4);
    age(&w, ("sessions", "token_hash"), (secret, &old));
    let next = w.nobody.post("/v1/session/refresh", &json!({ "refresh_token": old })).expect(201);
    let next = next.json()["refresh_token"].as_str().expect("a token").to_owned();
    assert!(next.starts_with(&format!("{}-", w.a.coop.number)), "the next one names it: {next}");
    w.nobody.post("/v1/session/refresh", &json!({ "refresh_token": secret })).expect(401);
    // A code, in the signs of codes.
    let path = format!("/v1/people/{}/invitations", w.a.id("officer"));
    let code = w.sign_in("manager").send("POST", &path, &[], None).expect(201).json();
    let plain = code["code"].as_str().expect("a code").replace('-', "");
    let older = plain.get(plain.len() - 10..).expect("ten signs");
    age(&w, ("invitations", "code_hash"), (&plain, older));
    let taken = json!({ "code": older, "password": "seven brass kettles" });
    w.nobody.post("/v1/session/invitation", &taken).expect(204);
    // A calendar's address.
    let member = w.sign_in("member");
    let path = format!("/v1/farms/{}/calendar-links", w.a.id("farm"));
    let link = member.send("POST", &path, &[], None).expect(201).json();
    let secret = link["path"].as_str().expect("a path").strip_prefix("/calendar/").expect("it");
    w.nobody.get(&format!("/calendar/{secret}")).expect(200);
    age(&w, ("calendar_links", "secret_hash"), (secret, &old));
    w.nobody.get(&format!("/calendar/{old}")).expect(200);
    w.nobody.get(&format!("/calendar/{secret}")).expect(404);
}

fn secrets_name_their_cooperative(w: World) {
    let login =
        json!({ "login": "manager.a@coop.example", "password": acceptance::world::PASSWORD });
    let made = w.nobody.post("/v1/session", &login).expect(201).json();
    let secret = made["refresh_token"].as_str().expect("a token");
    let random = secret.strip_prefix(&format!("{}-", w.a.coop.number)).expect("the number");
    // The same random part under another number, or none, is nobody's.
    let other = w.b.coop.number;
    for wrong in [format!("{other}-{random}"), random.to_owned(), format!("-{random}")] {
        w.nobody.post("/v1/session/refresh", &json!({ "refresh_token": wrong })).expect(401);
    }
    for wrong in
        [format!("x-{random}"), format!("-1-{random}"), format!("99999999999999999999-{random}")]
    {
        w.nobody.post("/v1/session/refresh", &json!({ "refresh_token": wrong })).expect(401);
    }
    w.nobody.post("/v1/session/refresh", &json!({ "refresh_token": secret })).expect(201);
}

fn a_login_is_known_where_it_is_used(w: World) {
    let logins = || {
        let sql = "SELECT login FROM logins ORDER BY login, coop_id";
        texts(&mut w.db.connect(), sql)
    };
    let before = logins();
    let manager = w.sign_in("manager");
    let body = json!({ "code": "NEW", "name": "Rehema Mfano", "email": "rehema@coop.example",
        "phone": "+255700000777", "language": "en", "role": "officer", "active": true });
    let made = manager.post("/v1/people", &body).expect(201).json();
    let path = format!("/v1/people/{}", made["id"].as_str().expect("an id"));
    assert_eq!(logins().len(), before.len() + 2);
    manager.patch(&path, "\"1\"", &json!({ "email": "r.mfano@coop.example" })).expect(200);
    let now = logins();
    assert!(now.contains(&"r.mfano@coop.example".to_owned()));
    assert!(!now.contains(&"rehema@coop.example".to_owned()));
    manager.delete(&path, "\"2\"").expect(204);
    assert_eq!(logins(), before, "whoever is withdrawn is known no more");
}
