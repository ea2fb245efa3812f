//! Printing reports.

use crate::args::{Args, Format, Report};
use crate::world;
use std::process::ExitCode;
use traybook_app::Actor;
use traybook_app::savings::Form;
use traybook_reports::table;

/// Prints the savings report of a month.
///
/// # Errors
/// What is wrong, in plain words.
pub fn run(args: &Args, report: &Report) -> Result<ExitCode, String> {
    let app = world::open(args)?;
    world::wait(async {
        let coop = app.choose_cooperative(report.chosen.cooperative.clone()).await?;
        let text = app.savings(&Actor::machine(coop), &report.month, Form::Both).await?;
        match (report.format, &text.report) {
            (Format::Json, _) => print!("{}", text.json),
            (Format::Csv, _) => print!("{}", text.csv),
            (Format::Table, Some(open)) => print!("{}", table::savings(open)),
            (Format::Table, None) => {
                println!("{} is closed; this is the report as it was sent:\n", report.month);
                print!("{}", text.csv);
            }
        }
        Ok(ExitCode::SUCCESS)
    })
}
