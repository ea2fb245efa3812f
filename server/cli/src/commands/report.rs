//! Printing reports.

use crate::args::{Args, Report, ReportFormat};
use crate::world;
use std::io::{IsTerminal as _, Write as _};
use std::process::ExitCode;
use traybook_app::savings::{Form, read_month};
use traybook_app::{Actor, App, AppError};
use traybook_reports::table;

/// Prints the savings report of a month, or writes it to a file.
///
/// # Errors
/// What is wrong, in plain words.
pub fn run(args: &Args, report: &Report) -> Result<ExitCode, String> {
    if report.from.is_some() && report.format != ReportFormat::Xlsx {
        return Err("--from is for a workbook: add --format xlsx".to_owned());
    }
    let is_file = matches!(report.format, ReportFormat::Xlsx | ReportFormat::Pdf);
    if is_file && report.out.is_none() && std::io::stdout().is_terminal() {
        return Err("this is no text for a terminal: add --out FILE".to_owned());
    }
    let app = world::open(args)?;
    let body = world::wait(async {
        let coop = app.choose_cooperative(report.chosen.cooperative.clone()).await?;
        app.make_figures_now(&coop).await?;
        made(&app, &Actor::machine(coop), report).await
    })?;
    match &report.out {
        Some(path) => std::fs::write(path, &body)
            .map_err(|e| format!("{} can not be written: {e}", path.display()))?,
        None => std::io::stdout()
            .write_all(&body)
            .map_err(|e| format!("standard output can not be written: {e}"))?,
    }
    Ok(ExitCode::SUCCESS)
}

/// The report in the form that is asked for.
async fn made(app: &App, actor: &Actor, report: &Report) -> Result<Vec<u8>, AppError> {
    let (month, language) = (&report.month, report.language.into());
    match report.format {
        ReportFormat::Xlsx => {
            let from = report.from.as_ref().unwrap_or(month);
            return app.savings_workbook(actor, from, month, language).await;
        }
        ReportFormat::Pdf => return app.savings_pdf(actor, month, language).await,
        ReportFormat::Json => return Ok(app.savings_text(actor, month, Form::Json).await?.into()),
        ReportFormat::Csv => return Ok(app.savings_text(actor, month, Form::Csv).await?.into()),
        ReportFormat::Table => {}
    }
    let of = read_month(month, &actor.coop, app.now())?;
    let made = app.savings_report(actor, of).await?;
    if !made.is_closed {
        return Ok(table::savings(&made).into());
    }
    let sent = app.savings_text(actor, month, Form::Csv).await?;
    Ok(format!("{month} is closed; this is the report as it was sent:\n\n{sent}").into())
}
