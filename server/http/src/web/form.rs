//! Forms: their fields, and what a form was refused for.

use super::page::{NONE, Page};
use super::visit::Visit;
use traybook_app::AppError;
use traybook_domain::FieldError;

/// How a field is filled in.
pub(super) enum Input {
    /// A line of text.
    Text,
    /// A password: not shown, and never put back.
    Secret,
    /// Several lines.
    Long,
    /// A number with digits after the point.
    Decimal,
    Whole,
    Date,
    Month,
    /// A day and time of the co-operative's zone.
    Moment,
    /// A telephone number.
    Phone,
    /// An e-mail address.
    Email,
    /// One of several, from a list.
    Choice(Vec<(String, String)>),
    /// One of several, all of them to be seen.
    Tap(Vec<(String, String)>),
    /// Yes, or nothing.
    Tick,
    /// Files: what is taken.
    File(&'static str, bool),
}

/// A field of a form.
pub(super) struct Field {
    /// Name, and id with the form's.
    pub name: String,
    pub label: String,
    pub input: Input,
    /// What stands in it.
    pub value: String,
    /// Help below the label.
    pub hint: String,
    /// What is wrong with it.
    pub error: Option<String>,
    /// Whether it must be filled in.
    pub is_required: bool,
    /// A heading above it, where a new group of fields begins.
    pub group: String,
    /// Whether it holds the present, which a page kept on a phone sets anew.
    pub is_now: bool,
    /// Whether it stands beside another one, both half as wide.
    pub is_half: bool,
    /// Whether it stands folded away, with others that are seldom needed.
    pub is_more: bool,
    /// Whether it is asked only where an answer is missing: until then it is not seen.
    pub is_asked: bool,
}

impl Field {
    /// A field.
    pub fn new(name: impl Into<String>, label: impl Into<String>, input: Input) -> Self {
        Self {
            name: name.into(),
            label: label.into(),
            input,
            value: String::new(),
            hint: String::new(),
            error: None,
            is_required: false,
            group: String::new(),
            is_now: false,
            is_asked: false,
            is_half: false,
            is_more: false,
        }
    }

    /// Must be filled in.
    pub fn required(mut self) -> Self {
        self.is_required = true;
        self
    }

    /// Half as wide.
    pub fn half(mut self) -> Self {
        self.is_half = true;
        self
    }

    /// Folded away with others.
    pub fn more(mut self) -> Self {
        self.is_more = true;
        self
    }

    /// Is seen only once its answer is missing.
    pub fn asked(mut self) -> Self {
        self.is_asked = true;
        self
    }

    /// Whether it is not seen yet.
    pub fn is_hidden(&self) -> bool {
        self.is_asked && self.error.is_none() && self.value.is_empty()
    }

    /// Holds the present at first.
    pub fn now(mut self, value: impl Into<String>) -> Self {
        self.is_now = true;
        self.value(value)
    }

    /// What stands in it at first.
    pub fn value(mut self, value: impl Into<String>) -> Self {
        self.value = value.into();
        self
    }

    /// Help.
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = hint.into();
        self
    }

    /// Begins a group.
    pub fn group(mut self, heading: impl Into<String>) -> Self {
        self.group = heading.into();
        self
    }

    /// The elements that describe it: its hint and what is wrong with it.
    pub fn described(&self, id: &str) -> String {
        let hint = (!self.hint.is_empty()).then(|| format!("{id}-hint"));
        let error = self.error.as_ref().map(|_| format!("{id}-error"));
        hint.into_iter().chain(error).collect::<Vec<_>>().join(" ")
    }

    /// How a value of it reads.
    fn reads(&self, value: &str) -> String {
        let options = match &self.input {
            Input::Choice(options) | Input::Tap(options) => options.as_slice(),
            _ => &[],
        };
        let named = options.iter().find(|(v, _)| v == value).map(|(_, text)| text.clone());
        let read = named.unwrap_or_else(|| value.to_owned());
        match (&self.input, read.is_empty()) {
            (_, true) => NONE.to_owned(),
            (Input::Tick, false) => "✓".to_owned(),
            _ => read,
        }
    }

    /// Whether it holds a password.
    pub fn is_secret(&self) -> bool {
        matches!(self.input, Input::Secret)
    }

    /// Keyboard that a phone should show.
    pub fn keyboard(&self) -> &'static str {
        match self.input {
            Input::Decimal => "decimal",
            Input::Whole => "numeric",
            Input::Phone => "tel",
            Input::Email => "email",
            _ => "text",
        }
    }

    /// The type of a one-line input.
    pub fn kind(&self) -> &'static str {
        match self.input {
            Input::Secret => "password",
            Input::Date => "date",
            Input::Month => "month",
            Input::Moment => "datetime-local",
            Input::Phone => "tel",
            Input::Email => "email",
            _ => "text",
        }
    }
}

pub(super) struct Form {
    pub action: String,
    /// Its name on the page; ids of its fields begin with it.
    pub id: String,
    pub fields: Vec<Field>,
    /// Fields that are not seen.
    pub hidden: Vec<(String, String)>,
    /// Ids that a phone makes anew each time it keeps the form.
    pub ids: Vec<(String, String)>,
    pub button: String,
    /// Several buttons instead, each of which answers this field with its value.
    pub answers: Option<(&'static str, Vec<(String, String)>)>,
    /// Whether it is a quiet button beside others.
    pub is_plain: bool,
    /// Whether it asks the address, and changes nothing.
    pub is_question: bool,
    /// The field in which a phone says on which day it kept the form.
    pub day: &'static str,
    /// Whether a phone without signal may keep it and send it later; what it is then called.
    pub keep_as: Option<String>,
    /// Whether its button asks the browser for a passkey: what for, and with which options.
    pub passkey: Option<(&'static str, String)>,
}

impl Form {
    /// A form that changes something.
    pub fn new(
        action: impl Into<String>,
        id: impl Into<String>,
        button: impl Into<String>,
    ) -> Self {
        Self {
            action: action.into(),
            id: id.into(),
            fields: Vec::new(),
            hidden: Vec::new(),
            ids: Vec::new(),
            button: button.into(),
            answers: None,
            is_plain: false,
            is_question: false,
            keep_as: None,
            passkey: None,
            day: "",
        }
    }

    /// With a field.
    pub fn field(mut self, field: Field) -> Self {
        self.fields.push(field);
        self
    }

    /// With a field that is not seen.
    pub fn hide(mut self, name: impl Into<String>, value: impl Into<String>) -> Self {
        self.hidden.push((name.into(), value.into()));
        self
    }

    /// With an id of a record that the form will make.
    pub fn id(mut self, name: impl Into<String>, value: impl ToString) -> Self {
        self.ids.push((name.into(), value.to_string()));
        self
    }

    /// With a button for each answer to a field: value and text.
    pub fn answers(mut self, name: &'static str, buttons: Vec<(String, String)>) -> Self {
        self.answers = Some((name, buttons));
        self
    }

    /// May be kept on a phone, under this name.
    pub fn keep(mut self, name: impl Into<String>) -> Self {
        self.keep_as = Some(name.into());
        self
    }

    /// Says on which day a phone kept it, in this field.
    pub fn day(mut self, name: &'static str) -> Self {
        self.day = name;
        self
    }

    /// Asks the address.
    pub fn question(mut self) -> Self {
        self.is_question = true;
        self
    }

    /// A quiet button.
    pub fn plain(mut self) -> Self {
        self.is_plain = true;
        self
    }

    /// Fields that are seen at once.
    pub fn plain_fields(&self) -> impl Iterator<Item = &Field> {
        self.fields.iter().filter(|f| !f.is_more)
    }

    /// Fields that are folded away.
    pub fn more_fields(&self) -> Vec<&Field> {
        self.fields.iter().filter(|f| f.is_more).collect()
    }

    /// Whether a field that is folded away needs a look.
    pub fn is_more_open(&self) -> bool {
        self.fields.iter().any(|f| f.is_more && f.error.is_some())
    }

    /// Whether files come with it.
    pub fn has_files(&self) -> bool {
        self.fields.iter().any(|f| matches!(f.input, Input::File(..)))
    }

    /// Puts back what was typed, and what is wrong beside each field.
    pub fn refused(mut self, visit: &Visit, page: &Page, refusal: &Refusal) -> Self {
        let is_stale = refusal.status == 412;
        for field in &mut self.fields {
            let there = field.value.clone();
            if matches!(field.input, Input::Secret) {
                field.value.clear();
            } else if let Some((_, typed)) = visit.fields.iter().find(|(n, _)| *n == field.name) {
                typed.clone_into(&mut field.value);
            } else if matches!(field.input, Input::Tick) {
                field.value.clear();
            }
            let wrong = refusal.fields.iter().find(|e| e.field() == field.name);
            field.error = wrong.map(|e| page.refusal(e));
            if is_stale && there != field.value {
                let there = field.reads(&there);
                field.error = Some(page.with("stale-there-now", "value", there));
            }
        }
        // Saving again after a look at both is meant for the version that stands there now.
        let sent = |name: &str| !(is_stale && name == "version");
        let hidden = self.ids.iter_mut().chain(&mut self.hidden);
        for (name, value) in hidden.filter(|(name, _)| sent(name)) {
            if let Some(typed) = visit.field(name) {
                typed.clone_into(value);
            }
        }
        self
    }

    /// The id of a field's element.
    pub fn id_of(&self, field: &Field) -> String {
        format!("{}-{}", self.id, field.name)
    }
}

/// What a form was refused for.
#[derive(Default)]
pub(super) struct Refusal {
    /// Fields that break rules.
    pub fields: Vec<FieldError>,
    /// What contradicts what is there.
    pub detail: Option<String>,
    /// Status of the answer.
    pub status: u16,
    /// The form, if a page has several.
    pub form: String,
}

impl Refusal {
    /// What a person can mend, from an error; other errors pass on, and all of them where a
    /// phone's script asks, which shows them itself.
    pub fn of(visit: &Visit, form: &str, error: AppError) -> Result<Self, AppError> {
        if visit.from_phone {
            return Err(error);
        }
        let form = form.to_owned();
        match error {
            AppError::Invalid(fields) => Ok(Self { fields, detail: None, status: 422, form }),
            AppError::Conflict { code, detail } => {
                let detail = visit.page().conflict(code, detail);
                Ok(Self { fields: Vec::new(), detail: Some(detail), status: 409, form })
            }
            AppError::Stale { .. } => {
                let detail = visit.page().say("stale");
                Ok(Self { fields: Vec::new(), detail: Some(detail), status: 412, form })
            }
            other => Err(other),
        }
    }
}
