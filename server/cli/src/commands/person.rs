//! What is held about a member: handed over, or erased.

use crate::args::{Args, Person, PersonDo};
use crate::world;
use std::process::ExitCode;
use traybook_app::{Actor, AppError};
use traybook_domain::Kind;

/// Writes a copy of everything held about a member, or erases what is personal.
pub fn run(args: &Args, person: &Person) -> Result<ExitCode, String> {
    let app = world::open_present(args)?;
    let done = world::wait(async {
        let (number, chosen) = match &person.what {
            PersonDo::Export { number, chosen, .. } | PersonDo::Erase { number, chosen, .. } => {
                (number, chosen)
            }
        };
        let coop = app.choose_cooperative(chosen.cooperative.clone()).await?;
        let actor = Actor::machine(coop);
        let member = app.find_code(&actor, Kind::Member, number).await?;
        match &person.what {
            PersonDo::Export { .. } => {
                let copy = app.personal_copy(&actor, member).await?;
                let text = serde_json::to_string_pretty(&copy);
                text.map_err(|e| AppError::Internal(e.to_string()))
            }
            PersonDo::Erase { number, reason, .. } => {
                let done = app.erase_member(&actor, member, number, reason).await?;
                Ok(format!(
                    "Emptied: {} records, {} earlier versions. Deleted: {} pictures, {} accounts.\n\
                     Reports of {} closed months now show the number. Backups and \
                     archives of versions made before still hold the name until they are removed.",
                    done.records, done.versions, done.pictures, done.accounts, done.closed_months
                ))
            }
        }
    })?;
    match &person.what {
        PersonDo::Export { out: Some(path), .. } => std::fs::write(path, done)
            .map_err(|e| format!("{} can not be written: {e}", path.display()))?,
        _ => println!("{done}"),
    }
    Ok(ExitCode::SUCCESS)
}
