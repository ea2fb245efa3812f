//! Everything that changed since a cursor.

use super::represent::Presenter;
use crate::error::AppError;
use crate::{Actor, App};
use std::collections::{BTreeMap, HashMap, HashSet};
use traybook_answers::records::{ChangedRecord, Changes, Life};
use traybook_answers::wire::{AnyRecord, Time};
use traybook_domain::people::authz::{Action, Reach, Task, task_reach};
use traybook_domain::value::Instant;
use traybook_domain::{Kind, limits};
use traybook_storage::Conn;
use traybook_storage::records::changes::{self, Change, Counters};
use traybook_storage::records::{self, Record, Visible};
use traybook_storage::records::{farm_rows, feed_floors};
use uuid::Uuid;

/// Lines of the feed looked through for one answer, so that a member's answer stays quick in a
/// large co-operative.
const SCAN_MAX: usize = 10_000;

/// Where a device stands: the last change it has seen, who could see what at that time, and in
/// which life of the records.
struct Cursor {
    seq: i64,
    access: i64,
    epoch: i64,
    /// Floor of the feed that a reading from the start began with, as long as it is below it.
    floor: i64,
}

fn read_cursor(text: &str) -> Option<Cursor> {
    let (place, epoch) = text.strip_prefix('c')?.split_once('-').unwrap_or((text.get(1..)?, "0"));
    let (place, floor) = place.split_once('f').unwrap_or((place, "0"));
    let mut parts = place.split('.');
    let seq: i64 = parts.next()?.parse().ok()?;
    let access: i64 = parts.next()?.parse().ok()?;
    let floor: i64 = floor.parse().ok()?;
    let epoch = i64::from_str_radix(epoch, 16).ok()?;
    let is_whole = parts.next().is_none() && seq.min(access).min(epoch).min(floor) >= 0;
    is_whole.then_some(Cursor { seq, access, epoch, floor })
}

/// A cursor as devices keep it. Those of the first life have no epoch.
fn write_cursor(cursor: &Cursor) -> String {
    let Cursor { seq, access, epoch, floor } = cursor;
    let floor = if seq < floor { format!("f{floor}") } else { String::new() };
    match epoch {
        0 => format!("c{seq}.{access}{floor}"),
        _ => format!("c{seq}.{access}{floor}-{epoch:x}"),
    }
}

/// The life of the records as answers name it, and the instant of the backup that it began with.
pub(crate) fn life(counters: Counters) -> Life {
    let restored_to = counters.restored_to.map(|ms| Time(Instant(ms)));
    Life { epoch: format!("{:x}", counters.epoch), restored_to }
}

impl App {
    /// What changed after a cursor, withdrawals included, within what the person may see.
    ///
    /// # Errors
    /// `Forbidden`; `Cursor` for one that is not of this feed, with `gone` when the person may
    /// since see other farms, or the feed has forgotten withdrawals since, and must begin from the
    /// start; `Restored` for one of before a restore.
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
                let floor = feed_floors::floor(conn, number)?;
                let from = match cursor.as_deref().map(read_cursor) {
                    None => {
                        let (access, epoch) = (counters.access_version, counters.epoch);
                        Cursor { seq: 0, access, epoch, floor }
                    }
                    Some(None) => return Err(AppError::Cursor { gone: false }),
                    Some(Some(c)) if c.epoch != counters.epoch => return Err(AppError::Restored),
                    Some(Some(c)) if c.seq > counters.change_seq => {
                        return Err(AppError::Cursor { gone: true });
                    }
                    // Withdrawals that it has not seen may be forgotten.
                    Some(Some(c)) if c.seq < floor && c.floor != floor => {
                        return Err(AppError::Cursor { gone: true });
                    }
                    Some(Some(c)) => c,
                };
                if limited && from.access != counters.access_version {
                    return Err(AppError::Cursor { gone: true });
                }
                let lines = changes::after(conn, number, from.seq, SCAN_MAX)?;
                let reader = Reader::new(conn, &actor)?;
                let page = reader.page(&lines, (from.seq, limit));
                let items = reader.items(conn, &page.lines, now)?;
                let (access, epoch) = (counters.access_version, counters.epoch);
                // At the end it has seen all, also what was forgotten behind the last line.
                let seq = if page.has_more { page.seq } else { counters.change_seq };
                let next = write_cursor(&Cursor { seq, access, epoch, floor });
                Ok(Changes { items, next, has_more: page.has_more, life: life(counters) })
            })
            .await
    }
}

impl App {
    /// Lets the feeds of all co-operatives forget what was replaced or withdrawn long ago, a little
    /// at a time.
    pub async fn forget_changes(&self) -> Result<(), AppError> {
        let now = self.now().0;
        let before = now - limits::FEED_KEPT_MS;
        let due = move |conn: &mut Conn| {
            Ok::<_, AppError>(feed_floors::due(conn, before, limits::FEEDS_AT_ONCE)?)
        };
        for coop in self.store.read(due).await? {
            let sweep = move |conn: &mut Conn| {
                Ok::<_, AppError>(feed_floors::sweep(conn, coop, before, now)?)
            };
            while !self.store.write(sweep).await? {}
        }
        Ok(())
    }

    /// The life of the records: what was sent to another one may have to be sent again.
    pub async fn life(&self, actor: &Actor) -> Result<Life, AppError> {
        let coop = actor.coop.number;
        self.store.read(move |conn| Ok(life(changes::counters(conn, coop)?))).await
    }
}

/// Kinds of record on one page: each costs a statement.
const KINDS_MAX: usize = 10;

/// Who reads the feed.
struct Reader<'a> {
    actor: &'a Actor,
    /// Farms within reach; none where all are.
    farms: Option<HashSet<Uuid>>,
}

/// The lines that one answer shows.
struct Page<'l> {
    lines: Vec<&'l Change>,
    /// The last line looked at.
    seq: i64,
    has_more: bool,
}

impl<'a> Reader<'a> {
    fn new(conn: &mut Conn, actor: &'a Actor) -> Result<Self, AppError> {
        let reach = actor.visible(Action::Read, Kind::Farm).ok();
        let farms = match reach {
            None => Some(HashSet::new()),
            Some(Visible::All) => None,
            Some(some) => Some(farm_rows::within(conn, actor.coop.number, &some)?),
        };
        Ok(Self { actor, farms })
    }

    /// The newest line of each record that may be seen by its farm, up to a limit of lines and of
    /// kinds.
    fn page<'l>(&self, lines: &'l [Change], (from, limit): (i64, usize)) -> Page<'l> {
        let newest: HashMap<(Kind, Uuid), i64> =
            lines.iter().map(|line| ((line.kind, line.id), line.seq)).collect();
        let mut kinds: HashSet<Kind> = HashSet::new();
        let mut page = Page { lines: Vec::new(), seq: from, has_more: lines.len() == SCAN_MAX };
        for line in lines {
            let is_newest = newest.get(&(line.kind, line.id)) == Some(&line.seq);
            if is_newest && self.may_see(line) {
                let is_kind_too_many = kinds.len() == KINDS_MAX && !kinds.contains(&line.kind);
                if page.lines.len() == limit || is_kind_too_many {
                    page.has_more = true;
                    break;
                }
                kinds.insert(line.kind);
                page.lines.push(line);
            }
            page.seq = line.seq;
        }
        page
    }

    /// Whether a line's record may be seen, as far as the line says.
    fn may_see(&self, line: &Change) -> bool {
        let may_all = matches!(self.actor.visible(Action::Read, line.kind), Ok(Visible::All));
        let is_readable = self.actor.visible(Action::Read, line.kind).is_ok();
        match (&self.farms, line.farm_id) {
            (Some(farms), Some(farm)) if !may_all => is_readable && farms.contains(&farm),
            _ => is_readable,
        }
    }

    /// The records of lines as they are now, in the order of the lines, those that may be seen.
    fn items(
        &self,
        conn: &mut Conn,
        lines: &[&Change],
        now: Instant,
    ) -> Result<Vec<ChangedRecord>, AppError> {
        let number = self.actor.coop.number;
        let show = Presenter::new(&self.actor.coop, now);
        let mut by_kind: BTreeMap<Kind, Vec<Uuid>> = BTreeMap::new();
        for line in lines {
            by_kind.entry(line.kind).or_default().push(line.id);
        }
        let mut shown: HashMap<Uuid, ChangedRecord> = HashMap::new();
        for (kind, ids) in by_kind {
            let Ok(visible) = self.actor.visible(Action::Read, kind) else { continue };
            let mut found = records::several(conn, number, kind, &ids)?;
            let members = self.members(conn, (kind, &found), &visible)?;
            found.retain(|r| match records::seen_by(kind, &r.values, &visible) {
                Some((Kind::Member, member)) => members.contains(&member),
                Some((_, farm)) => self.farms.as_ref().is_none_or(|farms| farms.contains(&farm)),
                None => records::is_seen(kind, &r.values, r.id, &visible),
            });
            let changed = |r: &Record| ChangedRecord {
                kind: kind.spec().one.to_owned(),
                id: r.id,
                version: r.version,
                is_withdrawn: r.withdrawn_at.is_some(),
                record: None,
            };
            shown.extend(found.iter().map(|r| (r.id, changed(r))));
            found.retain(|r| r.withdrawn_at.is_none());
            let live: Vec<Uuid> = found.iter().map(|r| r.id).collect();
            for (id, json) in live.into_iter().zip(show.many(conn, kind, found)?) {
                if let Some(changed) = shown.get_mut(&id) {
                    changed.record = Some(AnyRecord(json));
                }
            }
        }
        Ok(lines.iter().filter_map(|line| shown.remove(&line.id)).collect())
    }

    /// The members within reach on whom it depends whether some records may be seen.
    fn members(
        &self,
        conn: &mut Conn,
        (kind, found): (Kind, &[Record]),
        visible: &Visible,
    ) -> Result<HashSet<Uuid>, AppError> {
        let above = found.iter().filter_map(|r| records::seen_by(kind, &r.values, visible));
        let ids: HashSet<Uuid> =
            above.filter(|(kind, _)| *kind == Kind::Member).map(|(_, id)| id).collect();
        if ids.is_empty() {
            return Ok(ids);
        }
        let ids: Vec<Uuid> = ids.into_iter().collect();
        let members = records::several(conn, self.actor.coop.number, Kind::Member, &ids)?;
        let seen =
            members.iter().filter(|m| records::is_seen(Kind::Member, &m.values, m.id, visible));
        Ok(seen.map(|m| m.id).collect())
    }
}

/// Most entries of one answer.
pub const LIMIT_MAX: usize = limits::CHANGES_PAGE_MAX;
