//! A member's pages of batches, against the two queries below them.

use crate::bare;
use crate::process::{Server, cpu};
use crate::table::{Table, rate};
use std::path::Path;
use std::time::{Duration, Instant};
use traybook_domain::Kind;
use traybook_storage::records::{self, Filter, Visible};
use traybook_storage::settings;
use uuid::Uuid;

const MEMBER: &str = "member@nyota.example";
const PATH: &str = "/v1/batches?limit=50";
const LENGTH: Duration = Duration::from_secs(6);

/// Measures one client that asks again and again, and the queries in this process.
pub fn measure(server: &Server, served: &Path, table: &mut Table) {
    let member = server.sign_in(MEMBER, "green basket morning");
    // Phones take gzip, which is the compressor's work and not measured here.
    let headers = [("accept-encoding", "identity")];
    let page = member.send("GET", PATH, &headers, None).expect(200);
    let size = page.items().len();
    let (over_http, http_cpu) = repeat(
        || server.cpu(),
        || {
            member.send("GET", PATH, &headers, None).expect(200);
        },
    );
    let (coop, id) = who(served);
    let url = served.display().to_string();
    let mut conn = settings::open_sqlite(&url).expect("a database");
    let (visible, filter) = (Visible::Member(id), Filter::default());
    let (bare, bare_cpu) = repeat(
        || cpu("self"),
        || {
            let mut page = records::page(&mut conn, coop, Kind::Batch, &visible, &filter, None, 51)
                .expect("a page");
            page.truncate(50);
            let ids: Vec<Uuid> = page.iter().map(|b| b.id).collect();
            let kind = Kind::BatchEvent;
            let events = records::by_reference(&mut conn, coop, kind, "batch_id", &ids);
            assert!(events.expect("events").len() >= size);
        },
    );
    let what = format!("pages of {size} batches with events: bare queries");
    table.line(&what, rate(bare, "pages"), None, "");
    let what = "  GET /v1/batches?limit=50 as a member";
    table.line(what, rate(over_http, "pages"), Some(over_http / bare), "");
    table.line("bare queries, by second of processor", rate(bare_cpu, "pages"), None, "");
    let what = "  GET /v1/batches?limit=50, the same";
    table.line(what, rate(http_cpu, "pages"), Some(http_cpu / bare_cpu), "0.60");
}

/// Does something for some seconds: how often by the second, and by the second of processor.
fn repeat(clock: impl Fn() -> f64, mut work: impl FnMut()) -> (f64, f64) {
    for _ in 0..50 {
        work();
    }
    let (started, before) = (Instant::now(), clock());
    let mut times = 0.0;
    while started.elapsed() < LENGTH {
        work();
        times += 1.0;
    }
    (times / started.elapsed().as_secs_f64(), times / (clock() - before))
}

fn who(database: &Path) -> (i64, Uuid) {
    let sql = "SELECT coop_id, member_id FROM people WHERE email = ?";
    let row = bare::open(database)
        .query_row(sql, [MEMBER], |row| Ok((row.get(0)?, row.get::<_, Vec<u8>>(1)?)));
    let (coop, id) = row.expect("a member who can sign in");
    (coop, Uuid::from_slice(&id).expect("an id"))
}
