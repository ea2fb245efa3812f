//! The traybook binary: reads arguments and environment, wires the floors together, runs.

mod args;
mod commands;
mod progress;
mod tls;
mod world;

use args::{Args, Command};
use clap::Parser as _;
use std::process::ExitCode;

/// Gives back what a making of figures took for some seconds. glibc's allocator keeps it, once for
/// each thread that made one: 830 MB where this one has a quarter.
#[cfg(all(target_os = "linux", target_arch = "x86_64"))]
#[global_allocator]
static ALLOCATOR: tikv_jemallocator::Jemalloc = tikv_jemallocator::Jemalloc;

/// Status of a program whose reader has gone: 128 and the number of SIGPIPE, as shells give it.
const READER_GONE: i32 = 141;

/// Ends quietly where somebody reads only the beginning, as `traybook report … | head` does.
fn end_with_the_reader() {
    let otherwise = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |panic| {
        let text = panic.payload_as_str().unwrap_or_default();
        if text.starts_with("failed printing to stdout: Broken pipe") {
            std::process::exit(READER_GONE);
        }
        otherwise(panic);
    }));
}

fn main() -> ExitCode {
    end_with_the_reader();
    let args = Args::parse();
    world::log(args.log_json);
    let done = match args.command {
        Command::Demo(ref demo) => commands::demo::run(&args, demo),
        Command::Serve(ref serve) => commands::serve::run(&args, serve),
        Command::Found(ref found) => commands::found::run(&args, found),
        Command::Import(ref import) => commands::files::import(&args, import),
        Command::Export(ref export) => commands::files::export(&args, export),
        Command::Report(ref report) => commands::report::run(&args, report),
        Command::Work(ref work) => commands::work::run(&args, work),
        Command::Seed(ref seed) => commands::seed::run(&args, seed),
        Command::Analyse(ref analyse) => commands::analyse::run(analyse),
        Command::Trial(ref trial) => commands::trial::run(&args, trial),
        Command::Ration(ref ration) => commands::ration::run(ration),
        Command::Backup { ref folder, ref with } => commands::keep::backup(&args, folder, with),
        Command::Restore(ref restore) => commands::keep::restore(&args, restore),
        Command::Migrate => world::open_present(&args).map(|_| ExitCode::SUCCESS),
        Command::Spread(ref spread) => commands::spread::run(&args, spread),
        Command::Move(ref to) => commands::keep::move_to(&args, to),
        Command::History(ref history) => commands::history::run(&args, history),
        Command::Programme(ref programme) => commands::programme::run(&args, programme),
        Command::Person(ref person) => commands::person::run(&args, person),
        Command::Check(ref check) => commands::check::run(&args, check),
        Command::Manual { ref folder } => commands::manual::run(folder),
        Command::Carry(ref carry) => commands::carry::run(&args, carry),
        Command::Text(ref text) => commands::text::run(&args, text),
        Command::Openapi { part } => commands::openapi::run(part),
    };
    match done {
        Ok(code) => code,
        Err(message) => {
            eprintln!("traybook: {message}");
            ExitCode::from(2)
        }
    }
}
