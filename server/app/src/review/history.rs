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
use traybook_domain::review::ReviewCtx;
use traybook_storage::review_cases::{self, CaseRow};
use traybook_storage::snapshots;
use uuid::Uuid;

/// Farms that are looked through in one go: some seconds of work at the most.
const FARMS_AT_ONCE: i64 = 25;
/// Goes in one call, so that other work of the background has its turn.
const GOES: usize = 4;

impl App {
    /// Looks through the history of some farms that wait. Gives the number of farms done; 0 where
    /// none wait.
    ///
    /// # Errors
    /// Those of the store.
    pub async fn review_waiting(&self) -> Result<usize, AppError> {
        let mut done = 0;
        for (number, id) in self.store.read(review_cases::waiting).await? {
            let coop = self.store.read(move |conn| Coop::load(conn, number, id)).await?;
            for _ in 0..GOES {
                let farms = self.review_some(coop.clone()).await?;
                if farms == 0 {
                    break;
                }
                done += farms;
            }
        }
        Ok(done)
    }

    /// Looks through the history of the farms that wait longest.
    async fn review_some(&self, coop: Coop) -> Result<usize, AppError> {
        let (now, number) = (self.now(), coop.number);
        let read = self.store.read(move |conn| {
            let next = review_cases::next(conn, coop.number, FARMS_AT_ONCE)?;
            let ids: Vec<Uuid> = next.iter().map(|(farm, _)| *farm).collect();
            if ids.is_empty() {
                return Ok::<_, AppError>((next, Vec::new()));
            }
            let guide = coop.guide(conn)?;
            let today = coop.today(now);
            let ctx = ReviewCtx { guide: &guide, zone: coop.zone, today, from: first_day() };
            let held = held(conn, coop.number)?;
            let found = find::window(conn, &coop, Some(&ids), &held, &ctx)?;
            let cases = cases::listed(conn, coop.number, found)?;
            let rows: Vec<CaseRow> = cases.iter().map(Case::row).collect::<Result<_, _>>()?;
            Ok((next, rows))
        });
        let (next, rows) = read.await?;
        if next.is_empty() {
            return Ok(0);
        }
        let done = next.len();
        let write = self.store.write(move |conn| {
            let ids: Vec<Uuid> = next.iter().map(|(farm, _)| *farm).collect();
            review_cases::replace(conn, number, first_day(), Some(&ids), &rows)?;
            if review_cases::dequeue(conn, number, &next, now.0)? == 0 {
                snapshots::ask_again(conn, number, now.0)?;
            }
            Ok::<_, AppError>(())
        });
        write.await?;
        Ok(done)
    }
}

/// Before any record: 1970.
fn first_day() -> NaiveDate {
    NaiveDate::default()
}

/// Records that the saving holds back already, by the findings that stand: no second finding.
fn held(conn: &mut traybook_storage::Conn, number: i64) -> Result<HashSet<Uuid>, AppError> {
    use traybook_answers::review::ReviewRule;
    let Some((_, text)) = snapshots::findings(conn, number)? else { return Ok(HashSet::new()) };
    let found: Vec<Case> = serde_json::from_str(&text).unwrap_or_default();
    let is_held = |c: &Case| {
        matches!(c.finding.rule, ReviewRule::FeedPrice | ReviewRule::FeedKg | ReviewRule::FeedGap)
    };
    let held = found.into_iter().filter(is_held);
    Ok(held.flat_map(|c| c.finding.records).map(|r| r.id).collect())
}
