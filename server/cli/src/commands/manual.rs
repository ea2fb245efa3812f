//! Manual pages and completions, for packages.

use crate::args::Args;
use clap::{Command, CommandFactory as _};
use clap_complete::Shell;
use std::path::Path;
use std::process::ExitCode;

/// Writes a page for every command and a file for every shell.
///
/// # Errors
/// What is wrong with the folder.
pub fn run(folder: &Path) -> Result<ExitCode, String> {
    let wrong = |e: std::io::Error| format!("{}: {e}; name another folder", folder.display());
    std::fs::create_dir_all(folder).map_err(wrong)?;
    let mut command = Args::command();
    for shell in [Shell::Bash, Shell::Fish, Shell::Zsh] {
        clap_complete::generate_to(shell, &mut command, "traybook", folder).map_err(wrong)?;
    }
    clap_mangen::generate_to(without_help(Args::command()), folder).map_err(wrong)?;
    Ok(ExitCode::SUCCESS)
}

/// The commands themselves: each `help` would be a page that says what another one says.
fn without_help(command: Command) -> Command {
    command.disable_help_subcommand(true).mut_subcommands(without_help)
}
