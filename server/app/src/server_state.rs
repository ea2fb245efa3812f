//! How the server is, for whoever runs it: what is known, and what of it needs somebody.

use crate::copies::Facts;
use crate::{Actor, App, AppError};
use std::path::Path;
use traybook_answers::server::{
    DatabaseKind, DiskHolds, ServerBackups, ServerCarrier, ServerDatabase, ServerDisk, ServerState,
    ServerWorry,
};
use traybook_answers::wire::Time;
use traybook_domain::limits::{
    BACKUP_OLD_PAUSES, CERTIFICATE_ENDS_MS, DISK_FREE_DATABASES, DISK_FREE_MIN, TEXTS_WAIT_MS,
};
use traybook_domain::people::authz::Task;
use traybook_domain::value::Instant;
use traybook_storage::about::{self, About, room};
use traybook_storage::estimates::snapshots;

impl App {
    /// Statements that this process sent to the database.
    #[must_use]
    pub fn statements() -> u64 {
        traybook_storage::conn::statements()
    }

    /// How the server is.
    ///
    /// # Errors
    /// `Forbidden` for whoever does not run it; those of the store.
    pub async fn server_state(&self, actor: &Actor) -> Result<ServerState, AppError> {
        actor.task(Task::Server)?;
        let carriers = self.carriers_now().await?;
        let found = self
            .store
            .read(|conn| Ok::<_, AppError>((about::about(conn)?, snapshots::failed(conn)?)));
        let (about, figures_failed) = found.await?;
        let (facts, records) = (self.keeping.facts(), self.store.folder());
        let backups = facts.schedule.as_ref().map(|schedule| schedule.folder.clone());
        let bytes = about.bytes;
        // A disk of the network may keep whoever asks waiting.
        let disks = move || {
            let of = [(DiskHolds::Records, records), (DiskHolds::Backups, backups)];
            let all = of.into_iter().filter_map(|(holds, at)| disk(holds, &at?, bytes));
            (all.collect::<Vec<_>>(), memory())
        };
        let disks = tokio::task::spawn_blocking(disks).await;
        let (disks, memory_bytes) = disks.map_err(|e| AppError::Internal(e.to_string()))?;
        let state = ServerState {
            at: Time(self.now()),
            worries: Vec::new(),
            version: env!("CARGO_PKG_VERSION").to_owned(),
            started_at: facts.started_at.map(Time),
            memory_bytes,
            figures_failed,
            certificate_until: facts.certificate_until.map(Time),
            database: database(self.store.is_sqlite(), about, &facts),
            disks,
            backups: ServerBackups {
                every_hours: facts.schedule.map(|schedule| schedule.hours),
                last_at: facts.last_backup.map(Time),
                failed_at: facts.backup_failed.map(Time),
            },
            carriers,
        };
        Ok(ServerState { worries: worries(&state), ..state })
    }
}

fn database(is_sqlite: bool, about: About, facts: &Facts) -> ServerDatabase {
    ServerDatabase {
        kind: if is_sqlite { DatabaseKind::Sqlite } else { DatabaseKind::Postgresql },
        version: about.version,
        tables: about.tables,
        bytes: about.bytes,
        looked_at: facts.looked_at.filter(|_| is_sqlite).map(Time),
        damage: facts.damage.clone(),
    }
}

fn disk(holds: DiskHolds, at: &Path, database: i64) -> Option<ServerDisk> {
    let room = room(at)?;
    let needed_bytes = database.saturating_mul(DISK_FREE_DATABASES).max(DISK_FREE_MIN);
    Some(ServerDisk { holds, bytes: room.bytes, free_bytes: room.free_bytes, needed_bytes })
}

/// Memory of this process that is not swapped out (Linux, proc(5), statm: pages).
fn memory() -> Option<i64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|l| l.strip_prefix("VmRSS:"))?;
    let kilobytes: i64 = line.trim().strip_suffix("kB")?.trim().parse().ok()?;
    Some(kilobytes * 1024)
}

/// What somebody should see to, the worst first.
fn worries(state: &ServerState) -> Vec<ServerWorry> {
    let backups = &state.backups;
    let since = |at: Option<Time>| at.map_or(i64::MAX, |Time(at)| ms_between(at, state.at.0));
    let pause = backups.every_hours.map(|hours| i64::from(hours) * 3_600_000);
    // A server that was just started makes its first one now.
    let last = backups.last_at.max(state.started_at);
    let is_old = pause.is_some_and(|pause| since(last) > pause.saturating_mul(BACKUP_OLD_PAUSES));
    let waits = |c: &ServerCarrier| {
        c.waiting_since.is_some_and(|Time(at)| ms_between(at, state.at.0) > TEXTS_WAIT_MS)
    };
    let waits = state.carriers.iter().any(waits);
    let ends = state.certificate_until;
    let ends = ends.is_some_and(|Time(at)| ms_between(state.at.0, at) < CERTIFICATE_ENDS_MS);
    let all = [
        (ServerWorry::Damaged, state.database.damage.is_some()),
        (ServerWorry::DiskShort, state.disks.iter().any(|d| d.free_bytes < d.needed_bytes)),
        (ServerWorry::BackupFailed, backups.failed_at.is_some()),
        (ServerWorry::BackupOld, is_old),
        (ServerWorry::BackupNone, pause.is_none()),
        (ServerWorry::FiguresFailed, state.figures_failed > 0),
        (ServerWorry::TextsWait, waits),
        (ServerWorry::CertificateEnds, ends),
    ];
    all.into_iter().filter(|(_, is)| *is).map(|(worry, _)| worry).collect()
}

const fn ms_between(from: Instant, to: Instant) -> i64 {
    to.0.saturating_sub(from.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUR: i64 = 3_600_000;

    fn sound() -> ServerState {
        let at = Instant(1_000 * HOUR);
        let disk = |holds| ServerDisk { holds, bytes: 1_000, free_bytes: 500, needed_bytes: 500 };
        ServerState {
            at: Time(at),
            worries: Vec::new(),
            version: String::new(),
            started_at: Some(Time(Instant(0))),
            memory_bytes: None,
            figures_failed: 0,
            certificate_until: Some(Time(Instant(at.0 + CERTIFICATE_ENDS_MS))),
            database: ServerDatabase {
                kind: DatabaseKind::Sqlite,
                version: String::new(),
                tables: String::new(),
                bytes: 100,
                looked_at: None,
                damage: None,
            },
            disks: vec![disk(DiskHolds::Records), disk(DiskHolds::Backups)],
            backups: ServerBackups {
                every_hours: Some(24),
                last_at: Some(Time(Instant(at.0 - 48 * HOUR))),
                failed_at: None,
            },
            carriers: vec![ServerCarrier {
                name: "office".to_owned(),
                heard_at: None,
                waiting: 1,
                waiting_since: Some(Time(Instant(at.0 - TEXTS_WAIT_MS))),
            }],
        }
    }

    #[test]
    fn each_worry_is_said_from_its_bound_on_and_alone() {
        type Change = fn(&mut ServerState);
        let changes: [(ServerWorry, Change); 8] = [
            (ServerWorry::Damaged, |s| s.database.damage = Some("a page".to_owned())),
            (ServerWorry::DiskShort, |s| s.disks[1].free_bytes -= 1),
            (ServerWorry::BackupFailed, |s| s.backups.failed_at = Some(s.at)),
            (ServerWorry::BackupOld, |s| {
                s.backups.last_at = Some(Time(Instant(s.at.0.0 - 48 * HOUR - 1)));
            }),
            (ServerWorry::BackupNone, |s| {
                s.backups = ServerBackups { every_hours: None, last_at: None, failed_at: None }
            }),
            (ServerWorry::FiguresFailed, |s| s.figures_failed = 1),
            (ServerWorry::TextsWait, |s| {
                let since = Instant(s.at.0.0 - TEXTS_WAIT_MS - 1);
                s.carriers[0].waiting_since = Some(Time(since));
            }),
            (ServerWorry::CertificateEnds, |s| {
                s.certificate_until = Some(Time(Instant(s.at.0.0 + CERTIFICATE_ENDS_MS - 1)));
            }),
        ];
        assert_eq!(worries(&sound()), []);
        for (worry, change) in changes {
            let mut state = sound();
            change(&mut state);
            assert_eq!(worries(&state), [worry]);
        }
        assert_eq!(changes.len(), ServerWorry::ALL.len());
    }

    #[test]
    fn a_server_that_was_just_started_has_no_old_backup_yet() {
        let mut state = sound();
        (state.started_at, state.backups.last_at) = (Some(state.at), None);
        assert_eq!(worries(&state), []);
        state.started_at = Some(Time(Instant(state.at.0.0 - 49 * HOUR)));
        assert_eq!(worries(&state), [ServerWorry::BackupOld]);
    }
}
