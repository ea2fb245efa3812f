//! The savings report of all farms, for histories of different length.

use crate::Places;
use crate::process::Server;
use crate::table::{Table, median};
use acceptance::world::app_on_url;
use std::time::Instant;
use traybook_app::Actor;

const MONTH: &str = "2026-02";
const TIMES: usize = 11;

/// Milliseconds of the report as the server makes it, without the network.
pub fn in_process(places: &Places, months: usize, table: &mut Table) {
    let copy = places.copy(&places.database(months), "report.sqlite");
    let (app, _clock) = app_on_url(&format!("sqlite:{}", copy.display()));
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    let runtime = runtime.expect("a runtime");
    let coop = runtime.block_on(app.choose_cooperative(None)).expect("the co-operative");
    let actor = Actor::machine(coop);
    let mut farms = 0;
    let took = times(|| {
        let text = runtime
            .block_on(app.savings_text(&actor, MONTH, traybook_app::savings::Form::Json))
            .expect("a report");
        farms = text.matches("\"farm_id\"").count();
    });
    let what = format!("savings report, {farms} farms, {months} months of history");
    table.line(&what, format!("{took:.1} ms"), None, "< 50 ms");
}

/// The same through the server.
pub fn over_http(server: &Server, months: usize, table: &mut Table) {
    let manager = server.manager();
    let path = format!("/v1/reports/savings?month={MONTH}");
    let took = times(|| {
        manager.send("GET", &path, &[("accept-encoding", "identity")], None).expect(200);
    });
    let what = format!("  the same as JSON over HTTP, {months} months");
    table.line(&what, format!("{took:.1} ms"), None, "");
}

fn times(mut work: impl FnMut()) -> f64 {
    work();
    let one = |_| {
        let started = Instant::now();
        work();
        started.elapsed().as_secs_f64() * 1000.0
    };
    median((0..TIMES).map(one).collect())
}
