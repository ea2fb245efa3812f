//! The first start of a co-operative.

use crate::args::{Args, Found, LISTEN};
use crate::world;
use serde_json::{Map, Value as Json, json};
use std::process::ExitCode;
use traybook_app::{Actor, App, AppError};
use traybook_domain::Kind;
use traybook_domain::limits::INVITATION_S;

/// Makes a co-operative and prints one-time codes for its operator and manager.
pub fn run(args: &Args, found: &Found) -> Result<ExitCode, String> {
    let app = world::open(args)?;
    let here = || format!("http://{LISTEN}");
    let address = found.public_address.clone().unwrap_or_else(here);
    world::wait(async {
        let id = app.new_id()?;
        let coop = app
            .found(
                id,
                object(json!({
                    "name": found.name, "currency": found.currency, "zone": found.zone,
                    "language": found.language, "started_on": found.started_on,
                })),
            )
            .await?;
        println!("{} ({id})", coop.name);
        let machine = Actor::machine(coop);
        let people = [("operator", &found.operator_email), ("manager", &found.manager_email)];
        for (role, email) in people {
            let code = person(&app, &machine, role, email, &found.language).await?;
            println!("{role} {email}: {address}/invitation?code={code}");
        }
        println!(
            "Run `traybook serve`, then open each address within {} days and choose a password. The \
             manager's first page leads through the first steps.",
            INVITATION_S / 86_400
        );
        Ok(ExitCode::SUCCESS)
    })
}

async fn person(
    app: &App,
    machine: &Actor,
    role: &str,
    email: &str,
    language: &str,
) -> Result<String, AppError> {
    let id = app.new_id()?;
    let body = object(json!({
        "code": role, "name": email, "email": email, "language": language, "role": role,
        "active": true,
    }));
    app.change(machine, move |txn| txn.create(Kind::Person, id, &body).map(drop)).await?;
    Ok(app.invite(machine, id).await?.0)
}

fn object(value: Json) -> Map<String, Json> {
    match value {
        Json::Object(map) => map,
        _ => Map::new(),
    }
}
