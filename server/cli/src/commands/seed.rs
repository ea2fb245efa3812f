//! Printing seed accounts, traces, the comparison of suppliers and the review list.

use crate::args::{Args, Format, Seed, SeedAsked};
use crate::world;
use serde::Serialize;
use std::process::ExitCode;
use traybook_answers::{Decimal, Sheet};
use traybook_app::review::Asked;
use traybook_app::{Actor, App, AppError};
use traybook_domain::Kind;
use traybook_reports::sheet;

/// Prints what is asked of the seed chain.
pub fn run(args: &Args, seed: &Seed) -> Result<ExitCode, String> {
    let app = world::open_present(args)?;
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
        let format = shown.format;
        match &seed.asked {
            SeedAsked::Account { farm: None, .. } => {
                let accounts = app.seed_accounts(&actor).await?;
                let head = [accounts.currency.clone(), named("balance", accounts.balance)];
                print(&accounts, &head, format)?;
            }
            SeedAsked::Account { farm: Some(farm), from, to, .. } => {
                let farm = app.find_code(&actor, Kind::Farm, farm).await?;
                let account = app.seed_account(&actor, farm, from.clone(), to.clone()).await?;
                let head = [
                    account.sentence.clone(),
                    account.currency.clone(),
                    named("opening balance", account.opening_balance),
                    named("closing balance", account.closing_balance),
                ];
                print(&account, &head, format)?;
            }
            SeedAsked::Trace { lot, batch, .. } => trace(&app, &actor, lot, batch, format).await?,
            SeedAsked::Suppliers { from, to, .. } => {
                let compared = app.supplier_comparison(&actor, from.clone(), to.clone()).await?;
                let head = [compared.sentence.clone(), compared.currency.clone()];
                print(&compared, &head, format)?;
            }
            SeedAsked::Forecast { weeks, .. } => {
                let forecast = app.seed_forecast(&actor, Some(weeks.to_string())).await?;
                match format {
                    Format::Json => print_json(&forecast)?,
                    Format::Csv | Format::Table => print(&forecast.purchases(), &[], format)?,
                }
            }
            SeedAsked::Review { farm, rule, accepted, .. } => {
                let mut asked = Asked::parse(None, rule.clone(), None)?;
                asked.accepted = *accepted;
                if let Some(code) = farm {
                    asked.farm = Some(app.find_code(&actor, Kind::Farm, code).await?);
                }
                app.make_figures_now(&actor.coop).await?;
                print(&app.review(&actor, asked).await?, &[], format)?;
            }
        }
        Ok(ExitCode::SUCCESS)
    })
}

async fn trace(
    app: &App,
    actor: &Actor,
    lot: &Option<String>,
    batch: &Option<String>,
    format: Format,
) -> Result<(), AppError> {
    match (lot, batch) {
        (Some(lot), _) => {
            let lot = app.find_code(actor, Kind::SeedLot, lot).await?;
            print(&app.lot_trace(actor, lot).await?, &[], format)
        }
        (None, Some(batch)) => {
            let batch = app.find_code(actor, Kind::Batch, batch).await?;
            print(&app.batch_trace(actor, batch).await?, &[], format)
        }
        (None, None) => Err(AppError::field("lot", "required", "give --lot or --batch")),
    }
}

fn named(name: &str, amount: Decimal) -> String {
    format!("{name}: {amount}")
}

fn print_json<T: Serialize>(answer: &T) -> Result<(), AppError> {
    let text = serde_json::to_string(answer).map_err(|e| AppError::Internal(e.to_string()))?;
    println!("{text}");
    Ok(())
}

/// An answer; `head` stands over its table.
fn print<S: Sheet>(answer: &S, head: &[String], format: Format) -> Result<(), AppError> {
    match format {
        Format::Json => print_json(answer)?,
        Format::Csv => print!("{}", sheet::csv(answer)),
        Format::Table => {
            head.iter().for_each(|line| println!("{line}"));
            print!("{}", sheet::table(answer));
        }
    }
    Ok(())
}
