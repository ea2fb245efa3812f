//! Checking the kept sums.

use crate::args::{Args, Chosen};
use crate::world;
use std::process::ExitCode;

/// Builds the kept sums anew and says whether they agreed.
///
/// # Errors
/// What is wrong, in plain words.
pub fn run(args: &Args, chosen: &Chosen) -> Result<ExitCode, String> {
    let app = world::open_present(args)?;
    let sums = world::wait(async {
        let coop = app.choose_cooperative(chosen.cooperative.clone()).await?;
        app.rebuild_sums(&coop).await
    })?;
    if sums.kept == sums.rebuilt {
        println!("{} sums agree with the records", sums.rebuilt.len());
        return Ok(ExitCode::SUCCESS);
    }
    for line in sums.kept.iter().filter(|l| !sums.rebuilt.contains(l)).take(20) {
        println!("kept    {line}");
    }
    for line in sums.rebuilt.iter().filter(|l| !sums.kept.contains(l)).take(20) {
        println!("rebuilt {line}");
    }
    println!("the sums did not agree; they have been built anew. Please report this.");
    Ok(ExitCode::FAILURE)
}
