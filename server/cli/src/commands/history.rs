//! Archives of replaced versions.

use crate::args::{Args, Chosen};
use crate::commands::keep::read_identity;
use crate::world;
use chrono::NaiveDate;
use std::io::Write as _;
use std::path::PathBuf;
use std::process::ExitCode;
use traybook_app::copies::Recipient;
use traybook_app::records::archive::read_archive;
use uuid::Uuid;

/// Arguments of `history`.
#[derive(clap::Args)]
pub struct History {
    /// What to do.
    #[command(subcommand)]
    what: What,
}

/// What is done.
#[derive(clap::Subcommand)]
enum What {
    /// Move what was replaced before a day into a new file. The records themselves stay.
    Archive {
        /// The new file.
        file: PathBuf,
        /// The day, YYYY-MM-DD, at least a year ago.
        #[arg(long)]
        before: NaiveDate,
        /// Who can read it: a recipient of age, age1…; anybody who has the file where none is given.
        #[arg(long)]
        recipient: Option<String>,
        /// Which co-operative.
        #[command(flatten)]
        chosen: Chosen,
    },
    /// Print the versions that a file holds, one JSON object a line.
    Show {
        /// A file that was written by `archive`.
        file: PathBuf,
        /// Of this record alone.
        #[arg(long, value_name = "ID")]
        record: Option<Uuid>,
        /// File of the age identity, where the archive is encrypted.
        #[arg(long)]
        identity: Option<PathBuf>,
    },
}

/// Moves or shows.
pub fn run(args: &Args, history: &History) -> Result<ExitCode, String> {
    match &history.what {
        What::Archive { file, before, recipient, chosen } => {
            let recipient = recipient.as_deref().map(Recipient::parse).transpose();
            let recipient = recipient.map_err(|e| format!("--recipient: {e}"))?;
            let app = world::open_present(args)?;
            let done = world::wait(async {
                let coop = app.choose_cooperative(chosen.cooperative.clone()).await?;
                app.archive_history(&coop, *before, (file, recipient.as_ref())).await
            })?;
            match done.versions {
                0 => println!("nothing was replaced before {before}; no file was made"),
                versions => {
                    println!("{}: {versions} versions, {} bytes", file.display(), done.bytes);
                    println!("Keep the file as long as your rules ask, like a backup.");
                }
            }
        }
        What::Show { file, record, identity } => {
            let identity = identity.as_deref().map(read_identity).transpose()?;
            let mut out = std::io::stdout().lock();
            // Who reads only the first lines has what was asked for.
            let print = |_: &_, line: &str| drop(writeln!(out, "{line}"));
            let shown = read_archive(file, identity.as_ref(), *record, print);
            if shown.map_err(world::say)? == 0 {
                return Err(match record {
                    Some(id) => format!("{} holds no version of {id}", file.display()),
                    None => format!("{} holds no version", file.display()),
                });
            }
        }
    }
    Ok(ExitCode::SUCCESS)
}
