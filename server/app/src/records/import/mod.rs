//! Reading files: all or nothing a file, or its good rows; every bad row reported, and what only
//! refers to a bad row counted with it.

mod batches;
mod file;
mod folder;
mod layouts;
mod names;
mod order;
mod refused;
mod slices;
mod waiting;

pub use folder::{Said, read_files, read_folder};
pub use refused::refused_file;
pub use waiting::{FileOutcome, Sent, Taking};

use super::txn::Txn;
use crate::error::AppError;
use crate::{Actor, App, costly};
use file::one_file;
use names::{Origin, Refused};
use std::collections::{BTreeSet, HashMap};
use std::sync::Arc;
use std::sync::atomic::AtomicU64;
use traybook_domain::people::authz::{Action, Task};
use traybook_domain::value::Instant;
use traybook_domain::{FieldError, Kind, limits};
use traybook_sheets::layout::Layout;
use traybook_sheets::{Grid, Unreadable};

/// A sheet of a file, and how it is read.
#[derive(Clone, Debug)]
pub struct Source {
    /// Which sheet of the files that came together.
    pub place: usize,
    /// Name of the file.
    pub file: String,
    /// Its rows.
    pub grid: Arc<Grid>,
    /// How they are read.
    pub layout: Layout,
    /// Why it can not be read at all.
    pub unreadable: Option<Unreadable>,
    /// Lines that are left out.
    pub without: BTreeSet<u64>,
    /// Rows that were read so far, for whoever waits.
    pub progress: Arc<AtomicU64>,
}

impl Source {
    /// The sheets of a file that look like records; the one that fits best where none does. At most
    /// `cells_max` cells.
    #[must_use]
    pub fn of_file(file: &str, bytes: &[u8], cells_max: usize) -> Vec<Self> {
        let (grids, unreadable) = match traybook_sheets::read(bytes, cells_max) {
            Ok(grids) => (grids, None),
            Err(error) => (vec![Grid::default()], Some(error)),
        };
        let is_only = grids.len() == 1;
        let source = |grid: Grid| {
            let layout = Layout::guess(&grid, file, None);
            let file = if is_only { file.to_owned() } else { format!("{file}, {}", grid.name) };
            let (unreadable, without) = (unreadable.clone(), BTreeSet::new());
            let (grid, progress) = (Arc::new(grid), Arc::default());
            Self { place: 0, file, grid, layout, unreadable, without, progress }
        };
        let all: Vec<Self> = grids.into_iter().map(source).collect();
        let likely: Vec<Self> = all.iter().filter(|s| s.layout.is_likely()).cloned().collect();
        if likely.is_empty() {
            return all.into_iter().rev().max_by_key(|s| s.layout.known()).into_iter().collect();
        }
        likely
    }
}

/// A row that can not be taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BadRow {
    /// Line in the file, from 1.
    pub line: u64,
    /// Column, from 1; 0 for the row as a whole.
    pub column: usize,
    /// Name of the column, as it stands in the file.
    pub name: String,
    /// What is wrong, and what to do.
    pub error: FieldError,
    /// Rows that can not be taken for no other reason than that they refer to this one.
    pub behind: u64,
}

/// A row as the record that it becomes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SampleRow {
    /// Line in the file.
    pub line: u64,
    /// Columns by name, with what they become: codes of records, values as files write them.
    pub cells: Vec<(&'static str, String)>,
}

/// What became of a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FileReport {
    pub file: String,
    /// What its rows are.
    pub kind: Kind,
    pub rows: u64,
    pub made: u64,
    /// Records that were there already.
    pub before: u64,
    /// Rows that are sums or repeat the header.
    pub left_out: u64,
    /// What is wrong, at most a thousand.
    pub bad: Vec<BadRow>,
    /// Lines that can not be taken.
    pub bad_lines: BTreeSet<u64>,
    /// How many these are.
    pub bad_count: u64,
    /// Those among them that only refer to a row that can not be taken.
    pub waiting: u64,
    /// The first rows that can be taken.
    pub sample: Vec<SampleRow>,
}

impl FileReport {
    fn new(source: &Source) -> Self {
        Self {
            file: source.file.clone(),
            kind: source.layout.kind,
            rows: 0,
            made: 0,
            before: 0,
            left_out: 0,
            bad: Vec::new(),
            bad_lines: BTreeSet::new(),
            bad_count: 0,
            waiting: 0,
            sample: Vec::new(),
        }
    }

    fn refuse(&mut self, line: u64) {
        self.bad_count += u64::from(self.bad_lines.insert(line));
    }

    fn fail(&mut self, line: u64, column: usize, name: &str, error: FieldError) {
        self.refuse(line);
        if self.bad.len() < limits::CSV_ERRORS_MAX {
            self.bad.push(BadRow { line, column, name: name.to_owned(), error, behind: 0 });
        }
    }
}

/// What an import remembers from file to file.
#[derive(Default)]
struct Run {
    /// Names of rows that were refused.
    refused: Refused,
    /// Rows that wait for a refused one.
    behind: HashMap<Origin, u64>,
}

impl Run {
    /// Says beside each refused row how many others wait for it.
    fn with_counts(self, mut reports: Vec<FileReport>) -> Vec<FileReport> {
        for ((file, line), count) in self.behind {
            let bad = reports.get_mut(file).and_then(|r| r.bad.iter_mut().find(|b| b.line == line));
            if let Some(bad) = bad {
                bad.behind = count;
            }
        }
        reports
    }
}

/// Milliseconds after which a run that nobody goes on with counts as broken off: a slice takes far
/// less, also behind others.
const BROKEN_OFF_MS: i64 = 120_000;

/// A failure that undoes what was written, carrying what is to be said.
enum Stop {
    Undo(Box<FileReport>),
    Failed(AppError),
}

impl From<traybook_storage::StoreError> for Stop {
    fn from(e: traybook_storage::StoreError) -> Self {
        Self::Failed(e.into())
    }
}

impl From<AppError> for Stop {
    fn from(e: AppError) -> Self {
        Self::Failed(e)
    }
}

impl traybook_storage::store::MaybeRetry for Stop {
    fn wants_retry(&self) -> bool {
        matches!(self, Self::Failed(e) if e.wants_retry())
    }
    fn lost_connection(&self) -> bool {
        matches!(self, Self::Failed(e) if e.lost_connection())
    }
}

impl App {
    /// Imports files. Without `dry_run` each file is one transaction: it is taken whole or not at
    /// all. With it nothing is kept, and files see the rows of those before them.
    ///
    /// # Errors
    /// `Forbidden`; those of the store.
    pub async fn import(
        &self,
        actor: &Actor,
        files: Vec<Source>,
        dry_run: bool,
    ) -> Result<Vec<FileReport>, AppError> {
        may_import(actor, &files)?;
        let _costly = costly::begin(actor)?;
        if dry_run {
            return self.look_through(actor, files).await;
        }
        let mut reports: Vec<FileReport> = Vec::new();
        let mut failed: Vec<(Kind, String)> = Vec::new();
        for source in files {
            let kind = source.layout.kind;
            let is_parent = |(of, _): &&(Kind, String)| {
                kind.spec().refs().any(|(_, _, to)| to != kind && to == *of)
            };
            if let Some((_, parent)) = failed.iter().find(is_parent) {
                let mut report = FileReport::new(&source);
                let reason = format!("not tried: put {parent} right first");
                let error = FieldError::new("", "file_before", reason);
                report.fail(1, 0, "", error.naming("file", parent.as_str()));
                failed.push((kind, source.file));
                reports.push(report);
                continue;
            }
            let report = self.one_import(actor, source.clone(), true).await?;
            if report.bad_count > 0 {
                failed.push((kind, source.file));
            }
            reports.push(report);
        }
        Ok(reports)
    }

    /// Imports the rows that can be taken. The reports hold the others.
    pub async fn import_good_rows(
        &self,
        actor: &Actor,
        mut files: Vec<Source>,
    ) -> Result<Vec<FileReport>, AppError> {
        may_import(actor, &files)?;
        let _costly = costly::begin(actor)?;
        let looked = self.look_through(actor, files.clone()).await?;
        for (source, report) in files.iter_mut().zip(&looked) {
            source.without.clone_from(&report.bad_lines);
        }
        let mut reports = Vec::new();
        for (source, before) in files.into_iter().zip(looked) {
            // What is refused as a whole has no good row.
            let is_whole = before.rows == 0 && before.bad_count > 0;
            if is_whole {
                reports.push(before);
                continue;
            }
            let done = self.one_import(actor, source, false).await?;
            reports.push(if done.bad_count > 0 {
                done
            } else {
                FileReport { made: done.made, before: done.before, ..before }
            });
        }
        Ok(reports)
    }

    async fn look_through(
        &self,
        actor: &Actor,
        files: Vec<Source>,
    ) -> Result<Vec<FileReport>, AppError> {
        let (actor, now) = (actor.clone(), self.now());
        let coop = actor.coop.number;
        let kinds: BTreeSet<Kind> = files.iter().flat_map(|s| written_by(s.layout.kind)).collect();
        self.store
            .preview(coop, kinds.into_iter().collect(), move |writing| {
                let mut txn = Txn::begin(writing, &actor, now)?;
                let (mut run, mut reports) = (Run::default(), Vec::new());
                for (at, source) in files.iter().enumerate() {
                    reports.push(one_file(&mut txn, &actor, (at, source), now, &mut run)?);
                }
                Ok(run.with_counts(reports))
            })
            .await
    }

    async fn one_import(
        &self,
        actor: &Actor,
        source: Source,
        is_new: bool,
    ) -> Result<FileReport, AppError> {
        if source.unreadable.is_none() && source.grid.rows.len() > limits::SLICE {
            return self.in_slices(actor, source, is_new).await;
        }
        let (actor, now): (Actor, Instant) = (actor.clone(), self.now());
        let outcome = self
            .store
            .change(actor.coop.number, move |writing| {
                let mut txn = Txn::begin(writing, &actor, now)?;
                let mut run = Run::default();
                let report = one_file(&mut txn, &actor, (0, &source), now, &mut run)?;
                if report.bad_count > 0 {
                    let report = run.with_counts(vec![report]).into_iter().next();
                    let undone = report.map(|r| FileReport { made: 0, ..r });
                    let undone = undone.unwrap_or_else(|| FileReport::new(&source));
                    return Err(Stop::Undo(Box::new(undone)));
                }
                txn.finish()?;
                Ok(report)
            })
            .await;
        match outcome {
            Ok(report) => Ok(report),
            Err(Stop::Undo(report)) => Ok(*report),
            Err(Stop::Failed(e)) => Err(e),
        }
    }
}

/// Kinds of the records that a row of a kind makes.
fn written_by(kind: Kind) -> Vec<Kind> {
    if kind == Kind::Batch { vec![kind, Kind::BatchEvent] } else { vec![kind] }
}

fn may_import(actor: &Actor, files: &[Source]) -> Result<(), AppError> {
    actor.task(Task::Import)?;
    for source in files.iter().filter(|_| !actor.is_machine()) {
        actor.visible(Action::Create, source.layout.kind)?;
    }
    Ok(())
}
