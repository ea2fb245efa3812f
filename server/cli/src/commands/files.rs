//! Files in and out.

use crate::args::{Args, Export, Import};
use crate::world::{self, SystemClock};
use serde_json::{Map, Value as Json};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use traybook_app::records::import::{FileReport, Said, Source, read_files, refused_file};
use traybook_app::{Actor, App, AppError, Coop, SystemRandom};
use traybook_domain::Kind;
use traybook_sheets::columns::{column_name, columns};
use uuid::Uuid;

/// Imports a folder or a file.
pub fn import(args: &Args, import: &Import) -> Result<ExitCode, String> {
    let said = Said {
        days: import.days.map(Into::into),
        mark: import.decimals.map(Into::into),
        columns: import.column.clone(),
        fixed: import.fill.clone(),
    };
    let files = read_files(&import.folder, &said)?;
    let mut app = world::open(args)?;
    let is_founding = |source: &&Source| source.layout.kind == Kind::Cooperative;
    let founding = files.iter().find(is_founding).cloned();
    // A dry run keeps nothing: a co-operative that is only tried is made in a folder that goes.
    let mut trial = None;
    if import.dry_run && founding.is_some() && is_empty(&app, import)? {
        let place = Trial::begin(args)?;
        app = place.open(args)?;
        trial = Some(place);
    }
    let work = async {
        let coop = match app.choose_cooperative(import.chosen.cooperative.clone()).await {
            Err(AppError::NotFound) => found(&app, founding).await?,
            other => other?,
        };
        let actor = Actor::machine(coop);
        if import.good_rows && !import.dry_run {
            app.import_good_rows(&actor, files.clone()).await
        } else {
            app.import(&actor, files.clone(), import.dry_run).await
        }
    };
    let reports = world::wait_saying(work, rows_read(&files))?;
    drop(trial);
    let bad = print(&reports, import);
    if let Some(folder) = &import.refused {
        keep_refused(folder, &files, &reports)?;
    }
    Ok(if bad { ExitCode::FAILURE } else { ExitCode::SUCCESS })
}

/// Whether the database holds no co-operative that the command could mean.
fn is_empty(app: &App, import: &Import) -> Result<bool, String> {
    world::wait(async {
        let found = app.choose_cooperative(import.chosen.cooperative.clone()).await;
        Ok(matches!(found, Err(AppError::NotFound)))
    })
}

/// A folder beside the data that goes when the command ends.
struct Trial(PathBuf);

impl Trial {
    fn begin(args: &Args) -> Result<Self, String> {
        let place = args.data.join(format!("trial-{}", std::process::id()));
        std::fs::create_dir_all(&place).map_err(|e| format!("{}: {e}", place.display()))?;
        Ok(Self(place))
    }

    fn open(&self, args: &Args) -> Result<App, String> {
        let url = format!("sqlite:{}", self.0.join("trial.sqlite").display());
        world::app(
            &url,
            world::keys(args)?,
            world::carriers(args)?,
            Arc::new(SystemClock),
            Arc::new(SystemRandom),
        )
    }
}

impl Drop for Trial {
    fn drop(&mut self) {
        drop(std::fs::remove_dir_all(&self.0));
    }
}

/// How many rows were read so far.
fn rows_read(files: &[Source]) -> impl Fn(u64) -> String + Send + 'static {
    let rows: usize = files.iter().map(|s| s.grid.rows.len()).sum();
    let progress: Vec<_> = files.iter().map(|s| Arc::clone(&s.progress)).collect();
    move |_| {
        let read: u64 = progress.iter().map(|p| p.load(Ordering::Relaxed)).sum();
        format!("{read} of {rows} rows")
    }
}

/// Makes the co-operative that `cooperatives.csv` describes.
async fn found(app: &App, file: Option<Source>) -> Result<Coop, AppError> {
    let none = || {
        let text = "the database holds no such co-operative: make one with `traybook found`, or \
                    put a cooperatives.csv into the folder";
        AppError::conflict("no_cooperative", text)
    };
    let file = file.ok_or_else(none)?;
    if let Some((_, error)) = file.unreadable {
        return Err(AppError::conflict("files", error.detail));
    }
    let (rows, _) = file.layout.rows(&file.grid);
    let [row] = rows.as_slice() else { return Err(none()) };
    let cell = |name: &str| {
        let at = file.layout.columns.iter().position(|p| p.header == name)?;
        row.cells.get(at).map(|c| c.text.clone()).filter(|text| !text.is_empty())
    };
    let id = match cell("id").map(|text| Uuid::try_parse(&text)) {
        Some(Ok(id)) => id,
        Some(Err(_)) => return Err(AppError::field("id", "type", "give a UUID of version 7")),
        None => app.new_id()?,
    };
    let mut body = Map::new();
    for column in columns(Kind::Cooperative) {
        let name = column_name(column.field);
        if let Some(text) = cell(name) {
            body.insert(name.to_owned(), Json::from(text));
        }
    }
    app.found(id, body).await
}

/// Writes a file of the refused rows for each file that has some.
fn keep_refused(folder: &Path, files: &[Source], reports: &[FileReport]) -> Result<(), String> {
    let io = |e: std::io::Error| format!("{}: {e}", folder.display());
    std::fs::create_dir_all(folder).map_err(io)?;
    for (source, report) in files.iter().zip(reports).filter(|(_, r)| r.bad_count > 0) {
        let more = "see the other rows: more were refused than are explained";
        let words = ("why refused", "it refers to a row that was refused", more);
        let text = refused_file(source, report, words, |bad| {
            let what = &bad.error.detail;
            if bad.name.is_empty() { what.clone() } else { format!("{}: {what}", bad.name) }
        });
        let stem = report.file.replace(['/', ','], "-");
        let path = folder.join(format!("{stem}.refused.csv"));
        std::fs::write(&path, text).map_err(io)?;
        println!("{}: the refused rows, to be mended and imported again", path.display());
    }
    Ok(())
}

fn print(reports: &[FileReport], import: &Import) -> bool {
    let mut bad = false;
    for r in reports {
        for row in &r.bad {
            let place = match (row.column, row.name.as_str()) {
                (0, "") => format!("{}:{}", r.file, row.line),
                (0, name) => format!("{}:{}: {name}", r.file, row.line),
                (column, name) => format!("{}:{}: column {column} ({name})", r.file, row.line),
            };
            let behind = match row.behind {
                0 => String::new(),
                count => format!(" (rows that refer to it: {count})"),
            };
            println!("{place}: {}{behind}", row.error.detail);
        }
        bad |= r.bad_count > 0;
        let verb = if import.dry_run { "would be new" } else { "new" };
        let taken = format!("{} {verb}, {} there already", r.made, r.before);
        match (r.bad_count, import.good_rows && !import.dry_run && r.made + r.before > 0) {
            (0, _) => println!("{}: {} rows, {taken}", r.file, r.rows),
            (count, true) => {
                println!("{}: bad rows, left out: {count} of {}; {taken}", r.file, r.rows)
            }
            (count, false) => {
                println!(
                    "{}: bad rows: {count} of {}; nothing of this file was kept",
                    r.file, r.rows
                );
            }
        }
    }
    if import.dry_run {
        println!("Dry run: nothing was kept.");
    }
    bad
}

/// Exports all records.
pub fn export(args: &Args, export: &Export) -> Result<ExitCode, String> {
    let app = world::open_present(args)?;
    let written = world::wait(async {
        let coop = app.choose_cooperative(export.chosen.cooperative.clone()).await?;
        app.export(&coop, export.folder.clone()).await
    })?;
    for (file, rows) in written {
        println!("{file}: {rows} rows");
    }
    Ok(ExitCode::SUCCESS)
}
