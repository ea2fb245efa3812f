//! Checking the kept sums and the security log.

use crate::args::{Args, Chosen};
use crate::world;
use std::process::ExitCode;

/// Builds the kept sums anew and says whether they agreed, and follows the security log.
pub fn run(args: &Args, chosen: &Chosen) -> Result<ExitCode, String> {
    let app = world::open_present(args)?;
    let (sums, (lines, broken)) = world::wait(async {
        let coop = app.choose_cooperative(chosen.cooperative.clone()).await?;
        Ok((app.rebuild_sums(&coop).await?, app.check_security_log().await?))
    })?;
    for at in &broken {
        println!(
            "the security log of co-operative {} was changed from line {} on",
            at.chain, at.seq
        );
    }
    if broken.is_empty() {
        println!("{lines} lines of the security log follow each other");
    }
    if sums.kept == sums.rebuilt {
        println!("{} sums agree with the records", sums.rebuilt.len());
        return Ok(if broken.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE });
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
