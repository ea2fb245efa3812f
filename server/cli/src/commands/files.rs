//! CSV in and out.

use crate::args::{Args, Export, Import};
use crate::world;
use serde_json::{Map, Value as Json};
use std::process::ExitCode;
use std::sync::Arc;
use traybook_app::records::csv_files::{column_name, columns, sheet};
use traybook_app::records::import::{FileReport, read_folder};
use traybook_app::{App, AppError, Coop};
use traybook_domain::Kind;
use uuid::Uuid;

/// Imports a folder.
///
/// # Errors
/// What is wrong, in plain words.
pub fn import(args: &Args, import: &Import) -> Result<ExitCode, String> {
    let files = read_folder(&import.folder)?;
    let app = world::open(args)?;
    let founding = files.iter().find(|(k, _)| *k == Kind::Cooperative).map(|(_, b)| Arc::clone(b));
    let reports = world::wait(async {
        let coop = match app.choose_cooperative(import.chosen.cooperative.clone()).await {
            Err(AppError::NotFound) => found(&app, founding).await?,
            other => other?,
        };
        app.import(&traybook_app::Actor::machine(coop), files, import.dry_run).await
    })?;
    let bad = print(&reports, import.dry_run);
    Ok(if bad { ExitCode::FAILURE } else { ExitCode::SUCCESS })
}

/// Makes the co-operative that `cooperatives.csv` describes.
async fn found(app: &App, file: Option<Arc<Vec<u8>>>) -> Result<Coop, AppError> {
    let none = || {
        let text = "the database holds no such co-operative: make one with `traybook found`, or \
                    put a cooperatives.csv into the folder";
        AppError::conflict("no_cooperative", text)
    };
    let file = file.ok_or_else(none)?;
    let sheet = sheet(&file).map_err(|(_, e)| AppError::conflict("files", e.detail))?;
    let [(_, cells)] = sheet.rows.as_slice() else { return Err(none()) };
    let cell = |name: &str| {
        let at = sheet.header.iter().position(|h| h.trim() == name)?;
        cells.get(at).filter(|c| !c.is_empty()).cloned()
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

fn print(reports: &[FileReport], dry_run: bool) -> bool {
    let mut bad = false;
    for r in reports {
        for row in &r.bad {
            let place = match (row.column, row.name.as_str()) {
                (0, "") => format!("{}:{}", r.file, row.line),
                (0, name) => format!("{}:{}: {name}", r.file, row.line),
                (column, name) => format!("{}:{}: column {column} ({name})", r.file, row.line),
            };
            println!("{place}: {}", row.error.detail);
        }
        if r.bad_count > 0 {
            bad = true;
            println!(
                "{}: {} problems in {} rows; nothing of this file was kept",
                r.file, r.bad_count, r.rows
            );
        } else {
            let verb = if dry_run { "would be new" } else { "new" };
            println!("{}: {} rows, {} {verb}, {} there already", r.file, r.rows, r.made, r.before);
        }
    }
    if dry_run {
        println!("Dry run: nothing was kept.");
    }
    bad
}

/// Exports all records.
///
/// # Errors
/// What is wrong, in plain words.
pub fn export(args: &Args, export: &Export) -> Result<ExitCode, String> {
    let app = world::open(args)?;
    let written = world::wait(async {
        let coop = app.choose_cooperative(export.chosen.cooperative.clone()).await?;
        app.export(&coop, export.folder.clone()).await
    })?;
    for (file, rows) in written {
        println!("{file}: {rows} rows");
    }
    Ok(ExitCode::SUCCESS)
}
