//! Printing seed accounts, traces, the comparison of suppliers and the review list.

use crate::args::{Args, Format, Seed, SeedAsked};
use crate::world;
use std::process::ExitCode;
use traybook_app::review::Asked;
use traybook_app::sheet::Sheet;
use traybook_app::{Actor, App, AppError};
use traybook_domain::Kind;

/// Prints what is asked of the seed chain.
///
/// # Errors
/// What is wrong, in plain words.
pub fn run(args: &Args, seed: &Seed) -> Result<ExitCode, String> {
    let app = world::open(args)?;
    let shown = match &seed.asked {
        SeedAsked::Account { shown, .. }
        | SeedAsked::Trace { shown, .. }
        | SeedAsked::Suppliers { shown, .. }
        | SeedAsked::Forecast { shown, .. }
        | SeedAsked::Review { shown, .. } => shown,
    };
    world::wait(async {
        let coop = app.choose_cooperative(shown.chosen.cooperative.clone()).await?;
        let actor = Actor::machine(coop);
        let sheet = match &seed.asked {
            SeedAsked::Account { farm: None, .. } => app.seed_accounts(&actor).await?,
            SeedAsked::Account { farm: Some(farm), from, to, .. } => {
                let farm = app.find_code(&actor, Kind::Farm, farm).await?;
                app.seed_account(&actor, farm, from.clone(), to.clone()).await?
            }
            SeedAsked::Trace { lot, batch, .. } => trace(&app, &actor, lot, batch).await?,
            SeedAsked::Suppliers { from, to, .. } => {
                app.supplier_comparison(&actor, from.clone(), to.clone()).await?
            }
            SeedAsked::Forecast { weeks, .. } => {
                let made = app.seed_forecast(&actor, Some(weeks.to_string())).await?;
                if shown.format == Format::Json {
                    let text = serde_json::to_string(&made).unwrap_or_default();
                    println!("{text}");
                    return Ok(ExitCode::SUCCESS);
                }
                made.sheet()
            }
            SeedAsked::Review { farm, rule, accepted, .. } => {
                let mut asked = Asked::parse(None, rule.clone(), None)?;
                asked.accepted = *accepted;
                if let Some(code) = farm {
                    asked.farm = Some(app.find_code(&actor, Kind::Farm, code).await?);
                }
                app.make_figures_now(&actor.coop).await?;
                Sheet::of(
                    &app.review(&actor, asked).await?,
                    "items",
                    &[
                        "since",
                        "rule",
                        "farm",
                        "member_name",
                        "problem",
                        "fix",
                        "evidence",
                        "finding",
                        "accepted_on",
                        "accepted_because",
                    ],
                )?
            }
        };
        print(&sheet, shown.format);
        Ok(ExitCode::SUCCESS)
    })
}

async fn trace(
    app: &App,
    actor: &Actor,
    lot: &Option<String>,
    batch: &Option<String>,
) -> Result<Sheet, AppError> {
    match (lot, batch) {
        (Some(lot), _) => {
            let lot = app.find_code(actor, Kind::SeedLot, lot).await?;
            app.lot_trace(actor, lot).await
        }
        (None, Some(batch)) => {
            let batch = app.find_code(actor, Kind::Batch, batch).await?;
            app.batch_trace(actor, batch).await
        }
        (None, None) => Err(AppError::field("lot", "required", "give --lot or --batch")),
    }
}

fn print(sheet: &Sheet, format: Format) {
    match format {
        Format::Json => println!("{}", sheet.json),
        Format::Csv => print!("{}", sheet.csv()),
        Format::Table => {
            for member in ["sentence", "currency", "balance", "opening_balance", "closing_balance"]
            {
                match sheet.json.get(member) {
                    None => {}
                    Some(value) if value.is_string() => {
                        println!("{}", value.as_str().unwrap_or_default());
                    }
                    Some(value) => println!("{}: {value}", member.replace('_', " ")),
                }
            }
            print!("{}", sheet.table());
        }
    }
}
