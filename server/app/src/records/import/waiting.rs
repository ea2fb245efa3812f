//! Files that were looked through, kept in the database for a while: any server can go on with
//! them, and a restart loses none.

use super::{FileReport, Source};
use crate::error::AppError;
use crate::{Actor, App};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use std::pin::pin;
use std::sync::atomic::Ordering;
use std::time::Duration;
use traybook_domain::people::authz::Task;
use traybook_domain::{FieldError, Kind, limits};
use traybook_sheets::days::DayOrder;
use traybook_sheets::layout::{Goes, Layout, Place, target};
use traybook_storage::records::import_waits::{self, Name, PART_BYTES, Wait};
use uuid::Uuid;

/// Between two notes of how far the writing is.
const NOTE_PAUSE: Duration = Duration::from_secs(1);

/// A file as it was sent.
#[derive(Clone, Debug)]
pub struct Sent {
    pub name: String,
    pub bytes: Vec<u8>,
}

/// How far files are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Taking {
    /// They wait for somebody to say so.
    Waits,
    /// They are being written.
    Runs {
        /// Rows read so far.
        rows_read: i64,
        /// Rows of all files.
        rows_all: i64,
    },
    /// They are written, or refused.
    Done,
    /// They could not be written, and may be sent again.
    Failed,
}

/// What became of a file, in figures, with its refused rows.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FileOutcome {
    pub file: String,
    pub rows: u64,
    pub made: u64,
    /// Records that were there already.
    pub before: u64,
    /// Rows that can not be taken.
    pub bad_count: u64,
    /// The refused rows as a CSV file, each with its reason; none where no row is refused.
    pub refused: Option<String>,
}

impl FileOutcome {
    /// The figures of a report, with its refused rows.
    #[must_use]
    pub fn of(report: &FileReport, refused: impl FnOnce() -> String) -> Self {
        Self {
            file: report.file.clone(),
            rows: report.rows,
            made: report.made,
            before: report.before,
            bad_count: report.bad_count,
            refused: (report.bad_count > 0 && report.rows > 0).then(refused),
        }
    }
}

/// How a sheet is read, by the positions of its columns.
#[derive(Serialize, Deserialize)]
struct KeptLayout {
    /// Which sheet of the files.
    place: usize,
    /// Name of the kind.
    kind: String,
    /// Position of the header.
    header: usize,
    /// Where each column goes: nobody said, left out (empty), or the field's name.
    columns: Vec<Option<String>>,
    /// Fields with one value in all rows.
    fixed: Vec<(String, String)>,
    /// Order of days.
    days: Option<String>,
    /// Mark of decimals.
    mark: Option<char>,
}

impl KeptLayout {
    fn of(source: &Source) -> Self {
        let layout = &source.layout;
        let goes = |place: &Place| match place.goes {
            Goes::To(target, _) => Some(target.name().to_owned()),
            Goes::Nowhere => Some(String::new()),
            Goes::Unknown => None,
        };
        let fixed = layout.fixed.iter().map(|(t, text)| (t.name().to_owned(), text.clone()));
        Self {
            place: source.place,
            kind: layout.kind.spec().one.to_owned(),
            header: layout.header,
            columns: layout.columns.iter().map(goes).collect(),
            fixed: fixed.collect(),
            days: layout.days.map(|d| d.name().to_owned()),
            mark: layout.mark,
        }
    }

    /// The sheet read so.
    fn read(&self, sources: &[Source]) -> Option<Source> {
        let mut source = sources.iter().find(|s| s.place == self.place)?.clone();
        let kind = Kind::from_one(&self.kind)?;
        let cells = source.grid.rows.get(self.header).map_or(&[][..], |row| &row.cells);
        let place = |(cell, goes): (&traybook_sheets::Cell, &Option<String>)| {
            let goes = match goes.as_deref() {
                None => Goes::Unknown,
                Some("") => Goes::Nowhere,
                Some(name) => target(kind, name).map_or(Goes::Unknown, |t| Goes::To(t, u32::MAX)),
            };
            Place { header: cell.text.clone(), goes }
        };
        let fixed = self.fixed.iter();
        source.layout = Layout {
            kind,
            header: self.header,
            columns: cells.iter().zip(&self.columns).map(place).collect(),
            fixed: fixed.filter_map(|(n, text)| Some((target(kind, n)?, text.clone()))).collect(),
            days: self.days.as_deref().and_then(DayOrder::parse),
            mark: self.mark,
        };
        Some(source)
    }
}

/// The sheets of files, in the order of dependence.
fn read(files: &[Sent]) -> Vec<Source> {
    let mut found: Vec<Source> = Vec::new();
    let mut left = limits::FORM_CELLS_MAX;
    for file in files {
        let sources = Source::of_file(&file.name, &file.bytes, left);
        let cells = |s: &Source| s.grid.rows.iter().map(|row| row.cells.len()).sum::<usize>();
        left = left.saturating_sub(sources.iter().map(cells).sum());
        found.extend(sources);
    }
    for (place, source) in found.iter_mut().enumerate() {
        source.place = place;
    }
    found.sort_by_key(|source| source.layout.kind);
    found
}

/// Reads files away from the threads that answer.
async fn read_apart(files: Vec<Sent>) -> Result<(Vec<Sent>, Vec<Source>), AppError> {
    let work = move || {
        let sources = read(&files);
        (files, sources)
    };
    let broke = |e: tokio::task::JoinError| AppError::Internal(format!("reading files: {e}"));
    tokio::task::spawn_blocking(work).await.map_err(broke)
}

fn unreadable(error: serde_json::Error) -> AppError {
    AppError::Internal(format!("files that wait: {error}"))
}

fn json<T: Serialize>(value: &T) -> Result<String, AppError> {
    serde_json::to_string(value).map_err(unreadable)
}

fn parse<T: DeserializeOwned>(text: &str) -> Result<T, AppError> {
    serde_json::from_str(text).map_err(unreadable)
}

fn layouts(sources: &[Source]) -> Result<String, AppError> {
    json(&sources.iter().map(KeptLayout::of).collect::<Vec<_>>())
}

fn rows(sources: &[Source]) -> i64 {
    let all: usize = sources.iter().map(|s| s.layout.rows(&s.grid).0.len()).sum();
    i64::try_from(all).unwrap_or(i64::MAX)
}

fn rows_read(sources: &[Source], all: i64) -> i64 {
    let read: u64 = sources.iter().map(|s| s.progress.load(Ordering::Relaxed)).sum();
    i64::try_from(read).unwrap_or(i64::MAX).min(all)
}

fn named(actor: &Actor, id: Uuid) -> Name {
    (actor.coop.number, id)
}

impl App {
    /// Reads files as the co-operative last read such ones, and keeps them under a name until they
    /// are taken.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` where there is no file; those of the store.
    pub async fn keep_files(
        &self,
        actor: &Actor,
        id: Uuid,
        files: Vec<Sent>,
    ) -> Result<Vec<Source>, AppError> {
        actor.task(Task::Import)?;
        let (files, sources) = read_apart(files).await?;
        if sources.is_empty() {
            let error =
                FieldError::new("files", "required", "choose one or more CSV or XLSX files");
            return Err(AppError::Invalid(vec![error]));
        }
        let sources = self.read_as_before(actor, sources).await?;
        let name = named(actor, id);
        let wait = Wait {
            person: actor.person,
            touched_at: self.now().0,
            state: "waits".to_owned(),
            rows_read: 0,
            rows_all: rows(&sources),
            layouts: layouts(&sources)?,
            outcomes: json(&Vec::<FileOutcome>::new())?,
        };
        self.store
            .write(move |conn| {
                let most = limits::IMPORTS_WAITING_MAX;
                Ok::<_, AppError>(import_waits::begin(conn, name, &wait, most)?)
            })
            .await?;
        for (at, file) in (0_i64..).zip(files) {
            for (part, content) in (0_i64..).zip(file.bytes.chunks(PART_BYTES)) {
                let (file, content) = (file.name.clone(), content.to_vec());
                let add = move |conn: &mut _| {
                    let content = (file.as_str(), content.clone());
                    Ok::<_, AppError>(import_waits::add_part(conn, name, (at, part), content)?)
                };
                self.store.write(add).await?;
            }
        }
        Ok(sources)
    }

    async fn wait(&self, actor: &Actor, id: Uuid) -> Result<Option<Wait>, AppError> {
        actor.task(Task::Import)?;
        let name = named(actor, id);
        let find = move |conn: &mut _| Ok::<_, AppError>(import_waits::find(conn, name)?);
        let found = self.store.read(find).await?;
        let since = self.now().0 - limits::IMPORT_WAITS_MS;
        Ok(found.filter(|wait| wait.person == actor.person && wait.touched_at >= since))
    }

    /// The person's files that wait under a name, read as it was last chosen; none where they do
    /// not wait any more.
    ///
    /// # Errors
    /// `Forbidden`; those of the store.
    pub async fn waiting_files(
        &self,
        actor: &Actor,
        id: Uuid,
    ) -> Result<Option<Vec<Source>>, AppError> {
        let Some(wait) = self.wait(actor, id).await? else { return Ok(None) };
        let name = named(actor, id);
        let find = move |conn: &mut _| Ok::<_, AppError>(import_waits::files(conn, name)?);
        let files = self.store.read(find).await?;
        let files = files.into_iter().map(|(name, bytes)| Sent { name, bytes }).collect();
        let (_, sources) = read_apart(files).await?;
        let kept: Vec<KeptLayout> = parse(&wait.layouts)?;
        Ok(Some(kept.iter().filter_map(|layout| layout.read(&sources)).collect()))
    }

    /// Keeps how files that wait are read, and what was said of them.
    ///
    /// # Errors
    /// `Forbidden`; those of the store.
    pub async fn keep_choice(
        &self,
        actor: &Actor,
        id: Uuid,
        sources: &[Source],
        outcomes: &[FileOutcome],
    ) -> Result<(), AppError> {
        actor.task(Task::Import)?;
        let (name, now) = (named(actor, id), self.now().0);
        let (layouts, outcomes) = (layouts(sources)?, json(&outcomes)?);
        let keep = move |conn: &mut _| {
            Ok::<_, AppError>(import_waits::choose(conn, name, (&layouts, &outcomes), now)?)
        };
        self.store.write(keep).await
    }

    /// How far the person's files of a name are, and what became of them.
    ///
    /// # Errors
    /// `Forbidden`; those of the store.
    pub async fn taking(
        &self,
        actor: &Actor,
        id: Uuid,
    ) -> Result<Option<(Taking, Vec<FileOutcome>)>, AppError> {
        let Some(wait) = self.wait(actor, id).await? else { return Ok(None) };
        let state = match wait.state.as_str() {
            "waits" => Taking::Waits,
            "done" => Taking::Done,
            "runs" if wait.touched_at >= self.now().0 - super::BROKEN_OFF_MS => {
                Taking::Runs { rows_read: wait.rows_read, rows_all: wait.rows_all }
            }
            _ => Taking::Failed,
        };
        Ok(Some((state, parse(&wait.outcomes)?)))
    }

    /// Begins to take files that wait; none where that has begun, however often the button is
    /// tapped, or where there are none.
    ///
    /// # Errors
    /// `Forbidden`; those of the store.
    pub async fn begin_taking(
        &self,
        actor: &Actor,
        id: Uuid,
    ) -> Result<Option<Vec<Source>>, AppError> {
        if matches!(self.taking(actor, id).await?, None | Some((Taking::Runs { .. }, _))) {
            return Ok(None);
        }
        let Some(sources) = self.waiting_files(actor, id).await? else { return Ok(None) };
        let (name, now) = (named(actor, id), self.now().0);
        let since = now - super::BROKEN_OFF_MS;
        let start =
            move |conn: &mut _| Ok::<_, AppError>(import_waits::start(conn, name, since, now)?);
        Ok(self.store.write(start).await?.then_some(sources))
    }

    /// Takes files whose taking has begun: the good ones whole, or the good rows of all. Notes how
    /// far it is; `outcome` makes of each report what is kept of it.
    ///
    /// # Errors
    /// Those of the store, where the end could not be noted.
    pub async fn take_files(
        &self,
        actor: &Actor,
        id: Uuid,
        (sources, is_rows): (Vec<Source>, bool),
        outcome: impl Fn(&Source, &FileReport) -> FileOutcome,
    ) -> Result<(), AppError> {
        let (name, all) = (named(actor, id), rows(&sources));
        let files = sources.clone();
        let mut work = pin!(async {
            match is_rows {
                true => self.import_good_rows(actor, files).await,
                false => self.import(actor, files, false).await,
            }
        });
        let done = loop {
            if let Ok(done) = tokio::time::timeout(NOTE_PAUSE, &mut work).await {
                break done;
            }
            let (read, now) = (rows_read(&sources, all), self.now().0);
            let note =
                move |conn: &mut _| Ok::<_, AppError>(import_waits::touch(conn, name, read, now)?);
            if let Err(error) = self.store.write(note).await {
                tracing::warn!(%error, "how far a file is could not be noted");
            }
        };
        let (state, outcomes) = match done {
            Ok(reports) => {
                let outcomes = sources.iter().zip(&reports).map(|(s, r)| outcome(s, r));
                ("done", Some(json(&outcomes.collect::<Vec<_>>())?))
            }
            Err(error) => {
                tracing::warn!(%error, "files could not be taken");
                ("failed", None)
            }
        };
        let now = self.now().0;
        let end = move |conn: &mut _| {
            let how = (state, outcomes.as_deref());
            Ok::<_, AppError>(import_waits::end(conn, name, how, now)?)
        };
        self.store.write(end).await
    }

    /// Forgets files that nobody took in time.
    pub async fn forget_files(&self) -> Result<(), AppError> {
        let since = self.now().0 - limits::IMPORT_WAITS_MS;
        self.store.write(move |conn| Ok::<_, AppError>(import_waits::forget(conn, since)?)).await
    }
}
