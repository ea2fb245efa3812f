//! An answer of `analyse`, and how it is written as JSON and CSV.

use super::args::Form;
use serde_json::{Map, Value, json};
use std::io::Write as _;
use traybook_analytics::stats::{Interval, LogEstimate};
use traybook_reports::csv_text::guard;

/// An answer: what was asked and how, and named parts of one or many rows.
pub struct Answer {
    head: Map<String, Value>,
    parts: Vec<(&'static str, Value)>,
}

impl Answer {
    /// Begins an answer.
    pub fn new(question: &str, method: &str, units: Value, numbers_used: Value) -> Self {
        let mut head = Map::new();
        head.insert("question".to_owned(), question.into());
        head.insert("method".to_owned(), method.into());
        head.insert("units".to_owned(), units);
        head.insert("numbers_used".to_owned(), numbers_used);
        Self { head, parts: Vec::new() }
    }

    /// Adds one part: an object, or a list of objects of the same members.
    pub fn with(mut self, name: &'static str, part: Value) -> Self {
        self.parts.push((name, part));
        self
    }

    /// Writes the answer to standard output. A reader that has gone away is no error.
    ///
    /// # Errors
    /// When it can not be written.
    pub fn print(self, form: Form) -> Result<(), String> {
        let text = match form {
            Form::Json => self.json()?,
            Form::Csv => self.csv()?,
        };
        let mut out = std::io::stdout().lock();
        match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
            Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => Err(e.to_string()),
            _ => Ok(()),
        }
    }

    fn json(self) -> Result<String, String> {
        let mut whole = self.head;
        whole.extend(self.parts.into_iter().map(|(name, part)| (name.to_owned(), part)));
        let text =
            serde_json::to_string_pretty(&Value::Object(whole)).map_err(|e| e.to_string())?;
        Ok(text + "\n")
    }

    /// One row an object of a part. Members of members are joined by `_`; a column that a part
    /// does not have is empty in its rows; method and units stand in every row.
    fn csv(self) -> Result<String, String> {
        let word = |name: &str| self.head.get(name).map_or_else(String::new, cell);
        let (question, method) = (word("question"), word("method"));
        let units = self.head.get("units").map_or_else(String::new, units_text);
        let mut rows = Vec::new();
        for (name, part) in &self.parts {
            match part {
                Value::Array(list) => rows.extend(list.iter().map(|row| (*name, flat(row)))),
                Value::Object(_) => rows.push((*name, flat(part))),
                Value::Null => {}
                other => rows.push((*name, vec![("sentence".to_owned(), cell(other))])),
            }
        }
        let numbers = self.head.get("numbers_used").unwrap_or(&Value::Null);
        rows.push(("numbers_used", flat(numbers)));
        let mut columns: Vec<String> = Vec::new();
        for (name, _) in rows.iter().flat_map(|(_, row)| row) {
            if !columns.contains(name) {
                columns.push(name.clone());
            }
        }
        let mut writer = csv::Writer::from_writer(Vec::new());
        let header = ["part"].into_iter().chain(columns.iter().map(String::as_str));
        let header = header.chain(["question", "method", "units"]);
        writer.write_record(header).map_err(|e| e.to_string())?;
        for (part, row) in &rows {
            let of = |column: &String| {
                row.iter().find(|(name, _)| name == column).map_or("", |(_, text)| text)
            };
            let cells = [*part].into_iter().chain(columns.iter().map(of));
            let cells = cells.chain([question.as_str(), method.as_str(), units.as_str()]);
            writer.write_record(cells.map(|c| guard(c).into_owned())).map_err(|e| e.to_string())?;
        }
        let bytes = writer.into_inner().map_err(|e| e.to_string())?;
        String::from_utf8(bytes).map_err(|e| e.to_string())
    }
}

fn units_text(units: &Value) -> String {
    let each = flat(units).into_iter().map(|(name, text)| format!("{name}: {text}"));
    each.collect::<Vec<_>>().join("; ")
}

/// An object as columns and cells.
fn flat(value: &Value) -> Vec<(String, String)> {
    let mut cells = Vec::new();
    let members = value.as_object().into_iter().flatten();
    for (name, member) in members {
        if member.is_object() {
            let inner = flat(member).into_iter();
            cells.extend(inner.map(|(inner, text)| (format!("{name}_{inner}"), text)));
        } else {
            cells.push((name.clone(), cell(member)));
        }
    }
    cells
}

/// A value as a cell: nothing for none, lists joined by `;`.
fn cell(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        Value::Array(list) => list.iter().map(cell).collect::<Vec<_>>().join(";"),
        other => other.to_string(),
    }
}

/// An interval with its level; empty ends without one.
pub fn interval(interval: Option<&Interval>) -> Value {
    json!({ "lower": interval.map(|i| i.lower), "upper": interval.map(|i| i.upper) })
}

/// An estimate on the logarithmic scale and in per cent, with status and intervals.
pub fn log_estimate(estimate: Option<&LogEstimate>) -> Map<String, Value> {
    let percent = estimate.and_then(LogEstimate::percent);
    let mut row = Map::new();
    row.insert("estimate_percent".to_owned(), json!(percent.map(|p| p.value)));
    let ends = percent.map(|p| p.interval);
    row.insert("interval_percent".to_owned(), interval(ends.as_ref()));
    row.insert("estimate_log".to_owned(), json!(estimate.map(|e| e.value)));
    row.insert("standard_error_log".to_owned(), json!(estimate.map(|e| e.standard_error)));
    row.insert("interval_log".to_owned(), interval(estimate.map(|e| &e.interval)));
    row
}

/// Puts objects one after the other.
pub fn joined(parts: impl IntoIterator<Item = Value>) -> Value {
    let mut whole = Map::new();
    for part in parts {
        if let Value::Object(members) = part {
            whole.extend(members);
        }
    }
    Value::Object(whole)
}
