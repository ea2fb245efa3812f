//! One stored value, as every floor passes it on.

use chrono::NaiveDate;
use uuid::Uuid;

/// How a field is stored. Both databases have one column type for each.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ColumnType {
    /// 16-byte identifier: BLOB on SQLite, UUID on PostgreSQL.
    Id,
    /// 64-bit integer: counts, grams, millilitres, minor currency units.
    Int,
    /// Truth value: INTEGER 0 or 1 on SQLite, BOOLEAN on PostgreSQL.
    Bool,
    /// UTF-8 text, compared by bytes on both databases.
    Text,
    /// Calendar day: ISO 8601 TEXT on SQLite, DATE on PostgreSQL.
    Date,
    /// Instant in UTC: milliseconds since 1970 on SQLite, TIMESTAMPTZ on PostgreSQL.
    Instant,
    /// Bytes: BLOB on SQLite, BYTEA on PostgreSQL.
    Bytes,
}

/// One value of a record. `Null` means *not recorded*, never zero.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Value {
    /// Not recorded.
    Null,
    /// Integer in the field's smallest unit.
    Int(i64),
    /// Truth value.
    Bool(bool),
    /// Text, normalised to NFC.
    Text(String),
    /// Identifier of this or another record.
    Id(Uuid),
    /// Calendar day in the co-operative's zone.
    Date(NaiveDate),
    /// Milliseconds since 1970-01-01T00:00:00Z.
    Instant(i64),
    /// Raw bytes.
    Bytes(Vec<u8>),
}

impl Value {
    /// Whether nothing is recorded.
    #[must_use]
    pub fn is_null(&self) -> bool {
        matches!(self, Self::Null)
    }

    /// The integer, if this is one.
    #[must_use]
    pub fn as_int(&self) -> Option<i64> {
        if let Self::Int(v) = self { Some(*v) } else { None }
    }

    /// The identifier, if this is one.
    #[must_use]
    pub fn as_id(&self) -> Option<Uuid> {
        if let Self::Id(v) = self { Some(*v) } else { None }
    }

    /// The text, if this is one.
    #[must_use]
    pub fn as_text(&self) -> Option<&str> {
        if let Self::Text(v) = self { Some(v) } else { None }
    }

    /// The instant in milliseconds, if this is one.
    #[must_use]
    pub fn as_instant(&self) -> Option<i64> {
        if let Self::Instant(v) = self { Some(*v) } else { None }
    }

    /// The truth value, if this is one.
    #[must_use]
    pub fn as_bool(&self) -> Option<bool> {
        if let Self::Bool(v) = self { Some(*v) } else { None }
    }
}

/// A Rust type that one column can hold.
pub trait Column: Sized {
    /// Whether the field must be given.
    const REQUIRED: bool = true;
    /// Reads the value; `None` when it is of another type or missing.
    fn from_value(value: &Value) -> Option<Self>;
    /// Writes the value.
    fn into_value(self) -> Value;
}

impl<T: Column> Column for Option<T> {
    const REQUIRED: bool = false;
    fn from_value(value: &Value) -> Option<Self> {
        if value.is_null() { Some(None) } else { T::from_value(value).map(Some) }
    }
    fn into_value(self) -> Value {
        self.map_or(Value::Null, T::into_value)
    }
}

macro_rules! column {
    ($($ty:ty => $variant:ident),* $(,)?) => {$(
        impl Column for $ty {
            fn from_value(value: &Value) -> Option<Self> {
                if let Value::$variant(v) = value { Some(v.clone()) } else { None }
            }
            fn into_value(self) -> Value { Value::$variant(self) }
        }
    )*};
}
column!(i64 => Int, bool => Bool, String => Text, Uuid => Id, NaiveDate => Date);

/// An instant in UTC, in milliseconds since 1970.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Instant(pub i64);

impl Column for Instant {
    fn from_value(value: &Value) -> Option<Self> {
        value.as_instant().map(Instant)
    }
    fn into_value(self) -> Value {
        Value::Instant(self.0)
    }
}

/// A whole number to compute with: sums of records are far below 2^53, where a double is exact.
#[must_use]
pub fn real(value: i64) -> f64 {
    #[expect(clippy::as_conversions, clippy::cast_precision_loss, reason = "exact below 2^53")]
    {
        value as f64
    }
}
