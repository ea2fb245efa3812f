//! A large file, written slice by slice so that others have their turn between, and all the same
//! taken whole or not at all.
//!
//! It is looked through first, so what is refused is refused before anything is written. What each
//! slice makes is noted with it. Where a slice fails, or the program ends, what was made is
//! withdrawn by these notes; when the same file comes again it is put back.

use super::file::{Carried, Slice, SliceDone, one_slice, order_of};
use super::{BROKEN_OFF_MS, FileReport, Run, Source, Stop};
use crate::error::AppError;
use crate::records::txn::Txn;
use crate::{Actor, App, Coop};
use std::sync::Arc;
use traybook_domain::limits::{SLICE, SLICE_MAX};
use traybook_storage::records::{self, Visible};
use traybook_storage::{people::logins, records::import_runs};

/// Why records of a file that broke off are withdrawn.
const REASON: &str = "the file that made this broke off";

impl App {
    /// Imports a large file. Where nobody has looked it through (`is_new`) that comes first.
    pub(super) async fn in_slices(
        &self,
        actor: &Actor,
        source: Source,
        is_new: bool,
    ) -> Result<FileReport, AppError> {
        let coop = actor.coop.number;
        let _turn = self.store.large_turn(coop).await?;
        if is_new {
            let looked = self.look_through(actor, vec![source.clone()]).await?.pop();
            if let Some(refused) = looked.filter(|report| report.bad_count > 0) {
                return Ok(FileReport { made: 0, ..refused });
            }
        }
        let run = (coop, self.new_id()?);
        let now = self.now().0;
        self.store
            .write(move |conn| Ok::<_, AppError>(import_runs::begin(conn, run, now)?))
            .await?;
        let written = self.all_slices(actor, Arc::new(source), run).await;
        if !matches!(&written, Ok(report) if report.bad_count == 0) {
            // What can not be undone now is undone later (`undo_broken_off`).
            if let Err(error) = self.undo(&actor.coop, run).await {
                tracing::warn!(%error, "a file that broke off is undone later");
            }
            return written;
        }
        loop {
            let end =
                move |conn: &mut _| Ok::<_, AppError>(import_runs::end(conn, run, SLICE_MAX)?);
            if self.store.write(end).await? {
                return written;
            }
        }
    }

    async fn all_slices(
        &self,
        actor: &Actor,
        source: Arc<Source>,
        run: import_runs::Run,
    ) -> Result<FileReport, AppError> {
        let order = Arc::new(order_of(&source, actor));
        let mut report = FileReport::new(&source);
        report.left_out = u64::try_from(source.layout.rows(&source.grid).1).unwrap_or(0);
        let mut carried = Carried::default();
        let (mut from, mut made) = (0, 0);
        while from < order.len() {
            let slice = Slice {
                source: Arc::clone(&source),
                order: Arc::clone(&order),
                from,
                carried: carried.clone(),
                report: report.clone(),
            };
            let done = self.next_slice(actor, run, slice, made).await;
            let done = match done {
                Ok(done) => done,
                Err(Stop::Undo(report)) => return Ok(*report),
                Err(Stop::Failed(error)) => return Err(error),
            };
            carried.take(done.carried);
            report = done.report;
            (from, made) = (from + done.rows, made + done.made.len());
            if done.rows == 0 {
                break;
            }
        }
        Ok(report)
    }

    async fn next_slice(
        &self,
        actor: &Actor,
        run: import_runs::Run,
        slice: Slice,
        made_before: usize,
    ) -> Result<SliceDone, Stop> {
        let (actor, now, store) = (actor.clone(), self.now(), self.store.clone());
        self.store
            .change(actor.coop.number, move |writing| {
                let mut txn = Txn::begin(writing, &actor, now)?;
                let mut refused = Run::default();
                let done = one_slice((&mut txn, &store), &actor, &slice, now, &mut refused)?;
                if done.report.bad_count > 0 {
                    let report = refused.with_counts(vec![done.report]).into_iter().next();
                    let undone = report.map(|r| FileReport { made: 0, ..r });
                    let undone = undone.unwrap_or_else(|| FileReport::new(&slice.source));
                    return Err(Stop::Undo(Box::new(undone)));
                }
                import_runs::note(txn.conn(), run, &done.made, made_before)?;
                import_runs::touch(txn.conn(), run, now.0)?;
                txn.finish()?;
                Ok(done)
            })
            .await
    }

    /// Withdraws what a run has made, the last first, in slices.
    async fn undo(&self, coop: &Coop, run: import_runs::Run) -> Result<(), AppError> {
        let machine = Actor::machine(coop.clone());
        loop {
            let is_done = self
                .change(&machine, move |txn| {
                    let rows = import_runs::to_undo(txn.conn(), run, SLICE)?;
                    for (kind, id) in &rows {
                        let (coop, kind, id) = (run.0, *kind, *id);
                        let found = records::find(txn.conn(), coop, kind, id)?;
                        let version = found.map_or(0, |r| r.version);
                        let reason = Some(REASON.to_owned());
                        match txn.withdraw_within(kind, id, version, reason, &Visible::All) {
                            Ok(_) => import_runs::undone(txn.conn(), coop, kind, id)?,
                            Err(AppError::Conflict { code, .. }) => {
                                // Somebody has used it meanwhile: it stays.
                                tracing::warn!(%id, code, "a record of a file that broke off stays");
                                import_runs::forget(txn.conn(), coop, kind, id)?;
                            }
                            Err(AppError::NotFound) => {
                                import_runs::forget(txn.conn(), coop, kind, id)?;
                            }
                            Err(other) => return Err(other),
                        }
                    }
                    if rows.is_empty() {
                        import_runs::all_undone(txn.conn(), run)?;
                    }
                    Ok(rows.is_empty())
                })
                .await?;
            if is_done {
                return Ok(());
            }
        }
    }

    /// Undoes files that were being written when a program ended; how many there were.
    pub async fn undo_broken_off(&self) -> Result<usize, AppError> {
        let since = self.now().0 - BROKEN_OFF_MS;
        let found = self.store.read(move |conn| {
            let mut runs = Vec::new();
            for run in import_runs::broken_off(conn, since)? {
                if let Some(id) = logins::coop_id(conn, run.0)? {
                    runs.push((Coop::load(conn, run.0, id)?, run));
                }
            }
            Ok::<_, AppError>(runs)
        });
        let found = found.await?;
        for (coop, run) in &found {
            tracing::warn!(cooperative = coop.name, "a file that broke off is undone");
            self.undo(coop, *run).await?;
        }
        Ok(found.len())
    }
}
