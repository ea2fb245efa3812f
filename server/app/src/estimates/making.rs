//! Making the figures in the background: for every co-operative whose records have moved, or whose
//! day is another, one at a time, by whoever of several servers takes the lease.

use super::figures::{FORMAT, Figures, day_after};
use super::{flags, why};
use crate::error::AppError;
use crate::planning;
use crate::records::Txn;
use crate::review;
use crate::savings::{kept_cells_of_closed, total_of};
use crate::{Actor, App, Coop};
use chrono::NaiveDate;
use std::collections::{BTreeMap, HashMap};
use std::hash::{DefaultHasher, Hash, Hasher as _};
use std::sync::Arc;
use traybook_domain::Month;
use traybook_domain::limits::{MAKING_LEASE_MS, MAKING_PAUSE_MS, MAKING_REST, MAKINGS_AT_ONCE};
use traybook_domain::time::start_of_day;
use traybook_storage::estimates::snapshots::{self, Due, MonthSnapshot};
use traybook_storage::estimates::spoilage_rows;
use traybook_storage::planning::learned_rows;
use traybook_storage::records::changes;
use traybook_storage::savings::programme_rows::{self, Cell};
use traybook_storage::{Conn, Writing, in_coop};
use uuid::Uuid;

impl App {
    /// Makes the figures of all co-operatives that are due now. One that fails keeps its old ones,
    /// and does not stop the others. Gives the number made.
    pub async fn make_due_figures(&self) -> Result<usize, AppError> {
        let (now, mut made) = (self.now().0, 0);
        let due =
            self.store.read(move |conn| snapshots::due(conn, now, FORMAT, MAKINGS_AT_ONCE)).await?;
        for (number, id) in due {
            let lease = self.new_id()?;
            let (now, until) = (self.now().0, self.now().0 + MAKING_LEASE_MS);
            let taken =
                self.store.write(move |conn| snapshots::lease(conn, number, lease, (now, until)));
            if !taken.await? {
                continue;
            }
            let coop = self.store.read(move |conn| Coop::load(conn, number, id)).await;
            let done = match coop {
                Ok(coop) => self.make_figures(coop, lease).await,
                Err(error) => Err(error),
            };
            match done {
                Ok(()) => made += 1,
                Err(error) => {
                    tracing::warn!(number, %error, "the figures could not be made");
                    let at = (self.now().0, self.now().0 + MAKING_PAUSE_MS);
                    let noted =
                        self.store.write(move |conn| snapshots::fail(conn, number, lease, at));
                    noted.await?;
                }
            }
        }
        Ok(made)
    }

    /// Makes the figures of one co-operative now, whatever is due: for the command line and tests.
    pub async fn make_figures_now(&self, coop: &Coop) -> Result<(), AppError> {
        self.fill_sums().await?;
        let (number, lease, now) = (coop.number, self.new_id()?, self.now().0);
        let taken = self.store.write(move |conn| {
            snapshots::lease(conn, number, lease, (i64::MAX, now + MAKING_LEASE_MS))
        });
        taken.await?;
        self.make_figures(coop.clone(), lease).await
    }

    /// Co-operatives whose figures could not be made the last time.
    pub async fn failed_makings(&self) -> Result<i64, AppError> {
        Ok(self.store.read(snapshots::failed).await?)
    }

    /// Keeps the reports of open months that differ from those that are kept, a month at a time, so
    /// that others can write in between; removes those of months that are no longer open.
    async fn keep_months(&self, coop: &Coop, figures: Figures) -> Result<(), AppError> {
        let (number, figures) = (coop.number, Arc::new(figures));
        let kept = self.store.read(move |conn| snapshots::months(conn, number)).await?;
        let mut kept: BTreeMap<Month, i64> = kept.into_iter().collect();
        for month in figures.savings.open_months().collect::<Vec<_>>() {
            let (coop, of) = (coop.clone(), Arc::clone(&figures));
            let currency = coop.currency.clone();
            let made = self.store.read(move |conn| of.month(conn, &coop, month)).await?;
            let digest = digest(&made);
            if kept.remove(&month) != Some(digest) {
                let keep = move |conn: &mut Conn| {
                    snapshots::keep_month(conn, number, month, digest, &made.0)?;
                    programme_rows::keep(conn, (number, month), &currency, &made.1)
                };
                self.store.write(keep).await?;
            }
        }
        let closed = figures.savings.last_closed();
        self.keep_closed_totals(coop).await?;
        self.keep_closed_cells(coop, &figures, &kept).await?;
        for month in kept.into_keys().filter(|month| closed.is_none_or(|last| *month > last)) {
            self.store.write(move |conn| snapshots::drop_month(conn, number, month)).await?;
        }
        Ok(())
    }

    /// Keeps what closed months came to, where an older program closed them.
    async fn keep_closed_totals(&self, coop: &Coop) -> Result<(), AppError> {
        let (number, now) = (coop.number, self.now());
        for month in self.store.read(move |conn| snapshots::without_total(conn, number)).await? {
            let (of, reports) = (coop.clone(), Arc::clone(&self.reports));
            let total = self.store.read(move |conn| total_of(conn, &of, &reports, (month, now)));
            let total = total.await?;
            let keep = move |conn: &mut Conn| {
                Ok::<_, AppError>(snapshots::keep_total(conn, number, month, &total)?)
            };
            self.store.write(keep).await?;
        }
        Ok(())
    }

    /// Keeps the sums of closed months for programmes as members agree to be counted now; those of
    /// months long past go.
    async fn keep_closed_cells(
        &self,
        coop: &Coop,
        figures: &Figures,
        kept: &BTreeMap<Month, i64>,
    ) -> Result<(), AppError> {
        let (number, now) = (coop.number, self.now());
        let first = figures.savings.first_divided();
        for month in figures.savings.closed_divided() {
            let (of, reports) = (coop.clone(), Arc::clone(&self.reports));
            let made = self
                .store
                .read(move |conn| kept_cells_of_closed(conn, &of, &reports, (month, now)));
            let made = made.await?;
            let (digest, currency) = (digest_of(&made), coop.currency.clone());
            if kept.get(&month) != Some(&digest) {
                let keep = move |conn: &mut Conn| {
                    snapshots::keep_digest(conn, number, month, digest)?;
                    programme_rows::keep(conn, (number, month), &currency, &made)
                };
                self.store.write(keep).await?;
            }
        }
        self.store.write(move |conn| Ok(programme_rows::forget(conn, number, first)?)).await
    }

    /// Makes what goes with losses, once a day.
    async fn keep_why(&self, coop: &Coop, day: NaiveDate) -> Result<(), AppError> {
        let (number, of) = (coop.number, coop.clone());
        let made = self.store.read(move |conn| {
            let is_due = why::is_due(conn, of.number, day)?;
            if is_due { why::make(conn, &of, day).map(Some) } else { Ok::<_, AppError>(None) }
        });
        let Some(made) = made.await? else { return Ok(()) };
        let body = serde_json::to_string(&made).map_err(|e| AppError::Internal(e.to_string()))?;
        let keep =
            move |conn: &mut Conn| spoilage_rows::keep_why(conn, number, (day, why::FORMAT, &body));
        Ok(self.store.write(keep).await?)
    }

    async fn make_figures(&self, coop: Coop, lease: Uuid) -> Result<(), AppError> {
        let began = self.now();
        let of = coop.clone();
        let number = coop.number;
        let read = self.store.read(move |conn| {
            let figures = Figures::make(conn, &of, began)?;
            let looked =
                review::find(conn, &of, began, (&figures.savings, figures.level_findings()))?;
            let stored: HashMap<Uuid, String> =
                snapshots::of_farms(conn, of.number, None)?.into_iter().collect();
            let rows = figures.changed(&stored)?;
            let flags = flags::ask(conn, &of, &figures.standing, figures.state.day)?;
            let learned = planning::learn_due(conn, &of, figures.state.day, &figures.bad_lots())?;
            Ok::<_, AppError>((figures.row()?, looked, rows, (flags, learned), figures))
        });
        let (row, looked, rows, (flags, learned), figures) = read.await?;
        self.keep_why(&coop, figures.state.day).await?;
        self.keep_months(&coop, figures).await?;
        let took = (self.now().0 - began.0).max(0);
        let day = day_after(row.state.day);
        let due = Due {
            next_at: began.0 + took + MAKING_PAUSE_MS.max(took.saturating_mul(MAKING_REST)),
            day_ends_at: start_of_day(day, coop.zone).0,
        };
        let write = self.store.write(move |conn| {
            let before = changes::counters(conn, number)?.revision;
            if !flags.is_empty() {
                let machine = Actor::machine(coop.clone());
                in_coop(conn, number, |writing: &mut Writing<'_>| {
                    let mut txn = Txn::begin(writing, &machine, began)?;
                    flags::carry_out(&mut txn, &flags, row.state.day)?;
                    txn.finish()
                })?;
            }
            let mut row = row.clone();
            if before == row.state.revision {
                // The flags say what the figures say: they ask for no other making.
                row.state.revision = changes::counters(conn, number)?.revision;
            }
            if snapshots::keep(conn, number, lease, &row, &looked.findings, due)? {
                looked.keep(conn, number, began.0)?;
                let revision = row.state.revision;
                snapshots::keep_farms(conn, number, revision, &rows.changed, &rows.gone)?;
                if let Some(body) = &learned {
                    learned_rows::keep(conn, number, row.state.day, body)?;
                }
            }
            Ok::<_, AppError>(())
        });
        write.await
    }
}

/// Tells two states of a month apart.
fn digest((of, cells): &(MonthSnapshot, Vec<Cell>)) -> i64 {
    digest_of(&(&of.body, &of.total, &of.divisions, cells))
}

fn digest_of(what: &impl Hash) -> i64 {
    let mut hasher = DefaultHasher::new();
    what.hash(&mut hasher);
    i64::from_ne_bytes(hasher.finish().to_ne_bytes())
}
