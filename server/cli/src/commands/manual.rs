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

#[cfg(test)]
mod tests {
    use super::*;

    /// What has no text: commands, their options, and the values that these can have.
    fn without_text(command: &Command, at: &str, found: &mut Vec<String>) {
        let at = format!("{at} {}", command.get_name());
        if command.get_about().is_none() {
            found.push(at.clone());
        }
        for arg in command.get_arguments() {
            let name = format!("{at}: {}", arg.get_id());
            let values = arg.get_possible_values();
            let is_silent = |v: &clap::builder::PossibleValue| {
                v.get_help().is_none() && !["true", "false"].contains(&v.get_name())
            };
            let silent = values.iter().filter(|v| is_silent(v));
            found.extend(silent.map(|v| format!("{name} {}", v.get_name())));
            if arg.get_help().is_none() && !arg.is_hide_set() {
                found.push(name);
            }
        }
        for inner in command.get_subcommands() {
            without_text(inner, &at, found);
        }
    }

    #[test]
    fn every_command_option_and_value_says_what_it_is() {
        let mut found = Vec::new();
        without_text(&Args::command(), "", &mut found);
        assert_eq!(found, Vec::<String>::new());
        without_text(&Command::new("silent"), "", &mut found);
        assert_eq!(found, [" silent"], "it would be found");
    }
}
