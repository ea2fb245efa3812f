//! What is wrong with a field, for people and programs.

use crate::field::FieldKind;

/// What is wrong with one field: where, which rule, and what to do.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct FieldError {
    /// JSON pointer (RFC 6901) to the field.
    pub pointer: String,
    /// Stable code of the rule.
    pub code: &'static str,
    /// What to do, in plain words.
    pub detail: String,
    /// What the field can be, where the detail says that; for whoever words it anew.
    #[serde(skip)]
    pub wanted: Option<FieldKind>,
    /// Names and figures of the detail that do not follow from code and field; for the same.
    #[serde(skip)]
    pub named: Vec<(&'static str, String)>,
}

impl FieldError {
    /// An error at a field of the record's top level.
    #[must_use]
    pub fn new(field: &str, code: &'static str, detail: impl Into<String>) -> Self {
        let escaped = field.replace('~', "~0").replace('/', "~1");
        let pointer = if field.is_empty() { String::new() } else { format!("/{escaped}") };
        Self::at(pointer, code, detail)
    }

    /// An error at a pointer.
    #[must_use]
    pub fn at(pointer: String, code: &'static str, detail: impl Into<String>) -> Self {
        Self { pointer, code, detail: detail.into(), wanted: None, named: Vec::new() }
    }

    /// The same said of another field at the top level.
    #[must_use]
    pub fn renamed(self, field: &str) -> Self {
        Self { pointer: Self::new(field, self.code, "").pointer, ..self }
    }

    /// The detail says what the field can be.
    #[must_use]
    pub const fn wanting(mut self, kind: FieldKind) -> Self {
        self.wanted = Some(kind);
        self
    }

    /// The detail has a name or figure.
    #[must_use]
    pub fn naming(mut self, name: &'static str, value: impl ToString) -> Self {
        self.named.push((name, value.to_string()));
        self
    }

    /// The field's name, as the CSV column or JSON member has it.
    #[must_use]
    pub fn field(&self) -> &str {
        self.pointer.strip_prefix('/').unwrap_or(&self.pointer)
    }
}

/// A number that can be read in two ways is asked back, with both.
#[must_use]
pub fn two_readings(field: &str, text: &str, whole: &str, part: &str) -> FieldError {
    let detail = format!("{text} can be {whole} or {part}: write {whole} or {part}");
    let error = FieldError::new(field, "two_readings", detail);
    error.naming("text", text).naming("whole", whole).naming("part", part)
}
