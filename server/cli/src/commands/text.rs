//! Reading a text as it would be taken, without writing or sending anything.

use crate::args::{Args, Chosen};
use crate::world;
use std::process::ExitCode;

/// Arguments of `text`.
#[derive(clap::Args)]
pub struct Text {
    /// What a member writes; a call that nobody took where none is given.
    text: Option<String>,
    /// Number that it comes from, with + and the calling code.
    #[arg(long)]
    from: String,
    /// Which co-operative.
    #[command(flatten)]
    chosen: Chosen,
}

/// Prints what is read, what would be recorded, and the answer.
pub fn run(args: &Args, text: &Text) -> Result<ExitCode, String> {
    let app = world::open_present(args)?;
    world::wait(async {
        let coop = app.choose_cooperative(text.chosen.cooperative.clone()).await?;
        let spoken = app.try_text(&coop, &text.from, text.text.clone()).await?;
        println!("reading: {}", spoken.outcome.text());
        for record in &spoken.records {
            let line = serde_json::to_string(record);
            println!("record:  {}", line.unwrap_or_default());
        }
        println!("answer:  {}", spoken.answer.unwrap_or_default());
        Ok(ExitCode::SUCCESS)
    })
}
