//! Trials: judging a plan, drawing an order, showing it.

use crate::args::{Args, Chosen};
use crate::world;
use clap::Subcommand;
use std::process::ExitCode;
use traybook_answers::estimates::Enterprise;
use traybook_answers::trials::{NewStartOrder, StartOrder, TrialOption, TrialPower, TrialStatus};
use traybook_app::{Actor, AppError};

/// Arguments of `trial`.
#[derive(clap::Args)]
pub struct Trial {
    /// Which co-operative.
    #[command(flatten)]
    pub chosen: Chosen,
    /// What to do.
    #[command(subcommand)]
    pub action: TrialAction,
}

/// What to do with a trial.
#[derive(Subcommand)]
pub enum TrialAction {
    /// Say what ways to start could show.
    Power {
        /// milk or eggs.
        #[arg(long, default_value = "milk")]
        enterprise: String,
        /// Farms to start in each month, such as 5,5,4.
        #[arg(long, value_delimiter = ',')]
        starts: Vec<u64>,
    },
    /// Draw who starts when, and keep seed and list.
    Draw {
        /// What it is called.
        #[arg(long)]
        name: String,
        /// milk or eggs.
        #[arg(long, default_value = "milk")]
        enterprise: String,
        /// Month of the first starts, YYYY-MM.
        #[arg(long)]
        first_month: String,
        /// Farms to start in each month, such as 5,5,4.
        #[arg(long, value_delimiter = ',')]
        starts: Vec<u64>,
    },
    /// Show the newest order and draw it again.
    Show,
}

/// Judges, draws or shows.
pub fn run(args: &Args, trial: &Trial) -> Result<ExitCode, String> {
    let app = world::open_present(args)?;
    world::wait(async {
        let coop = app.choose_cooperative(trial.chosen.cooperative.clone()).await?;
        let actor = Actor::machine(coop.clone());
        match &trial.action {
            TrialAction::Power { enterprise, starts } => {
                app.make_figures_now(&coop).await?;
                let starts = (!starts.is_empty()).then(|| starts.clone());
                let power = app.trial_power(&actor, enterprise, starts).await?;
                print_power(&power, &coop.currency);
            }
            TrialAction::Draw { name, enterprise, first_month, starts } => {
                let enterprise = Enterprise::parse(enterprise)
                    .ok_or_else(|| AppError::field("enterprise", "choice", "give milk or eggs"))?;
                let asked = NewStartOrder {
                    id: None,
                    name: name.clone(),
                    enterprise,
                    first_month: first_month.clone(),
                    starts: starts.clone(),
                };
                print_order(&app.draw_start_order(&actor, app.new_id()?, asked).await?);
            }
            TrialAction::Show => {
                let orders = app.start_orders(&actor).await?;
                match orders.items.first() {
                    Some(newest) => print_order(&app.start_order(&actor, newest.id).await?),
                    None => println!("No order was drawn yet."),
                }
            }
        }
        Ok(ExitCode::SUCCESS)
    })
}

fn print_power(power: &TrialPower, currency: &str) {
    println!(
        "{} farms have not started; the middle one has {} months of records.",
        power.farms, power.months_before
    );
    println!("{}\n", power.method);
    for option in &power.options {
        print_option(option, currency);
    }
}

fn print_option(option: &TrialOption, currency: &str) {
    let starts: Vec<String> = option.starts.iter().map(u64::to_string).collect();
    println!("Start {} a month; {} wait.", starts.join(", "), option.waiting);
    match option.status {
        TrialStatus::NoControls => {
            println!("  Cannot be told: in no month would 5 farms still wait.")
        }
        TrialStatus::NoRecords => {
            println!("  Cannot be told yet: too few records of farms that have not started.");
        }
        TrialStatus::Judged => {
            let percent = |p: Option<f64>| p.map_or("-".to_owned(), |p| format!("{p:.1} %"));
            println!("  programme {}", percent(option.programme_percent));
            println!("  one member {}", percent(option.member_percent));
            for area in &option.areas {
                println!("  {} {:.1} %", area.area, area.percent);
            }
        }
    }
    print!("  Waiting: {} months of farms", option.waiting_farm_months);
    match option.saving_forgone {
        Some(saving) => println!("; at what farms saved so far, {saving} {currency}"),
        None => println!(),
    }
}

fn print_order(order: &StartOrder) {
    println!("{}, drawn on {}, seed {}", order.name, order.drawn_on, order.seed);
    println!("{}\n", order.how);
    match order.is_as_drawn {
        Some(true) => println!("Drawn again: the same list."),
        Some(false) => println!("Drawn again: ANOTHER list. Somebody changed it."),
        None => {}
    }
    for farm in &order.farms {
        let month = farm.month.map_or("waits".to_owned(), |m| m.0.to_string());
        let area = farm.area.as_deref().unwrap_or_default();
        println!(
            "{:>4}  {:<8} {month:<8} {:>4}  {area}  {}",
            farm.place, farm.farm, farm.head, farm.member_name
        );
    }
}
