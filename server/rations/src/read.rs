//! Reads JSON by hand, so that everything wrong in a request is told at once, each with the place.

use crate::limits::NAME_CHARS_MAX;
use serde_json::{Map, Value as Json};
use traybook_domain::FieldError;

/// One JSON object while it is read; errors gather in one list.
pub struct Reader<'a> {
    map: &'a Map<String, Json>,
    /// JSON pointer to the object.
    at: String,
    known: Vec<&'static str>,
    /// What was wrong so far.
    pub errors: Vec<FieldError>,
}

impl<'a> Reader<'a> {
    /// Begins at the top of a request.
    #[must_use]
    pub fn new(map: &'a Map<String, Json>) -> Self {
        Self::at(map, String::new())
    }

    /// Begins at an object inside of a request, by its JSON pointer.
    #[must_use]
    pub fn at(map: &'a Map<String, Json>, at: String) -> Self {
        Self { map, at, known: Vec::new(), errors: Vec::new() }
    }

    /// JSON pointer to a member.
    #[must_use]
    pub fn pointer(&self, name: &str) -> String {
        format!("{}/{}", self.at, name.replace('~', "~0").replace('/', "~1"))
    }

    /// Notes what is wrong with a member.
    pub fn refuse(&mut self, name: &str, code: &'static str, detail: impl Into<String>) {
        let pointer = self.pointer(name);
        self.errors.push(FieldError::at(pointer, code, detail));
    }

    /// The member, where it is there and not null.
    pub fn value(&mut self, name: &'static str) -> Option<&'a Json> {
        self.known.push(name);
        self.map.get(name).filter(|v| !v.is_null())
    }

    /// A number within a range, where it is given.
    pub fn number(&mut self, name: &'static str, (low, high): (f64, f64)) -> Option<f64> {
        let value = self.value(name)?;
        match checked(value, low, high) {
            Ok(number) => Some(number),
            Err((code, detail)) => {
                self.refuse(name, code, detail);
                None
            }
        }
    }

    /// A number that must be given.
    pub fn needed(&mut self, name: &'static str, range: (f64, f64)) -> Option<f64> {
        if self.value(name).is_none() {
            self.refuse(name, "required", format!("give {name}"));
            return None;
        }
        self.number(name, range)
    }

    /// A text of 1 to 100 characters, where it is given.
    pub fn text(&mut self, name: &'static str) -> Option<String> {
        let value = self.value(name)?;
        let text = value.as_str().map(str::trim);
        let fits = |t: &&str| !t.is_empty() && t.chars().count() <= NAME_CHARS_MAX;
        let plain = |t: &&str| !t.chars().any(char::is_control);
        match text.filter(fits).filter(plain) {
            Some(text) => Some(text.to_owned()),
            None => {
                let detail = format!("give a text of 1 to {NAME_CHARS_MAX} characters");
                self.refuse(name, "type", detail);
                None
            }
        }
    }

    /// One of some words, where it is given.
    pub fn choice(&mut self, name: &'static str, words: &[&'static str]) -> Option<&'static str> {
        let value = self.value(name)?;
        let found = words.iter().find(|w| value.as_str() == Some(**w)).copied();
        if found.is_none() {
            self.refuse(name, "choice", format!("give one of {}", words.join(", ")));
        }
        found
    }

    /// An object, where it is given.
    pub fn object(&mut self, name: &'static str) -> Option<&'a Map<String, Json>> {
        let value = self.value(name)?;
        if value.as_object().is_none() {
            self.refuse(name, "type", "give a JSON object");
        }
        value.as_object()
    }

    /// A list of objects of a length, where it is given; an element that is no object is refused.
    pub fn objects(
        &mut self,
        name: &'static str,
        (least, most): (usize, usize),
    ) -> Vec<(&'a Map<String, Json>, String)> {
        let Some(value) = self.value(name) else {
            if least > 0 {
                self.refuse(name, "required", format!("give {name}"));
            }
            return Vec::new();
        };
        let Some(list) = value.as_array() else {
            self.refuse(name, "type", "give a list");
            return Vec::new();
        };
        if list.len() < least || list.len() > most {
            self.refuse(name, "length", format!("give {least} to {most} of them"));
            return Vec::new();
        }
        let mut found = Vec::with_capacity(list.len());
        for (index, element) in list.iter().enumerate() {
            let pointer = format!("{}/{index}", self.pointer(name));
            match element.as_object() {
                Some(map) => found.push((map, pointer)),
                None => self.errors.push(FieldError::at(pointer, "type", "give a JSON object")),
            }
        }
        found
    }

    /// Refuses members that nobody asked for, and hands over what was wrong.
    #[must_use]
    pub fn finish(mut self) -> Vec<FieldError> {
        let unknown: Vec<&String> =
            self.map.keys().filter(|k| !self.known.contains(&k.as_str())).collect();
        let known = self.known.join(", ");
        for name in unknown {
            self.refuse(name, "unknown_field", format!("remove this; known here: {known}"));
        }
        self.errors
    }
}

/// A JSON number within a range, or the code and words of what is wrong.
///
/// # Errors
/// `type` for another value, `range` outside.
pub fn checked(value: &Json, low: f64, high: f64) -> Result<f64, (&'static str, String)> {
    match value.as_f64() {
        None => Err(("type", "give a number".to_owned())),
        Some(n) if n.is_finite() && (low..=high).contains(&n) => Ok(n),
        Some(_) => Err(("range", format!("give a number from {low} to {high}"))),
    }
}

/// The answer, or everything that was wrong with the request.
///
/// # Errors
/// The list where it is not empty or nothing could be read.
pub fn outcome<T>(read: Option<T>, errors: Vec<FieldError>) -> Result<T, Vec<FieldError>> {
    match read {
        Some(value) if errors.is_empty() => Ok(value),
        _ => Err(errors),
    }
}
