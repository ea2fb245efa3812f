//! What a field of a record can be, and how it is read from JSON and CSV.

pub use crate::field_error::FieldError;
use crate::field_error::two_readings;
use crate::kind::Kind;
use crate::limits;
use crate::records::written::{self, read as read_written};
use crate::savings::money::{DecimalError, currency_digits, format_decimal, parse_decimal};
use crate::time;
use crate::value::{ColumnType, Instant, Value};
use chrono::{Datelike, NaiveDate};
use serde_json::{Map, Value as Json};
use unicode_normalization::UnicodeNormalization;
use uuid::Uuid;

/// The set of values a field can take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FieldKind {
    /// Identifier of a record of another kind in the same co-operative.
    Ref(Kind),
    /// Free text of at most so many characters.
    Text {
        /// Characters.
        max: usize,
    },
    /// Short name by which people know the record, unique among the co-operative's records of
    /// this kind that are not withdrawn.
    Code,
    /// One of a fixed set.
    Choice(&'static [&'static str]),
    /// Whole number.
    Int {
        /// Smallest.
        min: i64,
        /// Largest.
        max: i64,
    },
    /// Decimal number, stored as an integer of `scale` places.
    Decimal {
        /// Places after the point.
        scale: u8,
        /// Smallest, in stored units.
        min: i64,
        /// Largest, in stored units.
        max: i64,
    },
    /// Money of the co-operative's currency, not negative, stored in minor units.
    Money,
    /// A day; not later than today unless it plans something.
    Date {
        /// Whether days to come are allowed.
        future: bool,
    },
    /// An instant that has passed.
    Instant,
    /// Truth value.
    Bool,
    /// ISO 4217 code.
    Currency,
    /// IANA time zone name.
    Zone,
    /// Birth or construction year.
    Year,
}

/// A field of a record kind.
#[derive(Clone, Copy, Debug)]
pub struct FieldSpec {
    /// Name in JSON and in the database.
    pub name: &'static str,
    /// What it can be.
    pub kind: FieldKind,
    /// Whether it must be given.
    pub required: bool,
    /// Whether it is taken from the parent record and never sent.
    pub derived: bool,
    /// Whether it stays as it was first recorded.
    pub fixed: bool,
    /// What it means.
    pub doc: &'static str,
}

/// Kind of a field and whether it is derived or fixed; the macro adds name, doc and type.
#[derive(Clone, Copy, Debug)]
pub struct Shape {
    /// What it can be.
    pub kind: FieldKind,
    /// Taken from the parent record.
    pub derived: bool,
    /// Never changed after the record was made.
    pub fixed: bool,
}

impl Shape {
    /// The field is filled from the parent record.
    #[must_use]
    pub const fn derived(mut self) -> Self {
        self.derived = true;
        self.fixed = true;
        self
    }
    /// The field keeps its first value.
    #[must_use]
    pub const fn fixed(mut self) -> Self {
        self.fixed = true;
        self
    }
}

const fn shape(kind: FieldKind) -> Shape {
    Shape { kind, derived: false, fixed: false }
}
/// Reference to another record.
#[must_use]
pub const fn reference(kind: Kind) -> Shape {
    shape(FieldKind::Ref(kind))
}
/// Free text.
#[must_use]
pub const fn text(max: usize) -> Shape {
    shape(FieldKind::Text { max })
}
/// Unique short name.
#[must_use]
pub const fn code() -> Shape {
    shape(FieldKind::Code)
}
/// One of a set.
#[must_use]
pub const fn choice(of: &'static [&'static str]) -> Shape {
    shape(FieldKind::Choice(of))
}
/// Whole number.
#[must_use]
pub const fn int(min: i64, max: i64) -> Shape {
    shape(FieldKind::Int { min, max })
}
/// Decimal number with limits in stored units.
#[must_use]
pub const fn decimal(scale: u8, min: i64, max: i64) -> Shape {
    shape(FieldKind::Decimal { scale, min, max })
}
/// Kilograms, stored in grams.
#[must_use]
pub const fn kg() -> Shape {
    decimal(3, 0, limits::GRAMS_MAX)
}
/// Litres, stored in millilitres.
#[must_use]
pub const fn litres() -> Shape {
    decimal(3, 0, limits::MILLILITRES_MAX)
}
/// Per cent, stored in hundredths of a per cent.
#[must_use]
pub const fn percent() -> Shape {
    decimal(2, 0, 10_000)
}
#[must_use]
pub const fn money() -> Shape {
    shape(FieldKind::Money)
}
/// A day that has come.
#[must_use]
pub const fn past_date() -> Shape {
    shape(FieldKind::Date { future: false })
}
/// Any day.
#[must_use]
pub const fn any_date() -> Shape {
    shape(FieldKind::Date { future: true })
}
/// A past instant.
#[must_use]
pub const fn instant() -> Shape {
    shape(FieldKind::Instant)
}
/// Yes or no.
#[must_use]
pub const fn flag() -> Shape {
    shape(FieldKind::Bool)
}
/// Calendar year.
#[must_use]
pub const fn year() -> Shape {
    shape(FieldKind::Year)
}
/// Currency code.
#[must_use]
pub const fn currency() -> Shape {
    shape(FieldKind::Currency)
}
/// Time zone.
#[must_use]
pub const fn zone() -> Shape {
    shape(FieldKind::Zone)
}

/// What reading a field needs to know of its surroundings.
#[derive(Clone, Copy, Debug)]
pub struct ReadCtx {
    /// Now, on the server's clock.
    pub now: Instant,
    /// Today in the co-operative's zone.
    pub today: NaiveDate,
    /// Digits of the co-operative's currency.
    pub money_digits: u8,
}

type Reading = Result<Value, (&'static str, String)>;

/// First year that a field of years takes.
const YEAR_MIN: i64 = 1900;

impl FieldSpec {
    /// How the field is stored.
    #[must_use]
    pub const fn column(&self) -> ColumnType {
        match self.kind {
            FieldKind::Ref(_) => ColumnType::Id,
            FieldKind::Text { .. }
            | FieldKind::Code
            | FieldKind::Choice(_)
            | FieldKind::Currency
            | FieldKind::Zone => ColumnType::Text,
            FieldKind::Int { .. }
            | FieldKind::Decimal { .. }
            | FieldKind::Money
            | FieldKind::Year => ColumnType::Int,
            FieldKind::Date { .. } => ColumnType::Date,
            FieldKind::Instant => ColumnType::Instant,
            FieldKind::Bool => ColumnType::Bool,
        }
    }

    /// Places after the point of a number field; `None` for other fields.
    #[must_use]
    pub const fn scale(&self, money_digits: u8) -> Option<u8> {
        match self.kind {
            FieldKind::Int { .. } | FieldKind::Year => Some(0),
            FieldKind::Decimal { scale, .. } => Some(scale),
            FieldKind::Money => Some(money_digits),
            _ => None,
        }
    }

    /// Reads the field's JSON value.
    ///
    /// # Errors
    /// Names the rule and what to do.
    pub fn read_json(&self, json: &Json, ctx: &ReadCtx) -> Result<Value, FieldError> {
        let reading = match (json, self.kind) {
            (Json::Null, _) => return self.missing(),
            (Json::Bool(v), FieldKind::Bool) => Ok(Value::Bool(*v)),
            (Json::Number(n), _) if self.scale(ctx.money_digits).is_some() => {
                self.number(&n.to_string(), ctx)
            }
            (Json::String(s), kind) if Self::is_textual(kind) => self.textual(s, ctx),
            (Json::String(s), _) if self.scale(ctx.money_digits).is_some() => {
                return Err(self.not_a_number(s, ctx));
            }
            (_, kind) => Err(("type", format!("give {}", Self::wanted(kind)))),
        };
        reading
            .map_err(|(code, detail)| FieldError::new(self.name, code, detail).wanting(self.kind))
    }

    /// Reads the field's CSV text; empty means not recorded. References are resolved by the caller.
    ///
    /// # Errors
    /// Names the rule and what to do.
    pub fn read_text(&self, text: &str, ctx: &ReadCtx) -> Result<Value, FieldError> {
        if text.is_empty() {
            return self.missing();
        }
        let reading = match self.kind {
            FieldKind::Bool => match text.to_ascii_lowercase().as_str() {
                "yes" | "true" | "1" => Ok(Value::Bool(true)),
                "no" | "false" | "0" => Ok(Value::Bool(false)),
                _ => Err(("type", "give yes or no".to_owned())),
            },
            _ if self.scale(ctx.money_digits).is_some() => self.number(text, ctx),
            _ => self.textual(text, ctx),
        };
        reading
            .map_err(|(code, detail)| FieldError::new(self.name, code, detail).wanting(self.kind))
    }

    /// A number as people write it. Of two readings, one that the field cannot hold is none.
    #[must_use]
    pub fn written(&self, text: &str, money_digits: u8) -> written::Reading {
        let scale = self.scale(money_digits).unwrap_or(0);
        let reading = read_written(text, scale);
        let written::Reading::Two(whole, part) = reading else { return reading };
        let (min, max) = self.bounds();
        let holds = |t: &str| parse_decimal(t, scale).is_ok_and(|v| (min..=max).contains(&v));
        match (holds(&whole), holds(&part)) {
            (true, false) => written::Reading::One(whole),
            (false, true) => written::Reading::One(part),
            _ => written::Reading::Two(whole, part),
        }
    }

    /// Text where a number belongs: asked back where it can be two numbers.
    fn not_a_number(&self, text: &str, ctx: &ReadCtx) -> FieldError {
        match self.written(text, ctx.money_digits) {
            written::Reading::Two(whole, part) => two_readings(self.name, text, &whole, &part),
            _ => {
                let detail = format!("give {}", Self::wanted(self.kind));
                FieldError::new(self.name, "type", detail).wanting(self.kind)
            }
        }
    }

    /// Smallest and largest number of the field, in stored units.
    const fn bounds(&self) -> (i64, i64) {
        match self.kind {
            FieldKind::Int { min, max } | FieldKind::Decimal { min, max, .. } => (min, max),
            FieldKind::Year => (YEAR_MIN, i64::MAX),
            _ => (0, limits::MONEY_MINOR_MAX),
        }
    }

    fn missing(&self) -> Result<Value, FieldError> {
        if self.required {
            let detail = format!("give {}", Self::wanted(self.kind));
            return Err(FieldError::new(self.name, "required", detail).wanting(self.kind));
        }
        Ok(Value::Null)
    }

    const fn is_textual(kind: FieldKind) -> bool {
        matches!(
            kind,
            FieldKind::Ref(_)
                | FieldKind::Text { .. }
                | FieldKind::Code
                | FieldKind::Choice(_)
                | FieldKind::Date { .. }
                | FieldKind::Instant
                | FieldKind::Currency
                | FieldKind::Zone
        )
    }

    fn wanted(kind: FieldKind) -> String {
        match kind {
            FieldKind::Ref(of) => format!("the id (UUID) of a record of {}", of.spec().path),
            FieldKind::Text { max } => format!("text of 1 to {max} characters"),
            FieldKind::Code => "a short name of 1 to 40 characters".to_owned(),
            FieldKind::Choice(of) => format!("one of: {}", of.join(", ")),
            FieldKind::Int { min, max } => format!("a whole number from {min} to {max}"),
            FieldKind::Decimal { scale, min, max } => format!(
                "a number from {} to {} with at most {scale} decimals and a point",
                format_decimal(min, scale),
                format_decimal(max, scale)
            ),
            FieldKind::Money => "an amount in currency units, 0 or more, with a point".to_owned(),
            FieldKind::Date { .. } => "a day as YYYY-MM-DD".to_owned(),
            FieldKind::Instant => "an instant as 2026-01-31T06:00:00Z (RFC 3339)".to_owned(),
            FieldKind::Bool => "true or false".to_owned(),
            FieldKind::Currency => "an ISO 4217 code such as TZS".to_owned(),
            FieldKind::Zone => "an IANA time zone such as Africa/Dar_es_Salaam".to_owned(),
            FieldKind::Year => "a year such as 1984".to_owned(),
        }
    }

    fn number(&self, text: &str, ctx: &ReadCtx) -> Reading {
        let scale = self.scale(ctx.money_digits).unwrap_or(0);
        let value = parse_decimal(text, scale).map_err(|e| match e {
            DecimalError::NotANumber => ("type", format!("give {}", Self::wanted(self.kind))),
            DecimalError::TooPrecise if scale == 0 => ("precision", "give a whole number".into()),
            DecimalError::TooPrecise => ("precision", format!("give at most {scale} decimals")),
            DecimalError::TooLarge => ("range", format!("give {}", Self::wanted(self.kind))),
        })?;
        let (min, max) = match self.kind {
            FieldKind::Year => (YEAR_MIN, i64::from(ctx.today.year())),
            _ => self.bounds(),
        };
        if value < min || value > max {
            let (low, high) = (format_decimal(min, scale), format_decimal(max, scale));
            return Err(("range", format!("give a number from {low} to {high}")));
        }
        Ok(Value::Int(value))
    }

    fn textual(&self, raw: &str, ctx: &ReadCtx) -> Reading {
        let wanted = || format!("give {}", Self::wanted(self.kind));
        match self.kind {
            FieldKind::Ref(_) => match Uuid::try_parse(raw) {
                Ok(id) if raw.len() == 36 => Ok(Value::Id(id)),
                _ => Err(("type", wanted())),
            },
            FieldKind::Text { max } => clean_text(raw, max),
            FieldKind::Code => clean_text(raw, 40),
            FieldKind::Choice(of) if of.contains(&raw) => Ok(Value::Text(raw.to_owned())),
            FieldKind::Choice(_) => Err(("choice", wanted())),
            FieldKind::Currency => match currency_digits(raw) {
                Some(_) => Ok(Value::Text(raw.to_owned())),
                None => Err(("choice", wanted())),
            },
            FieldKind::Zone => match time::parse_zone(raw) {
                Some(_) => Ok(Value::Text(raw.to_owned())),
                None => Err(("choice", wanted())),
            },
            FieldKind::Date { future } => read_date(raw, future, ctx),
            FieldKind::Instant => read_instant(raw, ctx),
            _ => Err(("type", wanted())),
        }
    }

    /// The field as JSON.
    #[must_use]
    pub fn write_json(&self, value: &Value, money_digits: u8) -> Json {
        match value {
            Value::Null | Value::Bytes(_) => Json::Null,
            Value::Bool(v) => Json::Bool(*v),
            Value::Int(v) => json_decimal(*v, self.scale(money_digits).unwrap_or(0)),
            Value::Instant(_) | Value::Date(_) | Value::Id(_) | Value::Text(_) => {
                Json::String(self.write_text(value, money_digits))
            }
        }
    }

    /// The field as CSV text; empty when not recorded.
    #[must_use]
    pub fn write_text(&self, value: &Value, money_digits: u8) -> String {
        match value {
            Value::Null | Value::Bytes(_) => String::new(),
            Value::Bool(v) => if *v { "yes" } else { "no" }.to_owned(),
            Value::Int(v) => format_decimal(*v, self.scale(money_digits).unwrap_or(0)),
            Value::Text(v) => v.clone(),
            Value::Id(v) => v.to_string(),
            Value::Date(v) => v.to_string(),
            Value::Instant(v) => time::format_instant(Instant(*v)),
        }
    }
}

/// An integer of `scale` decimal places as the JSON number it stands for.
#[must_use]
pub fn json_decimal(value: i64, scale: u8) -> Json {
    let power = 10_i64.pow(u32::from(scale));
    if value % power == 0 {
        return Json::from(value / power);
    }
    // The nearest double of a decimal with at most 15 digits prints as that decimal again. Both
    // numbers are exact below 2^53, and so their quotient is that nearest double.
    if value.unsigned_abs() < 1 << 53 {
        return Json::from(value as f64 / power as f64);
    }
    let text = format_decimal(value, scale);
    text.parse::<f64>().map_or(Json::Null, Json::from)
}

fn clean_text(raw: &str, max: usize) -> Reading {
    let text: String = raw.trim().nfc().collect();
    if text.is_empty() {
        return Err(("required", format!("give text of 1 to {max} characters")));
    }
    if text.chars().count() > max {
        return Err(("length", format!("give at most {max} characters")));
    }
    if text.chars().any(|c| c.is_control() && c != '\n' && c != '\t') {
        return Err(("characters", "remove control characters".to_owned()));
    }
    Ok(Value::Text(text))
}

fn read_date(raw: &str, future: bool, ctx: &ReadCtx) -> Reading {
    let Some(date) = time::parse_date(raw) else {
        return Err(("type", "give a day as YYYY-MM-DD".to_owned()));
    };
    if date.year() < limits::YEAR_MIN || date.year() > ctx.today.year() + 50 {
        return Err(("range", "give a day of this century; check the year".to_owned()));
    }
    if !future && date > ctx.today {
        return Err(("future", format!("give a day up to today, {}", ctx.today)));
    }
    Ok(Value::Date(date))
}

fn read_instant(raw: &str, ctx: &ReadCtx) -> Reading {
    let Some(at) = time::parse_instant(raw) else {
        return Err(("type", "give an instant as 2026-01-31T06:00:00Z (RFC 3339)".to_owned()));
    };
    if time::to_utc(at).year() < limits::YEAR_MIN {
        return Err(("range", "check the year".to_owned()));
    }
    if at.0 > ctx.now.0 + limits::CLOCK_SKEW_MS_MAX {
        let now = time::format_instant(ctx.now);
        return Err(("future", format!("give an instant up to now, {now}; check the clock")));
    }
    Ok(Value::Instant(at.0))
}

/// Reads the members of a JSON object into the values of `fields`, in their order.
///
/// With `base`, it is a merge patch (RFC 7396): what is absent stays, `null` removes. `ignore`
/// lists members that the caller has handled.
///
/// # Errors
/// Every field error at once, unknown members included.
pub fn read_object(
    fields: &[FieldSpec],
    object: &Map<String, Json>,
    base: Option<&[Value]>,
    ignore: &[&str],
    ctx: &ReadCtx,
) -> Result<Vec<Value>, Vec<FieldError>> {
    let mut errors = Vec::new();
    let mut values = Vec::with_capacity(fields.len());
    for (index, field) in fields.iter().enumerate() {
        let old = base.and_then(|b| b.get(index));
        let given = object.get(field.name);
        let value = match (given, old) {
            (Some(json), _) if !field.derived => field.read_json(json, ctx),
            (_, Some(old)) => Ok(old.clone()),
            _ if field.derived => Ok(Value::Null),
            _ => field.missing(),
        };
        match value {
            Ok(value) => {
                if field.fixed && !field.derived && old.is_some_and(|o| *o != value) {
                    errors.push(FieldError::new(
                        field.name,
                        "fixed",
                        "this can not change; withdraw the record and make a new one",
                    ));
                }
                values.push(value);
            }
            Err(error) => {
                errors.push(error);
                values.push(Value::Null);
            }
        }
    }
    for name in object.keys() {
        let known = fields.iter().any(|f| f.name == name && !f.derived);
        if !known && !ignore.contains(&name.as_str()) {
            errors.push(FieldError::new(name, "unknown_field", "remove this member"));
        }
    }
    if errors.is_empty() { Ok(values) } else { Err(errors) }
}
