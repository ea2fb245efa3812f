//! Short names that the server makes where a person gives none: the next number in the pattern that
//! the newest records have.

use super::txn::Txn;
use crate::error::AppError;
use serde_json::{Map, Value as Json, json};
use traybook_domain::people::authz::Action;
use traybook_domain::{Kind, Value};
use traybook_storage::records;
use uuid::Uuid;

/// Names tried one after another before a person is asked.
const TRIES: u64 = 200;
/// Newest records whose names show the pattern.
const NEWEST: usize = 50;

/// A name as its beginning, its number and how many digits that has.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Pattern {
    begin: String,
    number: u64,
    digits: usize,
}

impl Pattern {
    fn of(code: &str) -> Option<Self> {
        let begin = code.trim_end_matches(|c: char| c.is_ascii_digit());
        let digits = code.get(begin.len()..)?;
        let number = digits.parse().ok()?;
        Some(Self { begin: begin.to_owned(), number, digits: digits.len() })
    }

    fn text(&self, after: u64) -> String {
        let (number, width) = (self.number.saturating_add(after), self.digits);
        format!("{}{number:0width$}", self.begin)
    }
}

/// What the first record of a kind is called where no other shows a pattern.
const fn first(kind: Kind) -> &'static str {
    match kind {
        Kind::Member => "M-000",
        Kind::Training => "T-000",
        _ => "F-000",
    }
}

impl Txn<'_, '_> {
    /// A body with its short name: as given, else that of the record if it was made before, else a
    /// new one. Sheds and groups are called by their farm.
    pub(super) fn with_code(
        &mut self,
        kind: Kind,
        id: Uuid,
        body: &Map<String, Json>,
    ) -> Result<Map<String, Json>, AppError> {
        let mut body = body.clone();
        let named = [Kind::Member, Kind::Farm, Kind::Shed, Kind::AnimalGroup, Kind::Training];
        let Some(field) = kind.spec().code.filter(|_| named.contains(&kind)) else {
            return Ok(body);
        };
        if body.contains_key(field) {
            return Ok(body);
        }
        let number = self.actor().coop.number;
        let stored = records::find(self.conn(), number, kind, id)?;
        let code = match stored.map(|r| kind.spec().get(&r.values, field).clone()) {
            Some(Value::Text(code)) => Some(code),
            _ => self.free_code(kind, &body)?,
        };
        body.extend(code.map(|code| (field.to_owned(), json!(code))));
        Ok(body)
    }

    fn free_code(
        &mut self,
        kind: Kind,
        body: &Map<String, Json>,
    ) -> Result<Option<String>, AppError> {
        let number = self.actor().coop.number;
        let pattern = match kind {
            Kind::Shed | Kind::AnimalGroup => {
                let farm = body.get("farm_id").and_then(Json::as_str);
                let Some(farm) = farm.and_then(|f| Uuid::try_parse(f).ok()) else {
                    return Ok(None);
                };
                let visible = self.actor().visible(Action::Read, Kind::Farm)?;
                // Of a farm that was refused nothing is kept, whatever it is called.
                let farm = match self.find_visible(Kind::Farm, farm, &visible) {
                    Ok(farm) => Some(farm),
                    Err(AppError::NotFound) => None,
                    Err(other) => return Err(other),
                };
                let code = |f: &records::Record| {
                    Kind::Farm.spec().get(&f.values, "code").as_text().map(str::to_owned)
                };
                let mark = if kind == Kind::Shed { "-S" } else { "-" };
                let begin = format!("{}{mark}", farm.as_ref().and_then(code).unwrap_or_default());
                Pattern { begin, number: 0, digits: 1 }
            }
            _ => self.pattern(kind)?,
        };
        for after in 1..=TRIES {
            let code = pattern.text(after);
            if records::find_by_code(self.conn(), number, kind, &code)?.is_none() {
                return Ok(Some(code));
            }
        }
        Ok(None)
    }

    /// The pattern of the newest names, at the largest number among them.
    fn pattern(&mut self, kind: Kind) -> Result<Pattern, AppError> {
        let number = self.actor().coop.number;
        let newest = records::newest(self.conn(), number, kind, NEWEST)?;
        let field = kind.spec().code.unwrap_or_default();
        let code = |r: &records::Record| {
            Pattern::of(kind.spec().get(&r.values, field).as_text().unwrap_or_default())
        };
        let patterns: Vec<Pattern> = newest.iter().filter_map(code).collect();
        let begun = |p: &Pattern| patterns.iter().filter(|o| o.begin == p.begin).count();
        // The beginning that most have, at its largest number.
        let last = patterns.iter().max_by_key(|p| (begun(p), p.number)).cloned();
        let none = || Pattern { begin: String::new(), number: 0, digits: 3 };
        Ok(last.or_else(|| Pattern::of(first(kind))).unwrap_or_else(none))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_followed_by_the_next_of_its_pattern() {
        let next = |code: &str| Pattern::of(code).map(|p| p.text(1));
        assert_eq!(next("NV-0024").as_deref(), Some("NV-0025"));
        assert_eq!(next("NV-0999").as_deref(), Some("NV-1000"));
        assert_eq!(next("99").as_deref(), Some("100"));
        assert_eq!(next("Ziwani"), None);
        assert_eq!(next(first(Kind::Farm)).as_deref(), Some("F-001"));
    }
}
