//! Looking through whole histories, some farms at a time: after an import, and where a record of
//! long ago has changed.
//!
//! The queue stands in the database: a run that is interrupted goes on where it was, on whatever
//! server. Two servers may do the same farms at once; what they keep is the same.

use super::cases::{self, Case};
use super::find;
use crate::error::AppError;
use crate::{App, Coop};
use chrono::NaiveDate;
use std::collections::HashSet;
use traybook_domain::review::{Finding, ReviewCtx};
use traybook_domain::value::Instant;
use traybook_storage::review::review_cases::{self, CaseRow};
use traybook_storage::{Conn, estimates::snapshots};
use uuid::Uuid;

/// Farms that are looked through in one call, so that other work of the background has its turn.
/// All prices are read once a call.
const FARMS_A_CALL: i64 = 500;
/// Farms that are looked through in one go otherwise: a second of work at the most.
const FARMS_AT_ONCE: usize = 25;

/// A farm that waits, and since when.
type Waiting = (Uuid, i64);

impl App {
    /// Looks through the history of some farms that wait. Gives the number of farms done; 0 where
    /// none wait.
    pub async fn review_waiting(&self) -> Result<usize, AppError> {
        let mut done = 0;
        for (number, id) in self.store.read(review_cases::waiting).await? {
            let coop = self.store.read(move |conn| Coop::load(conn, number, id)).await?;
            done += self.review_some(coop).await?;
        }
        Ok(done)
    }

    /// Looks through the history of the farms of a co-operative that wait longest.
    async fn review_some(&self, coop: Coop) -> Result<usize, AppError> {
        let (now, of) = (self.now(), coop.clone());
        let read = self.store.read(move |conn| {
            let next = review_cases::next(conn, of.number, FARMS_A_CALL)?;
            if next.is_empty() {
                return Ok::<_, AppError>((next, Vec::new()));
            }
            let held = held(conn, of.number)?;
            let bought = with_ctx(conn, &of, now, |conn, ctx| {
                find::bought(conn, &of, Some(&ids(&next)), &held, ctx)
            })?;
            Ok((next, bought))
        });
        let (next, bought) = read.await?;
        for farms in next.chunks(FARMS_AT_ONCE) {
            let of: HashSet<Uuid> = ids(farms).into_iter().collect();
            let own = bought.iter().filter(|f| f.farm.is_some_and(|farm| of.contains(&farm)));
            self.review_farms(coop.clone(), farms.to_vec(), own.cloned().collect()).await?;
        }
        Ok(next.len())
    }

    /// Looks through what is left of the history of some farms, and keeps it with what was found of
    /// their purchases.
    async fn review_farms(
        &self,
        coop: Coop,
        farms: Vec<Waiting>,
        bought: Vec<Finding>,
    ) -> Result<(), AppError> {
        let (now, number, of) = (self.now(), coop.number, ids(&farms));
        let read = self.store.read(move |conn| {
            let mut found = bought.clone();
            found.extend(with_ctx(conn, &coop, now, |conn, ctx| {
                find::window(conn, &coop, &of, ctx)
            })?);
            let cases = cases::listed(conn, number, found)?;
            let rows: Vec<CaseRow> = cases.iter().map(Case::row).collect::<Result<_, _>>()?;
            Ok::<_, AppError>(rows)
        });
        let rows = read.await?;
        let write = self.store.write(move |conn| {
            review_cases::replace(conn, number, first_day(), Some(&ids(&farms)), &rows)?;
            if review_cases::dequeue(conn, number, &farms, now.0)? == 0 {
                snapshots::ask_again(conn, number, now.0)?;
            }
            Ok::<_, AppError>(())
        });
        write.await
    }
}

fn ids(farms: &[Waiting]) -> Vec<Uuid> {
    farms.iter().map(|(farm, _)| *farm).collect()
}

fn with_ctx<T>(
    conn: &mut Conn,
    coop: &Coop,
    now: Instant,
    look: impl FnOnce(&mut Conn, &ReviewCtx<'_>) -> Result<T, AppError>,
) -> Result<T, AppError> {
    let (guide, today) = (coop.guide(conn)?, coop.today(now));
    look(conn, &ReviewCtx { guide: &guide, zone: coop.zone, today, from: first_day() })
}

/// Before any record: 1970.
fn first_day() -> NaiveDate {
    NaiveDate::default()
}

/// Records that the saving holds back already, by the findings that stand: no second finding.
fn held(conn: &mut Conn, number: i64) -> Result<HashSet<Uuid>, AppError> {
    use traybook_answers::review::ReviewRule;
    let Some((_, text)) = snapshots::findings(conn, number)? else { return Ok(HashSet::new()) };
    let found: Vec<Case> = serde_json::from_str(&text).unwrap_or_default();
    let is_held = |c: &Case| {
        matches!(c.finding.rule, ReviewRule::FeedPrice | ReviewRule::FeedKg | ReviewRule::FeedGap)
    };
    let held = found.into_iter().filter(is_held);
    Ok(held.flat_map(|c| c.finding.records).map(|r| r.id).collect())
}
