//! Which co-operatives' sums a programme reader may read.

use crate::args::Args;
use crate::world;
use chrono::NaiveDate;
use std::process::ExitCode;
use traybook_app::AppError;
use uuid::Uuid;

/// Arguments of `programme`.
#[derive(clap::Args)]
pub struct Programme {
    /// What to do.
    #[command(subcommand)]
    what: What,
}

/// What is done about a reader.
#[derive(clap::Subcommand)]
enum What {
    /// Open the sums of a co-operative, or of all, to a reader.
    Open {
        /// E-mail address or telephone number of the programme reader.
        reader: String,
        /// Name or id of the co-operative.
        #[arg(long, required_unless_present = "all", conflicts_with = "all")]
        cooperative: Option<String>,
        /// All co-operatives, those to come as well.
        #[arg(long)]
        all: bool,
        /// Last day, YYYY-MM-DD.
        #[arg(long)]
        until: NaiveDate,
        /// Who agreed to it, and where that is written.
        #[arg(long)]
        by: String,
    },
    /// List what is open to a reader.
    List {
        /// E-mail address or telephone number of the programme reader.
        reader: String,
    },
    /// Close what was opened to a reader.
    Close {
        /// E-mail address or telephone number of the programme reader.
        reader: String,
        /// Its id, as `programme list` prints it.
        id: Uuid,
    },
}

/// Opens, lists or closes.
pub fn run(args: &Args, programme: &Programme) -> Result<ExitCode, String> {
    let app = world::open_present(args)?;
    let said = world::wait(async {
        let not_there = |error| match error {
            AppError::NotFound => AppError::field("reader", "unknown", NO_READER),
            other => other,
        };
        match &programme.what {
            What::Open { reader, cooperative, until, by, .. } => {
                let of = match cooperative {
                    Some(_) => Some(app.choose_cooperative(cooperative.clone()).await?),
                    None => None,
                };
                let grant = app.open_to_programme(reader, of, (by.clone(), *until)).await;
                let grant = grant.map_err(not_there)?;
                Ok(vec![format!("open until {}: {}", grant.until, grant.id)])
            }
            What::List { reader } => {
                let all = app.programme_grants(reader).await.map_err(not_there)?;
                let line = |g: &traybook_app::savings::programme_sum::GivenGrant| {
                    let of = g.of.as_deref().unwrap_or("all co-operatives");
                    format!("{}  until {}  {of}  ({})", g.grant.id, g.grant.until, g.grant.given_by)
                };
                let lines: Vec<String> = all.iter().map(line).collect();
                Ok(if lines.is_empty() { vec!["nothing is open".to_owned()] } else { lines })
            }
            What::Close { reader, id } => {
                app.close_to_programme(reader, *id).await?;
                Ok(vec!["closed".to_owned()])
            }
        }
    })?;
    println!("{}", said.join("\n"));
    Ok(ExitCode::SUCCESS)
}

/// What is said of a login that is no programme reader's.
const NO_READER: &str = "no programme reader signs in with this; make the person first";
