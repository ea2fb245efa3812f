//! Reads requests for a mix, one JSON object a line, and writes the answers, one a line:
//! `{"status": "found" | "impossible" | "refused" | "unreliable", …}`.
//! `tests/linprog.py` compares them with another solver's.

use serde_json::{Value as Json, json};
use std::io::{BufRead as _, Write as _};
use traybook_rations::mix::{Request, solve};

fn answer(line: &str) -> Json {
    let Ok(Json::Object(request)) = serde_json::from_str(line) else {
        return json!({ "status": "refused", "errors": ["give one JSON object a line"] });
    };
    match Request::read(&request) {
        Err(errors) => json!({ "status": "refused", "errors": errors }),
        Ok(request) => match solve(&request) {
            Ok(found) => json!(found),
            Err(error) => json!({ "status": "unreliable", "error": error.to_string() }),
        },
    }
}

fn main() -> std::io::Result<()> {
    let mut out = std::io::stdout().lock();
    for line in std::io::stdin().lock().lines() {
        writeln!(out, "{}", answer(&line?))?;
    }
    out.flush()
}
