//! What the rules of the review list found, a row a case, and farms whose history waits to be looked
//! through.

use crate::columns::{Instant, columns};
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use crate::records::farm_rows::{Farms, only};
use chrono::NaiveDate;
use traybook_domain::{ColumnType, Kind};
use uuid::Uuid;

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CaseRow {
    pub farm: Uuid,
    /// Day on which it was so.
    pub day: NaiveDate,
    /// Its name, the same each time.
    pub finding: String,
    /// The finding, JSON.
    pub body: String,
}

/// The bodies of the cases before a day, or of all; in the order of farm and name.
pub fn bodies(
    conn: &mut Conn,
    coop: i64,
    before: Option<NaiveDate>,
) -> Result<Vec<String>, StoreError> {
    let columns = columns!("review_cases::bodies" { body: String } => body);
    let mut sql = format!("SELECT {columns} FROM review_cases WHERE coop_id = ?");
    let mut binds = vec![Bind::int(coop)];
    if let Some(day) = before {
        sql.push_str(" AND day < ?");
        binds.push(Bind::date(day));
    }
    sql.push_str(" ORDER BY farm_id, finding");
    conn.select(&columns, &sql, &binds)
}

/// Puts the cases of days from one on, of all farms or of these, in the place of those that stand.
pub fn replace(
    conn: &mut Conn,
    coop: i64,
    from: NaiveDate,
    of: Farms<'_>,
    cases: &[CaseRow],
) -> Result<(), StoreError> {
    let mut sql = "DELETE FROM review_cases WHERE coop_id = ? AND day >= ?".to_owned();
    let mut binds = vec![Bind::int(coop), Bind::date(from)];
    only(of, "farm_id", &mut sql, &mut binds);
    conn.exec(&sql, &binds)?;
    for case in cases {
        conn.exec(
            "INSERT INTO review_cases (coop_id, farm_id, day, finding, body) \
             VALUES (?, ?, ?, ?, ?) ON CONFLICT (coop_id, farm_id, finding) \
             DO UPDATE SET day = excluded.day, body = excluded.body",
            &[
                Bind::int(coop),
                Bind::id(case.farm),
                Bind::date(case.day),
                Bind::text(&*case.finding),
                Bind::text(&*case.body),
            ],
        )?;
    }
    Ok(())
}

/// Farms of which a record of a kind, dated before a day, has changed since a number.
pub fn touched(
    conn: &mut Conn,
    coop: i64,
    (kind, column): (Kind, &str),
    since: i64,
    before: Bind,
) -> Result<Vec<Uuid>, StoreError> {
    let columns = columns!("review_cases::touched" { farm: Uuid = "t.farm_id" } => farm);
    let spec = kind.spec();
    let sql = format!(
        "SELECT DISTINCT {columns} FROM changes c JOIN {} t ON t.coop_id = c.coop_id \
         AND t.id = c.id WHERE c.coop_id = ? AND c.seq > ? AND c.kind = ? AND t.{column} < ? \
         ORDER BY 1",
        spec.table()
    );
    let binds = [Bind::int(coop), Bind::int(since), Bind::text(spec.one), before];
    conn.select(&columns, &sql, &binds)
}

/// How far the looking through of whole histories is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RunRow {
    /// Farms to look through, and those left.
    pub farms: i64,
    pub left: i64,
    /// When it began, milliseconds.
    pub began_at: i64,
    /// When it ended; none while farms are left.
    pub ended_at: Option<i64>,
}

/// Adds farms whose history is to be looked through. Where none were left, a run begins anew.
pub fn enqueue(conn: &mut Conn, coop: i64, farms: &[Uuid], now: i64) -> Result<(), StoreError> {
    let before = left(conn, coop)?;
    for farm in farms {
        conn.exec(
            "INSERT INTO review_queue (coop_id, farm_id, queued_at) VALUES (?, ?, ?) \
             ON CONFLICT (coop_id, farm_id) DO NOTHING",
            &[Bind::int(coop), Bind::id(*farm), Bind::instant(now)],
        )?;
    }
    let more = left(conn, coop)? - before;
    let none = Bind::opt(ColumnType::Instant, None);
    if before == 0 && more > 0 {
        conn.exec(
            "INSERT INTO review_runs (coop_id, farms, began_at, ended_at) VALUES (?, ?, ?, ?) \
             ON CONFLICT (coop_id) DO UPDATE SET farms = excluded.farms, \
             began_at = excluded.began_at, ended_at = excluded.ended_at",
            &[Bind::int(coop), Bind::int(more), Bind::instant(now), none],
        )?;
    } else if more > 0 {
        let sql = "UPDATE review_runs SET farms = farms + ? WHERE coop_id = ?";
        conn.exec(sql, &[Bind::int(more), Bind::int(coop)])?;
    }
    Ok(())
}

fn left(conn: &mut Conn, coop: i64) -> Result<i64, StoreError> {
    let columns = columns!("review_cases::left" { left: i64 = "COUNT(*)" } => left);
    let sql = format!("SELECT {columns} FROM review_queue WHERE coop_id = ?");
    Ok(conn.select_one(&columns, &sql, &[Bind::int(coop)])?.unwrap_or(0))
}

/// How far the last run is; none before the first.
pub fn run(conn: &mut Conn, coop: i64) -> Result<Option<RunRow>, StoreError> {
    let columns = columns!("review_cases::run" {
        farms: i64,
        began_at: Instant,
        ended_at: Option<Instant>,
    } => (farms, began_at, ended_at));
    let sql = format!("SELECT {columns} FROM review_runs WHERE coop_id = ?");
    let Some((farms, began_at, ended_at)) = conn.select_one(&columns, &sql, &[Bind::int(coop)])?
    else {
        return Ok(None);
    };
    Ok(Some(RunRow { farms, left: left(conn, coop)?, began_at, ended_at }))
}

/// Co-operatives with farms that wait: number and id.
pub fn waiting(conn: &mut Conn) -> Result<Vec<(i64, Uuid)>, StoreError> {
    let columns = columns!("review_cases::waiting" {
        coop: i64 = "q.coop_id",
        cooperative: Uuid = "c.id",
    } => (coop, cooperative));
    let sql = format!(
        "SELECT DISTINCT {columns} FROM review_queue q \
         JOIN cooperatives c ON c.coop_id = q.coop_id WHERE c.withdrawn_at IS NULL \
         ORDER BY q.coop_id"
    );
    conn.select(&columns, &sql, &[])
}

/// The farms that wait longest.
pub fn next(conn: &mut Conn, coop: i64, most: i64) -> Result<Vec<(Uuid, i64)>, StoreError> {
    let columns = columns!("review_cases::next" {
        farm: Uuid = "farm_id",
        queued_at: Instant,
    } => (farm, queued_at));
    let sql = format!(
        "SELECT {columns} FROM review_queue WHERE coop_id = ? ORDER BY queued_at, farm_id {}",
        crate::conn::LIMIT
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::int(most)])
}

/// Takes farms that were looked through off the queue, unless they were queued again meanwhile.
/// Gives the number left.
pub fn dequeue(
    conn: &mut Conn,
    coop: i64,
    farms: &[(Uuid, i64)],
    now: i64,
) -> Result<i64, StoreError> {
    for (farm, queued_at) in farms {
        conn.exec(
            "DELETE FROM review_queue WHERE coop_id = ? AND farm_id = ? AND queued_at = ?",
            &[Bind::int(coop), Bind::id(*farm), Bind::instant(*queued_at)],
        )?;
    }
    let left = left(conn, coop)?;
    if left == 0 {
        conn.exec(
            "UPDATE review_runs SET ended_at = ? WHERE coop_id = ?",
            &[Bind::instant(now), Bind::int(coop)],
        )?;
    }
    Ok(left)
}
