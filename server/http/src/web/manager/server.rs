//! How the server is, for the operator: what needs somebody, then the facts.

use crate::web::blocks::{Block, Leaf};
use crate::web::page::{NONE, Page, counted, figure};
use crate::web::site::Shown;
use crate::web::visit::Visit;
use traybook_answers::server::{ServerCarrier, ServerDisk, ServerState, ServerWorry};
use traybook_domain::limits::{BACKUP_OLD_PAUSES, TEXTS_WAIT_MS};

pub(crate) async fn show_server(visit: Visit) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    let state = visit.state.app.server_state(actor).await?;
    let mut leaf = Leaf::new(page.clone(), page.say("server-title"));
    for worry in &state.worries {
        leaf.add(Block::Caution(said(&page, &state, *worry)));
    }
    if state.worries.is_empty() {
        leaf.add(Block::Notice(page.say("server-well")));
    }
    leaf.add(Block::Text(page.with("server-at", "moment", page.moment(&state.at))));
    leaf.heading("server-backups").add(Block::Facts(backups(&page, &state)));
    leaf.heading("server-disks").add(Block::Facts(disks(&page, &state)));
    leaf.heading("server-database").add(Block::Facts(database(&page, &state)));
    if !state.carriers.is_empty() {
        leaf.heading("server-carriers").add(Block::Facts(carriers(&page, &state)));
    }
    leaf.heading("server-program").add(Block::Facts(program(&page, &state)));
    leaf.text("server-runbook");
    leaf.show()
}

/// What somebody should see to, and how.
fn said(page: &Page, state: &ServerState, worry: ServerWorry) -> String {
    let key = format!("server-worry-{}", worry.text());
    match worry {
        ServerWorry::BackupOld => {
            let hours = i64::from(state.backups.every_hours.unwrap_or_default());
            page.with(&key, "hours", hours * BACKUP_OLD_PAUSES)
        }
        ServerWorry::TextsWait => page.with(&key, "minutes", TEXTS_WAIT_MS.div_euclid(60_000)),
        ServerWorry::FiguresFailed => page.with(&key, "count", counted(&state.figures_failed, 0)),
        ServerWorry::CertificateEnds => page.with(&key, "date", page.day(&state.certificate_until)),
        _ => page.say(&key),
    }
}

fn backups(page: &Page, state: &ServerState) -> Vec<(String, String)> {
    let backups = &state.backups;
    let every =
        backups.every_hours.map(|hours| page.with("server-hours", "hours", i64::from(hours)));
    let mut facts = vec![
        (page.say("server-last"), or_none(page.moment(&backups.last_at))),
        (page.say("server-every"), every.unwrap_or_else(|| page.say("server-never"))),
    ];
    if backups.failed_at.is_some() {
        facts.push((page.say("server-failed"), page.moment(&backups.failed_at)));
    }
    facts
}

fn disks(page: &Page, state: &ServerState) -> Vec<(String, String)> {
    let line = |disk: &ServerDisk| {
        let args = [
            ("free", size(page, disk.free_bytes).into()),
            ("all", size(page, disk.bytes).into()),
            ("needed", size(page, disk.needed_bytes).into()),
        ];
        (page.word("server-disk", disk.holds.text()), page.tell("server-room", &args))
    };
    match state.disks.is_empty() {
        true => vec![(page.say("server-disks"), page.say("server-elsewhere"))],
        false => state.disks.iter().map(line).collect(),
    }
}

fn database(page: &Page, state: &ServerState) -> Vec<(String, String)> {
    let database = &state.database;
    let kind = page.word("server-kind", database.kind.text());
    let mut facts = vec![
        (page.say("server-kind"), format!("{kind} {}", database.version)),
        (page.say("server-size"), size(page, database.bytes)),
        (page.say("server-tables"), database.tables.clone()),
    ];
    if database.looked_at.is_some() {
        facts.push((page.say("server-looked"), page.moment(&database.looked_at)));
    }
    if let Some(damage) = &database.damage {
        facts.push((page.say("server-damage"), damage.clone()));
    }
    facts
}

fn carriers(page: &Page, state: &ServerState) -> Vec<(String, String)> {
    let line = |carrier: &ServerCarrier| {
        let args = [
            ("heard", or_none(page.moment(&carrier.heard_at)).into()),
            ("waiting", counted(&carrier.waiting, 0)),
        ];
        (carrier.name.clone(), page.tell("server-carrier", &args))
    };
    state.carriers.iter().map(line).collect()
}

fn program(page: &Page, state: &ServerState) -> Vec<(String, String)> {
    let memory = state.memory_bytes.map(|bytes| size(page, bytes));
    let mut facts = vec![
        (page.say("server-version"), state.version.clone()),
        (page.say("server-started"), or_none(page.moment(&state.started_at))),
        (page.say("server-memory"), memory.unwrap_or_else(|| NONE.to_owned())),
    ];
    if state.certificate_until.is_some() {
        facts.push((page.say("server-certificate"), page.moment(&state.certificate_until)));
    }
    facts
}

fn or_none(text: String) -> String {
    if text.is_empty() { NONE.to_owned() } else { text }
}

/// Bytes as people read them: decimal, as disks are sold (IEC 80000-13 keeps MB for that).
fn size(page: &Page, bytes: i64) -> String {
    // A size is far below the numbers that floating point can not hold.
    #[expect(clippy::cast_precision_loss, reason = "shown with three digits")]
    let bytes = bytes as f64;
    let (value, key) = match bytes {
        _ if bytes >= 1e9 => (bytes / 1e9, "server-gb"),
        _ => (bytes / 1e6, "server-mb"),
    };
    let digits = if value < 10.0 { 1 } else { 0 };
    page.with(key, "amount", figure(value, digits))
}
