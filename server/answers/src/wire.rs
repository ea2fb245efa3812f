//! Months and instants as they are sent.

use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error as _};
use std::borrow::Cow;
use std::fmt;
use traybook_domain::time::{format_instant, parse_instant};
use traybook_domain::value::Instant;
use utoipa::openapi::schema::{KnownFormat, ObjectBuilder, SchemaFormat, Type};
use utoipa::openapi::{Ref, RefOr, Schema};
use utoipa::{PartialSchema, ToSchema};

/// A calendar month, sent as `YYYY-MM`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Month(pub traybook_domain::Month);

/// An instant, sent as RFC 3339 in UTC with milliseconds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Time(pub Instant);

impl fmt::Display for Month {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl fmt::Display for Time {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&format_instant(self.0))
    }
}

impl Serialize for Month {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

impl Serialize for Time {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Month {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let text = Cow::<'de, str>::deserialize(from)?;
        let month = traybook_domain::Month::parse(&text);
        month.map(Self).ok_or_else(|| D::Error::custom("a month is YYYY-MM"))
    }
}

impl<'de> Deserialize<'de> for Time {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let text = Cow::<'de, str>::deserialize(from)?;
        let time = parse_instant(&text);
        time.map(Self).ok_or_else(|| D::Error::custom("a time is RFC 3339 in UTC"))
    }
}

impl PartialSchema for Month {
    fn schema() -> RefOr<Schema> {
        let text = ObjectBuilder::new().schema_type(Type::String).pattern(Some(r"^\d{4}-\d{2}$"));
        text.examples(["2026-01"]).into()
    }
}

impl ToSchema for Month {
    fn name() -> Cow<'static, str> {
        Cow::Borrowed("Month")
    }
}

impl PartialSchema for Time {
    fn schema() -> RefOr<Schema> {
        let format = SchemaFormat::KnownFormat(KnownFormat::DateTime);
        ObjectBuilder::new().schema_type(Type::String).format(Some(format)).into()
    }
}

impl ToSchema for Time {
    fn name() -> Cow<'static, str> {
        Cow::Borrowed("Time")
    }
}

/// A record of any kind, as its own operations answer it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct AnyRecord(pub serde_json::Value);

impl PartialSchema for AnyRecord {
    fn schema() -> RefOr<Schema> {
        let about = "A record of any kind: its members are those of the kind's own schema.";
        ObjectBuilder::new().schema_type(Type::Object).description(Some(about)).into()
    }
}

impl ToSchema for AnyRecord {
    fn name() -> Cow<'static, str> {
        Cow::Borrowed("AnyRecord")
    }
}

/// A batch as the list of batches answers it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct BatchRecord(pub serde_json::Value);

impl PartialSchema for BatchRecord {
    fn schema() -> RefOr<Schema> {
        // The schema of the record kind stands in the document already.
        Ref::from_schema_name("Batch").into()
    }
}

impl ToSchema for BatchRecord {
    fn name() -> Cow<'static, str> {
        Cow::Borrowed("Batch")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn months_and_times_come_back_as_they_were() {
        let month = Month(traybook_domain::Month::parse("2026-03").expect("a month"));
        assert_eq!(serde_json::to_string(&month).expect("text"), "\"2026-03\"");
        assert_eq!(serde_json::from_str::<Month>("\"2026-03\"").expect("read"), month);
        assert!(serde_json::from_str::<Month>("\"2026-3\"").is_err());
        let time = Time(Instant(1_769_904_000_123));
        let text = serde_json::to_string(&time).expect("text");
        assert_eq!(text, "\"2026-02-01T00:00:00.123Z\"");
        assert_eq!(serde_json::from_str::<Time>(&text).expect("read"), time);
    }
}
