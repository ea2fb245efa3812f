//! The estimates on a CSV file, without a server. `server/cli/ANALYSE.md` describes the files
//! and the answers.

mod answer;
pub mod args;
mod group_time;
mod lots;
mod output_change;
mod panel_file;
mod read;
mod saving;
mod spoilage;

use args::{Analyse, Method, Question};
use std::process::ExitCode;

/// Reads a file, estimates, and prints the answer.
///
/// # Errors
/// What is wrong with the file or the arguments, and what to do.
pub fn run(analyse: &Analyse) -> Result<ExitCode, String> {
    let (answer, common) = match &analyse.question {
        Question::OutputChange(asked) => {
            let file = panel_file::read(asked)?;
            let answer = match asked.method {
                Method::Member => output_change::answer(&file)?,
                Method::GroupTime => group_time::answer(&file, asked)?,
            };
            (answer, &asked.common)
        }
        Question::Spoilage(asked) => (spoilage::answer(asked)?, &asked.common),
        Question::Lots(asked) => (lots::answer(asked)?, &asked.common),
        Question::Saving(asked) => (saving::answer(asked)?, &asked.common),
    };
    answer.print(common.format)?;
    Ok(ExitCode::SUCCESS)
}
