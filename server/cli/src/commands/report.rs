//! Printing reports.

use crate::args::{Args, Report, ReportFormat, ReportName};
use crate::world;
use std::io::{IsTerminal as _, Write as _};
use std::process::ExitCode;
use traybook_app::savings::{Form, read_month};
use traybook_app::{Actor, App, AppError};
use traybook_domain::Month;
use traybook_reports::table;

/// Prints the savings report of a month, or writes it to a file.
pub fn run(args: &Args, report: &Report) -> Result<ExitCode, String> {
    if report.from.is_some() && report.format != ReportFormat::Xlsx {
        return Err("--from is for a workbook: add --format xlsx".to_owned());
    }
    let is_paper = matches!(report.name, ReportName::Board);
    if is_paper && !matches!(report.format, ReportFormat::Pdf | ReportFormat::Json) {
        return Err("the board's paper is PDF or JSON: add --format pdf --out FILE".to_owned());
    }
    if report.anonymous && !is_paper {
        return Err("--anonymous is for the board's paper: traybook report board".to_owned());
    }
    fits(report.format, report.out.is_some(), std::io::stdout().is_terminal())?;
    let app = world::open_present(args)?;
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

/// Whether a form can go where it is to go.
fn fits(format: ReportFormat, has_file: bool, to_terminal: bool) -> Result<(), String> {
    let is_text = !matches!(format, ReportFormat::Xlsx | ReportFormat::Pdf);
    match is_text || has_file || !to_terminal {
        true => Ok(()),
        false => Err("this is no text for a terminal: add --out FILE".to_owned()),
    }
}

/// The report in the form that is asked for.
async fn made(app: &App, actor: &Actor, report: &Report) -> Result<Vec<u8>, AppError> {
    let language = report.language;
    let last = Month::of(actor.coop.today(app.now())).plus(-1);
    let month = &report.month.clone().unwrap_or_else(|| last.to_string());
    if matches!(report.name, ReportName::Board) {
        if report.format == ReportFormat::Pdf {
            return app.board_pdf(actor, month, report.anonymous, language).await;
        }
        let paper = app.board_paper(actor, month, report.anonymous).await?;
        return serde_json::to_vec_pretty(&paper).map_err(|e| AppError::Internal(e.to_string()));
    }
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
        return Ok(table::savings(&made, language).into());
    }
    let sent = app.savings_text(actor, month, Form::Csv).await?;
    Ok(format!("{}\n\n{sent}", language.with("table-closed", "month", month.as_str())).into())
}

#[cfg(test)]
mod tests {
    use super::{ReportFormat, fits};

    #[test]
    fn what_is_no_text_never_goes_to_a_terminal() {
        for format in [ReportFormat::Xlsx, ReportFormat::Pdf] {
            assert!(fits(format, false, true).is_err_and(|e| e.contains("--out FILE")));
            assert!(fits(format, true, true).is_ok() && fits(format, false, false).is_ok());
        }
        assert!(fits(ReportFormat::Table, false, true).is_ok());
    }
}
