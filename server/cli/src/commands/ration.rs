//! What feeds are worth, from a JSON file, without a server. `server/cli/RATION.md` describes the
//! files and the answers.

use clap::{Subcommand, ValueEnum};
use serde_json::{Map, Value as Json, json};
use std::fmt::Write as _;
use std::io::Write as _;
use std::path::PathBuf;
use std::process::ExitCode;
use traybook_domain::FieldError;
use traybook_rations::break_even::Fodder;
use traybook_rations::mix::{Request, solve};
use traybook_rations::square::Square;
use traybook_rations::{CAUTION, budget, feeds, words};

/// Largest file, bytes: forty feeds with all their nutrients stay far below.
const FILE_BYTES_MAX: u64 = 1024 * 1024;

/// How a request is answered.
type Compute = fn(&Map<String, Json>) -> Result<Json, String>;

/// Arguments of `ration`.
#[derive(clap::Args)]
pub struct Ration {
    /// What to ask.
    #[command(subcommand)]
    pub question: Question,
}

#[derive(Subcommand)]
pub enum Question {
    /// What do dry matter, protein and energy of feeds cost?
    Value(Asked),
    /// In which parts do two feeds make a content between theirs?
    Square(Asked),
    /// What is the cheapest mix within limits, and what are feeds and limits worth?
    Mix(Asked),
    /// At which price, yield or spoilage does fodder pay?
    BreakEven(Asked),
    /// What do changes bring, and which choice pays for its cost?
    Budget(Asked),
}

/// The file and the form of the answer.
#[derive(clap::Args)]
pub struct Asked {
    /// JSON file, described in server/cli/RATION.md.
    pub file: PathBuf,
    /// Form of the answer.
    #[arg(long, value_enum, default_value = "table")]
    pub format: Form,
}

/// Form of an answer.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Form {
    /// For reading.
    Table,
    /// JSON.
    Json,
}

/// Answers a question about feeds.
///
/// # Errors
/// What is wrong with the file, all of it, and what to do.
pub fn run(ration: &Ration) -> Result<ExitCode, String> {
    let (asked, compute): (&Asked, Compute) = match &ration.question {
        Question::Value(asked) => (asked, value),
        Question::Square(asked) => (asked, square),
        Question::Mix(asked) => (asked, mix),
        Question::BreakEven(asked) => (asked, break_even),
        Question::Budget(asked) => (asked, budget),
    };
    let answer =
        compute(&read(&asked.file)?).map_err(|e| format!("{}: {e}", asked.file.display()))?;
    let text = match asked.format {
        Form::Json => serde_json::to_string_pretty(&answer).map_err(|e| e.to_string())? + "\n",
        Form::Table => table(&answer),
    };
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => Err(e.to_string()),
        _ => Ok(ExitCode::SUCCESS),
    }
}

fn read(path: &PathBuf) -> Result<Map<String, Json>, String> {
    let name = path.display();
    let size = std::fs::metadata(path).map_err(|e| format!("{name}: {e}"))?.len();
    if size > FILE_BYTES_MAX {
        return Err(format!("{name}: give a file of at most {FILE_BYTES_MAX} bytes"));
    }
    let text = std::fs::read_to_string(path).map_err(|e| format!("{name}: {e}"))?;
    match serde_json::from_str(&text) {
        Ok(Json::Object(map)) => Ok(map),
        Ok(_) => Err(format!("{name}: give one JSON object")),
        Err(e) => Err(format!("{name}: {e}")),
    }
}

fn in_words(errors: Vec<FieldError>) -> String {
    let line = |e: &FieldError| {
        let place = if e.pointer.is_empty() { "/" } else { &e.pointer };
        format!("\n  {place}: {}", e.detail)
    };
    let lines: String = errors.iter().map(line).collect();
    format!("{} to mend:{lines}", errors.len())
}

fn as_json<T: serde::Serialize>(value: &T) -> Result<Json, String> {
    serde_json::to_value(value).map_err(|e| e.to_string())
}

fn value(request: &Map<String, Json>) -> Result<Json, String> {
    let rows = feeds::values(request).map_err(in_words)?;
    Ok(json!({ "feeds": as_json(&rows)?, "caution": CAUTION }))
}

fn square(request: &Map<String, Json>) -> Result<Json, String> {
    let square = Square::read(request).map_err(in_words)?;
    as_json(&square.answer().ok_or("give a target between the two feeds")?)
}

fn mix(request: &Map<String, Json>) -> Result<Json, String> {
    let request = Request::read(request).map_err(in_words)?;
    as_json(&solve(&request).map_err(|e| format!("failed to {e}"))?)
}

fn break_even(request: &Map<String, Json>) -> Result<Json, String> {
    as_json(&Fodder::read(request).map_err(in_words)?.answer())
}

fn budget(request: &Map<String, Json>) -> Result<Json, String> {
    as_json(&budget::Request::read(request).map_err(in_words)?.answer())
}

/// An answer for reading: its numbers, its lists as tables, its sentences.
fn table(answer: &Json) -> String {
    let mut out = String::new();
    let mut sentences: Vec<&str> = Vec::new();
    let members = answer.as_object().into_iter().flatten();
    for (name, member) in members.filter(|(n, _)| *n != "caution") {
        match member {
            Json::Array(rows) => out.push_str(&rows_text(name, rows)),
            Json::Object(part) => {
                sentences.extend(part.get("sentence").and_then(Json::as_str));
            }
            _ if name == "sentence" => sentences.extend(member.as_str()),
            other => {
                let _ = writeln!(out, "{:<36}{:>16}", name.replace('_', " "), cell(other));
            }
        }
    }
    let rows = answer.as_object().into_iter().flatten().filter_map(|(_, m)| m.as_array());
    sentences.extend(rows.flatten().filter_map(|r| r.get("sentence")?.as_str()));
    for sentence in sentences {
        let _ = writeln!(out, "{sentence}");
    }
    if let Some(caution) = answer.get("caution").and_then(Json::as_str) {
        let _ = writeln!(out, "{caution}");
    }
    out
}

/// A list of objects as a table; what is said in sentences or in places of the file is left out.
fn rows_text(name: &str, rows: &[Json]) -> String {
    let Some(first) = rows.first().and_then(Json::as_object) else { return String::new() };
    let is_column = |n: &&String| !["sentence", "pointer"].contains(&n.as_str());
    let columns: Vec<&String> = first.keys().filter(is_column).collect();
    let mut lines: Vec<Vec<String>> = vec![columns.iter().map(|c| c.replace('_', " ")).collect()];
    for row in rows {
        let of = |c: &&String| row.get(c.as_str()).map_or_else(String::new, cell);
        lines.push(columns.iter().map(of).collect());
    }
    let width = |i: usize| {
        let widths = lines.iter().filter_map(|l| l.get(i)).map(|t| t.chars().count());
        widths.max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..columns.len()).map(width).collect();
    let mut out = format!("\n{}\n", name.replace('_', " "));
    for line in &lines {
        let mut text = String::new();
        for (index, (part, width)) in line.iter().zip(&widths).enumerate() {
            let width = *width;
            let _ = if index == 0 {
                write!(text, "  {part:<width$}")
            } else {
                write!(text, "  {part:>width$}")
            };
        }
        let _ = writeln!(out, "{}", text.trim_end());
    }
    out.push('\n');
    out
}

fn cell(value: &Json) -> String {
    match value {
        Json::Null => "not known".to_owned(),
        Json::Number(n) => words::number(n.as_f64().unwrap_or(0.0)),
        Json::String(text) => text.clone(),
        // What a feed is worth: a price, or a word.
        Json::Object(part) => match part.get("price_per_kg").and_then(Json::as_f64) {
            Some(price) => words::number(price),
            None => part.get("kind").and_then(Json::as_str).unwrap_or("").to_owned(),
        },
        other => other.to_string(),
    }
}
