//! What is refused, in the reader's language.
//!
//! In English the rule says it itself. Elsewhere the sentence is made anew: of code and field where
//! that tells the rule, else of the code, with what the field can be.

use super::page::{Page, figure};
use crate::problem::{Code, Problem};
use actix_web::http::StatusCode;
use traybook_app::AppError;
use traybook_domain::savings::money::format_decimal;
use traybook_domain::{FieldError, FieldKind};
use traybook_speech::Arg;

/// Codes whose sentence ends with what the field can be.
const SAY_WHAT_IS_WANTED: [&str; 6] =
    ["choice", "length", "precision", "range", "required", "type"];

impl Page {
    /// What is wrong with a field.
    pub fn refusal(&self, error: &FieldError) -> String {
        if self.language.is_source() { error.detail.clone() } else { self.anew(error) }
    }

    /// What contradicts what is there.
    pub fn conflict(&self, code: &'static str, detail: String) -> String {
        self.refusal(&FieldError::new("", code, detail))
    }

    /// What a form was refused for, in one line, with the status of the page that shows it. What
    /// refuses no form is passed on.
    pub fn in_one_line(&self, error: AppError) -> Result<(String, StatusCode), AppError> {
        match error {
            AppError::Invalid(errors) => {
                let words: Vec<String> = errors.iter().map(|e| self.refusal(e)).collect();
                Ok((words.join("; "), StatusCode::UNPROCESSABLE_ENTITY))
            }
            AppError::Conflict { code, detail } => {
                Ok((self.conflict(code, detail), StatusCode::CONFLICT))
            }
            other => Err(other),
        }
    }

    /// A field without a place on the page: its name in words, where it has one.
    pub fn field_name(&self, name: &str) -> String {
        let known = self.language.known(&format!("field-{name}"), &[]);
        known.unwrap_or_else(|| name.to_owned())
    }

    /// A problem that is none of a field.
    pub fn problem(&self, problem: &Problem) -> String {
        match (problem.code, problem.conflict) {
            (Code::Forbidden, _) => self.say("not-for-you"),
            (Code::NotFound, _) => self.say("gone-meanwhile"),
            (Code::Stale, _) => self.say("stale"),
            _ if self.language.is_source() => problem.detail.clone(),
            (_, Some(code)) => self.conflict(code, problem.detail.clone()),
            (Code::TooMany, _) => {
                let seconds = problem.retry_after_s.unwrap_or(60);
                self.with("wait-sign-in", "minutes", i64::from(seconds.div_ceil(60)))
            }
            (code, _) => {
                let known = self.language.known(&format!("problem-{}", code.text()), &[]);
                known.unwrap_or_else(|| self.say("problem-internal"))
            }
        }
    }

    fn anew(&self, error: &FieldError) -> String {
        let mut args: Vec<(&'static str, Arg)> =
            error.named.iter().map(|(name, value)| (*name, value.as_str().into())).collect();
        let known = |key: &str, args: &[(&'static str, Arg)]| self.language.known(key, args);
        let code = error.code;
        if error.wanted.is_none() {
            // Fields of several records in one form begin with the record's prefix.
            let field = error.field().rsplit('-').next().unwrap_or_default();
            let own = known(&format!("refused-{code}-{field}"), &args);
            if let Some(own) = own.filter(|_| !field.is_empty()) {
                return own;
            }
        }
        let text = known(&format!("refused-{code}"), &args)
            .unwrap_or_else(|| self.say("refused-something"));
        let wanted = error.wanted.filter(|_| SAY_WHAT_IS_WANTED.contains(&code));
        let Some(wanted) = wanted else { return text };
        let (key, more) = what(wanted);
        args.extend(more.into_iter().map(|(name, value)| (name, Arg::Text(value))));
        format!("{text} {}", self.tell(key, &args))
    }
}

/// The text that says what a field can be, with its figures.
fn what(kind: FieldKind) -> (&'static str, Vec<(&'static str, String)>) {
    let plain = |value: i64, scale: u8| {
        let text = format_decimal(value, scale);
        match text.parse::<f64>() {
            Ok(number) if number.fract() == 0.0 => figure(number, 0),
            _ => text,
        }
    };
    match kind {
        FieldKind::Ref(_) => ("wanted-ref", Vec::new()),
        FieldKind::Text { max } => ("wanted-text", vec![("max", max.to_string())]),
        FieldKind::Code => ("wanted-code", Vec::new()),
        FieldKind::Choice(of) => ("wanted-choice", vec![("of", of.join(", "))]),
        FieldKind::Int { min, max } => {
            ("wanted-whole", vec![("low", plain(min, 0)), ("high", plain(max, 0))])
        }
        FieldKind::Decimal { scale, min, max } => {
            let limits = [("low", plain(min, scale)), ("high", plain(max, scale))];
            let places = [("places", scale.to_string())];
            ("wanted-decimal", limits.into_iter().chain(places).collect())
        }
        FieldKind::Money => ("wanted-money", Vec::new()),
        FieldKind::Date { .. } => ("wanted-date", Vec::new()),
        FieldKind::Instant => ("wanted-instant", Vec::new()),
        FieldKind::Bool => ("wanted-bool", Vec::new()),
        FieldKind::Currency => ("wanted-currency", Vec::new()),
        FieldKind::Zone => ("wanted-zone", Vec::new()),
        FieldKind::Year => ("wanted-year", Vec::new()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;
    use std::path::Path;
    use traybook_speech::Language;

    /// Codes that a source names: the second argument of what makes an error, the first of a
    /// reading, a row or a conflict.
    fn codes(source: &str) -> BTreeSet<String> {
        let source = source.split("#[cfg(test)]").next().unwrap_or_default();
        let makers = [
            ("FieldError::new(", 1),
            ("FieldError::at(", 1),
            ("AppError::field(", 1),
            ("of_file(", 0),
            ("fail_row(line, ", 0),
            ("Err((", 0),
            ("TooPrecise => (", 0),
            ("AppError::conflict(", 0),
        ];
        let mut found = BTreeSet::new();
        for (maker, skip) in makers {
            for rest in source.split(maker).skip(1) {
                let mut depth = 0;
                let mut args = vec![String::new()];
                for c in rest.chars().take_while(|c| *c != ';').take(400) {
                    depth += i32::from(c == '(') - i32::from(c == ')');
                    match c {
                        _ if depth < 0 => break,
                        ',' if depth == 0 => args.push(String::new()),
                        _ => args.last_mut().expect("one").push(c),
                    }
                }
                let code = args.get(skip).map(|a| a.trim()).unwrap_or_default();
                let code = code.strip_prefix('"').and_then(|c| c.strip_suffix('"'));
                let is_code = |c: &&str| c.bytes().all(|b| b.is_ascii_lowercase() || b == b'_');
                found.extend(code.filter(is_code).map(str::to_owned));
            }
        }
        found
    }

    fn sources(folder: &Path, all: &mut Vec<String>) {
        for entry in std::fs::read_dir(folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                sources(&path, all);
            } else if path.extension().is_some_and(|e| e == "rs") {
                all.push(std::fs::read_to_string(&path).expect("a source"));
            }
        }
    }

    #[test]
    fn every_code_has_its_sentence_in_both_languages() {
        let server = Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("a parent");
        let mut all = Vec::new();
        for floor in ["domain", "sheets", "app", "http"] {
            sources(&server.join(floor).join("src"), &mut all);
        }
        let found: BTreeSet<String> = all.iter().flat_map(|text| codes(text)).collect();
        for code in ["range", "common", "held", "quotes", "cells", "in_use", "precision"] {
            assert!(found.contains(code), "{code} is found in the sources: {found:?}");
        }
        for code in found {
            for language in Language::ALL.iter().copied() {
                let key = format!("refused-{code}");
                assert!(language.known(&key, &[]).is_some(), "{key} is missing");
            }
        }
    }

    #[test]
    fn every_problem_has_its_sentence() {
        for code in Code::ALL.iter().map(|c| c.text()) {
            let own = ["conflict", "forbidden", "invalid", "not_found", "stale", "too_many"];
            let key = format!("problem-{code}");
            let is_said = own.contains(&code)
                || Language::ALL
                    .iter()
                    .filter(|l| !l.is_source())
                    .all(|l| l.known(&key, &[]).is_some());
            assert!(is_said, "{key} is missing");
        }
    }
}
