//! Reads the cases of a file and says of each whether it gives what it must.
//!
//! `cargo run --release -p traybook-texts --example read_cases -- FILE.json`; with `--say` behind it
//! what is answered stands below each case.

mod cases;

use std::process::ExitCode;

fn main() -> ExitCode {
    let Some(path) = std::env::args().nth(1) else {
        eprintln!("give a file of cases");
        return ExitCode::from(2);
    };
    let file = std::fs::read_to_string(&path).map_err(|e| e.to_string());
    let file =
        file.and_then(|f| serde_json::from_str::<serde_json::Value>(&f).map_err(|e| e.to_string()));
    let file = match file {
        Ok(file) => file,
        Err(why) => {
            eprintln!("{path}: {why}");
            return ExitCode::from(2);
        }
    };
    let Some(all) = file["cases"].as_array().filter(|all| !all.is_empty()) else {
        eprintln!("{path}: no cases");
        return ExitCode::from(2);
    };
    let says = std::env::args().nth(2).is_some_and(|a| a == "--say");
    let mut is_ok = true;
    for case in all {
        let mut off = cases::off(&file["base"], case);
        if !cases::lists_fit(&cases::scene(&file["base"], &case["scene"])) {
            off.push("a list is longer than a segment".to_owned());
        }
        let what = if off.is_empty() { "ok".to_owned() } else { off.join("; ") };
        println!("{}: {what}", case["case"]);
        is_ok &= off.is_empty();
        if says {
            cases::say(&file["base"], case);
        }
    }
    if is_ok { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
