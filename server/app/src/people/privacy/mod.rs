//! What is held about a member: a copy to hand over, erasure, and how long things are kept.

mod copy;
mod erase;
mod reports;

use crate::texts::TEXTS_KEPT_DAYS;
use traybook_answers::people::privacy::{Kept, KeptWhat};
use traybook_domain::Kind;
use traybook_domain::limits::{INVITATION_S, REFRESH_TOKEN_S, SECURITY_LOG_MS, SIGN_IN_WINDOW_MS};
use traybook_domain::value::Value;
use traybook_storage::Conn;
use traybook_storage::error::StoreError;
use traybook_storage::records::{self, Filter, Record, Visible};
use uuid::Uuid;

/// More records of one kind than a farm makes in a lifetime.
const RECORDS_MAX: usize = 1_000_000;
/// Seconds in a day.
const DAY_S: i64 = 86_400;

/// How long things are kept that have to do with a member.
#[must_use]
pub fn kept() -> Vec<Kept> {
    let until_erased = |what| Kept { what, days: None };
    let days = |what, seconds: i64| Kept { what, days: Some(seconds.div_euclid(DAY_S).max(1)) };
    vec![
        until_erased(KeptWhat::Records),
        until_erased(KeptWhat::Pictures),
        until_erased(KeptWhat::Reports),
        days(KeptWhat::Sessions, REFRESH_TOKEN_S),
        days(KeptWhat::Codes, INVITATION_S),
        days(KeptWhat::Failures, SIGN_IN_WINDOW_MS / 1_000),
        days(KeptWhat::SecurityLog, SECURITY_LOG_MS / 1_000),
        days(KeptWhat::Texts, TEXTS_KEPT_DAYS * DAY_S),
    ]
}

/// Records of a kind that refer to one by a field, withdrawn ones too.
fn of(
    conn: &mut Conn,
    coop: i64,
    kind: Kind,
    field: &str,
    id: Uuid,
) -> Result<Vec<Record>, StoreError> {
    let Some(index) = kind.spec().index(field) else { return Ok(Vec::new()) };
    let filter =
        Filter { equals: vec![(index, Value::Id(id))], withdrawn: true, ..Filter::default() };
    records::page(conn, coop, kind, &Visible::All, &filter, None, RECORDS_MAX)
}

/// Everything that belongs to a member, by kind: the member, accounts, attendances, farms, and what
/// was recorded of each farm.
fn held(
    conn: &mut Conn,
    coop: i64,
    member: &Record,
    mut each: impl FnMut(&mut Conn, Kind, Vec<Record>) -> Result<(), StoreError>,
) -> Result<(), StoreError> {
    each(conn, Kind::Member, vec![member.clone()])?;
    for kind in [Kind::Person, Kind::Attendance] {
        let all = of(conn, coop, kind, "member_id", member.id)?;
        each(conn, kind, all)?;
    }
    let farms = of(conn, coop, Kind::Farm, "member_id", member.id)?;
    for farm in &farms {
        let kinds = Kind::ALL.iter().filter(|k| k.spec().index("farm_id").is_some());
        for kind in kinds {
            let all = of(conn, coop, *kind, "farm_id", farm.id)?;
            each(conn, *kind, all)?;
        }
    }
    each(conn, Kind::Farm, farms)
}
