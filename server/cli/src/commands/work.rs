//! Printing the work of a day.

use crate::args::{Args, Work, WorkFormat};
use crate::world;
use std::process::ExitCode;
use traybook_answers::planning::work::FarmWork;
use traybook_app::planning::{SheetForm, WorkQuery};
use traybook_app::{Actor, AppError};
use traybook_domain::Kind;
use traybook_http::work_words::Words;
use traybook_speech::Language;

/// Prints what there is to do.
pub fn run(args: &Args, work: &Work) -> Result<ExitCode, String> {
    let app = world::open_present(args)?;
    world::wait(async {
        let coop = app.choose_cooperative(work.chosen.cooperative.clone()).await?;
        let actor = Actor::machine(coop);
        let mut query = WorkQuery { date: work.date.clone(), ..WorkQuery::default() };
        if let Some(code) = &work.farm {
            query.farm_id = Some(app.find_code(&actor, Kind::Farm, code).await?.to_string());
        }
        if let Some(name) = &work.area {
            query.area_id = Some(app.find_code(&actor, Kind::Area, name).await?.to_string());
        }
        let form = match work.format {
            WorkFormat::Csv => Some(SheetForm::Csv),
            WorkFormat::Html => Some(SheetForm::Html),
            _ => None,
        };
        if let Some(form) = form {
            let days = Some(work.days.to_string());
            print!("{}", app.work_sheet(&actor, &query, days, form, &Words(Language::En)).await?);
            return Ok(ExitCode::SUCCESS);
        }
        let list = app.work(&actor, &query).await?;
        if work.format == WorkFormat::Json {
            let text = serde_json::to_string(&list);
            println!("{}", text.map_err(|e| AppError::Internal(e.to_string()))?);
        } else {
            println!("{}", list.date.format("%A %Y-%m-%d"));
            list.farms.iter().for_each(farm);
        }
        Ok(ExitCode::SUCCESS)
    })
}

fn farm(farm: &FarmWork) {
    let area = farm.area.as_deref().unwrap_or_default();
    println!("\n{} · {} · {area}", farm.farm, farm.member_name);
    for warning in &farm.warnings {
        println!("  ! {warning}");
    }
    for note in &farm.feeding {
        println!("  ! {}", note.sentence);
    }
    for line in &farm.lines {
        println!("  {:<5} {}", line.state.text(), line.sentence);
        if let Some(why) = &line.why {
            println!("        {why}");
        }
        for caution in &line.cautions {
            println!("        ! {caution}");
        }
    }
    if farm.lines.is_empty() {
        println!("  nothing to do");
    }
}
