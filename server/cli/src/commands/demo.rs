//! The invented demo co-operative.

use crate::args::{Args, Demo};
use crate::commands::serve::serve_app;
use crate::world::{self, SystemClock};
use chrono::NaiveDate;
use serde_json::{Value as Json, json};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::{Arc, Mutex, PoisonError};
use traybook_answers::texts::{SettledState, SettledText};
use traybook_app::Random;
use traybook_app::texts::{Carriers, Come, NewLink};
use traybook_app::{Actor, App};
use traybook_domain::time::{Clock as _, local_date, parse_date, plus_days};
use traybook_domain::value::Instant;
use traybook_domain::{Kind, Month};
use traybook_reports::table;
use traybook_seed_demo::{ManualClock, Plan, Size, generate};
use traybook_speech::Language;

/// Farms that the printed report lists at most.
const LINES_MAX: usize = 60;

/// Makes the demo co-operative unless it is there, prints its report, and serves it.
pub fn run(args: &Args, demo: &Demo) -> Result<ExitCode, String> {
    let size = Size::parse(&demo.size).ok_or("give --size small, medium, large or huge")?;
    world::folder(&args.data)?;
    let months = demo.months.map(|m| format!("-{m}-months")).unwrap_or_default();
    let name = format!("demo-{}-{}{months}", demo.size, demo.seed);
    let database = args.data.join(format!("{name}.sqlite"));
    let note = args.data.join(format!("{name}.json"));
    // The note is written last: a database without one was not finished.
    if !note.is_file() || !database.is_file() {
        remove(&database)?;
        make(args, demo, size, &database, &note)?;
    }
    let text = std::fs::read_to_string(&note).map_err(|e| format!("{}: {e}", note.display()))?;
    let about: Json =
        serde_json::from_str(&text).map_err(|e| format!("{}: {e}", note.display()))?;
    let url = format!("sqlite:{}", database.display());
    let keys = world::keys(args)?;
    let app = world::open_to_serve(args, &url, keys, &demo.serve)?;
    let today = about.get("today").and_then(Json::as_str).and_then(parse_date);
    // On the first of a month the history ends with the month before.
    let last = today.ok_or("the demo's note has no day")?;
    let month = Month::of(plus_days(last, 1)).plus(-1);
    print_report(&app, month)?;
    print_logins(&about, &database);
    if demo.no_serve {
        return Ok(ExitCode::SUCCESS);
    }
    serve_app(app, &demo.serve, &args.data)
}

/// Randomness that repeats, so that the same seed gives the same bytes. Only for the demo.
struct Repeating(Mutex<u64>);

impl Random for Repeating {
    fn fill(&self, bytes: &mut [u8]) -> Result<(), String> {
        let mut state = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        for byte in bytes {
            // SplitMix64 (Steele, Lea & Flood 2014).
            *state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
            let mut z = *state;
            z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
            *byte = (z ^ (z >> 31)).to_le_bytes()[0];
        }
        Ok(())
    }
}

fn make(args: &Args, demo: &Demo, size: Size, database: &Path, note: &Path) -> Result<(), String> {
    let now = SystemClock.now();
    let today = match &demo.today {
        Some(text) => parse_date(text).ok_or("give --today as YYYY-MM-DD")?,
        // Up to yesterday, so that there is a day's work to do today.
        None => {
            let day = local_date(now, chrono_tz::Africa::Dar_es_Salaam);
            day.pred_opt().unwrap_or(day)
        }
    };
    let plan = Plan { size, months: demo.months.map(usize::from), seed: demo.seed, today };
    println!(
        "Making the demo co-operative: {} farms, {} months up to {today} …",
        size.farms(),
        plan.history()
    );
    let clock = Arc::new(ManualClock::new(Instant(0)));
    let random = Arc::new(Repeating(Mutex::new(demo.seed)));
    let url = format!("sqlite:{}", database.display());
    let keys = world::keys(args)?;
    let carriers = Carriers::default();
    let app = world::app(&url, keys, carriers, Arc::<ManualClock>::clone(&clock), random)?;
    let made = world::wait(generate(&app, &clock, &plan))?;
    link_number(app)?;
    println!("{} records made.\n", made.records);
    let logins: Vec<Json> = made
        .logins
        .iter()
        .map(
            |l| json!({ "role": l.role, "login": l.login, "password": l.password, "name": l.name }),
        )
        .collect();
    write_note(note, today, &logins)
}

/// Number of a member of the demo, for trying texts out.
const NUMBER: &str = "+255700000101";
/// Code of that member's farm.
const FARM: &str = "F0004";

/// Links a number the way an officer does it: the number returns the code that it gets.
fn link_number(app: App) -> Result<(), String> {
    let coop = world::wait(app.choose_cooperative(None))?;
    let secret = Carriers::new_secret(&*app.random)?;
    let carrier = json!([{
        "name": "demo", "secret": secret, "cooperatives": [{ "id": coop.id }],
        "calling_code": "255", "trunk": "0",
    }]);
    let app = App { carriers: Arc::new(Carriers::parse(&carrier.to_string())?), ..app };
    world::wait(async move {
        let actor = Actor::machine(coop.clone());
        let farm = app.find_code(&actor, Kind::Farm, FARM).await?;
        let member = app.member_of(&actor, farm).await?;
        let consent_on = coop.today(app.now());
        let new = NewLink {
            number: NUMBER.to_owned(),
            member,
            farm: None,
            language: Some(Language::Sw.tag().to_owned()),
            consent_on,
            purposes: [true; 3],
        };
        app.link_number(&actor, new).await?;
        for id in ["code", "answer"] {
            let leased = app.lease_texts("demo", 1).await?.items;
            let sent = |id| SettledText { id, state: SettledState::Sent };
            app.settle_texts("demo", leased.iter().map(|l| sent(l.id)).collect()).await?;
            let words = leased.iter().flat_map(|l| l.text.split(|c: char| !c.is_ascii_digit()));
            let Some(code) = words.into_iter().find(|w| w.len() == 4) else { continue };
            let come = Come {
                carrier: "demo".to_owned(),
                id: id.to_owned(),
                from: NUMBER.to_owned(),
                to: None,
                text: Some(code.to_owned()),
                sent_at: None,
            };
            app.take_text(come).await?;
        }
        Ok(())
    })
}

fn write_note(note: &Path, today: NaiveDate, logins: &[Json]) -> Result<(), String> {
    let text = json!({ "today": today, "logins": logins }).to_string();
    std::fs::write(note, text).map_err(|e| format!("{}: {e}", note.display()))
}

fn remove(database: &Path) -> Result<(), String> {
    for end in ["", "-wal", "-shm"] {
        let path = PathBuf::from(format!("{}{end}", database.display()));
        match std::fs::remove_file(&path) {
            Err(e) if e.kind() != std::io::ErrorKind::NotFound => {
                return Err(format!("{}: {e}", path.display()));
            }
            _ => {}
        }
    }
    Ok(())
}

fn print_report(app: &App, month: Month) -> Result<(), String> {
    let report = world::wait(async {
        let coop = app.choose_cooperative(None).await?;
        app.make_figures_now(&coop).await?;
        app.savings_report(&Actor::machine(coop), month).await
    })?;
    let mut report = Arc::unwrap_or_clone(report);
    let more = report.farms.len().saturating_sub(LINES_MAX);
    report.farms.truncate(LINES_MAX);
    print!("{}", table::savings(&report, Language::En));
    if more > 0 {
        println!("({more} more farms: traybook report savings --month {month})");
    }
    Ok(())
}

fn print_logins(about: &Json, database: &Path) {
    println!("\nDatabase: {}", database.display());
    println!("Sign in on the pages, or by POST /v1/session with login and password:");
    let none = Vec::new();
    for login in about.get("logins").and_then(Json::as_array).unwrap_or(&none) {
        let text = |name: &str| login.get(name).and_then(Json::as_str).unwrap_or_default();
        println!("  {:<17} {:<30} {}", text("role"), text("login"), text("password"));
    }
    println!();
}
