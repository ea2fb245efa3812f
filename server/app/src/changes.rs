//! Everything that changed since a cursor.

use crate::ctx::{Actor, App};
use crate::error::AppError;
use crate::represent::Presenter;
use std::collections::HashMap;
use traybook_answers::records::{ChangedRecord, Changes};
use traybook_answers::wire::AnyRecord;
use traybook_domain::authz::{Action, Reach, Task, task_reach};
use traybook_domain::{Kind, limits};
use traybook_storage::changes::{self, Change};
use traybook_storage::records::{self, Record};
use uuid::Uuid;

/// Lines of the feed looked through for one answer, so that a member's answer stays quick in a
/// large co-operative.
const SCAN_MAX: usize = 10_000;

/// Where a device stands: the last change it has seen, and who could see what at that time.
struct Cursor {
    seq: i64,
    access: i64,
}

fn read_cursor(text: &str) -> Option<Cursor> {
    let mut parts = text.strip_prefix('c')?.split('.');
    let seq: i64 = parts.next()?.parse().ok()?;
    let access: i64 = parts.next()?.parse().ok()?;
    (parts.next().is_none() && seq >= 0 && access >= 0).then_some(Cursor { seq, access })
}

impl App {
    /// What changed after a cursor, withdrawals included, within what the person may see.
    ///
    /// # Errors
    /// `Forbidden`; `Cursor` for one that is not of this feed, with `gone` when the person may
    /// since see other farms and must begin from the start.
    pub async fn changes(
        &self,
        actor: &Actor,
        cursor: Option<String>,
        limit: usize,
    ) -> Result<Changes, AppError> {
        actor.task(Task::Changes)?;
        let limited = task_reach(actor.role, Task::Changes) != Reach::All;
        let (actor, now) = (actor.clone(), self.now());
        self.store
            .read(move |conn| {
                let number = actor.coop.number;
                let counters = changes::counters(conn, number)?;
                let from = match cursor.as_deref().map(read_cursor) {
                    None => Cursor { seq: 0, access: counters.access_version },
                    Some(None) => return Err(AppError::Cursor { gone: false }),
                    Some(Some(c)) if c.seq > counters.change_seq => {
                        return Err(AppError::Cursor { gone: true });
                    }
                    Some(Some(c)) => c,
                };
                if limited && from.access != counters.access_version {
                    return Err(AppError::Cursor { gone: true });
                }
                let lines = changes::after(conn, number, from.seq, SCAN_MAX)?;
                let mut newest: HashMap<(Kind, Uuid), i64> = HashMap::new();
                for line in &lines {
                    newest.insert((line.kind, line.id), line.seq);
                }
                let show = Presenter::new(conn, &actor.coop, now)?;
                let (mut items, mut seq) = (Vec::new(), from.seq);
                let mut whole = true;
                for line in &lines {
                    if items.len() >= limit {
                        whole = false;
                        break;
                    }
                    seq = line.seq;
                    if newest.get(&(line.kind, line.id)) != Some(&line.seq) {
                        continue;
                    }
                    if let Some(record) = seen(conn, &actor, line)? {
                        items.push(item(conn, &show, line, record)?);
                    }
                }
                let has_more = !whole || lines.len() == SCAN_MAX;
                let next = format!("c{seq}.{}", counters.access_version);
                Ok(Changes { items, next, has_more })
            })
            .await
    }
}

/// The record of a line as it is now, if the person may see it.
fn seen(
    conn: &mut traybook_storage::Conn,
    actor: &Actor,
    line: &Change,
) -> Result<Option<Record>, AppError> {
    let Ok(visible) = actor.visible(Action::Read, line.kind) else { return Ok(None) };
    let number = actor.coop.number;
    let Some(record) = records::find(conn, number, line.kind, line.id)? else { return Ok(None) };
    let may = records::is_visible(conn, number, line.kind, &record.values, line.id, &visible)?;
    Ok(may.then_some(record))
}

fn item(
    conn: &mut traybook_storage::Conn,
    show: &Presenter<'_>,
    line: &Change,
    record: Record,
) -> Result<ChangedRecord, AppError> {
    let is_withdrawn = record.withdrawn_at.is_some();
    let version = record.version;
    let record = match is_withdrawn {
        true => None,
        false => Some(AnyRecord(show.one(conn, line.kind, record)?)),
    };
    let kind = line.kind.spec().one.to_owned();
    Ok(ChangedRecord { kind, id: line.id, version, is_withdrawn, record })
}

/// Most entries of one answer.
pub const LIMIT_MAX: usize = limits::CHANGES_PAGE_MAX;
