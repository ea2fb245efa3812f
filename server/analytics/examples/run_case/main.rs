//! Computes cases from JSON files, prints each answer, and says where it is off.
//!
//! `cargo run --release -p traybook-analytics --example run_case -- FILE.json…`
//!
//! A file holds `kind`, `config`, `input` and, for the comparison, `expected` and `tolerance`.
//! The exit status is 1 when a file cannot be read, is no case, or is off anywhere.

mod cases;
mod cases_money;
mod cases_output;
mod cases_plan;
mod cases_saving;
mod cases_spoilage;
mod compare;

use std::process::ExitCode;

use serde_json::Value;

fn main() -> ExitCode {
    let files: Vec<String> = std::env::args().skip(1).collect();
    if files.is_empty() {
        eprintln!("name at least one case file");
        return ExitCode::FAILURE;
    }
    let mut is_all_ok = true;
    for file in &files {
        match run(file) {
            Ok(off) if off.is_empty() => println!("{file}: ok"),
            Ok(off) => {
                is_all_ok = false;
                println!("{file}: off at {}", off.join(", "));
            }
            Err(reason) => {
                is_all_ok = false;
                println!("{file}: {reason}");
            }
        }
    }
    if is_all_ok { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

fn run(file: &str) -> Result<Vec<String>, String> {
    let text = std::fs::read_to_string(file).map_err(|e| format!("cannot be read: {e}"))?;
    let case: Value = serde_json::from_str(&text).map_err(|e| format!("is not JSON: {e}"))?;
    let answer = cases::compute(&case)?;
    println!("{answer}");
    Ok(compare::off(&case, &answer))
}
