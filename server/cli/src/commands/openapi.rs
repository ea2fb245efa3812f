//! The interface's description.

use crate::args::Part;
use std::process::ExitCode;
use traybook_domain::people::authz::policy_text;
use traybook_http::openapi;
use traybook_http::problem::problems_text;

/// Prints a part of it.
///
/// # Errors
/// When the document is not sound.
pub fn run(part: Part) -> Result<ExitCode, String> {
    let text = match part {
        Part::Document => openapi::text()?,
        Part::Routes => openapi::routes_text(),
        Part::Problems => problems_text(),
        Part::Policy => policy_text(),
    };
    print!("{text}");
    Ok(ExitCode::SUCCESS)
}
