//! Spreading the tables over the machines of a distributed PostgreSQL.

use crate::args::{Args, Spread};
use crate::world;
use std::process::ExitCode;

/// Spreads the tables, or says which are not spread.
pub fn run(args: &Args, spread: &Spread) -> Result<ExitCode, String> {
    let app = world::open_present(args)?;
    if !spread.check {
        println!("{} tables spread", world::wait(app.spread_tables())?);
    }
    match world::wait(app.local_tables())?.as_deref() {
        None => println!("this database keeps all tables on one machine, and can not do otherwise"),
        Some([]) => println!("all tables are spread"),
        Some(local) => {
            println!("on one machine alone: {}", local.join(", "));
            return Ok(ExitCode::FAILURE);
        }
    }
    Ok(ExitCode::SUCCESS)
}
